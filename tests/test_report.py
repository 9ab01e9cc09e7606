"""Picture reports of every answer."""

import io
import re

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from blendkit.advice.doubles import find_doubles
from blendkit.advice.gaps import find_gaps
from blendkit.advice.kit import Target, find_kit
from blendkit.advice.order import find_order, predict_layers
from blendkit.advice.pairs import find_pair
from blendkit.advice.papers import find_matches
from blendkit.advice.schemes import find_schemes
from blendkit.advice.skin import find_skin
from blendkit.errors import PaletteError, SheetError
from blendkit.page.page import PAGE_SIZES_MM
from blendkit.palette import read_palette
from blendkit.report.report import draw_report, png_report, write_report

WARNING = "#9a3b26"
"""Colour of cautions in the templates."""

ANSWERS = {
    "pair": lambda demo: find_pair(demo, "moss stone noon"),
    "order": lambda demo: find_order(demo, "moss stone dawn"),
    "layer": lambda demo: predict_layers(demo, ["moss stone dawn"] * 3),
    "match": lambda demo: find_matches(demo, "moss stone noon"),
    "papers": lambda demo: find_schemes(demo, ["moss stone noon", "rosehip dawn"]),
    "gaps": find_gaps,
    "doubles": lambda demo: find_doubles(demo, threshold=3.0),
    "kit": lambda demo: find_kit(demo, [Target("moss stone noon"), Target("#e8b48a")]),
    "skin": find_skin,
}


def pixels(record):
    with Image.open(io.BytesIO(png_report(record))) as picture:
        return np.asarray(picture.convert("RGB")).astype(int)


def texts_of(pdf):
    """Every piece of text of every page: its words, size in points and box."""
    with pypdfium2.PdfDocument(pdf) as document:
        found = []
        for page in document:
            width, height = page.get_size()
            words = page.get_textpage()
            for piece in page.get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_TEXT]):
                left, bottom, right, top = piece.get_bounds()
                found.append((piece.get_font_size(), left, bottom, width - right, height - top))
            yield words.get_text_range(), found
            found = []


@pytest.mark.parametrize("name", ANSWERS)
@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_a_report_comes_on_pages_of_that_size_with_words_to_read_and_cautions_on_each(name, page, demo):
    """Nothing is smaller than 8 pt, or nearer to the edge than printers print (6 mm)."""
    (pdf,) = draw_report(ANSWERS[name](demo), "pdf", page)
    with pypdfium2.PdfDocument(pdf) as document:
        for one in document:
            assert one.get_size() == pytest.approx([v / 25.4 * 72 for v in PAGE_SIZES_MM[page]], abs=0.1)
    for words, pieces in texts_of(pdf):
        assert "safety sheet" in " ".join(words.split())
        assert pieces
        for size, *margins in pieces:
            assert size >= 7.99
            assert min(margins) > 6 / 25.4 * 72


def test_the_same_answer_gives_the_same_bytes(demo):
    record = find_pair(demo, "moss stone noon")
    for form in ("pdf", "png", "svg"):
        assert draw_report(record, form) == draw_report(record, form)


LONG = "A shelf label copied whole with the weight of the card and the name of the shop 赤い"


@pytest.mark.parametrize("name", ["pair", "order", "layer", "match", "papers", "gaps", "kit"])
def test_long_names_of_any_script_stay_on_the_page(name, tmp_path):
    file = tmp_path / "long.csv"
    file.write_text(
        f"name,kind,L,a,b,on\n1 {LONG},paper,95,0,-2,\n2 {LONG},paper,35,-25,10,\n3 {LONG},ribbon,70,10,55,\n"
        f"5 {LONG},ink,10,0,0,\n6 {LONG},marker,70,25,12,1 {LONG}\n7 {LONG},marker,55,24,12,1 {LONG}\n",
        encoding="utf-8",
    )
    palette = read_palette(file)
    base = f"6 {LONG}"
    record = {
        "pair": lambda: find_pair(palette, base),
        "order": lambda: find_order(palette, base),
        "layer": lambda: predict_layers(palette, [base, f"7 {LONG}"] * 6),
        "match": lambda: find_matches(palette, base),
        "papers": lambda: find_schemes(palette, [base]),
        "gaps": lambda: find_gaps(palette),
        "kit": lambda: find_kit(palette, [Target("#ff0000"), Target(base)]),
    }[name]()
    shown = pixels(record)
    for edge in (shown[:6], shown[-6:], shown[:, :6], shown[:, -6:]):
        assert edge.min() >= 253


def test_a_report_of_a_stack_and_of_companions_shows_its_cautions(tmp_path):
    """Cautions are the only words in their colour."""
    file = tmp_path / "careful.csv"
    file.write_text(
        "name,kind,L,a,b,on,finish,coat_limit\nthin card,paper,95,0,-2,,,1\n"
        "pale,marker,75,20,10,thin card,,\nspark,marker,60,22,11,thin card,glitter,\n"
    )
    palette = read_palette(file)
    warning = [int(WARNING[place : place + 2], 16) for place in (1, 3, 5)]
    for record in (predict_layers(palette, ["pale", "pale"]), find_pair(palette, "pale")):
        assert np.any(np.all(pixels(record) == warning, axis=-1))
    fine = predict_layers(palette, ["pale"])
    assert not np.any(np.all(pixels(fine) == warning, axis=-1))


def test_the_base_is_drawn_in_the_colour_of_the_record(demo):
    record = find_pair(demo, "moss stone noon")
    shown = pixels(record)
    colour = [int(record.base.hex[place : place + 2], 16) for place in (1, 3, 5)]
    assert np.all(shown == colour, axis=-1).mean() > 0.01


def test_html_is_safe_from_names_that_look_like_markup(demo, tmp_path):
    record = find_pair(demo, "moss stone noon")
    evil = type(record)(
        **{**{f: getattr(record, f) for f in record.__slots__}, "words": ("<script>x</script>",)}
    )
    write_report(evil, tmp_path / "r.html")
    text = (tmp_path / "r.html").read_text(encoding="utf-8")
    assert "<script" not in text
    assert re.search(r"&lt;script", text)


def test_another_ending_and_an_unwritable_place_are_refused(demo, tmp_path):
    record = find_order(demo, "moss stone dawn")
    with pytest.raises(SheetError, match="accepted"):
        write_report(record, tmp_path / "r.docx")
    with pytest.raises(PaletteError, match="can't be written"):
        write_report(record, tmp_path / "no" / "such" / "folder" / "r.png")


def test_a_record_without_a_picture_is_a_fault_of_the_caller():
    with pytest.raises(TypeError, match="no picture"):
        draw_report(object(), "png")
