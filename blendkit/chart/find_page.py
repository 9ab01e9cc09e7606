"""Where a chart page lies in a picture: its marks found, perspective and a gentle curl undone.

Millimetres are those of the printed page, x right and y down from its top left corner; pixels have the
middle of the picture's first pixel at (0, 0).

Three models are tried, each only where the one before leaves more than noise: an affine map (a flatbed,
whose feed or whose printer may stretch one axis), a flat page in perspective before a lens of little
distortion, and a sheet that bends about one axis (paper hardly stretches) before a lens of unknown focal
length. Their few numbers are fitted to all corners of all marks found; what the marks still miss is spread
smoothly over the page.
"""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from blendkit.chart.description import PageSpec
from blendkit.errors import SheetError

Floats = NDArray[np.float64]

MARKS_A_PAGE = 8
_FIRST_LOOK_PX = 1200
"""Longest side of the picture in which marks are looked for first."""
Rung = Literal["affine", "perspective", "bend"]
_LEAST_MARKS = 4
_LATTICE_MM = 4.0
_MISREAD_MM = 0.25
"""Residual from which one mark may be a misread one."""
_LEAST_COVERED = 0.3
"""Share of the page's area that the marks found must span."""
_LARGEST_RESIDUAL_MM = 0.6
_LARGEST_DOUBT_MM = 1.2
_LEAST_GAIN = 0.75
"""A higher model must leave less than this part of the variance that the lower one leaves, for its number of
free numbers. Own judgement."""
_TOLD_STRETCH = 0.0015
"""Stretch of one axis against the other from which it is told: 0.4 mm on a page. Own judgement."""
_SQUARE_ON = 1.006
"""Largest over smallest scale along each axis of a page that was scanned; a camera must be held straight to 0.3
degrees for it."""
_MOST_SCANNED_STRETCH = 0.03
"""Feeds and printers stretch one axis by up to a few per cent (common practice, no source)."""


def find_marks(grey: NDArray[np.uint8]) -> dict[int, Floats]:
    """Find the camera marks in a picture.

    Args:
        grey: the picture, shape (h, w), 8 bit.

    Returns: corners of each mark found by its number, shape (4, 2), pixels of *grey*, clockwise from the
        mark's own top left. A number seen twice is left out.
    Source: Garrido-Jurado et al. 2014 and 2016 (ArUco marks), as in OpenCV.
    """
    import cv2

    height, width = grey.shape
    longest = max(height, width)
    first = min(1.0, _FIRST_LOOK_PX / longest)
    if longest > 2 * _FIRST_LOOK_PX:
        first = 1.0 / math.ceil(longest / _FIRST_LOOK_PX)  # whole pixels together are much faster to average
    scales = [first, min(2.0, 2.2 * _FIRST_LOOK_PX / longest)]
    found: dict[int, Floats] = {}
    for scale in scales:
        interpolation = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
        seen = grey if scale == 1 else cv2.resize(grey, None, fx=scale, fy=scale, interpolation=interpolation)
        for number, corners in _detect(np.asarray(seen, dtype=np.uint8)).items():
            found.setdefault(number, (corners + 0.5) / scale - 0.5)
        if _is_whole(found):
            break
    return {number: _refine(grey, corners) for number, corners in sorted(found.items())}


def _detect(grey: NDArray[np.uint8]) -> dict[int, Floats]:
    """Marks of one picture at one scale, corners to about half a pixel."""
    import cv2

    settings = cv2.aruco.DetectorParameters()
    settings.minMarkerPerimeterRate = 0.02
    settings.adaptiveThreshWinSizeMin = 5
    settings.adaptiveThreshWinSizeMax = 45
    settings.adaptiveThreshWinSizeStep = 20
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_ARUCO_MIP_36H12)
    corners, numbers, _ = cv2.aruco.ArucoDetector(dictionary, settings).detectMarkers(grey)
    found: dict[int, Floats] = {}
    twice: set[int] = set()
    for number, quad in zip([] if numbers is None else np.ravel(numbers), corners, strict=True):
        if int(number) in found:
            twice.add(int(number))
        found[int(number)] = np.asarray(quad, dtype=np.float64).reshape(4, 2)
    return {number: quad for number, quad in found.items() if number not in twice}


def _is_whole(found: Mapping[int, Floats]) -> bool:
    """Whether all marks of one page are there."""
    groups = [number // MARKS_A_PAGE for number in found]
    return any(groups.count(group) == MARKS_A_PAGE for group in set(groups))


def _refine(grey: NDArray[np.uint8], corners: Floats) -> Floats:
    """Corners of one mark to a few hundredths of a pixel."""
    import cv2

    side = float(np.linalg.norm(corners - np.roll(corners, 1, axis=0), axis=1).mean())
    half = max(2, min(15, round(side / 8 * 0.45)))
    criteria = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 40, 0.005)
    low = np.maximum(np.floor(corners.min(axis=0)).astype(int) - half - 4, 0)
    high = np.ceil(corners.max(axis=0)).astype(int) + half + 5
    part = np.ascontiguousarray(grey[low[1] : high[1], low[0] : high[0]])
    start = (corners - low).astype(np.float32).reshape(-1, 1, 2)
    better = cv2.cornerSubPix(part, start.copy(), (half, half), (-1, -1), criteria).reshape(4, 2) + low
    moved = np.linalg.norm(better - corners, axis=1)
    return np.where((moved < half + 1.0)[:, None], better, corners).astype(np.float64)


def find_pages(marks: Mapping[int, Floats], pages: Sequence[PageSpec]) -> list[PageSpec]:
    """Give the pages whose marks are in the picture, the one with most marks first."""
    counted = [(sum(mark.id in marks for mark in page.marks), page) for page in pages]
    return [page for count, page in sorted(counted, key=lambda pair: -pair[0]) if count > 0]


@dataclass(frozen=True)
class PageFit:
    """A page placed in a picture."""

    page: PageSpec
    marks_found: tuple[int, ...]
    marks_missing: tuple[int, ...]
    residual_mm: float
    """How far the marks lie from where the fitted page has them, root mean square."""
    covered: float
    """Share of the page's span of marks that the marks found span, 0 to 1."""
    curl_mm: float
    """How far the fitted page rises between its ends."""
    doubt_mm: float
    """How far the box that is placed worst may lie from where it was taken to be: 2 standard errors."""
    px_per_mm: float
    """Smallest over the page."""
    rung: Rung
    """Which model of the page was enough."""
    stretch: float
    """How much longer the page's height is shown than its width, relative; 0 unless the model is affine."""
    numbers: Floats = field(repr=False)
    flat_numbers: Floats = field(repr=False)
    """Those of a page that is taken to be flat, as the table under it."""
    offsets: Floats = field(repr=False)
    knots_mm: Floats = field(repr=False)
    scale_px: float = field(repr=False)
    middle_px: Floats = field(repr=False)

    def map(self, mm: NDArray[Any]) -> Floats:
        """Pixels (..., 2) of page millimetres (..., 2)."""
        mm = np.asarray(mm, dtype=np.float64)
        flat = mm.reshape(-1, 2)
        seen = _MODELS[self.rung](self.numbers[None], flat, np.array(self.page.size_mm))[0]
        seen = seen + _spread(flat, self.knots_mm, self.offsets)
        return np.asarray(seen * self.scale_px + self.middle_px).reshape(mm.shape)

    @property
    def looks_scanned(self) -> bool:
        """Whether the page is seen without perspective or curl, as a flatbed sees it and a hand hardly can."""
        width, height = self.page.size_mm
        corners = np.array([[0.1, 0.1], [0.9, 0.1], [0.9, 0.9], [0.1, 0.9]]) * [width, height]
        here = self.map(corners)
        lengths = np.array([np.linalg.norm(self.map(corners + step) - here, axis=1) for step in np.eye(2)])
        alike = float((lengths.max(axis=1) / lengths.min(axis=1)).max())
        square = float(lengths.mean(axis=1).max() / lengths.mean(axis=1).min())
        return alike < _SQUARE_ON and square < 1 + _MOST_SCANNED_STRETCH

    def map_table(self, mm: NDArray[Any]) -> Floats:
        """Pixels (..., 2) of places (..., 2) on the table about the page, in the page's millimetres; rougher."""
        mm = np.asarray(mm, dtype=np.float64)
        seen = _project_flat(self.flat_numbers[None], mm.reshape(-1, 2), np.array(self.page.size_mm))[0]
        return np.asarray(seen * self.scale_px + self.middle_px).reshape(mm.shape)

    @cached_property
    def _lattice(self) -> Floats:
        """Pixels of every _LATTICE_MM of the page, shape (rows, columns, 2)."""
        columns, rows = (int(length // _LATTICE_MM) + 2 for length in self.page.size_mm)
        xs, ys = np.meshgrid(np.arange(columns) * _LATTICE_MM, np.arange(rows) * _LATTICE_MM)
        return self.map(np.stack([xs, ys], axis=-1))

    def map_many(self, mm: Floats) -> Floats:
        """Pixels (n, 2) of many places (n, 2) on the page, interpolated to about a hundredth of a millimetre."""
        return read_lattice(self._lattice, np.asarray(mm / _LATTICE_MM))


def read_lattice(lattice: Floats, places: Floats) -> Floats:
    """Values between the nodes of a lattice (rows, columns, k) at places (n, 2), column and row, bilinear."""
    rows, columns, count = lattice.shape
    at = np.clip(places, 0.0, [columns - 1.001, rows - 1.001]).astype(np.float32)
    corner = at.astype(np.int32)
    share = at - corner
    first = corner[:, 1] * columns + corner[:, 0]
    flat = lattice.reshape(-1, count).astype(np.float32)
    right, down = share[:, :1], share[:, 1:]
    upper = flat[first] * (1 - right) + flat[first + 1] * right
    lower = flat[first + columns] * (1 - right) + flat[first + columns + 1] * right
    return np.asarray(upper * (1 - down) + lower * down, dtype=np.float64)


def _rotation(vectors: Floats) -> Floats:
    """Matrices (k, 3, 3) of rotation vectors (k, 3) (Rodrigues)."""
    angle = np.maximum(np.linalg.norm(vectors, axis=1), 1e-12)
    x, y, z = (vectors / angle[:, None]).T
    zero = np.zeros_like(x)
    cross = np.stack([zero, -z, y, z, zero, -x, -y, x, zero], axis=1).reshape(-1, 3, 3)
    sine, cosine = np.sin(angle)[:, None, None], np.cos(angle)[:, None, None]
    return np.asarray(np.eye(3) + sine * cross + (1 - cosine) * cross @ cross)


_NODES, _NODE_WEIGHTS = np.polynomial.legendre.leggauss(5)


def _bend(mm: Floats, size_mm: Floats, slope: Floats, twist: Floats, along: Floats) -> Floats:
    """The page in space, (k, n, 3), in units of half its long side; flat where slope and twist (k,) are 0.

    Along the axis the page's slope is slope * s + twist * (s^2 - 1/3) at the length s of paper from its middle.
    """
    centred = _centred(mm, size_mm)
    axis = np.stack([np.cos(along), np.sin(along)], axis=1)
    normal = np.stack([-axis[:, 1], axis[:, 0]], axis=1)
    s, across = axis @ centred.T, normal @ centred.T
    at = s[..., None] * (1 + _NODES) / 2
    angle = slope[:, None, None] * at + twist[:, None, None] * (at**2 - 1 / 3)
    x = s / 2 * (np.cos(angle) @ _NODE_WEIGHTS)
    z = s / 2 * (np.sin(angle) @ _NODE_WEIGHTS)
    plane = x[..., None] * axis[:, None, :] + across[..., None] * normal[:, None, :]
    return np.concatenate([plane, z[..., None]], axis=-1)


def _centred(mm: Floats, size_mm: Floats) -> Floats:
    """Places in half the page's long side about its middle."""
    return np.asarray((mm - size_mm / 2) / (float(np.max(size_mm)) / 2))


def _project_flat(numbers: Floats, mm: Floats, size_mm: Floats) -> Floats:
    """Where a flat page's millimetres (n, 2) are seen, (k, n, 2), in half the picture's long side.

    Numbers: six of the affine part, two of the perspective, the lens's distortion, the spread of print.
    """
    x, y = _centred(mm, size_mm).T
    h = numbers[:, :, None]
    depth = np.maximum(1 + h[:, 6] * x + h[:, 7] * y, 1e-3)
    seen = np.stack([h[:, 0] * x + h[:, 1] * y + h[:, 2], h[:, 3] * x + h[:, 4] * y + h[:, 5]], axis=-1)
    seen = seen / depth[..., None]
    return np.asarray(seen * (1 + numbers[:, 8, None, None] * (seen**2).sum(axis=-1, keepdims=True)))


def _project_bent(numbers: Floats, mm: Floats, size_mm: Floats) -> Floats:
    """The same of a page that may bend, before a lens of unknown focal length.

    Numbers: log of focal length, three of the turn, three of the place, two of the picture's middle, three of
    the bend, the lens's distortion, the spread of print, log of the print's height over its width.
    """
    stretched = np.exp(0.5 * numbers[:, 14, None] * np.array([-1.0, 1.0]))
    middle = np.asarray(size_mm) / 2
    space = np.concatenate(
        [
            _bend((mm - middle) * by + middle, size_mm, one[9:10], one[10:11], one[11:12])
            for one, by in zip(numbers, stretched, strict=True)
        ]
    )
    points = space @ _rotation(numbers[:, 1:4]).transpose(0, 2, 1) + numbers[:, None, 4:7]
    seen = (
        points[..., :2] / np.maximum(points[..., 2:], 1e-3) * np.exp(np.clip(numbers[:, :1, None], -5.0, 8.0))
    )
    seen = seen * (1 + numbers[:, 12, None, None] * (seen**2).sum(axis=-1, keepdims=True))
    return np.asarray(seen + numbers[:, None, 7:9])


_MODELS: dict[Rung, Callable[[Floats, Floats, Floats], Floats]] = {
    "affine": _project_flat,
    "perspective": _project_flat,
    "bend": _project_bent,
}
_INK_SPREAD = {"affine": 9, "perspective": 9, "bend": 13}
"""Which number tells how far blur and the printer's ink move all corners of a mark in or out."""

# Numbers that a picture rarely departs far from: value expected and spread allowed (own judgement; wide).
_FREE = np.inf
_FLAT_SPREAD = np.array([*[_FREE] * 8, 0.01, 0.003])
_BENT_EXPECTED = np.array([math.log(2.4), *[0.0] * 14])
_BENT_SPREAD = np.array([0.6, *[_FREE] * 6, 0.15, 0.15, 0.25, 0.15, _FREE, 0.01, 0.003, 0.004])
_HELD: dict[Rung, tuple[Floats, Floats]] = {
    "affine": (np.zeros(10), _FLAT_SPREAD),
    "perspective": (np.zeros(10), _FLAT_SPREAD),
    "bend": (_BENT_EXPECTED, _BENT_SPREAD),
}
_FREE_NUMBERS: dict[Rung, NDArray[Any]] = {
    "affine": np.array([0, 1, 2, 3, 4, 5, 9]),
    "perspective": np.arange(10),
    "bend": np.arange(15),
}
_CORNER_NOISE = 2e-4
"""Spread of a corner's place, in half pictures: about 0.2 px of a 2,000 px picture."""
_CORNER_NOISE_PX = 0.2
"""The same of small pictures, whose corners are told no better than by the pixel."""


def _homography(mm: Floats, seen: Floats, size_mm: Floats) -> Floats:
    """Matrix (3, 3) from the page's middle, in half long sides, to what is seen."""
    import cv2

    matrix, _ = cv2.findHomography(_centred(mm, size_mm), seen.astype(np.float64), 0)
    if matrix is None:
        raise SheetError("the marks found don't lie as on a page; photograph the whole page once more")
    return np.asarray(matrix / matrix[2, 2], dtype=np.float64)


def _bent_start(h: Floats) -> Floats:
    """Numbers of a page in space from its homography (decomposed after Zhang 2000), not bent yet."""
    import cv2

    focal = math.exp(float(_BENT_EXPECTED[0]))
    # the focal length at which the page's two sides are equally long and square, where that is defined
    top = -(h[0, 0] * h[0, 1] + h[1, 0] * h[1, 1])
    bottom = h[2, 0] * h[2, 1]
    equal_top = (h[0, 1] ** 2 + h[1, 1] ** 2) - (h[0, 0] ** 2 + h[1, 0] ** 2)
    equal_bottom = h[2, 0] ** 2 - h[2, 1] ** 2
    weight = bottom**2 + equal_bottom**2
    if weight > 1e-8:
        squared = (top * bottom + equal_top * equal_bottom) / weight
        if squared > 0:
            focal = float(np.clip(math.sqrt(squared), 1.2, 8.0))
    inverse = np.diag([1 / focal, 1 / focal, 1.0]) @ h
    inverse = inverse / (np.linalg.norm(inverse[:, 0]) + np.linalg.norm(inverse[:, 1])) * 2
    if inverse[2, 2] < 0:
        inverse = -inverse
    rotation = np.stack([inverse[:, 0], inverse[:, 1], np.cross(inverse[:, 0], inverse[:, 1])], axis=1)
    u, _, vt = np.linalg.svd(rotation)
    rotation = u @ np.diag([1.0, 1.0, np.linalg.det(u @ vt)]) @ vt
    vector, _ = cv2.Rodrigues(rotation)
    numbers = _BENT_EXPECTED.copy()
    numbers[0] = math.log(focal)
    numbers[1:4] = np.ravel(vector)
    numbers[4:7] = inverse[:, 2]
    return numbers


def _spread(mm: Floats, knots_mm: Floats, offsets: Floats) -> Floats:
    """What is left over at the marks, spread smoothly: nearest marks count most, and none beyond reach."""
    if len(knots_mm) == 0:
        return np.zeros((len(mm), 2))
    squared = ((mm[:, None, :] - knots_mm[None, :, :]) ** 2).sum(axis=2)
    weight = np.exp(-squared / (2 * 45.0**2))
    return np.asarray(weight @ offsets / (weight.sum(axis=1, keepdims=True) + 0.15))


def fit_page(
    marks: Mapping[int, Floats], page: PageSpec, picture_px: tuple[int, int], *, forgive: bool = True
) -> PageFit:
    """Place *page* in a picture from the marks found there.

    Args:
        marks: corners by number, as :func:`find_marks` gives them.
        page: the page's description.
        picture_px: the picture's width and height.
        forgive: whether a mark that was misread may be left out.

    Returns: the page's place.
    Raises: SheetError when too few marks are found, when they span too little of the page, or when they
        don't lie as the page's marks should.
    """
    width, height = picture_px
    scale = max(width, height) / 2
    middle = np.array([(width - 1) / 2, (height - 1) / 2])
    size = np.array(page.size_mm)
    printed = {mark.id: np.array(mark.corners_mm) for mark in page.marks}
    used = [mark.id for mark in page.marks if mark.id in marks]
    _gate_count(used, page)

    def fitted(numbers_used: Sequence[int]) -> _Fitted:
        mm = np.concatenate([printed[number] for number in numbers_used])
        seen = np.concatenate([(marks[number] - middle) / scale for number in numbers_used])
        return _climb(mm, seen, size, max(_CORNER_NOISE, _CORNER_NOISE_PX / scale))

    best = fitted(used)
    while forgive and best.residual_mm > _MISREAD_MM and len(used) > _LEAST_MARKS + 1:
        # a misread mark shows when the others agree much better without it
        tries = [fitted([number for number in used if number != left_out]) for left_out in used]
        least = min(range(len(used)), key=lambda index: tries[index].residual_mm)
        if tries[least].residual_mm > best.residual_mm / 3:
            break
        best = tries[least]
        used.pop(least)
    knots = np.array([printed[number].mean(axis=0) for number in used])
    fit = PageFit(
        page=page,
        marks_found=tuple(used),
        marks_missing=tuple(mark.id for mark in page.marks if mark.id not in used),
        residual_mm=best.residual_mm,
        covered=_covered(knots, [np.array(mark.corners_mm).mean(axis=0) for mark in page.marks]),
        curl_mm=_curl_mm(best.numbers, size) if best.rung == "bend" else 0.0,
        doubt_mm=_doubt(best, page) / best.per_mm,
        px_per_mm=best.per_mm * scale,
        rung=best.rung,
        stretch=_stretch(best.numbers) if best.rung == "affine" else 0.0,
        numbers=best.numbers,
        flat_numbers=best.flat_numbers,
        offsets=-best.middles,
        knots_mm=knots,
        scale_px=scale,
        middle_px=middle,
    )
    _gate_fit(fit)
    return fit


@dataclass(frozen=True)
class _Fitted:
    """One model fitted to marks: its numbers, slope and misses of the corners (n, 2), model less seen."""

    rung: Rung
    numbers: Floats
    flat_numbers: Floats
    slope: Floats
    misses: Floats
    per_mm: float
    """Half pictures to a millimetre of the page, smallest at the marks."""
    variance: float
    """Sum of squared misses over what the free numbers leave free, 1 for the usual noise of corners."""

    @property
    def middles(self) -> Floats:
        """Misses of the marks' middles, half pictures."""
        return np.asarray(self.misses.reshape(-1, 4, 2).mean(axis=1))

    @property
    def residual_mm(self) -> float:
        """Root mean square of them, millimetres."""
        return float(np.sqrt((self.middles**2).sum(axis=1).mean())) / self.per_mm


def _climb(mm: Floats, seen: Floats, size: Floats, noise: float) -> _Fitted:
    """The lowest model of the ladder that leaves no more than noise, or none that the next would explain."""
    h = _homography(mm, seen, size)
    start = np.array([*h[0], *h[1], h[2, 0], h[2, 1], 0.0, 0.0])
    affine = start.copy()
    affine[6:8] = 0.0
    best = _fit("affine", affine, mm, seen, size, noise)
    if best.variance <= 1.0:
        return best
    flat = _fit("perspective", start, mm, seen, size, noise)
    if flat.variance < _LEAST_GAIN * best.variance:
        best = flat
    # of five or six marks a flat page may fit although the sheet curls where no mark is
    few = len(mm) < 7 * 4 and best.rung != "affine"
    if len(mm) < 5 * 4 or (best.variance <= 1.0 and not few):
        return best
    tries: list[_Fitted] = []
    for along in (0.0, math.pi / 4, math.pi / 2, 3 * math.pi / 4):
        for slope in (0.08, -0.08):
            bent = _bent_start(h)
            bent[9], bent[11] = slope, along
            tries.append(_fit("bend", bent, mm, seen, size, noise, most=4))
    tries.sort(key=lambda tried: tried.variance)
    found: _Fitted | None = None
    for tried in tries[:2]:
        bent_fit = _fit("bend", tried.numbers, mm, seen, size, noise)
        if found is None or bent_fit.variance < found.variance:
            found = bent_fit
        if found.variance <= 1.0:
            break  # as near as corners can be told: another start would find the same page
    assert found is not None
    if found.variance < _LEAST_GAIN * best.variance or few:
        return replace(found, flat_numbers=flat.numbers)
    return best


def _fit(
    rung: Rung, start: Floats, mm: Floats, seen: Floats, size: Floats, noise: float, most: int = 25
) -> _Fitted:
    """Fit one model's numbers to corners (n, 2), four to a mark.

    Source: trust region as in SciPy's least_squares (Branch, Coleman and Li 1999).
    """
    from scipy.optimize import least_squares

    free = _FREE_NUMBERS[rung]
    expected, spread = _HELD[rung]
    held = free[np.isfinite(spread[free])]

    def filled(values: Floats) -> Floats:
        numbers = np.repeat(start[None], len(values), axis=0)
        numbers[:, free] = values
        return numbers

    def model(numbers: Floats) -> Floats:
        # blur and spread of the printer's ink move all corners of a mark in or out alike
        here = _MODELS[rung](numbers, mm, size)
        marks = here.reshape(len(numbers), -1, 4, 2)
        away = (marks.mean(axis=2, keepdims=True) - marks).reshape(here.shape)
        length = np.linalg.norm(away, axis=-1, keepdims=True)
        inward = numbers[:, _INK_SPREAD[rung], None, None]
        return np.asarray(here + inward * away / np.maximum(length, 1e-9))

    def misses(values: Floats) -> Floats:
        numbers = filled(values)
        here = (model(numbers) - seen).reshape(len(numbers), -1) / noise
        return np.concatenate([here, (numbers[:, held] - expected[held]) / spread[held]], axis=1)

    def slope(values: Floats) -> Floats:
        tries = misses(np.concatenate([values[None], values + _STEP * np.eye(len(values))]))
        return np.asarray((tries[1:] - tries[0]).T / _STEP)

    found = least_squares(
        lambda values: misses(values[None])[0],
        start[free],
        jac=slope,
        x_scale="jac",
        ftol=1e-5,
        max_nfev=most,
    )
    numbers = filled(found.x[None])
    left = np.asarray(model(numbers)[0] - seen)
    variance = float((left**2).sum()) / noise**2 / max(left.size - len(free), 1)
    return _Fitted(
        rung,
        numbers[0],
        numbers[0],
        np.asarray(found.jac),
        left,
        _px_per_mm(rung, numbers[0], mm, size),
        variance,
    )


_STEP = 1e-6
"""How far a number is moved to see its slope."""


def _stretch(numbers: Floats) -> float:
    """How much longer the height is than the width, relative, of an affine page."""
    return float(np.hypot(numbers[1], numbers[4]) / np.hypot(numbers[0], numbers[3])) - 1


def stretch_words(fit: PageFit) -> str:
    """Say how a print or scan is stretched, or "" where it hardly is."""
    if abs(fit.stretch) < _TOLD_STRETCH:
        return ""
    longer = "height" if fit.stretch > 0 else "width"
    return (
        f"the printer or the scanner stretches the page's {longer} by {abs(fit.stretch):.1%}; "
        "its boxes were found where they are"
    ).replace("%", " %")


def _doubt(best: _Fitted, page: PageSpec) -> float:
    """Two standard errors of the place of the page's worst placed box, in half pictures.

    The corners' scatter about the fit, if larger than usual, widens it.
    """
    middle = (page.size_mm[0] / 2, page.size_mm[1] / 2)
    places = np.array([box.centre_mm for box in page.boxes] or [middle])
    steps = _STEP * np.eye(len(best.numbers))[_FREE_NUMBERS[best.rung]]
    tries = np.concatenate([best.numbers[None], best.numbers + steps])
    seen = _MODELS[best.rung](tries, places, np.array(page.size_mm))
    moves = ((seen[1:] - seen[0]) / _STEP).transpose(1, 2, 0)
    covariance = np.linalg.pinv(best.slope.T @ best.slope)
    variance = np.einsum("nik,kl,nil->n", moves, covariance, moves)
    return 2.0 * max(1.0, math.sqrt(best.variance)) * float(np.sqrt(variance.max()))


def _px_per_mm(rung: Rung, numbers: Floats, mm: Floats, size: Floats) -> float:
    """Smallest picture length of a page millimetre at the marks, in half pictures."""
    here = _MODELS[rung](numbers[None], mm, size)[0]
    steps = [
        np.linalg.norm(_MODELS[rung](numbers[None], mm + np.array(step), size)[0] - here, axis=1)
        for step in ((1.0, 0.0), (0.0, 1.0))
    ]
    return float(np.min(np.minimum(*steps)))


def _curl_mm(numbers: Floats, size: Floats) -> float:
    grid = np.stack(np.meshgrid(np.linspace(0, size[0], 9), np.linspace(0, size[1], 9)), axis=-1).reshape(
        -1, 2
    )
    height = _bend(grid, size, numbers[9:10], numbers[10:11], numbers[11:12])[0, :, 2]
    return float(height.max() - height.min()) * float(np.max(size)) / 2


def _covered(found: Floats, all_marks: Sequence[Floats]) -> float:
    import cv2

    whole = cv2.contourArea(cv2.convexHull(np.array(all_marks, dtype=np.float32)))
    part = cv2.contourArea(cv2.convexHull(found.astype(np.float32)))
    return float(part / whole) if whole > 0 else 0.0


_PLACES = (
    "top left", "top middle", "top right", "right middle", "bottom right", "bottom middle", "bottom left",
    "left middle",
)  # fmt: skip


def name_marks(numbers: Sequence[int]) -> str:
    """Say in words where on the page marks stand."""
    return ", ".join(_PLACES[number % MARKS_A_PAGE] for number in numbers)


def _gate_count(used: Sequence[int], page: PageSpec) -> None:
    missing = [mark.id for mark in page.marks if mark.id not in used]
    if len(used) < _LEAST_MARKS:
        raise SheetError(
            f"only {len(used)} of the {len(page.marks)} square marks of page {page.page} could be read; "
            f"missing: {name_marks(missing)}. Photograph the whole page with all its marks uncovered, sharp "
            "and without glare"
        )


def _gate_fit(fit: PageFit) -> None:
    missing = name_marks(fit.marks_missing)
    if fit.covered < _LEAST_COVERED:
        raise SheetError(
            f"the marks read on page {fit.page.page} span only {fit.covered:.0%} of it; missing: {missing}. "
            "Photograph the whole page with all its marks uncovered"
        )
    if fit.residual_mm > _LARGEST_RESIDUAL_MM:
        raise SheetError(
            f"the marks of page {fit.page.page} don't lie as printed: they miss by {fit.residual_mm:.1f} mm. "
            "Flatten the page, or hold the camera further away and straight above it"
        )
    if fit.doubt_mm > _LARGEST_DOUBT_MM:
        lost = f" (not found: {missing})" if missing else ""
        raise SheetError(
            f"the marks of page {fit.page.page}{lost} don't settle where its boxes lie: one may be off by "
            f"{fit.doubt_mm:.1f} mm. Flatten the page, show all marks, or take a sharper and larger picture"
        )


def measure_blur_mm(grey: NDArray[np.uint8], fit: PageFit) -> float:
    """How wide the printed edges of the marks look: distance from 10 to 90 % of the step, page millimetres.

    The median over the outer edges of all marks found.
    """
    steps = np.arange(-1.6, 1.6 + 1e-9, 0.08)
    places = []
    for mark in fit.page.marks:
        if mark.id not in fit.marks_found:
            continue
        corners = np.array(mark.corners_mm)
        for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
            along = (end - start) / np.linalg.norm(end - start)
            outward = np.array([along[1], -along[0]])
            for share in (0.2, 0.4, 0.6, 0.8):
                places.append(start + share * (end - start) + steps[:, None] * outward)
    px = np.rint(fit.map(np.array(places))).astype(int)
    columns = np.clip(px[..., 0], 0, grey.shape[1] - 1)
    rows = np.clip(px[..., 1], 0, grey.shape[0] - 1)
    profiles = grey[rows, columns].astype(np.float64)
    widths = []
    for profile in profiles:
        dark, bright = profile[:8].min(), profile[-8:].max()
        if bright - dark < 20:
            continue
        rising = (profile - dark) / (bright - dark)
        low = np.flatnonzero(rising < 0.1)
        high = np.flatnonzero(rising > 0.9)
        after = high[high > low[-1]] if len(low) else high
        if len(low) and len(after):
            widths.append((after[0] - low[-1]) * 0.08)
    return float(np.median(widths)) if widths else 3.2
