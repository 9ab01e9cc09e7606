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
from blendkit.colour import delta_e_2000, lab_to_lch
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
from blendkit.palette import Marker, Palette, Paper, StampInk
from blendkit.spectrum import reflectance_to_lab
from blendkit.words import MATCH_LIMIT, NEUTRAL_CHROMA, listed

Floats = NDArray[np.float64]

COMFORTABLE_STEP = 15.0
"""L* that one blend bridges without a band showing. Common practice, no source."""

HARD_TO_SEE = 5.0
"""L* below which a step within one part is easily missed. Common practice, no source."""

_COMPLEMENT_DEG = 40.0
"""Degrees from the opposite hue within which a marker counts as the complement. Own judgement."""


@dataclass(frozen=True, slots=True)
class Reasons:
    """Numbers that justify a companion, and the same in words.

    Args:
        lightness_step: L* between base and companion, positive in the wanted direction.
        series_hue: hue distance from the nearest natural shadow (more ink, under less light), Lab units, signed.
        series_chroma: chroma distance from it, Lab units; negative where the companion is greyer.
        muted: where between more ink (0) and less light (1) it lies.
        blend_evenness: 0 to 1; 1 where the wet blend moves in equal steps.
        blend_dip: chroma that the wet blend loses below both ends, Lab units; 0 is clean.
        in_between: markers that would make the blend smooth.
        in_between_markers: those of the drawer that lie between, best first; none where none is needed.
        parts: part scores of step, hue, chroma, lean and blend, 0 to 1.
        words: one or two plain sentences.
    """

    lightness_step: float
    series_hue: float
    series_chroma: float
    muted: float
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
        fellow: whether the user's ``family`` column puts it beside the base.
        dull: whether it is a grey for a colour that is none: the muted way.
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
    fellow: bool = False
    dull: bool = False


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
        words=_pair_words(inked, asked, shadow, light, near_miss),
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
    greys = find_greys(inked)
    # Less light is asked for: then greys are as good as any.
    dulls = np.zeros_like(greys) if taste.lean == "muted" or _is_grey(inked, asked) else greys
    fellows = _fellows(inked, asked)
    # The best of a full drawer nearly always fit; only where too few do are the rest blended, too.
    for least in (FIT, WORTH_BLENDING):
        scores = score_shading(
            inked.model,
            asked.looks,
            inked.looks,
            inked.more_ink if lighter else inked.more_ink_of(asked),
            lighter=lighter,
            taste=taste,
            least=least,
        )
        score = scores.score.copy()
        if asked.row is not None:
            score[asked.row] = 0.0
        order = np.argsort(-score, kind="stable")
        order = order[score[order] > 0.0]
        rows = np.concatenate(
            [order[~dulls[order]][:count], order[dulls[order]][:1], order[fellows[order]][:1]]
        )
        rows = np.array(list(dict.fromkeys(rows.tolist())), dtype=np.intp)
        if (score[rows] >= FIT).sum() >= count:
            break
    names = [inked.markers[row].name for row in rows]
    found = _companions(inked, asked, scores, rows, names, "marker", inked.looks[rows], taste)
    found = [
        replace(one, fellow=bool(fellows[row]), dull=bool(dulls[row]))
        for one, row in zip(found, rows, strict=True)
    ]
    is_ink = asked.item is None or isinstance(asked.item, Marker)
    if is_ink and not lighter and (all_ways or not any(one.fits and not one.dull for one in found)):
        found += [
            replace(one, dull=one.how != "coats" and bool(dulls[inked.row(one.name)]))
            for one in _other_ways(inked, asked, taste)
        ]
    return tuple(_ranked(found, lighter, taste.window)[: None if all_ways else count])


def _ranked(found: list[Companion], lighter: bool, window: tuple[float, float]) -> list[Companion]:
    """Best first, but a fitting fellow of the family before all, and of the greys one, and not the first."""
    found = sorted(found, key=lambda one: (not (one.fellow and one.fits), -one.score))
    dulls = [one for one in found if one.dull]
    ranked = [one for one in found if not one.dull or one is dulls[0]]
    if len(ranked) > 1 and ranked[0].dull and ranked[1].fits:
        ranked[:2] = ranked[1::-1]
    return [replace(one, reasons=replace(one.reasons, words=_told(one, lighter, window))) for one in ranked]


MUTED_WORDS = "the muted way, a grey"


def _told(one: Companion, lighter: bool, window: tuple[float, float]) -> str:
    if one.fellow:
        return f"of the same family; {one.reasons.words}"
    if one.dull:
        words = _reason_words(one.reasons, one.how, one.name, one.coats, lighter, window, muted=True)
        return f"{MUTED_WORDS}: {words}"
    return one.reasons.words


_GREYEST, _GREYEST_BLUE, _BLUE_HUES = 11.0, 20.0, (220.0, 290.0)
"""A grey's ink has less chroma than the first at any strength, or than the second where its hue is blue: a dull
blue passes for grey, a brown as dull doesn't. A thin coat of a vivid dye has little chroma, too, and isn't grey;
a dark one of a grey has more. Own judgement, tried on the families of tests/derive."""


def _are_grey(fullest: Floats) -> NDArray[np.bool_]:
    """Which inks are greys, from their Lab where it has most chroma, shape (..., 3)."""
    _, chroma, hue = np.moveaxis(lab_to_lch(fullest), -1, 0)
    blue = (hue > _BLUE_HUES[0]) & (hue < _BLUE_HUES[1])
    grey: NDArray[np.bool_] = chroma < np.where(blue, _GREYEST_BLUE, _GREYEST)
    return grey


def _is_grey(inked: Inked, asked: Asked) -> bool:
    """Whether what was asked about is a grey."""
    if asked.row is not None:
        return bool(find_greys(inked)[asked.row])
    return bool(_are_grey(inked.fullest_of(inked.lay_asked([asked])[0])))


def find_greys(inked: Inked) -> NDArray[np.bool_]:
    """Which markers are greys, shape (n,): by their colour, or by what most of their family are."""
    greys = _are_grey(inked.fullest)
    families: dict[str, list[int]] = {}
    for row, marker in enumerate(inked.markers):
        if marker.family:
            families.setdefault(marker.family, []).append(row)
    for rows in families.values():
        greys[rows] = greys[rows].mean() >= 0.5
    return greys


def _fellows(inked: Inked, asked: Asked) -> NDArray[np.bool_]:
    """Which markers the user put into the base's family, shape (n,)."""
    family = "" if asked.row is None else inked.markers[asked.row].family
    return np.array([bool(family) and one.family == family for one in inked.markers], dtype=bool)


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
    greys = find_greys(inked)
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
                inked.model,
                inked.looks[row],
                inked.looks,
                inked.more_ink if lighter else inked.more_ink[row],
                lighter=lighter,
                taste=taste,
                least=FIT,
            ).score.copy()
            scores[row] = -1.0
            if asked.row is None or not greys[asked.row]:
                scores[greys] = -1.0
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
    needed = max(0, int(np.ceil(step / COMFORTABLE_STEP - 1e-9)) - 1)
    between = _in_between(inked, path, {asked.swatch.name, name}) if how == "marker" and needed else ()
    score = float(scores.score[place])
    reasons = Reasons(
        lightness_step=step,
        series_hue=float(scores.hue[place]),
        series_chroma=float(scores.chroma[place]),
        muted=float(scores.muted[place]),
        blend_evenness=float(scores.evenness[place]),
        blend_dip=float(scores.dip[place]),
        in_between=needed,
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
    scores = score_shading(inked.model, asked.looks, painted, inked.more_ink_of(asked), taste=taste)
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
            scores = score_shading(inked.model, asked.looks, painted, inked.more_ink_of(asked), taste=taste)
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


_WAYS = {
    False: (
        "like the same ink, stronger",
        "like a stronger ink in less light",
        "like the same colour in less light",
    ),
    True: (
        "like the same ink, thinner",
        "like a thinner ink in more light",
        "like the same colour in more light",
    ),
}
"""What a shadow, or with True a light, is to its base: by more ink, by both, by less light."""


def _reason_words(
    reasons: Reasons, how: str, name: str, coats: int, lighter: bool, window: tuple[float, float],
    muted: bool = False,
) -> str:  # fmt: skip
    """Say why; of a *muted* companion, a grey, not which line it follows."""
    step = reasons.lightness_step
    opening = {
        "marker": "",
        "coats": f"{coats} coats of the same marker: ",
        "over": f"{name} laid over the dry base: ",
        "under": f"{name} laid first and the base over it: ",
    }[how]
    if reasons.parts["step"] >= 0.999:
        size = "a clear step"
    elif step < window[0]:
        size = "a small step" + (", hard to see" if step < HARD_TO_SEE else "")
    else:
        size = "a big step"
    hue = abs(reasons.series_hue)
    stronger, between, dimmer = _WAYS[lighter]
    way = stronger if reasons.muted < 0.4 else between if reasons.muted < 0.6 else dimmer
    if hue < 4.0:
        place = way
    elif hue < 9.0:
        place = f"nearly {way}"
    else:
        place = (
            "a different hue from a natural shadow" if not lighter else "a different hue from a natural light"
        )
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
    if reasons.in_between_markers:
        smooth = f"; in between, {listed(reasons.in_between_markers[: reasons.in_between])} would smooth it"
    return f"{opening}{size}{'' if muted else f', {place}'}; {mix}{smooth}."


def paper_caution(paper: Paper) -> str:
    """Say what a prediction on this paper can't know: several colours, or one that changes with the angle."""
    if paper.pattern:
        return (
            f"{paper.name} is patterned: this is reckoned on its mean colour, and its pattern shows through "
            "the ink."
        )
    if paper.kind == "ribbon":
        return f"{paper.name} is a ribbon: how it drinks and spreads ink isn't known here; try it on a scrap."
    if paper.rough:
        return f"Rough: the {paper.finish} finish of {paper.name} changes with the angle."
    return ""


_DARK_CARD = 50.0
"""L* below which a paper is dark card. Own judgement."""
_FAINT = 2.0 * MATCH_LIMIT
"""CIEDE2000 from the bare dark card below which ink hardly shows on it. Own judgement."""


_NO_MARKER = {
    "paper": "a paper, no marker: these go by its colour, as if ink had made it.",
    "ribbon": "a ribbon, no marker: these go by its colour; how its weave and shine shade can't be known from it.",
    "ink": "a stamp ink, no marker: these go by its colour.",
}


def find_cautions(inked: Inked, asked: Sequence[Asked]) -> list[str]:
    """Say what a prediction on this paper can't know, and which of the inks vanish on it."""
    cautions = [caution] if (caution := paper_caution(inked.paper)) else []
    for one in asked:
        if isinstance(one.item, Paper | StampInk):
            cautions.append(f"{one.swatch.name} is {_NO_MARKER[one.item.kind]}")
    bare = reflectance_to_lab(inked.paper_reflectance)
    for one in {
        one.swatch.name: one for one in asked if one.item is None or isinstance(one.item, Marker)
    }.values():
        off = float(delta_e_2000(bare, one.lab))
        if bare[0] < _DARK_CARD and off < _FAINT:
            verb = "vanishes" if off < MATCH_LIMIT else "hardly shows"
            cautions.append(
                f"{one.swatch.name} {verb} on {inked.paper.name}: dye only darkens, and this card is dark "
                "already. Take a paler card, or an opaque ink."
            )
    return cautions


def _caution(rough: bool, uncertainty: float, step: float) -> str:
    if rough:
        return "Rough: a pearl, glitter or foil finish changes with the angle, so look at a scrap first."
    if uncertainty and uncertainty > abs(step) / 4.0:
        return "The colour isn't known surely enough for so small a step: try it on scrap first."
    return ""


def _pair_words(
    inked: Inked,
    asked: Asked,
    shadow: tuple[Companion, ...],
    light: tuple[Companion, ...],
    near_miss: Companion | None,
) -> tuple[str, ...]:
    words: list[str] = []
    fitting = [one for one in shadow if one.fits and (one.how != "coats" or asked.row is not None)]
    if fitting and fitting[0].how == "marker":
        words.append(f"{fitting[0].name} shades {asked.swatch.name}: {fitting[0].reasons.words}")
    elif fitting:
        words.append(
            f"No marker in the drawer shades {asked.swatch.name} better than {fitting[0].reasons.words}"
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
    words += find_cautions(inked, [asked])
    return tuple(words)
