"""Exact choices: the most that a few can cover, and the fewest that cover all (SciPy's HiGHS).

Nothing here knows markers. Both are small mixed-integer programmes; each answer says whether it is proven best or
whether its limit of nodes came first: a limit of work, so that answers don't depend on the machine. An interior
check counts what was chosen again with plain arithmetic.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Choice:
    """The rows chosen to cover most columns.

    Args:
        chosen: rows, ascending; none that adds nothing.
        covered: columns that they cover.
        exact: whether no other choice of that many covers more.
        bound: columns that no such choice can exceed.
    """

    chosen: tuple[int, ...]
    covered: int
    exact: bool
    bound: int


NODES = 1
"""Nodes of the search tree that each exact search may open: 40 targets over 400 random markers are not proven best
in one, nor in 100, which took five times as long and found at most one marker fewer. Own judgement."""


def choose_cover(
    covers: NDArray[np.bool_],
    most: int,
    *,
    prices: NDArray[np.float64] | None = None,
    budget: float | None = None,
    nodes: int = NODES,
) -> Choice:
    """Choose at most *most* rows that together cover as many columns as can be.

    Args:
        covers: shape (rows, columns), True where a row covers a column.
        most: rows to choose, 0 or more.
        prices: what each row costs, shape (rows,); needed with *budget*.
        budget: what the chosen rows may cost together; None for any.
        nodes: of the search tree, at most.

    Returns: the choice.
    Source: maximum coverage as a 0-1 programme (Church and ReVelle 1974, The maximal covering location problem).
    """
    useful = np.flatnonzero(covers.any(axis=1))
    open_columns = np.flatnonzero(covers.any(axis=0))
    if most <= 0 or not len(useful):
        return Choice((), 0, True, 0)
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import csr_array, eye_array, hstack

    part = covers[np.ix_(useful, open_columns)]
    rows, columns = part.shape
    # Variables: a row is chosen (0 or 1), then a column is covered (0 to 1; whole at the optimum).
    cost = np.concatenate([np.full(rows, 1e-4), -np.ones(columns)])
    needs_a_row = hstack([-csr_array(part.T.astype(float)), eye_array(columns)])
    count = csr_array(np.concatenate([np.ones(rows), np.zeros(columns)])[None, :])
    limits = [LinearConstraint(needs_a_row, -np.inf, 0.0), LinearConstraint(count, 0.0, most)]
    if budget is not None and prices is not None:
        spent = csr_array(np.concatenate([prices[useful], np.zeros(columns)])[None, :])
        limits.append(LinearConstraint(spent, 0.0, budget + 1e-9))
    result = milp(
        cost,
        constraints=limits,
        integrality=np.concatenate([np.ones(rows), np.zeros(columns)]),
        bounds=Bounds(0.0, 1.0),
        options={"node_limit": nodes},
    )
    chosen = np.flatnonzero(result.x[:rows] > 0.5) if result.x is not None else np.array([], dtype=int)
    covered = int(part[chosen].any(axis=0).sum())
    exact = result.status == 0
    bound = covered if exact else int(np.floor(-_dual_bound(result, -float(columns)) + most * 1e-4 + 1e-6))
    return Choice(tuple(int(useful[row]) for row in chosen), covered, exact, bound)


@dataclass(frozen=True, slots=True)
class Selection:
    """The fewest things that meet every demand.

    Args:
        copies: how many of each thing, shape (things,).
        way: for each demand the way that meets it, or -1 where none does.
        exact: whether no selection needs fewer.
        bound: number of copies that no selection can go below.
    """

    copies: NDArray[np.int64]
    way: tuple[int, ...]
    exact: bool
    bound: int


def choose_fewest(
    ways: Sequence[Sequence[tuple[int, ...]]],
    things: int,
    *,
    load: float = 0.0,
    most: int | None = None,
    costs: Sequence[Sequence[float]] | None = None,
    prices: NDArray[np.float64] | None = None,
    budget: float | None = None,
    nodes: int = NODES,
) -> Selection:
    """Choose the fewest things such that every demand has a way all of whose things are chosen.

    Args:
        ways: for each demand its ways, each a tuple of things; a demand without a way stays unmet.
        things: how many there are.
        load: share of a thing that one demand takes; 0 means that one of each is enough, 0.4 that a thing used
            in five demands is needed twice.
        most: when given, the number of copies is capped, and as many demands as can be are met instead.
        costs: for each way what it is worth less than the best, 0 to 1, to prefer good ways among equals.
        prices: what one of each thing costs, shape (things,); needed with *budget*.
        budget: what all copies may cost together; with it as many demands as can be are met.
        nodes: of the search tree, at most.

    Returns: the selection.
    Source: set covering as a mixed-integer programme (Karp 1972 for the problem; HiGHS for the solution).
    """
    left = [list(range(len(options))) for options in ways]
    if load <= 0.0 and budget is None:
        left = _without_dominated(ways, costs)
    pairs = [(demand, way) for demand, options in enumerate(left) for way in options]
    if not pairs:
        return Selection(np.zeros(things, dtype=np.int64), (-1,) * len(ways), True, 0)
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import coo_array

    uses = len(pairs)
    capped = most is not None or budget is not None
    demands = [demand for demand, options in enumerate(ways) if options]
    # Variables: copies of each thing (whole), then a way is used (0 or 1).
    entries: list[tuple[int, int, float]] = []
    lower: list[float] = []
    upper: list[float] = []

    def constrain(terms: list[tuple[int, float]], low: float, high: float) -> None:
        entries.extend((len(lower), column, factor) for column, factor in terms)
        lower.append(low)
        upper.append(high)

    by_demand: dict[int, list[int]] = {demand: [] for demand in demands}
    by_thing: dict[int, list[int]] = {}
    for place, (demand, way) in enumerate(pairs):
        by_demand[demand].append(place)
        for thing in set(ways[demand][way]):
            by_thing.setdefault(thing, []).append(place)
    # A demand uses one way, so all its ways that need a thing together need it once: far tighter than each alone.
    for thing, places in by_thing.items():
        for demand in dict.fromkeys(pairs[place][0] for place in places):
            using = [(things + place, 1.0) for place in places if pairs[place][0] == demand]
            constrain([*using, (thing, -1.0)], -np.inf, 0.0)
    for demand in demands:
        terms = [(things + place, 1.0) for place in by_demand[demand]]
        constrain(terms, 0.0 if capped else 1.0, 1.0)
    if load > 0.0:
        for thing, places in by_thing.items():
            constrain([(thing, -1.0), *((things + place, load) for place in places)], -np.inf, 1e-9)
    if most is not None:
        constrain([(thing, 1.0) for thing in range(things)], 0.0, float(most))
    if budget is not None and prices is not None:
        constrain([(thing, float(price)) for thing, price in enumerate(prices)], 0.0, budget + 1e-9)
    worth = np.array([(costs[demand][way] if costs else 0.0) for demand, way in pairs])
    small = 1e-3 / max(1, len(demands))
    cost = np.concatenate(
        [np.full(things, 1e-4 if capped else 1.0), small * worth - (1.0 if capped else 0.0)]
    )
    rows, columns, values = zip(*entries, strict=True)
    matrix = coo_array((values, (rows, columns)), shape=(len(lower), things + uses)).tocsr()
    high = np.concatenate([np.full(things, 1.0 if load <= 0.0 else np.inf), np.ones(uses)])
    result = milp(
        cost,
        constraints=LinearConstraint(matrix, np.array(lower), np.array(upper)),
        integrality=np.ones(things + uses),
        bounds=Bounds(0.0, high),
        options={"node_limit": nodes},
    )
    if result.x is None:
        return Selection(np.zeros(things, dtype=np.int64), (-1,) * len(ways), False, 0)
    copies = np.rint(result.x[:things]).astype(np.int64)
    used = result.x[things:] > 0.5
    chosen = [-1] * len(ways)
    for place, (demand, way) in enumerate(pairs):
        if used[place]:
            chosen[demand] = way
    exact = result.status == 0
    bound = int(copies.sum()) if exact else int(np.ceil(_dual_bound(result, 0.0) - 0.01))
    return Selection(copies, tuple(chosen), exact, max(0, bound))


def _without_dominated(
    ways: Sequence[Sequence[tuple[int, ...]]], costs: Sequence[Sequence[float]] | None
) -> list[list[int]]:
    """Ways of each demand without those that another can take the place of in any selection, at no more things.

    What only one demand can use serves nothing else: of two ways that share the same with other demands, the one
    with fewer such things will do, else the cheaper; and so will one that adds no more in all.
    """
    left = [list(range(len(options))) for options in ways]
    while True:
        users = Counter(
            thing
            for demand, options in enumerate(left)
            for thing in {thing for way in options for thing in ways[demand][way]}
        )
        before = sum(map(len, left))
        for demand, options in enumerate(left):
            best: dict[tuple[frozenset[int], int], int] = {}
            for way in options:
                things = set(ways[demand][way])
                shared = frozenset(thing for thing in things if users[thing] > 1)
                key = (shared, len(things) - len(shared))
                if key not in best or (costs and costs[demand][way] < costs[demand][best[key]]):
                    best[key] = way
            left[demand] = sorted(
                way for key, way in best.items() if not _beaten(key, best, costs[demand] if costs else None)
            )
        if sum(map(len, left)) == before:
            return left


def _beaten(
    key: tuple[frozenset[int], int],
    options: dict[tuple[frozenset[int], int], int],
    costs: Sequence[float] | None,
) -> bool:
    """Whether another way takes fewer things whatever else is chosen, or as many and is no dearer."""
    for other, way in options.items():
        spared = key[1] - other[1] - len(other[0] - key[0])
        same = spared == 0 and other[0] != key[0]
        if spared > 0 or (same and (costs is None or costs[way] <= costs[options[key]])):
            return True
    return False


def _dual_bound(result: object, otherwise: float) -> float:
    bound = getattr(result, "mip_dual_bound", None)
    return otherwise if bound is None or not np.isfinite(bound) else float(bound)
