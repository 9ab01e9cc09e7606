"""Measure how well parts are found on drawings whose parts are known; print the table of the docs.

Run from the repository's top: ``python tests/derive/evaluate_regions.py`` (about ten minutes). The limits in
blendkit/art were chosen on the drawings of scenes.py and scenes_many.py; the drawings of scenes_held.py and
scenes_new.py, whose faults have been looked at, and those of scenes_fresh.py are reported in rows of their own.
"""

import argparse
import io
import sys
import time
from multiprocessing import Pool
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from drawings.scenes import TUNING
from drawings.scenes_fresh import FRESH
from drawings.scenes_held import HELD
from drawings.scenes_new import NEW
from drawings.score import score
from drawings.sketch import draw, photograph, scan

from blendkit.art.regions import find_regions
from blendkit.errors import BlendkitError

PENS_MM = (0.35, 0.45, 0.6, 0.8)
NEW_PENS_MM = (0.3, 0.5, 0.8, 1.2)
SETS = {
    "tuning": (TUNING, PENS_MM),
    "held": (HELD, PENS_MM),
    "new": (NEW, NEW_PENS_MM),
    "fresh": (FRESH, NEW_PENS_MM),
}
CONDITIONS = ("clean", "gapped", "scanned", "scanned, gapped", "photographed", "photographed, gapped")


def picture(scene, dpi, condition, pen_mm, seed):
    """A picture under one condition, its truth and the number of gaps in it."""
    gap_px = (1, 10) if "gapped" in condition else None
    drawing = draw(scene(), dpi, pen_mm, seed, gap_px)
    if condition.startswith("scanned"):
        return scan(drawing, seed), drawing.truth, drawing.gaps
    if condition.startswith("photographed"):
        return *photograph(drawing, seed), drawing.gaps
    return drawing.grey, drawing.truth, drawing.gaps


def one(job):
    """A line for the log; IoUs (n,), gaps, extra, merged and refused of one drawing."""
    scenes, name, dpi, condition, pen_mm, seed = job
    image, truth, gaps = picture(SETS[scenes][0][name], dpi, condition, pen_mm, seed)
    label = f"    {name} {dpi} {condition} pen {pen_mm} mm"
    try:
        result = score(truth, find_regions(image, dpi).labels)
    except BlendkitError as error:
        return f"{label}: {error}", [0.0] * (int(truth.max()) + 1), gaps, 0, 0, 1
    line = f"{label}: {result.iou.mean():.3f}, {result.extra} extra, {result.merged} merged"
    return line, list(result.iou), gaps, result.extra, result.merged, 0


def evaluate(pool, scenes, dpi, condition, seeds, pens=None, verbose=False):
    """One row of the table: mean IoU, parts, gaps, extra, merged, refused."""
    drawings, usual = SETS[scenes]
    pens = pens or usual
    rows = pool.map(one, [(scenes, name, dpi, condition, pens[(index + seed) % len(pens)], seed * 100 + index)
                          for seed in seeds for index, name in enumerate(drawings)], chunksize=1)  # fmt: skip
    if verbose:
        print("\n".join(row[0] for row in rows))
    ious = [iou for row in rows for iou in row[1]]
    gaps, extra, merged, refused = (sum(row[k] for row in rows) for k in range(2, 6))
    return float(np.mean(ious)), len(ious), gaps, extra, merged, refused


def measure_speed() -> None:
    """Time twelve megapixels against Pillow's decoding of the same JPEG, turn about in one run."""
    from PIL import Image

    drawing = draw(TUNING["jumper"](), 600, 0.5, 5, (1, 10))
    rgb = np.tile(scan(drawing, 5), (2, 2, 1))[:3000, :4000]
    file = io.BytesIO()
    Image.fromarray(rgb).save(file, "JPEG", quality=90)
    decode, find = [], []
    for _ in range(9):
        start = time.perf_counter()
        pixels = np.asarray(Image.open(io.BytesIO(file.getvalue())).convert("RGB"))
        middle = time.perf_counter()
        find_regions(pixels, 600)
        decode.append(middle - start)
        find.append(time.perf_counter() - middle)
    print(f"12 megapixels: decode {min(decode):.3f} s, find {min(find):.3f} s, ratio of the best "
          f"{min(find) / min(decode):.2f}, of the medians {np.median(find) / np.median(decode):.2f}")  # fmt: skip


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--dpi", type=int, nargs="+", default=[300, 600])
    parser.add_argument("--seeds", type=int, nargs="+", default=[21, 22])
    parser.add_argument("--conditions", nargs="+", default=list(CONDITIONS))
    parser.add_argument("--sets", nargs="+", default=list(SETS), choices=list(SETS))
    parser.add_argument("--pens", type=float, nargs="+", default=None)
    parser.add_argument("--verbose", action="store_true")
    parser.add_argument("--no-speed", action="store_true")
    arguments = parser.parse_args()
    print("| drawings | dpi | condition | mean IoU | parts | gaps | extra | merged | refused |")
    print("|---|---|---|---|---|---|---|---|---|")
    with Pool(2) as pool:
        for name in arguments.sets:
            for dpi in arguments.dpi:
                for condition in arguments.conditions:
                    iou, parts, gaps, extra, merged, refused = evaluate(
                        pool, name, dpi, condition, arguments.seeds, arguments.pens, arguments.verbose
                    )
                    print(f"| {name} | {dpi} | {condition} | {iou:.3f} | {parts} | {gaps} | {extra} | {merged} "
                          f"| {refused} |", flush=True)  # fmt: skip
    if not arguments.no_speed:
        measure_speed()


if __name__ == "__main__":
    main()
