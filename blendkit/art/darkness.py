"""How dark each place of a picture is, from bare paper to full ink, at one scale for every picture.

This is all that the learned look sees, in training and in use.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

LOOK_PX_PER_MM = 8.0
"""Pixels to a millimetre of the picture that the learned look is given: a line of 0.2 mm is 1.6 pixels wide."""

PAPER_TILE_PX = 8
"""Side of the tiles on which the paper's level is estimated: 1 mm. Own judgement, as are the next."""

PAPER_REACH_TILES = 4
"""Dark things narrower than twice this many tiles and one are filled in with the paper beside them."""

LEAST_INK, INK_SHARE = 0.3, 0.85
"""Ink is never held to be weaker than the first; its full level is this quantile of what is darker than half of
LEAST_INK."""


def find_darkness(grey: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Divide out the paper's level, so that paper is 0 and full ink 1.

    Args:
        grey: uint8 (h, w), dark lines on lighter paper, at LOOK_PX_PER_MM.

    Returns: float32 (h, w), 0 to 1.
    """
    height, width = grey.shape
    size = max(2, width // PAPER_TILE_PX), max(2, height // PAPER_TILE_PX)
    tiles = cv2.resize(cv2.medianBlur(np.ascontiguousarray(grey), 3), size, interpolation=cv2.INTER_AREA)
    reach = 2 * PAPER_REACH_TILES + 1
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
    closed = cv2.morphologyEx(cv2.dilate(tiles, np.ones((3, 3), np.uint8)), cv2.MORPH_CLOSE, kernel)
    level = cv2.GaussianBlur(cv2.erode(closed, np.ones((3, 3), np.uint8)), (0, 0), PAPER_REACH_TILES / 2)
    paper = cv2.resize(level, (width, height), interpolation=cv2.INTER_LINEAR).astype(np.float32)
    dark = 1 - grey / np.maximum(paper, 1)
    inked = dark[::2, ::2]
    inked = inked[inked > LEAST_INK / 2]
    full = max(LEAST_INK, float(np.quantile(inked, INK_SHARE))) if inked.size > 50 else 1.0
    return np.asarray(np.clip(dark / full, 0, 1), np.float32)
