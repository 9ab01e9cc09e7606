"""Damage whole files by the hundred thousand and read them: each is read or refused in a sentence, in time.

Memory is that of the whole process. What fails is kept in a folder, one file each; copied to
tests/corpus/<reader>/ it becomes a test.

Run: python tests/derive/fuzz_readers.py [--seed 1] [--share 1.0] [--only palette] [--keep folder]
"""

import argparse
import resource
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.fuzz.readers import READERS, try_many

INPUTS = {
    "palette": 25_000, "palette file": 5_000, "history": 4_000, "calibration": 5_000, "cgats": 16_000,
    "gpl": 8_000, "csv of others": 6_000, "project": 12_000, "chart file": 8_000, "target file": 6_000,
    "words": 12_000,
    "picture": 20_000, "colour profile": 4_000, "scan": 400,
}  # fmt: skip


def main() -> int:
    """Try the inputs and print a table; the exit code is 1 when anything failed."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--share", type=float, default=1.0)
    asked.add_argument("--only", action="append")
    asked.add_argument("--keep", type=Path)
    options = asked.parse_args()
    print("| reader | inputs | read | refused in a sentence | failed | slowest s | s | peak MB so far |")
    print("| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: |")
    total = failed = 0
    for reader in READERS:
        if options.only and reader.name not in options.only:
            continue
        inputs = max(1, round(INPUTS[reader.name] * options.share))
        began = time.perf_counter()
        count = try_many(
            reader, inputs, options.seed, options.keep, lambda text: print(text, file=sys.stderr, flush=True)
        )
        took = time.perf_counter() - began
        peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(
            f"| {reader.name} | {inputs:,} | {count.read:,} | {count.refused:,} | {count.failed} "
            f"| {count.slowest:.2f} | {took:.0f} | {peak_mb:.0f} |",
            flush=True,
        )
        total, failed = total + inputs, failed + count.failed
    print(f"\n{total:,} inputs, {failed} failed.")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
