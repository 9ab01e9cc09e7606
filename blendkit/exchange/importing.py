"""From an exchange file to a palette."""

import os
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fnmatch import fnmatchcase
from pathlib import Path

from blendkit.errors import PaletteError, Problem
from blendkit.exchange.cgats import is_cgats
from blendkit.exchange.cgats_colours import parse_cgats
from blendkit.exchange.columns import parse_headings, renamed_columns
from blendkit.exchange.gpl import is_gpl, parse_gpl
from blendkit.exchange.records import (
    MAX_COLOURS,
    ExchangeColour,
    ExchangeFile,
    read_bytes,
    read_text,
    refused,
)
from blendkit.palette import KINDS, Palette
from blendkit.palette.doubts import find_doubts
from blendkit.palette.palette import palette_from_sheet
from blendkit.palette.records import name_key, nearest_names
from blendkit.palette.table import Sheet, decode_sheet, show_number
from blendkit.spectrum import WAVELENGTHS_NM

FORMS = ("gpl", "cgats", "csv")
"""Forms that are read and written: GIMP palette, CGATS.17 / ISO 28178 text, plain CSV."""


@dataclass(frozen=True)
class Imported:
    """A palette that was read from another form.

    Attributes:
        form: one of :data:`FORMS`.
        title: what the file calls itself, or "".
        palette: what it holds; write it with ``palette.write_palette``.
        notes: plain sentences: what was assumed, renamed and left out.
    """

    form: str
    title: str
    palette: Palette = field(repr=False)
    notes: tuple[str, ...] = ()


def read_exchange(
    source: str | os.PathLike[str] | bytes,
    *,
    form: str | None = None,
    kind: str = "marker",
    on: str = "",
    kinds: Mapping[str, str] | None = None,
    headings: Mapping[str, str] | list[str] | tuple[str, ...] | None = None,
    name: str | None = None,
) -> Imported:
    """Read a GIMP palette, CGATS.17 text or plain CSV as a palette.

    Args:
        source: a path, or the bytes of a file.
        form: one of :data:`FORMS`; told from the contents by default.
        kind: what the colours are, where the file doesn't say: marker, paper, ribbon or ink.
        on: name of the sample that is the bare paper under the swatches; it becomes a paper.
        kinds: kind of some rows by their name, in which * stands for any letters; before what the file says.
        headings: for CSV, which heading is which column, as ``columns.parse_headings`` takes it.
        name: what to call the file in messages; its own name by default.

    Returns: the palette, with notes.
    Raises: PaletteError with every line that can't be read.
    """
    if form is not None and form not in FORMS:
        raise PaletteError("There is no such form.", [Problem("form", repr(form), ", ".join(FORMS))])
    for one in (kind, *(kinds or {}).values()):
        if one not in KINDS:
            raise PaletteError("There is no such kind.", [Problem("kind", repr(one), ", ".join(KINDS))])
    mapping = parse_headings(headings)
    label, data = read_bytes(source, name)
    if form is None:
        form = _form_of(data)
    if mapping and form != "csv":
        found = f"headings for a file of the form {form}"
        raise PaletteError("Only CSV has headings to name.", [Problem(label, found, "no headings")])
    if form == "csv":
        return _import_csv(data, label, kind, on, kinds or {}, mapping)
    text = read_text(data, label)
    file = parse_gpl(text, label) if form == "gpl" else parse_cgats(text, label)
    return _import_colours(file, label, kind, on, kinds or {})


def _form_of(data: bytes) -> str:
    head = data.lstrip(b"\xef\xbb\xbf")
    text = (
        data.decode("utf-16", "replace") if data[:2] in (b"\xff\xfe", b"\xfe\xff") else head.decode("latin-1")
    )
    return "gpl" if is_gpl(text) else "cgats" if is_cgats(text) else "csv"


def _import_csv(
    data: bytes, label: str, kind: str, on: str, kinds: Mapping[str, str], mapping: dict[str, str]
) -> Imported:
    sheet, notes = renamed_columns(decode_sheet(data, label), mapping, label)
    if len(sheet.rows) > MAX_COLOURS:
        raise refused(
            f"{label} is too long.", [Problem(label, f"{len(sheet.rows)} rows", f"at most {MAX_COLOURS}")]
        )
    said = list(notes)
    if sheet.column("kind") is None:
        sheet = sheet.with_columns(["kind"])
        sheet = replace(sheet, rows=tuple(_with_cell(sheet, row, "kind", kind) for row in sheet.rows))
        said.append(f"The file doesn't say what its rows are; each was taken for {_a(kind)}.")
    sheet = _with_kinds(sheet, kinds, label)
    if on:
        sheet = _with_paper(sheet, on, label)
        said.append(f"{on!r} was taken for the bare paper under the swatches.")
    palette = palette_from_sheet(sheet, Path(label))
    return Imported("csv", "", palette, (*said, *find_doubts(palette)))


def _with_cell(sheet: Sheet, row: tuple[str, ...], key: str, text: str) -> tuple[str, ...]:
    blank = not any(cell.strip() for cell in row)
    return row if blank else sheet.row_of({key: text}, row)


def _with_kinds(sheet: Sheet, kinds: Mapping[str, str], label: str) -> Sheet:
    """Give rows the kind that the user says they are.

    Raises: PaletteError for a name that no row has.
    """
    names = sheet.column("name")
    rows = list(sheet.rows)
    for pattern, kind in kinds.items():
        called = [row[names] if names is not None and names < len(row) else "" for row in rows]
        mine = [at for at, name in enumerate(called) if fnmatchcase(name_key(name), name_key(pattern))]
        if not mine:
            near = "one of: " + "; ".join(nearest_names(pattern, called)) if called else "a name in the file"
            raise PaletteError(
                f"{label} has no row called {pattern!r}.", [Problem(label, repr(pattern), near)]
            )
        for at in mine:
            rows[at] = sheet.row_of({"kind": kind}, rows[at])
    return replace(sheet, rows=tuple(rows))


def _with_paper(sheet: Sheet, on: str, label: str) -> Sheet:
    """Make the row called *on* a paper, and lay every marker that names no paper on it."""
    sheet = sheet.with_columns(["on"])
    names, kinds, ons = (sheet.column(key) for key in ("name", "kind", "on"))
    rows = [(*row, *("",) * (len(sheet.header) - len(row))) for row in sheet.rows]
    called = [row[names] for row in rows] if names is not None else []
    if name_key(on) not in {name_key(text) for text in called}:
        near = "one of: " + "; ".join(nearest_names(on, called)) if called else "a name in the file"
        raise PaletteError(f"{label} has no sample called {on!r}.", [Problem(label, repr(on), near)])
    changed = []
    for row, text in zip(rows, called, strict=True):
        if name_key(text) == name_key(on):
            changed.append(sheet.row_of({"kind": "paper", "on": ""}, row))
        elif (
            kinds is not None and ons is not None and row[kinds].strip() == "marker" and not row[ons].strip()
        ):
            changed.append(sheet.row_of({"on": on}, row))
        else:
            changed.append(row)
    return replace(sheet, rows=tuple(changed))


def _import_colours(file: ExchangeFile, label: str, kind: str, on: str, kinds: Mapping[str, str]) -> Imported:
    colours, notes = _distinct(file.colours)
    with_spectra = any(colour.reflectance is not None for colour in colours)
    header = ["name", "kind", "hex", "L", "a", "b", "light", "observer"]
    header += [str(nm) for nm in WAVELENGTHS_NM] if with_spectra else []
    sheet = Sheet(header=tuple(header), lines=tuple(colour.line for colour in colours))
    sheet = replace(sheet, rows=tuple(sheet.row_of(_cells(colour, kind)) for colour in colours))
    sheet = _with_kinds(sheet, kinds, label)
    if on:
        sheet = _with_paper(sheet, on, label)
        notes.append(f"{on!r} was taken for the bare paper under the swatches.")
    else:
        notes.append(f"The file doesn't say what its colours are; each was taken for {_a(kind)}.")
    palette = palette_from_sheet(sheet, Path(label))
    return Imported(file.form, file.title, palette, (*file.notes, *notes, *find_doubts(palette)))


def _a(kind: str) -> str:
    return {"marker": "a marker", "paper": "a paper", "ribbon": "a ribbon", "ink": "a stamp ink"}[kind]


def _cells(colour: ExchangeColour, kind: str) -> dict[str, str]:
    """Give the one fullest reading of a colour as cells: its spectrum, else its Lab, else its hex."""
    cells = {"name": colour.name, "kind": colour.kind or kind}
    if colour.reflectance is not None:
        for nm, value in zip(WAVELENGTHS_NM, colour.reflectance, strict=True):
            cells[f"nm:{nm}"] = show_number(max(float(value), 0.0))
    elif colour.lab is not None:
        lab = [min(max(float(colour.lab[0]), 0.0), 100.0), float(colour.lab[1]), float(colour.lab[2])]
        cells |= {letter: show_number(value) for letter, value in zip("lab", lab, strict=True)}
        if (colour.light, colour.observer) != ("D50", 2):
            cells |= {"light": colour.light, "observer": str(colour.observer)}
    else:
        cells["hex"] = colour.hex
    return cells


def _distinct(colours: tuple[ExchangeColour, ...]) -> tuple[list[ExchangeColour], list[str]]:
    """Give each colour a name of its own, of a length that palettes take."""
    taken: set[str] = set()
    distinct: list[ExchangeColour] = []
    shortened = numbered = 0
    for colour in colours:
        base = " ".join("".join(letter if letter.isprintable() else " " for letter in colour.name).split())
        if len(base) > 100:
            base, shortened = base[:100].rstrip(), shortened + 1
        name, count = base or "colour", 1
        while name_key(name) in taken:
            count += 1
            name = f"{base} ({count})"
        numbered += count > 1
        taken.add(name_key(name))
        distinct.append(replace(colour, name=name))
    notes = []
    if numbered:
        notes.append(f"{numbered} colours share a name with another; a number was added to each.")
    if shortened:
        notes.append(f"{shortened} names were cut to 100 letters.")
    return distinct, notes
