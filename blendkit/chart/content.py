"""What a chart asks to be coloured, in what order, and the colours expected there. No millimetres.

All Lab is CIELAB, D50, 2 degrees.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from blendkit.chart.code import Section
from blendkit.colour import delta_e_2000, lab_to_lch
from blendkit.errors import SheetError
from blendkit.inked import Inked
from blendkit.palette import Marker, Palette, Reading
from blendkit.words import NEUTRAL_CHROMA

Lab = tuple[float, float, float]
Order = Literal["hue", "family", "palette"]
Floats = NDArray[np.float64]

FINE_STEPS = 100
"""Mixtures computed between the two ends of a blend."""
HUE_STEP_DEG = 30.0
"""Markers within one step of hue are sorted by lightness."""


@dataclass(frozen=True, slots=True)
class SectionAsked:
    """A section that is asked for, by names alone.

    ``names`` are markers, or those laid under in a crossing; ``overs`` those laid over; ``pairs`` (light, dark)
    of a section of blends.
    """

    section: Section
    names: tuple[str, ...] = ()
    overs: tuple[str, ...] = ()
    pairs: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Swatches:
    """Markers to lay alone: for each its name and the Lab expected for 1, 2, … coats."""

    names: tuple[str, ...]
    labs: tuple[tuple[Lab, ...], ...]
    anchors: bool = False


@dataclass(frozen=True, slots=True)
class Lifts:
    """Markers to lay once and go over with a blender: names, and the Lab expected, None where that isn't known."""

    names: tuple[str, ...]
    labs: tuple[Lab | None, ...]


@dataclass(frozen=True, slots=True)
class Blends:
    """Pairs to blend: (light, dark) names, the Lab of both ends, and the steps between.

    ``ratios`` are the dark ink's shares, 0 to 1, that the ink model needs for even steps of colour;
    ``labs`` are the colours of those steps, both of shape (pairs, steps).
    """

    pairs: tuple[tuple[str, str], ...]
    ends: tuple[tuple[Lab, Lab], ...]
    ratios: tuple[tuple[float, ...], ...]
    labs: tuple[tuple[Lab, ...], ...]


@dataclass(frozen=True, slots=True)
class Crossing:
    """Markers to lay over each other when dry: rows under, columns over, and the Lab of every crossing."""

    unders: tuple[str, ...]
    overs: tuple[str, ...]
    labs: tuple[tuple[Lab, ...], ...]


Content = Swatches | Blends | Crossing | Lifts


def is_measured(reading: Reading | None) -> bool:
    """Tell whether a reading was measured, rather than typed as a hex value with nothing said of its source."""
    if reading is None:
        return False
    typed_hex = reading.typed.lstrip().startswith("#")
    return reading.reflectance is not None or bool(reading.setup or reading.measured) or not typed_hex


def select_markers(
    palette: Palette,
    names: Sequence[str] = (),
    families: Sequence[str] = (),
    unmeasured: bool = False,
    coats: int = 1,
) -> tuple[Marker, ...]:
    """Choose markers: those named and those of the families named, each once; all when neither is given.

    Args:
        palette: the drawer.
        names: names of markers.
        families: names of families; case does not matter.
        unmeasured: keep only markers of which a coat, from 1 to *coats*, has no measurement yet.
        coats: see *unmeasured*.

    Raises: PaletteError for a marker that is not there; SheetError for a family that is not there, or when
        nothing is left.
    """
    chosen: dict[str, Marker] = {}
    for name in names:
        marker = palette.marker(name)
        chosen[marker.name] = marker
    by_key = {family.casefold(): markers for family, markers in palette.families.items()}
    for family in families:
        if family.casefold() not in by_key:
            known = ", ".join(palette.families) or "none"
            raise SheetError(f"the palette has no family “{family}”; its families: {known}")
        for marker in by_key[family.casefold()]:
            chosen[marker.name] = marker
    if not names and not families:
        chosen = {marker.name: marker for marker in palette.markers}
    if unmeasured:
        chosen = {
            name: marker
            for name, marker in chosen.items()
            if not all(is_measured(marker.reading(coat)) for coat in range(1, coats + 1))
        }
    if not chosen:
        why = "every marker chosen is measured already" if unmeasured else "the palette has no markers"
        raise SheetError(f"there is nothing to put on the chart: {why}")
    return tuple(chosen.values())


def order_markers(markers: Iterable[Marker], order: Order) -> tuple[Marker, ...]:
    """Sort markers by hue then lightness, by family then lightness, or not at all (the palette's order).

    By hue: steps of 30 degrees from red, light to dark in each, neutrals last. By family: families in the
    order in which they first appear, light to dark in each, markers without a family last.
    """
    listed = list(markers)
    if order == "palette":
        return tuple(listed)
    if order == "family":
        first = {marker.family: place for place, marker in reversed(list(enumerate(listed))) if marker.family}
        last = len(listed)
        return tuple(
            sorted(listed, key=lambda marker: (first.get(marker.family, last), -float(marker.lab[0])))
        )
    if order != "hue":
        raise SheetError(f"a chart is ordered by hue, family or palette, not “{order}”")

    def hue_key(marker: Marker) -> tuple[float, float, str]:
        lightness, chroma, hue = (float(value) for value in lab_to_lch(marker.lab))
        neutral = chroma < NEUTRAL_CHROMA or not np.isfinite(hue)
        return (360.0 if neutral else (hue % 360) // HUE_STEP_DEG, -lightness, marker.name)

    return tuple(sorted(listed, key=hue_key))


def predict(inked: Inked, asked: SectionAsked) -> Content:
    """Work out the colours expected of what is asked for, all of it at once.

    Raises: PaletteError for a name that is no marker.
    """
    if asked.section.kind == "B":
        return _predict_blends(inked, asked.pairs, asked.section.depth)
    if asked.section.kind == "L":
        lifted = [inked.lifted(inked.asked(row)) for row in inked.rows(asked.names)]
        return Lifts(tuple(asked.names), tuple(None if lab is None else _triple(lab) for lab in lifted))
    if asked.section.kind == "X":
        crossed = inked.crossing_labs(inked.rows(asked.names), inked.rows(asked.overs))
        return Crossing(tuple(asked.names), tuple(asked.overs), tuple(_triples(labs) for labs in crossed))
    coats = inked.coat_labs(inked.rows(asked.names), asked.section.depth)
    return Swatches(tuple(asked.names), tuple(_triples(labs) for labs in coats), asked.section.kind == "A")


def take(content: Content, start: int, end: int, overs: slice) -> Content:
    """Give rows *start* to *end* of a content, and of a crossing the columns *overs*."""
    match content:
        case Swatches():
            return replace(content, names=content.names[start:end], labs=content.labs[start:end])
        case Lifts():
            return Lifts(content.names[start:end], content.labs[start:end])
        case Blends():
            return Blends(
                content.pairs[start:end],
                content.ends[start:end],
                content.ratios[start:end],
                content.labs[start:end],
            )
        case Crossing():
            labs = tuple(row[overs] for row in content.labs[start:end])
            return Crossing(content.unders[start:end], content.overs[overs], labs)


def _predict_blends(inked: Inked, pairs: Sequence[tuple[str, str]], steps: int) -> Blends:
    """Give the *steps* between both ends of each pair at which the colour has moved on evenly.

    The way from light to dark is measured along the blend, as a sum of small CIEDE2000 differences.
    """
    fine = np.linspace(0.0, 1.0, FINE_STEPS + 1)
    lights, darks = (inked.looks[inked.rows([pair[end] for pair in pairs])] for end in (0, 1))
    blends = inked.blend_labs(lights, darks, fine)
    small = delta_e_2000(blends[:, :-1], blends[:, 1:])
    ways = np.concatenate([np.zeros((len(pairs), 1)), np.cumsum(small, axis=1)], axis=1)
    ratios: list[tuple[float, ...]] = []
    labs: list[tuple[Lab, ...]] = []
    for way, colours in zip(ways, blends, strict=True):
        at = np.interp(way[-1] * np.arange(1, steps + 1) / (steps + 1), way, fine)
        ratios.append(tuple(round(float(ratio), 3) for ratio in at))
        between = [np.interp(at, fine, colours[:, axis]) for axis in range(3)]
        labs.append(_triples(np.stack(between, axis=-1)))
    ends = tuple((_triple(colours[0]), _triple(colours[-1])) for colours in blends)
    return Blends(tuple(pairs), ends, tuple(ratios), tuple(labs))


def _triples(labs: Floats) -> tuple[Lab, ...]:
    return tuple(_triple(lab) for lab in labs)


def _triple(lab: Floats) -> Lab:
    lightness, a, b = (round(float(value), 2) + 0.0 for value in lab)
    return lightness, a, b
