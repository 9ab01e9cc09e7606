"""The drawings on which the limits of the part finder were chosen."""

import math

from drawings.shapes import arc, curve, ellipse, leaf, polygon, rounded, scalloped, star, straight, turned
from drawings.sketch import Sketch


def _eye(s: Sketch, x: float, y: float, r: float) -> None:
    s.area(ellipse(x, y, r, r * 1.15))
    s.black(ellipse(x + r * 0.15, y + r * 0.15, r * 0.62, r * 0.72))
    s.area(ellipse(x + r * 0.0, y - r * 0.15, r * 0.32), pen=0.35)


def hedgehog() -> Sketch:
    """A hedgehog with a scarf, holding a lantern."""
    s = Sketch(82, 84)
    for k in range(3):  # spines: rows from the back forward
        r = 30 - 5.5 * k
        points = []
        count = 15 - 2 * k
        for i in range(count + 1):
            a = math.radians(150 + 250 * i / count)
            points.append((38 + (r - 5) * math.cos(a), 38 + (r - 5) * math.sin(a)))
            a2 = math.radians(150 + 250 * (i + 0.5) / count)
            if i < count:
                points.append((38 + (r + 3) * math.cos(a2), 38 + (r + 2) * math.sin(a2)))
        points.append((38, 62))
        s.area(polygon(points))
    s.area(ellipse(26, 76, 8, 4, -8))
    s.area(ellipse(46, 76.5, 8, 4, 6))
    body = s.area(
        curve([(24, 50), (22, 62), (26, 74), (38, 77), (49, 73), (53, 61), (50, 48), (38, 44)], True)
    )
    s.area(ellipse(38, 64, 9, 9.5), pen=0.7, clip=body)
    for i in range(4):
        s.line(straight((33 + 3 * i, 60 + (i % 2) * 4), (33.6 + 3 * i, 62.5 + (i % 2) * 4)), 0.6)
    s.area(ellipse(23.5, 27.5, 5.5, 6))
    s.area(ellipse(23.8, 28, 3, 3.5), pen=0.7)
    s.area(ellipse(53.5, 27.5, 5.5, 6))
    s.area(ellipse(53.2, 28, 3, 3.5), pen=0.7)
    s.area(
        curve(
            [
                (22, 36),
                (25, 26),
                (34, 24),
                (38, 27),
                (42, 24),
                (51, 26),
                (54, 36),
                (50, 46),
                (38, 51),
                (26, 46),
            ],
            True,
        )
    )
    _eye(s, 31.5, 36, 2.3)
    _eye(s, 44.5, 36, 2.3)
    s.area(ellipse(38, 41.2, 3.2, 2.4))
    s.area(ellipse(37, 40.4, 1.0, 0.7), pen=0.5)
    s.line(curve([(38, 43.6), (37, 46), (34, 46.5)]))
    s.line(curve([(38, 43.6), (39, 46), (42, 46.5)]))
    s.area(ellipse(28, 42.5, 2.6, 1.7), pen=0.6)
    s.area(ellipse(48, 42.5, 2.6, 1.7), pen=0.6)
    tail = s.area(curve([(46, 52), (52, 54), (53, 66), (46, 68), (44, 58)], True))
    for k in range(2):
        s.area(
            polygon([(40, 58 + 5 * k), (58, 56.5 + 5 * k), (58, 59 + 5 * k), (40, 60.5 + 5 * k)]), 0.7, tail
        )
    scarf = s.area(curve([(23, 47), (38, 51.5), (53, 47), (54.5, 52), (38, 57.5), (22, 52)], True))
    for k in range(4):
        x = 27 + 7 * k
        s.area(polygon([(x, 44), (x + 3, 44), (x + 2, 60), (x - 1, 60)]), 0.7, scarf)
    s.area(curve([(50, 54), (58, 57), (66, 52), (68, 55), (60, 63), (50, 61)], True))
    s.area(rounded(62, 60, 15, 16, 2))
    s.area(rounded(64.5, 62.5, 10, 11, 1.5), 0.7)
    s.area(curve([(69.5, 64), (72, 68.5), (69.5, 72), (67, 68.5)], True))
    s.area(rounded(60.5, 75, 18, 3.5, 1.2))
    s.area(polygon([(61, 60), (65, 55), (74, 55), (78, 60)]))
    s.line(arc(69.5, 55, 4, 6, 180, 360), 1.1, taper=0.2)
    return s


def lantern() -> Sketch:
    """A storm lantern with holly."""
    s = Sketch(64, 92)
    s.line(arc(32, 24, 17, 18, 185, 355), 1.2, taper=0.1)
    s.area(ellipse(32, 7, 3.2, 3.2))
    s.area(ellipse(32, 7, 1.7, 1.7), 0.7)
    s.area(curve([(25, 20), (26, 14), (32, 11), (38, 14), (39, 20)], True))
    s.area(polygon([(14, 28), (22, 19), (42, 19), (50, 28)]))
    for k in range(5):
        s.line(straight((20 + 6 * k, 21.5), (18 + 7 * k, 26)), 0.7)
    s.area(rounded(17, 28, 30, 42, 2))
    for left in (20, 33.2):
        pane = s.area(rounded(left, 31, 10.8, 36, 1.2), 0.8)
        s.line(straight((left + 2, 40), (left + 6, 34)), 0.5, pane)
        s.line(straight((left + 2, 44), (left + 8, 35)), 0.5, pane)
    s.area(rounded(25, 52, 14, 16, 1.5))
    s.line(curve([(32, 52), (32.4, 49), (32, 46.5)]), 0.9, taper=0.2)
    s.area(curve([(32, 34), (36.5, 42), (34.5, 48), (29.5, 48), (27.5, 42)], True))
    s.area(curve([(32, 40), (34, 44), (32, 47.2), (30, 44)], True), 0.7)
    s.area(rounded(12, 69, 40, 6, 2))
    s.area(rounded(15, 75, 34, 4, 1.5))
    for base, tip in (
        ((20, 80), (4, 74)),
        ((22, 82), (6, 88)),
        ((44, 80), (60, 74)),
        ((42, 82), (58, 89)),
        ((32, 82), (32, 91)),
    ):
        s.area(leaf(base, tip, 7))
        s.line(straight(base, ((base[0] + 3 * tip[0]) / 4, (base[1] + 3 * tip[1]) / 4)), 0.6)
    for x, y in ((27, 82), (37, 82), (32, 79), (31, 85.5)):
        s.area(ellipse(x, y, 3.1))
        s.area(ellipse(x - 0.9, y - 1.0, 0.75), 0.4)
    return s


def jar() -> Sketch:
    """A jar of preserves with a cloth lid, label and berries."""
    s = Sketch(70, 86)
    glass = s.area(rounded(12, 26, 46, 54, 8))
    for row in range(4):
        for column in range(5):
            x, y = 17 + 9.2 * column + (row % 2) * 3.5, 38 + 11.5 * row
            s.area(ellipse(x, y, 4.8, 4.5), clip=glass)
            s.area(ellipse(x - 1.6, y - 1.6, 0.9), 0.4, clip=glass)
    s.area(curve([(18, 48), (35, 44), (52, 48), (53, 66), (35, 70), (17, 66)], True))
    s.area(curve([(21, 50.5), (35, 47.2), (49, 50.5), (50, 63.6), (35, 67), (20, 63.6)], True), 0.6)
    s.area(curve([(35, 63), (28, 56), (30, 51.5), (35, 54), (40, 51.5), (42, 56)], True))
    cloth = s.area(
        curve(
            [
                (8, 27),
                (14, 14),
                (24, 8),
                (35, 6.5),
                (46, 8),
                (56, 14),
                (62, 27),
                (55, 25),
                (49, 29),
                (42, 26),
                (35, 30),
                (28, 26),
                (21, 29),
                (15, 25),
            ],
            True,
        )
    )
    for x, y in ((18, 17), (26, 12), (35, 10.5), (44, 12), (52, 17), (30, 17), (40, 17), (22, 23), (48, 23)):
        s.area(ellipse(x, y, 1.7), 0.7, clip=cloth)
    s.area(curve([(13, 20), (35, 23.5), (57, 20), (57, 23), (35, 26.5), (13, 23)], True))
    s.area(curve([(35, 25), (24, 31), (22, 25), (26, 22)], True))
    s.area(curve([(35, 25), (46, 31), (48, 25), (44, 22)], True))
    s.area(ellipse(35, 25, 2.6, 2.2))
    s.line(curve([(52.5, 34), (54.5, 45), (54, 56)]), 0.7)
    return s


def pumpkin() -> Sketch:
    """Two pumpkins, a vine and a leaf."""
    s = Sketch(90, 70)
    for dx in (-23, 23, -15, 15, -7.5, 7.5, 0):
        s.area(ellipse(40 + dx, 42, 11.5 - abs(dx) * 0.1, 21 - abs(dx) * 0.18))
    s.area(curve([(36.5, 22), (38, 14), (34, 9), (38, 6.5), (43, 10), (43, 22), (40, 24)], True))
    s.line(curve([(39.5, 20), (40.5, 14), (38, 9)]), 0.6)
    for dx in (-9, 9, -4.5, 4.5, 0):
        s.area(ellipse(72 + dx, 55, 5.8, 10.5 - abs(dx) * 0.2))
    s.area(polygon([(70.5, 46), (70, 40.5), (74, 40), (74, 46)]))
    s.line(curve([(43, 16), (52, 12), (58, 18), (53, 22), (51, 17), (60, 11), (68, 14)]), 0.8, taper=0.5)
    leafy = curve(
        [
            (20, 12),
            (27, 8),
            (30, 14),
            (36, 17),
            (32, 22),
            (33, 28),
            (25, 25),
            (18, 29),
            (17, 22),
            (11, 18),
            (17, 15),
        ],
        True,
    )
    s.area(leafy)
    for tip in ((28, 12), (31.5, 18), (30, 25), (19, 25.5), (14.5, 18.5)):
        s.line(curve([(24, 19), ((24 + tip[0]) / 2 + 0.6, (19 + tip[1]) / 2), tip]), 0.6)
    for x in (16, 24, 57, 62):
        s.line(curve([(x, 65), (x + 0.5, 62.5), (x + 1.8, 60.6)]), 0.6)
    return s


def mushroom() -> Sketch:
    """Three mushrooms in grass with a snail."""
    s = Sketch(86, 78)
    for x, y, k in ((62, 40, 0.75), (24, 46, 0.6)):
        s.area(
            curve(
                [
                    (x - 4 * k, y),
                    (x - 3.6 * k, y + 14),
                    (x - 6 * k, y + 36 * k),
                    (x + 6 * k, y + 36 * k),
                    (x + 3.6 * k, y + 14),
                    (x + 4 * k, y),
                ],
                True,
            )
        )
        s.area(
            curve(
                [
                    (x - 16 * k, y + 3),
                    (x - 13 * k, y - 10 * k),
                    (x, y - 17 * k),
                    (x + 13 * k, y - 10 * k),
                    (x + 16 * k, y + 3),
                    (x, y + 7 * k),
                ],
                True,
            )
        )
        s.area(ellipse(x - 5 * k, y - 7 * k, 3 * k, 2.4 * k), 0.8)
        s.area(ellipse(x + 5 * k, y - 3 * k, 2.4 * k, 2 * k), 0.8)
    s.area(curve([(38, 34), (38.5, 50), (34, 68), (42, 71), (51, 68), (47.5, 50), (48, 34)], True))
    s.area(curve([(24, 31), (43, 36), (62, 31), (52, 41), (43, 43), (34, 41)], True))
    for k in range(7):
        s.line(straight((31.5 + 3.8 * k, 35.5), (34 + 3 * k, 39.2)), 0.5)
    cap = s.area(curve([(20, 31), (25, 16), (43, 7), (61, 16), (66, 31), (43, 36.5)], True))
    for x, y, r in (
        (43, 15, 4.2),
        (30, 22, 3.4),
        (55, 21, 3.2),
        (44, 27, 3.3),
        (35, 30.5, 1.6),
        (58, 29, 1.9),
        (22, 30, 3),
    ):
        s.area(ellipse(x, y, r, r * 0.85), clip=cap)
    s.line(curve([(41, 45), (41.5, 52), (40, 60)]), 0.6)
    s.line(curve([(45, 50), (45.3, 57), (46.5, 63)]), 0.6)
    s.area(curve([(58, 70), (66, 64), (78, 66), (82, 62), (84, 66), (80, 71), (66, 72)], True))
    s.line(straight((82, 62.5), (84, 57)), 0.8)
    s.line(straight((80.5, 63), (80, 57.5)), 0.8)
    s.area(ellipse(68, 61, 8, 7.5))
    s.line(
        curve([(60.5, 63), (66, 66), (72, 63), (71, 57), (66, 56), (64.5, 60), (67.5, 62)]), 0.9, taper=0.3
    )
    for x in (6, 11, 16, 30, 53):
        s.area(curve([(x, 73), (x - 1, 64), (x - 4, 58), (x + 0.5, 62), (x + 3, 73)], True))
    return s


def acorns() -> Sketch:
    """Acorns and oak leaves on a twig."""
    s = Sketch(84, 70)

    def oak(x: float, y: float, turn: float, size: float) -> None:
        points = [
            (0, 0),
            (4, -6),
            (8, -5),
            (10, -10),
            (16, -8),
            (19, -11),
            (25, -7),
            (31, -5),
            (35, 0),
            (31, 5),
            (25, 7),
            (19, 11),
            (16, 8),
            (10, 10),
            (8, 5),
            (4, 6),
        ]
        s.area(turned(curve([(x + a * size, y + b * size) for a, b in points], True), turn, (x, y)))
        s.line(turned(curve([(x + 1, y), (x + 15 * size, y + 0.8), (x + 31 * size, y)]), turn, (x, y)), 0.8)
        for a, b in ((9, -5), (17, -6.5), (25, -4.5), (9, 5), (17, 6.5), (25, 4.5)):
            s.line(
                turned(straight((x + (a - 4) * size, y + 0.3), (x + a * size, y + b * size)), turn, (x, y)),
                0.5,
            )

    oak(42, 30, 200, 1.0)
    oak(42, 30, 328, 1.0)
    oak(40, 34, 75, 0.8)
    s.area(curve([(20, 20), (32, 26), (44, 27), (60, 20), (61, 22.5), (45, 31), (30, 30), (19, 23)], True))
    for x, y, turn in ((54, 38, 12), (30, 42, -10)):
        nut = curve(
            [(x - 7, y + 2), (x - 6.5, y + 11), (x, y + 20), (x + 6.5, y + 11), (x + 7, y + 2), (x, y)], True
        )
        s.area(turned(nut, turn, (x, y)))
        s.line(turned(curve([(x - 4, y + 6), (x - 3.6, y + 11), (x - 1.6, y + 15)]), turn, (x, y)), 0.6)
        s.area(
            turned(
                curve(
                    [
                        (x - 8.5, y + 3),
                        (x - 7, y - 4),
                        (x, y - 7),
                        (x + 7, y - 4),
                        (x + 8.5, y + 3),
                        (x, y + 5),
                    ],
                    True,
                ),
                turn,
                (x, y),
            )
        )
        for i in range(5):
            for j in range(2):
                s.line(turned(arc(x - 5 + 2.5 * i, y - 2 + 3 * j, 1.0, 0.8, 20, 160), turn, (x, y)), 0.5)
        s.area(turned(rounded(x - 1.1, y - 11, 2.2, 5, 0.9), turn, (x, y)))
    return s


def jumper() -> Sketch:
    """A knitted jumper with bands of pattern, on a hanger."""
    s = Sketch(90, 78)
    s.line(curve([(45, 12), (45, 8), (49, 6.5), (49.5, 3.5), (46, 2.5), (44, 4.5)]), 1.0, taper=0.1)
    s.area(curve([(36, 15), (45, 11), (54, 15), (53, 18), (45, 15), (37, 18)], True))
    for side in (-1, 1):
        sleeve = s.area(
            curve(
                [
                    (45 + side * 18, 18),
                    (45 + side * 30, 30),
                    (45 + side * 38, 58),
                    (45 + side * 28, 62),
                    (45 + side * 20, 40),
                    (45 + side * 16, 34),
                ],
                True,
            )
        )
        s.area(turned(rounded(45 + side * 33 - 7, 58, 14, 7, 2), side * 16, (45 + side * 33, 61)))
        for k in range(4):
            x = 45 + side * 33 - 4.5 + 3 * k
            s.line(turned(straight((x, 59.5), (x, 63.5)), side * 16, (45 + side * 33, 61)), 0.5)
        s.area(
            curve(
                [(45 + side * 14, 40), (45 + side * 34, 34), (45 + side * 36, 41), (45 + side * 14, 48)], True
            ),
            0.8,
            sleeve,
        )
    body = s.area(
        curve(
            [
                (27, 18),
                (36, 15),
                (45, 20),
                (54, 15),
                (63, 18),
                (64, 36),
                (63, 66),
                (45, 69),
                (27, 66),
                (26, 36),
            ],
            True,
        )
    )
    s.area(polygon([(20, 32), (70, 32), (70, 46), (20, 46)]), 0.8, body)
    for k in range(7):
        s.area(star(30 + 5 * k, 39, 3.6, 1.7, 6), 0.7, body)
    s.area(polygon([(20, 50), (70, 50), (70, 55), (20, 55)]), 0.8, body)
    for k in range(8):
        s.area(polygon([(27 + 4.6 * k, 55), (29.3 + 4.6 * k, 50), (31.6 + 4.6 * k, 55)]), 0.6, body)
    s.area(curve([(26, 64), (45, 67), (64, 64), (64, 72), (45, 75), (26, 72)], True))
    for k in range(11):
        s.line(straight((29 + 3.2 * k, 67.5), (29 + 3.2 * k, 72)), 0.5)
    s.area(curve([(35, 14), (45, 18), (55, 14), (56, 19), (45, 24), (34, 19)], True))
    for k in range(6):
        s.line(
            straight(
                (37.5 + 3 * k, 17.6 + (1.3 if 0 < k < 5 else 0)),
                (37.5 + 3 * k, 20 + (1.3 if 0 < k < 5 else 0)),
            ),
            0.5,
        )
    return s


def jug() -> Sketch:
    """A round tea jug with a cup, steam and a flower painted on."""
    s = Sketch(96, 74)
    s.area(
        curve(
            [
                (60, 26),
                (74, 20),
                (82, 30),
                (76, 46),
                (60, 52),
                (60, 46),
                (71, 41),
                (75, 31),
                (71, 26),
                (61, 32),
            ],
            True,
        )
    )
    s.area(curve([(20, 42), (10, 34), (6, 22), (11, 20), (16, 29), (24, 31), (26, 50)], True))
    body = s.area(
        curve([(22, 30), (40, 21), (58, 30), (64, 44), (56, 60), (40, 64), (24, 60), (16, 44)], True)
    )
    for k in range(6):
        a = math.radians(60 * k)
        s.area(ellipse(40 + 7 * math.cos(a), 45 + 7 * math.sin(a), 5, 3.2, -60 * k), clip=body)
    s.area(ellipse(40, 45, 3.4))
    for base, tip in (((47, 53), (56, 55)), ((33, 53), (24, 55)), ((33, 36), (25, 35))):
        s.area(leaf(base, tip, 4.5), 0.8)
    s.area(curve([(28, 25), (34, 17), (40, 15), (46, 17), (52, 25), (40, 28.5)], True))
    s.area(ellipse(40, 12, 3.4, 3))
    s.area(rounded(26, 62, 28, 5, 2))
    s.area(ellipse(78, 66, 15, 4))
    s.area(ellipse(89, 56, 4.5, 5))
    s.area(ellipse(89, 56, 2.3, 2.8))
    s.area(curve([(68, 50), (78, 48.5), (88, 50), (86, 62), (80, 66), (75, 66), (69.5, 62)], True))
    s.area(ellipse(78, 50.5, 9.7, 2.8))
    s.area(ellipse(78, 51.2, 7.5, 1.7), 0.6)
    for x in (74, 79, 84):
        s.line(curve([(x, 45), (x - 2, 41), (x + 1.5, 37), (x - 1, 33)]), 0.7, taper=0.9)
    s.area(scalloped(8, 62, 6, 5, 7, 0.25))
    s.area(ellipse(8, 62, 2))
    return s


TUNING = {scene.__name__: scene for scene in (hedgehog, lantern, jar, pumpkin, mushroom, acorns, jumper, jug)}
