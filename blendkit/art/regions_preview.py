"""A picture of the parts for the person who checks them: soft colours, numbers, and the gaps that were closed."""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from blendkit.art.regions import Regions
from blendkit.colour import labs_to_display_srgb1, lch_to_lab

GOLDEN_TURN_DEG = 137.508
"""Successive hues this far apart stay distinct however many there are."""

CLOSED = (214, 40, 40)
HARMLESS = (150, 120, 190)
OPEN = (20, 110, 200)


def part_colours(count: int) -> NDArray[np.uint8]:
    """Soft colours for parts 0 (paper, white) to *count*: uint8 sRGB (count + 1, 3)."""
    k = np.arange(count)
    lightness = np.array([86.0, 80.0, 90.0])[k % 3]
    lch = np.column_stack([lightness, np.where(k % 2, 24.0, 34.0), (40 + GOLDEN_TURN_DEG * k) % 360])
    colours = np.full((count + 1, 3), 255, np.uint8)
    if count:
        colours[1:] = np.round(np.asarray(labs_to_display_srgb1(lch_to_lab(lch))) * 255).astype(np.uint8)
    return colours


def draw_parts(regions: Regions, longest_px: int = 1800, numbers: bool = True) -> NDArray[np.uint8]:
    """Draw the parts in soft distinct colours under the black line, numbered, with the closures marked.

    Red, ringed: a closure that parts two parts (switching it off joins them). Violet: one that parts nothing.
    Blue circles: one that is switched off.

    Args:
        regions: the parts.
        longest_px: longest side of the drawing that is made.
        numbers: write each part's number in it.

    Returns: uint8 sRGB (h, w, 3).
    """
    width, height = regions.size_px
    zoom = longest_px / max(width, height)
    size = max(1, round(width * zoom)), max(1, round(height * zoom))
    painted = part_colours(len(regions.parts))[regions.labels]
    bare = 255 - regions.line
    inked = cv2.multiply(painted, cv2.merge([bare, bare, bare]), scale=1 / 255)
    how = cv2.INTER_AREA if zoom < 1 else cv2.INTER_CUBIC
    canvas = np.asarray(cv2.resize(inked, size, interpolation=how), np.uint8)
    thick = max(2, round(regions.pen_px * zoom * 0.35))
    for closure in regions.closures:
        path = np.round((np.array(closure.path_px) + 0.5) * zoom * 8).astype(np.int32)
        if closure.on:
            colour = CLOSED if closure.between[0] != closure.between[1] else HARMLESS
            cv2.polylines(canvas, [path], False, colour, thick, cv2.LINE_AA, 3)
            if colour is CLOSED:
                middle = path.mean(axis=0).round().astype(int)
                radius = round(max(9.0, 2.2 * regions.pen_px * zoom) * 8)
                cv2.circle(canvas, (int(middle[0]), int(middle[1])), radius, CLOSED, 2, cv2.LINE_AA, 3)
        else:
            middle = path[len(path) // 2]
            centre = (int(middle[0]), int(middle[1]))
            cv2.circle(canvas, centre, round(regions.pen_px * zoom * 8), OPEN, 2, cv2.LINE_AA, 3)
    return _with_numbers(canvas, regions, zoom) if numbers else canvas


def _with_numbers(canvas: NDArray[np.uint8], regions: Regions, zoom: float) -> NDArray[np.uint8]:
    from PIL import Image, ImageDraw, ImageFont

    image = Image.fromarray(canvas)
    pen = ImageDraw.Draw(image)
    fonts: dict[int, Any] = {}
    for part in regions.parts:
        text = str(part.number)
        fit = part.radius_px * zoom * (1.5 if len(text) == 1 else 1.15 if len(text) == 2 else 0.9)
        height = int(min(max(fit, 9), max(canvas.shape[:2]) / 45))
        font = fonts.setdefault(height, ImageFont.load_default(height))
        x, y = ((value + 0.5) * zoom for value in part.point_px)
        pen.text((x, y), text, (35, 35, 45), font=font, anchor="mm", stroke_width=1 + height // 14,
                 stroke_fill=(255, 255, 255))  # fmt: skip
    return np.asarray(image, np.uint8)
