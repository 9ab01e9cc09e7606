"""Compare mixing laws and recoveries on published overprints: all that was tried, and left.

Run ``python tests/derive/compare_ink_laws.py`` from the root; it prints the table of README.md beside it.
Each law's constants are chosen on a grid, on all five conditions and with one condition left out at a time, by
the yardstick of evaluate_ink.py.
"""

import itertools
from collections.abc import Callable, Iterable
from functools import cache

import numpy as np
import numpy.typing as npt
from evaluate_ink import OVERPRINTS, cross_validate, papers, rows_of, single_inks, summary, truth

from blendkit.colour import (
    WHITE_D50,
    delta_e_2000,
    lab_to_srgb1,
    lab_to_xyz1,
    linear_to_srgb1,
    srgb1_to_lab,
    srgb1_to_linear,
)
from blendkit.spectrum import reflectance_from_lab, reflectance_to_lab, reflectance_to_xyz1

Array = npt.NDArray[np.float64]


def bent_curve(lab: Array, floor: float, bend: float) -> Array:
    """Recover one reflectance as reflectance_from_lab does, where a change of slope costs *bend* too.

    Flanks may then be steep where they are straight. Newton steps on the dense 39 by 39 system.
    """
    weights = reflectance_to_xyz1(np.eye(36))
    white = weights.sum(axis=0)
    target = (lab_to_xyz1(lab) / WHITE_D50 * white - floor * white) / (1 - floor)
    slope = np.diff(np.eye(36), axis=0)
    change = np.diff(slope, axis=0)
    cost = (slope.T @ slope + bend * change.T @ change) / (1 + bend) + 1e-9 * np.eye(36)
    z, multipliers = np.full(36, np.arctanh(2 * target[1] - 1)), np.zeros(3)
    for _ in range(60):
        t = np.tanh(z)
        s = (1 - t * t) / 2
        matrix = np.zeros((39, 39))
        matrix[:36, :36] = cost + np.diag(-2 * t * s * (weights @ multipliers))
        matrix[:36, 36:] = s[:, None] * weights
        matrix[36:, :36] = matrix[:36, 36:].T
        right = np.concatenate([cost @ z + s * (weights @ multipliers), weights.T @ ((t + 1) / 2) - target])
        step = np.linalg.solve(matrix, -right)
        size = np.abs(step[:36]).max()
        share = min(1.0, 1.0 / size)
        z, multipliers = z + share * step[:36], multipliers + share * step[36:]
        if size < 1e-8:
            return floor + (1 - floor) * (np.tanh(z) + 1) / 2
    raise ArithmeticError(f"no bent curve for {lab}")


Law = tuple[Callable[[Array], Array], Callable[[Array], Array]]
"""What adds up, from reflectance and back to it."""


def law_of(name: str, constant: float) -> Law:
    """Give a mixing law by name."""
    if name == "K/S":
        return (lambda r: (1 - r) ** 2 / (2 * r), lambda k: 1 + k - np.sqrt(k * k + 2 * k))
    if name == "K/S in root n":
        power = 1 / constant
        return (
            lambda r: (1 - r**power) ** 2 / (2 * r**power),
            lambda k: (1 + k - np.sqrt(k * k + 2 * k)) ** constant,
        )
    if name == "power":
        return (lambda r: (r**-constant - 1) / constant, lambda k: (1 + constant * k) ** (-1 / constant))
    if name == "film":
        back = constant
        return (
            lambda r: np.log((1 - back) / r + back),
            lambda k: (1 - back) * np.exp(-k) / (1 - back * np.exp(-k)),
        )
    raise ValueError(name)


def predict_by_law(
    law: Law, swatches: Array, surfaces: Array, transfer: float, overprint: str, later: str = "same"
) -> Array:
    """Predict one overprint on every condition by another law, shape (conditions, 36).

    Args:
        law: what adds up.
        swatches: (conditions, 4, 36).
        surfaces: each ink's surface part, (conditions, 4).
        transfer: share of each later coat.
        overprint: layers.
        later: "same" share for every later coat, "falling" by its power, "first" when the last coat is full.
    """
    to, back = law
    rows = rows_of(overprint)

    def inner(r: Array, f: Array) -> Array:
        return np.clip((r - f) / (1 - f), 1e-6, None)

    paper = papers()
    surface = surfaces[:, rows].min(axis=1)[:, None]
    total = to(inner(paper, surface))
    shares = [1.0] + [transfer] * (len(rows) - 1)
    if later == "falling":
        shares = [transfer**place for place in range(len(rows))]
    if later == "first":
        shares = shares[::-1]
    for share, row in zip(shares, rows, strict=True):
        own = surfaces[:, row][:, None]
        total = total + share * (to(inner(swatches[:, row], own)) - to(inner(paper, own)))
    return back(np.maximum(total, 0)) * (1 - surface) + surface


@cache
def swatches_for(bend: float, share: float, limit: float, fixed: float) -> tuple[Array, Array]:
    """Recover the single inks: (conditions, 4, 36) and their surface parts (conditions, 4)."""
    lab = single_inks()
    plain = reflectance_from_lab(lab)
    floor = np.minimum(share * plain.min(axis=-1), limit) if share else np.full(plain.shape[:-1], fixed)
    if bend == 0:
        return reflectance_from_lab(lab, floor=floor), floor
    bent = [bent_curve(one, low, bend) for one, low in zip(lab.reshape(-1, 3), floor.ravel(), strict=True)]
    return np.array(bent).reshape(*lab.shape[:-1], 36), floor


def measure_law(
    name: str,
    constant: float = 0.0,
    bend: float = 0.0,
    share: float = 0.0,
    limit: float = 0.06,
    fixed: float = 0.0,
    transfer: float = 1.0,
    in_mixing: bool = True,
    later: str = "same",
) -> Array:
    """CIEDE2000 of every overprint under another law, shape (conditions, overprints)."""
    swatches, floor = swatches_for(bend, share, limit, fixed)
    surfaces = floor if in_mixing else np.zeros_like(floor)
    law = law_of(name, constant)
    predicted = [predict_by_law(law, swatches, surfaces, transfer, each, later) for each in OVERPRINTS]
    return delta_e_2000(truth(), reflectance_to_lab(np.stack(predicted, axis=1)))


def measure_lab_average() -> Array:
    """CIEDE2000 when the Lab of the inks is averaged."""
    inks = single_inks()
    return delta_e_2000(
        truth(), np.stack([inks[:, rows_of(name)].mean(axis=1) for name in OVERPRINTS], axis=1)
    )


def measure_srgb_product() -> Array:
    """CIEDE2000 when linear sRGB of the inks, relative to the paper, is multiplied."""
    paper = np.clip(srgb1_to_linear(lab_to_srgb1(reflectance_to_lab(papers()))), 1e-3, None)[:, None]
    inks = np.clip(srgb1_to_linear(lab_to_srgb1(single_inks())), 0, None) / paper
    labs = []
    for name in OVERPRINTS:
        product = inks[:, rows_of(name)].prod(axis=1) * paper[:, 0]
        labs.append(srgb1_to_lab(linear_to_srgb1(np.clip(product, 0, 1))))
    return delta_e_2000(truth(), np.stack(labs, axis=1))


_BENDS = (4.0, 8.0, 12.0, 20.0, 30.0, 50.0)
_TRANSFERS = (0.75, 0.8, 0.85, 0.9, 0.95, 1.0)
_SHARES = (0.5, 0.6, 0.7, 0.8, 0.85)
LAWS: list[tuple[str, dict[str, Iterable[object]]]] = [
    ("K/S, plain curve: the starting point", {"name": ["K/S"]}),
    ("K/S, plain curve, surface", {"name": ["K/S"], "fixed": (0.0, 0.005, 0.01, 0.015, 0.02)}),
    (
        "K/S, plain curve, surface, transfer",
        {"name": ["K/S"], "fixed": (0.0, 0.005, 0.01, 0.015, 0.02), "transfer": _TRANSFERS},
    ),
    ("K/S, bent curve", {"name": ["K/S"], "bend": _BENDS}),
    ("K/S, bent curve, surface", {"name": ["K/S"], "bend": _BENDS, "fixed": (0.0, 0.005, 0.01, 0.015)}),
    ("K/S, bent curve, transfer", {"name": ["K/S"], "bend": _BENDS, "transfer": _TRANSFERS}),
    ("1/R, bent curve", {"name": ["power"], "constant": [1.0], "bend": _BENDS}),
    (
        "1/R, bent curve, transfer",
        {"name": ["power"], "constant": [1.0], "bend": _BENDS, "transfer": _TRANSFERS},
    ),
    (
        "power of R, bent curve, transfer",
        {"name": ["power"], "constant": (0.3, 0.5, 0.7, 0.9), "bend": _BENDS, "transfer": _TRANSFERS},
    ),
    (
        "power of R, bent curve above the surface share, transfer",
        {
            "name": ["power"],
            "constant": (0.5, 0.7, 0.9),
            "bend": _BENDS,
            "share": _SHARES,
            "transfer": _TRANSFERS,
            "in_mixing": [False],
        },
    ),
    (
        "K/S in the square root, bent curve above the surface share, transfer",
        {
            "name": ["K/S in root n"],
            "constant": [2.0],
            "bend": _BENDS,
            "share": _SHARES,
            "transfer": _TRANSFERS,
            "in_mixing": [False],
        },
    ),
    (
        "K/S, surface share taken off, bent curve, transfer",
        {"name": ["K/S"], "bend": _BENDS, "share": _SHARES, "transfer": _TRANSFERS},
    ),
    (
        "clear film without internal reflection, surface share, bent curve, transfer",
        {"name": ["film"], "constant": [0.0], "bend": _BENDS, "share": _SHARES, "transfer": _TRANSFERS},
    ),
    (
        "clear film, internal reflection 0.6, surface share, plain curve, transfer",
        {"name": ["film"], "constant": [0.6], "share": _SHARES, "transfer": _TRANSFERS},
    ),
    (
        "clear film, internal reflection 0.6, one surface for all, bent curve, transfer",
        {
            "name": ["film"],
            "constant": [0.6],
            "bend": _BENDS,
            "fixed": (0.0, 0.005, 0.01, 0.015),
            "transfer": _TRANSFERS,
        },
    ),
    (
        "clear film, internal reflection 0.6, surface share, bent curve, no transfer",
        {"name": ["film"], "constant": [0.6], "bend": _BENDS, "share": _SHARES},
    ),
    (
        "the same, each coat takes less than the last",
        {
            "name": ["film"],
            "constant": [0.6],
            "bend": _BENDS,
            "share": _SHARES,
            "transfer": _TRANSFERS,
            "later": ["falling"],
        },
    ),
    (
        "the same, the last coat in full and the earlier ones less",
        {
            "name": ["film"],
            "constant": [0.6],
            "bend": _BENDS,
            "share": _SHARES,
            "transfer": _TRANSFERS,
            "later": ["first"],
        },
    ),
    (
        "the same, every later coat takes one share",
        {"name": ["film"], "constant": [0.6], "bend": _BENDS, "share": _SHARES, "transfer": _TRANSFERS},
    ),
]


def print_laws() -> None:
    """Print the table of everything tried."""
    print("\n## Laws tried: CIEDE2000 over 20 overprints (median, max, mean), then each condition left out")
    for title, errors in (
        ("averaging Lab", measure_lab_average()),
        ("multiplying linear sRGB", measure_srgb_product()),
    ):
        print(f"{title:80s} {summary(errors)}")
    for title, grid in LAWS:
        settings = [dict(zip(grid, values, strict=True)) for values in itertools.product(*grid.values())]
        tried = [measure_law(**setting) for setting in settings]  # type: ignore[arg-type]
        best, left_out, _ = cross_validate(tried)
        fitted = {key: value for key, value in settings[best].items() if len(list(grid[key])) > 1}
        print(f"{title:80s} {summary(tried[best])} | {summary(left_out)} | {fitted}")


if __name__ == "__main__":
    print_laws()
