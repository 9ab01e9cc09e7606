"""What a person changes about the parts that were found, as plain data for the project file.

Places are written as shares of the picture, (0, 0) its top left corner and (1, 1) its bottom right, so that
they hold at every resolution, and where the resolution is not known.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

from blendkit.errors import Problem, ProjectError

Place = tuple[float, float]
Stroke = tuple[Place, ...]

OUTSIDE = "outside"
"""In a project file: the paper around the figure, as the part to merge with or give to."""


@dataclass(frozen=True, slots=True)
class Reassignment:
    """Give the pixels inside *polygon* to the part at *to*, or to the paper around when it is None."""

    polygon: Stroke
    to: Place | None


@dataclass(frozen=True, slots=True)
class Edits:
    """Changes to the parts, made in this order.

    closures_off: a place on or near each closure that is to be left open.
    closures: strokes that close a gap.
    splits: strokes across a part; each is run on at both ends until it leaves the part.
    cuts: a place in each part that is to be cut at its narrowest neck.
    merges: pairs of places, whose parts become one; None stands for the paper around.
    reassign: areas given to another part.
    """

    closures_off: tuple[Place, ...] = ()
    closures: tuple[Stroke, ...] = ()
    splits: tuple[Stroke, ...] = ()
    cuts: tuple[Place, ...] = ()
    merges: tuple[tuple[Place, Place | None], ...] = ()
    reassign: tuple[Reassignment, ...] = ()


def edits_to_table(edits: Edits) -> dict[str, Any]:
    """Give edits as plain lists, for a project file; what is empty is left out."""
    table: dict[str, Any] = {
        "closures_off": [_pair(place) for place in edits.closures_off],
        "closures": [[_pair(place) for place in stroke] for stroke in edits.closures],
        "splits": [[_pair(place) for place in stroke] for stroke in edits.splits],
        "cuts": [_pair(place) for place in edits.cuts],
        "merges": [[_pair(one), OUTSIDE if other is None else _pair(other)] for one, other in edits.merges],
        "reassign": [
            {"polygon": [_pair(place) for place in r.polygon], "to": OUTSIDE if r.to is None else _pair(r.to)}
            for r in edits.reassign
        ],
    }
    return {key: value for key, value in table.items() if value}


def edits_from_table(table: Mapping[str, Any]) -> Edits:
    """Read edits from a project file's table.

    Args:
        table: as :func:`edits_to_table` gives it; unknown keys are refused.

    Returns: the edits.
    Raises: ProjectError that names every entry that can't be read.
    """
    problems: list[Problem] = []
    known = [field.name for field in fields(Edits)]
    for key in table:
        if key not in known:
            problems.append(Problem("parts edits", f"the key “{key}”", ", ".join(known)))

    def place(value: Any, where: str) -> Place:
        if (
            isinstance(value, Sequence)
            and not isinstance(value, str)
            and len(value) == 2
            and all(isinstance(v, int | float) and not isinstance(v, bool) for v in value)
            and all(0 <= v <= 1 for v in value)
        ):
            return float(value[0]), float(value[1])
        problems.append(Problem(where, repr(value), "[x, y], each from 0 to 1 across and down the picture"))
        return 0.0, 0.0

    def place_or_outside(value: Any, where: str) -> Place | None:
        return None if value == OUTSIDE else place(value, where)

    def rows(key: str) -> list[tuple[str, Any]]:
        value = table.get(key, [])
        if not isinstance(value, Sequence) or isinstance(value, str):
            problems.append(Problem(key, repr(value), "a list"))
            return []
        return [(f"{key}, entry {number}", row) for number, row in enumerate(value, 1)]

    def stroke(value: Any, where: str, least: int) -> Stroke:
        if not isinstance(value, Sequence) or isinstance(value, str) or len(value) < least:
            problems.append(Problem(where, repr(value), f"a list of {least} or more places [x, y]"))
            return ()
        return tuple(place(one, where) for one in value)

    merges: list[tuple[Place, Place | None]] = []
    for where, row in rows("merges"):
        if not isinstance(row, Sequence) or isinstance(row, str) or len(row) != 2:
            problems.append(Problem(where, repr(row), f"two places, or a place and “{OUTSIDE}”"))
            continue
        merges.append((place(row[0], where), place_or_outside(row[1], where)))
    reassign: list[Reassignment] = []
    for where, row in rows("reassign"):
        if not isinstance(row, Mapping) or set(row) != {"polygon", "to"}:
            problems.append(Problem(where, repr(row), "a table with polygon and to"))
            continue
        reassign.append(Reassignment(stroke(row["polygon"], where, 3), place_or_outside(row["to"], where)))
    edits = Edits(
        closures_off=tuple(place(row, where) for where, row in rows("closures_off")),
        closures=tuple(stroke(row, where, 2) for where, row in rows("closures")),
        splits=tuple(stroke(row, where, 2) for where, row in rows("splits")),
        cuts=tuple(place(row, where) for where, row in rows("cuts")),
        merges=tuple(merges),
        reassign=tuple(reassign),
    )
    if problems:
        raise ProjectError("Some changes to the parts can't be read.", problems)
    return edits


def _pair(place: Place) -> list[float]:
    return [round(place[0], 5), round(place[1], 5)]
