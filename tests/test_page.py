"""Sheets are reopened with PDFium, which shares nothing with what drew them, rendered and measured."""

import ctypes
import io
import re
import xml.etree.ElementTree as ET
import zlib

import numpy as np
import pypdfium2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image as Picture

from blendkit.errors import SheetError
from blendkit.page.page import (
    PAGE_SIZES_MM,
    Circle,
    Document,
    Gradient,
    Image,
    Line,
    Page,
    Path2D,
    Rect,
    Text,
    draw_pdf,
    draw_png,
    draw_svg,
    find_unshown,
    ruler,
    write_sheet,
)
from blendkit.page.typeface import find_typeface, spell

DPI = 600
PX = DPI / 25.4
HEDGEHOG = "Hedgehog Brown"


def one(*shapes, size=(100.0, 60.0)):
    return Document("A test", (Page(*size, tuple(shapes)),))


def render(sheet, dpi=DPI, page=0):
    """Grey levels of a page of the sheet's PDF, by PDFium."""
    with pypdfium2.PdfDocument(draw_pdf(sheet)) as pdf:
        return np.squeeze(pdf[page].render(scale=dpi / 72, grayscale=True).to_numpy()).copy()


def render_rgb(sheet, dpi=300):
    with pypdfium2.PdfDocument(draw_pdf(sheet)) as pdf:
        return pdf[0].render(scale=dpi / 72, rev_byteorder=True).to_numpy()[..., :3].copy()


def line_places_mm(profile, dpi=DPI):
    """Middles of the dark lines across a row or column of grey levels, weighted by darkness."""
    dark = 255.0 - profile
    inked = np.flatnonzero(dark > 20)
    groups = np.split(inked, np.flatnonzero(np.diff(inked) > 1) + 1)
    return [
        float(np.average(group + 0.5, weights=dark[group])) * 25.4 / dpi for group in groups if len(group)
    ]


@pytest.mark.parametrize("name", ["A4", "Letter", "A5"])
@pytest.mark.parametrize("turned", [False, True])
def test_a_page_is_as_large_as_its_paper_to_a_tenth_of_a_millimetre(name, turned):
    """ISO 216 gives A4 as 210 by 297 mm; US Letter is 8.5 by 11 inches."""
    size = PAGE_SIZES_MM[name][:: -1 if turned else 1]
    with pypdfium2.PdfDocument(draw_pdf(one(size=size))) as pdf:
        assert np.array(pdf[0].get_size()) * 25.4 / 72 == pytest.approx(size, abs=0.1)
    assert PAGE_SIZES_MM["A4"] == (210, 297)
    assert PAGE_SIZES_MM["Letter"] == pytest.approx((8.5 * 25.4, 11 * 25.4))


def test_a_box_stands_where_it_was_put_to_a_tenth_of_a_millimetre():
    grey = render(one(Rect(20.3, 10.7, 31.9, 24.45, stroke="#000000", stroke_mm=0.1)))
    assert line_places_mm(grey[int(20 * PX)]) == pytest.approx([20.3, 52.2], abs=0.03)
    assert line_places_mm(grey[:, int(30 * PX)]) == pytest.approx([10.7, 35.15], abs=0.03)


def test_the_ruler_is_100_mm_and_4_inches_long():
    x, y = 15.0, 30.0
    grey = render(one(*ruler(x, y), size=(140.0, 60.0)))
    millimetres = line_places_mm(grey[int((y - 0.7) * PX)])
    inches = line_places_mm(grey[int((y + 0.7) * PX)])
    assert len(millimetres) == 101
    assert len(inches) == 33
    assert np.array(millimetres) - millimetres[0] == pytest.approx(np.arange(101.0), abs=0.05)
    assert np.array(inches) - inches[0] == pytest.approx(np.arange(33) * 25.4 / 8, abs=0.05)
    assert millimetres[0] == pytest.approx(x, abs=0.05)


def test_png_and_svg_keep_the_scale_of_the_pdf():
    sheet = one(Rect(20, 10, 50, 30, stroke="#000000", stroke_mm=0.2))
    picture = Picture.open(io.BytesIO(draw_png(sheet, dpi=300)[0]))
    assert picture.size == pytest.approx((100 * 300 / 25.4, 60 * 300 / 25.4), abs=1)
    assert line_places_mm(np.array(picture.convert("L"))[int(20 * 300 / 25.4)], 300) == pytest.approx(
        [20, 70], abs=0.1
    )
    root = ET.fromstring(draw_svg(sheet)[0])
    assert float(root.get("width").removesuffix("pt")) * 25.4 / 72 == pytest.approx(100, abs=0.01)
    assert root.get("viewBox").split()[2:] == [
        root.get(side).removesuffix("pt") for side in ("width", "height")
    ]
    numbers = [
        float(value)
        for value in re.findall(rb"-?[\d.]+", re.findall(rb' d="([^"]+)"', draw_svg(sheet)[0])[-1])
    ]
    assert max(numbers) * 25.4 / 72 == pytest.approx(50, abs=0.01)


def test_the_same_sheet_gives_the_same_bytes_with_no_date_in_them():
    sheet = one(Rect(1, 2, 3, 4), Text(10, 10, HEDGEHOG), *ruler(2, 30, "#123456"), size=(120.0, 60.0))
    for draw in (draw_pdf, draw_svg, draw_png):
        assert draw(sheet) == draw(sheet)
    pdf = draw_pdf(sheet)
    assert b"CreationDate" not in pdf
    assert b"ModDate" not in pdf


def test_every_font_is_embedded():
    names = [HEDGEHOG, "مصباح", "фонарь"]
    with pypdfium2.PdfDocument(draw_pdf(one(*(Text(10, 10 + 8 * i, t) for i, t in enumerate(names))))) as pdf:
        page = pdf[0]
        fonts = [text.get_font() for text in page.get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_TEXT])]
        assert len({font.get_base_name() for font in fonts}) >= 2
        for font in fonts:
            assert pypdfium2.raw.FPDFFont_GetIsEmbedded(font.raw) == 1
            size = ctypes.c_size_t()
            assert pypdfium2.raw.FPDFFont_GetFontData(font.raw, None, 0, size)
            assert size.value > 500


@pytest.mark.parametrize(
    "text", ["Häuschen & Über", "φανάρι", "фонарь", "Đèn lồng", "1 → 2 “so”", "ლამპარი", "լապտեր"]
)
def test_words_of_many_scripts_come_out_as_they_went_in(text):
    sheet = one(Text(5, 20, text))
    assert find_unshown(sheet) == ()
    with pypdfium2.PdfDocument(draw_pdf(sheet)) as pdf:
        assert pdf[0].get_textpage().get_text_range() == text


def test_arabic_is_joined_and_shown():
    sheet = one(Text(5, 20, "مصباح الحصاد"))
    assert find_unshown(sheet) == ()
    assert (render(sheet, 150) < 128).sum() > 200


def test_letters_that_no_font_has_are_spelled_not_boxed():
    text = "Lamp \ue000\ue001 red"
    sheet = one(Text(5, 20, text), Text(5, 30, HEDGEHOG))
    assert find_unshown(sheet) == (text,)
    with pypdfium2.PdfDocument(draw_pdf(sheet)) as pdf:
        assert "Lamp [U+E000 E001] red" in pdf[0].get_textpage().get_text_range()


@pytest.mark.parametrize("text", ["灯籠", "등불", "लालटेन", "🦔"])
def test_words_of_other_scripts_are_shown_or_said_to_be_unshown(text):
    """Whether a font is there depends on the computer; an empty box is printed on none."""
    unshown = find_typeface([text]).unshown
    shown = spell(text, unshown)
    assert (shown == text) == (not unshown)
    with pypdfium2.PdfDocument(draw_pdf(one(Text(5, 20, text)))) as pdf:
        page = pdf[0].get_textpage().get_text_range()
    assert page == shown


def test_plain_words_need_only_the_fonts_in_the_package():
    typeface = find_typeface(["Hedgehog … “ė” 12 %", "Ελλάδα", "Ёж"])
    assert [file.name for file in typeface.files] == ["SheetSans-Bold.ttf", "SheetSans-Regular.ttf"]


WORDS = st.lists(
    st.text(st.characters(min_codepoint=33, max_codepoint=0x24F), min_size=1, max_size=18), max_size=6
)


@settings(max_examples=30, deadline=None)
@given(
    st.lists(
        st.tuples(WORDS, st.sampled_from(["left", "centre", "right"]), st.integers(1, 3)),
        min_size=12,
        max_size=12,
    )
)
def test_words_never_run_past_their_width(cells):
    shapes = []
    for place, (words, align, lines) in enumerate(cells):
        column, row = place % 3, place // 3
        x = 10 + column * 32 + {"left": 0, "centre": 11, "right": 22}[align]
        shapes.append(Text(x, 10 + row * 24, " ".join(words), 9, "#000000", 22, lines, align=align))
    grey = render(one(*shapes, size=(110.0, 110.0)), 200)
    px = 200 / 25.4
    # One letter's slant or accent may stand out of its own advance by a hair: half a millimetre is let pass.
    for column in range(4):
        gutter = grey[:, int((column * 32 + 0.5) * px) : int((column * 32 + 9.4) * px)]
        assert gutter.min() > 200


def test_long_words_are_set_smaller_then_cut_with_an_ellipsis():
    def shown(text, **options):
        with pypdfium2.PdfDocument(draw_pdf(one(Text(5, 20, text, 9, **options)))) as pdf:
            page = pdf[0].get_textpage().get_text_range().replace("\r\n", " ").replace("\n", " ")
            size = next(iter(pdf[0].get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_TEXT]))).get_font_size()
            return page, size

    assert shown(HEDGEHOG, width_mm=40)[0] == HEDGEHOG
    whole, size = shown(HEDGEHOG, width_mm=22)
    assert whole == HEDGEHOG
    assert 6.3 <= size < 9
    cut, size = shown(HEDGEHOG, width_mm=12)
    assert cut.endswith("…")
    assert HEDGEHOG.startswith(cut[:-1])
    assert size == pytest.approx(6.3)
    assert shown(HEDGEHOG * 3)[0] == HEDGEHOG * 3


def test_words_hang_from_the_line_that_they_are_told_to():
    def rows_mm(hang):
        grey = render(one(Text(10, 30, "HH HH", 9, "#000000", 9, 2, hang=hang)), 300)
        rows = np.flatnonzero((grey < 128).any(axis=1)) * 25.4 / 300
        return rows.min(), rows.max()

    pitch = 9 * 1.25 * 25.4 / 72
    first, middle, last = rows_mm("first"), rows_mm("middle"), rows_mm("last")
    assert first[1] == pytest.approx(30 + pitch, abs=0.15)
    assert middle[1] == pytest.approx(30 + pitch / 2, abs=0.15)
    assert last[1] == pytest.approx(30, abs=0.15)


def test_an_outline_within_an_outline_is_a_hole():
    square = ((10.0, 10.0), (40.0, 10.0), (40.0, 40.0), (10.0, 40.0))
    hole = ((20.0, 20.0), (30.0, 20.0), (30.0, 30.0), (20.0, 30.0))
    grey = render(one(Path2D((square, hole), fill="#000000")), 150)
    assert [grey[int(y * 150 / 25.4), int(x * 150 / 25.4)] for x, y in ((15, 15), (25, 25), (45, 25))] == [
        0,
        255,
        255,
    ]


def test_fills_come_out_in_the_colours_asked_for():
    picture = io.BytesIO()
    Picture.new("RGB", (4, 4), (10, 200, 90)).save(picture, "PNG")
    rgb = render_rgb(
        one(
            Rect(5, 5, 20, 10, fill="#a03c28"),
            Circle(40, 10, 5, fill="#2850a0"),
            Rect(50, 5, 40, 10, fill=Gradient(((0, "#ff0000"), (0.25, "#00ff00"), (1, "#0000ff")))),
            Rect(5, 20, 10, 30, fill=Gradient(((0, "#000000"), (1, "#ffffff")), down=True)),
            Image(30, 30, 10, 10, picture.getvalue()),
            Line(60, 40, 90, 40, "#c01020", 2),
            Rect(60, 45, 10, 10, fill="#00000080"),
        )
    )

    def at(x, y):
        return rgb[int(y * 300 / 25.4), int(x * 300 / 25.4)].astype(int)

    assert at(10, 10) == pytest.approx([0xA0, 0x3C, 0x28], abs=2)
    assert at(40, 10) == pytest.approx([0x28, 0x50, 0xA0], abs=2)
    assert at(60, 10) == pytest.approx([0, 255, 0], abs=8)
    assert at(55, 10) == pytest.approx([128, 128, 0], abs=8)
    assert at(75, 10) == pytest.approx([0, 128, 128], abs=8)
    assert at(10, 35) == pytest.approx([128, 128, 128], abs=6)
    assert at(35, 35) == pytest.approx([10, 200, 90], abs=2)
    assert at(75, 40) == pytest.approx([0xC0, 0x10, 0x20], abs=2)
    assert at(65, 50) == pytest.approx([127, 127, 127], abs=3)


def test_neutral_fills_are_printed_with_black_ink_alone():
    """A colour of one component is grey, which printers make of black ink: PDF 32000-1:2008, 8.6.4.2."""
    pdf = draw_pdf(one(Rect(5, 5, 20, 10, fill="#444444"), Rect(35, 5, 20, 10, fill="#444446")))
    (content,) = [
        text
        for stream in re.findall(rb"FlateDecode>>\s*stream\r?\n(.*?)endstream", pdf, re.DOTALL)
        if b" scn " in (text := zlib.decompress(stream))
    ]
    fills = [numbers.split() for numbers in re.findall(rb"cs ([\d. ]+) scn", content)]
    assert [len(numbers) for numbers in fills] == [1, 3]


def test_several_pages_become_one_pdf_or_numbered_pictures(tmp_path):
    sheet = Document("Two", (Page(50, 40, (Text(5, 10, "one"),)), Page(60, 30, (Text(5, 10, "two"),))))
    assert [path.name for path in write_sheet(sheet, tmp_path / "a.pdf")] == ["a.pdf"]
    assert [path.name for path in write_sheet(sheet, tmp_path / "a.png", dpi=100)] == ["a-1.png", "a-2.png"]
    assert [path.name for path in write_sheet(sheet, tmp_path / "a.SVG")] == ["a-1.SVG", "a-2.SVG"]
    with pypdfium2.PdfDocument(tmp_path / "a.pdf") as pdf:
        assert [page.get_textpage().get_text_range() for page in pdf] == ["one", "two"]
        assert pdf.get_metadata_value("Title") == "Two"
    with Picture.open(tmp_path / "a-2.png") as picture:
        assert picture.size == pytest.approx((60 * 100 / 25.4, 30 * 100 / 25.4), abs=1)


def test_odd_words_can_not_break_the_sheet():
    text = 'a "quoted" \\ #set page() $x$ *b* `c`\x07 // ~ -- ]['
    with pypdfium2.PdfDocument(draw_pdf(one(Text(5, 20, text, 6)))) as pdf:
        assert pdf[0].get_textpage().get_text_range() == text.replace("\x07", "")


@pytest.mark.parametrize(
    ("act", "words"),
    [
        (lambda folder: write_sheet(one(), folder / "a.docx"), "pdf, .svg or .png"),
        (lambda folder: write_sheet(one(), folder / "nowhere" / "a.pdf"), "can't be written"),
        (lambda folder: draw_pdf(Document("Empty", ())), "no page"),
        (lambda folder: draw_pdf(one(Image(1, 1, 5, 5, b"\x89PNG not a picture"))), "can't be set"),
    ],
)
def test_what_can_not_be_drawn_is_said_in_a_sentence(act, words, tmp_path):
    with pytest.raises(SheetError, match=re.escape(words)):
        act(tmp_path)


@pytest.mark.parametrize(
    "shape",
    [
        Rect(1, 1, 5, 5, fill="red"),
        Rect(1, float("nan"), 5, 5),
        Rect(1, 1, 5, 5, fill=Gradient(((0.2, "#000000"), (1, "#ffffff")))),
    ],
)
def test_a_shape_that_means_nothing_is_the_caller_s_fault(shape):
    with pytest.raises(ValueError, match=r"shape|finite|gradient"):
        draw_pdf(one(shape))
