"""What a part is made of, and how that takes light: skin, fur, hair, cloth, metal and the like.

A colourist shades each thing of its own stuff: no gloss on knit, a band on hair, a hard spark on metal. The shares
and depths are common practice with no source; each was set by eye on the examples.
"""

import re
from dataclasses import dataclass
from functools import lru_cache


@dataclass(frozen=True, slots=True)
class Material:
    """How a material takes light.

    Args:
        name: as a project file names it.
        words: what it is guessed from in a part's name, whole words with spaces between.
        gleam: share of the part that the highlight takes, 0 to 1; 0 for none.
        peak: how far the highlight goes toward bare paper at its brightest, 0 to 1.
        edge: 0 for a highlight that fades slowly, 1 for one with a hard edge.
        depth: how deep the shade of the form goes, 0 for none to 1 for the plain shadow marker.
        share: the largest share of the part that this shade takes.
        root, tip: how dark it is where it grows from and where it ends, 0 to 1, along the grain.
        band: True for a highlight across the grain, as on hair.
        flicks: how ragged the edges of shades are along the grain, 0 to 1.
        rim: how much light comes back at the dark edge, 0 to 1, as on metal and glass.
    """

    name: str
    words: str
    gleam: float = 0.0
    peak: float = 0.0
    edge: float = 0.0
    depth: float = 0.85
    share: float = 0.34  # about a third: common practice, no source
    root: float = 0.0
    tip: float = 0.0
    band: bool = False
    flicks: float = 0.0
    rim: float = 0.0

    @property
    def label(self) -> str:
        """As a person would say it."""
        return {"cloth": "knit or cloth", "petal": "petal or leaf", "glow": "glow, a light"}.get(
            self.name, self.name
        )


PLAIN = Material("", "", gleam=0.09, peak=0.6, edge=0.15)
"""A part of which nothing is known: a soft, modest highlight."""

MATERIALS = {
    one.name: one
    for one in (
        Material("blush", "blush cheek cheeks rouge", gleam=1.0, peak=0.85, depth=0.0),
        Material("glow", "flame fire glow light candlelight bulb", gleam=0.45, peak=0.9, depth=0.0),
        Material(
            "glass",
            "glass pane window lens bottle jar bubble",
            gleam=0.08,
            peak=1.0,
            edge=0.9,
            depth=0.45,
            rim=0.4,
        ),
        Material(
            "metal",
            "metal bell ring earring earrings buckle eyelet eyelets coin key tin kettle lantern "
            "bucket spoon crown",
            gleam=0.09,
            peak=1.0,
            edge=0.85,
            depth=1.0,
            rim=0.35,
        ),
        Material(
            "skin",
            "skin face hand hands arm arms leg legs ear ears neck belly lips muzzle foot feet baby",
            depth=0.75,
            share=0.26,
        ),
        Material(
            "hair",
            "hair beard moustache fringe plait plaits braid braids mane curl curls bun wig eyebrow eyebrows",
            gleam=0.12,
            peak=0.45,
            depth=0.8,
            share=0.3,
            root=0.75,
            tip=0.45,
            band=True,
            flicks=0.5,
        ),
        Material(
            "fur",
            "fur quill quills spines prickles paw paws tail fox bear rabbit hare mouse hedgehog "
            "squirrel badger cat dog body feather feathers wing wings wool fleece mole owl",
            depth=0.65,
            share=0.28,
            flicks=0.6,
        ),
        Material(
            "cloth",
            "cloth knit scarf jumper shirt jacket coat dress shawl hat cap mitten mittens sock socks "
            "trousers lapels collar pompom brim wrap blanket pillow cushion sack bag apron boots "
            "shoes skirt sleeve sleeves poncho tie ties string rope cord curtain bunting felt sail",
        ),
        Material(
            "paper",
            "paper tag card book letter envelope kite strip strips ground sky wall rim label map box",
            depth=0.55,
            share=0.22,
        ),
        Material(
            "wood",
            "wood stalk stalks stem stems twig branch trunk board plank staff stick fence table "
            "barrel basket log bark nut handle chair bench",
            gleam=0.05,
            peak=0.25,
            flicks=0.3,
        ),
        Material(
            "petal",
            "petal petals leaf leaves flower flowers rose daisy blossom grass holly fern tulip sunflower",
            gleam=0.08,
            peak=0.3,
            depth=0.6,
            share=0.26,
            root=0.85,
            tip=0.2,
        ),
        Material(
            "ceramic",
            "ceramic cup mug pot teapot jug plate saucer bowl vase tile button buttons bead beads "
            "berry berries nose apple cherry ball bauble satin ribbon bow bows",
            gleam=0.07,
            peak=0.9,
            edge=0.6,
        ),
    )
}
"""Materials by name; the words are tried in this order."""

RAISED = "nose muzzle snout button buttons knot bead beads berry berries bow bell paw paws hand"
"""Words for small things that stand out from what they are drawn on. Own judgement."""


@lru_cache(maxsize=4096)
def guess_material(name: str) -> Material:
    """Guess what a part is made of from its name.

    The last word that tells counts ("acorn cap" is a cap, "shirt buttons" are buttons), but for words after a
    comma or "of" ("scarf, red").

    Args:
        name: the part's name.

    Returns: a material of MATERIALS, or PLAIN.
    """
    head = re.split(r",| and | of | with | on ", name.lower())[0]
    for word in reversed(re.findall(r"[a-z]+", head)):
        for one in MATERIALS.values():
            if word in one.words.split():
                return one
    return PLAIN


FLAT = "muzzle snout belly patch spot spots stripe stripes eye eyes glint glints cheek cheeks lens lenses dot dots"
"""Words for what is drawn on the surface around it, however large it is."""


def is_flat(name: str) -> bool:
    """Whether a thing of this name is drawn on the surface around it, however large it is."""
    return any(word in FLAT.split() for word in re.findall(r"[a-z]+", name.lower()))


def is_raised(name: str) -> bool:
    """Whether a small thing of this name stands out from what it is drawn on."""
    return any(word in RAISED.split() for word in re.findall(r"[a-z]+", name.lower()))
