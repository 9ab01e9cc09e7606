"""Gaps, doubles, kit and skin: the drawer as a whole."""

import numpy as np
import pytest

from blendkit.advice.check import check_palette
from blendkit.advice.doubles import find_doubles
from blendkit.advice.gaps import find_gaps
from blendkit.advice.kit import Target, find_kit
from blendkit.advice.pairs import find_pair
from blendkit.advice.shading_series import FIT
from blendkit.advice.skin import find_skin, ita_class, ita_deg, skin_from_ita
from blendkit.colour import delta_e_2000
from blendkit.errors import ColourError
from blendkit.inked import ink_drawer
from blendkit.palette import demo_palette_path, read_palette


@pytest.fixture(scope="module")
def shop():
    return read_palette(demo_palette_path("market-stall"))


@pytest.fixture(scope="module")
def first_box():
    return read_palette(demo_palette_path("first-box"))


def test_a_base_counts_as_lacking_exactly_when_pair_finds_it_no_fitting_marker(first_box):
    answer = find_gaps(first_box)
    lacking = {(need.base, need.lacks) for need in answer.needs}
    for marker in first_box.markers:
        advice = find_pair(first_box, marker.name)
        for lacks, found in (("shadow", advice.shadow), ("light", advice.light)):
            fits = any(one.how == "marker" and one.score >= FIT for one in found)
            needless = marker.lab[0] < 25 if lacks == "shadow" else marker.lab[0] > 80
            if not needless:
                assert ((marker.name, lacks) in lacking) == (not fits), (marker.name, lacks)


def test_a_colour_to_look_for_closes_the_gaps_it_says_once_it_is_bought(first_box):
    answer = find_gaps(first_box)
    assert answer.wanted
    wanted = answer.wanted[0]
    bought = first_box.with_marker(
        "the one looked for", _reading(wanted.colour.lab), on=first_box.markers[0].on
    )
    after = {(need.base, need.lacks) for need in find_gaps(bought).needs}
    assert not {(base, wanted.lacks) for base in wanted.completes if base != "x"} & after or all(
        (base, "shadow") not in after or (base, "light") not in after for base in wanted.completes
    )
    assert (wanted.for_base, wanted.lacks) not in after


def _reading(lab):
    from blendkit.palette import reading_from_lab

    return reading_from_lab(lab)


def test_what_to_buy_is_the_best_choice_by_brute_force(first_box, shop):
    from itertools import combinations

    from blendkit.advice.gaps import _closes, _needs
    from blendkit.advice.shading_series import Taste

    answer = find_gaps(first_box, shop=shop, purchases=2)
    inked = ink_drawer(first_box)
    needs, rows = _needs(inked, Taste(), FIT)
    offered = ink_drawer(shop)
    coat = inked.after(offered.coats[:, :1])[:, 0]
    closes = _closes(inked, needs, rows, inked.look(coat), inked.more_ink_from(coat), Taste(), FIT)
    best = max(closes[list(pair)].any(axis=0).sum() for pair in combinations(range(len(shop.markers)), 2))
    assert answer.shop is not None
    assert answer.shop.exact
    assert answer.shop.closed == best > 0


def test_within_a_group_of_doubles_every_two_are_below_the_threshold(demo):
    answer = find_doubles(demo, threshold=3.0)
    assert answer.doubles
    inked = ink_drawer(demo)
    for double in answer.doubles:
        labs = inked.lab[[inked.row(one.name) for one in double.markers]]
        apart = delta_e_2000(labs[:, None], labs[None])
        assert apart.max() < 3.0
        assert double.largest == pytest.approx(float(apart.max()), abs=1e-9)
    names = [one.name for double in answer.doubles for one in double.markers]
    assert len(names) == len(set(names))


def test_every_marker_with_a_double_is_in_some_group_when_pairs_are_apart(tmp_path):
    file = tmp_path / "twins.csv"
    file.write_text(
        "name,kind,L,a,b\nwhite,paper,95,0,0\none,marker,60,20,10\ntwo,marker,60.2,20.1,10\n"
        "three,marker,40,-20,10\nfour,marker,40,-20.3,10.2\nalone,marker,70,0,50\n"
    )
    groups = [{one.name for one in double.markers} for double in find_doubles(read_palette(file)).doubles]
    assert {"one", "two"} in groups
    assert {"three", "four"} in groups
    assert len(groups) == 2


def test_a_kit_meets_its_targets_within_their_tolerance(demo):
    targets = [Target("rosehip dawn", 4.0), Target("#6b8f4e", 5.0), Target("hedgehog quill noon", 3.0)]
    answer = find_kit(demo, targets)
    assert answer.fits
    assert answer.exact
    for target, met in zip(targets, answer.targets, strict=True):
        assert met.made is not None
        assert delta_e_2000(met.wanted.lab, met.made.lab) <= target.tolerance
    assert {name for met in answer.targets for name in met.markers} == {
        one.marker.name for one in answer.markers
    }


def test_a_kit_is_no_larger_than_brute_force_finds(first_box):
    from itertools import combinations

    targets = [
        Target(f"lab({lab[0]} {lab[1]} {lab[2]})", 14.0)
        for lab in ([75, 15, 15], [60, 20, 20], [55, -10, 20])
    ]
    answer = find_kit(first_box, targets, layered=False)
    inked = ink_drawer(first_box)
    labs = np.array([met.wanted.lab for met in answer.targets])
    near = delta_e_2000(labs[:, None], inked.lab[None]) <= 14.0
    reachable = near.any(axis=1)
    smallest = next(
        size
        for size in range(len(inked.markers) + 1)
        if any(
            near[:, list(rows)].any(axis=1)[reachable].all()
            for rows in combinations(range(len(inked.markers)), size)
        )
    )
    assert answer.copies == smallest


def test_one_marker_fewer_loses_something_and_it_is_named(demo):
    answer = find_kit(demo, [Target("rosehip dawn", 2.0), Target("hedge leaf noon", 2.0)])
    assert answer.copies == 2
    assert len(answer.one_fewer) == 1


def test_a_class_brings_no_fewer_than_one_maker_and_enough_for_its_share(demo):
    targets = [Target("rosehip dawn", 2.0), Target("hedge leaf noon", 2.0), Target("lantern glow dawn", 2.0)]
    alone, together = find_kit(demo, targets, layered=False), find_kit(demo, targets, makers=7, layered=False)
    assert alone.copies == 3
    assert together.copies == 9  # 7 makers over 3 targets: each marker is in use by 7/3 of them, so 3 of each


def test_an_unreachable_target_is_said_with_the_nearest(first_box):
    answer = find_kit(first_box, [Target("lab(30 60 -70)", 2.0)])
    assert not answer.fits
    assert "nearest" in answer.targets[0].words


@pytest.mark.gold
@pytest.mark.parametrize(
    ("lab", "angle", "number"),
    [
        ([70, 10, 12], 59.04, 1),
        ([66, 10, 16], 45.0, 2),
        ([58, 10, 15], 28.07, 3),
        ([50, 10, 15], 0.0, 5),
        ([56, 10, 18], 18.43, 4),
        ([38, 10, 15], -38.66, 6),
    ],
)
def test_the_angle_and_its_classes_are_the_published_ones(lab, angle, number):
    """Chardon, Cretois and Hourseau 1991: arctan((L* - 50) / b*); limits 55, 41, 28, 10, -30."""
    assert ita_deg(lab) == pytest.approx(angle, abs=0.01)
    assert ita_class(float(ita_deg(lab))) == number


def test_a_typical_skin_has_the_angle_it_was_asked_for():
    for angle in range(-80, 81, 5):
        assert ita_deg(skin_from_ita(angle)) == pytest.approx(angle, abs=1e-6)


def test_every_class_is_answered_and_the_worst_is_shown_as_well_as_the_best(demo):
    answer = find_skin(demo)
    assert [one.number for one in answer.sets] == [1, 2, 3, 4, 5, 6]
    scores = {one.number: one.score for one in answer.sets}
    assert answer.worst == min(scores, key=scores.get)
    assert answer.best == max(scores, key=scores.get)
    assert min(scores.values()) > FIT - 20


def test_in_every_class_the_shadows_darken_and_the_blush_reddens(demo):
    for one in find_skin(demo).sets:
        by_role = {found.role: found.marker.lab for found in one.markers}
        assert by_role["base"][0] > by_role["shadow"][0] > by_role["deeper shadow"][0]
        assert by_role["light"][0] > by_role["base"][0]
        assert by_role["blush"][1] > by_role["base"][1]


def test_an_angle_that_no_skin_has_and_two_answers_at_once_are_refused(demo):
    with pytest.raises(ColourError, match="-80 to 80"):
        find_skin(demo, ita=120)
    with pytest.raises(ColourError, match="not both"):
        find_skin(demo, "#e8b48a", ita=20)


def test_check_counts_what_is_there(demo):
    answer = check_palette(demo)
    assert answer.counts == {
        "marker": len(demo.markers),
        "paper": len(demo.papers),
        "ribbon": len(demo.ribbons),
        "ink": len(demo.inks),
        "blender": len(demo.blenders),
    }
    assert "bramble" in answer.alone
    assert sum(len(family.markers) for family in answer.families) == sum(bool(m.family) for m in demo.markers)


def test_what_is_no_complexion_is_refused(demo):
    for code in ("#3a7a9a", "#00ff00", "#808080", "#101010", "#ff0000"):
        with pytest.raises(ColourError, match="no complexion"):
            find_skin(demo, code)
    for code in ("#f3d9c8", "#e8b48a", "#c68863", "#8d5a3c", "#5b3a29", "#3a241b"):
        assert find_skin(demo, code).sets[0].tone


def test_the_fairest_skin_gets_the_fairest_skin_marker_and_drawn_skin_is_said_to_be_lighter(demo):
    """Common practice, no source: drawn skin is chosen lighter than measured skin."""
    answer = find_skin(demo)
    kin = [marker for marker in demo.markers if marker.name.startswith("kin")]
    fairest = max(kin, key=lambda marker: marker.lab[0])
    base = next(one for one in answer.sets[0].markers if one.role == "base")
    assert base.marker.name == fairest.name
    assert any("lighter than measured" in line for line in answer.words)


def test_coats_of_the_same_marker_shade_skin_where_no_marker_does(demo):
    alone = demo.at_hand(
        [marker.name for marker in demo.markers if not marker.name.startswith("kin eight")][:-1]
    )
    shadow = next(one for one in find_skin(alone, "kin eight").sets[0].markers if one.role == "shadow")
    assert "coats of" in shadow.marker.name or shadow.marker.name.startswith("kin eight")


def test_a_typed_skin_that_a_marker_nearly_is_has_a_score(demo):
    near = demo.marker("kin three").lab + [1.0, 0.5, 0.5]
    one = find_skin(demo, "lab({:.2f} {:.2f} {:.2f})".format(*near)).sets[0]
    assert one.markers[0].marker.name == "kin three"
    assert one.markers[0].fits
    assert one.score > 0


def test_gaps_say_which_needs_no_colour_would_meet(demo):
    answer = find_gaps(demo)
    told = " ".join(answer.words)
    met = {(one.lacks, base) for one in answer.wanted for base in one.completes}
    for need in answer.needs:
        assert (need.lacks, need.base) in met or f"a {need.lacks} for {need.base}" in told
