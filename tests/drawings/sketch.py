"""Draw a scene of overlapping shapes as line art, and keep the map of its parts.

A scene is painted from the back to the front. Each area covers what lies behind it, so the map of areas
is known from the geometry alone; lines lie centred on the areas' edges. No code of blendkit is used.
"""

import math
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from drawings.shapes import Path

MARGIN_MM = 4.0


@dataclass(frozen=True)
class Stroke:
    """One step of painting: an area with its outline, an open line, or a black spot."""

    path: Path
    kind: str  # "area", "line", "black"
    pen: float = 1.0
    clip: int | None = None  # index of the area within which this one is painted
    taper: float = 0.0


@dataclass
class Sketch:
    """A page in millimetres and what is painted on it, back to front."""

    width: float
    height: float
    strokes: list[Stroke] = field(default_factory=list)

    def area(self, path: Path, pen: float = 1.0, clip: int | None = None) -> int:
        """Paint a closed area with an outline; give its index, for clipping."""
        self.strokes.append(Stroke(path, "area", pen, clip))
        return len(self.strokes) - 1

    def line(self, path: Path, pen: float = 0.8, clip: int | None = None, taper: float = 0.7) -> None:
        """Paint an open line that bounds nothing: a hair, a fold, a smile."""
        self.strokes.append(Stroke(path, "line", pen, clip, taper))

    def black(self, path: Path, clip: int | None = None) -> None:
        """Paint a solid black spot: a pupil, a nose."""
        self.strokes.append(Stroke(path, "black", 0.5, clip))


@dataclass(frozen=True)
class Drawing:
    """A picture and the truth about it.

    grey: uint8 (h, w). truth: int32 (h, w), 0 outside, 1.. parts, -1 where nobody could say (solid
    black, areas too small to see). gaps: how many breaks can be seen.
    """

    grey: NDArray[np.uint8]
    truth: NDArray[np.int32]
    parts: int
    gaps: int
    pen_px: float
    dpi: float


def _smooth_noise(rng: np.random.Generator, n: int, period: float, closed: bool) -> NDArray[np.float64]:
    """Noise of unit size that wanders with the given period in samples."""
    knots = max(4, round(n / period))
    values = rng.normal(size=knots + 1)
    if closed:
        values[-1] = values[0]
    at = np.linspace(0, knots, n, endpoint=not closed)
    low = np.minimum(at.astype(int), knots - 1)
    t = at - low
    t = t * t * (3 - 2 * t)
    return values[low] * (1 - t) + values[low + 1] * t


def _wobbled(stroke: Stroke, rng: np.random.Generator, wobble_mm: float) -> Path:
    n = len(stroke.path)
    closed = stroke.kind != "line"
    shift = np.column_stack([_smooth_noise(rng, n, 60, closed), _smooth_noise(rng, n, 60, closed)])
    return stroke.path + shift * wobble_mm


def _paint(
    ink: NDArray[np.uint8], path: Path, radius: NDArray[np.float64], keep: NDArray[np.bool_], scale: float
) -> None:
    points = np.round(path[keep] * scale * 16).astype(int)
    radii = np.round(radius[keep] * scale * 16).astype(int)
    for (x, y), r in zip(points.tolist(), radii.tolist(), strict=True):
        cv2.circle(ink, (x, y), r, 255, -1, cv2.LINE_8, 4)


def _filled(shape: tuple[int, int], path: Path, scale: float) -> NDArray[np.uint8]:
    """The inside of a closed path, as a mask.

    OpenCV fills every pixel that the edge touches, about 0.45 of one too many on each side; the edge is drawn
    in by as much, so that the map of areas is not larger than the geometry.
    """
    points = path * scale
    along = np.roll(points, -1, 0) - np.roll(points, 1, 0)
    inward = np.column_stack([-along[:, 1], along[:, 0]]) / np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    x, y = points.T
    if float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) < 0:
        inward = -inward
    mask = np.zeros(shape, np.uint8)
    cv2.fillPoly(mask, [np.round((points + 0.45 * inward) * 16).astype(np.int32)], 255, cv2.LINE_8, 4)
    return mask


def draw(
    sketch: Sketch,
    dpi: float,
    pen_mm: float = 0.5,
    seed: int = 0,
    gap_px: tuple[float, float] | None = None,
    gap_share: float = 0.35,
    wobble_mm: float = 0.12,
) -> Drawing:
    """Draw *sketch* in black on white.

    Args:
        sketch: the scene.
        dpi: pixels an inch.
        pen_mm: width of a line of pen 1.
        seed: fixes the hand's wobble, the width's swell and the gaps.
        gap_px: least and greatest clear width of a break, or None for none.
        gap_share: breaks for each area.
        wobble_mm: how far the hand strays.

    Returns: the picture, its parts and how many gaps can be seen.
    """
    sampling = 2 if dpi > 400 else 3
    pixel = dpi / 25.4
    scale = pixel * sampling
    height, width = round(sketch.height * pixel), round(sketch.width * pixel)
    big = (height * sampling, width * sampling)
    rng = np.random.default_rng(seed)
    gap_rng = np.random.default_rng(seed + 977)
    full = np.zeros(big, np.uint8)
    broken = np.zeros(big, np.uint8)
    owner = np.zeros(big, np.int16)
    masks: dict[int, NDArray[np.uint8]] = {}
    clips = {stroke.clip for stroke in sketch.strokes}
    outlines: dict[int, tuple[Path, NDArray[np.float64], NDArray[np.bool_]]] = {}
    places: list[tuple[float, float]] = []
    for index, stroke in enumerate(sketch.strokes):
        closed = stroke.kind != "line"
        path = _wobbled(stroke, rng, wobble_mm)
        n = len(path)
        width_mm = pen_mm * stroke.pen * np.clip(1 + 0.22 * _smooth_noise(rng, n, 90, closed), 0.55, 1.6)
        if stroke.taper:
            s = np.linspace(0, 1, n)
            width_mm = width_mm * (1 - stroke.taper * np.abs(2 * s - 1) ** 3)
        within = masks[stroke.clip] if stroke.clip is not None else None
        keep = np.ones(n, bool)
        if gap_px and stroke.kind == "area":
            length = n * float(np.hypot(*(path[1] - path[0])))
            count = int(gap_rng.random() < gap_share) + int(gap_rng.random() < gap_share * (length > 60))
            for _ in range(count if length > 12 else 0):
                middle = int(gap_rng.integers(n))
                clear = gap_rng.uniform(*gap_px) / pixel
                half = (clear + width_mm[middle]) / 2
                along = np.hypot(*(path - path[middle]).T)
                reach = math.ceil(half / 0.05)
                near = (np.arange(n) - middle + n // 2) % n - n // 2
                keep &= ~((along < half) & (np.abs(near) < reach))
                places.append(tuple(path[middle]))
        boxes = path.min(0) - pen_mm * 2, path.max(0) + pen_mm * 2
        x0, y0 = (max(0, int(v)) for v in boxes[0] * scale)
        x1, y1 = (max(0, int(v) + 2) for v in boxes[1] * scale)
        window = np.s_[y0 : min(y1, big[0]), x0 : min(x1, big[1])]
        offset = np.array([x0, y0]) / scale
        size = full[window].shape
        if 0 in size:
            continue
        local = path - offset
        inside = _filled(size, local, scale) if closed else None
        if inside is not None and within is not None:
            inside &= within[window]
        if inside is not None and index in clips:
            masks[index] = np.zeros(big, np.uint8)
            masks[index][window] = inside
        if index in clips:
            outlines[index] = (path, width_mm / 2, keep)
        if inside is not None:
            owner[window][inside > 0] = index + 1
        for ink, kept in ((full, np.ones(n, bool)), (broken, keep)):
            drawn = np.zeros(size, np.uint8)
            _paint(drawn, local, width_mm / 2, kept, scale)
            if within is not None:
                drawn &= within[window]
            if inside is not None:
                ink[window][inside > 0] = 255 if stroke.kind == "black" else 0
            if (
                stroke.clip is not None and inside is not None
            ):  # the inner half of the frame's line lies on top
                around, half, whole = outlines[stroke.clip]
                frame = np.zeros(size, np.uint8)
                near = ((around > boxes[0] - 1) & (around < boxes[1] + 1)).all(1)
                _paint(frame, around - offset, half, near & whole if ink is broken else near, scale)
                drawn |= frame & inside
            ink[window] |= drawn
    small = cv2.resize(full, (width, height), interpolation=cv2.INTER_AREA)
    grey = 255 - cv2.resize(broken, (width, height), interpolation=cv2.INTER_AREA)
    owner = owner[sampling // 2 :: sampling, sampling // 2 :: sampling][:height, :width]
    blacks = np.array([False] + [stroke.kind == "black" for stroke in sketch.strokes])
    truth, parts = _parts(owner, small > 110, blacks[owner], 0.12 * pixel**2, 0.8 * pen_mm * pixel)
    gaps = 0
    for x, y in places:
        column, row = int(x * pixel), int(y * pixel)
        if 0 <= row < height and 0 <= column < width:
            gaps += int(small[row, column] > 128 and grey[row, column] > 128)
    return Drawing(grey, truth, parts, gaps, pen_mm * pixel, dpi)


def _parts(
    owner: NDArray[np.int16],
    ink: NDArray[np.bool_],
    black: NDArray[np.bool_],
    least_px: float,
    reach_px: float,
) -> tuple[NDArray[np.int32], int]:
    """Number the visible pieces of each area that the unbroken lines enclose.

    What lies under ink farther than *reach_px* from the white of its own piece (a sliver of an area that
    its neighbours' lines bury) is nobody's.
    """
    truth = np.full(owner.shape, -1, np.int32)
    number = 0
    outside_taken = False
    for area in np.unique(owner):
        mine = (owner == area) & ~black
        count, pieces, stats, _ = cv2.connectedComponentsWithStats(
            (mine & ~ink).astype(np.uint8), connectivity=4
        )
        names = np.full(count, -1, np.int32)
        order = sorted(range(1, count), key=lambda k: -stats[k, cv2.CC_STAT_AREA])
        for k in order:
            if stats[k, cv2.CC_STAT_AREA] < least_px:
                continue
            if area == 0 and not outside_taken:
                names[k] = 0
                outside_taken = True
            else:
                number += 1
                names[k] = number
        if (names >= 0).sum() == 0:
            continue
        seeds = (names[pieces] < 0).astype(np.uint8)
        distance, nearest = cv2.distanceTransformWithLabels(
            seeds, cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
        )
        table = np.zeros(int(nearest.max()) + 1, np.int32)
        table[nearest[seeds == 0]] = names[pieces][seeds == 0]
        grown = np.where(distance <= reach_px, table[nearest], -1)
        truth[mine] = grown[mine]
    return truth, number


def scan(drawing: Drawing, seed: int = 0) -> NDArray[np.uint8]:
    """The drawing as a flatbed scan: paper texture, blur, specks, a colour cast; uint8 RGB."""
    rng = np.random.default_rng(seed)
    height, width = drawing.grey.shape
    pixel = drawing.dpi / 25.4
    light = drawing.grey.astype(np.float32) / 255
    light = cv2.GaussianBlur(light, (0, 0), rng.uniform(0.025, 0.05) * pixel)
    ink = rng.uniform(0.08, 0.2) + 0.05 * _texture(rng, height, width, 0.15 * pixel)
    paper = rng.uniform(0.88, 0.97) * (
        1
        + 0.02 * _texture(rng, height, width, 0.12 * pixel)
        + 0.012 * _texture(rng, height, width, 3 * pixel)
    )
    light = ink + (paper - ink) * light
    for _ in range(int(width * height / pixel**2 * 0.012)):
        x, y = rng.uniform(0, width), rng.uniform(0, height)
        radius = rng.uniform(0.03, 0.14) * pixel
        cv2.circle(
            light,
            (int(x * 16), int(y * 16)),
            max(8, int(radius * 16)),
            float(rng.uniform(0.25, 0.7)),
            -1,
            cv2.LINE_AA,
            4,
        )
    cast = np.array([1.0, rng.uniform(0.95, 1.0), rng.uniform(0.82, 0.97)], np.float32)
    if rng.random() < 0.3:
        cast = cast[::-1].copy()
    noise = rng.normal(0, 0.01, (height, width)).astype(np.float32)
    rgb = (light + noise)[..., None] * cast
    return np.clip(np.round(rgb * 255), 0, 255).astype(np.uint8)


def photograph(drawing: Drawing, seed: int = 0) -> tuple[NDArray[np.uint8], NDArray[np.int32]]:
    """The drawing as a phone's photo: uneven light, slight perspective, noise, JPEG; RGB and moved truth."""
    rng = np.random.default_rng(seed)
    height, width = drawing.grey.shape
    pixel = drawing.dpi / 25.4
    corners = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    moved = corners + rng.uniform(-0.03, 0.03, (4, 2)).astype(np.float32) * np.float32([width, height])
    warp = cv2.getPerspectiveTransform(corners, moved.astype(np.float32))
    light = (
        cv2.warpPerspective(
            drawing.grey, warp, (width, height), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
        ).astype(np.float32)
        / 255
    )
    truth = cv2.warpPerspective(
        drawing.truth.astype(np.float32),
        warp,
        (width, height),
        flags=cv2.INTER_NEAREST,
        borderMode=cv2.BORDER_REPLICATE,
    ).astype(np.int32)
    light = cv2.GaussianBlur(light, (0, 0), rng.uniform(0.04, 0.08) * pixel)
    ink = rng.uniform(0.12, 0.22)
    light = ink + (0.9 * (1 + 0.02 * _texture(rng, height, width, 0.15 * pixel)) - ink) * light
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    x, y = x / width - 0.5, y / height - 0.5
    angle = rng.uniform(0, 2 * np.pi)
    slope = rng.uniform(0.3, 0.7)
    field_ = 1 - slope * (0.5 + x * np.cos(angle) + y * np.sin(angle)) * 0.8
    field_ *= 1 - rng.uniform(0.2, 0.5) * (x**2 + y**2)
    edge = x * np.cos(angle + 1) + y * np.sin(angle + 1) - rng.uniform(-0.1, 0.2)
    field_ *= 1 - rng.uniform(0.1, 0.3) / (1 + np.exp(-edge / 0.03))  # the shadow of a hand
    cast = np.array([1.0, rng.uniform(0.88, 0.96), rng.uniform(0.7, 0.88)], np.float32)
    rgb = (light * np.clip(field_, 0.15, 1.1))[..., None] * cast
    rgb = rgb + rng.normal(0, 0.016, rgb.shape).astype(np.float32)
    rgb8 = np.clip(np.round(rgb * 255), 0, 255).astype(np.uint8)
    quality = int(rng.integers(70, 88))
    _, coded = cv2.imencode(".jpg", rgb8[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, quality])
    return cv2.imdecode(coded, cv2.IMREAD_COLOR)[..., ::-1].copy(), truth


def _texture(rng: np.random.Generator, height: int, width: int, period_px: float) -> NDArray[np.float32]:
    """Smooth noise of about unit size."""
    step = max(1.0, period_px)
    rows, columns = math.ceil(height / step) + 3, math.ceil(width / step) + 3
    coarse = rng.normal(size=(rows, columns)).astype(np.float32)
    return cv2.resize(coarse, (width, height), interpolation=cv2.INTER_CUBIC)
