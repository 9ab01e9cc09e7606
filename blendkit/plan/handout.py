"""The form for a class: the numbered drawing small, and for every colour a printed swatch beside a blank box."""

from blendkit.inked import Swatch
from blendkit.page.page import Image, Line, Page, Rect, Shape, Text
from blendkit.plan.frame import GREY, INK, PALE, RULE, Frame, chip, number_tag, share_rows, strip
from blendkit.plan.pictures import PlanPictures
from blendkit.plan.records import PlanPart, PlanRecord

ROW_MM, MOST_ROW_MM = 17.2, 22.0
BOX_W, BOX_H = 16.5, 10.4
NAME_MM = 35.0
KEY_W, KEY_H = 17.0, 13.0


def handout_pages(record: PlanRecord, pictures: PlanPictures, frame: Frame) -> list[Page]:
    """Lay out the form, as many rows to a page as fit."""
    parts = [part for part in record.parts if part.base is not None]
    top = frame.top + 12.0
    per_page = max(1, int((frame.bottom - top) // ROW_MM))
    pages = []
    shares = share_rows(len(parts), per_page)
    for number, count in enumerate(shares):
        start = sum(shares[:number])
        pitch = min(MOST_ROW_MM, (frame.bottom - top) / shares[0])
        shapes = _blanks(frame)
        for place, part in enumerate(parts[start : start + count]):
            y = top + place * pitch
            if place:
                shapes.append(Line(frame.left, y - 2.4, frame.right, y - 2.4, RULE, 0.15))
            shapes += _row(record, pictures, part, frame, y, BOX_H + 0.8 * (pitch - ROW_MM))
        subtitle = (
            "Printed swatch left, your own marker in the box beside it: one coat, dry. Then blend below."
        )
        pages.append(frame.page(f"{record.project}: my colours", subtitle, shapes))
    return pages


def _blanks(frame: Frame) -> list[Shape]:
    """Lines for name, date and paper."""
    shapes: list[Shape] = []
    width = frame.across / 3
    for place, word in enumerate(("Name", "Date", "My paper")):
        x = frame.left + place * width
        room = {"Name": 10.0, "Date": 8.5, "My paper": 14.5}[word]
        shapes.append(Text(x, frame.top + 3.0, word, 8, GREY))
        shapes.append(Line(x + room, frame.top + 3.4, x + width - 6.0, frame.top + 3.4, PALE, 0.2))
    return shapes


def _row(
    record: PlanRecord, pictures: PlanPictures, part: PlanPart, frame: Frame, y: float, box_h: float
) -> list[Shape]:
    x = frame.left
    scale = min(KEY_W / record.width_mm, KEY_H / record.height_mm)
    shapes: list[Shape] = [
        *number_tag(x + 2.4, y + 2.4, part.number, 2.4),
        Text(x + 6.2, y + 3.6, part.name, 8.4, bold=True, width_mm=NAME_MM - 8.0, lines=3, min_size_pt=6.0),
    ]
    left = x + NAME_MM
    shapes.append(
        Image(left - 2.0, y, scale * record.width_mm, scale * record.height_mm, pictures.keys[part.number])
    )
    left += KEY_W
    columns: list[tuple[str, Swatch]] = [
        (role, swatch)
        for role, swatch in (("base", part.base), ("shadow", part.shadow), ("light", part.light))
        if swatch is not None
    ]
    pitch = 2 * BOX_W + 4.5
    for place, (role, swatch) in enumerate(columns):
        at = left + place * pitch
        shapes += [
            chip(at, y, BOX_W, box_h, swatch.hex),
            Rect(at + BOX_W + 0.8, y, BOX_W, box_h, "#ffffff", INK, 0.25, 0.6),
            Text(
                at,
                y + box_h + 3.0,
                f"{role}: {swatch.name}",
                6.4,
                GREY,
                width_mm=2 * BOX_W + 0.8,
                min_size_pt=4.8,
            ),
        ]
    at = left + len(columns) * pitch
    room = frame.right - at
    if room > 12.0 and part.how not in ("plain", ""):
        half = (box_h - 0.8) / 2
        shapes.append(strip(at, y, room, half, part.strip))
        shapes.append(Rect(at, y + half + 0.8, room, half, "#ffffff", INK, 0.25, 0.6))
        shapes.append(Text(at, y + box_h + 3.0, "blend", 6.4, GREY))
    return shapes
