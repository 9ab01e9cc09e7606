"""Layering orders and explicit stacks."""

import numpy as np
import pytest

from blendkit.advice.order import find_order, predict_layers
from blendkit.advice.pairs import find_pair
from blendkit.errors import ColourError, PaletteError
from blendkit.inked import ink_drawer
from blendkit.palette import read_palette
from blendkit.records import to_json


def test_one_coat_on_its_own_paper_is_the_swatch_as_measured(demo):
    marker = demo.marker("moss stone noon")
    answer = predict_layers(demo, [marker.name], on=marker.on or None)
    np.testing.assert_allclose(answer.coats[0].lab, marker.lab, atol=0.05)


def test_every_further_coat_is_no_lighter(demo):
    answer = predict_layers(demo, ["lantern glow dawn"] * 4)
    lightness = [answer.paper.lab[0], *(coat.lab[0] for coat in answer.coats)]
    assert lightness == sorted(lightness, reverse=True)


def test_measured_coats_beat_predicted_ones(tmp_path):
    file = tmp_path / "coats.csv"
    file.write_text(
        "name,kind,L,a,b,on,coats\nwhite card,paper,95,0,-2,,\n"
        "rose,marker,70,30,10,white card,1\nrose,marker,58,40,15,white card,2\n"
    )
    answer = predict_layers(read_palette(file), ["rose", "rose"])
    np.testing.assert_allclose(answer.coats[1].lab, [58, 40, 15], atol=0.05)


def test_a_coat_beyond_the_measured_ones_adds_no_more_than_the_last_of_them(tmp_path):
    """A paper seen to fill up at the second coat is not predicted to take more at the third."""
    file = tmp_path / "coats.csv"
    file.write_text(
        "name,kind,L,a,b,on,coats\nwhite card,paper,95,0,-2,,\n"
        "rose,marker,70,30,10,white card,1\nrose,marker,66,33,11,white card,2\n"
    )
    steps = [coat.lightness_step for coat in predict_layers(read_palette(file), ["rose"] * 4).coats]
    assert steps[0] < steps[1] <= steps[2] <= steps[3] < 0.0


def test_a_marker_measured_on_white_is_darker_on_kraft(demo):
    white = predict_layers(demo, ["morning sky noon"])
    kraft = predict_layers(demo, ["morning sky noon"], on="Kraft parcel")
    assert kraft.coats[0].lab[0] < white.coats[0].lab[0]
    assert kraft.coats[0].lab[0] < kraft.paper.lab[0]


def test_more_coats_than_the_paper_takes_are_cautioned(demo):
    limit = demo.paper("Kraft parcel").coat_limit
    answer = predict_layers(demo, ["morning sky noon"] * (limit + 1), on="Kraft parcel")
    assert [bool(coat.caution) for coat in answer.coats] == [False] * limit + [True]


def test_the_steps_are_numbered_from_a_dry_outline_to_the_blended_edge(demo):
    answer = find_order(demo, "moss stone dawn", ["moss stone noon", "moss stone dusk"])
    assert [step.number for step in answer.steps] == [1, 2, 3, 4, 5]
    assert answer.steps[0].coat == 0
    assert "dry" in answer.steps[0].where
    assert [step.marker for step in answer.steps[1:]] == [
        "moss stone dawn",
        "moss stone noon",
        "moss stone dusk",
        "moss stone dawn",
    ]
    assert "highlight" in answer.steps[1].where or "white" in answer.steps[1].where


def test_shadows_are_laid_from_light_to_dark_however_they_are_named(demo):
    names = ["moss stone dusk", "moss stone noon"]
    assert find_order(demo, "moss stone dawn", names) == find_order(demo, "moss stone dawn", names[::-1])


def test_the_blended_edge_lies_between_the_base_and_its_shadow(demo):
    """Wet ink moves: a blending pass never leaves the edge darker than the shadow that it softens."""
    inked = ink_drawer(demo)
    for marker in demo.markers[::4]:
        for style in ("light-first", "dark-first"):
            answer = find_order(demo, marker.name, inked=inked, style=style)
            if len(answer.steps) < 4:
                continue
            deepest = min(step.lab[0] for step in answer.steps[1:-1])
            assert deepest < answer.steps[-1].lab[0] < answer.base.lab[0], (marker.name, style)


def test_dark_first_is_declined_for_a_shadow_made_on_top(tmp_path):
    file = tmp_path / "lone.csv"
    file.write_text("name,kind,L,a,b,on\nwhite card,paper,95,0,-2,\nrose,marker,75,25,8,white card\n")
    answer = find_order(read_palette(file), "rose", style="dark-first")
    assert "base comes first" in answer.words[0]


def test_the_highlight_is_white_paper_only_where_the_paper_is_pale(demo):
    assert "white paper" in find_order(demo, "moss stone dawn", ["moss stone noon"]).steps[1].where
    on_kraft = find_order(demo, "moss stone dawn", ["moss stone noon"], on="Kraft parcel").steps[1].where
    assert "bare paper" in on_kraft
    assert "white" not in on_kraft


def test_dark_first_lays_the_shadow_on_dry_paper(demo):
    answer = find_order(demo, "moss stone dawn", ["moss stone dusk"], style="dark-first")
    assert answer.steps[1].marker == "moss stone dusk"
    assert "dry paper" in answer.steps[1].where
    assert any("Dark first" in words for words in answer.words)


def test_dark_first_lays_a_second_shadow_beside_the_first_not_on_it(demo):
    """“From the edge outward” is bare paper: one coat there, and its colour is that of the marker alone."""
    answer = find_order(demo, "moss stone dawn", ["moss stone noon", "moss stone dusk"], style="dark-first")
    assert [step.coat for step in answer.steps] == [0, 1, 1, 2, 3]
    alone = predict_layers(demo, ["moss stone noon"]).coats[0]
    np.testing.assert_allclose(answer.steps[2].lab, alone.lab, atol=1e-6)


def test_dark_first_stays_within_a_paper_of_two_coats(tmp_path):
    file = tmp_path / "thin.csv"
    file.write_text(
        "name,kind,L,a,b,on,coat_limit\nthin card,paper,95,0,-2,,2\n"
        "pale,marker,80,20,8,thin card,\ndeep,marker,62,26,10,thin card,\n"
    )
    answer = find_order(read_palette(file), "pale", ["deep"], style="dark-first")
    assert [step.marker for step in answer.steps[1:]] == ["deep", "pale"]
    assert answer.coats == 2
    assert not any(step.caution for step in answer.steps)


def test_a_glitter_marker_and_a_foil_paper_are_called_rough_in_a_stack(tmp_path):
    file = tmp_path / "rough.csv"
    file.write_text(
        "name,kind,L,a,b,on,finish\nwhite card,paper,95,0,-2,,\nleaf,paper,80,0,20,,foil\n"
        "spark,marker,70,20,10,white card,glitter\nplain,marker,70,20,10,white card,\n"
    )
    palette = read_palette(file)
    on_white = predict_layers(palette, ["spark", "plain"])
    assert [("Rough" in coat.caution) for coat in on_white.coats] == [True, False]
    assert not any("Rough" in words for words in on_white.words)
    assert any("Rough" in words for words in predict_layers(palette, ["plain"], on="leaf").words)


def test_without_a_shadow_the_drawer_chooses_and_says_why(demo):
    answer = find_order(demo, "moss stone dawn")
    assert answer.shadows[0].name == "moss stone noon"
    assert any("moss stone noon was chosen" in words for words in answer.words)


def test_a_shadow_that_has_to_be_made_gets_its_own_steps(tmp_path):
    file = tmp_path / "lone.csv"
    file.write_text("name,kind,L,a,b,on\nwhite card,paper,95,0,-2,\nrose,marker,75,25,8,white card\n")
    answer = find_order(read_palette(file), "rose")
    assert [step.marker for step in answer.steps[1:]] == ["rose"] * (len(answer.steps) - 1)
    assert len(answer.steps) >= 4


def test_a_full_paper_is_cautioned_at_the_step_that_overfills_it(tmp_path):
    file = tmp_path / "thin.csv"
    file.write_text(
        "name,kind,L,a,b,on,coat_limit\nthin card,paper,95,0,-2,,2\n"
        "pale,marker,80,20,8,thin card,\ndeep,marker,62,26,10,thin card,\n"
    )
    answer = find_order(read_palette(file), "pale", ["deep"])
    assert [bool(step.caution) for step in answer.steps] == [False, False, False, True]
    assert answer.coats == 3


def test_a_shadow_lighter_than_its_base_is_pointed_out(demo):
    answer = find_order(demo, "moss stone dusk", ["moss stone dawn"])
    assert any("lighter than" in words for words in answer.words)


def test_json_has_the_documented_keys(demo):
    order = to_json(find_order(demo, "moss stone dawn"))
    assert {"marker", "where", "coat", "lab", "hex", "caution"} <= set(order["steps"][0])
    layer = to_json(predict_layers(demo, ["moss stone dawn"]))
    assert {"schema", "paper", "coats"} <= set(layer)
    assert {"marker", "lab", "hex"} <= set(layer["coats"][0])


def test_a_style_that_is_none_and_a_paper_in_the_stack_are_refused(demo):
    with pytest.raises(ColourError, match="light-first, dark-first"):
        find_order(demo, "moss stone dawn", style="sideways")
    with pytest.raises(PaletteError, match="no marker"):
        predict_layers(demo, ["Kraft parcel"])
    with pytest.raises(ColourError, match="no marker to lay"):
        predict_layers(demo, [])


def test_a_drawer_already_inked_gives_the_same_answer(demo):
    inked = ink_drawer(demo, "Kraft parcel")
    assert find_order(demo, "moss stone dawn", inked=inked) == find_order(
        demo, "moss stone dawn", on="Kraft parcel"
    )


def test_every_step_lays_one_coat_and_tells_the_running_total_apart(demo):
    """A tile that said “3 coats” made people lay three."""
    steps = find_order(demo, "moss stone dawn", ["moss stone noon", "moss stone dusk"]).steps
    assert [step.lay for step in steps] == [0, 1, 1, 1, 1]
    assert [step.coat for step in steps] == [0, 1, 2, 3, 3]


def test_the_same_marker_twice_is_the_plain_way_of_coats(demo):
    """Common practice, no source."""
    answer = find_order(demo, "moss stone dawn", ["moss stone dawn", "moss stone dawn"])
    assert {step.marker for step in answer.steps[1:]} == {"moss stone dawn"}
    assert [step.coat for step in answer.steps] == [0, 1, 2, 3, 3]
    assert "plainest way" in answer.words[0]
    assert not any("lighter than" in words for words in answer.words)
    layers = predict_layers(demo, ["moss stone dawn"] * 3).coats
    for step, coat in zip(answer.steps[1:4], layers, strict=True):
        np.testing.assert_allclose(step.lab, coat.lab, atol=1e-9)


def test_on_dark_card_a_marker_is_said_to_vanish(demo):
    for answer in (
        find_order(demo, "kin one", ["kin two"], on="Midnight card"),
        predict_layers(demo, ["kin one"], on="Midnight card"),
        find_pair(demo, "kin one", on="Midnight card"),
    ):
        assert any("kin one vanishes on Midnight card" in words for words in answer.words)
    assert not any("vanishes" in words for words in find_pair(demo, "kin one").words)
    assert not any("vanishes" in words for words in find_pair(demo, "kin one", on="Kraft parcel").words)


def test_papers_and_ribbons_are_no_markers(demo):
    for name, word in (("Kraft parcel", "paper"), ("Rosehip satin", "ribbon")):
        answer = find_pair(demo, name, all_ways=True)
        assert {one.how for one in answer.shadow} == {"marker"}
        assert any(f"{name} is a {word}, no marker" in words for words in answer.words)
