"""Exact choices against brute force on small cases."""

from itertools import combinations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendkit.advice.optimum import choose_cover, choose_fewest


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 4))
def test_no_other_choice_of_that_many_covers_more(seed, most):
    covers = np.random.default_rng(seed).random((7, 9)) < 0.25
    choice = choose_cover(covers, most)
    best = max(
        covers[list(rows)].any(axis=0).sum()
        for size in range(most + 1)
        for rows in combinations(range(7), size)
    )
    assert choice.covered == best
    assert covers[list(choice.chosen)].any(axis=0).sum() == best if choice.chosen else best == 0
    assert len(choice.chosen) <= most
    assert choice.exact
    assert choice.bound == choice.covered


def test_a_greedy_guess_would_be_beaten():
    """Greedy takes the row of four first and then covers five in all; the optimum covers six."""
    covers = np.array([[1, 1, 1, 1, 0, 0], [1, 1, 0, 0, 1, 0], [0, 0, 1, 1, 0, 1]], dtype=bool)
    assert choose_cover(covers, 2).chosen == (1, 2)
    assert choose_cover(covers, 2).covered == 6


def _brute(ways, things, load):
    best = None
    for pick in product(*[range(len(options)) for options in ways]):
        used = np.zeros(things)
        for demand, way in enumerate(pick):
            for thing in set(ways[demand][way]):
                used[thing] += 1
        copies = np.maximum((used > 0), np.ceil(used * load - 1e-9)).sum()
        best = copies if best is None else min(best, copies)
    return best


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1), st.sampled_from([0.0, 0.7, 1.6]))
def test_no_selection_meets_every_demand_with_fewer(seed, load):
    draw = np.random.default_rng(seed)
    ways = [
        [
            tuple(sorted(set(draw.integers(0, 6, draw.integers(1, 3)).tolist())))
            for _ in range(draw.integers(1, 4))
        ]
        for _ in range(5)
    ]
    selection = choose_fewest(ways, 6, load=load)
    assert selection.copies.sum() == _brute(ways, 6, load)
    assert selection.exact
    for demand, way in enumerate(selection.way):
        assert all(selection.copies[thing] > 0 for thing in ways[demand][way])


def test_with_fewer_allowed_as_many_demands_as_can_be_are_met():
    ways = [[(0,)], [(0,)], [(1,)], [(2, 3)]]
    selection = choose_fewest(ways, 4, most=2)
    assert selection.way == (0, 0, 0, -1)


def test_a_demand_without_a_way_stays_unmet():
    assert choose_fewest([[(0,)], []], 1).way == (0, -1)


@pytest.mark.parametrize("most", [0, 3])
def test_nothing_to_choose_is_answered_at_once(most):
    choice = choose_cover(np.zeros((3, 4), dtype=bool), most)
    assert (choice.chosen, choice.covered, choice.exact) == ((), 0, True)
