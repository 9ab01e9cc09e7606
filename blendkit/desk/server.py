"""Opening the desk: a free port on this machine, a token, the browser, other devices, and a clean end."""

import secrets
import socket
import tempfile
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path
from typing import Any

from blendkit.desk.project_desk import Desk
from blendkit.errors import BlendkitError, Problem

ANYWHERE = ("0.0.0.0", "::")
"""Hosts that mean every address of this machine."""

_ELSEWHERE = "192.0.2.1"
"""An address that no machine has (RFC 5737): which of our own would be used to reach it is asked, nothing sent."""


def run_desk(
    palette_path: Path,
    project_path: Path | None = None,
    host: str = "127.0.0.1",
    port: int = 0,
    open_browser: bool = True,
    say: Callable[[str], None] = print,
) -> None:
    """Serve the desk until it is interrupted.

    Args:
        palette_path: the drawer's file; one that isn't there yet is made by the first change.
        project_path: a project file to open, or None.
        host: what to listen on; anything but a loopback address can be reached by other machines.
        port: 0 for any that is free.
        open_browser: open the page in the usual browser.
        say: takes the lines that tell the address.

    Raises: BlendkitError when the address can't be listened on; PaletteError or ProjectError for a file that can't
        be read.
    """
    from blendkit.project.reading import read_project

    desk = Desk(palette_path, project_path)
    try:
        desk.palette()
        if project_path is not None:
            read_project(project_path)
        listener = _listen(host, port)
        try:
            _serve(desk, listener, host, open_browser, say)
        finally:
            listener.close()
    finally:
        desk.close()


def _serve(
    desk: Desk, listener: socket.socket, host: str, open_browser: bool, say: Callable[[str], None]
) -> None:
    """Say the address, open the browser, and answer until interrupted."""
    import uvicorn

    from blendkit.desk.app import make_desk_app

    port = int(listener.getsockname()[1])
    token = secrets.token_urlsafe(24)
    app = make_desk_app(desk, token, host, port)
    address = _address("127.0.0.1" if host in ANYWHERE else host, port, token)
    say(f"The desk is open at {address}")
    if not _is_loopback(host):
        elsewhere = _address(find_own_address() or host, port, token) if host in ANYWHERE else address
        say(f"On other devices of this network: {elsewhere}")
        say("Careful: who knows that address can use this desk, and what goes over it is not encrypted.")
    desk.sharing = Sharing(desk)
    say("Stop it with Ctrl+C.")
    threading.Thread(target=_warm, args=(desk,), daemon=True).start()
    config = uvicorn.Config(
        app, log_level="warning", access_log=False, server_header=False, lifespan="on", ws="none",
        timeout_keep_alive=30, timeout_graceful_shutdown=3,
    )  # fmt: skip
    with tempfile.TemporaryDirectory(prefix="blendkit-") as folder:
        if open_browser:
            threading.Timer(0.3, _open_browser, [address, Path(folder)]).start()
        try:
            uvicorn.Server(config).run(sockets=[listener])
        finally:
            desk.sharing.stop()


def _open_browser(address: str, folder: Path) -> None:
    """Open the page by way of a file that only its owner can read: a program's arguments are anybody's to see."""
    page = folder / "open.html"
    page.touch(0o600)
    page.write_text(
        f'<!doctype html><title>blendkit</title><meta http-equiv="refresh" content="0;url={address}">'
        f'<p><a href="{address}">Open the desk</a></p>',
        encoding="utf-8",
    )
    webbrowser.open(page.as_uri())


def _address(host: str, port: int, token: str) -> str:
    return f"http://{f'[{host}]' if ':' in host else host}:{port}/?token={token}"


def find_own_address() -> str:
    """Address of this machine on its network, or "" where it has none. Nothing is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect((_ELSEWHERE, 9))
        except OSError:
            return ""
        found = str(probe.getsockname()[0])
    return "" if _is_loopback(found) else found


class Sharing:
    """The desk on a second address, for other devices of the network, while its owner wants that.

    It has a token of its own, so that closing it shuts out who came by it.
    """

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._server: Any = None
        self.address = ""

    def start(self) -> str:
        """Open it, once. Returns: the whole address. Raises: BlendkitError where there is no network."""
        import uvicorn

        from blendkit.desk.app import make_desk_app

        if self.address:
            return self.address
        host = find_own_address()
        if not host:
            raise BlendkitError(
                "This computer is on no network.", [Problem("network", "none", "a home network or a hotspot")]
            )
        listener = _listen(host, 0)
        port, token = int(listener.getsockname()[1]), secrets.token_urlsafe(24)
        app = make_desk_app(self._desk, token, host, port, owns_desk=False)
        config = uvicorn.Config(
            app, log_level="warning", access_log=False, server_header=False, ws="none", timeout_graceful_shutdown=1
        )  # fmt: skip
        self._server = uvicorn.Server(config)
        threading.Thread(target=self._server.run, args=([listener],), daemon=True).start()
        self.address = _address(host, port, token)
        return self.address

    def stop(self) -> None:
        """Close it again."""
        if self._server is not None:
            self._server.should_exit = True
        self._server, self.address = None, ""


def _warm(desk: Desk) -> None:
    """Have the first answers ready before the first click."""
    from blendkit.advice.pairs import find_pair
    from blendkit.desk.drawer_calls import show_drawer
    from blendkit.desk.drawer_edits import On

    try:
        show_drawer(desk, On())
        palette = desk.palette()
        if palette.markers:
            find_pair(palette, palette.markers[0].name, inked=desk.inked())
    except BlendkitError:
        return


def _listen(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    # With the protocol named, asyncio sends small answers at once; without it each would wait some 40 ms.
    listener = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
    except (OSError, OverflowError) as error:
        listener.close()
        found = getattr(error, "strerror", None) or str(error)
        raise BlendkitError(
            f"The desk can't listen on {host}, port {port}.",
            [Problem("--port", found, "another port, or 0 for any that is free")],
        ) from None
    listener.listen(128)
    listener.set_inheritable(True)
    return listener


def _is_loopback(host: str) -> bool:
    import ipaddress

    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False
