"""The documented API: parse, call, answer."""

from __future__ import annotations

from flask import Flask
from flask_smorest import Api

from ebbline.web.api import (
    campaigns,
    files,
    imports,
    join,
    json_schemas,
    known,
    listing,
    live,
    photos,
    publications,
    publish,
    recordings,
    results,
    sessions,
    sign_in,
    time,
)
from ebbline.web.api.schemas import RefusedSchema, describe_fields


class DescribedApi(Api):  # type: ignore[misc]  # it has no types
    """Describes errors as ``web.errors`` writes them."""

    ERROR_SCHEMA = RefusedSchema


def register_api(app: Flask) -> Api:
    """Put the API and its description into an application."""
    api = DescribedApi(
        app,
        spec_kwargs={
            "info": {
                "description": (
                    "Everything the phone and the desk use. Times are milliseconds since the "
                    "Unix epoch or RFC 3339; units are in the names; null means 'not known'."
                ),
                "license": {"name": "Apache-2.0", "identifier": "Apache-2.0"},
            }
        },
    )
    describe_fields(api)
    api.spec.components.security_scheme("key", {"type": "http", "scheme": "bearer"})
    for blueprint in (
        time.bp,
        listing.bp,
        sessions.bp,
        files.bp,
        recordings.bp,
        imports.bp,
        photos.bp,
        publish.bp,
        publications.bp,
        results.bp,
        known.bp,
        join.bp,
        live.bp,
        campaigns.bp,
        json_schemas.bp,
        sign_in.bp,
    ):
        api.register_blueprint(blueprint)
    return api
