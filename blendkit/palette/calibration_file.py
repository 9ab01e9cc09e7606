"""Fitted ink constants beside their palette: ``<palette>.ink.toml``, one table for each paper.

The palette file itself stays as it is. A drawer without such a file costs one look for it; writing keeps
what others wrote in it.
"""

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from blendkit.errors import PaletteError, Problem
from blendkit.files import locked, read_whole, real_path, replace_file
from blendkit.forms import FAULTY, At, Number
from blendkit.ink import DEFAULT_MODEL, MODEL_BOUNDS, InkModel
from blendkit.palette import Palette, name_key
from blendkit.palette.store import beside

_HEAD = (
    "Ink constants fitted to measured swatches, one table for each paper; written by: blendkit calibrate",
    "Take a table out, or run blendkit calibrate --forget, to go back to the usual constants.",
)
_REMEDY = "the file as blendkit calibrate wrote it; or take the file away, and fit again"
_MOST_BYTES, _LONGEST_LINE = 1_000_000, 2000
"""Largest file and longest line that are read. Own judgement."""


@dataclass(frozen=True, slots=True)
class Residual:
    """How far predictions are from what was measured, in CIEDE2000.

    Args:
        median: half of the stacks are nearer.
        mean: over the stacks.
        max: the farthest.
    """

    median: float
    mean: float
    max: float


@dataclass(frozen=True, slots=True)
class StoredCalibration:
    """What is kept of a fit.

    Args:
        paper: its paper, as the palette calls it.
        model: the constants.
        date: when it was made, as it was stated.
        observations: stacks that it was fitted to.
        markers: markers that they are made of.
        before: residual under the usual constants, or None when the file doesn't say.
        after: residual under these.
        left_out: residual of each marker's stacks under constants fitted without that marker.
    """

    paper: str
    model: InkModel
    date: str
    observations: int
    markers: int
    before: Residual | None = None
    after: Residual | None = None
    left_out: Residual | None = None


def calibration_path(palette_path: str | os.PathLike[str]) -> Path:
    """Give the file that holds a palette's fitted constants, whether it is there or not."""
    return beside(real_path(palette_path), "ink.toml")


def read_calibrations(palette_path: str | os.PathLike[str]) -> tuple[StoredCalibration, ...]:
    """Give every stored fit of a palette, in the file's order; none when there is no file.

    Raises: PaletteError for a file that can't be read, naming what is wrong in it.
    """
    file = calibration_path(palette_path)
    return _read_fits(file, _tables(file))


def stored_model(palette: Palette, paper: str) -> InkModel | None:
    """Give the constants that are stored for a paper of the palette, or None.

    Raises: PaletteError as :func:`read_calibrations`.
    """
    if palette.path is None:
        return None
    if not calibration_path(palette.path).is_file():
        return None
    for stored in read_calibrations(palette.path):
        if name_key(stored.paper) == name_key(paper):
            return stored.model
    return None


def store_calibration(palette_path: str | os.PathLike[str], calibration: StoredCalibration) -> Path:
    """Write a fit beside the palette, in the place of an older one of the same paper.

    Returns: the file.
    Raises: PaletteError when it can't be read or written; then it is as it was.
    """
    import tomlkit

    file = calibration_path(palette_path)
    with locked(palette_path):
        read_calibrations(palette_path)
        if file.exists():
            document = tomlkit.parse(file.read_text("utf-8"))
        else:
            document = tomlkit.document()
            for line in _HEAD:
                document.add(tomlkit.comment(line))
            document.add(tomlkit.nl())
        if "paper" not in document:
            document["paper"] = tomlkit.aot()
        papers: Any = document["paper"]
        new = _table(calibration)
        older = [table for table in papers if name_key(str(table["name"])) == name_key(calibration.paper)]
        for table in older:
            for name, value in new.items():
                table[name] = value
        if not older:
            papers.append(new)
        replace_file(file, tomlkit.dumps(document).encode("utf-8"))
    return file


def forget_calibration(palette_path: str | os.PathLike[str], paper: str) -> StoredCalibration | None:
    """Take a paper's fit out of the file, and the file away when it was the last.

    Returns: what was taken out, or None when there was none.
    Raises: PaletteError when the file can't be read or written; then it is as it was.
    """
    import tomlkit

    file = calibration_path(palette_path)
    if not file.exists():
        return None
    with locked(palette_path):
        found = read_calibrations(palette_path)
        kept = [stored for stored in found if name_key(stored.paper) != name_key(paper)]
        if len(kept) == len(found):
            return None
        if kept:
            document = tomlkit.parse(file.read_text("utf-8"))
            papers: Any = document["paper"]
            for place in reversed(range(len(papers))):
                if name_key(str(papers[place]["name"])) == name_key(paper):
                    del papers[place]
            replace_file(file, tomlkit.dumps(document).encode("utf-8"))
        else:
            try:
                file.unlink()
            except OSError as error:
                raise _unreadable(file, error.strerror or str(error), "a file that may be removed") from None
    return next(stored for stored in found if name_key(stored.paper) == name_key(paper))


def _table(calibration: StoredCalibration) -> Any:
    import tomlkit

    table = tomlkit.table()
    table["name"] = calibration.paper
    table["date"] = calibration.date
    for name in MODEL_BOUNDS:
        table[name] = round(float(getattr(calibration.model, name)), 4)
    table["observations"] = calibration.observations
    table["markers"] = calibration.markers
    for name in ("before", "after", "left_out"):
        residual: Residual | None = getattr(calibration, name)
        if residual is not None:
            figures = tomlkit.inline_table()
            for figure in ("median", "mean", "max"):
                figures[figure] = round(getattr(residual, figure), 3)
            table[name] = figures
    return table


# ---------------------------------------------------------------- reading


def _refusal(file: Path, problems: Sequence[Problem]) -> PaletteError:
    return PaletteError(f"The fitted ink constants of this palette can't be used: {file.name}.", problems)


def _unreadable(file: Path, found: str, accepted: str = _REMEDY) -> PaletteError:
    return _refusal(file, [Problem(str(file), found, accepted)])


def _tables(file: Path) -> list[Any]:
    import tomllib  # only a palette with fitted constants needs it

    try:
        if not file.exists():
            return []
        text = read_whole(file, _MOST_BYTES, "a file of a few lines for each paper").decode("utf-8")
        # A key of thousands of dots takes minutes to read.
        if max(map(len, text.splitlines()), default=0) > _LONGEST_LINE:
            raise _unreadable(file, "far more than a fit takes", "a file of a few lines for each paper")
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # of TOML, of UTF-8, of numbers or lists without end
        raise _unreadable(file, str(error)) from None
    tables = data.get("paper", [])
    if not isinstance(tables, list):
        raise _unreadable(file, "“paper” that is no list of tables")
    return tables


def _read_fits(file: Path, tables: Sequence[Any]) -> tuple[StoredCalibration, ...]:
    problems: list[Problem] = []
    fits = [
        _calibration(table, At(file.name, problems, f"[[paper]] number {place}"))
        for place, table in enumerate(tables, start=1)
    ]
    if problems:
        raise _refusal(file, problems)
    return tuple(fits)


def _calibration(table: Any, at: At) -> StoredCalibration:
    if not isinstance(table, Mapping) or not isinstance(table.get("name"), str):
        at.fault("no name of a paper", _REMEDY, words=True)
        table = {"name": ""}
    constants = {}
    for name, (low, high) in MODEL_BOUNDS.items():
        usual = getattr(DEFAULT_MODEL, name)
        value = Number(low, high).read(table.get(name, usual), at.of(name))
        constants[name] = usual if value is FAULTY else value
    return StoredCalibration(
        paper=table["name"],
        model=InkModel(**constants),
        date=str(table.get("date", "")),
        observations=_count(table.get("observations")),
        markers=_count(table.get("markers")),
        before=_residual(table.get("before")),
        after=_residual(table.get("after")),
        left_out=_residual(table.get("left_out")),
    )


def _count(value: Any) -> int:
    return value if isinstance(value, int) else 0


def _residual(table: Any) -> Residual | None:
    try:
        return Residual(float(table["median"]), float(table["mean"]), float(table["max"]))
    except (KeyError, TypeError, ValueError, OverflowError):
        return None
