"""Pictures are read once, upright, with their colours kept, or refused in a sentence."""

import io
import struct
import tracemalloc
import zlib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageCms

from blendkit.colour import srgb1_to_lab
from blendkit.errors import PictureError
from blendkit.picture import MAX_PIXELS, read_picture
from blendkit.picture.encoding import (
    ADOBE_RGB_1998,
    BT_2020_WIDE,
    DISPLAY_P3,
    SRGB,
    encoding_from_icc,
    encoding_from_primaries,
    encoding_to_icc,
    srgb_encoding,
)

DEBIAN = Path("/usr/share/color/icc")
needs_debian = pytest.mark.skipif(
    not (DEBIAN / "compatibleWithAdobeRGB1998.icc").exists(),
    reason="Debian's package icc-profiles-free is not installed",
)


def patches(seed=0, size=(24, 32)):
    rng = np.random.default_rng(seed)
    return rng.integers(0, 256, (*size, 3), dtype=np.uint8)


def saved(image, kind="PNG", **options):
    stream = io.BytesIO()
    image.save(stream, kind, **options)
    return stream.getvalue()


def png16(codes, alpha=None):
    """A 16-bit PNG by hand (PNG specification, third edition); Pillow writes none in colour."""
    channels = [codes] if codes.ndim == 3 else [codes[..., None]]
    if alpha is not None:
        channels.append(alpha[..., None])
    data = np.concatenate(channels, axis=2).astype(">u2")
    kind = {1: 0, 2: 4, 3: 2, 4: 6}[data.shape[2]]
    rows = b"".join(b"\0" + row.tobytes() for row in data)

    def chunk(name, body):
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    header = struct.pack(">IIBBBBB", data.shape[1], data.shape[0], 16, kind, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(rows))
        + chunk(b"IEND", b"")
    )


# --- what the numbers mean -------------------------------------------------------------------------------


@pytest.mark.gold
@pytest.mark.parametrize("primaries", [SRGB, ADOBE_RGB_1998, DISPLAY_P3])
def test_encodings_agree_with_the_colour_science_library(primaries):
    """Linear RGB to XYZ D50 is the matrix that colour-science derives for the same published space."""
    colour = pytest.importorskip("colour")
    space = colour.RGB_COLOURSPACES[primaries.name]
    encoding = encoding_from_primaries(primaries)
    rgb = np.random.default_rng(3).random((50, 3))
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"]
    xyz = colour.RGB_to_XYZ(
        space.cctf_decoding(rgb), space, illuminant=white, chromatic_adaptation_transform="Bradford"
    )
    assert np.abs(encoding.to_xyz1_d50(rgb) - xyz).max() < 2e-4


@pytest.mark.gold
@needs_debian
@pytest.mark.parametrize(
    "name", ["compatibleWithAdobeRGB1998.icc", "LStar-RGB.icc", "sRGB.icc", "CineonLog_M.icc"]
)
def test_matrix_profiles_read_as_little_cms_reads_them(name):
    """A public RGB profile gives the Lab that Little CMS gives, within its 8-bit rounding."""
    profile = (DEBIAN / name).read_bytes()
    encoding = encoding_from_icc(profile)
    pixels = patches(4)
    changed = ImageCms.profileToProfile(
        Image.fromarray(pixels),
        ImageCms.ImageCmsProfile(io.BytesIO(profile)),
        ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")),
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        outputMode="LAB",
        flags=ImageCms.Flags.NOOPTIMIZE,
    )
    rounded = np.asarray(changed).astype(np.int16)
    theirs = np.stack(
        [rounded[..., 0] / 2.55, *(rounded[..., i].astype(np.uint8).view(np.int8) for i in (1, 2))], axis=-1
    )
    ours = encoding.to_lab(pixels)
    inside = np.all(np.abs(ours[..., 1:]) < 126, axis=-1)
    assert inside.mean() > 0.9
    assert np.abs(ours - theirs)[inside].max() < 0.6


@pytest.mark.gold
@needs_debian
@pytest.mark.parametrize("name", ["Gray.icc", "Gray-CIE_L.icc"])
def test_grey_profiles_read_as_little_cms_reads_them(name):
    """A public grey profile, with XYZ or Lab behind it, gives the lightness that Little CMS gives."""
    profile = (DEBIAN / name).read_bytes()
    grey = np.tile(np.arange(256, dtype=np.uint8), (8, 1))
    picture = read_picture(saved(Image.fromarray(grey), "PNG", icc_profile=profile))
    target = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB"))
    shown = ImageCms.profileToProfile(
        Image.fromarray(grey),
        ImageCms.ImageCmsProfile(io.BytesIO(profile)),
        target,
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        outputMode="RGB",
        flags=ImageCms.Flags.NOOPTIMIZE,
    )
    difference = np.abs(picture.to_srgb8().astype(int) - np.asarray(shown).astype(int))
    assert difference.max() <= 2
    assert np.abs(picture.to_lab(picture.pixels)[..., 1:]).max() < 1e-6


@pytest.mark.gold
@pytest.mark.parametrize("primaries", [DISPLAY_P3, ADOBE_RGB_1998, BT_2020_WIDE])
def test_profiles_that_blendkit_writes_are_read_alike_by_little_cms(primaries):
    """Little CMS converts in-gamut colours of our profile to sRGB as our own arithmetic does."""
    pixels = (patches(5) // 4 + 96).astype(np.uint8)
    picture = read_picture(saved(Image.fromarray(pixels), icc_profile=encoding_to_icc(primaries)))
    assert picture.space == primaries.name
    target = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB"))
    given = ImageCms.ImageCmsProfile(io.BytesIO(encoding_to_icc(primaries)))
    theirs = ImageCms.profileToProfile(
        Image.fromarray(pixels), given, target, renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC
    )
    assert np.abs(picture.to_srgb8().astype(int) - np.asarray(theirs).astype(int)).max() <= 1


def test_display_p3_red_keeps_the_chroma_that_srgb_can_not_hold():
    """Full red of a Display P3 photo stays more colourful than sRGB's red, though it is shown as that."""
    red = np.zeros((16, 16, 3), np.uint8)
    red[..., 0] = 255
    picture = read_picture(saved(Image.fromarray(red), "PNG", icc_profile=encoding_to_icc(DISPLAY_P3)))
    lab = picture.to_lab(picture.pixels)[0, 0]
    assert np.hypot(*lab[1:]) > np.hypot(*srgb1_to_lab([1.0, 0, 0])[1:]) + 10
    assert tuple(picture.to_srgb8()[0, 0]) == (255, 0, 0)


def test_white_is_white_in_every_encoding():
    """Full codes are L* 100, a* = b* = 0, whatever profile the picture carries."""
    white = np.full((9, 9, 3), 255, np.uint8)
    for primaries in (SRGB, DISPLAY_P3, ADOBE_RGB_1998, BT_2020_WIDE):
        picture = read_picture(saved(Image.fromarray(white), icc_profile=encoding_to_icc(primaries)))
        assert picture.to_lab(picture.pixels)[0, 0] == pytest.approx([100, 0, 0], abs=1e-6)


def test_an_srgb_profile_is_known_as_srgb_and_its_pixels_are_not_touched():
    """A picture that says sRGB in curves and colourants is sRGB itself."""
    pixels = patches(1)
    picture = read_picture(saved(Image.fromarray(pixels), icc_profile=encoding_to_icc(SRGB)))
    assert picture.encoding.is_srgb
    assert np.array_equal(picture.to_srgb8(), pixels)
    assert picture.to_lab(pixels) == pytest.approx(srgb1_to_lab(pixels / 255), abs=1e-9)


def test_a_picture_without_profile_is_read_as_srgb_and_says_so():
    """What is assumed stands in the notes."""
    picture = read_picture(saved(Image.fromarray(patches())))
    assert picture.space == "sRGB"
    assert any("no colour profile" in note for note in picture.notes)


def test_a_camera_that_notes_adobe_rgb_without_profile_is_believed():
    """EXIF colour space 2, or uncalibrated with interoperability R03, means Adobe RGB (DCF 2.0)."""
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA001] = 2
    data = saved(Image.fromarray(patches()), "JPEG", exif=exif)
    picture = read_picture(data)
    assert picture.space == "Adobe RGB (1998)"


@pytest.mark.parametrize("broken", [b"junk", encoding_to_icc(DISPLAY_P3)[:300], b"\0" * 400])
def test_a_damaged_profile_is_said_and_the_picture_still_read(broken):
    """A damaged profile never stops the reading; the notes say that sRGB was assumed."""
    picture = read_picture(saved(Image.fromarray(patches()), "JPEG", icc_profile=broken))
    assert picture.encoding.is_srgb
    assert any("damaged" in note for note in picture.notes)


def test_floats_and_codes_of_the_same_pixel_mean_the_same():
    """A pixel given as 0 to 1 reads as the same pixel given as its code."""
    encoding = srgb_encoding()
    codes = patches()
    assert encoding.to_lab(codes / 255.0) == pytest.approx(encoding.to_lab(codes), abs=1e-9)


# --- kinds of files --------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["PNG", "TIFF", "BMP", "WEBP"])
def test_eight_bit_pixels_come_back_as_saved(kind):
    """A lossless file gives back the very pixels."""
    pixels = patches()
    options = {"lossless": True} if kind == "WEBP" else {}
    assert np.array_equal(read_picture(saved(Image.fromarray(pixels), kind, **options)).pixels, pixels)


def test_sixteen_bit_png_keeps_every_bit():
    """A 16-bit colour PNG is not rounded to 8 bit."""
    codes = np.random.default_rng(2).integers(0, 65536, (20, 30, 3), dtype=np.uint16)
    picture = read_picture(png16(codes))
    assert picture.pixels.dtype == np.uint16
    assert np.array_equal(picture.pixels, codes)
    assert picture.to_lab(codes) == pytest.approx(srgb1_to_lab(codes / 65535), abs=1e-9)


@pytest.mark.parametrize("compression", [None, "zlib"])
def test_sixteen_bit_tiff_keeps_every_bit(compression):
    """A 16-bit colour TIFF, as scanners save it, is not rounded to 8 bit, and its dpi are known."""
    tifffile = pytest.importorskip("tifffile")
    codes = np.random.default_rng(2).integers(0, 65536, (20, 30, 3), dtype=np.uint16)
    stream = io.BytesIO()
    options = {"resolution": (300, 300), "resolutionunit": "INCH"}
    tifffile.imwrite(stream, codes, photometric="rgb", compression=compression, **options)
    picture = read_picture(stream.getvalue())
    assert np.array_equal(picture.pixels, codes)
    assert picture.dpi == 300


def test_sixteen_bit_grey_is_spread_to_three_equal_channels():
    """A 16-bit grey PNG keeps its codes in all three channels."""
    codes = np.random.default_rng(2).integers(0, 65536, (20, 30), dtype=np.uint16)
    picture = read_picture(png16(codes))
    assert np.array_equal(picture.pixels, np.repeat(codes[..., None], 3, axis=2))


def test_transparent_parts_lie_over_white_and_are_said():
    """Alpha 0 is white, alpha full is the colour, half is between; 8 and 16 bit; the notes say so."""
    for full, dtype in ((255, np.uint8), (65535, np.uint16)):
        colour = np.full((10, 30, 3), full // 5, dtype)
        alpha = np.repeat(np.array([0, (full + 1) // 2, full], dtype), 10)[None, :].repeat(10, axis=0)
        eight = dtype is np.uint8
        data = saved(Image.fromarray(np.dstack([colour, alpha]))) if eight else png16(colour, alpha)
        picture = read_picture(data)
        assert picture.pixels[0, 0, 0] == full
        assert picture.pixels[0, 29, 0] == full // 5
        assert picture.pixels[0, 15, 0] == pytest.approx(full * 0.6, abs=full * 0.01)
        assert any("transparent" in note for note in picture.notes)


def test_an_opaque_alpha_channel_is_not_worth_a_note():
    """A picture with alpha that hides nothing reads as one without."""
    rgba = np.dstack([patches(), np.full((24, 32), 255, np.uint8)])
    picture = read_picture(saved(Image.fromarray(rgba)))
    assert np.array_equal(picture.pixels, rgba[..., :3])
    assert not any("transparent" in note for note in picture.notes)


def test_palette_grey_and_one_bit_pictures_are_read_as_they_look():
    """Pictures of few colours, of grey, and of black and white give three channels."""
    pixels = np.where(patches() > 127, 255, 0).astype(np.uint8)
    palette = Image.fromarray(pixels).quantize(8)
    assert np.array_equal(read_picture(saved(palette, "GIF")).pixels, np.asarray(palette.convert("RGB")))
    grey = pixels[..., 0]
    assert np.array_equal(read_picture(saved(Image.fromarray(grey))).pixels[..., 2], grey)
    one_bit = Image.fromarray(grey).convert("1")
    assert np.array_equal(read_picture(saved(one_bit, "TIFF")).pixels[..., 1], np.asarray(one_bit) * 255)


def test_palette_transparency_lies_over_white():
    """A transparent palette colour becomes white."""
    image = Image.new("P", (16, 16), 0)
    image.putpalette([10, 20, 30] + [0] * 765)
    picture = read_picture(saved(image, "PNG", transparency=0))
    assert np.all(picture.pixels == 255)


def test_cmyk_without_profile_is_read_as_a_guess_and_says_so():
    """Without profile nobody knows what CMYK means; white stays white."""
    image = Image.new("CMYK", (16, 16), (0, 0, 0, 0))
    picture = read_picture(saved(image, "JPEG", quality=95))
    assert np.all(picture.pixels == 255)
    assert any("guess" in note for note in picture.notes)


def cmyk_profile():
    """A tiny CMYK table profile (lut8Type, ICC.1:2001-04 clause 6.5.8): Lab of ink amounts, 2 points each."""
    grid = np.array([[c, m, y, k] for c in (0, 1) for m in (0, 1) for y in (0, 1) for k in (0, 1)], float)
    rgb = (1 - grid[:, :3] * 0.65) * (1 - grid[:, 3:])
    lab = srgb1_to_lab(rgb)
    codes = np.clip(np.round(np.stack([lab[:, 0] * 2.55, lab[:, 1] + 128, lab[:, 2] + 128], 1)), 0, 255)
    straight = bytes(range(256))
    matrix = struct.pack(">9i", 65536, 0, 0, 0, 65536, 0, 0, 0, 65536)
    lut = b"mft1\0\0\0\0" + bytes([4, 3, 2, 0]) + matrix + straight * 4 + codes.astype(np.uint8).tobytes()
    lut += straight * 3
    tags = {
        b"desc": struct.pack(">4s4xI", b"desc", 5) + b"test\0" + bytes(79),
        b"cprt": b"text\0\0\0\0free\0",
        b"wtpt": b"XYZ \0\0\0\0" + struct.pack(">3i", 63190, 65536, 54061),
        b"A2B0": lut,
    }
    start, table, body = 132 + 12 * len(tags), b"", b""
    for name, content in tags.items():
        table += struct.pack(">4sII", name, start + len(body), len(content))
        body += content + bytes(-len(content) % 4)
    header = struct.pack(
        ">I4xI4s4s4s12s4s28x12s48x",
        start + len(body), 0x02400000, b"prtr", b"CMYK", b"Lab ",
        struct.pack(">6H", 2000, 1, 1, 0, 0, 0), b"acsp", struct.pack(">3i", 63190, 65536, 54061),
    )  # fmt: skip
    return header + struct.pack(">I", len(tags)) + table + body, lab


def test_cmyk_with_its_profile_becomes_the_colour_that_the_profile_says():
    """Corners of a CMYK table profile come back as its Lab, within the rounding of 8-bit pixels."""
    profile, lab = cmyk_profile()
    image = Image.new("CMYK", (32, 16))
    corners = [(c, m, y, k) for c in (0, 255) for m in (0, 255) for y in (0, 255) for k in (0, 255)]
    for i, corner in enumerate(corners[:8]):
        image.paste(corner, (i * 4, 0, i * 4 + 4, 16))
    picture = read_picture(saved(image, "TIFF", icc_profile=profile))
    assert any("by its profile" in note for note in picture.notes)
    found = picture.to_lab(picture.pixels[8, 1::4])
    white = picture.to_lab(picture.pixels[8, 1])
    assert white[0] > 90
    assert np.abs(found - lab[:8]).max() < 2.5


def test_only_the_first_of_several_pictures_is_read_and_that_is_said():
    """A TIFF of two pages gives its first."""
    first, second = Image.fromarray(patches(1)), Image.fromarray(patches(2))
    picture = read_picture(saved(first, "TIFF", save_all=True, append_images=[second]))
    assert np.array_equal(picture.pixels, patches(1))
    assert any("2 pictures" in note for note in picture.notes)


@pytest.mark.gold
@pytest.mark.parametrize("turn", range(1, 9))
@pytest.mark.parametrize("deep", [False, True])
def test_pictures_are_turned_upright_as_pillow_turns_them(turn, deep):
    """All eight EXIF orientations give what Pillow's own exif_transpose gives, in 8 and 16 bit."""
    from PIL import ImageOps

    pixels = patches(7)
    exif = Image.Exif()
    exif[0x0112] = turn
    data = saved(Image.fromarray(pixels), "PNG", exif=exif)
    expected = np.asarray(ImageOps.exif_transpose(Image.open(io.BytesIO(data))))
    if deep:
        plain = png16(pixels.astype(np.uint16) * 257)
        body = exif.tobytes()[6:] if exif.tobytes().startswith(b"Exif\0\0") else exif.tobytes()
        chunk = struct.pack(">I", len(body)) + b"eXIf" + body + struct.pack(">I", zlib.crc32(b"eXIf" + body))
        data = plain[:33] + chunk + plain[33:]
        expected = expected.astype(np.uint16) * 257
    assert np.array_equal(read_picture(data).pixels, expected)


def test_resolution_is_read_where_it_is_stated():
    """The dpi of a scan are known; a picture that states none has None."""
    image = Image.fromarray(patches())
    assert read_picture(saved(image, "JPEG", dpi=(300, 300))).dpi == 300
    assert read_picture(saved(image, "PNG", dpi=(600, 600))).dpi == pytest.approx(600, abs=0.1)
    assert read_picture(saved(image, "PNG")).dpi is None
    uneven = read_picture(saved(image, "TIFF", dpi=(300, 150)))
    assert uneven.dpi is None
    assert any("dpi" in note for note in uneven.notes)


def test_a_path_and_its_bytes_give_the_same(tmp_path):
    """Reading from a path names the file; the pixels are those of its bytes."""
    data = saved(Image.fromarray(patches()))
    path = tmp_path / "lantern.png"
    path.write_bytes(data)
    picture = read_picture(path)
    assert picture.name == "lantern.png"
    assert np.array_equal(picture.pixels, read_picture(data).pixels)
    with pytest.raises(ValueError, match="read-only"):
        picture.pixels[0, 0] = 0


# --- what is refused -------------------------------------------------------------------------------------


def bomb(width, height):
    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + struct.pack(">I", 13)
        + b"IHDR"
        + header
        + struct.pack(">I", zlib.crc32(b"IHDR" + header))
        + struct.pack(">I", 2)
        + b"IDAT\0\0"
        + struct.pack(">I", zlib.crc32(b"IDAT\0\0"))
        + b"\0\0\0\0IEND\xaeB`\x82"
    )


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "is empty"),
        (b"hello, this is a letter", "not a picture"),
        (b"%PDF-1.7 and so on", "PDF"),
        (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic", "HEIC"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "SVG"),
        (b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 9 9\n", "PostScript"),
        (bomb(60000, 60000), "too many pixels"),
        (bomb(10000, 9500), "too many pixels"),
        (saved(Image.fromarray(patches(size=(4, 40)))), "too small"),
    ],
)
def test_what_is_no_usable_picture_is_refused_in_a_sentence(data, sentence):
    """Each refusal says what was found and what would be accepted."""
    with pytest.raises(PictureError, match=sentence) as caught:
        read_picture(data)
    assert caught.value.problems
    assert caught.value.message.rstrip().endswith(".")


def test_missing_files_folders_and_odd_names_are_refused_in_a_sentence(tmp_path):
    """A path that leads to no file says so."""
    with pytest.raises(PictureError, match="folder"):
        read_picture(tmp_path)
    with pytest.raises(PictureError, match="There is no picture"):
        read_picture(tmp_path / "none.png")
    with pytest.raises(PictureError):
        read_picture("a\0b.png")


def test_a_limit_of_pixels_is_kept():
    """A caller may ask for a lower limit, never for a higher one than is safe."""
    data = saved(Image.fromarray(patches()))
    with pytest.raises(PictureError, match="too many pixels"):
        read_picture(data, max_pixels=100)
    with pytest.raises(PictureError, match="too many pixels"):
        read_picture(bomb(10000, 9000), max_pixels=MAX_PIXELS * 100)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "TIFF", "WEBP", "GIF", "BMP", "PNG16"])
def test_a_file_cut_short_is_refused_in_a_sentence(kind):
    """Half a file is no picture, in 8 or 16 bit."""
    pixels = patches(size=(200, 200))
    whole = png16(pixels.astype(np.uint16) * 250) if kind == "PNG16" else saved(Image.fromarray(pixels), kind)
    for share in (0.2, 0.5, 0.9):
        with pytest.raises(PictureError):
            read_picture(whole[: int(len(whole) * share)])


def test_numbers_of_no_known_scale_are_refused():
    """A floating-point TIFF has no white to measure from."""
    image = Image.fromarray(np.random.default_rng(0).random((16, 16)).astype(np.float32))
    with pytest.raises(PictureError, match="no known scale"):
        read_picture(saved(image, "TIFF"))


def test_files_with_random_damage_never_fail_in_any_other_way():
    """Whatever bytes are changed, a picture is read or a PictureError is raised."""
    rng = np.random.default_rng(11)
    image = Image.fromarray(patches(size=(40, 40)))
    wholes = [saved(image, kind) for kind in ("JPEG", "PNG", "TIFF", "WEBP", "GIF", "BMP")]
    wholes.append(png16(patches(size=(40, 40)).astype(np.uint16) * 257))
    wholes.append(saved(image, "JPEG", icc_profile=encoding_to_icc(DISPLAY_P3)))
    read = refused = 0
    for whole in wholes:
        for _ in range(60):
            damaged = bytearray(whole)
            for _ in range(rng.integers(1, 9)):
                damaged[rng.integers(0, min(len(damaged), 900))] = rng.integers(0, 256)
            try:
                picture = read_picture(bytes(damaged))
                assert picture.pixels.ndim == 3
                read += 1
            except PictureError:
                refused += 1
    assert read > 50
    assert refused > 50


@pytest.mark.parametrize("size", [(2000, 1500), (4000, 3000)])
def test_a_large_photo_is_kept_as_stored_and_copied_once(size):
    """A phone's photo is decoded and turned; memory beside the decoder's stays at two copies, at any size."""
    rng = np.random.default_rng(0)
    small = Image.fromarray(rng.integers(0, 256, (30, 40, 3), dtype=np.uint8))
    exif = Image.Exif()
    exif[0x0112] = 6
    data = saved(small.resize(size), "JPEG", exif=exif, icc_profile=encoding_to_icc(DISPLAY_P3))
    tracemalloc.start()
    picture = read_picture(data)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert picture.pixels.shape == (*size, 3)
    assert picture.pixels.dtype == np.uint8
    assert peak < 2.2 * picture.pixels.nbytes


def rgb_table_profile():
    """An RGB profile made of a table (lut8Type): sRGB at 17 points a side, each a little greyer."""
    side = 17
    line = np.linspace(0, 1, side)
    rgb = np.stack(np.meshgrid(line, line, line, indexing="ij"), axis=-1).reshape(-1, 3)
    lab = srgb1_to_lab(rgb) * [1.0, 0.8, 0.8]
    codes = np.clip(np.round(np.stack([lab[:, 0] * 2.55, lab[:, 1] + 128, lab[:, 2] + 128], 1)), 0, 255)
    straight = bytes(range(256))
    matrix = struct.pack(">9i", 65536, 0, 0, 0, 65536, 0, 0, 0, 65536)
    lut = b"mft1\0\0\0\0" + bytes([3, 3, side, 0]) + matrix + straight * 3
    lut += codes.astype(np.uint8).tobytes() + straight * 3
    plain = bytearray(encoding_to_icc(SRGB))
    (count,) = struct.unpack_from(">I", plain, 128)
    moved = bytearray(plain[:128]) + struct.pack(">I", count + 1)
    for i in range(count):
        name, start, size = struct.unpack_from(">4sII", plain, 132 + 12 * i)
        moved += struct.pack(">4sII", name, start + 12, size)
    moved += struct.pack(">4sII", b"A2B0", len(plain) + 12, len(lut)) + plain[132 + 12 * count :] + lut
    moved += bytes(-len(moved) % 4)
    moved[:4] = struct.pack(">I", len(moved))
    moved[20:24] = b"Lab "
    return bytes(moved)


@pytest.mark.parametrize("deep", [False, True])
def test_an_rgb_profile_of_tables_is_followed_by_little_cms(deep):
    """Where a profile holds tables, they say what the colours are; 16 bit are rounded to 8 and that is said."""
    rgb = np.array([[200, 85, 61], [47, 93, 80], [240, 226, 196], [128, 128, 128]], np.uint8)
    pixels = np.repeat(np.repeat(rgb[None], 12, axis=0), 4, axis=1)
    profile = rgb_table_profile()
    if deep:
        tifffile = pytest.importorskip("tifffile")
        stream = io.BytesIO()
        tags = [(34675, "B", len(profile), profile, True)]
        tifffile.imwrite(stream, pixels.astype(np.uint16) * 257, photometric="rgb", extratags=tags)
        data = stream.getvalue()
    else:
        data = saved(Image.fromarray(pixels), "PNG", icc_profile=profile)
    picture = read_picture(data)
    expected = srgb1_to_lab(rgb / 255) * [1.0, 0.8, 0.8]
    assert np.abs(picture.to_lab(picture.pixels[5, ::4]) - expected).max() < 2.0
    assert any("by its profile" in note for note in picture.notes)
    assert any("rounded to 8" in note for note in picture.notes) == deep


def test_a_tiff_in_lab_is_read_as_that_lab():
    """A TIFF whose numbers are CIELAB gives that colour."""
    image = Image.new("LAB", (16, 16), (140, 128 + 20, 128 - 30))
    picture = read_picture(saved(image, "TIFF"))
    assert picture.to_lab(picture.pixels[3, 3]) == pytest.approx([140 / 2.55, 20, -30], abs=1.0)


def test_sixteen_bit_pictures_are_shown_in_eight():
    """For the screen, 16 bit are rounded to 8, in sRGB and in other encodings alike."""
    codes = np.random.default_rng(2).integers(0, 65536, (20, 30, 3), dtype=np.uint16)
    shown = read_picture(png16(codes)).to_srgb8()
    assert shown.dtype == np.uint8
    assert np.abs(shown - codes / 257).max() <= 0.51


def test_a_deep_picture_whose_chunk_says_it_holds_gigabytes_is_refused_before_room_is_made_for_it(
    monkeypatch,
):
    import cv2

    whole = cv2.imencode(".png", np.full((9, 9), 40_000, dtype=np.uint16))[1].tobytes()
    assert read_picture(whole, min_side_px=1).pixels.shape[:2] == (9, 9)
    place = whole.index(b"IDAT") - 4
    monkeypatch.setattr(cv2, "imdecode", lambda *_: pytest.fail("room was made"))
    with pytest.raises(PictureError, match="damaged"):
        read_picture(whole[:place] + b"\xff" + whole[place + 1 :], min_side_px=1)
