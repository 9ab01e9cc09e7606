"""A line image becomes closed parts, each pixel belonging to exactly one.

The lines' gaps are closed first, then the white between the lines falls apart into connected pieces, and
each piece grows under the ink until it meets its neighbour: under the middle of the line, so that no white
shows beside it once the parts are coloured.
"""

import math
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field, replace
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from blendkit.art.closures import (
    GAP_PEN_WIDTHS,
    LOOSE_PEN_AREAS,
    Closure,
    draw_closures,
    find_closures,
    find_tips,
)
from blendkit.art.ink_mask import count_levels, find_ink, grey_of
from blendkit.art.labels import (
    Growth,
    drawn_closures,
    edited,
    grow,
    refine,
    sealed_by_the_frame,
    snap,
    switched_off,
)
from blendkit.art.learned import LOOK_PX_PER_MM, find_darkness, look_at, parts_of, silhouette
from blendkit.art.region_edits import Edits, Place
from blendkit.art.second_look import look_again
from blendkit.errors import PictureError, Problem, ProjectError
from blendkit.words import MM_PER_INCH

Labels = NDArray[np.int32]
Mask = NDArray[np.uint8]

LEAST_PART_PEN_AREAS = 0.15
LEAST_PART_MM2 = 0.1
"""Smallest closed area that is a part, in squares of the pen's width and, where the scale is known, in square
millimetres: smaller ones are holes in the ink, and no marker's tip goes there."""

LEAST_CUT_PEN_AREAS = 1.2, 6.0
"""Smallest area that one closure may cut off, and that several may together, in squares of the pen's width: a
small part seldom has two gaps, but rows of marks, such as scales, have many ends."""

SPECK_PEN_AREAS = 1.0
"""Ink smaller than this, in squares of the pen's width, bounds nothing."""

SPECK_PENS = 1.6
"""Ink longer than this, in widths of the pen, is no speck whatever its area: it may be a fine ring."""

DUST_PEN_AREAS = 0.2
"""Ink smaller than this is dust, and is left out of the printed line too."""

FAINT, FAINT_ABOVE, FAINT_PENS = 0.2, 0.1, 2.5
"""Blackness, 0 to 1, of a faint thin line; by how much it exceeds the mean around it; how far around, in pens."""

HAIRLINE_PENS, HAIRLINE_SHARE = 1.5, 0.78
"""Around a hairline, within so many pens, less than this share of what is tinted is black enough for ink."""

SOFT_EDGE_PX = 0.8
"""Width of the grey along a line's edge, in pixels, from which a picture counts as blurred."""

FINE_GAP_MM, FINE_GAP_PEN_WIDTHS = 0.95, 3.0
"""Where the scale is known, gaps in fine lines are closed up to so many millimetres, but never more than so many
widths of the pen."""

BROAD_GAP_MM = 1.2
"""Where the scale is known, no gap in broad lines is closed that is wider than this, in millimetres."""

SCRIBBLE_PARTS, SCRIBBLE_PENS = 1000, 1.5
"""So many areas, half of them reaching less than this many pens from their middle, are no outline (the examples:
86 to 120 areas, 2.2 to 3.0 pens). Own limits."""


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
        dpi: pixels an inch, when known; it limits gaps and the smallest part in millimetres too.
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
    grey = grey_of(picture)
    try:
        found = _by_rules(grey, dpi, gap_pen_widths, edits)
    except PictureError:
        if dpi is None or not _stamped(grey, dpi / MM_PER_INCH):
            raise
        found = None
    if dpi is not None and (found is None or _lines_are_open(*found, dpi)):
        return _by_look(grey, dpi, edits, found[0] if found else None)
    assert found is not None  # without a scale, the rules' fault was passed on
    return found[0]


OPEN_SHARE = 0.12
MOST_SLIVERS, SLIVER_SHARE, SLIVER_MM2 = 20, 0.3, 1.5
MOST_CLOSURES, CLOSURE_SHARE = 12, 0.6
MOST_ENDS, ENDS_SHARE = 100, 1.6
"""When the rules hand over to the learned look: no area covers this share of the silhouette; or more areas than
this, and than this share of all, are smaller than SLIVER_MM2 (hatching); or more gaps than this, and than this
share of the number of areas (a patchy impression); or so many free ends of lines (fur). Chosen on scenes.py drawn
by hard.py: clean and scanned drawings stay far below each."""


def _stamped(grey: NDArray[np.uint8], per_mm: float) -> bool:
    """Whether a picture that the rules refuse is mostly bare paper with ink on it, if blurred."""
    times = min(1.0, LOOK_PX_PER_MM / per_mm)
    small = cv2.resize(grey, None, fx=times, fy=times, interpolation=cv2.INTER_AREA)
    dark = find_darkness(np.asarray(small, np.uint8))
    return float((dark < 0.15).mean()) > BARE and LEAST_INKED < float((dark > 0.5).mean()) < MOST_INKED


BARE, LEAST_INKED, MOST_INKED = 0.65, 0.005, 0.2
"""Shares of a stamp's picture that are bare paper, at least, and ink. Own judgement."""


def _lines_are_open(found: Regions, ends: int, dpi: float) -> bool:
    """Whether the rules lost parts: the silhouette is not covered, or hatching was cut into slivers."""
    per_mm = dpi / MM_PER_INCH
    slivers = sum(part.area_px < SLIVER_MM2 * per_mm**2 for part in found.parts)
    if slivers > MOST_SLIVERS and slivers > SLIVER_SHARE * len(found.parts):
        return True
    if len(found.closures) > MOST_CLOSURES and len(found.closures) > CLOSURE_SHARE * len(found.parts):
        return True
    if ends > MOST_ENDS and ends > ENDS_SHARE * len(found.parts):
        return True
    times = min(1.0, 5.0 / per_mm)
    size = max(8, round(found.size_px[0] * times)), max(8, round(found.size_px[1] * times))
    ink = cv2.resize(found.line, size, interpolation=cv2.INTER_AREA)
    covered = cv2.resize((found.labels > 0).astype(np.uint8), size, interpolation=cv2.INTER_NEAREST) * 255
    solid = np.asarray(cv2.bitwise_or(cv2.threshold(ink, 100, 255, cv2.THRESH_BINARY)[1], covered), np.uint8)
    inside = silhouette(solid, per_mm * times)
    bare = cv2.bitwise_and(inside, cv2.bitwise_not(solid))
    return cv2.countNonZero(bare) > OPEN_SHARE * cv2.countNonZero(inside)


def _by_look(grey: NDArray[np.uint8], dpi: float, edits: Edits, rules: Regions | None) -> Regions:
    """The parts as the learned look sees them."""
    per_mm = dpi / MM_PER_INCH
    look = look_at(grey, per_mm)
    height, width = look.dark.shape
    size = float(width), float(height)
    pen = max(1.5, (rules.pen_px / per_mm if rules else 0.4) * LOOK_PX_PER_MM)
    drawn = np.zeros((height, width), np.uint8)
    closures = switched_off(drawn_closures(edits.closures, size), edits.closures_off, size, pen)
    draw_closures(drawn, closures)
    labels = parts_of(look, drawn) + 1
    ink = np.asarray(cv2.threshold(look.dark, 0.5, 255, cv2.THRESH_BINARY)[1], np.uint8)
    least = LEAST_LOOKED_MM2 * LOOK_PX_PER_MM**2
    small = np.bincount(labels.ravel()) < least
    if small.any():
        keep = ~small[labels]
        _, nearest = cv2.distanceTransformWithLabels(
            (~keep).astype(np.uint8), cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
        )
        table = np.zeros(int(nearest.max()) + 1, np.int32)
        table[nearest[keep]] = labels[keep]
        labels = table[nearest]
    labels = edited(np.ascontiguousarray(labels, np.int32), ink, edits, least, pen, size)
    labels = np.asarray(cv2.resize(labels, grey.shape[::-1], interpolation=cv2.INTER_NEAREST), np.int32)
    black = cv2.resize(
        cv2.convertScaleAbs(look.dark, alpha=255), grey.shape[::-1], interpolation=cv2.INTER_LINEAR
    )
    line = rules.line if rules else np.asarray(black, np.uint8)
    snap(labels, line, per_mm)
    runs = _runs(labels)
    table, extents = _numbers(runs)
    if not extents:
        raise PictureError(
            "No part is closed in this picture: its lines are open, like a scribble. Close the outline with "
            "a pen, allow wider gaps, or add closing strokes."
        )
    numbered = runs.renamed(table)
    parts = tuple(_part(numbered, extent, 1, grey.shape) for extent in extents)
    times = per_mm / LOOK_PX_PER_MM
    moved = tuple(
        replace(one, path_px=path, start_px=path[0], end_px=path[-1])
        for one in closures
        for path in [tuple((x * times, y * times) for x, y in one.path_px)]
    )
    return Regions(numbered, line, parts, moved, pen * times, 0.0, dpi, edits, (LOOKED_NOTE,))


LEAST_LOOKED_MM2 = 0.35
"""Smallest part that the learned look may find: the finest tip of a marker. Own judgement."""

LOOKED_NOTE = (
    "This stamp's lines are open or hatched, so its parts were found by a learned look at the whole drawing. "
    "Look over the areas map before you colour."
)


def _by_rules(
    grey: NDArray[np.uint8], dpi: float | None, gap_pen_widths: float, edits: Edits
) -> tuple[Regions, int]:
    """The parts that the lines enclose, gaps closed by rule; and how many free ends the lines have."""
    ink = find_ink(grey)
    factor = ink.factor
    pen, per_mm = ink.pen_px / factor, (dpi or 0.0) / MM_PER_INCH / factor
    size = grey.shape[1] / factor, grey.shape[0] / factor
    with ThreadPoolExecutor(1) as beside:  # what is done at full size needs no interpreter
        tone = beside.submit(ink.tone.black, grey)
        work = _with_faint_lines(ink.mask, ink.dark, pen)
        bounding, dust, body = _without_specks(work, pen)
        line = beside.submit(lambda: _without_dust(tone.result(), dust, factor))

        gap = gap_pen_widths * pen
        if gap_pen_widths == GAP_PEN_WIDTHS:
            gap = max(gap, min(FINE_GAP_PEN_WIDTHS * pen, FINE_GAP_MM * per_mm))
            gap = min(gap, BROAD_GAP_MM * per_mm) if per_mm else gap
        tips = find_tips(bounding, pen)
        x, y = np.round(tips.at.T).astype(np.intp)
        areas = body(y, x)
        proposed = find_closures(bounding, tips, areas, pen, gap)
        proposed += look_again(bounding, tips, areas, pen, gap, proposed)
        closures = switched_off(
            [*proposed, *drawn_closures(edits.closures, size)], edits.closures_off, size, pen
        )
        least = max(6.0, LEAST_PART_PEN_AREAS * pen**2, LEAST_PART_MM2 * per_mm**2)
        labels, growth, closures = _label(bounding, closures, pen, least)
        labels = edited(labels, bounding, edits, least, pen, size)
        if growth:
            refine(labels, growth, bounding, ink.dark)
        runs = _runs(labels)
        table, extents = _numbers(runs)
        if not extents:
            raise PictureError(
                "No part is closed in this picture: its lines are open, like a scribble. Close the outline with "
                "a pen, allow wider gaps, or add closing strokes."
            )
        closures = tuple(_scaled(_between(closure, labels, table, bounding), factor) for closure in closures)
        labels = runs.renamed(table)
        enlarged = beside.submit(_enlarged, labels, factor, grey.shape)
        parts = tuple(_part(labels, extent, factor, grey.shape) for extent in extents)
        slim = float(np.median([part.radius_px for part in parts])) / ink.pen_px
        if len(parts) >= SCRIBBLE_PARTS and slim < SCRIBBLE_PENS:
            raise PictureError(
                f"The lines of this picture cut it into {len(parts)} areas, most of them too narrow to colour: a "
                "scribble, a hatching or a screen of dots, not an outline. Use the stamped outline alone, at a "
                "larger scale."
            )
        labels = np.asarray(enlarged.result(), np.int32)
        found = Regions(labels, line.result(), parts, closures, ink.pen_px, gap * factor, dpi, edits)
        return found, len(tips.at)


def _with_faint_lines(work: Mask, dark: Mask, pen: float) -> Mask:
    """The ink, and thin lines that are too grey for the threshold.

    In a blurred picture they are darker than the mean around them. In a sharp one, where greys are edges and ends
    of lines, only hairlines are taken: where most of what is tinted at all is too grey.
    """
    tinted = np.asarray(cv2.threshold(dark, 255 * FAINT, 255, cv2.THRESH_BINARY)[1], np.uint8)
    counts = count_levels(dark)
    grey_edge_px = float(counts[65:192].sum()) / max(1, int(counts[129:].sum())) * pen / 2
    if grey_edge_px < SOFT_EDGE_PX:
        side = 2 * round(HAIRLINE_PENS * pen / 2) + 1
        inked, all_ = (cv2.blur(m, (side, side)) for m in (work, tinted))
        hair = cv2.compare(inked, cv2.convertScaleAbs(all_, alpha=HAIRLINE_SHARE), cv2.CMP_LT)
        return np.asarray(cv2.bitwise_or(work, cv2.bitwise_and(hair, tinted)), np.uint8)
    side = 2 * round(FAINT_PENS * pen / 2) + 1
    above = cv2.subtract(dark, cv2.blur(dark, (side, side)))
    ridge = cv2.threshold(above, 255 * FAINT_ABOVE, 255, cv2.THRESH_BINARY)[1]
    return np.asarray(cv2.bitwise_or(work, cv2.bitwise_and(ridge, tinted)), np.uint8)


def _without_specks(
    work: Mask, pen: float
) -> tuple[Mask, Mask, Callable[[NDArray[np.intp], NDArray[np.intp]], NDArray[np.float64]]]:
    """The ink that can bound a part; the dust; and how large the ink is whose edge runs through (rows, columns).

    Areas come from the outlines, by Pick's theorem; those of ink too large to hang free are given as infinite.
    """
    outlines, family = cv2.findContours(work, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    parents = np.asarray(family).reshape(-1, 4)[:, 3].tolist()
    most = 2 * LOOSE_PEN_AREAS * pen**2
    areas: dict[int, float] = {}
    holes: dict[int, int] = {}
    for k, (outline, parent) in enumerate(zip(outlines, parents, strict=True)):
        if parent < 0 and len(outline) < most:
            areas[k] = cv2.contourArea(outline) + (len(outline) / 2 if len(outline) > 1 else 0) + 1
        elif parent in areas:  # a hole, listed after what it is in
            areas[parent] -= cv2.contourArea(outline) - len(outline) / 2 + 1
            holes[k] = parent

    kept, dust = work.copy(), np.zeros_like(work)
    for k, area in list(areas.items()):
        if area < SPECK_PEN_AREAS * pen**2 and max(cv2.boundingRect(outlines[k])[2:]) < SPECK_PENS * pen:
            cv2.fillPoly(kept, [outlines[k]], 0)
            if area < DUST_PEN_AREAS * pen**2:
                cv2.fillPoly(dust, [outlines[k]], 255)
            del areas[k]

    def body(rows: NDArray[np.intp], columns: NDArray[np.intp]) -> NDArray[np.float64]:
        at_edge = np.zeros(work.shape, np.float32)
        for k, outline in enumerate(outlines):
            if area := areas.get(holes.get(k, k)):
                at_edge[outline[:, 0, 1], outline[:, 0, 0]] = area
        found = at_edge[rows, columns]
        return np.where(found > 0, found, np.inf)

    return kept, dust, body


def _without_dust(line: Mask, dust: Mask, factor: int) -> Mask:
    """The printed line without the dust and a rim round it; changes *line* in place."""
    rows, columns = (factor * v for v in np.nonzero(cv2.dilate(dust, np.ones((3, 3), np.uint8)) > 0))
    for down, across in np.ndindex(factor, factor):
        line[rows + down, columns + across] = 0
    return line


def _enlarged(small: NDArray[Any], factor: int, shape: tuple[int, ...]) -> NDArray[Any]:
    """Each pixel as *factor* by *factor*; rows and columns that reducing cut off are like those beside."""
    if factor == 1:
        return small
    height, width = small.shape[0] * factor, small.shape[1] * factor
    large = np.empty(shape, small.dtype)
    cv2.resize(small, (width, height), dst=large[:height, :width], interpolation=cv2.INTER_NEAREST)
    large[:height, width:] = large[:height, width - 1 : width]
    large[height:] = large[height - 1]
    return large


def _label(
    bounding: Mask, closures: tuple[Closure, ...], pen: float, least: float
) -> tuple[Labels, Growth | None, tuple[Closure, ...]]:
    """Label the white pieces and grow them under the ink; drop closures that would cut off a sliver."""
    barrier = bounding.copy()
    draw_closures(barrier, closures)
    white = cv2.bitwise_not(barrier)
    count, found = cv2.connectedComponents(white, connectivity=4, ltype=cv2.CV_32S)
    pieces = np.asarray(found, np.int32)
    runs = _runs(pieces)
    areas = runs.areas()
    areas[0] = 0
    joined = np.arange(count)
    kept: list[Closure] = []
    sides = [_sides(closure, pieces, bounding) for closure in closures]
    bounds = np.bincount(
        [k for left, right in sides if left != right for k in (left, right)], minlength=count
    )
    for closure, (left, right) in sorted(
        zip(closures, sides, strict=True), key=lambda pair: _least(pair[1], areas)
    ):
        one, other = _root(joined, left), _root(joined, right)
        if closure.on and closure.kind != "drawn" and one != other and one and other:
            low, high = (one, other) if areas[one] < areas[other] else (other, one)
            if areas[low] < LEAST_CUT_PEN_AREAS[0 if bounds[low] == 1 else 1] * pen**2:
                joined[low] = high
                areas[high] += areas[low]
                bounds[high] += bounds[low] - 2
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
    final[np.isin(names, sealed_by_the_frame(names[pieces]))] = 1
    labels = runs.renamed(final)
    growth = grow(labels)
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
        normal = -float(step[1] / length), float(step[0] / length)
        points = start + np.linspace(0, 1, 2 * math.ceil(length) + 1)[:, None] * step
        for x, y in points.tolist():
            if not (0 <= x < width - 0.5 and 0 <= y < height - 0.5) or bounding[round(y), round(x)]:
                continue
            for side, sign in enumerate((1, -1)):
                for far in (1.5, 2.5, 3.5):
                    a, b = round(x + sign * far * normal[0]), round(y + sign * far * normal[1])
                    if not (0 <= a < width and 0 <= b < height) or bounding[b, a]:
                        break  # beyond a line lies what the closure does not touch
                    if pieces[b, a]:
                        found[side].append(int(pieces[b, a]))
                        break
    left, right = ((int(np.bincount(side).argmax()) if side else 0) for side in found)
    return left, right


@dataclass(frozen=True, slots=True, eq=False)
class _Runs:
    """Runs of one label along the rows of labels (h, w): the label, where in the flat array, how long."""

    shape: tuple[int, ...]
    of: Labels
    at: NDArray[np.intp]
    lengths: NDArray[np.intp]

    def areas(self) -> NDArray[np.int64]:
        """How many pixels each label has."""
        return np.bincount(self.of, self.lengths).astype(np.int64)

    def renamed(self, table: Labels) -> Labels:
        """Labels (h, w), each looked up in *table*."""
        return np.repeat(table[self.of], self.lengths).reshape(self.shape)


def _runs(labels: Labels) -> _Runs:
    flat = labels.ravel()
    starts = np.empty(flat.size, np.bool_)
    np.not_equal(flat[1:], flat[:-1], out=starts[1:])
    starts[:: labels.shape[1]] = True
    at = np.flatnonzero(starts)
    return _Runs(labels.shape, flat[at], at, np.diff(at, append=flat.size))


@dataclass(frozen=True, slots=True)
class _Extent:
    """A part's number, its pixels and the window that holds it (rows, columns), in the working picture."""

    number: int
    area: int
    rows: slice
    columns: slice


def _numbers(runs: _Runs) -> tuple[Labels, list[_Extent]]:
    """Each label's number by area, the largest first, and the parts; label 1 becomes 0, the paper around."""
    width, of = runs.shape[1], runs.of
    areas = runs.areas()
    areas[:2] = 0
    order = np.argsort(-areas, kind="stable")
    order = order[areas[order] > 0]
    table = np.zeros(len(areas), np.int32)
    table[order] = np.arange(1, len(order) + 1)
    rows = runs.at // width
    columns = runs.at - rows * width
    left, right = np.full(len(areas), width), np.zeros(len(areas), np.intp)
    top, bottom = np.zeros_like(left), np.zeros_like(left)
    np.minimum.at(left, of, columns)
    np.maximum.at(right, of, columns + runs.lengths)
    top[of[::-1]], bottom[of] = rows[::-1], rows + 1
    return table, [
        _Extent(number, int(areas[k]), slice(top[k], bottom[k]), slice(left[k], right[k]))
        for number, k in enumerate(order, 1)
    ]


def _part(numbered: Labels, extent: _Extent, factor: int, shape: tuple[int, ...]) -> Part:
    """A part, in pixels of the picture."""
    rows, columns = extent.rows, extent.columns
    x, y, radius = _deepest(numbered[rows, columns], extent.number)
    x, y = ((v + 0.5) * factor - 0.5 for v in (x + columns.start, y + rows.start))
    left, top, right, bottom = (int(v) * factor for v in (columns.start, rows.start, columns.stop, rows.stop))
    return Part(
        extent.number,
        extent.area * factor**2,
        (left, top, right - left, bottom - top),
        (float(x), float(y)),
        radius * factor,
        (float((x + 0.5) / shape[1]), float((y + 0.5) / shape[0])),
    )


def _deepest(window: Labels, number: int) -> tuple[float, float, float]:
    """The point (x, y) of a part farthest from its edge, and its distance."""
    step = max(1, min(window.shape) // 120)
    shape = (window[step // 2 :: step, step // 2 :: step] == number).view(np.uint8)
    distance = cv2.distanceTransform(
        cv2.copyMakeBorder(shape, 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0), cv2.DIST_L2, 5
    )
    _, radius, _, (x, y) = cv2.minMaxLoc(distance)
    return (x - 1) * step + step // 2, (y - 1) * step + step // 2, radius * step


def _between(closure: Closure, labels: Labels, table: Labels, bounding: Mask) -> Closure:
    """The closure with the numbers of the parts on either hand; *table* gives each label's number."""
    left, right = _sides(closure, labels, bounding)
    return replace(closure, between=(int(table[left]), int(table[right])))


def _scaled(closure: Closure, factor: int) -> Closure:
    if factor == 1:
        return closure
    path = tuple(
        (round((x + 0.5) * factor - 0.5, 2), round((y + 0.5) * factor - 0.5, 2)) for x, y in closure.path_px
    )
    return replace(closure, start_px=path[0], end_px=path[-1], path_px=path)
