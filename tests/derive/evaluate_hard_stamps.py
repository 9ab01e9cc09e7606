"""Measure parts, figure and cut line on hard stamps, and print the table of tests/derive/README.md.

``python tests/derive/evaluate_hard_stamps.py`` (some minutes). Scenes: ``drawings.scenes_fresh``.
"""

import argparse
import sys
import tempfile
import time
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from drawings.hard import CONDITIONS, hard_stamp
from drawings.scenes_fresh import FRESH
from drawings.score import score

import blendkit
from blendkit.errors import BlendkitError


def measure(scene, condition: str, dpi: float, seed: int) -> dict[str, float]:
    """One picture: iou, lost, false parts over and under 4 mm², share of the figure outside the cut."""
    rgb, drawing, to_picture = hard_stamp(scene, condition, dpi, seed)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "stamp.png"
        cv2.imwrite(str(path), rgb[..., ::-1])
        start = time.perf_counter()
        try:
            work = blendkit.open_work(
                blendkit.Project(image=path.name, path=Path(folder) / "stamp.toml", dpi=dpi)
            )
        except BlendkitError as fault:
            return {"refused": 1, "iou": 0.0, "why": str(fault)[:90]}
        seconds = time.perf_counter() - start
    straight = np.eye(3) if work.picture_from_work is None else work.picture_from_work
    matrix = np.linalg.inv(to_picture) @ straight  # from the work's pixels to the drawing's
    size = drawing.truth.shape[::-1]
    flags = cv2.INTER_NEAREST
    labels = cv2.warpPerspective(work.regions.labels.astype(np.float32), matrix, size, flags=flags).astype(
        np.int32
    )
    found = score(drawing.truth, labels)
    per_mm2 = (dpi / 25.4) ** 2
    lost = sum(1 for k in range(1, drawing.parts + 1) if (labels[drawing.truth == k] == 0).mean() > 0.5)
    counts = np.bincount(labels.ravel())
    owned = {int(np.bincount(labels[drawing.truth == k]).argmax()) for k in range(drawing.parts + 1)}
    false = [counts[k] / per_mm2 for k in range(1, len(counts)) if counts[k] and k not in owned]
    line = blendkit.find_cut_line(work, blendkit.Cut(rim_mm=2))
    inside = np.zeros(work.regions.labels.shape, np.uint8)
    cv2.fillPoly(inside, [np.round(np.array(o) * work.per_mm).astype(np.int32) for o in line.outlines], 1)
    inside = cv2.warpPerspective(inside, matrix, size, flags=flags)
    figure = drawing.truth > 0
    return {"iou": float(found.iou.mean()), "parts": len(found.iou), "lost": lost, "merged": found.merged,
            "false": sum(a >= 4 for a in false), "small": sum(a < 4 for a in false),
            "outside": float((figure & (inside == 0)).sum() / figure.sum()), "seconds": seconds}  # fmt: skip


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--conditions", nargs="+", default=list(CONDITIONS))
    parser.add_argument("--scenes", type=int, nargs=2, default=[0, 4], help="from, to")
    parser.add_argument("--dpi", type=float, default=300)
    parser.add_argument("--verbose", action="store_true")
    args = parser.parse_args()
    scenes = list(FRESH.items())[slice(*args.scenes)]
    print(
        "| condition | pictures (refused) | mean IoU | lost | false (small) | merged | outside the cut | s |"
    )
    print("|---|---|---|---|---|---|---|---|")
    for condition in args.conditions:
        rows = []
        for seed, (name, scene) in enumerate(scenes):
            rows.append(measure(scene, condition, args.dpi, seed))
            if args.verbose:
                print("   ", name, condition, rows[-1], flush=True)
        total = {k: sum(r.get(k, 0) for r in rows) for k in
                 ("refused", "parts", "lost", "false", "small", "merged", "outside", "seconds")}  # fmt: skip
        iou = np.average([r["iou"] for r in rows], weights=[r.get("parts", 20) for r in rows])
        done = max(1, len(rows) - total["refused"])
        figures = (
            condition,
            f"{len(rows)} ({total['refused']})",
            f"{iou:.3f}",
            f"{total['lost']} of {total['parts']}",
            f"{total['false']} ({total['small']})",
            str(total["merged"]),
            f"{100 * total['outside'] / done:.2f} %",
            f"{total['seconds'] / done:.1f}",
        )
        print("| " + " | ".join(figures) + " |", flush=True)


if __name__ == "__main__":
    main()
