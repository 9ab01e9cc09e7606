"""The drawer's calls: everything in it as swatches; the desk opened to other devices. Changes: drawer_edits."""

import io
from typing import Any

from blendkit.advice.gaps import GapAdvice, find_gaps
from blendkit.colour import lab_to_display
from blendkit.desk.calls import Call, ask, question
from blendkit.desk.drawer_edits import (
    Named,
    On,
    Typed,
    add_item,
    change_item,
    import_file,
    measure_item,
    put_version_back,
    reading_of,
    redo,
    remove_item,
    show_versions,
    start_with_demo,
    undo,
)
from blendkit.desk.looks import ARRANGEMENTS, arrange, look_of, marker_looks, show_state, shown
from blendkit.desk.project_desk import Desk
from blendkit.errors import BlendkitError
from blendkit.inked import choose_paper
from blendkit.palette import (
    Marker,
    Paper,
    Reading,
    StampInk,
    name_key,
    read_history,
)
from blendkit.words import describe_colour


@question
class TraysAsked(On):
    """How the drawer is laid out."""

    by: str = ask("by what", default="hue", choices=ARRANGEMENTS)


@question
class ItemAsked(Named, On):
    """One thing on a paper."""


@question
class JobAsked:
    """A piece of long work."""

    job: str = ask("its number", required=True, longest=40)


def show_drawer(desk: Desk, given: On) -> dict[str, Any]:
    """Give everything in the drawer as swatches on a paper."""
    answer: dict[str, Any] = desk.remember(("drawer", given.on or ""), lambda: _drawer(desk, given))
    return answer


def _drawer(desk: Desk, given: On) -> dict[str, Any]:
    version, palette = desk.current()
    paper = choose_paper(palette, given.on)
    others: tuple[Paper | StampInk, ...] = (*palette.papers, *palette.ribbons, *palette.inks)
    return shown(
        {
            "version": version,
            "palette": desk.palette_path.name,
            "on": paper.name,
            "paper": look_of(paper, paper.lab),
            "markers": marker_looks(desk, given.on, palette),
            "others": [look_of(item, item.lab) for item in others],
            "families": sorted({item.family for item in palette.items if item.family}, key=str.casefold),
        }
    )


def show_trays(desk: Desk, given: TraysAsked) -> dict[str, Any]:
    """Give the markers' names in trays."""
    version, palette = desk.current()
    if not palette.markers:
        return shown({"version": version, "by": given.by, "trays": (), "wanted": (), "words": ()})
    gaps = _gaps(desk, given.on) if given.by == "gap" else None
    return shown(
        {
            "version": version,
            "by": given.by,
            "trays": arrange(desk.inked(given.on), given.by, gaps),
            "wanted": gaps.wanted[:12] if gaps else (),
            "words": gaps.words if gaps else (),
        }
    )


def _gaps(desk: Desk, on: str | None) -> GapAdvice:
    gaps = desk.remember(("gaps", on or ""), lambda: find_gaps(desk.palette(), on=on))
    assert isinstance(gaps, GapAdvice)
    return gaps


def show_gaps(desk: Desk, given: On) -> dict[str, Any]:
    """Give what the drawer lacks, as ``blendkit gaps --json`` does."""
    return shown(_gaps(desk, given.on))


def show_item(desk: Desk, given: ItemAsked) -> dict[str, Any]:
    """Give one thing with its readings and what newer ones replaced."""
    palette = desk.palette()
    item = palette.find(given.name)
    if isinstance(item, Marker):
        look = next(
            one for one in marker_looks(desk, given.on, palette) if name_key(one.name) == name_key(item.name)
        )
        readings = item.readings
    else:
        look, readings = look_of(item, item.lab), ((1, item.reading),)
    earlier = read_history(desk.palette_path, item.name) if desk.palette_path.exists() else ()
    views = [_reading_view(coats, reading) for coats, reading in readings]
    rows = [{"replaced": one.replaced, "reason": one.reason, "cells": one.cells} for one in earlier[-12:]]
    return {**shown({"item": look, "readings": views}), "earlier": rows}


def _reading_view(coats: int, reading: Reading) -> dict[str, Any]:
    return {
        "coats": coats,
        "lab": reading.lab,
        "hex": lab_to_display(reading.lab).hex,
        "typed": reading.typed,
        "light": reading.light,
        "observer": reading.observer,
        "uncertainty": reading.uncertainty,
        "setup": reading.setup,
        "measured": reading.measured,
        "has_spectrum": reading.reflectance is not None,
    }


def try_colour(desk: Desk, given: Typed) -> dict[str, Any]:
    """Read a typed colour and show it, without keeping it."""
    reading = reading_of(given)
    display = lab_to_display(reading.lab)
    words = describe_colour(reading.lab)
    return shown({"lab": reading.lab, "hex": display.hex, "mapped": display.mapped, "words": words})


# ---------------------------------------------------------------- long work


def show_job(desk: Desk, given: JobAsked) -> dict[str, Any]:
    """Give how far a piece of long work is, and its answer."""
    return shown(desk.workshop.find(given.job).view)


def stop_job(desk: Desk, given: JobAsked) -> dict[str, Any]:
    """Stop a piece of long work."""
    job = desk.workshop.stop(given.job)
    job.ended.wait(2.0)
    return shown(job.view)


DRAWER_CALLS = (
    Call("GET", "/state", show_state),
    Call("GET", "/drawer", show_drawer),
    Call("GET", "/drawer/trays", show_trays),
    Call("GET", "/gaps", show_gaps),
    Call("GET", "/item", show_item),
    Call("GET", "/colour", try_colour),
    Call("POST", "/items/add", add_item),
    Call("POST", "/items/change", change_item),
    Call("POST", "/items/measure", measure_item),
    Call("POST", "/items/remove", remove_item),
    Call("POST", "/import", import_file),
    Call("POST", "/demo", start_with_demo),
    Call("POST", "/undo", undo),
    Call("POST", "/redo", redo),
    Call("GET", "/versions", show_versions),
    Call("POST", "/versions/restore", put_version_back),
    Call("GET", "/job", show_job),
    Call("POST", "/job/stop", stop_job),
)


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
