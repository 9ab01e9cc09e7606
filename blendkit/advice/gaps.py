"""What the drawer lacks: bases without a shadow or a light, the colour to look for, and what a shop has of it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blendkit.advice.check import find_lacking
from blendkit.advice.optimum import choose_cover
from blendkit.advice.shading_series import FIT, Taste, bound_shading, predict_series, score_pairs
from blendkit.colour import hue_step, lab_to_xyz1
from blendkit.inked import Inked, Looks, Swatch, ink_drawer, swatch_of
from blendkit.palette import Palette
from blendkit.spectrum import reflectance_to_lab
from blendkit.words import count_of, describe_colour, lightness_words

Floats = NDArray[np.float64]

IDEAL_STEP = 15.0
"""L* between a base and the companion to look for: the middle of the usual window."""
_LIGHTEST_BELOW_PAPER = 3.0
"""L* that a colour to look for stays below the paper: a paler one would hardly show. Own judgement."""
_CANDIDATES_AT_ONCE = 200
"""It bounds memory and changes no answer."""


@dataclass(frozen=True, slots=True)
class Need:
    """A base that lacks a companion.

    Args:
        base: the marker.
        family: its family, or its own name when it has none.
        lacks: ``shadow`` or ``light``.
        best: the nearest miss in the drawer, or "".
        best_score: its score, 0 to 100.
    """

    base: str
    family: str
    lacks: str
    best: str
    best_score: float


@dataclass(frozen=True, slots=True)
class Wanted:
    """A colour to look for, and what it would complete.

    Args:
        colour: the point on the shading series.
        words: the colour in words, seen from the base.
        lacks: ``shadow`` or ``light``.
        for_base: the base that it was worked out for.
        completes: every base whose gap it would close, that one first.
        families: how many families these belong to.
    """

    colour: Swatch
    words: str
    lacks: str
    for_base: str
    completes: tuple[str, ...]
    families: int


@dataclass(frozen=True, slots=True)
class Purchase:
    """A marker of the shop's palette, the gaps that it closes, and its price where it has one."""

    marker: Swatch
    closes: tuple[str, ...]
    price: float | None = None


@dataclass(frozen=True, slots=True)
class ShopAdvice:
    """Answer to “what do I buy there?”

    Args:
        purchases: markers to buy, most gaps first.
        closed: gaps that they close together.
        open_gaps: gaps that stay open.
        exact: True when no other choice of that many closes more; False when the limit of work came first.
        bound: gaps that no choice of that many can exceed.
    """

    purchases: tuple[Purchase, ...]
    closed: int
    open_gaps: int
    exact: bool
    bound: int


@dataclass(frozen=True, slots=True)
class GapAdvice:
    """Answer to “what is my drawer missing?”

    Args:
        on: the paper.
        threshold: score from which a companion counts.
        complete: bases that lack no companion: very dark ones need no shadow, very pale ones no light.
        needs: bases that lack one, in the drawer's order.
        wanted: colours to look for, the one that completes most families first.
        shop: what a shop's palette offers, or None when none was given.
        fits: True when nothing is missing, or something to look for was found.
        words: what to know.
    """

    on: str
    threshold: float
    complete: int
    needs: tuple[Need, ...]
    wanted: tuple[Wanted, ...]
    shop: ShopAdvice | None
    fits: bool
    words: tuple[str, ...]


def find_gaps(
    palette: Palette,
    *,
    on: str | None = None,
    threshold: float = FIT,
    taste: Taste | None = None,
    shop: Palette | None = None,
    purchases: int = 3,
    budget: float | None = None,
) -> GapAdvice:
    """Find bases without a shadow or a light, what to look for, and what a shop has of it.

    Args:
        palette: the drawer.
        on: the paper; None for the one that most swatches lie on.
        threshold: score, 0 to 100, from which a companion counts.
        taste: window and lean.
        shop: another palette to buy from.
        purchases: markers to buy there at most, 1 or more.
        budget: what the purchases may cost by the shop's column price, or None for any.

    Returns: the gaps; every colour to look for is one that would itself pass the threshold.
    Raises: PaletteError when *on* is not in the palette; InkError when a palette has no marker.
    """
    taste = taste or Taste()
    inked = ink_drawer(palette, on).at_hand
    needs, rows = _needs(inked, taste, threshold)
    wanted = _wanted(inked, needs, rows, taste, threshold)
    complete = len(inked.markers) - len(set(rows))
    fit = "fit" if threshold == FIT else f"reach a score of {threshold:g}"
    words = [
        f"{complete} of {count_of(len(inked.markers), 'marker')} "
        f"{'has' if complete == 1 else 'have'} both a shadow and a light that {fit}, "
        "or need none (very dark ones no shadow, very pale ones no light)."
    ]
    if wanted:
        words.append(
            f"First to look for: {wanted[0].words}; it would complete "
            f"{count_of(len(wanted[0].completes), 'marker')}."
        )
    looked_for = {(one.lacks, base) for one in wanted for base in one.completes}
    left = [f"a {need.lacks} for {need.base}" for need in needs if (need.lacks, need.base) not in looked_for]
    if left:
        words.append(f"No one colour to buy would close these; coats or layers may: {', '.join(left)}.")
    offer = None
    if shop is not None:
        offer = find_purchases(inked, needs, rows, shop, taste, threshold, purchases, budget)
        names = ", ".join(purchase.marker.name for purchase in offer.purchases)
        if names:
            close = "closes" if len(offer.purchases) == 1 else "close"
            words.append(f"Of the shop's markers, {names} {close} {offer.closed} of {len(needs)} gaps.")
            cost = sum(purchase.price or 0.0 for purchase in offer.purchases)
            if cost:
                words.append(
                    f"{'It costs' if len(offer.purchases) == 1 else 'They cost'} {cost:.2f} together."
                )
            if offer.exact and len(offer.purchases) < purchases and budget is None:
                words.append("Nothing else there would close a further one.")
        else:
            within = "" if budget is None else f" for {budget:.2f}"
            words.append(f"The shop's palette has nothing that closes a gap{within}.")
        unpriced = sum(marker.price is None for marker in shop.markers)
        if budget is not None and unpriced:
            words.append(
                f"Left out, for want of a price in the column price: {count_of(unpriced, 'marker')} of the shop's."
            )
        if not offer.exact:
            words.append(f"The search was cut short: another choice might close up to {offer.bound}.")
    return GapAdvice(
        on=inked.paper.name,
        threshold=threshold,
        complete=complete,
        needs=needs,
        wanted=wanted,
        shop=offer,
        fits=not needs or bool(wanted),
        words=tuple(words),
    )


def _needs(inked: Inked, taste: Taste, threshold: float) -> tuple[tuple[Need, ...], list[int]]:
    lacking = dict(zip(("shadow", "light"), find_lacking(inked, taste, threshold), strict=True))
    needs: list[Need] = []
    rows: list[int] = []
    for row, marker in enumerate(inked.markers):
        for lacks, misses in lacking.items():
            if row not in misses:
                continue
            best, score = misses[row]
            name = inked.markers[best].name if score > 0.0 else ""
            needs.append(Need(marker.name, marker.family or marker.name, lacks, name, score))
            rows.append(row)
    return tuple(needs), rows


def _wanted(
    inked: Inked, needs: Sequence[Need], rows: list[int], taste: Taste, threshold: float
) -> tuple[Wanted, ...]:
    """Work out a colour for each need, count what each would close, and list the useful ones once."""
    targets: list[Floats] = []
    sources: list[int] = []
    for place, need in enumerate(needs):
        target = _target(inked, rows[place], need.lacks, taste)
        if target is not None:
            targets.append(target)
            sources.append(place)
    if not targets:
        return ()
    labs = np.array(targets)
    candidates = Looks.of_swatches(labs, inked.model)
    stronger = inked.more_ink_from(candidates.reflectance)
    closes = _closes(inked, needs, rows, candidates, stronger, taste, threshold)
    families = [len({needs[place].family for place in np.flatnonzero(row).tolist()}) for row in closes]
    order = sorted(range(len(targets)), key=lambda place: (-families[place], -int(closes[place].sum())))
    found: list[Wanted] = []
    closed: set[int] = set()
    for place in order:
        source = sources[place]
        mine = set(np.flatnonzero(closes[place]).tolist())
        if source in closed or source not in mine:
            continue
        fresh = sorted(mine - closed)
        closed |= mine
        need = needs[source]
        base = inked.lab[rows[source]]
        names = [needs[source].base, *(needs[other].base for other in fresh if other != source)]
        found.append(
            Wanted(
                colour=swatch_of(f"{need.lacks} for {need.base}", labs[place]),
                words=_look_for(need.base, base, labs[place]),
                lacks=need.lacks,
                for_base=need.base,
                completes=tuple(dict.fromkeys(names)),
                families=len({needs[other].family for other in fresh}),
            )
        )
    found.sort(key=lambda one: (-one.families, -len(one.completes)))
    return tuple(found)


def _target(inked: Inked, row: int, lacks: str, taste: Taste) -> Floats | None:
    """Point on the shading series a comfortable step away; None where no ink could lie there."""
    base = inked.lab[row]
    if lacks == "shadow":
        lightness = base[0] - IDEAL_STEP
        return predict_series(base, lightness, taste.lean) if lightness > 5.0 else None
    paper = reflectance_to_lab(inked.paper_reflectance)
    lightness = min(base[0] + IDEAL_STEP, paper[0] - _LIGHTEST_BELOW_PAPER)
    if lightness < base[0] + taste.window[0] / 2.0:
        return None
    series = predict_series(base, lightness, taste.lean)
    if np.all(lab_to_xyz1(series) <= 0.97 * lab_to_xyz1(paper)):
        return series
    # No ink on this paper is that vivid and that light; a thinner coat of the same dye is what can be had.
    shares = np.linspace(0.02, 0.98, 49)
    thinner = inked.lab_after((shares[:, None] * inked.coats[row, 0])[:, None])[:, 0]
    nearest: Floats = thinner[int(np.argmin(np.abs(thinner[:, 0] - lightness)))]
    return nearest


def _closes(
    inked: Inked,
    needs: Sequence[Need],
    rows: list[int],
    candidates: Looks,
    stronger: Floats,
    taste: Taste,
    threshold: float,
) -> NDArray[np.bool_]:
    """Whether each candidate (first axis) would close each need (second axis)."""
    closes = np.zeros((len(candidates.lab), len(needs)), dtype=bool)
    for lacks in ("shadow", "light"):
        columns = np.array([place for place, need in enumerate(needs) if need.lacks == lacks], dtype=np.intp)
        bases = np.array(rows, dtype=np.intp)[columns]
        line = inked.more_ink[bases]
        for start in range(0, len(columns) and len(candidates.lab), _CANDIDATES_AT_ONCE):
            part = slice(start, start + _CANDIDATES_AT_ONCE)
            pale, dark, lines = inked.looks[bases], candidates[part], line
            if lacks == "light":
                pale, dark, lines = dark, pale, stronger[part]
            surface, shadow = np.nonzero(bound_shading(pale.lab, lines, dark.lab, taste) >= threshold)
            scores = score_pairs(inked.model, pale, lines, dark, (surface, shadow), taste)
            surface, shadow = surface[scores >= threshold], shadow[scores >= threshold]
            candidate, need = (surface, shadow) if lacks == "light" else (shadow, surface)
            closes[start + candidate, columns[need]] = True
    return closes


def _look_for(name: str, base: Floats, target: Floats) -> str:
    """Words such as “brick: clearly darker and warmer than rosehip dawn”."""
    turn = float(hue_step(base, target))
    chroma = float(np.hypot(*base[1:]) + np.hypot(*target[1:])) / 2.0
    lean = ""
    if abs(turn) > 3.0 and chroma > 8.0:
        hue = np.degrees(np.arctan2(base[2], base[1]))
        # Toward 60 degrees (orange) is warmer, away from it cooler.
        toward = np.sin(np.radians(60.0 - hue)) * turn
        lean = " and warmer" if toward > 0 else " and cooler"
    return f"{describe_colour(target)}: {lightness_words(float(target[0] - base[0]))}{lean} than {name}"


def find_purchases(
    inked: Inked,
    needs: Sequence[Need],
    rows: list[int],
    shop: Palette,
    taste: Taste,
    threshold: float,
    purchases: int,
    budget: float | None,
) -> ShopAdvice:
    """Choose the markers of a shop that close most gaps; exact unless the limit of work comes first.

    Args:
        inked: the drawer on its paper.
        needs: what it lacks.
        rows: the drawer's row of each need's base.
        shop: the palette to buy from; its swatches are carried over to the drawer's paper.
        taste: window and lean.
        threshold: score from which a companion counts.
        purchases: how many at most.
        budget: what they may cost together, or None; with it only what has a price is bought.

    Returns: the choice, and whether it is proven best.
    """
    offered = ink_drawer(shop, None, inked.model)
    looks = inked.look(inked.after(offered.coats[:, :1])[:, 0])
    coats = offered.coats[:, np.minimum(np.arange(3), offered.coats.shape[1] - 1)]
    closes = _closes(inked, needs, rows, looks, inked.stronger(coats), taste, threshold)
    prices = np.array([np.nan if marker.price is None else marker.price for marker in offered.markers])
    if budget is not None:
        closes[np.isnan(prices)] = False
    choice = choose_cover(closes, purchases, prices=np.nan_to_num(prices), budget=budget)
    bought: list[Purchase] = []
    for row in choice.chosen:
        gaps = tuple(
            f"{needs[place].lacks} for {needs[place].base}" for place in np.flatnonzero(closes[row]).tolist()
        )
        marker = offered.markers[row]
        bought.append(Purchase(swatch_of(marker.name, looks.lab[row]), gaps, marker.price))
    bought.sort(key=lambda purchase: -len(purchase.closes))
    return ShopAdvice(tuple(bought), choice.covered, len(needs) - choice.covered, choice.exact, choice.bound)
