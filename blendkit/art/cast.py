"""The shadow that a part in front casts on the part behind: from its true outline, offset away from the light.

Around every point of the front part's outline lies a disc of shadow, moved away from the light: under a long edge
it is as deep as the shadow is wide, beside one two thirds and toward the light a third of that.
"""

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]

OFFSET = 1 / 3
"""How far the disc is moved, as a share of the shadow's width: 1.5 times as deep away from the light as beside,
the least of the 1.5 to 3 of common practice (no source)."""

WIDEST_MM = 12.0
"""No shadow reaches farther; more is no shadow of a stamped figure. Own judgement."""

LEAST_MM = 0.8
REACH_RADII = 1.1
"""A shadow on a small part is at most so wide, in radii of the largest circle within the part, but no less than
LEAST_MM. Own judgement."""

FLAT_REACH = 0.35
"""How far the shadow of a flat thing reaches, as a share of the usual. Own judgement."""

FULL_SHARE = 0.2
"""Share of the shadow's width that has its full tone, before it fades."""

SEARCHES = 6
"""Rounds of the search for the disc through a pixel. Own judgement."""


@dataclass(frozen=True)
class Overlaps:
    """Working pixels near a part in front of their own, and the distances around them; nothing knows the light.

    Fields:
        place: where the pixels lie in the flat working grid, shape (n,).
        part: the part of each, shape (n,).
        caster: the nearest part in front, shape (n,).
        strength: how sure it is, 0 to 1, shape (n,).
        thick: how far its shadow reaches, as a share of the usual, 0 to 1, shape (n,).
        distance: pixels to the front, shape (n,).
        widest: the widest shadow that each part takes, pixels, shape (parts + 1,).
        around: distances on a tile for each part behind, one after another; float32.
        x, y: each pixel's place on its tile; start, stride, tall: where the tile begins in *around*, its width
            and its height.
    """

    place: NDArray[np.int64]
    part: NDArray[np.int32]
    caster: NDArray[np.int32]
    strength: Floats
    thick: Floats
    distance: Floats
    widest: Floats
    around: Floats = field(repr=False)
    x: Floats = field(repr=False)
    y: Floats = field(repr=False)
    start: NDArray[np.int64] = field(repr=False)
    stride: NDArray[np.int64] = field(repr=False)
    tall: NDArray[np.int64] = field(repr=False)


def find_overlaps(
    labels: NDArray[np.int32], strength: Floats, flat: NDArray[np.bool_], per_mm: float
) -> Overlaps:
    """Measure how far every pixel lies from the parts in front of its own.

    Args:
        labels: part numbers, 0 outside, shape (h, w).
        strength: of the shadow that the column's part casts on the row's, 0 to 1, shape (parts + 1, parts + 1).
        flat: parts that lie so flat on others that their shadow is short, shape (parts + 1,).
        per_mm: pixels to a millimetre.

    Returns: Overlaps.
    """
    import cv2

    parts = len(strength) - 1
    radius = _radii(labels, parts)
    widest = np.clip(REACH_RADII * radius, LEAST_MM * per_mm, WIDEST_MM * per_mm).astype(np.float32)
    thick = np.where(flat, FLAT_REACH, np.clip(radius / (2 * per_mm), 0.5, 1)).astype(np.float32)
    boxes = _boxes(labels, parts)
    h, w = labels.shape
    kept: list[tuple[Any, ...]] = []
    tiles: list[Floats] = []
    start = 0
    for part in np.flatnonzero((strength > 0.02).any(axis=1)):
        top, bottom, left, right = boxes[part]
        if bottom <= top:
            continue
        pad = int(np.ceil(1.5 * widest[part])) + 2
        y0, y1, x0, x1 = max(0, top - pad), min(h, bottom + pad), max(0, left - pad), min(w, right + pad)
        tile = labels[y0:y1, x0:x1]
        front = strength[part][tile] > 0.02
        if not front.any():
            continue
        away, nearest = cv2.distanceTransformWithLabels(
            (~front).astype(np.uint8), cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
        )
        away = np.maximum(away - 0.5, 0).astype(np.float32)
        named = np.zeros(int(nearest.max()) + 1, np.int32)
        named[nearest[front]] = tile[front]
        row, column = np.nonzero((tile == part) & (away < widest[part]))
        caster = named[nearest[row, column]]
        n = len(row)
        kept.append(
            (
                (row + y0) * w + column + x0,
                np.full(n, part, np.int32),
                caster,
                strength[part][caster],
                thick[caster],
                away[row, column],
                column.astype(np.float32),
                row.astype(np.float32),
                np.full(n, start, np.int64),
                np.full(n, tile.shape[1], np.int64),
                np.full(n, tile.shape[0], np.int64),
            )
        )
        tiles.append(np.pad(away, ((0, 1), (0, 0)), mode="edge").ravel())
        start += tiles[-1].size
    if not kept:
        none, whole = np.zeros(0, np.float32), np.zeros(0, np.int64)
        short = np.zeros(0, np.int32)
        return Overlaps(whole, short, short, none, none, none, widest, none, none, none, whole, whole, whole)
    place, part_, caster, strong, thickness, distance, x, y, starts, stride, tall = (
        np.concatenate(each) for each in zip(*kept, strict=True)
    )
    around = np.append(np.concatenate(tiles), np.zeros(2, np.float32))
    return Overlaps(
        place.astype(np.int64),
        part_,
        caster,
        strong,
        thickness,
        distance,
        widest,
        around,
        x,
        y,
        starts,
        stride,
        tall,
    )


def cast_shadow(
    overlaps: Overlaps, toward: tuple[float, float], width_px: Floats, shape: tuple[int, ...]
) -> tuple[Floats, Floats]:
    """Cast the shadows of all parts in front.

    Args:
        overlaps: from `find_overlaps`.
        toward: unit vector toward the light, x to the right and y down.
        width_px: width of the shadow on each part, shape (parts + 1,).
        shape: of the working grid.

    Returns: the shadow, 0 to 1, shape (h, w); and where no highlight lies, 0 free to 1 within reach.
    """
    one = overlaps
    cast, near = np.zeros(shape, np.float32), np.zeros(shape, np.float32)
    if not len(one.place):
        return cast, near
    reach = np.minimum(width_px, one.widest)[one.part] * one.thick
    use = np.flatnonzero(one.distance < 2 * reach)
    reach = reach[use]
    x, y, tile = one.x[use], one.y[use], (one.start[use], one.stride[use], one.tall[use])
    step_x, step_y = np.float32(OFFSET * toward[0]) * reach, np.float32(OFFSET * toward[1]) * reach
    depth = one.distance[use] / ((1 - OFFSET) * reach)
    for _ in range(SEARCHES):  # the disc whose edge passes through the pixel
        far = np.minimum(depth, 1.5)
        depth = _look_up(one.around, tile, x + far * step_x, y + far * step_y) / ((1 - OFFSET) * reach)
    fade = np.clip((1 - depth) / (1 - FULL_SHARE), 0, 1)
    cast.ravel()[one.place[use]] = one.strength[use] * fade * fade * (3 - 2 * fade)
    edge = np.clip(3 - 1.5 * one.distance[use] / reach, 0, 1)
    near.ravel()[one.place[use]] = one.strength[use] * edge
    return cast, near


def _look_up(flat: Floats, tile: tuple[NDArray[np.int64], ...], x: Floats, y: Floats) -> Floats:
    """Values between four places of a tile each."""
    start, stride, tall = tile
    x = np.clip(x, 0, stride - 1.01).astype(np.float32)
    y = np.clip(y, 0, tall - 1).astype(np.float32)
    column, row = x.astype(np.int64), y.astype(np.int64)
    at = start + row * stride + column
    u, v = x - column, y - row
    upper = flat[at] * (1 - u) + flat[at + 1] * u
    lower = flat[at + stride] * (1 - u) + flat[at + stride + 1] * u
    return np.asarray(upper * (1 - v) + lower * v, dtype=np.float32)


def _boxes(labels: NDArray[np.int32], parts: int) -> NDArray[np.int64]:
    """Top, bottom, left and right of each part, ends not included; shape (parts + 1, 4)."""
    from scipy.ndimage import find_objects

    boxes = np.zeros((parts + 1, 4), np.int64)
    for part, box in enumerate(find_objects(labels, parts), 1):
        if box is not None:
            boxes[part] = box[0].start, box[0].stop, box[1].start, box[1].stop
    return boxes


def _radii(labels: NDArray[np.int32], parts: int) -> NDArray[np.float64]:
    """Radius in pixels of the largest circle within each part."""
    import cv2

    edge = np.zeros(labels.shape, bool)
    for here, there, place in (
        (labels[:, 1:], labels[:, :-1], np.s_[:, 1:]),
        (labels[:, :-1], labels[:, 1:], np.s_[:, :-1]),
        (labels[1:], labels[:-1], np.s_[1:]),
        (labels[:-1], labels[1:], np.s_[:-1]),
    ):
        edge[place] |= here != there
    inner = cv2.copyMakeBorder((~edge).astype(np.uint8), 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=0)
    distance = cv2.distanceTransform(inner, cv2.DIST_L2, 5)[1:-1, 1:-1]
    radius = np.full(parts + 1, 0.5)
    np.maximum.at(radius, labels.ravel(), distance.ravel() + 0.5)
    return radius
