"""What the three numbers of a pixel mean: tone curves and a matrix to XYZ, read from an ICC profile.

A profile of the matrix/TRC kind says everything in three curves and three colourants, so its colours
are worked out here without rounding to 8 bit and without losing what lies outside sRGB. Profiles that
hold tables instead (printers, many scanners) are left to Little CMS by the reader.

XYZ here is D50, 2 degree, Y = 1 for white: the profile connection space of ICC.1, scaled so that the
encoding's own white is the D50 white of :mod:`blendkit.colour`.
"""

import struct
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blendkit.colour import (
    WHITE_D50,
    WHITE_D65,
    adapt_xyz1,
    lab_to_xyz1,
    srgb1_to_lab,
    srgb1_to_linear,
    xyz1_to_lab,
)

Floats = NDArray[np.float64]
Curve = Callable[[Floats], Floats]


@dataclass(frozen=True, slots=True)
class Primaries:
    """A display encoding by its chromaticities: red, green, blue, each (x, y); white is D65."""

    name: str
    red: tuple[float, float]
    green: tuple[float, float]
    blue: tuple[float, float]
    gamma: float | None
    """Exponent of the tone curve; None for the curve of sRGB."""


SRGB = Primaries("sRGB", (0.64, 0.33), (0.30, 0.60), (0.15, 0.06), None)
"""Source: IEC 61966-2-1:1999; the other encodings below share its D65 white."""
ADOBE_RGB_1998 = Primaries("Adobe RGB (1998)", (0.64, 0.33), (0.21, 0.71), (0.15, 0.06), 563 / 256)
"""Source: Adobe RGB (1998) Color Image Encoding, version 2005-05, sections 4.3.1 and 4.3.4."""
DISPLAY_P3 = Primaries("Display P3", (0.680, 0.320), (0.265, 0.690), (0.150, 0.060), None)
"""Source: SMPTE EG 432-1 primaries with D65 and the sRGB curve, as CSS Color 4 section 10.4 states it."""
BT_2020_WIDE = Primaries("wide RGB", (0.708, 0.292), (0.170, 0.797), (0.131, 0.046), 2.2)
"""Primaries of ITU-R BT.2020-2, table 3, with a plain exponent: wide enough for every printed colour."""


@dataclass(frozen=True, eq=False)
class RgbEncoding:
    """How codes become XYZ: one tone curve a channel, then a matrix.

    Attributes:
        name: what the profile calls itself.
        matrix: shape (3, 3); linear RGB (as a column) to XYZ, D50, white Y = 1.
        curves: shape (3, N); linear light, 0 to 1, of N evenly spaced codes from none to full.
    """

    name: str
    matrix: Floats = field(repr=False)
    curves: Floats = field(repr=False)

    def to_linear(self, pixels: ArrayLike) -> Floats:
        """Linear RGB, 0 to 1, shape (..., 3).

        Args:
            pixels: codes, shape (..., 3): uint8 or uint16 over their full range, or float from 0 to 1.
        """
        codes = np.asarray(pixels)
        if codes.shape[-1:] != (3,):
            raise ValueError(f"pixels must have three channels last, not the shape {codes.shape}")
        linear = np.empty(codes.shape, dtype=np.float64)
        count = self.curves.shape[1]
        for channel in range(3):
            curve, values = self.curves[channel], codes[..., channel]
            if (codes.dtype.name, count) in (("uint8", 256), ("uint16", 65536)):
                linear[..., channel] = curve[values]
            else:
                full = {"uint8": 255.0, "uint16": 65535.0}.get(codes.dtype.name, 1.0)
                linear[..., channel] = np.interp(values / full, np.linspace(0.0, 1.0, count), curve)
        return linear

    def to_xyz1_d50(self, pixels: ArrayLike) -> Floats:
        """XYZ, D50, Y = 1 for white, shape (..., 3); see :meth:`to_linear` for *pixels*."""
        return self.to_linear(pixels) @ self.matrix.T

    def to_lab(self, pixels: ArrayLike) -> Floats:
        """CIELAB, D50, 2 degree, shape (..., 3); see :meth:`to_linear` for *pixels*."""
        return np.asarray(xyz1_to_lab(self.to_xyz1_d50(pixels)), dtype=np.float64)

    @property
    def is_srgb(self) -> bool:
        """Whether the numbers are sRGB, whatever the profile calls itself."""
        srgb = srgb_encoding(self.curves.shape[1])
        return np.array_equal(self.matrix, srgb.matrix) and np.array_equal(self.curves, srgb.curves)


def _srgb_matrix() -> Floats:
    """Linear sRGB to XYZ D50, taken from :mod:`blendkit.colour`, so that both always agree."""
    columns = lab_to_xyz1(srgb1_to_lab(np.eye(3)))
    return np.asarray(columns, dtype=np.float64).T


def srgb_encoding(codes: int = 256) -> RgbEncoding:
    """Return sRGB, exactly as :mod:`blendkit.colour` has it, for that many codes a channel."""
    curve = np.asarray(srgb1_to_linear(np.linspace(0.0, 1.0, codes)), dtype=np.float64)
    return RgbEncoding("sRGB", _srgb_matrix(), np.stack([curve] * 3))


def _rgb_to_xyz_d65(primaries: Primaries) -> Floats:
    """Linear RGB to XYZ relative to D65: columns scaled so that they add up to the white.

    Source: SMPTE RP 177-1993, section 3.
    """
    xy = np.array([primaries.red, primaries.green, primaries.blue])
    columns = np.stack([xy[:, 0] / xy[:, 1], np.ones(3), (1 - xy.sum(axis=1)) / xy[:, 1]])
    return np.asarray(columns * np.linalg.solve(columns, WHITE_D65), dtype=np.float64)


def encoding_from_primaries(primaries: Primaries, codes: int = 256) -> RgbEncoding:
    """Return the encoding of *primaries*, its D65 white brought to D50 as sRGB's own is.

    Args:
        primaries: chromaticities and tone curve.
        codes: how many codes a channel has.
    """
    matrix = adapt_xyz1(_rgb_to_xyz_d65(primaries).T, WHITE_D65, WHITE_D50).T
    value = np.linspace(0.0, 1.0, codes)
    curve = np.asarray(srgb1_to_linear(value)) if primaries.gamma is None else value**primaries.gamma
    return RgbEncoding(primaries.name, _with_d50_white(matrix), np.stack([curve] * 3))


def _with_d50_white(matrix: Floats) -> Floats:
    return np.asarray(matrix * (WHITE_D50 / matrix.sum(axis=1))[:, None], dtype=np.float64)


# --- ICC profiles: ICC.1:2022 (profile version 4.4), the clauses named at each step ---------------------


def _tags(data: bytes) -> dict[bytes, bytes]:
    """Tag signatures and contents. Source: ICC.1:2022, clause 7.3."""
    if len(data) < 132 or data[36:40] != b"acsp":
        raise ValueError("no ICC profile")
    (count,) = struct.unpack_from(">I", data, 128)
    if count > 200:
        raise ValueError("too many tags")
    found: dict[bytes, bytes] = {}
    for i in range(count):
        name, start, size = struct.unpack_from(">4sII", data, 132 + 12 * i)
        if start + size > len(data):
            raise ValueError("a tag reaches past the end")
        found[name] = data[start : start + size]
    return found


def _xyz(tag: bytes) -> Floats:
    """Clause 10.31, XYZType: three s15Fixed16Numbers."""
    if tag[:4] != b"XYZ ":
        raise ValueError("no XYZType")
    return np.array(struct.unpack_from(">3i", tag, 8), dtype=np.float64) / 65536.0


def _curve(tag: bytes) -> Curve:
    """Clauses 10.6 (curveType) and 10.18 (parametricCurveType), as a function of 0 to 1."""
    if tag[:4] == b"curv":
        (count,) = struct.unpack_from(">I", tag, 8)
        if count == 0:
            return lambda x: x
        if count > 65536:
            raise ValueError("a tone curve of too many points")
        table = np.frombuffer(tag, dtype=">u2", count=count, offset=12).astype(np.float64)
        if count == 1:
            gamma = table[0] / 256.0
            return lambda x: np.asarray(x**gamma)
        places = np.linspace(0.0, 1.0, count)
        return lambda x: np.interp(x, places, table / 65535.0)
    if tag[:4] == b"para":
        (kind,) = struct.unpack_from(">H", tag, 8)
        if kind > 4:
            raise ValueError("a tone curve of unknown kind")
        given = struct.unpack_from(f">{(1, 3, 4, 5, 7)[kind]}i", tag, 12)
        g, a, b, c, d, e, f = (value / 65536.0 for value in _seven(kind, given))

        def parametric(x: Floats) -> Floats:
            upper = np.maximum(a * x + b, 0.0) ** g + e
            return np.asarray(np.where(x >= d, upper, c * x + f))

        return parametric
    raise ValueError("no tone curve")


def _seven(kind: int, given: tuple[int, ...]) -> tuple[float, ...]:
    """Table 68 of ICC.1:2022: every kind of parametric curve written as the fullest one (kind 4).

    Kind 4 is Y = (aX + b)^g + e from X = d upward and Y = cX + f below.
    """
    one = 65536
    if kind == 0:
        return (given[0], one, 0, 0, 0, 0, 0)
    g, a, b = given[:3]
    start = -b / a * one if a else 0.0
    if kind == 1:
        return (g, a, b, 0, start, 0, 0)
    if kind == 2:
        return (g, a, b, 0, start, given[3], given[3])
    c, d = given[3:5]
    e, f = given[5:7] if kind == 4 else (0, 0)
    return (g, a, b, c, d, e, f)


def encoding_from_icc(data: bytes, codes: int = 256) -> RgbEncoding | None:
    """Work out what a profile says, where it says it in curves and colourants.

    Args:
        data: the profile.
        codes: how many codes a channel of the picture has.

    Returns: the encoding; None for a profile that holds tables or belongs to no RGB or grey picture.
    Raises: ValueError (or struct.error) for a damaged profile.
    Source: ICC.1:2022, clauses 8.3.3 (three-component matrix-based), 8.3.4 (monochrome), F.2 and F.3.
    """
    tags = _tags(data)
    space, connection = data[16:20], data[20:24]
    codes1 = np.linspace(0.0, 1.0, codes)
    if space == b"GRAY" and b"kTRC" in tags:
        light = np.clip(_curve(tags[b"kTRC"])(codes1), 0.0, 1.0)
        if connection == b"Lab ":
            lab = np.zeros((codes, 3))
            lab[:, 0] = 100.0 * light
            light = np.asarray(lab_to_xyz1(lab))[:, 1]
        return _checked(RgbEncoding(_name(tags), _srgb_matrix(), np.stack([light] * 3)))
    has_table = any(name in tags for name in (b"A2B0", b"A2B1", b"D2B0", b"D2B1"))
    needed = (b"rXYZ", b"gXYZ", b"bXYZ", b"rTRC", b"gTRC", b"bTRC")
    if space != b"RGB " or connection != b"XYZ " or has_table or any(name not in tags for name in needed):
        return None
    matrix = np.stack([_xyz(tags[name]) for name in needed[:3]], axis=1)
    if np.any(np.abs(matrix.sum(axis=1) - WHITE_D50) > 0.08) or abs(np.linalg.det(matrix)) < 1e-3:
        raise ValueError("the colourants do not add up to white")
    curves = np.stack([np.clip(_curve(tags[name])(codes1), 0.0, 1.0) for name in needed[3:]])
    return _checked(RgbEncoding(_name(tags), _with_d50_white(matrix), curves))


def _checked(encoding: RgbEncoding) -> RgbEncoding:
    """Refuse curves that fall; give sRGB itself where the profile says sRGB in other words."""
    curves = encoding.curves
    if not np.all(np.isfinite(curves)) or np.any(np.diff(curves, axis=1) < -1e-3):
        raise ValueError("a tone curve that falls")
    if np.any(curves[:, -1] - curves[:, 0] < 0.5):
        raise ValueError("a tone curve that does not reach from dark to light")
    srgb = srgb_encoding(curves.shape[1])
    alike = np.allclose(encoding.matrix, srgb.matrix, atol=2e-3)
    if alike and np.allclose(curves, srgb.curves, atol=2e-3):
        return srgb
    return encoding


def _name(tags: dict[bytes, bytes]) -> str:
    """Read the profile's own name. Source: ICC.1:2022 clause 10.15; ICC.1:2001-04 clause 6.5.17."""
    tag = tags.get(b"desc", b"")
    text = ""
    if tag[:4] == b"mluc" and len(tag) >= 28:
        size, start = struct.unpack_from(">II", tag, 20)
        text = tag[start : start + min(size, 200)].decode("utf-16-be", "replace")
    elif tag[:4] == b"desc" and len(tag) >= 12:
        (size,) = struct.unpack_from(">I", tag, 8)
        text = tag[12 : 12 + min(size, 200)].decode("latin-1")
    text = "".join(letter for letter in text if letter.isprintable()).strip()
    return text or "an unnamed profile"


def encoding_to_icc(primaries: Primaries) -> bytes:
    """Write a display profile of the matrix/TRC kind, for Little CMS to convert into.

    Source: ICC.1:2001-04 (profile version 2.4), the form that every reader knows.
    """
    encoding = encoding_from_primaries(primaries)

    def fixed(values: Any) -> bytes:
        return struct.pack(">3i", *(round(float(value) * 65536) for value in values))

    if primaries.gamma is None:
        table = np.round(np.asarray(srgb1_to_linear(np.linspace(0, 1, 1024))) * 65535).astype(">u2")
        curve = struct.pack(">4s4xI", b"curv", 1024) + table.tobytes()
    else:
        curve = struct.pack(">4s4xIH2x", b"curv", 1, round(primaries.gamma * 256))
    title = primaries.name.encode("ascii") + b"\0"
    white = np.array([0.9642, 1.0, 0.8249])
    columns = (encoding.matrix * (white / encoding.matrix.sum(axis=1))[:, None]).T
    contents = {
        b"desc": struct.pack(">4s4xI", b"desc", len(title)) + title + bytes(78),
        b"cprt": b"text\0\0\0\0No copyright, use freely\0",
        b"wtpt": b"XYZ \0\0\0\0" + fixed(white),
        b"rXYZ": b"XYZ \0\0\0\0" + fixed(columns[0]),
        b"gXYZ": b"XYZ \0\0\0\0" + fixed(columns[1]),
        b"bXYZ": b"XYZ \0\0\0\0" + fixed(columns[2]),
        b"rTRC": curve,
        b"gTRC": curve,
        b"bTRC": curve,
    }
    start = 132 + 12 * len(contents)
    directory, body = struct.pack(">I", len(contents)), b""
    for name, content in contents.items():
        directory += struct.pack(">4sII", name, start + len(body), len(content))
        body += content + bytes(-len(content) % 4)
    header = struct.pack(
        ">I4sI4s4s4s6H4s4s6I12s4s44x",
        start + len(body), b"\0\0\0\0", 0x02400000, b"mntr", b"RGB ", b"XYZ ",
        2000, 1, 1, 0, 0, 0, b"acsp", b"\0\0\0\0", 0, 0, 0, 0, 0, 0, fixed(white), b"\0\0\0\0",
    )  # fmt: skip
    return header + directory + body
