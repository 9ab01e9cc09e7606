"""The command desk: the local page."""

from pathlib import Path
from typing import Annotated

import typer

from blendkit.cli.options import PALETTE_VARIABLE

OWN_DRAWER = Path("my-drawer.csv")
"""Palette of a desk that was opened without one: in this folder, made by the first change."""


def desk_command(
    palette: Annotated[
        Path | None,
        typer.Option(
            "--palette",
            "-p",
            envvar=PALETTE_VARIABLE,
            show_envvar=True,
            help=f"The palette file (CSV); without it the project's own, or {OWN_DRAWER} in this folder, "
            "made by the first change.",
        ),
    ] = None,
    project: Annotated[Path | None, typer.Option(help="A project file to open.")] = None,
    host: Annotated[
        str, typer.Option(help="What to listen on; this machine alone by default.")
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=0, max=65535, help="0 for any that is free.")] = 0,
    browser: Annotated[bool, typer.Option(help="Open the page in the usual browser.")] = True,
) -> None:
    """Open the desk: a page in your browser, on this machine alone, for looking rather than typing.

    Example:  blendkit desk --palette my-drawer.csv
    """
    from blendkit.desk.server import run_desk

    if palette is None and project is not None:
        from blendkit.project.reading import read_project

        palette = read_project(project).palette_path
    run_desk(palette or OWN_DRAWER, project, host, port, browser, say=typer.echo)
