"""From light relative to the paper to Lab, by what a picture holds; and how far that can be trusted.

A picture of a chart is wrong about colour in a few ways that hold for the whole picture: its tone curve is
bent, some stray light lies over it, and its sensor mixes colours otherwise than the eye. Eighteen numbers say
how; each has an expected value (no error) and a usual spread. What the picture holds of known colours (a
target, anchor boxes) moves the numbers towards what explains them, as far as the evidence goes; with nothing
known but the paper they stay as expected. What is left unknown of them, carried through to each colour, is
that colour's uncertainty. So few anchors help a little, many help much, and there is no step between.

The colour part is linear with a root-polynomial of second degree after Finlayson, Mackiewicz and Hurlbert
2015, which keeps a colour's hue at every exposure, written so that bare paper stays bare paper.
"""

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from blendkit.colour import lab_to_xyz1, xyz1_to_lab
from blendkit.sheets.least_squares import least_squares

__all__ = ["ASSUMED_PAPER_LAB", "Anchors", "Correction", "Method", "fit_correction", "within_95"]

Floats = NDArray[np.float64]
Method = Literal["lightness only", "paper assumed", "paper known", "anchored"]

ASSUMED_PAPER_LAB = (94.5, 0.3, -1.0)
"""A smooth white card when its Lab isn't known: between plain and brightened white (common practice, no source)."""

_TONE, _BEND, _STRAY = 0, 1, 2
_MIX = slice(3, 9)
_ROOT = slice(9, 18)
_PAPER = slice(18, 21)
_GAIN = 21
_COUNT = 22

_SPREAD = np.concatenate(
    [
        [0.08, 0.25, 0.004],
        np.full(6, 0.11),
        np.full(9, 0.10),
        [2.0, 0.8, 2.2],
        [0.06],
    ]
)
"""Usual spread of each number; see tests/derive/evaluate_scan.py, which prints what simulated devices need."""
_KNOWN_PAPER_SPREAD = 0.3
_LEFT_OVER = 0.9
"""CIEDE2000 that a colour misses by for what no such correction can know (metamerism), for a grey."""
_LEFT_OVER_BY_CHROMA = 0.022
"""What is added to it per unit of chroma."""
_BASE_WITHIN = 0.35


@dataclass(frozen=True)
class Anchors:
    """Known colours seen in the picture: a target's patches or anchor boxes."""

    relative: Floats
    """Linear light relative to the paper, shape (n, 3)."""
    lab: Floats
    """Known Lab, shape (n, 3)."""
    beside: NDArray[np.bool_]
    """Whether each lies beside the page, where the light may be brighter or darker, shape (n,)."""


@dataclass(frozen=True)
class Correction:
    """How one picture's colours are put right."""

    method: Method
    words: str
    matrix: Floats = field(repr=False)
    numbers: Floats = field(repr=False)
    covariance: Floats = field(repr=False)
    left_over: float
    """Factor on what is expected to be left over, from how well the anchors fit."""
    anchors: int

    def to_lab(self, relative: Floats) -> Floats:
        """Lab (n, 3) of linear light relative to the paper (n, 3)."""
        return _to_lab(self.numbers, relative, self.matrix)

    def uncertainty(self, relative: Floats, noise: Floats) -> tuple[Floats, Floats]:
        """How far readings may be off, as CIEDE2000 that 95 % of readings stay within.

        Args:
            relative: linear light relative to the paper, shape (n, 3).
            noise: relative spread of that light, shape (n, 3): the box's own noise.

        Returns: of each reading the whole uncertainty, and the part that does not cancel between colours
            read together under one set-up; shape (n,) each.
        """
        lab = self.to_lab(relative)
        weights = _delta_e_weights(lab)
        own = np.zeros((len(relative), 3, 3))
        for channel in range(3):
            moved = relative.copy()
            change = np.maximum(noise[:, channel] * relative[:, channel], 1e-4)
            moved[:, channel] += change
            step = np.einsum("nij,nj->ni", weights, self.to_lab(moved) - lab)
            own += step[:, :, None] * step[:, None, :]
        slope = np.empty((len(relative), 3, _COUNT))
        for index in range(_COUNT):
            numbers = self.numbers.copy()
            numbers[index] += 1e-4
            slope[:, :, index] = (_to_lab(numbers, relative, self.matrix) - lab) / 1e-4
        slope = np.einsum("nij,njk->nik", weights, slope)
        shared = np.einsum("nik,kl,njl->nij", slope, self.covariance, slope)
        left = self.left_over * _left_over(lab)
        shared += (left**2)[:, None, None] * np.eye(3)
        within = own + _BASE_WITHIN**2 * np.eye(3)
        return within_95(within + shared), within_95(within)


def _left_over(lab: Floats) -> Floats:
    return np.asarray((_LEFT_OVER + _LEFT_OVER_BY_CHROMA * np.hypot(lab[:, 1], lab[:, 2])) / np.sqrt(3))


def within_95(covariance: Floats) -> Floats:
    """Length that 95 % of normal vectors of that covariance (n, 3, 3) stay within, shape (n,).

    Source: Satterthwaite 1946 (matching two moments); Wilson and Hilferty 1931 (chi-squared quantile).
    """
    mean = np.trace(covariance, axis1=1, axis2=2)
    square = 2 * np.einsum("nij,nji->n", covariance, covariance)
    degrees = 2 * mean**2 / np.maximum(square, 1e-12)
    spread = np.sqrt(2 / (9 * degrees))
    quantile = degrees * (1 - spread**2 + 1.645 * spread) ** 3
    return np.asarray(np.sqrt(quantile * square / np.maximum(2 * mean, 1e-12)))


def _delta_e_weights(lab: Floats) -> Floats:
    """Matrices (n, 3, 3) that turn small Lab steps into steps whose length is about CIEDE2000.

    Source: CIE 142:2001 as written by Sharma, Wu and Dalal 2005, equations 15 to 17, without the rotation term.
    """
    lightness, a, b = lab[:, 0], lab[:, 1], lab[:, 2]
    chroma = np.hypot(a, b)
    hue = np.arctan2(b, a)
    ratio = np.sqrt(chroma**7 / (chroma**7 + 25.0**7))
    stretch = 1 + 0.5 * (1 - ratio)
    t = (
        1
        - 0.17 * np.cos(hue - np.deg2rad(30))
        + 0.24 * np.cos(2 * hue)
        + 0.32 * np.cos(3 * hue + np.deg2rad(6))
        - 0.20 * np.cos(4 * hue - np.deg2rad(63))
    )
    s_l = 1 + 0.015 * (lightness - 50) ** 2 / np.sqrt(20 + (lightness - 50) ** 2)
    s_c, s_h = 1 + 0.045 * chroma, 1 + 0.015 * chroma * t
    cosine, sine = np.cos(hue), np.sin(hue)
    zero = np.zeros_like(hue)
    rows = [
        np.stack([1 / s_l, zero, zero], axis=-1),
        np.stack([zero, stretch * cosine / s_c, sine / s_c], axis=-1),
        np.stack([zero, -stretch * sine / s_h, cosine / s_h], axis=-1),
    ]
    return np.stack(rows, axis=-2)


def _to_lab(numbers: Floats, relative: Floats, matrix: Floats) -> Floats:
    """Lab (n, 3) of linear light relative to the paper (n, 3) under those numbers."""
    x = np.maximum((relative - numbers[_STRAY]) / (1 - numbers[_STRAY]), 0.0)
    root = np.cbrt(x + 1e-9)
    root = root ** np.exp(numbers[_TONE]) * np.maximum(1 + numbers[_BEND] * (1 - root) * (root - 0.5), 0.1)
    x = root**3
    r, g, b = x[:, 0], x[:, 1], x[:, 2]
    mix = numbers[_MIX]
    steps = np.stack(
        [
            mix[0] * (g - r) + mix[1] * (b - r),
            mix[2] * (r - g) + mix[3] * (b - g),
            mix[4] * (r - b) + mix[5] * (g - b),
        ],
        axis=1,
    )
    pairs = np.stack(
        [np.sqrt(r * g) - (r + g) / 2, np.sqrt(g * b) - (g + b) / 2, np.sqrt(r * b) - (r + b) / 2], 1
    )
    x = x + steps + pairs @ numbers[_ROOT].reshape(3, 3).T
    paper = np.linalg.solve(matrix, lab_to_xyz1(numbers[_PAPER]))
    return np.asarray(xyz1_to_lab((x * paper) @ matrix.T), dtype=np.float64)


def fit_correction(
    matrix: Floats,
    *,
    paper_lab: tuple[float, float, float] | None,
    picture_paper: Floats | None = None,
    anchors: Anchors | None = None,
) -> Correction:
    """Find how a picture's colours are put right, by what it holds.

    Args:
        matrix: linear RGB of the picture to XYZ (D50), shape (3, 3).
        paper_lab: Lab of the paper, or None to assume a white card.
        picture_paper: given when no bare paper shows: readings are then relative to the picture's own white
            and only lightness order is trusted.
        anchors: known colours in the picture.
    """
    numbers = np.zeros(_COUNT)
    spread = _SPREAD.copy()
    if picture_paper is not None:
        numbers[_PAPER] = (100.0, 0.0, 0.0)
        spread[_PAPER] = (12.0, 5.0, 8.0)
        words = (
            "no bare paper was found, so colours are the picture's own: trust which is lighter or darker, "
            "not the colours"
        )
        method: Method = "lightness only"
    elif paper_lab is None:
        numbers[_PAPER] = ASSUMED_PAPER_LAB
        words = "light evened and white set by the bare paper, which is assumed to be a white card"
        method = "paper assumed"
    else:
        numbers[_PAPER] = paper_lab
        spread[_PAPER] = _KNOWN_PAPER_SPREAD
        words = "light evened and white set by the bare paper of known colour"
        method = "paper known"
    prior = numbers.copy()
    covariance = np.diag(spread**2)
    left_over, count = 1.0, 0
    if anchors is not None and len(anchors.lab) > 0:
        count = len(anchors.lab)
        weights = _delta_e_weights(anchors.lab)
        trust = np.ones(count)

        def miss(tried: Floats) -> Floats:
            gain = np.where(anchors.beside, np.exp(tried[_GAIN]), 1.0)
            seen = _to_lab(tried, anchors.relative * gain[:, None], matrix)
            return np.asarray(np.einsum("nij,nj->ni", weights, seen - anchors.lab))

        expected = np.maximum(_left_over(anchors.lab), 0.4)

        def misses(tried: Floats) -> Floats:
            rows = miss(tried) * (trust / expected)[:, None]
            return np.concatenate([rows.ravel(), (tried - prior) / spread])

        solution = least_squares(misses, numbers)
        for _ in range(3):
            # a patch that misses by far more than its fellows (glare, a wrong marker) counts less (Huber 1964)
            length = np.linalg.norm(miss(solution.numbers), axis=1) / expected
            usual = max(1.2 * float(np.median(length)), 1.0)
            trust = np.sqrt(np.minimum(1.0, 2.0 * usual / np.maximum(length, 1e-9)))
            solution = least_squares(misses, solution.numbers)
        numbers = solution.numbers
        covariance = np.linalg.inv(solution.slope.T @ solution.slope)
        length = np.linalg.norm(miss(numbers) * trust[:, None], axis=1) / expected / np.sqrt(3)
        # the anchors' own fit says how much is left over, held back by what is usual
        left_over = float(np.sqrt((6.0 + (length**2).sum()) / (6.0 + max(1.0, count - 6.0))))
        words = (
            f"tone and colour fitted to {count} known colours in the picture, white set by the bare paper"
            if picture_paper is None
            else f"tone and colour fitted to {count} known colours in the picture"
        )
        method = "anchored"
    return Correction(method, words, matrix, numbers, covariance, left_over, count)
