"""The pictures of the page in examples/pictures are what the page looks like now."""

import importlib.util
import subprocess
import sys

import numpy as np
import pytest
from PIL import Image

RETAKEN = ("desk_drawer", "desk_pair_phone", "desk_papers_tablet")


@pytest.fixture(scope="module")
def taker(root):
    spec = importlib.util.spec_from_file_location(
        "take_screenshots", root / "examples" / "take_screenshots.py"
    )
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def small(path):
    """A picture at 64 pixels: what an eye sees of it, whatever the versions of the browser and its fonts."""
    with Image.open(path) as picture:
        return picture.size, np.asarray(picture.convert("RGB").resize((64, 64), Image.Resampling.BOX)).astype(
            float
        )


def test_pictures_taken_anew_are_those_that_are_kept(root, tmp_path):
    """Run examples/take_screenshots.py when this fails, and look at what changed."""
    script = root / "examples" / "take_screenshots.py"
    subprocess.run(
        [sys.executable, str(script), str(tmp_path), *RETAKEN], check=True, stdout=subprocess.DEVNULL
    )
    for name in RETAKEN:
        (size, fresh), (kept_size, kept) = (
            small(folder / f"{name}.jpg") for folder in (tmp_path, root / "examples" / "pictures")
        )
        assert size == kept_size
        assert np.abs(fresh - kept).mean() < 4.0, name


def test_every_scene_has_its_picture(taker, root):
    """At desktop, tablet and phone sizes, each of the six places and the empty drawer."""
    for name, (_, window, _) in taker.SCENES.items():
        size, _ = small(root / "examples" / "pictures" / f"{name}.jpg")
        assert size == window, name
    assert (root / "examples" / "pictures" / "desk_empty.jpg").is_file()
    places = {path.split("?")[0].strip("/") for path, _, _ in taker.SCENES.values()}
    assert places == {"drawer", "pair", "papers", "project", "scrap", "photo"}
