"""Colouring plans: the work behind them, the record, the check, the sheets and the files."""

import itertools
import json
import os
import re
from dataclasses import replace
from fractions import Fraction

import cv2
import numpy as np
import pypdfium2
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image as Picture

from blendkit.art.region_edits import Edits
from blendkit.art.shading import BASE_TONE
from blendkit.colour import contrast_wcag, delta_e_2000, lab_to_hex, srgb1_to_lab
from blendkit.errors import PictureError, ProjectError, SheetError
from blendkit.inked import ink_drawer
from blendkit.palette import read_palette, reading_from_lab
from blendkit.plan.check import check_plan, find_open_borders
from blendkit.plan.files import file_stem, write_areas, write_plan
from blendkit.plan.making import light_words, make_plan
from blendkit.plan.pictures import draw_pictures
from blendkit.project.part_colours import colour_parts, paint_work
from blendkit.project.reading import read_project
from blendkit.project.records import Greeting, Project, ProjectPaper, ProjectPart
from blendkit.project.start import start_project
from blendkit.project.work import open_work, recolour, relight
from blendkit.records import to_json
from blendkit.words import inches_words, size_words

DPI = 203.2  # 8 pixels a millimetre

BALL, BOX, DOT = (18.0, 25.0), (44.0, 30.0), (18.0, 21.0)
PARTS = (
    ProjectPart("ball", at=(BALL,), base="rosehip dawn", shadow="rosehip noon"),
    ProjectPart("box", at=(BOX,), base="blue jug dawn", shadow="blue jug noon", highlight="none"),
    ProjectPart("dot", at=(DOT,), leave_white=True),
)


@pytest.fixture(scope="module")
def picture(tmp_path_factory):
    """A ball with a dot in front of a box, 60 × 50 mm: the ball 20 mm wide, the box 24 by 22 mm."""
    paper = np.full((400, 480), 255, np.uint8)
    cv2.rectangle(paper, (240, 112), (432, 288), 0, 4)
    cv2.circle(paper, (160, 208), 80, 255, -1)
    cv2.circle(paper, (160, 208), 80, 0, 4, cv2.LINE_AA)
    cv2.circle(paper, (144, 168), 16, 0, 4, cv2.LINE_AA)
    file = tmp_path_factory.mktemp("plan") / "ball.png"
    Picture.fromarray(paper).save(file)
    return file


@pytest.fixture(scope="module")
def project(picture):
    return Project(
        image=str(picture), path=picture.parent / "ball.toml", name="Ball and box", dpi=DPI, parts=PARTS,
        paper="Snow Gate smooth", outline="Lamp black outline",
    )  # fmt: skip


@pytest.fixture(scope="module")
def work(project):
    return open_work(project)


@pytest.fixture(scope="module")
def full(project, demo, work):
    """The project with papers and greeting, its work, record, preview and pictures."""
    whole = replace(
        project,
        papers=(
            ProjectPaper("mat", "Lantern card", 80.0, 70.0),
            ProjectPaper("card", "Pine card", 105.0, 95.0),
            ProjectPaper("ribbon", "Rosehip satin", 8.0, 95.0),
        ),
        greeting=Greeting("Well played", "Pine green greeting", 20.0),
        notes="First the ball.",
    )
    done = open_work(whole, work)
    record = make_plan(whole, demo, done)
    inked = ink_drawer(demo, whole.paper)
    preview = paint_work(done, colour_parts(whole, inked), inked)
    colours = colour_parts(whole, inked)
    return whole, done, record, preview, draw_pictures(record, done, preview, colours, inked)


# ---------------------------------------------------------------- work


def test_places_and_numbers_give_parts_their_areas(project, work):
    ball, box, dot = (areas[0] for areas in work.areas)
    assert work.area_at(BALL) == ball
    by_number = replace(project, parts=tuple(
        replace(part, at=(), areas=(area,)) for part, area in zip(PARTS, (ball, box, dot), strict=True)
    ))  # fmt: skip
    assert open_work(by_number, work).areas == work.areas


def test_a_loop_takes_what_no_other_part_names(project, work):
    looped = replace(
        project,
        parts=(
            PARTS[0],
            ProjectPart("all else", around=(((1.0, 1.0), (59.0, 1.0), (59.0, 49.0), (1.0, 49.0)),)),
        ),
    )
    assert set(open_work(looped, work).areas[1]) == {work.areas[1][0], work.areas[2][0]}


def test_the_rest_is_what_no_part_has(project, work):
    rest = replace(project, parts=(PARTS[0], ProjectPart("rest", rest=True)))
    done = open_work(rest, work)
    assert set(done.areas[1]) == {work.areas[1][0], work.areas[2][0]}
    assert done.free == ()


def test_every_place_that_is_no_area_is_told(project, work):
    wrong = replace(
        project,
        parts=(
            ProjectPart("air", at=((2.0, 2.0),)),
            ProjectPart("far", at=((80.0, 2.0),)),
            ProjectPart("many", areas=(40,)),
            ProjectPart("ball", at=(BALL,)),
            ProjectPart("twin", at=(BALL,)),
            ProjectPart("empty", around=(((0.0, 0.0), (1.0, 0.0), (1.0, 1.0)),)),
        ),
    )
    with pytest.raises(ProjectError) as error:
        open_work(wrong, work)
    told = str(error.value)
    for words in (
        "part air, at: found [2, 2], the paper around the figure; accepted: a place inside a closed area",
        "part far, at: found [80, 2], beyond the image; accepted: a place on the image: 0 to 60.0 across",
        "part many, areas: found area 40; accepted: an area from 1 to 3",
        "part twin, at: found [18, 25], which is part ball's already",
        "part empty, around: found no free area",
    ):
        assert words in told


def test_what_has_not_changed_is_kept(project, work):
    brighter = recolour(work, "ball", base="fern dawn")
    assert brighter.project.part("ball").base == "fern dawn"
    again = open_work(brighter.project, work)
    assert again.regions is work.regions
    assert again.relief is work.relief
    assert again.shades is work.shades
    lit = relight(work, "3")
    assert lit.relief is work.relief
    assert lit.shades is not work.shades
    assert lit.shades.light_deg == 90


def test_a_decided_overlap_moves_the_cast_shadow(project, work):
    near = np.s_[200:216, 243:248]  # the box, just right of the ball
    front = open_work(replace(project, light="9", fronts=(("ball", "box"),)), work)
    behind = open_work(replace(project, light="9", fronts=(("box", "ball"),)), work)
    assert front.shades.tone[near].mean() > behind.shades.tone[near].mean() + 0.1


def test_an_overlap_of_parts_that_do_not_touch_is_refused(project, work):
    with pytest.raises(ProjectError, match="dot and box, which do not touch"):
        open_work(replace(project, fronts=(("dot", "box"),)), work)


def test_a_part_may_have_a_shadow_of_its_own_width(project, work):
    wide = open_work(project.with_part("box", shadow_mm=8.0), work)
    box, ball = work.areas[1][0], work.areas[0][0]
    assert wide.shades.shadow_share[box] > 1.2 * work.shades.shadow_share[box]
    assert wide.shades.shadow_share[ball] == work.shades.shadow_share[ball]


def test_an_image_without_a_scale_is_told_of(picture):
    loose = open_work(Project(image=str(picture)))
    assert loose.dpi == 300
    assert "300 pixels an inch are assumed" in " ".join(loose.notes)
    sized = open_work(Project(image=str(picture), width_mm=60.0))
    assert sized.dpi == pytest.approx(DPI)
    assert sized.size_mm == pytest.approx((60.0, 50.0))
    assert sized.notes == ()


@pytest.mark.parametrize("kind", ["none", "text", "blank", "scribble", "photo", "tiny"])
def test_a_picture_that_is_no_line_image_is_refused_in_a_sentence(tmp_path, kind):
    file = tmp_path / "a.png"
    rng = np.random.default_rng(1)
    paper = np.full((300, 300), 255, np.uint8)
    if kind == "text":
        file.write_text("no picture")
    elif kind != "none":
        if kind == "scribble":
            cv2.polylines(paper, [np.array([[40, 40], [120, 200], [200, 60], [260, 240]])], False, 0, 4)
        elif kind == "photo":
            paper = cv2.GaussianBlur(rng.integers(0, 255, (300, 300), np.uint8), (31, 31), 9)
            paper = cv2.normalize(paper, None, 0, 255, cv2.NORM_MINMAX)
        elif kind == "tiny":
            paper = paper[:20, :20]
        Picture.fromarray(paper).save(file)
    with pytest.raises(PictureError) as error:
        open_work(Project(image=str(file)))
    assert "a.png" in str(error.value)


def test_an_example_project_holds_for_the_drawing_and_for_its_scan(root):
    """Places in mm find the same areas in the clean drawing at 600 and in its scan at 300 pixels an inch."""
    project = read_project(root / "examples" / "harvest_gift" / "project.toml")
    sizes = []
    for image in ("../line_art/harvest_gift.png", "../line_art/harvest_gift_scan.jpg"):
        done = open_work(replace(project, image=image))
        areas = {part.number: part.area_px / done.per_mm**2 for part in done.regions.parts}
        sizes.append([sum(areas[number] for number in numbers) for numbers in done.areas])
    assert sizes[0] == pytest.approx(sizes[1], rel=0.06, abs=2.0)


# ---------------------------------------------------------------- lengths


@given(st.floats(0, 2000))
def test_inches_are_to_the_nearest_sixteenth(length_mm):
    """inches_words: "Give a length in inches to the nearest sixteenth"; an inch is 25.4 mm, exactly."""
    words = inches_words(length_mm).removesuffix(" in")
    if words.startswith("under"):
        assert 0 < length_mm <= 25.4 / 32
        return
    value = sum(Fraction(piece) for piece in words.split())
    assert abs(value - Fraction(length_mm) / Fraction("25.4")) <= Fraction(1, 32) + Fraction(1, 10**9)
    assert value.denominator in (1, 2, 4, 8, 16)


def test_sizes_are_told_in_the_unit_that_is_asked_for():
    assert size_words(139.7, 104.775) == "139.7 × 104.8 mm"
    assert size_words(139.7, 104.775, "inch") == "5 1/2 × 4 1/8 in"
    assert size_words(17.4625, units="inch") == "11/16 in"
    assert size_words(0.6, units="inch") == "under 1/16 in"
    assert size_words(None) == ""


def test_light_is_told_in_words():
    assert [light_words(deg) for deg in (0, 315, 90, 170, 359)] == [
        "above", "the upper left", "the right", "below", "above"
    ]  # fmt: skip


# ---------------------------------------------------------------- the record


def test_a_record_holds_parts_steps_and_sizes(full):
    _, _, record, _, _ = full
    assert (record.width_mm, record.height_mm) == pytest.approx((60.0, 50.0))
    assert record.size == "60 × 50 mm"
    assert record.light_words == "the upper left"
    ball, box, dot = record.parts
    assert [part.how for part in record.parts] == ["marker", "marker", "white"]
    # a circle of 20 mm less the dot's disc of 4 mm
    assert ball.area_mm2 == pytest.approx(np.pi * (10.0**2 - 2.0**2), rel=0.06)
    assert box.area_mm2 == pytest.approx(24.0 * 22.0, rel=0.06)
    assert [step.marker for step in ball.steps] == ["rosehip dawn", "rosehip noon", "rosehip dawn"]
    assert "leave the white paper" in ball.steps[0].where
    assert "leave the white paper" not in box.steps[0].where
    assert dot.steps == ()
    assert sum(part.share for part in record.parts) == pytest.approx(1.0)


def test_a_record_is_plain_json(full):
    _, _, record, _, _ = full
    data = json.loads(json.dumps(to_json(record)))
    assert data["schema"] == 1
    assert data["parts"][0]["steps"][1]["marker"] == "rosehip noon"


def test_the_drawer_chooses_a_shadow_where_none_is_named(project, demo, work):
    record = make_plan(project.with_part("ball", shadow=""), demo, work)
    ball = record.parts[0]
    assert ball.chosen
    assert ball.shadow is not None
    assert ball.shadow.lab[0] < ball.base.lab[0] - 9
    assert ball.shadow.name in " ".join(ball.words)
    assert any(item.swatch.name == ball.shadow.name for item in record.pull)


def test_a_light_marker_comes_after_the_base_and_before_the_shadow(project, demo, work):
    part = make_plan(project.with_part("ball", light="rose bowl dawn"), demo, work).parts[0]
    assert [step.marker for step in part.steps] == [
        "rosehip dawn", "rose bowl dawn", "rosehip noon", "rosehip dawn"
    ]  # fmt: skip
    assert [step.number for step in part.steps] == [1, 2, 3, 4]


def test_a_plain_part_is_one_step_and_one_even_colour(project, demo, work):
    plain = project.with_part("box", shadow="none")
    part = make_plan(plain, demo, work).parts[1]
    assert (part.how, len(part.steps), part.shadow) == ("plain", 1, None)
    assert len({swatch.hex for swatch in part.strip}) == 1


def test_where_more_coats_make_the_shadow_the_ramp_ends_in_their_colour(project, demo):
    """The companion's prediction and the ramp's end are the same coats by two ways."""
    inked = ink_drawer(demo, project.paper)
    one = colour_parts(project.with_part("ball", base="candle flame dusk", shadow=""), inked)[0]
    assert (one.how, one.companion.coats) == ("coats", 3)
    assert delta_e_2000(one.companion.lab, srgb1_to_lab(one.ramp[255] / 255.0)) < 3.0


def test_what_to_pull_is_each_thing_once_with_its_uses(full):
    _, _, record, _, _ = full
    names = [item.swatch.name for item in record.pull]
    assert len(names) == len(set(names))
    kinds = {item.swatch.name: (item.kind, item.used_for) for item in record.pull}
    assert kinds["rosehip noon"] == ("marker", ("ball",))
    assert kinds["Snow Gate smooth"] == ("paper", ("the image",))
    assert kinds["Rosehip satin"] == ("ribbon", ("ribbon",))
    assert kinds["Lamp black outline"] == ("ink", ("the outline",))
    assert kinds["Pine green greeting"] == ("ink", ("the greeting",))


def out_of(palette, **prices):
    """The palette with these things out, at these prices; an underscore stands for a space."""
    for name, price in prices.items():
        palette = palette.with_details(name, out="yes", price=price)
    return palette


def test_what_is_not_at_hand_is_listed_to_buy_and_the_plan_is_made_all_the_same(project, demo, work, full):
    assert full[2].shopping is None
    drawer = out_of(demo, rosehip_noon="4", blue_jug_noon="")
    plan = make_plan(project, drawer, work)
    assert [(one.name, one.price, one.used_for) for one in plan.shopping.items] == [
        ("rosehip noon", 4.0, ("ball",)),
        ("blue jug noon", None, ("box",)),
    ]
    assert plan.shopping.cost == 4.0
    assert plan.shopping.words[-1] == "Without a price in the palette: blue jug noon."
    assert plan.parts[0].shadow.name == "rosehip noon"


def test_a_class_buys_a_marker_for_each_set(project, demo, work):
    plan = make_plan(project, out_of(demo, rosehip_noon="4"), work, copies=9)
    assert (plan.shopping.items[0].copies, plan.shopping.cost) == (3, 12.0)


@pytest.mark.parametrize("budget", [0.0, 2.5, 4.0, 5.0, 6.5, 9.0, 20.0])
def test_within_a_budget_as_much_as_can_be_is_bought_for(project, demo, work, budget):
    """Against every choice there is; a part needs all of its markers."""
    prices = {"rosehip_dawn": 2.5, "rosehip_noon": 4.0, "blue_jug_dawn": 3.0, "blue_jug_noon": 2.0}
    plan = make_plan(
        project, out_of(demo, **{name: str(one) for name, one in prices.items()}), work, budget=budget
    )
    needs = [{"rosehip_dawn", "rosehip_noon"}, {"blue_jug_dawn", "blue_jug_noon"}]
    # what is out serves each part it is used for
    uses = [{one} for one in prices]
    best = max(
        sum(need <= set(some) for need in needs)
        for count in range(5)
        for some in itertools.combinations(prices, count)
        if sum(prices[one] for one in some) <= budget
    )
    bought = {one.name.replace(" ", "_") for one in plan.shopping.items if one.buy}
    assert plan.shopping.exact
    assert plan.shopping.cost <= budget
    assert sum(need <= bought for need in needs) == best
    assert all(bought & use for use in uses if use <= bought)


@pytest.mark.parametrize("way", ["lift", "fade"])
def test_a_part_may_be_lifted_or_faded_with_the_blender(project, demo, work, way):
    changed = project.with_part("ball", highlight=way)
    drawer = demo.with_lift("rosehip dawn", 0.7)
    plan = make_plan(changed, drawer, replace(work, project=changed))
    last = plan.parts[0].steps[-1]
    assert (last.marker, last.lay, last.do) == ("Morning mist", 0, "one pass, no ink")
    assert last.lab[0] > plan.parts[0].base.lab[0] + 5
    assert ("Morning mist", "blender", ("ball",)) in [(i.swatch.name, i.kind, i.used_for) for i in plan.pull]
    assert any("colourless blender" in words for step in plan.order for words, _ in step.differs)
    light = lab_to_hex(srgb1_to_lab(np.array(colour_parts(changed, ink_drawer(drawer))[0].ramp[0]) / 255))
    unlifted = colour_parts(changed, ink_drawer(demo))[0].ramp[0]
    assert (light != lab_to_hex(srgb1_to_lab(np.array(unlifted) / 255))) == (way == "lift")


def test_a_blender_that_is_not_at_hand_is_told_before_the_work(project, demo, work):
    changed = project.with_part("ball", highlight="lift")
    with pytest.raises(ProjectError, match="names what is not in"):
        make_plan(changed, demo.without("Morning mist"), replace(work, project=changed))


def test_papers_echo_the_nearest_marker_of_the_image(full, demo):
    _, _, record, _, _ = full
    ribbon = record.papers[2]
    labs = {
        name: demo.marker(name).lab
        for name in ("rosehip dawn", "rosehip noon", "blue jug dawn", "blue jug noon")
    }
    apart = {name: float(delta_e_2000(lab, demo.paper("Rosehip satin").lab)) for name, lab in labs.items()}
    nearest = min(apart, key=apart.get)
    assert ribbon.echoes == f"ball ({nearest})"
    assert ribbon.delta_e_2000 == pytest.approx(apart[nearest], abs=0.3)
    assert ribbon.size == "8 × 95 mm"


def test_names_that_the_drawer_lacks_are_told_together_with_the_nearest(project, demo, work):
    wrong = replace(
        project.with_part("ball", base="rosehip down").with_part("box", shadow="Lamp black outline"),
        paper="Snow gate smoth",
        outline="rosehip dawn",
        papers=(ProjectPaper("mat", "Pin card"),),
        greeting=Greeting("Hi", "Pine card"),
    )
    with pytest.raises(ProjectError) as error:
        make_plan(wrong, demo, work)
    told = str(error.value)
    for words in (
        "ball.toml, paper: found 'Snow gate smoth'; accepted: one of: Snow Gate smooth",
        "part ball, base: found 'rosehip down'; accepted: one of: rosehip dawn",
        "part box, shadow: found 'Lamp black outline', which is a stamp ink",
        "outline: found 'rosehip dawn', which is a marker",
        "papers, mat: found 'Pin card'",
        "greeting, ink: found 'Pine card', which is a paper",
    ):
        assert words in told
    found = check_plan(wrong, demo, work)
    assert not found.fits
    assert len(found.unknown) == 6


# ---------------------------------------------------------------- the check


def topics(project, palette, work, level="fault"):
    check = check_plan(project, palette, work)
    assert check.fits == (not any(finding.level == "fault" for finding in check.findings))
    return {(one.topic, one.where) for one in check.findings if one.level == level}


def test_a_sound_plan_has_no_fault(full, demo):
    whole, done, _, _, _ = full
    assert topics(whole, demo, done) == set()


@pytest.mark.parametrize(
    ("part", "changes", "topic"),
    [
        ("ball", {"base": ""}, "missing"),
        ("ball", {"base": "no such marker"}, "unknown"),
        ("ball", {"shadow": "rose bowl dawn"}, "too close"),  # lighter than its base
        ("ball", {"base": "coal cellar", "shadow": "coal cellar"}, "too close"),
        ("ball", {"base": "candle flame dawn", "shadow": "oak cask dusk"}, "too far"),
        ("ball", {"light": "coal cellar"}, "too close"),
    ],
)
def test_a_fault_of_a_pair_is_found(project, demo, work, part, changes, topic):
    found = topics(project.with_part(part, **changes), demo, work)
    assert topic in {topic for topic, _ in found}


def test_parts_without_a_base_are_one_finding(project, demo, work):
    bare = project.with_part("ball", base="", shadow="").with_part("box", base="", shadow="")
    found = [one for one in check_plan(bare, demo, work).findings if one.topic == "missing"]
    assert [one.where for one in found] == ["ball, box"]


def test_a_base_that_nothing_shades_is_found(project, demo, work):
    soot = demo.with_marker("soot", reading_from_lab((2.0, 0.0, 0.0)), on=demo.markers[0].on)
    assert ("no pair", "ball") in topics(project.with_part("ball", base="soot", shadow=""), soot, work)


def test_a_shadow_that_is_only_quiet_or_big_is_worth_a_look(project, demo, work):
    quiet = project.with_part("ball", base="candle flame dawn", shadow="lantern glow dawn")
    assert ("too close", "ball") in topics(quiet, demo, work, "look")
    big = project.with_part("ball", base="rosehip dawn", shadow="rosehip dusk")
    assert ("too far", "ball") in topics(big, demo, work, "look")


@pytest.fixture(scope="module")
def halved(project):
    """The box split by a stroke, so that its halves meet with no line between."""
    edits = Edits(splits=(((44 / 60, 12 / 50), (44 / 60, 38 / 50)),))
    left, right = ProjectPart("left", at=((38.0, 30.0),)), ProjectPart("right", at=((50.0, 30.0),))
    return replace(
        project, edits=edits, parts=(left, right, ProjectPart("ball", at=(BALL,), base="fern dawn"))
    )


def test_neighbours_with_no_line_between_run_together_when_their_colours_are_near(halved, demo):
    work = open_work(halved)
    near = halved.with_part("left", base="blue jug dawn").with_part("right", base="blue jug dawn")
    assert ("run together", "left and right") in topics(near, demo, work)
    apart = near.with_part("right", base="lantern glow dawn")
    assert "run together" not in {topic for topic, _ in topics(apart, demo, work)}
    # the two halves meet along the box's height; with the ball's outline between, nothing is open
    assert list(find_open_borders(work)) == [(1, 2)]
    assert find_open_borders(work)[1, 2] == pytest.approx(22.0, abs=1.2)


@pytest.mark.parametrize(
    ("papers", "words"),
    [
        ((("mat", "Milk Lane soft"),), "fight"),  # 2 to 7 from the image's white
        ((("mat", "Pine card"), ("card", "Pine card")), ""),
        ((("mat", "Snow Gate smooth"),), ""),
        ((("mat", "Churn cream"), ("card", "Oat Sack")), "fight"),
    ],
)
def test_papers_that_fight_are_found(project, demo, work, papers, words):
    chosen = replace(project, papers=tuple(ProjectPaper(role, name) for role, name in papers))
    faults = [one.words for one in check_plan(chosen, demo, work).findings if one.topic == "papers"]
    labs = [demo.paper("Snow Gate smooth").lab, *(demo.paper(name).lab for _, name in papers)]
    steps = [float(delta_e_2000(one, other)) for one, other in itertools.pairwise(labs)]
    assert any(2 <= step < 7 for step in steps) == bool(words)
    assert bool(faults) == bool(words)
    assert words in " ".join(faults)


def test_a_paper_louder_than_the_image_is_found(project, demo, work):
    pale = project.with_part("ball", base="cloud edge", shadow="cool pewter dawn").with_part(
        "box", base="warm ash dawn", shadow="warm ash noon"
    )
    loud = replace(pale, papers=(ProjectPaper("mat", "Pumpkin card"),))
    assert ("papers", "mat") in topics(loud, demo, work)


@pytest.mark.parametrize(
    ("ink", "size_pt", "bold", "reads"),
    [
        ("Lamp black outline", 8.0, False, True),
        ("Cloud white pigment", 30.0, True, False),
        ("Soft grey outline", 8.0, False, None),
        ("Soft grey outline", 18.0, False, None),
        ("Soft grey outline", 14.0, True, None),
    ],
)
def test_a_greeting_reads_by_the_limits_of_wcag(project, demo, work, ink, size_pt, bold, reads):
    """Limits: W3C WCAG 2.2, success criterion 1.4.3: 4.5, and 3 from 18 pt or 14 pt bold."""
    worded = replace(project, greeting=Greeting("Hello", ink, size_pt, bold))
    ratio = float(contrast_wcag(demo.find(ink).lab, demo.paper("Snow Gate smooth").lab))
    needed = 3.0 if size_pt >= 18 or (bold and size_pt >= 14) else 4.5
    if reads is None:
        reads = ratio >= needed
    assert (("greeting", "greeting") in topics(worded, demo, work)) == (not reads)
    greeting = make_plan(worded, demo, work).greeting
    assert (greeting.reads, greeting.needed) == (reads, needed)
    assert greeting.contrast_wcag == pytest.approx(ratio)


def test_areas_that_no_part_has_are_worth_a_look(project, demo, work):
    fewer = replace(project, parts=PARTS[:2])
    assert ("areas", project.image) in topics(fewer, demo, work, "look")


# ---------------------------------------------------------------- pictures and sheets


def test_the_preview_is_ink_in_the_parts_and_paper_elsewhere(full, demo):
    _, done, _, preview, _ = full
    paper = preview[5, 5]
    dot = preview[168, 144]
    assert (dot == paper).all()
    base = (np.abs(done.shades.tone - BASE_TONE) < 0.02) & (done.regions.labels == done.areas[1][0])
    box = preview[base & (done.regions.line == 0)].mean(axis=0)
    assert box[2] > box[0] + 30  # blue


def test_hatching_lies_in_shadow_only_and_off_the_lines(full):
    _, done, _, _, pictures = full
    assert len(pictures.hatch) > 10
    for (x1, y1), (x2, y2) in pictures.hatch:
        for share in (0.1, 0.5, 0.9):
            x = int((x1 + share * (x2 - x1)) * done.per_mm)
            y = int((y1 + share * (y2 - y1)) * done.per_mm)
            assert done.shades.tone[y, x] > 0.6
            assert done.regions.line[y, x] < 160
            assert done.part_of()[done.regions.labels[y, x]] in (1, 2)


# ---------------------------------------------------------------- files


def test_all_files_are_written_and_read_back(full, demo, tmp_path):
    whole, done, _, _, _ = full
    made = write_plan(whole, demo, tmp_path / "out", work=done)
    names = sorted(file.name for file in made.files)
    assert names == ["ball-class.pdf", "ball-cut.pdf", "ball-cut.svg", "ball-plan.pdf", "ball-preview.png"]
    assert sorted(os.listdir(tmp_path / "out")) == names
    with Picture.open(tmp_path / "out" / "ball-preview.png") as preview:
        assert preview.size == (480, 400)
        assert preview.info["dpi"] == pytest.approx((DPI, DPI), abs=0.1)
    document = pypdfium2.PdfDocument(tmp_path / "out" / "ball-plan.pdf")
    assert len(document) == 4
    assert "rosehip noon" in document[0].get_textpage().get_text_bounded()


def test_the_same_plan_gives_the_same_bytes(full, demo, tmp_path):
    whole, done, _, _, _ = full
    first, second = (write_plan(whole, demo, tmp_path / name, work=done).files for name in ("one", "two"))
    assert [file.read_bytes() for file in first] == [file.read_bytes() for file in second]


def test_sheets_are_written_as_svg_and_png_too(full, demo, tmp_path):
    whole, done, _, _, _ = full
    made = write_plan(whole, demo, tmp_path, only=("plan",), formats=("svg", "png"), page="Letter", work=done)
    assert {file.suffix for file in made.files} == {".svg", ".png"}
    with Picture.open(next(file for file in made.files if file.suffix == ".png")) as sheet:
        assert sheet.size == (1700, 2200)  # 8.5 by 11 in at 200 pixels an inch


def test_a_refused_write_leaves_nothing_half_written(full, demo, tmp_path, monkeypatch):
    whole, done, _, _, _ = full
    out = tmp_path / "out"
    out.mkdir()
    (out / "ball-preview.png").write_bytes(b"old")
    made = []
    real = os.replace

    def full_disk(source, target):
        made.append(target)
        if len(made) == 2:
            raise OSError(28, "No space left on device")
        real(source, target)

    monkeypatch.setattr(os, "replace", full_disk)
    with pytest.raises(SheetError, match="No space left"):
        write_plan(whole, demo, out, only=("preview", "cut"), formats=(), work=done)
    assert os.listdir(out) == ["ball-preview.png"]
    assert (out / "ball-preview.png").read_bytes() == b"old"


def test_files_are_named_after_the_project_or_its_folder(project, tmp_path):
    assert file_stem(project) == "ball"
    assert file_stem(replace(project, path=tmp_path / "owl" / "project.toml")) == "owl"
    assert file_stem(replace(project, path=None)) == "ball"


def test_the_map_of_areas_names_every_area(full, demo, tmp_path):
    whole, _, _, _, _ = full
    (file,) = write_areas(whole.with_part("ball", base="none such", areas=(99,)), demo, tmp_path / "map.pdf")
    text = pypdfium2.PdfDocument(file)[0].get_textpage().get_text_bounded()
    for number in ("1", "2", "3"):
        assert number in text
    with pytest.raises(SheetError, match="is written as"):
        write_areas(whole, demo, tmp_path / "map.doc")


def test_a_project_begun_from_a_picture_holds_its_areas(picture, tmp_path):
    started = start_project(picture, tmp_path / "new.toml").project
    assert started == read_project(tmp_path / "new.toml")
    work = open_work(started)
    assert sorted(area for areas in work.areas for area in areas) == [1, 2, 3]
    with pytest.raises(ProjectError, match="there already"):
        start_project(picture, tmp_path / "new.toml")


def test_the_palette_files_own_paper_is_used_when_none_is_named(tmp_path, project, work):
    file = tmp_path / "small.csv"
    file.write_text(
        "name,kind,L,a,b,on\nplain,paper,95,0,-2,\nrose,marker,70,40,10,plain\nrose deep,marker,54,45,14,plain\n"
    )
    parts = (
        replace(PARTS[0], base="rose", shadow="rose deep"),
        replace(PARTS[1], base="rose", shadow="rose deep"),
    )
    small = replace(project, paper="", outline="", parts=(*parts, PARTS[2]))
    record = make_plan(small, read_palette(file), work)
    assert record.on.name == "plain"
    assert record.outline is None
    assert isinstance(json.dumps(to_json(record)), str)


def test_a_patterned_paper_keeps_its_colours_and_is_drawn_in_them(project, demo, work):
    papers = (ProjectPaper("accent", "Leaf fall print", 60, 12), ProjectPaper("card", "Bark card"))
    record = make_plan(replace(project, papers=papers), demo, work)
    accent, card = record.papers
    assert sum(share for _, share in accent.pattern) == pytest.approx(1.0)
    assert [colour for colour, _ in accent.pattern] == [
        lab_to_hex(part.lab) for part in demo.paper("Leaf fall print").pattern
    ]
    assert card.pattern == ()


def test_areas_are_named_by_size_and_place_and_only_ten_are_asked_for(tmp_path):
    """A large disc in the middle, fourteen small ones around it, and a corner that a line seals off."""
    paper = np.full((600, 600), 255, np.uint8)
    cv2.circle(paper, (300, 300), 150, 0, 4)
    for turn in range(14):
        x, y = 300 + 240 * np.cos(turn * np.pi / 7 + 0.2), 300 + 240 * np.sin(turn * np.pi / 7 + 0.2)
        cv2.circle(paper, (int(x), int(y)), 24 + turn % 5, 0, 4)
    Picture.fromarray(paper).save(tmp_path / "discs.png")
    started = start_project(tmp_path / "discs.png", tmp_path / "discs.toml").project
    names = [part.name for part in started.parts]
    assert len(names) == 11
    assert names[0] == "large, middle"
    assert names[-1] == "all the rest"
    assert started.parts[-1].rest
    assert len(set(names)) == 11
    assert all(
        re.match(r"(large|mid-sized|small), (top|bottom|left|right|middle)", one) for one in names[:-1]
    )


def test_a_corner_that_a_line_seals_off_stays_paper(tmp_path):
    """A line from edge to edge closes a triangle of 12 mm that is no part of the figure."""
    paper = np.full((400, 400), 255, np.uint8)
    cv2.circle(paper, (220, 220), 100, 0, 4)
    cv2.line(paper, (0, 95), (95, 0), 0, 4)
    Picture.fromarray(paper).save(tmp_path / "corner.png")
    started = start_project(tmp_path / "corner.png", tmp_path / "corner.toml").project
    white = [part for part in started.parts if part.leave_white]
    assert [part.name for part in white] == ["background paper"]
    assert [part.name for part in started.parts if not part.leave_white] == ["large, middle"]
    work = open_work(started)
    (area,) = work.areas[started.place_of("background paper")]
    assert work.regions.labels[20, 20] == area
