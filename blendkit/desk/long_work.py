"""Long work of the desk, run in its own process; each function takes a ``progress`` and gives plain results."""

import io
from pathlib import Path
from typing import Any

from blendkit.palette import Palette
from blendkit.words import Progress


def prepare_picture(path: str, name: str, side: int, progress: Progress) -> dict[str, Any]:
    """Read a picture, and make a small JPEG of it for the screen.

    Args:
        path: where the file is kept.
        name: what the person calls it.
        side: longest side of the small one, pixels.
        progress: told how far it is.

    Returns: width, height, space, notes, and the JPEG as bytes.
    Raises: PictureError where it is no picture.
    """
    from blendkit.picture import read_picture

    progress(0.1, "open", name)
    picture = read_picture(Path(path).read_bytes(), name=name)
    progress(0.7, "view")
    return {
        "name": name,
        "width": picture.width_px,
        "height": picture.height_px,
        "space": picture.space,
        "notes": list(picture.notes),
        "view": _small_jpeg(picture.to_srgb8(), side),
    }


def _small_jpeg(pixels: Any, side: int) -> bytes:
    from PIL import Image

    image = Image.fromarray(pixels)
    image.thumbnail((side, side), Image.Resampling.LANCZOS, reducing_gap=2.0)
    out = io.BytesIO()
    image.save(out, "JPEG", quality=88)
    return out.getvalue()


def find_photo_colours(
    path: str,
    name: str,
    count: int,
    accents: int,
    grey: tuple[float, float] | None,
    white: tuple[float, float] | None,
    progress: Progress,
) -> dict[str, Any]:
    """Find a photo's main colours.

    Args:
        path: where the file is kept.
        name: what the person calls it.
        count, accents: how many main colours and small vivid ones.
        grey, white: a spot that is grey or white in truth, as shares of width and height, or None.
        progress: told how far it is.

    Returns: ``found``, the record of main colours, and ``view``, the photo as balanced, as a JPEG.
    Raises: PictureError.
    """
    from blendkit.art.photo import find_main_colours, shown_photo
    from blendkit.picture import read_picture

    progress(0.05, "open", name)
    picture = read_picture(Path(path).read_bytes(), name=name)

    def spot(share: tuple[float, float] | None) -> tuple[float, float] | None:
        if share is None:
            return None
        return share[0] * (picture.width_px - 1), share[1] * (picture.height_px - 1)

    progress(0.35, "photo")
    found = find_main_colours(
        picture, count=count, accents=accents, grey_point=spot(grey), white_point=spot(white)
    )
    progress(0.8, "view")
    return {"found": found, "view": _small_jpeg(shown_photo(picture, found), 1400)}


def read_chart_pictures(
    pictures: list[tuple[str, str]], palette: Palette, chart: str | None, setup: str, progress: Progress
) -> dict[str, Any]:
    """Read a coloured chart from its pictures.

    Args:
        pictures: (path, name) of each.
        palette: the drawer.
        chart: path of the chart's description file, or None to rebuild it from the page's code.
        setup: a name for this camera and light.
        progress: told how far it is.

    Returns: ``record`` of the scan, without its pictures, ``proposed`` readings, those of markers that are
        ``unknown`` to the drawer, and ``contact``, PNGs.
    Raises: PictureError or SheetError.
    """
    from dataclasses import replace

    from blendkit.chart.contact import draw_contact
    from blendkit.chart.scan import read_scan
    from blendkit.chart.scan_record import readings_for, unknown_readings_for
    from blendkit.picture import read_picture

    steps = len(pictures) + 2
    opened = []
    for number, (path, name) in enumerate(pictures):
        progress((number + 0.2) / steps, "open", name)
        opened.append(read_picture(Path(path).read_bytes(), name=name))
    progress(len(pictures) / steps, "boxes")
    record = read_scan(opened, chart or palette, palette=palette, setup=setup)
    proposed, unknown = readings_for(record, palette), unknown_readings_for(record, palette)
    progress((len(pictures) + 1) / steps, "contact")
    contact = draw_contact(record)
    bare = replace(record, pages=tuple(replace(page, pixels=None, fit=None) for page in record.pages))  # type: ignore[arg-type]
    return {"record": bare, "proposed": proposed, "unknown": unknown, "contact": list(contact)}
