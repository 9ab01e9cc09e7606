"""The printed loop from the command line: chart, a simulated coloured picture, scan, what the palette keeps."""

import contextlib
import json
import shutil
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image
from simulate import device, picture, second, spectra
from simulate import page as pages

from blendkit.chart.chart import make_chart
from blendkit.chart.description import read_chart_file
from blendkit.chart.scan_record import ProposedReading
from blendkit.cli import sheets
from blendkit.cli.app import main
from blendkit.palette import read_history, read_palette

FAMILY = "moss stone"
SETUP = "kitchen window"
POSE = picture.Pose(turn_deg=90, tilt_deg=10, fill=0.92)


@pytest.fixture(scope="module")
def loop(tmp_path_factory, root):
    """A folder with a palette of rough readings, its chart from the command line, and a picture of it."""
    folder = tmp_path_factory.mktemp("loop")
    drawer = folder / "drawer.csv"
    lines = (root / "palettes" / "hedgehog-lane.csv").read_text("utf-8").splitlines()
    figure = lines[0].split(",").index("uncertainty")
    rows = [line.split(",") for line in lines]
    for row in rows[1:]:
        if row[0].startswith(FAMILY):
            row[figure] = "25"
    drawer.write_text("\n".join(",".join(row) for row in rows) + "\n", "utf-8")
    for arguments in (
        ["--family", FAMILY, "--out", folder / "chart.pdf"],
        ["rosehip dawn", "--out", folder / "other.pdf"],
    ):
        with contextlib.suppress(SystemExit):
            main(["chart", "--palette", str(drawer), "--coats", "2", *map(str, arguments)])
    spec = read_chart_file(folder / "chart.chart.json")
    record = make_chart(read_palette(drawer), families=[FAMILY], coats=2)
    assert record.spec == spec
    rng = np.random.default_rng(71)
    sheet = second.make_sheet(rng, spec, sheet=record.sheet)
    made = second.take(rng, sheet, second.make_eye(rng, "window"), quality=95)
    Image.fromarray(made.picture.pixels).save(folder / "photo.jpg", quality=90)
    Image.fromarray(made.picture.pixels[430:]).save(folder / "half.jpg", quality=90)
    coats = {box.markers[0]: box.coats for box in spec.pages[0].boxes if box.kind != "paper"}
    strangers = {name: rng.uniform([30, -50, -45], [85, 55, 70]) for name in coats}
    other = second.make_sheet(rng, spec, sheet=record.sheet, wanted=strangers)
    made = second.take(rng, other, second.make_eye(rng, "window"), quality=95)
    Image.fromarray(made.picture.pixels).save(folder / "strangers.jpg", quality=90)
    Image.new("RGB", (900, 700), "#888888").save(folder / "grey.png")
    (folder / "words.jpg").write_text("no picture at all", "utf-8")
    return folder


@pytest.fixture
def drawer(loop, tmp_path):
    """A fresh copy of the palette."""
    return shutil.copy(loop / "drawer.csv", tmp_path / "drawer.csv")


def test_the_loop_ends_in_the_palette_with_older_readings_kept(run, loop, drawer):
    """scan --into: one row a coat, with set-up and figure, and the older row in the history."""
    before = read_palette(drawer)
    code, out, err = run(
        "scan", loop / "photo.jpg", "--chart", loop / "chart.chart.json", "--into", drawer, "--setup", SETUP,
        "--yes",
    )  # fmt: skip
    assert code == 0
    assert "What would change" in out
    after = read_palette(drawer)
    names = [marker.name for marker in before.markers if marker.family == FAMILY]
    assert names
    for name in names:
        for coats in (1, 2):
            reading = after.marker(name).reading(coats)
            assert reading.setup == SETUP
            assert 1 < reading.uncertainty < 20
        earlier = read_history(drawer, name)
        assert earlier
        assert [(one.reason, one.cells["uncertainty"]) for one in earlier] == [("measured again", "25")]
    others = [marker for marker in before.markers if marker.family != FAMILY]
    assert all(np.allclose(after.marker(marker.name).lab, marker.lab) for marker in others)
    assert "history" in err


def test_surer_readings_stay_unless_asked_for(run, loop, drawer, root):
    """What an instrument measured is not written over by a photo, but for --replace-surer."""
    shutil.copy(root / "palettes" / "hedgehog-lane.csv", drawer)
    before = read_palette(drawer)
    scan = ["scan", loop / "photo.jpg", "--chart", loop / "chart.chart.json", "--into", drawer, "--yes"]
    code, _, err = run(*scan)
    assert code == 0
    assert "left out" in err
    name = next(marker.name for marker in before.markers if marker.family == FAMILY)
    assert np.allclose(read_palette(drawer).marker(name).lab, before.marker(name).lab)
    assert run(*scan, "--replace-surer")[0] == 0
    assert not np.allclose(read_palette(drawer).marker(name).lab, before.marker(name).lab, atol=0.5)


def without_markers(path, names):
    """Take the rows of these markers out of a palette file."""
    lines = path.read_text("utf-8").splitlines()
    path.write_text("\n".join(line for line in lines if line.split(",")[0] not in names) + "\n", "utf-8")


def test_markers_the_palette_lacks_are_named_and_added_only_when_asked(run, loop, drawer):
    """Their boxes are counted and named, in JSON as "unknown"; --add writes both coats on the chart's paper."""
    chart = read_chart_file(loop / "chart.chart.json")
    family = [marker.name for marker in read_palette(drawer).markers if marker.family == FAMILY]
    gone = family[:2]
    without_markers(drawer, gone)
    scan = [
        "scan", loop / "photo.jpg", "--chart", loop / "chart.chart.json", "--into", drawer, "--setup", SETUP,
        "--yes",
    ]  # fmt: skip
    code, out, err = run(*scan, "--json")
    assert code == 0
    words = " ".join(err.split())
    assert "4 boxes are of markers that drawer.csv doesn't have" in words
    assert all(name in words for name in gone)
    assert "--add" in words
    unknown = json.loads(out)["unknown"]
    assert sorted((one["marker"], one["coats"]) for one in unknown) == sorted(
        (name, coats) for name in gone for coats in (1, 2)
    )
    assert not {marker.name for marker in read_palette(drawer).markers} & set(gone)
    code, out, err = run(*scan, "--add")
    assert code == 0
    assert "doesn't have" not in err
    after = read_palette(drawer)
    for one in unknown:
        marker = after.marker(one["marker"])
        reading = marker.reading(one["coats"])
        assert np.allclose(reading.lab, one["new_lab"], atol=0.02)
        assert reading.uncertainty == pytest.approx(one["uncertainty"], abs=0.01)
        assert reading.setup == SETUP
        assert reading.measured
        assert marker.on == chart.paper


def test_a_marker_without_a_reading_of_one_coat_is_not_added(capsys):
    """A palette needs one coat of each marker; what has only its second coat read is named instead."""
    lab = (50.0, 0.0, 0.0)
    second = ProposedReading("lantern soot", 2, None, lab, None, 5.0, "", "", False, "", False)
    both = [replace(second, marker="hedgerow", coats=coats) for coats in (2, 1)]
    assert sheets._addable([second, *both]) == both
    assert "lantern soot" in capsys.readouterr().err


def test_add_without_a_palette_to_write_into_is_refused(run, loop):
    """--add alone says that --into is wanted."""
    code, _, err = run("scan", loop / "photo.jpg", "--chart", loop / "chart.chart.json", "--add")
    assert code == 2
    assert "--into" in err


def test_reading_the_same_picture_again_is_not_called_less_sure(run, loop, drawer):
    """Figures as good as alike replace each other: the second time nothing is left out."""
    scan = ["scan", loop / "photo.jpg", "--chart", loop / "chart.chart.json", "--into", drawer, "--yes"]
    assert run(*scan)[0] == 0
    code, out, err = run(*scan)
    assert code == 0
    assert "left out" not in err
    assert "surer" not in out
    assert "Wrote" in err


def test_one_reading_is_told_in_the_singular():
    """“1 reading”, not “1 readings”."""
    assert sheets._readings(1) == "1 reading"
    assert sheets._readings(2) == "2 readings"


def test_the_words_below_a_narrow_table_count_no_columns(run, loop, drawer, monkeypatch):
    """At 80 columns, where rows are stacked, the sentence still fits, and says why the figure is wide."""
    monkeypatch.setenv("COLUMNS", "80")
    _, out, _ = run(
        "scan", loop / "photo.jpg", "--chart", loop / "chart.chart.json", "--palette", drawer, "--numbers"
    )
    words = " ".join(out.split())
    assert "three figures" not in words
    assert "95 of 100 readings" in words
    assert "a third" in words


def test_what_is_most_unlikely_is_never_taken_without_a_question(run, loop, drawer, monkeypatch):
    """Strangers' inks in the boxes: --yes leaves them out, a question names them, --unlikely takes them."""
    bytes_before = drawer.read_bytes()
    scan = ["scan", loop / "strangers.jpg", "--chart", loop / "chart.chart.json", "--into", drawer]
    code, out, err = run(*scan, "--replace-surer", "--yes")
    assert code == 0
    assert "Please look" in out
    assert "most unlikely" in err
    likely = drawer.read_bytes()
    asked: list[str] = []
    drawer.write_bytes(bytes_before)
    monkeypatch.setattr("typer.confirm", lambda words, **_: asked.append(words) or words.startswith("Write"))
    assert run(*scan, "--replace-surer")[0] == 0
    assert any("all the same" in words for words in asked)
    assert drawer.read_bytes() == likely
    drawer.write_bytes(bytes_before)
    assert run(*scan, "--replace-surer", "--yes", "--unlikely")[0] == 0
    assert drawer.read_bytes() not in (likely, bytes_before)


def test_nothing_is_written_without_into_or_with_no(run, loop, drawer, monkeypatch):
    """Without --into, and when the question is answered with no, the palette keeps its bytes."""
    bytes_before = drawer.read_bytes()
    photo = ["scan", loop / "photo.jpg", "--chart", loop / "chart.chart.json"]
    assert run(*photo, "--palette", drawer)[0] == 0
    monkeypatch.setattr("typer.confirm", lambda *_, **__: False)
    code, _, err = run(*photo, "--into", drawer)
    assert code == 0
    assert "Nothing was written" in err
    assert drawer.read_bytes() == bytes_before


def test_json_holds_readings_changes_and_the_contact_pictures_path(run, loop, drawer, tmp_path):
    """--json prints one record; the contact picture is written beside it, and the paper's places stay in it."""
    contact = tmp_path / "contact.png"
    code, out, _ = run(
        "scan", loop / "photo.jpg", "--chart", loop / "chart.chart.json", "--palette", drawer,
        "--contact", contact, "--json",
    )  # fmt: skip
    data = json.loads(out)
    assert code == 0
    assert data["schema"] == 1
    assert data["contact"] == [str(contact)]
    assert len(data["changes"]) == sum(one["kind"] == "swatch" for one in data["readings"])
    first = data["readings"][0]
    assert first["lab"]
    assert first["within_setup"] < first["uncertainty"]
    with Image.open(contact) as shown:
        assert shown.format == "PNG"
        assert shown.height > shown.width > 900


def test_the_table_says_both_figures_and_each_remark(run, loop, drawer):
    """A row for every coloured box, none for bare paper, with what the two figures mean."""
    _, out, _ = run(
        "scan", loop / "photo.jpg", "--chart", loop / "chart.chart.json", "--palette", drawer, "--numbers"
    )
    spec = read_chart_file(loop / "chart.chart.json")
    labels = {box.label for box in spec.pages[0].boxes if box.kind == "swatch"}
    assert all(label in out for label in labels)
    assert "sure to" in out
    assert "together" in out
    assert "bare paper  " not in out


@pytest.mark.parametrize(
    ("image", "chart", "words"),
    [
        ("photo.jpg", "other.chart.json", "chart"),
        ("grey.png", "chart.chart.json", "none of the square marks"),
        ("half.jpg", "chart.chart.json", "cut off"),
        ("words.jpg", "chart.chart.json", "not a picture"),
        ("nowhere.jpg", "chart.chart.json", "no picture at"),
        ("photo.jpg", "nowhere.chart.json", "nowhere"),
        ("photo.jpg", "photo.jpg", "photo.jpg"),
    ],
)
def test_what_cannot_be_read_is_refused_and_nothing_written(run, loop, drawer, tmp_path, image, chart, words):
    """Wrong chart, no marks, half a page, no picture: exit 2, a sentence, and no file changed or made."""
    bytes_before = drawer.read_bytes()
    contact = tmp_path / "contact.png"
    code, _, err = run(
        "scan", loop / image, "--chart", loop / chart, "--into", drawer, "--yes", "--contact", contact
    )  # fmt: skip
    assert code == 2
    assert words in " ".join(err.split())
    assert "Traceback" not in err
    assert drawer.read_bytes() == bytes_before
    assert not contact.exists()
    assert not list(tmp_path.glob("*.history.csv"))


def coloured_all_over(rng, spec_page, px_per_mm=5.0):
    """A page whose boxes and all between them, but for marks and code, are coloured: no bare paper is left."""
    coloured = pages.coloured_page(rng, spec_page, px_per_mm)
    height, width = coloured.shown.shape[:2]
    ys, xs = (np.mgrid[0:height, 0:width] / px_per_mm).astype(np.float32)
    open_mm = np.ones((height, width), bool)
    corners = [np.array(mark.corners_mm) for mark in spec_page.marks]
    areas = [(*quad.min(axis=0) - 1.5, *quad.max(axis=0) + 1.5) for quad in corners]
    x, y, w, h = spec_page.code_box_mm
    areas.append((x - 1, y - 1, x + w + 1, y + h + 1))
    areas += [
        (b.x_mm, b.y_mm, b.x_mm + b.w_mm, b.y_mm + b.h_mm) for b in spec_page.boxes if b.kind != "paper"
    ]
    for left, top, right, bottom in areas:
        open_mm &= ~((xs > left) & (xs < right) & (ys > top) & (ys < bottom))
    field = (xs // 9 + 3 * (ys // 9)).astype(int) % 5
    for number in range(5):
        coloured.absorptions.append(spectra.ink_absorption(rng) + 0.3)
        thick = (open_mm & (field == number)).astype(np.float32)
        coloured.patches.append((slice(0, height), slice(0, width), thick))
    return coloured


def test_a_page_coloured_all_over_is_trusted_for_lightness_alone(run, loop, drawer, tmp_path):
    """Without bare paper the command says so, takes nothing over, and has nearly all pairs in order."""
    spec = read_chart_file(loop / "chart.chart.json")
    rng = np.random.default_rng(72)
    coloured = coloured_all_over(rng, spec.pages[0])
    code1, _ = picture.photograph(
        rng, coloured, device.ideal(0.004), pose=POSE, picture_px=(1400, 1050), light=0.2, shadow=False
    )
    photo = tmp_path / "all-over.png"
    Image.fromarray(picture.as_bytes(code1)).save(photo)
    bytes_before = drawer.read_bytes()
    code, out, err = run(
        "scan", photo, "--chart", loop / "chart.chart.json", "--into", drawer, "--yes", "--json"
    )
    assert code == 0, err
    data = json.loads(out)
    assert data["pages"][0]["method"] == "lightness only"
    assert data["changes"] == []
    assert "nothing in these readings to take over" in err
    assert drawer.read_bytes() == bytes_before
    rows = [
        (reading["lab"][0], true[0])
        for reading, true in zip(data["readings"], coloured.true_labs(), strict=False)
        if reading["kind"] == "swatch" and reading["lab"]
    ]
    read, true = np.array(rows).T
    first, second = np.triu_indices(len(read), 1)
    clear = np.abs(true[first] - true[second]) > 8
    assert clear.sum() >= 8
    assert (
        np.mean(np.sign(true[first] - true[second])[clear] == np.sign(read[first] - read[second])[clear])
        > 0.95
    )
    _, out, _ = run("scan", photo, "--chart", loop / "chart.chart.json", "--palette", drawer)
    assert "trust which is lighter or darker" in " ".join(out.split())
