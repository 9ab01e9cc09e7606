"""A coloured page in front of a lens or on a scanner's glass: pose, curl, light, blur and file format."""

import io
from dataclasses import dataclass

import cv2
import numpy as np
from PIL import Image

from . import spectra


@dataclass(frozen=True)
class Pose:
    """Where the camera stands and how the page bends."""

    turn_deg: float = 0.0
    tilt_deg: float = 0.0
    tilt_towards_deg: float = 0.0
    fill: float = 0.85
    """Share of the picture's short way that the page takes."""
    focal: float = 1.2
    """Focal length in picture widths."""
    curl_rad: float = 0.0
    """Slope of the page at its ends, bending about an axis."""
    twist_rad: float = 0.0
    """Unsymmetric part of that slope."""
    curl_along_deg: float = 0.0
    distortion: float = 0.0
    """Radial distortion of the lens at the picture's corner, share of the radius."""


def random_pose(rng, *, tilt_max_deg=35.0, curl_max_rad=0.0, fill=None):
    """A pose as a hand holds a phone over an upright page, for a picture that is wider than high.

    Half the time the page lies along the picture, as most people take care to do; else it is turned anyhow.
    """
    turn = float(rng.choice([-90, 90])) + rng.normal(0, 8) if rng.random() < 0.5 else rng.uniform(-180, 180)
    return Pose(
        turn_deg=turn,
        tilt_deg=rng.uniform(0, tilt_max_deg),
        tilt_towards_deg=rng.uniform(0, 360),
        fill=rng.uniform(0.75, 0.95) if fill is None else fill,
        focal=rng.uniform(0.75, 1.6),
        curl_rad=rng.uniform(-curl_max_rad, curl_max_rad),
        twist_rad=rng.uniform(-curl_max_rad, curl_max_rad) / 2,
        curl_along_deg=float(rng.choice([0, 90, rng.uniform(0, 180)])),
        distortion=rng.uniform(-0.004, 0.004),
    )


class View:
    """Maps millimetres of a page into pixels of a picture: the truth that a reader has to find."""

    def __init__(self, pose, page_mm, picture_px, around_mm=(0.0, 0.0, 0.0, 0.0)):
        self.pose, self.page_mm, self.picture_px = pose, np.array(page_mm), np.array(picture_px)
        self._scale, self._offset = 1.0, np.zeros(2)
        left, top, right, bottom = around_mm
        w, h = page_mm
        t = np.linspace(0, 1, 15)
        edge = np.concatenate(
            [
                np.stack([-left + (w + left + right) * t, np.full(15, -top)], -1),
                np.stack([-left + (w + left + right) * t, np.full(15, h + bottom)], -1),
                np.stack([np.full(15, -left), -top + (h + top + bottom) * t], -1),
                np.stack([np.full(15, w + right), -top + (h + top + bottom) * t], -1),
            ]
        )
        px = np.concatenate([self.map(edge), self.map(edge, flat=True)])
        low, high = px.min(0), px.max(0)
        self._scale = pose.fill * float((self.picture_px / (high - low)).min())
        self._offset = self.picture_px / 2 - self._scale * (low + high) / 2

    def _bend(self, mm):
        """Page millimetres to metres-free 3-D, z towards the camera, page centre at the origin."""
        pose = self.pose
        centred = mm - self.page_mm / 2
        angle = np.deg2rad(pose.curl_along_deg)
        axis = np.array([np.cos(angle), np.sin(angle)])
        along, across = centred @ axis, centred @ np.array([-axis[1], axis[0]])
        half = np.abs(axis) @ self.page_mm / 2
        s = np.linspace(-1.3, 1.3, 261)
        slope = pose.curl_rad * s + pose.twist_rad * (s**2 - 1 / 3)
        x = np.concatenate([[0], np.cumsum(np.cos((slope[1:] + slope[:-1]) / 2) * 0.01)])
        z = np.concatenate([[0], np.cumsum(np.sin((slope[1:] + slope[:-1]) / 2) * 0.01)])
        x, z = (x - x[130]) * half, (z - z[130]) * half
        t = along / half
        x, z = np.interp(t, s, x), np.interp(t, s, z)
        flat = x[..., None] * axis + across[..., None] * np.array([-axis[1], axis[0]])
        return np.concatenate([flat, z[..., None]], axis=-1)

    def map(self, mm, flat=False):
        """Pixels (..., 2) of page millimetres (..., 2); *flat* for what lies on the table beside the page."""
        mm = np.asarray(mm, float)
        pose = self.pose
        if flat:
            points = np.concatenate([mm - self.page_mm / 2, np.zeros((*mm.shape[:-1], 1))], axis=-1)
        else:
            points = self._bend(mm)
        turn, tilt, way = np.deg2rad([pose.turn_deg, pose.tilt_deg, pose.tilt_towards_deg])

        def about_z(a):
            return np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1]])

        tilt_matrix = np.array([[1, 0, 0], [0, np.cos(tilt), -np.sin(tilt)], [0, np.sin(tilt), np.cos(tilt)]])
        rotation = about_z(way) @ tilt_matrix @ about_z(-way) @ about_z(turn)
        turned = points @ rotation.T
        distance = pose.focal * float(np.max(self.page_mm)) / 0.8
        seen = turned[..., :2] * distance / (distance - turned[..., 2:])
        if pose.distortion:
            radius2 = (seen**2).sum(-1, keepdims=True) / (0.5 * np.linalg.norm(self.page_mm)) ** 2
            seen = seen * (1 + pose.distortion * radius2)
        return seen * self._scale + self._offset

    def inverse_maps(self, low_mm, high_mm, flat=False):
        """Page millimetres seen by each pixel, shape (h, w, 2) float32, NaN outside the given rectangle."""
        from scipy.interpolate import CloughTocher2DInterpolator

        us = np.linspace(low_mm[0], high_mm[0], 33)
        vs = np.linspace(low_mm[1], high_mm[1], 41)
        grid = np.stack(np.meshgrid(us, vs), -1).reshape(-1, 2)
        px = self.map(grid, flat)
        width, height = self.picture_px
        if flat or (self.pose.curl_rad == 0 and self.pose.twist_rad == 0 and self.pose.distortion == 0):
            pick = self.map(
                np.array([[low_mm[0], low_mm[1]], [high_mm[0], low_mm[1]], high_mm, [low_mm[0], high_mm[1]]]),
                flat,
            )
            corners = np.array(
                [[low_mm[0], low_mm[1]], [high_mm[0], low_mm[1]], high_mm, [low_mm[0], high_mm[1]]],
                np.float32,
            )
            matrix = cv2.getPerspectiveTransform(pick.astype(np.float32), corners)
            xs, ys = np.meshgrid(np.arange(width, dtype=np.float32), np.arange(height, dtype=np.float32))
            bottom = matrix[2, 0] * xs + matrix[2, 1] * ys + matrix[2, 2]
            return np.stack(
                [(matrix[i, 0] * xs + matrix[i, 1] * ys + matrix[i, 2]) / bottom for i in (0, 1)], -1
            ).astype(np.float32)
        step = max(4, round(max(width, height) / 150))
        xs = np.arange(0, width + step, step)
        ys = np.arange(0, height + step, step)
        coarse = np.stack(np.meshgrid(xs, ys), -1).astype(float)
        found = CloughTocher2DInterpolator(px, grid)(coarse)
        out = []
        warp = np.float32([[1 / step, 0, 0], [0, 1 / step, 0]])
        for i in (0, 1):
            plane = found[..., i].astype(np.float32)
            plane[np.isnan(plane)] = -1e4
            out.append(
                cv2.warpAffine(
                    plane,
                    warp,
                    (int(width), int(height)),
                    flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
                    borderMode=cv2.BORDER_REPLICATE,
                )
            )
        return np.stack(out, -1)


@dataclass(frozen=True)
class Target:
    """A colour target on the table: patches at millimetres of the page's own frame."""

    centres_mm: np.ndarray
    size_mm: float
    reflectance: np.ndarray

    def bounds(self, margin=4.0):
        """Left, top, right, bottom of the card."""
        low = self.centres_mm.min(0) - self.size_mm / 2 - margin
        high = self.centres_mm.max(0) + self.size_mm / 2 + margin
        return low, high


def target_beside(page_mm, *, patch_mm=9.0, pitch_mm=11.0, gap_mm=14.0):
    """A 24-patch card, four columns by six rows, to the right of the page."""
    columns, rows = np.meshgrid(np.arange(4), np.arange(6))
    centres = np.stack(
        [
            page_mm[0] + gap_mm + patch_mm / 2 + columns.ravel() * pitch_mm,
            page_mm[1] / 2 + (rows.ravel() - 2.5) * pitch_mm,
        ],
        -1,
    )
    return Target(centres, patch_mm, spectra.target_reflectance())


def light_field(rng, shape, *, strength=1.0, shadow=True):
    """Relative light per channel over a picture, (h, w, 3): slope, fall-off, and the soft edge of a shadow."""
    height, width = shape
    small = (max(8, height // 8), max(8, width // 8))
    ys, xs = np.mgrid[-1 : 1 : small[0] * 1j, -1 : 1 : small[1] * 1j]
    slope = strength * rng.uniform(-0.15, 0.15, 2)
    field = np.exp(slope[0] * xs + slope[1] * ys - strength * rng.uniform(0, 0.12) * (xs**2 + ys**2))
    field = field[..., None] * np.exp(strength * rng.normal(0, 0.01, 3) * xs[..., None])
    field = field.astype(np.float32)
    if shadow and rng.random() < 0.6:
        angle = rng.uniform(0, 2 * np.pi)
        distance = xs * np.cos(angle) + ys * np.sin(angle) - rng.uniform(-0.5, 0.9)
        soft = np.exp(rng.uniform(np.log(0.03), np.log(0.4)))
        dark = rng.uniform(0.6, 0.92) * np.exp(rng.normal(0, 0.015, 3))
        part = 1 / (1 + np.exp(-np.clip(distance / soft * 4, -30, 30)))
        field = field * (1 - part[..., None] * (1 - dark)).astype(np.float32)
    return cv2.resize(field, (width, height), interpolation=cv2.INTER_LINEAR)


def photograph(
    rng,
    coloured,
    device,
    *,
    pose,
    picture_px=(1600, 1200),
    blur_px=None,
    exposure=None,
    light=1.0,
    shadow=True,
    target=None,
    desk=None,
):
    """A photo of the page, encoded 0 to 1 (h, w, 3), and the View that took it."""
    page_mm = coloured.page.size_mm
    around = (0.0, 0.0, 0.0, 0.0)
    if target is not None:
        low, high = target.bounds()
        around = (
            max(0.0, -low[0]),
            max(0.0, -low[1]),
            max(0.0, high[0] - page_mm[0]),
            max(0.0, high[1] - page_mm[1]),
        )
    view = View(pose, page_mm, picture_px, around)
    width, height = picture_px
    maps = view.inverse_maps((-25.0, -25.0), (page_mm[0] + 25.0, page_mm[1] + 25.0))
    k = coloured.px_per_mm
    source = coloured.signal(device)
    warped = cv2.remap(
        source,
        maps[..., 0] * k - 0.5,
        maps[..., 1] * k - 0.5,
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    inside = np.minimum(
        np.minimum(maps[..., 0], page_mm[0] - maps[..., 0]),
        np.minimum(maps[..., 1], page_mm[1] - maps[..., 1]),
    )
    scale = float(np.sqrt(width * height)) / 300
    cover = np.clip(inside * scale + 0.5, 0, 1)[..., None]
    desk_signal = device.linear(desk if desk is not None else spectra.desk_reflectance(rng)).astype(
        np.float32
    )
    grain = 1 + 0.08 * cv2.resize(
        rng.standard_normal((max(2, height // 6), max(2, width // 40))).astype(np.float32), (width, height)
    )
    table = desk_signal * grain[..., None]
    if target is not None:
        flat = view.inverse_maps((-80.0, -80.0), (page_mm[0] + 120.0, page_mm[1] + 80.0), flat=True)
        low, high = target.bounds()
        on_card = np.all((flat >= low) & (flat <= high), axis=-1)
        table[on_card] = device.linear(np.full(spectra.NM.shape, 0.04)).astype(np.float32)
        signals = device.linear(target.reflectance).astype(np.float32)
        for centre, signal in zip(target.centres_mm, signals, strict=True):
            table[np.all(np.abs(flat - centre) <= target.size_mm / 2, axis=-1)] = signal
    picture = warped * cover + table * (1 - cover)
    picture = picture * light_field(rng, (height, width), strength=light, shadow=shadow)
    blur = rng.uniform(0.4, 1.2) if blur_px is None else blur_px
    if blur > 0:
        picture = cv2.GaussianBlur(picture, (0, 0), blur)
    white = device.linear(coloured.paper).max() * 1.05
    exposure = rng.uniform(0.55, 0.85) if exposure is None else exposure
    return device.finish(picture, exposure / white, rng), view


def scan_flatbed(rng, coloured, device, *, dpi=150, turn_deg=None, exposure=None, margin_mm=4.0, target=None):
    """A flatbed scan, encoded 0 to 1 (h, w, 3), and the View of it."""
    page_mm = coloured.page.size_mm
    turn = rng.uniform(-2, 2) if turn_deg is None else turn_deg
    k = dpi / 25.4
    extra = 0.0 if target is None else float(target.bounds()[1][0] - page_mm[0])
    picture_px = (int((page_mm[0] + extra + 2 * margin_mm) * k), int((page_mm[1] + 2 * margin_mm) * k))
    pose = Pose(turn_deg=turn, focal=1e4, fill=1.0)
    view = View(pose, page_mm, picture_px)
    view._scale = k
    view._offset = (np.array(page_mm) / 2 + margin_mm) * k
    maps = view.inverse_maps((-9.0, -9.0), (page_mm[0] + 9.0, page_mm[1] + 9.0))
    source = coloured.signal(device)
    p = coloured.px_per_mm
    picture = cv2.remap(
        source,
        maps[..., 0] * p - 0.5,
        maps[..., 1] * p - 0.5,
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    outside = (
        (maps[..., 0] < 0) | (maps[..., 1] < 0) | (maps[..., 0] > page_mm[0]) | (maps[..., 1] > page_mm[1])
    )
    picture[outside] = device.linear(np.full(spectra.NM.shape, 0.8)).astype(np.float32)
    if target is not None:
        low, high = target.bounds()
        picture[np.all((maps >= low) & (maps <= high), axis=-1)] = 0.04
        for centre, signal in zip(target.centres_mm, device.linear(target.reflectance), strict=True):
            picture[np.all(np.abs(maps - centre) <= target.size_mm / 2, axis=-1)] = signal.astype(np.float32)
    width = picture.shape[1]
    along = np.linspace(-1, 1, width, dtype=np.float32)
    lamp = 1 + 0.02 * rng.standard_normal() * along + 0.02 * rng.standard_normal() * along**2
    picture = cv2.GaussianBlur(picture, (0, 0), 0.5) * lamp[None, :, None]
    white = device.linear(coloured.paper).max()
    exposure = rng.uniform(0.82, 0.95) if exposure is None else exposure
    return device.finish(picture, exposure / white, rng), view


def as_bytes(picture):
    """8-bit pixels (h, w, 3) of an encoded picture."""
    return np.round(np.clip(picture, 0, 1) * 255).astype(np.uint8)


def through_jpeg(pixels, quality):
    """What is left of 8-bit pixels after JPEG at *quality*."""
    held = io.BytesIO()
    Image.fromarray(pixels).save(held, "JPEG", quality=int(quality))
    return np.asarray(Image.open(held))
