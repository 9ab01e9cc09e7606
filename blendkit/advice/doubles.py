"""Markers that nobody could tell apart, grouped, under each light."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from blendkit.advice.lamps import difference_ranges
from blendkit.advice.papers import lights_listed
from blendkit.advice.stacks import widest_step
from blendkit.colour import delta_e_2000
from blendkit.errors import ColourError
from blendkit.inked import Swatch, ink_drawer, swatch_of
from blendkit.palette import Palette
from blendkit.spectrum import LIGHTS, reflectance_to_lab
from blendkit.words import VERDICTS, count_of

DEFAULT_THRESHOLD = VERDICTS[0].below
"""CIEDE2000 below which nobody sees a difference: the first band of the verdicts."""


@dataclass(frozen=True, slots=True)
class Double:
    """Markers that look the same in the interior light.

    Args:
        markers: two or more.
        largest: the largest CIEDE2000 within the group.
        by_light: the same under each light.
        parts_under: lights under which two of them are told apart for certain.
        words: what to make of it.
        open_under: lights under which only measured spectra could tell (:mod:`~blendkit.advice.lamps`).
    """

    markers: tuple[Swatch, ...]
    largest: float
    by_light: dict[str, float]
    parts_under: tuple[str, ...]
    words: str
    open_under: tuple[str, ...] = ()


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
    labs = {light: reflectance_to_lab(inked.reflectance, light=light) for light in LIGHTS}
    groups = {light: _groups(table, threshold) for light, table in labs.items()}
    spectra = np.array(
        [marker.readings[0][1].reflectance is not None for marker in inked.markers], dtype=bool
    )
    doubles: list[Double] = []
    for group in groups["D50"]:
        one, other = (np.array(group)[side] for side in np.triu_indices(len(group), 1))
        by_light = {light: float(delta_e_2000(at[one], at[other]).max()) for light, at in labs.items()}
        ranges = difference_ranges(
            inked.reflectance[one], inked.reflectance[other], (spectra[one], spectra[other])
        )
        parts = tuple(light for light, (least, _) in ranges.items() if least.max() >= threshold)
        open_lights = [
            light for light, (_, most) in ranges.items() if light not in parts and most.max() >= threshold
        ]
        words = "keep one, or keep both for a class"
        if parts:
            words = f"the same by day, but they part {lights_listed(parts)}"
        doubles.append(
            Double(
                tuple(swatch_of(names[row], inked.lab[row]) for row in group),
                by_light.pop("D50"),
                by_light,
                parts,
                words + ".",
                tuple(open_lights),
            )
        )
    doubles.sort(key=lambda double: double.largest)
    spare = sum(len(double.markers) - 1 for double in doubles)
    words_all: list[str] = ["Every marker can be told from every other."]
    if doubles:
        groups_seen = "In one group" if len(doubles) == 1 else f"In each of {len(doubles)} groups"
        words_all = [f"{groups_seen} the markers look the same; {count_of(spare, 'marker')} could be spared."]
    if any(double.open_under for double in doubles):
        words_all.append("By daylight, that is: whether a lamp parts them, only measured spectra could tell.")
    named = {
        light: tuple(tuple(names[row] for row in group) for group in found) for light, found in groups.items()
    }
    return DoublesAdvice(inked.paper.name, threshold, tuple(doubles), named, bool(doubles), tuple(words_all))


def _groups(labs: NDArray[np.float64], threshold: float) -> list[list[int]]:
    """Group rows by complete linkage, one set of rows that hang together by near pairs at a time."""
    from scipy.cluster.hierarchy import fcluster, linkage
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree
    from scipy.spatial.distance import squareform

    near = cKDTree(labs).query_pairs(widest_step(labs, threshold), output_type="ndarray")
    near = near[delta_e_2000(labs[near[:, 0]], labs[near[:, 1]]) < threshold]
    graph = coo_array((np.ones(len(near)), (near[:, 0], near[:, 1])), shape=(len(labs), len(labs)))
    _, piece = connected_components(graph, directed=False)
    order = np.argsort(piece, kind="stable")
    groups: list[list[int]] = []
    for rows in np.split(order, np.flatnonzero(np.diff(piece[order])) + 1):
        if len(rows) < 2:
            continue
        table = delta_e_2000(labs[rows][:, None], labs[rows][None])
        table = (table + table.T) / 2.0
        np.fill_diagonal(table, 0.0)
        tree = linkage(squareform(table, checks=False), "complete")
        labels = fcluster(tree, np.nextafter(threshold, 0.0), "distance")
        groups += [rows[labels == label].tolist() for label in np.unique(labels)]
    return sorted(group for group in groups if len(group) > 1)
