"""One touch is one deed: a close clicks nothing below, a bounce is no second tap."""

from __future__ import annotations

import pytest
from browser.conftest import Phone, starting
from playwright.sync_api import CDPSession, Page, expect

# A finger stays for longer than any pause that could be taken for the end of a touch.
LONG_MS = 900
BOUNCE_MS = 400
MENU = ".sheet.menu"

PLACES = """() => [...document.querySelectorAll(".tide li")]
  .map((mark) => [mark.dataset.phase, mark.dataset.is])"""


def finger(page: Page) -> CDPSession:
    return page.context.new_cdp_session(page)


def touch(page: Page, devtools: CDPSession, selector: str, stays_ms: float) -> None:
    """A real finger, which stays for a while."""
    box = page.locator(selector).bounding_box()
    assert box
    point = {"x": box["x"] + box["width"] / 2, "y": box["y"] + box["height"] / 2}
    devtools.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [point]})
    page.wait_for_timeout(stays_ms)
    devtools.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


@pytest.mark.parametrize("stays_ms", [60, LONG_MS])
def test_a_close_clicks_nothing_that_lies_beneath(phone: Phone, stays_ms: float) -> None:
    phone.open()
    page = phone.page
    devtools = finger(page)
    page.evaluate("""() => {
      window.opened = 0;
      new MutationObserver((all) => all.forEach(({ addedNodes }) => addedNodes.forEach((node) => {
        if (node instanceof HTMLDialogElement) window.opened += 1;
      }))).observe(document.body, { childList: true });
    }""")
    for opened in (1, 2):
        page.locator("main .masthead button", has_text="Menu").tap()
        expect(page.locator(MENU)).to_be_visible()
        touch(page, devtools, f"{MENU} .cross", stays_ms)
        expect(page.locator(MENU)).to_have_count(0)
        page.wait_for_timeout(BOUNCE_MS)  # the click that ends a touch comes after it
        expect(page.locator("dialog")).to_have_count(0)
        assert page.evaluate("() => window.opened") == opened

    # whatever lies there: the sheet's cross is put over a box of the checklist
    phone.make_session()
    page.evaluate("""() => {
      const box = document.querySelector(".cautions input");
      box.style.cssText = "position: fixed; top: 0; right: 0; width: 90px; height: 90px";
    }""")
    box = page.locator(".cautions input").first
    for _ in range(2):
        page.evaluate("""async () => {
          const { showSheet } = await import("/capture/page/sheet.js");
          showSheet("Any sheet", [], { name: "any" });
        }""")
        touch(page, devtools, ".any .cross", stays_ms)
        expect(page.locator("dialog")).to_have_count(0)
        page.wait_for_timeout(BOUNCE_MS)
        expect(box).not_to_be_checked()
    box.tap()
    expect(box).to_be_checked()


def test_a_bounce_of_a_zero_is_no_second_one(phone: Phone) -> None:
    phone.drive()
    page = phone.page
    key = page.locator(".keys [data-key=zero_soc]")
    key.tap()
    page.wait_for_timeout(BOUNCE_MS)
    key.tap()
    phone.wait_stored("0 % shown")
    phone.wait_placed("past")
    expect(page.locator("dialog")).to_have_count(0)
    assert [tap["kind"] for tap in phone.taps()] == ["zero_soc"]


def test_new_per_cent_and_zero_stay_under_the_thumb_until_zero_is_noted(phone: Phone) -> None:
    phone.drive()
    page = phone.page
    for kind, words in (
        ("power_limited", "Power limited"), ("zero_range", "Range showed 0"),
        ("trip_reset", "Trip reset"),
    ):  # fmt: skip
        phone.press(kind)
        phone.wait_stored(words)
        page.wait_for_timeout(2 * BOUNCE_MS)  # keys move after a while, if they do
        expect(page.locator(".keys")).to_have_attribute("data-phase", "before")
        for key in ("soc_step", "zero_soc"):
            expect(page.locator(f".keys [data-key={key}]")).to_be_visible()
    assert page.evaluate(PLACES)[0] == ["before", "now"]
    phone.press("zero_soc")
    phone.wait_stored("0 % shown")
    phone.wait_placed("past")
    assert page.evaluate(PLACES)[:3] == [["before", "done"], ["past", "now"], ["fading", "ahead"]]
    phone.press("power_limited")
    phone.wait_stored("Power limited")
    phone.wait_placed("fading")

    # taken back, it is before zero again
    page.locator(".bar button", has_text="Log").tap()
    page.locator(".log li button", has_text="0 % shown").tap()
    page.locator(".one [data-tone=off]").tap()
    phone.wait_placed("before")
    phone.press("propulsion_off")
    phone.wait_placed("off")
    assert page.evaluate(PLACES) == [
        ["before", "done"], ["past", "ahead"], ["fading", "ahead"], ["off", "now"],
        ["charging", "ahead"],
    ]  # fmt: skip


def test_what_was_shown_last_stands_on_the_key_that_takes_the_next(phone: Phone) -> None:
    phone.drive()
    page = phone.page
    read = page.locator("[data-key=read] small")
    expect(read).to_contain_text("no reading yet")
    phone.press("soc_step")
    phone.step_to(5)
    phone.wait_stored("5\u00a0%")
    expect(read).to_contain_text("New % shown: 5\u00a0%")
    page.locator("[data-key=read]").tap()
    phone.figure("range_shown")
    page.locator(".pad .chip", has_text="about").tap()
    phone.type_figure("12")
    page.locator(".pad .store").tap()
    assert "about\u00a012\u00a0km" in phone.wait_stored("Range shown")
    expect(read).to_contain_text("about\u00a012\u00a0km")
    phone.close_sheet()
    page.locator(".bar button", has_text="Log").tap()
    expect(page.locator(".log li button").first).to_contain_text(
        "Range shown about\u00a012\u00a0km"
    )
    phone.close_sheet()
    (reading,) = [tap for tap in phone.taps() if "quantity" in tap]
    assert reading["about"] is True
    phone.press("zero_soc")
    phone.wait_stored("0 % shown")
    expect(read).to_have_text(starting("0 % shown"))


def test_a_question_says_that_leaving_it_keeps_the_tap(phone: Phone) -> None:
    phone.drive()
    page = phone.page
    phone.press("speed_capped")
    sheet = page.locator(".sheet.stepper")
    expect(sheet.locator(".kept")).to_contain_text("Later keeps the tap without an answer; Undo")
    expect(sheet.locator(".cross")).to_have_text("Later")
    sheet.locator(".cross").tap()
    phone.wait_stored("Top speed capped")
    phone.undo()
    phone.wait_said("Undone · Top speed capped")


def test_the_last_tap_can_be_taken_back_after_a_reload(phone: Phone) -> None:
    phone.drive()
    phone.press("zero_soc")
    phone.wait_stored("0 % shown")
    phone.page.reload()
    phone.page.wait_for_selector("main.drive")
    phone.wait_said("Recording goes on. Last: ")
    expect(phone.page.locator(".undo")).to_be_enabled()
    phone.undo()
    phone.wait_said("Undone · 0 % shown")
    expect(phone.page.locator(".keys")).to_have_attribute("data-phase", "before")


def test_a_position_allowed_during_the_run_is_taken_up_by_itself(phone: Phone) -> None:
    phone.context.clear_permissions()
    phone.drive()
    page = phone.page
    gps = page.locator("[data-cell=gps] b")
    expect(gps).to_have_text("blocked")
    page.locator(".strip").tap()
    sheet = page.locator(".status-sheet")
    again = sheet.get_by_role("button", name="Try again")
    expect(again).to_be_visible()
    again.tap()
    expect(gps).to_have_text("blocked")
    phone.context.set_geolocation({"latitude": 47.0, "longitude": 8.0, "accuracy": 4.0})
    phone.context.grant_permissions(["geolocation"])
    expect(gps).to_have_text(starting("±4"))
    # the sheet that was open says so too
    expect(sheet.locator("dd").first).to_contain_text("±4")
    expect(again).to_be_hidden()
    phone.close_sheet()
    phone.wait_fixes()


def test_in_landscape_the_state_sheets_keys_are_in_reach_and_its_ages_go_on(phone: Phone) -> None:
    phone.drive()
    phone.send_all()
    page = phone.page
    page.set_viewport_size({"width": 740, "height": 360})
    page.locator(".strip").tap()
    for name in ("Send now", "Save as file"):
        box = page.locator(".status-sheet").get_by_role("button", name=name).bounding_box()
        assert box
        assert box["y"] + box["height"] <= 360
    words = page.locator(".status-sheet dd").nth(1)
    before = words.inner_text()
    expect(words).not_to_have_text(before)  # "Last sent 5 s ago" grows while it is read


def test_what_lies_below_a_sheets_edge_is_hinted_at(phone: Phone) -> None:
    phone.drive()
    page = phone.page
    page.set_viewport_size({"width": 360, "height": 560})
    page.locator(".bar button", has_text="More").tap()
    body = page.locator(".more .sheet-body")
    expect(body).to_have_attribute("data-more", "")
    hint = "() => getComputedStyle(document.querySelector('.more'), '::after').content"
    assert page.evaluate(hint) == '"▾ more below"'
    body.evaluate("(area) => area.scrollTo(0, area.scrollHeight)")
    expect(body).not_to_have_attribute("data-more", "")
    assert page.evaluate(hint) == "none"


def test_what_an_ended_session_has_unsent_goes_by_itself_and_is_seen_to(phone: Phone) -> None:
    phone.drive()
    phone.send_all()
    page = phone.page
    phone.context.set_offline(True)
    phone.console.allow("ERR_INTERNET_DISCONNECTED", "Failed to load resource")
    phone.press("zero_soc")
    phone.wait_stored("0 % shown")
    page.locator(".bar button", has_text="Menu").tap()
    page.get_by_role("button", name="End recording").tap()
    page.get_by_role("button", name="End it").tap()
    state = page.locator(".card-foot small")
    expect(state).to_contain_text("It goes by itself once there is a network.")
    send = page.get_by_role("button", name=starting("Send "))
    expect(send).to_be_visible()
    phone.context.set_offline(False)
    phone.come_online()
    expect(state).to_have_text("all on the server")
    expect(send).to_be_hidden()


def test_the_log_says_of_every_record_that_it_is_stored_and_which_ones_open(phone: Phone) -> None:
    phone.drive()
    phone.send_all()
    page = phone.page
    phone.context.set_offline(True)
    phone.console.allow("ERR_INTERNET_DISCONNECTED", "Failed to load resource")
    phone.press("zero_soc")
    phone.wait_stored("0 % shown")
    page.locator(".bar button", has_text="Log").tap()
    row = page.locator(".log li button", has_text="0 % shown")
    expect(row.locator("small")).to_have_text("stored here")
    mark = "(what) => getComputedStyle(what, '::after').content.trim()"
    assert "\u203a" in row.locator(".log-what").evaluate(mark)
    phone.close_sheet()
    phone.context.set_offline(False)
    phone.send_all()
    page.locator(".bar button", has_text="Log").tap()
    expect(row.locator("small")).to_have_text("stored, sent")


CUT = """() => [...document.querySelectorAll(".lap-check :is(.bar button, .keys .key) > *")]
  .filter((part) => part.getClientRects().length).filter((part) => {
    const [inner, outer] = [part, part.parentElement].map((a) => a.getBoundingClientRect());
    return part.scrollWidth > part.clientWidth + 1 && getComputedStyle(part).display !== "inline"
      || inner.left < outer.left || inner.right > outer.right || inner.bottom > outer.bottom;
  }).map((part) => part.textContent)"""


def test_the_lap_checks_keys_show_their_words_whole(phone: Phone) -> None:
    phone.open()
    phone.make_session()
    phone.accept_cautions("laps-first")
    for width, height in ((320, 568), (360, 740), (740, 360)):
        phone.page.set_viewport_size({"width": width, "height": height})
        assert phone.page.evaluate(CUT) == [], (width, height)
