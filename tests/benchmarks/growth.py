"""What each answer costs as the drawer grows: whole processes, processor seconds and peak memory, with ratios.

The drawers are invented (measure.write_drawer); for papers, card stocks grow instead of markers.

Run: python tests/benchmarks/growth.py [SIZES ...] [ANSWERS ...]
"""

import random
import sys
import tempfile
from pathlib import Path

from measure import compiled_settings, print_table, run_process, write_drawer

COLOURS = ["lab(50 10 10)", "lab(60 -10 15)", "lab(40 0 -10)", "#cc8866"]
SIZES = (100, 400, 1600, 6400)


def _kit(count: int) -> list[str]:
    chance = random.Random(count)
    return [
        f"lab({chance.uniform(30, 85):.0f} {chance.uniform(-20, 20):.0f} {chance.uniform(-20, 20):.0f})"
        for _ in range(count)
    ]


ANSWERS = {
    "check": ["check"],
    "gaps": ["gaps"],
    "gaps --shop": ["gaps", "--shop", "SHOP"],
    "doubles": ["doubles"],
    "kit, 4 targets": ["kit", *COLOURS],
    "kit, 40 targets": ["kit", *_kit(40)],
    "match --kind marker": ["match", COLOURS[0], "--kind", "marker"],
    "pair --all-ways": ["pair", "lantern 3", "--all-ways"],
    "order": ["order", "lantern 3"],
    "skin": ["skin"],
    "papers, by card stocks": ["papers", *COLOURS[:3]],
}


def write_papers(path: Path, papers: int) -> Path:
    """Write a palette of invented card stocks with one marker and two stamp inks."""
    chance = random.Random(papers)
    rows = ["name,kind,L,a,b", "lantern 3,marker,60,20,20", "lamp black,ink,18,0,0", "snow ink,ink,94,0,0"]
    for number in range(papers):
        lightness, chroma = chance.uniform(25, 96), chance.uniform(-30, 30)
        rows.append(f"card {number},paper,{lightness:.2f},{chroma:.2f},{chance.uniform(-30, 30):.2f}")
    path.write_text("\n".join(rows) + "\n")
    return path


def main() -> None:
    """Print the table."""
    sizes = [int(word) for word in sys.argv[1:] if word.isdigit()] or list(SIZES)
    chosen = [word for word in sys.argv[1:] if not word.isdigit()] or list(ANSWERS)
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        settings = compiled_settings(folder) | {"OPENBLAS_NUM_THREADS": "1"}
        shop = str(write_drawer(Path(folder, "shop.csv"), 400, 7))
        bare = run_process([sys.executable, "-c", "import numpy"], settings)
        bare = run_process([sys.executable, "-c", "import numpy"], settings)
        for name in chosen:
            words = [shop if word == "SHOP" else word for word in ANSWERS[name]]
            write = write_papers if name.startswith("papers") else write_drawer
            cells = [name]
            before: tuple[int, float] | None = None
            for size in sizes:
                drawer = write(Path(folder, f"{name.split(maxsplit=1)[0]}{size}.csv"), size)
                command = [sys.executable, "-m", "blendkit", *words, "--palette", str(drawer)]
                run = run_process(command, settings)
                growth = "" if before is None else f", ×{run.cpu / before[1]:.1f}"
                cells.append(f"{run.cpu:.1f} s ({run.cpu / bare.cpu:.0f}){growth}, {run.peak_mb:.0f} MB")
                before = (size, run.cpu)
            rows.append(tuple(cells))
            print(" | ".join(cells), file=sys.stderr, flush=True)
    print_table(("answer", *(f"{size:,}" for size in sizes)), rows, ("numpy", "scipy"))


if __name__ == "__main__":
    main()
