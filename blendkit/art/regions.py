"""A line image becomes closed parts, each pixel belonging to exactly one.

The lines' gaps are closed first, then the white between the lines falls apart into connected pieces, and
each piece grows under the ink until it meets its neighbour: under the middle of the line, so that no white
shows beside it once the parts are coloured.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from blendkit.art.closures import GAP_PEN_WIDTHS, Closure, draw_closures, find_closures, find_tips
from blendkit.art.growth import Growth, grow, refine
from blendkit.art.ink_mask import THRESHOLD, find_ink, grey_of
from blendkit.art.region_edits import Edits, Place, Stroke
from blendkit.errors import PictureError, Problem, ProjectError

__all__ = ["Part", "Regions", "find_regions", "watershed_split"]

Labels = NDArray[np.int32]
Mask = NDArray[np.uint8]

LEAST_PART_PEN_AREAS = 0.15
LEAST_PART_MM2 = 0.1
"""Smallest closed area that is a part, in squares of the pen's width and, where the scale is known, in square
millimetres: smaller ones are holes in the ink, and no marker's tip goes there."""

LEAST_CUT_PEN_AREAS = 6.0
"""Smallest area that a closure may cut off, in squares of the pen's width."""

SPECK_PEN_AREAS = 1.0
"""Ink smaller than this, in squares of the pen's width, bounds nothing."""

SPECK_PENS = 1.6
"""Ink longer than this, in widths of the pen, is no speck whatever its area: it may be a fine ring."""

DUST_PEN_AREAS = 0.2
"""Ink smaller than this is dust, and is left out of the printed line too."""

FAINT, FAINT_ABOVE, FAINT_PENS = 0.2, 0.1, 2.5
"""Blackness, 0 to 1, of a faint thin line; by how much it exceeds the mean around it; how far around, in pens."""

SOFT_EDGE_PX = 0.8
"""Width of the grey along a line's edge, in pixels, from which a picture counts as blurred."""

FINE_GAP_MM, FINE_GAP_PEN_WIDTHS = 0.95, 3.0
"""Where the scale is known, gaps in fine lines are closed up to so many millimetres, but never more than so many
widths of the pen."""

SCRIBBLE_PARTS, SCRIBBLE_PENS = 1000, 1.5
"""So many areas, half of them reaching less than this many pens from their middle, are no outline (the examples:
86 to 120 areas, 2.2 to 3.0 pens). Own limits."""

WORK_PEN_PX = 3.7
WORK_PIXELS = 2.0e6
"""Large pictures are reduced by a whole number while the parts are found, but never below this width of the pen
nor this many pixels; the labels are then enlarged, their edges still under the ink."""


@dataclass(frozen=True, slots=True)
class Part:
    """One closed area.

    number: 1 is the largest. area_px: in pixels of the picture. box_px: (left, top, width, height).
    point_px: (x, y) deep inside, where a number can stand. radius_px: distance from there to the part's edge.
    place: the same point as a share of the picture, for edits and project files.
    """

    number: int
    area_px: int
    box_px: tuple[int, int, int, int]
    point_px: tuple[float, float]
    radius_px: float
    place: Place


@dataclass(frozen=True, slots=True, eq=False)
class Regions:
    """The parts of a line image.

    labels: int32 (h, w), 0 the paper around, else the number of the part. line: uint8 (h, w), how black the
    printed line is, 255 fully. parts: in order of number. closures: the joins across gaps. pen_px: usual
    width of a line. gap_px: widest gap that was closed. dpi: None when unknown. notes: what to tell the person.
    """

    labels: Labels = field(repr=False)
    line: Mask = field(repr=False)
    parts: tuple[Part, ...]
    closures: tuple[Closure, ...]
    pen_px: float
    gap_px: float
    dpi: float | None
    edits: Edits
    notes: tuple[str, ...] = ()

    @property
    def size_px(self) -> tuple[int, int]:
        """(width, height) of the picture."""
        return int(self.labels.shape[1]), int(self.labels.shape[0])

    def mask(self, number: int) -> NDArray[np.bool_]:
        """Where the part with this number lies; 0 for the paper around."""
        return np.asarray(self.labels == number, np.bool_)

    def number_at(self, place: Place) -> int:
        """The part at a place given as shares of the picture."""
        width, height = self.size_px
        x, y = min(int(place[0] * width), width - 1), min(int(place[1] * height), height - 1)
        return int(self.labels[max(y, 0), max(x, 0)])

    def place_of(self, x_px: float, y_px: float) -> Place:
        """A pixel as shares of the picture."""
        width, height = self.size_px
        return (x_px + 0.5) / width, (y_px + 0.5) / height


def find_regions(
    picture: NDArray[Any],
    dpi: float | None = None,
    gap_pen_widths: float = GAP_PEN_WIDTHS,
    edits: Edits | None = None,
) -> Regions:
    """Find the closed parts of a line image.

    Args:
        picture: (h, w) grey or (h, w, 3) RGB; uint8, uint16, bool or float 0 to 1. Dark lines on lighter paper.
        dpi: pixels an inch, when known; it is only kept.
        gap_pen_widths: widest gap that is closed, in widths of the pen; 0 closes none.
        edits: what a person has changed.

    Returns: the parts, the largest first.
    Raises: PictureError when there are no lines, no closed part, or no line art at all;
        ProjectError when an edit names a place that is not where it should be.
    """
    if not 0 <= gap_pen_widths <= 20:
        raise ProjectError(
            f"The widest gap to close is {gap_pen_widths:g} pen widths, which is out of range.",
            [Problem("gap", f"{gap_pen_widths:g}", "0 to 20 pen widths; 1.6 suits most stamps")],
        )
    edits = edits or Edits()
    ink = find_ink(grey_of(picture))
    height, width = ink.line.shape
    factor = max(1, int(min(ink.pen_px / WORK_PEN_PX, (height * width / WORK_PIXELS) ** 0.5)))
    work, reduced, pen = ink.mask, ink.line, ink.pen_px
    if factor > 1:
        reduced = np.asarray(
            cv2.resize(ink.line, (width // factor, height // factor), interpolation=cv2.INTER_AREA), np.uint8
        )
        work = np.asarray(cv2.threshold(reduced, 255 * THRESHOLD, 255, cv2.THRESH_BINARY)[1], np.uint8)
        pen = ink.pen_px / factor
    scale = np.array([width / work.shape[1], height / work.shape[0]])
    work = _with_faint_lines(work, reduced, pen)
    bounding, dust, body = _without_specks(work, pen)
    line = _without_dust(ink.line, dust)

    gap = gap_pen_widths * pen
    if dpi and gap_pen_widths == GAP_PEN_WIDTHS:
        gap = max(gap, min(FINE_GAP_PEN_WIDTHS * pen, FINE_GAP_MM * dpi / 25.4 / factor))
    tips = find_tips(bounding, pen)
    x, y = np.round(tips.at.T).astype(np.intp)
    proposed = find_closures(bounding, tips, body(y, x), pen, gap)
    closures = _switched_off([*proposed, *_drawn(edits.closures, work)], edits.closures_off, work, pen)
    least = max(6.0, LEAST_PART_PEN_AREAS * pen**2)
    if dpi:
        least = max(least, LEAST_PART_MM2 * (dpi / 25.4 / factor) ** 2)
    labels, growth, closures = _label(bounding, reduced, closures, pen, least)
    labels = _edited(labels, bounding, edits, least, pen)
    if growth:
        refine(labels, growth, bounding)
    labels, parts = _numbered(labels, (width, height))
    if not parts:
        raise PictureError(
            "No part is closed in this picture: its lines are open, like a scribble. Close the outline with a "
            "pen, allow wider gaps, or add closing strokes."
        )
    slim = float(np.median([part.radius_px for part in parts])) / ink.pen_px
    if len(parts) >= SCRIBBLE_PARTS and slim < SCRIBBLE_PENS:
        raise PictureError(
            f"The lines of this picture cut it into {len(parts)} areas, most of them too narrow to colour: a "
            "scribble, a hatching or a screen of dots, not an outline. Use the stamped outline alone, at a larger "
            "scale."
        )
    if closures:
        shifted = labels + 1  # 0 stands for nothing met
        closures = tuple(_between(closure, shifted, bounding) for closure in closures)
    if factor > 1:
        labels = np.asarray(cv2.resize(labels, (width, height), interpolation=cv2.INTER_NEAREST), np.int32)
        closures = tuple(_scaled(closure, scale) for closure in closures)
    return Regions(labels, line, parts, closures, ink.pen_px, gap * factor, dpi, edits)


def watershed_split(regions: Regions, number: int) -> Labels:
    """Cut a part at its narrowest neck, where two parts have run together through a wide gap.

    Args:
        regions: the parts as found.
        number: the part to cut.

    Returns: int32 (h, w), the labels with the smaller piece given the next free number.
    Raises: ProjectError when there is no such part, or it has no neck.
    """
    if not any(part.number == number for part in regions.parts):
        raise ProjectError(f"There is no part {number}; the parts run from 1 to {len(regions.parts)}.")
    ink = np.asarray(cv2.threshold(regions.line, 127, 255, cv2.THRESH_BINARY)[1], np.uint8)
    return _cut_at_neck(regions.labels.copy(), ink, number, regions.pen_px)


def _with_faint_lines(work: Mask, dark: Mask, pen: float) -> Mask:
    """The ink and, in a blurred picture, the thin lines that blur has made too grey for the threshold.

    They are darker than the mean around them. A sharp picture is left alone: its greys are ends of lines.
    """
    every = max(1, min(dark.shape) // 1000)
    sample = dark[::every, ::every]
    inked = int(np.count_nonzero(sample > 128))
    grey = int(np.count_nonzero((sample > 64) & (sample < 192)))
    grey_edge_px = grey / max(1, inked) * pen / 2
    if grey_edge_px < SOFT_EDGE_PX:
        return work
    side = 2 * round(FAINT_PENS * pen / 2) + 1
    above = cv2.subtract(dark, cv2.blur(dark, (side, side)))
    ridge = cv2.threshold(above, 255 * FAINT_ABOVE, 255, cv2.THRESH_BINARY)[1]
    tinted = cv2.threshold(dark, 255 * FAINT, 255, cv2.THRESH_BINARY)[1]
    return np.asarray(cv2.bitwise_or(work, cv2.bitwise_and(ridge, tinted)), np.uint8)


def _without_specks(work: Mask, pen: float) -> tuple[Mask, Mask | None, Callable[..., NDArray[np.float64]]]:
    """The ink that can bound a part; the dust; and how large the ink at (rows, columns) is as a whole."""
    _, pieces, stats, _ = cv2.connectedComponentsWithStats(work, connectivity=8, ltype=cv2.CV_32S)
    areas = stats[:, cv2.CC_STAT_AREA]

    def body(rows: NDArray[np.intp], columns: NDArray[np.intp]) -> NDArray[np.float64]:
        return np.asarray(areas[pieces[rows, columns]], np.float64)

    across = stats[:, [cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT]].max(axis=1)
    small = (areas < SPECK_PEN_AREAS * pen**2) & (across < SPECK_PENS * pen)
    small[0] = False
    if not small.any():
        return work, None, body
    inked = np.flatnonzero(work)
    inked_pieces = np.asarray(pieces).ravel()[inked]
    kept = work.copy()
    kept.ravel()[inked[small[inked_pieces]]] = 0
    dusty = small & (areas < DUST_PEN_AREAS * pen**2)
    if not dusty.any():
        return kept, None, body
    dust = np.zeros_like(work)
    dust.ravel()[inked[dusty[inked_pieces]]] = 255
    return kept, dust, body


def _without_dust(line: Mask, dust: Mask | None) -> Mask:
    if dust is None:
        return line
    wider = cv2.dilate(dust, np.ones((3, 3), np.uint8))
    height, width = line.shape
    if wider.shape != line.shape:
        wider = cv2.resize(wider, (width, height), interpolation=cv2.INTER_NEAREST)
    return np.asarray(cv2.bitwise_and(line, cv2.bitwise_not(wider)), np.uint8)


def _pixels(stroke: Stroke, work: NDArray[Any]) -> NDArray[np.float64]:
    """A stroke's places as (x, y) pixels of the working picture."""
    height, width = work.shape
    return np.array(stroke, float) * [width, height] - 0.5


def _drawn(strokes: tuple[Stroke, ...], work: Mask) -> list[Closure]:
    closures = []
    for stroke in strokes:
        path = tuple((float(x), float(y)) for x, y in _pixels(stroke, work))
        closures.append(Closure(path[0], path[-1], "drawn", path))
    return closures


def _switched_off(
    closures: list[Closure], places: tuple[Place, ...], work: Mask, pen: float
) -> tuple[Closure, ...]:
    """The closures, those nearest to each place switched off."""
    for number, place in enumerate(places, 1):
        x, y = _pixels((place,), work)[0]
        distances = [min(math.hypot(x - a, y - b) for a, b in c.path_px) for c in closures]
        if not distances or min(distances) > 4 * pen:
            raise ProjectError(
                "A closure that the project switches off is not there any more; take the entry out.",
                [
                    Problem(
                        f"closures_off, entry {number}",
                        f"[{place[0]:g}, {place[1]:g}]",
                        "a place on a closure",
                    )
                ],
            )
        nearest = int(np.argmin(distances))
        closures[nearest] = replace(closures[nearest], on=False)
    return tuple(closures)


def _label(
    bounding: Mask, dark: Mask, closures: tuple[Closure, ...], pen: float, least: float
) -> tuple[Labels, Growth | None, tuple[Closure, ...]]:
    """Label the white pieces and grow them under the ink; drop closures that would cut off a sliver."""
    barrier = bounding.copy()
    draw_closures(barrier, closures)
    white = cv2.bitwise_not(barrier)
    count, pieces, stats, _ = cv2.connectedComponentsWithStats(white, connectivity=4, ltype=cv2.CV_32S)
    areas = stats[:, cv2.CC_STAT_AREA].astype(np.int64)
    areas[0] = 0
    joined = np.arange(count)
    kept: list[Closure] = []
    sides = [_sides(closure, np.asarray(pieces, np.int32), bounding) for closure in closures]
    for closure, (left, right) in sorted(
        zip(closures, sides, strict=True), key=lambda pair: _least(pair[1], areas)
    ):
        one, other = _root(joined, left), _root(joined, right)
        if closure.on and closure.kind != "drawn" and one != other and one and other:
            small = min(areas[one], areas[other])
            if small < LEAST_CUT_PEN_AREAS * pen**2:
                low, high = (one, other) if areas[one] < areas[other] else (other, one)
                joined[low] = high
                areas[high] += areas[low]
                continue
        kept.append(closure)
    roots = np.array([_root(joined, k) for k in range(count)])
    names = np.where(areas[roots] >= least, roots, 0)
    names[0] = 0
    border = np.unique(np.concatenate([pieces[0], pieces[-1], pieces[:, 0], pieces[:, -1]]))
    border = np.unique(names[border])
    border = border[border > 0]
    outside = int(border[np.argmax(areas[border])]) if border.size else -1
    # 1 is the paper around until the numbers are given
    final = np.where(names == outside, 1, np.where(names > 0, names + 1, 0)).astype(np.int32)
    labels = final[pieces]
    growth = grow(labels, dark)
    return labels, growth, tuple(kept)


def _least(pair: tuple[int, int], areas: NDArray[np.int64]) -> int:
    return int(min(areas[pair[0]], areas[pair[1]]))


def _root(joined: NDArray[np.intp], k: int) -> int:
    while joined[k] != k:
        k = int(joined[k])
    return k


def _sides(closure: Closure, pieces: Labels, bounding: Mask) -> tuple[int, int]:
    """The pieces left and right of a closure, looked for along its middle; 0 where only ink is met."""
    path = np.array(closure.path_px)
    height, width = pieces.shape
    segments = np.diff(path, axis=0)
    lengths = np.hypot(*segments.T)
    found: list[list[int]] = [[], []]
    for start, step, length in zip(path[:-1], segments, lengths, strict=True):
        if length < 1e-6:
            continue
        normal = np.array([-step[1], step[0]]) / length
        for t in np.linspace(0, 1, 2 * math.ceil(length) + 1):
            x, y = start + t * step
            if not (0 <= x < width - 0.5 and 0 <= y < height - 0.5) or bounding[round(y), round(x)]:
                continue
            for side, sign in enumerate((1, -1)):
                for far in (1.5, 2.5, 3.5):
                    a, b = np.round([x + sign * far * normal[0], y + sign * far * normal[1]]).astype(int)
                    if not (0 <= a < width and 0 <= b < height) or bounding[b, a]:
                        break  # beyond a line lies what the closure does not touch
                    if pieces[b, a]:
                        found[side].append(int(pieces[b, a]))
                        break
    left, right = ((int(np.bincount(side).argmax()) if side else 0) for side in found)
    return left, right


def _edited(labels: Labels, bounding: Mask, edits: Edits, least: float, pen: float) -> Labels:
    """The labels after splits, cuts, merges and reassignments; 1 is the paper around."""

    def at(place: Place | None, where: str) -> int:
        if place is None:
            return 1
        x, y = np.round(_pixels((place,), labels)[0]).astype(int)
        height, width = labels.shape
        found = int(labels[np.clip(y, 0, height - 1), np.clip(x, 0, width - 1)])
        if found == 0:
            raise ProjectError(f"{where} names a place with no part.")
        return found

    for stroke in edits.splits:
        labels = _split_by(labels, bounding, _pixels(stroke, labels), least)
    for number, place in enumerate(edits.cuts, 1):
        labels = _cut_at_neck(labels, bounding, at(place, f"cuts, entry {number}"), pen)
    for number, (one, other) in enumerate(edits.merges, 1):
        where = f"merges, entry {number}"
        first, second = at(one, where), at(other, where)
        labels[labels == max(first, second)] = min(first, second)
    for number, change in enumerate(edits.reassign, 1):
        to = at(change.to, f"reassign, entry {number}")
        area = np.zeros(labels.shape, np.uint8)
        cv2.fillPoly(area, [np.round(_pixels(change.polygon, labels)).astype(np.int32)], 255)
        labels[area > 0] = to
    return labels


def _split_by(labels: Labels, bounding: Mask, path: NDArray[np.float64], least: float) -> Labels:
    """Cut the part that a stroke runs through, the stroke run on at its ends."""
    height, width = labels.shape
    drawn = np.zeros(labels.shape, np.uint8)
    cv2.polylines(drawn, [np.round(path).astype(np.int32)], False, 255, 1, cv2.LINE_8)
    under = labels[(drawn > 0) & (bounding == 0)]
    if under.size == 0:
        raise ProjectError(
            "A split's stroke runs only over lines or outside the picture; draw it across a part."
        )
    number = int(np.bincount(under).argmax())
    part = labels == number
    reach = float(max(height, width))
    for end, before in ((path[0], path[1]), (path[-1], path[-2])):
        step = end - before
        step = step / max(float(np.hypot(*step)), 1e-6)
        distance = 0.0
        while distance < reach:
            x, y = np.round(end + step * distance).astype(int)
            if not (0 <= x < width and 0 <= y < height and part[y, x]):
                break
            distance += 1.0
        tip = end + step * distance
        cv2.line(
            drawn, tuple(np.round(end).astype(int).tolist()), tuple(np.round(tip).astype(int).tolist()), 255
        )
    rest = (part & (drawn == 0)).astype(np.uint8)
    count, pieces, stats, _ = cv2.connectedComponentsWithStats(rest, connectivity=4)
    large = [k for k in range(1, count) if stats[k, cv2.CC_STAT_AREA] >= least]
    if len(large) < 2:
        raise ProjectError("A split's stroke does not cut its part in two; draw it from line to line.")
    return _given(labels, part, pieces, sorted(large, key=lambda k: -stats[k, cv2.CC_STAT_AREA]), number)


def _given(labels: Labels, part: NDArray[np.bool_], pieces: Labels, order: list[int], number: int) -> Labels:
    """Give the pieces of a part their labels: the first keeps *number*, the others take the next free ones."""
    free = int(labels.max()) + 1
    names = np.zeros(int(pieces.max()) + 1, np.int32)
    for rank, k in enumerate(order):
        names[k] = number if rank == 0 else free + rank - 1
    seeds = np.where(part, names[pieces], 0).astype(np.int32)
    y, x = np.nonzero(part)
    window = np.s_[y.min() : y.max() + 1, x.min() : x.max() + 1]
    grown = seeds[window].copy()
    grow(grown)
    labels[window][part[window]] = grown[part[window]]
    return labels


def _cut_at_neck(labels: Labels, ink: Mask, number: int, pen: float) -> Labels:
    """Cut one label at its narrowest neck by a watershed of the distance to its edge."""
    from skimage.segmentation import watershed

    part = labels == number
    y, x = np.nonzero(part)
    top, left = int(y.min()), int(x.min())
    window = np.s_[top : int(y.max()) + 1, left : int(x.max()) + 1]
    crop = np.pad(part[window], 1)
    bare = crop & (np.pad(ink[window], 1) == 0)  # a line that ends inside the part narrows it
    distance = cv2.distanceTransform(bare.astype(np.uint8), cv2.DIST_L2, 5)
    deepest = float(distance.max())
    best: tuple[float, NDArray[np.int32], list[int]] | None = None
    for level in np.linspace(0.9, 0.1, 33) * deepest:
        count, pieces = cv2.connectedComponents((distance > level).astype(np.uint8), connectivity=8)
        depths = [float(distance[pieces == k].max()) for k in range(1, count)]
        ranked = sorted(range(1, count), key=lambda k: -depths[k - 1])
        if len(ranked) < 2:
            continue
        # how much the neck is narrower than the lesser of the two bays
        merit = depths[ranked[1] - 1] / level * math.sqrt(depths[ranked[1] - 1] / deepest)
        if depths[ranked[1] - 1] > max(1.3 * level, 0.7 * pen) and (best is None or merit > best[0]):
            best = (merit, np.asarray(pieces, np.int32), ranked[:2])
    if best is None:
        raise ProjectError("This part has no neck at which to cut it; draw a stroke across it instead.")
    _, pieces, chosen = best
    markers = np.zeros(crop.shape, np.int32)
    for rank, k in enumerate(chosen, 1):
        markers[pieces == k] = rank
    cut = np.asarray(watershed(-distance, markers, mask=crop), np.int32)  # type: ignore[no-untyped-call]
    cut = cut[1:-1, 1:-1]
    sizes = np.bincount(cut.ravel(), minlength=3)
    lesser = 1 if sizes[1] < sizes[2] else 2
    labels[window][(cut == lesser) & part[window]] = int(labels.max()) + 1
    return labels


def _numbered(labels: Labels, size: tuple[int, int]) -> tuple[Labels, tuple[Part, ...]]:
    """Number the parts by area, the largest first; label 1 becomes 0, the paper around."""
    from scipy.ndimage import find_objects

    areas = np.bincount(labels.ravel())
    areas[:2] = 0
    order = np.argsort(-areas, kind="stable")
    order = order[areas[order] > 0]
    table = np.zeros(len(areas), np.int32)
    table[order] = np.arange(1, len(order) + 1)
    numbered = table[labels]
    height, width = labels.shape
    sx, sy = size[0] / width, size[1] / height
    parts = []
    for number, box in enumerate(find_objects(numbered), 1):
        rows, columns = box
        x, y, radius = _deepest(numbered[rows, columns] == number)
        x, y = (x + columns.start + 0.5) * sx - 0.5, (y + rows.start + 0.5) * sy - 0.5
        left, top = round(columns.start * sx), round(rows.start * sy)
        parts.append(
            Part(
                number,
                round(int(areas[order[number - 1]]) * sx * sy),
                (left, top, round(columns.stop * sx) - left, round(rows.stop * sy) - top),
                (x, y),
                radius * (sx + sy) / 2,
                ((x + 0.5) / size[0], (y + 0.5) / size[1]),
            )
        )
    return numbered, tuple(parts)


def _deepest(shape: NDArray[np.bool_]) -> tuple[float, float, float]:
    """The point (x, y) farthest from the edge of a shape, and its distance."""
    step = max(1, min(shape.shape) // 120)
    crop = np.pad(shape[step // 2 :: step, step // 2 :: step].astype(np.uint8), 1)
    distance = cv2.distanceTransform(crop, cv2.DIST_L2, 5)
    _, radius, _, (x, y) = cv2.minMaxLoc(distance)
    return (x - 1) * step + step // 2, (y - 1) * step + step // 2, radius * step


def _between(closure: Closure, shifted: Labels, bounding: Mask) -> Closure:
    """The closure with the numbers of the parts on either hand; *shifted* holds each number plus one."""
    left, right = _sides(closure, shifted, bounding)
    return replace(closure, between=(max(0, left - 1), max(0, right - 1)))


def _scaled(closure: Closure, scale: NDArray[np.float64]) -> Closure:
    path = tuple(
        (round(float((x + 0.5) * scale[0] - 0.5), 2), round(float((y + 0.5) * scale[1] - 0.5), 2))
        for x, y in closure.path_px
    )
    return replace(closure, start_px=path[0], end_px=path[-1], path_px=path)
