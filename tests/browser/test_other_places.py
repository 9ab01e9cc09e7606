"""Papers, photo and scrap test in a real browser, with real files."""

import io

import numpy as np
import pytest
from simulate.desk import coloured_scan, open_desk
from simulate.window import DESKTOP, TABLET

from blendkit.palette import demo_palette_path, read_palette, reading_from_lab, write_palette

SIZES = pytest.mark.parametrize("size", [DESKTOP, TABLET], ids=["desktop", "tablet"])


def wide_as_the_window(page):
    return page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")


@SIZES
def test_papers_are_shown_as_cards_under_a_lamp(desk, visit, check_access, size):
    """Mock cards with verdicts; the lamp changes their colours and says which matches part."""
    page = visit(desk, "/papers?colour=rosehip+dawn&colour=fern+dusk", size)
    page.wait_for_selector(".scheme")
    assert page.locator(".scheme").count() >= 4
    page.wait_for_selector(".match-list li")
    base = page.locator(".mock svg rect >> nth=1").get_attribute("fill")
    page.get_by_role("button", name="Warm lamp", exact=True).click()
    page.wait_for_selector(".cards[data-light=A]")
    assert page.locator(".mock svg rect >> nth=1").get_attribute("fill") != base
    page.locator(".match-lights summary >> nth=0").click()
    assert "lamp" in page.locator(".match-lights").first.inner_text()
    page.get_by_role("button", name="Without green").click()
    page.wait_for_selector(".cards[data-eyes=deutan]")
    assert wide_as_the_window(page)
    check_access(page)


def test_image_colours_are_added_and_left_out(desk, visit):
    """The schemes follow the colours of the image."""
    page = visit(desk, "/papers?colour=rosehip+dawn")
    page.wait_for_selector(".scheme")
    page.get_by_role("combobox", name="Add a colour of the image").fill("pear dawn")
    page.keyboard.press("Enter")
    page.wait_for_selector(".picked li >> nth=1")
    page.get_by_role("button", name="Leave rosehip dawn out").click()
    page.wait_for_function("() => document.querySelectorAll('.picked li').length === 1")
    page.wait_for_selector(".verdict-target:has-text('pear dawn')")


@SIZES
def test_the_colours_of_a_photo_are_found(desk, visit, check_access, tmp_path, size):
    """Drop a photo: its colours, the markers that make them, and a grey spot that takes its tint off."""
    from PIL import Image

    pixels = np.full((420, 600, 3), (196, 188, 170), np.uint8)
    pixels[60:260, 60:300] = (186, 70, 52)
    pixels[120:380, 340:560] = (60, 96, 120)
    Image.fromarray(pixels).save(tmp_path / "fabric.jpg", quality=92)
    page = visit(desk, "/photo", size)
    check_access(page)
    page.set_input_files("input[type=file]", tmp_path / "fabric.jpg")
    page.wait_for_selector(".found-colours > li >> nth=2", timeout=40_000)
    assert page.locator(".pin").count() == page.locator(".found-colours > li").count()
    assert "Not balanced" in page.locator(".photo-left").inner_text()
    assert wide_as_the_window(page)
    check_access(page)
    page.get_by_role("button", name="Click a grey spot").click()
    page.locator(".photo-frame img").click(position={"x": 12, "y": 12})
    page.wait_for_selector(".photo-left:has-text('Balanced on the grey spot')", timeout=40_000)


def test_long_work_can_be_stopped(desk, visit, tmp_path):
    """A huge photo is on its way; the stop button ends it, and the page goes on."""
    from PIL import Image

    rng = np.random.default_rng(5)
    small = Image.fromarray(rng.integers(0, 255, (90, 120, 3), dtype=np.uint8))
    small.resize((8000, 6000), Image.Resampling.BILINEAR).save(tmp_path / "huge.jpg", quality=80)
    page = visit(desk, "/photo")
    page.expected_complaints.append("422")
    page.set_input_files("input[type=file]", tmp_path / "huge.jpg")
    page.click(".work button:has-text('Stop')")
    page.wait_for_selector(".fault:has-text('Stopped')")
    page.goto(f"{desk.origin}/pair?colour=rosehip+dawn")
    page.wait_for_selector(".companion")


def test_what_is_no_picture_is_told(desk, visit, tmp_path):
    """A text that calls itself a photo gets a sentence with its name."""
    (tmp_path / "<b>notes<b>.jpg").write_text("not a picture at all")
    page = visit(desk, "/photo")
    page.set_input_files("input[type=file]", tmp_path / "<b>notes<b>.jpg")
    page.wait_for_selector(".fault")
    assert "notes" in page.locator(".fault").inner_text()
    assert page.locator(".fault b").count() == 0


@SIZES
def test_a_chart_is_printed_coloured_and_read_back(desk, visit, check_access, tmp_path, size):
    """Choose a family, open the PDF, colour it (a scan is made of it), read it, take one reading, take it back."""
    import pypdfium2
    from PIL import Image

    from blendkit.chart.description import read_chart_file

    page = visit(desk, "/scrap", size)
    page.wait_for_selector(".chart-page")
    page.get_by_role("button", name="A family").click()
    page.select_option("[name=family]", "rosehip")
    page.wait_for_function("() => document.querySelector('.chart-head p')?.textContent.startsWith('3 box')")
    check_access(page)
    address = page.locator("#print-chart").get_attribute("href")
    cookies = page.context.request
    printed = cookies.get(desk.origin + address)
    assert printed.headers["content-type"] == "application/pdf"
    with page.expect_download() as download:
        page.click("text=Its description file")
    download.value.save_as(tmp_path / "chart.chart.json")
    spec = read_chart_file(tmp_path / "chart.chart.json")

    image = (
        pypdfium2.PdfDocument(io.BytesIO(printed.body()))[0].render(scale=150 / 72).to_pil().convert("RGB")
    )
    pixels = np.round(np.array(image) * 0.955).astype(np.uint8)
    for box in spec.pages[0].boxes:
        if box.kind == "swatch":
            x0, y0, x1, y1 = (
                round(mm / 25.4 * 150)
                for mm in (box.x_mm, box.y_mm, box.x_mm + box.w_mm, box.y_mm + box.h_mm)
            )
            pixels[y0:y1, x0:x1] = (176, 64, 70)
    Image.fromarray(pixels).save(tmp_path / "scan.png")

    page.get_by_role("button", name="2 Read the coloured chart").click()
    page.set_input_files("input[type=file]", tmp_path / "scan.png")
    page.wait_for_selector(".readings tbody tr", timeout=60_000)
    assert page.locator(".readings tbody tr").count() == 3
    assert wide_as_the_window(page)
    check_access(page)
    page.get_by_role("button", name="None", exact=True).click()
    page.locator(".readings tbody tr >> nth=0 >> input").check()
    marker = page.locator(".readings tbody tr >> nth=0 >> strong").inner_text()
    before = read_palette(desk.palette).marker(marker).lab
    page.click("text=Take 1 reading into the drawer")
    page.wait_for_selector(".notice:has-text('1 reading is in the drawer')")
    assert not np.allclose(read_palette(desk.palette).marker(marker).lab, before)
    page.locator(".notice button:has-text('Undo')").click()
    for _ in range(100):
        if np.allclose(read_palette(desk.palette).marker(marker).lab, before):
            break
        page.wait_for_timeout(100)
    assert np.allclose(read_palette(desk.palette).marker(marker).lab, before)


@SIZES
def test_a_marker_that_the_drawer_lacks_is_added_by_its_tick(visit, check_access, tmp_path, size):
    """Swatch, name and words; ticked it comes in, undone it goes. A surer old reading says so."""
    from blendkit.chart.chart import make_chart
    from blendkit.chart.description import chart_file_text

    palette = read_palette(demo_palette_path())
    sure, lost = palette.markers[0], palette.markers[1]
    names = [marker.name for marker in palette.markers[:4]]
    chart = make_chart(palette, names=names, coats=2)
    labs = {marker.name: marker.lab for marker in palette.markers}
    (tmp_path / "scan.png").write_bytes(coloured_scan(chart, labs, palette.papers[0].lab))
    (tmp_path / "chart.chart.json").write_text(chart_file_text(chart.spec), "utf-8")
    smaller = palette.without(lost.name).with_reading(
        sure.name, 1, reading_from_lab(sure.lab, uncertainty=0.1)
    )
    write_palette(tmp_path / "my-drawer.csv", smaller)
    with open_desk(tmp_path / "my-drawer.csv") as desk:
        page = visit(desk, "/scrap?step=read", size)
        page.set_input_files("input[type=file]", [tmp_path / "scan.png", tmp_path / "chart.chart.json"])
        page.wait_for_selector(".newcomer", timeout=60_000)
        assert (
            page.locator(".newcomers h3").inner_text() == "1 marker on the chart that the drawer doesn't have"
        )
        newcomer = page.locator(".newcomer")
        assert lost.name in newcomer.inner_text()
        assert newcomer.locator(".dab .coat").count() == 2
        first = page.locator(".readings tbody tr >> nth=0")
        assert "keep the old" in first.inner_text()
        assert not first.locator("input").is_checked()
        first.locator("input").check()
        assert "1 chosen reading would replace" in page.locator(".scan-grid [role=status]").inner_text()
        check_access(page)
        assert wide_as_the_window(page)
        page.get_by_role("button", name="None", exact=True).click()
        page.get_by_role("checkbox", name=lost.name).check()
        page.click("text=Take 1 new marker into the drawer")
        page.wait_for_selector(".notice:has-text('1 new marker is in the drawer')")
        assert [coats for coats, _ in read_palette(desk.palette).marker(lost.name).readings] == [1, 2]
        page.locator(".notice button:has-text('Undo')").click()
        page.wait_for_function("async () => (await (await fetch('/api/state')).json()).redo !== ''")
        assert lost.name not in read_palette(desk.palette).names


def test_safety_stands_where_printing_happens(desk, visit):
    """Beside the chart: scale, fresh air, flame, children, food; and at the foot of every place."""
    page = visit(desk, "/scrap")
    words = page.locator(".caution-box").inner_text()
    for word in ("100 %", "fresh air", "flammable", "children", "food", "dry"):
        assert word in words
    assert "safety sheet" in page.locator("footer").inner_text()


@pytest.mark.parametrize("place", ["drawer", "pair", "papers", "scrap", "photo", "project?list=1"])
def test_targets_are_large_enough_for_fingers(desk, visit, place):
    """Buttons and fields are 44 px high or more; links are at least 24 (WCAG 2.2, success criterion 2.5.8)."""
    page = visit(desk, f"/{place}", TABLET, touch=True)
    page.wait_for_load_state("networkidle")
    small = page.evaluate(
        """() => [...document.querySelectorAll("button, select, input, a[href]")].filter((one) => {
            const box = one.getBoundingClientRect();
            if (!box.width || one.closest(".unseen") || one.matches(".unseen, .skip")) return false;
            const least = one.matches("a:not(.button):not(.tabs a)") ? 24 : 43.9;
            const target = one.matches("[type=checkbox]") ? one.closest("label").getBoundingClientRect() : box;
            return target.height < least;
        }).map((one) => `${one.className} ${one.textContent} ${one.getBoundingClientRect().height}`)"""
    )
    assert not small, small
