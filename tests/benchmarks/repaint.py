"""What a moved light and a changed marker cost at 1.5 megapixels, as multiples of a blank repaint in the same run.

A blank repaint paints the picture once more with nothing changed. Run: python tests/benchmarks/repaint.py [ROUNDS]
"""

import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "examples" / "line_art"))

from draw_line_art import DRAWINGS  # noqa: E402
from inking import render  # noqa: E402

from blendkit.art.depth import find_fronts  # noqa: E402
from blendkit.art.material import MATERIALS  # noqa: E402
from blendkit.art.preview import paint  # noqa: E402
from blendkit.art.relief import find_relief  # noqa: E402
from blendkit.art.shading import shade  # noqa: E402
from blendkit.inked import ink_drawer  # noqa: E402
from blendkit.palette import demo_palette_path, read_palette  # noqa: E402
from blendkit.project.part_colours import colour_parts  # noqa: E402
from blendkit.project.records import Project, ProjectPart  # noqa: E402


def main() -> None:
    """Measure in turns and print the medians."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 9
    drawing = DRAWINGS["hedgehog_lantern"]()
    dpi = 25.4 * np.sqrt(1.5e6 / (drawing.width_mm * drawing.height_mm))
    sheet = render(drawing, dpi)
    fronts = find_fronts(sheet.labels, sheet.line, dpi)
    relief = find_relief(sheet.labels, sheet.line, fronts, dpi)
    kinds = list(MATERIALS.values())
    materials = [kinds[part % len(kinds)] for part in range(relief.parts + 1)]
    inked = ink_drawer(read_palette(demo_palette_path()))
    names = [marker.name for marker in inked.markers]
    paper = np.array([250, 248, 240], np.uint8)

    def colour(turn: int) -> np.ndarray:
        part = ProjectPart("one", base=names[turn % len(names)], shadow=names[(turn + 1) % len(names)])
        ramp = colour_parts(Project("", parts=(part,)), inked)[0].ramp
        assert ramp is not None
        return ramp

    ramps = dict.fromkeys(range(1, relief.parts + 1), colour(0))
    shades = shade(relief, 315, materials=materials)
    works: dict[str, Callable[[int], object]] = {
        "blank repaint": lambda turn: paint(shades, relief, ramps, paper),
        "moved light": lambda turn: paint(
            shade(relief, 40.0 * turn, materials=materials), relief, ramps, paper
        ),
        "changed marker": lambda turn: paint(shades, relief, ramps | {1: colour(turn)}, paper),
        "relief anew": lambda turn: find_relief(sheet.labels, sheet.line, fronts, dpi),
    }
    took: dict[str, list[float]] = {name: [] for name in works}
    for turn in range(rounds):
        for name, work in works.items():
            start = time.perf_counter()
            work(turn)
            took[name].append(time.perf_counter() - start)
    blank = statistics.median(took["blank repaint"])
    for name, times in took.items():
        middle = statistics.median(times)
        print(f"{name:16} {1e3 * middle:6.0f} ms {middle / blank:6.1f} times a blank repaint")


if __name__ == "__main__":
    main()
