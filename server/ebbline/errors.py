"""One exception tree: every refusal Ebbline makes on purpose derives from EbblineError.

Messages say what is wrong and where, in words for the person who made the input. Only ``web``
knows which HTTP status each one becomes, only ``cli`` knows its exit status.
"""


class EbblineError(Exception):
    """Base of every refusal."""


class InputError(EbblineError):
    """Something given to us is malformed.

    ``where`` names the place, for example ``events[3].t_ms``.
    """

    def __init__(self, where: str, problem: str) -> None:
        self.where = where
        self.problem = problem
        super().__init__(f"{where}: {problem}")


class TooLargeError(InputError):
    """More bytes or rows than we take; nothing was read beyond the limit."""


class FullError(EbblineError):
    """The disk is full; nothing of what was to be written was kept."""


class NotFoundError(EbblineError):
    """No such session, record or photo."""


class ConflictError(EbblineError):
    """Somebody else changed it first, or the same id already holds different content.

    ``held`` is what is here instead; ``conflicts`` are the records in the way, where several may
    be: ``{"id", "yours", "held"}`` each.
    """

    def __init__(
        self, message: str, held: object = None, conflicts: list[dict[str, object]] | None = None
    ) -> None:
        self.held = held
        self.conflicts = conflicts
        super().__init__(message)


class MeasureError(EbblineError):
    """The measuring core was called with arrays it can't work on (a programming mistake or
    evidence that the door should have refused).
    """
