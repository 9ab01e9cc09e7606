"""The learned look, the pictures it is given, and each row of the table of hard stamps on a scene of its own."""

import dataclasses

import cv2
import numpy as np
import pytest
from drawings.hard import CONDITIONS, hard_stamp, on_table
from drawings.scenes_new import NEW
from drawings.score import score

from blendkit.art.labels import snap
from blendkit.art.learned import LOOK_PX_PER_MM, Look, find_darkness, look_at, parts_of, silhouette
from blendkit.art.prepare import find_sheet, prepare
from blendkit.art.regions import find_regions

LEAST = {
    "clean": 0.98, "scan": 0.97, "fur": 0.85, "hatched": 0.9, "fur and hatched": 0.8, "patchy": 0.88,
    "photo": 0.95, "cropped": 0.93, "white ink": 0.95,
}  # fmt: skip
"""Mean IoU that each row reaches on the one scene here; the table's means are in tests/derive/README.md."""


@pytest.mark.parametrize("condition", CONDITIONS)
def test_each_kind_of_hard_stamp_gives_its_parts(condition):
    rgb, drawing, to_picture = hard_stamp(NEW["snail"], condition, 200, 11)
    ready = prepare(rgb)
    regions = find_regions(ready.pixels, 200)
    straight = np.eye(3) if ready.picture_from_work is None else ready.picture_from_work
    assert (ready.picture_from_work is not None) == (condition == "photo")
    matrix = np.linalg.inv(to_picture) @ straight
    size = drawing.truth.shape[::-1]
    found = cv2.warpPerspective(regions.labels.astype(np.float32), matrix, size, flags=cv2.INTER_NEAREST)
    assert score(drawing.truth, found.astype(np.int32)).iou.mean() > LEAST[condition]


def furry(height=320, width=384):
    """Two discs side by side in one frame, their outlines nothing but ticks; 8 pixels to the millimetre."""
    rng = np.random.default_rng(5)
    grey = np.full((height, width), 255, np.uint8)
    for x in (120, 264):
        for turn in np.arange(0, 2 * np.pi, 0.07):
            at = np.array([x + 80 * np.cos(turn), 160 + 80 * np.sin(turn)])
            lean = turn + np.pi / 2 + rng.normal(0.5, 0.15)
            step = 6 * np.array([np.cos(lean), np.sin(lean)])
            ends = [tuple(int(v) for v in np.round(8 * (at + k * step))) for k in (-1, 1)]
            cv2.line(grey, *ends, 0, 2, cv2.LINE_AA, 3)
    return grey


def test_a_look_has_the_pictures_shape_at_its_own_scale_and_keeps_within_0_and_1():
    look = look_at(np.full((101, 203), 250, np.uint8), 2 * LOOK_PX_PER_MM)
    for name in ("border", "figure", "distance", "texture", "front", "dark"):
        layer = getattr(look, name)
        assert layer.shape == (50, 102), name
        assert layer.min() >= 0, name
        assert layer.max() <= 1, name


def test_two_discs_of_ticks_are_two_parts_on_paper():
    labels = parts_of(look_at(furry(), LOOK_PX_PER_MM))
    left, right = labels[160, 120], labels[160, 264]
    assert left
    assert right
    assert left != right
    assert labels[5, 5] == labels[300, 192] == 0
    y, x = np.mgrid[0:320, 0:384]
    disc = np.hypot(x - 120, y - 160) < 80
    assert ((labels == left) & disc).sum() / ((labels == left) | disc).sum() > 0.85


def flat_look(border):
    """A look made by hand: all figure, no texture."""
    border = border.astype(np.float32)
    distance = np.minimum(cv2.distanceTransform((border < 0.2).astype(np.uint8), cv2.DIST_L2, 5) / 16, 1)
    none = np.zeros_like(border)
    return Look(border, np.ones_like(border), distance.astype(np.float32), none, none, none)


def test_a_likely_border_parts_two_basins_and_an_unlikely_one_does_not():
    for likely, parts in ((0.9, 2), (0.3, 1)):
        border = np.zeros((128, 256))
        border[:, 126:130] = likely
        assert len(np.unique(parts_of(flat_look(border)))) == parts


def test_a_border_that_a_person_has_drawn_parts_what_the_look_left_whole():
    drawn = np.zeros((128, 256), np.uint8)
    drawn[:, 126:130] = 255
    assert len(np.unique(parts_of(flat_look(np.zeros((128, 256))), drawn))) == 2


@pytest.mark.parametrize("off", [-3, 0, 2])
def test_a_border_beside_a_line_moves_to_its_middle_and_one_far_from_ink_stays(off):
    dark = np.zeros((60, 200), np.uint8)
    dark[:, 50:59] = 255  # its middle lies between pixels 53 and 55
    labels = np.ones((60, 200), np.int32)
    labels[:, 54 + off :] = 2
    labels[:, 150:] = 3
    snap(labels, dark, 12.0)
    assert abs(int(np.argmax(labels[30] == 2)) - 54) <= 1
    assert int(np.argmax(labels[30] == 3)) == 150


def test_darkness_is_0_on_unevenly_lit_paper_and_1_on_ink():
    light = np.tile(np.linspace(120, 250, 400), (320, 1))
    grey = light.copy()
    grey[:, 200:203] *= 0.1
    dark = find_darkness(np.round(grey).astype(np.uint8))
    assert dark[:, 201].min() > 0.9
    assert np.delete(dark, np.s_[190:213], 1)[20:-20, 20:-20].max() < 0.12


def test_the_silhouette_bridges_a_narrow_gap_and_not_a_wide_one():
    for gap, inside in ((14, True), (40, False)):
        ring = np.zeros((300, 300), np.uint8)
        cv2.circle(ring, (150, 150), 100, 255, 3)
        ring[150 - gap // 2 : 150 + gap // 2, 200:] = 0
        assert (silhouette(ring, 10.0)[150, 150] > 0) == inside


def test_a_sheet_on_a_table_is_found_to_a_hundredth_of_its_side():
    sheet = np.full((600, 500, 3), 240, np.uint8)
    cv2.circle(sheet, (250, 300), 120, (20, 20, 20), 4)
    for seed in range(8):
        photo, matrix = on_table(sheet, 8.0, np.random.default_rng(seed), False)
        truth = cv2.perspectiveTransform(np.array([[[0, 0], [500, 0], [500, 600], [0, 600]]], float), matrix)[
            0
        ]
        corners = find_sheet(photo)
        assert corners is not None
        assert np.abs(corners - truth).max() < 6


def test_a_picture_without_a_table_or_pale_ink_is_left_as_it_is():
    picture = np.full((300, 300, 3), 245, np.uint8)
    cv2.circle(picture, (150, 150), 90, (10, 10, 10), 4)
    ready = prepare(picture)
    assert ready.pixels is picture
    assert (ready.picture_from_work, ready.card_srgb255, ready.notes) == (None, None, ())


def test_white_ink_on_kraft_becomes_dark_ink_and_the_cards_colour_is_kept():
    card = np.full((400, 400, 3), (150, 110, 70), np.uint8)
    cv2.circle(card, (200, 200), 120, (240, 240, 238), 6)
    ready = prepare(card)
    assert ready.card_srgb255 == (150, 110, 70)
    assert ready.pixels[200, 80] < 60
    assert ready.pixels[200, 200] > 200


def test_the_strip_under_a_ground_line_stays_paper_and_a_body_cut_by_the_frame_stays_a_part():
    picture = np.full((400, 600), 255, np.uint8)
    cv2.line(picture, (0, 330), (600, 350), 0, 6, cv2.LINE_AA)
    cv2.circle(picture, (300, 200), 100, 0, 6, cv2.LINE_AA)
    regions = find_regions(picture, 254)
    assert regions.number_at((0.5, 0.97)) == 0
    assert regions.number_at((0.5, 0.5)) > 0
    cut = np.full((400, 600), 255, np.uint8)
    cv2.circle(cut, (300, 420), 250, 0, 6, cv2.LINE_AA)
    assert find_regions(cut, 254).number_at((0.5, 0.97)) > 0


def test_white_that_ticks_go_all_around_is_a_part_even_where_the_look_calls_it_paper():
    look = look_at(furry(), LOOK_PX_PER_MM)
    blind = dataclasses.replace(look, figure=np.zeros_like(look.figure))
    labels = parts_of(blind)
    assert labels[160, 120]
    assert labels[160, 264]
    assert labels[5, 5] == 0


def test_a_hands_shadow_on_a_straightened_sheet_is_evened_out_and_black_areas_stay_black():
    sheet = np.full((600, 500, 3), 240, np.uint8)
    cv2.circle(sheet, (250, 300), 120, (20, 20, 20), 4)
    cv2.circle(sheet, (250, 300), 25, (20, 20, 20), -1)
    for seed in range(4):
        photo, _ = on_table(sheet, 8.0, np.random.default_rng(seed), False)
        flat = prepare(photo).pixels
        grey = cv2.cvtColor(flat, cv2.COLOR_RGB2GRAY)
        grey = cv2.medianBlur(cv2.resize(grey, (500, 600)), 9)
        paper = np.hypot(*(np.mgrid[0:600, 0:500] - np.array([300, 250])[:, None, None])) > 150
        paper[:30] = paper[-30:] = paper[:, :30] = paper[:, -30:] = False
        assert np.ptp(np.quantile(grey[paper], (0.01, 0.99))) < 30
        assert grey[300, 250] < 0.4 * np.median(grey[paper])


def test_a_cropped_photo_is_never_taken_for_a_sheet_because_of_a_hands_shadow():
    sheet = np.full((600, 500, 3), 240, np.uint8)
    cv2.circle(sheet, (250, 300), 120, (20, 20, 20), 4)
    for seed in range(10):
        photo, _ = on_table(sheet, 8.0, np.random.default_rng(seed), True)
        assert find_sheet(photo) is None, seed
