"""Domes and the tones that a light gives them."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.special import i0

from blendkit.art.depth import Fronts, find_fronts, flip_fronts
from blendkit.art.material import MATERIALS, PLAIN
from blendkit.art.relief import SCREEN_MM, find_relief
from blendkit.art.shading import BASE_TONE, light_to_deg, shade
from blendkit.errors import PictureError, ProjectError

DPI = 127.0  # 5 pixels a millimetre


def disc(shape, x, y, r):
    yy, xx = np.mgrid[: shape[0], : shape[1]]
    return (xx - x) ** 2 + (yy - y) ** 2 < r * r


def relief_of(labels, fronts=None, dpi=DPI):
    line = np.zeros(labels.shape, np.uint8)
    return find_relief(labels, line, fronts or find_fronts(labels, line, dpi), dpi)


@pytest.fixture(scope="module")
def ball():
    labels = np.zeros((241, 241), np.int32)
    labels[disc(labels.shape, 120, 120, 100)] = 1
    return relief_of(labels)


@pytest.fixture(scope="module")
def scene():
    """A large disc, a bar in front of its right half, a spot, and a disc apart."""
    labels = np.zeros((300, 400), np.int32)
    labels[disc(labels.shape, 150, 150, 110)] = 1
    labels[100:200, 170:340] = 2
    labels[disc(labels.shape, 90, 150, 22)] = 3
    labels[disc(labels.shape, 350, 50, 36)] = 4
    return labels


@pytest.mark.gold
def test_the_dome_of_a_disc_is_the_solution_with_bessel_functions(ball):
    """z = l^2 (1 - I0(r/l) / I0(R/l)): the radial solution of z'' + z'/r - z/l^2 = -1, z(R) = 0 (any textbook)."""
    length, radius = SCREEN_MM * 5, 100.0
    yy, xx = np.mgrid[:241, :241]
    r = np.hypot(xx - 120, yy - 120)
    expected = length**2 * (1 - i0(np.minimum(r, radius) / length) / i0(radius / length))
    inside = r < 90
    assert np.abs(ball.height**2 - expected)[inside].max() < 0.02 * expected.max()


def test_the_dome_stays_level_where_a_part_in_front_overlaps_it():
    labels = np.zeros((160, 320), np.int32)
    labels[30:130, 20:160] = 1
    labels[30:130, 160:300] = 2
    fronts = Fronts(np.array([[1, 2]]), np.zeros(1), np.zeros(1), np.full(1, 20.0), np.ones(1, bool))
    relief = relief_of(labels, fronts)
    behind, before = relief.slope_x[80, 150:159], relief.slope_x[80, 161:168]
    assert np.abs(behind).max() < 0.5
    assert before.min() > 5 * np.abs(behind).max()


def test_shadow_lies_away_from_the_light_and_highlight_toward_it(ball):
    yy, xx = np.mgrid[:241, :241]
    for clock, (dx, dy) in {"12": (0, -1), "3": (1, 0), "6": (0, 1), "10:30": (-0.7, -0.7)}.items():
        tone = shade(ball, light_to_deg(clock)).tone
        along = (xx - 120) * dx + (yy - 120) * dy
        assert along[tone > 0.9].max() < -30
        assert along[(tone < 0.2) & (ball.full_labels > 0)].min() > 20


def test_own_shadow_takes_at_most_about_a_third(ball):
    shades = shade(ball, 315, width_mm=30)
    assert 0.24 < shades.shadow_share[1] < 0.36


def test_a_wider_shadow_covers_more_and_a_softer_blend_has_more_middle_tones(ball):
    narrow, wide = (shade(ball, 315, width_mm=w).shadow_share[1] for w in (2.0, 6.0))
    assert narrow < 0.7 * wide

    def middle(softness):
        tone = shade(ball, 315, softness_mm=softness).tone
        return ((tone > 0.45) & (tone < 0.85)).sum()

    assert middle(5.0) > 1.3 * middle(1.0)


def test_turning_drawing_and_light_together_turns_the_tones(scene):
    upright = shade(relief_of(scene), 300).tone
    turned = shade(relief_of(np.ascontiguousarray(np.rot90(scene, -1))), 30).tone
    assert np.abs(np.rot90(upright, -1) - turned).mean() < 0.02


def test_a_part_in_front_casts_shadow_on_the_part_behind_and_a_flip_moves_it(scene):
    guess = find_fronts(scene, None, DPI)
    strip = np.s_[120:180, 164:170]  # part 1, just left of the bar
    inner = np.s_[120:180, 170:176]  # the bar's left end
    front = shade(relief_of(scene, flip_fronts(guess, [(2, 1)])), 90).tone
    behind = shade(relief_of(scene, flip_fronts(guess, [(1, 2)])), 270).tone
    assert front[strip].mean() > BASE_TONE + 0.3
    assert behind[inner].mean() > BASE_TONE + 0.3


def test_even_odds_cast_no_shadow_and_a_fair_guess_a_full_one(scene):
    guess = flip_fronts(find_fronts(scene, None, DPI), [(2, 1)])
    row = np.arange(len(guess.pairs)) == guess.find(1, 2)
    cast = {}
    for second_in_front in (0.5, 0.7, 1.0):
        fronts = replace(guess, first_in_front=np.where(row, 1 - second_in_front, guess.first_in_front))
        cast[second_in_front] = shade(relief_of(scene, fronts), 90).cast[120:180, 164:170].mean()
    assert cast[0.5] < 1e-6
    assert cast[0.7] == pytest.approx(cast[1.0])
    assert cast[1.0] > 0.9


@pytest.mark.parametrize(("clock", "depth_mm"), [("3", 4.0), ("12", 2.67), ("9", 1.33)])
def test_a_cast_shadow_is_deepest_away_from_the_light(clock, depth_mm):
    """A long upright edge: 4 mm away from the light, two thirds of that beside it, a third toward it."""
    labels = np.zeros((500, 500), np.int32)
    labels[50:450, 50:250] = 1
    labels[50:450, 250:450] = 2
    fronts = Fronts(np.array([[1, 2]]), np.zeros(1), np.zeros(1), np.full(1, 20.0), np.ones(1, bool))
    cast = shade(relief_of(labels, fronts), light_to_deg(clock), softness_mm=0.4).cast[250, 50:250][::-1]
    assert cast[:1] > 0.85
    assert (cast > 0.02).sum() / 5 == pytest.approx(depth_mm, abs=0.45)


def test_no_highlight_lies_within_reach_of_a_cast_shadow(scene):
    relief = relief_of(scene, flip_fronts(find_fronts(scene, None, DPI), [(2, 1)]))
    for deg in (0, 90, 180, 270):
        shades = shade(relief, deg)
        within = np.s_[105:195, 152:170]  # 3.6 mm beside the bar
        assert shades.tone[within][scene[within] == 1].min() > BASE_TONE - 0.02


def test_tones_are_continuous_within_a_part(scene):
    relief = relief_of(scene)
    tone = shade(relief, 315).tone
    same = scene[:, 1:] == scene[:, :-1]
    assert np.abs(np.diff(tone, axis=1))[same].max() < 0.2
    assert tone.min() >= 0
    assert tone.max() <= 1
    assert (tone[scene == 0] == 0).all()


def test_without_drama_every_part_is_its_base_coat(scene):
    tone = shade(relief_of(scene), 315, drama=0.0).tone
    assert tone[scene > 0] == pytest.approx(BASE_TONE, abs=1e-6)


def test_large_pictures_have_the_same_tones_as_small_ones():
    small = np.zeros((200, 200), np.int32)
    small[disc(small.shape, 100, 100, 80)] = 1
    small[disc(small.shape, 130, 80, 25)] = 2
    large = np.kron(small, np.ones((6, 6), np.int32))
    one = shade(relief_of(small, dpi=100.0), 315).tone
    other = shade(relief_of(large, dpi=600.0), 315).tone[3::6, 3::6]
    inside = small > 0
    assert np.abs(one - other)[inside].mean() < 0.04


def test_at_an_open_border_each_side_keeps_its_own_tone():
    labels = np.zeros((1200, 1200), np.int32)
    labels[100:1100, 100:600] = 1
    labels[100:1100, 600:1100] = 2
    fronts = Fronts(np.array([[1, 2]]), np.zeros(1), np.zeros(1), np.full(1, 20.0), np.ones(1, bool))
    relief = relief_of(labels, fronts, dpi=300.0)
    tone = shade(relief, 270).tone
    assert len(relief.seams)
    assert np.abs(tone[300:900, 598] - tone[300:900, 594]).max() < 0.2
    assert np.abs(tone[300:900, 601] - tone[300:900, 605]).max() < 0.2
    assert np.abs(tone[600, 598] - tone[600, 602]) > 0.15


@pytest.mark.parametrize("shape", [(1, 1), (3, 5), (64, 2), (50, 50)])
def test_a_picture_without_parts_has_no_tone(shape):
    relief = relief_of(np.zeros(shape, np.int32))
    tone = shade(relief, 315).tone
    assert tone.shape == shape
    assert not tone.any()


def test_a_part_number_without_pixels_and_a_part_of_one_pixel_do_no_harm():
    labels = np.zeros((80, 80), np.int32)
    labels[20:60, 20:60] = 3
    labels[30, 30] = 1
    tone = shade(relief_of(labels), 315).tone
    assert np.isfinite(tone).all()
    assert np.ptp(tone[labels == 3]) > 0.5


def test_a_picture_that_falls_into_thousands_of_parts_is_refused():
    labels = np.arange(6400, dtype=np.int32).reshape(80, 80)
    with pytest.raises(PictureError, match="6399 parts"):
        relief_of(labels)


@pytest.mark.parametrize(
    ("text", "deg"), [("12", 0), ("0", 0), ("3", 90), ("10:30", 315), ("6:00", 180), (405.0, 45)]
)
def test_a_clock_position_is_a_direction(text, deg):
    assert light_to_deg(text) == deg


@pytest.mark.parametrize("text", ["13", "noon", "10:75", "", "-1", float("nan")])
def test_what_is_no_clock_position_is_refused(text):
    with pytest.raises(ProjectError, match="clock position"):
        light_to_deg(text)


@pytest.mark.parametrize("wrong", [{"width_mm": 0}, {"softness_mm": -1}, {"softness_mm": float("nan")}])
def test_widths_must_be_above_zero(ball, wrong):
    with pytest.raises(ProjectError, match=next(iter(wrong))):
        shade(ball, 315, **wrong)


def test_a_small_area_within_a_part_casts_little_shadow_on_it():
    """A cheek is drawn on a face; the same disc where it reaches past the face lies above it and casts."""
    within = np.zeros((300, 400), np.int32)
    within[disc(within.shape, 200, 150, 130)] = 1
    within[disc(within.shape, 160, 150, 18)] = 2
    fronts = Fronts(np.array([[1, 2]]), np.zeros(1), np.zeros(1), np.full(1, 20.0), np.ones(1, bool))
    reaching = within.copy()
    reaching[145:156, 0:150] = np.where(reaching[145:156, 0:150] == 1, 2, reaching[145:156, 0:150])
    reaching[145:156, 40:150] = 2
    beside = (slice(160, 172), slice(170, 182))  # lower right of the disc, away from the light
    tones = [
        shade(relief_of(labels, fronts), 315).tone[beside][labels[beside] == 1].mean()
        for labels in (within, reaching)
    ]
    assert tones[0] < BASE_TONE + 0.12
    assert tones[1] > BASE_TONE + 0.25


def test_a_glimpse_between_two_things_in_front_bends_no_surface():
    """A strip in front with a slot of 1.2 mm, through which something behind shows: the dome runs on past it."""
    labels = np.zeros((300, 400), np.int32)
    labels[20:200, 20:380] = 1
    labels[200:260, 20:380] = 2
    slotted = labels.copy()
    slotted[200:260, 197:203] = 3
    fronts = Fronts(np.array([[1, 2]]), np.zeros(1), np.zeros(1), np.full(1, 70.0), np.ones(1, bool))
    pairs = np.array([[1, 2], [1, 3], [2, 3]])
    third = Fronts(
        pairs, np.array([0.0, 1.0, 1.0]), np.zeros(3), np.array([70.0, 1.2, 10.0]), np.ones(3, bool)
    )
    whole, glimpsed = relief_of(labels, fronts), relief_of(slotted, third)
    here = np.s_[150:198, 150:250]
    assert np.abs(whole.height - glimpsed.height)[here].max() < 0.02 * whole.height.max()


def test_under_a_brim_the_far_side_is_no_lighter_than_the_lit_one():
    """A face under a brim, light from above: its chin is as dark as its forehead, and the middle is lightest."""
    labels = np.zeros((260, 240), np.int32)
    labels[disc(labels.shape, 120, 140, 90)] = 1
    labels[40:90, 20:220] = 2
    fronts = Fronts(np.array([[1, 2]]), np.zeros(1), np.zeros(1), np.full(1, 30.0), np.ones(1, bool))
    shades = shade(relief_of(labels, fronts), 0.0)
    inside = (labels == 1) & (np.abs(np.arange(240) - 120) < 40)
    top, middle, bottom = (
        shades.tone[rows][inside[rows]].mean() for rows in (slice(92, 135), slice(145, 175), slice(187, 230))
    )
    assert top > middle + 0.05
    assert bottom > top - 0.03


def test_what_glows_lightens_what_faces_it_nearby_and_nothing_far_away(scene):
    """The disc beside the spot gets lighter round it; the disc apart stays as it is."""
    relief = relief_of(scene)
    plain, glow = [PLAIN] * 5, [PLAIN, PLAIN, PLAIN, PLAIN, MATERIALS["glow"]]
    before, after = shade(relief, 225.0, materials=plain).tone, shade(relief, 225.0, materials=glow).tone
    box = scene == 2
    lit = box & (np.hypot(*(np.mgrid[:300, :400] - np.array([50, 350])[:, None, None])) < 75)
    assert (after[lit] < before[lit] - 0.02).mean() > 0.05
    assert (after[box] <= before[box] + 0.05).all()
    far = scene == 3
    np.testing.assert_array_equal(after[far], before[far])
