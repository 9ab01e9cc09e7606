"""The words say where the picture has its shadows."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from PIL import Image

from blendkit.plan.making import make_plan
from blendkit.plan.shadow_places import highlight_words, shadow_words
from blendkit.project.records import Project, ProjectPart
from blendkit.project.work import open_work, relight


@pytest.fixture(scope="module")
def work(tmp_path_factory):
    """A belly with a scarf over its top, and a bell apart; 8 pixels a millimetre."""
    paper = np.full((480, 640), 255, np.uint8)
    cv2.ellipse(paper, (200, 260), (130, 170), 0, 0, 360, 0, 4)
    cv2.rectangle(paper, (40, 120), (360, 190), 255, -1)
    cv2.rectangle(paper, (40, 120), (360, 190), 0, 4)
    cv2.circle(paper, (520, 240), 80, 0, 4)
    file = tmp_path_factory.mktemp("words") / "belly.png"
    Image.fromarray(paper).save(file)
    parts = (
        ProjectPart("belly", at=((25.0, 40.0), (25.0, 13.0))),
        ProjectPart("scarf, red", at=((25.0, 19.0),)),
        ProjectPart("bell", at=((65.0, 30.0),)),
    )
    project = Project(str(file), dpi=203.2, parts=parts, light="1:30", fronts=(("scarf, red", "belly"),))
    return open_work(project)


@pytest.mark.parametrize(
    ("light", "shade", "gleam"),
    [
        ("1:30", "the lower left", "the upper right"),
        ("4:30", "the upper left", "the lower right"),
        ("9", "the right", "the left"),
        ("12", "the lower edge", "the upper edge"),
    ],
)
def test_the_shade_lies_away_from_the_light_and_the_highlight_toward_it(work, light, shade, gleam):
    lit = relight(work, light)
    assert shadow_words(lit, 2) == f"along {shade}"
    assert highlight_words(lit, 2) == f"toward {gleam}"


def test_what_casts_the_shadow_is_named_by_its_thing(work):
    assert shadow_words(work, 0).startswith("under the scarf")
    assert "along the lower left" in shadow_words(work, 0)
    assert "belly" not in shadow_words(work, 1)


def test_cloth_has_no_highlight_to_tell_of(work):
    assert highlight_words(work, 1) == ""
    shiny = open_work(work.project.with_part("scarf, red", material="metal"), work)
    assert highlight_words(shiny, 1)


def test_a_part_without_areas_has_nothing_to_say(work):
    parts = (*work.project.parts, ProjectPart("rest", rest=True))
    assert shadow_words(open_work(replace(work.project, parts=parts), work), 3) == ""


def test_the_steps_of_a_plan_tell_the_places_of_its_picture(work, demo):
    """Part by part, and not one sentence for all; what has no highlight in the picture is left no white."""
    coloured = work.project
    for name, base in (("belly", "rosehip dawn"), ("scarf, red", "blue jug dawn"), ("bell", "fern dawn")):
        coloured = coloured.with_part(name, base=base)
    told = {}
    for light in ("1:30", "7:30"):
        lit = relight(open_work(coloured, work), light)
        for part in make_plan(lit.project, demo, lit).parts:
            told[light, part.name] = " ".join(step.where for step in part.steps)
    assert "under the scarf" in told["1:30", "belly"]
    assert "along the lower left" in told["1:30", "bell"]
    assert "along the upper right" in told["7:30", "bell"]
    assert "toward the upper right" in told["1:30", "bell"]
    assert "leave" not in told["1:30", "scarf, red"]
    assert len(set(told.values())) == len(told)
