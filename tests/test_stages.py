"""The stages of a picture: each is a coat that the ink model predicts; nothing gets lighter before the blend."""

import io

import numpy as np
import pytest
from PIL import Image

from blendkit.art.shading import BASE_TONE
from blendkit.inked import ink_drawer
from blendkit.plan.stages import STAGES, draw_stages, encode_moving, encode_strip, stage_tone
from blendkit.project.part_colours import colour_parts, paint_work
from blendkit.project.records import Project, ProjectPart
from blendkit.project.work import open_work, relight


@pytest.fixture(scope="module")
def work(tmp_path_factory):
    """A ball behind a box, 254 dots an inch, so that a stage is as large as the picture."""
    import cv2

    paper = np.full((400, 480), 255, np.uint8)
    cv2.circle(paper, (160, 200), 120, 0, 4)
    cv2.rectangle(paper, (200, 120), (420, 300), 255, -1)
    cv2.rectangle(paper, (200, 120), (420, 300), 0, 4)
    file = tmp_path_factory.mktemp("stages") / "ball.png"
    Image.fromarray(paper).save(file)
    parts = (
        ProjectPart("ball", at=((10.0, 20.0),), base="fern dawn", shadow="fern noon", material="metal"),
        ProjectPart("box", at=((30.0, 20.0),), base="blue jug dawn", shadow="blue jug noon"),
    )
    return open_work(Project(str(file), dpi=254, parts=parts, fronts=(("box", "ball"),)))


@pytest.fixture(scope="module")
def drawn(work, demo):
    inked = ink_drawer(demo)
    colours = colour_parts(work.project, inked)
    return colours, draw_stages(work, colours, inked)


def ball(work):
    """Pixels of the ball away from its line."""
    return (work.regions.labels == work.areas[0][0]) & (work.regions.line == 0)


def test_before_the_blend_every_place_has_one_whole_coat(work, drawn):
    colours, stages = drawn
    ramp = colours[0].ramp.astype(int)
    coats = {tuple(ramp[place]) for place in (0, round(255 * BASE_TONE), 255)}
    for number, most in ((1, 2), (2, 3)):
        seen = set(map(tuple, stages[number].picture[ball(work)].astype(int)))
        assert seen <= coats
        assert len(seen) == most


def test_the_outline_stands_on_bare_paper_and_the_last_stage_is_the_picture(work, demo, drawn):
    colours, stages = drawn
    bare = stages[0].picture
    assert (bare[ball(work)] == bare[2, 2]).all()
    assert (stages[-1].picture == paint_work(work, colours, ink_drawer(demo))).all()


def test_tones_only_deepen_until_the_highlights_are_softened(work):
    base, shadow, blend, done = (stage_tone(work.shades.tone, name) for name in list(STAGES)[1:])
    inside = ball(work)
    assert (shadow >= base)[inside].all()
    assert (np.abs(blend - done)[inside & (done > BASE_TONE)] == 0).all()
    assert (blend > BASE_TONE)[inside].sum() > (shadow > BASE_TONE)[inside].sum()


def test_the_shadow_is_laid_under_the_box_first(work):
    strip = np.s_[180:220, 190:196]  # the ball, just left of the box, away from light at the upper right
    lit = relight(work, "2")
    assert stage_tone(lit.shades.tone, "shadow")[strip].mean() > 0.9


@pytest.mark.parametrize("form", ["gif", "webp"])
def test_the_moving_picture_reopens_with_five_frames_and_is_the_same_each_time(drawn, form):
    data = encode_moving(drawn[1], form)
    with Image.open(io.BytesIO(data)) as moving:
        assert moving.n_frames == 5
        assert moving.size == drawn[1][0].picture.shape[1::-1]
    assert data == encode_moving(drawn[1], form)


def test_the_strip_has_the_stages_side_by_side(drawn):
    with Image.open(io.BytesIO(encode_strip(drawn[1]))) as strip:
        height, width = drawn[1][0].picture.shape[:2]
        assert strip.height == height
        assert 5 * width < strip.width < 5.5 * width
