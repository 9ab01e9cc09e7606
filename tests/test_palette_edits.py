"""Edits of a palette: each gives a new palette whose sheet is changed in the rows concerned alone."""

import numpy as np
import pytest

from blendkit.errors import PaletteError
from blendkit.palette import (
    empty_palette,
    read_palette,
    reading_from_hex,
    reading_from_lab,
    reading_from_spectrum,
)
from blendkit.palette.palette import palette_from_sheet
from blendkit.palette.table import decode_sheet, encode_sheet

TEXT = """shelf;name;kind;hex;L;a;b;on;coats;family;light
A;Snow;paper;#ffffff;;;;;;;
A;Kraft;paper;;60,5;8;22;;;;
B;ember;marker;;50;40,5;30;snow;;ember;D50
B;ember;marker;;42;44;31;;2;;
C;moss;marker;#667744;;;;snow;;moss;
"""


@pytest.fixture
def palette():
    return palette_from_sheet(decode_sheet(TEXT.encode(), "drawer.csv"))


def text_of(palette):
    return encode_sheet(palette.sheet).decode()


def test_a_new_marker_goes_to_the_end_in_the_files_own_way_of_writing(palette):
    reading = reading_from_lab([61.25, -12.5, 3], "D65", 10, uncertainty=1.5, setup="camera")
    changed = palette.with_marker("fern", reading, on="Snow", family="fern", note="=new")
    assert (
        text_of(changed).splitlines()[-1] == ";fern;marker;;61,25;-12,5;3;Snow;;fern;D65;10;1,5;camera;'=new"
    )
    assert text_of(changed).splitlines()[1:6] == TEXT.splitlines()[1:]
    assert changed.marker("fern").reading(1) == reading
    assert changed.marker("fern").note == "=new"
    assert "fern" not in palette.names


def test_papers_ribbons_and_inks_can_be_added(palette):
    changed = (
        palette.with_paper("Gold", reading_from_hex("#b8963e"), finish="foil", coat_limit=1)
        .with_paper("Twine", reading_from_hex("#ccbb99"), kind="ribbon")
        .with_ink("Lamp black", reading_from_hex("#202020"), note="outline")
    )
    assert changed.paper("gold").rough
    assert changed.paper("gold").coat_limit == 1
    assert [ribbon.name for ribbon in changed.ribbons] == ["Twine"]
    assert changed.find("lamp black").note == "outline"


def test_a_spectrum_is_written_into_columns_of_its_own(palette):
    reading = reading_from_spectrum(range(380, 731, 10), np.linspace(0.1, 0.8, 36))
    changed = palette.with_marker("wheat", reading)
    assert changed.marker("wheat").reading(1).reflectance == pytest.approx(reading.reflectance, abs=1e-6)
    assert changed.marker("wheat").lab == pytest.approx(reading.lab, abs=1e-3)
    again = changed.with_reading("wheat", 1, reading_from_hex("#998877"))
    assert again.marker("wheat").reading(1).reflectance is None


def test_a_newer_reading_replaces_the_older_which_is_retired(palette):
    changed = palette.with_reading("Ember", 2, reading_from_hex("#884433"))
    assert changed.marker("ember").reading(2).typed == "#884433"
    assert changed.marker("ember").reading(1) == palette.marker("ember").reading(1)
    [retired] = changed.retired
    assert dict(retired)["L"] == "42"
    assert dict(retired)["reason"] == "measured again"


def test_a_reading_of_more_coats_gets_a_row_after_the_others(palette):
    changed = palette.with_reading("moss", 3, reading_from_lab([30, -5, 12])).with_reading(
        "ember", 3, reading_from_lab([38, 44, 30])
    )
    assert [coats for coats, _ in changed.marker("ember").readings] == [1, 2, 3]
    assert [coats for coats, _ in changed.marker("moss").readings] == [1, 3]
    assert [line.split(";")[1] for line in text_of(changed).splitlines()[3:]] == ["ember"] * 3 + ["moss"] * 2
    assert changed.retired == ()


def test_a_reading_on_another_paper_retires_those_on_the_old_one(palette):
    changed = palette.with_reading("ember", 1, reading_from_lab([45, 38, 31]), on="Kraft")
    marker = changed.marker("ember")
    assert marker.on == "Kraft"
    assert [coats for coats, _ in marker.readings] == [1]
    assert [dict(row)["reason"] for row in changed.retired] == ["measured on another paper"] * 2


def test_what_is_taken_out_is_retired_and_nothing_else_changes(palette):
    changed = palette.without("ember")
    assert changed.names == ("moss", "Snow", "Kraft")
    assert len(changed.retired) == 2
    assert text_of(changed).splitlines() == [line for line in TEXT.splitlines() if "ember" not in line]


def test_a_paper_under_swatches_cannot_be_taken_out(palette):
    with pytest.raises(PaletteError, match="column on"):
        palette.without("Snow")
    assert palette.without("Kraft").names == ("ember", "moss", "Snow")


def test_a_renamed_paper_is_renamed_wherever_it_is_named(palette):
    changed = palette.renamed("snow", "Frost")
    assert [marker.on for marker in changed.markers] == ["Frost", "Frost"]
    with pytest.raises(PaletteError, match="each name once"):
        palette.renamed("moss", "Snow")


def test_details_are_set_in_every_row_of_a_thing(palette):
    changed = palette.with_details("ember", family="fire", note="for lanterns")
    assert changed.marker("ember").family == "fire"
    assert text_of(changed).count("for lanterns") == 2
    with pytest.raises(PaletteError, match="family, finish, note, coat_limit, on, out, price"):
        palette.with_details("ember", colour="3")
    with pytest.raises(PaletteError, match="column finish"):
        palette.with_details("ember", finish="shiny")


def test_an_edit_that_would_make_a_bad_file_is_refused(palette):
    with pytest.raises(PaletteError, match="each name once"):
        palette.with_marker("SNOW", reading_from_hex("#112233"))
    with pytest.raises(PaletteError, match="a plain paper of this file"):
        palette.with_marker("fern", reading_from_hex("#112233"), on="Nowhere")
    with pytest.raises(PaletteError, match="column name"):
        palette.with_marker("two\nlines", reading_from_hex("#112233"))


def test_a_pattern_is_not_measured_as_one_colour():
    text = "name,kind,hex,pattern,share\na,paper,#ffffff,Check,0.5\nb,paper,#000000,Check,0.5\n"
    palette = palette_from_sheet(decode_sheet(text.encode(), "x"))
    with pytest.raises(PaletteError, match="pattern"):
        palette.with_reading("Check", 1, reading_from_hex("#888888"))
    assert palette.without("Check").items == ()


def test_an_empty_palette_can_be_filled(tmp_path):
    palette = empty_palette().with_paper("Snow", reading_from_hex("#fdfdfd"))
    palette = palette.with_marker("moss", reading_from_lab([50, -10.5, 20]), on="snow")
    path = tmp_path / "new.csv"
    path.write_bytes(encode_sheet(palette.sheet))
    assert read_palette(path).markers == palette.markers


def test_a_misspelt_name_gets_the_nearest_names(palette):
    with pytest.raises(PaletteError, match="one of: ember"):
        palette.marker("embre")
    with pytest.raises(PaletteError, match="'Snow', which is a paper"):
        palette.marker("snow")
    with pytest.raises(PaletteError, match="one of: Kraft"):
        palette.paper("craft")
    with pytest.raises(PaletteError, match="there is none yet"):
        empty_palette().find("anything")


def test_families_are_given_from_light_to_dark(palette):
    changed = palette.with_marker("ember pale", reading_from_lab([70, 20, 15]), family="ember")
    assert [marker.name for marker in changed.families["ember"]] == ["ember pale", "ember"]
    assert set(changed.families) == {"ember", "moss"}
