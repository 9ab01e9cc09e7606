"""What a hand does without meaning it, and hands without a pointer: nothing typed is lost, focus stays."""

import pytest
from simulate.desk import open_desk

from blendkit.palette import read_palette


def add(page, name, colour):
    page.click("button:has-text('Add')")
    page.fill("[name=name]", name)
    page.fill("[name=colour]", colour)
    page.click("button:has-text('Put it in the drawer')")
    page.locator(f".notice:has-text('{name}')").wait_for()


@pytest.fixture
def empty(tmp_path):
    """A desk on a drawer that has nothing in it yet."""
    with open_desk(tmp_path / "my-drawer.csv") as opened:
        yield opened


def test_a_click_beside_a_dialog_keeps_what_was_typed(desk, visit):
    """Only Cancel, the cross and Escape close it."""
    page = visit(desk)
    page.click("button:has-text('Add')")
    page.fill("[name=name]", "half a name")
    page.mouse.click(5, 5)
    page.mouse.move(700, 300)
    page.mouse.down()
    page.mouse.move(5, 5)
    page.mouse.up()
    assert page.locator("dialog [name=name]").input_value() == "half a name"


def test_undo_on_a_notice_takes_back_its_own_step_or_is_gone(empty, visit):
    """After a second thing is added the first notice offers no Undo any more; the second takes back the second."""
    page = visit(empty)
    page.click("button:has-text('Add a marker')")
    page.fill("[name=name]", "acorn one")
    page.fill("[name=colour]", "#b07a3c")
    page.click("button:has-text('Put it in the drawer')")
    page.locator(".notice:has-text('acorn one')").wait_for()
    add(page, "acorn two", "#7a4a20")
    assert page.locator(".notice:has-text('acorn one') .act").count() == 0
    page.locator(".notice:has-text('acorn two') .act").click()
    page.wait_for_function("() => !document.querySelector('[data-name=\"acorn two\"]')")
    assert [one.name for one in read_palette(empty.palette).markers] == ["acorn one"]


def test_a_notice_can_be_read_and_pressed_over_a_dialog(desk, visit):
    """It stands in the dialog while that is open, and outside when it is closed."""
    page = visit(desk)
    page.click("button:has-text('Earlier versions')")
    page.locator("dialog h2").wait_for()
    page.evaluate("() => import('/assets/js/notice.js').then((one) => one.notice('a word in between'))")
    close = page.locator("dialog .notice:has-text('a word in between') .close")
    close.click()
    page.keyboard.press("Escape")
    page.locator("body > #notices").wait_for(state="attached")
    assert page.locator("dialog").count() == 0


def test_ctrl_z_takes_the_last_step_back_and_with_shift_does_it_again(empty, visit):
    """Not while somebody types in a field, where it is the field's own."""
    page = visit(empty)
    page.click("button:has-text('Add a marker')")
    page.fill("[name=name]", "quill")
    page.fill("[name=colour]", "#5a4632")
    page.click("button:has-text('Put it in the drawer')")
    tile = page.locator("[data-name='quill']")
    tile.wait_for()
    page.keyboard.press("Control+z")
    tile.wait_for(state="detached")
    page.keyboard.press("Control+Shift+Z")
    # An empty drawer's welcome has taken the place of the trays meanwhile.
    tile.wait_for()
    page.locator("input[type=search]").focus()
    page.keyboard.press("Control+z")
    page.wait_for_timeout(300)
    assert tile.count() == 1


def test_the_swatches_are_one_tab_stop_with_arrow_keys_within(desk, visit):
    """One of all tiles is in the tab order; arrows go on, down goes to the next row."""
    page = visit(desk)
    page.wait_for_selector(".tile")
    stops = "() => document.querySelectorAll('.tile[tabindex=\"0\"]').length"
    assert page.evaluate(stops) == 1
    names = page.locator(".tile").evaluate_all("(all) => all.map((one) => one.dataset.name)")
    page.locator(".tile >> nth=0").focus()
    page.keyboard.press("ArrowRight")
    focused = "() => document.activeElement.dataset.name"
    assert page.evaluate(focused) == names[1]
    top = page.evaluate("() => document.activeElement.getBoundingClientRect().top")
    page.keyboard.press("ArrowDown")
    assert page.evaluate("() => document.activeElement.getBoundingClientRect().top") > top
    page.keyboard.press("End")
    assert page.evaluate(focused) == names[-1]
    assert page.evaluate(stops) == 1


def test_the_list_of_keys_opens_with_a_question_mark(desk, visit, check_access):
    """And names what the keys do."""
    page = visit(desk)
    page.keyboard.press("?")
    page.locator("dialog:has-text('take the last step back')").wait_for()
    check_access(page)


def test_a_file_that_became_unreadable_is_said_as_that(tmp_path, visit):
    """The desk is not closed then; when the file is mended the notice goes."""
    with open_desk(tmp_path / "my-drawer.csv") as desk:
        page = visit(desk)
        page.expected_complaints.append("422")
        desk.palette.write_text("name,kind,hex\nquill,marker,#zz\n", encoding="utf-8")
        page.evaluate("() => window.dispatchEvent(new Event('focus'))")
        bad = page.locator(".notice.bad")
        bad.wait_for()
        assert "closed" not in bad.inner_text()
        assert "#zz" in bad.inner_text()
        desk.palette.write_text("name,kind,hex\nquill,marker,#5a4632\n", encoding="utf-8")
        page.evaluate("() => window.dispatchEvent(new Event('focus'))")
        bad.wait_for(state="detached")


def test_forced_colours_leave_ink_its_colour(desk, chromium):
    """A swatch keeps its colour, and what is chosen a frame, where the system forces its own colours."""
    context = chromium.new_context(forced_colors="active")
    page = context.new_page()
    page.goto(desk.address)
    page.wait_for_url("**/drawer")
    page.wait_for_selector(".tile")
    looks = page.locator(".coat-1").evaluate_all(
        "(all) => new Set(all.map((one) => getComputedStyle(one).backgroundColor)).size"
    )
    assert looks > 50
    page.locator(".tile >> nth=2").click()
    chosen = page.locator('.tile[aria-pressed="true"]')
    assert chosen.evaluate("(one) => getComputedStyle(one).outlineStyle") == "solid"
    context.close()


def test_by_night_the_page_is_dark_and_swatches_lie_on_their_paper(desk, chromium, check_access):
    """The drawer, pair and papers at night: no accessibility fault, paper as light as by day."""
    context = chromium.new_context(color_scheme="dark")
    page = context.new_page()
    page.expected_complaints = []
    page.goto(desk.address)
    page.wait_for_url("**/drawer")
    page.wait_for_selector(".tile")
    ground = page.evaluate("() => getComputedStyle(document.querySelector('main')).backgroundColor")
    assert max(int(one) for one in ground[4:-1].split(",")) < 80
    paper = page.locator(".dab.marker >> nth=0").evaluate("(one) => getComputedStyle(one).backgroundColor")
    assert min(int(one) for one in paper[4:-1].split(",")) > 200
    check_access(page)
    for place in ("pair", "papers", "project", "scrap", "photo"):
        page.goto(desk.origin + "/" + place)
        page.wait_for_selector("body.ready")
        page.wait_for_timeout(500)
        check_access(page)
    context.close()


def test_the_base_coat_keeps_a_whole_name_and_refuses_half_a_one(desk, visit):
    """A whole name and a click away is kept; half a name and Enter takes the first suggestion."""
    page = visit(desk, "/pair")
    field = page.get_by_role("combobox", name="A marker, or any colour")
    field.fill("moss stone dawn")
    page.locator("h2 >> nth=0").click()
    page.wait_for_function("() => document.getElementById('place').dataset.shown === 'moss stone dawn'")
    field.fill("rosehip")
    first = page.locator(".finder-list li >> nth=0 >> span >> nth=1").inner_text()
    page.keyboard.press("Enter")
    page.wait_for_function("(name) => document.getElementById('place').dataset.shown === name", arg=first)


SYMBOLS = ("L*", "ΔE", "cones", "uddiness", "shade line", "45/0", "leave_white")


@pytest.mark.parametrize("place", ["drawer", "pair", "papers", "scrap", "photo"])
def test_no_symbol_stands_on_the_page_outside_its_fold(desk, visit, place):
    """What a person without colour science stumbles on is behind “why?” or nowhere."""
    page = visit(desk, f"/{place}")
    page.wait_for_timeout(800)
    shown = page.inner_text("body")
    assert not [one for one in SYMBOLS if one in shown]


def test_pair_shows_blend_sentence_and_order_before_the_fold(desk, visit):
    """At desk size the first step stands in the window; the plot is behind “why?”; no near miss beside fits."""
    page = visit(desk, "/pair?colour=rosehip+dawn")
    page.wait_for_selector(".steps li")
    bottom = page.locator(".steps li >> nth=0").bounding_box()
    assert bottom["y"] + bottom["height"] < page.viewport_size["height"]
    assert page.locator(".lead-blend .strip").is_visible()
    assert not page.locator(".plot").first.is_visible()
    page.click("summary:has-text('Why?')")
    assert page.locator(".plot").first.is_visible()
    shadows = page.locator("section[aria-label=Shadows] .companion")
    states = shadows.evaluate_all("(all) => all.map((one) => one.classList.contains('fits'))")
    assert any(states)
    assert all(states)


@pytest.mark.parametrize("place", ["drawer", "pair", "papers", "project", "scrap", "photo"])
def test_on_a_phone_every_tab_is_in_sight_and_nothing_scrolls_sideways(desk, visit, place):
    """Six tabs within the window, no label over another."""
    page = visit(desk, f"/{place}", (390, 844), touch=True)
    page.wait_for_timeout(600)
    tabs = page.locator(".tabs a").evaluate_all(
        "(all) => all.map((one) => one.getBoundingClientRect()).map((box) => [box.left, box.right])"
    )
    assert len(tabs) == 6
    assert all(left >= 0 and right <= 390 for left, right in tabs)
    assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
    over = page.evaluate(
        "() => [...document.querySelectorAll('.segments button')].filter((one) =>"
        " one.scrollWidth > one.clientWidth + 1).length"
    )
    assert over == 0


def test_the_light_speaks_its_place(desk, visit):
    """A slider with a value in words; arrow keys turn it."""
    page = visit(desk, "/project")
    words = "(degrees) => import('/assets/js/board.js').then((one) => one.lightWords(degrees))"
    assert page.evaluate(words, 45) == "upper right, half past one"
    assert page.evaluate(words, 0) == "top, twelve o’clock"
    assert page.evaluate(words, 322.5) == "upper left, quarter to eleven"


def test_a_second_marker_is_typed_without_opening_the_form_again(empty, visit):
    """“Then another” keeps the form, with empty name and colour and the cursor in the name."""
    page = visit(empty)
    page.click("button:has-text('Add a marker')")
    for name, colour in (("leaf one", "#7fa25a"), ("leaf two", "#4f7a3a")):
        page.fill("[name=name]", name)
        page.fill("[name=colour]", colour)
        page.fill("[name=family]", "leaf")
        page.click("button:has-text('then another')")
        page.wait_for_function("() => document.querySelector('dialog [name=name]').value === ''")
    assert page.evaluate("() => document.activeElement.name") == "name"
    assert page.locator("dialog [name=family]").input_value() == "leaf"
    assert [one.name for one in read_palette(empty.palette).markers] == ["leaf one", "leaf two"]


def test_markers_are_clicked_in_a_photo_of_a_swatch_card(empty, visit, tmp_path, check_access):
    """Each click is a row with the colour under it; the drawer gets them with the names that were typed."""
    from PIL import Image

    colours = [(196, 84, 61), (94, 140, 74), (70, 96, 150)]
    photo = Image.new("RGB", (600, 200), (245, 243, 238))
    for place, colour in enumerate(colours):
        photo.paste(colour, (40 + 190 * place, 40, 160 + 190 * place, 160))
    photo.save(tmp_path / "card.png")
    page = visit(empty)
    page.click("button:has-text('Open a swatch card')")
    page.set_input_files("dialog input[type=file]", tmp_path / "card.png")
    board = page.locator(".pick img")
    board.wait_for()
    for place in range(3):
        box = board.bounding_box()
        page.mouse.click(box["x"] + (100 + 190 * place) / 600 * box["width"], box["y"] + box["height"] / 2)
        page.locator(f".card-rows li >> nth={place}").wait_for()
        page.keyboard.type(f"swatch {place}")
    check_access(page)
    page.click("button:has-text('Put 3 markers in the drawer')")
    page.wait_for_function("() => !document.querySelector('dialog')")
    markers = read_palette(empty.palette).markers
    assert [one.name for one in markers] == ["swatch 0", "swatch 1", "swatch 2"]
    for marker, colour in zip(markers, colours, strict=True):
        typed = marker.readings[0][1].typed
        assert [int(typed[at : at + 2], 16) for at in (1, 3, 5)] == pytest.approx(colour, abs=2)


def test_a_project_is_taken_away_and_comes_back_by_its_notice(empty, visit):
    """Rename, copy and take away stand beside each project; Undo puts it back."""
    folder = empty.palette.parent / "projects" / "acorn"
    folder.mkdir(parents=True)
    (folder / "project.toml").write_text("not readable [", encoding="utf-8")
    empty.palette.write_text("name,kind,hex\nquill,marker,#5a4632\n", encoding="utf-8")
    page = visit(empty, "/project?list=1")
    page.get_by_role("button", name="Take away: acorn").click()
    page.locator(".project-list").wait_for(state="detached")
    page.locator(".notice .act").click()
    page.get_by_role("button", name="Take away: acorn").wait_for()
    assert (folder / "project.toml").read_text(encoding="utf-8") == "not readable ["


def test_another_device_is_asked_about_and_warned_of(desk, visit, check_access):
    """Nothing is opened before the person says so; the caution stands beside the button."""
    page = visit(desk)
    page.get_by_role("button", name="On another device").click()
    page.get_by_role("button", name="Open it to this network").wait_for()
    assert "isn't encrypted" in page.locator("dialog").inner_text()
    check_access(page)
