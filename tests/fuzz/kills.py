"""A process that saves one kind of file again and again, killed at random moments."""

import json
import os
import random
import signal
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from blendkit.palette import demo_palette_path, read_palette, replace_file

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Save:
    """A kind of save.

    Attributes:
        name: what is saved.
        file: the file's name.
        prepare: does what is slow once, and gives the save; the number makes each save another content.
        is_whole: whether bytes found in the file are one whole version.
    """

    name: str
    file: str
    prepare: Callable[[Path], Callable[[int], object]]
    is_whole: Callable[[bytes], bool]


def _chart(path: Path) -> Callable[[int], object]:
    from blendkit.chart.description import read_chart_file, write_chart_file

    spec = read_chart_file(ROOT / "examples/loop/chart.chart.json")
    return lambda number: write_chart_file(spec, path)


def _is_chart(data: bytes) -> bool:
    return len(json.loads(data)["pages"]) == 1


def _sheet(path: Path) -> Callable[[int], object]:
    from blendkit.page import page

    bytes_of = b"%PDF-1.7\n" + b"x" * 300_000 + b"\n%%EOF\n"
    page.draw_pdf = lambda sheet: bytes_of
    return lambda number: page.write_sheet(page.Document("x", ()), path)


def _is_pdf(data: bytes) -> bool:
    return len(data) == 300_016 and data.startswith(b"%PDF-") and data.endswith(b"%%EOF\n")


def _report(path: Path) -> Callable[[int], object]:
    from blendkit.advice.pairs import find_pair
    from blendkit.report import report

    record = find_pair(read_palette(demo_palette_path()), "moss stone noon")
    drawn = report.draw_report(record, "svg")
    report.draw_report = lambda *_, **__: drawn
    report.write_report(record, path)
    return lambda number: report.write_report(record, path)


def _is_html(data: bytes) -> bool:
    return data.lstrip()[:9].lower() == b"<!doctype" and data.rstrip().endswith(b"</html>")


def _project(path: Path) -> Callable[[int], object]:
    from dataclasses import replace

    from blendkit.project.writing import update_project

    path.write_bytes((ROOT / "examples/harvest_gift/project.toml").read_bytes())
    return lambda number: update_project(path, lambda project: replace(project, notes=f"{number} " * 40))


def _is_project(data: bytes) -> bool:
    from blendkit.project.reading import project_from_text

    whole = project_from_text((ROOT / "examples/harvest_gift/project.toml").read_text("utf-8"))
    return len(project_from_text(data.decode()).parts) == len(whole.parts)


def _fit(path: Path) -> Callable[[int], object]:
    from dataclasses import replace

    from blendkit.ink import DEFAULT_MODEL
    from blendkit.palette.calibration_file import StoredCalibration, store_calibration

    fit = StoredCalibration("Snow Gate smooth", DEFAULT_MODEL, "2026-01-02", 40, 12)
    palette = path.with_name("drawer.csv")
    store_calibration(palette, replace(fit, paper="Bark"))
    store_calibration(palette, fit)
    return lambda number: store_calibration(palette, replace(fit, observations=number))


def _is_fit(data: bytes) -> bool:
    import tomllib

    return len(tomllib.loads(data.decode())["paper"]) == 2


def _plain(path: Path) -> Callable[[int], object]:
    return lambda number: replace_file(path, bytes([number % 256]) * 1_000_000)


def _is_plain(data: bytes) -> bool:
    return len(data) == 1_000_000 and len(set(data)) == 1


SAVES = (
    Save("any file", "any.bin", _plain, _is_plain),
    Save("report", "pair.html", _report, _is_html),
    Save("sheet", "sheet.pdf", _sheet, _is_pdf),
    Save("chart description", "x.chart.json", _chart, _is_chart),
    Save("project", "project.toml", _project, _is_project),
    Save("ink constants", "drawer.ink.toml", _fit, _is_fit),
)


def kill_while_saving(save: Save, folder: Path, kills: int, chance: random.Random) -> tuple[int, int, int]:
    """Kill a saving process again and again; give kills, files found broken, and saves begun before the kills.

    A child says a byte for each save it has finished; the first one is waited for, so that there is a file.
    """
    path = folder / save.file
    work = save.prepare(path)
    work(0)
    broken = saves = 0
    for _ in range(kills):
        listen, said = os.pipe()
        child = os.fork()
        if child == 0:
            os.close(listen)
            try:
                for number in range(1, 1_000_000):
                    work(number)
                    os.write(said, b".")
            finally:
                os._exit(1)
        os.close(said)
        os.read(listen, 1)
        time.sleep(chance.uniform(0.0, 0.02))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        with os.fdopen(listen, "rb") as rest:
            saves += 1 + len(rest.read())
        try:
            broken += not save.is_whole(path.read_bytes())
        except Exception:
            broken += 1
    return kills, broken, saves
