"""Where the number of each closed area can be read: in its widest free spot, or beside it with a leader line."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blendkit.page.page import CAP_HEIGHT_MM
from blendkit.words import MM_PER_INCH

WORK_PER_MM = 8.0
"""Places are sought on about this many pixels a millimetre."""

CLEAR_INK = 60
"""Line tone (of 255) up to which paper counts as free."""

CLEAR_MM = 0.15
"""Free paper that a number keeps around it."""

DIGIT_EM = 0.572
"""Advance of a bold figure in the package's own font."""

REACHES = (1.0, 1.4, 1.9, 2.5, 3.2, 4.0, 5.0, 6.2, 7.6, 9.2, 11.0, 14.0, 18.0, 24.0)
TURNS = 48
"""Lengths of leader lines that are tried, in heights of the number's box and half that, and directions."""

Floats = NDArray[np.float64]
Size = tuple[float, float]


@dataclass(frozen=True, slots=True)
class NumberPlace:
    """Where a number stands.

    Args:
        area: the closed area that it belongs to.
        x_mm, y_mm: its middle.
        size: which of the sizes that were wanted; -1 beside the area.
        end_mm: where its leader line ends in the area; None within it.
    """

    area: int
    x_mm: float
    y_mm: float
    size: int
    end_mm: tuple[float, float] | None = None


def number_size_mm(text: str, size_pt: float) -> Size:
    """Width and height of a bold number."""
    return len(text) * DIGIT_EM * size_pt * MM_PER_INCH / 72, size_pt * CAP_HEIGHT_MM


class NumberGround:
    """A drawing, and the numbers that were placed on it so far: none stands on a line or on another one.

    Args:
        labels: closed areas, 0 outside, shape (h, w).
        line: line tone, 0 paper to 255 ink, same shape.
        per_mm: pixels to a millimetre.
    """

    def __init__(self, labels: NDArray[np.int32], line: NDArray[np.uint8], per_mm: float) -> None:
        import cv2
        from scipy.ndimage import find_objects

        step = max(1, round(per_mm / WORK_PER_MM))
        self.areas = np.ascontiguousarray(labels[step // 2 :: step, step // 2 :: step])
        self.per_mm = per_mm / step
        size = self.areas.shape[1], self.areas.shape[0]
        self.ink = np.asarray(cv2.resize(line, size, interpolation=cv2.INTER_AREA))
        self.boxes = find_objects(self.areas)
        self.taken = np.zeros(self.areas.shape, bool)
        self.lines: list[tuple[Floats, Floats]] = []

    def within(self, area: int, sizes: Sequence[Size]) -> NumberPlace | None:
        """Place a number in an area where most room is around it.

        Args:
            area: the area.
            sizes: width and height in mm that it may take, best first; a ring is as wide as high.

        Returns: its place; None where no size fits.
        """
        import cv2

        free, left, top = self._free(area)
        for rank, (w_mm, h_mm) in enumerate(sizes):
            w, h = (math.ceil((side + 2 * CLEAR_MM) * self.per_mm) | 1 for side in (w_mm, h_mm))
            if h > free.shape[0] or w > free.shape[1]:
                continue
            shape = cv2.MORPH_ELLIPSE if w == h else cv2.MORPH_RECT
            box = cv2.getStructuringElement(shape, (w, h))
            fits = cv2.erode(free, box, borderType=cv2.BORDER_CONSTANT, borderValue=0)
            if not fits.any():
                continue
            y, x = np.unravel_index(np.argmax(cv2.distanceTransform(fits, cv2.DIST_L2, 5)), fits.shape)
            place = self._mm(int(x) + left, int(y) + top)
            self._take(*place, w_mm, h_mm)
            return NumberPlace(area, *place, rank)
        return None

    def beside(self, area: int, size: Size) -> NumberPlace:
        """Place a number on the clearest paper near an area, outside the figure where that is not too far.

        Args:
            area: the area.
            size: width and height in mm that it takes.
        """
        end = np.array(self._middle(area))
        w, h = size
        reach = np.repeat(np.array(REACHES) * h + w / 2, TURNS)
        turn = np.tile(np.arange(TURNS) * 2 * np.pi / TURNS, len(REACHES))
        places = end + reach[:, None] * np.stack([np.cos(turn), np.sin(turn)], axis=1)
        high, wide = self.areas.shape
        px = places * self.per_mm
        margin = np.array([w, h]) / 2 * self.per_mm + 1
        inside = ((px >= margin) & (px < np.array([wide, high]) - margin)).all(axis=1)
        if not inside.any():
            return NumberPlace(area, float(end[0]), float(end[1]), -1)
        places, reach = places[inside], reach[inside]
        cost = reach + self._costs(places, size, end)
        x, y = places[np.argmin(cost)].tolist()
        self._take(x, y, w, h)
        self.lines.append((np.array([x, y]), end))
        return NumberPlace(area, x, y, -1, (float(end[0]), float(end[1])))

    def _costs(self, places: Floats, size: Size, end: Floats) -> Floats:
        """What speaks against each of some places, (n, 2), in millimetres of leader line."""
        high, wide = self.areas.shape
        half = np.array(size) / 2
        low = np.maximum(np.floor((places - half) * self.per_mm).astype(int), 0)
        top = np.minimum(np.ceil((places + half) * self.per_mm).astype(int), [wide, high])
        ink, figure, taken = (
            _share_within(mask, low, top) for mask in (self.ink > CLEAR_INK, self.areas > 0, self.taken)
        )
        along = places[:, None] + np.linspace(0.0, 1.0, 40)[:, None] * (end - places)[:, None]
        x, y = np.moveaxis(np.clip((along * self.per_mm).astype(int), 0, [wide - 1, high - 1]), -1, 0)
        length = np.hypot(*(end - places).T)
        over_ink = (self.ink[y, x] > CLEAR_INK).mean(axis=1) * length
        over_numbers = self.taken[y[:, 6:], x[:, 6:]].any(axis=1)
        crossed = np.array([sum(_cross(place, end, *other) for other in self.lines) for place in places])
        cost = 80 * ink + 1e6 * (taken > 0) + 3 * figure + 0.6 * over_ink + 12 * over_numbers + 15 * crossed
        return np.asarray(cost, np.float64)

    def _free(self, area: int) -> tuple[NDArray[np.uint8], int, int]:
        """Free paper of an area, where it is not taken, with the place of its first pixel."""
        rows, columns = self._box(area)
        view = rows, columns
        free = (self.areas[view] == area) & (self.ink[view] <= CLEAR_INK) & ~self.taken[view]
        return free.astype(np.uint8), columns.start, rows.start

    def _middle(self, area: int) -> tuple[float, float]:
        """The point deepest in an area's free paper, mm."""
        import cv2

        free, left, top = self._free(area)
        if not free.any():
            rows, columns = self._box(area)
            free = (self.areas[rows, columns] == area).astype(np.uint8)
        depth = cv2.distanceTransform(np.pad(free, 1), cv2.DIST_L2, 5)[1:-1, 1:-1]
        y, x = np.unravel_index(np.argmax(depth), depth.shape)
        return self._mm(int(x) + left, int(y) + top)

    def _box(self, area: int) -> tuple[slice, slice]:
        found = self.boxes[area - 1] if area <= len(self.boxes) else None
        return found or (slice(0, 1), slice(0, 1))

    def _take(self, x: float, y: float, w: float, h: float) -> None:
        self.taken[self._view(x, y, w + 2 * CLEAR_MM, h + 2 * CLEAR_MM)] = True

    def _view(self, x: float, y: float, w: float, h: float) -> tuple[slice, slice]:
        per_mm = self.per_mm
        return (
            slice(max(0, math.floor((y - h / 2) * per_mm)), max(1, math.ceil((y + h / 2) * per_mm))),
            slice(max(0, math.floor((x - w / 2) * per_mm)), max(1, math.ceil((x + w / 2) * per_mm))),
        )

    def _mm(self, x: float, y: float) -> tuple[float, float]:
        return (x + 0.5) / self.per_mm, (y + 0.5) / self.per_mm


def _share_within(mask: NDArray[np.bool_], low: NDArray[np.int_], top: NDArray[np.int_]) -> Floats:
    """Share of *mask* in boxes from *low* up to *top*, (n, 2) of x and y, by sums from the corner."""
    import cv2

    sums = cv2.integral(mask.astype(np.uint8))
    (x0, y0), (x1, y1) = low.T, top.T
    inside = sums[y1, x1] - sums[y0, x1] - sums[y1, x0] + sums[y0, x0]
    return np.asarray(inside / np.maximum((x1 - x0) * (y1 - y0), 1), np.float64)


def _cross(a: Floats, b: Floats, c: Floats, d: Floats) -> bool:
    """Whether two lines cross."""

    def side(p: Floats, q: Floats, r: Floats) -> bool:
        return bool((q[0] - p[0]) * (r[1] - p[1]) > (q[1] - p[1]) * (r[0] - p[0]))

    return side(a, c, d) != side(b, c, d) and side(a, b, c) != side(a, b, d)
