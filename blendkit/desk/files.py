"""Files that the page was sent, and names that stay inside an opened folder."""

import secrets
import threading
from collections import OrderedDict
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from blendkit.errors import BlendkitError, Problem

MAX_FILE_MB = 120
"""Largest file that the page may be sent; a 48-megapixel JPEG is about 25 MB, a 16-bit TIFF of a page 100 MB."""

MAX_KEPT_MB = 600
"""Room for all files that were sent; the oldest go first."""


@dataclass(frozen=True)
class File:
    """An answer that is a file: its bytes, media type, and a name to save it under ("" to show it)."""

    data: bytes
    media_type: str
    name: str = ""


@dataclass(frozen=True)
class Upload:
    """A file that the page was sent.

    Args:
        number: how the page calls it.
        name: its name on the person's disk, shown as text and never used as a path.
        path: where it is kept until the desk closes.
        size: bytes.
        media_type: of a file that the desk made itself; "" for one that was sent, which is never sent back.
    """

    number: str
    name: str
    path: Path
    size: int
    media_type: str = ""


class Uploads:
    """Files that were sent, in a folder of their own that goes when the desk closes."""

    def __init__(self) -> None:
        self._folder = TemporaryDirectory(prefix="blendkit-desk-")
        self._files: OrderedDict[str, Upload] = OrderedDict()
        self._lock = threading.Lock()

    def keep(self, name: str, data: bytes, media_type: str = "") -> Upload:
        """Keep a file that was sent, or with a media type one that the desk made; the oldest go in time."""
        number = secrets.token_hex(8)
        path = Path(self._folder.name) / number
        path.write_bytes(data)
        upload = Upload(number, shown_name(name), path, len(data), media_type)
        with self._lock:
            self._files[number] = upload
            while len(self._files) > 1 and sum(one.size for one in self._files.values()) > MAX_KEPT_MB * 1e6:
                _, oldest = self._files.popitem(last=False)
                oldest.path.unlink(missing_ok=True)
        return upload

    def find(self, number: str) -> Upload:
        """Give a file by its number.

        Raises: BlendkitError when it is not known, or no longer.
        """
        with self._lock:
            upload = self._files.get(number)
        if upload is None:
            raise BlendkitError(
                "That file is no longer here; choose it again.",
                [Problem("file", repr(number), "a file that was sent")],
            )
        return upload

    def close(self) -> None:
        """Remove them all."""
        self._folder.cleanup()


def shown_name(name: str) -> str:
    """Give a file's name as it may be shown: its last part, without controls, at most 120 letters."""
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    clean = "".join(letter for letter in last if letter.isprintable()).strip()
    return clean[-120:] or "file"


def inside(folder: Path, name: str) -> Path:
    """Give the path of *name* within *folder*.

    Raises: BlendkitError when it would lie anywhere else, links followed.
    """
    whole = folder.resolve()
    problem = Problem("name", repr(name[:80]), f"a name within the folder {whole.name}")
    if "\x00" in name:
        raise BlendkitError("That file is not within the opened folder.", [problem])
    path = (whole / name).resolve()
    if path == whole or whole not in path.parents:
        raise BlendkitError("That file is not within the opened folder.", [problem])
    return path
