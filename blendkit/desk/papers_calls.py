"""Papers: verdicts, schemes, and how their colours look under a light and to other eyes."""

from typing import Any

from blendkit.advice.papers import find_matches
from blendkit.advice.schemes import RELATIONS, find_schemes
from blendkit.desk.calls import Call, ask, question
from blendkit.desk.drawer_edits import On
from blendkit.desk.looks import EYES, light_tint, look_under, shown, text_on
from blendkit.desk.project_desk import Desk
from blendkit.inked import find_colour
from blendkit.palette import Marker
from blendkit.spectrum import LIGHTS

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
