"""Draw the demonstration line images: our own designs, clean and as a flatbed scan would see them.

    python examples/line_art/draw_line_art.py [folder] [--dpi 600]

writes NAME.png (clean, grey,
    600 dpi) and NAME_scan.jpg (300 dpi) for each drawing. The drawings are invented
for blendkit and may be used with it under its licence.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

sys.path.insert(0, str(Path(__file__).parent))

from inking import Drawing, Points, ellipse, moved, render, ribbon, scanned, smooth
from motifs import (
    acorn,
    add_leaf,
    banner,
    brow_fringe,
    curls,
    eye,
    face,
    grass,
    heart,
    lantern,
    leaf,
    mushroom,
    oak_leaf,
    quills,
    smile,
    star,
    twine_bow,
)

# fmt: off


def hedgehog(seed: int = 1) -> Drawing:
    """A hedgehog in a striped scarf, out with a lantern."""
    d = Drawing("hedgehog_lantern", 94, 104, seed=seed)
    d.shape("ground", smooth([(5, 93.5), (18, 90), (44, 88), (70, 89.5), (89, 93.5), (80, 97.5),
        (46, 99.5), (15, 97.8)]))
    # quills, two coats deep
    for rx, ry, count, tall, seed_ in ((30.0, 35.0, 34, 8.8, 3), (25.6, 30.6, 30, 8.0, 4)):
        d.shape("quills", quills(41, 50, rx, ry, count, tall, -157, 157, 0.34, seed_), 0.5, wobble=0.03)
    # feet
    for side in (-1, 1):
        d.shape("foot", moved(ellipse(0, 0, 7.2, 4.3, power=2.3), 41 + side * 10.5, 90.0, side * 6))
        for toe in (-1, 1):
            d.stroke(smooth([(41 + side * 10.5 + toe * 2.1, 91.6),
                (41 + side * 10.5 + toe * 1.9, 94.0)], closed=False), 0.36)
    d.shape("body", smooth([(41, 56), (55, 60), (61.5, 73), (59.5, 85), (50, 90.3), (41, 91), (32, 90.3),
        (22.5, 85), (20.5, 73), (27, 60)]))
    d.shape("belly", smooth([(41, 60), (50.5, 64), (54, 75), (50, 85.5), (41, 88), (32, 85.5), (28, 75),
        (31.5, 64)]), 0.42, within="body")
    d.stroke(smooth([(39.2, 79.6), (41, 81.2), (42.9, 79.5)], closed=False), 0.4)
    # ears sit behind the face
    for side in (-1, 1):
        d.shape("ear", moved(ellipse(0, 0, 5.6, 6.4), 41 + side * 24.0, 28.0, side * 30))
        d.shape("inner ear", moved(ellipse(0, 0, 3.3, 3.9), 41 + side * 24.2, 28.4, side * 30), 0.4,
            within="ear")
    d.shape("face", smooth([(41, 22.5), (53, 20.8), (63, 29), (66.3, 41), (63.5, 52), (54, 58.8),
        (41, 60.5), (28, 58.8), (18.5, 52), (15.7, 41), (19, 29), (29, 20.8)]), 0.58)
    # the fringe falls over the brow
    d.shape("fringe", brow_fringe(), 0.52)
    for qx, qy, turn in ((29, 21.5, -24), (36, 18.4, -9), (44, 18.0, 6), (52, 21.0, 22), (40.5, 22.6, 0),
        (57.0, 24.2, 30), (24.6, 24.6, -32)):
        d.stroke(moved(smooth([(-0.9, -1.3), (0.0, 1.3), (0.9, -1.3)], closed=False), qx, qy, turn), 0.36)
    # an acorn cap for a hat
    d.shape("hat", smooth([(28.5, 15.2, 1), (29.3, 8.6), (36, 4.0), (43, 3.6), (50.5, 5.6), (54.5, 10.2),
        (54.4, 15.6, 1), (48, 17.6), (41.4, 18.0), (34, 17.4)]))
    d.shape("hat stalk", smooth([(40.6, 4.6, 1), (40.9, 2.6), (39.8, 1.5), (42.3, 0.9), (43.8, 2.2),
        (43.6, 4.8, 1), (42, 5.3)]), 0.45)
    for row, (y, xs) in enumerate(((8.2, (34.5, 39.5, 44.5, 49.0)), (11.4,
        (32.3, 37.2, 42.2, 47.0, 51.4)), (14.4, (34.6, 39.6, 44.6, 49.4)))):
        for x in xs:
            dip = -0.02 * (x - 41.8) ** 2 * 0.5
            d.stroke(smooth([(x - 1.5, y - 0.8 + dip), (x, y + 0.7 + dip),
                (x + 1.5, y - 0.8 + dip)], closed=False), 0.36 - 0.02 * row)
    # the face
    for side in (-1, 1):
        d.shape("cheek", ellipse(41 + side * 15.4, 48.4, 4.0, 2.9), 0.34, within="face")
        eye(d, 41 + side * 9.4, 41.4, 2.75)
        d.stroke(smooth([(41 + side * 7.3, 36.3), (41 + side * 9.6, 35.3),
            (41 + side * 11.8, 36.2)], closed=False), 0.42)
    d.shape("muzzle", smooth([(41, 43.4), (45.8, 45.2), (47.8, 49.4), (45.2, 53.0), (41, 54.0),
        (36.8, 53.0), (34.2, 49.4), (36.2, 45.2)]), 0.40, within="face")
    d.shape("nose", smooth([(41, 43.6), (43.9, 44.1), (44.2, 46), (42.3, 47.9), (41, 48.4), (39.7, 47.9),
        (37.8, 46), (38.1, 44.1)]), 0.5)
    d.shape("nose glint", ellipse(40.0, 45.2, 0.9, 0.55, -14), 0.28, within="nose")
    d.stroke(smooth([(41, 48.6), (41, 50.4), (39.4, 51.6), (37.3, 51.0)], closed=False), 0.44)
    d.stroke(smooth([(41, 50.3), (42.4, 51.6), (44.8, 50.9)], closed=False), 0.44)
    # scarf: tail first, then the band round the neck
    tail = smooth([(30.5, 61.0), (28.6, 68.5), (29.4, 76.0), (28.2, 81.5)], closed=False)
    for k in range(4):
        x = 25.1 + 1.75 * k
        d.shape("fringe end", smooth([(x - 0.85, 81.0, 1), (x + 0.95, 81.2, 1), (x + 0.55, 84.0),
            (x + 0.1, 85.6), (x - 0.7, 84.2)]), 0.38)
    d.shape("scarf tail", ribbon(tail, 7.0, 7.8))
    for a, b in ((0.26, 0.45), (0.64, 0.83)):
        part = tail[int(a * len(tail)): int(b * len(tail))]
        d.shape("tail stripe", ribbon(part, 11), 0.4, within="scarf tail", flush=True)
    band = smooth([(19.0, 55.0), (24.5, 60.0), (32, 63.2), (41, 64.2), (50, 63.2), (57.5, 60.0),
        (63, 55.0)], closed=False)
    d.shape("scarf", smooth([(18.6, 51.6), (17.0, 54.4), (19.6, 58.6), (27, 64.2), (34, 66.8),
        (41, 67.5), (48, 66.8), (55, 64.2), (62.4, 58.6), (65.0, 54.4), (63.4, 51.6), (55, 57.4),
        (48, 59.8), (41, 60.6), (34, 59.8), (27, 57.4)]), 0.55)
    for a, b in ((0.06, 0.17), (0.29, 0.40), (0.52, 0.63), (0.75, 0.86)):
        part = band[int(a * len(band)): int(b * len(band))]
        d.shape("scarf stripe", ribbon(part, 14), 0.4, within="scarf", flush=True)
    d.shape("scarf knot", smooth([(26.0, 58.0), (31.0, 57.0), (34.8, 60.0), (34.5, 65.0), (30.0, 66.8),
        (26.0, 65.0), (24.8, 61.2)]), 0.5)
    d.stroke(smooth([(28.2, 60.4), (29.0, 62.8), (28.6, 64.6)], closed=False), 0.36)
    # the paws
    d.shape("paw", smooth([(21.6, 66.0, 1), (17.4, 70.5), (16.6, 76.0), (20.2, 79.0), (24.6, 77.4),
        (27.0, 72.6), (26.6, 67.6, 1), (24.5, 65.4)]), 0.52)
    for dx in (-1.5, 0.9):
        d.stroke(smooth([(20.4 + dx, 78.5), (20.9 + dx, 76.4)], closed=False), 0.34)
    d.shape("stick", ribbon(smooth([(67.6, 92), (68.3, 70), (68.6, 45), (70.0, 30), (74, 24.2),
        (79.2, 25.6), (80.4, 29.5)], closed=False), 2.2, 2.1, 2.1, 2.0, 1.3))
    d.shape("paw", smooth([(56.0, 68.4), (60.6, 64.8), (66.0, 60.6), (70.8, 60.2), (73.0, 63.4),
        (71.2, 66.8), (65.4, 71.2), (59.6, 74.2), (56.6, 72.6)]), 0.52)
    for dy in (-1.3, 1.0):
        d.stroke(smooth([(72.2, 63.4 + dy), (70.0, 63.6 + dy)], closed=False), 0.34)
    lantern(d, 80.4, 29.5, 1.0)
    mushroom(d, 9.2, 93.6, 11.5, -6)
    mushroom(d, 17.2, 95.2, 7.4, 8)
    acorn(d, 79.5, 86.6, 7.6, 24)
    for x, y, s in ((61.5, 94.6, 0.8), (27.5, 96.6, 0.7), (88.0, 93.0, 0.7), (4.2, 94.4, 0.6)):
        grass(d, x, y, s)
    return d


def harvest(seed: int = 2) -> Drawing:
    """A pumpkin and a wrapped gift under a garland of leaves."""
    d = Drawing("harvest_gift", 110, 92, seed=seed)
    # the garland
    string = smooth([(4, 9.0), (18, 15.6), (36, 19.2), (55, 20.4), (74, 19.2), (92, 15.6),
        (106, 9.0)], closed=False)
    d.shape("string", ribbon(string, 0.9), 0.36)
    for k, (t, turn, size) in enumerate(((0.10, 158, 12.0), (0.30, 172, 13.0), (0.50, 180, 14.5),
        (0.70, 188, 13.0), (0.90, 202, 12.0))):
        x, y = string[int(t * (len(string) - 1))]
        for side in (-1, 1):
            add_leaf(d, "garland leaf", leaf(x + side * 0.5, y + 0.2, size * 0.62, turn + side * 62,
                0.26), 0.42)
        add_leaf(d, "oak leaf", oak_leaf(x, y, size, turn, k % 2 == 1), 0.45)
        for bx, by, r in ((-1.7, 0.9, 1.75), (1.9, 0.5, 1.75), (0.1, -1.2, 1.75)):
            d.shape("berry", ellipse(x + bx, y + by, r, r), 0.4)
            d.blot(ellipse(x + bx + 0.5, y + by + 0.6, 0.22, 0.22))
    for t in (0.2, 0.4, 0.6, 0.8):
        x, y = string[int(t * (len(string) - 1))]
        acorn(d, x, y + 1.4, 6.4, (0.5 - t) * 16)
    # cloth on which all stands
    d.shape("cloth", smooth([(3, 80), (20, 77), (55, 75.6), (92, 77), (107, 80.2), (96, 85.6),
        (56, 88.6), (14, 85.8)]), 0.5)
    # pumpkin, outermost ribs first
    px, py = 38.0, 60.0
    d.shape("back rib", ellipse(px - 8.5, py - 1.5, 10, 14.5, -8, 2.2), 0.5)
    d.shape("back rib", ellipse(px + 8.5, py - 1.5, 10, 14.5, 8, 2.2), 0.5)
    for dx, rx, ry, turn in ((-19.5, 9.0, 15.0, -7), (19.5, 9.0, 15.0, 7), (-11.2, 9.8, 17.6, -4),
        (11.2, 9.8, 17.6, 4), (0, 9.4, 18.6, 0)):
        d.shape("rib", ellipse(px + dx, py + 2, rx, ry, turn, 2.25), 0.56)
    for dx, bend in ((-20.5, -1.6), (-12.4, -1.0), (12.4, 1.0), (20.5, 1.6)):
        d.stroke(smooth([(px + dx, py - 8.5), (px + dx + bend, py - 4.5),
            (px + dx + bend, py - 1.5)], closed=False), 0.36)
    d.shape("pumpkin stalk", smooth([(px - 3.8, py - 13.6, 1), (px - 2.2, py - 18.6),
        (px - 3.0, py - 23.0), (px - 5.4, py - 25.6, 1), (px - 2.2, py - 27.6), (px + 0.6, py - 26.2, 1),
        (px + 1.6, py - 19.8), (px + 4.6, py - 13.8, 1), (px + 2.2, py - 14.6), (px + 0.4, py - 12.9, 1),
        (px - 1.6, py - 14.5)]), 0.5)
    d.stroke(smooth([(px - 2.2, py - 25.0), (px - 0.4, py - 20.0),
        (px + 0.2, py - 16.6)], closed=False), 0.36)
    d.stroke(smooth([(px + 2.0, py - 18.6), (px + 7.4, py - 23.4), (px + 12.6, py - 21.6),
        (px + 11.8, py - 18.2), (px + 9.2, py - 19.4), (px + 11.4, py - 23.6), (px + 17.4, py - 22.6),
        (px + 18.4, py - 19.6)], closed=False), 0.5)
    add_leaf(d, "pumpkin leaf", oak_leaf(px - 3.6, py - 16.4, 15.0, -74), 0.48)
    add_leaf(d, "pumpkin leaf", leaf(px + 3.6, py - 15.2, 11.0, 98, 0.30), 0.45)
    # the gift: top, front, ribbon, bow
    gx, gy = 80.0, 62.0
    d.shape("box front", smooth([(gx - 14.2, gy, 1), (gx + 14.2, gy, 1), (gx + 13.6, gy + 20.6, 1),
        (gx, gy + 21.4), (gx - 13.6, gy + 20.6, 1)]), 0.55)
    for k in range(3):
        for j in range(3):
            for side in (-1, 1):
                x = gx + side * (5.0 + 3.1 * j) + (1.5 * side if k % 2 else 0)
                if abs(x - gx) < 12.4:
                    d.shape("dot", ellipse(x, gy + 8.0 + 4.6 * k, 0.85, 0.85), 0.34, within="box front")
    d.shape("box ribbon", smooth([(gx - 2.8, gy - 1, 1), (gx + 2.8, gy - 1, 1), (gx + 2.7, gy + 24, 1),
        (gx - 2.7, gy + 24, 1)]), 0.42, within="box front", flush=True)
    d.shape("lid", smooth([(gx - 16.0, gy - 4.0, 1), (gx, gy - 3.2), (gx + 16.0, gy - 4.0, 1),
        (gx + 15.6, gy + 2.6, 1), (gx, gy + 3.5), (gx - 15.6, gy + 2.6, 1)]), 0.55)
    d.shape("lid ribbon", smooth([(gx - 3.2, gy - 6, 1), (gx + 3.2, gy - 6, 1), (gx + 3.1, gy + 6, 1),
        (gx - 3.1, gy + 6, 1)]), 0.42, within="lid", flush=True)
    for side in (-1, 1):
        def bow(points: list[tuple[float, ...]], side: int = side) -> Points:
            return moved(smooth(points), gx, gy - 6.4, 0, 1, side < 0)

        d.shape("bow tail", bow([(0.4, 1.0, 1), (5.6, 3.0), (9.2, 8.4), (11.8, 13.0, 1), (8.3, 12.4, 1),
            (6.2, 14.4, 1), (4.6, 9.4), (1.6, 4.2), (-0.6, 2.4, 1)]), 0.48)
        d.shape("bow loop", bow([(0.6, -0.2, 1), (4.0, -6.6), (9.6, -9.8), (13.6, -7.6), (13.4, -2.6),
            (9.0, 1.4), (3.6, 2.4), (0.6, 1.2, 1)]), 0.52)
        d.shape("bow inside", bow([(3.6, -1.0, 1), (6.6, -4.8), (10.2, -6.4), (11.6, -4.6), (10.2, -1.6),
            (6.8, 0.2)]), 0.42, within="bow loop")
    d.shape("bow knot", smooth([(gx - 2.8, gy - 8.4), (gx, gy - 9.2), (gx + 2.8, gy - 8.4),
        (gx + 3.2, gy - 5.6), (gx + 2.6, gy - 3.6), (gx, gy - 3.0), (gx - 2.6, gy - 3.6),
        (gx - 3.2, gy - 5.6)]), 0.5)
    d.stroke(smooth([(gx - 0.9, gy - 8.2), (gx - 0.5, gy - 6.0), (gx - 1.0, gy - 4.4)], closed=False), 0.34)
    # a tag with a heart, tied to the bow
    d.stroke(smooth([(gx + 2.6, gy - 4.4), (gx + 6.6, gy - 1.6), (gx + 9.0, gy + 3.6)], closed=False), 0.5)
    d.shape("tag", moved(smooth([(-3.2, 0, 1), (-1.2, -2.4, 1), (1.2, -2.4, 1), (3.2, 0, 1),
        (3.2, 9.2, 1), (-3.2, 9.2, 1)]), gx + 9.4, gy + 5.0, -14), 0.48)
    d.shape("tag hole", moved(ellipse(0, -0.6, 0.8, 0.8), gx + 9.4, gy + 5.0, -14), 0.34, within="tag")
    d.shape("tag heart", moved(heart(0, 4.8, 4.4), gx + 9.4, gy + 5.0, -14), 0.40, within="tag")
    # what fell to the cloth
    acorn(d, 14.0, 73.4, 8.4, -38)
    acorn(d, 61.4, 72.8, 8.6, 30)
    add_leaf(d, "fallen leaf", oak_leaf(24.5, 83.2, 12.0, -104), 0.45)
    mushroom(d, 101.0, 83.6, 9.5, 6)
    for bx, by in ((55.4, 82.6), (58.8, 84.0), (57.4, 80.8)):
        d.shape("berry", ellipse(bx, by, 1.9, 1.9), 0.42)
        d.blot(ellipse(bx + 0.5, by + 0.6, 0.25, 0.25))
    return d


def tags(seed: int = 7) -> Drawing:
    """Four gift tags: a pear, an acorn, a lantern and a pumpkin, each with a strip for a name."""
    small = 0.86  # so that scissors pass between the tags, and the sheet stays beside its list of parts
    d = Drawing("harvest_tags", 124, 84.6, seed=seed)
    tops: tuple[list[tuple[float, ...]], ...] = (
        [(-14, 27, 1), (-7.4, 16.4, 1), (7.4, 16.4, 1), (14, 27, 1)],
        [(-14, 31), (-11.6, 22.4), (-6.4, 17.4), (0, 16.0), (6.4, 17.4), (11.6, 22.4), (14, 31)],
        [(-14, 29, 1), (-12.0, 24.0), (-7.0, 22.2), (-4.6, 17.2), (0, 15.6), (4.6, 17.2), (7.0, 22.2),
            (12.0, 24.0), (14, 29, 1)],
        [(-14, 24.5), (-13.0, 18.6), (-8.6, 16.8), (0, 16.4), (8.6, 16.8), (13.0, 18.6), (14, 24.5)],
    )
    for number, top in enumerate(tops):
        x = 18.05 + 36.0 * number
        foot: list[tuple[float, ...]] = [(14, 60), (13.8, 91.2), (11.2, 93.8), (0, 94.2), (-11.2, 93.8),
            (-13.8, 91.2), (-14, 60)]
        tag = smooth([*top, *foot])
        d.shape(f"tag {number}", tag + [x, 0], 0.56, wobble=0.025)
        middle = np.array([0.0, 56.0])
        shrunk = (tag - middle) * [(14 - 1.9) / 14, (38 - 2.2) / 38] + middle
        d.shape(f"field {number}", shrunk + [x, 0], 0.34, within=f"tag {number}", wobble=0.02)
        d.shape("ring", ellipse(x, 22.4, 2.9, 2.9), 0.46)
        d.shape("hole", ellipse(x, 22.4, 1.5, 1.5), 0.4, within="ring")
        d.shape("string", ribbon(smooth([(x + 0.2, 22.6), (x - 0.9, 17.6), (x + 0.5, 12.6),
            (x, 8.0)], closed=False), 1.2), 0.36)
        twine_bow(d, x, 8.0, 5.2)
        banner(d, x, 82.6, 8.6, 7.0)
        (pear, big_acorn, small_lantern, small_pumpkin)[number](d, x)
    d.marks[:] = [mark._replace(path=small * mark.path, pen_mm=0.92 * mark.pen_mm) for mark in d.marks]
    return d


def pear(d: Drawing, x: float) -> None:
    """A pear that smiles, with leaves at its foot."""
    for turn in (-74, 74):
        add_leaf(d, "sprig", leaf(x + (1 if turn > 0 else -1) * 2.0, 72.6, 9.6, turn, 0.26), 0.42)
    d.shape("pear stalk", smooth([(x - 0.9, 42.0, 1), (x - 0.7, 38.6), (x + 0.9, 35.4, 1),
        (x + 2.5, 36.2, 1), (x + 1.0, 38.8), (x + 1.0, 42.0, 1)]), 0.44)
    d.shape("pear", smooth([(x, 40.2), (x + 3.4, 41.2), (x + 5.0, 45.2), (x + 6.0, 50.2), (x + 9.2, 55.6),
        (x + 10.4, 62.0), (x + 8.2, 68.4), (x + 3.4, 71.2), (x, 70.6), (x - 3.4, 71.2), (x - 8.2, 68.4),
        (x - 10.4, 62.0), (x - 9.2, 55.6), (x - 6.0, 50.2), (x - 5.0, 45.2), (x - 3.4, 41.2)]), 0.54)
    add_leaf(d, "pear leaf", leaf(x + 1.2, 38.8, 9.4, 62, 0.28), 0.44)
    smile(d, x, 58.2, 3.4, "pear")
    d.shape("heart", heart(x - 6.6, 38.6, 3.6, -16), 0.4)
    for fx, fy in ((-2.6, 46.6), (0.6, 48.8), (-1.6, 50.6), (-6.8, 65.6), (-4.4, 67.2), (5.6, 66.6)):
        d.blot(ellipse(x + fx, fy, 0.22, 0.22))


def big_acorn(d: Drawing, x: float) -> None:
    """An acorn that smiles, with oak leaves at its foot."""
    for side in (-1, 1):
        add_leaf(d, "oak leaf", oak_leaf(x + side * 1.4, 73.4, 11.4, side * 66, side < 0), 0.44)
        d.shape("heart", heart(x + side * 6.6, 36.6 - side * 1.4, 3.2, side * 14), 0.4)
    d.shape("nut", smooth([(x - 8.4, 50.0), (x, 48.6), (x + 8.4, 50.0), (x + 8.9, 56.4), (x + 6.4, 64.2),
        (x + 1.8, 68.6), (x, 71.4, 1), (x - 1.8, 68.6), (x - 6.4, 64.2), (x - 8.9, 56.4)]), 0.54)
    d.shape("nut stalk", smooth([(x - 1.0, 40.4, 1), (x - 0.8, 36.8), (x - 2.2, 34.6, 1), (x + 0.3, 33.8, 1),
        (x + 1.3, 36.6), (x + 1.2, 40.4, 1)]), 0.44)
    d.shape("nut cap", smooth([(x - 10.6, 52.2, 1), (x - 10.2, 45.8), (x - 6.0, 40.8), (x, 39.2),
        (x + 6.0, 40.8), (x + 10.2, 45.8), (x + 10.6, 52.2, 1), (x + 5.4, 53.8), (x, 54.2),
        (x - 5.4, 53.8)]), 0.54)
    for sy, xs in ((43.6, (-3.2, 0.4, 4.0)), (46.8, (-6.4, -2.2, 2.0, 6.2)), (50.2, (-7.6, -3.9, 0, 3.9, 7.6))):
        for sx in xs:
            d.stroke(smooth([(x + sx - 1.2, sy - 0.6), (x + sx, sy + 0.6),
                (x + sx + 1.2, sy - 0.6)], closed=False), 0.36)
    smile(d, x, 58.2, 2.9, "nut")


def small_lantern(d: Drawing, x: float) -> None:
    """A lantern among berries, under a star."""
    d.shape("star", star(x - 7.6, 38.0, 2.5, -10), 0.4)
    d.shape("star", star(x + 8.0, 35.0, 1.9, 14), 0.38)
    lantern(d, x, 34.6, 1.16, rays=False)
    for side in (-1, 1):
        add_leaf(d, "sprig", leaf(x + side * 3.0, 72.6, 8.6, side * 78, 0.27), 0.42)
    for bx, by in ((-2.0, 72.4), (2.0, 72.6), (0, 70.4)):
        d.shape("berry", ellipse(x + bx, by, 1.75, 1.75), 0.42)
        d.blot(ellipse(x + bx + 0.4, by + 0.5, 0.22, 0.22))


def small_pumpkin(d: Drawing, x: float) -> None:
    """A pumpkin that smiles under its leaf, with berries at its foot."""
    y = 59.6
    for side in (-1, 1):
        add_leaf(d, "sprig", leaf(x + side * 2.6, 73.0, 8.6, side * 78, 0.27), 0.42)
    for dx, rx, ry, turn in ((-6.4, 4.3, 8.4, -6), (6.4, 4.3, 8.4, 6), (-3.3, 5.1, 9.8, -3), (3.3, 5.1, 9.8, 3),
        (0, 6.0, 10.6, 0)):
        d.shape("rib", ellipse(x + dx, y, rx, ry, turn, 2.25), 0.52)
    d.shape("stalk", smooth([(x - 2.4, y - 9.2, 1), (x - 1.3, y - 12.6), (x - 2.6, y - 16.6, 1),
        (x + 0.2, y - 18.0, 1), (x + 1.2, y - 13.6), (x + 2.8, y - 9.4, 1), (x + 1.2, y - 10.0),
        (x + 0.2, y - 8.6, 1), (x - 1.0, y - 9.8)]), 0.46)
    d.stroke(smooth([(x + 1.4, y - 12.8), (x + 4.2, y - 16.0), (x + 7.4, y - 15.6), (x + 7.2, y - 13.0),
        (x + 5.2, y - 13.8), (x + 6.6, y - 16.6), (x + 9.8, y - 17.4)], closed=False), 0.42)
    add_leaf(d, "pumpkin leaf", oak_leaf(x - 1.2, y - 10.6, 9.6, -72), 0.44)
    smile(d, x, y - 1.2, 2.3, "rib")
    for bx, by in ((-1.9, 73.4), (1.9, 73.6), (0, 71.6)):
        d.shape("berry", ellipse(x + bx, by, 1.6, 1.6), 0.42)
        d.blot(ellipse(x + bx + 0.4, by + 0.5, 0.22, 0.22))
    d.shape("heart", heart(x, 34.4, 5.0), 0.42)


def family(seed: int = 5) -> Drawing:
    """Three of a family on harvest day, each with another skin tone."""
    d = Drawing("harvest_family", 122, 93, seed=seed)
    base = 88.0
    # left: a grandmother in a head wrap
    gx, gy = 25.5, 40.0
    d.shape("grandmother shoulders", smooth([(gx - 21, base, 1), (gx - 19.6, 74), (gx - 12, 64.6),
        (gx - 4, 61.8), (gx + 4, 61.8), (gx + 12, 64.6), (gx + 20, 73), (gx + 22, base, 1)]), 0.58)
    d.shape("shawl", smooth([(gx - 8.6, 61.2, 1), (gx, 66.5), (gx + 8.6, 61.2, 1), (gx + 16.4, 66.8),
        (gx + 20.6, 75.4, 1), (gx + 12, 79.4), (gx + 0.4, 86.4, 1), (gx - 11, 79.4),
        (gx - 19.8, 75.2, 1), (gx - 16.0, 66.8)]), 0.52)
    for t in (-15.6, -12.2, -8.8, -5.6, -2.6, 2.6, 5.6, 8.8, 12.2, 15.6):
        d.stroke(smooth([(gx + t, 86.6 - abs(t) * 0.62),
            (gx + t * 1.01, 90.4 - abs(t) * 0.62)], closed=False), 0.4)
    d.shape("grandmother neck", smooth([(gx - 5.2, 52, 1), (gx + 5.2, 52, 1), (gx + 5.4, 60.4),
        (gx + 7.6, 62.2, 1), (gx, 66.2), (gx - 7.6, 62.2, 1), (gx - 5.4, 60.4)]), 0.5)
    for side in (-1, 1):
        d.shape("grandmother ear", ellipse(gx + side * 14.0, gy + 3.0, 2.6, 3.6, side * 10), 0.48)
        d.shape("earring", ellipse(gx + side * 14.6, gy + 9.0, 2.2, 2.7), 0.42)
        d.shape("earring hole", ellipse(gx + side * 14.6, gy + 9.2, 1.15, 1.5), 0.34, within="earring")
    d.shape("wrap end", smooth([(gx + 7.4, 17.6, 1), (gx + 12.8, 10.6), (gx + 19.4, 9.6),
        (gx + 21.6, 13.0), (gx + 18.0, 17.2), (gx + 10.6, 20.6, 1)]), 0.5)
    d.shape("wrap end", smooth([(gx + 9.6, 20.2, 1), (gx + 17.6, 17.6), (gx + 23.0, 20.4),
        (gx + 22.6, 24.6), (gx + 16.6, 24.6), (gx + 9.4, 22.8, 1)]), 0.5)
    d.shape("grandmother face", smooth([(gx, 24.6), (gx + 10.4, 28.4), (gx + 14.3, 39.0),
        (gx + 12.4, 49.6), (gx + 6.8, 55.6), (gx, 57.4), (gx - 6.8, 55.6), (gx - 12.4, 49.6),
        (gx - 14.3, 39.0), (gx - 10.4, 28.4)]), 0.58)
    d.shape("wrap", smooth([(gx - 15.2, 37.6, 1), (gx - 17.2, 27.0), (gx - 11.6, 15.6), (gx, 11.4),
        (gx + 11.6, 15.6), (gx + 17.0, 26.6), (gx + 15.2, 37.6, 1), (gx + 11.6, 31.6), (gx, 28.4),
        (gx - 11.6, 31.6)]), 0.56)
    d.shape("wrap fold", smooth([(gx - 16.0, 33.6), (gx - 6.0, 20.8), (gx + 9.4, 16.6),
        (gx + 12.6, 21.4), (gx - 2.0, 26.2), (gx - 13.8, 36.0)]), 0.42, within="wrap", flush=True)
    d.shape("wrap knot", smooth([(gx + 6.6, 17.0), (gx + 10.2, 16.0), (gx + 12.9, 18.4),
        (gx + 12.6, 22.4), (gx + 9.4, 24.2), (gx + 6.2, 22.0)]), 0.5)
    d.stroke(smooth([(gx + 8.4, 18.2), (gx + 9.6, 20.2), (gx + 9.2, 22.2)], closed=False), 0.36)
    face(d, "grandmother", gx, 41.6, 1.28, 1.1, lashes=True)
    for side in (-1, 1):
        d.stroke(smooth([(gx + side * 4.5, 47.4), (gx + side * 5.2, 49.2)], closed=False), 0.32)
    # right: a father with a beard and a knitted hat
    fx = 96.0
    d.shape("jacket", smooth([(fx - 24, base, 1), (fx - 22, 73), (fx - 12.6, 63.6), (fx - 4, 61.0),
        (fx + 4, 61.0), (fx + 12.6, 63.6), (fx + 22, 73), (fx + 24, base, 1)]), 0.58)
    d.shape("shirt", smooth([(fx - 7.0, 60.0, 1), (fx + 7.0, 60.0, 1), (fx + 5.6, 74),
        (fx + 2.2, base + 0.4, 1), (fx - 2.2, base + 0.4, 1), (fx - 5.6, 74)]), 0.48)
    for side in (-1, 1):
        d.shape("lapel", moved(smooth([(6.2, 58.6, 1), (11.6, 62.4), (12.4, 70.6, 1), (9.2, 71.2, 1),
            (9.4, 74.4, 1), (2.4, base - 2, 1), (5.0, 72.0), (4.0, 65.6, 1)]), fx, 0, 0, 1, side < 0), 0.5)
    for y in (74.5, 80.5):
        d.shape("button", ellipse(fx, y, 1.0, 1.0), 0.36)
    d.shape("father neck", smooth([(fx - 6.2, 50, 1), (fx + 6.2, 50, 1), (fx + 6.4, 60.6, 1),
        (fx, 66.6, 1), (fx - 6.4, 60.6, 1)]), 0.5)
    for side in (-1, 1):
        d.shape("father ear", ellipse(fx + side * 14.6, 39.6, 2.7, 3.8, side * 10), 0.48)
        d.stroke(smooth([(fx + side * 15.6, 38.0), (fx + side * 14.4, 39.4),
            (fx + side * 15.3, 41.2)], closed=False), 0.32)
    d.shape("father face", smooth([(fx, 19.6), (fx + 11.0, 23.6), (fx + 14.8, 35.0), (fx + 13.4, 47.0),
        (fx + 7.6, 55.4), (fx, 58.0), (fx - 7.6, 55.4), (fx - 13.4, 47.0), (fx - 14.8, 35.0),
        (fx - 11.0, 23.6)]), 0.58)
    face(d, "father", fx, 36.8, 1.2, 0.0, cheeks=False)
    d.shape("father beard", smooth([(fx - 14.9, 36.0, 1), (fx - 13.0, 41.0), (fx - 10.8, 45.6),
        (fx - 5.6, 43.8), (fx, 45.4), (fx + 5.6, 43.8), (fx + 10.8, 45.6), (fx + 13.0, 41.0),
        (fx + 14.9, 36.0, 1), (fx + 15.4, 46.6), (fx + 12.2, 56.0), (fx + 6.4, 61.6), (fx, 63.4),
        (fx - 6.4, 61.6), (fx - 12.2, 56.0), (fx - 15.4, 46.6)]), 0.52)
    d.shape("father lips", smooth([(fx - 4.0, 49.2, 1), (fx, 50.0), (fx + 4.0, 49.2, 1),
        (fx + 2.2, 52.3), (fx, 53.0), (fx - 2.2, 52.3)]), 0.4)
    for sx, sy in ((-9.4, 51.5), (-5.4, 56.6), (0, 58.6), (5.4, 56.6), (9.4, 51.5), (-12.4, 48.2),
        (12.4, 48.2)):
        d.stroke(smooth([(fx + sx - 0.9, sy - 1), (fx + sx, sy + 0.5),
            (fx + sx + 0.9, sy - 1)], closed=False), 0.34)
    for side in (-1, 1):
        d.stroke(moved(np.concatenate([ellipse(0, 0, 3.9, 3.7, 0, 2.4), ellipse(0, 0, 3.9, 3.7, 0,
            2.4)[:30]]), fx + side * 5.1, 37.0), 0.46)
        d.stroke(smooth([(fx + side * 9.0, 36.6), (fx + side * 13.8, 35.4)], closed=False), 0.46)
    d.stroke(smooth([(fx - 1.2, 36.9), (fx, 36.2), (fx + 1.2, 36.9)], closed=False), 0.46)
    d.shape("hat", smooth([(fx - 15.6, 29.6, 1), (fx - 15.2, 19.6), (fx - 8.6, 11.0), (fx, 8.6),
        (fx + 8.6, 11.0), (fx + 15.2, 19.6), (fx + 15.6, 29.6, 1), (fx, 25.6)]), 0.56)
    d.shape("pompom", curls(fx, 6.2, 3.6, 3.4, 9, 1.0), 0.48)
    for t in (-9.4, -4.8, 0, 4.8, 9.4):
        d.stroke(smooth([(fx + t * 1.12, 23.4 + abs(t) * 0.1), (fx + t * 0.92, 17.0 + abs(t) * 0.18),
            (fx + t * 0.55, 12.2 + abs(t) * 0.14)], closed=False), 0.36)
    d.shape("hat brim", smooth([(fx - 16.8, 27.0), (fx - 8.0, 23.8), (fx, 23.0), (fx + 8.0, 23.8),
        (fx + 16.8, 27.0), (fx + 17.0, 32.2), (fx + 8.0, 29.0), (fx, 28.2), (fx - 8.0, 29.0),
        (fx - 17.0, 32.2)]), 0.52)
    for t in (-12.5, -9.4, -6.2, -3.1, 0, 3.1, 6.2, 9.4, 12.5):
        d.stroke(smooth([(fx + t, 24.2 + 0.014 * t * t),
            (fx + t * 1.02, 27.6 + 0.014 * t * t)], closed=False), 0.34)
    # in front: a girl with two puffs of curls and a small pumpkin
    cx = 60.5
    for side in (-1, 1):
        d.shape("puff", curls(cx + side * 13.4, 42.4, 5.4, 5.2, 10, 1.3, side * 8, side * 8 + 360), 0.52)
        for k in range(3):
            a = np.deg2rad(60 + 120 * k + side * 20)
            d.stroke(moved(smooth([(-1.3, 0.2), (-0.2, -0.9), (0.9, 0.1),
                (0.1, 0.8)], closed=False), cx + side * 13.4 + 3.4 * np.cos(a), 42.0 + 3.2 * np.sin(a),
                side * 25), 0.36)
    d.shape("jumper", smooth([(cx - 15.8, base + 0.6, 1), (cx - 14.2, 80), (cx - 8.0, 74.6), (cx, 73.2),
        (cx + 8.0, 74.6), (cx + 14.2, 80), (cx + 15.8, base + 0.6, 1)]), 0.56)
    for side in (-1, 1):
        d.shape("girl ear", ellipse(cx + side * 11.8, 60.4, 2.2, 3.0, side * 10), 0.46)
    d.shape("girl face", smooth([(cx, 44.6), (cx + 8.8, 47.6), (cx + 12.3, 56.6), (cx + 11.0, 66.0),
        (cx + 6.0, 71.8), (cx, 73.6), (cx - 6.0, 71.8), (cx - 11.0, 66.0), (cx - 12.3, 56.6),
        (cx - 8.8, 47.6)]), 0.56)
    d.shape("hair", smooth([(cx - 12.6, 58.8, 1), (cx - 13.6, 50.4), (cx - 8.4, 43.0), (cx, 40.8),
        (cx + 8.4, 43.0), (cx + 13.6, 50.4), (cx + 12.6, 58.8, 1), (cx + 10.4, 53.2), (cx + 5.0, 49.6),
        (cx, 47.0, 1), (cx - 5.0, 49.6), (cx - 10.4, 53.2)]), 0.54)
    d.stroke(smooth([(cx, 46.0), (cx + 0.3, 43.6), (cx, 41.6)], closed=False), 0.4)
    for side in (-1, 1):
        d.shape("hair tie", moved(ellipse(0, 0, 1.7, 2.6), cx + side * 10.0, 45.4, side * 40), 0.44)
        d.stroke(smooth([(cx + side * 2.0, 46.6), (cx + side * 5.4, 45.0),
            (cx + side * 7.8, 45.2)], closed=False), 0.34)
    face(d, "girl", cx, 59.6, 1.08, 1.4, lashes=True)
    d.shape("collar", smooth([(cx - 7.0, 73.6), (cx, 76.0), (cx + 7.0, 73.6), (cx + 7.6, 76.4),
        (cx, 79.0), (cx - 7.6, 76.4)]), 0.46)
    for dx, rx in ((-5.0, 3.4), (5.0, 3.4), (-2.6, 3.2), (2.6, 3.2), (0, 2.7)):
        d.shape("small rib", ellipse(cx + dx, 83.8, rx, 4.8, 0, 2.2), 0.44)
    d.shape("small stalk", smooth([(cx - 1.3, 80.0, 1), (cx - 0.7, 77.6), (cx - 1.7, 75.9, 1),
        (cx + 0.7, 75.6, 1), (cx + 0.9, 77.6), (cx + 1.5, 80.0, 1), (cx, 80.6)]), 0.42)
    for side in (-1, 1):
        d.shape("sleeve", moved(smooth([(14.6, base + 0.8, 1), (15.4, 84.0), (13.4, 81.2), (9.8, 83.0),
            (7.4, 86.4), (7.6, base + 0.8, 1)]), cx, 0, 0, 1, side < 0), 0.5)
        d.shape("girl hand", moved(smooth([(9.2, 82.8), (6.4, 82.0), (4.6, 83.6), (4.9, 86.0),
            (7.4, 87.0), (9.6, 85.8)]), cx, 0, 0, 1, side < 0), 0.46)
        d.stroke(smooth([(cx + side * 4.9, 84.6), (cx + side * 6.4, 84.5)], closed=False), 0.32)
    # a board along the lower edge closes the picture
    d.shape("board", smooth([(2.5, 86.2, 1), (61, 87.2), (119.5, 86.2, 1), (119.8, 91.4, 1), (61, 91.8),
        (2.2, 91.4, 1)]), 0.56)
    for x0, x1, y in ((14, 24, 89.2), (32, 38, 90.0), (66, 80, 89.4), (92, 102, 89.6)):
        d.stroke(smooth([(x0, y), ((x0 + x1) / 2, y + 0.3), (x1, y)], closed=False), 0.34)
    add_leaf(d, "leaf", oak_leaf(7, 88.4, 9.0, 62), 0.44)
    add_leaf(d, "leaf", oak_leaf(114.5, 88.4, 9.0, -66), 0.44)
    return d


# fmt: on
DRAWINGS: dict[str, Callable[[], Drawing]] = {
    "hedgehog_lantern": hedgehog,
    "harvest_gift": harvest,
    "harvest_family": family,
    "harvest_tags": tags,
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", nargs="?", type=Path, default=Path(__file__).parent)
    parser.add_argument("--dpi", type=float, default=600)
    parser.add_argument("--only", choices=sorted(DRAWINGS), default=None)
    given = parser.parse_args()
    given.folder.mkdir(parents=True, exist_ok=True)
    for name, draw in DRAWINGS.items():
        if given.only in (None, name):
            sheet = render(draw(), given.dpi)
            clean = Image.fromarray(np.round((1 - sheet.line) * 255).astype(np.uint8))
            clean.save(given.folder / f"{name}.png", dpi=(given.dpi, given.dpi), optimize=True)
            half = cv2.resize(sheet.line, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
            scan = Image.fromarray(scanned(half, given.dpi / 2, seed=len(name)))
            scan.save(given.folder / f"{name}_scan.jpg", dpi=(given.dpi / 2,) * 2, quality=88)
            print(f"{name}: {len(sheet.names) - 1} parts, {clean.width} x {clean.height}")


if __name__ == "__main__":
    main()
