"""Tests of blendkit.spectrum."""

import importlib.util
import warnings
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendkit import spectrum
from blendkit.colour import delta_e_2000, lab_to_xyz1, srgb1_to_lab
from blendkit.errors import ColourError
from blendkit.spectrum import (
    LIGHTS,
    OBSERVERS,
    WAVELENGTHS_NM,
    lab_to_interior,
    reflectance_from_lab,
    reflectance_to_lab,
    reflectance_to_xyz1,
    resample_reflectance,
    white_xyz1,
)

PAIRS = [(light, observer) for light in LIGHTS for observer in OBSERVERS]


def load_script(name: str) -> ModuleType:
    path = Path(__file__).parent / "derive" / f"{name}.py"
    spec = importlib.util.spec_from_file_location(name, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # colour-science warns of plotting libraries that it does without
        spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def derive() -> ModuleType:
    return load_script("derive_cie_weights")


def srgb_cube(steps: int) -> np.ndarray:
    grid = np.linspace(0, 1, steps)
    return srgb1_to_lab(np.stack(np.meshgrid(grid, grid, grid, indexing="ij"), -1).reshape(-1, 3))


@pytest.mark.gold
def test_packaged_weights_are_the_derived_ones(derive: ModuleType) -> None:
    """The packaged table is what the script derives from the CIE tables of colour-science."""
    names, table = derive.derive_table()
    lines = [line for line in derive.TABLE.read_text("utf-8").splitlines() if not line.startswith("#")]
    assert lines[0].split(",") == names
    packaged = np.array([[float(cell) for cell in line.split(",")] for line in lines[1:]])
    np.testing.assert_allclose(packaged, table, rtol=1e-7, atol=1e-12)


@pytest.mark.gold
@pytest.mark.parametrize(
    ("light", "observer", "x", "y"),
    [
        # Chromaticities of the CIE illuminants as colour-science lists them (CCS_ILLUMINANTS).
        ("D50", 2, 0.34567, 0.35851),
        ("D65", 2, 0.31272, 0.32903),
        ("A", 2, 0.44758, 0.40745),
        ("F11", 2, 0.38052, 0.37713),
        ("LED-B3", 2, 0.3756, 0.3723),
        ("D50", 10, 0.34773, 0.35952),
        ("D65", 10, 0.31382, 0.33100),
        ("A", 10, 0.45117, 0.40594),
        ("F11", 10, 0.38541, 0.37123),
    ],
)
def test_whites_are_the_published_ones(light: str, observer: int, x: float, y: float) -> None:
    """Each white has the published chromaticity to 0.0001; to 0.0003 for the lines of F11."""
    white = white_xyz1(light, observer)
    assert white[1] == pytest.approx(1.0, abs=1e-7)
    assert white[:2] / white.sum() == pytest.approx([x, y], abs=3e-4 if light == "F11" else 1e-4)


@pytest.mark.gold
def test_bands_come_near_one_nanometre_sums(derive: ModuleType) -> None:
    """On measured ColorChecker and artist's paint spectra the 36 bands are within 0.14 of 1 nm sums."""
    fine_nm = np.arange(360, 781)
    worst = 0.0
    for name in ("BabelColor Average", "ColorChecker N Ohta", "PMC"):
        for patch in derive.colour.SDS_COLOURCHECKERS[name].values():
            fine = patch.copy()
            shape = derive.colour.SpectralShape(fine.shape.start, fine.shape.end, 1)
            fine = np.interp(fine_nm, shape.wavelengths, fine.interpolate(shape).values)
            bands = np.interp(WAVELENGTHS_NM, fine_nm, fine)
            for light, observer in PAIRS:
                weights = derive.fine_weights(light, observer, fine_nm)
                white = white_xyz1(light, observer)
                lab = [
                    spectrum.xyz1_to_lab(fine @ weights / weights.sum(0) * spectrum.WHITE_D50),
                    spectrum.xyz1_to_lab(
                        reflectance_to_xyz1(bands, light, observer) / white * spectrum.WHITE_D50
                    ),
                ]
                worst = max(worst, float(delta_e_2000(lab[0], lab[1])))
    assert worst < 0.14


@pytest.mark.parametrize(("light", "observer"), PAIRS)
def test_perfect_white_is_white_under_every_light(light: str, observer: int) -> None:
    """Reflectance 1 in every band is Lab 100, 0, 0 and reflectance 0 is 0, 0, 0."""
    np.testing.assert_allclose(
        reflectance_to_lab(np.stack([np.ones(36), np.zeros(36)]), light, observer),
        [[100, 0, 0], [0, 0, 0]],
        atol=1e-9,
    )


@pytest.mark.parametrize(("light", "observer"), PAIRS)
def test_no_weight_is_negative(light: str, observer: int) -> None:
    """Less reflectance in any band never gives more X, Y or Z."""
    assert (reflectance_to_xyz1(np.eye(36), light, observer) >= 0).all()


def test_recovered_reflectance_gives_the_colour_again() -> None:
    """Over the sRGB cube the recovered reflectance lies in (0, 1) and gives Lab again to 1e-6."""
    lab = srgb_cube(13)
    reflectance = reflectance_from_lab(lab)
    assert reflectance.min() > 0
    assert reflectance.max() < 1
    miss = np.abs(reflectance_to_lab(reflectance) - lab).max(-1)
    assert miss[1:-1].max() < 1e-6
    assert miss[[0, -1]].max() <= 0.0101  # perfect black and white are out of reach


@settings(max_examples=60, deadline=None)
@given(
    st.floats(0, 100),
    st.floats(0, 160),
    st.floats(0, 360),
    st.sampled_from(PAIRS),
)
def test_any_colour_gets_a_reflectance(
    lightness: float, chroma: float, hue: float, pair: tuple[str, int]
) -> None:
    """Any Lab gets a reflectance in (0, 1), of its lightness and hue, never of more chroma than asked."""
    a, b = chroma * np.cos(np.radians(hue)), chroma * np.sin(np.radians(hue))
    reflectance = reflectance_from_lab([lightness, a, b], *pair)
    assert np.isfinite(reflectance).all()
    assert reflectance.min() > 0
    assert reflectance.max() < 1
    back = reflectance_to_lab(reflectance, *pair)
    assert abs(back[0] - np.clip(lightness, 0.01, 99.99)) < 1e-3
    assert back[1] * a + back[2] * b >= -1e-3
    assert abs(back[1] * b - back[2] * a) < 1e-3 * max(chroma, 1)
    assert np.hypot(back[1], back[2]) <= chroma + 1e-3


def test_what_is_given_up_is_out_of_reach() -> None:
    """Linear programming agrees that a colour drawn in by more than 0.02 has no reflectance at all."""
    from scipy.optimize import linprog

    random = np.random.default_rng(7)
    chroma, hue = random.uniform(0, 150, 120), random.uniform(0, 2 * np.pi, 120)
    lab = np.stack([random.uniform(2, 98, 120), chroma * np.cos(hue), chroma * np.sin(hue)], -1)
    miss = np.abs(reflectance_to_lab(reflectance_from_lab(lab)) - lab).max(-1)
    lost = lab[miss > 0.02]
    assert 20 < len(lost) < 100
    weights = reflectance_to_xyz1(np.eye(36))
    for target in lab_to_xyz1(lost) / spectrum.WHITE_D50 * white_xyz1():
        answer = linprog(np.zeros(36), A_eq=weights.T, b_eq=target, bounds=(0, 1))
        assert answer.status == 2  # infeasible


def test_recovered_reflectance_is_the_smoothest() -> None:
    """An independent optimiser (SciPy, SLSQP) finds the same least slope of the hyperbolic tangent."""
    from scipy.optimize import minimize

    weights = reflectance_to_xyz1(np.eye(36))
    for lab in ([60.0, 30.0, -20.0], [35.0, -30.0, 15.0], [80.0, 5.0, 60.0]):
        target = lab_to_xyz1(lab) / spectrum.WHITE_D50 * white_xyz1()
        found = minimize(
            lambda z: (np.diff(z) ** 2).sum(),
            np.zeros(36),
            method="SLSQP",
            constraints={"type": "eq", "fun": lambda z, t=target: weights.T @ ((np.tanh(z) + 1) / 2) - t},
            options={"maxiter": 500, "ftol": 1e-12},
        )
        assert found.success
        np.testing.assert_allclose(reflectance_from_lab(lab), (np.tanh(found.x) + 1) / 2, atol=2e-4)


def test_a_floor_is_kept_and_the_colour_still_exact() -> None:
    """With a floor under its darkest band, the reflectance stays above it and gives the colour again."""
    lab = srgb_cube(7)[1:-1]
    floor = 0.8 * reflectance_from_lab(lab).min(axis=-1)
    reflectance = reflectance_from_lab(lab, floor=floor)
    assert (reflectance > floor[:, None]).all()
    assert np.abs(reflectance_to_lab(reflectance) - lab).max() < 1e-6
    np.testing.assert_array_equal(reflectance_from_lab(lab, floor=0.0), reflectance_from_lab(lab))
    with pytest.raises(ColourError, match="floor: found 1"):
        reflectance_from_lab(lab, floor=1.0)


def test_what_is_out_of_reach_keeps_the_last_chroma_that_can_be_reached() -> None:
    """Lightness and hue stay; a ten-thousandth of the asked chroma more can't be recovered any more."""
    lab = np.random.default_rng(8).uniform([20, -110, -110], [90, 110, 110], size=(400, 3))
    given = reflectance_to_lab(reflectance_from_lab(lab))
    lost = np.abs(given - lab).max(axis=-1) > 1e-3
    assert lost.sum() > 50
    share = np.hypot(*given[lost, 1:].T) / np.hypot(*lab[lost, 1:].T)
    kept = lab[lost] * np.stack([np.ones_like(share), share, share], axis=-1)
    assert np.abs(given[lost] - kept).max() < 1e-6
    more = kept + lab[lost] * [0.0, 1.0, 1.0] * 1.2e-4
    assert (np.abs(reflectance_to_lab(reflectance_from_lab(more)) - more).max(axis=-1) > 1e-6).all()


def test_grey_is_flat() -> None:
    """A neutral colour gets the same reflectance in every band under every light."""
    for light, observer in PAIRS:
        flat = reflectance_from_lab([[30, 0, 0], [75, 0, 0]], light, observer)
        assert np.ptp(flat, axis=-1).max() < 1e-6


def test_colours_share_their_newton_steps(monkeypatch: pytest.MonkeyPatch) -> None:
    """400 colours are solved in the steps of the hardest, each for as long as it needs; alike ones once."""
    lab = srgb1_to_lab(np.random.default_rng(1).uniform(size=(400, 3)))
    solved: list[int] = []
    eliminate = spectrum._eliminate

    def counting(diagonal: np.ndarray, right: np.ndarray) -> np.ndarray:
        solved.append(diagonal.shape[1])
        return eliminate(diagonal, right)

    monkeypatch.setattr(spectrum, "_eliminate", counting)
    reflectance_from_lab(lab)
    assert len(solved) <= 8
    assert sum(solved) <= 6.5 * 400
    solved.clear()
    reflectance_from_lab(np.repeat(lab[:4], 100, axis=0))
    assert max(solved) == 4


@pytest.mark.gold
def test_measured_reflectances_keep_their_lab(derive: ModuleType) -> None:
    """D65/10 Lab of measured ColorChecker patches comes to D50/2 within a median of 0.6, at most 3.5."""
    labs = {}
    for light, observer in (("D65", 10), ("D50", 2)):
        values = [
            reflectance_to_lab(resample_reflectance(sd.wavelengths, sd.values), light, observer)
            for name in ("BabelColor Average", "ColorChecker N Ohta")
            for sd in derive.colour.SDS_COLOURCHECKERS[name].values()
        ]
        labs[light] = np.array(values)
    error = delta_e_2000(labs["D50"], lab_to_interior(labs["D65"], "D65", 10))
    untouched = delta_e_2000(labs["D50"], labs["D65"])
    assert np.median(error) < 0.6
    assert error.max() < 3.5
    assert np.median(error) < np.median(untouched) / 3


def test_interior_lab_comes_back_unchanged() -> None:
    """Lab that is D50, 2 degree already is not touched, even out of reach."""
    lab = np.array([[50.0, 150.0, 20.0]])
    np.testing.assert_array_equal(lab_to_interior(lab, "D50", 2), lab)


def test_resampling_is_exact_for_cubics() -> None:
    """Wavelengths measured every 20 nm, or unevenly, carry any third-degree curve without error."""

    def curve(nm: np.ndarray) -> np.ndarray:
        x = (nm - 550) / 200
        return 0.5 + 0.2 * x - 0.1 * x**2 + 0.15 * x**3

    even = np.arange(380, 741, 20.0)
    uneven = np.concatenate([np.arange(375, 560, 5.0), np.arange(560, 750, 12.0)])
    for nm in (even, uneven):
        np.testing.assert_allclose(resample_reflectance(nm, curve(nm)), curve(WAVELENGTHS_NM), atol=1e-12)


def test_resampling_holds_the_ends() -> None:
    """A 400 to 700 nm instrument's first and last value stand for the bands that it lacks."""
    nm = np.arange(400, 701, 10)
    values = np.linspace(0.2, 0.8, len(nm))
    result = resample_reflectance(nm, np.stack([values, values / 2]))
    assert result.shape == (2, 36)
    np.testing.assert_allclose(result[0], np.concatenate([[0.2, 0.2], values, [0.8] * 3]), atol=1e-12)


@pytest.mark.parametrize(
    ("nm", "values", "part"),
    [
        ([400, 500, 450, 700], [0.1] * 4, "above the last"),
        ([400, 550, 700], [0.1] * 3, "four or more"),
        (np.arange(450, 701, 10), np.full(26, 0.5), "450 to 700"),
        (np.arange(400, 701, 50), np.full(7, 0.5), "largest gap 50"),
        (np.arange(400, 701, 10), np.full(31, 55.0), "divide percent by 100"),
        (np.arange(400, 701, 10), np.full(31, np.nan), "nan"),
        (np.arange(400, 701, 10), np.full(30, 0.5), "last axis of 31"),
    ],
)
def test_unreadable_reflectance_is_refused(nm: list[float], values: list[float], part: str) -> None:
    """A reflectance that can't be carried to the bands is refused with what is wrong in it."""
    with pytest.raises(ColourError, match=part):
        resample_reflectance(nm, values)


def test_wrong_arguments_are_named() -> None:
    """An unknown light, a value that is not finite and a wrong shape are each named."""
    with pytest.raises(ColourError, match="'D75'"):
        reflectance_from_lab([50, 0, 0], "D75")
    with pytest.raises(ColourError, match=r"lab\[1, 2\]: found nan"):
        reflectance_from_lab([[50, 0, 0], [50, 0, np.nan]])
    with pytest.raises(ColourError, match="last axis of 36"):
        reflectance_to_lab(np.ones(31))
    with pytest.raises(ColourError, match="2 or 10"):
        white_xyz1("D50", 5)


def test_shapes_are_kept() -> None:
    """Any leading axes come back, also none and empty ones."""
    for shape in ((), (0,), (4,), (2, 3)):
        lab = np.broadcast_to([50.0, 10.0, 5.0], (*shape, 3))
        reflectance = reflectance_from_lab(lab)
        assert reflectance.shape == (*shape, 36)
        assert reflectance_to_lab(reflectance, "A").shape == (*shape, 3)
        assert lab_to_interior(lab, "D65", 10).shape == (*shape, 3)
