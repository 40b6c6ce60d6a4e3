"""The server as it is run: its own process, its own database, over TCP."""

from __future__ import annotations

import contextlib
import http.client
import json
import urllib.request
import uuid
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from patience import LONGEST_S
from server_process import LiveServer, new_server


def call(server: LiveServer, method: str, path: str, body: object = None) -> Any:
    request = urllib.request.Request(
        server.url + path,
        method=method,
        data=None if body is None else json.dumps(body).encode(),
        headers={"Content-Type": "application/json"},
    )
    with urllib.request.urlopen(request, timeout=LONGEST_S) as answer:
        return json.load(answer)


@pytest.mark.parametrize("end", [LiveServer.stop, LiveServer.kill])
def test_what_was_acknowledged_is_there_after_the_server_ended(
    live_server: LiveServer, end: Callable[[LiveServer], None]
) -> None:
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

    end(live_server)
    live_server.start()

    assert call(live_server, "GET", f"/api/sessions/{session_id}")["events"] == [event]


def test_a_body_sent_in_chunks_is_refused_at_the_limit_like_any_other(
    live_server: LiveServer,
) -> None:
    connection = http.client.HTTPConnection("127.0.0.1", live_server.port, timeout=LONGEST_S)
    noise = (b"[" * 1024 * 1024 for _ in range(17))
    with contextlib.suppress(BrokenPipeError):  # it may answer and hang up before all is sent
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


@pytest.fixture
def two_servers(postgresql_url: str, tmp_path: Path) -> Iterator[list[LiveServer]]:
    """Two processes behind one database, as a team has them."""
    servers = [new_server(tmp_path / name, postgresql_url) for name in ("one", "other")]
    for server in servers:
        server.start()
    yield servers
    for server in servers:
        server.stop()


def test_two_servers_on_one_database_store_the_same_uploads_once(
    two_servers: list[LiveServer],
) -> None:
    session_id = str(uuid.uuid4())
    setup = {"session": {"id": session_id}}
    events = [
        {"id": f"e{n}", "device": "phone-1", "t_ms": 1_772_460_000_000 + n, "kind": "note"}
        for n in range(40)
    ]

    def send(number: int) -> set[str]:
        server = two_servers[number % 2]
        call(server, "PUT", f"/api/sessions/{session_id}", {"base": None, "setup": setup})
        batch = {"device": "phone-1", "events": events[number : number + 20]}
        receipt = call(server, "POST", f"/api/sessions/{session_id}/records", batch)
        assert receipt["refused"] == []
        return set(receipt["held"]["events"])

    with ThreadPoolExecutor(8) as pool:
        held = set().union(*pool.map(send, range(20)))
    seen = [call(server, "GET", f"/api/sessions/{session_id}") for server in two_servers]
    assert seen[0] == seen[1]
    assert seen[0]["revision"] == 1
    in_time = sorted(seen[0]["events"], key=lambda event: event["t_ms"])
    assert in_time == events[:39]
    assert held == {event["id"] for event in events[:39]}
