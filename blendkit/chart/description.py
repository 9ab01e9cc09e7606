"""The chart's description: what stands where on each printed page, as a small JSON file beside the PDF.

A coloured chart is read back with this file alone: no PDF is opened, and nothing is guessed from the picture
but where the page lies. All lengths are millimetres on the printed page, x to the right and y **down** from
the page's top left corner. Lab is CIELAB, D50, 2 degrees. The file is UTF-8 JSON::

    {
      "format": "blendkit-chart",          always this word
      "version": 1,                        2 with boxes of kind lift; a reader refuses a version above its own
      "chart_id": "7F3A2K",                six letters or digits; the same on every page of one chart
      "title": "Lantern drawer",           free text, as printed
      "paper": "Smooth white card",        the paper that the chart is to be coloured on; "" if not named
      "dictionary": "DICT_ARUCO_MIP_36H12",  the set that the marks are drawn from
      "pages": [
        {
          "page": 1,                       counts from 1
          "size_mm": [210.0, 297.0],       width, height
          "code": "BK1:7F3A2K:1/2:A4P:...",  text of the page's QR code (see chart_code)
          "code_box_mm": [94.0, 30.0, 15.0, 15.0],   x, y, width, height of the QR code, white margin not
                                                     included
          "marks": [
            {"id": 0, "corners_mm": [[8, 8], [22, 8], [22, 22], [8, 22]]}
          ],
          "boxes": [
            {"label": "Lantern Glow", "kind": "swatch", "markers": ["Lantern Glow"], "coats": 1,
             "ratio": null,
             "x_mm": 26.0, "y_mm": 47.0, "w_mm": 15.0, "h_mm": 11.0, "expected_lab": [81.2, 7.9, 62.4]}
          ]
        }
      ]
    }

The corners of a mark are the outer corners of its black square: top left, top right, bottom right, bottom
left of the mark **as its code is read upright**, which is also upright on the page. Mark ``id`` is
``8 * ((page - 1) % 31) + k``, with k counted clockwise from the page's top left: 0 top left, 1 top middle,
2 top right, 3 right middle, 4 bottom right, 5 bottom middle, 6 bottom left, 7 left middle.

A box is the inside edge to inside edge of what is to be coloured (its thin grey outline is centred on the
edge). Its ``kind`` says what it holds once coloured:

======= ========================================== ======================= ======= =======================
kind    what the colourist does                    markers                 coats   ratio
======= ========================================== ======================= ======= =======================
swatch  lays *coats* coats of one marker           [name]                  1 to 9  null
blend   works two markers together while wet;      [light, dark]           1       share of the dark ink,
        one reading place along the strip                                          0 to 1
over    lays *under*, lets it dry, lays *over*     [under, over]           2       null
anchor  lays one coat of a marker that was         [name]                  1       null
        measured by an instrument
lift    lays one coat, lets it dry, goes over it   [name]                  1       null
        once with a colourless blender
paper   nothing: bare paper, not outlined          []                      0       null
======= ========================================== ======================= ======= =======================

``expected_lab`` is null where nothing is known of the marker yet, and when a page was rebuilt from its code
alone (:func:`blendkit.chart.layout.page_from_code`); then ``markers`` hold ``""`` for each name, the
``label`` counts the boxes ("box 1.17": page 1, box 17), and ``ratio`` is null for a blend.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Literal, get_args

from blendkit.errors import PaletteError, Problem, SheetError
from blendkit.files import read_json
from blendkit.forms import At, Number, Numbers, Record, Rows, Words, read_form
from blendkit.palette import replace_file

MOST_BYTES = 4_000_000
"""Largest description that is read. Own judgement."""

CHART_FILE_VERSION = 2
"""2 for a chart with boxes of kind lift; without them a chart is written as version 1."""
DICTIONARY = "DICT_ARUCO_MIP_36H12"
"""OpenCV's name for the 250 marks of 6 by 6 cells that differ in at least 12 cells."""

BoxKind = Literal["swatch", "blend", "over", "anchor", "lift", "paper"]
Corners = tuple[tuple[float, float], tuple[float, float], tuple[float, float], tuple[float, float]]
_MM, _PLACE_MM = Number(0, 2000), Numbers(2, 0, 2000)


@dataclass(frozen=True, slots=True)
class MarkSpec:
    """One camera mark: its number and the corners of its black square, clockwise from its top left."""

    id: Annotated[int, Number(0, 249, whole=True)]
    corners_mm: Annotated[Corners, Rows(_PLACE_MM, 4, 4, words="four corners, each [x, y]")]


@dataclass(frozen=True, slots=True)
class BoxSpec:
    """One place to be coloured (or left bare) and read: see the table in the module's docstring."""

    label: Annotated[str, Words()]
    kind: Annotated[BoxKind, Words(get_args(BoxKind))]
    markers: Annotated[tuple[str, ...], Rows(Words(), words="a list of names")]
    coats: Annotated[int, Number(0, 9, whole=True)]
    ratio: Annotated[float | None, Number(0, 1)]
    x_mm: Annotated[float, _MM]
    y_mm: Annotated[float, _MM]
    w_mm: Annotated[float, _MM]
    h_mm: Annotated[float, _MM]
    expected_lab: Annotated[tuple[float, float, float] | None, Numbers(3, -200, 200)] = None

    @property
    def centre_mm(self) -> tuple[float, float]:
        """Middle of the box on the page."""
        return self.x_mm + self.w_mm / 2, self.y_mm + self.h_mm / 2


_BOX = Record(BoxSpec, usual=(("ratio", None),))


@dataclass(frozen=True, slots=True)
class PageSpec:
    """One printed page: its size, marks, code and boxes."""

    page: Annotated[int, Number(1, 999, whole=True)]
    size_mm: Annotated[tuple[float, float], Numbers(2, 20, 2000)]
    code: Annotated[str, Words()]
    code_box_mm: Annotated[tuple[float, float, float, float], Numbers(4, 0, 2000)]
    marks: Annotated[tuple[MarkSpec, ...], Rows(Record(MarkSpec), row="mark entry")]
    boxes: Annotated[tuple[BoxSpec, ...], Rows(_BOX, row="box entry")]


@dataclass(frozen=True, slots=True)
class ChartSpec:
    """A whole chart: what its description file holds."""

    version: int
    chart_id: Annotated[str, Words()]
    title: Annotated[str, Words()]
    paper: Annotated[str, Words()]
    pages: Annotated[tuple[PageSpec, ...], Rows(Record(PageSpec), row="page entry")]

    def page(self, number: int) -> PageSpec:
        """Give the page with that *number*, counted from 1.

        Raises: SheetError when the chart has no such page.
        """
        for page in self.pages:
            if page.page == number:
                return page
        numbers = ", ".join(str(page.page) for page in self.pages)
        raise SheetError(f"chart {self.chart_id} has no page {number}; it has: {numbers}")


def chart_file_text(chart: ChartSpec) -> str:
    """Give the description file's text: the same for the same chart, one box or mark to a line."""

    def number(value: float) -> float | int:
        rounded = round(float(value), 3) + 0.0
        return int(rounded) if rounded == int(rounded) else rounded

    def numbers(values: tuple[float, ...] | None) -> list[float | int] | None:
        return None if values is None else [number(value) for value in values]

    def line(data: Mapping[str, Any]) -> str:
        return json.dumps(data, ensure_ascii=False)

    pages = []
    for page in chart.pages:
        marks = ",\n      ".join(
            line({"id": mark.id, "corners_mm": [numbers(corner) for corner in mark.corners_mm]})
            for mark in page.marks
        )
        boxes = ",\n      ".join(
            line(
                {
                    "label": box.label,
                    "kind": box.kind,
                    "markers": list(box.markers),
                    "coats": box.coats,
                    "ratio": None if box.ratio is None else number(box.ratio),
                    "x_mm": number(box.x_mm),
                    "y_mm": number(box.y_mm),
                    "w_mm": number(box.w_mm),
                    "h_mm": number(box.h_mm),
                    "expected_lab": numbers(box.expected_lab),
                }
            )
            for box in page.boxes
        )
        head = line(
            {
                "page": page.page,
                "size_mm": numbers(page.size_mm),
                "code": page.code,
                "code_box_mm": numbers(page.code_box_mm),
            }
        )
        pages.append(
            f'    {head[:-1]},\n     "marks": [\n      {marks}\n     ],\n'
            f'     "boxes": [\n      {boxes}\n     ]}}'
        )
    head = line(
        {
            "format": "blendkit-chart",
            "version": chart.version,
            "chart_id": chart.chart_id,
            "title": chart.title,
            "paper": chart.paper,
            "dictionary": DICTIONARY,
        }
    )
    return f'{head[:-1]},\n  "pages": [\n' + ",\n".join(pages) + "\n  ]\n}\n"


def write_chart_file(chart: ChartSpec, path: Path) -> None:
    """Write the description file of *chart* at *path*, in UTF-8; it is whole or not there.

    Raises: SheetError when it can't be written; an older file is then as it was.
    """
    try:
        replace_file(path, chart_file_text(chart).encode())
    except PaletteError as error:
        raise SheetError(f"{path} can't be written", error.problems) from None


def read_chart_file(path: Path) -> ChartSpec:
    """Read a chart's description file.

    Raises: SheetError when it can't be opened, is not such a file or is of a later version; every place that
        is wrong is named.
    """
    data = read_json(path, MOST_BYTES, "a chart's description file", SheetError)
    if not isinstance(data, dict) or data.get("format") != "blendkit-chart":
        raise SheetError(
            f'{path} is not a chart\'s description file; it should open with "format": "blendkit-chart"'
        )
    version = data.get("version")
    if not isinstance(version, int) or not 1 <= version <= CHART_FILE_VERSION:
        raise SheetError(
            f"{path} is of version {version!r}; this blendkit reads 1 to {CHART_FILE_VERSION}. "
            "A newer blendkit will read it"
        )
    problems: list[Problem] = []
    at = At(path.name, problems, strict=False)
    chart = read_form(ChartSpec, data, at, version=version)
    if data.get("dictionary") != DICTIONARY:
        at.of("dictionary").fault(data.get("dictionary"), DICTIONARY)
    if problems:
        raise SheetError(f"{path} can't be used", problems)
    return chart
