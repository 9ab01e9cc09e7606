"""What a chart asks to be coloured, in what order, and the colours expected there. No millimetres.

All Lab is CIELAB, D50, 2 degrees.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from blendkit.advice.inked import Inked
from blendkit.colour import delta_e_2000, lab_to_lch
from blendkit.errors import SheetError
from blendkit.ink import predict_blend, predict_stack
from blendkit.palette import Marker, Palette, Reading
from blendkit.spectrum import reflectance_to_lab

__all__ = [
    "Blends",
    "Crossing",
    "Lab",
    "Order",
    "Swatches",
    "is_measured",
    "order_markers",
    "predict_blends",
    "predict_crossing",
    "predict_swatches",
    "select_markers",
]

Lab = tuple[float, float, float]
Order = Literal["hue", "family", "palette"]
Floats = NDArray[np.float64]

NEUTRAL_CHROMA = 10.0
"""Markers less chromatic than this are put together as neutrals, last. A choice, no source."""
FINE_STEPS = 100
"""Mixtures computed between the two ends of a blend."""
HUE_STEP_DEG = 30.0
"""Markers within one step of hue are sorted by lightness."""


@dataclass(frozen=True, slots=True)
class Swatches:
    """Markers to lay alone: for each its name and the Lab expected for 1, 2, … coats."""

    names: tuple[str, ...]
    labs: tuple[tuple[Lab, ...], ...]
    anchors: bool = False


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


def predict_swatches(inked: Inked, names: Sequence[str], coats: int, anchors: bool = False) -> Swatches:
    """Give the colours expected of 1 to *coats* coats: measured where that is known, else predicted.

    Raises: PaletteError for a name that is no marker.
    """
    labs: list[tuple[Lab, ...]] = []
    for name in names:
        totals = np.cumsum(inked.coat_increments(inked.row(name), coats), axis=0)
        labs.append(_triples(inked.paint_lab(totals)))
    return Swatches(tuple(names), tuple(labs), anchors)


def predict_blends(inked: Inked, pairs: Sequence[tuple[str, str]], steps: int) -> Blends:
    """Give the *steps* between both ends of each pair at which the colour has moved on evenly.

    The lighter of the two is put first. The way from light to dark is measured along the blend, as a sum of
    small CIEDE2000 differences.

    Raises: PaletteError for a name that is no marker.
    """
    names: list[tuple[str, str]] = []
    ends: list[tuple[Lab, Lab]] = []
    ratios: list[tuple[float, ...]] = []
    labs: list[tuple[Lab, ...]] = []
    fine = np.linspace(0.0, 1.0, FINE_STEPS + 1)
    for pair in pairs:
        rows = sorted((inked.row(name) for name in pair), key=lambda row: -float(inked.lab[row, 0]))
        light, dark = inked.reflectance[rows[0]], inked.reflectance[rows[1]]
        spectra = [predict_blend(inked.paper_reflectance, light, dark, float(ratio)) for ratio in fine]
        colours = reflectance_to_lab(np.stack(spectra))
        way = np.concatenate([[0.0], np.cumsum(delta_e_2000(colours[:-1], colours[1:]))])
        at = np.interp(way[-1] * np.arange(1, steps + 1) / (steps + 1), way, fine)
        names.append((inked.markers[rows[0]].name, inked.markers[rows[1]].name))
        ends.append((_triple(colours[0]), _triple(colours[-1])))
        ratios.append(tuple(round(float(ratio), 3) for ratio in at))
        between = [np.interp(at, fine, colours[:, axis]) for axis in range(3)]
        labs.append(_triples(np.stack(between, axis=-1)))
    return Blends(tuple(names), tuple(ends), tuple(ratios), tuple(labs))


def predict_crossing(inked: Inked, unders: Sequence[str], overs: Sequence[str]) -> Crossing:
    """Give the colour of every marker of *overs* laid on every marker of *unders*, dry.

    Raises: PaletteError for a name that is no marker.
    """
    first = inked.reflectance[[inked.row(name) for name in unders]]
    second = inked.reflectance[[inked.row(name) for name in overs]]
    labs = []
    for under in first:
        swatches = np.stack([np.broadcast_to(under, second.shape), second], axis=-2)
        labs.append(_triples(reflectance_to_lab(predict_stack(inked.paper_reflectance, swatches))))
    return Crossing(tuple(unders), tuple(overs), tuple(labs))


def _triples(labs: Floats) -> tuple[Lab, ...]:
    return tuple(_triple(lab) for lab in labs)


def _triple(lab: Floats) -> Lab:
    lightness, a, b = (round(float(value), 2) + 0.0 for value in lab)
    return lightness, a, b
