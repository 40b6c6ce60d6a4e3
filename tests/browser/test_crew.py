"""Two phones in one car: what one recorded, the other knows, and it stays the other's."""

from __future__ import annotations

import io
import json
import urllib.request
import zipfile
from collections.abc import Callable
from typing import Any

import pytest
from browser.accessibility import assert_accessible
from browser.conftest import Phone, later, starting, until
from playwright.sync_api import expect

ZERO_SHEET = ".sheet.zero-again"
LEAST_SIDE_PX = 48.0


def said_by(phone: Phone, words: str) -> str:
    """Until the line has told this of another phone; gives the whole line."""
    return phone.wait_said(f" · {words}")


def zero_hint(phone: Phone) -> str:
    """What the key for 0 % says of the tap that counts; past zero it lies behind More."""
    phone.page.locator(".bar button", has_text="More").tap()
    hint = phone.page.locator(".more [data-key=zero_soc] small").inner_text()
    phone.page.locator(".sheet .cross").tap()
    return hint


def name_of(phone: Phone) -> str:
    return f"Phone {phone.page.evaluate(DEVICE)[-4:]}"


DEVICE = """() => new Promise((resolve) => {
  indexedDB.open("ebbline-capture").onsuccess = ({ target: { result: db } }) => {
    db.transaction("meta").objectStore("meta").get("device").onsuccess = (event) => {
      db.close();
      resolve(event.target.result);
    };
  };
})"""


@pytest.fixture
def crew(phone: Phone, new_phone: Callable[..., Phone]) -> tuple[Phone, Phone]:
    """The first began the run; the second came by a code, whose key opens that session alone."""
    phone.drive()
    phone.send_all()
    request = urllib.request.Request(
        f"{phone.url}/api/sessions/{phone.session_id()}/keys",
        data=json.dumps({"label": "Back seat"}).encode(),
        headers={"Content-Type": "application/json"},
    )
    with urllib.request.urlopen(request, timeout=20) as answer:
        token = json.load(answer)["token"]
    second = new_phone()
    second.page.goto(f"{phone.url}/capture#join={token}")
    second.page.wait_for_selector("main.checklist")
    second.accept_cautions()
    second.send_all()
    return phone, second


def held_by(server_says: Callable[[str], Any], phone: Phone) -> list[tuple[str, str]]:
    held = server_says(f"/sessions/{phone.session_id()}")
    return [
        (one.get("kind") or one["quantity"], one["device"])
        for one in (*held["events"], *held["readings"])
        if "log" not in one
    ]


def test_each_phone_sees_the_others_zero_phase_and_taps_and_they_stay_the_others(
    crew: tuple[Phone, Phone], server_says: Callable[[str], Any]
) -> None:
    first, second = crew
    page = second.page
    first.press("zero_soc")
    first.wait_stored("0 % shown")
    line = said_by(second, "0 % shown")
    assert line.startswith(name_of(first))
    second.wait_placed("past")
    expect(page.locator(".hero-main small")).to_contain_text("Since 0 %")
    assert zero_hint(second).startswith(f"✓ {name_of(first)} ")
    expect(page.locator(".undo")).to_be_disabled()  # it is not this phone's to undo
    assert second.taps() == []
    assert_accessible(page)

    # a second tap of the same zero knows it, and can't replace it
    second.press("zero_soc")
    page.locator(ZERO_SHEET).wait_for()
    expect(page.locator(f"{ZERO_SHEET} h2")).to_contain_text(name_of(first))
    ways = page.locator(f"{ZERO_SHEET} .tiles button")
    expect(ways).to_have_text([starting("Keep"), starting("Keep")])
    assert all(min(box["width"], box["height"]) >= LEAST_SIDE_PX
               for way in ways.all() if (box := way.bounding_box()))  # fmt: skip
    assert_accessible(page)
    ways.first.tap()
    second.wait_stored("0 % shown tapped again")
    second.press("power_limited")
    second.wait_stored("Power limited")
    assert said_by(first, "Power limited").startswith(name_of(second))
    second.send_all()
    devices = {name: phone.page.evaluate(DEVICE) for name, phone in zip("ab", crew, strict=True)}
    assert sorted(held_by(server_says, second)) == sorted(
        [("zero_soc", devices["a"]), ("note", devices["b"]), ("power_limited", devices["b"])]
    )

    # the log says whose it is and offers no undo; the file holds this phone's own
    page.locator(".bar button", has_text="Log").tap()
    theirs = page.locator(".log li", has_text="0 % shown").filter(has_text=name_of(first))
    expect(page.locator(".log li button", has_text="Power limited")).to_have_count(1)
    expect(theirs).to_have_count(1)
    expect(theirs.locator("button")).to_have_count(0)
    assert_accessible(page)
    page.locator(".sheet .cross").tap()
    assert {one["device"] for one in _file(second)["events"]} == {devices["b"]}

    # taken back there, it is gone here
    first.page.locator(".bar button", has_text="Log").tap()
    first.page.locator(".log li button", has_text="0 % shown").tap()
    first.page.locator(".one .key", has_text="Undo").tap()
    first.wait_said("Undone")
    assert "undone: 0 % shown" in said_by(second, "undone")
    expect(page.locator(".hero-main small")).not_to_contain_text("Since 0 %")


def _file(phone: Phone) -> dict[str, Any]:
    phone.page.locator(".strip").first.tap()
    with phone.page.expect_download() as saved:
        phone.page.locator(".status-sheet .key", has_text="Save as file").tap()
    content = saved.value.path().read_bytes()
    phone.page.locator(".sheet .cross").tap()
    if content.startswith(b"PK"):
        content = zipfile.ZipFile(io.BytesIO(content)).read("session.json")
    found: dict[str, Any] = json.loads(content)
    return found


def test_what_one_phone_has_noted_the_other_does_not_ask_for(crew: tuple[Phone, Phone]) -> None:
    first, second = crew
    first.press("plug_in")
    first.wait_stored("Plugged in")
    second.wait_placed("charging")
    later(second.page, 10)  # a hand that just tapped is left alone
    until(second.page, "() => document.querySelector('.advice b').textContent.startsWith('Enter')")
    first.note_display({"charge_power": "3.1"})
    until(second.page, "() => document.querySelector('.advice').hidden")
    expect(second.page.locator(".charge")).to_contain_text("3.1")
    # and the pad offers it as the last figure
    second.page.locator("[data-key=read]").tap()
    second.page.locator(".pad .quick", has_text="Store 3.1 again").wait_for()


def test_without_a_network_each_goes_on_alone_and_afterwards_nothing_is_lost_or_replaced(
    crew: tuple[Phone, Phone], server_says: Callable[[str], Any]
) -> None:
    first, second = crew
    for one in crew:
        one.console.allow("ERR_INTERNET_DISCONNECTED", "Failed to fetch")
    first.press("power_limited")
    said_by(second, "Power limited")
    second.context.set_offline(True)
    second.page.reload()
    second.page.wait_for_selector("main.drive")
    second.page.locator(".bar button", has_text="Log").tap()
    known = second.page.locator(".log li", has_text="Power limited").filter(has_text=name_of(first))
    known.wait_for()  # of before the reload
    second.page.locator(".sheet .cross").tap()
    second.page.locator(".strip").first.tap()
    second.page.locator(".status-sheet dt", has_text="Crew").wait_for()
    second.page.locator(".sheet .cross").tap()
    first.press("zero_soc")
    first.wait_stored("0 % shown")
    second.page.wait_for_timeout(5000)
    second.press("zero_soc")
    second.wait_stored("0 % shown")  # without a question: it knows of no other
    expect(second.page.locator(ZERO_SHEET)).to_have_count(0)
    second.context.set_offline(False)
    for one in crew:
        one.send_all()
    said_by(first, "0 % shown")
    second.wait_for("the other zero", lambda: name_of(first) in zero_hint(second))
    session = server_says(f"/sessions/{first.session_id()}")
    zeros = [one for one in session["events"] if one["kind"] == "zero_soc"]
    assert len(zeros) == 2
    assert all(one["corrects"] is None for one in zeros)
    # the same tap counts everywhere: the earlier one
    assert name_of(second) not in zero_hint(first)
