"""The pictures of README are what the code draws now."""

import importlib.util
import re

import numpy as np
import pytest
from PIL import Image


@pytest.fixture(scope="module")
def maker():
    from pathlib import Path

    path = Path(__file__).resolve().parent.parent / "examples" / "make_pictures.py"
    spec = importlib.util.spec_from_file_location("make_pictures", path)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def small(path):
    """A picture at 96 pixels: what an eye sees of it, whatever the versions of the drawing libraries."""
    with Image.open(path) as picture:
        size = picture.size
        return size, np.asarray(picture.convert("RGB").resize((96, 96), Image.Resampling.BOX)).astype(float)


def test_every_picture_made_anew_is_the_one_that_is_kept(maker, tmp_path, root):
    """Run examples/make_pictures.py when this fails, and look at what changed."""
    for made in maker.make_pictures(tmp_path):
        (size, fresh), (kept_size, kept) = small(made), small(root / "examples" / "pictures" / made.name)
        assert np.abs(np.subtract(size, kept_size)).max() <= 4, made.name
        assert np.abs(fresh - kept).mean() < 2.0, made.name


def test_readme_shows_every_picture(maker, root):
    shown = set(
        re.findall(r"examples/pictures/(\w+)\.(?:png|jpg)", (root / "README.md").read_text(encoding="utf-8"))
    )
    assert set(maker.PICTURES) <= shown
