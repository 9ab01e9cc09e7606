"""The nearest colours by CIEDE2000, exactly, without trying every pair.

Pixels are gathered into small boxes of Lab. For each box and each colour to choose among, a lower bound of
CIEDE2000 is worked out that holds for every pixel of the box; a colour whose bound already exceeds the
distance to a colour in hand can't be the nearest, and is left out. What remains (a few colours a pixel) is
measured with :func:`blendkit.colour.delta_e_2000` itself, so that the answer is that of trying every pair.
Nothing is approximated, and nothing but NumPy is needed.

The bound, proven
    Names as in Sharma, Wu and Dalal 2005 (their equations in brackets). Take a colour 1 anywhere in a box and a
    colour 2, with gaps gL, ga, gb >= 0 between them: abs(ΔL) >= gL, abs(Δa) >= ga and abs(Δb) >= gb.

    1. Lightness. S_L (18) grows with abs(mean L - 50): with v = (mean L - 50)², d/dv [v / sqrt(20 + v)] =
       (20 + v/2) / (20 + v)^1.5 > 0. So the larger of its values at the box's two ends bounds it from above,
       and (ΔL / S_L)² >= (gL / max S_L)².
    2. The plane. Both colours are stretched by the *same* G (4), (5), and ΔC'² + ΔH'² = C1'² + C2'² -
       2 C1' C2' cos Δh' is the squared length of the difference of the vectors (a', b) (law of cosines, (9) to
       (11)). So ΔC'² + ΔH'² = (1 + G)² Δa² + Δb² >= D² := (1 + min G)² ga² + gb². G falls as the mean chroma
       rises, so its ends come from the ends of the chroma.
    3. Weights. With m the largest mean of C', S_C <= 1 + 0.045 m (19), and S_H <= 1 + 0.015 T_MAX m (20),
       where T_MAX = 1.573 >= T (15): T reaches 1.57248 on a grid of 0.0001 rad, and abs(dT/dh) <= 0.17 + 2 x 0.24
       + 3 x 0.32 + 4 x 0.20 = 2.41, so T can't exceed that by more than 2.41 x 0.00005 between its points.
       As T_MAX < 3, the bound of S_H is below that of S_C.
    4. With x = abs(ΔC'), known to lie in [x0, x1], and x² + ΔH'² >= D², the sum x² / S_C² + ΔH'² / S_H² is at
       least x² / max S_C² + max(D² - x², 0) / max S_H², which falls until x = D and rises after it: its least
       value is at x = D brought within [x0, x1].
    5. Rotation. With X = ΔC'/S_C, Y = ΔH'/S_H and r = abs(R_T)/2 < 1: X² + Y² + R_T X Y >=
       X² + Y² - 2 r abs(X Y) >= (1 - r) (X² + Y²). By (17) and (21), with M the mean C' and H the mean hue,
       r = sin(2 Δθ) sqrt(M^7 / (M^7 + 25^7)) and Δθ = 30° exp(-((H - 275°) / 25°)²) (16): both factors are at
       most what M = m and the H nearest to 275° give.
    6. Mean hue (14) lies on the shorter arc between the two hues. Where both b >= 0 it is in [0°, 180°], so at
       least 95° from 275°. Where both b < 0 both hues lie in (180°, 360°], never more than 180° apart, so it
       is the plain mean of two intervals; stretching a by any 1 + G in [1, 1.5] keeps a box a box, and a
       box in that half plane takes its extreme hues at corners. Otherwise Δθ <= 30° is all that is used.
       A colour with no chroma has ΔH' = 0, hence Y = 0, whatever mean hue is given to it.

    So CIEDE2000² >= (gL / max S_L)² + (1 - max r) (4.), for every pixel of the box. Rounding is allowed for with
    ``_SLACK``, a thousand times what float64 is seen to lose here.

Source: Sharma, Wu and Dalal 2005, Color Research and Application 30, 21-30, equations 2 to 22; the bound is
derived here.
"""

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blendkit.colour import delta_e_2000
from blendkit.errors import ColourError

__all__ = ["TIE", "Nearest", "find_nearest", "least_delta_e_2000"]

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

TIE = 1e-9
"""Differences closer than this (in CIEDE2000) are called a tie: rounding, not sight, tells them apart."""

_T_MAX = 1.573
_SLACK = 1e-9
_BLOCK = 1 << 18  # pixels worked on at a time
_PAIRS = 1 << 20  # pairs listed at a time
_CACHEFUL = 1 << 14  # pairs measured at a time: few enough to stay in a processor's cache
# Boxes' sides in Lab units: coarse boxes hand their short lists down to finer ones, until the lists are short.
_FIRST_SIDE, _FINER = 8.0, 2.0  # the first side doubles beyond _MANY colours
_MANY = 1000
_SHORT, _CROWD, _SMALL = 24.0, 2.0, 0.1  # colours listed for a pixel, pixels in a box, its side


@dataclass(frozen=True)
class Nearest:
    """The nearest colours of each pixel.

    Args:
        index: which of the colours, nearest first, shape (...) or (..., count) as asked.
        delta_e_2000: how far, the same shape.
        tied: whether another colour is as near within ``TIE``, the same shape.
    """

    index: Ints
    delta_e_2000: Floats
    tied: NDArray[np.bool_]


# ------------------------------------------------------------------------------------------- the bound


@dataclass(frozen=True)
class _Boxes:
    """Boxes of Lab with what the bound needs of each, every field of shape (n,)."""

    low_l: Floats
    high_l: Floats
    low_a: Floats
    high_a: Floats
    low_b: Floats
    high_b: Floats
    least_a: Floats  # of the absolute value
    most_a: Floats
    least_b: Floats
    most_b: Floats
    least_chroma: Floats
    most_chroma: Floats
    least_hue: Floats  # degrees; only where high_b < 0
    most_hue: Floats

    def take(self, at: Ints | slice) -> "_Boxes":
        return _Boxes(*(getattr(self, field.name)[at] for field in fields(self)))


def _boxes(low: Floats, high: Floats) -> _Boxes:
    low_l, low_a, low_b = low.T
    high_l, high_a, high_b = high.T
    least_a = np.maximum(np.maximum(low_a, -high_a), 0.0)
    least_b = np.maximum(np.maximum(low_b, -high_b), 0.0)
    most_a, most_b = np.maximum(-low_a, high_a), np.maximum(-low_b, high_b)
    # Step 6: a stretched by 1 to 1.5, then the corners of extreme hue in the lower half plane.
    left, right = np.minimum(low_a, 1.5 * low_a), np.maximum(high_a, 1.5 * high_a)
    return _Boxes(
        low_l, high_l, low_a, high_a, low_b, high_b, least_a, most_a, least_b, most_b,
        np.hypot(least_a, least_b), np.hypot(most_a, most_b),
        np.degrees(np.arctan2(np.where(left < 0.0, high_b, low_b), left)) % 360.0,
        360.0 - np.degrees(-np.arctan2(np.where(right > 0.0, high_b, low_b), right)) % 360.0,
    )  # fmt: skip


def _seventh(chroma: Floats) -> Floats:
    """C^7 / (C^7 + 25^7), which rises from 0 to 1."""
    scaled = chroma * 0.04
    cubed = scaled * scaled * scaled
    power = cubed * cubed * scaled
    share: Floats = power / (power + 1.0)
    return share


def _least(one: _Boxes, two: _Boxes) -> Floats:
    """The proven lower bound of CIEDE2000 between two boxes, by the steps of the module's docstring."""
    gap_l = np.maximum(np.maximum(one.low_l - two.high_l, two.low_l - one.high_l), 0.0)
    gap_a = np.maximum(np.maximum(one.low_a - two.high_a, two.low_a - one.high_a), 0.0)
    gap_b = np.maximum(np.maximum(one.low_b - two.high_b, two.low_b - one.high_b), 0.0)
    # 1. Lightness.
    off = np.maximum(100.0 - (one.low_l + two.low_l), (one.high_l + two.high_l) - 100.0) / 2.0
    squared = off * off
    in_lightness = gap_l / (1.0 + 0.015 * squared / np.sqrt(20.0 + squared))
    # 2. The plane.
    most_stretch = 1.5 - 0.5 * np.sqrt(_seventh((one.least_chroma + two.least_chroma) / 2.0))
    least_stretch = 1.5 - 0.5 * np.sqrt(_seventh((one.most_chroma + two.most_chroma) / 2.0))
    plane = np.square(least_stretch * gap_a) + np.square(gap_b)
    # 3. Weights.
    least_1 = np.sqrt(np.square(least_stretch * one.least_a) + np.square(one.least_b))
    most_1 = np.sqrt(np.square(most_stretch * one.most_a) + np.square(one.most_b))
    least_2 = np.sqrt(np.square(least_stretch * two.least_a) + np.square(two.least_b))
    most_2 = np.sqrt(np.square(most_stretch * two.most_a) + np.square(two.most_b))
    mean = (most_1 + most_2) / 2.0
    weight_c, weight_h = 1.0 + 0.045 * mean, 1.0 + (0.015 * _T_MAX) * mean
    # 4. Chroma takes as much of the plane's length as it can, hue the rest.
    least_step = np.maximum(np.maximum(least_1 - most_2, least_2 - most_1), 0.0)
    most_step = np.maximum(most_1 - least_2, most_2 - least_1)
    step = np.square(np.clip(np.sqrt(plane), least_step, most_step))
    in_plane = step / np.square(weight_c) + np.maximum(plane - step, 0.0) / np.square(weight_h)
    # 5. and 6. Rotation.
    upper = (one.low_b >= 0.0) & (two.low_b >= 0.0)
    lower = (one.high_b < 0.0) & (two.high_b < 0.0)
    from_blue = np.maximum(
        np.maximum(
            (one.least_hue + two.least_hue) / 2.0 - 275.0, 275.0 - (one.most_hue + two.most_hue) / 2.0
        ),
        0.0,
    )
    from_blue = np.where(upper, 95.0, np.where(lower, from_blue, 0.0))
    turn = np.sin(np.radians(60.0 * np.exp(-np.square(from_blue / 25.0)))) * np.sqrt(_seventh(mean))
    least: Floats = np.sqrt(np.square(in_lightness) + (1.0 - turn) * in_plane)
    return least


def least_delta_e_2000(low: ArrayLike, high: ArrayLike, lab: ArrayLike) -> Floats:
    """A proven lower bound of CIEDE2000 from any colour of a box to *lab*; the module's docstring proves it.

    Args:
        low: the box's lowest L, a and b, shape (..., 3).
        high: its highest, the same shape; equal to *low* for a single colour.
        lab: shape (..., 3), broadcast with them.

    Returns: shape (...); no colour of the box is nearer to *lab* than this.
    """
    arrays = np.broadcast_arrays(*(np.asarray(values, dtype=np.float64) for values in (low, high, lab)))
    flat_low, flat_high, flat_lab = (values.reshape(-1, 3) for values in arrays)
    return _least(_boxes(flat_low, flat_high), _boxes(flat_lab, flat_lab)).reshape(arrays[0].shape[:-1])


# ------------------------------------------------------------------------------------------ the search


def _runs(lengths: Ints) -> tuple[Ints, Ints]:
    """For runs of these lengths laid end to end: which run each item is in, and its place in the run."""
    run = np.repeat(np.arange(len(lengths)), lengths)
    return run, np.arange(len(run)) - np.repeat(np.cumsum(lengths) - lengths, lengths)


def _firsts(lengths: Ints) -> Ints:
    """Where each of some runs laid end to end starts."""
    return np.cumsum(lengths) - lengths


def _groups(lengths: Ints, most: int) -> list[slice]:
    """Cut runs into groups of no more than *most* items in all; a longer run is a group of its own."""
    ends = np.cumsum(lengths)
    groups, start = [], 0
    while start < len(lengths):
        done = ends[start - 1] if start else 0
        stop = max(int(np.searchsorted(ends, done + most, side="right")), start + 1)
        groups.append(slice(start, stop))
        start = stop
    return groups


def _first_least(values: Floats, first: Ints, run: Ints) -> tuple[Ints, Floats]:
    """Where the least value of each run first stands, and that value."""
    least = np.minimum.reduceat(values, first)
    at = np.flatnonzero(values == least[run])
    where = np.empty(len(first), dtype=np.intp)
    where[run[at[::-1]]] = at[::-1]  # the last to be written is the first of its run
    return where, least


def _in_parts(measure: Callable[[slice], Floats], size: int) -> Floats:
    """Work through pairs a cacheful at a time."""
    return np.concatenate([measure(slice(at, at + _CACHEFUL)) for at in range(0, size, _CACHEFUL)])


class _Block:
    """One block of pixels on its way to its answer: arrays indexed by pixel, filled box by box."""

    def __init__(self, labs: Floats, among: Floats, markers: _Boxes, count: int) -> None:
        self.labs, self.markers, self.count = labs, markers, count
        # One row each of L, a and b: rows of many pixels are quicker to work on than many rows of three.
        self.columns, self.colours = np.ascontiguousarray(labs.T), np.ascontiguousarray(among.T)
        self.reach = np.full(len(labs), np.inf)  # no answer of the pixel lies beyond
        self.index = np.empty((len(labs), count), dtype=np.intp)
        self.distance = np.empty((len(labs), count))
        self.tied = np.empty((len(labs), count), dtype=np.bool_)

    def measure(self, pixel: Ints, colour: Ints) -> Floats:
        def part_of(part: slice) -> Floats:
            ours = self.columns.take(pixel[part], axis=1)
            return delta_e_2000(ours.T, self.colours.take(colour[part], axis=1).T)

        return _in_parts(part_of, len(pixel))

    def search(self, pixels: Ints, parent: Ints, lengths: Ints, listed: Ints, side: float) -> None:
        """Find the nearest of *pixels*, each in one *parent* box, from the colours *listed* for the box.

        The lists lie end to end in *listed*, *lengths* long, each in rising order.
        """
        code = np.floor(self.columns.take(pixels, axis=1) / side).astype(np.int64)
        code -= code.min(axis=1, keepdims=True)
        spans = code.max(axis=1) + 1
        if len(lengths) * float(spans[0]) * float(spans[1]) * float(spans[2]) < 2.0**62:
            key = ((parent * spans[0] + code[0]) * spans[1] + code[1]) * spans[2] + code[2]
            by_box = np.argsort(key)
            new = np.diff(key[by_box]) != 0
        else:  # colours strewn so far apart that their boxes can't be numbered
            by_box = np.lexsort((code[2], code[1], code[0], parent))
            new = (np.diff(code[:, by_box]) != 0).any(axis=0) | (np.diff(parent[by_box]) != 0)
        pixels, parent = pixels[by_box], parent[by_box]
        starts = np.flatnonzero(np.concatenate([[True], new]))
        ends = np.append(starts[1:], len(pixels))
        for group in _groups(lengths[parent[starts]], _PAIRS):
            first, last = starts[group], ends[group][-1]
            self._search_boxes(
                pixels[first[0] : last], first - first[0], parent[first], lengths, listed, side
            )

    def _search_boxes(
        self, pixels: Ints, starts: Ints, parent: Ints, lengths: Ints, listed: Ints, side: float
    ) -> None:
        """Shorten the lists for boxes whose pixels stand together from *starts* on; then go a level down."""
        labs = self.labs[pixels]
        boxes = _boxes(np.minimum.reduceat(labs, starts), np.maximum.reduceat(labs, starts))
        box, place = _runs(lengths[parent])
        colour = listed[_firsts(lengths)[parent][box] + place]
        least = _in_parts(
            lambda part: _least(boxes.take(box[part]), self.markers.take(colour[part])), len(box)
        )
        # Measuring the likeliest few gives every pixel a reach; what lies beyond its box's longest is dropped.
        first = _firsts(lengths[parent])
        box_of_pixel = np.repeat(np.arange(len(starts)), np.diff(starts, append=len(pixels)))
        reach, bound = np.zeros(len(pixels)), least.copy()
        for _ in range(self.count):
            likeliest, _bound = _first_least(bound, first, box)
            bound[likeliest] = np.inf
            np.maximum(reach, self.measure(pixels, colour[likeliest][box_of_pixel]), out=reach)
        reach = np.minimum(reach * (1.0 + _SLACK) + TIE + _SLACK, self.reach[pixels])
        self.reach[pixels] = reach
        keep = least <= np.maximum.reduceat(reach, starts)[box]
        lengths = np.bincount(box[keep], minlength=len(starts))
        listed = colour[keep]
        in_a_box = len(pixels) / len(starts)
        if lengths[box_of_pixel].mean() > _SHORT and in_a_box > _CROWD and side > _SMALL:
            self.search(pixels, box_of_pixel, lengths, listed, side / _FINER)
            return
        least, first = least[keep], _firsts(lengths)
        for group in _groups(lengths[box_of_pixel], _PAIRS):
            box_of = box_of_pixel[group]
            pixel, place = _runs(lengths[box_of])
            at = first[box_of][pixel] + place
            hopeful = least[at] <= reach[group][pixel]
            self._rank(pixels[group], pixel[hopeful], listed[at[hopeful]])

    def _rank(self, pixels: Ints, pixel: Ints, colour: Ints) -> None:
        """Measure the colours left for each of *pixels*, and keep the nearest in order."""
        distance = self.measure(pixels[pixel], colour)
        first = _firsts(np.bincount(pixel, minlength=len(pixels)))
        for rank in range(self.count):
            where, least = _first_least(distance, first, pixel)
            self.index[pixels, rank], self.distance[pixels, rank] = colour[where], least
            distance[where] = np.inf
            close = np.minimum.reduceat(distance, first) - least <= TIE
            if rank:
                close |= least - self.distance[pixels, rank - 1] <= TIE
            self.tied[pixels, rank] = close


def _alike(labs: Floats) -> tuple[Ints, Ints]:
    """The places of distinct rows, and for every row which of those it equals (a few may stand twice)."""
    bits = np.ascontiguousarray(labs + 0.0).view(np.uint64)
    with np.errstate(over="ignore"):
        key = bits[:, 0] * np.uint64(0x9E3779B97F4A7C15)
        key = (key ^ (key >> np.uint64(29))) + bits[:, 1] * np.uint64(0xBF58476D1CE4E5B9)
        key = (key ^ (key >> np.uint64(31))) + bits[:, 2] * np.uint64(0x94D049BB133111EB)
    order = np.argsort(key)
    rows = bits[order]
    new = np.concatenate([[True], (rows[1:] != rows[:-1]).any(axis=1)])
    back = np.empty(len(labs), dtype=np.intp)
    back[order] = np.cumsum(new) - 1
    return order[new], back


def find_nearest(labs: ArrayLike, among: ArrayLike, count: int = 1, workers: int | None = None) -> Nearest:
    """The nearest of some colours to each pixel by CIEDE2000: exact, as if every pair had been tried.

    The order is that of ``delta_e_2000(labs, among)``; where two are equally far the lower index comes first,
    and ``tied`` says so. Alike pixels are measured once. Work goes in blocks of 262,144 pixels on a few threads,
    so that beyond input and answer (17 bytes a pixel) memory doesn't grow with the number of pixels.

    Args:
        labs: the pixels, Lab, shape (..., 3), finite.
        among: the colours to choose among, Lab, shape (m, 3), m at least *count*, finite.
        count: how many to find, 1 or more.
        workers: threads; as many as there are cores when not given.

    Returns: index, CIEDE2000 and whether tied, of shape (...) for a *count* of 1, else (..., count).
    Raises: ColourError for a *count* that can't be met, a wrong shape, or a value that isn't a number.
    Source: the module's docstring proves that no nearer colour is passed over.

    >>> found = find_nearest([[50.0, 0.0, 0.0], [60.0, 20.0, 5.0]], [[61.0, 20.0, 5.0], [48.0, 0.0, 1.0]])
    >>> found.index.tolist()
    [1, 0]
    """
    pixels, colours = np.asarray(labs, dtype=np.float64), np.asarray(among, dtype=np.float64)
    for values, name, right in (
        (pixels, "labs", pixels.ndim >= 1 and pixels.shape[-1] == 3),
        (colours, "among", colours.ndim == 2 and colours.shape[-1] == 3),
    ):
        if not right:
            raise ColourError(f"{name}: Lab colours have three numbers each; found shape {values.shape}")
        # Far beyond any colour; and small enough that its powers stay finite.
        if not (np.abs(values) <= 1e6).all():
            raise ColourError(f"{name}: every L, a and b must be a number between -1,000,000 and 1,000,000")
    if not 1 <= count <= len(colours):
        raise ColourError(
            f"count: found {count}; give 1 to {len(colours)}, the number of colours to choose among"
        )
    flat, markers = pixels.reshape(-1, 3), _boxes(colours, colours)
    side = _FIRST_SIDE * (1.0 if len(colours) <= _MANY else 2.0)
    index = np.empty((len(flat), count), dtype=np.intp)
    distance = np.empty((len(flat), count))
    tied = np.empty((len(flat), count), dtype=np.bool_)

    def work(start: int) -> None:
        part = slice(start, start + _BLOCK)
        distinct, back = _alike(flat[part])
        block = _Block(flat[part][distinct], colours, markers, count)
        one_box = np.zeros(len(distinct), dtype=np.intp)
        everything = np.arange(len(colours))
        block.search(np.arange(len(distinct)), one_box, np.array([len(colours)]), everything, side)
        index[part], distance[part], tied[part] = block.index[back], block.distance[back], block.tied[back]

    blocks = range(0, len(flat), _BLOCK)
    threads = min(workers or os.cpu_count() or 1, max(len(blocks), 1))
    if threads == 1:
        for start in blocks:
            work(start)
    else:
        with ThreadPoolExecutor(threads) as pool:
            list(pool.map(work, blocks))
    shape = pixels.shape[:-1] if count == 1 else (*pixels.shape[:-1], count)
    return Nearest(index.reshape(shape), distance.reshape(shape), tied.reshape(shape))
