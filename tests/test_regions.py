"""Parts of a line image: checked on drawings whose parts are known from their geometry."""

import dataclasses

import cv2
import numpy as np
import pytest
from drawings.scenes import TUNING
from drawings.scenes_held import HELD
from drawings.scenes_many import many
from drawings.score import score
from drawings.shapes import ellipse
from drawings.sketch import Sketch, draw, photograph, scan
from hypothesis import given, settings
from hypothesis import strategies as st

from blendkit.art.closures import draw_closures, find_tips
from blendkit.art.ink_mask import MAX_PIXELS, find_ink, grey_of
from blendkit.art.region_edits import OUTSIDE, Edits, Reassignment, edits_to_table
from blendkit.art.regions import find_regions
from blendkit.art.second_look import look_again
from blendkit.errors import PictureError, ProjectError
from blendkit.forms import At, read_form
from blendkit.records import to_json


def boxes(gap: int = 0, wall: int = 5, size: int = 300) -> np.ndarray:
    """Two squares side by side with a common wall that has a gap, *wall* pixels wide, black on white."""
    page = np.full((size, 2 * size), 255, np.uint8)
    page[40 : size - 40, 60 : 2 * size - 60] = 0
    page[40 + wall : size - 40 - wall, 60 + wall : 2 * size - 60 - wall] = 255
    page[40 : size - 40, size - wall // 2 : size - wall // 2 + wall] = 0
    if gap:
        middle = size // 2
        page[middle - gap // 2 : middle - gap // 2 + gap, size - wall : size + wall] = 255
    return page


@pytest.fixture(scope="module")
def lantern():
    return draw(TUNING["lantern"](), 200, 0.5, 21)


@pytest.fixture(scope="module")
def found(lantern):
    return find_regions(lantern.grey, 200)


def evaluate(scenes, condition, seed, dpi=200, pen_mm=0.55):
    """Mean IoU, parts, extra and merged over scenes."""
    ious, extra, merged = [], 0, 0
    for index, scene in enumerate(scenes):
        drawing = draw(scene(), dpi, pen_mm, seed + index, (1, 5) if "gapped" in condition else None)
        picture, truth = drawing.grey, drawing.truth
        if "scanned" in condition:
            picture = scan(drawing, seed + index)
        if "photographed" in condition:
            picture, truth = photograph(drawing, seed + index)
        result = score(truth, find_regions(picture, dpi).labels)
        ious += list(result.iou)
        extra += result.extra
        merged += result.merged
    return float(np.mean(ious)), len(ious), extra, merged


def test_the_truth_has_the_area_of_its_geometry():
    """The drawings' own map of parts holds a disc of 20 mm to half a per cent, so it is fit to judge by."""
    sketch = Sketch(60, 60)
    sketch.area(ellipse(30, 30, 20))
    for dpi in (200, 600):
        drawing = draw(sketch, dpi, 0.5, 1, wobble_mm=0)
        assert (drawing.truth == 1).sum() == pytest.approx(np.pi * (20 * dpi / 25.4) ** 2, rel=0.005)


SMALL = [TUNING["lantern"], TUNING["pumpkin"], HELD["portrait"], HELD["house"]]


@pytest.mark.parametrize(
    ("condition", "least"),
    [("clean", 0.97), ("gapped", 0.95), ("scanned", 0.96), ("photographed", 0.93)],
)
def test_parts_of_known_drawings_are_found(condition, least):
    """On small copies of four drawings the mean matched IoU holds, and few parts are split or merged."""
    iou, parts, extra, merged = evaluate(SMALL, condition, 31)
    assert iou >= least
    assert extra <= 0.03 * parts
    assert merged <= 0.05 * parts


def test_every_pixel_belongs_to_exactly_one_part(found, lantern):
    """The labels run from 0 to the number of parts, without holes, at the size of the picture."""
    assert found.labels.shape == lantern.grey.shape
    assert found.labels.dtype == np.int32
    np.testing.assert_array_equal(np.unique(found.labels), np.arange(len(found.parts) + 1))


def test_areas_and_boxes_are_those_of_the_labels(found):
    """Each part's area, box and inner point agree with the labels."""
    for part in found.parts:
        rows, columns = np.nonzero(found.labels == part.number)
        assert part.area_px == len(rows)
        left, top, width, height = part.box_px
        assert (left, top) == (columns.min(), rows.min())
        assert (left + width - 1, top + height - 1) == (columns.max(), rows.max())
        assert found.number_at(part.place) == part.number
    areas = [part.area_px for part in found.parts]
    assert areas == sorted(areas, reverse=True)


def test_a_large_picture_of_odd_size_is_worked_on_reduced():
    """Nine megapixels: labels and line have its size, parts meet under the line, dust is gone."""
    page = boxes(0, wall=12, size=2101)
    page[:2, :2] = page[20:22, 4100:4102] = page[2060:2062, 30:32] = 0
    regions = find_regions(page, 300)
    assert regions.labels.shape == regions.line.shape == page.shape
    assert regions.labels.dtype == np.int32
    assert len(regions.parts) == 2
    for part in regions.parts:
        assert part.area_px == np.count_nonzero(regions.mask(part.number))
        assert part.area_px == pytest.approx(2035 * 2009, rel=0.002)  # to the middle of the lines
    assert not regions.labels[:, -1].any()
    assert not regions.labels[-1].any()
    assert regions.line[:34].max() == regions.line[2066:].max() == 0
    assert regions.line[45, 70:-70].min() == 255
    first, second = (part.place for part in regions.parts)
    assert len(find_regions(page, 300, edits=Edits(merges=((first, second),))).parts) == 1


def test_boundaries_run_under_ink(found, lantern):
    """Where two labels meet there is ink within a pixel, or a closure, so no white shows beside a line."""
    labels = found.labels
    covered = cv2.dilate((lantern.grey < 200).astype(np.uint8) * 255, np.ones((3, 3), np.uint8))
    draw_closures(covered, found.closures, 3)
    meets = np.zeros(labels.shape, bool)
    meets[:, 1:] |= labels[:, 1:] != labels[:, :-1]
    meets[1:] |= labels[1:] != labels[:-1]
    assert (covered[meets] > 0).mean() > 0.999


def test_boundary_runs_under_the_middle_of_the_line():
    """A wall five pixels wide is shared out evenly, to a pixel."""
    regions = find_regions(boxes(0, 5))
    row = regions.labels[150, 280:320]
    change = np.flatnonzero(np.diff(row)) + 280
    assert len(change) == 1
    assert abs(int(change[0]) + 0.5 - 300) <= 1


@pytest.mark.parametrize("gap", [1, 2, 4, 6, 8])
def test_a_gap_up_to_the_limit_is_closed(gap):
    """A wall five pixels wide with a gap of up to 1.6 of its width stays a wall."""
    regions = find_regions(boxes(gap))
    assert len(regions.parts) == 2
    assert len([c for c in regions.closures if c.on and c.between[0] != c.between[1]]) == (1 if gap else 0)


def test_a_wide_opening_stays_open():
    """An opening of eight pen widths is a door, not a gap."""
    assert len(find_regions(boxes(40)).parts) == 1


def test_gap_limit_of_zero_closes_nothing():
    """With no gaps to close, a broken wall joins its two rooms."""
    assert len(find_regions(boxes(4), gap_pen_widths=0).parts) == 1


def test_a_closure_that_is_switched_off_joins_two_parts():
    """Switching one closure off, by a place near it, undoes it and nothing else."""
    page = boxes(6)
    before = find_regions(page)
    closure = next(c for c in before.closures if c.between[0] != c.between[1])
    place = before.place_of(*closure.start_px)
    after = find_regions(page, edits=Edits(closures_off=(place,)))
    assert len(before.parts) == 2
    assert len(after.parts) == 1
    assert [c.on for c in after.closures].count(False) == 1


def test_a_drawn_closure_parts_what_a_wide_gap_joined():
    """A closing stroke across an opening makes two parts of one."""
    edits = Edits(closures=(((0.5, 0.40), (0.5, 0.60)),))
    regions = find_regions(boxes(40), edits=edits)
    assert len(regions.parts) == 2
    assert [c.kind for c in regions.closures] == ["drawn"] or "drawn" in [c.kind for c in regions.closures]


def test_a_sloppy_stroke_splits_a_part():
    """A stroke that stops short of the lines is run on at both ends."""
    regions = find_regions(boxes(0), edits=Edits(splits=(((0.2, 0.5), (0.4, 0.5)),)))
    assert len(regions.parts) == 3
    assert regions.number_at((0.3, 0.4)) != regions.number_at((0.3, 0.6))


def test_merges_join_two_parts_and_give_a_part_to_the_paper():
    """Merging with another part, or with the paper around, is one edit each."""
    joined = find_regions(boxes(0), edits=Edits(merges=(((0.3, 0.5), (0.7, 0.5)),)))
    assert len(joined.parts) == 1
    paper = find_regions(boxes(0), edits=Edits(merges=(((0.3, 0.5), None),)))
    assert len(paper.parts) == 1
    assert paper.number_at((0.3, 0.5)) == 0


def test_an_area_is_given_to_another_part():
    """The pixels within a polygon go to the part that is named."""
    corner = ((0.15, 0.2), (0.25, 0.2), (0.25, 0.4), (0.15, 0.4))
    regions = find_regions(boxes(0), edits=Edits(reassign=(Reassignment(corner, (0.7, 0.5)),)))
    assert regions.number_at((0.2, 0.3)) == regions.number_at((0.7, 0.5))


def test_a_part_is_cut_at_its_neck():
    """Where two rooms ran together through a door, the cut goes through the door."""
    page = boxes(40)
    assert len(find_regions(page).parts) == 1
    again = find_regions(page, edits=Edits(cuts=((0.3, 0.5),)))
    assert len(again.parts) == 2
    assert again.labels[150, 200] != again.labels[150, 400]
    edges = np.flatnonzero(np.diff(again.labels[150]))
    assert min(abs(edges - 300)) < 12


def test_a_square_has_no_neck():
    """A part without a neck is left whole, with a sentence."""
    with pytest.raises(ProjectError, match="no neck"):
        find_regions(boxes(0), edits=Edits(cuts=((0.3, 0.5),)))


def test_edits_mean_the_same_at_another_resolution():
    """Places are shares of the picture, so twice the pixels give the same parts."""
    edits = Edits(splits=(((0.2, 0.5), (0.4, 0.5)),), merges=(((0.7, 0.5), (0.3, 0.3)),))
    once = find_regions(boxes(0), edits=edits)
    twice = find_regions(boxes(0).repeat(2, 0).repeat(2, 1), edits=edits)
    assert len(once.parts) == len(twice.parts) == 2
    assert (once.labels != twice.labels[::2, ::2]).mean() < 0.001


places = st.tuples(st.floats(0, 1).map(lambda v: round(v, 5)), st.floats(0, 1).map(lambda v: round(v, 5)))
strokes = st.lists(places, min_size=2, max_size=4).map(tuple)


@settings(max_examples=40, deadline=None)
@given(
    st.builds(
        Edits,
        closures_off=st.lists(places, max_size=2).map(tuple),
        closures=st.lists(strokes, max_size=2).map(tuple),
        splits=st.lists(strokes, max_size=2).map(tuple),
        cuts=st.lists(places, max_size=2).map(tuple),
        merges=st.lists(st.tuples(places, st.none() | places), max_size=2).map(tuple),
        reassign=st.lists(
            st.builds(Reassignment, st.lists(places, min_size=3, max_size=5).map(tuple), st.none() | places),
            max_size=2,
        ).map(tuple),
    )
)
def test_edits_survive_the_project_file(edits):
    """What is written as a table is read back the same."""
    problems = []
    assert read_form(Edits, edits_to_table(edits), At("edits", problems)) == edits
    assert problems == []


def test_every_bad_edit_is_named():
    """All entries that can't be read are reported together, each with its place."""
    problems = []
    merges = [[[0.1, 0.2], OUTSIDE], [[0.1, 2.0], [0.1, 0.1]], 3]
    table = {"merges": merges, "splits": [[[0.1, 0.1]]], "cuts": "here", "colour": 1}
    read_form(Edits, table, At("edits", problems))
    assert [problem.where for problem in problems] == [
        "edits", "edits, splits, entry 1", "edits, cuts", "edits, merges, entry 2", "edits, merges, entry 3",
    ]  # fmt: skip


def test_specks_are_no_parts_and_a_berry_is():
    """Dust and pinholes make no part; a closed ring of one millimetre does."""
    page = np.full((300, 300), 255, np.uint8)
    y, x = np.mgrid[0:300, 0:300]
    ring = np.hypot(x - 150, y - 150)
    page[(ring > 90) & (ring < 96)] = 0
    small = np.hypot(x - 150, y - 120)
    page[(small > 6) & (small < 11)] = 0
    rng = np.random.default_rng(3)
    for a, b in rng.integers(10, 290, (150, 2)):
        page[a : a + 2, b : b + 2] = 40
    page[152:156, 60 - 3 : 60] = page[152:156, 60 - 3 : 60]
    page[150, 57] = 255  # a pinhole in the ring's line
    regions = find_regions(page, 300)
    assert len(regions.parts) == 2
    assert regions.line[10:40, 10:40].max() == 0 or regions.line[5:40, 5:40].mean() < 2


def test_the_line_is_black_on_the_line_and_bare_on_the_paper():
    """Under a colour cast and uneven light the line's tone is near 255 on ink and near 0 on paper."""
    drawing = draw(TUNING["pumpkin"](), 200, 0.6, 5)
    picture, truth = photograph(drawing, 5)
    grey = grey_of(picture)
    line = find_ink(grey).tone.black(grey)
    assert truth.shape == line.shape
    assert np.median(line[line > 128]) > 200
    assert np.percentile(line[line < 128], 90) < 25


def test_pen_width_is_measured():
    """The usual width of a line comes out within a sixth, at three widths."""
    for pen_mm in (0.4, 0.7, 1.0):
        drawing = draw(TUNING["pumpkin"](), 200, pen_mm, 2)
        regions = find_regions(drawing.grey, 200)
        assert regions.pen_px == pytest.approx(drawing.pen_px, rel=1 / 6)


@pytest.mark.parametrize("kind", ["uint8", "uint16", "bool", "float", "rgb"])
def test_every_kind_of_array_gives_the_same_parts(kind):
    """Eight or sixteen bits, yes and no, shares, and three channels are the same picture."""
    page = boxes(4)
    picture = {
        "uint8": page,
        "uint16": page.astype(np.uint16) * 257,
        "bool": page > 0,
        "float": page / 255.0,
        "rgb": np.repeat(page[..., None], 3, 2),
    }[kind]
    np.testing.assert_array_equal(find_regions(picture).labels, find_regions(page).labels)


def test_a_blank_page_has_no_lines():
    """A page of bare textured paper is refused with a sentence."""
    rng = np.random.default_rng(1)
    page = np.clip(rng.normal(235, 4, (300, 300)), 0, 255).astype(np.uint8)
    with pytest.raises(PictureError, match="no lines"):
        find_regions(page)
    with pytest.raises(PictureError, match="no lines"):
        find_regions(np.full((300, 300), 255, np.uint8))


def test_a_scribble_over_itself_is_no_outline():
    """Four hundred strokes across each other close thousands of slivers; nobody colours those."""
    rng = np.random.default_rng(1)
    paper = np.full((900, 1200), 255, np.uint8)
    cv2.polylines(paper, [rng.integers(0, 900, (400, 2)).astype(np.int32)], False, 0, 2)
    with pytest.raises(PictureError, match="too narrow to colour: a scribble"):
        find_regions(paper)


def test_an_open_scribble_has_no_part():
    """One open line encloses nothing, and the sentence says what to do."""
    page = np.full((300, 400), 255, np.uint8)
    for k in range(40, 360):
        y = int(150 + 60 * np.sin(k / 30))
        page[y : y + 5, k : k + 3] = 0
    with pytest.raises(PictureError, match="No part is closed"):
        find_regions(page)


def test_photos_of_something_else_are_refused():
    """Photographs that scikit-image carries with it are no line art."""
    from skimage import data

    for picture in (
        data.astronaut(),
        data.camera(),
        data.coins(),
        data.moon(),
        data.chelsea(),
        data.brick(),
        data.coffee(),
        data.rocket(),
    ):
        with pytest.raises(PictureError):
            find_regions(picture)


def test_pictures_out_of_range_are_refused():
    """Too small, too large and of the wrong shape are each refused before any work."""
    with pytest.raises(PictureError, match="only 20"):
        find_regions(np.zeros((20, 20), np.uint8))
    huge = np.broadcast_to(np.uint8(255), (MAX_PIXELS // 10_000 + 1, 10_000))
    with pytest.raises(PictureError, match="million"):
        find_regions(huge)
    with pytest.raises(PictureError, match="channels"):
        find_regions(np.zeros((100, 100, 4), np.uint8))
    with pytest.raises(PictureError, match="int64"):
        find_regions(np.zeros((100, 100), np.int64))
    with pytest.raises(ProjectError, match="pen widths"):
        find_regions(boxes(), gap_pen_widths=-1)


def test_the_record_is_plain_data_without_its_arrays(found):
    """The JSON answer holds parts and closures, not pixels."""
    data = to_json(found)
    assert data["schema"] == 1
    assert len(data["parts"]) == len(found.parts)
    assert "labels" not in data
    assert "line" not in data
    assert dataclasses.is_dataclass(found.parts[0])


def test_no_picture_makes_it_fail_in_another_way():
    """Noise, stripes, checks and ramps give parts or one of blendkit's own sentences."""
    rng = np.random.default_rng(4)
    ramp = np.tile(np.linspace(0, 255, 200), (160, 1))
    for page in (
        rng.integers(0, 256, (200, 200)),
        (np.indices((200, 200)).sum(0) // 8 % 2) * 255,
        (np.arange(200)[:, None] // 6 % 2) * np.full((1, 200), 255),
        ramp,
        np.zeros((100, 100)),
        255 - (rng.random((300, 300)) < 0.01) * 255,
    ):
        try:
            regions = find_regions(np.asarray(page, np.uint8))
        except PictureError:
            continue
        assert regions.labels.min() >= 0
        assert regions.labels.max() == len(regions.parts)


def test_a_small_part_with_one_gap_is_closed_but_rows_of_marks_cut_nothing():
    """One closure may cut off 1.2 squares of the pen; several together none under six."""
    page = np.full((260, 400), 255, np.uint8)
    cv2.rectangle(page, (40, 40), (360, 220), 0, 6)
    cv2.rectangle(page, (80, 100), (96, 116), 0, 6)  # white within: about 11 x 11 px, 3 squares of the pen
    page[96:104, 86:90] = 255
    assert len(find_regions(page).parts) == 2
    marks = np.full((260, 400), 255, np.uint8)
    cv2.rectangle(marks, (40, 40), (360, 220), 0, 6)
    for x in range(60, 340, 22):  # a row of ticks from edge to edge, their ends almost touching in twos
        cv2.line(marks, (x, 120), (x + 7, 132), 0, 6)
        cv2.line(marks, (x + 7, 140), (x, 152), 0, 6)
    found = find_regions(marks)
    assert sum(part.area_px < 6 * found.pen_px**2 for part in found.parts) == 0


def test_a_pupil_does_not_cut_its_eye_in_two():
    page = np.full((300, 300), 255, np.uint8)
    cv2.ellipse(page, (150, 150), (120, 130), 0, 0, 360, 0, 6)
    cv2.ellipse(page, (150, 150), (28, 34), 0, 0, 360, 0, 6)
    cv2.ellipse(page, (150, 150), (9, 25), 0, 0, 360, 0, -1)
    assert len(find_regions(page).parts) == 2


def test_a_gap_wider_than_a_stamp_leaves_is_not_closed_where_the_scale_is_known():
    """Ends in line are joined over 1.8 times the limit: 1.6 widths of the pen, but no more than 1.2 mm."""
    page = boxes(gap=32, wall=14)
    assert len(find_regions(page).parts) == 2
    assert len(find_regions(page, 300).parts) == 1  # 32 px are 2.7 mm
    assert len(find_regions(page, 600).parts) == 2  # and 1.4 mm


def test_the_second_look_joins_an_end_to_a_stub_beside_it():
    """Heap 29, not among those of the fit: without the second look a part runs out through a gap."""
    drawing = draw(many(29), 300, 0.35, 29, (1, 10))
    assert score(drawing.truth, find_regions(drawing.grey, 300).labels).merged == 0


def test_without_free_ends_there_is_nothing_to_look_at_again():
    mask = np.zeros((100, 100), np.uint8)
    cv2.circle(mask, (50, 50), 30, 255, 6)
    tips = find_tips(mask, 6.0)
    assert look_again(mask, tips, np.full(len(tips.at), np.inf), 6.0, 10.0, ()) == ()
