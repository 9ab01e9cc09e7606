"""What a drawer holds, as frozen records: markers, papers, ribbons, stamp inks and their colours.

Interior colours are CIELAB, D50 / 2 degree. What was typed or measured is kept beside each.
"""

import unicodedata
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

FINISHES = ("matt", "gloss", "pearl", "glitter", "foil")
ROUGH_FINISHES = ("pearl", "glitter", "foil")
"""Finishes whose look changes with the angle, so that one Lab can't tell their colour."""

PATTERN_SHARE = 0.1
"""Share of a patterned sheet from which one of its colours counts by itself. Own limit."""

COAT_LIMIT = 4
"""Coats that a card stock takes when its row doesn't say. Common practice, no source."""

MAX_COATS = 4
"""Most coats that a row may state, and that the ink model predicts."""


def name_key(name: str) -> str:
    """Give the form in which names are compared: case, spacing and accents' encoding don't matter.

    A hyphen or an underscore stands for a space, so that a name needs no quotes in a shell.
    """
    text = unicodedata.normalize("NFKC", name).casefold().replace("-", " ").replace("_", " ")
    return " ".join(text.split())


@dataclass(frozen=True, eq=False)
class Reading:
    """One colour, as blendkit computes with it and as it was given.

    Args:
        lab: CIELAB, D50 / 2 degree, shape (3,), read-only.
        reflectance: measured reflectance, 0 to 1, over ``spectrum.WAVELENGTHS_NM``, shape (36,), or None
            when only a hex or Lab was given (estimate it with ``spectrum.reflectance_from_lab``).
        typed: what was given: ``#rrggbb``; ``L, a, b`` under *light* and *observer*; or ``spectrum …``.
        light: light of the given Lab; for hex D65, which is sRGB's.
        observer: 2 or 10, of the given Lab.
        uncertainty: CIEDE2000 within which the reading is trusted, or None when not known.
        setup: how it was measured, in the owner's words.
        measured: when it was measured, in the owner's words.
    """

    lab: NDArray[np.float64]
    reflectance: NDArray[np.float64] | None = None
    typed: str = ""
    light: str = "D50"
    observer: int = 2
    uncertainty: float | None = None
    setup: str = ""
    measured: str = ""

    def _facts(self) -> tuple[object, ...]:
        spectrum = None if self.reflectance is None else tuple(self.reflectance.tolist())
        where = (self.light, self.observer, self.uncertainty, self.setup, self.measured)
        return (tuple(self.lab.tolist()), spectrum, self.typed, *where)

    def __eq__(self, other: object) -> bool:
        """Tell whether every field is the same."""
        return isinstance(other, Reading) and self._facts() == other._facts()

    def __hash__(self) -> int:
        return hash(self._facts())


class _Finished:
    """What has a finish."""

    finish: str

    @property
    def rough(self) -> bool:
        """Whether one Lab can't tell the colour, so that verdicts on it are rough."""
        return self.finish in ROUGH_FINISHES


@dataclass(frozen=True)
class Marker(_Finished):
    """An alcohol marker, with what was measured of it.

    Args:
        name: its name in the drawer.
        readings: (coats, reading) pairs, fewest coats first; one coat is always there.
        on: name of the paper under the swatches, "" when it isn't stated.
        family: the light / dark family that it belongs to, or "".
        finish: one of :data:`FINISHES`.
        note: the owner's words.
        out: whether it isn't at hand: empty, lent, ordered.
        price: what one costs, in the owner's currency, or None.
        lift: share of one dry coat's ink that one pass of a colourless blender takes away, 0 to 1, as measured
            on its paper; None when that isn't known.
    """

    name: str
    readings: tuple[tuple[int, Reading], ...]
    on: str = ""
    family: str = ""
    finish: str = "matt"
    note: str = ""
    out: bool = False
    price: float | None = None
    lift: float | None = None

    kind = "marker"

    @property
    def lab(self) -> NDArray[np.float64]:
        """Lab (D50 / 2 degree) of one coat on its paper, shape (3,)."""
        return self.readings[0][1].lab

    def reading(self, coats: int = 1) -> Reading | None:
        """Give what was measured with *coats* coats, or None when that wasn't."""
        return dict(self.readings).get(coats)


@dataclass(frozen=True)
class PatternShare:
    """One colour of a patterned sheet, with its share of the area, 0 to 1."""

    name: str
    reading: Reading
    share: float

    @property
    def lab(self) -> NDArray[np.float64]:
        """Lab (D50 / 2 degree), shape (3,)."""
        return self.reading.lab


@dataclass(frozen=True)
class Paper(_Finished):
    """A card stock or a ribbon.

    Args:
        name: its name; of a patterned sheet, the name of the pattern.
        kind: "paper" or "ribbon".
        reading: its colour; of a patterned sheet the mean over its area, as seen from afar.
        finish: one of :data:`FINISHES`.
        coat_limit: coats that it takes before it pills or bleeds through.
        family: a group of the owner's own, or "".
        pattern: its colours with shares that sum to 1, largest first; empty for a plain one.
        note: the owner's words.
        out: whether it isn't at hand.
        price: what a sheet, or a ribbon, costs, or None.
    """

    name: str
    kind: Literal["paper", "ribbon"]
    reading: Reading
    finish: str = "matt"
    coat_limit: int = COAT_LIMIT
    family: str = ""
    pattern: tuple[PatternShare, ...] = ()
    note: str = ""
    out: bool = False
    price: float | None = None

    @property
    def lab(self) -> NDArray[np.float64]:
        """Lab (D50 / 2 degree), shape (3,)."""
        return self.reading.lab

    @property
    def main_colours(self) -> tuple[PatternShare, ...]:
        """Colours of a pattern that cover a tenth of the sheet or more, largest first; none of a plain one."""
        return tuple(part for part in self.pattern if part.share >= PATTERN_SHARE)


@dataclass(frozen=True)
class StampInk(_Finished):
    """An ink pad for stamping outlines and greetings; *out* and *price* as for a marker."""

    name: str
    reading: Reading
    finish: str = "matt"
    family: str = ""
    note: str = ""
    out: bool = False
    price: float | None = None

    kind = "ink"

    @property
    def lab(self) -> NDArray[np.float64]:
        """Lab (D50 / 2 degree), shape (3,)."""
        return self.reading.lab


@dataclass(frozen=True)
class Blender:
    """A colourless blender: solvent without dye, so without a colour; *out* and *price* as for a marker."""

    name: str
    note: str = ""
    out: bool = False
    price: float | None = None

    kind = "blender"


KIND_WORDS = {"marker": "a marker", "paper": "a paper", "ribbon": "a ribbon", "ink": "a stamp ink"}

Item = Marker | Paper | StampInk
"""What has a colour."""


def nearest_names(name: str, names: list[str], count: int = 5) -> list[str]:
    """Give the names most like *name*, best first; a name that holds the typed text counts as like it."""
    import difflib  # only a misspelt name needs it

    by_key = {name_key(text): text for text in names}
    key = name_key(name)
    near = difflib.get_close_matches(key, by_key, n=count, cutoff=0.5)
    near += [text for text in by_key if key and key in text and text not in near]
    if not near:
        near = difflib.get_close_matches(key, by_key, n=count, cutoff=0.0)
    return [by_key[text] for text in near[:count]]
