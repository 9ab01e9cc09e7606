"""Who may speak to the page: this browser, at this address, with the token that opened it.

The page listens on this machine alone, but any site that the browser has open could still send requests to it.
So every request must name our own address as Host (a foreign name that resolves to this machine doesn't), must
not come from a page of another Origin, and must carry a cookie that only the opened address gives.
"""

import ipaddress
import secrets
from collections.abc import Awaitable, Callable, MutableMapping
from http.cookies import CookieError, SimpleCookie
from typing import Any
from urllib.parse import parse_qs

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

CONTENT_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self' blob:; "
    "connect-src 'self'; worker-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'self'; "
    "frame-ancestors 'none'; object-src 'none'"
)

SECURITY_HEADERS = (
    (b"content-security-policy", CONTENT_POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), geolocation=(), microphone=(), payment=(), usb=()"),
)

_ON_TO_THE_DRAWER = (
    b'<!doctype html><html lang="en"><meta http-equiv="refresh" content="0;url=/drawer">'
    b'<title>blendkit</title><p><a href="/drawer">Open the drawer</a></p></html>'
)

NO_KEY = (
    "This page belongs to a desk that was opened from this computer. Open it with the whole address that "
    "blendkit printed, the one that ends in ?token=…, or start it again with: blendkit desk"
)
WRONG_HOST = "This desk answers only at the address that blendkit printed."
WRONG_ORIGIN = "A page of another address can't use this desk."


def is_own_host(host: str, listens_on: str, port: int) -> bool:
    """Tell whether a Host header names this desk.

    Args:
        host: the header, for example ``127.0.0.1:8021``.
        listens_on: the address listened on; when it is a loopback address, only loopback names will do.
        port: the port.

    Returns: True for ``localhost`` and for plain IP addresses; a name that a stranger chose is never ours.
    """
    name, _, number = host.rpartition(":") if not host.endswith("]") else (host, "", "")
    if not name:
        name, number = host, "80"
    if number != str(port) and not (port == 80 and number == ""):
        return False
    if name.casefold() == "localhost":
        return True
    try:
        address = ipaddress.ip_address(name.strip("[]"))
        listening = ipaddress.ip_address("127.0.0.1" if listens_on == "localhost" else listens_on)
    except ValueError:
        return False
    return address.is_loopback or not listening.is_loopback


class Guard:
    """Middleware that lets only the opened page through, and puts the safety headers on every answer."""

    def __init__(self, app: App, token: str, listens_on: str, port: int) -> None:
        self.app = app
        self.token = token
        self.listens_on = listens_on
        self.port = port
        self.cookie = f"blendkit_desk_{port}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or refuse before anything is read or run."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return

        async def send_safely(message: Message) -> None:
            if message["type"] == "http.response.start":
                own = {name for name, _ in SECURITY_HEADERS}
                kept = [pair for pair in message.get("headers", []) if pair[0].lower() not in own]
                message["headers"] = [*kept, *SECURITY_HEADERS]
            await send(message)

        headers = {
            name.decode("latin-1").lower(): value.decode("latin-1") for name, value in scope["headers"]
        }
        refusal = self._refusal(scope["method"], headers)
        if refusal:
            await _say(send_safely, 403, refusal)
        elif self._has_cookie(headers.get("cookie", "")):
            await self.app(scope, receive, send_safely)
        elif scope["method"] == "GET" and scope["path"] == "/" and self._has_token(scope):
            await self._let_in(send_safely)
        else:
            await _say(send_safely, 403, NO_KEY)

    def _refusal(self, method: str, headers: MutableMapping[str, str]) -> str:
        if not is_own_host(headers.get("host", ""), self.listens_on, self.port):
            return WRONG_HOST
        own_origin = f"http://{headers['host']}"
        origin = headers.get("origin")
        if origin is not None and origin != own_origin:
            return WRONG_ORIGIN
        if method not in ("GET", "HEAD") and origin is None:
            return WRONG_ORIGIN
        site = headers.get("sec-fetch-site", "same-origin")
        is_visit = headers.get("sec-fetch-mode") == "navigate" and method == "GET"
        if site not in ("same-origin", "none") and not is_visit:
            return WRONG_ORIGIN
        return ""

    def _has_cookie(self, header: str) -> bool:
        try:
            found = SimpleCookie(header).get(self.cookie)
        except CookieError:
            return False
        return found is not None and secrets.compare_digest(found.value.encode(), self.token.encode())

    def _has_token(self, scope: Scope) -> bool:
        given = parse_qs(scope["query_string"].decode("latin-1")).get("token", [""])[-1]
        return secrets.compare_digest(given.encode(), self.token.encode())

    async def _let_in(self, send: Send) -> None:
        """Give the cookie, and go on to an address without the token.

        By a page of our own rather than a redirect: a visit that another program began (a file, a camera) would
        carry no strict cookie through a redirect.
        """
        cookie = f"{self.cookie}={self.token}; Path=/; HttpOnly; SameSite=Strict"
        headers = [
            (b"content-type", b"text/html; charset=utf-8"),
            (b"set-cookie", cookie.encode()),
            (b"cache-control", b"no-store"),
        ]
        await send({"type": "http.response.start", "status": 200, "headers": headers})
        await send({"type": "http.response.body", "body": _ON_TO_THE_DRAWER})


async def _say(send: Send, status: int, words: str) -> None:
    headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"cache-control", b"no-store")]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": (words + "\n").encode()})
