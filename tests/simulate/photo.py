"""Simulated photos of fabrics and patterned papers whose colours are known, for tests and evaluations only.

Each is a mosaic of fields in a few main colours with small vivid spots, woven or printed grain, uneven
light, lens blur, sensor noise and JPEG. All of it happens in linear light, apart from what the file does.
"""

import io
from dataclasses import dataclass

import cv2
import numpy as np
from PIL import Image

from blendkit.colour import delta_e_2000, is_in_srgb, lab_to_srgb1, linear_to_srgb1, srgb1_to_linear


@dataclass(frozen=True)
class KnownPhoto:
    """A simulated photo and the truth behind it."""

    jpeg: bytes
    labs: np.ndarray
    """Main colours, then accents; shape (n, 3)."""
    shares: np.ndarray
    """Share of the area of each."""
    accents: int
    """How many of them, the last ones, are accents."""


def random_labs(rng, count, apart, *, vivid=False, away_from=()):
    """Colours that a screen can show, all at least *apart* (CIEDE2000) from each other and *away_from*."""
    found = [np.asarray(lab) for lab in away_from]
    start = len(found)
    while len(found) < start + count:
        lightness, hue = rng.uniform(22, 92), rng.uniform(0, 2 * np.pi)
        chroma = rng.uniform(50, 85) if vivid else 60 * rng.random() ** 1.2
        lab = np.array([lightness, chroma * np.cos(hue), chroma * np.sin(hue)])
        brightest = lab + [6.0, 0.0, 0.0]
        if not (is_in_srgb(lab) and is_in_srgb(brightest)):
            continue
        if all(delta_e_2000(other, lab) >= apart for other in found):
            found.append(lab)
    return np.array(found[start:]).reshape(-1, 3)


def _mosaic(rng, size, weights):
    """Fields of random outlines, shape *size*, one of len(weights) labels each, in about those shares."""
    height, width = size
    seeds = int(rng.integers(18, 60))
    points = rng.random((seeds, 2)) * [height, width]
    labels = rng.choice(len(weights), seeds, p=weights)
    labels[: len(weights)] = np.arange(len(weights))
    ys, xs = np.mgrid[0:height, 0:width].astype(np.float32)
    wobble = cv2.GaussianBlur(rng.normal(0, 1, (height, width, 2)).astype(np.float32), (0, 0), 12) * 250
    ys, xs = ys + wobble[..., 0], xs + wobble[..., 1]
    best = np.full(size, np.inf, np.float32)
    field = np.zeros(size, np.int64)
    for (y, x), label in zip(points, labels, strict=True):
        distance = (ys - y) ** 2 + (xs - x) ** 2
        nearer = distance < best
        best[nearer], field[nearer] = distance[nearer], label
    return field


def known_photo(seed, *, size=(600, 800), mains=None, accents=None, light=0.3, quality=None):
    """Draw one photo with known colours.

    Args:
        seed: chooses everything.
        size: height and width.
        mains: how many main colours; 3 to 7 by default.
        accents: how many small vivid ones, 0.15 to 1 % of the area each; 0 to 2 by default.
        light: how uneven the light is: the brightest corner over the darkest is (1 + light) / (1 - light).
        quality: of the JPEG; 60 to 95 by default.
    """
    rng = np.random.default_rng(seed)
    height, width = size
    mains = int(rng.integers(3, 8)) if mains is None else mains
    accents = int(rng.integers(0, 3)) if accents is None else accents
    main_labs = random_labs(rng, mains, 13)
    labs = np.concatenate([main_labs, random_labs(rng, accents, 25, vivid=True, away_from=main_labs)])
    weights = rng.dirichlet(np.full(mains, 2.0)) * 0.8 + 0.2 / mains
    field = _mosaic(rng, size, weights / weights.sum())
    for accent in range(accents):
        area = rng.uniform(0.0015, 0.01) * height * width
        spots = int(rng.integers(1, 5))
        radius = np.sqrt(area / spots / np.pi)
        for _ in range(spots):
            centre = (int(rng.uniform(radius, width - radius)), int(rng.uniform(radius, height - radius)))
            spot = cv2.circle(np.zeros(size, np.uint8), centre, round(radius), 1, -1)
            field[spot > 0] = mains + accent
    shares = np.bincount(field.ravel(), minlength=len(labs)) / field.size
    linear = srgb1_to_linear(np.clip(lab_to_srgb1(labs), 0, 1))[field]

    ys, xs = np.mgrid[0:height, 0:width]
    angle, period = rng.uniform(0, np.pi), rng.uniform(3, 9)
    grain = rng.uniform(0, 0.08)
    weave = np.sin(2 * np.pi * (xs * np.cos(angle) + ys * np.sin(angle)) / period) * np.sin(
        2 * np.pi * (ys * np.cos(angle) - xs * np.sin(angle)) / period
    )
    turn = rng.uniform(0, 2 * np.pi)
    slope = (xs / width - 0.5) * np.cos(turn) + (ys / height - 0.5) * np.sin(turn)
    slope *= light / np.abs(slope).max()
    linear = linear * ((1 + slope) * (1 + grain * weave))[..., None]
    linear = cv2.GaussianBlur(linear, (0, 0), rng.uniform(0.5, 2.2))
    electrons = rng.uniform(1500, 12000)
    noisy = rng.poisson(np.clip(linear, 0, None) * electrons) / electrons + rng.normal(
        0, 0.0015, linear.shape
    )
    codes = np.rint(255 * np.clip(linear_to_srgb1(np.clip(noisy, 0, 1)), 0, 1)).astype(np.uint8)
    stream = io.BytesIO()
    quality = int(rng.integers(60, 96)) if quality is None else quality
    Image.fromarray(codes).save(stream, "JPEG", quality=quality)
    return KnownPhoto(stream.getvalue(), labs, shares, accents)
