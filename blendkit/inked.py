"""The drawer on one paper: its coats, stacks, crossings and blends.

A palette and a paper become arrays once, and every search is then a few calls on them. Only here is the ink
model asked about a drawer, so that every face gives one answer to one question: later coats as they were
measured, constants as they were fitted. (What fits those constants, advice/ink_fit.py, asks it too.)
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blendkit.colour import delta_e_2000, is_in_srgb, labs_to_display_srgb1, parse_colour
from blendkit.errors import ColourError, InkError, PaletteError, Problem
from blendkit.ink import DEFAULT_MODEL as DEFAULT_MODEL
from blendkit.ink import (
    INCREMENT_COLUMNS,
    QuickOverlaps,
    ink_increment,
    later_coat,
    layer_increments,
    predict_blend_labs,
    predict_from_increments,
    surface_part,
    swatch_and_surface,
)
from blendkit.ink import InkModel as InkModel
from blendkit.palette import Marker, Palette, Paper, Reading, StampInk, name_key
from blendkit.palette.calibration_file import stored_model
from blendkit.spectrum import BANDS, reflectance_from_lab, reflectance_to_lab

Floats = NDArray[np.float64]

_SAME_REFLECTANCE = 1e-9
_INKS_AT_ONCE = 400
"""Inks made stronger at once, so that the working arrays stay within some 20 MB."""

STRENGTHS, MOST_STRENGTH = 26, 32.0
"""Strengths of an ink that are looked at, and the largest, in coats: a tint of 2 L* brought to a deep tone. Own
judgement."""

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


def _ground(palette: Palette, name: str) -> Paper:
    """Paper under swatches, which may be used up."""
    away = palette.get_away(name)
    return away if isinstance(away, Paper) else palette.paper(name)


def choose_paper(palette: Palette, on: str | None) -> Paper:
    """Paper to work on: the one named, else the one under most swatches, else the only one, else a plain white.

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
        return _ground(palette, max(counts, key=lambda name: counts[name]))
    if len(palette.papers) == 1:
        return palette.papers[0]
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

    def broadcast_to(self, shape: tuple[int, ...]) -> "Looks":
        """Give the same colours in a larger leading shape, as NumPy does."""
        whole = (
            np.broadcast_to(part, (*shape, part.shape[-1]))
            for part in (self.lab, self.reflectance, self.surface)
        )
        return Looks(*whole)

    def __getitem__(self, at: Any) -> "Looks":
        """Index the leading axes, as NumPy does."""
        return Looks(self.lab[at], self.reflectance[at], self.surface[at])


def blend_labs(first: Looks, second: Looks, ratios: ArrayLike, model: InkModel) -> Floats:
    """Lab of wet blends of two inks on the paper.

    Args:
        first, second: of shapes that broadcast.
        ratios: shares of the second ink, 0 to 1, shape (M,).
        model: the ink model's constants for that paper.

    Returns: shape (..., M, 3).
    """
    surface = np.minimum(first.surface, second.surface)
    return predict_blend_labs(first.reflectance, second.reflectance, ratios, model=model, surface=surface)


@dataclass(frozen=True)
class Inked:
    """The markers of a drawer on one paper.

    What a coat adds is an *increment*, shape (37,): such numbers add up (``ink.ink_increment``). A stack is an
    array of them, first laid first.

    Args:
        palette: the drawer.
        paper: what the ink is on.
        model: the ink model's constants for that paper.
        markers: the drawer's markers, in its order; rows of every array below.
        paper_reflectance: shape (36,).
        coats: what coat 1, 2, … of each adds, as far as any marker was measured, shape (n, coats, 37).
        looks: one coat of each on the paper, shape (n,).
    """

    palette: Palette
    paper: Paper
    model: InkModel
    markers: tuple[Marker, ...]
    paper_reflectance: Floats = field(repr=False)
    coats: Floats = field(repr=False)
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

    @cached_property
    def at_hand(self) -> "Inked":
        """The same without what is out, for advice; see ``Palette.at_hand``."""
        here = self.palette.at_hand()
        if here is self.palette:
            return self
        rows = [row for row, marker in enumerate(self.markers) if not marker.out]
        if self.markers and not rows:
            where = str(self.palette.path or "this palette")
            raise InkError("No marker is at hand.", [Problem(where, "every marker is out", "one that isn't")])
        return replace(
            self,
            palette=here,
            markers=here.markers,
            coats=self.coats[rows],
            looks=self.looks[rows],
        )

    def row(self, name: str) -> int:
        """Row of the marker called *name*.

        Raises: PaletteError with the nearest names.
        """
        return self._rows[name_key(self.palette.marker(name).name)]

    def rows(self, names: Sequence[str]) -> NDArray[np.intp]:
        """Rows of several markers, shape (names,).

        Raises: PaletteError with the nearest names.
        """
        return np.array([self.row(name) for name in names], dtype=np.intp)

    def asked(self, row: int) -> "Asked":
        """Give the marker in a row as something that was asked about."""
        marker = self.markers[row]
        uncertainty = marker.readings[0][1].uncertainty
        swatch = swatch_of(marker.name, self.lab[row])
        return Asked(swatch, marker, row, self.looks[row], uncertainty, marker.rough)

    def lay(self, rows: ArrayLike) -> Floats:
        """Stacks of markers; where one comes again, it is its next coat, as measured or else as the last one.

        Args:
            rows: of the markers, first laid first, shape (..., K).

        Returns: increments, shape (..., K, 37), for :meth:`after`.
        """
        laid = np.asarray(rows, dtype=np.intp)
        before = [
            (laid[..., :place] == laid[..., place : place + 1]).sum(-1) for place in range(laid.shape[-1])
        ]
        coats: Floats = self.coats[laid, np.minimum(np.stack(before, axis=-1), self.coats.shape[1] - 1)]
        return coats

    def lay_asked(self, asked: Sequence["Asked"]) -> Floats:
        """The same of what was asked about, shape (K, 37); a typed colour counts as one coat on this paper."""
        laid = np.empty((len(asked), INCREMENT_COLUMNS))
        counts: dict[int, int] = {}
        for place, one in enumerate(asked):
            if one.row is None:
                laid[place] = ink_increment(one.reflectance, self.paper_reflectance, self.model)
            else:
                count = counts[one.row] = counts.get(one.row, 0) + 1
                laid[place] = self.coats[one.row, min(count, self.coats.shape[1]) - 1]
        return laid

    def after(self, laid: Floats) -> Floats:
        """Reflectance of the paper after each coat of a stack, each dry before the next.

        Args:
            laid: increments of shape (..., K, 37); half an increment is half a coat.

        Returns: shape (..., K, 36).
        """
        return predict_from_increments(
            self.paper_reflectance, layer_increments(laid, self.paper_reflectance, self.model), self.model
        )

    def total(self, laid: Floats) -> Floats:
        """What a whole stack, shape (..., K, 37), adds to the paper, as one increment of shape (..., 37)."""
        total: Floats = layer_increments(laid, self.paper_reflectance, self.model)[..., -1, :]
        return total

    def lab_after(self, laid: Floats) -> Floats:
        """Lab of the paper after each coat of a stack, shape (..., K, 3), as :meth:`after`."""
        labs: Floats = reflectance_to_lab(self.after(laid))
        return labs

    def coat_labs(self, rows: ArrayLike, coats: int) -> Floats:
        """Lab of 1 to *coats* coats of markers: *rows* of shape (m,) give (m, coats, 3)."""
        return self.lab_after(self.lay(np.repeat(np.asarray(rows)[:, None], coats, axis=1)))

    def lifted(self, asked: "Asked") -> Floats | None:
        """Lab, shape (3,), of one dry coat after one pass of a colourless blender; None where that isn't known."""
        lift = asked.item.lift if isinstance(asked.item, Marker) else None
        if lift is None:
            return None
        lifted: Floats = self.lab_after((1.0 - lift) * self.lay_asked([asked]))[0]
        return lifted

    def find_lift(self, coat: ArrayLike, lifted: ArrayLike) -> float:
        """Share of a coat's ink that is gone where a blender went over it.

        Args:
            coat: Lab of one dry coat on this paper, shape (3,).
            lifted: Lab where the blender went over such a coat, shape (3,).

        Returns: 0 to 1, to the hundredth: the share for which what is left comes nearest, by CIEDE2000.
        """
        shares = np.linspace(0.0, 1.0, 101)
        swatch = measured_or_estimated([Reading(np.asarray(coat, dtype=np.float64))], self.model)[0]
        whole = ink_increment(swatch, self.paper_reflectance, self.model)
        left = predict_from_increments(self.paper_reflectance, (1.0 - shares)[:, None] * whole, self.model)
        off = delta_e_2000(np.asarray(lifted, dtype=np.float64), reflectance_to_lab(left))
        return float(shares[int(np.argmin(off))])

    @cached_property
    def more_ink(self) -> Floats:
        """More and more of each marker's own ink, as Lab, shape (n, STRENGTHS, 3): :meth:`stronger`."""
        return self.stronger(self.lay(np.repeat(np.arange(len(self.markers))[:, None], 3, axis=1)))

    def more_ink_of(self, asked: "Asked") -> Floats:
        """The same of what was asked about, shape (STRENGTHS, 3)."""
        return self.more_ink_from(asked.reflectance) if asked.row is None else self.more_ink[asked.row]

    def more_ink_from(self, reflectance: Floats) -> Floats:
        """The same of single coats on this paper, of shape (..., 36): (..., STRENGTHS, 3)."""
        added = ink_increment(reflectance, self.paper_reflectance, self.model)
        return self.stronger(np.repeat(added[..., None, :], 3, axis=-2))

    @cached_property
    def fullest(self) -> Floats:
        """Each marker's ink at the strength, thinner or stronger, that has most chroma: Lab, shape (n, 3)."""
        return self.fullest_of(self.coats[:, 0])

    def fullest_of(self, added: Floats) -> Floats:
        """The same of single coats given as increments, (..., 37): Lab, shape (..., 3)."""
        strengths = np.geomspace(1.0 / MOST_STRENGTH, MOST_STRENGTH / 4.0, STRENGTHS)
        labs = reflectance_to_lab(
            predict_from_increments(
                self.paper_reflectance, strengths[:, None] * added[..., None, :], self.model
            )
        )
        most = np.argmax(np.hypot(labs[..., 1], labs[..., 2]), axis=-1)
        fullest: Floats = np.take_along_axis(labs, most[..., None, None], axis=-2)[..., 0, :]
        return fullest

    def stronger(self, laid: Floats) -> Floats:
        """Lab of an ink made stronger and stronger, from one coat on.

        Args:
            laid: increments of its first three coats, shape (..., 3, 37); past them, each adds what the last did.

        Returns: shape (..., STRENGTHS, 3), first the single coat.
        """
        if laid.ndim > 3 or (laid.ndim == 3 and len(laid) > _INKS_AT_ONCE):
            flat = laid.reshape(-1, *laid.shape[-2:])
            parts = [
                self.stronger(flat[start : start + _INKS_AT_ONCE])
                for start in range(0, len(flat), _INKS_AT_ONCE)
            ]
            return np.concatenate(parts).reshape(*laid.shape[:-2], STRENGTHS, 3)
        totals = layer_increments(laid, self.paper_reflectance, self.model)
        knots = []
        for strength in np.geomspace(1.0, MOST_STRENGTH, STRENGTHS):
            coat = min(int(strength), 2)
            last = totals[..., coat, :] - totals[..., coat - 1, :]
            knots.append(totals[..., coat - 1, :] + (strength - coat) * last)
        return reflectance_to_lab(
            predict_from_increments(self.paper_reflectance, np.stack(knots, axis=-2), self.model)
        )

    def crossing_labs(self, unders: ArrayLike, overs: ArrayLike) -> Floats:
        """Lab of one coat of each of *overs* on a dry one of each of *unders*: shape (unders, overs, 3)."""
        crossed = np.stack(np.broadcast_arrays(np.asarray(unders)[:, None], np.asarray(overs)), axis=-1)
        return self.lab_after(self.lay(crossed))[..., -1, :]

    @cached_property
    def quick(self) -> QuickOverlaps:
        """One coat over another, roughly, for a search through all of them."""
        return QuickOverlaps(self.paper_reflectance, self.coats[:, 0], self.model)

    def blend_labs(self, first: Looks, second: Looks, ratios: ArrayLike) -> Floats:
        """Lab of wet blends on this paper, as :func:`blend_labs`, with its constants."""
        return blend_labs(first, second, ratios, self.model)

    def look(self, reflectance: Floats) -> Looks:
        """Give reflectances on this paper, of shape (..., 36), with what a blend of them needs."""
        return Looks.of(reflectance, self.model)


def _swatch_papers(palette: Palette, paper: Paper) -> dict[str, Reading]:
    """Reading of every paper that swatches lie on; "" is the paper that the palette speaks of."""
    usual = choose_paper(palette, None)
    readings = {"": usual.reading, name_key(usual.name): usual.reading, name_key(paper.name): paper.reading}
    for marker in palette.markers:
        if name_key(marker.on) not in readings:
            readings[name_key(marker.on)] = _ground(palette, marker.on).reading
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
        for count, reading in marker.readings:
            readings.append(reading)
            keys.append((row, count))
    papers = _swatch_papers(palette, paper)
    paper_keys = list(papers)
    paper_rows = dict(zip(paper_keys, measured_or_estimated(list(papers.values())), strict=True))
    swatches, surfaces = _swatches(readings, model)
    beneath = np.array([paper_rows[name_key(palette.markers[row].on)] for row, _ in keys]).reshape(-1, BANDS)
    from_paper = ink_increment(swatches, beneath, model, surfaces)
    at = {key: place for place, key in enumerate(keys)}
    first = np.array([at[row, 1] for row in range(len(palette.markers))], dtype=np.intp)
    coats = np.repeat(from_paper[first][:, None], max((count for _, count in keys), default=1), axis=1)
    later = [
        (row, max(held for held in range(1, count) if (row, held) in at), count)
        for row, count in at
        if count > 1
    ]
    if later:
        places = np.array([at[row, count] for row, _, count in later])
        lower = np.array([at[row, before] for row, before, _ in later])
        steps = (from_paper[places] - from_paper[lower]) / [[count - before] for _, before, count in later]
        # A later coat is weakened when coats are layered; what was measured already is.
        added = later_coat(steps, from_paper[lower], beneath[places], model)
        for (row, before, _), step in zip(later, added, strict=True):
            # Beyond the last coat that was measured, each adds what that one did.
            coats[row, before:] = step
    own = paper_rows[name_key(paper.name)]
    painted = predict_from_increments(own, from_paper[first], model)
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
        coats=coats,
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
    away = palette.get_away(text) if item is None else None
    if isinstance(away, Marker):
        # It can still be asked about: it may lie on the paper already.
        on = inked.paper.name if palette.get(inked.paper.name) is not None else None
        alone = ink_drawer(replace(palette, markers=(away,)), on, inked.model)
        return replace(alone.asked(0), row=None)
    item = item or away
    if item is None and palette.blender(text) is not None:
        palette.find(text)  # it says that a blender has no colour
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
