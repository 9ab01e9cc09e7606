"""Fit two constants of the ink model to measured stacks: arrays in, constants out, no palette.

Which two is decided by data. On the published overprints *surface_share* helps and *transfer* alone doesn't;
on coats of dye in paper it is the other way round; a third, *internal_reflection*, gains little beside these
two, and less stays to judge it by (tests/derive/evaluate_calibrate.py prints the table). The constants that
aren't fitted keep their theory.

Two constants make a plane, so every stack is predicted once at every point of a grid on it. Fitting to any
part of the stacks, as cross-validation does again and again, is then a sum over tables: the lowest point of
the grid, refined on a spline through it. No start value, no local minimum.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from blendkit.colour import delta_e_2000
from blendkit.ink import (
    DEFAULT_MODEL,
    MODEL_BOUNDS,
    InkModel,
    ink_increment,
    layer_increments,
    predict_from_increments,
)
from blendkit.inked import measured_or_estimated
from blendkit.palette import Reading
from blendkit.spectrum import reflectance_to_lab

Floats = NDArray[np.float64]
Stack = tuple[int, ...]
"""Rows of the swatches, first laid first."""

FITTED: Final = ("surface_share", "transfer")
"""The constants that are fitted; the axes of the grid."""

PULL: Final = {"surface_share": 0.5, "transfer": 0.2}
"""The mild pull: being this far from its default costs a constant as much as one stack off by NOISE."""

NOISE: Final = 1.5
"""CIEDE2000 by which a reading and the model may well be off; scales what a stack says against the pull."""

LARGE: Final = 6.0
"""CIEDE2000 from which a stack counts less than by its square, so that one slip doesn't turn the fit."""

LEAST_GAIN: Final = 0.1
"""Mean CIEDE2000 that a fit must gain on markers that it hasn't seen; and no less than its standard error."""

_STEP = 0.05
"""Step of the grid in both constants, before its lowest point is refined. Own judgement."""


def predict_stacks(
    paper: Floats, swatches: Sequence[Reading], stacks: Sequence[Stack], model: InkModel = DEFAULT_MODEL
) -> Floats:
    """Lab of each stack as the model predicts it from single coats.

    Args:
        paper: reflectance of the paper, shape (36,).
        swatches: reading of one coat of each marker on it.
        stacks: rows of *swatches*, first laid first.
        model: the constants.

    Returns: shape (stacks, 3).
    """
    totals = _totals(paper, swatches, stacks, model, (model.transfer,))
    return reflectance_to_lab(predict_from_increments(paper, totals[0], model))


def _totals(
    paper: Floats,
    swatches: Sequence[Reading],
    stacks: Sequence[Stack],
    model: InkModel,
    transfers: Sequence[float],
) -> Floats:
    """Sums of increments for every transfer, shape (transfers, stacks, 37)."""
    used = sorted({row for stack in stacks for row in stack})
    readings = [swatches[row] for row in used]
    increments = ink_increment(measured_or_estimated(readings, model), paper, model)
    totals = np.empty((len(transfers), len(stacks), increments.shape[-1]))
    for height in {len(stack) for stack in stacks}:
        places = [place for place, stack in enumerate(stacks) if len(stack) == height]
        rows = np.array([[used.index(row) for row in stacks[place]] for place in places])
        for at, transfer in enumerate(transfers):
            laid = layer_increments(increments[rows], paper, replace(model, transfer=transfer))
            totals[at, places] = laid[:, -1]
    return totals


@dataclass(frozen=True)
class InkFit:
    """Stacks predicted at every point of a grid of the fitted constants; see :meth:`of`.

    Args:
        shares: grid of *surface_share*.
        transfers: grid of *transfer*.
        errors: CIEDE2000 of every stack, shape (shares, transfers, stacks).
        base: gives the constants that aren't fitted, and those that the pull is to.
    """

    shares: Floats
    transfers: Floats
    errors: Floats
    base: InkModel

    @classmethod
    def of(
        cls,
        paper: Floats,
        swatches: Sequence[Reading],
        stacks: Sequence[Stack],
        measured: Floats,
        base: InkModel = DEFAULT_MODEL,
    ) -> "InkFit":
        """Predict the stacks over the grid.

        Args:
            paper: reflectance of the paper, shape (36,).
            swatches: reading of one coat of each marker on it.
            stacks: rows of *swatches*, first laid first.
            measured: Lab of each stack, shape (stacks, 3).
            base: the constants to start from and be pulled to.

        Returns: the grid, for :meth:`model`.
        """
        shares, transfers = (_grid(*MODEL_BOUNDS[name]) for name in FITTED)
        errors = np.empty((len(shares), len(transfers), len(stacks)))
        for place, share in enumerate(shares):
            model = replace(base, surface_share=float(share))
            totals = _totals(paper, swatches, stacks, model, transfers.tolist())
            labs = reflectance_to_lab(predict_from_increments(paper, totals, model))
            errors[place] = delta_e_2000(measured, labs)
        return cls(shares, transfers, errors, base)

    def model(self, kept: NDArray[np.bool_] | None = None) -> InkModel:
        """Fit the constants to the stacks, or to those that are *kept* of them, shape (stacks,).

        Returns: the base model with the fitted constants, to three decimals, within MODEL_BOUNDS.
        """
        errors = self.errors if kept is None else self.errors[..., kept]
        cost = soft_square(errors).sum(axis=-1) / NOISE**2
        cost += ((self.shares - self.base.surface_share) / PULL["surface_share"])[:, None] ** 2
        cost += ((self.transfers - self.base.transfer) / PULL["transfer"])[None, :] ** 2
        share, transfer = _lowest(self.shares, self.transfers, cost)
        return replace(self.base, surface_share=share, transfer=transfer)


def leave_markers_out(
    fit: InkFit, paper: Floats, swatches: Sequence[Reading], stacks: Sequence[Stack], measured: Floats
) -> Floats:
    """Leave each marker out in turn, fit to the stacks without it, and predict those with it.

    Args:
        fit: of all the stacks.
        paper: as for :meth:`InkFit.of`, and so are the others.
        swatches: reading of one coat of each marker.
        stacks: rows of *swatches*.
        measured: Lab of each stack, shape (stacks, 3).

    Returns: CIEDE2000, shape (markers that are in any stack, stacks); NaN where the marker isn't in the stack.
    """
    used = sorted({row for stack in stacks for row in stack})
    unseen = np.full((len(used), len(stacks)), np.nan)
    for place, row in enumerate(used):
        without = np.array([row in stack for stack in stacks])
        predicted = predict_stacks(
            paper, swatches, [stack for stack in stacks if row in stack], fit.model(~without)
        )
        unseen[place, without] = delta_e_2000(measured[without], predicted)
    return unseen


def helps_unseen(before: Floats, unseen: Floats) -> bool:
    """Tell whether a fit gains more on markers it hasn't seen than chance would give.

    Args:
        before: CIEDE2000 of each stack under the usual constants, shape (stacks,).
        unseen: of :func:`leave_markers_out`.

    Returns: whether the mean gain a marker is LEAST_GAIN or more, and its standard error or more.
    """
    gains = np.nanmean(before - unseen, axis=1)
    return bool(gains.mean() >= max(LEAST_GAIN, gains.std(ddof=1) / np.sqrt(len(gains))))


def _grid(low: float, high: float) -> Floats:
    return np.linspace(low, high, round((high - low) / _STEP) + 1)


def soft_square(errors: Floats) -> Floats:
    """Square of what is small, growing in proportion from about LARGE on (Charbonnier's form)."""
    soft: Floats = 2 * LARGE**2 * (np.sqrt(1 + (errors / LARGE) ** 2) - 1)
    return soft


def _lowest(first: Floats, second: Floats, cost: Floats) -> tuple[float, float]:
    """Lowest point of a table of costs, between its grid lines too."""
    from scipy.interpolate import RectBivariateSpline
    from scipy.optimize import minimize

    at = np.unravel_index(int(np.argmin(cost)), cost.shape)
    start = np.array([first[at[0]], second[at[1]]])
    spline = RectBivariateSpline(first, second, cost)
    bounds = [
        (max(axis[0], middle - _STEP), min(axis[-1], middle + _STEP))
        for axis, middle in zip((first, second), start, strict=True)
    ]
    found = minimize(lambda point: spline(*point).item(), start, method="Nelder-Mead", bounds=bounds)
    return round(float(found.x[0]), 3), round(float(found.x[1]), 3)
