"""Light and dark companions."""

import itertools
import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blendkit.advice.pairs import find_companions, find_pair
from blendkit.advice.shading_series import FIT, Taste, score_shading
from blendkit.errors import ColourError, PaletteError
from blendkit.inked import ink_drawer
from blendkit.palette import read_palette
from blendkit.records import to_json

HEADER = "name,kind,L,a,b,on\nwhite card,paper,95,0,-2,\n"


def drawer(tmp_path, *rows):
    file = tmp_path / "drawer.csv"
    file.write_text(HEADER + "\n".join(rows) + "\n", encoding="utf-8")
    return read_palette(file)


def test_in_the_demo_families_the_next_darker_member_is_among_the_first_three_shadows(demo):
    """The demo families are diluted dyes; the adviser knows nothing of families."""
    inked = ink_drawer(demo)
    missed = []
    steps = 0
    for group in demo.families.values():
        for light, dark in itertools.pairwise(group):
            steps += 1
            answer = find_pair(demo, light.name, inked=inked, count=3)
            if dark.name not in [one.name for one in answer.shadow]:
                missed.append((light.name, dark.name))
    assert steps > 50
    assert len(missed) <= steps // 20, missed


@pytest.fixture(scope="module")
def small_box(root):
    return ink_drawer(read_palette(root / "palettes" / "first-box.csv"))


@settings(max_examples=40, deadline=None)
@given(
    lab=st.tuples(st.floats(0, 100), st.floats(-120, 120), st.floats(-120, 120)),
    lean=st.sampled_from(["none", "cool", "warm", "muted", "vivid"]),
    all_ways=st.booleans(),
)
def test_any_colour_gets_an_ordered_answer_of_finite_numbers(small_box, lab, lean, all_ways):
    """Colours that no screen shows and no ink makes, too: scores 0 to 100, best first, on their own side."""
    typed = "lab({:.3f} {:.3f} {:.3f})".format(*lab)
    answer = find_pair(small_box.palette, typed, taste=Taste(lean=lean), all_ways=all_ways, inked=small_box)
    for companions, sign in ((answer.shadow, -1), (answer.light, 1)):
        # A grey that would be first lets the next fitting one by.
        scores = [one.score for one in companions if not one.dull]
        assert scores == sorted(scores, reverse=True)
        for one in companions:
            assert 0.0 < one.score <= 100.0
            assert one.fits == (one.score >= FIT)
            assert sign * (one.lab[0] - answer.base.lab[0]) > 0
            # No surface is quite black or white: a typed 0 or 100 is held 0.01 L* within.
            assert one.reasons.lightness_step == pytest.approx(
                abs(one.lab[0] - answer.base.lab[0]), abs=0.0101
            )
            assert all(0.0 <= part <= 1.0 for part in one.reasons.parts.values())
            assert len(one.blend) == 5
    # Coats of a typed colour are nothing that the drawer has, so they are no near miss of it.
    in_drawer = [one for one in (*answer.shadow, *answer.light) if one.how != "coats"]
    assert answer.fits == (answer.near_miss is None) or not in_drawer
    json.dumps(to_json(answer), allow_nan=False)


def test_words_for_a_step_follow_the_window_that_was_asked_for(demo):
    """With a window from 20 L*, a step of 15 is small, not big; only steps below 5 L* are hard to see."""
    answer = find_pair(demo, "moss stone dawn", count=20, taste=Taste((20.0, 40.0)))
    words = {round(one.reasons.lightness_step, 1): one.reasons.words for one in answer.shadow}
    assert any(step < 19.0 for step in words)
    for step, text in words.items():
        assert ("small step" in text) == (step < 20.0), (step, text)
        assert ("hard to see" in text) == (step < 5.0), (step, text)


def test_a_light_short_of_chroma_is_paler_and_a_shadow_greyer(demo):
    answer = find_pair(demo, "pumpkin noon", count=20)
    assert any("but greyer" in one.reasons.words for one in answer.shadow)
    assert any("but paler" in one.reasons.words for one in answer.light)
    assert not any("greyer" in one.reasons.words for one in answer.light)
    assert not any("paler" in one.reasons.words for one in answer.shadow)


def test_a_foil_or_patterned_paper_makes_every_verdict_on_it_cautious(tmp_path):
    file = tmp_path / "papers.csv"
    file.write_text(
        "name,kind,L,a,b,on,finish,pattern,share\nwhite card,paper,95,0,-2,,,,\nleaf,paper,80,0,20,,foil,,\n"
        "dot,paper,60,30,0,,,dots,0.3\nfield,paper,90,0,0,,,dots,0.7\n"
        "pale,marker,75,20,10,white card,,,\ndeep,marker,60,25,12,white card,,,\n"
    )
    palette = read_palette(file)
    foil = find_pair(palette, "pale", on="leaf")
    assert all("Rough" in one.caution for one in (*foil.shadow, *foil.light))
    assert any("patterned" in words for words in find_pair(palette, "pale", on="dots").words)
    assert not any("patterned" in words for words in find_pair(palette, "pale").words)


def test_companions_come_fellow_first_then_best_first_and_on_their_own_side(demo):
    answer = find_pair(demo, "moss stone noon", count=8)
    for companions, sign in ((answer.shadow, -1), (answer.light, 1)):
        assert companions[0].fellow
        scores = [one.score for one in companions if not one.fellow]
        assert scores == sorted(scores, reverse=True)
        assert all(sign * (one.lab[0] - answer.base.lab[0]) > 0 for one in companions)
    assert answer.fits
    assert answer.near_miss is None


@pytest.mark.parametrize("lighter", [False, True])
def test_leaving_hopeless_blends_out_changes_no_companion(demo, lighter):
    """Pairs that can't fit aren't blended while enough others do; the answer is that of blending them all."""
    inked = ink_drawer(demo)
    blended = np.zeros(2)
    for row in range(0, len(inked.markers), 3):
        asked = inked.asked(row)
        more_ink = inked.more_ink if lighter else inked.more_ink[row]
        scores = score_shading(inked.model, asked.looks, inked.looks, more_ink, lighter=lighter)
        best = [int(one) for one in np.argsort(-scores.score, kind="stable") if one != row][:4]
        found = find_companions(inked, asked, lighter=lighter, count=4, taste=Taste(lean="muted"))
        muted = score_shading(
            inked.model, asked.looks, inked.looks, more_ink, lighter=lighter, taste=Taste(lean="muted")
        )
        best = [int(one) for one in np.argsort(-muted.score, kind="stable") if one != row][:4]
        markers = [one for one in found if one.how == "marker" and not one.fellow]
        fellows = [one.name for one in found if one.fellow]
        names = [inked.markers[one].name for one in best if muted.score[one] > 0]
        assert [one.name for one in markers] == [name for name in names if name not in fellows][
            : len(markers)
        ]
        few = score_shading(inked.model, asked.looks, inked.looks, more_ink, lighter=lighter, least=FIT)
        np.testing.assert_array_equal(few.score >= FIT, scores.score >= FIT)
        blended += np.isfinite(few.dip).sum(), np.isfinite(scores.dip).sum()
    assert blended[0] < 0.5 * blended[1]


def test_the_base_is_never_its_own_companion(demo):
    answer = find_pair(demo, "moss stone noon", count=50)
    assert "moss stone noon" not in [one.name for one in (*answer.shadow, *answer.light)]


def test_asking_for_all_markers_gives_all_that_score(demo):
    inked = ink_drawer(demo)
    answer = find_pair(demo, "plain pebble noon", count=len(demo.markers), inked=inked)
    darker = np.sum(inked.lab[:, 0] < answer.base.lab[0] - 3.0)
    assert 20 < len(answer.shadow) <= darker


def test_a_typed_colour_is_answered_like_a_marker_of_that_colour(demo):
    marker = demo.marker("moss stone noon")
    typed = "lab({} {} {})".format(*marker.lab)
    by_name = find_pair(demo, "moss stone noon")
    by_colour = find_pair(demo, typed, count=6)
    assert by_name.shadow[0].name in [one.name for one in by_colour.shadow[:2]]


def test_where_no_marker_fits_coats_and_layers_are_offered_on_the_same_scale(tmp_path):
    lonely = drawer(tmp_path, "rose,marker,70,30,10,white card", "grey,marker,80,0,0,white card")
    answer = find_pair(lonely, "rose")
    hows = {one.how for one in answer.shadow}
    # The grey over or under it is the muted way: the better of the two is enough.
    assert "coats" in hows
    assert len(hows & {"over", "under"}) == 1
    assert not any(one.fits for one in answer.shadow if one.how == "marker")
    coats = next(one for one in answer.shadow if one.how == "coats")
    assert coats.lab[0] < answer.base.lab[0]
    assert any("coats of the same marker" in one.reasons.words for one in answer.shadow)


def test_coats_stop_where_the_paper_does(tmp_path):
    file = tmp_path / "thin.csv"
    file.write_text(
        "name,kind,L,a,b,on,coat_limit\nthin card,paper,95,0,-2,,2\nrose,marker,70,30,10,thin card,\n"
    )
    answer = find_pair(read_palette(file), "rose", all_ways=True)
    assert {one.coats for one in answer.shadow if one.how == "coats"} == {2}


def test_when_nothing_fits_the_nearest_miss_is_named(tmp_path):
    answer = find_pair(drawer(tmp_path, "leaf,marker,60,-30,40,white card"), "lab(12 40 -50)")
    assert not answer.fits
    assert answer.near_miss is None or answer.near_miss.score < FIT
    assert any("Nothing" in words for words in answer.words)


def test_a_trio_runs_from_light_to_dark_through_the_base(demo):
    answer = find_pair(demo, "moss stone noon")
    assert answer.trios
    for trio in answer.trios:
        assert trio.light.lab[0] > trio.mid.lab[0] > trio.dark.lab[0]
        assert "moss stone noon" in (trio.light.name, trio.mid.name, trio.dark.name)


def test_a_cool_lean_prefers_a_cooler_shadow(tmp_path):
    palette = drawer(
        tmp_path,
        "base,marker,70,25,10,white card",
        "warm one,marker,54,24,18,white card",
        "cool one,marker,54,24,-2,white card",
    )
    assert find_pair(palette, "base", taste=Taste(lean="cool")).shadow[0].name == "cool one"
    assert find_pair(palette, "base", taste=Taste(lean="warm")).shadow[0].name == "warm one"


def test_an_unsure_reading_is_said_with_the_step_that_hangs_on_it(tmp_path):
    file = tmp_path / "unsure.csv"
    file.write_text(
        "name,kind,L,a,b,on,uncertainty\nwhite card,paper,95,0,-2,,\n"
        "pale,marker,70,25,10,white card,0.3\ndeep,marker,55,22,9,white card,9\n"
    )
    answer = find_pair(read_palette(file), "pale")
    assert "isn't known surely enough" in answer.shadow[0].caution


def test_a_glitter_marker_is_called_rough(tmp_path):
    file = tmp_path / "glitter.csv"
    file.write_text(
        "name,kind,L,a,b,on,finish\nwhite card,paper,95,0,-2,,\n"
        "pale,marker,70,25,10,white card,\ndeep,marker,55,22,9,white card,glitter\n"
    )
    assert find_pair(read_palette(file), "pale").shadow[0].caution.startswith("Rough")


def test_json_has_the_documented_keys(demo):
    data = to_json(find_pair(demo, "moss stone noon"))
    assert list(data)[:4] == ["schema", "base", "on", "shadow"]
    assert data["schema"] == 1
    assert {"name", "lab", "hex"} <= set(data["base"])
    first = data["shadow"][0]
    assert {"name", "how", "lab", "hex", "score", "reasons"} <= set(first)
    assert first["how"] in ("marker", "coats", "over", "under")
    assert {
        "lightness_step",
        "series_hue",
        "series_chroma",
        "blend_evenness",
        "blend_dip",
        "in_between",
    } <= set(first["reasons"])


def test_a_misspelt_name_gets_the_nearest_names(demo):
    with pytest.raises(PaletteError, match="moss stone noon"):
        find_pair(demo, "mos stone noon")


def test_a_colour_that_is_none_is_refused(demo):
    with pytest.raises(ColourError, match="#12345"):
        find_pair(demo, "#12345")


def test_the_name_of_one_colour_of_a_pattern_asks_about_the_sheet(demo):
    """As everywhere in the palette; it was a fault of ours once."""
    sheet = next(paper for paper in demo.papers if paper.pattern)
    assert find_pair(demo, sheet.pattern[0].name).base.name == sheet.name
