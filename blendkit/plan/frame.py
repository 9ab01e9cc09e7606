"""The frame that every sheet of a plan shares: heading, foot with ruler and cautions, swatches, numbers."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from blendkit.inked import Swatch
from blendkit.page.cautions import SAFETY_LINE
from blendkit.page.page import (
    CAP_HEIGHT_MM,
    PAGE_SIZES_MM,
    Circle,
    Gradient,
    Line,
    Page,
    Path2D,
    Rect,
    Shape,
    Text,
    ruler,
)
from blendkit.plan.number_places import number_size_mm

INK = "#222222"
GREY = "#666666"
PALE = "#999999"
RULE = "#cccccc"


MARGIN_MM = 12.0
TOP_MM = 36.0
FOOT_MM = 24.0


@dataclass(frozen=True, slots=True)
class Frame:
    """A page's size and the room between heading and foot."""

    width_mm: float
    height_mm: float

    @property
    def left(self) -> float:
        """Left edge of the content."""
        return MARGIN_MM

    @property
    def right(self) -> float:
        """Right edge of the content."""
        return self.width_mm - MARGIN_MM

    @property
    def top(self) -> float:
        """Where content starts, below the heading."""
        return TOP_MM

    @property
    def bottom(self) -> float:
        """Where content ends, above the foot."""
        return self.height_mm - FOOT_MM

    @property
    def across(self) -> float:
        """Width of the content."""
        return self.right - self.left

    def page(self, title: str, subtitle: str, shapes: Sequence[Shape], dial_deg: float | None = None) -> Page:
        """Give a page with its heading, its content and its foot; numbers are put in by :func:`numbered`."""
        room = self.across - (30.0 if dial_deg is not None else 0.0)
        head: list[Shape] = [
            Text(self.left, 20.5, title, 20, bold=True, width_mm=room, min_size_pt=12),
            Text(self.left, 27.5, subtitle, 8.5, GREY, width_mm=room, lines=1, min_size_pt=6.5),
        ]
        if dial_deg is not None:
            head += light_dial(self.right - 9.0, 19.5, 7.6, dial_deg)
        y = self.height_mm - 12.2
        foot: list[Shape] = [
            Line(self.left, self.bottom + 3.2, self.right, self.bottom + 3.2, RULE, 0.2),
            *ruler(self.left, y),
            Text(
                self.left + 108,
                y - 3.6,
                SAFETY_LINE,
                5.8,
                GREY,
                width_mm=self.across - 108,
                lines=5,
                min_size_pt=5,
            ),
        ]
        return Page(self.width_mm, self.height_mm, (*head, *shapes, *foot))


def frame_for(page: str) -> Frame:
    """Give the frame of a page size by its name."""
    return Frame(*PAGE_SIZES_MM[page])


def share_rows(rows: int, most: int) -> tuple[int, ...]:
    """Share rows out evenly over as few pages as hold them, *most* to a page; one page at least."""
    pages = max(1, math.ceil(rows / most))
    return tuple(rows // pages + (page < rows % pages) for page in range(pages))


def numbered(pages: Sequence[Page]) -> tuple[Page, ...]:
    """Put "page 2 of 6" in the corner of every page."""
    return tuple(
        Page(
            page.width_mm,
            page.height_mm,
            (
                *page.shapes,
                Text(
                    page.width_mm - MARGIN_MM,
                    page.height_mm - 6.6,
                    f"page {number} of {len(pages)}",
                    6.6,
                    GREY,
                    align="right",
                ),
            ),
        )
        for number, page in enumerate(pages, 1)
    )


def light_dial(x_mm: float, y_mm: float, radius_mm: float, light_deg: float) -> list[Shape]:
    """Draw a clock face with a sun where the light comes from, and its rays falling inward."""
    shapes: list[Shape] = [Circle(x_mm, y_mm, radius_mm, "#ffffff", PALE, 0.25)]
    for hour in range(12):
        a = math.radians(hour * 30)
        inner = radius_mm * (0.8 if hour % 3 else 0.7)
        shapes.append(
            Line(
                x_mm + inner * math.sin(a),
                y_mm - inner * math.cos(a),
                x_mm + radius_mm * 0.92 * math.sin(a),
                y_mm - radius_mm * 0.92 * math.cos(a),
                PALE,
                0.2,
            )
        )
    a = math.radians(light_deg)
    sun = (x_mm + radius_mm * math.sin(a), y_mm - radius_mm * math.cos(a))
    for ray in range(12):
        b = ray * math.pi / 6
        shapes.append(
            Line(
                sun[0] + 2.3 * math.cos(b),
                sun[1] + 2.3 * math.sin(b),
                sun[0] + 3.0 * math.cos(b),
                sun[1] + 3.0 * math.sin(b),
                INK,
                0.25,
            )
        )
    shapes.append(Circle(*sun, 1.8, "#ffffff", INK, 0.3))
    # three rays toward the middle
    along = (x_mm - sun[0], y_mm - sun[1])
    length = math.hypot(*along)
    u = (along[0] / length, along[1] / length)
    for offset in (-1.3, 0.0, 1.3):
        start = (sun[0] + 3.6 * u[0] - offset * u[1], sun[1] + 3.6 * u[1] + offset * u[0])
        reach = length * (0.95 if offset == 0.0 else 0.75) - 3.6
        shapes.append(Line(*start, start[0] + reach * u[0], start[1] + reach * u[1], GREY, 0.2))
    return shapes


def number_tag(
    x_mm: float, y_mm: float, number: int, radius_mm: float = 2.3, bold: bool = True
) -> list[Shape]:
    """Draw a part's number in a ring, about its middle."""
    size = min(8.0, radius_mm * (3.9 if number < 10 else 3.4))
    return [
        Circle(x_mm, y_mm, radius_mm, "#ffffff", INK, 0.25),
        Text(x_mm, y_mm + size * CAP_HEIGHT_MM / 2, str(number), size, INK, align="centre", bold=bold),
    ]


def halo(x_mm: float, y_mm: float, text: str, size_pt: float) -> Shape:
    """Draw the white ground of a bare number, about its middle."""
    w, h = number_size_mm(text, size_pt)
    return Rect(x_mm - w / 2 - 0.15, y_mm - h / 2 - 0.25, w + 0.3, h + 0.5, "#ffffff", None, 0, 0.5)


def leader(x1_mm: float, y1_mm: float, x2_mm: float, y2_mm: float, fill: str) -> list[Shape]:
    """Draw a leader line with a dot at its end, both with a white rim, so that they show on ink too."""
    return [
        Line(x1_mm, y1_mm, x2_mm, y2_mm, "#ffffff", 0.55),
        Line(x1_mm, y1_mm, x2_mm, y2_mm, fill, 0.2),
        Circle(x2_mm, y2_mm, 0.3, fill, "#ffffff", 0.15),
    ]


def chip(x_mm: float, y_mm: float, w_mm: float, h_mm: float, hex_colour: str | None) -> Shape:
    """Draw a swatch, or an empty box where nothing was chosen."""
    if hex_colour is None:
        return Rect(x_mm, y_mm, w_mm, h_mm, None, PALE, 0.2, 0.6, 0.7)
    return Rect(x_mm, y_mm, w_mm, h_mm, hex_colour, PALE, 0.15, 0.6)


def chips(
    x_mm: float, y_mm: float, w_mm: float, h_mm: float, swatches: Sequence[Swatch | None]
) -> list[Shape]:
    """Draw swatches side by side, each *w_mm* wide."""
    return [
        chip(x_mm + place * (w_mm + 0.6), y_mm, w_mm, h_mm, None if swatch is None else swatch.hex)
        for place, swatch in enumerate(swatches)
    ]


def strip(x_mm: float, y_mm: float, w_mm: float, h_mm: float, swatches: Sequence[Swatch]) -> Shape:
    """Draw the blend from highlight to shadow."""
    last = len(swatches) - 1
    stops = tuple((place / last, swatch.hex) for place, swatch in enumerate(swatches))
    return Rect(x_mm, y_mm, w_mm, h_mm, Gradient(stops), PALE, 0.15, 0.8)


def tick_box(x_mm: float, y_mm: float, side_mm: float = 3.2) -> Shape:
    """Draw a box to tick."""
    return Rect(x_mm, y_mm, side_mm, side_mm, "#ffffff", GREY, 0.25, 0.4)


def arrow(x_mm: float, y_mm: float, size_mm: float = 1.3) -> Shape:
    """Draw a small chevron that points right, about its middle."""
    return Path2D(
        (
            (
                (x_mm - size_mm / 2, y_mm - size_mm),
                (x_mm + size_mm / 2, y_mm),
                (x_mm - size_mm / 2, y_mm + size_mm),
            ),
        ),
        None,
        PALE,
        0.3,
        closed=False,
    )
