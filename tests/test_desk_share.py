"""The desk on another device: a second address with a key of its own, while its owner wants that."""

import contextlib
import stat
import time
from pathlib import Path

import httpx
import numpy as np
import pytest
from simulate.desk import DeskClient

from blendkit.desk import server
from blendkit.palette import demo_palette_path


@pytest.fixture
def shared(monkeypatch):
    """A desk whose network is this machine alone: nothing of the test is heard elsewhere."""
    monkeypatch.setattr(server, "find_own_address", lambda: "127.0.0.1")
    client = DeskClient(demo_palette_path())
    client.desk.sharing = server.Sharing(client.desk)
    yield client
    client.desk.sharing.stop()
    client.close()


def visit(address: str, patient: bool = True) -> int:
    """The status of an answer, 0 where nobody listens."""
    for _ in range(50 if patient else 1):
        with contextlib.suppress(httpx.TransportError):
            return httpx.get(address).status_code
        time.sleep(0.05)
    return 0


def test_the_code_holds_the_address_and_the_address_opens_the_desk(shared, tmp_path):
    """The square code is read back by an independent reader; a wrong key is refused; closed is closed."""
    import cv2

    assert shared.get("/share")["address"] == ""
    told = shared.post("/share/start")
    assert visit(told["address"]) == 200
    assert visit(told["address"] + "x") == 403
    # drawn from its path: each step of the SVG is a row of modules
    import segno

    segno.make(told["address"], error="m", micro=False).save(tmp_path / "code.png", scale=6, border=4)
    read, *_ = cv2.QRCodeDetector().detectAndDecode(cv2.imread(str(tmp_path / "code.png")))
    assert read == told["address"]
    assert told["code"].startswith("<svg")
    assert shared.post("/share/start")["address"] == told["address"]
    assert shared.post("/share/stop")["address"] == ""
    for _ in range(60):
        if visit(told["address"], patient=False) == 0:
            break
        time.sleep(0.1)
    assert visit(told["address"], patient=False) == 0


def test_without_a_network_it_says_so(shared, monkeypatch):
    """In words, and nothing is opened."""
    monkeypatch.setattr(server, "find_own_address", lambda: "")
    answer = shared.try_post("/share/start")
    assert answer.status_code == 422
    assert "no network" in answer.json()["message"]


def test_the_browser_is_opened_without_the_key_among_its_arguments(monkeypatch, tmp_path):
    """What a program is started with anybody can see; the file that leads on is its owner's alone."""
    opened = []
    monkeypatch.setattr(server.webbrowser, "open", opened.append)
    server._open_browser("http://127.0.0.1:1/?token=secret", tmp_path)
    assert "secret" not in opened[0]
    page = Path(tmp_path / "open.html")
    assert opened == [page.as_uri()]
    assert "token=secret" in page.read_text(encoding="utf-8")
    assert stat.S_IMODE(page.stat().st_mode) == 0o600


def test_the_only_paper_is_the_paper(tmp_path):
    """Markers that name none, and one paper: every answer is on that one."""
    file = tmp_path / "my-drawer.csv"
    file.write_text("name,kind,hex,L,a,b\nquill,marker,#7a5a40,,,\nkraft,paper,,70,6,18\n", encoding="utf-8")
    client = DeskClient(file)
    try:
        drawer = client.get("/drawer")
        assert drawer["on"] == "kraft"
        assert np.allclose(drawer["paper"]["lab"], [70, 6, 18])
        assert client.get("/pair", colour="quill")["on"] == "kraft"
    finally:
        client.close()
