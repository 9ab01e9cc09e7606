"""Picture reports of answers: swatches, strips, plots and the words, as HTML, PNG or PDF (matplotlib).

A report shows a record and nothing else: every number and word on it is a field of the record that ``--json``
prints. Swatches are what a screen or printer can show, which is only as good as that screen or printer.
"""

import base64
import html
import io
import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.patches import Circle, FancyBboxPatch, Rectangle

from blendkit.advice.inked import Swatch
from blendkit.advice.order import LayerAdvice, OrderAdvice
from blendkit.advice.pairs import Companion, PairAdvice
from blendkit.advice.papers import MatchAdvice
from blendkit.advice.schemes import PapersAdvice, Scheme
from blendkit.colour import lab_to_lch
from blendkit.errors import SheetError
from blendkit.palette import replace_file
from blendkit.records import to_json

__all__ = ["REPORT_ENDINGS", "Canvas", "draw_report", "write_report"]

REPORT_ENDINGS = (".html", ".png", ".pdf")

PAGE = "#fbf9f5"
INK = "#2c2a27"
QUIET = "#6b665e"
RULE = "#ddd6ca"
_DPI = 150
_SAFETY = (
    "Alcohol inks are flammable and their vapour needs fresh air; keep them from children, food and skin. "
    "Dyes fade in light. Local rules and the maker's safety sheet come first."
)


@dataclass
class Canvas:
    """A figure that is drawn on in millimetres from its top left, downward.

    Args:
        figure: the matplotlib figure.
        axes: covers all of it; x right, y down, mm.
        width_mm: its width.
        height_mm: its height; :meth:`finish` sets it to what was drawn.
        plots: small plots on it, with their place in mm.
    """

    figure: Figure
    axes: Axes
    width_mm: float
    height_mm: float
    plots: list[tuple[Axes, float, float, float, float]]

    @classmethod
    def of(cls, width_mm: float, title: str, subtitle: str = "") -> "Canvas":
        """Open a page with its title set; draw from y = 32 mm down, then call :meth:`finish`."""
        height_mm = 200.0
        figure = Figure(figsize=(width_mm / 25.4, height_mm / 25.4), dpi=_DPI, facecolor=PAGE)
        FigureCanvasAgg(figure)
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        axes.set_xlim(0, width_mm)
        axes.set_ylim(height_mm, 0)
        axes.axis("off")
        canvas = cls(figure, axes, width_mm, height_mm, [])
        canvas.text(12, 17, title, 17, bold=True)
        if subtitle:
            canvas.text(12, 24, subtitle, 9.5, QUIET)
        return canvas

    def finish(self, y: float) -> "Canvas":
        """Set the safety line below *y*, and cut the page to its content."""
        self.height_mm = self.lines(12, y + 8, _SAFETY, self.width_mm - 24, 6.4, QUIET) + 4
        self.figure.set_size_inches(self.width_mm / 25.4, self.height_mm / 25.4)
        self.axes.set_ylim(self.height_mm, 0)
        for plot, x, top, width, height in self.plots:
            plot.set_position(self._place(x, top, width, height))
        return self

    def _place(self, x: float, y: float, width: float, height: float) -> tuple[float, float, float, float]:
        return (
            x / self.width_mm,
            1.0 - (y + height) / self.height_mm,
            width / self.width_mm,
            height / self.height_mm,
        )

    def text(
        self,
        x: float,
        y: float,
        words: str,
        size: float = 9,
        colour: str = INK,
        bold: bool = False,
        align: str = "left",
    ) -> None:
        """Set one line with its baseline at *y*; size in points."""
        self.axes.text(
            x,
            y,
            words,
            fontsize=size,
            color=colour,
            ha=align,
            va="baseline",
            fontweight="bold" if bold else "normal",
            parse_math=False,
        )

    def lines(
        self, x: float, y: float, words: str, width_mm: float, size: float = 8, colour: str = INK
    ) -> float:
        """Set running text within *width_mm*; give the y below it."""
        pitch = size * 0.3528 * 1.32
        line = ""
        for word in words.split():
            longer = f"{line} {word}".strip()
            if line and self._width_mm(longer, size) > width_mm:
                self.text(x, y, line, size, colour)
                y += pitch
                line = word
            else:
                line = longer
        self.text(x, y, line, size, colour)
        return y + pitch

    def _width_mm(self, words: str, size: float) -> float:
        renderer = self.figure.canvas.get_renderer()  # type: ignore[attr-defined]
        width, _, _ = renderer.get_text_width_height_descent(words, FontProperties(size=size), ismath=False)
        return float(width) / self.figure.dpi * 25.4

    def block(
        self, x: float, y: float, width: float, height: float, hex_colour: str, radius: float = 1.2
    ) -> None:
        """Draw a swatch with a hair line around it, so that white shows on the page."""
        self.axes.add_patch(
            FancyBboxPatch(
                (x + radius, y + radius),
                width - 2 * radius,
                height - 2 * radius,
                boxstyle=f"round,pad={radius},rounding_size={radius}",
                facecolor=hex_colour,
                edgecolor="#00000028",
                linewidth=0.4,
            )
        )

    def strip(self, x: float, y: float, width: float, height: float, steps: Sequence[Swatch]) -> None:
        """Draw swatches side by side without gaps."""
        each = width / len(steps)
        for place, step in enumerate(steps):
            self.axes.add_patch(
                Rectangle((x + place * each, y), each + 0.05, height, facecolor=step.hex, linewidth=0)
            )
        self.axes.add_patch(
            Rectangle((x, y), width, height, facecolor="none", edgecolor="#00000028", linewidth=0.4)
        )

    def rule(self, y: float) -> None:
        """Draw a quiet line across the page."""
        self.axes.plot([12, self.width_mm - 12], [y, y], color=RULE, linewidth=0.7)

    def plot(self, x: float, y: float, width: float, height: float) -> Axes:
        """Open a small plot at a place on the page."""
        plot = self.figure.add_axes(self._place(x, y, width, height), facecolor=PAGE)
        self.plots.append((plot, x, y, width, height))
        plot.tick_params(labelsize=6.5, colors=QUIET, length=2)
        for side, spine in plot.spines.items():
            spine.set_visible(side in ("left", "bottom"))
            spine.set_color(RULE)
        plot.grid(color=RULE, linewidth=0.4)
        return plot


def _companion_row(canvas: Canvas, y: float, one: Companion, base: Swatch, width: float) -> float:
    canvas.block(12, y, 16, 16, base.hex)
    canvas.block(24, y + 4, 16, 16, one.hex)
    name = one.name + (f" × {one.coats}" if one.how == "coats" else "")
    how = {"marker": "", "coats": "  more coats", "over": "  laid over", "under": "  laid under"}[one.how]
    canvas.text(46, y + 4.2, name, 10, bold=True)
    canvas.text(46, y + 8.2, f"score {int(one.score)}{'' if one.fits else ', a near miss'}{how}", 7.5, QUIET)
    canvas.strip(46, y + 10.2, 58, 5.5, one.blend)
    below = canvas.lines(46, y + 19.4, one.reasons.words, width - 46, 7.2, QUIET)
    return max(below, y + 23) + 3


def _draw_pair(record: PairAdvice) -> Canvas:
    rows = (record.shadow[:4], record.light[:3])
    canvas = Canvas.of(240, f"What shades {record.base.name}", f"on {record.on}")
    y = 32.0
    for heading, companions, empty in (
        ("Shadows, best first", rows[0], "Nothing in the drawer is darker in this hue."),
        ("Lights, best first", rows[1], "No marker lights it: leave bare paper where the light falls."),
    ):
        canvas.text(12, y, heading, 10, QUIET)
        y += 4
        if not companions:
            canvas.text(12, y + 5, empty, 8.5)
            y += 12
        for one in companions:
            y = _companion_row(canvas, y, one, record.base, 132)
        y += 5
    canvas.block(150, 30, 30, 18, record.base.hex)
    canvas.text(184, 36, record.base.name, 10, bold=True)
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
        plot.annotate(
            one.name if one.how == "marker" else f"{one.name} ({one.how})",
            (float(lch[1]) + 2.6, height),
            fontsize=5.6,
            color=INK,
            parse_math=False,
        )
    base = lab_to_lch(record.base.lab)
    plot.scatter(
        base[1], base[0], s=120, marker="s", color=record.base.hex, edgecolors=INK, linewidths=0.9, zorder=4
    )
    plot.set_ylim(0, 100)
    plot.set_xlim(0, max(60.0, float(base[1]) * 1.7))
    plot.set_xlabel("chroma C*  (grey to vivid)", fontsize=7, color=QUIET)
    plot.set_ylabel("lightness L*  (black to white)", fontsize=7, color=QUIET)


def _draw_order(record: OrderAdvice) -> Canvas:
    canvas = Canvas.of(200, "In what order", f"{record.base.name} on {record.on}, {record.style}")
    y = 34.0
    for step in record.steps:
        canvas.axes.add_patch(
            Circle((20, y + 7), 7.5, facecolor=step.hex, edgecolor="#00000028", linewidth=0.5)
        )
        canvas.text(34, y + 4, f"{step.number}   {step.marker}", 10.5, bold=True)
        below = canvas.lines(34, y + 9, step.where, 150, 8)
        if step.caution:
            below = canvas.lines(34, below, step.caution, 150, 7.5, "#9a3b26")
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


def _draw_layer(record: LayerAdvice) -> Canvas:
    count = len(record.coats) + 1
    each = min(34.0, 176.0 / count)
    canvas = Canvas.of(200, "Coat on coat", f"on {record.paper.name}")
    steps = [
        (record.paper.name, record.paper.hex, "bare paper"),
        *(
            (coat.marker, coat.hex, f"coat {coat.coat}, {coat.lightness_step:+.1f} L*")
            for coat in record.coats
        ),
    ]
    for place, (name, hex_colour, words) in enumerate(steps):
        x = 12 + place * each
        canvas.block(x, 32, each - 2, 34, hex_colour)
        canvas.lines(x, 71, name, each - 2, 7.6)
        canvas.text(x, 82, words, 6.2, QUIET)
        canvas.text(x, 86, hex_colour, 6.2, QUIET)
    y = 93.0
    for words in record.words:
        y = canvas.lines(12, y, words, 176, 7.6)
    return canvas.finish(y)


def _draw_match(record: MatchAdvice) -> Canvas:
    rows = record.matches[:10]
    canvas = Canvas.of(220, f"What matches {record.target.name}", f"as it looks on {record.on}")
    lights = list(rows[0].by_light) if rows else []
    for place, light in enumerate(("D50", *lights)):
        canvas.text(150 + 14 * place, 31, light, 7, QUIET, align="center")
    y = 34.0
    for match in rows:
        canvas.block(12, y, 20, 14, record.target.hex)
        canvas.block(30, y, 20, 14, match.hex)
        canvas.text(56, y + 4.6, match.name, 9.5, bold=True)
        canvas.text(140, y + 4.6, match.verdict, 8, QUIET, align="right")
        canvas.lines(56, y + 9, match.words, 84, 7, QUIET)
        for place, value in enumerate((match.delta_e_2000, *match.by_light.values())):
            canvas.text(150 + 14 * place, y + 6, f"{value:.1f}", 8, align="center")
            canvas.axes.add_patch(
                Rectangle((145 + 14 * place, y + 9), min(10.0, value), 1.6, facecolor=QUIET, linewidth=0)
            )
        y += 19
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


def _draw_papers(record: PapersAdvice) -> Canvas:
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
            canvas.text(x, below, f"{label}: {swatch.name}", 7.4)
            below += 3.6
        if scheme.checks.greeting is not None:
            greeting = scheme.checks.greeting
            canvas.text(x, below, f"greeting: {greeting.ink}, contrast {greeting.contrast_wcag:.1f}", 7.4)
            below += 3.6
        bottom = max(bottom, canvas.lines(x, below, "; ".join(scheme.checks.words), 60, 6.8, QUIET))
    for words in record.words:
        bottom = canvas.lines(12, bottom + 6, words, 196, 8)
    return canvas.finish(bottom)


_DRAWINGS: dict[type, Callable[[Any], Canvas]] = {
    PairAdvice: _draw_pair,
    OrderAdvice: _draw_order,
    LayerAdvice: _draw_layer,
    MatchAdvice: _draw_match,
    PapersAdvice: _draw_papers,
}


def draw_report(record: Any) -> Canvas:
    """Draw the picture of an answer.

    Args:
        record: one of the advice records.

    Returns: the canvas, ready to be saved.
    Raises: TypeError for a record that has no picture, which is a fault of the caller.
    """
    try:
        draw = _DRAWINGS[type(record)]
    except KeyError:
        raise TypeError(f"no picture report for {type(record).__name__}") from None
    return draw(record)


def write_report(record: Any, path: Path) -> None:
    """Write a picture report; the ending of *path* says which kind.

    Args:
        record: one of the advice records.
        path: a file ending in one of :data:`REPORT_ENDINGS`; an older file there is replaced whole.

    Raises: SheetError for another ending, or a place that can't be written.
    """
    ending = path.suffix.lower()
    if ending not in REPORT_ENDINGS:
        raise SheetError(f"A report can't end in “{path.suffix}”; accepted: {', '.join(REPORT_ENDINGS)}")
    canvas = draw_report(record)
    data = _to_html(record, canvas) if ending == ".html" else _to_bytes(canvas, ending[1:])
    try:
        replace_file(path, data)
    except OSError as error:
        raise SheetError(f"{path} can't be written: {error.strerror or error}.") from error


def _to_bytes(canvas: Canvas, kind: str) -> bytes:
    buffer = io.BytesIO()
    # No clock and no version in the file, so that the same answer gives the same bytes.
    metadata: dict[str, Any] = (
        {"Software": None} if kind == "png" else {"CreationDate": None, "Producer": None, "Creator": None}
    )
    canvas.figure.savefig(buffer, format=kind, dpi=_DPI, facecolor=PAGE, metadata=metadata)
    return buffer.getvalue()


def _to_html(record: Any, canvas: Canvas) -> bytes:
    picture = base64.b64encode(_to_bytes(canvas, "png")).decode("ascii")
    words = "".join(f"<p>{html.escape(line)}</p>" for line in getattr(record, "words", ()))
    data = html.escape(json.dumps(to_json(record), ensure_ascii=False, indent=1))
    text = html.escape(" ".join(getattr(record, "words", ())))
    page = f"""<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>blendkit report</title>
<style>body{{margin:2rem auto;max-width:70rem;padding:0 1rem;background:{PAGE};color:{INK};
font:1rem/1.5 sans-serif}}
img{{max-width:100%;height:auto}}pre{{overflow:auto;font-size:.8rem}}</style></head>
<body><main><img alt="{text}" src="data:image/png;base64,{picture}">
{words}<details><summary>All numbers</summary><pre>{data}</pre></details></main></body></html>
"""
    return page.encode("utf-8")
