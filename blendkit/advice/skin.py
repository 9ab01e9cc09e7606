"""Skin from the drawer: base, shadow, deeper shadow, light and blush for every class of skin colour alike.

Classes are those of the individual typology angle, by number; they say how light or dark a colour is and
nothing else about anybody.

Sources:
    Chardon, Cretois and Hourseau 1991, Skin colour typology and suntanning pathways, International Journal of
    Cosmetic Science 13, 191-208 (ITA° = arctan((L* - 50) / b*) · 180 / π, and the limits of the classes).
    The representative a* and b* below are from memory of published surveys of skin colour, rounded.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blendkit.advice.pairs import Companion, find_companions
from blendkit.advice.shading_series import FIT, Taste
from blendkit.colour import delta_e_2000, lab_to_lch
from blendkit.errors import ColourError, Problem
from blendkit.inked import (
    DEFAULT_MODEL,
    Asked,
    Inked,
    Swatch,
    find_colour,
    ink_drawer,
    swatch_of,
    typed_colour,
)
from blendkit.palette import Palette
from blendkit.spectrum import reflectance_to_lab
from blendkit.words import MATCH_LIMIT, count_of, describe_colour, listed, verdict_of

Floats = NDArray[np.float64]

ITA_LIMITS = (55.0, 41.0, 28.0, 10.0, -30.0)
"""Limits between classes 1 and 2, 2 and 3, and so on, in degrees (Chardon, Cretois and Hourseau 1991)."""

_SKIN_A = ((65.0, 6.0), (48.0, 9.0), (35.0, 11.0), (19.0, 12.5), (-10.0, 13.0), (-50.0, 9.0))
_SKIN_B = ((65.0, 13.0), (48.0, 16.0), (35.0, 18.0), (19.0, 20.0), (-10.0, 18.0), (-50.0, 10.0))
"""Typical a* and b* by ITA; from memory of published surveys, so no gold."""

_CLASS_ITA = (62.0, 48.0, 34.5, 19.0, -10.0, -50.0)
"""An angle in the middle of each class, for the table of all classes."""

TONES = ("very fair", "fair", "medium", "tan", "brown", "deep")
"""Words for classes 1 to 6."""

DRAWN_LIGHTER = 0.2
"""L* by which drawn skin is chosen lighter than measured skin, for each L* above the darkest. That it is usually
so is common practice, no source; how much is own judgement."""

_DARKEST = 30.0
"""L* of the deepest typical skin; from memory of the same surveys."""

_SKIN_HUE_DEG = (20.0, 90.0)
_SKIN_CHROMA = (4.0, 42.0)
_SKIN_LIGHTNESS = (12.0, 96.0)
"""Outside these no complexion lies, in life or drawn: wider by 10 to 15 than what surveys of skin report (from
memory: hue 40 to 75 degrees, chroma 10 to 30)."""

_COATS_BETTER = 10.0
"""Score by which coats of the base have to beat two other markers to be its shadows. Own judgement."""

SKIN_STEP = 16.0
"""Largest step of L* that shades skin gently, where two steps follow each other. Common practice, no source."""

# A blush is a part over the base that turns redder, not much darker: wanted change of L*, a*, b*.
_BLUSH = np.array([-6.0, 12.0, 2.0])


@dataclass(frozen=True, slots=True)
class SkinMarker:
    """One marker of a skin set.

    Args:
        role: base, shadow, deeper shadow, light or blush.
        marker: the marker, as it looks on the paper; of a blush, laid over the base.
        score: 0 to 100.
        fits: whether it is good enough.
        words: why.
    """

    role: str
    marker: Swatch
    score: float
    fits: bool
    words: str


@dataclass(frozen=True, slots=True)
class SkinSet:
    """Markers for one skin colour.

    Args:
        number: class, 1 (lightest) to 6 (darkest).
        ita: angle of the skin colour, degrees.
        skin: the colour asked for.
        delta_e_2000: how far the base is from it.
        markers: base, shadow, deeper shadow, light and blush, as far as the drawer has them.
        missing: roles that it has no fitting marker for.
        score: the lowest score of the markers found.
        words: what to know.
        tone: the class in a word.
    """

    number: int
    ita: float
    skin: Swatch
    delta_e_2000: float
    markers: tuple[SkinMarker, ...]
    missing: tuple[str, ...]
    score: float
    words: str
    tone: str = ""


@dataclass(frozen=True, slots=True)
class SkinAdvice:
    """Answer to “what colours this skin?”, for one colour or for all six classes.

    Args:
        on: the paper.
        sets: one for each colour asked about, lightest class first.
        worst: class with the lowest score.
        best: class with the highest.
        fits: whether every set has a fitting base and shadow.
        words: what to know.
    """

    on: str
    sets: tuple[SkinSet, ...]
    worst: int
    best: int
    fits: bool
    words: tuple[str, ...]


def ita_deg(lab: ArrayLike) -> Floats:
    """Individual typology angle of a colour.

    Args:
        lab: shape (..., 3); b* above 0, as skin has.

    Returns: degrees, -90 to 90, shape (...).
    Source: Chardon, Cretois and Hourseau 1991.
    """
    lab = np.asarray(lab, dtype=np.float64)
    angle: Floats = np.degrees(np.arctan2(lab[..., 0] - 50.0, np.maximum(lab[..., 2], 1e-9)))
    return angle


def ita_class(angle: float) -> int:
    """Class of an angle: 1 above 55 degrees, then 41-55, 28-41, 10-28, -30-10, and 6 at -30 and below."""
    return 1 + sum(angle <= limit for limit in ITA_LIMITS)


def skin_from_ita(angle: float) -> Floats:
    """A typical skin colour of an angle.

    Args:
        angle: degrees, -80 to 80.

    Returns: Lab, shape (3,), whose angle is *angle*.
    Raises: ColourError for an angle that no skin has.
    """
    if not -80.0 <= angle <= 80.0:
        raise ColourError(
            f"An individual typology angle of {angle:g} is no skin; accepted: -80 to 80 degrees"
        )
    knots = np.array(sorted(_SKIN_A))
    a = float(np.interp(angle, knots[:, 0], knots[:, 1]))
    knots = np.array(sorted(_SKIN_B))
    b = float(np.interp(angle, knots[:, 0], knots[:, 1]))
    lightness = float(np.clip(50.0 + b * np.tan(np.radians(angle)), 12.0, 92.0))
    # Keep the angle where the lightness had to stop.
    if lightness in (12.0, 92.0) and angle != 0.0:
        b = (lightness - 50.0) / np.tan(np.radians(angle))
    return np.array([lightness, a, b])


def find_skin(
    palette: Palette,
    colour: str | None = None,
    *,
    ita: float | None = None,
    on: str | None = None,
    taste: Taste | None = None,
) -> SkinAdvice:
    """Find base, shadow, deeper shadow, light and blush for a skin colour, or for all six classes.

    Args:
        palette: the drawer.
        colour: a measured or picked skin colour, or a name of the palette.
        ita: an individual typology angle in degrees, instead of a colour.
        on: the paper; None for the one that most swatches lie on.
        taste: window and lean of the shadows.

    Returns: one set for the colour, or six, one for each class.
    Raises: ColourError when both a colour and an angle are given, or either is none, or the colour is no
        complexion; PaletteError for a name.
    """
    if colour is not None and ita is not None:
        raise ColourError("Give a skin colour or an angle, not both.")
    inked = ink_drawer(palette, on).at_hand
    if colour is not None:
        asked = [find_colour(inked, colour)]
        _check_complexion(asked[0])
    else:
        angles = _CLASS_ITA if ita is None else (ita,)
        asked = [_typical(angle) for angle in angles]
    sets = tuple(_skin_set(inked, one, taste or Taste(), typical=colour is None) for one in asked)
    ranked = sorted(sets, key=lambda one: one.score)
    fits = all(not {"base", "shadow"} & set(one.missing) for one in sets)
    words = [one.words for one in sets] if len(sets) == 1 else []
    if len(sets) > 1:
        if ranked[-1].score < FIT:
            words.append("The drawer has a whole set for none of the classes.")
        worst = ranked[0]
        lack = f", for want of a fitting {listed(worst.missing)}" if worst.missing else ""
        words.append(f"Served best: {ranked[-1].tone} skin; worst: {worst.tone} skin{lack}.")
    if colour is None:
        words.append("Bases are chosen a little lighter than measured skin, as drawn skin usually is.")
    else:
        words.append("Drawn skin is usually chosen lighter than measured skin: try a lighter base beside it.")
    words.append("Test on scrap beside the person or the photo: skin varies within every class.")
    return SkinAdvice(inked.paper.name, sets, ranked[0].number, ranked[-1].number, fits, tuple(words))


def beside_words(off: float) -> str:
    """Say how a base compares with the skin itself, from their CIEDE2000."""
    return f"beside the skin itself, {verdict_of(off).words}"


def _typical(angle: float) -> Asked:
    lab = skin_from_ita(angle)
    return typed_colour(f"typical {TONES[ita_class(angle) - 1]} skin", lab, DEFAULT_MODEL)


def _check_complexion(asked: Asked) -> None:
    """Refuse a colour that is no skin."""
    lightness, chroma, hue = (float(value) for value in lab_to_lch(asked.lab))
    ranges = ((lightness, _SKIN_LIGHTNESS), (chroma, _SKIN_CHROMA), (hue, _SKIN_HUE_DEG))
    if not all(low <= value <= high for value, (low, high) in ranges):
        problem = Problem(asked.swatch.name, describe_colour(asked.lab), "a colour of skin, fair to deep")
        raise ColourError("That is no complexion.", [problem])


def _skin_set(inked: Inked, asked: Asked, taste: Taste, typical: bool) -> SkinSet:
    angle = float(ita_deg(asked.lab))
    lift = DRAWN_LIGHTER * max(0.0, asked.lab[0] - _DARKEST) if typical else 0.0
    delta = delta_e_2000(asked.lab + np.array([lift, 0.0, 0.0]), inked.lab)
    row = asked.row if asked.row is not None else int(np.argmin(delta))
    marker = inked.markers[row]
    base = inked.asked(row)
    off = float(delta[row]) if asked.row is None else 0.0
    found: list[SkinMarker] = []
    # From 100 for the colour itself to the fitting score at the last limit of the verdicts, 5 CIEDE2000.
    score = max(0.0, 100.0 - off * (100.0 - FIT) / MATCH_LIMIT)
    found.append(SkinMarker("base", base.swatch, score, score >= FIT, beside_words(off)))
    found += _shadows(inked, base, taste)
    lights = find_companions(inked, base, lighter=True, taste=taste, count=1)
    if lights and lights[0].fits:
        one = lights[0]
        found.append(_skin_marker("light", one))
    else:
        paper = swatch_of(inked.paper.name, reflectance_to_lab(inked.paper_reflectance))
        step = paper.lab[0] - base.lab[0]
        if step <= 25.0:
            found.append(
                SkinMarker("light", paper, 100.0, True, "bare paper is the light: leave it white there")
            )
        elif lights:
            one = lights[0]
            found.append(_skin_marker("light", one))
    found.append(_blush(inked, base))
    fitting = {one.role for one in found if one.fits}
    roles = ("base", "shadow", "deeper shadow", "light", "blush")
    missing = tuple(role for role in roles if role not in fitting)
    lowest = min(one.score for one in found)
    number = ita_class(angle)
    tone = TONES[number - 1]
    words = f"{tone.capitalize()} skin: {marker.name} is the base"
    if asked.row is None:
        words += f"; {beside_words(off)}"
    if missing:
        words += f"; no fitting {listed(missing, 'or')} in the drawer"
    return SkinSet(number, angle, asked.swatch, off, tuple(found), missing, lowest, words + ".", tone)


def _shadows(inked: Inked, base: Asked, taste: Taste) -> list[SkinMarker]:
    """Choose a shadow and a deeper one together, so that the first leaves room for the second.

    Dark skin has less room below it, so the smallest step that counts shrinks with the base's lightness.
    """
    low, high = taste.window
    own = Taste((min(low, max(5.0, 0.2 * base.swatch.lab[0])), min(high, SKIN_STEP)), taste.lean)
    best: tuple[float, list[SkinMarker]] = (-1.0, [])
    ways = find_companions(inked, base, taste=own, count=8, all_ways=True)
    for one in ways:
        if one.how != "marker":
            continue
        chain, score = [_skin_marker("shadow", one)], one.score - 100.0
        below = find_colour(inked, one.name)
        for two in find_companions(inked, below, taste=own, count=3):
            if two.how == "marker" and min(one.score, two.score) > score:
                score = min(one.score, two.score)
                chain = [chain[0], _skin_marker("deeper shadow", two)]
        if score > best[0] or not best[1]:
            best = (score, chain)
    coats = [one for one in ways if one.how == "coats"][:2]
    if coats and coats[0].fits and min(one.score for one in coats) > best[0] + _COATS_BETTER:
        roles = ("shadow", "deeper shadow")
        return [_skin_marker(role, one) for role, one in zip(roles, coats, strict=False)]
    return best[1]


def _skin_marker(role: str, one: Companion) -> SkinMarker:
    name = f"{count_of(one.coats, 'coat')} of {one.name}" if one.how == "coats" else one.name
    return SkinMarker(role, swatch_of(name, np.array(one.lab)), one.score, one.fits, one.reasons.words)


def _blush(inked: Inked, base: Asked) -> SkinMarker:
    """Choose the marker that, laid over the base, comes nearest to a warm flush of it."""
    assert base.row is not None
    # The flush is smaller on dark skin, where there is less light left to colour.
    room = np.clip(base.swatch.lab[0] / 60.0, 0.35, 1.0)
    wanted = base.lab + room * _BLUSH
    over = inked.crossing_labs([base.row], np.arange(len(inked.markers)))[0]
    off = delta_e_2000(wanted, over)
    row = int(np.argmin(off))
    score = float(max(0.0, 100.0 - off[row] * (100.0 - FIT) / 5.0))
    redder = over[row, 1] - base.swatch.lab[1]
    fits = bool(score >= FIT and redder > 2.0)
    flush = "redder without much darkening" if redder > 2.0 else "no redder: the drawer has no blush for it"
    return SkinMarker(
        "blush",
        swatch_of(inked.markers[row].name, over[row]),
        score,
        fits,
        f"laid over the base it turns it {flush}",
    )
