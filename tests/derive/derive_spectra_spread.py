"""Derive blendkit/data/spectra_spread.csv, and check it: how far real reflectances stray from the recovered one.

A colour alone doesn't tell its reflectance. For measured reflectances the stray is what is left after
``spectrum.reflectance_above_surface`` has recovered one from the colour. The table holds, for 400 measured
colours, that stray as eight numbers over eight curves (principal components), and the curves.

Source: the 2,696 different ones of the 4,880 measured reflectances of IES TM-30-15 (nature, skin, textiles,
paints, plastics, printed, colour systems), as the PyPI package luxpy ships them (its data are read here; nothing
of it is used at run time). Every second block of 40 trains; the other blocks, the 1,269 Munsell chips
(University of Eastern Finland) and two smaller sets stay unseen.

Run: pip download --no-deps luxpy, unzip, then
     python tests/derive/derive_spectra_spread.py FOLDER/luxpy/data/rfls [--write]
"""

import sys
from pathlib import Path

import numpy as np

from blendkit.advice import lamps
from blendkit.colour import delta_e_2000
from blendkit.spectrum import LIGHTS, WAVELENGTHS_NM, reflectance_above_surface, reflectance_to_lab

BLOCK, SAMPLES, CURVES, SEED = 40, 400, 8, 1
TABLE = Path(__file__).parents[2] / "blendkit" / "data" / "spectra_spread.csv"
HEAD = """\
# How far measured reflectances stray from what spectrum.reflectance_above_surface recovers from their colour.
# Rows "curve": eight curves over the 36 bands. Rows "stray": L, a, b (D50), mean reflectance, share of each curve.
# Derived by tests/derive/derive_spectra_spread.py from measured reflectances of IES TM-30-15 (a training half).
"""


def read_sets(folder: Path) -> dict[str, np.ndarray]:
    """Give measured reflectances by set, each shape (n, 36): means over the bands."""
    grid = np.arange(375, 736)

    def bands(nm: np.ndarray, rows: np.ndarray) -> np.ndarray:
        fine = np.stack([np.interp(grid, nm, row) for row in rows])
        return np.stack([fine[:, (grid >= n - 5) & (grid <= n + 5)].mean(1) for n in WAVELENGTHS_NM], 1)

    def columns(name: str) -> np.ndarray:
        path = folder / name
        comma = "," in path.read_text().split("\n", 1)[0]
        table = np.loadtxt(path, delimiter="," if comma else None)
        table = table if table.shape[0] > 300 or table.shape[0] > table.shape[1] else table.T
        return bands(table[:, 0], table[:, 1:].T)

    many = np.load(folder / "IESTM30_15_R4880.npz")["_IESTM30_R4880"]
    different = np.loadtxt(folder / "IESTM30-R4880-subset-with-unique-rfls--2696.dat").astype(int)
    sets = {"TM-30": bands(many[0], many[1:][different]), "Munsell": columns("Munsell1269.dat")}
    sets["Opstelten 1983"] = columns("Opstelten1983_215.dat")
    sets["CRI2012 real"] = columns("CRI2012_R210.dat")
    return {name: rows[(rows.max(1) < 1.0) & (rows.min(1) >= 0.0)] for name, rows in sets.items()}


def write(train: np.ndarray) -> None:
    """Write the table from the training half."""
    lab = reflectance_to_lab(train)
    stray = train - reflectance_above_surface(lab)
    curves = np.linalg.svd(stray, full_matrices=False)[2][:CURVES]
    chosen = np.sort(np.random.default_rng(SEED).permutation(len(train))[:SAMPLES])
    lines = ["curve," + ",".join(f"{value:.4f}" for value in curve) for curve in curves]
    for row in chosen:
        numbers = [*(f"{value:.1f}" for value in lab[row]), f"{train[row].mean():.4f}"]
        lines.append(",".join(["stray", *numbers, *(f"{value:.4f}" for value in stray[row] @ curves.T)]))
    TABLE.write_text(HEAD + "\n".join(lines) + "\n", encoding="utf-8")
    lamps._spread.cache_clear()


def check(name: str, measured: np.ndarray, low: float, high: float, most: int = 400) -> None:
    """Print the share of pairs whose true difference lies within the interval, by light."""
    lab = reflectance_to_lab(measured)
    recovered = reflectance_above_surface(lab)
    apart = np.triu(delta_e_2000(lab[:, None], lab[None]), 1)
    first, second = np.nonzero((apart >= max(low, 1e-9)) & (apart < high))
    chosen = np.random.default_rng(7).permutation(len(first))[:most]
    first, second = first[chosen], second[chosen]
    found = lamps.difference_ranges(recovered[first], recovered[second])
    cells, every = [], []
    for light, (least, most_) in found.items():
        under = reflectance_to_lab(measured, light)
        true = delta_e_2000(under[first], under[second])
        inside = (true >= least) & (true <= most_)
        every.append(inside)
        cells.append(f"{100 * inside.mean():.1f}")
    total = f"{100 * np.mean(every):.1f}"
    print(f"| {name}, {low:g} to {high:g} | {len(first)} | {total} | {' | '.join(cells)} |")


def main() -> None:
    """Write if asked, then print the table of coverage."""
    sets = read_sets(Path(sys.argv[1]))
    rows = sets.pop("TM-30")
    trains = np.arange(len(rows)) // BLOCK % 2 == 0
    if "--write" in sys.argv:
        write(rows[trains])
    lights = [light for light in LIGHTS if light != "D50"]
    print(f"| pairs, and their CIEDE2000 in D50 | n | within, % | {' | '.join(lights)} |")
    print("| --- | ---: | ---: |" + " ---: |" * len(lights))
    for name, measured in {"TM-30, seen": rows[trains], "TM-30, unseen": rows[~trains], **sets}.items():
        for low, high in ((0.0, 3.5), (3.5, 8.0)):
            check(name, measured, low, high)


if __name__ == "__main__":
    main()
