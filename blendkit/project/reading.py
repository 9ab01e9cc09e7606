"""Reading a project file: TOML, written by hand as readily as by blendkit, checked whole before it is used.

:mod:`blendkit.project.writing` writes it so that comments stay.
"""

import difflib
import os
import re
import textwrap
from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields, replace
from pathlib import Path
from typing import Any, TypeVar, cast

from blendkit.advice.kit import DEFAULT_TOLERANCE, Target
from blendkit.advice.order import STYLES
from blendkit.advice.pairs import find_pair
from blendkit.art.material import MATERIALS
from blendkit.art.region_edits import Edits, edits_from_table
from blendkit.errors import Problem, ProjectError
from blendkit.files import read_whole
from blendkit.palette import Palette, name_key, read_palette
from blendkit.project.records import (
    HIGHLIGHTS,
    NO_SHADOW,
    PAGES,
    ROLES,
    SHEETS,
    SPIKES,
    UNITS,
    Cut,
    Front,
    Greeting,
    Loop,
    Point,
    Project,
    ProjectPaper,
    ProjectPart,
    Spot,
    read_light,
)

MAX_PROJECT_MB = 4
MAX_PARTS = 400
MAX_PLACES = 4000
MOST_BROKEN = 20
"""Lines that can't be read which are told before the rest of the file is given up."""

MOST_MENDED = 200_000
"""Letters of a longer file, which is given up at the first such line."""

_LINE = re.compile(r"\s*([A-Za-z0-9_-]+)\s*=")
_OPENED = re.compile(r"\s*\[\[?\s*([A-Za-z0-9_-]+)\s*\]")


def read_project(path: str | os.PathLike[str]) -> Project:
    """Read a project file.

    Args:
        path: a TOML file as described in the README; nothing is written.

    Returns: the project; whether its markers and areas exist is for the palette and the image to say.
    Raises: ProjectError for a file that can't be read, with every fault in it.
    """
    file = Path(path)
    return project_from_text(read_project_text(file), file)


def read_faulty_project(path: str | os.PathLike[str]) -> tuple[Project, tuple[Problem, ...]]:
    """Read what can be read of a project file, with every fault in it; what is faulty stands at its default.

    Raises: ProjectError for a file that is no TOML.
    """
    file = Path(path)
    return _project_and_faults(read_project_text(file), file)


def read_project_text(file: Path) -> str:
    """Give the text of a project file. Raises: ProjectError in a sentence."""
    limit = MAX_PROJECT_MB * 1_000_000
    accepted = f"a TOML text file of at most {MAX_PROJECT_MB} MB, such as project.toml"
    data = read_whole(file, limit, accepted, ProjectError)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise ProjectError(
            f"{file} is no text in UTF-8, so it is no project file.",
            [Problem(f"{file.name}, byte {error.start}", f"0x{data[error.start]:02x}", accepted)],
        ) from None


def project_from_text(text: str, path: Path | None = None) -> Project:
    """Read a project from TOML text.

    Args:
        text: the text.
        path: the file that it stands in, for relative paths and messages.

    Returns: the project.
    Raises: ProjectError with every fault.
    """
    project, problems = _project_and_faults(text, path)
    if problems:
        where = path.name if path is not None else "project"
        count = "one thing" if len(problems) == 1 else f"{len(problems)} things"
        raise ProjectError(f"{where} has {count} to mend.", problems)
    return project


def _project_and_faults(text: str, path: Path | None) -> tuple[Project, tuple[Problem, ...]]:
    where = path.name if path is not None else "project"
    table, broken, left_out = _parse(text, where)
    project, problems = _project(table, path, where)
    # what stands in a line that can't be read is not missing
    kept = [problem for problem in problems if not _only_left_out(problem, left_out)]
    return project, (*broken, *(_with_line(problem, text) for problem in kept))


def _parse(text: str, where: str) -> tuple[dict[str, Any], list[Problem], set[str]]:
    """Read TOML, leaving out lines "key = value" that can't be read.

    Returns: the table; the faults of its text; where the keys stand that were left out.
    Raises: ProjectError where the text can't be read even so.
    """
    import tomlkit
    from tomlkit.exceptions import ParseError, TOMLKitError

    lines = text.splitlines(keepends=True)
    broken: list[Problem] = []
    left_out: set[str] = set()
    while True:
        try:
            return tomlkit.parse("".join(lines)).unwrap(), broken, left_out
        except ParseError as error:
            words = str(error).removesuffix(f" at line {error.line} col {error.col}")
            if words.startswith("Control characters"):
                words = "a quote that is not closed"
            place = f"{where}, line {error.line}, column {error.col}"
            # an error at a line's end is told at the start of the next
            row = error.line - 1 if error.col > 0 or error.line == 1 else error.line - 2
            line = lines[row] if row < len(lines) else ""
            key = _LINE.match(line)
            if key is not None:
                words += f", about “{textwrap.shorten(line, 50, placeholder=' …')}”"
            fault = Problem(place, words, 'lines such as: base = "moss"')
            if key is None or len(broken) >= MOST_BROKEN or len(text) > MOST_MENDED:
                raise _unreadable(where, [*broken, fault]) from None
            broken.append(fault)
            left_out.add(_place_of_key(where, lines[:row], key[1]))
            lines[row] = "\n"
        except TOMLKitError as error:
            raise _unreadable(where, [*broken, Problem(where, str(error), "each key once")]) from None


def _unreadable(where: str, problems: Sequence[Problem]) -> ProjectError:
    return ProjectError(f"{where} is not readable as TOML.", problems)


def _place_of_key(where: str, before: Sequence[str], key: str) -> str:
    """How a fault of a key is placed, by the tables that are opened before it."""
    opened = [found[1] for found in map(_OPENED.match, before) if found is not None]
    if not opened:
        return f"{where}, {key}"
    rows = {"parts": "part", "papers": "paper"}
    table = opened[-1]
    inside = f"{rows[table]} {opened.count(table)}" if table in rows else table
    return f"{where}, {inside}, {key}"


def _only_left_out(problem: Problem, left_out: set[str]) -> bool:
    """Whether a fault only says that a key is missing whose line could not be read."""
    place = re.sub(r" \(.*\), ", ", ", problem.where)
    around = {place.removesuffix("at") + key for key in ("at", "areas", "around", "rest")}
    return problem.found == "nothing" and bool(
        left_out & ({place} | (around if place.endswith(", at") else set()))
    )


def targets_of(
    project: Project, tolerance: float = DEFAULT_TOLERANCE, palette: Palette | None = None
) -> tuple[Target, ...]:
    """Give the colours that a project needs, for ``advice.kit.find_kit``.

    Args:
        project: the project.
        tolerance: CIEDE2000 that a stand-in may be off.
        palette: the drawer that chooses a shadow where a part names none; None for the project's own palette
            file, and if it names none either, only what the parts name is asked for.

    Returns: base, shadow and light of each part that is coloured, in order, each with its role.
    Raises: PaletteError for a palette or a name that is not there.
    """
    if palette is None and project.palette_path is not None:
        palette = read_palette(project.palette_path)
    targets: list[Target] = []
    for part in project.parts:
        if part.leave_white or not part.base:
            continue
        shadow = part.shadow
        if not shadow and palette is not None:
            best = find_pair(palette, part.base, on=project.paper or None, count=1).shadow[:1]
            shadow = best[0].name if best and best[0].fits and best[0].how == "marker" else ""
        wanted = {
            "base": part.base,
            "shadow": "" if shadow == NO_SHADOW else shadow,
            "light": part.light,
        }
        targets += [Target(name, tolerance, f"{part.name}, {role}") for role, name in wanted.items() if name]
    return tuple(targets)


def _with_line(problem: Problem, text: str) -> Problem:
    """Add its line to the fault of a key that isn't known, where that key stands in one line alone."""
    if problem.found != f"the key “{problem.key}”":
        return problem
    begins = re.compile(rf"""\s*(\[\[?\s*)?["']?{re.escape(problem.key)}["']?\s*[]=.]""")
    lines = [number for number, line in enumerate(text.splitlines(), 1) if begins.match(line)]
    if len(lines) != 1:
        return problem
    return replace(problem, where=f"{problem.where}, line {lines[0]}", line=lines[0])


# ---------------------------------------------------------------- reading a table

_T = TypeVar("_T")


class _Table:
    """One table of the file: takes its keys one by one, and notes what is wrong with them."""

    def __init__(self, table: Mapping[str, Any], where: str, problems: list[Problem]) -> None:
        self.table = table
        self.where = where
        self.problems = problems
        self.taken: set[str] = set()

    def fault(self, key: str, found: Any, accepted: str) -> None:
        """Note a fault; *found* within “ ” is told as words, everything else as it was typed."""
        words = isinstance(found, str) and found.startswith("“")
        shown = found.strip("“”") if words else _shown(found)
        self.problems.append(Problem(f"{self.where}, {key}", shown, accepted, key=key))

    def raw(self, key: str) -> Any:
        self.taken.add(key)
        return self.table.get(key)

    def text(self, key: str, default: str = "", needed: str = "") -> str:
        value = self.raw(key)
        if value is None and not needed:
            return default
        if not isinstance(value, str) or (needed and not value.strip()):
            self.fault(key, "“nothing”" if value is None else value, needed or 'words between quotes, "…"')
            return default
        return value.strip("\n") if "\n" in value else value.strip()

    def number(self, key: str, low: float, high: float, unit: str) -> float | None:
        value = self.raw(key)
        if value is None:
            return None
        right = isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high
        if not right:
            self.fault(key, value, f"a number from {low:g} to {high:g} {unit}".strip())
            return None
        return float(value)

    def flag(self, key: str) -> bool:
        value = self.raw(key)
        if value is not None and not isinstance(value, bool):
            self.fault(key, value, "true or false")
        return value is True

    def choice(self, key: str, among: Sequence[str], default: str) -> str:
        value = self.text(key, default)
        if value not in among:
            self.fault(key, value, ", ".join(among))
            return default
        return value

    def rows(self, key: str, most: int) -> list[Any]:
        value = self.raw(key)
        if value is None:
            return []
        if not isinstance(value, list) or len(value) > most:
            found = f"{len(value)} entries" if isinstance(value, list) else _shown(value)
            self.fault(key, f"“{found}”", f"a list of at most {most}")
            return []
        return value

    def tables(self, key: str, most: int, example: str) -> list[Mapping[str, Any]]:
        rows = self.rows(key, most)
        for row in rows:
            if not isinstance(row, Mapping):
                self.fault(key, row, f"tables, each opened by {example}")
                return []
        return rows

    def sub(self, key: str) -> "_Table | None":
        value = self.raw(key)
        if value is None:
            return None
        if not isinstance(value, Mapping):
            self.fault(key, value, f"a table, opened by [{key}]")
            return None
        return _Table(value, f"{self.where}, {key}", self.problems)

    def done(self, known: Sequence[str]) -> None:
        """Note every key that nobody asked for."""
        for key in self.table:
            if key not in self.taken:
                near = difflib.get_close_matches(key, known, n=3, cutoff=0.5)
                accepted = ", ".join(near or known)
                self.problems.append(Problem(self.where, f"the key “{key}”", accepted, key=key))


def _shown(value: Any) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:57] + "…"


def _is_point(value: Any) -> bool:
    return (
        isinstance(value, list)
        and len(value) == 2
        and all(isinstance(v, int | float) and not isinstance(v, bool) for v in value)
        and all(-1000 <= v <= 5000 for v in value)
    )


def _spot(value: Any) -> Spot | None:
    if isinstance(value, int) and not isinstance(value, bool) and value >= 1:
        return value
    return (float(value[0]), float(value[1])) if _is_point(value) else None


_PLACE_WORDS = "a place [x, y] in mm, or a list of such places"


def _places(table: _Table, key: str) -> tuple[Point, ...]:
    value = table.raw(key)
    if value is None:
        return ()
    rows = [value] if _is_point(value) else value
    if not isinstance(rows, list) or not rows or len(rows) > MAX_PLACES:
        table.fault(key, value, f"{_PLACE_WORDS}; area numbers go into areas")
        return ()
    for row in rows:
        if not _is_point(row):
            table.fault(key, row, f"{_PLACE_WORDS}; area numbers go into areas")
            return ()
    return tuple((float(x), float(y)) for x, y in rows)


def _numbers(table: _Table, key: str) -> tuple[int, ...]:
    value = table.raw(key)
    rows = value if isinstance(value, list) else [] if value is None else [value]
    for row in rows:
        if not isinstance(row, int) or isinstance(row, bool) or row < 1:
            table.fault(key, row, "the number of an area from 1, or a list of them")
            return ()
    return tuple(rows)


def _loops(table: _Table, key: str) -> tuple[Loop, ...]:
    rows = table.rows(key, MAX_PLACES)
    if not rows:
        return ()
    loops = [rows] if _is_point(rows[0]) else rows
    for loop in loops:
        if not isinstance(loop, list) or len(loop) < 3 or not all(_is_point(row) for row in loop):
            table.fault(
                key, loop, "three or more places [x, y] in mm around some areas, or a list of such loops"
            )
            return ()
    return tuple(tuple((float(x), float(y)) for x, y in loop) for loop in loops)


def _ends(table: _Table, key: str) -> tuple[Front, ...]:
    fronts: list[Front] = []
    for row in table.rows(key, MAX_PLACES):
        ends = [end if isinstance(end, str) else _spot(end) for end in row] if isinstance(row, list) else []
        if len(ends) != 2 or None in ends:
            table.fault(
                key, row, "[what lies in front, what lies behind], each a part's name, an area or a place"
            )
        else:
            fronts.append(cast(Front, tuple(ends)))
    return tuple(fronts)


def _noted(table: _Table, key: str, make: Callable[[], _T], default: _T) -> _T:
    """What *make* gives, or *default* with its error noted."""
    try:
        return make()
    except ProjectError as error:
        if error.problems:
            table.problems += error.problems
        else:
            table.fault(key, "“" + _shown(table.table.get(key)) + "”", error.message)
        return default


def _light(table: _Table) -> str:
    value = table.raw("light")
    if value is None:
        return "10:30"
    if isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= 1e300:
        # a whole number up to 12 is a clock position; every other number is degrees
        return f"{value}" if isinstance(value, int) and 1 <= value <= 12 else f"{value:g}°"
    accepted = 'a clock position such as "10:30", or degrees such as "315°"'
    if not isinstance(value, str):
        table.fault("light", value, accepted)
        return "10:30"
    try:
        read_light(value)
    except ProjectError:
        table.fault("light", value, accepted)
        return "10:30"
    return value.strip()


def _project(table: Mapping[str, Any], path: Path | None, where: str) -> tuple[Project, list[Problem]]:
    problems: list[Problem] = []
    top = _Table(table, where, problems)
    image = top.text("image", needed="the line image's file name")
    dpi = top.number("dpi", 30, 4800, "pixels an inch")
    width_mm = top.number("width_mm", 5, 2000, "mm")
    if dpi is not None and width_mm is not None:
        top.fault("width_mm", "“both dpi and width_mm”", "one of them: the scale is stated once")
    shadow_mm = top.number("shadow_mm", 0.2, 100, "mm")
    softness_mm = top.number("softness_mm", 0.1, 100, "mm")
    parts = tuple(
        _part(row, f"{where}, part {number}", problems)
        for number, row in enumerate(top.tables("parts", MAX_PARTS, "[[parts]]"), 1)
    )
    _check_names(parts, where, problems)
    papers = tuple(
        _paper(row, f"{where}, paper {number}", problems)
        for number, row in enumerate(top.tables("papers", 40, "[[papers]]"), 1)
    )
    edits = top.sub("edits")
    project = Project(
        image=image,
        path=path,
        name=top.text("name"),
        dpi=dpi,
        width_mm=width_mm,
        light=_light(top),
        palette=top.text("palette"),
        paper=top.text("paper"),
        outline=top.text("outline"),
        shadow_mm=4.0 if shadow_mm is None else shadow_mm,
        softness_mm=2.4 if softness_mm is None else softness_mm,
        gap_pen_widths=top.number("gap_pen_widths", 0, 20, "pen widths"),
        page=top.choice("page", PAGES, PAGES[0]),
        units=top.choice("units", UNITS, "") if "units" in table else "",
        sheet=top.choice("sheet", SHEETS, SHEETS[0]),
        parts=parts,
        fronts=_ends(top, "fronts"),
        edits=Edits()
        if edits is None
        else _noted(top, "edits", lambda: edits_from_table(edits.table), Edits()),
        papers=papers,
        greeting=_greeting(top.sub("greeting")),
        cut=_cut(top.sub("cut")),
        notes=top.text("notes"),
    )
    _check_fronts(project, where, problems)
    top.done([one.name for one in fields(Project) if one.name != "path"])
    return project, problems


def _part(row: Mapping[str, Any], where: str, problems: list[Problem]) -> ProjectPart:
    table = _Table(row, where, problems)
    name = table.text("name", needed="the part's name, such as scarf")
    if name:
        table.where = f"{where} ({name})"
    highlight = table.choice("highlight", HIGHLIGHTS, "") if "highlight" in row else None
    part = ProjectPart(
        name=name,
        at=_places(table, "at"),
        areas=_numbers(table, "areas"),
        around=_loops(table, "around"),
        rest=table.flag("rest"),
        base=table.text("base"),
        shadow=table.text("shadow"),
        light=table.text("light"),
        highlight=highlight or None,
        leave_white=table.flag("leave_white"),
        shadow_mm=table.number("shadow_mm", 0.2, 100, "mm"),
        softness_mm=table.number("softness_mm", 0.1, 100, "mm"),
        order=table.choice("order", STYLES, STYLES[0]),
        material=table.choice("material", tuple(MATERIALS), "") if "material" in row else "",
        dark=_places(table, "dark"),
        bright=_places(table, "bright"),
        note=table.text("note"),
    )
    table.done([one.name for one in fields(ProjectPart)])
    if not part.rest and not {"at", "areas", "around"} & set(row):
        table.fault("at", "“nothing”", f"{_PLACE_WORDS}; or areas, around, or rest = true")
    if part.highlight == "light" and not part.light:
        table.fault("highlight", "light", "a light marker as well, or highlight = paper or none")
    if part.leave_white and (part.base or part.light):
        table.fault("leave_white", "“true, and markers too”", "either markers or leave_white = true")
    return part


def _check_names(parts: Sequence[ProjectPart], where: str, problems: list[Problem]) -> None:
    seen: dict[str, int] = {}
    for number, part in enumerate(parts, 1):
        key = name_key(part.name)
        if key and key in seen:
            other = f"a name unlike part {seen[key]}'s; one part may have many places"
            problems.append(Problem(f"{where}, part {number}, name", repr(part.name), other))
        seen.setdefault(key, number)
    rests = [part.name for part in parts if part.rest]
    if len(rests) > 1:
        problems.append(Problem(f"{where}, rest", ", ".join(rests), "one part at most that takes the rest"))


def _check_fronts(project: Project, where: str, problems: list[Problem]) -> None:
    for number, front in enumerate(project.fronts, 1):
        for end in front:
            if isinstance(end, str):
                try:
                    project.part(end)
                except ProjectError as error:
                    accepted = error.problems[0].accepted
                    problems.append(Problem(f"{where}, fronts, entry {number}", repr(end), accepted))


def _paper(row: Mapping[str, Any], where: str, problems: list[Problem]) -> ProjectPaper:
    table = _Table(row, where, problems)
    paper = ProjectPaper(
        role=table.choice("role", ROLES, ROLES[1]),
        name=table.text("name", needed="a paper's or ribbon's name"),
        width_mm=table.number("width_mm", 1, 2000, "mm"),
        height_mm=table.number("height_mm", 1, 2000, "mm"),
    )
    table.done([one.name for one in fields(ProjectPaper)])
    return paper


def _greeting(table: _Table | None) -> Greeting | None:
    if table is None:
        return None
    size = table.number("size_pt", 3, 400, "pt")
    greeting = Greeting(
        words=table.text("words", needed="the words"),
        ink=table.text("ink", needed="a stamp ink's name"),
        size_pt=18.0 if size is None else size,
        bold=table.flag("bold"),
        on=table.text("on"),
    )
    table.done([one.name for one in fields(Greeting)])
    return greeting


def _cut(table: _Table | None) -> Cut:
    if table is None:
        return Cut()
    rim = table.number("rim_mm", 0, 50, "mm")
    thin = table.number("thin_mm", 0.1, 20, "mm")
    plain = Cut()
    cut = Cut(
        rim_mm=plain.rim_mm if rim is None else rim,
        spikes=table.choice("spikes", SPIKES, SPIKES[0]),
        thin_mm=plain.thin_mm if thin is None else thin,
        leave=_places(table, "leave"),
    )
    table.done([one.name for one in fields(Cut)])
    return cut
