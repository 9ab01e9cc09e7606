"""The wheel alone works outside the checkout, and holds what it needs."""

import os
import subprocess
import sys
import tarfile
import zipfile

import pytest

import blendkit

MOST_MB = 6.5  # 5.3 of it are the weights of the learned look


@pytest.fixture(scope="module")
def built(tmp_path_factory, request):
    """The wheel and the source archive, built from the checkout."""
    from pathlib import Path

    root = Path(__file__).resolve().parent.parent
    folder = tmp_path_factory.mktemp("dist")
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check", "-q"]
    subprocess.run(
        [*pip, "wheel", "--no-deps", "-w", str(folder), str(root)], check=True, capture_output=True
    )
    builder = (
        "import os, sys; from hatchling.build import build_sdist; "
        "os.chdir(sys.argv[1]); print(build_sdist(sys.argv[2]))"
    )
    subprocess.run([sys.executable, "-c", builder, str(root), str(folder)], check=True, capture_output=True)
    return next(folder.glob("*.whl")), next(folder.glob("*.tar.gz"))


def test_the_wheel_is_small_and_holds_palettes_fonts_types_and_licences(built):
    wheel, _ = built
    assert wheel.stat().st_size < MOST_MB * 1e6
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
        metadata = archive.read(next(name for name in names if name.endswith("METADATA"))).decode()
    assert f"blendkit-{blendkit.__version__}-" in wheel.name
    for needed in (
        "blendkit/py.typed",
        "blendkit/data/cie_weights.csv",
        "blendkit/data/colour_names.csv",
        "blendkit/data/spectra_spread.csv",
        "blendkit/palettes/hedgehog-lane.csv",
        "blendkit/palettes/market-stall.csv",
        "blendkit/palettes/first-box.csv",
        "blendkit/page/fonts/OFL.txt",
        "blendkit/page/fonts/SheetSans-Regular.ttf",
        "blendkit/page/look.typ",
        "blendkit/report/pair.typ",
        "blendkit/plan/plan.typ",
    ):
        assert needed in names
    assert any(name.startswith("blendkit/desk/") and name.endswith((".js", ".mjs")) for name in names)
    assert any(name.endswith("licenses/LICENSE") for name in names)
    assert not any(name.startswith(("tests/", "examples/")) for name in names)
    assert "License-Expression: MIT" in metadata


def test_the_wheel_alone_answers_outside_the_checkout(built, tmp_path):
    wheel, _ = built
    site = tmp_path / "site"
    install = [
        "-m",
        "pip",
        "--disable-pip-version-check",
        "-q",
        "install",
        "--no-deps",
        "--target",
        str(site),
    ]
    subprocess.run([sys.executable, *install, str(wheel)], check=True, capture_output=True)
    environment = {**os.environ, "PYTHONPATH": str(site)}
    environment.pop("BLENDKIT_PALETTE", None)

    def run(*arguments):
        return subprocess.run(
            [sys.executable, *arguments], cwd=tmp_path, env=environment, capture_output=True, text=True
        )

    where = run("-c", "import blendkit; print(blendkit.__file__)")
    assert where.stdout.startswith(str(site)), where.stderr
    for arguments in (
        ("pair", "moss stone noon"),
        ("chart", "--family", "moss stone", "--out", "chart.pdf"),
        ("order", "moss stone dawn", "--report", "order.pdf"),
    ):
        answer = run("-m", "blendkit", *arguments)
        assert answer.returncode == 0, answer.stderr
    assert (tmp_path / "chart.pdf").stat().st_size > 10_000


def test_the_source_archive_holds_what_the_check_needs_and_nothing_stray(built):
    _, source = built
    with tarfile.open(source) as archive:
        names = {name.partition("/")[2] for name in archive.getnames()}
    for needed in (
        "pyproject.toml",
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "palettes/first-box.csv",
        "tests/conftest.py",
    ):
        assert needed in names
    assert not any(name.endswith((".pyc", ".lock")) for name in names)


def test_the_source_archive_builds_the_same_wheel(built, tmp_path):
    wheel, source = built
    with tarfile.open(source) as archive:
        archive.extractall(tmp_path, filter="data")
    (unpacked,) = tmp_path.iterdir()
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check", "-q", "wheel", "--no-deps", "-w"]
    subprocess.run([*pip, str(tmp_path / "again"), str(unpacked)], check=True, capture_output=True)

    def contents(path):
        with zipfile.ZipFile(path) as archive:
            return {info.filename: info.CRC for info in archive.infolist()}

    assert contents(next((tmp_path / "again").glob("*.whl"))) == contents(wheel)


def test_the_version_has_a_single_source(root):
    text = (root / "pyproject.toml").read_text(encoding="utf-8")
    assert 'dynamic = ["version"]' in text
    assert f'\nversion = "{blendkit.__version__}"' not in text
