"""The colourless blender: out of every search, in orders, measured on a chart, kept with the marker."""

import io
import json

import numpy as np
import pytest
from simulate import spectra
from simulate.desk import coloured_scan

from blendkit.advice.doubles import find_doubles
from blendkit.advice.gaps import find_gaps
from blendkit.advice.kit import Target, find_kit
from blendkit.advice.order import find_order
from blendkit.advice.pairs import find_pair
from blendkit.chart.chart import make_chart, rebuild_chart
from blendkit.chart.code import layout_from_code
from blendkit.chart.description import read_chart_file, write_chart_file
from blendkit.chart.scan import read_scan
from blendkit.chart.scan_record import lifts_for
from blendkit.cli.app import main
from blendkit.colour import delta_e_2000
from blendkit.errors import ColourError, PaletteError, SheetError
from blendkit.inked import ink_drawer
from blendkit.palette import demo_palette_path, read_palette, update_palette
from blendkit.palette.palette import palette_from_sheet
from blendkit.palette.store import read_history
from blendkit.palette.table import decode_sheet
from blendkit.records import to_json

NAME = "Morning mist"
MARKERS = ("rosehip dawn", "blue jug noon", "moss stone dawn", "lantern glow dusk")


def drawer(*rows, header="name,kind,hex,on,lift,out"):
    text = "\n".join((header, "card,paper,#f6f5f1,,,", *rows, ""))
    return palette_from_sheet(decode_sheet(text.encode(), "drawer.csv"))


# ---------------------------------------------------------------- out of what looks for colours


def test_a_blender_is_in_no_pair_double_gap_or_kit(demo):
    assert [one.name for one in demo.blenders] == [NAME]
    answers = (
        find_pair(demo, "rosehip dawn", all_ways=True, count=50),
        find_doubles(demo, threshold=3.0),
        find_gaps(demo, shop=demo),
        find_kit(demo, [Target("#f4f1ea"), Target("#c8553d")]),
    )
    for answer in answers:
        assert NAME not in json.dumps(to_json(answer))


def test_a_blender_asked_about_as_a_colour_is_said_to_have_none(demo):
    with pytest.raises(PaletteError, match="is a colourless blender: it has no colour"):
        find_pair(demo, "morning-mist")


# ---------------------------------------------------------------- order


def test_until_its_lift_is_measured_a_blenders_step_shows_no_colour_and_says_that_it_is_not_known(demo):
    answer = find_order(demo, "rosehip dawn", ["rosehip noon"], blender=("lift",))
    last = answer.steps[-1]
    assert (last.marker, last.lab, last.hex, last.lay) == (NAME, None, "", 0)
    assert any("isn't known" in words and "--blender" in words for words in answer.words)
    assert "white" not in answer.steps[1].where  # the highlight is lifted, so the base goes everywhere


def test_a_measured_lift_gives_the_colour_between_the_coat_and_the_paper():
    held = drawer("sky,marker,#5a8fc0,card,0.6,", "deep,marker,#2a5f90,card,,", "mist,blender,,,,")
    answer = find_order(held, "sky", ["deep"], blender=("fade", "lift"))
    fade, lift = answer.steps[-2:]
    assert fade.marker == lift.marker == "mist"
    assert answer.base.lab[0] + 3 < lift.lab[0] < held.paper("card").lab[0] - 3
    assert any("lifts most of it" in words for words in answer.words)


def test_without_a_blender_at_hand_the_steps_are_refused_with_what_to_do():
    for row in ("sky,marker,#5a8fc0,card,,", "mist,blender,,,,yes"):
        held = drawer("sky,marker,#5a8fc0,card,,", *[row] * (row[:4] == "mist"))
        with pytest.raises(PaletteError, match="no colourless blender at hand"):
            find_order(held, "sky", ["sky"], blender=("fade",))
    with pytest.raises(ColourError, match="accepted: fade, lift"):
        find_order(held, "sky", ["sky"], blender=("scrub",))


def test_a_pass_of_the_blender_wets_the_paper_as_a_coat_does(demo):
    steps = find_order(demo, "rosehip dawn", ["rosehip noon"], blender=("lift",)).steps
    assert steps[-1].coat == 2  # the base lies there once
    assert steps[-1].do == "one pass, no ink"


# ---------------------------------------------------------------- the chart and its reading back


@pytest.fixture(scope="module")
def lifted(demo):
    """A chart with blender boxes, coloured by dyes that follow another law than the ink model."""
    chart = make_chart(demo, names=MARKERS, lifts=True)
    rng = np.random.default_rng(812)
    paper = spectra.paper_reflectance(rng)
    labs, truth = {}, {}
    for name, share in zip(MARKERS, (0.3, 0.55, 0.75, 0.9), strict=True):
        dye = spectra.ink_absorption(rng)
        labs[name] = spectra.reflectance_to_lab(spectra.inked_reflectance(paper, dye, 1.0))
        labs[name, "lift"] = spectra.reflectance_to_lab(spectra.inked_reflectance(paper, dye, 1.0 - share))
        truth[name] = share
    picture = coloured_scan(chart, labs, spectra.reflectance_to_lab(paper))
    return chart, read_scan(io.BytesIO(picture).getvalue(), chart.spec, palette=demo), truth


def test_what_a_blender_lifts_is_read_back_from_its_box(lifted, demo):
    _, record, truth = lifted
    found = {one.marker: one.lift for one in lifts_for(record, demo)}
    assert set(found) == set(truth)
    off = [abs(found[name] - truth[name]) for name in truth]
    assert max(off) < 0.2, off
    assert [name for name, _ in sorted(found.items(), key=lambda one: one[1])] == sorted(truth, key=truth.get)


def test_a_lift_is_kept_in_the_markers_row_and_the_one_before_in_the_history(lifted, tmp_path):
    file = tmp_path / "drawer.csv"
    file.write_text(demo_palette_path().read_text("utf-8"), encoding="utf-8")
    update_palette(file, lambda palette: palette.with_lift("rosehip dawn", 0.4))
    assert read_palette(file).marker("rosehip dawn").lift == 0.4
    assert read_history(file) == ()
    update_palette(file, lambda palette: palette.with_lift("rosehip dawn", 0.55))
    assert read_palette(file).marker("rosehip dawn").lift == 0.55
    (earlier,) = read_history(file)
    assert "what a blender lifts was measured again" in str(earlier)
    assert "0.4" in str(earlier)


def test_a_lift_on_one_paper_is_not_taken_for_that_on_another():
    held = drawer("other,paper,#eeeeee,,,", "sky,marker,#5a8fc0,card,0.6,")
    again = held.with_reading("sky", 1, held.marker("sky").readings[0][1], on="card")
    moved = held.with_reading("sky", 1, held.marker("sky").readings[0][1], on="other")
    second = held.with_reading("sky", 2, held.marker("sky").readings[0][1])
    assert (again.marker("sky").lift, moved.marker("sky").lift, second.marker("sky").lift) == (0.6, None, 0.6)


@pytest.mark.parametrize("cell", ["1.2", "-0.1", "much"])
def test_a_lift_that_is_no_share_is_refused(cell):
    with pytest.raises(PaletteError, match="a share from 0 to 1"):
        drawer(f"sky,marker,#5a8fc0,card,{cell},")
    with pytest.raises(PaletteError, match="only one coat of a marker has a lift"):
        drawer("sky,ink,#5a8fc0,,0.5,")


def test_boxes_for_the_blender_have_a_code_of_their_own_and_no_colour_expected_until_it_is_known(
    demo, tmp_path
):
    chart = make_chart(demo, names=MARKERS, lifts=True)
    assert all(code.startswith("BK2:") for code in chart.codes)
    assert all(code.startswith("BK1:") for code in make_chart(demo, names=MARKERS).codes)
    boxes = [box for box in chart.spec.pages[0].boxes if box.kind == "lift"]
    assert sorted(box.markers[0] for box in boxes) == sorted(MARKERS)
    assert all(box.expected_lab is None for box in boxes)
    write_chart_file(chart.spec, tmp_path / "one.chart.json")
    assert read_chart_file(tmp_path / "one.chart.json") == chart.spec
    measured = make_chart(demo.with_lift(MARKERS[0], 0.5), names=MARKERS, lifts=True).spec.pages[0].boxes
    assert sum(box.kind == "lift" and box.expected_lab is not None for box in measured) == 1


def test_a_section_for_the_blender_in_a_code_of_version_1_is_damage():
    with pytest.raises(SheetError, match="damaged"):
        layout_from_code("BK1:7F3A2K:1/1:A4P:15X11E:S4-1:L4")
    assert layout_from_code("BK2:7F3A2K:1/1:A4P:15X11E:S4-1:L4").sections[1].kind == "L"


def test_a_chart_with_blender_boxes_is_rebuilt_from_its_codes(demo):
    chart = make_chart(demo, families=["rosehip"], lifts=True)
    assert rebuild_chart(chart.codes, demo).pages == chart.spec.pages
    assert any(box.kind == "lift" for box in rebuild_chart(chart.codes).pages[0].boxes)


def test_the_share_that_explains_a_lifted_colour_is_found_again(demo):
    inked = ink_drawer(demo)
    row = inked.row("blue jug noon")
    for share in (0.0, 0.25, 0.7, 1.0):
        left = inked.lab_after((1 - share) * inked.lay([row]))[0]
        assert abs(inked.find_lift(inked.lab[row], left) - share) <= 0.02
        assert float(delta_e_2000(left, inked.lab[row])) >= 0


def test_the_loop_of_commands_measures_keeps_and_uses_a_lift(lifted, tmp_path, capsys):
    chart, _, truth = lifted
    file = tmp_path / "drawer.csv"
    file.write_text(demo_palette_path().read_text("utf-8"), encoding="utf-8")
    rng = np.random.default_rng(812)
    paper = spectra.paper_reflectance(rng)
    labs = {}
    for name, share in truth.items():
        dye = spectra.ink_absorption(rng)
        labs[name] = spectra.reflectance_to_lab(spectra.inked_reflectance(paper, dye, 1.0))
        labs[name, "lift"] = spectra.reflectance_to_lab(spectra.inked_reflectance(paper, dye, 1.0 - share))
    (tmp_path / "one.png").write_bytes(coloured_scan(chart, labs, spectra.reflectance_to_lab(paper)))
    write_chart_file(chart.spec, tmp_path / "one.chart.json")
    main_words(["scan", str(tmp_path / "one.png"), "--into", str(file), "--yes", "--replace-surer"])
    told = capsys.readouterr().out
    assert "What the colourless blender does to one dry coat" in told
    assert all(read_palette(file).marker(name).lift is not None for name in MARKERS)
    main_words(["order", "rosehip dawn", "rosehip noon", "--lift", "--palette", str(file), "--json"])
    steps = json.loads(capsys.readouterr().out)["steps"]
    assert steps[-1]["marker"] == NAME
    assert steps[-1]["hex"].startswith("#")


def main_words(arguments):
    with pytest.raises(SystemExit) as stop:
        main(arguments)
    assert stop.value.code in (0, None)
