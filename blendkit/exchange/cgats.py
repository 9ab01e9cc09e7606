"""CGATS.17 / ISO 28178 text: tables of measured Lab, XYZ and spectra, as measuring programs write them.

A file is a sequence of tables. Each has keywords, a list of field names between BEGIN_DATA_FORMAT and
END_DATA_FORMAT, and rows between BEGIN_DATA and END_DATA. Programs differ in much else: how spectra are
headed, whether they are fractions or per cent, whether text is quoted, tabs or blanks. All of these are
read; device values (CMYK, RGB) and densities are no colours and are left out.

Sources: ANSI CGATS.17-2009 and ISO 28178:2009 (structure, keywords, field names); ISO 13655:2017 (D50 and
2 degree where a file doesn't say). What is said of the many ways of heading spectra is common practice.
"""

import re
from dataclasses import dataclass, field

from blendkit.errors import Problem
from blendkit.exchange.records import MAX_COLOURS, refused

MAX_FIELDS = 2_000
"""Most columns that are read; spectra have some hundred. Own judgement."""

_TOKEN = re.compile(r'"((?:[^"]|"")*)"?|(#)|([^\s"#][^\s"]*)')


@dataclass(frozen=True)
class CgatsTable:
    """One table of a file, its cells still text.

    Attributes:
        keywords: what stands before the table, upper-case keyword to text; later tables inherit it.
        fields: field names as written.
        rows: one tuple of cells a sample.
        lines: the line of the file where each row begins, counted from 1.
    """

    keywords: dict[str, str]
    fields: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...] = field(repr=False)
    lines: tuple[int, ...] = field(repr=False)


def is_cgats(text: str) -> bool:
    """Tell whether a text holds a table of this format."""
    return re.search(r"^\s*BEGIN_DATA_FORMAT\b", text, re.MULTILINE | re.IGNORECASE) is not None


def _tokens(line: str) -> list[str]:
    """Split a line at blanks, keeping quoted text whole and dropping a comment."""
    found: list[str] = []
    for match in _TOKEN.finditer(line):
        if match[2] is not None:
            break
        found.append(match[1].replace('""', '"') if match[1] is not None else match[3])
    return found


class _Reader:
    """Goes through the lines once; faults are noted and reading goes on."""

    def __init__(self, label: str) -> None:
        self.label = label
        self.problems: list[Problem] = []
        self.tables: list[CgatsTable] = []
        self.keywords: dict[str, str] = {}
        self.fields: list[str] = []
        self.rows: list[tuple[int, list[str], str]] = []
        self.state = "header"
        self.opened = 0
        self.total = 0

    def fault(self, line: int, found: str, accepted: str) -> None:
        self.problems.append(Problem(f"{self.label}, line {line}", found, accepted))

    def line(self, number: int, text: str) -> None:
        tokens = _tokens(text)
        if not tokens:
            return
        word = tokens[0].upper()
        if word == "BEGIN_DATA_FORMAT":
            self._enter("format", number, word)
            self.fields = []
            self._format(number, tokens[1:])
        elif word == "END_DATA_FORMAT":
            self._leave("format", number, word)
        elif word == "BEGIN_DATA":
            self._enter("data", number, word)
            self.rows = []
        elif word == "END_DATA":
            if self._leave("data", number, word):
                self._close(number)
        elif self.state == "format":
            self._format(number, tokens)
        elif self.state == "data":
            self.total += 1
            if self.total == MAX_COLOURS + 1:
                self.fault(number, "more rows", f"at most {MAX_COLOURS}")
            if self.total <= MAX_COLOURS:
                self.rows.append((number, tokens, text))
        else:
            self._keyword(word, tokens)

    def _format(self, number: int, tokens: list[str]) -> None:
        for token in tokens:
            if token.upper() == "END_DATA_FORMAT":
                self.state = "header"
                return
            self.fields.append(token)
        if len(self.fields) > MAX_FIELDS:
            self.fault(number, f"more than {MAX_FIELDS} fields", f"at most {MAX_FIELDS}")
            self.fields = self.fields[:1]

    def _keyword(self, word: str, tokens: list[str]) -> None:
        value = " ".join(tokens[1:])
        if word == "KEYWORD" or len(self.keywords) > 1000:
            return
        if word in ("WEIGHTING_FUNCTION", "COMPUTATIONAL_PARAMETER") and word in self.keywords:
            value = f"{self.keywords[word]}; {value}"
        self.keywords[word] = value

    def _enter(self, state: str, number: int, word: str) -> None:
        if self.state != "header":
            inside = "BEGIN_DATA" if self.state == "data" else "BEGIN_DATA_FORMAT"
            closing = inside.replace("BEGIN", "END")
            self.fault(number, f"{word} inside the {inside} of line {self.opened}", f"{closing} before it")
        self.state, self.opened = state, number

    def _leave(self, state: str, number: int, word: str) -> bool:
        good = self.state == state
        if not good:
            self.fault(number, f"{word} without its beginning", word.replace("END", "BEGIN") + " before it")
        self.state = "header"
        return good

    def _number(self, keyword: str) -> int | None:
        text = self.keywords.pop(keyword, "")
        return int(text) if re.fullmatch(r"\d{1,9}", text, re.ASCII) else None

    def _close(self, number: int) -> None:
        """End a table: check its counts and make its rows as wide as its fields."""
        width = len(self.fields)
        stated_fields, stated_rows = self._number("NUMBER_OF_FIELDS"), self._number("NUMBER_OF_SETS")
        if not width:
            self.fault(self.opened, "data without field names", "BEGIN_DATA_FORMAT and names before it")
            return
        if stated_fields is not None and stated_fields != width:
            found = f"{width} field names, but NUMBER_OF_FIELDS {stated_fields}"
            self.fault(self.opened, found, f"{stated_fields} names, or NUMBER_OF_FIELDS {width}")
        rows = [(line, self._cells(tokens, text, width)) for line, tokens, text in self.rows]
        wrong = [(line, cells) for line, cells in rows if len(cells) != width]
        whole = _put_together(rows, width) if wrong and stated_rows else []
        if whole and len(whole) == stated_rows:
            rows, wrong = whole, []
        for line, cells in wrong:
            accepted = f"{width}, one for each field; a text with blanks in it needs quotes around it"
            self.fault(line, f"{len(cells)} values", accepted)
        if stated_rows is not None and stated_rows != len(rows):
            found = f"{len(rows)} rows, but NUMBER_OF_SETS {stated_rows}"
            self.fault(
                number, found, f"{stated_rows} rows, or NUMBER_OF_SETS {len(rows)}; is the file cut short?"
            )
        good = [(line, tuple(cells)) for line, cells in rows if len(cells) == width]
        names = tuple(self.fields)
        table = CgatsTable(
            dict(self.keywords), names, tuple(cells for _, cells in good), tuple(line for line, _ in good)
        )
        self.tables.append(table)

    @staticmethod
    def _cells(tokens: list[str], text: str, width: int) -> list[str]:
        """Give a row's cells; where blanks in unquoted names make too many, split at tabs instead."""
        if len(tokens) == width or "\t" not in text:
            return tokens
        cells = [cell.strip().strip('"') for cell in text.strip("\r\n").split("\t")]
        while len(cells) > width and not cells[-1]:
            cells.pop()
        return cells if len(cells) == width else tokens


def _put_together(rows: list[tuple[int, list[str]]], width: int) -> list[tuple[int, list[str]]]:
    """Give rows that were broken over lines as whole ones; none where lines don't add up to rows."""
    whole: list[tuple[int, list[str]]] = []
    for line, cells in rows:
        if whole and len(whole[-1][1]) < width:
            whole[-1][1].extend(cells)
        else:
            whole.append((line, list(cells)))
        if len(whole[-1][1]) > width:
            return []
    return whole if whole and len(whole[-1][1]) == width else []


def parse_tables(text: str, label: str) -> tuple[str, tuple[CgatsTable, ...]]:
    """Read the tables of a file, without yet asking what they mean.

    Args:
        text: the whole file.
        label: its name, for messages.

    Returns: what the file calls itself, and its tables.
    Raises: PaletteError with every line that can't be read.
    """
    reader = _Reader(label)
    lines = re.split("\r\n|\n|\r", text.replace("\x1a", ""))
    for number, line in enumerate(lines, start=1):
        reader.line(number, line)
    if reader.state != "header":
        missing = "END_DATA" if reader.state == "data" else "END_DATA_FORMAT"
        where = f"{missing}; is the file cut short?"
        reader.fault(len(lines), f"the end of the file within what line {reader.opened} began", where)
    if not reader.tables and not reader.problems:
        reader.fault(1, "no table", "BEGIN_DATA_FORMAT … END_DATA_FORMAT, then BEGIN_DATA … END_DATA")
    if reader.problems:
        raise refused(f"{label} can't be read as CGATS.17 text.", reader.problems)
    keywords = reader.keywords
    title = next((keywords[key] for key in ("FILE_DESCRIPTOR", "DESCRIPTOR") if keywords.get(key)), "")
    return title, tuple(reader.tables)
