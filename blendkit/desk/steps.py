"""Steps that can be taken back and done again, one by one: the drawer's and each project's."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Generic, TypeVar

Kept = TypeVar("Kept")


@dataclass(frozen=True)
class Step(Generic[Kept]):
    """One step: what it was, what is kept of before it, and the file's version after it."""

    words: str
    kept: Kept
    after: str


class Steps(Generic[Kept]):
    """The steps that were made, and those that were taken back, newest last."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._made: list[Step[Kept]] = []
        self._undone: list[Step[Kept]] = []

    def add(self, step: Step[Kept]) -> None:
        """Remember a step; what was taken back before can't be done again after it."""
        self._made = [*self._made, step][-self._most :]
        self._undone = []

    @property
    def undo_words(self) -> str:
        """What undo would take back, or ""."""
        return self._made[-1].words if self._made else ""

    @property
    def redo_words(self) -> str:
        """What redo would do again, or ""."""
        return self._undone[-1].words if self._undone else ""

    def undo(self, put_back: Callable[[Step[Kept] | None, str], Step[Kept]]) -> str:
        """Take the last step back.

        Args:
            put_back: is given the step, None where there is none, and a verb for messages; it puts back what is
                kept, and gives the step that would undo this.

        Returns: the step's words.
        """
        return self._move(self._made, self._undone, put_back, "taken back")

    def redo(self, put_back: Callable[[Step[Kept] | None, str], Step[Kept]]) -> str:
        """Do again what was taken back last; see :meth:`undo`."""
        return self._move(self._undone, self._made, put_back, "done again")

    @staticmethod
    def _move(
        source: list[Step[Kept]],
        target: list[Step[Kept]],
        put_back: Callable[[Step[Kept] | None, str], Step[Kept]],
        verb: str,
    ) -> str:
        step = put_back(source[-1] if source else None, verb)
        source.pop()
        target.append(step)
        return step.words
