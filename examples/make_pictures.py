"""Make the pictures that README.md shows, from the invented demo palette, as the commands there make them.

Run ``python examples/make_pictures.py`` after changing an answer or a drawing. A test runs it into another folder
and compares, so that no picture can go stale.
"""

import io
import sys
from collections.abc import Callable
from pathlib import Path

from PIL import Image

import blendkit
from blendkit.advice.gaps import find_gaps
from blendkit.advice.likeness import find_likenesses
from blendkit.advice.skin import find_skin
from blendkit.art.photo import find_main_colours
from blendkit.cli.photo import contact_of
from blendkit.palette import Palette
from blendkit.picture import read_picture
from blendkit.sheets.chart import make_chart
from blendkit.sheets.page import draw_png
from blendkit.sheets.report import png_report

HERE = Path(__file__).parent
WIDTH_PX = 1000


def _pair(drawer: Palette) -> bytes:
    return png_report(blendkit.find_pair(drawer, "rosehip dawn"))


def _order(drawer: Palette) -> bytes:
    shadows = ["hedgehog quill noon", "hedgehog quill dusk"]
    return png_report(blendkit.find_order(drawer, "hedgehog quill dawn", shadows))


def _match(drawer: Palette) -> bytes:
    return png_report(blendkit.find_matches(drawer, "moss stone noon", kinds=("paper",), count=6))


def _papers(drawer: Palette) -> bytes:
    return png_report(
        blendkit.find_schemes(drawer, ["rosehip noon", "hedge leaf noon", "hedgehog quill dawn"])
    )


def _gaps(drawer: Palette) -> bytes:
    stall = blendkit.read_palette(blendkit.demo_palette_path("market-stall"))
    return png_report(find_gaps(drawer, shop=stall))


def _skin(drawer: Palette) -> bytes:
    return png_report(find_skin(drawer))


def _photo(drawer: Palette) -> bytes:
    picture = read_picture(HERE / "photo" / "harvest_table.jpg")
    found = find_main_colours(picture)
    names = [(f"colour {number}", one.lab) for number, one in enumerate(found.colours, start=1)]
    return draw_png(contact_of(found, picture, find_likenesses(drawer, names)), dpi=110)[0]


def _chart(drawer: Palette) -> bytes:
    record = make_chart(
        drawer,
        families=["moss stone", "rosehip", "lantern glow"],
        coats=2,
        family_blends=True,
        unders=["moss stone dawn", "rosehip dawn"],
        overs=["lantern glow dawn", "plain pebble dawn"],
        title="Harvest card, scrap test",
    )
    return draw_png(record.sheet, dpi=110)[0]


PICTURES: dict[str, Callable[[Palette], bytes]] = {
    "pair": _pair,
    "order": _order,
    "match": _match,
    "papers": _papers,
    "gaps": _gaps,
    "skin": _skin,
    "photo": _photo,
    "chart": _chart,
}


def make_pictures(folder: Path) -> list[Path]:
    """Make every picture in *folder*; give the files."""
    folder.mkdir(parents=True, exist_ok=True)
    drawer = blendkit.read_palette(blendkit.demo_palette_path())
    files = []
    for name, draw in PICTURES.items():
        with Image.open(io.BytesIO(draw(drawer))) as picture:
            small = picture.convert("RGB")
            if small.width > WIDTH_PX:
                small = small.resize(
                    (WIDTH_PX, round(small.height * WIDTH_PX / small.width)), Image.Resampling.LANCZOS
                )
            file = folder / f"{name}.png"
            small.quantize(128, Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE).save(file, optimize=True)
            files.append(file)
    return files


if __name__ == "__main__":
    for made in make_pictures(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE / "pictures"):
        print(made.name, made.stat().st_size // 1024, "kB")
