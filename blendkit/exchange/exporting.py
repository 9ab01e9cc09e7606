"""From a palette to an exchange file, with what it can't hold in plain sentences."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from blendkit.errors import PaletteError, Problem
from blendkit.exchange.cgats_colours import write_cgats
from blendkit.exchange.columns import parse_headings
from blendkit.exchange.gpl import write_gpl
from blendkit.exchange.importing import FORMS
from blendkit.exchange.records import ExchangeColour
from blendkit.palette import KINDS, Marker, Palette, Paper, Reading
from blendkit.palette.table import column_key, encode_sheet


@dataclass(frozen=True)
class Exported:
    """An exchange file, ready to be saved.

    Attributes:
        form: "gpl", "cgats" or "csv".
        data: the bytes of the file.
        colours: how many colours it holds.
        notes: what the form can't hold, in plain sentences.
    """

    form: str
    data: bytes = field(repr=False)
    colours: int
    notes: tuple[str, ...]


def palette_colours(palette: Palette, kinds: Iterable[str] = KINDS) -> tuple[ExchangeColour, ...]:
    """Give every reading of a palette as an exchange colour, in D50 / 2 degree.

    Args:
        palette: the drawer.
        kinds: the kinds wanted. A patterned sheet gives one colour for each of its own.

    Returns: markers (fewest coats first), papers, ribbons, inks.
    """
    wanted = set(kinds)
    found: list[ExchangeColour] = []
    for item in palette.items:
        if item.kind not in wanted:
            continue
        if isinstance(item, Marker):
            found += [_colour(item.name, item.kind, reading, coats) for coats, reading in item.readings]
        elif isinstance(item, Paper) and item.pattern:
            found += [_colour(f"{item.name}: {part.name}", item.kind, part.reading) for part in item.pattern]
        else:
            found.append(_colour(item.name, item.kind, item.reading))
    return tuple(found)


def _colour(name: str, kind: str, reading: Reading, coats: int = 1) -> ExchangeColour:
    shown = reading.typed if reading.typed.startswith("#") else ""
    return ExchangeColour(name, reading.lab, reading.reflectance, shown, kind=kind, coats=coats)


def export_palette(
    palette: Palette,
    form: str,
    *,
    title: str = "",
    kinds: Iterable[str] = KINDS,
    headings: Mapping[str, str] | list[str] | tuple[str, ...] | None = None,
) -> Exported:
    """Write a palette as a GIMP palette, as CGATS.17 text, or as CSV with other headings.

    Args:
        palette: the drawer.
        form: "gpl", "cgats" or "csv".
        title: what the file calls itself; the palette's file name by default.
        kinds: the kinds that are written; CSV always holds the whole palette.
        headings: for CSV, the heading to write for a column, as ``columns.parse_headings`` takes it.

    Returns: the bytes, and what could not be held.
    Raises: PaletteError for an unknown form or kind, or a palette without any colour of those kinds.
    """
    if form not in FORMS:
        raise PaletteError("There is no such form.", [Problem("form", repr(form), ", ".join(FORMS))])
    unknown = [kind for kind in kinds if kind not in KINDS]
    if unknown:
        raise PaletteError("There is no such kind.", [Problem("kind", ", ".join(unknown), ", ".join(KINDS))])
    mapping = parse_headings(headings)
    name = title or (palette.path.stem if palette.path else "palette")
    if form == "csv":
        sheet = palette.sheet
        header = tuple(mapping.get(column_key(text), text) for text in sheet.header)
        missing = [key for key in mapping if sheet.column(key) is None]
        if missing:
            there = ", ".join(text.strip() for text in sheet.header)
            raise PaletteError("That column isn't there.", [Problem(name, ", ".join(missing), there)])
        return Exported("csv", encode_sheet(replace(sheet, header=header)), len(sheet.rows), ())
    if mapping:
        raise PaletteError("Only CSV has headings to name.", [Problem(form, "headings", "no headings")])
    colours = palette_colours(palette, kinds)
    if not colours:
        there = ", ".join(dict.fromkeys(item.kind for item in palette.items)) or "nothing"
        raise PaletteError(
            f"{name} holds no colour of those kinds.", [Problem(name, there, ", ".join(kinds))]
        )
    data, notes = write_gpl(colours, name) if form == "gpl" else write_cgats(colours, name)
    return Exported(form, data, len(colours), notes)
