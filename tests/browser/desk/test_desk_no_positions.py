"""A session without positions on the desk: figures by the trip meter, and nothing that breaks."""

from __future__ import annotations

import json
import urllib.request

import pytest
from browser.desk.conftest import SAMPLES, Desk, read_figure
from patience import LONGEST_S


def bring_in_without_positions(desk: Desk) -> str:
    document = json.loads((SAMPLES / "full-run.ebbline.json").read_bytes())
    request = urllib.request.Request(
        f"{desk.url}/api/sessions/import",
        data=json.dumps({**document, "breadcrumbs": []}).encode(),
        headers={"Content-Type": "application/json"},
    )
    with urllib.request.urlopen(request, timeout=LONGEST_S) as answer:
        return str(json.load(answer)["id"])


def test_figures_follow_from_the_trip_meter_and_the_page_says_so(desk: Desk) -> None:
    session_id = bring_in_without_positions(desk)
    desk.open_session(session_id)
    reserve = desk.says(f"/sessions/{session_id}/result")["reserve"]
    assert reserve["basis"] == "trip_meter"
    shown = read_figure(desk.headline("distance_m"))
    assert shown.value == pytest.approx(
        reserve["distance_m"]["value"] / 1000, abs=shown.last_digit * 0.501
    )
    assert "trip meter showed 8.1" in desk.page.locator(".shown-line").inner_text()
    assert "No track on record" in desk.page.locator("#map").text_content()
    desk.open_list()
    row = desk.page.locator(".session-table tbody tr").first
    assert "No drive" not in row.inner_text()
    assert "Past zero" in row.inner_text()
