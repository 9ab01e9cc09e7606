"""The command line: help, examples, JSON, exit codes, sentences for every mistake."""

import json
import re
import shlex
import shutil
import subprocess
import sys

import pytest

from blendkit.cli.app import COMMANDS, command_named

MISTAKE, NOTHING_FITS = 2, 1


def example_of(name):
    found = re.search(r"Example:\s+blendkit (.+)", command_named(name).help or "")
    return found.group(1).strip() if found else None


@pytest.fixture
def workshop(tmp_path, monkeypatch, root):
    """A folder in which every example runs: the palettes and examples of the project beside it."""
    (tmp_path / "palettes").symlink_to(root / "palettes")
    (tmp_path / "examples").symlink_to(root / "examples")
    shutil.copy(root / "palettes" / "first-box.csv", tmp_path / "my-drawer.csv")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_an_example_in_its_help(name):
    assert example_of(name)


def test_the_command_that_the_first_help_page_starts_with_runs(run):
    _, out, _ = run("--help")
    found = re.search(r"Start with:\s+blendkit (pair \".+?\")", " ".join(out.split()))
    assert found
    code, _, err = run(*shlex.split(found.group(1)))
    assert code == 0, err


RUN_ELSEWHERE = {"desk", "scan"}
"""Examples that need a browser or a coloured page; test_desk.py and test_scan_cli.py run these commands."""


@pytest.mark.parametrize("name", [name for name in COMMANDS if name not in RUN_ELSEWHERE])
def test_the_example_in_the_help_runs(name, run, workshop):
    code, out, err = run(*shlex.split(example_of(name)))
    assert code == 0, err
    assert out.strip()


@pytest.mark.parametrize(
    ("arguments", "key"),
    [
        (["pair", "moss stone noon"], "shadow"),
        (["order", "moss stone dawn"], "steps"),
        (["layer", "moss stone dawn"], "coats"),
        (["match", "moss stone noon"], "matches"),
        (["papers", "moss stone noon"], "schemes"),
        (["check"], "counts"),
        (["gaps"], "wanted"),
        (["doubles"], "doubles"),
        (["kit", "moss stone noon"], "markers"),
        (["skin"], "sets"),
    ],
)
def test_json_is_one_object_of_schema_1_and_nothing_else(run, arguments, key):
    code, out, err = run(*arguments, "--json")
    assert code == 0
    answer = json.loads(out)
    assert answer["schema"] == 1
    assert key in answer
    assert "demo palette" in err


def test_without_a_palette_the_answer_says_that_it_is_of_the_demo(run):
    _, out, err = run("pair", "moss stone noon")
    assert "demo palette" in err
    assert "moss stone dusk" in out or "moss stone noon" in out


def test_the_variable_names_a_palette_as_the_option_does(run, monkeypatch, root):
    file = root / "palettes" / "first-box.csv"
    by_option = run("check", "--palette", str(file))
    monkeypatch.setenv("BLENDKIT_PALETTE", str(file))
    assert run("check") == by_option
    assert "demo" not in by_option[2]


def test_nothing_fitting_ends_with_1_and_the_nearest_miss(run, tmp_path):
    file = tmp_path / "one.csv"
    file.write_text("name,kind,L,a,b\nwhite,paper,95,0,0\nleaf,marker,60,-30,40\n")
    code, out, _ = run("pair", "lab(12 40 -50)", "--palette", str(file))
    assert code == NOTHING_FITS
    assert "Nothing" in out
    code, out, _ = run("match", "lab(50 80 -60)", "--palette", str(file))
    assert code == NOTHING_FITS
    assert "nearest miss" in out


@pytest.mark.parametrize(
    "arguments",
    [
        ["pair", "mos stone noon"],
        ["pair", "#12345"],
        ["pair", "lab(150 0 0)"],
        ["pair", "moss stone noon", "--lean", "sideways"],
        ["pair", "moss stone noon", "--window", "30", "10"],
        ["pair", "moss stone noon", "--on", "no such card"],
        ["pair", "moss stone noon", "--palette", "no-such-file.csv"],
        ["pair", "moss stone noon", "--palette", "/"],
        ["pair", "moss stone noon", "--report", "report.docx"],
        ["order", "moss stone noon", "--style", "sideways"],
        ["layer", "Kraft parcel"],
        ["match", "moss stone noon", "--kind", "fabric"],
        ["papers", "moss stone noon", "--relation", "opposite"],
        ["skin", "--ita", "120"],
        ["kit"],
        ["doubles", "--threshold", "0"],
        ["chart", "--box", "big"],
        ["chart", "--blend", "only-one"],
        ["scan", "no-such-photo.jpg"],
        ["photo", "no-such-photo.jpg"],
        ["convert", "no-such-file.gpl", "out.csv"],
        ["nonsense"],
        ["pair"],
    ],
)
def test_a_mistake_ends_with_2_a_sentence_and_no_traceback(run, arguments, workshop):
    code, out, err = run(*arguments)
    assert code == MISTAKE
    assert err.strip()
    assert "Traceback" not in err + out


def test_every_bad_row_of_a_palette_is_reported_together(run, tmp_path):
    file = tmp_path / "bad.csv"
    file.write_text("name,kind,L,a,b\none,marker,140,0,0\ntwo,markre,50,0,0\nthree,marker,50,,0\n")
    code, _, err = run("check", str(file))
    assert code == MISTAKE
    for found in ("140", "markre", "line 2", "line 3", "line 4, column a"):
        assert found in err


def test_names_complete_without_quotes(root):
    """Typer completes by these functions; hyphens stand for spaces when the name is read."""
    from types import SimpleNamespace

    from blendkit.cli.options import complete_markers, complete_names, complete_papers

    ctx = SimpleNamespace(params={"palette": root / "palettes" / "first-box.csv"})
    assert "rosehip-dawn" in complete_markers(ctx, "rose")
    assert "rosehip dawn" in complete_names(ctx, "rosehip d")
    assert complete_papers(ctx, "")
    assert "kraft-parcel" in complete_papers(ctx, "kra")
    assert complete_names(SimpleNamespace(params={"palette": "/no/such.csv"}), "x") == []


def test_a_completed_name_is_understood(run, root):
    code, _, err = run("pair", "rosehip-dawn", "--palette", str(root / "palettes" / "hedgehog-lane.csv"))
    assert code == 0, err


@pytest.mark.parametrize("width", ["40", "60", "200"])
def test_narrow_and_wide_terminals_get_whole_answers(run, monkeypatch, width):
    monkeypatch.setenv("COLUMNS", width)
    code, out, _ = run("match", "moss stone noon")
    assert code == 0
    assert all(len(line) <= int(width) for line in out.splitlines())
    assert "Moss card" in out.replace("\n", "") or "Moss" in out


def test_long_names_are_broken_not_cut_where_the_terminal_is_narrow(run, monkeypatch):
    monkeypatch.setenv("COLUMNS", "60")
    _, out, _ = run("papers", "rosehip noon", "hedge leaf noon", "--json")
    names = {
        scheme[role]["name"] for scheme in json.loads(out)["schemes"] for role in ("base", "mat", "accent")
    }
    code, out, _ = run("papers", "rosehip noon", "hedge leaf noon")
    assert code == 0
    assert all(len(line) <= 60 for line in out.splitlines())
    for word in {word for name in names for word in name.split()}:
        assert word in out, word


def test_without_colour_no_blank_swatches_are_printed(run, monkeypatch):
    monkeypatch.setenv("NO_COLOR", "1")
    _, out, _ = run("pair", "moss stone noon")
    assert "blend" not in out.splitlines()[4]
    assert "olive" in out  # the colour's name stands where its swatch can't


def test_a_side_without_companions_says_none(run):
    _, out, _ = run("pair", "#000000")
    assert "Shadows: none" in out


def test_the_module_runs_and_tells_its_version():
    import blendkit

    shown = subprocess.run(
        [sys.executable, "-m", "blendkit", "--version"], capture_output=True, text=True, check=True
    ).stdout
    assert shown.strip() == f"blendkit {blendkit.__version__}"


def test_a_report_is_written_in_each_form_and_twice_alike(run, tmp_path):
    first = {}
    for ending in ("html", "png", "pdf"):
        file = tmp_path / f"report.{ending}"
        for _ in range(2):
            code, _, err = run("pair", "moss stone noon", "--report", str(file))
            assert code == 0, err
            data = file.read_bytes()
            assert first.setdefault(ending, data) == data
    assert first["png"].startswith(b"\x89PNG")
    assert first["pdf"].startswith(b"%PDF")
    assert b"<html" in first["html"]
    assert b"http" not in first["html"]


def test_short_commands_import_nothing_heavy():
    """What costs more than an answer: plotting, vision, science libraries."""
    code = (
        "import sys; from blendkit.cli.app import main\n"
        "try: main(['pair', 'moss stone noon', '--json'])\n"
        "except SystemExit: pass\n"
        "heavy = {'matplotlib', 'scipy', 'cv2', 'skimage', 'PIL', 'typst', 'colour', 'coloraide', 'starlette'}\n"
        "print(sorted(heavy & set(sys.modules)), file=sys.stderr)"
    )
    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert shown.stderr.strip().splitlines()[-1] == "[]"


@pytest.mark.parametrize(
    ("arguments", "quoted"),
    [
        (["pair", "rosehip", "dawn"], '"rosehip dawn"'),
        (["match", "moss", "stone", "noon", "--kind", "paper"], '"moss stone noon"'),
        (["order", "rosehip", "dawn", "rosehip noon"], '"rosehip dawn"'),
        (["papers", "rosehip", "noon"], '"rosehip noon"'),
        (["plan", "my", "plan.toml"], '"my plan.toml"'),
    ],
)
def test_a_name_typed_without_quotes_is_shown_with_them(run, arguments, quoted):
    code, _, err = run(*arguments)
    assert code == MISTAKE
    told = " ".join(err.replace("│", " ").split())
    assert f"Put a name of several words in quotes: {quoted}" in told


def test_a_name_that_is_wrong_in_itself_is_not_blamed_on_quotes(run):
    _, _, err = run("pair", "rosehip moon")
    assert "quotes" not in err


def test_schemes_that_all_pass_are_said_to_once(run):
    _, out, _ = run("papers", "rosehip noon", "hedge leaf noon", "hedgehog quill dawn")
    assert out.count("pass") == 1
    assert "All pass every check." in out


def test_a_fit_is_told_in_words_and_its_figures_behind_their_option(run):
    _, plain, _ = run("calibrate", "--dry-run")
    _, numbers, _ = run("calibrate", "--dry-run", "--numbers")
    for word in ("surface_share", "CIEDE2000", "constants"):
        assert word not in plain
        assert word in numbers
    assert "So the fit helps" in plain
    assert "very close" in plain


def test_numbers_stand_behind_their_option(run):
    for command in (["pair", "moss stone noon"], ["match", "#4b4b26"], ["skin"], ["gaps"], ["doubles"]):
        _, plain, _ = run(*command)
        for symbol in ("ΔE", "L*", "ITA", "LED-B3", "Lab "):
            assert symbol not in plain, (command, symbol)
    _, numbers, _ = run("pair", "moss stone noon", "--numbers")
    assert "score" in numbers
    assert "Lab " in numbers


def test_a_typed_colour_is_told_which_marker_it_nearly_is(run, demo):
    near = demo.marker("moss stone noon").lab
    _, out, _ = run("pair", "lab({:.1f} {:.1f} {:.1f})".format(*near))
    assert "comes nearest to your moss stone noon" in out
    _, out, _ = run("pair", "#00ff40")
    assert "No marker of yours comes near" in " ".join(out.split())


def test_what_is_left_out_is_not_proposed(run):
    _, out, _ = run("pair", "moss stone noon")
    assert "moss stone dusk" in out
    _, out, _ = run("pair", "moss stone noon", "--without", "moss-stone-dusk")
    assert "moss stone dusk" not in out
    _, out, _ = run("papers", "rosehip noon", "--base", "Kraft pale", "--mat", "Milk Lane soft")
    assert "Milk Lane soft" in out


def test_a_colour_of_a_photo_is_put_into_a_drawer(run, tmp_path, root):
    import shutil

    from blendkit.palette import read_palette

    mine = tmp_path / "mine.csv"
    shutil.copy(root / "palettes" / "first-box.csv", mine)
    photo = str(root / "examples" / "photo" / "harvest_table.jpg")
    code, _, err = run("photo", photo, "--add", "3=pumpkin skin", "--add-as", "paper", "--into", str(mine))
    assert code == 0, err
    assert read_palette(mine).paper("pumpkin skin").reading.setup.startswith("photo")
    code, _, err = run("photo", photo, "--add", "99=none", "--into", str(mine))
    assert code == MISTAKE
    assert "There is no colour 99" in err


def test_rows_of_a_foreign_file_are_what_the_user_says(run, tmp_path):
    from blendkit.palette import read_palette

    source = tmp_path / "box.gpl"
    source.write_text(
        "GIMP Palette\nName: box\n#\n200 80 60\tember\n180 150 110\tKraft one\n30 30 30\tsoot\n"
    )
    out = tmp_path / "box.csv"
    code, _, err = run("convert", str(source), str(out), "--row", "kraft*=paper", "--row", "soot=ink")
    assert code == 0, err
    palette = read_palette(out)
    assert [item.kind for item in palette.items] == ["marker", "paper", "ink"]
    code, _, err = run("convert", str(source), str(tmp_path / "b.csv"), "--row", "soot")
    assert code == MISTAKE


@pytest.mark.parametrize("width", ["38", "60", "120"])
def test_a_narrow_terminal_loses_no_column(run, monkeypatch, width):
    monkeypatch.setenv("COLUMNS", width)
    _, out, _ = run("papers", "rosehip noon", "--count", "2")
    flat = " ".join(out.split())
    for word in ("base", "mat", "accent", "greeting"):
        assert word in flat


def test_one_reason_for_many_rows_is_printed_once(run):
    _, out, _ = run("match", "#00ff40", "--kind", "ribbon")
    assert " ".join(out.split()).count("two different colours.") == 1


def test_a_paper_is_said_to_be_no_marker_and_a_ribbon_to_be_unknown(run):
    _, out, _ = run("pair", "Kraft pale")
    assert " ".join(out.split()).count("no marker") == 1
    _, out, _ = run("pair", "rosehip dawn", "--on", "Rosehip satin")
    assert "ribbon" in out.casefold()
