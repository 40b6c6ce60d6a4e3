"""Commands. No Flask: the server process imports the web part by its name."""

from ebbline.cli.commands import main

__all__ = ["main"]
