"""Evidence that can't be analysed: its page opens all the same, and the cause is taken back."""

from __future__ import annotations

import json
import urllib.parse
import urllib.request
from typing import Any

from browser.conftest import ConsoleWatch
from browser.desk.conftest import Desk, text_of
from browser.desk.test_import import GPX
from patience import LONGEST_S
from playwright.sync_api import Route, expect

WHY = "the analysis failed on this evidence (LinAlgError: a matrix is not positive definite)"


def bring_in_track(desk: Desk, name: str) -> str:
    """Add a track to the full run as the desk does; its device."""
    query = urllib.parse.urlencode({"name": name})
    request = urllib.request.Request(
        f"{desk.url}/api/sessions/{desk.full_run}/evidence?{query}",
        data=GPX,
        headers={"Content-Type": "application/gpx+xml"},
    )
    with urllib.request.urlopen(request, timeout=LONGEST_S) as answer:
        (device,) = json.load(answer)["devices"]
    return str(device)


def refuse(route: Route) -> None:
    """As the server refuses where the core fails, see tests/web/test_failures.py."""
    route.fulfill(status=422, json={"code": 422, "message": WHY})


def test_a_session_that_cannot_be_analysed_opens_and_its_track_is_left_out_again(
    desk: Desk, console: ConsoleWatch
) -> None:
    console.allow("422")
    desk.bring_in("full-run")
    device = bring_in_track(desk, "wrong.gpx")
    unworkable = (
        f"**/api/sessions/{desk.full_run}/result",
        f"**/api/sessions/{desk.full_run}/curves*",
    )
    for path in unworkable:
        desk.page.route(path, refuse)
    desk.page.goto(f"{desk.url}/desk?session={desk.full_run}")
    desk.page.locator(".session[aria-busy=false]").wait_for()
    expect(desk.page.locator(".trouble")).to_be_hidden()
    failed = desk.page.locator("[data-code=analysis_failed]")
    expect(failed).to_contain_text(WHY)
    expect(desk.page.locator(".session-facts")).to_contain_text("can’t be worked out")
    assert desk.page.locator("#ladder tbody tr").count() > 30
    assert desk.page.locator("#readings tbody tr").count() > 30
    for part in ("#timeline", "#recharge", "#publish", ".headline"):
        expect(desk.page.locator(part), part).to_be_hidden()

    failed.get_by_role("button", name="See what was imported").click()
    brought = desk.page.locator(".change", has_text="Imported “wrong.gpx”: 30 positions")
    expect(brought).to_contain_text(device)
    brought.get_by_role("button", name="Leave out what came with").click()
    assert "wrong.gpx" in desk.page.input_value("#choice-reason")
    desk.page.locator(".comparison").wait_for()  # the figures as they would be
    for path in unworkable:
        desk.page.unroute(path)
    desk.page.get_by_role("button", name="Save these choices").click()
    desk.page.locator("#choices .form-status-good").wait_for()
    expect(desk.page.locator(".headline")).to_be_visible()
    desk.turn_to("timeline")
    desk.wait_drawn()
    failed.wait_for(state="detached")
    (left_out,) = desk.says(f"/sessions/{desk.full_run}")["setup"]["excluded"]
    assert left_out["device"] == device
    codes = {
        finding["code"] for finding in desk.says(f"/sessions/{desk.full_run}/result")["findings"]
    }
    assert "fixes_excluded" in codes
    expect(brought).to_contain_text("left out")


def test_the_list_tells_what_cannot_be_worked_out_from_what_is_not_yet(desk: Desk) -> None:
    desk.bring_in("full-run")

    def spoil(route: Route) -> None:
        answer = route.fetch()
        told: dict[str, Any] = answer.json()
        told["sessions"][0].update(outcome=None, worked_out=True, failure=WHY)
        route.fulfill(response=answer, json=told)

    desk.page.route("**/api/sessions?*", spoil)
    desk.open_list()
    said = text_of(desk.page.locator(".sessions tbody tr"))
    assert "Can’t be worked out" in said
    assert "Being worked out" not in said
