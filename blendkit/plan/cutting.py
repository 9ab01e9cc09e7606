"""Cutting papers out of sheets with as few sheets as can be: every cut goes from edge to edge, as a trimmer cuts.

All guillotine patterns of a sheet are found by dynamic programming over the sides that pieces can add up to;
which of them to cut, and how often, is a whole-number program (SciPy's HiGHS). Where the patterns are all of
them, the number of sheets is the least that there is; where a sheet takes so many small pieces that the search
stops early, the answer says whether it is still proven by area.
Source: Herz 1972 (cuts only at sums of sides); Gilmore and Gomory 1965 (patterns).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

SHEETS_MM = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4), "12 x 12 in": (304.8, 304.8)}
"""Sheets that papers are sold in, the longer side upright. Source: ISO 216; ANSI/ASME Y14.1; 12 inches square."""

MOST_WORK = 400_000
"""Unions of patterns that are tried before the search stops; own judgement, about two seconds."""


@dataclass(frozen=True, slots=True)
class Piece:
    """Something to cut: its size in mm, how many, and whether it may be turned by a quarter."""

    name: str
    width_mm: float
    height_mm: float
    count: int = 1
    may_turn: bool = True


@dataclass(frozen=True, slots=True)
class Placed:
    """A piece on a sheet: its top left corner and its size as it lies there."""

    name: str
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class Slice:
    """One cut, from edge to edge of what is left, in the order of cutting.

    Args:
        x1_mm, y1_mm, x2_mm, y2_mm: its ends on the sheet.
        at_mm: how far from the left edge, or from the top one, of the piece that is cut.
    """

    x1_mm: float
    y1_mm: float
    x2_mm: float
    y2_mm: float
    at_mm: float

    @property
    def down(self) -> bool:
        """Whether it goes from top to bottom."""
        return self.x1_mm == self.x2_mm


@dataclass(frozen=True, slots=True)
class CutSheet:
    """One way to cut a sheet, and how many sheets are cut so."""

    times: int
    pieces: tuple[Placed, ...]
    cuts: tuple[Slice, ...]


@dataclass(frozen=True, slots=True)
class CuttingPlan:
    """How to cut some pieces from equal sheets.

    Args:
        sheet_mm: width and height of a sheet.
        sheets: the patterns.
        count: sheets in all.
        at_least: no plan needs fewer than this.
        proven: whether *count* is the least.
        too_large: names of the pieces that no sheet holds.
    """

    sheet_mm: tuple[float, float]
    sheets: tuple[CutSheet, ...]
    count: int
    at_least: int
    proven: bool
    too_large: tuple[str, ...] = ()


Counts = tuple[int, ...]
_Tree = tuple[str, int, "_Tree | None", "_Tree | None"]  # kind, where or which, the two sides


class _Stop(Exception):
    """The search has taken as much work as it may."""


class _Patterns:
    """The best contents of every rectangle that cuts can leave, in tenths of a millimetre."""

    def __init__(self, sides: Sequence[tuple[int, int]], kinds: Sequence[int], wanted: Counts) -> None:
        self.sides, self.kinds, self.wanted = sides, kinds, wanted
        self.known: dict[tuple[int, int], dict[Counts, _Tree | None]] = {}
        self.work = 0

    def sums(self, limit: int, axis: int) -> list[int]:
        """All sums of sides up to *limit*, no piece more often than it is wanted."""
        reach = np.zeros(limit + 1, bool)
        reach[0] = True
        for side, kind in {(one[axis], kind) for one, kind in zip(self.sides, self.kinds, strict=True)}:
            for _ in range(min(self.wanted[kind], limit // side)):
                longer = reach.copy()
                longer[side:] |= reach[:-side]
                if (longer == reach).all():
                    break
                reach = longer
        return np.flatnonzero(reach).tolist()

    def prepare(self, width: int, height: int) -> None:
        self.across, self.down = self.sums(width, 0), self.sums(height, 1)

    def best(self, width: int, height: int) -> dict[Counts, _Tree | None]:
        """Counts that no other contents of the rectangle exceed, each with its cuts."""
        width = self.across[int(np.searchsorted(self.across, width, "right")) - 1]
        height = self.down[int(np.searchsorted(self.down, height, "right")) - 1]
        key = width, height
        if key in self.known:
            return self.known[key]
        found: dict[Counts, _Tree | None] = {tuple(0 for _ in self.wanted): None}
        for place, (w, h) in enumerate(self.sides):
            if w <= width and h <= height and self.wanted[self.kinds[place]]:
                counts = tuple(int(kind == self.kinds[place]) for kind in range(len(self.wanted)))
                found.setdefault(counts, ("piece", place, None, None))
        for kind, places, whole in (("x", self.across, width), ("y", self.down, height)):
            for at in places:
                if 0 < at <= whole // 2:
                    one = self.best(at, height) if kind == "x" else self.best(width, at)
                    rest = self.best(whole - at, height) if kind == "x" else self.best(width, whole - at)
                    self._join(found, kind, at, one, rest)
        self.known[key] = _undominated(found)
        return self.known[key]

    def _join(
        self,
        found: dict[Counts, _Tree | None],
        kind: str,
        at: int,
        one: dict[Counts, _Tree | None],
        rest: dict[Counts, _Tree | None],
    ) -> None:
        self.work += len(one) * len(rest)
        if self.work > MOST_WORK:
            raise _Stop
        for a, left in one.items():
            for b, right in rest.items():
                counts = tuple(min(x + y, most) for x, y, most in zip(a, b, self.wanted, strict=True))
                if counts not in found:
                    found[counts] = (kind, at, left, right)


def _undominated(found: dict[Counts, _Tree | None]) -> dict[Counts, _Tree | None]:
    kept: dict[Counts, _Tree | None] = {}
    for counts in sorted(found, reverse=True):
        if not any(all(x <= y for x, y in zip(counts, other, strict=True)) for other in kept):
            kept[counts] = found[counts]
    return kept


def plan_cuts(pieces: Sequence[Piece], sheet_mm: tuple[float, float]) -> CuttingPlan:
    """Find the fewest sheets that the pieces can be cut from by cuts from edge to edge.

    Args:
        pieces: what to cut; sizes above 0 mm.
        sheet_mm: width and height of a sheet.

    Returns: the plan. ``proven`` is True when no plan with fewer sheets exists.
    """
    width, height = (math.floor(10 * side + 0.5) for side in sheet_mm)

    def turned(piece: Piece) -> list[tuple[int, int]]:
        w, h = math.ceil(10 * piece.width_mm - 0.5), math.ceil(10 * piece.height_mm - 0.5)
        ways = [(w, h)] + ([(h, w)] if piece.may_turn and w != h else [])
        return [way for way in ways if way[0] <= width and way[1] <= height]

    fitting = [piece for piece in pieces if piece.count > 0 and turned(piece)]
    large = tuple(piece.name for piece in pieces if piece.count > 0 and not turned(piece))
    if not fitting:
        return CuttingPlan(sheet_mm, (), 0, 0, True, large)
    ways = [(way, kind) for kind, piece in enumerate(fitting) for way in turned(piece)]
    wanted = tuple(piece.count for piece in fitting)
    area = sum(piece.width_mm * piece.height_mm * piece.count for piece in fitting)
    bound = max(1, math.ceil(area / (sheet_mm[0] * sheet_mm[1]) - 1e-9))
    exact = True
    patterns = _Patterns([way for way, _ in ways], [kind for _, kind in ways], wanted)
    try:
        patterns.prepare(width, height)
        found = patterns.best(width, height)
    except _Stop:
        exact, found = False, _rows_only(ways, wanted, width, height)
    chosen, least = _choose(list(found), wanted)
    sheets = _drawn(
        chosen, found, wanted, [way for way, _ in ways], [kind for _, kind in ways], fitting, (width, height)
    )
    count = sum(sheet.times for sheet in sheets)
    at_least = least if exact else bound
    return CuttingPlan(sheet_mm, sheets, count, at_least, count == at_least, large)


def _choose(patterns: list[Counts], wanted: Counts) -> tuple[list[tuple[Counts, int]], int]:
    """The fewest sheets that give all that is wanted, by whole-number programming."""
    from scipy.optimize import LinearConstraint, milp

    matrix = np.array(patterns, float).T
    solved = milp(
        np.ones(len(patterns)),
        constraints=LinearConstraint(matrix, np.array(wanted, float)),
        integrality=np.ones(len(patterns)),
    )
    times = np.round(solved.x).astype(int)
    chosen = [(patterns[k], int(times[k])) for k in np.flatnonzero(times)]
    return chosen, int(times.sum())


def _rows_only(
    ways: Sequence[tuple[tuple[int, int], int]], wanted: Counts, width: int, height: int
) -> dict[Counts, _Tree | None]:
    """Patterns of one kind alone, in rows: always enough, and not always fewest."""
    found: dict[Counts, _Tree | None] = {}
    for place, ((w, h), kind) in enumerate(ways):
        across, down = width // w, height // h
        count = min(across * down, wanted[kind])
        tree: _Tree | None = None
        rows, left = [], count
        while left > 0:
            row: _Tree = ("piece", place, None, None)
            for _ in range(min(across, left) - 1):
                row = ("x", w, ("piece", place, None, None), row)
            rows.append(row)
            left -= across
        for one in reversed(rows):
            tree = one if tree is None else ("y", h, one, tree)
        counts = tuple(count if k == kind else 0 for k in range(len(wanted)))
        found[counts] = tree
    return found


def _drawn(
    chosen: list[tuple[Counts, int]],
    found: dict[Counts, _Tree | None],
    wanted: Counts,
    sides: Sequence[tuple[int, int]],
    kinds: Sequence[int],
    pieces: Sequence[Piece],
    sheet: tuple[int, int],
) -> tuple[CutSheet, ...]:
    """Lay the chosen patterns out, without the pieces that are more than wanted."""
    left = list(wanted)
    made: dict[tuple[tuple[Placed, ...], tuple[Slice, ...]], int] = {}
    for counts, times in sorted(chosen, key=lambda one: -sum(one[0])):
        for _ in range(times):
            placed: list[Placed] = []
            cuts: list[Slice] = []

            def cut(x: int, y: int, size: int, at: int, down: bool) -> None:
                x1, y1, x2, y2 = (x + at, y, x + at, y + size) if down else (x, y + at, x + size, y + at)
                cuts.append(Slice(x1 / 10, y1 / 10, x2 / 10, y2 / 10, at / 10))  # noqa: B023

            def lay(tree: _Tree | None, x: int, y: int, w: int, h: int) -> None:
                """Trim what all pieces of the tree leave over in one cut, then part them."""
                if tree is None:
                    return
                kind, at, one, other = tree
                wide, high = _extent(tree, sides)
                if wide < w:
                    cut(x, y, h, wide, True)
                if high < h:
                    cut(x, y, wide, high, False)
                if kind == "piece":
                    placed.append(Placed(pieces[kinds[at]].name, x / 10, y / 10, wide / 10, high / 10))  # noqa: B023
                elif kind == "x":
                    cut(x, y, high, at, True)
                    lay(one, x, y, at, high)
                    lay(other, x + at, y, wide - at, high)
                else:
                    cut(x, y, wide, at, False)
                    lay(one, x, y, wide, at)
                    lay(other, x, y + at, wide, high - at)

            lay(_wanted_of(found[counts], sides, kinds, left), 0, 0, *sheet)
            if placed:
                key = tuple(placed), tuple(cuts)
                made[key] = made.get(key, 0) + 1
    return tuple(CutSheet(times, *key) for key, times in made.items())


def _extent(tree: _Tree | None, sides: Sequence[tuple[int, int]]) -> tuple[int, int]:
    """Width and height that the pieces of a tree take up together."""
    if tree is None:
        return 0, 0
    kind, at, one, other = tree
    if kind == "piece":
        return sides[at]
    (a, b), (c, d) = _extent(one, sides), _extent(other, sides)
    return (at + c if c else a, max(b, d)) if kind == "x" else (max(a, c), at + d if d else b)


def _wanted_of(
    tree: _Tree | None, sides: Sequence[tuple[int, int]], kinds: Sequence[int], left: list[int]
) -> _Tree | None:
    """A tree without the pieces that are more than wanted, moved together; *left* is counted down."""
    if tree is None:
        return None
    kind, at, one, other = tree
    if kind == "piece":
        left[kinds[at]] -= 1
        return tree if left[kinds[at]] >= 0 else None
    one, other = _wanted_of(one, sides, kinds, left), _wanted_of(other, sides, kinds, left)
    if one is None or other is None:
        return one or other
    return kind, _extent(one, sides)[0 if kind == "x" else 1], one, other
