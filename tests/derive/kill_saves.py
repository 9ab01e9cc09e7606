"""Kill a process at random moments while it saves reports, sheets, charts, projects and fits; count broken files.

Palettes have a trial of their own, which also counts what was lost: tests/benchmarks/kill_palette_saves.py.

Run: python tests/derive/kill_saves.py [KILLS OF EACH]
"""

import random
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.fuzz.kills import SAVES, kill_while_saving


def main() -> int:
    """Print a table; the exit code is 1 when a file was broken."""
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    chance = random.Random(8)
    failed = 0
    print("| saved | kills | saves finished before them | files broken | half-written files left beside |")
    print("| --- | ---: | ---: | ---: | ---: |")
    for save in SAVES:
        with tempfile.TemporaryDirectory() as folder:
            done, broken, saves = kill_while_saving(save, Path(folder), kills, chance)
            left = len(list(Path(folder).glob(".*.new")))
        print(f"| {save.name} | {done:,} | {saves:,} | {broken} | {left} |", flush=True)
        failed += broken
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
