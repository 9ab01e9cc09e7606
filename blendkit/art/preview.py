"""The coloured preview: marker colours along each part's tone, under the black line, on the chosen paper.

The colours are the ink model's (coats on paper, blends between), never a mixture of screen values. Each part
has a ramp of 256 display colours; painting looks them up, so that a changed marker shows at once.
"""

import io
from collections.abc import Mapping, Sequence
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from blendkit.art.relief import Relief
from blendkit.art.shading import BASE_TONE, LEFT_WHITE, STRUCK, ShadeMap, with_tone
from blendkit.colour import labs_to_display_srgb1, lch_to_lab, linear_to_srgb1, srgb1_to_linear
from blendkit.errors import ProjectError
from blendkit.inked import Asked, Inked

RAMP_STOPS = 41
"""Tones at which a ramp is predicted; between them it is straight. Own judgement."""

LINE_GAIN = 1.2
"""Makes up for pale places of a stamped line."""

Floats = NDArray[np.float64]
Ramp = NDArray[np.uint8]


def ramp_labs(
    inked: Inked,
    stack: Sequence[Asked],
    base: Asked,
    light: Asked | None = None,
    *,
    bare_highlight: bool = True,
) -> Floats:
    """Colours of one part from highlight to shadow, at :data:`RAMP_STOPS` even tones.

    Tone 0 is the highlight: the paper left bare, or the light marker; at BASE_TONE lies one coat of the base;
    from there more and more of the shadow is worked in, until at tone 1 all coats of the stack lie.

    Args:
        inked: the drawer on the part's paper.
        stack: the coats that make the shadow, first laid first.
        base: the base coat.
        light: the light marker, or None.
        bare_highlight: leave the highlight as paper; otherwise it is the light marker, or plain base without one.

    Returns: Lab, shape (RAMP_STOPS, 3).
    """
    tone = np.linspace(0, 1, RAMP_STOPS)
    one, toward = (inked.lay_asked([asked])[0] for asked in (base, light or base))
    inks = np.stack([one, inked.total(inked.lay_asked(stack)) - one, toward])
    total = _ink_amounts(tone, light is not None, bare_highlight) @ inks
    return inked.lab_after(total[:, None])[:, 0]


def draw_ramp(labs: Floats) -> Ramp:
    """Display colours of all tones of a part, from the Lab of some, shape (n, 3); mixed as light between them.

    Returns: sRGB, uint8, shape (256, 3).
    """
    linear = srgb1_to_linear(labs_to_display_srgb1(labs))
    fine = np.linspace(0, 1, 256)
    ramp = np.stack([np.interp(fine, np.linspace(0, 1, len(labs)), linear[:, k]) for k in range(3)], axis=1)
    return np.asarray(np.round(np.clip(linear_to_srgb1(ramp), 0, 1) * 255), dtype=np.uint8)


def _ink_amounts(tone: NDArray[np.float64], has_light: bool, bare_highlight: bool) -> NDArray[np.float64]:
    """Coats of base, shadow and light marker along the tone, shape (n, 3).

    From BASE_TONE up the shadow is worked into a full coat of base. Below it, the coat runs out: into the light
    marker, then into bare paper.
    """
    shadow = np.clip((tone - BASE_TONE) / (1 - BASE_TONE), 0, 1)
    run_out = np.clip(1 - tone / BASE_TONE, 0, 1)
    base, light = np.ones_like(tone), np.zeros_like(tone)
    if has_light and bare_highlight:
        base = np.clip(1 - 2 * run_out, 0, 1)
        light = np.minimum(2 * run_out, 2 - 2 * run_out)
    elif has_light:
        base, light = 1 - run_out, run_out
    elif bare_highlight:
        base = 1 - run_out
    return np.stack([base, shadow, light], axis=1)


def paint(
    shades: ShadeMap,
    relief: Relief,
    ramps: Mapping[int, Ramp],
    paper_srgb255: NDArray[np.uint8],
    line_srgb255: tuple[int, int, int] = (24, 22, 24),
    line_gain: float = LINE_GAIN,
) -> NDArray[np.uint8]:
    """Colour the line image.

    Args:
        shades: tones, from `shade`.
        relief: the same picture's relief, for its line.
        ramps: part number to its ramp of 256 display colours; parts without one stay paper.
        paper_srgb255: display colour of the paper, 3 values.
        line_srgb255: display colour of the line where it is full.
        line_gain: makes up for pale places of a stamped line; 1 shows it as it was scanned.

    Returns: sRGB, uint8, shape (h, w, 3).
    Raises: ProjectError for a ramp whose part does not exist.
    """
    table = np.empty((relief.parts + 1, 256, 3), np.uint8)
    table[:] = paper_srgb255
    for part, ramp in ramps.items():
        if not 1 <= part <= relief.parts:
            raise ProjectError(f"part {part}: this picture has parts 1 to {relief.parts}")
        table[part] = ramp
    picture = np.take(table.reshape(-1, 3), shades.index, axis=0)
    return _under_line(picture, relief.full_line, line_srgb255, line_gain)


LOOKS = ("plain", "marker")
"""How a picture is painted: blended, or as strokes of a nib in two tones."""

NIB_MM = 1.6
"""Width of a stroke: a chisel nib on its narrow side, common practice, no source."""

RIM_MM = 0.45
STREAK_TONE, RIM_TONE = 0.05, 0.09
"""How much darker strokes lie beside each other, and ink dries at its edge, as tone. Own judgement."""


def in_look(shades: ShadeMap, look: str) -> ShadeMap:
    """The tones in one of LOOKS."""
    return shades if look == LOOKS[0] else marker_look(shades)


def marker_look(shades: ShadeMap) -> ShadeMap:
    """The tones as a hand lays them without blending: two tones in strokes at nib width, a faint dried rim.

    Args:
        shades: tones, from `shade`.

    Returns: a ShadeMap that `paint` takes; its layers stay as they are.
    """
    relief, tone = shades.relief, shades.tone
    labels = relief.full_labels
    per_mm = relief.per_mm * labels.shape[1] / relief.labels.shape[1]
    flat = np.where(tone < LEFT_WHITE, 0, np.where(tone > STRUCK, 1, BASE_TONE)).astype(np.float32)
    var_x, var_y, both = relief.moments[2:]
    lean = 0.5 * np.arctan2(2 * both, var_x - var_y)  # along each part's longer side
    of = relief.surfaces.of
    go_x, go_y = np.cos(lean)[of].astype(np.float32), np.sin(lean)[of].astype(np.float32)
    h, w = labels.shape
    x, y = np.arange(w, dtype=np.float32)[None, :], np.arange(h, dtype=np.float32)[:, None]
    across = (y * go_x[labels] - x * go_y[labels]) / np.float32(NIB_MM * per_mm)
    stroke = np.floor(across)
    shade_of = np.modf(np.abs(np.sin(stroke * 12.9898 + labels) * 43758.547))[0]  # each stroke by itself
    lap = np.exp(-(((across - stroke - 0.5) / 0.5) ** 2 - 1) * -3)  # and darker where two lie on each other
    streak = STREAK_TONE * (0.6 * (shade_of - 0.5) + lap)
    from_line = cv2.distanceTransform((relief.full_line < 128).astype(np.uint8), cv2.DIST_L2, 3)
    rim = RIM_TONE * np.exp(-((from_line / (RIM_MM * per_mm)) ** 2))
    drawn = np.where(flat > 0, np.clip(flat + streak + rim, 0, 1), 0).astype(np.float32)
    drawn[labels == 0] = 0
    return with_tone(shades, drawn)


def draw_line_table(
    line_srgb255: tuple[int, int, int] = (24, 22, 24), line_gain: float = LINE_GAIN
) -> NDArray[np.uint8]:
    """What `paint` makes of every colour value under every line tone, for a page that paints by looking up.

    Args:
        line_srgb255, line_gain: as `paint` takes them.

    Returns: uint8, shape (256, 256, 3): by line tone, by the value of a channel under it, by channel.
    """
    under = np.repeat(np.tile(np.arange(256, dtype=np.uint8), (256, 1))[..., None], 3, axis=2)
    line = np.repeat(np.arange(256, dtype=np.uint8)[:, None], 256, axis=1)
    return _under_line(np.ascontiguousarray(under), line, line_srgb255, line_gain)


def _under_line(
    picture: NDArray[np.uint8], line: NDArray[np.uint8], line_srgb255: tuple[int, int, int], gain: float
) -> NDArray[np.uint8]:
    """Cover by the line mixes light, so it is taken in linear values."""
    places = np.flatnonzero(line > 2)
    decode = (srgb1_to_linear(np.arange(256) / 255)).astype(np.float32)
    encode = np.round(linear_to_srgb1(np.arange(4096) / 4095) * 255).astype(np.uint8)
    cover = np.minimum(line.ravel()[places].astype(np.float32) * np.float32(gain / 255), 1)[:, None]
    flat = picture.reshape(-1, 3)
    under = decode[flat[places]]
    ink = np.minimum(decode[np.array(line_srgb255)], under)
    mixed = under + cover * (ink - under)
    flat[places] = encode[(mixed * 4095 + 0.5).astype(np.int32)]
    return picture


def encode_part_png(labels: NDArray[Any], tone: NDArray[Any], line: NDArray[Any]) -> bytes:
    """One PNG from which a page can recolour by itself.

    Channels (8 bit RGB, no colour profile, no alpha, which browsers would multiply in):
        red: part number, low byte; 0 is outside.
        green: tone, 0 highlight to 255 shadow.
        blue: line, 0 paper to 255 ink.
    With more than 255 parts the picture is twice as tall: red of the lower half is the part number's high byte,
    its green and blue are 0. So the picture's height against the drawing's tells which.

    Args:
        labels: 0 outside, 1.. parts, shape (h, w).
        tone: 0 to 1, shape (h, w).
        line: uint8 to 255, or float to 1; shape (h, w).

    Returns: the PNG file.
    """
    from PIL import Image

    ink = line if line.dtype == np.uint8 else np.round(np.clip(line, 0, 1) * 255).astype(np.uint8)
    shade = np.round(np.clip(tone, 0, 1) * 255).astype(np.uint8)
    part = np.asarray(labels)
    data = np.stack([(part & 255).astype(np.uint8), shade, ink], axis=2)
    if part.max(initial=0) > 255:
        high = np.zeros_like(data)
        high[..., 0] = (part >> 8).astype(np.uint8)
        data = np.concatenate([data, high])
    out = io.BytesIO()
    Image.fromarray(data).save(out, "PNG", compress_level=1)
    return out.getvalue()


GOLDEN_TURN_DEG = 137.508
"""Successive hues this far apart stay distinct however many there are."""


def part_colours(count: int) -> NDArray[np.uint8]:
    """Soft colours for parts 0 (paper, white) to *count*: uint8 sRGB (count + 1, 3)."""
    k = np.arange(count)
    lightness = np.array([86.0, 80.0, 90.0])[k % 3]
    lch = np.column_stack([lightness, np.where(k % 2, 24.0, 34.0), (40 + GOLDEN_TURN_DEG * k) % 360])
    colours = np.full((count + 1, 3), 255, np.uint8)
    if count:
        colours[1:] = np.round(np.asarray(labs_to_display_srgb1(lch_to_lab(lch))) * 255).astype(np.uint8)
    return colours
