"""The table of a plan: for each part the markers in working order, with the colour after every step."""

from blendkit.page.page import Image, Line, Page, Shape, Text
from blendkit.plan.frame import (
    GREY,
    INK,
    RULE,
    Frame,
    arrow,
    chip,
    number_tag,
    share_rows,
    strip,
)
from blendkit.plan.pictures import PlanPictures
from blendkit.plan.records import PlanPart, PlanRecord, PlanStep

CARD_MM = 39.6
MOST_CARD_MM = 46.0
NAME_MM = 27.0
KEY_W, KEY_H = 27.0, 25.5
STEPS_X = 38.0
CHIP_W, CHIP_H = 13.0, 9.0
MOST_STEPS = 5
LAST_LIT = 2
"""Place on a part's strip of its base coat; what lies before it is highlight, where the part has one."""


def card_pages(record: PlanRecord, pictures: PlanPictures, frame: Frame) -> list[Page]:
    """Lay out the parts that are coloured, as many to a page as fit."""
    parts = [part for part in record.parts if part.base is not None]
    if not parts:
        return []
    room = frame.bottom - frame.top + 4.0
    shares = share_rows(len(parts), max(1, int(room // CARD_MM)))
    pitch = min(MOST_CARD_MM, room / shares[0]) if len(shares) > 1 else CARD_MM
    pages = []
    for number, count in enumerate(shares):
        start = sum(shares[:number])
        shapes: list[Shape] = []
        for place, part in enumerate(parts[start : start + count]):
            y = frame.top + place * pitch
            if place:
                shapes.append(Line(frame.left, y - 2.6, frame.right, y - 2.6, RULE, 0.15))
            shapes += _card(record, pictures, part, frame, y)
        more = ", continued" if start else ""
        title = f"{record.project}: step by step{more}"
        subtitle = (
            f"{record.on.name} takes {parts[0].coat_limit} coats. Each swatch shows the colour there once that "
            "step is dry; try it on a scrap first."
        )
        pages.append(frame.page(title, subtitle, shapes))
    return pages


def _card(record: PlanRecord, pictures: PlanPictures, part: PlanPart, frame: Frame, y: float) -> list[Shape]:
    x = frame.left
    shapes: list[Shape] = [
        *number_tag(x + 2.5, y + 2.2, part.number, 2.5),
        Text(x + 6.6, y + 3.4, part.name, 10.5, bold=True, width_mm=NAME_MM, min_size_pt=6.0),
        *_key(record, pictures, part, x, y + 6.6),
    ]
    steps = part.steps[:MOST_STEPS]
    column = (frame.right - x - STEPS_X) / max(3, len(steps))
    for place, step in enumerate(steps):
        left = x + STEPS_X + place * column
        shapes += _step(step, left, y, column - 3.4)
        if place:
            shapes.append(arrow(left - 2.2, y + 4.6))
    below = y + 26.0
    width = frame.right - x - STEPS_X
    shapes.append(strip(x + STEPS_X, below, width, 4.2, part.strip))
    shapes.append(
        Text(x + STEPS_X, below + 6.6, strip_words(part), 6.6, GREY, width_mm=width, lines=2, min_size_pt=5.4)
    )
    return shapes


def _key(record: PlanRecord, pictures: PlanPictures, part: PlanPart, x: float, y: float) -> list[Shape]:
    """Where the part is, and how large."""
    scale = min(KEY_W / record.width_mm, KEY_H / record.height_mm)
    count = f", {len(part.areas)} areas" if len(part.areas) > 1 else ""
    size = f"{part.area_mm2 / 100:.1f} cm²{count}"
    width, height = scale * record.width_mm, scale * record.height_mm
    return [
        Image(x, y, width, height, pictures.keys[part.number]),
        Text(x, y + height + 2.6, size, 6.2, GREY, width_mm=STEPS_X - 4.0),
    ]


def _step(step: PlanStep, x: float, y: float, width: float) -> list[Shape]:
    words_x = x + CHIP_W + 1.6
    coats = f"coat {step.coats}" if step.coats else ""
    caution = f" Careful: {step.caution}" if step.caution else ""
    return [
        chip(x, y, CHIP_W, CHIP_H, step.hex),
        Text(words_x, y + 2.7, str(step.number), 9.5, INK, bold=True),
        Text(words_x + 3.4, y + 2.7, coats, 6.2, GREY),
        Text(
            words_x,
            y + 5.9,
            step.marker,
            7.0,
            INK,
            width_mm=width - CHIP_W - 1.6,
            lines=2,
            bold=True,
            min_size_pt=5.0,
        ),
        Text(x, y + CHIP_H + 3.5, step.where + caution, 6.8, INK, width_mm=width, lines=4, min_size_pt=5.2),
    ]


def strip_words(part: PlanPart) -> str:
    """Say what a part's strip shows, and what to know about the part."""
    even = len({swatch.hex for swatch in part.strip}) == 1
    lit = part.strip[0].hex != part.strip[LAST_LIT].hex
    left = (
        "one even coat"
        if even
        else "highlight to one even coat"
        if part.how == "plain"
        else "highlight to shadow"
        if lit
        else "base to shadow"
    )
    notes = [left, *part.words]
    if part.note:
        notes.append(part.note)
    full = [f"{part.coats} of {part.coat_limit} coats in the wettest place"] if part.coats > 1 else []
    return " · ".join(text.rstrip(".") for text in [*notes, *full])
