"""What every test shares: the packaged demo palette, read once; the command line, run in this process."""

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


@pytest.fixture
def run(capsys, monkeypatch):
    """Run the command line in this process; give exit code, standard output and standard error."""
    from blendkit.cli.app import main

    monkeypatch.delenv("BLENDKIT_PALETTE", raising=False)
    monkeypatch.setenv("COLUMNS", "120")

    def call(*arguments):
        capsys.readouterr()
        try:
            main([str(argument) for argument in arguments])
            code = 0
        except SystemExit as stop:
            code = int(stop.code or 0)
        out = capsys.readouterr()
        return code, out.out, out.err

    return call
