"""The API keeps to its own description, whatever is sent to it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import schemathesis
from exchange.documents import ID, T_MS, a_document
from exchange.test_pictures import PICTURES
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis.checks import CHECKS
from schemathesis.specs.openapi.checks import negative_data_rejection, positive_data_acceptance
from sessions.test_evidence import CSV, GPX

from ebbline.web.app import create_app

# What a schema can't say (two ids that must agree, columns of one length) is judged by hand
# written tests; and an upload with malformed records is answered with 200 and their refusals.
NOT_CHECKED = [positive_data_acceptance, negative_data_rejection]

# Files that are no JSON: their type alone doesn't make one, so a real one is sent now and then.
PHOTOS = "/api/sessions/{session_id}/photos"
FILES = {
    "/api/sessions/{session_id}/evidence": (GPX, "application/gpx+xml"),
    "/api/sessions/{session_id}/evidence/guess": (CSV, "text/csv"),
    PHOTOS: (PICTURES["image/png"], "image/png"),
}
NEEDED = {PHOTOS: {"t_ms": T_MS, "device": "phone-1"}}


PATHS = {"session_id": ID}  # what is there to be asked for


def keep_a_picture(client: FlaskClient) -> str:
    content, media_type = FILES[PHOTOS]
    answer = client.post(
        PHOTOS.format(session_id=ID),
        data=content,
        content_type=media_type,
        query_string=NEEDED[PHOTOS],
    )
    assert answer.status_code == 200
    return str(answer.json["held"]["sha256"])


@pytest.fixture(scope="module")
def described(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """The API's description, and behind it an application with one session."""
    folder: Path = tmp_path_factory.mktemp("openapi")
    app = create_app(f"sqlite:///{folder / 'x.sqlite3'}", str(folder / "photos"))
    answer = app.test_client().post("/api/sessions/import", json={**a_document(), "photos": []})
    assert answer.status_code == 201
    PATHS["sha256"] = keep_a_picture(app.test_client())
    return schemathesis.openapi.from_wsgi("/api/openapi.json", app)


@pytest.mark.parametrize("mode", ["positive", "negative"])
def test_every_answer_is_as_described(described: Any, mode: str) -> None:
    operations = [found.ok() for found in described.get_all_operations()]
    answered: set[tuple[str, int]] = set()

    @settings(
        max_examples=300,
        deadline=None,
        derandomize=True,  # the same requests each time: a red run can be looked into
        suppress_health_check=list(HealthCheck),
    )
    @given(data=st.data())
    def call(data: st.DataObject) -> None:
        operation = data.draw(st.sampled_from(operations))
        generation = schemathesis.GenerationMode(mode)
        case = data.draw(operation.as_strategy(generation_mode=generation))
        if "session_id" in (case.path_parameters or {}) and data.draw(st.booleans()):
            case.path_parameters.update(
                {name: there for name, there in PATHS.items() if name in case.path_parameters}
            )
            if isinstance(case.body, dict) and isinstance(case.body.get("setup"), dict):
                case.body["setup"]["session"] = {"id": ID}
                seen = described.app.test_client().get(f"/api/sessions/{ID}")
                case.body["base"] = seen.json["revision"]
        if operation.path in FILES and mode == "positive" and data.draw(st.booleans()):
            case.body, case.media_type = FILES[operation.path]
            case.query = dict(NEEDED.get(operation.path, {}))
            case.path_parameters["session_id"] = ID
        answer = case.call_and_validate(excluded_checks=NOT_CHECKED)
        answered.add((operation.label, answer.status_code))

    call()
    assert {"not_a_server_error", "response_schema_conformance"} <= set(CHECKS.get_all_names())
    if mode == "positive":
        for operation in operations:
            statuses = {status for label, status in answered if label == operation.label}
            assert statuses & {200, 201}, operation.label
