"""Reading a project file: TOML, written by hand as readily as by blendkit, checked whole before it is used.

:mod:`blendkit.project.writing` writes it so that comments stay.
"""

import json
import os
import re
import textwrap
from collections import Counter
from collections.abc import Sequence
from functools import cached_property
from pathlib import Path
from typing import Any

from blendkit.advice.kit import DEFAULT_TOLERANCE, Target
from blendkit.advice.pairs import find_pair
from blendkit.errors import Problem, ProjectError
from blendkit.files import read_whole
from blendkit.forms import UNREAD, At, read_form
from blendkit.palette import Palette, name_key, read_palette
from blendkit.project.records import NO_SHADOW, Project, ProjectPart

MAX_PROJECT_MB = 4
MOST_BROKEN = 20
"""Lines that can't be read which are told before the rest of the file is given up."""

MOST_MENDED = 200_000
"""Letters of a longer file, which is given up at the first such line."""

_LINE = re.compile(r"\s*([A-Za-z0-9_-]+)\s*=")
_OPENED = re.compile(r"\s*(\[\[?)\s*([A-Za-z0-9_-]+)\s*\]")


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
        raise to_mend(path.name if path is not None else "project", problems)
    return project


def to_mend(where: str, problems: Sequence[Problem]) -> ProjectError:
    """The error that tells what is wrong in a project."""
    count = "one thing" if len(problems) == 1 else f"{len(problems)} things"
    return ProjectError(f"{where} has {count} to mend.", problems)


def _project_and_faults(text: str, path: Path | None) -> tuple[Project, tuple[Problem, ...]]:
    where = path.name if path is not None else "project"
    table, problems = _parse(text, where)
    at = At(where, problems, line_of=_Lines(text).of)
    project = read_form(Project, table, at, path=path)
    if project.dpi is not None and project.width_mm is not None:
        accepted = "one of them: the scale is stated once"
        at.of("width_mm").fault("both dpi and width_mm", accepted, words=True)
    _check_names(project.parts, at)
    _check_fronts(project, at)
    return project, tuple(problems)


class _Lines:
    """In which line each key of a TOML text stands; looked for only when there is a fault to tell."""

    def __init__(self, text: str) -> None:
        self.text = text

    def of(self, path: tuple[str | int, ...]) -> int | None:
        """The line of a key, or of the table around it where the key isn't there."""
        while path and path not in self._lines:
            path = path[:-1]
        return self._lines.get(path)

    @cached_property
    def _lines(self) -> dict[tuple[str | int, ...], int]:
        lines: dict[tuple[str | int, ...], int] = {}
        opened: tuple[str | int, ...] = ()
        rows: Counter[str] = Counter()
        closing = ""
        for number, line in enumerate(self.text.splitlines(), 1):
            if closing:
                closing = "" if closing in line else closing
            elif (found := _OPENED.match(line)) is not None:
                opened = (found[2],)
                if found[1] == "[[":
                    rows[found[2]] += 1
                    opened = (found[2], rows[found[2]])
                lines.setdefault(opened, number)
            elif (found := _LINE.match(line)) is not None:
                lines.setdefault((*opened, found[1]), number)
                closing = next((mark for mark in ('"""', "'''") if line.count(mark) == 1), "")
        return lines


def _parse(text: str, where: str) -> tuple[dict[str, Any], list[Problem]]:
    """Read TOML; what stands in lines "key = value" that can't be read is :data:`~blendkit.forms.UNREAD`.

    Returns: the table; the faults of its text.
    Raises: ProjectError where the text can't be read even so.
    """
    import tomlkit
    from tomlkit.exceptions import ParseError, TOMLKitError

    lines = text.splitlines(keepends=True)
    broken: list[Problem] = []
    while True:
        try:
            return tomlkit.parse("".join(lines)).unwrap(), broken
        except ParseError as error:
            words = str(error).removesuffix(f" at line {error.line} col {error.col}")
            if words.startswith("Control characters"):
                words = "a quote that is not closed"
            # an error at a line's end is told at the start of the next
            row = error.line - 1 if error.col > 0 or error.line == 1 else error.line - 2
            line = lines[row] if row < len(lines) else ""
            key = _LINE.match(line)
            if key is not None:
                words += f", about “{textwrap.shorten(line, 50, placeholder=' …')}”"
            fault = Problem(
                f"{where}, line {error.line}, column {error.col}",
                words,
                'lines such as: base = "moss"',
                error.line,
                error.col or None,
                key[1] if key is not None else "",
            )
            if key is None or len(broken) >= MOST_BROKEN or len(text) > MOST_MENDED:
                raise _unreadable(where, [*broken, fault]) from None
            broken.append(fault)
            lines[row] = f"{key[1]} = {json.dumps(UNREAD)}\n"
        except TOMLKitError as error:
            raise _unreadable(where, [*broken, Problem(where, str(error), "each key once")]) from None


def _unreadable(where: str, problems: Sequence[Problem]) -> ProjectError:
    return ProjectError(f"{where} is not readable as TOML.", problems)


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


def _check_names(parts: Sequence[ProjectPart], at: At) -> None:
    seen: dict[str, int] = {}
    for number, part in enumerate(parts, 1):
        key = name_key(part.name)
        if key and key in seen:
            other = f"a name unlike part {seen[key]}'s; one part may have many places"
            at.of("parts").row(number, f"part {number}").of("name").fault(part.name, other)
        seen.setdefault(key, number)
    rests = [part.name for part in parts if part.rest]
    if len(rests) > 1:
        at.of("rest").fault(", ".join(rests), "one part at most that takes the rest", words=True)


def _check_fronts(project: Project, at: At) -> None:
    for number, front in enumerate(project.fronts, 1):
        for end in front:
            if isinstance(end, str):
                try:
                    project.part(end)
                except ProjectError as error:
                    at.of("fronts").row(number).fault(end, error.problems[0].accepted)
