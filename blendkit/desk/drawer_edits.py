"""Every change to the drawer: each is one step that can be taken back."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any, Literal

from blendkit.colour import parse_colour
from blendkit.desk.calls import ask, question
from blendkit.desk.files import Upload
from blendkit.desk.looks import fingerprint, look_of, show_state, shown, version_rows
from blendkit.desk.project_desk import Desk
from blendkit.desk.session import Changed
from blendkit.errors import PaletteError, Problem
from blendkit.palette import (
    COAT_LIMIT,
    FINISHES,
    KINDS,
    MAX_COATS,
    Item,
    Palette,
    Reading,
    demo_palette_path,
    name_key,
    read_palette,
    reading_from_hex,
    reading_from_lab,
)
from blendkit.palette.taking import merge_palettes
from blendkit.spectrum import LIGHTS


@question
class On:
    """The paper that is looked at."""

    on: str | None = ask("the paper that is coloured on; the one under most swatches when left out")


@question
class Named:
    """A thing of the palette."""

    name: str = ask("a name of the palette", required=True)


@question
class Seen(Named):
    """A thing as the person saw it."""

    was: str | None = ask(
        "the fingerprint of the thing as the person saw it; another one is refused", longest=64
    )


@question
class Typed:
    """A colour as it is typed, and how it was measured."""

    colour: str = ask("#rrggbb, lab(L a b), oklch(L C h) or L, a, b", required=True, longest=120)
    light: str = ask("light of a measured Lab", default="D50", choices=tuple(LIGHTS))
    observer: int = ask("observer of a measured Lab, 2 or 10 degree", default=2, low=2, high=10)


@question
class Measured(Typed):
    """A colour that is kept."""

    uncertainty: float | None = ask("CIEDE2000 within which it is trusted", low=0.0, high=20.0)
    setup: str = ask("how it was measured", default="")
    on_paper: str | None = ask("the paper under its swatch", longest=100)


@question
class Details:
    """The words of a thing."""

    family: str | None = ask("the light / dark family", longest=100)
    finish: str | None = ask("how it shines", choices=FINISHES)
    note: str | None = ask("the owner's words", longest=1000)
    on_paper: str | None = ask("the paper under its swatch", longest=100)
    coat_limit: int | None = ask("coats that the paper takes", low=1, high=20)


@question
class NewItem(Measured, Details):
    """Something new for the drawer."""

    name: str = ask("its new name", required=True, longest=100)
    kind: Literal["marker", "paper", "ribbon", "ink"] = ask("what it is", default="marker")


@question
class ItemChange(Seen, Details):
    """Other words for a thing."""

    new_name: str | None = ask("a new name", longest=100)


@question
class Remeasured(Seen, Measured):
    """A newer measurement of a thing."""

    coats: int = ask("coats of the swatch", default=1, low=1, high=MAX_COATS)


@question
class ImportAsked:
    """How a file's colours are taken."""

    kind: str = ask("what its colours are, if unsaid", default="marker", choices=tuple(KINDS))
    on: str | None = ask("the sample in it that is the bare paper", longest=100)
    keep: bool = ask("whether to add them to the drawer", default=False)


def reading_of(given: Typed) -> Reading:
    """Give the reading of a colour as a person types it.

    Raises: ColourError or PaletteError in words.
    """
    if given.observer not in (2, 10):
        raise PaletteError(
            "The observer is not right.", [Problem("observer", str(given.observer), "2 or 10")]
        )
    kept = given if isinstance(given, Measured) else None
    setup, measured = (kept.setup, date.today().isoformat()) if kept else ("", "")
    if given.colour.strip().startswith("#"):
        return reading_from_hex(given.colour.strip(), setup=setup, measured=measured)
    lab = parse_colour(given.colour)
    sure = kept.uncertainty if kept else None
    return reading_from_lab(
        lab, given.light, given.observer, uncertainty=sure, setup=setup, measured=measured
    )


def _seen(palette: Palette, given: Seen) -> Item:
    """Give the thing that is to be changed, if it is still what the person saw."""
    item = palette.find(given.name)
    if given.was and fingerprint(item) != given.was:
        raise Changed(
            f"{item.name} was changed elsewhere meanwhile, so nothing was written. It is shown as it is now.",
            [Problem(item.name, "another version than was shown", "a change to what is there now")],
        )
    return item


def _edited(desk: Desk, words: str, change: Callable[[Palette], Palette]) -> dict[str, Any]:
    desk.edit(words, change)
    return {**show_state(desk), "done": words}


def add_item(desk: Desk, given: NewItem) -> dict[str, Any]:
    """Add a marker, paper, ribbon or ink."""
    reading, name = reading_of(given), given.name.strip()
    finish, family, note = given.finish or "matt", given.family or "", given.note or ""

    def change(palette: Palette) -> Palette:
        if given.kind == "marker":
            on = given.on_paper or ""
            return palette.with_marker(name, reading, on=on, family=family, finish=finish, note=note)
        if given.kind == "ink":
            return palette.with_ink(name, reading, finish=finish, family=family, note=note)
        limit = given.coat_limit or COAT_LIMIT
        return palette.with_paper(
            name, reading, kind=given.kind, finish=finish, coat_limit=limit, family=family, note=note
        )

    return _edited(desk, f"add {name}", change)


def change_item(desk: Desk, given: ItemChange) -> dict[str, Any]:
    """Change a thing's name and words."""
    told = {"family": given.family, "finish": given.finish, "note": given.note, "on": given.on_paper}
    details = {key: text for key, text in told.items() if text is not None}
    if given.coat_limit is not None:
        details["coat_limit"] = str(given.coat_limit)
    new_name = (given.new_name or "").strip()

    def change(palette: Palette) -> Palette:
        item = _seen(palette, given)
        changed = palette.with_details(item.name, **details) if details else palette
        return changed.renamed(item.name, new_name) if new_name and new_name != item.name else changed

    return _edited(desk, f"change {given.name}", change)


def measure_item(desk: Desk, given: Remeasured) -> dict[str, Any]:
    """Keep a newer measurement; the older one goes to the history."""
    reading = reading_of(given)

    def change(palette: Palette) -> Palette:
        item = _seen(palette, given)
        return palette.with_reading(item.name, given.coats, reading, given.on_paper)

    return _edited(desk, f"measure {given.name} again", change)


def remove_item(desk: Desk, given: Seen) -> dict[str, Any]:
    """Take a thing out of the drawer; its rows go to the history."""
    return _edited(
        desk,
        f"take {given.name} out",
        lambda palette: palette.without(_seen(palette, given).name),
    )


def import_file(desk: Desk, given: ImportAsked, upload: Upload) -> dict[str, Any]:
    """Read a palette or exchange file; with ``keep`` its things are added to the drawer."""
    from blendkit.exchange import read_exchange

    imported = read_exchange(upload.path.read_bytes(), name=upload.name, kind=given.kind, on=given.on or "")
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
        "fresh": [look_of(item, item.lab) for item in fresh[:400]],
        "notes": notes,
        "kept": 0,
    }
    if given.keep and fresh:
        desk.edit(f"import {upload.name}", lambda palette: merge_palettes(palette, imported.palette))
        answer["kept"] = len(fresh)
    return shown({**answer, "state": show_state(desk)})


def start_with_demo(desk: Desk) -> dict[str, Any]:
    """Fill an empty drawer with the invented demo palette, to look around."""
    demo = read_palette(demo_palette_path())

    def change(palette: Palette) -> Palette:
        if palette.items:
            raise Changed("The drawer isn't empty any more, so nothing was put into it.")
        return replace(demo, path=palette.path)

    return _edited(desk, "fill the drawer with the invented demo palette", change)


def undo(desk: Desk) -> dict[str, Any]:
    """Take the last change of the drawer back."""
    words = desk.undo()
    return {**show_state(desk), "done": f"taken back: {words}"}


def redo(desk: Desk) -> dict[str, Any]:
    """Do again what was taken back."""
    words = desk.redo()
    return {**show_state(desk), "done": f"done again: {words}"}


def show_versions(desk: Desk) -> dict[str, Any]:
    """Give the earlier versions that are kept of the palette file."""
    return shown({"versions": version_rows(desk.palette_path, desk.steps)})


def put_version_back(desk: Desk, given: Named) -> dict[str, Any]:
    """Put an earlier version back."""
    desk.restore(given.name)
    return {**show_state(desk), "done": "an earlier version is back"}
