"""Simulated cameras and scanners: linear signal of a reflectance, and what is done to it before it is saved."""

from dataclasses import dataclass

import numpy as np

from . import spectra

SRGB_FROM_XYZ_D50 = np.array(
    [
        [3.1338561, -1.6168667, -0.4906146],
        [-0.9787684, 1.9161415, 0.0334540],
        [0.0719453, -0.2289914, 1.4052427],
    ]
)
"""Linear sRGB from XYZ relative to D50 (Bradford), as tabulated by B. Lindbloom, brucelindbloom.com."""


@dataclass(frozen=True)
class Device:
    """A sensor under one lamp and the settings that its maker or its user chose."""

    name: str
    weights: np.ndarray
    """Signal per unit reflectance, shape (3, N): lamp times sensitivity, before white balance."""
    balance: np.ndarray
    """Gain per channel, shape (3,)."""
    matrix: np.ndarray
    """Balanced signal to linear sRGB, shape (3, 3)."""
    saturation: float = 1.0
    contrast: float = 0.0
    gamma: float = 1.0
    noise: float = 0.004

    def linear(self, reflectance):
        """Balanced linear signal of reflectance (..., N), before the matrix; a white of 1 gives about 1."""
        return reflectance @ self.weights.T * self.balance

    def finish(self, signal, exposure=1.0, rng=None):
        """Encoded sRGB, 0 to 1, of a balanced linear signal: noise, matrix, tone curve, sRGB encoding."""
        signal = signal * exposure
        if rng is not None and self.noise > 0:
            sigma = self.noise * np.sqrt(np.clip(signal, 0, None) + 0.02)
            signal = signal + sigma * rng.standard_normal(signal.shape, dtype=np.float32)
        rgb = np.clip(signal, 0, 1.3) @ self.matrix.T.astype(signal.dtype)
        if self.saturation != 1:
            grey = rgb @ np.array([0.2126, 0.7152, 0.0722], dtype=rgb.dtype)
            rgb = grey[..., None] + self.saturation * (rgb - grey[..., None])
        rgb = np.clip(rgb, 0, 1)
        if self.gamma != 1:
            rgb = rgb**self.gamma
        code = np.where(rgb <= 0.0031308, 12.92 * rgb, 1.055 * np.maximum(rgb, 1e-9) ** (1 / 2.4) - 0.055)
        if self.contrast:
            bent = 0.5 + 0.5 * np.sin(np.pi * (code - 0.5))
            code = (1 - self.contrast) * code + self.contrast * bent
        return code


def _maker_matrix(weights, balance):
    """Matrix that a maker would build in: least squares on a measured target, white kept."""
    patches = spectra.target_reflectance("ColorChecker N Ohta")
    signal = patches @ weights.T * balance
    wanted = spectra.reflectance_to_xyz1(patches) @ SRGB_FROM_XYZ_D50.T
    scale = 1 / np.sqrt(0.05 + wanted.mean(axis=1, keepdims=True))
    white_weight = 50.0
    rows = np.concatenate([signal * scale, white_weight * np.ones((1, 3))])
    matrix = np.linalg.lstsq(
        rows, np.concatenate([wanted * scale, white_weight * np.ones((1, 3))]), rcond=None
    )[0]
    return matrix.T


def _balance(weights):
    return 1 / weights.sum(axis=1)


def _camera_matrix(sensitivity, light_name):
    """Matrix that a camera takes: between those for tungsten and daylight, by the lamp's colour temperature.

    As cameras with two calibration lights do (Adobe DNG Specification 1.4, chapter 6), evenly in mireds.
    """
    place = np.clip(
        (1e6 / spectra.colour_temperature(light_name) - 1e6 / 6504) / (1e6 / 2856 - 1e6 / 6504), 0, 1
    )
    made_for = []
    for name in ("D65", "A"):
        weights = sensitivity * spectra.light(name)
        made_for.append(_maker_matrix(weights, _balance(weights)))
    return (1 - place) * made_for[0] + place * made_for[1]


def phone(rng, light_name=None):
    """A camera under a lamp of a home: white balance a little off, matrix for daylight or tungsten."""
    sensitivity = spectra.varied_camera(
        rng, "Sigma SDMerill (NPL)" if rng.random() < 0.1 else "Nikon 5100 (NPL)"
    )
    light_name = light_name or str(rng.choice(spectra.PHOTO_LIGHTS))
    weights = sensitivity * spectra.light(light_name)
    matrix = _camera_matrix(sensitivity, light_name)
    return Device(
        name=f"phone under {light_name}",
        weights=weights,
        balance=_balance(weights),
        matrix=np.exp(rng.normal(0, 0.03, 3))[:, None] * matrix,
        saturation=rng.uniform(0.98, 1.15),
        contrast=rng.uniform(0.0, 0.3),
        gamma=rng.uniform(0.92, 1.08),
        # a strong matrix amplifies noise, which such a camera then smooths away
        noise=rng.uniform(0.003, 0.012) * 1.6 / float(np.linalg.norm(matrix, axis=1).mean()),
    )


def scanner(rng, lamp="white"):
    """A flatbed scanner: "white" (a white lamp and a filtered sensor) or "rgb-led" (three diodes in turn)."""
    if lamp == "rgb-led":
        weights = spectra.rgb_led_bar(float(np.round(rng.uniform(-4, 4), 1)))
    else:
        name = str(rng.choice(["LED-B3", "LED-B4", "LED-V1", "FL10", "FL8"]))
        weights = spectra.varied_camera(rng, "Nikon 5100 (NPL)") * spectra.light(name)
    balance = _balance(weights)
    return Device(
        name=f"scanner, {lamp} lamp",
        weights=weights,
        balance=balance,
        matrix=np.exp(rng.normal(0, 0.008, 3))[:, None] * _maker_matrix(weights, balance),
        contrast=rng.uniform(0.0, 0.08),
        gamma=rng.uniform(0.95, 1.05),
        noise=rng.uniform(0.001, 0.004),
    )


def ideal(noise=0.003):
    """A device that sees as the standard observer does and bends nothing: only the tool's own error is left."""
    weights = spectra.observer_d50() * (1 / spectra.observer_d50().sum(axis=1))[:, None]
    return Device(
        name="ideal",
        weights=weights,
        balance=np.ones(3),
        matrix=SRGB_FROM_XYZ_D50 * spectra.WHITE_D50,
        noise=noise,
    )
