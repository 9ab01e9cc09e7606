"""How well found parts match known ones."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment


@dataclass(frozen=True)
class Score:
    """iou: (n,), of every true part with the found one that is matched to it, 0 when none is (the paper around
    counts as a part). extra: pieces into which true parts were split. merged: true parts that share a found one.
    """

    iou: NDArray[np.float64]
    extra: int
    merged: int


def score(truth: NDArray[np.int32], labels: NDArray[np.int32]) -> Score:
    """Match found parts to true ones, one to one, for the greatest sum of intersection over union.

    Pixels of no true part (-1) are left out.
    """
    known = truth >= 0
    true, found = truth[known].astype(np.int64), labels[known].astype(np.int64)
    rows, columns = int(true.max()) + 1, int(found.max()) + 1
    shared = np.bincount(true * columns + found, minlength=rows * columns).reshape(rows, columns)
    in_true, in_found = shared.sum(1), shared.sum(0)
    iou = shared / np.maximum(in_true[:, None] + in_found[None, :] - shared, 1)
    matched = np.zeros(rows)
    r, c = linear_sum_assignment(-iou)
    matched[r] = iou[r, c]
    matched = matched[in_true > 0]
    shared_kept = shared[in_true > 0]
    merged = len(matched) - len(np.unique(shared_kept.argmax(1)))
    home = shared_kept.argmax(0)[in_found > 0]
    extra = int((np.bincount(home, minlength=len(matched)) - 1).clip(0).sum())
    return Score(matched, extra, merged)
