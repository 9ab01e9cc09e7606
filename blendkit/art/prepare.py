"""Make a picture of a stamp ready for finding its parts: a sheet on a table straightened, pale ink inverted."""

from dataclasses import dataclass, field
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from blendkit.art.ink_mask import grey_of

LOOK_SIDE_PX = 480
"""The sheet is looked for on a copy with this longer side. This and all below: own judgement."""

FRAME_SHARE = 0.025
"""Width of the picture's outer frame, as a share of its sides, in which a table would be seen."""

TABLE_STEP = 22.0
"""The frame differs from the sheet by this much, in Lab of 8 bits, where a table is in view."""

LEAST_SHEET, MOST_SHEET = 0.12, 0.96
"""Shares of the picture that a sheet on a table may cover."""

AT_FRAME = 0.015
"""A corner this near to the picture's edge, as a share of its side, may be a shadow's end; two are taken to be."""

LEAST_FILL, EMPTY_COSTS = 0.93, 8.0
"""How much of its four-sided outline a sheet fills; of several guesses the largest is taken, what is empty of it
counted so many times."""

LIGHT_SIDE_PX, LINE_SHARE, SHADE_SHARE = 700, 0.022, 0.28
"""The light is evened out on a copy with this longer side; what is narrower than this share of a sheet's longer
side is a line, and what is darker than this share of its paper is ink, no shadow."""

PALE_TIMES, PALE_STEP, PALE_SHARE = 2.0, 40, 0.004
"""Pale ink: so many times as many pixels lie this many grey levels above the card as lie below it, and at
least this share of all."""


@dataclass(frozen=True, slots=True, eq=False)
class Prepared:
    """A picture ready for finding its parts.

    pixels: uint8, (h, w, 3) or (h, w), dark ink on light paper. picture_from_work: 3 x 3, from its pixels to those
    of the picture, or None where both are the same. card_srgb255: the card's colour where pale ink was stamped on
    dark card, else None. notes: what was done, for the person.
    """

    pixels: NDArray[Any] = field(repr=False)
    picture_from_work: NDArray[np.float64] | None = None
    card_srgb255: tuple[int, int, int] | None = None
    notes: tuple[str, ...] = ()


def prepare(picture: NDArray[Any]) -> Prepared:
    """Straighten a sheet that lies on a table, and invert pale ink on dark card.

    Args:
        picture: (h, w) or (h, w, 3) RGB, as for ``find_regions``.

    Returns: the same picture where neither is the case.
    """
    grey = grey_of(picture)
    notes: list[str] = []
    matrix, card = None, None
    pixels: NDArray[Any] = picture
    rgb = picture if picture.ndim == 3 and picture.dtype == np.uint8 and picture.shape[2] == 3 else None
    corners = find_sheet(rgb) if rgb is not None else None
    if rgb is not None and corners is not None:
        pixels, matrix = _straightened(rgb, corners)
        grey = grey_of(pixels)
        notes.append(
            "A sheet on a table was found: it was cut out, straightened and its light evened out. Its "
            "scale is what dpi or width_mm says; measure one length on the sheet if that is not known."
        )
    if _pale_ink(grey):
        if pixels.ndim == 3:
            r, g, b = (int(v) for v in np.median(pixels[::7, ::7].reshape(-1, pixels.shape[2]), axis=0)[:3])
            card = r, g, b
        pixels = _inverted(grey)
        notes.append("Pale ink on darker card: the picture was inverted to find the lines.")
    return Prepared(pixels, matrix, card, tuple(notes))


def _pale_ink(grey: NDArray[np.uint8]) -> bool:
    step = max(1, max(grey.shape) // 900)
    small = np.ascontiguousarray(grey[::step, ::step])
    # the card's own level: a wide median, which neither lines nor black areas pull along as a mean would be
    tiny = cv2.resize(small, (96, 96), interpolation=cv2.INTER_AREA)
    level = cv2.resize(cv2.medianBlur(tiny, 35), small.shape[::-1]).astype(np.int16)
    above = float((small - level > PALE_STEP).mean())
    below = float((level - small > PALE_STEP).mean())
    return above > PALE_SHARE and above > PALE_TIMES * below


def _inverted(grey: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Dark ink on light paper from pale ink on dark card: the card's level is brought to 235."""
    card = float(np.median(grey))
    pale = max(float(np.quantile(grey, 0.995)), card + 20)
    return np.asarray(np.clip(235 - (grey - card) * (215 / (pale - card)), 0, 255), np.uint8)


def find_sheet(rgb: NDArray[np.uint8]) -> NDArray[np.float64] | None:
    """Find the sheet of paper in a photo in which the table around it shows.

    Args:
        rgb: uint8 (h, w, 3).

    Returns: its corners (4, 2) in pixels, clockwise from the top left; None where no table is seen or no
        four-sided sheet stands out.
    """
    times = min(1.0, LOOK_SIDE_PX / max(rgb.shape[:2]))
    small = cv2.resize(rgb, None, fx=times, fy=times, interpolation=cv2.INTER_AREA)
    small = cv2.medianBlur(np.asarray(small, np.uint8), 5)
    lab = cv2.cvtColor(small, cv2.COLOR_RGB2LAB).astype(np.float32)
    height, width = lab.shape[:2]
    frame = max(2, round(FRAME_SHARE * max(height, width)))
    sides = lab[:frame], lab[-frame:], lab[:, :frame], lab[:, -frame:]
    edges = np.concatenate([side.reshape(-1, 3) for side in sides])
    middle = lab[height // 5 : -height // 5, width // 5 : -width // 5].reshape(-1, 3)
    bright = middle[middle[:, 0] >= np.quantile(middle[:, 0], 0.6)]
    if np.abs(np.median(edges, 0) - np.median(bright, 0)).max() < TABLE_STEP:
        return None
    best, best_score = None, 0.0
    for mask in _sheet_masks(lab, edges, np.median(bright, 0)):
        quad, fill = _quad_of(mask)
        if quad is None or fill < LEAST_FILL:
            continue
        to_frame = np.minimum(quad, np.array([width, height]) - quad).min(1)
        if (
            to_frame < AT_FRAME * max(width, height)
        ).sum() >= 2:  # a picture that is all sheet, partly shaded
            continue
        # a shadow's edge cuts a sheet off as straight as its own does, so the largest is the whole one
        area = cv2.contourArea(quad.astype(np.float32)) / mask.size
        score = area * (1 - EMPTY_COSTS * (1 - fill))
        if area < MOST_SHEET and score > best_score:
            best, best_score = quad, score
    return None if best is None else best / times


def _sheet_masks(
    lab: NDArray[np.float32], edges: NDArray[np.float32], paper: NDArray[np.float32]
) -> list[NDArray[np.uint8]]:
    """Several guesses at the sheet: by lightness, by hue, by likeness to the table or to the paper."""
    light = np.clip(lab[..., 0], 0, 255).astype(np.uint8)
    away = np.hypot(lab[..., 1] - paper[1], lab[..., 2] - paper[2])
    hue = np.clip(255 - 5 * away, 0, 255).astype(np.uint8)
    # colour a share of lightness, which a shadow leaves as it is
    share_of = (lab[..., 1:] - 128) / (lab[..., :1] + 10)
    tint = np.linalg.norm(share_of - (paper[1:] - 128) / (paper[0] + 10), axis=2)
    tinted = np.clip(255 - 600 * tint, 0, 255).astype(np.uint8)
    table = np.median(edges, 0)
    unlike = np.clip(2 * np.linalg.norm(lab - table, axis=2), 0, 255).astype(np.uint8)
    # in a hand's shadow paper keeps its hue, so both count together
    both = cv2.addWeighted(light, 0.6, hue, 0.4, 0)
    # how far from the table and how near to the paper, with lightness counting less
    weights = np.array([0.4, 1.5, 1.5], np.float32)
    near = np.linalg.norm((lab - paper) * weights, axis=2)
    far = np.linalg.norm((lab - table) * weights, axis=2)
    share = np.clip(255 * far / (near + far + 1e-6), 0, 255).astype(np.uint8)
    masks = []
    for guess in (light, tinted, unlike, both, np.asarray(share, np.uint8)):
        blurred = cv2.GaussianBlur(guess, (0, 0), 1.5)
        masks.append(
            np.asarray(cv2.threshold(blurred, 0, 255, cv2.THRESH_BINARY | cv2.THRESH_OTSU)[1], np.uint8)
        )
    return masks


def _quad_of(mask: NDArray[np.uint8]) -> tuple[NDArray[np.float64] | None, float]:
    """The four-sided outline of the largest area, ink in it filled, and the share of it that the area fills."""
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (7, 7))
    opened = cv2.morphologyEx(mask, cv2.MORPH_OPEN, kernel)
    outlines, _ = cv2.findContours(opened, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    if not outlines:
        return None, 0.0
    outline = max(outlines, key=cv2.contourArea)
    area = cv2.contourArea(outline)
    if not LEAST_SHEET < area / mask.size < MOST_SHEET:
        return None, 0.0
    hull = cv2.convexHull(outline)
    length = cv2.arcLength(hull, True)
    for share in np.arange(0.01, 0.08, 0.005):
        corners = cv2.approxPolyDP(hull, share * length, True)
        if len(corners) == 4:
            quad = _fitted(outline[:, 0].astype(np.float64), corners[:, 0].astype(np.float64))
            own = cv2.contourArea(quad.astype(np.float32))
            return quad, float(area / max(own, area))
    return None, 0.0


def _fitted(outline: NDArray[np.float64], corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """Corners where straight lines through the outline's sides meet, clockwise from the top left."""
    lines = []
    for k in range(4):
        a, b = corners[k], corners[(k + 1) % 4]
        d = (b - a) / np.hypot(*(b - a))
        along, off = (outline - a) @ d, (outline - a) @ np.array([-d[1], d[0]])
        length = float(np.hypot(*(b - a)))
        side = outline[(along > 0.08 * length) & (along < 0.92 * length) & (np.abs(off) < 4)]
        if len(side) < 8:
            lines.append((a, d))
            continue
        vx, vy, x, y = cv2.fitLine(side.astype(np.float32), cv2.DIST_HUBER, 0, 0.01, 0.01).ravel()
        lines.append((np.array([x, y]), np.array([vx, vy])))
    found = []
    for k in range(4):
        (p, d), (q, e) = lines[k - 1], lines[k]
        t = np.linalg.lstsq(np.column_stack([d, -e]), q - p, rcond=None)[0]
        found.append(p + t[0] * d)
    quad = np.array(found, np.float64)
    x, y = quad.T
    if float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) < 0:
        quad = quad[::-1]
    return np.asarray(np.roll(quad, -int(np.argmin(quad.sum(1))), 0), np.float64)


def _straightened(
    rgb: NDArray[np.uint8], corners: NDArray[np.float64]
) -> tuple[NDArray[np.uint8], NDArray[np.float64]]:
    """The sheet seen from straight above, a little inside its edges, and the 3 x 3 back to the picture."""
    corners = corners + 0.012 * (corners.mean(0) - corners)
    top, right, bottom, left = np.hypot(*(np.roll(corners, -1, 0) - corners).T)
    width, height = round((top + bottom) / 2), round((left + right) / 2)
    target = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    matrix = cv2.getPerspectiveTransform(target, corners.astype(np.float32))
    how = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    flat = cv2.warpPerspective(rgb, matrix, (width, height), flags=how, borderMode=cv2.BORDER_REPLICATE)
    return _evenly_lit(np.asarray(flat, np.uint8)), np.asarray(matrix, np.float64)


def _evenly_lit(sheet: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The sheet with its slope of light and a hand's shadow divided out; black areas stay black."""
    times = min(1.0, LIGHT_SIDE_PX / max(sheet.shape[:2]))
    small = cv2.resize(grey_of(sheet), None, fx=times, fy=times, interpolation=cv2.INTER_AREA)
    side = max(3, round(LINE_SHARE * max(small.shape)) | 1)
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side))
    level = cv2.morphologyEx(cv2.medianBlur(small, 3), cv2.MORPH_CLOSE, kernel).astype(np.float32)
    bright = float(np.quantile(level, 0.9))
    inked = (level < SHADE_SHARE * bright).astype(np.uint8)
    level = np.asarray(cv2.GaussianBlur(level, (0, 0), side / 6), np.float32)
    level[cv2.dilate(inked, kernel) > 0] = bright
    gain = cv2.resize(bright / np.maximum(level, 1), sheet.shape[1::-1], interpolation=cv2.INTER_LINEAR)
    return np.asarray(np.clip(sheet * gain[..., None], 0, 255), np.uint8)
