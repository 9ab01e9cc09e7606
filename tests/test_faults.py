"""Damaged files: every reader reads them or refuses them in a sentence, and never hangs.

The full trial, with some hundred thousand inputs, is tests/derive/fuzz_readers.py; tests/corpus keeps what once
failed.
"""

import subprocess
import sys
from pathlib import Path

import pytest
from fuzz.kills import SAVES
from fuzz.readers import READERS, Count, try_many, try_one
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

CORPUS = Path(__file__).parent / "corpus"
NAMED = {reader.name.replace(" ", "_"): reader for reader in READERS}
QUICK = {"scan": 0, "picture": 60, "colour profile": 20}
KEPT = sorted(path for path in CORPUS.glob("*/*") if path.is_file())


@pytest.mark.parametrize("reader", READERS, ids=lambda reader: reader.name)
def test_whole_files_are_read_before_they_are_damaged(reader):
    """Every seed is itself a file that can be read, so damage is what the trial is about."""
    if reader.name == "scan":
        pytest.skip("read whole in test_scan.py")
    count = Count()
    for seed in reader.seeds():
        fault = try_one(reader, seed, _folder(reader), count)
        assert not fault, fault
    assert count.read == len(reader.seeds())


_folders = {}


@pytest.fixture(scope="module", autouse=True)
def _scratch(tmp_path_factory):
    for reader in READERS:
        _folders[reader.name] = tmp_path_factory.mktemp("fuzz")


def _folder(reader):
    return _folders[reader.name]


@pytest.mark.parametrize("reader", READERS, ids=lambda reader: reader.name)
def test_a_damaged_file_is_read_or_refused_in_a_sentence(reader):
    """Some hundred files, damaged at random: no traceback, no hang."""
    faults = []
    try_many(reader, QUICK.get(reader.name, 40), seed=5, show=faults.append)
    assert not faults, faults[0]


@pytest.mark.parametrize("path", KEPT, ids=lambda path: f"{path.parent.name}-{path.name}")
def test_what_once_failed_is_read_or_refused_in_a_sentence(path):
    """Each file of the corpus once gave a traceback or a hang."""
    reader = NAMED[path.parent.name]
    fault = try_one(reader, path.read_bytes(), _folder(reader), Count())
    assert not fault, fault


TEXT_READERS = [reader for reader in READERS if reader.name not in ("picture", "colour profile", "scan")]


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(TEXT_READERS), st.one_of(st.binary(max_size=300), st.text(max_size=300)))
def test_bytes_and_letters_of_any_kind_are_read_or_refused_in_a_sentence(reader, data):
    """What Hypothesis thinks of, bytes or text, is no traceback either."""
    data = data.encode("utf-8", "surrogatepass") if isinstance(data, str) else data
    fault = try_one(reader, data, _folder(reader), Count())
    assert not fault, fault


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=400))
def test_bytes_of_any_kind_are_no_picture_or_a_picture(data):
    """Bytes of any kind, bare or after the head of a PNG, TIFF or JPEG."""
    reader = NAMED["picture"]
    for head in (b"", b"\x89PNG\r\n\x1a\n", b"II*\x00\x08\x00\x00\x00", b"\xff\xd8\xff\xe0"):
        fault = try_one(reader, head + data, _folder(reader), Count())
        assert not fault, fault


def test_a_writer_killed_at_any_moment_leaves_one_whole_file_of_every_kind():
    """Reports, sheets, chart descriptions, projects and fits: four kills each here, more in the full trial."""
    script = Path(__file__).parent / "derive" / "kill_saves.py"
    run = subprocess.run([sys.executable, str(script), "4"], capture_output=True, text=True, check=False)
    rows = [line.split("|") for line in run.stdout.splitlines() if line.startswith("| ")]
    assert run.returncode == 0, run.stdout + run.stderr[-2000:]
    assert [row[1].strip() for row in rows[2:]] == [save.name for save in SAVES]
    assert all(int(row[3].replace(",", "")) >= 4 for row in rows[2:]), run.stdout
