"""Plain data from outside, checked one way: what is accepted stands beside each field, all faults come at once.

A form is a dataclass whose fields say in their annotation what they take:

>>> @dataclass(frozen=True)
... class Rim:
...     width_mm: Annotated[float, Number(0, 50, "mm")] = 2.0
>>> faults = []
>>> read_form(Rim, {"width_mm": "wide"}, At("cut.toml", faults))
Rim(width_mm=2.0)
>>> print(faults[0])
cut.toml, width_mm: found 'wide'; accepted: a number from 0 to 50 mm

What is faulty stands at its default, so that reading goes on; who reads a form refuses it when there are faults.
"""

import dataclasses
import difflib
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Annotated, Any, ClassVar, Protocol, TypeVar, get_args, get_origin, get_type_hints

from blendkit.errors import Problem

Form = TypeVar("Form")
Path = tuple[str | int, ...]

LONGEST_SHOWN = 60
"""Letters of a wrong value that are shown. Own judgement."""

LARGEST = 1e300
"""Numbers beyond are taken for none: sums of them would overflow. Own judgement."""

FAULTY: Any = object()
"""In place of a value that is not accepted; its fault has been noted."""

UNREAD = "\0 unread"
"""In place of a value that could not be read, which has been told already: it is neither taken nor noted again."""


@dataclass(frozen=True, slots=True)
class At:
    """Where a value stands, and the list that its faults go to.

    Args:
        file: the file, or "" for none.
        problems: where faults are put.
        inside: the place within the file, in words.
        path: the same as keys and numbers of rows, from 1.
        line_of: gives the line of a path, or None.
        strict: whether a key that nobody knows is a fault; it is none in files that a later version may write.
        outer: the place around, for the rows of a list.
    """

    file: str
    problems: list[Problem]
    inside: str = ""
    path: Path = ()
    line_of: Callable[[Path], int | None] | None = None
    strict: bool = True
    outer: str = ""

    def of(self, key: str) -> "At":
        """The place of a key in it."""
        inside = _joined(self.inside, key)
        return dataclasses.replace(self, inside=inside, outer=self.inside, path=(*self.path, key))

    def row(self, number: int, called: str = "") -> "At":
        """The place of one row of a list, from 1; *called* what it is called there, in place of “…, entry 1”."""
        inside = _joined(self.outer, called) if called else _joined(self.inside, f"entry {number}")
        return dataclasses.replace(self, inside=inside, path=(*self.path, number))

    def fault(self, found: Any, accepted: str, words: bool = False) -> Any:
        """Note a fault; *found* is told as it was typed, or with *words* as a sentence. Gives FAULTY."""
        line = self.line_of(self.path) if self.line_of is not None else None
        where = ", ".join(
            one for one in (self.file, f"line {line}" if line is not None else "", self.inside) if one
        )
        key = next((one for one in reversed(self.path) if isinstance(one, str)), "")
        told = str(found) if words else shown(found)
        self.problems.append(Problem(where, told, accepted, line=line, key=key))
        return FAULTY


def _joined(*words: str) -> str:
    return ", ".join(one for one in words if one)


def shown(value: Any) -> str:
    """A value as it was typed, cut when it is long; "nothing" for none."""
    text = "nothing" if value is None else repr(value)
    return text if len(text) <= LONGEST_SHOWN else f"{text[: LONGEST_SHOWN - 1]}…"


class Check(Protocol):
    """What a field takes."""

    blank: ClassVar[Any]
    """What stands in a field that has no default, when its value is faulty."""

    @property
    def accepted(self) -> str:
        """What is accepted, in words."""

    def read(self, value: Any, at: At) -> Any:
        """The value as the record holds it, or FAULTY when a fault was noted."""


@dataclass(frozen=True, slots=True)
class Words:
    """Words; *among* the only ones, *needed* what they are where some have to be, *exact* just as sent."""

    among: Sequence[str] = ()
    longest: int | None = None
    needed: str = ""
    exact: bool = False
    blank: ClassVar[Any] = ""

    @property
    def accepted(self) -> str:
        """What is accepted, in words."""
        most = "" if self.longest is None else f" of at most {self.longest} letters"
        if self.exact and not self.among:
            return f"a text{most}"
        return (
            ", ".join(one for one in self.among if one) or self.needed or f'words between quotes, "…"{most}'
        )

    def read(self, value: Any, at: At) -> Any:
        """The words without blanks about them; of several lines, without the empty ones about them."""
        if not isinstance(value, str) or "\0" in value or (self.needed and not value.strip()):
            return at.fault(value, self.accepted)
        text = value if self.exact else value.strip("\n") if "\n" in value else value.strip()
        if (self.among and text not in self.among) or (self.longest is not None and len(text) > self.longest):
            return at.fault(value, self.accepted)
        return text


@dataclass(frozen=True, slots=True)
class Number:
    """A number from *low* to *high*; *words* say so where that isn't plain."""

    low: float = -math.inf
    high: float = math.inf
    unit: str = ""
    whole: bool = False
    words: str = ""
    blank: ClassVar[Any] = 0

    @property
    def accepted(self) -> str:
        """What is accepted, in words."""
        if self.words:
            return self.words
        kind = "a whole number" if self.whole else "a number"
        if math.isfinite(self.high):
            return f"{kind} from {self.low:g} to {self.high:g} {self.unit}".strip()
        return f"{kind} from {self.low:g}" if math.isfinite(self.low) else kind

    def fits(self, value: Any) -> bool:
        """Whether it is such a number."""
        right = isinstance(value, int if self.whole else int | float) and not isinstance(value, bool)
        return right and abs(value) <= LARGEST and self.low <= value <= self.high

    def read(self, value: Any, at: At) -> Any:
        """An int of whole numbers, else a float."""
        if not self.fits(value):
            return at.fault(value, self.accepted)
        return value if self.whole else float(value)


@dataclass(frozen=True, slots=True)
class Flag:
    """true or false."""

    accepted: ClassVar[str] = "true or false"
    blank: ClassVar[Any] = False

    def read(self, value: Any, at: At) -> Any:
        """A bool."""
        return value if isinstance(value, bool) else at.fault(value, self.accepted)


@dataclass(frozen=True, slots=True)
class Numbers:
    """So many numbers, such as a place [x, y]."""

    count: int
    low: float
    high: float
    words: str = ""
    blank: ClassVar[Any] = ()

    @property
    def accepted(self) -> str:
        """What is accepted, in words."""
        return self.words or f"{self.count} numbers, {self.low:g} to {self.high:g}"

    def fits(self, value: Any) -> bool:
        """Whether they are."""
        each = Number(self.low, self.high)
        return isinstance(value, list | tuple) and len(value) == self.count and all(map(each.fits, value))

    def read(self, value: Any, at: At) -> Any:
        """A tuple of floats."""
        return tuple(map(float, value)) if self.fits(value) else at.fault(value, self.accepted)


@dataclass(frozen=True, slots=True)
class Rows:
    """A list, each of whose rows *each* takes; *row* is what one is called, such as part, *by* what names it."""

    each: Check
    least: int = 0
    most: int = 100_000
    row: str = ""
    by: str = "name"
    words: str = ""
    blank: ClassVar[Any] = ()

    @property
    def accepted(self) -> str:
        """What is accepted, in words."""
        return self.words or (
            f"a list of {self.least} or more" if self.least else f"a list of at most {self.most}"
        )

    def read(self, value: Any, at: At) -> Any:
        """A tuple of the rows; FAULTY when one of them is, unless it is a form, whose faults stand at defaults."""
        if not isinstance(value, list | tuple):
            return at.fault(value, self.accepted)
        if not self.least <= len(value) <= self.most:
            return at.fault(f"{len(value)} entries", self.accepted, words=True)
        rows = []
        for number, one in enumerate(value, 1):
            name = one.get(self.by) if isinstance(one, Mapping) else None
            told = f" ({name})" if isinstance(name, str) and name else ""
            rows.append(self.each.read(one, at.row(number, f"{self.row} {number}{told}" if self.row else "")))
        return FAULTY if any(row is FAULTY for row in rows) else tuple(rows)


@dataclass(frozen=True, slots=True)
class Record:
    """A table, as a form; *words* how it is opened."""

    form: type
    words: str = "a table"
    sense: Callable[[Any, Mapping[str, Any], At], None] | None = None
    """Notes what is wrong between its fields."""
    usual: tuple[tuple[str, Any], ...] = ()
    """What fields without a default are where the table doesn't tell them."""
    blank: ClassVar[Any] = None

    @property
    def accepted(self) -> str:
        """What is accepted, in words."""
        return self.words

    def read(self, value: Any, at: At) -> Any:
        """The form."""
        if not isinstance(value, Mapping):
            return at.fault(value, self.accepted)
        record: Any = read_form(self.form, value, at, **dict(self.usual))
        if self.sense is not None:
            self.sense(record, value, at)
        return record


@dataclass(frozen=True, slots=True)
class Own:
    """What a function of the form's own reads: it is given the value and its place."""

    function: Callable[[Any, At], Any]
    accepted: str = ""
    blank: ClassVar[Any] = None

    def read(self, value: Any, at: At) -> Any:
        """What the function gives."""
        return self.function(value, at)


@cache
def checks_of(form: Any) -> dict[str, Check]:
    """What each field of a form takes; fields that say nothing aren't read."""
    found: dict[str, Check] = {}
    for name, hint in get_type_hints(form, include_extras=True).items():
        if get_origin(hint) is Annotated:
            found[name] = get_args(hint)[1]
    return found


def read_form(form: type[Form], given: Mapping[str, Any], at: At, **more: Any) -> Form:
    """Read a table as a form; every fault is noted, and its field stands at its default.

    Args:
        form: the dataclass.
        given: the table.
        at: where it stands.
        more: fields that the table doesn't tell, or what they are where it doesn't.
    """
    kind: Any = form
    checks = checks_of(kind)
    if at.strict:
        note_unknown(given, checks, at)
    values = dict(more)
    for one in dataclasses.fields(kind):
        check = checks.get(one.name)
        if check is None:
            continue
        value = given.get(one.name)
        has_default = one.default is not dataclasses.MISSING or one.default_factory is not dataclasses.MISSING
        if value is not None and value != UNREAD:
            read = check.read(value, at.of(one.name))
        else:
            read = FAULTY
            if value is None and not has_default and one.name not in values:
                at.of(one.name).fault(None, check.accepted)
        if read is not FAULTY:
            values[one.name] = read
        elif not has_default and one.name not in values:
            values[one.name] = check.blank
    return form(**values)


def note_unknown(given: Iterable[str], known: Iterable[str], at: At) -> None:
    """Note every key that isn't known, with those that are like it."""
    known = list(known)
    for key in given:
        if key not in known:
            near = difflib.get_close_matches(key, known, n=3, cutoff=0.5)
            there = dataclasses.replace(at, path=(*at.path, key))
            there.fault(f"the key “{key}”", ", ".join(near or known), words=True)
