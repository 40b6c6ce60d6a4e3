"""Who may call, with what, and which headers every answer carries."""

from __future__ import annotations

import uuid

import pytest
from flask.testing import FlaskClient

SESSION = f"/api/sessions/{uuid.UUID(int=7)}"
PAGES = ("/capture", "/sw.js", "/shared/icons/icon.svg", "/nothing")
ANSWERS = ("/api/time", "/api/nothing", "/api/openapi.json")


@pytest.mark.parametrize("host", ["localhost", "localhost:8437", "127.0.0.1:9", "127.0.0.1"])
def test_loopback_names_are_answered(client: FlaskClient, host: str) -> None:
    assert client.get("/api/time", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize("path", ["/api/time", "/shared/theme.css", "/"])
@pytest.mark.parametrize(
    "host", ["ebbline.example", "127.0.0.1.example", "localhost.example:8437", "10.0.0.1", ""]
)
def test_any_other_name_is_refused(client: FlaskClient, path: str, host: str) -> None:
    """A page elsewhere whose name was pointed at loopback sends its own name as Host."""
    assert client.get(path, headers={"Host": host}).status_code == 400


@pytest.mark.parametrize(
    "media_type",
    ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", None],
)
@pytest.mark.parametrize(
    ("method", "path"),
    [("POST", f"{SESSION}/records"), ("PUT", SESSION), ("POST", "/api/sessions/import")],
)
def test_types_that_a_foreign_form_can_send_are_refused(
    client: FlaskClient, method: str, path: str, media_type: str | None
) -> None:
    """Only these types need no leave from us by the Fetch standard, 'CORS-safelisted'."""
    answer = client.open(path, method=method, data=b"{}", content_type=media_type)
    assert answer.status_code == 415
    assert answer.json["code"] == 415


def test_nobody_elsewhere_is_given_leave(client: FlaskClient) -> None:
    answer = client.options(
        f"{SESSION}/records",
        headers={
            "Origin": "https://elsewhere.example",
            "Access-Control-Request-Method": "POST",
            "Access-Control-Request-Headers": "content-type",
        },
    )
    assert not [name for name, _ in answer.headers if name.lower().startswith("access-control")]


@pytest.mark.parametrize("path", [*PAGES, *ANSWERS])
def test_every_page_and_answer_is_confined_to_ourselves(client: FlaskClient, path: str) -> None:
    answer = client.get(path)
    policy = dict(
        part.split(" ", 1) for part in answer.headers["Content-Security-Policy"].split("; ")
    )
    answer.close()
    assert policy["default-src"] == policy["script-src"] == policy["connect-src"] == "'self'"
    assert policy["object-src"] == policy["frame-ancestors"] == policy["base-uri"] == "'none'"
    assert "unsafe" not in answer.headers["Content-Security-Policy"]
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Referrer-Policy"] == "same-origin"


def test_parts_of_a_page_are_confined_by_its_policy(client: FlaskClient) -> None:
    for path in ("/shared/theme.css", "/capture/main.js", "/shared/icons/icon-192.png"):
        with client.get(path) as answer:
            assert answer.headers["X-Content-Type-Options"] == "nosniff"
            assert answer.headers["Cross-Origin-Resource-Policy"] == "same-origin"
            assert "Content-Security-Policy" not in answer.headers


def test_the_desk_with_its_charts_needs_no_exception(client: FlaskClient) -> None:
    for path in ("/desk", "/desk/none.js"):
        with client.get(path) as answer:
            assert "unsafe" not in answer.headers["Content-Security-Policy"]


def test_answers_of_the_api_are_not_kept_by_browsers(client: FlaskClient) -> None:
    assert client.get("/api/time").headers["Cache-Control"] == "no-store"


def test_a_body_beyond_the_limit_is_refused(client: FlaskClient) -> None:
    answer = client.post(
        f"{SESSION}/records", data=b" " * (16 * 1024 * 1024 + 1), content_type="application/json"
    )
    assert answer.status_code == 413
    assert answer.json["code"] == 413
    assert answer.json["message"] == (
        "$: has 16,777,217 bytes; 16,777,216 bytes are the most taken here"
    )
    assert answer.json["where"] == "$"


def test_a_missing_page_is_a_page_and_a_missing_endpoint_is_json(client: FlaskClient) -> None:
    page, endpoint = client.get("/nothing"), client.get("/api/nothing")
    assert page.status_code == endpoint.status_code == 404
    assert page.mimetype == "text/html"
    assert "There is nothing at this address." in page.text
    assert endpoint.json["code"] == 404
    assert endpoint.json["message"] == "There is nothing at this address."


def test_a_wrong_method_says_which_are_right(client: FlaskClient) -> None:
    answer = client.post("/api/time", json={})
    assert answer.status_code == 405
    assert "GET" in answer.headers["Allow"]


def test_a_message_never_carries_markup_of_the_address(client: FlaskClient) -> None:
    answer = client.get("/<script>alert(1)</script>")
    assert answer.status_code == 404
    assert "<script>" not in answer.text
