"""Letting a phone in from the desk, and shutting it out."""

from __future__ import annotations

import urllib.error
import urllib.request

from browser.accessibility import assert_accessible
from browser.desk.conftest import Desk
from patience import LONGEST_S
from playwright.sync_api import expect


def joins(desk: Desk, token: str) -> int:
    """The status that a phone with this key gets."""
    request = urllib.request.Request(
        f"{desk.url}/api/join", headers={"Authorization": f"Bearer {token}"}
    )
    try:
        with urllib.request.urlopen(request, timeout=LONGEST_S) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as refused:
        return refused.code


def test_a_phone_is_let_in_by_a_code_shown_once_and_shut_out_for_good(desk: Desk) -> None:
    session_id = desk.bring_in("lap-check")
    desk.open_session(session_id)
    page = desk.page
    desk.turn_to("history")
    page.get_by_role("button", name="Code to record").click()
    expect(page.locator("#phones .form-status")).to_contain_text("whose phone")
    page.get_by_label("Whose phone").fill("Kim's phone")
    page.get_by_role("button", name="Code to record").click()
    address = page.get_by_role("link", name="the same as an address").first
    address.wait_for()
    url = address.get_attribute("href") or ""
    token = url.partition("#join=")[2]
    assert token.startswith(session_id)
    assert "/capture#" in url
    assert joins(desk, token) == 200
    assert page.locator(".code img").evaluate("node => node.naturalWidth") > 0
    assert_accessible(page)

    page.get_by_label("Whose phone").fill("Chase vehicle")
    page.get_by_role("button", name="Code to follow only").click()
    page.get_by_role("heading", name="For Chase vehicle").wait_for()
    looking = address.get_attribute("href") or ""
    assert "/follow#" in looking
    assert joins(desk, looking.partition("#join=")[2]) == 403
    page.locator(".phone-keys li", has_text="Chase vehicle (follows only)").wait_for()

    page.reload()
    row = page.locator(".phone-keys li", has_text="Kim's phone")
    row.wait_for()
    expect(row).to_contain_text("last connected")
    expect(page.locator(".code"), "a code is shown once").to_have_count(0)
    row.get_by_role("button", name="Block Kim's phone").click()
    assert joins(desk, token) == 200, "one touch shuts nobody out"
    row.get_by_role("button", name="Block Kim's phone").click()
    page.locator(".phone-keys li", has_text="blocked").wait_for()
    assert joins(desk, token) == 401
