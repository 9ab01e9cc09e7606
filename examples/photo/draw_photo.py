"""Draw an invented photo of a harvest table: woven cloth, squashes, berries, leaves, in uneven light.

Run it to make harvest_table.jpg anew; the picture is drawn from random numbers of a fixed seed, and the colours
of its things are printed, so that what `blendkit photo` finds can be compared with what was drawn.
"""

from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

SIZE = (1500, 1000)
CLOTH = ((203, 190, 164), (126, 144, 117))
THINGS = {"squash": (217, 122, 52), "gourd": (226, 184, 84), "berry": (150, 32, 44), "leaf": (74, 98, 58)}


def _cloth(draw: np.random.Generator) -> Image.Image:
    """Woven stripes: two threads cross, each a little uneven."""
    width, height = SIZE
    x, y = np.meshgrid(np.arange(width), np.arange(height))
    stripe = ((x // 150) % 3 == 1).astype(float)[..., None]
    colour = np.array(CLOTH[0]) * (1 - stripe) + np.array(CLOTH[1]) * stripe
    weave = 1 + 0.05 * np.sin(x * 1.1) * np.sin(y * 1.1) + 0.03 * draw.standard_normal((height, width))
    return Image.fromarray(np.clip(colour * weave[..., None], 0, 255).astype(np.uint8))


def _round(
    picture: Image.Image, centre: tuple[int, int], radius: tuple[int, int], colour: tuple[int, int, int]
) -> None:
    """A round thing, lit from the upper left, with its shadow on the cloth."""
    mask = Image.new("L", SIZE, 0)
    shadow = Image.new("L", SIZE, 0)
    x, y = centre
    box = (x - radius[0], y - radius[1], x + radius[0], y + radius[1])
    ImageDraw.Draw(shadow).ellipse(tuple(edge + 22 for edge in box), fill=110)
    picture.paste((46, 42, 36), (0, 0), shadow.filter(ImageFilter.GaussianBlur(16)))
    ImageDraw.Draw(mask).ellipse(box, fill=255)
    across, down = np.meshgrid(np.arange(SIZE[0]), np.arange(SIZE[1]))
    u, v = (across - x) / radius[0], (down - y) / radius[1]
    light = np.clip(1.04 - 0.22 * (u + v) - 0.18 * (u * u + v * v), 0.35, 1.2)
    ribs = 1 + (0.05 * np.cos(9 * np.arctan2(v, u + 1e-6)) if radius[0] > 60 else 0.0)
    body = np.clip(np.array(colour) * (light * ribs)[..., None], 0, 255).astype(np.uint8)
    picture.paste(Image.fromarray(body), (0, 0), mask.filter(ImageFilter.GaussianBlur(1)))


def _leaf(
    picture: Image.Image, at: tuple[int, int], size: int, turn: float, colour: tuple[int, int, int]
) -> None:
    """A pointed leaf with a pale rib."""
    along = np.linspace(0, 1, 40)
    wide = 0.34 * np.sin(np.pi * along) ** 0.8
    points = np.concatenate([np.stack([along, wide], 1), np.stack([along, -wide], 1)[::-1]])
    turned = points @ np.array(
        [[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]
    ) * size + np.array(at)
    pen = ImageDraw.Draw(picture)
    pen.polygon([tuple(point) for point in turned], fill=colour)
    tip = turned[39]
    pen.line([at, tuple(tip)], fill=tuple(min(255, value + 30) for value in colour), width=3)


def draw_photo() -> Image.Image:
    """Draw the whole picture."""
    draw = np.random.default_rng(1123)
    picture = _cloth(draw)
    for at, size, turn in (
        ((260, 300), 300, 0.4),
        ((1180, 240), 280, 2.3),
        ((820, 850), 260, -0.5),
        ((420, 820), 240, 3.5),
    ):
        _leaf(picture, at, size, turn, THINGS["leaf"])
    _round(picture, (560, 470), (250, 205), THINGS["squash"])
    _round(picture, (1010, 560), (180, 165), THINGS["gourd"])
    for _ in range(16):
        angle, far = draw.uniform(0, 2 * np.pi), draw.uniform(0, 90)
        _round(
            picture,
            (int(1250 + far * np.cos(angle)), int(800 + far * np.sin(angle) * 0.7)),
            (24, 24),
            THINGS["berry"],
        )
    pixels = np.asarray(picture).astype(float)
    x, y = np.meshgrid(np.linspace(0, 1, SIZE[0]), np.linspace(0, 1, SIZE[1]))
    pixels *= (1.06 - 0.22 * x - 0.12 * y)[..., None]
    pixels += draw.normal(0, 3.0, pixels.shape)
    return Image.fromarray(np.clip(pixels, 0, 255).astype(np.uint8)).filter(ImageFilter.GaussianBlur(0.7))


if __name__ == "__main__":
    draw_photo().save(Path(__file__).with_name("harvest_table.jpg"), quality=88)
    for name, colour in {"cloth": CLOTH[0], "stripe": CLOTH[1], **THINGS}.items():
        print(f"{name}: #{colour[0]:02x}{colour[1]:02x}{colour[2]:02x}")
