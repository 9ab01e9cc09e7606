"""What a drawer says that reads well and is hardly so."""

from blendkit.palette.palette import Palette
from blendkit.palette.records import Paper

_LIGHTER = 2.0
"""L* by which a swatch may be lighter than its paper: what two readings of white differ by. Own judgement."""

_DARK = 0.02
"""Reflectance that some band of some swatch exceeds in any drawer: below it lies black velvet. Own judgement."""


def find_doubts(palette: Palette) -> tuple[str, ...]:
    """Give sentences on readings that are hardly right; nothing is refused for them."""
    doubts = []
    for marker in palette.markers:
        paper = palette.get(marker.on) if marker.on else None
        lightest = max(float(reading.lab[0]) for _, reading in marker.readings)
        if isinstance(paper, Paper) and lightest > float(paper.lab[0]) + _LIGHTER:
            doubts.append(
                f"{marker.name} (L* {lightest:.0f}) is lighter than its paper, {paper.name} "
                f"(L* {paper.lab[0]:.0f}): "
                "ink only darkens, so one of the two readings is wrong."
            )
    spectra = [one.reflectance for marker in palette.markers for _, one in marker.readings]
    known = [one for one in spectra if one is not None]
    if known and max(float(one.max()) for one in known) < _DARK:
        doubts.append("No spectrum of a marker passes 2 per cent: are they on another scale?")
    return tuple(doubts)
