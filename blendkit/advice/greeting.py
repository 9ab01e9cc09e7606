"""Whether stamped words read on a paper: the one judge of schemes and of plans.

Contrast limits are those of W3C WCAG 2.2, success criterion 1.4.3.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blendkit.colour import COLOUR_VISION, contrast_wcag, simulate_colour_vision
from blendkit.inked import Swatch, swatch_of
from blendkit.palette import Palette, Paper, StampInk

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


@dataclass(frozen=True, slots=True)
class InkOnPaper:
    """An ink for words on a paper.

    Args:
        ink: the ink.
        contrast_wcag: 1 to 21; on a patterned sheet on its worst colour.
        contrast_seen: the least as seen with a colour-vision deficiency.
        worst: of a patterned sheet, the colour that it reads worst on; else "".
        small_text: whether small words read for everybody.
        large_text: whether large words do.
        words: the same in plain words.
    """

    ink: Swatch
    contrast_wcag: float
    contrast_seen: float
    worst: str
    small_text: bool
    large_text: bool
    words: str


def ink_on_paper(ink: StampInk, paper: Paper) -> InkOnPaper:
    """Say how words in an ink read on a paper."""
    read = read_ink(ink.lab, paper)
    worst = ""
    if paper.main_colours:
        ratios = contrast_wcag(np.array([part.lab for part in paper.main_colours]), ink.lab)
        worst = paper.main_colours[int(np.argmin(ratios))].name
    small, large = read.reads(GREETING_SMALL), read.reads(GREETING_LARGE)
    words = "reads well" if small else "reads when large" if large else "doesn't read"
    if worst:
        words += f"; worst on {worst}"
    return InkOnPaper(
        swatch_of(ink.name, ink.lab), read.contrast_wcag, read.contrast_seen, worst, small, large, words
    )


@dataclass(frozen=True, slots=True)
class GreetingAdvice:
    """Answer to “which ink reads on this paper?”

    Args:
        paper: the paper; of a patterned sheet its mean colour.
        inks: every ink that is at hand, the one that reads best first.
        fits: whether one of them reads, at least when large.
        words: what to know.
    """

    paper: Swatch
    inks: tuple[InkOnPaper, ...]
    fits: bool
    words: tuple[str, ...]


def find_greeting_inks(palette: Palette, paper: str) -> GreetingAdvice:
    """Rank the palette's stamp inks by how well words in them read on a paper.

    Args:
        palette: the drawer.
        paper: a paper or ribbon of it.

    Returns: inks by contrast, best first.
    Raises: PaletteError for a name that is not there.
    """
    here = palette.at_hand()
    on = here.paper(paper)
    inks = [ink_on_paper(ink, on) for ink in here.inks]
    inks.sort(key=lambda one: -min(one.contrast_wcag, one.contrast_seen))
    return GreetingAdvice(
        swatch_of(on.name, on.lab), tuple(inks), any(one.large_text for one in inks), _advice_words(on, inks)
    )


_WHITE, _BLACK = np.array([[100.0, 0.0, 0.0]]), np.array([[0.0, 0.0, 0.0]])


def _advice_words(on: Paper, inks: list[InkOnPaper]) -> tuple[str, ...]:
    """What to stamp with, and what to get where nothing reads."""
    words = []
    white, black = (float(ink_contrasts(ink, on)[0]) for ink in (_WHITE, _BLACK))
    if not inks:
        words.append("There is no stamp ink in the palette.")
    elif inks[0].large_text:
        size = "at any size" if inks[0].small_text else "only when large (from about 18 point, 6 mm high)"
        words.append(f"{inks[0].ink.name} reads best on {on.name}, {size}.")
    if not inks or not inks[0].large_text:
        if max(white, black) >= GREETING_LARGE:
            kind = "a white or pale ink, or white embossing," if white > black else "a dark ink"
            words.append(f"On {on.name} {kind} would read.")
        else:
            words.append(f"No ink reads on every colour of {on.name}; stamp on a plain label instead.")
    elif white > black and inks[0].ink.lab[0] > on.lab[0]:
        words.append(
            "The paper is dark: pale ink reads, dark ink doesn't. Opaque or embossed white works best."
        )
    if on.rough:
        words.append(f"{on.name} changes with the angle, so try it on a scrap.")
    return tuple(words)
