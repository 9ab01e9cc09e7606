"""The printed cut line, at true size, with the drawing pale inside it."""

from blendkit.page.lengths import size_words
from blendkit.page.page import Image, Path2D, Rect, Shape, Sheet, Text
from blendkit.plan.cut_line import CutLine
from blendkit.plan.frame import GREY, Frame, frame_for, numbered
from blendkit.plan.pictures import PlanPictures
from blendkit.plan.records import PlanRecord

SIDE_MM = 6.0
"""Printers leave about this much of a page's edge blank. Common practice, no source."""


def draw_cut_sheet(record: PlanRecord, line: CutLine, pictures: PlanPictures) -> Sheet:
    """Lay out the cut line at true size; on its side, or smaller and said so, where the page is too small.

    Args:
        record: the plan.
        line: its cut line.
        pictures: for the drawing inside.
    """
    frame = frame_for(record.page)
    if line.width_mm > frame.width_mm - 2 * SIDE_MM and line.height_mm < line.width_mm:
        frame = Frame(frame.height_mm, frame.width_mm)
    left = min(x for outline in line.outlines for x, _ in outline)
    top = min(y for outline in line.outlines for _, y in outline)
    room = (frame.width_mm - 2 * SIDE_MM, frame.bottom - frame.top - 6.0)
    scale = min(1.0, room[0] / line.width_mm, room[1] / line.height_mm)
    x = (frame.width_mm - scale * line.width_mm) / 2 - scale * left
    y = frame.top - scale * top
    outlines = tuple(tuple((x + scale * a, y + scale * b) for a, b in outline) for outline in line.outlines)
    below = frame.top + scale * line.height_mm + 5.0
    size = (
        "" if scale == 1.0 else f" Printed at {100 * scale:.0f} % of its size: cut from the SVG file instead."
    )
    shapes: list[Shape] = [
        Image(x, y, scale * record.width_mm, scale * record.height_mm, pictures.line_png),
        Rect(x, y, scale * record.width_mm, scale * record.height_mm, "#ffffffb8"),  # a veil
        Path2D(outlines, None, "#111111", 0.18),
        Text(
            frame.width_mm / 2,
            below,
            " ".join(line.words) + size,
            7.4,
            GREY,
            width_mm=frame.across,
            lines=2,
            align="centre",
        ),
    ]
    subtitle = f"{size_words(line.width_mm, line.height_mm)} · cut along the black line once all ink is dry"
    return Sheet(
        f"{record.project}: cut line", numbered([frame.page(f"{record.project}: cut line", subtitle, shapes)])
    )
