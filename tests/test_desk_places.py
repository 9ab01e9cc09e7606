"""Pair, papers, photo and scrap test: the page shows the records that the command line prints."""

import io
import shutil

import numpy as np
import pytest
from PIL import Image
from simulate.desk import DeskClient, coloured_scan

from blendkit.advice.likeness import find_likenesses
from blendkit.advice.order import find_order, predict_layers
from blendkit.advice.pairs import find_pair
from blendkit.advice.papers import find_matches
from blendkit.advice.schemes import find_schemes
from blendkit.colour import delta_e_2000, hex_to_lab
from blendkit.palette import demo_palette_path, read_history, read_palette
from blendkit.records import to_json


@pytest.fixture(scope="module")
def client():
    opened = DeskClient(demo_palette_path())
    yield opened
    opened.close()


def bare(value):
    """A record without the text colours that the page adds."""
    if isinstance(value, dict):
        return {key: bare(one) for key, one in value.items() if key != "text"}
    return [bare(one) for one in value] if isinstance(value, list) else value


def test_a_pair_is_the_record_of_the_command_line(client, demo):
    """Every field of ``blendkit pair --json`` is there unchanged, for a marker and for a typed colour."""
    for colour in (demo.markers[20].name, "#406080"):
        answer = client.get("/pair", colour=colour, all_ways="true")
        record = to_json(find_pair(demo, colour, all_ways=True))
        assert {key: bare(answer[key]) for key in record} == record


def test_a_pair_has_its_place_on_the_plot(client, demo):
    """The series starts at the base and falls."""
    answer = client.get("/pair", colour=demo.markers[20].name)
    series = answer["plot"]["series"]
    assert series[0][1] == pytest.approx(answer["base"]["lab"][0], abs=0.01)
    assert [point[1] for point in series] == sorted((point[1] for point in series), reverse=True)


def test_lean_and_window_reach_the_advice(client, demo):
    """What the page sets is what the command line's options set."""
    from blendkit.advice.shading_series import Taste

    name = demo.markers[20].name
    answer = client.get("/pair", colour=name, lean="cool", low=8, high=40, all_ways="false")
    assert bare(answer["shadow"]) == to_json(find_pair(demo, name, taste=Taste((8, 40), "cool")))["shadow"]
    refused = client.ask("GET", "/api/pair", params={"colour": name, "low": 40, "high": 8})
    assert refused.status_code == 422


def test_an_order_and_a_stack_are_the_records_of_the_command_line(client, demo):
    """``order`` and ``layer`` too."""
    base, shadow = demo.markers[20].name, demo.markers[21].name
    answer = client.get("/order", base=base, shadows=[shadow], style="dark-first")
    assert bare(answer) == to_json(find_order(demo, base, [shadow], style="dark-first"))
    layers = client.get("/layer", markers=[base, shadow, shadow])
    assert bare(layers) == to_json(predict_layers(demo, [base, shadow, shadow]))


def test_schemes_and_matches_are_the_records_of_the_command_line(client, demo):
    """``papers`` and ``match`` too."""
    colours = [demo.markers[3].name, "#6b8f4e"]
    answer = client.get("/papers", colours=colours, large_greeting="true")
    assert bare(answer) == to_json(find_schemes(demo, colours, large_greeting=True))
    matches = client.get("/match", colour=colours[0], kinds=["paper"], count=5)
    assert bare(matches) == to_json(find_matches(demo, colours[0], kinds=("paper",), count=5))


def test_colours_look_other_under_a_lamp_and_to_other_eyes(client, demo):
    """The page gets the colours; it computes none."""
    names = [demo.markers[3].name, demo.papers[5].name, "#6b8f4e"]
    day, lamp, eyes = (
        client.get("/looks", names=names, light=light, vision=vision)
        for light, vision in (("D65", ""), ("A", ""), ("D65", "protan"))
    )
    assert set(day["colours"]) == set(names)
    assert day["wall"] != lamp["wall"]
    assert any(day["colours"][name] != lamp["colours"][name] for name in names)
    assert day["colours"][names[0]] != eyes["colours"][names[0]]
    marker = day["colours"][names[0]]
    assert hex_to_lab(marker["deeper"])[0] < hex_to_lab(marker["hex"])[0]


# ---------------------------------------------------------------- photo


def png(pixels):
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "PNG")
    return out.getvalue()


@pytest.fixture(scope="module")
def two_colours(client):
    """A photo of a red and a blue half, kept by the desk and opened."""
    pixels = np.zeros((200, 300, 3), np.uint8)
    pixels[:, :150], pixels[:, 150:] = (200, 60, 50), (40, 70, 140)
    sent = client.send("/picture", "halves.png", png(pixels)).json()
    opened = client.finish(sent["job"])
    assert opened["state"] == "done", opened
    return opened["result"]


def test_a_click_in_a_photo_gives_its_colour(client, two_colours):
    """The colour under the click, read through the photo's own profile."""
    for x, colour in ((0.2, "#c83c32"), (0.8, "#28468c")):
        seen = client.get("/picture/colour", file=two_colours["file"], x=x, y=0.5)
        assert float(delta_e_2000(hex_to_lab(colour), seen["lab"])) < 0.1


def test_a_small_photo_for_the_screen_is_made(client, two_colours):
    """A JPEG, of the photo's own shape."""
    answer = client.ask("GET", "/api/file", params={"file": two_colours["view"]})
    assert answer.headers["content-type"] == "image/jpeg"
    assert Image.open(io.BytesIO(answer.content)).size == (300, 200)


def test_main_colours_come_with_what_makes_them(client, two_colours, demo):
    """Both halves are found, with what ``blendkit photo`` says of them."""
    job = client.post("/photo", file=two_colours["file"], count=4, accents=0)["job"]
    result = client.finish(job)["result"]
    labs = np.array([one["lab"] for one in result["photo"]["colours"]])
    for colour in ("#c83c32", "#28468c"):
        assert delta_e_2000(hex_to_lab(colour), labs).min() < 1.0
    colours = [(f"colour {number}", np.array(lab)) for number, lab in enumerate(labs, start=1)]
    likenesses = to_json(find_likenesses(demo, colours))["likenesses"]
    assert [[one["marker"]["name"] for one in made["markers"]] for made in result["made"]["likenesses"]] == [
        [one["marker"]["name"] for one in made["markers"]] for made in likenesses
    ]


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("text.jpg", b"this is no picture at all"),
        ("cut.png", None),
        (
            "bomb.png",
            b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x01\x86\xa0\x00\x01\x86\xa0\x08\x02\x00\x00\x00",
        ),
    ],
)
def test_what_is_no_picture_is_refused_in_words(client, name, data):
    """Text, a cut file and a bomb each end as a sentence."""
    if data is None:
        data = png(np.random.default_rng(1).integers(0, 255, (300, 300, 3), dtype=np.uint8))[:2000]
    sent = client.send("/picture", name, data).json()
    view = client.finish(sent["job"])
    assert view["state"] == "failed"
    assert name in str(view["fault"])
    assert "fault of its own" not in view["fault"]["message"]


def test_only_pictures_that_the_desk_made_are_shown(client):
    """A file that was sent is never sent back as something that the browser would run."""
    sent = client.send("/scan/file", "x.html", b"<script>alert(1)</script>").json()
    assert client.ask("GET", "/api/file", params={"file": sent["file"]}).status_code == 422


# ---------------------------------------------------------------- scrap test


@pytest.fixture
def own(tmp_path):
    shutil.copy(demo_palette_path("first-box"), tmp_path / "mine.csv")
    opened = DeskClient(tmp_path / "mine.csv")
    yield opened
    opened.close()


def test_a_chart_is_shown_and_printed(own):
    """A record, a picture of each page, a PDF, and the description file."""
    chart = own.get("/chart", coats=2)
    assert chart["pages"] >= 1
    page = own.ask("GET", "/api/chart/page", params={"coats": 2})
    assert page.headers["content-type"] == "image/png"
    printed = own.ask("GET", "/api/chart/print", params={"coats": 2})
    assert printed.headers["content-type"] == "application/pdf"
    assert printed.content.startswith(b"%PDF")
    described = own.ask("GET", "/api/chart/print", params={"coats": 2, "form": "description"})
    assert chart["chart_id"] in described.headers["content-disposition"]
    assert described.json()
    assert own.ask("GET", "/api/chart/page", params={"page": 30}).status_code == 422


def test_a_coloured_chart_is_read_back_and_taken_in(own):
    """From the printed page to a scan to the drawer: chosen readings come in, others stay, undo undoes."""
    from blendkit.chart.chart import make_chart

    palette = own.desk.palette()
    labs = {marker.name: np.asarray(marker.lab) + [3.0, 0.0, 0.0] for marker in palette.markers}
    scan = coloured_scan(make_chart(palette), labs, palette.papers[0].lab)
    files = [own.send("/scan/file", "scan.png", scan).json()["file"]]
    job = own.post("/scan", files=files, setup="test scanner")["job"]
    view = own.finish(job)
    assert view["state"] == "done", view["fault"]
    result = view["result"]
    assert len(result["proposed"]) == len(palette.markers)
    assert len(result["views"]) == 1
    for row in result["proposed"]:
        assert float(delta_e_2000(labs[row["marker"]], row["new_lab"])) < 2.5
    first, second = (row["marker"] for row in result["proposed"][:2])
    before = own.desk.palette_path.read_bytes()
    state = own.post("/scan/accept", job=job, accept=[{"marker": first, "coats": 1}])
    assert state["done"] == "1 reading is in the drawer."
    after = read_palette(own.desk.palette_path)
    assert float(delta_e_2000(labs[first], after.marker(first).lab)) < 2.5
    np.testing.assert_array_equal(after.marker(second).lab, palette.marker(second).lab)
    assert after.marker(first).readings[0][1].setup == "test scanner"
    assert read_history(own.desk.palette_path, first)
    own.post("/undo")
    assert own.desk.palette_path.read_bytes() == before


def read_with_description(own, chart, labs):
    """Send a coloured scan and its description file, and give the job's number and what was read."""
    from blendkit.chart.description import chart_file_text

    scan = coloured_scan(chart, labs, own.desk.palette().papers[0].lab)
    sent = own.send("/scan/file", "scan.png", scan).json()["file"]
    text = chart_file_text(chart.spec).encode()
    described = own.send("/scan/file", "chart.chart.json", text).json()["file"]
    job = own.post("/scan", files=[sent], chart=described, setup="test scanner")["job"]
    view = own.finish(job)
    assert view["state"] == "done", view["fault"]
    return job, view["result"]


def lose_a_marker(own):
    """Take a marker out of the drawer; give the palette and its chart from before, its colours, and the name."""
    from blendkit.chart.chart import make_chart

    palette = own.desk.palette()
    lost = palette.markers[0].name
    labs = {marker.name: np.asarray(marker.lab) for marker in palette.markers}
    chart = make_chart(palette, coats=2)
    own.desk.edit("lose one", lambda drawer: drawer.without(lost))
    return palette, chart, labs, lost


def test_markers_that_the_drawer_lacks_are_named_and_added_when_chosen(own):
    """One that the drawer has lost isn't passed over; it comes in with all its coats, and undo undoes."""
    palette, chart, labs, lost = lose_a_marker(own)
    before = own.desk.palette_path.read_bytes()
    job, result = read_with_description(own, chart, labs)
    assert lost not in {row["marker"] for row in result["proposed"]}
    (found,) = result["unknown"]
    assert (found["marker"], found["addable"]) == (lost, True)
    assert [one["coats"] for one in found["coats"]] == [1, 2]
    assert float(delta_e_2000(labs[lost], found["readings"][0]["new_lab"])) < 2.5

    state = own.post("/scan/accept", job=job, add=[lost], on=palette.papers[0].name)
    assert state["done"] == "1 new marker is in the drawer."
    added = read_palette(own.desk.palette_path).marker(lost)
    assert [coats for coats, _ in added.readings] == [1, 2]
    assert added.on == palette.papers[0].name
    np.testing.assert_allclose(added.lab, found["readings"][0]["new_lab"], atol=0.01)
    own.post("/undo")
    assert own.desk.palette_path.read_bytes() == before


def test_a_marker_without_a_reading_of_one_coat_is_named_but_not_added(own):
    """A palette needs the first coat: the page is told so, and a request for it is refused in words."""
    palette, chart, labs, lost = lose_a_marker(own)
    labs[lost, 1] = palette.papers[0].lab
    job, result = read_with_description(own, chart, labs)
    (found,) = result["unknown"]
    assert (found["marker"], found["addable"]) == (lost, False)
    refused = own.try_post("/scan/accept", job=job, add=[lost])
    assert refused.status_code == 422
    assert "one coat" in refused.text
    assert lost not in read_palette(own.desk.palette_path).names


def test_a_surer_reading_of_the_drawer_is_told(own):
    """What is held with a far smaller figure is marked as surer; a rough one isn't."""
    from blendkit.chart.chart import make_chart
    from blendkit.palette import reading_from_lab

    palette = own.desk.palette()
    sure, rough = palette.markers[0], palette.markers[1]
    for marker, figure in ((sure, 0.1), (rough, 40.0)):
        reading = reading_from_lab(marker.lab, uncertainty=figure)
        own.desk.edit("measure", lambda drawer, m=marker, r=reading: drawer.with_reading(m.name, 1, r))
    labs = {marker.name: np.asarray(marker.lab) for marker in palette.markers}
    _, result = read_with_description(own, make_chart(palette), labs)
    surer = {row["marker"]: row["old_is_surer"] for row in result["proposed"]}
    assert surer[sure.name]
    assert not surer[rough.name]
    assert all(row["on"] == result["scan"]["paper"] for row in result["proposed"])


def test_a_photo_of_something_else_is_no_chart(own):
    """It is refused with what to do."""
    noise = png(np.full((400, 400, 3), 180, np.uint8))
    files = [own.send("/scan/file", "cat.png", noise).json()["file"]]
    view = own.finish(own.post("/scan", files=files)["job"])
    assert view["state"] == "failed"
    assert "cat.png" in view["fault"]["message"]


def test_nothing_is_taken_in_that_was_not_read(own):
    """An unknown job, or no choice, writes nothing."""
    assert own.try_post("/scan/accept", job="0", accept=[{"marker": "x", "coats": 1}]).status_code == 422
    assert own.try_post("/scan", files=[]).status_code == 422
    assert own.try_post("/scan", files=["../x"]).status_code == 422
