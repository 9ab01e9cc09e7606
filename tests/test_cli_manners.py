"""How the command line ends: closed and full outputs, faults of its own, errors without end, stops."""

import os
import signal
import subprocess
import sys
import time

import pytest

from blendkit.errors import PaletteError, Problem

COMMAND = [sys.executable, "-m", "blendkit"]


def test_an_answer_that_nobody_reads_on_is_no_error():
    listen, said = os.pipe()
    os.close(listen)
    run = subprocess.run([*COMMAND, "check"], stdout=said, stderr=subprocess.PIPE, text=True, check=False)
    os.close(said)
    assert run.returncode == 0
    assert "rror" not in run.stderr


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="no full device on this system")
def test_a_full_output_is_said_in_a_sentence():
    for more in ([], ["--json"]):
        with open("/dev/full", "w") as full:
            run = subprocess.run(
                [*COMMAND, "check", *more], stdout=full, stderr=subprocess.PIPE, text=True, check=False
            )
        assert run.returncode == 2
        assert "can't be written" in run.stderr
        assert "Traceback" not in run.stderr


def test_a_fault_of_the_program_exits_with_70_and_says_what_to_send():
    code = (
        "import blendkit.cli.app as app, blendkit.cli.advice as advice\n"
        "def broken(*_, **__): raise ZeroDivisionError('none')\n"
        "advice.open_palette = broken\n"
        "app.main(['check'])\n"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert run.returncode == 70
    assert "Please send" in run.stderr
    assert "ZeroDivisionError: none" in run.stderr
    assert len(run.stderr.splitlines()) == 1


def test_a_broken_plotting_variable_changes_nothing(tmp_path):
    run = subprocess.run(
        [*COMMAND, "pair", "moss stone noon", "--report", str(tmp_path / "pair.svg")],
        capture_output=True,
        text=True,
        check=False,
        env=os.environ | {"MPLBACKEND": "module://no.such"},
    )
    assert run.returncode == 0, run.stderr
    assert (tmp_path / "pair.svg").exists()


def test_a_stop_says_what_is_true():
    code = (
        "import blendkit.cli.app as app, blendkit.cli.advice as advice, time\n"
        "def slow(*_, **__): print('begun', flush=True); time.sleep(30)\n"
        "advice.open_palette = slow\n"
        "app.main(['check'])\n"
    )
    run = subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    assert run.stdout.readline() == "begun\n"
    time.sleep(0.2)
    run.send_signal(signal.SIGINT)
    _, told = run.communicate(timeout=30)
    assert run.returncode == 130
    assert "Each file is whole" in told


def test_a_long_list_of_errors_shows_twenty_and_how_many_more():
    error = PaletteError("Much is wrong.", [Problem(f"line {n}", "x", "y") for n in range(57)])
    assert len(str(error).splitlines()) == 22
    assert str(error).endswith("and 37 more")
    assert len(error.problems) == 57


def test_a_palette_of_700_000_rows_is_refused(tmp_path):
    from blendkit.palette import read_palette

    path = tmp_path / "drawer.csv"
    path.write_text("name,kind,hex\n" + "".join(f"m{n},marker,#abc\n" for n in range(700_000)))
    with pytest.raises(PaletteError, match=r"too (long|large)"):
        read_palette(path)
