"""Every change to the drawer: each is one step that can be taken back."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date
from typing import Any

from blendkit.colour import parse_colour
from blendkit.desk.calls import Given
from blendkit.desk.drawer_looks import fingerprint, look_of, show_state
from blendkit.desk.files import Upload
from blendkit.desk.looks import shown
from blendkit.desk.session import Changed, Desk
from blendkit.errors import PaletteError, Problem
from blendkit.palette import (
    COAT_LIMIT,
    Item,
    Palette,
    Reading,
    demo_palette_path,
    list_versions,
    name_key,
    read_palette,
    reading_from_hex,
    reading_from_lab,
)
from blendkit.palette.rows import palette_from_sheet
from blendkit.palette.table import column_key


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
        "fresh": [look_of(item, item.lab) for item in fresh[:400]],
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
