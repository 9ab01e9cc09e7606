"""Which overlaps to ask a person about: those whose flip would change the picture most come first."""

from dataclasses import dataclass

import numpy as np

from blendkit.project.work import Work

MOST_ASKED = 5
"""More questions than this nobody answers. Own judgement."""

LEAST_DOUBT = 0.12
"""Chance that a guess is wrong below which it isn't asked about. Own judgement."""

LEAST_MM2 = 3.0
"""Shadow that is expected to move, in square millimetres, from which a question is worth asking. Own judgement."""


@dataclass(frozen=True, slots=True)
class Question:
    """Which of two parts lies over the other?

    Args:
        front: the part that is guessed to lie in front.
        behind: the other.
        doubt: the chance that the guess is wrong, 0 to 0.5, over all their borders.
        changes_mm2: how much shadow would move, by that chance.
        border_mm: length of their common border.
        words: the question, as a person would ask it.
        decision: the line that answers yes in a project file; swap the two names for no.
    """

    front: str
    behind: str
    doubt: float
    changes_mm2: float
    border_mm: float
    words: str
    decision: str


def find_questions(work: Work, most: int = MOST_ASKED) -> tuple[Question, ...]:
    """Find the overlaps to ask about.

    Args:
        work: the project at work.
        most: at most so many.

    Returns: questions about pairs of different parts that nobody has decided, the one that changes most first.
    """
    fronts, part_of, overlaps = work.fronts, work.part_of(), work.relief.overlaps
    parts = work.project.parts
    widest_mm = overlaps.widest / work.relief.per_mm
    lean: dict[tuple[int, int], list[float]] = {}
    for row in np.flatnonzero(~fronts.given & (fronts.beside < 0.5)):
        one, other = fronts.pairs[row].tolist()
        low, high = sorted((int(part_of[one]), int(part_of[other])))
        surfaces = work.relief.surfaces
        drawn_on = surfaces.under[one] == surfaces.of[other] or surfaces.under[other] == surfaces.of[one]
        if not low or low == high or drawn_on or any(parts[k - 1].leave_white for k in (low, high)):
            continue
        first = float(fronts.first_in_front[row])
        low_in_front = first if int(part_of[one]) == low else 1 - first
        border = float(fronts.border_mm[row])
        width = sum(min(float(widest_mm[area]), work.project.shadow_mm) for area in (one, other))
        sums = lean.setdefault((low, high), [0.0, 0.0, 0.0])
        for k, value in enumerate((border * low_in_front, border, border * width)):
            sums[k] += value
    found = []
    for (low, high), (front_mm, border, area) in lean.items():
        likely = front_mm / border
        doubt = min(likely, 1 - likely)
        if doubt < LEAST_DOUBT or doubt * area < LEAST_MM2:
            continue
        front, behind = (parts[k - 1].name for k in ((low, high) if likely >= 0.5 else (high, low)))
        words = f"{_does(front)} the {_plain(front)} lie over the {_plain(behind)}?"
        decision = f'fronts = [["{front}", "{behind}"]]'
        found.append(Question(front, behind, doubt, doubt * area, border, words, decision))
    return tuple(sorted(found, key=lambda one: -one.changes_mm2)[:most])


def _plain(name: str) -> str:
    return name.removeprefix("the ").replace(", ", " ")


def _does(name: str) -> str:
    head = name.split(",")[0]
    return "Do" if head.endswith("s") and not head.endswith("ss") else "Does"
