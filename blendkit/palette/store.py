"""Palette files on disk: the drawer, its earlier versions, and the history of its measurements.

Writers wait for each other at the drawer's lock and read again once they hold it, so nobody's change is lost.
Readers need no lock.
"""

import os
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from blendkit.errors import PaletteError, Problem
from blendkit.files import (
    append_whole,
    disk_error,
    list_versions,
    locked,
    read_whole,
    real_path,
    replace_file,
    replace_keeping,
)
from blendkit.palette.palette import Change, Palette, palette_from_sheet
from blendkit.palette.records import name_key
from blendkit.palette.rows import COLUMNS
from blendkit.palette.table import Sheet, decode_sheet, encode_sheet

MAX_PALETTE_MB = 16
"""Largest palette file that is read; 10,000 markers with spectra are about 4 MB."""

HISTORY_MB = 4
"""Size from which a history is laid by and a new one begun. Own judgement."""

_DEMO_FOLDERS = (Path(__file__).parent.parent / "palettes", Path(__file__).parent.parent.parent / "palettes")


def demo_palette_path(name: str = "hedgehog-lane") -> Path:
    """Give the file of a packaged demo palette: invented markers and papers, for trying things out.

    Raises: PaletteError when there is none of that name.
    """
    for folder in _DEMO_FOLDERS:
        if (folder / f"{name}.csv").is_file():
            return folder / f"{name}.csv"
    there = sorted(path.stem for folder in _DEMO_FOLDERS for path in folder.glob("*.csv"))
    raise PaletteError(
        "There is no such demo palette.", [Problem("name", repr(name), ", ".join(there) or "none")]
    )


# ---------------------------------------------------------------- reading


def read_palette(path: str | os.PathLike[str]) -> Palette:
    """Read a palette file.

    Args:
        path: a CSV file as described in the README; no lock is taken and nothing is written.

    Returns: the palette.
    Raises: PaletteError for a file that can't be opened or read, with every fault of every row.
    """
    file = Path(path)
    return palette_from_sheet(decode_sheet(_read_bytes(file), file.name), file)


def _read_bytes(file: Path) -> bytes:
    """Give the bytes of a palette file."""
    return read_whole(file, MAX_PALETTE_MB * 1_000_000, f"a CSV file of at most {MAX_PALETTE_MB} MB")


# ---------------------------------------------------------------- writing


def update_palette(path: str | os.PathLike[str], change: Change) -> Palette:
    """Change a palette file: read it again under a lock, apply *change*, write it whole.

    Args:
        path: the file.
        change: gives the changed palette; it may be called on a newer version than the caller has seen.

    Returns: the palette as written. Nothing is written when *change* changed nothing.
    Raises: PaletteError; then the file is as it was.
    """
    file = real_path(path)
    with locked(file):
        old = _read_bytes(file)
        before = palette_from_sheet(decode_sheet(old, file.name), file)
        after = change(before)
        data = encode_sheet(after.sheet)
        if after.sheet == before.sheet:
            return before
        written = palette_from_sheet(decode_sheet(data, file.name), file)
        try:
            take_off = _append_history(file, after) if after.retired else None
        except OSError as error:
            raise disk_error(file, error, "write") from None
        try:
            replace_keeping(file, data)
        except PaletteError:
            if take_off is not None and file.read_bytes() == old:
                take_off()
            raise
    return written


def empty_palette() -> Palette:
    """Give a palette that holds nothing yet, with every column that blendkit knows."""
    return palette_from_sheet(Sheet(header=COLUMNS))


def write_palette(path: str | os.PathLike[str], palette: Palette) -> Palette:
    """Write a palette to a new file.

    Returns: the palette as written.
    Raises: PaletteError when the file is there already, which :func:`update_palette` changes.
    """
    file = real_path(path)
    with locked(file):
        if file.exists():
            raise PaletteError(
                f"{file} is there already.",
                [Problem(str(file), "a file", "a new name, or a change to that file")],
            )
        data = encode_sheet(palette.sheet)
        written = palette_from_sheet(decode_sheet(data, file.name), file)
        replace_file(file, data)
    return written


# ---------------------------------------------------------------- earlier versions


def restore_version(path: str | os.PathLike[str], name: str) -> Palette:
    """Put an earlier version back; the version that it replaces is kept in its turn.

    Args:
        path: the palette file.
        name: the name of a :class:`~blendkit.files.Version`.

    Returns: the palette as restored.
    Raises: PaletteError when there is no such version or it can't be read.
    """
    file = real_path(path)
    with locked(file):
        versions = list_versions(file)
        chosen = next((version for version in versions if version.name == name), None)
        if chosen is None:
            known = ", ".join(version.name for version in versions[:5]) or "none is kept yet"
            raise PaletteError(f"{file.name} has no such version.", [Problem(str(file), repr(name), known)])
        data = _read_bytes(chosen.path)
        restored = palette_from_sheet(decode_sheet(data, file.name), file)
        replace_keeping(file, data)
    return restored


# ---------------------------------------------------------------- history of measurements


@dataclass(frozen=True)
class Earlier:
    """A row that a newer measurement or a removal replaced.

    Args:
        name: what was measured.
        cells: the old row, heading to text.
        replaced: when, ISO 8601 in UTC.
        reason: "measured again", "measured on another paper" or "taken out".
    """

    name: str
    cells: dict[str, str]
    replaced: str
    reason: str


def beside(file: Path, ending: str) -> Path:
    """Give the file that goes with a palette: ``drawer.history.csv``; of other forms ``drawer.tsv.…``."""
    return file.with_name(f"{file.stem if file.suffix.lower() == '.csv' else file.name}.{ending}")


def _laid_by(history: Path) -> list[Path]:
    """Give the histories that were laid by when they had grown large, oldest first."""
    return sorted(history.parent.glob(f"{history.stem}-[0-9]*.csv"))


def read_history(path: str | os.PathLike[str], name: str | None = None) -> tuple[Earlier, ...]:
    """Give the rows that newer ones replaced in a palette file, oldest first; damaged lines are left out.

    Args:
        path: the palette file.
        name: give only the rows of this name.

    Raises: PaletteError when a history file can't be opened.
    """
    history = beside(real_path(path), "history.csv")
    earlier = []
    for file in (*_laid_by(history), history):
        if not file.exists():
            continue
        for cells in _history_rows(_read_bytes(file), file.name):
            replaced, reason = cells.pop("replaced", ""), cells.pop("reason", "")
            old_name = cells.get("name", "")
            if name is None or name_key(old_name) == name_key(name):
                earlier.append(Earlier(old_name, cells, replaced, reason))
    return tuple(earlier)


def _history_rows(data: bytes, where: str) -> Iterator[dict[str, str]]:
    """Give each row of a history; where the file is damaged, each line that can still be read."""
    with suppress(PaletteError):
        sheet = decode_sheet(data, where)
        torn = not sheet.final_newline and len(sheet.rows[-1:]) and len(sheet.rows[-1]) < len(sheet.header)
        for row in sheet.rows[:-1] if torn else sheet.rows:
            if any(row):
                yield _by_heading(sheet, row)
        return
    lines = data.splitlines(keepends=True)
    while lines:
        try:
            header = decode_sheet(lines[0], where)
            break
        except PaletteError:
            lines = lines[1:]
    for line in lines[1:]:
        with suppress(PaletteError):
            rows = decode_sheet(lines[0] + line, where).rows
            if rows and len(rows[0]) <= len(header.header):
                yield _by_heading(header, rows[0])


def _by_heading(sheet: Sheet, row: tuple[str, ...]) -> dict[str, str]:
    return dict.fromkeys(sheet.header, "") | dict(zip(sheet.header, row, strict=False))


def _append_history(file: Path, palette: Palette) -> Callable[[], None]:
    """Add the rows that an edit retired at the end of the history, and give what takes them off again.

    A history that is large, can't be read, or lacks a column is laid by, and a new one is begun.
    """
    history = beside(file, "history.csv")
    now = datetime.now(UTC)
    rows = [
        {"replaced": now.strftime("%Y-%m-%dT%H:%M:%SZ")} | _told_apart(cells) for cells in palette.retired
    ]
    needed = list(dict.fromkeys(["replaced", "reason", "name", *(key for row in rows for key in row)]))
    sheet: Sheet | None = None
    if history.exists() and history.stat().st_size < HISTORY_MB * 1_000_000:
        with suppress(PaletteError), open(history, "rb") as stream:
            sheet = decode_sheet(stream.readline(), history.name)
    if sheet is not None and set(needed) <= set(sheet.header) and not sheet.encoding.startswith("utf-16"):
        with open(history, "rb") as stream:
            stream.seek(-1, os.SEEK_END)
            torn = stream.read() not in (b"\n", b"\r")
        added = replace(sheet, rows=tuple(tuple(row.get(key, "") for key in sheet.header) for row in rows))
        body = encode_sheet(replace(added, encoding="utf-8", final_newline=True, sep_line=False))
        head = encode_sheet(replace(sheet, rows=(), encoding="utf-8", final_newline=True, sep_line=False))
        return append_whole(history, (b"\n" if torn else b"") + body[len(head) :])
    old = (
        history.with_name(f"{history.stem}-{now.strftime('%Y%m%dT%H%M%S%f')}.csv")
        if history.exists()
        else None
    )
    plain = replace(palette.sheet, encoding="utf-8", bom=False, sep_line=False, final_newline=True, lines=())
    new = replace(
        plain, header=tuple(needed), rows=tuple(tuple(row.get(key, "") for key in needed) for row in rows)
    )
    data = encode_sheet(new)

    def take_off() -> None:
        with suppress(OSError):
            history.unlink(missing_ok=True)
            if old is not None:
                os.replace(old, history)

    if old is not None:
        os.replace(history, old)
    try:
        replace_file(history, data)
    except PaletteError as error:
        take_off()
        raise PaletteError(f"{file} can't be written. The old file is unchanged.", error.problems) from None
    return take_off


def _told_apart(cells: tuple[tuple[str, str], ...]) -> dict[str, str]:
    """Give a retired row by heading; of two columns of one heading the second gets a number."""
    row: dict[str, str] = {}
    for heading, text in cells:
        key, number = heading, 1
        while key in row:
            number += 1
            key = f"{heading} ({number})"
        row[key] = text
    return row
