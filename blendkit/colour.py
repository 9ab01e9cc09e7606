"""Colours as arrays: hex, XYZ, Lab, LCh, OKLCh; difference, contrast, and what a screen can show.

The interior space is CIELAB under D50 for the 2 degree observer: wherever an argument is called ``lab`` it
means that. Arrays are float64 and the last axis is the colour, shape (..., 3). ``srgb1`` is encoded sRGB from
0 to 1, ``xyz1`` has Y = 1 for the perfect white. Everything here is NumPy alone, so that a short command
starts quickly; rarer jobs (reading CSS colours, colour vision) import coloraide when they are asked for.

Sources:
    CIE 015:2018, Colorimetry (Lab, LCh; white of D50 and D65 by chromaticity).
    IEC 61966-2-1:1999 (sRGB); W3C CSS Color 4 (gamut mapping; white chromaticities).
    Ottosson 2020, A perceptual color space for image processing (OKLab).
    Sharma, Wu and Dalal 2005, Color Research and Application 30, 21-30 (CIEDE2000, numbered equations).
    Lam 1985 / ICC.1:2022 annex E (Bradford adaptation).
    W3C WCAG 2.2 (relative luminance, contrast ratio).
"""

import math
import re
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blendkit.errors import ColourError

Floats = NDArray[np.float64]


def _white_xyz1(x: float, y: float) -> Floats:
    return np.array([x / y, 1.0, (1.0 - x - y) / y])


WHITE_D50: Floats = _white_xyz1(0.3457, 0.3585)
"""White of D50, 2 degree, as ``xyz1``, from its chromaticity (CIE 015:2018; CSS Color 4)."""
WHITE_D65: Floats = _white_xyz1(0.3127, 0.3290)
"""White of D65, 2 degree, as ``xyz1``, from its chromaticity (IEC 61966-2-1; CSS Color 4)."""

# Bradford's sharpened cone responses (Lam 1985; ICC.1:2022 annex E).
_BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])


def _adaptation(white_from: Floats, white_to: Floats) -> Floats:
    gain = (_BRADFORD @ white_to) / (_BRADFORD @ white_from)
    return np.linalg.solve(_BRADFORD, gain[:, None] * _BRADFORD)


def _srgb_matrix() -> Floats:
    """Linear sRGB to ``xyz1`` under D65, from the primaries of IEC 61966-2-1."""
    primaries = np.array([_white_xyz1(0.64, 0.33), _white_xyz1(0.30, 0.60), _white_xyz1(0.15, 0.06)]).T
    return primaries * np.linalg.solve(primaries, WHITE_D65)


_D65_FROM_LINEAR = _srgb_matrix()
_D50_FROM_D65 = _adaptation(WHITE_D65, WHITE_D50)
_D50_FROM_LINEAR = _D50_FROM_D65 @ _D65_FROM_LINEAR
_LINEAR_FROM_D50 = np.linalg.inv(_D50_FROM_LINEAR)
_D65_FROM_D50 = np.linalg.inv(_D50_FROM_D65)

# OKLab: cone responses from D65 XYZ, and Lab from their cube roots (Ottosson 2020, values as in CSS Color 4).
_CONES_FROM_D65 = np.array(
    [
        [0.8190224379967030, 0.3619062600528904, -0.1288737815209879],
        [0.0329836539323885, 0.9292868615863434, 0.0361446663506424],
        [0.0481771893596242, 0.2642395317527308, 0.6335478284694309],
    ]
)
_OKLAB_FROM_ROOTS = np.array(
    [
        [0.2104542683093140, 0.7936177747023054, -0.0040720430116193],
        [1.9779985324311684, -2.4285922420485799, 0.4505937096174110],
        [0.0259040424655478, 0.7827717124575296, -0.8086757549230774],
    ]
)
_D65_FROM_CONES = np.linalg.inv(_CONES_FROM_D65)
_ROOTS_FROM_OKLAB = np.linalg.inv(_OKLAB_FROM_ROOTS)

# CIE 015:2018, 8.2.1.1: the join between cube root and straight line.
_EPSILON = 216.0 / 24389.0
_KAPPA = 24389.0 / 27.0


def _array(values: ArrayLike) -> Floats:
    return np.asarray(values, dtype=np.float64)


def _apply(matrix: NDArray[Any], values: Floats) -> Floats:
    product: Floats = values @ matrix.T
    return product


# --------------------------------------------------------------------------------------- CIELAB and XYZ


def xyz1_to_lab(xyz1: ArrayLike, white: ArrayLike = WHITE_D50) -> Floats:
    """CIELAB of tristimulus values relative to *white*.

    Args:
        xyz1: shape (..., 3), Y = 1 for the perfect white.
        white: shape (3,), the white of the same light; D50 unless told.

    Returns: shape (..., 3). It is the interior ``lab`` only when *white* is D50.
    Source: CIE 015:2018, 8.2.1.1.
    """
    ratio = _array(xyz1) / _array(white)
    f = np.where(ratio > _EPSILON, np.cbrt(ratio), (_KAPPA * ratio + 16.0) / 116.0)
    fx, fy, fz = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116.0 * fy - 16.0, 500.0 * (fx - fy), 200.0 * (fy - fz)], axis=-1)


def lab_to_xyz1(lab: ArrayLike, white: ArrayLike = WHITE_D50) -> Floats:
    """Tristimulus values of CIELAB relative to *white*; the inverse of :func:`xyz1_to_lab`.

    Args:
        lab: shape (..., 3).
        white: shape (3,), the white that *lab* is relative to; D50 unless told.

    Returns: shape (..., 3), Y = 1 for the perfect white.
    Source: CIE 015:2018, 8.2.1.1, inverted.
    """
    lab = _array(lab)
    fy = (lab[..., 0] + 16.0) / 116.0
    f = np.stack([fy + lab[..., 1] / 500.0, fy, fy - lab[..., 2] / 200.0], axis=-1)
    cubed = f**3
    ratio = np.where(cubed > _EPSILON, cubed, (116.0 * f - 16.0) / _KAPPA)
    return ratio * _array(white)


def lab_to_lch(lab: ArrayLike) -> Floats:
    """Lightness, chroma and hue angle; hue in degrees from 0 to 360, NaN where chroma is below 1e-6.

    Args:
        lab: shape (..., 3).

    Returns: shape (..., 3).
    Source: CIE 015:2018, 8.2.1.2.
    """
    lab = _array(lab)
    chroma = np.hypot(lab[..., 1], lab[..., 2])
    hue = np.degrees(np.arctan2(lab[..., 2], lab[..., 1])) % 360.0
    return np.stack([lab[..., 0], chroma, np.where(chroma < 1e-6, np.nan, hue)], axis=-1)


def lch_to_lab(lch: ArrayLike) -> Floats:
    """Lab of lightness, chroma and hue in degrees; a NaN hue stands for none (a = b = 0).

    Args:
        lch: shape (..., 3).

    Returns: shape (..., 3).
    """
    lch = _array(lch)
    hue = np.radians(lch[..., 2])
    chroma = np.where(np.isnan(hue), 0.0, lch[..., 1])
    hue = np.nan_to_num(hue)
    return np.stack([lch[..., 0], chroma * np.cos(hue), chroma * np.sin(hue)], axis=-1)


def adapt_xyz1(xyz1: ArrayLike, white_from: ArrayLike, white_to: ArrayLike) -> Floats:
    """Corresponding tristimulus values under another white, by Bradford's linear transform.

    Args:
        xyz1: shape (..., 3).
        white_from: shape (3,), the white that *xyz1* were seen under.
        white_to: shape (3,), the white wanted.

    Returns: shape (..., 3).
    Source: Lam 1985; ICC.1:2022 annex E.
    """
    return _apply(_adaptation(_array(white_from), _array(white_to)), _array(xyz1))


# ------------------------------------------------------------------------------------------------ sRGB


_SRGB_KNEE = 0.0031306684425005905
"""Light at which the straight and the curved piece of sRGB meet, so that each way takes the other back;
IEC 61966-2-1 rounds it to 0.0031308 and 0.04045, between which a colour would come back 2e-9 off."""


def srgb1_to_linear(srgb1: ArrayLike) -> Floats:
    """Light in proportion, from encoded sRGB; negative values mirror the curve (CSS Color 4).

    Args:
        srgb1: any shape, 0 to 1 inside the gamut.

    Returns: the same shape.
    Source: IEC 61966-2-1:1999.
    """
    srgb1 = _array(srgb1)
    size = np.abs(srgb1)
    return np.sign(srgb1) * np.where(
        size <= 12.92 * _SRGB_KNEE, size / 12.92, ((size + 0.055) / 1.055) ** 2.4
    )


def linear_to_srgb1(linear: ArrayLike) -> Floats:
    """Encode light in proportion as sRGB; the inverse of :func:`srgb1_to_linear`.

    Args:
        linear: any shape.

    Returns: the same shape; not clipped.
    Source: IEC 61966-2-1:1999.
    """
    linear = _array(linear)
    size = np.abs(linear)
    return np.sign(linear) * np.where(size <= _SRGB_KNEE, size * 12.92, 1.055 * size ** (1.0 / 2.4) - 0.055)


def srgb1_to_lab(srgb1: ArrayLike) -> Floats:
    """Lab (D50) of encoded sRGB, adapted from its D65 by Bradford.

    Args:
        srgb1: shape (..., 3), 0 to 1.

    Returns: shape (..., 3).
    """
    return xyz1_to_lab(_apply(_D50_FROM_LINEAR, srgb1_to_linear(srgb1)))


def lab_to_srgb1(lab: ArrayLike) -> Floats:
    """Encoded sRGB of Lab (D50), not clipped: below 0 or above 1 where sRGB can't show the colour.

    Args:
        lab: shape (..., 3).

    Returns: shape (..., 3).
    """
    return linear_to_srgb1(_apply(_LINEAR_FROM_D50, lab_to_xyz1(lab)))


def is_in_srgb(lab: ArrayLike, tolerance: float = 0.0005) -> NDArray[np.bool_]:
    """Whether sRGB can show each colour, to within *tolerance* of a channel from 0 to 1.

    Args:
        lab: shape (..., 3).
        tolerance: how far a channel may pass its end; the default is an eighth of one 8-bit step.

    Returns: shape (...).
    """
    srgb1 = lab_to_srgb1(lab)
    inside: NDArray[np.bool_] = np.all((srgb1 >= -tolerance) & (srgb1 <= 1.0 + tolerance), axis=-1)
    return inside


_HEX = re.compile(r"#?([0-9a-fA-F]{3}|[0-9a-fA-F]{6})\Z")


def hex_to_lab(text: str) -> Floats:
    """Lab (D50) of ``#rrggbb`` or ``#rgb``, with or without the sign.

    >>> hex_to_lab("#c8553d").round(1).tolist()
    [51.4, 45.7, 37.6]

    Args:
        text: the hexadecimal colour, read as sRGB.

    Returns: shape (3,).
    Raises: ColourError with what was found.
    """
    match = _HEX.match(text.strip())
    if match is None:
        raise ColourError(f"“{text}” is not a hex colour; write it as #rrggbb, for example #c8553d")
    digits = match.group(1)
    if len(digits) == 3:
        digits = "".join(digit * 2 for digit in digits)
    lab = srgb1_to_lab([int(digits[place : place + 2], 16) / 255.0 for place in (0, 2, 4)])
    return lab + 0.0


# ------------------------------------------------------------------------------------------------ OKLCh


def _lab_to_oklab(lab: ArrayLike) -> Floats:
    d65 = _apply(_D65_FROM_D50, lab_to_xyz1(lab))
    return _apply(_OKLAB_FROM_ROOTS, np.cbrt(_apply(_CONES_FROM_D65, d65)))


def _oklab_to_linear(oklab: Floats) -> Floats:
    d65 = _apply(_D65_FROM_CONES, _apply(_ROOTS_FROM_OKLAB, oklab) ** 3)
    return _apply(np.linalg.inv(_D65_FROM_LINEAR), d65)


def lab_to_oklch(lab: ArrayLike) -> Floats:
    """OKLCh of Lab (D50): lightness 0 to 1, chroma about 0 to 0.4, hue in degrees (NaN when achromatic).

    Args:
        lab: shape (..., 3).

    Returns: shape (..., 3).
    Source: Ottosson 2020.
    """
    return lab_to_lch(_lab_to_oklab(lab))


# --------------------------------------------------------------------------------- what a screen can show

_JND_OK = 0.02
_CHROMA_STOP = 0.0001
"""Difference in OKLab that is not seen, and the search's last step of chroma: W3C CSS Color 4, 13.2."""


def labs_to_display_srgb1(labs: ArrayLike) -> Floats:
    """Encoded sRGB that a screen can show, mapped into the gamut where it must be.

    Colours outside sRGB keep their OKLCh lightness and hue and give up chroma, by the binary search with
    local clipping of CSS Color 4, section 13.2.

    Args:
        labs: shape (..., 3).

    Returns: shape (..., 3), every channel 0 to 1.
    Source: W3C CSS Color 4 (Candidate Recommendation Draft), sample pseudocode for gamut mapping.
    """
    labs = _array(labs)
    flat = labs.reshape(-1, 3)
    srgb1 = lab_to_srgb1(flat)
    outside = ~np.all((srgb1 >= -1e-6) & (srgb1 <= 1.0 + 1e-6), axis=-1)
    if outside.any():
        srgb1[outside] = _map_to_srgb1(_lab_to_oklab(flat[outside]))
    return np.clip(srgb1, 0.0, 1.0).reshape(labs.shape)


def _linear_to_oklab(linear: Floats) -> Floats:
    return _apply(_OKLAB_FROM_ROOTS, np.cbrt(_apply(_CONES_FROM_D65, _apply(_D65_FROM_LINEAR, linear))))


def _map_to_srgb1(oklab: Floats) -> Floats:
    """Reduce chroma until the clipped colour can't be told from the colour itself."""
    lightness = oklab[:, 0]
    chroma = np.hypot(oklab[:, 1], oklab[:, 2])
    hue = np.where(chroma[:, None] > 0, oklab[:, 1:] / np.maximum(chroma, 1e-12)[:, None], 0.0)

    def at(amount: Floats) -> tuple[Floats, NDArray[np.bool_], Floats]:
        colour = np.concatenate([lightness[:, None], hue * amount[:, None]], axis=1)
        linear = _oklab_to_linear(colour)
        clipped = np.clip(linear, 0.0, 1.0)
        encoded = linear_to_srgb1(linear)
        inside = np.all((encoded >= -1e-6) & (encoded <= 1.0 + 1e-6), axis=-1)
        error = np.linalg.norm(_linear_to_oklab(clipped) - colour, axis=-1)
        return clipped, inside, error

    low, high = np.zeros_like(chroma), chroma.copy()
    best, _, error = at(chroma)
    done = error < _JND_OK
    low_inside = np.ones(chroma.shape, dtype=bool)
    while np.any(~done & (high - low > _CHROMA_STOP)):
        middle = (low + high) / 2.0
        clipped, inside, error = at(middle)
        near = error < _JND_OK
        stop = ~inside & near & (_JND_OK - error < _CHROMA_STOP)
        raise_low = (inside & low_inside) | (~inside & near)
        live = ~done
        best[live] = clipped[live]
        low_inside = np.where(live & ~inside & near, False, low_inside)
        low = np.where(live & raise_low, middle, low)
        high = np.where(live & ~raise_low, middle, high)
        done = done | (live & stop)
    # White and black are answered outright, as the pseudocode does first.
    best[lightness >= 1.0] = 1.0
    best[lightness <= 0.0] = 0.0
    return linear_to_srgb1(best)


@dataclass(frozen=True, slots=True)
class Display:
    """A colour as a screen shows it: ``#rrggbb``, and whether it had to be mapped into sRGB."""

    hex: str
    mapped: bool


def lab_to_display(lab: ArrayLike) -> Display:
    """Give *lab* as a screen can show it, marked when sRGB can't show the colour itself.

    Args:
        lab: shape (3,).

    Returns: the hex colour and whether it is a stand-in.
    """
    red, green, blue = (int(channel) for channel in np.rint(labs_to_display_srgb1(lab) * 255.0))
    return Display(f"#{red:02x}{green:02x}{blue:02x}", not bool(is_in_srgb(lab)))


def lab_to_hex(lab: ArrayLike) -> str:
    """Give *lab* as ``#rrggbb``, mapped into sRGB by the CSS Color 4 method where it must be.

    Args:
        lab: shape (3,).

    Returns: seven characters.
    """
    return lab_to_display(lab).hex


# ------------------------------------------------------------------------------------------- differences


def lightness_step(reference: ArrayLike, sample: ArrayLike) -> Floats:
    """Difference of lightness, sample less reference (CIE 1976); negative where the sample is darker.

    Args:
        reference: shape (..., 3).
        sample: shape (..., 3), broadcast with *reference*.

    Returns: shape (...).
    """
    step: Floats = _array(sample)[..., 0] - _array(reference)[..., 0]
    return step


def hue_step(reference: ArrayLike, sample: ArrayLike) -> Floats:
    """Metric hue difference (CIE 1976), signed: positive where the sample's hue angle is larger.

    Args:
        reference: shape (..., 3).
        sample: shape (..., 3), broadcast with *reference*.

    Returns: shape (...), in Lab units, 0 where either has no chroma.
    Source: CIE 015:2018, 8.2.1.2; the sign by Sève 1991.
    """
    reference, sample = _array(reference), _array(sample)
    cross = reference[..., 1] * sample[..., 2] - reference[..., 2] * sample[..., 1]
    product = np.hypot(reference[..., 1], reference[..., 2]) * np.hypot(sample[..., 1], sample[..., 2])
    dot = reference[..., 1] * sample[..., 1] + reference[..., 2] * sample[..., 2]
    step: Floats = 2.0 * np.sqrt(product) * np.sin(np.arctan2(cross, dot) / 2.0)
    return step


_COS_30, _COS_6, _COS_63 = (math.cos(math.radians(degrees)) for degrees in (30.0, 6.0, 63.0))
_SIN_30, _SIN_6, _SIN_63 = (math.sin(math.radians(degrees)) for degrees in (30.0, 6.0, 63.0))


def _turned(degrees: Floats) -> Floats:
    """Bring angles from -180 to 180 into 0 to 360; the remainder of a division takes three times as long."""
    return np.where(degrees < 0.0, degrees + 360.0, degrees)


def _length(a: Floats, b: Floats) -> Floats:
    """As hypot, eight times faster; colours are nowhere near where a square overflows or vanishes."""
    length: Floats = np.sqrt(a * a + b * b)
    return length


def delta_e_2000(reference: ArrayLike, sample: ArrayLike) -> Floats:
    """CIEDE2000 colour difference with kL = kC = kH = 1.

    Steps are numbered as in the paper. Two hues exactly opposite (180 degrees apart) sit on a discontinuity
    of equation 14; floating point decides the side there, which moves the result by less than 0.0002 in the
    published pair of that kind.

    Args:
        reference: Lab, shape (..., 3).
        sample: Lab, shape (..., 3), broadcast with *reference*.

    Returns: shape (...), 0 or more.
    Source: Sharma, Wu and Dalal 2005, equations 2 to 22; CIE 142-2001.
    """
    l1, a1, b1 = np.moveaxis(_array(reference), -1, 0)
    l2, a2, b2 = np.moveaxis(_array(sample), -1, 0)
    c_mean7 = ((_length(a1, b1) + _length(a2, b2)) / 2.0) ** 7  # (2), (3)
    g = 0.5 * (1.0 - np.sqrt(c_mean7 / (c_mean7 + 25.0**7)))  # (4)
    a1p, a2p = (1.0 + g) * a1, (1.0 + g) * a2  # (5)
    c1p, c2p = _length(a1p, b1), _length(a2p, b2)  # (6)
    h1p, h2p = _turned(np.degrees(np.arctan2(b1, a1p))), _turned(np.degrees(np.arctan2(b2, a2p)))  # (7)
    dl, dc = l2 - l1, c2p - c1p  # (8), (9)
    grey = c1p * c2p == 0.0
    dh = h2p - h1p  # (10)
    dh = np.where(dh > 180.0, dh - 360.0, np.where(dh < -180.0, dh + 360.0, dh))
    dh = np.where(grey, 0.0, dh)
    dhh = 2.0 * np.sqrt(c1p * c2p) * np.sin(np.radians(dh) / 2.0)  # (11)
    lm, cm = (l1 + l2) / 2.0, (c1p + c2p) / 2.0  # (12), (13)
    total = h1p + h2p
    far = np.abs(h1p - h2p) > 180.0
    hm = np.where(far, np.where(total < 360.0, total + 360.0, total - 360.0), total) / 2.0  # (14)
    hm = np.where(grey, total, hm)
    # (15), its four cosines written out by those of one angle and by its sine: most of the time went there.
    cos, sin = np.cos(np.radians(hm)), np.sin(np.radians(hm))
    cos_2, sin_2 = 2.0 * cos * cos - 1.0, 2.0 * sin * cos
    cos_3, sin_3 = cos * (2.0 * cos_2 - 1.0), sin * (2.0 * cos_2 + 1.0)
    cos_4, sin_4 = 2.0 * cos_2 * cos_2 - 1.0, 2.0 * sin_2 * cos_2
    t = (
        1.0
        - 0.17 * (cos * _COS_30 + sin * _SIN_30)  # cos(hm - 30)
        + 0.24 * cos_2  # cos(2 hm)
        + 0.32 * (cos_3 * _COS_6 - sin_3 * _SIN_6)  # cos(3 hm + 6)
        - 0.20 * (cos_4 * _COS_63 + sin_4 * _SIN_63)  # cos(4 hm - 63)
    )
    turn = 30.0 * np.exp(-(((hm - 275.0) / 25.0) ** 2))  # (16)
    cm7 = cm**7
    rc = 2.0 * np.sqrt(cm7 / (cm7 + 25.0**7))  # (17)
    sl = 1.0 + 0.015 * (lm - 50.0) ** 2 / np.sqrt(20.0 + (lm - 50.0) ** 2)  # (18)
    sc = 1.0 + 0.045 * cm  # (19)
    sh = 1.0 + 0.015 * cm * t  # (20)
    rt = -np.sin(np.radians(2.0 * turn)) * rc  # (21)
    squared = (dl / sl) ** 2 + (dc / sc) ** 2 + (dhh / sh) ** 2 + rt * (dc / sc) * (dhh / sh)
    difference: Floats = np.sqrt(np.maximum(squared, 0.0))  # (22)
    return difference


# --------------------------------------------------------------------------------------------- contrast


def luminance_wcag(lab: ArrayLike) -> Floats:
    """Relative luminance as WCAG 2.2 defines it, of the colour as a screen can show it.

    Args:
        lab: shape (..., 3).

    Returns: shape (...), 0 to 1.
    Source: W3C WCAG 2.2, definition of relative luminance.
    """
    linear = srgb1_to_linear(labs_to_display_srgb1(lab))
    luminance: Floats = linear @ np.array([0.2126, 0.7152, 0.0722])
    return luminance


def contrast_wcag(first: ArrayLike, second: ArrayLike) -> Floats:
    """Contrast ratio of two colours, the same either way round.

    Args:
        first: Lab, shape (..., 3).
        second: Lab, shape (..., 3), broadcast with *first*.

    Returns: shape (...), 1 to 21.
    Source: W3C WCAG 2.2, definition of contrast ratio; success criterion 1.4.3 asks 4.5, or 3 for large text.
    """
    one, two = luminance_wcag(first), luminance_wcag(second)
    ratio: Floats = (np.maximum(one, two) + 0.05) / (np.minimum(one, two) + 0.05)
    return ratio


COLOUR_VISION = ("protan", "deutan", "tritan")
"""The kinds of colour-vision deficiency: of the long, middle and short wavelength cones."""


def simulate_colour_vision(lab: ArrayLike, deficiency: str, severity: float = 1.0) -> Floats:
    """Lab of colours as somebody with a colour-vision deficiency tells them apart.

    Args:
        lab: shape (..., 3).
        deficiency: ``protan``, ``deutan`` or ``tritan``.
        severity: 0 (none) to 1 (the cone is missing).

    Returns: shape (..., 3).
    Raises: ColourError for a deficiency that is not one of the three.
    Source: coloraide's filters: Viénot, Brettel and Mollon 1999 for protan and deutan, Brettel, Viénot and
        Mollon 1997 for tritan.
    """
    if deficiency not in COLOUR_VISION:
        accepted = ", ".join(COLOUR_VISION)
        raise ColourError(f"“{deficiency}” is not a colour-vision deficiency; accepted: {accepted}")
    shown = labs_to_display_srgb1(lab)
    flat = []
    for row in shown.reshape(-1, 3).tolist():
        seen = _coloraide()("srgb", row).filter(deficiency, severity, space="srgb-linear")
        flat.append(seen.convert("srgb").clip()[:-1])
    return srgb1_to_lab(np.array(flat, dtype=np.float64).reshape(shown.shape))


# ----------------------------------------------------------------------------------------- typed colours


def _coloraide() -> Any:
    """Colour class of coloraide; imported on first use, since it costs as much as NumPy."""
    from coloraide import Color

    return Color


def parse_colour(text: str) -> Floats:
    """Lab (D50) of a typed colour: ``#rrggbb``, CSS Color 4 ``lab(…)`` or ``oklch(…)``, or ``L,a,b``.

    >>> parse_colour("lab(50 20 -10)").round(3).tolist()
    [50.0, 20.0, -10.0]

    Args:
        text: what was typed. CSS functions other than ``lab()`` and ``lch()`` are adapted from D65.

    Returns: shape (3,).
    Raises: ColourError with what was found and what is accepted.
    """
    text = text.strip()
    if _HEX.match(text):
        return hex_to_lab(text)
    bare = re.fullmatch(r"([-+.\d]+)[,;\s]+([-+.\d]+)[,;\s]+([-+.\d]+)", text)
    if bare:
        text = f"lab({bare[1]} {bare[2]} {bare[3]})"
    lab = None
    if "(" in text:
        with suppress(ValueError, OverflowError):  # no colour, or numbers beyond any
            colour = _coloraide()(text)
            if colour.alpha(nans=False) < 1:
                raise ColourError(f"“{text}” is see-through; give the colour as it looks, without alpha")
            lab = np.array(colour.convert("lab").coords(nans=False), dtype=np.float64)
    if lab is None:
        raise ColourError(f"“{text}” is not a colour; accepted: #rrggbb, lab(L a b), oklch(L C h)")
    if not np.all(np.isfinite(lab)) or not 0.0 <= lab[0] <= 100.0 or np.abs(lab[1:]).max() > 200.0:
        raise ColourError(f"“{text}” is not a colour of a surface; lightness L goes from 0 to 100")
    return lab
