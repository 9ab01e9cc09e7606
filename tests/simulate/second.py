"""A second simulator of coloured charts, which shares no spectrum, ink law, sensor or lens with the first.

Dyes are vibronic progressions over wavenumbers, not bands over wavelengths; coats are films of optical density on
a paper of which a part stays uncovered (Yule and Nielsen 1951), with some light thrown back by the ink itself;
sensors are skewed curves with crosstalk, lamps are made of glow, pump, phosphor and lines; a maker's matrix
is fitted to smooth random surfaces; rendering bends hue and chroma as phones do, and stray light lies over all.
Only the print, the observer and the record of a trial are taken from the first.
"""

import io
from dataclasses import dataclass, field, replace

import cv2
import numpy as np
from PIL import Image
from scipy.optimize import least_squares

from blendkit.colour import delta_e_2000
from blendkit.picture import Picture
from blendkit.picture.encoding import srgb_encoding

from . import page as first_page
from . import spectra
from .device import SRGB_FROM_XYZ_D50
from .trial import Trial

NM = spectra.NM
LAMPS = ("window", "overcast", "halogen", "warm led", "cool led", "full led", "tri tube", "old tube")
SCANNERS = ("led bed", "tube bed", "diode bed")
CLASSES = (*LAMPS, *SCANNERS)


def _bump(centre, below, above=None):
    return np.exp(-0.5 * ((NM - centre) / np.where(centre > NM, below, above or below)) ** 2)


def glow(kelvin):
    """Power of a glowing body (Planck's law), mean 1."""
    power = (NM * 1e-9) ** -5 / np.expm1(1.4388e-2 / (NM * 1e-9 * kelvin))
    return power / power.mean()


def lamp(rng, name):
    """Power of an invented lamp, mean 1: one of LAMPS, "candle", or "colour led"."""
    t = rng.uniform
    if name == "window":  # glass takes the far violet, walls and sky tint it
        power = glow(t(5000, 6500)) * (0.7 + 0.3 / (1 + np.exp(-(NM - 400) / 8)))
    elif name == "overcast":
        power = glow(t(6500, 9000)) * (1 + 0.06 * np.sin((NM - 380) / 28))
    elif name == "halogen":
        power = glow(t(2650, 3100))
    elif name == "candle":
        power = glow(t(1850, 2000))
    elif name == "tri tube":
        lines = ((436, 0.5), (488, 0.28), (543, 1.1), (587, 0.35), (611, 1.2))
        power = 0.05 * glow(4500) + sum(h * t(0.8, 1.2) * _bump(c, 6) for c, h in lines)
    elif name == "old tube":
        power = 0.5 * _bump(t(572, 585), 52) + 0.35 * _bump(480, 42)
        power = power + sum(h * _bump(c, 4) for c, h in ((405, 0.3), (436, 0.7), (546, 0.6), (578, 0.25)))
    elif name == "colour led":
        power = (
            _bump(t(455, 468), 10) + t(0.5, 1) * _bump(t(518, 530), 15) + t(0.8, 1.6) * _bump(t(622, 636), 9)
        )
    else:
        pump, glowing = {"warm led": (0.35, 1.0), "cool led": (1.1, 0.9), "full led": (0.6, 0.9)}[name]
        power = pump * t(0.85, 1.15) * _bump(t(443, 458), 9) + glowing * _bump(t(545, 590), 48, 62)
        power = power + (0.5 * _bump(t(625, 640), 22) + 0.35 * _bump(500, 22) if name == "full led" else 0)
        if name == "warm led":
            power = power + t(0.2, 0.7) * _bump(615, 35)
    return power / power.mean()


def sensor(rng):
    """Sensitivity of an invented sensor, (3, N): skewed curves, a red filter's blue leak, crosstalk."""
    t = rng.uniform
    red = _bump(t(592, 612), t(22, 34), t(30, 44)) + t(0.0, 0.08) * _bump(440, 25)
    green = _bump(t(526, 544), t(30, 42), t(32, 44)) + t(0.0, 0.04)
    blue = _bump(t(446, 466), t(20, 28), t(24, 36))
    cut = 1 / (1 + np.exp((NM - t(655, 690)) / 9)) / (1 + np.exp(-(NM - t(400, 415)) / 5))
    mixed = np.eye(3) + t(0.0, 0.09, (3, 3))
    return mixed @ np.stack([red, green, blue]) * cut


def smooth_surfaces(rng, count=200):
    """Reflectance of random smooth surfaces, to fit makers' matrices to."""
    steps = np.linspace(380, 730, 7)
    levels = np.clip(rng.beta(1.0, 1.4, (count, 7)), 0.02, 0.96)
    return np.stack([np.interp(NM, steps, cv2.GaussianBlur(row[None], (3, 1), 0.8)[0]) for row in levels])


@dataclass(frozen=True)
class Eye:
    """A sensor under its lamp, and what is done to its picture."""

    name: str
    weights: np.ndarray
    matrix: np.ndarray
    chroma: float = 1.0
    bend: float = 0.0
    """S-shape of the tone curve."""
    lift: float = 0.0
    """Black of the picture, relative."""
    twist: float = 0.0
    """Turn of strong hues, radians at full chroma."""
    veil: float = 0.0
    """Share of the whole picture's light that lies over every place."""
    noise: float = 0.004

    def signal(self, reflectance):
        """Linear signal of reflectance (..., N); a white of 1 gives 1."""
        return reflectance @ (self.weights / self.weights.sum(axis=1, keepdims=True)).T

    def render(self, signal, rng=None):
        """Encoded sRGB, 0 to 1, of a linear signal (..., 3)."""
        if rng is not None:
            noise = rng.standard_normal(signal.shape, dtype=np.float32)
            signal = signal + self.noise * np.sqrt(np.clip(signal, 0, None) + 0.01) * noise
        rgb = np.clip(signal, 0, 1.4) @ self.matrix.T.astype(signal.dtype)
        grey = rgb @ np.array([0.25, 0.65, 0.10], dtype=rgb.dtype)
        off = rgb - grey[..., None]
        if self.twist:
            turned = np.roll(off, 1, axis=-1) - np.roll(off, -1, axis=-1)
            off = off + self.twist * turned
        rgb = np.clip(grey[..., None] + self.chroma * off, 0, 1)
        rgb = self.lift + (1 - self.lift) * rgb
        code = np.where(rgb <= 0.0031308, 12.92 * rgb, 1.055 * np.maximum(rgb, 1e-9) ** (1 / 2.4) - 0.055)
        return code + self.bend * code * (1 - code) * (2 * code - 1)


def _matrix(rng, weights):
    """A maker's matrix: least squares over smooth surfaces, white kept."""
    surfaces = np.concatenate([smooth_surfaces(rng), np.ones((60, len(NM)))])
    seen = surfaces @ (weights / weights.sum(axis=1, keepdims=True)).T
    wanted = spectra.reflectance_to_xyz1(surfaces) @ SRGB_FROM_XYZ_D50.T
    scale = 1 / (0.1 + wanted.mean(axis=1, keepdims=True))
    return np.linalg.lstsq(seen * scale, wanted * scale, rcond=None)[0].T


def make_eye(rng, kind):
    """A device of one of CLASSES (or under another lamp)."""
    t = rng.uniform
    if kind in SCANNERS:
        if kind == "diode bed":
            peaks = (t(618, 642), t(514, 532), t(454, 472))
            weights = np.stack([_bump(c, w) for c, w in zip(peaks, (9, 17, 12), strict=True)])
        else:
            weights = sensor(rng) * lamp(rng, "cool led" if kind == "led bed" else "tri tube")
        matrix = np.exp(rng.normal(0, 0.01, 3))[:, None] * _matrix(rng, weights)
        return Eye(kind, weights, matrix, t(0.98, 1.06), t(-0.1, 0.25), t(0, 0.004), t(-0.02, 0.02), t(0, 0.012),
                   t(0.001, 0.004))  # fmt: skip
    curves = sensor(rng)
    power = lamp(rng, kind)
    # a phone picks the nearer of two matrices it was given; neither is for this very lamp
    warm = kind in ("halogen", "warm led", "candle")
    made_for = _matrix(rng, curves * glow(2900 if warm else 5600))
    balance = np.exp(rng.normal(0, 0.025, 3))
    return Eye(
        f"{kind} photo", curves * power, balance[:, None] * made_for, t(0.97, 1.18), t(0.0, 0.5), t(0, 0.006),
        t(-0.035, 0.035), t(0.0, 0.015), t(0.003, 0.012),
    )  # fmt: skip


def paper(rng, tint=None):
    """Reflectance of an invented paper; *tint*: None (white), "grey", "kraft" or "blue"."""
    white = rng.uniform(0.82, 0.92) * (1 - rng.uniform(0.0, 0.06) * _bump(400, 45))
    white = white + rng.uniform(0, 0.06) * _bump(442, 16) - 0.4 * _bump(375, 14)
    if tint == "grey":
        white = white * 0.42
    elif tint == "kraft":
        white = 0.14 + 0.4 / (1 + np.exp(-(NM - 555) / 50))
    elif tint == "blue":
        white = 0.2 + 0.45 * _bump(465, 50)
    return np.clip(white, 0.02, 0.97)


def dye(rng, peak_nm):
    """Optical density of a dye, greatest 1: a vibronic progression over wavenumbers, in Gaussians."""
    wave, step = 1e7 / NM, rng.uniform(1150, 1450)
    start, width, strength = 1e7 / peak_nm, rng.uniform(650, 1050), rng.uniform(0.35, 0.95)
    share, total = 1.0, np.zeros(NM.shape)
    for level in range(5):
        total = total + share * np.exp(
            -0.5 * ((wave - start - level * step) / (width * (1 + 0.15 * level))) ** 2
        )
        share = share * strength / (level + 1)
    return total / total.max()


@dataclass(frozen=True)
class Ink:
    """Density of one coat, the light that it throws back itself, and how much a later coat adds."""

    density: np.ndarray
    back: float
    later: float

    def on(self, ground, coats):
        """Reflectance of *ground* under *coats* (any shape), (..., N)."""
        coats = np.asarray(coats, float)[..., None]
        amount = np.where(coats <= 1, coats, 1 + self.later * (coats - 1))
        film = 10 ** (-amount * self.density)
        n = 2.2  # after Yule and Nielsen
        gap = 0.012 + 0.03 * np.exp(-2.5 * coats)
        shown = (gap * ground ** (1 / n) + (1 - gap) * (ground * film) ** (1 / n)) ** n
        return shown + self.back * np.minimum(coats, 2) * (1 - film)


def make_ink(rng, ground, lab):
    """An ink of three random dyes and soot whose coat comes near that Lab on that paper; and how near."""
    dyes = np.stack([dye(rng, rng.uniform(*span)) for span in ((430, 475), (515, 570), (600, 675))])
    dyes = np.concatenate([dyes, [np.full(NM.shape, 0.9) + 0.1 * _bump(450, 80)]])
    back, later = rng.uniform(0.0, 0.012), rng.uniform(0.45, 0.95)

    def made(logs):
        return Ink(np.exp(logs) @ dyes, back, later)

    def miss(logs):
        off = spectra.reflectance_to_lab(made(logs).on(ground, 1.0)) - lab
        return np.append(off, 0.15 * (logs[3] + 3.5))

    found = least_squares(miss, np.array([-1.0, -1.0, -1.0, -3.0]), bounds=(-6, 1.3), max_nfev=40)
    return made(found.x)


@dataclass
class Sheet:
    """A coloured page: print, paper, and per box an ink, its coats and where it lies."""

    page: object
    spec: object
    px_per_mm: float
    shown: np.ndarray
    ground: np.ndarray
    black: float
    inks: list
    coats: list
    thick: list = field(default_factory=list)

    def spectrum(self, index):
        """Reflectance of an even filling of a box."""
        return (
            self.ground if self.inks[index] is None else self.inks[index].on(self.ground, self.coats[index])
        )

    def labs(self):
        """True Lab of every box."""
        return spectra.reflectance_to_lab(np.stack([self.spectrum(i) for i in range(len(self.inks))]))

    def signal(self, eye):
        """Linear signal of the flat page, (h, w, 3)."""
        white, black = eye.signal(self.ground), eye.signal(np.full(NM.shape, self.black))
        shown = self.shown if self.shown.ndim == 3 else self.shown[..., None]
        out = (black + shown * (white - black)).astype(np.float32)
        levels = np.array([0, 0.3, 0.6, 0.85, 1.0, 1.2, 1.5, 2.0])
        for index, (rows, columns, thick) in enumerate(self.thick):
            if self.inks[index] is None:
                continue
            laid = np.stack([self.inks[index].on(self.ground, level * self.coats[index]) for level in levels])
            seen = eye.signal(laid) / white
            out[rows, columns] *= np.stack([np.interp(thick, levels, one) for one in seen.T], -1).astype(
                np.float32
            )
        return out


def _strokes(rng, box, px_per_mm):
    """How thick one box's ink lies: round-ended strokes of a chisel that overlap, a pool where it rests."""
    pad = 1.0
    left, top = round((box.x_mm - pad) * px_per_mm), round((box.y_mm - pad) * px_per_mm)
    right, bottom = (
        round((box.x_mm + box.w_mm + pad) * px_per_mm),
        round((box.y_mm + box.h_mm + pad) * px_per_mm),
    )
    laid = np.zeros((bottom - top, right - left), np.float32)
    nib = rng.uniform(3.0, 5.5)
    across = np.arange(box.y_mm + nib / 2 - 0.3, box.y_mm + box.h_mm + nib / 2, nib * rng.uniform(0.78, 0.95))
    for y in across:
        one = np.zeros_like(laid)
        y = min(y, box.y_mm + box.h_mm - nib / 2 + 0.2)
        ends = np.array(
            [[box.x_mm + nib / 2 - 0.2, y], [box.x_mm + box.w_mm - nib / 2 + 0.2, y + rng.normal(0, 0.15)]]
        )
        a, b = (tuple(np.round(end * px_per_mm - [left, top]).astype(int)) for end in ends)
        cv2.line(one, a, b, 1.0, max(1, round(nib * px_per_mm)))
        laid = np.maximum(laid, one) + rng.uniform(0.04, 0.16) * (laid > 0) * one
    core = laid[
        round(1.4 * px_per_mm) : -round(1.4 * px_per_mm), round(1.4 * px_per_mm) : -round(1.4 * px_per_mm)
    ]
    core[core == 0] = 1.0
    laid *= 1 + 0.05 * cv2.resize(rng.standard_normal((4, 5)).astype(np.float32), laid.shape[::-1])
    return slice(top, bottom), slice(left, right), cv2.GaussianBlur(laid, (0, 0), 0.12 * px_per_mm)


def make_sheet(
    rng, spec, *, sheet=None, number=1, px_per_mm=5.0, off=4.0, ground=None, wanted=None, empty=()
):
    """Colour a page as a drawer would: every marker within *off* (Lab, standard deviation) of what is expected.

    ``wanted`` gives other Labs by marker; boxes without expected colour get random ones.
    """
    page = spec.page(number)
    ground = paper(rng) if ground is None else ground
    shown = (
        first_page.printed_layer(page, px_per_mm)
        if sheet is None
        else first_page.chart_layer(sheet, number, px_per_mm)
    )
    held: dict = {}
    for box in page.boxes:
        if box.kind == "paper" or box.markers[0] in held:
            continue
        lab = (wanted or {}).get(box.markers[0], box.expected_lab)
        lab = rng.uniform([30, -50, -45], [88, 55, 70]) if lab is None else lab
        held[box.markers[0]] = make_ink(rng, ground, np.array(lab) + rng.normal(0, off / np.sqrt(3), 3))
    inks = [
        None if box.kind == "paper" or index in empty else held[box.markers[0]]
        for index, box in enumerate(page.boxes)
    ]
    made = Sheet(
        page, spec, px_per_mm, shown, ground, rng.uniform(0.025, 0.07), inks, [b.coats for b in page.boxes]
    )
    made.thick = [_strokes(rng, box, px_per_mm) for box in page.boxes]
    return made


class Plane:
    """A flat page before a lens without error."""

    def __init__(self, matrix):
        self.matrix = matrix

    def map(self, mm):
        """Pixels (..., 2) of page millimetres (..., 2)."""
        mm = np.asarray(mm, float)
        flat = np.concatenate([mm, np.ones((*mm.shape[:-1], 1))], -1) @ self.matrix.T
        return flat[..., :2] / flat[..., 2:]


def pose(rng, page_mm, size_px, *, scan=False, stretch=0.0, lean=0.06):
    """A Plane: for a scan turned a little and stretched by *stretch*; else seen at a slant."""
    w, h = page_mm
    corners = np.array([[0, 0], [w, 0], [w, h], [0, h]], np.float32)
    angle = np.deg2rad(rng.normal(0, 0.6) if scan else rng.normal(0, 5))
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    to = (corners - [w / 2, h / 2]) * [1, 1 + stretch] @ turn.T
    if not scan:
        to = to * (1 + rng.uniform(-lean, lean, (4, 1)))
    span = np.ptp(to, axis=0)
    to = to * (0.96 if scan else 0.9) * min(size_px[0] / span[0], size_px[1] / span[1])
    to = to - (to.max(0) + to.min(0)) / 2 + np.array(size_px) / 2
    return Plane(cv2.getPerspectiveTransform(corners, to.astype(np.float32)))


def light_over(rng, size_px, uneven=0.25):
    """A lamp's fall-off over a picture, about 1, (h, w, 1)."""
    ys, xs = np.mgrid[0 : size_px[1], 0 : size_px[0]].astype(np.float32)
    x, y = xs / size_px[0] - rng.uniform(0, 1), ys / size_px[1] - rng.uniform(0, 1)
    field = 1 / (1 + uneven * (x * x + y * y) * 2)
    return (field / field.max())[..., None]


def take(rng, sheet, eye, *, size_px=(1200, 1600), scan=None, stretch=None, light=None, card=None, table=0.25,
         exposure=None, view=None, after=None, quality=None, name="second"):  # fmt: skip
    """Photograph or scan a sheet: a Trial.

    Args:
        light: (h, w, 1 or 3) over the picture; a lamp's fall-off when missing.
        card: a picture.Target on the table.
        after: changes the linear signal (h, w, 3) before it is rendered; gets it and the view.
    """
    scan = eye.name in SCANNERS if scan is None else scan
    stretch = (rng.choice([-1, 1]) * rng.uniform(0, 0.006) if scan else 0.0) if stretch is None else stretch
    if view is None:
        seen_mm = (
            sheet.page.size_mm if card is None else (sheet.page.size_mm[0] + 2 * 90, sheet.page.size_mm[1])
        )
        view = pose(rng, seen_mm, size_px, scan=scan, stretch=stretch)
        if card is not None:
            view = Plane(view.matrix @ np.array([[1, 0, 90.0], [0, 1, 0], [0, 0, 1]]))
    flat = sheet.signal(eye)
    fine = 1 / sheet.px_per_mm
    step = np.array([[fine, 0, fine / 2], [0, fine, fine / 2], [0, 0, 1]])
    back = eye.signal(np.full(NM.shape, 0.85 if scan else table)).astype(np.float32)
    seen = cv2.warpPerspective(
        flat,
        view.matrix @ step,
        size_px,
        flags=cv2.INTER_AREA,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=tuple(float(v) for v in back),
    )
    if card is not None:
        half = card.size_mm / 2 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
        for centre, colour in zip(card.centres_mm, eye.signal(card.reflectance), strict=True):
            corners = np.round(view.map(np.array(centre) + half) * 16).astype(int)
            cv2.fillConvexPoly(seen, corners, tuple(float(v) for v in colour), cv2.LINE_AA, 4)
    if light is None:
        light = 1.0 if scan else light_over(rng, size_px)
    seen = seen * light
    seen = cv2.GaussianBlur(seen.astype(np.float32), (0, 0), rng.uniform(0.4, 0.9))
    if after is not None:
        seen = after(seen, view)
    small = cv2.resize(seen, (60, 60), interpolation=cv2.INTER_AREA)
    wide = cv2.resize(cv2.GaussianBlur(small, (0, 0), 9), size_px, interpolation=cv2.INTER_LINEAR)
    seen = (1 - eye.veil) * seen + eye.veil * wide
    level = (rng.uniform(0.82, 0.95) if scan else rng.uniform(0.55, 0.85)) if exposure is None else exposure
    white = eye.signal(sheet.ground) @ eye.matrix.T
    code = eye.render((seen * level / white.max()).astype(np.float32), rng)
    quality = int(rng.integers(72, 96)) if quality is None else quality
    made = as_picture(code, None if scan and rng.random() < 0.5 else quality, name)
    return Trial(
        made, sheet.spec, sheet.page, sheet.labs(), spectra.reflectance_to_lab(sheet.ground), eye.name, view
    )


def as_picture(code, quality=None, name="second"):
    """A Picture of encoded sRGB 0 to 1, through JPEG unless *quality* is None."""
    pixels = np.clip(np.rint(code * 255), 0, 255).astype(np.uint8)
    if quality is not None:
        held = io.BytesIO()
        Image.fromarray(pixels).save(held, "JPEG", quality=quality)
        pixels = np.asarray(Image.open(held))
    return Picture(f"{name}.jpg" if quality else f"{name}.png", pixels, srgb_encoding(), None)


def seen_colours(seed, kind, count=160):
    """Linear light relative to the paper of *count* even inks in one device, their Lab and the paper's.

    And of the 24 patches of a measured target, beside them: light, Lab.
    """
    rng = np.random.default_rng(seed)
    eye, ground = make_eye(rng, kind), paper(rng)
    labs = rng.uniform([22, -55, -50], [92, 62, 80], (count, 3))
    inks = np.stack([make_ink(rng, ground, lab).on(ground, rng.choice([1.0, 1.0, 2.0])) for lab in labs])
    patches = spectra.target_reflectance()
    everything = np.concatenate([inks, patches, ground[None]])
    level = rng.uniform(0.82, 0.95) if kind in SCANNERS else rng.uniform(0.55, 0.85)
    white = (eye.signal(ground) @ eye.matrix.T).max()
    signal = (1 - eye.veil) * eye.signal(everything) + eye.veil * 0.7 * eye.signal(ground)
    code = np.clip(np.rint(255 * eye.render(signal * level / white)), 0, 255) / 255
    linear = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    relative = linear[:-1] / linear[-1]
    return (
        relative[:count], spectra.reflectance_to_lab(inks), tuple(spectra.reflectance_to_lab(ground)),
        relative[count:], spectra.reflectance_to_lab(patches),
    )  # fmt: skip


def vivid(eye, by=1.8):
    """The same device with a maker's vivid (above 1) or washed-out (below 1) rendering."""
    return replace(eye, chroma=eye.chroma * by)


def apart(made, record):
    """CIEDE2000 of each reading against the truth; NaN where there is none."""
    return np.array([
        np.nan if one.lab is None else float(delta_e_2000(true, np.array(one.lab)))
        for true, one in zip(made.labs, record.readings, strict=True)
    ])  # fmt: skip
