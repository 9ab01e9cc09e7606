"""The scrap test: print a chart, read the coloured one back, take readings into the drawer."""

from typing import Any

from blendkit.desk.calls import Call, Field, Given
from blendkit.desk.drawer_looks import show_state
from blendkit.desk.files import File, Upload
from blendkit.desk.looks import shown
from blendkit.desk.session import Desk
from blendkit.errors import BlendkitError, Problem
from blendkit.inked import choose_paper
from blendkit.palette import Palette, Reading, name_key, reading_from_lab
from blendkit.words import describe_colour

_CHART = (
    Field("names", "texts", "markers on it; all when families are left out too", longest=100),
    Field("families", "texts", "families on it", longest=100),
    Field("unmeasured", "yes", "only what has no measurement yet", default=False),
    Field("coats", "whole", "boxes for each marker", default=1, low=1, high=3),
    Field("family_blends", "yes", "a blend strip between neighbours of a family", default=False),
    Field("on", "text", "the paper it is coloured on", longest=100),
    Field("size", "text", "sheet size", default="A4", choices=("A4", "Letter")),
    Field("landscape", "yes", "turned on its side", default=False),
    Field("expected", "yes", "print the colour expected under each box", default=True),
    Field("order", "text", "order of the boxes", default="hue", choices=("hue", "family", "palette")),
)


def _chart(desk: Desk, given: Given) -> Any:
    from blendkit.chart.chart import make_chart

    if not desk.palette().markers:
        raise BlendkitError(
            "There is no marker to put on a chart.",
            [Problem("the drawer", "no marker", "one at least; add it with any rough colour")],
        )
    key = ("chart", *(f"{name}={given[name]}" for name in sorted(given) if name not in ("page", "form")))

    def make() -> Any:
        return make_chart(
            desk.palette(),
            names=given["names"] or (),
            families=given["families"] or (),
            unmeasured=given["unmeasured"],
            coats=given["coats"],
            family_blends=given["family_blends"],
            paper=given["on"],
            paper_size=given["size"],
            landscape=given["landscape"],
            expected=given["expected"],
            order=given["order"],
        )

    return desk.remember(key, make)


def show_chart(desk: Desk, given: Given) -> dict[str, Any]:
    """Give a chart's record: its pages, boxes and notes."""
    return shown(_chart(desk, given))


def show_chart_page(desk: Desk, given: Given) -> File:
    """Give one page of a chart as a picture for the screen."""
    from blendkit.page.page import Sheet, draw_png

    chart = _chart(desk, given)
    pages = chart.sheet.pages
    if not 1 <= given["page"] <= len(pages):
        problem = Problem("page", str(given["page"]), f"1 to {len(pages)}")
        raise BlendkitError("The chart has no such page.", [problem])
    one = Sheet(chart.sheet.title, (pages[given["page"] - 1],))
    return File(draw_png(one, dpi=110.0)[0], "image/png")


def print_chart(desk: Desk, given: Given) -> File:
    """Give a chart as a PDF to print, or its description file."""
    from blendkit.chart.description import chart_file_text
    from blendkit.page.page import draw_pdf

    chart = _chart(desk, given)
    if given["form"] == "description":
        text = chart_file_text(chart.spec)
        return File(text.encode(), "application/json", f"chart-{chart.chart_id}.chart.json")
    return File(draw_pdf(chart.sheet), "application/pdf")


def take_scan(desk: Desk, given: Given, upload: Upload) -> dict[str, Any]:
    """Keep one picture of a coloured chart, or its description file."""
    return {"schema": 1, "file": upload.number, "name": upload.name}


def read_chart(desk: Desk, given: Given) -> dict[str, Any]:
    """Read a coloured chart from the pictures that were sent, in the background."""
    uploads = [desk.uploads.find(number) for number in given["files"]]
    if not uploads:
        raise BlendkitError("There is no picture to read; give at least one photo or scan.")
    chart = None if given["chart"] is None else str(desk.uploads.find(given["chart"]).path)

    def then(result: dict[str, Any]) -> dict[str, Any]:
        views = [desk.uploads.keep("what was found", data, "image/png").number for data in result["contact"]]
        found = {
            "scan": _with_hexes(result["record"]),
            "proposed": _proposed(result["proposed"]),
            "unknown": _newcomers(result["unknown"]),
        }
        return {**shown(found), "views": views}

    job = desk.workshop.start(
        "Read the coloured chart",
        "blendkit.desk.long_work:read_chart_pictures",
        [(str(one.path), one.name) for one in uploads],
        desk.palette(),
        chart,
        given["setup"] or "",
        then=then,
    )
    return {"schema": 1, "job": job.number}


def _with_hexes(record: Any) -> dict[str, Any]:
    from blendkit.colour import lab_to_hex
    from blendkit.records import plain

    data: dict[str, Any] = plain(record)
    for one in data["readings"]:
        one["read"] = {"hex": lab_to_hex(one["lab"])} if one["lab"] else None
        one["expected"] = {"hex": lab_to_hex(one["expected_lab"])} if one["expected_lab"] else None
    return data


def _proposed(proposed: Any) -> list[dict[str, Any]]:
    from blendkit.colour import lab_to_hex
    from blendkit.records import plain

    rows = []
    for one in proposed:
        row = plain(one)
        row["new"] = {"hex": lab_to_hex(one.new_lab)}
        row["old"] = {"hex": lab_to_hex(one.old_lab)} if one.old_lab else None
        rows.append(row)
    return rows


def _newcomers(unknown: Any) -> list[dict[str, Any]]:
    """Give the markers that the drawer lacks, each with what was read of it, fewest coats first."""
    rows: dict[str, list[dict[str, Any]]] = {}
    for row in _proposed(unknown):
        rows.setdefault(name_key(row["marker"]), []).append(row)
    return [_newcomer(sorted(group, key=lambda row: int(row["coats"]))) for group in rows.values()]


def _newcomer(readings: list[dict[str, Any]]) -> dict[str, Any]:
    addable = readings[0]["coats"] == 1
    words = describe_colour(readings[0]["new_lab"])
    return {
        "marker": readings[0]["marker"],
        "coats": [{"coats": row["coats"], "hex": row["new"]["hex"]} for row in readings],
        "addable": addable,
        "words": words if addable else "its box of one coat wasn't read, and the drawer needs that one",
        "readings": readings,
    }


def accept_readings(desk: Desk, given: Given) -> dict[str, Any]:
    """Take readings of a chart that was read into the drawer; the older ones go to the history."""
    from datetime import date

    job = desk.workshop.find(given["job"])
    found = job.result or {}
    if "proposed" not in found:
        raise BlendkitError("That chart has not been read yet.")
    chosen = {(str(one.get("marker")), one.get("coats")) for one in given["accept"]}
    taken = [row for row in found["proposed"] if (row["marker"], row["coats"]) in chosen]
    new = [one for one in found["unknown"] if one["marker"] in given["add"]]
    if not taken and not new:
        raise BlendkitError("No reading was chosen, so nothing was written.")
    for one in new:
        if not one["addable"]:
            problem = Problem(
                one["marker"], "no reading of one coat", "one, from a picture that shows that box"
            )
            raise BlendkitError(f"{one['marker']} can't be added yet.", [problem])
    today = date.today().isoformat()

    def change(palette: Palette) -> Palette:
        for row in taken:
            held = palette.marker(row["marker"]).on or choose_paper(palette, None).name
            moved = given["on"] is not None and name_key(given["on"]) != name_key(held)
            on = given["on"] if moved else None
            palette = palette.with_reading(row["marker"], row["coats"], _reading(row, today), on)
        for one in new:
            first, *more = one["readings"]
            palette = palette.with_marker(one["marker"], _reading(first, today), on=given["on"] or "")
            for row in more:
                palette = palette.with_reading(row["marker"], row["coats"], _reading(row, today))
        return palette

    done = " and ".join(
        [_counted(len(taken), "reading")] * bool(taken) + [_counted(len(new), "new marker")] * bool(new)
    )
    desk.edit(f"take {done} in", change)
    verb = "is" if len(taken) + len(new) == 1 else "are"
    return {**show_state(desk, {}), "done": f"{done} {verb} in the drawer."}


def _reading(row: dict[str, Any], today: str) -> Reading:
    """Give what was read of a box as the palette keeps it."""
    figure = round(row["uncertainty"], 2)
    return reading_from_lab(row["new_lab"], uncertainty=figure, setup=row["setup"], measured=today)


def _counted(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


SCRAP_CALLS = (
    Call("GET", "/chart", "A chart's pages, boxes and notes.", show_chart, _CHART),
    Call(
        "GET",
        "/chart/page",
        "One page of a chart as a picture.",
        show_chart_page,
        (*_CHART, Field("page", "whole", "which", default=1, low=1, high=31)),
        gives="image/png",
    ),
    Call(
        "GET",
        "/chart/print",
        "A chart as a PDF, or its description file.",
        print_chart,
        (*_CHART, Field("form", "text", "what", default="pdf", choices=("pdf", "description"))),
        gives="application/pdf",
    ),
    Call("POST", "/scan/file", "Keep a picture of a coloured chart.", take_scan, takes_file=True),
    Call(
        "POST",
        "/scan",
        "Read a coloured chart from its pictures.",
        read_chart,
        (
            Field("files", "texts", "numbers of the pictures that were sent", required=True, longest=40),
            Field("chart", "text", "number of the chart's description file, if it is at hand", longest=40),
            Field("setup", "text", "a name for this camera and light", default="", longest=100),
        ),
    ),
    Call(
        "POST",
        "/scan/accept",
        "Take readings into the drawer.",
        accept_readings,
        (
            Field("job", "text", "the reading's job", required=True, longest=40),
            Field("accept", "objects", "marker and coats of each reading to take", default=()),
            Field(
                "add",
                "texts",
                "markers on the chart that the drawer lacks, to be added",
                default=(),
                longest=100,
            ),
            Field("on", "text", "the paper that the chart was coloured on", longest=100),
        ),
    ),
)
