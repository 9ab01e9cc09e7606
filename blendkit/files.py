"""Files as a person trusts them: read whole within bounds, written whole or not at all, one writer at a time.

A save goes to new files beside the old ones, is forced to the disk, and takes the old ones' places by renaming,
so a crash or a full disk leaves whole files. What a message says of the old file is what happened to it.
Earlier versions lie in a folder ``<name>.kept`` beside a file, told apart by their contents and thinned by age.
"""

import errno
import glob
import json
import os
import shutil
import stat
import tempfile
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from blendkit.errors import BlendkitError, PaletteError, Problem

Raises = type[BlendkitError]
Name = str | os.PathLike[str]

LOCK_SECONDS = 20.0
"""How long a writer waits for another before it gives up. Own judgement."""

STALE_SECONDS = 600.0
"""Age from which a half-written file can't be in work any more: none takes so long between two blocks."""

ALL_OF, ONE_A_DAY_OF = timedelta(days=1), timedelta(days=31)
"""Age to which every version is kept, and to which one a day is; of older ones one a month. Own judgement."""

_CANT_SYNC = (errno.EINVAL, errno.ENOTSUP, errno.ENOSYS, errno.EBADF, errno.EACCES, errno.EPERM)
"""What systems answer that can't force a file or folder to the disk at all."""

# ---------------------------------------------------------------- reading


def read_whole(path: Name, most_bytes: int, accepted: str, raises: Raises = PaletteError) -> bytes:
    """Give the bytes of an ordinary file; pipes, devices and larger files are refused unread.

    Args:
        path: the file.
        most_bytes: largest size.
        accepted: what would be right, for the message.
        raises: kind of error.

    Raises: *raises* in a sentence.
    """
    file = Path(path)
    try:
        mode = os.stat(file).st_mode
        if not stat.S_ISREG(mode):
            what = "a folder" if stat.S_ISDIR(mode) else "no ordinary file"
            raise raises(f"{file} is {what}.", [Problem(str(file), what, accepted)])
        with open(file, "rb") as stream:
            size = os.fstat(stream.fileno()).st_size
            data = stream.read(most_bytes + 1) if size <= most_bytes else b""
    except (OSError, ValueError) as error:
        raise disk_error(file, error, "read", raises) from None
    if max(size, len(data)) > most_bytes:
        found = f"{max(size, len(data)) / 1e6:.0f} MB"
        raise raises(f"{file.name} is too large.", [Problem(str(file), found, accepted)])
    return data


def read_json(path: Name, most_bytes: int, what: str, raises: Raises) -> Any:
    """Give the contents of a JSON file. Raises: *raises*, also for one nested without end."""
    data = read_whole(path, most_bytes, what, raises)
    try:
        return json.loads(data.decode("utf-8-sig"))
    except RecursionError:
        raise raises(f"{path} is not {what}: it is nested without end") from None
    except ValueError as error:
        raise raises(f"{path} is not {what}: {error}") from None


def disk_error(file: Path, error: Exception, verb: str, raises: Raises = PaletteError) -> BlendkitError:
    """Say in a sentence what the system refused, and what helps; of a write: that nothing changed."""
    reading = verb == "read"
    if isinstance(error, FileNotFoundError):
        found = "no such file" if reading else "no such folder"
        remedy = "the path of a file that is there"
    elif isinstance(error, PermissionError):
        found = "no permission"
        remedy = f"a file and folder that you may {verb}; or copy it to your own folder"
    else:
        found = getattr(error, "strerror", None) or str(error)
        remedy = "a path that the system can open" if reading else "a disk with room that can be written"
    unchanged = "" if reading else " The old file is unchanged."
    message = f"{file} can't be {'read' if reading else 'written'}.{unchanged}"
    return raises(message, [Problem(str(file), found, remedy)])


# ---------------------------------------------------------------- writing


def real_path(path: Name) -> Path:
    """Give the file behind links, so that a link stays one."""
    return Path(os.path.realpath(path))


@contextmanager
def locked(path: Name, raises: Raises = PaletteError) -> Iterator[None]:
    """Hold the lock of a file that is about to be rewritten; wait for another writer first.

    The lock is a small hidden file ``.<name>.lock`` beside it, which stays; half-written files that a killed
    writer left of it are swept once the lock is held.

    Raises: *raises* when the folder can't be written or another writer keeps the lock.
    """
    from filelock import FileLock, Timeout

    file = real_path(path)
    if not file.parent.is_dir():  # filelock would make it
        raise disk_error(file, FileNotFoundError(), "write", raises)
    lock = FileLock(file.with_name(f".{file.name}.lock"), timeout=LOCK_SECONDS)
    try:
        lock.acquire()
    except Timeout:
        found = f"another program has kept the lock for {LOCK_SECONDS:g} seconds"
        raise raises(
            f"{file} is being written by another program.",
            [Problem(str(file), found, "try again once it is done")],
        ) from None
    except OSError as error:
        raise disk_error(file, error, "write", raises) from None
    try:
        for left in [*kept_folder(file).glob(".*.new"), *_half_written(file)]:
            with suppress(OSError):
                left.unlink()
        yield
    finally:
        lock.release()


def _half_written(file: Path) -> list[Path]:
    """Give what writers of a file have begun beside it, or left there when they were killed."""
    return list(file.parent.glob(f".{glob.escape(file.name)}.{'[a-z0-9_]' * 8}.new"))


def replace_file(path: Name, data: bytes, raises: Raises = PaletteError) -> None:
    """Write a whole file; see :func:`replace_files`."""
    replace_files({real_path(path): data}, raises)


def replace_files(data: Mapping[Path, bytes], raises: Raises = PaletteError) -> None:
    """Write whole files so that a crash leaves each as it was or as it is to be, and a refusal all as they were.

    What writers of the same file left half-written ten minutes ago or earlier, because they were killed, goes.

    Args:
        data: the bytes of each file; permissions of one that is there stay, links are followed.
        raises: kind of error.

    Raises: *raises*. The message tells whether the old files are unchanged, or the new ones are there and only
        the disk didn't confirm them.
    """
    beside: dict[Path, str] = {}
    aside: dict[Path, str] = {}
    done: list[Path] = []
    named = file = Path()
    try:
        for named, content in data.items():
            file = real_path(named)
            _refuse_protected(file, raises)
            handle, beside[file] = tempfile.mkstemp(prefix=f".{file.name}.", suffix=".new", dir=file.parent)
            with open(handle, "wb") as stream:
                stream.write(content)
                stream.flush()
                _copy_mode(file, beside[file])
                _sync(stream.fileno())
        if len(beside) > 1:
            for file in beside:
                if file.exists():
                    aside[file] = _set_aside(file)
        for file, temporary in list(beside.items()):
            os.replace(temporary, file)
            del beside[file]
            done.append(file)
    except OSError as error:
        stuck = [one for one in done if not _put_back(one, aside.pop(one, ""))]
        if stuck:
            names = ", ".join(one.name for one in stuck)
            problem = Problem(str(file), error.strerror or str(error), "a disk with room that can be written")
            raise raises(f"{file} can't be written; new by now: {names}.", [problem]) from None
        raise disk_error(file, error, "write", raises) from None
    finally:
        for temporary in (*beside.values(), *aside.values()):
            with suppress(OSError):
                os.unlink(temporary)
    _confirm(done, raises)
    for file in done:
        for left in _half_written(file):
            with suppress(OSError):
                if time.time() - left.stat().st_mtime > STALE_SECONDS:
                    left.unlink()


def _refuse_protected(file: Path, raises: Raises) -> None:
    """Leave a file alone that its owner has made read-only."""
    try:
        mode = os.stat(file).st_mode
    except FileNotFoundError:
        return
    if not mode & 0o222:
        accepted = "a file that may be written; or take its write protection off"
        raise raises(
            f"{file} is protected from writing. It is unchanged.",
            [Problem(str(file), "a read-only file", accepted)],
        )
    if not stat.S_ISREG(mode):
        raise raises(f"{file} is no ordinary file.", [Problem(str(file), "no ordinary file", "a file")])


def _set_aside(file: Path) -> str:
    """Give a second name of the old file, by which it can be put back."""
    handle, name = tempfile.mkstemp(prefix=f".{file.name}.", suffix=".new", dir=file.parent)
    os.close(handle)
    shutil.copy2(file, name)
    return name


def _put_back(file: Path, old: str) -> bool:
    """Undo the renaming of one file, and tell whether that went well."""
    try:
        if old:
            os.replace(old, file)
        else:
            os.unlink(file)
    except OSError:
        return False
    return True


def _copy_mode(file: Path, temporary: str) -> None:
    """Give the new file the old one's permissions and owner, or the usual ones, where the system has such."""
    with suppress(FileNotFoundError):
        old = os.stat(file)
        with suppress(OSError):
            os.chmod(temporary, stat.S_IMODE(old.st_mode))
        if hasattr(os, "chown"):
            with suppress(OSError):
                os.chown(temporary, old.st_uid, old.st_gid)
        return
    umask = os.umask(0)
    os.umask(umask)
    with suppress(OSError):
        os.chmod(temporary, 0o666 & ~umask)


def _sync(handle: int) -> None:
    """Force to the disk, where the system can."""
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in _CANT_SYNC:
            raise


def _confirm(files: list[Path], raises: Raises) -> None:
    """Force the entries of the folders to the disk.

    Raises: *raises* where the disk fails; then the new files are there all the same, and it says so.
    """
    if os.name != "posix":
        return
    for folder in dict.fromkeys(file.parent for file in files):
        try:
            handle = os.open(folder, os.O_RDONLY)
            try:
                _sync(handle)
            finally:
                os.close(handle)
        except OSError as error:
            if error.errno in _CANT_SYNC:
                continue
            names = ", ".join(str(file) for file in files if file.parent == folder)
            problem = Problem(names, error.strerror or str(error), "a look at the file, and at the disk")
            raise raises(f"{names}: written, but the disk has not confirmed it.", [problem]) from None


def append_whole(path: Name, data: bytes, raises: Raises = PaletteError) -> Callable[[], None]:
    """Add bytes at the end of a file that is there, forced to the disk.

    Returns: what takes them off again.
    Raises: *raises*; then the file is as long as it was, if the disk lets it.
    """
    file = real_path(path)
    try:
        size = os.stat(file).st_size
    except OSError as error:
        raise disk_error(file, error, "write", raises) from None

    def take_off() -> None:
        with suppress(OSError):
            os.truncate(file, size)

    try:
        with open(file, "ab") as stream:
            stream.write(data)
            stream.flush()
            _sync(stream.fileno())
    except OSError as error:
        take_off()
        raise disk_error(file, error, "write", raises) from None
    return take_off


# ---------------------------------------------------------------- earlier versions


@dataclass(frozen=True)
class Version:
    """An earlier version of a file: its name, when it was replaced, and where it is kept."""

    name: str
    replaced: datetime
    path: Path


_STAMP = "%Y-%m-%dT%H-%M-%S.%fZ"


def kept_folder(file: Path) -> Path:
    """Give the folder of a file's earlier versions, whether it is there or not."""
    return file.with_name(f"{file.name}.kept")


def list_versions(path: Name) -> tuple[Version, ...]:
    """Give the earlier versions that are kept of a file, newest first."""
    versions = []
    for kept in kept_folder(real_path(path)).glob("[0-9]*"):
        with suppress(ValueError):
            versions.append(
                Version(kept.stem, datetime.strptime(kept.stem, _STAMP).replace(tzinfo=UTC), kept)
            )
    return tuple(sorted(versions, key=lambda version: version.replaced, reverse=True))


def replace_keeping(path: Name, data: bytes, raises: Raises = PaletteError) -> None:
    """Write a whole file whose present contents become an earlier version; its lock must be held.

    A version of the same contents is kept once, as the newest. Nothing older goes before the new file is there.

    Raises: as :func:`replace_file`; a refused save spends no version.
    """
    file = real_path(path)
    if not file.exists():
        return replace_file(file, data, raises)
    try:
        old = file.read_bytes()
        folder = kept_folder(file)
        folder.mkdir(exist_ok=True)
    except OSError as error:
        raise disk_error(file, error, "write", raises) from None
    versions = list_versions(file)
    alike = [version for version in versions if _holds(version.path, old)]
    now = datetime.now(UTC)
    if versions and now <= versions[0].replaced:
        now = versions[0].replaced + timedelta(microseconds=1)
    kept = folder / f"{now.strftime(_STAMP)}{file.suffix or '.csv'}"
    try:
        replace_file(kept, old, raises)
    except BlendkitError as error:
        with suppress(OSError):
            kept.unlink()
        raise raises(f"{file} can't be written. The old file is unchanged.", error.problems) from None
    try:
        replace_file(file, data, raises)
    except BlendkitError:
        if _holds(file, old):
            with suppress(OSError):
                kept.unlink()
        raise
    for version in (*alike, *_too_many(list_versions(file), now)):
        with suppress(OSError):
            version.path.unlink()
    return None


def _holds(path: Path, data: bytes) -> bool:
    with suppress(OSError):
        return path.stat().st_size == len(data) and path.read_bytes() == data
    return False


def _too_many(versions: tuple[Version, ...], now: datetime) -> list[Version]:
    """Give the versions beyond all of a day, the last of each day of a month, and the last of each month."""
    seen: set[str] = set()
    gone = []
    for version in versions:
        age = now - version.replaced
        if age <= ALL_OF:
            continue
        period = version.replaced.strftime("%Y-%m-%d" if age <= ONE_A_DAY_OF else "%Y-%m")
        if period in seen:
            gone.append(version)
        seen.add(period)
    return gone
