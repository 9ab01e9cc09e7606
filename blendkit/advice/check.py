"""What a palette holds: counts, families, and the markers that have no companion in it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blendkit.advice.shading_series import FIT, WORTH_BLENDING, Taste, bound_shading, score_pairs
from blendkit.inked import Inked, Swatch, ink_drawer, swatch_of
from blendkit.palette import Palette
from blendkit.palette.calibration_file import read_calibrations
from blendkit.palette.doubts import find_doubts
from blendkit.spectrum import reflectance_to_lab

Floats = NDArray[np.float64]


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


@dataclass(frozen=True)
class Best:
    """The best companion of each marker on one side: its row, and its score, 0 to 100; both of shape (n,)."""

    row: NDArray[np.intp]
    score: Floats


_BASES_AT_ONCE = 400_000
"""Pairs bounded at once, so that the working arrays of a large drawer stay within some 20 MB."""
_TRIED_FIRST = 24
"""Companions tried before all that could fit are: enough for nearly every base of a full drawer."""


def find_best(
    inked: Inked, taste: Taste, threshold: float, wanted: NDArray[np.bool_], *, lighter: bool
) -> Best:
    """Find the best shadow, or light, of each marker of a drawer.

    What a bound on its score leaves out is never scored; a base is done with once one companion fits.

    Args:
        inked: the drawer on its paper.
        taste: window and lean.
        threshold: score from which a companion fits, 0 to 100.
        wanted: which markers to look for, shape (n,); the others get 100.
        lighter: look for lights.

    Returns: below the threshold the best of all, the first of equals, 0 where nothing scores; from it on
        some companion that fits.
    """
    count = len(inked.markers)
    best = Best(np.zeros(count, dtype=np.intp), np.where(wanted, 0.0, 100.0))
    looked = np.flatnonzero(wanted)
    slice_size = max(1, _BASES_AT_ONCE // max(count, 1))
    for start in range(0, len(looked), slice_size):
        bases = looked[start : start + slice_size]
        pale, dark = (slice(None), bases) if lighter else (bases, slice(None))
        bound = bound_shading(inked.lab[pale], inked.more_ink[pale], inked.lab[dark], taste)
        bound = bound.T if lighter else bound
        bound[np.arange(len(bases)), bases] = 0.0
        _try(inked, taste, best, bases, bound, threshold, lighter)
    return best


def _try(
    inked: Inked,
    taste: Taste,
    best: Best,
    bases: NDArray[np.intp],
    bound: NDArray[np.float32],
    threshold: float,
    lighter: bool,
) -> None:
    """Score the companions of some bases, most promising first, until each base is settled."""
    first = min(_TRIED_FIRST, bound.shape[1] - 1)
    tops = np.argpartition(-bound, first, axis=1)[:, : first + 1]
    least = max(min(threshold, WORTH_BLENDING), 1e-9)
    _score(
        inked, taste, best, bases, np.where(np.take_along_axis(bound, tops, 1) >= least, tops, -1), lighter
    )
    np.put_along_axis(bound, tops, 0.0, axis=1)
    for place in np.flatnonzero(best.score[bases] < threshold).tolist():
        base = bases[place : place + 1]
        row = bound[place]
        others = np.flatnonzero(row >= max(least, best.score[base[0]]))
        others = others[np.argsort(-row[others], kind="stable")]
        while len(others) and row[others[0]] >= best.score[base[0]] < threshold:
            _score(inked, taste, best, base, others[None, :_TRIED_MORE], lighter)
            others = others[_TRIED_MORE:]


_TRIED_MORE = 500
"""Companions that are tried at once after the likeliest; it bounds memory and changes no answer."""


def _score(
    inked: Inked, taste: Taste, best: Best, bases: NDArray[np.intp], others: NDArray[np.intp], lighter: bool
) -> None:
    """Score companions of bases, shape (bases, k), -1 for none, and keep the best."""
    scores = np.full(others.shape, -1.0)
    at, _ = used = np.nonzero(others >= 0)
    pairs = (others[used], bases[at]) if lighter else (bases[at], others[used])
    scores[used] = score_pairs(inked.model, inked.looks, inked.more_ink, inked.looks, pairs, taste)
    top = np.lexsort((others, -scores), axis=1)[:, :1]
    score = np.take_along_axis(scores, top, 1)[:, 0]
    other = np.take_along_axis(others, top, 1)[:, 0]
    before = best.score[bases], best.row[bases]
    better = (score > before[0]) | ((score == before[0]) & (score > 0.0) & (other < before[1]))
    best.score[bases[better]] = score[better]
    best.row[bases[better]] = other[better]


DEEP_ENOUGH = 25.0
"""L* below which a base is itself a deepest shadow and lacks none. Common practice, no source."""
PALE_ENOUGH = 12.0
"""L* from the paper within which bare paper is a base's light. Common practice, no source."""


def find_lacking(
    inked: Inked, taste: Taste | None = None, threshold: float = FIT
) -> tuple[dict[int, tuple[int, float]], dict[int, tuple[int, float]]]:
    """Markers that lack a shadow, and those that lack a light, each with its nearest miss.

    Very dark markers need no shadow, and what is nearly as pale as the paper needs no light.

    Args:
        inked: the drawer on its paper.
        taste: window and lean.
        threshold: score from which a companion counts, 0 to 100.

    Returns: two tables from the row that lacks one, ascending, to the best companion's row and its score, 0
        where the drawer has nothing at all.
    """
    taste = taste or Taste()
    lightness = inked.lab[:, 0]
    paper = float(reflectance_to_lab(inked.paper_reflectance)[0])
    lacking: list[dict[int, tuple[int, float]]] = []
    for lighter, wanted in ((False, lightness >= DEEP_ENOUGH), (True, lightness <= paper - PALE_ENOUGH)):
        best = find_best(inked, taste, threshold, wanted, lighter=lighter)
        rows = np.flatnonzero(best.score < threshold).tolist()
        lacking.append({row: (int(best.row[row]), float(best.score[row])) for row in rows})
    return lacking[0], lacking[1]


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
    if palette.blenders:
        counts["blender"] = len(palette.blenders)
    families: tuple[Family, ...] = ()
    without_shadow: tuple[str, ...] = ()
    without_light: tuple[str, ...] = ()
    if palette.markers:
        inked = ink_drawer(palette, on).at_hand
        families = tuple(
            Family(name, tuple(swatch_of(one.name, inked.lab[inked.row(one.name)]) for one in group))
            for name, group in sorted(inked.palette.families.items())
        )
        names = [marker.name for marker in inked.markers]
        dark, pale = find_lacking(inked)
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
    out = [item.name for item in (*palette.items, *palette.blenders) if item.out]
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
            f"How coats add up was fitted to {fit.paper} ({fit.date or 'no date'}); "
            "blendkit calibrate --forget undoes it."
        )
    return PaletteCheck(
        counts, families, alone, without_shadow, without_light, unmeasured, rough, tuple(words)
    )
