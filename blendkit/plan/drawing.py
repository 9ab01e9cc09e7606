"""A colouring plan as sheets to pin above the table: the drawing, its colours, and the pages that follow."""

import math
from collections.abc import Sequence

from blendkit.inked import Swatch
from blendkit.page.lengths import size_words
from blendkit.page.page import CAP_HEIGHT_MM, Image, Line, Page, Path2D, Rect, Shape, Sheet, Text
from blendkit.plan.cards import card_pages
from blendkit.plan.frame import (
    GREY,
    INK,
    PALE,
    RULE,
    Frame,
    chip,
    chips,
    frame_for,
    halo,
    leader,
    number_tag,
    numbered,
)
from blendkit.plan.handout import handout_pages
from blendkit.plan.number_places import NumberGround, number_size_mm
from blendkit.plan.papers_page import drawer_pages, papers_pages
from blendkit.plan.pictures import PlanPictures, Tag, encode_png
from blendkit.plan.records import PlanPart, PlanRecord
from blendkit.project.work import Work

GAP_MM = 7.0
HATCH = "#858585"
AREA_INK = "#b03030"
AREA_SIZES_PT = (8.0, 7.0, 6.0, 5.4)
BESIDE_SIZE_PT = 6.0
"""Sizes of the numbers on the map of areas: within an area, the largest that fits; and beside it."""

INDEX_MM = 54.0
"""Least width of the list of parts beside the drawings."""

NAME_LETTER_MM = 1.25
"""About the width of a letter in the markers' names there."""


def draw_plan(record: PlanRecord, pictures: PlanPictures) -> Sheet:
    """Lay out a plan.

    Args:
        record: the plan.
        pictures: from ``plan_pictures.draw_pictures``.

    Returns: a sheet of several pages, for ``page.write_sheet``.
    """
    frame = frame_for(record.page)
    pages = [
        *_drawing_pages(record, pictures, frame),
        *card_pages(record, pictures, frame),
        *papers_pages(record, pictures, frame),
        *drawer_pages(record, frame),
    ]
    return Sheet(f"{record.project}: colouring plan", numbered(pages))


def draw_handout(record: PlanRecord, pictures: PlanPictures) -> Sheet:
    """Lay out the form for a class: the numbered drawing, and blank boxes beside each printed colour."""
    frame = frame_for(record.page)
    drawing = _listed_page(record, pictures, frame, "to colour", coloured=False)
    pages = [drawing, *handout_pages(record, pictures, frame)]
    return Sheet(f"{record.project}: class form", numbered(pages))


# ---------------------------------------------------------------- the drawing


def _subtitle(record: PlanRecord) -> str:
    outline = f" · outline in {record.outline.name}" if record.outline is not None else ""
    return f"{record.size} · on {record.on.name}{outline} · light from {record.light_words}"


def _drawing_pages(record: PlanRecord, pictures: PlanPictures, frame: Frame) -> list[Page]:
    """The numbered drawing and the coloured preview: on one page at true size where both fit, else on two."""
    width, height = record.width_mm, record.height_mm
    room = frame.bottom - frame.top - GAP_MM - 5.0
    beside = frame.across - width - 8.0
    title = record.project
    if 2 * height <= room and beside >= INDEX_MM:
        x, y = frame.left, frame.top
        below = y + height + GAP_MM + 1.0
        shapes = [
            *_drawing(record, pictures, x, y, 1.0),
            *_preview(record, pictures, x, below, 1.0),
            *_legend(x, y + height + 1.6, width),
            *_index(record, x + width + 8.0, y, beside, frame.bottom - y),
        ]
        return [frame.page(title, _subtitle(record), shapes, record.light_deg)]
    if 2 * height <= room and width <= frame.across:
        x = frame.left + (frame.across - width) / 2
        below = frame.top + height + GAP_MM + 1.0
        shapes = [
            *_drawing(record, pictures, x, frame.top, 1.0),
            *_preview(record, pictures, x, below, 1.0),
            *_legend(x, frame.top + height + 1.6, width),
        ]
        parts = _two_columns(record, frame, frame.top)
        return [
            frame.page(title, _subtitle(record), shapes, record.light_deg),
            frame.page(f"{title}: its parts", _subtitle(record), parts, record.light_deg),
        ]
    scale = min(1.0, frame.across / width, (frame.bottom - frame.top - 8.0) / height)
    x = frame.left + (frame.across - scale * width) / 2
    shapes = [
        *_drawing(record, pictures, x, frame.top, scale),
        *_legend(frame.left, frame.top + scale * height + 3.0, frame.across, scale),
    ]
    below = frame.top + scale * height + 9.0
    small = min(scale, (frame.bottom - below) / height)
    if small >= 0.35:
        shapes += _preview(record, pictures, frame.left + (frame.across - small * width) / 2, below, small)
    first = frame.page(title, _subtitle(record), shapes, record.light_deg)
    return [first, _listed_page(record, pictures, frame, "coloured")]


def _listed_page(
    record: PlanRecord, pictures: PlanPictures, frame: Frame, words: str, coloured: bool = True
) -> Page:
    """The preview, or the drawing, above the list of parts in two columns."""
    width, height = record.width_mm, record.height_mm
    rows = math.ceil(len(record.parts) / 2)
    list_height = max(40.0, min(8.8 * rows, 0.5 * (frame.bottom - frame.top)))
    scale = min(1.0, frame.across / width, (frame.bottom - frame.top - list_height - GAP_MM) / height)
    x = frame.left + (frame.across - scale * width) / 2
    y = frame.top + scale * height + GAP_MM
    draw = _preview if coloured else _drawing
    shapes = [*draw(record, pictures, x, frame.top, scale), *_two_columns(record, frame, y)]
    return frame.page(f"{record.project}: {words}", _subtitle(record), shapes, record.light_deg)


def _two_columns(record: PlanRecord, frame: Frame, y: float) -> list[Shape]:
    """The list of parts from *y* down to the foot."""
    half = math.ceil(len(record.parts) / 2)
    column = (frame.across - 8.0) / 2
    left, right = record.parts[:half], record.parts[half:]
    rows = max(_rows_of(left, column), _rows_of(right, column))
    return [
        *_index(record, frame.left, y, column, frame.bottom - y, left, rows),
        *_index(record, frame.left + column + 8.0, y, column, frame.bottom - y, right, rows),
    ]


def _drawing(
    record: PlanRecord, pictures: PlanPictures, x: float, y: float, scale: float, hatched: bool = True
) -> list[Shape]:
    """The line image with hatched shadows and numbered parts."""

    def moved(outline: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        return tuple((x + scale * a, y + scale * b) for a, b in outline)

    shapes: list[Shape] = [Image(x, y, scale * record.width_mm, scale * record.height_mm, pictures.line_png)]
    if hatched and pictures.hatch:
        strokes = tuple(moved(outline) for outline in pictures.hatch)
        shapes.append(Path2D(strokes, None, HATCH, 0.17, closed=False))
    if hatched and pictures.highlights:
        outlines = tuple(moved(outline) for outline in pictures.highlights)
        shapes.append(Path2D(outlines, None, PALE, 0.18))
    for tag in pictures.tags:
        shapes += _tag(tag, x, y, scale)
    return shapes


def _tag(tag: Tag, x: float, y: float, scale: float) -> list[Shape]:
    at = (x + scale * tag.x_mm, y + scale * tag.y_mm)
    if not tag.radius_mm:
        return [halo(*at, str(tag.part), tag.size_pt), _centred(*at, str(tag.part), tag.size_pt)]
    shapes: list[Shape] = []
    if tag.end_mm is not None:
        shapes += leader(*at, x + scale * tag.end_mm[0], y + scale * tag.end_mm[1], INK)
    return shapes + number_tag(*at, tag.part, tag.radius_mm)


def _preview(record: PlanRecord, pictures: PlanPictures, x: float, y: float, scale: float) -> list[Shape]:
    width, height = scale * record.width_mm, scale * record.height_mm
    return [
        Image(x, y, width, height, pictures.preview_jpg),
        Rect(x, y, width, height, None, RULE, 0.2),
    ]


def _legend(x: float, y: float, width: float, scale: float = 1.0) -> list[Shape]:
    size = "true size" if scale == 1.0 else f"printed at {100 * scale:.0f} % of its size"
    strokes = tuple(((x + 1.3 * k, y + 3.0), (x + 1.3 * k + 2.4, y + 0.6)) for k in range(5))
    return [
        Path2D(strokes, None, HATCH, 0.17, closed=False),
        Text(
            x + 9.6,
            y + 2.8,
            f"hatched: shadow · thin ring: leave the paper · {size}; 100 mm below must measure 100 mm",
            6.6,
            GREY,
            width_mm=width - 9.6,
            min_size_pt=4.6,
        ),
    ]


def _index(
    record: PlanRecord,
    x: float,
    y: float,
    width: float,
    height: float,
    parts: Sequence[PlanPart] | None = None,
    rows: float = 0.0,
) -> list[Shape]:
    """The parts with their numbers and swatches, one below the other, as tightly as *rows* of them need."""
    shown = record.parts if parts is None else parts
    if not shown:
        return []
    pitch = min(10.6, height / max(rows, _rows_of(shown, width)))
    top = y
    shapes: list[Shape] = []
    size = 8.6 if pitch >= 9.0 else 7.6 if pitch >= 7.0 else 6.4
    for part in shown:
        swatches: list[Swatch | None] = [
            one for one in (part.light, part.base, part.shadow) if one is not None
        ]
        side = min(7.6, pitch - 1.6, 0.105 * width)
        shapes += number_tag(x + 2.4, top + side / 2, part.number, min(2.3, side / 2))
        if part.how == "white" or not swatches:
            shapes.append(chip(x + 6.4, top, 2 * side + 0.6, side, None))
        else:
            wide = (2 * side + 0.6 - 0.6 * (len(swatches) - 1)) / len(swatches)
            shapes += chips(x + 6.4, top, wide, side, swatches)
        words_x = x + 6.4 + 2 * side + 2.6
        room = width - (words_x - x)
        names = " + ".join(one.name for one in swatches if one is not None)
        if part.how == "white":
            names = "leave white; not numbered"
        elif not swatches:
            names = "no marker chosen yet"
        elif part.how == "coats":
            names += ", more coats"
        two = pitch >= 7.0
        base = top + (0.44 if two else 0.68) * side
        shapes.append(Text(words_x, base, part.name, size, bold=True, width_mm=room, min_size_pt=5.5))
        if two:
            lines = 2 if _is_long(part, width) else 1
            words = Text(
                words_x,
                top + 0.93 * side,
                names,
                size - 1.9,
                GREY,
                width_mm=room,
                lines=lines,
                min_size_pt=4.6,
            )
            shapes.append(words)
        top += _rows_of([part], width) * pitch
    return shapes


def _rows_of(parts: Sequence[PlanPart], width: float) -> float:
    """Height of parts' entries in a list of that width, in rows."""
    return sum(1.4 if _is_long(part, width) else 1.0 for part in parts)


def _is_long(part: PlanPart, width: float) -> bool:
    """Whether the names of a part's markers need a second line."""
    names = [one.name for one in (part.light, part.base, part.shadow) if one is not None]
    return len(names) > 2 and len(" + ".join(names)) * NAME_LETTER_MM > 0.79 * width - 9.0


def draw_areas(record: PlanRecord, work: Work) -> Sheet:
    """Lay out the map of closed areas, with a grid in mm, for writing a project by hand.

    Args:
        record: the plan.
        work: the project at work.

    Returns: a sheet of one page. A number stands in its area where it can be read there, else beside it, in a box
        with a leader line.
    """
    frame = frame_for(record.page)
    scale = min(frame.across / record.width_mm, (frame.bottom - frame.top - 6.0) / record.height_mm, 2.0)
    x, y = frame.left + 4.0, frame.top + 4.0
    scale *= (frame.across - 6.0) / frame.across
    width, height = scale * record.width_mm, scale * record.height_mm
    line_png = encode_png(255 - work.regions.line, work.dpi)
    shapes: list[Shape] = [Image(x, y, width, height, line_png)]
    for step in range(0, int(record.width_mm) + 1, 10):
        at = x + scale * step
        shapes.append(Line(at, y, at, y + height, "#bbbbbb80", 0.12))
        shapes.append(Text(at, y - 1.0, str(step), 5.5, GREY, align="centre"))
    for step in range(0, int(record.height_mm) + 1, 10):
        at = y + scale * step
        shapes.append(Line(x, at, x + width, at, "#bbbbbb80", 0.12))
        shapes.append(Text(x - 1.0, at + 0.8, str(step), 5.5, GREY, align="right"))
    shapes += _area_numbers(work, x, y, scale)
    whole = size_words(record.width_mm, record.height_mm)
    subtitle = f"{record.image}, {whole} · grid of 10 mm · at {100 * scale:.0f} %"
    page = frame.page(f"{record.project}: closed areas", subtitle, shapes)
    return Sheet(f"{record.project}: closed areas", (page,))


def _area_numbers(work: Work, x: float, y: float, scale: float) -> list[Shape]:
    """The number of every closed area: those within first, so that no other number covers them."""
    ground = NumberGround(work.regions.labels, work.regions.line, work.per_mm)

    def sizes(text: str) -> list[tuple[float, float]]:
        return [(w / scale, h / scale) for w, h in (number_size_mm(text, size) for size in AREA_SIZES_PT)]

    placed = {one.number: ground.within(one.number, sizes(str(one.number))) for one in work.regions.parts}
    shapes: list[Shape] = []
    lines: list[Shape] = []
    for number, place in placed.items():
        text = str(number)
        if place is None:
            w, h = number_size_mm(text, BESIDE_SIZE_PT)
            place = ground.beside(number, ((w + 1.2) / scale, (h + 1.2) / scale))
            at = (x + scale * place.x_mm, y + scale * place.y_mm)
            if place.end_mm is not None:
                lines += leader(*at, x + scale * place.end_mm[0], y + scale * place.end_mm[1], AREA_INK)
            shapes.append(
                Rect(
                    at[0] - w / 2 - 0.6, at[1] - h / 2 - 0.6, w + 1.2, h + 1.2, "#ffffff", AREA_INK, 0.18, 0.6
                )
            )
            shapes.append(_centred(*at, text, BESIDE_SIZE_PT, AREA_INK))
        else:
            size = AREA_SIZES_PT[place.size]
            at = (x + scale * place.x_mm, y + scale * place.y_mm)
            shapes += [halo(*at, text, size), _centred(*at, text, size, AREA_INK)]
    return [*lines, *shapes]


def _centred(x: float, y: float, text: str, size: float, fill: str = INK) -> Text:
    return Text(x, y + size * CAP_HEIGHT_MM / 2, text, size, fill, align="centre", bold=True)
