"""Picture reports of every answer."""

import re

import numpy as np
import pytest

from blendkit.advice.doubles import find_doubles
from blendkit.advice.gaps import find_gaps
from blendkit.advice.kit import Target, find_kit
from blendkit.advice.order import find_order, predict_layers
from blendkit.advice.pairs import find_pair
from blendkit.advice.papers import find_matches
from blendkit.advice.schemes import find_schemes
from blendkit.advice.skin import find_skin
from blendkit.errors import PaletteError, SheetError
from blendkit.sheets.canvas import PAGE
from blendkit.sheets.report import draw_report, write_report

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


def pixels(canvas):
    canvas.figure.canvas.draw()
    return np.asarray(canvas.figure.canvas.buffer_rgba())[..., :3].astype(int)


@pytest.mark.parametrize("name", ANSWERS)
def test_nothing_of_a_report_touches_the_edge_of_its_page(name, demo):
    """Clipped words or swatches would leave ink on the outermost rows and columns."""
    shown = pixels(draw_report(ANSWERS[name](demo)))
    page = np.array([int(PAGE[place : place + 2], 16) for place in (1, 3, 5)])
    for edge in (shown[:6], shown[-6:], shown[:, :6], shown[:, -6:]):
        assert np.abs(edge - page).max() <= 2


def test_the_base_is_drawn_in_the_colour_of_the_record(demo):
    record = find_pair(demo, "moss stone noon")
    shown = pixels(draw_report(record))
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
        draw_report(object())
