"""Which refusal becomes which HTTP status; nothing below ``web`` knows."""

from __future__ import annotations

from typing import Any

from flask import Flask, render_template, request
from flask.typing import ResponseReturnValue
from flask_smorest import Api
from sqlalchemy.exc import DatabaseError, OperationalError
from werkzeug.exceptions import (
    HTTPException,
    MethodNotAllowed,
    NotFound,
    ServiceUnavailable,
    default_exceptions,
)

from ebbline.errors import (
    ConflictError,
    EbblineError,
    FullError,
    InputError,
    MeasureError,
    NotFoundError,
    TooLargeError,
)
from ebbline.store.damage import is_damaged, is_full

STATUS_OF: dict[type[EbblineError], int] = {
    InputError: 422,
    TooLargeError: 413,
    NotFoundError: 404,
    ConflictError: 409,
    FullError: 507,
    MeasureError: 422,
}


ASK_AGAIN_S = 5
FULL = "The server's disk is full. Nothing of this was stored; it is kept where it came from."


class InsufficientStorage(HTTPException):
    """RFC 4918, 11.5."""

    code = 507
    description = FULL


DETAILS = ("where", "held", "conflicts", "reason")  # beside the message, where there are any


def refusal(of: type[HTTPException], reason: str, message: str) -> HTTPException:
    """A refusal by the web itself, with a reason that a program can tell apart."""
    error = of(message)
    error.data = {"message": message, "reason": reason}  # type: ignore[attr-defined]  # smorest's
    return error


def register(app: Flask, api: Api) -> None:
    """Answer errors in JSON below /api and with a page elsewhere."""

    def reply(error: HTTPException) -> ResponseReturnValue:
        more = _headers(error)
        if isinstance(error, NotFound) and not hasattr(error, "data"):
            error.description = "There is nothing at this address."
        if not request.path.startswith("/api/"):
            return render_template("error.html", error=error), error.code or 500, more
        payload, code, headers = api.handle_http_exception(error)
        data: dict[str, Any] = getattr(error, "data", None) or {}
        payload.setdefault("message", _first(payload.get("errors")) or error.description)
        payload.update({key: data[key] for key in DETAILS if key in data})
        return payload, code, {**(headers or {}), **more}

    def domain_reply(error: EbblineError) -> ResponseReturnValue:
        if isinstance(error, FullError):
            app.logger.error("%s", error)
            return reply(InsufficientStorage())
        http_error = default_exceptions[STATUS_OF.get(type(error), 500)](str(error))
        data: dict[str, Any] = {"message": str(error)}
        if isinstance(error, InputError):
            data["where"] = error.where
        if isinstance(error, ConflictError) and error.held is not None:
            data["held"] = error.held
        if isinstance(error, ConflictError) and error.conflicts is not None:
            data["conflicts"] = error.conflicts
        if isinstance(error, MeasureError):
            app.logger.warning("no result for %s", request.path, exc_info=error)
        http_error.data = data  # type: ignore[attr-defined]  # what flask-smorest reads
        return reply(http_error)

    def database_reply(error: DatabaseError) -> ResponseReturnValue:
        if not isinstance(error, OperationalError) and not is_damaged(error):
            raise error  # a mistake of ours
        app.logger.error("the database can't be used: %s", error.orig)
        if is_full(error):
            return reply(InsufficientStorage())
        busy = ServiceUnavailable(
            "the database can't be used just now; nothing was stored", retry_after=ASK_AGAIN_S
        )
        return reply(busy)

    app.register_error_handler(HTTPException, reply)
    app.register_error_handler(DatabaseError, database_reply)
    app.register_error_handler(EbblineError, domain_reply)


def _headers(error: HTTPException) -> dict[str, str]:
    retry_after = getattr(error, "retry_after", None)
    if retry_after is not None:
        return {"Retry-After": str(retry_after)}
    if isinstance(error, MethodNotAllowed) and error.valid_methods:
        return {"Allow": ", ".join(sorted(error.valid_methods))}
    return {}


def _first(errors: Any) -> str | None:
    """The first of a schema's complaints, as 'place: problem'."""
    place = []
    while isinstance(errors, dict) and errors:
        key, errors = next(iter(errors.items()))
        place.append(str(key))
    if isinstance(errors, list) and errors:
        return f"{'.'.join(place[1:])}: {errors[0]}"
    return None
