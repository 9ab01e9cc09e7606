"""Exact nearest of 400 colours by CIEDE2000 for a million pixels, beside trying every pair.

The other libraries try every pair in chunks, of the size that suits each best on this machine. Their answers are
compared with ours rank for rank: the nearest two of every pixel. Pixels are random sRGB colours, no two alike
(the worst case: alike pixels are worked out once), and those of a picture when one is named.

Run: python tests/benchmarks/nearest_colours.py [PIXELS] [--growth] [--all-of 100000000]
"""

import argparse
import resource
import sys
import time
from collections.abc import Callable
from functools import partial

import numpy as np
from measure import print_table

from blendkit.colour import srgb1_to_lab
from blendkit.nearest import find_nearest

CHUNKS = (64, 256, 1024, 4096)


def screen_colours(number: int, seed: int) -> np.ndarray:
    """Random colours of sRGB, as Lab."""
    return srgb1_to_lab(np.random.default_rng(seed).random((number, 3)))


def brute(
    difference: Callable[..., np.ndarray], labs: np.ndarray, among: np.ndarray, chunk: int
) -> np.ndarray:
    """The nearest two of every pixel by trying every pair, shape (n, 2)."""
    found = np.empty((len(labs), 2), dtype=np.intp)
    for start in range(0, len(labs), chunk):
        distance = difference(labs[start : start + chunk, None], among[None])
        two = np.argpartition(distance, 1, axis=1)[:, :2]
        two.sort(axis=1)  # the lower index first where equal
        order = np.argsort(np.take_along_axis(distance, two, 1), axis=1, kind="stable")
        found[start : start + chunk] = np.take_along_axis(two, order, 1)
    return found


def timed(work: Callable[[], object]) -> tuple[float, float, object]:
    """Seconds by the clock, seconds of processor, and the answer."""
    wall, cpu = time.perf_counter(), time.process_time()
    answer = work()
    return time.perf_counter() - wall, time.process_time() - cpu, answer


def compare(pixels: int, colours: int) -> None:
    """Print blendkit beside the others."""
    from colour.difference import delta_E_CIE2000
    from skimage.color import deltaE_ciede2000

    labs, among = screen_colours(pixels, 1), screen_colours(colours, 2)
    find_nearest(labs[:1000], among)
    ours = {
        "blendkit, a thread a core": timed(lambda: find_nearest(labs, among)),
        "blendkit, one thread": timed(lambda: find_nearest(labs, among, workers=1)),
    }
    wall, cpu, _ = ours["blendkit, a thread a core"]
    exact = find_nearest(labs, among, count=2)
    rows = [
        (name, f"{run[0]:.2f}", f"{run[1]:.2f}", f"{run[0] / wall:.1f}", f"{run[1] / cpu:.1f}", "")
        for name, run in ours.items()
    ]
    for name, difference in (("scikit-image", deltaE_ciede2000), ("colour-science", delta_E_CIE2000)):
        sample = labs[: max(4096, pixels // 200)]
        tried = {size: timed(partial(brute, difference, sample, among, size))[1] for size in CHUNKS}
        chunk = min(tried, key=lambda size: tried[size])
        their_wall, their_cpu, two = timed(partial(brute, difference, labs, among, chunk))
        differ = (two != exact.index).any(axis=1)
        unnamed = differ & ~exact.tied.any(axis=1)
        rows.append(
            (
                f"{name}, every pair, {chunk} pixels at a time",
                f"{their_wall:.2f}",
                f"{their_cpu:.2f}",
                f"{their_wall / wall:.1f}",
                f"{their_cpu / cpu:.1f}",
                f"{int(differ.sum())} differ, of which {int(unnamed.sum())} aren't named as ties",
            )
        )
    print(f"{pixels:,} pixels, {colours} colours; {int(exact.tied.any(axis=1).sum())} ties named.\n")
    print_table(
        ("search", "s", "processor s", "times the clock", "times the processor", "nearest two"),
        rows,
        ("numpy", "scikit-image", "colour-science"),
    )


def growth() -> None:
    """Print how time grows with pixels and colours."""
    rows = []
    sizes = [(100_000, 400), (1_000_000, 400), (4_000_000, 400)]
    sizes += [(1_000_000, 100), (1_000_000, 1600), (1_000_000, 10_000)]
    for pixels, colours in sizes:
        labs, among = screen_colours(pixels, 1), screen_colours(colours, 2)
        wall, cpu, _ = timed(partial(find_nearest, labs, among))
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        held = pixels * 41 / 1e6
        rows.append(
            (
                f"{pixels:,} × {colours:,}",
                f"{wall:.2f}",
                f"{cpu:.2f}",
                f"{cpu / pixels * 1e6:.2f}",
                f"{held:.0f}",
                f"{peak:.0f}",
            )
        )
    print_table(
        ("pixels × colours", "s", "processor s", "µs a pixel", "input and answer MB", "peak so far MB"),
        rows,
        ("numpy",),
    )


def all_of(pixels: int, colours: int = 400) -> None:
    """Work through very many pixels, a million at a time, and print time and peak memory."""
    among = screen_colours(colours, 2)
    wall = cpu = 0.0
    made = 0
    while made < pixels:
        labs = screen_colours(min(1_000_000, pixels - made), made)
        took = timed(partial(find_nearest, labs, among))
        wall, cpu, made = wall + took[0], cpu + took[1], made + len(labs)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print_table(
        ("pixels", "colours", "s", "processor s", "peak MB"),
        [(f"{pixels:,}", colours, f"{wall:.0f}", f"{cpu:.0f}", f"{peak:.0f}")],
        ("numpy",),
    )


def main() -> None:
    """Print the tables that are asked for."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("pixels", nargs="?", type=int, default=1_000_000)
    asked.add_argument("--growth", action="store_true")
    asked.add_argument("--all-of", type=int)
    options = asked.parse_args()
    if options.all_of:
        all_of(options.all_of)
    elif options.growth:
        growth()
    else:
        compare(options.pixels, 400)


if __name__ == "__main__":
    sys.exit(main())
