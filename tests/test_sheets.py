"""A plan's sheets, reopened with PDFium, which shares nothing with what set them: sizes, words, order, places."""

import itertools
import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import cv2
import numpy as np
import pypdfium2
import pytest
from drawings.scenes import TUNING
from drawings.scenes_fresh import FRESH
from drawings.scenes_held import HELD
from drawings.scenes_new import NEW
from drawings.sketch import draw
from PIL import Image

from blendkit.art.shading import STRUCK
from blendkit.inked import ink_drawer
from blendkit.page.page import PAGE_SIZES_MM
from blendkit.plan.cut_line import find_cut_line
from blendkit.plan.making import make_plan
from blendkit.plan.pictures import draw_pictures, place_tags
from blendkit.plan.sheets import (
    _bridged,
    cut_file,
    draw_areas,
    draw_class,
    draw_cut_sheet,
    draw_plan,
    sheet_place,
)
from blendkit.project.part_colours import colour_parts, paint_work
from blendkit.project.reading import read_project
from blendkit.project.records import Cut, Greeting, Project, ProjectPaper, ProjectPart
from blendkit.project.work import open_work

SCENES = dict(itertools.islice((TUNING | HELD | FRESH | NEW).items(), 20))
EXAMPLES = ("hedgehog_lantern", "harvest_family", "harvest_gift", "harvest_tags")
PT = 72 / 25.4


def made(project, palette, copies=1):
    """A project's record, pictures and cut line."""
    work = open_work(project)
    record = make_plan(project, palette, work, copies=copies)
    inked = ink_drawer(palette, project.paper or None)
    colours = colour_parts(project, inked)
    pictures = draw_pictures(record, work, paint_work(work, colours, inked), colours, inked)
    return record, pictures, find_cut_line(work)


@pytest.fixture(scope="module", params=EXAMPLES)
def example(request, root, demo):
    return made(read_project(root / "examples" / request.param / "project.toml"), demo, copies=12)


@pytest.fixture(scope="module")
def ball(tmp_path_factory, demo):
    """A ball before a box, 60 × 50 mm, the box 24 by 22 mm to the middle of its line, with papers and greeting."""
    paper = np.full((400, 480), 255, np.uint8)
    cv2.rectangle(paper, (240, 112), (432, 288), 0, 4)
    cv2.circle(paper, (160, 208), 80, 255, -1)
    cv2.circle(paper, (160, 208), 80, 0, 4, cv2.LINE_AA)
    file = tmp_path_factory.mktemp("sheets") / "ball.png"
    Image.fromarray(paper).save(file)
    project = Project(
        image=str(file),
        name="Ball and box",
        dpi=203.2,
        paper="Snow Gate smooth",
        outline="Lamp black outline",
        notes="First the ball.",
        parts=(
            ProjectPart("ball", at=((18.0, 25.0),), base="rosehip dawn", shadow="rosehip noon"),
            ProjectPart("box", at=((44.0, 25.0),), base="blue jug dawn", shadow="blue jug noon"),
        ),
        papers=(
            ProjectPaper("mat", "Lantern card", 80.0, 70.0),
            ProjectPaper("card", "Pine card", 105.0, 95.0),
            ProjectPaper("ribbon", "Rosehip satin", 8.0, 95.0),
        ),
        greeting=Greeting("Well played", "Pine green greeting", 20.0),
    )
    return project, *made(project, demo)


def pieces(page):
    """Every piece of text on a page: size in points, and its box in points from the lower left corner."""
    found = []
    for piece in page.get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_TEXT], max_depth=9):
        matrix = piece.get_matrix()
        found.append((piece.get_font_size() * abs(matrix.d), *piece.get_bounds(), piece))
    return found


def words(page):
    return " ".join(page.get_textpage().get_text_range().split())


def boxes(page, most):
    """Closed outlines of few corners on a page, their boxes in points, from 2 mm up to *most* mm wide and high."""
    found = []
    for path in page.get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_PATH], max_depth=9):
        left, low, right, top = path.get_bounds()
        sides = right - left, top - low
        if 4 <= pypdfium2.raw.FPDFPath_CountSegments(path.raw) <= 24 and all(
            2 * PT < x < most * PT for x in sides
        ):
            found.append((left, low, right, top))
    return found


def check_legible(pdf, maps):
    """Assert what a page owes its reader: 8 pt (7 on a map), no two words overlapping, all within their boxes."""
    for number, page in enumerate(pdf):
        wide, high = page.get_size()
        texts = pieces(page)
        assert texts
        for size, left, low, right, top, piece in texts:
            assert size >= (6.99 if number in maps else 7.99)
            assert min(left, low, wide - right, high - top) >= 6 * PT
            assert pypdfium2.raw.FPDFFont_GetIsEmbedded(piece.get_font().raw) == 1
        for (_, *a, _), (_, *b, _) in itertools.combinations(texts, 2):
            across = min(a[2], b[2]) - max(a[0], b[0])
            down = min(a[3], b[3]) - max(a[1], b[1])
            assert across < 0.5 or down < 0.5
        # on a map only the rings are boxes
        around = boxes(page, 5 if number in maps else 200)
        for _, left, low, right, top, _ in texts:
            x, y = (left + right) / 2, (low + top) / 2
            holding = [one for one in around if one[0] < x < one[2] and one[1] < y < one[3]]
            if holding:
                box = min(holding, key=lambda one: (one[2] - one[0]) * (one[3] - one[1]))
                assert left > box[0] - 0.2
                assert right < box[2] + 0.2
                assert low > box[1] - 0.2
                assert top < box[3] + 0.2


@pytest.mark.parametrize("page", ["A4", "Letter"])
def test_an_example_s_plan_is_four_pages_to_read_at_arm_s_length(example, page):
    """Table, shadows, papers, cut; markers' names 9 pt, map numbers 7 and more, all else 8; none overlap."""
    record, pictures, line = example
    setting = draw_plan(replace(record, page=page), pictures, line)
    with pypdfium2.PdfDocument(setting.draw("pdf")[0]) as pdf:
        assert len(pdf) == 4
        assert pdf[0].get_size() == pytest.approx([v * PT for v in PAGE_SIZES_MM[page]], abs=0.1)
        check_legible(pdf, maps=(0, 1))
        names = {one.swatch.name for one in record.pull if one.kind == "marker"}
        first, second, third, last = (words(page_) for page_ in pdf)
        assert all(name in first for name in names)
        assert all("safety sheet" in one for one in (first, second, third, last))
        # what a new user does first, second, third stands in that order
        at = first.index("Work in the order")
        for part in sorted(record.parts, key=lambda one: one.number):
            if part.base is not None:
                at = first.index(f"{part.number} {part.name}", at)
                assert part.shadow_at in second
        for cuts in record.cuts:
            assert all(step.words in third for steps in cuts.steps for step in steps)
        assert all(one in last for one in line.words)


def test_an_example_s_drawings_have_the_sizes_that_are_told(example):
    """In the reopened PDF: the map and the shadows as wide as their percent says, the cut line at true size."""
    record, pictures, line = example
    with pypdfium2.PdfDocument(draw_plan(record, pictures, line).draw("pdf")[0]) as pdf:
        for page in list(pdf)[:2]:
            told = re.search(r"is (?:(\d+) % of true size|(true size))", words(page))
            scale = 1.0 if told[2] else int(told[1]) / 100
            images = [
                one.get_bounds()
                for one in page.get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_IMAGE], max_depth=9)
            ]
            left, low, right, top = max(images, key=lambda one: one[2] - one[0])
            assert (right - left) / PT == pytest.approx(scale * record.width_mm, abs=0.2)
            assert (top - low) / PT == pytest.approx(scale * record.height_mm, abs=0.2)
        paths = [
            one.get_bounds()
            for one in pdf[3].get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_PATH], max_depth=9)
            if pypdfium2.raw.FPDFPath_CountSegments(one.raw) > 60
        ]
        left, low = (min(one[k] for one in paths) for k in (0, 1))
        right, top = (max(one[k] for one in paths) for k in (2, 3))
        # PDFium's box is wider than the outline by the line's 0.25 mm on each side
        assert (right - left) / PT - 0.5 == pytest.approx(line.width_mm, abs=0.2)
        assert (top - low) / PT - 0.5 == pytest.approx(line.height_mm, abs=0.2)


SIDES = (
    "upper edge",
    "upper right",
    "right",
    "lower right",
    "lower edge",
    "lower left",
    "left",
    "upper left",
)


def test_the_words_of_the_shadow_page_say_where_its_picture_is_hatched(example):
    """Hatched places that nothing casts lie to the side of each thing that the words tell, within 60 degrees."""
    record, pictures, _ = example
    work = pictures.work
    labels, units = work.relief.labels, work.relief.units
    y, x = np.indices(labels.shape)
    tone = cv2.resize(work.shades.tone, labels.shape[::-1], interpolation=cv2.INTER_NEAREST)
    checked = 0
    for part in record.parts:
        told = re.search(r"along the ([a-z ]+?)(?: of each)?$", part.shadow_at.split(" and at the")[0])
        own = np.isin(labels, [spot.area for spot in part.areas])
        struck = own & (tone > STRUCK) & (work.shades.layers[0] < 0.35)
        if not told or struck.sum() < 0.05 * own.sum():
            continue
        offset = np.zeros(2)
        for unit in np.unique(units[struck]):
            all_, some = own & (units == unit), struck & (units == unit)
            spread = np.array([np.std(x[all_]), np.std(y[all_])])
            middle = np.array([x[some].mean() - x[all_].mean(), y[some].mean() - y[all_].mean()])
            offset += some.sum() * middle / np.maximum(spread, 1)
        seen = np.degrees(np.arctan2(offset[0], -offset[1]))
        away = (seen - 45 * SIDES.index(told[1]) + 180) % 360 - 180
        assert abs(away) <= 60, (part.name, part.shadow_at, seen)
        checked += 1
    assert checked >= 8


def test_no_page_is_tinted(example):
    """Ink: less than half of each page carries any, and what is white at its edges stays so."""
    record, pictures, line = example
    for setting in (draw_plan(record, pictures, line), draw_class(record, pictures)):
        with pypdfium2.PdfDocument(setting.draw("pdf")[0]) as pdf:
            for page in pdf:
                seen = page.render(scale=0.5).to_numpy()[..., :3].min(axis=2)
                assert (seen < 250).mean() < 0.5
                assert (255 - seen.astype(float)).mean() / 255 < 0.2


def test_markers_names_are_nine_points_on_the_table_page(ball):
    _, record, pictures, line = ball
    with pypdfium2.PdfDocument(draw_plan(record, pictures, line).draw("pdf")[0]) as pdf:
        page = pdf[0]
        text = page.get_textpage()
        sizes = {}
        for size, left, low, right, top, _ in pieces(page):
            found = text.get_text_bounded(left - 1, low - 1, right + 1, top + 1).strip()
            sizes.setdefault(found, []).append(size)
    for name in ("rosehip dawn", "rosehip noon", "blue jug dawn", "blue jug noon"):
        assert sizes[name] == [pytest.approx(9.0)]


def test_a_class_set_is_one_page_for_the_teacher_and_two_for_a_pupil(example):
    """Cautions and ventilation come first; the kit counts sets for four, the papers sheets for twelve."""
    record, pictures, _ = example
    with pypdfium2.PdfDocument(draw_class(record, pictures).draw("pdf")[0]) as pdf:
        assert len(pdf) == 3
        check_legible(pdf, maps=(1,))
        teacher, drawing, trial = (words(page) for page in pdf)
    assert "12 seats; print" in teacher
    assert "3 sets" in teacher
    assert teacher.index("fresh air") < teacher.index("Before they come")
    for cuts in record.cuts:
        assert cuts.words.split(" of ")[0] in teacher
        assert cuts.cutting.proven
    assert "Name" in drawing
    for step in record.order:
        assert all(one.swatch.name in trial for one in step.markers)


@pytest.mark.parametrize("name", list(SCENES))
def test_numbers_of_drawings_never_overlap_and_say_their_part(name, tmp_path, demo):
    """Each area of a drawing is a part: it has a number, in it or led to it, on every map."""
    drawn = draw(SCENES[name](), 200)
    file = tmp_path / f"{name}.png"
    Image.fromarray(drawn.grey).save(file, dpi=(200, 200))
    bare = Project(image=str(file), paper="Snow Gate smooth", cut=Cut(1.0, "bridge"))
    areas = [one.number for one in open_work(bare).regions.parts]
    markers = [one.name for one in demo.markers]
    parts = tuple(
        ProjectPart(
            f"piece {number}", areas=(number,), base=markers[7 * number % len(markers)], shadow="none"
        )
        for number in areas
    )
    record, pictures, line = made(replace(bare, parts=parts), demo)
    work = pictures.work
    places = {part.number: place for place, part in enumerate(record.parts, 1)}
    tags = place_tags(record.parts, work, 1.3)
    for tag in tags:
        assert work.part_of()[work.area_at(tag.end_mm or (tag.x_mm, tag.y_mm))] == places[tag.part]
    assert {tag.part for tag in tags} == set(places) == set(range(1, len(areas) + 1))
    for setting, maps in ((draw_plan(record, pictures, line), None), (draw_areas(record, work), (0,))):
        with pypdfium2.PdfDocument(setting.draw("pdf")[0]) as pdf:
            # a long list of parts or of shadows goes on overleaf, so that the maps keep their room
            maps = maps or [
                k
                for k, page in enumerate(pdf)
                if "of true size" in words(page) or "is true size" in words(page)
            ]
            assert len(maps) == (1 if len(pdf) == 1 else 2)
            check_legible(pdf, maps)


@pytest.mark.gold
def test_the_page_to_print_and_cut_is_of_true_size_and_its_marks_lie_on_those_of_the_file(ball):
    """Measured as PDFium draws it at 600 dpi: the box is 24.5 mm wide outside its line."""
    _, record, pictures, line = ball
    (x, y), marks = sheet_place(record, line)
    with pypdfium2.PdfDocument(draw_cut_sheet(record, line, pictures).draw("pdf")[0]) as pdf:
        page = np.asarray(pdf[0].render(scale=600 / 72).to_pil().convert("L"))
    px = 600 / 25.4
    row = page[round((y + 15.2) * px), round(x * px) : round((x + 60) * px)]
    dark = np.flatnonzero(row < 110)
    assert (dark[-1] - dark[0] + 1) / px == pytest.approx(24.5, abs=0.2)
    root = ET.fromstring(cut_file(record, line))
    assert [root.get("width"), root.get("height")] == ["210mm", "297mm"]
    layers = {one.get("id"): one for one in root if one.get("id")}
    assert list(layers) == ["cut-line", "registration-marks"]
    for (left, top), path in zip(marks, list(layers["registration-marks"])[1:], strict=True):
        numbers = np.array(re.findall(r"([-\d.]+),([-\d.]+)", path.get("d")), float)
        assert numbers.min(axis=0) == pytest.approx([left, top], abs=0.01)
        seen = page[
            round((top - 1) * px) : round((top + 11) * px), round((left - 1) * px) : round((left + 11) * px)
        ]
        rows, columns = np.flatnonzero((seen < 110).any(axis=1)), np.flatnonzero((seen < 110).any(axis=0))
        assert columns[0] / px - 1 + left == pytest.approx(numbers[:, 0].min(), abs=0.2)
        assert rows[0] / px - 1 + top == pytest.approx(numbers[:, 1].min(), abs=0.2)
        assert (columns[-1] - columns[0] + 1) / px == pytest.approx(10.0, abs=0.2)
    cut = np.array(re.findall(r"([-\d.]+),([-\d.]+)", layers["cut-line"][1].get("d")), float)
    wanted = np.concatenate([np.array(outline) for outline in line.outlines]) + (x, y)
    assert cut == pytest.approx(wanted, abs=0.001)


def test_the_sheets_are_tagged_titled_and_read_in_the_order_of_the_work(ball):
    """PDF/UA-1 as the typesetter checks it; PDFium sees tags, language and title, and reads top to bottom."""
    _, record, pictures, line = ball
    data = draw_plan(record, pictures, line).draw("pdf")[0]
    assert b"pdfuaid" in data
    with pypdfium2.PdfDocument(data) as pdf:
        assert pypdfium2.raw.FPDFCatalog_IsTagged(pdf.raw)
        assert pdf.get_metadata_value("Title") == "Ball and box: colouring plan"
        first, second, third, last = (words(page) for page in pdf)
    laid = [one.markers[0].swatch.name for one in record.order]
    order = [
        "Ball and box",
        "First the ball.",
        "Work in the order of the numbers",
        *laid,
        "Papers and inks",
        "safety sheet",
    ]
    places = [first.index(one) for one in order]
    assert places == sorted(places)
    assert (
        second.index("Light from")
        < second.index("One marker for each shadow")
        < second.index("stage by stage")
    )
    assert "score at 105 mm" in third
    assert "Well played" in third
    assert "Cut along the black line" in last


def test_the_same_plan_gives_the_same_bytes_and_small_files(ball, example):
    _, record, pictures, line = ball
    for lay in (lambda: draw_plan(record, pictures, line), lambda: draw_class(record, pictures)):
        assert lay().draw("pdf") == lay().draw("pdf")
    record, pictures, line = example
    assert len(draw_plan(record, pictures, line).draw("pdf")[0]) < 1_200_000


def test_with_black_ink_alone_no_colour_is_left_in_swatches(ball):
    """Only the coloured picture and its stages keep colour; every pixel beside them is grey."""
    _, record, pictures, line = ball
    flat = replace(pictures, preview_jpg=_grey_jpg(), stages=(_grey_jpg(),) * len(pictures.stages))
    with pypdfium2.PdfDocument(draw_plan(record, flat, line, black=True).draw("pdf")[0]) as pdf:
        for page in pdf:
            seen = page.render(scale=1).to_numpy()[..., :3].astype(int)
            assert np.ptp(seen, axis=2).max() <= 6
    with pypdfium2.PdfDocument(draw_plan(record, flat, line).draw("pdf")[0]) as pdf:
        assert np.ptp(pdf[0].render(scale=1).to_numpy()[..., :3].astype(int), axis=2).max() > 60


def _grey_jpg():
    import io

    out = io.BytesIO()
    Image.new("L", (20, 20), 180).save(out, "JPEG")
    return out.getvalue()


def test_any_script_stands_on_a_sheet(ball):
    _, record, pictures, line = ball
    names = replace(record, project='мяч κ <b>& "x" \\ # שלום')
    with pypdfium2.PdfDocument(draw_plan(names, pictures, line).draw("pdf")[0]) as pdf:
        assert 'мяч κ <b>& "x"' in words(pdf[0])
    assert draw_plan(names, pictures, line).unshown() == ()
    assert draw_plan(replace(record, project="\ue000"), pictures, line).unshown() == ("\ue000",)


def test_lengths_are_told_in_one_unit_chosen_once(ball, demo):
    """Millimetres, or inches in sixteenths, also of the cut line; inches go with Letter where none is chosen."""
    project, _, _, _ = ball
    asked = {"mm": {"units": "mm"}, "inch": {"units": "inch"}, "": {"page": "Letter"}}
    for units, changes in asked.items():
        record, pictures, line = made(replace(project, **changes), demo)
        told = " ".join(
            [
                *(f"{one.size} {one.words}" for one in record.layers),
                *(step.words for cuts in record.cuts for steps in cuts.steps for step in steps),
                *line.words,
            ]
        )
        there, missing = (r"\d mm", r"\d in\b") if units == "mm" else (r"\d in\b", r"\bmm\b")
        assert re.search(there, told)
        assert not re.search(missing, told)
        with pypdfium2.PdfDocument(draw_plan(record, pictures, line).draw("pdf")[0]) as pdf:
            sheets = " ".join(words(page) for page in pdf).replace("this line measures 100 mm", "")
        assert re.search(there, sheets)
        assert not re.search(missing, sheets)


def test_skin_comes_first_then_light_to_dark_and_glow_last(demo, ball):
    project = ball[0]
    order = make_plan(
        replace(
            project,
            parts=(
                replace(project.parts[1], name="lantern glow", base="candle flame dawn", shadow="none"),
                replace(project.parts[0], name="face", base="kin four", shadow="none"),
            ),
        ),
        demo,
    ).order
    assert [(one.stage, one.names) for one in order] == [
        ("skin first", ("face",)),
        ("glow last", ("lantern glow",)),
    ]
    dark_first = replace(
        project, parts=(replace(project.parts[0], base="coal cellar", shadow="none"), project.parts[1])
    )
    assert [one.names[0] for one in make_plan(dark_first, demo).order] == ["box", "ball"]


def test_parts_with_the_same_markers_are_one_step(demo, ball):
    project = ball[0]
    same = replace(project.parts[1], base="rosehip dawn", shadow="rosehip noon")
    (step,) = make_plan(replace(project, parts=(project.parts[0], same)), demo).order
    assert step.parts == (1, 2)
    assert all(one.first for one in step.markers)


def test_paper_that_the_line_bridges_is_marked_and_nothing_else(tmp_path):
    """Two spikes 6.5 mm apart, rim 2 mm: the bay between them is too narrow to turn in, its middle is marked."""
    paper = np.full((400, 480), 255, np.uint8)
    shape = np.array([(60, 300), (60, 60), (76, 60), (76, 240), (128, 240), (128, 60), (144, 60), (144, 300)])
    cv2.polylines(paper, [shape], True, 0, 4)
    Image.fromarray(paper).save(tmp_path / "fork.png")
    project = Project(image=str(tmp_path / "fork.png"), dpi=203.2, cut=Cut(2.0, "bridge"))
    work = open_work(project)
    found = np.concatenate([np.array(one) for one in _bridged(work, find_cut_line(work))])
    assert found[:, 0].mean() == pytest.approx(102 / 8, abs=0.5)
    assert found[:, 1].max() < 240 / 8
    disc = np.full((400, 480), 255, np.uint8)
    cv2.circle(disc, (240, 200), 100, 0, 4)
    Image.fromarray(disc).save(tmp_path / "disc.png")
    work = open_work(replace(project, image=str(tmp_path / "disc.png")))
    assert _bridged(work, find_cut_line(work)) == []
