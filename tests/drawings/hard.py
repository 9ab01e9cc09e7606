"""Known scenes as hard stamps: fur, hatching, patchy ink, a photo on a table, white ink; the truth from geometry.

The fur, hatching and wear here are drawn otherwise than those of ``endless``, from which the learned look learned.
"""

import math
from collections.abc import Callable
from unittest import mock

import cv2
import numpy as np
from numpy.typing import NDArray

from drawings import sketch
from drawings.sketch import Drawing, Sketch

CONDITIONS = "clean", "scan", "fur", "hatched", "fur and hatched", "patchy", "photo", "cropped", "white ink"


def _ticks(rng: np.random.Generator) -> Callable[..., None]:
    """Stand in for the pen that follows a path: closed outlines become overlapping ticks that lean outward."""

    def paint(ink, path, radius, keep, scale):
        closed = np.hypot(*(path[0] - path[-1])) < 0.5 and len(path) > 120
        if not closed:
            return plain(ink, path, radius, keep, scale)
        every = 5  # 0.6 mm
        centre = path.mean(0)
        for k in range(0, len(path), every):
            if rng.random() < 0.06:
                continue
            along = path[(k + 2) % len(path)] - path[k - 2]
            out = path[k] - centre
            normal = np.array([-along[1], along[0]]) / (np.hypot(*along) + 1e-9)
            normal = normal if normal @ out > 0 else -normal
            lean = along / (np.hypot(*along) + 1e-9) + normal * rng.uniform(0.15, 0.6)
            tick = lean / np.hypot(*lean) * rng.uniform(1.0, 2.0)
            points = np.round((path[k] + np.outer([-0.4, 0.1, 0.6], tick)) * scale * 16).astype(np.int32)
            cv2.polylines(ink, [points], False, 255, max(1, round(1.3 * radius[k] * scale)), cv2.LINE_8, 4)
        return None

    plain = sketch._paint
    return paint


def hatched(drawing: Drawing, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Half of the larger parts get parallel strokes, crossed strokes or dots over a piece of them."""
    grey = drawing.grey.copy()
    pixel = drawing.dpi / 25.4
    y, x = np.mgrid[0 : grey.shape[0], 0 : grey.shape[1]]
    for part in range(1, drawing.parts + 1):
        where = drawing.truth == part
        if where.sum() < 15 * pixel**2 or rng.random() < 0.5:
            continue
        kind, angle = rng.choice(["one", "two", "dots"]), rng.uniform(0, math.pi)
        some = where & (
            (x - x[where].mean()) * math.cos(angle + 1) > (y[where].mean() - y) * math.sin(angle + 1)
        )
        spacing, wide = rng.uniform(0.6, 1.1) * pixel, rng.uniform(0.12, 0.25) * pixel
        if kind == "dots":
            rows, columns = np.nonzero(some)
            for k in rng.integers(0, max(1, len(rows)), int(some.sum() / pixel**2 * 1.5)):
                cv2.circle(
                    grey, (int(columns[k]), int(rows[k])), max(1, round(0.1 * pixel)), 20, -1, cv2.LINE_AA
                )
            continue
        for turn in (0, 1.2) if kind == "two" else (0,):
            across = x * math.sin(angle + turn) + y * math.cos(angle + turn) + 0.1 * pixel * np.sin(x / 9)
            grey[some & (across % spacing < wide)] = 20
    return grey


def patchy(
    grey: NDArray[np.uint8], pixel: float, rng: np.random.Generator, share: float
) -> NDArray[np.uint8]:
    """Take round bites out of *share* of the ink, and thin the rest unevenly."""
    ink = 255 - grey.astype(np.float32)
    rows, columns = np.nonzero(grey < 128)
    least, lost = (1 - share) * len(rows), np.zeros(grey.shape, np.uint8)
    left = len(rows)
    while left > least:
        for k in rng.integers(0, len(rows), 12):
            cv2.circle(lost, (int(columns[k]), int(rows[k])), round(rng.uniform(0.15, 0.9) * pixel), 1, -1)
        left = int((lost[rows, columns] == 0).sum())
    ink *= 1 - cv2.GaussianBlur(lost.astype(np.float32), (0, 0), 0.06 * pixel)
    ink *= np.clip(0.85 + 0.15 * sketch._texture(rng, *grey.shape, 2.5 * pixel), 0.3, 1)
    return np.asarray(255 - ink, np.uint8)


def on_table(rgb, pixel: float, rng: np.random.Generator, cropped: bool):
    """Lay the sheet on a table, under light from one side with a hand's shadow.

    Returns: RGB, and the 3 x 3 from the sheet's pixels to the photo's.
    """
    height, width = rgb.shape[:2]
    edge = 0.0 if cropped else 0.22 * max(height, width)
    size = int(width + 2 * edge), int(height + 2 * edge)
    y, x = np.mgrid[0 : size[1], 0 : size[0]].astype(np.float32)
    grain = 0.5 + 0.5 * np.sin(y / (0.9 * pixel) + 3 * sketch._texture(rng, size[1], size[0], 14 * pixel))
    colour = np.array(
        [[0.5, 0.33, 0.2], [0.34, 0.36, 0.38], [0.25, 0.2, 0.17]][int(rng.integers(3))], np.float32
    )
    table = (0.75 + 0.35 * grain)[..., None] * colour
    corners = np.float32([[0, 0], [width, 0], [width, height], [0, height]])
    moved = corners + edge + rng.uniform(-0.035, 0.035, (4, 2)).astype(np.float32) * [width, height]
    if not cropped:
        turn = cv2.getRotationMatrix2D((size[0] / 2, size[1] / 2), rng.uniform(-6, 6), 1)
        moved = moved @ turn[:, :2].T + turn[:, 2]
    matrix = cv2.getPerspectiveTransform(corners, np.asarray(moved, np.float32))
    border = cv2.BORDER_REPLICATE if cropped else cv2.BORDER_CONSTANT
    sheet = cv2.warpPerspective(rgb.astype(np.float32) / 255 * 0.93, matrix, size, borderMode=border)
    if not cropped:
        inside = cv2.warpPerspective(np.ones((height, width), np.float32), matrix, size)[..., None]
        sheet = sheet * inside + table * (1 - inside)
    a = rng.uniform(0, 6.3)
    u, v = x / size[0] - 0.5, y / size[1] - 0.5
    light = 1 - rng.uniform(0.2, 0.45) * (0.5 + u * math.cos(a) + v * math.sin(a))
    hand = u * math.cos(a + 2) + v * math.sin(a + 2) + 0.06 * np.sin(9 * v) - 0.18
    light = light * (1 - rng.uniform(0.25, 0.45) / (1 + np.exp(-np.clip(hand / 0.012, -40, 40))))
    photo = cv2.GaussianBlur(sheet * light[..., None] * np.float32([1, 0.95, 0.85]), (0, 0), 0.05 * pixel)
    photo = photo + rng.normal(0, 0.012, photo.shape)
    return np.clip(photo * 255, 0, 255).astype(np.uint8), matrix


def hard_stamp(scene: Callable[[], Sketch], condition: str, dpi: float = 300, seed: int = 0):
    """Draw a scene under one of CONDITIONS.

    Returns: RGB uint8 (h, w, 3); the drawing, with its truth; the 3 x 3 from its pixels to the picture's.
    """
    rng = np.random.default_rng(seed + 4)
    pen_mm = 0.3 + 0.3 * rng.random()
    if "fur" in condition:
        with mock.patch.object(sketch, "_paint", _ticks(rng)):
            furry = sketch.draw(scene(), dpi, pen_mm, seed)
        clean = sketch.draw(scene(), dpi, pen_mm, seed)
        drawing = Drawing(furry.grey, clean.truth, clean.parts, 0, clean.pen_px, dpi)
    else:
        drawing = sketch.draw(scene(), dpi, pen_mm, seed)
    grey, pixel, matrix = drawing.grey, dpi / 25.4, np.eye(3)
    if "hatched" in condition:
        grey = hatched(drawing, rng)
    if condition == "patchy":
        grey = patchy(grey, pixel, rng, rng.uniform(0.03, 0.1))
    rgb = np.dstack([grey] * 3)
    if condition in ("scan", "patchy"):
        rgb = sketch.scan(Drawing(grey, drawing.truth, drawing.parts, 0, drawing.pen_px, dpi), seed)
    if condition in ("photo", "cropped"):
        rgb, matrix = on_table(rgb, pixel, rng, condition == "cropped")
    if condition == "white ink":
        card = np.array([[170, 125, 75], [45, 50, 70]][seed % 2], np.float32)
        rough = 1 + 0.06 * sketch._texture(rng, *grey.shape, 0.2 * pixel)
        ink = (1 - grey.astype(np.float32) / 255)[..., None]
        rgb = np.clip(card * rough[..., None] * (1 - ink) + 238 * ink, 0, 255).astype(np.uint8)
    return rgb, drawing, matrix
