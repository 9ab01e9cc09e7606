"""The command line: parse, call one function, print. Every command is the twin of a function of blendkit."""

from blendkit.cli.app import app, main

__all__ = ["app", "main"]
