"""What of a photo is looked at: all of it in blocks, or a finely patterned one in tiles from close by.

Light is averaged in proportion, as an eye from further off does.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendkit.picture import Picture

Floats = NDArray[np.float64]

_PIXELS = 120_000
"""Pixels that the photo is averaged down to, at most."""

_TILE = 48
_SPREAD = 0.07
_DETAILED = 0.3
"""A photo is finely patterned where more than this share of its blocks vary by more than *_SPREAD* (standard
deviation of the codes, 0 to 1); it is then looked at in tiles of *_TILE* smaller blocks a side."""


def averaged(codes: NDArray[Any], curves: Floats, block: int) -> Floats:
    """Linear RGB of codes (height, width, 3) averaged over square blocks, shape (rows, columns, 3).

    What is left over at the right and lower edge, less than a block, is not looked at.
    """
    rows, columns = codes.shape[0] // block, codes.shape[1] // block
    light = curves.astype(np.float32)
    averaged = np.empty((rows, columns, 3))
    strip = max(1, 400_000 // (block * codes.shape[1]))
    for top in range(0, rows, strip):
        bottom = min(rows, top + strip)
        part = codes[top * block : bottom * block, : columns * block]
        for channel in range(3):
            blocks = light[channel][part[..., channel]].reshape(bottom - top, block, columns, block)
            averaged[top:bottom, :, channel] = blocks.mean(axis=(1, 3), dtype=np.float64)
    return averaged


def _block_px(picture: Picture, pixels: int) -> int:
    """Side of the blocks that bring a picture down to about *pixels*."""
    block = int(np.ceil(np.sqrt(picture.height_px * picture.width_px / pixels)))
    return min(max(1, block), picture.height_px, picture.width_px)


@dataclass(frozen=True, eq=False)
class View:
    """What is looked at: linear RGB (rows, columns, 3), where each place lies in the photo, and a note."""

    linear: Floats
    x_px: NDArray[np.int64]
    y_px: NDArray[np.int64]
    note: str = ""


def view_photo(picture: Picture) -> View:
    """Look at the whole photo in blocks; at a finely patterned one, closely in tiles spread over it.

    Blocks would mix the colours of a pattern that is finer than they are.
    """
    block = _block_px(picture, _PIXELS)
    curves = picture.encoding.curves
    if block < 2 or _detailed_share(picture, block) <= _DETAILED:
        linear = averaged(picture.pixels, curves, block)
        y, x = np.mgrid[0 : linear.shape[0], 0 : linear.shape[1]] * block + block // 2
        return View(linear, x, y)
    fine = max(1, block // 4)
    side = _TILE * fine
    height, width = picture.height_px, picture.width_px
    down = min(max(1, round(np.sqrt(_PIXELS / _TILE**2 * height / width))), height // side)
    across = min(max(1, round(_PIXELS / _TILE**2 / down)), width // side)
    if down < 1 or across < 1:
        return View(*_tile(picture, 0, 0, height, width, fine))
    tops = np.linspace(0, height - side, down + 2)[1:-1].astype(int)
    lefts = np.linspace(0, width - side, across + 2)[1:-1].astype(int)
    bands = [[_tile(picture, top, left, side, side, fine) for left in lefts] for top in tops]
    linear, x, y = (
        np.concatenate([np.concatenate([tile[part] for tile in band], axis=1) for band in bands])
        for part in range(3)
    )
    note = (
        f"The photo is finely patterned, so it was looked at closely in {down * across} places spread over it; "
        "a small spot between them may be missed."
    )
    return View(linear, x, y, note)


def _tile(
    picture: Picture, top: int, left: int, height: int, width: int, block: int
) -> tuple[Floats, NDArray[np.int64], NDArray[np.int64]]:
    """Linear RGB of a part of the photo in small blocks, and the x and y of each block."""
    codes = picture.pixels[top : top + height, left : left + width]
    linear = averaged(codes, picture.encoding.curves, block)
    y, x = np.mgrid[0 : linear.shape[0], 0 : linear.shape[1]] * block + block // 2
    return linear, x + left, y + top


def _detailed_share(picture: Picture, block: int) -> float:
    """Share of the blocks within which the photo varies much, judged on every fourth row of blocks."""
    rows, columns = picture.height_px // block, picture.width_px // block
    full = np.iinfo(picture.pixels.dtype).max
    detailed = counted = 0
    for row in range(rows // 8 % 4, rows, 4):
        codes = picture.pixels[row * block : (row + 1) * block, : columns * block]
        blocks = codes.reshape(block, columns, block, 3).astype(np.float32) / full
        spread = blocks.std(axis=(0, 2)).max(axis=-1)
        detailed += int(np.count_nonzero(spread > _SPREAD))
        counted += columns
    return detailed / max(1, counted)
