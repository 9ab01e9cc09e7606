"""Make tests/data/dye_families_seen.csv and _unseen.csv: simulated dyes that the adviser was not made for.

Nothing here is measured. The world differs on purpose from what the ink model assumes and from the demo palettes:
absorption bands are Lorentzian with a shoulder, dyes lie *in* the paper (two-constant Kubelka-Munk, a layer of
dyed fibres that also scatters a little over a bluish or a cream ground), a stronger marker is the same mixture
with more of it, and darker members take some grey or a neighbouring dye. Every dye, share and strength is drawn
at random, within ranges that give colours which markers have: own judgement.

The drawer called seen was looked at while the adviser's constants were chosen, the other was not.

Run: python tests/derive/derive_dye_families.py
"""

import csv
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from blendkit.spectrum import WAVELENGTHS_NM, reflectance_to_lab

Floats = NDArray[np.float64]
INTO = Path(__file__).parents[1] / "data"
NM = np.asarray(WAVELENGTHS_NM, dtype=np.float64)
PAPERS = {
    "blue white": 0.90 - 0.06 * np.exp(-(((NM - 640) / 120) ** 2)) - 0.2 / (1 + np.exp((NM - 400) / 6)),
    "cream": 0.86 / (1 + np.exp((430 - NM) / 45)) ** 0.25,
}
FAMILIES, STRENGTHS = 18, (0.10, 0.30, 0.85, 2.4)


def band(centre: float, width: float) -> Floats:
    """Give one dye's absorption: a Lorentzian with a shoulder 35 to 50 nm toward blue."""
    main = 1.0 / (1.0 + ((NM - centre) / width) ** 2)
    shoulder = 0.45 / (1.0 + ((NM - centre + 1.1 * width) / (0.8 * width)) ** 2)
    return main + shoulder


def sheet(paper: Floats, absorbed: Floats, amount: float) -> Floats:
    """Give the reflectance of a dyed layer of fibres over *paper* (Kubelka and Munk 1931, finite layer)."""
    scattered = 0.9 + 0.03 * amount
    a = 1.0 + (absorbed + 0.01) / scattered
    b = np.sqrt(a * a - 1.0)
    coth = 1.0 / np.tanh(b * scattered)
    return 0.03 + 0.97 * (1.0 - paper * (a - b * coth)) / (a - paper + b * coth)


def rows(seed: int) -> list[dict[str, str]]:
    """Give the rows of the file: a paper of each kind, families on either, and greys on both."""
    random = np.random.default_rng(seed)
    table: list[dict[str, str]] = []

    def add(name: str, kind: str, reflectance: Floats, on: str = "", note: str = "") -> None:
        lab = [f"{value:.2f}" for value in reflectance_to_lab(reflectance)]
        table.append(
            {"name": name, "kind": kind, "L": lab[0], "a": lab[1], "b": lab[2], "on": on, "note": note}
        )

    bare = {name: sheet(ground, np.zeros(36), 0.0) for name, ground in PAPERS.items()}
    for name, reflectance in bare.items():
        add(name, "paper", reflectance, note="simulated")
    black = sum(band(centre, 70.0) for centre in (430.0, 530.0, 620.0, 690.0)) / 2.6
    for family in range(FAMILIES):
        # Two dyes a mixture: from all round the circle, some of them dull (a brown, an olive).
        centre = float(np.interp((family + random.uniform(0.2, 0.8)) / FAMILIES, (0, 1), (405.0, 655.0)))
        width = random.uniform(28.0, 48.0)
        other = 405.0 + (centre - 405.0 + random.uniform(20.0, 110.0)) % 250.0
        dull = random.uniform(0.0, 0.18) if random.uniform() < 0.35 else 0.0
        mixture = band(centre, width) + random.uniform(0.0, 0.5) * band(other, 40.0) + dull * black
        paper = "cream" if family % 4 == 3 else "blue white"
        for place, strength in enumerate(STRENGTHS):
            grey = random.uniform(0.0, 0.05) if place else 0.0
            aside = random.uniform(0.0, 0.12) if place else 0.0
            dye = mixture + grey * black + aside * band(centre + random.choice([-40.0, 40.0]), 45.0)
            amount = strength * random.uniform(0.85, 1.15)
            add(
                f"family {family + 1} {place + 1}",
                "marker",
                sheet(PAPERS[paper], amount * dye, amount),
                paper,
                "simulated",
            )
    for tint, aside in (("warm", 440.0), ("cool", 620.0)):
        for place, amount in enumerate((0.12, 0.25, 0.5, 0.95, 1.8, 3.4)):
            dye = black + 0.12 * band(aside, 60.0)
            add(f"{tint} grey {place + 1}", "marker", sheet(PAPERS["blue white"], amount * dye, amount),
                "blue white", "simulated")  # fmt: skip
    return table


def main() -> None:
    """Write the file."""
    for name, seed in (("seen", 20), ("unseen", 21)):
        made = rows(seed)
        with (INTO / f"dye_families_{name}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, list(made[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(made)
        print(f"{file.name}: {len(made)} rows")


if __name__ == "__main__":
    main()
