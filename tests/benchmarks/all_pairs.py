"""Every marker scored as a shadow of every other, each pair with its simulated blend: time, memory and growth.

Each size is a process of its own, so that its peak memory is its own. Beside it stands the same work without the
blends: CIEDE2000 of every pair, by blendkit and by scikit-image.

Run: python tests/benchmarks/all_pairs.py [SIZES ...]
"""

import sys
import tempfile
import time
from pathlib import Path

from measure import compiled_settings, print_table, run_process, write_drawer

WORK = """
import sys, time
from blendkit.inked import ink_drawer
from blendkit.advice.check import score_all_pairs
from blendkit.palette import read_palette
palette = read_palette(sys.argv[1])
began = time.process_time()
inked = ink_drawer(palette)
laid = time.process_time()
scores = score_all_pairs(inked)
ended = time.process_time()
print(laid - began, ended - laid, (scores > 50).sum(), file=open(sys.argv[2], "w"))
"""
NOTHING = "import blendkit.advice.check, blendkit.inked, blendkit.palette"


def differences(labs: object) -> tuple[float, float]:
    """Processor seconds that CIEDE2000 of every pair takes, by blendkit and by scikit-image, in slices."""
    from skimage.color import deltaE_ciede2000

    from blendkit.colour import delta_e_2000

    took = []
    for difference in (delta_e_2000, deltaE_ciede2000):
        began = time.process_time()
        for start in range(0, len(labs), 50):
            difference(labs[start : start + 50, None], labs[None])
        took.append(time.process_time() - began)
    return took[0], took[1]


def main() -> None:
    """Print the table."""
    from blendkit.inked import ink_drawer
    from blendkit.palette import read_palette

    sizes = [int(size) for size in sys.argv[1:]] or [100, 400, 1600]
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        settings = compiled_settings(folder) | {"OPENBLAS_NUM_THREADS": "1"}
        out = Path(folder, "out.txt")
        run_process([sys.executable, "-c", NOTHING], settings)
        bare = run_process([sys.executable, "-c", NOTHING], settings)
        before: tuple[int, float] | None = None
        for size in sizes:
            drawer = write_drawer(Path(folder, f"{size}.csv"), size)
            run = run_process([sys.executable, "-c", WORK, str(drawer), str(out)], settings, accepted=(0,))
            laid, scored, fits = (float(word) for word in out.read_text().split())
            plain, others = differences(ink_drawer(read_palette(drawer)).lab)
            growth = "" if before is None else f"{scored / before[1]:.1f} for {(size / before[0]) ** 2:.0f}"
            rows.append(
                (
                    f"{size:,}",
                    f"{laid:.3f}",
                    f"{scored:.2f}",
                    f"{scored / size**2 * 1e6:.2f}",
                    growth,
                    f"{scored / plain:.1f}",
                    f"{scored / others:.1f}",
                    f"{run.peak_mb:.0f}",
                    f"{run.peak_mb - bare.peak_mb:.0f}",
                    f"{int(fits):,}",
                )
            )
            before = (size, scored)
    print_table(
        (
            "markers",
            "laying them on paper, s",
            "all pairs, s",
            "µs a pair",
            "growth, for the square",
            "times our CIEDE2000 of all pairs",
            "times scikit-image's",
            "peak MB",
            "over imports alone",
            "pairs above 50",
        ),
        rows,
        ("numpy", "scikit-image"),
    )


if __name__ == "__main__":
    main()
