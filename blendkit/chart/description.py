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
from typing import Any, Literal, get_args

from blendkit.errors import PaletteError, Problem, SheetError
from blendkit.files import read_json
from blendkit.palette import replace_file

MOST_BYTES = 4_000_000
"""Largest description that is read. Own judgement."""

CHART_FILE_VERSION = 2
"""2 for a chart with boxes of kind lift; without them a chart is written as version 1."""
DICTIONARY = "DICT_ARUCO_MIP_36H12"
"""OpenCV's name for the 250 marks of 6 by 6 cells that differ in at least 12 cells."""

BoxKind = Literal["swatch", "blend", "over", "anchor", "lift", "paper"]
Corners = tuple[tuple[float, float], tuple[float, float], tuple[float, float], tuple[float, float]]


@dataclass(frozen=True, slots=True)
class MarkSpec:
    """One camera mark: its number and the corners of its black square, clockwise from its top left."""

    id: int
    corners_mm: Corners


@dataclass(frozen=True, slots=True)
class BoxSpec:
    """One place to be coloured (or left bare) and read: see the table in the module's docstring."""

    label: str
    kind: BoxKind
    markers: tuple[str, ...]
    coats: int
    ratio: float | None
    x_mm: float
    y_mm: float
    w_mm: float
    h_mm: float
    expected_lab: tuple[float, float, float] | None = None

    @property
    def centre_mm(self) -> tuple[float, float]:
        """Middle of the box on the page."""
        return self.x_mm + self.w_mm / 2, self.y_mm + self.h_mm / 2


@dataclass(frozen=True, slots=True)
class PageSpec:
    """One printed page: its size, marks, code and boxes."""

    page: int
    size_mm: tuple[float, float]
    code: str
    code_box_mm: tuple[float, float, float, float]
    marks: tuple[MarkSpec, ...]
    boxes: tuple[BoxSpec, ...]


@dataclass(frozen=True, slots=True)
class ChartSpec:
    """A whole chart: what its description file holds."""

    version: int
    chart_id: str
    title: str
    paper: str
    pages: tuple[PageSpec, ...]

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
    reader = _Reader()
    chart = ChartSpec(
        version=version,
        chart_id=reader.text(data, "chart_id", "chart"),
        title=reader.text(data, "title", "chart"),
        paper=reader.text(data, "paper", "chart"),
        pages=tuple(
            reader.page(entry, f"page entry {number}")
            for number, entry in enumerate(reader.list(data, "pages", "chart"), 1)
        ),
    )
    if data.get("dictionary") != DICTIONARY:
        reader.problem("chart: dictionary", data.get("dictionary"), DICTIONARY)
    if reader.problems:
        raise SheetError(f"{path} can't be used", reader.problems)
    return chart


class _Reader:
    """Turns JSON into the records and collects what is wrong on the way."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []

    def problem(self, where: str, found: Any, accepted: str) -> None:
        self.problems.append(Problem(where, repr(found)[:60], accepted))

    def text(self, data: Mapping[str, Any], key: str, where: str) -> str:
        value = data.get(key)
        if not isinstance(value, str):
            self.problem(f"{where}: {key}", value, "text")
            return ""
        return value

    def list(self, data: Mapping[str, Any], key: str, where: str) -> list[Any]:
        value = data.get(key)
        if not isinstance(value, list):
            self.problem(f"{where}: {key}", value, "a list")
            return []
        return value

    def numbers(self, value: Any, count: int, where: str, low: float, high: float) -> tuple[float, ...]:
        if (
            not isinstance(value, list)
            or len(value) != count
            or not all(_is_number(item) and low <= item <= high for item in value)
        ):
            self.problem(where, value, f"{count} numbers, {low:g} to {high:g}")
            return (0.0,) * count
        return tuple(float(item) for item in value)

    def whole(self, data: Mapping[str, Any], key: str, where: str, low: int, high: int) -> int:
        value = data.get(key)
        if not isinstance(value, int) or isinstance(value, bool) or not low <= value <= high:
            self.problem(f"{where}: {key}", value, f"a whole number, {low} to {high}")
            return low
        return value

    def page(self, entry: Any, where: str) -> PageSpec:
        if not isinstance(entry, dict):
            self.problem(where, entry, "an object")
            entry = {}
        width, height = self.numbers(entry.get("size_mm"), 2, f"{where}: size_mm", 20, 2000)
        code_box = self.numbers(entry.get("code_box_mm"), 4, f"{where}: code_box_mm", 0, 2000)
        return PageSpec(
            page=self.whole(entry, "page", where, 1, 999),
            size_mm=(width, height),
            code=self.text(entry, "code", where),
            code_box_mm=(code_box[0], code_box[1], code_box[2], code_box[3]),
            marks=tuple(
                self.mark(mark, f"{where}, mark entry {number}")
                for number, mark in enumerate(self.list(entry, "marks", where), 1)
            ),
            boxes=tuple(
                self.box(box, f"{where}, box entry {number}")
                for number, box in enumerate(self.list(entry, "boxes", where), 1)
            ),
        )

    def mark(self, entry: Any, where: str) -> MarkSpec:
        if not isinstance(entry, dict):
            self.problem(where, entry, "an object")
            entry = {}
        corners = entry.get("corners_mm")
        if not isinstance(corners, list) or len(corners) != 4:
            self.problem(f"{where}: corners_mm", corners, "four corners, each [x, y]")
            corners = [[0.0, 0.0]] * 4
        a, b, c, d = (self.numbers(corner, 2, f"{where}: corners_mm", 0, 2000) for corner in corners)
        return MarkSpec(
            id=self.whole(entry, "id", where, 0, 249),
            corners_mm=((a[0], a[1]), (b[0], b[1]), (c[0], c[1]), (d[0], d[1])),
        )

    def box(self, entry: Any, where: str) -> BoxSpec:
        if not isinstance(entry, dict):
            self.problem(where, entry, "an object")
            entry = {}
        kind = entry.get("kind")
        if kind not in get_args(BoxKind):
            self.problem(f"{where}: kind", kind, ", ".join(get_args(BoxKind)))
            kind = "paper"
        names = self.list(entry, "markers", where)
        if not all(isinstance(name, str) for name in names):
            self.problem(f"{where}: markers", names, "a list of names")
            names = []
        ratio = entry.get("ratio")
        if ratio is not None and (not _is_number(ratio) or not 0 <= ratio <= 1):
            self.problem(f"{where}: ratio", ratio, "a number 0 to 1, or null")
            ratio = None
        expected = entry.get("expected_lab")
        lab = None if expected is None else self.numbers(expected, 3, f"{where}: expected_lab", -200, 200)
        x, y, w, h = self.numbers(
            [entry.get(key) for key in ("x_mm", "y_mm", "w_mm", "h_mm")],
            4,
            f"{where}: x_mm, y_mm, w_mm, h_mm",
            0,
            2000,
        )
        return BoxSpec(
            label=self.text(entry, "label", where),
            kind=kind,
            markers=tuple(names),
            coats=self.whole(entry, "coats", where, 0, 9),
            ratio=ratio,
            x_mm=x,
            y_mm=y,
            w_mm=w,
            h_mm=h,
            expected_lab=None if lab is None else (lab[0], lab[1], lab[2]),
        )


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= 1e300
