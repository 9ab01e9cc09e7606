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

import functools
from dataclasses import dataclass, field
from importlib import resources
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from blendkit.colour import lab_to_xyz1, xyz1_to_lab

Floats = NDArray[np.float64]
Method = Literal["lightness only", "paper assumed", "paper known", "anchored"]

ASSUMED_PAPER_LAB = (94.5, 0.3, -1.0)
"""A smooth white card when its Lab isn't known, plain or brightened (common practice, no source)."""

_TONE, _BEND, _STRAY = 0, 1, 2
_MIX = slice(3, 9)
_ROOT = slice(9, 18)
_PAPER = slice(18, 21)
_GAIN = 21
_COUNT = 22
"""Places of the numbers in their vector: tone, bend and stray light, mixture, roots, paper, gain; how many."""

_PAPER_SPREAD = (2.0, 0.8, 2.2)
"""Lab spread of white cards about ASSUMED_PAPER_LAB (common practice, no source)."""
_KNOWN_PAPER_SPREAD = 0.3
_GAIN_SPREAD = 0.06
"""Log of how much brighter or darker the light may be where a target lies beside the page."""
_LEFT_OVER = 2.6
"""CIEDE2000 (root mean square) that a colour far from the paper's misses by for what no such correction can
know (metamerism); colours near the paper's miss by less. See tests/derive/evaluate_scan.py."""
_LEFT_OVER_REACH = 16.0
_UNLIKE_ANCHORS = (1.65, 2.4)
"""Factors on it for inks when it was judged from anchors, which are mostly of other dyes or pigments: where
they fit well, and where they don't."""
_FIT_WELL, _FIT_BADLY = 0.7, 0.95
_LAMP_UNKNOWN = 1.4
"""Factor on a scan's figures: a scanner's picture doesn't tell whether its lamp is white or three diodes, which
see inks otherwise than the eye. Found on simulated scanners with diodes: tests/derive/evaluate_scan.py."""
_USUAL_WEIGHT = 12.0
"""Observations that what is usually left over counts for, against an anchor's three."""
_BASE_WITHIN = 0.3
"""CIEDE2000 that two readings of one picture differ by at least. Own judgement."""
_TAME_FROM = 8.0
"""CIEDE2000 from which a computed figure is drawn in; see `_tamed`."""


@functools.cache
def _device_covariance() -> Floats:
    """Usual second moments of the numbers up to the paper's, shape (18, 18): data/scan_prior.csv says how."""
    path = resources.files("blendkit") / "data" / "scan_prior.csv"
    lines = [line for line in path.read_text("utf-8").splitlines() if not line.startswith("#")]
    return np.array([[float(cell) for cell in line.split(",")] for line in lines])


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
    widened: float = 1.0
    """Factor on the whole uncertainty, for what isn't known of the device."""

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
        unlike = np.interp(self.left_over, (_FIT_WELL, _FIT_BADLY), _UNLIKE_ANCHORS) if self.anchors else 1.0
        left = self.left_over * unlike * _left_over(lab, self.numbers[_PAPER])
        shared += (left**2)[:, None, None] * np.eye(3)
        within = own + _BASE_WITHIN**2 * np.eye(3)
        return self.widened * _tamed(within_95(within + shared)), within_95(within)


def _tamed(figure: Floats) -> Floats:
    """Large figures drawn in: far from the paper small changes of the numbers no longer add up as steps do.

    On simulated devices 95 % of errors lay within 11 where 13 was computed, and within 16 for 19; a little of
    that is kept, for real devices may be worse.
    """
    return np.asarray(np.where(figure > _TAME_FROM, _TAME_FROM + 0.75 * (figure - _TAME_FROM), figure))


def _left_over(lab: Floats, paper: Floats) -> Floats:
    """What is left over of each coordinate, CIEDE2000, of colours (n, 3) on that paper (3,)."""
    far = np.sqrt(((lab - paper) ** 2 * np.array([0.5, 1.0, 1.0])).sum(axis=1))
    return np.asarray((0.25 + _LEFT_OVER * (1 - np.exp(-far / _LEFT_OVER_REACH))) / np.sqrt(3))


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
    scanned: bool = False,
) -> Correction:
    """Find how a picture's colours are put right, by what it holds.

    Args:
        matrix: linear RGB of the picture to XYZ (D50), shape (3, 3).
        paper_lab: Lab of the paper, or None to assume a white card.
        picture_paper: given when no bare paper shows: readings are then relative to the picture's own white
            and only lightness order is trusted.
        anchors: known colours in the picture.
        scanned: that the picture looks like a flatbed's, whose lamp may be white or three diodes.
    """
    numbers = np.zeros(_COUNT)
    if picture_paper is not None:
        numbers[_PAPER], paper_spread = (100.0, 0.0, 0.0), (12.0, 5.0, 8.0)
        method: Method = "lightness only"
        words = (
            "no bare paper was found, so colours are the picture's own: trust which is lighter or darker, "
            "not the colours"
        )
    elif paper_lab is None:
        numbers[_PAPER], paper_spread = ASSUMED_PAPER_LAB, _PAPER_SPREAD
        method = "paper assumed"
        words = "light evened and white set by the bare paper, which is assumed to be a white card"
    else:
        numbers[_PAPER], paper_spread = paper_lab, (_KNOWN_PAPER_SPREAD,) * 3
        method = "paper known"
        words = "light evened and white set by the bare paper of known colour"
    covariance = np.zeros((_COUNT, _COUNT))
    covariance[:18, :18] = _device_covariance()
    covariance[_PAPER, _PAPER] = np.diag(np.square(paper_spread))
    covariance[_GAIN, _GAIN] = _GAIN_SPREAD**2
    if anchors is None or len(anchors.lab) == 0:
        widened = 1.0
        if scanned:
            widened = _LAMP_UNKNOWN
            words += "; it looks like a scan, whose lamp can't be told, so figures are wide"
        return Correction(method, words, matrix, numbers, covariance, 1.0, 0, widened)
    numbers, covariance, left_over = _fit(matrix, numbers, covariance, anchors)
    words = f"tone and colour fitted to {len(anchors.lab)} known colours in the picture"
    if picture_paper is None:
        words += ", light evened and white set by the bare paper"
    return Correction("anchored", words, matrix, numbers, covariance, left_over, len(anchors.lab))


def _fit(matrix: Floats, prior: Floats, covariance: Floats, anchors: Anchors) -> tuple[Floats, Floats, float]:
    """The likeliest numbers given the anchors, their covariance, and how much is left over (1 is usual)."""
    from scipy.optimize import least_squares

    whiten = np.linalg.inv(np.linalg.cholesky(covariance))
    weights = _delta_e_weights(anchors.lab)
    expected = _left_over(anchors.lab, prior[_PAPER])
    trust = np.ones(len(anchors.lab))
    left_over = 1.0

    def miss(tried: Floats) -> Floats:
        gain = np.where(anchors.beside, np.exp(tried[_GAIN]), 1.0)
        seen = _to_lab(tried, anchors.relative * gain[:, None], matrix)
        return np.asarray(np.einsum("nij,nj->ni", weights, seen - anchors.lab))

    def misses(tried: Floats) -> Floats:
        scale = (trust / (left_over * expected))[:, None]
        return np.concatenate([(miss(tried) * scale).ravel(), whiten @ (tried - prior)])

    def solve(start: Floats) -> tuple[Floats, Floats]:
        found = least_squares(misses, start, x_scale="jac", ftol=1e-5, max_nfev=25)
        return np.asarray(found.x), np.asarray(found.jac)

    numbers, slope = solve(prior)
    for _ in range(3):
        rows = miss(numbers) / expected[:, None]
        # how much is left over, from the misses and the degrees of freedom that the numbers used up, held by
        # what is usual
        used = slope[: rows.size] @ np.linalg.inv(slope.T @ slope)
        degrees = rows.size - float(np.einsum("ij,ij->", used, slope[: rows.size]))
        left_over = float(
            np.sqrt((_USUAL_WEIGHT + ((rows * trust[:, None]) ** 2).sum()) / (_USUAL_WEIGHT + degrees))
        )
        # an anchor that misses by far more than its fellows (glare, a wrong marker) counts less (Huber 1964)
        length = np.linalg.norm(rows, axis=1) / (left_over * np.sqrt(3))
        trust = np.sqrt(np.minimum(1.0, 2.0 / np.maximum(length, 1e-9)))
        numbers, slope = solve(numbers)
    return numbers, np.asarray(np.linalg.inv(slope.T @ slope), dtype=np.float64), left_over
