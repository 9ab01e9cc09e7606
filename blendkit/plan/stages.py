"""The picture as it grows: after the outline, the base coats, the shadows, the blending and the highlights.

Every stage is painted with the same ramps as the picture itself, so each is what the ink model predicts: the base
coat alone, the shadow's coat over it before it is blended, the blend.
"""

import io
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from blendkit.art.shading import BASE_TONE, LEFT_WHITE, STRUCK, with_tone
from blendkit.inked import Inked
from blendkit.project.part_colours import PartColours, paint_work
from blendkit.project.work import Work

STAGE_PX = 900
"""Longest side of a stage's picture: enough to show a class, little enough to send."""

SHOWN_S = (1.2, 1.6, 1.6, 1.6, 3.0)
"""How long each stage of the moving picture stands, seconds."""


@dataclass(frozen=True, slots=True, eq=False)
class Stage:
    """One stage.

    Args:
        name: outline, base, shadow, blend or highlight.
        words: what has been done.
        picture: sRGB, uint8, shape (h, w, 3).
    """

    name: str
    words: str
    picture: NDArray[np.uint8] = field(repr=False)


STAGES = {
    "outline": "stamp it, and let it dry",
    "base": "one coat in small circles over the whole part; leave the highlights white",
    "shadow": "one coat while the base is damp: under what lies in front, then away from the light",
    "blend": "base once more over the shadow's edge, light into dark, until no line is left",
    "highlight": "soften the edge of the white; let it dry before you touch what lies beside it",
}
"""The stages in working order, each with what is done."""


def stage_tone(tone: NDArray[np.float32], stage: str) -> NDArray[np.float32]:
    """Tone after a stage, 0 highlight to 1 shadow, where the finished picture has *tone*."""
    if stage == "highlight":
        return tone
    base = np.where(tone < LEFT_WHITE, np.float32(0), np.float32(BASE_TONE))
    if stage == "base":
        return base
    if stage == "shadow":
        return np.where(tone > STRUCK, np.float32(1), base)
    return np.where(tone > BASE_TONE, tone, base)


def stage_tones(stage: str) -> list[int]:
    """What becomes of each of 256 tones after a stage, for a page that paints by looking up."""
    tones = np.asarray(np.linspace(0, 1, 256), np.float32)
    return [round(255 * tone) for tone in stage_tone(tones, stage).tolist()]


def draw_stages(work: Work, colours: Sequence[PartColours], inked: Inked) -> tuple[Stage, ...]:
    """Draw the five stages of a picture.

    Args:
        work: the project at work.
        colours: of its parts.
        inked: the drawer on the project's paper.

    Returns: five stages, each picture at most STAGE_PX long.
    """
    import cv2

    height, width = work.shades.tone.shape
    factor = min(1.0, STAGE_PX / max(height, width))
    size = round(width * factor), round(height * factor)
    stages = []
    for name, words in STAGES.items():
        shades = work.shades
        if name != "highlight":
            shades = with_tone(shades, stage_tone(shades.tone, name))
        picture = paint_work(replace(work, shades=shades), () if name == "outline" else colours, inked)
        small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
        stages.append(Stage(name, words, np.asarray(small, np.uint8)))
    return tuple(stages)


def encode_strip(stages: Sequence[Stage]) -> bytes:
    """Stages side by side, as a PNG; their words are for the page that shows it."""
    from PIL import Image

    gap = max(4, stages[0].picture.shape[1] // 40)
    between = np.full((stages[0].picture.shape[0], gap, 3), 255, np.uint8)
    row = [piece for stage in stages for piece in (stage.picture, between)][:-1]
    out = io.BytesIO()
    Image.fromarray(np.concatenate(row, axis=1)).save(out, "PNG")
    return out.getvalue()


def encode_moving(stages: Sequence[Stage], form: str = "gif") -> bytes:
    """A moving picture of the stages, over and over, to show a class.

    Args:
        stages: from `draw_stages`.
        form: "gif" or "webp".

    Returns: the file.
    """
    from PIL import Image

    frames = [Image.fromarray(stage.picture) for stage in stages]
    out = io.BytesIO()
    times = [round(1000 * seconds) for seconds in SHOWN_S]
    if form == "gif":  # one table of colours for all the stages, so that nothing flickers
        table = Image.fromarray(np.concatenate([stage.picture for stage in stages])).quantize(
            256, dither=Image.Dither.NONE
        )
        frames = [frame.quantize(palette=table, dither=Image.Dither.FLOYDSTEINBERG) for frame in frames]
    frames[0].save(out, form.upper(), save_all=True, append_images=frames[1:], duration=times, loop=0)
    return out.getvalue()
