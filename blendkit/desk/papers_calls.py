"""Papers: verdicts, schemes, and how their colours look under a light and to other eyes."""

from typing import Any

from blendkit.advice.papers import find_matches
from blendkit.advice.schemes import RELATIONS, find_schemes
from blendkit.desk.calls import Call, Field, Given
from blendkit.desk.drawer_calls import ON
from blendkit.desk.looks import EYES, light_tint, look_under, shown, text_on
from blendkit.desk.session import Desk
from blendkit.inked import find_colour
from blendkit.palette import Marker
from blendkit.spectrum import LIGHTS


def show_schemes(desk: Desk, given: Given) -> dict[str, Any]:
    """Give base, mat and accent papers for image colours, as ``blendkit papers --json`` does."""
    colours = tuple(given["colours"])
    relations = tuple(given["relations"] or ())
    large = bool(given["large_greeting"])

    def find() -> dict[str, Any]:
        advice = find_schemes(
            desk.palette(),
            colours,
            on=given["on"],
            relations=relations or None,
            large_greeting=large,
            count=given["count"],
            inked=desk.inked(given["on"]),
        )
        return shown(advice)

    key = ("schemes", *colours, "in", *relations, str(large), str(given["count"]), given["on"] or "")
    answer: dict[str, Any] = desk.remember(key, find)
    return answer


def show_matches(desk: Desk, given: Given) -> dict[str, Any]:
    """Give papers, ribbons and inks against a colour, as ``blendkit match --json`` does."""
    return shown(
        find_matches(
            desk.palette(),
            given["colour"],
            on=given["on"],
            kinds=tuple(given["kinds"] or ("paper", "ribbon", "ink")),
            count=given["count"],
            inked=desk.inked(given["on"]),
        )
    )


def show_looks(desk: Desk, given: Given) -> dict[str, Any]:
    """Give colours as they look under a light, to eyes of a kind; a marker also with a second coat."""
    inked = desk.inked(given["on"])
    names = list(dict.fromkeys(given["names"]))
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
    light, vision = given["light"], given["vision"]
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
    Call(
        "GET",
        "/papers",
        "Base, mat and accent for image colours; the record of blendkit papers --json.",
        show_schemes,
        (
            Field("colours", "texts", "image colours, the most important first", required=True, longest=120),
            ON,
            Field("relations", "texts", "only these relations", choices=tuple(RELATIONS)),
            Field("large_greeting", "yes", "judge the greeting as large text", default=False),
            Field("count", "whole", "schemes", default=6, low=1, high=18),
        ),
    ),
    Call(
        "GET",
        "/match",
        "Papers, ribbons and inks against a colour; the record of blendkit match --json.",
        show_matches,
        (
            Field("colour", "text", "a name of the palette or a typed colour", required=True, longest=120),
            ON,
            Field("kinds", "texts", "which kinds", choices=("paper", "ribbon", "ink")),
            Field("count", "whole", "how many", default=12, low=1, high=400),
        ),
    ),
    Call(
        "GET",
        "/looks",
        "Colours under a light, to eyes of a kind.",
        show_looks,
        (
            Field("names", "texts", "names of the palette or typed colours", required=True, longest=120),
            ON,
            Field("light", "text", "the light", default="D65", choices=tuple(LIGHTS)),
            Field("vision", "text", "the kind of eyes", default="", choices=tuple(EYES)),
        ),
    ),
)
