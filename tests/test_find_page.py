"""Placing a page: from simulated pictures whose true geometry is known."""

import cv2
import numpy as np
import pytest
from simulate import page as pages
from simulate import picture as pictures
from simulate import trial

from blendkit.chart.find_page import find_marks, find_pages, fit_page, measure_blur_mm, stretch_words
from blendkit.errors import SheetError

SPEC = pages.plain_chart()
PAGE = SPEC.pages[0]


def grey_of(made):
    return cv2.cvtColor(made.picture.pixels, cv2.COLOR_RGB2GRAY)


def fit_of(made):
    grey = grey_of(made)
    return fit_page(find_marks(grey), PAGE, (grey.shape[1], grey.shape[0]))


def photo(seed, *, picture_px=(1200, 900), pose=None, **more):
    """A photo at the given pose, and the truth."""
    rng = np.random.default_rng([41, seed])
    if pose is None:
        return trial.make_trial(rng, SPEC, "photo", picture_px=picture_px, **more)
    coloured = trial.coloured_sheet(rng, SPEC, px_per_mm=5.0)
    seen_by = pages_device(rng)
    code1, view = pictures.photograph(rng, coloured, seen_by, pose=pose, picture_px=picture_px, **more)
    made = trial.as_picture(code1, jpeg=80)
    return trial.Trial(made, SPEC, PAGE, coloured.true_labs(), np.zeros(3), seen_by.name, view)


def pages_device(rng):
    from simulate import device

    return device.phone(rng)


@pytest.mark.parametrize("seed", range(3))
def test_boxes_are_placed_within_a_millimetre_at_1200_px_on_a_curled_page(seed):
    """At least 99 % of boxes lie within 1 mm, with tilt to 35 degrees, any turn, blur, noise, JPEG 60 to 95."""
    made = photo(seed, curl_rad=0.3)
    off = made.boxes_off_mm(fit_of(made))
    assert np.mean(off <= 1.0) >= 0.99


def test_the_bent_page_is_followed_where_a_flat_one_would_miss_by_millimetres():
    """On a strongly curled page the fit is at least four times as near as a plain perspective."""
    made = photo(0, pose=pictures.Pose(turn_deg=88, tilt_deg=25, fill=0.9, curl_rad=0.35, twist_rad=0.1))
    fit = fit_of(made)
    found = find_marks(grey_of(made))
    printed = np.concatenate([np.array(mark.corners_mm) for mark in PAGE.marks])
    seen = np.concatenate([found[mark.id] for mark in PAGE.marks])
    matrix, _ = cv2.findHomography(printed, seen)

    class Flat:
        def map(self, mm):
            return cv2.perspectiveTransform(mm[:, None], matrix)[:, 0]

    assert made.boxes_off_mm(Flat()).max() > 2.0
    assert made.boxes_off_mm(fit).max() < made.boxes_off_mm(Flat()).max() / 4
    assert fit.curl_mm > 5.0


def test_a_bend_of_another_shape_than_the_model_is_followed_too():
    """A page warped in the picture by a sine, which no bent sheet does, is still placed within a millimetre."""
    made = photo(1, pose=pictures.Pose(turn_deg=90, tilt_deg=10, fill=0.9), picture_px=(1600, 1200))
    height, width = made.picture.pixels.shape[:2]
    wave = 9.0 * np.sin(np.pi * np.arange(width) / width)
    xs, ys = np.meshgrid(np.arange(width, dtype=np.float32), np.arange(height, dtype=np.float32))
    bent = cv2.remap(made.picture.pixels, xs, (ys - wave).astype(np.float32), cv2.INTER_LINEAR)
    fit = fit_page(find_marks(cv2.cvtColor(bent, cv2.COLOR_RGB2GRAY)), PAGE, (width, height))
    centres = np.array([box.centre_mm for box in PAGE.boxes])
    true = made.view.map(centres)
    true[:, 1] += 9.0 * np.sin(np.pi * true[:, 0] / width)
    assert np.linalg.norm(fit.map(centres) - true, axis=1).max() / fit.px_per_mm < 1.0


def test_many_places_are_mapped_as_single_ones_are():
    """The lattice differs from the exact map by less than 0.02 mm."""
    fit = fit_of(photo(2, curl_rad=0.3))
    places = np.random.default_rng(0).uniform([10, 10], [200, 287], (500, 2))
    apart = np.linalg.norm(fit.map_many(places) - fit.map(places), axis=1)
    assert apart.max() / fit.px_per_mm < 0.02


def test_missing_marks_are_named_and_six_are_enough():
    """With two marks covered the page is still placed, and the two are told."""
    made = photo(3, pose=pictures.Pose(turn_deg=90, tilt_deg=15, fill=0.9))
    grey = grey_of(made)
    marks = find_marks(grey)
    del marks[1], marks[4]
    fit = fit_page(marks, PAGE, (grey.shape[1], grey.shape[0]))
    assert fit.marks_missing == (1, 4)
    assert made.boxes_off_mm(fit).max() < 1.0


def test_too_few_marks_are_refused_with_the_missing_ones_named():
    """Three marks are refused in a sentence that says which are missing."""
    grey = grey_of(photo(3, pose=pictures.Pose(turn_deg=90, fill=0.9)))
    marks = {number: corners for number, corners in find_marks(grey).items() if number < 3}
    with pytest.raises(SheetError, match=r"only 3 of the 8 .*right middle"):
        fit_page(marks, PAGE, (grey.shape[1], grey.shape[0]))


def test_marks_in_one_half_of_the_page_are_refused():
    """Four marks that span little of the page are refused, since the rest would be guessed."""
    grey = grey_of(photo(3, pose=pictures.Pose(turn_deg=90, fill=0.9)))
    marks = {number: corners for number, corners in find_marks(grey).items() if number in (0, 1, 2, 3)}
    with pytest.raises(SheetError, match="span only"):
        fit_page(marks, PAGE, (grey.shape[1], grey.shape[0]))


def test_marks_that_do_not_lie_as_printed_are_refused():
    """Marks shuffled among each other give no page."""
    grey = grey_of(photo(3, pose=pictures.Pose(turn_deg=90, fill=0.9)))
    marks = find_marks(grey)
    shuffled = dict(zip(marks, [marks[number] for number in (2, 5, 0, 7, 1, 6, 3, 4)], strict=True))
    with pytest.raises(SheetError):
        fit_page(shuffled, PAGE, (grey.shape[1], grey.shape[0]))


def test_one_misread_mark_is_left_out():
    """A mark read 6 mm away from its place does not pull the page along."""
    made = photo(3, pose=pictures.Pose(turn_deg=90, fill=0.9))
    grey = grey_of(made)
    marks = find_marks(grey)
    marks[5] = marks[5] + 6.0 * fit_of(made).px_per_mm
    fit = fit_page(marks, PAGE, (grey.shape[1], grey.shape[0]))
    assert 5 in fit.marks_missing
    assert made.boxes_off_mm(fit).max() < 1.0


def test_pages_are_told_apart_by_their_marks():
    """Marks of page two are not taken for page one."""
    assert find_pages({8: np.zeros((4, 2)), 9: np.zeros((4, 2))}, SPEC.pages) == []
    assert find_pages({0: np.zeros((4, 2))}, SPEC.pages) == [PAGE]


def test_blur_is_measured_in_page_millimetres():
    """A picture blurred by a Gauss window of 4 px shows edges that much wider: 2.56 sigma from 10 to 90 %."""
    made = photo(4, pose=pictures.Pose(turn_deg=90, fill=0.95), picture_px=(1600, 1200), blur_px=0.5)
    grey = grey_of(made)
    fit = fit_of(made)
    blurred = cv2.GaussianBlur(grey, (0, 0), 4.0)
    wanted = 2.563 * 4.0 / fit.px_per_mm
    assert measure_blur_mm(grey, fit) < 0.6
    assert measure_blur_mm(blurred, fit) == pytest.approx(wanted, abs=0.45)


def scanned_corners(rng, stretch, dpi=150, noise_px=0.15):
    """Corners of the page's marks in a turned scan whose feed stretches one axis, and the true map."""
    turn = np.deg2rad(rng.uniform(-2, 2))
    turned = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])

    def true(mm):
        return (np.asarray(mm) @ np.diag([1.0, 1.0 + stretch]) @ turned.T + 20) * dpi / 25.4

    corners = {mark.id: true(mark.corners_mm) + rng.normal(0, noise_px, (4, 2)) for mark in PAGE.marks}
    return corners, true


@pytest.mark.parametrize("stretch", [-0.01, 0.002, 0.003, 0.01])
def test_a_scan_stretched_along_one_axis_is_read_and_told(stretch):
    for seed in range(8):
        corners, true = scanned_corners(np.random.default_rng([44, seed]), stretch)
        fit = fit_page(corners, PAGE, (1300, 1850))
        centres = np.array([box.centre_mm for box in PAGE.boxes])
        assert np.linalg.norm(fit.map(centres) - true(centres), axis=1).max() < 0.05 * 150 / 25.4
        assert fit.rung == "affine"
        assert fit.looks_scanned
        assert fit.stretch == pytest.approx(stretch, abs=3e-4)
        assert ("width" if stretch < 0 else "height") in stretch_words(fit)


def test_the_ladder_goes_no_higher_than_the_page_needs():
    rng = np.random.default_rng(45)
    for pose, rung in (
        (pictures.Pose(tilt_deg=25, tilt_towards_deg=40), "perspective"),
        (pictures.Pose(tilt_deg=25, tilt_towards_deg=40, curl_rad=0.2), "bend"),
    ):
        view = pictures.View(pose, PAGE.size_mm, (1600, 1200))
        corners = {mark.id: view.map(mark.corners_mm) + rng.normal(0, 0.1, (4, 2)) for mark in PAGE.marks}
        assert fit_page(corners, PAGE, (1600, 1200)).rung == rung
