"""A learned look at drawings whose lines don't close: fur in ticks, hatching, patchy impressions.

A small network, trained on random drawings only (tests/derive/train_learned_look.py), says of every place how
likely it lies on a border between parts; a watershed turns that into parts. All that it sees, in training and
in use, is how dark each place is, from bare paper to full ink, at one scale for every picture.
"""

import heapq
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Share = NDArray[np.float32]

STEP_PX = 64
"""The network's sides are multiples of this: it halves six times."""

NEARNESS, MARKER_DEPTH = 0.2, 0.12
"""How much a place near a border counts toward the watershed's height beside the border itself, and how deep a
basin has to be for a part of its own."""

WALL = 0.54
"""Two basins stay two parts where the border between them is at least this likely, on average."""

OPEN_WEIGHT = 0.15
"""Open stretches of an edge weigh more than walled ones, by 1 and this to this: a neck's ends lie in walls."""

INSIDE = 0.5
"""A part lies in the figure where this share of it does."""

RINGED = 0.95
"""A piece lies in the figure, too, where this share of it lies within the silhouette. Own judgement."""

FIGURE_REACH_MM = 0.9
"""Gaps in the silhouette up to twice this wide are bridged. Measured: 0.7 to 1 mm do equally well."""


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """What the learned look says of every place, float32 (h, w), 0 to 1, at 8 pixels a millimetre.

    border: that a border between parts runs here. figure: that it lies inside the silhouette. distance: how far
    the nearest border is, 1 for 2 mm and more. texture: that hatching or stipple lies here. front: that it lies on
    the front side of the nearest border. dark: the ink it was told of.
    """

    border: Share
    figure: Share
    distance: Share
    texture: Share
    front: Share
    dark: Share


@cache
def _network() -> Any:
    data = (files("blendkit") / "data" / "learned_look.onnx").read_bytes()
    return cv2.dnn.readNetFromONNX(np.frombuffer(data, np.uint8))


def look_at(grey: NDArray[np.uint8], per_mm: float) -> Look:
    """Look at a picture.

    Args:
        grey: uint8 (h, w), dark ink on lighter paper.
        per_mm: pixels to a millimetre.

    Returns: the look, at 8 pixels a millimetre.
    """
    times = LOOK_PX_PER_MM / per_mm
    width, height = (max(32, round(side * times)) for side in grey.shape[::-1])
    how = cv2.INTER_AREA if times < 1 else cv2.INTER_LINEAR
    dark = find_darkness(np.asarray(cv2.resize(grey, (width, height), interpolation=how), np.uint8))
    padded = np.pad(dark, ((0, -height % STEP_PX), (0, -width % STEP_PX)))
    network = _network()
    network.setInput(padded[None, None])
    maps = network.forward()[0, :, :height, :width]
    # weights with further layers may be put in place of these
    border, figure, distance, texture, front = (np.ascontiguousarray(layer) for layer in maps[:5])
    return Look(border, figure, distance, texture, front, dark)


def parts_of(look: Look, drawn: NDArray[np.uint8] | None = None) -> NDArray[np.int32]:
    """Turn a look into parts.

    Args:
        look: the look.
        drawn: uint8 (h, w), not 0 on borders that a person has drawn.

    Returns: int32 (h, w), 0 the paper around, else a part.
    """
    from skimage.morphology import reconstruction
    from skimage.segmentation import watershed

    border = look.border
    if drawn is not None:
        border = np.where(drawn > 0, np.float32(1), border)
    height = border + NEARNESS * (1 - look.distance)
    size = height.shape[1] // 2, height.shape[0] // 2
    small = cv2.resize(height, size, interpolation=cv2.INTER_AREA)
    filled = reconstruction(small + MARKER_DEPTH, small, method="erosion")  # type: ignore[no-untyped-call]
    basins = (filled - small > MARKER_DEPTH * 0.999).astype(np.uint8)
    _, markers = cv2.connectedComponents(basins, connectivity=4, ltype=cv2.CV_32S)
    markers = cv2.resize(markers, height.shape[::-1], interpolation=cv2.INTER_NEAREST)
    # within a border's width the ridge of the ink decides, so that the part ends under the middle of the line
    pieces = np.asarray(watershed(height + 0.3 * cv2.GaussianBlur(look.dark, (0, 0), 1.2), markers), np.int32)  # type: ignore[no-untyped-call]
    pieces = _merged(pieces, border)
    count = int(pieces.max()) + 1
    area = np.maximum(np.bincount(pieces.ravel(), minlength=count), 1)
    inside = np.bincount(pieces.ravel(), look.figure.ravel(), minlength=count) / area
    # white that the stamp's own ink goes all around is no paper, whatever the look says of it
    solid = ((look.dark > 0.5) | (inside >= INSIDE)[pieces]).astype(np.uint8) * 255
    covered = (silhouette(solid, LOOK_PX_PER_MM) > 0).astype(np.float32)
    ringed = np.bincount(pieces.ravel(), covered.ravel(), minlength=count) / area
    keep = (inside >= INSIDE) | (ringed >= RINGED)
    keep[0] = False
    table = np.where(keep, np.arange(count), 0).astype(np.int32)
    return table[pieces]


def _merged(pieces: NDArray[np.int32], border: Share) -> NDArray[np.int32]:
    """Join neighbours between which no border is likely, the least likely first."""
    count = int(pieces.max()) + 1
    keys, values = [], []
    for a, b in ((np.s_[:, :-1], np.s_[:, 1:]), (np.s_[:-1], np.s_[1:])):
        differs = pieces[a] != pieces[b]
        one, other = pieces[a][differs].astype(np.int64), pieces[b][differs].astype(np.int64)
        keys.append(np.minimum(one, other) * count + np.maximum(one, other))
        values.append(np.maximum(border[a][differs], border[b][differs]))
    key, at = np.unique(np.concatenate(keys), return_inverse=True)
    likely = np.concatenate(values)
    weight = 1 - likely + OPEN_WEIGHT
    lengths = np.bincount(at, weight)
    sums = np.bincount(at, weight * likely)
    walls: list[dict[int, list[float]]] = [{} for _ in range(count)]
    for k, length, total in zip(key.tolist(), lengths.tolist(), sums.tolist(), strict=True):
        wall = [length, total]
        walls[k // count][k % count] = wall
        walls[k % count][k // count] = wall
    root = np.arange(count)
    heap = [
        (w[1] / w[0], one, other)
        for one in range(count)
        for other, w in walls[one].items()
        if one < other and w[1] < WALL * w[0]
    ]
    heapq.heapify(heap)
    while heap:
        mean, home, guest = heapq.heappop(heap)
        common = walls[home].get(guest)
        if root[home] != home or root[guest] != guest or common is None or common[1] / common[0] != mean:
            continue
        root[guest] = home
        del walls[home][guest]
        for third, theirs in walls[guest].items():
            if third == home:
                continue
            mine = walls[home].get(third)
            joined = theirs if mine is None else [mine[0] + theirs[0], mine[1] + theirs[1]]
            walls[home][third] = walls[third][home] = joined
            walls[third].pop(guest, None)
            if joined[1] < WALL * joined[0]:
                heapq.heappush(heap, (joined[1] / joined[0], home, third))
    for k in range(count):
        r = k
        while root[r] != r:
            r = root[r]
        root[k] = r
    return np.asarray(root[pieces], np.int32)


def silhouette(solid: NDArray[np.uint8], per_mm: float) -> NDArray[np.uint8]:
    """What a drawing covers: ink and parts grown, flooded from outside, shrunk back; uint8 (h, w), 255 inside."""
    reach = max(1, round(FIGURE_REACH_MM * per_mm))
    pad = 2 * reach
    grown = cv2.copyMakeBorder(solid, pad, pad, pad, pad, cv2.BORDER_CONSTANT, value=0)
    away = cv2.distanceTransform(255 - grown, cv2.DIST_L2, 5)
    free = (away > reach).astype(np.uint8)
    cv2.floodFill(free, None, (0, 0), 2)
    outside = (free == 2).astype(np.uint8)
    back = cv2.distanceTransform(1 - outside, cv2.DIST_L2, 5) > reach + 0.7  # convex ink stays as it is
    inside = back.astype(np.uint8)[pad:-pad, pad:-pad] * 255
    return np.asarray(cv2.bitwise_or(inside, solid), np.uint8)


LOOK_PX_PER_MM = 8.0
"""Pixels to a millimetre of the picture that the learned look is given: a line of 0.2 mm is 1.6 pixels wide."""

PAPER_TILE_PX = 8
"""Side of the tiles on which the paper's level is estimated: 1 mm. Own judgement, as are the next."""

PAPER_REACH_TILES = 4
"""Dark things narrower than twice this many tiles and one are filled in with the paper beside them."""

LEAST_INK, INK_SHARE = 0.3, 0.85
"""Ink is never held to be weaker than the first; its full level is this quantile of what is darker than half of
LEAST_INK."""


def find_darkness(grey: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Divide out the paper's level, so that paper is 0 and full ink 1.

    Args:
        grey: uint8 (h, w), dark lines on lighter paper, at LOOK_PX_PER_MM.

    Returns: float32 (h, w), 0 to 1.
    """
    height, width = grey.shape
    size = max(2, width // PAPER_TILE_PX), max(2, height // PAPER_TILE_PX)
    tiles = cv2.resize(cv2.medianBlur(np.ascontiguousarray(grey), 3), size, interpolation=cv2.INTER_AREA)
    reach = 2 * PAPER_REACH_TILES + 1
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
    closed = cv2.morphologyEx(cv2.dilate(tiles, np.ones((3, 3), np.uint8)), cv2.MORPH_CLOSE, kernel)
    level = cv2.GaussianBlur(cv2.erode(closed, np.ones((3, 3), np.uint8)), (0, 0), PAPER_REACH_TILES / 2)
    paper = cv2.resize(level, (width, height), interpolation=cv2.INTER_LINEAR).astype(np.float32)
    dark = 1 - grey / np.maximum(paper, 1)
    inked = dark[::2, ::2]
    inked = inked[inked > LEAST_INK / 2]
    full = max(LEAST_INK, float(np.quantile(inked, INK_SHARE))) if inked.size > 50 else 1.0
    return np.asarray(np.clip(dark / full, 0, 1), np.float32)
