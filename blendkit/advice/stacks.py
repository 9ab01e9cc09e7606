"""Two markers, one laid over the other, whose colour comes near a wanted one."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from blendkit.colour import delta_e_2000
from blendkit.inked import Inked

Floats = NDArray[np.float64]

_AT_ONCE = 20_000
"""Stacks predicted at once, so that the working arrays stay within some 40 MB."""
_LIGHTNESS_WEIGHT, _CHROMA_WEIGHT = 1.75, 0.045
"""Largest weight of L*, and weight a unit of chroma, by which CIEDE2000 shortens a difference (CIE 142-2001)."""
_ROUND = 1.3
"""What the rotation term of CIEDE2000 may add to that; own judgement, on the safe side."""


def widest_step(labs: Floats, delta_e: float) -> float:
    """Longest Euclidean step in Lab, among colours (n, 3), that a CIEDE2000 of *delta_e* can hide."""
    chroma = float(np.hypot(labs[:, 1], labs[:, 2]).max(initial=0.0))
    reach = delta_e * (1.0 + _CHROMA_WEIGHT * (chroma + delta_e)) * _ROUND
    return float(np.hypot(reach, delta_e * _LIGHTNESS_WEIGHT))


@dataclass(frozen=True)
class Stacks:
    """Stacks near a colour, nearest first.

    Args:
        rows: markers, the one laid first before the other, shape (n, 2).
        lab: colours that come out, shape (n, 3).
        delta: CIEDE2000 to the wanted colour, shape (n,).
    """

    rows: NDArray[np.intp] = field(repr=False)
    lab: Floats = field(repr=False)
    delta: Floats = field(repr=False)


def find_stacks(inked: Inked, lab: Floats, tolerance: float, most: int) -> Stacks:
    """Find the stacks of two markers, or two coats of one, that come nearest to a colour.

    The lighter is laid first (common practice, no source). Ink that absorbs only darkens, in every band; so
    a marker that is darker than wanted to any of the three cones can't be in a stack, and is left out.

    Args:
        inked: the drawer on its paper.
        lab: the colour, shape (3,).
        tolerance: CIEDE2000 that a stack may be off, above 0.
        most: how many at most.

    Returns: stacks, nearest first.
    """
    reach = widest_step(lab[None], tolerance)
    room = np.array([tolerance * _LIGHTNESS_WEIGHT, reach, reach])
    # (L* + 16) / 116, with a* / 500 added or b* / 200 taken off: the cube roots of Y, X and Z.
    roots = np.array([[1.0, 0.0, 0.0], [1.0, 116.0 / 500.0, 0.0], [1.0, 0.0, -116.0 / 200.0]]).T
    least = lab @ roots - room @ np.abs(roots)
    rows = np.flatnonzero((inked.lab @ roots >= least).all(axis=1))
    rows = rows[np.argsort(-inked.lab[rows, 0], kind="stable")]
    first, second = np.triu_indices(len(rows))  # the lighter first, and twice the same
    kept: list[tuple[NDArray[np.intp], Floats, Floats]] = []
    for start in range(0, len(first), _AT_ONCE):
        part = slice(start, start + _AT_ONCE)
        pairs = np.stack([rows[first[part]], rows[second[part]]], axis=1)
        made = inked.lab_after(inked.lay(pairs))[:, -1]
        off = delta_e_2000(lab, made)
        near = np.flatnonzero(off <= tolerance)
        near = near[np.argsort(off[near], kind="stable")][:most]
        kept.append((pairs[near], made[near], off[near]))
    if not kept:
        return Stacks(np.zeros((0, 2), dtype=np.intp), np.zeros((0, 3)), np.zeros(0))
    off = np.concatenate([part[2] for part in kept])
    order = np.argsort(off, kind="stable")[:most]
    return Stacks(
        np.concatenate([part[0] for part in kept])[order],
        np.concatenate([part[1] for part in kept])[order],
        off[order],
    )
