"""Pictures of the answers about colours: pairs, orders, stacks, matches, schemes."""

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.patches import Circle, Rectangle

from blendkit.advice.order import LayerAdvice, OrderAdvice
from blendkit.advice.pairs import Companion, PairAdvice
from blendkit.advice.papers import MatchAdvice
from blendkit.advice.schemes import PapersAdvice, Scheme
from blendkit.colour import lab_to_lch
from blendkit.inked import Swatch
from blendkit.report.canvas import INK, QUIET, WARNING, Canvas, readable


def _companion_row(canvas: Canvas, y: float, one: Companion, base: Swatch, width: float) -> float:
    canvas.block(12, y, 16, 16, base.hex)
    canvas.block(24, y + 4, 16, 16, one.hex)
    name = one.name + (f" × {one.coats}" if one.how == "coats" else "")
    how = {"marker": "", "coats": "  more coats", "over": "  laid over", "under": "  laid under"}[one.how]
    canvas.text(46, y + 4.2, name, 10, bold=True, width_mm=width - 46)
    canvas.text(46, y + 8.2, f"score {int(one.score)}{'' if one.fits else ', a near miss'}{how}", 7.5, QUIET)
    canvas.strip(46, y + 10.2, 58, 5.5, one.blend)
    below = canvas.lines(46, y + 19.4, one.reasons.words, width - 46, 7.2, QUIET)
    if one.caution:
        below = canvas.lines(46, below, one.caution, width - 46, 7.2, WARNING)
    return max(below, y + 23) + 3


def draw_pair(record: PairAdvice) -> Canvas:
    """Draw shadows and lights as overlapping swatches with their blend strips, and the shading series."""
    rows = (record.shadow[:4], record.light[:3])
    canvas = Canvas.of(240, f"What shades {record.base.name}", f"on {record.on}")
    y = 32.0
    for heading, companions, total, empty in (
        ("Shadows, best first", rows[0], len(record.shadow), "Nothing in the drawer is darker in this hue."),
        (
            "Lights, best first",
            rows[1],
            len(record.light),
            "No marker lights it: leave bare paper where the light falls.",
        ),
    ):
        canvas.text(12, y, heading, 10, QUIET)
        y += 4
        if not companions:
            canvas.text(12, y + 5, empty, 8.5)
            y += 12
        for one in companions:
            y = _companion_row(canvas, y, one, record.base, 132)
        if more := total - len(companions):
            canvas.text(12, y + 1, f"and {more} more in the answer itself", 7.2, QUIET)
            y += 4
        y += 5
    canvas.block(150, 30, 30, 18, record.base.hex)
    canvas.text(184, 36, record.base.name, 10, bold=True, width_mm=44)
    canvas.text(184, 41, record.base.hex + (" (stand-in)" if record.base.mapped else ""), 8, QUIET)
    canvas.text(184, 46, "Lab " + " ".join(f"{v:.1f}" for v in record.base.lab), 8, QUIET)
    plot = canvas.plot(160, 60, 68, 68)
    _plot_series(plot, record)
    canvas.lines(
        150,
        140,
        "The dotted line is the shading series: the same surface under less and less light. "
        "The nearer a shadow lies to it, the more natural it looks.",
        78,
        7.2,
        QUIET,
    )
    right = 156.0
    for words in record.words:
        right = canvas.lines(150, right, words, 78, 8) + 2
    return canvas.finish(max(y, right) - 4)


def _plot_series(plot: Axes, record: PairAdvice) -> None:
    series = lab_to_lch([step.lab for step in record.series])
    plot.plot(series[:, 1], series[:, 0], ":", color=QUIET, linewidth=1.2, zorder=1)
    label_heights: list[float] = []
    for one in sorted((*record.shadow[:4], *record.light[:3]), key=lambda one: one.lab[0]):
        lch = lab_to_lch(one.lab)
        height = max([float(lch[0]) - 1.0, *(label_heights[-1:] and [label_heights[-1] + 3.4])])
        label_heights.append(height)
        plot.scatter(lch[1], lch[0], s=60, color=one.hex, edgecolors="#00000055", linewidths=0.5, zorder=3)
        name = one.name if len(one.name) <= 28 else f"{one.name[:26].rstrip()}…"
        words, families = readable(name if one.how == "marker" else f"{name} ({one.how})")
        plot.annotate(
            words,
            (float(lch[1]) + 2.6, height),
            fontsize=5.6,
            color=INK,
            fontfamily=families,
            parse_math=False,
        )
    base = lab_to_lch(record.base.lab)
    plot.scatter(
        base[1], base[0], s=120, marker="s", color=record.base.hex, edgecolors=INK, linewidths=0.9, zorder=4
    )
    plot.set_ylim(0, 100)
    drawn = [record.base.lab, *(one.lab for one in (*record.shadow[:4], *record.light[:3]))]
    vivid = float(lab_to_lch(drawn)[:, 1].max())
    plot.set_xlim(0, max(60.0, vivid * 1.7))
    plot.set_xlabel("chroma C*  (grey to vivid)", fontsize=7, color=QUIET)
    plot.set_ylabel("lightness L*  (black to white)", fontsize=7, color=QUIET)


def draw_order(record: OrderAdvice) -> Canvas:
    """Draw the steps as numbered dots of ink, each with its place in words."""
    canvas = Canvas.of(200, "In what order", f"{record.base.name} on {record.on}, {record.style}")
    y = 34.0
    for step in record.steps:
        canvas.axes.add_patch(
            Circle((20, y + 7), 7.5, facecolor=step.hex, edgecolor="#00000028", linewidth=0.5)
        )
        canvas.text(34, y + 4, f"{step.number}   {step.marker}", 10.5, bold=True, width_mm=100)
        below = canvas.lines(34, y + 9, step.where, 150, 8)
        if step.caution:
            below = canvas.lines(34, below, step.caution, 150, 7.5, WARNING)
        coats = (
            "outline"
            if step.coat == 0
            else f"{step.coat} coat{'s' if step.coat > 1 else ''} on the paper here"
        )
        canvas.text(188, y + 4, f"{coats}   {step.hex}", 7.5, QUIET, align="right")
        y = max(below, y + 17) + 6
    for words in record.words:
        y = canvas.lines(12, y, words, 176, 8) + 1.5
    return canvas.finish(y)


def draw_layer(record: LayerAdvice) -> Canvas:
    """Draw the paper and the colour after each coat side by side."""
    each = min(34.0, 176.0 / min(7, len(record.coats) + 1))
    canvas = Canvas.of(200, "Coat on coat", f"on {record.paper.name}")
    steps = [
        (record.paper.name, record.paper.hex, "bare paper", False),
        *(
            (coat.marker, coat.hex, f"coat {coat.coat}, {coat.lightness_step:+.1f} L*", bool(coat.caution))
            for coat in record.coats
        ),
    ]
    y = 32.0
    for start in range(0, len(steps), 7):
        row = steps[start : start + 7]
        below = max(canvas.lines(12 + k * each, y + 39, one[0], each - 2, 7.6) for k, one in enumerate(row))
        for place, (_, hex_colour, words, careful) in enumerate(row):
            x = 12 + place * each
            canvas.block(x, y, each - 2, 34, hex_colour)
            canvas.text(x, below + 1, words, 6.2, WARNING if careful else QUIET)
            canvas.text(x, below + 5, hex_colour, 6.2, QUIET)
        y = below + 12
    for words in record.words:
        y = canvas.lines(12, y, words, 176, 7.6)
    return canvas.finish(y)


def draw_match(record: MatchAdvice) -> Canvas:
    """Draw each paper against the target, with its difference under every light as a bar."""
    rows = record.matches[:10]
    canvas = Canvas.of(220, f"What matches {record.target.name}", f"as it looks on {record.on}")
    lights = list(rows[0].by_light) if rows else []
    for place, light in enumerate(("D50", *lights)):
        canvas.text(150 + 14 * place, 31, light, 7, QUIET, align="center")
    y = 34.0
    for match in rows:
        canvas.block(12, y, 20, 14, record.target.hex)
        canvas.block(30, y, 20, 14, match.hex)
        canvas.text(56, y + 4.6, match.name, 9.5, bold=True, width_mm=66)
        canvas.text(140, y + 4.6, match.verdict, 8, QUIET, align="right")
        below = canvas.lines(56, y + 9, match.words, 84, 7, QUIET)
        for place, value in enumerate((match.delta_e_2000, *match.by_light.values())):
            canvas.text(150 + 14 * place, y + 6, f"{value:.1f}", 8, align="center")
            canvas.axes.add_patch(
                Rectangle((145 + 14 * place, y + 9), min(10.0, value), 1.6, facecolor=QUIET, linewidth=0)
            )
        y = max(y + 19, below + 2)
    if more := len(record.matches) - len(rows):
        canvas.text(12, y + 1, f"and {more} more in the answer itself", 7.2, QUIET)
        y += 5
    for words in record.words:
        y = canvas.lines(12, y + 3, words, 196, 8) - 2
    return canvas.finish(y)


def _mock_card(canvas: Canvas, x: float, y: float, scheme: Scheme, image: Sequence[Swatch]) -> None:
    """A small card: base, mat, the image's colours, accent band and the greeting."""
    canvas.block(x, y, 54, 70, scheme.base.hex, 1.5)
    canvas.block(x + 8, y + 7, 38, 42, scheme.mat.hex, 0.8)
    canvas.block(x + 11, y + 10, 32, 36, "#ffffff", 0.8)
    shown = image[:5]
    tops = (15.0, 19.0, 17.0, 21.0, 18.0)
    for place in range(len(shown)):
        middle = x + 27 + (place - (len(shown) - 1) / 2) * (26.0 / max(3, len(shown)))
        canvas.axes.plot([middle, x + 27], [y + tops[place] + 4, y + 43], color=INK, linewidth=0.8)
    for place, colour in enumerate(shown):
        middle = x + 27 + (place - (len(shown) - 1) / 2) * (26.0 / max(3, len(shown)))
        radius = 4.6 if len(shown) < 4 else 3.4
        canvas.axes.add_patch(
            Circle(
                (middle, y + tops[place] + 4),
                radius,
                facecolor=colour.hex,
                edgecolor=INK,
                linewidth=0.9,
                zorder=3,
            )
        )
    canvas.block(x, y + 53, 54, 4, scheme.accent.hex, 0.2)


def draw_papers(record: PapersAdvice) -> Canvas:
    """Draw each scheme as a small card with base, mat, image, accent and greeting."""
    rows = record.schemes[:6]
    canvas = Canvas.of(220, "Papers for the card", "image: " + ", ".join(one.name for one in record.image))
    bottom = 40.0
    for place, scheme in enumerate(rows):
        x, y = 12 + 68 * (place % 3), 32 + 110.0 * (place // 3)
        _mock_card(canvas, x, y, scheme, record.image)
        if scheme.checks.greeting is not None:
            canvas.text(x + 27, y + 65, "with love", 10, scheme.checks.greeting.hex, align="center")
        below = y + 76
        canvas.text(
            x, below, scheme.relation + ("" if scheme.checks.passed else " (near miss)"), 9, bold=True
        )
        below += 4.2
        for label, swatch in (("base", scheme.base), ("mat", scheme.mat), ("accent", scheme.accent)):
            canvas.text(x, below, f"{label}: {swatch.name}", 7.4, width_mm=62)
            below += 3.6
        if scheme.checks.greeting is not None:
            greeting = scheme.checks.greeting
            canvas.text(
                x, below, f"greeting: {greeting.ink}, contrast {greeting.contrast_wcag:.1f}", 7.4, width_mm=62
            )
            below += 3.6
        bottom = max(bottom, canvas.lines(x, below, "; ".join(scheme.checks.words), 60, 6.8, QUIET))
    for words in record.words:
        bottom = canvas.lines(12, bottom + 6, words, 196, 8)
    return canvas.finish(bottom)
