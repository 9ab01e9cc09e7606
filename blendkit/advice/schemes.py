"""Base, mat and accent papers for the colours of an image, with the checks that each scheme has to pass.

Relations of hue are taken on the OKLCh circle. Which relations please is common practice, with no source; the
limits of separation are our own. Contrast limits are those of W3C WCAG 2.2, success criterion 1.4.3.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blendkit.advice.greeting import GREETING_LARGE, GREETING_SMALL, ink_contrasts, read_ink
from blendkit.colour import (
    COLOUR_VISION,
    delta_e_2000,
    lab_to_hex,
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
_TRIED = 6
"""Bases of one relation that are checked closely before the search for three that pass ends."""


@dataclass(frozen=True, slots=True)
class Greeting:
    """Stamped words: the ink that reads best on the base, and how well.

    Args:
        ink: its name.
        hex: what a screen can show of it.
        contrast_wcag: 1 to 21; on a patterned base the least over its colours.
        small_text: whether small text reads.
        large_text: whether large text does.
        contrast_seen: the least contrast as seen with the colour-vision deficiencies.
    """

    ink: str
    hex: str
    contrast_wcag: float
    small_text: bool
    large_text: bool
    contrast_seen: float


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
    greeting: Greeting | None
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
    schemes = _rank(palette, inked, image, wanted, large_greeting, count)
    fits = any(scheme.checks.passed for scheme in schemes)
    near_miss = None if fits or not schemes else schemes[0]
    if fits:
        best = next(scheme for scheme in schemes if scheme.checks.passed)
        words = (f"{best.base.name}, {best.mat.name} and {best.accent.name}: {best.words}",)
    else:
        words = ("No set of papers in the palette passes every check; the nearest misses are shown.",)
    return PapersAdvice(swatches, inked.paper.name, schemes, fits, near_miss, words)


def _rank(
    palette: Palette, inked: Inked, image: list[Asked], wanted: Sequence[str], large: bool, count: int
) -> tuple[Scheme, ...]:
    """Score every base, mat and accent at once, then check the best few of each relation closely."""
    accents = (*palette.papers, *palette.ribbons)
    names = [paper.name for paper in accents]
    sheets = len(palette.papers)
    labs = np.array([paper.lab for paper in accents])
    own = np.array([paper.name == inked.paper.name for paper in accents])
    image_labs = np.array([asked.lab for asked in image])
    to_image = delta_e_2000(image_labs[:, None, :], labs[None, :, :])
    nearest = to_image.min(axis=0)
    apart = delta_e_2000(labs[:, None, :], labs[None, :, :])
    greeting = _greeting_contrast(palette, accents)
    clear = np.minimum(nearest / IMAGE_APART, 1.0)
    # Mats stand out from base and image; accents echo an image colour and still show on base and mat.
    mat_on_base = np.minimum(apart[:sheets, :sheets] / (2.0 * PAPERS_APART), 1.0)
    echo = 1.0 / (1.0 + (nearest / 8.0) ** 2)
    accent_shows = np.minimum(apart / PAPERS_APART, 1.0)
    plain = np.array([not paper.pattern for paper in accents])
    reads = np.minimum(greeting / (GREETING_LARGE if large else GREETING_SMALL), 1.0)
    found: list[Scheme] = []
    # What one scheme uses counts less for the next, so that the answer is a choice and not one card six times.
    fresh = np.ones((3, len(accents)))
    for relation in wanted:
        fit = _relation_fit(relation, image_labs, labs)
        base = (0.35 + 0.65 * fit) * clear * reads * np.where(plain, 1.0, 0.85)
        stands = _stands(relation, image_labs[0], labs)
        base = np.where(own & (relation != "neutral"), 0.0, base) * fresh[0] * np.where(stands, 1.0, 0.5)
        mat = clear * (0.5 + 0.5 * np.maximum(fit, _neutrality(labs))) * fresh[1]
        accent = (0.4 + 0.6 * echo) * fresh[2]
        total = (
            base[:sheets, None, None]
            * mat[None, :sheets, None]
            * accent[None, None, :]
            * mat_on_base[:, :, None]
            * accent_shows[:sheets, None, :]
            * accent_shows[None, :sheets, :]
        )
        kept = _best_of(palette, relation, accents, stands, total, image_labs, large)
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


def _best_of(
    palette: Palette,
    relation: str,
    accents: tuple[Paper, ...],
    stands: NDArray[np.bool_],
    total: Floats,
    image_labs: Floats,
    large: bool,
) -> list[Scheme]:
    """Check the best triples of one relation that differ in their base; give three, passing ones first."""
    kept: list[Scheme] = []
    used: set[str] = set()
    for place in np.argsort(-total, axis=None, kind="stable")[:400]:
        at = np.unravel_index(int(place), total.shape)
        base, mat, accent = (accents[int(row)] for row in at)
        if total[at] <= 0.0:
            break
        if len({base.name, mat.name, accent.name}) < 3 or base.name in used:
            continue
        checked = _check(
            palette, relation, bool(stands[at[0]]), base, mat, accent, image_labs, float(total[at]), large
        )
        kept.append(checked)
        used.add(base.name)
        if len(kept) == _TRIED or sum(one.checks.passed for one in kept) == 3:
            break
    return sorted(kept, key=_rank_key)[:3]


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


def _greeting(palette: Palette, base: Paper) -> Greeting | None:
    if not palette.inks:
        return None
    ratios = ink_contrasts(np.array([ink.lab for ink in palette.inks]), base)
    ink = palette.inks[int(np.argmax(ratios))]
    read = read_ink(ink.lab, base)
    ratio = read.contrast_wcag
    return Greeting(
        ink.name,
        lab_to_hex(ink.lab),
        ratio,
        ratio >= GREETING_SMALL,
        ratio >= GREETING_LARGE,
        read.contrast_seen,
    )


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
    if greeting is not None and not (greeting.large_text if large else greeting.small_text):
        faults.append(f"a greeting does not read on {base.name} in any ink of the palette")
    elif greeting is not None and greeting.contrast_seen < (GREETING_LARGE if large else GREETING_SMALL):
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
