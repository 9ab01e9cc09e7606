"""Tell ink from paper in a picture of line art: a scan with a cast, or a photo in uneven light.

The paper's own level is estimated everywhere and divided out, so that one threshold serves the whole
page. What comes back is how black each pixel is (for printing the line over colour) and which pixels are
ink (for finding what the lines enclose).
"""

import math
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from blendkit.errors import PictureError, Problem

MAX_PIXELS = 120_000_000
"""Largest picture taken, in pixels: an A3 sheet at 600 dpi has 70 million."""

LEAST_SIDE_PX = 48
"""Smallest side in which lines and the areas between them can be told apart."""

THRESHOLD = 0.36
"""How black, from 0 (paper) to 1 (the darkest ink), counts as ink; chosen by tests/derive/evaluate_regions.py."""

LARGEST_PEN_SHARE = 0.05
"""No line is wider than this share of the picture's shorter side."""

PAPER_LEVEL = 200
"""Grey level to which bare paper is brought, of 255."""

LEAST_CONTRAST = 0.18
"""Ink must be darker than paper by this share of the paper's level."""

WORK_PEN_PX = 3.7
WORK_PIXELS = 2.0e6
"""Large pictures are reduced by a whole number while the parts are found, but never below this width of the pen
nor this many pixels."""

LIGHT_PIXELS, LEVEL_PIXELS = 1.5e6, 4.0e6
"""Most pixels of the copies on which the light over the page, and the levels of paper and ink, are judged."""

LEAST_PEN_PX, LEAST_ROUGH_PEN_PX = 4.0, 2.7
"""Lines no narrower than this on a reduced copy show their width, and roughly."""

WIDENED_PX = 2 * (0.5 - THRESHOLD)
"""How much wider ink becomes on a reduced copy, in pixels of the copy less pixels of the picture: an edge is
spread over a whole pixel, and THRESHOLD lies outside its middle."""


@dataclass(frozen=True, slots=True, eq=False)
class Tone:
    """How black a grey is where it lies on the page.

    paper: uint8, the paper's level on a small copy of the picture. table: uint8 (256,), from a level, PAPER_LEVEL
    the paper's, to blackness: 255 fully black, 0 bare paper.
    """

    paper: NDArray[np.uint8]
    table: NDArray[np.uint8]

    def black(self, grey: NDArray[np.uint8]) -> NDArray[np.uint8]:
        """How black each pixel is, of the picture or of a copy in whatever size; uint8 (h, w)."""
        level = _level(grey, self.paper)
        return np.asarray(cv2.LUT(level, self.table, dst=level), np.uint8)


@dataclass(frozen=True, slots=True, eq=False)
class Ink:
    """Which pixels are ink, on a copy of the picture reduced by a whole number.

    mask: uint8 (h // factor, w // factor), 255 where ink. dark: likewise, how black, 255 fully.
    factor: pixels of the picture along a side of one of the copy's. pen_px: usual width of a line, in pixels of
    the picture. tone: for the printed line at full size.
    """

    mask: NDArray[np.uint8]
    dark: NDArray[np.uint8]
    factor: int
    pen_px: float
    tone: Tone


def grey_of(picture: NDArray[Any]) -> NDArray[np.uint8]:
    """Give a picture as one channel of 8 bits.

    Args:
        picture: (h, w), (h, w, 1) or (h, w, 3) RGB; uint8, uint16, bool, or float from 0 to 1.

    Returns: uint8 (h, w).
    Raises: PictureError where the shape or the kind of number is none of these, or the size is out of range.
    """
    if picture.ndim == 3 and picture.shape[2] == 1:
        picture = picture[..., 0]
    if picture.ndim not in (2, 3) or (picture.ndim == 3 and picture.shape[2] != 3):
        raise PictureError(
            f"A line image has one or three channels; this array has the shape {picture.shape}."
        )
    height, width = picture.shape[:2]
    if min(height, width) < LEAST_SIDE_PX:
        raise PictureError(
            f"The line image is only {width} × {height} pixels; no line can be told from its neighbours. "
            "Scan it again at 300 dots an inch or more.",
            [Problem("size", f"{width} × {height} px", f"sides of {LEAST_SIDE_PX} px or more")],
        )
    if height * width > MAX_PIXELS:
        raise PictureError(
            f"The line image has {height * width / 1e6:.0f} million pixels ({width} × {height}), more than can be "
            "worked on. Save it smaller: 600 dots an inch is plenty.",
            [Problem("size", f"{width} × {height} px", f"at most {MAX_PIXELS / 1e6:.0f} million pixels")],
        )
    if picture.dtype == np.uint16:
        picture = (picture >> 8).astype(np.uint8)
    elif picture.dtype == np.bool_:
        picture = picture.astype(np.uint8) * np.uint8(255)
    elif np.issubdtype(picture.dtype, np.floating):
        picture = np.clip(np.nan_to_num(picture) * 255 + 0.5, 0, 255).astype(np.uint8)
    if picture.dtype != np.uint8:
        raise PictureError(
            f"A line image holds whole numbers of 8 or 16 bits, or 0 to 1; not {picture.dtype}."
        )
    if picture.ndim == 3:
        return np.asarray(cv2.cvtColor(np.ascontiguousarray(picture), cv2.COLOR_RGB2GRAY), np.uint8)
    return np.ascontiguousarray(picture)


def find_ink(grey: NDArray[np.uint8]) -> Ink:
    """Tell ink from paper.

    Args:
        grey: uint8 (h, w), dark lines on lighter paper.

    Returns: the ink, with specks still in it.
    Raises: PictureError when the picture shows no lines, or is no line art.
    """
    copies = _halved(grey)
    judged = next(factor for factor, copy in copies.items() if copy.size <= LEVEL_PIXELS)
    paper = _paper_level(copies[max(copies)])
    level = _level(copies[judged], paper)
    black, noise = _ink_level(count_levels(level))
    # paper becomes PAPER_LEVEL everywhere, then one table turns that level into blackness
    bare = 1.0 - max(0.05, 2.5 * noise)
    levels = np.arange(256) / PAPER_LEVEL
    table = np.clip(np.round(255 * (bare - levels) / (bare - black)), 0, 255).astype(np.uint8)
    tone = Tone(paper, table)
    rough_px = _rough_pen_of(copies, tone)
    _refuse_what_is_no_line_art(grey, tone, rough_px)
    factor = max(1, int(min(rough_px / WORK_PEN_PX, (grey.size / WORK_PIXELS) ** 0.5)))
    reduced = _reduced(copies, factor)
    dark = np.asarray(cv2.LUT(level, table), np.uint8) if factor == judged else tone.black(reduced)
    smooth = factor == 1 and noise > 0.045
    mask = _inked(np.asarray(cv2.GaussianBlur(dark, (0, 0), 0.8), np.uint8) if smooth else dark)
    # at full size the pen is measured again; a reduced copy's ink is as much wider as its edges are
    pen_px = _pen_of(dark, mask, rough_px) if factor == 1 else rough_px + WIDENED_PX * (factor - 1)
    return Ink(mask, dark, factor, pen_px, tone)


def _inked(dark: NDArray[np.uint8]) -> NDArray[np.uint8]:
    return np.asarray(cv2.threshold(dark, 255 * THRESHOLD, 255, cv2.THRESH_BINARY)[1], np.uint8)


def _refuse_what_is_no_line_art(grey: NDArray[np.uint8], tone: Tone, pen_px: float) -> None:
    """Line art is mostly bare, its lines are thin beside the picture, and greys lie only along their edges."""
    every = max(1, min(grey.shape) // 700)  # a sample of the pixels will do
    sample = tone.black(np.ascontiguousarray(grey[::every, ::every]))
    counts = count_levels(sample) / sample.size
    inked, middle = float(counts[128:].sum()), float(counts[64:192].sum())
    thick = pen_px > LARGEST_PEN_SHARE * min(grey.shape)
    if inked > 0.55 or thick or middle > (0.4 + 4.0 / pen_px) * inked + 0.002:
        raise PictureError(
            "This looks like a photo or a painting, or is badly out of focus: not black lines on paper. "
            "Use a sharp scan or photo of the stamped outline itself."
        )


def _rough_pen_of(copies: dict[int, NDArray[np.uint8]], tone: Tone) -> float:
    """About the pen's width, in pixels of the picture, from the smallest copy on which it shows.

    What reducing adds to it is taken off.
    """
    for factor in sorted(copies, reverse=True):
        pen = measure_pen_px(_inked(tone.black(copies[factor])))
        if pen >= LEAST_ROUGH_PEN_PX:
            break
    return pen * factor - WIDENED_PX * (factor - 1)


def _pen_of(dark: NDArray[np.uint8], mask: NDArray[np.uint8], rough_px: float) -> float:
    """The pen's width, measured on a smaller copy where that leaves lines of four pixels or more."""
    height, width = mask.shape
    factor: int = min(math.ceil((height * width / 1.0e6) ** 0.5), int(rough_px / (0.85 * LEAST_PEN_PX)))
    while factor > 1:
        small = cv2.resize(dark, (width // factor, height // factor), interpolation=cv2.INTER_AREA)
        pen = measure_pen_px(_inked(np.asarray(small, np.uint8)))
        if pen >= LEAST_PEN_PX:
            return pen * factor
        factor = min(factor - 1, max(1, int(pen * factor / LEAST_PEN_PX)))
    return measure_pen_px(mask)


def measure_pen_px(mask: NDArray[np.uint8]) -> float:
    """The usual width of a line, in pixels.

    In a strip of width w the distance to the edge is spread evenly from 0 to w/2, so its mean is w/4. What is
    thicker than three times the median is a black area, and left out.
    """
    distance = cv2.distanceTransform(mask, cv2.DIST_L2, 3)
    inside = distance.ravel()[np.flatnonzero(mask > 0)]
    if inside.size == 0:
        return 0.0
    lines = inside[inside <= 3.0 * float(np.median(inside))]
    # the first pixel's centre lies half a pixel inside the edge but is given the distance 1
    return float(max(1.0, 4.0 * (float(lines.mean()) - 0.5)))


def _halved(grey: NDArray[np.uint8]) -> dict[int, NDArray[np.uint8]]:
    """The picture and copies of it, each half the one before, by how much they are reduced."""
    copies = {1: grey}
    while copies[max(copies)].size > LIGHT_PIXELS:
        factor = 2 * max(copies)
        copies[factor] = _reduced(copies, factor)
    return copies


def _reduced(copies: dict[int, NDArray[np.uint8]], factor: int) -> NDArray[np.uint8]:
    """A copy reduced by a whole number, made from the smallest copy of which it is a whole fraction.

    Rows and columns left over are cut off: reducing by exact numbers is many times faster.
    """
    nearest = max(k for k in copies if factor % k == 0)
    if nearest == factor:
        return copies[factor]
    height, width = (side // factor for side in copies[1].shape)
    times = factor // nearest
    source = copies[nearest][: height * times, : width * times]
    return np.asarray(cv2.resize(source, (width, height), interpolation=cv2.INTER_AREA), np.uint8)


def _level(grey: NDArray[np.uint8], paper: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The picture, or a copy of it, with the paper brought to PAPER_LEVEL."""
    height, width = grey.shape
    if paper.shape != grey.shape:
        paper = np.asarray(cv2.resize(paper, (width, height), interpolation=cv2.INTER_LINEAR), np.uint8)
    return np.asarray(cv2.divide(grey, paper, scale=PAPER_LEVEL), np.uint8)


def count_levels(levels: NDArray[np.uint8]) -> NDArray[np.int64]:
    """How many pixels of an image (h, w) have each of 256 levels; int64 (256,)."""
    return np.asarray(cv2.calcHist([levels], [0], None, [256], [0, 256])).ravel().astype(np.int64)


def _paper_level(small: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The paper's level at every pixel of the small copy, lines and black areas filled in.

    Lines vanish under a grey closing. Black areas larger than the closing would pass for paper; there a
    smooth surface through the bright rest of the page takes over.
    """
    height, width = small.shape
    step = max(1, min(height, width) // 96)
    rows, columns = max(8, height // step), max(8, width // step)
    tiles = cv2.resize(cv2.medianBlur(small, 3), (columns, rows), interpolation=cv2.INTER_AREA)
    reach = 2 * max(2, min(rows, columns) // 14) + 1
    bright = cv2.dilate(tiles, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5))).astype(np.float32)
    surface = _smooth_surface(bright)
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
    closed = cv2.morphologyEx(tiles, cv2.MORPH_CLOSE, kernel).astype(np.float32)
    level = np.where(closed < 0.6 * surface, surface, closed)
    level = cv2.GaussianBlur(level, (0, 0), reach / 3)
    level = cv2.resize(level, (width, height), interpolation=cv2.INTER_LINEAR)
    return np.asarray(np.maximum(cv2.convertScaleAbs(level), np.uint8(1)), np.uint8)


def _smooth_surface(bright: NDArray[np.float32]) -> NDArray[np.float32]:
    """A cubic surface through the brighter tiles, fitted three times without those that lie far below it."""
    rows, columns = bright.shape
    y, x = np.mgrid[-1 : 1 : complex(rows), -1 : 1 : complex(columns)]
    every = max(1, round((rows * columns / 3000) ** 0.5))  # a cubic needs no more than some thousand tiles
    of_x, of_y = (np.ones_like(x), x, x * x, x * x * x), (np.ones_like(y), y, y * y, y * y * y)
    terms = np.stack([of_x[i] * of_y[j] for i in range(4) for j in range(4 - i)], -1).reshape(-1, 10)
    near = np.zeros((rows, columns), bool)
    near[::every, ::every] = True
    taken, values = terms[near.ravel()], bright[near].astype(np.float64)
    kept = values >= np.percentile(values, 30)
    fitted = values
    for _ in range(3):
        rows_kept = taken[kept]
        weights = np.linalg.solve(rows_kept.T @ rows_kept + 1e-9 * np.eye(10), rows_kept.T @ values[kept])
        fitted = taken @ weights
        kept = values > 0.85 * fitted
        if kept.sum() < 40:
            break
    low, high = float(values[kept].min(initial=255.0)), float(values.max())
    return np.asarray(np.clip(terms @ weights, 0.5 * low, 1.2 * high).reshape(rows, columns), np.float32)


def _ink_level(counts: NDArray[np.int64]) -> tuple[float, float]:
    """How dark the ink is against the paper, and the paper's roughness; refuses what is no line art.

    Args:
        counts: pixels at each of 256 levels, PAPER_LEVEL the paper's.
    """
    levels = np.arange(256) / PAPER_LEVEL
    total = int(counts.sum())
    of_paper = np.where(levels > 0.85, counts, 0)
    if of_paper.sum() < 0.2 * total:
        raise PictureError(
            "This looks like a photo or a painting, not like black lines on paper: too little of it is bare "
            "paper. Use a scan or a photo of the stamped outline itself."
        )
    low, high = _quantile(of_paper, 0.25), _quantile(of_paper, 0.75)
    noise = (high - low) / PAPER_LEVEL / 1.349
    dark = np.where(levels < 1 - max(LEAST_CONTRAST, 5 * noise), counts, 0)
    if dark.sum() < 2e-4 * total:
        raise PictureError(
            "There are no lines in this picture: nothing in it is clearly darker than the paper. "
            "Check that it is the right file, and that the stamped side was scanned."
        )
    black = _quantile(dark, 0.15) / PAPER_LEVEL
    return black, noise


def _quantile(counts: NDArray[np.int64], share: float) -> float:
    """The level below which *share* of the counted pixels lie, read between the whole levels."""
    running = np.cumsum(counts)
    target = share * running[-1]
    k = int(np.searchsorted(running, target))
    below = float(running[k - 1]) if k else 0.0
    return k - 0.5 + (float(target) - below) / max(1.0, float(counts[k]))
