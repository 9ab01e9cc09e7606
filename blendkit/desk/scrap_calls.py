"""The scrap test: print a chart, read the coloured one back, take readings into the drawer."""

from datetime import date
from typing import Any, Literal

from blendkit.chart.content import Order
from blendkit.desk.calls import Call, ask, fields_of, question
from blendkit.desk.files import File, Upload
from blendkit.desk.looks import show_state, shown
from blendkit.desk.project_desk import Desk
from blendkit.errors import BlendkitError, Problem
from blendkit.palette import name_key
from blendkit.palette.taking import NewReading, take_readings
from blendkit.words import count_of, describe_colour, finding_words


@question
class ChartAsked:
    """What a chart is to hold."""

    names: tuple[str, ...] = ask("markers on it; all when families are left out too", default=(), longest=100)
    families: tuple[str, ...] = ask("families on it", default=(), longest=100)
    unmeasured: bool = ask("only what has no measurement yet", default=False)
    coats: int = ask("boxes for each marker", default=1, low=1, high=3)
    lifts: bool = ask("for each marker a box for one coat, then the blender", default=False)
    family_blends: bool = ask("a blend strip between neighbours of a family", default=False)
    on: str | None = ask("the paper it is coloured on", longest=100)
    size: Literal["A4", "Letter"] = ask("sheet size", default="A4")
    landscape: bool = ask("turned on its side", default=False)
    expected: bool = ask("print the colour expected under each box", default=True)
    order: Order = ask("order of the boxes", default="hue")


@question
class PageAsked(ChartAsked):
    """One page of a chart."""

    page: int = ask("which", default=1, low=1, high=31)


@question
class PrintAsked(ChartAsked):
    """A chart as a file."""

    form: str = ask("what", default="pdf", choices=("pdf", "description"))


@question
class ScanAsked:
    """Pictures of a coloured chart."""

    files: tuple[str, ...] = ask("numbers of the pictures that were sent", required=True, longest=40)
    chart: str | None = ask("number of the chart's description file, if it is at hand", longest=40)
    setup: str = ask("a name for this camera and light", default="", longest=100)


@question
class TakeAsked:
    """Readings that are to be kept."""

    job: str = ask("the reading's job", required=True, longest=40)
    accept: tuple[dict[str, object], ...] = ask("marker and coats of each reading to take", default=())
    lifts: tuple[str, ...] = ask("markers whose lift by the blender is taken", default=(), longest=100)
    add: tuple[str, ...] = ask("markers that the drawer lacks, to be added", default=(), longest=100)
    mended: bool = ask("that markers which look swapped or shifted are put right", default=False)
    unlikely: bool = ask("that a person was asked about what is most unlikely", default=False)
    on: str | None = ask("the paper that the chart was coloured on", longest=100)


def _chart(desk: Desk, given: ChartAsked) -> Any:
    from blendkit.chart.chart import make_chart

    if not desk.palette().markers:
        raise BlendkitError(
            "There is no marker to put on a chart.",
            [Problem("the drawer", "no marker", "one at least; add it with any rough colour")],
        )
    held = {field.name: getattr(given, field.name) for field in fields_of(ChartAsked)}
    key = ("chart", *(f"{name}={value}" for name, value in held.items()))

    def make() -> Any:
        return make_chart(
            desk.palette(),
            names=given.names,
            families=given.families,
            unmeasured=given.unmeasured,
            coats=given.coats,
            lifts=given.lifts,
            family_blends=given.family_blends,
            paper=given.on,
            paper_size=given.size,
            landscape=given.landscape,
            expected=given.expected,
            order=given.order,
        )

    return desk.remember(key, make)


def show_chart(desk: Desk, given: ChartAsked) -> dict[str, Any]:
    """Give a chart's record: its pages, boxes and notes."""
    return shown(_chart(desk, given))


def show_chart_page(desk: Desk, given: PageAsked) -> File:
    """Give one page of a chart as a picture for the screen."""
    from blendkit.page.page import Document, draw_png

    chart = _chart(desk, given)
    pages = chart.sheet.pages
    if not 1 <= given.page <= len(pages):
        problem = Problem("page", str(given.page), f"1 to {len(pages)}")
        raise BlendkitError("The chart has no such page.", [problem])
    one = Document(chart.sheet.title, (pages[given.page - 1],))
    return File(draw_png(one, dpi=110.0)[0], "image/png")


def print_chart(desk: Desk, given: PrintAsked) -> File:
    """Give a chart as a PDF to print, or its description file."""
    from blendkit.chart.description import chart_file_text
    from blendkit.page.page import draw_pdf

    chart = _chart(desk, given)
    if given.form == "description":
        text = chart_file_text(chart.spec)
        return File(text.encode(), "application/json", f"chart-{chart.chart_id}.chart.json")
    return File(draw_pdf(chart.sheet), "application/pdf")


def take_scan(desk: Desk, upload: Upload) -> dict[str, Any]:
    """Keep one picture of a coloured chart, or its description file."""
    return {"schema": 1, "file": upload.number, "name": upload.name}


def read_chart(desk: Desk, given: ScanAsked) -> dict[str, Any]:
    """Read a coloured chart from the pictures that were sent, in the background."""
    uploads = [desk.uploads.find(number) for number in given.files]
    if not uploads:
        raise BlendkitError("There is no picture to read; give at least one photo or scan.")
    chart = None if given.chart is None else str(desk.uploads.find(given.chart).path)

    def then(result: dict[str, Any]) -> dict[str, Any]:
        views = [desk.uploads.keep("what was found", data, "image/png").number for data in result["contact"]]
        found = {
            "scan": _with_hexes(result["record"]),
            "findings": [
                finding_words(one.kind, one.boxes, one.amount, one.markers, one.instead)
                for one in result["record"].findings
            ],
            "proposed": _proposed(result["proposed"]),
            "mended": _proposed(result["mended"]),
            "unknown": _newcomers(result["unknown"]),
            "lifts": _lifts(result["lifts"]),
        }
        return {**shown(found), "views": views}

    job = desk.workshop.start(
        "Read the coloured chart",
        "blendkit.desk.jobs:read_chart_pictures",
        [(str(one.path), one.name) for one in uploads],
        desk.palette(),
        chart,
        given.setup,
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


def _lifts(lifts: Any) -> list[dict[str, Any]]:
    from blendkit.colour import lab_to_hex
    from blendkit.records import plain

    return [
        {
            **plain(one),
            "coat": {"hex": lab_to_hex(one.coat_lab)},
            "lifted": {"hex": lab_to_hex(one.lifted_lab)},
        }
        for one in lifts
    ]


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


def accept_readings(desk: Desk, given: TakeAsked) -> dict[str, Any]:
    """Take readings of a chart that was read into the drawer; the older ones go to the history."""
    job = desk.workshop.find(given.job)
    found = job.result or {}
    if "proposed" not in found:
        raise BlendkitError("That chart has not been read yet.")
    chosen = {(str(one.get("marker")), one.get("coats")) for one in given.accept}
    taken = [
        row
        for row in found["mended" if given.mended else "proposed"]
        if (row["marker"], row["coats"]) in chosen
    ]
    new = [one for one in found["unknown"] if one["marker"] in given.add]
    lifts = {one["marker"]: one["lift"] for one in found["lifts"] if one["marker"] in given.lifts}
    if not taken and not new and not lifts:
        raise BlendkitError("No reading was chosen, so nothing was written.")
    for one in new:
        if not one["addable"]:
            problem = Problem(
                one["marker"], "no reading of one coat", "one, from a picture that shows that box"
            )
            raise BlendkitError(f"{one['marker']} can't be added yet.", [problem])
    rows = [*taken, *(row for one in new for row in one["readings"])]
    doubted = [row for row in rows if row["ask"]]
    if doubted and not given.unlikely:
        raise BlendkitError(
            "What is most unlikely is only taken when a person says so.",
            [Problem(row["marker"], "a most unlikely reading", "a look at the box") for row in doubted[:5]],
        )
    readings = [
        NewReading(row["marker"], row["coats"], row["new_lab"], row["uncertainty"], row["setup"])
        for row in rows
    ]
    on, today = given.on or "", date.today().isoformat()
    done = " and ".join(
        [count_of(len(taken) + len(lifts), "reading")] * bool(taken or lifts)
        + [count_of(len(new), "new marker")] * bool(new)
    )
    desk.edit(
        f"{done} from {found['scan'].get('title') or 'a chart'}",
        lambda palette: take_readings(palette, readings, on=on, measured=today, lifts=lifts),
    )
    verb = "is" if len(taken) + len(lifts) + len(new) == 1 else "are"
    return {**show_state(desk), "done": f"{done} {verb} in the drawer."}


SCRAP_CALLS = (
    Call("GET", "/chart", show_chart),
    Call("GET", "/chart/page", show_chart_page, gives="image/png"),
    Call("GET", "/chart/print", print_chart, gives="application/pdf"),
    Call("POST", "/scan/file", take_scan),
    Call("POST", "/scan", read_chart),
    Call("POST", "/scan/accept", accept_readings),
)
