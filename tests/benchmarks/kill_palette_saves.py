"""Kill a process again and again while it saves a palette, and count what was lost or broken.

Each round starts a process that adds one marker after another, says so after each save, and is killed with
SIGKILL at a random moment. Then the file must read, must hold the markers 1 to n without a gap, and must hold
every marker that was said to be saved.

Run: python tests/benchmarks/kill_palette_saves.py [ROUNDS]
"""

import os
import random
import signal
import sys
import tempfile
import time
from pathlib import Path

from blendkit.errors import PaletteError
from blendkit.palette import empty_palette, read_palette, reading_from_hex, update_palette, write_palette

MOST = 120
"""Markers after which a round begins again with an empty palette."""


def save_for_ever(path: Path, said: int) -> None:
    """Add markers one by one; after each save write its number to *said*."""
    reading = reading_from_hex("#884433", setup="x" * 2000)
    os.write(said, b"0\n")
    while True:
        written = update_palette(
            path, lambda palette: palette.with_marker(f"m{len(palette.markers)}", reading)
        )
        os.write(said, f"{len(written.markers)}\n".encode())


def killed_while_saving(path: Path, delay: float) -> int:
    """Let a child save for *delay* seconds, kill it, and give the count of markers that it last said."""
    listen, said = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(listen)
        try:
            save_for_ever(path, said)
        finally:
            os._exit(1)
    os.close(said)
    with os.fdopen(listen) as lines:
        lines.readline()
        time.sleep(delay)
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        return int((["0"] + [line for line in lines if line.endswith("\n")])[-1])


def main() -> None:
    """Run the rounds and print the counts."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    chance = random.Random(7)
    broken = lost = saves = swept = 0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "drawer.csv"
        write_palette(path, empty_palette())
        update_palette(path, lambda palette: palette)  # imports what a save needs before the forks
        for _ in range(rounds):
            said = killed_while_saving(path, chance.uniform(0.0, 0.03))
            swept += bool(list(Path(folder).rglob(".*.new")))
            try:
                names = [marker.name for marker in read_palette(path).markers]
            except PaletteError as error:
                print(error)
                broken += 1
                break
            broken += names != [f"m{number}" for number in range(len(names))]
            lost += len(names) < said
            saves += said
            if len(names) > MOST:
                path.unlink()
                write_palette(path, empty_palette())
        update_palette(path, lambda palette: palette.with_marker("last", reading_from_hex("#112233")))
        left = len(list(Path(folder).rglob(".*.new")))
    print(f"{rounds} kills; files broken: {broken}; acknowledged saves lost: {lost}")
    print(f"kills that left a half-written file beside the whole one: {swept}; after the next save: {left}")


if __name__ == "__main__":
    main()
