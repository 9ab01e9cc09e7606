"""Where everything stands on a chart's page, in millimetres, worked out from its :class:`PageLayout` alone.

Charts already printed rely on it: what version 1 of a page's code (:mod:`blendkit.chart.code`) leads to
must never change; a change of any place needs a version 2 beside it.
"""

from dataclasses import dataclass, replace

from blendkit.chart.code import PageLayout, Section, SectionKind, code_from_layout, layout_from_code
from blendkit.chart.description import BoxKind, BoxSpec, Corners, MarkSpec, PageSpec
from blendkit.errors import SheetError

Rectangle = tuple[float, float, float, float]

EDGE_MM = 8.0
"""From the page's edge to a mark: office printers leave 3 to 6.4 mm bare (common practice, no source)."""
MARK_MM = 14.0
CODE_MM = 17.0
QUIET_MM = 4.0
"""White kept about every mark."""
SMALLEST_BOX_MM = 8.0
"""A brush nib lays strokes of 1 to 5 mm; three strokes side by side fill 8 mm (common practice, no source)."""
LARGEST_BOX_MM = 60.0
MAX_PAGES = 31
"""Eight marks a page out of 250."""

TOP_MM, BOTTOM_MM = 34.0, 40.0
"""From the page's top to the first heading; from the last row to the page's bottom."""
HEADING_MM, SECTION_GAP_MM = 6.6, 6.0
CHIP_GAP_MM, CHIP_MM = 0.8, 3.6
GAP_X_MM, GAP_Y_MM = 5.4, 4.0
COAT_GAP_MM, COAT_NOTE_MM = 2.0, 2.6
LABEL_LINE_MM, LABEL_SPILL_MM = 3.2, 1.9
STRIP_GAP_MM, TICK_MM, STRIP_COLUMN_GAP_MM, TWO_STRIPS_MM = 3.0, 3.6, 12.0, 200.0
SMALLEST_STEP_MM = 6.0
"""Of a strip: below it the shares under the strip would run into each other, and a photo could hardly read it."""
READ_PART = 0.6
"""Part of a strip's step that is read, about its middle: the hand does not hit the step to the millimetre."""
_SINGLE: dict[SectionKind, BoxKind] = {"A": "anchor", "L": "lift"}
ROW_LABEL_MM, CROSS_GAP_MM, CROSS_HEAD_MM = 30.0, 3.0, 8.0
"""Of a crossing: room for the names beside it, between its boxes, and above it. Own choice."""


@dataclass(frozen=True, slots=True)
class Place:
    """One box of a cell: where it is coloured, and where the colour expected stands (None if nowhere).

    ``item`` counts within the cell from 0: coats; along a strip, both ends included; markers laid over.
    """

    kind: BoxKind
    item: int
    coats: int
    box_mm: Rectangle
    chip_mm: Rectangle | None


@dataclass(frozen=True, slots=True)
class Cell:
    """What belongs to one marker, one strip, or one row of a crossing."""

    index: int
    label_mm: Rectangle
    label_lines: int
    places: tuple[Place, ...]
    strip_mm: Rectangle | None = None


@dataclass(frozen=True, slots=True)
class PlacedSection:
    """A section on its page: the line of its heading and its cells."""

    section: Section
    heading_mm: Rectangle
    cells: tuple[Cell, ...]
    column_labels_mm: tuple[Rectangle, ...] = ()


@dataclass(frozen=True, slots=True)
class PlacedPage:
    """A page with every place worked out."""

    layout: PageLayout
    code: str
    code_mm: Rectangle
    marks: tuple[MarkSpec, ...]
    sections: tuple[PlacedSection, ...]
    paper_mm: tuple[Rectangle, ...]
    bottom_mm: float


def _is_sound(layout: PageLayout) -> bool:
    """Tell whether *layout* is one that :func:`paginate` could have made."""
    depths = {"S": range(1, 4), "A": range(1, 2), "L": range(1, 2), "B": range(3, 10), "X": range(1, 100)}
    return (
        1 <= layout.page <= layout.pages <= MAX_PAGES
        and all(SMALLEST_BOX_MM <= side <= LARGEST_BOX_MM for side in (layout.box_w_mm, layout.box_h_mm))
        and all(
            section.count >= 1
            and section.depth in depths[section.kind]
            and _is_narrow_enough(section, layout)
            for section in layout.sections
        )
        and place_page(layout).bottom_mm <= layout.size_mm[1] - BOTTOM_MM + 0.01
    )


def page_from_code(code: str) -> PageSpec:
    """Give the marks and boxes of a printed page from its code alone, without names and colours.

    Raises: SheetError when it is no such code, is of a later version, or asks for what no page can hold.
    """
    layout = layout_from_code(code)
    if not _is_sound(layout):
        raise SheetError(f"the page's code asks for what no page can hold, so it is damaged: {code}")
    return unnamed_page(place_page(layout))


def unnamed_page(placed: PlacedPage) -> PageSpec:
    """Give a placed page as a description, its boxes counted instead of named."""
    boxes: list[BoxSpec] = []
    names = {"swatch": 1, "anchor": 1, "lift": 1, "blend": 2, "over": 2, "paper": 0}
    found: list[tuple[BoxKind, int, Rectangle]] = [
        (place.kind, place.coats, place.box_mm)
        for section in placed.sections
        for cell in section.cells
        for place in cell.places
    ]
    found += [("paper", 0, rectangle) for rectangle in placed.paper_mm]
    for number, (kind, coats, rectangle) in enumerate(found, 1):
        boxes.append(
            BoxSpec(f"box {placed.layout.page}.{number}", kind, ("",) * names[kind], coats, None, *rectangle)
        )
    return PageSpec(
        page=placed.layout.page,
        size_mm=placed.layout.size_mm,
        code=placed.code,
        code_box_mm=placed.code_mm,
        marks=placed.marks,
        boxes=tuple(boxes),
    )


# --- the places -------------------------------------------------------------------------------------------


def marks_on_page(page: int, size_mm: tuple[float, float]) -> tuple[MarkSpec, ...]:
    """Give the eight marks of a page, clockwise from the top left."""
    width, height = size_mm
    left, top = EDGE_MM, EDGE_MM
    right, bottom = width - EDGE_MM - MARK_MM, height - EDGE_MM - MARK_MM
    middle_x, middle_y = (width - MARK_MM) / 2, (height - MARK_MM) / 2
    corners = [
        (left, top),
        (middle_x, top),
        (right, top),
        (right, middle_y),
        (right, bottom),
        (middle_x, bottom),
        (left, bottom),
        (left, middle_y),
    ]
    first = 8 * ((page - 1) % MAX_PAGES)
    return tuple(MarkSpec(first + place, _square(x, y)) for place, (x, y) in enumerate(corners))


def _square(x: float, y: float) -> Corners:
    x0, y0, x1, y1 = (round(value, 3) for value in (x, y, x + MARK_MM, y + MARK_MM))
    return ((x0, y0), (x1, y0), (x1, y1), (x0, y1))


def place_page(layout: PageLayout) -> PlacedPage:
    """Work out every place on a page."""
    width, height = layout.size_mm
    left = EDGE_MM + MARK_MM + QUIET_MM
    right = width - left
    y = TOP_MM
    sections: list[PlacedSection] = []
    paper: list[Rectangle] = []
    for section in layout.sections:
        if sections:
            y += SECTION_GAP_MM
        placed, bare, y = _place_section(section, layout, left, right, y)
        sections.append(placed)
        paper += bare
    return PlacedPage(
        layout=layout,
        code=code_from_layout(layout),
        code_mm=_rounded(right - CODE_MM, EDGE_MM, CODE_MM, CODE_MM),
        marks=marks_on_page(layout.page, layout.size_mm),
        sections=tuple(sections),
        paper_mm=(*_paper_at_sides(width, height), *paper),
        bottom_mm=y,
    )


def _place_section(
    section: Section, layout: PageLayout, left: float, right: float, y: float
) -> tuple[PlacedSection, list[Rectangle], float]:
    heading = _rounded(left, y, right - left, HEADING_MM)
    y += HEADING_MM
    rows = _rows(section, layout, right - left)
    step = _row_mm(section, layout)
    if section.kind == "X":
        return _place_crossing(section, layout, heading, left, y)
    if section.kind == "B":
        columns = _columns(section, layout, right - left)
        width = (right - left - (columns - 1) * STRIP_COLUMN_GAP_MM) / columns
        cells = tuple(
            _strip(
                index,
                section.depth,
                layout,
                left + index % columns * (width + STRIP_COLUMN_GAP_MM),
                width,
                y + index // columns * step,
            )
            for index in range(section.count)
        )
        return PlacedSection(section, heading, cells), [], y + rows * step - GAP_Y_MM
    columns = _columns(section, layout, right - left)
    cell_w = _cell_w(section, layout)
    gap = (right - left - columns * cell_w) / (columns - 1) if columns > 1 else GAP_X_MM
    swatches = []
    bare: list[Rectangle] = []
    for index in range(section.count):
        row, column = divmod(index, columns)
        x, top = left + column * (cell_w + gap), y + row * step
        beside = gap if column < columns - 1 else 1.8 + LABEL_SPILL_MM
        swatches.append(_swatch(index, section, layout, x, top, beside))
        if column < columns - 1:
            box_y = swatches[-1].places[0].box_mm[1]
            bare.append(_rounded(x + cell_w + 1.5, box_y, gap - 3.0, layout.box_h_mm))
    return PlacedSection(section, heading, tuple(swatches)), bare, y + rows * step - GAP_Y_MM


def _swatch(index: int, section: Section, layout: PageLayout, x: float, y: float, gap: float) -> Cell:
    lines = _label_lines(section)
    label = _rounded(x, y, _cell_w(section, layout) + gap - 1.8, lines * LABEL_LINE_MM)
    box_y = y + lines * LABEL_LINE_MM + 0.6
    places = tuple(
        _place(
            _SINGLE.get(section.kind, "swatch"),
            coat,
            coat + 1,
            layout,
            x + coat * (layout.box_w_mm + COAT_GAP_MM),
            box_y,
        )
        for coat in range(section.depth)
    )
    return Cell(index, label, lines, places)


def _place(kind: BoxKind, item: int, coats: int, layout: PageLayout, x: float, y: float) -> Place:
    box = _rounded(x, y, layout.box_w_mm, layout.box_h_mm)
    chip = _rounded(x, y + layout.box_h_mm + CHIP_GAP_MM, layout.box_w_mm, CHIP_MM)
    return Place(kind, item, coats, box, chip if layout.expected else None)


def _strip(index: int, steps: int, layout: PageLayout, left: float, width: float, y: float) -> Cell:
    box_y = y + LABEL_LINE_MM + 0.6
    ends = layout.box_w_mm + STRIP_GAP_MM
    length = width - 2 * ends
    strip = _rounded(left + ends, box_y, length, layout.box_h_mm)
    step = length / steps
    places = [_place("swatch", 0, 1, layout, left, box_y)]
    for number in range(steps):
        read_w = READ_PART * step
        x = left + ends + number * step + (step - read_w) / 2
        places.append(Place("blend", number + 1, 1, _rounded(x, box_y, read_w, layout.box_h_mm), None))
    places.append(_place("swatch", steps + 1, 1, layout, left + ends + length + STRIP_GAP_MM, box_y))
    label = _rounded(left, y, 2 * ends + length, LABEL_LINE_MM)
    return Cell(index, label, 1, tuple(places), strip)


def _place_crossing(
    section: Section, layout: PageLayout, heading: Rectangle, left: float, y: float
) -> tuple[PlacedSection, list[Rectangle], float]:
    step_x = layout.box_w_mm + CROSS_GAP_MM
    step_y = _row_mm(section, layout)
    first = left + ROW_LABEL_MM
    top = y + CROSS_HEAD_MM
    heads = tuple(
        _rounded(first + over * step_x, y, step_x - 1.0, CROSS_HEAD_MM) for over in range(section.depth)
    )
    cells = tuple(
        Cell(
            under,
            _rounded(left, top + under * step_y, ROW_LABEL_MM - 3.0, layout.box_h_mm),
            2,
            tuple(
                _place("over", over, 2, layout, first + over * step_x, top + under * step_y)
                for over in range(section.depth)
            ),
        )
        for under in range(section.count)
    )
    bottom = top + section.count * step_y - CROSS_GAP_MM
    return PlacedSection(section, heading, cells, heads), [], bottom


def _paper_at_sides(width: float, height: float) -> list[Rectangle]:
    """Give bare places between the marks at the left and right, three to each stretch."""
    stretch = (height - MARK_MM) / 2 - (EDGE_MM + MARK_MM)
    tall = min(16.0, stretch / 3 - 4.0)
    found = []
    for x in (EDGE_MM + 2.0, width - EDGE_MM - MARK_MM + 2.0):
        for start in (EDGE_MM + MARK_MM, (height + MARK_MM) / 2):
            for third in range(3):
                middle = start + stretch * (third + 0.5) / 3
                found.append(_rounded(x, middle - tall / 2, MARK_MM - 4.0, tall))
    return found


def _rounded(x: float, y: float, w: float, h: float) -> Rectangle:
    return round(x, 2), round(y, 2), round(w, 2), round(h, 2)


# --- how much fits ----------------------------------------------------------------------------------------


def _label_lines(section: Section) -> int:
    return 2 if section.depth == 1 else 1


def _cell_w(section: Section, layout: PageLayout) -> float:
    return section.depth * layout.box_w_mm + (section.depth - 1) * COAT_GAP_MM


def _columns(section: Section, layout: PageLayout, room_mm: float) -> int:
    """Give how many cells stand side by side."""
    if section.kind == "X":
        return 1
    if section.kind == "B":
        both_fit = (
            room_mm >= TWO_STRIPS_MM and _strip_mm(layout, room_mm, 2) >= section.depth * SMALLEST_STEP_MM
        )
        return 2 if both_fit else 1
    return max(1, int((room_mm + GAP_X_MM) / (_cell_w(section, layout) + GAP_X_MM)))


def _strip_mm(layout: PageLayout, room_mm: float, columns: int) -> float:
    """Give the width of a blend's strip between its two boxes, so many of them side by side."""
    width = (room_mm - (columns - 1) * STRIP_COLUMN_GAP_MM) / columns
    return width - 2 * (layout.box_w_mm + STRIP_GAP_MM)


def _room_mm(layout: PageLayout) -> float:
    """Give the width between the marks."""
    return layout.size_mm[0] - 2 * (EDGE_MM + MARK_MM + QUIET_MM)


def _is_narrow_enough(section: Section, layout: PageLayout) -> bool:
    room = _room_mm(layout)
    if section.kind == "B":
        return _strip_mm(layout, room, _columns(section, layout, room)) >= section.depth * SMALLEST_STEP_MM
    if section.kind == "X":
        return section.depth <= _widest(section, layout)
    return _cell_w(section, layout) <= room


def _row_mm(section: Section, layout: PageLayout) -> float:
    """Height of one row with the space below it."""
    boxes = layout.box_h_mm + (CHIP_GAP_MM + CHIP_MM if layout.expected else 0.0)
    if section.kind == "X":
        return boxes + CROSS_GAP_MM
    if section.kind == "B":
        return LABEL_LINE_MM + 0.6 + boxes + TICK_MM + GAP_Y_MM
    coats = COAT_NOTE_MM if section.depth > 1 else 0.0
    return _label_lines(section) * LABEL_LINE_MM + 0.6 + boxes + coats + GAP_Y_MM


def _rows(section: Section, layout: PageLayout, room_mm: float) -> int:
    return -(-section.count // _columns(section, layout, room_mm))


def paginate(
    layout: PageLayout, sections: tuple[Section, ...]
) -> tuple[tuple[tuple[Section, int], ...], ...]:
    """Share *sections* out over pages laid out like *layout*, row by row, in order.

    A crossing wider than the page becomes several, each with some of the markers laid over.

    Returns: for each page its sections; with each, the number of the section of *sections* that it is part of.
        What it holds follows from the order: see :func:`blendkit.chart.chart.make_chart`.
    Raises: SheetError when not even one row of a section fits.
    """
    room_w = _room_mm(layout)
    limit = layout.size_mm[1] - BOTTOM_MM
    pages: list[list[tuple[Section, int]]] = [[]]
    y = TOP_MM
    for number, section in enumerate(sections):
        for part in _parts(section, _widest(section, layout)):
            if not _is_narrow_enough(part, layout):
                raise SheetError(_too_large(layout))
            left = part.count
            while left > 0:
                top = y + (SECTION_GAP_MM if pages[-1] else 0.0) + HEADING_MM
                if part.kind == "X":
                    top += CROSS_HEAD_MM
                after = CROSS_GAP_MM if part.kind == "X" else GAP_Y_MM
                fit = int((limit - top + after + 1e-6) / _row_mm(part, layout))
                per_row = _columns(part, layout, room_w)
                taken = min(left, fit * per_row)
                if taken <= 0:
                    if not pages[-1]:
                        raise SheetError(_too_large(layout))
                    pages.append([])
                    y = TOP_MM
                    continue
                pages[-1].append((replace(part, count=taken), number))
                y = top + -(-taken // per_row) * _row_mm(part, layout) - after
                left -= taken
    return tuple(tuple(page) for page in pages)


def _widest(section: Section, layout: PageLayout) -> int:
    """Give how many markers laid over stand side by side."""
    if section.kind != "X":
        return section.depth
    room = _room_mm(layout) - ROW_LABEL_MM
    return max(1, int((room + CROSS_GAP_MM) / (layout.box_w_mm + CROSS_GAP_MM)))


def _too_large(layout: PageLayout) -> str:
    size = f"{layout.box_w_mm:g} by {layout.box_h_mm:g} mm"
    return f"a box of {size} leaves no room for a whole row on this paper; give a smaller box or fewer coats"


def _parts(section: Section, most: int) -> list[Section]:
    """Cut a crossing into parts of at most *most* markers over, as even as can be."""
    if section.kind != "X" or section.depth <= most:
        return [section]
    parts = -(-section.depth // most)
    sizes = [section.depth // parts + (part < section.depth % parts) for part in range(parts)]
    return [replace(section, depth=size) for size in sizes]
