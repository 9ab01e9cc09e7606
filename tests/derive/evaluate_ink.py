"""Measure the ink model: on published overprints, over coats, under other lights, and its speed.

Run ``python tests/derive/evaluate_ink.py`` from the project's root, and compare_ink_laws.py beside it for the
laws that were tried and left; every table about ink in README.md beside it and the README comes from the two. Each
takes about half a minute.

Truth: tests/gold/ink_overprints.csv (overprints of cyan, magenta and yellow on five printing conditions) and
the reflectance sets that colour-science ships (ColorChecker, artist's paints, 190 camera test patches and the
99 samples of CIE 224:2017).
"""

import csv
import itertools
import sys
import time
import warnings
from collections.abc import Sequence
from functools import cache
from pathlib import Path

import numpy as np
import numpy.typing as npt

from blendkit.colour import (
    WHITE_D50,
    delta_e_2000,
    is_in_srgb,
    srgb1_to_lab,
    xyz1_to_lab,
)
from blendkit.ink import (
    DEFAULT_MODEL,
    MODEL_BOUNDS,
    InkModel,
    predict_blend_labs,
    predict_coats,
    predict_stack,
    swatch_from_lab,
)
from blendkit.spectrum import (
    LIGHTS,
    WAVELENGTHS_NM,
    reflectance_from_lab,
    reflectance_to_lab,
    resample_reflectance,
)

Array = npt.NDArray[np.float64]
ROOT = Path(__file__).parents[2]
GOLD = ROOT / "tests" / "gold" / "ink_overprints.csv"
INKS = ("cyan", "magenta", "yellow", "black")
OVERPRINTS = ("cyan+magenta", "cyan+yellow", "magenta+yellow", "cyan+magenta+yellow")
WITH_BLACK = (
    "cyan+black",
    "magenta+black",
    "yellow+black",
    "cyan+magenta+black",
    "cyan+yellow+black",
    "magenta+yellow+black",
    "cyan+magenta+yellow+black",
)


@cache
def read_conditions() -> dict[str, dict[str, Array]]:
    """Read the gold overprints: {condition: {layers: Lab}}."""
    conditions: dict[str, dict[str, Array]] = {}
    with GOLD.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            lab = np.array([float(row[axis]) for axis in ("L", "a", "b")])
            conditions.setdefault(row["set"], {})[row["layers"]] = lab
    return conditions


def truth(overprints: Sequence[str] = OVERPRINTS) -> Array:
    """Give the measured Lab, shape (conditions, overprints, 3)."""
    return np.array([[lab[name] for name in overprints] for lab in read_conditions().values()])


def papers() -> Array:
    """Give the papers' reflectance, shape (conditions, 36)."""
    return reflectance_from_lab(np.array([lab["paper"] for lab in read_conditions().values()]))


def single_inks() -> Array:
    """Give the single inks' Lab, shape (conditions, 4, 3)."""
    return np.array([[lab[ink] for ink in INKS] for lab in read_conditions().values()])


def rows_of(overprint: str) -> list[int]:
    """Rows of INKS in the order in which the overprint names them."""
    return [INKS.index(ink) for ink in overprint.split("+")]


def measure_model(model: InkModel = DEFAULT_MODEL, overprints: Sequence[str] = OVERPRINTS) -> Array:
    """CIEDE2000 of every predicted overprint, shape (conditions, overprints)."""
    paper, swatches = papers(), swatch_from_lab(single_inks(), model=model)
    predicted = [predict_stack(paper, swatches[:, rows_of(name)], model=model) for name in overprints]
    return delta_e_2000(truth(overprints), reflectance_to_lab(np.stack(predicted, axis=1)))


def yardstick(errors: Array) -> float:
    """What the constants are fitted to: mean of the sixth power, its root, so that large errors count most.

    Overprints with black, the last seven of eleven, count half.
    """
    parts = (errors[:, : len(OVERPRINTS)], errors[:, len(OVERPRINTS) :])
    sizes = [float((part**6).mean() ** (1 / 6)) if part.size else 0.0 for part in parts]
    return sizes[0] + 0.5 * sizes[1]


def cross_validate(tried: Sequence[Array]) -> tuple[int, Array, list[int]]:
    """Choose constants on all conditions, and on all but one for each condition left out.

    Args:
        tried: errors of every set of constants that was tried, each (conditions, overprints).

    Returns: the place of the best on all; errors of each condition under the constants chosen without it; the
        places of those.
    """
    best = min(range(len(tried)), key=lambda place: yardstick(tried[place]))
    errors, places = [], []
    for left_out in range(tried[0].shape[0]):
        kept = [row for row in range(tried[0].shape[0]) if row != left_out]
        place = min(range(len(tried)), key=lambda one: yardstick(tried[one][kept]))
        errors.append(tried[place][left_out])
        places.append(place)
    return best, np.array(errors), places


GRID = {
    "let_through": (0.008, 0.009, 0.010, 0.011, 0.012, 0.013, 0.014),
    "transfer": (0.7, 0.75, 0.76, 0.77, 0.78, 0.79, 0.8, 0.85),
}
"""Values of each fitted constant that are tried, all with all. The others are not fitted: internal reflection is
theory's, no printed solid here reaches the surface limit, and the surface's share is all of it."""


def fit_model(grid: dict[str, tuple[float, ...]]) -> tuple[InkModel, Array, Array, list[InkModel]]:
    """Fit the model's constants: best, its errors, errors when left out, the constants of each left out."""
    models = [
        InkModel(**dict(zip(grid, values, strict=True))) for values in itertools.product(*grid.values())
    ]
    tried = [measure_model(model, (*OVERPRINTS, *WITH_BLACK)) for model in models]
    best, errors, places = cross_validate(tried)
    return models[best], tried[best], errors, [models[place] for place in places]


def summary(errors: Array) -> str:
    """Give median, maximum and mean."""
    return f"{np.median(errors):5.2f} {errors.max():6.2f} {errors.mean():5.2f}"


def print_model() -> None:
    """Print the model's errors, overprint by overprint, and with black."""
    errors = measure_model()
    print("\n## The model as shipped:", DEFAULT_MODEL)
    print("condition  " + " ".join(f"{name:>20s}" for name in OVERPRINTS))
    for condition, row in zip(read_conditions(), errors, strict=True):
        print(f"{condition:10s} " + " ".join(f"{value:20.2f}" for value in row))
    print("all", summary(errors))
    black = measure_model(DEFAULT_MODEL, WITH_BLACK)
    print("with black:", summary(black))
    print("\n## What each part is worth: overprints, then overprints with black")
    for title, model in (
        ("as shipped", DEFAULT_MODEL),
        ("no transfer: every coat counts in full", InkModel(transfer=1.0)),
        ("no surface", InkModel(surface_share=0.0)),
        ("no internal reflection", InkModel(internal_reflection=0.0)),
        ("surface limit 0.04, as a smooth film", InkModel(surface_limit=0.04)),
        ("surface limit 0.1", InkModel(surface_limit=0.1)),
    ):
        print(f"{title:40s} {summary(measure_model(model))} | {summary(measure_model(model, WITH_BLACK))}")


def print_fit() -> None:
    """Print the fit and its cross-validation."""
    best, errors, left_out, models = fit_model(GRID)
    print("\n## Fit: grid", GRID)
    count = len(OVERPRINTS)
    print("fitted on all five:", summary(errors[:, :count]), "| with black", summary(errors[:, count:]), best)
    for condition, model, row in zip(read_conditions(), models, left_out, strict=True):
        print(f"without {condition:10s} {summary(row[:count])} | with black {summary(row[count:])}  {model}")
    print("each left out:", summary(left_out[:, :count]), "| with black", summary(left_out[:, count:]))
    print("bounds", dict(MODEL_BOUNDS))


def measure_coats(labs: Array, paper_lab: Sequence[float] = (95.0, 0.0, -2.0)) -> Array:
    """Lightness after 1, 2, 3 and 4 coats, shape (n, 4)."""
    paper = reflectance_from_lab(np.array(paper_lab))
    swatches = swatch_from_lab(labs)
    after = [reflectance_to_lab(predict_coats(paper, swatches, coats))[:, 0] for coats in range(1, 5)]
    return np.stack(after, axis=-1)


def _print_drops(title: str, lightness: Array) -> None:
    print(f"\n## Drop in L* with the second, third and fourth coat: {title}")
    for low, high in ((0, 40), (40, 55), (55, 70), (70, 80), (80, 88), (88, 97)):
        inside = (lightness[:, 0] >= low) & (lightness[:, 0] < high)
        if inside.any():
            drops = -np.diff(lightness[inside], axis=1)
            quantiles = np.percentile(drops, (5, 50, 95), axis=0)
            cells = "   ".join(f"{q[1]:4.1f} ({q[0]:.1f} to {q[2]:.1f})" for q in quantiles.T)
            print(f"one coat at L* {low:2d} to {high:2d}: {inside.sum():4d} colours   {cells}")


def print_coats() -> None:
    """Print how much later coats darken: over the sRGB cube, and over the demo palettes."""
    random = np.random.default_rng(2)
    labs = srgb1_to_lab(random.uniform(size=(3000, 3)))
    labs = labs[is_in_srgb(labs) & (labs[:, 0] < 94)]
    _print_drops("sRGB colours on a paper of L* 95", measure_coats(labs))
    for path in sorted((ROOT / "palettes").glob("*.csv")):
        from blendkit.palette import read_palette

        palette = read_palette(path)
        _print_drops(f"markers of {path.name}", measure_coats(np.array([m.lab for m in palette.markers])))


def read_measured_sets() -> dict[str, Array]:
    """Read the reflectance sets that colour-science ships, carried to the 36 bands."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
        from colour.quality import cfi2017
    sets = {}
    for name in ("BabelColor Average", "ColorChecker N Ohta", "PMC"):
        spectra = colour.SDS_COLOURCHECKERS[name].values()
        sets[name] = np.array([resample_reflectance(sd.wavelengths, sd.values) for sd in spectra])
    patches = Path(colour.__file__).parent / "characterisation/datasets/rawtoaces/190_Patches.csv"
    table = np.array(list(csv.reader(patches.read_text().splitlines()[1:])), dtype=float)
    sets["190 patches"] = resample_reflectance(table[:, 0], table[:, 1:].T)
    samples = cfi2017.load_TCS_CIE2017(colour.SpectralShape(380, 780, 5))
    sets["CIE 224 samples"] = resample_reflectance(samples.wavelengths, samples.values.T)
    return {name: np.clip(values, 0, 1) for name, values in sets.items()}


def print_lights() -> None:
    """Print what a recovered reflectance gets wrong under other lights, and D65/10 brought to D50/2."""
    print("\n## Recovered from Lab: CIEDE2000, median / 95th percentile / max")
    for curve, recover in (("plain", reflectance_from_lab), ("of ink", swatch_from_lab)):
        for name, measured in read_measured_sets().items():
            cells = []
            interior = reflectance_to_lab(measured)
            recovered = recover(interior)
            for light in list(LIGHTS)[1:]:
                errors = delta_e_2000(
                    reflectance_to_lab(measured, light), reflectance_to_lab(recovered, light)
                )
                cells.append(
                    f"{light} {np.median(errors):.2f} / {np.percentile(errors, 95):.2f} / {errors.max():.2f}"
                )
            outdoor = reflectance_to_lab(measured, "D65", 10)
            brought = reflectance_to_lab(recover(outdoor, "D65", 10))
            errors = delta_e_2000(interior, brought)
            cells.append(
                f"D65/10 to D50/2 {np.median(errors):.2f} / {np.percentile(errors, 95):.2f} / {errors.max():.2f}"
            )
            untouched = delta_e_2000(interior, outdoor)
            cells.append(f"(untouched {np.median(untouched):.2f} / {untouched.max():.2f})")
            print(f"{curve:7s} {name:20s} " + "   ".join(cells))


def print_bands() -> None:
    """Print how far sums over 36 bands are from sums over every nanometre."""
    sys.path.insert(0, str(Path(__file__).parent))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import derive_cie_weights as derive
    fine_nm = np.arange(360, 781)
    print("\n## 36 bands against 1 nm sums: CIEDE2000 on 78 measured reflectances, median / max")
    spectra = []
    for name in ("BabelColor Average", "ColorChecker N Ohta", "PMC"):
        for patch in derive.colour.SDS_COLOURCHECKERS[name].values():
            shape = derive.colour.SpectralShape(patch.shape.start, patch.shape.end, 1)
            spectra.append(np.interp(fine_nm, shape.wavelengths, patch.copy().interpolate(shape).values))
    fine = np.array(spectra)
    bands = fine[:, np.isin(fine_nm, WAVELENGTHS_NM)]
    for light, observer in itertools.product(LIGHTS, (2, 10)):
        weights = derive.fine_weights(light, observer, fine_nm)
        exact = xyz1_to_lab(fine @ weights / weights.sum(axis=0) * WHITE_D50)
        errors = delta_e_2000(exact, reflectance_to_lab(bands, light, observer))
        at_bands = weights[np.isin(fine_nm, WAVELENGTHS_NM)]
        picked = xyz1_to_lab(bands @ at_bands / at_bands.sum(axis=0) * WHITE_D50)
        simple = delta_e_2000(exact, picked)
        print(
            f"{light:7s} {observer:2d}: {np.median(errors):.3f} / {errors.max():.3f}"
            f"   (table read every 10 nm instead: {np.median(simple):.3f} / {simple.max():.3f})"
        )


def print_speed() -> None:
    """Print what recovery and a whole drawer's blends cost."""
    labs = srgb1_to_lab(np.random.default_rng(1).uniform(size=(400, 3)))
    print("\n## Time, the quickest of three")
    for title, work in (
        ("400 colours, plain curve", lambda: reflectance_from_lab(labs)),
        ("400 colours, curve of ink", lambda: swatch_from_lab(labs)),
        (
            "160,000 ordered pairs of 400 markers, blends at 5 ratios, to Lab",
            lambda s=swatch_from_lab(labs): predict_blend_labs(s[:, None], s[None], (0, 0.25, 0.5, 0.75, 1)),
        ),
    ):
        times = []
        for _ in range(3):
            start = time.perf_counter()
            work()  # type: ignore[operator]
            times.append(time.perf_counter() - start)
        print(f"{title}: {min(times) * 1000:.0f} ms")


def main() -> None:
    """Print every table."""
    print_model()
    print_fit()
    print_coats()
    print_lights()
    print_bands()
    print_speed()


if __name__ == "__main__":
    main()
