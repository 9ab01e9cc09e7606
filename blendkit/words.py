"""The words for numbers: how much two colours differ, lighter or darker by how much, what a colour is called,
how long a thing is; and the cautions.

Every face and every advice takes its words here, so that one number has one word.

Sources:
    Mokrzycki and Tatol 2011, Colour difference ΔE: a survey, Machine Graphics and Vision 20, 383-411 (limits of
    the bands of difference; they give them for the difference of 1976, and we read them on CIEDE2000).
    Munroe 2010, the xkcd colour survey (CC0): names of colours, chosen by tests/derive/derive_colour_names.py.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blendkit.colour import delta_e_2000, hex_to_lab, lab_to_lch

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Verdict:
    """A band of colour difference: up to *below*, what an eye makes of it, and the short word for it."""

    below: float
    word: str
    words: str


VERDICTS = (
    Verdict(1.0, "same", "nobody sees a difference"),
    Verdict(2.0, "very close", "only a practised eye sees a difference"),
    Verdict(3.5, "close", "most people see a difference when they look for it"),
    Verdict(5.0, "near", "related, but everybody sees the difference"),
    Verdict(float("inf"), "different", "two different colours"),
)

MATCH_LIMIT = VERDICTS[-2].below
"""CIEDE2000 from which two colours count as different."""


def verdict_of(delta_e: float) -> Verdict:
    """Give the band that a CIEDE2000 of 0 or more falls in."""
    return next(verdict for verdict in VERDICTS if delta_e < verdict.below)


_STEPS = ((5.0, "barely"), (10.0, "a little"), (20.0, "clearly"), (35.0, "much"), (999.0, "very much"))
"""Words for a step of L*, each up to its limit. Own judgement; below 5 a step within a part is easily missed."""


def lightness_words(step: float) -> str:
    """Say how much lighter (*step* above 0) or darker a colour is, from its step of L*."""
    word = next(word for limit, word in _STEPS if abs(step) < limit)
    return f"{word} {'lighter' if step > 0 else 'darker'}"


LAY_WORDS, STAMP_WORDS, BLENDER_WORDS = "lay one coat", "stamp it", "one pass, no ink"
"""What is done in a step of an order. A step lays one coat; the running total is told apart."""


def so_far_words(coat: int) -> str:
    """Say the running total of a place: coats, a blender's pass counted, that the paper there has had by then."""
    return f"{count_of(coat, 'coat')} there so far" if coat else ""


_LIFTS = (
    (0.1, "hardly lifts it"),
    (0.4, "lifts a little of it"),
    (0.6, "lifts about half of it"),
    (0.85, "lifts most of it"),
    (9.0, "lifts nearly all of it"),
)
"""Words for the share of a coat that a blender takes away, each up to its limit. Own judgement."""


def lift_words(lift: float) -> str:
    """Say what a blender does to a coat of which it takes the share *lift*, 0 to 1."""
    return next(words for limit, words in _LIFTS if lift < limit)


_SCORES = ((85.0, "very good"), (70.0, "good"), (50.0, "so-so"), (25.0, "poor"), (-1.0, "no"))
"""Words for a score of 0 to 100, each from its limit; from 70 it fits. Own judgement."""


def score_word(score: float) -> str:
    """Give the word for a score of 0 to 100."""
    return next(word for limit, word in _SCORES if score >= limit)


LEAN_WORDS = {
    "none": "As usual",
    "cool": "Cooler",
    "warm": "Warmer",
    "muted": "More muted",
    "vivid": "More vivid",
}
"""What each way that a shadow may lean, a key of ``advice.shading_series.LEANS``, is called."""


STEP_WORDS = {
    "open": "opening {}",
    "image": "reading the line image",
    "areas": "finding the closed parts",
    "fronts": "telling front from back",
    "relief": "rounding the parts",
    "shades": "shading",
    "colours": "choosing colours",
    "check": "checking the plan",
    "paint": "colouring the image",
    "pictures": "drawing the pictures",
    "cut": "drawing the line around the figure",
    "sheets": "laying out {}",
    "write": "writing",
    "view": "making a small one for the screen",
    "photo": "looking for its colours",
    "boxes": "finding the marks and reading the boxes",
    "contact": "drawing what was found",
}
"""What each step of long work is called while it is done; {} is what it works on."""


FLAG_WORDS = {
    "empty": "nothing was coloured here, or so pale that it can't be told from the paper",
    "half filled": "part of the box was left bare; only the coloured part was read",
    "out of gamut": "the colour lies at the end of what this picture can hold, and may be stronger than read",
    "over-exposed": "the paper here is too bright in the picture; photograph with less light or exposure",
    "brighter than paper": "a reflection lies here, or the paper about it is not bare; photograph it once more",
    "under-exposed": "too dark in the picture to read; photograph with more light",
    "uneven light": "the edge of a shadow or a reflection lies near; trust this reading less",
    "tinted light": "the paper looks tinted here: coloured light, or paper that isn't white; trust it less",
    "streaky": "the colour varies much within the box",
    "patchy": "part of the box looks unlike the rest: a finger, a shadow, a reflection or a second ink",
    "swapped": "it fits another marker's box better",
    "shifted": "it fits a neighbouring box better",
    "mixed up": "it fits another marker's box better",
    "lighter coat": "more ink is never lighter than less of it",
    "unlike coats": "its coats are of different colours",
    "unlikely": "far from what was expected, farther than the other boxes",
    "repeats differ": "boxes coloured alike read differently",
}
"""What each flag of a chart's box means."""


def flag_words(flags: Sequence[str]) -> str:
    """Say what a box's flags mean; "" when there are none."""
    return "; ".join(FLAG_WORDS[flag] for flag in flags)


def finding_words(
    kind: str, boxes: Sequence[str], amount: float, markers: Sequence[str] = (), instead: Sequence[str] = ()
) -> str:
    """Say what is most unlikely about a chart as read; for the fields see chart.scan_record.Misgiving."""
    some = listed([*boxes[:3], f"{len(boxes) - 3} more"] if len(boxes) > 4 else list(boxes))
    if kind == "swapped":
        return (
            f"{listed(markers)} look swapped: each one's boxes hold the other's colour. If that is so, have them "
            "mended, or colour them anew"
        )
    if kind in ("shifted", "mixed up"):
        moved = [f"{one} holds {other}" for one, other in zip(markers, instead, strict=True)]
        what = "a row looks begun in the wrong box" if kind == "shifted" else "markers look mixed up"
        return f"{what}: {listed([*moved[:3], f'{len(moved) - 3} more'] if len(moved) > 4 else moved)}"
    return {
        "other inks": "the colours are not those that this chart expects: another drawer's inks, another page, or "
        f"the palette's colours were guesses (half of the boxes are off by {amount:.0f} or more)",
        "vivid": f"all colours are about {amount - 1:.0%} stronger than expected: the picture was made vivid. "
        "Turn filters and scene modes off, or send the picture as the camera saved it",
        "washed out": f"all colours are about {1 - amount:.0%} weaker than expected: haze, a reflection over the "
        "page, or a copy of a copy. Photograph the page itself, without a lamp that mirrors in it",
        "lighter coat": f"{some}: the box with more ink is lighter by {amount:.0f} L*. One of them was missed, "
        "swapped, or lies in a shadow or a reflection",
        "unlike coats": f"{some}: coats of one marker, but of different colours ({amount:.0f} CIEDE2000 more "
        "than a coat adds). Look whether both are of that marker",
        "unlikely": f"{some}: up to {amount:.0f} CIEDE2000 from what was expected. Is it the right marker, with "
        "nothing over it?",
        "repeats differ": f"{some}: coloured alike, read {amount:.1f} CIEDE2000 apart; the figures are as wide",
    }[kind]


class Progress(Protocol):
    """What long work tells before each step."""

    def __call__(self, share: float, step: str, what: str = "", /) -> None:
        """Tell the share that is done, 0 to 1, the step, a key of :data:`STEP_WORDS`, and what it works on."""


def step_words(step: str, what: str = "") -> str:
    """Say what a step of long work does."""
    return STEP_WORDS[step].format(what)


def within(progress: Progress | None, low: float, high: float) -> Progress:
    """Give what takes the progress of a part of the work, from one share of the whole to another."""

    def tell(share: float, step: str, what: str = "", /) -> None:
        if progress is not None:
            progress(low + share * (high - low), step, what)

    return tell


def count_of(count: int, one: str, many: str = "") -> str:
    """Give a number with its noun, such as “1 marker” and “3 markers”."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def listed(names: Sequence[str], last: str = "and") -> str:
    """Give names as “a, b and c”."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} {last} {names[-1]}"


@cache
def _named() -> tuple[tuple[str, ...], Floats]:
    """Names of the survey, and their Lab (D50), shape (n, 3)."""
    path = Path(__file__).with_name("data") / "colour_names.csv"
    lines = [line for line in path.read_text("utf-8").splitlines() if not line.startswith("#")][1:]
    names, codes = zip(*(line.split(",") for line in lines), strict=True)
    return names, np.array([hex_to_lab(code) for code in codes])


NEUTRAL_CHROMA = 10.0
"""Chroma below which a marker counts as a neutral: as a shadow over others, on charts, in trays. Own judgement."""

_GREY_CHROMA = 4.0
"""Chroma below which a colour is told as white, grey or black. Own judgement."""
_GREYS = ((14.0, "black"), (30.0, "charcoal"), (50.0, "dark grey"), (68.0, "grey"), (84.0, "light grey"))
_RARE = 8.0
"""CIEDE2000 by which the rarest name has to be nearer than the commonest to be taken. Own judgement."""
_FAR = 10.0
"""CIEDE2000 from the nearest name from which the name is qualified. Own judgement."""


def describe_colour(lab: ArrayLike) -> str:
    """Give a colour the name that people would, for example “dark olive”.

    Args:
        lab: Lab (D50, 2 degree), shape (3,).

    Returns: the nearest of the survey's names, with “lighter”, “darker”, “greyer” or “brighter” before it where
        none is near.
    """
    lab = np.asarray(lab, dtype=np.float64)
    lightness, chroma, _ = (float(value) for value in lab_to_lch(lab))
    if chroma < _GREY_CHROMA:
        if lightness > 93.0:
            return "white"
        return next((word for limit, word in _GREYS if lightness < limit), "pale grey")
    names, labs = _named()
    off = delta_e_2000(lab, labs)
    nearest = int(np.argmin(off + np.linspace(0.0, _RARE, len(names))))
    if off[nearest] < _FAR:
        return names[nearest]
    coloured = np.hypot(labs[:, 1], labs[:, 2]) > _FAR
    plain = [place for place, name in enumerate(names) if " " not in name and coloured[place]]
    nearest = plain[int(np.argmin(off[plain]))]
    step = lightness - labs[nearest, 0]
    rise = chroma - float(np.hypot(*labs[nearest, 1:]))
    if abs(step) >= abs(rise):
        return f"a {'lighter' if step > 0 else 'darker'} {names[nearest]}"
    return f"a {'brighter' if rise > 0 else 'greyer'} {names[nearest]}"


SAFETY_LINE = (
    "Alcohol inks and their vapour are flammable: work in fresh air, away from flame and heat. Keep them from "
    "children, food, eyes and skin; cap them when idle. Let ink dry before you cut or glue. Dyes fade in light. "
    "Local rules and the maker's safety sheet come first."
)
"""Of every report, sheet and page, and of the help. Source: common practice."""

MM_PER_INCH = 25.4
"""Exact, by the international yard and pound agreement of 1959."""


def inches_words(length_mm: float) -> str:
    """Give a length in inches to the nearest sixteenth, such as "5 1/2 in", "11/16 in" or "under 1/16 in"."""
    sixteenths = round(length_mm / MM_PER_INCH * 16)
    if not sixteenths and length_mm > 0:
        return "under 1/16 in"
    whole, rest = divmod(sixteenths, 16)
    if not rest:
        return f"{whole} in"
    below = 16
    while rest % 2 == 0:
        rest, below = rest // 2, below // 2
    return f"{whole} {rest}/{below} in" if whole else f"{rest}/{below} in"


def size_words(width_mm: float | None, height_mm: float | None = None, units: str = "mm") -> str:
    """Give a size in words.

    Args:
        width_mm, height_mm: the lengths; one of them, or both, may be missing.
        units: "mm" or "inch".

    Returns: such as "140 × 105 mm" or "5 1/2 × 4 1/8 in"; of one length without the ×; "" of none.
    """
    lengths = [length for length in (width_mm, height_mm) if length is not None]
    if not lengths:
        return ""
    if units == "inch":
        return " × ".join(inches_words(length).removesuffix(" in") for length in lengths) + " in"
    return " × ".join(f"{length:.1f}".removesuffix(".0") for length in lengths) + " mm"
