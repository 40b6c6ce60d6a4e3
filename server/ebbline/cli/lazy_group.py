"""A group of commands that are imported when they are run, and what it says when one refuses: one
line on standard error and a status, never a traceback.
"""

from __future__ import annotations

import gc
from collections.abc import Mapping
from importlib import import_module
from typing import Any

import click

from ebbline.errors import EbblineError, InputError

BAD_INPUT, OTHER = 2, 1


class _Refused(click.ClickException):
    def __init__(self, message: str, status: int) -> None:
        super().__init__(" ".join(message.split()))
        self.exit_code = status  # type: ignore[misc]  # click reads it from the instance


class LazyGroup(click.Group):
    """Commands by name: each the ``command`` of a module, with the line that lists it."""

    def __init__(self, *args: Any, modules: Mapping[str, tuple[str, str]], **kwargs: Any) -> None:
        """``modules``: a command's name to its module's and to its line in the group's help."""
        super().__init__(*args, **kwargs)
        self.modules = modules

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Their names, in alphabetical order as click has them."""
        return sorted(self.modules)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """One of them, imported now."""
        if cmd_name not in self.modules:
            return None
        # All that an import makes stays: looking through it for garbage, again and again while it
        # grows, takes a tenth of the time.
        gc.disable()
        try:
            command: click.Command = import_module(self.modules[cmd_name][0]).command
        finally:
            gc.freeze()
            gc.enable()
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The list of them in the group's help, without importing any."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, self.modules[name][1]) for name in self.list_commands(ctx)])

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command asked for."""
        try:
            return super().invoke(ctx)
        except InputError as error:
            raise _Refused(str(error), BAD_INPUT) from error
        except (EbblineError, OSError) as error:
            raise _Refused(str(error), OTHER) from error
