"""What a drawer holds, as frozen records: markers, papers, ribbons, stamp inks and their colours.

Interior colours are CIELAB, D50 / 2 degree. What was typed or measured is kept beside each.
"""

import unicodedata
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from blendkit.errors import PaletteError, Problem
from blendkit.palette.table import Sheet

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
    """

    name: str
    readings: tuple[tuple[int, Reading], ...]
    on: str = ""
    family: str = ""
    finish: str = "matt"
    note: str = ""
    out: bool = False
    price: float | None = None

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


_KIND_WORDS = {"marker": "a marker", "paper": "a paper", "ribbon": "a ribbon", "ink": "a stamp ink"}

Item = Marker | Paper | StampInk


@dataclass(frozen=True)
class Palette:
    """A drawer: everything in one palette file, in the order of its rows.

    Args:
        path: the file, or None for one not yet written.
        markers: the markers.
        papers: the card stocks, patterned ones included.
        ribbons: the ribbons.
        inks: the stamp inks.
        sheet: the file's own table, by which a rewrite keeps what blendkit doesn't know.
        retired: rows that an edit replaced, for the history file.
        away: what :meth:`at_hand` left out.
        blenders: the colourless blenders; having no colour, they are not among *items*.
    """

    path: Path | None
    markers: tuple[Marker, ...]
    papers: tuple[Paper, ...]
    ribbons: tuple[Paper, ...]
    inks: tuple[StampInk, ...]
    sheet: Sheet = field(repr=False)
    retired: tuple[tuple[tuple[str, str], ...], ...] = field(default=(), repr=False, compare=False)
    away: tuple[Item, ...] = field(default=(), repr=False)
    blenders: tuple[Blender, ...] = ()

    @property
    def items(self) -> tuple[Item, ...]:
        """Everything in the drawer: markers, papers, ribbons, inks."""
        return (*self.markers, *self.papers, *self.ribbons, *self.inks)

    @property
    def names(self) -> tuple[str, ...]:
        """Every name, markers first."""
        return tuple(item.name for item in self.items)

    @cached_property
    def families(self) -> dict[str, tuple[Marker, ...]]:
        """The markers of each family, lightest first; markers without a family are not in it."""
        groups: dict[str, list[Marker]] = {}
        for marker in self.markers:
            if marker.family:
                groups.setdefault(marker.family, []).append(marker)
        return {
            family: tuple(sorted(group, key=lambda marker: -marker.lab[0]))
            for family, group in groups.items()
        }

    @cached_property
    def _by_key(self) -> dict[str, Item]:
        by_key: dict[str, Item] = {name_key(item.name): item for item in self.items}
        for paper in (*self.papers, *self.ribbons):
            for part in paper.pattern:
                by_key.setdefault(name_key(part.name), paper)
        return by_key

    def at_hand(self, without: Iterable[str] = ()) -> "Palette":
        """Give the palette without what is out, and without the things named; these stand in ``away``.

        Such a palette is for asking, not for saving: its sheet still holds every row.

        Raises: PaletteError with the nearest names for a name that is not there.
        """
        gone = {name_key(self.find(name).name) for name in without}

        def here(items: Sequence[Any]) -> tuple[Any, ...]:
            return tuple(item for item in items if not item.out and name_key(item.name) not in gone)

        kept = replace(
            self,
            markers=here(self.markers),
            papers=here(self.papers),
            ribbons=here(self.ribbons),
            inks=here(self.inks),
        )
        if len(kept.items) == len(self.items):
            return self
        names = {item.name for item in kept.items}
        away = tuple(item for item in self.items if item.name not in names)
        return replace(kept, away=(*self.away, *away))

    def find(self, name: str) -> Item:
        """Give the thing called *name*; case and spacing don't matter.

        The name of one colour of a pattern gives the whole sheet.

        Raises: PaletteError with the nearest names when there is none.
        """
        return self._find(name, tuple(_KIND_WORDS), "entry")

    def get(self, name: str) -> Item | None:
        """Give the thing called *name* as :meth:`find` does, or None when there is none."""
        return self._by_key.get(name_key(name))

    def get_away(self, name: str) -> Item | None:
        """Give the thing called *name* among those that aren't at hand, or None."""
        return next((item for item in self.away if name_key(item.name) == name_key(name)), None)

    def marker(self, name: str) -> Marker:
        """Give the marker called *name*.

        Raises: PaletteError with the nearest names when there is none.
        """
        found = self._find(name, ("marker",), "marker")
        assert isinstance(found, Marker)
        return found

    def paper(self, name: str) -> Paper:
        """Give the card stock or ribbon called *name*.

        Raises: PaletteError with the nearest names when there is none.
        """
        found = self._find(name, ("paper", "ribbon"), "paper or ribbon")
        assert isinstance(found, Paper)
        return found

    def _find(self, name: str, kinds: tuple[str, ...], what: str) -> Item:
        found = self.get(name)
        if found is not None and found.kind in kinds:
            return found
        among = [item.name for item in self.items if item.kind in kinds]
        file = self.path.name if self.path else "this palette"
        if self.get_away(name) is not None:
            raise PaletteError(
                f"{name} isn't at hand.", [Problem(file, "marked as out, or left out", "another one")]
            )
        near = nearest_names(name, among)
        accepted = ("one of: " + "; ".join(near)) if near else "a name of the palette (there is none yet)"
        shown = repr(name) if found is None else f"{found.name!r}, which is {_KIND_WORDS[found.kind]}"
        raise PaletteError(f"{file} has no {what} called {name!r}.", [Problem(file, shown, accepted)])

    # Edits: each gives a new palette; nothing is written until store.update_palette does.

    def with_marker(
        self,
        name: str,
        reading: Reading,
        *,
        coats: int = 1,
        on: str = "",
        family: str = "",
        finish: str = "matt",
        note: str = "",
    ) -> "Palette":
        """Give the palette with one more marker, at the end.

        Raises: PaletteError when the name is taken or the row would not be accepted.
        """
        from blendkit.palette.edits import with_row

        cells = {"coats": str(coats) if coats != 1 else "", "on": on, "family": family}
        return with_row(self, "marker", name, reading, {**cells, "finish": finish, "note": note})

    def with_paper(
        self,
        name: str,
        reading: Reading,
        *,
        kind: Literal["paper", "ribbon"] = "paper",
        finish: str = "matt",
        coat_limit: int = COAT_LIMIT,
        family: str = "",
        note: str = "",
    ) -> "Palette":
        """Give the palette with one more plain card stock or ribbon, at the end.

        Raises: PaletteError when the name is taken or the row would not be accepted.
        """
        from blendkit.palette.edits import with_row

        limit = str(coat_limit) if coat_limit != COAT_LIMIT else ""
        cells = {"finish": finish, "coat_limit": limit, "family": family, "note": note}
        return with_row(self, kind, name, reading, cells)

    def with_ink(
        self, name: str, reading: Reading, *, finish: str = "matt", family: str = "", note: str = ""
    ) -> "Palette":
        """Give the palette with one more stamp ink, at the end.

        Raises: PaletteError when the name is taken or the row would not be accepted.
        """
        from blendkit.palette.edits import with_row

        return with_row(self, "ink", name, reading, {"finish": finish, "family": family, "note": note})

    def with_reading(self, name: str, coats: int, reading: Reading, on: str | None = None) -> "Palette":
        """Give the palette with a newer measurement of something that is in it.

        The row that it replaces goes to the history. A marker's readings are all on one paper: when *on*
        names another, its readings on the old paper go to the history too.

        Args:
            name: a marker, plain paper, ribbon or ink.
            coats: the row that is measured anew, or is new; 1 for all but markers.
            reading: the measurement.
            on: the paper under the swatch; None leaves it as it is.

        Raises: PaletteError for an unknown name, a pattern, or a row that would not be accepted.
        """
        from blendkit.palette.edits import with_reading

        return with_reading(self, name, coats, reading, on)

    def with_details(self, name: str, **details: str) -> "Palette":
        """Give the palette with other words in a thing's rows: family, finish, note, coat_limit,
        on, out or price.

        Raises: PaletteError for an unknown name or detail, or a row that would not be accepted.
        """
        from blendkit.palette.edits import with_details

        return with_details(self, name, details)

    def renamed(self, name: str, new_name: str) -> "Palette":
        """Give the palette with one thing renamed, and every ``on`` that names it.

        Raises: PaletteError for an unknown name, or a new name that is taken.
        """
        from blendkit.palette.edits import renamed

        return renamed(self, name, new_name)

    def without(self, name: str) -> "Palette":
        """Give the palette without one thing: all its rows go, to the history.

        Raises: PaletteError for an unknown name, or a paper that swatches are said to lie on.
        """
        from blendkit.palette.edits import without

        return without(self, name)


Change = Callable[[Palette], Palette]


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
