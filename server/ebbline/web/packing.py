"""Answers made smaller on their way out: brotli, else gzip, as the asker takes them."""

from __future__ import annotations

import gzip
from functools import lru_cache

import brotli
from flask import Flask, Response, request

ENCODINGS = ("br", "gzip", "identity")  # in the order that makes most of it
WORTHWHILE_BYTES = 1024  # below it the header eats what is gained
PATIENT_BYTES = 300_000  # up to this size the last tenth costs a file less than a second, once


def chosen() -> str:
    """The encoding that this request takes and that makes most of it."""
    return request.accept_encodings.best_match(ENCODINGS) or "identity"


@lru_cache(maxsize=1024)
def packed_once(content: bytes, encoding: str) -> bytes:
    """A file's content, as small as it gets; kept, so that no file is packed twice."""
    if encoding == "br":
        return brotli.compress(content, quality=10 if len(content) <= PATIENT_BYTES else 9)
    return gzip.compress(content, 9, mtime=0) if encoding == "gzip" else content


def register(app: Flask) -> None:
    """Have an application pack what its API answers."""
    app.after_request(_pack_json)


def _pack_json(response: Response) -> Response:
    if response.mimetype != "application/json" or response.is_streamed:
        return response
    if "ETag" in response.headers:
        return response  # it would have to name another content for each encoding
    content = response.get_data()
    if len(content) < WORTHWHILE_BYTES:
        return response
    response.vary.add("Accept-Encoding")
    encoding = chosen()
    if encoding != "identity":
        response.content_encoding = encoding
        response.set_data(_packed_quickly(content, encoding))
    return response


def _packed_quickly(content: bytes, encoding: str) -> bytes:
    """An answer made for one request is not worth more time than it saves."""
    return brotli.compress(content, quality=1) if encoding == "br" else gzip.compress(content, 1)
