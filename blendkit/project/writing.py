"""Writing a project file: only what changed is rewritten, so that comments and the owner's layout stay."""

import os
import re
from collections.abc import Callable, Mapping
from dataclasses import MISSING, dataclass, fields, replace
from pathlib import Path
from typing import Any

from blendkit.art.region_edits import edits_to_table
from blendkit.errors import PaletteError, Problem, ProjectError
from blendkit.files import list_versions, locked, replace_keeping
from blendkit.palette import name_key
from blendkit.project.reading import project_from_text, read_project_text
from blendkit.project.records import Project, ProjectPart

HEADING = "A blendkit project. Lengths and places are in millimetres from the image's top left corner."
_LONG_LIST = 4
"""Entries above which a list is written a line each."""


def write_project(path: str | os.PathLike[str], project: Project) -> Project:
    """Write a project to its file; a file that is there keeps its comments.

    Args:
        path: the file; relative paths of image and palette are taken as standing beside it.
        project: what to write.

    Returns: the project as read back from what was written.
    Raises: ProjectError; then the file is as it was.
    """
    return update_project(path, lambda _: project, new=True)


def update_project(
    path: str | os.PathLike[str], change: Callable[[Project], Project], *, new: bool = False
) -> Project:
    """Change a project file: read it again under a lock, apply *change*, write it whole.

    Args:
        path: the file.
        change: gives the changed project; it may be called on a newer version than the caller has seen.
        new: also write a file that isn't there, or whose old content can't be read.

    Returns: the project as written. Nothing is written when nothing changed.
    Raises: ProjectError; then the file is as it was.
    """
    file = Path(os.path.realpath(path))
    try:
        with locked(file):
            old, before = _read_old(file, new)
            after = replace(change(before), path=file)
            if old is not None and after == before:
                return before
            text = project_to_text(after, old)
            written = project_from_text(text, file)
            replace_keeping(file, text.encode(), ProjectError)
    except PaletteError as error:
        raise ProjectError(error.message, error.problems) from None
    return written


def restore_project(path: str | os.PathLike[str], name: str) -> Project:
    """Put an earlier version of a project file back; the version that it replaces is kept in its turn.

    Args:
        path: the file.
        name: the name of a :class:`~blendkit.files.Version`.

    Returns: the project as restored.
    Raises: ProjectError when there is no such version or it can't be read.
    """
    file = Path(os.path.realpath(path))
    with locked(file, ProjectError):
        chosen = next((one for one in list_versions(file) if one.name == name), None)
        if chosen is None:
            problem = Problem(file.name, repr(name), "one of the earlier versions that are kept")
            raise ProjectError("That earlier version is no longer kept.", [problem])
        text = read_project_text(chosen.path)
        restored = project_from_text(text, file)
        replace_keeping(file, text.encode(), ProjectError)
    return restored


def _read_old(file: Path, new: bool) -> tuple[str | None, Project]:
    """Give the text and project that stand in the file, or no text where a new one may be written."""
    if new and not file.exists():
        return None, Project(image="", path=file)
    try:
        text = read_project_text(file)
        return text, project_from_text(text, file)
    except ProjectError:
        if not new:
            raise
        return None, Project(image="", path=file)


def project_to_text(project: Project, old: str | None = None) -> str:
    """Give a project as TOML text.

    Args:
        project: what to write.
        old: text of an earlier version, whose comments and layout stay; None to write anew.

    Returns: text that ``project_from_text`` reads back as the same project.
    """
    table, full = project_to_table(project), project_to_table(project, defaults=True)
    blocks, tail = _split(old) if old is not None else ([_Block("", "", f"# {HEADING}\n\n")], "")
    own = {block.key for block in blocks[1:]}
    text, there = _top_text(
        blocks[0].text, {key: value for key, value in table.items() if key not in own}, full
    )
    texts = [blocks[0].lead + text]
    left = {key: value for key, value in table.items() if key not in there}
    done: set[str] = set()
    for block in blocks[1:]:
        if block.key in done or block.key not in full:
            continue
        done.add(block.key)
        value = left.pop(block.key, {})
        if _is_tables(full[block.key]):
            texts += _row_texts([one for one in blocks if one.key == block.key], value, full[block.key])
        else:
            texts.append(block.lead + _merged(block, value, full[block.key]))
    for key, value in left.items():
        texts += [_new_text(key, row) for row in value] if _is_tables(value) else [_new_text(key, value)]
    return _joined(texts) + tail


def project_to_table(project: Project, defaults: bool = False) -> dict[str, Any]:
    """Give a project as plain data; what stands at its default is left out, unless *defaults*."""
    table = _plain(project, defaults, ("path", "parts", "papers", "fronts", "edits", "greeting", "cut"))
    if project.fronts:
        table["fronts"] = [[_end(front), _end(behind)] for front, behind in project.fronts]
    edits = edits_to_table(project.edits)
    if edits:
        table["edits"] = edits
    if project.greeting is not None:
        table["greeting"] = _plain(project.greeting, defaults)
    cut = _plain(project.cut, defaults, ("leave",))
    if project.cut.leave:
        cut["leave"] = [_end(place) for place in project.cut.leave]
    if cut:
        table["cut"] = cut
    if project.parts:
        table["parts"] = [_part_table(part, defaults) for part in project.parts]
    if project.papers:
        table["papers"] = [_plain(paper, defaults) for paper in project.papers]
    return table


def _part_table(part: ProjectPart, defaults: bool) -> dict[str, Any]:
    table: dict[str, Any] = {"name": part.name}
    if part.at:
        table["at"] = _end(part.at[0]) if len(part.at) == 1 else [_end(spot) for spot in part.at]
    for key in ("dark", "bright"):
        if places := getattr(part, key):
            table[key] = [_end(place) for place in places]
    if part.around:
        loops = [[_end(point) for point in loop] for loop in part.around]
        table["around"] = loops[0] if len(loops) == 1 else loops
    if part.areas:
        table["areas"] = part.areas[0] if len(part.areas) == 1 else list(part.areas)
    return table | _plain(part, defaults, ("at", "areas", "around", "dark", "bright"))


def _plain(record: Any, defaults: bool, leave_out: tuple[str, ...] = ()) -> dict[str, Any]:
    """Give the fields of a record that are not at their default, or all that are not None."""
    table: dict[str, Any] = {}
    for one in fields(record):
        value = getattr(record, one.name)
        usual = not defaults and one.default is not MISSING and value == one.default
        if one.name not in leave_out and value is not None and not usual:
            table[one.name] = _number(value) if isinstance(value, float) else value
    return table


def _number(value: float) -> float | int:
    """A length as one writes it by hand: to the thousandth, whole numbers without a point."""
    rounded = round(value, 3)
    return int(rounded) if rounded == int(rounded) else rounded


def _end(value: Any) -> Any:
    return [_number(float(v)) for v in value] if isinstance(value, tuple) else value


# ---------------------------------------------------------------- the owner's text

_HEADER = re.compile(r"[ \t]*\[\[?[ \t]*([A-Za-z0-9_-]+)[ \t]*\]\]?[ \t]*(#.*)?")


@dataclass(frozen=True, slots=True)
class _Block:
    """One table of the file as text: the comments before it, its key ("" for the top), its header and keys."""

    lead: str
    key: str
    text: str


def _split(text: str) -> tuple[list[_Block], str]:
    """Cut TOML text before each table, comments with the table that they stand before.

    Returns: the blocks, the first one the keys before any table; and the comments at the very end.
    """
    chunks: list[tuple[str, str]] = [("", "")]
    for line in text.removeprefix("\ufeff").splitlines(keepends=True):
        header = _HEADER.fullmatch(line.rstrip("\r\n"))
        # a line that looks like a header within a long string leaves the text before it unfinished
        if header is not None and _is_whole(chunks[-1][1]):
            chunks.append((header[1], ""))
        chunks[-1] = (chunks[-1][0], chunks[-1][1] + line)
    blocks: list[_Block] = []
    lead = ""
    for key, chunk in chunks:
        lines = chunk.splitlines(keepends=True)
        end = len(lines)
        while end > 0 and (not lines[end - 1].strip() or lines[end - 1].lstrip().startswith("#")):
            end -= 1
        blocks.append(_Block(lead, key, "".join(lines[:end])))
        lead = "".join(lines[end:])
    return blocks, lead


def _is_whole(text: str) -> bool:
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    try:
        tomlkit.parse(text)
    except TOMLKitError:
        return False
    return True


def _top_text(text: str, table: Mapping[str, Any], full: Mapping[str, Any]) -> tuple[str, set[str]]:
    """Bring the keys before any table up to date; also give the keys that stand there now."""
    import tomlkit

    document = tomlkit.parse(text)
    plain = {
        key: value
        for key, value in table.items()
        if key in document or not (isinstance(value, Mapping) or _is_tables(value))
    }
    _merge(document, plain, full)
    return tomlkit.dumps(document), {str(key) for key in document}


def _merged(block: _Block, value: Mapping[str, Any], full: Mapping[str, Any]) -> str:
    import tomlkit

    document = tomlkit.parse(block.text)
    held: Any = document[block.key]
    _merge(held[0] if isinstance(held, list) else held, value, full)
    return tomlkit.dumps(document)


def _row_texts(blocks: list[_Block], rows: list[dict[str, Any]], full: list[dict[str, Any]]) -> list[str]:
    """Bring an array of tables up to date: rows are known by their names, and keep their comments.

    A row whose name is new takes the text of the one in its place, if that one's name is gone.
    """
    import tomlkit

    held: list[Any] = [tomlkit.parse(block.text)[block.key] for block in blocks]
    names = [name_key(str(one[0].get("name", ""))) for one in held]
    wanted = [name_key(str(row.get("name", ""))) for row in rows]
    free = list(range(len(blocks)))
    chosen: list[int | None] = []
    for name in wanted:
        at = next((at for at in free if names[at] == name), None)
        chosen.append(at)
        if at is not None:
            free.remove(at)
    for place, at in enumerate(chosen):
        if at is None and place in free:
            chosen[place] = place
            free.remove(place)
    return [
        _new_text(blocks[0].key, row) if at is None else blocks[at].lead + _merged(blocks[at], row, every)
        for at, row, every in zip(chosen, rows, full, strict=True)
    ]


def _new_text(key: str, value: Mapping[str, Any]) -> str:
    import tomlkit

    document = tomlkit.document()
    _merge(document, value, value)
    many = key in ("parts", "papers")
    return ("\n[[" if many else "\n[") + key + ("]]\n" if many else "]\n") + tomlkit.dumps(document)


def _joined(texts: list[str]) -> str:
    whole = ""
    for text in texts:
        if whole and not whole.endswith("\n"):
            whole += "\n"
        if whole and text.startswith("["):
            whole += "" if whole.endswith("\n\n") else "\n"
        whole += text if not whole.endswith("\n\n") else text.removeprefix("\n")
    return whole


def _merge(container: Any, table: Mapping[str, Any], full: Mapping[str, Any]) -> None:
    """Bring a tomlkit container up to date, touching only what differs.

    Args:
        container: what the owner has written.
        table: what it must hold.
        full: the same with all defaults, which stay where the owner has written them.
    """
    for key in [key for key in container if key not in full]:
        del container[key]
    for key in list(container):
        if isinstance(full[key], Mapping) and isinstance(container[key], Mapping):
            _merge(container[key], table.get(key, {}), full[key])
        elif not _same(_unwrapped(container[key]), full[key]):
            container[key] = _item(full[key])
    for key, value in table.items():
        if key not in container:
            container.add(key, _item(value))


def _unwrapped(value: Any) -> Any:
    """A tomlkit item's plain value; tomlkit gives true and false as they are."""
    return value.unwrap() if hasattr(value, "unwrap") else value


def _same(one: Any, other: Any) -> bool:
    """Equal; or a single place and a list of that one place, or long texts that differ by the lines around."""
    if isinstance(one, str) and isinstance(other, str):
        return one == other or ("\n" in one and one.strip("\n") == other)
    return bool(one == other) or (isinstance(one, list) and one == [other])


def _is_tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(row, Mapping) for row in value)


def _item(value: Any) -> Any:
    import tomlkit

    if isinstance(value, Mapping):
        inline = tomlkit.inline_table()
        inline.update(value)
        return inline
    if isinstance(value, list):
        array = tomlkit.array()
        for row in value:
            array.append(_item(row))
        return array.multiline(len(value) > _LONG_LIST)
    if isinstance(value, str) and "\n" in value:
        return tomlkit.string(value + "\n", multiline=True)
    return tomlkit.item(value)
