"""Papers, pairs and photos.

Papers: verdicts, schemes, and how their colours look under a light and to other eyes. Pairs: companions of a
colour with everything that one look at them needs, and layering orders. Photos: a colour picked by a click,
and the main colours with what in the drawer makes them.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendkit.advice.likeness import LikenessAdvice, find_likenesses
from blendkit.advice.order import HOWS, STYLES, find_order, predict_layers
from blendkit.advice.pairs import find_pair
from blendkit.advice.papers import find_matches
from blendkit.advice.schemes import RELATIONS, find_schemes
from blendkit.advice.shading_series import DEFAULT_WINDOW, LEANS, Taste, predict_series
from blendkit.art.photo import MAX_ACCENTS, MAX_MAIN, MainColours
from blendkit.colour import lab_to_display, lab_to_lch
from blendkit.desk.calls import Call, Place, ask, question
from blendkit.desk.drawer_edits import On
from blendkit.desk.files import File, Upload
from blendkit.desk.looks import EYES, hexes_of, light_tint, look_under, shown, text_on
from blendkit.desk.project_desk import Desk
from blendkit.errors import BlendkitError, Problem
from blendkit.inked import find_colour
from blendkit.palette import Marker
from blendkit.spectrum import LIGHTS
from blendkit.words import describe_colour

MATCHED = ("paper", "ribbon", "ink")
"""Kinds of things that a colour is matched with."""


@question
class SchemesAsked(On):
    """Image colours that want papers."""

    colours: tuple[str, ...] = ask("image colours, the most important first", required=True, longest=120)
    relations: tuple[str, ...] = ask("only these relations", default=(), choices=tuple(RELATIONS))
    large_greeting: bool = ask("judge the greeting as large text", default=False)
    count: int = ask("schemes", default=6, low=1, high=18)


@question
class MatchAsked(On):
    """A colour that is matched."""

    colour: str = ask("a name of the palette or a typed colour", required=True, longest=120)
    kinds: tuple[str, ...] = ask("which kinds", default=MATCHED, choices=MATCHED)
    count: int = ask("how many", default=12, low=1, high=400)


@question
class LooksAsked(On):
    """Colours under a light."""

    names: tuple[str, ...] = ask("names of the palette or typed colours", required=True, longest=120)
    light: str = ask("the light", default="D65", choices=tuple(LIGHTS))
    vision: str = ask("the kind of eyes", default="", choices=tuple(EYES))


def show_schemes(desk: Desk, given: SchemesAsked) -> dict[str, Any]:
    """Give base, mat and accent papers for image colours, as ``blendkit papers --json`` does."""
    colours = given.colours
    relations = given.relations
    large = given.large_greeting

    def find() -> dict[str, Any]:
        advice = find_schemes(
            desk.palette(),
            colours,
            on=given.on,
            relations=relations or None,
            large_greeting=large,
            count=given.count,
            inked=desk.inked(given.on),
        )
        return shown(advice)

    key = ("schemes", *colours, "in", *relations, str(large), str(given.count), given.on or "")
    answer: dict[str, Any] = desk.remember(key, find)
    return answer


def show_matches(desk: Desk, given: MatchAsked) -> dict[str, Any]:
    """Give papers, ribbons and inks against a colour, as ``blendkit match --json`` does."""
    return shown(
        find_matches(
            desk.palette(),
            given.colour,
            on=given.on,
            kinds=given.kinds,
            count=given.count,
            inked=desk.inked(given.on),
        )
    )


def show_looks(desk: Desk, given: LooksAsked) -> dict[str, Any]:
    """Give colours as they look under a light, to eyes of a kind; a marker also with a second coat."""
    inked = desk.inked(given.on)
    names = list(dict.fromkeys(given.names))
    once: list[Any] = []
    twice: list[Any] = []
    for name in names:
        asked = find_colour(inked, name)
        once.append(
            asked.item.reading
            if asked.item is not None and not isinstance(asked.item, Marker)
            else asked.reflectance
        )
        twice.append(inked.after(inked.lay_asked([asked] * 2))[-1])
    light, vision = given.light, given.vision
    hexes = look_under(once, light, vision)
    deeper = look_under(twice, light, vision)
    return {
        "schema": 1,
        "light": light,
        "vision": vision,
        "wall": light_tint(light),
        "colours": {
            name: {"hex": one, "text": text, "deeper": deep}
            for name, one, text, deep in zip(names, hexes, text_on(hexes), deeper, strict=True)
        },
    }


PAPERS_CALLS = (
    Call("GET", "/papers", show_schemes),
    Call("GET", "/match", show_matches),
    Call("GET", "/looks", show_looks),
)


@question
class Tasted(On):
    """Which way a shadow leans and how far it steps."""

    lean: str = ask("which way the shadow leans", default="none", choices=tuple(LEANS))
    low: float = ask("smallest step of L*", default=DEFAULT_WINDOW[0], low=1.0, high=99.0)
    high: float = ask("largest step of L*", default=DEFAULT_WINDOW[1], low=2.0, high=100.0)


@question
class PairAsked(Tasted):
    """A colour whose companions are wanted."""

    colour: str = ask("a name of the palette or a typed colour", required=True, longest=120)
    count: int = ask("companions of each kind", default=5, low=1, high=20)
    all_ways: bool = ask("also coats, over and under where a marker fits", default=True)


@question
class OrderAsked(Tasted):
    """A part that is to be coloured."""

    base: str = ask("the part's light marker or colour", required=True, longest=120)
    shadows: tuple[str, ...] = ask("its shadows; none to let the drawer choose", default=(), longest=120)
    style: str = ask("the way of working", default=STYLES[0], choices=STYLES)
    how: str = ask("how a named shadow is laid", default=HOWS[0], choices=HOWS)
    blender: tuple[str, ...] = ask("what a colourless blender does", default=(), longest=10)


@question
class LayerAsked(On):
    """A stack of markers."""

    markers: tuple[str, ...] = ask("markers, first laid first", required=True, longest=120)


def _taste(given: Tasted) -> Taste:
    return Taste((given.low, given.high), given.lean)


def show_pair(desk: Desk, given: PairAsked) -> dict[str, Any]:
    """Give the companions of a colour, as ``blendkit pair --json`` does, and its place on the plot."""
    version, palette = desk.current()
    inked = desk.inked(given.on)
    taste = _taste(given)
    advice = find_pair(
        palette,
        given.colour,
        on=given.on,
        taste=taste,
        count=given.count,
        all_ways=given.all_ways,
        inked=inked,
    )
    lab = np.array(advice.base.lab)
    line = predict_series(lab, np.linspace(lab[0], 2.0, 24), taste.lean)
    return {
        **shown(advice),
        "version": version,
        "words_for_base": describe_colour(lab),
        "is_marker": find_colour(inked, given.colour).row is not None,
        "plot": {
            "series": _places(line),
            "series_hex": hexes_of(line),
        },
    }


def _places(labs: NDArray[np.float64]) -> list[list[float]]:
    """Chroma and lightness of each colour, shape (n, 3), for the plot."""
    return [[round(float(lch[1]), 2), round(float(lch[0]), 2)] for lch in lab_to_lch(labs)]


def show_order(desk: Desk, given: OrderAsked) -> dict[str, Any]:
    """Give the steps from the dry outline to the blended part, as ``blendkit order --json`` does."""
    order = find_order(
        desk.palette(),
        given.base,
        given.shadows,
        on=given.on,
        style=given.style,
        taste=_taste(given),
        how=given.how,
        blender=given.blender,
        inked=desk.inked(given.on),
    )
    return shown(order)


def show_layers(desk: Desk, given: LayerAsked) -> dict[str, Any]:
    """Give the colour after each coat of a stack, as ``blendkit layer --json`` does."""
    return shown(predict_layers(desk.palette(), given.markers, on=given.on, inked=desk.inked(given.on)))


PAIR_CALLS = (
    Call("GET", "/pair", show_pair),
    Call("GET", "/order", show_order),
    Call("GET", "/layer", show_layers),
)


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
        "blendkit.desk.jobs:prepare_picture",
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
        "blendkit.desk.jobs:find_photo_colours",
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
