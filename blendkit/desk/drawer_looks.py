"""Things of the drawer as swatches, and what every page has to know of the palette."""

import hashlib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendkit.colour import lab_to_display
from blendkit.desk.calls import Given
from blendkit.desk.looks import hexes_of, shown
from blendkit.desk.session import Desk
from blendkit.inked import choose_paper
from blendkit.palette import Item, Marker, Palette, Paper
from blendkit.words import describe_colour


def fingerprint(item: Item) -> str:
    """Give a short text that changes with anything about a thing, so that a change made elsewhere shows."""
    facts: list[object] = [item.kind, item.name, item.finish, item.family, item.note]
    if isinstance(item, Marker):
        facts += [item.on, [(coats, reading._facts()) for coats, reading in item.readings]]
    else:
        facts.append(item.reading._facts())
    if isinstance(item, Paper):
        facts += [item.coat_limit, [(part.name, part.share, part.lab.tolist()) for part in item.pattern]]
    return hashlib.sha256(repr(facts).encode()).hexdigest()[:16]


@dataclass(frozen=True)
class CoatLook:
    """The colour of a number of coats on the paper, and whether it was measured."""

    coats: int
    hex: str
    measured: bool


@dataclass(frozen=True)
class ItemLook:
    """A marker, paper, ribbon or ink as a swatch.

    Args:
        name, kind, family, finish, note: as in the palette.
        was: fingerprint, to be sent back with a change.
        lab: as it looks on the paper that is worked on.
        hex: what a screen can show of it.
        mapped: True when *hex* stands in for a colour that sRGB can't show.
        words: the colour in plain words.
        coats: of a marker, 1 to 3 coats on the paper.
        measured: False when it was only typed as a hex colour.
        rough: True when its finish has no single colour.
        on: of a marker, the paper under its swatch.
        coat_limit: of a paper, coats that it takes.
        pattern: of a patterned paper, its colours with their shares.
    """

    name: str
    kind: str
    family: str
    finish: str
    note: str
    was: str
    lab: tuple[float, float, float]
    hex: str
    mapped: bool
    words: str
    coats: tuple[CoatLook, ...]
    measured: bool
    rough: bool
    on: str
    coat_limit: int
    pattern: tuple[dict[str, Any], ...] = ()


def marker_looks(desk: Desk, on: str | None, palette: Palette) -> list[ItemLook]:
    """Give every marker of the drawer as it looks on a paper, in the drawer's order."""
    if not palette.markers:
        return []
    inked = desk.inked(on)
    coats = inked.coat_labs(np.arange(len(inked.markers)), 3)
    hexes = np.array(hexes_of(coats.reshape(-1, 3))).reshape(len(palette.markers), -1)
    looks = []
    for row, marker in enumerate(inked.markers):
        look = look_of(marker, inked.lab[row])
        steps = tuple(
            CoatLook(number + 1, str(hex_), marker.reading(number + 1) is not None)
            for number, hex_ in enumerate(hexes[row])
        )
        looks.append(replace(look, coats=steps, hex=str(hexes[row, 0])))
    return looks


def look_of(item: Item, lab: NDArray[np.float64]) -> ItemLook:
    """Give one thing as a swatch of a colour, shape (3,)."""
    display = lab_to_display(lab)
    reading = item.readings[0][1] if isinstance(item, Marker) else item.reading
    pattern: tuple[dict[str, Any], ...] = ()
    if isinstance(item, Paper):
        pattern = tuple(
            {"name": part.name, "share": part.share, "hex": lab_to_display(part.lab).hex}
            for part in item.pattern
        )
    return ItemLook(
        name=item.name,
        kind=item.kind,
        family=item.family,
        finish=item.finish,
        note=item.note,
        was=fingerprint(item),
        lab=(float(lab[0]), float(lab[1]), float(lab[2])),
        hex=display.hex,
        mapped=display.mapped,
        words=describe_colour(lab),
        coats=(),
        measured=not reading.typed.startswith("#"),
        rough=item.rough,
        on=item.on if isinstance(item, Marker) else "",
        coat_limit=item.coat_limit if isinstance(item, Paper) else 0,
        pattern=pattern,
    )


def _from_home(folder: Path) -> str:
    """A folder as people write it, the home folder as ~."""
    folder, home = folder.absolute(), Path.home()
    return str("~" / folder.relative_to(home)) if folder.is_relative_to(home) else str(folder)


def show_state(desk: Desk, given: Given) -> dict[str, Any]:
    """Give what every page needs: which version is on disk, and what can be taken back."""
    version, palette = desk.current()
    return shown(
        {
            "version": version,
            "palette": desk.palette_path.name,
            "folder": _from_home(desk.palette_path.parent),
            "is_demo": desk.is_demo,
            "is_empty": not palette.items,
            "counts": {
                "marker": len(palette.markers),
                "paper": len(palette.papers),
                "ribbon": len(palette.ribbons),
                "ink": len(palette.inks),
            },
            "papers": [paper.name for paper in (*palette.papers, *palette.ribbons)],
            "usual_paper": choose_paper(palette, None).name,
            "undo": desk.steps.undo_words,
            "redo": desk.steps.redo_words,
        }
    )
