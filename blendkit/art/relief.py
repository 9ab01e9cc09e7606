"""The round shape that each part of a line image suggests: a dome, open where a part in front overlaps it.

With it goes the way that hair, fur, petals and wood grow: roots lie where a part comes out from under
another; a part that lies under none grows from its top. Nothing here knows the light, so it is made once for
a picture and kept; only a flipped pair makes it again.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendkit.art.cast import Overlaps, find_overlaps
from blendkit.art.depth import ONE_SURFACE, Fronts, cast_strengths, count_parts
from blendkit.art.surfaces import Surfaces, find_surfaces
from blendkit.words import MM_PER_INCH

WORK_PIXELS = 260_000
"""Shading is worked out on at most this many pixels and scaled up; its slopes are millimetres wide."""

SCREEN_MM = 8.0
"""How far from its outline a dome keeps rising; beyond is a plateau (by eye, see tests/derive/README.md)."""

CONTACT_MM = 1.0
"""Width of the line of contact, from the middle of the drawn line: what shows of it is a hair's breadth."""

SMOOTH_MM = 0.6
"""How far a surface's slopes are evened out, so that the wobble of a pen makes no bump. Own judgement."""

GLIMPSE_MM = 2.5
"""A border so short, a glimpse between two things in front, bends no surface. Own judgement."""

LINE_NEAR_MM = 0.2
"""How near to a border its line is looked for. Own judgement."""

BESIDE_OPEN = 0.8
"""Share of the edge between two parts of one surface (stripes) that is left open."""

Floats = NDArray[np.float32]


FLICK_STEPS = 7
"""How far a flick is drawn out along the grain, in working pixels each way: 1 to 2 mm. Own judgement."""

SEED = 7
"""Any number: it fixes the noise from which flicks are drawn, so that pictures stay byte for byte the same."""


@dataclass(frozen=True)
class Grain:
    """Fields:
    along: 0 at the root of each part to 1 at its tip, float32, shape (h, w).
    flick: noise drawn out along the grain, about -1 to 1, float32, shape (h, w).
    """

    along: Floats
    flick: Floats


def find_grain(labels: NDArray[np.int32], dome: Floats, overlaps: Overlaps, parts: int) -> Grain:
    """Find root, tip and flicks of every part.

    Args:
        labels: part numbers, 0 outside, shape (h, w).
        dome: height of the parts, same shape.
        overlaps: where each part lies under others.
        parts: number of parts.

    Returns: a Grain.
    """
    h, w = labels.shape
    flat = labels.ravel()
    counts = np.bincount(flat, minlength=parts + 1)
    y, x = np.divmod(np.arange(flat.size, dtype=np.int64), w)
    top = np.full(parts + 1, float(h))
    np.minimum.at(top, flat, y)
    upper = y < top[flat] + 2
    root_y, root_x = top.copy(), _mean(flat[upper], x[upper], parts)
    shut = overlaps.distance < 1.5
    part, place = overlaps.part[shut], overlaps.place[shut]
    edge = np.bincount(part, minlength=parts + 1)
    under = edge > 0.15 * 2 * np.sqrt(np.pi * np.maximum(counts, 1))
    root_y[under], root_x[under] = (_mean(part, v, parts)[under] for v in (place // w, place % w))
    far = np.hypot(y - root_y[flat], x - root_x[flat])
    most = np.full(parts + 1, 1.0)
    np.maximum.at(most, flat, far)
    least = np.full(parts + 1, np.inf)
    np.minimum.at(least, flat, far)
    along = (far - least[flat]) / np.maximum(most - least, 1.0)[flat]
    pull_x, pull_y = (x - root_x[flat]).reshape(h, w), (y - root_y[flat]).reshape(h, w)
    return Grain(along.reshape(h, w).astype(np.float32), _flicks(dome, pull_x, pull_y))


def _mean(part: NDArray[Any], values: NDArray[Any], parts: int) -> NDArray[np.float64]:
    return np.bincount(part, values, parts + 1) / np.maximum(np.bincount(part, minlength=parts + 1), 1)


def _flicks(dome: Floats, pull_x: NDArray[Any], pull_y: NDArray[Any]) -> Floats:
    """Noise, drawn out along the grain by following it some steps each way.

    Source: line integral convolution, Cabral and Leedom 1993.
    """
    import cv2

    h, w = dome.shape
    noise = np.random.default_rng(SEED).standard_normal(dome.shape).astype(np.float32)
    length = np.maximum(np.hypot(pull_x, pull_y), 1)
    go_x, go_y = (pull_x / length).astype(np.float32), (pull_y / length).astype(np.float32)
    across, down = np.meshgrid(np.arange(w, dtype=np.float32), np.arange(h, dtype=np.float32))
    total = noise.copy()
    for k in range(1, FLICK_STEPS + 1):
        for sign in (-k, k):
            total += cv2.remap(
                noise,
                across + sign * go_x,
                down + sign * go_y,
                cv2.INTER_LINEAR,
                borderMode=cv2.BORDER_REFLECT,
            )
    return np.asarray(np.clip(total / (1.5 * float(total.std()) + 1e-6), -1, 1), dtype=np.float32)


@dataclass(frozen=True)
class Relief:
    """Domes of all parts on the working grid, with what a changed light needs.

    Fields:
        labels: part numbers on the working grid, 0 outside, shape (h, w), int32.
        units: the same where parts of one surface share its number: what is shaded as one.
        surfaces: which parts are one surface, and what is drawn on which.
        overlaps: the pixels near a part in front of their own.
        contact: thin shadow beside parts in front, from any side, 0 to 1.
        slope_x, slope_y, height: the surface, normal = (-slope_x, -slope_y, height) before scaling; float32. A
            surface runs on under what is drawn on it.
        grain: root to tip and flicks of each part, from `find_grain`.
        per_mm: working pixels to a millimetre.
        parts: how many parts there are, not counting the outside.
        full_labels: part numbers at full size, shape (H, W), int32.
        full_line: line tone at full size, 0 paper to 255 ink, uint8.
        seams, seam_source: pixels beside an open border, and the working pixels that they take their tone from.
    """

    labels: NDArray[np.int32]
    units: NDArray[np.int32]
    surfaces: Surfaces
    overlaps: Overlaps
    contact: Floats
    slope_x: Floats
    slope_y: Floats
    height: Floats
    grain: Grain
    per_mm: float
    parts: int
    full_labels: NDArray[np.int32]
    full_line: NDArray[np.uint8]
    seams: NDArray[np.int64] = field(repr=False)
    seam_source: NDArray[np.int64] = field(repr=False)

    @cached_property
    def moments(self) -> NDArray[np.float64]:
        """Middle (x, y) of each surface, its variances and covariance, in pixels; shape (5, parts + 1)."""
        return _moments(self.units, self.parts)

    @cached_property
    def moments_of_parts(self) -> NDArray[np.float64]:
        """The same of each part."""
        return _moments(self.labels, self.parts)


def _moments(labels: NDArray[np.int32], parts: int) -> NDArray[np.float64]:
    h, w = labels.shape
    flat = labels.ravel()
    x, y = np.tile(np.arange(w, dtype=np.float64), h), np.repeat(np.arange(h, dtype=np.float64), w)
    number = np.maximum(np.bincount(flat, minlength=parts + 1), 1)
    mean = [np.bincount(flat, v, parts + 1) / number for v in (x, y, x * x, y * y, x * y)]
    return np.stack([*mean[:2], mean[2] - mean[0] ** 2, mean[3] - mean[1] ** 2, mean[4] - mean[0] * mean[1]])


def find_relief(
    labels: NDArray[Any],
    line: NDArray[Any],
    fronts: Fronts,
    dpi: float,
    owner: NDArray[Any] | None = None,
    raised: Iterable[int] = (),
    flat: Iterable[int] = (),
) -> Relief:
    """Raise a dome over every part.

    Each dome solves a screened Poisson equation: it is zero on the part's own outline, and level (free) where a
    part in front overlaps it, so that an overlapped part keeps its roundness behind the overlap. A doubtful front
    opens the edge only in part. Eyes, cheeks and the like are filled first, so the surface runs on under them.

    Args:
        labels: 0 outside, 1.. parts, shape (h, w).
        line: line tone, uint8 to 255 or float to 1 (ink), shape (h, w).
        fronts: which of two touching parts lies in front, from `find_fronts`.
        dpi: dots per inch of *labels*.
        owner: for each part a number that those share which are coloured alike, 0 for none; shape (parts + 1,).
        flat: parts that are drawn on the surface that shuts them in, however large, such as a muzzle.
        raised: parts that stand out from what they are drawn on, such as a nose, and cast a short shadow.

    Returns: a Relief.
    Raises: PictureError when there are more parts than MOST_PARTS of `blendkit.art.depth`.
    Source: inflation by a Poisson equation is common practice in sketch modelling; the free edges are our own.
    """
    full = np.ascontiguousarray(labels, dtype=np.int32)
    parts = count_parts(full)
    tone = _line_tone(line)
    step = max(1.0, float(np.sqrt(full.size / WORK_PIXELS)))
    work = _sampled(full, step)
    per_mm = dpi / MM_PER_INCH / step
    near_line = _near_line(tone, work, dpi / MM_PER_INCH)
    stripes = fronts.pairs[fronts.beside > ONE_SURFACE]
    surfaces = find_surfaces(
        work, near_line, per_mm, np.zeros(parts + 1, int) if owner is None else owner, stripes.tolist(), flat
    )
    inlaid = surfaces.under > 0
    units, filled = surfaces.of[work].astype(np.int32), surfaces.filled[work].astype(np.int32)
    closed = _closed_edges(fronts, surfaces, parts)
    dome = _solve(filled, closed, SCREEN_MM * per_mm)
    slope_x, slope_y = _slopes(dome, filled)
    on_top = inlaid[work]
    if on_top.any():
        small = _solve(np.where(on_top, units, 0).astype(np.int32), closed, SCREEN_MM * per_mm)
        small_x, small_y = _slopes(small, units)
        dome, slope_x, slope_y = (
            np.where(on_top, over, under)
            for over, under in ((small, dome), (small_x, slope_x), (small_y, slope_y))
        )
    slope_x, slope_y = smooth_within(np.stack([slope_x, slope_y]), units, SMOOTH_MM * per_mm)
    strength = cast_strengths(fronts, parts)
    stands = np.zeros(parts + 1, bool)
    stands[list(raised)] = True
    strength[:, inlaid & ~stands] = 0  # what is drawn flat on a surface keeps no light off it
    strength[surfaces.of[:, None] == surfaces.of] = 0  # nor one half of a surface off the other
    overlaps = find_overlaps(work, strength, inlaid & stands, per_mm)
    contact = np.zeros(work.shape, np.float32)
    contact.ravel()[overlaps.place] = overlaps.strength * np.clip(
        1 - overlaps.distance / (CONTACT_MM * per_mm), 0, 1
    )
    seams, source = _find_seams(full, tone, work)
    return Relief(
        work,
        units,
        surfaces,
        overlaps,
        contact,
        slope_x,
        slope_y,
        np.sqrt(np.maximum(dome, 0)),
        find_grain(work, dome, overlaps, parts),
        per_mm,
        parts,
        full,
        tone,
        seams,
        source,
    )


def smooth_within(values: Floats, labels: NDArray[np.int32], sigma_px: float) -> Floats:
    """Blur some maps, shape (k, h, w), within each part only.

    Source: the recursive filter of Gastal and Oliveira 2011 ("Domain transform for edge-aware image processing"),
    with part borders as walls.
    """
    if sigma_px < 0.3:
        return values
    passes = 2
    # rows first, then columns: the axis that is walked along comes first, the maps lie side by side
    out = np.ascontiguousarray(values.transpose(1, 0, 2), dtype=np.float32)  # (h, k, w)
    for k in range(passes):
        sigma = sigma_px * np.sqrt(3) * 2 ** (passes - 1 - k) / np.sqrt(4**passes - 1)
        feed = np.float32(np.exp(-np.sqrt(2) / sigma))
        for part in (labels, labels.T):
            keep = np.where(part[1:] == part[:-1], feed, np.float32(0))[:, None]
            for i in range(1, len(out)):
                out[i] += keep[i - 1] * (out[i - 1] - out[i])
            for i in range(len(out) - 2, -1, -1):
                out[i] += keep[i] * (out[i + 1] - out[i])
            out = np.ascontiguousarray(out.transpose(2, 1, 0))
    return np.ascontiguousarray(out.transpose(1, 0, 2))


def _closed_edges(fronts: Fronts, surfaces: Surfaces, parts: int) -> Floats:
    """How closed a dome (row) is toward each surface that it meets (column), 0 open to 1; by length of border."""
    total = np.zeros((parts + 1, parts + 1), np.float32)
    length = np.zeros_like(total)
    if len(fronts.pairs):
        a, b = fronts.pairs.T
        one, other = surfaces.of[a], surfaces.of[b]
        lean = (2 * fronts.first_in_front - 1) * (1 - fronts.beside)
        shown = fronts.border_mm > GLIMPSE_MM
        for over, row, column in ((lean, other, one), (-lean, one, other)):
            shut = shown * (1 - np.clip(over, 0, 1)) * (1 - BESIDE_OPEN * fronts.beside)
            np.add.at(total, (row, column), fronts.border_mm * shut)
        for places in ((one, other), (other, one)):
            np.add.at(length, places, fronts.border_mm)
    return np.where(length > 0, total / np.maximum(length, 1e-9), 1).astype(np.float32)


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
