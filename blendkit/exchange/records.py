"""What an exchange file holds, before it is a palette: named colours with what was measured."""

import os
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from blendkit.errors import PaletteError, Problem
from blendkit.files import read_whole

MAX_BYTES = 20_000_000
"""Largest exchange file that is read."""

MAX_COLOURS = 20_000
"""Most colours that are taken from one file."""

_SHOWN = 40
"""Most problems that one message lists."""


@dataclass(frozen=True, eq=False)
class ExchangeColour:
    """One colour of an exchange file.

    Attributes:
        name: as the file calls it.
        lab: CIELAB relative to the white of *light* and *observer*, shape (3,), or None.
        reflectance: over ``spectrum.WAVELENGTHS_NM``, shape (36,), or None.
        hex: ``#rrggbb``, or "".
        light: light of *lab*, one of ``spectrum.LIGHTS``.
        observer: 2 or 10, of *lab*.
        kind: marker, paper, ribbon or ink; "" where the file doesn't say.
        coats: coats of a marker's swatch.
        details: other columns of a palette file, (heading, text) pairs.
        line: where it stands in the file, counted from 1; 0 when it comes from no file.
    """

    name: str
    lab: NDArray[np.float64] | None = None
    reflectance: NDArray[np.float64] | None = field(default=None, repr=False)
    hex: str = ""
    light: str = "D50"
    observer: int = 2
    kind: str = ""
    coats: int = 1
    details: tuple[tuple[str, str], ...] = ()
    line: int = 0


@dataclass(frozen=True)
class ExchangeFile:
    """What was read from an exchange file.

    Attributes:
        form: "gpl", "cgats" or "csv".
        title: what the file calls itself, or "".
        colours: in the order of the file.
        notes: plain sentences: what was assumed, and what was left out.
    """

    form: str
    title: str
    colours: tuple[ExchangeColour, ...]
    notes: tuple[str, ...] = ()


FORM_OF_ENDING = {
    ".csv": "csv",
    ".tsv": "csv",
    ".gpl": "gpl",
    ".txt": "cgats",
    ".cgats": "cgats",
    ".ti3": "cgats",
    ".it8": "cgats",
}
"""Form of a file by the ending of its name; a reader goes by what is in it."""


def refused(message: str, problems: list[Problem]) -> PaletteError:
    """Give one error for all *problems*, the list kept to a readable length."""
    shown = problems[:_SHOWN]
    if len(problems) > _SHOWN:
        more = len(problems) - _SHOWN
        shown.append(
            Problem("further down", f"{more} more of these", "the first ones mended, then try again")
        )
    return PaletteError(message, shown)


def read_bytes(source: str | os.PathLike[str] | bytes, name: str | None) -> tuple[str, bytes]:
    """Give a file's name and bytes.

    Raises: PaletteError where it is missing, a folder, empty or too large.
    """
    accepted = f"a text file of at most {MAX_BYTES // 1_000_000} MB"
    if isinstance(source, bytes | bytearray | memoryview):
        label, data = name or "the file", bytes(source)
        size = len(data)
    else:
        label = name or Path(source).name or str(source)
        data = read_whole(source, MAX_BYTES, accepted)
        size = len(data)
    if size > MAX_BYTES:
        raise refused(f"{label} is too large.", [Problem(label, f"{size / 1e6:.0f} MB", accepted)])
    if not data.strip():
        raise refused(f"{label} is empty.", [Problem(label, "nothing", accepted)])
    return label, data


_NOT_CP1252 = {0x81, 0x8D, 0x8F, 0x90, 0x9D}
"""Bytes that the code page 1252 leaves undefined."""


def read_text(data: bytes, label: str) -> str:
    """Give the text of a file: UTF-8 or UTF-16 with its mark, else the code page 1252, else Latin-1.

    Raises: PaletteError where it is no text.
    """
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        text = data.decode("utf-16", "replace")
    else:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = data.decode("cp1252" if not set(data) & _NOT_CP1252 else "latin-1")
    if any(ord(letter) < 32 and letter not in "\t\n\r\f\v\x1a" for letter in text):
        raise refused(f"{label} is no text.", [Problem(label, "bytes that no text has", "a text file")])
    return text
