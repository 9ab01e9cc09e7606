"""Drawings made last, after every limit of the part finder was fixed: reported, never tuned on."""

import math

from drawings.shapes import arc, curve, ellipse, leaf, polygon, rounded, scalloped, star, straight, turned
from drawings.sketch import Sketch


def teapot() -> Sketch:
    """A round teapot with a band of diamonds, two cups and a cloth."""
    s = Sketch(90, 74)
    s.area(polygon([(4, 62), (86, 62), (82, 71), (8, 71)]))
    for k in range(7):
        s.area(ellipse(14 + 10.2 * k, 66.5, 2.6, 1.9), 0.7)
    s.area(curve([(20, 30), (9, 26), (6, 36), (12, 46), (24, 48)], True))
    s.area(curve([(20, 33.5), (12, 31), (10, 37), (14, 43), (22, 44.5)], True), 0.9)
    s.area(curve([(55, 44), (66, 38), (69, 25), (75, 23), (77, 27), (72, 31), (68, 46), (56, 54)], True))
    pot = s.area(ellipse(38, 42, 23, 19))
    band = s.area(curve([(10, 38), (38, 42), (66, 38), (66, 49), (38, 53), (10, 49)], True), 0.9, pot)
    for k in range(8):
        x = 15 + 6.6 * k
        s.area(polygon([(x, 42), (x + 2.6, 46), (x, 50.5), (x - 2.6, 46)]), 0.7, band)
    s.area(rounded(27, 60, 22, 4, 1.6))
    s.area(curve([(24, 27), (30, 21), (38, 19.5), (46, 21), (52, 27), (38, 30)], True))
    s.area(ellipse(38, 17, 3.6, 3.2))
    s.area(ellipse(36.8, 16, 1.1, 0.9), 0.5)
    s.area(curve([(63, 50), (65, 61), (72, 64), (79, 61), (81, 50)], True))
    s.area(ellipse(72, 50, 9, 2.6))
    s.area(ellipse(72, 50.4, 6.4, 1.5), 0.7)
    s.area(curve([(80.5, 52), (86, 51), (86, 58), (79.5, 59)], True), 0.9)
    for x in (70, 74):
        s.line(curve([(x, 46), (x - 1.6, 43), (x + 1.2, 40), (x - 0.6, 37)]), 0.6)
    s.line(arc(34, 38, 15, 13, 190, 250), 0.6)
    return s


def kite() -> Sketch:
    """A patched kite over hills, with a tail of bows and two clouds."""
    s = Sketch(78, 92)
    s.area(curve([(-6, 84), (18, 74), (40, 80), (62, 73), (86, 82), (86, 100), (-6, 100)], True))
    s.area(curve([(-6, 90), (24, 84), (50, 89), (84, 84), (84, 102), (-6, 102)], True))
    s.area(scalloped(16, 14, 11, 6, 7, 0.2))
    s.area(scalloped(62, 60, 12, 6.5, 8, 0.18))
    body = s.area(polygon([(40, 5), (62, 28), (42, 60), (22, 30)]))
    s.area(polygon([(40, 5), (62, 28), (41, 29)]), 0.8, body)
    s.area(polygon([(41, 29), (62, 28), (42, 60)]), 0.8, body)
    s.area(polygon([(22, 30), (41, 29), (42, 60)]), 0.8, body)
    for x, y, r in ((47, 21, 3.4), (48, 38, 4.2), (35, 38, 3.6)):
        s.area(star(x, y, r, 0.45 * r, 5, 12), 0.7)
    s.area(ellipse(35, 22, 4.5), 0.8)
    s.area(ellipse(35, 22, 2.2), 0.6)
    s.line(curve([(42, 60), (36, 68), (46, 74), (38, 82), (43, 88)]), 0.7, taper=0.2)
    for x, y, turn in ((38, 66, 20), (43, 74, -25), (40, 81, 15)):
        s.area(turned(polygon([(x, y), (x - 5, y - 2.6), (x - 5, y + 2.6)]), turn, (x, y)), 0.8)
        s.area(turned(polygon([(x, y), (x + 5, y - 2.6), (x + 5, y + 2.6)]), turn, (x, y)), 0.8)
        s.area(ellipse(x, y, 1.2), 0.7)
    for k in range(4):
        s.line(straight((8 + 17 * k, 88), (9.5 + 17 * k, 84.5)), 0.6)
    return s


def snail() -> Sketch:
    """A snail with a ringed shell under a big leaf, among pebbles and mushrooms."""
    s = Sketch(86, 66)
    s.area(leaf((4, 34), (62, 6), 22))
    s.line(straight((5, 33.5), (58, 8)), 0.7)
    for k in range(5):
        x, y = 14 + 9 * k, 29.2 - 4.4 * k
        s.line(straight((x, y), (x + 5, y - 6.5)), 0.5)
    for x, y, w in ((76, 38, 8), (12, 46, 7)):
        s.area(curve([(x - 1.6, y), (x - 2, y + 14), (x + 2.2, y + 14), (x + 1.6, y)], True))
        s.area(
            curve(
                [(x - w, y + 2), (x - 0.7 * w, y - 6), (x, y - 9), (x + 0.7 * w, y - 6), (x + w, y + 2)], True
            )
        )
        for dx, dy, r in ((-3, -3, 1.4), (2.6, -4.4, 1.7), (0.6, -0.4, 1.0)):
            s.area(ellipse(x + dx, y + dy, r), 0.6)
    s.area(
        curve(
            [(18, 58), (30, 50), (54, 51), (60, 40), (62, 31), (69, 31), (71, 40), (66, 54), (56, 59)], True
        )
    )
    s.line(curve([(64, 31), (62, 25), (60, 22)]), 0.8, taper=0.2)
    s.line(curve([(68, 31), (70, 25), (73, 22)]), 0.8, taper=0.2)
    s.area(ellipse(59.6, 21, 1.9), 0.8)
    s.area(ellipse(73.6, 21, 1.9), 0.8)
    s.line(arc(67, 38, 2.6, 2, 20, 130), 0.7)
    s.area(ellipse(66, 43.5, 2.0, 1.5), 0.5)
    for k, r in enumerate((17, 13, 9.2, 5.8, 2.8)):
        s.area(ellipse(38 + 0.9 * k, 40 + 0.6 * k, r, 0.94 * r), 1.0 - 0.08 * k)
    for k in range(9):
        a = math.radians(40 * k + 8)
        s.line(
            straight(
                (38 + 14.4 * math.cos(a), 40 + 13.6 * math.sin(a)),
                (38 + 16 * math.cos(a), 40 + 15 * math.sin(a)),
            ),
            0.5,
        )
    for k in range(7):
        s.area(ellipse(8 + 11.6 * k, 61 + 0.8 * (k % 2), 4.6, 2.6, 6 * (-1) ** k))
    return s


def window() -> Sketch:
    """A window with curtains, panes, a cat and flower pots on the sill."""
    s = Sketch(84, 84)
    s.area(rounded(8, 6, 68, 64, 1))
    s.area(rounded(12, 10, 60, 56, 0.6))
    for column in range(2):
        for row in range(3):
            pane = s.area(rounded(14 + 29.4 * column, 12 + 18 * row, 26.6, 15.6, 0.4), 0.8)
            s.line(
                straight((17 + 29.4 * column, 22 + 18 * row), (23 + 29.4 * column, 15 + 18 * row)), 0.5, pane
            )
    for side in (-1, 1):
        x = 42 + side * 31
        curtain = s.area(
            curve([(x, 4), (x - side * 20, 5), (x - side * 17, 24), (x - side * 4, 42), (x, 66)], True)
        )
        for k in range(3):
            s.area(ellipse(x - side * (4 + 4.4 * k), 14 + 3 * (k % 2), 1.8), 0.6, curtain)
        s.area(turned(rounded(x - side * 4 - 4.5, 40, 9, 3.4, 1.2), side * 20, (x - side * 4, 42)))
    s.area(rounded(4, 2.4, 76, 4, 1.8))
    s.area(rounded(4, 68, 76, 6, 1.2))
    s.area(curve([(34, 68), (33, 54), (38, 46), (46, 46), (51, 54), (50, 68)], True))
    s.area(curve([(50, 66), (56, 66), (59, 58), (62, 59), (60, 69), (50, 70.5)], True))
    s.area(curve([(35, 42), (34.5, 33), (39, 36), (45, 36), (49.5, 33), (49, 42), (46, 47), (38, 47)], True))
    for x in (38.6, 45.4):
        s.area(ellipse(x, 40.6, 1.5, 1.8), 0.7)
        s.black(ellipse(x, 40.9, 0.6, 1.0))
    s.area(polygon([(41, 43.4), (43, 43.4), (42, 44.7)]), 0.6)
    s.area(ellipse(42, 59, 4.2, 5.6), 0.8)
    for x in (20, 66):
        for k in range(5):
            a = math.radians(72 * k - 90)
            s.area(ellipse(x + 3.3 * math.cos(a), 51 + 3.3 * math.sin(a), 2.3), 0.8)
        s.area(ellipse(x, 51, 2.0), 0.8)
        s.line(straight((x, 57), (x, 61)), 1.0, taper=0.1)
        s.area(polygon([(x - 5, 61), (x + 5, 61), (x + 3.6, 69), (x - 3.6, 69)]))
        s.area(rounded(x - 6, 59.4, 12, 2.8, 0.8))
    for k in range(4):
        s.area(rounded(6 + 18.4 * k, 76, 16.4, 5, 0.8), 0.9)
    return s


NEW = {scene.__name__: scene for scene in (teapot, kite, snail, window)}
