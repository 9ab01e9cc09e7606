"""Random stamps without end, each with its truth: what the learned look is trained on.

Shapes that mean nothing are painted from the back to the front, so that the map of parts is known from the
geometry alone. Their borders are drawn by pen or as ticks of fur; hatching, stipple, strands and folds lie on
them; the impression is patchy, smeared and photographed. Only NumPy and OpenCV are needed.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Path = NDArray[np.float64]

SIDE = 512
"""Pixels of a drawing's side, at 8 to the millimetre: 64 mm."""

FINE = 2
"""It is painted with so many pixels to each of the result's along a side."""

MM = 8 * FINE
"""Fine pixels to a millimetre."""


@dataclass(frozen=True)
class Patch:
    """A random stamp and its truth, each (SIDE, SIDE).

    grey: uint8, the picture. parts: int32, 0 the paper around, else the part. figure: bool, inside the outermost
    borders. texture: bool, where hatching or stipple lies. front: int8, 1 on the side of the nearest border that
    lies in front, -1 behind, 0 where neither does or no border is near.
    """

    grey: NDArray[np.uint8]
    parts: NDArray[np.int32]
    figure: NDArray[np.bool_]
    texture: NDArray[np.bool_]
    front: NDArray[np.int8]


# ---------------------------------------------------------------- shapes, about the origin, of radius about 1


def _turned(path: Path, angle: float) -> Path:
    c, s = math.cos(angle), math.sin(angle)
    return path @ np.array([[c, s], [-s, c]])


def _spread(path: Path, n: int, closed: bool = True) -> Path:
    points = np.vstack([path, path[:1]]) if closed else path
    length = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    at = np.linspace(0, length[-1], n, endpoint=not closed)
    return np.column_stack([np.interp(at, length, points[:, k]) for k in (0, 1)])


def _smooth(points: Path, times: int = 3) -> Path:
    for _ in range(times):  # Chaikin's corner cutting
        after = np.roll(points, -1, 0)
        points = np.stack([0.75 * points + 0.25 * after, 0.25 * points + 0.75 * after], 1).reshape(-1, 2)
    return points


def _blob(rng: np.random.Generator) -> Path:
    a = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    r = np.ones_like(a)
    for k in range(2, 7):
        r = r + rng.normal(0, 0.28 / k) * np.cos(k * a + rng.uniform(0, 6.3))
    return np.column_stack([r * np.cos(a), r * np.sin(a) * rng.uniform(0.4, 1)])


def _ellipse(rng: np.random.Generator) -> Path:
    a = np.linspace(0, 2 * np.pi, 160, endpoint=False)
    return np.column_stack([np.cos(a), rng.uniform(0.35, 1) * np.sin(a)])


def _leaf(rng: np.random.Generator) -> Path:
    s = np.linspace(0, 1, 60)
    swell = rng.uniform(0.2, 0.6) * np.sin(np.pi * s ** rng.uniform(0.6, 1.2))
    bend = rng.normal(0, 0.2) * np.sin(np.pi * s)
    up, down = np.column_stack([2 * s - 1, bend + swell]), np.column_stack([2 * s - 1, bend - swell])
    return np.vstack([up, down[::-1]])


def _polygon(rng: np.random.Generator) -> Path:
    n = int(rng.integers(3, 7))
    if n == 4 or rng.random() < 0.4:
        h = rng.uniform(0.15, 1)
        corners = np.array([[-1, -h], [1, -h], [1, h], [-1, h]]) * np.array([1, 1])
        corners = corners + rng.normal(0, 0.06 * (rng.random() < 0.5), corners.shape)
        if rng.random() < 0.3:  # a skirt, a pot
            corners[:2, 0] *= rng.uniform(0.4, 0.95)
    else:
        a = np.sort(rng.uniform(0, 2 * np.pi, n) * 0.25 + np.arange(n) * 2 * np.pi / n)
        corners = np.column_stack([np.cos(a), np.sin(a)]) * rng.uniform(0.7, 1, (n, 1))
    path = _spread(corners, 48)
    return _smooth(path, 2) if rng.random() < 0.5 else path


def _rounded(rng: np.random.Generator) -> Path:
    p, h = rng.uniform(2, 8), rng.uniform(0.2, 1)
    a = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    c, s = np.cos(a), np.sin(a)
    return np.column_stack([np.sign(c) * np.abs(c) ** (2 / p), h * np.sign(s) * np.abs(s) ** (2 / p)])


def _tube(rng: np.random.Generator) -> Path:
    spine = np.cumsum(np.vstack([[0, 0], _turned(np.array([[1.0, 0]] * 4), 0)]), 0)
    spine[:, 1] = np.cumsum(rng.normal(0, 0.6, 5))
    spine = _spread(_open_curve(spine), 60, False)
    along = np.gradient(spine, axis=0)
    normal = np.column_stack([-along[:, 1], along[:, 0]]) / np.hypot(*along.T)[:, None]
    s = np.linspace(-1, 1, 60)
    wide = rng.uniform(0.2, 0.55) * (1 - np.abs(s) ** rng.uniform(2, 12)) * (1 + rng.uniform(-0.6, 0.6) * s)
    path = np.vstack([spine + normal * wide[:, None], (spine - normal * wide[:, None])[::-1]])
    path = path - path.mean(0)
    return path / np.abs(path).max()


def _star(rng: np.random.Generator) -> Path:
    n, inner = int(rng.integers(4, 12)), rng.uniform(0.4, 0.85)
    a = np.arange(2 * n) * np.pi / n
    r = np.where(np.arange(2 * n) % 2, inner, 1.0)
    path = _spread(np.column_stack([r * np.cos(a), r * np.sin(a)]), 20 * n)
    return _smooth(path, 2) if rng.random() < 0.5 else path


def _scallop(rng: np.random.Generator) -> Path:
    n, d = int(rng.integers(5, 16)), rng.uniform(0.08, 0.3)
    a = np.linspace(0, 2 * np.pi, 30 * n, endpoint=False)
    r = 1 - d + d * np.abs(np.sin(a * n / 2))
    return np.column_stack([r * np.cos(a), rng.uniform(0.5, 1) * r * np.sin(a)])


def _heart(rng: np.random.Generator) -> Path:
    a = np.linspace(0, 2 * np.pi, 160, endpoint=False)
    x = 16 * np.sin(a) ** 3
    y = -(13 * np.cos(a) - 5 * np.cos(2 * a) - 2 * np.cos(3 * a) - np.cos(4 * a))
    return np.column_stack([x, y * rng.uniform(0.8, 1.2)]) / 17


def _crescent(rng: np.random.Generator) -> Path:
    a = np.linspace(-2, 2, 80)
    out = np.column_stack([np.cos(a), np.sin(a)])
    shift = rng.uniform(0.3, 0.7)
    b = np.linspace(a[-1], a[0], 80)
    inner = np.column_stack([np.cos(b) * (1 - shift) - 0.42 * shift, np.sin(b)])
    return np.vstack([out, inner])


SHAPES = (_blob, _ellipse, _leaf, _polygon, _rounded, _tube, _star, _scallop, _heart, _crescent)
SHAPE_SHARES = np.array([5, 6, 4, 5, 4, 6, 1, 1.5, 0.7, 0.8])


def _open_curve(knots: Path, n: int = 40) -> Path:
    """A smooth curve through knots (Catmull-Rom)."""
    ends = np.vstack([2 * knots[0] - knots[1], knots, 2 * knots[-1] - knots[-2]])
    t = np.linspace(0, 1, max(4, n // (len(knots) - 1)), endpoint=False)[:, None]
    spans = []
    for i in range(len(knots) - 1):
        a, b, c, d = ends[i : i + 4]
        spans.append(
            0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)
        )
    return np.vstack([*spans, knots[-1:]])


def _wander(rng: np.random.Generator, n: int, period: float, closed: bool = False) -> NDArray[np.float64]:
    """Smooth noise of about unit size."""
    knots = max(3, round(n / max(1.0, period)))
    values = rng.normal(size=knots + 1)
    if closed:
        values[-1] = values[0]
    at = np.linspace(0, knots, n, endpoint=not closed)
    low = np.minimum(at.astype(int), knots - 1)
    t = at - low
    t = t * t * (3 - 2 * t)
    return values[low] * (1 - t) + values[low + 1] * t


def _field(rng: np.random.Generator, side: int, period: float) -> NDArray[np.float32]:
    """Smooth noise over a square."""
    n = max(3, math.ceil(side / period) + 2)
    return cv2.resize(rng.normal(size=(n, n)).astype(np.float32), (side, side), interpolation=cv2.INTER_CUBIC)


# ---------------------------------------------------------------- painting


@dataclass
class _Hand:
    """How a picture is drawn: one for each picture, a little different for each shape."""

    pen_mm: float
    wobble_mm: float
    swell: float
    fur: float  # share of shapes drawn as ticks
    texture: float  # share of shapes with hatching or stipple
    strokes: float  # open strokes a shape
    gaps: float  # share of line length missing
    sketchy: float  # share of lines drawn twice


class _Canvas:
    """A square that is painted from the back to the front."""

    def __init__(self, rng: np.random.Generator, side: int) -> None:
        self.rng = rng
        self.side = side
        self.ink = np.zeros((side, side), np.uint8)
        self.owner = np.zeros((side, side), np.int32)
        self.texture = np.zeros((side, side), np.uint8)
        self.count = 0
        self.height = [0]  # of each label; the greater is in front, the same where neither is
        self.places: list[tuple[float, float, float]] = []

    def line(self, ink, path: Path, width_px, closed: bool = False, gaps: float = 0.0) -> None:
        """Draw a line whose width changes along it, in pieces; some are missing."""
        n = len(path)
        rng = self.rng
        points = np.round(path * 8).astype(np.int32)
        if closed:
            points, width_px = np.vstack([points, points[:1]]), np.append(width_px, width_px[0])
            n += 1
        steps = np.hypot(*np.diff(path, axis=0).T)
        keep = np.ones(n - 1, bool)
        if gaps > 0 and steps.sum() > MM:
            mean = steps.sum() / len(steps)
            lost, total = 0.0, gaps * rng.uniform(0.3, 1.7) * steps.sum()
            while lost < total:
                gap = rng.uniform(0.3, 1.2) * MM if rng.random() < 0.75 else rng.uniform(1.2, 3.2) * MM
                at, half = int(rng.integers(n)), int(gap / mean / 2) + 1
                keep[max(0, at - half) : at + half] = False
                lost += gap
        piece = max(2, round(0.7 * MM / max(0.3, steps.mean())))
        for start in range(0, n - 1, piece):
            stop = min(n - 1, start + piece)
            width = max(1, round(float(width_px[start:stop].mean())))
            runs = keep[start:stop]
            if runs.all():
                cv2.polylines(ink, [points[start : stop + 1]], False, 255, width, cv2.LINE_8, 3)
            elif runs.any():
                for k in np.flatnonzero(runs):
                    cv2.line(
                        ink, points[start + k].tolist(), points[start + k + 1].tolist(), 255, width, 8, 3
                    )

    def width(self, hand: _Hand, n: int, times: float = 1.0, closed: bool = False) -> NDArray[np.float64]:
        swell = np.clip(1 + hand.swell * _wander(self.rng, n, 60, closed), 0.5, 1.8)
        return hand.pen_mm * times * MM * swell

    def fur(self, ink, path: Path, hand: _Hand) -> None:
        """Draw a border as short ticks beside one another."""
        rng = self.rng
        length = float(np.hypot(*np.diff(path, axis=0).T).sum()) / MM
        tick, spacing = rng.uniform(0.8, 2.6), rng.uniform(0.35, 1.0)
        lean = (
            rng.uniform(-1.3, 1.3) if rng.random() < 0.6 else math.copysign(rng.uniform(0, 0.5), rng.normal())
        )
        along = np.roll(path, -2, 0) - np.roll(path, 2, 0)
        angle = np.arctan2(along[:, 1], along[:, 0])
        side = 1.0 if rng.random() < 0.8 else -1.0
        # outward for clockwise paths in y-down coordinates
        x, y = path.T
        if float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) < 0:
            side = -side
        rows = 1 + int(rng.random() < 0.35)
        pen = hand.pen_mm * rng.uniform(0.5, 1.0)
        flow = rng.random() < 0.3  # all ticks the same way on the page
        wind = rng.uniform(0, 6.3)
        for _ in range(rows):
            count = max(4, int(length / spacing))
            at = (np.arange(count) + rng.uniform(-0.35, 0.35, count)) * len(path) / count
            gone = rng.random(count) < rng.uniform(0, 0.15)
            for k in at[~gone].astype(int) % len(path):
                direction = angle[k] - side * (math.pi / 2 - lean) + rng.normal(0, 0.25)
                if flow:
                    direction = wind + rng.normal(0, 0.3)
                long = tick * MM * rng.uniform(0.6, 1.3)
                step = np.array([math.cos(direction), math.sin(direction)]) * long
                start = path[k] + rng.normal(0, 0.15 * MM, 2) - step * rng.uniform(0.2, 0.6)
                bend = np.array([-step[1], step[0]]) * rng.normal(0, 0.15)
                points = np.array([start, start + step / 2 + bend, start + step])
                cv2.polylines(
                    ink, [np.round(points * 8).astype(np.int32)], False, 255, max(1, round(pen * MM)), 8, 3
                )

    def shape(self, path: Path, hand: _Hand, within: int | None = None, ordered: bool = True, times: float = 1.0,
              fur: bool | None = None, black: bool = False) -> int:  # fmt: skip
        """Paint a closed area with its border; give its label, 0 where nothing of it is seen."""
        rng = self.rng
        pad = 5 * MM
        x0, y0 = np.maximum(path.min(0) - pad, 0).astype(int)
        x1, y1 = np.minimum(path.max(0) + pad, self.side).astype(int)
        if x1 - x0 < 4 or y1 - y0 < 4:
            return 0
        window = np.s_[y0:y1, x0:x1]
        local = path - [x0, y0]
        mask = np.zeros((y1 - y0, x1 - x0), np.uint8)
        cv2.fillPoly(mask, [np.round(local * 8).astype(np.int32)], 255, 8, 3)
        ink, owner = self.ink[window], self.owner[window]
        rim = None
        if within is not None:
            home = ((owner == within) * 255).astype(np.uint8)
            mask &= home
            reach = max(3, round(hand.pen_mm * MM * 0.6)) | 1
            core = cv2.erode(home, np.ones((reach, reach), np.uint8))
            rim = ink & ~core
        if cv2.countNonZero(mask) < 0.3 * MM * MM:
            return 0
        drawn = np.zeros_like(mask)
        fur = rng.random() < hand.fur if fur is None else fur
        n = len(path)
        if fur:
            self.fur(drawn, local, hand)
        else:
            width = self.width(hand, n, times, True)
            self.line(drawn, local, width, True, hand.gaps)
            if rng.random() < hand.sketchy:
                shift = np.column_stack([_wander(rng, n, 50, True), _wander(rng, n, 50, True)]) * 0.25 * MM
                self.line(drawn, local + shift, width * 0.8, True, max(hand.gaps, 0.2))
        if within is not None:
            drawn &= cv2.dilate(mask, np.ones((3, 3), np.uint8)) if fur else home
        if black:
            ink[mask > 0] = 255
            if within is not None:
                return within
        else:
            ink[mask > 0] = 0
            self.texture[window][mask > 0] = 0
        np.maximum(ink, drawn, out=ink)
        if rim is not None:
            np.maximum(ink, rim, out=ink)
        self.count += 1
        owner[mask > 0] = self.count
        self.height.append(self.height[-1] + 1 if ordered or not within else self.height[within])
        if not ordered and within is not None:
            self.height[-1] = self.height[within]
        return self.count

    def marks(self, label: int, draw, area_mm: float = 0.0, textured: bool = False) -> None:
        """Draw into one part only: ``draw(ink, left, top, right, bottom)`` in the window's pixels."""
        where = self.owner == label
        rows, columns = np.flatnonzero(where.any(1)), np.flatnonzero(where.any(0))
        if not rows.size:
            return
        y0, y1, x0, x1 = rows[0], rows[-1] + 1, columns[0], columns[-1] + 1
        window = np.s_[y0:y1, x0:x1]
        drawn = np.zeros((y1 - y0, x1 - x0), np.uint8)
        region = draw(drawn)
        inside = where[window]
        drawn[~inside] = 0
        np.maximum(self.ink[window], drawn, out=self.ink[window])
        if textured and region is not None:
            self.texture[window][inside & (region > 0)] = 255

    def hatch(self, label: int, hand: _Hand) -> None:
        """Hatching, cross-hatching, dashes or stipple over a part or a piece of it."""
        rng = self.rng
        kind = rng.choice(["hatch", "cross", "dash", "stipple", "loose"], p=[0.32, 0.18, 0.12, 0.28, 0.1])
        pen = max(1, round(MM * min(hand.pen_mm, rng.uniform(0.1, 0.45))))
        spacing = MM * rng.uniform(0.45, 1.5)
        whole = rng.random() < 0.25

        def draw(ink):
            h, w = ink.shape
            region = np.full((h, w), 255, np.uint8)
            if not whole:  # a half-plane with a wavering edge, or a blob
                angle = rng.uniform(0, 6.3)
                y, x = np.mgrid[0:h, 0:w]
                d = (x / w - 0.5) * math.cos(angle) + (y / h - 0.5) * math.sin(angle)
                d = d + 0.12 * cv2.resize(_field(rng, 16, 5), (w, h))
                region[d < rng.uniform(-0.3, 0.3)] = 0
            if kind == "stipple":
                many = int(h * w / (MM * MM) * rng.uniform(0.4, 4))
                points = rng.uniform(0, 1, (min(many, 2500), 2)) * [w, h]
                radius = MM * rng.uniform(0.05, 0.16)
                for x, y in points:
                    if region[int(y), int(x)]:
                        r = max(4, int(8 * radius * rng.uniform(0.7, 1.3)))
                        cv2.circle(ink, (int(x * 8), int(y * 8)), r, 255, -1, 8, 3)
                return cv2.dilate(ink, np.ones((MM, MM), np.uint8))
            first = rng.uniform(0, math.pi)
            for turn in (0.0, rng.uniform(0.8, 1.6)) if kind == "cross" else (0.0,):
                strokes = np.zeros_like(ink)
                c, s = math.cos(first + turn), math.sin(first + turn)
                reach = math.hypot(h, w) / 2
                for offset in np.arange(-reach, reach, spacing):
                    o = offset + rng.normal(0, 0.12) * spacing
                    lean = rng.normal(0, 0.04)
                    a = np.array([w / 2 - s * o - c * reach, h / 2 + c * o - s * reach])
                    b = np.array([w / 2 - s * o + c * reach, h / 2 + c * o + s * reach]) + lean * reach
                    mid = (a + b) / 2 + rng.normal(0, 0.3, 2) * MM
                    curve = _open_curve(np.array([a, mid, b]), 24)
                    if kind == "dash":
                        n = len(curve)
                        for k in range(0, n - 1, 2):
                            if rng.random() < 0.75:
                                ends = np.round(curve[k : k + 2] * 8).astype(np.int32)
                                cv2.polylines(strokes, [ends], False, 255, pen, 8, 3)
                    else:
                        cv2.polylines(strokes, [np.round(curve * 8).astype(np.int32)], False, 255, pen, 8, 3)
                strokes &= region
                if kind == "loose":  # strokes end raggedly
                    holes = cv2.resize(_field(rng, 24, 2), (w, h)) > 0.3
                    strokes[holes] = 0
                np.maximum(ink, strokes, out=ink)
            reach = max(3, int(spacing)) | 1
            return cv2.dilate(ink, np.ones((reach, reach), np.uint8))

        self.marks(label, draw, textured=True)

    def strands(self, label: int, hand: _Hand) -> None:
        """Open strokes that bound nothing: hair, ribs, folds, grain, ticks of fur inside, rays."""
        rng = self.rng
        kind = rng.choice(
            ["hair", "fold", "ticks", "rays", "rib", "arcs"], p=[0.25, 0.2, 0.2, 0.12, 0.13, 0.1]
        )
        times = rng.uniform(0.4, 1.0)

        def one(ink, path, taper=True):
            n = len(path)
            width = self.width(hand, n, times)
            if taper:
                width = width * (1 - 0.7 * np.linspace(0, 1, n) ** 2)
            self.line(ink, path, width, False, hand.gaps)

        def draw(ink):
            h, w = ink.shape
            if kind == "hair":
                angle, turn = rng.uniform(0, 6.3), rng.normal(0, 0.4)
                d, across = (
                    np.array([math.cos(angle), math.sin(angle)]),
                    np.array([-math.sin(angle), math.cos(angle)]),
                )
                long = math.hypot(h, w) * rng.uniform(0.25, 0.6)
                count = int(rng.integers(2, 14))
                start = np.array([w, h]) / 2 - d * long * rng.uniform(0.4, 1.2)
                for offset in np.linspace(-0.5, 0.5, count):
                    if rng.random() < 0.2:
                        continue
                    a = start + across * offset * min(h, w) + rng.normal(0, 0.5, 2) * MM
                    far = long * rng.uniform(0.4, 1.1)
                    b = a + d * far / 2 + across * turn * far * 0.2
                    c = a + d * far + across * turn * far * 0.6 + rng.normal(0, 0.5, 2) * MM
                    one(ink, _open_curve(np.array([a, b, c]), 30))
            elif kind == "rays":
                middle = np.array([rng.uniform(0.2, 0.8) * w, rng.uniform(0.2, 0.8) * h])
                inner, outer = rng.uniform(0.1, 0.4), rng.uniform(0.4, 0.9)
                begin = rng.uniform(0, 6.3)
                for a in np.linspace(0, rng.choice([2.0, 6.28]), int(rng.integers(4, 24))):
                    d = np.array([math.cos(a + begin) * w, math.sin(a + begin) * h]) / 2
                    r = inner * rng.uniform(0.7, 1.3), outer * rng.uniform(0.7, 1.1)
                    one(
                        ink,
                        _open_curve(
                            np.array([middle + d * r[0], middle + d * sum(r) / 2, middle + d * r[1]]), 16
                        ),
                    )
            elif kind == "ticks":
                wind = rng.uniform(0, 6.3)
                for _ in range(int(rng.integers(3, 50))):
                    a = rng.uniform(0, 1, 2) * [w, h]
                    angle = wind + rng.normal(0, 0.4)
                    d = np.array([math.cos(angle), math.sin(angle)]) * MM * rng.uniform(0.6, 2.2)
                    bend = np.array([-d[1], d[0]]) * rng.normal(0, 0.25)
                    one(ink, _open_curve(np.array([a, a + d / 2 + bend, a + d]), 8))
            elif kind == "arcs":  # smiles, scales, knuckles
                for _ in range(int(rng.integers(1, 10))):
                    a = np.linspace(0, rng.uniform(1, 3.2), 16) + rng.uniform(0, 6.3)
                    r = MM * rng.uniform(0.5, 4)
                    middle = rng.uniform(0, 1, 2) * [w, h]
                    one(
                        ink, middle + r * np.column_stack([np.cos(a), rng.uniform(0.4, 1) * np.sin(a)]), False
                    )
            else:  # from the border inward, some all but across; a rib with side veins
                angle = rng.uniform(0, 6.3)
                d = np.array([math.cos(angle) * w, math.sin(angle) * h])
                for _ in range(1 if kind == "rib" else int(rng.integers(1, 6))):
                    a = np.array([w, h]) / 2 - d * 0.75 + rng.normal(0, 0.12, 2) * [w, h]
                    far = d * rng.uniform(0.5, 1.15)
                    bend = np.array([-far[1], far[0]]) * rng.normal(0, 0.12)
                    spine = _open_curve(np.array([a, a + far / 2 + bend, a + far]), 40)
                    one(ink, spine)
                    if kind == "rib":
                        for k in range(4, len(spine) - 3, int(rng.integers(3, 8))):
                            for side in (-1, 1):
                                v = _turned(far[None] / 4 * rng.uniform(0.5, 1.1), side * 0.8)[0]
                                one(
                                    ink,
                                    _open_curve(np.array([spine[k], spine[k] + v * 0.55, spine[k] + v]), 8),
                                )
            return None

        self.marks(label, draw)

    def eye(self, label: int, hand: _Hand) -> None:
        """Solid black spots, some with a light in them."""
        rng = self.rng

        def draw(ink):
            h, w = ink.shape
            for _ in range(int(rng.integers(1, 4))):
                middle = rng.uniform(0.15, 0.85, 2) * [w, h]
                r = MM * rng.uniform(0.3, 1.6)
                axes = int(r * 8), int(r * 8 * rng.uniform(0.5, 1))
                at = tuple(int(v * 8) for v in middle)
                cv2.ellipse(ink, at, axes, rng.uniform(0, 180), 0, 360, 255, -1, 8, 3)
                if rng.random() < 0.6:
                    cv2.circle(ink, (at[0] - axes[0] // 3, at[1] - axes[1] // 3), axes[1] // 4, 0, -1, 8, 3)

        self.marks(label, draw)


def _random_hand(rng: np.random.Generator) -> _Hand:
    furry, textured = rng.random() < 0.4, rng.random() < 0.5
    return _Hand(
        pen_mm=float(np.exp(rng.uniform(math.log(0.16), math.log(0.85)))),
        wobble_mm=rng.uniform(0, 0.2),
        swell=rng.uniform(0, 0.3),
        fur=rng.choice([0.3, 0.7, 1.0]) if furry else 0.0,
        texture=rng.uniform(0.2, 0.8) if textured else 0.05,
        strokes=rng.uniform(0.2, 1.0) if rng.random() < 0.7 else 0.0,
        gaps=rng.uniform(0.01, 0.13) if rng.random() < 0.35 else 0.0,
        sketchy=0.3 if rng.random() < 0.12 else 0.0,
    )


def _place(canvas: _Canvas, path: Path, size: float, hand: _Hand) -> Path:
    """Put a unit shape on the page, most often beside or on what is there."""
    rng = canvas.rng
    side = canvas.side
    if canvas.places and rng.random() < 0.8:
        x, y, r = canvas.places[int(rng.integers(len(canvas.places)))]
        a, d = rng.uniform(0, 6.3), rng.uniform(0.3, 1.15)
        at = np.array([x + math.cos(a) * r * d, y + math.sin(a) * r * d])
    else:
        at = rng.uniform(0.12, 0.88, 2) * side
    stretched = path * [1, rng.uniform(0.7, 1.3)]
    out = _turned(stretched, rng.uniform(0, 6.3) if rng.random() < 0.7 else 0.0) * size * MM
    n = max(40, min(600, int(np.hypot(*np.diff(out, axis=0).T).sum() / (0.22 * MM))))
    out = _spread(out, n)
    wobble = np.column_stack([_wander(rng, n, 40, True), _wander(rng, n, 40, True)]) * hand.wobble_mm * MM
    canvas.places.append((*at, size * MM))
    return out + wobble + at


def _adorn(canvas: _Canvas, label: int, path: Path, hand: _Hand, depth: int = 0) -> None:
    """Texture, strokes, inlays, stripes, spots on a shape just painted."""
    rng = canvas.rng
    if not label:
        return
    x, y = path.mean(0)
    size = float(np.abs(path - path.mean(0)).max()) / MM
    if size > 3 and depth < 2 and rng.random() < 0.3:
        _subdivide(canvas, label, path, hand)
    elif size > 3 and depth < 2 and rng.random() < 0.35:
        for _ in range(int(rng.integers(1, 4))):
            unit = SHAPES[rng.choice(len(SHAPES), p=SHAPE_SHARES / SHAPE_SHARES.sum())](rng)
            inner = _turned(unit, rng.uniform(0, 6.3)) * size * MM * rng.uniform(0.15, 0.6)
            inner = _spread(inner, max(30, min(400, int(len(path) * 0.7)))) + path.mean(0)
            inner = inner + rng.normal(0, 0.4, 2) * size * MM * rng.uniform(0.2, 1)
            dotted = rng.random() < 0.2
            own = canvas.shape(inner, hand, within=label, times=rng.uniform(0.5, 1), fur=None if dotted else False,
                               black=rng.random() < 0.12)  # fmt: skip
            if own != label:
                _adorn(canvas, own, inner, hand, depth + 1)
    if rng.random() < hand.texture:
        canvas.hatch(label, hand)
    if rng.random() < hand.strokes:
        for _ in range(int(rng.integers(1, 3))):
            canvas.strands(label, hand)
    if size > 2 and rng.random() < 0.15:
        canvas.eye(label, hand)
    del x, y


def _subdivide(canvas: _Canvas, label: int, path: Path, hand: _Hand) -> None:
    """Lines right across a shape: stripes, planks, a grid, a tail's tip, a ribbon."""
    rng = canvas.rng
    middle, size = path.mean(0), float(np.abs(path - path.mean(0)).max())
    angle = rng.uniform(0, 6.3)
    d, across = np.array([math.cos(angle), math.sin(angle)]), np.array([-math.sin(angle), math.cos(angle)])
    times = rng.uniform(0.5, 1.0)
    if rng.random() < 0.3:  # a ribbon over it
        wide = size * rng.uniform(0.06, 0.25)
        bend = rng.normal(0, 0.2) * size
        spine = _open_curve(
            np.array([middle - 1.6 * size * d, middle + across * bend, middle + 1.6 * size * d]), 80
        )
        ribbon = np.vstack([spine + across * wide, (spine - across * wide)[::-1]])
        canvas.shape(ribbon, hand, within=label, times=times, fur=False)
        return
    count = int(rng.integers(1, 8))
    offsets = (
        np.sort(rng.uniform(-0.9, 0.9, count))
        if rng.random() < 0.4
        else np.linspace(-0.8, 0.8, count + 2)[1:-1]
    )
    bend = rng.normal(0, 0.2)
    for offset in offsets:  # each covers what lies beyond it
        near = middle + across * offset * size
        curve = _open_curve(
            np.array([near - 1.6 * size * d, near + across * bend * size, near + 1.6 * size * d]), 90
        )
        beyond = np.vstack([curve, curve[::-1][[0, -1]] + across * 4 * size])
        piece = _spread(beyond[[*range(len(curve)), len(curve), len(curve) + 1]], 600)
        home = label
        label = canvas.shape(piece, hand, within=home, ordered=False, times=times, fur=False) or label


def _petals(canvas: _Canvas, hand: _Hand, size: float) -> None:
    rng = canvas.rng
    at = rng.uniform(0.1, 0.9, 2) * canvas.side
    count, unit = int(rng.integers(5, 12)), _leaf(rng) if rng.random() < 0.5 else _ellipse(rng)
    begin, textured, stroked = rng.uniform(0, 6.3), rng.random() < hand.texture, rng.random() < hand.strokes
    for k in range(count):
        petal = _turned(
            (unit + [1.2, 0]) * [size / 2.2, size / 2.2 * rng.uniform(0.9, 1.4)], begin + 6.283 * k / count
        )
        path = _spread(petal * MM, 150) + at
        label = canvas.shape(path, hand)
        if label and textured:
            canvas.hatch(label, hand)
        if label and stroked:
            canvas.strands(label, hand)
    path = _spread(_ellipse(rng) * size * 0.3 * MM, 120) + at
    label = canvas.shape(path, hand)
    if label and rng.random() < 0.5:
        canvas.hatch(label, hand)
    canvas.places.append((*at, size * MM))


def _bars(canvas: _Canvas, hand: _Hand) -> None:
    """A gate, a fence, a basket: bars over bars, with paper between."""
    rng = canvas.rng
    at, wide = rng.uniform(0.2, 0.8, 2) * canvas.side, rng.uniform(0.8, 3) * MM
    gap, long = rng.uniform(1, 5) * MM, rng.uniform(6, 30) * MM
    turn = rng.normal(0, 0.3)
    for direction in (0.0, math.pi / 2):
        for k in range(int(rng.integers(2, 7))):
            corners = np.array([[0, 0], [long, 0], [long, wide], [0, wide]]) + [0, k * (gap + wide)]
            path = _spread(_turned(corners, turn + direction), 200) + at
            canvas.shape(path, hand, fur=False)


def _loose(canvas: _Canvas, hand: _Hand) -> None:
    """Strings, steam, grass, hatched ground and dots on the paper: ink that bounds nothing."""
    rng = canvas.rng
    side = canvas.side
    for _ in range(int(rng.integers(0, 5))):
        knots = np.cumsum(rng.normal(0, 5 * MM, (4, 2)), 0) + rng.uniform(0, side, 2)
        path = _open_curve(knots, 60)
        canvas.line(canvas.ink, path, canvas.width(hand, len(path), rng.uniform(0.5, 1)), False, hand.gaps)
    if rng.random() < 0.15 + 0.3 * hand.texture:
        ground = _Canvas(rng, side)
        ground.owner[:] = 0
        patch = (
            _spread(_blob(rng) * [1, 0.4] * rng.uniform(4, 18) * MM, 100) + rng.uniform(0.1, 0.9, 2) * side
        )
        blank = np.zeros((side, side), np.uint8)
        cv2.fillPoly(blank, [np.round(patch).astype(np.int32)], 255)
        ground.owner[blank > 0] = 1
        ground.hatch(1, hand)
        np.maximum(canvas.ink, ground.ink, out=canvas.ink)
        np.maximum(canvas.texture, ground.texture, out=canvas.texture)


def draw_parts(rng: np.random.Generator, side: int = SIDE) -> tuple[_Canvas, _Hand]:
    """Paint one random stamp."""
    canvas = _Canvas(rng, side * FINE)
    hand = _random_hand(rng)
    if rng.random() < 0.5:
        _loose(canvas, hand)
    count = int(np.exp(rng.uniform(math.log(3), math.log(45))))
    largest = rng.uniform(6, 22)
    sizes = np.sort(largest * rng.uniform(0.03, 1, count) ** rng.uniform(0.8, 2))[::-1]
    sizes = np.maximum(sizes, 0.7)
    k = 0
    while k < count:
        chance = rng.random()
        size = float(sizes[k] if rng.random() < 0.8 else rng.choice(sizes))
        if chance < 0.06:
            _petals(canvas, hand, max(2.5, size))
        elif chance < 0.09:
            _bars(canvas, hand)
        else:
            unit = SHAPES[rng.choice(len(SHAPES), p=SHAPE_SHARES / SHAPE_SHARES.sum())](rng)
            own = _Hand(**{**vars(hand), "pen_mm": hand.pen_mm * rng.choice([0.75, 1, 1, 1, 1.2])})
            path = _place(canvas, unit, size, hand)
            label = canvas.shape(path, own, black=rng.random() < 0.025)
            _adorn(canvas, label, path, own)
            if rng.random() < 0.25:  # its mirror image: eyes, ears, arms
                x = canvas.places[int(rng.integers(len(canvas.places)))][0]
                twin = path * [-1, 1] + [2 * x, 0]
                label = canvas.shape(twin, own)
                _adorn(canvas, label, twin, own)
            elif rng.random() < 0.08:  # a row of the same: beads, scales, buttons
                step = rng.normal(0, 1, 2) * size * MM * 1.6
                for times in range(1, int(rng.integers(2, 6))):
                    label = canvas.shape(path + step * times, own)
        k += 1
    return canvas, hand


# ---------------------------------------------------------------- from the painting to a picture with its truth


def _print(rng: np.random.Generator, canvas: _Canvas, patchy: bool) -> NDArray[np.float32]:
    """How much ink lies where, 0 to 1, as the stamp left it."""
    side = canvas.side // FINE
    ink = cv2.resize(canvas.ink, (side, side), interpolation=cv2.INTER_AREA).astype(np.float32) / 255
    if rng.random() < 0.15:  # squeezed or starved
        spread = cv2.GaussianBlur(ink, (0, 0), rng.uniform(0.6, 1.2))
        ink = np.clip((spread - rng.uniform(0.25, 0.6)) * 3 + 0.5, 0, 1)
    if patchy:
        rough = 0.6 * _field(rng, side, rng.uniform(4, 16)) + 0.7 * _field(rng, side, rng.uniform(20, 90))
        edge = rng.uniform(0.05, 0.5)
        ink = ink * np.clip((rng.uniform(1.1, 2.0) - rough) / edge, 0, 1)
        ink = ink * np.clip(1 - rng.uniform(0, 0.35) * np.abs(_field(rng, side, rng.uniform(1.5, 4))), 0.1, 1)
    if rng.random() < 0.35:
        ink = ink * np.clip(0.85 + rng.uniform(0.05, 0.3) * _field(rng, side, rng.uniform(15, 80)), 0.25, 1)
    if rng.random() < 0.12 or (patchy and rng.random() < 0.3):  # a ghost beside
        shift = np.float32([[1, 0, rng.normal(0, 6)], [0, 1, rng.normal(0, 6)]])
        ghost = cv2.warpAffine(ink, shift, (side, side))
        ink = np.maximum(ink, ghost * rng.uniform(0.08, 0.3))
    return np.asarray(ink, np.float32)


def _photograph(rng: np.random.Generator, ink: NDArray[np.float32]) -> NDArray[np.uint8]:
    """The print on its paper, as a scanner or a telephone sees it."""
    side = ink.shape[0]
    kind = rng.choice(["clean", "scan", "photo", "kraft"], p=[0.3, 0.3, 0.22, 0.18])
    blur = {"clean": rng.uniform(0.01, 0.6), "scan": rng.uniform(0.25, 0.7), "photo": rng.uniform(0.4, 1.3),
            "kraft": rng.uniform(0.2, 0.9)}[kind]  # fmt: skip
    ink = cv2.GaussianBlur(ink, (0, 0), blur) if blur > 0.2 else ink
    if kind == "clean":
        return np.clip(255 * (1 - ink * rng.uniform(0.85, 1)), 0, 255).astype(np.uint8)
    black = rng.uniform(0.05, 0.25)
    if kind == "kraft":
        black = rng.uniform(0.05, 0.55)
    rough = rng.uniform(0.003, 0.02) if kind == "scan" else rng.uniform(0.006, 0.05)
    paper = 0.93 * (1 + rough * _field(rng, side, rng.uniform(1.2, 5)) + 0.5 * rough * _field(rng, side, 30))
    light = paper * (1 - ink * (1 - black))
    for _ in range(int(rng.poisson(rng.choice([0, 3, 25])))):
        at = tuple(int(v) for v in rng.uniform(0, side * 8, 2))
        cv2.circle(
            light, at, int(8 * rng.uniform(0.4, 1.3)), float(rng.uniform(0.3, 0.8)), -1, cv2.LINE_AA, 3
        )
    if kind == "photo":
        y, x = np.mgrid[0:side, 0:side].astype(np.float32) / side - 0.5
        a = rng.uniform(0, 6.3)
        slope = 1 - rng.uniform(0, 0.6) * (0.5 + x * math.cos(a) + y * math.sin(a))
        if rng.random() < 0.5:  # a hand's shadow
            curve = (
                x * math.cos(a + 1)
                + y * math.sin(a + 1)
                + 0.1 * _field(rng, side, 150)
                - rng.uniform(-0.4, 0.4)
            )
            slope = slope * (1 - rng.uniform(0.1, 0.55) / (1 + np.exp(-curve / rng.uniform(0.006, 0.05))))
        light = light * slope
    light = light + rng.normal(0, rng.uniform(0.002, 0.03), light.shape)
    grey = np.clip(255 * light * rng.uniform(0.75, 1), 0, 255).astype(np.uint8)
    if rng.random() < 0.4:
        coded = cv2.imencode(".jpg", grey, [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(60, 95))])[1]
        grey = cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE)
    return np.asarray(grey, np.uint8)


def _visible_parts(owner: NDArray[np.int32]) -> tuple[NDArray[np.int32], NDArray[np.bool_]]:
    """Number what is seen of each area apart; bare paper is 0 where the page's edge can be reached, the rest are
    parts too."""
    padded = cv2.copyMakeBorder((owner == 0).astype(np.uint8), 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=1)
    _, pieces = cv2.connectedComponents(padded, connectivity=4)
    pieces = pieces[1:-1, 1:-1]
    around = pieces == 1
    parts = owner.copy()
    sealed = (owner == 0) & ~around
    parts[sealed] = owner.max() + pieces[sealed]
    return np.asarray(parts, np.int32), np.asarray(~around, np.bool_)


def _front(parts: NDArray[np.int32], height: NDArray[np.int32], reach_px: int) -> NDArray[np.int8]:
    """For every place near a border, whether it lies on the border's front side."""
    tall = height[parts]
    value = np.zeros(parts.shape, np.int8)
    near = np.zeros(parts.shape, np.uint8)
    for down, across in ((0, 1), (1, 0)):
        a, b = np.s_[: parts.shape[0] - down, : parts.shape[1] - across], np.s_[down:, across:]
        edge = parts[a] != parts[b]
        sign = np.sign(tall[a] - tall[b]).astype(np.int8)
        value[a][edge], value[b][edge] = sign[edge], -sign[edge]
        near[a][edge], near[b][edge] = 1, 1
    distance, nearest = cv2.distanceTransformWithLabels(
        1 - near, cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
    )
    table = np.zeros(int(nearest.max()) + 1, np.int8)
    table[nearest[near > 0]] = value[near > 0]
    return np.where(distance <= reach_px, table[nearest], 0).astype(np.int8)


def draw_patches(seed: int, prints: int = 2) -> list[Patch]:
    """Draw one random stamp and print it several times.

    Args:
        seed: fixes everything.
        prints: how many impressions of it.

    Returns: as many patches.
    """
    rng = np.random.default_rng(seed)
    side = SIDE if rng.random() < 0.5 else int(SIDE * rng.uniform(0.75, 1.5))
    canvas, _ = draw_parts(rng, side)
    owner = np.ascontiguousarray(canvas.owner[FINE // 2 :: FINE, FINE // 2 :: FINE])
    texture = canvas.texture[::FINE, ::FINE]
    table = np.array(canvas.height, np.int32)
    patches = []
    for _ in range(prints):
        ink = _print(rng, canvas, rng.random() < 0.3)
        turn, scale = rng.normal(0, 4) if rng.random() < 0.6 else 0.0, SIDE / side
        if abs(scale - 1) > 0 and rng.random() < 0.6:
            scale = 1.0  # cropped or with paper around, not resized
        warp = np.vstack([cv2.getRotationMatrix2D((side / 2, side / 2), turn, scale), [0, 0, 1]])
        warp[:2, 2] += (SIDE - side) / 2
        if rng.random() < 0.25:
            warp[2, :2] = rng.normal(0, 8e-5, 2)
        size = SIDE, SIDE
        shown = cv2.warpPerspective(ink, warp, size, flags=cv2.INTER_LINEAR)
        moved = cv2.warpPerspective(owner.astype(np.float32), warp, size, flags=cv2.INTER_NEAREST).astype(
            np.int32
        )
        marked = cv2.warpPerspective(texture, warp, size, flags=cv2.INTER_NEAREST) > 0
        parts, figure = _visible_parts(moved)
        heights = np.append(table, np.zeros(int(parts.max()) + 1, np.int32))
        patches.append(Patch(_photograph(rng, shown), parts, figure, marked, _front(parts, heights, 10)))
    return patches
