"""Derive blendkit/data/cie_weights.csv: what each 10 nm band adds to X, Y and Z, per light and observer.

Run ``python tests/derive/derive_cie_weights.py`` from the project's root to write the table again;
``tests/test_spectrum.py`` compares the packaged table with the one derived here.

How: colour-matching functions (CIE 018:2019: 1931 2 degree, 1964 10 degree) and lights (CIE 015:2018: D50,
D65, A, LED-B3, FL11) as colour-science ships them, multiplied and summed every 5 nm from 360 to 780 nm, the
interval at which CIE 015 tables the lights. A reflectance of 36 bands is carried between its bands by the
third-degree polynomial through the four nearest ones (the interpolation that ASTM E2022 uses for its
weights), and held at its first and last value beyond 380 and 730 nm. Carrying is linear in the 36 values, so
all of it folds into one weight a band. The few weights that come out below zero (down to
-0.003 beside the lines of F11, below 0.00003 elsewhere) are shared out to the two bands beside them, so that
less reflectance can never give more light and the sum, the light's white, stays. Each set has Y = 1 for the
perfect white.
"""

import io
from pathlib import Path

import colour
import numpy as np
import numpy.typing as npt

from blendkit.spectrum import LIGHTS

Array = npt.NDArray[np.float64]

BANDS_NM = np.arange(380, 731, 10)
STEP_NM = np.arange(360, 781, 5)
LIGHT_NAMES = {name: light.table for name, light in LIGHTS.items()}
OBSERVER_NAMES = {2: "CIE 1931 2 Degree Standard Observer", 10: "CIE 1964 10 Degree Standard Observer"}
TABLE = Path(__file__).parents[2] / "blendkit" / "data" / "cie_weights.csv"
HEADER = """\
# What each 10 nm band of a reflectance adds to CIE X, Y and Z, by light and observer; perfect white: Y = 1.
# Source: colour-matching functions of CIE 018:2019 (1931 2 degree, 1964 10 degree), lights of CIE 015:2018
# (D50, D65, A, LED-B3, FL11), as shipped by colour-science 0.4 (BSD-3-Clause).
# Weighting: 5 nm sums from 360 to 780 nm, cubic interpolation between bands as in ASTM E2022, ends held.
# Derived by tests/derive/derive_cie_weights.py; do not edit by hand.
"""


def interpolation_matrix(fine_nm: npt.NDArray[np.int_]) -> Array:
    """Give the matrix that carries 36 bands to *fine_nm*: cubic inside, held at the ends."""
    matrix = np.zeros((len(fine_nm), len(BANDS_NM)))
    for row, nm in enumerate(np.clip(fine_nm, BANDS_NM[0], BANDS_NM[-1])):
        below = min(int((nm - BANDS_NM[0]) // 10), len(BANDS_NM) - 2)
        near = range(max(below - 1, 0), min(below + 2, len(BANDS_NM) - 1) + 1)
        for j in near:
            others = np.array([BANDS_NM[k] for k in near if k != j])
            matrix[row, j] = np.prod((nm - others) / (BANDS_NM[j] - others))
    return matrix


def fine_weights(light: str, observer: int, fine_nm: npt.NDArray[np.int_]) -> Array:
    """Give light times colour-matching functions at *fine_nm*, scaled to Y = 1; shape (len(fine_nm), 3)."""
    power = colour.SDS_ILLUMINANTS[LIGHT_NAMES[light]]
    matching = colour.MSDS_CMFS[OBSERVER_NAMES[observer]]
    spd = np.interp(fine_nm, power.wavelengths, power.values, left=0.0, right=0.0)
    cmfs = np.stack([np.interp(fine_nm, matching.wavelengths, column) for column in matching.values.T], -1)
    weights = cmfs * spd[:, None]
    return weights / weights[:, 1].sum()


def derive_weights(light: str, observer: int) -> Array:
    """Give the weights of the 36 bands, shape (36, 3)."""
    weights = interpolation_matrix(STEP_NM).T @ fine_weights(light, observer, STEP_NM)
    while (weights < 0).any():
        lack = np.minimum(weights, 0.0)
        weights = np.maximum(weights, 0.0)
        weights[:-1] += lack[1:] / 2
        weights[1:] += lack[:-1] / 2
        weights[0] += lack[0] / 2  # an end has one neighbour; the other half stays on it
        weights[-1] += lack[-1] / 2
        weights[np.abs(weights) < 1e-15] = 0.0
    return weights / weights[:, 1].sum()


def derive_table() -> tuple[list[str], Array]:
    """Give the column names and the whole table, first column the band in nm."""
    names, columns = ["nm"], [BANDS_NM.astype(float)]
    for light in LIGHT_NAMES:
        for observer in OBSERVER_NAMES:
            weights = derive_weights(light, observer)
            for axis, letter in enumerate("XYZ"):
                names.append(f"{light}/{observer}/{letter}")
                columns.append(weights[:, axis])
    return names, np.stack(columns, -1)


def main() -> None:
    """Write the table."""
    names, table = derive_table()
    text = io.StringIO()
    text.write(HEADER + ",".join(names) + "\n")
    for row in table:
        text.write(f"{row[0]:.0f}," + ",".join(f"{value:.8e}" for value in row[1:]) + "\n")
    TABLE.write_text(text.getvalue(), encoding="utf-8")
    print(f"wrote {TABLE.name}: {table.shape[0]} bands, {table.shape[1] - 1} columns")


if __name__ == "__main__":
    main()
