"""Grow white pieces under the ink until they meet beneath the middle of the line.

Each pixel goes to the nearest white. Borders are then set to a part of a pixel: how grey the last white pixel
and the first inked one are tells how far the white goes on beyond that pixel's centre.
"""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Labels = NDArray[np.int32]
Mask = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, eq=False)
class Growth:
    """From which labelled pixel each pixel took its label.

    nearest: int32 (h, w), the labelled pixel's place in *seeds*, counted from 1. seeds (n,): where those pixels
    lie in the flat array.
    """

    nearest: Labels
    seeds: NDArray[np.intp]


def grow(labels: Labels) -> Growth | None:
    """Every pixel labelled 0 takes the label of the nearest labelled pixel; changes *labels* in place."""
    empty = labels == 0
    at = np.flatnonzero(empty)
    if at.size in (0, labels.size):
        return None
    # every labelled pixel is numbered, in rows: the search stops at the first, so it passes over the white
    with ThreadPoolExecutor(1) as beside:
        search = beside.submit(
            lambda: cv2.distanceTransformWithLabels(
                empty.view(np.uint8), cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
            )
        )
        seeds = np.flatnonzero(~empty)
    growth = Growth(np.asarray(search.result()[1], np.int32), seeds)
    labels.ravel()[at] = labels.ravel()[growth.seeds[growth.nearest.ravel()[at] - 1]]
    return growth


def refine(labels: Labels, growth: Growth, bounding: Mask, dark: Mask) -> None:
    """Move borders under the ink to where the white on either hand is equally far; changes *labels* in place.

    Args:
        labels: int32 (h, w), as grown and edited.
        growth: what *grow* gave.
        bounding: not 0 where ink bounds a part.
        dark: how black each pixel is, 255 fully; it measures the white to parts of a pixel.
    """
    width = labels.shape[1]
    flat, nearest, seeds = labels.ravel(), growth.nearest.ravel(), growth.seeds
    within = bounding > 0
    within[[0, -1]] = False
    within[:, [0, -1]] = False
    at = np.flatnonzero(within)
    here = flat[at]
    beside = np.zeros(len(at), np.bool_)
    for step in (1, -1, width, -width):
        beside |= flat[at + step] != here
    at, here = at[beside], here[beside]
    own = flat[seeds[nearest[at] - 1]] == here  # what a person has changed stays
    at = at[own]
    # white left over in the last white pixel and in the blackest beside it lies between its centre and the edge
    beyond = cv2.dilate(dark, cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3)))
    grey = cv2.add(dark, beyond, dtype=cv2.CV_16U).ravel()
    reach_px = np.clip(1.5 - np.arange(511, dtype=np.float32) / 255, -0.5, 1.5)
    y = at // width
    x = at - y * width
    best, chosen = np.full(len(at), np.inf, np.float32), np.zeros_like(at)
    for step in (0, 1, -1, width, -width, width + 1, width - 1, -width - 1, 1 - width):
        k = seeds[nearest[at + step] - 1]
        down = k // width
        across, down = (k - down * width - x).astype(np.float32), (down - y).astype(np.float32)
        distance = np.sqrt(across * across + down * down) - reach_px[grey[k]]
        better = distance < best
        best[better] = distance[better]
        chosen[better] = k[better]
    flat[at] = flat[chosen]
