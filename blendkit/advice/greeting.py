"""Whether stamped words read on a paper: the one judge of schemes and of plans.

Contrast limits are those of W3C WCAG 2.2, success criterion 1.4.3.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blendkit.colour import COLOUR_VISION, contrast_wcag, simulate_colour_vision
from blendkit.palette import Paper

GREETING_SMALL = 4.5
GREETING_LARGE = 3.0
"""Contrast ratios that small and large text need (WCAG 2.2, 1.4.3; large: from 18 pt, or 14 pt bold)."""

LARGE_PT, LARGE_BOLD_PT = 18.0, 14.0
"""Sizes from which text is large (WCAG 2.2, 1.4.3)."""

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class InkContrast:
    """Contrast of an ink on a paper.

    Args:
        contrast_wcag: 1 to 21; on a patterned sheet the least over its colours.
        contrast_seen: the least as seen with a colour-vision deficiency.
        deficiency: with which it is least, one of ``colour.COLOUR_VISION``.
    """

    contrast_wcag: float
    contrast_seen: float
    deficiency: str

    @property
    def least(self) -> float:
        """What it is judged by."""
        return min(self.contrast_wcag, self.contrast_seen)

    def reads(self, needed: float) -> bool:
        """Whether words read for everybody: by the colours themselves, and as seen with each deficiency."""
        return self.least >= needed


def contrast_needed(size_pt: float, bold: bool = False) -> float:
    """Contrast ratio that words of a size need, in points."""
    return GREETING_LARGE if size_pt >= (LARGE_BOLD_PT if bold else LARGE_PT) else GREETING_SMALL


def ink_contrasts(inks: Floats, paper: Paper) -> Floats:
    """Contrast of inks, Lab of shape (n, 3), on a paper, on its worst colour; shape (n,)."""
    ratios: Floats = contrast_wcag(_colours_of(paper)[:, None, :], inks[None, :, :]).min(axis=0)
    return ratios


def read_ink(ink: Floats, paper: Paper) -> InkContrast:
    """Judge an ink on a paper.

    Args:
        ink: Lab of the words' ink, shape (3,).
        paper: what they are stamped on; of a patterned sheet each colour that covers a tenth counts.

    Returns: its contrasts.
    """
    colours = np.concatenate([ink[None, :], _colours_of(paper)])
    seen = {}
    for kind in COLOUR_VISION:
        shown = simulate_colour_vision(colours, kind)
        seen[kind] = float(contrast_wcag(shown[0], shown[1:]).min())
    worst = min(seen, key=lambda kind: seen[kind])
    return InkContrast(float(ink_contrasts(ink[None, :], paper)[0]), seen[worst], worst)


def _colours_of(paper: Paper) -> Floats:
    """Lab of what words on the paper have to read on, shape (n, 3): of a pattern each colour that counts."""
    return np.array([part.lab for part in paper.main_colours] or [paper.lab])
