"""How a chart's page looks: the shapes of its frame, its sections and what is said around them."""

from collections.abc import Iterator, Sequence

from blendkit.chart.content import Blends, Content, Crossing, Lab, Lifts, Swatches
from blendkit.chart.layout import (
    BOTTOM_MM,
    CHIP_GAP_MM,
    CHIP_MM,
    EDGE_MM,
    MARK_MM,
    QUIET_MM,
    Cell,
    PlacedPage,
    PlacedSection,
    Rectangle,
)
from blendkit.colour import lab_to_hex
from blendkit.page.marks import code_shape, mark_shape
from blendkit.page.page import Gradient, Line, Page, Rect, Shape, Text, ruler
from blendkit.words import SAFETY_LINE

PRINTER_WORDS = (
    "Print at 100 %: both scales match a real ruler. To read it back, photograph or scan the whole page flat, in "
    "even light, all eight marks in view."
)
FILL_WORDS = "Fill each box edge to edge in even strokes and let it dry."
EXPECTED_WORDS = "The bar below is the colour expected; print is only as good as the printer: trust the ink."

BARE_WORDS = "leave bare: the paper itself is read here"
BARE_EDGE_MM, BARE_LEAST_MM, BARE_WORDS_MM = 0.9, 9.0, (13.0, 55.0)
"""Clear paper around the mark of a bare place, its least width, and the widths that take two words and all."""

SMALL_PT = 8.0
"""Size of what is said around the boxes: nothing on a sheet is smaller."""
LEAST_NAME_PT = 5.5
"""A name too long for a box as narrow as it may be is set smaller rather than cut. Own judgement."""

TEXT, SOFT, HAIR = "#222222", "#555555", "#bdbdbd"
OUTLINE, OUTLINE_MM = "#8a8a8a", 0.2


def draw_chart_page(placed: PlacedPage, parts: Sequence[Content], title: str, paper: str) -> Page:
    """Draw one page: its frame of marks and words, then each section with what is asked there."""
    width, height = placed.layout.size_mm
    shapes: list[Shape] = [*_frame(placed, title, paper)]
    for section, part in zip(placed.sections, parts, strict=True):
        shapes += _heading(section, part, placed.layout.expected)
        match part:
            case Swatches():
                shapes += _swatches(section, part)
            case Lifts():
                shapes += _lifts(section, part)
            case Blends():
                shapes += _blends(section, part)
            case Crossing():
                shapes += _crossing(section, part)
    return Page(width, height, tuple(shapes))


def _frame(placed: PlacedPage, title: str, paper: str) -> Iterator[Shape]:
    layout = placed.layout
    width, height = layout.size_mm
    left, right = EDGE_MM + MARK_MM + QUIET_MM, width - EDGE_MM - MARK_MM - QUIET_MM
    middle_left, middle_right = width / 2 - MARK_MM / 2 - QUIET_MM, width / 2 + MARK_MM / 2 + QUIET_MM
    for mark in placed.marks:
        yield mark_shape(mark.id, *mark.corners_mm[0], MARK_MM)
    x, y, size, _ = placed.code_mm
    yield code_shape(placed.code, x, y, size)

    room = middle_left - left
    yield Text(left, EDGE_MM + 4.6, title, 13, TEXT, room, 1, 8, bold=True)
    yield from _blank(left, EDGE_MM + 11.6, room, "Paper", paper)
    room = x - QUIET_MM - middle_right
    page = f"page {layout.page} of {layout.pages}" if layout.pages > 1 else "one page"
    yield Text(middle_right, EDGE_MM + 4.6, f"Chart {layout.chart_id}, {page}", 8, SOFT, room, 1)
    yield from _blank(middle_right, EDGE_MM + 11.6, room, "Date", "")
    words = (FILL_WORDS, EXPECTED_WORDS) if layout.expected else (FILL_WORDS,)
    for line, sentence in enumerate(words):
        yield Text(
            left, EDGE_MM + MARK_MM + 4.6 + 3.5 * line, sentence, SMALL_PT, SOFT, x - QUIET_MM - left, 1
        )

    base = height - EDGE_MM - MARK_MM
    yield from ruler(left, height - BOTTOM_MM + 9.6)
    beside = left + 107
    yield Text(beside, height - BOTTOM_MM + 5.2, PRINTER_WORDS, SMALL_PT, SOFT, right - beside, 4)
    # the cautions stand on both sides of the middle mark, parted between sentences
    first, rest = SAFETY_LINE.split(" Let ", 1)
    yield Text(left, base + 2.4, first, SMALL_PT, SOFT, middle_left - left, 4)
    yield Text(middle_right, base + 2.4, f"Let {rest}", SMALL_PT, SOFT, right - middle_right, 4)


def _blank(x: float, y: float, width: float, word: str, value: str) -> Iterator[Shape]:
    """Draw a line to write on, or with what is known already written on it."""
    yield Text(x, y, word, SMALL_PT, SOFT)
    start = x + 10.0
    if value:
        yield Text(start, y, value, 9, TEXT, width - 10.0, 1)
    yield Line(start, y + 1.1, x + width, y + 1.1, HAIR, 0.15)


def _heading(section: PlacedSection, part: Content, expected: bool) -> Iterator[Shape]:
    x, y, w, _ = section.heading_mm
    match part:
        case Swatches(anchors=True):
            words, hint = (
                "Anchors",
                "markers that an instrument measured: one coat each, they tie the photo to it",
            )
        case Swatches():
            depth = section.section.depth
            words = {1: "One coat", 2: "One and two coats"}.get(depth, "One, two and three coats")
            hint = "" if depth == 1 else "each coat must be dry before the next"
        case Lifts():
            words, hint = (
                "One coat, then blender",
                "lay one coat, let it dry; go over it once with the colourless blender, tip wiped clean",
            )
        case Blends():
            words, hint = (
                "Light into dark",
                "fill both ends; work the inks together wet between; marks: share of the dark ink",
            )
        case Crossing():
            words, hint = (
                "Over and under",
                "lay the marker of the row, let it dry, then the one of the column",
            )
    yield Text(x, y + 2.8, words, 9, TEXT, bold=True)
    yield Text(x + w, y + 2.8, hint, SMALL_PT, SOFT, w - 40, 1, align="right")
    yield Line(x, y + 4.3, x + w, y + 4.3, HAIR, 0.15)


def _box(box: Rectangle) -> Rect:
    return Rect(*box, stroke=OUTLINE, stroke_mm=OUTLINE_MM)


def _chip(chip: Rectangle | None, lab: Lab) -> Iterator[Shape]:
    if chip is not None:
        edge = HAIR if lab[0] > 85 else None
        yield Rect(*chip, fill=lab_to_hex(lab), stroke=edge, stroke_mm=0.1)


def _swatches(section: PlacedSection, part: Swatches) -> Iterator[Shape]:
    for cell in section.cells:
        x, y, w, h = cell.label_mm
        lines = cell.label_lines
        yield Text(
            x, y + h - 1.0, part.names[cell.index], SMALL_PT, TEXT, w, lines, LEAST_NAME_PT, hang="last"
        )
        for place in cell.places:
            yield _box(place.box_mm)
            yield from _chip(place.chip_mm, part.labs[cell.index][place.item])
            if section.section.depth > 1:
                bx, by, bw, bh = place.chip_mm or place.box_mm
                coats = "1 coat" if place.item == 0 else f"{place.item + 1} coats"
                yield Text(bx + bw / 2, by + bh + 2.7, coats, SMALL_PT, SOFT, bw + 2.0, 1, align="centre")
    yield from _bare(section)


def _lifts(section: PlacedSection, part: Lifts) -> Iterator[Shape]:
    for cell in section.cells:
        x, y, w, h = cell.label_mm
        yield Text(
            x,
            y + h - 1.0,
            part.names[cell.index],
            SMALL_PT,
            TEXT,
            w,
            cell.label_lines,
            LEAST_NAME_PT,
            hang="last",
        )
        (place,) = cell.places
        yield _box(place.box_mm)
        lab = part.labs[cell.index]
        if lab is not None:
            yield from _chip(place.chip_mm, lab)
        elif place.chip_mm is not None:
            bx, by, bw, _ = place.chip_mm
            yield Text(bx + bw / 2, by + 2.8, "unknown", SMALL_PT, SOFT, bw + 4.0, 1, align="centre")
    yield from _bare(section)


def _bare(section: PlacedSection) -> Iterator[Shape]:
    """Mark the paper that stays bare between swatches and after the last, so that no box seems to be missing."""
    end = section.heading_mm[0] + section.heading_mm[2]
    rows: dict[float, list[tuple[float, float]]] = {}
    height = section.cells[0].places[0].box_mm[3]
    for cell in section.cells:
        first, last = cell.places[0].box_mm, cell.places[-1].box_mm
        rows.setdefault(first[1], []).append((first[0], last[0] + last[2]))
    for y, cells in rows.items():
        starts = [*(left for left, _ in cells[1:]), end + BARE_EDGE_MM]
        for (_, right), start in zip(cells, starts, strict=True):
            x, w = right + BARE_EDGE_MM, start - right - 2 * BARE_EDGE_MM
            if w < BARE_LEAST_MM:
                continue
            yield Rect(x, y, w, height, stroke=HAIR, stroke_mm=0.15, dash_mm=0.8)
            least, most = BARE_WORDS_MM
            words = BARE_WORDS if w > most else "leave bare" if w > least else "bare"
            yield Text(x + w / 2, y + height + 3.4, words, SMALL_PT, SOFT, w + 1.0, 1, align="centre")


def _blends(section: PlacedSection, part: Blends) -> Iterator[Shape]:
    for cell in section.cells:
        yield from _strip(cell, part)


def _strip(cell: Cell, part: Blends) -> Iterator[Shape]:
    assert cell.strip_mm is not None
    light, dark = part.pairs[cell.index]
    ends, labs, ratios = part.ends[cell.index], part.labs[cell.index], part.ratios[cell.index]
    x, y, w, h = cell.label_mm
    yield Text(x, y + h - 1.5, light, SMALL_PT, TEXT, w / 2 - 4, 1, LEAST_NAME_PT)
    yield Text(x + w, y + h - 1.5, dark, SMALL_PT, TEXT, w / 2 - 4, 1, LEAST_NAME_PT, align="right")
    first, last = cell.places[0], cell.places[-1]
    for place, lab in ((first, ends[0]), (last, ends[1])):
        yield _box(place.box_mm)
        yield from _chip(place.chip_mm, lab)
    sx, sy, sw, sh = cell.strip_mm
    yield _box(cell.strip_mm)
    below = sy + sh
    if first.chip_mm is not None:
        steps = len(labs)
        stops = [(0.0, lab_to_hex(ends[0]))]
        stops += [((place + 0.5) / steps, lab_to_hex(lab)) for place, lab in enumerate(labs)]
        stops += [(1.0, lab_to_hex(ends[1]))]
        yield Rect(sx, below + CHIP_GAP_MM, sw, CHIP_MM, fill=Gradient(tuple(stops)))
        below += CHIP_GAP_MM + CHIP_MM
    yield Text(x, below + 3.3, "dark %:", SMALL_PT, SOFT, first.box_mm[2] + 2.5, 1)
    for place, ratio in zip(cell.places[1:-1], ratios, strict=True):
        px, _, pw, _ = place.box_mm
        middle = px + pw / 2
        yield Line(middle, sy - 1.0, middle, sy, SOFT, 0.2)
        yield Line(middle, below, middle, below + 1.0, SOFT, 0.2)
        yield Text(middle, below + 3.3, f"{100 * ratio:.0f}", SMALL_PT, SOFT, align="centre")


def _crossing(section: PlacedSection, part: Crossing) -> Iterator[Shape]:
    for rectangle, name in zip(section.column_labels_mm, part.overs, strict=True):
        x, y, w, h = rectangle
        yield Text(x, y + h - 1.2, name, SMALL_PT, TEXT, w, 2, LEAST_NAME_PT, hang="last")
    x, y, w, _ = section.cells[0].label_mm
    heads_y, heads_h = section.column_labels_mm[0][1], section.column_labels_mm[0][3]
    yield Text(x + w, heads_y + heads_h - 1.2, "over →", SMALL_PT, SOFT, align="right")
    yield Text(x, heads_y + heads_h - 1.2, "under ↓", SMALL_PT, SOFT)
    for cell in section.cells:
        x, y, w, h = cell.label_mm
        yield Text(
            x, y + h / 2 + 0.9, part.unders[cell.index], SMALL_PT, TEXT, w, 2, LEAST_NAME_PT, hang="middle"
        )
        for place in cell.places:
            yield _box(place.box_mm)
            yield from _chip(place.chip_mm, part.labs[cell.index][place.item])
