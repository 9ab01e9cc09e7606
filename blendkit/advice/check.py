"""What a palette holds: counts, families, and the markers that have no companion in it."""

from dataclasses import dataclass

import numpy as np

from blendkit.advice.shading_series import FIT, Taste, score_shading
from blendkit.inked import Inked, Swatch, ink_drawer, swatch_of
from blendkit.palette import Palette
from blendkit.palette.calibration_file import read_calibrations
from blendkit.palette.doubts import find_doubts
from blendkit.spectrum import reflectance_to_lab

Floats = np.ndarray[tuple[int, ...], np.dtype[np.float64]]


@dataclass(frozen=True, slots=True)
class Family:
    """A family of the palette, lightest marker first."""

    name: str
    markers: tuple[Swatch, ...]


@dataclass(frozen=True, slots=True)
class PaletteCheck:
    """Answer to “is my palette file right, and what is in it?”

    Args:
        counts: how many of each kind.
        families: families with their markers, by name.
        alone: families of one marker.
        without_shadow: markers that lack a fitting shadow; very dark ones need none.
        without_light: markers that lack a fitting light; very pale ones need none.
        unmeasured: markers given as a hex colour, which nobody measured.
        rough: things whose finish has no single colour.
        words: what to know.
    """

    counts: dict[str, int]
    families: tuple[Family, ...]
    alone: tuple[str, ...]
    without_shadow: tuple[str, ...]
    without_light: tuple[str, ...]
    unmeasured: tuple[str, ...]
    rough: tuple[str, ...]
    words: tuple[str, ...]


def score_all_pairs(inked: Inked, taste: Taste | None = None) -> Floats:
    """Score every marker as a shadow of every other: shape (n, n), base first, 0 on the diagonal.

    A light companion is the same pair seen from the other end, so column j holds the scores of j's lights.
    """
    count = len(inked.markers)
    scores = np.zeros((count, count))
    # In slices of bases, so that the working arrays of a large drawer stay within some 200 MB.
    slice_size = max(1, 8_000 // max(count, 1))
    for start in range(0, count, slice_size):
        rows = slice(start, start + slice_size)
        scores[rows] = score_shading(
            inked.model,
            inked.looks[rows, None],
            inked.looks[None, :],
            inked.more_ink[rows, None],
            taste=taste,
        ).score
    np.fill_diagonal(scores, 0.0)
    return scores


DEEP_ENOUGH = 25.0
"""L* below which a base is itself a deepest shadow and lacks none. Common practice, no source."""
PALE_ENOUGH = 12.0
"""L* from the paper within which bare paper is a base's light. Common practice, no source."""


def find_lacking(inked: Inked, scores: Floats, threshold: float) -> tuple[list[int], list[int]]:
    """Rows of the markers that lack a shadow, and of those that lack a light.

    Very dark markers need no shadow, and what is nearly as pale as the paper needs no light.

    Args:
        inked: the drawer on its paper.
        scores: from :func:`score_all_pairs`.
        threshold: score from which a companion counts, 0 to 100.

    Returns: two lists of rows, ascending.
    """
    lightness = inked.lab[:, 0]
    paper = float(reflectance_to_lab(inked.paper_reflectance)[0])
    without_shadow = (scores.max(axis=1) < threshold) & (lightness >= DEEP_ENOUGH)
    without_light = (scores.max(axis=0) < threshold) & (lightness <= paper - PALE_ENOUGH)
    return np.flatnonzero(without_shadow).tolist(), np.flatnonzero(without_light).tolist()


def check_palette(palette: Palette, *, on: str | None = None) -> PaletteCheck:
    """Count what a palette holds, and list the markers that have no companion in it.

    Args:
        palette: a palette; reading it has already checked every row.
        on: the paper that is coloured on; None for the one that most swatches lie on.

    Returns: counts and lists, names in the palette's order.
    Raises: PaletteError when *on* is not in the palette.
    """
    counts = {
        "marker": len(palette.markers),
        "paper": len(palette.papers),
        "ribbon": len(palette.ribbons),
        "ink": len(palette.inks),
    }
    families: tuple[Family, ...] = ()
    without_shadow: tuple[str, ...] = ()
    without_light: tuple[str, ...] = ()
    if palette.markers:
        inked = ink_drawer(palette, on).at_hand
        families = tuple(
            Family(name, tuple(swatch_of(one.name, inked.lab[inked.row(one.name)]) for one in group))
            for name, group in sorted(inked.palette.families.items())
        )
        scores = score_all_pairs(inked)
        names = [marker.name for marker in inked.markers]
        dark, pale = find_lacking(inked, scores, FIT)
        without_shadow = tuple(names[row] for row in dark)
        without_light = tuple(names[row] for row in pale)
    unmeasured = tuple(
        marker.name for marker in palette.markers if marker.readings[0][1].typed.startswith("#")
    )
    rough = tuple(item.name for item in palette.items if item.rough)
    alone = tuple(family.name for family in families if len(family.markers) == 1)
    summary = ", ".join(f"{count} {kind}{'s' if count != 1 else ''}" for kind, count in counts.items())
    doubts = find_doubts(palette)
    words = [f"The palette file {'can be read' if doubts else 'is sound'}: {summary}.", *doubts]
    out = [item.name for item in palette.items if item.out]
    if out:
        words.append(f"Not at hand, so left out of every advice: {', '.join(out)}.")
    if alone:
        have = "family has" if len(alone) == 1 else "families have"
        words.append(f"{len(alone)} {have} one member only: {', '.join(alone)}.")
    if unmeasured:
        words.append(
            f"{len(unmeasured)} marker{' is' if len(unmeasured) == 1 else 's are'} typed as hex, not measured: "
            "print a chart and read it back."
        )
    for fit in read_calibrations(palette.path) if palette.path is not None else ():
        words.append(
            f"The ink model is fitted to {fit.paper} (surface_share {fit.model.surface_share:g}, "
            f"transfer {fit.model.transfer:g}; {fit.date or 'no date'}); blendkit calibrate --forget undoes it."
        )
    return PaletteCheck(
        counts, families, alone, without_shadow, without_light, unmeasured, rough, tuple(words)
    )
