"""The API keeps to its own description, whatever is sent to it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from exchange.documents import ID, T_MS, a_document, a_run
from exchange.test_pictures import PICTURES
from flask import Flask
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from lazily import lazily
from sessions.test_recordings import CSV, GPX

from ebbline.sessions.access.accounts import add_account
from ebbline.web.app import create_app
from ebbline.web.db import db

schemathesis = lazily("schemathesis")
checks = lazily("schemathesis.checks")
openapi_checks = lazily("schemathesis.specs.openapi.checks")

# What a schema can't say (two ids that must agree, columns of one length) is judged by hand
# written tests; and an upload with malformed records is answered with 200 and their refusals.
UNPACKED = {"Accept-Encoding": "identity"}  # a client in this process unpacks nothing
NOT_CHECKED = ("positive_data_acceptance", "negative_data_rejection")

JSON = "application/json"
PASSWORD = "a long enough password"
SETUP = {"session": {"id": ID}}
IN_SESSION = "/api/sessions/{session_id}"
# What no luck would draw, such as files that are no JSON: body, its type and query by operation.
REAL: dict[str, tuple[Any, str, dict[str, Any]]] = {
    "POST /api/sessions/import": ({**a_document(), "photos": []}, JSON, {}),
    f"PUT {IN_SESSION}": ({"base": 1, "setup": SETUP}, JSON, {}),
    f"POST {IN_SESSION}/records": ({"device": "p"}, JSON, {}),
    f"POST {IN_SESSION}/trial": (SETUP, JSON, {}),
    f"PUT {IN_SESSION}/archived": ({"archived": False}, JSON, {}),
    f"POST {IN_SESSION}/evidence": (GPX, "application/gpx+xml", {}),
    f"POST {IN_SESSION}/evidence/guess": (CSV, "text/csv", {}),
    f"POST {IN_SESSION}/keys": ({"label": "Phone A"}, JSON, {}),
    "POST /api/sign-in": ({"name": "alex", "password": PASSWORD}, JSON, {}),
    "POST /api/sign-out": ({}, JSON, {}),
    "POST /api/sessions/renewals": ({"first": [ID]}, JSON, {}),
    "POST /api/sessions/table": ({"session_ids": [ID]}, JSON, {}),
    "POST /api/sessions/publish": ({"session_ids": [ID], "record": True}, JSON, {}),
    f"POST {IN_SESSION}/publications": ({"by": "alex", "note": "the film"}, JSON, {}),
    "POST /api/campaigns/{campaign_id}/publications": ({"note": "the film"}, JSON, {}),
    "POST /api/campaigns": ({"name": "Winter", "session_ids": [ID]}, JSON, {}),
    "PUT /api/campaigns/{campaign_id}": (
        {
            "name": "Winter",
            "session_ids": [],
            "base": 1,
            "left_out": [{"session_id": ID, "why": "the course was wet"}],
        },
        JSON,
        {},
    ),
    "POST /api/imports/look": (GPX, "application/gpx+xml", {}),
    "POST /api/imports/evidence": (GPX, "application/gpx+xml", {}),
    "POST /api/imports/photo-time": (PICTURES["image/png"], "image/png", {}),
    f"GET {IN_SESSION}/crew": (None, None, {"device": "phone-2"}),
    f"POST {IN_SESSION}/photos": (
        PICTURES["image/png"],
        "image/png",
        {"t_ms": T_MS, "device": "phone-1"},
    ),
}


@pytest.fixture
def described(tmp_path: Path) -> Any:
    """The API's description, and behind it an application with one session."""
    app = create_app(f"sqlite:///{tmp_path / 'x.sqlite3'}", str(tmp_path / "photos"))
    client = app.test_client()
    content, media_type, _ = REAL["POST /api/sessions/import"]
    answer = client.post("/api/sessions/import", json=content, content_type=media_type)
    assert answer.status_code == 201
    return schemathesis.openapi.from_wsgi("/api/openapi.json", app)


@pytest.fixture
def key(described: Any) -> dict[str, str]:
    """A phone's key to that session."""
    made = described.app.test_client().post(f"/api/sessions/{ID}/keys", json={"label": "Phone"})
    assert made.status_code == 201
    key: dict[str, str] = made.json
    return key


@pytest.fixture
def there(described: Any, key: dict[str, str]) -> dict[str, Any]:
    """What an address may name here."""
    picture, media_type, query = REAL[f"POST {IN_SESSION}/photos"]
    kept = described.app.test_client().post(
        f"/api/sessions/{ID}/photos", data=picture, content_type=media_type, query_string=query
    )
    campaign, _, _ = REAL["POST /api/campaigns"]
    made = described.app.test_client().post("/api/campaigns", json=campaign)
    run = a_run("0b7a116f-6d3e-4b53-9d6a-0c8f4f1f1d36")
    session_id = run["session"]["id"]
    assert described.app.test_client().post("/api/sessions/import", json=run).status_code == 201
    described.app.test_client().get(f"/api/sessions/{session_id}/result")
    published = described.app.test_client().post(
        "/api/campaigns", json={**campaign, "session_ids": [session_id]}
    )
    records = f"/api/campaigns/{published.json['id']}/publications"
    recorded = described.app.test_client().post(records, json={})
    return {
        "campaign_id": made.json["id"],
        "published_campaign_id": published.json["id"],  # it can't be deleted
        "publication_id": recorded.json["publications"][0]["id"],
        "session_id": ID,
        "other_id": ID,
        "sha256": kept.json["held"]["sha256"],
        "key_id": key["id"],
        "piece": "report-pdf",
        "name": "session",
        "page": 1,
    }


def not_checked() -> list[Any]:
    return [getattr(openapi_checks, name) for name in NOT_CHECKED]


def real_case(operation: Any, there: dict[str, str]) -> Any:
    body, media_type, query = REAL.get(operation.label, (None, None, {}))
    path = {name: value for name, value in there.items() if f"{{{name}}}" in operation.path}
    if operation.path == "/api/campaigns/{campaign_id}/publications":
        path["campaign_id"] = there["published_campaign_id"]
    more = {} if body is None else {"body": body, "media_type": media_type}
    return operation.Case(path_parameters=path, query=dict(query), **more)


def sign_in(app: Flask) -> dict[str, str]:
    """The cookie of somebody at the desk of a server that is no longer open to everybody."""
    with app.app_context():
        add_account(db.session(), "alex", PASSWORD, T_MS)
    answer = app.test_client().post("/api/sign-in", json={"name": "alex", "password": PASSWORD})
    assert answer.status_code == 200
    name, _, value = answer.headers["Set-Cookie"].partition(";")[0].partition("=")
    return {name: value}


@pytest.mark.slow
def test_every_operation_answers_what_it_is_for_as_described(
    described: Any, there: dict[str, str], key: dict[str, str]
) -> None:
    known = set(checks.CHECKS.get_all_names())
    assert {"not_a_server_error", "response_schema_conformance"} <= known
    cookies = sign_in(described.app)
    bearer = {"Authorization": f"Bearer {key['token']}"}
    operations = [found.ok() for found in described.get_all_operations()]
    for operation in sorted(operations, key=lambda operation: operation.method == "delete"):
        case = real_case(operation, there)
        shown = bearer if operation.path == "/api/join" else {}
        answer = case.call_and_validate(
            headers={**UNPACKED, **shown},
            cookies=None if shown else cookies,
            excluded_checks=not_checked(),
        )
        assert answer.status_code in (200, 201), operation.label


@pytest.mark.slow
@pytest.mark.parametrize("mode", ["positive", "negative"])
def test_every_answer_is_as_described(described: Any, there: dict[str, str], mode: str) -> None:
    operations = [found.ok() for found in described.get_all_operations()]
    ask(described, operations, there, schemathesis.GenerationMode(mode))()


def ask(
    described: Any, operations: list[Any], there: dict[str, str], mode: Any
) -> Callable[[], None]:
    """Hundreds of drawn calls, half of them about what is there."""

    @settings(
        max_examples=150,
        deadline=None,
        derandomize=True,  # the same requests each time: a red run can be looked into
        suppress_health_check=list(HealthCheck),
    )
    @given(data=st.data())
    def call(data: st.DataObject) -> None:
        operation = data.draw(st.sampled_from(operations))
        case = data.draw(operation.as_strategy(generation_mode=mode))
        if "session_id" in (case.path_parameters or {}) and data.draw(st.booleans()):
            case.path_parameters.update(
                {name: there[name] for name in there if name in case.path_parameters}
            )
            if isinstance(case.body, dict) and isinstance(case.body.get("setup"), dict):
                case.body["setup"]["session"] = {"id": ID}
                seen = described.app.test_client().get(f"/api/sessions/{ID}")
                case.body["base"] = seen.json["revision"]
        case.call_and_validate(headers=UNPACKED, excluded_checks=not_checked())

    return call
