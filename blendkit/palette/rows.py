"""From the rows of a palette file to checked records: every cell is read here, once.

Every fault of every row is gathered and reported together.
"""

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, cast

from blendkit.errors import PaletteError, Problem
from blendkit.forms import Number
from blendkit.palette.readings import (
    HEX_ACCEPTED,
    LAB_LIMITS,
    MAX_REFLECTANCE,
    REFLECTANCES,
    Given,
    given_hex,
    given_lab,
    given_spectrum,
    mean_reading,
    readings_from_given,
    spectrum_fault,
)
from blendkit.palette.records import (
    COAT_LIMIT,
    FINISHES,
    MAX_COATS,
    Blender,
    Item,
    Marker,
    Paper,
    PatternShare,
    Reading,
    StampInk,
    name_key,
)
from blendkit.palette.table import Sheet, column_key, parse_number
from blendkit.spectrum import LIGHTS, OBSERVERS

KINDS = ("marker", "paper", "ribbon", "ink")
_ROW_KINDS = (*KINDS, "blender")
COLUMNS = (
    "name", "kind", "hex", "L", "a", "b", "light", "observer", "on", "coats", "family", "finish", "pattern",
    "share", "coat_limit", "lift", "out", "price", "uncertainty", "setup", "measured", "note",
)  # fmt: skip
"""The columns that blendkit knows, besides wavelengths; a file needs name, kind and a colour."""

MAX_NAME = 120
MAX_INK_REFLECTANCE = 1.2
"""Largest reflectance of ink on paper, where the paper glows. Own judgement."""

_SCALE_255 = 60
"""a and b from which, in every row, they are no CIELAB of a drawer: on a scale of 0 to 255 greys have 128."""

MAX_ROWS = 50_000
"""Most rows that are read: four coats of 10,000 markers, and papers. Own judgement."""

_COATS, _COAT_LIMITS = Number(1, MAX_COATS, whole=True), Number(1, 20, whole=True)
_LIFT = Number(0, 1, words="a share from 0 to 1, or a percentage")
_PRICE = Number(0, 1e6, words="a price of 0 or more, without its currency")
_SHARE = Number(5e-324, 100, words="a share above 0 up to 1, or a percentage")
_UNCERTAINTY = Number(0, 100, words="a CIEDE2000 from 0 to 100, or nothing")
_OUT_WORDS = {
    **dict.fromkeys(("y", "x", "1", "true", "empty", "dry", "lent", "out", "ordered"), "yes"),
    **dict.fromkeys(("n", "0", "false", "here", "in"), "no"),
}
"""What owners write in the column out, besides yes and no: the thing isn't at hand."""
_PLAIN_NUMBERS = re.compile(r"\d+\.\d+(?:,\d+\.\d+)*", re.ASCII)
_CONTROL = re.compile("[\x00-\x1f\x7f\u2028\u2029]")
_SHARE_SLACK = 0.02
"""By how much the shares of a pattern may miss 1: they are rounded to whole hundredths. Own judgement."""


@dataclass(frozen=True)
class _Row:
    """One row, its cells read; what was at fault is None or a default."""

    line: int
    name: str
    kind: str
    coats: int
    on: str
    family: str
    finish: str
    pattern: str
    share: float
    coat_limit: int
    lift: float | None
    out: bool
    price: float | None
    note: str
    colour: Given | None


def _shown(text: str) -> str:
    """Give what was found, quoted, and cut when it is long."""
    return repr(text) if len(text) <= 60 else f"{text[:60]!r}… ({len(text)} characters)"


class _Cells:
    """The cells of one row by column key, and the list that its faults go to."""

    def __init__(self, file: str, problems: list[Problem], headings: dict[str, tuple[int, str]]) -> None:
        self.file, self.problems, self.headings = file, problems, headings
        self.line = 0
        self.cells: Sequence[str] = ()

    def __getitem__(self, key: str) -> str:
        place = self.headings.get(key)
        return self.cells[place[0]].strip() if place and place[0] < len(self.cells) else ""

    def fault(self, key: str, found: str, accepted: str) -> None:
        heading = self.headings[key][1] if key in self.headings else key
        where = f"{self.file}, line {self.line}, column {heading}"
        self.problems.append(Problem(where, found, accepted, line=self.line, key=key))

    def choice(
        self, key: str, accepted: Sequence[str], default: str, aliases: dict[str, str] | None = None
    ) -> str:
        """Give the cell as one of *accepted*, whatever its case."""
        text = self[key]
        if not text:
            return default
        folded = (aliases or {}).get(text.casefold(), text.casefold())
        for word in accepted:
            if word.casefold() == folded:
                return word
        self.fault(key, _shown(text), ", ".join(accepted))
        return default

    def number(self, key: str, limits: Number, percent: bool = False) -> float | None:
        """Give the cell as a number within its limits, None when it is blank or at fault."""
        text = self[key]
        if not text:
            return None
        value = parse_number(text)
        if value is None and percent and text.endswith("%"):
            value = parse_number(text[:-1])
            value = value / 100.0 if value is not None else None
        if value is None or not limits.fits(int(value) if limits.whole and value.is_integer() else value):
            self.fault(key, _shown(text), limits.accepted)
            return None
        return value


def things_of(sheet: Sheet, file: str) -> list[Item | Blender]:
    """Read the rows of a sheet.

    Args:
        sheet: the table.
        file: its name, for messages.

    Returns: what the rows tell of, in their order.
    Raises: PaletteError with every fault of every row.
    """
    if len(sheet.rows) > MAX_ROWS:
        many = Problem(file, f"{len(sheet.rows)} rows", f"at most {MAX_ROWS}")
        raise PaletteError(f"{file} is too long for a palette.", [many])
    problems: list[Problem] = []
    headings = _headings(sheet, file, problems)
    if problems:
        raise _refusal(file, problems)
    cells = _Cells(file, problems, headings)
    rows: list[_Row] = []
    wavelengths = dict(sorted((float(key[3:]), key) for key in headings if key.startswith("nm:")))
    for index, texts in enumerate(sheet.rows):
        if not any(text.strip() for text in texts):
            continue
        cells.line, cells.cells = sheet.line(index), texts
        rows.append(_row(cells, len(sheet.header), wavelengths))
    _check_together(rows, file, problems)
    if not problems:
        _check_sense(rows, cells, sheet, problems)
    if problems:
        raise _refusal(file, problems)
    coloured = [row for row in rows if row.kind != "blender"]
    readings = readings_from_given([cast(Given, row.colour) for row in coloured])
    blenders = [Blender(row.name, row.note, row.out, row.price) for row in rows if row.kind == "blender"]
    return [*_assembled(coloured, readings), *blenders]


_WORDS = ("family", "setup", "measured", "note")


def _check_sense(rows: list[_Row], cells: _Cells, sheet: Sheet, problems: list[Problem]) -> None:
    """Note Lab that reads well and can't be meant: cut at its decimal commas, or on a scale of 0 to 255."""
    labs = [row for row in rows if row.colour is not None and row.colour.way == "lab"]
    if not labs:
        return
    lines = {row.line for row in labs}
    texts = [row for index, row in enumerate(sheet.rows) if sheet.line(index) in lines]
    if sheet.delimiter == ",":
        lab = [cells.headings[key][0] for key in "lab"]
        words = [cells.headings[key][0] for key in _WORDS if key in cells.headings]

        def cut(row: tuple[str, ...]) -> bool:
            numbers = [place < len(row) and row[place].strip().lstrip("-").isdigit() for place in words]
            return all(row[place].strip().lstrip("-").isdigit() for place in lab) and any(numbers)

        if all(cut(row) for row in texts):
            found = (
                "whole numbers in L, a, b and numbers where words stand, as of decimal commas without quotes"
            )
            where = f"{cells.file}, line {labs[0].line}"
            accepted = "semicolons between the cells, or decimal points"
            problems.append(Problem(where, found, accepted, labs[0].line, key="l"))
    values = [row.colour.values for row in labs if row.colour is not None]
    if len(labs) >= 3 and all(value[1] >= _SCALE_255 and value[2] >= _SCALE_255 for value in values):
        where = f"{cells.file}, line {labs[0].line}"
        found = f"a and b of {_SCALE_255} or more in every row, as on a scale of 0 to 255"
        problems.append(Problem(where, found, "CIELAB: a and b about 0 for greys", labs[0].line, key="a"))


def _refusal(file: str, problems: list[Problem]) -> PaletteError:
    problems = sorted(problems, key=lambda problem: problem.line or 0)
    count = "one thing" if len(problems) == 1 else f"{len(problems)} things"
    return PaletteError(f"{file} has {count} to mend; nothing was written.", problems)


def _headings(sheet: Sheet, file: str, problems: list[Problem]) -> dict[str, tuple[int, str]]:
    """Give each known column's position and heading, having checked that the needed ones are there."""
    known = {column_key(text) for text in COLUMNS}
    headings: dict[str, tuple[int, str]] = {}
    where = f"{file}, header line"
    for index, text in enumerate(sheet.header):
        key = column_key(text)
        if key not in known and not key.startswith("nm:"):
            if "illuminant" in key:
                accepted = "two columns, light and observer"
                problems.append(Problem(where, f"a column {text.strip()!r}", accepted, key=key))
            continue
        if key in headings:
            problems.append(Problem(where, f"two columns {text.strip()!r}", "each column once"))
        headings.setdefault(key, (index, text.strip()))
    columns = ", ".join(text.strip() or "(blank)" for text in sheet.header[:30])
    for key in ("name", "kind"):
        if key not in headings:
            problems.append(Problem(where, f"no column {key} among {columns}", f"a column headed {key}"))
    lab = [letter for letter in "Lab" if letter.casefold() in headings]
    spectrum = any(key.startswith("nm:") for key in headings)
    if lab and len(lab) < 3:
        problems.append(
            Problem(where, f"only {' and '.join(lab)} of L, a, b", "all three of L, a, b, or none")
        )
    elif not lab and not spectrum and "hex" not in headings:
        ways = "a column hex, or columns L, a, b, or columns headed by wavelength (400, 410, … 700)"
        problems.append(Problem(where, f"no column for a colour among {columns}", ways))
    return headings


def _row(cells: _Cells, width: int, wavelengths: dict[float, str]) -> _Row:
    """Read one row; faults are noted and reading goes on."""
    extra = [text for text in cells.cells[width:] if text.strip()]
    if extra:
        accepted = (
            f"{width} cells, as in the header; a cell that holds the separator, such as a decimal comma, "
            "needs quotes around it"
        )
        where = f"{cells.file}, line {cells.line}"
        cells.problems.append(
            Problem(where, f"{len(cells.cells)} cells, the last {_shown(extra[-1])}", accepted, cells.line)
        )
    name = cells["name"]
    pattern = cells["pattern"]
    if not name and not pattern:
        cells.fault("name", "no name", "a name")
    for key, text in (("name", name), ("pattern", pattern)):
        if len(text) > MAX_NAME:
            cells.fault(key, f"{len(text)} characters", f"at most {MAX_NAME} characters")
        elif _CONTROL.search(text):
            cells.fault(key, _shown(text), "one line of plain text")
    kind = cells.choice("kind", _ROW_KINDS, "")
    if not kind and not cells["kind"]:
        cells.fault("kind", "nothing", ", ".join(_ROW_KINDS))
    finish = cells.choice("finish", FINISHES, "matt", {"matte": "matt", "glossy": "gloss"})
    coats = cells.number("coats", _COATS)
    if coats is not None and coats > 1 and kind and kind != "marker":
        cells.fault("coats", f"{coats:g} for {kind}", "1 or nothing: only markers have coats")
    limit = cells.number("coat_limit", _COAT_LIMITS)
    if limit is not None and kind in ("marker", "ink"):
        cells.fault("coat_limit", f"{limit:g} for {kind}", "nothing: only papers and ribbons have a limit")
    lift = cells.number("lift", _LIFT, percent=True)
    if lift is not None and (kind != "marker" or (coats or 1) != 1):
        cells.fault("lift", f"{lift:g} for {kind}", "nothing: only one coat of a marker has a lift")
    if cells["on"] and kind in ("paper", "ribbon"):
        cells.fault(
            "on", f"{_shown(cells['on'])} for {kind}", "nothing: only markers and inks lie on a paper"
        )
    out = cells.choice("out", ("yes", "no"), "no", _OUT_WORDS)
    price = cells.number("price", _PRICE)
    share = cells.number("share", _SHARE, percent=True)
    if pattern and kind in ("marker", "ink"):
        cells.fault(
            "pattern", f"{_shown(pattern)} for {kind}", "nothing: only papers and ribbons have a pattern"
        )
    elif pattern and not cells["share"]:
        cells.fault("share", "nothing", "the share of the area that this colour of the pattern has")
    elif cells["share"] and not pattern:
        cells.fault(
            "share", _shown(cells["share"]), "nothing, or the name of a pattern in the column pattern"
        )
    colour = _colour(cells, wavelengths, kind)
    if colour is not None and colour.way == "spectrum" and kind in ("marker", "ink"):
        most = float(colour.values.max())
        if most > MAX_INK_REFLECTANCE:
            key = wavelengths[colour.nm[int(colour.values.argmax())]]
            cells.fault(
                key, f"{most:g}", f"at most {MAX_INK_REFLECTANCE:g}: ink on paper is no lighter than that"
            )
    return _Row(
        line=cells.line,
        name=name,
        kind=kind,
        coats=int(coats or 1),
        on=cells["on"],
        family=cells["family"],
        finish=finish,
        pattern=pattern,
        share=share or 0.0,
        coat_limit=int(limit or COAT_LIMIT),
        lift=lift,
        out=out == "yes",
        price=price,
        note=cells["note"],
        colour=colour,
    )


def _colour(cells: _Cells, wavelengths: dict[float, str], kind: str) -> Given | None:
    """Read the one colour of a row with what is said of its measurement, or note what is wrong with it."""
    light = cells.choice("light", tuple(LIGHTS), "D50")
    observer = _observer(cells)
    uncertainty = cells.number("uncertainty", _UNCERTAINTY)
    lab_cells = [letter for letter in "Lab" if cells[letter.casefold()]]
    bands = [nm for nm, key in wavelengths.items() if cells[key]]
    ways = [way for way, given in (("hex", cells["hex"]), ("Lab", lab_cells), ("spectrum", bands)) if given]
    if not ways and kind == "blender":
        return None
    if not ways:
        every = ("hex", "l", next(iter(wavelengths.values()), ""))
        column = next(key for key in every if key in cells.headings)
        cells.fault(column, "no colour", "one colour: hex, or L, a and b, or a spectrum")
        return None
    if len(ways) > 1:
        cells.fault("hex" if cells["hex"] else "l", " and ".join(ways), "the colour given one way only")
        return None
    colour: Given | None
    if ways == ["hex"]:
        colour = given_hex(cells["hex"])
        if colour is None:
            cells.fault("hex", _shown(cells["hex"]), HEX_ACCEPTED)
    elif lab_cells:
        colour = _lab(cells, lab_cells, light, observer)
    else:
        colour = _spectrum(cells, wavelengths, bands)
    if colour is None:
        return None
    return replace(colour, uncertainty=uncertainty, setup=cells["setup"], measured=cells["measured"])


def _observer(cells: _Cells) -> int:
    """Read ``2``, ``10``, ``10°`` or ``10 deg``."""
    text = cells["observer"]
    match = re.fullmatch(r"(2|10)(?:\.0*)? ?(?:°|deg|degree|degrees)?", text.casefold())
    if text and match is None:
        cells.fault("observer", _shown(text), " or ".join(map(str, OBSERVERS)))
    return int(match[1]) if match is not None else 2


def _lab(cells: _Cells, given: list[str], light: str, observer: int) -> Given | None:
    for letter in "Lab":
        if letter not in given:
            cells.fault(letter.casefold(), "nothing", f"a number, since {' and '.join(given)} stands there")
    values = [cells.number(letter.casefold(), LAB_LIMITS[letter]) for letter in given]
    lab = [value for value in values if value is not None]
    return given_lab(lab, light, observer) if len(lab) == 3 else None


def _spectrum(cells: _Cells, wavelengths: dict[float, str], bands: list[float]) -> Given | None:
    span = [nm for nm in wavelengths if bands[0] <= nm <= bands[-1]]
    fault = spectrum_fault(bands, bands == span)
    if fault:
        missing = next((nm for nm in span if nm not in bands), bands[0])
        found = f"{len(bands)} values from {bands[0]:g} to {bands[-1]:g} nm"
        cells.fault(wavelengths[missing], found, fault)
        return None
    texts = [cells[wavelengths[nm]] for nm in bands]
    if _PLAIN_NUMBERS.fullmatch(",".join(texts)):  # the usual case, in one look
        plain = [float(text) for text in texts]
        if max(plain) <= MAX_REFLECTANCE:
            return given_spectrum(bands, plain)
    reflectance = []
    for nm in bands:
        value = cells.number(wavelengths[nm], REFLECTANCES, percent=True)
        reflectance += [] if value is None else [value]
    return given_spectrum(bands, reflectance) if len(reflectance) == len(bands) else None


# ---------------------------------------------------------------- rows together


def _check_together(rows: list[_Row], file: str, problems: list[Problem]) -> None:
    """Note what no single row shows: names taken twice, papers that are missing, shares amiss."""

    def fault(row: _Row, column: str, found: str, accepted: str) -> None:
        where = f"{file}, line {row.line}, column {column}"
        problems.append(Problem(where, found, accepted, line=row.line, key=column))

    papers = {name_key(row.name): row.name for row in rows if row.kind == "paper" and not row.pattern}
    first_of: dict[str, _Row] = {}
    coats_of: dict[tuple[str, int], _Row] = {}
    patterns: dict[str, list[_Row]] = defaultdict(list)
    marked: dict[str, list[_Row]] = defaultdict(list)
    for row in rows:
        key = name_key(row.name)
        if row.pattern and row.kind in ("paper", "ribbon"):
            patterns[name_key(row.pattern)].append(row)
        if key:
            first = first_of.setdefault(key, row)
            both_markers = first.kind == row.kind == "marker"
            if both_markers:
                marked[key].append(row)
                twin = coats_of.setdefault((key, row.coats), row)
                if twin is not row:
                    coats = "one coat" if row.coats == 1 else f"{row.coats} coats"
                    found = f"{row.name!r} with {coats}, as on line {twin.line}"
                    fault(row, "name", found, "each name once, or once for each number of coats of a marker")
            elif first is not row:
                fault(row, "name", f"{row.name!r}, as on line {first.line}", "each name once")
        if row.on and row.kind in ("marker", "ink") and name_key(row.on) not in papers:
            some = "; ".join(list(papers.values())[:5]) or "none: this file has no plain paper"
            fault(row, "on", _shown(row.on), f"a plain paper of this file, such as {some}")
    for group in marked.values():
        if not any(row.coats == 1 for row in group):
            fault(
                group[0], "coats", f"{group[0].name!r} without a row of one coat", "a row with coats 1, too"
            )
        for column, values in (("on", [row.on for row in group]), ("family", [row.family for row in group])):
            stated = {name_key(value): value for value in values if value}
            if len(stated) > 1:
                fault(
                    group[0],
                    column,
                    " and ".join(stated.values()),
                    f"one {column} in all rows of {group[0].name!r}",
                )
    for key, group in patterns.items():
        taken = first_of.get(key)
        if taken is not None and taken not in group:
            fault(
                group[0],
                "pattern",
                f"{group[0].pattern!r}, the name on line {taken.line}",
                "a name of its own",
            )
        kinds = {row.kind for row in group}
        if len(kinds) > 1:
            fault(
                group[0], "kind", " and ".join(sorted(kinds)), f"one kind in all rows of {group[0].pattern!r}"
            )
        total = sum(row.share for row in group)
        scale = 100.0 if total > 1 + _SHARE_SLACK else 1.0
        if all(row.share for row in group) and abs(total / scale - 1.0) > _SHARE_SLACK:
            found = f"shares of {group[0].pattern!r} that sum to {total:g}"
            fault(group[0], "share", found, "shares that sum to 1 (or 100), within 2 in 100")


def _assembled(rows: list[_Row], readings: list[Reading]) -> list[Item]:
    """Make the records of checked rows: rows of one marker or one pattern become one."""
    groups: dict[tuple[str, str], list[int]] = defaultdict(list)
    for index, row in enumerate(rows):
        kind = row.kind if row.kind in ("marker", "ink") else "sheet"
        groups[(kind, name_key(row.pattern or row.name))].append(index)
    things: list[Item] = []

    def price(among: list[int]) -> float | None:
        return next((rows[index].price for index in among if rows[index].price is not None), None)

    for indices in groups.values():
        head = rows[indices[0]]

        def said(field_name: str, default: str = "", among: list[int] = indices) -> str:
            values = (str(getattr(rows[index], field_name)) for index in among)
            return next((value for value in values if value != default), default)

        if head.kind == "marker":
            paired = sorted(
                ((rows[index].coats, readings[index]) for index in indices), key=lambda pair: pair[0]
            )
            on = _name_of(rows, said("on"))
            things.append(
                Marker(
                    head.name,
                    tuple(paired),
                    on,
                    said("family"),
                    said("finish", "matt"),
                    said("note"),
                    any(rows[index].out for index in indices),
                    price(indices),
                    next((rows[index].lift for index in indices if rows[index].lift is not None), None),
                )
            )
        elif head.kind == "ink":
            things.append(
                StampInk(
                    head.name, readings[indices[0]], head.finish, head.family, head.note, head.out, head.price
                )
            )
        else:
            kind = cast(Literal["paper", "ribbon"], head.kind)
            pattern = _pattern([(rows[index], readings[index]) for index in indices]) if head.pattern else ()
            limits = [rows[index].coat_limit for index in indices]
            things.append(
                Paper(
                    head.pattern or head.name,
                    kind,
                    mean_reading(pattern) if pattern else readings[indices[0]],
                    said("finish", "matt"),
                    next((limit for limit in limits if limit != COAT_LIMIT), COAT_LIMIT),
                    said("family"),
                    pattern,
                    said("note"),
                    any(rows[index].out for index in indices),
                    price(indices),
                )
            )
    return things


def _name_of(rows: list[_Row], on: str) -> str:
    """Give the paper's name as its own row writes it."""
    return next((row.name for row in rows if row.kind == "paper" and name_key(row.name) == name_key(on)), on)


def _pattern(parts: list[tuple[_Row, Reading]]) -> tuple[PatternShare, ...]:
    """Give the colours of a pattern, shares made to sum to 1, largest first."""
    total = sum(row.share for row, _ in parts)
    shares = [
        PatternShare(row.name or f"{row.pattern} {number}", reading, row.share / total)
        for number, (row, reading) in enumerate(parts, start=1)
    ]
    return tuple(sorted(shares, key=lambda part: -part.share))
