"""How our endpoints read a body: through the same door as a session file."""

from __future__ import annotations

from typing import Any

import flask_smorest
from flask import Request
from marshmallow import missing
from webargs.flaskparser import FlaskParser, is_json_request

from ebbline.exchange import json_text


class StrictParser(FlaskParser):
    """Refuses what a session file may not hold either: a key twice, text that is not UTF-8."""

    DEFAULT_VALIDATION_STATUS = 422

    def _raw_load_json(self, req: Request) -> Any:
        return json_text.parse(req.get_data()) if is_json_request(req) else missing


class Blueprint(flask_smorest.Blueprint):  # type: ignore[misc]  # it has no types
    """A blueprint below /api."""

    ARGUMENTS_PARSER = StrictParser()
