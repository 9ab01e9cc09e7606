"""Files that the page is sent, and names that stay inside a folder."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendkit.desk import files
from blendkit.desk.files import Uploads, inside, shown_name
from blendkit.errors import BlendkitError


@pytest.mark.parametrize(
    "name", ["../x", "a/../../x", "/etc/passwd", "..", ".", "", "a/../..", "x\x00y", "sub/../../other/x"]
)
def test_a_name_that_climbs_out_is_refused(tmp_path, name):
    """No name reaches anything but what lies within the folder."""
    folder = tmp_path / "open"
    folder.mkdir()
    with pytest.raises(BlendkitError, match="not within"):
        inside(folder, name)


def test_a_link_that_leads_out_is_refused(tmp_path):
    """Links are followed before it is decided."""
    folder = tmp_path / "open"
    folder.mkdir()
    (tmp_path / "secret").write_text("x")
    (folder / "link").symlink_to(tmp_path / "secret")
    with pytest.raises(BlendkitError):
        inside(folder, "link")
    (folder / "real").write_text("y")
    assert inside(folder, "real") == (folder / "real").resolve()


@given(st.text(max_size=40))
def test_a_shown_name_is_one_short_line(name):
    """Whatever a file is called, its shown name has no path, no control, and a length that fits."""
    text = shown_name(name)
    assert text
    assert len(text) <= 120
    assert text.isprintable()
    assert "/" not in text


def test_the_oldest_files_go_when_there_are_too_many(monkeypatch):
    """Room is limited; the newest file always stays."""
    monkeypatch.setattr(files, "MAX_KEPT_MB", 1e-6 * 25)
    uploads = Uploads()
    try:
        numbers = [uploads.keep(f"{number}", bytes(10)).number for number in range(4)]
        with pytest.raises(BlendkitError, match="no longer"):
            uploads.find(numbers[0])
        assert uploads.find(numbers[-1]).path.read_bytes() == bytes(10)
        assert len(list(uploads.find(numbers[-1]).path.parent.iterdir())) == 2
    finally:
        uploads.close()


def test_files_go_when_the_desk_closes():
    """Nothing that was sent stays on the disk."""
    uploads = Uploads()
    path = uploads.keep("photo.jpg", b"x").path
    uploads.close()
    assert not path.exists()


def test_a_stranger_number_finds_nothing():
    """A number is no path."""
    uploads = Uploads()
    try:
        for number in ("../x", "", "/etc/passwd"):
            with pytest.raises(BlendkitError):
                uploads.find(number)
    finally:
        uploads.close()
