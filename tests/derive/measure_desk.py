"""Measure the desk in a real Chromium: first paint, clicks, repainting, the light, and memory after many clicks.

Needs Debian's chromium and Playwright. Run::

    python tests/derive/measure_desk.py [--clicks 3000] [--minutes 60 --only-memory]

Prints the table of tests/benchmarks/README.md. Everything runs on this machine: a desk in its own process on a
drawer of 400 invented markers, and a line image of 1.5 megapixels, the largest that the page recolours. Times run
from the event that a click sends to the second animation frame after the answer stands on the page, so that they
hold the question, the answer, the drawing and the paint.
"""

import argparse
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from blendkit.palette import demo_palette_path, read_palette, write_palette
from blendkit.palette.palette import palette_from_sheet
from blendkit.palette.table import Sheet

MARKERS = 400
LINE_ART = Path(__file__).resolve().parents[2] / "examples" / "line_art" / "hedgehog_lantern.png"

TWO_FRAMES = "() => new Promise((go) => requestAnimationFrame(() => requestAnimationFrame(go)))"

TRIED = """(place) => new Promise((go) => {
    const root = document.getElementById("place");
    const seen = new MutationObserver(() => (seen.disconnect(), go(performance.now() - started)));
    delete root.dataset.tried;
    seen.observe(root, { attributeFilter: ["data-tried"] });
    const started = performance.now();
    document.querySelectorAll(".fit[data-role=shadow]")[place].focus();
})"""

CLICK = """async ([name]) => {
    const root = document.getElementById("place");
    const started = performance.now();
    const path = `/pair?colour=${encodeURIComponent(name)}`;
    document.dispatchEvent(new CustomEvent("blendkit-go", { detail: { path } }));
    while (root.dataset.shown !== name) await new Promise((go) => setTimeout(go, 0));
    await new Promise((go) => requestAnimationFrame(() => requestAnimationFrame(go)));
    return performance.now() - started;
}"""


def large_drawer(path: Path) -> None:
    """Write a palette of 400 invented markers: the demo's, and neighbours of them."""
    rng = np.random.default_rng(400)
    demo = read_palette(demo_palette_path())
    labs = np.array([marker.lab for marker in demo.markers])
    header = ("name", "kind", "L", "a", "b", "on", "family")
    rows = [("plain card", "paper", "96.5", "0", "1", "", "")]
    for number in range(MARKERS):
        lab = labs[number % len(labs)] + rng.normal(0, [4, 5, 5]) * (number >= len(labs))
        lab[0] = np.clip(lab[0], 8, 92)
        rows.append(
            (f"marker {number:03d}", "marker", *(f"{v:.2f}" for v in lab), "plain card", f"f{number % 130}")
        )
    write_palette(path, palette_from_sheet(Sheet(header=header, rows=tuple(rows))))


def resident_mb(pid: int) -> float:
    """Memory that a process and its children hold, MB."""
    total = 0
    for one in [pid, *children(pid)]:
        try:
            for line in Path(f"/proc/{one}/status").read_text().splitlines():
                if line.startswith("VmRSS:"):
                    total += int(line.split()[1])
        except OSError:
            continue
    return total / 1024


def children(pid: int) -> list[int]:
    """Processes that a process has started."""
    try:
        own = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    except OSError:
        return []
    return [grand for one in own for grand in (int(one), *children(int(one)))]


def spread(times: list[float]) -> str:
    """Median and 95th percentile, in ms."""
    within = np.percentile(times, 95)
    return f"median {statistics.median(times):.0f} ms, 95 % within {within:.0f} ms, n = {len(times)}"


def measure_import() -> str:
    """How long a bare interpreter takes to have the desk's server ready to start."""
    times = []
    for _ in range(5):
        started = time.perf_counter()
        subprocess.run([sys.executable, "-c", "import blendkit.desk.app"], check=True)
        times.append(time.perf_counter() - started)
    return f"{statistics.median(times):.2f} s"


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--clicks", type=int, default=3000, help="clicks of the memory run")
    parser.add_argument("--minutes", type=float, default=0.0, help="spread those clicks over that long")
    parser.add_argument("--only-memory", action="store_true", help="leave the other measurements out")
    given = parser.parse_args()
    sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
    from playwright.sync_api import sync_playwright
    from simulate.desk import open_desk
    from simulate.window import CHROMIUM, FLAGS

    folder = Path(tempfile.mkdtemp(prefix="measure-desk-"))
    large_drawer(folder / "drawer.csv")
    print(f"cores {os.cpu_count()}, load at the start {os.getloadavg()[0]:.1f}")
    print(f"import of the whole server            {measure_import()}")
    started = time.perf_counter()
    with open_desk(folder / "drawer.csv") as desk, sync_playwright() as playwright:
        print(f"command to address, with the palette   {time.perf_counter() - started:.2f} s")
        browser = playwright.chromium.launch(
            executable_path=CHROMIUM, args=[*FLAGS, "--enable-precise-memory-info"]
        )
        page = browser.new_context(viewport={"width": 1440, "height": 860}).new_page()
        page.set_default_timeout(60_000)
        page.goto(desk.address)
        page.wait_for_url("**/drawer")
        page.wait_for_selector(".tile")
        if not given.only_memory:
            print(f"first paint of the drawer              {measure_paint(page, desk.origin)}")
            print(f"click to companions, {MARKERS} markers      {measure_clicks(page, desk.origin)}")
            for line in measure_project(page, desk.origin):
                print(line)
        measure_memory(page, desk, given.clicks, given.minutes * 60.0)
        browser.close()
    shutil.rmtree(folder, ignore_errors=True)


def measure_paint(page, origin: str) -> str:
    """First contentful paint, and until every swatch stands there, over ten visits."""
    first, whole = [], []
    for _ in range(10):
        started = time.perf_counter()
        page.goto(f"{origin}/drawer")
        page.wait_for_selector(".tile")
        page.evaluate(TWO_FRAMES)
        whole.append((time.perf_counter() - started) * 1000)
        first.append(
            page.evaluate("() => performance.getEntriesByName('first-contentful-paint')[0].startTime")
        )
    return f"{statistics.median(first):.0f} ms; all {MARKERS} swatches {statistics.median(whole):.0f} ms"


def measure_clicks(page, origin: str) -> str:
    """From a click on a marker to its companions painted, for 150 different markers."""
    page.goto(f"{origin}/pair")
    page.wait_for_selector(".companion")
    rng = np.random.default_rng(7)
    names = [f"marker {number:03d}" for number in rng.permutation(MARKERS)[:160]]
    times = []
    for name in names:
        times.append(page.evaluate(CLICK, [name]))
        page.wait_for_timeout(400)  # a hand clicks no faster; what follows the companions is done by then
    return spread(times[10:])


def measure_project(page, origin: str) -> list[str]:
    """A project of 1.5 megapixels: opening it, trying a marker, keeping it, and moving the light."""
    from PIL import Image

    image = Image.open(LINE_ART).convert("L")
    scale = (1_500_000 / (image.width * image.height)) ** 0.5
    picture = Path(tempfile.mkdtemp()) / "drawing.png"
    image.resize((round(image.width * scale), round(image.height * scale)), Image.Resampling.LANCZOS).save(
        picture, dpi=(300, 300)
    )
    page.goto(f"{origin}/project?list=1")
    started = time.perf_counter()
    page.set_input_files("input[type=file]", picture)
    page.wait_for_selector(".board")
    page.wait_for_selector(".plan-check .verdict")
    opened = time.perf_counter() - started
    box = page.locator(".drawing").bounding_box()
    page.mouse.click(box["x"] + 0.5 * box["width"], box["y"] + 0.42 * box["height"])
    page.wait_for_selector(".part-chip")
    page.get_by_role("combobox", name="Base coat").fill("marker 020")
    page.keyboard.press("Enter")
    page.wait_for_selector(".fit[data-role=shadow] >> nth=3")
    size = page.evaluate(
        "() => { const c = document.querySelector('.drawing'); return [c.width, c.height]; }"
    )
    tries = []
    fits = page.locator(".fit[data-role=shadow]")
    for turn in range(60):
        tries.append(page.evaluate(TRIED, turn % 4))
    keeps: list[float] = []
    page.wait_for_selector(".fit-list[data-version]")
    for turn in range(12):
        version = page.evaluate("() => document.getElementById('place').dataset.version")
        started = time.perf_counter()
        fits.nth(1 + turn % 3).click()
        page.wait_for_function("(v) => document.getElementById('place').dataset.version !== v", arg=version)
        page.evaluate(TWO_FRAMES)
        keeps.append((time.perf_counter() - started) * 1000)
        now = page.evaluate("() => document.getElementById('place').dataset.version")
        page.wait_for_selector(f".fit-list[data-version='{now}']")
    lights = []
    sun = page.locator(".sun")
    for _ in range(8):
        version = page.evaluate("() => document.getElementById('place').dataset.version")
        sun.focus()
        started = time.perf_counter()
        page.keyboard.press("ArrowRight")
        page.wait_for_function("(v) => document.getElementById('place').dataset.version !== v", arg=version)
        page.evaluate(TWO_FRAMES)
        lights.append((time.perf_counter() - started) * 1000)
    return [
        f"line image of {size[0] * size[1] / 1e6:.2f} megapixels opened  {opened:.1f} s",
        f"marker change to new preview           {spread(tries)}",
        f"marker kept in the project file        {spread(keeps)}",
        f"light moved, kept and repainted        {spread(lights)}",
    ]


def measure_memory(page, desk, clicks: int, seconds: float) -> None:
    """Click through markers and places, and see what server and page hold after each sixth."""
    rng = np.random.default_rng(11)
    page.goto(f"{desk.origin}/pair")
    page.wait_for_selector(".companion")
    started = time.perf_counter()
    for part in range(7):
        page.evaluate("() => window.gc && window.gc()")
        heap = page.evaluate("() => performance.memory.usedJSHeapSize / 1e6")
        print(
            f"memory after {part * clicks // 6:5d} clicks: desk {resident_mb(desk.process.pid):4.0f} MB, "
            f"page {heap:4.1f} MB, {page.evaluate('() => document.querySelectorAll(`*`).length')} elements, "
            f"{(time.perf_counter() - started) / 60:.1f} min",
            flush=True,
        )
        if part == 6:
            break
        for turn in range(clicks // 6):
            due = started + seconds * (part * (clicks // 6) + turn) / clicks
            page.wait_for_timeout(max(0.0, due - time.perf_counter()) * 1000.0)
            page.evaluate(
                CLICK,
                [
                    f"marker {int(rng.integers(MARKERS)):03d}"
                    if turn % 25
                    else f"#{int(rng.integers(1 << 24)):06x}"
                ],
            )
            if turn % 100 == 99:
                for place in ("Drawer", "Papers", "Pair"):
                    page.click(f".tabs >> text={place}")
                    page.wait_for_selector(".tile, .scheme, .cards .nothing, .companion")
                page.wait_for_selector(".companion")
    print(f"memory run took {time.perf_counter() - started:.0f} s for {clicks} clicks")


if __name__ == "__main__":
    main()
