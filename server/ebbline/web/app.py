"""The web application: settings in, a WSGI application out."""

from __future__ import annotations

import os
from typing import Any

import orjson
from flask import Flask
from flask.json.provider import JSONProvider
from werkzeug.middleware.proxy_fix import ProxyFix

from ebbline import __version__, store
from ebbline.address import Address
from ebbline.store.photos import PhotoFolder
from ebbline.web import access, door, errors, packing, pwa
from ebbline.web.api import register_api, sign_in
from ebbline.web.db import db

LOOPBACK = Address()


class ExactJSON(JSONProvider):
    """JSON by orjson: floats to the last digit, and never a bare NaN."""

    def dumps(self, obj: Any, **kwargs: Any) -> str:
        """Write a value; places in a list, as refusals name them, are keys too."""
        return orjson.dumps(obj, option=orjson.OPT_NON_STR_KEYS).decode()

    def loads(self, s: str | bytes, **kwargs: Any) -> Any:
        """Read a value."""
        return orjson.loads(s)


def create_app(database_url: str, photos_url: str, address: Address = LOOPBACK) -> Flask:
    """Make the application, with its database at the current migration.

    Args:
        database_url: where the sessions are; SQLite or PostgreSQL.
        photos_url: a folder, or any place that fsspec reaches.
        address: where it is reached.

    Raises:
        InputError: ``database_url`` is no database we know.
    """
    database_url = store.database_url(database_url)
    app = Flask(__name__, static_folder=None)
    app.json = ExactJSON(app)
    app.config.update(
        SQLALCHEMY_DATABASE_URI=database_url,
        SQLALCHEMY_ENGINE_OPTIONS=store.engine_options(database_url, store.BUSY_WHILE_SERVING_S),
        TRUSTED_HOSTS=list(address.hosts),
        MAX_CONTENT_LENGTH=door.MAX_UPLOAD_BYTES,
        API_TITLE="Ebbline",
        API_VERSION=__version__,
        OPENAPI_VERSION="3.1.0",
        OPENAPI_URL_PREFIX="/api",
        OPENAPI_JSON_PATH="openapi.json",
    )
    app.extensions["ebbline.photos"] = PhotoFolder(photos_url)
    app.extensions["ebbline.attempts"] = sign_in.Attempts()
    if address.proxied:
        app.wsgi_app = ProxyFix(app.wsgi_app, x_for=1, x_proto=1, x_host=1)  # type: ignore[method-assign]
    db.init_app(app)
    with app.app_context():
        store.prepare(db.engine)
    api = register_api(app)
    errors.register(app, api)
    door.register(app)
    packing.register(app)
    access.register(app, address)
    app.register_blueprint(pwa.pages)
    return app


def from_environment() -> Flask:
    """The application as a server process makes it: ``EBBLINE_DATABASE_URL`` and
    ``EBBLINE_PHOTOS`` say where things are, and what ``Address`` reads where it is itself.
    """
    return create_app(
        os.environ["EBBLINE_DATABASE_URL"],
        os.environ["EBBLINE_PHOTOS"],
        Address.from_environment(),
    )
