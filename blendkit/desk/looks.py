"""What a screen needs beside the records: text that reads on a swatch, coats, and colours under other lights."""

from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendkit.colour import (
    contrast_wcag,
    hex_to_lab,
    lab_to_hex,
    lab_to_xyz1,
    labs_to_display_srgb1,
    simulate_colour_vision,
    xyz1_to_lab,
)
from blendkit.inked import measured_or_estimated
from blendkit.palette import Reading
from blendkit.records import to_json
from blendkit.spectrum import reflectance_to_lab, white_xyz1

Floats = NDArray[np.float64]

EYES = {"": "Usual eyes", "protan": "Without red", "deutan": "Without green", "tritan": "Without blue"}
"""Ways of seeing that the page offers, with their labels."""

_TEXTS = ("#241d19", "#fffdf9", "#000000", "#ffffff")
"""Texts on a swatch, the first that reaches :data:`_SMALL_TEXT` is taken; black or white always does."""

_SMALL_TEXT = 4.5
"""Contrast that small text needs. Source: W3C WCAG 2.2, success criterion 1.4.3."""


def shown(record: Any) -> dict[str, Any]:
    """Give a record as ``--json`` does, with ``text`` beside every ``hex``: the text colour that reads on it.

    Args:
        record: a frozen record, or a dict of records and plain values.

    Returns: plain data with "schema" first.
    """
    data = to_json(record)
    swatches = [one for one in _tables(data) if isinstance(one.get("hex"), str) and one["hex"]]
    texts = text_on([one["hex"] for one in swatches])
    for one, text in zip(swatches, texts, strict=True):
        one["text"] = text
    return data


def _tables(value: Any) -> Iterator[dict[str, Any]]:
    if isinstance(value, dict):
        yield value
        for one in value.values():
            yield from _tables(one)
    elif isinstance(value, list):
        for one in value:
            yield from _tables(one)


_known: dict[str, str] = {}


def text_on(hexes: Sequence[str]) -> list[str]:
    """Give the colour of text that keeps a contrast of 4.5 (WCAG 2.2) on each swatch.

    Args:
        hexes: ``#rrggbb``.

    Returns: ``#rrggbb`` of the text for each.
    """
    new = [text for text in dict.fromkeys(hexes) if text not in _known]
    if new:
        if len(_known) > 50_000:
            _known.clear()
        labs = np.array([hex_to_lab(text) for text in new])
        texts = np.array([hex_to_lab(text) for text in _TEXTS])
        contrast = contrast_wcag(labs[:, None, :], texts[None, :, :])
        for hex_, row in zip(new, contrast, strict=True):
            soft = 0 if row[0] >= row[1] else 1
            _known[hex_] = _TEXTS[soft if row[soft] >= _SMALL_TEXT else 2 + int(row[3] > row[2])]
    return [_known[text] for text in hexes]


def hexes_of(labs: Floats) -> list[str]:
    """Give many Lab colours as a screen can show them, shape (n, 3)."""
    if not len(labs):
        return []
    codes = np.round(labs_to_display_srgb1(labs) * 255).astype(int)
    return [f"#{red:02x}{green:02x}{blue:02x}" for red, green, blue in codes]


def look_under(readings: Sequence[Reading | Floats], light: str, vision: str = "") -> list[str]:
    """Colours as eyes that are used to a light see them, with a colour-vision deficiency if asked.

    Args:
        readings: readings of a palette, or reflectances of shape (36,); from a reading without a spectrum the
            reflectance is estimated.
        light: one of ``spectrum.LIGHTS``.
        vision: "", protan, deutan or tritan.

    Returns: ``#rrggbb`` for each.
    """
    if not readings:
        return []
    given = [one for one in readings if isinstance(one, Reading)]
    estimated = iter(measured_or_estimated(given))
    reflectance = np.array([next(estimated) if isinstance(one, Reading) else one for one in readings])
    labs = reflectance_to_lab(reflectance, light=light)
    if not vision:
        return hexes_of(labs)
    return [_seen(*(round(float(value), 3) for value in lab), vision) for lab in labs]


@lru_cache(maxsize=20_000)
def _seen(lightness: float, a: float, b: float, vision: str) -> str:
    return lab_to_hex(simulate_colour_vision(np.array([lightness, a, b]), vision))


def light_tint(light: str) -> str:
    """Give the wall behind a card under a light, as an eye half used to it sees it.

    How far eyes get used to a lamp varies; a third of the way to the lamp's own colour is our choice.
    """
    neutral = lab_to_xyz1(np.array([92.0, 0.0, 0.0]))
    own = white_xyz1(light) * neutral[1]
    mixed = neutral * (own / neutral) ** (1.0 / 3.0)
    return lab_to_hex(xyz1_to_lab(mixed))
