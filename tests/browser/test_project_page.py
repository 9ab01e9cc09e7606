"""The project place in a real browser: from a drawing to a printed plan, with everything in the project file."""

import io
import shutil
from pathlib import Path

import pypdfium2
import pytest
from simulate.desk import open_desk
from simulate.window import DESKTOP, TABLET

from blendkit.palette import demo_palette_path
from blendkit.project.reading import read_project

LINE_ART = Path(__file__).resolve().parents[2] / "examples" / "line_art" / "hedgehog_lantern_scan.jpg"
FACE, CAP, TUMMY = (0.5, 0.5), (0.45, 0.1), (0.45, 0.75)


@pytest.fixture(scope="module")
def own_desk(tmp_path_factory):
    """A desk on a copy of the demo palette, whose projects are its own."""
    folder = tmp_path_factory.mktemp("projects")
    shutil.copy(demo_palette_path(), folder / "my-drawer.csv")
    with open_desk(folder / "my-drawer.csv") as opened:
        yield opened


def new_project(page):
    page.set_input_files("input[type=file]", LINE_ART)
    page.wait_for_selector(".board", timeout=60_000)
    page.wait_for_selector(".plan-check .verdict", timeout=60_000)


def click_at(page, place):
    page.evaluate("() => scrollTo(0, 0)")
    box = page.locator(".drawing").bounding_box()
    page.mouse.click(box["x"] + place[0] * box["width"], box["y"] + place[1] * box["height"])


def after_change(page, act):
    """Do something that changes the project, and wait until the page shows the changed one."""
    version = page.locator("#place").get_attribute("data-version")
    act()
    page.wait_for_function(
        "(v) => document.getElementById('place').dataset.version !== v", arg=version, timeout=60_000
    )


def colour_at(page, place):
    page.expected_complaints.append("willReadFrequently")
    return page.evaluate(
        """([x, y]) => {
            const canvas = document.querySelector('.drawing');
            const brush = canvas.getContext('2d');
            return [...brush.getImageData(Math.floor(x * canvas.width), Math.floor(y * canvas.height), 1, 1).data];
        }""",
        list(place),
    )


def file_of(desk):
    return max(desk.palette.parent.glob("projects/*/project.toml"), key=lambda path: path.stat().st_mtime)


@pytest.mark.parametrize("size", [DESKTOP, TABLET], ids=["desktop", "tablet"])
def test_a_drawing_is_coloured_and_printed(own_desk, visit, check_access, size):
    """Drop in a scan, click parts, choose markers, move the light, print the plan; the file holds it all."""
    page = visit(own_desk, "/project?list=1", size, touch=size == TABLET)
    check_access(page)
    new_project(page)
    assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
    paper = colour_at(page, FACE)

    after_change(page, lambda: click_at(page, FACE))
    base = page.get_by_role("combobox", name="Base coat")
    base.fill("kin two")
    after_change(page, lambda: page.keyboard.press("Enter"))
    assert colour_at(page, FACE) != paper
    page.wait_for_selector(".fit[data-role=shadow] >> nth=3")
    check_access(page)

    # Pointing at a shadow shows it on the drawing and keeps nothing; clicking keeps it.
    version = page.locator("#place").get_attribute("data-version")
    shadow = page.locator(".fit[data-role=shadow] >> nth=2")
    name = shadow.locator("span").last.inner_text()
    shadow.focus()
    page.wait_for_function("() => document.getElementById('place').dataset.tried")
    assert page.locator("#place").get_attribute("data-version") == version
    after_change(page, lambda: shadow.click())

    page.locator("summary:has-text('Name, white, order')").click()
    page.fill("[name=new_name]", "face <b>")
    after_change(page, lambda: page.keyboard.press("Enter"))
    page.wait_for_selector(".part-chip:has-text('face <b>')")

    page.locator(".sun").focus()
    after_change(page, lambda: page.keyboard.press("ArrowRight"))
    after_change(page, lambda: page.locator(".project-tools button:has-text('Undo')").click())
    after_change(page, lambda: page.locator(".project-tools button:has-text('Redo')").click())

    saved = read_project(file_of(own_desk))
    assert saved.parts[0].name == "face <b>"
    assert (saved.parts[0].base, saved.parts[0].shadow, saved.light) == ("kin two", name, "11:00")

    page.get_by_role("button", name="Print", exact=True).click()
    assert "fresh air" in page.locator("dialog .caution-box").inner_text()
    check_access(page)
    page.locator("[data-form=plan]").click()
    link = page.locator(".made a")
    link.wait_for(timeout=60_000)
    sheet = page.context.request.get(own_desk.origin + link.get_attribute("href"))
    text = pypdfium2.PdfDocument(io.BytesIO(sheet.body()))[0].get_textpage().get_text_range()
    assert "face <b>" in text


def test_areas_overlaps_and_strokes(own_desk, visit):
    """Add an area to a part, flip what lies in front, split by a stroke drawn by hand, and take all of it back."""
    page = visit(own_desk, "/project?list=1")
    new_project(page)
    before = file_of(own_desk).read_bytes()
    after_change(page, lambda: click_at(page, CAP))
    after_change(page, lambda: click_at(page, FACE))
    page.get_by_role("button", name="Add areas").click()
    after_change(page, lambda: click_at(page, TUMMY))
    assert len(read_project(file_of(own_desk)).parts[1].at) == 2
    page.get_by_role("button", name="Choose", exact=True).click()
    page.click(".part-chip >> nth=0")
    if page.locator(".borders li").count():
        words = page.locator(".borders li span >> nth=0").inner_text()
        after_change(page, lambda: page.locator(".borders button >> nth=0").click())
        assert page.locator(".borders li span >> nth=0").inner_text() != words
        assert read_project(file_of(own_desk)).fronts
    page.get_by_role("button", name="Split").click()
    box = page.locator(".drawing").bounding_box()
    page.mouse.move(box["x"] + 0.3 * box["width"], box["y"] + 0.75 * box["height"])
    page.mouse.down()
    for step in range(8):
        page.mouse.move(box["x"] + (0.3 + 0.06 * step) * box["width"], box["y"] + 0.75 * box["height"])
    after_change(page, page.mouse.up)
    assert read_project(file_of(own_desk)).edits.splits
    while page.locator(".project-tools button:has-text('Undo')").is_enabled():
        after_change(page, lambda: page.locator(".project-tools button:has-text('Undo')").click())
    assert file_of(own_desk).read_bytes() == before


def move_cross(page, start, end):
    """Press arrow keys, with Shift for great steps, until the cross that stood at *start* stands near *end*."""
    box = page.locator(".drawing").bounding_box()
    for axis, (less, more) in enumerate((("ArrowLeft", "ArrowRight"), ("ArrowUp", "ArrowDown"))):
        side = max(box["width"], box["height"]) / (box["width"], box["height"])[axis]
        left = (end[axis] - start[axis]) / side
        key = more if left > 0 else less
        great, small = divmod(round(abs(left) / 0.004), 12.5)
        for press in [f"Shift+{key}"] * int(great) + [key] * int(small):
            page.keyboard.press(press)


def say_of(page, words):
    page.wait_for_selector(f".said:has-text('{words}')")


def test_strokes_are_drawn_from_the_keyboard(own_desk, visit, check_access):
    """Split, merge and close with a cross that the arrow keys move; Escape drops a stroke; all is told."""
    page = visit(own_desk, "/project?list=1")
    new_project(page)
    assert page.locator(".aim-cross").is_hidden()
    page.get_by_role("button", name="Split").press("Enter")
    assert "Enter begins and ends" in page.locator(".hint").inner_text()
    cross = page.locator(".aim-cross")
    cross.focus()
    check_access(page)

    # A stroke that is dropped changes nothing.
    page.keyboard.press("Enter")
    say_of(page, "The stroke begins")
    move_cross(page, (0.5, 0.5), (0.2, 0.75))
    assert page.locator(".marks .stroke").count() == 1
    page.keyboard.press("Escape")
    say_of(page, "The stroke is dropped")
    assert page.locator(".marks .stroke").count() == 0
    page.keyboard.press("ArrowLeft")
    say_of(page, "mm,")

    # From outside the tummy through it, with a bend within.
    page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    move_cross(page, (0.2, 0.75), TUMMY)
    page.keyboard.press("Space")
    say_of(page, "A bend")
    move_cross(page, TUMMY, (0.75, 0.75))
    after_change(page, lambda: page.keyboard.press("Enter"))
    (split,) = read_project(file_of(own_desk)).edits.splits
    assert len(split) == 3
    assert split[1] == pytest.approx(TUMMY, abs=0.03)
    assert cross.evaluate("(one) => one === document.activeElement")

    # The same way back: merge what was split, then close a gap with a short stroke.
    page.get_by_role("button", name="Merge").press("Enter")
    cross.focus()
    move_cross(page, (0.75, 0.75), (0.45, 0.72))
    page.keyboard.press("Enter")
    say_of(page, "in area")
    move_cross(page, (0.45, 0.72), (0.45, 0.79))
    after_change(page, lambda: page.keyboard.press("Enter"))
    assert len(read_project(file_of(own_desk)).edits.merges) == 1
    page.get_by_role("button", name="Close a gap").press("Enter")
    cross.focus()
    page.keyboard.press("Enter")
    for _ in range(6):
        page.keyboard.press("ArrowUp")
    after_change(page, lambda: page.keyboard.press("Enter"))
    assert len(read_project(file_of(own_desk)).edits.closures) == 1
    page.get_by_role("button", name="Choose", exact=True).press("Enter")
    assert cross.is_hidden()


def test_the_light_is_dragged_around(own_desk, visit):
    """While it is dragged the drawing follows; let go, the file holds it."""
    page = visit(own_desk, "/project?list=1")
    new_project(page)
    after_change(page, lambda: click_at(page, FACE))
    page.get_by_role("combobox", name="Base coat").fill("rosehip dawn")
    after_change(page, lambda: page.keyboard.press("Enter"))
    sun, box = page.locator(".sun").bounding_box(), page.locator(".drawing").bounding_box()
    page.mouse.move(sun["x"] + 24, sun["y"] + 24)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] + 20, box["y"] + 0.5 * box["height"], steps=6)
    page.wait_for_function("() => document.getElementById('place').dataset.lit", timeout=60_000)
    after_change(page, page.mouse.up)
    assert read_project(file_of(own_desk)).light == "3:00"


def test_a_scribble_is_told(own_desk, visit, tmp_path):
    """A picture without closed lines gets a sentence, and the list of projects stays."""
    from PIL import Image, ImageDraw

    image = Image.new("L", (400, 300), 255)
    ImageDraw.Draw(image).line((30, 30, 300, 250), fill=0, width=5)
    image.save(tmp_path / "scribble.png")
    page = visit(own_desk, "/project?list=1")
    page.set_input_files("input[type=file]", tmp_path / "scribble.png")
    page.wait_for_selector(".fault", timeout=60_000)
    assert "open" in page.locator(".fault").inner_text() or "line" in page.locator(".fault").inner_text()
    page.wait_for_selector(".project-list")


def add_thing(page, kind, name, colour):
    page.locator("button:has-text('Add')").first.click()
    page.select_option("dialog [name=kind]", kind)
    page.fill("dialog [name=name]", name)
    page.fill("dialog [name=colour]", colour)
    page.click("button:has-text('Put it in the drawer')")
    page.wait_for_selector("dialog", state="detached")


def test_the_whole_job_from_an_empty_drawer_to_a_printed_plan(tmp_path, visit, check_access):
    """Nobody needs the terminal: add a card and three markers, pair them, colour a drawing, print its plan."""
    with open_desk(tmp_path / "drawer.csv") as desk:
        page = visit(desk)
        page.wait_for_selector("text=This drawer is empty")
        for place in ("Pair", "Papers", "Project", "Scrap test"):
            page.click(f".tabs >> text={place}")
            page.wait_for_selector("text=Put the first markers in the drawer")
        check_access(page)
        page.click("text=Put the first markers in the drawer")
        page.wait_for_selector("text=This drawer is empty")
        page.locator("button:has-text('Add a marker')").click()
        page.fill("dialog [name=name]", "berry light")
        page.fill("dialog [name=colour]", "#d9758a")
        page.click("button:has-text('Put it in the drawer')")
        page.wait_for_selector(".tile")
        add_thing(page, "marker", "berry dark", "#a3435c")
        add_thing(page, "paper", "white card", "#f8f6f2")
        page.get_by_role("button", name="berry light", exact=True).click()
        page.click("text=Find its shadow and light")
        page.wait_for_selector(".companion:has-text('berry dark')")
        page.click(".tabs >> text=Scrap test")
        page.wait_for_selector(".chart-page")
        page.click(".tabs >> text=Project")
        page.wait_for_selector(".drop")
        new_project(page)
        after_change(page, lambda: click_at(page, FACE))
        page.get_by_role("combobox", name="Base coat").fill("berry light")
        after_change(page, lambda: page.keyboard.press("Enter"))
        page.wait_for_selector(".fit:has-text('berry dark')")
        page.get_by_role("button", name="Print", exact=True).click()
        page.locator("[data-form=plan]").click()
        link = page.locator(".made a")
        link.wait_for(timeout=60_000)
        sheet = page.context.request.get(desk.origin + link.get_attribute("href"))
        pages = pypdfium2.PdfDocument(io.BytesIO(sheet.body()))
        text = " ".join(one.get_textpage().get_text_range() for one in pages)
        assert "berry light" in text
        assert "berry dark" in text


def test_the_drawing_is_looked_at_closer_by_wheel_keys_and_buttons(own_desk, visit):
    """A place stays under the pointer; a drag moves the drawing and chooses nothing; 0 shows the whole again."""
    page = visit(own_desk, "/project?list=1")
    new_project(page)
    whole = page.locator(".drawing").bounding_box()
    at = (whole["x"] + 0.3 * whole["width"], whole["y"] + 0.4 * whole["height"])
    page.mouse.move(*at)
    page.mouse.wheel(0, -500)
    page.wait_for_function("() => Number(document.querySelector('.frame').dataset.zoom) > 2")
    box = page.locator(".drawing").bounding_box()
    assert (at[0] - box["x"]) / box["width"] == pytest.approx(0.3, abs=0.01)
    assert (at[1] - box["y"]) / box["height"] == pytest.approx(0.4, abs=0.01)
    page.mouse.down()
    page.mouse.move(at[0] - 60, at[1] - 40, steps=4)
    page.mouse.up()
    moved = page.locator(".drawing").bounding_box()
    assert moved["x"] - box["x"] == pytest.approx(-60, abs=8)
    assert page.locator(".part-chip").count() == 0
    page.locator(".sun").focus()
    page.keyboard.press("0")
    assert page.locator(".drawing").bounding_box()["width"] == pytest.approx(whole["width"], abs=1)
    page.keyboard.press("+")
    page.get_by_role("button", name="Show the whole drawing").click()
    assert page.locator(".drawing").bounding_box()["width"] == pytest.approx(whole["width"], abs=1)


def test_on_a_phone_a_chosen_part_stands_below_the_drawing_which_stays_in_sight(
    own_desk, visit, check_access
):
    """The drawing, the part's panel and the chosen chip are seen together."""
    page = visit(own_desk, "/project?list=1", (390, 844), touch=True)
    new_project(page)
    after_change(page, lambda: click_at(page, FACE))
    page.locator(".part-panel h2").wait_for()
    drawing, panel = page.locator(".drawing").bounding_box(), page.locator(".part-panel").bounding_box()
    assert drawing["y"] >= 0
    assert drawing["y"] + drawing["height"] <= panel["y"]
    assert panel["y"] + panel["height"] <= 844 + 1
    check_access(page)
