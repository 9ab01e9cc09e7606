"""Labels of the working picture, before the parts are numbered: 0 for none, 1 for the paper around.

White pieces grow under the ink until they meet beneath the middle of the line: each pixel goes to the nearest
white. Borders are then set to a part of a pixel: how grey the last white pixel and the first inked one are
tells how far the white goes on beyond that pixel's centre. A person's changes are applied between: closures
drawn and switched off, splits, cuts, merges, reassignments.
"""

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from blendkit.art.closures import Closure
from blendkit.art.region_edits import Edits, Place, Stroke
from blendkit.errors import Problem, ProjectError

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


ALONG_FRAME = 0.6
"""White that holds both corners of a side of the picture, and this share of it, is paper. Own judgement."""


def sealed_by_the_frame(labels: Labels) -> list[int]:
    """Labels of paper that a line from edge to edge cuts off, as under a ground: it lies along the frame."""
    found = []
    for side in (labels[0], labels[-1], labels[:, 0], labels[:, -1]):
        name = int(side[0])
        if name > 0 and name == side[-1] and np.mean(side == name) > ALONG_FRAME:
            found.append(name)
    return found


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


SNAP_MM = 0.5
"""Ink this near to a border that was found without regard to it can be the line that the border runs under."""


def snap(labels: Labels, dark: Mask, per_mm: float) -> None:
    """Move borders that lie near a line to the line's middle; changes *labels* in place.

    Args:
        labels: int32 (h, w), all above 0.
        dark: uint8 (h, w), how black each pixel is, 255 fully.
        per_mm: pixels to a millimetre.
    """
    edge = np.zeros(labels.shape, np.uint8)
    for a, b in ((np.s_[:, :-1], np.s_[:, 1:]), (np.s_[:-1], np.s_[1:])):
        differs = labels[a] != labels[b]
        edge[a] |= differs
        edge[b] |= differs
    near = cv2.distanceTransform(1 - edge, cv2.DIST_L2, 5) <= SNAP_MM * per_mm
    ink = np.asarray(cv2.threshold(dark, 127, 255, cv2.THRESH_BINARY)[1], np.uint8)
    labels[near & (ink > 0)] = 0
    growth = grow(labels)
    if growth:
        refine(labels, growth, ink, dark)


def _pixels(stroke: Stroke, size: tuple[float, float]) -> NDArray[np.float64]:
    """A stroke's places as (x, y) pixels of the working picture, *size* its width and height."""
    return np.array(stroke, float) * size - 0.5


def drawn_closures(strokes: tuple[Stroke, ...], size: tuple[float, float]) -> list[Closure]:
    """A person's strokes, places as shares of the picture, as closures in pixels of the working picture."""
    closures = []
    for stroke in strokes:
        path = tuple((float(x), float(y)) for x, y in _pixels(stroke, size))
        closures.append(Closure(path[0], path[-1], "drawn", path))
    return closures


def switched_off(
    closures: list[Closure], places: tuple[Place, ...], size: tuple[float, float], pen: float
) -> tuple[Closure, ...]:
    """The closures, those nearest to each place switched off.

    Args:
        closures: in pixels of the working picture; changed in place.
        places: as shares of the picture.
        size: width and height of the working picture.
        pen: usual width of a line, in its pixels.

    Raises: ProjectError, naming the entry, when no closure runs within four pens of a place.
    """
    for number, place in enumerate(places, 1):
        x, y = _pixels((place,), size)[0]
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


def edited(
    labels: Labels, bounding: Mask, edits: Edits, least: float, pen: float, size: tuple[float, float]
) -> Labels:
    """The labels after splits, cuts, merges and reassignments.

    Args:
        labels: int32 (h, w); changed in place.
        bounding: uint8 (h, w), not 0 where ink bounds a part.
        edits: what a person has changed, places as shares of the picture.
        least: smallest area of a piece that a split gives, in pixels.
        pen: usual width of a line, in pixels.
        size: width and height of the working picture, which may end within a pixel.

    Raises: ProjectError, naming the entry, when it does not fit the labels.
    """

    def at(place: Place | None, where: str) -> int:
        if place is None:
            return 1
        x, y = np.round(_pixels((place,), size)[0]).astype(int)
        height, width = labels.shape
        found = int(labels[np.clip(y, 0, height - 1), np.clip(x, 0, width - 1)])
        if found == 0:
            raise ProjectError(f"{where} names a place with no part.")
        return found

    for stroke in edits.splits:
        labels = _split_by(labels, bounding, _pixels(stroke, size), least)
    for number, place in enumerate(edits.cuts, 1):
        labels = cut_at_neck(labels, bounding, at(place, f"cuts, entry {number}"), pen)
    for number, (one, other) in enumerate(edits.merges, 1):
        where = f"merges, entry {number}"
        first, second = at(one, where), at(other, where)
        labels[labels == max(first, second)] = min(first, second)
    for number, change in enumerate(edits.reassign, 1):
        to = at(change.to, f"reassign, entry {number}")
        area = np.zeros(labels.shape, np.uint8)
        cv2.fillPoly(area, [np.round(_pixels(change.polygon, size)).astype(np.int32)], 255)
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


def cut_at_neck(labels: Labels, ink: Mask, number: int, pen: float) -> Labels:
    """Cut one label at its narrowest neck by a watershed of the distance to its edge.

    Args:
        labels: int32 (h, w); changed in place, the lesser piece taking the next free number.
        ink: uint8 (h, w), not 0 where ink.
        number: the label to cut.
        pen: usual width of a line, in pixels.

    Raises: ProjectError when it has no neck.
    """
    from skimage.segmentation import watershed

    part = labels == number
    y, x = np.nonzero(part)
    top, left = int(y.min()), int(x.min())
    window = np.s_[top : int(y.max()) + 1, left : int(x.max()) + 1]
    crop = np.pad(part[window], 1)
    bare = crop & (np.pad(ink[window], 1) == 0)  # a line that ends inside the part narrows it
    distance = cv2.distanceTransform(bare.astype(np.uint8), cv2.DIST_L2, 5)
    deepest = float(distance.max())
    best: tuple[float, Labels, list[int]] | None = None
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
