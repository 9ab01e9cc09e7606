"""Dabs and scribbles: edits of a project, and what they change in the picture."""

import cv2
import numpy as np
import pytest
from PIL import Image

from blendkit.errors import ProjectError
from blendkit.project.hand import areas_under, group_areas, with_dab
from blendkit.project.reading import project_from_text, read_project
from blendkit.project.records import Project, ProjectPart
from blendkit.project.work import open_work
from blendkit.project.writing import write_project


@pytest.fixture(scope="module")
def work(tmp_path_factory):
    """Two boxes that share a side, and a ball; 8 pixels a millimetre."""
    paper = np.full((320, 640), 255, np.uint8)
    cv2.rectangle(paper, (40, 40), (200, 280), 0, 4)
    cv2.rectangle(paper, (200, 40), (360, 280), 0, 4)
    cv2.circle(paper, (500, 160), 100, 0, 4)
    file = tmp_path_factory.mktemp("hand") / "boxes.png"
    Image.fromarray(paper).save(file)
    parts = (
        ProjectPart("left", at=((15.0, 20.0),)),
        ProjectPart("right", at=((35.0, 20.0),)),
        ProjectPart("ball", at=((62.5, 20.0),)),
    )
    return open_work(Project(str(file), path=file.with_suffix(".toml"), dpi=203.2, parts=parts))


@pytest.mark.parametrize(("kind", "sign"), [("dark", 1), ("bright", -1)])
def test_a_dab_changes_the_tone_there_and_stays_in_its_part(work, kind, sign):
    done = open_work(with_dab(work, (23.0, 20.0), kind), work)
    change = sign * (done.shades.tone - work.shades.tone)
    assert change[160, 184] > 0.2
    inside = work.regions.labels == work.areas[0][0]
    assert np.abs(change[~inside]).max() < 1e-6  # the other box begins 2 mm on
    assert change[inside].min() > -1e-6
    assert change[60, 60] < 0.02


def test_the_other_kind_of_dab_takes_one_away(work):
    once = open_work(with_dab(work, (15.0, 20.0), "dark"), work)
    again = with_dab(once, (15.5, 20.5), "bright")
    assert again == work.project


def test_a_dab_on_the_paper_is_refused(work):
    with pytest.raises(ProjectError, match="No part lies there"):
        with_dab(work, (1.0, 1.0), "dark")


def test_a_scribble_takes_the_areas_that_it_passes_over(work):
    line = [(10.0, 15.0), (40.0, 25.0)]
    assert areas_under(work, line) == (work.areas[0][0], work.areas[1][0])
    grouped = open_work(group_areas(work, line, "left"), work)
    assert set(grouped.areas[0]) == {work.areas[0][0], work.areas[1][0]}
    assert [part.name for part in grouped.project.parts] == ["left", "ball"]
    assert grouped.areas[1] == work.areas[2]


def test_a_scribble_on_the_paper_or_for_no_part_is_refused(work):
    with pytest.raises(ProjectError, match="passes over no area"):
        group_areas(work, [(1.0, 1.0), (2.0, 2.0)], "left")
    with pytest.raises(ProjectError, match="no part called"):
        group_areas(work, [(10.0, 15.0)], "middle")


def test_dabs_and_materials_are_kept_in_the_file(work, tmp_path):
    project = with_dab(work, (15.0, 20.0), "bright").with_part("ball", material="metal")
    write_project(tmp_path / "made.toml", project)
    read = read_project(tmp_path / "made.toml")
    assert read.parts[0].bright == ((15.0, 20.0),)
    assert read.parts[2].material == "metal"


def test_a_material_that_is_none_is_told_with_those_that_are():
    with pytest.raises(ProjectError, match="found 'jelly'; accepted: blush, glow, glass, metal"):
        project_from_text('image = "a.png"\n[[parts]]\nname = "a"\nat = [1, 1]\nmaterial = "jelly"\n')
