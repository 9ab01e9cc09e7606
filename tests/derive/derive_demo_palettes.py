"""Make the demo palettes in palettes/: invented markers, papers, ribbons and inks with believable colours.

Nothing here is measured. Each colour starts as a wish (lightness, chroma, hue), and is then made the way
real ones come about: dyes, each with an absorption band of its own, on a paper whose spectrum is stated,
through single-constant Kubelka-Munk (Kubelka and Munk 1931) with a small reflection at the surface. What a
mixture of these dyes can't reach, the palette does not hold. Shapes of the dyes' bands are invented, in the
range of what dye solutions show; no dye of any maker is meant.

A family is one mixture of dyes at several strengths: the lightest member's mixture, thinned least in the
darkest. Darker members also take a little grey and a little of a neighbouring dye, as makers are said to do to
keep them from turning garish (common practice, no source), each by a share of its own. Each strength is the one
that reaches the wished lightness, where the dyes can. Greys are mixed one by one.

Run: python tests/derive/derive_demo_palettes.py [--into FOLDER]
"""

import argparse
import csv
import io
import zlib
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq, least_squares

from blendkit.colour import is_in_srgb, lab_to_hex, lch_to_lab
from blendkit.spectrum import WAVELENGTHS_NM, reflectance_to_lab

Floats = NDArray[np.float64]

NM = np.asarray(WAVELENGTHS_NM, dtype=np.float64)
SURFACE = 0.004
"""Light that a smooth dry sheet reflects before any dye meets it, seen at 45/0."""

# Absorption bands of the dyes: (centre nm, width nm toward blue, width nm toward red, height).
DYES = {
    "yellow": [(425, 45, 32, 1.0)],
    "amber": [(455, 60, 34, 1.0)],
    "scarlet": [(500, 48, 34, 1.0), (420, 30, 40, 0.35)],
    "rose": [(535, 45, 30, 1.0), (400, 30, 30, 0.12)],
    "violet": [(570, 48, 38, 1.0), (390, 25, 30, 0.10)],
    "blue": [(610, 60, 45, 1.0), (385, 20, 25, 0.15)],
    "cyan": [(650, 62, 50, 1.0), (390, 20, 40, 0.18)],
    "black": [(450, 90, 90, 0.95), (570, 90, 90, 1.0), (680, 80, 90, 1.0)],
}
COATS = {2: 1.86, 3: 2.60}
"""What two and three coats hold, in coats: a wet second coat also pushes some dye deeper into the sheet."""

BANDS_NM = tuple(range(400, 701, 20))
HEADER = (
    "name", "kind", "hex", "L", "a", "b", "light", "observer", "on", "coats", "family", "finish", "pattern",
    "share", "coat_limit", "uncertainty", "setup", "note", *map(str, BANDS_NM),
)  # fmt: skip


def absorption(bands: list[tuple[float, float, float, float]]) -> Floats:
    """Give a dye's absorption over the bands: a sum of bells, each with two widths."""
    total = np.full(NM.shape, 0.004)
    for centre, blue_width, red_width, height in bands:
        width = np.where(centre > NM, blue_width, red_width)
        total += height * np.exp(-0.5 * ((NM - centre) / width) ** 2)
    return total


BLACK = list(DYES).index("black")
MOST_GREY, MOST_NEIGHBOUR, STRONGEST = 0.025, 0.12, 60.0
"""Shares of grey and of the neighbouring dye that a darker member gets at most, and the strongest in terms of the
lightest. Own judgement: invented like the dyes."""
GREY_CHROMA = 5.0
"""Chroma up to which a family is a row of greys, each mixed to its own wish rather than made stronger."""
DYE_TABLE = np.array([absorption(bands) for bands in DYES.values()])
# Bleached pulp: a little yellow left, and a filler that starts to absorb at the violet end.
WHITE = 0.925 - 0.16 / (1.0 + np.exp((NM - 395.0) / 7.0)) - 0.018 * np.exp(-0.5 * ((NM - 450) / 60) ** 2)


def ks_from_reflectance(reflectance: Floats) -> Floats:
    """Kubelka-Munk: absorption over scattering of a thick sheet."""
    return (1.0 - reflectance) ** 2 / (2.0 * reflectance)


def reflectance_from_ks(ks: Floats) -> Floats:
    """Kubelka-Munk: the reflectance of a thick sheet."""
    return 1.0 + ks - np.sqrt(ks**2 + 2.0 * ks)


def coloured(base: Floats, amounts: Floats) -> Floats:
    """Give the reflectance of a sheet that holds *amounts* of the dyes."""
    inside = reflectance_from_ks(ks_from_reflectance(base) + amounts @ DYE_TABLE)
    return SURFACE + (1.0 - SURFACE) * inside


def amounts_for(base: Floats, lab: Floats) -> Floats:
    """Give the amounts of dye that come nearest to *lab* on *base*, the fewest that do."""

    def miss(roots: Floats) -> Floats:
        amounts = roots**2
        got = reflectance_to_lab(coloured(base, amounts))
        return np.concatenate([got - lab, 0.15 * np.sqrt(amounts + 1e-9)])

    return np.asarray(least_squares(miss, np.full(len(DYES), 0.3), xtol=1e-9, ftol=1e-9).x ** 2)


def strengthened(name: str, amounts: Floats, lightness: float) -> Floats:
    """Give the amounts of a family's darker member: its mixture stronger, with a little grey and a neighbour."""
    grey, neighbour = np.random.default_rng(zlib.crc32(name.encode())).uniform(0.0, 1.0, 2)
    mixture = amounts.copy()
    main = int(np.argmax(amounts[:BLACK]))
    mixture[BLACK] += MOST_GREY * grey * amounts.sum()
    beside = min(main + 1, BLACK - 1) if main < BLACK - 1 else main - 1
    mixture[beside] += MOST_NEIGHBOUR * neighbour * amounts[:BLACK].sum()

    def too_light(strength: float) -> float:
        return float(reflectance_to_lab(coloured(WHITE, strength * mixture))[0]) - lightness

    strength = brentq(too_light, 1.0, STRONGEST) if too_light(STRONGEST) < 0.0 else STRONGEST
    return strength * mixture


# ---------------------------------------------------------------- what is in the drawers

DAY = ("dawn", "noon", "dusk", "night")
# family: (hue in degrees, chroma of the lightest, lightness of each member)
HEDGEHOG_LANE = {
    "rosehip": (27, 56, (58, 44, 31)),
    "apple skin": (36, 58, (61, 46)),
    "pumpkin": (58, 64, (70, 56, 42)),
    "lantern glow": (74, 60, (83, 69, 55)),
    "candle flame": (90, 58, (91, 77)),
    "straw bale": (84, 36, (88, 74)),
    "quince": (100, 50, (89, 74)),
    "pear": (111, 42, (86, 71)),
    "moss stone": (117, 32, (67, 52, 37)),
    "hedge leaf": (131, 40, (76, 60, 44)),
    "fern": (143, 38, (68, 53)),
    "pine row": (161, 28, (52, 36)),
    "mint tin": (171, 22, (85, 71)),
    "duck pond": (196, 27, (71, 56, 41)),
    "rain barrel": (226, 24, (72, 57, 42)),
    "frost window": (243, 11, (89, 76)),
    "morning sky": (256, 23, (79, 65, 51)),
    "blue jug": (271, 38, (57, 43, 30)),
    "night lane": (284, 34, (41, 27)),
    "violet ribbon": (304, 36, (57, 43)),
    "heather": (312, 25, (72, 58)),
    "plum cart": (327, 27, (51, 37, 26)),
    "mallow": (342, 38, (69, 55, 41)),
    "dahlia": (6, 52, (60, 46, 33)),
    "rose bowl": (13, 28, (79, 65)),
    "shell path": (32, 17, (87, 74)),
    "orchard bloom": (52, 26, (84, 70)),
    "hedgehog quill": (70, 25, (60, 45, 31)),
    "hazel twig": (62, 30, (67, 53, 39)),
    "acorn cup": (73, 36, (58, 44)),
    "oven crust": (78, 24, (80, 66)),
    "clay pot": (48, 38, (58, 44)),
    "oak cask": (57, 27, (42, 28)),
    "warm ash": (75, 4.5, (84, 70, 56, 42)),
    "cool pewter": (252, 5.0, (84, 70, 56, 42)),
    "plain pebble": (100, 0.8, (88, 74, 60, 46, 32)),
    "lichen": (138, 8, (77, 62)),
}
LANE_SINGLES = {
    "cloud edge": (265, 6, 92),
    "dew web": (165, 9, 91),
    "petal drift": (8, 12, 89),
    "primrose bank": (99, 22, 93),
    "milk churn": (82, 9, 93),
    "sugared violet": (308, 12, 86),
    "red kite": (40, 72, 54),
    "marigold crown": (76, 82, 75),
    "glow worm": (116, 72, 85),
    "clover field": (146, 52, 55),
    "kingfisher": (232, 42, 58),
    "iris gate": (298, 46, 42),
    "tulip row": (356, 62, 50),
    "bramble": (345, 26, 30),
    "coal cellar": (270, 2, 18),
}
# Skin from very light to very dark, each with a shadow and a deeper one; numbers, no food names.
KIN = {
    "kin one": (88, 7, 13),
    "kin two": (80, 8.5, 16),
    "kin three": (72, 10.5, 18),
    "kin four": (65, 12, 20.5),
    "kin five": (57, 15, 24),
    "kin six": (49, 15, 21),
    "kin seven": (41, 14, 17),
    "kin eight": (37, 11, 13),
}
LANE_WHITE = "Snow Gate smooth"
LANE_PAPERS = {
    # name: (L, a, b, coat limit, finish, note)
    LANE_WHITE: (96.0, -0.2, 1.6, 5, "matt", "white card under all swatches of this file"),
    "Porcelain coated": (95.5, 0.2, 0.6, 3, "gloss", "coated white: ink stays wet longer"),
    "Milk Lane soft": (95.2, -0.1, 3.0, 4, "matt", "uncoated white"),
    "Chalk Yard rough": (94.2, 0.1, 4.0, 6, "matt", "heavy white with a tooth"),
    "Cream Jug": (92.6, 0.6, 9.0, 4, "matt", "cream"),
    "Oat Sack": (88.5, 1.8, 11.5, 4, "matt", "cream with flecks"),
    "Churn cream": (90.8, 0.4, 14.5, 4, "matt", "deep cream"),
    "Kraft parcel": (63.0, 8.0, 21.5, 3, "matt", "kraft"),
    "Kraft crate": (50.0, 9.5, 19.0, 3, "matt", "dark kraft"),
    "Kraft pale": (74.5, 5.5, 18.5, 3, "matt", "light kraft"),
    "Midnight card": (21.0, 0.3, -1.2, 2, "matt", "black"),
    "Drizzle card": (74.0, -0.5, -1.8, 4, "matt", "light grey"),
    "Anvil card": (42.0, 0.2, -1.0, 3, "matt", "dark grey"),
    "Rosehip card": (46.0, 44.0, 22.0, 3, "matt", ""),
    "Pumpkin card": (62.0, 34.0, 50.0, 3, "matt", ""),
    "Lantern card": (78.0, 14.0, 52.0, 3, "matt", ""),
    "Straw card": (86.5, 2.0, 30.0, 4, "matt", ""),
    "Pear card": (83.0, -12.0, 36.0, 4, "matt", ""),
    "Moss card": (56.0, -13.0, 25.0, 3, "matt", ""),
    "Hedge leaf card": (64.0, -23.0, 27.0, 3, "matt", ""),
    "Pine card": (36.0, -20.0, 7.0, 3, "matt", ""),
    "Mint tin card": (84.0, -18.0, 3.0, 4, "matt", ""),
    "Duck pond card": (58.0, -22.0, -7.0, 3, "matt", ""),
    "Morning sky card": (77.0, -5.5, -19.0, 4, "matt", ""),
    "Blue jug card": (44.0, 1.0, -32.0, 3, "matt", ""),
    "Night lane card": (28.0, 6.0, -24.0, 2, "matt", ""),
    "Heather card": (66.0, 15.0, -16.0, 4, "matt", ""),
    "Plum card": (36.0, 20.0, -11.0, 3, "matt", ""),
    "Mallow card": (62.0, 34.0, -10.0, 3, "matt", ""),
    "Rose bowl card": (77.0, 24.0, 6.0, 4, "matt", ""),
    "Shell card": (87.0, 11.0, 9.0, 4, "matt", ""),
    "Clay card": (54.0, 25.0, 27.0, 3, "matt", ""),
    "Bark card": (36.0, 9.0, 13.0, 3, "matt", ""),
    "Moon shell pearl": (91.0, 1.0, 2.5, 2, "pearl", "changes with the angle"),
    "Lantern spark glitter": (70.0, 8.0, 44.0, 1, "glitter", "changes with the angle"),
    "Harvest gold foil": (66.0, 6.0, 38.0, 1, "foil", "mirrors what stands before it"),
}
LANE_PATTERNS = {
    "Picnic check rose": [
        ("ground", 0.46, 95, 0.5, 3),
        ("band", 0.38, 77, 24, 6),
        ("crossing", 0.16, 58, 44, 14),
    ],
    "Leaf fall print": [
        ("ground", 0.60, 91, 1, 12),
        ("amber leaf", 0.18, 70, 28, 56),
        ("red leaf", 0.12, 48, 42, 28),
        ("green leaf", 0.10, 52, -14, 26),
    ],
    "Night market stars": [("sky", 0.86, 26, 6, -22), ("star", 0.14, 84, 6, 44)],
    "Garden trellis": [("ground", 0.70, 85, -14, 10), ("lattice", 0.22, 96, 0, 2), ("bud", 0.08, 66, 36, 0)],
}
LANE_RIBBONS = {
    "Oat twine": (80.0, 3.0, 16.0, "matt", "cotton cord"),
    "Jute cord": (60.0, 7.0, 22.0, "matt", ""),
    "Snow lace": (94.0, 0.0, 3.0, "matt", ""),
    "Rosehip satin": (44.0, 48.0, 25.0, "gloss", ""),
    "Pine velvet": (30.0, -17.0, 6.0, "matt", ""),
    "Blue jug grosgrain": (41.0, 2.0, -33.0, "matt", ""),
    "Lantern organza": (80.0, 10.0, 46.0, "pearl", "see-through: its colour is that over white"),
    "Harvest gold ribbon": (64.0, 7.0, 36.0, "foil", ""),
}
LANE_INKS = {
    "Lamp black outline": (19.0, 0.3, 0.2, "for outlines: alcohol does not move it once dry"),
    "Bark brown outline": (31.0, 10.0, 13.0, "for outlines: alcohol does not move it once dry"),
    "Soft grey outline": (62.0, 0.0, -2.0, "for outlines that vanish under the colour"),
    "Night blue greeting": (27.0, 6.0, -28.0, "for greetings"),
    "Pine green greeting": (34.0, -19.0, 8.0, "for greetings"),
    "Plum greeting": (33.0, 22.0, -10.0, "for greetings"),
    "Rosehip greeting": (42.0, 46.0, 24.0, "for greetings"),
    "Cloud white pigment": (93.0, 0.0, 1.5, "opaque: for greetings on dark card"),
}
STALL_DEPTH = ("light", "mid", "deep")
MARKET_STALL = {
    "cherry cart": (22, 54, (56, 42, 29)),
    "copper kettle": (52, 44, (62, 48, 34)),
    "honey jar": (78, 58, (80, 66, 51)),
    "brass bell": (88, 44, (78, 63)),
    "lime crate": (112, 56, (84, 69)),
    "cabbage patch": (126, 34, (80, 65, 50)),
    "bottle glass": (152, 32, (58, 43, 29)),
    "net loft": (186, 24, (74, 60, 45)),
    "tide pool": (212, 28, (64, 50, 36)),
    "corn flower": (268, 32, (70, 56, 42)),
    "ink well": (281, 36, (44, 30)),
    "damson bowl": (318, 30, (50, 36)),
    "lavender sack": (303, 22, (77, 63)),
    "fox glove": (346, 36, (72, 58)),
    "radish bunch": (2, 54, (62, 48)),
    "pink stall": (16, 26, (82, 68)),
    "ginger jar": (66, 34, (68, 54, 40)),
    "walnut shell": (64, 22, (54, 40, 27)),
    "warm cinder": (70, 4, (78, 64, 50, 36)),
    "cool flint": (248, 5, (78, 64, 50, 36)),
}
STALL_KIN = {
    "folk one": (85, 8, 14),
    "folk two": (69, 12, 20),
    "folk three": (53, 13, 20),
    "folk four": (37, 11, 13),
}
FIRST_BOX = ("candle flame dawn", "pumpkin dawn", "pumpkin noon", "rosehip dawn", "rose bowl dawn",
             "hedge leaf dawn", "morning sky dawn", "morning sky dusk", "hazel twig dawn", "kin two",
             "kin five", "cool pewter noon")  # fmt: skip


# ---------------------------------------------------------------- rows


@dataclass
class Made:
    """A thing of a palette: its dyes' sheet as reflectance, and the words of its row."""

    name: str
    reflectance: Floats
    cells: dict[str, str] = field(default_factory=dict)


def family_mixtures(
    families: dict[str, tuple[float, float, tuple[int, ...]]], depths: tuple[str, ...]
) -> list[tuple[str, str, Floats]]:
    """Give (name, family, amounts of the dyes) of each member of each family."""
    mixtures = []
    for family, (hue, chroma, lights) in families.items():
        first = amounts_for(WHITE, lch_to_lab(np.array([lights[0], chroma, hue])))
        words = depths if len(lights) > 2 else (depths[0], depths[2])
        words = (*words, "midnight" if depths is DAY else "deepest")
        for word, lightness in zip(words, lights, strict=False):
            name = f"{family} {word}"
            if lightness == lights[0]:
                amounts = first
            elif chroma <= GREY_CHROMA:
                amounts = amounts_for(WHITE, lch_to_lab(np.array([lightness, chroma, hue])))
            else:
                amounts = strengthened(name, first, lightness)
            mixtures.append((name, family, amounts))
    return mixtures


def kin_mixtures(kin: dict[str, tuple[float, float, float]]) -> list[tuple[str, str, Floats]]:
    """Give (name, family, amounts) of skin tones: each with a shadow and a deeper one."""
    mixtures = []
    for family, lab in kin.items():
        first = amounts_for(WHITE, np.array(lab, dtype=np.float64))
        mixtures.append((family, family, first))
        step = 13.0 if lab[0] > 45 else 10.0
        for word, depth in (("dusk", step), ("night", 2 * step)):
            name = f"{family} {word}"
            mixtures.append((name, family, strengthened(name, first, max(lab[0] - depth, 17.0))))
    return mixtures


def made_markers(mixtures: list[tuple[str, str, Floats]], paper: str) -> list[Made]:
    """Give the markers' rows; some with measured second and third coats."""
    made = []
    for index, (name, family, amounts) in enumerate(mixtures):
        words = {
            "kind": "marker",
            "on": paper,
            "family": family,
            "note": noted("skin" if family in (*KIN, *STALL_KIN) else ""),
        }
        made.append(Made(name, coloured(WHITE, amounts), words))
        if index % 9 == 4:
            for coats in (2, 3) if index % 2 else (2,):
                sheet = coloured(WHITE, amounts * COATS[coats])
                made.append(Made(name, sheet, words | {"coats": str(coats)}))
    return made


def made_sheets() -> list[Made]:
    """Give the rows of papers, patterns, ribbons and inks of the lane."""
    made = []
    for name, (lightness, a, b, limit, finish, note) in LANE_PAPERS.items():
        words = {"kind": "paper", "coat_limit": str(limit), "finish": finish, "note": noted(note)}
        sheet = WHITE if name == LANE_WHITE else dyed(lightness, a, b)
        made.append(Made(name, sheet, words))
    for pattern, parts in LANE_PATTERNS.items():
        for part, share, lightness, a, b in parts:
            words = {"kind": "paper", "pattern": pattern, "share": f"{share:g}", "note": "invented"}
            made.append(Made(f"{pattern}, {part}", dyed(lightness, a, b), words))
    for name, (lightness, a, b, finish, note) in LANE_RIBBONS.items():
        words = {"kind": "ribbon", "finish": finish, "note": noted(note)}
        made.append(Made(name, dyed(lightness, a, b), words))
    for name, (lightness, a, b, note) in LANE_INKS.items():
        words = {"kind": "ink", "note": noted(note)}
        made.append(Made(name, dyed(lightness, a, b), words))
    return made


def dyed(lightness: float, a: float, b: float) -> Floats:
    """Give the sheet nearest to a Lab that the dyes make of brighter pulp."""
    brighter = np.minimum(WHITE + 0.02, 0.96)
    return coloured(brighter, amounts_for(brighter, np.array([lightness, a, b])))


def noted(note: str) -> str:
    """Say of every row that it is invented."""
    return f"invented; {note}" if note else "invented"


def with_colour(made: Made, index: int) -> dict[str, str]:
    """Give the cells of a row, its colour told in one of the ways that a palette file knows."""
    lab = reflectance_to_lab(made.reflectance)
    cells = {"name": made.name, **made.cells}
    is_marker = made.cells["kind"] == "marker"
    if is_marker and index % 17 == 6:
        at = np.interp(BANDS_NM, NM, made.reflectance)
        cells |= {str(nm): f"{value:.4f}" for nm, value in zip(BANDS_NM, at, strict=True)}
        cells |= {"uncertainty": "0.4", "setup": "as a 45/0 spectrometer would give"}
    elif index % 11 == 3 and bool(is_in_srgb(lab)) and "coats" not in cells and made.name != LANE_WHITE:
        cells |= {"hex": lab_to_hex(lab), "uncertainty": "3", "setup": "as picked from a photo"}
    else:
        if is_marker and index % 13 == 9:
            lab = reflectance_to_lab(made.reflectance, "D65", 10)
            cells |= {"light": "D65", "observer": "10", "setup": "as a pocket colorimeter would give"}
            cells["uncertainty"] = "1"
        else:
            cells |= {"light": "D50", "observer": "2", "setup": "as a 45/0 spectrometer would give"}
            cells["uncertainty"] = "0.4"
        cells |= {
            letter: f"{round(float(value), 2) + 0.0:.2f}" for letter, value in zip("Lab", lab, strict=True)
        }
    return cells


def table(rows: list[dict[str, str]]) -> str:
    """Give the CSV text; columns that no row fills are left out."""
    header = [text for text in HEADER if any(row.get(text) for row in rows)]
    stream = io.StringIO(newline="")
    writer = csv.DictWriter(stream, header, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return stream.getvalue()


LANE_BLENDER = {
    "name": "Morning mist",
    "kind": "blender",
    "note": "invented; colourless, solvent without dye",
}


def hedgehog_lane() -> list[dict[str, str]]:
    """Give the rows of the full drawer."""
    singles = [
        (name, name, amounts_for(WHITE, lch_to_lab(np.array([lightness, chroma, hue]))))
        for name, (hue, chroma, lightness) in LANE_SINGLES.items()
    ]
    mixtures = [*family_mixtures(HEDGEHOG_LANE, DAY), *singles, *kin_mixtures(KIN)]
    rows = [*made_sheets(), *made_markers(mixtures, LANE_WHITE)]
    return [*(with_colour(made, at) for at, made in enumerate(rows)), LANE_BLENDER]


def market_stall() -> list[dict[str, str]]:
    """Give the rows of the stall: markers for sale, each as one coat in Lab or hex."""
    white = "Awning white"
    words = {"kind": "paper", "note": noted("white card under all swatches of this file")}
    mixtures = [*family_mixtures(MARKET_STALL, STALL_DEPTH), *kin_mixtures(STALL_KIN)]
    markers = [made for made in made_markers(mixtures, white) if "coats" not in made.cells]
    return [with_colour(made, 11 * at) for at, made in enumerate([Made(white, WHITE, words), *markers])]


def first_box(lane: list[dict[str, str]]) -> list[dict[str, str]]:
    """Give the rows of a first box: a few of the lane's."""
    others = ("Kraft parcel", "Cream Jug", "Rosehip card", "Night lane card", "Lamp black outline")
    kept = {*FIRST_BOX, *others, LANE_WHITE}
    return [row for row in lane if row["name"] in kept and not row.get("coats")]


def main() -> None:
    """Write the demo palettes."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--into", type=Path, default=Path(__file__).parents[2] / "palettes")
    folder = parser.parse_args().into
    folder.mkdir(exist_ok=True)
    lane = hedgehog_lane()
    for name, rows in (
        ("hedgehog-lane.csv", lane),
        ("market-stall.csv", market_stall()),
        ("first-box.csv", first_box(lane)),
    ):
        (folder / name).write_text(table(rows), encoding="utf-8", newline="")
        print(f"{folder / name}: {len(rows)} rows")


if __name__ == "__main__":
    main()
