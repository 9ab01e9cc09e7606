"""The way that hair, fur, petals and wood grow: from root to tip, and the fine flicks along it.

Roots lie where a part comes out from under another; a part that lies under none grows from its top. Nothing here
knows the light.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendkit.art.cast import Overlaps

Floats = NDArray[np.float32]

FLICK_STEPS = 7
"""How far a flick is drawn out along the grain, in working pixels each way: 1 to 2 mm. Own judgement."""

SEED = 7
"""Any number: it fixes the noise from which flicks are drawn, so that pictures stay byte for byte the same."""


@dataclass(frozen=True)
class Grain:
    """Fields:
    along: 0 at the root of each part to 1 at its tip, float32, shape (h, w).
    flick: noise drawn out along the grain, about -1 to 1, float32, shape (h, w).
    """

    along: Floats
    flick: Floats


def find_grain(labels: NDArray[np.int32], dome: Floats, overlaps: Overlaps, parts: int) -> Grain:
    """Find root, tip and flicks of every part.

    Args:
        labels: part numbers, 0 outside, shape (h, w).
        dome: height of the parts, same shape.
        overlaps: where each part lies under others.
        parts: number of parts.

    Returns: a Grain.
    """
    h, w = labels.shape
    flat = labels.ravel()
    counts = np.bincount(flat, minlength=parts + 1)
    y, x = np.divmod(np.arange(flat.size, dtype=np.int64), w)
    top = np.full(parts + 1, float(h))
    np.minimum.at(top, flat, y)
    upper = y < top[flat] + 2
    root_y, root_x = top.copy(), _mean(flat[upper], x[upper], parts)
    shut = overlaps.distance < 1.5
    part, place = overlaps.part[shut], overlaps.place[shut]
    edge = np.bincount(part, minlength=parts + 1)
    under = edge > 0.15 * 2 * np.sqrt(np.pi * np.maximum(counts, 1))
    root_y[under], root_x[under] = (_mean(part, v, parts)[under] for v in (place // w, place % w))
    far = np.hypot(y - root_y[flat], x - root_x[flat])
    most = np.full(parts + 1, 1.0)
    np.maximum.at(most, flat, far)
    least = np.full(parts + 1, np.inf)
    np.minimum.at(least, flat, far)
    along = (far - least[flat]) / np.maximum(most - least, 1.0)[flat]
    pull_x, pull_y = (x - root_x[flat]).reshape(h, w), (y - root_y[flat]).reshape(h, w)
    return Grain(along.reshape(h, w).astype(np.float32), _flicks(dome, pull_x, pull_y))


def _mean(part: NDArray[Any], values: NDArray[Any], parts: int) -> NDArray[np.float64]:
    return np.bincount(part, values, parts + 1) / np.maximum(np.bincount(part, minlength=parts + 1), 1)


def _flicks(dome: Floats, pull_x: NDArray[Any], pull_y: NDArray[Any]) -> Floats:
    """Noise, drawn out along the grain by following it some steps each way.

    Source: line integral convolution, Cabral and Leedom 1993.
    """
    import cv2

    h, w = dome.shape
    noise = np.random.default_rng(SEED).standard_normal(dome.shape).astype(np.float32)
    length = np.maximum(np.hypot(pull_x, pull_y), 1)
    go_x, go_y = (pull_x / length).astype(np.float32), (pull_y / length).astype(np.float32)
    across, down = np.meshgrid(np.arange(w, dtype=np.float32), np.arange(h, dtype=np.float32))
    total = noise.copy()
    for k in range(1, FLICK_STEPS + 1):
        for sign in (-k, k):
            total += cv2.remap(
                noise,
                across + sign * go_x,
                down + sign * go_y,
                cv2.INTER_LINEAR,
                borderMode=cv2.BORDER_REFLECT,
            )
    return np.asarray(np.clip(total / (1.5 * float(total.std()) + 1e-6), -1, 1), dtype=np.float32)
