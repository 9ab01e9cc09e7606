"""Two markers, one laid over the other, whose colour comes near a wanted one."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from blendkit.colour import WHITE_D50, delta_e_2000, xyz1_to_lab
from blendkit.inked import Inked
from blendkit.spectrum import white_xyz1

Floats = NDArray[np.float64]

_AT_ONCE, _EXACT_AT_ONCE = 100_000, 4_000
"""Stacks looked at together, roughly and exactly, so that the working arrays stay within some 40 MB."""
_ROUGH = 0.1
"""CIEDE2000 by which a rough colour may be off: a hundred times what was seen (tests/test_stacks.py)."""
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


def find_stacks(inked: Inked, labs: Floats, tolerances: Floats, most: int) -> list[Stacks]:
    """Find the stacks of two markers, or two coats of one, that come nearest to each of some colours.

    The lighter is laid first (common practice, no source). Ink that absorbs only darkens, in every band; so
    a marker that is darker than wanted to any of the three cones can't be in a stack, and is left out. All other
    stacks are looked at roughly, those that may be among the nearest exactly.

    Args:
        inked: the drawer on its paper.
        labs: the colours, shape (k, 3).
        tolerances: CIEDE2000 that a stack may be off, above 0, shape (k,).
        most: how many for each colour at most.

    Returns: for each colour its stacks, nearest first.
    """
    rows = _light_enough(inked, labs, tolerances)
    rows = rows[np.argsort(-inked.lab[rows, 0], kind="stable")]
    likely = [_Likely(lab, tolerance, most) for lab, tolerance in zip(labs, tolerances, strict=True)]
    begun: list[tuple[NDArray[np.intp], NDArray[np.float32]]] = []
    for place, under in enumerate(rows.tolist()):
        overs = rows[place + 1 :]
        pairs = np.stack([np.full(len(overs), under, dtype=np.intp), overs], axis=1)
        begun.append((pairs, inked.quick.xyz1(under, overs)))
        if place == len(rows) - 1 or sum(len(pairs) for pairs, _ in begun) > _AT_ONCE:
            pairs, xyz1 = (np.concatenate(parts) for parts in zip(*begun, strict=True))
            made = xyz1_to_lab(xyz1 / white_xyz1("D50", 2) * WHITE_D50)
            for one in likely:
                one.add(pairs, made)
            begun = []
    twice = np.stack([rows, rows], axis=1)
    return [_exactly(inked, one, np.concatenate([twice, one.pairs]), rows) for one in likely]


def _light_enough(inked: Inked, labs: Floats, tolerances: Floats) -> NDArray[np.intp]:
    """Rows of the markers that may lie in a stack for one of the colours."""
    # (L* + 16) / 116, with a* / 500 added or b* / 200 taken off: the cube roots of Y, X and Z.
    roots = np.array([[1.0, 0.0, 0.0], [1.0, 116.0 / 500.0, 0.0], [1.0, 0.0, -116.0 / 200.0]]).T
    enough = np.zeros(len(inked.lab), dtype=bool)
    for lab, tolerance in zip(labs, tolerances, strict=True):
        reach = widest_step(lab[None], tolerance)
        room = np.array([tolerance * _LIGHTNESS_WEIGHT, reach, reach])
        enough |= (inked.lab @ roots >= lab @ roots - room @ np.abs(roots)).all(axis=1)
    return np.flatnonzero(enough)


class _Likely:
    """The pairs that may be among the nearest to one colour, by their rough colours."""

    def __init__(self, lab: Floats, tolerance: float, most: int) -> None:
        self.lab, self.tolerance, self.most = lab, float(tolerance), most
        self.pairs, self._off = np.zeros((0, 2), dtype=np.intp), np.zeros(0)
        reach = widest_step(lab[None], tolerance)
        self._room = np.array([tolerance * _LIGHTNESS_WEIGHT, reach, reach]) + _ROUGH

    def add(self, pairs: NDArray[np.intp], made: Floats) -> None:
        """Look at more pairs, shape (n, 2), of the rough colours *made*, and forget those that can't be."""
        near = np.flatnonzero((np.abs(made - self.lab) <= self._room).all(axis=1))
        off = np.concatenate([self._off, delta_e_2000(self.lab, made[near])])
        both = np.concatenate([self.pairs, pairs[near]])
        limit = self.tolerance + _ROUGH
        if len(off) > self.most:
            limit = min(limit, float(np.partition(off, self.most - 1)[self.most - 1]) + 2 * _ROUGH)
        self.pairs, self._off = both[off <= limit], off[off <= limit]


def _exactly(inked: Inked, likely: _Likely, pairs: NDArray[np.intp], rows: NDArray[np.intp]) -> Stacks:
    """Work the likely pairs out exactly, and give the nearest; of equals, the lighter first."""
    place = np.zeros(len(inked.lab), dtype=np.intp)
    place[rows] = np.arange(len(rows))
    pairs = pairs[np.lexsort((place[pairs[:, 1]], place[pairs[:, 0]]))]
    made = np.zeros((len(pairs), 3))
    for start in range(0, len(pairs), _EXACT_AT_ONCE):
        part = slice(start, start + _EXACT_AT_ONCE)
        made[part] = inked.lab_after(inked.lay(pairs[part]))[:, -1]
    off = delta_e_2000(likely.lab, made)
    order = np.argsort(off, kind="stable")
    order = order[off[order] <= likely.tolerance][: likely.most]
    return Stacks(pairs[order], made[order], off[order])
