"""Reading a chart, finding a drawing's parts and a photo's main colours, as multiples of decoding the same JPEG.

The example chart, the example drawing's scan and the example photo are resized to 1, 4 and 12 megapixels. Each
measurement is a process of its own, so that its peak memory is its own; a small picture goes first, so that
imports don't count.

Run: python tests/benchmarks/pictures.py [ROUNDS] [MEGAPIXELS ...]
"""

import math
import statistics
import sys
import tempfile
from pathlib import Path

from measure import Run, compiled_settings, print_table, run_process

EXAMPLES = Path(__file__).parents[2] / "examples"
CHART, SPEC = EXAMPLES / "loop/coloured_chart.jpg", EXAMPLES / "loop/chart.chart.json"
DRAWING = EXAMPLES / "line_art/hedgehog_lantern_scan.jpg"
PHOTO = EXAMPLES / "photo/harvest_table.jpg"

CHILD = """
import sys, time
{imports}
def work(path):
    return {work}
work(sys.argv[1])  # imports what the work imports late
wall, cpu = time.perf_counter(), time.process_time()
work(sys.argv[2])
print(time.perf_counter() - wall, time.process_time() - cpu, file=open(sys.argv[3], "w"))
"""
WORKS = {
    "decode": ("import numpy as np\nfrom PIL import Image", "np.asarray(Image.open(path).convert('RGB'))"),
    "read": ("from blendkit.picture import read_picture", "read_picture(path)"),
    "chart": ("from blendkit.chart.scan import read_scan", "read_scan(path, sys.argv[4])"),
    "parts": (
        "from blendkit.picture import read_picture\nfrom blendkit.art.regions import find_regions",
        "find_regions(read_picture(path).to_srgb8())",
    ),
    "colours": (
        "from blendkit.picture import read_picture\nfrom blendkit.art.photo import find_main_colours",
        "find_main_colours(read_picture(path))",
    ),
}
WARM_MEGAPIXELS = 0.7


def resized(source: Path, megapixels: float, folder: Path) -> Path:
    """The picture at about that many megapixels, as JPEG."""
    from PIL import Image

    with Image.open(source) as image:
        scale = math.sqrt(megapixels * 1e6 / (image.width * image.height))
        size = (round(image.width * scale), round(image.height * scale))
        made = folder / f"{source.stem}_{megapixels:g}.jpg"
        dpi = image.info.get("dpi", (300.0, 300.0))[0] * scale
        image.resize(size, Image.Resampling.LANCZOS).save(made, quality=90, dpi=(dpi, dpi))
    return made


def cost(name: str, warm: Path, picture: Path, settings: dict[str, str], rounds: int) -> Run:
    """Medians of the work on one picture, its imports done before; peak memory of the whole process."""
    out = warm.with_name("out.txt")
    imports, work = WORKS[name]
    code = CHILD.format(imports=imports, work=work)
    runs = []
    for _ in range(rounds):
        command = [sys.executable, "-c", code, str(warm), str(picture), str(out), str(SPEC)]
        peak = run_process(command, settings, accepted=(0,)).peak_mb
        runs.append(Run(*(float(word) for word in out.read_text().split()), peak))
    return Run(
        *(statistics.median(getattr(run, field) for run in runs) for field in ("wall", "cpu", "peak_mb"))
    )


def main() -> None:
    """Print the table."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    sizes = [float(size) for size in sys.argv[2:]] or [1.0, 4.0, 12.0]
    rows = []
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        settings = compiled_settings(scratch) | {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
        for source, name, words in (
            (CHART, "chart", "reading the chart"),
            (DRAWING, "parts", "finding the parts"),
            (PHOTO, "colours", "finding the main colours"),
        ):
            warm = resized(source, WARM_MEGAPIXELS, folder)
            for megapixels in sizes:
                picture = resized(source, megapixels, folder)
                decode, read, done = (
                    cost(work, warm, picture, settings, rounds) for work in ("decode", "read", name)
                )
                rows.append(
                    (
                        f"{words}, {megapixels:g} megapixels",
                        f"{decode.cpu * 1000:.0f}",
                        f"{read.cpu / decode.cpu:.1f}",
                        f"{done.cpu:.2f}",
                        f"{done.cpu / decode.cpu:.0f}",
                        f"{done.wall / decode.wall:.0f}",
                        f"{decode.peak_mb:.0f}",
                        f"{done.peak_mb:.0f}",
                    )
                )
    print_table(
        (
            "work",
            "decoding, processor ms",
            "read_picture, times decoding",
            "work, processor s",
            "times decoding",
            "times by the clock",
            "decoding, peak MB",
            "work, peak MB",
        ),
        rows,
        ("numpy", "pillow", "opencv-python-headless", "scikit-image", "scipy"),
    )


if __name__ == "__main__":
    main()
