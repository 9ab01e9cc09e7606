"""Marks that a camera finds and the square code that says which page it sees, each as one filled shape.

A mark is a square of 8 by 8 cells: a black border one cell wide about the 6 by 6 cells of its number. It
needs white about it, at least one cell wide, to be found.
"""

from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendkit.errors import SheetError
from blendkit.page.page import Path2D

Cells = NDArray[np.bool_]

MARKS_IN_DICTIONARY = 250
"""Numbers in DICT_ARUCO_MIP_36H12, from 0. Source: OpenCV, aruco dictionary list."""

CODE_LETTERS = frozenset("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:")
"""What the code holds at 5.5 bits a letter. Source: ISO/IEC 18004, alphanumeric mode."""


def mark_cells(number: int) -> Cells:
    """Give the 8 by 8 cells of mark *number*, true where black, as read upright.

    Raises: SheetError for a number that the dictionary lacks.
    """
    if not 0 <= number < MARKS_IN_DICTIONARY:
        raise SheetError(
            f"there is no camera mark {number}; they are numbered 0 to {MARKS_IN_DICTIONARY - 1}"
        )
    image = _dictionary().generateImageMarker(number, 8, borderBits=1)
    return np.asarray(image) < 128


def mark_shape(number: int, x_mm: float, y_mm: float, size_mm: float) -> Path2D:
    """Draw mark *number*, *size_mm* square, its top left corner at (x_mm, y_mm). Raises as mark_cells."""
    return draw_cells(mark_cells(number), x_mm, y_mm, size_mm / 8)


def code_cells(text: str) -> Cells:
    """Give the cells of the QR code of *text*, true where black, without the white margin of four cells.

    15 % of it may be lost (error level M).

    Raises: SheetError when *text* holds a letter outside CODE_LETTERS.
    Source: ISO/IEC 18004.
    """
    import segno

    if strange := sorted(set(text) - CODE_LETTERS):
        raise SheetError(f"a page's code can't hold {' '.join(strange)}: {text}")
    code = segno.make_qr(text, error="m", mode="alphanumeric", boost_error=False)
    return np.array([list(row) for row in code.matrix], dtype=bool)


def code_shape(text: str, x_mm: float, y_mm: float, size_mm: float) -> Path2D:
    """Draw the QR code of *text*, *size_mm* square without its white margin. Raises as code_cells."""
    cells = code_cells(text)
    return draw_cells(cells, x_mm, y_mm, size_mm / len(cells))


def draw_cells(cells: Cells, x_mm: float, y_mm: float, cell_mm: float, ink: str = "#000000") -> Path2D:
    """Draw the true *cells* (rows, columns) as one filled shape, so that no hairline shows between them."""
    outlines = tuple(
        tuple((x_mm + column * cell_mm, y_mm + row * cell_mm) for row, column in outline)
        for outline in find_outlines(cells)
    )
    return Path2D(outlines, fill=ink)


def find_outlines(cells: Cells) -> tuple[tuple[tuple[int, int], ...], ...]:
    """Find the edges of the true *cells*, as closed outlines of (row, column) corners, holes included.

    Filled by the even-odd rule they cover the true cells and nothing else. Corners on a straight edge are
    left out.
    """
    padded = np.pad(np.asarray(cells, dtype=bool), 1)
    following: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for row, column in np.argwhere(padded).tolist():
        # Each edge is walked with the cell to its right.
        for drow, dcolumn, start, end in (
            (-1, 0, (0, 0), (0, 1)),
            (0, 1, (0, 1), (1, 1)),
            (1, 0, (1, 1), (1, 0)),
            (0, -1, (1, 0), (0, 0)),
        ):
            if not padded[row + drow, column + dcolumn]:
                a = (row + start[0] - 1, column + start[1] - 1)
                following.setdefault(a, []).append((row + end[0] - 1, column + end[1] - 1))
    outlines = []
    while following:
        first = min(following)
        outline, here = [first], following[first].pop()
        while here != first:
            outline.append(here)
            here = following[here].pop()
        following = {corner: ends for corner, ends in following.items() if ends}
        outlines.append(_without_straight_corners(outline))
    return tuple(outlines)


def _without_straight_corners(outline: list[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    kept = []
    for place, corner in enumerate(outline):
        before, after = outline[place - 1], outline[(place + 1) % len(outline)]
        if not (before[0] == corner[0] == after[0] or before[1] == corner[1] == after[1]):
            kept.append(corner)
    return tuple(kept)


@lru_cache(maxsize=1)
def _dictionary() -> Any:
    import cv2

    return cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_ARUCO_MIP_36H12)
