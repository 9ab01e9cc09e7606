"""A second look at the ends of lines that found nothing to join.

An end whose line stops at a corner, or whose stub points nowhere, has no partner ahead of it. The eye still sees
the gap: the way to the nearest ink is short beside the white on either hand. Each such end's ways to other ends
and to the ink around are weighed by how short, straight and squarely met they are, how broken the end looks and
how open both sides are; a logistic fit (tests/derive/fit_second_look.py) says which are joins.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blendkit.art.closures import (
    Closure,
    Points,
    Tips,
    closure_along,
    crosses_ink,
    draw_closures,
    first_hits,
    ink_at,
    on_spots,
    samples,
    turned,
)

REACH = 2.0
"""How far an end looks, in times of the widest gap."""

TURNS = np.radians(np.arange(-110.0, 111.0, 10.0))
TURN_COST = 1.5
"""Directions in which an end looks, from its own; how much longer turning aside makes a way count."""

THIN_PAIR = 0.6
"""No two ends are joined of which one is thinner than so many pens: a vein's end looks at a leaf's notch."""

WAYS = 3
"""So many ways of one end are weighed, besides the one straight ahead."""

FAN = np.radians([-60.0, -30.0, 0.0, 30.0, 60.0])
FAN_REACH = 3.0
"""Directions, from square to a way, in which the white beside it is measured; how far, in widest gaps."""

FEATURES = (
    "log length in pens", "length in gaps to 1", "length in gaps over 1", "ahead", "length aside", "two ends",
    "other ahead", "same direction", "blunt", "blunt by length", "thin to 0.7", "thick over 0.7", "log body",
    "narrower side", "wider side", "narrowest", "squarely met", "runs on",
)  # fmt: skip
WEIGHTS = (
    0.391, -1.617, -2.321, -0.472, -0.265, 0.589, 1.914, -1.131, 3.511, -0.607, 1.995, 1.14, 0.527, 0.927, 0.279,
    -1.022, -1.362, 0.463,
)  # fmt: skip
OFFSET = -6.161
LIKELY = 0.4
"""Weights of the features, the constant, and how likely a way must be to count as a join."""


@dataclass(frozen=True, slots=True, eq=False)
class Ways:
    """Straight ways from ends of lines to other ink.

    first (n,): the end that a way starts from. second (n,): the end that it leads to, -1 where it leads to the
    side of a line. path (n, 2, 2): its two ends as (x, y). features (n, k): see FEATURES.
    """

    first: NDArray[np.intp]
    second: NDArray[np.intp]
    path: Points
    features: Points

    @property
    def likelihood(self) -> Points:
        """(n,), 0 to 1: how likely each way is a join that the drawer meant."""
        return np.asarray(1 / (1 + np.exp(-(self.features @ np.array(WEIGHTS) + OFFSET))), np.float64)


def look_again(
    mask: NDArray[np.uint8],
    tips: Tips,
    body_px: Points,
    pen_px: float,
    gap_px: float,
    closures: Iterable[Closure],
) -> tuple[Closure, ...]:
    """Join the ends that *closures* leave open to what they most likely led to.

    Args:
        mask: uint8 (h, w), not 0 where ink.
        tips: the ends of lines. body_px (n,): area of the ink that each belongs to.
        pen_px, gap_px: usual width of a line; widest gap to close.
        closures: the joins found already.

    Returns: the further joins, the likeliest first.
    """
    closures = tuple(closures)
    if len(tips.at) == 0 or gap_px <= 0:
        return ()
    held = np.array(
        [end for c in closures for end in ((c.start_px,) if c.kind == "ray" else (c.start_px, c.end_px))]
    )
    free = ~on_spots(tips, body_px, pen_px)
    if len(held):
        free &= np.hypot(*(tips.at[:, None] - held[None]).transpose(2, 0, 1)).min(1) > 1.0
    ways = find_ways(mask, tips, body_px, pen_px, gap_px, free)
    likelihood = ways.likelihood
    drawn = np.zeros_like(mask)
    draw_closures(drawn, closures)
    found: list[Closure] = []
    for k in np.argsort(-likelihood, kind="stable"):
        if likelihood[k] < LIKELY:
            break
        ends = [i for i in (ways.first[k], ways.second[k]) if i >= 0]
        if not free[ends].all() or ink_at(drawn, samples(ways.path[k])[2:-2]).any():
            continue
        free[ends] = False
        found.append(closure_along(ways.path[k], "segment" if ways.second[k] >= 0 else "ray"))
        draw_closures(drawn, found[-1:])
    return tuple(found)


def find_ways(
    mask: NDArray[np.uint8],
    tips: Tips,
    body_px: Points,
    pen_px: float,
    gap_px: float,
    free: NDArray[np.bool_],
) -> Ways:
    """The ways from the *free* (n,) ends to one another and to the ink around, with what speaks for each."""
    pairs = _pairs(mask, tips, REACH * gap_px, free)
    rays, hits = _rays(mask, tips, REACH * gap_px, np.flatnonzero(free))
    first = np.concatenate([pairs[:, 0], rays])
    second = np.concatenate([pairs[:, 1], np.full(len(rays), -1)])
    path = np.stack([tips.at[first], np.concatenate([tips.at[pairs[:, 1]], hits])], 1)
    return Ways(first, second, path, _features(mask, tips, body_px, pen_px, gap_px, first, second, path))


def _pairs(mask: NDArray[np.uint8], tips: Tips, reach: float, free: NDArray[np.bool_]) -> NDArray[np.intp]:
    """(n, 2), free ends with nothing between that do not turn their backs; first the one that looks better."""
    from scipy.spatial import cKDTree

    at = np.flatnonzero(free & (tips.thick >= THIN_PAIR))
    found = []
    for one, two in at[cKDTree(tips.at[at]).query_pairs(reach, output_type="ndarray")].tolist():
        across = tips.at[two] - tips.at[one]
        unit = across / max(float(np.hypot(*across)), 1e-6)
        ahead, back = float(tips.direction[one] @ unit), float(-tips.direction[two] @ unit)
        if min(ahead, back) >= -0.5 and not crosses_ink(mask, tips.at[[one, two]]):
            found.append((one, two) if ahead >= back else (two, one))
    return np.array(found, np.intp).reshape(-1, 2)


def _rays(
    mask: NDArray[np.uint8], tips: Tips, reach: float, of: NDArray[np.intp]
) -> tuple[NDArray[np.intp], Points]:
    """The best ways of some ends to the ink around: whose (n,), and where they meet it (n, 2)."""
    if len(of) == 0:
        return np.zeros(0, np.intp), np.zeros((0, 2))
    cosine = np.cos(TURNS)
    aims = turned(tips.direction[of], TURNS)
    lengths = first_hits(mask, tips.at[of], aims, reach)
    cost = lengths * (1 + TURN_COST * (1 - cosine))
    padded = np.pad(cost, ((0, 0), (1, 1)), constant_values=np.inf)
    best = np.where((cost <= padded[:, :-2]) & (cost <= padded[:, 2:]), cost, np.inf)
    chosen = np.argsort(best, axis=1, kind="stable")[:, :WAYS]
    taken = np.zeros(cost.shape, np.bool_)
    np.put_along_axis(taken, chosen, True, axis=1)
    taken &= np.isfinite(best)
    straight_on = len(TURNS) // 2
    taken[:, straight_on] = np.isfinite(lengths[:, straight_on])
    whose, turn = np.nonzero(taken)
    return of[whose], tips.at[of[whose]] + aims[whose, turn] * (lengths[whose, turn] + 0.5)[:, None]


def _features(
    mask: NDArray[np.uint8], tips: Tips, body_px: Points, pen_px: float, gap_px: float,
    first: NDArray[np.intp], second: NDArray[np.intp], path: Points,
) -> Points:  # fmt: skip
    across = path[:, 1] - path[:, 0]
    length = np.maximum(np.hypot(*across.T), 0.5)
    unit = across / length[:, None]
    pair = (second >= 0).astype(np.float64)
    gaps = length / gap_px
    ahead = np.einsum("ij,ij->i", tips.direction[first], unit)
    other = -np.einsum("ij,ij->i", tips.direction[second], unit)
    same = np.einsum("ij,ij->i", tips.direction[first], tips.direction[second])
    blunt = np.clip(tips.blunt[first], 0.4, 1.1)
    thick = np.minimum(tips.thick[first], 1.3)
    body = np.clip(np.log(np.maximum(body_px[first], 1.0) / pen_px**2), 0.0, 3.0)
    open_ = [
        _open(mask, path.mean(1), sign * unit[:, ::-1] * [-1.0, 1.0], FAN_REACH * gap_px)
        for sign in (1.0, -1.0)
    ]
    middle = np.stack([np.median(side, axis=1) for side in open_])
    narrowest = np.concatenate(open_, axis=1).min(1, initial=np.inf)
    return np.column_stack([
        np.log(length / pen_px), np.minimum(gaps, 1), np.maximum(gaps - 1, 0), ahead, gaps * ahead, pair,
        pair * other, pair * same, blunt, blunt * gaps, np.minimum(thick, 0.7),
        np.maximum(thick - 0.7, 0), body,
        np.clip(np.log(middle.min(0) / length), -1, 2), np.clip(np.log(middle.max(0) / length), -1, 2.5),
        np.clip(np.log(narrowest / length), -2, 1), (1 - pair) * _squareness(mask, path[:, 1], unit, pen_px),
        _beyond(mask, path[:, 1], unit, pen_px),
    ])  # fmt: skip


def _open(mask: NDArray[np.uint8], at: Points, ahead: Points, reach: float) -> Points:
    """(n, k): how far the white runs from each place in a fan of directions around *ahead* (n, 2), in pixels."""
    steps = np.arange(1.0, reach + 1.0)
    ink = ink_at(mask, at[:, None, None] + steps[:, None] * turned(ahead, FAN)[:, :, None])
    return np.asarray(np.where(ink.any(-1), steps[ink.argmax(-1)], steps[-1]), np.float64)


def _beyond(mask: NDArray[np.uint8], hit: Points, unit: Points, pen_px: float) -> Points:
    """(n,), how far the ink runs on straight beyond where each way meets it, in pens, at most 4."""
    steps = np.arange(1.0, 4.0 * pen_px + 1.0)
    white = ~ink_at(mask, hit[:, None] + steps[:, None] * unit[:, None])
    return np.asarray(np.where(white.any(-1), white.argmax(-1), len(steps)) / pen_px, np.float64)


def _squareness(mask: NDArray[np.uint8], hit: Points, unit: Points, pen_px: float) -> Points:
    """(n,), the cosine between each way and where the ink lies that it meets: 1 where it meets a line squarely."""
    reach = int(np.ceil(pen_px))
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1].reshape(2, -1)
    within = x**2 + y**2 <= reach**2
    disc = np.column_stack([x[within], y[within]]).astype(np.float64)
    pull = ink_at(mask, np.round(hit)[:, None] + disc) @ disc
    return np.asarray(np.einsum("ij,ij->i", pull, unit) / np.maximum(np.hypot(*pull.T), 1e-6), np.float64)
