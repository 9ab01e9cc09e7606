"""Pairs: companions of a colour with everything that one look at them needs, and layering orders."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from blendkit.advice.order import STYLES, find_order, predict_layers
from blendkit.advice.pairs import find_pair
from blendkit.advice.shading_series import DEFAULT_WINDOW, LEANS, Taste, predict_series
from blendkit.colour import lab_to_lch
from blendkit.desk.calls import Call, ask, question
from blendkit.desk.drawer_edits import On
from blendkit.desk.looks import hexes_of, shown
from blendkit.desk.project_desk import Desk
from blendkit.inked import find_colour
from blendkit.words import describe_colour


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
