"""Measure how well the ink model's constants are fitted: known truth, and published overprints.

Run ``python tests/derive/evaluate_calibrate.py`` from the project's root; it prints the tables on calibration
in README.md beside it and takes some minutes.

Two questions. With stacks made by the model itself from constants that are known, and readings that are off
as an instrument or a camera is: do the fitted constants come near the true ones, and do predictions for other
markers get better? And with tests/gold/ink_overprints.csv, which no model made: how much does a fit on half of
a condition's overprints help with the other half?
"""

from dataclasses import dataclass, replace
from itertools import combinations, product

import numpy as np
import numpy.typing as npt
from evaluate_ink import INKS, OVERPRINTS, WITH_BLACK, read_conditions, rows_of

from blendkit.advice.ink_fit import (
    NOISE,
    PULL,
    InkFit,
    Stack,
    helps_unseen,
    leave_markers_out,
    predict_stacks,
    soft_square,
)
from blendkit.colour import delta_e_2000, lch_to_lab
from blendkit.ink import DEFAULT_MODEL, InkModel
from blendkit.palette import Reading, demo_palette_path, read_palette, readings_from_labs
from blendkit.spectrum import reflectance_from_lab

Array = npt.NDArray[np.float64]
PAPER_LAB = (95.0, 0.0, -2.0)
"""Paper type 1 of ISO 12647-2."""

TRUTHS = (
    DEFAULT_MODEL,
    InkModel(surface_share=0.5, transfer=0.5),
    InkModel(surface_share=0.4, transfer=0.95),
    InkModel(surface_share=0.85, transfer=0.45),
    InkModel(surface_share=0.6, transfer=0.6, internal_reflection=0.4, surface_limit=0.04),
)
"""Constants that the simulated papers have; the last differs also where nothing is fitted."""
NOISES = (0.3, 1.0)
"""Reading noise: root mean square CIEDE2000; an instrument's and a good scan's, roughly."""
COUNTS = (3, 6, 12)


def draw_markers(random: np.random.Generator, count: int) -> Array:
    """Lab of invented markers: every hue, pale to dark, shape (count, 3)."""
    lightness = random.uniform(32, 86, count)
    chroma = random.uniform(8, 62, count) * (1 - np.abs(lightness - 62) / 80)
    return lch_to_lab(np.stack([lightness, chroma, random.uniform(0, 360, count)], axis=-1))


def read_with_noise(random: np.random.Generator, labs: Array, noise: float) -> Array:
    """Put every Lab off in a random direction, by a root mean square of *noise* CIEDE2000."""
    steps = random.normal(size=labs.shape)
    wanted = noise * np.linalg.norm(steps, axis=-1, keepdims=True) / np.sqrt(3)
    steps /= np.linalg.norm(steps, axis=-1, keepdims=True)
    small = delta_e_2000(labs, labs + 0.1 * steps)[..., None] / 0.1
    return labs + steps * wanted / small


@dataclass(frozen=True)
class Trial:
    """One simulated drawer: what was fitted, whether it was taken, and its errors on 30 other markers."""

    model: InkModel
    helps: bool
    before: float
    after: float


def coats_of(count: int) -> list[Stack]:
    """Second and third coats of every marker."""
    return [(row,) * coats for row in range(count) for coats in (2, 3)]


def simulate(seed: int, truth: InkModel, noise: float, count: int) -> Trial:
    """Fit to a simulated drawer of *count* markers, and predict coats and overlaps of others.

    Errors are mean CIEDE2000 of stacks without noise, predicted from swatches without noise.
    """
    random = np.random.default_rng(seed)
    paper = reflectance_from_lab(np.array(PAPER_LAB))
    labs, stacks = draw_markers(random, count), coats_of(count)
    true = predict_stacks(paper, readings_from_labs(labs), stacks, truth)
    read = readings_from_labs(read_with_noise(random, labs, noise))
    measured = read_with_noise(random, true, noise)
    fit = InkFit.of(paper, read, stacks, measured)
    model = fit.model()
    before = delta_e_2000(measured, predict_stacks(paper, read, stacks))
    helps = helps_unseen(before, leave_markers_out(fit, paper, read, stacks, measured))

    others = readings_from_labs(draw_markers(np.random.default_rng(10_000 + seed), 30))
    tried = [*coats_of(30), *((row, 29 - row) for row in range(30))]
    wanted = predict_stacks(paper, others, tried, truth)
    errors = [
        delta_e_2000(wanted, predict_stacks(paper, others, tried, one)) for one in (DEFAULT_MODEL, model)
    ]
    return Trial(model, helps, float(errors[0].mean()), float(errors[1].mean()))


def print_simulations(repeats: int = 8) -> None:
    """Print true constants against fitted ones, and errors on markers that weren't fitted to."""
    print("\n## Known truth: fitted constants, mean (standard deviation) of", repeats, "drawers")
    print("true share, transfer | noise | markers | share | transfer | others: usual, fitted | taken")
    for truth, noise, count in product(TRUTHS, NOISES, COUNTS):
        trials = [simulate(seed, truth, noise, count) for seed in range(repeats)]
        shares = np.array([trial.model.surface_share for trial in trials])
        transfers = np.array([trial.model.transfer for trial in trials])
        extra = "" if truth.internal_reflection == DEFAULT_MODEL.internal_reflection else " *"
        print(
            f"{truth.surface_share:.2f}, {truth.transfer:.2f}{extra} | {noise} | {count} | "
            f"{shares.mean():.2f} ({shares.std():.2f}) | {transfers.mean():.2f} ({transfers.std():.2f}) | "
            f"{np.mean([trial.before for trial in trials]):.2f}, "
            f"{np.mean([trial.after for trial in trials]):.2f} | "
            f"{sum(trial.helps for trial in trials)} of {repeats}",
            flush=True,
        )
    print("* also internal_reflection 0.4 and surface_limit 0.04, which are not fitted")


@dataclass(frozen=True)
class Halves:
    """Errors on halves of a condition's overprints that weren't fitted to, shape (halves, overprints left)."""

    condition: str
    before: Array
    after: Array


def fit_halves(repeats: int = 30, fitted: int = 6) -> list[Halves]:
    """Fit to *fitted* of each condition's eleven overprints, chosen at random, and predict the rest."""
    names = (*OVERPRINTS, *WITH_BLACK)
    stacks: list[Stack] = [tuple(rows_of(name)) for name in names]
    results = []
    for number, (condition, labs) in enumerate(read_conditions().items()):
        paper = reflectance_from_lab(labs["paper"])
        inks: tuple[Reading, ...] = readings_from_labs([labs[ink] for ink in INKS])
        measured = np.array([labs[name] for name in names])
        fit = InkFit.of(paper, inks, stacks, measured)
        usual = delta_e_2000(measured, predict_stacks(paper, inks, stacks))
        random = np.random.default_rng(number)
        before, after = [], []
        for _ in range(repeats):
            kept = np.zeros(len(names), dtype=bool)
            kept[random.permutation(len(names))[:fitted]] = True
            errors = delta_e_2000(measured, predict_stacks(paper, inks, stacks, fit.model(kept)))
            before.append(usual[~kept])
            after.append(errors[~kept])
        results.append(Halves(condition, np.array(before), np.array(after)))
    return results


def print_halves() -> None:
    """Print what a fit on half of the overprints does for the other half."""
    print("\n## Overprints: fitted to 6 of 11, chosen at random 30 times; CIEDE2000 on the other 5")
    print("condition | usual: median, mean, max | fitted: median, mean, max | better of 30 | worst change")
    results = fit_halves()
    for one in results:
        gains = one.before.mean(axis=1) - one.after.mean(axis=1)
        print(
            f"{one.condition} | {_figures(one.before)} | {_figures(one.after)} | "
            f"{(gains > 0).sum()} | {-gains.min():+.2f}"
        )
    before = np.concatenate([one.before for one in results])
    after = np.concatenate([one.after for one in results])
    print(f"all | {_figures(before)} | {_figures(after)}")
    for fitted in (3, 8):
        results = fit_halves(fitted=fitted)
        before = np.concatenate([one.before.ravel() for one in results])
        after = np.concatenate([one.after.ravel() for one in results])
        print(f"fitted to {fitted} of 11 | {_figures(before)} | {_figures(after)}")


INTERNAL = (0.0, 0.2, 0.4, 0.6, 0.8, 0.95)
"""Grid of the constant that turned out not to be worth fitting."""


def choose_constants(
    paper: Array, swatches: tuple[Reading, ...], stacks: list[Stack], measured: Array, groups: list[set[int]]
) -> dict[str, Array]:
    """Errors of stacks that weren't fitted to, for every choice of constants that may move.

    Args:
        paper: reflectance, shape (36,).
        swatches: one coat of each marker.
        stacks: rows of *swatches*.
        measured: Lab, shape (stacks, 3).
        groups: stacks that are left out together, by place.

    Returns: {choice: CIEDE2000 of every stack left out}, on the grid, with the same pull as InkFit.
    """
    fits = [
        InkFit.of(paper, swatches, stacks, measured, replace(DEFAULT_MODEL, internal_reflection=value))
        for value in INTERNAL
    ]
    errors = np.stack([fit.errors for fit in fits])
    axes = {
        "internal_reflection": np.array(INTERNAL),
        "surface_share": fits[0].shares,
        "transfer": fits[0].transfers,
    }
    usual = [int(np.argmin(np.abs(axis - getattr(DEFAULT_MODEL, name)))) for name, axis in axes.items()]
    pull = np.zeros(errors.shape[:3])
    for place, (name, axis) in enumerate(axes.items()):
        away = (axis - getattr(DEFAULT_MODEL, name)) / PULL.get(name, 0.3)
        pull += np.expand_dims(away**2, [other for other in range(3) if other != place])
    found = {"none": np.concatenate([errors[(*usual, sorted(group))] for group in groups])}
    for count in (1, 2, 3):
        for free in combinations(axes, count):
            allowed = np.full(pull.shape, np.inf)
            allowed[
                tuple(slice(None) if name in free else at for name, at in zip(axes, usual, strict=True))
            ] = 0
            left = []
            for group in groups:
                kept = [place for place in range(len(stacks)) if place not in group]
                cost = soft_square(errors[..., kept]).sum(axis=-1) / NOISE**2 + pull + allowed
                best = np.unravel_index(int(np.argmin(cost)), cost.shape)
                left.append(errors[(*best, sorted(group))])
            found[" + ".join(free)] = np.concatenate(left)
    return found


def overprint_choices() -> dict[str, Array]:
    """Choices of constants on the overprints: ten random halves of each condition, the other half left out."""
    names = (*OVERPRINTS, *WITH_BLACK)
    stacks: list[Stack] = [tuple(rows_of(name)) for name in names]
    gathered: dict[str, list[Array]] = {}
    for number, labs in enumerate(read_conditions().values()):
        random = np.random.default_rng(number)
        groups = [set(random.permutation(len(names))[6:].tolist()) for _ in range(10)]
        measured = np.array([labs[name] for name in names])
        inks = readings_from_labs([labs[ink] for ink in INKS])
        found = choose_constants(reflectance_from_lab(labs["paper"]), inks, stacks, measured, groups)
        for choice, errors in found.items():
            gathered.setdefault(choice, []).append(errors)
    return {choice: np.concatenate(errors) for choice, errors in gathered.items()}


def demo_choices() -> dict[str, Array]:
    """Choices of constants on the demo palette's coats, each marker left out in turn.

    Their dyes are invented, and coloured by another law than the ink model's
    (tests/derive/derive_demo_palettes.py).
    """
    palette = read_palette(demo_palette_path())
    markers = [marker for marker in palette.markers if len(marker.readings) > 1]
    stacks: list[Stack] = []
    labs = []
    for row, marker in enumerate(markers):
        for coats, reading in marker.readings[1:]:
            stacks.append((row,) * coats)
            labs.append(reading.lab)
    groups = [{place for place, stack in enumerate(stacks) if row in stack} for row in range(len(markers))]
    paper = reflectance_from_lab(palette.paper(markers[0].on).lab)
    swatches = tuple(marker.readings[0][1] for marker in markers)
    return choose_constants(paper, swatches, stacks, np.array(labs), groups)


def print_choices() -> None:
    """Print what each choice of fitted constants is worth on stacks that weren't fitted to."""
    print("\n## Which constants to fit: CIEDE2000 left out, median, mean, max")
    print("fitted | overprints, halves | demo coats, each marker left out")
    overprints, coats = overprint_choices(), demo_choices()
    for choice, errors in overprints.items():
        print(f"{choice} | {_figures(errors)} | {_figures(coats[choice])}")


def _figures(errors: Array) -> str:
    return f"{np.median(errors):.2f}, {errors.mean():.2f}, {errors.max():.2f}"


def main() -> None:
    """Print every table."""
    print_choices()
    print_halves()
    print_simulations()


if __name__ == "__main__":
    main()
