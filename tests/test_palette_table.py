"""Palette tables: the spreadsheet's habits are found, kept and written back; nothing is written live."""

import codecs
import csv
import io
import string

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from blendkit.errors import PaletteError
from blendkit.palette.table import (
    Sheet,
    decode_sheet,
    encode_sheet,
    guarded,
    parse_number,
    show_number,
    unguarded,
    wavelength_nm,
    would_run,
)

patient = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])

COMMA = "name,kind,L,a,b,shelf\nMoss,marker,60.5,-20.25,30,top\n"
SEMICOLON = "name;kind;L;a;b;shelf\r\nMoss;marker;60,5;-20,25;30;top\r\n"
TAB = "name\tkind\tL\ta\tb\tshelf\rMoss\tmarker\t60,5\t-20,25\t30\ttop\r"


@pytest.mark.parametrize("text", [COMMA, SEMICOLON, TAB, SEMICOLON.rstrip("\r\n"), "sep=;\r\n" + SEMICOLON])
@pytest.mark.parametrize(
    ("start", "encoding"),
    [
        (b"", "utf-8"),
        (codecs.BOM_UTF8, "utf-8"),
        (codecs.BOM_UTF16_LE, "utf-16-le"),
        (codecs.BOM_UTF16_BE, "utf-16-be"),
        (b"", "utf-16-le"),
        (b"", "utf-16-be"),
    ],
)
def test_a_file_is_written_back_byte_for_byte(text, start, encoding):
    data = start + text.replace("Moss", "Möss ü").encode(encoding)
    sheet = decode_sheet(data, "drawer.csv")
    assert sheet.header == ("name", "kind", "L", "a", "b", "shelf")
    assert sheet.rows[0][0] == "Möss ü"
    assert encode_sheet(sheet) == data


@pytest.mark.parametrize(
    ("text", "decimal", "newline"), [(COMMA, ".", "\n"), (SEMICOLON, ",", "\r\n"), (TAB, ",", "\r")]
)
def test_the_decimal_mark_and_line_ends_are_found(text, decimal, newline):
    sheet = decode_sheet(text.encode(), "drawer.csv")
    assert (sheet.decimal, sheet.newline) == (decimal, newline)


def test_line_ends_within_a_cell_do_not_decide_those_of_the_file():
    data = b'name,kind,hex,note\r\nMoss,marker,#445522,"one\ntwo\nthree\nfour"\r\n'
    sheet = decode_sheet(data, "drawer.csv")
    assert sheet.newline == "\r\n"
    assert encode_sheet(sheet) == data


def test_a_row_knows_the_line_on_which_it_begins():
    data = b'name,kind,hex,note\nA,marker,#445522,"one\ntwo"\n\nB,marker,#445522,\n'
    sheet = decode_sheet(data, "drawer.csv")
    assert [sheet.line(index) for index in range(3)] == [2, 4, 5]


@pytest.mark.parametrize(
    ("data", "found"),
    [
        (b"", "an empty file"),
        (b" \r\n\t\n", "an empty file"),
        (codecs.BOM_UTF8, "an empty file"),
        (b"PK\x03\x04rest", "a workbook (.xlsx or .ods)"),
        (b"\x89PNG\r\n\x1a\n", "a PNG picture"),
        (bytes(range(256)) * 8, "no text"),
        (b"name,kind,hex\nCaf\xe9,marker,#445522\n", "byte 0xE9, which is not UTF-8"),
        (b"name,kind,hex\nMo\x07ss,marker,#445522\n", "control character 0x07"),
        (b'name,kind,hex\n"Moss,marker,#445522\n', "unexpected end of data"),
        (codecs.BOM_UTF16_LE + b"n\0a", "which is not UTF-16-LE"),
        (b"name,kind,hex\n" + b"x" * 200_000 + b",marker,#445522\n", "field larger than field limit"),
    ],
)
def test_what_is_no_table_is_refused_with_what_to_do(data, found):
    with pytest.raises(PaletteError) as caught:
        decode_sheet(data, "drawer.csv")
    [problem] = caught.value.problems
    assert found in problem.found
    assert problem.where.startswith("drawer.csv")
    assert problem.accepted


def test_a_byte_that_is_no_text_is_reported_with_its_line():
    with pytest.raises(PaletteError, match="line 3"):
        decode_sheet(b"name,kind,hex\nA,marker,#445522\nB\xff,marker,#445522\n", "drawer.csv")


@pytest.mark.parametrize(
    ("text", "value"),
    [("12", 12), ("-3,25", -3.25), ("+.5", 0.5), ("1e-2", 0.01), ("−7.5", -7.5), (" 4 ", 4), ("5.", 5)],
)
def test_numbers_have_a_decimal_point_or_comma(text, value):
    assert parse_number(text) == value


@pytest.mark.parametrize(
    "text",
    ["", "nan", "inf", "-inf", "1_000", "1.000,5", "1,000.5", "١٢", "12 mm", "1e999", "-1e999", "--1", "1e"],
)
def test_other_words_are_no_numbers(text):
    assert parse_number(text) is None


@patient
@given(st.floats(-1000, 1000), st.sampled_from([".", ","]))
def test_a_number_written_is_read_to_six_decimals(value, decimal):
    assert parse_number(show_number(value, decimal)) == pytest.approx(value, abs=5.1e-7)


@pytest.mark.parametrize("heading", ["450", "450nm", "450 nm", "R450", "nm450", "SPECTRAL_NM_450", " 450 "])
def test_a_wavelength_heading_may_be_written_in_many_ways(heading):
    assert wavelength_nm(heading) == 450


@pytest.mark.parametrize("heading", ["note", "45", "4500", "b450", ""])
def test_other_headings_are_no_wavelengths(heading):
    assert wavelength_nm(heading) is None


# OWASP, "CSV Injection" (owasp.org/www-community/attacks/CSV_Injection): the characters that begin a cell
# which spreadsheets run, with their full-width forms.
OWASP_STARTS = ["=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠"]


@pytest.mark.gold
@pytest.mark.parametrize("start", OWASP_STARTS)
def test_a_cell_that_a_spreadsheet_would_run_is_never_written_live(start):
    text = f'{start}HYPERLINK("http://example.com";"x")'
    sheet = Sheet(header=("name", text), rows=(("Moss", text),))
    written = list(csv.reader(io.StringIO(encode_sheet(sheet).decode(), newline="")))
    assert [row[1][0] for row in written] == ["'", "'"]
    assert decode_sheet(encode_sheet(sheet), "x") == sheet


@pytest.mark.parametrize("text", ["-12.5", "+3", "-1,5", "-1e-3"])
def test_a_negative_number_is_no_formula(text):
    assert not would_run(text)


@patient
@given(st.text(alphabet=string.printable + "=+-@'＝é", max_size=12))
def test_guarding_any_text_is_undone_exactly(text):
    assert unguarded(guarded(text)) == text
    assert not would_run(guarded(text))


cells = st.text(
    alphabet=st.characters(exclude_categories=["Cs", "Cc"], include_characters="\n\r\t,;\"'=+-@"), max_size=8
)
headers = st.lists(cells, min_size=1, max_size=6).map(lambda row: ("name", "kind", "hex", *row))


@patient
@given(
    header=headers,
    rows=st.lists(st.lists(cells, min_size=0, max_size=8), max_size=5),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16-le", "utf-16-be"]),
    delimiter=st.sampled_from([",", ";", "\t"]),
    newline=st.sampled_from(["\n", "\r\n", "\r"]),
)
def test_every_sheet_read_back_is_the_same(header, rows, encoding, delimiter, newline):
    sheet = Sheet(
        header=header,
        rows=tuple(map(tuple, rows)),
        encoding=encoding,
        bom=encoding.startswith("utf-16"),
        delimiter=delimiter,
        newline=newline,
        sep_line=True,
    )
    again = decode_sheet(encode_sheet(sheet), "x")
    assert again.header == sheet.header
    assert again.rows == sheet.rows
    assert (again.encoding, again.delimiter, again.newline) == (encoding, delimiter, newline)


@patient
@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(data):
    try:
        sheet = decode_sheet(data, "x")
    except PaletteError as error:
        assert error.problems  # noqa: PT017
    else:
        assert sheet.header
