"""Fit the weights of blendkit/art/second_look.py on drawings whose parts are known, and print them.

Run from the repository's top: ``python tests/derive/fit_second_look.py`` (some minutes). Drawings: the heaps of
scenes_many.py and the scenes of scenes.py, never those that evaluate_regions.py reports as held or new. A way is
a join where known parts differ on its two hands; one that cuts a known part in two counts against, one that
does no harm a little. Printed besides: what is found and what is spoiled in drawings left out of the fit.
"""

import argparse
import sys
from multiprocessing import Pool
from pathlib import Path

import cv2
import numpy as np
from scipy.ndimage import find_objects
from scipy.optimize import minimize

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from drawings.scenes import TUNING
from drawings.scenes_many import many
from drawings.sketch import draw, scan

from blendkit.art import regions, second_look
from blendkit.errors import BlendkitError

PENS_MM = (0.3, 0.35, 0.45, 0.5, 0.6, 0.8, 1.0)
HARMLESS_WEIGHT, LEAST_CUT_PEN_AREAS = 0.15, 6.0


def ways_of(job):
    """Features (n, k) and verdicts (n,) of one drawing's ways: 1 a join, -1 a cut through a part, 0 neither."""
    name, seed, condition = job
    gaps = (1, 10) if "gapped" in condition else None
    scene = many(seed) if name == "many" else TUNING[name]()
    drawing = draw(scene, 300, PENS_MM[seed % len(PENS_MM)], seed, gaps)
    seen = []

    def watch(mask, tips, body, pen, gap, free):
        ways = real(mask, tips, body, pen, gap, free)
        seen.append((mask, pen, ways))
        return ways

    real, second_look.find_ways = second_look.find_ways, watch
    try:
        regions.find_regions(scan(drawing, seed) if "scanned" in condition else drawing.grey, 300)
    except BlendkitError:
        pass
    finally:
        second_look.find_ways = real
    if not seen or seen[0][0].shape != drawing.truth.shape:
        return None
    mask, pen, ways = seen[0]
    boxes = find_objects(drawing.truth + 1)
    verdicts = np.array([verdict(path, drawing.truth, mask == 0, boxes, pen) for path in ways.path])
    known = verdicts < 9
    return ways.features[known], verdicts[known].astype(int)


def verdict(path, truth, white, boxes, pen):
    """1 where known parts differ beside a way, -1 where it cuts one in two, 0 where neither, 9 unknown."""
    step = path[1] - path[0]
    normal = np.array([-step[1], step[0]]) / max(float(np.hypot(*step)), 1e-6)
    hands = []
    for sign in (1, -1):
        at = path[0] + np.linspace(0.15, 0.85, 7)[:, None, None] * step
        at = at + sign * np.arange(2.0, 6.0)[:, None] * normal
        x, y = np.round(at.reshape(-1, 2)).astype(int).T
        inside = (x >= 0) & (y >= 0) & (x < truth.shape[1]) & (y < truth.shape[0])
        x, y = x[inside], y[inside]
        found = truth[y, x][white[y, x]]
        found = found[found >= 0]
        if found.size == 0:
            return 9
        hands.append(int(np.bincount(found).argmax()))
    if hands[0] != hands[1]:
        return 1
    rows, columns = boxes[hands[0]]
    part = ((truth[rows, columns] == hands[0]) & white[rows, columns]).astype(np.uint8)
    cut = part.copy()
    ends = np.round(path - [columns.start, rows.start]).astype(int).tolist()
    cv2.line(cut, ends[0], ends[1], 0, 1, cv2.LINE_8)
    pieces = [
        int(
            (
                cv2.connectedComponentsWithStats(m, connectivity=4)[2][1:, 4] >= LEAST_CUT_PEN_AREAS * pen**2
            ).sum()
        )
        for m in (part, cut)
    ]
    return -1 if pieces[1] > pieces[0] else 0


def fit(features, verdicts, ridge=1e-3):
    """Weights and constant of the logistic fit that make the verdicts likeliest."""
    middle, spread = features.mean(0), features.std(0) + 1e-9
    x = np.column_stack([(features - middle) / spread, np.ones(len(features))])
    truth = np.where(verdicts == 1, 1.0, -1.0)
    weight = np.where(verdicts == 0, HARMLESS_WEIGHT, 1.0)

    def loss(w):
        margin = truth * (x @ w)
        slope = -(weight * truth / (1 + np.exp(margin))) @ x
        value = float(weight @ np.logaddexp(0, -margin))
        return value + ridge * len(x) * float(w[:-1] @ w[:-1]), slope + 2 * ridge * len(x) * np.append(
            w[:-1], 0
        )

    w = minimize(loss, np.zeros(x.shape[1]), jac=True).x
    weights = w[:-1] / spread
    return weights, float(w[-1] - weights @ middle)


def main() -> None:
    """Print the weights and what they do to drawings left out."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--heaps", type=int, default=160)
    parser.add_argument("--seeds", type=int, default=10, help="of each scene of scenes.py")
    arguments = parser.parse_args()
    jobs = [
        ("many", 3000 + k, ("gapped", "gapped", "gapped, scanned", "clean")[k % 4])
        for k in range(arguments.heaps)
    ]
    jobs += [(name, 60 + k, ("gapped", "gapped", "gapped, scanned")[k % 3])
             for k in range(arguments.seeds) for name in TUNING]  # fmt: skip
    with Pool(2) as pool:
        found = [each for each in pool.map(ways_of, jobs, chunksize=4) if each is not None and len(each[1])]
    features, verdicts = (np.concatenate([each[k] for each in found]) for k in (0, 1))
    drawing = np.repeat(np.arange(len(found)), [len(each[1]) for each in found])
    print(f"{len(found)} drawings, {len(verdicts)} ways: {np.sum(verdicts == 1)} joins, "
          f"{np.sum(verdicts == -1)} would cut a part, {np.sum(verdicts == 0)} do nothing")  # fmt: skip
    likelihood = np.zeros(len(verdicts))
    for fold in range(5):
        left = drawing % 5 == fold
        weights, offset = fit(features[~left], verdicts[~left])
        likelihood[left] = 1 / (1 + np.exp(-(features[left] @ weights + offset)))
    for likely in (0.3, 0.4, 0.5, 0.6, 0.7, 0.8):
        taken = likelihood >= likely
        print(f"likely {likely}: joins found {np.mean(taken[verdicts == 1]):.3f}, "
              f"cuts {np.sum(taken & (verdicts == -1))}")  # fmt: skip
    weights, offset = fit(features, verdicts)
    for name, weight, spread in zip(second_look.FEATURES, weights, features.std(0), strict=True):
        print(f"{name:24s} {weight:8.3f}   (over its spread {weight * spread:6.2f})")
    print("WEIGHTS =", tuple(round(float(w), 3) for w in weights), "OFFSET =", round(offset, 3))


if __name__ == "__main__":
    main()
