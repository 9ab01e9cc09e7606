"""Light and dark companions of a colour, trios, and what to do when the drawer has no companion."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from blendkit.advice.shading_series import (
    BLEND_RATIOS,
    FIT,
    WORTH_BLENDING,
    Scores,
    Taste,
    predict_series,
    score_shading,
)
from blendkit.colour import lab_to_lch
from blendkit.inked import (
    Asked,
    Inked,
    Looks,
    Swatch,
    find_colour,
    ink_drawer,
    swatch_of,
    swatches_of,
)
from blendkit.palette import Palette, Paper
from blendkit.words import NEUTRAL_CHROMA

Floats = NDArray[np.float64]

COMFORTABLE_STEP = 15.0
"""L* that one blend bridges without a band showing. Common practice, no source."""

HARD_TO_SEE = 5.0
"""L* below which a step within one part is easily missed. Common practice, no source."""

_COMPLEMENT_DEG = 40.0


@dataclass(frozen=True, slots=True)
class Reasons:
    """Numbers that justify a companion, and the same in words.

    Args:
        lightness_step: L* between base and companion, positive in the wanted direction.
        series_hue: hue distance from the shading series, Lab units, signed.
        series_chroma: chroma distance from it, Lab units; negative where the companion is greyer.
        blend_evenness: 0 to 1; 1 where the wet blend moves in equal steps.
        blend_dip: chroma that the wet blend loses below both ends, Lab units; 0 is clean.
        in_between: markers that would make the blend smooth.
        in_between_markers: those of the drawer that lie between, best first.
        parts: part scores of step, hue, chroma and blend, 0 to 1.
        words: one or two plain sentences.
    """

    lightness_step: float
    series_hue: float
    series_chroma: float
    blend_evenness: float
    blend_dip: float
    in_between: int
    in_between_markers: tuple[str, ...]
    parts: dict[str, float]
    words: str


@dataclass(frozen=True, slots=True)
class Companion:
    """A shadow or a light for a base, and why.

    Args:
        name: the marker to lay; for ``coats`` the base itself.
        how: ``marker`` (a companion of its own), ``coats`` (more coats of the base), ``over`` or ``under``
            (*name* laid on top of, or below, the base).
        coats: coats of *name*.
        lab: the colour that comes out, D50 / 2 degree, on the paper.
        hex: what a screen can show of it.
        mapped: True when sRGB can't show it.
        score: 0 to 100; from 70 it fits.
        fits: whether it does.
        reasons: why.
        blend: the wet blend from base to companion in five steps.
        caution: what to be careful of, or "".
    """

    name: str
    how: str
    coats: int
    lab: tuple[float, float, float]
    hex: str
    mapped: bool
    score: float
    fits: bool
    reasons: Reasons
    blend: tuple[Swatch, ...]
    caution: str = ""


@dataclass(frozen=True, slots=True)
class Trio:
    """Three markers that follow one another from light to dark, with the lower score of the two steps."""

    light: Swatch
    mid: Swatch
    dark: Swatch
    score: float


@dataclass(frozen=True, slots=True)
class PairAdvice:
    """Answer to “what shades this, and what lights it?”

    Args:
        base: the colour asked about, on the paper.
        on: the paper.
        shadow: companions darker than the base, best first.
        light: companions lighter than the base, best first.
        trios: light, mid and dark chains that hold the base.
        fits: whether at least one companion fits.
        near_miss: the best that the drawer has when none fits, else None; None, too, where it has nothing.
        series: the shading series at the base's L*, then 10, 20, 30 and 40 below it.
        words: what to know, in plain sentences.
    """

    base: Swatch
    on: str
    shadow: tuple[Companion, ...]
    light: tuple[Companion, ...]
    trios: tuple[Trio, ...]
    fits: bool
    near_miss: Companion | None
    series: tuple[Swatch, ...]
    words: tuple[str, ...]


def find_pair(
    palette: Palette,
    base: str,
    *,
    on: str | None = None,
    taste: Taste | None = None,
    count: int = 5,
    all_ways: bool = False,
    inked: Inked | None = None,
) -> PairAdvice:
    """Find what shades and what lights a colour, best first, each with its reasons.

    Args:
        palette: the drawer.
        base: a marker of it, or any typed colour.
        on: the paper that is coloured on; None for the one that most swatches lie on.
        taste: window of L* steps and lean of the shadow.
        count: companions of each kind at most, 1 or more.
        all_ways: give coats, over and under even where a marker fits.
        inked: the same palette and paper from :func:`~blendkit.inked.ink_drawer`, if at hand.

    Returns: the advice; ``fits`` is False when nothing in the drawer fits.
    Raises: PaletteError for a name that is not there; ColourError for a colour that is none.
    """
    taste = taste or Taste()
    inked = (inked or ink_drawer(palette, on)).at_hand
    asked = find_colour(inked, base)
    shadow = find_companions(inked, asked, taste=taste, count=count, all_ways=all_ways)
    light = find_companions(inked, asked, lighter=True, taste=taste, count=count)
    # More coats of a typed colour are no answer from the drawer, unless a marker of that colour is bought.
    fits = any(one.fits and (one.how != "coats" or asked.row is not None) for one in (*shadow, *light))
    everything = sorted((*shadow, *light), key=lambda companion: -companion.score)
    in_drawer = [one for one in everything if one.how != "coats" or asked.row is not None]
    near_miss = None if fits or not in_drawer else in_drawer[0]
    steps = [asked.lab[0], *(asked.lab[0] - step for step in (10.0, 20.0, 30.0, 40.0) if asked.lab[0] > step)]
    series = tuple(
        swatch_of(f"L* {lightness:.0f}", predict_series(asked.lab, lightness, taste.lean))
        for lightness in steps
    )
    return PairAdvice(
        base=asked.swatch,
        on=inked.paper.name,
        shadow=shadow,
        light=light,
        trios=find_trios(inked, asked, shadow, light, taste),
        fits=fits,
        near_miss=near_miss,
        series=series,
        words=_pair_words(asked, inked.paper, shadow, light, near_miss),
    )


def find_companions(
    inked: Inked,
    asked: Asked,
    *,
    lighter: bool = False,
    taste: Taste | None = None,
    count: int = 5,
    all_ways: bool = False,
) -> tuple[Companion, ...]:
    """Rank the drawer's markers, and where none fits also coats, over and under, on one scale.

    Args:
        inked: the drawer on its paper.
        asked: the base.
        lighter: look for lights rather than shadows; nothing can be laid to make ink lighter, so lights are
            markers alone.
        taste: window and lean.
        count: how many at most, 1 or more.
        all_ways: give coats, over and under even where a marker fits.

    Returns: best first; those below the fitting score are near misses, worth a look when nothing fits.
    """
    taste = taste or Taste()
    # The best of a full drawer nearly always fit; only where too few do are the rest blended, too.
    for least in (FIT, WORTH_BLENDING):
        scores = score_shading(
            inked.model, asked.looks, inked.looks, lighter=lighter, taste=taste, least=least
        )
        order = np.argsort(-scores.score, kind="stable")
        order = order[(order != (-1 if asked.row is None else asked.row)) & (scores.score[order] > 0.0)]
        rows = order[:count]
        if len(rows) == count and scores.score[rows[-1]] >= FIT:
            break
    names = [inked.markers[row].name for row in rows]
    found = _companions(inked, asked, scores, rows, names, "marker", inked.looks[rows], taste)
    if not lighter and (all_ways or not any(companion.fits for companion in found)):
        found += _other_ways(inked, asked, taste)
    found.sort(key=lambda companion: -companion.score)
    return tuple(found[:count] if not all_ways else found)


def find_trios(
    inked: Inked,
    asked: Asked,
    shadow: tuple[Companion, ...],
    light: tuple[Companion, ...],
    taste: Taste,
    count: int = 3,
) -> tuple[Trio, ...]:
    """Find chains of light, mid and dark that hold the base.

    The base is the mid between one of its lights and one of its shadows, or the light whose shadow has a shadow
    of its own, or the dark whose light has a light of its own.

    Args:
        inked: the drawer on its paper.
        asked: the base.
        shadow: its shadows.
        light: its lights.
        taste: window and lean.
        count: how many at most.

    Returns: best first, by the lower score of the two steps.
    """
    trios: list[Trio] = []
    darker = [companion for companion in shadow if companion.fits and companion.how == "marker"]
    paler = [companion for companion in light if companion.fits]
    for pale in paler:
        for dark in darker:
            score = min(pale.score, dark.score)
            trios.append(Trio(_swatch(pale), asked.swatch, _swatch(dark), score))
    for companions, lighter in ((darker, False), (paler, True)):
        for middle in companions[:3]:
            row = inked.row(middle.name)
            scores = score_shading(
                inked.model, inked.looks[row], inked.looks, lighter=lighter, taste=taste, least=FIT
            ).score.copy()
            scores[row] = -1.0
            best = int(np.argmax(scores))
            if scores[best] < FIT or best == asked.row:
                continue
            end = swatch_of(inked.markers[best].name, inked.lab[best])
            score = min(middle.score, float(scores[best]))
            chain = (end, _swatch(middle), asked.swatch) if lighter else (asked.swatch, _swatch(middle), end)
            trios.append(Trio(*chain, score))
    trios.sort(key=lambda trio: -trio.score)
    return tuple(trios[:count])


def _swatch(companion: Companion) -> Swatch:
    return Swatch(companion.name, companion.lab, companion.hex, companion.mapped)


def _companions(
    inked: Inked,
    asked: Asked,
    scores: Scores,
    places: NDArray[np.intp],
    names: Sequence[str],
    how: str,
    made: Looks,
    taste: Taste,
) -> list[Companion]:
    """Give companions with their reasons: *made* of shape (n,), *places* where each stands in the scores."""
    paths = inked.blend_labs(asked.looks, made, BLEND_RATIOS)
    ratios = [f"{100 * ratio:.0f} %" for ratio in BLEND_RATIOS]
    labels = [label for name in names for label in (name, *ratios)]
    labs = np.concatenate([made.lab[:, None, :], paths], axis=1).reshape(-1, 3)
    swatches = swatches_of(labels, labs)
    each = len(ratios) + 1
    return [
        _companion(
            inked, asked, scores, int(place), how, swatches[row * each : (row + 1) * each], path, taste
        )
        for row, (place, path) in enumerate(zip(places, paths, strict=True))
    ]


def _companion(
    inked: Inked,
    asked: Asked,
    scores: Scores,
    place: int,
    how: str,
    swatches: tuple[Swatch, ...],
    path: Floats,
    taste: Taste,
) -> Companion:
    swatch, *blend = swatches
    name, coats = swatch.name, place + 2 if how == "coats" else 1
    step = float(scores.step[place])
    between = _in_between(inked, path, {asked.swatch.name, name}) if how == "marker" else ()
    score = float(scores.score[place])
    reasons = Reasons(
        lightness_step=step,
        series_hue=float(scores.hue[place]),
        series_chroma=float(scores.chroma[place]),
        blend_evenness=float(scores.evenness[place]),
        blend_dip=float(scores.dip[place]),
        in_between=max(0, int(np.ceil(step / COMFORTABLE_STEP - 1e-9)) - 1),
        in_between_markers=between,
        parts={part: float(values[place]) for part, values in scores.parts.items()},
        words="",
    )
    marker = inked.palette.marker(name) if how != "coats" or asked.row is not None else None
    rough = asked.rough or inked.paper.rough or (marker is not None and marker.rough)
    words = _reason_words(reasons, how, name, coats, swatch.lab[0] > asked.lab[0], taste.window)
    uncertainty = max(
        asked.uncertainty or 0.0, (marker.readings[0][1].uncertainty or 0.0) if marker is not None else 0.0
    )
    return Companion(
        name=name,
        how=how,
        coats=coats,
        lab=swatch.lab,
        hex=swatch.hex,
        mapped=swatch.mapped,
        score=score,
        fits=score >= FIT,
        reasons=replace(reasons, words=words),
        blend=tuple(blend),
        caution=_caution(rough, uncertainty, step),
    )


def _in_between(inked: Inked, path: Floats, leave_out: set[str]) -> tuple[str, ...]:
    """Markers that lie close to the predicted blend, away from its ends; the nearest and most central first."""
    low, high = sorted((path[0, 0], path[-1, 0]))
    inside = np.flatnonzero((inked.lab[:, 0] > low + 3.0) & (inked.lab[:, 0] < high - 3.0))
    lab = inked.lab[inside]
    distance = np.linalg.norm(lab[:, None, :] - path[None, 1:-1, :], axis=-1).min(axis=1)
    # Of markers alike near, the one in the middle of the step smooths most.
    order = np.argsort(distance + 0.5 * np.abs(lab[:, 0] - (low + high) / 2.0), kind="stable")
    names = (inked.markers[inside[place]].name for place in order if distance[place] < 6.0)
    return tuple(name for name in names if name not in leave_out)[:3]


def _other_ways(inked: Inked, asked: Asked, taste: Taste) -> list[Companion]:
    """Shadows made without a marker for it: more coats, or a neutral or a complement laid over or under."""
    found: list[Companion] = []
    own = inked.lay_asked([asked] * 3)
    painted = inked.look(inked.after(own)[1:])
    scores = score_shading(inked.model, asked.looks, painted, taste=taste)
    places = np.arange(max(0, min(2, inked.paper.coat_limit - 1)))
    names = [asked.swatch.name] * len(places)
    found += _companions(inked, asked, scores, places, names, "coats", painted[places], taste)
    rows = _modifiers(inked, asked)
    if len(rows) and inked.paper.coat_limit >= 2:
        base = np.broadcast_to(own[0], (len(rows), own.shape[-1]))
        added = inked.coats[rows, 0]
        ways = {"over": (base, added), "under": (added, base)}
        for how, laid in ways.items():
            painted = inked.look(inked.after(np.stack(laid, axis=1))[:, -1])
            scores = score_shading(inked.model, asked.looks, painted, taste=taste)
            places = np.argsort(-scores.score, kind="stable")[:2]
            names = [inked.markers[row].name for row in rows[places]]
            found += _companions(inked, asked, scores, places, names, how, painted[places], taste)
    return [companion for companion in found if companion.score > 0.0]


def _modifiers(inked: Inked, asked: Asked) -> NDArray[np.int64]:
    """Rows of the neutrals, and of the complements that are not darker than a mid tone."""
    lch = lab_to_lch(inked.lab)
    neutral = (lch[:, 1] < NEUTRAL_CHROMA) & (lch[:, 0] > 15.0)
    hue = lab_to_lch(asked.lab)[2]
    apart = np.abs((lch[:, 2] - hue + 180.0) % 360.0 - 180.0)
    complement = (apart > 180.0 - _COMPLEMENT_DEG) & (lch[:, 0] > 55.0)
    rows: NDArray[np.int64] = np.flatnonzero(neutral | complement)
    others: NDArray[np.int64] = rows[rows != (-1 if asked.row is None else asked.row)]
    return others


def _reason_words(
    reasons: Reasons, how: str, name: str, coats: int, lighter: bool, window: tuple[float, float]
) -> str:
    step = reasons.lightness_step
    opening = {
        "marker": "",
        "coats": f"{coats} coats of the same marker: ",
        "over": f"{name} laid over the dry base: ",
        "under": f"{name} laid first and the base over it: ",
    }[how]
    if reasons.parts["step"] >= 0.999:
        size = f"a clear step of {step:.0f} L*"
    elif step < window[0]:
        size = f"a small step of {step:.0f} L*" + (", hard to see" if step < HARD_TO_SEE else "")
    else:
        size = f"a big step of {step:.0f} L*"
    hue = abs(reasons.series_hue)
    if hue < 4.0:
        place = "just the hue that light and shade give"
    elif hue < 9.0:
        place = "close to the hue that light and shade give"
    else:
        place = "a different hue from what light and shade give"
    # A light is judged by the base being its shadow, so a base that is too vivid means a light that is pale.
    vivid = -reasons.series_chroma if lighter else reasons.series_chroma
    if vivid > 12.0:
        place += ", but more vivid"
    elif vivid < -12.0:
        # A light that is short of chroma is nearer to white, a shadow nearer to grey.
        place += ", but paler" if lighter else ", but greyer"
    if reasons.blend_dip > 5.0:
        mix = "the blend turns muddy between"
    elif reasons.blend_evenness < 0.6:
        mix = "the blend jumps, so work it with more passes"
    else:
        mix = "the blend stays clean"
    smooth = ""
    if reasons.in_between:
        smooth = (
            f"; {reasons.in_between} marker{'s' if reasons.in_between > 1 else ''} between would smooth it"
        )
        if reasons.in_between_markers:
            smooth += f" ({', '.join(reasons.in_between_markers[: reasons.in_between])})"
    return f"{opening}{size}, {place}; {mix}{smooth}."


def paper_caution(paper: Paper) -> str:
    """Say what a prediction on this paper can't know: several colours, or one that changes with the angle."""
    if paper.pattern:
        return (
            f"{paper.name} is patterned: this is reckoned on its mean colour, and its pattern shows through "
            "the ink."
        )
    if paper.rough:
        return f"Rough: the {paper.finish} finish of {paper.name} changes with the angle."
    return ""


def _caution(rough: bool, uncertainty: float, step: float) -> str:
    if rough:
        return "Rough: a pearl, glitter or foil finish changes with the angle, so look at a scrap first."
    if uncertainty and uncertainty > abs(step) / 4.0:
        return (
            f"The reading is only sure to about {uncertainty:.1f} CIEDE2000, so try this step on scrap first."
        )
    return ""


def _pair_words(
    asked: Asked,
    paper: Paper,
    shadow: tuple[Companion, ...],
    light: tuple[Companion, ...],
    near_miss: Companion | None,
) -> tuple[str, ...]:
    words: list[str] = []
    fitting = [one for one in shadow if one.fits and (one.how != "coats" or asked.row is not None)]
    markers = [companion for companion in fitting if companion.how == "marker"]
    if markers:
        words.append(f"{markers[0].name} shades {asked.swatch.name}: {markers[0].reasons.words}")
    elif fitting:
        words.append(
            f"No marker in the drawer is a fitting shadow for {asked.swatch.name}. "
            f"It can be made: {fitting[0].reasons.words}"
        )
    else:
        words.append(f"Nothing in the drawer is a fitting shadow for {asked.swatch.name}.")
        if any(one.fits for one in shadow):
            words.append("A marker of that very colour would shade itself with a second or third coat.")
    bright = [companion for companion in light if companion.fits]
    if bright:
        words.append(f"{bright[0].name} lights it: {bright[0].reasons.words}")
    else:
        words.append("No marker is a fitting light for it: leave bare paper where the light falls.")
    if near_miss is not None:
        words.append(f"The nearest miss is {near_miss.name}, score {int(near_miss.score)} of 100.")
    if caution := paper_caution(paper):
        words.append(caution)
    return tuple(words)
