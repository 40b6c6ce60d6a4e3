"""Refusals at the command line: one line on standard error and a status, never a traceback."""

from __future__ import annotations

from typing import Any

import click
from sqlalchemy.exc import OperationalError

from ebbline.errors import EbblineError, InputError

BAD_INPUT, OTHER = 2, 1


class _Refused(click.ClickException):
    def __init__(self, message: str, status: int) -> None:
        super().__init__(" ".join(message.split()))
        self.exit_code = status  # type: ignore[misc]  # click reads it from the instance


class RefusingGroup(click.Group):
    """A group of commands whose domain errors become messages."""

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command asked for."""
        try:
            return super().invoke(ctx)
        except InputError as error:
            raise _Refused(str(error), BAD_INPUT) from error
        except EbblineError as error:
            raise _Refused(str(error), OTHER) from error
        except OperationalError as error:
            raise _Refused(f"the database can't be used: {error.orig}", OTHER) from error
        except OSError as error:
            raise _Refused(str(error), OTHER) from error
