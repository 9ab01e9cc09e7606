"""Opening the desk: a free port on this machine, a token, the browser, and a clean end."""

import secrets
import socket
import threading
import webbrowser
from collections.abc import Callable
from pathlib import Path

from blendkit.desk.project_desk import Desk
from blendkit.errors import BlendkitError, Problem


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
    shown_host = f"[{host}]" if ":" in host else ("127.0.0.1" if host == "0.0.0.0" else host)
    address = f"http://{shown_host}:{port}/?token={token}"
    say(f"The desk is open at {address}")
    if not _is_loopback(host):
        say("Careful: other machines on your network can reach this desk if they know the whole address.")
    say("Stop it with Ctrl+C.")
    threading.Thread(target=_warm, args=(desk,), daemon=True).start()
    config = uvicorn.Config(
        app, log_level="warning", access_log=False, server_header=False, lifespan="on", ws="none",
        timeout_keep_alive=30, timeout_graceful_shutdown=3,
    )  # fmt: skip
    if open_browser:
        threading.Timer(0.3, webbrowser.open, [address]).start()
    uvicorn.Server(config).run(sockets=[listener])


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
