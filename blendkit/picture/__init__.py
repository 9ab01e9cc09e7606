"""Pictures from cameras and scanners, read once, with what their numbers mean as colour."""

from blendkit.picture.encoding import RgbEncoding
from blendkit.picture.reading import MAX_PIXELS, Picture, read_picture

__all__ = ["MAX_PIXELS", "Picture", "RgbEncoding", "read_picture"]
