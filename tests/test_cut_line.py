"""The cut line: at the rim's distance, smooth, never crossing, spikes bridged or cut off."""

import dataclasses

import cv2
import numpy as np
import pytest
from matplotlib.path import Path as Outline
from PIL import Image
from scipy.spatial import cKDTree

from blendkit.errors import ProjectError
from blendkit.plan.check import check_plan
from blendkit.plan.cut_line import TURN_MM, find_cut_faults, find_cut_line
from blendkit.project.records import Cut, Project
from blendkit.project.work import open_work

DPI = 254.0  # 10 pixels a millimetre


@pytest.fixture(scope="module")
def draw(tmp_path_factory):
    """Open work on a picture of 60 × 50 mm that a function draws on, places given in tenths of a millimetre."""

    def call(paint):
        picture = np.full((500, 600), 255, np.uint8)
        paint(picture)
        file = tmp_path_factory.mktemp("cut") / "figure.png"
        Image.fromarray(picture).save(file)
        return open_work(Project(image=str(file), dpi=DPI))

    return call


def disc(picture, x=300, y=250, radius=120):
    cv2.circle(picture, (x, y), radius, 0, 6, cv2.LINE_AA)


def star(picture):
    """A star of twelve quills, with two hairs."""
    turns = np.arange(24) * np.pi / 12
    radii = np.where(np.arange(24) % 2, 110, 190)
    points = np.stack([300 + radii * np.cos(turns), 250 + radii * np.sin(turns)], axis=1)
    cv2.polylines(picture, [np.round(points).astype(np.int32)], True, 0, 5, cv2.LINE_AA)
    cv2.line(picture, (400, 60), (452, 22), 0, 4, cv2.LINE_AA)
    cv2.line(picture, (395, 75), (404, 56), 0, 4, cv2.LINE_AA)


@pytest.fixture(scope="module")
def spiky(draw):
    return draw(star)


def crossings(outlines):
    """How many pairs of edges cross: by the signs of triangles' areas, over all pairs; no geometry library."""
    starts, ends, owner, place = [], [], [], []
    for number, outline in enumerate(outlines):
        points = np.array(outline)
        starts.append(points)
        ends.append(np.roll(points, -1, axis=0))
        owner.append(np.full(len(points), number))
        place.append(np.arange(len(points)))
    a, b, own, at = np.concatenate(starts), np.concatenate(ends), np.concatenate(owner), np.concatenate(place)
    sizes = np.array([len(outline) for outline in outlines])

    def side(p, q, r):
        return (q[..., 0] - p[..., 0]) * (r[..., 1] - p[..., 1]) - (q[..., 1] - p[..., 1]) * (
            r[..., 0] - p[..., 0]
        )

    a1, b1, a2, b2 = a[:, None], b[:, None], a[None], b[None]
    apart = (side(a1, b1, a2) * side(a1, b1, b2) < 0) & (side(a2, b2, a1) * side(a2, b2, b1) < 0)
    gap = np.abs(at[:, None] - at[None])
    near = (own[:, None] == own[None]) & ((gap <= 1) | (gap == sizes[own][:, None] - 1))
    return int((apart & ~near).sum()) // 2


def along(outline, step=0.1):
    """Points every tenth of a millimetre along a closed outline."""
    points = np.array([*outline, outline[0]])
    lengths = np.hypot(*np.diff(points, axis=0).T)
    where = np.concatenate([[0], np.cumsum(lengths)])
    at = np.arange(0, where[-1], step)
    return np.stack([np.interp(at, where, points[:, k]) for k in (0, 1)], axis=1)


def ink_mm(work):
    y, x = np.nonzero(work.regions.line > 128)
    return (np.stack([x, y], axis=1) + 0.5) / work.per_mm


@pytest.mark.gold
@pytest.mark.parametrize("rim_mm", [1.0, 2.0, 4.0])
def test_around_a_disc_the_line_is_a_circle_that_is_wider_by_the_rim(draw, rim_mm):
    """Truth: the parallel curve of a circle is a circle about the same centre (any textbook of geometry)."""
    line = find_cut_line(draw(disc), Cut(rim_mm))
    (outline,) = line.outlines
    x, y = np.array(outline).T
    radius = np.hypot(x - 30.05, y - 25.05)  # the middle of pixel (300, 250)
    assert radius == pytest.approx(12.0 + 0.3 + rim_mm, abs=0.13)
    assert np.ptp(radius) < 0.12


@pytest.mark.parametrize("spikes", ["bridge", "cut"])
@pytest.mark.parametrize("rim_mm", [0.0, 2.0, 5.0])
def test_the_line_never_crosses_itself(spiky, spikes, rim_mm):
    line = find_cut_line(spiky, Cut(rim_mm, spikes))
    assert crossings(line.outlines) == 0


def test_the_count_of_crossings_sees_one():
    assert crossings([((0, 0), (2, 2), (2, 0), (0, 2))]) == 1
    assert crossings([((0, 0), (2, 0), (2, 2), (0, 2))]) == 0
    assert crossings([((0, 0), (2, 0), (2, 2), (0, 2)), ((1, 1), (3, 1), (3, 3), (1, 3))]) == 2


def test_bridged_no_ink_lies_nearer_to_the_line_than_the_rim(spiky):
    line = find_cut_line(spiky, Cut(2.0, "bridge"))
    distance, _ = cKDTree(ink_mm(spiky)).query(np.concatenate([along(outline) for outline in line.outlines]))
    assert distance.min() > 1.85
    assert line.least_rim_mm == pytest.approx(distance.min(), abs=0.15)
    assert line.left_out == 0


def test_bridged_the_hairs_are_inside_and_cut_off_they_are_outside(spiky):
    tip = (45.0, 2.4)
    bridged, cut = (find_cut_line(spiky, Cut(2.0, spikes)) for spikes in ("bridge", "cut"))
    assert any(Outline(outline).contains_point(tip) for outline in bridged.outlines)
    assert not any(Outline(outline).contains_point(tip) for outline in cut.outlines)
    assert cut.left_out >= 1
    assert "cut off" in " ".join(cut.words)


def test_cutting_takes_the_tips_of_quills_off(spiky):
    bridged, cut = (find_cut_line(spiky, Cut(2.0, spikes, thin_mm=3.0)) for spikes in ("bridge", "cut"))
    assert cut.width_mm < bridged.width_mm - 3.0


@pytest.mark.parametrize("spikes", ["bridge", "cut"])
def test_the_line_turns_no_tighter_than_a_blade_can(spiky, spikes):
    """Its radius at every place is at least two thirds of TURN_MM, taken from how far it turns within 1 mm."""
    line = find_cut_line(spiky, Cut(2.0, spikes))
    for outline in line.outlines:
        points = along(outline)
        step = np.roll(points, -5, axis=0) - points
        heading = np.arctan2(step[:, 1], step[:, 0])
        turn = np.abs((np.roll(heading, -10) - heading + np.pi) % (2 * np.pi) - np.pi)
        assert 1.0 / turn.max() > TURN_MM * 2 / 3


def test_pieces_far_apart_come_out_one_by_one_and_near_ones_together(draw):
    def pair(gap):
        def paint(picture):
            disc(picture, 150, 250, 80)
            disc(picture, 310 + gap, 250, 80)

        return find_cut_line(draw(paint), Cut(2.0, "bridge"))

    assert len(pair(150).outlines) == 2
    assert "2 pieces" in " ".join(pair(150).words)
    assert len(pair(30).outlines) == 1


def test_holes_of_the_figure_are_not_cut(draw):
    def ring(picture):
        disc(picture, 300, 250, 200)
        disc(picture, 300, 250, 60)

    assert len(find_cut_line(draw(ring)).outlines) == 1


def test_specks_beside_the_figure_do_not_move_the_line(draw):
    def dirty(picture):
        disc(picture)
        cv2.circle(picture, (440, 250), 1, 0, -1)

    clean, speckled = find_cut_line(draw(disc)), find_cut_line(draw(dirty))
    assert speckled.width_mm == pytest.approx(clean.width_mm, abs=0.05)


def test_a_figure_of_thin_things_alone_cannot_be_cut_out(draw):
    def thin(picture):
        cv2.rectangle(picture, (100, 100), (500, 116), 0, 5)

    with pytest.raises(ProjectError, match="thin_mm"):
        find_cut_line(draw(thin), Cut(2.0, "cut", 3.0))


def leaky(picture):
    """A ring with a gap of 8 mm, which nothing closes, round a closed disc."""
    cv2.ellipse(picture, (300, 250), (150, 150), 0, 15, 345, 0, 6, cv2.LINE_AA)
    disc(picture, 300, 250, 40)


def test_the_line_follows_the_ink_where_a_part_has_run_out_into_the_paper(draw):
    work = draw(leaky)
    assert work.area_at((22.0, 25.0)) == 0, "the ring is no part here"
    line = find_cut_line(work)
    assert np.any([Outline(one).contains_points(ink_mm(work)) for one in line.outlines], axis=0).all()
    assert line.faults == ()


def test_a_line_around_the_closed_parts_alone_is_told_to_cut_the_drawing_off(draw):
    work = draw(leaky)
    turns = np.arange(64) * np.pi / 32
    around_the_disc = tuple((30 + 6.5 * float(np.cos(a)), 25 + 6.5 * float(np.sin(a))) for a in turns)
    (fault,) = find_cut_faults(work.regions, work.dpi, Cut(2.0), (around_the_disc,))
    assert fault.size_mm > 30
    assert np.hypot(fault.place_mm[0] - 30, fault.place_mm[1] - 25) == pytest.approx(15, abs=1)
    assert "outside the line" in fault.words


def test_a_rim_that_is_too_narrow_is_told_with_its_place(draw):
    work = draw(disc)
    turns = np.arange(64) * np.pi / 32
    shifted = tuple((31 + 14.3 * float(np.cos(a)), 25 + 14.3 * float(np.sin(a))) for a in turns)
    (fault,) = find_cut_faults(work.regions, work.dpi, Cut(2.0), (shifted,))
    assert fault.size_mm == pytest.approx(1.0, abs=0.15)
    assert fault.place_mm == pytest.approx((17.7, 25), abs=2.5), "the rim is narrowest on the left"


def test_the_check_of_a_plan_fails_where_the_line_would_cut_the_drawing(draw, demo, monkeypatch):
    work = draw(leaky)
    findings = check_plan(work.project, demo, work).findings
    assert not [one for one in findings if one.topic == "cut line" and one.level == "fault"]
    narrow = find_cut_line(draw(disc), Cut(0.0))  # the line of a smaller figure
    small = find_cut_faults(work.regions, work.dpi, Cut(0.0), narrow.outlines)
    monkeypatch.setattr(
        "blendkit.plan.check.find_cut_line", lambda work: dataclasses.replace(narrow, faults=small)
    )
    answer = check_plan(work.project, demo, work)
    assert not answer.fits
    assert any(one.level == "fault" and one.topic == "cut line" for one in answer.findings)


def apart(picture):
    disc(picture, 200, 250, 100)
    cv2.line(picture, (480, 200), (500, 300), 0, 5, cv2.LINE_AA)  # steam, far from it
    cv2.circle(picture, (420, 60), 3, 0, -1)  # dirt


def test_a_stroke_far_from_the_figure_stays_with_it_until_it_is_left_out(draw):
    work = draw(apart)
    line = find_cut_line(work)
    assert len(line.outlines) == 2
    ((x, y),) = line.apart
    assert (x, y) == pytest.approx((49, 25), abs=1)
    looks = [one for one in line.words if "2 pieces" in one]
    assert looks
    left = find_cut_line(work, Cut(leave=((x, y),)))
    assert len(left.outlines) == 1
    assert left.faults == (), "what a person has left out is no fault"


def test_the_figure_itself_cannot_be_left_out(draw):
    with pytest.raises(ProjectError, match="no piece by itself"):
        find_cut_line(draw(disc), Cut(leave=((30.0, 25.0),)))
