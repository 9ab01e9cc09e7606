"""Plain CSV with headings of its own: which column is which, by the user's word or by its heading."""

import difflib
from collections.abc import Mapping
from dataclasses import replace

from blendkit.errors import PaletteError, Problem
from blendkit.palette import COLUMNS
from blendkit.palette.table import Sheet, column_key, parse_number, wavelength_nm

_ALIASES = {
    "name": ("colour", "color", "colour name", "color name", "title", "label", "sample_name", "sample name"),
    "hex": ("html", "hex code", "hex value", "hex colour", "hex color", "web", "rgb hex"),
    "l": ("lab_l", "lab l", "cie l*", "cie l", "cie-l*", "cielab l", "lightness"),
    "a": ("lab_a", "lab a", "cie a*", "cie a", "cie-a*", "cielab a"),
    "b": ("lab_b", "lab b", "cie b*", "cie b", "cie-b*", "cielab b"),
    "light": ("illuminant",),
    "note": ("notes", "comment", "comments", "remark"),
    "family": ("group",),
}
"""Headings that say plainly what a column is. Common practice, no source."""

_RGB = {"red": ("r", "red", "rgb_r"), "green": ("g", "green", "rgb_g"), "blue": ("b", "blue", "rgb_b")}


def parse_headings(options: Mapping[str, str] | list[str] | tuple[str, ...] | None) -> dict[str, str]:
    """Give the user's mapping as column to heading.

    Args:
        options: a mapping, or texts such as ``name=Colour``; the column is one of a palette file's, or red,
            green and blue (0 to 255).

    Raises: PaletteError for a text without ``=`` or a column that palette files don't have.
    """
    if options is None:
        return {}
    pairs: list[tuple[str, str]] = []
    problems: list[Problem] = []
    known = [*COLUMNS, *_RGB]
    if isinstance(options, Mapping):
        pairs = list(options.items())
    else:
        for text in options:
            column, equals, heading = text.partition("=")
            if equals and column.strip() and heading.strip():
                pairs.append((column.strip(), heading.strip()))
            else:
                problems.append(Problem("the columns", repr(text), "COLUMN=HEADING, such as name=Colour"))
    keys = {column_key(column): column for column in known}
    mapped: dict[str, str] = {}
    for column, heading in pairs:
        key = column_key(column)
        if key not in keys and wavelength_nm(column) is None:
            problems.append(Problem("the columns", repr(column), ", ".join(known) + ", or a wavelength"))
        elif key in mapped:
            problems.append(Problem("the columns", f"{column} twice", "each column once"))
        mapped[key] = heading
    if problems:
        raise PaletteError("The columns can't be told apart.", problems)
    return mapped


def renamed_columns(sheet: Sheet, mapping: Mapping[str, str], label: str) -> tuple[Sheet, tuple[str, ...]]:
    """Give a sheet its headings as a palette file has them.

    Args:
        sheet: the file's table.
        mapping: column to heading, as :func:`parse_headings` gives it.
        label: the file's name, for messages.

    Returns: the sheet, with red, green and blue turned to hex, and sentences that say what was read as what.
    Raises: PaletteError for a heading that the file hasn't, or a red, green or blue that is no 0 to 255.
    """
    texts = [" ".join(text.split()).casefold() for text in sheet.header]
    places: dict[str, int] = {}
    problems: list[Problem] = []
    for key, heading in mapping.items():
        wanted = " ".join(heading.split()).casefold()
        if wanted in texts:
            places[key] = texts.index(wanted)
        else:
            near = difflib.get_close_matches(wanted, texts, n=3, cutoff=0.4) or texts
            there = ", ".join(sheet.header[texts.index(text)].strip() or "(blank)" for text in near[:12])
            problems.append(Problem(f"{label}, header line", f"no heading {heading!r}", f"one of: {there}"))
    if problems:
        raise PaletteError(f"{label} has other headings.", problems)
    _guess(texts, places)
    header = list(sheet.header)
    notes = []
    for key, place in places.items():
        shown = key[3:] if key.startswith("nm:") else {"l": "L"}.get(key, key)
        if column_key(header[place]) != key:
            notes.append(f"{sheet.header[place].strip()!r} was read as {shown}.")
        header[place] = shown
    taken = {place: key for key, place in places.items()}
    for place, text in enumerate(sheet.header):
        if place not in taken and column_key(text) in places:
            header[place] = f"{text.strip()} (as it was)"
    renamed = replace(sheet, header=tuple(header))
    if all(key in places for key in _RGB):
        renamed = _with_hex(renamed, [places[key] for key in _RGB], label)
    return renamed, tuple(notes)


def _guess(texts: list[str], places: dict[str, int]) -> None:
    """Add the columns whose headings say what they are; what the user has said goes first."""
    taken = set(places.values())
    by_own_name = {column_key(text): place for place, text in reversed(list(enumerate(texts)))}

    def first(names: tuple[str, ...]) -> int | None:
        return next((texts.index(name) for name in names if name in texts), None)

    def take(key: str, place: int | None) -> None:
        if key not in places and place is not None and place not in taken:
            places[key] = place
            taken.add(place)

    rgb = {key: first(names) for key, names in _RGB.items()}
    if "l" not in by_own_name and "l" not in places and None not in rgb.values():
        for key, place in rgb.items():
            take(key, place)
    for key, names in _ALIASES.items():
        own = by_own_name.get(key)
        if own is None or own in taken:
            take(key, first(names))


def _with_hex(sheet: Sheet, places: list[int], label: str) -> Sheet:
    """Add a hex column made of red, green and blue, which leave the sheet."""
    problems: list[Problem] = []
    rows: list[tuple[str, ...]] = []
    for index, row in enumerate(sheet.rows):
        texts = [row[place].strip() if place < len(row) else "" for place in places]
        values = [parse_number(text) for text in texts]
        kept = tuple(cell for place, cell in enumerate(row) if place not in places)
        padding = ("",) * (len(sheet.header) - len(places) - len(kept))
        if not any(texts):
            rows.append((*kept, *padding, ""))
            continue
        whole = [
            int(value) for value in values if value is not None and value == int(value) and 0 <= value <= 255
        ]
        if len(whole) != 3:
            where = f"{label}, line {sheet.line(index)}"
            problems.append(
                Problem(where, " ".join(texts), "red, green and blue as whole numbers from 0 to 255")
            )
            continue
        rows.append((*kept, *padding, "#{:02x}{:02x}{:02x}".format(*whole)))
    shades = {row[-1][at : at + 2] for row in rows if row[-1] for at in (1, 3, 5)}
    if not problems and shades and shades <= {"00", "01"}:
        found = "nothing above 1 in red, green and blue"
        accepted = "whole numbers from 0 to 255; these may be shares of 1"
        problems.append(Problem(f"{label}, header line", found, accepted))
    if problems:
        raise PaletteError(f"{label} has colours that can't be read.", problems)
    header = tuple(text for place, text in enumerate(sheet.header) if place not in places)
    return replace(sheet, header=(*header, "hex"), rows=tuple(rows))
