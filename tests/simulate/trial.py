"""Ready pictures for tests and evaluations: a chart coloured with random inks, photographed or scanned."""

from dataclasses import dataclass

import numpy as np

from blendkit.picture import Picture
from blendkit.picture.encoding import DISPLAY_P3, encoding_from_primaries, srgb_encoding

from . import device, page, picture, spectra


@dataclass(frozen=True)
class Trial:
    """One simulated picture and what is true of it."""

    picture: Picture
    spec: object
    page: object
    labs: np.ndarray
    """Lab of every box, as an instrument would read it."""
    paper_lab: np.ndarray
    device: str
    view: object

    @property
    def filled(self):
        """Which boxes were to be coloured."""
        return np.array([box.kind != "paper" for box in self.page.boxes])

    def boxes_off_mm(self, fit):
        """How far each box's middle was placed from where it is, millimetres on the page."""
        centres = np.array([box.centre_mm for box in self.page.boxes])
        true = self.view.map(centres)
        steps = [
            np.linalg.norm(self.view.map(centres + step) - true, axis=1) for step in ([1.0, 0.0], [0.0, 1.0])
        ]
        return np.linalg.norm(fit.map(centres) - true, axis=1) / np.minimum(*steps)


def as_picture(code1, *, jpeg=None, name="simulated.png"):
    """A Picture of encoded sRGB, 0 to 1, by way of 8 bits and, if asked, JPEG of that quality."""
    pixels = picture.as_bytes(code1)
    if jpeg is not None:
        pixels = picture.through_jpeg(pixels, jpeg)
        name = name.replace(".png", ".jpg")
    return Picture(name, pixels, srgb_encoding(), None)


def coloured_sheet(rng, spec, *, px_per_mm, sheet=None, number=1, habits=None, **more):
    """One page of a chart, coloured with random inks."""
    spec_page = spec.page(number)
    shown = None if sheet is None else page.chart_layer(sheet, number, px_per_mm)
    return page.coloured_page(rng, spec_page, px_per_mm, habits=habits, shown=shown, **more)


def make_trial(
    rng,
    spec,
    kind,
    *,
    sheet=None,
    picture_px=(2000, 1500),
    curl_rad=0.15,
    tilt_deg=35.0,
    seen_by=None,
    target=None,
    habits=None,
    coloured=None,
    jpeg=None,
    **more,
):
    """A picture of a coloured page.

    Args:
        rng: NumPy generator; everything hangs on it.
        spec: the chart.
        kind: "photo", or a scanner's lamp: "white" or "rgb-led".
        sheet: the chart's drawing, to photograph the real print; a plain print when missing.
        picture_px: width and height of a photo.
        curl_rad: greatest slope of the page at its ends.
        tilt_deg: greatest tilt of the camera.
        seen_by: the device; random when missing.
        target: a target on the table.
        habits: how boxes are filled.
        coloured: a coloured page, to look at the same again.
        jpeg: quality; random from 60 to 95 for photos when missing.
        more: passed to photograph or scan_flatbed.
    """
    if coloured is None:
        fine = 6.0 if kind != "photo" else max(5.0, picture_px[0] / 290)
        coloured = coloured_sheet(rng, spec, px_per_mm=fine, sheet=sheet, habits=habits)
    if kind == "photo":
        seen_by = seen_by or device.phone(rng)
        pose = picture.random_pose(rng, tilt_max_deg=tilt_deg, curl_max_rad=curl_rad)
        code1, view = picture.photograph(
            rng, coloured, seen_by, pose=pose, picture_px=picture_px, target=target, **more
        )
        quality = int(rng.integers(60, 96)) if jpeg is None else jpeg
    else:
        seen_by = seen_by or device.scanner(rng, kind)
        code1, view = picture.scan_flatbed(rng, coloured, seen_by, target=target, **more)
        quality = jpeg
    return Trial(
        picture=as_picture(code1, jpeg=quality),
        spec=spec,
        page=coloured.page,
        labs=coloured.true_labs(),
        paper_lab=spectra.reflectance_to_lab(coloured.paper),
        device=seen_by.name,
        view=view,
    )


def in_display_p3(code1):
    """Pixels (h, w, 3), 16 bit, that show encoded sRGB 0 to 1 in Display P3, and that encoding."""
    wide = encoding_from_primaries(DISPLAY_P3, 65536)
    linear = srgb_encoding(65536).to_linear(code1) @ (np.linalg.inv(wide.matrix) @ srgb_encoding().matrix).T
    place = np.stack(
        [np.interp(linear[..., i], wide.curves[i], np.linspace(0, 1, 65536)) for i in range(3)], axis=-1
    )
    return np.round(place * 65535).astype(np.uint16), wide
