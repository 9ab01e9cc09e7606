"""The calls that open the desk to another device of the network, and close it again."""

import io
from typing import Any

from blendkit.desk.calls import Call
from blendkit.desk.project_desk import Desk
from blendkit.errors import BlendkitError


def show_sharing(desk: Desk) -> dict[str, Any]:
    """Tell whether other devices can use this desk, and at what address."""
    address = desk.sharing.address if desk.sharing else ""
    return {"schema": 1, "address": address, "code": _code(address) if address else ""}


def start_sharing(desk: Desk) -> dict[str, Any]:
    """Open the desk to other devices of this network."""
    if desk.sharing is None:
        raise BlendkitError("This desk can't be opened to other devices.")
    desk.sharing.start()
    return show_sharing(desk)


def stop_sharing(desk: Desk) -> dict[str, Any]:
    """Close the desk to other devices."""
    if desk.sharing is not None:
        desk.sharing.stop()
    return show_sharing(desk)


def _code(address: str) -> str:
    """The address as a QR code (ISO/IEC 18004), SVG."""
    import segno

    out = io.BytesIO()
    segno.make(address, error="m", micro=False).save(
        out, kind="svg", scale=6, border=4, light="#fff", xmldecl=False
    )
    return out.getvalue().decode()


SHARE_CALLS = (
    Call("GET", "/share", show_sharing),
    Call("POST", "/share/start", start_sharing),
    Call("POST", "/share/stop", stop_sharing),
)
