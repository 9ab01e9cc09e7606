"""The running desk under what a browser would never send: crowds, giants, rubbish, strangers."""

import asyncio
import collections
import shutil
import socket
from urllib.parse import urlsplit

import httpx
import pytest
from simulate.desk import open_desk

from blendkit.palette import demo_palette_path, read_palette

CROWD = 200


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    folder = tmp_path_factory.mktemp("crowd")
    shutil.copy(demo_palette_path("first-box"), folder / "mine.csv")
    with open_desk(folder / "mine.csv") as opened:
        yield opened


@pytest.fixture(scope="module")
def key(desk):
    """The headers of the desk's own page."""
    cookie = httpx.get(desk.address, follow_redirects=False).headers["set-cookie"].split(";")[0]
    return {"cookie": cookie, "origin": desk.origin}


def test_two_hundred_questions_at_once_are_all_answered(desk, key):
    """Answers, refusals and mistakes come mixed and right, none is a fault of ours, and the desk still serves."""
    names = [marker.name for marker in read_palette(desk.palette).markers]
    kinds = (
        ("GET", "/api/state", {}, 200),
        ("GET", "/api/item", {"params": {"name": names[3]}}, 200),
        ("GET", "/api/pair", {"params": {"colour": names[5]}}, 200),
        ("GET", "/api/pair", {"params": {"colour": "no such thing"}}, 422),
        ("POST", "/api/undo", {"content": b"{", "headers": {"content-type": "application/json"}}, 422),
        ("POST", "/api/import", {"content": b"\x00" * 100}, 422),
        ("GET", "/api/state", {"headers": {"host": "evil.example"}}, 403),
        ("POST", "/api/undo", {"headers": {"origin": "http://evil.example"}}, 403),
        ("GET", "/api/nothing", {}, 404),
        ("GET", "/drawer", {}, 200),
    )

    async def ask(client, number):
        method, path, more, wanted = kinds[number % len(kinds)]
        headers = {**key, **more.get("headers", {})}
        rest = {name: value for name, value in more.items() if name != "headers"}
        answer = await client.request(method, desk.origin + path, headers=headers, **rest)
        return answer.status_code == wanted, f"{path} {answer.status_code}"

    async def crowd():
        limits = httpx.Limits(max_connections=CROWD, max_keepalive_connections=CROWD)
        async with httpx.AsyncClient(limits=limits, timeout=120) as client:
            return await asyncio.gather(*(ask(client, number) for number in range(CROWD)))

    outcomes = asyncio.run(crowd())
    wrong = collections.Counter(words for right, words in outcomes if not right)
    assert not wrong, wrong
    assert httpx.get(f"{desk.origin}/api/state", headers=key, timeout=30).status_code == 200


def test_writers_in_a_crowd_lose_nothing(desk, key):
    """Forty markers added at once by forty connections: all are in the file."""

    async def add(client, number):
        body = {"name": f"crowd {number}", "colour": f"#{number * 4000:06x}"}
        answer = await client.post(f"{desk.origin}/api/items/add", headers=key, json=body)
        return answer.status_code

    async def crowd():
        async with httpx.AsyncClient(timeout=120) as client:
            return await asyncio.gather(*(add(client, number) for number in range(40)))

    assert set(asyncio.run(crowd())) == {200}
    names = set(read_palette(desk.palette).names)
    assert {f"crowd {number}" for number in range(40)} <= names


def test_a_giant_is_refused_before_it_has_come(desk, key):
    """A body that announces 10 GB is refused at once, and one that grows without end is cut off."""
    lines = ["POST /api/import HTTP/1.1", f"Host: {urlsplit(desk.origin).netloc}"]
    lines += [f"{name}: {value}" for name, value in key.items()] + [f"Content-Length: {10**10}", "", "x"]
    assert b" 413 " in answer_to(desk, "\r\n".join(lines).encode())

    def endless():
        for _ in range(130):
            yield b"x" * 1_000_000

    with httpx.Client(timeout=60) as client:
        try:
            status = client.post(f"{desk.origin}/api/import", headers=key, content=endless()).status_code
        except httpx.WriteError:
            status = 413
        assert status == 413
        assert client.get(f"{desk.origin}/api/state", headers=key).status_code == 200


def answer_to(desk, raw):
    """The first bytes that come back for some bytes, or none."""
    parts = urlsplit(desk.origin)
    with socket.create_connection((parts.hostname, parts.port), timeout=10) as line:
        line.sendall(raw)
        line.settimeout(10)
        try:
            return line.recv(100)
        except ConnectionResetError:
            return b""


@pytest.mark.parametrize(
    "raw",
    [
        b"GET / HTTP/1.1\r\n\r\n",
        b"\x00\xff\x00\xff\r\n\r\n",
        b"POST /api/undo HTTP/1.1\r\nHost: x\r\nContent-Length: -1\r\n\r\n",
        b"GET " + b"/" * 100_000 + b" HTTP/1.1\r\nHost: x\r\n\r\n",
        b"GET / HTTP/1.1\r\n" + b"X: y\r\n" * 3000 + b"\r\n",
    ],
)
def test_broken_requests_do_not_stop_the_desk(desk, key, raw):
    """Whatever bytes come, the next question is answered."""
    assert b" 200 " not in answer_to(desk, raw)
    assert httpx.get(f"{desk.origin}/api/state", headers=key, timeout=30).status_code == 200
