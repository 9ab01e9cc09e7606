"""The line to cut a coloured figure out along: a white rim around it, smooth, in millimetres.

The line is a level of the distance to the figure, so it lies at one distance all around and, as a level of a
smooth field, never crosses itself. Distances are OpenCV's and levels scikit-image's; buffering polygons with a
geometry library would give the same rim, but needs one more dependency, and smoothing its outline afterwards
may make it cross.
"""

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendkit.errors import ProjectError
from blendkit.project.records import Cut, Point
from blendkit.project.work import Work

GRID_PER_MM = 10.0
"""Distances are worked out on this many pixels a millimetre."""

NEAR_MM = 4.0
"""Strokes that close nothing belong to the figure when they lie this near to it."""

LEAST_STROKE_MM2 = 0.15
"""Smaller spots of ink beside the figure are taken for dirt."""

LINE_TONE = 110
TURN_MM = 1.5
"""Radius of the tightest bay that scissors or a blade follow. Common practice, no source."""

SMOOTH_MM = 0.35
SIMPLE_MM = 0.015
"""Most that the line's corners may lie off the level."""

LEAST_PIECE_MM2 = 4.0

Outline = tuple[Point, ...]


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
    """

    outlines: tuple[Outline, ...] = field(repr=False)
    rim_mm: float
    least_rim_mm: float
    spikes: str
    left_out: int
    width_mm: float
    height_mm: float
    words: tuple[str, ...]


def find_cut_line(work: Work, cut: Cut | None = None) -> CutLine:
    """Find the line around the figure: all its closed areas, and the strokes beside them.

    Args:
        work: the project at work.
        cut: rim, and what becomes of spikes; None for the project's own.

    Returns: the line; several outlines where the figure is in pieces farther apart than two rims.
    Raises: ProjectError when nothing thicker than the thin things is left to cut out.
    """
    from scipy.ndimage import binary_fill_holes, gaussian_filter, label

    cut = cut or work.project.cut
    reach = cut.rim_mm + cut.thin_mm + TURN_MM + 2.0
    figure, strokes = _figure(work, reach)
    wanted = figure | strokes if cut.spikes == "bridge" else _without_thin(figure, cut.thin_mm)
    if not wanted.any():
        raise ProjectError(
            f"The cut line cuts everything off: no part of the figure is wider than {cut.thin_mm:g} mm; "
            'lower thin_mm in [cut], or set spikes = "bridge".'
        )
    # bridging closes bays up to the thin width between spikes; both ways give the line room to turn
    bay = TURN_MM + (cut.thin_mm if cut.spikes == "bridge" else 0.0)
    grown = _distance(wanted) - (cut.rim_mm + bay)
    inside = binary_fill_holes(grown <= 0)
    level = bay - _distance(~inside)  # 0 on the line, above 0 outside
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
    left_out = int(label((figure | strokes) & ~within)[1])
    least = _least_rim(wanted if cut.spikes == "bridge" else figure | strokes, within)
    points = np.concatenate([np.array(outline) for outline in outlines])
    low, high = points.min(axis=0), points.max(axis=0)
    size = (float(high[0] - low[0]), float(high[1] - low[1]))
    words = _words(cut, len(outlines), left_out, least)
    return CutLine(outlines, cut.rim_mm, least, cut.spikes, left_out, *size, words)


def _figure(work: Work, margin_mm: float) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """The closed areas, and the strokes beside them that close nothing, on the grid with a margin around."""
    import cv2
    from scipy.ndimage import label

    width, height = work.size_mm
    size = max(1, round(width * GRID_PER_MM)), max(1, round(height * GRID_PER_MM))
    areas = (work.regions.labels > 0).astype(np.uint8) * 255
    shrink = cv2.INTER_AREA if work.per_mm > GRID_PER_MM else cv2.INTER_LINEAR
    ink = cv2.resize(work.regions.line, size, interpolation=shrink) > LINE_TONE
    filled = cv2.resize(areas, size, interpolation=shrink) > 127
    pad = round(margin_mm * GRID_PER_MM)
    filled, ink = np.pad(filled, pad), np.pad(ink, pad)
    # the outline's outer half lies outside the areas, and belongs to the figure
    pen = max(1, round(work.regions.pen_px / work.per_mm * GRID_PER_MM))
    away = _distance(filled)
    figure = filled | (ink & (away <= pen / GRID_PER_MM))
    pieces, count = label(ink & ~figure)
    if not count:
        return figure, np.zeros_like(figure)
    sizes = np.bincount(pieces.ravel(), minlength=count + 1) / GRID_PER_MM**2
    nearest = np.full(count + 1, np.inf)
    np.minimum.at(nearest, pieces.ravel(), away.ravel())
    chosen = (sizes >= LEAST_STROKE_MM2) & (nearest <= NEAR_MM)
    chosen[0] = False
    return figure, np.asarray(chosen[pieces], np.bool_)


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


def _words(cut: Cut, count: int, left_out: int, least: float) -> tuple[str, ...]:
    from blendkit.page.lengths import size_words

    words = [f"White rim of {size_words(cut.rim_mm)}."]
    if cut.spikes == "bridge":
        words.append(
            f"Bays narrower than about {2 * (TURN_MM + cut.thin_mm):.0f} mm between spikes are bridged."
        )
    else:
        words.append(f"What is narrower than {cut.thin_mm:g} mm is cut off.")
    if count > 1:
        words.append(f"The figure comes out in {count} pieces.")
    if left_out:
        words.append(
            f"{left_out} small strokes lie outside the line."
            if left_out > 1
            else "One small stroke lies outside the line."
        )
    if cut.spikes == "bridge" and least < cut.rim_mm - 0.2:
        words.append(f"The rim is {max(least, 0):.1f} mm at its narrowest.")
    return tuple(words)
