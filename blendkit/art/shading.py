"""Where the shadow falls in each part of a line image, for a light of the user's choice.

A part is shaded as a colourist would with two or three markers, in three layers that are kept apart: the shadow
that a part in front casts, the turn of the form away from the light, and a thin line of contact where two touch.
The paper is left toward the light, but never within reach of a cast shadow. Widths are millimetres.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendkit.art.cast import cast_shadow
from blendkit.art.material import PLAIN, Material
from blendkit.art.relief import Floats, Relief, smooth_within
from blendkit.errors import ProjectError

BASE_TONE = 0.4
"""Tone of the plain base coat; below it lies the highlight, above it the blend and the shadow."""

LEFT_WHITE = 0.5 * BASE_TONE
"""Below this tone the paper is kept bare while the base goes on."""

STRUCK = (1 + BASE_TONE) / 2
"""From this tone the shadow's marker is laid, before its edge is blended."""

CONTACT_SHARE = 0.95
"""How dark the line of contact is, as a share of the shadow. Own judgement."""

LIGHT_HEIGHT_DEG = 42.0
HIGHLIGHT_HEIGHT_DEG = 56.0
"""How high the light stands over the paper, for the shade and for the highlight. Own judgement."""

BINS = 256
"""Steps of a height over which quantiles are counted: one for each tone of a screen."""

LAYERS = ("cast", "form", "contact")
"""The layers of the shade, in the order in which a colourist cares for them."""


@dataclass(frozen=True)
class ShadeMap:
    """Tone of every pixel, its layers, and what repainting needs.

    Fields:
        tone: 0 highlight, BASE_TONE plain base, 1 shadow; continuous; float32, shape (h, w); 0 outside.
        light_deg: where the light comes from, degrees clockwise from the top.
        shadow_share: share of each part with tone above the middle of the blend, shape (parts + 1,).
        index: part number x 256 + tone, for `paint`; int32, shape (h, w).
        layers: cast, form and contact on the working grid, each 0 none to 1 full, shape (3, h', w').
        gleam: the highlight on the working grid, 0 none to 1 bare paper.
        relief: what was shaded.
        drama, dabs: as `shade` took them.
    """

    tone: Floats
    light_deg: float
    shadow_share: NDArray[np.float64]
    index: NDArray[np.int32] = field(repr=False)
    layers: Floats = field(repr=False)
    gleam: Floats = field(repr=False)
    relief: Relief = field(repr=False)
    drama: float = 1.0
    dabs: Floats | None = field(default=None, repr=False)

    @cached_property
    def cast(self) -> Floats:
        """Shadow that parts in front cast, 0 to 1, at full size."""
        return _enlarged(self.layers[0], self.relief)

    @cached_property
    def form(self) -> Floats:
        """Shade of the form's turn away from the light, 0 to 1, at full size."""
        return _enlarged(self.layers[1], self.relief)

    @cached_property
    def contact(self) -> Floats:
        """Thin line where a part lies under another, 0 to 1, at full size."""
        return _enlarged(self.layers[2], self.relief)


def light_to_deg(light: str | float) -> float:
    """Degrees clockwise from the top for a clock position ("10:30", "2") or a number of degrees.

    Args:
        light: text "h" or "h:mm" on a clock face, or degrees.

    Returns: 0 up to 360; "12" is 0, "3" is 90, "10:30" is 315.
    Raises: ProjectError for text that is no clock position.
    """
    if isinstance(light, int | float):
        if not np.isfinite(light):
            raise ProjectError(f"light: {light} is not a direction; give a clock position such as 10:30")
        return float(light) % 360.0
    hours, colon, minutes = light.strip().partition(":")
    try:
        hour, minute = int(hours), int(minutes) if colon else 0
        if not (0 <= hour <= 12 and 0 <= minute < 60):
            raise ValueError
    except ValueError:
        raise ProjectError(
            f'light: "{light}" is no clock position; give one from "1" to "12", or "10:30" for halfway'
        ) from None
    return (hour % 12 * 30 + minute / 2) % 360.0


def shade(
    relief: Relief,
    light_deg: float = 315.0,
    width_mm: float | NDArray[Any] = 4.0,
    softness_mm: float | NDArray[Any] = 2.4,
    drama: float = 1.0,
    materials: Sequence[Material] | None = None,
    dabs: Floats | None = None,
) -> ShadeMap:
    """Tone of every pixel under a light.

    Args:
        relief: domes and overlaps, from `find_relief`; keep it while only the light changes.
        light_deg: where the light comes from, degrees clockwise from the top; 315 is upper left.
        width_mm: width of the cast shadows and of a part's own; in small parts they take less. One number, or one
            for each part, shape (parts + 1,).
        softness_mm: width of the blend between base and shadow, likewise.
        drama: 0 leaves plain base coats, 1 is full shadow and highlight.
        materials: of each part, the outside first; None for plain ones.
        dabs: what the person's hand adds to the tone on the working grid, from `diffuse_dabs`.

    Returns: a ShadeMap at full size.
    Raises: ProjectError for a width that is not above zero.
    """
    parts = relief.parts
    widths = []
    for name, value in (("width_mm", width_mm), ("softness_mm", softness_mm)):
        each = np.broadcast_to(np.asarray(value, np.float64), (parts + 1,))
        if not (np.isfinite(each).all() and (each > 0).all()):
            raise ProjectError(f"{name}: {value} is no width; give millimetres above 0, such as 3")
        widths.append((each * relief.per_mm).astype(np.float32))
    width_px, soft_px = widths
    of = tuple(materials) if materials is not None else (PLAIN,) * (parts + 1)
    angle = np.deg2rad(light_deg)
    toward = (float(np.sin(angle)), float(-np.cos(angle)))
    units, labels = relief.units, relief.labels
    counts = np.bincount(units.ravel(), minlength=parts + 1)

    cast, near = cast_shadow(relief.overlaps, toward, width_px, labels.shape)
    place, reach = _place_along(relief, toward)
    flicks = _each(of, "flicks")[labels] * relief.grain.flick
    turn = 1 - _lambert(relief, toward, LIGHT_HEIGHT_DEG) - 0.30 * place
    glint = _lambert(relief, toward, HIGHLIGHT_HEIGHT_DEG) + 0.05 * place
    turn += 0.10 * flicks

    # own shadow: a third of a small part, a band of width_mm along the far side of a large one
    share = np.clip(width_px * reach / np.maximum(counts, 1), 0.10, _each(of, "share"))
    # the blend's width in millimetres, as the share of the part that it covers, half to each side
    half = np.clip(0.5 * soft_px * reach / np.maximum(counts, 1), 0.05, 0.75 * share)
    starts = _quantile(turn, units, counts, 1 - share - half)
    deepens = _quantile(turn, units, counts, 1 - share + 0.2 * half)
    ends = _quantile(turn, units, counts, 1 - 0.30 * share)
    form = 0.45 * _step(turn, units, starts, deepens)
    form += 0.55 * _step(turn, units, np.float32(0.5) * (starts + deepens), ends)
    form *= _each(of, "depth")[labels]
    form = _with_grain(form, relief, of, flicks)
    form *= 1 - _each(of, "rim")[labels] * _step(
        turn, units, ends, _quantile(turn, units, counts, 1 - 0.05 * share)
    )

    gleam = _highlight(relief, of, glint, place, counts, flicks)
    gleam *= (1 - near) * (1 - form) ** 2
    edges = smooth_within(np.stack([cast, form, gleam]), units, 0.25 * float(np.median(soft_px)))
    cast, form, gleam = edges[0], edges[1], edges[2] * (1 - near)
    contact = CONTACT_SHARE * relief.contact
    shining = np.array([one.name == "glow" for one in of])[labels]
    if shining.any():  # what shines has no shade, and is lightest in its middle
        cast, contact = np.where(shining, 0, cast), np.where(shining, 0, contact)
        glow = _near_glow(relief, shining)
        cast, form = cast * (1 - GLOW_CLEARS * glow), form * (1 - GLOW_CLEARS * glow)
        gleam = np.maximum(gleam, GLOW_LIFTS * glow * (1 - near) * (1 - form))
    form = _balanced(form, cast, contact, gleam, relief, toward, of)
    layers = np.stack([cast, form, contact]).astype(np.float32)
    small = _small_tone(layers, gleam, drama, dabs)
    tone = _enlarged(small, relief)
    dark = np.bincount(labels.ravel(), (small > (1 + BASE_TONE) / 2).ravel(), parts + 1)
    shares = dark / np.maximum(np.bincount(labels.ravel(), minlength=parts + 1), 1)
    index = _lookup(relief, tone)
    return ShadeMap(tone, float(light_deg) % 360, shares, index, layers, gleam, relief, drama, dabs)


def leave_out(shades: ShadeMap, without: Sequence[str]) -> ShadeMap:
    """The tones without some layers of the shade, so that each can be looked at apart.

    Args:
        shades: tones, from `shade`.
        without: which of LAYERS; the highlights and the person's dabs stay.

    Returns: a ShadeMap that `paint` takes.
    """
    if not without:
        return shades
    kept = np.array([name not in without for name in LAYERS], np.float32)[:, None, None]
    small = _small_tone(shades.layers * kept, shades.gleam, shades.drama, shades.dabs)
    return with_tone(shades, _enlarged(small, shades.relief))


def with_tone(shades: ShadeMap, tone: Floats) -> ShadeMap:
    """The same shade with other tones at full size, 0 to 1."""
    return replace(shades, tone=tone, index=_lookup(shades.relief, tone))


def _lookup(relief: Relief, tone: Floats) -> NDArray[np.int32]:
    """Part and tone of every pixel as one number."""
    return np.asarray(relief.full_labels * 256 + np.round(tone * 255).astype(np.int32), np.int32)


def _small_tone(layers: Floats, gleam: Floats, drama: float, dabs: Floats | None) -> Floats:
    """Tone on the working grid, from its layers, the highlight and what the person's hand adds."""
    small = BASE_TONE + drama * _from_base(_shadow(*layers), gleam)
    return np.asarray(np.clip(small if dabs is None else small + dabs, 0, 1), np.float32)


def _shadow(cast: Floats, form: Floats, contact: Floats) -> Floats:
    """The three layers of shade together."""
    return 1 - (1 - form) * (1 - cast) * (1 - contact)


def _from_base(shadow: Floats, gleam: Floats) -> Floats:
    """How far shade and highlight take the tone from the base coat's."""
    return (1 - BASE_TONE) * shadow - BASE_TONE * gleam * (1 - shadow)


DAB_MM = 2.2
"""How far a dab spreads. Own judgement."""

DAB_TONE = 0.45
"""How much tone a dab adds where it was set. Own judgement."""


def diffuse_dabs(relief: Relief, dabs: Sequence[tuple[float, float, float]]) -> Floats | None:
    """Spread the person's dabs of dark and light inside the surfaces that they were set on.

    Args:
        relief: what is shaded.
        dabs: place as shares of the picture's width and height, and 1 for dark or -1 for light.

    Returns: what they add to the tone on the working grid, float32; None without dabs. A dab beside the parts adds
        nothing.
    """
    if not dabs:
        return None
    h, w = relief.labels.shape
    y, x = np.mgrid[:h, :w]
    total = np.zeros((h, w), np.float32)
    for across, down, sign in dabs:
        column, row = min(max(int(across * w), 0), w - 1), min(max(int(down * h), 0), h - 1)
        if not relief.labels[row, column]:
            continue
        near = np.hypot(x - column, y - row) < 0.5 * DAB_MM * relief.per_mm
        spot = (near & (relief.units == relief.units[row, column])).astype(np.float32)
        spread = smooth_within(spot[None], relief.units, DAB_MM * relief.per_mm)[0]
        total += np.float32(sign * DAB_TONE / max(float(spread.max()), 1e-6)) * spread
    return np.clip(total, -1, 1).astype(np.float32)


GLOW_MM = 9.0
"""How far a drawn light shines. Own judgement."""

GLOW_CLEARS, GLOW_LIFTS = 0.75, 0.8
"""How much shade it takes away beside it, and how much highlight it gives. Own judgement."""


def _near_glow(relief: Relief, shining: NDArray[np.bool_]) -> Floats:
    """How much light what shines throws on its neighbours, 0 to 1.

    It fades with distance and falls on what faces it.
    """
    import cv2

    away = cv2.distanceTransform((~shining).astype(np.uint8), cv2.DIST_L2, 5)
    reach = GLOW_MM * relief.per_mm
    to_x = -cv2.Sobel(away, cv2.CV_32F, 1, 0, scale=0.125)
    to_y = -cv2.Sobel(away, cv2.CV_32F, 0, 1, scale=0.125)
    steep = np.hypot(relief.slope_x, relief.slope_y) + np.maximum(relief.height, 1e-3)
    facing = (-relief.slope_x * to_x - relief.slope_y * to_y) / steep
    fade = np.clip(1 - away / reach, 0, 1)
    lit = fade * np.clip(0.25 + 0.9 * facing, 0, 1)
    return np.where(shining | (relief.labels == 0), 0, lit).astype(np.float32)


FAR_AWAY = (0.2, 0.75)
"""From where to where a shade grows that makes up for a shadow cast on the lit side. Own judgement."""


def _balanced(
    form: Floats,
    cast: Floats,
    contact: Floats,
    gleam: Floats,
    relief: Relief,
    toward: tuple[float, float],
    of: Sequence[Material],
) -> Floats:
    """The form's shade, deeper away from the light in parts that a shadow makes darker toward it.

    A face under a hat is darkest under the brim; without a darker chin it would seem lit from below.
    """
    labels, parts = relief.labels, relief.parts
    mean_x, mean_y, var_x, var_y, both = relief.moments_of_parts
    x, y = toward
    spread = 1.7 * np.sqrt(np.maximum(var_x * x * x + 2 * both * x * y + var_y * y * y, 1.0))
    h, w = labels.shape
    here = np.add.outer(np.arange(h, dtype=np.float32) * y, np.arange(w, dtype=np.float32) * x)
    middle = ((mean_x * x + mean_y * y) / spread).astype(np.float32)
    away = middle[labels] - here * (1 / spread).astype(np.float32)[labels]
    shadow = _shadow(cast, form, contact)
    tone = _from_base(shadow, gleam)
    grows = np.clip((away - FAR_AWAY[0]) / (FAR_AWAY[1] - FAR_AWAY[0]), 0, 1).astype(np.float32)
    room = (1 - BASE_TONE) * grows * (1 - shadow)
    sides = []
    for side, values in ((away < -0.3, tone), (away > 0.3, tone), (away > 0.3, room)):
        own = labels[side]
        count = np.maximum(np.bincount(own, minlength=parts + 1), 1)
        sides.append(np.bincount(own, values[side], parts + 1) / count)
    lit, far, most = sides
    shaded = np.array([one.depth > 0 for one in of])
    wanted = np.where(shaded, np.clip((lit - far) / np.maximum(most, 1e-6), 0, 1), 0).astype(np.float32)
    return np.asarray(1 - (1 - form) * (1 - wanted[labels] * grows), np.float32)


def _each(of: Sequence[Material], key: str) -> Floats:
    """One property of every part's material, shape (parts + 1,)."""
    return np.array([float(getattr(one, key)) for one in of], np.float32)


def _with_grain(form: Floats, relief: Relief, of: Sequence[Material], flicks: Floats) -> Floats:
    """The shade, with dark roots and tips where the material has them."""
    root, tip = _each(of, "root"), _each(of, "tip")
    if not (root.any() or tip.any()):
        return form
    along = relief.grain.along + 0.10 * flicks
    root_dark = root[relief.labels] * np.clip(1 - along / 0.38, 0, 1) ** 1.5
    tip_dark = tip[relief.labels] * np.clip((along - 0.72) / 0.28, 0, 1) ** 1.5
    return np.asarray(1 - (1 - form) * (1 - root_dark) * (1 - tip_dark), dtype=np.float32)


def _highlight(
    relief: Relief, of: Sequence[Material], glint: Floats, place: Floats, counts: NDArray[Any], flicks: Floats
) -> Floats:
    """Highlight of every part, 0 none to 1 bare paper, as its material has it."""
    units, labels = relief.units, relief.labels
    share, edge = _each(of, "gleam"), _each(of, "edge")
    top = _quantile(glint, units, counts, 1 - np.clip(share, 0.001, 1))
    peak = _quantile(glint, units, counts, np.full(len(of), 0.995))
    spread = np.maximum(peak - top, 0.01)
    gleam = _step(glint, units, top - 0.35 * (1 - edge) * spread, peak - 0.85 * edge * spread, 0.02)
    toward_light = np.clip((place + 0.15) / 0.6, 0, 1)  # one highlight, not one on every bump
    all_round = np.array([one.gleam > 0.4 for one in of])
    gleam *= np.where(all_round[labels], 1, toward_light * toward_light * (3 - 2 * toward_light))
    blush = np.array([one.name == "blush" for one in of])
    if blush.any():  # a dab: full in its middle, and fading toward its edge
        most = np.full(len(of), 1e-6, np.float32)
        np.maximum.at(most, labels.ravel(), relief.height.ravel())
        gleam = np.where(blush[labels], 1 - np.clip(1.4 * relief.height / most[labels], 0, 1) ** 2, gleam)
    band = np.array([one.band for one in of])
    if band.any():
        along = relief.grain.along + 0.07 * flicks
        across = np.exp(-(((along - 0.45) / 0.09) ** 2)) * np.clip(0.6 + 0.6 * place, 0, 1)
        gleam = np.where(band[labels], across, gleam)
    return np.asarray(gleam * np.where(share > 0, _each(of, "peak"), 0)[labels], dtype=np.float32)


def _lambert(relief: Relief, toward: tuple[float, float], height_deg: float) -> Floats:
    flat, up = np.cos(np.deg2rad(height_deg)), np.sin(np.deg2rad(height_deg))
    x, y, z = -2 * relief.slope_x, -2 * relief.slope_y, 2 * relief.height
    length = np.sqrt(x * x + y * y + z * z) + np.float32(1e-6)
    return np.asarray((x * (toward[0] * flat) + y * (toward[1] * flat) + z * up) / length, dtype=np.float32)


def _quantile(values: Floats, labels: NDArray[np.int32], counts: NDArray[Any], at: NDArray[Any]) -> Floats:
    """Quantile of *values* in each part, by histograms; shape (parts + 1,)."""
    low, high = float(values.min()), float(values.max()) + 1e-6
    bins = ((values - low) * (BINS / (high - low))).astype(np.int32)
    table = np.bincount((labels * BINS + bins).ravel(), minlength=len(counts) * BINS).reshape(-1, BINS)
    rising = np.cumsum(table, axis=1) / np.maximum(counts, 1)[:, None]
    place = np.argmax(rising >= np.asarray(at)[:, None] - 1e-9, axis=1)
    rows = np.arange(len(counts))
    before = np.where(place > 0, rising[rows, place - 1], 0)
    inside = (np.asarray(at) - before) / np.maximum(rising[rows, place] - before, 1e-9)
    return np.asarray(low + (place + np.clip(inside, 0, 1)) * (high - low) / BINS, dtype=np.float32)


def _step(
    values: Floats, labels: NDArray[np.int32], start: Floats, end: Floats, least: float = 0.06
) -> Floats:
    """Smooth step from 0 at *start* to 1 at *end*, values of each part, over no less than *least*."""
    slope = (1 / np.maximum(end - start, least)).astype(np.float32)
    t = np.clip((values - start[labels]) * slope[labels], 0, 1)
    return np.asarray(t * t * (3 - 2 * t), dtype=np.float32)


def _place_along(relief: Relief, toward: tuple[float, float]) -> tuple[Floats, Floats]:
    """Place within each surface along the light, about -1 (far side) to 1 (toward the light), shape (h, w).

    Also the size of each surface across the light, in pixels: twice the root of three times its variance.
    """
    mean_x, mean_y, var_x, var_y, both = relief.moments
    x, y = toward
    along = np.maximum(var_x * x * x + 2 * both * x * y + var_y * y * y, 1.0)
    across = np.maximum(var_x * y * y - 2 * both * x * y + var_y * x * x, 0.25)
    h, w = relief.units.shape
    slope = (1 / (1.7 * np.sqrt(along))).astype(np.float32)
    middle = (mean_x * x + mean_y * y).astype(np.float32)
    here = np.add.outer(np.arange(h, dtype=np.float32) * y, np.arange(w, dtype=np.float32) * x)
    place = (here - middle[relief.units]) * slope[relief.units]
    return np.clip(place, -1.2, 1.2).astype(np.float32), (2 * np.sqrt(3 * across)).astype(np.float32)


def _enlarged(small: Floats, relief: Relief) -> Floats:
    import cv2

    h, w = relief.full_labels.shape
    tone = np.asarray(cv2.resize(small, (w, h), interpolation=cv2.INTER_LINEAR), dtype=np.float32)
    tone.ravel()[relief.seams] = small.ravel()[relief.seam_source]
    tone[relief.full_labels == 0] = 0
    return tone
