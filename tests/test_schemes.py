"""Schemes of base, mat and accent papers."""

import pytest

from blendkit.advice.greeting import GREETING_SMALL
from blendkit.advice.schemes import (
    IMAGE_APART,
    PAPERS_APART,
    RELATIONS,
    SEEN_APART,
    find_schemes,
)
from blendkit.colour import contrast_wcag, delta_e_2000, lab_to_oklch
from blendkit.errors import ColourError
from blendkit.palette import read_palette
from blendkit.records import to_json

IMAGE = ["pumpkin noon", "hedge leaf noon", "hedgehog quill dawn"]


def test_a_scheme_that_passes_holds_every_limit_when_counted_again(demo):
    answer = find_schemes(demo, IMAGE, count=12)
    passed = [scheme for scheme in answer.schemes if scheme.checks.passed]
    assert len(passed) >= 4
    for scheme in passed:
        base, mat, accent = (demo.paper(one.name).lab for one in (scheme.base, scheme.mat, scheme.accent))
        for colour in answer.image:
            assert delta_e_2000(colour.lab, base) >= IMAGE_APART
            assert delta_e_2000(colour.lab, mat) >= IMAGE_APART
        assert delta_e_2000(base, mat) >= PAPERS_APART
        assert min(delta_e_2000(base, accent), delta_e_2000(mat, accent)) >= PAPERS_APART
        assert max(contrast_wcag(base, ink.lab) for ink in demo.inks) >= GREETING_SMALL
        assert min(scheme.checks.seen.values()) >= SEEN_APART


def test_the_answer_opens_with_one_scheme_of_each_relation(demo):
    answer = find_schemes(demo, IMAGE)
    assert {scheme.relation for scheme in answer.schemes} == set(RELATIONS)


@pytest.mark.parametrize(
    "colour", ["coal cellar", "milk churn", "mint tin dawn", "plum cart dusk", "kin two"]
)
def test_a_scheme_that_passes_stands_in_the_relation_that_it_is_named_by(demo, colour):
    answer = find_schemes(demo, [colour], count=18)
    main = answer.image[0].lab
    hue = lab_to_oklch(main)
    for scheme in answer.schemes:
        base = scheme.base.lab
        if not scheme.checks.passed or scheme.relation == "neutral":
            continue
        if "lighter" in scheme.relation:
            assert base[0] > main[0]
        elif "darker" in scheme.relation:
            assert base[0] < main[0]
        else:
            turn = abs((lab_to_oklch(base)[2] - hue[2] + 180) % 360 - 180)
            low, high = {"neighbour": (8, 52), "split": (125, 175), "complement": (140, 180)}[scheme.relation]
            assert low <= turn <= high


def test_a_grey_image_has_no_complement_and_is_told_so(demo):
    answer = find_schemes(demo, ["plain pebble noon"], relations=["complement"])
    assert not answer.fits
    assert any("complement" in words for words in answer.near_miss.checks.words)


def test_a_greeting_on_a_patterned_base_has_to_read_on_each_of_its_colours(tmp_path):
    """Stripes of black and white have a grey mean, on which black reads; on the black stripe nothing does."""
    file = tmp_path / "stripes.csv"
    file.write_text(
        "name,kind,L,a,b,pattern,share\ndark,paper,15,0,0,stripes,0.5\npale,paper,95,0,0,stripes,0.5\n"
        "red card,paper,45,60,35,,\nblue card,paper,40,0,-45,,\nblack,ink,10,0,0,,\ninked,marker,70,0,60,,\n"
    )
    palette = read_palette(file)
    answer = find_schemes(palette, ["inked"], relations=["neutral"], count=18)
    striped = next(scheme for scheme in answer.schemes if scheme.base.name == "stripes")
    assert contrast_wcag(striped.base.lab, palette.inks[0].lab) > GREETING_SMALL
    assert striped.checks.greeting.contrast_wcag < 2.0
    assert any("greeting" in words for words in striped.checks.words)


def test_a_greeting_that_reads_as_seen_keeps_its_contrast_in_every_deficiency(demo):
    for scheme in find_schemes(demo, IMAGE, count=12).schemes:
        greeting = scheme.checks.greeting
        assert greeting.contrast_seen > 1.0
        if scheme.checks.passed:
            assert greeting.contrast_seen >= GREETING_SMALL


def test_papers_within_a_scheme_differ(demo):
    for scheme in find_schemes(demo, IMAGE, count=18).schemes:
        assert len({scheme.base.name, scheme.mat.name, scheme.accent.name}) == 3


def test_a_complement_lies_across_the_circle(demo):
    answer = find_schemes(demo, ["rosehip noon"], relations=["complement"])
    base = lab_to_oklch(answer.schemes[0].base.lab)
    main = lab_to_oklch(answer.image[0].lab)
    apart = abs((base[2] - main[2] + 180) % 360 - 180)
    assert apart > 120


def test_where_no_ink_reads_on_the_only_papers_the_near_miss_says_so(tmp_path):
    file = tmp_path / "mid.csv"
    file.write_text(
        "name,kind,L,a,b\nmid one,paper,52,40,20\nmid two,paper,50,-30,20\nmid three,paper,54,5,-40\n"
        "grey ink,ink,45,0,0\ninked,marker,80,0,60\n"
    )
    answer = find_schemes(read_palette(file), ["inked"])
    assert not answer.fits
    assert answer.near_miss is not None
    assert any("greeting" in words for words in answer.near_miss.checks.words)


def test_too_few_papers_are_said_and_nothing_fits(tmp_path):
    file = tmp_path / "few.csv"
    file.write_text("name,kind,L,a,b\ncard,paper,52,40,20\ninked,marker,80,0,60\n")
    answer = find_schemes(read_palette(file), ["inked"])
    assert (answer.fits, answer.schemes) == (False, ())


def test_json_has_the_documented_keys(demo):
    data = to_json(find_schemes(demo, IMAGE[:1], count=1))
    assert {"relation", "base", "mat", "accent", "checks"} <= set(data["schemes"][0])


def test_a_relation_that_is_none_and_no_colour_are_refused(demo):
    with pytest.raises(ColourError, match="complement"):
        find_schemes(demo, IMAGE, relations=["opposite"])
    with pytest.raises(ColourError, match="no image colour"):
        find_schemes(demo, [])


def test_the_best_sets_are_those_of_a_table_of_all_sets():
    """The search by bounds, against every base, mat and accent multiplied out."""
    import numpy as np

    from blendkit.advice import schemes
    from blendkit.colour import delta_e_2000

    rng = np.random.default_rng(3)
    labs = np.stack([rng.uniform(20, 95, 40), rng.uniform(-40, 40, 40), rng.uniform(-40, 40, 40)], axis=1)
    ones = np.ones(40)
    judged = schemes._Judged((), labs, 30, labs[:1], ones, ones, ones, (None, None))
    worth = tuple(rng.uniform(0.0, 1.0, 40) for _ in range(3))
    apart = delta_e_2000(labs[:, None], labs[None])
    shows = np.minimum(apart / schemes.PAPERS_APART, 1.0)
    frames = np.minimum(apart / (2 * schemes.PAPERS_APART), 1.0)
    total = (
        worth[0][:30, None, None]
        * worth[1][None, :30, None]
        * worth[2][None, None, :]
        * frames[:30, :30, None]
        * shows[:30, None, :]
        * shows[None, :30, :]
    )
    same = np.arange(30)
    total[same, same, :] = total[same, :, same] = total[:, same, same] = 0.0
    best = total.reshape(30, -1).max(axis=1)
    found = list(schemes._best_sets(judged, worth))
    np.testing.assert_allclose([score for score, _ in found], np.sort(best[best > 0])[::-1])
    for score, rows in found:
        assert total[rows] == pytest.approx(score)


def test_given_papers_stay_and_the_rest_is_proposed(demo):
    base, mat = demo.papers[3].name, demo.papers[0].name
    with_base = find_schemes(demo, ["rosehip noon"], base=base)
    assert with_base.schemes
    assert {scheme.base.name for scheme in with_base.schemes} == {base}
    assert len({scheme.mat.name for scheme in with_base.schemes}) > 1
    both = find_schemes(demo, ["rosehip noon"], base=base, mat=mat)
    assert {(scheme.base.name, scheme.mat.name) for scheme in both.schemes} == {(base, mat)}
    assert {scheme.mat.name for scheme in find_schemes(demo, ["rosehip noon"], mat=mat).schemes} == {mat}
