"""Which card stock, ribbon, ink or marker matches a colour, in words, and whether it still does under a lamp."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blendkit.advice.lamps import OTHER_LIGHTS, LampVerdict, difference_ranges, lamp_verdict
from blendkit.advice.stacks import find_stacks
from blendkit.colour import contrast_wcag, delta_e_2000, lab_to_hex, lightness_step
from blendkit.errors import ColourError, InkError, Problem
from blendkit.inked import Asked, Inked, Swatch, find_colour, ink_drawer, measured_or_estimated
from blendkit.palette import Palette, Paper, Reading, StampInk
from blendkit.spectrum import LIGHTS, reflectance_to_lab
from blendkit.words import MATCH_LIMIT, listed, verdict_of

Floats = NDArray[np.float64]

MATCH_KINDS = ("paper", "ribbon", "ink", "marker")
"""Kinds of things that can be matched to a colour."""

_COATS_TRIED = 3
_STACKS_TRIED = 40
_STACKS_SHOWN = 3
_WAYS_SHOWN = 100
_STACK_WITHIN = 20.0
"""Coats, stacks, stacks kept, ways in all, and CIEDE2000 that are looked at for a marker that matches."""


@dataclass(frozen=True, slots=True)
class Match:
    """One paper, ribbon, ink or marker against the colour.

    Args:
        name: as in the palette; of a patterned paper the sheet; of coats and stacks “2 coats of …”, “… over …”.
        kind: ``paper``, ``ribbon``, ``ink`` or ``marker``.
        lab: its colour; of a patterned paper the one nearest to the target; of a marker as it looks on the paper.
        hex: what a screen can show of it.
        delta_e_2000: CIEDE2000 to the target, interior D50.
        verdict: a word of :data:`~blendkit.words.VERDICTS`.
        words: the verdict in a sentence, with what hangs on it.
        contrast_wcag: contrast ratio to the target, 1 to 21.
        lightness_step: L* of it less that of the target.
        by_light: CIEDE2000 under each other light; estimated where no spectrum was measured.
        by_light_range: least and most that it may be there, 95 of 100 (:mod:`~blendkit.advice.lamps`).
        lamps: what that means under each light: holds, parts, or can't tell.
        parts_under: lights under which a match in daylight parts for certain.
        estimated: True when a reflectance was estimated from a colour for *by_light*.
        unsure: True when the reading's own uncertainty could move the verdict to another band.
        rough: True when its finish has no single colour.
        pattern_colour: of a patterned paper, the name of the colour that was matched, with its share.
        laid: of a marker, what to lay, first laid first; a name twice is two coats.
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
    by_light_range: dict[str, tuple[float, float]]
    lamps: dict[str, LampVerdict]
    parts_under: tuple[str, ...]
    estimated: bool
    unsure: bool
    rough: bool
    pattern_colour: str
    laid: tuple[str, ...] = ()


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
    name: str
    kind: str
    lab: Floats
    reflectance: Floats
    measured: bool
    uncertainty: float | None
    rough: bool
    pattern_colour: str = ""
    laid: tuple[str, ...] = ()


def find_matches(
    palette: Palette,
    colour: str,
    *,
    on: str | None = None,
    kinds: tuple[str, ...] = ("paper", "ribbon", "ink"),
    count: int | None = None,
    inked: Inked | None = None,
) -> MatchAdvice:
    """Rank what the palette has by CIEDE2000 to a colour as it will look on its paper.

    A patterned paper stands as one sheet, by its colour nearest to the target among those that cover at least
    a tenth of it. With the kind ``marker``, each marker stands once by its nearest number of coats, and the
    nearest stacks of two markers that come nearer than either alone stand beside them.

    Args:
        palette: the drawer.
        colour: a name of it, or any typed colour.
        on: the paper under the colour; None for the one that most swatches lie on.
        kinds: which kinds to rank, of :data:`MATCH_KINDS`.
        count: how many at most; None for all.
        inked: the drawer on that paper, if at hand.

    Returns: best first.
    Raises: PaletteError for a name that is not there; ColourError for a colour or a kind that is none.
    """
    for kind in kinds:
        if kind not in MATCH_KINDS:
            raise ColourError("That can't be matched.", [Problem("kind", repr(kind), ", ".join(MATCH_KINDS))])
    inked = (inked or ink_drawer(palette, on, markers_needed=False)).at_hand
    palette = inked.palette
    asked = find_colour(inked, colour)
    things: tuple[Paper | StampInk, ...] = (*palette.papers, *palette.ribbons, *palette.inks)
    candidates = _sheets([item for item in things if item.kind in kinds and item is not asked.item])
    if "marker" in kinds:
        if not inked.markers and kinds == ("marker",):
            where = str(palette.path or "this palette")
            raise InkError("There is no marker to match.", [Problem(where, "no marker", "at least one")])
        candidates += _marker_ways(inked, asked)
    if not candidates:
        nothing = f"There is no {listed(kinds, 'or')} in the palette to match."
        return MatchAdvice(asked.swatch, inked.paper.name, (), False, None, (nothing,))
    labs = np.array([candidate.lab for candidate in candidates])
    difference = delta_e_2000(asked.lab, labs)
    order: list[int] = []
    seen: set[str] = set()
    for row in np.argsort(difference, kind="stable").tolist():
        if candidates[row].name not in seen:
            seen.add(candidates[row].name)
            order.append(row)
    # Under lamps only what is shown is tried: the ranges cost more than the ranking.
    shown = _matches(inked, asked, [candidates[row] for row in order[:count]])
    best = shown[0]
    fits = best.delta_e_2000 < MATCH_LIMIT
    words: tuple[str, ...]
    if fits:
        words = (f"{best.name} is the nearest: {best.words}",)
    else:
        words = (f"Nothing in the palette matches {asked.swatch.name}; the nearest miss is {best.name}.",)
    if any("can't tell" in match.lamps.values() for match in shown):
        words += ("Whether a match holds under a lamp can only be told for sure from measured spectra.",)
    return MatchAdvice(asked.swatch, inked.paper.name, shown, fits, None if fits else best, words)


def _matches(inked: Inked, asked: Asked, candidates: list[_Candidate]) -> tuple[Match, ...]:
    """Judge candidates, in their order."""
    labs = np.array([candidate.lab for candidate in candidates])
    reflectance = np.array([candidate.reflectance for candidate in candidates])
    measured = np.array([candidate.measured for candidate in candidates])
    difference = delta_e_2000(asked.lab, labs)
    contrast = contrast_wcag(asked.lab, labs)
    step = lightness_step(asked.lab, labs)
    by_light = {
        light: delta_e_2000(
            reflectance_to_lab(asked.reflectance, light=light), reflectance_to_lab(reflectance, light=light)
        )
        for light in OTHER_LIGHTS
    }
    target = np.broadcast_to(asked.reflectance, reflectance.shape)
    known = _has_spectrum(inked, asked.row, asked.item)
    ranges = difference_ranges(target, reflectance, (known, measured))
    matches = []
    for row, candidate in enumerate(candidates):
        delta = float(difference[row])
        lights = {light: (float(least[row]), float(most[row])) for light, (least, most) in ranges.items()}
        lamps = {light: lamp_verdict(delta, *ends) for light, ends in lights.items()}
        unsure = _hangs_on_reading(delta, asked.uncertainty, candidate.uncertainty)
        rough = asked.rough or candidate.rough
        matches.append(
            Match(
                name=candidate.name,
                kind=candidate.kind,
                lab=(float(labs[row, 0]), float(labs[row, 1]), float(labs[row, 2])),
                hex=lab_to_hex(labs[row]),
                delta_e_2000=delta,
                verdict=verdict_of(delta).word,
                words=_match_words(delta, lamps, rough, unsure, candidate.pattern_colour),
                contrast_wcag=float(contrast[row]),
                lightness_step=float(step[row]),
                by_light={light: float(values[row]) for light, values in by_light.items()},
                by_light_range=lights,
                lamps=lamps,
                parts_under=tuple(light for light, verdict in lamps.items() if verdict == "parts"),
                estimated=not (known and candidate.measured),
                unsure=unsure,
                rough=rough,
                pattern_colour=candidate.pattern_colour,
                laid=candidate.laid,
            )
        )
    return tuple(matches)


def _sheets(items: list[Paper | StampInk]) -> list[_Candidate]:
    """Papers, ribbons and inks; of a pattern each colour that counts."""
    entries: list[tuple[Paper | StampInk, Reading, str]] = []
    for item in items:
        if isinstance(item, Paper) and item.pattern:
            for part in item.main_colours or item.pattern[:1]:
                own = f"{_own_part(item.name, part.name)}, {100 * part.share:.0f} % of the sheet"
                entries.append((item, part.reading, own))
        else:
            entries.append((item, item.reading, ""))
    curves = measured_or_estimated([reading for _, reading, _ in entries])
    return [
        _Candidate(
            item.name,
            item.kind,
            reading.lab,
            curve,
            reading.reflectance is not None,
            reading.uncertainty,
            item.rough,
            pattern_colour,
        )
        for (item, reading, pattern_colour), curve in zip(entries, curves, strict=True)
    ]


def _marker_ways(inked: Inked, asked: Asked) -> list[_Candidate]:
    """Each marker by its nearest number of coats, and the stacks of two that beat both of theirs."""
    if not inked.markers:
        return []
    coats = min(_COATS_TRIED, inked.paper.coat_limit)
    labs = inked.coat_labs(np.arange(len(inked.markers)), coats)
    off = delta_e_2000(asked.lab, labs)
    number = off.argmin(axis=1)
    ways: list[tuple[float, tuple[int, ...]]] = [
        (float(off[row, number[row]]), (row,) * int(number[row] + 1))
        for row in range(len(inked.markers))
        if row != asked.row
    ]
    alone = off.min(axis=1)
    if coats > 1:
        within = min(_STACK_WITHIN, float(alone.min()) + 1e-9)
        stacks = find_stacks(inked, asked.lab[None], np.array([within]), _STACKS_TRIED)[0]
        better = [
            (delta, tuple(pair))
            for pair, delta in zip(stacks.rows.tolist(), stacks.delta.tolist(), strict=True)
            if pair[0] != pair[1] and asked.row not in pair and delta < alone[pair].min()
        ]
        ways += better[:_STACKS_SHOWN]
    found = []
    for _, rows in sorted(ways)[:_WAYS_SHOWN]:
        names = [inked.markers[row].name for row in rows]
        name = lay_words(names)
        first = inked.markers[rows[0]].readings[0][1]
        curve = inked.after(inked.lay(np.array(rows)))[-1]
        measured = first.reflectance is not None and len(rows) == 1
        rough = any(inked.markers[row].rough for row in rows)
        lab = reflectance_to_lab(curve)
        found.append(
            _Candidate(name, "marker", lab, curve, measured, first.uncertainty, rough, "", tuple(names))
        )
    return found


def lay_words(names: Sequence[str]) -> str:
    """Say what to lay, first laid first: a marker, coats of it, or one over another."""
    if len(set(names)) > 1:
        return f"{names[1]} over {names[0]}"
    return names[0] if len(names) == 1 else f"{len(names)} coats of {names[0]}"


def _own_part(pattern: str, name: str) -> str:
    """Name of a pattern's colour without the pattern's own name before it."""
    return name[len(pattern) :].lstrip(" ,:;-") if name.startswith(pattern) and name != pattern else name


def _has_spectrum(inked: Inked, row: int | None, item: object) -> bool:
    if row is not None:
        return inked.markers[row].readings[0][1].reflectance is not None
    reading = getattr(item, "reading", None)
    return isinstance(reading, Reading) and reading.reflectance is not None


def _hangs_on_reading(delta: float, *uncertainties: float | None) -> bool:
    spread = float(np.sqrt(sum((value or 0.0) ** 2 for value in uncertainties)))
    if spread == 0.0:
        return False
    return verdict_of(max(0.0, delta - spread)).word != verdict_of(delta + spread).word


def lights_listed(lights: Sequence[str], last: str = "and") -> str:
    """Give lights within a sentence: “in daylight, under a warm lamp or a room LED”."""
    words = [LIGHTS[light].under for light in lights]
    return listed(
        [
            word.removeprefix("under ") if at and words[at - 1].startswith("under ") else word
            for at, word in enumerate(words)
        ],
        last,
    )


def _match_words(
    delta: float, lamps: dict[str, LampVerdict], rough: bool, unsure: bool, pattern_colour: str
) -> str:
    text = verdict_of(delta).words
    if pattern_colour:
        text += f" (its {pattern_colour})"
    for verdict, words in (("parts", "; but they part "), ("can't tell", "; they may part ")):
        lights = [light for light, one in lamps.items() if one == verdict]
        if lights:
            text += words + lights_listed(lights, "and" if verdict == "parts" else "or")
    if unsure:
        text += "; the reading may be off by enough to change that"
    if rough:
        text += "; rough, since its finish changes with the angle"
    return text + "."
