"""Derive blendkit/data/scan_prior.csv: how cameras and scanners usually bend colour.

Simulated devices (tests/simulate) look at many invented inks each. The eighteen numbers of
blendkit.chart.correct_colour are fitted to each device with all inks known, and their second moments about
"no error" are written down, a fifth of what lies off the diagonal taken away and all widened by a quarter, since
real devices differ from simulated ones.

Run: python -m tests.derive.derive_scan_prior [--write]
"""

import sys
from pathlib import Path

import numpy as np

from blendkit.chart.correct_colour import Anchors, _fit
from blendkit.colour import srgb1_to_linear
from blendkit.picture.encoding import srgb_encoding
from tests.simulate import device, spectra

TUNING_SEED = 1000
DEVICES = (("photo", 120), ("white", 40), ("rgb-led", 40))
PATH = Path(__file__).parents[2] / "blendkit" / "data" / "scan_prior.csv"


def seen_colours(kind, seed, count):
    """Linear light relative to the paper of *count* inks in one device, their Lab, and the paper's."""
    rng = np.random.default_rng(seed)
    seen_by = device.phone(rng) if kind == "photo" else device.scanner(rng, kind)
    paper = spectra.paper_reflectance(rng)
    inks = np.stack(
        [spectra.inked_reflectance(paper, spectra.ink_absorption(rng), np.array(1.0)) for _ in range(count)]
    )
    white = seen_by.linear(paper).max() * 1.05
    exposure = rng.uniform(0.55, 0.85) if kind == "photo" else rng.uniform(0.82, 0.95)
    code = seen_by.finish(seen_by.linear(np.concatenate([inks, paper[None]])), exposure / white)
    linear = srgb1_to_linear(code)
    paper_lab = tuple(float(v) for v in spectra.reflectance_to_lab(paper))
    return linear[:-1] / linear[-1], spectra.reflectance_to_lab(inks), paper_lab


def derive():
    """Second moments of the eighteen numbers over the simulated devices, shape (18, 18)."""
    matrix = srgb_encoding().matrix
    # spreads wide enough for the inks to decide: tone, bend, stray light, mixing, root-polynomial, paper, gain
    weak = np.diag(np.square([0.15, 0.5, 0.006, *[0.2] * 6, *[0.2] * 9, 0.3, 0.3, 0.3, 0.001]))
    numbers = []
    for kind, count in DEVICES:
        for index in range(count):
            relative, lab, paper = seen_colours(kind, [TUNING_SEED, index], 160)
            prior = np.concatenate([np.zeros(18), paper, [0.0]])
            fitted, _, _ = _fit(matrix, prior, weak, Anchors(relative, lab, np.zeros(len(lab), bool)))
            numbers.append(fitted[:18])
    moments = np.array(numbers).T @ np.array(numbers) / len(numbers)
    return 1.25 * (0.8 * moments + 0.2 * np.diag(np.diag(moments)))


def main():
    """Print the table, or write it."""
    moments = derive()
    head = [
        "# How cameras and scanners usually bend colour: second moments of the eighteen numbers of",
        "# blendkit.chart.correct_colour (tone, bend, stray light, six of the mixing matrix, nine of the",
        "# root-polynomial). Derived by tests/derive/derive_scan_prior.py from simulated devices.",
    ]
    lines = head + [",".join(f"{value:.6f}" for value in row) for row in moments]
    if "--write" in sys.argv:
        PATH.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")
    else:
        print("\n".join(lines))


if __name__ == "__main__":
    main()
