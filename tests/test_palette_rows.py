"""Rows of a palette file: colours given three ways, and every fault of every row reported together."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from blendkit.colour import delta_e_2000, lab_to_xyz1
from blendkit.errors import PaletteError
from blendkit.palette import Palette, name_key, reading_from_hex, reading_from_lab, reading_from_spectrum
from blendkit.palette.palette import palette_from_sheet
from blendkit.palette.rows import COLUMNS
from blendkit.palette.table import decode_sheet, encode_sheet
from blendkit.spectrum import WAVELENGTHS_NM, reflectance_to_lab, resample_reflectance

patient = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])

HEADER = "name,kind,hex,L,a,b,light,observer,on,coats,family,finish,pattern,share,coat_limit,uncertainty,note"


def read(text: str, header: str = HEADER) -> Palette:
    return palette_from_sheet(decode_sheet(f"{header}\n{text}".encode(), "drawer.csv"))


def row(**cells: str) -> str:
    """Give a row under HEADER; a marker with a colour unless told otherwise."""
    known = {"name": "Moss", "kind": "marker", "hex": "#667744"}
    if any(letter in cells for letter in "Lab"):
        known.pop("hex")
    return ",".join((known | cells).get(key, "") for key in HEADER.split(","))


def faults(text: str, header: str = HEADER) -> list[tuple[str, str]]:
    """Give where (without the file) and what of each problem, having checked the rest."""
    with pytest.raises(PaletteError) as caught:
        read(text, header)
    for problem in caught.value.problems:
        assert problem.where.startswith("palette, ")
        assert problem.accepted
    return [(problem.where.removeprefix("palette, "), problem.found) for problem in caught.value.problems]


# ---------------------------------------------------------------- colours


@pytest.mark.gold
def test_hex_is_srgb_adapted_to_d50():
    # W3C, CSS Color Module Level 4, section 9.3 and its sample conversions: sRGB red is lab(54.29 80.80 69.89).
    assert read(row(hex="#ff0000")).markers[0].lab == pytest.approx([54.29, 80.80, 69.89], abs=0.01)


@pytest.mark.parametrize("text", ["#667744", "667744", "#674", "#667744 "])
def test_hex_may_be_short_or_without_its_hash(text):
    assert read(row(hex=text)).markers[0].reading(1).typed == "#667744"


def test_lab_under_d50_for_2_degrees_is_kept_exactly():
    reading = read(row(L="61.25", a="-12.5", b="33")).markers[0].reading(1)
    assert reading.lab.tolist() == [61.25, -12.5, 33]
    assert (reading.typed, reading.light, reading.observer) == ("61.25, -12.5, 33", "D50", 2)


SMOOTH = 0.15 + 0.6 / (1 + np.exp(-(np.asarray(WAVELENGTHS_NM) - 560) / 40))


@pytest.mark.parametrize(("light", "observer"), [("D65", 10), ("D65", 2), ("D50", 10), ("A", 2)])
def test_lab_under_another_light_becomes_nearly_what_the_spectrum_gives(light, observer):
    truth = reflectance_to_lab(SMOOTH)
    letters = {
        letter: f"{value:.4f}"
        for letter, value in zip("Lab", reflectance_to_lab(SMOOTH, light, observer), strict=True)
    }
    reading = read(row(light=light, observer=str(observer), **letters)).markers[0].reading(1)
    taken_as_d50 = np.array([float(text) for text in letters.values()])
    assert delta_e_2000(truth, reading.lab) < 0.8
    assert delta_e_2000(truth, reading.lab) < 0.5 * delta_e_2000(truth, taken_as_d50)
    assert (reading.light, reading.observer) == (light, observer)
    assert reading.typed == ", ".join(f"{float(text):.4f}".rstrip("0") for text in letters.values())


@pytest.mark.parametrize(("text", "observer"), [("10", 10), ("10°", 10), ("2 degree", 2), ("", 2)])
def test_the_observer_may_be_written_with_its_degrees(text, observer):
    assert read(row(L="60", a="1", b="2", observer=text)).markers[0].reading(1).observer == observer


def test_a_spectrum_gives_its_lab_exactly():
    header = "name,kind," + ",".join(f"{nm} nm" for nm in WAVELENGTHS_NM)
    palette = read("Moss,marker," + ",".join(f"{value:.6f}" for value in SMOOTH), header)
    reading = palette.markers[0].reading(1)
    assert reading.reflectance == pytest.approx(SMOOTH, abs=1e-6)
    assert delta_e_2000(reflectance_to_lab(SMOOTH), reading.lab) < 0.001
    assert reading.typed == "spectrum of 36 bands, 380 to 730 nm"


def test_spectra_of_two_instruments_and_hex_stand_in_one_file():
    wide, narrow = range(380, 731, 10), range(400, 701, 20)
    header = "name,kind,hex," + ",".join(map(str, wide))
    first = ["A", "marker", ""] + [f"{value:.5f}" for value in SMOOTH]
    second = ["B", "marker", ""] + [
        f"{v:.1%}" if nm in narrow else "" for nm, v in zip(wide, SMOOTH, strict=True)
    ]
    third = ["C", "marker", "#667744"] + [""] * 36
    palette = read("\n".join(",".join(cells) for cells in (first, second, third)), header)
    expected = resample_reflectance(list(narrow), np.round(SMOOTH[2:33:2], 3))
    assert palette.markers[1].reading(1).reflectance == pytest.approx(expected)
    assert delta_e_2000(palette.markers[0].lab, palette.markers[1].lab) < 0.5
    assert palette.markers[2].reading(1).reflectance is None


def test_a_reflectance_above_one_counts_for_the_colour_and_is_kept_as_one():
    nm = list(range(400, 701, 10))
    glowing = np.full(31, 0.9)
    glowing[3:6] = 1.08
    reading = reading_from_spectrum(nm, glowing)
    assert reading.reflectance.max() == 1.0
    assert reading.lab == pytest.approx(reflectance_to_lab(resample_reflectance(nm, glowing)))


def test_readings_made_in_python_are_those_of_a_file():
    file = read(row(hex="#667744", note="") + "\n" + row(name="Fern", L="50", a="-20", b="20", light="D65"))
    assert file.markers[0].reading(1) == reading_from_hex("#674")
    assert file.markers[1].reading(1) == reading_from_lab([50, -20, 20], "D65", 2)


@pytest.mark.parametrize(
    "make",
    [
        lambda: reading_from_hex("#12345"),
        lambda: reading_from_lab([50, np.nan, 0]),
        lambda: reading_from_lab([101, 0, 0]),
        lambda: reading_from_lab([50, 0, 0], "C"),
        lambda: reading_from_lab([50, 0, 0], "D65", 4),
        lambda: reading_from_spectrum([400, 500, 600, 700], [0.1, 0.2, 0.3, 0.4]),
        lambda: reading_from_spectrum(range(400, 701, 10), [2.0] * 31),
        lambda: reading_from_spectrum(range(400, 701, 10), [0.2] * 30),
    ],
)
def test_readings_made_in_python_are_checked_like_a_file(make):
    with pytest.raises(PaletteError) as caught:
        make()
    assert caught.value.problems


# ---------------------------------------------------------------- what belongs together


def test_a_marker_may_have_a_row_for_each_number_of_coats():
    text = "\n".join(
        [
            row(name="Snow", kind="paper", hex="#ffffff"),
            row(coats="3", hex="#334411", on="snow"),
            row(hex="#667744", family="moss", note="a note"),
            row(name="  MOSS ", coats="2", hex="#445522"),
        ]
    )
    [marker] = read(text).markers
    assert [coats for coats, _ in marker.readings] == [1, 2, 3]
    assert marker.reading(2).typed == "#445522"
    assert marker.reading(4) is None
    assert marker.lab.tolist() == marker.reading(1).lab.tolist()
    assert (marker.on, marker.family, marker.note) == ("Snow", "moss", "a note")


def test_a_pattern_is_one_paper_whose_colour_is_the_mean_of_the_light():
    text = "\n".join(
        [
            row(name="check, dark", kind="paper", hex="#000000", pattern="Check", share="25%").replace(
                "check, dark", '"check, dark"'
            ),
            row(name="light", kind="paper", hex="#ffffff", pattern="check", share="0.74", coat_limit="3"),
        ]
    )
    [paper] = read(text).papers
    assert paper.name == "Check"
    assert [(part.name, part.share) for part in paper.pattern] == [
        ("light", pytest.approx(0.74 / 0.99)),
        ("check, dark", pytest.approx(0.25 / 0.99)),
    ]
    assert lab_to_xyz1(paper.lab)[1] == pytest.approx(0.74 / 0.99)
    assert paper.coat_limit == 3
    assert read(text).find("LIGHT").name == "Check"


def test_shares_may_be_percentages_that_sum_to_100():
    text = "\n".join(
        row(name=f"part {share}", kind="ribbon", pattern="Stripe", share=share) for share in ("60", "40")
    )
    assert [part.share for part in read(text).ribbons[0].pattern] == [0.6, 0.4]


@pytest.mark.parametrize(
    ("finish", "rough"),
    [("matt", False), ("gloss", False), ("pearl", True), ("glitter", True), ("FOIL", True)],
)
def test_pearl_glitter_and_foil_are_rough(finish, rough):
    for kind in ("marker", "paper", "ribbon", "ink"):
        item = read(row(kind=kind, finish=finish)).items[0]
        assert (item.finish, item.rough) == (finish.casefold(), rough)


def test_columns_may_stand_in_any_order_and_case_with_others_between():
    palette = read("top,#667744,Moss, MARKER ", "shelf,HEX,Name , Kind")
    assert palette.marker("moss").reading(1).typed == "#667744"


def test_a_drawer_without_rows_is_an_empty_drawer():
    assert read("").items == ()


def test_blank_rows_are_passed_over_and_kept():
    palette = read(f"\n,,,\n{row()}\n")
    assert len(palette.markers) == 1
    assert len(palette.sheet.rows) == 3


# ---------------------------------------------------------------- faults


@pytest.mark.parametrize(
    ("text", "where", "found"),
    [
        (row(L="nan", a="0", b="0"), "column L", "'nan'"),
        (row(L="50", a="inf", b="0"), "column a", "'inf'"),
        (row(L="50", a="0", b="-Infinity"), "column b", "'-Infinity'"),
        (row(L="100.5", a="0", b="0"), "column L", "'100.5'"),
        (row(L="-1", a="0", b="0"), "column L", "'-1'"),
        (row(L="50", a="161", b="0"), "column a", "'161'"),
        (row(L="50", a="0"), "column b", "nothing"),
        (row(hex="#66774"), "column hex", "'#66774'"),
        (row(hex="red"), "column hex", "'red'"),
        (row(hex=""), "column hex", "no colour"),
        (row(hex="#667744", L="50", a="0", b="0"), "column hex", "hex and Lab"),
        (row(kind="pen"), "column kind", "'pen'"),
        (row(kind=""), "column kind", "nothing"),
        (row(name=""), "column name", "no name"),
        (row(name="M" * 121), "column name", "121 characters"),
        (row(name='"Mo\nss"'), "column name", "'Mo\\nss'"),
        (row(light="C"), "column light", "'C'"),
        (row(observer="4"), "column observer", "'4'"),
        (row(coats="0"), "column coats", "'0'"),
        (row(coats="5"), "column coats", "'5'"),
        (row(coats="1.5"), "column coats", "'1.5'"),
        (row(coats="2"), "column coats", "'Moss' without a row of one coat"),
        (row(kind="paper", coats="2"), "column coats", "2 for paper"),
        (row(finish="shiny"), "column finish", "'shiny'"),
        (row(on="Snow"), "column on", "'Snow'"),
        (row(kind="paper", on="Moss"), "column on", "'Moss' for paper"),
        (row(pattern="Check", share="1"), "column pattern", "'Check' for marker"),
        (row(kind="paper", pattern="Check"), "column share", "nothing"),
        (row(kind="paper", share="0.5"), "column share", "'0.5'"),
        (row(kind="paper", pattern="Check", share="0"), "column share", "'0'"),
        (
            row(kind="paper", pattern="Check", share="0.5"),
            "column share",
            "shares of 'Check' that sum to 0.5",
        ),
        (row(kind="paper", coat_limit="0"), "column coat_limit", "'0'"),
        (row(coat_limit="4"), "column coat_limit", "4 for marker"),
        (row(uncertainty="-1"), "column uncertainty", "'-1'"),
        (row() + ",0.5", "", "18 cells, the last '0.5'"),
    ],
)
def test_a_bad_cell_is_reported_with_its_line_and_column(text, where, found):
    assert faults(f"{row(name='Fine')}\n{text}") == [(f"line 3, {where}".removesuffix(", "), found)]


@pytest.mark.parametrize(
    ("second", "where", "found"),
    [
        (row(name="moss"), "line 3, column name", "'moss' with one coat, as on line 2"),
        (row(name="Moss", kind="ink"), "line 3, column name", "'Moss', as on line 2"),
        (
            row(name="a", kind="paper", pattern="Moss", share="1"),
            "line 3, column pattern",
            "'Moss', the name on line 2",
        ),
        (row(coats="2", family="fern"), "line 2, column family", "moss and fern"),
    ],
)
def test_names_that_clash_are_reported_with_both_lines(second, where, found):
    assert faults(f"{row(family='moss')}\n{second}") == [(where, found)]


def test_swatches_of_one_marker_lie_on_one_paper():
    papers = f"{row(name='Snow', kind='paper')}\n{row(name='Kraft', kind='paper')}\n"
    swatches = f"{row(on='Snow')}\n{row(on='Kraft', coats='2')}"
    assert faults(papers + swatches) == [("line 4, column on", "Snow and Kraft")]


def test_a_patterned_paper_is_no_ground_for_swatches():
    pattern = row(name="ground", kind="paper", pattern="Check", share="1")
    assert faults(f"{pattern}\n{row(on='Check')}") == [("line 3, column on", "'Check'")]


@pytest.mark.parametrize(
    ("header", "found"),
    [
        ("kind,hex", ["no column name among kind, hex"]),
        ("name,hex", ["no column kind among name, hex"]),
        ("name,kind", ["no column for a colour among name, kind"]),
        ("name,kind,L,a", ["only L and a of L, a, b"]),
        ("name,kind,hex,Hex", ["two columns 'Hex'"]),
        ("name,kind,400,400nm", ["two columns '400nm'"]),
        (
            "shelf",
            [
                "no column name among shelf",
                "no column kind among shelf",
                "no column for a colour among shelf",
            ],
        ),
    ],
)
def test_missing_and_doubled_headings_are_reported(header, found):
    assert faults("", header) == [("header line", text) for text in found]


SPECTRAL = "name,kind," + ",".join(str(nm) for nm in range(400, 701, 10))


@pytest.mark.parametrize(
    ("change", "where", "found"),
    [
        ({7: ""}, "column 470", "30 values from 400 to 700 nm"),
        ({7: "1.6"}, "column 470", "'1.6'"),
        ({7: "nan"}, "column 470", "'nan'"),
        ({7: "-0.5"}, "column 470", "'-0.5'"),
        ({7: "35"}, "column 470", "'35'"),
        (dict.fromkeys(range(20, 31), ""), "column 400", "20 values from 400 to 590 nm"),
        (dict.fromkeys(range(5, 9), ""), "column 450", "27 values from 400 to 700 nm"),
    ],
)
def test_a_spectrum_with_a_gap_or_a_wild_value_is_reported(change, where, found):
    values = ["0.5"] * 31
    for index, text in change.items():
        values[index] = text
    assert faults("Moss,marker," + ",".join(values), SPECTRAL) == [(f"line 2, {where}", found)]


def test_all_faults_of_all_rows_are_reported_together():
    bad = [row(name=f"m{n}", L="nan", a="inf", b="1e9", kind="pen", light="X") for n in range(50)]
    found = faults("\n".join(bad))
    assert len(found) == 250
    assert {where for where, _ in found} >= {"line 2, column L", "line 51, column kind"}


def test_faults_are_reported_in_the_order_of_the_lines():
    text = "\n".join([row(), row(coats="1"), row(name="Fern", kind="pen"), row(name="Fern", on="Nowhere")])
    assert [where.split(",")[0] for where, _ in faults(text)] == ["line 3", "line 4", "line 5", "line 5"]


@patient
@given(
    st.lists(
        st.dictionaries(
            st.sampled_from(COLUMNS + ("450", "shelf")),
            st.one_of(
                st.text(max_size=6),
                st.sampled_from(
                    ["marker", "paper", "ink", "#123456", "50", "-20", "D65", "10", "2", "0.5", "foil", "A"]
                ),
            ),
        ),
        max_size=5,
    )
)
def test_any_rows_are_read_or_every_problem_is_named(rows):
    header = (*COLUMNS, "450", "shelf")
    sheet = decode_sheet((",".join(header) + "\n").encode(), "x")
    sheet = replace(sheet, rows=tuple(tuple(cells.get(key, "") for key in header) for cells in rows))
    try:
        palette = palette_from_sheet(sheet)
    except PaletteError as error:
        assert error.problems  # noqa: PT017
        assert all(problem.where and problem.found and problem.accepted for problem in error.problems)  # noqa: PT017
    else:
        for item in palette.items:
            assert np.isfinite(item.lab).all()


words = st.text(alphabet="abcXYZ éß-+=@'\",;", min_size=1, max_size=8).filter(lambda text: text.strip())
labs = st.tuples(st.integers(0, 1000), st.integers(-600, 600), st.integers(-600, 600))


@patient
@given(
    names=st.lists(words, min_size=1, max_size=6, unique_by=name_key),
    colours=st.lists(labs, min_size=6, max_size=6),
    light=st.sampled_from(["D50", "D65", "A"]),
    note=words,
    habit=st.sampled_from(
        [(",", ".", "utf-8", "\n"), (";", ",", "utf-8-sig", "\r\n"), ("\t", ",", "utf-16-le", "\r\n")]
    ),
)
def test_a_palette_written_and_read_is_the_same_palette(names, colours, light, note, habit):
    delimiter, decimal, encoding, newline = habit
    sheet = replace(
        decode_sheet(b"name,kind,L,a,b,light,note,shelf\n", "x"),
        delimiter=delimiter,
        decimal=decimal,
        encoding=encoding,
        newline=newline,
        bom=encoding == "utf-16-le",
        rows=tuple(
            (name, "marker", *(f"{value / 10}".replace(".", decimal) for value in lab), light, note, "=1")
            for name, lab in zip(names, colours, strict=False)
        ),
    )
    first = palette_from_sheet(sheet)
    second = palette_from_sheet(decode_sheet(encode_sheet(sheet), "x"))
    assert second.markers == first.markers
    assert [marker.name for marker in first.markers] == [name.strip() for name in names]
    assert second.sheet == sheet


def test_what_is_used_up_what_it_costs_and_a_blender_without_colour_are_read():
    rows = ("fern,marker,#88aa66,yes,3.5", "moss,marker,#446633,,", "clear water,blender,,no,4")
    text = "\n".join(("name,kind,hex,out,price", *rows, ""))
    palette = palette_from_sheet(decode_sheet(text.encode(), "drawer.csv"))
    assert [(m.out, m.price) for m in palette.markers] == [(True, 3.5), (False, None)]
    assert [(b.name, b.out, b.price) for b in palette.blenders] == [("clear water", False, 4.0)]
    assert "clear water" not in palette.names
    with pytest.raises(PaletteError) as caught:
        palette_from_sheet(decode_sheet(text.replace("3.5", "-1").replace(",no", ",gone").encode(), "d.csv"))
    assert [(p.line, p.key) for p in caught.value.problems] == [(2, "price"), (4, "out")]
