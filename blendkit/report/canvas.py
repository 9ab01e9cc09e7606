"""A page for picture reports, drawn in millimetres by matplotlib: swatches, strips, words, small plots."""

import logging
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, fontManager
from matplotlib.patches import FancyBboxPatch, Rectangle

from blendkit.inked import Swatch
from blendkit.page.cautions import SAFETY_LINE
from blendkit.page.typeface import find_typeface, spell

PAGE = "#fbf9f5"
INK = "#2c2a27"
QUIET = "#6b665e"
RULE = "#ddd6ca"
WARNING = "#9a3b26"
DPI = 150
_FAMILY = "DejaVu Sans"
_LEAST_SIZE = 0.65


def readable(words: str) -> tuple[str, list[str]]:
    """Give words as they can be drawn, and the font families to draw them with, in any script.

    Returns: the words, with letters that no font here has spelled by their numbers; the families, the usual
    first.
    """
    if words.isascii():
        return words, [_FAMILY]
    typeface = find_typeface([words])
    for file in typeface.files:
        _add_font(str(file))
    return spell(words, typeface.unshown), [_FAMILY, *(one for one in typeface.families if one != _FAMILY)]


@lru_cache(maxsize=64)
def _add_font(path: str) -> None:
    # A fallback font often has one weight alone, which is no news to the colourist.
    logging.getLogger("matplotlib.font_manager").setLevel(logging.ERROR)
    fontManager.addfont(path)


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
        figure = Figure(figsize=(width_mm / 25.4, height_mm / 25.4), dpi=DPI, facecolor=PAGE)
        FigureCanvasAgg(figure)
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        axes.set_xlim(0, width_mm)
        axes.set_ylim(height_mm, 0)
        axes.axis("off")
        canvas = cls(figure, axes, width_mm, height_mm, [])
        canvas.text(12, 17, title, 17, bold=True, width_mm=width_mm - 24)
        if subtitle:
            canvas.text(12, 24, subtitle, 9.5, QUIET, width_mm=width_mm - 24)
        return canvas

    def finish(self, y: float) -> "Canvas":
        """Set the safety line below *y*, and cut the page to its content."""
        self.height_mm = self.lines(12, y + 8, SAFETY_LINE, self.width_mm - 24, 6.4, QUIET) + 4
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
        width_mm: float | None = None,
    ) -> None:
        """Set one line with its baseline at *y*; size in points.

        Where it would pass *width_mm* it is set smaller, and where that would be too small to read, shortened.
        """
        if width_mm is not None:
            least = _LEAST_SIZE * size
            size = max(least, size * min(1.0, width_mm / max(1e-6, self._width_mm(words, size, bold))))
            while len(words) > 8 and self._width_mm(words, size, bold) > width_mm * 1.01:
                words = words.removesuffix("…")[:-1].rstrip() + "…"
        words, families = readable(words)
        self.axes.text(
            x,
            y,
            words,
            fontsize=size,
            color=colour,
            ha=align,
            va="baseline",
            fontweight="bold" if bold else "normal",
            fontfamily=families,
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

    def _width_mm(self, words: str, size: float, bold: bool = False) -> float:
        renderer = self.figure.canvas.get_renderer()  # type: ignore[attr-defined]
        words, families = readable(words)
        font = FontProperties(family=families, size=size, weight="bold" if bold else "normal")
        width, _, _ = renderer.get_text_width_height_descent(words, font, ismath=False)
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
