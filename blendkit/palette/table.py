"""The text of a palette file as a table, and back, keeping the spreadsheet's own habits.

Spreadsheets save the same table in many ways: UTF-8 with or without a byte-order mark, UTF-16, commas,
semicolons or tabs between cells, points or commas before decimals, Unix or Windows line ends. A
:class:`Sheet` holds the cells as text together with those habits, so that what is written back opens in
the same spreadsheet as before. It knows nothing of markers.
"""

import codecs
import csv
import io
import math
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from blendkit.errors import PaletteError, Problem

DELIMITERS = (",", ";", "\t")

_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_WAVELENGTH = re.compile(r"(?:r|nm|spectral_nm)?[ _]?(\d{3,4}(?:[.,]\d+)?) ?(?:nm)?", re.ASCII)
_COLUMN_ALIASES = {
    "illuminant": "light",
    "observer angle": "observer",
    "l*": "l",
    "a*": "a",
    "b*": "b",
    "coat limit": "coat_limit",
}
_RUNS_FIRST = "=+-@＝＋－＠"
_RUNS_ALONE = "\t\r\n"
_NOT_TEXT = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
_BINARY_STARTS = {
    b"PK\x03\x04": "a workbook (.xlsx or .ods)",
    b"\xd0\xcf\x11\xe0": "an old workbook (.xls)",
    b"%PDF": "a PDF",
    b"\x89PNG": "a PNG picture",
    b"\xff\xd8\xff": "a JPEG picture",
}
_SAVE_AS = "text in UTF-8 or UTF-16: in the spreadsheet choose Save as, CSV UTF-8"


@dataclass(frozen=True)
class Sheet:
    """Cells of a palette file as text, with the habits of the program that wrote it.

    Args:
        header: the headings as they stand in the file.
        rows: the rows below, each a tuple of cells; a row may be shorter than the header.
        lines: the line of the file on which each row begins, counted from 1; not compared.
        encoding: "utf-8", "utf-8-sig", "utf-16-le" or "utf-16-be".
        bom: whether UTF-16 opens with a byte-order mark.
        delimiter: one of :data:`DELIMITERS`.
        decimal: "." or ",".
        newline: line end, one of LF, CR LF and CR.
        final_newline: whether the last line is ended.
        sep_line: whether a first line ``sep=;`` tells the spreadsheet the delimiter.
    """

    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...] = ()
    lines: tuple[int, ...] = field(default=(), compare=False)
    encoding: str = "utf-8"
    bom: bool = False
    delimiter: str = ","
    decimal: str = "."
    newline: str = "\n"
    final_newline: bool = True
    sep_line: bool = False

    def line(self, row: int) -> int:
        """Give the line of the file on which *row* begins (after an edit: where it would stand)."""
        return self.lines[row] if row < len(self.lines) else row + 2 + self.sep_line

    def column(self, key: str) -> int | None:
        """Give the position of the column whose key is *key*, or None."""
        keys = [column_key(text) for text in self.header]
        return keys.index(key) if key in keys else None

    def with_columns(self, headings: Iterable[str]) -> "Sheet":
        """Give the sheet with each of *headings* present; new ones are added at the right."""
        have = {column_key(text) for text in self.header}
        new = tuple(text for text in headings if column_key(text) not in have)
        return replace(self, header=self.header + new) if new else self

    def row_of(self, cells: dict[str, str], base: Sequence[str] = ()) -> tuple[str, ...]:
        """Give a row that holds *cells* (column key to text), over the cells of *base*."""
        row = list(base) + [""] * (len(self.header) - len(base))
        for index, text in enumerate(self.header):
            key = column_key(text)
            if key in cells:
                row[index] = cells[key]
        return tuple(row)


def column_key(heading: str) -> str:
    """Give the name by which blendkit knows a column: lower case, trimmed, ``L*`` as ``l``.

    A wavelength column has the key ``nm:`` followed by its wavelength, whatever way it is written.
    """
    nm = wavelength_nm(heading)
    if nm is not None:
        return f"nm:{nm:g}"
    key = heading.strip().casefold()
    return _COLUMN_ALIASES.get(key, key)


def wavelength_nm(heading: str) -> float | None:
    """Give the wavelength that a heading such as ``400``, ``400 nm`` or ``R400`` names, or None."""
    match = _WAVELENGTH.fullmatch(heading.strip().casefold())
    if match is None:
        return None
    nm = float(match[1].replace(",", "."))
    return nm if 300 <= nm <= 1100 else None


def parse_number(text: str) -> float | None:
    """Give the number in a cell, with decimal point or decimal comma, or None when it is none.

    Thousands separators, ``nan``, ``inf``, ``1e999`` and underscores make no number; a true minus sign does.
    """
    text = text.strip().replace("\N{MINUS SIGN}", "-")
    value = float(text.replace(",", ".")) if _NUMBER.fullmatch(text) else None
    return value if value is not None and math.isfinite(value) else None


def show_number(value: float, decimal: str = ".") -> str:
    """Write a number with up to 6 decimals and the sheet's own decimal mark."""
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return ("0" if text == "-0" else text).replace(".", decimal)


# ---------------------------------------------------------------- cells that a spreadsheet would run


def would_run(text: str) -> bool:
    """Tell whether a spreadsheet may take the cell for a formula: numbers are not, ``-x`` is.

    Source: OWASP, "CSV Injection": cells that begin with =, +, -, @, tab, carriage return or line feed,
    and the full-width forms of the first four.
    """
    if not text or parse_number(text) is not None:
        return False
    return text[0] in _RUNS_ALONE or text.lstrip()[:1] in tuple(_RUNS_FIRST)


def guarded(text: str) -> str:
    """Give the cell as it may be written: with an apostrophe before what would run.

    A text that already looks guarded gets one more, so that :func:`unguarded` gives back any text exactly.
    """
    return f"'{text}" if would_run(text.lstrip("'")) else text


def unguarded(text: str) -> str:
    """Undo :func:`guarded`: the one apostrophe before what would run is taken off."""
    return text[1:] if text.startswith("'") and would_run(text.lstrip("'")) else text


# ---------------------------------------------------------------- bytes to sheet


def decode_sheet(data: bytes, where: str) -> Sheet:
    """Read the bytes of a file as a table.

    Args:
        data: the whole file.
        where: the file's name, for messages.

    Returns: the sheet, its cells as text with guards taken off.
    Raises: PaletteError for an empty file, one that isn't text, broken quotes, no header line.
    """
    text, encoding, bom = _decode(data, where)
    if not text.strip():
        raise _refused(where, "an empty file", "a header line with name, kind and a colour, then rows")
    first = re.split("\r\n|\n|\r", text, maxsplit=1)[0]
    sep_line = re.fullmatch(r'"?sep=(.)"?', first.strip(" "), re.IGNORECASE)
    delimiter = _delimiter(text, sep_line[1] if sep_line else None)

    numbered, ends = _records(text, delimiter, where)
    if sep_line:
        numbered = numbered[1:]
    while numbered and not any(cell.strip() for cell in numbered[0][1]):
        numbered = numbered[1:]
    if not numbered:
        raise _refused(where, "no header line", "a header line with name, kind and a colour, then rows")
    header = tuple(unguarded(cell) for cell in numbered[0][1])
    rows = tuple(tuple(unguarded(cell) for cell in cells) for _, cells in numbered[1:])
    sheet = Sheet(
        header=header,
        rows=rows,
        lines=tuple(number for number, _ in numbered[1:]),
        encoding=encoding,
        bom=bom,
        delimiter=delimiter,
        newline=max(("\n", "\r\n", "\r"), key=ends.count),
        final_newline=text.endswith(("\n", "\r")),
        sep_line=bool(sep_line),
    )
    return replace(sheet, decimal=_decimal(sheet))


def _records(text: str, delimiter: str, where: str) -> tuple[list[tuple[int, list[str]]], list[str]]:
    """Give each record with the line on which it begins, and the line ends between records."""
    numbered: list[tuple[int, list[str]]] = []
    ends: list[str] = []
    last = ""

    def lines() -> Iterator[str]:
        nonlocal last
        for each in io.StringIO(text, newline=""):
            last = each
            yield each

    reader = csv.reader(lines(), delimiter=delimiter, strict=True)
    line = 1
    try:
        for cells in reader:
            numbered.append((line, cells))
            ends.append(last[len(last.rstrip("\r\n")) :])
            line = reader.line_num + 1
    except csv.Error as error:
        quotes = "every quote closed, quotes within a cell doubled, no cell over 131,072 characters"
        raise _refused(f"{where}, line {line}", str(error), quotes) from None
    return numbered, ends


def _decode(data: bytes, where: str) -> tuple[str, str, bool]:
    """Give the text, its encoding and whether UTF-16 had a byte-order mark."""
    for start, what in _BINARY_STARTS.items():
        if data.startswith(start):
            raise _refused(where, what, _SAVE_AS)
    encoding, bom = "utf-8", False
    if data.startswith(codecs.BOM_UTF8):
        encoding, data = "utf-8-sig", data[3:]
    elif data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        encoding = "utf-16-le" if data.startswith(codecs.BOM_UTF16_LE) else "utf-16-be"
        data, bom = data[2:], True
    elif b"\0" in data[:4096]:
        even, odd = data[0:4096:2].count(0), data[1:4096:2].count(0)
        if min(even, odd) > 0 or 4 * max(even, odd) < len(data[:4096]):
            raise _refused(where, "bytes that are no text", _SAVE_AS)
        encoding = "utf-16-le" if odd else "utf-16-be"
    try:
        text = data.decode(encoding.removesuffix("-sig"))
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        found = f"byte 0x{data[error.start]:02X}, which is not {encoding.removesuffix('-sig').upper()}"
        raise _refused(f"{where}, line {line}", found, _SAVE_AS) from None
    control = _NOT_TEXT.search(text)
    if control:
        line = text[: control.start()].count("\n") + 1
        found = f"the control character 0x{ord(control[0]):02X}"
        raise _refused(f"{where}, line {line}", found, _SAVE_AS)
    return text, encoding, bom


def _delimiter(text: str, stated: str | None) -> str:
    """Give the delimiter that the file states, else the one that finds most columns in its first line."""
    if stated in DELIMITERS:
        return stated
    lines = (line for line in re.split("\r\n|\n|\r", text) if line.strip())
    first = next(lines)
    known = ("name", "kind", "hex", "l", "a", "b")

    def score(delimiter: str) -> tuple[int, int]:
        keys = [column_key(cell.strip('"')) for cell in first.split(delimiter)]
        return sum(key in known for key in keys), len(keys)

    return max(DELIMITERS, key=score)


def _decimal(sheet: Sheet) -> str:
    """Give the decimal mark that most of the numbers use; of none, the one usual with the delimiter."""
    numeric = ("l", "a", "b", "share", "uncertainty")
    columns = [
        index
        for index, text in enumerate(sheet.header)
        if column_key(text) in numeric or wavelength_nm(text) is not None
    ]
    commas = points = 0
    for row in sheet.rows:
        for index in columns:
            if index < len(row) and parse_number(row[index]) is not None:
                commas += "," in row[index]
                points += "." in row[index]
        if commas + points > 300:
            break
        if commas + points > 300:
            break
    if commas == points:
        return "," if sheet.delimiter == ";" else "."
    return "," if commas > points else "."


def _refused(where: str, found: str, accepted: str) -> PaletteError:
    return PaletteError("This palette can't be read.", [Problem(where, found, accepted)])


# ---------------------------------------------------------------- sheet to bytes


def encode_sheet(sheet: Sheet) -> bytes:
    """Give the bytes of a file that holds *sheet*, in its own encoding, delimiter and line ends.

    No cell is written so that a spreadsheet would run it; see :func:`guarded`.

    Raises: PaletteError for a cell that holds half a character (a lone surrogate).
    """
    lines = [f"sep={sheet.delimiter}"] if sheet.sep_line else []
    buffer = io.StringIO(newline="")
    # The csv module quotes a cell for the line end that it knows; with CR LF it quotes each of the three.
    writer = csv.writer(buffer, delimiter=sheet.delimiter, lineterminator="\r\n")
    for row in (sheet.header, *sheet.rows):
        buffer.seek(0)
        buffer.truncate()
        writer.writerow([guarded(cell) for cell in row])
        lines.append(buffer.getvalue()[:-2])
    text = sheet.newline.join(lines) + (sheet.newline if sheet.final_newline else "")
    try:
        data = text.encode(sheet.encoding)
    except UnicodeEncodeError as error:
        found = repr(text[error.start : error.end])
        raise PaletteError("This can't be written.", [Problem("a cell", found, "whole characters")]) from None
    if sheet.bom:
        data = (codecs.BOM_UTF16_LE if sheet.encoding == "utf-16-le" else codecs.BOM_UTF16_BE) + data
    return data
