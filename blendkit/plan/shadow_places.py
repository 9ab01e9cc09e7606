"""Where a part's shadows and highlights lie, in words: what the picture shows and the steps say.

The words are read off the same layers that the picture is painted from, so that the two can't differ.
"""

import re

import numpy as np
from numpy.typing import NDArray

from blendkit.project.work import Work, material_of

SEEN = 0.35
"""A layer counts from this share of full shadow: fainter, it is part of the blend. Own judgement."""

LEAST_SHARE = 0.025
"""Shadow on less than this share of a part isn't worth a word. Own judgement."""

CAST_SHARE = 0.12
"""But what throws so much of all the shadow cast on a part is named from two fifths of that. Own judgement."""

MOST_NAMED = 3
"""Neighbours that are named for a part's shadows: more is no longer read. Own judgement."""

_SIDES = (
    "the upper edge",
    "the upper right",
    "the right",
    "the lower right",
    "the lower edge",
    "the lower left",
    "the left",
    "the upper left",
)


def shadow_words(work: Work, place: int) -> str:
    """Say where the shadows of a part lie.

    Args:
        work: the project at work.
        place: the part's place in the project, from 0.

    Returns: such as "under the scarf, beside the arm and along the lower left"; "" for a part without areas or
        shadow.
    """
    own = _mask(work, place)
    size = int(own.sum())
    if not size:
        return ""
    found = _casters(work, place, own, size)
    cast, form, _ = work.shades.layers
    turned = own & (form > SEEN) & (cast < SEEN)
    grown = material_of(work.project.parts[place])
    if grown.root:
        found.append("at the roots" if grown.name == "hair" else "at the base")
        turned &= work.relief.grain.along > 0.4
    if turned.sum() > LEAST_SHARE * size:
        side = _side(work, own, turned)
        found.append(f"along {side}" + (" of each" if _count(work, own) > 1 else ""))
    if grown.tip:
        found.append("at the tips")
    return join_words(found)


def highlight_words(work: Work, place: int) -> str:
    """Say where a part's highlight lies, likewise; "" where it has none."""
    own = _mask(work, place)
    bright = own & (work.shades.gleam > SEEN)
    if bright.sum() <= 0.004 * own.sum() or not own.any():
        return ""
    if material_of(work.project.parts[place]).band:
        return "in a band across the strands"
    return f"toward {_side(work, own, bright)}" + (" of each" if _count(work, own) > 1 else "")


def _mask(work: Work, place: int) -> NDArray[np.bool_]:
    areas = np.zeros(work.relief.parts + 1, bool)
    areas[list(work.areas[place])] = True
    return areas[work.relief.labels]


def _count(work: Work, own: NDArray[np.bool_]) -> int:
    return len(np.unique(work.relief.units[own]))


def _casters(work: Work, place: int, own: NDArray[np.bool_], size: int) -> list[str]:
    """What casts shadow on the part, the largest first: "under the scarf"."""
    overlaps, part_of = work.relief.overlaps, work.part_of()
    width = own.shape[1]
    here = own.ravel()[overlaps.place] & (work.shades.layers[0].ravel()[overlaps.place] > SEEN)
    places, casters = overlaps.place[here], overlaps.caster[here]
    y, x = np.divmod(np.arange(own.size), width)
    flat = work.relief.labels.ravel()
    counts = np.maximum(np.bincount(flat, minlength=work.relief.parts + 1), 1)
    middle_x = np.bincount(flat, x, work.relief.parts + 1) / counts
    middle_y = np.bincount(flat, y, work.relief.parts + 1) / counts
    weight: dict[str, tuple[int, float, float]] = {}
    for caster in np.unique(casters):
        part = work.project.parts[part_of[caster] - 1] if part_of[caster] else None
        if part is None or part.leave_white or part.rest or part is work.project.parts[place]:
            continue
        by = places[casters == caster]
        count, right, down = weight.get(short_name(part.name), (0, 0.0, 0.0))
        right += float((by % width - middle_x[caster]).sum())
        down += float((by // width - middle_y[caster]).sum())
        weight[short_name(part.name)] = (count + len(by), right, down)
    told = sorted(weight.items(), key=lambda item: -item[1][0])
    return [
        f"{'under' if down > 0.6 * abs(right) else 'beside'} the {name}"
        for name, (count, right, down) in told[:MOST_NAMED]
        if count > min(LEAST_SHARE * size, max(CAST_SHARE * len(places), 0.4 * LEAST_SHARE * size))
    ]


def _side(work: Work, own: NDArray[np.bool_], some: NDArray[np.bool_]) -> str:
    """On which side of their surfaces some pixels lie, taken together."""
    units, width = work.relief.units.ravel(), own.shape[1]
    mine, chosen = np.flatnonzero(own), np.flatnonzero(some)
    counts = np.maximum(np.bincount(units[mine], minlength=work.relief.parts + 1), 1)
    offset = []
    for values in (np.arange(own.size) % width, np.arange(own.size) // width):
        middle = np.bincount(units[mine], values[mine], work.relief.parts + 1) / counts
        spread = np.sqrt(
            np.bincount(units[mine], (values[mine] - middle[units[mine]]) ** 2, len(middle)) / counts
        )
        offset.append(
            float(((values[chosen] - middle[units[chosen]]) / np.maximum(spread[units[chosen]], 1)).mean())
        )
    return _SIDES[round(float(np.degrees(np.arctan2(offset[0], -offset[1]))) / 45) % 8]


def short_name(name: str) -> str:
    """The thing in a part's name: "scarf, red" is the scarf."""
    return re.sub(r"^the ", "", name.split(",")[0].strip())


def join_words(words: list[str]) -> str:
    """Give words as a list in a sentence: "a, b and c"."""
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1] if words else ""
