"""Publishing over HTTP: what is offered, each piece, and what is refused with which words."""

from __future__ import annotations

import io
import json
import zipfile
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from PIL import Image

from ebbline.report import moments

pytestmark = pytest.mark.slow

SAMPLES = Path(__file__).parents[2] / "sample_sessions"
ZERO_MS = 1772444941539


@pytest.fixture
def full_run(client: FlaskClient) -> str:
    document = json.loads((SAMPLES / "full-run.ebbline.json").read_bytes())
    document["events"].append(
        {"id": "mark", "device": document["events"][0]["device"], "t_ms": ZERO_MS,
         "kind": "film_sync", "text": "Dach\u00fcber", "value": 60.0}
    )  # fmt: skip
    return bring_in(client, document)


def bring_in(client: FlaskClient, document: dict[str, Any]) -> str:
    answer = client.post("/api/sessions/import", json=document)
    assert answer.status_code == 201, answer.text
    return str(answer.json["id"])


def test_what_is_offered_can_be_had(client: FlaskClient, full_run: str):
    offer = client.get(f"/api/sessions/{full_run}/publish").json
    assert [camera["name"] for camera in offer["cameras"]] == ["Dach\u00fcber"]
    assert offer["missing"] == []
    assert {piece["group"] for piece in offer["pieces"]} == {"report", "pictures", "film", "data"}
    for piece in offer["pieces"]:
        if piece["group"] == "pictures" and not piece["key"].endswith("headline-1x1-svg"):
            continue  # the others are drawn in the same way
        if piece["key"] == "cards":
            continue  # six hundred of them: see the tests of the film
        asked = {"camera": piece["camera"]} if piece["camera"] else {}
        answer = client.get(f"/api/sessions/{full_run}/publish/{piece['key']}", query_string=asked)
        assert answer.status_code == 200, piece
        assert answer.mimetype == piece["media_type"]
        assert answer.data
        name = answer.headers["Content-Disposition"]
        assert name.startswith('attachment; filename="sample-full-run-with-recharge-')


def test_the_paragraph_to_paste_speaks_in_the_readers_units(client: FlaskClient, full_run: str):
    address = f"/api/sessions/{full_run}/publish/to-paste"
    km, mi = (client.get(f"{address}?units={units}").json for units in ("km", "mi"))
    assert "km, give or take" in km["paragraph"].replace("\u00a0", " ")
    assert "miles, give or take" in mi["paragraph"].replace("\u00a0", " ")
    assert "nobody should count on a reserve" in " ".join(mi["said_with"])
    assert client.get(f"{address}?units=furlong").status_code == 422


def test_paper_and_ground_are_asked_for_and_others_refused(client: FlaskClient, full_run: str):
    base = f"/api/sessions/{full_run}/publish"
    paper, night = (
        client.get(f"{base}/picture-headline-16x9-svg?ground={ground}").text
        for ground in ("paper", "night")
    )
    assert "#f5f1e8" in paper
    assert "#f5f1e8" not in night
    assert client.get(f"{base}/report-pdf?paper=us-letter").data.startswith(b"%PDF")
    assert client.get(f"{base}/report-pdf?paper=a3").status_code == 422
    assert client.get(f"{base}/all?ground=glass").status_code == 422


def test_what_is_missing_says_why(client: FlaskClient):
    document = json.loads((SAMPLES / "early-shutdown.ebbline.json").read_bytes())
    offer = client.get(f"/api/sessions/{bring_in(client, document)}/publish").json
    missing = {entry["title"]: entry["why"] for entry in offer["missing"]}
    assert missing["Picture: Ladder of warnings"].startswith("Needs events past zero")
    assert "no film sync mark" in missing["Captions, chapters and data cards for a film"]


def test_units_change_the_report_and_nothing_else(client: FlaskClient, full_run: str):
    address = f"/api/sessions/{full_run}/publish/report-html"
    km, mi = (client.get(f"{address}?units={units}").text for units in ("km", "mi"))
    assert "mph" not in km
    assert "mph" in mi
    csv = f"/api/sessions/{full_run}/publish/csv"
    assert client.get(f"{csv}?units=km").data == client.get(f"{csv}?units=mi").data
    assert client.get(f"{address}?units=furlong").status_code == 422


def test_the_report_speaks_of_consumption_and_temperature_as_the_desk_does(
    client: FlaskClient, full_run: str
):
    address = f"/api/sessions/{full_run}/publish/report-html"
    chosen = {"consumption": "kWh/100km", "temperature": "°F"}
    plain, html = (client.get(address, query_string=query).text for query in ({}, chosen))
    assert "kWh/100\u00a0km" in html
    assert "kWh/100\u00a0km" not in plain
    assert "11 °C" in plain
    assert "11 °C" not in html
    assert "52 °F" in html
    assert client.get(f"{address}?consumption=Wh").status_code == 422
    assert client.get(f"{address}?temperature=K").status_code == 422


def test_everything_comes_in_one_zip(client: FlaskClient):
    document = json.loads((SAMPLES / "early-shutdown.ebbline.json").read_bytes())
    first = document["events"][0]
    mark = {"id": "mark", "kind": "film_sync", "text": "Dach\u00fcber", "value": 60.0}
    document["events"].append({**mark, "device": first["device"], "t_ms": first["t_ms"]})
    session_id = bring_in(client, document)
    answer = client.get(f"/api/sessions/{session_id}/publish/all")
    assert answer.mimetype == "application/zip"
    with zipfile.ZipFile(io.BytesIO(answer.data)) as archive:
        assert archive.testzip() is None
        names = archive.namelist()
    assert len(names) == len(set(names))
    offer = client.get(f"/api/sessions/{session_id}/publish").json
    pieces = {piece["file_name"] for piece in offer["pieces"]}
    assert set(names) == pieces | {"session.ebbline.json"}
    assert "film/Dach\u00fcber/captions.vtt" in names


def test_a_page_of_the_report_can_be_looked_at(client: FlaskClient, full_run: str):
    address = f"/api/sessions/{full_run}/publish/pages"
    count = client.get(address).json["count"]
    assert client.get(f"{address}/{count}").status_code == 200
    assert client.get(f"{address}/{count + 1}").status_code == 404
    page = Image.open(io.BytesIO(client.get(f"{address}/1").data))
    assert page.height / page.width == pytest.approx(297 / 210, rel=0.01)  # A4 (ISO 216)
    refused = client.get(f"{address}/99")
    assert refused.status_code == 404
    assert "pages, and no page 99" in refused.json["message"]


@pytest.mark.parametrize(
    ("piece", "asked", "status", "said"),
    [
        ("nonsense", {}, 404, "'nonsense' is nothing that can be published"),
        ("captions", {"camera": "roof"}, 404, "no film sync mark names the camera 'roof'"),
        ("cards", {"rate": "60"}, 422, "10,000 are the most we make"),
        ("cards", {"rate": "0"}, 422, "rate"),
        ("cards", {"rate": "nan"}, 422, "rate"),
        ("cards", {"hue": "red"}, 422, "hue"),
    ],
)
def test_refusals_say_what_is_wrong(
    client: FlaskClient,
    full_run: str,
    piece: str,
    asked: dict[str, str],
    status: int,
    said: str,
    monkeypatch: pytest.MonkeyPatch,
):
    monkeypatch.setattr(moments, "MOST_MOMENTS", 10_000)  # as of a run of hours
    answer = client.get(f"/api/sessions/{full_run}/publish/{piece}", query_string=asked)
    assert answer.status_code == status
    assert said in answer.json["message"]


def test_a_session_that_is_not_there_is_not_published(client: FlaskClient):
    answer = client.get("/api/sessions/00000000-0000-4000-8000-000000000001/publish")
    assert answer.status_code == 404
