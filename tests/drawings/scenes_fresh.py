"""Drawings made after the closing of gaps was fitted: reported, never tuned on."""

import math

from drawings.shapes import arc, curve, ellipse, leaf, polygon, rounded, scalloped, straight, turned
from drawings.sketch import Sketch


def owlet() -> Sketch:
    """An owl with a scarf on a branch, between leaves and berries."""
    s = Sketch(80, 88)
    s.area(curve([(34, 62), (32, 78), (36, 83), (40, 79), (44, 83), (48, 78), (46, 62)], True))
    s.line(curve([(38, 74), (37.6, 77), (37, 80)]), 0.6)
    s.line(curve([(42.4, 74), (42.8, 77), (43.4, 80)]), 0.6)
    s.area(
        curve(
            [
                (3, 66),
                (20, 69),
                (42, 67.5),
                (62, 69),
                (77, 64),
                (77.5, 68.5),
                (62, 75),
                (40, 73),
                (18, 75),
                (3, 71),
            ],
            True,
        )
    )
    for x in (21, 52):
        s.line(curve([(x, 71.4), (x + 4, 71), (x + 8, 71.8)]), 0.6)
    body = s.area(
        curve(
            [
                (40, 25),
                (27, 37),
                (20, 44),
                (23, 59),
                (32, 67),
                (40, 68.4),
                (48, 67),
                (57, 59),
                (60, 44),
                (53, 37),
            ],
            True,
        )
    )
    s.area(
        curve([(40, 40), (29, 44), (28, 56), (34, 64), (40, 65.5), (46, 64), (52, 56), (51, 44)], True),
        0.8,
        body,
    )
    for y, xs in ((53, (34, 40)), (57.5, (37, 43)), (62, (40,))):
        for x in xs:
            s.line(arc(x, y, 2, 1.8, 10, 170), 0.7)
    for side in (-1, 1):
        x = 40 + side * 18
        wing = s.area(
            curve(
                [
                    (x - side * 3, 41),
                    (x + side * 3, 46),
                    (x + side * 3, 55),
                    (x - side * 6, 64),
                    (x - side * 6, 46),
                ],
                True,
            )
        )
        s.line(arc(x - side, 47, 2.4, 2, 20, 160), 0.6, wing)
        s.line(arc(x - side, 53, 2.4, 2, 20, 160), 0.6, wing)
    s.area(curve([(46, 44), (53, 43), (55, 50), (55.4, 58), (48.4, 58.6), (48, 51)], True))
    for x in (50, 52, 54):
        s.line(straight((x - 0.2, 55), (x, 58)), 0.6)
    s.area(curve([(22, 36), (40, 40), (58, 36), (61, 41), (56, 46), (40, 48.6), (24, 46), (19, 41)], True))
    for x in (28, 36, 46):
        s.line(curve([(x, 42.6), (x + 1, 44.4), (x + 0.6, 46.4)]), 0.6)
    s.area(
        curve(
            [
                (40, 17),
                (30, 16),
                (22, 9),
                (21, 22),
                (23, 34),
                (32, 41),
                (40, 42),
                (48, 41),
                (57, 34),
                (59, 22),
                (58, 9),
                (50, 16),
            ],
            True,
        )
    )
    for x in (31.4, 48.6):
        s.area(ellipse(x, 28, 7.6), 0.9)
        s.area(ellipse(x, 28, 4.6), 0.8)
        s.black(ellipse(x, 28, 2.4))
        s.area(ellipse(x + 1.2, 26.8, 1.0), 0.4)
    s.area(curve([(37.6, 30), (40, 28.8), (42.4, 30), (40, 37)], True), 0.8)
    for x in (37, 40, 43):
        s.line(straight((x, 19.6), (x, 22.4)), 0.6)
    for x in (34, 46):
        for dx in (-2.8, 0, 2.8):
            s.area(ellipse(x + dx, 68.6, 1.5, 2.7), 0.8)
    for base, tip, width in (
        ((13, 68), (3, 54), 8),
        ((13, 68), (17, 52), 8),
        ((66, 68), (63, 53), 7),
        ((66, 68), (77, 55), 8),
    ):
        s.area(leaf(base, tip, width))
        (bx, by), (tx, ty) = base, tip
        s.line(straight((bx, by), (bx + 0.75 * (tx - bx), by + 0.75 * (ty - by))), 0.6)
    for x, y in ((9, 70.4), (15.4, 71), (11.6, 76), (65, 71), (71.4, 70), (69, 75.4)):
        s.area(ellipse(x, y, 2.5), 0.8)
        s.black(ellipse(x + 0.7, y + 0.8, 0.4))
    return s


def harvest() -> Sketch:
    """A handled basket of apples, a pear and leaves, with an apple fallen beside it."""
    s = Sketch(92, 84)
    s.area(curve([(3, 76), (20, 72), (50, 71), (78, 72), (89, 76), (76, 81), (46, 82), (14, 81)], True))
    handle = [(16, 46), (17, 24), (28, 9), (42, 5), (56, 9), (67, 24), (68, 46)]
    inner = [(63, 46), (62, 26), (54, 14), (42, 10), (30, 14), (22, 26), (21, 46)]
    s.area(curve(handle + inner, True))
    for x, y, dx, dy in (
        (18.4, 30, 3.4, 1),
        (25.6, 14.4, 2.6, 2.6),
        (38, 6.4, 0.8, 3.4),
        (51, 7.6, -1, 3.2),
        (62, 17, -3, 2.2),
    ):
        s.line(straight((x, y), (x + dx, y + dy)), 0.7)
    for base, tip, width in (((24, 42), (9, 33), 9), ((60, 42), (77, 32), 9), ((40, 36), (34, 18), 8)):
        s.area(leaf(base, tip, width))
        (bx, by), (tx, ty) = base, tip
        s.line(straight((bx, by), (bx + 0.8 * (tx - bx), by + 0.8 * (ty - by))), 0.6)
    s.area(curve([(48, 20), (44.6, 25), (43, 33), (39, 42), (48, 50), (58, 42), (54, 33), (52, 25)], True))
    s.area(curve([(47.6, 20.8), (48.2, 16.4), (51, 14.4), (51.8, 16), (49.8, 17.6), (49.4, 21)], True), 0.7)
    s.line(arc(49, 37, 6, 8, -40, 20), 0.6)
    apples = ((28, 39, 9), (59, 40, 8.4), (43.4, 41.4, 9.6))
    for x, y, r in (*apples, (79, 70, 8)):
        s.area(
            curve(
                [(x, y - 0.72 * r), (x + 0.6 * r, y - 0.92 * r), (x + r, y - 0.1 * r), (x + 0.6 * r, y + 0.8 * r),
                 (x, y + 0.84 * r), (x - 0.6 * r, y + 0.8 * r), (x - r, y - 0.1 * r), (x - 0.6 * r, y - 0.92 * r)],
                True,
            )
        )  # fmt: skip
        s.line(curve([(x, y - 0.55 * r), (x + 0.2, y - r), (x + 1.4, y - 1.3 * r)]), 1.2, taper=0.2)
        s.line(arc(x, y - 0.72 * r, 0.34 * r, 0.2 * r, 10, 170), 0.6)
        s.line(arc(x, y, 0.72 * r, 0.66 * r, 180, 225), 0.6)
    s.area(leaf((80, 60.4), (89, 56), 4.6), 0.8)
    s.area(leaf((29, 28.6), (19.6, 24.4), 4.6), 0.8)
    tub = s.area(
        curve([(13, 50), (17, 64), (22, 76), (42, 78.4), (62, 76), (67, 64), (71, 50), (42, 53)], True)
    )
    s.area(curve([(8, 60), (42, 64.4), (76, 60), (76, 67), (42, 71.4), (8, 67)], True), 0.8, tub)
    for k in range(6):
        x = 22.4 + 7.9 * k
        s.line(straight((x, 62.4), (x + 0.05 * (42 - x), 68)), 0.6, tub)
    for k in range(5):
        x = 22 + 10 * k
        s.line(curve([(x, 56), (x + 3, 57), (x + 6, 56.6)]), 0.6)
    s.area(rounded(9, 44.2, 66, 8.8, 3.4))
    for k in range(9):
        x = 15 + 6.8 * k
        s.line(curve([(x, 51), (x + 1.6, 49.6), (x + 2.4, 47.8)]), 0.6)
    s.area(curve([(42, 54), (35, 49.4), (31.4, 54.4), (33, 60), (38, 58.6)], True))
    s.area(curve([(42, 54), (49, 49.4), (52.6, 54.4), (51, 60), (46, 58.6)], True))
    s.area(curve([(41, 56), (36, 62), (34.6, 69), (38, 67.4), (40.6, 69), (43, 58)], True))
    s.area(curve([(43, 56), (48, 62), (49.4, 69), (46, 67.4), (43.4, 69), (41, 58)], True))
    s.area(ellipse(42, 55.6, 2.8, 3))
    s.line(curve([(39, 54.6), (36.6, 53.4), (34.6, 53.8)]), 0.6)
    s.line(curve([(45, 54.6), (47.4, 53.4), (49.4, 53.8)]), 0.6)
    for x, y in ((11, 73), (16, 76.4), (10, 78)):
        s.area(ellipse(x, y, 2.4), 0.8)
    return s


def gingerbread() -> Sketch:
    """An iced cottage with sweets on its gable, shutters and a picket fence."""
    s = Sketch(92, 88)
    s.area(curve([(5, 76), (20, 73), (46, 72), (72, 73), (87, 76), (86, 84), (46, 86), (6, 84)], True))
    s.area(polygon([(60, 32), (60, 12), (69, 12), (69, 40)]))
    s.area(
        curve(
            [
                (58, 13),
                (58.6, 8.6),
                (64.5, 8),
                (70.6, 8.6),
                (71, 13),
                (68, 16.4),
                (66, 13.6),
                (63, 17),
                (61, 13.8),
            ],
            True,
        )
    )
    s.line(curve([(63, 6.4), (61.4, 4.6), (64, 3.4), (62.8, 1.8)]), 0.6)
    s.line(curve([(66.4, 6.4), (68, 4.8), (65.8, 3.4), (67.4, 2)]), 0.6)
    s.area(polygon([(18, 40), (46, 10), (74, 40), (74, 76), (18, 76)]))
    roof = [(46, 6), (82, 43), (77.4, 47), (46, 15.4), (14.6, 47), (10, 43)]
    s.area(polygon(roof))
    for side in (-1, 1):
        for k in range(4):
            x, y = 46 + side * (7.4 + 7.8 * k), 17.85 + 7.98 * k
            s.area(ellipse(x, y, 2.2), 0.8)
    s.area(ellipse(46, 10.6, 2.6), 0.8)
    s.area(ellipse(46, 30, 6.4))
    s.area(ellipse(46, 30, 4.4), 0.8)
    s.line(arc(45, 29, 2.2, 2, 180, 270), 0.5)
    s.area(curve([(38, 76), (38, 58), (40, 52), (46, 49.4), (52, 52), (54, 58), (54, 76)], True))
    s.area(
        curve([(40.4, 74), (40.4, 59), (42, 54.6), (46, 52.6), (50, 54.6), (51.6, 59), (51.6, 74)], True), 0.8
    )
    s.area(ellipse(49, 66.4, 1.2), 0.7)
    s.area(ellipse(46, 58.4, 2.6, 2.3), 0.7)
    for x in (28, 64):
        s.area(rounded(x - 4, 49, 8, 12, 0.6))
        s.line(straight((x, 49.4), (x, 60.6)), 0.8, taper=0)
        for side in (-1, 1):
            c = x + side * 6.3
            s.area(rounded(c - 2.2, 48.4, 4.4, 13.2, 0.5), 0.9)
            for y in (51.4, 54, 56.6):
                s.line(straight((c - 1.1, y), (c + 1.1, y)), 0.6)
        s.area(
            curve([(x - 6, 49.2), (x - 5, 45.6), (x, 44.6), (x + 5, 45.6), (x + 6, 49.2), (x, 49.8)], True)
        )
        s.area(rounded(x - 7, 61, 14, 4, 0.8))
    s.area(polygon([(40, 76), (52, 76), (58, 84.6), (34, 84.6)]))
    s.line(straight((40, 79), (47, 79)), 0.6)
    s.line(straight((45, 82), (54, 82)), 0.6)
    for first in (4, 63.2):
        for k in range(4):
            x = first + 6.2 * k
            s.area(polygon([(x, 82), (x, 69), (x + 3.1, 65.4), (x + 6.2, 69), (x + 6.2, 82)]))
            s.line(straight((x + 2, 71), (x + 2.2, 75)), 0.6)
    return s


def boot() -> Sketch:
    """A child's rubber boot filled with flowers and leaves, a ladybird on its toe."""
    s = Sketch(76, 92)
    s.area(curve([(6, 84), (24, 80.6), (52, 80.4), (72, 84), (60, 89), (22, 89)], True))
    for base, tip, width in (
        ((24, 46), (5, 32), 8),
        ((30, 44), (20, 14), 7),
        ((38, 44), (56, 38), 7),
        ((34, 44), (40, 8), 7),
    ):
        s.area(leaf(base, tip, width))
        (bx, by), (tx, ty) = base, tip
        s.line(straight((bx, by), (bx + 0.85 * (tx - bx), by + 0.85 * (ty - by))), 0.6)
    for x, y, turn in ((30, 14, -4), (49, 17, 22)):
        foot = (34 if x < 40 else 40, 46)
        s.line(curve([(x, y + 6), ((x + foot[0]) / 2 + 1, 32), foot]), 1.2, taper=0)
        middle = (x, y)
        for petal in (
            [
                (x - 1, y + 7),
                (x - 6, y + 3),
                (x - 6, y - 3),
                (x - 4.6, y - 7),
                (x - 1, y - 3),
                (x + 1, y + 3),
            ],
            [
                (x + 1, y + 7),
                (x + 6, y + 3),
                (x + 6, y - 3),
                (x + 4.6, y - 7),
                (x + 1, y - 3),
                (x - 1, y + 3),
            ],
            [(x, y + 7.4), (x - 3.6, y + 3), (x - 3, y - 3), (x, y - 7.4), (x + 3, y - 3), (x + 3.6, y + 3)],
        ):
            s.area(turned(curve(petal, True), -turn, middle))
    for x, y, r in ((17, 31, 6), (37.6, 31.6, 6.6)):
        for k in range(5):
            a = math.radians(72 * k - 90)
            s.area(ellipse(x + r * math.cos(a), y + r * math.sin(a), 0.66 * r, 0.6 * r, -72 * k), 0.8)
            u, v = math.cos(a), math.sin(a)
            s.line(straight((x + 0.7 * r * u, y + 0.7 * r * v), (x + 1.1 * r * u, y + 1.1 * r * v)), 0.5)
        s.area(ellipse(x, y, 0.52 * r), 0.9)
    s.area(scalloped(56, 34, 6.6, 6.4, 7, 0.2))
    s.area(ellipse(56, 34, 2.6), 0.8)
    s.area(
        curve(
            [(18, 44), (19, 60), (18, 74), (17, 82), (30, 83), (44, 82), (58, 83), (65, 80), (64, 72)]
            + [(56, 67), (47, 63), (45, 56), (46, 44), (32, 46)],
            True,
        )
    )
    s.area(
        curve([(17, 80), (30, 80.6), (50, 80.6), (65, 79.4), (67, 82), (64, 84.6), (40, 85), (18, 85)], True)
    )
    s.area(rounded(16.6, 81.6, 15, 5.2, 0.8))
    s.area(rounded(15.6, 41, 33, 6.6, 2.4))
    for k in range(3):
        s.area(ellipse(23.4 + 8.6 * k, 44.3, 1.7), 0.7)
    for x, y, r in ((26, 57, 3.6), (34, 70, 3.8)):
        s.area(scalloped(x, y, r, r, 5, 0.24), 0.8)
        s.area(ellipse(x, y, 0.36 * r), 0.5)
    s.line(curve([(46, 64), (43, 65.6), (40, 65.4)]), 0.7)
    s.line(curve([(47, 67), (44.6, 68.6), (42.6, 68.8)]), 0.7)
    s.line(arc(57, 77, 4.4, 4.4, -80, -10), 0.6)
    s.line(curve([(52.6, 62), (51.4, 60), (49.6, 59.4)]), 0.6, taper=0.2)
    s.line(curve([(54, 61.4), (54, 59.2), (53, 57.8)]), 0.6, taper=0.2)
    s.area(ellipse(53.2, 64, 2.4, 2.2), 0.8)
    s.black(ellipse(52.4, 63.4, 0.4))
    s.area(
        turned(
            curve([(54.6, 68), (55.4, 63.6), (59.6, 62), (63.8, 63.6), (64.6, 68), (59.6, 68.8)], True),
            -33,
            (59.6, 66),
        )
    )
    for x, y in ((57.2, 64.2), (60, 67.6), (61.6, 64.8)):
        s.black(ellipse(x, y, 0.7))
    return s


FRESH = {scene.__name__: scene for scene in (owlet, harvest, gingerbread, boot)}
