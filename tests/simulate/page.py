"""A printed and coloured chart page as reflectance: which material lies where, and how thick the ink is."""

from dataclasses import dataclass, field

import cv2
import numpy as np

from blendkit.chart.description import BoxSpec, ChartSpec, MarkSpec, PageSpec

from . import spectra

COATS = np.array([0.0, 0.25, 0.5, 0.7, 0.85, 1.0, 1.15, 1.35, 1.7, 2.2, 3.0])
"""Relative ink thickness at which each ink's signal is computed; thickness between is interpolated."""


def plain_chart(columns=8, rows=12, size_mm=(210.0, 297.0), anchors=0, chart_id="TEST01"):
    """A bare chart of the tests' own: marks around a grid of swatches, the last *anchors* of them anchors."""
    width, height = size_mm
    side, edge = 14.0, 8.0
    lefts = (edge, (width - side) / 2, width - edge - side)
    tops = (edge, (height - side) / 2, height - edge - side)
    spots = [(0, 0), (1, 0), (2, 0), (2, 1), (2, 2), (1, 2), (0, 2), (0, 1)]
    marks = []
    for number, (column, row) in enumerate(spots):
        x, y = lefts[column], tops[row]
        marks.append(MarkSpec(number, ((x, y), (x + side, y), (x + side, y + side), (x, y + side))))
    boxes = []
    left, top, w, h = 27.0, 42.0, 14.0, 11.0
    step_x = (width - 2 * left - w) / (columns - 1)
    step_y = (height - 2 * top - h) / (rows - 1)
    for row in range(rows):
        for column in range(columns):
            number = row * columns + column
            kind = "anchor" if number >= rows * columns - anchors else "swatch"
            boxes.append(
                BoxSpec(
                    f"Ink {number + 1}",
                    kind,
                    (f"Ink {number + 1}",),
                    1,
                    None,
                    left + column * step_x,
                    top + row * step_y,
                    w,
                    h,
                )
            )
    boxes.append(BoxSpec("paper", "paper", (), 0, None, 27.0, 24.0, 30.0, 12.0))
    page = PageSpec(1, size_mm, "", (width / 2 - 7.5, 24.0, 15.0, 15.0), tuple(marks), tuple(boxes))
    return ChartSpec(1, chart_id, "Plain chart", "white card", (page,))


def printed_layer(page, px_per_mm):
    """How much of the paper shows through the print, 0 (black) to 1, for a page without a PDF; shape (h, w)."""
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_ARUCO_MIP_36H12)
    width, height = (round(length * px_per_mm) for length in page.size_mm)
    shown = np.full((height, width), 255, np.uint8)
    for mark in page.marks:
        (x0, y0), (x1, y1) = mark.corners_mm[0], mark.corners_mm[2]
        left, top, right, bottom = (round(value * px_per_mm) for value in (x0, y0, x1, y1))
        picture = cv2.aruco.generateImageMarker(dictionary, mark.id, 240)
        shown[top:bottom, left:right] = cv2.resize(
            picture, (right - left, bottom - top), interpolation=cv2.INTER_AREA
        )
    for box in page.boxes:
        if box.kind == "paper":
            continue
        corners = np.array([[box.x_mm, box.y_mm], [box.x_mm + box.w_mm, box.y_mm + box.h_mm]]) * px_per_mm
        (x0, y0), (x1, y1) = np.round(corners).astype(int)
        cv2.rectangle(shown, (x0, y0), (x1, y1), 165, max(1, round(0.2 * px_per_mm)))
        cv2.putText(
            shown,
            box.label,
            (x0, round((box.y_mm + box.h_mm + 3) * px_per_mm)),
            cv2.FONT_HERSHEY_SIMPLEX,
            0.09 * px_per_mm,
            60,
            max(1, round(px_per_mm * 0.2)),
            cv2.LINE_AA,
        )
    return shown.astype(np.float32) / 255


def chart_layer(sheet, page_number, px_per_mm):
    """What shows through the print of a page of a real chart, linear, (h, w, 3), from its PDF."""
    import pypdfium2

    from blendkit.page.page import draw_pdf

    document = pypdfium2.PdfDocument(draw_pdf(sheet))
    rendered = document[page_number - 1].render(scale=px_per_mm * 25.4 / 72).to_numpy()[..., :3][..., ::-1]
    document.close()
    code = rendered.astype(np.float32) / 255
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4).astype(np.float32)


@dataclass(frozen=True)
class Habits:
    """How the colourist fills a box."""

    streaks: float = 1.0
    specks: float = 1.0
    over_edge: float = 0.3
    pencil: float = 0.15
    empty: tuple[int, ...] = ()
    half: tuple[int, ...] = ()


@dataclass
class ColouredPage:
    """Materials of one page: everything that a device needs to turn it into signal."""

    page: PageSpec
    px_per_mm: float
    shown: np.ndarray
    paper: np.ndarray
    black: np.ndarray
    absorptions: list
    """K/S of one full filling of each box, over spectra.NM; None where the box is left bare."""
    patches: list = field(default_factory=list)
    """(slice_y, slice_x, thickness) of each box's ink on the page."""

    def true_labs(self):
        """Lab of every box as an instrument would read its even coat; the paper's where it is bare."""
        rows = [
            self.paper if k is None else spectra.inked_reflectance(self.paper, k, np.array(1.0))
            for k in self.absorptions
        ]
        return spectra.reflectance_to_lab(np.stack(rows))

    def signal(self, device):
        """Balanced linear signal of the flat page in even light, shape (h, w, 3), float32."""
        paper = device.linear(self.paper)
        black = device.linear(self.black)
        shown = self.shown if self.shown.ndim == 3 else self.shown[..., None]
        picture = black + shown * (paper - black)
        picture = picture.astype(np.float32)
        for absorption, (rows, columns, thickness) in zip(self.absorptions, self.patches, strict=True):
            if absorption is None:
                continue
            levels = device.linear(spectra.inked_reflectance(self.paper, absorption, COATS)) / paper
            through = np.stack([np.interp(thickness, COATS, level) for level in levels.T], axis=-1)
            picture[rows, columns] *= through.astype(np.float32)
        return picture


def _smooth_noise(rng, shape, sigma):
    small = [max(2, int(np.ceil(n / max(1.0, sigma))) + 3) for n in shape]
    noise = rng.standard_normal(small).astype(np.float32)
    return cv2.resize(noise, (shape[1], shape[0]), interpolation=cv2.INTER_CUBIC)


def _thickness(rng, box, px_per_mm, habits, index):
    """Where one box's ink lies and how thick, 1 where the coat is even."""
    grow = rng.uniform(-0.6, 0.2, 4)
    if rng.random() < habits.over_edge:
        grow[rng.integers(4)] = rng.uniform(0.5, 1.6)
    x0, y0 = box.x_mm - grow[0], box.y_mm - grow[1]
    x1, y1 = box.x_mm + box.w_mm + grow[2], box.y_mm + box.h_mm + grow[3]
    pad = 0.8
    left, top = (round((value - pad) * px_per_mm) for value in (x0, y0))
    right, bottom = (round((value + pad) * px_per_mm) for value in (x1, y1))
    ys, xs = np.mgrid[top:bottom, left:right].astype(np.float32) / px_per_mm
    wobble = 0.35 * _smooth_noise(rng, xs.shape, 1.5 * px_per_mm)
    inside = np.minimum(np.minimum(xs - x0, x1 - xs), np.minimum(ys - y0, y1 - ys)) + wobble
    cover = np.clip(inside * px_per_mm / 1.5 + 0.5, 0, 1)
    if index in habits.half:
        cut = x0 + (x1 - x0) * rng.uniform(0.4, 0.6) + wobble * 2
        cover = cover * np.clip((cut - xs) * px_per_mm + 0.5, 0, 1)
    thick = np.ones_like(xs)
    angle = rng.uniform(-0.25, 0.25) + (np.pi / 2 if rng.random() < 0.5 else 0)
    across = xs * np.cos(angle) + ys * np.sin(angle)
    pitch = rng.uniform(2.0, 4.5)
    phase = np.mod(across + rng.uniform(0, pitch) + 0.3 * _smooth_noise(rng, xs.shape, 4 * px_per_mm), pitch)
    overlap = rng.uniform(0.08, 0.25) * pitch
    thick = thick + habits.streaks * rng.uniform(0.1, 0.6) * (phase < overlap)
    thick = thick + habits.streaks * 0.06 * _smooth_noise(rng, xs.shape, 2.5 * px_per_mm)
    thick = thick + habits.streaks * 0.03 * rng.standard_normal(xs.shape).astype(np.float32)
    if rng.random() < 0.5:
        specks = _smooth_noise(rng, xs.shape, 0.5 * px_per_mm)
        share = habits.specks * rng.uniform(0.0, 0.08)
        if share > 0:
            thick = np.where(specks > np.quantile(specks, 1 - share), 0.0, thick)
    blur = 0.08 * px_per_mm
    thick = cv2.GaussianBlur(np.clip(thick * cover, 0, 3).astype(np.float32), (0, 0), max(blur, 0.3))
    return slice(top, bottom), slice(left, right), thick


def coloured_page(
    rng, page, px_per_mm, *, paper_kind="white", habits=None, shown=None, absorptions=None, paper=None
):
    """Colour every box of *page* with a different invented ink.

    Args:
        rng: NumPy generator; everything hangs on it.
        page: the chart's page.
        px_per_mm: resolution of the materials.
        paper_kind: see spectra.paper_reflectance.
        habits: how boxes are filled.
        shown: what shows through the print, linear, 0 to 1, (h, w) or (h, w, 3); drawn here when missing.
        absorptions: K/S of each box's filling (None: leave bare); random inks when missing.
        paper: reflectance of the paper; random when missing.
    """
    habits = habits or Habits()
    if paper is None:
        paper = spectra.paper_reflectance(rng, paper_kind)
    if absorptions is None:
        absorptions = [
            None if box.kind == "paper" or index in habits.empty else spectra.ink_absorption(rng)
            for index, box in enumerate(page.boxes)
        ]
    shown = printed_layer(page, px_per_mm) if shown is None else shown.copy()
    patches = [_thickness(rng, box, px_per_mm, habits, i) for i, box in enumerate(page.boxes)]
    for box in page.boxes:
        if box.kind != "paper" and rng.random() < habits.pencil:
            start = np.array([box.x_mm + box.w_mm * rng.random(), box.y_mm]) * px_per_mm
            end = np.array([box.x_mm + box.w_mm * rng.random(), box.y_mm + box.h_mm]) * px_per_mm
            cv2.line(
                shown,
                tuple(np.round(start).astype(int)),
                tuple(np.round(end).astype(int)),
                (0.45, 0.45, 0.45),
                max(1, round(0.4 * px_per_mm)),
                cv2.LINE_AA,
            )
    limit = shown.shape
    clipped = []
    for rows, columns, thick in patches:
        top, left = max(0, -rows.start), max(0, -columns.start)
        rows_in = slice(rows.start + top, min(rows.stop, limit[0]))
        columns_in = slice(columns.start + left, min(columns.stop, limit[1]))
        height, width = rows_in.stop - rows_in.start, columns_in.stop - columns_in.start
        clipped.append((rows_in, columns_in, thick[top : top + height, left : left + width]))
    return ColouredPage(
        page, px_per_mm, shown, paper, spectra.black_print_reflectance(rng), list(absorptions), clipped
    )
