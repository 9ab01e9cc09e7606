"""The drawer: everything in one palette file, asked by name, and changed as its sheet is changed, read again.

So an edit is checked like a file.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import Any, Literal

from blendkit.errors import PaletteError, Problem
from blendkit.palette import edits
from blendkit.palette.records import (
    COAT_LIMIT,
    KIND_WORDS,
    Blender,
    Item,
    Marker,
    Paper,
    Reading,
    StampInk,
    name_key,
    nearest_names,
)
from blendkit.palette.rows import things_of
from blendkit.palette.table import Sheet


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
    retired: tuple[edits.Retired, ...] = field(default=(), repr=False, compare=False)
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
        gone = {name_key(self._thing(name).name) for name in without}

        def here(items: Sequence[Any]) -> tuple[Any, ...]:
            return tuple(item for item in items if not item.out and name_key(item.name) not in gone)

        kept = replace(
            self,
            markers=here(self.markers),
            papers=here(self.papers),
            ribbons=here(self.ribbons),
            inks=here(self.inks),
            blenders=here(self.blenders),
        )
        if len(kept.items) + len(kept.blenders) == len(self.items) + len(self.blenders):
            return self
        names = {item.name for item in kept.items}
        away = tuple(item for item in self.items if item.name not in names)
        return replace(kept, away=(*self.away, *away))

    def find(self, name: str) -> Item:
        """Give the thing called *name*; case and spacing don't matter.

        The name of one colour of a pattern gives the whole sheet.

        Raises: PaletteError with the nearest names when there is none.
        """
        return self._find(name, tuple(KIND_WORDS), "entry")

    def get(self, name: str) -> Item | None:
        """Give the thing called *name* as :meth:`find` does, or None when there is none."""
        return self._by_key.get(name_key(name))

    def blender(self, name: str) -> Blender | None:
        """Give the colourless blender called *name*, or None."""
        return next((one for one in self.blenders if name_key(one.name) == name_key(name)), None)

    def _thing(self, name: str) -> Item | Blender:
        """Find anything, a blender too."""
        return self.blender(name) or self.find(name)

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
        blender = self.blender(name)
        if blender is not None:
            words = f"{blender.name} is a colourless blender: it has no colour of its own."
            raise PaletteError(words, [Problem(file, "kind blender", "the name of something that has one")])
        if self.get_away(name) is not None:
            raise PaletteError(
                f"{name} isn't at hand.", [Problem(file, "marked as out, or left out", "another one")]
            )
        near = nearest_names(name, among)
        accepted = ("one of: " + "; ".join(near)) if near else "a name of the palette (there is none yet)"
        shown = repr(name) if found is None else f"{found.name!r}, which is {KIND_WORDS[found.kind]}"
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
        cells = {"coats": str(coats) if coats != 1 else "", "on": on, "family": family}
        return self._read_again(
            edits.with_row(self.sheet, "marker", name, reading, {**cells, "finish": finish, "note": note})
        )

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
        limit = str(coat_limit) if coat_limit != COAT_LIMIT else ""
        cells = {"finish": finish, "coat_limit": limit, "family": family, "note": note}
        return self._read_again(edits.with_row(self.sheet, kind, name, reading, cells))

    def with_ink(
        self, name: str, reading: Reading, *, finish: str = "matt", family: str = "", note: str = ""
    ) -> "Palette":
        """Give the palette with one more stamp ink, at the end.

        Raises: PaletteError when the name is taken or the row would not be accepted.
        """
        cells = {"finish": finish, "family": family, "note": note}
        return self._read_again(edits.with_row(self.sheet, "ink", name, reading, cells))

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
        return self._read_again(*edits.with_reading(self.sheet, self.find(name), coats, reading, on))

    def with_lift(self, name: str, lift: float) -> "Palette":
        """Give the palette with what a blender lifts of a marker's coat; a row with another goes to the history.

        Args:
            name: a marker.
            lift: share of one dry coat that one pass takes away, 0 to 1; kept to the hundredth.

        Raises: PaletteError for an unknown name, or a share out of range.
        """
        return self._read_again(*edits.with_lift(self.sheet, self.marker(name), lift))

    def with_details(self, name: str, **details: str) -> "Palette":
        """Give the palette with other words in a thing's rows: family, finish, note, coat_limit,
        on, out or price.

        Raises: PaletteError for an unknown name or detail, or a row that would not be accepted.
        """
        return self._read_again(edits.with_details(self.sheet, self._thing(name), details))

    def renamed(self, name: str, new_name: str) -> "Palette":
        """Give the palette with one thing renamed, and every ``on`` that names it.

        Raises: PaletteError for an unknown name, or a new name that is taken.
        """
        return self._read_again(edits.renamed(self.sheet, self._thing(name), new_name))

    def without(self, name: str) -> "Palette":
        """Give the palette without one thing: all its rows go, to the history.

        Raises: PaletteError for an unknown name, or a paper that swatches are said to lie on.
        """
        return self._read_again(*edits.without(self.sheet, self._thing(name)))

    def _read_again(self, sheet: Sheet, retired: tuple[edits.Retired, ...] = ()) -> "Palette":
        return replace(palette_from_sheet(sheet, self.path), retired=(*self.retired, *retired))


Change = Callable[[Palette], Palette]


def palette_from_sheet(sheet: Sheet, path: Path | None = None) -> Palette:
    """Read the rows of a sheet as a palette.

    Args:
        sheet: the table.
        path: the file it came from, for messages and the record.

    Returns: the palette, in the order of the rows.
    Raises: PaletteError with every fault of every row.
    """
    things = things_of(sheet, path.name if path else "palette")
    papers = [thing for thing in things if isinstance(thing, Paper)]
    return Palette(
        path,
        tuple(thing for thing in things if isinstance(thing, Marker)),
        tuple(paper for paper in papers if paper.kind == "paper"),
        tuple(paper for paper in papers if paper.kind == "ribbon"),
        tuple(thing for thing in things if isinstance(thing, StampInk)),
        sheet,
        blenders=tuple(thing for thing in things if isinstance(thing, Blender)),
    )
