"""Pictures of the answers about the drawer as a whole: gaps, doubles, kit, skin."""

from matplotlib.patches import Circle

from blendkit.advice.doubles import DoublesAdvice
from blendkit.advice.gaps import GapAdvice, Wanted
from blendkit.advice.kit import KitAdvice
from blendkit.advice.skin import SkinAdvice
from blendkit.report.canvas import INK, QUIET, WARNING, Canvas

_MOST_WANTED = 12
_MOST_DOUBLES = 14


def _closing_words(canvas: Canvas, y: float, words: tuple[str, ...], width_mm: float) -> Canvas:
    for line in words:
        y = canvas.lines(12, y, line, width_mm, 8) + 1.5
    return canvas.finish(y)


def draw_gaps(record: GapAdvice) -> Canvas:
    """Draw the colours to look for as wanted cards, and what a shop has of them."""
    canvas = Canvas.of(
        220,
        "What the drawer is missing",
        f"on {record.on}; companions count from score {record.threshold:.0f}",
    )
    y = 32.0
    for place, one in enumerate(record.wanted[:_MOST_WANTED]):
        _wanted_card(canvas, 12 + 66 * (place % 3), y + 46 * (place // 3), one)
    y += 46 * ((min(len(record.wanted), _MOST_WANTED) + 2) // 3)
    if record.shop is not None and record.shop.purchases:
        y += 6
        canvas.text(12, y, "To buy in the shop", 11, bold=True)
        y += 4
        for bought in record.shop.purchases:
            canvas.block(12, y, 22, 12, bought.marker.hex)
            canvas.text(38, y + 4.6, bought.marker.name, 9.5, bold=True, width_mm=160)
            y = max(
                y + 15, canvas.lines(38, y + 9, "closes: " + "; ".join(bought.closes), 160, 7.4, QUIET) + 1
            )
    return _closing_words(canvas, y + 6, record.words, 196)


def _wanted_card(canvas: Canvas, x: float, y: float, one: Wanted) -> None:
    canvas.block(x, y, 60, 20, one.colour.hex)
    canvas.text(x, y + 25, one.colour.name, 8.6, bold=True, width_mm=60)
    below = canvas.lines(x, y + 29, one.words, 60, 7.2, QUIET)
    count = len(one.completes)
    canvas.text(x, below, f"{one.colour.hex}   closes {count} gap{'s' if count != 1 else ''}", 7.2, QUIET)


def draw_doubles(record: DoublesAdvice) -> Canvas:
    """Draw each group as touching swatches, so that the eye can judge."""
    canvas = Canvas.of(
        200, "Markers that look the same", f"on {record.on}, closer than {record.threshold:g} CIEDE2000"
    )
    y = 32.0
    for double in record.doubles[:_MOST_DOUBLES]:
        each = 52.0 / len(double.markers)
        for place, marker in enumerate(double.markers):
            canvas.block(12 + place * each, y, each + 0.4, 14, marker.hex, 0.2)
        names = ", ".join(marker.name for marker in double.markers)
        canvas.text(70, y + 4.6, names, 9, bold=True, width_mm=118)
        lights = ", ".join(f"{light} {value:.1f}" for light, value in double.by_light.items())
        canvas.text(70, y + 9, f"at most {double.largest:.1f} apart; {lights}", 7.2, QUIET, width_mm=118)
        colour = WARNING if double.parts_under else QUIET
        y = max(y + 19, canvas.lines(70, y + 13, double.words, 118, 7.2, colour) + 2)
    return _closing_words(canvas, y + 4, record.words, 176)


def draw_kit(record: KitAdvice) -> Canvas:
    """Draw the markers to bring, then what each target is made of beside the colour wanted."""
    who = "for one maker" if record.makers == 1 else f"for a class of {record.makers}"
    canvas = Canvas.of(200, "What to bring", f"{who}, on {record.on}")
    for place, one in enumerate(record.markers):
        x, top = 12 + 44 * (place % 4), 32 + 27.0 * (place // 4)
        canvas.block(x, top, 40, 14, one.marker.hex)
        canvas.text(x, top + 18.4, one.marker.name, 8, bold=True, width_mm=42)
        canvas.text(x, top + 22, f"bring {one.copies}", 7.2, QUIET)
    y = 32 + 27.0 * ((len(record.markers) + 3) // 4) + 6
    canvas.text(12, y, "Wanted, and what comes out", 10, QUIET)
    y += 4
    for target in record.targets:
        canvas.block(12, y, 18, 11, target.wanted.hex)
        if target.made is not None:
            canvas.block(28, y, 18, 11, target.made.hex)
        canvas.text(52, y + 4, target.role or target.wanted.name, 9, bold=True, width_mm=136)
        below = canvas.lines(52, y + 8.4, target.words, 136, 7.4, QUIET if target.met else WARNING)
        y = max(y + 14.5, below + 2)
    return _closing_words(canvas, y + 5, record.words, 176)


def draw_skin(record: SkinAdvice) -> Canvas:
    """Draw one row for each skin colour: the colour, then base, shadows, light and blush."""
    canvas = Canvas.of(234, "Skin from the drawer", f"on {record.on}")
    roles = ("light", "base", "shadow", "deeper shadow", "blush")
    for place, role in enumerate(roles):
        canvas.text(66 + 31 * place, 32, role, 8, QUIET)
    y = 35.0
    for one in record.sets:
        canvas.axes.add_patch(
            Circle((22, y + 10), 9.5, facecolor=one.skin.hex, edgecolor="#00000028", linewidth=0.5)
        )
        canvas.text(35, y + 8, f"Class {one.number}", 9.5, bold=True)
        canvas.text(35, y + 12, f"ITA {one.ita:.0f}°", 7.4, QUIET)
        canvas.text(35, y + 16, f"score {one.score:.0f}", 7.4, QUIET)
        lowest = y + 24.0
        by_role = {found.role: found for found in one.markers}
        for place, role in enumerate(roles):
            x = 66 + 31 * place
            if role not in by_role:
                canvas.text(x, y + 9, "none in the drawer", 6.8, WARNING)
                continue
            found = by_role[role]
            canvas.block(x, y, 28, 15, found.marker.hex)
            below = canvas.lines(x, y + 18.6, found.marker.name, 28, 6.8, INK if found.fits else WARNING)
            lowest = max(lowest, below)
        y = lowest + 4
    return _closing_words(canvas, y + 2, record.words, 196)
