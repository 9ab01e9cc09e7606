"""The desk's state: the file on disk, edits, undo, and other writers."""

import shutil
import threading
from contextlib import closing
from dataclasses import replace

import numpy as np
import pytest

from blendkit.desk.looks import version_rows
from blendkit.desk.project_desk import Desk
from blendkit.desk.session import EMPTY_VERSION, UNDO_STEPS, Changed
from blendkit.errors import PaletteError
from blendkit.ink import DEFAULT_MODEL
from blendkit.palette import (
    demo_palette_path,
    list_versions,
    read_palette,
    reading_from_hex,
    update_palette,
)
from blendkit.palette.calibration_file import StoredCalibration, forget_calibration, store_calibration


@pytest.fixture
def desk(tmp_path):
    shutil.copy(demo_palette_path("first-box"), tmp_path / "mine.csv")
    opened = Desk(tmp_path / "mine.csv")
    yield opened
    opened.close()


def adding(name, colour="#884422"):
    return lambda palette: palette.with_marker(name, reading_from_hex(colour))


def test_a_change_by_another_program_is_seen(desk):
    """The palette is read again when the file has changed, and has another version."""
    before, _ = desk.current()
    update_palette(desk.palette_path, adding("from elsewhere"))
    after, palette = desk.current()
    assert after != before
    assert palette.marker("from elsewhere")


def test_a_file_that_is_only_touched_is_not_another_version(desk):
    """The version is that of the contents."""
    before, palette = desk.current()
    desk.palette_path.touch()
    assert desk.current() == (before, palette)


def test_the_drawer_on_a_paper_is_kept_until_the_file_changes(desk):
    """The same arrays are given again for the same file and paper, others for another paper or file."""
    first = desk.inked()
    assert desk.inked() is first
    assert desk.inked("Cream Jug") is not first
    desk.edit("add", adding("new"))
    assert len(desk.inked().markers) == len(first.markers) + 1


def test_the_drawer_on_a_paper_follows_the_constants_fitted_for_it(desk):
    """Fitted while the desk is open they are taken up, forgotten they are dropped; undo isn't stopped."""
    plain = desk.inked()
    palette = desk.palette()
    desk.edit("add", adding("new"))
    before, _ = desk.current()
    fitted = replace(DEFAULT_MODEL, transfer=0.7)
    store_calibration(desk.palette_path, StoredCalibration(plain.paper.name, fitted, "2026-05-02", 12, 4))
    assert desk.current()[0] != before
    assert desk.inked().model == fitted
    assert desk.inked() is desk.inked()
    assert desk.remember(("answer",), lambda: "with fitted") == "with fitted"
    assert desk.undo() == "add"
    assert desk.palette().names == palette.names
    assert desk.inked().model == fitted
    forget_calibration(desk.palette_path, plain.paper.name)
    assert desk.inked().model == DEFAULT_MODEL
    assert desk.remember(("answer",), lambda: "without") == "without"


def test_an_edit_can_be_taken_back_and_done_again(desk):
    """Undo gives the very bytes of before, redo those of after."""
    before = desk.palette_path.read_bytes()
    desk.edit("add one", adding("one"))
    after = desk.palette_path.read_bytes()
    assert desk.undo() == "add one"
    assert desk.palette_path.read_bytes() == before
    assert desk.redo() == "add one"
    assert desk.palette_path.read_bytes() == after


def test_several_edits_are_taken_back_one_by_one(desk):
    """Down to the first, then there is nothing more."""
    before = desk.palette_path.read_bytes()
    for number in range(UNDO_STEPS):
        desk.edit(f"add {number}", adding(f"m{number}"))
    for number in reversed(range(UNDO_STEPS)):
        assert desk.undo() == f"add {number}"
    assert desk.palette_path.read_bytes() == before
    with pytest.raises(PaletteError, match="nothing"):
        desk.undo()


def test_a_new_edit_ends_what_could_be_done_again(desk):
    """After another change there is no redo."""
    desk.edit("one", adding("one"))
    desk.undo()
    desk.edit("two", adding("two"))
    assert desk.steps.redo_words == ""


def test_undo_refuses_when_another_program_wrote_since(desk):
    """What the other wrote isn't lost to our undo."""
    desk.edit("mine", adding("mine"))
    update_palette(desk.palette_path, adding("theirs"))
    with pytest.raises(Changed, match="elsewhere"):
        desk.undo()
    palette = read_palette(desk.palette_path)
    assert palette.marker("mine")
    assert palette.marker("theirs")


def test_an_edit_that_changes_nothing_leaves_no_step(desk):
    """Neither a version nor an undo."""
    desk.edit("nothing", lambda palette: palette)
    assert desk.steps.undo_words == ""
    assert not list_versions(desk.palette_path)


def test_an_earlier_version_can_be_put_back_and_that_taken_back(desk):
    """Putting back is an edit like any other."""
    desk.edit("one", adding("one"))
    desk.edit("two", adding("two"))
    latest = desk.palette_path.read_bytes()
    oldest = list_versions(desk.palette_path)[-1]
    desk.restore(oldest.name)
    assert "one" not in desk.palette().names
    desk.undo()
    assert desk.palette_path.read_bytes() == latest


def test_the_first_edit_makes_the_file(tmp_path):
    """An empty drawer is a file that isn't there yet; its folder is made too, and the edit can be taken back."""
    desk = Desk(tmp_path / "new" / "drawer.csv")
    try:
        assert desk.current()[0] == EMPTY_VERSION
        assert not desk.palette().items
        desk.edit("add", adding("first"))
        assert read_palette(tmp_path / "new" / "drawer.csv").marker("first")
        desk.undo()
        assert not desk.palette().items
    finally:
        desk.close()


def test_the_packaged_demo_stays_as_it_is():
    """It is refused with what to do instead."""
    desk = Desk(demo_palette_path())
    try:
        with pytest.raises(PaletteError, match="--palette"):
            desk.edit("add", adding("x"))
    finally:
        desk.close()


def test_edits_from_many_sides_at_once_lose_nothing(desk):
    """Two desks on one file and a program beside them, all writing at once: every marker is there."""
    other = Desk(desk.palette_path)
    names = [f"{side} {number}" for side in ("here", "there", "beside") for number in range(6)]

    def write(side, edit):
        for number in range(6):
            edit(f"{side} {number}")

    try:
        threads = [
            threading.Thread(target=write, args=("here", lambda name: desk.edit(name, adding(name)))),
            threading.Thread(target=write, args=("there", lambda name: other.edit(name, adding(name)))),
            threading.Thread(
                target=write, args=("beside", lambda name: update_palette(desk.palette_path, adding(name)))
            ),
        ]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    finally:
        other.close()
    assert set(names) <= set(read_palette(desk.palette_path).names)
    assert set(names) <= set(desk.palette().names)


def test_an_answer_is_remembered_until_the_palette_changes(desk):
    """What takes long is computed once for each state of the file."""
    calls = []
    assert desk.remember(("key",), lambda: calls.append(1) or "answer") == "answer"
    assert desk.remember(("key",), lambda: calls.append(1) or "other") == "answer"
    desk.edit("add", adding("one"))
    assert desk.remember(("key",), lambda: calls.append(1) or "newer") == "newer"
    assert len(calls) == 2


def test_a_file_that_becomes_unreadable_is_said_so(desk):
    """A palette spoilt by an editor is a mistake in words, and mending it is enough."""
    good = desk.palette_path.read_bytes()
    desk.palette_path.write_bytes(b"name,kind,hex\nx,marker,#zzzzzz\n")
    with pytest.raises(PaletteError):
        desk.palette()
    desk.palette_path.write_bytes(good)
    assert np.all(desk.inked().lab[:, 0] > 0)


def test_undo_and_the_words_of_versions_outlive_the_desk(desk):
    """A desk that is opened anew takes back what an earlier one did, and says what each version came after."""
    before = desk.palette_path.read_bytes()
    desk.edit("3 readings from Harvest card", adding("one"))
    desk.edit("add two", adding("two"))
    desk.undo()
    with closing(Desk(desk.palette_path)) as again:
        assert (again.steps.undo_words, again.steps.redo_words) == ("3 readings from Harvest card", "add two")
        again.redo()
        rows = version_rows(again.palette_path, again.steps)
        assert "3 readings from Harvest card" in [row["after"] for row in rows]
        again.undo()
        again.undo()
        assert desk.palette_path.read_bytes() == before


def test_undo_that_another_program_overtook_is_forgotten_by_the_next_desk(desk):
    """It could only be refused."""
    desk.edit("mine", adding("mine"))
    update_palette(desk.palette_path, adding("theirs"))
    with closing(Desk(desk.palette_path)) as again:
        assert again.steps.undo_words == ""
