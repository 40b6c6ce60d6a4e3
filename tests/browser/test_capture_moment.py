"""The moment of a figure: with its age, never older than what was looked at, never covered."""

from __future__ import annotations

from typing import Any

import pytest
from browser.conftest import Phone, later, starting, until
from playwright.sync_api import Page, expect

MOMENT = """(deeds) => import("/capture/drive/reading-moment.js").then(({ startMoment }) => {
  const stamp = (mono_ms) => ({ t_ms: 1e6 + mono_ms, wall_ms: 0, mono_ms, page: "p" });
  const moment = startMoment(stamp(0));
  return deeds.map(([name, at_ms]) => {
    const answer = moment[name](stamp(at_ms));
    return [answer ?? null, moment.at().mono_ms];
  });
})"""

TOUCHES = """() => {
  window.touches = 0;
  addEventListener("pointerdown", () => { window.touches += 1; }, true);
}"""


@pytest.mark.parametrize(
    ("deeds", "outcome"),
    [
        # typed at once: all of it belongs to the touch that opened the pad
        ([["stroke", 3000], ["stroke", 9000]], [[False, 0], [False, 0]]),
        # looked again after a pause
        ([["hasRunOut", 9000], ["stroke", 152_000]], [[True, 0], [True, 152_000]]),
        ([["stroke", 3000], ["stroke", 152_000]], [[False, 0], [True, 152_000]]),
        # a Store lets it go on for as long as it would have lasted, not for longer
        (
            [["stroke", 7000], ["stored", 8000], ["stroke", 7500]],
            [[False, 0], [None, 0], [False, 0]],
        ),
        (
            [["stroke", 7000], ["stored", 8000], ["stroke", 9000]],
            [[False, 0], [None, 0], [True, 9000]],
        ),
        ([["renew", 60_000], ["stroke", 62_000]], [[None, 60_000], [False, 60_000]]),
    ],
)  # fmt: skip
def test_a_moment_runs_out_unless_somebody_types(
    modules: Page, deeds: list[list[Any]], outcome: list[list[Any]]
) -> None:
    assert modules.evaluate(MOMENT, deeds) == outcome


def readings(phone: Phone) -> list[dict[str, Any]]:
    return [tap for tap in phone.taps() if "quantity" in tap]


def test_a_figure_typed_late_takes_the_moment_it_was_looked_at(phone: Phone) -> None:
    page = phone.page
    phone.open()
    phone.make_session()
    phone.accept_cautions("laps-first")
    page.locator("[data-key=trip]").tap()
    expect(page.locator(".moment")).to_have_text(starting("Seen "))
    expect(page.locator(".pad .alone")).to_have_text("Trip distance")  # what the figure is of
    expect(page.locator(".fresh")).to_be_hidden()
    later(page, 152)
    page.locator(".fresh").wait_for()  # a fresh moment is offered, large
    expect(page.locator(".moment small")).to_contain_text("2:3")
    expect(page.locator(".moment small")).to_contain_text("run out")
    box = page.locator(".fresh").bounding_box()
    assert box
    assert min(box["width"] / 3, box["height"]) >= 60
    phone.type_figure("482")  # not touched: the first digit takes its own
    kept = page.locator(".pad .kept")
    expect(kept).to_contain_text("Fresh moment taken: ")
    expect(kept).to_have_attribute("data-tone", "news")
    now_ms = page.evaluate("() => Date.now()")
    page.locator(".pad .store").tap()
    page.locator(".pad").wait_for(state="detached")  # lap and speed are in sight again
    (reading,) = readings(phone)
    assert abs(reading["t_ms"] - now_ms) < 5000

    # in a run, by touching the offer
    page.locator("[data-key=start-run]").tap()
    page.wait_for_selector("main.drive:not(.lap-check)")
    page.locator("[data-key=read]").tap()
    later(page, 55)
    page.locator(".fresh").tap()
    # how old, and for how long it still counts
    until(page, "() => document.querySelector('.moment small').textContent === '0 s ago, 8 s left'")
    renewed_ms = page.evaluate("() => Date.now()")
    page.keyboard.type("4")  # a keyboard does as well
    expect(page.locator(".pad-figure b")).to_have_text("4")
    page.keyboard.press("Enter")
    phone.wait_stored("Displayed charge")
    # the next figure of the row is open, and says whose moment it would be stored with
    expect(page.locator(".pad .kept")).to_contain_text("from the same look, or touch Now")
    later(page, 55)
    page.locator(".fresh").wait_for()
    page.locator(".now").tap()
    phone.type_figure("38")
    page.locator(".pad .store").tap()
    phone.wait_stored("Range shown")
    page.locator(".pad").wait_for(state="detached")
    _, soc, shown = readings(phone)
    assert abs(soc["t_ms"] - renewed_ms) < 5000
    assert abs(shown["t_ms"] - soc["t_ms"] - 55_000) < 10_000


def test_three_readings_in_a_row_take_at_most_eight_touches(phone: Phone) -> None:
    phone.drive()
    page = phone.page
    phone.press("zero_soc")
    phone.wait_placed("past")
    phone.press("power_limited")
    phone.wait_placed("fading")
    first = {"trip_energy": "1.2", "trip_distance": "7.1", "power_available": "60"}
    phone.note_display(first)
    page.evaluate(TOUCHES)
    page.locator("[data-key=read]").tap()
    page.locator("[aria-label='More by 0.1']").tap()
    page.locator(".pad .store").tap()
    phone.wait_stored("Trip energy")
    # a trip meter never falls, and the key that stores at once says so
    expect(page.locator(".quicks button")).to_have_text(["Store 7.1 again", "+0.1", "+1"])
    page.locator("[aria-label='More by 0.1']").tap()
    page.locator(".pad .store").tap()
    phone.wait_stored("Trip distance")
    page.locator("[aria-label^='Store 60 again']").tap()
    phone.wait_stored("Power available")
    page.locator(".pad").wait_for(state="detached")
    assert page.evaluate("() => window.touches") <= 8
    got = [(one["quantity"], one["value"], one["resolution"]) for one in readings(phone)[3:]]
    assert got == [
        ("trip_energy", 1.3, 0.1), ("trip_distance", 7.2, 0.1), ("power_available", 60, 1),
    ]  # fmt: skip


def test_cells_and_temperatures_are_noted_below_zero_too_or_a_photo_taken(phone: Phone) -> None:
    phone.drive()
    phone.page.locator("[data-key=read]").tap()
    expect(phone.page.get_by_role("button", name="below 0")).to_have_count(0)
    phone.figure("cell_voltage_min")
    phone.type_figure("2.874")
    phone.page.locator(".pad .store").tap()
    phone.wait_stored("Lowest cell voltage")
    phone.figure("battery_temperature")
    phone.page.get_by_role("button", name="below 0").tap()
    expect(phone.page.locator(".pad .store")).to_be_disabled()
    phone.type_figure("5")
    phone.page.locator(".pad .store").tap()
    phone.wait_stored("Battery temperature")
    assert [(one["quantity"], one["value"], one["unit"], one["resolution"])
            for one in readings(phone)] == [
        ("cell_voltage_min", 2.874, "V", 0.001), ("battery_temperature", -5, "degC", 1),
    ]  # fmt: skip
    phone.figure("battery_temperature")
    phone.page.locator("[aria-label='More by 1']").tap()
    expect(phone.page.locator(".pad-figure b")).to_have_text("\u22124")
    phone.page.get_by_role("button", name="Photo instead").tap()
    phone.page.locator(".camera").wait_for()
    expect(phone.page.locator(".pad")).to_have_count(0)
