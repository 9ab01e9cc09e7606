"""Reading a picture file: turned upright, its profile kept, refused in a sentence where it can't be used."""

import io
import os
import struct
import warnings
from dataclasses import dataclass, field
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from blendkit.colour import linear_to_srgb1
from blendkit.errors import PictureError, Problem
from blendkit.picture.encoding import (
    ADOBE_RGB_1998,
    BT_2020_WIDE,
    RgbEncoding,
    encoding_from_icc,
    encoding_from_primaries,
    encoding_to_icc,
    srgb_encoding,
)

if TYPE_CHECKING:
    from PIL import Image

MAX_PIXELS = 89_000_000
"""Largest picture that is read; just under the size at which Pillow itself warns of a bomb."""

MAX_BYTES = 600_000_000
"""Largest file that is opened at all."""

MIN_SIDE_PX = 8
"""Smallest side of a picture that can show anything."""

FORMATS = {
    "JPEG": "JpegImagePlugin",
    "PNG": "PngImagePlugin",
    "TIFF": "TiffImagePlugin",
    "WEBP": "WebPImagePlugin",
    "GIF": "GifImagePlugin",
    "BMP": "BmpImagePlugin",
}
"""What is read, and by which module of Pillow. Formats that run other programs (such as EPS) stay out."""

ENDINGS = (".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".gif", ".bmp")
"""How the names of such files end."""

ACCEPTED = "a JPEG, PNG, TIFF, WebP, GIF or BMP picture"

_ORIENTATION = 0x0112
_EXIF_IFD = 0x8769
_INTEROP_IFD = 0xA005
_COLOUR_SPACE = 0xA001
"""Tags. Source: Exif 2.32 (CIPA DC-008), 4.6."""


@dataclass(frozen=True, eq=False)
class Picture:
    """A picture as it was stored, upright, with what its numbers mean.

    Attributes:
        name: the file's name, for messages.
        pixels: shape (height, width, 3), uint8 or uint16 over the full range, in the picture's own encoding.
        encoding: how these numbers become XYZ.
        dpi: pixels to the inch as the file states them, or None.
        notes: plain sentences about what was done or could not be known.
    """

    name: str
    pixels: NDArray[np.uint8] | NDArray[np.uint16] = field(repr=False)
    encoding: RgbEncoding = field(repr=False)
    dpi: float | None
    notes: tuple[str, ...] = ()

    @property
    def space(self) -> str:
        """Name of the picture's colour space."""
        return self.encoding.name

    @property
    def height_px(self) -> int:
        """Height in pixels, upright."""
        return int(self.pixels.shape[0])

    @property
    def width_px(self) -> int:
        """Width in pixels, upright."""
        return int(self.pixels.shape[1])

    def to_linear(self, pixels: ArrayLike) -> NDArray[np.float64]:
        """Linear RGB of the picture's own primaries, 0 to 1; average light in this form."""
        return self.encoding.to_linear(pixels)

    def to_xyz1_d50(self, pixels: ArrayLike) -> NDArray[np.float64]:
        """XYZ, D50, white Y = 1, of some of the picture's *pixels*.

        Args:
            pixels: codes as they stand in ``pixels`` (uint8 or uint16), or float from 0 to 1; shape (..., 3).
        """
        return self.encoding.to_xyz1_d50(pixels)

    def to_lab(self, pixels: ArrayLike) -> NDArray[np.float64]:
        """CIELAB, D50, 2 degree, of some of the picture's *pixels*; see :meth:`to_xyz1_d50`."""
        return self.encoding.to_lab(pixels)

    def to_srgb8(self) -> NDArray[np.uint8]:
        """Return the whole picture as sRGB, shape (height, width, 3), uint8, for showing on a screen.

        Colours outside sRGB are clipped here; measure with :meth:`to_lab`, not on this.
        """
        return _to_srgb8(self.pixels, self.encoding)


def _to_srgb8(pixels: NDArray[Any], encoding: RgbEncoding) -> NDArray[np.uint8]:
    srgb = srgb_encoding()
    if encoding.is_srgb:
        if pixels.dtype == np.uint8:
            return np.asarray(pixels, dtype=np.uint8)
        return np.asarray((pixels.astype(np.uint32) * 255 + 32767) // 65535, dtype=np.uint8)
    to_srgb = (np.linalg.inv(srgb.matrix) @ encoding.matrix).astype(np.float32)
    curves = encoding.curves.astype(np.float32)
    steps = 8192
    encode = np.rint(255.0 * np.asarray(linear_to_srgb1(np.linspace(0.0, 1.0, steps)))).astype(np.uint8)
    shown = np.empty(pixels.shape, dtype=np.uint8)
    rows = max(1, 1_000_000 // max(1, pixels.shape[1]))
    for top in range(0, pixels.shape[0], rows):
        block = pixels[top : top + rows]
        linear = np.stack([curves[c][block[..., c]] for c in range(3)], axis=-1) @ to_srgb.T
        shown[top : top + rows] = encode[np.rint(np.clip(linear, 0.0, 1.0) * (steps - 1)).astype(np.int32)]
    return shown


def read_picture(
    source: str | os.PathLike[str] | bytes,
    *,
    name: str | None = None,
    max_pixels: int = MAX_PIXELS,
    min_side_px: int = MIN_SIDE_PX,
) -> Picture:
    """Read a photo, a scan or a drawing.

    The picture is turned upright as its EXIF data say. Its pixels are kept as stored wherever its colour
    space is known in curves and primaries (sRGB, Display P3, Adobe RGB and the like, and grey); CMYK and
    profiles made of tables are converted by Little CMS to an RGB space wide enough for them. What is
    transparent is laid over white. Notes say what was done.

    Args:
        source: a path, or the bytes of a file.
        name: what to call it in messages; the file's name by default.
        max_pixels: larger pictures are refused, before their pixels are decoded.
        min_side_px: smaller pictures are refused.

    Returns: the picture.
    Raises: PictureError where it is missing, empty, damaged, too large, too small or no picture.
    """
    label, data = _read_bytes(source, name)
    image = _open(data, label)
    try:
        return _decode(image, data, label, min(max_pixels, MAX_PIXELS), min_side_px)
    finally:
        image.close()


def _refuse(label: str, why: str, found: str, accepted: str = ACCEPTED) -> PictureError:
    return PictureError(why, [Problem(label, found, accepted)])


def _read_bytes(source: str | os.PathLike[str] | bytes, name: str | None) -> tuple[str, bytes]:
    if isinstance(source, bytes | bytearray | memoryview):
        label, data = name or "the picture", bytes(source)
        size = len(data)
    else:
        try:
            path = Path(source)
            label = name or path.name or str(path)
            if path.exists() and not path.is_file():
                what = "a folder" if path.is_dir() else "no ordinary file"
                raise _refuse(label, f"{path} is {what}, not a picture.", what)
            size = path.stat().st_size
            data = path.read_bytes() if size <= MAX_BYTES else b""
        except FileNotFoundError:
            raise _refuse(label, f"There is no picture at {path}.", "nothing") from None
        except (OSError, ValueError) as error:
            why = getattr(error, "strerror", None) or str(error)
            raise _refuse(name or repr(str(source)), f"The picture can't be opened: {why}.", why) from None
    if max(size, len(data)) > MAX_BYTES:
        most = f"at most {MAX_BYTES / 1e6:.0f} MB"
        raise _refuse(label, f"{label} is too large to open.", f"{size / 1e6:.0f} MB", most)
    if not data:
        raise _refuse(label, f"{label} is empty.", "0 bytes")
    return label, data


def _kind_of(data: bytes) -> str:
    """What a file that is no readable picture seems to be, for the message."""
    head = data[:512].lstrip()
    if data[4:8] == b"ftyp" and data[8:12] in (b"heic", b"heix", b"mif1", b"hevc", b"msf1", b"avif"):
        return "a HEIC or AVIF picture (set the phone to save JPEG, or export it as JPEG or PNG)"
    for start, kind in (
        (b"%PDF", "a PDF (export the page as PNG or TIFF)"),
        (b"%!PS", "PostScript (export it as PNG or TIFF)"),
        (b"<svg", "an SVG drawing (export it as PNG)"),
        (b"<?xml", "an XML file, perhaps an SVG drawing (export it as PNG)"),
        (b"<!DOCTYPE", "a web page"),
        (b"<html", "a web page"),
        (b"PK", "a zip archive or an office document"),
        (b"8BPS", "a layered picture (export it as PNG or TIFF)"),
    ):
        if head[: len(start)].lower() == start.lower():
            return kind
    return "something that is no picture, or a damaged one"


def _open(data: bytes, label: str) -> "Image.Image":
    from PIL import Image, UnidentifiedImageError

    for plugin in FORMATS.values():
        import_module(f"PIL.{plugin}")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        warnings.simplefilter("error", Image.DecompressionBombWarning)
        try:
            return Image.open(io.BytesIO(data), formats=list(FORMATS))
        except (Image.DecompressionBombError, Image.DecompressionBombWarning):
            raise _refuse(
                label,
                f"{label} has far too many pixels to be opened safely.",
                f"more than {MAX_PIXELS / 1e6:.0f} million pixels",
                _fewer(MAX_PIXELS),
            ) from None
        except UnidentifiedImageError:
            raise _refuse(label, f"{label} is not a picture that can be read.", _kind_of(data)) from None
        except Exception as error:  # a decoder may fail in any way on a damaged file
            raise _damaged(label, error) from None


def _fewer(pixels: int) -> str:
    return f"at most {pixels / 1e6:.3g} million pixels; scan at 300 dpi, or make the picture smaller"


def _damaged(label: str, error: Exception) -> PictureError:
    return _refuse(
        label,
        f"{label} is damaged or cut short; save or copy it again.",
        f"a picture that stops being readable ({type(error).__name__})",
    )


def _decode(image: "Image.Image", data: bytes, label: str, max_pixels: int, min_side_px: int) -> Picture:
    width, height = image.size
    if width * height > max_pixels:
        raise _refuse(
            label,
            f"{label} has too many pixels.",
            f"{width} × {height}, {width * height / 1e6:.0f} million",
            _fewer(max_pixels),
        )
    if min(width, height) < min_side_px:
        raise _refuse(
            label,
            f"{label} is too small to show anything.",
            f"{width} × {height} pixels",
            f"at least {min_side_px} pixels each way",
        )
    notes: list[str] = []
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # libraries' remarks on odd metadata; damage raises
        try:
            if getattr(image, "n_frames", 1) > 1 and image.format != "MPO":
                notes.append(f"The file holds {image.n_frames} pictures; the first was read.")  # type: ignore[attr-defined]
            image.load()
            turn = int(image.getexif().get(_ORIENTATION, 1) or 1)
            deep = _is_16_bit(image, data)
            profile = image.info.get("icc_profile") or b""
            pixels = _deep_pixels(data) if deep else None
            codes, encoding = _pixels_and_encoding(image, pixels, profile, notes)
        except PictureError as error:
            raise _refuse(label, f"{label} {error.message}", error.problems[0].found) from None
        except MemoryError:
            found = f"{width} × {height} pixels"
            raise _refuse(label, f"{label} needs more memory than there is.", found) from None
        except Exception as error:  # a decoder may fail in any way on a damaged file
            raise _damaged(label, error) from None
        dpi = _dpi(image, notes)
    upright = _turned(codes, turn)
    if turn in range(2, 9):
        notes.append("The picture was turned upright, as the camera noted.")
    upright.setflags(write=False)
    return Picture(label, upright, encoding, dpi, tuple(notes))


def _is_16_bit(image: "Image.Image", data: bytes) -> bool:
    """Whether each channel holds 16 bit: Pillow alone would give the upper 8 of a colour picture."""
    if image.format == "PNG":
        return data[24:25] == b"\x10"  # PNG specification, third edition, 11.2.1: bit depth in IHDR
    if image.format == "TIFF":
        bits: Any = image.tag_v2.get(258, (8,))  # type: ignore[attr-defined]  # TIFF 6.0, BitsPerSample
        sampled: Any = image.tag_v2.get(339, (1,))  # type: ignore[attr-defined]  # SampleFormat 1: unsigned
        many = bits if isinstance(bits, tuple) else (bits,)
        formats = sampled if isinstance(sampled, tuple) else (sampled,)
        return all(bit == 16 for bit in many) and all(kind == 1 for kind in formats)
    return False


def _deep_pixels(data: bytes) -> NDArray[np.uint16] | None:
    """Give 16-bit pixels in the order R, G, B(, A) or grey, by OpenCV; None where it can't."""
    import cv2

    if data.startswith(b"\x89PNG"):
        # OpenCV makes room for all that a chunk says it holds; PNG specification, third edition, 5.3.
        place = 8
        while place + 8 <= len(data):
            place += 12 + int.from_bytes(data[place : place + 4])
        if place > len(data):
            raise EOFError
    found = cv2.imdecode(np.frombuffer(data, dtype=np.uint8), cv2.IMREAD_UNCHANGED)
    if found is None or found.dtype != np.uint16:
        return None
    if found.ndim == 3 and found.shape[2] >= 3:
        order = [2, 1, 0] + ([3] if found.shape[2] == 4 else [])
        found = found[..., order]
    return np.asarray(found, dtype=np.uint16)


def _pixels_and_encoding(
    image: "Image.Image", deep: NDArray[np.uint16] | None, profile: bytes, notes: list[str]
) -> tuple[NDArray[Any], RgbEncoding]:
    """RGB codes, flattened over white, with their encoding."""
    mode = image.mode
    if mode in ("CMYK", "LAB"):
        return _converted(image, profile, notes)
    if mode == "F" or (mode == "I" and deep is None):
        raise PictureError(
            "holds numbers of no known scale; save it as 8 or 16 bit.",
            [Problem("the picture", f"pixels of the kind {mode!r}", "8 or 16 bit")],
        )
    if deep is not None:
        codes = deep
    elif mode.startswith("I;16"):
        codes = np.asarray(image).astype(np.uint16)
    else:
        flat = _flat_mode(image)
        codes = np.asarray(image if image.mode == flat else image.convert(flat))
    codes = _over_white(codes, notes)
    if codes.ndim == 2:
        codes = np.repeat(codes[..., None], 3, axis=2)
    encoding = _encoding(image, profile, codes, notes)
    if encoding is None:
        if codes.dtype != np.uint8:
            notes.append("The picture's colour profile is made of tables, so its 16 bit were rounded to 8.")
            codes = (codes >> 8).astype(np.uint8)
        from PIL import Image

        return _converted(Image.fromarray(np.ascontiguousarray(codes)), profile, notes)
    return codes, encoding


def _flat_mode(image: "Image.Image") -> str:
    mode = image.mode
    clear = "transparency" in image.info or mode in ("RGBA", "LA", "PA", "RGBa", "La")
    if mode in ("1", "L", "LA", "La"):
        return "LA" if clear else "L"
    return "RGBA" if clear else "RGB"


def _over_white(codes: NDArray[Any], notes: list[str]) -> NDArray[Any]:
    """Lay a picture with alpha (2 or 4 channels) over white."""
    if codes.ndim == 2:
        return codes
    if codes.shape[2] not in (2, 4):
        return np.ascontiguousarray(codes[..., :3]) if codes.shape[2] >= 3 else codes[..., 0]
    full = np.iinfo(codes.dtype).max
    alpha = codes[..., -1:]
    colour = codes[..., :-1]
    if int(alpha.min()) < full:
        notes.append("The picture's transparent parts were laid over white.")
        share = alpha.astype(np.float32) / np.float32(full)
        colour = np.rint(colour * share + full * (1 - share)).astype(codes.dtype)
    return np.ascontiguousarray(colour if colour.shape[2] == 3 else colour[..., 0])


def _encoding(
    image: "Image.Image", profile: bytes, codes: NDArray[Any], notes: list[str]
) -> RgbEncoding | None:
    """Return the encoding; None where only Little CMS can tell, by tables."""
    count = 256 if codes.dtype == np.uint8 else 65536
    if profile:
        try:
            found = encoding_from_icc(profile, count)
            if found is not None:
                return found
            if profile[16:20] == b"RGB ":
                return None
            notes.append(
                "The picture's colour profile belongs to another kind of picture; it was read as sRGB."
            )
        except (ValueError, struct.error):
            notes.append("The picture's colour profile is damaged; it was read as sRGB.")
        return srgb_encoding(count)
    exif = image.getexif()
    space = exif.get_ifd(_EXIF_IFD).get(_COLOUR_SPACE)
    if space == 2 or (space == 65535 and exif.get_ifd(_INTEROP_IFD).get(1) == "R03"):
        notes.append("The picture has no colour profile; its camera noted Adobe RGB.")
        return encoding_from_primaries(ADOBE_RGB_1998, count)
    notes.append("The picture has no colour profile; it was read in the usual way (sRGB).")
    return srgb_encoding(count)


def _converted(
    image: "Image.Image", profile: bytes, notes: list[str]
) -> tuple[NDArray[np.uint8], RgbEncoding]:
    """Convert CMYK, Lab, and RGB with tables, by Little CMS to wide RGB, 8 bit, relative colorimetric."""
    from PIL import ImageCms

    wide = encoding_from_primaries(BT_2020_WIDE)
    kind = "CMYK" if image.mode == "CMYK" else "Lab" if image.mode == "LAB" else "RGB"
    try:
        if image.mode == "LAB":
            given = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB"))
        elif not profile:
            raise ValueError("no profile")
        else:
            given = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        target = ImageCms.ImageCmsProfile(io.BytesIO(encoding_to_icc(BT_2020_WIDE)))
        intent = ImageCms.Intent.RELATIVE_COLORIMETRIC
        changed = ImageCms.profileToProfile(image, given, target, renderingIntent=intent, outputMode="RGB")
        if changed is None:
            raise ValueError("nothing converted")
    except (ImageCms.PyCMSError, OSError, ValueError, TypeError):
        reason = "is damaged or belongs to another kind of picture" if profile else "is missing"
        notes.append(f"The picture's {kind} profile {reason}, so its colours are a rough guess.")
        return np.array(image.convert("RGB")), srgb_encoding()
    notes.append(f"The picture's {kind} colours were converted to RGB{' by its profile' if profile else ''}.")
    return np.array(changed), wide


def _dpi(image: "Image.Image", notes: list[str]) -> float | None:
    try:
        across, down = (float(value) for value in image.info["dpi"])
    except (KeyError, TypeError, ValueError, ZeroDivisionError):
        return None
    if not (1.0 < across < 100_000 and 1.0 < down < 100_000):
        return None
    if abs(across - down) > 0.02 * across:
        notes.append(f"The picture states {across:.0f} dpi across but {down:.0f} dpi down; neither was used.")
        return None
    return round((across + down) / 2, 2)


def _turned(codes: NDArray[Any], turn: int) -> NDArray[Any]:
    """Upright pixels. Source: EXIF 2.32 (CIPA DC-008-2019), tag 0x0112 Orientation, values 1 to 8."""
    if turn in (5, 6, 7, 8):
        codes = codes.transpose(1, 0, 2)
    if turn in (2, 3, 6, 7):
        codes = codes[:, ::-1]
    if turn in (3, 4, 7, 8):
        codes = codes[::-1]
    return np.ascontiguousarray(codes)
