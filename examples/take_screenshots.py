"""Take the pictures of the local page that README.md shows, at desktop, tablet and phone sizes.

Needs Debian's chromium and Playwright. Run ``python examples/take_screenshots.py [FOLDER]`` after a change to the
page, and look at every picture. Everything on them is invented: the demo palette, the drawing, the photo and the
coloured chart of this folder.
"""

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from blendkit.palette import demo_palette_path

HERE = Path(__file__).parent
DESKTOP, TABLET, PHONE = (1440, 860), (768, 1024), (390, 844)
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
Act = Callable[[Any], None]


@contextmanager
def open_desk(palette: Path, project: Path | None = None) -> Iterator[str]:
    """Run the desk as its command does, and give the address that opens it."""
    command = [sys.executable, "-m", "blendkit", "desk", "--palette", str(palette), "--no-browser"]
    command += ["--project", str(project)] if project is not None else []
    environment = {**os.environ, "PYTHONUNBUFFERED": "1", "HOME": str(palette.parents[1])}
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment)
    try:
        assert process.stdout is not None
        yield process.stdout.readline().split()[-1]
    finally:
        process.terminate()
        process.communicate(timeout=20)


def _plain(wait_for: str) -> Act:
    def act(page: Any) -> None:
        page.wait_for_selector(wait_for)

    return act


def _drawer(page: Any) -> None:
    page.wait_for_selector(".tile")
    page.get_by_role("button", name="rosehip noon", exact=True).click()
    page.wait_for_selector(".thing .coats")


def _missing(page: Any) -> None:
    page.click("text=What is missing")
    page.wait_for_selector(".wants li")


def _lamp(page: Any) -> None:
    page.wait_for_selector(".scheme")
    page.get_by_role("button", name="Warm lamp", exact=True).click()
    page.wait_for_selector(".cards[data-light=A]")


def _project(page: Any) -> None:
    page.wait_for_selector(".board", timeout=60_000)
    page.click(".part-chip:has-text('face')")
    page.wait_for_selector(".fit[data-role=shadow] >> nth=3")
    page.wait_for_selector(".plan-check .verdict")


def _photo(page: Any) -> None:
    page.set_input_files("input[type=file]", HERE / "photo" / "harvest_table.jpg")
    page.wait_for_selector(".found-colours > li", timeout=60_000)


def _scan(page: Any) -> None:
    page.get_by_role("button", name="2 Read the coloured chart").click()
    files = [HERE / "loop" / "coloured_chart.jpg", HERE / "loop" / "chart.chart.json"]
    page.set_input_files("input[type=file]", files)
    page.wait_for_selector(".scan-grid", timeout=60_000)


SCENES: dict[str, tuple[str, tuple[int, int], Act]] = {
    "desk_drawer": ("/drawer", DESKTOP, _drawer),
    "desk_missing": ("/drawer", DESKTOP, _missing),
    "desk_pair": ("/pair?colour=rosehip+dawn", DESKTOP, _plain(".steps li")),
    "desk_papers": (
        "/papers?colour=rosehip+dawn&colour=lantern+glow+dawn&colour=hedge+leaf+noon",
        DESKTOP,
        _lamp,
    ),
    "desk_project": ("/project", DESKTOP, _project),
    "desk_scrap": ("/scrap", DESKTOP, _plain(".chart-page")),
    "desk_scan": ("/scrap", DESKTOP, _scan),
    "desk_photo": ("/photo", DESKTOP, _photo),
    "desk_drawer_tablet": ("/drawer", TABLET, _plain(".tile")),
    "desk_pair_tablet": ("/pair?colour=rosehip+dawn", TABLET, _plain(".steps li")),
    "desk_papers_tablet": ("/papers?colour=rosehip+dawn&colour=hedge+leaf+noon", TABLET, _lamp),
    "desk_project_tablet": ("/project", TABLET, _project),
    "desk_scrap_tablet": ("/scrap", TABLET, _plain(".chart-page")),
    "desk_photo_tablet": ("/photo", TABLET, _photo),
    "desk_drawer_phone": ("/drawer", PHONE, _plain(".tile")),
    "desk_pair_phone": ("/pair?colour=rosehip+dawn", PHONE, _plain(".steps li")),
}
"""What is shown: a name, the address, the size of the window, and what is done there first."""


def take_screenshots(target: Path, only: tuple[str, ...] = ()) -> list[Path]:
    """Take them all, or those of some names, and the empty drawer's."""
    from playwright.sync_api import sync_playwright

    target.mkdir(parents=True, exist_ok=True)
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    home = Path(tempfile.mkdtemp(prefix="screenshots-"))
    folder = home / "colouring"
    folder.mkdir()
    shutil.copy(demo_palette_path(), folder / "my-drawer.csv")
    for name in ("hedgehog_lantern", "line_art"):
        shutil.copytree(HERE / name, folder / name)
    taken = []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=list(FLAGS))

        def shoot(address: str, name: str, path: str, size: tuple[int, int], act: Act) -> None:
            window = {"width": size[0], "height": size[1]}
            page = browser.new_context(viewport=window, has_touch=size != DESKTOP).new_page()
            page.goto(address)
            page.wait_for_url("**/drawer")
            page.goto(address.split("/?")[0] + path)
            act(page)
            page.evaluate("() => scrollTo(0, 0)")
            page.wait_for_load_state("networkidle")
            page.wait_for_timeout(400)
            page.screenshot(path=target / f"{name}.jpg", type="jpeg", quality=82)
            page.context.close()
            taken.append(target / f"{name}.jpg")

        with open_desk(folder / "my-drawer.csv", folder / "hedgehog_lantern" / "project.toml") as address:
            for name, (path, size, act) in SCENES.items():
                if not only or name in only:
                    shoot(address, name, path, size, act)
        if not only or "desk_empty" in only:
            with open_desk(home / "markers" / "my-drawer.csv") as address:
                shoot(address, "desk_empty", "/drawer", DESKTOP, _plain(".welcome"))
        browser.close()
    shutil.rmtree(home, ignore_errors=True)
    return taken


if __name__ == "__main__":
    names = tuple(one for one in sys.argv[1:] if one in SCENES or one == "desk_empty")
    folders = [Path(one) for one in sys.argv[1:] if one not in names]
    for picture in take_screenshots(folders[0] if folders else HERE / "pictures", names):
        print(picture)
