"""The line to cut a coloured figure out along: a white rim around it, smooth, in millimetres.

The figure comes first: all that the stamp covers, ink and parts, gaps in its silhouette bridged. It hangs on the
ink, never on the parts alone: where a part has run out into the paper, the line still goes around its ink. The
line is a level of the distance to the figure, so it lies at one distance all around and, as a level of a smooth
field, never crosses itself. Distances are OpenCV's and levels scikit-image's; buffering polygons with a geometry
library would give the same rim, but needs one more dependency, and smoothing its outline afterwards may make it
cross.
"""

from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendkit.art.learned import silhouette
from blendkit.art.regions import Regions
from blendkit.errors import Problem, ProjectError
from blendkit.project.records import Cut, Point
from blendkit.project.work import Work
from blendkit.words import MM_PER_INCH, size_words

GRID_PER_MM = 10.0
"""Distances are worked out on this many pixels a millimetre."""

LEAST_STROKE_MM2 = 0.15
"""Smaller spots of ink beside the figure are taken for dirt."""

NEAR_MM, LEAST_FAR_MM = 4.0, 2.0
"""Farther than the first from the figure, ink shorter than the second is taken for dirt too. Own judgement."""

LINE_TONE = 110
TURN_MM = 1.5
"""Radius of the tightest bay that scissors or a blade follow. Common practice, no source."""

SMOOTH_MM = 0.35
SIMPLE_MM = 0.015
"""Most that the line's corners may lie off the level."""

LEAST_PIECE_MM2 = 4.0
SMALL_PIECE = 0.2
"""A piece that lies apart is asked about when it is smaller than this share of the largest. Own judgement."""

RIM_KEPT = 0.9
"""Share of the asked rim that is kept everywhere; less is a fault."""

CROSSED_MM = 0.3
"""Ink counts as outside the line from this length on: less is an edge's blur. Own judgement."""

Outline = tuple[Point, ...]


@dataclass(frozen=True, slots=True)
class CutFault:
    """Where the line would harm the work.

    Args:
        place_mm: the middle of what is cut off, or where the rim is narrowest.
        size_mm: how long what lies outside is, or how wide the rim.
        words: what is wrong there.
    """

    place_mm: Point
    size_mm: float
    words: str


@dataclass(frozen=True, slots=True)
class CutLine:
    """The cut line.

    Args:
        outlines: closed outlines in mm from the image's top left corner, the longest first; they never cross.
        rim_mm: the rim that was asked for.
        least_rim_mm: the narrowest white between line and figure; below 0 where something was cut off.
        spikes: whether thin things were bridged or cut.
        left_out: strokes of the drawing that lie outside the line.
        width_mm, height_mm: of everything inside the line.
        words: what to know.
        apart: a place on each small piece that lies apart from the rest, and is cut out by itself.
        faults: where the line would harm the work; none as a rule.
    """

    outlines: tuple[Outline, ...] = field(repr=False)
    rim_mm: float
    least_rim_mm: float
    spikes: str
    left_out: int
    width_mm: float
    height_mm: float
    words: tuple[str, ...]
    apart: tuple[Point, ...] = ()
    faults: tuple[CutFault, ...] = ()


def find_cut_line(work: Work, cut: Cut | None = None) -> CutLine:
    """Find the line around the figure: all its ink and parts, gaps in its silhouette bridged.

    Args:
        work: the project at work.
        cut: rim, and what becomes of spikes; None for the project's own.

    Returns: the line; several outlines where the figure is in pieces farther apart than two rims.
    Raises: ProjectError when nothing thicker than the thin things is left to cut out, or a place to leave out
        lies on no piece.
    """
    return _line_around(work.regions, work.dpi, cut or work.project.cut, work.project.told_in)


@lru_cache(maxsize=2)  # the line stays while colours change
def _line_around(regions: Regions, dpi: float, cut: Cut, units: str) -> CutLine:
    from scipy.ndimage import binary_fill_holes, gaussian_filter, label

    reach = _margin(cut)
    figure = _figure(regions, dpi, reach, cut.leave)
    wanted = _wanted(figure, cut)
    if not wanted.any():
        raise ProjectError(
            f"The cut line cuts everything off: no part of the figure is wider than {cut.thin_mm:g} mm; "
            'lower thin_mm in [cut], or set spikes = "bridge".'
        )
    grown = _distance(wanted) - (cut.rim_mm + TURN_MM)  # closes bays in which the line could not turn
    inside = binary_fill_holes(grown <= 0)
    level = TURN_MM - _distance(~inside)  # 0 on the line, above 0 outside
    level = gaussian_filter(level, SMOOTH_MM * GRID_PER_MM)
    solid = binary_fill_holes(level <= 0)
    pieces, count = label(solid)
    sizes = np.bincount(pieces.ravel()) / GRID_PER_MM**2
    kept = [k for k in range(1, count + 1) if sizes[k] >= LEAST_PIECE_MM2 and wanted[pieces == k].any()]
    outlines = _outlines(
        np.where(np.isin(pieces, kept), np.minimum(level, -1e-6), np.maximum(level, 1e-6)), reach
    )
    if not outlines:
        raise ProjectError("The cut line cuts everything off; lower thin_mm in [cut].")
    within = np.isin(pieces, kept)
    left_out = int(label(figure & ~within)[1])
    least = _least_rim(wanted if cut.spikes == "bridge" else figure, within)
    points = np.concatenate([np.array(outline) for outline in outlines])
    low, high = points.min(axis=0), points.max(axis=0)
    size = (float(high[0] - low[0]), float(high[1] - low[1]))
    largest = max(kept, key=lambda k: sizes[k])
    small = [k for k in kept if sizes[k] < SMALL_PIECE * sizes[largest]]
    apart = tuple(_middle(wanted & (pieces == k), reach) for k in small)
    words = _words(cut, units, len(kept), left_out, least)
    faults = find_cut_faults(regions, dpi, cut, outlines)
    return CutLine(outlines, cut.rim_mm, least, cut.spikes, left_out, *size, words, apart, faults)


def find_cut_faults(
    regions: Regions, dpi: float, cut: Cut, outlines: tuple[Outline, ...]
) -> tuple[CutFault, ...]:
    """Hold a line against the drawing's own ink and parts.

    Args:
        regions: the drawing.
        dpi: pixels an inch.
        cut: what was asked for; thin things with spikes = "cut" and what *leave* names may lie outside.
        outlines: the line, mm.

    Returns: what lies outside, the largest first, and where the rim is under RIM_KEPT of what was asked.
    """
    import cv2
    from scipy.ndimage import label

    margin = _margin(cut)
    ink, filled = _drawn(regions, dpi, margin)
    wanted = _wanted(_figure(regions, dpi, margin, cut.leave), cut) & (ink | filled)
    within = np.zeros(wanted.shape, np.uint8)
    for outline in outlines:  # one by one, so that none takes another out
        corners = (np.array(outline) + margin) * GRID_PER_MM - 0.5
        cv2.fillPoly(within, [np.round(16 * corners).astype(np.int32)], 1, cv2.LINE_8, 4)
    faults = []
    pieces, count = label(wanted & (within == 0), np.ones((3, 3)))
    for k in range(1, count + 1):
        rows, columns = np.nonzero(pieces == k)
        length = float(np.hypot(np.ptp(rows) + 1, np.ptp(columns) + 1)) / GRID_PER_MM
        if length >= CROSSED_MM:
            place = _middle(pieces == k, margin)
            words = f"{length:.1f} mm of the drawing lie outside the line at {_at(place)}."
            faults.append(CutFault(place, length, words))
    faults.sort(key=lambda one: -one.size_mm)
    away = np.where(wanted & (within > 0), _distance(within == 0), np.inf)
    rim = float(away.min())
    if rim < RIM_KEPT * cut.rim_mm - 1 / GRID_PER_MM:
        row, column = np.unravel_index(int(away.argmin()), away.shape)
        place = _place(float(column), float(row), margin)
        words = f"the rim is only {rim:.1f} mm wide at {_at(place)}; {cut.rim_mm:g} mm were asked for."
        faults.append(CutFault(place, rim, words))
    return tuple(faults)


def _place(column: float, row: float, margin_mm: float) -> Point:
    x, y = ((v + 0.5) / GRID_PER_MM - margin_mm for v in (column, row))
    return round(x, 1), round(y, 1)


def _middle(mask: NDArray[np.bool_], margin_mm: float) -> Point:
    """The place in a mask that is nearest to its middle, mm."""
    rows, columns = np.nonzero(mask)
    k = int(np.argmin(np.hypot(rows - rows.mean(), columns - columns.mean())))
    return _place(float(columns[k]), float(rows[k]), margin_mm)


def _at(place: Point) -> str:
    return f"[{place[0]:.1f}, {place[1]:.1f}]"


def _margin(cut: Cut) -> float:
    """Paper to keep around the drawing, mm: room for the rim and for the line to turn."""
    return cut.rim_mm + TURN_MM + 2.0


def _wanted(figure: NDArray[np.bool_], cut: Cut) -> NDArray[np.bool_]:
    """What of the figure has to come out whole."""
    return figure if cut.spikes == "bridge" else _without_thin(figure, cut.thin_mm)


def _drawn(regions: Regions, dpi: float, margin_mm: float) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """The drawing's ink, and its closed areas, on the grid with a margin around."""
    import cv2

    per_mm = dpi / MM_PER_INCH
    width, height = (max(1, round(side / per_mm * GRID_PER_MM)) for side in regions.size_px)
    areas = (regions.labels > 0).astype(np.uint8) * 255
    shrink = cv2.INTER_AREA if per_mm > GRID_PER_MM else cv2.INTER_LINEAR
    ink = cv2.resize(regions.line, (width, height), interpolation=shrink) > LINE_TONE
    filled = cv2.resize(areas, (width, height), interpolation=shrink) > 127
    pad = round(margin_mm * GRID_PER_MM)
    return np.pad(ink, pad), np.pad(filled, pad)


@lru_cache(maxsize=1)  # the line is held against what it was made from
def _figure(regions: Regions, dpi: float, margin_mm: float, leave: tuple[Point, ...]) -> NDArray[np.bool_]:
    """What the stamp covers, on the grid with a margin around: its parts and all ink, without dirt."""
    from scipy.ndimage import find_objects, label

    ink, filled = _drawn(regions, dpi, margin_mm)
    spots, count = label(ink & ~filled, np.ones((3, 3)))
    small = np.bincount(spots.ravel(), minlength=count + 1) < LEAST_STROKE_MM2 * GRID_PER_MM**2
    small[0] = False
    solid = filled | (ink & ~small[spots])
    covered = silhouette(solid.astype(np.uint8) * 255, GRID_PER_MM) > 0
    pieces, count = label(covered)
    sizes = np.bincount(pieces.ravel(), minlength=count + 1) / GRID_PER_MM**2
    with_parts = np.bincount(pieces[filled], minlength=count + 1) / GRID_PER_MM**2 >= LEAST_PIECE_MM2
    with_parts[0] = False
    chosen = with_parts.copy() if with_parts.any() else sizes == sizes[1:].max(initial=0)
    chosen[0] = False
    nearest = np.full(count + 1, np.inf)
    np.minimum.at(nearest, pieces.ravel(), _distance(chosen[pieces]).ravel())
    for k, extent in enumerate(find_objects(pieces), 1):
        longest = max(axis.stop - axis.start for axis in extent) / GRID_PER_MM
        chosen[k] |= nearest[k] <= NEAR_MM or longest >= LEAST_FAR_MM
    for place in leave:
        x, y = (int((v + margin_mm) * GRID_PER_MM) for v in place)
        reach = round(GRID_PER_MM)
        near = pieces[max(0, y - reach) : y + reach + 1, max(0, x - reach) : x + reach + 1]
        beside = np.unique(near[near > 0])
        if len(beside) == 0 or chosen.sum() - chosen[beside].sum() < 1:
            raise ProjectError(
                "[cut] leaves out what is no piece by itself.",
                [Problem("cut, leave", _at(place), "a place in mm on ink that lies apart from the figure")],
            )
        chosen[beside] = False
    return np.asarray(chosen[pieces], np.bool_)


def _distance(mask: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Distance in mm from every pixel to the nearest of *mask*, measured to its edge; 0 inside."""
    import cv2

    if not mask.any():
        return np.full(mask.shape, np.inf, np.float32)
    distance = cv2.distanceTransform((~mask).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return np.where(mask, np.float32(0), (distance - np.float32(0.5)) / np.float32(GRID_PER_MM))


def _without_thin(figure: NDArray[np.bool_], thin_mm: float) -> NDArray[np.bool_]:
    """The figure without what is narrower than *thin_mm*: opened by a disc."""
    core = _distance(~figure) >= thin_mm / 2
    return np.asarray((_distance(core) <= thin_mm / 2) & figure if core.any() else core, np.bool_)


def _outlines(level: NDArray[np.floating[Any]], margin_mm: float) -> tuple[Outline, ...]:
    """Follow the level 0 all around each piece, its holes left out."""
    from skimage.measure import approximate_polygon, find_contours

    margin = round(margin_mm * GRID_PER_MM)
    found: list[tuple[float, Outline]] = []
    for contour in find_contours(level, 0.0):  # type: ignore[no-untyped-call]
        points = np.asarray(contour)
        if not np.allclose(points[0], points[-1]):
            continue
        points = approximate_polygon(points, SIMPLE_MM * GRID_PER_MM)[:-1]  # type: ignore[no-untyped-call]
        places = (points[:, ::-1] - margin + 0.5) / GRID_PER_MM
        x, y = places.T
        area = 0.5 * abs(float(x @ np.roll(y, 1) - y @ np.roll(x, 1)))
        if area >= LEAST_PIECE_MM2:
            outline = tuple((round(float(a), 3), round(float(b), 3)) for a, b in places)
            found.append((area, outline))
    found.sort(key=lambda one: -one[0])
    return tuple(outline for _, outline in found)


def _least_rim(figure: NDArray[np.bool_], within: NDArray[np.bool_]) -> float:
    """The narrowest white, mm; -1 where the line runs through the figure."""
    kept = figure & within
    if not kept.any() or bool((figure & ~within).any()):
        return -1.0
    return float(_distance(~within)[kept].min())


def _words(cut: Cut, units: str, count: int, left_out: int, least: float) -> tuple[str, ...]:
    def told(length_mm: float) -> str:
        return size_words(length_mm, units=units)

    words = [f"White rim of {told(cut.rim_mm)}."]
    if cut.spikes == "bridge":
        words.append(
            f"Bays narrower than {told(2 * TURN_MM)} between hairs and spikes are bridged: cut across, not in."
        )
    else:
        words.append(f"What is narrower than {told(cut.thin_mm)} is cut off.")
    if count > 1:
        words.append(f"The figure comes out in {count} pieces.")
    if left_out:
        words.append(
            f"{left_out} small strokes lie outside the line."
            if left_out > 1
            else "One small stroke lies outside the line."
        )
    if cut.spikes == "bridge" and least < cut.rim_mm - 0.2:
        words.append(f"The rim is {told(max(least, 0.0))} at its narrowest.")
    return tuple(words)
