"""What the benchmarks share: an invented drawer, whole processes measured in turns, a table with its footing."""

import importlib.metadata
import os
import platform
import random
import statistics
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Run:
    """One process: seconds by the clock, seconds of processor, peak memory in MB."""

    wall: float
    cpu: float
    peak_mb: float


def write_drawer(path: Path, markers: int, seed: int = 1) -> Path:
    """Write a palette of invented markers on a white and a kraft card, colours measured as D50 Lab."""
    chance = random.Random(seed)
    rows = ["name,kind,on,family,note,L,a,b,light,observer", "Snow,paper,,,,95,0,-1,D50,2"]
    rows.append("Bark,paper,,,,68,7,22,D50,2")
    for number in range(markers):
        lightness, hue = chance.uniform(25, 90), chance.uniform(-25, 25)
        rows.append(
            f"lantern {number},marker,Snow,family {number // 4},,{lightness:.2f},{hue:.2f},"
            f"{chance.uniform(-25, 25):.2f},D50,2"
        )
    path.write_text("\n".join(rows) + "\n")
    return path


def run_process(
    command: Sequence[str], settings: dict[str, str] | None = None, accepted: Sequence[int] = (0, 1)
) -> Run:
    """Run one process to its end; its own peak memory and processor time, not its parent's.

    Exit codes other than the *accepted* are an error; 1 says that a question was answered, and nothing fits.
    """
    began = time.perf_counter()
    child = subprocess.Popen(command, env=settings, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, used = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    if child.returncode not in accepted:
        raise RuntimeError(f"{' '.join(command)} ended with {child.returncode}")
    return Run(time.perf_counter() - began, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)


def run_in_turns(
    commands: dict[str, Sequence[str]], rounds: int, settings: dict[str, str] | None = None
) -> dict[str, Run]:
    """Medians of *rounds* runs of each command, taken in turns; one round before them isn't counted."""
    runs: dict[str, list[Run]] = {name: [] for name in commands}
    for turn in range(rounds + 1):
        for name, command in commands.items():
            run = run_process(command, settings)
            if turn:
                runs[name].append(run)
    return {
        name: Run(
            statistics.median(run.wall for run in taken),
            statistics.median(run.cpu for run in taken),
            statistics.median(run.peak_mb for run in taken),
        )
        for name, taken in runs.items()
    }


def compiled_settings(folder: str) -> dict[str, str]:
    """Environment in which every command, ours or another's, finds its modules compiled after the first run."""
    settings = {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    return settings | {"PYTHONPYCACHEPREFIX": folder}


def print_table(headings: Sequence[str], rows: Sequence[Sequence[object]], libraries: Sequence[str]) -> None:
    """Print a Markdown table with the command, cores, load and versions under it."""
    print(f"| {' | '.join(headings)} |")
    print(f"|{'|'.join([' --- '] + [' ---: '] * (len(headings) - 1))}|")
    for row in rows:
        print(f"| {' | '.join(str(cell) for cell in row)} |")
    versions = ", ".join(f"{name} {importlib.metadata.version(name)}" for name in libraries)
    load = f"{os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "unknown"
    command = " ".join(["python", os.path.relpath(sys.argv[0]), *sys.argv[1:]])
    print(
        f"\n`{command}`; {os.cpu_count()} cores, load {load}; Python {platform.python_version()}, {versions}."
    )
