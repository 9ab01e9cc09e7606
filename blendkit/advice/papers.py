"""Which card stock, ribbon and ink match a colour, in words, and whether they still do under a lamp."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blendkit.colour import contrast_wcag, delta_e_2000, lab_to_hex, lightness_step
from blendkit.inked import Inked, Swatch, find_colour, ink_drawer, measured_or_estimated
from blendkit.palette import Palette, Paper, Reading, StampInk
from blendkit.spectrum import LIGHTS, reflectance_to_lab
from blendkit.words import MATCH_LIMIT, verdict_of

Floats = NDArray[np.float64]

OTHER_LIGHTS = tuple(light for light in LIGHTS if light != "D50")
"""Lights that a match is tried under, besides the interior D50."""


@dataclass(frozen=True, slots=True)
class Match:
    """One paper, ribbon or ink against the colour.

    Args:
        name: as in the palette; of a patterned paper the sheet.
        kind: ``paper``, ``ribbon`` or ``ink``.
        lab: its colour; of a patterned paper the one nearest to the target.
        hex: what a screen can show of it.
        delta_e_2000: CIEDE2000 to the target, interior D50.
        verdict: a word of :data:`VERDICTS`.
        words: the verdict in a sentence, with what hangs on it.
        contrast_wcag: contrast ratio to the target, 1 to 21.
        lightness_step: L* of it less that of the target.
        by_light: CIEDE2000 under each of :data:`OTHER_LIGHTS`; estimated where no spectrum was measured.
        parts_under: lights under which a match in daylight parts.
        estimated: True when a reflectance was estimated from a colour for *by_light*.
        unsure: True when the reading's own uncertainty could move the verdict to another band.
        rough: True when its finish has no single colour.
        pattern_colour: of a patterned paper, the name of the colour that was matched, with its share.
    """

    name: str
    kind: str
    lab: tuple[float, float, float]
    hex: str
    delta_e_2000: float
    verdict: str
    words: str
    contrast_wcag: float
    lightness_step: float
    by_light: dict[str, float]
    parts_under: tuple[str, ...]
    estimated: bool
    unsure: bool
    rough: bool
    pattern_colour: str


@dataclass(frozen=True, slots=True)
class MatchAdvice:
    """Answer to “which papers go with it?”

    Args:
        target: the colour, on its paper.
        on: that paper.
        matches: best first.
        fits: whether at least one is nearer than :data:`MATCH_LIMIT`.
        near_miss: the best when none is, else None.
        words: what to know.
    """

    target: Swatch
    on: str
    matches: tuple[Match, ...]
    fits: bool
    near_miss: Match | None
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Candidate:
    item: Paper | StampInk
    reading: Reading
    pattern_colour: str


def find_matches(
    palette: Palette,
    colour: str,
    *,
    on: str | None = None,
    kinds: tuple[str, ...] = ("paper", "ribbon", "ink"),
    count: int | None = None,
    inked: Inked | None = None,
) -> MatchAdvice:
    """Rank the palette's papers, ribbons and inks by CIEDE2000 to a colour as it will look on its paper.

    A patterned paper stands as one sheet, by its colour nearest to the target among those that cover at least
    a tenth of it.

    Args:
        palette: the drawer.
        colour: a name of it, or any typed colour.
        on: the paper under the colour; None for the one that most swatches lie on.
        kinds: which kinds to rank.
        count: how many at most; None for all.
        inked: the drawer on that paper, if at hand.

    Returns: best first.
    Raises: PaletteError for a name that is not there; ColourError for a colour that is none.
    """
    inked = (inked or ink_drawer(palette, on, markers_needed=False)).at_hand
    palette = inked.palette
    asked = find_colour(inked, colour)
    things: tuple[Paper | StampInk, ...] = (*palette.papers, *palette.ribbons, *palette.inks)
    candidates = [
        candidate
        for item in things
        if item.kind in kinds and item is not asked.item
        for candidate in _candidates(item)
    ]
    if not candidates:
        nothing = "There is no paper, ribbon or ink in the palette to match."
        return MatchAdvice(asked.swatch, inked.paper.name, (), False, None, (nothing,))
    reflectance = measured_or_estimated([candidate.reading for candidate in candidates])
    labs = np.array([candidate.reading.lab for candidate in candidates])
    difference = delta_e_2000(asked.lab, labs)
    by_light = {
        light: delta_e_2000(
            reflectance_to_lab(asked.reflectance, light=light), reflectance_to_lab(reflectance, light=light)
        )
        for light in OTHER_LIGHTS
    }
    contrast = contrast_wcag(asked.lab, labs)
    step = lightness_step(asked.lab, labs)
    matches: list[Match] = []
    seen: set[str] = set()
    for row in (int(row) for row in np.argsort(difference, kind="stable")):
        item, reading = candidates[row].item, candidates[row].reading
        if item.name in seen:
            continue
        seen.add(item.name)
        lights = {light: float(values[row]) for light, values in by_light.items()}
        delta = float(difference[row])
        parts = _parting(delta, lights)
        measured = reading.reflectance is not None and _has_spectrum(inked, asked.row, asked.item)
        unsure = _hangs_on_reading(delta, asked.uncertainty, reading.uncertainty)
        rough = asked.rough or item.rough
        matches.append(
            Match(
                name=item.name,
                kind=item.kind,
                lab=(float(labs[row, 0]), float(labs[row, 1]), float(labs[row, 2])),
                hex=lab_to_hex(labs[row]),
                delta_e_2000=delta,
                verdict=verdict_of(delta).word,
                words=_match_words(delta, parts, rough, unsure, candidates[row].pattern_colour),
                contrast_wcag=float(contrast[row]),
                lightness_step=float(step[row]),
                by_light=lights,
                parts_under=parts,
                estimated=not measured,
                unsure=unsure,
                rough=rough,
                pattern_colour=candidates[row].pattern_colour,
            )
        )
    fits = matches[0].delta_e_2000 < MATCH_LIMIT
    best = matches[0]
    words: tuple[str, ...]
    if fits:
        words = (f"{best.name} is the nearest: {best.words}",)
    else:
        words = (f"Nothing in the palette matches {asked.swatch.name}; the nearest miss is {best.name}.",)
    if any(match.estimated for match in matches):
        words += ("Colours under other lights are estimated where no spectrum was measured.",)
    shown = tuple(matches[:count])
    return MatchAdvice(asked.swatch, inked.paper.name, shown, fits, None if fits else best, words)


def _candidates(item: Paper | StampInk) -> list[_Candidate]:
    if isinstance(item, Paper) and item.pattern:
        shares = item.main_colours or item.pattern[:1]
        return [
            _Candidate(
                item,
                part.reading,
                f"{_own_part(item.name, part.name)}, {100 * part.share:.0f} % of the sheet",
            )
            for part in shares
        ]
    return [_Candidate(item, item.reading, "")]


def _own_part(pattern: str, name: str) -> str:
    """Name of a pattern's colour without the pattern's own name before it."""
    return name[len(pattern) :].lstrip(" ,:;-") if name.startswith(pattern) and name != pattern else name


def _has_spectrum(inked: Inked, row: int | None, item: object) -> bool:
    if row is not None:
        return inked.markers[row].readings[0][1].reflectance is not None
    reading = getattr(item, "reading", None)
    return isinstance(reading, Reading) and reading.reflectance is not None


def _parting(delta: float, by_light: dict[str, float]) -> tuple[str, ...]:
    """Lights under which something that matches in D50 falls into a band that no longer does.

    It parts where it was closer than 3.5 and the lamp takes it both out of its band and up by more than 1.
    """
    if delta >= 3.5:
        return ()
    return tuple(
        light
        for light, value in by_light.items()
        if value > delta + 1.0 and verdict_of(value).below > verdict_of(delta).below
    )


def _hangs_on_reading(delta: float, *uncertainties: float | None) -> bool:
    spread = float(np.sqrt(sum((value or 0.0) ** 2 for value in uncertainties)))
    if spread == 0.0:
        return False
    return verdict_of(max(0.0, delta - spread)).word != verdict_of(delta + spread).word


def _match_words(delta: float, parts: tuple[str, ...], rough: bool, unsure: bool, pattern_colour: str) -> str:
    text = verdict_of(delta).words
    if pattern_colour:
        text += f" (its {pattern_colour})"
    if parts:
        text += "; but they part " + " and ".join(LIGHTS[light].under for light in parts)
    if unsure:
        text += "; the reading may be off by enough to change that"
    if rough:
        text += "; rough, since its finish changes with the angle"
    return text + "."
