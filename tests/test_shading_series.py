"""The shading series and the score built on it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendkit.advice.check import DEEP_ENOUGH, PALE_ENOUGH, find_lacking
from blendkit.advice.shading_series import FIT, LEANS, Taste, bound_shading, predict_series, score_shading
from blendkit.colour import hue_step, lab_to_xyz1
from blendkit.errors import ColourError
from blendkit.ink import DEFAULT_MODEL
from blendkit.inked import Looks, ink_drawer
from blendkit.palette import demo_palette_path, read_palette
from blendkit.palette.palette import palette_from_sheet
from blendkit.palette.store import empty_palette
from blendkit.palette.table import decode_sheet
from blendkit.spectrum import reflectance_from_lab, reflectance_to_lab

LAB = st.tuples(st.floats(20, 90), st.floats(-50, 50), st.floats(-50, 50)).map(np.array)


@given(LAB, st.floats(5, 95))
def test_a_shaded_surface_keeps_its_chromaticity(lab, lightness):
    """Tristimulus values are linear in the light (CIE 015:2018), so x and y stay."""
    there, back = lab_to_xyz1(lab), lab_to_xyz1(predict_series(lab, lightness))
    np.testing.assert_allclose(there / there.sum(), back / back.sum(), atol=1e-9)
    assert predict_series(lab, lightness)[0] == pytest.approx(lightness, abs=1e-6)


@pytest.mark.gold
@given(LAB, st.floats(0.2, 0.9))
def test_the_series_is_the_colour_of_a_dimmed_reflectance(lab, share):
    """A surface under less of the same light reflects less of every band alike: integrate and compare."""
    reflectance = reflectance_from_lab(lab)
    dimmed = reflectance_to_lab(share * reflectance)
    np.testing.assert_allclose(predict_series(reflectance_to_lab(reflectance), dimmed[0]), dimmed, atol=2e-2)


def test_lightness_and_chroma_fall_together_toward_black():
    base = np.array([70.0, 30.0, 20.0])
    series = predict_series(base, np.arange(65.0, 10.0, -5.0))
    assert np.all(np.diff(np.hypot(series[:, 1], series[:, 2])) < 0)


def test_a_lean_turns_the_hue_its_own_way():
    base = np.array([70.0, 30.0, 5.0])
    plain = predict_series(base, 50.0)
    assert hue_step(plain, predict_series(base, 50.0, "warm")) > 0
    assert hue_step(plain, predict_series(base, 50.0, "cool")) < 0


WHITE = ink_drawer(empty_palette(), markers_needed=False)
"""Nothing but the plain white paper that stands in when a palette names none."""


def looks(labs):
    return Looks.of(reflectance_from_lab(labs), DEFAULT_MODEL)


def score(bases, others, **more):
    """Score others over bases on plain white paper."""
    bases, others = looks(np.asarray(bases, dtype=float)), looks(np.asarray(others, dtype=float))
    paler = others if more.get("lighter") else bases
    stronger = WHITE.more_ink_from(paler.reflectance)
    return score_shading(DEFAULT_MODEL, bases, others, stronger, **more)


def test_a_natural_shadow_scores_highest_and_falls_off_on_every_side():
    base = np.array([70.0, 25.0, 15.0])
    line = WHITE.more_ink_from(looks(base).reflectance)
    own = line[int(np.argmin(np.abs(line[:, 0] - 53.0)))]
    offsets = np.array([[0, 0, 0], [0, 14, -20], [0, -24, 14], [14, 0, 0], [-40, 0, 0], [0, -30, -20]])
    scores = score(base, own + offsets).score
    assert scores[0] > 90.0
    assert np.all(scores[1:] < scores[0] - 5.0)


def test_between_the_lines_a_shadow_fits_and_the_default_leans_to_more_ink():
    """A colourist's habit: common practice, no source."""
    base = np.array([60.0, -25.0, -10.0])
    line = WHITE.more_ink_from(looks(base).reflectance)
    own = line[int(np.argmin(np.abs(line[:, 0] - 45.0)))]
    dim = predict_series(base, own[0])
    ways = [own, (own + dim) / 2.0, dim]
    usual, muted = score(base, ways), score(base, ways, taste=Taste(lean="muted"))
    vivid = score(base, ways, taste=Taste(lean="vivid"))
    assert np.all(usual.score > FIT)
    assert np.all(np.diff(usual.score) < 0)
    assert np.all(np.diff(muted.score) > 0)
    assert np.all(np.diff(vivid.score) < np.diff(usual.score))
    assert np.all(np.diff(usual.muted) > 0)
    np.testing.assert_allclose(usual.parts["hue"], 1.0, atol=0.02)


def test_a_light_is_scored_as_what_the_base_would_shade():
    light, dark = np.array([75.0, 20.0, 10.0]), predict_series([75.0, 20.0, 10.0], 60.0)
    down, up = score(light, dark), score(dark, light, lighter=True)
    assert up.step == pytest.approx(down.step)
    assert up.hue == pytest.approx(down.hue)
    assert float(up.score) == pytest.approx(float(down.score), abs=3.0)


@pytest.mark.parametrize("window", [(0, 20), (20, 10), (10, 200)])
def test_a_window_that_is_none_is_refused(window):
    with pytest.raises(ColourError, match="window"):
        Taste(window)


def test_a_lean_that_is_none_is_refused_with_those_that_are():
    with pytest.raises(ColourError, match="none, cool, warm, muted, vivid"):
        Taste(lean="sideways")


def _every_pair(inked, taste):
    """Score every pair without any bound."""
    count = len(inked.markers)
    scores = np.zeros((count, count))
    for row in range(count):
        line = inked.more_ink[row]
        scores[row] = score_shading(inked.model, inked.looks[row], inked.looks, line, taste=taste).score
    np.fill_diagonal(scores, 0.0)
    return scores


def _drawer(kind):
    if kind in ("first-box", "hedgehog-lane"):
        return ink_drawer(read_palette(demo_palette_path(kind))).at_hand
    rng = np.random.default_rng({"spread": 5, "two clusters": 6, "near greys": 7}[kind])
    labs = {
        "spread": rng.uniform((8, -70, -70), (94, 70, 70), (60, 3)),
        "two clusters": np.concatenate(
            [rng.normal((62, 45, 20), 2, (25, 3)), rng.normal((45, -40, 15), 2, (25, 3))]
        ),
        "near greys": rng.normal((0, 0, 0), (1, 3, 3), (50, 3)) + np.linspace((20, 0, 0), (92, 0, 0), 50),
    }[kind]
    rows = [f"ink {place},marker,{lab[0]},{lab[1]},{lab[2]},card" for place, lab in enumerate(labs)]
    table = "\n".join(["name,kind,L,a,b,on", "card,paper,95,0,-2,", *rows])
    return ink_drawer(palette_from_sheet(decode_sheet(table.encode(), "drawer.csv")))


@pytest.mark.parametrize("kind", ["first-box", "hedgehog-lane", "spread", "two clusters", "near greys"])
@pytest.mark.parametrize("taste", [Taste(), Taste((3.0, 60.0), "cool"), Taste(lean="muted")])
def test_what_lacks_a_companion_and_its_nearest_miss_is_what_scoring_every_pair_finds(kind, taste):
    inked = _drawer(kind)
    scores = _every_pair(inked, taste)
    assert np.all(bound_shading(inked.lab, inked.more_ink, inked.lab, taste) >= scores)
    paper = reflectance_to_lab(inked.paper_reflectance)[0]
    needed = inked.lab[:, 0] >= DEEP_ENOUGH, inked.lab[:, 0] <= paper - PALE_ENOUGH
    for threshold in (5.0, FIT, 95.0):
        for found, table, wanted in zip(
            find_lacking(inked, taste, threshold), (scores, scores.T), needed, strict=True
        ):
            assert list(found) == np.flatnonzero((table.max(axis=1) < threshold) & wanted).tolist()
            for row, (best, score) in found.items():
                assert score == pytest.approx(table[row].max(), abs=1e-9)
                assert score == 0.0 or table[row, best] == pytest.approx(score, abs=1e-9)


@pytest.mark.parametrize("lean", LEANS)
@pytest.mark.parametrize("window", [(1.0, 100.0), (10.0, 25.0)])
def test_no_pair_scores_above_its_bound(lean, window):
    inked, taste = _drawer("spread"), Taste(window, lean)
    assert np.all(bound_shading(inked.lab, inked.more_ink, inked.lab, taste) >= _every_pair(inked, taste))
