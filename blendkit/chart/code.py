"""The short code on a chart's page, and the page layout that it stands for.

The layout of a page follows from its :class:`PageLayout` alone, and that is what the page's QR code says. So
a page whose description file is lost can still be measured, though without names:
:func:`blendkit.chart.layout.page_from_code`. A code reads, field by field between colons::

    BK1 : 7F3A2K : 1/2 : A4P : 15X11E : S21-3 : B4-5 : X4-6 : A6

BK1
    this layout, version 1.
7F3A2K
    the chart: six letters or digits, made from all its names and sections (not from its colours).
1/2
    page 1 of 2.
A4P
    the paper: A4 or LT (US Letter), then P for portrait or L for landscape.
15X11E
    box width and height in mm (halves allowed: 12.5X10), then E if the colour expected stands under each box.
S21-3, A6
    a section of 21 markers with 3 boxes each, for 1, 2 and 3 coats; of 6 anchor boxes.
B4-5
    a section of 4 blend strips, each with a box at both ends and 5 reading places between them.
X4-6
    a crossing of 4 markers laid under 6 markers.

BK2 : … : L6
    version 2 is version 1 with one more kind of section: 6 markers, a box each, for one coat that a colourless
    blender goes over. A page without such a section has a code of version 1.

Boxes follow in reading order: section by section, row by row; a marker's coats from 1 up; a strip's light
end, reading places, dark end; then the bare places of paper. Version 1 must never change: charts are on paper.
"""

import re
from dataclasses import dataclass
from typing import Literal, get_args

from blendkit.errors import SheetError
from blendkit.page.page import PAGE_SIZES_MM

SectionKind = Literal["S", "A", "B", "X", "L"]
SINGLE = ("A", "L")
"""Sections whose cells have one box."""
SHEETS = {"A4": "A4", "LT": "Letter"}
"""Page sizes by their two letters in the code."""


@dataclass(frozen=True, slots=True)
class Section:
    """A run of like cells: S swatches, A anchors, B blend strips, X a crossing, L coats to lift.

    ``count`` is markers, strips, or markers laid under; ``depth`` is coats, reading places between the ends
    of a strip, or markers laid over; 1 for anchors and coats to lift.
    """

    kind: SectionKind
    count: int
    depth: int = 1


@dataclass(frozen=True, slots=True)
class PageLayout:
    """All that decides where things stand on one page."""

    chart_id: str
    page: int
    pages: int
    paper_size: str
    landscape: bool
    box_w_mm: float
    box_h_mm: float
    expected: bool
    sections: tuple[Section, ...]

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of the page as it is held."""
        width, height = PAGE_SIZES_MM[SHEETS[self.paper_size]]
        return (height, width) if self.landscape else (width, height)


def code_from_layout(layout: PageLayout) -> str:
    """Give the text of the page's code."""
    side = "L" if layout.landscape else "P"
    box = f"{layout.box_w_mm:g}X{layout.box_h_mm:g}{'E' if layout.expected else ''}"
    sections = [
        f"{section.kind}{section.count}" + ("" if section.kind in SINGLE else f"-{section.depth}")
        for section in layout.sections
    ]
    version = "BK2" if any(section.kind == "L" for section in layout.sections) else "BK1"
    head = [version, layout.chart_id, f"{layout.page}/{layout.pages}", f"{layout.paper_size}{side}", box]
    return ":".join([*head, *sections])


VERSIONS = ("BK1:", "BK2:")
"""What a code that is read here begins with."""
CODE_PATTERN = re.compile(
    r"BK(?P<version>[12]):(?P<id>[0-9A-Z]{6}):(?P<page>\d{1,2})/(?P<pages>\d{1,2}):(?P<paper>A4|LT)(?P<side>[PL])"
    r":(?P<w>\d{1,2}(?:\.5)?)X(?P<h>\d{1,2}(?:\.5)?)(?P<e>E?)(?P<sections>(?::[SABXL]\d{1,3}(?:-\d{1,2})?)*)",
    re.ASCII,
)


def layout_from_code(code: str) -> PageLayout:
    """Read the text of a page's code.

    Whether a page can hold what it says is not asked here.

    Raises: SheetError when it is not one, or is of a later version.
    """
    if re.match(r"BK\d+:", code) and not code.startswith(VERSIONS):
        raise SheetError(f"the page's code is of a later blendkit: {code}. A newer blendkit will read it")
    match = CODE_PATTERN.fullmatch(code)
    if match is None:
        raise SheetError(f"this is not the code of a chart's page: {code[:80]!r}")
    sections: list[Section] = []
    for text in match["sections"].split(":")[1:]:
        count, _, depth = text[1:].partition("-")
        kind: SectionKind = next(kind for kind in get_args(SectionKind) if kind == text[0])
        if (kind in SINGLE) == bool(depth) or (kind == "L" and match["version"] == "1"):
            raise SheetError(f"the page's code is damaged at {text}: {code}")
        sections.append(Section(kind, int(count), int(depth or 1)))
    return PageLayout(
        chart_id=match["id"],
        page=int(match["page"]),
        pages=int(match["pages"]),
        paper_size=match["paper"],
        landscape=match["side"] == "L",
        box_w_mm=float(match["w"]),
        box_h_mm=float(match["h"]),
        expected=bool(match["e"]),
        sections=tuple(sections),
    )
