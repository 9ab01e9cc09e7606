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
from blendkit.palette import read_palette
from blendkit.report.canvas import PAGE, WARNING
from blendkit.report.report import draw_report, write_report

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
    shown = pixels(draw_report(record))
    page = np.array([int(PAGE[place : place + 2], 16) for place in (1, 3, 5)])
    for edge in (shown[:6], shown[-6:], shown[:, :6], shown[:, -6:]):
        assert np.abs(edge - page).max() <= 2


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
        assert np.any(np.all(pixels(draw_report(record)) == warning, axis=-1))
    fine = predict_layers(palette, ["pale"])
    assert not np.any(np.all(pixels(draw_report(fine)) == warning, axis=-1))


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
