"""What every test shares: the packaged demo palette, read once; the command line, run in this process."""

import os
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from blendkit.palette import Palette, demo_palette_path, read_palette

# A busy machine must not fail a property; where the check runs unwatched, the same examples are tried each time.
settings.register_profile(
    "blendkit", deadline=None, suppress_health_check=[HealthCheck.too_slow], derandomize="CI" in os.environ
)
settings.load_profile("blendkit")

NEEDED = ("chromium", "icc-profiles-free")
"""Packages of the system whose tests skip without them; with CI set, such a skip fails the run."""


def pytest_sessionfinish(session):
    """Fail a CI run in which tests were skipped for want of what the check should have installed."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    if "CI" not in os.environ or reporter is None:
        return
    reasons = {str(report.longrepr) for report in reporter.stats.get("skipped", ())}
    wanting = [reason for reason in reasons if any(package in reason for package in NEEDED)]
    if wanting:
        session.exitstatus = 1
        reporter.write_line("CI must not skip these: " + "; ".join(sorted(wanting)), red=True)


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
