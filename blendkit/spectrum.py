"""Reflectance over 36 bands: from a measured colour, to a colour under any of five lights.

A reflectance is an array (..., 36) of float64 over :data:`WAVELENGTHS_NM`, as a rule from 0 to 1. A colour
alone does not tell its reflectance; :func:`reflectance_from_lab` takes the smoothest one that gives exactly
that colour. That choice is what every prediction under another light rests on, so such predictions are
estimates.

Sources:
    CIE 015:2018 and CIE 018:2019 (lights, colour-matching functions), folded into one weight a band as
    ASTM E2022 does; tests/derive/derive_cie_weights.py derives the packaged table.
    Burns 2020, Numerical methods for smoothest reflectance reconstruction, Color Research and
    Application 45, 8-21 (least slope of the hyperbolic tangent; steps numbered below).
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blendkit.colour import WHITE_D50, lab_to_xyz1, xyz1_to_lab
from blendkit.errors import ColourError, Problem

Floats = NDArray[np.float64]

WAVELENGTHS_NM: Final[NDArray[np.int64]] = np.arange(380, 731, 10, dtype=np.int64)
"""Middle of each band, nm."""


@dataclass(frozen=True, slots=True)
class Light:
    """A light that colours are looked at under.

    Args:
        label: what people call it.
        under: the same within a sentence.
        table: its name among the CIE lights of colour-science, from which its weights are derived.
    """

    label: str
    under: str
    table: str


LIGHTS: Final[Mapping[str, Light]] = MappingProxyType(
    {
        "D50": Light("viewing booth", "in a viewing booth", "D50"),
        "D65": Light("daylight", "in daylight", "D65"),
        "A": Light("warm lamp", "under a warm lamp", "A"),
        "LED-B3": Light("room LED", "under a room LED", "LED-B3"),
        "F11": Light("shop tube", "under a shop tube", "FL11"),
    }
)
"""Every light (CIE 015:2018), by its short name; the interior D50 first. A new one is added here and to the
table that tests/derive/derive_cie_weights.py writes, and is then offered everywhere."""
OBSERVERS: Final = (2, 10)
"""Degrees of field: CIE 1931 and CIE 1964."""

SURFACE_SHARE: Final = 0.8
"""What a surface reflects before light meets any colourant, as a share of the colour's darkest band."""
SURFACE_LIMIT: Final = 0.06
"""Most that a surface reflects so; a smooth film of refractive index 1.5 has 0.04."""

BANDS: Final = len(WAVELENGTHS_NM)
"""How many bands a reflectance has."""
_CHUNK = 512  # colours solved at once: the working arrays stay within 3 MB, near the processor
_STEP_LIMIT = 1.0  # largest change of z in one Newton step; without it strong blues overshoot
_NEWTON_STEPS = 25  # the sRGB cube needs 8; colours near the edge of what is possible a few more
_Z_LIMIT = 9.0  # reflectance within 1.5e-8 of 0 or 1
_CHROMA_PARTS = (8, 8, 8, 8, 4)  # finds the last reachable chroma to 1/16384 of the one asked for
_DARKEST, _LIGHTEST = 0.01, 99.99  # L*: the perfect black and white lie outside (0, 1)


@cache
def _tables() -> dict[tuple[str, int], Floats]:
    """Read the packaged weights: one (36, 3) array for each light and observer."""
    path = Path(__file__).with_name("data") / "cie_weights.csv"  # importlib.resources is slower to import
    lines = [line for line in path.read_text("utf-8").splitlines() if not line.startswith("#")]
    names = lines[0].split(",")
    table = np.array([[float(cell) for cell in line.split(",")] for line in lines[1:]])
    if not np.array_equal(table[:, 0], WAVELENGTHS_NM):
        raise ValueError("cie_weights.csv does not hold the bands of WAVELENGTHS_NM")
    return {
        (light, observer): np.stack(
            [table[:, names.index(f"{light}/{observer}/{letter}")] for letter in "XYZ"], axis=-1
        )
        for light in LIGHTS
        for observer in OBSERVERS
    }


def _weights(light: str, observer: int) -> Floats:
    try:
        return _tables()[light, observer]
    except KeyError:
        raise ColourError(
            "There is no table for that light and observer.",
            [
                Problem("light", repr(light), ", ".join(LIGHTS)),
                Problem("observer", repr(observer), "2 or 10 (degrees)"),
            ],
        ) from None


def white_xyz1(light: str = "D50", observer: int = 2) -> Floats:
    """Give the XYZ of a perfect white under *light*, Y = 1, shape (3,).

    It is the sum of the packaged weights, so it differs in the fourth decimal from a white that is
    computed from a rounded chromaticity.

    Raises: ColourError for a light or observer without a table.
    """
    white: Floats = _weights(light, observer).sum(axis=0)
    return white


def _checked(name: str, values: ArrayLike, length: int) -> Floats:
    array = np.asarray(values, dtype=np.float64)
    if array.ndim == 0 or array.shape[-1] != length:
        raise ColourError(
            f"{name} has the wrong shape.",
            [Problem(name, f"shape {array.shape}", f"a last axis of {length}")],
        )
    bad = ~np.isfinite(array)
    if bad.any():
        where = tuple(int(i) for i in np.argwhere(bad)[0])
        raise ColourError(
            f"{name} holds something that is not a number.",
            [Problem(f"{name}{list(where)}", repr(float(array[where])), "a finite number")],
        )
    return array


def reflectance_to_xyz1(reflectance: ArrayLike, light: str = "D50", observer: int = 2) -> Floats:
    """Give the XYZ of a reflectance under a light, Y = 1 for the perfect white.

    Args:
        reflectance: shape (..., 36) over WAVELENGTHS_NM.
        light: one of LIGHTS.
        observer: 2 or 10, degrees.

    Returns: XYZ, not adapted to any other white, shape (..., 3).
    Raises: ColourError for a wrong shape, a value that is not finite, or an unknown light or observer.
    Source: CIE 015:2018 section 7; weights as in ASTM E2022.
    """
    xyz: Floats = _checked("reflectance", reflectance, BANDS) @ _weights(light, observer)
    return xyz


def reflectance_to_lab(reflectance: ArrayLike, light: str = "D50", observer: int = 2) -> Floats:
    """Give the CIELAB of a reflectance, relative to the white of that same light.

    Only with the default light and observer is this the interior Lab. Under another light it says how
    the colour looks to an eye that is used to that light, as far as CIELAB tells.

    Args:
        reflectance: shape (..., 36) over WAVELENGTHS_NM.
        light: one of LIGHTS.
        observer: 2 or 10, degrees.

    Returns: Lab, shape (..., 3); 1 in every band gives 100, 0, 0 under every light.
    Raises: ColourError, as reflectance_to_xyz1.
    Source: CIE 015:2018 section 8.2.1.
    """
    xyz1 = reflectance_to_xyz1(reflectance, light, observer)
    return xyz1_to_lab(xyz1 / white_xyz1(light, observer) * WHITE_D50)


def reflectance_from_lab(
    lab: ArrayLike, light: str = "D50", observer: int = 2, *, floor: ArrayLike = 0.0
) -> Floats:
    """Estimate the reflectance behind a colour: the smoothest one that gives exactly that colour.

    Written as (tanh z + 1) / 2, it is the one whose z has the least squared slope from band to band; so it
    lies between 0 and 1, and a grey gives a flat line. With a *floor* it lies between that and 1: what a
    surface reflects whatever dye it holds (blendkit.ink says which floor fits an ink).

    A colour that no such reflectance gives (the perfect black and white, stronger chroma than a surface can
    have) gets the nearest one that does on the line of its hue: L* held within 0.01 to 99.99, a* and b* drawn
    toward grey together until one exists. There the floor is lowered too, as far as that takes.

    Args:
        lab: CIELAB relative to the white of *light* and *observer*, shape (..., 3). The interior Lab
            with the defaults.
        light: one of LIGHTS.
        observer: 2 or 10, degrees.
        floor: least reflectance, from 0 and below 1, a number or shape (...).

    Returns: reflectance, above *floor* and below 1, shape (..., 36); gives *lab* again to 1e-6, unless *lab*
        is out of reach.
    Raises: ColourError for a wrong shape, a value that is not finite, a *floor* out of range, or an unknown
        light or observer.
    Source: Burns 2020, method LHTSS; the floor is added here.

    >>> reflectance_from_lab([50.0, 0.0, 0.0]).round(3)[:3].tolist()
    [0.184, 0.184, 0.184]
    """
    array = _checked("lab", lab, 3)
    weights = _weights(light, observer)
    floors = np.asarray(floor, dtype=np.float64)
    bad = ~((floors >= 0) & (floors < 1))
    if bad.any():
        found = f"{float(floors[bad][0]):g}"
        raise ColourError("The floor is out of range.", [Problem("floor", found, "0 or above, below 1")])
    flat = array.reshape(-1, 3).copy()
    flat[:, 0] = np.clip(flat[:, 0], _DARKEST, _LIGHTEST)
    flat_floor = np.broadcast_to(floors, array.shape[:-1]).reshape(-1)
    # Alike colours are worked out once: a drawer's swatches lie on few papers.
    rows, place = np.unique(np.column_stack([flat, flat_floor]), axis=0, return_inverse=True)
    result = np.empty((len(rows), BANDS))
    for start in range(0, len(rows), _CHUNK):
        part = slice(start, start + _CHUNK)
        result[part] = _recover(rows[part, :3], weights, rows[part, 3])
    return result[place.reshape(-1)].reshape(*array.shape[:-1], BANDS)


def reflectance_above_surface(
    lab: ArrayLike,
    light: str = "D50",
    observer: int = 2,
    *,
    share: float = SURFACE_SHARE,
    limit: float = SURFACE_LIMIT,
    through: float = 0.0,
) -> Floats:
    """Estimate the reflectance behind a colour, no darker in any band than what its surface reflects.

    The smoothest curve falls too close to 0 between the bands that decide a colour; a real surface throws a
    few percent back before the light meets any colourant. So the darkest band of the plain curve is found,
    and the curve is drawn again above a share of it. On measured reflectances that comes nearer under other
    lights than the plain curve (tests/derive/evaluate_ink.py), and ink predictions rest on it.

    Args:
        lab: CIELAB relative to the white of *light* and *observer*, shape (..., 3).
        light: one of LIGHTS.
        observer: 2 or 10, degrees.
        share: of the plain curve's darkest band, 0 to below 1; 0 is the plain curve.
        limit: most that the surface may reflect.
        through: what even the darkest band lets through, taken off it first, 0 to 1.

    Returns: reflectance, as reflectance_from_lab gives it.
    Raises: ColourError, as reflectance_from_lab.
    """
    plain = reflectance_from_lab(lab, light, observer)
    floor = np.clip(share * (plain.min(axis=-1) - through), 0.0, limit)
    return reflectance_from_lab(lab, light, observer, floor=floor)


def _recover(lab: Floats, weights: Floats, floor: Floats) -> Floats:
    """Recover each colour of *lab* (n, 3); those out of reach by parting their chroma's interval."""
    reflectance, found, _ = _solve(lab, weights, floor)
    lost = np.flatnonzero(~found)
    if lost.size:
        low = np.minimum(floor[lost], 0.9 * lab_to_xyz1(lab[lost])[:, 1])  # below the grey of that lightness
        best, _, start = _solve(lab[lost] * [1.0, 0.0, 0.0], weights, low)
        inside = np.zeros(lost.size)
        width = 1.0
        for parts in _CHROMA_PARTS:
            width /= parts
            # All shares of this round at once, shape (lost, parts - 1); the last reached before the first miss.
            shares = inside[:, None] + width * np.arange(1, parts)
            chroma = np.stack([np.ones_like(shares), shares, shares], axis=-1)
            # Begun at the best so far, what is reached is near, and what isn't is soon seen to run away.
            tried, reached, ends = _solve(
                (lab[lost][:, None] * chroma).reshape(-1, 3),
                weights,
                np.repeat(low, parts - 1),
                np.repeat(start, parts - 1, axis=1),
            )
            steps = np.cumprod(reached.reshape(shares.shape), axis=1).sum(axis=1)
            some = np.flatnonzero(steps)
            last = some * (parts - 1) + steps[some] - 1
            best[some], start[:, some] = tried[last], ends[:, last]
            inside += width * steps
        reflectance[lost] = best
    return reflectance


def _solve(
    lab: Floats, weights: Floats, floor: Floats, start: Floats | None = None
) -> tuple[Floats, NDArray[np.bool_], Floats]:
    """Solve Burns 2020 for every colour at once by Newton steps; say which were found, and the unknowns (39, n).

    Unknown are z (36) and three multipliers. With t = tanh z, s = (1 - t²) / 2 and D the matrix of summed
    squared slopes, the conditions are
        (1)  D z + s (W m) = 0
        (2)  Wᵀ (f + (1 - f) (t + 1) / 2) = XYZ, f the floor.
    The step of (1) is tridiagonal in z, so elimination costs 36 small steps for all colours together, and
    (2) leaves a 3 by 3 system for the multipliers (Schur complement).
    """
    white = weights.sum(axis=0)
    asked = lab_to_xyz1(lab) / WHITE_D50 * white
    target = ((asked - floor[:, None] * white) / (1 - floor[:, None])).T  # (3, n): (2) without the floor
    count = target.shape[1]
    if start is None:
        grey = np.arctanh(2 * np.clip(target[1], 1e-6, 1 - 1e-6) - 1)
        start = np.concatenate([np.repeat(grey[None], BANDS, axis=0), np.zeros((3, count))])
    z, multipliers = start[:BANDS].copy(), start[BANDS:].copy()
    found = np.zeros(count, dtype=np.bool_)
    slope = np.full((BANDS, 1), 4.0)
    slope[0] = slope[-1] = 2.0
    active = np.flatnonzero((target > 0).all(axis=0))
    for _ in range(_NEWTON_STEPS):
        if not active.size:
            break
        z_now, m_now = z[:, active], multipliers[:, active]
        t = np.tanh(z_now)
        s = (1 - t * t) / 2
        pull = weights @ m_now
        first = slope * z_now + s * pull  # (1)
        first[:-1] -= 2 * z_now[1:]
        first[1:] -= 2 * z_now[:-1]
        second = weights.T @ ((t + 1) / 2) - target[:, active]  # (2)
        jacobian = s[:, None, :] * weights[:, :, None]  # (b, 3, n): long rows of colours are quick
        # D alone has a level line that costs nothing; 1e-6 in the matrix (not in the conditions) lets it be
        # eliminated and leaves the solution as it is.
        diagonal = slope - 2 * t * s * pull + 1e-6
        with np.errstate(all="ignore"):
            solved = _eliminate(diagonal, np.concatenate([-first[:, None, :], jacobian], axis=1))
            straight, across = solved[:, 0], solved[:, 1:]
            small = np.einsum("bin,bjn->ijn", jacobian, across)
            rest = np.einsum("bin,bn->in", jacobian, straight) + second
            m_step = _solve_3x3(small, rest)
            z_step = straight - np.einsum("bin,in->bn", across, m_step)
            size = np.abs(z_step).max(axis=0)
            share = np.minimum(1.0, _STEP_LIMIT / np.maximum(size, 1e-12))
            z[:, active] = z_now + share * z_step
            multipliers[:, active] = m_now + share * m_step
        done = (size < 1e-6) & (np.abs(second).max(axis=0) < 1e-9)
        found[active[done]] = True
        active = active[(np.abs(z[:, active]).max(axis=0) < _Z_LIMIT) & ~done]
    reflectance = floor[:, None] + (1 - floor[:, None]) * ((np.tanh(z) + 1) / 2).T
    return reflectance, found, np.concatenate([z, multipliers])


def _eliminate(diagonal: Floats, right: Floats) -> Floats:
    """Solve tridiagonal systems with -2 beside the *diagonal* (b, n); *right* (b, k, n) becomes the solution.

    Elimination goes from both ends to the middle at once, which halves the steps.
    """
    half = BANDS // 2
    both, ends = np.empty((half, 2, *diagonal.shape[1:])), np.empty((half, 2, *right.shape[1:]))
    both[:, 0], both[:, 1] = diagonal[:half], diagonal[: half - 1 : -1]
    ends[:, 0], ends[:, 1] = right[:half], right[: half - 1 : -1]
    diagonal = both
    for i in range(1, half):
        factor = 2.0 / diagonal[i - 1]
        diagonal[i] -= 2.0 * factor
        ends[i] += factor[:, None] * ends[i - 1]
    # In the middle each end's last band has only the other's beside it.
    (one, two), (at_one, at_two) = diagonal[-1], ends[-1]
    shared = one * two - 4.0
    ends[-1] = (at_one * two + 2.0 * at_two) / shared, (at_two * one + 2.0 * at_one) / shared
    inverse = (1.0 / diagonal)[:, :, None]
    ends[:-1] *= inverse[:-1]
    inverse *= 2.0
    for i in range(half - 2, -1, -1):
        ends[i] += inverse[i] * ends[i + 1]
    right[:half], right[half:] = ends[:, 0], ends[::-1, 1]
    return right


def _solve_3x3(matrix: Floats, right: Floats) -> Floats:
    """Solve n systems of three, (3, 3, n) and (3, n), by Cramer's rule; a singular one gives no finite values."""
    a, b, c = matrix
    bc, ca, ab = _cross(b, c), _cross(c, a), _cross(a, b)
    determinant = a[0] * bc[0] + a[1] * bc[1] + a[2] * bc[2]
    solution: Floats = (right[0] * bc + right[1] * ca + right[2] * ab) / determinant
    return solution


def _cross(a: Floats, b: Floats) -> Floats:
    """Cross product along the first axis of (3, n); numpy.cross takes three times as long on few colours."""
    product = np.empty_like(a)
    product[0] = a[1] * b[2] - a[2] * b[1]
    product[1] = a[2] * b[0] - a[0] * b[2]
    product[2] = a[0] * b[1] - a[1] * b[0]
    return product


def resample_reflectance(nm: ArrayLike, values: ArrayLike) -> Floats:
    """Carry a measured reflectance to the 36 bands.

    Between the measured wavelengths by the third-degree polynomial through the four nearest; beyond them
    the first and last value are held. Values below 0, which instruments give for deep blacks, become 0.

    Args:
        nm: wavelengths, rising, at least four, from 420 or below to 680 or above, no gap above 25 nm.
        values: reflectance, -0.05 to 2 (above 1 where a paper is brightened), shape (..., len(nm)).

    Returns: reflectance over WAVELENGTHS_NM, shape (..., 36).
    Raises: ColourError, naming what is wrong with the wavelengths or the first bad value.
    """
    where = np.asarray(nm, dtype=np.float64)
    if where.ndim != 1 or where.size < 4 or not np.isfinite(where).all() or (np.diff(where) <= 0).any():
        raise ColourError(
            "The wavelengths of a reflectance can't be read.",
            [Problem("nm", np.array2string(where, threshold=8), "four or more numbers, each above the last")],
        )
    if where[0] > 420 or where[-1] < 680 or (np.diff(where) > 25).any():
        raise ColourError(
            "The wavelengths of a reflectance leave too much of the spectrum out.",
            [
                Problem(
                    "nm",
                    f"{where[0]:g} to {where[-1]:g}, largest gap {np.diff(where).max():g}",
                    "from 420 or below to 680 or above, no gap above 25",
                )
            ],
        )
    measured = _checked("values", values, where.size)
    bad = (measured < -0.05) | (measured > 2.0)
    if bad.any():
        index = tuple(int(i) for i in np.argwhere(bad)[0])
        raise ColourError(
            "A reflectance is out of range.",
            [
                Problem(
                    f"values{list(index)} ({where[index[-1]]:g} nm)",
                    f"{float(measured[index]):g}",
                    "-0.05 to 2, where 1 is the perfect white (divide percent by 100)",
                )
            ],
        )
    target = np.clip(WAVELENGTHS_NM.astype(np.float64), where[0], where[-1])
    start = np.clip(np.searchsorted(where, target, side="right") - 2, 0, where.size - 4)
    near = start[:, None] + np.arange(4)  # (36, 4)
    matrix = np.zeros((where.size, BANDS))
    for j in range(4):
        share = np.ones(BANDS)
        for k in range(4):
            if k != j:
                share *= (target - where[near[:, k]]) / (where[near[:, j]] - where[near[:, k]])
        matrix[near[:, j], np.arange(BANDS)] = share
    result: Floats = np.clip(measured @ matrix, 0.0, None)
    return result


def lab_to_interior(lab: ArrayLike, light: str, observer: int) -> Floats:
    """Convert Lab measured under any light and observer to the interior Lab (D50, 2 degree).

    By way of the estimated reflectance, so the answer is an estimate; README says how far it is off
    on measured reflectances. A Lab that is interior already comes back unchanged.

    Args:
        lab: CIELAB relative to the white of *light* and *observer*, shape (..., 3).
        light: one of LIGHTS.
        observer: 2 or 10, degrees.

    Returns: interior Lab, shape (..., 3).
    Raises: ColourError, as reflectance_from_lab.
    """
    if (light, observer) == ("D50", 2):
        return _checked("lab", lab, 3).copy()
    return reflectance_to_lab(reflectance_above_surface(lab, light, observer))
