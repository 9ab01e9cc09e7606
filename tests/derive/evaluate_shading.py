"""How often the guess of which part lies in front is right, fit of its weights, and how long shading takes.

    python tests/derive/evaluate_shading.py [--scans | --times]

Truth: scenes laid down back to front (examples/line_art and tests/drawings), so their depths are known. The
guess sees only the parts that `find_regions` found in the drawn picture. Each scene is judged by weights fitted
on the others.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path
from typing import NamedTuple

import cv2
import numpy as np

HERE = Path(__file__).resolve()
sys.path[:0] = [str(HERE.parents[2] / "examples" / "line_art"), str(HERE.parents[1])]

from draw_line_art import DRAWINGS  # noqa: E402
from drawings import scenes  # noqa: E402
from inking import Drawing, Impression, render, scanned  # noqa: E402

from blendkit.art.depth import BESIDE_CUES, CUES, measure_cues  # noqa: E402
from blendkit.art.regions import find_regions  # noqa: E402

DPI = 300.0
RIDGE = 0.5


class Case(NamedTuple):
    """Cues and truth of one drawing's pairs."""

    name: str
    cues: np.ndarray
    beside_cues: np.ndarray
    first: np.ndarray  # 1 first in front, 0 second, 0.5 of one surface
    border_mm: np.ndarray


def as_drawing(name: str, sketch: scenes.Sketch) -> Drawing:
    """A test scene in the examples' own pen; a clipped area that leaves its owner is a stripe."""
    d = Drawing(name, sketch.width, sketch.height)
    for k, stroke in enumerate(sketch.strokes):
        owner = () if stroke.clip is None else (str(stroke.clip),)
        if stroke.kind == "area":
            flush = False
            if stroke.clip is not None:
                around = (sketch.strokes[stroke.clip].path * 100).astype(np.int32)
                out = [
                    cv2.pointPolygonTest(around, (float(x * 100), float(y * 100)), False) < 0
                    for x, y in stroke.path[::5]
                ]
                flush = any(out)
            d.shape(str(k), stroke.path, 0.5 * stroke.pen, owner, flush=flush)
        elif stroke.kind == "line":
            d.stroke(stroke.path, 0.5 * stroke.pen, owner)
        else:
            d.blot(stroke.path)
    return d


def all_drawings() -> dict[str, Drawing]:
    """Every drawing with known depths."""
    found = {name: draw() for name, draw in DRAWINGS.items()}
    for group in ("TUNING", "REPORTED"):
        for name, scene in getattr(scenes, group, {}).items():
            found[f"scene {name}"] = as_drawing(name, scene())
    return found


def found_levels(sheet: Impression, scans: bool = False) -> tuple[np.ndarray, np.ndarray]:
    """Parts as `find_regions` sees the picture, and the true depth of each (-1 where it is none)."""
    grey = np.round((1 - sheet.line) * 255).astype(np.uint8)
    picture = scanned(sheet.line, sheet.dpi) if scans else np.repeat(grey[..., None], 3, axis=2)
    labels = find_regions(picture, dpi=sheet.dpi).labels
    parts, true = int(labels.max()), len(sheet.names)
    table = np.bincount(labels.ravel() * true + sheet.labels.ravel(), minlength=(parts + 1) * true).reshape(
        -1, true
    )
    best = table.argmax(axis=1)
    sure = table.max(axis=1) > 0.7 * table.sum(axis=1)
    return labels, np.where(sure & (best > 0), sheet.level[best], -1)


def measure(name: str, drawing: Drawing, scans: bool = False) -> Case:
    """Cues of one drawing."""
    labels, level = found_levels(render(drawing, DPI), scans)
    pairs, border_mm, cues, beside = measure_cues(labels, DPI)
    a, b = level[pairs[:, 0]], level[pairs[:, 1]]
    known = (a >= 0) & (b >= 0)
    first = np.where(a == b, 0.5, np.where(a > b, 1.0, 0.0))
    return Case(name, cues[known], beside[known], first[known], border_mm[known])


def fit_logistic(x: np.ndarray, y: np.ndarray, ridge: float = RIDGE) -> np.ndarray:
    """Weights of a logistic fit by Newton steps, with a small ridge."""
    w = np.zeros(x.shape[1])
    for _ in range(30):
        p = 1 / (1 + np.exp(-(x @ w)))
        grad = x.T @ (p - y) + ridge * w
        hess = (x * (p * (1 - p))[:, None]).T @ x + ridge * np.eye(len(w))
        step = np.linalg.solve(hess, grad)
        w -= step
        if np.abs(step).max() < 1e-9:
            break
    return w


def fit_fronts(cases: list[Case]) -> np.ndarray:
    """Weights of the cues for which part lies in front."""
    x = np.concatenate([c.cues[c.first != 0.5] for c in cases])
    y = np.concatenate([c.first[c.first != 0.5] for c in cases])
    return fit_logistic(x, y)


def fit_beside(cases: list[Case]) -> np.ndarray:
    """Weights of the cues for parts of one surface."""
    return fit_logistic(
        np.concatenate([c.beside_cues for c in cases]),
        np.concatenate([(c.first == 0.5) * 1.0 for c in cases]),
    )


def print_row(name: str, hit: np.ndarray, half: np.ndarray, length: np.ndarray) -> None:
    """One line of the table."""
    by_length = np.average(hit, weights=length)
    print(f"{name:24} {len(hit):5} {hit.mean():6.1%} {hit[half].mean():10.1%} {by_length:10.1%}")


def report(cases: list[Case]) -> None:
    """Print, for each drawing left out of the fit, the share of right guesses."""
    right, sure, long, beside_hits = [], [], [], []
    print(f"{'drawing':24} pairs  right  surer half  by border length")
    for k, case in enumerate(cases):
        others = cases[:k] + cases[k + 1 :]
        w = fit_fronts(others)
        use = case.first != 0.5
        score = case.cues[use] @ w
        hit = (score > 0) == (case.first[use] == 1)
        size = np.abs(score)
        length = case.border_mm[use]
        half = size >= np.median(size)
        print_row(case.name, hit, half, length)
        right.append(hit)
        sure.append(size)
        long.append(length)
        guess = case.beside_cues @ fit_beside(others) > 0
        beside_hits.append(np.stack([guess, case.first == 0.5]))
    hit, size, length = map(np.concatenate, (right, sure, long))
    half = size >= np.median(size)
    print_row("all", hit, half, length)
    for low, high in ((0, 0.5), (0.5, 1), (1, 2), (2, 3), (3, 99)):
        inside = (size >= low) & (size < high)
        if inside.any():
            p = 1 / (1 + np.exp(-size[inside]))
            print(f"  said {p.mean():.2f}: right {hit[inside].mean():.2f} of {inside.sum()}")
    guess, truth = np.concatenate(beside_hits, axis=1)
    print(
        f"one surface: {truth.sum()} pairs, found {(guess & truth).sum()}, wrongly {(guess & ~truth).sum()}"
    )


def main() -> None:
    """Evaluate, and print fitted weights."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--times", action="store_true")
    parser.add_argument("--scans", action="store_true", help="judge drawings as scanned")
    given = parser.parse_args()
    if given.times:
        measure_times()
        return
    cases = []
    for name, drawing in all_drawings().items():
        cases.append(measure(name, drawing, given.scans))
    report(cases)
    print("CUE_WEIGHTS =", tuple(np.round(fit_fronts(cases), 2).tolist()), CUES)
    print("BESIDE_WEIGHTS =", tuple(np.round(fit_beside(cases), 2).tolist()), BESIDE_CUES)


def measure_times() -> None:
    """Print how long each step takes, best of five, at 1.5 and 4 megapixels."""
    from blendkit.art.depth import find_fronts
    from blendkit.art.preview import encode_part_png, paint
    from blendkit.art.relief import find_relief
    from blendkit.art.shading import shade

    def best(action, times=5):
        took = []
        for _ in range(times):
            start = time.perf_counter()
            result = action()
            took.append(time.perf_counter() - start)
        return min(took), result

    drawing = DRAWINGS["hedgehog_lantern"]()
    ramp = np.linspace(255, 80, 256)[:, None].repeat(3, axis=1).astype(np.uint8)
    paper = np.array([250, 248, 240], np.uint8)

    def measure_at(megapixels):
        dpi = 25.4 * np.sqrt(megapixels * 1e6 / (drawing.width_mm * drawing.height_mm))
        sheet = render(drawing, dpi)
        took = {}
        took["fronts"], fronts = best(lambda: find_fronts(sheet.labels, sheet.line, dpi))
        took["relief"], relief = best(lambda: find_relief(sheet.labels, sheet.line, fronts, dpi))
        took["shade"], shades = best(lambda: shade(relief, 315))
        ramps = dict.fromkeys(range(1, relief.parts + 1), ramp)
        took["paint"], _ = best(lambda: paint(shades, relief, ramps, paper))
        took["part PNG"], png = best(lambda: encode_part_png(sheet.labels, shades.tone, sheet.line))
        steps = ", ".join(f"{name} {seconds * 1e3:.0f} ms" for name, seconds in took.items())
        print(f"{sheet.labels.size / 1e6:.2f} MP: {steps} ({len(png) // 1000} kB)")

    for megapixels in (1.5, 4.0):
        measure_at(megapixels)


if __name__ == "__main__":
    main()
