"""The drawer: everything in it as swatches, and every change to it."""

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import numpy as np

from blendkit.advice.gaps import GapAdvice, find_gaps
from blendkit.advice.inked import choose_paper
from blendkit.colour import describe_colour, lab_to_display, parse_colour
from blendkit.desk.arrangement import ARRANGEMENTS, arrange
from blendkit.desk.calls import Call, Field, Given
from blendkit.desk.files import Upload
from blendkit.desk.looks import coat_labs, hexes_of, shown
from blendkit.desk.session import Changed, Desk
from blendkit.errors import PaletteError, Problem
from blendkit.palette import (
    COAT_LIMIT,
    FINISHES,
    KINDS,
    MAX_COATS,
    Item,
    Marker,
    Palette,
    Paper,
    Reading,
    StampInk,
    demo_palette_path,
    list_versions,
    name_key,
    read_history,
    read_palette,
    reading_from_hex,
    reading_from_lab,
)
from blendkit.palette.rows import palette_from_sheet
from blendkit.palette.table import column_key
from blendkit.spectrum import LIGHTS

__all__ = ["DRAWER_CALLS", "fingerprint", "reading_from_text"]

ON = Field("on", "text", "the paper that is coloured on; the one under most swatches when left out")
NAME = Field("name", "text", "a name of the palette", required=True)
WAS = Field(
    "was", "text", "the fingerprint of the thing as the person saw it; another one is refused", longest=64
)
COLOUR = Field("colour", "text", "#rrggbb, lab(L a b), oklch(L C h) or L, a, b", longest=120)
_MEASURED = (
    Field("light", "text", "light of a measured Lab", default="D50", choices=LIGHTS),
    Field("observer", "whole", "observer of a measured Lab, 2 or 10 degree", default=2, low=2, high=10),
    Field("uncertainty", "number", "CIEDE2000 within which it is trusted", low=0.0, high=20.0),
    Field("setup", "text", "how it was measured", default=""),
)
_DETAILS = (
    Field("family", "text", "the light / dark family", longest=100),
    Field("finish", "text", "how it shines", choices=FINISHES),
    Field("note", "text", "the owner's words", longest=1000),
    Field("on_paper", "text", "the paper under its swatch", longest=100),
    Field("coat_limit", "whole", "coats that the paper takes", low=1, high=20),
)


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


# ---------------------------------------------------------------- looking


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


def _marker_looks(desk: Desk, on: str | None, palette: Palette) -> list[ItemLook]:
    if not palette.markers:
        return []
    inked = desk.inked(on)
    coats = coat_labs(inked)
    hexes = np.array(hexes_of(coats.reshape(-1, 3))).reshape(len(palette.markers), -1)
    looks = []
    for row, marker in enumerate(inked.markers):
        look = _look(marker, inked.lab[row])
        steps = tuple(
            CoatLook(number + 1, str(hex_), marker.reading(number + 1) is not None)
            for number, hex_ in enumerate(hexes[row])
        )
        looks.append(replace(look, coats=steps, hex=str(hexes[row, 0])))
    return looks


def _look(item: Item, lab: np.ndarray[Any, np.dtype[np.float64]]) -> ItemLook:
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


def show_drawer(desk: Desk, given: Given) -> dict[str, Any]:
    """Give everything in the drawer as swatches on a paper."""
    answer: dict[str, Any] = desk.remember(("drawer", given["on"] or ""), lambda: _drawer(desk, given))
    return answer


def _drawer(desk: Desk, given: Given) -> dict[str, Any]:
    version, palette = desk.current()
    paper = choose_paper(palette, given["on"])
    others: tuple[Paper | StampInk, ...] = (*palette.papers, *palette.ribbons, *palette.inks)
    return shown(
        {
            "version": version,
            "palette": desk.palette_path.name,
            "on": paper.name,
            "paper": _look(paper, paper.lab),
            "markers": _marker_looks(desk, given["on"], palette),
            "others": [_look(item, item.lab) for item in others],
            "families": sorted({item.family for item in palette.items if item.family}, key=str.casefold),
        }
    )


def show_trays(desk: Desk, given: Given) -> dict[str, Any]:
    """Give the markers' names in trays."""
    version, palette = desk.current()
    if not palette.markers:
        return shown({"version": version, "by": given["by"], "trays": (), "wanted": (), "words": ()})
    gaps = _gaps(desk, given["on"]) if given["by"] == "gap" else None
    return shown(
        {
            "version": version,
            "by": given["by"],
            "trays": arrange(desk.inked(given["on"]), given["by"], gaps),
            "wanted": gaps.wanted[:12] if gaps else (),
            "words": gaps.words if gaps else (),
        }
    )


def _gaps(desk: Desk, on: str | None) -> GapAdvice:
    gaps = desk.remember(("gaps", on or ""), lambda: find_gaps(desk.palette(), on=on))
    assert isinstance(gaps, GapAdvice)
    return gaps


def show_gaps(desk: Desk, given: Given) -> dict[str, Any]:
    """Give what the drawer lacks, as ``blendkit gaps --json`` does."""
    return shown(_gaps(desk, given["on"]))


def show_state(desk: Desk, given: Given) -> dict[str, Any]:
    """Give what every page needs: which version is on disk, and what can be taken back."""
    version, palette = desk.current()
    return shown(
        {
            "version": version,
            "palette": desk.palette_path.name,
            "folder": str(desk.palette_path.parent),
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
            "undo": desk.undo_words,
            "redo": desk.redo_words,
        }
    )


def show_item(desk: Desk, given: Given) -> dict[str, Any]:
    """Give one thing with its readings and what newer ones replaced."""
    palette = desk.palette()
    item = palette.find(given["name"])
    if isinstance(item, Marker):
        look = next(
            one
            for one in _marker_looks(desk, given["on"], palette)
            if name_key(one.name) == name_key(item.name)
        )
        readings = item.readings
    else:
        look, readings = _look(item, item.lab), ((1, item.reading),)
    earlier = read_history(desk.palette_path, item.name) if desk.palette_path.exists() else ()
    views = [_reading_view(coats, reading) for coats, reading in readings]
    rows = [{"replaced": one.replaced, "reason": one.reason, "cells": one.cells} for one in earlier[-12:]]
    return {**shown({"item": look, "readings": views}), "earlier": rows}


def _reading_view(coats: int, reading: Reading) -> dict[str, Any]:
    return {
        "coats": coats,
        "lab": reading.lab,
        "hex": lab_to_display(reading.lab).hex,
        "typed": reading.typed,
        "light": reading.light,
        "observer": reading.observer,
        "uncertainty": reading.uncertainty,
        "setup": reading.setup,
        "measured": reading.measured,
        "has_spectrum": reading.reflectance is not None,
    }


def try_colour(desk: Desk, given: Given) -> dict[str, Any]:
    """Read a typed colour and show it, without keeping it."""
    reading = reading_from_text(given["colour"], given["light"], given["observer"])
    display = lab_to_display(reading.lab)
    words = describe_colour(reading.lab)
    return shown({"lab": reading.lab, "hex": display.hex, "mapped": display.mapped, "words": words})


# ---------------------------------------------------------------- changing


def reading_from_text(
    text: str,
    light: str = "D50",
    observer: int = 2,
    uncertainty: float | None = None,
    setup: str = "",
    measured: str = "",
) -> Reading:
    """Give the reading of a colour as a person types it.

    Args:
        text: ``#rrggbb``, or a Lab under *light* and *observer*, or a CSS colour function.
        light, observer: of a measured Lab.
        uncertainty, setup, measured: kept with it.

    Returns: the reading.
    Raises: ColourError or PaletteError in words.
    """
    if text.strip().startswith("#"):
        return reading_from_hex(text.strip(), setup=setup, measured=measured)
    lab = parse_colour(text)
    return reading_from_lab(lab, light, observer, uncertainty=uncertainty, setup=setup, measured=measured)


def _given_reading(given: Given) -> Reading:
    if given["observer"] not in (2, 10):
        raise PaletteError(
            "The observer is not right.", [Problem("observer", str(given["observer"]), "2 or 10")]
        )
    return reading_from_text(
        given["colour"],
        given["light"],
        given["observer"],
        given["uncertainty"],
        given["setup"],
        date.today().isoformat(),
    )


def _seen(palette: Palette, given: Given) -> Item:
    """Give the thing that is to be changed, if it is still what the person saw."""
    item = palette.find(given["name"])
    if given["was"] and fingerprint(item) != given["was"]:
        raise Changed(
            f"{item.name} was changed elsewhere meanwhile, so nothing was written. It is shown as it is now.",
            [Problem(item.name, "another version than was shown", "a change to what is there now")],
        )
    return item


def _edited(desk: Desk, words: str, change: Callable[[Palette], Palette]) -> dict[str, Any]:
    desk.edit(words, change)
    return {**show_state(desk, {}), "done": words}


def add_item(desk: Desk, given: Given) -> dict[str, Any]:
    """Add a marker, paper, ribbon or ink."""
    reading, name = _given_reading(given), given["name"].strip()
    finish, family, note = given["finish"] or "matt", given["family"] or "", given["note"] or ""

    def change(palette: Palette) -> Palette:
        if given["kind"] == "marker":
            on = given["on_paper"] or ""
            return palette.with_marker(name, reading, on=on, family=family, finish=finish, note=note)
        if given["kind"] == "ink":
            return palette.with_ink(name, reading, finish=finish, family=family, note=note)
        limit = given["coat_limit"] or COAT_LIMIT
        return palette.with_paper(
            name, reading, kind=given["kind"], finish=finish, coat_limit=limit, family=family, note=note
        )

    return _edited(desk, f"add {name}", change)


def change_item(desk: Desk, given: Given) -> dict[str, Any]:
    """Change a thing's name and words."""
    details = {key: given[key] for key in ("family", "finish", "note") if given[key] is not None}
    if given["on_paper"] is not None:
        details["on"] = given["on_paper"]
    if given["coat_limit"] is not None:
        details["coat_limit"] = str(given["coat_limit"])
    new_name = (given["new_name"] or "").strip()

    def change(palette: Palette) -> Palette:
        item = _seen(palette, given)
        changed = palette.with_details(item.name, **details) if details else palette
        return changed.renamed(item.name, new_name) if new_name and new_name != item.name else changed

    return _edited(desk, f"change {given['name']}", change)


def measure_item(desk: Desk, given: Given) -> dict[str, Any]:
    """Keep a newer measurement; the older one goes to the history."""
    reading = _given_reading(given)

    def change(palette: Palette) -> Palette:
        item = _seen(palette, given)
        return palette.with_reading(item.name, given["coats"], reading, given["on_paper"])

    return _edited(desk, f"measure {given['name']} again", change)


def remove_item(desk: Desk, given: Given) -> dict[str, Any]:
    """Take a thing out of the drawer; its rows go to the history."""
    return _edited(
        desk,
        f"take {given['name']} out",
        lambda palette: palette.without(_seen(palette, given).name),
    )


def import_file(desk: Desk, given: Given, upload: Upload) -> dict[str, Any]:
    """Read a palette or exchange file; with ``keep`` its things are added to the drawer."""
    from blendkit.exchange import read_exchange

    imported = read_exchange(
        upload.path.read_bytes(), name=upload.name, kind=given["kind"], on=given["on"] or ""
    )
    new = imported.palette.items
    taken = {name_key(item.name) for item in desk.palette().items}
    fresh = [item for item in new if name_key(item.name) not in taken]
    notes = list(imported.notes)
    if len(fresh) < len(new):
        notes.append(f"{len(new) - len(fresh)} names are in the drawer already; those stay as they are.")
    answer = {
        "file": upload.name,
        "form": imported.form,
        "found": len(new),
        "fresh": [_look(item, item.lab) for item in fresh[:400]],
        "notes": notes,
        "kept": 0,
    }
    if given["keep"] and fresh:
        desk.edit(f"import {upload.name}", lambda palette: _with_items(palette, imported.palette))
        answer["kept"] = len(fresh)
    return shown({**answer, "state": show_state(desk, {})})


def _with_items(palette: Palette, imported: Palette) -> Palette:
    """Give the palette with every row of *imported* whose name is not in it yet."""
    taken = {name_key(item.name) for item in palette.items}
    own, other = palette.sheet, imported.sheet
    sheet = own.with_columns(other.header)
    keys = [column_key(heading) for heading in other.header]
    rows = list(sheet.rows)
    for row in other.rows:
        cells = {key: text for key, text in zip(keys, row, strict=False) if text.strip()}
        name = cells.get("pattern") or cells.get("name")
        if name and name_key(name) not in taken:
            rows.append(sheet.row_of(cells))
    return palette_from_sheet(replace(sheet, rows=tuple(rows), lines=(), final_newline=True), palette.path)


def start_with_demo(desk: Desk, given: Given) -> dict[str, Any]:
    """Fill an empty drawer with the invented demo palette, to look around."""
    demo = read_palette(demo_palette_path())

    def change(palette: Palette) -> Palette:
        if palette.items:
            raise Changed("The drawer isn't empty any more, so nothing was put into it.")
        return replace(demo, path=palette.path)

    return _edited(desk, "fill the drawer with the invented demo palette", change)


def undo(desk: Desk, given: Given) -> dict[str, Any]:
    """Take the last change of the drawer back."""
    words = desk.undo()
    return {**show_state(desk, {}), "done": f"taken back: {words}"}


def redo(desk: Desk, given: Given) -> dict[str, Any]:
    """Do again what was taken back."""
    words = desk.redo()
    return {**show_state(desk, {}), "done": f"done again: {words}"}


def show_versions(desk: Desk, given: Given) -> dict[str, Any]:
    """Give the earlier versions that are kept of the palette file."""
    versions = list_versions(desk.palette_path)
    return shown({"versions": [{"name": one.name, "replaced": one.replaced.isoformat()} for one in versions]})


def put_version_back(desk: Desk, given: Given) -> dict[str, Any]:
    """Put an earlier version back."""
    desk.restore(given["name"])
    return {**show_state(desk, {}), "done": "an earlier version is back"}


# ---------------------------------------------------------------- long work


def show_job(desk: Desk, given: Given) -> dict[str, Any]:
    """Give how far a piece of long work is, and its answer."""
    return shown(desk.workshop.find(given["job"]).view)


def stop_job(desk: Desk, given: Given) -> dict[str, Any]:
    """Stop a piece of long work."""
    job = desk.workshop.stop(given["job"])
    job.ended.wait(2.0)
    return shown(job.view)


_JOB = Field("job", "text", "its number", required=True, longest=40)

DRAWER_CALLS = (
    Call("GET", "/state", "Which palette is open, its version on disk, what can be taken back.", show_state),
    Call("GET", "/drawer", "Everything in the drawer as swatches on a paper.", show_drawer, (ON,)),
    Call(
        "GET",
        "/drawer/trays",
        "The markers in trays.",
        show_trays,
        (ON, Field("by", "text", "by what", default="hue", choices=ARRANGEMENTS)),
    ),
    Call("GET", "/gaps", "What the drawer lacks; the record of blendkit gaps --json.", show_gaps, (ON,)),
    Call("GET", "/item", "One thing with its readings and their history.", show_item, (NAME, ON)),
    Call(
        "GET", "/colour", "A typed colour, shown and not kept.", try_colour,
        (Field("colour", "text", COLOUR.words, required=True, longest=120), *_MEASURED[:2]),
    ),
    Call(
        "POST",
        "/items/add",
        "Add a marker, paper, ribbon or ink.",
        add_item,
        (
            Field("name", "text", "its new name", required=True, longest=100),
            Field("kind", "text", "what it is", default="marker", choices=tuple(KINDS)),
            Field("colour", "text", COLOUR.words, required=True, longest=120),
            *_MEASURED,
            *_DETAILS,
        ),
    ),
    Call(
        "POST",
        "/items/change",
        "Change a thing's name and words.",
        change_item,
        (NAME, WAS, Field("new_name", "text", "a new name", longest=100), *_DETAILS),
    ),
    Call(
        "POST",
        "/items/measure",
        "Keep a newer measurement of a thing.",
        measure_item,
        (
            NAME,
            WAS,
            Field("coats", "whole", "coats of the swatch", default=1, low=1, high=MAX_COATS),
            Field("colour", "text", COLOUR.words, required=True, longest=120),
            Field("on_paper", "text", "the paper under the swatch", longest=100),
            *_MEASURED,
        ),
    ),
    Call("POST", "/items/remove", "Take a thing out of the drawer.", remove_item, (NAME, WAS)),
    Call(
        "POST",
        "/import",
        "Read a palette or exchange file, and add its things when asked.",
        import_file,
        (
            Field("kind", "text", "what its colours are, if unsaid", default="marker", choices=tuple(KINDS)),
            Field("on", "text", "the sample in it that is the bare paper", longest=100),
            Field("keep", "yes", "whether to add them to the drawer", default=False),
        ),
        takes_file=True,
    ),
    Call("POST", "/demo", "Fill an empty drawer with the invented demo palette.", start_with_demo),
    Call("POST", "/undo", "Take the last change of the drawer back.", undo),
    Call("POST", "/redo", "Do again what was taken back.", redo),
    Call("GET", "/versions", "Earlier versions of the palette file.", show_versions),
    Call("POST", "/versions/restore", "Put an earlier version back.", put_version_back, (NAME,)),
    Call("GET", "/job", "How far a piece of long work is, and its answer.", show_job, (_JOB,)),
    Call("POST", "/job/stop", "Stop a piece of long work.", stop_job, (_JOB,)),
)  # fmt: skip
