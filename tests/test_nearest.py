"""The nearest colours by CIEDE2000."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendkit import nearest
from blendkit.colour import delta_e_2000, srgb1_to_lab
from blendkit.errors import ColourError
from blendkit.nearest import TIE, find_nearest, least_delta_e_2000

numbers = st.floats(-150.0, 150.0)
labs = st.tuples(st.floats(-20.0, 130.0), numbers, numbers)
# Rounding of CIEDE2000 itself near nought: its chroma step is a difference of numbers of size 100.
ROUNDING = 1e-12


def every_pair(pixels, among, count):
    """Try every pair, keep the order of the colours where equal."""
    distance = delta_e_2000(pixels[:, None], among[None])
    order = np.argsort(distance, axis=1, kind="stable")[:, :count]
    return order, np.take_along_axis(distance, order, axis=1)


def screen_colours(number, seed):
    return srgb1_to_lab(np.random.default_rng(seed).random((number, 3)))


# ------------------------------------------------------------------------------------------- the bound


@settings(max_examples=400, deadline=None)
@given(labs, labs)
def test_bound_never_exceeds_the_difference_of_two_colours(one, two):
    """'A proven lower bound of CIEDE2000', for any two colours, and the same both ways round."""
    assert least_delta_e_2000(one, one, two) <= delta_e_2000(one, two) + ROUNDING
    assert least_delta_e_2000(two, two, one) <= delta_e_2000(one, two) + ROUNDING


@settings(max_examples=200, deadline=None)
@given(labs, st.tuples(*[st.floats(0.0, 60.0)] * 3), labs, st.integers(0, 2**32 - 1))
def test_no_colour_of_a_box_is_nearer_than_its_bound(low, sides, lab, seed):
    """'No colour of the box is nearer to *lab* than this': corners, and colours anywhere within."""
    low, sides = np.array(low), np.array(sides)
    corners = np.stack(np.meshgrid([0, 1], [0, 1], [0, 1]), axis=-1).reshape(-1, 3)
    shares = np.concatenate([corners, np.random.default_rng(seed).random((200, 3))])
    inside = np.minimum(low + shares * sides, low + sides)
    assert least_delta_e_2000(low, low + sides, lab) <= delta_e_2000(inside, lab).min() + ROUNDING


@pytest.mark.parametrize("kind", ["far", "near", "opposite", "blue", "grey", "axes"])
def test_dense_random_search_finds_no_pair_below_the_bound(kind):
    """The bound holds where CIEDE2000 is least even: opposite hues, its rotated blues, greys, the a and b axes."""
    rng = np.random.default_rng(2000)
    size = 200_000
    one = rng.uniform([0, -128, -128], [100, 128, 128], (size, 3))
    two = rng.uniform([0, -128, -128], [100, 128, 128], (size, 3))
    if kind == "near":
        two = one + rng.normal(size=(size, 3)) * 10.0 ** rng.uniform(-4, 1, (size, 1))
    elif kind == "opposite":
        two[:, 1:] = -one[:, 1:] * rng.uniform(0.2, 4.0, (size, 1)) + rng.choice([0.0, 1e-9, 0.1], (size, 1))
    elif kind == "blue":
        hue, chroma = np.radians(rng.uniform(220, 330, (2, size))), rng.uniform(0, 150, (2, size))
        one[:, 1:] = (chroma[0] * [np.cos(hue[0]), np.sin(hue[0])]).T
        two[:, 1:] = (chroma[1] * [np.cos(hue[1]), np.sin(hue[1])]).T
    elif kind == "grey":
        one[:, 1:] *= 10.0 ** rng.uniform(-12, -1, (size, 1))
    elif kind == "axes":
        one[:, 1:] *= rng.choice([0.0, -0.0, 1.0], (size, 2))
        two[:, 1:] *= rng.choice([0.0, -0.0, 1.0], (size, 2))
    excess = least_delta_e_2000(one, one, two) - delta_e_2000(one, two)
    assert excess.max() <= ROUNDING


def test_bound_is_close_enough_to_be_of_use():
    """Between colours a few steps apart the bound reaches nine tenths of the difference as a rule."""
    one = screen_colours(20_000, 1)
    two = one + np.random.default_rng(2).normal(size=one.shape) * 4.0
    share = least_delta_e_2000(one, one, two) / delta_e_2000(one, two)
    assert np.median(share) > 0.9


def test_weight_of_hue_never_exceeds_its_stated_limit():
    """'T reaches 1.57248 on a grid of 0.0001 rad': and can't pass 1.573 between, by its steepest slope, 2.41."""
    hue = np.arange(0.0, 2.0 * np.pi + 1e-4, 1e-4)
    degrees = np.degrees(hue)
    t = (
        1.0
        - 0.17 * np.cos(np.radians(degrees - 30.0))
        + 0.24 * np.cos(np.radians(2.0 * degrees))
        + 0.32 * np.cos(np.radians(3.0 * degrees + 6.0))
        - 0.20 * np.cos(np.radians(4.0 * degrees - 63.0))
    )
    assert t.max() == pytest.approx(1.57248, abs=1e-5)
    assert t.max() + 2.41 * 0.5e-4 < nearest._T_MAX
    assert np.abs(np.diff(t)).max() <= 2.41e-4


# ------------------------------------------------------------------------------------------ the search


@pytest.mark.parametrize(
    ("pixels", "colours", "count"), [(3000, 400, 1), (3000, 400, 7), (500, 3, 3), (1, 1, 1)]
)
def test_order_is_that_of_trying_every_pair(pixels, colours, count):
    """'The order is that of delta_e_2000(labs, among)', and so is the difference, to the last bit."""
    points, among = screen_colours(pixels, 3), screen_colours(colours, 4)
    found = find_nearest(points, among, count)
    order, distance = every_pair(points, among, count)
    np.testing.assert_array_equal(found.index.reshape(pixels, count), order)
    np.testing.assert_array_equal(found.delta_e_2000.reshape(pixels, count), distance)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(-3.0, 2.3), st.integers(1, 60), st.integers(1, 4))
def test_order_holds_for_colours_crowded_or_strewn(seed, power, colours, count):
    """Crowded within a thousandth of a step, or strewn far outside any gamut: the same as every pair."""
    rng = np.random.default_rng(seed)
    centre = rng.uniform([0, -100, -100], [100, 100, 100])
    among = centre + rng.normal(size=(colours, 3)) * 10.0**power
    points = centre + rng.normal(size=(80, 3)) * 10.0 ** rng.uniform(-3.0, 2.3)
    count = min(count, colours)
    order, distance = every_pair(points, among, count)
    found = find_nearest(points, among, count)
    np.testing.assert_array_equal(found.index.reshape(80, count), order)
    np.testing.assert_array_equal(found.delta_e_2000.reshape(80, count), distance)


@pytest.mark.gold
@pytest.mark.parametrize("library", ["scikit-image", "colour-science"])
def test_other_libraries_brute_force_names_the_same_colours(library):
    """scikit-image 0.26 and colour-science 0.4.7, trying every pair, rank alike save where rounding decides."""
    if library == "scikit-image":
        from skimage.color import deltaE_ciede2000 as theirs
    else:
        from colour.difference import delta_E_CIE2000 as theirs
    points, among = screen_colours(4000, 5), screen_colours(400, 6)
    found = find_nearest(points, among, 2)
    distance = theirs(points[:, None], among[None])
    order = np.argsort(distance, axis=1, kind="stable")[:, :2]
    clear = ~found.tied.any(axis=1)
    assert clear.mean() > 0.99
    np.testing.assert_array_equal(found.index[clear], order[clear])
    np.testing.assert_allclose(found.delta_e_2000, np.take_along_axis(distance, order, 1), rtol=0, atol=1e-9)


def test_equal_colours_come_lowest_index_first_and_are_called_tied():
    """'Where two are equally far the lower index comes first, and tied says so.'"""
    among = np.array([[70.0, 5.0, 5.0], [50.0, 10.0, 10.0], [50.0, 10.0, 10.0], [20.0, 0.0, 0.0]])
    found = find_nearest([[50.0, 10.0, 11.0], [70.0, 5.0, 6.0]], among)
    assert found.index.tolist() == [1, 0]
    assert found.tied.tolist() == [True, False]
    three = find_nearest([50.0, 10.0, 11.0], among, 3)
    assert three.index.tolist() == [1, 2, 0]
    assert three.tied.tolist() == [True, True, False]


def test_colours_apart_by_rounding_alone_are_called_tied():
    """Closer than TIE is a tie; a millionth of a step is not."""
    among = np.array([[50.0, 0.0, 0.0], [60.0, 0.0, 0.0]])
    middle = 0.5 * (50.0 + 60.0) + np.array([0.0, 1e-6])
    points = np.stack([middle, np.zeros(2), np.zeros(2)], axis=-1)
    distance = delta_e_2000(points[:, None], among)
    gap = np.abs(distance[:, 0] - distance[:, 1])
    found = find_nearest(points, among)
    np.testing.assert_array_equal(found.tied, gap <= TIE)


def test_all_of_them_can_be_asked_for():
    """A count of all the colours gives every one of them once."""
    found = find_nearest(screen_colours(50, 7), screen_colours(20, 8), 20)
    np.testing.assert_array_equal(np.sort(found.index, axis=1), np.tile(np.arange(20), (50, 1)))
    assert (np.diff(found.delta_e_2000, axis=1) >= 0.0).all()


def test_alike_pixels_and_threads_and_blocks_change_nothing(monkeypatch):
    """However the pixels are repeated, cut in blocks or shared among threads, the answer is the same."""
    points, among = screen_colours(700, 9), screen_colours(90, 10)
    once = find_nearest(points, among)
    pick = np.random.default_rng(11).integers(0, 700, 5000)
    monkeypatch.setattr(nearest, "_BLOCK", 997)
    monkeypatch.setattr(nearest, "_PAIRS", 501)
    monkeypatch.setattr(nearest, "_CACHEFUL", 64)
    for workers in (1, 3):
        again = find_nearest(points[pick], among, workers=workers)
        np.testing.assert_array_equal(again.index, once.index[pick])
        np.testing.assert_array_equal(again.delta_e_2000, once.delta_e_2000[pick])
        np.testing.assert_array_equal(again.tied, once.tied[pick])


def test_picture_keeps_its_shape():
    """Shape (...) for one, (..., count) for more; no pixels give no answers."""
    points, among = screen_colours(12, 12).reshape(3, 4, 3), screen_colours(5, 13)
    assert find_nearest(points, among).index.shape == (3, 4)
    assert find_nearest(points, among, 2).delta_e_2000.shape == (3, 4, 2)
    assert find_nearest(np.empty((0, 3)), among).index.shape == (0,)
    assert find_nearest(points[0, 0], among).index.shape == ()


def test_few_pairs_are_measured():
    """Of 400 colours fewer than 20 a pixel are measured; the rest are ruled out by the bound."""
    measured = []
    original = nearest._Block.measure

    def counting(block, pixel, colour):
        measured.append(len(pixel))
        return original(block, pixel, colour)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(nearest._Block, "measure", counting)
        find_nearest(screen_colours(50_000, 14), screen_colours(400, 15))
    assert sum(measured) / 50_000 < 20.0


@pytest.mark.parametrize(
    ("points", "among", "count", "words"),
    [
        ([[1.0, 2.0]], [[1.0, 2.0, 3.0]], 1, "labs"),
        ([[1.0, 2.0, 3.0]], [1.0, 2.0, 3.0], 1, "among"),
        ([[1.0, 2.0, np.nan]], [[1.0, 2.0, 3.0]], 1, "labs"),
        ([[1.0, 2.0, 3.0]], [[1.0, np.inf, 3.0]], 1, "among"),
        ([[1.0, 2.0, 3.0]], [[1.0, 2.0, 3.0]], 2, "count: found 2; give 1 to 1"),
        ([[1.0, 2.0, 3.0]], [[1.0, 2.0, 3.0]], 0, "count: found 0"),
        ([[1.0, 2.0, 3.0]], np.empty((0, 3)), 1, "count"),
    ],
)
def test_what_cannot_be_answered_is_refused_by_name(points, among, count, words):
    """'ColourError for a count that can't be met, a wrong shape, or a value that isn't a number.'"""
    with pytest.raises(ColourError, match=words):
        find_nearest(points, among, count)
