"""How our endpoints read a body: through the same door as a session file."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import flask_smorest
from flask import Request, request
from marshmallow import RAISE, missing
from webargs.flaskparser import FlaskParser, is_json_request
from werkzeug.exceptions import RequestEntityTooLarge

from ebbline.errors import TooLargeError
from ebbline.exchange import json_text
from ebbline.web.api.schemas import RefusedSchema

# Of one JSON body: the most that an upload of records can hold.
MOST_PARTS, MOST_VALUES = 100_000, 2_000_000


def body() -> bytes:
    """The request's body, refused with 413 when there is more than we take here."""
    most = request.max_content_length or 0
    try:
        data = request.get_data()
    except RequestEntityTooLarge:
        raise _too_large(most) from None
    # A body sent in chunks says no length, and the library cuts it at the limit in silence.
    if request.content_length is None and len(data) >= most:
        raise _too_large(most)
    return data


def _too_large(most_bytes: int) -> RequestEntityTooLarge:
    said = request.content_length
    size = f"has {said:,} bytes" if said else f"has more than {most_bytes:,} bytes"
    message = f"$: {size}; {most_bytes:,} bytes are the most taken here"
    error = RequestEntityTooLarge(message)
    error.data = {"message": message, "where": "$"}  # type: ignore[attr-defined]  # smorest's
    return error


def _refuse_many_parts(data: bytes) -> None:
    """Counted before they are read: each takes many times the memory of the bytes that say it."""
    for count, most, of in (
        (data.count(b"{") + data.count(b"["), MOST_PARTS, "objects and lists"),
        (data.count(b","), MOST_VALUES, "values"),
    ):
        if count > most:
            raise TooLargeError("$", f"has {count:,} {of}; {most:,} are the most taken at once")


class StrictParser(FlaskParser):
    """Refuses what a session file may not hold either: a key twice, text that is not UTF-8."""

    DEFAULT_VALIDATION_STATUS = 422
    DEFAULT_UNKNOWN_BY_LOCATION = {  # noqa: RUF012  # webargs' own spelling
        **FlaskParser.DEFAULT_UNKNOWN_BY_LOCATION,
        "query": RAISE,  # webargs would let a misspelt one vanish
    }

    def _raw_load_json(self, req: Request) -> Any:
        if not is_json_request(req):
            return missing
        data = body()
        _refuse_many_parts(data)
        return json_text.parse(data)


class Blueprint(flask_smorest.Blueprint):  # type: ignore[misc]  # it has no types
    """A blueprint below /api."""

    ARGUMENTS_PARSER = StrictParser()

    def refuses(self, *codes: int) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
        """Document with which statuses an endpoint refuses, beside those that all share."""

        def document(view: Callable[..., Any]) -> Callable[..., Any]:
            for code in codes:
                view = self.alt_response(code, schema=RefusedSchema)(view)
            return view

        return document
