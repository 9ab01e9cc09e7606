"""What a person changes about the parts that were found, as plain data for the project file.

Places are written as shares of the picture, (0, 0) its top left corner and (1, 1) its bottom right, so that
they hold at every resolution, and where the resolution is not known.
"""

from dataclasses import dataclass
from typing import Annotated, Any

from blendkit.forms import FAULTY, At, Numbers, Own, Record, Rows

Place = tuple[float, float]
Stroke = tuple[Place, ...]

OUTSIDE = "outside"
"""In a project file: the paper around the figure, as the part to merge with or give to."""


_PLACE = Numbers(2, 0, 1, "[x, y], each from 0 to 1 across and down the picture")
_STROKE = Rows(_PLACE, least=2, words="a list of two or more places [x, y]")


def _read_place_or_outside(value: Any, at: At) -> Any:
    return None if value == OUTSIDE else _PLACE.read(value, at)


def _read_merge(value: Any, at: At) -> Any:
    if not isinstance(value, list | tuple) or len(value) != 2:
        return at.fault(value, f"two places, or a place and “{OUTSIDE}”")
    ends = _PLACE.read(value[0], at), _read_place_or_outside(value[1], at)
    return FAULTY if FAULTY in ends else ends


@dataclass(frozen=True, slots=True)
class Reassignment:
    """Give the pixels inside *polygon* to the part at *to*, or to the paper around when it is None."""

    polygon: Annotated[Stroke, Rows(_PLACE, least=3, words="three or more places [x, y]")]
    to: Annotated[Place | None, Own(_read_place_or_outside, f"a place, or “{OUTSIDE}”")]


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

    closures_off: Annotated[tuple[Place, ...], Rows(_PLACE)] = ()
    closures: Annotated[tuple[Stroke, ...], Rows(_STROKE)] = ()
    splits: Annotated[tuple[Stroke, ...], Rows(_STROKE)] = ()
    cuts: Annotated[tuple[Place, ...], Rows(_PLACE)] = ()
    merges: Annotated[tuple[tuple[Place, Place | None], ...], Rows(Own(_read_merge))] = ()
    reassign: Annotated[tuple[Reassignment, ...], Rows(Record(Reassignment))] = ()


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


def _pair(place: Place) -> list[float]:
    return [round(place[0], 5), round(place[1], 5)]
