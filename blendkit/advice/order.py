"""Layering orders: numbered steps, the colour after each, coats taken; and any explicit stack.

Facts of the trade in this file (outline first and dry, light before dark, light again over the edge, dark-first
as the other way, what to do when the paper is full) are common practice, with no source.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blendkit.advice.pairs import Companion, find_cautions, find_companions
from blendkit.advice.shading_series import FIT, Taste
from blendkit.colour import contrast_wcag
from blendkit.errors import ColourError, PaletteError, Problem
from blendkit.inked import Asked, Inked, Swatch, find_colour, ink_drawer, swatch_of
from blendkit.palette import Blender, Marker, Palette, Paper, StampInk
from blendkit.spectrum import reflectance_to_lab
from blendkit.words import BLENDER_WORDS, LAY_WORDS, STAMP_WORDS, lift_words, so_far_words

Floats = NDArray[np.float64]

STYLES = ("light-first", "dark-first")
"""The two accepted ways: light over the whole part first, or the shadow first."""

STYLE_WORDS = {
    "light-first": "Light first: the usual way. The light marker wets the part, so the shadow blends out softly.",
    "dark-first": (
        "Dark first: for small parts and deep shadows. The shadow is placed on dry paper where you want it, and "
        "the light marker pulls its edge out. Choose it when the paper takes few coats, since one pass of light "
        "is both base and blend, or when the part is too small to keep wet."
    ),
}


@dataclass(frozen=True, slots=True)
class Step:
    """One step at the table.

    Args:
        number: from 1.
        marker: the marker or ink to take.
        where: where it goes, in words.
        coat: running total: coats that the paper has taken where this step lays its ink; 0 for the outline.
        lab: the colour there once dry, D50 / 2 degree; None after a blender whose lift isn't known.
        hex: what a screen can show of it; "" without a *lab*.
        caution: what to be careful of, or "".
        lay: coats to lay in this step: one, or 0 for the outline and for a blender.
        do: what to do in this step: “lay one coat”, “let it dry”, “one pass”.
        so_far: the running total in words; "" for the outline.
    """

    number: int
    marker: str
    where: str
    coat: int
    lab: tuple[float, float, float] | None
    hex: str
    caution: str = ""
    lay: int = 1
    do: str = LAY_WORDS
    so_far: str = ""


@dataclass(frozen=True, slots=True)
class OrderAdvice:
    """Answer to “in what order do I lay them?”

    Args:
        base: the light marker or colour.
        shadows: the shadows, lightest first.
        on: the paper.
        style: one of :data:`STYLES`.
        coat_limit: coats that the paper takes.
        coats: coats that it has taken in its wettest place at the end.
        steps: what to do, first to last.
        fits: False when no shadow was named and none in the drawer fits.
        near_miss: the best companion in that case.
        words: what to know.
    """

    base: Swatch
    shadows: tuple[Swatch, ...]
    on: str
    style: str
    coat_limit: int
    coats: int
    steps: tuple[Step, ...]
    fits: bool
    near_miss: Companion | None
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Coat:
    """One coat of a stack, and the colour after it."""

    marker: str
    coat: int
    lab: tuple[float, float, float]
    hex: str
    lightness_step: float
    caution: str = ""


@dataclass(frozen=True, slots=True)
class LayerAdvice:
    """Answer to “what comes out when I lay these, one on the dry other?”

    Args:
        paper: the bare paper.
        coats: one entry for each coat, first laid first, with the colour after it.
        coat_limit: coats that the paper takes.
        words: what to know.
    """

    paper: Swatch
    coats: tuple[Coat, ...]
    coat_limit: int
    words: tuple[str, ...]


HOW_WORDS = {
    "over": "Laid over: the base dries first, then the shadow's ink lies on it and both add up.",
    "under": "Laid under: the shadow's ink dries first, then the base goes over everything.",
}
HOWS = ("marker", *HOW_WORDS)
"""How a named shadow is laid: worked into the damp base, over the dry base, or under it."""

OWN_COATS_WORDS = (
    "Coats of one marker: the plainest way to shade. Each coat goes on the dry last one, in a smaller place."
)
DEEPEST = "only the deepest corners, inside the shadow laid before"

_BLENDS = 0.0
"""Share of a coat that a blending pass adds. It wets the paper as a coat does, but moves ink rather than adding
it: the edge ends as the wet blend of what lies on either side, half of each."""

_ROUGH = "Rough: its finish changes with the angle."


def _too_many(coat: int, limit: int, paper: str) -> str:
    if coat <= limit:
        return ""
    coats = f"{limit} coat{'s' if limit != 1 else ''}"
    return (
        f"{paper} takes {coats} and this is number {coat}: let it dry, then touch it in lightly, "
        "or the paper may pill and the ink bleed past the line."
    )


def predict_layers(
    palette: Palette, markers: Sequence[str], *, on: str | None = None, inked: Inked | None = None
) -> LayerAdvice:
    """Predict the colour after each coat of an explicit stack.

    Args:
        palette: the drawer.
        markers: names, first laid first; a name twice in a row is a second coat. At least one.
        on: a paper of the palette; None for the one that most swatches lie on.
        inked: the drawer on that paper, if at hand.

    Returns: the colours. Measured second and third coats are used where the palette has them.
    Raises: PaletteError for a name that is not there; ColourError when no marker is named.
    """
    inked = inked or ink_drawer(palette, on)
    if not markers:
        raise ColourError("There is no marker to lay; name at least one.")
    asked = [_inked_colour(inked, name) for name in markers]
    labs = inked.lab_after(inked.lay_asked(asked))
    before = float(reflectance_to_lab(inked.paper_reflectance)[0])
    coats: list[Coat] = []
    for number, (one, lab) in enumerate(zip(asked, labs, strict=True), start=1):
        swatch = swatch_of(one.swatch.name, lab)
        full = _too_many(number, inked.paper.coat_limit, inked.paper.name)
        caution = " ".join(text for text in (full, _ROUGH if one.rough else "") if text)
        coats.append(Coat(one.swatch.name, number, swatch.lab, swatch.hex, float(lab[0]) - before, caution))
        before = float(lab[0])
    paper = swatch_of(inked.paper.name, reflectance_to_lab(inked.paper_reflectance))
    words = [f"{len(coats)} coat{'s' if len(coats) > 1 else ''} on {paper.name}, each dry before the next."]
    if coats[-1].lightness_step > -1.0 and len(coats) > 1:
        words.append("The last coat hardly shows: it may not be worth the ink.")
    if len(coats) > inked.paper.coat_limit:
        words.append(coats[inked.paper.coat_limit].caution)
    words += find_cautions(inked, asked)
    return LayerAdvice(paper, tuple(coats), inked.paper.coat_limit, tuple(words))


def _inked_colour(inked: Inked, name: str) -> Asked:
    """Find a colour that can be laid: a marker, or a typed colour taken as one coat on this paper."""
    asked = find_colour(inked, name)
    if asked.item is not None and not isinstance(asked.item, Marker):
        raise PaletteError(
            f"{asked.item.name} is no marker, so it can't be laid in coats.",
            [
                Problem(
                    str(inked.palette.path or "palette"),
                    f"kind {asked.item.kind}",
                    "a marker or a typed colour",
                )
            ],
        )
    return asked


def find_order(
    palette: Palette,
    base: str,
    shadows: Sequence[str] = (),
    *,
    on: str | None = None,
    style: str = "light-first",
    taste: Taste | None = None,
    highlight: bool = True,
    blender: Sequence[str] = (),
    how: str = "marker",
    inked: Inked | None = None,
) -> OrderAdvice:
    """Give the steps from the dry outline to the blended part.

    Args:
        palette: the drawer.
        base: the light marker of the part, or a typed colour.
        shadows: its shadows; none for the best companion of the drawer.
        on: a paper of the palette; None for the one that most swatches lie on.
        style: one of :data:`STYLES`.
        taste: window and lean for the search when no shadow is named.
        highlight: leave paper bare where the light falls.
        how: how a named shadow is laid, one of :data:`HOWS`.
        blender: what a colourless blender does, of :data:`BLENDER_WAYS`.
        inked: the drawer on that paper, if at hand.

    Returns: the steps; ``fits`` is False when nothing was named and nothing fits.
    Raises: PaletteError for a name that is not there, or no blender at hand; ColourError for a style or a way
        of the blender that is none.
    """
    if style not in STYLES:
        raise ColourError(f"There is no layering order called “{style}”; accepted: {', '.join(STYLES)}")
    if how not in HOWS or (how != "marker" and len(shadows) != 1):
        raise ColourError(f"A shadow isn't laid “{how}”; accepted, for one shadow: {', '.join(HOWS)}")
    inked = (inked or ink_drawer(palette, on)).at_hand
    light = _inked_colour(inked, base)
    words = [STYLE_WORDS[style] if how == "marker" else HOW_WORDS[how]]
    fits = True
    near_miss: Companion | None = None
    made: Companion | None = None
    darks: list[Asked] = []
    own_coats = 1
    if shadows:
        darks = [_inked_colour(inked, name) for name in shadows]
        if all(dark.swatch.name == light.swatch.name for dark in darks):
            own_coats += len(darks)
            darks = []
            words = [OWN_COATS_WORDS]
    else:
        companions = find_companions(inked, light, taste=taste, count=3)
        fits = bool(companions) and companions[0].score >= FIT
        near_miss = None if fits else (companions[0] if companions else None)
        chosen = companions[0] if companions else None
        if chosen is not None and chosen.how == "marker":
            darks = [_inked_colour(inked, chosen.name)]
            words.append(f"{chosen.name} was chosen as the shadow: {chosen.reasons.words}")
        elif chosen is not None:
            made = chosen
            if style == "dark-first" and chosen.how != "under":
                words[0] = (
                    "Dark first is no way here: this shadow is made on top of the base, so the base comes first."
                )
            words.append(f"No marker of the drawer shades it, so the shadow is made: {chosen.reasons.words}")
        if not fits:
            words.append("Nothing in the drawer fits as a shadow; these steps show the nearest miss.")
    darks.sort(key=lambda dark: -dark.swatch.lab[0])
    for dark in darks:
        if dark.swatch.lab[0] >= light.swatch.lab[0]:
            words.append(
                f"{dark.swatch.name} is lighter than {light.swatch.name}: it will not read as its shadow."
            )
    words += find_cautions(inked, [light])
    tool = find_blender(inked.palette, blender)
    if LIFT in blender:
        highlight = False
    work = _Work(inked, highlight)
    work.outline(_outline_ink(palette))
    if made is not None:
        _made_steps(work, light, made.how, made.name, made.coats)
    elif how != "marker":
        _made_steps(work, light, how, darks[0].swatch.name, 1)
    elif own_coats > 1:
        _made_steps(work, light, "coats", light.swatch.name, own_coats)
    elif style == "light-first":
        _light_first(work, light, darks)
    else:
        _dark_first(work, light, darks)
    if tool is not None:
        words += _blender_steps(work, light, tool.name, blender)
    return OrderAdvice(
        base=light.swatch,
        shadows=tuple(dark.swatch for dark in darks),
        on=inked.paper.name,
        style=style,
        coat_limit=inked.paper.coat_limit,
        coats=max(step.coat for step in work.steps),
        steps=tuple(work.steps),
        fits=fits,
        near_miss=near_miss,
        words=tuple(words),
    )


class _Work:
    """A part being coloured: the steps so far, and what has been laid in each of its places."""

    def __init__(self, inked: Inked, highlight: bool) -> None:
        self.inked = inked
        self.highlight = f"; {_highlight(inked.paper)}" if highlight else ""
        self.steps: list[Step] = []
        self._laid: dict[str, list[tuple[Asked, float]]] = {}

    def outline(self, ink: StampInk | None) -> None:
        name = ink.name if ink is not None else "outline ink that alcohol does not move"
        lab = ink.lab if ink is not None else np.array([15.0, 0.0, 0.0])
        where = "the stamped outline; let it dry fully, so that the markers can't move it"
        caution = ""
        if ink is not None and float(contrast_wcag(ink.lab, self.inked.paper.lab)) < 3.0:
            better = "darker" if self.inked.paper.lab[0] > 50.0 else "pale, opaque"
            caution = f"{ink.name} hardly shows on {self.inked.paper.name}; a {better} ink would read better."
        swatch = swatch_of(name, lab)
        self.steps.append(Step(1, name, where, 0, swatch.lab, swatch.hex, caution, 0, STAMP_WORDS))

    def coats(self, place: str) -> int:
        """Coats that a place has taken so far."""
        return len(self._laid.get(place, ()))

    def lay(self, asked: Asked, places: dict[str, float], shown: str, where: str, caution: str = "") -> None:
        """Lay a colour in some places, by the share of a coat that each gets, and note the colour of one."""
        for place, share in places.items():
            self._laid.setdefault(place, []).append((asked, share))
        laid, shares = zip(*self._laid[shown], strict=True)
        coat = max(len(self._laid[place]) for place in places)
        lab = self.inked.lab_after(np.array(shares)[:, None] * self.inked.lay_asked(laid))[-1]
        swatch = swatch_of(asked.swatch.name, lab)
        full = _too_many(coat, self.inked.paper.coat_limit, self.inked.paper.name)
        rough = _ROUGH if asked.rough else ""
        self.steps.append(
            Step(
                len(self.steps) + 1,
                asked.swatch.name,
                where,
                coat,
                swatch.lab,
                swatch.hex,
                " ".join(text for text in (full, rough, caution) if text),
                so_far=so_far_words(coat),
            )
        )

    def go_over(self, blender: str, place: str, where: str) -> None:
        """Let a blender go over a place, which wets it as a coat does."""
        laid = self._laid[place]
        lab = self.inked.lifted(laid[0][0]) if len(laid) == 1 else None
        swatch = None if lab is None else swatch_of(blender, lab)
        coat = len(laid) + 1
        full = _too_many(coat, self.inked.paper.coat_limit, self.inked.paper.name)
        self.steps.append(
            Step(
                len(self.steps) + 1,
                blender,
                where,
                coat,
                None if swatch is None else swatch.lab,
                "" if swatch is None else swatch.hex,
                full,
                0,
                BLENDER_WORDS,
                so_far_words(coat),
            )
        )


SHADE_PLACE = "where parts overlap and along the side away from the light"
"""Where a shadow goes in a picture that isn't known; a plan puts the places of its own picture here."""

LIT_PLACE = "where the light falls first"
"""The same for the highlight."""

_WHITE_FROM = 85.0
"""L* from which the paper itself gives the highlight. Common practice, no source."""


def _highlight(paper: Paper) -> str:
    if float(paper.lab[0]) >= _WHITE_FROM:
        return f"leave the white paper {LIT_PLACE}"
    return f"leave bare paper {LIT_PLACE}: the highlight can't be lighter than that"


FADE, LIFT = "fade", "lift"
BLENDER_WAYS = (FADE, LIFT)
"""What a colourless blender is asked for: fade an edge to white paper, lift the highlight."""


def find_blender(palette: Palette, ways: Sequence[str] = (LIFT,)) -> Blender | None:
    """Give the blender at hand; None when nothing is asked of one.

    Raises: ColourError for a way that is none; PaletteError when there is no blender at hand.
    """
    for way in ways:
        if way not in BLENDER_WAYS:
            raise ColourError(f"A blender can't “{way}”; accepted: {', '.join(BLENDER_WAYS)}")
    here = [one for one in palette.blenders if not one.out]
    if ways and not here:
        file = palette.path.name if palette.path is not None else "this palette"
        accepted = "a row of kind blender (it needs a name and no colour), or leave white paper instead"
        raise PaletteError("There is no colourless blender at hand.", [Problem(file, "none", accepted)])
    return here[0] if ways else None


def lift_told(inked: Inked, light: Asked, blender: str) -> str:
    """Say how much the blender takes of a colour, as measured on a chart, or that it isn't known."""
    lift = light.item.lift if isinstance(light.item, Marker) else None
    if lift is None:
        return (
            f"How much {blender} lifts of {light.swatch.name} isn't known, so no colour is shown there: dyes "
            "differ, and some stain. Try it on scrap; a chart with boxes for the blender (--blender) measures it."
        )
    return f"Of one dry coat of {light.swatch.name}, {blender} {lift_words(lift)}, as measured on a chart."


def _blender_steps(work: _Work, light: Asked, blender: str, ways: Sequence[str]) -> list[str]:
    if FADE in ways:
        work.go_over(
            blender,
            "lit",
            "from the bare paper into the edge that is to fade, in small circles while it is damp; wipe the tip "
            "on scrap after each stroke",
        )
    if LIFT in ways:
        work.go_over(
            blender,
            "lit",
            f"{LIT_PLACE}, once all is dry: touch, wait a moment, dab the loosened ink up with a paper towel",
        )
    return [
        lift_told(work.inked, light, blender),
        "A blender also pushes ink before it: work from the pale side, and keep off the line.",
    ]


def _light_first(work: _Work, light: Asked, darks: Sequence[Asked]) -> None:
    work.lay(
        light,
        {"lit": 1.0, "edge": 1.0, "shadow": 1.0},
        "lit",
        f"the whole part, in small circles{work.highlight}",
    )
    for number, dark in enumerate(darks):
        where = f"{SHADE_PLACE}, while the base is still damp" if number == 0 else DEEPEST
        places = {"shadow": 1.0, "edge": 0.5} if number == 0 else {"shadow": 1.0}
        work.lay(dark, places, "shadow", where)
    if darks:
        work.lay(
            light,
            {"edge": _BLENDS},
            "edge",
            "again over the edge of the shadow, from light into dark, to blend",
        )


def _dark_first(work: _Work, light: Asked, darks: Sequence[Asked]) -> None:
    bands = ["shadow", *(f"band {number}" for number in range(1, len(darks)))]
    for number, (dark, band) in enumerate(zip(reversed(darks), bands, strict=False)):
        where = (
            f"on dry paper: {SHADE_PLACE}"
            if number == 0
            else "on dry paper: from the edge of the last one outward, just touching it"
        )
        places = {band: 1.0, "edge": 0.5} if number == len(darks) - 1 else {band: 1.0}
        work.lay(dark, places, band, where)
    everywhere = dict.fromkeys(("lit", "edge", *bands), 1.0)
    work.lay(
        light,
        everywhere,
        "shadow" if darks else "lit",
        f"over the whole part{work.highlight}"
        + ("; the colour shown is that of the shadow" if darks else ""),
    )
    # The pass over everything has blended the edge once; once more only where the paper takes it.
    if darks and work.coats("edge") < work.inked.paper.coat_limit:
        work.lay(
            light,
            {"edge": _BLENDS},
            "edge",
            "again over the edge of the shadow, to pull it out into the light",
        )


def _made_steps(work: _Work, light: Asked, how: str, name: str, coats: int) -> None:
    """Steps for a shadow without a marker of its own: coats, over or under."""
    if how == "under":
        other = _inked_colour(work.inked, name)
        work.lay(other, {"shadow": 1.0, "edge": 0.5}, "shadow", f"first, only {SHADE_PLACE}; let it dry")
    work.lay(
        light,
        {"lit": 1.0, "edge": 1.0, "shadow": 1.0},
        "lit",
        f"the whole part, in small circles{work.highlight}",
    )
    if how == "coats":
        for coat in range(2, coats + 1):
            places = {"shadow": 1.0, "edge": 0.5} if coat == 2 else {"shadow": 1.0}
            work.lay(
                light,
                places,
                "shadow",
                f"once more, when the last coat is dry: {SHADE_PLACE if coat == 2 else DEEPEST}",
            )
    elif how == "over":
        other = _inked_colour(work.inked, name)
        work.lay(other, {"shadow": 1.0, "edge": 0.5}, "shadow", f"over the dry base: {SHADE_PLACE}")
    work.lay(light, {"edge": _BLENDS}, "edge", "again over the edge of the shadow, to blend")


def _outline_ink(palette: Palette) -> StampInk | None:
    """Darkest matt stamp ink of the drawer, the usual outline."""
    plain = [ink for ink in palette.inks if not ink.rough]
    return min(plain, key=lambda ink: float(ink.lab[0]), default=None)
