"""How the drawer's markers are laid out: by hue and lightness, by family, by what is missing."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blendkit.advice.gaps import GapAdvice
from blendkit.colour import lab_to_lch
from blendkit.inked import Inked
from blendkit.words import NEUTRAL_CHROMA

ARRANGEMENTS = ("hue", "family", "gap")


EARTH_CHROMA = 34.0
"""Chroma below which reds, oranges and yellows lie with the earths. A choice, no source."""

_TRAYS = (
    (12.0, "Roses"),
    (42.0, "Reds"),
    (70.0, "Oranges"),
    (102.0, "Yellows"),
    (160.0, "Greens"),
    (228.0, "Teals"),
    (290.0, "Blues"),
    (350.0, "Violets"),
    (361.0, "Roses"),
)
"""Upper limit of the CIELAB hue angle of each tray, degrees. Own reading, common practice."""

_ORDER = ("Roses", "Reds", "Oranges", "Yellows", "Greens", "Teals", "Blues", "Violets", "Earths", "Greys")


@dataclass(frozen=True, slots=True)
class Tray:
    """One compartment of the drawer.

    Args:
        title: its label.
        names: the markers in it, lightest first.
        words: what to know of it, or "".
    """

    title: str
    names: tuple[str, ...]
    words: str = ""


def arrange(inked: Inked, by: str, gaps: GapAdvice | None = None) -> tuple[Tray, ...]:
    """Lay the markers out in trays.

    Args:
        inked: the drawer on its paper.
        by: one of :data:`ARRANGEMENTS`.
        gaps: what the drawer lacks, for "gap".

    Returns: the trays, each with at least one marker; every marker in one tray at least.
    """
    if by == "family":
        return _by_family(inked)
    if by == "gap" and gaps is not None:
        return _by_gap(inked, gaps)
    return _by_hue(inked)


def _lightest_first(inked: Inked, rows: Sequence[int]) -> tuple[str, ...]:
    return tuple(inked.markers[row].name for row in sorted(rows, key=lambda row: -inked.lab[row, 0]))


def _by_hue(inked: Inked) -> tuple[Tray, ...]:
    trays: dict[str, list[int]] = {title: [] for title in _ORDER}
    for row, lch in enumerate(lab_to_lch(inked.lab)):
        trays[_hue_tray(lch)].append(row)
    return tuple(Tray(title, _lightest_first(inked, rows)) for title, rows in trays.items() if rows)


def _hue_tray(lch: NDArray[np.float64]) -> str:
    if lch[1] < NEUTRAL_CHROMA:
        return "Greys"
    if 30.0 <= lch[2] < 95.0 and lch[1] < EARTH_CHROMA:
        return "Earths"
    return next(title for limit, title in _TRAYS if lch[2] < limit)


def _by_family(inked: Inked) -> tuple[Tray, ...]:
    trays: dict[str, list[int]] = {}
    for row, marker in enumerate(inked.markers):
        trays.setdefault(marker.family, []).append(row)
    alone = trays.pop("", [])
    found = [
        Tray(
            family,
            _lightest_first(inked, rows),
            "one member only: it has neither light nor shadow of its own" if len(rows) == 1 else "",
        )
        for family, rows in sorted(trays.items(), key=lambda pair: pair[0].casefold())
    ]
    if alone:
        found.append(Tray("No family yet", _lightest_first(inked, alone)))
    return tuple(found)


def _by_gap(inked: Inked, gaps: GapAdvice) -> tuple[Tray, ...]:
    lacks: dict[str, set[str]] = {}
    for need in gaps.needs:
        lacks.setdefault(need.base, set()).add(need.lacks)
    kinds: tuple[tuple[str, set[str], str], ...] = (
        ("No shadow, no light", {"shadow", "light"}, "nothing in the drawer shades or lights these"),
        ("No shadow", {"shadow"}, "no darker marker of the drawer fits these"),
        ("No light", {"light"}, "no lighter marker fits these; bare paper can be their light"),
        ("Complete", set(), "these lack nothing"),
    )
    return tuple(
        Tray(title, _lightest_first(inked, rows), words)
        for title, wanted, words in kinds
        if (rows := [row for row, one in enumerate(inked.markers) if lacks.get(one.name, set()) == wanted])
    )
