"""What every test shares: the packaged demo palette, read once."""

from pathlib import Path

import pytest

from blendkit.palette import Palette, demo_palette_path, read_palette


@pytest.fixture(scope="session")
def demo() -> Palette:
    """The invented demo palette."""
    return read_palette(demo_palette_path())


@pytest.fixture(scope="session")
def root() -> Path:
    """The project's top folder."""
    return Path(__file__).resolve().parent.parent
