"""Markers that nobody could tell apart, grouped, under each light."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blendkit.colour import delta_e_2000
from blendkit.errors import ColourError
from blendkit.inked import Swatch, ink_drawer, swatch_of
from blendkit.palette import Palette
from blendkit.spectrum import LIGHTS, reflectance_to_lab
from blendkit.words import VERDICTS

DEFAULT_THRESHOLD = VERDICTS[0].below
"""CIEDE2000 below which nobody sees a difference: the first band of the verdicts."""


@dataclass(frozen=True, slots=True)
class Double:
    """Markers that look the same in the interior light.

    Args:
        markers: two or more.
        largest: the largest CIEDE2000 within the group.
        by_light: the same under each light.
        parts_under: lights under which two of them could be told apart.
        words: what to make of it.
    """

    markers: tuple[Swatch, ...]
    largest: float
    by_light: dict[str, float]
    parts_under: tuple[str, ...]
    words: str


@dataclass(frozen=True, slots=True)
class DoublesAdvice:
    """Answer to “which of my markers are the same?”

    Args:
        on: the paper.
        threshold: CIEDE2000 below which two count as one.
        doubles: groups in the interior light D50, the closest first.
        by_light: under each light, the groups of names there.
        fits: whether there is any group.
        words: what to know.
    """

    on: str
    threshold: float
    doubles: tuple[Double, ...]
    by_light: dict[str, tuple[tuple[str, ...], ...]]
    fits: bool
    words: tuple[str, ...]


def find_doubles(
    palette: Palette, *, on: str | None = None, threshold: float = DEFAULT_THRESHOLD
) -> DoublesAdvice:
    """Group the markers that nobody could tell apart on a paper, under each light.

    Within a group every two markers are closer than the threshold (complete linkage), so no group is a chain of
    near colours whose ends differ.

    Args:
        palette: the drawer.
        on: the paper; None for the one that most swatches lie on.
        threshold: CIEDE2000, above 0.

    Returns: the groups.
    Raises: ColourError for a threshold that is not above 0; PaletteError when *on* is not in the palette.
    """
    if not threshold > 0.0:
        raise ColourError(
            f"The threshold is {threshold:g}; it is a colour difference above 0, for example 1."
        )
    inked = ink_drawer(palette, on).at_hand
    names = [marker.name for marker in inked.markers]
    apart = {light: _differences(inked.reflectance, light) for light in LIGHTS}
    groups = {light: _groups(table, threshold) for light, table in apart.items()}
    doubles: list[Double] = []
    for group in groups["D50"]:
        at = np.ix_(group, group)
        by_light = {light: float(table[at].max()) for light, table in apart.items() if light != "D50"}
        parts = tuple(light for light, value in by_light.items() if value >= threshold)
        words = "keep one, or keep both for a class"
        if parts:
            words = f"the same in daylight, but they part under {', '.join(parts)}"
        doubles.append(
            Double(
                tuple(swatch_of(names[row], inked.lab[row]) for row in group),
                float(apart["D50"][at].max()),
                by_light,
                parts,
                words + ".",
            )
        )
    doubles.sort(key=lambda double: double.largest)
    spare = sum(len(double.markers) - 1 for double in doubles)
    words_all = (
        (f"{len(doubles)} groups look the same; {spare} markers could be spared.",)
        if doubles
        else ("Every marker can be told from every other.",)
    )
    named = {
        light: tuple(tuple(names[row] for row in group) for group in found) for light, found in groups.items()
    }
    return DoublesAdvice(inked.paper.name, threshold, tuple(doubles), named, bool(doubles), words_all)


def _differences(reflectance: NDArray[np.float64], light: str) -> NDArray[np.float64]:
    labs = reflectance_to_lab(reflectance, light=light)
    return delta_e_2000(labs[:, None, :], labs[None, :, :])


def _groups(apart: NDArray[np.float64], threshold: float) -> list[list[int]]:
    """Group rows by complete linkage; only rows that have a near neighbour are looked at."""
    near = (apart < threshold) & ~np.eye(len(apart), dtype=bool)
    rows = np.flatnonzero(near.any(axis=1))
    if len(rows) < 2:
        return []
    from scipy.cluster.hierarchy import fcluster, linkage
    from scipy.spatial.distance import squareform

    table = apart[np.ix_(rows, rows)]
    table = (table + table.T) / 2.0
    np.fill_diagonal(table, 0.0)
    labels = fcluster(
        linkage(squareform(table, checks=False), "complete"), np.nextafter(threshold, 0.0), "distance"
    )
    groups = [rows[labels == label].tolist() for label in np.unique(labels)]
    return [group for group in groups if len(group) > 1]
