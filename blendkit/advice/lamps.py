"""What a match can become under another light where nobody measured spectra: a range, and one of three verdicts.

A colour doesn't tell its reflectance, and two that are recovered alike match alike under every light. So each
colour is taken to have any of the reflectances that measured things near that colour have: the recovered curve,
and on it the stray of each of the nearest sixty measured ones, scaled to its brightness. The range holds 95 of
100 of the differences that pairs of these give; tests/derive/derive_spectra_spread.py checks that on pairs that
were never seen.
"""

from functools import cache
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from blendkit.colour import delta_e_2000
from blendkit.spectrum import LIGHTS, reflectance_to_lab
from blendkit.words import verdict_of

Floats = NDArray[np.float64]

OTHER_LIGHTS = tuple(light for light in LIGHTS if light != "D50")
"""Lights that a match is tried under, besides the interior D50."""

LampVerdict = Literal["holds", "parts", "can't tell"]

_NEAREST = 60
"""Measured colours whose stray is tried; 30 to 100 give the same coverage within 1 in 100."""
_SHIFTS = (1, 7, 13, 23)
"""Strays are paired by turning one list against the other by so many places."""
_INSIDE = (2.5, 97.5)
_LIGHTNESS = 0.5
"""Weight of L* when the nearest are sought; coverage hardly depends on it."""
_PART_BELOW = 3.5
"""CIEDE2000 from which two colours don't match in the first place: the third limit of the verdicts."""
_PART_BY = 1.0
"""CIEDE2000 that a lamp has to add before a pair is said to part. Own judgement: the least that is seen."""


@cache
def _spread() -> tuple[Floats, Floats, Floats]:
    """Lab of measured colours (n, 3), their stray for a mean reflectance of 1 (n, 36), and their mean (n,)."""
    path = Path(__file__).parents[1] / "data" / "spectra_spread.csv"
    rows = [line.split(",") for line in path.read_text("utf-8").splitlines() if not line.startswith("#")]
    curves = np.array([row[1:] for row in rows if row[0] == "curve"], dtype=np.float64)
    table = np.array([row[1:] for row in rows if row[0] == "stray"], dtype=np.float64)
    means = table[:, 3]
    return table[:, :3], (table[:, 4:] @ curves) / means[:, None], means


def likely_reflectances(reflectance: Floats) -> Floats:
    """Reflectances that a thing of this colour could have.

    Args:
        reflectance: recovered from its colour, shape (n, 36).

    Returns: shape (n, 60, 36), 0 or above; each of nearly the same colour in D50.
    """
    labs, strays, _ = _spread()
    weights = np.array([_LIGHTNESS, 1.0, 1.0])
    away = ((labs[None] - reflectance_to_lab(reflectance)[:, None]) * weights) ** 2
    nearest = np.argsort(away.sum(axis=-1), axis=1, kind="stable")[:, :_NEAREST]
    likely = reflectance[:, None] + reflectance.mean(axis=1)[:, None, None] * strays[nearest]
    return np.asarray(np.maximum(likely, 1e-4), dtype=np.float64)


def difference_ranges(
    reference: Floats,
    sample: Floats,
    known: tuple[NDArray[np.bool_] | bool, NDArray[np.bool_] | bool] = (False, False),
) -> dict[str, tuple[Floats, Floats]]:
    """Range of the CIEDE2000 of pairs under every other light.

    Args:
        reference: reflectances, measured or recovered, shape (n, 36).
        sample: likewise.
        known: whether each reference, and each sample, was measured: bools or shape (n,).

    Returns: for each of :data:`OTHER_LIGHTS` the least and the most, shapes (n,), of 95 in 100; the same
        number twice where both spectra are known.
    """
    sides = []
    for rows, measured in zip((reference, sample), known, strict=True):
        held = np.broadcast_to(measured, len(rows))
        likely = likely_reflectances(rows)
        likely[held] = rows[held][:, None]
        sides.append(likely)
    ranges = {}
    for light in OTHER_LIGHTS:
        one, other = (reflectance_to_lab(side, light=light) for side in sides)
        turned = np.concatenate([np.roll(other, shift, axis=1) for shift in _SHIFTS], axis=1)
        apart = delta_e_2000(np.tile(one, (1, len(_SHIFTS), 1)), turned)
        least, most = np.percentile(apart, _INSIDE, axis=1)
        ranges[light] = (least, most)
    return ranges


def parts(delta: float, under: float) -> bool:
    """Whether a pair that is *delta* apart in D50 parts where a lamp makes it *under*.

    It parts where it was closer than 3.5 and the lamp takes it both out of its band and up by more than 1.
    """
    out_of_band = verdict_of(under).below > verdict_of(delta).below
    return delta < _PART_BELOW and under > delta + _PART_BY and out_of_band


def lamp_verdict(delta: float, least: float, most: float) -> LampVerdict:
    """Say whether a match holds, parts, or can't be told without a spectrum, from its range under a lamp."""
    if parts(delta, least):
        return "parts"
    return "can't tell" if parts(delta, most) else "holds"
