"""One judge says whether stamped words read, for schemes and for plans."""

import pytest

from blendkit.advice.greeting import (
    GREETING_LARGE,
    GREETING_SMALL,
    contrast_needed,
    ink_contrasts,
    read_ink,
)
from blendkit.advice.schemes import find_schemes
from blendkit.colour import contrast_wcag
from blendkit.inked import ink_drawer
from blendkit.plan.papers import check_greeting, read_greeting
from blendkit.project.records import Greeting, Project


def project_with(words_on, ink, size_pt=20.0):
    return Project("none.png", greeting=Greeting("Hello", ink, size_pt, on=words_on))


@pytest.mark.gold
@pytest.mark.parametrize(
    ("size_pt", "bold", "needed"), [(17.9, False, 4.5), (18, False, 3.0), (13.9, True, 4.5), (14, True, 3.0)]
)
def test_large_words_need_less_contrast(size_pt, bold, needed):
    """W3C WCAG 2.2, success criterion 1.4.3: 4.5 to 1; 3 to 1 from 18 pt, or 14 pt bold."""
    assert contrast_needed(size_pt, bold) == needed


def test_on_one_colour_the_contrast_is_that_of_the_two(demo):
    ink, paper = demo.find("Pine green greeting"), demo.paper("Straw card")
    read = read_ink(ink.lab, paper)
    assert read.contrast_wcag == pytest.approx(float(contrast_wcag(ink.lab, paper.lab)))
    assert ink_contrasts(ink.lab[None, :], paper)[0] == pytest.approx(read.contrast_wcag)
    assert read.least == min(read.contrast_wcag, read.contrast_seen)


def test_on_a_pattern_the_worst_of_its_colours_counts(demo):
    ink, paper = demo.find("Lamp black outline"), demo.paper("Leaf fall print")
    assert float(contrast_wcag(ink.lab, paper.lab)) > GREETING_SMALL
    assert read_ink(ink.lab, paper).contrast_wcag < GREETING_LARGE


def test_words_that_melt_into_a_card_for_some_eyes_do_not_read(demo):
    """Rosehip on kraft: 3.04 by the colours, 2.76 as seen with a deutan deficiency."""
    read = read_ink(demo.find("Rosehip greeting").lab, demo.paper("Kraft pale"))
    assert read.contrast_wcag > GREETING_LARGE > read.contrast_seen
    assert (read.deficiency, read.reads(GREETING_LARGE)) == ("deutan", False)


def test_plan_and_schemes_give_the_same_verdict_on_every_base(demo):
    inked = ink_drawer(demo, None)
    schemes = find_schemes(demo, ["rosehip noon", "moss stone dawn"], count=18).schemes
    assert len(schemes) >= 6
    for scheme in schemes:
        greeting = scheme.checks.greeting
        for size_pt, needed in ((20.0, GREETING_LARGE), (10.0, GREETING_SMALL)):
            read = read_greeting(project_with(scheme.base.name, greeting.ink.name, size_pt), inked)
            assert (read.contrast_wcag, read.contrast_seen) == pytest.approx(
                (greeting.contrast_wcag, greeting.contrast_seen)
            )
            assert read.reads == (min(greeting.contrast_wcag, greeting.contrast_seen) >= needed)


def test_the_check_of_a_plan_names_the_deficiency_and_a_better_ink(demo):
    findings = check_greeting(project_with("Kraft pale", "Rosehip greeting"), ink_drawer(demo, None))
    assert [finding.level for finding in findings] == ["fault"]
    assert "2.8 as seen with a deutan deficiency" in findings[0].words
    assert "Lamp black outline would reach" in findings[0].words
    assert findings[0].value == pytest.approx(2.76, abs=0.01)


def test_the_check_of_a_plan_judges_a_pattern_by_its_worst_colour(demo):
    findings = check_greeting(project_with("Leaf fall print", "Bark brown outline"), ink_drawer(demo, None))
    assert "does not read: contrast 1.8" in findings[0].words


def test_inks_are_ranked_by_contrast_and_a_dark_card_asks_for_pale_ink(tmp_path):
    from blendkit.advice.greeting import find_greeting_inks
    from blendkit.palette import read_palette

    path = tmp_path / "inks.csv"
    path.write_text(
        "name,kind,hex,pattern,share\n"
        "night card,paper,#23272f,,\nmilk card,paper,#f7f6f2,,\n"
        "dots,paper,#20242c,dotted night,0.7\nspots,paper,#f4f1e8,dotted night,0.3\n"
        "soot,ink,#1c1c1c,,\nchalk,ink,#f4f4f0,,\nplum,ink,#5a3050,,\n",
        encoding="utf-8",
    )
    palette = read_palette(path)
    light = find_greeting_inks(palette, "milk card")
    assert [one.ink.name for one in light.inks] == ["soot", "plum", "chalk"]
    assert light.fits
    dark = find_greeting_inks(palette, "night card")
    assert dark.inks[0].ink.name == "chalk"
    assert "pale ink reads" in " ".join(dark.words)
    dotted = find_greeting_inks(palette, "dotted night")
    assert not dotted.fits  # black and white lie side by side, so no ink reads on both
    assert "plain label" in " ".join(dotted.words)
    assert all(one.worst in ("dots", "spots") for one in dotted.inks)
