"""Colours as they were given, hex, Lab or spectrum, to readings: all of a file in one go.

Hex is sRGB, adapted on entry; Lab under another light or observer goes by way of an estimated reflectance;
a spectrum is exact.
"""

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blendkit.colour import lab_to_xyz1, srgb1_to_lab, xyz1_to_lab
from blendkit.errors import PaletteError, Problem
from blendkit.forms import Number
from blendkit.palette.records import PatternShare, Reading
from blendkit.palette.table import show_number
from blendkit.spectrum import LIGHTS, OBSERVERS, lab_to_interior, reflectance_to_lab, resample_reflectance

Floats = NDArray[np.float64]

MAX_AB = 160.0
"""Largest a or b that is accepted: beyond any surface colour."""
LAB_LIMITS = {"L": Number(0, 100), "a": Number(-MAX_AB, MAX_AB), "b": Number(-MAX_AB, MAX_AB)}

MAX_REFLECTANCE = 1.5
"""Largest reflectance that is accepted: brightened papers pass 1 where they glow."""
MIN_REFLECTANCE = -0.02
"""Smallest that is accepted, and taken for 0: instruments give such values for deep blacks."""

HEX_ACCEPTED = "#rrggbb, such as #c8553d"
REFLECTANCES = Number(
    MIN_REFLECTANCE,
    MAX_REFLECTANCE,
    words="a reflectance from 0 to 1 (to 1.5 where brighteners glow), or with a % sign",
)
_HEX = re.compile(r"#(?:[0-9a-f]{3}){1,2}|(?!\d+e\d+$)[0-9a-f]{6}", re.IGNORECASE | re.ASCII)
"""Without its # six digits only, and none that reads as 1e5: a spreadsheet eats noughts and digits."""


@dataclass(frozen=True)
class Given:
    """A colour as it was given, checked: *values* are srgb1, Lab or reflectances at *nm*, as *way* says."""

    way: Literal["hex", "lab", "spectrum"]
    typed: str
    values: Floats
    light: str = "D50"
    observer: int = 2
    nm: tuple[float, ...] = ()
    uncertainty: float | None = None
    setup: str = ""
    measured: str = ""


def given_hex(text: str) -> Given | None:
    """Give a hex colour, with three digits or six, as given; None when it is none."""
    match = _HEX.fullmatch(text.strip())
    if match is None:
        return None
    digits = match[0].removeprefix("#").lower()
    digits = digits if len(digits) == 6 else "".join(digit * 2 for digit in digits)
    return Given("hex", f"#{digits}", np.array(list(bytes.fromhex(digits)), dtype=np.float64) / 255.0, "D65")


def given_lab(lab: Sequence[float] | Floats, light: str, observer: int) -> Given:
    """Give a Lab, already checked with :func:`lab_fault`, as given."""
    values = np.asarray(lab, dtype=np.float64)
    return Given("lab", ", ".join(show_number(float(value)) for value in values), values, light, observer)


def given_spectrum(nm: Sequence[float], reflectance: Sequence[float] | Floats) -> Given:
    """Give a spectrum, already checked with :func:`spectrum_fault`, as given."""
    typed = f"spectrum of {len(nm)} bands, {nm[0]:g} to {nm[-1]:g} nm"
    return Given("spectrum", typed, np.asarray(reflectance, dtype=np.float64), nm=tuple(nm))


def lab_fault(letter: str, value: float) -> str:
    """Give what is accepted when *value* is not, else ""."""
    return "" if LAB_LIMITS[letter].fits(value) else LAB_LIMITS[letter].accepted


def spectrum_fault(nm: Sequence[float], whole: bool = False) -> str:
    """Give what is accepted when these wavelengths make no whole spectrum, else "".

    Args:
        nm: the wavelengths that have a value.
        whole: whether they are all that the table has between the first and the last.
    """
    steps = {round(second - first, 3) for first, second in pairwise(nm)}
    if len(nm) < 2 or nm[0] > 420 or nm[-1] < 680 or min(steps) <= 0:
        return "a spectrum that covers 420 to 680 nm, rising"
    if max(steps) > 20:
        return "a value at least every 20 nm"
    if len(steps) > 1 and not whole:
        return "every wavelength of the spectrum, none left out"
    return ""


# ---------------------------------------------------------------- all at once


def readings_from_given(colours: Sequence[Given]) -> list[Reading]:
    """Convert all colours of a file, each way in one call."""
    labs: list[Floats] = [np.zeros(3)] * len(colours)
    spectra: list[Floats | None] = [None] * len(colours)
    alike: dict[tuple[str, str, int, tuple[float, ...]], list[int]] = defaultdict(list)
    for index, colour in enumerate(colours):
        alike[(colour.way, colour.light, colour.observer, colour.nm)].append(index)
    for (way, light, observer, nm), indices in alike.items():
        values = np.array([colours[index].values for index in indices])
        if way == "hex":
            lab = srgb1_to_lab(values)
        elif way == "spectrum":
            full = np.asarray(resample_reflectance(np.array(nm), values))
            lab = np.asarray(reflectance_to_lab(full))
            for index, spectrum in zip(indices, np.clip(full, 0.0, 1.0), strict=True):
                spectra[index] = _frozen(spectrum)
        elif (light, observer) == ("D50", 2):
            lab = values
        else:
            lab = np.asarray(lab_to_interior(values, light, observer))
        for index, row in zip(indices, lab, strict=True):
            labs[index] = _frozen(row)
    return [
        Reading(
            lab=lab,
            reflectance=spectrum,
            typed=colour.typed,
            light=colour.light,
            observer=colour.observer,
            uncertainty=colour.uncertainty,
            setup=colour.setup,
            measured=colour.measured,
        )
        for lab, spectrum, colour in zip(labs, spectra, colours, strict=True)
    ]


def _frozen(values: Floats) -> Floats:
    copy = np.array(values, dtype=np.float64)
    copy.flags.writeable = False
    return copy


def mean_reading(pattern: tuple[PatternShare, ...]) -> Reading:
    """Give the colour of a pattern from afar: light adds up, so the mean is of XYZ (or of reflectance)."""
    shares = np.array([part.share for part in pattern])
    lab = xyz1_to_lab(shares @ lab_to_xyz1(np.array([part.lab for part in pattern])))
    spectra = [part.reading.reflectance for part in pattern if part.reading.reflectance is not None]
    return replace(
        pattern[0].reading,
        lab=_frozen(lab),
        reflectance=_frozen(shares @ np.array(spectra)) if len(spectra) == len(pattern) else None,
        typed=f"mean of {len(pattern)} colours by area",
        light="D50",
        observer=2,
    )


# ---------------------------------------------------------------- one at a time


def reading_from_hex(text: str, *, setup: str = "", measured: str = "") -> Reading:
    """Give the reading of an sRGB hex such as ``#c8553d``.

    Raises: PaletteError when it is no hex colour.
    """
    colour = given_hex(text)
    if colour is None:
        raise PaletteError("This colour can't be read.", [Problem("hex", repr(text), HEX_ACCEPTED)])
    return readings_from_given([replace(colour, setup=setup, measured=measured)])[0]


def reading_from_lab(
    lab: ArrayLike,
    light: str = "D50",
    observer: int = 2,
    *,
    uncertainty: float | None = None,
    setup: str = "",
    measured: str = "",
) -> Reading:
    """Give the reading of a Lab measured under *light* for *observer*.

    Args:
        lab: L, a, b relative to that light's white, shape (3,).
        light: one of ``spectrum.LIGHTS``.
        observer: 2 or 10.
        uncertainty: CIEDE2000 within which it is trusted, or None.
        setup: how it was measured.
        measured: when it was measured.

    Returns: the reading; other than D50 / 2 degree is converted by way of an estimated reflectance.
    Raises: PaletteError for a Lab, light or observer that is not accepted.
    """
    return readings_from_labs(
        [lab], light, observer, uncertainties=[uncertainty], setup=setup, measured=measured
    )[0]


def readings_from_labs(
    labs: ArrayLike | Sequence[ArrayLike],
    light: str = "D50",
    observer: int = 2,
    *,
    uncertainties: Sequence[float | None] | None = None,
    setup: str = "",
    measured: str = "",
) -> tuple[Reading, ...]:
    """Give the readings of many Labs at once, shape (n, 3); see :func:`reading_from_lab`."""
    values = np.asarray(labs, dtype=np.float64).reshape(-1, 3)
    problems = []
    if light not in LIGHTS:
        problems.append(Problem("light", repr(light), ", ".join(LIGHTS)))
    if observer not in OBSERVERS:
        problems.append(Problem("observer", repr(observer), "2 or 10"))
    for index, row in enumerate(values):
        for letter, value in zip("Lab", row, strict=True):
            fault = lab_fault(letter, float(value))
            if fault:
                problems.append(Problem(f"colour {index + 1}, {letter}", f"{value:g}", fault))
    if problems:
        raise PaletteError("This colour can't be read.", problems)
    each = uncertainties if uncertainties is not None else [None] * len(values)
    colours = [
        replace(given_lab(row, light, observer), uncertainty=uncertainty, setup=setup, measured=measured)
        for row, uncertainty in zip(values, each, strict=True)
    ]
    return tuple(readings_from_given(colours))


def reading_from_spectrum(
    nm: ArrayLike,
    reflectance: ArrayLike,
    *,
    uncertainty: float | None = None,
    setup: str = "",
    measured: str = "",
) -> Reading:
    """Give the reading of a measured reflectance spectrum, 0 to 1, at the wavelengths *nm*.

    Raises: PaletteError when it doesn't cover 420 to 680 nm evenly, or a value is out of range.
    """
    wavelengths = np.asarray(nm, dtype=np.float64)
    values = np.asarray(reflectance, dtype=np.float64)
    fault = spectrum_fault(wavelengths.tolist())
    if values.shape != wavelengths.shape:
        fault = "as many values as wavelengths"
    elif not np.all((values >= MIN_REFLECTANCE) & (values <= MAX_REFLECTANCE)):
        fault = REFLECTANCES.accepted
    if fault:
        problem = Problem("spectrum", f"{values.size} values", fault)
        raise PaletteError("This spectrum can't be read.", [problem])
    colour = given_spectrum(wavelengths.tolist(), values)
    colour = replace(colour, uncertainty=uncertainty, setup=setup, measured=measured)
    return readings_from_given([colour])[0]
