"""Areas that are drawn on the surface around them: which are, and how little shadow they press."""

import numpy as np
import pytest

from blendkit.art.depth import Fronts
from blendkit.art.inlaid import INLAID_SHADOW, find_inlaid, press
from blendkit.art.relief import find_relief
from blendkit.art.shading import BASE_TONE, shade

PER_MM = 5.0
DPI = 25.4 * PER_MM


def disc(shape, x, y, r):
    yy, xx = np.mgrid[: shape[0], : shape[1]]
    return (xx - x) ** 2 + (yy - y) ** 2 < r * r


@pytest.fixture
def face():
    """A face (1) with an eye whose two lights (2, 3) meet in its black, and a nose (4) that reaches outside."""
    labels = np.zeros((300, 300), np.int32)
    labels[disc(labels.shape, 150, 150, 130)] = 1
    eye = disc(labels.shape, 120, 120, 14)
    labels[eye] = 2
    labels[eye & (np.arange(300)[:, None] > 122)] = 3
    labels[150:160, 150:300] = 4
    return labels


def inked(labels):
    """Line over every border."""
    line = np.zeros(labels.shape, np.uint8)
    line[:-1][labels[1:] != labels[:-1]] = 255
    line[:, :-1][labels[:, 1:] != labels[:, :-1]] = 255
    return line


def pairs(labels, line):
    return {tuple(pair) for pair in find_inlaid(labels, line, PER_MM).tolist()}


def test_two_lights_of_an_eye_that_touch_are_both_drawn_on_the_face(face):
    assert pairs(face, inked(face)) == {(1, 2), (1, 3)}


def test_a_large_area_within_a_face_is_a_thing_before_it(face):
    face[disc(face.shape, 150, 220, 45)] = 5  # 254 square millimetres
    assert (1, 5) not in pairs(face, inked(face))


def test_an_area_between_two_halves_of_a_surface_counts_only_where_their_line_leaves_a_gap():
    labels = np.zeros((300, 300), np.int32)
    labels[disc(labels.shape, 150, 150, 130)] = 1
    labels[disc(labels.shape, 150, 150, 130) & (np.arange(300)[:, None] > 150)] = 2
    labels[disc(labels.shape, 150, 150, 15)] = 3
    line = inked(labels)
    assert pairs(labels, line) == set()
    line[:, 30:36] = 0  # 1.2 mm of the line between the halves
    assert pairs(labels, line) == {(1, 3), (2, 3)}


def test_a_picture_without_parts_has_none():
    assert find_inlaid(np.zeros((5, 7), np.int32), np.zeros((5, 7), np.uint8), PER_MM).shape == (0, 2)


def test_what_is_drawn_on_a_surface_presses_its_share_there_and_all_elsewhere():
    pressed = press(np.ones((4, 4), np.float32), np.array([[1, 2]]))
    assert pressed[1, 2] == pytest.approx(INLAID_SHADOW)
    assert pressed.sum() == pytest.approx(15 + INLAID_SHADOW)


def test_beside_the_lights_of_an_eye_the_face_keeps_its_base_coat(face):
    fronts = Fronts(
        np.array([[1, 2], [1, 3], [1, 4]]), np.zeros(3), np.zeros(3), np.ones(3), np.ones(3, bool)
    )
    tone = shade(find_relief(face, inked(face), fronts, DPI), 315).tone
    beside_eye = (slice(128, 138), slice(128, 138))  # away from the light
    under_nose = (slice(162, 166), slice(170, 230))
    assert tone[beside_eye][face[beside_eye] == 1].max() < BASE_TONE + 0.06
    assert tone[under_nose].mean() > BASE_TONE + 0.2
