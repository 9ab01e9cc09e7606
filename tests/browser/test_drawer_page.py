"""The drawer and pair places in a real browser."""

import pytest
from simulate.desk import open_desk
from simulate.window import DESKTOP, PHONE, TABLET

from blendkit.palette import read_palette, reading_from_hex, update_palette

SIZES = pytest.mark.parametrize("size", [DESKTOP, TABLET, PHONE], ids=["desktop", "tablet", "phone"])


def wide_as_the_window(page):
    return page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")


@SIZES
def test_the_drawer_shows_every_marker(desk, visit, check_access, size):
    """At every size each marker is a labelled button, nothing is cut off, and no accessibility fault is found."""
    page = visit(desk, "/drawer", size)
    page.wait_for_selector(".tile")
    assert page.locator(".tile").count() == len(read_palette(desk.palette).markers)
    assert page.get_by_role("button", name="rosehip dawn", exact=True).is_visible()
    assert wide_as_the_window(page)
    check_access(page)


def test_search_finds_as_you_type_and_trays_change(desk, visit):
    """Typing narrows the drawer; families and what is missing have trays of their own."""
    page = visit(desk)
    page.fill("input[type=search]", "rosehip")
    page.wait_for_function("() => document.querySelectorAll('.tile').length < 10")
    assert all("rosehip" in name for name in page.locator(".tile-name").all_text_contents())
    page.fill("input[type=search]", "")
    page.click("text=Family")
    page.wait_for_selector("h2:has-text('rosehip')")
    page.click("text=What is missing")
    page.wait_for_selector("h2:has-text('To look for')")
    page.click("button:has-text('Papers')")
    page.wait_for_selector(".dab.paper")


def test_a_marker_is_added_shown_changed_and_taken_back(desk, visit, check_access):
    """From the form to the file, with a notice that takes it back."""
    page = visit(desk)
    page.click("button:has-text('Add')")
    check_access(page)
    page.fill("[name=name]", "<b>berry</b> jam & co")
    page.fill("[name=colour]", "#8a2d4a")
    page.click("button:has-text('Put it in the drawer')")
    tile = page.get_by_role("button", name="<b>berry</b> jam & co", exact=True)
    tile.wait_for()
    assert read_palette(desk.palette).marker("<b>berry</b> jam & co")
    tile.click()
    panel = page.locator(".thing")
    panel.get_by_role("heading", name="<b>berry</b> jam & co").wait_for()
    check_access(page)
    panel.locator("summary:has-text('Change name')").click()
    panel.locator("[name=note]").fill("<script>alert(1)</script>")
    panel.locator("button:has-text('Keep these words')").click()
    panel.locator(".thing-note").wait_for()
    assert read_palette(desk.palette).marker("<b>berry</b> jam & co").note == "<script>alert(1)</script>"
    panel.locator("text=Take it out").click()
    page.wait_for_function(
        "() => ![...document.querySelectorAll('.tile-name')].some((one) => one.textContent.includes('berry'))"
    )
    for _ in range(3):
        before = desk.palette.read_bytes()
        page.locator(".acts button:has-text('Undo')").click()
        for _ in range(100):
            if desk.palette.read_bytes() != before:
                break
            page.wait_for_timeout(100)
    assert "<b>berry</b> jam & co" not in read_palette(desk.palette).names


def test_a_wrong_colour_is_told_in_the_form(desk, visit):
    """The dialog stays, with the fault in words."""
    page = visit(desk)
    page.expected_complaints.append("422")
    page.click("button:has-text('Add')")
    page.fill("[name=name]", "x")
    page.fill("[name=colour]", "no colour")
    page.click("button:has-text('Put it in the drawer')")
    assert "not a colour" in page.locator("dialog .fault").inner_text()


def test_two_tabs_and_a_program_lose_nothing(desk, visit):
    """What one tab or the command line writes, the other shows within seconds; an outdated change is told."""
    first, second = visit(desk), visit(desk)
    second.expected_complaints.append("409")
    for page in (first, second):
        page.get_by_role("button", name="red kite", exact=True).click()
        page.locator(".thing summary:has-text('Change name')").click()
    first.locator(".thing [name=note]").fill("from the first tab")
    first.click("button:has-text('Keep these words')")
    first.locator(".thing-note").wait_for()
    # Before the second tab has looked, it changes what it saw.
    second.evaluate(
        """async () => {
            const body = JSON.stringify({name: 'red kite', was: 'as seen before', note: 'second'});
            const headers = {'content-type': 'application/json'};
            window.seen = (await fetch('/api/items/change', {method: 'POST', headers, body})).status;
        }"""
    )
    assert second.evaluate("() => window.seen") == 409
    update_palette(
        desk.palette, lambda palette: palette.with_marker("from the shell", reading_from_hex("#335577"))
    )
    for page in (first, second):
        page.get_by_role("button", name="from the shell", exact=True).wait_for()
    palette = read_palette(desk.palette)
    assert palette.marker("red kite").note == "from the first tab"
    update_palette(desk.palette, lambda palette: palette.without("from the shell"))


def test_an_empty_drawer_welcomes(tmp_path, visit, check_access):
    """Nothing is there yet: four ways to begin, and the demo in one click, taken back in another."""
    with open_desk(tmp_path / "new" / "drawer.csv") as desk:
        page = visit(desk)
        page.wait_for_selector("text=This drawer is empty")
        check_access(page)
        page.click("text=Fill it with the demo")
        page.wait_for_selector(".tile")
        page.locator(".acts button:has-text('Undo')").click()
        page.wait_for_selector("text=This drawer is empty")
        page.click("button:has-text('Add a marker')")
        page.fill("[name=name]", "my first")
        page.fill("[name=colour]", "#c8553d")
        page.click("button:has-text('Put it in the drawer')")
        page.get_by_role("button", name="my first", exact=True).wait_for()
        page.click(".tabs >> text=Pair")
        page.wait_for_selector(".hero-ink:has-text('my first')")


# ---------------------------------------------------------------- pair


@SIZES
def test_a_pair_is_found(desk, visit, check_access, size):
    """Companions with blend strips, reasons, order and plot; no fault at any size."""
    page = visit(desk, "/pair?colour=rosehip+dawn", size)
    page.wait_for_selector(".steps li")
    assert page.locator(".companion").count() >= 5
    assert page.locator(".companion .strip").count() == page.locator(".companion").count()
    assert "step" in page.locator(".companion .why").first.inner_text()
    assert wide_as_the_window(page)
    check_access(page)


def test_the_companions_are_in_view_at_860_px(desk, visit):
    """Without scrolling, the blend, the order, the best shadow and the best light are seen whole."""
    page = visit(desk, "/pair?colour=rosehip+dawn", DESKTOP)
    page.wait_for_selector(".steps li")
    for locator in (
        ".lead-blend .strip",
        ".steps li >> nth=2",
        ".companions >> nth=0 >> .companion >> nth=0",
        ".companions >> nth=1 >> .companion >> nth=0",
    ):
        box = page.locator(locator).bounding_box()
        assert box["y"] + box["height"] <= 860, locator


def test_another_colour_companion_and_order_are_chosen_by_keyboard(desk, visit):
    """Type a name, take it with the arrow keys and Enter, walk to a companion, press it: its order follows."""
    page = visit(desk, "/pair")
    field = page.get_by_role("combobox", name="A marker, or any colour")
    field.fill("pear da")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    page.wait_for_selector(".hero-ink:has-text('pear dawn')")
    second = page.locator(".companions >> nth=0 >> .companion >> nth=1")
    name = second.locator("strong").inner_text()
    second.focus()
    page.keyboard.press("Enter")
    page.wait_for_selector(f".lead-blend strong:has-text('{name}')")
    assert page.locator(".companion[aria-pressed=true] strong").inner_text() == name
    page.click("button:has-text('Dark first')")
    page.wait_for_selector(".order-words:has-text('Dark first')")


def test_a_typed_colour_a_lean_and_a_paper_change_the_answer(desk, visit):
    """Any colour; a cooler shadow; another paper."""
    page = visit(desk, "/pair?colour=%23c8553d")
    page.wait_for_selector(".hero-ink:has-text('#c8553d')")
    before = page.locator(".companion strong").all_text_contents()
    page.click("summary:has-text('How the shadow should be')")
    page.click("button:has-text('Cooler')")
    page.wait_for_function(
        "(before) => [...document.querySelectorAll('.companion strong')].map((one) => one.textContent)"
        ".join() !== before",
        arg=",".join(before),
    )
    page.select_option("#on-paper", "Kraft parcel")
    page.wait_for_selector(".order-head:has-text('Kraft parcel')")


def test_an_unknown_name_is_told_with_the_nearest(desk, visit):
    """A misspelt name gets names that are there."""
    page = visit(desk, "/pair?colour=rosehp+dwn")
    page.expected_complaints.append("422")
    assert "rosehip dawn" in page.locator(".fault").inner_text()


def test_a_colour_is_picked_from_a_photo(desk, visit, tmp_path):
    """A click in a photo becomes the colour that is asked about."""
    from PIL import Image

    Image.new("RGB", (400, 300), (200, 85, 61)).save(tmp_path / "lantern.png")
    page = visit(desk, "/pair")
    page.click("text=Pick it from a photo")
    page.set_input_files("dialog input[type=file]", tmp_path / "lantern.png")
    page.wait_for_selector(".pick img")
    page.locator(".pick").click(position={"x": 60, "y": 60})
    page.wait_for_selector(".pick-foot:has-text('#c8553d')")
    page.click("text=Use this colour")
    page.wait_for_selector(".hero-ink:has-text('#c8553d')")
