"""Processor time of a whole process that reads a palette of 400 markers, beside one that imports NumPy.

Run: python tests/benchmarks/read_palette_cold.py
"""

import os
import random
import resource
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

MARKERS = 400


def palettes(folder: Path) -> dict[str, Path]:
    """Write a palette for each way of giving colours."""
    chance = random.Random(1)
    made = {}
    for way, light in (("D50 / 2 Lab", "D50,2"), ("D65 / 10 Lab", "D65,10"), ("spectra", "")):
        bands = ",".join(str(nm) for nm in range(400, 701, 10)) if not light else "L,a,b,light,observer"
        rows = [f"name,kind,on,family,note,{bands}"]
        for number in range(-1, MARKERS):
            kind, on = ("marker", "Snow") if number >= 0 else ("paper", "")
            name = f"marker {number}" if number >= 0 else "Snow"
            if light:
                lab = [chance.uniform(25, 90), chance.uniform(-25, 25), chance.uniform(-25, 25)]
                colour = ",".join(f"{value:.2f}" for value in lab) + f",{light}"
            else:
                colour = ",".join(f"{chance.uniform(0.05, 0.9):.4f}" for _ in range(31))
            rows.append(f"{name},{kind},{on},family {number // 2},a note,{colour}")
        made[way] = folder / f"{len(made)}.csv"
        made[way].write_text("\n".join(rows) + "\n")
    return made


def processor_ms(codes: list[str], compiled: str, times: int = 15) -> list[float]:
    """Give the median processor time of a process for each of *codes*, ms; they take turns."""
    settings = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    settings |= {"OPENBLAS_NUM_THREADS": "1", "PYTHONPYCACHEPREFIX": compiled}
    figures: list[list[float]] = [[] for _ in codes]
    for turn in range(times + 1):
        for code, taken in zip(codes, figures, strict=True):
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            subprocess.run([sys.executable, "-c", code], check=True, env=settings)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            if turn:  # the first compiles the modules
                taken.append(after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime)
    return [1000 * statistics.median(taken) for taken in figures]


def main() -> None:
    """Print the figures."""
    with tempfile.TemporaryDirectory() as folder:
        cases = {"import numpy": "import numpy", "import blendkit.palette": "import blendkit.palette"}
        for way, path in palettes(Path(folder)).items():
            code = f"from blendkit.palette import read_palette; read_palette({str(path)!r})"
            cases[f"and read {MARKERS} markers as {way}"] = code
        figures = processor_ms(list(cases.values()), folder)
        for case, figure in zip(cases, figures, strict=True):
            print(f"{case}: {figure:.0f} ms, {figure / figures[0]:.2f} times")


if __name__ == "__main__":
    main()
