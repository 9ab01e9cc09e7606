"""The drawer on one paper: every marker as it looks there, ready for array arithmetic.

Advice starts here. A palette and a paper become arrays once, and every search is then a few calls of the ink
model on them.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendkit.colour import is_in_srgb, labs_to_display_srgb1, parse_colour
from blendkit.errors import ColourError, InkError, PaletteError, Problem
from blendkit.ink import (
    DEFAULT_MODEL,
    InkModel,
    ink_increment,
    layer_increments,
    predict_from_increments,
    surface_part,
    swatch_and_surface,
)
from blendkit.palette import Marker, Palette, Paper, Reading, StampInk, name_key
from blendkit.palette.calibration_file import stored_model
from blendkit.spectrum import BANDS, reflectance_from_lab, reflectance_to_lab

Floats = NDArray[np.float64]

_SAME_REFLECTANCE = 1e-9

PLAIN_WHITE = "plain white paper"
_PLAIN_WHITE_LAB = (95.0, 0.0, -2.0)
"""Stands for the paper when a palette names none: paper type 1 of ISO 12647-2, as in tests/gold."""

_TYPED = re.compile(r"\s*(#|[a-z-]+\(|[-+.\d])", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Swatch:
    """A colour as every answer shows it.

    Args:
        name: of the palette, or the colour as it was typed.
        lab: CIELAB, D50 / 2 degree.
        hex: what a screen can show of it.
        mapped: True when sRGB can't show the colour and *hex* stands in for it.
    """

    name: str
    lab: tuple[float, float, float]
    hex: str
    mapped: bool = False


def swatch_of(name: str, lab: Floats) -> Swatch:
    """Give a named colour as a :class:`Swatch`; *lab* has shape (3,)."""
    return swatches_of((name,), lab[None, :])[0]


def swatches_of(names: Sequence[str], labs: Floats) -> tuple[Swatch, ...]:
    """Give named colours as swatches, all worked out at once; *labs* has shape (n, 3)."""
    shown = np.rint(labs_to_display_srgb1(labs) * 255.0).astype(int)
    mapped = ~is_in_srgb(labs)
    return tuple(
        Swatch(name, (lab[0], lab[1], lab[2]), f"#{red:02x}{green:02x}{blue:02x}", stand_in)
        for name, lab, (red, green, blue), stand_in in zip(
            names, labs.tolist(), shown.tolist(), mapped.tolist(), strict=True
        )
    )


def measured_or_estimated(readings: Sequence[Reading], ink: InkModel | None = None) -> Floats:
    """Reflectance of each reading: the measured one, else one estimated from its Lab.

    Args:
        readings: any number of them.
        ink: the ink model when the readings are of marker swatches; None for papers, ribbons and stamp inks.

    Returns: shape (n, 36), 0 to 1.
    """
    if ink is not None:
        return _swatches(readings, ink)[0]
    if not readings:
        return np.zeros((0, BANDS))
    reflectance = reflectance_from_lab(np.array([reading.lab for reading in readings]))
    for place, reading in enumerate(readings):
        if reading.reflectance is not None:
            reflectance[place] = reading.reflectance
    return reflectance


def _swatches(readings: Sequence[Reading], model: InkModel) -> tuple[Floats, Floats]:
    """Reflectance of marker swatches, measured or estimated, (n, 36), and their surface's part of it, (n, 1)."""
    if not readings:
        return np.zeros((0, BANDS)), np.zeros((0, 1))
    swatches, surfaces = swatch_and_surface(np.array([reading.lab for reading in readings]), model)
    measured = {place: one.reflectance for place, one in enumerate(readings) if one.reflectance is not None}
    if measured:
        places = list(measured)
        swatches[places] = np.array(list(measured.values()))
        surfaces[places] = surface_part(swatches[places], model)
    return swatches, surfaces


def choose_paper(palette: Palette, on: str | None) -> Paper:
    """Paper to work on: the one named, else the one under most swatches, else a plain white.

    Args:
        palette: the drawer.
        on: a paper or ribbon of the palette, or None.

    Returns: the paper; the plain white stands in for a palette that names none.
    Raises: PaletteError with the nearest names when *on* is not in the palette.
    """
    if on:
        return palette.paper(on)
    counts: dict[str, int] = {}
    for marker in palette.markers:
        if marker.on:
            counts[marker.on] = counts.get(marker.on, 0) + 1
    if counts:
        return palette.paper(max(counts, key=lambda name: counts[name]))
    return Paper(PLAIN_WHITE, "paper", Reading(np.array(_PLAIN_WHITE_LAB), typed="assumed"))


@dataclass(frozen=True)
class Looks:
    """Colours on the paper, with what a blend of them needs; any leading shape, the same for all three.

    Args:
        lab: shape (..., 3).
        reflectance: shape (..., 36).
        surface: part that the surface reflects, shape (..., 1); see ``ink.surface_part``.
    """

    lab: Floats
    reflectance: Floats
    surface: Floats

    @classmethod
    def of(cls, reflectance: Floats, model: InkModel) -> "Looks":
        """Work the rest out from reflectances of shape (..., 36)."""
        return cls(reflectance_to_lab(reflectance), reflectance, surface_part(reflectance, model))

    @classmethod
    def of_swatches(cls, lab: Floats, model: InkModel) -> "Looks":
        """Work the rest out for coats of ink whose Lab, shape (..., 3), is known."""
        reflectance, surface = swatch_and_surface(lab, model)
        return cls(reflectance_to_lab(reflectance), reflectance, surface)

    def __getitem__(self, at: Any) -> "Looks":
        """Index the leading axes, as NumPy does."""
        return Looks(self.lab[at], self.reflectance[at], self.surface[at])


@dataclass(frozen=True)
class Inked:
    """The markers of a drawer on one paper.

    Args:
        palette: the drawer.
        paper: what the ink is on.
        model: the ink model's constants for that paper.
        markers: the drawer's markers, in its order; rows of every array below.
        paper_reflectance: shape (36,).
        increments: what one coat of each adds to bare paper, shape (n, 37).
        later: the same for coats 2, 3, … where they were measured: {(row, coats): (37,)}.
        looks: one coat of each on the paper, shape (n,).
    """

    palette: Palette
    paper: Paper
    model: InkModel
    markers: tuple[Marker, ...]
    paper_reflectance: Floats = field(repr=False)
    increments: Floats = field(repr=False)
    later: dict[tuple[int, int], Floats] = field(repr=False)
    looks: Looks = field(repr=False)

    @property
    def lab(self) -> Floats:
        """One coat of each on the paper, as Lab, shape (n, 3)."""
        return self.looks.lab

    @property
    def reflectance(self) -> Floats:
        """One coat of each on the paper, shape (n, 36)."""
        return self.looks.reflectance

    @cached_property
    def _rows(self) -> dict[str, int]:
        return {name_key(marker.name): row for row, marker in enumerate(self.markers)}

    def row(self, name: str) -> int:
        """Row of the marker called *name*.

        Raises: PaletteError with the nearest names.
        """
        return self._rows[name_key(self.palette.marker(name).name)]

    def asked(self, row: int) -> "Asked":
        """Give the marker in a row as something that was asked about."""
        marker = self.markers[row]
        uncertainty = marker.readings[0][1].uncertainty
        swatch = swatch_of(marker.name, self.lab[row])
        return Asked(swatch, marker, row, self.looks[row], uncertainty, marker.rough)

    def coat_increments(self, row: int, coats: int) -> Floats:
        """What each of *coats* coats of one marker adds, first to last; measured where it was.

        Args:
            row: the marker's row.
            coats: 1 or more.

        Returns: shape (coats, 37), for ``ink.layer_increments``.
        """
        adds = [self.increments[row]]
        for coat in range(2, coats + 1):
            # Beyond the last coat that was measured, each adds what that one did.
            adds.append(self.later.get((row, coat), adds[-1]))
        return np.stack(adds)

    def coats_of(self, asked: "Asked", coats: int) -> Floats:
        """Increments of *coats* coats of what was asked about; a typed colour counts as one coat here.

        Returns: shape (coats, 37), for ``ink.layer_increments``.
        """
        if asked.row is not None:
            return self.coat_increments(asked.row, coats)
        one = ink_increment(asked.reflectance, self.paper_reflectance, self.model)
        return np.repeat(one[None, :], coats, axis=0)

    def paint_stack(self, increments: Sequence[Floats]) -> Floats:
        """Reflectance of the paper after some coats, each dry before the next, shape (36,); bare for none."""
        if not increments:
            return self.paper_reflectance
        return self.paint(layer_increments(np.stack(increments), self.model)[-1])

    def paint(self, total: Floats) -> Floats:
        """Reflectance of the paper under a total of increments of shape (..., 37): shape (..., 36)."""
        return predict_from_increments(self.paper_reflectance, total, self.model)

    def paint_lab(self, total: Floats) -> Floats:
        """Lab of the paper under a total of increments of shape (..., 37): shape (..., 3)."""
        return reflectance_to_lab(self.paint(total))


def _swatch_papers(palette: Palette, paper: Paper) -> dict[str, Reading]:
    """Reading of every paper that swatches lie on; "" is the paper that the palette speaks of."""
    usual = choose_paper(palette, None)
    readings = {"": usual.reading, name_key(usual.name): usual.reading, name_key(paper.name): paper.reading}
    for marker in palette.markers:
        if name_key(marker.on) not in readings:
            readings[name_key(marker.on)] = palette.paper(marker.on).reading
    return readings


def ink_drawer(
    palette: Palette, on: str | None = None, model: InkModel | None = None, *, markers_needed: bool = True
) -> Inked:
    """Lay one coat of every marker on a paper.

    A marker that was measured on another paper is carried over: what its ink added there, it adds here.

    Args:
        palette: the drawer.
        on: a paper or ribbon of the palette; None for the one that most swatches lie on.
        model: constants of the ink model; None for those that are stored for the paper beside the palette
            (``blendkit calibrate``), else the usual ones.
        markers_needed: False to take a palette of papers alone, for typed colours.

    Returns: the arrays that advice works on.
    Raises: PaletteError when *on* is not in the palette, or what is stored can't be read; InkError when the
        palette has no marker.
    """
    if markers_needed and not palette.markers:
        where = str(palette.path or "this palette")
        raise InkError(
            "There is no marker in this palette.", [Problem(where, "no row of kind marker", "at least one")]
        )
    paper = choose_paper(palette, on)
    if model is None:
        model = stored_model(palette, paper.name) or DEFAULT_MODEL
    readings: list[Reading] = []
    keys: list[tuple[int, int]] = []
    for row, marker in enumerate(palette.markers):
        for coats, reading in marker.readings:
            readings.append(reading)
            keys.append((row, coats))
    papers = _swatch_papers(palette, paper)
    paper_keys = list(papers)
    paper_rows = dict(zip(paper_keys, measured_or_estimated(list(papers.values())), strict=True))
    swatches, surfaces = _swatches(readings, model)
    beneath = np.array([paper_rows[name_key(palette.markers[row].on)] for row, _ in keys]).reshape(-1, BANDS)
    from_paper = ink_increment(swatches, beneath, model, surfaces)
    at = {key: place for place, key in enumerate(keys)}
    first = np.array([at[row, 1] for row in range(len(palette.markers))], dtype=np.intp)
    later: dict[tuple[int, int], Floats] = {}
    for (row, coats), place in at.items():
        if coats > 1:
            before = max(held for held in range(1, coats) if (row, held) in at)
            step = (from_paper[place] - from_paper[at[row, before]]) / (coats - before)
            # A later coat is weakened by the transfer when coats are layered; what was measured already is.
            step[:BANDS] /= model.transfer
            for coat in range(before + 1, coats + 1):
                later[row, coat] = step
    increments = from_paper[first]
    own = paper_rows[name_key(paper.name)]
    painted = predict_from_increments(own, increments, model)
    # On the paper that it was measured on, a coat is its swatch again, and its surface is known.
    surface = surfaces[first]
    carried = np.abs(painted - swatches[first]).max(axis=-1) > _SAME_REFLECTANCE
    if carried.any():
        surface[carried] = surface_part(painted[carried], model)
    return Inked(
        palette=palette,
        paper=paper,
        model=model,
        markers=palette.markers,
        paper_reflectance=own,
        increments=increments,
        later=later,
        looks=Looks(reflectance_to_lab(painted), painted, surface),
    )


@dataclass(frozen=True)
class Asked:
    """A colour that was asked about: something of the palette, or one that was typed.

    Args:
        swatch: the colour as it will look on the paper.
        item: the marker, paper, ribbon or ink, or None for a typed colour.
        row: the marker's row in the drawer's arrays, or None.
        looks: the colour on the paper, of no leading shape.
        uncertainty: CIEDE2000 within which the reading is trusted, or None when not known.
        rough: True when one Lab can't tell the colour (pearl, glitter, foil).
    """

    swatch: Swatch
    item: Marker | Paper | StampInk | None
    row: int | None
    looks: Looks = field(repr=False)
    uncertainty: float | None = None
    rough: bool = False

    @property
    def reflectance(self) -> Floats:
        """Reflectance on the paper, shape (36,)."""
        return self.looks.reflectance

    @property
    def lab(self) -> Floats:
        """Lab as an array, shape (3,)."""
        return np.array(self.swatch.lab)


def typed_colour(name: str, lab: Floats, model: InkModel) -> Asked:
    """Give a Lab of shape (3,) as a colour that was asked about, as if one coat of ink had left it."""
    return Asked(swatch_of(name, lab), None, None, Looks.of_swatches(lab, model))


def find_colour(inked: Inked, text: str) -> Asked:
    """Find what was asked about: a palette name, ``#rrggbb``, ``lab(…)``, ``oklch(…)`` or ``L,a,b``.

    A name of the palette wins over a colour that is written the same way; the name of one colour of a pattern
    gives the whole sheet.

    Args:
        inked: the drawer on the paper that is worked on.
        text: what was typed.

    Returns: the colour; a marker as it looks on that paper.
    Raises: PaletteError with the nearest names; ColourError when it looks like a colour and isn't one.
    """
    palette = inked.palette
    item = palette.get(text)
    if item is None:
        if _TYPED.match(text):
            try:
                lab = parse_colour(text)
            except ColourError:
                if not text.lstrip().startswith("#") and "(" not in text:
                    palette.find(text)
                raise
            return typed_colour(text.strip(), lab, inked.model)
        try:
            palette.find(text)
        except PaletteError as error:
            raise PaletteError(
                f"“{text}” is neither a name of the palette nor a colour; "
                "a colour is typed as #rrggbb, lab(L a b) or oklch(L C h).",
                error.problems,
            ) from None
        raise AssertionError("unreachable: find() knows no such name")
    if isinstance(item, Marker):
        return inked.asked(inked.row(item.name))
    return Asked(
        swatch_of(item.name, item.lab),
        item,
        None,
        Looks.of(measured_or_estimated([item.reading])[0], inked.model),
        item.reading.uncertainty,
        item.rough,
    )
