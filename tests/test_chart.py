"""Charts are reopened with PDFium, their marks found by OpenCV, their codes read by ZXing, and measured."""

import itertools
import json

import cv2
import numpy as np
import pypdfium2
import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st

from blendkit.chart import layout as chart_layout
from blendkit.chart.chart import make_chart, rebuild_chart, write_chart
from blendkit.chart.code import PageLayout, Section, code_from_layout, layout_from_code
from blendkit.chart.content import is_measured, order_markers
from blendkit.chart.description import read_chart_file
from blendkit.chart.layout import (
    page_from_code,
    paginate,
    place_page,
)
from blendkit.colour import contrast_wcag, delta_e_2000, hex_to_lab, lab_to_lch
from blendkit.errors import PaletteError, SheetError
from blendkit.page.marks import find_outlines, mark_cells
from blendkit.page.page import Line, Rect, Text, draw_pdf
from blendkit.palette import read_palette
from blendkit.words import SAFETY_LINE

DPI = 300
PX = DPI / 25.4

ROWS = """\
name,kind,hex,L,a,b,on,family,coats,setup
Snow Card,paper,,95,0,-2,,,,
Oat Card,paper,,90,1,8,,,,
Quill Dawn,marker,,82,8,22,Snow Card,Quill,,lamp box
Quill Noon,marker,,61,14,33,Snow Card,Quill,,lamp box
Quill Noon,marker,,52,17,38,Snow Card,Quill,2,lamp box
Quill Dusk,marker,,38,16,26,Snow Card,Quill,,lamp box
Lantern Dawn,marker,,88,4,55,Snow Card,Lantern,,lamp box
Lantern Noon,marker,,74,22,66,Snow Card,Lantern,,lamp box
Pond Noon,marker,#4f8fb0,,,,Snow Card,Pond,,
Pond Dusk,marker,#2d5a78,,,,Snow Card,Pond,,
Pewter,marker,,60,-1,-2,Snow Card,,,lamp box
Berry Ω 灯,marker,,40,45,5,Oat Card,,,lamp box
"""


@pytest.fixture(scope="module")
def drawer(tmp_path_factory):
    """Nine invented markers on two invented papers."""
    path = tmp_path_factory.mktemp("drawer") / "quill_drawer.csv"
    path.write_text(ROWS, encoding="utf-8")
    return read_palette(path)


@pytest.fixture(scope="module")
def full(drawer):
    """A chart with a section of every kind."""
    return make_chart(
        drawer,
        coats=3,
        family_blends=True,
        blends=[("Pewter", "Quill Dawn")],
        unders=["Quill Dawn", "Pond Noon"],
        overs=["Quill Dusk", "Lantern Noon", "Pewter"],
        anchors=["Lantern Dawn"],
    )


@pytest.fixture(scope="module")
def pictures(full):
    """Every page of that chart as PDFium shows it, in grey."""
    with pypdfium2.PdfDocument(draw_pdf(full.sheet)) as pdf:
        return [np.squeeze(page.render(scale=DPI / 72, grayscale=True).to_numpy()).copy() for page in pdf]


def boxes(chart, kind=None):
    return [box for page in chart.spec.pages for box in page.boxes if kind is None or box.kind == kind]


# --- on paper ---------------------------------------------------------------------------------------------


def test_every_box_is_printed_where_the_description_says_to_a_tenth_of_a_millimetre(full, pictures):
    """The grey outline of a box is centred on its edge; its middle is measured at all four sides."""

    def line_mm(profile, near_mm):
        start = int((near_mm - 0.6) * PX)
        part = 255.0 - profile[start : int((near_mm + 0.6) * PX)]
        assert part.max() > 60
        part[part < 30] = 0
        return (start + np.average(np.arange(len(part)) + 0.5, weights=part)) / PX

    checked = 0
    for page, picture in zip(full.spec.pages, pictures, strict=True):
        for box in page.boxes:
            if box.kind in ("paper", "blend"):
                continue
            x, y = (np.array(box.centre_mm) * PX).astype(int)
            for near in (box.x_mm, box.x_mm + box.w_mm):
                assert line_mm(picture[y + 9], near) == pytest.approx(near, abs=0.1)
            for near in (box.y_mm, box.y_mm + box.h_mm):
                assert line_mm(picture[:, x + 9], near) == pytest.approx(near, abs=0.1)
            checked += 1
    assert checked == 9 * 3 + 1 + 2 * 5 + 6


def test_a_box_to_colour_and_a_bare_place_are_empty_on_paper(full, pictures):
    for page, picture in zip(full.spec.pages, pictures, strict=True):
        for box in page.boxes:
            inset = 0.3
            part = picture[
                int((box.y_mm + inset) * PX) : int((box.y_mm + box.h_mm - inset) * PX),
                int((box.x_mm + inset) * PX) : int((box.x_mm + box.w_mm - inset) * PX),
            ]
            assert part.min() == 255, box.label


def test_opencv_finds_all_eight_marks_of_every_page_where_they_should_be(full, pictures):
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_ARUCO_MIP_36H12)
    detector = cv2.aruco.ArucoDetector(dictionary, parameters)
    for page, picture in zip(full.spec.pages, pictures, strict=True):
        found, numbers, _ = detector.detectMarkers(picture)
        by_number = dict(zip(numbers.ravel().tolist(), found, strict=True))
        assert sorted(by_number) == [8 * (page.page - 1) + place for place in range(8)]
        for mark in page.marks:
            corners_mm = (by_number[mark.id][0] + 0.5) / PX
            assert np.abs(corners_mm - np.array(mark.corners_mm)).max() < 0.15


def test_zxing_reads_every_page_s_code_at_six_hundred_pixels_and_more(full):
    with pypdfium2.PdfDocument(draw_pdf(full.sheet)) as pdf:
        for page, spec in zip(pdf, full.spec.pages, strict=True):
            for height_px in (650, 1200, 3000):
                scale = height_px / page.get_height()
                picture = np.squeeze(page.render(scale=scale, grayscale=True).to_numpy())
                px = scale * 72 / 25.4
                x, y, w, h = (value * px for value in spec.code_box_mm)
                margin = 3 * px
                crop = picture[int(y - margin) : int(y + h + margin), int(x - margin) : int(x + w + margin)]
                large = cv2.resize(crop, None, fx=4, fy=4, interpolation=cv2.INTER_CUBIC)
                assert zxingcpp.read_barcode(large).text == spec.code


def test_nothing_but_white_comes_within_6_mm_of_the_page_s_edge(pictures):
    """Most printers leave 3 to 6 mm bare: common practice, no source."""
    edge = int(6 * PX)
    for picture in pictures:
        inner = picture[edge:-edge, edge:-edge]
        assert (picture < 255).sum() == (inner < 255).sum()
        assert (inner < 255).sum() > 10_000


def test_every_page_has_a_ruler_of_100_mm_and_the_usual_cautions(full):
    with pypdfium2.PdfDocument(draw_pdf(full.sheet)) as pdf:
        for number, page in enumerate(pdf, 1):
            text = " ".join(page.get_textpage().get_text_range().split())
            assert SAFETY_LINE in text
            assert "Snow Card" in text
            assert "Date" in text
            assert f"Chart {full.chart_id}, page {number} of {full.pages}" in text
            assert "only as good as the printer" in text
    for page in full.sheet.pages:
        upright = [shape for shape in page.shapes if isinstance(shape, Line) and shape.x1_mm == shape.x2_mm]
        ruler = [line for line in upright if line.y2_mm == pytest.approx(page.height_mm - 40 + 9.6)]
        assert len(ruler) == 101
        assert ruler[-1].x1_mm - ruler[0].x1_mm == pytest.approx(100)


@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_nothing_on_a_chart_is_smaller_than_8_points_and_nothing_is_cut(demo, size):
    """In the reopened PDF: every marker of the drawer, then boxes of two coats with blends and a crossing."""
    names = ("rosehip dawn", "rosehip dusk", "hedgehog quill dawn")
    pairs = [(names[0], names[1])]
    mixed = make_chart(
        demo, names=names, coats=2, blends=pairs, unders=names[:1], overs=names[1:], paper_size=size
    )
    for chart in (make_chart(demo, paper_size=size), mixed):
        with pypdfium2.PdfDocument(draw_pdf(chart.sheet)) as pdf:
            for page in pdf:
                for piece in page.get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_TEXT], max_depth=9):
                    assert piece.get_font_size() * abs(piece.get_matrix().d) >= 7.99
                assert "…" not in page.get_textpage().get_text_range()


def test_the_cautions_name_every_way_in_which_the_work_can_hurt():
    for word in (
        "flammable",
        "fresh air",
        "flame",
        "children",
        "skin",
        "food",
        "fade",
        "Local rules",
        "safety sheet",
    ):
        assert word in SAFETY_LINE


def test_words_are_dark_enough_to_read_in_a_grey_print(full):
    """WCAG 2.2 asks a contrast of 4.5 of small text (success criterion 1.4.3)."""
    fills = {shape.fill for page in full.sheet.pages for shape in page.shapes if isinstance(shape, Text)}
    assert fills
    for fill in fills:
        assert fill[1:3] == fill[3:5] == fill[5:7]
        assert contrast_wcag(hex_to_lab(fill), np.array([100.0, 0, 0])) >= 4.5


def test_the_same_drawer_gives_the_same_files(drawer, full, tmp_path):
    for name in ("a", "b"):
        write_chart(make_chart(drawer, coats=2, family_blends=True), tmp_path / f"{name}.pdf")
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()
    assert (tmp_path / "a.chart.json").read_bytes() == (tmp_path / "b.chart.json").read_bytes()


def test_boxes_alone_show_no_colour(drawer):
    chart = make_chart(drawer, coats=2, family_blends=True, expected=False)
    with pypdfium2.PdfDocument(draw_pdf(chart.sheet)) as pdf:
        rgb = pdf[0].render(scale=1).to_numpy().astype(int)
    assert np.ptp(rgb[..., :3], axis=-1).max() == 0
    assert not any("printer" in note for note in chart.notes)
    assert [box.kind for box in boxes(chart)].count("swatch") == 9 * 2 + 2 * 4


# --- the description --------------------------------------------------------------------------------------


def test_a_description_reads_back_as_it_was_written(full, tmp_path):
    *_, description = write_chart(full, tmp_path / "chart.pdf")
    assert description.name == "chart.chart.json"
    assert read_chart_file(description) == full.spec
    data = json.loads(description.read_text(encoding="utf-8"))
    assert data["format"] == "blendkit-chart"
    assert data["pages"][0]["marks"][0] == {"id": 0, "corners_mm": [[8, 8], [22, 8], [22, 22], [8, 22]]}


@pytest.mark.parametrize(
    ("change", "place"),
    [
        (lambda data: data.update(version=3), "version 3"),
        (lambda data: data.update(format="other"), "blendkit-chart"),
        (lambda data: data.update(dictionary="DICT_4X4_50"), "dictionary"),
        (lambda data: data.pop("paper"), "chart.json, paper"),
        (lambda data: data["pages"][0]["boxes"][3].update(kind="smear"), "page entry 1, box entry 4, kind"),
        (lambda data: data["pages"][0]["boxes"][3].update(x_mm=float("nan")), "box entry 4, x_mm"),
        (lambda data: data["pages"][0]["boxes"][3].update(ratio=1.5), "box entry 4, ratio"),
        (lambda data: data["pages"][0]["boxes"][3].update(coats=True), "box entry 4, coats"),
        (lambda data: data["pages"][0]["marks"][2].update(id=250), "mark entry 3, id"),
        (lambda data: data["pages"][0]["marks"][2].update(corners_mm=[[1, 2]]), "mark entry 3, corners_mm"),
        (lambda data: data["pages"].append(7), "page entry 3"),
    ],
)
def test_a_damaged_description_is_refused_and_the_place_named(full, tmp_path, change, place):
    *_, description = write_chart(full, tmp_path / "chart.pdf")
    data = json.loads(description.read_text(encoding="utf-8"))
    change(data)
    description.write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises(SheetError) as caught:
        read_chart_file(description)
    assert place in str(caught.value)


def test_a_description_that_is_no_json_or_not_there_is_refused(tmp_path):
    (tmp_path / "a.chart.json").write_bytes(b"\xff\xfe{")
    for name in ("a.chart.json", "b.chart.json"):
        with pytest.raises(SheetError, match=name):
            read_chart_file(tmp_path / name)


def test_a_page_s_code_alone_gives_its_marks_and_boxes_again(full):
    for page in full.spec.pages:
        again = page_from_code(page.code)
        assert (again.size_mm, again.marks, again.code_box_mm) == (page.size_mm, page.marks, page.code_box_mm)
        assert len(again.boxes) == len(page.boxes)
        for box, known in zip(again.boxes, page.boxes, strict=True):
            for name in ("kind", "coats", "x_mm", "y_mm", "w_mm", "h_mm"):
                assert getattr(box, name) == getattr(known, name)
            assert len(box.markers) == len(known.markers)


SECTIONS = st.one_of(
    st.builds(Section, st.just("S"), st.integers(1, 140), st.integers(1, 3)),
    st.builds(Section, st.just("A"), st.integers(1, 12)),
    st.builds(Section, st.just("B"), st.integers(1, 20), st.integers(3, 9)),
    st.builds(Section, st.just("X"), st.integers(1, 12), st.integers(1, 12)),
)
LAYOUTS = st.builds(
    PageLayout,
    st.just("7F3A2K"),
    st.just(1),
    st.just(1),
    st.sampled_from(["A4", "LT"]),
    st.booleans(),
    st.sampled_from([8.0, 12.5, 15.0, 24.0]),
    st.sampled_from([8.0, 11.0, 18.5]),
    st.booleans(),
    st.just(()),
)


def _apart(first, second):
    (ax, ay, aw, ah), (bx, by, bw, bh) = first, second
    return ax + aw <= bx or bx + bw <= ax or ay + ah <= by or by + bh <= ay


@settings(max_examples=40, deadline=None)
@given(LAYOUTS, st.lists(SECTIONS, min_size=1, max_size=3))
def test_any_chart_s_pages_hold_all_of_it_apart_and_inside(layout, sections):
    shares = paginate(layout, tuple(sections))
    wanted = {"S": 0, "A": 0, "B": 0, "X": 0}
    for section in sections:
        wanted[section.kind] += section.count * (section.depth + (2 if section.kind == "B" else 0))
    held = dict.fromkeys(wanted, 0)
    for share in shares:
        assert share
        page = place_page(
            PageLayout(
                **{
                    **{name: getattr(layout, name) for name in layout.__slots__},
                    "sections": tuple(s for s, _ in share),
                }
            )
        )
        width, height = layout.size_mm
        assert page.bottom_mm <= height - chart_layout.BOTTOM_MM + 0.01
        taken = [(m.corners_mm[0][0] - 2, m.corners_mm[0][1] - 2, 18.0, 18.0) for m in page.marks]
        taken.append(page.code_mm)
        for placed in page.sections:
            places = [place for cell in placed.cells for place in cell.places]
            held[placed.section.kind] += len(places)
            taken += [rect for place in places for rect in (place.box_mm, place.chip_mm) if rect is not None]
            taken += [cell.label_mm for cell in placed.cells]
            taken.append(placed.heading_mm)
        taken += page.paper_mm
        for x, y, w, h in taken:
            assert x >= 6
            assert y >= 6
            assert x + w <= width - 6
            assert y + h <= height - 6
            assert w > 0
            assert h > 0
        for first, second in itertools.combinations(taken, 2):
            assert _apart(first, second), (first, second)
        again = layout_from_code(page.code)
        assert place_page(again) == page
    assert held == wanted


@pytest.mark.parametrize(
    "code",
    [
        "",
        "HELLO",
        "BK1:7F3A2K:1/2:A4P:15X11E:S2113",
        "BK1:7F3A2K:1/2:A3P:15X11E:S4-3",
        "BK1:7F3A2K:1/2:A4P:15X11E:Q4-3",
        "BK1:7F3A2K:1/2:A4P:15X11E:S999-3",
        "BK1:7F3A2K:1/2:A4P:15X11E:A3-2",
        "BK1:7F3A2K:1/2:A4P:15X11E:S3",
        "BK1:7F3A2K:1/2:A4P:15X11E:S3-0",
        "BK1:7F3A2K:1/2:A4P:0X11E:S3-1",
        "BK1:7F3A2K:3/2:A4P:15X11E:S3-1",
        "BK1:7F3A2K:0/2:A4P:15X11E:S3-1",
        "BK1:7F3A2K:1/2:A4P:15X11E:S3-1 ",
        "BK1:7F3A2K:1/2:A4P:99X11E:S3-3",
    ],
)
def test_a_damaged_code_is_refused(code):
    with pytest.raises(SheetError):
        page_from_code(code)


def test_a_code_of_a_later_version_is_said_to_be_so():
    with pytest.raises(SheetError, match="later blendkit"):
        layout_from_code("BK3:7F3A2K:1/1:A4P:15X11E:S3-1")


@pytest.mark.silver
def test_the_layout_of_version_1_never_changes():
    """Charts printed with it lie in drawers: these places were frozen with the first release."""
    page = page_from_code("BK1:7F3A2K:2/3:A4P:15X11E:S4-2:B1-5:X2-2")
    assert [mark.id for mark in page.marks] == list(range(8, 16))
    assert page.code_box_mm == (167.0, 8.0, 17.0, 17.0)
    places = [(box.kind, box.coats, box.x_mm, box.y_mm, box.w_mm, box.h_mm) for box in page.boxes]
    assert places[0] == ("swatch", 1, 26.0, 44.4, 15.0, 11.0)
    assert places[7] == ("swatch", 2, 169.0, 44.4, 15.0, 11.0)
    assert places[8] == ("swatch", 1, 26.0, 78.8, 15.0, 11.0)
    assert places[9] == ("blend", 1, 48.88, 78.8, 14.64, 11.0)
    assert places[14] == ("swatch", 1, 169.0, 78.8, 15.0, 11.0)
    assert places[18] == ("over", 2, 74.0, 136.8, 15.0, 11.0)
    assert places[19] == ("paper", 0, 10.0, 33.92, 10.0, 16.0)
    assert places[33] == ("paper", 0, 143.5, 44.4, 7.0, 11.0)
    assert len(places) == 34


@pytest.mark.silver
def test_the_layout_of_version_1_never_changes_on_letter_paper_turned():
    page = page_from_code("BK1:7F3A2K:1/1:LTL:12.5X9.5:A2:B3-7:S3-1")
    assert page.size_mm == (279.4, 215.9)
    assert page.marks[3].corners_mm[0] == (257.4, 100.95)
    places = [(box.kind, box.x_mm, box.y_mm, box.w_mm, box.h_mm) for box in page.boxes]
    assert places[1] == ("anchor", 43.91, 47.6, 12.5, 9.5)
    assert places[3] == ("blend", 43.69, 73.5, 6.57, 9.5)
    assert places[19] == ("swatch", 240.9, 73.5, 12.5, 9.5)
    assert places[31] == ("swatch", 61.82, 127.1, 12.5, 9.5)
    assert places[32] == ("paper", 10.0, 27.16, 10.0, 16.0)


def test_a_chart_is_rebuilt_from_its_codes_and_the_drawer(drawer):
    for options in (
        {"coats": 2},
        {"families": ["quill"], "order": "family"},
        {"unmeasured": True, "landscape": True},
    ):
        chart = make_chart(drawer, **options)
        assert [page.boxes for page in rebuild_chart(chart.codes, drawer).pages] == [
            page.boxes for page in chart.spec.pages
        ]


def test_a_chart_whose_names_can_not_be_found_again_asks_for_its_description(drawer, full):
    with pytest.raises(SheetError, match=r"chart\.json"):
        rebuild_chart(full.codes, drawer)
    counted = rebuild_chart(full.codes)
    assert counted.chart_id == full.chart_id
    assert counted.pages[0].boxes[4].label == "box 1.5"
    other = make_chart(drawer)
    with pytest.raises(SheetError, match="one chart"):
        rebuild_chart((full.codes[0], other.codes[0]))


def test_a_chart_s_number_depends_on_its_names_not_on_its_colours(drawer, tmp_path):
    other = tmp_path / "quill_drawer.csv"
    other.write_text(ROWS.replace("Pewter,marker,,60", "Pewter,marker,,58"), encoding="utf-8")
    assert make_chart(read_palette(other)).chart_id == make_chart(drawer).chart_id
    other.write_text(ROWS.replace("Pewter", "Tin"), encoding="utf-8")
    assert make_chart(read_palette(other)).chart_id != make_chart(drawer).chart_id


# --- what stands on it ------------------------------------------------------------------------------------


def test_every_marker_chosen_stands_on_the_chart_once_for_every_coat(drawer, full):
    asked = [(box.markers[0], box.coats) for box in boxes(full, "swatch")][: 9 * 3]
    assert sorted(asked) == sorted((marker.name, coat) for marker in drawer.markers for coat in (1, 2, 3))


def test_one_coat_is_expected_as_measured_and_another_paper_shows_another_colour(drawer):
    by_name = {box.label: box.expected_lab for box in boxes(make_chart(drawer, paper="Snow Card"), "swatch")}
    assert by_name["Quill Noon"] == pytest.approx([61, 14, 33], abs=0.02)
    on_oat = {box.label: box.expected_lab for box in boxes(make_chart(drawer, paper="Oat Card"), "swatch")}
    assert on_oat["Quill Dawn"][0] < by_name["Quill Dawn"][0] - 1
    assert on_oat["Berry Ω 灯"] == pytest.approx([40, 45, 5], abs=0.02)


def test_a_second_coat_is_expected_as_measured_and_a_third_to_go_on_from_there(full):
    """Colours are asked of every face in test_one_truth.py; here it is what stands on the chart."""
    expected = {box.label: box.expected_lab for box in boxes(full, "swatch")}
    assert expected["Quill Noon, 2 coats"] == pytest.approx([52, 17, 38], abs=0.02)
    assert expected["Quill Noon, 3 coats"][0] < 52 - 4
    for coats in (2, 3):
        assert expected[f"Quill Dawn, {coats} coats"][0] < 82 - 2 * coats


def test_a_strip_s_steps_are_even_and_their_shares_of_dark_ink_rise(full):
    strips = [boxes(full, "blend")[start : start + 5] for start in range(0, len(boxes(full, "blend")), 5)]
    assert len(strips) == 5
    inked_ends = [box for box in boxes(full, "swatch")[9 * 3 :] if box.markers]
    for strip, (light, dark) in zip(strips, zip(inked_ends[::2], inked_ends[1::2], strict=True), strict=True):
        assert light.expected_lab[0] >= dark.expected_lab[0]
        assert strip[0].markers == (light.markers[0], dark.markers[0])
        ratios = [0.0, *(box.ratio for box in strip), 1.0]
        assert all(np.diff(ratios) > 0)
        labs = np.array([light.expected_lab, *(box.expected_lab for box in strip), dark.expected_lab])
        steps = delta_e_2000(labs[:-1], labs[1:])
        # Chords of a bent way: a step's straight difference may fall a little short of its length.
        assert steps == pytest.approx(np.full(6, steps.mean()), rel=0.12)


def test_a_crossing_holds_every_pair_once_darker_than_what_lies_under(full):
    crossings = boxes(full, "over")
    unders, overs = ["Quill Dawn", "Pond Noon"], ["Quill Dusk", "Lantern Noon", "Pewter"]
    assert [box.markers for box in crossings] == list(itertools.product(unders, overs))
    first = {box.markers: box.expected_lab for box in boxes(full, "swatch") if box.coats == 1}
    for box in crossings:
        assert box.label == f"{box.markers[1]} over {box.markers[0]}"
        assert box.expected_lab[0] < first[box.markers[:1]][0]


def test_a_crossing_wider_than_the_page_is_cut_into_parts_that_hold_all_of_it(drawer):
    names = [marker.name for marker in drawer.markers]
    chart = make_chart(drawer, swatches=False, unders=names, box_mm=(24, 18))
    crossings = [box.markers for box in boxes(chart, "over")]
    assert sorted(crossings) == sorted(itertools.product(names, names))
    assert chart.pages > 1


def test_only_what_is_not_measured_yet_is_put_on_when_asked(drawer):
    chart = make_chart(drawer, unmeasured=True)
    assert {box.label for box in boxes(chart, "swatch")} == {"Pond Noon", "Pond Dusk"}
    both = make_chart(drawer, names=["Quill Noon", "Quill Dawn"], unmeasured=True, coats=2)
    assert {box.markers[0] for box in boxes(both, "swatch")} == {"Quill Dawn"}
    assert is_measured(drawer.marker("Pewter").reading(1))
    assert not is_measured(drawer.marker("Pewter").reading(2))


def test_markers_are_ordered_by_hue_then_lightness_with_neutrals_last(drawer):
    ordered = order_markers(drawer.markers, "hue")
    assert ordered[-1].name == "Pewter"
    bands = [int(lab_to_lch(marker.lab)[2] % 360 // 30) for marker in ordered[:-1]]
    assert bands == sorted(bands)
    for band in set(bands):
        lightness = [marker.lab[0] for marker, b in zip(ordered[:-1], bands, strict=True) if b == band]
        assert lightness == sorted(lightness, reverse=True)


def test_markers_are_ordered_by_family_from_light_to_dark(drawer):
    names = [marker.name for marker in order_markers(reversed(drawer.markers), "family")]
    assert names[:7] == [
        "Pond Noon",
        "Pond Dusk",
        "Lantern Dawn",
        "Lantern Noon",
        "Quill Dawn",
        "Quill Noon",
        "Quill Dusk",
    ]
    assert order_markers(drawer.markers, "palette") == drawer.markers


def test_colours_beyond_srgb_are_counted_in_a_note(drawer, tmp_path):
    (tmp_path / "a.csv").write_text("name,kind,hex,L,a,b\nTulip,marker,,60,95,60\nDough,marker,,80,3,9\n")
    notes = " ".join(make_chart(read_palette(tmp_path / "a.csv")).notes)
    assert "1 of the 2 colours" in notes
    assert "sRGB" not in " ".join(make_chart(read_palette(tmp_path / "a.csv"), names=["Dough"]).notes)


def test_boxes_grow_when_that_needs_no_more_pages(drawer):
    assert boxes(make_chart(drawer), "swatch")[0].w_mm == 24
    crowded = make_chart(drawer, coats=3, family_blends=True, unders=[m.name for m in drawer.markers][:5])
    smallest = make_chart(
        drawer, coats=3, family_blends=True, unders=[m.name for m in drawer.markers][:5], box_mm=(15, 11)
    )
    assert crowded.pages == smallest.pages


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"coats": 4}, "coats: found 4"),
        ({"coats": 0, "steps": 2}, "steps of a blend strip: found 2"),
        ({"box_mm": (5, 11)}, "brush nib"),
        ({"box_mm": (15, 90)}, "box height: found 90 mm"),
        ({"paper_size": "A9"}, "A4 or Letter"),
        ({"families": ["Walrus"]}, "Quill, Lantern, Pond"),
        ({"order": "taste"}, "hue, family or palette"),
        ({"swatches": False}, "nothing to put"),
        ({"names": ["Pewter"], "unmeasured": True}, "measured already"),
        ({"box_mm": (60, 60), "coats": 3}, "smaller box"),
    ],
)
def test_what_can_not_be_drawn_is_said_in_a_sentence(drawer, options, words):
    with pytest.raises(SheetError) as caught:
        make_chart(drawer, **options)
    assert words in str(caught.value)


def test_an_unknown_marker_or_paper_is_named(drawer):
    for options in ({"names": ["Pewterr"]}, {"paper": "Snow Crad"}, {"blends": [("Pewter", "Nobody")]}):
        with pytest.raises(PaletteError):
            make_chart(drawer, **options)


def test_more_pages_than_the_marks_can_tell_apart_are_refused(tmp_path):
    rows = "".join(f"Straw {number},marker,,{40 + number % 50},5,20\n" for number in range(700))
    (tmp_path / "barn.csv").write_text("name,kind,hex,L,a,b\n" + rows, encoding="utf-8")
    with pytest.raises(SheetError, match="31"):
        make_chart(read_palette(tmp_path / "barn.csv"), coats=3, box_mm=(24, 18))


# --- marks ------------------------------------------------------------------------------------------------


@given(st.lists(st.lists(st.booleans(), min_size=5, max_size=5), min_size=1, max_size=6))
def test_the_outlines_of_any_cells_cover_those_cells_and_nothing_else(rows):
    cells = np.array(rows)
    outlines = [np.array(outline)[:, ::-1] * 8 for outline in find_outlines(cells)]
    picture = np.zeros((len(rows) * 8 + 1, 5 * 8 + 1), np.uint8)
    crossings = np.zeros(cells.shape, int)
    for outline in outlines:
        for (row, column), _ in np.ndenumerate(cells):
            point = (column * 8 + 4.0, row * 8 + 4.0)
            crossings[row, column] += cv2.pointPolygonTest(outline.astype(np.int32), point, False) > 0
    assert picture.shape[0] > 0
    assert (crossings % 2 == 1).tolist() == cells.tolist()


def test_a_mark_that_is_not_in_the_set_is_refused():
    assert mark_cells(0).shape == (8, 8)
    assert mark_cells(249).shape == (8, 8)
    for number in (-1, 250):
        with pytest.raises(SheetError, match="0 to 249"):
            mark_cells(number)


def test_a_code_goes_back_and_forth():
    layout = PageLayout("7F3A2K", 2, 3, "LT", True, 12.5, 10.0, False, (Section("S", 5, 2), Section("A", 3)))
    assert code_from_layout(layout) == "BK1:7F3A2K:2/3:LTL:12.5X10:S5-2:A3"
    assert layout_from_code(code_from_layout(layout)) == layout


def test_paper_that_stays_bare_in_a_row_is_marked_around_what_is_read(drawer):
    """Three markers in two columns: a gap between them and an empty place after the last, both said to be bare."""
    chart = make_chart(drawer, names=["Quill Dawn", "Quill Noon", "Quill Dusk"], coats=2, box_mm=(24.0, 18.0))
    shapes = chart.sheet.pages[0].shapes
    dashed = [shape for shape in shapes if isinstance(shape, Rect) and shape.dash_mm]
    words = [shape for shape in shapes if isinstance(shape, Text) and shape.text.startswith("leave bare")]
    assert len(dashed) == len(words) >= 2
    right = chart.spec.pages[0].size_mm[0] - 25.0
    between = [box for box in boxes(chart, "paper") if 25.0 < box.x_mm < right]
    assert between
    for box in between:
        assert any(
            mark.x_mm < box.x_mm and box.x_mm + box.w_mm < mark.x_mm + mark.w_mm and mark.y_mm == box.y_mm
            for mark in dashed
        )


def test_a_long_blend_takes_the_whole_width_where_two_side_by_side_would_be_too_narrow():
    """Letter on its side, boxes of 24 mm, strips of nine places."""
    layout = PageLayout("7F3A2K", 1, 1, "LT", True, 24.0, 11.0, False, (Section("B", 2, 9),))
    page = place_page(layout)
    assert len({cell.label_mm[0] for placed in page.sections for cell in placed.cells}) == 1
