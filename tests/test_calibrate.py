"""Fitting the ink model to a paper: known truth comes back, it helps or says no, and it is kept and undone."""

import json
import shutil
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from blendkit.advice import calibrate, ink_fit
from blendkit.advice.calibrate import Overlap, read_overlaps
from blendkit.advice.order import predict_layers
from blendkit.colour import delta_e_2000
from blendkit.errors import PaletteError
from blendkit.ink import DEFAULT_MODEL, MODEL_BOUNDS, InkModel
from blendkit.inked import ink_drawer
from blendkit.palette import empty_palette, read_palette, reading_from_lab, readings_from_labs, write_palette
from blendkit.palette.calibration_file import (
    Residual,
    StoredCalibration,
    calibration_path,
    forget_calibration,
    read_calibrations,
    store_calibration,
    stored_model,
)
from blendkit.report.report import draw_report, write_report
from blendkit.spectrum import reflectance_from_lab

sys.path.insert(0, str(Path(__file__).parent / "derive"))

import evaluate_calibrate as evaluate

WHITE, CREAM = "Snow Gate smooth", "Cream Jug"
PAPER = np.array([95.0, 0.0, -2.0])
TRUTH = InkModel(surface_share=0.5, transfer=0.5)
FITTED = InkModel(surface_share=0.5, transfer=0.42)


def drawer_of(truth, count, *, noise=0.0, seed=7, on="white lane card", measured_on=""):
    """A palette of *count* markers with second and third coats, as paper and dye of known constants make them."""
    random = np.random.default_rng(seed)
    labs = evaluate.draw_markers(random, count)
    stacks = evaluate.coats_of(count)
    coats = ink_fit.predict_stacks(reflectance_from_lab(PAPER), readings_from_labs(labs), stacks, truth)
    if noise:
        labs, coats = (evaluate.read_with_noise(random, values, noise) for values in (labs, coats))
    palette = empty_palette().with_paper("white lane card", reading_from_lab(PAPER))
    palette = palette.with_paper("other card", reading_from_lab([90.0, 1.0, 6.0]))
    for row, lab in enumerate(labs):
        palette = palette.with_marker(f"lantern {row}", reading_from_lab(lab), on=on)
    for stack, lab in zip(stacks, coats, strict=True):
        palette = palette.with_reading(f"lantern {stack[0]}", len(stack), reading_from_lab(lab))
    return palette


@pytest.fixture(scope="module")
def demo_fit(demo):
    return calibrate.calibrate_ink(demo, date="2031-10-04")


@pytest.fixture
def own(tmp_path, root):
    """A copy of the demo palette, that may be written beside."""
    return shutil.copy(root / "palettes" / "hedgehog-lane.csv", tmp_path / "my-drawer.csv")


# ---------------------------------------------------------------- the fit


@pytest.mark.parametrize("truth", evaluate.TRUTHS[:4])
def test_known_constants_come_back_from_twelve_exact_markers(truth):
    found = calibrate.calibrate_ink(drawer_of(truth, 12))
    assert found.model.surface_share == pytest.approx(truth.surface_share, abs=0.06)
    assert found.model.transfer == pytest.approx(truth.transfer, abs=0.03)
    assert found.after.max < 0.5


@pytest.mark.parametrize(("noise", "near"), [(0.3, 0.06), (1.0, 0.15)])
def test_known_constants_come_back_through_reading_noise_and_help_other_markers(noise, near):
    trial = evaluate.simulate(1, TRUTH, noise, 12)
    assert trial.helps
    assert trial.model.surface_share == pytest.approx(TRUTH.surface_share, abs=near)
    assert trial.model.transfer == pytest.approx(TRUTH.transfer, abs=near)
    assert trial.after < 0.4 * trial.before


def test_a_paper_that_has_the_usual_constants_is_left_with_them():
    found = calibrate.calibrate_ink(drawer_of(DEFAULT_MODEL, 6, noise=0.6))
    assert found.verdict == "no help"
    assert not found.keep
    assert any("does not help" in words for words in found.words)
    forced = calibrate.calibrate_ink(drawer_of(DEFAULT_MODEL, 6, noise=0.6), force=True)
    assert forced.verdict == "no help"
    assert forced.keep
    assert any("because you asked" in words for words in forced.words)


def test_constants_stay_within_their_bounds_whatever_is_measured():
    drawer = drawer_of(TRUTH, 4)
    for lab in ([5.0, 0.0, 0.0], [94.0, 0.0, -2.0], [50.0, 90.0, -90.0]):
        wild = drawer
        for row in range(4):
            for coats in (2, 3):
                wild = wild.with_reading(f"lantern {row}", coats, reading_from_lab(lab))
        model = calibrate.calibrate_ink(wild).model
        for name, (low, high) in MODEL_BOUNDS.items():
            assert low <= getattr(model, name) <= high


def test_the_end_of_a_range_is_said():
    drawer = drawer_of(DEFAULT_MODEL, 4)
    for row in range(4):
        marker = drawer.marker(f"lantern {row}")
        for coats in (2, 3):
            drawer = drawer.with_reading(marker.name, coats, reading_from_lab(marker.lab))
    found = calibrate.calibrate_ink(drawer)
    assert found.model.transfer == pytest.approx(MODEL_BOUNDS["transfer"][0], abs=0.005)
    assert any("transfer went to the end of its range" in words for words in found.words)


def test_one_slip_does_not_turn_the_fit_and_is_named():
    drawer = drawer_of(TRUTH, 12)
    slipped = drawer.with_reading("lantern 3", 2, reading_from_lab([60.0, -60.0, 50.0]))
    found = calibrate.calibrate_ink(slipped)
    assert found.model.transfer == pytest.approx(TRUTH.transfer, abs=0.06)
    assert any("lantern 3 × 2" in words for words in found.words)


def test_the_residuals_are_those_of_the_predictions_that_the_drawer_makes(demo, demo_fit):
    """The same errors by the drawer's own way: the first coat alone known, laid again and again."""
    for model, residual, attribute in (
        (DEFAULT_MODEL, demo_fit.before, "delta_e_before"),
        (demo_fit.model, demo_fit.after, "delta_e_after"),
    ):
        inked = ink_drawer(demo, WHITE, model)
        errors = []
        for stack in demo_fit.stacks:
            row = inked.row(stack.markers[0])
            painted = inked.after(inked.coats[[row] * len(stack.markers), 0])[-1]
            errors.append(delta_e_2000(np.array(stack.measured.lab), ink_fit.reflectance_to_lab(painted)))
            assert getattr(stack, attribute) == pytest.approx(float(errors[-1]), abs=1e-6)
        assert residual.median == pytest.approx(np.median(errors), abs=1e-6)
        assert residual.max == pytest.approx(np.max(errors), abs=1e-6)


def test_left_out_errors_come_from_fits_that_never_saw_the_marker():
    """By hand, for one marker: a drawer without its coats gives the constants that predict them."""
    drawer = drawer_of(TRUTH, 5, noise=1.0)
    found = calibrate.calibrate_ink(drawer)
    rest = drawer.without("lantern 2")
    model = calibrate.calibrate_ink(rest).model
    paper = reflectance_from_lab(PAPER)
    swatch = [drawer.marker("lantern 2").readings[0][1]]
    predicted = ink_fit.predict_stacks(paper, swatch, [(0, 0), (0, 0, 0)], model)
    measured = np.stack([drawer.marker("lantern 2").reading(coats).lab for coats in (2, 3)])
    wanted = delta_e_2000(measured, predicted)
    got = [stack.delta_e_left_out for stack in found.stacks if stack.markers[0] == "lantern 2"]
    assert got == pytest.approx(wanted.tolist(), abs=1e-6)


@pytest.mark.gold
def test_a_fit_on_half_the_published_overprints_does_the_other_half_no_harm():
    """tests/gold/ink_overprints.csv, five conditions, to which the usual constants are fitted already."""
    for one in evaluate.fit_halves(repeats=12):
        assert one.after.mean() < one.before.mean() + 0.3


# ---------------------------------------------------------------- what is enough, and what counts


@pytest.mark.parametrize(("count", "coats"), [(2, 4), (0, 0)])
def test_too_few_stacks_are_counted_and_the_remedy_is_named(count, coats):
    drawer = drawer_of(TRUTH, max(count, 1))
    if not count:
        drawer = drawer.without("lantern 0").with_marker("lantern 0", reading_from_lab([60, 20, 20]))
    found = calibrate.calibrate_ink(drawer)
    assert (found.verdict, found.observations, found.fits, found.keep) == ("too few", coats, False, False)
    assert found.model == DEFAULT_MODEL
    assert f"{coats} measured stacks of {count} markers" in found.words[0]
    assert "blendkit chart --coats 3" in found.words[1]


def test_markers_on_other_papers_and_shimmering_ones_do_not_count():
    drawer = drawer_of(TRUTH, 6)
    assert calibrate.calibrate_ink(drawer, on="white lane card").observations == 12
    elsewhere = calibrate.calibrate_ink(drawer, on="other card")
    assert elsewhere.observations == 0
    assert "No marker's swatch lies on other card" in elsewhere.words[1]
    assert calibrate.calibrate_ink(drawer.with_details("lantern 1", finish="pearl")).observations == 10


def test_overlaps_count_and_come_back_as_true_constants_too():
    drawer = drawer_of(TRUTH, 6)
    pairs = [(row, other) for row in range(6) for other in range(6) if row < other]
    swatches = [marker.readings[0][1] for marker in drawer.markers]
    labs = ink_fit.predict_stacks(reflectance_from_lab(PAPER), swatches, pairs, TRUTH)
    overlaps = [
        Overlap(f"lantern {under}", f"lantern {over}", reading_from_lab(lab))
        for (under, over), lab in zip(pairs, labs, strict=True)
    ]
    plain = drawer
    for row in range(6):  # take the coats out: overlaps alone must do
        marker = plain.marker(f"lantern {row}")
        plain = plain.without(marker.name).with_marker(marker.name, marker.readings[0][1], on=marker.on)
    found = calibrate.calibrate_ink(plain, overlaps=overlaps)
    assert found.observations == 15
    assert {stack.kind for stack in found.stacks} == {"overlap"}
    assert found.stacks[0].name == "lantern 1 over lantern 0"
    assert found.model.transfer == pytest.approx(TRUTH.transfer, abs=0.03)
    assert found.model.surface_share == pytest.approx(TRUTH.surface_share, abs=0.1)


def test_an_overlap_of_markers_measured_on_another_paper_is_refused_with_its_place():
    drawer = drawer_of(TRUTH, 6).with_marker("far one", reading_from_lab([50, 30, 10]), on="other card")
    overlap = Overlap("lantern 1", "far one", reading_from_lab([40, 10, 10]), "overlaps.csv, line 4")
    with pytest.raises(PaletteError, match="another paper") as caught:
        calibrate.calibrate_ink(drawer, on="white lane card", overlaps=[overlap])
    assert caught.value.problems[0].where == "overlaps.csv, line 4"
    assert "other card" in caught.value.problems[0].found


def test_a_table_of_overlaps_is_read_in_either_way_of_writing(tmp_path):
    file = tmp_path / "overlaps.csv"
    file.write_text(
        "under;over;L*;a*;b*;hex;note\nRose-One;leaf;50,5;10;-20;;ok\n\nleaf;rose one;;;;#336699;\n"
    )
    first, second = read_overlaps(file, ["rose one", "leaf"])
    assert (first.under, first.over, first.where) == ("rose one", "leaf", "overlaps.csv, line 2")
    assert first.reading.lab.tolist() == [50.5, 10.0, -20.0]
    assert second.reading.typed == "#336699"


def test_every_fault_of_a_table_of_overlaps_is_reported_with_its_line(tmp_path):
    file = tmp_path / "overlaps.csv"
    file.write_text(
        "under,over,L,a,b,hex\n"
        "rose,leaf,50,10,10,\n"
        "rosy,leaf,50,10,10,\n"
        "rose,leaf,150,ten,10,\n"
        "rose,,50,10,10,\n"
        "rose,leaf,,,,#12\n"
    )
    with pytest.raises(PaletteError) as caught:
        read_overlaps(file, ["rose", "leaf"])
    places = [problem.where for problem in caught.value.problems]
    assert places == [
        "overlaps.csv, line 3, under",
        "overlaps.csv, line 4, L",
        "overlaps.csv, line 4, a",
        "overlaps.csv, line 5, over",
        "overlaps.csv, line 6, hex",
    ]
    assert "rose" in caught.value.problems[0].accepted


@pytest.mark.parametrize("text", ["colour,L,a,b\nx,1,2,3\n", "under,over\na,b\n", ""])
def test_what_is_no_table_of_overlaps_is_refused_in_a_sentence(tmp_path, text):
    file = tmp_path / "overlaps.csv"
    file.write_text(text)
    with pytest.raises(PaletteError):
        read_overlaps(file, ["rose"])
    with pytest.raises(PaletteError, match="can't be read"):
        read_overlaps(tmp_path / "none.csv", ["rose"])


# ---------------------------------------------------------------- kept beside the palette


def stored(paper=WHITE, model=FITTED):
    return StoredCalibration(
        paper, model, "2031-10-04", 22, 15, Residual(4.3, 5.1, 10.2), Residual(0.9, 1.3, 3.8), None
    )


def test_what_is_stored_comes_back_and_the_palette_file_stays_as_it_is(own):
    before = own.read_bytes()
    file = store_calibration(own, stored())
    assert file.name == "my-drawer.ink.toml"
    assert read_calibrations(own) == (stored(),)
    assert own.read_bytes() == before


def test_answers_use_what_is_stored_for_that_paper_alone(own):
    palette = read_palette(own)
    stack = ["apple skin dusk", "moss stone noon"]
    usual = {paper: predict_layers(palette, stack, on=paper).coats[-1].lab for paper in (WHITE, CREAM)}
    store_calibration(own, stored())
    assert ink_drawer(palette, WHITE).model == FITTED
    assert ink_drawer(palette, CREAM).model == DEFAULT_MODEL
    assert ink_drawer(palette, WHITE, DEFAULT_MODEL).model == DEFAULT_MODEL
    fitted = {paper: predict_layers(palette, stack, on=paper).coats[-1].lab for paper in (WHITE, CREAM)}
    assert fitted[CREAM] == usual[CREAM]
    assert fitted[WHITE][0] > usual[WHITE][0] + 1  # a smaller transfer: lighter second coats
    assert forget_calibration(own, "snow-gate smooth") == stored()
    assert not calibration_path(own).exists()
    assert predict_layers(palette, stack, on=WHITE).coats[-1].lab == usual[WHITE]
    assert forget_calibration(own, WHITE) is None


def test_a_new_fit_takes_the_place_of_the_old_and_leaves_the_rest_of_the_file(own):
    store_calibration(own, stored())
    file = calibration_path(own)
    file.write_text("# my own remark\n" + file.read_text() + '\n[mine]\nkept = "yes"\n')
    store_calibration(own, stored(CREAM))
    store_calibration(own, stored("SNOW GATE SMOOTH", InkModel(transfer=0.6)))
    assert [one.paper for one in read_calibrations(own)] == ["SNOW GATE SMOOTH", CREAM]
    assert stored_model(read_palette(own), WHITE) == InkModel(transfer=0.6)
    forget_calibration(own, CREAM)
    text = file.read_text()
    assert "# my own remark" in text
    assert 'kept = "yes"' in text
    assert [one.paper for one in read_calibrations(own)] == ["SNOW GATE SMOOTH"]


def test_two_writers_at_once_lose_nothing(own):
    papers = [f"card {number}" for number in range(12)]
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(lambda paper: store_calibration(own, stored(paper)), papers))
    assert sorted(one.paper for one in read_calibrations(own)) == sorted(papers)


def test_a_link_to_a_palette_finds_what_lies_beside_the_palette_itself(own, tmp_path):
    store_calibration(own, stored())
    link = tmp_path / "elsewhere" / "link.csv"
    link.parent.mkdir()
    link.symlink_to(own)
    assert ink_drawer(read_palette(link), WHITE).model == FITTED


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("[[paper]\n", "line 1"),
        ("paper = 3\n", "no list"),
        ('[[paper]]\ndate = "x"\n', "no name"),
        ('[[paper]]\nname = "Snow Gate smooth"\ntransfer = "much"\n', "transfer"),
        ('[[paper]]\nname = "Snow Gate smooth"\ntransfer = 7\n', "0.3 to 1"),
        ('[[paper]]\nname = "Snow Gate smooth"\ntransfer = nan\n', "0.3 to 1"),
        (b"\xff\xfe\x00", "codec"),
    ],
)
def test_a_damaged_file_is_refused_in_a_sentence_and_never_written_over(own, text, found):
    file = calibration_path(own)
    data = text if isinstance(text, bytes) else text.encode()
    file.write_bytes(data)
    for use in (
        lambda: ink_drawer(read_palette(own), WHITE),
        lambda: store_calibration(own, stored()),
        lambda: forget_calibration(own, WHITE),
    ):
        with pytest.raises(PaletteError, match=r"my-drawer\.ink\.toml") as caught:
            use()
        assert found in str(caught.value)
    assert file.read_bytes() == data


def test_a_drawer_without_a_fit_loads_nothing_for_it():
    code = (
        "import sys; from blendkit.palette import read_palette, demo_palette_path;"
        "from blendkit.inked import ink_drawer; ink_drawer(read_palette(demo_palette_path()));"
        "print([name for name in ('scipy', 'tomllib', 'tomlkit') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


# ---------------------------------------------------------------- the command


def test_the_demo_palette_is_never_written_beside(run, root):
    for arguments in ((), ("--palette", root / "palettes" / "hedgehog-lane.csv", "--yes")):
        code, out, err = run("calibrate", *arguments)
        assert code == 0
        assert "by the fit" in out
        assert "Nothing was written" in err
    assert not list((root / "palettes").glob("*.ink.toml"))


def test_the_command_shows_asks_writes_and_takes_back(run, own, monkeypatch):
    code, out, err = run("calibrate", "--palette", own, "--dry-run")
    assert code == 0
    assert not calibration_path(own).exists()
    monkeypatch.setattr("typer.confirm", lambda *words, **more: False)
    code, out, err = run("calibrate", "--palette", own)
    assert "Nothing was written" in err
    assert not calibration_path(own).exists()
    code, out, err = run("calibrate", "--palette", own, "--yes", "--date", "after the rain", "--json")
    assert code == 0
    answer = json.loads(out)
    assert (answer["schema"], answer["verdict"], answer["keep"]) == (1, "helps", True)
    assert answer["written"] == str(calibration_path(own))
    kept = read_calibrations(own)[0]
    assert (kept.paper, kept.date, kept.observations) == (WHITE, "after the rain", 22)
    assert kept.model.transfer == pytest.approx(answer["constants"][1]["after"], abs=1e-4)
    assert "after the rain" in run("check", own)[1]
    code, out, err = run("calibrate", "--palette", own, "--forget")
    assert code == 0
    assert "after the rain" in out
    assert "after the rain" not in run("check", own)[1]
    assert not calibration_path(own).exists()
    code, out, err = run("calibrate", "--palette", own, "--forget", "--json")
    assert code == 1
    assert json.loads(out)["forgotten"] is False


def test_too_few_ends_with_1_and_writes_nothing_even_when_forced(run, tmp_path):
    file = tmp_path / "small.csv"
    write_palette(file, drawer_of(TRUTH, 2))
    code, out, _ = run("calibrate", "--palette", file, "--yes", "--force")
    assert code == 1
    assert "Nothing was fitted" in out
    assert not calibration_path(file).exists()


def test_overlaps_of_a_table_reach_the_fit_and_faults_end_with_2(run, own, tmp_path):
    table = tmp_path / "overlaps.csv"
    table.write_text("under,over,L,a,b\nheather dawn,straw bale dawn,60,15,10\n")
    code, out, _ = run("calibrate", "--palette", own, "--overlaps", table, "--dry-run", "--json")
    assert code == 0
    assert json.loads(out)["stacks"][-1]["name"] == "straw bale dawn over heather dawn"
    table.write_text("under,over,L,a,b\nheather dusky,straw bale dawn,60,15,10\n")
    code, _, err = run("calibrate", "--palette", own, "--overlaps", table, "--dry-run")
    assert code == 2
    assert "line 2" in err


def test_boxes_of_one_marker_over_another_are_taken_from_a_scanned_chart(run, own, tmp_path):
    from PIL import Image
    from simulate import device, trial

    from blendkit.chart.chart import make_chart, write_chart

    palette = read_palette(own)
    chart = make_chart(
        palette, names=["heather dawn"], unders=["heather dawn"], overs=["glow worm", "duck pond dawn"]
    )
    write_chart(chart, tmp_path / "chart.pdf")
    made = trial.make_trial(
        np.random.default_rng(3), chart.spec, "white", seen_by=device.ideal(0.002), dpi=110
    )
    picture = tmp_path / "scan.png"
    Image.fromarray(made.picture.pixels).save(picture)
    code, out, err = run(
        "calibrate",
        "--palette",
        own,
        "--scan",
        picture,
        "--chart",
        tmp_path / "chart.chart.json",
        "--dry-run",
        "--json",
    )
    assert code == 0, err
    overlaps = [stack for stack in json.loads(out)["stacks"] if stack["kind"] == "overlap"]
    assert {tuple(stack["markers"]) for stack in overlaps} == {
        ("heather dawn", "glow worm"),
        ("heather dawn", "duck pond dawn"),
    }


# ---------------------------------------------------------------- the picture


def test_every_verdict_has_a_picture(demo_fit, tmp_path):
    few = calibrate.calibrate_ink(drawer_of(TRUTH, 2))
    no_help = calibrate.calibrate_ink(drawer_of(DEFAULT_MODEL, 4, noise=0.5))
    assert {demo_fit.verdict, few.verdict, no_help.verdict} == {"helps", "too few", "no help"}
    for record in (few, no_help):
        assert len(draw_report(record, "png")[0]) > 5000
    file = tmp_path / "report.html"
    write_report(demo_fit, file)
    text = file.read_text("utf-8")
    assert demo_fit.words[0] in text
    assert "2031-10-04" in text
