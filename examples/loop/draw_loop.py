"""Walk the loop print, colour, photograph, read without a printer or a camera, and draw it.

A chart of four demo families is drawn as it would be printed; its boxes are filled with invented inks near to,
but not the same as, the colours expected; a simulated phone photographs the sheet; and blendkit reads the picture.
Run ``python examples/loop/draw_loop.py`` to make coloured_chart.jpg, its description and loop.png anew. It needs
the test requirements (colour-science), for the simulator in tests/simulate.
"""

import io
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
from PIL import Image

import blendkit
from blendkit.chart.chart import ChartRecord, make_chart, write_chart
from blendkit.chart.contact import draw_contact
from blendkit.chart.scan import read_scan
from blendkit.ink import predict_coats, swatch_from_lab
from blendkit.page.page import Document, Page, Rect, Text, draw_png
from blendkit.page.page import Image as Picture
from blendkit.spectrum import WAVELENGTHS_NM, reflectance_from_lab

HERE = Path(__file__).resolve().parent
SEED = 1123
_PANEL_MM, _GAP_MM, _TOP_MM = 66.0, 6.0, 22.0
_WORDS = (
    ("1  Print", "on the card that you use, at 100 %"),
    ("2  Colour", "each box edge to edge, and let it dry"),
    ("3  Photograph", "the whole page, all marks in view"),
    ("4  Read", "each box: what it is, and what was expected"),
)


def loop_chart() -> ChartRecord:
    """Make the chart of the example."""
    drawer = blendkit.read_palette(blendkit.demo_palette_path())
    families = ["moss stone", "rosehip", "lantern glow", "hedgehog quill"]
    return make_chart(drawer, families=families, coats=2, expected=False, title="Harvest card, scrap test")


def _colour(record: ChartRecord, draw: np.random.Generator):  # noqa: ANN202
    """Fill the boxes: each marker's ink is a little off what the palette says, alike for all its coats."""
    from simulate import page, spectra

    spec = record.spec.pages[0]
    drawer = blendkit.read_palette(blendkit.demo_palette_path())
    paper = reflectance_from_lab(drawer.paper(record.paper).lab)
    own: dict[str, np.ndarray] = {}
    absorptions: list[np.ndarray | None] = []
    on_grid = np.interp(spectra.NM, WAVELENGTHS_NM, paper)
    for box in spec.boxes:
        if box.kind == "paper":
            absorptions.append(None)
            continue
        name = box.markers[0]
        if name not in own:
            own[name] = drawer.marker(name).lab + draw.normal(0, (2.0, 3.0, 3.0))
        inked = predict_coats(paper, swatch_from_lab(own[name]), box.coats)
        swatch = np.interp(spectra.NM, WAVELENGTHS_NM, np.clip(inked, 1e-3, None))
        added = (1 - swatch) ** 2 / (2 * swatch) - (1 - on_grid) ** 2 / (2 * on_grid)
        absorptions.append(np.maximum(added, 0.0))
    shown = page.chart_layer(record.sheet, 1, 8.0)
    habits = page.Habits(streaks=0.8, specks=0.6)
    return page.coloured_page(
        draw, spec, 8.0, shown=shown, habits=habits, absorptions=absorptions, paper=on_grid
    )


def _photograph(coloured, draw: np.random.Generator) -> tuple[bytes, bytes]:  # noqa: ANN001
    """Give the flat coloured page and the phone's picture of it, as JPEG."""
    from simulate import device, picture

    flat, _ = picture.scan_flatbed(draw, coloured, device.ideal(), dpi=150, turn_deg=0.0, margin_mm=0.0)
    pose = replace(picture.Pose(), turn_deg=94.0, tilt_deg=15.0, tilt_towards_deg=40.0, curl_rad=0.06)
    phone = device.phone(draw, "D65")
    shot, _ = picture.photograph(draw, coloured, phone, pose=pose, picture_px=(2400, 1800))
    files = []
    for code1, quality in ((flat, 90), (shot, 88)):
        stream = io.BytesIO()
        Image.fromarray(picture.as_bytes(code1)).save(stream, "JPEG", quality=quality)
        files.append(stream.getvalue())
    return files[0], files[1]


def _panel(x: float, words: tuple[str, str], data: bytes) -> list[object]:
    with Image.open(io.BytesIO(data)) as picture:
        high, wide = (picture.width, picture.height) if picture.width > picture.height else picture.size[::-1]
        turned = picture.rotate(90, expand=True) if picture.width > picture.height else picture
        stream = io.BytesIO()
        turned.convert("RGB").resize((round(900 * wide / high), 900)).save(stream, "JPEG", quality=88)
    height = _PANEL_MM * high / wide
    return [
        Text(x, 10, words[0], 13, bold=True),
        Text(x, 16, words[1], 8, "#666666", width_mm=_PANEL_MM),
        Picture(x, _TOP_MM, _PANEL_MM, height, stream.getvalue()),
        Rect(x, _TOP_MM, _PANEL_MM, height, stroke="#bbbbbb", stroke_mm=0.2),
    ]


def draw_loop(folder: Path) -> Path:
    """Make the chart, its photo and the picture of the loop in *folder*; give the picture's file."""
    sys.path.insert(0, str(HERE.parent.parent / "tests"))
    draw = np.random.default_rng(SEED)
    record = loop_chart()
    folder.mkdir(parents=True, exist_ok=True)
    write_chart(record, folder / "chart.pdf")
    (folder / "chart.pdf").unlink()
    flat, shot = _photograph(_colour(record, draw), draw)
    (folder / "coloured_chart.jpg").write_bytes(shot)
    drawer = blendkit.read_palette(blendkit.demo_palette_path())
    read = read_scan(folder / "coloured_chart.jpg", record.spec, palette=drawer, setup="simulated phone")
    panels = zip(_WORDS, (draw_png(record.sheet, dpi=150)[0], flat, shot, draw_contact(read)[0]), strict=True)
    shapes: list[object] = []
    for place, (words, data) in enumerate(panels):
        shapes += _panel(8 + place * (_PANEL_MM + _GAP_MM), words, data)
    width = 16 + 4 * _PANEL_MM + 3 * _GAP_MM
    sheet = Document("The loop", (Page(width, _TOP_MM + _PANEL_MM * 297 / 210 + 8, tuple(shapes)),))  # type: ignore[arg-type]
    (folder / "loop.png").write_bytes(draw_png(sheet, dpi=110)[0])
    for reading in read.readings:
        if reading.lab is not None:
            print(
                reading.label, reading.coats, [round(value, 1) for value in reading.lab], reading.uncertainty
            )
    return folder / "loop.png"


if __name__ == "__main__":
    print(draw_loop(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE))
