"""Make the pictures that README.md shows, from the invented demo palette, as the commands there make them.

Run ``python examples/make_pictures.py`` after changing an answer or a drawing. A test runs it into another folder
and compares, so that no picture can go stale.
"""

import io
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from PIL import Image

import blendkit
from blendkit.advice.calibrate import calibrate_ink
from blendkit.advice.gaps import find_gaps
from blendkit.advice.likeness import find_likenesses
from blendkit.advice.skin import find_skin
from blendkit.art.photo import find_main_colours
from blendkit.chart.chart import make_chart
from blendkit.cli.photo import contact_of
from blendkit.page.page import draw_png
from blendkit.palette import Palette
from blendkit.picture import read_picture
from blendkit.plan.files import write_plan
from blendkit.report.photo import photo_pictures
from blendkit.report.report import png_report

HERE = Path(__file__).parent
WIDTH_PX = 1000
SOFT = ("photo", "plan", "preview", "tags")
"""Pictures with soft shades, kept as JPEG."""


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
    return png_report(contact_of(found, find_likenesses(drawer, names)), photo_pictures(found, picture))


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


def _plan_pages(
    drawer: Palette, name: str = "hedgehog_lantern", only: tuple[str, ...] = ("plan", "preview")
) -> dict[str, bytes]:
    """The pages of an example's plan, and its preview."""
    with tempfile.TemporaryDirectory() as folder:
        project = blendkit.read_project(HERE / name / "project.toml")
        write_plan(project, drawer, folder, only=only, formats=("png",))
        made = {file.name: file.read_bytes() for file in Path(folder).iterdir()}
    return made


def _plan(drawer: Palette) -> bytes:
    """Two pages side by side: the map with the preview, and the first steps."""
    pages = _plan_pages(drawer)
    shown = [
        Image.open(io.BytesIO(pages[f"hedgehog_lantern-plan-{number}.png"])).convert("RGB")
        for number in (1, 2)
    ]
    both = Image.new("RGB", (sum(page.width for page in shown) + 40, shown[0].height), "#d8d2c6")
    both.paste(shown[0], (0, 0))
    both.paste(shown[1], (shown[0].width + 40, 0))
    stream = io.BytesIO()
    both.save(stream, "PNG")
    return stream.getvalue()


def _preview(drawer: Palette) -> bytes:
    return _plan_pages(drawer)["hedgehog_lantern-preview.png"]


def _tags(drawer: Palette) -> bytes:
    return _plan_pages(drawer, "harvest_tags", ("preview",))["harvest_tags-preview.png"]


def _calibrate(drawer: Palette) -> bytes:
    return png_report(calibrate_ink(drawer, date="2031-10-04"))


PICTURES: dict[str, Callable[[Palette], bytes]] = {
    "pair": _pair,
    "order": _order,
    "match": _match,
    "papers": _papers,
    "gaps": _gaps,
    "skin": _skin,
    "photo": _photo,
    "chart": _chart,
    "plan": _plan,
    "preview": _preview,
    "tags": _tags,
    "calibrate": _calibrate,
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
            if name in SOFT:
                file = folder / f"{name}.jpg"
                small.save(file, quality=90, subsampling=0)
            else:
                file = folder / f"{name}.png"
                small.save(file, optimize=True)
            files.append(file)
    return files


if __name__ == "__main__":
    for made in make_pictures(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE / "pictures"):
        print(made.name, made.stat().st_size // 1024, "kB")
