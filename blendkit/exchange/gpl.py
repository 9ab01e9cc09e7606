"""GIMP palettes: named sRGB colours, nothing else.

Source: GIMP developer documentation, "GIMP Palette Format Version 2 (.gpl)".
"""

import re
from collections.abc import Iterable

import numpy as np

from blendkit.colour import is_in_srgb, labs_to_display_srgb1
from blendkit.errors import Problem
from blendkit.exchange.records import MAX_COLOURS, ExchangeColour, ExchangeFile, refused

_COLOUR = re.compile(r"\s*(-?\d{1,9})\s+(-?\d{1,9})\s+(-?\d{1,9})(?:\s+(.*))?$", re.ASCII)
_HEADING = re.compile(r"[A-Za-z]\w*\s*:")


def is_gpl(text: str) -> bool:
    """Tell whether a text is a GIMP palette."""
    return text.startswith("GIMP Palette")


def parse_gpl(text: str, label: str) -> ExchangeFile:
    """Read the text of a GIMP palette.

    Args:
        text: the whole file.
        label: its name, for messages.

    Returns: its colours, as sRGB hex.
    Raises: PaletteError with every line that can't be read.
    """
    lines = re.split("\r\n|\n|\r", text)
    if lines[0].strip() != "GIMP Palette":
        first = Problem(f"{label}, line 1", repr(lines[0][:60]), "GIMP Palette")
        raise refused(f"{label} is no GIMP palette.", [first])
    title = ""
    colours: list[ExchangeColour] = []
    problems: list[Problem] = []
    nameless = 0
    for number, line in enumerate(lines[1:], start=2):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        if not colours and _HEADING.match(line):
            if line.startswith("Name:"):
                title = line[5:].strip()
            continue
        found = _COLOUR.match(line)
        values = [int(found[i]) for i in (1, 2, 3)] if found else []
        if not found or not all(0 <= value <= 255 for value in values):
            accepted = "red, green and blue from 0 to 255, then a name"
            problems.append(Problem(f"{label}, line {number}", repr(line.strip()[:60]), accepted))
            continue
        if len(colours) == MAX_COLOURS:
            problems.append(Problem(f"{label}, line {number}", "more colours", f"at most {MAX_COLOURS}"))
            break
        red, green, blue = values
        name = (found[4] or "").strip()
        if not name or name.casefold() == "untitled":
            nameless += 1
            name = f"colour {len(colours) + 1}"
        colours.append(ExchangeColour(name, hex=f"#{red:02x}{green:02x}{blue:02x}", line=number))
    if problems:
        raise refused(f"{label} can't be read as a GIMP palette.", problems)
    if not colours:
        raise refused(
            f"{label} holds no colour.", [Problem(label, "no colour", "lines such as 200 85 61 Rust")]
        )
    notes = ["A GIMP palette holds screen colours only: each was read as sRGB, and is no measurement."]
    if nameless:
        one = "1 colour without a name was" if nameless == 1 else f"{nameless} colours without a name were"
        notes.append(f"{one} named by place.")
    return ExchangeFile("gpl", title, tuple(colours), tuple(notes))


def write_gpl(colours: Iterable[ExchangeColour], title: str) -> tuple[bytes, tuple[str, ...]]:
    """Write colours as a GIMP palette.

    Args:
        colours: with *lab* as D50 / 2 degree, or *hex* (which is kept to the digit).
        title: what the palette calls itself.

    Returns: the bytes of the file, and what it could not hold, in plain sentences.
    """
    chosen = list(colours)
    labs = np.array([[0.0, 0.0, 0.0] if colour.lab is None else colour.lab for colour in chosen]).reshape(
        -1, 3
    )
    shown = (
        np.rint(255 * np.asarray(labs_to_display_srgb1(labs))).astype(int)
        if len(chosen)
        else labs.astype(int)
    )
    outside = 0
    lines = ["GIMP Palette", f"Name: {_line(title) or 'blendkit'}", "Columns: 0", "#"]
    for colour, lab, srgb255 in zip(chosen, labs, shown, strict=True):
        if colour.hex:
            srgb255 = np.array([int(colour.hex[i : i + 2], 16) for i in (1, 3, 5)])
        elif not bool(is_in_srgb(lab)):
            outside += 1
        name = _line(colour.name) + (f", {colour.coats} coats" if colour.coats != 1 else "")
        red, green, blue = srgb255
        lines.append(f"{red:3d} {green:3d} {blue:3d}\t{name}")
    notes = [
        "A GIMP palette holds only names and screen colours: kinds, papers, coats, families, finishes, "
        "spectra and notes are left out."
    ]
    if outside:
        verb = "lies" if outside == 1 else "lie"
        notes.append(
            f"{outside} of {len(chosen)} colours {verb} outside what a screen shows; "
            "the nearest screen colour of the same hue was written."
        )
    return ("\n".join(lines) + "\n").encode(), tuple(notes)


def _line(text: str) -> str:
    """Give a text as it fits on a line."""
    return " ".join("".join(letter if letter.isprintable() else " " for letter in text).split())
