"""Paths in millimetres, y downward: the few curves that the drawings are made of."""

import math

import numpy as np
from numpy.typing import NDArray

Path = NDArray[np.float64]
STEP_MM = 0.12


def resample(points: Path, closed: bool, step: float = STEP_MM) -> Path:
    """Lay points evenly along a polyline, about *step* apart."""
    if closed:
        points = np.vstack([points, points[:1]])
    length = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    count = max(8, math.ceil(length[-1] / step))
    at = np.linspace(0.0, length[-1], count, endpoint=not closed)
    return np.column_stack([np.interp(at, length, points[:, axis]) for axis in (0, 1)])


def curve(points: list[tuple[float, float]], closed: bool = False) -> Path:
    """A smooth curve through *points* (centripetal enough for drawing: Catmull-Rom, twelve steps a span)."""
    knots = np.asarray(points, float)
    n = len(knots)
    if closed:
        rows = [(knots[(i - 1) % n], knots[i], knots[(i + 1) % n], knots[(i + 2) % n]) for i in range(n)]
    else:
        ends = np.vstack([2 * knots[0] - knots[1], knots, 2 * knots[-1] - knots[-2]])
        rows = [tuple(ends[i : i + 4]) for i in range(n - 1)]
    t = np.linspace(0, 1, 12, endpoint=False)[:, None]
    spans = [
        0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)
        for a, b, c, d in rows
    ]
    path = np.vstack(spans)
    return resample(path if closed else np.vstack([path, knots[-1:]]), closed)


def polygon(points: list[tuple[float, float]]) -> Path:
    """A closed outline with straight sides and sharp corners."""
    return resample(np.asarray(points, float), True)


def straight(*points: tuple[float, float]) -> Path:
    """An open polyline."""
    return resample(np.asarray(points, float), False)


def turned(path: Path, degrees: float, about: tuple[float, float]) -> Path:
    """*path* turned clockwise (y runs downward) about a point."""
    a = math.radians(degrees)
    matrix = np.array([[math.cos(a), math.sin(a)], [-math.sin(a), math.cos(a)]])
    return (path - about) @ matrix + about


def ellipse(x: float, y: float, rx: float, ry: float | None = None, turn: float = 0.0) -> Path:
    """A closed ellipse."""
    ry = rx if ry is None else ry
    a = np.linspace(0, 2 * np.pi, 240, endpoint=False)
    return turned(resample(np.column_stack([x + rx * np.cos(a), y + ry * np.sin(a)]), True), turn, (x, y))


def arc(x: float, y: float, rx: float, ry: float, start: float, stop: float) -> Path:
    """An open piece of an ellipse; degrees clockwise from the right."""
    a = np.radians(np.linspace(start, stop, 90))
    return resample(np.column_stack([x + rx * np.cos(a), y + ry * np.sin(a)]), False)


def rounded(x: float, y: float, width: float, height: float, radius: float) -> Path:
    """A rectangle with round corners; x, y its top left."""
    corners = [
        (x + width - radius, y + radius, -90),
        (x + width - radius, y + height - radius, 0),
        (x + radius, y + height - radius, 90),
        (x + radius, y + radius, 180),
    ]
    pieces = []
    for cx, cy, start in corners:
        a = np.radians(np.linspace(start, start + 90, 16))
        pieces.append(np.column_stack([cx + radius * np.cos(a), cy + radius * np.sin(a)]))
    return resample(np.vstack(pieces), True)


def leaf(base: tuple[float, float], tip: tuple[float, float], width: float) -> Path:
    """A pointed leaf from *base* to *tip*, *width* across."""
    b, t = np.asarray(base, float), np.asarray(tip, float)
    s = np.linspace(0, 1, 60)[:, None]
    across = np.array([-(t - b)[1], (t - b)[0]]) / np.hypot(*(t - b))
    swell = width / 2 * np.sin(np.pi * s**0.8)
    return resample(
        np.vstack([b + (t - b) * s + across * swell, (b + (t - b) * s - across * swell)[::-1]]), True
    )


def star(x: float, y: float, outer: float, inner: float, points: int, turn: float = 0.0) -> Path:
    """A closed star."""
    a = np.radians(np.arange(2 * points) * 180 / points - 90 + turn)
    r = np.where(np.arange(2 * points) % 2 == 0, outer, inner)
    return resample(np.column_stack([x + r * np.cos(a), y + r * np.sin(a)]), True)


def scalloped(x: float, y: float, rx: float, ry: float, bumps: int, depth: float) -> Path:
    """A closed outline of round bumps: a cloud, a woolly edge."""
    a = np.linspace(0, 2 * np.pi, 40 * bumps, endpoint=False)
    r = 1 - depth + depth * np.abs(np.sin(a * bumps / 2))
    return resample(np.column_stack([x + rx * r * np.cos(a), y + ry * r * np.sin(a)]), True)
