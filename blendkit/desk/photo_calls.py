"""Photos: a colour picked by a click, and the main colours with what in the drawer makes them."""

from typing import Any

from blendkit.advice.likeness import LikenessAdvice, find_likenesses
from blendkit.art.photo import MAX_ACCENTS, MAX_MAIN, MainColours
from blendkit.colour import lab_to_display
from blendkit.desk.calls import Call, Place, ask, question
from blendkit.desk.drawer_edits import On
from blendkit.desk.files import File, Upload
from blendkit.desk.looks import shown
from blendkit.desk.project_desk import Desk
from blendkit.errors import BlendkitError, Problem
from blendkit.words import describe_colour

_VIEW_PX = 1400
_PICK_SHARE = 0.004
"""Half the side of the square that a click takes the mean of, as a share of the picture's longer side."""


@question
class FileAsked:
    """A file that the desk keeps."""

    file: str = ask("number of a file that was sent", required=True, longest=40)


@question
class PickAsked(FileAsked):
    """A place in a picture."""

    x: float = ask("share of the width", required=True, low=0.0, high=1.0)
    y: float = ask("share of the height", required=True, low=0.0, high=1.0)


@question
class PhotoAsked(FileAsked, On):
    """A photo whose colours are wanted."""

    count: int = ask("most main colours", default=6, low=1, high=MAX_MAIN)
    accents: int = ask("most small vivid colours", default=3, low=0, high=MAX_ACCENTS)
    grey: Place | None = ask("a spot that is neutral grey in truth, [x, y] as shares")
    white: Place | None = ask("a spot that is white paper in truth, [x, y] as shares")


def take_picture(desk: Desk, upload: Upload) -> dict[str, Any]:
    """Keep a picture, and read it in the background."""

    def then(result: dict[str, Any]) -> dict[str, Any]:
        view = desk.uploads.keep(f"{upload.name} (small)", result.pop("view"), "image/jpeg")
        return {**result, "file": upload.number, "view": view.number}

    job = desk.workshop.start(
        f"Open {upload.name}",
        "blendkit.desk.long_work:prepare_picture",
        str(upload.path),
        upload.name,
        _VIEW_PX,
        then=then,
    )
    return {"schema": 1, "file": upload.number, "job": job.number}


def show_view(desk: Desk, given: FileAsked) -> File:
    """Give a picture or sheet that the desk made; a file that was sent is never sent back."""
    upload = desk.uploads.find(given.file)
    if not upload.media_type:
        problem = Problem("file", upload.name, "a file that the desk made")
        raise BlendkitError("That file was sent to the desk, so it is not shown.", [problem])
    # An SVG can hold script, so it is saved rather than shown.
    name = upload.name if upload.media_type == "image/svg+xml" else ""
    return File(upload.path.read_bytes(), upload.media_type, name)


def pick_colour(desk: Desk, given: PickAsked) -> dict[str, Any]:
    """Give the colour of a place in a picture: the mean of a few pixels, in light."""
    from blendkit.colour import xyz1_to_lab

    upload = desk.uploads.find(given.file)
    picture = desk.picture(upload)
    height, width = picture.height_px, picture.width_px
    reach = max(1, round(max(height, width) * _PICK_SHARE))
    x, y = round(given.x * (width - 1)), round(given.y * (height - 1))
    pixels = picture.pixels[max(0, y - reach) : y + reach + 1, max(0, x - reach) : x + reach + 1]
    lab = xyz1_to_lab(picture.to_xyz1_d50(pixels).reshape(-1, 3).mean(axis=0))
    display = lab_to_display(lab)
    return shown({"lab": lab, "hex": display.hex, "mapped": display.mapped, "words": describe_colour(lab)})


def find_colours(desk: Desk, given: PhotoAsked) -> dict[str, Any]:
    """Find a photo's main colours, in the background; the result holds what in the drawer makes each."""
    upload = desk.uploads.find(given.file)

    def then(result: dict[str, Any]) -> dict[str, Any]:
        view = desk.uploads.keep(f"{upload.name} (balanced)", result["view"], "image/jpeg")
        found = result["found"]
        return shown(
            {
                "photo": found,
                "view": view.number,
                "file": upload.number,
                "made": _made(desk, found, given.on),
            }
        )

    job = desk.workshop.start(
        f"Colours of {upload.name}",
        "blendkit.desk.long_work:find_photo_colours",
        str(upload.path),
        upload.name,
        given.count,
        given.accents,
        given.grey,
        given.white,
        then=then,
    )
    return {"schema": 1, "job": job.number}


def _made(desk: Desk, found: MainColours, on: str | None) -> LikenessAdvice | None:
    """What in the drawer makes each colour, as ``blendkit photo --json`` says it; None for an empty drawer."""
    palette = desk.palette()
    if not palette.markers:
        return None
    colours = [(f"colour {number}", one.lab) for number, one in enumerate(found.colours, start=1)]
    return find_likenesses(palette, colours, on=on, inked=desk.inked(on))


PHOTO_CALLS = (
    Call("POST", "/picture", take_picture),
    Call("GET", "/file", show_view, gives="image/jpeg"),
    Call("GET", "/picture/colour", pick_colour),
    Call("POST", "/photo", find_colours),
)
