"""The few kinds of mistake that a user can make and put right.

Each carries one sentence for the person and, where there is more than one thing to mend, a
:class:`Problem` for every place, so that all are reported together. Nothing else is raised on purpose:
any other exception is a fault of blendkit's own.
"""

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing to mend: where it stands, what was found there, and what would be accepted.

    Args:
        where: the place in words; it is for the person, and no reader takes it apart.
        found: what stands there.
        accepted: what would be right.
        line: line of the file, from 1; None where there is none.
        column: letter of that line, from 1; None where it isn't known.
        key: name of the column, key or field that is meant, without its surroundings; "" for none.
    """

    where: str
    found: str
    accepted: str
    line: int | None = None
    column: int | None = None
    key: str = ""

    def __str__(self) -> str:
        """Give one line, for a list of problems."""
        return f"{self.where}: found {self.found}; accepted: {self.accepted}"


PROBLEMS_SHOWN = 20
"""Problems that a message lists; all of them stay in the error. Own judgement."""


class BlendkitError(Exception):
    """A mistake in what the user gave: a sentence, and every place that needs mending."""

    def __init__(self, message: str, problems: Iterable[Problem] = ()) -> None:
        super().__init__(message)
        self.message = message
        self.problems = tuple(problems)

    def __str__(self) -> str:
        """Give the sentence, then one line for each of the first problems, and how many more there are."""
        more = len(self.problems) - PROBLEMS_SHOWN
        lines = [self.message, *(f"  {problem}" for problem in self.problems[:PROBLEMS_SHOWN])]
        return "\n".join([*lines, *([f"  and {more} more"] if more > 0 else [])])


class ColourError(BlendkitError):
    """A colour that can't be read or is out of range."""


class PaletteError(BlendkitError):
    """A palette file, or a name looked up in one, that is not right."""


class InkError(BlendkitError):
    """An argument of the ink model that no ink or paper could have."""


class PictureError(BlendkitError):
    """A picture that can't be read or can't be used for what was asked."""


class SheetError(BlendkitError):
    """A sheet that can't be drawn or can't be read back."""


class ProjectError(BlendkitError):
    """A project file, or a part or marker named in one, that is not right."""
