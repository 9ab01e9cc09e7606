"""Fitting few numbers to many observations, without the start-up time of a larger library."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Solution:
    """Where the sum of squares is least nearby."""

    numbers: Floats
    cost: float
    """Sum of squares there."""
    slope: Floats
    """How each miss changes with each free number, shape (misses, free numbers)."""


def least_squares(
    misses: Callable[[Floats], Floats],
    start: Floats,
    *,
    free: NDArray[np.bool_] | None = None,
    rounds: int = 25,
    step: float = 1e-6,
) -> Solution:
    """Find the numbers near *start* that make the sum of squared *misses* least.

    Args:
        misses: gives the misses, shape (k, m), of k tries at once, shape (k, n).
        start: numbers to start from.
        free: which numbers may move; all when None.
        rounds: most rounds.
        step: how far a number is moved to see its slope.

    Source: Levenberg 1944; Marquardt 1963.
    """
    numbers, damping = start.copy(), 1e-3
    now = misses(numbers[None])[0]
    cost = float(now @ now)
    which = np.arange(len(start)) if free is None else np.flatnonzero(free)
    slope = np.zeros((len(now), len(which)))
    steps = step * np.eye(len(start))[which]
    for _ in range(rounds):
        slope = ((misses(numbers + steps) - now) / step).T
        normal, gradient = slope.T @ slope, slope.T @ now
        gained = 0.0
        for _ in range(6):
            change = np.linalg.solve(normal + damping * np.diag(np.diag(normal) + 1e-12), -gradient)
            tried = numbers.copy()
            tried[which] += change
            then = misses(tried[None])[0]
            new_cost = float(then @ then)
            if new_cost < cost:
                gained = cost - new_cost
                numbers, now, cost, damping = tried, then, new_cost, max(damping / 5, 1e-9)
                break
            damping *= 6
        if gained <= 1e-5 * cost:
            break
    return Solution(numbers, cost, slope)
