"""The command line: parse, call one function, print. Every command is the twin of a function of blendkit."""

import gc
from typing import Any

__all__ = ["main"]


def main(arguments: list[str] | None = None) -> Any:
    """Run the command line, as blendkit.cli.app.main; the process is expected to be a short one."""
    # Importing makes many objects that live to the end: looking for dead ones among them costs a short command
    # a twentieth of its time. A long one (the desk) still collects, only less often.
    gc.set_threshold(20_000, 20, 20)
    from blendkit.cli.app import main as run

    return run(arguments)
