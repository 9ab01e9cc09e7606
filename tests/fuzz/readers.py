"""Every reader with whole files to damage, and one way to try it: read, or refused in a sentence, in time."""

import csv
import io
import random
import signal
import tempfile
import time
import traceback
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from blendkit.errors import BlendkitError
from blendkit.palette import demo_palette_path, read_palette

from .damage import cut_down, turned_bytes, turned_text

ROOT = Path(__file__).parents[2]
HANG_SECONDS = 10
"""Processor seconds after which a reader is said to hang; by the clock it gets ten times as long."""

Damage = Callable[[bytes, random.Random], bytes]


class HangError(Exception):
    """Reading took too long."""


@dataclass(frozen=True)
class Reader:
    """A reader under trial.

    Attributes:
        name: what is read.
        read: reads bytes; the second argument is a folder for those that read from a path.
        seeds: whole files to begin with.
        damage: makes another input of one of them.
    """

    name: str
    read: Callable[[bytes, Path], object]
    seeds: Callable[[], tuple[bytes, ...]]
    damage: Damage = turned_text


@dataclass
class Count:
    """What came of the inputs of one reader."""

    read: int = 0
    refused: int = 0
    failed: int = 0
    slowest: float = 0.0


@contextmanager
def _no_hang() -> Iterator[None]:
    def stop(*_: object) -> None:
        raise HangError(f"still reading after {HANG_SECONDS} s of processor")

    before = signal.signal(signal.SIGPROF, stop), signal.signal(signal.SIGALRM, stop)
    signal.setitimer(signal.ITIMER_PROF, HANG_SECONDS)
    signal.alarm(10 * HANG_SECONDS)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before[0])
        signal.signal(signal.SIGALRM, before[1])


def try_one(reader: Reader, data: bytes, folder: Path, count: Count) -> str:
    """Try one input; give "" when it was read or refused in a sentence, else the traceback."""
    began = time.perf_counter()
    try:
        with _no_hang():
            reader.read(data, folder)
        count.read += 1
    except BlendkitError as error:
        count.refused += 1
        if not str(error).strip():
            count.failed += 1
            return "refused without a sentence"
    except (Exception, HangError):
        count.failed += 1
        return traceback.format_exc()
    finally:
        count.slowest = max(count.slowest, time.perf_counter() - began)
    return ""


def try_many(
    reader: Reader, inputs: int, seed: int, keep: Path | None = None, show: Callable[[str], None] = print
) -> Count:
    """Try many inputs; what fails is shown and, with *keep*, written there."""
    chance = random.Random(seed)
    count = Count()
    seeds = reader.seeds()
    with tempfile.TemporaryDirectory() as scratch:
        for number in range(inputs):
            data = chance.choice(seeds)
            if number >= len(seeds):
                data = reader.damage(data, chance)
            fault = try_one(reader, data, Path(scratch), count)
            if fault:
                show(f"{reader.name}: {data[:300]!r}\n{fault}")
                if keep is not None:
                    place = keep / reader.name.replace(" ", "_")
                    place.mkdir(parents=True, exist_ok=True)
                    (place / f"{zlib.crc32(data):08x}").write_bytes(data)
    return count


# ------------------------------------------------------------------------------------------ palettes


def _small(damage: Damage, most: int = 6000) -> Damage:
    def work(data: bytes, chance: random.Random) -> bytes:
        return damage(cut_down(data, most, chance) if chance.random() < 0.9 else data, chance)

    return work


def _with_semicolons(data: bytes) -> bytes:
    out = io.StringIO()
    csv.writer(out, delimiter=";", lineterminator="\n").writerows(csv.reader(io.StringIO(data.decode())))
    return out.getvalue().encode()


@cache
def _palettes() -> tuple[bytes, ...]:
    lane = demo_palette_path().read_bytes()
    others = [
        b"name;kind;L;a;b;light;observer\nA;marker;50,5;10;-3;D65;10\nSnow;paper;95;0;0;D50;2\n",
        b"name\tkind\thex\tcoats\nA\tmarker\t#884422\t1\nA\tmarker\t#553311\t2\n",
        b"name,kind,on,400,420,440,460,480,500,520,540,560,580,600,620,640,660,680,700\n"
        b"Snow,paper,,.8,.8,.8,.8,.8,.8,.8,.8,.8,.8,.8,.8,.8,.8,.8,.8\n"
        b"B,marker,Snow,.1,.1,.2,.2,.2,.3,.3,.4,.4,.5,.5,.5,.5,.5,.5,.5\n",
    ]
    return (lane, *others, lane.decode().encode("utf-16"), _with_semicolons(lane))


def _read_palette(data: bytes, folder: Path) -> object:
    from blendkit.palette.palette import palette_from_sheet
    from blendkit.palette.table import decode_sheet, encode_sheet

    palette = palette_from_sheet(decode_sheet(data, "fuzz.csv"))
    again = palette_from_sheet(decode_sheet(encode_sheet(palette.sheet), "fuzz.csv"))
    assert again.items == palette.items, "written and read again, it is another palette"
    return palette


def _read_palette_file(data: bytes, folder: Path) -> object:
    path = folder / "drawer.csv"
    path.write_bytes(data)
    return read_palette(path)


def _read_history(data: bytes, folder: Path) -> object:
    from blendkit.palette.store import read_history

    (folder / "drawer.history.csv").write_bytes(data)
    return read_history(folder / "drawer.csv")


@cache
def _histories() -> tuple[bytes, ...]:
    return (
        b"replaced,reason,name,hex\n2026-01-02T03:04:05Z,taken out,moss,#556633\n",
        b"replaced;reason;name;L;a;b\n2026-01-02T03:04:05Z;measured again;moss;50;-10;20\n",
    )


def _read_calibration(data: bytes, folder: Path) -> object:
    from blendkit.palette.calibration_file import read_calibrations

    (folder / "drawer.ink.toml").write_bytes(data)
    return read_calibrations(folder / "drawer.csv")


@cache
def _calibrations() -> tuple[bytes, ...]:
    from blendkit.ink import DEFAULT_MODEL
    from blendkit.palette.calibration_file import StoredCalibration, store_calibration

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "drawer.csv")
        for paper in ("Snow Gate smooth", "Bark"):
            store_calibration(path, StoredCalibration(paper, DEFAULT_MODEL, "2026-01-02", 40, 12))
        return (path.with_name("drawer.ink.toml").read_bytes(),)


# ------------------------------------------------------------------------------------------ exchange


def _read_exchange(data: bytes, folder: Path) -> object:
    from blendkit.exchange import read_exchange

    return read_exchange(data, name="fuzz")


@cache
def _cgats() -> tuple[bytes, ...]:
    from blendkit.exchange import export_palette

    made = export_palette(read_palette(demo_palette_path()), "cgats").data
    return (
        made,
        b"CGATS.17\nORIGINATOR \"x\"\nNUMBER_OF_FIELDS 5\nBEGIN_DATA_FORMAT\nSAMPLE_ID SAMPLE_NAME LAB_L LAB_A "
        b"LAB_B\nEND_DATA_FORMAT\nNUMBER_OF_SETS 2\nBEGIN_DATA\n1 \"a b\" 50 1 2\n2 c 60 -1 -2\nEND_DATA\n",
        b"ISO28178\nNUMBER_OF_FIELDS 4\nBEGIN_DATA_FORMAT\nSAMPLE_ID XYZ_X XYZ_Y XYZ_Z\nEND_DATA_FORMAT\n"
        b"NUMBER_OF_SETS 1\nBEGIN_DATA\n1 20 21 22\nEND_DATA\n",
        b"CGATS.17\nNUMBER_OF_FIELDS 18\nBEGIN_DATA_FORMAT\nSAMPLE_ID "
        + b" ".join(b"SPECTRAL_NM%d" % nm for nm in range(400, 720, 20))
        + b" X\nEND_DATA_FORMAT\nNUMBER_OF_SETS 1\nBEGIN_DATA\n1 "
        + b"0.5 " * 16
        + b"7\nEND_DATA\n",
    )  # fmt: skip


@cache
def _gpls() -> tuple[bytes, ...]:
    from blendkit.exchange import export_palette

    made = export_palette(read_palette(demo_palette_path()), "gpl").data
    return (made, b"GIMP Palette\nName: x\nColumns: 3\n#\n255 0 10 red one\n 1 2 3\tnight\n")


# ------------------------------------------------------------------------------------------ documents


def _read_project(data: bytes, folder: Path) -> object:
    from blendkit.project.reading import read_project

    path = folder / "project.toml"
    path.write_bytes(data)
    return read_project(path)


@cache
def _projects() -> tuple[bytes, ...]:
    return tuple(path.read_bytes() for path in sorted((ROOT / "examples").glob("*/project.toml")))


def _read_chart_file(data: bytes, folder: Path) -> object:
    from blendkit.chart.description import read_chart_file

    path = folder / "x.chart.json"
    path.write_bytes(data)
    return read_chart_file(path)


@cache
def _charts() -> tuple[bytes, ...]:
    return ((ROOT / "examples/loop/chart.chart.json").read_bytes(),)


def _read_target_file(data: bytes, folder: Path) -> object:
    from blendkit.chart.target import read_target_file

    path = folder / "target.json"
    path.write_bytes(data)
    return read_target_file(path)


@cache
def _targets() -> tuple[bytes, ...]:
    patches = ",".join(
        f'{{"label": "p{n}", "centre_mm": [{10 + 9 * n}, 12], "lab": [{90 - 9 * n}, {n}, {-n}]}}' for n in range(9)
    )  # fmt: skip
    return (
        b'{"format": "blendkit-target", "version": 1, "name": "strip", "frame": "page", "patch_mm": [8, 8], '
        b'"size_mm": [100, 30], "patches": [' + patches.encode() + b"]}",
    )


def _read_words(data: bytes, folder: Path) -> object:
    from blendkit.chart.code import layout_from_code
    from blendkit.colour import parse_colour
    from blendkit.project.records import read_light

    text = data.decode("utf-8", "replace")
    for read in (parse_colour, layout_from_code, read_light):
        try:
            read(text)
        except BlendkitError as error:
            if not str(error).strip():
                raise AssertionError("refused without a sentence") from error
    return None


@cache
def _words() -> tuple[bytes, ...]:
    return (
        b"#aabbcc", b"#abc", b"lab(50 10 -20)", b"oklch(60% 0.1 200deg)", b"rgb(1 2 3 / 50%)", b"rebeccapurple",
        b"color(display-p3 1 0.2 0.1)", b"hsl(20deg 10% 5%)", b"BK1:5490G8:1/1:A4P:24X18:S12-2", b"1:30", b"10:45",
    )  # fmt: skip


# ------------------------------------------------------------------------------------------ pictures


@cache
def _pictures() -> tuple[bytes, ...]:
    from PIL import Image

    chance = np.random.default_rng(1)
    pixels = chance.integers(0, 256, (24, 31, 4), dtype=np.uint8)
    made = []
    exif = Image.Exif()
    exif[0x0112] = 6
    for mode, form, more in (
        ("RGB", "JPEG", {"quality": 80, "exif": exif, "dpi": (300, 300)}),
        ("L", "JPEG", {"progressive": True}),
        ("CMYK", "JPEG", {}),
        ("RGB", "PNG", {"dpi": (300, 300)}),
        ("RGBA", "PNG", {}),
        ("P", "PNG", {}),
        ("1", "PNG", {}),
        ("RGB", "TIFF", {"compression": "tiff_lzw"}),
        ("RGB", "TIFF", {"compression": "tiff_deflate", "dpi": (600, 600)}),
        ("L", "TIFF", {}),
        ("LAB", "TIFF", {}),
        ("RGB", "WEBP", {"lossless": True}),
        ("RGB", "WEBP", {}),
        ("P", "GIF", {}),
        ("RGB", "BMP", {}),
    ):
        image = Image.fromarray(pixels, "RGBA") if mode == "RGBA" else Image.fromarray(pixels[..., :3])
        if mode not in ("RGB", "RGBA"):
            image = Image.merge("LAB", image.split()) if mode == "LAB" else image.convert(mode)
        out = io.BytesIO()
        image.save(out, form, **more)
        made.append(out.getvalue())
    sixteen = io.BytesIO()
    Image.fromarray(chance.integers(0, 65536, (16, 17), dtype=np.uint16)).save(sixteen, "PNG")
    made.append(sixteen.getvalue())
    from blendkit.picture.encoding import ADOBE_RGB_1998, encoding_to_icc

    for form in ("PNG", "JPEG", "TIFF"):
        out = io.BytesIO()
        Image.fromarray(pixels[..., :3]).save(out, form, icc_profile=encoding_to_icc(ADOBE_RGB_1998))
        made.append(out.getvalue())
    return tuple(made)


def _damaged_picture(data: bytes, chance: random.Random) -> bytes:
    """Damage a picture; a PNG's checks are often made right again, so that what they guard is reached."""
    data = turned_bytes(data, chance) if chance.random() < 0.8 else _swollen(data, chance)
    if data.startswith(b"\x89PNG") and chance.random() < 0.6:
        data = _png_with_right_checks(data)
    return data


def _swollen(data: bytes, chance: random.Random) -> bytes:
    """Put large or odd numbers over two or four bytes of the head, where sizes and offsets stand."""
    at = chance.randrange(max(1, min(len(data), 700)))
    new = chance.choice(
        (b"\xff\xff", b"\xff\xff\xff\xff", b"\x7f\xff\xff\xff", bytes(4), b"\x00\x01\x00\x00")
    )
    return data[:at] + new + data[at + len(new) :]


def _png_with_right_checks(data: bytes) -> bytes:
    out, at = data[:8], 8
    while at + 12 <= len(data):
        length = int.from_bytes(data[at : at + 4], "big")
        if at + 12 + length > len(data):
            break
        body = data[at + 4 : at + 8 + length]
        out += data[at : at + 8 + length] + zlib.crc32(body).to_bytes(4, "big")
        at += 12 + length
    return out + data[at:]


def _read_picture(data: bytes, folder: Path) -> object:
    from blendkit.picture import read_picture

    picture = read_picture(data, name="fuzz", max_pixels=4_000_000)
    shown = picture.to_srgb8()
    assert shown.shape == picture.pixels.shape
    assert np.isfinite(picture.to_lab(picture.pixels[:2, :2])).all()
    return picture


def _read_icc(data: bytes, folder: Path) -> object:
    from PIL import Image

    from blendkit.picture import read_picture

    out = io.BytesIO()
    image = Image.new("RGB", (9, 9), (200, 30, 90))
    image.save(out, "PNG", icc_profile=data)
    return read_picture(out.getvalue()).to_srgb8()


@cache
def _iccs() -> tuple[bytes, ...]:
    from PIL import ImageCms

    from blendkit.picture.encoding import ADOBE_RGB_1998, BT_2020_WIDE, encoding_to_icc

    made = [encoding_to_icc(primaries) for primaries in (ADOBE_RGB_1998, BT_2020_WIDE)]
    made += [
        ImageCms.ImageCmsProfile(ImageCms.createProfile(kind)).tobytes() for kind in ("sRGB", "LAB", "XYZ")
    ]
    return tuple(made)


# ------------------------------------------------------------------------------------------ scans


@cache
def _scans() -> tuple[bytes, ...]:
    from PIL import Image

    made = []
    with Image.open(ROOT / "examples/loop/coloured_chart.jpg") as whole:
        for width, quality in ((700, 85), (1000, 70)):
            out = io.BytesIO()
            whole.resize((width, round(width * whole.height / whole.width))).save(
                out, "JPEG", quality=quality
            )
            made.append(out.getvalue())
    return tuple(made)


def _damaged_scan(data: bytes, chance: random.Random) -> bytes:
    """Damage the file, or the picture in it: torn, covered, turned, faded, noisy, pieced together wrongly."""
    if chance.random() < 0.4:
        return turned_bytes(data, chance)
    from PIL import Image

    with Image.open(io.BytesIO(data)) as image:
        pixels = np.array(image)
    height, width = pixels.shape[:2]
    for _ in range(chance.randint(1, 3)):
        top, left = chance.randrange(height), chance.randrange(width)
        bottom, right = chance.randint(top, height), chance.randint(left, width)
        way = chance.randrange(7)
        if way == 0:
            pixels[top:bottom, left:right] = chance.randrange(256)
        elif way == 1:
            pixels = np.rot90(pixels, chance.randrange(4))
            height, width = pixels.shape[:2]
        elif way == 2:
            pixels = (pixels * chance.random()).astype(np.uint8)
        elif way == 3:
            noise = np.random.default_rng(chance.randrange(2**32)).normal(
                0, chance.uniform(0, 90), pixels.shape
            )
            pixels = np.clip(pixels + noise, 0, 255).astype(np.uint8)
        elif way == 4:
            pixels = np.roll(pixels, (chance.randrange(height), chance.randrange(width)), (0, 1))
        elif way == 5:
            pixels = pixels[:, ::-1] if chance.random() < 0.5 else 255 - pixels
        elif bottom - top > 30 and right - left > 30:
            pixels = pixels[top:bottom, left:right]
            height, width = pixels.shape[:2]
    out = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(pixels)).save(out, "JPEG", quality=80)
    return out.getvalue()


def _read_scan(data: bytes, folder: Path) -> object:
    from blendkit.chart.scan import read_scan
    from blendkit.picture import read_picture

    picture = read_picture(data, name="fuzz", max_pixels=4_000_000)
    return read_scan(picture, ROOT / "examples/loop/chart.chart.json" if len(data) % 2 else None)


READERS = (
    Reader("palette", _read_palette, _palettes, _small(turned_text)),
    Reader("palette file", _read_palette_file, _palettes, _small(turned_text)),
    Reader("history", _read_history, _histories),
    Reader("calibration", _read_calibration, _calibrations),
    Reader("cgats", _read_exchange, _cgats, _small(turned_text)),
    Reader("gpl", _read_exchange, _gpls, _small(turned_text)),
    Reader("csv of others", _read_exchange, _palettes, _small(turned_text)),
    Reader("project", _read_project, _projects, _small(turned_text, 1500)),
    Reader("chart file", _read_chart_file, _charts),
    Reader("target file", _read_target_file, _targets),
    Reader("words", _read_words, _words),
    Reader("picture", _read_picture, _pictures, _damaged_picture),
    Reader("colour profile", _read_icc, _iccs, turned_bytes),
    Reader("scan", _read_scan, _scans, _damaged_scan),
)
