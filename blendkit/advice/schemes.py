"""Base, mat and accent papers for the colours of an image, with the checks that each scheme has to pass.

Relations of hue are taken on the OKLCh circle. Which relations please is common practice, with no source; the
limits of separation are our own. Contrast limits are those of W3C WCAG 2.2, success criterion 1.4.3.
"""

import heapq
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from blendkit.advice.greeting import GREETING_LARGE, GREETING_SMALL, InkOnPaper, ink_contrasts, ink_on_paper
from blendkit.colour import (
    COLOUR_VISION,
    delta_e_2000,
    lab_to_oklch,
    simulate_colour_vision,
)
from blendkit.errors import ColourError
from blendkit.inked import Asked, Inked, Swatch, find_colour, ink_drawer, swatch_of
from blendkit.palette import Palette, Paper

Floats = NDArray[np.float64]

RELATIONS = {
    "same hue, lighter": "quiet: the card stock is a paler cousin of the image",
    "same hue, darker": "quiet and deep: the card stock is a darker cousin of the image",
    "neighbour": "friendly: a hue next door on the colour circle",
    "complement": "lively: the hue across the colour circle lifts the image",
    "split": "lively but softer: a hue beside the one across the circle",
    "neutral": "calm: the card stock steps back and lets the image speak",
}

IMAGE_APART = 10.0
"""CIEDE2000 that base and mat keep from every image colour, so that its edge shows. Own limit."""
PAPERS_APART = 7.0
"""CIEDE2000 that base, mat and accent keep from each other. Own limit."""
SEEN_APART = 4.0
"""The same as seen with a colour-vision deficiency. Own limit, a little above a close match."""
_NEUTRAL_CHROMA_OK = 0.03
_HUE_WIDTH_DEG = 22.0
_TURNS_DEG = {
    "same hue, lighter": (0.0,),
    "same hue, darker": (0.0,),
    "neighbour": (30.0, -30.0),
    "complement": (180.0,),
    "split": (150.0, -150.0),
}
"""Hue of the card stock less that of the image, in each relation. Common practice, no source."""
_STANDS_WITHIN_DEG = {
    "same hue, lighter": 30.0,
    "same hue, darker": 30.0,
    "neighbour": 22.0,
    "complement": 40.0,
    "split": 25.0,
}
"""Degrees by which a hue may miss its place and still be called by the relation's name. Own limits."""
_STANDS_STEP = 5.0
"""L* from which a card stock is called lighter or darker. Own limit."""
_TINTED_CHROMA_OK = 0.015
"""OKLCh chroma from which a card stock has a hue to speak of. Own limit."""
_GIVEN_WORTH = 0.05
"""Least worth of a paper that the asker chose, so that sets with it are ranked, and judged, whatever it is."""
_TRIED = 6
"""Bases of one relation that are checked closely before the search for three that pass ends."""


@dataclass(frozen=True, slots=True)
class Checks:
    """What was checked of a scheme; every difference is CIEDE2000.

    Args:
        image_to_base: least difference between the base and an image colour.
        image_to_mat: least difference between the mat and an image colour.
        base_to_mat: difference of base and mat.
        accent_to_papers: least difference of the accent from base and mat.
        accent_to_image: least difference between the accent and an image colour; small, since it echoes one.
        greeting: the ink for the words on the base, or None when the palette has no ink.
        seen: least of the differences between papers and image as seen with each colour-vision deficiency.
        passed: whether every check holds.
        words: what does not, or that all hold.
    """

    image_to_base: float
    image_to_mat: float
    base_to_mat: float
    accent_to_papers: float
    accent_to_image: float
    greeting: InkOnPaper | None
    seen: dict[str, float]
    passed: bool
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Scheme:
    """Papers for one card: what carries it, the frame behind the image, the small touch.

    Args:
        relation: a key of :data:`RELATIONS`.
        base: card stock that carries the card.
        mat: the frame behind the image.
        accent: the small touch, paper or ribbon.
        score: 0 to 100, to rank schemes by; own weights.
        checks: what was checked.
        words: why.
    """

    relation: str
    base: Swatch
    mat: Swatch
    accent: Swatch
    score: float
    checks: Checks
    words: str


@dataclass(frozen=True, slots=True)
class PapersAdvice:
    """Answer to “which papers make a card with it?”

    Args:
        image: the image's colours.
        on: the paper that the image is coloured on.
        schemes: best first, at most one or two of each relation.
        fits: whether at least one passes every check.
        near_miss: the best scheme when none does, else None.
        words: what to know.
    """

    image: tuple[Swatch, ...]
    on: str
    schemes: tuple[Scheme, ...]
    fits: bool
    near_miss: Scheme | None
    words: tuple[str, ...]


def find_schemes(
    palette: Palette,
    colours: Sequence[str],
    *,
    on: str | None = None,
    relations: Sequence[str] | None = None,
    base: str | None = None,
    mat: str | None = None,
    large_greeting: bool = False,
    count: int = 6,
    inked: Inked | None = None,
) -> PapersAdvice:
    """Propose base, mat and accent papers for a set of image colours, and check them.

    Args:
        palette: the drawer.
        colours: names of it, or typed colours, the most important first; at least one.
        on: the paper that the image is coloured on; None for the one that most swatches lie on.
        relations: keys of :data:`RELATIONS`; None for all.
        base: a paper that the card shall be made of; None to have one proposed.
        mat: a paper that shall lie behind the image; None to have one proposed.
        large_greeting: judge the greeting by the limit for large text.
        count: schemes at most, 1 or more.
        inked: the drawer on that paper, if at hand.

    Returns: schemes, best of each relation first.
    Raises: PaletteError for a name that is not there; ColourError for no colour or a relation that is none.
    """
    if not colours:
        raise ColourError("There is no image colour; name at least one.")
    wanted = tuple(relations or RELATIONS)
    for relation in wanted:
        if relation not in RELATIONS:
            raise ColourError(f"There is no relation called “{relation}”; accepted: {', '.join(RELATIONS)}")
    inked = (inked or ink_drawer(palette, on, markers_needed=False)).at_hand
    palette = inked.palette
    image = [find_colour(inked, text) for text in colours]
    swatches = tuple(asked.swatch for asked in image)
    sheets = palette.papers
    accents: tuple[Paper, ...] = (*palette.papers, *palette.ribbons)
    if len(sheets) < 2 or len(accents) < 3:
        words = ("A scheme needs two papers and a third paper or ribbon; the palette has too few.",)
        return PapersAdvice(swatches, inked.paper.name, (), False, None, words)
    given = (_given(palette, base), _given(palette, mat))
    if given[0] is not None and given[0] == given[1]:
        raise ColourError(f"{base} can't be both base and mat; it would not show on itself.")
    schemes = _rank(inked, image, wanted, large_greeting, count, given)
    if base is not None:
        # One base stands in one relation, or in none: tell each set of papers once.
        once: dict[tuple[str, ...], Scheme] = {}
        for scheme in schemes:
            once.setdefault((scheme.base.name, scheme.mat.name, scheme.accent.name), scheme)
        schemes = tuple(once.values())
    fits = any(scheme.checks.passed for scheme in schemes)
    near_miss = None if fits or not schemes else schemes[0]
    if fits:
        best = next(scheme for scheme in schemes if scheme.checks.passed)
        words = (f"{best.base.name}, {best.mat.name} and {best.accent.name}: {best.words}",)
    else:
        words = ("No set of papers in the palette passes every check; the nearest misses are shown.",)
    return PapersAdvice(swatches, inked.paper.name, schemes, fits, near_miss, words)


def _given(palette: Palette, name: str | None) -> int | None:
    """Row of a paper that the asker chose."""
    if name is None:
        return None
    paper = palette.paper(name)
    if paper.kind != "paper":
        raise ColourError(f"{paper.name} is a ribbon; base and mat are papers.")
    return palette.papers.index(paper)


@dataclass(frozen=True)
class _Judged:
    """Papers as arrays, for one image: rows are the palette's papers, then its ribbons.

    Args:
        papers: the papers and ribbons.
        labs: their colours, shape (n, 3).
        sheets: how many of them are papers.
        image: the image's colours, shape (m, 3).
        clear: how well each stands out from the image, 0 to 1, shape (n,).
        echo: how nearly each repeats an image colour, 0 to 1, shape (n,).
        reads: how well the best ink reads on each, 0 to 1, shape (n,).
        given: rows that the asker chose for base and mat; None where it is open.
    """

    papers: tuple[Paper, ...]
    labs: Floats
    sheets: int
    image: Floats
    clear: Floats
    echo: Floats
    reads: Floats
    given: tuple[int | None, int | None]
    apart: dict[int, Floats] = field(default_factory=dict)

    def apart_from(self, row: int) -> Floats:
        """CIEDE2000 of each from one of them, shape (n,)."""
        if row not in self.apart:
            self.apart[row] = delta_e_2000(self.labs[row], self.labs)
        return self.apart[row]


def _rank(
    inked: Inked,
    image: list[Asked],
    wanted: Sequence[str],
    large: bool,
    count: int,
    given: tuple[int | None, int | None],
) -> tuple[Scheme, ...]:
    """Rank the best sets of each relation, and check them closely."""
    palette = inked.palette
    papers = (*palette.papers, *palette.ribbons)
    labs = np.array([paper.lab for paper in papers])
    image_labs = np.array([asked.lab for asked in image])
    nearest = delta_e_2000(image_labs[:, None, :], labs[None, :, :]).min(axis=0)
    needed = GREETING_LARGE if large else GREETING_SMALL
    judged = _Judged(
        papers=papers,
        labs=labs,
        sheets=len(palette.papers),
        image=image_labs,
        clear=np.minimum(nearest / IMAGE_APART, 1.0),
        echo=1.0 / (1.0 + (nearest / 8.0) ** 2),
        reads=np.minimum(_greeting_contrast(palette, papers) / needed, 1.0),
        given=given,
    )
    names = [paper.name for paper in papers]
    own = np.array([name == inked.paper.name for name in names])
    plain = np.array([not paper.pattern for paper in papers])
    neutral = _neutrality(labs)
    found: list[Scheme] = []
    # What one scheme uses counts less for the next, so that the answer is a choice and not one card six times.
    fresh = np.ones((3, len(papers)))
    for relation in wanted:
        fit = _relation_fit(relation, image_labs, labs)
        stands = _stands(relation, image_labs[0], labs)
        base = (0.35 + 0.65 * fit) * judged.clear * judged.reads * np.where(plain, 1.0, 0.85)
        base *= fresh[0] * np.where(stands, 1.0, 0.5)
        if given[0] is None:
            base[own & (relation != "neutral")] = 0.0
        mat = judged.clear * (0.5 + 0.5 * np.maximum(fit, neutral)) * fresh[1]
        kept = _best_of(
            palette, relation, judged, stands, (base, mat, (0.4 + 0.6 * judged.echo) * fresh[2]), large
        )
        found.extend(kept)
        for scheme in kept[:1]:
            for place, swatch in enumerate((scheme.base, scheme.mat, scheme.accent)):
                fresh[place, names.index(swatch.name)] *= 0.75
    # What passes first, opening with the best of each relation, so that the answer offers a choice of moods.
    firsts: list[Scheme] = []
    rest: list[Scheme] = []
    for scheme in found:
        (rest if any(scheme.relation == first.relation for first in firsts) else firsts).append(scheme)
    ranked = sorted(firsts, key=_rank_key) + sorted(rest, key=_rank_key)
    return tuple(sorted(ranked, key=lambda scheme: not scheme.checks.passed)[:count])


def _rank_key(scheme: Scheme) -> tuple[bool, float]:
    return (not scheme.checks.passed, -scheme.score)


Worth = tuple[Floats, Floats, Floats]


def _best_of(
    palette: Palette, relation: str, judged: _Judged, stands: NDArray[np.bool_], worth: Worth, large: bool
) -> list[Scheme]:
    """Check the best sets of one relation that differ in their base, or in what else is open; give three."""
    kept: list[Scheme] = []
    for score, (base, mat, accent) in _best_sets(judged, worth):
        one, two, three = (judged.papers[row] for row in (base, mat, accent))
        kept.append(
            _check(palette, relation, bool(stands[base]), one, two, three, judged.image, score, large)
        )
        if len(kept) == _TRIED or sum(one.checks.passed for one in kept) == 3:
            break
    return sorted(kept, key=_rank_key)[:3]


def _best_sets(judged: _Judged, worth: Worth) -> Iterator[tuple[float, tuple[int, int, int]]]:
    """Give sets of base, mat and accent, each the best with its base, from the best down; exactly.

    Where the base is given, sets differ in the mat; where the mat is given too, in the accent. A set is worth the
    product of its papers' own worths and of how well each two show on each other, none above 1. So a bound on
    what a lead paper can reach is cheap; leads are looked at closely only while their bound is the highest
    (branch and bound), and no table of all sets is made.
    """
    base, mat, accent = worth
    given_base, given_mat = judged.given
    if given_base is None:
        mats = mat[: judged.sheets] if given_mat is None else mat[[given_mat]]
        bounds = base[: judged.sheets] * mats.max() * accent.max()
    elif given_mat is None:
        bounds = max(base[given_base], _GIVEN_WORTH) * mat[: judged.sheets] * accent.max()
    else:
        bounds = accent
    queue = [(-float(bound), lead, False) for lead, bound in enumerate(bounds) if bound > 0.0]
    heapq.heapify(queue)
    exact: dict[int, tuple[int, int, int]] = {}
    while queue:
        negative, lead, known = heapq.heappop(queue)
        if known:
            yield -negative, exact[lead]
            continue
        if given_base is None:
            one = _best_with(judged, worth, lead, given_mat, None)
        elif given_mat is None:
            one = _best_with(judged, worth, given_base, lead, None)
        else:
            one = _best_with(judged, worth, given_base, given_mat, lead)
        if one is not None and one[0] > 0.0:
            exact[lead] = one[1]
            heapq.heappush(queue, (-one[0], lead, True))


def _best_with(
    judged: _Judged, worth: Worth, base: int, mat: int | None, accent: int | None
) -> tuple[float, tuple[int, int, int]] | None:
    """Give the best set with a base (and a mat, and an accent), or None where there is none."""
    own = float(worth[0][base]) if judged.given[0] is None else max(float(worth[0][base]), _GIVEN_WORTH)
    from_base = judged.apart_from(base)
    mats = worth[1] * np.minimum(from_base / (2.0 * PAPERS_APART), 1.0)
    mats[judged.sheets :] = 0.0
    if judged.given[1] is not None:
        mats = np.maximum(mats, _GIVEN_WORTH)
    accents = worth[2] * np.minimum(from_base / PAPERS_APART, 1.0)
    accents[base] = mats[base] = 0.0
    if accent is not None:
        accents[np.arange(len(accents)) != accent] = 0.0
    best: tuple[float, tuple[int, int, int]] | None = None
    most = float(accents.max())
    for row in np.argsort(-mats, kind="stable").tolist() if mat is None else [mat]:
        if row == base or (best is not None and own * mats[row] * most <= best[0]):
            if row == base:
                continue
            break
        shows = accents * np.minimum(judged.apart_from(row) / PAPERS_APART, 1.0)
        shows[row] = 0.0
        at = int(np.argmax(shows))
        value = own * float(mats[row]) * float(shows[at])
        if best is None or value > best[0]:
            best = (value, (base, row, at))
    return best


def _neutrality(labs: Floats) -> Floats:
    chroma = lab_to_oklch(labs)[..., 1]
    neutrality: Floats = 1.0 / (1.0 + (chroma / _NEUTRAL_CHROMA_OK) ** 2)
    return neutrality


def _relation_fit(relation: str, image: Floats, labs: Floats) -> Floats:
    """How well each paper stands in *relation* to the main image colour, 0 to 1."""
    neutral = _neutrality(labs)
    if relation == "neutral":
        return neutral
    main = lab_to_oklch(image[0])
    others = lab_to_oklch(labs)
    turns = _TURNS_DEG[relation]
    if _is_grey(main):
        hue = np.where(turns[0] == 0.0, neutral, 0.3)
    else:
        gaps = [np.abs((others[:, 2] - main[2] - turn + 180.0) % 360.0 - 180.0) for turn in turns]
        hue = np.nan_to_num(1.0 / (1.0 + (np.minimum.reduce(gaps) / _HUE_WIDTH_DEG) ** 2)) * (1.0 - neutral)
    if relation == "same hue, lighter":
        hue = hue * np.clip((labs[:, 0] - image[0, 0]) / 12.0, 0.0, 1.0)
    elif relation == "same hue, darker":
        hue = hue * np.clip((image[0, 0] - labs[:, 0]) / 12.0, 0.0, 1.0)
    fit: Floats = np.asarray(hue, dtype=np.float64)
    return fit


def _is_grey(oklch: Floats) -> bool:
    return bool(np.isnan(oklch[2]) or oklch[1] < _NEUTRAL_CHROMA_OK)


def _stands(relation: str, main: Floats, labs: Floats) -> NDArray[np.bool_]:
    """Whether each paper may be called by the relation's name; a grey image has no hue to turn from."""
    others = lab_to_oklch(labs)
    grey = others[:, 1] < 2.0 * _NEUTRAL_CHROMA_OK
    if relation == "neutral":
        return np.asarray(grey)
    own = lab_to_oklch(main)
    if _is_grey(own):
        stands = grey & (_TURNS_DEG[relation] == (0.0,))
    else:
        gaps = [
            np.abs((others[:, 2] - own[2] - turn + 180.0) % 360.0 - 180.0) for turn in _TURNS_DEG[relation]
        ]
        near = np.nan_to_num(np.minimum.reduce(gaps), nan=180.0) <= _STANDS_WITHIN_DEG[relation]
        stands = near & (others[:, 1] >= _TINTED_CHROMA_OK)
    if relation == "same hue, lighter":
        stands = stands & (labs[:, 0] >= main[0] + _STANDS_STEP)
    elif relation == "same hue, darker":
        stands = stands & (labs[:, 0] <= main[0] - _STANDS_STEP)
    return np.asarray(stands)


def _greeting_contrast(palette: Palette, papers: Sequence[Paper]) -> Floats:
    """Best contrast that any ink of the palette reaches on each paper; 21 when there is no ink to ask of."""
    if not palette.inks:
        return np.full(len(papers), 21.0)
    inks = np.array([ink.lab for ink in palette.inks])
    return np.array([ink_contrasts(inks, paper).max() for paper in papers])


def _greeting(palette: Palette, base: Paper) -> InkOnPaper | None:
    if not palette.inks:
        return None
    ratios = ink_contrasts(np.array([ink.lab for ink in palette.inks]), base)
    return ink_on_paper(palette.inks[int(np.argmax(ratios))], base)


def _check(
    palette: Palette,
    relation: str,
    stands: bool,
    base: Paper,
    mat: Paper,
    accent: Paper,
    image: Floats,
    score: float,
    large: bool,
) -> Scheme:
    papers = np.array([base.lab, mat.lab, accent.lab])
    to_image = delta_e_2000(image[:, None, :], papers[None, :, :]).min(axis=0)
    between = delta_e_2000(papers[[0, 0, 1]], papers[[1, 2, 2]])
    seen: dict[str, float] = {}
    for kind in COLOUR_VISION:
        shown = simulate_colour_vision(np.concatenate([papers, image]), kind)
        shown_papers, shown_image = shown[:3], shown[3:]
        least = min(
            float(delta_e_2000(shown_image[:, None, :], shown_papers[None, :2, :]).min()),
            float(delta_e_2000(shown_papers[0], shown_papers[1])),
        )
        seen[kind] = least
    greeting = _greeting(palette, base)
    faults: list[str] = []
    if not stands:
        grey = _is_grey(lab_to_oklch(image[0])) and relation not in ("same hue, lighter", "same hue, darker")
        faults.append(
            f"the image's main colour is grey, so it has no {relation}"
            if grey
            else f"{base.name} is not truly “{relation}”"
        )
    if to_image[0] < IMAGE_APART:
        faults.append(f"the image melts into {base.name}")
    if to_image[1] < IMAGE_APART:
        faults.append(f"the image melts into {mat.name}")
    if between[0] < PAPERS_APART:
        faults.append(f"{mat.name} does not show on {base.name}")
    if min(between[1], between[2]) < PAPERS_APART:
        faults.append(f"{accent.name} does not show")
    if greeting is not None and greeting.contrast_wcag < (GREETING_LARGE if large else GREETING_SMALL):
        faults.append(f"a greeting does not read on {base.name} in any ink of the palette")
    elif greeting is not None and not (greeting.large_text if large else greeting.small_text):
        faults.append(f"a greeting does not read on {base.name} as seen with a colour-vision deficiency")
    for kind, least in seen.items():
        if least < SEEN_APART:
            faults.append(f"seen with a {kind} deficiency, two of them run together")
    rough = [paper.name for paper in (base, mat, accent) if paper.rough]
    words = RELATIONS[relation]
    if base.pattern or mat.pattern or accent.pattern:
        words += "; a patterned sheet is judged by its mean colour, a greeting on it by its worst"
    if rough:
        words += f"; rough, since {' and '.join(rough)} change with the angle"
    checks = Checks(
        image_to_base=float(to_image[0]),
        image_to_mat=float(to_image[1]),
        base_to_mat=float(between[0]),
        accent_to_papers=float(min(between[1], between[2])),
        accent_to_image=float(to_image[2]),
        greeting=greeting,
        seen=seen,
        passed=not faults,
        words=tuple(faults) or ("every check holds",),
    )
    return Scheme(
        relation=relation,
        base=swatch_of(base.name, base.lab),
        mat=swatch_of(mat.name, mat.lab),
        accent=swatch_of(accent.name, accent.lab),
        score=100.0 * score,
        checks=checks,
        words=words + ".",
    )
