"""Areas that are drawn on the surface around them, such as an eye, a cheek, a button or the glass of spectacles.

They lie in front, but flat: the surface runs on under them, and they press no shadow on it unless they are raised.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendkit.art.depth import find_enclosed

INLAID_MM2 = 60.0
INLAID_SHARE = 0.25
"""An area smaller than this, and than this share of the surface that shuts it in, is drawn on that surface. Chosen
by eye on the examples."""

OPEN_MM = 0.3
OPEN_SHARE = 0.5
DARK_LINE = 100
"""Two areas are one surface where a line between them leaves a gap: so much of their border at least, and so large
a share of it at most, has no line as dark as this (of 255). Own judgement."""


@dataclass(frozen=True)
class Surfaces:
    """Which areas make up one surface, and what is drawn on which.

    Args:
        of: for each area its surface, called by the smallest number in it; shape (parts + 1,).
        under: for each area the surface that it is drawn on, 0 for none; shape (parts + 1,).
    """

    of: NDArray[np.int64]
    under: NDArray[np.int64]

    @property
    def filled(self) -> NDArray[np.int64]:
        """For each area the surface that runs on under it: its own where it is drawn on none."""
        return np.where(self.under > 0, self.under, self.of)


def find_surfaces(
    labels: NDArray[np.int32],
    line: NDArray[np.uint8],
    per_mm: float,
    owner: NDArray[Any] | None = None,
    stripes: Iterable[tuple[int, int]] = (),
    flat: Iterable[int] = (),
) -> Surfaces:
    """Find surfaces and what is drawn on them.

    An area counts with all that it shuts in; several in a row, such as the two lights of an eye that meet in its
    black, are each shut in by the face. A surface may be several areas, parted only where a line leaves a gap:
    forehead and cheeks, at the temples of spectacles. What is drawn on a surface and coloured with it (the skin
    behind a lens) is of that surface.

    Args:
        labels: 0 outside, 1.. areas, shape (h, w).
        line: darkest line near each pixel, 0 paper to 255 ink, shape (h, w).
        per_mm: pixels to a millimetre.
        owner: for each area a number that those share which are coloured alike, 0 for none; shape (areas + 1,).
        stripes: pairs of areas known to be of one surface, such as the stripes of a scarf.
        flat: areas that are drawn on the surface that shuts them in, however large.

    Returns: Surfaces.
    """
    size = int(labels.max(initial=0)) + 1 if owner is None else len(owner)
    low, high, bare = _borders(labels, line)
    under = np.zeros(size, np.int64)
    if not len(low):
        return Surfaces(np.arange(size), under)
    surface = _join_open(low, high, bare, size, OPEN_MM * per_mm)
    one, other = surface[low], surface[high]
    apart = one != other
    within = find_enclosed(one[apart], other[apart], size - 1)
    counts = np.bincount(surface[labels.ravel()], minlength=size)
    held = counts + within.T.astype(np.int64) @ counts  # with all that it shuts in
    depth = within.sum(axis=1)
    drawn, known = np.zeros(size, np.int64), set(surface[list(flat)].tolist())
    for area in np.flatnonzero(depth):
        around = np.flatnonzero(within[area])
        nearest = around[np.argmax(depth[around])]
        small = held[area] < min(INLAID_MM2 * per_mm**2, INLAID_SHARE * counts[nearest])
        if small or area in known:
            drawn[area] = nearest
    for one_stripe, another in stripes:
        if not drawn[surface[one_stripe]] and not drawn[surface[another]]:
            low_, high_ = sorted((int(surface[one_stripe]), int(surface[another])))
            surface[surface == high_] = low_
    # outermost first: what an inlaid area shuts in is filled with it
    for inner in sorted(np.flatnonzero(depth).tolist(), key=lambda a: int(depth[a])):
        around = np.flatnonzero(within[inner])
        outer = around[np.argmax(depth[around])]
        host = int(under[outer] or surface[drawn[inner]])
        members = surface == inner
        if host and owner is not None and owner[inner] and owner[inner] == owner[host]:
            surface[members] = host
        elif host:
            under[members] = host
    return Surfaces(surface, under)


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
