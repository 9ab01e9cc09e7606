"""How long a cold answer takes: whole processes, beside a process that only imports NumPy or colour-science.

Run: python tests/benchmarks/cold_answers.py [ROUNDS]
"""

import shutil
import sys
import tempfile
from pathlib import Path

from measure import compiled_settings, print_table, run_in_turns, write_drawer


def main() -> None:
    """Print the table."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 11
    blendkit = shutil.which("blendkit", path=str(Path(sys.executable).parent)) or "blendkit"
    with tempfile.TemporaryDirectory() as folder:
        drawer = str(write_drawer(Path(folder, "drawer.csv"), 400))
        asks = {
            "pair": ["pair", "lantern 7"],
            "match": ["match", "lantern 7"],
            "order": ["order", "lantern 7", "lantern 30", "lantern 31"],
        }
        commands = {"import numpy": [sys.executable, "-c", "import numpy"]}
        commands["import colour"] = [sys.executable, "-c", "import colour"]
        for name, words in asks.items():
            commands[f"blendkit {name}"] = [blendkit, *words, "--palette", drawer]
        runs = run_in_turns(commands, rounds, compiled_settings(folder))
        numpy, colour = runs["import numpy"], runs["import colour"]
        print_table(
            ("process", "ms", "processor ms", "peak MB", "times NumPy", "times colour", "by processor"),
            [
                (
                    f"`{name}`",
                    f"{run.wall * 1000:.0f}",
                    f"{run.cpu * 1000:.0f}",
                    f"{run.peak_mb:.0f}",
                    f"{run.wall / numpy.wall:.2f}",
                    f"{run.wall / colour.wall:.2f}",
                    f"{run.cpu / numpy.cpu:.2f}, {run.cpu / colour.cpu:.2f}",
                )
                for name, run in runs.items()
            ],
            ("numpy", "colour-science", "typer", "rich"),
        )


if __name__ == "__main__":
    main()
