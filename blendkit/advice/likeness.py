"""What in the drawer comes nearest to colours from elsewhere: a photo, a fabric, a garden."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blendkit.advice.pairs import Companion, find_companions
from blendkit.advice.papers import Match, find_matches
from blendkit.advice.shading_series import Taste
from blendkit.colour import delta_e_2000
from blendkit.errors import ColourError
from blendkit.inked import Inked, Swatch, ink_drawer, swatch_of
from blendkit.palette import Palette
from blendkit.words import MATCH_LIMIT, verdict_of

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class NearMarker:
    """A marker near a colour, with the difference in CIEDE2000 and in words."""

    marker: Swatch
    delta_e_2000: float
    verdict: str


@dataclass(frozen=True, slots=True)
class Likeness:
    """A colour, and what the drawer has that is like it.

    Args:
        colour: the colour from elsewhere.
        markers: the nearest markers on the paper, nearest first.
        shadow: what shades the nearest marker, or None.
        light: what lights it, or None.
        papers: the nearest papers, ribbons and inks.
        words: the same in a sentence.
    """

    colour: Swatch
    markers: tuple[NearMarker, ...]
    shadow: Companion | None
    light: Companion | None
    papers: tuple[Match, ...]
    words: str


@dataclass(frozen=True, slots=True)
class LikenessAdvice:
    """Answer to “what have I got for these colours?”

    Args:
        on: the paper.
        likenesses: one for each colour, in the order given.
        fits: whether at least one colour has a marker nearer than a clear difference (5 CIEDE2000).
        words: what to know.
    """

    on: str
    likenesses: tuple[Likeness, ...]
    fits: bool
    words: tuple[str, ...]


def find_likenesses(
    palette: Palette,
    colours: Sequence[tuple[str, Floats]],
    *,
    on: str | None = None,
    taste: Taste | None = None,
    count: int = 3,
    inked: Inked | None = None,
) -> LikenessAdvice:
    """Find markers, their companions and papers for colours from elsewhere.

    Args:
        palette: the drawer.
        colours: (name, Lab) pairs, at least one.
        on: the paper; None for the one that most swatches lie on.
        taste: window and lean of the companions.
        count: markers and papers for each colour at most.
        inked: the drawer on that paper, if at hand.

    Returns: a likeness for each colour.
    Raises: ColourError for no colour; PaletteError when *on* is not in the palette.
    """
    if not colours:
        raise ColourError("There is no colour to look for.")
    inked = (inked or ink_drawer(palette, on)).at_hand
    found: list[Likeness] = []
    for name, lab in colours:
        markers = find_near_markers(inked, lab, count)
        nearest = inked.asked(inked.row(markers[0].marker.name))
        shadow = next(iter(find_companions(inked, nearest, taste=taste, count=1)), None)
        light = next(iter(find_companions(inked, nearest, lighter=True, taste=taste, count=1)), None)
        typed = "lab({:.4f} {:.4f} {:.4f})".format(*lab)
        papers = find_matches(palette, typed, count=count, inked=inked).matches
        found.append(
            Likeness(
                swatch_of(name, np.asarray(lab, dtype=np.float64)),
                markers,
                shadow if shadow is not None and shadow.fits else None,
                light if light is not None and light.fits else None,
                papers,
                _words(name, markers[0], shadow),
            )
        )
    far = [one.colour.name for one in found if one.markers[0].verdict == "different"]
    words = (f"The drawer has a marker near every one of {len(found)} colours.",)
    if far:
        words = (f"No marker comes near {', '.join(far)}; blend, layer, or look for one.",)
    return LikenessAdvice(inked.paper.name, tuple(found), len(far) < len(found), words)


def find_near_markers(inked: Inked, lab: Floats, count: int = 3) -> tuple[NearMarker, ...]:
    """Give the markers nearest to a colour, shape (3,), as one coat of them looks on the paper, nearest first."""
    inked = inked.at_hand
    difference = delta_e_2000(lab, inked.lab)
    return tuple(
        NearMarker(
            swatch_of(inked.markers[row].name, inked.lab[row]),
            float(difference[row]),
            verdict_of(float(difference[row])).word,
        )
        for row in np.argsort(difference, kind="stable")[:count].tolist()
    )


def near_words(name: str, near: NearMarker) -> str:
    """Say which of the drawer's markers a colour nearly is, or that none comes near."""
    if near.delta_e_2000 < MATCH_LIMIT:
        return f"{name} comes nearest to your {near.marker.name}: {verdict_of(near.delta_e_2000).words}."
    return (
        f"No marker of yours comes near {name}: the nearest, {near.marker.name}, is another colour. "
        "The answer holds for a marker of that colour, if you get one."
    )


def _words(name: str, near: NearMarker, shadow: Companion | None) -> str:
    text = f"{name}: {near.marker.name} ({near.verdict})"
    if shadow is not None and shadow.fits:
        text += f", shaded with {shadow.name}" if shadow.how == "marker" else f", shaded by {shadow.how}"
    return text + "."
