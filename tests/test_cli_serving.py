"""``ebbline user``, ``ebbline certificate``, and servers that others can reach."""

from __future__ import annotations

import http.client
import json
import ssl
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from patience import LONGEST_S
from server_process import (
    TLS_PASSWORD,
    LiveServer,
    add_person,
    free_port,
    new_server,
    new_tls_server,
)

from ebbline.cli import main


def run(*arguments: object, told: str = "") -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments], input=told)


# --- people -------------------------------------------------------------------------------


def test_people_are_added_listed_and_removed(tmp_path: Path) -> None:
    data = ("--data", tmp_path)
    assert "nobody" in run("user", "list", *data).stderr
    added = run("user", "add", "alex", "--password-stdin", *data, told="a good long password\n")
    assert added.exit_code == 0, added.stderr
    assert run("user", "list", *data).stdout.startswith("alex  since 2")
    again = run("user", "add", "alex", "--password-stdin", *data, told="a good long password\n")
    assert (again.exit_code, "already" in again.stderr) == (1, True)
    removed = run("user", "remove", "alex", *data)
    assert (removed.exit_code, "nobody" in removed.stdout) == (0, True)
    unknown = run("user", "remove", "alex", *data)
    assert (unknown.exit_code, "Traceback" in unknown.stderr) == (1, False)


def test_a_short_password_is_refused(tmp_path: Path) -> None:
    refused = run("user", "add", "alex", "--password-stdin", "--data", tmp_path, told="short\n")
    assert refused.exit_code == 2
    assert "password" in refused.stderr


# --- who may come -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("options", "status", "says"),
    [
        (["--tls"], 1, "ebbline certificate"),
        (["--behind-proxy", "http://track.example"], 2, "https"),
        (["--behind-proxy", "https://track.example/path"], 2, "https"),
        (["--behind-proxy", "https://track.example"], 1, "ebbline user add"),
        (["--tls", "--behind-proxy", "https://track.example"], 2, "one of the two"),
        (["--told", "x.local"], 2, "--tls"),
        (["--host", "0.0.0.0"], 2, "--host"),
    ],
)
def test_nobody_else_is_let_in_by_halves(
    tmp_path: Path, options: list[str], status: int, says: str
) -> None:
    refused = run("serve", "--port", free_port(), "--data", tmp_path, *options)
    assert refused.exit_code == status, refused.stderr
    assert says in refused.stderr
    assert "Traceback" not in refused.stderr


def test_with_a_certificate_but_without_accounts_nobody_else_is_let_in(tmp_path: Path) -> None:
    made = run("certificate", "--name", "pit-lane.local", "--data", tmp_path)
    assert made.exit_code == 0, made.stderr
    assert "pit-lane.local" in made.stdout
    refused = run("serve", "--tls", "--data", tmp_path, "--told", "pit-lane.local")
    assert (refused.exit_code, "ebbline user add" in refused.stderr) == (1, True)
    elsewhere = run("serve", "--tls", "--data", tmp_path, "--told", "other.local")
    assert (elsewhere.exit_code, "not for other.local" in elsewhere.stderr) == (1, True)


# --- TLS ----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def tls_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveServer]:
    server = new_tls_server(tmp_path_factory.mktemp("tls") / "server")
    server.start()
    yield server
    server.stop()


def get(server: LiveServer, path: str, **headers: str) -> tuple[int, Any, Any]:
    trust = None if server.trust is None else ssl.create_default_context(cafile=server.trust)
    request = urllib.request.Request(f"{server.url}{path}", headers=headers)
    try:
        with urllib.request.urlopen(request, timeout=LONGEST_S, context=trust) as answer:
            return answer.status, answer.headers, answer.read()
    except urllib.error.HTTPError as error:
        with error:
            return error.code, error.headers, error.read()


def test_who_trusts_the_authority_comes_in_and_has_to_sign_in(tls_server: LiveServer) -> None:
    assert get(tls_server, "/api/time")[0] == 200
    status, _, body = get(tls_server, "/api/sessions")
    assert (status, json.loads(body)["reason"]) == (401, "sign_in")
    trust = ssl.create_default_context(cafile=tls_server.trust)
    request = urllib.request.Request(
        f"{tls_server.url}/api/sign-in",
        data=json.dumps({"name": "alex", "password": TLS_PASSWORD}).encode(),
        headers={"Content-Type": "application/json"},
    )
    with urllib.request.urlopen(request, timeout=LONGEST_S, context=trust) as answer:
        cookie = answer.headers["Set-Cookie"]
    assert {"Secure", "HttpOnly", "SameSite=Strict"} <= set(cookie.split("; "))
    assert get(tls_server, "/api/sessions", Cookie=cookie.partition(";")[0])[0] == 200


def test_who_does_not_trust_it_or_comes_without_tls_gets_nothing(tls_server: LiveServer) -> None:
    for url in (tls_server.url, tls_server.url.replace("https", "http")):
        with pytest.raises((OSError, http.client.HTTPException)):
            urllib.request.urlopen(f"{url}/api/time", timeout=LONGEST_S)


def test_it_answers_to_the_certificates_names_alone(tls_server: LiveServer) -> None:
    for host, status in (
        ("localhost", 200),
        ("elsewhere.example", 400),
        ("127.0.0.1.example", 400),
    ):
        assert get(tls_server, "/api/time", Host=f"{host}:{tls_server.port}")[0] == status


def test_a_phone_that_trusts_nobody_yet_fetches_help_over_plain_http(
    tls_server: LiveServer,
) -> None:
    doorstep = f"http://127.0.0.1:{tls_server.port + 1}"

    def fetch(path: str) -> Any:
        with urllib.request.urlopen(f"{doorstep}{path}", timeout=LONGEST_S) as answer:
            return answer.headers["Content-Type"], answer.read()

    assert b"Fetch the laptop" in fetch("/join")[1]
    kind, certificate = fetch("/join/authority.crt")
    assert kind == "application/x-x509-ca-cert"
    assert tls_server.trust is not None
    assert certificate == ssl.PEM_cert_to_DER_cert(tls_server.trust.read_text())
    where = json.loads(fetch("/join/where.json")[1])
    assert where["url"] == tls_server.url
    assert where["authority"] is True
    log = (tls_server.data / "server.log").read_text()
    assert where["sha256"] in log
    assert f"{doorstep}/join" in log
    for path in ("/join/main.js", "/join/style.css", "/shared/theme.css"):
        assert fetch(path)[1]
    for path in ("/", "/api/time", "/join/../tls/authority-key.pem", "/join/authority-key.pem"):
        with pytest.raises(urllib.error.HTTPError) as refused:
            urllib.request.urlopen(f"{doorstep}{path}", timeout=LONGEST_S)
        with refused.value:
            assert refused.value.code == 404
    over_tls = json.loads(get(tls_server, "/join/where.json")[2])
    assert over_tls == where
    assert get(tls_server, "/join/authority.crt")[2] == certificate


# --- behind a proxy -----------------------------------------------------------------------


def test_behind_a_proxy_its_word_counts_and_its_name_alone(tmp_path: Path) -> None:
    server = new_server(tmp_path / "server")
    add_person(server.data)
    server.options = ("--behind-proxy", "https://track.example")
    told = {"X-Forwarded-Host": "track.example", "X-Forwarded-Proto": "https",
            "X-Forwarded-For": "192.0.2.7"}  # fmt: skip
    server.headers = told
    server.start()
    try:
        assert get(server, "/api/time", **told)[0] == 200
        assert get(server, "/api/time")[0] == 400
        assert get(server, "/api/time", **{**told, "X-Forwarded-Host": "other.example"})[0] == 400
    finally:
        server.stop()
