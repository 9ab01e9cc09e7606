"""Palette files on disk: read whole, written whole, one writer at a time, earlier versions kept.

A save goes to a new file beside the old one, is forced to the disk and takes the old one's place in one
step, so a crash or a full disk leaves one whole version. Writers wait for each other at a lock file and
read again once they hold it, so nobody's change is lost. Readers need no lock.
"""

import glob
import os
import stat
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from blendkit.errors import PaletteError, Problem
from blendkit.palette.records import Change, Palette, name_key
from blendkit.palette.rows import COLUMNS, palette_from_sheet
from blendkit.palette.table import Sheet, column_key, decode_sheet, encode_sheet

MAX_PALETTE_MB = 16
"""Largest palette file that is read; 10,000 markers with spectra are about 4 MB."""

KEPT_VERSIONS = 20
"""Earlier versions kept of a palette file."""

LOCK_SECONDS = 20.0
"""How long a writer waits for another before it gives up."""

STALE_SECONDS = 600.0
"""Age from which a half-written file can't be in work any more: none takes so long between two blocks."""

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
    """Give the bytes of a regular file of at most :data:`MAX_PALETTE_MB`, without reading a larger one."""
    limit = MAX_PALETTE_MB * 1_000_000
    accepted = f"a CSV file of at most {MAX_PALETTE_MB} MB"
    try:
        mode = os.stat(file).st_mode
        if not stat.S_ISREG(mode):
            what = "a folder" if stat.S_ISDIR(mode) else "no ordinary file"
            raise PaletteError(f"{file} is {what}.", [Problem(str(file), what, accepted)])
        with open(file, "rb") as stream:
            size = os.fstat(stream.fileno()).st_size
            data = stream.read(limit + 1) if size <= limit else b""
    except (OSError, ValueError) as error:
        raise _disk_error(file, error, "read") from None
    if size > limit or len(data) > limit:
        found = f"{max(size, len(data)) / 1e6:.0f} MB"
        raise PaletteError(f"{file.name} is too large for a palette.", [Problem(str(file), found, accepted)])
    return data


def _disk_error(file: Path, error: Exception, verb: str) -> PaletteError:
    """Say in a sentence what the system refused, and what helps."""
    if isinstance(error, FileNotFoundError):
        remedy = "the path of a file that is there"
        found = "no such file" if verb == "read" else "no such folder"
    elif isinstance(error, PermissionError):
        found, remedy = (
            "no permission",
            "a file and folder that you may " + verb + "; or copy it to your own folder",
        )
    else:
        found = getattr(error, "strerror", None) or str(error)
        remedy = (
            "a path that the system can open" if verb == "read" else "a disk with room that can be written"
        )
    unchanged = "" if verb == "read" else " The old file is unchanged."
    return PaletteError(
        f"{file} can't be {'read' if verb == 'read' else 'written'}.{unchanged}",
        [Problem(str(file), found, remedy)],
    )


# ---------------------------------------------------------------- writing


def update_palette(path: str | os.PathLike[str], change: Change) -> Palette:
    """Change a palette file: read it again under a lock, apply *change*, write it whole.

    Args:
        path: the file.
        change: gives the changed palette; it may be called on a newer version than the caller has seen.

    Returns: the palette as written. Nothing is written when *change* changed nothing.
    Raises: PaletteError; then the file is as it was.
    """
    file = _real(path)
    with locked(file):
        old = _read_bytes(file)
        before = palette_from_sheet(decode_sheet(old, file.name), file)
        after = change(before)
        data = encode_sheet(after.sheet)
        if after.sheet == before.sheet:
            return before
        written = palette_from_sheet(decode_sheet(data, file.name), file)
        _keep(file, old)
        if after.retired:
            _append_history(file, after)
        replace_file(file, data)
    return written


def empty_palette() -> Palette:
    """Give a palette that holds nothing yet, with every column that blendkit knows."""
    return palette_from_sheet(Sheet(header=COLUMNS))


def write_palette(path: str | os.PathLike[str], palette: Palette) -> Palette:
    """Write a palette to a new file.

    Returns: the palette as written.
    Raises: PaletteError when the file is there already, which :func:`update_palette` changes.
    """
    file = _real(path)
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


def _real(path: str | os.PathLike[str]) -> Path:
    """Give the file behind links, so that a link stays one."""
    return Path(os.path.realpath(path))


@contextmanager
def locked(path: str | os.PathLike[str]) -> Iterator[None]:
    """Hold the lock of a file that is about to be rewritten; wait for another writer first.

    The lock is a small hidden file ``.<name>.lock`` beside it, which stays; half-written files that a
    killed writer left are swept once the lock is held.

    Raises: PaletteError when the folder can't be written or another writer keeps the lock.
    """
    from filelock import FileLock, Timeout

    file = _real(path)
    if not file.parent.is_dir():  # filelock would make it
        raise _disk_error(file, FileNotFoundError(), "write")
    lock = FileLock(file.with_name(f".{file.name}.lock"), timeout=LOCK_SECONDS)
    try:
        lock.acquire()
    except Timeout:
        found = f"another program has kept the lock for {LOCK_SECONDS:g} seconds"
        raise PaletteError(
            f"{file} is being written by another program.",
            [Problem(str(file), found, "try again once it is done")],
        ) from None
    except OSError as error:
        raise _disk_error(file, error, "write") from None
    try:
        _sweep(file)
        yield
    finally:
        lock.release()


def _sweep(file: Path) -> None:
    """Remove what a killed writer left half-written of the file, its history and its earlier versions."""
    left = [*_kept_folder(file).glob(".*.new"), *_half_written(file), *_half_written(_history_file(file))]
    for path in left:
        with suppress(OSError):
            path.unlink()


def _half_written(file: Path) -> list[Path]:
    """Give what writers of a file have begun beside it, or left there when they were killed."""
    return list(file.parent.glob(f".{glob.escape(file.name)}.{'[a-z0-9_]' * 8}.new"))


def _sweep_stale(file: Path) -> None:
    """Remove what killed writers left half-written of a file that has no lock; what may be in work stays."""
    for path in _half_written(file):
        with suppress(OSError):
            if time.time() - path.stat().st_mtime > STALE_SECONDS:
                path.unlink()


def replace_file(path: str | os.PathLike[str], data: bytes) -> None:
    """Write a whole file so that a crash leaves the old one or the new one, never a part.

    What writers of the same file left half-written ten minutes ago or earlier, because they were killed, goes.

    Args:
        path: the file; its permissions stay, a new one gets the usual ones.
        data: all of its bytes.

    Raises: PaletteError when the disk is full or refuses; then the old file is unchanged.
    """
    file = _real(path)
    temporary = ""
    try:
        handle, temporary = tempfile.mkstemp(prefix=f".{file.name}.", suffix=".new", dir=file.parent)
        with open(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            _copy_mode(file, temporary)
            os.fsync(stream.fileno())
        os.replace(temporary, file)
        temporary = ""
        _sync_folder(file.parent)
        _sweep_stale(file)
    except OSError as error:
        raise _disk_error(file, error, "write") from None
    finally:
        if temporary:
            with suppress(OSError):
                os.unlink(temporary)


def _copy_mode(file: Path, temporary: str) -> None:
    """Give the new file the old one's permissions and owner, or those that a plain new file would get."""
    try:
        old = os.stat(file)
    except FileNotFoundError:
        umask = os.umask(0)
        os.umask(umask)
        os.chmod(temporary, 0o666 & ~umask)
        return
    os.chmod(temporary, stat.S_IMODE(old.st_mode))
    if hasattr(os, "chown"):
        with suppress(OSError):
            os.chown(temporary, old.st_uid, old.st_gid)


def _sync_folder(folder: Path) -> None:
    """Force the folder's entry to the disk, where the system can."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


# ---------------------------------------------------------------- earlier versions


@dataclass(frozen=True)
class Version:
    """An earlier version of a palette file: its name, when it was replaced, and where it is kept."""

    name: str
    replaced: datetime
    path: Path


_STAMP = "%Y-%m-%dT%H-%M-%S.%fZ"


def _kept_folder(file: Path) -> Path:
    return file.with_name(f"{file.name}.kept")


def list_versions(path: str | os.PathLike[str]) -> tuple[Version, ...]:
    """Give the earlier versions that are kept of a file, newest first."""
    versions = []
    for kept in _kept_folder(_real(path)).glob("*.csv"):
        with suppress(ValueError):
            versions.append(
                Version(kept.stem, datetime.strptime(kept.stem, _STAMP).replace(tzinfo=UTC), kept)
            )
    return tuple(sorted(versions, key=lambda version: version.replaced, reverse=True))


def restore_version(path: str | os.PathLike[str], name: str) -> Palette:
    """Put an earlier version back; the version that it replaces is kept in its turn.

    Args:
        path: the palette file.
        name: the name of a :class:`Version`.

    Returns: the palette as restored.
    Raises: PaletteError when there is no such version or it can't be read.
    """
    file = _real(path)
    with locked(file):
        versions = list_versions(file)
        chosen = next((version for version in versions if version.name == name), None)
        if chosen is None:
            known = ", ".join(version.name for version in versions[:5]) or "none is kept yet"
            raise PaletteError(f"{file.name} has no such version.", [Problem(str(file), repr(name), known)])
        data = _read_bytes(chosen.path)
        restored = palette_from_sheet(decode_sheet(data, file.name), file)
        if file.exists():
            _keep(file, _read_bytes(file))
        replace_file(file, data)
    return restored


def _keep(file: Path, data: bytes) -> None:
    """Keep *data* as an earlier version of *file*, and let the oldest go beyond :data:`KEPT_VERSIONS`."""
    versions = list_versions(file)
    now = datetime.now(UTC)
    if versions and now <= versions[0].replaced:
        now = versions[0].replaced + timedelta(microseconds=1)
    folder = _kept_folder(file)
    try:
        folder.mkdir(exist_ok=True)
    except OSError as error:
        raise _disk_error(folder, error, "write") from None
    replace_file(folder / f"{now.strftime(_STAMP)}.csv", data)
    for version in versions[KEPT_VERSIONS - 1 :]:
        with suppress(OSError):
            version.path.unlink()


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


def _history_file(file: Path) -> Path:
    return file.with_name(f"{file.stem}.history.csv")


def read_history(path: str | os.PathLike[str], name: str | None = None) -> tuple[Earlier, ...]:
    """Give the rows that newer ones replaced in a palette file, oldest first.

    Args:
        path: the palette file.
        name: give only the rows of this name.

    Raises: PaletteError when the history file is damaged.
    """
    history = _history_file(_real(path))
    if not history.exists():
        return ()
    sheet = decode_sheet(_read_bytes(history), history.name)
    earlier = []
    for row in sheet.rows:
        cells = dict(zip(sheet.header, row, strict=False))
        replaced, reason = cells.pop("replaced", ""), cells.pop("reason", "")
        old_name = cells.get("name", "")
        if row and (name is None or name_key(old_name) == name_key(name)):
            earlier.append(Earlier(old_name, cells, replaced, reason))
    return tuple(earlier)


def _append_history(file: Path, palette: Palette) -> None:
    """Add the rows that an edit retired to the history file, in the palette's own way of writing."""
    history = _history_file(file)
    now = datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    if history.exists():
        sheet = decode_sheet(_read_bytes(history), history.name)
    else:
        sheet = replace(palette.sheet, header=("replaced", "reason", "name"), rows=(), lines=())
    for cells in palette.retired:
        sheet = sheet.with_columns(heading for heading, _ in cells)
        row = {column_key(heading): text for heading, text in cells} | {"replaced": now}
        sheet = replace(sheet, rows=(*sheet.rows, sheet.row_of(row)), final_newline=True)
    replace_file(history, encode_sheet(sheet))
