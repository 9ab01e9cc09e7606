"""Palette files on disk: refused quickly when unfit, written whole or not at all, by one writer at a time."""

import errno
import io
import os
import random
import shutil
import signal
import stat
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from blendkit import files
from blendkit.errors import PaletteError
from blendkit.palette import (
    MAX_PALETTE_MB,
    demo_palette_path,
    empty_palette,
    list_versions,
    locked,
    read_history,
    read_palette,
    reading_from_hex,
    reading_from_lab,
    replace_file,
    restore_version,
    store,
    update_palette,
    write_palette,
)

START = "name,kind,hex,shelf\nSnow,paper,#fdfdfd,A\nmoss,marker,#667744,=B1\n"


@pytest.fixture
def drawer(tmp_path):
    path = tmp_path / "drawer.csv"
    path.write_text(START)
    return path


def add(name, colour="#884433"):
    return lambda palette: palette.with_marker(name, reading_from_hex(colour))


def beside(path):
    """Give the names in a file's folder, lock and kept versions aside."""
    return {item.name for item in path.parent.iterdir()} - {f".{path.name}.lock", f"{path.name}.kept"}


# ---------------------------------------------------------------- reading


def test_a_file_that_is_too_large_is_refused_unread(tmp_path, monkeypatch):
    """Not one byte of it is read; of a small one every byte is."""
    read = []

    class Counting(io.FileIO):
        def readinto(self, buffer):
            read.append(super().readinto(buffer))
            return read[-1]

    monkeypatch.setattr(
        "blendkit.files.open", lambda file, mode: io.BufferedReader(Counting(file)), raising=False
    )
    path = tmp_path / "huge.csv"
    with open(path, "wb") as stream:
        stream.truncate(200_000_000)
    with pytest.raises(PaletteError, match=f"200 MB.*at most {MAX_PALETTE_MB} MB"):
        read_palette(path)
    assert sum(read) == 0
    (tmp_path / "small.csv").write_text(START)
    read_palette(tmp_path / "small.csv")
    assert sum(read) == len(START)


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("", "a folder"),
        ("none.csv", "no such file"),
        ("pipe", "no ordinary file"),
        ("x" * 300, "File name too long"),
        ("nul\0", "null"),
    ],
)
def test_what_is_no_ordinary_file_is_refused(tmp_path, name, found):
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(PaletteError, match=found):
        read_palette(tmp_path / name if name else tmp_path)


def run_as_nobody(code, path):
    """Run *code* in a process that has given up the rights of the superuser."""
    setup = "import os, sys, filelock; from blendkit.palette import *; p = sys.argv[1]; os.setuid(65534)\n"
    command = [sys.executable, "-c", setup + code, str(path)]
    return subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)


@pytest.mark.skipif(os.geteuid() != 0, reason="needs the superuser, to become another user")
def test_a_file_or_folder_without_permission_is_refused_in_a_sentence():
    with tempfile.TemporaryDirectory() as name:  # tmp_path lies in a folder that others may not enter
        folder = Path(name)
        folder.chmod(0o755)
        path = folder / "drawer.csv"
        path.write_text(START)
        path.chmod(0o644)
        change = "update_palette(p, lambda q: q.with_details('moss', note='x'))"
        writing = run_as_nobody(f"print(read_palette(p).names)\n{change}", path)
        assert "moss" in writing.stdout  # reading takes no lock, so it needs no right to write
        assert "PaletteError" in writing.stderr
        assert "no permission" in writing.stderr
        assert path.read_text() == START
        path.chmod(0o600)
        reading = run_as_nobody("read_palette(p)", path)
        assert "PaletteError" in reading.stderr
        assert "no permission" in reading.stderr


def test_the_demo_palettes_are_found_by_name():
    assert read_palette(demo_palette_path()).markers
    with pytest.raises(PaletteError, match="hedgehog-lane"):
        demo_palette_path("nowhere")


# ---------------------------------------------------------------- writing


def test_an_update_keeps_what_is_not_known_and_the_permissions(drawer):
    drawer.chmod(0o640)
    written = update_palette(drawer, add("ember"))
    assert drawer.read_text() == START.replace("=B1", "'=B1") + "ember,marker,#884433,\n"
    assert stat.S_IMODE(drawer.stat().st_mode) == 0o640
    assert read_palette(drawer) == written
    assert beside(drawer) == {"drawer.csv"}


def test_an_update_that_changes_nothing_writes_nothing(drawer):
    before = drawer.stat()
    update_palette(drawer, lambda palette: palette)
    assert (drawer.stat().st_ino, drawer.stat().st_mtime_ns) == (before.st_ino, before.st_mtime_ns)
    assert list_versions(drawer) == ()


def test_a_change_that_fails_leaves_the_file_and_frees_the_lock(drawer):
    with pytest.raises(PaletteError, match="column on"):
        update_palette(drawer, lambda palette: palette.with_details("moss", on="Nowhere"))
    with pytest.raises(ZeroDivisionError):
        update_palette(drawer, lambda palette: 1 / 0)
    assert drawer.read_text() == START
    update_palette(drawer, add("ember"))


def test_a_link_to_a_palette_stays_a_link(drawer, tmp_path):
    link = tmp_path / "link.csv"
    link.symlink_to(drawer)
    update_palette(link, add("ember"))
    assert link.is_symlink()
    assert "ember" in drawer.read_text()


def test_a_new_palette_is_written_once(tmp_path):
    path = tmp_path / "new.csv"
    write_palette(path, empty_palette().with_paper("Snow", reading_from_hex("#ffffff")))
    assert stat.S_IMODE(path.stat().st_mode) & 0o600 == 0o600
    with pytest.raises(PaletteError, match="is there already"):
        write_palette(path, empty_palette())
    assert read_palette(path).names == ("Snow",)


def test_a_folder_that_is_not_there_is_named(tmp_path):
    with pytest.raises(PaletteError, match="nowhere"):
        write_palette(tmp_path / "nowhere" / "new.csv", empty_palette())
    with pytest.raises(PaletteError, match="nowhere"):
        update_palette(tmp_path / "nowhere" / "new.csv", add("ember"))


# ---------------------------------------------------------------- faults


@pytest.mark.parametrize("step", ["fsync", "replace"])
@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO, errno.EROFS])
def test_when_the_disk_refuses_the_old_file_stays_whole(drawer, monkeypatch, step, number):
    def refuse(*_args, **_kwargs):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, step, refuse)
    with pytest.raises(PaletteError, match=f"The old file is unchanged.\n.*{os.strerror(number)}"):
        update_palette(drawer, add("ember"))
    monkeypatch.undo()
    assert drawer.read_text() == START
    assert beside(drawer) == {"drawer.csv"}


def test_a_file_that_may_grow_no_further_leaves_the_old_one_whole(drawer):
    code = (
        "import resource, sys; from blendkit.palette import *\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (4000, 4000))\n"
        "big = reading_from_hex('#884433', setup='x' * 8000)\n"
        "update_palette(sys.argv[1], lambda p: p.with_marker('ember', big))\n"
    )
    run = subprocess.run([sys.executable, "-c", code, drawer], capture_output=True, text=True, check=False)
    assert "PaletteError" in run.stderr
    assert "File too large" in run.stderr
    assert drawer.read_text() == START
    assert beside(drawer) == {"drawer.csv"}


@pytest.fixture
def small_disk(tmp_path):
    folder = tmp_path / "disk"
    folder.mkdir()
    mount = shutil.which("mount")
    made = mount and subprocess.run(
        [mount, "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(folder)], capture_output=True, check=False
    )
    if not made or made.returncode:
        pytest.skip("no right to mount a small disk here; the refusals above stand for it")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def test_a_full_disk_leaves_the_old_file_whole(small_disk):
    path = small_disk / "drawer.csv"
    path.write_text(START)
    reading = reading_from_hex("#884433", setup="x" * 3000)

    def fill():
        for number in range(40):
            update_palette(path, lambda palette, n=number: palette.with_marker(f"m{n}", reading))

    with pytest.raises(PaletteError, match="No space left on device"):
        fill()
    names = read_palette(path).names
    assert names == ("moss", *(f"m{n}" for n in range(len(names) - 2)), "Snow")


SAVER = """
import sys
from blendkit.palette import *
update_palette(sys.argv[1], lambda p: p)
print("ready", flush=True)
reading = reading_from_hex("#884433", setup="x" * 2000)
for number in range(10_000):
    palette = update_palette(sys.argv[1], lambda p: p.with_marker(f"m{len(p.markers)}", reading))
    print(palette.markers[-1].name, flush=True)
"""


def kill_while_saving(path, delay):
    """Start a process that saves all the time, kill it, and give the last marker that it said was saved."""
    saver = subprocess.Popen([sys.executable, "-c", SAVER, path], stdout=subprocess.PIPE, text=True)
    assert saver.stdout.readline() == "ready\n"
    time.sleep(delay)
    saver.send_signal(signal.SIGKILL)
    said = saver.communicate()[0].split("\n")
    return said[-2] if len(said) > 1 else None


def test_a_writer_killed_at_any_moment_leaves_a_whole_file_with_all_that_was_saved(drawer):
    chance = random.Random(20)
    for _ in range(15):
        saved = kill_while_saving(drawer, chance.uniform(0, 0.05))
        names = [marker.name for marker in read_palette(drawer).markers]
        assert names == ["moss", *(f"m{n}" for n in range(1, len(names)))]
        assert saved is None or saved in names
    update_palette(drawer, add("last"))
    assert beside(drawer) == {"drawer.csv"}
    assert not list(drawer.with_name("drawer.csv.kept").glob(".*"))


WRITER = """
import sys
from blendkit.palette import *
for number in range(12):
    update_palette(sys.argv[1], lambda p: p.with_marker(f"{sys.argv[2]}{number}", reading_from_hex("#884433")))
"""


def test_two_processes_that_write_at_once_lose_nothing(drawer):
    writers = [subprocess.Popen([sys.executable, "-c", WRITER, drawer, letter]) for letter in "ab"]
    assert [writer.wait(120) for writer in writers] == [0, 0]
    names = set(read_palette(drawer).names)
    assert names == {"moss", "Snow"} | {f"{letter}{n}" for letter in "ab" for n in range(12)}


def test_threads_of_one_process_lose_nothing(drawer):
    with ThreadPoolExecutor(4) as pool:
        list(pool.map(lambda n: update_palette(drawer, add(f"t{n}")), range(12)))
    assert len(read_palette(drawer).markers) == 13


def test_a_writer_gives_up_when_another_keeps_the_lock(drawer, monkeypatch):
    monkeypatch.setattr(files, "LOCK_SECONDS", 0.1)
    with locked(drawer), pytest.raises(PaletteError, match="written by another program"):
        update_palette(drawer, add("ember"))
    assert drawer.read_text() == START


# ---------------------------------------------------------------- earlier versions and history


def test_each_write_keeps_the_version_before_and_any_can_be_restored(drawer):
    for name in ("one", "two", "three"):
        update_palette(drawer, add(name))
    versions = list_versions(drawer)
    assert len(versions) == 3
    assert [v.replaced for v in versions] == sorted((v.replaced for v in versions), reverse=True)
    restored = restore_version(drawer, versions[-1].name)
    assert drawer.read_text() == START
    assert restored == read_palette(drawer)
    assert "three" in list_versions(drawer)[0].path.read_text()
    with pytest.raises(PaletteError, match="no such version"):
        restore_version(drawer, "../drawer")


def test_versions_are_thinned_by_age_and_all_of_a_day_are_kept(drawer):
    """Of 100 days with four saves each: one a day for a month, then one a month, and the saves of today."""
    update_palette(drawer, add("first"))
    now, kept = datetime.now(UTC), list_versions(drawer)[0].path.parent
    for day in range(2, 102):
        for hour in range(4):
            stamp = (now - timedelta(days=day, hours=hour)).strftime("%Y-%m-%dT%H-%M-%S.%fZ")
            (kept / f"{stamp}.csv").write_text(f"{START}day {day} {hour}\n")
    for number in range(5):
        update_palette(drawer, add(f"m{number}"))
    ages = [(now - version.replaced).total_seconds() / 86400 for version in list_versions(drawer)]
    assert sum(age < 1 for age in ages) == 6
    assert 29 <= sum(1 <= age <= 31 for age in ages) <= 32
    assert 2 <= sum(age > 31 for age in ages) <= 5


def test_equal_contents_are_kept_once(drawer):
    for _ in range(3):
        update_palette(drawer, add("ember"))
        update_palette(drawer, lambda palette: palette.without("ember"))
    assert len(list_versions(drawer)) == 3  # as it began, with ember, and without in the usual columns


def test_a_damaged_line_of_the_history_costs_that_line(drawer):
    for colour in ("#111111", "#222222", "#333333"):
        update_palette(
            drawer, lambda palette, to=colour: palette.with_reading("moss", 1, reading_from_hex(to))
        )
    history = drawer.with_name("drawer.history.csv")
    lines = history.read_bytes().splitlines(keepends=True)
    history.write_bytes(lines[0] + lines[1] + b'\xff"broken,' + lines[2] + lines[3][:-1])
    assert [one.cells["hex"] for one in read_history(drawer)] == ["#667744", "#222222"]
    update_palette(drawer, lambda palette: palette.with_reading("moss", 1, reading_from_hex("#444444")))
    assert [one.cells["hex"] for one in read_history(drawer)] == ["#667744", "#222222", "#333333"]


def test_a_large_history_is_laid_by_and_still_read(drawer, monkeypatch):
    monkeypatch.setattr(store, "HISTORY_MB", 0.0003)
    for number in range(12):
        hex_ = f"#0000{number:02x}"
        update_palette(drawer, lambda palette, to=hex_: palette.with_reading("moss", 1, reading_from_hex(to)))
    assert len(list(drawer.parent.glob("*.history-*.csv"))) > 1
    told = [one.cells["hex"] for one in read_history(drawer)]
    assert told == ["#667744", *(f"#0000{number:02x}" for number in range(11))]


def test_a_refused_save_spends_no_version(drawer, monkeypatch):
    """Also with a history that can't be read: it is laid by."""
    update_palette(drawer, add("ember"))
    drawer.with_name("drawer.history.csv").write_bytes(b"\xff\xfe\x00")
    before = list_versions(drawer)
    monkeypatch.setattr("blendkit.files.os.replace", _no_room)
    for number in range(30):
        with pytest.raises(PaletteError, match="unchanged"):
            update_palette(drawer, add(f"m{number}"))
    monkeypatch.undo()
    assert list_versions(drawer) == before
    update_palette(drawer, lambda palette: palette.with_reading("moss", 1, reading_from_hex("#010203")))
    assert read_history(drawer)[-1].cells["hex"] == "#667744"


def _no_room(*_):
    raise OSError(errno.ENOSPC, "No space left on device")


def test_drawers_of_one_stem_have_histories_of_their_own(drawer):
    other = drawer.with_suffix(".tsv")
    other.write_text(START.replace(",", "\t"))
    update_palette(other, lambda palette: palette.with_reading("moss", 1, reading_from_hex("#010203")))
    assert read_history(drawer) == ()
    assert len(read_history(other)) == 1


def test_a_read_only_file_is_left_alone(drawer):
    drawer.chmod(0o444)
    with pytest.raises(PaletteError, match="protected"):
        update_palette(drawer, add("ember"))
    assert drawer.read_text() == START


def test_a_deleted_palette_can_be_restored(drawer):
    update_palette(drawer, add("ember"))
    drawer.unlink()
    restore_version(drawer, list_versions(drawer)[0].name)
    assert drawer.read_text() == START


def test_an_older_measurement_stays_in_the_history(drawer):
    newer = reading_from_lab([50, -9, 21], setup="phone, two charts", measured="2026-05-01", uncertainty=1.2)
    update_palette(drawer, lambda palette: palette.with_reading("moss", 1, newer))
    update_palette(drawer, lambda palette: palette.with_reading("moss", 1, reading_from_hex("#556633")))
    update_palette(drawer, add("ember"))
    update_palette(drawer, lambda palette: palette.without("moss"))
    first, second, third = read_history(drawer, "MOSS")
    assert first.cells["hex"] == "#667744"
    assert first.cells["shelf"] == "=B1"
    assert (second.cells["L"], second.cells["setup"]) == ("50", "phone, two charts")
    assert [earlier.reason for earlier in (first, second, third)] == ["measured again"] * 2 + ["taken out"]
    assert first.replaced.endswith("Z")
    assert read_history(drawer, "ember") == ()
    assert "'=B1" in drawer.with_name("drawer.history.csv").read_text()


def test_replace_file_writes_any_bytes_whole(tmp_path):
    path = tmp_path / "drawer.csv.ink.toml"
    replace_file(path, b"first")
    replace_file(path, b"second")
    assert path.read_bytes() == b"second"
    assert os.listdir(tmp_path) == [path.name]


def test_the_next_save_sweeps_what_killed_ones_of_the_same_file_left(tmp_path):
    """Only what is old and its own: a writer at work, and other files, are left alone."""
    target = tmp_path / "report[1].pdf"
    stale, young = tmp_path / ".report[1].pdf.ab_de678.new", tmp_path / ".report[1].pdf.abcdefgh.new"
    others = [tmp_path / ".report1.pdf.abcdefgh.new", tmp_path / ".report[1].pdf.png.abcdefgh.new"]
    for path in (stale, young, *others):
        path.write_bytes(b"half")
    long_ago = time.time() - files.STALE_SECONDS - 60
    for path in (stale, *others):
        os.utime(path, (long_ago, long_ago))
    replace_file(target, b"whole")
    assert not stale.exists()
    assert set(tmp_path.iterdir()) == {target, young, *others}


def test_what_a_writer_begins_is_what_a_sweep_looks_for(tmp_path, monkeypatch):
    """The half-written file's name is of the kind that the next save sweeps."""
    begun = []

    def killed(source, target):
        begun.append(Path(source))
        raise KeyboardInterrupt

    monkeypatch.setattr("os.replace", killed)
    monkeypatch.setattr("os.unlink", lambda path: None)
    with pytest.raises(KeyboardInterrupt):
        replace_file(tmp_path / "sheet.svg", b"whole")
    monkeypatch.undo()
    os.utime(begun[0], (0, 0))
    replace_file(tmp_path / "sheet.svg", b"whole")
    assert [path.name for path in tmp_path.iterdir()] == ["sheet.svg"]
