"""Measured overlaps, one marker over another once that is dry, and the table that lists them."""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from blendkit.errors import PaletteError, Problem
from blendkit.files import read_whole
from blendkit.palette import Reading, name_key, reading_from_hex, readings_from_labs
from blendkit.palette.readings import HEX_ACCEPTED, given_hex, lab_fault
from blendkit.palette.table import column_key, decode_sheet, parse_number

OVERLAP_COLUMNS = ("under", "over", "L", "a", "b", "hex")
"""Columns of a table of overlaps; a row has L, a and b (D50, 2 degree) or hex."""

_MAX_MB = 4


@dataclass(frozen=True)
class Overlap:
    """The colour where one coat of a marker lies over one coat of another, which was dry.

    Args:
        under: name of the marker that was laid first.
        over: name of the marker that was laid on it.
        reading: the colour.
        where: where it stands, for messages; "" when nobody needs to know.
    """

    under: str
    over: str
    reading: Reading
    where: str = ""


def read_overlaps(path: Path, names: Iterable[str]) -> tuple[Overlap, ...]:
    """Read a CSV table of measured overlaps.

    Args:
        path: a file with the columns under, over and L, a, b, or hex; others are passed over.
        names: the markers that the palette knows.

    Returns: one entry a row, in the file's order.
    Raises: PaletteError with every fault of every row, each with its line.
    """
    sheet = decode_sheet(
        read_whole(path, _MAX_MB * 1_000_000, f"a CSV table of at most {_MAX_MB} MB"), path.name
    )
    keys = {column_key(text): place for place, text in reversed(list(enumerate(sheet.header)))}
    missing = [column for column in ("under", "over") if column not in keys]
    if missing or not ({"l", "a", "b"} <= keys.keys() or "hex" in keys):
        found = ", ".join(text.strip() for text in sheet.header)
        accepted = "under, over, L, a, b; or under, over, hex"
        raise PaletteError(
            f"{path.name} is no table of overlaps.", [Problem(f"{path.name}, header line", found, accepted)]
        )
    known = {name_key(name): name for name in names}
    problems: list[Problem] = []
    overlaps: list[Overlap] = []
    for index, row in enumerate(sheet.rows):
        cells = {key: row[place].strip() if place < len(row) else "" for key, place in keys.items()}
        if not any(cells.values()):
            continue
        overlap = _overlap(cells, known, f"{path.name}, line {sheet.line(index)}", problems)
        if overlap is not None:
            overlaps.append(overlap)
    if problems:
        raise PaletteError(f"{path.name} has rows that can't be used.", problems)
    return tuple(overlaps)


def _overlap(
    cells: dict[str, str], known: dict[str, str], where: str, problems: list[Problem]
) -> Overlap | None:
    """Check one row; what is wrong with it goes to *problems*."""
    before = len(problems)
    names = {}
    for column in ("under", "over"):
        name = known.get(name_key(cells[column]))
        if name is None:
            from blendkit.palette.records import nearest_names

            near = "; ".join(nearest_names(cells[column], list(known.values()), 3))
            problems.append(Problem(f"{where}, {column}", repr(cells[column]), f"a marker: {near}"))
        else:
            names[column] = name
    reading = _reading(cells, where, problems)
    if len(problems) > before or reading is None:
        return None
    return Overlap(names["under"], names["over"], reading, where)


def _reading(cells: dict[str, str], where: str, problems: list[Problem]) -> Reading | None:
    texts = {letter: cells.get(letter.lower(), "") for letter in "Lab"}
    if not any(texts.values()):
        text = cells.get("hex", "")
        if given_hex(text) is None:
            problems.append(Problem(f"{where}, hex", repr(text), f"L, a and b, or {HEX_ACCEPTED}"))
            return None
        return reading_from_hex(text)
    lab = []
    for letter, text in texts.items():
        value = parse_number(text)
        fault = "a number" if value is None else lab_fault(letter, value)
        if value is None or fault:
            problems.append(Problem(f"{where}, {letter}", repr(text), fault))
        else:
            lab.append(value)
    return readings_from_labs([lab])[0] if len(lab) == 3 else None
