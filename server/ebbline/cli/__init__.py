"""The ``ebbline`` command. No Flask: the server process imports the web part by its name.

``group`` names the commands; each is a module of its own that is imported when it is run, so that
none waits for what another needs.
"""

from ebbline.cli.group import main

__all__ = ["main"]
