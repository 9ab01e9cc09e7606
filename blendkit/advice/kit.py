"""The smallest set of markers that colours a project, for one maker or for a class that shares."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from blendkit.advice.optimum import Selection, choose_fewest
from blendkit.advice.papers import lay_words
from blendkit.advice.stacks import Stacks, find_stacks
from blendkit.colour import delta_e_2000
from blendkit.errors import ColourError
from blendkit.inked import Inked, Swatch, find_colour, ink_drawer, swatch_of
from blendkit.palette import Palette
from blendkit.words import MATCH_LIMIT, count_of, verdict_of

Floats = NDArray[np.float64]

DEFAULT_TOLERANCE = MATCH_LIMIT
"""CIEDE2000 within which a marker stands in for a target."""

_WAYS_AT_MOST = 40
"""Stacks that are weighed for a target, the nearest; it bounds the search. Own judgement."""


@dataclass(frozen=True, slots=True)
class Target:
    """A colour that the project needs.

    Args:
        colour: a name of the palette, or a typed colour.
        tolerance: CIEDE2000 that a stand-in may be off.
        role: what it is for, in words, for example "scarf, shadow".
    """

    colour: str
    tolerance: float = DEFAULT_TOLERANCE
    role: str = ""


@dataclass(frozen=True, slots=True)
class KitTarget:
    """A target, and how the kit meets it.

    Args:
        wanted: the colour.
        role: what it is for.
        markers: what to lay, first laid first; empty when nothing meets it.
        made: the colour that comes out, or None.
        delta_e_2000: how far off that is; of an unmet target, how far the nearest marker is.
        met: whether it is within the tolerance.
        words: the same in a sentence.
    """

    wanted: Swatch
    role: str
    markers: tuple[str, ...]
    made: Swatch | None
    delta_e_2000: float
    met: bool
    words: str


@dataclass(frozen=True, slots=True)
class KitMarker:
    """A marker to bring, how many of it, and what for."""

    marker: Swatch
    copies: int
    used_for: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class KitAdvice:
    """Answer to “what do I bring?”

    Args:
        on: the paper.
        makers: people who share the kit.
        markers: what to bring, most used first.
        copies: markers in all.
        targets: every target in the order given, and how it is met.
        exact: True when no smaller kit does it; False when the limit of work came first.
        bound: number of markers that no kit can go below.
        one_fewer: targets that would be lost with one marker fewer, in words; empty when none would.
        fits: whether every target is met.
        words: what to know.
        price: what the kit costs by the column price; markers without a price aren't in it.
        unpriced: markers of the kit without a price.
    """

    on: str
    makers: int
    markers: tuple[KitMarker, ...]
    copies: int
    targets: tuple[KitTarget, ...]
    exact: bool
    bound: int
    one_fewer: tuple[str, ...]
    fits: bool
    words: tuple[str, ...]
    price: float = 0.0
    unpriced: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Way:
    rows: tuple[int, ...]
    lab: Floats
    delta: float


def find_kit(
    palette: Palette,
    targets: Sequence[Target],
    *,
    on: str | None = None,
    makers: int = 1,
    layered: bool = True,
    budget: float | None = None,
) -> KitAdvice:
    """Choose the fewest markers of a drawer that colour a project.

    A target is met by one marker within its tolerance or, with *layered*, by one marker over another. For a
    class the makers are taken to work through the parts at their own pace, so a marker that serves a third of
    the targets is in use a third of the time; that many are brought that all can work (own model, no source).

    Args:
        palette: the drawer.
        targets: what has to be coloured, one or more.
        on: the paper; None for the one that most swatches lie on.
        makers: people who share the kit, 1 or more.
        layered: also try one marker over another.
        budget: what the kit may cost by the column price, or None; with it as many targets as can be are met.

    Returns: the kit; ``fits`` is False when a target has no stand-in.
    Raises: ColourError for no target, a tolerance that is not above 0, or no maker; PaletteError for a name.
    """
    if not targets:
        raise ColourError("There is nothing to colour; give at least one target.")
    if makers < 1:
        raise ColourError(f"A kit is for one maker or more, not {makers}.")
    for target in targets:
        if not target.tolerance > 0.0:
            raise ColourError(
                f"The tolerance of {target.colour} is {target.tolerance:g}; it is above 0, for example 5."
            )
    inked = ink_drawer(palette, on).at_hand
    wanted = [find_colour(inked, target.colour) for target in targets]
    labs = np.array([one.swatch.lab for one in wanted])
    tolerances = np.array([target.tolerance for target in targets])
    stacks = find_stacks(inked, labs, tolerances, _WAYS_AT_MOST) if layered else [None] * len(targets)
    ways = [_ways(inked, *one) for one in zip(labs, tolerances.tolist(), stacks, strict=True)]
    rows = [[way.rows for way in options] for options in ways]
    costs = [[way.delta / targets[place].tolerance for way in options] for place, options in enumerate(ways)]
    load = 0.0 if makers == 1 else makers / len(targets)
    count = len(inked.markers)
    prices = np.array([0.0 if marker.price is None else marker.price for marker in inked.markers])
    selection = choose_fewest(rows, count, load=load, costs=costs, prices=prices, budget=budget)
    copies = int(selection.copies.sum())
    fewer: Selection | None = None
    if copies > 1 and budget is None:
        fewer = choose_fewest(rows, count, load=load, most=copies - 1, costs=costs)
        if all((one < 0) == (other < 0) for one, other in zip(fewer.way, selection.way, strict=True)):
            # The first search was cut short, and this one came further.
            selection = replace(selection, copies=fewer.copies, way=fewer.way)
            copies, fewer = int(selection.copies.sum()), None
    met = [
        _kit_target(inked, one.swatch, targets[place], ways[place], selection.way[place], labs[place])
        for place, one in enumerate(wanted)
    ]
    kit = _kit_markers(inked, selection, met)
    lost = (
        tuple(
            _label(met[place]) for place, way in enumerate(fewer.way) if way < 0 and selection.way[place] >= 0
        )
        if fewer is not None
        else ()
    )
    unmet = [_label(target) for target in met if not target.met]
    unaffordable = [_label(met[place]) for place, way in enumerate(selection.way) if way < 0 and ways[place]]
    what = "1 marker colours" if copies == 1 else f"{copies} markers colour"
    words = [
        f"{what} {len(met) - len(unmet)} of {count_of(len(met), 'colour')}"
        + (f" for a class of {makers}." if makers > 1 else ".")
    ]
    if unaffordable:
        words.append(f"Beyond the budget: {', '.join(unaffordable)}.")
    lost_ones = [label for label in unmet if label not in unaffordable]
    if lost_ones:
        words.append(f"Nothing in the drawer is near enough for {', '.join(lost_ones)}.")
    if lost:
        words.append(f"With one marker fewer you lose {', '.join(lost)}.")
    if not selection.exact:
        words.append(f"The search was cut short: a kit of {selection.bound} might do.")
    price = float(prices @ selection.copies)
    chosen = [marker for row, marker in enumerate(inked.markers) if selection.copies[row]]
    unpriced = tuple(marker.name for marker in chosen if marker.price is None)
    if budget is not None:
        words.append(f"It costs {price:.2f} of the {budget:.2f} that you gave.")
        if unpriced:
            words.append(f"Without a price, and so counted as nothing: {', '.join(unpriced)}.")
    return KitAdvice(
        on=inked.paper.name,
        makers=makers,
        markers=kit,
        copies=copies,
        targets=tuple(met),
        exact=selection.exact and (fewer is None or fewer.exact),
        bound=selection.bound,
        one_fewer=lost,
        fits=not unmet,
        words=tuple(words),
        price=price,
        unpriced=unpriced,
    )


def _ways(inked: Inked, lab: Floats, tolerance: float, found: Stacks | None) -> list[_Way]:
    """Ways to make a colour: single markers, then pairs laid one over the other, the nearest first."""
    delta = delta_e_2000(lab, inked.lab)
    ways = [
        _Way((int(row),), inked.lab[row], float(delta[row])) for row in np.flatnonzero(delta <= tolerance)
    ]
    if found is not None:
        alone = {way.rows[0] for way in ways}
        for rows, made, off in zip(found.rows.tolist(), found.lab, found.delta.tolist(), strict=True):
            # Beside a marker that does alone, a second one is never fewer.
            if rows[0] == rows[1] or not alone & set(rows):
                ways.append(_Way(tuple(rows), made, off))
    return ways


def _kit_target(
    inked: Inked, wanted: Swatch, target: Target, ways: list[_Way], chosen: int, lab: Floats
) -> KitTarget:
    if chosen < 0:
        delta = delta_e_2000(lab, inked.lab)
        near = int(np.argmin(delta))
        words = f"nothing near enough; the nearest is {inked.markers[near].name}"
        return KitTarget(wanted, target.role, (), None, float(delta[near]), False, words)
    way = ways[chosen]
    names = tuple(inked.markers[row].name for row in way.rows)
    words = lay_words(names)
    return KitTarget(
        wanted,
        target.role,
        names,
        swatch_of(words, way.lab),
        way.delta,
        True,
        f"{words}: {verdict_of(way.delta).word}",
    )


def _kit_markers(inked: Inked, selection: Selection, targets: Sequence[KitTarget]) -> tuple[KitMarker, ...]:
    kit: list[KitMarker] = []
    for row in np.flatnonzero(selection.copies > 0):
        name = inked.markers[row].name
        used = tuple(_label(target) for target in targets if name in target.markers)
        kit.append(KitMarker(swatch_of(name, inked.lab[row]), int(selection.copies[row]), used))
    return tuple(sorted(kit, key=lambda marker: -len(marker.used_for)))


def _label(target: KitTarget) -> str:
    return target.role or target.wanted.name
