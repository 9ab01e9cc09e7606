"""Scenes of shapes thrown at random, as many as wanted: on these the closing of gaps is fitted."""

import math

import numpy as np

from drawings.shapes import (
    Path,
    arc,
    curve,
    ellipse,
    leaf,
    polygon,
    rounded,
    scalloped,
    star,
    straight,
    turned,
)
from drawings.sketch import Sketch

WIDTH_MM, HEIGHT_MM = 72.0, 80.0


def many(seed: int) -> Sketch:
    """A heap of blobs, leaves, boxes, stars and rings with bands, spots, hairs, folds and faces on them."""
    rng = np.random.default_rng(seed)
    sketch = Sketch(WIDTH_MM, HEIGHT_MM)
    if rng.random() < 0.5:
        y = rng.uniform(0.6, 0.9) * HEIGHT_MM
        sketch.area(curve([(-6, y), (18, y - 5), (44, y + 3), (78, y - 3), (80, 90), (-8, 90)], True))
    for _ in range(int(rng.integers(8, 16))):
        x, y = rng.uniform(8, WIDTH_MM - 8), rng.uniform(8, HEIGHT_MM - 8)
        size = 3.0 + 15.0 * rng.random() ** 1.7
        path = _shape(rng, x, y, size)
        if rng.random() < 0.1:
            _hairs(rng, sketch, path)
        index = sketch.area(path, rng.uniform(0.7, 1.1))
        if size > 5:
            _dress(rng, sketch, index, x, y, size)
    return sketch


def _shape(rng: np.random.Generator, x: float, y: float, size: float) -> Path:
    turn = rng.uniform(0, 360)
    flat = rng.uniform(0.45, 1.0)
    kind = int(rng.integers(8))
    if kind == 0:
        return ellipse(x, y, size, flat * size, turn)
    if kind == 1:
        return turned(rounded(x - size, y - flat * size, 2 * size, 2 * flat * size, 0.2 * size), turn, (x, y))
    if kind == 2:
        return star(x, y, size, rng.uniform(0.4, 0.75) * size, int(rng.integers(5, 9)), turn)
    if kind == 3:
        a = math.radians(turn)
        ahead = np.array([math.cos(a), math.sin(a)]) * size
        return leaf((x - ahead[0], y - ahead[1]), (x + ahead[0], y + ahead[1]), rng.uniform(0.5, 1.2) * size)
    if kind == 4:
        return turned(scalloped(x, y, size, flat * size, int(rng.integers(6, 13)), 0.2), turn, (x, y))
    if kind == 5:
        return turned(_corners(rng, x, y, size, int(rng.integers(3, 7)), polygon), turn, (x, y))
    if kind == 6:  # a bent strip: an arm, a tail, a scarf's end
        reach = size * 1.3
        along = np.linspace(-reach, reach, 6)
        bend = rng.uniform(-0.5, 0.5) * size
        middle = [(x + t, y + bend * math.cos(1.4 * t / reach)) for t in along]
        half = rng.uniform(0.16, 0.3) * size + 0.8
        edge = [(p, q - half) for p, q in middle] + [(p, q + half) for p, q in middle[::-1]]
        return turned(curve(edge, True), turn, (x, y))
    return _corners(rng, x, y, size, int(rng.integers(5, 10)), lambda points: curve(points, True))


def _corners(rng, x, y, size, count, join) -> Path:
    angles = (np.arange(count) + rng.uniform(-0.3, 0.3, count)) * 2 * math.pi / count
    radii = size * rng.uniform(0.65, 1.1, count)
    return join([(x + r * math.cos(a), y + r * math.sin(a)) for a, r in zip(angles, radii, strict=True)])


def _hairs(rng: np.random.Generator, sketch: Sketch, path: Path) -> None:
    """Short lines that stick out of an outline, or stop just short of it."""
    middle = path.mean(0)
    for start in path[:: max(1, len(path) // int(rng.integers(3, 9)))]:
        out = start - middle
        out = out / max(float(np.hypot(*out)), 1e-6)
        lift = rng.uniform(-0.5, 1.0)
        sketch.line(
            straight(tuple(start + lift * out), tuple(start + (lift + rng.uniform(1.2, 4.5)) * out)),
            rng.uniform(0.5, 0.9),
            taper=rng.uniform(0.2, 0.8),
        )


def _dress(rng: np.random.Generator, sketch: Sketch, index: int, x: float, y: float, size: float) -> None:
    """What lies on a shape: bands, spots, a smaller likeness, folds, a face."""
    kind = int(rng.choice(7, p=(0.2, 0.2, 0.2, 0.09, 0.06, 0.17, 0.08)))
    turn = rng.uniform(0, 360)
    if kind == 0:  # bands across
        step = rng.uniform(2.2, 5)
        for k in range(int(rng.integers(1, 4))):
            off = (k - 1) * 2 * step
            band = rounded(x - 2 * size, y + off, 4 * size, step * rng.uniform(0.5, 1.1), 0.2)
            sketch.area(turned(band, turn, (x, y)), rng.uniform(0.6, 0.9), index)
    elif kind == 1:  # spots
        for _ in range(int(rng.integers(2, 7))):
            p, q = x + rng.uniform(-0.6, 0.6) * size, y + rng.uniform(-0.6, 0.6) * size
            sketch.area(ellipse(p, q, rng.uniform(0.9, 2.4), rng.uniform(0.9, 2.4)), 0.7, index)
    elif kind == 2:  # a smaller likeness within
        sketch.area(
            ellipse(x, y, rng.uniform(0.4, 0.7) * size, rng.uniform(0.3, 0.5) * size, turn), 0.8, index
        )
    elif kind in (3, 4):  # folds and ticks, which bound nothing
        for _ in range(int(rng.integers(2, 6))):
            p, q = x + rng.uniform(-0.6, 0.6) * size, y + rng.uniform(-0.6, 0.6) * size
            start = rng.uniform(0, 360)
            r = rng.uniform(1.0, 0.5 * size)
            bent = arc(p, q, r, r * rng.uniform(0.4, 1), start, start + rng.uniform(50, 150))
            sketch.line(bent, rng.uniform(0.45, 0.9), index, taper=rng.uniform(0.2, 0.9))
    elif kind == 5:  # a face
        r = 0.14 * size
        for side in (-1, 1):
            eye = x + side * 0.32 * size
            if rng.random() < 0.5:
                sketch.area(ellipse(eye, y - 0.1 * size, r, 1.2 * r), 0.7)
                sketch.black(ellipse(eye, y - 0.1 * size, 0.55 * r, 0.65 * r))
            else:
                sketch.black(ellipse(eye, y - 0.1 * size, 0.5 * r + 0.3, 0.6 * r + 0.3))
        sketch.area(ellipse(x, y + 0.12 * size, 0.8 * r + 0.4, 0.6 * r + 0.4), 0.7)
        sketch.line(arc(x, y + 0.2 * size, 0.3 * size, 0.22 * size, 20, 160), 0.7)
    else:  # creases from the edge inward
        for _ in range(int(rng.integers(2, 5))):
            a = rng.uniform(0, 2 * math.pi)
            far, near = rng.uniform(0.8, 1.3) * size, rng.uniform(0.3, 0.6) * size
            c, s = math.cos(a), math.sin(a)
            bent = curve(
                [
                    (x + far * c, y + far * s),
                    (x + 0.8 * far * c + 0.8, y + 0.8 * far * s),
                    (x + near * c, y + near * s),
                ]
            )
            sketch.line(bent, rng.uniform(0.5, 0.9), index, taper=rng.uniform(0.2, 0.8))
