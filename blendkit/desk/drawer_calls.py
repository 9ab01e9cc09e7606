"""The drawer's calls: everything in it as swatches; its changes are in drawer_edits."""

from typing import Any

from blendkit.advice.gaps import GapAdvice, find_gaps
from blendkit.colour import lab_to_display
from blendkit.desk.arrangement import ARRANGEMENTS, arrange
from blendkit.desk.calls import Call, Field, Given
from blendkit.desk.drawer_edits import (
    add_item,
    change_item,
    import_file,
    measure_item,
    put_version_back,
    reading_from_text,
    redo,
    remove_item,
    show_versions,
    start_with_demo,
    undo,
)
from blendkit.desk.drawer_looks import look_of, marker_looks, show_state
from blendkit.desk.looks import shown
from blendkit.desk.session import Desk
from blendkit.inked import choose_paper
from blendkit.palette import (
    FINISHES,
    KINDS,
    MAX_COATS,
    Marker,
    Paper,
    Reading,
    StampInk,
    name_key,
    read_history,
)
from blendkit.spectrum import LIGHTS
from blendkit.words import describe_colour

ON = Field("on", "text", "the paper that is coloured on; the one under most swatches when left out")
NAME = Field("name", "text", "a name of the palette", required=True)
WAS = Field(
    "was", "text", "the fingerprint of the thing as the person saw it; another one is refused", longest=64
)
COLOUR = Field("colour", "text", "#rrggbb, lab(L a b), oklch(L C h) or L, a, b", longest=120)
_MEASURED = (
    Field("light", "text", "light of a measured Lab", default="D50", choices=tuple(LIGHTS)),
    Field("observer", "whole", "observer of a measured Lab, 2 or 10 degree", default=2, low=2, high=10),
    Field("uncertainty", "number", "CIEDE2000 within which it is trusted", low=0.0, high=20.0),
    Field("setup", "text", "how it was measured", default=""),
)
_DETAILS = (
    Field("family", "text", "the light / dark family", longest=100),
    Field("finish", "text", "how it shines", choices=FINISHES),
    Field("note", "text", "the owner's words", longest=1000),
    Field("on_paper", "text", "the paper under its swatch", longest=100),
    Field("coat_limit", "whole", "coats that the paper takes", low=1, high=20),
)


def show_drawer(desk: Desk, given: Given) -> dict[str, Any]:
    """Give everything in the drawer as swatches on a paper."""
    answer: dict[str, Any] = desk.remember(("drawer", given["on"] or ""), lambda: _drawer(desk, given))
    return answer


def _drawer(desk: Desk, given: Given) -> dict[str, Any]:
    version, palette = desk.current()
    paper = choose_paper(palette, given["on"])
    others: tuple[Paper | StampInk, ...] = (*palette.papers, *palette.ribbons, *palette.inks)
    return shown(
        {
            "version": version,
            "palette": desk.palette_path.name,
            "on": paper.name,
            "paper": look_of(paper, paper.lab),
            "markers": marker_looks(desk, given["on"], palette),
            "others": [look_of(item, item.lab) for item in others],
            "families": sorted({item.family for item in palette.items if item.family}, key=str.casefold),
        }
    )


def show_trays(desk: Desk, given: Given) -> dict[str, Any]:
    """Give the markers' names in trays."""
    version, palette = desk.current()
    if not palette.markers:
        return shown({"version": version, "by": given["by"], "trays": (), "wanted": (), "words": ()})
    gaps = _gaps(desk, given["on"]) if given["by"] == "gap" else None
    return shown(
        {
            "version": version,
            "by": given["by"],
            "trays": arrange(desk.inked(given["on"]), given["by"], gaps),
            "wanted": gaps.wanted[:12] if gaps else (),
            "words": gaps.words if gaps else (),
        }
    )


def _gaps(desk: Desk, on: str | None) -> GapAdvice:
    gaps = desk.remember(("gaps", on or ""), lambda: find_gaps(desk.palette(), on=on))
    assert isinstance(gaps, GapAdvice)
    return gaps


def show_gaps(desk: Desk, given: Given) -> dict[str, Any]:
    """Give what the drawer lacks, as ``blendkit gaps --json`` does."""
    return shown(_gaps(desk, given["on"]))


def show_item(desk: Desk, given: Given) -> dict[str, Any]:
    """Give one thing with its readings and what newer ones replaced."""
    palette = desk.palette()
    item = palette.find(given["name"])
    if isinstance(item, Marker):
        look = next(
            one
            for one in marker_looks(desk, given["on"], palette)
            if name_key(one.name) == name_key(item.name)
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


def try_colour(desk: Desk, given: Given) -> dict[str, Any]:
    """Read a typed colour and show it, without keeping it."""
    reading = reading_from_text(given["colour"], given["light"], given["observer"])
    display = lab_to_display(reading.lab)
    words = describe_colour(reading.lab)
    return shown({"lab": reading.lab, "hex": display.hex, "mapped": display.mapped, "words": words})


# ---------------------------------------------------------------- long work


def show_job(desk: Desk, given: Given) -> dict[str, Any]:
    """Give how far a piece of long work is, and its answer."""
    return shown(desk.workshop.find(given["job"]).view)


def stop_job(desk: Desk, given: Given) -> dict[str, Any]:
    """Stop a piece of long work."""
    job = desk.workshop.stop(given["job"])
    job.ended.wait(2.0)
    return shown(job.view)


_JOB = Field("job", "text", "its number", required=True, longest=40)

DRAWER_CALLS = (
    Call("GET", "/state", "Which palette is open, its version on disk, what can be taken back.", show_state),
    Call("GET", "/drawer", "Everything in the drawer as swatches on a paper.", show_drawer, (ON,)),
    Call(
        "GET",
        "/drawer/trays",
        "The markers in trays.",
        show_trays,
        (ON, Field("by", "text", "by what", default="hue", choices=ARRANGEMENTS)),
    ),
    Call("GET", "/gaps", "What the drawer lacks; the record of blendkit gaps --json.", show_gaps, (ON,)),
    Call("GET", "/item", "One thing with its readings and their history.", show_item, (NAME, ON)),
    Call(
        "GET", "/colour", "A typed colour, shown and not kept.", try_colour,
        (Field("colour", "text", COLOUR.words, required=True, longest=120), *_MEASURED[:2]),
    ),
    Call(
        "POST",
        "/items/add",
        "Add a marker, paper, ribbon or ink.",
        add_item,
        (
            Field("name", "text", "its new name", required=True, longest=100),
            Field("kind", "text", "what it is", default="marker", choices=tuple(KINDS)),
            Field("colour", "text", COLOUR.words, required=True, longest=120),
            *_MEASURED,
            *_DETAILS,
        ),
    ),
    Call(
        "POST",
        "/items/change",
        "Change a thing's name and words.",
        change_item,
        (NAME, WAS, Field("new_name", "text", "a new name", longest=100), *_DETAILS),
    ),
    Call(
        "POST",
        "/items/measure",
        "Keep a newer measurement of a thing.",
        measure_item,
        (
            NAME,
            WAS,
            Field("coats", "whole", "coats of the swatch", default=1, low=1, high=MAX_COATS),
            Field("colour", "text", COLOUR.words, required=True, longest=120),
            Field("on_paper", "text", "the paper under the swatch", longest=100),
            *_MEASURED,
        ),
    ),
    Call("POST", "/items/remove", "Take a thing out of the drawer.", remove_item, (NAME, WAS)),
    Call(
        "POST",
        "/import",
        "Read a palette or exchange file, and add its things when asked.",
        import_file,
        (
            Field("kind", "text", "what its colours are, if unsaid", default="marker", choices=tuple(KINDS)),
            Field("on", "text", "the sample in it that is the bare paper", longest=100),
            Field("keep", "yes", "whether to add them to the drawer", default=False),
        ),
        takes_file=True,
    ),
    Call("POST", "/demo", "Fill an empty drawer with the invented demo palette.", start_with_demo),
    Call("POST", "/undo", "Take the last change of the drawer back.", undo),
    Call("POST", "/redo", "Do again what was taken back.", redo),
    Call("GET", "/versions", "Earlier versions of the palette file.", show_versions),
    Call("POST", "/versions/restore", "Put an earlier version back.", put_version_back, (NAME,)),
    Call("GET", "/job", "How far a piece of long work is, and its answer.", show_job, (_JOB,)),
    Call("POST", "/job/stop", "Stop a piece of long work.", stop_job, (_JOB,)),
)  # fmt: skip
