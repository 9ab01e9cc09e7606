"""Saves of every kind under faults of the disk at every step, kills at every step, and inputs without end."""

import errno
import os
import re
from dataclasses import replace

import pytest

from blendkit import files
from blendkit.errors import BlendkitError, PaletteError
from blendkit.files import list_versions, locked, read_json, read_whole, replace_files, replace_keeping
from blendkit.palette import read_history, reading_from_hex, update_palette

START = "name,kind,hex\nSnow,paper,#fdfdfd\nmoss,marker,#667744\n"
STEPS = ("open", "fsync", "replace", "chmod", "chown", "unlink", "truncate", "mkdir", "close")
ERRORS = (errno.EIO, errno.ENOSPC, errno.EINVAL, errno.EXDEV, errno.EPERM)


class Steps:
    """Counts the system calls of a save, and does something at one of them."""

    def __init__(self, monkeypatch, at=-1, act=None):
        self.count, self.at, self.act = 0, at, act
        for name in STEPS:
            monkeypatch.setattr(os, name, self.watched(getattr(os, name)))
        steps = self

        class Stream:
            def __init__(self, stream):
                self.stream = stream

            def __enter__(self):
                return self

            def __exit__(self, *_):
                self.stream.close()

            def __getattr__(self, name):
                return getattr(self.stream, name)

            def write(self, data):
                self.stream.write(data[: len(data) // 2])
                self.stream.flush()
                steps.step()
                self.stream.write(data[len(data) // 2 :])

        def opened(file, mode):
            stream = open(file, mode)  # noqa: SIM115
            return stream if mode == "rb" else Stream(stream)

        monkeypatch.setattr(files, "open", opened, raising=False)

    def step(self):
        self.count += 1
        if self.count - 1 == self.at:
            self.act()

    def watched(self, real):
        def call(*args, **more):
            self.step()
            return real(*args, **more)

        return call


def _palette(folder):
    path = folder / "drawer.csv"
    path.write_text(START)
    for colour in ("#101010", "#202020"):
        update_palette(path, lambda d, to=colour: d.with_reading("moss", 1, reading_from_hex(to)))
    return path, lambda: update_palette(
        path, lambda d: d.with_reading("moss", 1, reading_from_hex("#303030"))
    )


def _plan(folder):
    path = folder / "gift-plan.pdf"
    path.write_bytes(b"old")
    (folder / "gift-cut.svg").write_bytes(b"old")
    from blendkit.plan.files import write_all

    new = {"gift-plan.pdf": b"new" * 50, "gift-cut.svg": b"new", "fresh.png": b"new"}
    return path, lambda: write_all(folder, new)


def _kept(folder):
    path = folder / "drawer.csv"
    path.write_text(START)

    def save():
        with locked(path):
            replace_keeping(path, START.replace("moss", "fern").encode())

    return path, save


def _project(folder):
    from blendkit.project.writing import update_project

    path = folder / "project.toml"
    path.write_text('# mine\nimage = "hedgehog.png"  # stamped\n\n[[parts]]\nname = "scarf"\nrest = true\n')
    return path, lambda: update_project(path, lambda project: replace(project, notes="a scarf first"))


def _fit(folder):
    from blendkit.ink import DEFAULT_MODEL
    from blendkit.palette.calibration_file import StoredCalibration, calibration_path, store_calibration

    drawer = folder / "drawer.csv"
    drawer.write_text(START)
    fit = StoredCalibration("Snow", DEFAULT_MODEL, "2026-05-01", 9, 4)
    store_calibration(drawer, fit)
    return calibration_path(drawer), lambda: store_calibration(drawer, replace(fit, markers=7))


def _file(folder):
    path = folder / "chart.chart.json"
    path.write_text("{}")
    return path, lambda: files.replace_file(path, b'{"format": "blendkit-chart"}')


SAVES = {
    "palette": _palette,
    "plan": _plan,
    "convert": _kept,
    "project": _project,
    "fit": _fit,
    "chart": _file,
}


def _told(folder, path):
    """What was acknowledged before: the history's rows, and the contents of earlier versions."""
    told = [one.cells["hex"] for one in read_history(path)] if path.suffix == ".csv" else []
    return told, {version.path.read_bytes() for version in list_versions(path)}


@pytest.mark.parametrize("kind", SAVES)
def test_a_fault_of_the_disk_at_any_step_loses_nothing_and_is_told_as_it_is(kind, tmp_path, monkeypatch):
    with monkeypatch.context() as patch:
        (tmp_path / "count").mkdir()
        path, save = SAVES[kind](tmp_path / "count")
        steps = Steps(patch)
        save()
    new = path.read_bytes()
    assert steps.count >= 5
    refused = 0
    for code in ERRORS:
        for at in range(steps.count):
            folder = tmp_path / f"{errno.errorcode[code]}{at}"
            folder.mkdir()
            path, save = SAVES[kind](folder)
            old, before = path.read_bytes(), _told(folder, path)

            def fail(code=code):
                raise OSError(code, os.strerror(code))

            message = ""
            with monkeypatch.context() as patch:
                Steps(patch, at, fail)
                try:
                    save()
                except BlendkitError as error:
                    message = str(error)
            now, after = path.read_bytes(), _told(folder, path)
            where = f"{errno.errorcode[code]} at step {at}: {message}"
            refused += bool(message)
            expected = new if not message or "written, but" in message else old
            assert re.sub(rb"replaced.*", b"", now) == expected, where
            if "unchanged" in message:
                assert all(one.read_bytes() == b"old" for one in folder.glob("*.svg"))
                assert not (folder / "fresh.png").exists()
            assert after[0][: len(before[0])] == before[0], where
            assert before[1] <= after[1], where
            if kind == "palette" and now == new:
                assert "#202020" in after[0], where
    assert refused > 5


@pytest.mark.parametrize("kind", SAVES)
def test_a_kill_at_any_step_leaves_a_whole_file_and_what_was_kept(kind, tmp_path, monkeypatch):
    with monkeypatch.context() as patch:
        (tmp_path / "count").mkdir()
        path, save = SAVES[kind](tmp_path / "count")
        steps = Steps(patch)
        save()
    new = path.read_bytes()
    for at in range(steps.count):
        folder = tmp_path / str(at)
        folder.mkdir()
        path, save = SAVES[kind](folder)
        old, before = path.read_bytes(), _told(folder, path)
        child = os.fork()
        if child == 0:
            Steps(monkeypatch, at, lambda: os._exit(9))
            try:
                save()
            finally:
                os._exit(0)
        assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 9
        now, after = path.read_bytes(), _told(folder, path)
        assert now in (old, new)
        assert after[0][: len(before[0])] == before[0]
        assert before[1] <= after[1]
        save()
        assert path.read_bytes() == new


def test_two_writers_lose_none_of_500_changes(tmp_path):
    path = tmp_path / "drawer.csv"
    path.write_text(START)
    children = []
    for writer in range(2):
        child = os.fork()
        if child == 0:
            code = 1
            try:
                for number in range(250):
                    name = f"m{writer} {number}"
                    update_palette(
                        path, lambda d, name=name: d.with_marker(name, reading_from_hex("#884433"))
                    )
                code = 0
            finally:
                os._exit(code)
        children.append(child)
    assert [os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) for child in children] == [0, 0]
    assert path.read_text().count("#884433") == 500


def test_what_has_no_end_is_refused_unread(tmp_path):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for path in (pipe, "/dev/zero", tmp_path):
        with pytest.raises(PaletteError, match=r"is (no ordinary file|a folder)"):
            read_whole(path, 100, "a file")
    nested = tmp_path / "deep.json"
    nested.write_text("[" * 100_000)
    with pytest.raises(PaletteError, match="nested without end"):
        read_json(nested, 1_000_000, "a description", PaletteError)


def test_links_stay_links(tmp_path):
    (tmp_path / "real").write_bytes(b"old")
    (tmp_path / "link").symlink_to("real")
    replace_files({tmp_path / "link": b"new"})
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real").read_bytes() == b"new"
