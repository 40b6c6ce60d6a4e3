"""The server as it is run: its own process, its own database, over TCP."""

from __future__ import annotations

import http.client
import json
import urllib.request
import uuid
from typing import Any


def call(server: Any, method: str, path: str, body: object = None) -> Any:
    request = urllib.request.Request(
        server.url + path,
        method=method,
        data=None if body is None else json.dumps(body).encode(),
        headers={"Content-Type": "application/json"},
    )
    with urllib.request.urlopen(request, timeout=20) as answer:
        return json.load(answer)


def test_what_was_acknowledged_is_there_after_a_restart(live_server: Any) -> None:
    session_id = str(uuid.uuid4())
    setup = {"session": {"id": session_id, "title": "Restart"}}
    call(live_server, "PUT", f"/api/sessions/{session_id}", {"base": None, "setup": setup})
    event = {"id": "e-1", "device": "phone-1", "t_ms": 1_772_460_000_000, "kind": "note"}
    receipt = call(
        live_server,
        "POST",
        f"/api/sessions/{session_id}/records",
        {"device": "phone-1", "events": [event]},
    )
    assert receipt["held"]["events"] == ["e-1"]

    live_server.stop()
    live_server.start()

    assert call(live_server, "GET", f"/api/sessions/{session_id}")["events"] == [event]


def test_a_body_sent_in_chunks_is_refused_at_the_limit_like_any_other(live_server: Any) -> None:
    connection = http.client.HTTPConnection("127.0.0.1", live_server.port, timeout=30)
    noise = (b"[" * 1024 * 1024 for _ in range(17))
    connection.request(
        "POST",
        f"/api/sessions/{uuid.uuid4()}/records",
        body=noise,
        headers={"Content-Type": "application/json"},
        encode_chunked=True,
    )
    answer = connection.getresponse()
    assert answer.status == 413
    assert json.load(answer)["code"] == 413
    connection.close()
