"""The drawer's calls: looking, adding, changing, measuring, removing, importing, taking back."""

import shutil

import pytest
from simulate.desk import DeskClient

from blendkit.colour import delta_e_2000
from blendkit.palette import demo_palette_path, read_history, read_palette, reading_from_hex, update_palette


@pytest.fixture
def client(tmp_path):
    shutil.copy(demo_palette_path("first-box"), tmp_path / "mine.csv")
    opened = DeskClient(tmp_path / "mine.csv")
    yield opened
    opened.close()


@pytest.fixture
def empty(tmp_path):
    opened = DeskClient(tmp_path / "none.csv")
    yield opened
    opened.close()


def test_the_drawer_shows_everything_in_the_palette(client):
    """Every marker with its coats, every paper, ribbon and ink."""
    palette = client.desk.palette()
    drawer = client.get("/drawer")
    assert [one["name"] for one in drawer["markers"]] == [one.name for one in palette.markers]
    assert [one["name"] for one in drawer["others"]] == [
        one.name for one in (*palette.papers, *palette.ribbons, *palette.inks)
    ]
    assert all([coat["coats"] for coat in one["coats"]] == [1, 2, 3] for one in drawer["markers"])


def test_another_paper_changes_how_markers_look(client):
    """The same markers on kraft are darker."""
    white, kraft = client.get("/drawer"), client.get("/drawer", on="Kraft parcel")
    assert kraft["on"] == "Kraft parcel"
    assert all(b["lab"][0] < a["lab"][0] for a, b in zip(white["markers"], kraft["markers"], strict=True))


def test_a_marker_is_added_and_taken_back(client):
    """Add writes the file, undo restores it, redo adds again."""
    state = client.post(
        "/items/add",
        name="berry jam",
        colour="#8a2d4a",
        family="berry",
        note="new",
        on_paper="Snow Gate smooth",
    )
    assert state["undo"] == "add berry jam"
    marker = read_palette(client.desk.palette_path).marker("berry jam")
    assert (marker.family, marker.note, marker.on) == ("berry", "new", "Snow Gate smooth")
    state = client.post("/undo")
    assert "berry jam" not in read_palette(client.desk.palette_path).names
    assert (state["undo"], state["redo"]) == ("", "add berry jam")
    client.post("/redo")
    assert read_palette(client.desk.palette_path).marker("berry jam")


@pytest.mark.parametrize(("kind", "where"), [("paper", "papers"), ("ribbon", "ribbons"), ("ink", "inks")])
def test_papers_ribbons_and_inks_are_added_too(client, kind, where):
    """Each goes to its own kind."""
    client.post("/items/add", name="a new one", kind=kind, colour="lab(70 5 10)", coat_limit=3)
    added = getattr(read_palette(client.desk.palette_path), where)[-1]
    assert added.name == "a new one"
    if kind == "paper":
        assert added.coat_limit == 3


def test_a_measured_lab_keeps_its_light_and_trust(client):
    """What an instrument said is kept beside the colour."""
    client.post(
        "/items/add", name="by the meter", colour="52.1, 38.4, 20.9", light="D65", observer=10, uncertainty=0.6,
        setup="pocket meter",
    )  # fmt: skip
    reading = read_palette(client.desk.palette_path).marker("by the meter").readings[0][1]
    assert (reading.light, reading.observer, reading.uncertainty, reading.setup) == (
        "D65",
        10,
        0.6,
        "pocket meter",
    )
    assert reading.measured


@pytest.mark.parametrize(
    "body",
    [
        {"name": "x", "colour": "not a colour"},
        {"name": "x", "colour": "#12345"},
        {"name": "", "colour": "#123456"},
        {"name": "x", "colour": "#123456", "observer": 5},
        {"name": "x", "colour": "#123456", "on_paper": "no such paper"},
        {"name": "Cream Jug", "colour": "#123456"},
    ],
)
def test_a_thing_that_would_not_be_accepted_is_refused_and_nothing_written(client, body):
    """The fault is in words, the file as it was."""
    before = client.desk.palette_path.read_bytes()
    answer = client.try_post("/items/add", **body)
    assert answer.status_code == 422
    assert answer.json()["message"]
    assert client.desk.palette_path.read_bytes() == before


def test_words_and_names_are_changed(client):
    """Name, family, finish and note, all in one step."""
    name = client.desk.palette().markers[0].name
    client.post("/items/change", name=name, new_name="renamed", family="f", finish="pearl", note="=1+1")
    marker = read_palette(client.desk.palette_path).marker("renamed")
    assert (marker.family, marker.finish, marker.note) == ("f", "pearl", "=1+1")
    client.post("/undo")
    assert read_palette(client.desk.palette_path).marker(name)


def test_a_newer_measurement_keeps_the_older_one(client):
    """The row that it replaces goes to the history, and the thing shows both."""
    name = client.desk.palette().markers[0].name
    client.post("/items/measure", name=name, colour="40, 20, 10", setup="again")
    assert read_palette(client.desk.palette_path).marker(name).lab.tolist() == [40.0, 20.0, 10.0]
    assert read_history(client.desk.palette_path, name)[0].reason == "measured again"
    assert client.get("/item", name=name)["earlier"][0]["reason"] == "measured again"


def test_a_second_coat_can_be_measured(client):
    """It becomes a reading of its own."""
    name = client.desk.palette().markers[0].name
    client.post("/items/measure", name=name, coats=2, colour="30, 20, 10")
    assert [coats for coats, _ in read_palette(client.desk.palette_path).marker(name).readings] == [1, 2]
    assert client.get("/item", name=name)["item"]["coats"][1]["measured"]


def test_a_thing_is_taken_out(client):
    """It goes, and undo brings it back."""
    name = client.desk.palette().markers[0].name
    client.post("/items/remove", name=name)
    assert name not in read_palette(client.desk.palette_path).names
    client.post("/undo")
    assert name in read_palette(client.desk.palette_path).names


def test_a_paper_that_swatches_lie_on_stays(client):
    """The palette itself refuses, in words."""
    answer = client.try_post("/items/remove", name="Snow Gate smooth")
    assert answer.status_code == 422
    assert "Snow Gate smooth" in answer.text


def test_a_change_of_what_was_changed_elsewhere_is_refused(client):
    """Two tabs, one marker: the later change is told, and neither is lost."""
    name = client.desk.palette().markers[0].name
    was = client.get("/item", name=name)["item"]["was"]
    client.post("/items/change", name=name, was=was, note="first tab")
    answer = client.try_post("/items/change", name=name, was=was, note="second tab")
    assert answer.status_code == 409
    assert read_palette(client.desk.palette_path).marker(name).note == "first tab"
    for path, more in (("/items/remove", {}), ("/items/measure", {"colour": "#000000"})):
        assert client.try_post(path, name=name, was=was, **more).status_code == 409


def test_a_change_beside_another_one_is_made(client):
    """What another program did to other rows doesn't stand in the way."""
    first, second = (marker.name for marker in client.desk.palette().markers[:2])
    was = client.get("/item", name=first)["item"]["was"]
    update_palette(client.desk.palette_path, lambda palette: palette.with_details(second, note="elsewhere"))
    client.post("/items/change", name=first, was=was, note="here")
    palette = read_palette(client.desk.palette_path)
    assert (palette.marker(first).note, palette.marker(second).note) == ("here", "elsewhere")


def test_names_and_notes_with_markup_stay_text(client):
    """Script in a name is a name; it comes back as it was typed and never as markup of the page."""
    evil = "<img src=x onerror=alert(1)>\"'&"
    client.post("/items/add", name=evil, colour="#884422", note="<script>alert(1)</script>")
    drawer = client.ask("GET", "/api/drawer")
    assert drawer.headers["content-type"] == "application/json"
    assert evil in [one["name"] for one in drawer.json()["markers"]]
    assert evil not in client.ask("GET", "/drawer").text


def test_a_file_is_shown_before_it_is_added(client):
    """First what would come, then it comes, in one step that can be taken back."""
    data = b"GIMP Palette\nName: Lanterns\n#\n200 100 50\tlantern glow\n20 30 40\tnight blue\n"
    before = client.desk.palette_path.read_bytes()
    seen = client.send("/import", "lanterns.gpl", data).json()
    assert (seen["found"], len(seen["fresh"]), seen["kept"]) == (2, 2, 0)
    assert client.desk.palette_path.read_bytes() == before
    kept = client.send("/import", "lanterns.gpl", data, keep="true").json()
    assert kept["kept"] == 2
    assert {"lantern glow", "night blue"} <= set(read_palette(client.desk.palette_path).names)
    again = client.send("/import", "lanterns.gpl", data).json()
    assert again["fresh"] == []
    client.post("/undo")
    assert client.desk.palette_path.read_bytes() == before


def test_a_palette_file_is_imported_whole_with_spectra_and_patterns(client, demo):
    """Nothing that isn't in the drawer yet is lost on the way."""
    old = {item.name for item in client.desk.palette().items}
    client.send("/import", "hedgehog-lane.csv", demo_palette_path().read_bytes(), keep="true")
    palette = read_palette(client.desk.palette_path)
    assert {item.name for item in demo.items} <= set(palette.names)
    for marker in demo.markers:
        if marker.name in old:
            continue
        assert float(delta_e_2000(marker.lab, palette.marker(marker.name).lab)) < 0.05
        assert [coats for coats, _ in palette.marker(marker.name).readings] == [
            coats for coats, _ in marker.readings
        ]
    patterned = next(paper for paper in demo.papers if paper.pattern)
    assert len(palette.paper(patterned.name).pattern) == len(patterned.pattern)


@pytest.mark.parametrize(
    "data", [b"\x89PNG\r\n\x1a\n1234", b"\x00\x01\x02", b"name,kind,hex\nx,marker,zzz\n"]
)
def test_a_file_that_is_none_is_refused_in_words(client, data):
    """An upload that can't be read is a mistake with a sentence, never a fault of ours."""
    answer = client.send("/import", "odd.bin", data)
    assert answer.status_code == 422
    assert answer.json()["message"]


def test_an_empty_upload_is_refused(client):
    """Nothing was sent."""
    assert client.send("/import", "empty.csv", b"").status_code == 422


def test_an_upload_that_is_too_large_is_refused_before_it_is_read(client):
    """By its announced length, and by what really comes when it announced nothing."""
    answer = client.ask("POST", "/api/import", content=b"x", headers={"content-length": "999999999999"})
    assert answer.status_code == 413


def test_an_upload_that_grows_too_large_is_cut_off(client, monkeypatch):
    """A body without a length is counted as it comes."""
    from blendkit.desk import app

    monkeypatch.setattr(app, "MAX_FILE_MB", 0.001)

    async def parts():
        for _ in range(100):
            yield b"x" * 100

    assert client.ask("POST", "/api/import", content=parts()).status_code == 413


def test_an_empty_drawer_is_welcomed_and_filled_with_the_demo(empty):
    """Everything answers on an empty drawer; the demo comes in one step and goes in one."""
    state = empty.get("/state")
    assert state["is_empty"]
    assert empty.get("/drawer")["markers"] == []
    assert empty.get("/drawer/trays", by="gap")["trays"] == []
    state = empty.post("/demo")
    assert state["counts"]["marker"] > 80
    assert empty.try_post("/demo").status_code == 409
    assert empty.post("/undo")["is_empty"]


def test_an_empty_drawer_has_nothing_to_pair(empty):
    """The answer is a sentence."""
    answer = empty.ask("GET", "/api/pair", params={"colour": "#c8553d"})
    assert answer.status_code == 422
    assert "marker" in answer.json()["message"]


def test_earlier_versions_are_listed_and_put_back(client):
    """Each edit leaves one, and it can come back."""
    client.post("/items/add", name="one", colour="#112233")
    client.post("/items/add", name="two", colour="#112233")
    versions = client.get("/versions")["versions"]
    assert len(versions) == 2
    client.post("/versions/restore", name=versions[-1]["name"])
    assert "one" not in read_palette(client.desk.palette_path).names
    assert client.try_post("/versions/restore", name="../../x").status_code == 422


def test_a_typed_colour_is_shown_without_being_kept(client):
    """The form shows what it will be."""
    seen = client.get("/colour", colour="52, 38, 21", light="D65", observer=10)
    assert seen["hex"].startswith("#")
    assert seen["words"]
    assert client.ask("GET", "/api/colour", params={"colour": "grue"}).status_code == 422


def test_a_palette_with_a_fingerprint_changes_with_every_fact(client):
    """A new reading, word or limit gives another fingerprint."""
    from blendkit.desk.looks import fingerprint

    palette = client.desk.palette()
    name = palette.markers[0].name
    seen = {fingerprint(palette.marker(name))}
    for change in (
        lambda p: p.with_details(name, note="n"),
        lambda p: p.with_details(name, family="other family"),
        lambda p: p.with_reading(name, 1, reading_from_hex("#010203")),
        lambda p: p.with_reading(name, 2, reading_from_hex("#010203")),
    ):
        seen.add(fingerprint(change(palette).marker(name)))
    assert len(seen) == 5
