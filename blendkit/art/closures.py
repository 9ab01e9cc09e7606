"""Close the small gaps that a pen or a stamp leaves in its lines.

Ends of lines are found as places where the outline of the ink turns right round. Two ends that face one
another are joined by a curve that leaves each along its line, or by a straight segment when they all but
touch; an end that faces no other sends a short ray ahead to the line that it would have met.

Source: the idea of S. Fourey, D. Tschumperlé and D. Revoy, "A fast and efficient semi-guided algorithm for
flat coloring line-arts", Vision, Modeling and Visualization 2018; written anew.
"""

import itertools
import math
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

GAP_PEN_WIDTHS = 1.6
"""Widest gap that is closed, in widths of the pen, when nothing else is said."""

TIP_SCALES = np.array([0.65, 1.0, 1.7])
"""Widths at which ends of lines are looked for, in widths of the pen."""

FACING = (0.0, 0.5, 0.9)
FACING_REACH = (0.7, 1.2, 1.8)
"""Two ends are joined across this many times the widest gap, by the mean cosine between each and the join."""

BLUNT = (0.7, 0.88)
BLUNT_REACH = (0.25, 1.65)
"""A ray reaches this many times the widest gap, by the bluntness of its tip."""

LOOSE_PEN_AREAS = 15.0
LOOSE_REACH = 0.5
"""A tick that hangs free, of so many squares of the pen's width, reaches only this share as far: it is a mark."""

SPOT_PEN_AREAS, SPOT_THICK = 100.0, 1.4
"""Free ink of less than so many squares of the pen's width, thicker than so many pens behind its tip, is a spot,
such as a pupil or a seed: it has no ends."""

RAY_TURNS = (0.0, -12.0, 12.0, -24.0, 24.0, -36.0, 36.0, -48.0, 48.0, -60.0, 60.0)
RAY_TURN_COST = (5.0, 1.5)
"""Degrees by which a ray may turn aside, and how much longer that makes it count."""

FARTHEST_RAY = (1.3, 2.64)
"""No ray reaches farther than so many times the widest gap or so many widths of the pen, whichever is more."""

THICK = (0.4, 0.7)
THICK_REACH = (0.5, 1.0)
"""A ray reaches this share as far, by its line's width over the pen's: hairlines are folds and veins."""

Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Closure:
    """One join across a gap, which can be switched off.

    start_px, end_px: (x, y) in pixels of the picture. kind: "spline" between two ends, "segment" between
    two that all but touch, "ray" from an end to a line, "drawn" by hand. path_px: the points it runs through.
    between: the numbers of the parts on either hand, the same twice where it parts nothing.
    """

    start_px: tuple[float, float]
    end_px: tuple[float, float]
    kind: str
    path_px: tuple[tuple[float, float], ...]
    on: bool = True
    between: tuple[int, int] = (0, 0)


@dataclass(frozen=True, slots=True)
class Tips:
    """Ends of lines: where (n, 2) as (x, y), and the unit direction (n, 2) in which each would run on.

    blunt (n,): width just behind the end over the width farther back, about 1 where a line breaks off, less
    where a flick of the pen thins out or where two outlines meet at a point.
    """

    at: Points
    direction: Points
    blunt: Points
    thick: Points


def find_tips(mask: NDArray[np.uint8], pen_px: float) -> Tips:
    """Find the ends of lines: where the outline of the ink turns right round within a pen's width.

    Args:
        mask: uint8 (h, w), not 0 where ink.
        pen_px: usual width of a line.

    Returns: the tips, on the ink's edge.
    """
    contours, _ = cv2.findContours(mask, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    contours = [c[:, 0, :] for c in contours if len(c) > 3.5 * pen_px]
    if not contours:
        return Tips(np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0), np.zeros(0))
    found = [_tips_at_width(contours, mask.shape, width) for width in TIP_SCALES * pen_px]
    at, direction, strength, blunt, thick = (np.concatenate([f[k] for f in found]) for k in range(5))
    keep = _strongest_apart(at, direction, strength, 1.2 * pen_px)
    return Tips(at[keep], direction[keep], blunt[keep], thick[keep] / pen_px)


def _tips_at_width(contours: list[NDArray[Any]], shape: tuple[int, ...], width: float) -> tuple[Points, ...]:
    """Tips of lines about *width* wide: places, directions (n, 2); strengths, bluntness, widths in pixels (n,)."""
    none = np.zeros((0, 2)), np.zeros((0, 2)), np.zeros(0), np.zeros(0), np.zeros(0)
    contours = [c for c in contours if len(c) > 3.5 * width]
    if not contours:
        return none
    lengths = np.array([len(c) for c in contours])
    points = np.concatenate(contours).astype(np.float32)
    firsts = np.concatenate([[0], np.cumsum(lengths)])
    soft, near, far = max(1, round(width / 4)), max(1, round(0.6 * width)), max(3, round(1.5 * width))
    # loosely on the staircase of pixels, then closely on smoothed places
    index = _strong_turns(contours, near, far, math.cos(math.radians(115)), 1.9 * width)

    def place(of: NDArray[np.intp], steps: int) -> Points:
        """The mean of the places within a quarter of a pen around, some steps along."""
        contour = np.searchsorted(firsts, of, "right") - 1
        first, own = firsts[contour][:, None], lengths[contour][:, None]
        window = (of[:, None] - first + np.arange(steps - soft, steps + soft + 1)) % own
        return np.asarray(points[first + window].mean(axis=1), np.float64)

    here, behind, ahead = place(index, 0), place(index, -far), place(index, far)
    back, fore = here - behind, ahead - here
    # the chords just before and just after, clear of the cap itself
    before, after = place(index, -near) - behind, ahead - place(index, near)
    cosine = np.einsum("ij,ij->i", before, after) / np.maximum(np.hypot(*before.T) * np.hypot(*after.T), 1e-6)
    apart = np.hypot(*(ahead - behind).T)
    # contours run with the ink on one hand, so a turn round ink has one sign
    convex = back[:, 0] * fore[:, 1] - back[:, 1] * fore[:, 0] < 0
    kept = (cosine < math.cos(math.radians(138))) & convex & (apart < 1.6 * width)
    index, cosine = index[kept], cosine[kept]
    if index.size == 0:
        return none
    # one tip for each run of neighbouring candidates: its middle
    contour = np.searchsorted(firsts, index, "right")
    breaks = np.flatnonzero((np.diff(index) > near) | (np.diff(contour) != 0))
    runs = np.split(np.arange(len(index)), breaks + 1)
    chosen = np.array([run[len(run) // 2] for run in runs])
    middle, cosine = index[chosen], cosine[chosen]
    direction = place(middle, 0) - (place(middle, far) + place(middle, -far)) / 2
    reach = np.hypot(*direction.T)
    direction = direction / np.maximum(reach, 1e-6)[:, None]
    at = points[middle]
    one, two = round(0.8 * width), round(1.7 * width)
    just = np.hypot(*(place(middle, one) - place(middle, -one)).T)
    back_there = np.hypot(*(place(middle, two) - place(middle, -two)).T)
    height, wide = shape[:2]
    inner = (at[:, 0] > 2) & (at[:, 1] > 2) & (at[:, 0] < wide - 3) & (at[:, 1] < height - 3)
    good = (reach > 0.6 * width) & inner
    return (
        at[good].astype(np.float64),
        direction[good].astype(np.float64),
        (reach / width - cosine)[good].astype(np.float64),
        (just / np.maximum(back_there, 0.3 * width))[good].astype(np.float64),
        back_there[good].astype(np.float64),
    )


def _strong_turns(
    contours: list[NDArray[Any]], near: int, far: int, cosine: float, apart: float
) -> NDArray[np.intp]:
    """Where on the joined contours the chords before and after, from *near* to *far* points off, turn beyond a
    cosine (below 0) and their far ends lie within *apart* pixels.
    """
    # every contour goes on into its own other end on both sides, so that shifted views serve for places ahead
    wrapped = np.concatenate([piece for c in contours for piece in (c[-far:], c, c[:far])])
    x, y = np.ascontiguousarray(wrapped.T.astype(np.float32))
    inner = np.zeros(len(wrapped), np.bool_)
    at = far
    for c in contours:
        inner[at : at + len(c)] = True
        at += len(c) + 2 * far

    def shifted(of: NDArray[np.float32], steps: int) -> NDArray[np.float32]:
        return of[far + steps : len(of) - far + steps]

    bx, by = (shifted(of, -near) - shifted(of, -far) for of in (x, y))
    ax, ay = (shifted(of, far) - shifted(of, near) for of in (x, y))
    dot = bx * ax + by * ay
    turned = (dot < 0) & (dot * dot > cosine**2 * (bx * bx + by * by) * (ax * ax + ay * ay))
    across = (shifted(x, far) - shifted(x, -far)) ** 2 + (shifted(y, far) - shifted(y, -far)) ** 2
    found = np.zeros(len(wrapped), np.bool_)
    found[far : len(wrapped) - far] = turned & (across < apart**2)
    return np.flatnonzero(found[inner])


def _strongest_apart(at: Points, direction: Points, strength: Points, distance: float) -> NDArray[np.intp]:
    """Indices of tips, leaving out those that lie near a stronger one and point the same way."""
    from scipy.spatial import cKDTree

    if len(at) == 0:
        return np.zeros(0, np.intp)
    tree = cKDTree(at)
    dropped = np.zeros(len(at), bool)
    kept: list[int] = []
    for i in np.argsort(-strength, kind="stable"):
        if dropped[i]:
            continue
        kept.append(int(i))
        near = np.asarray(tree.query_ball_point(at[i], distance), np.intp)
        dropped[near[direction[near] @ direction[i] > 0.3]] = True
    return np.asarray(sorted(kept), np.intp)


def find_closures(
    mask: NDArray[np.uint8], tips: Tips, body_px: Points, pen_px: float, gap_px: float
) -> tuple[Closure, ...]:
    """Propose joins between tips, and from tips to the lines that they face.

    Args:
        mask: uint8 (h, w), not 0 where ink.
        tips: ends of lines, n of them.
        body_px: (n,), area of the connected ink that each tip ends.
        pen_px: usual width of a line.
        gap_px: widest clear gap that is closed.

    Returns: the closures, none crossing ink between its ends.
    """
    if len(tips.at) == 0 or gap_px <= 0:
        return ()
    used = np.zeros(len(tips.at), bool)
    closures: list[Closure] = []
    for cost, first, second in _facing_pairs(tips, pen_px, gap_px):
        del cost
        if used[first] or used[second]:
            continue
        path, kind = _join(tips, first, second, pen_px)
        if crosses_ink(mask, path):
            continue
        used[[first, second]] = True
        closures.append(closure_along(path, kind))
    rays: list[tuple[float, Closure]] = []
    for i in np.flatnonzero(~used & ~on_spots(tips, body_px, pen_px)):
        reach = gap_px * float(np.interp(tips.blunt[i], BLUNT, BLUNT_REACH))
        if body_px[i] < LOOSE_PEN_AREAS * pen_px**2:
            reach *= LOOSE_REACH
        reach = min(reach, max(FARTHEST_RAY[0] * gap_px, FARTHEST_RAY[1] * pen_px)) * float(
            np.interp(tips.thick[i], THICK, THICK_REACH)
        )
        turn_cost = float(np.interp(tips.blunt[i], BLUNT, RAY_TURN_COST))
        hit = _ray(mask, tips.at[i], tips.direction[i], reach, turn_cost)
        if hit is not None:
            rays.append((float(body_px[i]), closure_along(np.array([tips.at[i], hit]), "ray")))
    # two rays of one loose tick, told by its area, would make a wall of it
    ends = Counter(area for area, _ in rays if area < LOOSE_PEN_AREAS * pen_px**2)
    return (*closures, *(ray for area, ray in rays if ends[area] < 2))


def on_spots(tips: Tips, body_px: Points, pen_px: float) -> NDArray[np.bool_]:
    """(n,): which tips only bulge from a free spot of ink; body_px (n,) is the area of each tip's ink."""
    return np.asarray((body_px < SPOT_PEN_AREAS * pen_px**2) & (tips.thick > SPOT_THICK), np.bool_)


def closure_along(path: Points, kind: str) -> Closure:
    """The closure of a kind along a path (n, 2)."""
    points = tuple((round(float(x), 2), round(float(y), 2)) for x, y in path)
    return Closure(points[0], points[-1], kind, points)


def _facing_pairs(tips: Tips, pen_px: float, gap_px: float) -> list[tuple[float, int, int]]:
    """Pairs of tips near enough and facing well enough, the best first: (cost, first, second)."""
    from scipy.spatial import cKDTree

    tree = cKDTree(tips.at)
    longest = max(FACING_REACH) * gap_px + 1.0
    pairs = tree.query_pairs(longest, output_type="ndarray")
    ranked: list[tuple[float, int, int]] = []
    for first, second in pairs.tolist():
        across = tips.at[second] - tips.at[first]
        distance = float(np.hypot(*across))
        facing = float(tips.direction[first] @ tips.direction[second])
        if distance < 1e-6:
            continue
        unit = across / distance
        one = float(tips.direction[first] @ unit)
        two = float(-tips.direction[second] @ unit)
        # ends that all but touch may lie askew; distant ones must look at one another
        strict = min(1.0, distance / (1.2 * pen_px))
        least = -0.3 + 0.75 * strict
        if min(one, two) < least or facing > 0.5:
            continue
        # the better the two look at one another, the wider the gap that is believed
        allowed = gap_px * float(np.interp((one + two) / 2, FACING, FACING_REACH))
        if distance > allowed + 1.0:
            continue
        ranked.append((distance / pen_px + 1.5 * (2 - one - two) * strict, first, second))
    return sorted(ranked)


def _join(tips: Tips, first: int, second: int, pen_px: float) -> tuple[Points, str]:
    """The path from tip to tip, and its kind."""
    a, b = tips.at[first], tips.at[second]
    u, v = tips.direction[first], tips.direction[second]
    distance = float(np.hypot(*(b - a)))
    if distance < 0.6 * pen_px:
        return np.array([a, b]), "segment"
    t = np.linspace(0, 1, max(5, math.ceil(distance / 2)))[:, None]
    reach = 0.9 * distance
    spline = (
        (2 * t**3 - 3 * t**2 + 1) * a + (t**3 - 2 * t**2 + t) * u * reach
        + (-2 * t**3 + 3 * t**2) * b + (t**3 - t**2) * -v * reach
    )  # fmt: skip
    return spline, "spline"


def samples(path: Points) -> NDArray[np.intp]:
    """Every pixel (x, y) that a path runs through, in order, half a pixel apart."""
    pieces = []
    for a, b in itertools.pairwise(path):
        n = max(2, math.ceil(float(np.hypot(*(b - a))) * 2))
        pieces.append(a + (b - a) * np.linspace(0, 1, n)[:, None])
    return np.asarray(np.round(np.concatenate(pieces)), np.intp)


def crosses_ink(mask: NDArray[np.uint8], path: Points) -> bool:
    """Whether a path meets ink between its two ends' own ink."""
    inside = ink_at(mask, samples(path))
    white = np.flatnonzero(~inside)
    if white.size == 0:
        return False
    between = inside[white[0] : white[-1] + 1]
    return int(np.count_nonzero(between)) > 2


def _ray(
    mask: NDArray[np.uint8], at: Points, direction: Points, gap_px: float, turn_cost: float
) -> Points | None:
    """Where a tip's line, run on, meets other ink within *gap_px*: the best of some near directions."""
    turns = np.radians(RAY_TURNS)
    aims = turned(direction[None], turns)
    lengths = first_hits(mask, at[None], aims, gap_px)[0]
    end = np.round(at + _steps(gap_px)[-1] * aims[0])
    height, width = mask.shape
    lengths[((end < 0) | (end >= [width, height])).any(axis=1)] = np.inf
    cost = lengths * (1 + turn_cost * (1 - np.cos(turns)))
    best = int(np.argmin(cost))
    if cost[best] > gap_px:
        return None
    return np.asarray(at + aims[0, best] * (lengths[best] + 0.5), np.float64)


def _steps(reach: float) -> Points:
    """Where a ray looks: every half pixel until just beyond its reach."""
    return np.arange(0.0, reach + 0.75, 0.5)


def first_hits(mask: NDArray[np.uint8], at: Points, aims: Points, reach: float) -> Points:
    """How far each end's rays run before they meet ink.

    Args:
        mask: uint8 (h, w), not 0 where ink.
        at: (n, 2), the ends, on the edge of their own ink.
        aims: (n, k, 2), unit directions of the rays of each.
        reach: farthest that they run.

    Returns: (n, k) in pixels, infinite where no ink is met. A ray must leave its own ink for more than a pixel
        before it may hit.
    """
    steps = _steps(reach)
    ink = ink_at(mask, at[:, None, None] + steps[:, None] * aims[:, :, None])
    first = (~ink).argmax(-1)
    again = ink & (np.arange(len(steps)) > first[..., None])
    hit = again.argmax(-1)
    good = again.any(-1) & (steps[first] <= 2.5) & (hit - first >= 3)
    return np.asarray(np.where(good, steps[hit], np.inf), np.float64)


def turned(direction: Points, angles: Points) -> Points:
    """(n, k, 2): each of (n, 2) directions turned by each of (k,) angles, in radians."""
    c, s = np.cos(angles), np.sin(angles)
    x, y = direction[:, :1], direction[:, 1:]
    return np.stack([c * x - s * y, s * x + c * y], -1)


def ink_at(mask: NDArray[np.uint8], at: NDArray[Any]) -> NDArray[np.bool_]:
    """Whether ink lies at places (..., 2) given as (x, y); beyond the picture lies what its edge shows."""
    height, width = mask.shape
    x, y = (np.round(at[..., k]).astype(np.intp) for k in (0, 1))
    return mask[np.clip(y, 0, height - 1), np.clip(x, 0, width - 1)] > 0


def draw_closures(barrier: NDArray[np.uint8], closures: Iterable[Closure], thickness: int = 1) -> None:
    """Draw the closures that are on into *barrier* (uint8, changed in place), as 255."""
    for closure in closures:
        if closure.on:
            path = np.round(np.array(closure.path_px)).astype(np.int32)
            cv2.polylines(barrier, [path], False, 255, thickness, cv2.LINE_8)
