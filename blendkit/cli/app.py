"""The command table and the way in; a command's module is imported only when that command is asked for."""

import errno
import importlib
import os
import sys
import traceback
from itertools import takewhile
from pathlib import Path
from typing import Any

import typer
from typer.core import TyperCommand, TyperGroup

from blendkit.cli.options import spread
from blendkit.errors import BlendkitError
from blendkit.words import SAFETY_LINE

COMMANDS = {
    "pair": "blendkit.cli.advice",
    "order": "blendkit.cli.layering",
    "layer": "blendkit.cli.layering",
    "match": "blendkit.cli.advice",
    "papers": "blendkit.cli.advice",
    "greeting": "blendkit.cli.advice",
    "check": "blendkit.cli.advice",
    "gaps": "blendkit.cli.drawer",
    "doubles": "blendkit.cli.drawer",
    "kit": "blendkit.cli.drawer",
    "skin": "blendkit.cli.drawer",
    "plan": "blendkit.cli.plan",
    "calibrate": "blendkit.cli.calibrate",
    "chart": "blendkit.cli.sheets",
    "scan": "blendkit.cli.sheets",
    "photo": "blendkit.cli.photo",
    "convert": "blendkit.cli.exchange",
    "desk": "blendkit.cli.desk",
}
"""Every command, in the order of the help page, with the module that holds its function."""


FAULT_OF_OURS = 70
"""Exit code of a fault of the program itself. Source: sysexits.h of 4.3BSD, EX_SOFTWARE."""


class _Command(TyperCommand):
    """A command that reminds of quotes where a name of several words was typed without."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Read the arguments."""
        typed = list(args)
        try:
            return super().parse_args(ctx, args)
        except Exception as error:  # click's own, which typer may bring along under another name
            message = getattr(error, "message", "")
            if "unexpected extra argument" in message:
                words = " ".join(takewhile(lambda one: not one.startswith("-"), typed))
                quoted = f': "{words}"' if " " in words else ', such as "rosehip dawn"'
                error.message = f"{message}. Put a name of several words in quotes{quoted}"  # type: ignore[attr-defined]
            raise


def command_named(name: str) -> TyperCommand:
    """Build the command called *name*; its function is ``<name>_command`` in its module."""
    module = importlib.import_module(COMMANDS[name])
    single = typer.Typer(add_completion=False, rich_markup_mode="rich")
    single.command(name, cls=_Command)(spread(getattr(module, f"{name}_command")))
    command = typer.main.get_command(single)
    assert isinstance(command, TyperCommand)
    command.name = name
    return command


class _Lazy(TyperGroup):
    """Lists every command, builds the one that is run."""

    def invoke(self, ctx: Any) -> Any:
        """Run a command, and say what is true when its output is closed or full, or the person stops it."""
        try:
            answer = super().invoke(ctx)
            sys.stdout.flush()
        except BrokenPipeError:
            _let_go_of_output()
            sys.exit(0)
        except KeyboardInterrupt:
            typer.echo("blendkit: stopped. Each file is whole: as it was, or as it was to be.", err=True)
            sys.exit(130)
        except OSError as error:
            if error.errno not in (errno.ENOSPC, errno.EIO, errno.EFBIG) or error.filename:
                raise
            _let_go_of_output()
            typer.echo(f"blendkit: the answer can't be written: {error.strerror}.", err=True)
            sys.exit(2)
        return answer

    def list_commands(self, ctx: Any) -> list[str]:
        """Give the names in the order of the table."""
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> TyperCommand | None:
        """Build the command, or give None for a name that is none."""
        return command_named(cmd_name) if cmd_name in COMMANDS else None


app = typer.Typer(cls=_Lazy, no_args_is_help=True, rich_markup_mode="rich", pretty_exceptions_enable=False)


def _show_version(asked: bool) -> None:
    if asked:
        from blendkit.version import __version__

        typer.echo(f"blendkit {__version__}")
        raise typer.Exit


@app.callback(epilog=SAFETY_LINE)
def _blendkit(
    version: bool = typer.Option(
        False, "--version", help="Show the version and stop.", callback=_show_version, is_eager=True
    ),
) -> None:
    """Know before the ink dries: which marker shades which, in what order, on which paper.

    Colours are names of the palette, #rrggbb, lab(L a b) or oklch(L C h); put them in quotes. Without
    --palette or the variable BLENDKIT_PALETTE the invented demo palette is used.
    Start with:  blendkit pair "rosehip dawn"
    """


def main(arguments: list[str] | None = None) -> Any:
    """Run the command line; a user's mistake becomes a sentence on standard error and exit code 2."""
    _allow_any_letter()
    os.environ.pop("MPLBACKEND", None)  # plots are drawn without a screen, whatever it says
    try:
        return app(arguments)
    except BlendkitError as error:
        typer.echo(f"blendkit: {error}", err=True)
        unquoted = _unquoted(sys.argv[1:] if arguments is None else arguments, str(error))
        if unquoted:
            typer.echo(f'Put a name of several words in quotes: "{unquoted}"', err=True)
        sys.exit(2)
    except Exception as error:
        place = traceback.extract_tb(error.__traceback__)[-1]
        typer.echo(
            "blendkit: this is a fault of blendkit's own, not yours. Please send its makers the command, the file "
            f"and this line: {type(error).__name__}: {error} ({Path(place.filename).name}, line {place.lineno})",
            err=True,
        )
        sys.exit(FAULT_OF_OURS)


def _let_go_of_output() -> None:
    """Let what is still to be shown go nowhere, so that the end of the process doesn't fail on it."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _unquoted(arguments: list[str], told: str) -> str:
    """The name that an error proposes and that was typed without quotes, word by word; else nothing."""
    for count in (4, 3, 2):
        for start in range(len(arguments) - count + 1):
            words = " ".join(arguments[start : start + count])
            if f" {words.casefold()};" in f"{told.casefold()};".replace("\n", ";"):
                return words
    return ""


def _allow_any_letter() -> None:
    """Let a console that lacks a letter show a stand-in rather than fail."""
    for stream in (sys.stdout, sys.stderr):
        reconfigure = getattr(stream, "reconfigure", None)
        if reconfigure is not None:
            reconfigure(errors="replace")
