"""A pen and paper for line images: smooth closed shapes, inked from back to front.

A drawing is a list of shapes in millimetres, y downward. Each shape is laid over what is already there, so its
outline hides the lines behind it, as a stamp's drawing does. Because every shape is known, so is the truth that
`art.regions` and `art.shading` have to guess: which pixel belongs to which part, and which part lies in front.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

Points = NDArray[np.float64]
PEN_MM = 0.5
SUPERSAMPLE = 3
SMALLEST_PART_MM2 = 0.12
STEP_MM = 0.05


class Mark(NamedTuple):
    """One shape or one pen stroke, in millimetres."""

    kind: str  # "shape", "stroke" or "blot" (filled with ink)
    name: str
    path: Points
    closed: bool
    pen_mm: float
    within: tuple[str, ...]
    outlined: bool
    flush: bool


@dataclass(frozen=True)
class Impression:
    """A rendered drawing with its truth.

    Fields:
        line: ink cover, 0 (paper) to 1 (ink), shape (h, w), float32.
        labels: 0 outside, 1.. the parts; borders run under the middle of the lines. int32, shape (h, w).
        names: the shape each part was cut from; names[0] is "".
        level: depth of each part, larger in front; parts of one level lie side by side. shape (parts + 1,).
        dpi: dots per inch.
    """

    line: NDArray[np.float32]
    labels: NDArray[np.int32]
    names: tuple[str, ...]
    level: NDArray[np.int64]
    dpi: float


@dataclass
class Drawing:
    """Shapes and strokes laid down one after another on a sheet of width_mm by height_mm."""

    name: str
    width_mm: float
    height_mm: float
    marks: list[Mark] = field(default_factory=list)
    seed: int = 1

    def shape(
        self,
        name: str,
        path: Points,
        pen: float = PEN_MM,
        within: str | tuple[str, ...] = (),
        outlined: bool = True,
        wobble: float = 0.05,
        flush: bool = False,
    ) -> None:
        """Lay a closed shape in front of all so far; *within* cuts it to the visible part of earlier shapes.

        A *flush* shape is a stripe: one surface with what it lies within.
        """
        inside = (within,) if isinstance(within, str) else tuple(within)
        path = wobbled(path, wobble, self.seed + 31 * len(self.marks), closed=True)
        self.marks.append(Mark("shape", name, path, True, pen, inside, outlined, flush))

    def stroke(self, path: Points, pen: float = 0.4, within: str | tuple[str, ...] = ()) -> None:
        """Draw an open line whose ends taper."""
        inside = (within,) if isinstance(within, str) else tuple(within)
        path = wobbled(path, 0.04, self.seed + 31 * len(self.marks), closed=False)
        self.marks.append(Mark("stroke", "", path, False, pen, inside, True, False))

    def blot(self, path: Points) -> None:
        """Fill a closed shape with ink."""
        self.marks.append(Mark("blot", "", path, True, 0.1, (), True, False))


def smooth(points: list[tuple[float, ...]], closed: bool = True) -> Points:
    """Smooth curve through *points*; a third value 1 makes that point a corner.

    Cubic splines between corners, over the square root of the chord (Lee 1989), which tames overshoot.
    """
    raw = np.array([p[:2] for p in points], dtype=np.float64)
    corners = [i for i, p in enumerate(points) if len(p) > 2 and p[2] == 1]
    if closed and not corners:
        return _spline(np.concatenate([raw, raw[:1]]), "periodic")
    if closed:
        raw = np.roll(raw, -corners[0], axis=0)
        breaks = [c - corners[0] for c in corners] + [len(raw)]
        raw = np.concatenate([raw, raw[:1]])
    else:
        breaks = sorted({0, *corners, len(raw) - 1})
    pieces = [_spline(raw[a : b + 1], "natural") for a, b in pairwise(breaks)]
    return np.concatenate(pieces + ([] if closed else [raw[-1:]]))


def _spline(knots: Points, ends: str) -> Points:
    t = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(knots, axis=0), axis=1) ** 0.5)])
    fine = np.linspace(0, t[-1], 40 * (len(knots) - 1), endpoint=False)
    return np.asarray(CubicSpline(t, knots, bc_type=ends)(fine))


def ellipse(x: float, y: float, rx: float, ry: float, turn: float = 0, power: float = 2) -> Points:
    """Ellipse, or a squarer one when *power* is above 2, turned clockwise by *turn* degrees."""
    t = np.linspace(0, 2 * np.pi, 240, endpoint=False)
    c, s = np.cos(t), np.sin(t)
    p = np.stack(
        [rx * np.sign(c) * np.abs(c) ** (2 / power), ry * np.sign(s) * np.abs(s) ** (2 / power)], axis=1
    )
    return moved(p, x, y, turn)


def moved(
    path: Points, x: float = 0, y: float = 0, turn: float = 0, scale: float = 1, flip: bool = False
) -> Points:
    """Scale, mirror left to right, turn clockwise by degrees, then move."""
    a = np.deg2rad(turn)
    p = path * (np.array([-scale, scale]) if flip else scale)
    return np.stack(
        [p[:, 0] * np.cos(a) - p[:, 1] * np.sin(a) + x, p[:, 0] * np.sin(a) + p[:, 1] * np.cos(a) + y], axis=1
    )


def ribbon(spine: Points, *width_mm: float) -> Points:
    """Closed band along an open spine; several widths are spread evenly from its start to its end."""
    along = np.gradient(spine, axis=0)
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1)
    normal /= np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-9)
    half = np.interp(np.linspace(0, 1, len(spine)), np.linspace(0, 1, len(width_mm)), width_mm)[:, None] / 2
    return np.concatenate([spine + normal * half, (spine - normal * half)[::-1]])


def resampled(path: Points, closed: bool, step_mm: float = STEP_MM) -> tuple[Points, NDArray[np.float64]]:
    """Points a *step_mm* apart and their distance along the path."""
    ring = np.concatenate([path, path[:1]]) if closed else path
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(ring, axis=0), axis=1))])
    keep = np.concatenate([[True], np.diff(length) > 1e-9])
    ring, length = ring[keep], length[keep]
    count = max(int(length[-1] / step_mm), 8)
    s = np.linspace(0, length[-1], count, endpoint=not closed)
    return np.stack([np.interp(s, length, ring[:, 0]), np.interp(s, length, ring[:, 1])], axis=1), s


def wobbled(path: Points, amount_mm: float, seed: int, closed: bool) -> Points:
    """The unsteadiness of a hand: slow waves of about 6 mm and *amount_mm*."""
    points, s = resampled(path, closed, 0.15)
    rng = np.random.default_rng(seed)
    length = s[-1] + 1e-9
    shift = np.zeros_like(points)
    for wave in range(3):
        cycles = max(1, round(length / (5 + 4 * wave))) if closed else length / (5 + 4 * wave)
        phase = rng.uniform(0, 2 * np.pi, 2)
        shift += amount_mm * rng.uniform(0.5, 1, 2) * np.sin(2 * np.pi * cycles * s[:, None] / length + phase)
    return points + shift


def pen_widths(
    points: Points, s: NDArray[np.float64], closed: bool, pen_mm: float, seed: int
) -> NDArray[np.float64]:
    """Pen pressure: heavier below and right of a shape, thinner toward the light; open strokes taper."""
    rng = np.random.default_rng(seed)
    slow = sum(np.sin(2 * np.pi * s / w + rng.uniform(0, 6.3)) for w in (7.0, 12.0)) / 2
    width = pen_mm * (1 + 0.10 * slow)
    if closed:
        following, before = np.roll(points, -3, axis=0), np.roll(points, 3, axis=0)
        area = np.sum(points[:, 0] * np.roll(points[:, 1], -1) - points[:, 1] * np.roll(points[:, 0], -1))
        along = (following - before) * np.sign(area)
        along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
        weight = along[:, 1] * 0.45 - along[:, 0] * 0.85
        kernel = np.hanning(33) / np.hanning(33).sum()
        weight = np.convolve(np.concatenate([weight[-16:], weight, weight[:16]]), kernel, mode="valid")[
            : len(s)
        ]
        return np.asarray(width * (1 + 0.32 * weight))
    t = s / max(s[-1], 1e-9)
    taper = np.minimum(1, np.minimum(t / 0.25, (1 - t) / 0.45))
    return np.asarray(width * (0.35 + 0.75 * np.sqrt(np.clip(taper, 0, 1))))


def render(drawing: Drawing, dpi: float) -> Impression:
    """Ink the drawing and cut its true parts.

    Args:
        drawing: the shapes, back to front.
        dpi: dots per inch of the result.

    Returns: an Impression.
    """
    scale = dpi / 25.4 * SUPERSAMPLE
    h = round(drawing.height_mm * dpi / 25.4)
    w = round(drawing.width_mm * dpi / 25.4)
    ink = np.zeros((h * SUPERSAMPLE, w * SUPERSAMPLE), np.uint8)
    owner = np.zeros(ink.shape, np.int16)
    numbers: dict[str, list[int]] = {}
    for number, mark in enumerate(drawing.marks, start=1):
        pixels = mark.path * scale
        margin = int(mark.pen_mm * scale) + 4
        x0, y0 = np.maximum(np.floor(pixels.min(axis=0)).astype(int) - margin, 0)
        x1, y1 = np.ceil(pixels.max(axis=0)).astype(int) + margin
        view, own = ink[y0:y1, x0:x1], owner[y0:y1, x0:x1]
        if not view.size:
            continue
        fixed = np.round((pixels - [x0, y0]) * 16).astype(np.int32)
        allowed = np.ones(view.shape, bool)
        if mark.within:
            allowed = np.isin(own, [k for name in mark.within for k in numbers[name]])
        if mark.kind != "stroke":
            mask = np.zeros(view.shape, np.uint8)
            cv2.fillPoly(mask, [fixed], 1, cv2.LINE_8, 4)
            inside = mask.astype(bool) & allowed
            if mark.kind == "blot":
                view[inside] = 255
            else:
                if not mark.within:
                    view[inside] = 0
                own[inside] = number
                numbers.setdefault(mark.name, []).append(number)
        if mark.outlined:
            points, s = resampled(mark.path, mark.closed)
            widths = pen_widths(points, s, mark.closed, mark.pen_mm, drawing.seed + number)
            line = np.zeros(view.shape, np.uint8)
            centres = np.round((points * scale - [x0, y0]) * 16).astype(int)
            for (x, y), r in zip(
                centres.tolist(), np.maximum(widths * scale * 8, 8).astype(int).tolist(), strict=True
            ):
                cv2.circle(line, (x, y), r, 255, -1, cv2.LINE_8, 4)
            if mark.within:
                allowed = np.isin(own, [number, *(k for name in mark.within for k in numbers[name])])
                line[~allowed] = 0
            np.maximum(view, line, out=view)
    line_cover = cv2.resize(ink, (w, h), interpolation=cv2.INTER_AREA).astype(np.float32) / 255
    shown = owner[SUPERSAMPLE // 2 :: SUPERSAMPLE, SUPERSAMPLE // 2 :: SUPERSAMPLE][:h, :w]
    return _cut_parts(drawing, shown, line_cover, dpi)


def _cut_parts(
    drawing: Drawing, shown: NDArray[np.int16], line: NDArray[np.float32], dpi: float
) -> Impression:
    """Parts are the white areas of each shape; the ink goes to the nearest of its own shape."""
    labels = np.zeros(shown.shape, np.int32)
    names, levels = [""], [-1]
    least = SMALLEST_PART_MM2 * (dpi / 25.4) ** 2
    sunk: dict[int, int] = {}
    for number, mark in enumerate(drawing.marks, start=1):
        if mark.kind == "shape":
            parents = [
                k
                for k, m in enumerate(drawing.marks[: number - 1], start=1)
                if m.kind == "shape" and m.name in mark.within
            ]
            sunk[number] = sunk[parents[-1]] if parents and mark.flush else number
    white = line < 0.5
    for number, mark in enumerate(drawing.marks, start=1):
        if mark.kind != "shape":
            continue
        mine = shown == number
        if not mine.any():
            continue
        count, pieces, stats, _ = cv2.connectedComponentsWithStats(
            (mine & white).astype(np.uint8), connectivity=4
        )
        for piece in range(1, count):
            if stats[piece, cv2.CC_STAT_AREA] >= least:
                labels[pieces == piece] = len(names)
                names.append(mark.name)
                levels.append(sunk[number])
    # Ink inside a shape goes to the nearest part, so that borders run under the middle of the lines.
    outside = shown == 0
    seeds = (labels == 0) & ~outside
    _, nearest = cv2.distanceTransformWithLabels(
        seeds.astype(np.uint8), cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
    )
    table = np.zeros(nearest.max() + 1, np.int32)
    table[nearest[~seeds]] = labels[~seeds]
    labels = np.where(seeds, table[nearest], labels)
    return Impression(line, labels.astype(np.int32), tuple(names), np.array(levels), dpi)


def scanned(line: NDArray[np.float32], dpi: float, seed: int = 1) -> NDArray[np.uint8]:
    """The stamped image as a flatbed would see it: warm paper with grain, uneven ink, specks, a slight turn.

    Args:
        line: ink cover, 0 to 1, shape (h, w).
        dpi: dots per inch of *line*.
        seed: fixes grain and specks.

    Returns: sRGB, uint8, shape (h, w, 3).
    """
    rng = np.random.default_rng(seed)
    h, w = line.shape
    per_mm = dpi / 25.4

    def grain(size_mm: float) -> NDArray[np.float32]:
        noise = rng.standard_normal(
            (max(int(h / size_mm / per_mm), 2), max(int(w / size_mm / per_mm), 2))
        ).astype(np.float32)
        return np.asarray(cv2.resize(noise, (w, h), interpolation=cv2.INTER_CUBIC), dtype=np.float32)

    turn = cv2.getRotationMatrix2D((w / 2, h / 2), float(rng.uniform(-0.7, 0.7)), 1)
    line = np.asarray(cv2.warpAffine(line, turn, (w, h), flags=cv2.INTER_LINEAR), dtype=np.float32)
    rough = cv2.GaussianBlur(line, (0, 0), 0.035 * per_mm) + 0.10 * grain(0.12) * cv2.GaussianBlur(
        line, (0, 0), 0.08 * per_mm
    )
    cover = np.clip((rough - 0.5) * 2.6 + 0.5, 0, 1)
    cover = cover * np.clip(0.93 + 0.05 * grain(1.2) - 0.06 * np.maximum(grain(0.15) - 1.6, 0), 0, 1)
    for _ in range(25):
        x, y, r = rng.uniform(0, w), rng.uniform(0, h), rng.uniform(0.03, 0.07) * per_mm
        cv2.circle(
            cover,
            (int(x * 16), int(y * 16)),
            max(int(r * 16), 12),
            float(rng.uniform(0.3, 0.8)),
            -1,
            cv2.LINE_AA,
            4,
        )
    paper = (
        np.array([0.962, 0.950, 0.922], np.float32)
        * (1 + 0.006 * grain(0.2) + 0.004 * grain(0.09))[..., None]
    )
    yy, xx = np.mgrid[0:h, 0:w].astype(np.float32)
    paper = paper * (1 - 0.03 * (xx / w) ** 2 - 0.02 * (1 - yy / h) ** 2)[..., None]
    inked = np.array([0.10, 0.095, 0.105], np.float32)
    picture = paper * (1 - cover[..., None]) + inked * cover[..., None]
    picture = np.asarray(cv2.GaussianBlur(picture, (0, 0), 0.022 * per_mm))
    picture += 0.006 * rng.standard_normal(picture.shape).astype(np.float32)
    return np.asarray(np.clip(picture * 255 + 0.5, 0, 255), dtype=np.uint8)
