"""Changes to a palette as changes to its sheet; rows that are replaced come back beside it, for the history."""

from collections.abc import Mapping
from dataclasses import replace

from blendkit.errors import PaletteError, Problem
from blendkit.palette.records import Blender, Item, Marker, Paper, Reading, name_key
from blendkit.palette.rows import COLUMNS
from blendkit.palette.table import Sheet, column_key, show_number
from blendkit.spectrum import WAVELENGTHS_NM

_DETAILS = ("family", "finish", "note", "coat_limit", "on", "out", "price")


Retired = tuple[tuple[str, str], ...]
"""A row that was replaced: (heading, cell), and why."""


def with_row(sheet: Sheet, kind: str, name: str, reading: Reading, details: Mapping[str, str]) -> Sheet:
    """Give the sheet with one more row at the end."""
    colour = _colour_cells(reading, sheet.decimal)
    cells = {key: text for key, text in details.items() if text and (key, text) != ("finish", "matt")}
    cells |= {"name": name, "kind": kind} | colour
    sheet = sheet.with_columns(_headings(cells))
    return replace(sheet, rows=(*sheet.rows, sheet.row_of(_by_key(cells))), final_newline=True)


def with_reading(
    sheet: Sheet, item: Item, coats: int, reading: Reading, on: str | None
) -> tuple[Sheet, tuple[Retired, ...]]:
    """Give the sheet with one reading replaced or added; what it replaces is retired."""
    if isinstance(item, Paper) and item.pattern:
        raise PaletteError(
            f"{item.name} is a pattern.",
            [Problem(item.name, "a pattern", "one of its colours, edited in the file")],
        )
    cells = dict.fromkeys(("hex", "l", "a", "b", "light", "observer", "uncertainty", "setup", "measured"), "")
    colour = _colour_cells(reading, sheet.decimal)
    sheet = sheet.with_columns(_headings(colour))
    cells |= {column_key(text): "" for text in sheet.header if column_key(text).startswith("nm:")}
    cells |= _by_key(colour)
    moved = on is not None and item.kind == "marker" and name_key(on) != name_key(getattr(item, "on", ""))
    if on is not None:
        sheet = sheet.with_columns(["on"])
        cells["on"] = on
    if item.kind == "marker" and coats != 1:
        sheet = sheet.with_columns(["coats"])
    cells["coats"] = str(coats) if coats != 1 else ""
    if moved or coats != 1:
        cells["lift"] = ""

    mine = [index for index in range(len(sheet.rows)) if _is_row_of(sheet, index, item.name)]
    replaced = next((index for index in mine if _coats(sheet, index) == coats), None)
    retired: list[Retired] = []
    rows: list[tuple[str, ...]] = []
    for index, row in enumerate(sheet.rows):
        if index == replaced:
            retired.append(_retired(sheet, index, "measured on another paper" if moved else "measured again"))
            rows.append(sheet.row_of(cells, row))
        elif moved and index in mine:
            retired.append(_retired(sheet, index, "measured on another paper"))
        else:
            rows.append(row)
        if replaced is None and index == mine[-1]:
            rows.append(sheet.row_of(cells | {"coats": str(coats)}, sheet.rows[mine[0]]))
    return replace(sheet, rows=tuple(rows), lines=()), tuple(retired)


def with_lift(sheet: Sheet, marker: Marker, lift: float) -> tuple[Sheet, tuple[Retired, ...]]:
    """Give the sheet with a marker's lift; the row that held another is retired."""
    sheet = sheet.with_columns(["lift"])
    row = next(
        index
        for index in range(len(sheet.rows))
        if _is_row_of(sheet, index, marker.name) and _coats(sheet, index) == 1
    )
    retired: tuple[Retired, ...] = ()
    if _cell(sheet, row, "lift"):
        retired = (_retired(sheet, row, "what a blender lifts was measured again"),)
    cells = {"lift": show_number(round(lift, 2), sheet.decimal)}
    rows = tuple(sheet.row_of(cells, old) if index == row else old for index, old in enumerate(sheet.rows))
    return replace(sheet, rows=rows), retired


def with_details(sheet: Sheet, item: Item | Blender, details: Mapping[str, str]) -> Sheet:
    """Give the sheet with other words in every row of one thing."""
    unknown = [key for key in details if key not in _DETAILS]
    if unknown:
        raise PaletteError(
            "That can't be set.", [Problem(item.name, ", ".join(unknown), ", ".join(_DETAILS))]
        )
    sheet = sheet.with_columns(details)
    rows = tuple(
        sheet.row_of(dict(details), row) if _is_row_of(sheet, index, item.name) else row
        for index, row in enumerate(sheet.rows)
    )
    return replace(sheet, rows=rows)


def renamed(sheet: Sheet, item: Item | Blender, new_name: str) -> Sheet:
    """Give the sheet with one thing renamed, wherever it is named."""
    rows = []
    for row in sheet.rows:
        cells = {}
        for key in ("name", "pattern", "on"):
            column = sheet.column(key)
            if column is not None and column < len(row) and name_key(row[column]) == name_key(item.name):
                cells[key] = new_name
        rows.append(sheet.row_of(cells, row) if cells else row)
    return replace(sheet, rows=tuple(rows))


def without(sheet: Sheet, item: Item | Blender) -> tuple[Sheet, tuple[Retired, ...]]:
    """Give the sheet without any row of one thing; they are retired."""
    mine = {index for index in range(len(sheet.rows)) if _is_row_of(sheet, index, item.name)}
    retired = tuple(_retired(sheet, index, "taken out") for index in sorted(mine))
    rows = tuple(row for index, row in enumerate(sheet.rows) if index not in mine)
    return replace(sheet, rows=rows, lines=()), retired


def _cell(sheet: Sheet, row: int, key: str) -> str:
    column = sheet.column(key)
    cells = sheet.rows[row]
    return cells[column].strip() if column is not None and column < len(cells) else ""


def _is_row_of(sheet: Sheet, row: int, name: str) -> bool:
    """Tell whether a row belongs to the thing called *name*: by its pattern if it has one, else its name."""
    return name_key(_cell(sheet, row, "pattern") or _cell(sheet, row, "name")) == name_key(name)


def _coats(sheet: Sheet, row: int) -> int:
    return int(float(_cell(sheet, row, "coats").replace(",", ".") or 1))


def _retired(sheet: Sheet, row: int, reason: str) -> Retired:
    return (*zip(sheet.header, sheet.rows[row], strict=False), ("reason", reason))


def _by_key(cells: Mapping[str, str]) -> dict[str, str]:
    return {column_key(heading): text for heading, text in cells.items()}


def _headings(cells: Mapping[str, str]) -> list[str]:
    """Give the headings that *cells* need: the known ones in their usual order, then wavelengths."""
    order = {column_key(heading): place for place, heading in enumerate(COLUMNS)}
    needed = [heading for heading, text in cells.items() if text]
    return sorted(needed, key=lambda heading: order.get(column_key(heading), len(order)))


def _colour_cells(reading: Reading, decimal: str) -> dict[str, str]:
    """Give the cells, by heading, that tell a reading as it was given."""
    cells: dict[str, str] = {}
    if reading.typed.startswith("#"):
        cells["hex"] = reading.typed
    elif reading.reflectance is not None:
        for nm, value in zip(WAVELENGTHS_NM, reading.reflectance, strict=True):
            cells[f"{nm:g}"] = show_number(float(value), decimal)
    else:
        given = [float(text) for text in reading.typed.split(",")] if reading.typed else reading.lab.tolist()
        cells |= {letter: show_number(value, decimal) for letter, value in zip("Lab", given, strict=True)}
        if (reading.light, reading.observer) != ("D50", 2):
            cells |= {"light": reading.light, "observer": str(reading.observer)}
    if reading.uncertainty is not None:
        cells["uncertainty"] = show_number(reading.uncertainty, decimal)
    return cells | {
        key: text for key, text in (("setup", reading.setup), ("measured", reading.measured)) if text
    }
