"""Which of two touching parts lies in front, guessed from the drawing alone.

The outline of a part in front runs on through the points where it meets other lines; the part tends to be
whole, and enclosed by what is behind. Each cue is weak; a logistic fit weighs them, and says how sure it is.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendkit.errors import PictureError, Problem, ProjectError
from blendkit.words import MM_PER_INCH

DEPTH_PIXELS = 1_200_000
"""Borders are followed on at most this many pixels."""

ROUND_MM = (0.55, 0.8, 1.1, 1.6, 2.2, 3.0)
"""Radii of the circles around a meeting point on which the borders' directions are read: beyond half a pen's
width, where the line hides how the borders meet."""

MOST_PARTS = 4000
"""A drawing with more parts is no drawing; the tables of fronts grow with the square of their number."""

MOST_BEND_DEG = 40.0
STRAIGHT_DEG = 14.0
"""How far from straight a border may bend through a meeting point and still count as one (fades exponentially)."""

BULGE_MM = 4.0
"""Radius of the disc by which a border is found to bulge to one side. Own judgement."""
TURNS = 120
"""Directions that are looked at about a meeting point: every three degrees. Own judgement."""

SURE = 0.65
"""Likelihood of the front from which its shadow has full strength: a colourist decides, and does not hint."""

ONE_SURFACE = 0.55
"""Likelihood of being one surface from which two parts cast nothing on each other. Own judgement."""

CUES = ("junctions", "standing", "bulge", "enclosed", "island", "smaller", "wholeness")
CUE_WEIGHTS = (0.61, 1.82, -1.31, 2.88, 3.29, 0.69, 1.82)
BESIDE_CUES = ("stem", "stem at both ends", "even size", "enclosed", "constant")
BESIDE_WEIGHTS = (5.24, -0.24, 0.42, -0.75, -3.99)
"""Weights fitted by tests/derive/evaluate_shading.py."""


@dataclass(frozen=True)
class Fronts:
    """For every pair of touching parts, which lies in front.

    Fields:
        pairs: two part numbers, the smaller first, shape (n, 2).
        first_in_front: likelihood that the first of the two lies in front of the second, shape (n,).
        beside: likelihood that both are of one surface, so that neither shades the other, shape (n,).
        border_mm: length of their common border, shape (n,).
        given: True where the user has decided, shape (n,).
    """

    pairs: NDArray[np.int64]
    first_in_front: NDArray[np.float64]
    beside: NDArray[np.float64]
    border_mm: NDArray[np.float64]
    given: NDArray[np.bool_]

    def find(self, one: int, other: int) -> int:
        """Row of a pair, in either order.

        Raises: ProjectError when the two do not touch.
        """
        low, high = min(one, other), max(one, other)
        rows = np.flatnonzero((self.pairs[:, 0] == low) & (self.pairs[:, 1] == high))
        if not len(rows):
            raise ProjectError(
                f"Parts {one} and {other} do not touch, so neither can lie in front of the other.",
                [Problem(f"part {one}", f"part {other}", _neighbours(self, one))],
            )
        return int(rows[0])


def _neighbours(fronts: Fronts, part: int) -> str:
    near = sorted({int(p) for pair in fronts.pairs if part in pair for p in pair if p != part})
    return "a part that touches it: " + ", ".join(map(str, near)) if near else "no part touches it"


def flip_fronts(fronts: Fronts, decisions: Iterable[tuple[int, int]]) -> Fronts:
    """Fronts with the user's decisions.

    Args:
        fronts: guessed fronts.
        decisions: pairs (part in front, part behind).

    Returns: Fronts in which those pairs are certain.
    Raises: ProjectError when two parts do not touch.
    """
    first, beside, given = fronts.first_in_front.copy(), fronts.beside.copy(), fronts.given.copy()
    for front, behind in decisions:
        row = fronts.find(front, behind)
        first[row] = 1.0 if fronts.pairs[row, 0] == front else 0.0
        beside[row], given[row] = 0.0, True
    return replace(fronts, first_in_front=first, beside=beside, given=given)


def count_parts(labels: NDArray[Any]) -> int:
    """Number of parts.

    Raises: PictureError when there are more than MOST_PARTS.
    """
    parts = int(labels.max(initial=0))
    if parts > MOST_PARTS:
        raise PictureError(
            f"The picture falls into {parts} parts, which is more than anyone colours.",
            [Problem("parts", str(parts), f"at most {MOST_PARTS}; is it a photo rather than line art?")],
        )
    return parts


def cast_strengths(fronts: Fronts, parts: int) -> NDArray[np.float32]:
    """How strong a shadow parts cast on each other.

    Args:
        fronts: guessed or given fronts.
        parts: number of parts.

    Returns: strength, 0 to 1, of the shadow that the column's part casts on the row's: full where the column lies
        in front with a likelihood of SURE, none at even odds or for one surface; shape (parts + 1, parts + 1).
    """
    strength = np.zeros((parts + 1, parts + 1), np.float32)
    if len(fronts.pairs):
        a, b = fronts.pairs.T
        apart = np.clip((ONE_SURFACE - fronts.beside) / 0.1, 0, 1)
        for likely, behind, before in ((fronts.first_in_front, b, a), (1 - fronts.first_in_front, a, b)):
            sure = np.clip((likely - 0.5) / (SURE - 0.5), 0, 1)
            strength[behind, before] = sure * (2 - sure) * apart
    return strength


def find_fronts(labels: NDArray[Any], line: NDArray[Any] | None, dpi: float) -> Fronts:
    """Guess for each pair of touching parts which lies in front, and how sure that is.

    Args:
        labels: 0 outside, 1.. parts; borders run under the middle of the lines; shape (h, w).
        line: line tone (not needed now; kept for callers that have it).
        dpi: dots per inch.

    Returns: Fronts.
    """
    pairs, border_mm, cues, beside_cues = measure_cues(labels, dpi)
    first = 1 / (1 + np.exp(-(cues @ np.array(CUE_WEIGHTS))))
    beside = 1 / (1 + np.exp(-(beside_cues @ np.array(BESIDE_WEIGHTS))))
    return Fronts(pairs, first, beside, border_mm, np.zeros(len(pairs), bool))


def measure_cues(
    labels: NDArray[Any], dpi: float
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Cues of depth for every pair of touching parts.

    Args:
        labels: 0 outside, 1.. parts, shape (h, w).
        dpi: dots per inch.

    Returns: pairs (n, 2); length of their border in mm (n,); cues for CUES, positive when the first lies in front,
        (n, 7); cues for BESIDE_CUES (n, 5).
    """
    parts = count_parts(np.asarray(labels))
    work, per_mm = _sampled(np.asarray(labels), dpi)
    pairs, border_mm, edges = _find_pairs(work, per_mm)
    row_of = np.full((parts + 1, parts + 1), -1, np.int32)
    if not len(pairs):
        return pairs, border_mm, np.zeros((0, len(CUES))), np.zeros((0, len(BESIDE_CUES)))
    row_of[pairs[:, 0], pairs[:, 1]] = np.arange(len(pairs))

    _, stems, _ = _junction_votes(work, per_mm, row_of, len(pairs))
    bulge = _bulge(work, per_mm, edges, row_of, len(pairs))

    area = np.maximum(np.bincount(work.ravel(), minlength=parts + 1), 1).astype(float)
    outline = np.bincount(edges[2], minlength=parts + 1) + np.bincount(edges[3], minlength=parts + 1)
    rows_of_edges = row_of[edges[2], edges[3]]
    shared = np.bincount(rows_of_edges[rows_of_edges >= 0], minlength=len(pairs)).astype(float)
    a, b = pairs.T
    within = find_enclosed(edges[2], edges[3], parts)
    of_a, of_b = shared / np.maximum(outline[a], 1), shared / np.maximum(outline[b], 1)
    whole = 4 * np.pi * area / np.maximum(outline * np.pi / 4, 1) ** 2
    size = np.log(area[b] / area[a])
    stem_share = stems[:, 0] / (stems[:, 1] + 0.5)
    beside = np.stack(
        [
            stem_share,
            stem_share * (stems[:, 1] >= 2),
            np.exp(-np.abs(size)),
            np.maximum(of_a, of_b),
            np.ones(len(pairs)),
        ],
        axis=1,
    )
    joint, standing = _joint_votes(work, per_mm, pairs, beside)
    rank = standing[:, 0] / (standing[:, 1] + 2)
    quiet = 1 / (1 + 2 * np.abs(joint))  # form speaks where the meeting points do not
    cues = np.stack(
        [
            np.clip(joint, -2.5, 2.5),
            np.tanh(2 * (rank[a] - rank[b])),
            quiet * bulge,
            of_a**2 - of_b**2,
            1.0 * within[a, b] - 1.0 * within[b, a],
            quiet * np.tanh(size / 2),
            quiet * np.clip(whole[a] - whole[b], -1, 1),
        ],
        axis=1,
    )
    return pairs, border_mm, cues, beside


def _sampled(labels: NDArray[Any], dpi: float) -> tuple[NDArray[np.int32], float]:
    step = max(1, int(np.ceil(np.sqrt(labels.size / DEPTH_PIXELS))))
    work = np.ascontiguousarray(labels[step // 2 :: step, step // 2 :: step], dtype=np.int32)
    return work, dpi / MM_PER_INCH / step


def _find_pairs(
    work: NDArray[np.int32], per_mm: float
) -> tuple[NDArray[np.int64], NDArray[np.float64], tuple[NDArray[np.int64], ...]]:
    """Pairs of touching parts; and all border steps as (y, x, smaller part, larger part), outside included."""
    across = np.nonzero(work[:, 1:] != work[:, :-1])
    down = np.nonzero(work[1:] != work[:-1])
    y, x = np.concatenate([across[0], down[0]]), np.concatenate([across[1], down[1]])
    one = work[y, x].astype(np.int64)
    other = np.concatenate([work[across[0], across[1] + 1], work[down[0] + 1, down[1]]]).astype(np.int64)
    low, high = np.minimum(one, other), np.maximum(one, other)
    size = int(work.max(initial=0)) + 1
    length = np.bincount(low * size + high, minlength=0)
    keys = np.flatnonzero(length >= max(3.0, 0.35 * per_mm))
    keys = keys[keys >= size]  # the outside is no part
    pairs = np.stack([keys // size, keys % size], axis=1)
    # a border of n pixel steps in all directions is about pi/4 n long
    border_mm = np.asarray(length[keys] * (np.pi / 4) / per_mm, dtype=np.float64)
    return pairs.astype(np.int64), border_mm, (y.astype(np.int64), x.astype(np.int64), low, high)


def find_enclosed(low: NDArray[np.int64], high: NDArray[np.int64], parts: int) -> NDArray[np.bool_]:
    """Which part shuts which off from the outside: true at [a, b] where every way out from part a leads through b.

    Groups count too: a nose that overlaps a muzzle is enclosed by the face together with it.

    Args:
        low, high: the two parts, outside (0) included, at each step of a border, shape (n,).
        parts: number of parts.

    Returns: shape (parts + 1, parts + 1).

    Source: dominators of a flow graph, in the iterative form of Cooper, Harvey and Kennedy 2001.
    """
    size = parts + 1
    touching = np.unique(low * size + high)
    near: list[list[int]] = [[] for _ in range(size)]
    for key in touching.tolist():
        near[key // size].append(key % size)
        near[key % size].append(key // size)
    order, place, queue = [0], {0: 0}, [0]
    for node in queue:
        for other in near[node]:
            if other not in place:
                place[other] = len(order)
                order.append(other)
                queue.append(other)
    gate = {0: 0}
    changed = True
    while changed:
        changed = False
        for node in order[1:]:
            new = -1
            for other in near[node]:
                if other not in gate:
                    continue
                if new < 0:
                    new = other
                    continue
                one, two = other, new
                while one != two:
                    if place[one] > place[two]:
                        one = gate[one]
                    else:
                        two = gate[two]
                new = one
            if gate.get(node) != new:
                gate[node] = new
                changed = True
    within = np.zeros((size, size), bool)
    for node in order[1:]:
        above = gate[node]
        while above:
            within[node, above] = True
            above = gate[above]
    return within


def _bulge(
    work: NDArray[np.int32],
    per_mm: float,
    edges: tuple[NDArray[np.int64], ...],
    row_of: NDArray[np.int32],
    count: int,
) -> NDArray[np.float64]:
    """How far the border bulges from the first part into the second, -1 to 1.

    Around each point of the border, the part that bulges fills less than half of a disc.
    """
    y, x, low, high = edges
    row = np.where(low > 0, row_of[low, high], -1)
    keep = np.flatnonzero(row >= 0)
    keep = keep[:: max(1, len(keep) // 20_000)]
    y, x, low, high, row = y[keep], x[keep], low[keep], high[keep], row[keep]
    mine, theirs = np.zeros(len(row)), np.zeros(len(row))
    for ring in (0.4, 0.7, 1.0):
        for turn in range(16):
            angle = 2 * np.pi * (turn + ring) / 16
            yy = np.clip(y + round(BULGE_MM * per_mm * ring * np.sin(angle)), 0, work.shape[0] - 1)
            xx = np.clip(x + round(BULGE_MM * per_mm * ring * np.cos(angle)), 0, work.shape[1] - 1)
            there = work[yy, xx]
            mine += there == low
            theirs += there == high
    seen = (theirs + mine) / 48  # less where a third area is near
    lean = (theirs - mine) / np.maximum(theirs + mine, 1) * seen
    return np.asarray(np.bincount(row, lean, count) / np.maximum(np.bincount(row, seen, count), 1e-9))


def _junction_votes(
    work: NDArray[np.int32], per_mm: float, row_of: NDArray[np.int32], count: int
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Votes of the points where three areas meet: for the first part of each pair, and for a stem between them.

    The two borders that run straight on through the point belong to the outline of one area, which lies in
    front of the other two; the third border, the stem, parts two areas behind.

    Returns: votes for each pair (n,); of a stem between them and number of votes (n, 2); by part, front minus
        behind and number of votes (parts + 1, 2).
    """
    parts = int(work.max(initial=0))
    votes, stems, standing = np.zeros(count), np.zeros((count, 2)), np.zeros((parts + 1, 2))
    areas, angles, weights = _follow_borders(work, per_mm, _find_junctions(work))
    if not len(areas):
        return votes, stems, standing
    # the angle of each area at the point, from the borders' directions drawn back to it
    radii = np.array(ROUND_MM)
    weights = weights * np.minimum(radii, 2.0) ** 2  # pixel noise in an angle falls with the radius
    total = weights.sum(axis=1)
    mean_r = (weights * radii).sum(axis=1) / total
    mean_angle = (weights[:, None, :] * angles).sum(axis=2) / total[:, None]
    spread = (weights * (radii - mean_r[:, None]) ** 2).sum(axis=1)
    lean = (weights[:, None, :] * angles * (radii - mean_r[:, None])[:, None, :]).sum(axis=2) / (
        spread + 0.25
    )[:, None]
    border = mean_angle - lean * mean_r[:, None]
    wide = np.stack([(border[:, (k + 2) % 3] - border[:, (k + 1) % 3]) % 360 for k in range(3)], axis=1)
    wide = np.where(wide.sum(axis=1, keepdims=True) > 540, 360 - wide, wide)
    fit = np.exp(-np.abs(wide - 180) / STRAIGHT_DEG)
    share = fit / fit.sum(axis=1, keepdims=True)
    for k in range(3):
        one, two, third = areas[:, k], areas[:, (k + 1) % 3], share[:, (k + 2) % 3]
        vote = share[:, k] - share[:, (k + 1) % 3]
        low, high = np.minimum(one, two), np.maximum(one, two)
        row = np.where(low > 0, row_of[low, high], -1)
        ok = row >= 0
        np.add.at(votes, row[ok], np.where(one == low, vote, -vote)[ok])
        np.add.at(stems[:, 0], row[ok], third[ok])
        np.add.at(stems[:, 1], row[ok], 1.0)
        np.add.at(standing[:, 0], areas[:, k], share[:, k] - 1 / 3)
        np.add.at(standing[:, 1], areas[:, k], 1.0)
    return votes, stems, standing


def _joint_votes(
    work: NDArray[np.int32], per_mm: float, pairs: NDArray[np.int64], beside_cues: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Votes of the meeting points once parts of one surface are taken as one.

    Where a stripe ends at the edge of its own surface the edge runs straight on, and would speak for what lies
    beyond it.
    """
    parts = int(work.max(initial=0))
    likely = beside_cues @ np.array(BESIDE_WEIGHTS) > 0
    group = np.arange(parts + 1)
    for a, b in pairs[likely]:
        one, two = group[a], group[b]
        group[group == max(one, two)] = min(one, two)
    merged = group[work].astype(np.int32)
    joint_pairs, _, _ = _find_pairs(merged, per_mm)
    row_of = np.full((parts + 1, parts + 1), -1, np.int32)
    row_of[joint_pairs[:, 0], joint_pairs[:, 1]] = np.arange(len(joint_pairs))
    votes, _, standing = _junction_votes(merged, per_mm, row_of, len(joint_pairs))
    votes = np.append(votes, 0.0)
    a, b = group[pairs[:, 0]], group[pairs[:, 1]]
    found = row_of[np.minimum(a, b), np.maximum(a, b)]
    return np.where(a < b, 1.0, -1.0) * votes[found] * (found >= 0), standing[group]


def _follow_borders(
    work: NDArray[np.int32], per_mm: float, points: NDArray[np.float64]
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.float64]]:
    """Follow the three borders outward from each meeting point.

    Returns: areas (n, 3); angle in degrees of the border opposite each area, on each circle of ROUND_MM, unwrapped
        along the radius, (n, 3, radii); and 1 where a circle was readable, (n, radii).
    """
    n = len(points)
    areas = np.zeros((n, 3), np.int64)
    angles = np.zeros((n, 3, len(ROUND_MM)))
    weights = np.zeros((n, len(ROUND_MM)))
    last = np.zeros((n, 3))
    started = np.zeros(n, bool)
    turn = np.arange(TURNS) * (360 / TURNS)
    for k, radius in enumerate(ROUND_MM):
        yy = points[:, :1] + radius * per_mm * np.sin(np.deg2rad(turn))
        xx = points[:, 1:] + radius * per_mm * np.cos(np.deg2rad(turn))
        ring = work[
            np.clip(np.round(yy).astype(int), 0, work.shape[0] - 1),
            np.clip(np.round(xx).astype(int), 0, work.shape[1] - 1),
        ].astype(np.int64)
        before = np.roll(ring, 1, axis=1)
        change = ring != before
        fresh = np.flatnonzero(~started & (change.sum(axis=1) == 3))
        if len(fresh):
            at = np.nonzero(change[fresh])[1].reshape(-1, 3)
            inside = ring[fresh[:, None], at]
            distinct = (np.diff(np.sort(inside, axis=1), axis=1) > 0).all(axis=1)
            fresh, inside = fresh[distinct], inside[distinct]
            areas[fresh] = inside
            started[fresh] = True
            # border opposite area j lies between the other two
            for j in range(3):
                last[fresh, j] = turn[at[distinct][:, (j + 2) % 3]] - 180 / TURNS
        live = np.flatnonzero(started)
        if not len(live):
            continue
        fine = np.ones(len(live), bool)
        new = np.zeros((len(live), 3))
        for j in range(3):
            one, two = areas[live, (j + 1) % 3][:, None], areas[live, (j + 2) % 3][:, None]
            match = ((ring[live] == one) & (before[live] == two)) | (
                (ring[live] == two) & (before[live] == one)
            )
            gap = (turn - 180 / TURNS - last[live, j][:, None] + 180) % 360 - 180
            gap = np.where(match, gap, 999.0)
            nearest = np.argmin(np.abs(gap), axis=1)
            step = gap[np.arange(len(live)), nearest]
            fine &= np.abs(step) < MOST_BEND_DEG
            new[:, j] = last[live, j] + step
        good = live[fine]
        last[good] = new[fine]
        angles[good, :, k] = new[fine]
        weights[good, k] = 1
    use = np.flatnonzero(weights.sum(axis=1) >= 2)
    return areas[use], angles[use], weights[use]


def _find_junctions(work: NDArray[np.int32]) -> NDArray[np.float64]:
    """Points (y, x) where three areas meet, one for each cluster of such 2 x 2 windows."""
    import cv2

    a, b, c, d = work[:-1, :-1], work[:-1, 1:], work[1:, :-1], work[1:, 1:]
    kinds = 1 + (b != a).astype(np.int8) + ((c != a) & (c != b)) + ((d != a) & (d != b) & (d != c))
    mask = np.ascontiguousarray(kinds >= 3, dtype=np.uint8)
    count, _, _, centres = cv2.connectedComponentsWithStats(mask, connectivity=8)
    return np.asarray(centres[1:count, ::-1] + 0.5, dtype=np.float64)
