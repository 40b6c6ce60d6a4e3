"""A session without positions on the desk: figures by the trip meter, and nothing that breaks."""

from __future__ import annotations

import pytest
from browser.desk.conftest import Desk, read_figure
from playwright.sync_api import expect


def test_figures_follow_from_the_trip_meter_and_the_page_says_so(desk: Desk) -> None:
    session_id = desk.bring_in({**desk.sample("full-run"), "breadcrumbs": []})
    desk.open_session(session_id)
    reserve = desk.says(f"/sessions/{session_id}/result")["reserve"]
    assert reserve["basis"] == "trip_meter"
    shown = read_figure(desk.headline("distance_m"))
    assert shown.value == pytest.approx(
        reserve["distance_m"]["value"] / 1000, abs=shown.last_digit * 0.501
    )
    expect(desk.page.locator(".shown-line")).to_contain_text("trip meter showed 8.1")
    expect(desk.page.locator("#map")).to_contain_text("No track on record")
    desk.open_list()
    row = desk.page.locator(".session-table tbody tr").first
    expect(row).not_to_contain_text("No drive")
    expect(row).to_contain_text("Past zero")
