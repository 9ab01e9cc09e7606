"""Opening the desk: the printed address, and what is refused before anything is served."""

import shutil
import signal
import socket

import httpx
import pytest
from simulate.desk import open_desk

from blendkit.desk.server import run_desk
from blendkit.errors import BlendkitError, PaletteError, ProjectError
from blendkit.palette import demo_palette_path


def test_the_printed_address_opens_the_page_and_ctrl_c_ends_it(tmp_path):
    """A token in the address, this machine alone, and a clean end."""
    shutil.copy(demo_palette_path("first-box"), tmp_path / "mine.csv")
    with open_desk(tmp_path / "mine.csv") as desk:
        assert desk.address.startswith("http://127.0.0.1:")
        with httpx.Client() as browser:
            door = browser.get(desk.address)
            assert "url=/drawer" in door.text
            page = browser.get(desk.origin + "/drawer")
            assert page.status_code == 200
            assert 'data-place="drawer"' in page.text
        assert httpx.get(desk.origin + "/drawer").status_code == 403
        desk.process.send_signal(signal.SIGINT)
        assert desk.process.wait(15) in (0, -signal.SIGINT)


def test_a_port_that_is_taken_is_told(tmp_path):
    """The sentence names the port and what else to give."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(BlendkitError, match=str(port)) as caught:
            run_desk(tmp_path / "mine.csv", port=port, open_browser=False)
    assert "0 for any" in caught.value.problems[0].accepted


@pytest.mark.parametrize("host", ["no-such-host.invalid", "300.1.1.1", "bad host"])
def test_a_host_that_is_none_is_told(tmp_path, host):
    """Nothing is served at a place that isn't there."""
    with pytest.raises(BlendkitError, match="can't listen"):
        run_desk(tmp_path / "mine.csv", host=host, open_browser=False)


def test_a_spoilt_palette_is_told_before_anything_is_served(tmp_path):
    """Every fault of the file, as the other commands say it."""
    (tmp_path / "bad.csv").write_text("name,kind,hex\nx,marker,#zz\n")
    with pytest.raises(PaletteError):
        run_desk(tmp_path / "bad.csv", open_browser=False)


def test_a_project_that_is_not_there_is_told(tmp_path):
    """Rather than opening a page without it."""
    with pytest.raises(ProjectError, match="no such file"):
        run_desk(tmp_path / "mine.csv", tmp_path / "none.toml", open_browser=False)
