"""The contact picture of a scan: each page as it was found, every box outlined, read and expected beside."""

import io
from collections.abc import Sequence

import numpy as np

from blendkit.chart.scan_record import BoxReading, Lab, PageReading, ScanRecord
from blendkit.colour import lab_to_hex
from blendkit.errors import SheetError
from blendkit.page.page import Document, Image, Page, Rect, Shape, Text, draw_png

_PX_PER_MM = 5.0
"""Fineness of the pages on a contact picture. Own judgement."""
_GOOD, _DOUBTFUL, _LOST = "#1d6b4f", "#9a5b00", "#b3261e"
_LEAST_PLATE_MM = (25.0, 9.6)
_HEAD_MM = 34.0
"""Room for the words of a box, and for those above a page. Own choice."""
_DPI = 96.0
"""A CSS pixel, as pages of the web have it (W3C CSS Values and Units 4, 6.2)."""


def make_contact(record: ScanRecord) -> Document:
    """Lay out the contact picture, one sheet page for each page in each picture.

    The page is shown flattened and enlarged. Each box carries a plate: the colour read above the colour
    expected, their Lab, and the CIEDE2000 between them with the reading's uncertainty.

    Raises: SheetError for a record without pages.
    """
    if not record.pages:
        raise SheetError("there is no page to show: the scan holds none")
    pages = tuple(
        _page(record, report, [reading for reading in record.readings if reading.page == report.page])
        for report in record.pages
    )
    return Document(title=f"Read from chart {record.chart_id}", pages=pages)


def draw_contact(record: ScanRecord, dpi: float = _DPI) -> tuple[bytes, ...]:
    """Draw the contact picture: the bytes of a PNG for each page in each picture.

    Raises: SheetError for a record without pages.
    """
    return draw_png(make_contact(record), dpi)


def _page(record: ScanRecord, report: PageReading, readings: Sequence[BoxReading]) -> Page:
    spec = report.fit.page
    boxes = [box for box in spec.boxes if box.kind != "paper"]
    short = min((box.h_mm for box in boxes), default=10.0)
    scale = float(np.clip(15.0 / short, 1.5, 2.4))
    width, height = spec.size_mm[0] * scale, spec.size_mm[1] * scale
    shapes: list[Shape] = [
        *_head(record, report, readings, width),
        Image(0.0, _HEAD_MM, width, height, _flattened(report)),
    ]
    for box, reading in zip(spec.boxes, readings, strict=True):
        x, y = box.x_mm * scale, _HEAD_MM + box.y_mm * scale
        shapes += _box(reading, x, y, box.w_mm * scale, box.h_mm * scale)
    return Page(width, _HEAD_MM + height, tuple(shapes))


def _flattened(report: PageReading) -> bytes:
    """JPEG of the page as if seen flat from above."""
    import cv2
    from PIL import Image as Pictures

    width, height = report.fit.page.size_mm
    columns, rows = round(width * _PX_PER_MM), round(height * _PX_PER_MM)
    xs, ys = np.meshgrid((np.arange(columns) + 0.5) / _PX_PER_MM, (np.arange(rows) + 0.5) / _PX_PER_MM)
    px = report.fit.map_many(np.stack([xs.ravel(), ys.ravel()], axis=1)).astype(np.float32)
    px = px.reshape(rows, columns, 2)
    source = report.pixels.to_srgb8()
    shrink = report.fit.px_per_mm / _PX_PER_MM
    if shrink > 1.5:
        source = np.asarray(cv2.blur(source, (round(shrink), round(shrink))), dtype=np.uint8)
    flat = cv2.remap(source, px[..., 0], px[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    held = io.BytesIO()
    Pictures.fromarray(np.asarray(flat, dtype=np.uint8)).save(held, "JPEG", quality=88)
    return held.getvalue()


def _head(
    record: ScanRecord, report: PageReading, readings: Sequence[BoxReading], width: float
) -> list[Shape]:
    coloured = [reading for reading in readings if reading.kind != "paper"]
    usable = sum(reading.usable for reading in coloured)
    flagged = sum(reading.usable and bool(reading.flags) for reading in coloured)
    facts = (
        f"{report.picture}   ·   {report.marks_found} marks found, off by {report.residual_mm:.2f} mm   ·   "
        f"{usable} of {len(coloured)} boxes read, {flagged} of them with a remark"
    )
    key = (
        "in each box: colour read above colour expected; Lab; how far apart (CIEDE2000) ± how far to trust it"
    )
    shapes: list[Shape] = [
        Rect(0.0, 0.0, width, _HEAD_MM, fill="#ffffff"),
        Text(
            8.0,
            10.0,
            f"{record.title or 'Chart'}  ·  {record.chart_id}, page {report.page}",
            size_pt=15.0,
            bold=True,
            width_mm=width - 16.0,
        ),
        Text(8.0, 17.0, facts, size_pt=9.5, width_mm=width - 16.0, min_size_pt=6.0),
        Text(
            8.0,
            22.5,
            f"{report.setup}: {report.correction}",
            size_pt=9.5,
            width_mm=width - 16.0,
            min_size_pt=6.0,
        ),
        Text(8.0, 28.0, key, size_pt=8.5, fill="#555555", width_mm=width - 140.0, min_size_pt=6.0),
    ]
    at = width - 128.0
    for colour, words in ((_GOOD, "read"), (_DOUBTFUL, "read, see remark"), (_LOST, "not read")):
        shapes.append(Rect(at, 25.2, 5.0, 3.4, stroke=colour, stroke_mm=0.8))
        shapes.append(Text(at + 6.5, 28.0, words, size_pt=8.5))
        at += {"read": 21.0, "not read": 28.0}.get(words, 40.0)
    shapes.append(Rect(at, 25.2, 5.0, 3.4, stroke="#777777", stroke_mm=0.35, dash_mm=1.0))
    shapes.append(Text(at + 6.5, 28.0, "bare paper", size_pt=8.5))
    return shapes


def _numbers(lab: Lab | None) -> str:
    return "unknown" if lab is None else "  ".join(f"{value:.0f}".replace("-", "−") for value in lab)


def _box(reading: BoxReading, x: float, y: float, w: float, h: float) -> list[Shape]:
    if reading.kind == "paper":
        return [Rect(x, y, w, h, stroke="#777777", stroke_mm=0.25, dash_mm=1.2)]
    colour = _GOOD if not reading.flags else _DOUBTFUL if reading.usable else _LOST
    shapes: list[Shape] = [
        Rect(x, y, w, h, stroke="#ffffff", stroke_mm=1.3),
        Rect(x, y, w, h, stroke=colour, stroke_mm=0.6),
    ]
    plate_h = min(_LEAST_PLATE_MM[1], 0.62 * h)
    plate_w = min(w - 1.2, _LEAST_PLATE_MM[0] + 2)
    px, py = x + 0.6, y + h - plate_h - 0.6
    if plate_w < 8.0:
        return shapes
    shapes.append(Rect(px, py, plate_w, plate_h, fill="#fffffff0"))
    if reading.lab is None:
        shapes.append(
            Text(
                px + plate_w / 2,
                py + plate_h / 2 + 0.9,
                ", ".join(reading.flags) or "not read",
                size_pt=6.5,
                fill=colour,
                width_mm=plate_w - 1.0,
                lines=2,
                min_size_pt=4.0,
                align="centre",
                hang="middle",
            )
        )
        return shapes
    line = plate_h / 3
    chip = 0.55 * plate_h
    size_pt = 0.8 * plate_h
    rim, half = 0.4, plate_h / 2 - 0.6
    top, bottom, side = py + rim, py + plate_h / 2 + 0.2, chip - rim
    shapes.append(Rect(px + rim, top, side, half, fill=lab_to_hex(np.array(reading.lab))))
    lower: Shape = Rect(px + rim, bottom, side, half, stroke="#999999", stroke_mm=0.15)
    if reading.expected_lab is not None:
        lower = Rect(px + rim, bottom, side, half, fill=lab_to_hex(np.array(reading.expected_lab)))
    shapes.append(lower)
    apart = "" if reading.delta_e_2000 is None else f"{reading.delta_e_2000:.1f} "
    rows = [
        (_numbers(reading.lab), "#111111"),
        (_numbers(reading.expected_lab), "#666666"),
        (f"{apart}± {reading.uncertainty or 0:.1f}" + (" !" if reading.flags else ""), colour),
    ]
    for number, (text, fill) in enumerate(rows):
        shapes.append(
            Text(
                px + chip + 0.8,
                py + (number + 0.8) * line,
                text,
                size_pt=size_pt,
                fill=fill,
                width_mm=plate_w - chip - 1.0,
                min_size_pt=3.5,
            )
        )
    if reading.flags:
        shapes.append(Rect(x + 0.6, y + 0.6, w - 1.2, 3.0, fill="#fffffff0"))
        shapes.append(
            Text(
                x + w / 2,
                y + 2.7,
                ", ".join(reading.flags),
                size_pt=5.6,
                fill=_DOUBTFUL,
                width_mm=w - 1.6,
                min_size_pt=3.5,
                align="centre",
            )
        )
    return shapes
