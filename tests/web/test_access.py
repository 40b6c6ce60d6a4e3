"""Who may call what: open on this machine alone, people by sign-in, phones by their one key."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from exchange.documents import ID, T_MS
from exchange.test_pictures import PICTURES
from flask import Flask, request
from flask.testing import FlaskClient

from ebbline.address import Address
from ebbline.sessions.access.accounts import add_account, remove_account
from ebbline.web.access_table import ACCESS, ANYBODY, LOOKING_KEY, PHONES_KEY
from ebbline.web.app import create_app
from ebbline.web.db import db

SESSION = f"/api/sessions/{ID}"
OTHER_ID = "00000000-0000-4000-8000-000000000001"
PASSWORD = "a long enough password"
EVENT = {"id": "e1", "device": "phone-1", "t_ms": T_MS, "kind": "note"}
JPEG = PICTURES["image/jpeg"]


def put(client: FlaskClient, session_id: str = ID) -> int:
    body = {"base": None, "setup": {"session": {"id": session_id}}}
    return client.put(f"/api/sessions/{session_id}", json=body).status_code


@pytest.fixture
def client(client: FlaskClient) -> FlaskClient:
    for session_id in (ID, OTHER_ID):
        assert put(client, session_id) == 200
    return client


@pytest.fixture
def account(app: Flask, client: FlaskClient) -> str:
    """From here on somebody has an account, as ``ebbline user add`` would make it."""
    with app.app_context():
        return add_account(db.session(), "alex", PASSWORD, T_MS).name


def sign_in(client: FlaskClient, password: str = PASSWORD, **more: Any) -> Any:
    return client.post("/api/sign-in", json={"name": "alex", "password": password}, **more)


def bearer(token: str) -> dict[str, str]:
    return {"Authorization": f"Bearer {token}"}


@pytest.fixture
def key(client: FlaskClient) -> dict[str, str]:
    made = client.post(f"{SESSION}/keys", json={"label": "Phone A"})
    assert made.status_code == 201
    key: dict[str, str] = made.json
    return key


# --- the table ---------------------------------------------------------------------------


def test_every_route_says_in_the_table_who_may_call_it(app: Flask) -> None:
    routes = {rule.endpoint for rule in app.url_map.iter_rules()}
    assert routes == set(ACCESS)
    open_parts = {rule.endpoint for rule in app.url_map.iter_rules()
                  if not rule.rule.startswith("/api/")}  # fmt: skip
    assert {name for name in open_parts if ACCESS[name] != (ANYBODY,)} == set()


@pytest.mark.parametrize("caller", ["nothing", LOOKING_KEY, PHONES_KEY])
def test_each_caller_comes_in_where_the_table_says_so_and_nowhere_else(
    app: Flask, client: FlaskClient, caller: str
) -> None:
    wanted = {"label": "Phone", "looks": caller == LOOKING_KEY}
    token = client.post(f"{SESSION}/keys", json=wanted).json["token"]
    with app.app_context():
        add_account(db.session(), "alex", PASSWORD, T_MS)
    shown = {} if caller == "nothing" else bearer(token)
    let_in = ANYBODY if caller == "nothing" else caller
    shut_out = {"sign_in", "only_looks", "not_for_phones"}
    for method, path in every_operation(app):
        with app.test_request_context(path, method=method):
            endpoint = request.endpoint
        reason = (call(client, method, path, headers=shown).json or {}).get("reason")
        assert (reason not in shut_out) == (let_in in ACCESS[endpoint]), (method, path)


def test_a_route_that_nobody_put_into_the_table_lets_nobody_in(
    client: FlaskClient, key: dict[str, str], account: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delitem(ACCESS, "time.get_time")
    for headers in ({}, bearer(key["token"])):
        assert client.get("/api/time", headers=headers).status_code in (401, 403)


# --- open or not --------------------------------------------------------------------------


def every_operation(app: Flask) -> Iterator[tuple[str, str]]:
    """Method and path of each operation of the API, about the session that is there."""
    ids = ("key_id", "other_id", "campaign_id", "publication_id")
    values = {"session_id": ID, **dict.fromkeys(ids, uuid.UUID(int=5))}
    with app.test_request_context():
        for rule in app.url_map.iter_rules():
            if rule.rule.startswith("/api/"):
                needed = {name: values.get(name, 1) for name in rule.arguments}
                path = app.url_for(rule.endpoint, **needed)
                for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}:
                    yield method, path


def call(client: FlaskClient, method: str, path: str, **more: Any) -> Any:
    body = None if method == "GET" else {"name": "x", "password": "y"}
    return client.open(path, method=method, json=body, **more)


TELLS_NOTHING = {
    ("GET", "/api/time"),
    ("GET", "/api/openapi.json"),
    ("GET", "/api/me"),
    ("POST", "/api/sign-in"),
    ("POST", "/api/sign-out"),
}


def test_without_accounts_this_machine_is_open(app: Flask, client: FlaskClient) -> None:
    for method, path in every_operation(app):
        if path not in ("/api/sign-in", "/api/join") and "/publish" not in path:  # long work
            assert call(client, method, path).status_code not in (401, 403), (method, path)
    assert client.get("/api/me").json == {"name": None, "open": True}


def test_with_an_account_every_call_that_tells_something_needs_sign_in(
    app: Flask, client: FlaskClient, account: str
) -> None:
    shut = [op for op in every_operation(app) if op not in TELLS_NOTHING]
    assert len(shut) > 15
    for method, path in shut:
        answer = call(client, method, path)
        reason = "key_missing" if path == "/api/join" else "sign_in"
        assert (answer.status_code, answer.json["reason"]) == (401, reason), (method, path)
    for method, path in TELLS_NOTHING:
        assert call(client, method, path).json.get("reason") != "sign_in"
    assert client.get("/api/nothing").status_code == 401
    assert sign_in(client).status_code == 200
    for method, path in shut:
        if path != "/api/join" and "/publish" not in path:
            assert call(client, method, path).status_code not in (401, 403), (method, path)


def test_a_server_that_others_reach_is_never_open(sqlite_url: str, tmp_path: Path) -> None:
    address = Address(hosts=("track.example",), public_url="https://track.example", others=True)
    app = create_app(sqlite_url, str(tmp_path / "photos"), address)
    client = app.test_client()
    there = {"base_url": "https://track.example"}
    assert client.get("/api/sessions", **there).status_code == 401
    assert client.get("/api/me", **there).json == {"name": None, "open": False}
    assert client.get("/api/sessions").status_code == 400  # 'localhost' is no name of it
    with app.app_context():
        add_account(db.session(), "alex", PASSWORD, T_MS)
        cookie = sign_in(client, **there).headers["Set-Cookie"]
        assert {"Secure", "HttpOnly", "SameSite=Strict"} <= set(cookie.split("; "))
        assert client.get("/api/sessions", **there).status_code == 200
        db.engine.dispose()


def test_the_desks_page_leads_to_sign_in_and_back(client: FlaskClient, account: str) -> None:
    answer = client.get(f"/desk?session={ID}")
    assert answer.status_code == 302
    assert answer.headers["Location"] == f"/sign-in#/desk?session={ID}"
    sign_in(client)
    with client.get("/desk") as page:
        assert page.status_code == 200


def test_pages_without_anybodys_data_need_no_sign_in(client: FlaskClient, account: str) -> None:
    for path in ("/", "/capture", "/shared/theme.css", "/desk/main.js"):
        with client.get(path) as page:
            assert page.status_code == 200


# --- people -------------------------------------------------------------------------------


def test_signing_in_sets_a_cookie_that_scripts_and_other_sites_cannot_use(
    client: FlaskClient, account: str
) -> None:
    answer = sign_in(client)
    assert answer.json == {"name": "alex", "open": False}
    cookie = answer.headers["Set-Cookie"]
    assert {"HttpOnly", "SameSite=Strict", "Path=/"} <= set(cookie.split("; "))
    assert PASSWORD not in cookie
    assert client.get("/api/me").json == {"name": "alex", "open": False}
    assert client.post("/api/sign-out", json={}).json == {"name": None, "open": False}
    assert client.get("/api/sessions").status_code == 401


def test_a_wrong_password_is_refused_with_the_words_of_a_wrong_name(
    client: FlaskClient, account: str
) -> None:
    wrong = sign_in(client, "not the password")
    nobody = client.post("/api/sign-in", json={"name": "nobody", "password": PASSWORD})
    assert wrong.status_code == nobody.status_code == 401
    assert wrong.json == nobody.json
    assert "Set-Cookie" not in wrong.headers


@pytest.mark.slow
def test_guessing_is_stopped_and_then_the_right_password_too(
    app: Flask, client: FlaskClient, account: str
) -> None:
    assert [sign_in(client, "guess").status_code for _ in range(11)] == [401] * 10 + [429]
    refused = sign_in(client)
    assert (refused.status_code, refused.json["reason"]) == (429, "too_often")
    assert 590 < int(refused.headers["Retry-After"]) <= 600
    assert refused.json["message"].endswith("Wait 10 minutes.")
    elsewhere = {"environ_overrides": {"REMOTE_ADDR": "192.0.2.7"}}
    assert sign_in(client, **elsewhere).status_code == 200


@pytest.mark.slow
def test_signing_in_well_is_never_counted(client: FlaskClient, account: str) -> None:
    assert [sign_in(client).status_code for _ in range(11)] == [200] * 11


def test_a_removed_account_is_signed_out_and_its_name_made_anew_is_another(
    app: Flask, client: FlaskClient, account: str
) -> None:
    sign_in(client)
    with app.app_context():
        remove_account(db.session(), "alex")
        add_account(db.session(), "alex", PASSWORD, T_MS + 1)
    assert client.get("/api/sessions").status_code == 401


def test_a_cookie_that_we_did_not_sign_is_nobodys(client: FlaskClient, account: str) -> None:
    value = sign_in(client).headers["Set-Cookie"].split("=", 1)[1].split(";")[0]
    client.set_cookie("ebbline_desk", value[:-3] + "AAA")
    assert client.get("/api/sessions").status_code == 401


FOREIGN = (
    {"Origin": "https://elsewhere.example"},
    {"Origin": "http://localhost:9999"},
    {"Origin": "null"},
    {"Sec-Fetch-Site": "cross-site"},
    {"Sec-Fetch-Site": "same-site"},
)


def test_a_page_of_another_site_writes_nothing_whatever_cookie_it_has(
    app: Flask, client: FlaskClient, account: str
) -> None:
    sign_in(client)
    for headers in FOREIGN:
        for method, path in every_operation(app):
            if method != "GET":
                answer = call(client, method, path, headers=headers)
                assert (answer.status_code, answer.json["reason"]) == (403, "foreign_page"), path
    assert client.get(f"{SESSION}/keys").json["keys"] == []


def test_our_own_page_writes(client: FlaskClient) -> None:
    headers = {"Origin": "http://localhost", "Sec-Fetch-Site": "same-origin"}
    answer = client.post(f"{SESSION}/keys", json={"label": "Phone"}, headers=headers)
    assert answer.status_code == 201


# --- phones -------------------------------------------------------------------------------


def test_a_key_is_told_once_with_its_address_and_code(
    client: FlaskClient, key: dict[str, str]
) -> None:
    looking = client.post(f"{SESSION}/keys", json={"label": "Chase", "looks": True}).json
    assert key["url"] == f"http://localhost/capture#join={key['token']}"
    assert looking["url"] == f"http://localhost/follow#join={looking['token']}"
    assert key["qr_svg"].startswith("<svg")
    assert key["qr_svg"] != looking["qr_svg"]
    assert key["only_here"] is True  # it says so: a phone would ask itself
    listed = client.get(f"{SESSION}/keys").json["keys"]
    assert {(one["id"], one["label"], one["looks"]) for one in listed} == {
        (key["id"], "Phone A", False),
        (looking["id"], "Chase", True),
    }
    for one in (key, looking):
        assert one["token"].partition(".")[2] not in str(listed)


def test_a_looking_key_follows_its_session_and_does_nothing_else(
    app: Flask, client: FlaskClient
) -> None:
    made = client.post(f"{SESSION}/keys", json={"label": "Chase", "looks": True}).json
    headers = bearer(made["token"])
    open_to_it = {"/api/time", f"{SESSION}/live"}
    for path in open_to_it:
        assert client.get(path, headers=headers).status_code == 200
    shut = [op for op in every_operation(app) if op[1] not in open_to_it]
    assert len(shut) > 15
    for method, path in shut:
        answer = call(client, method, path, headers=headers)
        assert (answer.status_code, answer.json["reason"]) == (403, "only_looks"), path
    other = client.get(f"/api/sessions/{OTHER_ID}/live", headers=headers)
    assert (other.status_code, other.json["reason"]) == (403, "not_for_phones")
    upload = {"device": "phone-1", "events": [EVENT]}
    assert client.post(f"{SESSION}/records", json=upload, headers=headers).status_code == 403
    assert client.delete(f"{SESSION}/keys/{made['id']}").status_code == 200
    assert client.get(f"{SESSION}/live", headers=headers).status_code == 401


def test_a_phone_with_a_key_joins_adds_and_asks_the_time(
    client: FlaskClient, account: str, key_of_alex: dict[str, str]
) -> None:
    headers = bearer(key_of_alex["token"])
    joined = client.get("/api/join", headers=headers)
    assert joined.status_code == 200
    assert joined.json == {
        "session_id": ID,
        "revision": 1,
        "setup": {"session": {"id": ID}},
        "label": "Phone A",
    }
    upload = {"device": "phone-1", "events": [EVENT]}
    assert client.get("/api/time", headers=headers).status_code == 200
    assert client.post(f"{SESSION}/records", json=upload, headers=headers).status_code == 200
    kept = client.post(
        f"{SESSION}/photos?t_ms={T_MS}&device=phone-1",
        data=JPEG,
        content_type="image/jpeg",
        headers=headers,
    )
    assert kept.status_code == 200


def test_a_key_belongs_to_the_phone_that_added_with_it_first(
    client: FlaskClient, key: dict[str, str]
) -> None:
    headers = bearer(key["token"])
    upload = {"device": "phone-1", "events": [EVENT]}
    assert client.post(f"{SESSION}/records", json=upload, headers=headers).status_code == 200
    theirs = {"device": "phone-2", "events": [{**EVENT, "id": "e2", "device": "phone-2"}]}
    picture = f"{SESSION}/photos?t_ms={T_MS}&device=phone-2"
    for answer in (
        client.post(f"{SESSION}/records", json=theirs, headers=headers),
        client.post(picture, data=JPEG, content_type="image/jpeg", headers=headers),
    ):
        assert (answer.status_code, answer.json["reason"]) == (403, "key_of_another")
        assert "stays on this phone" in answer.json["message"]
    held = client.get(SESSION).json
    assert ([event["id"] for event in held["events"]], held["photos"]) == (["e1"], [])
    (listed,) = client.get(f"{SESSION}/keys").json["keys"]
    assert listed["devices"] == ["phone-1"]
    again = client.post(f"{SESSION}/records", json=upload, headers=headers)
    assert again.json["held"]["events"] == ["e1"]


def test_with_a_key_nobody_withdraws_or_forestalls_what_another_phone_recorded(
    client: FlaskClient, key: dict[str, str]
) -> None:
    track = {"device": "phone-2", "seq": [0], "t_ms": [T_MS], "lat": [47.0], "lon": [8.0]}
    another = {**EVENT, "id": "theirs", "device": "phone-2"}
    theirs = {"device": "phone-2", "events": [another]}
    assert client.post(f"{SESSION}/records", json=theirs).status_code == 200
    answer = client.post(
        f"{SESSION}/records",
        json={
            "device": "phone-1",
            "events": [
                EVENT,
                {**EVENT, "id": "w", "corrects": "theirs", "withdraws": True},
                {**EVENT, "id": "own", "corrects": "e1"},
                {**another, "id": "forged"},
            ],
            "breadcrumbs": [track, {**track, "device": "phone-1"}],
        },
        headers=bearer(key["token"]),
    )
    assert answer.status_code == 200
    assert answer.json["held"]["events"] == ["e1", "own"]
    assert answer.json["held"]["breadcrumbs"] == [{"device": "phone-1", "ranges": [[0, 0]]}]
    refused = {(one["id"], one["where"]) for one in answer.json["refused"]}
    assert refused == {
        ("w", "events[1].corrects"),
        ("forged", "events[3].device"),
        (None, "breadcrumbs[0].device"),
    }
    own = client.post(f"{SESSION}/records", json={"device": "phone-2", "breadcrumbs": [track]})
    assert own.json["held"]["breadcrumbs"] == [{"device": "phone-2", "ranges": [[0, 0]]}]


@pytest.fixture
def key_of_alex(client: FlaskClient, account: str) -> dict[str, str]:
    """Made by somebody signed in, who has left since."""
    sign_in(client)
    made: dict[str, str] = client.post(f"{SESSION}/keys", json={"label": "Phone A"}).json
    client.post("/api/sign-out", json={})
    return made


def test_a_key_opens_nothing_else_open_server_or_not(
    app: Flask, client: FlaskClient, key: dict[str, str]
) -> None:
    open_to_keys = {"/api/time", "/api/join"} | {f"{SESSION}/{part}" for part in OPEN_PARTS}
    tried = 0
    for closed in (False, True):
        if closed:
            with app.app_context():
                add_account(db.session(), "alex", PASSWORD, T_MS)
        for method, path in every_operation(app):
            if path not in open_to_keys:
                answer = call(client, method, path, headers=bearer(key["token"]))
                assert (answer.status_code, answer.json["reason"]) == (403, "not_for_phones"), path
                tried += 1
    assert tried > 30


OPEN_PARTS = ("records", "photos", "live", "crew")


@pytest.mark.parametrize("part", ["records", "photos"])
def test_a_key_does_not_open_another_session(
    client: FlaskClient, key: dict[str, str], part: str
) -> None:
    answer = client.post(
        f"/api/sessions/{OTHER_ID}/{part}", json={"device": "p"}, headers=bearer(key["token"])
    )
    assert (answer.status_code, answer.json["reason"]) == (403, "not_for_phones")


def test_a_revoked_key_is_shut_out_at_once_and_what_it_sent_stays(
    client: FlaskClient, key: dict[str, str]
) -> None:
    headers = bearer(key["token"])
    upload = {"device": "phone-1", "events": [EVENT]}
    client.post(f"{SESSION}/records", json=upload, headers=headers)
    revoked = client.delete(f"{SESSION}/keys/{key['id']}")
    assert revoked.status_code == 200
    assert revoked.json["revoked_at"]
    for path in ("/api/join", "/api/time"):
        answer = client.get(path, headers=headers)
        assert (answer.status_code, answer.json["reason"]) == (401, "key_revoked")
        assert "stays on the phone" in answer.json["message"]
    late = {"device": "phone-1", "events": [{**EVENT, "id": "e2"}]}
    answer = client.post(f"{SESSION}/records", json=late, headers=headers)
    assert (answer.status_code, answer.json["code"]) == (401, 401)
    assert client.get(SESSION).json["events"] == [EVENT]


UNKNOWN = (
    f"Bearer {ID}.wrong",
    "Bearer nonsense",
    "Bearer",
    "Bearer ",
    "Basic YWxleDphIGxvbmcgZW5vdWdoIHBhc3N3b3Jk",
    "bearer \u00e9",
)


def test_an_unknown_key_is_refused_even_where_everything_is_open(
    client: FlaskClient, key: dict[str, str]
) -> None:
    for header in UNKNOWN:
        for path in ("/api/sessions", "/api/join"):
            answer = client.get(path, headers={"Authorization": header})
            assert answer.status_code == 401, header
            assert answer.json["reason"] in ("key_unknown", "key_missing")


def test_joining_without_a_key_is_refused(client: FlaskClient) -> None:
    answer = client.get("/api/join")
    assert (answer.status_code, answer.json["reason"]) == (401, "key_missing")


def test_codes_lead_to_the_public_address(sqlite_url: str, tmp_path: Path) -> None:
    address = Address(public_url="https://192.0.2.10:8437")
    app = create_app(sqlite_url, str(tmp_path / "photos"), address)
    client = app.test_client()
    assert put(client) == 200
    made = client.post(f"{SESSION}/keys", json={"label": "Phone"}).json
    assert made["url"].startswith("https://192.0.2.10:8437/capture#join=")
    with app.app_context():
        db.engine.dispose()


def test_what_a_proxy_says_is_believed_only_where_one_was_stated(
    sqlite_url: str, tmp_path: Path
) -> None:
    told = {"X-Forwarded-Host": "track.example", "X-Forwarded-Proto": "https",
            "X-Forwarded-For": "192.0.2.7"}  # fmt: skip

    def status(address: Address) -> int:
        app = create_app(sqlite_url, str(tmp_path / "photos"), address)
        answer: int = app.test_client().get("/api/time", headers=told).status_code
        with app.app_context():
            db.engine.dispose()
        return answer

    there = Address(hosts=("track.example",), others=True, public_url="https://track.example")
    assert status(there) == 400
    proxied = Address(there.hosts, there.public_url, others=True, proxied=True)
    assert status(proxied) == 200
    assert status(Address()) == 200


@pytest.mark.parametrize(
    ("address", "only_here"),
    [
        (Address(), True),
        (Address(public_url="https://192.0.2.10:8437", others=True), False),
        (Address(public_url="https://track.example", others=True), False),
        (Address(public_url="https://localhost:8437", others=True), True),
        (Address(public_url="https://[::1]:8437", others=True), True),
    ],
)
def test_an_address_that_no_phone_reaches_is_known_as_one(
    address: Address, only_here: bool
) -> None:
    assert address.only_here is only_here


def test_an_address_survives_the_way_to_a_worker_process() -> None:
    for address in (
        Address(),
        Address(("a.example", "192.0.2.1"), "https://a.example:1", True, True, "/tmp/a.pem"),
    ):
        assert Address.from_environment(address.to_environment()) == address
    assert Address.from_environment({}) == Address()
