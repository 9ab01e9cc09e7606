"""What a screen needs beside the records: text that reads on a swatch, coats, and colours under other lights.

Things of the drawer as swatches, and what every page has to know of the palette.
"""

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendkit.advice.gaps import GapAdvice
from blendkit.colour import (
    contrast_wcag,
    hex_to_lab,
    lab_to_display,
    lab_to_hex,
    lab_to_lch,
    lab_to_xyz1,
    labs_to_display_srgb1,
    simulate_colour_vision,
    xyz1_to_lab,
)
from blendkit.desk.project_desk import Desk
from blendkit.desk.session import Steps
from blendkit.files import list_versions
from blendkit.inked import Inked, choose_paper, measured_or_estimated
from blendkit.palette import Item, Marker, Palette, Paper, Reading
from blendkit.records import to_json
from blendkit.spectrum import reflectance_to_lab, white_xyz1
from blendkit.words import NEUTRAL_CHROMA, describe_colour

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


ARRANGEMENTS = ("hue", "family", "gap")


EARTH_CHROMA = 34.0
"""Chroma below which reds, oranges and yellows lie with the earths. A choice, no source."""

_TRAYS = (
    (12.0, "Roses"),
    (42.0, "Reds"),
    (70.0, "Oranges"),
    (102.0, "Yellows"),
    (160.0, "Greens"),
    (228.0, "Teals"),
    (290.0, "Blues"),
    (350.0, "Violets"),
    (361.0, "Roses"),
)
"""Upper limit of the CIELAB hue angle of each tray, degrees. Own reading, common practice."""

_ORDER = ("Roses", "Reds", "Oranges", "Yellows", "Greens", "Teals", "Blues", "Violets", "Earths", "Greys")


@dataclass(frozen=True, slots=True)
class Tray:
    """One compartment of the drawer.

    Args:
        title: its label.
        names: the markers in it, lightest first.
        words: what to know of it, or "".
    """

    title: str
    names: tuple[str, ...]
    words: str = ""


def arrange(inked: Inked, by: str, gaps: GapAdvice | None = None) -> tuple[Tray, ...]:
    """Lay the markers out in trays.

    Args:
        inked: the drawer on its paper.
        by: one of :data:`ARRANGEMENTS`.
        gaps: what the drawer lacks, for "gap".

    Returns: the trays, each with at least one marker; every marker in one tray at least.
    """
    if by == "family":
        return _by_family(inked)
    if by == "gap" and gaps is not None:
        return _by_gap(inked, gaps)
    return _by_hue(inked)


def _lightest_first(inked: Inked, rows: Sequence[int]) -> tuple[str, ...]:
    return tuple(inked.markers[row].name for row in sorted(rows, key=lambda row: -inked.lab[row, 0]))


def _by_hue(inked: Inked) -> tuple[Tray, ...]:
    trays: dict[str, list[int]] = {title: [] for title in _ORDER}
    for row, lch in enumerate(lab_to_lch(inked.lab)):
        trays[_hue_tray(lch)].append(row)
    return tuple(Tray(title, _lightest_first(inked, rows)) for title, rows in trays.items() if rows)


def _hue_tray(lch: NDArray[np.float64]) -> str:
    if lch[1] < NEUTRAL_CHROMA:
        return "Greys"
    if 30.0 <= lch[2] < 95.0 and lch[1] < EARTH_CHROMA:
        return "Earths"
    return next(title for limit, title in _TRAYS if lch[2] < limit)


def _by_family(inked: Inked) -> tuple[Tray, ...]:
    trays: dict[str, list[int]] = {}
    for row, marker in enumerate(inked.markers):
        trays.setdefault(marker.family, []).append(row)
    alone = trays.pop("", [])
    found = [
        Tray(
            family,
            _lightest_first(inked, rows),
            "one member only: it has neither light nor shadow of its own" if len(rows) == 1 else "",
        )
        for family, rows in sorted(trays.items(), key=lambda pair: pair[0].casefold())
    ]
    if alone:
        found.append(Tray("No family yet", _lightest_first(inked, alone)))
    return tuple(found)


def _by_gap(inked: Inked, gaps: GapAdvice) -> tuple[Tray, ...]:
    lacks: dict[str, set[str]] = {}
    for need in gaps.needs:
        lacks.setdefault(need.base, set()).add(need.lacks)
    kinds: tuple[tuple[str, set[str], str], ...] = (
        ("No shadow, no light", {"shadow", "light"}, "nothing in the drawer shades or lights these"),
        ("No shadow", {"shadow"}, "no darker marker of the drawer fits these"),
        ("No light", {"light"}, "no lighter marker fits these; bare paper can be their light"),
        ("Complete", set(), "these lack nothing"),
    )
    return tuple(
        Tray(title, _lightest_first(inked, rows), words)
        for title, wanted, words in kinds
        if (rows := [row for row, one in enumerate(inked.markers) if lacks.get(one.name, set()) == wanted])
    )


def fingerprint(item: Item) -> str:
    """Give a short text that changes with anything about a thing, so that a change made elsewhere shows."""
    facts: list[object] = [item.kind, item.name, item.finish, item.family, item.note]
    if isinstance(item, Marker):
        facts += [item.on, [(coats, reading._facts()) for coats, reading in item.readings]]
    else:
        facts.append(item.reading._facts())
    if isinstance(item, Paper):
        facts += [item.coat_limit, [(part.name, part.share, part.lab.tolist()) for part in item.pattern]]
    return hashlib.sha256(repr(facts).encode()).hexdigest()[:16]


@dataclass(frozen=True)
class CoatLook:
    """The colour of a number of coats on the paper, and whether it was measured."""

    coats: int
    hex: str
    measured: bool


@dataclass(frozen=True)
class ItemLook:
    """A marker, paper, ribbon or ink as a swatch.

    Args:
        name, kind, family, finish, note: as in the palette.
        was: fingerprint, to be sent back with a change.
        lab: as it looks on the paper that is worked on.
        hex: what a screen can show of it.
        mapped: True when *hex* stands in for a colour that sRGB can't show.
        words: the colour in plain words.
        coats: of a marker, 1 to 3 coats on the paper.
        measured: False when it was only typed as a hex colour.
        rough: True when its finish has no single colour.
        on: of a marker, the paper under its swatch.
        coat_limit: of a paper, coats that it takes.
        pattern: of a patterned paper, its colours with their shares.
    """

    name: str
    kind: str
    family: str
    finish: str
    note: str
    was: str
    lab: tuple[float, float, float]
    hex: str
    mapped: bool
    words: str
    coats: tuple[CoatLook, ...]
    measured: bool
    rough: bool
    on: str
    coat_limit: int
    pattern: tuple[dict[str, Any], ...] = ()


def marker_looks(desk: Desk, on: str | None, palette: Palette) -> list[ItemLook]:
    """Give every marker of the drawer as it looks on a paper, in the drawer's order."""
    if not palette.markers:
        return []
    inked = desk.inked(on)
    coats = inked.coat_labs(np.arange(len(inked.markers)), 3)
    hexes = np.array(hexes_of(coats.reshape(-1, 3))).reshape(len(palette.markers), -1)
    looks = []
    for row, marker in enumerate(inked.markers):
        look = look_of(marker, inked.lab[row])
        steps = tuple(
            CoatLook(number + 1, str(hex_), marker.reading(number + 1) is not None)
            for number, hex_ in enumerate(hexes[row])
        )
        looks.append(replace(look, coats=steps, hex=str(hexes[row, 0])))
    return looks


def look_of(item: Item, lab: NDArray[np.float64]) -> ItemLook:
    """Give one thing as a swatch of a colour, shape (3,)."""
    display = lab_to_display(lab)
    reading = item.readings[0][1] if isinstance(item, Marker) else item.reading
    pattern: tuple[dict[str, Any], ...] = ()
    if isinstance(item, Paper):
        pattern = tuple(
            {"name": part.name, "share": part.share, "hex": lab_to_display(part.lab).hex}
            for part in item.pattern
        )
    return ItemLook(
        name=item.name,
        kind=item.kind,
        family=item.family,
        finish=item.finish,
        note=item.note,
        was=fingerprint(item),
        lab=(float(lab[0]), float(lab[1]), float(lab[2])),
        hex=display.hex,
        mapped=display.mapped,
        words=describe_colour(lab),
        coats=(),
        measured=not reading.typed.startswith("#"),
        rough=item.rough,
        on=item.on if isinstance(item, Marker) else "",
        coat_limit=item.coat_limit if isinstance(item, Paper) else 0,
        pattern=pattern,
    )


def _from_home(folder: Path) -> str:
    """A folder as people write it, the home folder as ~."""
    folder, home = folder.absolute(), Path.home()
    return str("~" / folder.relative_to(home)) if folder.is_relative_to(home) else str(folder)


def show_state(desk: Desk) -> dict[str, Any]:
    """Give what every page needs: which version is on disk, and what can be taken back."""
    version, palette = desk.current()
    return shown(
        {
            "version": version,
            "palette": desk.palette_path.name,
            "folder": _from_home(desk.palette_path.parent),
            "is_demo": desk.is_demo,
            "is_empty": not palette.items,
            "counts": {
                "marker": len(palette.markers),
                "paper": len(palette.papers),
                "ribbon": len(palette.ribbons),
                "ink": len(palette.inks),
            },
            "papers": [paper.name for paper in (*palette.papers, *palette.ribbons)],
            "blenders": [one.name for one in palette.blenders if not one.out],
            "usual_paper": choose_paper(palette, None).name,
            "undo": desk.steps.undo_words,
            "redo": desk.steps.redo_words,
        }
    )


def version_rows(path: Path, steps: Steps) -> list[dict[str, str]]:
    """Give the earlier versions of a file: when each was replaced, and the step that it came after, or ""."""
    return [
        {"name": one.name, "replaced": one.replaced.isoformat(), "after": steps.words_of(one.path)}
        for one in list_versions(path)
    ]
