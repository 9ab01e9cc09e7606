"""Where the shadow falls in each part of a line image, for a light of the user's choice.

A part is shaded as a colourist would with two or three markers: the side away from the light, the strip beside a
part that lies in front and keeps the light off, and a thin line of shadow where the two touch; the paper is left
toward the light. Widths are millimetres.
"""

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendkit.art.relief import Floats, Relief, march
from blendkit.errors import ProjectError

BASE_TONE = 0.4
"""Tone of the plain base coat; below it lies the highlight, above it the blend and the shadow."""

SHADOW_SHARE = 0.34
"""Largest share of a part that its own shadow takes: about a third, common practice, no source."""

HIGHLIGHT_SHARE = 0.11
LIGHT_HEIGHT_DEG = 42.0
HIGHLIGHT_HEIGHT_DEG = 56.0
BINS = 256


@dataclass(frozen=True)
class ShadeMap:
    """Tone of every pixel, and what repainting needs.

    Fields:
        tone: 0 highlight, BASE_TONE plain base, 1 shadow; continuous; float32, shape (h, w); 0 outside.
        light_deg: where the light comes from, degrees clockwise from the top.
        shadow_share: share of each part with tone above the middle of the blend, shape (parts + 1,).
        index: part number x 256 + tone, for `paint`; int32, shape (h, w).
    """

    tone: Floats
    light_deg: float
    shadow_share: NDArray[np.float64]
    index: NDArray[np.int32] = field(repr=False)


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
    width_mm: float = 4.0,
    softness_mm: float = 2.4,
    cast_mm: float = 2.6,
    drama: float = 1.0,
) -> ShadeMap:
    """Tone of every pixel under a light.

    Args:
        relief: domes and fronts, from `find_relief`; keep it while only the light changes.
        light_deg: where the light comes from, degrees clockwise from the top; 315 is upper left.
        width_mm: width of a part's own shadow; in small parts it takes about a third instead.
        softness_mm: width of the blend between base and shadow.
        cast_mm: length of the shadow that a part in front casts.
        drama: 0 leaves plain base coats, 1 is full shadow and highlight.

    Returns: a ShadeMap at full size.
    Raises: ProjectError for a width that is not above zero.
    """
    for name, value in (("width_mm", width_mm), ("softness_mm", softness_mm), ("cast_mm", cast_mm)):
        if not value > 0 or not np.isfinite(value):
            raise ProjectError(f"{name}: {value} is no width; give millimetres above 0, such as 3")
    angle = np.deg2rad(light_deg)
    toward = (float(np.sin(angle)), float(-np.cos(angle)))
    labels, parts = relief.grid.labels, relief.parts
    counts = np.bincount(labels.ravel(), minlength=parts + 1)

    lit = _lambert(relief, toward, LIGHT_HEIGHT_DEG)
    drop, _ = march(relief.grid, (-toward[0], -toward[1]), 0.6 * width_mm * relief.per_mm)
    _, cast = march(replace(relief.grid, in_front=relief.presses), toward, cast_mm * relief.per_mm)
    contact = relief.contact
    soft_px = softness_mm * relief.per_mm
    place = _place_along(labels, counts, toward)
    form = _smooth(1 - lit + 0.35 * drop + 0.10 * contact - 0.16 * place, labels, 0.28 * soft_px)
    cast = _smooth(cast, labels, 0.30 * soft_px)

    # own shadow: a third of a small part, a band of width_mm along the far side of a large one
    reach = _extent_across(labels, parts, toward)
    share = np.clip(width_mm * relief.per_mm * reach / np.maximum(counts, 1), 0.10, SHADOW_SHARE)
    # the blend's width in millimetres, as the share of the part that it covers, half to each side
    half = np.clip(0.5 * soft_px * reach / np.maximum(counts, 1), 0.05, 0.75 * share)
    starts = _quantile(form, labels, counts, 1 - share - half)
    deepens = _quantile(form, labels, counts, 1 - share + 0.2 * half)
    ends = _quantile(form, labels, counts, 1 - 0.30 * share)
    first = _step(form, labels, starts, deepens)
    second = _step(form, labels, np.float32(0.5) * (starts + deepens), ends)
    own = _smooth(0.45 * first + 0.55 * second, labels, 0.25 * soft_px)
    shadow = 1 - (1 - own) * (1 - 0.80 * np.clip(cast, 0, 1)) * (1 - 0.35 * contact)

    shine = _smooth(
        _lambert(relief, toward, HIGHLIGHT_HEIGHT_DEG) + 0.05 * place - 0.5 * cast, labels, 0.2 * soft_px
    )
    top = _quantile(shine, labels, counts, np.full(parts + 1, 1 - HIGHLIGHT_SHARE))
    peak = _quantile(shine, labels, counts, np.full(parts + 1, 0.995))
    spread = np.maximum(peak - top, 0.02)
    gleam = _step(shine, labels, top - 0.35 * spread, peak)
    toward_light = np.clip((place + 0.15) / 0.6, 0, 1)  # one highlight, not one on every bump
    gleam *= (
        (1 - np.clip(1.6 * cast, 0, 1))
        * (1 - shadow) ** 2
        * toward_light
        * toward_light
        * (3 - 2 * toward_light)
    )

    small = BASE_TONE + drama * ((1 - BASE_TONE) * shadow - BASE_TONE * gleam)
    tone = _enlarged(np.clip(small, 0, 1).astype(np.float32), relief)
    shares = np.bincount(labels.ravel(), (small > (1 + BASE_TONE) / 2).ravel(), parts + 1) / np.maximum(
        counts, 1
    )
    index = relief.full_labels * 256 + np.round(tone * 255).astype(np.int32)
    return ShadeMap(tone, float(light_deg) % 360, shares, index)


def _lambert(relief: Relief, toward: tuple[float, float], height_deg: float) -> Floats:
    flat, up = np.cos(np.deg2rad(height_deg)), np.sin(np.deg2rad(height_deg))
    x, y, z = -2 * relief.slope_x, -2 * relief.slope_y, 2 * relief.height
    length = np.sqrt(x * x + y * y + z * z) + np.float32(1e-6)
    return np.asarray((x * (toward[0] * flat) + y * (toward[1] * flat) + z * up) / length, dtype=np.float32)


def _smooth(values: Floats, labels: NDArray[np.int32], sigma_px: float) -> Floats:
    """Blur within each part only.

    Source: the recursive filter of Gastal and Oliveira 2011 ("Domain transform for edge-aware image processing"),
    with part borders as walls.
    """
    if sigma_px < 0.3:
        return values
    out = np.array(values, dtype=np.float32)
    passes = 2
    for k in range(passes):
        sigma = sigma_px * np.sqrt(3) * 2 ** (passes - 1 - k) / np.sqrt(4**passes - 1)
        feed = np.float32(np.exp(-np.sqrt(2) / sigma))
        for axis in (0, 1):
            field_ = out if axis == 0 else np.ascontiguousarray(out.T)
            part = labels if axis == 0 else labels.T
            keep = np.where(part[1:] == part[:-1], feed, np.float32(0))
            for i in range(1, len(field_)):
                field_[i] += keep[i - 1] * (field_[i - 1] - field_[i])
            for i in range(len(field_) - 2, -1, -1):
                field_[i] += keep[i] * (field_[i + 1] - field_[i])
            out = field_ if axis == 0 else np.ascontiguousarray(field_.T)
    return out


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


def _step(values: Floats, labels: NDArray[np.int32], start: Floats, end: Floats) -> Floats:
    """Smooth step from 0 at *start* to 1 at *end*, values of each part."""
    slope = 1 / np.maximum(end - start, 0.06)
    t = np.clip((values - start[labels]) * slope[labels], 0, 1)
    return np.asarray(t * t * (3 - 2 * t), dtype=np.float32)


def _extent_across(labels: NDArray[np.int32], parts: int, toward: tuple[float, float]) -> Floats:
    """Size of each part across the light, in pixels: twice the root of three times its variance."""
    h, w = labels.shape
    across = (np.arange(w) * -toward[1])[None, :] + (np.arange(h) * toward[0])[:, None]
    flat, values = labels.ravel(), across.ravel()
    count = np.maximum(np.bincount(flat, minlength=parts + 1), 1)
    mean = np.bincount(flat, values, parts + 1) / count
    variance = np.maximum(np.bincount(flat, values**2, parts + 1) / count - mean**2, 0.25)
    return np.asarray(2 * np.sqrt(3 * variance), dtype=np.float32)


def _place_along(labels: NDArray[np.int32], counts: NDArray[Any], toward: tuple[float, float]) -> Floats:
    """Place within each part along the light, about -1 (far side) to 1 (toward the light)."""
    h, w = labels.shape
    along = np.add.outer(
        np.arange(h, dtype=np.float32) * toward[1], np.arange(w, dtype=np.float32) * toward[0]
    )
    flat, number = labels.ravel(), np.maximum(counts, 1)
    mean = np.bincount(flat, along.ravel(), len(counts)) / number
    spread = np.sqrt(np.maximum(np.bincount(flat, along.ravel() ** 2, len(counts)) / number - mean**2, 1.0))
    place = (along - mean.astype(np.float32)[labels]) / (1.7 * spread).astype(np.float32)[labels]
    return np.asarray(np.clip(place, -1.2, 1.2), dtype=np.float32)


def _enlarged(small: Floats, relief: Relief) -> Floats:
    import cv2

    h, w = relief.full_labels.shape
    tone = np.asarray(cv2.resize(small, (w, h), interpolation=cv2.INTER_LINEAR), dtype=np.float32)
    tone.ravel()[relief.seams] = small.ravel()[relief.seam_source]
    tone[relief.full_labels == 0] = 0
    return tone
