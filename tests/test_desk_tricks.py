"""The running desk under tricks and damage: refused, nothing run, nothing lost, and still serving."""

import json
import re
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path
from urllib.parse import quote

import httpx
import pytest
from fuzz.damage import turned_bytes

from blendkit.palette import demo_palette_path

SCRIPT = "<script>alert(1)</script>"


class RealDesk:
    """``blendkit desk`` in a process, with what a browser would send."""

    def __init__(self, folder: Path) -> None:
        self.palette = folder / "drawer.csv"
        self.palette.write_bytes(demo_palette_path().read_bytes())
        command = [sys.executable, "-m", "blendkit", "desk", "--no-browser", "--palette", str(self.palette)]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
        self.lines: list[str] = []
        found = None
        for line in self.process.stdout:
            self.lines.append(line)
            found = re.search(r"http://127\.0\.0\.1:(\d+)/\?token=(\S+)", line)
            if found:
                break
        assert found, "".join(self.lines)
        self.listener = threading.Thread(target=self._listen, daemon=True)
        self.listener.start()
        self.port, self.token = int(found[1]), found[2]
        self.origin = f"http://127.0.0.1:{self.port}"
        self.headers = {"origin": self.origin, "cookie": f"blendkit_desk_{self.port}={self.token}"}
        until = time.monotonic() + 60
        while time.monotonic() < until:
            try:
                if self.ask("GET", "/api/state").status_code == 200:
                    return
            except httpx.TransportError:
                time.sleep(0.1)
        raise AssertionError("the desk doesn't answer")

    def _listen(self) -> None:
        self.lines += list(self.process.stdout)

    def close(self) -> None:
        self.process.terminate()
        self.process.wait(20)
        self.listener.join(20)
        self.process.stdout.close()

    def ask(self, method: str, path: str, headers=None, **more) -> httpx.Response:
        given = {name: value for name, value in {**self.headers, **(headers or {})}.items() if value}
        return httpx.request(method, self.origin + path, headers=given, timeout=60, **more)

    def post(self, path: str, **body) -> httpx.Response:
        return self.ask(
            "POST", f"/api{path}", content=json.dumps(body), headers={"content-type": "application/json"}
        )

    def raw(self, data: bytes) -> bytes:
        """Send bytes as they are, and give what comes back before the other side or two seconds end it."""
        with socket.create_connection(("127.0.0.1", self.port), timeout=2) as line:
            back = b""
            try:
                line.sendall(data)
                while more := line.recv(65536):
                    back += more
            except (TimeoutError, ConnectionError):
                pass
            return back

    def is_serving(self) -> bool:
        return self.process.poll() is None and self.ask("GET", "/api/state").status_code == 200


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    opened = RealDesk(tmp_path_factory.mktemp("desk"))
    yield opened
    serving = opened.is_serving()
    opened.close()
    said = "".join(opened.lines)
    assert serving
    assert "Traceback" not in said, said[-3000:]


def test_a_name_with_script_in_it_is_data_and_no_page(desk):
    """Script in a name or note comes back as JSON, which no browser runs, and isn't in the page."""
    added = desk.post("/items/add", name=f"moss {SCRIPT}", kind="marker", colour="#446633", note=SCRIPT)
    assert added.status_code == 200, added.text
    item = desk.ask("GET", f"/api/item?name={quote(f'moss {SCRIPT}')}")
    assert item.headers["content-type"].startswith("application/json")
    assert item.headers["x-content-type-options"] == "nosniff"
    assert "<script>alert" not in desk.ask("GET", "/drawer").text
    asked = desk.ask("GET", f"/api/pair?colour={quote(SCRIPT)}")
    assert asked.status_code == 422
    assert asked.headers["content-type"].startswith("application/json")


@pytest.mark.parametrize(
    "path",
    [
        "/../../etc/passwd", "/assets/..%2f..%2f..%2fetc/passwd", "/assets/%2e%2e/%2e%2e/ink.py",
        "/assets/....//ink.py", "/assets/%00", "/assets/js%5c..%5c..%5capp.py", "//etc/passwd",
        "/drawer/../../etc/passwd", "/api/../assets/../app.py",
        "/api/file?file=../../etc/passwd", "/api/file?file=%2fetc%2fpasswd",
        "/api/project?project=..%2f..%2fetc%2fpasswd",
    ],
)  # fmt: skip
def test_a_path_that_climbs_out_is_refused(desk, path):
    """Sent as it is, with no client to tidy it: not found or not understood, and nothing of the file."""
    head = f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{desk.port}\r\nCookie: {desk.headers['cookie']}\r\n"
    back = desk.raw(head.encode() + b"Connection: close\r\n\r\n")
    status = int(back.split(b" ", 2)[1])
    assert status in (400, 404, 422), back[:200]
    assert b"root:" not in back
    assert b"import " not in back


@pytest.mark.parametrize(
    "name", ["../../x.png", "/etc/passwd", "a" * 5000, SCRIPT, "\x00", "..", "%2e%2e%2fx", "💥"]
)
def test_an_uploads_name_is_never_a_path(desk, name):
    """Whatever an upload calls itself, it is kept under the desk's own name, and nothing is written elsewhere."""
    before = sorted(path.name for path in desk.palette.parent.parent.rglob("*"))
    answer = desk.ask("POST", "/api/picture", content=b"no picture", headers={"x-file-name": quote(name)})
    assert answer.status_code in (200, 422), answer.text
    assert sorted(path.name for path in desk.palette.parent.parent.rglob("*")) == before


@pytest.mark.parametrize(
    ("sent", "headers"),
    [
        (b"{", {}), (b"[]", {}), (b'"x"', {}), (b"\xff\xfe", {}), (b"[" * 100_000, {}), (b'{"name": NaN}', {}),
        (b"{}" * 600_000, {}), (b'{"name": ' + b"9" * 5000 + b"}", {}), (b'{"L": ' + b"9" * 400 + b"}", {}),
        (b"name=x", {"content-type": "text/plain"}),
        (b'{"name": {"a": 1}, "kind": [], "colour": 3}', {}),
        (b'{"name": "\\ud800", "kind": "marker", "colour": "#123"}', {}),
    ],
)  # fmt: skip
def test_a_question_that_is_no_question_is_refused(desk, sent, headers):
    """Broken, bottomless, oversized or of the wrong kind: a sentence, no trace of the program."""
    given = {"content-type": "application/json", **headers}
    answer = desk.ask("POST", "/api/items/add", content=sent, headers=given)
    assert answer.status_code in (413, 422), (answer.status_code, answer.text)
    assert answer.json()["message"]
    assert "Traceback" not in answer.text


def test_pictures_damaged_at_random_are_refused_and_the_desk_serves_on(desk):
    """Thirty damaged photos and charts: 200 or 422, never 500."""
    import random

    photo = (Path(__file__).parents[1] / "examples/photo/harvest_table.jpg").read_bytes()
    chance = random.Random(3)
    for number in range(30):
        path = ("/api/picture", "/api/scan/file", "/api/import")[number % 3]
        data = turned_bytes(photo if path != "/api/import" else desk.palette.read_bytes(), chance)
        answer = desk.ask("POST", path, content=data, headers={"x-file-name": "a.jpg"})
        assert answer.status_code in (200, 422), answer.text


def test_bytes_that_are_no_request_are_refused_and_the_desk_serves_on(desk):
    """Random bytes, half requests, header floods, other protocols: refused or hung up on."""
    import random

    chance = random.Random(4)
    whole = (
        f"GET /api/state HTTP/1.1\r\nHost: 127.0.0.1:{desk.port}\r\nCookie: {desk.headers['cookie']}\r\n\r\n"
    )
    for data in (
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc", b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n", b"GET / HTTP/9.9\r\n\r\n",
        b"GET /" + b"a" * 200_000 + b" HTTP/1.1\r\n\r\n", b"GET / HTTP/1.1\r\n" + b"X: y\r\n" * 50_000 + b"\r\n",
        b"POST /api/undo HTTP/1.1\r\nContent-Length: -5\r\n\r\n",
        b"POST /api/undo HTTP/1.1\r\nTransfer-Encoding: chunked"
        b"\r\n\r\nzz\r\n", *(chance.randbytes(chance.randrange(1, 400)) + b"\r\n\r\n" for _ in range(5)),
        *(turned_bytes(whole.encode(), chance) + b"\r\n\r\n" for _ in range(20)),
    ):  # fmt: skip
        back = desk.raw(data)
        assert b" 500 " not in back.split(b"\r\n")[0], (data[:100], back[:200])
    assert desk.is_serving()


@pytest.mark.parametrize(
    ("header", "value"),
    [
        ("host", "evil.example"), ("host", "127.0.0.1.evil.example"), ("host", ""), ("origin", "http://evil.example"),
        ("origin", "null"), ("origin", None), ("cookie", None), ("cookie", "blendkit_desk_1=guess"),
        ("sec-fetch-site", "cross-site"),
    ],
)  # fmt: skip
def test_a_stranger_changes_nothing(desk, header, value):
    """A foreign Host, Origin or cookie is refused by the running desk before anything is done."""
    before = desk.palette.read_bytes()
    headers = {"content-type": "application/json", header: value}
    body = json.dumps({"name": "stranger", "kind": "marker", "colour": "#000000"})
    if header == "host" and not value:
        head = (
            f"POST /api/items/add HTTP/1.1\r\nOrigin: {desk.origin}\r\nCookie: {desk.headers['cookie']}\r\n"
        )
        back = desk.raw(f"{head}Content-Length: {len(body)}\r\nConnection: close\r\n\r\n{body}".encode())
        assert int(back.split(b" ", 2)[1]) in (400, 403)
    else:
        assert desk.ask("POST", "/api/items/add", content=body, headers=headers).status_code == 403
    assert desk.palette.read_bytes() == before
