"""A real Chromium on a real desk: the browser, a desk on a palette of its own, and a page that is watched."""

import shutil
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from simulate.desk import OpenDesk, open_desk
from simulate.window import CHROMIUM, DESKTOP, FLAGS

from blendkit.palette import demo_palette_path


def pytest_collection_modifyitems(items):
    """Mark all of this folder, and skip it with a reason where there is no Chromium."""
    here = Path(__file__).parent
    for item in items:
        if here in Path(item.fspath).parents:
            item.add_marker(pytest.mark.browser)
            if CHROMIUM is None:
                item.add_marker(pytest.mark.skip(reason="no Chromium: install Debian's package chromium"))


@pytest.fixture(scope="session")
def chromium():
    """One headless Chromium for all tests of a worker."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    """A desk on a copy of the invented demo palette."""
    folder = tmp_path_factory.mktemp("desk")
    shutil.copy(demo_palette_path(), folder / "my-drawer.csv")
    with open_desk(folder / "my-drawer.csv") as opened:
        yield opened


@dataclass
class Watched:
    """A page, and everything that it complained of or asked for."""

    page: object
    origin: str
    complaints: list[str] = field(default_factory=list)
    strangers: list[str] = field(default_factory=list)


@pytest.fixture
def visit(chromium):
    """Open pages on a desk; afterwards none may have complained, or asked anything of another machine."""
    contexts = []
    watched: list[Watched] = []

    def go(desk: OpenDesk, path: str = "/drawer", size: tuple[int, int] = DESKTOP, touch: bool = False):
        context = chromium.new_context(
            viewport={"width": size[0], "height": size[1]}, has_touch=touch, accept_downloads=True
        )
        contexts.append(context)
        page = context.new_page()
        one = Watched(page, desk.origin)
        watched.append(one)
        page.on("pageerror", lambda error: one.complaints.append(f"error: {error}"))
        page.on(
            "console",
            lambda message: (
                one.complaints.append(f"{message.type}: {message.text} {message.location.get('url', '')}")
                if message.type in ("error", "warning")
                else None
            ),
        )
        page.on(
            "request",
            lambda request: (
                one.strangers.append(request.url)
                if not request.url.startswith((f"{desk.origin}/", "blob:", "data:"))
                else None
            ),
        )
        page.set_default_timeout(20_000)
        page.goto(desk.address)
        page.wait_for_url("**/drawer")
        if path != "/drawer":
            page.goto(desk.origin + path)
        page.wait_for_selector("body.ready")
        page.expected_complaints = []
        one.page = page
        return page

    yield go
    for one in watched:
        allowed = getattr(one.page, "expected_complaints", [])
        left = [text for text in one.complaints if not any(part in text for part in allowed)]
        assert not left, left
        assert not one.strangers, one.strangers
    for context in contexts:
        context.close()


@pytest.fixture(scope="session")
def axe():
    """The accessibility checker's script (axe-core, MPL-2.0, as packed by axe-playwright-python)."""
    import axe_playwright_python

    return (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")


@pytest.fixture
def check_access(axe):
    """Assert that a page has no serious or critical accessibility fault."""

    def check(page):
        # The checker measures with styles of its own, which the page's policy refuses and reports.
        page.expected_complaints.append("Applying inline style violates")
        page.evaluate(axe)
        found = page.evaluate(
            "() => axe.run(document, {resultTypes: ['violations'], preload: false, "
            "runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']})"
        )
        bad = [
            f"{one['id']} ({one['impact']}): {one['help']}: {[node['html'][:120] for node in one['nodes'][:4]]}"
            for one in found["violations"]
            if one["impact"] in ("serious", "critical")
        ]
        assert not bad, "\n".join(bad)
        assert found["passes"] is not None

    return check
