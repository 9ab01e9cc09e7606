"""Who may speak to the local page."""

import pytest
from simulate.desk import ORIGIN, TOKEN, DeskClient

from blendkit.desk.safety import is_own_host
from blendkit.palette import demo_palette_path


@pytest.fixture(scope="module")
def client():
    opened = DeskClient(demo_palette_path())
    yield opened
    opened.close()


def test_the_opened_address_gives_a_cookie_and_leaves_its_token_behind(client):
    """The token goes into a cookie that scripts can't read and other sites can't send."""
    answer = client.ask("GET", f"/?token={TOKEN}", headers={"cookie": None, "origin": None})
    assert answer.status_code == 200
    assert "url=/drawer" in answer.text
    assert TOKEN not in answer.text
    cookie = answer.headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie


@pytest.mark.parametrize(
    "path", ["/", "/drawer", "/api/state", "/assets/js/desk.js", "/?token=guess", "/api/x"]
)
def test_nothing_is_answered_without_the_cookie(client, path):
    """Neither page nor asset nor call is given to a stranger, and a wrong token is no key."""
    answer = client.ask("GET", path, headers={"cookie": None, "origin": None})
    assert answer.status_code == 403
    assert "blendkit desk" in answer.text


def test_a_cookie_with_another_token_is_no_key(client):
    """A guessed cookie is refused."""
    for cookie in (f"{client.app.cookie}=guess", "other=1", "=", f"{client.app.cookie}="):
        assert client.ask("GET", "/api/state", headers={"cookie": cookie}).status_code == 403


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:8000", "127.0.0.1", "127.0.0.1:81", "127.0.0.1.evil:8000"]
)
def test_a_foreign_host_is_refused(client, host):
    """A name that resolves to this machine is not our name, so rebinding it gains nothing."""
    assert client.ask("GET", "/api/state", headers={"host": host}).status_code == 403


@pytest.mark.parametrize(
    "origin", ["http://evil.example", "https://127.0.0.1:8000", "http://127.0.0.1:9", "null"]
)
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_a_foreign_origin_is_refused(client, origin, method):
    """A page of another address can neither look nor change, even with the cookie."""
    path = "/api/state" if method == "GET" else "/api/undo"
    assert client.ask(method, path, headers={"origin": origin}).status_code == 403


def test_a_change_without_an_origin_is_refused(client):
    """Every browser names the origin of a POST; what doesn't is no page of ours."""
    assert client.ask("POST", "/api/undo", headers={"origin": None}).status_code == 403


def test_another_site_that_loads_a_call_is_refused(client):
    """An image or script of another site that points at a call gets nothing; a visit from a link is a visit."""
    cross = {"sec-fetch-site": "cross-site", "origin": None}
    assert client.ask("GET", "/api/state", headers={**cross, "sec-fetch-mode": "no-cors"}).status_code == 403
    assert client.ask("GET", "/drawer", headers={**cross, "sec-fetch-mode": "navigate"}).status_code == 200


def test_nothing_is_changed_by_get(client):
    """Every call that changes something is a POST: asked with GET it is not there."""
    from blendkit.desk.app import CALLS

    for call in CALLS:
        if call.method == "POST":
            twin = any(other.path == call.path and other.method == "GET" for other in CALLS)
            assert twin or client.ask("GET", f"/api{call.path}").status_code == 405, call.path


def test_every_answer_carries_a_policy_without_inline_script(client):
    """Page, asset, call and refusal all say that only our own files may run or style."""
    for path, cookie in (("/drawer", True), ("/assets/js/desk.js", True), ("/api/state", True), ("/", False)):
        answer = client.ask("GET", path, headers={} if cookie else {"cookie": None})
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "script-src 'self'" in policy
        assert "unsafe" not in policy
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["x-frame-options"] == "DENY"


def test_the_page_holds_no_inline_script_or_style(client):
    """What the policy forbids isn't in the page either."""
    text = client.ask("GET", "/drawer").text
    assert "<style" not in text
    assert " style=" not in text
    assert all('src="/assets/' in part.split(">")[0] for part in text.split("<script")[1:])
    assert " onclick" not in text


@pytest.mark.parametrize(
    "path",
    [
        "/assets/../app.py",
        "/assets/%2e%2e/app.py",
        "/assets//etc/passwd",
        "/assets/..%2f..%2fink.py",
        "/assets/desk.html",
    ],
)
def test_an_asset_address_that_climbs_finds_nothing(client, path):
    """Only the packaged assets have addresses."""
    assert client.ask("GET", path).status_code == 404


def test_the_asset_that_is_there_is_given(client):
    """The control for the test above."""
    assert client.ask("GET", "/assets/js/desk.js").headers["content-type"].startswith("text/javascript")
    assert client.ask("GET", "/assets/fonts/SheetSans-Bold.ttf").status_code == 200


def test_a_loopback_desk_has_loopback_names_only():
    """On 127.0.0.1 only loopback names are ours; on a network address plain IP addresses are, names never."""
    assert is_own_host("127.0.0.1:8000", "127.0.0.1", 8000)
    assert is_own_host("localhost:8000", "127.0.0.1", 8000)
    assert is_own_host("[::1]:8000", "127.0.0.1", 8000)
    assert not is_own_host("192.168.1.7:8000", "127.0.0.1", 8000)
    assert is_own_host("192.168.1.7:8000", "0.0.0.0", 8000)
    assert not is_own_host("craft-room.local:8000", "0.0.0.0", 8000)
    assert not is_own_host("", "127.0.0.1", 8000)
    assert is_own_host("127.0.0.1", "127.0.0.1", 80)


def test_the_origin_is_the_one_that_was_asked(client):
    """localhost and 127.0.0.1 are two origins, so one can't speak for the other."""
    headers = {"host": "localhost:8000", "origin": "http://localhost:8000"}
    assert client.ask("GET", "/api/state", headers=headers).status_code == 200
    assert client.ask("GET", "/api/state", headers={**headers, "origin": ORIGIN}).status_code == 403
