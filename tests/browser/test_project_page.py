"""The project place in a real browser: from a drawing to a printed plan, with everything in the project file."""

import io
import re
import shutil
from pathlib import Path

import pypdfium2
import pytest
from simulate.desk import open_desk
from simulate.window import DESKTOP, PHONE, TABLET

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


EXAMPLE = Path(__file__).resolve().parents[2] / "examples" / "hedgehog_lantern" / "project.toml"
BELLY, QUILLS = (0.46, 0.75), (0.43, 0.24)
"""Places of the example: the cream belly, and the quills over its brow."""


@pytest.fixture
def hedgehog(tmp_path):
    """A desk on the demo palette with the hedgehog coloured, and no overlap decided."""
    shutil.copy(demo_palette_path(), tmp_path / "my-drawer.csv")
    folder = tmp_path / "projects" / "hedgehog"
    folder.mkdir(parents=True)
    shutil.copy(EXAMPLE.parents[1] / "line_art" / "hedgehog_lantern.png", folder / "image.png")
    text = re.sub(r"fronts = \[.*?\n\]\n", "", EXAMPLE.read_text("utf-8"), flags=re.DOTALL)
    text = text.replace("../line_art/hedgehog_lantern.png", "image.png")
    text = text.replace("../../palettes/hedgehog-lane.csv", "../../my-drawer.csv")
    (folder / "project.toml").write_text(text, "utf-8")
    with open_desk(tmp_path / "my-drawer.csv") as opened:
        yield opened


def open_hedgehog(desk, visit, size=DESKTOP, touch=False):
    page = visit(desk, "/project?list=1", size, touch=touch)
    page.locator(".project-list a").click()
    page.wait_for_selector(".plan-check .verdict", timeout=60_000)
    return page


def tones_of(page):
    """How light the drawing is, place by place on a coarse grid."""
    page.expected_complaints.append("willReadFrequently")
    return page.evaluate(
        """() => {
            const canvas = document.querySelector('.drawing');
            const { data } = canvas.getContext('2d').getImageData(0, 0, canvas.width, canvas.height);
            const seen = [];
            for (let y = 8; y < canvas.height; y += 16)
                for (let x = 8; x < canvas.width; x += 16) {
                    const at = 4 * (y * canvas.width + x);
                    seen.push(data[at] + data[at + 1] + data[at + 2]);
                }
            return seen;
        }"""
    )


def darker(one, other):
    """In how many places the first is darker than the second."""
    return sum(a < b - 6 for a, b in zip(one, other, strict=True))


@pytest.mark.parametrize("size", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_the_stages_are_gone_through_by_keyboard(hedgehog, visit, check_access, size):
    """From the outline to the finished picture the drawing fills; words tell each stage; nothing is written."""
    before = file_of(hedgehog).read_bytes()
    page = open_hedgehog(hedgehog, visit, size, touch=size == PHONE)
    slider = page.get_by_role("slider", name="Stage")
    slider.focus()
    seen, words = [tones_of(page)], [slider.get_attribute("aria-valuetext")]
    for _ in range(4):
        page.keyboard.press("ArrowLeft")
        seen.insert(0, tones_of(page))
        words.insert(0, slider.get_attribute("aria-valuetext"))
    outline, base, shadow, blend, done = seen
    assert darker(base, outline) > 500
    assert darker(outline, base) == 0
    assert darker(shadow, base) > 100
    assert darker(base, shadow) == 0
    assert darker(blend, base) > darker(shadow, base)
    assert done != blend
    assert "stamp it" in words[0]
    assert "away from the light" in words[2]
    assert words[0] in page.locator(".stage-words").inner_text()
    check_access(page)
    assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
    assert file_of(hedgehog).read_bytes() == before


def test_each_layer_of_the_shade_is_seen_apart_and_the_strokes_too(hedgehog, visit):
    """Without a layer the drawing is nowhere darker; without any it is palest; all together it is as before."""
    page = open_hedgehog(hedgehog, visit)
    whole = tones_of(page)
    page.locator(".layers summary").click()

    def switch(name):
        shown = page.locator(".looking").get_attribute("data-shown")
        page.locator(f"[name={name}]").click()
        page.wait_for_function("(was) => document.querySelector('.looking').dataset.shown !== was", arg=shown)
        return tones_of(page)

    without = dict.fromkeys(("cast", "form", "contact"))
    for name in without:
        without[name] = switch(f"layer-{name}")
        assert darker(without[name], whole) == 0
        assert darker(whole, without[name]) > 0, name
        assert switch(f"layer-{name}") == whole
    assert without["cast"] != without["form"]
    strokes = switch("strokes")
    assert strokes != whole
    assert switch("strokes") == whole


def test_a_dab_is_set_by_a_tap_or_a_key_and_taken_back(hedgehog, visit, check_access):
    """A tap makes the belly darker there, the cross sets one too, and the notice's button takes it back."""
    page = open_hedgehog(hedgehog, visit, PHONE, touch=True)
    before, plain = file_of(hedgehog).read_bytes(), sum(colour_at(page, BELLY))
    page.get_by_role("button", name="Darker").click()
    page.locator(".drawing").scroll_into_view_if_needed()
    box = page.locator(".drawing").bounding_box()
    after_change(
        page,
        lambda: page.touchscreen.tap(box["x"] + BELLY[0] * box["width"], box["y"] + BELLY[1] * box["height"]),
    )
    assert sum(colour_at(page, BELLY)) < plain - 20
    belly = next(one for one in read_project(file_of(hedgehog)).parts if one.name == "muzzle and belly")
    assert len(belly.dark) == 1
    assert page.locator(".dab.dark").count() == 1
    check_access(page)
    after_change(page, lambda: page.locator(".notice .act:has-text('Undo')").click())
    assert file_of(hedgehog).read_bytes() == before
    page.get_by_role("button", name="Lighter").press("Enter")
    page.locator(".aim-cross").focus()
    after_change(page, lambda: page.keyboard.press("Enter"))
    assert sum(len(one.bright) for one in read_project(file_of(hedgehog)).parts) == 1
    assert page.locator(".dab.bright").count() == 1


def test_a_scribble_groups_areas(own_desk, visit):
    """Without a chosen part the areas under the scribble make a new one; with one they go into it."""
    page = visit(own_desk, "/project?list=1")
    new_project(page)
    before = file_of(own_desk).read_bytes()
    page.get_by_role("button", name="Group").click()

    def scribble(start, end):
        box = page.locator(".drawing").bounding_box()
        x, y = (lambda at: box["x"] + at * box["width"]), (lambda at: box["y"] + at * box["height"])
        page.mouse.move(x(start[0]), y(start[1]))
        page.mouse.down()
        page.mouse.move(x(end[0]), y(end[1]), steps=12)
        after_change(page, page.mouse.up)

    scribble(FACE, TUMMY)
    (part,) = read_project(file_of(own_desk)).parts
    assert len(part.at) > 2
    after_change(page, lambda: page.locator(".project-tools button:has-text('Undo')").click())
    assert file_of(own_desk).read_bytes() == before


def test_overlaps_are_asked_and_shown_on_the_drawing(hedgehog, visit, check_access):
    """Yes and no decide and can be taken back, skip goes on; while it is asked only the two are coloured."""
    page = open_hedgehog(hedgehog, visit)
    whole = tones_of(page)
    summary = page.locator(".overlaps summary")
    summary.focus()
    page.keyboard.press("Enter")
    page.wait_for_selector(".question:visible")
    assert tones_of(page) != whole
    check_access(page)

    def asked():
        return page.locator(".question strong").inner_text()

    first = asked()
    assert re.match(r"(Does|Do) the .+ lie over the .+\?", first)
    page.get_by_role("button", name="Skip").click()
    second = asked()
    assert second != first
    after_change(page, lambda: page.get_by_role("button", name="Yes").click())
    ((front, behind),) = read_project(file_of(hedgehog)).fronts
    assert second.split(" lie over the ")[0].endswith(front.replace(", ", " "))
    page.wait_for_function(
        "(was) => document.querySelector('.question strong').innerText !== was", arg=second
    )
    third = asked()
    assert third not in (first, second)
    after_change(page, lambda: page.get_by_role("button", name="No", exact=True).click())
    front, behind = read_project(file_of(hedgehog)).fronts[-1]
    assert third.split(" lie over the ")[0].endswith(behind.replace(", ", " "))
    after_change(page, lambda: page.locator(".project-tools button:has-text('Undo')").click())
    assert len(read_project(file_of(hedgehog)).fronts) == 1
    summary.click()
    assert tones_of(page) != whole  # one overlap is decided anew
    assert colour_at(page, QUILLS) != [240, 237, 231, 255]


def test_what_a_part_is_made_of_is_told_by_a_word(hedgehog, visit):
    """The list says what was guessed; another word changes the drawing and the file."""
    page = open_hedgehog(hedgehog, visit)
    page.locator(".part-chip:has-text('brow quills')").click()
    made = page.get_by_label("Made of")
    assert "a guess: fur" in made.inner_text()
    whole = tones_of(page)
    after_change(page, lambda: made.select_option("metal"))
    assert tones_of(page) != whole
    assert read_project(file_of(hedgehog)).part("brow quills").material == "metal"
