"""What recurs in the drawings: leaves, acorns, mushrooms, faces, a lantern. Sizes in millimetres, y downward."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from inking import Drawing, Points, ellipse, moved, smooth

# fmt: off


def quills(x: float, y: float, rx: float, ry: float, count: int, length: float, start: float, stop: float,
           lean: float = 0.0, seed: int = 0) -> Points:
    """Outline of a coat of quills: curved tips around an ellipse, between two angles (clockwise from up)."""
    rng = np.random.default_rng(seed)
    points: list[tuple[float, ...]] = []
    edges = np.deg2rad(np.linspace(start, stop, count + 1))
    full = abs(stop - start) >= 359

    def at(angle: float, out: float) -> tuple[float, float]:
        return (x + (rx + out) * np.sin(angle), y - (ry + out) * np.cos(angle))

    for k in range(count):
        a, b = edges[k], edges[k + 1]
        middle = (a + b) / 2 + lean * (b - a) * (1 if full else np.sin((a + b) / 2))
        tall = length * rng.uniform(0.9, 1.1)
        points.append((*at(a, 0), 1))
        points.append(at(a * 0.68 + middle * 0.32, tall * 0.50))
        points.append((*at(middle, tall), 1))
        points.append(at(b * 0.68 + middle * 0.32, tall * 0.50))
    if not full:
        points.append((*at(edges[-1], 0), 1))
    return smooth(points)


def oak_leaf(x: float, y: float, size: float, turn: float, flip: bool = False) -> tuple[Points, Points]:
    """Lobed leaf pointing up from its stalk at (x, y), and its midrib."""
    half = [(0.0, 0.0, 1), (0.10, -0.10), (0.25, -0.14), (0.27, -0.25), (0.13, -0.31, 1), (0.32, -0.37),
        (0.40, -0.50),
            (0.30, -0.58), (0.15, -0.57, 1), (0.28, -0.66), (0.32, -0.78), (0.22, -0.84),
                (0.11, -0.80, 1), (0.13, -0.93)]
    other = [(-p[0] * 0.96, *p[1:]) for p in half[:0:-1]]
    outline = smooth([*half, (0.0, -1.0), *other])
    rib = smooth([(0, 0.16), (0.0, -0.1), (0.02, -0.45), (0.0, -0.78)], closed=False)
    return moved(outline, x, y, turn, size, flip), moved(rib, x, y, turn, size, flip)


def leaf(x: float, y: float, size: float, turn: float, wide: float = 0.24) -> tuple[Points, Points]:
    """Plain pointed leaf from its stalk at (x, y), and its midrib."""
    outline = smooth([(0, 0, 1), (wide, -0.22), (wide * 1.05, -0.5), (0, -1, 1), (-wide, -0.52),
        (-wide * 0.95, -0.22)])
    rib = smooth([(0, 0.14), (0.015, -0.3), (0, -0.74)], closed=False)
    return moved(outline, x, y, turn, size), moved(rib, x, y, turn, size)


def add_leaf(d: Drawing, name: str, shape: tuple[Points, Points], pen: float = 0.45) -> None:
    d.shape(name, shape[0], pen)
    d.stroke(shape[1], 0.34)


def heart(x: float, y: float, size: float, turn: float = 0) -> Points:
    return moved(smooth([(0, 0.45, 1), (0.42, 0.06), (0.5, -0.25), (0.27, -0.46), (0, -0.24, 1),
        (-0.27, -0.46),
                         (-0.5, -0.25), (-0.42, 0.06)]), x, y, turn, size)


def eye(d: Drawing, x: float, y: float, size: float, glint: float = 0.32) -> None:
    """A round, inked eye with a glint of bare paper."""
    d.blot(ellipse(x, y, size * 0.8, size))
    d.shape("glint", ellipse(x - size * 0.22, y - size * 0.38, size * glint, size * glint), 0.05,
        outlined=False)
    d.shape("glint", ellipse(x + size * 0.26, y + size * 0.42, size * glint * 0.5, size * glint * 0.5),
        0.05, outlined=False)


def grass(d: Drawing, x: float, y: float, size: float = 1.0) -> None:
    for dx, bend, tall in ((-0.9, -1.2, 2.6), (0, 0.15, 3.6), (0.9, 1.3, 2.4)):
        d.stroke(smooth([(x + dx * size, y), (x + (dx + bend * 0.25) * size, y - tall * 0.55 * size),
                         (x + (dx + bend) * size, y - tall * size)], closed=False), 0.42)


def mushroom(d: Drawing, x: float, y: float, size: float, turn: float = 0) -> None:
    def at(points: list[tuple[float, ...]]) -> Points:
        return moved(smooth(points), x, y, turn, size)

    d.shape("mushroom stem", at([(-0.17, -0.5, 1), (0.17, -0.5, 1), (0.17, -0.2), (0.27, -0.02),
        (0.1, 0.06), (-0.12, 0.06), (-0.28, -0.02), (-0.17, -0.22)]))
    d.shape("mushroom gills", at([(-0.5, -0.47), (0, -0.38), (0.5, -0.47), (0.3, -0.58),
        (-0.3, -0.58)]), 0.38)
    d.shape("mushroom cap", at([(-0.58, -0.46, 1), (-0.56, -0.72), (-0.3, -1.0), (0.02, -1.08),
        (0.33, -0.98), (0.57, -0.7), (0.58, -0.46, 1), (0.3, -0.53), (0, -0.55), (-0.3, -0.53)]))
    for sx, sy, r in ((-0.24, -0.76, 0.115), (0.13, -0.9, 0.09), (0.3, -0.66, 0.10)):
        d.shape("mushroom spot", moved(ellipse(sx, sy, r * 1.1, r), x, y, turn, size), 0.36,
            within="mushroom cap")


def acorn(d: Drawing, x: float, y: float, size: float, turn: float = 0, name: str = "acorn") -> None:
    """An acorn hanging from its stalk at (x, y)."""
    def at(points: list[tuple[float, ...]], closed: bool = True) -> Points:
        return moved(smooth(points, closed), x, y, turn, size)

    d.shape(name, at([(-0.36, 0.35), (0.36, 0.35), (0.37, 0.68), (0.19, 0.96), (0, 1.1, 1),
        (-0.19, 0.96), (-0.37, 0.68)]))
    d.shape(f"{name} cap", at([(-0.47, 0.42, 1), (-0.44, 0.2), (-0.22, 0.05), (-0.06, 0.03),
        (-0.05, -0.16), (0.04, -0.19), (0.07, 0.03), (0.24, 0.06), (0.44, 0.2), (0.47, 0.42, 1),
        (0.24, 0.5), (0, 0.52), (-0.24, 0.5)]))
    for sx, sy in ((-0.25, 0.3), (-0.02, 0.33), (0.21, 0.3), (-0.14, 0.19), (0.11, 0.2)):
        d.stroke(at([(sx - 0.07, sy - 0.035), (sx, sy + 0.035),
            (sx + 0.075, sy - 0.03)], closed=False), 0.32)


def brow_fringe() -> Points:
    """Quills that fall over the hedgehog's brow."""
    points: list[tuple[float, ...]] = [(16.6, 36.5, 1), (18.0, 25), (28, 14.2), (41, 11.5), (54, 14.2),
        (64.0, 25), (65.4, 36.5, 1)]
    tips = [(61.8, 34.0), (57.8, 31.6), (53.4, 31.0), (49.2, 32.4), (45.2, 34.4), (41.2, 36.2),
        (37.0, 34.6), (32.8, 32.2), (28.6, 31.0), (24.2, 31.8), (20.2, 34.2)]
    last = (65.4, 36.5)
    for tip in tips:
        valley = ((last[0] + tip[0]) / 2, (last[1] + tip[1]) / 2 - 5.6)
        points += [(last[0] * 0.55 + valley[0] * 0.45 - 0.35, last[1] * 0.45 + valley[1] * 0.55),
            (*valley, 1), (tip[0] * 0.55 + valley[0] * 0.45 + 0.35, tip[1] * 0.45 + valley[1] * 0.55),
            (*tip, 1)]
        last = tip
    valley = ((last[0] + 16.6) / 2, (last[1] + 36.5) / 2 - 5.6)
    points += [(*valley, 1)]
    return smooth(points)


def lantern(d: Drawing, x: float, y: float, size: float, rays: bool = True) -> None:
    """A lantern hanging from (x, y), with rays to its right."""
    def at(points: list[tuple[float, ...]], closed: bool = True) -> Points:
        return moved(smooth(points, closed), x, y, 0, size)

    d.shape("lantern ring", moved(ellipse(0, 1.9, 2.5, 2.5), x, y, 0, size), 0.45)
    d.shape("hole", moved(ellipse(0, 1.9, 1.45, 1.45), x, y, 0, size), 0.42)
    d.shape("lantern cap", at([(-1.5, 4.2, 1), (0, 3.7), (1.5, 4.2, 1), (3.0, 6.8), (7.4, 9.8),
        (8.2, 11.4, 1), (0, 12.4), (-8.2, 11.4, 1), (-7.4, 9.8), (-3.0, 6.8)]))
    d.shape("lantern glass", at([(-6.4, 12.0, 1), (0, 12.8), (6.4, 12.0, 1), (7.9, 18.0), (6.3, 25.4, 1),
        (0, 26.4), (-6.3, 25.4, 1), (-7.9, 18.0)]))
    d.shape("candle", at([(-2.2, 26.4, 1), (-2.2, 21.6), (-0.6, 21.0), (2.2, 21.6), (2.2, 26.4, 1),
        (0, 26.9)]), 0.42, within="lantern glass")
    d.shape("flame", at([(0.2, 13.8, 1), (1.6, 16.6), (2.4, 18.6), (1.6, 20.7), (0, 21.2), (-1.7, 20.7),
        (-2.3, 18.6), (-1.0, 16.4)]), 0.42)
    d.shape("flame heart", at([(0.1, 17.2, 1), (0.9, 18.8), (0.7, 20.0), (0, 20.4), (-0.8, 20.0),
        (-0.9, 18.8)]), 0.32, within="flame")
    for side in (-1, 1):
        d.stroke(at([(side * 3.4, 12.6), (side * 4.5, 18.4), (side * 3.5, 26.0)], closed=False), 0.40)
    d.shape("lantern foot", at([(-7.0, 25.2, 1), (0, 26.3), (7.0, 25.2, 1), (7.6, 27.4), (8.2, 29.2, 1),
        (0, 30.6), (-8.2, 29.2, 1), (-7.6, 27.4)]))
    for angle in (74, 96, 118) if rays else ():
        a = np.deg2rad(angle)
        c = np.array([0, 18.6])
        ray = np.array([np.sin(a), -np.cos(a)])
        d.stroke(moved(np.linspace(c + ray * 10.2, c + ray * 12.6, 12), x, y, 0, size), 0.42)


def face(d: Drawing, who: str, x: float, y: float, size: float, smile: float = 1.0, lashes: bool = False,
    cheeks: bool = True) -> None:
    """Eyes, cheeks, nose and mouth around (x, y), on the shape named after whose face it is."""
    for side in (-1, 1):
        if cheeks:
            d.shape(f"{who} cheek", ellipse(x + side * 6.2 * size, y + 3.2 * size, 2.1 * size,
                1.5 * size), 0.3, within=f"{who} face")
        eye(d, x + side * 4.2 * size, y, 1.32 * size, 0.34)
        d.stroke(smooth([(x + side * 2.8 * size, y - 3.3 * size),
            (x + side * 4.4 * size, y - 4.1 * size),
            (x + side * 6.1 * size, y - 3.3 * size)], closed=False), 0.5)
        if lashes:
            for k in (0, 1):
                d.stroke(smooth([(x + side * (4.9 + 0.35 * k) * size, y - (0.95 - 0.6 * k) * size),
                    (x + side * (6.0 + 0.3 * k) * size, y - (1.5 - 0.75 * k) * size)], closed=False), 0.36)
    d.stroke(smooth([(x - 0.85 * size, y + 1.9 * size), (x, y + 2.5 * size),
        (x + 0.85 * size, y + 1.9 * size)], closed=False), 0.42)
    if smile:
        d.stroke(smooth([(x - 2.3 * size, y + 4.1 * size), (x, y + (4.3 + 0.95 * smile) * size),
            (x + 2.3 * size, y + 4.1 * size)], closed=False), 0.5)


def curls(x: float, y: float, rx: float, ry: float, count: int, bump: float, start: float = 0,
    stop: float = 360) -> Points:
    """A cloud of hair: round bumps around an ellipse."""
    points: list[tuple[float, ...]] = []
    edges = np.deg2rad(np.linspace(start, stop, count + 1))
    for a, b in pairwise(edges):
        for t, out in ((0, 0.0), (0.2, 0.72), (0.5, 1.0), (0.8, 0.72)):
            angle = a + (b - a) * t
            point = (x + (rx + bump * out) * np.sin(angle), y - (ry + bump * out) * np.cos(angle))
            points.append((*point, 1) if t == 0 else point)
    if abs(stop - start) < 359:
        points.append((x + rx * np.sin(edges[-1]), y - ry * np.cos(edges[-1]), 1))
    return smooth(points)


def star(x: float, y: float, size: float, turn: float = 0) -> Points:
    """A five-pointed star with soft sides."""
    turns = np.deg2rad(turn + 36 * np.arange(10))
    out = np.where(np.arange(10) % 2, 0.46, 1.0) * size
    return smooth([(x + r * np.sin(a), y - r * np.cos(a), 1) for a, r in zip(turns, out, strict=True)])


def twine_bow(d: Drawing, x: float, y: float, size: float) -> None:
    """A small bow, its knot at (x, y)."""
    for side in (-1, 1):
        def at(points: list[tuple[float, ...]], side: int = side) -> Points:
            return moved(smooth(points), x, y, 0, size, side < 0)

        d.shape("bow tail", at([(0.0, 0.1, 1), (0.34, 0.36), (0.5, 0.86), (0.8, 1.16, 1), (0.5, 1.2),
            (0.3, 1.34, 1), (0.16, 0.9), (-0.1, 0.4, 1)]), 0.4)
        d.shape("bow loop", at([(0.02, -0.04, 1), (0.34, -0.62), (0.86, -0.82), (1.2, -0.5), (1.06, 0.0),
            (0.6, 0.24), (0.02, 0.12, 1)]), 0.45)
        d.shape("bow inside", at([(0.36, -0.1, 1), (0.56, -0.4), (0.86, -0.5), (0.92, -0.26),
            (0.7, -0.06)]), 0.34, within="bow loop")
    d.shape("bow knot", ellipse(x, y + 0.04 * size, 0.25 * size, 0.29 * size, 0, 2.6), 0.42)


def banner(d: Drawing, x: float, y: float, half: float, high: float) -> None:
    """A strip of paper for a name, its ends folded back."""
    for side in (-1, 1):
        d.shape("banner end", moved(smooth([(half - 2.6, 1.2, 1), (half + 2.4, 0.6, 1),
            (half + 1.0, 1.5 + high / 2, 1), (half + 2.5, high + 1.4, 1), (half - 2.6, high + 1.6, 1)]),
            x, y - high / 2, 0, 1, side < 0), 0.42)
    d.shape("banner", smooth([(x - half, y - high / 2, 1), (x, y - high / 2 - 1.0),
        (x + half, y - high / 2, 1), (x + half, y + high / 2, 1), (x, y + high / 2 - 1.0),
        (x - half, y + high / 2, 1)]), 0.48)


def smile(d: Drawing, x: float, y: float, wide: float, within: str) -> None:
    """Two dots for eyes, round cheeks and a small smile about (x, y)."""
    for side in (-1, 1):
        d.shape("cheek", ellipse(x + side * wide * 1.5, y + wide * 0.72, wide * 0.46, wide * 0.34), 0.32,
            within=within)
        d.blot(ellipse(x + side * wide, y, wide * 0.2, wide * 0.27))
    d.stroke(smooth([(x - wide * 0.5, y + wide * 0.5), (x, y + wide * 0.86),
        (x + wide * 0.5, y + wide * 0.5)], closed=False), 0.42)
