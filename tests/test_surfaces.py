"""Areas that are drawn on the surface around them: which are, and that they press no shadow."""

import numpy as np
import pytest

from blendkit.art.depth import Fronts
from blendkit.art.relief import find_relief
from blendkit.art.shading import BASE_TONE, shade
from blendkit.art.surfaces import find_surfaces

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
    found = find_surfaces(labels, line, PER_MM)
    return {(int(host), area) for area, host in enumerate(found.under) if host}


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
    assert pairs(labels, line) == {(1, 3)}
    assert find_surfaces(labels, line, PER_MM).of.tolist() == [0, 1, 1, 3]


def test_a_picture_without_parts_has_none():
    found = find_surfaces(np.zeros((5, 7), np.int32), np.zeros((5, 7), np.uint8), PER_MM)
    assert not found.under.any()


def test_what_lies_in_an_eye_is_filled_with_it():
    labels = np.zeros((300, 300), np.int32)
    for number, radius in ((1, 130), (2, 20), (3, 15)):
        labels[disc(labels.shape, 150, 150, radius)] = number
    assert find_surfaces(labels, inked(labels), PER_MM).filled.tolist() == [0, 1, 1, 1]


def test_what_is_coloured_with_the_surface_around_it_is_of_that_surface(face):
    owner = np.array([0, 1, 1, 2, 3])
    found = find_surfaces(face, inked(face), PER_MM, owner)
    assert found.of.tolist() == [0, 1, 1, 3, 4]
    assert found.under.tolist() == [0, 0, 0, 1, 0]


def test_stripes_are_one_surface(face):
    assert find_surfaces(face, inked(face), PER_MM, stripes=[(1, 4)]).of.tolist()[4] == 1


def test_the_form_runs_on_under_what_is_drawn_on_it(face):
    """Away from its edges the surface is as round with an eye as without."""
    fronts = Fronts(np.zeros((0, 2), np.int64), np.zeros(0), np.zeros(0), np.zeros(0), np.zeros(0, bool))
    plain = np.where((face == 2) | (face == 3), 1, face)
    with_eye, without = (shade(find_relief(one, inked(one), fronts, DPI), 45) for one in (face, plain))
    same = (face == 1) & (plain == 1)
    assert np.abs(with_eye.form - without.form)[same].max() < 0.05


def test_beside_the_lights_of_an_eye_the_face_keeps_its_base_coat(face):
    fronts = Fronts(
        np.array([[1, 2], [1, 3], [1, 4]]), np.zeros(3), np.zeros(3), np.full(3, 20.0), np.ones(3, bool)
    )
    tone = shade(find_relief(face, inked(face), fronts, DPI), 315).tone
    beside_eye = (slice(128, 138), slice(128, 138))  # away from the light
    under_nose = (slice(162, 166), slice(170, 230))
    assert tone[beside_eye][face[beside_eye] == 1].max() < BASE_TONE + 0.02
    assert tone[under_nose].mean() > BASE_TONE + 0.2
