"""Whether shadows lie where a colourist lays them, on drawings whose order is known.

    python tests/derive/evaluate_shadows.py [--held]

Truth: tests/drawings paints its scenes back to front, so which area lies over which is known, and which is only
drawn on another (clipped to it). The areas are found in the drawn picture, the fronts are guessed. Half of the
scenes (TUNING, NEW and odd random ones) were looked at while the shading was made; with --held the other half is
measured.

For every overlap with a border of LEAST_BORDER_MM or more whose front is guessed rightly: is the back part, in the
2 mm along the border, darker than its own middle by 15 % of its range from light to shadow, and does any highlight
lie there? For every part: is it darker on the lit side than away from the light? A small thing that lies wholly on
another (an eye, a cheek, a button) is counted apart: no shadow is wanted around it.
"""

import argparse
import sys
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from drawings import scenes, scenes_fresh, scenes_held, scenes_new
from drawings.scenes_many import many
from drawings.sketch import Sketch, _filled, draw

from blendkit.art.depth import find_fronts
from blendkit.art.regions import find_regions
from blendkit.art.relief import find_relief
from blendkit.art.shading import BASE_TONE, shade

DPI = 200.0
LIGHTS_DEG = (315.0, 45.0, 135.0, 225.0)
LEAST_BORDER_MM = 5.0
STRIP_MM = 2.0
LINE_MM = 0.35
SMALL_MM2 = 60.0


def owners(sketch: Sketch, shape: tuple[int, int]) -> np.ndarray:
    """For every pixel the number, from 1, of the stroke that is seen there; 0 for paper."""
    owner = np.zeros(shape, np.int32)
    masks = {}
    for index, stroke in enumerate(sketch.strokes):
        if stroke.kind == "line":
            continue
        inside = _filled(shape, stroke.path, DPI / 25.4) > 0
        if stroke.clip is not None:
            inside &= masks[stroke.clip]
        masks[index] = inside
        owner[inside] = index + 1
    return owner


def surface_of(sketch: Sketch, number: int) -> int:
    """The stroke on which another is drawn in the end."""
    stroke = number - 1
    while sketch.strokes[stroke].clip is not None:
        stroke = sketch.strokes[stroke].clip
    return stroke


def measure(sketch: Sketch, seed: int) -> tuple[list, list]:
    """Rows of overlaps (kind, darker by, highlight, light) and of parts (form darker lit, tone darker lit)."""
    drawing = draw(sketch, DPI, seed=seed)
    picture = np.repeat(drawing.grey[..., None], 3, axis=2)
    regions = find_regions(picture, dpi=DPI)
    labels, per_mm = regions.labels, DPI / 25.4
    owner = owners(sketch, labels.shape)
    parts = int(labels.max())
    table = np.zeros((parts + 1, len(sketch.strokes) + 1), np.int64)
    np.add.at(table, (labels.ravel(), owner.ravel()), 1)
    best = table.argmax(axis=1)
    sure = (table.max(axis=1) > 0.7 * table.sum(axis=1)) & (best > 0)
    fronts = find_fronts(labels, regions.line, DPI)
    relief = find_relief(labels, regions.line, fronts, DPI)
    tones = [(deg, shade(relief, deg)) for deg in LIGHTS_DEG]
    area = np.bincount(labels.ravel(), minlength=parts + 1) / per_mm**2
    seen = regions.line < 100
    overlaps, sides = [], []
    cast_on = set(np.unique(relief.overlaps.part).tolist())
    for k, (a, b) in enumerate(fronts.pairs.tolist()):
        if fronts.border_mm[k] < LEAST_BORDER_MM or not (sure[a] and sure[b]):
            continue
        one, other = surface_of(sketch, best[a]), surface_of(sketch, best[b])
        if one == other:
            continue
        front, back = (a, b) if one > other else (b, a)
        guess = a if fronts.first_in_front[k] > 0.5 else b
        if guess != front:
            continue
        y0, y1, x0, x1 = window(labels == back, labels == front, int(3 * per_mm))
        mine = labels[y0:y1, x0:x1]
        from_front = cv2.distanceTransform((mine != front).astype(np.uint8), cv2.DIST_L2, 5)
        inner = cv2.distanceTransform(np.pad((mine == back).astype(np.uint8), 1), cv2.DIST_L2, 5)[1:-1, 1:-1]
        here = (mine == back) & seen[y0:y1, x0:x1]
        strip = here & (from_front <= STRIP_MM * per_mm)
        middle = here & (inner >= 0.6 * inner.max()) & ~strip
        if strip.sum() < 20 or middle.sum() < 20:
            continue
        # wholly within and small: drawn on it, whatever the painter's order
        outline, _ = cv2.findContours(
            (labels == front).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
        )
        whole = cv2.fillPoly(np.zeros(labels.shape, np.uint8), outline, 1)
        ring = labels[(cv2.dilate(whole, np.ones((5, 5), np.uint8)) > 0) & (whole == 0)]
        small = area[front] < SMALL_MM2 and (ring == back).mean() > 0.95
        for deg, shades in tones:
            tone = shades.tone[y0:y1, x0:x1]
            low, high = np.percentile(tone[here], (2, 98))
            darker = float(tone[strip].mean() - tone[middle].mean())
            reach = max(high - low, 1 - BASE_TONE)
            overlaps.append(
                (
                    small,
                    darker / reach,
                    bool((tone[strip] < BASE_TONE - 0.04).mean() > 0.01),
                    deg,
                    (front, back),
                )
            )
    for part in range(1, parts + 1):
        mine = (labels == part) & seen
        if area[part] < 12:
            continue
        y, x = np.nonzero(mine)
        for deg, shades in tones:
            along = x * np.sin(np.deg2rad(deg)) - y * np.cos(np.deg2rad(deg))
            low, high = np.quantile(along, (0.35, 0.65))
            tone, form = shades.tone[y, x], shades.form[y, x]
            sides.append(
                (
                    form[along > high].mean() > form[along < low].mean() + 0.01,
                    tone[along > high].mean() > tone[along < low].mean() + 0.01,
                    part in cast_on,
                )
            )
    return overlaps, sides


def window(one: np.ndarray, other: np.ndarray, pad: int) -> tuple[int, int, int, int]:
    """Rows and columns that hold a mask, with room around."""
    y, x = np.nonzero(one)
    h, w = one.shape
    return max(0, y.min() - pad), min(h, y.max() + pad), max(0, x.min() - pad), min(w, x.max() + pad)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--held", action="store_true", help="the half that was not looked at while tuning")
    parser.add_argument("--verbose", action="store_true", help="name what fails")
    given = parser.parse_args()
    if given.held:
        chosen = {
            **scenes_held.HELD,
            **scenes_fresh.FRESH,
            **{f"many {k}": (lambda k=k: many(k)) for k in range(0, 16, 2)},
        }
    else:
        chosen = {
            **scenes.TUNING,
            **scenes_new.NEW,
            **{f"many {k}": (lambda k=k: many(k)) for k in range(1, 16, 2)},
        }
    all_overlaps, all_sides = [], []
    for seed, (name, scene) in enumerate(chosen.items()):
        overlaps, sides = measure(scene(), seed)
        all_overlaps += overlaps
        all_sides += sides
        true = [one for one in overlaps if not one[0]]
        good = np.mean([one[1] >= 0.15 for one in true]) if true else float("nan")
        print(f"{name:14} {len(true) // 4:4} overlaps, darker {good:6.1%}")
        if given.verbose:
            for one in true:
                if one[1] < 0.15 or one[2]:
                    print("   ", one)
    for small, words in ((False, "overlaps"), (True, "small things drawn on a part")):
        rows = [one for one in all_overlaps if one[0] == small]
        darker = np.mean([one[1] >= 0.15 for one in rows])
        shiny = np.mean([one[2] for one in rows])
        worst = min(LIGHTS_DEG, key=lambda d: np.mean([one[1] >= 0.15 for one in rows if one[3] == d]))
        print(
            f"{words}: {len(rows)} (of {len(LIGHTS_DEG)} lights); darker along the border {darker:.1%}; "
            f"with a highlight there {shiny:.1%}; worst light {worst:.0f}"
        )
    sides = np.array(all_sides)
    print(
        f"parts darker on the lit side: form {sides[:, 0].mean():.1%} of {len(sides)}; picture "
        f"{sides[:, 1].mean():.1%}, of those under none {sides[~sides[:, 2], 1].mean():.1%}"
    )


if __name__ == "__main__":
    main()
