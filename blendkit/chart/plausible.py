"""Whether what was read can be true: the readings of a page against each other and against what was expected.

A picture can look sound and still mislead: two markers swapped, a row begun one box late, a vivid picture setting,
another person's inks, a second coat that is lighter than the first. What was expected (the palette, the ink
model) is only roughly known, so nothing here corrects a colour; it finds what is most unlikely, names it, widens
figures, and leaves the question to a person.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from blendkit.chart.scan_record import BoxReading, Misgiving, MisgivingKind, ScanRecord
from blendkit.colour import delta_e_2000
from blendkit.words import flag_words

Floats = NDArray[np.float64]

_LEAST_MARKERS = 5
"""Markers on a page below which it tells nothing as a whole. Own judgement."""
_LEAST_SIGMA, _MOST_SIGMA = 3.5, 12.0
"""CIEDE2000 by which colours expected are taken to miss, at least and at most."""
_CAPPED = 40.0
"""CIEDE2000 beyond which a miss surprises no more. Own judgement."""
_KEPT_BONUS = 2.0
"""Natural log of how much likelier it is that a marker lies where it should than anywhere else."""
_SURE_GAIN = 7.0
"""Natural log of how much likelier another assignment must be."""
_SHIFTED_SHARE = 0.6
"""Share of misplaced markers that moved alike from which a row counts as shifted."""
_OTHER_SHARE, _OTHER_LEAST = 0.62, 11.0
"""A page is of other inks when the readings miss what was expected by that much, and by that share of what they
miss anybody else's box by."""
_VIVID, _WASHED = 1.32, 0.72
"""Factors on chroma from which a page counts as vivid or washed out. Own judgement."""
_COLOURFUL = 12.0
"""Chroma expected from which a colour tells how strong the page is. Own judgement."""
_UNLIKELY_LEAST, _UNLIKELY_SIGMAS, _UNLIKELY_FIGURES = 14.0, 3.2, 1.6
"""Miss from which a box is most unlikely: CIEDE2000, misses of the page, its own figures. Own judgement."""
_LIGHTER_LEAST = 2.0
"""L*, beyond the figures, by which more ink must be lighter to be spoken of. Own judgement."""
_UNLIKE_COATS = 13.0
"""CIEDE2000, beyond the figures, by which a coat may change otherwise than expected. Own judgement."""
_REPEAT_FACTOR = 1.5
"""Figures by which boxes coloured alike may differ. Own judgement."""


@dataclass(frozen=True)
class _Marker:
    """One marker's swatches on a page, as read and as expected, by coats."""

    name: str
    read: dict[int, Floats]
    expected: dict[int, Floats]
    labels: dict[int, str]


def judge(record: ScanRecord) -> ScanRecord:
    """Give the record with what is most unlikely about it, and figures widened where readings disagree."""
    findings: list[Misgiving] = []
    for page in sorted({reading.page for reading in record.readings}):
        findings += _judge_page(page, [one for one in record.readings if one.page == page])
    findings += _repeats(record.readings)
    doubted: dict[tuple[int, str], list[Misgiving]] = {}
    for finding in findings:
        for box in finding.boxes:
            doubted.setdefault((finding.page, box), []).append(finding)
    chroma = {finding.page: finding.amount for finding in findings if finding.kind in ("vivid", "washed out")}
    readings = []
    for one in record.readings:
        mine = doubted.get((one.page, one.label), [])
        flags = (
            *one.flags,
            *dict.fromkeys(finding.kind for finding in mine if finding.kind not in one.flags),
        )
        readings.append(
            _widened(replace(one, flags=flags, words=flag_words(flags)), mine, chroma.get(one.page))
        )
    return replace(record, readings=tuple(readings), findings=tuple(findings))


def _widened(reading: BoxReading, findings: Sequence[Misgiving], chroma: float | None) -> BoxReading:
    """The reading with the figure that its findings leave it."""
    if reading.lab is None or reading.uncertainty is None or reading.within_setup is None:
        return reading
    lab = np.array(reading.lab)
    whole, within = reading.uncertainty, reading.within_setup
    if chroma is not None:
        calmer = np.append(lab[:1], lab[1:] / chroma)
        whole = float(np.hypot(whole, delta_e_2000(lab, calmer)))
    for finding in findings:
        if finding.kind in ("repeats differ", "lighter coat", "unlike coats") and finding.amount is not None:
            whole, within = max(whole, finding.amount), max(within, finding.amount)
    return replace(reading, uncertainty=whole, within_setup=within)


def _judge_page(page: int, readings: Sequence[BoxReading]) -> list[Misgiving]:
    """What is most unlikely on one page."""
    found = _coats(page, readings)
    markers = _markers(readings)
    places = [place for place, one in enumerate(markers) if one.read]
    filled = [markers[place] for place in places]
    sigma = 5.0
    if len(filled) >= _LEAST_MARKERS:
        chroma, put_right = _rendering(filled)
        cost = _costs(filled, markers, put_right)
        own = np.array(places)
        moved, fits = _moved(page, markers, own, cost)
        elsewhere = float(np.median(cost))
        if float(np.median(fits)) > max(_OTHER_LEAST, _OTHER_SHARE * elsewhere) or (
            len(moved) and len(moved[-1].markers) > 0.5 * len(filled) and np.median(fits) > _OTHER_LEAST
        ):
            return [
                *found,
                Misgiving("other inks", page, (), float(np.median(cost[np.arange(len(own)), own]))),
            ]
        found += moved
        if not _VIVID > chroma > _WASHED:
            found.append(Misgiving("vivid" if chroma > 1 else "washed out", page, (), chroma))
        sigma = float(np.clip(np.median(fits) / 1.3, _LEAST_SIGMA, _MOST_SIGMA))
    if any(not finding.boxes for finding in found):
        return found
    named = {box for finding in found for box in finding.boxes}
    far = {}
    for one in readings:
        step, figure = one.delta_e_2000, one.uncertainty
        if one.label in named or not one.usable or step is None or figure is None:
            continue
        if step > max(_UNLIKELY_LEAST, _UNLIKELY_SIGMAS * sigma, _UNLIKELY_FIGURES * figure):
            far[one.label] = step
    if far:
        found.append(Misgiving("unlikely", page, tuple(far), max(far.values())))
    return found


def _markers(readings: Sequence[BoxReading]) -> list[_Marker]:
    """The page's markers of which a swatch of one coat has an expected colour, in the page's order."""
    found: dict[str, _Marker] = {}
    for one in readings:
        if one.kind != "swatch" or one.expected_lab is None:
            continue
        held = found.setdefault(one.markers[0], _Marker(one.markers[0], {}, {}, {}))
        held.expected.setdefault(one.coats, np.array(one.expected_lab))
        held.labels.setdefault(one.coats, one.label)
        if one.usable and one.lab is not None:
            held.read.setdefault(one.coats, np.array(one.lab))
    return [one for one in found.values() if 1 in one.expected]


def _rendering(filled: Sequence[_Marker]) -> tuple[float, Callable[[Floats], Floats]]:
    """How much stronger the page's colours are than expected, and a function that puts Lab right for it.

    Ranks are compared, not boxes, so that swapped and shifted markers don't matter.
    """
    read = np.array([lab for one in filled for coats, lab in one.read.items() if coats in one.expected])
    expected = np.array(
        [one.expected[coats] for one in filled for coats in one.read if coats in one.expected]
    )
    ranks = np.linspace(40, 90, 11)
    seen = np.percentile(np.hypot(read[:, 1], read[:, 2]), ranks)
    wanted = np.percentile(np.hypot(expected[:, 1], expected[:, 2]), ranks)
    colourful = wanted > _COLOURFUL
    chroma = float(np.median(seen[colourful] / wanted[colourful])) if colourful.sum() >= 4 else 1.0
    lightness = np.percentile(expected[:, 0], ranks) - np.percentile(read[:, 0], ranks)

    def put_right(lab: Floats) -> Floats:
        return np.append(lab[:1] + np.median(lightness), lab[1:] / np.clip(chroma, 0.4, 2.5))

    return chroma, put_right


def _costs(
    filled: Sequence[_Marker], markers: Sequence[_Marker], put_right: Callable[[Floats], Floats]
) -> Floats:
    """Mean CIEDE2000 from each filled marker's boxes to those expected of each marker, (filled, markers)."""
    cost = np.full((len(filled), len(markers)), _CAPPED)
    for row, one in enumerate(filled):
        for column, other in enumerate(markers):
            both = [coats for coats in one.read if coats in other.expected]
            if both:
                seen = np.array([put_right(one.read[coats]) for coats in both])
                wanted = np.array([other.expected[coats] for coats in both])
                cost[row, column] = min(_CAPPED, float(delta_e_2000(wanted, seen).mean()))
    return cost


def _moved(
    page: int, markers: Sequence[_Marker], own: NDArray[np.intp], cost: Floats
) -> tuple[list[Misgiving], Floats]:
    """Swapped and shifted markers, the best assignment's word; and what the readings miss their boxes by then.

    *own* is the place among the markers of each that was filled, a row of *cost*.
    """
    from scipy.optimize import linear_sum_assignment

    rows = range(len(own))
    sigma = float(np.clip(np.median(cost.min(axis=1)) / 1.3, _LEAST_SIGMA, _MOST_SIGMA))
    surprise = cost**2 / (2 * sigma**2)
    surprise[list(rows), own] -= _KEPT_BONUS
    best = linear_sum_assignment(surprise)[1]
    fits = cost[list(rows), own].copy()
    found = []
    to = {int(own[row]): int(best[row]) for row in rows if best[row] != own[row]}
    while to:
        chain = _chain(to)
        for place in chain:
            to.pop(place, None)
        members = [row for row in rows if int(own[row]) in chain]
        gain = float(sum(surprise[row, own[row]] - surprise[row, best[row]] for row in members))
        if gain < _SURE_GAIN:
            continue
        fits[members] = cost[members, best[members]]
        steps = [int(best[row] - own[row]) for row in members]
        kind: MisgivingKind = "swapped" if len(members) == 2 else "mixed up"
        if len(members) > 2 and max(map(steps.count, steps)) >= _SHIFTED_SHARE * len(steps):
            kind = "shifted"
        found.append(
            Misgiving(
                kind,
                page,
                tuple(label for row in members for label in markers[own[row]].labels.values()),
                gain,
                tuple(markers[own[row]].name for row in members),
                tuple(markers[int(best[row])].name for row in members),
            )
        )
    return sorted(found, key=lambda one: len(one.markers)), fits


def _chain(to: dict[int, int]) -> set[int]:
    """Places of one cycle or open chain of moved markers."""
    chain = {next(iter(to))}
    while True:
        grown = chain | {to[place] for place in chain if to.get(place) in to}
        grown |= {place for place, goal in to.items() if goal in grown}
        if grown == chain:
            return chain & to.keys()
        chain = grown


def _coats(page: int, readings: Sequence[BoxReading]) -> list[Misgiving]:
    """Boxes with more ink that are lighter than boxes with less of it, and coats that are of another colour."""
    single: dict[str, dict[int, BoxReading]] = {}
    for one in readings:
        if one.kind == "swatch" and one.usable:
            single.setdefault(one.markers[0], {}).setdefault(one.coats, one)
    found = []
    for coats in single.values():
        ordered = [coats[count] for count in sorted(coats)]
        for less, more in pairwise(ordered):
            found += _lighter(page, less, more)
            if less.expected_lab is None or more.expected_lab is None:
                continue
            drift = np.array(less.lab) - np.array(less.expected_lab)
            apart = float(delta_e_2000(np.array(more.expected_lab) + drift, np.array(more.lab)))
            if apart > _UNLIKE_COATS + _figures(less, more):
                found.append(Misgiving("unlike coats", page, (less.label, more.label), apart))
    for one in readings:
        if one.kind == "over" and one.usable:
            for name in one.markers:
                if 1 in single.get(name, {}):
                    found += _lighter(page, single[name][1], one)
    return found


def _figures(*readings: BoxReading) -> float:
    return float(np.sqrt(sum((one.within_setup or 0.0) ** 2 for one in readings)))


def _lighter(page: int, less: BoxReading, more: BoxReading) -> list[Misgiving]:
    """A finding where a box with more ink is lighter than one with less of it."""
    assert less.lab is not None
    assert more.lab is not None
    step = more.lab[0] - less.lab[0]
    if step <= _LIGHTER_LEAST + _figures(less, more):
        return []
    return [Misgiving("lighter coat", page, (less.label, more.label), step)]


def _repeats(readings: Sequence[BoxReading]) -> list[Misgiving]:
    """Boxes coloured alike that read otherwise than their figures allow."""
    groups: dict[tuple[object, ...], list[BoxReading]] = {}
    for one in readings:
        if one.usable and one.kind in ("swatch", "blend", "over"):
            groups.setdefault((one.kind, one.markers, one.coats, one.ratio), []).append(one)
    found = []
    for alike in groups.values():
        if len(alike) < 2:
            continue
        labs = np.array([one.lab for one in alike])
        apart = float(delta_e_2000(labs[:, None], labs[None]).max())
        if apart > _REPEAT_FACTOR * _figures(*alike[:2]):
            for page in sorted({one.page for one in alike}):
                boxes = tuple(one.label for one in alike if one.page == page)
                found.append(Misgiving("repeats differ", page, boxes, apart))
    return found


def mended(record: ScanRecord) -> ScanRecord:
    """Give the record with swapped and shifted markers named as their colours say.

    Boxes keep their labels and places; only the markers, and with them the colours expected, move.
    """
    to: dict[tuple[int, str], str] = {
        (finding.page, marker): instead
        for finding in record.findings
        for marker, instead in zip(finding.markers, finding.instead, strict=True)
    }
    expected = {
        (one.markers[0], one.coats): one.expected_lab for one in record.readings if one.kind == "swatch"
    }
    gone = {"swapped", "shifted", "mixed up"}
    readings = []
    for one in record.readings:
        name = to.get((one.page, one.markers[0])) if one.kind == "swatch" else None
        if name is None:
            readings.append(one)
            continue
        lab = expected.get((name, one.coats))
        step = (
            None if lab is None or one.lab is None else float(delta_e_2000(np.array(lab), np.array(one.lab)))
        )
        flags = tuple(flag for flag in one.flags if flag not in gone)
        readings.append(
            replace(
                one,
                markers=(name,),
                expected_lab=lab,
                delta_e_2000=step,
                flags=flags,
                words=flag_words(flags),
            )
        )
    findings = tuple(finding for finding in record.findings if finding.kind not in gone)
    return replace(record, readings=tuple(readings), findings=findings)
