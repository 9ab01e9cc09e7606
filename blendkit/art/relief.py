"""The round shape that each part of a line image suggests: a dome, open where a part in front overlaps it.

Nothing here knows the light, so it is made once for a picture and kept; only a flipped pair makes it again.
"""

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendkit.art.depth import Fronts, count_parts, front_matrix
from blendkit.art.inlaid import find_inlaid, press

WORK_PIXELS = 260_000
"""Shading is worked out on at most this many pixels and scaled up; its slopes are millimetres wide."""

SCREEN_MM = 8.0
"""How far from its outline a dome keeps rising; beyond is a plateau (by eye, see tests/derive/README.md)."""

CONTACT_MM = 0.55
LINE_NEAR_MM = 0.2

BESIDE_OPEN = 0.8
"""Share of the edge between two parts of one surface (stripes) that is left open."""

Floats = NDArray[np.float32]


@dataclass(frozen=True)
class Grid:
    """Part numbers on the working grid, and which lies in front of which.

    Fields:
        labels: part numbers, 0 outside, shape (h, w), int32.
        in_front: certainty from 0 to 1 that part [.., q] lies in front of part [p, ..]; shape (n+1, n+1).
        beside: likelihood that two touching parts are of one surface; same shape.
    """

    labels: NDArray[np.int32]
    in_front: Floats
    beside: Floats


@dataclass(frozen=True)
class Relief:
    """Domes of all parts on the working grid, with what a changed light needs.

    Fields:
        grid: part numbers and fronts on the working grid.
        presses: certainty that part [.., q] presses a shadow on part [p, ..]: in_front, little for what is
            drawn on a surface; shape (n+1, n+1).
        slope_x, slope_y, height: the surface, normal = (-slope_x, -slope_y, height) before scaling; float32.
        contact: thin shadow beside parts in front, from any side, 0 to 1.
        per_mm: working pixels to a millimetre.
        full_labels: part numbers at full size, shape (H, W), int32.
        full_line: line tone at full size, 0 paper to 255 ink, uint8.
        seams, seam_source: pixels beside an open border, and the working pixels that they take their tone from.
    """

    grid: Grid
    presses: Floats
    slope_x: Floats
    slope_y: Floats
    height: Floats
    contact: Floats
    per_mm: float
    full_labels: NDArray[np.int32]
    full_line: NDArray[np.uint8]
    seams: NDArray[np.int64] = field(repr=False)
    seam_source: NDArray[np.int64] = field(repr=False)

    @property
    def parts(self) -> int:
        """How many parts there are, not counting the outside."""
        return len(self.grid.in_front) - 1


def find_relief(labels: NDArray[Any], line: NDArray[Any], fronts: Fronts, dpi: float) -> Relief:
    """Raise a dome over every part.

    Each dome solves a screened Poisson equation: it is zero on the part's own outline, and level (free) where a
    part in front overlaps it, so that an overlapped part keeps its roundness behind the overlap. A doubtful front
    opens the edge only in part.

    Args:
        labels: 0 outside, 1.. parts, shape (h, w).
        line: line tone, uint8 to 255 or float to 1 (ink), shape (h, w).
        fronts: which of two touching parts lies in front, from `find_fronts`.
        dpi: dots per inch of *labels*.

    Returns: a Relief.
    Raises: PictureError when there are more parts than MOST_PARTS of `blendkit.art.depth`.
    Source: inflation by a Poisson equation is common practice in sketch modelling; the free edges are our own.
    """
    full = np.ascontiguousarray(labels, dtype=np.int32)
    parts = count_parts(full)
    tone = _line_tone(line)
    step = max(1.0, float(np.sqrt(full.size / WORK_PIXELS)))
    work = _sampled(full, step)
    per_mm = dpi / 25.4 / step
    in_front, beside = front_matrix(fronts, parts)
    grid = Grid(work, in_front, beside)
    closed = np.clip((1 - in_front) * (1 - BESIDE_OPEN * beside), 0, 1).astype(np.float32)
    dome = _solve(work, closed, SCREEN_MM * per_mm)
    slope_x, slope_y = _slopes(dome, work)
    height = np.sqrt(np.maximum(dome, 0))
    seams, source = _find_seams(full, tone, work)
    presses = press(in_front, find_inlaid(work, _near_line(tone, work, dpi / 25.4), per_mm))
    contact = _contact(replace(grid, in_front=presses), CONTACT_MM * per_mm)
    return Relief(grid, presses, slope_x, slope_y, height, contact, per_mm, full, tone, seams, source)


def march(grid: Grid, direction: tuple[float, float], reach_px: float) -> tuple[Floats, Floats]:
    """Walk from every pixel along *direction*: how soon its own edge is passed, and how soon a part in front.

    Returns: two maps from 0 (not within reach) to 1 (at once).
    """
    labels = grid.labels
    h, w = labels.shape
    reach_px = max(reach_px, 1.0)
    steps = int(np.clip(np.ceil(reach_px / 1.5), 3, 12))
    edge, covered = np.zeros(labels.shape, np.float32), np.zeros(labels.shape, np.float32)
    for k in range(steps):
        d = reach_px * (k + 0.5) / steps
        dx, dy = round(direction[0] * d), round(direction[1] * d)
        if dx == dy == 0:
            continue
        y0, y1, x0, x1 = max(0, -dy), min(h, h - dy), max(0, -dx), min(w, w - dx)
        if y1 <= y0 or x1 <= x0:
            break
        here, there = labels[y0:y1, x0:x1], labels[y0 + dy : y1 + dy, x0 + dx : x1 + dx]
        places = np.flatnonzero((here != there) & (here > 0))
        own, other = here.ravel()[places], there.ravel()[places]
        front = grid.in_front[own, other]
        y, x = places // (x1 - x0) + y0, places % (x1 - x0) + x0
        edge[y, x] += (1 - front) * (1 - 0.8 * grid.beside[own, other])
        covered[y, x] += front
    part = np.float32(1 / steps)
    return edge * part, covered * part


def _contact(grid: Grid, reach_px: float) -> Floats:
    """Where a part in front is near in any direction: 1 at its edge, 0 beyond reach."""
    total = np.zeros(grid.labels.shape, np.float32)
    for turn in range(8):
        angle = turn * np.pi / 4
        total += march(grid, (float(np.cos(angle)), float(np.sin(angle))), reach_px)[1]
    return np.asarray(np.clip(total / 3, 0, 1), dtype=np.float32)


def _line_tone(line: NDArray[Any]) -> NDArray[np.uint8]:
    if line.dtype == np.uint8:
        return np.ascontiguousarray(line, dtype=np.uint8)
    return np.asarray(np.round(np.clip(line, 0, 1) * 255), dtype=np.uint8)


def _near_line(line: NDArray[np.uint8], work: NDArray[np.int32], per_mm: float) -> NDArray[np.uint8]:
    """Darkest line within LINE_NEAR_MM of every working pixel."""
    import cv2

    radius = max(1, round(LINE_NEAR_MM * per_mm))
    near = cv2.dilate(line, np.ones((2 * radius + 1, 2 * radius + 1), np.uint8))
    h, w = work.shape
    return np.asarray(cv2.resize(near, (w, h), interpolation=cv2.INTER_NEAREST), np.uint8)


def _sampled(labels: NDArray[np.int32], step: float) -> NDArray[np.int32]:
    h, w = max(1, round(labels.shape[0] / step)), max(1, round(labels.shape[1] / step))
    y = np.minimum(((np.arange(h) + 0.5) * labels.shape[0] / h).astype(np.intp), labels.shape[0] - 1)
    x = np.minimum(((np.arange(w) + 0.5) * labels.shape[1] / w).astype(np.intp), labels.shape[1] - 1)
    return np.ascontiguousarray(labels[y[:, None], x[None, :]])


def _find_seams(
    full: NDArray[np.int32], line: NDArray[np.uint8], work: NDArray[np.int32]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Visible pixels beside a border, and the nearest working pixel of the same part to take the tone from.

    Scaling up mixes tones across borders; the line hides that, except where the line is open.
    """
    h, w = full.shape
    y_of = np.minimum(((np.arange(h) + 0.5) * work.shape[0] / h).astype(np.intp), work.shape[0] - 1)
    x_of = np.minimum(((np.arange(w) + 0.5) * work.shape[1] / w).astype(np.intp), work.shape[1] - 1)
    mixed = np.zeros(work.shape, bool)
    across, down = work[:, 1:] != work[:, :-1], work[1:] != work[:-1]
    mixed[:, 1:] |= across
    mixed[:, :-1] |= across
    mixed[1:] |= down
    mixed[:-1] |= down
    flat = np.flatnonzero(mixed[y_of[:, None], x_of[None, :]] & (line < 153) & (full > 0))
    y, x = y_of[flat // w], x_of[flat % w]
    source = y * work.shape[1] + x
    wanted = full.ravel()[flat]
    found = work[y, x] == wanted
    offsets = sorted(
        ((dy, dx) for dy in (-2, -1, 0, 1, 2) for dx in (-2, -1, 0, 1, 2)),
        key=lambda o: o[0] ** 2 + o[1] ** 2,
    )
    for dy, dx in offsets[1:]:
        yy, xx = np.clip(y + dy, 0, work.shape[0] - 1), np.clip(x + dx, 0, work.shape[1] - 1)
        better = ~found & (work[yy, xx] == wanted)
        source[better] = (yy * work.shape[1] + xx)[better]
        found |= better
    return flat[found].astype(np.int64), source[found].astype(np.int64)


def _solve(labels: NDArray[np.int32], closed: Floats, screen_px: float) -> Floats:
    """Solve for domes coarse to fine; conjugate gradients at each size."""
    import cv2

    if min(labels.shape) > 48:
        coarse = _solve(np.ascontiguousarray(labels[::2, ::2]), closed, screen_px / 2)
        h, w = labels.shape
        moved = np.array([[2, 0, 0], [0, 2, 0]], np.float32)  # pixel (i, j) was taken from (2 i, 2 j)
        wider = cv2.warpAffine(coarse, moved, (w, h), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        start = np.asarray(4 * wider, dtype=np.float32)
        rounds = 30
    else:
        start = np.zeros(labels.shape, np.float32)
        rounds = 80
    return _conjugate_gradients(labels, closed, screen_px, start, rounds)


def _conjugate_gradients(
    labels: NDArray[np.int32], closed: Floats, screen_px: float, start: Floats, rounds: int
) -> Floats:
    same_x = (labels[:, 1:] == labels[:, :-1]).astype(np.float32)
    same_y = (labels[1:] == labels[:-1]).astype(np.float32)
    inside = (labels > 0).astype(np.float32)
    diagonal = np.full(labels.shape, 1 / screen_px**2, np.float32)
    for own, other, seen in (
        (labels[:, :-1], labels[:, 1:], diagonal[:, :-1]),
        (labels[:, 1:], labels[:, :-1], diagonal[:, 1:]),
        (labels[:-1], labels[1:], diagonal[:-1]),
        (labels[1:], labels[:-1], diagonal[1:]),
    ):
        # the outline lies half a pixel away: twice the weight
        seen += np.where(own == other, np.float32(1), 2 * closed[own, other])

    def apply(z: Floats) -> Floats:
        out = diagonal * z
        out[:, 1:] -= same_x * z[:, :-1]
        out[:, :-1] -= same_x * z[:, 1:]
        out[1:] -= same_y * z[:-1]
        out[:-1] -= same_y * z[1:]
        return out

    z = start * inside
    scale = inside / diagonal
    rest = inside - apply(z) * inside
    along = scale * rest
    power = float(np.vdot(rest, along))
    first = max(float(np.vdot(inside, scale * inside)), 1e-12)
    for _ in range(rounds):
        if power < 1e-7 * first:
            break
        turned = apply(along) * inside
        length = power / max(float(np.vdot(along, turned)), 1e-20)
        z += np.float32(length) * along
        rest -= np.float32(length) * turned
        new = scale * rest
        power, before = float(np.vdot(rest, new)), power
        along = new + np.float32(power / before) * along
    return z


def _slopes(dome: Floats, labels: NDArray[np.int32]) -> tuple[Floats, Floats]:
    """Slopes of the dome within each part (one-sided at its border)."""
    slopes = []
    for axis in (1, 0):
        d = np.diff(dome, axis=axis)
        same = np.diff(labels, axis=axis) == 0
        d = np.where(same, d, 0)
        total, count = np.zeros_like(dome), np.zeros_like(dome)
        later = (slice(None), slice(1, None)) if axis else (slice(1, None), slice(None))
        earlier = (slice(None), slice(None, -1)) if axis else (slice(None, -1), slice(None))
        for place in (later, earlier):
            total[place] += d
            count[place] += same
        slopes.append(np.asarray(total / np.maximum(count, 1), dtype=np.float32))
    return slopes[0], slopes[1]
