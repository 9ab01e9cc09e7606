"""The demonstration drawings are what their script draws, and their truth fits their lines."""

import sys
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

ROOT = Path(__file__).resolve().parents[1]
LINE_ART = ROOT / "examples" / "line_art"
sys.path.insert(0, str(LINE_ART))
try:
    from draw_line_art import DRAWINGS
    from inking import render, scanned, smooth
finally:
    sys.path.remove(str(LINE_ART))


@pytest.fixture(scope="module")
def sheets():
    return {name: render(draw(), 120) for name, draw in DRAWINGS.items()}


def test_there_are_at_least_three_drawings():
    assert len(DRAWINGS) >= 3


@pytest.mark.silver
@pytest.mark.parametrize("name", sorted(DRAWINGS))
def test_the_stored_picture_is_what_the_script_draws(name):
    with Image.open(LINE_ART / f"{name}.png") as picture:
        assert picture.info["dpi"] == pytest.approx((600, 600), abs=1)
        stored = 1 - np.asarray(picture.convert("L"), dtype=np.float32) / 255
    line = render(DRAWINGS[name](), 300).line
    h, w = line.shape[0] - 1, line.shape[1] - 1
    halved = stored[: 2 * h, : 2 * w].reshape(h, 2, w, 2).mean(axis=(1, 3))
    assert np.abs(halved - line[:h, :w]).mean() < 0.01
    assert np.corrcoef(halved.ravel(), line[:h, :w].ravel())[0, 1] > 0.97


@pytest.mark.parametrize("name", sorted(DRAWINGS))
def test_the_stored_scan_is_the_same_drawing_slightly_turned(sheets, name):
    with Image.open(LINE_ART / f"{name}_scan.jpg") as picture:
        assert picture.info["dpi"] == (300, 300)
        stored = 1 - np.asarray(picture.convert("L"), dtype=np.float32) / 255
    line = cv2.GaussianBlur(sheets[name].line, (0, 0), 4)
    small = cv2.GaussianBlur(cv2.resize(stored, line.shape[::-1], interpolation=cv2.INTER_AREA), (0, 0), 4)
    assert np.corrcoef(small.ravel(), line.ravel())[0, 1] > 0.8


@pytest.mark.parametrize("name", sorted(DRAWINGS))
def test_every_part_is_one_white_area_and_borders_lie_under_lines(sheets, name):
    sheet = sheets[name]
    labels = sheet.labels
    assert labels.max() == len(sheet.names) - 1 == len(sheet.level) - 1
    assert len(np.unique(labels)) == labels.max() + 1
    across = (labels[:, 1:] != labels[:, :-1]) & (labels[:, 1:] > 0) & (labels[:, :-1] > 0)
    ink = np.maximum(sheet.line[:, 1:], sheet.line[:, :-1])
    assert (ink[across] > 0.3).mean() > 0.98


def test_a_smooth_curve_passes_through_its_points_and_keeps_its_corners():
    points = [(0, 0, 1), (10, 0, 1), (10, 10), (0, 10)]
    curve = smooth(points)
    for x, y, *_ in points:
        assert np.hypot(curve[:, 0] - x, curve[:, 1] - y).min() < 1e-9
    straight = curve[(curve[:, 1] < 1e-9) & (curve[:, 1] > -1e-9)]
    assert len(straight) >= 40


def test_the_same_seed_gives_the_same_scan():
    line = np.zeros((60, 60), np.float32)
    line[20:24, 10:50] = 1
    assert (scanned(line, 150, seed=3) == scanned(line, 150, seed=3)).all()
    assert (scanned(line, 150, seed=3) != scanned(line, 150, seed=4)).any()
