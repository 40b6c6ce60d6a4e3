"""A start that doesn't come says why: the page is never empty."""

from __future__ import annotations

from collections.abc import Callable

from browser.conftest import Phone
from playwright.sync_api import expect


def test_a_part_that_cannot_be_loaded_is_said(new_phone: Callable[..., Phone]) -> None:
    phone = new_phone()
    phone.console.allow("net::ERR_FAILED")
    page = phone.page
    page.route("**/capture/main.js", lambda route: route.abort())
    page.goto(f"{phone.url}/capture")
    page.get_by_role("heading", name="Not ready").wait_for()
    expect(page.locator("main")).to_contain_text("could not be loaded")
    page.unroute_all()
    page.get_by_role("button", name="Try again").tap()
    page.wait_for_selector("main.sessions")


def test_a_browser_that_cannot_run_the_page_is_told_so(new_phone: Callable[..., Phone]) -> None:
    phone = new_phone()
    phone.console.allow("is not known here")
    too_old = "throw new TypeError('groupBy is not known here')"
    phone.page.route(
        "**/capture/main.js",
        lambda route: route.fulfill(body=too_old, content_type="text/javascript"),
    )
    phone.page.goto(f"{phone.url}/capture")
    phone.page.get_by_role("heading", name="Not ready").wait_for()
    said = phone.page.locator("main").inner_text()
    assert "groupBy is not known here" in said
    assert "Update it" in said


def test_storage_that_does_not_answer_is_said_until_it_does(phone: Phone) -> None:
    phone.open()
    holder = phone.context.new_page()
    holder.goto(f"{phone.url}/shared/rules.js")
    holder.evaluate(HOLD_STORAGE)
    page = phone.page
    page.reload()
    page.get_by_role("heading", name="Not ready").wait_for()
    expect(page.locator("main")).to_contain_text("storage doesn't answer")
    holder.evaluate("() => { window.isHolding = false; }")
    page.wait_for_selector("main.sessions")


HOLD_STORAGE = """() => new Promise((held) => {
  window.isHolding = true;
  indexedDB.open("ebbline-capture").onsuccess = ({ target: { result } }) => {
    const store = result.transaction("meta", "readwrite").objectStore("meta");
    const goOn = () => {
      held();
      if (window.isHolding) store.get("").onsuccess = goOn;
      else result.close();
    };
    goOn();
  };
})"""
