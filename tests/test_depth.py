"""Which of two touching parts lies in front."""

import sys
from pathlib import Path

import numpy as np
import pytest

from blendkit.art.depth import Fronts, cast_strengths, find_fronts, flip_fronts
from blendkit.errors import ProjectError

ROOT = Path(__file__).resolve().parents[1]
DPI = 254.0  # 10 pixels a millimetre


def disc(shape, x, y, r):
    yy, xx = np.mgrid[: shape[0], : shape[1]]
    return (xx - x) ** 2 + (yy - y) ** 2 < r * r


@pytest.fixture(scope="module")
def two_discs():
    """Part 1 is a disc cut by part 2, a whole disc in front of it."""
    labels = np.zeros((260, 340), np.int32)
    labels[disc(labels.shape, 120, 130, 90)] = 1
    labels[disc(labels.shape, 210, 130, 80)] = 2
    return labels


def test_a_whole_disc_lies_in_front_of_the_disc_that_it_cuts(two_discs):
    fronts = find_fronts(two_discs, None, DPI)
    assert fronts.pairs.tolist() == [[1, 2]]
    assert fronts.first_in_front[0] < 0.1
    assert fronts.beside[0] < 0.3


def test_the_guess_does_not_depend_on_the_numbers_of_the_parts(two_discs):
    swapped = np.array([0, 2, 1], np.int32)[two_discs]
    one, other = find_fronts(two_discs, None, DPI), find_fronts(swapped, None, DPI)
    assert other.first_in_front[0] == pytest.approx(1 - one.first_in_front[0], abs=1e-9)


def test_a_spot_lies_in_front_of_what_encloses_it():
    labels = np.zeros((200, 200), np.int32)
    labels[disc(labels.shape, 100, 100, 80)] = 2
    labels[disc(labels.shape, 120, 90, 15)] = 1
    assert find_fronts(labels, None, DPI).first_in_front[0] > 0.95


def test_a_group_of_spots_lies_in_front_of_what_encloses_the_group():
    labels = np.zeros((240, 240), np.int32)
    labels[disc(labels.shape, 120, 120, 100)] = 1
    labels[disc(labels.shape, 120, 135, 40)] = 2
    labels[disc(labels.shape, 120, 95, 18)] = 3
    fronts = find_fronts(labels, None, DPI)
    assert fronts.first_in_front[fronts.find(1, 2)] < 0.1
    assert fronts.first_in_front[fronts.find(1, 3)] < 0.1


def test_stripes_of_one_band_are_of_one_surface():
    labels = np.zeros((200, 400), np.int32)
    for k in range(4):
        labels[60:140, 40 + 80 * k : 120 + 80 * k] = k + 1
    fronts = find_fronts(labels, None, DPI)
    inner = fronts.find(2, 3)
    assert fronts.beside[inner] > 0.5
    strength = cast_strengths(fronts, 4)
    assert max(strength[2, 3], strength[3, 2]) < 0.02


def test_a_flipped_pair_is_certain_and_the_others_are_untouched(two_discs):
    labels = two_discs.copy()
    labels[disc(labels.shape, 60, 130, 20)] = 3
    guess = find_fronts(labels, None, DPI)
    flipped = flip_fronts(guess, [(1, 2)])
    row = flipped.find(2, 1)
    assert flipped.first_in_front[row] == 1.0
    assert flipped.given.tolist().count(True) == 1
    others = np.arange(len(guess.pairs)) != row
    assert (flipped.first_in_front[others] == guess.first_in_front[others]).all()
    strength = cast_strengths(flipped, 3)
    assert strength[2, 1] == 1.0
    assert strength[1, 2] == 0.0


def test_parts_that_do_not_touch_cannot_be_flipped(two_discs):
    labels = two_discs.copy()
    labels[disc(labels.shape, 60, 130, 20)] = 3
    with pytest.raises(ProjectError, match="Parts 2 and 3 do not touch"):
        flip_fronts(find_fronts(labels, None, DPI), [(2, 3)])


@pytest.mark.parametrize(("likely", "strength"), [(0.5, 0.0), (0.575, 0.75), (0.65, 1.0), (0.9, 1.0)])
def test_a_shadow_has_full_strength_from_two_chances_in_three(likely, strength):
    fronts = Fronts(np.array([[1, 2]]), np.array([likely]), np.zeros(1), np.ones(1), np.zeros(1, bool))
    assert cast_strengths(fronts, 2)[2, 1] == pytest.approx(strength)
    assert cast_strengths(fronts, 2)[1, 2] == 0


def test_a_picture_of_one_part_has_no_pairs():
    labels = np.zeros((100, 100), np.int32)
    labels[20:80, 20:80] = 1
    fronts = find_fronts(labels, None, DPI)
    assert len(fronts.pairs) == 0
    assert cast_strengths(fronts, 1).shape == (2, 2)


def test_most_fronts_of_a_drawing_with_known_depths_are_right():
    """A small version of tests/derive/evaluate_shading.py; its table has every drawing left out of its own fit."""
    sys.path.insert(0, str(ROOT / "examples" / "line_art"))
    try:
        from draw_line_art import DRAWINGS
        from inking import render
    finally:
        sys.path.pop(0)
    sheet = render(DRAWINGS["harvest_gift"](), 200)
    guess = find_fronts(sheet.labels, sheet.line, 200)
    first, second = sheet.level[guess.pairs].T
    apart = first != second
    right = (guess.first_in_front > 0.5) == (first > second)
    sureness = np.abs(guess.first_in_front - 0.5)
    sure = sureness >= np.median(sureness[apart])
    assert right[apart].mean() > 0.7
    assert right[apart & sure].mean() > 0.85
