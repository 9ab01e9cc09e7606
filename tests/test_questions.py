"""Overlaps to ask about: open guesses only, the one that moves most shadow first, five at most."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from PIL import Image

from blendkit.project.questions import find_questions
from blendkit.project.records import Project, ProjectPart
from blendkit.project.work import open_work


@pytest.fixture(scope="module")
def work(tmp_path_factory):
    """Squares side by side in a row, of falling height: nothing tells which of two lies in front."""
    paper = np.full((500, 900), 255, np.uint8)
    heights = (400, 320, 240, 160, 100, 80, 60)
    for k, height in enumerate(heights):
        cv2.rectangle(paper, (40 + 110 * k, 30), (150 + 110 * k, 30 + height), 0, 4)
    file = tmp_path_factory.mktemp("asked") / "row.png"
    Image.fromarray(paper).save(file)
    parts = tuple(
        ProjectPart(f"block {k + 1}", at=(((95 + 110 * k) / 8, 50 / 8),)) for k in range(len(heights))
    )
    work = open_work(Project(str(file), dpi=203.2, parts=parts))
    even = np.full(len(work.fronts.pairs), 0.55)
    return replace(work, fronts=replace(work.fronts, first_in_front=even, beside=np.zeros(len(even))))


def test_the_longest_even_guess_is_asked_first_and_no_more_than_five(work):
    asked = find_questions(work)
    assert len(asked) == 5
    assert {asked[0].front, asked[0].behind} == {"block 1", "block 2"}
    assert [one.changes_mm2 for one in asked] == sorted((one.changes_mm2 for one in asked), reverse=True)
    assert asked[0].words.startswith("Does the block")


def test_the_order_is_that_of_the_shadow_that_moves(work):
    """Measured anew for each question: the picture's cast shadow with one answer and with the other."""
    moved = []
    for one in find_questions(work, most=3):
        casts = []
        for pair in ((one.front, one.behind), (one.behind, one.front)):
            lit = [
                open_work(replace(work.project, fronts=(pair,), light=light), None).shades.cast
                for light in ("9", "3")
            ]
            casts.append(np.stack(lit))
        moved.append(float(np.abs(casts[0] - casts[1]).sum()))
    assert moved == sorted(moved, reverse=True)


def test_what_is_decided_or_sure_is_not_asked(work):
    decided = replace(work.fronts, given=np.ones(len(work.fronts.pairs), bool))
    assert find_questions(replace(work, fronts=decided)) == ()
    sure = replace(work.fronts, first_in_front=np.full(len(work.fronts.pairs), 0.95))
    assert find_questions(replace(work, fronts=sure)) == ()


def test_the_answer_s_line_is_one_that_a_project_takes(work):
    from blendkit.project.reading import project_from_text

    one = find_questions(work)[0]
    parts = "".join(f'[[parts]]\nname = "{part.name}"\nat = [1, 1]\n' for part in work.project.parts)
    read = project_from_text(f'image = "row.png"\n{one.decision}\n{parts}')
    assert read.fronts == ((one.front, one.behind),)


def test_plural_names_are_asked_about_as_such(work):
    parts = (replace(work.project.parts[0], name="quills, dark"), replace(work.project.parts[1], name="face"))
    named = replace(work, project=replace(work.project, parts=(*parts, *work.project.parts[2:])))
    words = {one.words for one in find_questions(named)}
    assert words & {"Do the quills dark lie over the face?", "Does the face lie over the quills dark?"}
