"""Grow white pieces under the ink until they meet beneath the middle of the line.

Each pixel goes to the nearest white. Borders are then set to a part of a pixel: how grey the last white pixel
and the first inked one are tells how far the white goes on beyond that pixel's centre.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["Growth", "grow", "refine"]

Labels = NDArray[np.int32]
Mask = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, eq=False)
class Growth:
    """From which white pixel each pixel took its label.

    nearest: int32 (h, w), the rim pixel's place in the lists, counted from 1; 0 where none was sought.
    rows, columns (n,): where the rim pixels lie. reach_px (n,): how far beyond its centre the white goes on.
    """

    nearest: Labels
    rows: NDArray[np.intp]
    columns: NDArray[np.intp]
    reach_px: NDArray[np.float32]


def grow(labels: Labels, dark: Mask | None = None) -> Growth | None:
    """Every pixel labelled 0 takes the label of the nearest labelled pixel; changes *labels* in place.

    Args:
        labels: int32 (h, w), 0 where a label is wanted.
        dark: how black each pixel is; with it, white is measured to parts of a pixel.
    """
    empty = (labels == 0).astype(np.uint8)
    if not empty.any() or empty.all():
        return None
    # only labelled pixels beside an empty one can be the nearest; they are numbered from 1 in rows
    rim = cv2.dilate(empty, np.ones((3, 3), np.uint8)) > empty
    far = (~rim).view(np.uint8)
    _, nearest = cv2.distanceTransformWithLabels(far, cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL)
    rows, columns = np.nonzero(rim)
    table = np.concatenate([np.zeros(1, np.int32), labels[rows, columns]])
    at = np.flatnonzero(empty)
    np.put(labels, at, table[np.asarray(nearest).ravel()[at]])
    reach = np.full(len(rows), 0.5, np.float32)
    if dark is not None:
        # white left over in the rim pixel and in the blackest beside it lies between its centre and the edge
        beside = cv2.dilate(dark, cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3)))
        both = dark[rows, columns].astype(np.float32) + beside[rows, columns]
        reach = np.clip(1.5 - both / 255, -0.5, 1.5).astype(np.float32)
    return Growth(np.asarray(nearest, np.int32), rows, columns, reach)


def refine(labels: Labels, growth: Growth, bounding: Mask) -> None:
    """Move borders under the ink to where the white on either hand is equally far; changes *labels* in place."""
    own = np.concatenate([np.zeros(1, np.int32), labels[growth.rows, growth.columns]])
    rows = np.concatenate([np.full(1, -1e6), growth.rows]).astype(np.float32)
    columns = np.concatenate([np.full(1, -1e6), growth.columns]).astype(np.float32)
    reach = np.concatenate([np.zeros(1, np.float32), growth.reach_px])
    width = labels.shape[1]
    flat, nearest = labels.ravel(), growth.nearest.ravel()
    within = np.zeros_like(bounding)
    within[1:-1, 1:-1] = bounding[1:-1, 1:-1]
    at = np.flatnonzero(within)
    here = flat[at]
    beside = np.zeros(len(at), np.bool_)
    for step in (1, -1, width, -width):
        beside |= flat[at + step] != here
    beside &= own[nearest[at]] == here  # what a person has changed stays
    at = at[beside]
    y, x = (v.astype(np.float32) for v in np.divmod(at, width))
    best = np.full(len(at), np.inf, np.float32)
    chosen = flat[at]
    for step in (0, 1, -1, width, -width, width + 1, width - 1, -width - 1, 1 - width):
        k = nearest[at + step]
        distance = np.sqrt((columns[k] - x) ** 2 + (rows[k] - y) ** 2) - reach[k]
        better = distance < best
        best[better] = distance[better]
        chosen[better] = own[k[better]]
    flat[at] = chosen
