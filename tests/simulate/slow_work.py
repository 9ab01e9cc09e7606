"""Long work for the tests of the desk's workshop."""

import time

from blendkit.errors import PictureError, Problem


def count(steps, pause, progress):
    for step in range(steps):
        progress(step / steps, "open", f"step {step + 1}")
        time.sleep(pause)
    return {"steps": steps}


def mistake(progress):
    raise PictureError("It is no picture.", [Problem("file", "text", "a picture")])


def fault(progress):
    raise ZeroDivisionError("inside")


def die(progress):
    import os

    os._exit(9)


def swell(progress):
    kept = []
    while True:
        kept.append(b"x" * 10_000_000)
        time.sleep(0.01)
