"""Spectra that simulated pictures are made of: papers, inks, lamps and sensors.

Lamps, camera sensitivities, colour-matching functions and target patches come from the data sets of the
colour-science library. Papers and inks are invented: smooth papers, and dyes as absorption bands laid
over the paper after Kubelka and Munk.
"""

import functools

import colour
import numpy as np

NM = np.arange(380, 731, 5)
"""Wavelengths of every spectrum here, in nanometres."""

DAYLIGHTS = ("D50", "D55", "D65", "D75", "ISO 7589 Photographic Daylight")
LED_LIGHTS = ("LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5", "LED-V1", "LED-V2")
TUBE_LIGHTS = ("FL2", "FL4", "FL7", "FL8", "FL10", "FL11", "FL3.5", "FL3.12", "FL3.15")
PHOTO_LIGHTS = (*DAYLIGHTS, *LED_LIGHTS, *TUBE_LIGHTS, "A")


def _on_grid(sd):
    """Give a spectral distribution of colour-science on NM, flat beyond its own ends."""
    return np.interp(NM, sd.wavelengths, sd.values)


@functools.cache
def light(name):
    """Power of a lamp by its CIE or ISO name, mean 1."""
    values = _on_grid(colour.SDS_ILLUMINANTS[name])
    return values / values.mean()


@functools.cache
def colour_temperature(name):
    """Correlated colour temperature of a lamp in kelvin, after McCamy 1992."""
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    x, y, z = (float(np.interp(NM, cmfs.wavelengths, cmfs.values[:, i]) @ light(name)) for i in range(3))
    n = (x / (x + y + z) - 0.3320) / (y / (x + y + z) - 0.1858)
    return -449 * n**3 + 3525 * n**2 - 6823.3 * n + 5520.33


@functools.cache
def rgb_led_bar(shift_nm=0.0):
    """Power of the red, green and blue diodes of a contact scanner, shape (3, N), mean 1 each."""
    peaks = np.array([[630.0], [525.0], [465.0]]) + shift_nm
    widths = np.array([[9.0], [15.0], [11.0]])
    power = np.exp(-0.5 * ((NM - peaks) / widths) ** 2)
    return power / power.mean(axis=1, keepdims=True)


@functools.cache
def camera(name):
    """Sensitivity of a measured camera, shape (3, N), zero outside what was measured."""
    msd = colour.MSDS_CAMERA_SENSITIVITIES[name]
    return np.stack([np.interp(NM, msd.wavelengths, msd.values[:, i], left=0, right=0) for i in range(3)])


def cameras():
    """Names of the measured cameras."""
    return tuple(sorted(colour.MSDS_CAMERA_SENSITIVITIES))


def varied_camera(rng, name=None):
    """A measured camera with each channel shifted by up to 6 nm, as one make differs from the next."""
    base = camera(name or cameras()[rng.integers(len(cameras()))])
    return np.stack([np.interp(NM - rng.uniform(-6, 6), NM, channel) for channel in base])


@functools.cache
def observer_d50():
    """Weights that turn reflectance into XYZ under D50, 2-degree observer, white Y = 1; shape (3, N)."""
    cmfs = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    weights = np.stack([np.interp(NM, cmfs.wavelengths, cmfs.values[:, i]) for i in range(3)]) * light("D50")
    return weights / weights[1].sum()


WHITE_D50 = np.array([0.96422, 1.0, 0.82521])


def reflectance_to_xyz1(reflectance):
    """XYZ under D50 of reflectance over NM, shape (..., N), scaled so that 1 everywhere is D50 white."""
    weights = observer_d50()
    return reflectance @ (weights * (WHITE_D50 / weights.sum(axis=1))[:, None]).T


def reflectance_to_lab(reflectance):
    """Lab under D50, 2-degree observer, of reflectance over NM."""
    ratio = reflectance_to_xyz1(reflectance) / WHITE_D50
    f = np.where(ratio > 216 / 24389, np.cbrt(ratio), (24389 / 27 * ratio + 16) / 116)
    return np.stack(
        [116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], axis=-1
    )


@functools.cache
def target_reflectance(name="BabelColor Average"):
    """Reflectance of the 24 patches of a measured colour target, in the target's order, shape (24, N)."""
    return np.stack([_on_grid(sd) for sd in colour.SDS_COLOURCHECKERS[name].values()])


def paper_reflectance(rng, kind="white"):
    """Reflectance of an invented card stock: "white", "cream" or "kraft"."""
    t = (NM - 380) / 350
    if kind == "kraft":
        return 0.12 + 0.42 / (1 + np.exp(-(NM - 540 + rng.uniform(-15, 15)) / 60))
    level = rng.uniform(0.84, 0.93)
    blue_loss = rng.uniform(0.0, 0.04) if kind == "white" else rng.uniform(0.15, 0.3)
    uv_edge = 1 / (1 + np.exp(-(NM - rng.uniform(385, 405)) / 7))
    brightener = rng.uniform(0.0, 0.08) * np.exp(-0.5 * ((NM - 440) / 18) ** 2) * (kind == "white")
    return np.clip((level - blue_loss * (1 - t) ** 2 + brightener) * (0.35 + 0.65 * uv_edge), 0.02, 0.985)


_DYES = {
    # name: absorption bands as (peak nm, width below nm, width above nm, height)
    "lemon": ((425, 40, 32, 1.0),),
    "amber": ((450, 50, 40, 1.0),),
    "orange": ((480, 45, 32, 1.0), (420, 40, 40, 0.4)),
    "scarlet": ((510, 42, 28, 1.0), (430, 50, 40, 0.35)),
    "rose": ((558, 34, 18, 1.0), (525, 24, 24, 0.55), (400, 30, 30, 0.12)),
    "violet": ((585, 40, 22, 1.0), (545, 26, 26, 0.6)),
    "blue": ((620, 48, 28, 1.0), (575, 28, 28, 0.5), (400, 30, 25, 0.1)),
    "cyan": ((672, 40, 30, 1.0), (612, 30, 26, 0.55), (400, 25, 30, 0.25)),
    "soot": ((560, 260, 260, 1.0),),
}


def _dye(rng, name):
    """Absorption of one dye, greatest 1: its bands a little narrower and elsewhere for each dye that is made."""
    total = np.zeros(NM.shape)
    shift, squeeze = rng.uniform(-10, 10), rng.uniform(0.6, 1.05)
    for peak, below, above, height in _DYES[name]:
        width = squeeze * np.where(peak + shift > NM, below, above)
        total = total + height * np.exp(-0.5 * ((NM - peak - shift) / width) ** 2)
    return total / total.max()


def ink_absorption(rng):
    """K/S that one coat of an invented marker adds, over NM: one to three dyes, pale to deep."""
    names = list(_DYES)
    strength = np.exp(rng.uniform(np.log(0.06), np.log(6.0)))
    total = strength * _dye(rng, names[rng.integers(len(names))])
    for share in (0.5, 0.15):
        if rng.random() < 0.6:
            total = total + strength * share * rng.random() * _dye(rng, names[rng.integers(len(names))])
    return total + strength * rng.uniform(0, 0.015)


def inked_reflectance(paper, absorption, coats):
    """Reflectance of *paper* after *coats* of an ink; coats of any shape, (..., N) comes back."""
    k_over_s = (1 - paper) ** 2 / (2 * paper) + np.asarray(coats)[..., None] * absorption
    return 1 + k_over_s - np.sqrt(k_over_s**2 + 2 * k_over_s)


def black_print_reflectance(rng):
    """Reflectance of printed black: nearly flat, 2 to 6 %."""
    return np.full(NM.shape, rng.uniform(0.02, 0.06)) * (1 + 0.1 * (NM - 550) / 350)


def desk_reflectance(rng):
    """Reflectance of an invented table top, from pale wood to dark cloth."""
    level = np.exp(rng.uniform(np.log(0.05), np.log(0.45)))
    return np.clip(level * (1 + rng.uniform(-0.2, 0.8) * (NM - 550) / 350), 0.01, 0.9)
