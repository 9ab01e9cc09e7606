"""Command plan: files, check, JSON, and a sentence with exit code 2 for every mistake."""

import json
import os
import re

import cv2
import numpy as np
import pytest
from PIL import Image

from blendkit.cli.app import main
from blendkit.project.reading import project_from_text


@pytest.fixture
def run(capsys, monkeypatch, tmp_path):
    """Run the command in a folder with a project of a ball and a box; give exit code, output and errors."""
    monkeypatch.delenv("BLENDKIT_PALETTE", raising=False)
    monkeypatch.setenv("COLUMNS", "140")
    monkeypatch.chdir(tmp_path)

    def call(*arguments):
        capsys.readouterr()
        try:
            main(["plan", *arguments])
            code = 0
        except SystemExit as stop:
            code = int(stop.code or 0)
        out = capsys.readouterr()
        return code, out.out, out.err

    return call


@pytest.fixture
def project(tmp_path):
    paper = np.full((400, 480), 255, np.uint8)
    cv2.circle(paper, (130, 200), 80, 0, 4, cv2.LINE_AA)
    cv2.rectangle(paper, (260, 112), (432, 288), 0, 4)
    Image.fromarray(paper).save(tmp_path / "ball.png")
    file = tmp_path / "project.toml"
    file.write_text(
        'image = "ball.png"\nwidth_mm = 60\npaper = "Snow Gate smooth"\n\n'
        '[[parts]]\nname = "ball"\nat = [16, 25]\nbase = "rosehip dawn"\nshadow = "rosehip noon"\n\n'
        '[[parts]]\nname = "box"\nat = [43, 25]\nbase = "blue jug dawn"\n'
    )
    return file


def listing(folder):
    return sorted(os.listdir(folder))


def test_a_plan_is_written_beside_the_project(run, project):
    code, out, err = run("project.toml")
    assert code == 0, err
    assert "rosehip dawn + rosehip noon" in out
    assert "Nothing would go wrong" in out
    stem = project.parent.name
    assert listing(project.parent / "plan") == [
        f"{stem}-{name}" for name in ("class.pdf", "cut.pdf", "cut.svg", "plan.pdf", "preview.png")
    ]
    assert err.count("Wrote ") == 5


def test_what_and_how_it_is_written_can_be_chosen(run, project, tmp_path):
    code, _, _ = run("project.toml", "--only", "cut", "--format", "png", "--to", "out", "--page", "Letter")
    assert code == 0
    stem = project.parent.name
    assert listing(tmp_path / "out") == [f"{stem}-cut.png", f"{stem}-cut.svg"]


def test_json_holds_the_plan_its_cut_line_and_the_files(run, project):
    code, out, _ = run("project.toml", "--json", "--only", "cut")
    assert code == 0
    data = json.loads(out)
    assert data["schema"] == 1
    assert [part["name"] for part in data["parts"]] == ["ball", "box"]
    assert data["cut_line"]["rim_mm"] == 2.0
    assert all(os.path.isfile(file) for file in data["files"])


def test_a_check_of_a_sound_plan_ends_with_0_and_writes_nothing(run, project, tmp_path):
    before = listing(tmp_path)
    code, out, _ = run("project.toml", "--check")
    assert (code, "Nothing would go wrong" in out) == (0, True)
    assert listing(tmp_path) == before


def test_a_check_that_finds_a_fault_ends_with_1(run, project):
    project.write_text(project.read_text().replace("rosehip noon", "rose bowl dawn"))
    code, out, _ = run("project.toml", "--check")
    assert code == 1
    assert "is not darker than" in out
    code, out, _ = run("project.toml", "--check", "--json")
    assert code == 1
    finding = json.loads(out)["findings"][0]
    assert (finding["level"], finding["topic"], finding["where"]) == ("fault", "too close", "ball")


def test_a_plan_with_a_fault_is_drawn_and_says_so(run, project):
    project.write_text(project.read_text().replace("rosehip noon", "rose bowl dawn"))
    code, out, _ = run("project.toml", "--only", "preview")
    assert code == 0
    assert "1 thing would go wrong" in out


@pytest.mark.parametrize("check", [(), ("--check",)])
def test_names_that_are_not_there_end_with_2(run, project, tmp_path, check):
    project.write_text(
        project.read_text().replace("rosehip noon", "rosehip moon").replace("[43, 25]", "[43, 25.5]")
    )
    before = listing(tmp_path)
    code, out, err = run("project.toml", *check)
    assert code == 2
    assert "rosehip moon" in out + err
    assert "rosehip noon" in out + err  # the nearest name
    assert listing(tmp_path) == before


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("[43, 25]", "[43, 3]", "part box, at: found [43, 3], the paper around the figure"),
        ("[43, 25]", "[143, 3]", "beyond the image"),
        ('"ball.png"', '"bull.png"', "bull.png"),
        ("[43, 25]", "[16, 25]", "part ball's already"),
        ("width_mm = 60", "width_mm = -60", "width_mm: found -60"),
        ('name = "box"', 'name = "box"\ncolour = "red"', "the key “colour”"),
        ("[[parts]]", "[[parts]", "line"),
    ],
)
def test_bad_input_is_told_with_its_place_and_ends_with_2(run, project, tmp_path, old, new, words):
    project.write_text(project.read_text().replace(old, new))
    before = listing(tmp_path)
    for more in ((), ("--check",)):
        code, _, err = run("project.toml", *more)
        assert code == 2
        assert words in err
        assert "Traceback" not in err
    assert listing(tmp_path) == before


@pytest.mark.parametrize("more", [(), ("--check",)])
def test_keys_markers_and_places_are_told_in_one_round(run, project, tmp_path, more):
    text = project.read_text().replace("rosehip noon", "rosehip moon").replace("[43, 25]", "[43, 3]")
    project.write_text(text + 'colour = "red"\n')
    code, _, err = run("project.toml", *more)
    assert code == 2
    assert "project.toml has 3 things to mend" in err
    line = len(text.splitlines()) + 1
    for words in (
        f"line {line}, part 2 (box): found the key “colour”",
        "part ball, shadow: found 'rosehip moon'",
        "part box, at: found [43, 3], the paper around the figure",
    ):
        assert err.count(words) == 1, (words, err)
    assert err.count("invented demo palette") <= 1


@pytest.mark.parametrize("name", ["none.toml", "ball.png", "."])
def test_what_is_no_project_file_ends_with_2(run, project, name):
    code, _, err = run(name)
    assert code == 2
    assert name in err


@pytest.mark.parametrize("option", [("--page", "A0"), ("--only", "poster"), ("--format", "doc")])
def test_an_unknown_choice_names_those_that_are_accepted(run, project, option):
    code, _, err = run("project.toml", *option)
    assert code == 2
    assert "accepted" in err


def test_a_folder_that_cannot_be_made_ends_with_2(run, project, tmp_path):
    (tmp_path / "plan").write_text("a file in the way")
    code, _, err = run("project.toml", "--only", "preview")
    assert code == 2
    assert "can't be written" in err


def test_the_projects_own_palette_is_used_unless_another_is_named(run, project, root):
    palettes = root / "palettes"
    project.write_text(f'palette = "{palettes / "hedgehog-lane.csv"}"\n' + project.read_text())
    code, _, err = run("project.toml", "--check")
    assert (code, err) == (0, "")
    code, out, _ = run("project.toml", "--check", "--palette", str(palettes / "first-box.csv"))
    assert code == 2
    assert "rosehip" in out


def test_the_map_of_areas_is_written(run, project, tmp_path):
    code, _, err = run("project.toml", "--areas", "areas.png")
    assert code == 0
    assert "Wrote areas.png" in err
    assert (tmp_path / "areas.png").is_file()


def test_a_project_is_begun_from_a_picture_and_not_over_another(run, project, tmp_path):
    code, _, err = run("ball.png", "--start", "new.toml")
    assert code == 0, err
    text = (tmp_path / "new.toml").read_text()
    assert 'image = "ball.png"' in text
    for told in (text, err):
        assert "300 dpi was assumed" in told
        assert "every area with its number: blendkit plan new.toml --areas areas.pdf" in told
    for key in ("palette", "paper", "light", "outline"):
        assert f"# {key} = " in text
    uncommented = text.replace("# [greeting]", "[greeting]")
    for key in ("words", "ink", "size_pt", "palette", "paper", "light", "outline"):
        uncommented = uncommented.replace(f"# {key} = ", f"{key} = ")
    read = project_from_text(uncommented)
    assert (read.light, read.greeting.words, read.width_mm) == ("10:30", "With love", 40.6)
    before = project.read_text()
    code, _, err = run("ball.png", "--start", "project.toml")
    assert code == 2
    assert project.read_text() == before


def test_text_fronts_palette_and_image_are_told_in_one_round(run, project, tmp_path):
    """A line that TOML refuses hides nothing that stands beside it, nor does a palette that is not there."""
    text = project.read_text()
    fronts = 'fronts = [["ball", "nobody"], ["ball", [1.0, 1.0]]]\n'
    project.write_text(f'light = 25:00\npalette = "none.csv"\n{fronts}colour = "red"\n{text}')
    code, out, err = run("project.toml", "--to", "out")
    assert (code, out) == (2, "")
    for words in (
        "line 1, column 13: found Invalid time, about “light = 25:00”",
        "fronts, entry 1: found 'nobody'",
        "fronts, entry 2: found [1, 1], the paper around the figure",
        "line 4: found the key “colour”",
        "project.toml, palette: found",
    ):
        assert err.count(words) == 1, (words, err)
    assert "has 5 things to mend" in err
    assert not (tmp_path / "out").exists()


def test_a_missing_image_hides_no_unknown_marker(run, project):
    text = project.read_text().replace("ball.png", "none.png").replace('"rosehip dawn"', '"rosehip moon"')
    project.write_text(text)
    code, _, err = run("project.toml", "--check")
    assert code == 2
    assert "none.png" in err
    assert "found 'rosehip moon'" in err


def test_a_key_whose_line_can_not_be_read_is_not_said_to_be_missing(run, project):
    project.write_text(project.read_text().replace('image = "ball.png"', 'image = "ball.png'))
    _, _, err = run("project.toml", "--check")
    assert 'a quote that is not closed, about “image = "ball.png”' in err
    assert "found nothing" not in err


def test_a_class_counts_its_seats_and_writes_the_class_set(run, project, tmp_path):
    code, _, err = run("project.toml", "--class", "12", "--black", "--to", "out")
    assert code == 0, err
    assert listing(tmp_path / "out") == [f"{project.parent.name}-class.pdf"]
    _, out, _ = run("project.toml", "--class", "12", "--to", "out")
    assert re.search(r"For 12 seats lay out 3 sets of (\d+) markers, \d+ in all", " ".join(out.split()))
    assert "Snow Gate smooth: 1 sheet of A4" in out
    code, out, _ = run("project.toml", "--class", "12", "--only", "cut", "--json", "--to", "out")
    data = json.loads(out)
    assert data["copies"] == 12
    assert [one["count"] for one in data["layers"]] == [12]
    assert data["cuts"][0]["cutting"]["proven"]


@pytest.mark.parametrize(("key", "accepted"), [("units", "mm, inch"), ("sheet", "A4, Letter, 12 x 12 in")])
def test_units_and_sheet_are_chosen_in_the_project(run, project, key, accepted):
    project.write_text(f'{key} = "furlong"\n{project.read_text()}')
    code, _, err = run("project.toml", "--check")
    assert code == 2
    assert f"{key}: found 'furlong'; accepted: {accepted}" in err
