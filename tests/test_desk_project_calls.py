"""Projects of the desk: a line image, its parts, edits with undo, overlaps, light, colours to look up, sheets."""

import base64
import io
import shutil
import time
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import Image, ImageDraw
from simulate.desk import DeskClient

from blendkit.palette import demo_palette_path
from blendkit.plan.check import check_plan
from blendkit.project.part_colours import paint_work
from blendkit.project.reading import read_project
from blendkit.records import to_json

SIZE = (420, 360)
LEFT, RIGHT, INNER = [0.2, 0.75], [0.7, 0.75], [0.35, 0.4]


def line_image(gap=0):
    """Two rooms side by side and a small one within the left, as a PNG at 150 pixels an inch."""
    image = Image.new("L", SIZE, 255)
    pen = ImageDraw.Draw(image)
    pen.rectangle((30, 40, 390, 320), outline=0, width=6)
    pen.line((210, 40, 210, 320), fill=0, width=6)
    pen.ellipse((90, 90, 190, 190), outline=0, width=6)
    if gap:
        pen.rectangle((205, 180 - gap // 2, 216, 180 + gap // 2), fill=255)
    out = io.BytesIO()
    image.save(out, "PNG", dpi=(150, 150))
    return out.getvalue()


@pytest.fixture
def client(tmp_path):
    shutil.copy(demo_palette_path("first-box"), tmp_path / "mine.csv")
    opened = DeskClient(tmp_path / "mine.csv")
    yield opened
    opened.close()


@pytest.fixture
def project(client):
    """A new project, opened."""
    key = client.send("/projects/new", "two_rooms.png", line_image()).json()["project"]
    view = client.finish(client.post("/project/open", project=key)["job"])
    assert view["state"] == "done", view["fault"]
    return key


def file_of(client):
    return next(client.desk.palette_path.parent.glob("projects/*/project.toml"))


def names(client):
    return [marker.name for marker in client.desk.palette().markers]


def test_a_new_project_lies_beside_the_palette(client, project):
    """A folder with the image and a file that reads; it stands in the list."""
    path = file_of(client)
    assert path.parent.name == "two-rooms"
    assert (path.parent / "image.png").read_bytes() == line_image()
    read = read_project(path)
    assert (read.name, read.image) == ("two rooms", "image.png")
    assert read.palette_path.resolve() == client.desk.palette_path
    assert client.get("/projects")["projects"][0]["project"] == project
    again = client.send("/projects/new", "two_rooms.png", line_image()).json()["project"]
    assert again != project


@pytest.mark.parametrize(
    "name", ["../../evil.png", "..", "/etc/passwd.png", "CON.png", "<b>x</b>.png", "ünïcödé.png"]
)
def test_an_image_of_any_name_stays_in_the_projects_folder(client, name):
    """The name becomes a title, and a folder of small letters."""
    client.send("/projects/new", name, line_image())
    folder = client.desk.palette_path.parent / "projects"
    made = [path for path in folder.rglob("*") if path.is_file()]
    assert {path.name for path in made} <= {"image.png", "project.toml", ".project.toml.lock"}
    assert all(path.parent.parent == folder for path in made)


@pytest.mark.parametrize("data", [b"no picture", b"\x89PNG\r\n\x1a\n" + b"\x00" * 40])
def test_what_is_no_picture_makes_no_project(client, data):
    """It is refused, and no folder is left behind."""
    assert client.send("/projects/new", "x.png", data).status_code == 422
    assert not list(client.desk.palette_path.parent.glob("projects/*"))


def test_an_image_without_closed_lines_is_told(client):
    """Opening ends with a sentence, and the desk goes on."""
    image = Image.new("L", SIZE, 255)
    ImageDraw.Draw(image).line((40, 40, 300, 200), fill=0, width=5)
    out = io.BytesIO()
    image.save(out, "PNG")
    key = client.send("/projects/new", "scribble.png", out.getvalue()).json()["project"]
    view = client.finish(client.post("/project/open", project=key)["job"])
    assert view["state"] == "failed"
    assert "fault of its own" not in view["fault"]["message"]


def test_an_unknown_project_is_refused(client):
    """A key is no path."""
    for key in ("x", "../..", ""):
        assert client.ask("GET", "/api/project", params={"project": key}).status_code == 422


def test_a_project_whose_image_lies_elsewhere_is_not_opened(client, project, tmp_path):
    """A project file that points out of its folder doesn't make the desk show other files."""
    outside = tmp_path / "outside.png"
    outside.write_bytes(line_image())
    path = file_of(client)
    path.write_text(path.read_text().replace('"image.png"', '"../../outside.png"'))
    view = client.finish(client.post("/project/open", project=project)["job"])
    assert view["state"] == "failed"
    assert "outside its folders" in view["fault"]["message"]


def test_parts_are_made_named_coloured_and_saved(client, project):
    """A click makes a part, a marker colours it, a name names it; each step is in the file at once."""
    base = names(client)[0]
    view = client.post("/project/part/add", project=project, place=RIGHT)
    part = view["parts"][0]["name"]
    view = client.post("/project/part/set", project=project, part=part, base=base, new_name="sky")
    assert view["parts"][0]["base"]["name"] == base
    assert view["parts"][0]["ramp"]
    saved = read_project(file_of(client))
    assert saved.part("sky").base == base
    assert client.try_post("/project/part/set", project=project, part="sky", base=base).status_code == 200


def test_areas_are_given_and_taken(client, project):
    """An area goes from part to part; a part that loses its last one goes; no area has two parts."""
    client.post("/project/part/add", project=project, place=LEFT, name="wall")
    client.post("/project/part/add", project=project, place=RIGHT, name="sky")
    view = client.post("/project/part/area", project=project, part="wall", place=INNER)
    assert len(view["parts"][0]["areas"]) == 2
    view = client.post("/project/part/area", project=project, part="sky", place=INNER)
    assert [len(part["areas"]) for part in view["parts"]] == [1, 2]
    view = client.post("/project/part/area", project=project, part="sky", place=INNER, belongs=False)
    assert [len(part["areas"]) for part in view["parts"]] == [1, 1]
    view = client.post("/project/part/area", project=project, part="wall", place=RIGHT)
    assert [(part["name"], len(part["areas"])) for part in view["parts"]] == [("wall", 2)]
    assert client.try_post("/project/part/add", project=project, place=[0.01, 0.01]).status_code == 422


def test_a_part_takes_the_rest(client, project):
    """Every area without a part, and only one part may."""
    client.post("/project/part/add", project=project, place=LEFT, name="wall")
    client.post("/project/part/add", project=project, place=INNER, name="window")
    view = client.post("/project/part/set", project=project, part="wall", rest=True)
    assert [len(part["areas"]) for part in view["parts"]] == [2, 1]
    view = client.post("/project/part/set", project=project, part="window", rest=True)
    assert [part["rest"] for part in view["parts"]] == [False, True]


def test_every_change_can_be_taken_back(client, project):
    """Undo gives the very file of before, redo that of after, and comments by hand survive."""
    path = file_of(client)
    path.write_text("# by hand\n" + path.read_text())
    client.get("/project", project=project)
    before = path.read_bytes()
    client.post("/project/part/add", project=project, place=LEFT, name="wall")
    client.post("/project/set", project=project, light="3:00")
    after = path.read_bytes()
    assert b"# by hand" in after
    view = client.post("/project/undo", project=project)
    assert view["light"] == "10:30"
    client.post("/project/undo", project=project)
    assert path.read_bytes() == before
    assert client.try_post("/project/undo", project=project).status_code == 422
    client.post("/project/redo", project=project)
    view = client.post("/project/redo", project=project)
    assert path.read_bytes() == after
    assert view["light"] == "3:00"


def test_a_project_changed_by_hand_is_read_again_and_not_undone(client, project):
    """What an editor wrote is seen, and kept from our undo."""
    client.post("/project/part/add", project=project, place=LEFT, name="wall")
    path = file_of(client)
    path.write_text(path.read_text().replace('name = "wall"', 'name = "plaster"'))
    view = client.get("/project", project=project)
    assert view["parts"][0]["name"] == "plaster"
    assert client.try_post("/project/undo", project=project).status_code == 409
    assert "plaster" in path.read_text()


def test_a_gap_is_closed_and_opened(client):
    """Two rooms that run together are parted by a stroke, and join again when it is taken back."""
    key = client.send("/projects/new", "gap.png", line_image(gap=60)).json()["project"]
    view = client.finish(client.post("/project/open", project=key)["job"])["result"]
    assert len(view["areas"]) == 2
    x, y = 210.5 / SIZE[0], 1 / SIZE[1]
    stroke = [[x, 145 * y], [x, 215 * y]]
    view = client.post("/project/areas", project=key, kind="close", stroke=stroke)
    assert len(view["areas"]) == 3
    drawn = next(one for one in view["closures"] if one["kind"] == "drawn")
    middle = drawn["path"][len(drawn["path"]) // 2]
    view = client.post("/project/areas", project=key, kind="open", stroke=[middle])
    assert len(view["areas"]) == 2
    view = client.post("/project/areas", project=key, kind="close again", stroke=[middle])
    assert len(view["areas"]) == 3


def test_areas_are_split_and_merged(client, project):
    """A stroke makes two of one; another joins two; parts keep what is left to them."""
    client.post("/project/part/add", project=project, place=LEFT, name="wall")
    client.post("/project/part/add", project=project, place=RIGHT, name="sky")
    view = client.post("/project/areas", project=project, kind="split", stroke=[[0.52, 0.5], [0.9, 0.5]])
    assert len(view["areas"]) == 4
    assert [len(part["areas"]) for part in view["parts"]] == [1, 2]
    view = client.post("/project/areas", project=project, kind="merge", stroke=[LEFT, INNER])
    assert len(view["areas"]) == 3
    view = client.post("/project/areas", project=project, kind="merge", stroke=[LEFT, RIGHT])
    assert [len(part["areas"]) for part in view["parts"]] == [1, 1]
    view = client.post("/project/areas", project=project, kind="outside", stroke=[[0.7, 0.3]])
    assert [part["name"] for part in view["parts"]] == ["wall"]
    last = client.try_post("/project/areas", project=project, kind="outside", stroke=[LEFT])
    assert last.status_code == 422
    assert len(client.get("/project", project=project)["areas"]) == 1


@pytest.mark.parametrize("stroke", [[], [[2, 0]], ["x"], [[0.1, 0.1]], [[0.1, None], [0.2, 0.2]]])
def test_a_stroke_that_is_none_is_refused(client, project, stroke):
    """A malformed stroke is a mistake in words."""
    assert client.try_post("/project/areas", project=project, kind="split", stroke=stroke).status_code == 422


def test_an_overlap_is_flipped(client, project):
    """The decision is in the file, certain in the answer, and can be made the other way."""
    client.post("/project/part/add", project=project, place=LEFT, name="wall")
    view = client.post("/project/part/add", project=project, place=RIGHT, name="sky")
    left, right = (view["parts"][at]["areas"][0] for at in (0, 1))
    for front, behind in ((left, right), (right, left)):
        view = client.post("/project/front", project=project, front=front, behind=behind)
        border = next(one for one in view["borders"] if {one["one"], one["other"]} == {left, right})
        assert border["given"]
        assert (border["one_in_front"] > 0.5) == (border["one"] == front)
        assert len(read_project(file_of(client)).fronts) == 1
    assert client.try_post("/project/front", project=project, front=1, behind=99).status_code == 422


def picture_of(client, key, **more):
    answer = client.ask("GET", "/api/project/map", params={"project": key, **more})
    assert answer.headers["content-type"] == "image/png"
    return np.asarray(Image.open(io.BytesIO(answer.content)))


def test_looking_colours_up_gives_the_preview_itself(client, project):
    """Area, tone and line from the map, the ramps and the line table: the very pixels that are printed."""
    base, other = names(client)[0], names(client)[8]
    client.post("/project/part/add", project=project, place=LEFT, name="wall")
    client.post("/project/part/add", project=project, place=RIGHT, name="sky")
    client.post("/project/part/set", project=project, part="wall", base=base)
    view = client.post("/project/part/set", project=project, part="sky", base=other)
    channels = picture_of(client, project)
    answer = client.ask("GET", "/api/project/line", params={"project": project})
    line = np.frombuffer(answer.content, np.uint8).reshape(256, 256, 3)
    ramps = np.empty((len(view["areas"]) + 1, 256, 3), np.uint8)
    ramps[:] = view["paper_srgb255"]
    for part in view["parts"]:
        ramps[part["areas"]] = np.frombuffer(base64.b64decode(part["ramp"]), np.uint8).reshape(256, 3)
    bare = ramps[channels[..., 0], channels[..., 1]]
    looked_up = np.stack([line[channels[..., 2], bare[..., at], at] for at in range(3)], axis=-1)
    opened = client.desk.projects.find(project)
    inked, colours = opened.colours(client.desk)
    np.testing.assert_array_equal(looked_up, paint_work(opened.work(), colours, inked))


def tones_of(client, key, **more):
    answer = client.ask("GET", "/api/project/tones", params={"project": key, **more})
    return np.frombuffer(answer.content, np.uint8).reshape(SIZE[1], SIZE[0]).astype(int)


def test_another_light_is_looked_at_without_being_kept(client, project):
    """The tones change, the file doesn't; without another light they are the map's own."""
    client.post("/project/part/add", project=project, place=LEFT, name="wall")
    before = file_of(client).read_bytes()
    usual, moved = tones_of(client, project), tones_of(client, project, light="3:00")
    np.testing.assert_array_equal(usual, picture_of(client, project)[..., 1])
    assert np.abs(usual - moved).mean() > 1
    assert file_of(client).read_bytes() == before
    client.post("/project/set", project=project, light="3:00")
    np.testing.assert_array_equal(tones_of(client, project), moved)
    refused = client.ask("GET", "/api/project/tones", params={"project": project, "light": "noonish"})
    assert refused.status_code == 422


def test_other_markers_are_tried_without_being_kept(client, project):
    """A ramp comes back, the same that keeping them gives."""
    base, shadow = names(client)[0], names(client)[1]
    client.post("/project/part/add", project=project, place=LEFT, name="wall")
    before = file_of(client).read_bytes()
    assert client.get("/project/try", project=project, part="no such", base=base)["how"] == "gone"
    tried = client.get("/project/try", project=project, part="wall", base=base, shadow=shadow)
    assert file_of(client).read_bytes() == before
    kept = client.post("/project/part/set", project=project, part="wall", base=base, shadow=shadow)
    assert kept["parts"][0]["ramp"] == tried["ramp"] != ""


def test_the_check_is_the_record_of_the_command_line(client, project):
    """What would go wrong, as ``blendkit plan --check --json`` says it."""
    client.post("/project/part/add", project=project, place=LEFT, name="wall")
    found = client.get("/project/check", project=project)
    assert found == to_json(check_plan(read_project(file_of(client)), client.desk.palette()))
    assert found["findings"]


def test_a_marker_that_the_drawer_lost_is_told_and_the_rest_goes_on(client, project):
    """A project may name what is no longer there: the check says so, the page still opens."""
    base = names(client)[0]
    client.post("/project/part/add", project=project, place=LEFT, name="wall")
    client.post("/project/part/set", project=project, part="wall", base=base)
    client.post("/items/remove", name=base)
    view = client.get("/project", project=project)
    assert view["parts"][0]["base"] is None
    found = client.get("/project/check", project=project)
    assert not found["fits"]
    assert base in str(found["unknown"])
    made = client.finish(client.post("/project/print", project=project, form="plan")["job"])
    assert made["state"] == "failed"
    assert base in str(made["fault"])


def test_card_greeting_and_cut_line_are_kept(client, project):
    """Papers by their role, words in an ink, the rim: all in the file, and gone again when emptied."""
    palette = client.desk.palette()
    paper, ink = palette.papers[1].name, palette.inks[0].name if palette.inks else ""
    client.post("/project/paper", project=project, role="mat", name=paper, width_mm=90)
    client.post("/project/set", project=project, rim_mm=3.0, spikes="cut", page="Letter", shadow_mm=3.0)
    if ink:
        client.post("/project/greeting", project=project, words="a little light", ink=ink, size_pt=20)
    saved = read_project(file_of(client))
    assert (saved.papers[0].role, saved.papers[0].name, saved.papers[0].width_mm) == ("mat", paper, 90)
    assert (saved.cut.rim_mm, saved.cut.spikes, saved.page, saved.shadow_mm) == (3.0, "cut", "Letter", 3.0)
    assert (saved.greeting is not None) == bool(ink)
    client.post("/project/paper", project=project, role="mat", name="")
    client.post("/project/greeting", project=project, words="")
    saved = read_project(file_of(client))
    assert saved.papers == ()
    assert saved.greeting is None


@pytest.mark.parametrize(
    ("form", "kind"),
    [("plan", "application/pdf"), ("handout", "application/pdf"), ("areas", "application/pdf"),
     ("preview", "image/png"), ("cut", "image/svg+xml")],
)  # fmt: skip
def test_every_sheet_is_made(client, project, form, kind):
    """Each form is a file of its kind that opens."""
    client.post("/project/part/add", project=project, place=LEFT, name="wall")
    client.post("/project/part/set", project=project, part="wall", base=names(client)[0])
    made = client.finish(client.post("/project/print", project=project, form=form)["job"])
    assert made["state"] == "done", made["fault"]
    answer = client.ask("GET", "/api/file", params={"file": made["result"]["file"]})
    assert answer.headers["content-type"] == kind
    if kind == "application/pdf":
        text = pypdfium2.PdfDocument(answer.content)[0].get_textpage().get_text_range()
        assert "two rooms" in text
    elif kind == "image/png":
        assert Image.open(io.BytesIO(answer.content)).size == SIZE
    else:
        assert "attachment" in answer.headers["content-disposition"]
        assert answer.content.startswith(b"<svg")


def test_a_project_given_at_the_start_is_offered_first(client, project, tmp_path):
    """``blendkit desk --project FILE`` opens that file, wherever it lies."""
    elsewhere = tmp_path / "elsewhere"
    shutil.copytree(file_of(client).parent, elsewhere)
    shutil.copy(client.desk.palette_path, tmp_path / "other.csv")
    other = DeskClient(tmp_path / "other.csv", Path(elsewhere / "project.toml"))
    try:
        listed = other.get("/projects")
        assert listed["asked"] in [one["project"] for one in listed["projects"]]
        view = other.finish(other.post("/project/open", project=listed["asked"])["job"])
        assert view["state"] == "done"
    finally:
        other.close()


def test_renaming_keeps_overlaps_and_refuses_a_name_that_is_taken(client, project):
    """Decisions follow a part's name."""
    client.post("/project/part/add", project=project, place=LEFT, name="wall")
    view = client.post("/project/part/add", project=project, place=RIGHT, name="sky")
    left, right = (view["parts"][at]["areas"][0] for at in (0, 1))
    client.post("/project/front", project=project, front=left, behind=right)
    client.post("/project/part/set", project=project, part="wall", new_name="plaster")
    assert read_project(file_of(client)).fronts == (("plaster", "sky"),)
    assert (
        client.try_post("/project/part/set", project=project, part="sky", new_name="Plaster").status_code
        == 422
    )
    client.post("/project/part/remove", project=project, part="plaster")
    assert read_project(file_of(client)).fronts == ()


def test_projects_are_renamed_copied_taken_away_and_put_back(tmp_path):
    """Also one whose file can't be read can be taken away; nothing is deleted."""
    shutil.copy(demo_palette_path(), tmp_path / "my-drawer.csv")
    client = DeskClient(tmp_path / "my-drawer.csv")
    try:
        picture = io.BytesIO()
        Image.new("L", (60, 40), 255).save(picture, "PNG")
        key = client.send("/projects/new", "acorn.png", picture.getvalue()).json()["project"]
        client.post("/projects/rename", project=key, name="Acorn for Mo")
        copy = client.post("/projects/copy", project=key)["project"]
        listed = {one["project"]: one["name"] for one in client.get("/projects")["projects"]}
        assert listed == {key: "Acorn for Mo", copy: "Acorn for Mo, copy"}
        (tmp_path / "projects" / "acorn" / "project.toml").write_text("no toml [", encoding="utf-8")
        away = client.post("/projects/away", project=key)["away"]
        assert [one["project"] for one in client.get("/projects")["projects"]] == [copy]
        client.post("/projects/back", name=away)
        assert {one["project"] for one in client.get("/projects")["projects"]} == {key, copy}
        assert (tmp_path / "projects" / "acorn" / "project.toml").read_text() == "no toml ["
        assert client.try_post("/projects/back", name="../../etc").status_code == 422
    finally:
        client.close()


def test_a_dab_and_a_scribble_are_the_project_s_own(client, project):
    """What the hand's own rules give stands in the file; a place outside the figure is refused."""
    client.post("/project/part/add", project=project, place=LEFT)
    client.post("/project/part/set", project=project, part="part 1", base=names(client)[0])
    view = client.post("/project/dab", project=project, place=LEFT, kind="dark")
    assert view["parts"][0]["dark"] == [pytest.approx(LEFT, abs=0.001)]
    assert view["undo"] == "make it darker"
    assert len(read_project(file_of(client)).parts[0].dark) == 1
    refused = client.try_post("/project/dab", project=project, place=[0.01, 0.01], kind="dark")
    assert "No part" in refused.json()["message"]
    view = client.post("/project/group", project=project, stroke=[INNER, RIGHT])
    assert [len(one["areas"]) for one in view["parts"]] == [3]
    refused = client.try_post("/project/group", project=project, stroke=[[0.0, 0.0], [0.01, 0.0]])
    assert "no area" in refused.json()["message"]


def test_layers_are_left_out_and_strokes_laid_for_looking_only(client, project):
    """Without all layers nothing is darker than a base coat; unknown ones are refused; the file stays."""
    before = file_of(client).read_bytes()
    whole = tones_of(client, project)
    bare = tones_of(client, project, without=["cast", "form", "contact"])
    assert bare.max() == 102
    assert whole.max() > 200
    assert set(np.unique(tones_of(client, project, look="marker"))) != set(np.unique(whole))
    assert file_of(client).read_bytes() == before
    answer = client.ask("GET", "/api/project/tones", params={"project": project, "without": "cost"})
    assert answer.status_code == 422
    assert "cast" in str(answer.json()["problems"])


def test_the_page_asks_what_the_check_asks(client, project):
    """The questions are the check's findings of overlaps, in their order."""
    for place, name in ((LEFT, "door"), (RIGHT, "wall"), (INNER, "window")):
        client.post("/project/part/add", project=project, place=place, name=name)
    asked = client.get("/project/questions", project=project)["questions"]
    found = [
        one for one in client.get("/project/check", project=project)["findings"] if one["topic"] == "overlap"
    ]
    assert [f"{one['front']} and {one['behind']}" for one in asked] == [one["where"] for one in found]
    assert asked


def test_a_noise_picture_ends_within_a_second_of_stop(client):
    """It would go on for half a minute and to gigabytes; the desk answers meanwhile."""
    noise = Image.fromarray((np.random.default_rng(4).random((1400, 1400)) > 0.5).astype("uint8") * 255)
    out = io.BytesIO()
    noise.save(out, "PNG")
    key = client.send("/projects/new", "noise.png", out.getvalue()).json()["project"]
    job = client.post("/project/open", project=key)["job"]
    found = client.desk.workshop.find(job)
    while found.share < 0.2:
        time.sleep(0.05)
    time.sleep(1.5)
    client.get("/state")
    begun = time.monotonic()
    client.post("/job/stop", job=job)
    assert found.ended.wait(10)
    assert time.monotonic() - begun < 1.0
    assert found.state == "stopped"


def test_a_projects_undo_and_versions_outlive_the_desk(client, project):
    """Another desk on the same files takes the change back, and lists what it came after."""
    before = file_of(client).read_bytes()
    client.post("/project/part/add", project=project, place=LEFT, name="lantern")
    other = DeskClient(client.desk.palette_path)
    try:
        view = other.finish(other.post("/project/open", project=project)["job"])["result"]
        assert view["undo"] == "make a part"
        other.post("/project/undo", project=project)
        assert file_of(client).read_bytes() == before
        rows = other.get("/project/versions", project=project)["versions"]
        assert "make a part" in [row["after"] for row in rows]
        made = next(row["name"] for row in rows if row["after"] == "make a part")
        assert other.post("/project/restore", project=project, name=made)["parts"]
    finally:
        other.close()
