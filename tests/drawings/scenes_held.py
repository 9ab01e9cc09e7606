"""Drawings kept apart: no limit of the part finder was chosen by looking at them."""

import math

from drawings.shapes import arc, curve, ellipse, leaf, polygon, rounded, scalloped, star, straight, turned
from drawings.sketch import Sketch


def house() -> Sketch:
    """A cottage that touches the picture's left and right edge with its hill, with smoke and a fence."""
    s = Sketch(92, 80)
    s.area(curve([(-6, 66), (20, 60), (46, 63), (72, 59), (98, 66), (98, 90), (-6, 90)], True))
    s.area(ellipse(78, 15, 8))
    for k in range(8):
        a = math.radians(45 * k)
        s.line(
            straight(
                (78 + 9.5 * math.cos(a), 15 + 9.5 * math.sin(a)),
                (78 + 12.5 * math.cos(a), 15 + 12.5 * math.sin(a)),
            ),
            0.8,
        )
    s.area(scalloped(18, 17, 12, 6, 7, 0.2))
    for x in range(5, 30, 6):
        s.area(polygon([(x, 70), (x, 58), (x + 1.8, 55.5), (x + 3.6, 58), (x + 3.6, 70)]))
    s.area(polygon([(56, 32), (56, 18), (63, 18), (63, 38)]))
    s.area(rounded(55, 16, 9, 3, 0.8))
    wall = s.area(polygon([(32, 38), (68, 38), (68, 67), (32, 67)]))
    for y, x in ((43, 34), (49, 60), (57, 34), (62, 60)):
        s.area(rounded(x, y, 5, 2.4, 0.6), 0.7, wall)
    s.area(polygon([(26, 40), (50, 20), (74, 40), (70, 43), (50, 26), (30, 43)]))
    roof = s.area(polygon([(33, 38.5), (50, 24.5), (67, 38.5)]))
    s.area(ellipse(50, 33, 3.6), clip=roof)
    s.area(curve([(45, 67), (45, 55), (50, 51), (55, 55), (55, 67)], True))
    s.area(ellipse(52.8, 60, 0.9), 0.6)
    for x in (36, 59):
        s.area(rounded(x, 46, 7, 8, 0.6))
        s.area(rounded(x + 0.9, 46.9, 2.2, 2.7, 0.2), 0.6)
        s.area(rounded(x + 3.9, 46.9, 2.2, 2.7, 0.2), 0.6)
        s.area(rounded(x + 0.9, 50.4, 2.2, 2.7, 0.2), 0.6)
        s.area(rounded(x + 3.9, 50.4, 2.2, 2.7, 0.2), 0.6)
    s.line(curve([(60, 15), (58, 11), (62, 8), (59, 4)]), 0.8, taper=0.8)
    s.area(curve([(46, 67), (54, 67), (60, 80), (40, 80)], True))
    s.area(scalloped(80, 58, 8, 9, 8, 0.18))
    s.area(rounded(78.6, 64, 3, 9, 0.6))
    for x, y in ((76, 56), (82, 54), (80, 61), (84, 60)):
        s.area(ellipse(x, y, 1.3), 0.7)
    return s


def owl() -> Sketch:
    """An owl of many feathers on a branch under a moon."""
    s = Sketch(74, 90)
    s.area(ellipse(54, 18, 14))
    s.area(curve([(4, 76), (30, 71), (72, 74), (72, 80), (30, 79), (4, 81)], True))
    s.area(leaf((62, 73), (70, 62), 5))
    s.area(leaf((12, 75), (5, 65), 5))
    s.area(curve([(30, 66), (28, 86), (37, 89), (46, 86), (44, 66)], True))
    body = s.area(
        curve([(22, 30), (17, 50), (22, 68), (37, 75), (52, 68), (57, 50), (52, 30), (37, 24)], True)
    )
    for row in range(6):
        for column in range(5 - row % 2):
            x, y = 24 + 6.5 * column + (row % 2) * 3.2, 70 - 5.2 * row
            s.area(
                curve(
                    [(x - 3.6, y - 3), (x - 3.2, y + 2), (x, y + 4.6), (x + 3.2, y + 2), (x + 3.6, y - 3)],
                    True,
                ),
                0.8,
                body,
            )
    for side in (-1, 1):
        s.area(
            curve(
                [
                    (37 + side * 15, 34),
                    (37 + side * 21, 48),
                    (37 + side * 17, 66),
                    (37 + side * 12, 60),
                    (37 + side * 12, 44),
                ],
                True,
            )
        )
        for k in range(3):
            s.line(
                curve(
                    [
                        (37 + side * 16, 44 + 6 * k),
                        (37 + side * 17.6, 47 + 6 * k),
                        (37 + side * 15, 50 + 6 * k),
                    ]
                ),
                0.6,
            )
    s.area(
        curve(
            [
                (20, 17),
                (29, 21),
                (37, 20),
                (45, 21),
                (54, 17),
                (53, 34),
                (46, 42),
                (37, 44),
                (28, 42),
                (21, 34),
            ],
            True,
        )
    )
    for side in (-1, 1):
        x = 37 + side * 8
        s.area(ellipse(x, 31, 7.4))
        s.area(ellipse(x, 31, 4.8), 0.8)
        s.black(ellipse(x, 31, 2.6))
        s.area(ellipse(x - 0.8, 30, 0.9), 0.4)
    s.area(curve([(34, 34), (37, 33), (40, 34), (37, 41)], True))
    for side in (-1, 1):
        for k in range(3):
            s.area(ellipse(37 + side * 6 + 2.6 * (k - 1), 76, 1.4, 3))
    for x, y, r in ((12, 14, 4), (25, 7, 2.6), (66, 42, 2.6), (10, 40, 2.6)):
        s.area(star(x, y, r, r * 0.45, 5), 0.8)
    return s


def portrait() -> Sketch:
    """A child with plaits, freckles and a woolly hat."""
    s = Sketch(72, 88)
    s.area(curve([(8, 92), (12, 76), (26, 70), (36, 72), (46, 70), (60, 76), (64, 92)], True))
    for side in (-1, 1):
        for k in range(4):
            s.area(ellipse(36 + side * (22 + 0.6 * k), 50 + 7 * k, 5, 4.6, side * 25))
        s.area(rounded(36 + side * 24.2 - 3.4, 74.5, 6.8, 3, 1))
        s.area(
            curve(
                [
                    (36 + side * 22.5, 77.5),
                    (36 + side * 21, 86),
                    (36 + side * 25, 83),
                    (36 + side * 28, 86),
                    (36 + side * 26.5, 77.5),
                ],
                True,
            )
        )
    s.area(curve([(30, 62), (30, 74), (36, 77), (42, 74), (42, 62)], True))
    s.area(ellipse(16.5, 46, 3.4, 4.6))
    s.area(ellipse(55.5, 46, 3.4, 4.6))
    s.area(curve([(17, 36), (17, 50), (24, 62), (36, 67), (48, 62), (55, 50), (55, 36), (36, 24)], True))
    s.area(
        curve(
            [
                (15, 38),
                (18, 25),
                (36, 20),
                (54, 25),
                (57, 38),
                (50, 34),
                (44, 38),
                (37, 33),
                (29, 38),
                (22, 34),
            ],
            True,
        )
    )
    for side in (-1, 1):
        x = 36 + side * 9
        s.area(ellipse(x, 46, 3.6, 4.2))
        s.area(ellipse(x, 46.4, 2.3, 3.0), 0.7)
        s.black(ellipse(x, 46.6, 1.2, 1.6))
        s.line(arc(x, 40.5, 4, 2, 200, 340), 0.9)
        for k in range(3):
            s.line(
                straight(
                    (x + side * (2.4 + 0.6 * k), 43.2 + 0.6 * k), (x + side * (4 + 0.8 * k), 41.8 + 0.8 * k)
                ),
                0.5,
            )
        s.area(ellipse(36 + side * 12, 53.5, 2.8, 2), 0.6)
        for a, b in ((10, 51), (13.4, 50.6), (7.8, 52.8)):
            s.black(ellipse(36 + side * a, b, 0.3))
    s.line(curve([(36.4, 47), (37.6, 51.5), (35, 52)]), 0.7)
    s.area(curve([(29.5, 56.5), (36, 58), (42.5, 56.5), (40, 61), (36, 62), (32, 61)], True))
    s.area(curve([(14, 27), (15, 15), (36, 8), (57, 15), (58, 27), (36, 21)], True))
    band = s.area(curve([(12, 27), (36, 19), (60, 27), (60, 33), (36, 26), (12, 33)], True))
    for k in range(9):
        s.area(turned(rounded(14 + 5.3 * k, 10, 2.4, 30, 0.5), 3 * (4 - k), (15 + 5.3 * k, 25)), 0.6, band)
    s.area(scalloped(36, 8, 7.5, 6.5, 10, 0.16))
    scarf = s.area(curve([(18, 70), (36, 76), (54, 70), (57, 77), (36, 84), (15, 77)], True))
    for k in range(6):
        s.area(
            polygon([(17 + 7 * k, 66), (20.5 + 7 * k, 66), (19.5 + 7 * k, 90), (16 + 7 * k, 90)]), 0.7, scarf
        )
    return s


def wreath() -> Sketch:
    """A dense wreath of leaves and berries with a bow."""
    s = Sketch(84, 84)
    for k in range(22):
        a = 2 * math.pi * k / 22
        x, y = 42 + 27 * math.cos(a), 40 + 27 * math.sin(a)
        for lean, size in ((0.7, 12), (-0.5, 10)):
            b = a + math.pi / 2 + lean
            s.area(leaf((x, y), (x + size * math.cos(b), y + size * math.sin(b)), 5.4), 0.9)
            s.line(
                straight(
                    (x + 2 * math.cos(b), y + 2 * math.sin(b)),
                    (x + 0.7 * size * math.cos(b), y + 0.7 * size * math.sin(b)),
                ),
                0.5,
            )
    for k in range(11):
        a = 2 * math.pi * (k + 0.4) / 11
        for j in range(3):
            x = 42 + (26 + 2.6 * math.cos(2.1 * j)) * math.cos(a + 0.07 * (j - 1))
            y = 40 + (26 + 2.6 * math.cos(2.1 * j)) * math.sin(a + 0.07 * (j - 1))
            s.area(ellipse(x, y, 1.9), 0.8)
    s.area(curve([(42, 68), (30, 82), (36, 81), (38, 84), (44, 70)], True))
    s.area(curve([(42, 68), (54, 82), (48, 81), (46, 84), (40, 70)], True))
    for side in (-1, 1):
        s.area(
            curve(
                [
                    (42, 67),
                    (42 + side * 9, 59),
                    (42 + side * 16, 61),
                    (42 + side * 15, 71),
                    (42 + side * 9, 73),
                ],
                True,
            )
        )
        s.area(curve([(42, 67), (42 + side * 9, 63), (42 + side * 12, 66), (42 + side * 9, 70)], True), 0.7)
    s.area(rounded(38.5, 63.5, 7, 7, 2))
    s.area(rounded(28, 30, 28, 18, 3))
    s.area(rounded(30, 32, 24, 14, 2), 0.6)
    return s


def boat() -> Sketch:
    """A paper boat on waves, cut by the picture's edge on three sides."""
    s = Sketch(88, 66)
    s.area(ellipse(70, 12, 6.5))
    for x, y in ((14, 12), (30, 8)):
        s.area(scalloped(x, y, 8, 4, 6, 0.22))
    s.area(polygon([(44, 8), (45, 8), (45, 40), (44, 40)]), 0.8)
    s.area(curve([(46, 10), (58, 22), (62, 36), (46, 36)], True))
    s.area(curve([(43.5, 12), (36, 24), (30, 36), (43.5, 36)], True))
    s.line(straight((48, 30), (58, 30)), 0.6)
    s.area(polygon([(45, 8), (52, 5), (45, 3)]))
    hull = s.area(curve([(20, 39), (45, 41), (70, 39), (62, 54), (45, 57), (28, 54)], True))
    s.area(curve([(10, 44), (45, 46), (80, 44), (80, 48.5), (45, 50.5), (10, 48.5)], True), 0.8, hull)
    for k in range(3):
        s.area(ellipse(36 + 9 * k, 53.3, 1.6), 0.8, hull)
    for row in range(3):
        points = (
            [(-8.0, 80.0)]
            + [(-8 + 6 * k, 52 + 6 * row + (2.2 if (k + row) % 2 else -1.4)) for k in range(18)]
            + [(100.0, 80.0)]
        )
        s.area(curve(points, True))
    for x in (12, 40, 66):
        s.line(arc(x, 63, 3, 1.5, 190, 350), 0.6)
    return s


def gifts() -> Sketch:
    """A pile of wrapped gifts with patterned paper and tags; many hatch strokes."""
    s = Sketch(86, 76)
    for x, y, w, h, kind in (
        (44, 24, 28, 24, "dots"),
        (12, 32, 30, 22, "stripes"),
        (22, 50, 44, 22, "stars"),
        (62, 46, 18, 26, "plain"),
    ):
        box = s.area(rounded(x, y, w, h, 1))
        if kind == "dots":
            for i in range(5):
                for j in range(4):
                    s.area(ellipse(x + 3 + 6 * i, y + 4 + 6 * j, 1.4), 0.6, box)
        elif kind == "stripes":
            for i in range(6):
                s.area(
                    polygon(
                        [
                            (x - 6 + 8 * i, y - 2),
                            (x - 2.5 + 8 * i, y - 2),
                            (x - 8.5 + 8 * i, y + h + 2),
                            (x - 12 + 8 * i, y + h + 2),
                        ]
                    ),
                    0.6,
                    box,
                )
        elif kind == "stars":
            for i in range(6):
                for j in range(2):
                    s.area(star(x + 5 + 7 * i + 3 * j, y + 6 + 9 * j, 2.7, 1.2, 5), 0.6, box)
        else:
            for i in range(7):
                s.line(straight((x + 12.5, y + 4 + 3 * i), (x + 16, y + 2.5 + 3 * i)), 0.5)
        s.area(rounded(x + w / 2 - 2, y, 4, h, 0.2))
        s.area(curve([(x + w / 2, y), (x + w / 2 - 8, y - 7), (x + w / 2 - 9, y - 1)], True))
        s.area(curve([(x + w / 2, y), (x + w / 2 + 8, y - 7), (x + w / 2 + 9, y - 1)], True))
        s.area(ellipse(x + w / 2, y, 2, 1.7))
    s.area(polygon([(8, 60), (16, 56), (21, 66), (13, 70), (8, 66)]))
    s.area(ellipse(11, 63, 1.0), 0.6)
    s.line(curve([(11, 63), (4, 60), (6, 50), (14, 46)]), 0.6, taper=0.2)
    return s


HELD = {scene.__name__: scene for scene in (house, owl, portrait, wreath, boat, gifts)}
