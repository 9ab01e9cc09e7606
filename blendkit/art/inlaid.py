"""Small areas that are drawn on the surface around them, such as an eye, a cheek or the glass of spectacles.

They lie in front, but flat: they hardly press a shadow on what they are drawn on.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendkit.art.depth import find_enclosed

INLAID_MM2 = 60.0
INLAID_SHARE = 0.25
"""An area smaller than this, and than this share of the surface that shuts it in, is drawn on that surface."""

INLAID_SHADOW = 0.08
"""Share of its shadow that such an area keeps on that surface. All three chosen by eye on the examples."""

OPEN_MM = 0.3
OPEN_SHARE = 0.5
DARK_LINE = 100
"""Two areas are one surface where a line between them leaves a gap: so much of their border at least, and so large
a share of it at most, has no line as dark as this (of 255)."""


def find_inlaid(labels: NDArray[np.int32], line: NDArray[np.uint8], per_mm: float) -> NDArray[np.int64]:
    """Find the areas that are drawn on a surface.

    An area counts with all that it shuts in; several in a row, such as the two lights of an eye that meet in its
    black, are each shut in by the face. A surface may be several areas, parted only where a line leaves a gap:
    forehead and cheeks, at the temples of spectacles.

    Args:
        labels: 0 outside, 1.. areas, shape (h, w).
        line: darkest line near each pixel, 0 paper to 255 ink, shape (h, w).
        per_mm: pixels to a millimetre.

    Returns: pairs (area of the surface, area drawn on it), shape (n, 2).
    """
    size = int(labels.max(initial=0)) + 1
    low, high, bare = _borders(labels, line)
    if not len(low):
        return np.empty((0, 2), np.int64)
    surface = _join_open(low, high, bare, size, OPEN_MM * per_mm)
    one, other = surface[low], surface[high]
    apart = one != other
    within = find_enclosed(one[apart], other[apart], size - 1)
    counts = np.bincount(surface[labels.ravel()], minlength=size)
    held = counts + within.T.astype(np.int64) @ counts  # with all that it shuts in
    depth = within.sum(axis=1)
    found: list[tuple[int, int]] = []
    for area in np.flatnonzero(depth):
        around = np.flatnonzero(within[area])
        nearest = around[np.argmax(depth[around])]
        if held[area] < min(INLAID_MM2 * per_mm**2, INLAID_SHARE * counts[nearest]):
            members, own = np.flatnonzero(surface == nearest), np.flatnonzero(surface == area)
            found += [(int(b), int(a)) for b in members for a in own]
    return np.array(found, np.int64).reshape(-1, 2)


def _borders(
    labels: NDArray[np.int32], line: NDArray[np.uint8]
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.bool_]]:
    """Every step between two areas: the smaller number, the larger, and whether no line is near."""
    lows, highs, bares = [], [], []
    for here, there, near in (
        (labels[:, :-1], labels[:, 1:], line[:, :-1]),
        (labels[:-1], labels[1:], line[:-1]),
    ):
        edge = here != there
        one, other = here[edge].astype(np.int64), there[edge].astype(np.int64)
        lows.append(np.minimum(one, other))
        highs.append(np.maximum(one, other))
        bares.append(near[edge] < DARK_LINE)
    return np.concatenate(lows), np.concatenate(highs), np.concatenate(bares)


def _join_open(
    low: NDArray[np.int64], high: NDArray[np.int64], bare: NDArray[np.bool_], size: int, least_px: float
) -> NDArray[np.int64]:
    """For each area the number of the surface that it belongs to."""
    surface = np.arange(size)
    inner = low > 0
    keys, pair = np.unique(low[inner] * size + high[inner], return_inverse=True)
    gap = np.bincount(pair, bare[inner], len(keys))
    joined = (gap >= least_px) & (gap <= OPEN_SHARE * np.bincount(pair, minlength=len(keys)))
    for key in keys[joined].tolist():
        one, other = surface[key // size], surface[key % size]
        surface[surface == max(one, other)] = min(one, other)
    return surface


def press(in_front: NDArray[Any], inlaid: NDArray[np.int64]) -> NDArray[np.float32]:
    """Certainty that the column's area presses a shadow on the row's: little where it is drawn on it."""
    pressed = np.array(in_front, np.float32)
    pressed[inlaid[:, 0], inlaid[:, 1]] *= np.float32(INLAID_SHADOW)
    return pressed
