"""What the screen confirmed is there afterwards, exactly once, whatever happens in between."""

from __future__ import annotations

import contextlib
import json
import re
import time
import urllib.error
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from browser.conftest import ConsoleWatch, Phone, until
from faults.chromium import Chromium
from playwright.sync_api import Page, Playwright, Route, expect
from server_process import LiveServer

from ebbline.exchange import session_file

FAILED = "Failed to load resource"
RECORDS = re.compile(r"/api/sessions/[^/]+/records$")

HOLD_THE_STORE = """() => new Promise((resolve) => {
  const request = indexedDB.open("ebbline-capture");
  request.onsuccess = () => {
    const store = request.result.transaction("records", "readwrite").objectStore("records");
    window.holding = true;
    const again = () => { if (window.holding) store.count().onsuccess = again; };
    again();
    resolve(true);
  };
})"""


def logged(phone: Phone, what: str) -> list[dict[str, Any]]:
    """What the phone has put into its own log under this name."""
    docs = [row["doc"] for row in phone.stored()["records"]]
    return [doc for doc in docs if doc.get("log") == what]


def events_of(answer: dict[str, Any]) -> list[dict[str, Any]]:
    return [event for event in answer["events"] if "log" not in event]


def test_a_figure_said_roughly_is_kept_with_its_own_width(phone: Phone) -> None:
    """About two: the last digit said is what it may be off by, whatever the display shows."""
    phone.drive()
    page = phone.page
    page.locator("[data-key=read]").tap()
    phone.figure("trip_energy")
    about = page.locator(".pad .chip", has_text="about")
    about.tap()
    expect(about).to_have_attribute("aria-pressed", "true")
    page.locator(".digits [aria-label='2']").tap()
    page.locator(".pad .store").tap()
    page.locator(".pad .kept", has_text="Stored · Trip energy about 2 kWh").wait_for()
    (reading,) = [row["doc"] for row in phone.stored()["records"] if row["type"] == "reading"]
    assert (reading["value"], reading["resolution"], reading["about"]) == (2, 1, True)


def test_undo_adds_a_correction_and_deletes_nothing(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    phone.drive()
    page = phone.page
    phone.press("zero_soc")
    phone.wait_stored("0 % shown")
    phone.wait_placed("past")
    undo = page.locator(".undo")
    expect(undo).to_have_attribute("aria-label", "Undo: 0 % shown")
    phone.undo()
    phone.wait_said("Undone · 0 % shown")
    expect(undo).to_be_disabled()
    phone.note_display({"soc": "4"})
    phone.undo()
    phone.wait_said("Undone · Displayed charge 4\u00a0%")
    expect(page.locator(".keys")).to_have_attribute("data-phase", "before")
    expect(undo).to_be_disabled()

    # out of the log too, where what was taken back stays, struck through
    phone.wait_placed("before")
    phone.press("trip_reset")
    phone.wait_stored("Trip reset")
    page.locator(".bar button", has_text="Log").tap()
    page.locator(".log button", has_text="Trip reset").tap()
    page.locator(".one").get_by_role("button", name="Undo").tap()
    phone.wait_said("Undone · Trip reset")
    expect(undo).to_be_disabled()
    page.locator(".bar button", has_text="Log").tap()
    page.locator(".log").wait_for()
    struck = page.locator(".log li", has=page.locator("s"))
    undone = ["Trip reset", "Displayed charge 4\u00a0%", "0 % shown"]
    expect(page.locator(".log s")).to_have_text(undone)
    expect(struck).to_have_text([re.compile("undone$")] * len(undone))
    expect(struck.locator("button")).to_have_count(0)
    assert len(phone.taps()) == 6
    phone.wait_synced()

    held = server_says(f"/sessions/{phone.session_id()}")
    tap, withdrawal, *_ = events_of(held)
    assert tap["kind"] == "zero_soc"
    assert (withdrawal["kind"], withdrawal["withdraws"]) == ("note", True)
    assert withdrawal["corrects"] == tap["id"]
    reading, taken_back = held["readings"]
    assert reading["value"] == 4
    assert (taken_back["value"], taken_back["corrects"]) == (None, reading["id"])


def test_a_gap_is_recorded_with_its_cause_and_is_nothing_to_undo(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    phone.drive()
    phone.wait_fixes()  # so that a gap can follow
    undo = phone.page.locator(".undo")
    expect(undo).to_be_disabled()
    phone.press("zero_soc")
    phone.wait_stored("0 % shown")
    expect(undo).to_be_enabled()
    phone.page.goto("about:blank")
    phone.page.wait_for_timeout(5500)
    phone.page.goto(f"{phone.url}/capture")
    phone.page.wait_for_selector("main.drive")
    phone.wait_said("Recording goes on. Last: ")
    expect(undo).to_have_attribute("aria-label", "Undo: 0 % shown")  # as the line names it
    phone.context.set_geolocation({"latitude": 47.001, "longitude": 8.0, "accuracy": 4.0})
    phone.wait_said("No GPS for")
    expect(undo).to_be_disabled()
    expect(undo).to_have_attribute("aria-label", "Undo")
    phone.press("trip_reset")
    phone.wait_stored("Trip reset")
    phone.undo()
    phone.wait_said("Undone · Trip reset")
    expect(undo).to_be_disabled()  # the zero tapped before stands
    expect(phone.page.locator(".keys")).to_have_attribute("data-phase", "past")

    phone.wait_synced()
    held = server_says(f"/sessions/{phone.session_id()}")
    (gap,) = (event["gap"] for event in held["events"] if event.get("log") == "gps_gap")
    # a browser may hide a page before it closes it
    causes = {"the page was closed or reloaded", "the page was hidden, then it was closed"}
    assert gap["cause"] in causes
    assert gap["to_ms"] - gap["from_ms"] > 5000


def test_a_detail_added_later_keeps_the_moment(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    phone.drive()
    phone.press("warning")
    phone.page.locator(".sheet .cross").tap()  # no time to choose
    phone.wait_stored("Warning")
    phone.page.locator(".bar button", has_text="Log").tap()
    phone.page.locator(".log button").first.tap()
    phone.page.fill("#detail-text", "Stop safely, battery empty")
    phone.page.locator(".one .store").tap()
    phone.wait_stored("Warning: “Stop safely, battery empty”")
    phone.wait_synced()
    events = events_of(server_says(f"/sessions/{phone.session_id()}"))
    tap, fuller = sorted(events, key=lambda event: event["corrects"] is not None)
    assert tap["text"] is None
    assert fuller["text"] == "Stop safely, battery empty"
    assert (fuller["corrects"], fuller["t_ms"]) == (tap["id"], tap["t_ms"])


def test_no_answer_of_a_network_or_a_server_loses_or_doubles_a_tap(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    phone.console.allow(FAILED)
    phone.drive()

    # an answer that is lost
    lost: list[int] = []

    def lose_the_answer(route: Route) -> None:
        lost.append(route.fetch().status)  # the server has it
        route.abort("connectionreset")  # the phone never hears

    phone.page.route(RECORDS, lose_the_answer)
    for sent, (key, said) in enumerate(
        [("zero_soc", "0 % shown"), ("zero_range", "Range showed 0"), ("trip_reset", "Trip reset")]
    ):
        phone.press(key)
        phone.wait_stored(said)
        phone.wait_placed("past")
        phone.wait_for("an upload", lambda sent=sent: len(lost) > sent)
    assert set(lost) == {200}
    session = phone.session_id()
    events = [
        row
        for row in phone.stored()["records"]
        if row["type"] == "event" and "log" not in row["doc"]
    ]
    assert "held" not in {row["state"] for row in events}
    phone.page.unroute(RECORDS)
    phone.wait_synced()
    held = events_of(server_says(f"/sessions/{session}"))
    assert [event["kind"] for event in held] == ["zero_soc", "zero_range", "trip_reset"]
    assert len({event["id"] for event in held}) == 3

    # a portal's page, which is none
    phone.page.route(
        "**/api/**",
        lambda route: route.fulfill(status=200, content_type="text/html", body="<h1>Log in</h1>"),
    )
    with phone.page.expect_response(RECORDS):
        phone.press("trip_reset")
    phone.wait_stored("Trip reset")
    until(
        phone.page,
        "() => document.querySelector('[data-cell=sync] b').textContent.endsWith('unsent')",
    )
    phone.wait_status("did not come from Ebbline's server")
    assert len(events_of(server_says(f"/sessions/{session}"))) == 3
    phone.page.unroute("**/api/**")
    phone.page.locator(".strip").tap()
    phone.page.get_by_role("button", name="Send now").tap()
    phone.wait_synced()
    assert len(events_of(server_says(f"/sessions/{session}"))) == 4

    # a refusal, which is kept and shown
    def refuse(route: Route) -> None:
        sent = json.loads(route.request.post_data or "{}")
        refused = [
            {"kind": "event", "id": e["id"], "where": f"events[{i}].kind", "problem": "not today"}
            for i, e in enumerate(sent["events"])
        ]
        held = {"events": [], "readings": [], "clock_checks": [], "breadcrumbs": []}
        held["clock_checks"] = [one["id"] for one in sent["clock_checks"]]
        held["breadcrumbs"] = [
            {"device": one["device"], "ranges": [[one["seq"][0], one["seq"][-1]]]}
            for one in sent["breadcrumbs"]
        ]
        holds = {"events": 10**6, "readings": 0, "clock_checks": 9, "fixes": 10**6, "photos": 0}
        route.fulfill(
            json={
                "server_ms": 0,
                "held": held,
                "refused": refused,
                "holds": {**holds, "revision": 9},
            }
        )

    phone.page.route(RECORDS, refuse)
    phone.press("trip_reset")
    phone.wait_stored("Trip reset")
    until(
        phone.page,
        "() => document.querySelector('[data-cell=sync] b').textContent === '1 refused'",
    )
    assert [tap["kind"] for tap in phone.taps()] == ["zero_soc", "zero_range", *["trip_reset"] * 3]
    phone.page.locator(".bar button", has_text="Log").tap()
    expect(phone.page.locator(".log")).to_contain_text("not today")


REFUSE_RECORDS = """(name) => {
  const store = IDBObjectStore.prototype[name];
  window.refuse = true;
  IDBObjectStore.prototype[name] = function (...row) {
    if (window.refuse && this.name === "records") {
      throw new DOMException("no room", "QuotaExceededError");
    }
    return store.apply(this, row);
  };
}"""


def test_a_tap_is_confirmed_only_once_it_is_durable_and_kept_until_there_is_room(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    phone.console.allow("no room")
    phone.drive()
    page = phone.page

    # the disk takes its time
    page.evaluate(HOLD_THE_STORE)
    phone.press("trip_reset")
    page.wait_for_timeout(700)
    assert phone.said().startswith("Storing")
    page.evaluate("() => { window.holding = false; }")
    phone.wait_stored("Trip reset")
    assert [tap["kind"] for tap in phone.taps()] == ["trip_reset"]

    # it is full; the run doesn't end while a tap is only in memory
    page.evaluate(REFUSE_RECORDS, "add")
    phone.press("zero_soc")
    phone.wait_said("NOT STORED")
    assert [tap["kind"] for tap in phone.taps()] == ["trip_reset"]
    end_recording(phone)
    expect(page.locator("dialog.note")).to_contain_text("Not ended")
    expect(page.locator("main.drive")).to_have_count(1)
    page.locator(".sheet .cross").tap()
    page.evaluate("() => { window.refuse = false; }")
    phone.wait_said("All stored again")
    assert [tap["kind"] for tap in phone.taps()] == ["trip_reset", "zero_soc"]

    # a detail chosen meanwhile is kept with its tap
    phone.wait_placed("past")
    page.evaluate("() => { window.refuse = true; }")
    phone.press("warning")
    phone.wait_said("NOT STORED")
    phone.choose("stop_soon")
    page.wait_for_timeout(300)
    assert "NOT STORED" in phone.said()
    page.evaluate("() => { window.refuse = false; }")
    phone.wait_said("All stored again")

    # so is one that can't be stored beside its tap at once
    phone.press("warning")
    phone.wait_stored("Warning")
    page.evaluate(REFUSE_RECORDS, "put")
    phone.choose("charge_now")
    phone.wait_said("NOT STORED")
    page.evaluate("() => { window.refuse = false; }")
    phone.wait_said("All stored again")
    end_recording(phone)
    page.wait_for_selector("main.sessions")
    phone.wait_synced()
    events = events_of(server_says(f"/sessions/{phone.session_id()}"))
    assert [(event["kind"], event.get("class")) for event in events] == [
        ("trip_reset", None),
        ("zero_soc", None),
        ("warning", "stop_soon"),
        ("warning", "charge_now"),
    ]


def test_a_moment_whose_detail_was_never_chosen_survives_a_reload(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    phone.drive()
    phone.press("speed_capped")
    phone.wait_stored("Top speed capped")
    phone.page.reload()
    phone.page.wait_for_selector("main.drive")
    phone.wait_synced()
    (event,) = events_of(server_says(f"/sessions/{phone.session_id()}"))
    assert (event["kind"], event["value"]) == ("speed_capped", None)


def end_recording(phone: Phone) -> None:
    phone.page.locator(".bar button", has_text="Menu").tap()
    phone.page.get_by_role("button", name="End recording").tap()
    phone.page.get_by_role("button", name="End it").tap()


def test_a_touch_where_the_keys_have_just_moved_is_refused_aloud(
    phone: Phone,
) -> None:
    phone.drive()
    phone.press("propulsion_off")
    phone.wait_stored("Propulsion off")
    until(
        phone.page,
        """() => {
          const key = document.querySelector(".keys [data-key=plug_in]");
          key?.dispatchEvent(new PointerEvent("pointerdown", { bubbles: true }));
          return key !== null;
        }""",
    )
    phone.wait_said("Not recorded: buttons just changed")
    assert [tap["kind"] for tap in phone.taps()] == ["propulsion_off"]

    # the sheet of all keys stays as it is: what is touched there is meant
    phone.wait_placed("off")
    phone.press("plug_in")
    phone.wait_stored("Plugged in")
    phone.page.locator(".bar button", has_text="More").tap()
    until(
        phone.page,
        """() => {
          const moved = document.querySelector(".keys [data-key=charge_end]");
          const tile = moved && document.querySelector(".more [data-key=comfort_cut]");
          tile?.dispatchEvent(new PointerEvent("pointerdown", { bubbles: true }));
          tile?.click();
          return moved !== null;
        }""",
    )
    phone.wait_stored("Comfort reduced")
    assert [tap["kind"] for tap in phone.taps()] == [
        "propulsion_off",
        "plug_in",
        "comfort_cut",
    ]


def test_a_server_that_was_down_or_is_set_up_anew_gets_everything(
    phone: Phone, up_server: LiveServer, server_says: Callable[[str], Any]
) -> None:
    phone.console.allow(FAILED)
    phone.drive()
    phone.wait_fixes()
    up_server.stop()
    with phone.page.expect_event("requestfailed"):
        phone.press("zero_soc")
    phone.wait_stored("0 % shown")
    until(
        phone.page,
        "() => document.querySelector('[data-cell=sync] b').textContent.endsWith('unsent')",
    )
    up_server.start()
    phone.wait_synced()
    path = f"/sessions/{phone.session_id()}"
    assert [event["kind"] for event in events_of(server_says(path))] == ["zero_soc"]

    # it comes back with nothing in its database
    up_server.stop()
    up_server.forget()
    up_server.start()
    phone.press("trip_reset")
    phone.wait_stored("Trip reset")
    # again to the checklist, as on another day: the set-up is what is sent first
    end_recording(phone)
    phone.page.locator(".card-main").first.tap()
    phone.page.get_by_role("button", name="Go on recording").tap()
    phone.page.wait_for_selector("main.checklist")
    phone.page.locator("[data-action=start]").tap()
    phone.page.wait_for_selector("main.drive")
    fixes = phone.fix_count()

    def held_anew() -> dict[str, Any] | None:
        with contextlib.suppress(urllib.error.HTTPError):
            held: dict[str, Any] = server_says(path)
            return held if len(events_of(held)) >= 2 and held["fix_count"] >= fixes else None
        return None

    held = phone.wait_for("both taps and the fixes", held_anew)
    assert [event["kind"] for event in events_of(held)] == ["zero_soc", "trip_reset"]
    assert held["fix_count"] >= fixes > 0


def test_two_phones_ticks_and_devices_are_merged_each_for_itself(modules: Page) -> None:
    merged = modules.evaluate("""async () => {
      const { merge } = await import("/capture/setup/merge.js");
      const tick = (device, id, ticked_ms) => ({ device, id, ticked_ms });
      const base = { checklist: [tick("a", "passenger", 1), tick("a", "tyres", 2)] };
      const ours = { checklist: [tick("a", "passenger", 5)], devices: [{ id: "a" }] };
      const theirs = {
        checklist: [...base.checklist, tick("b", "passenger", 3)],
        devices: [{ id: "b", clock_offset_ms: 7 }],
      };
      return merge(base, ours, theirs);
    }""")
    ticks = [(tick["device"], tick["id"], tick["ticked_ms"]) for tick in merged["checklist"]]
    assert ticks == [("a", "passenger", 5), ("b", "passenger", 3)]
    assert merged["devices"] == [{"id": "b", "clock_offset_ms": 7}, {"id": "a"}]


def test_fixes_stored_by_a_try_that_seemed_to_fail_are_not_doubled(modules: Page) -> None:
    seqs = modules.evaluate("""async () => {
      const { openStore } = await import("/capture/storage/store.js");
      const store = openStore({ indexedDB, name: "trial" });
      const fix = (t_ms) => ({
        t_ms, lat: 47, lon: 8, accuracy_m: 4, speed_mps: null, heading_deg: null,
        altitude_m: null, fix_ms: t_ms, wall_ms: t_ms, mono_ms: t_ms, page: "p",
      });
      await store.addFixes("s", "d", [fix(1), fix(2)], 0);
      await store.addFixes("s", "d", [fix(1), fix(2), fix(3)], 0);
      await store.addFixes("s", "d", [fix(3)], 0);
      return (await store.chunks("s")).map((chunk) => [chunk.columns.seq, chunk.columns.t_ms]);
    }""")
    assert seqs == [[[0, 1], [1, 2]], [[2], [3]]]


def test_a_second_touch_makes_no_second_session(phone: Phone) -> None:
    phone.open()
    phone.page.tap("[data-action=create]")
    phone.page.fill("#setup-vehicle", "Grey test car")
    phone.page.fill("#setup-course", "North ring")
    phone.page.evaluate("""() => {
      const button = document.querySelector("main button[type=submit]");
      button.click();
      button.click();
    }""")
    phone.page.wait_for_selector("main.checklist")
    phone.page.wait_for_timeout(300)
    assert len(phone.stored()["sessions"]) == 1


def test_killing_the_browser_right_after_the_confirmation_loses_nothing(
    own_browser: Chromium, capture_server: Any
) -> None:
    page = start_page(own_browser)
    phone = Phone(page.context, page, capture_server.url, ConsoleWatch())
    page.goto(f"{phone.url}/capture")
    page.click("[data-action=create]")
    page.fill("#setup-vehicle", "Grey test car")
    page.fill("#setup-course", "North ring")
    page.click("main button[type=submit]")
    page.wait_for_selector("main.checklist")
    for box in page.locator(".cautions input").all():
        box.check()
    page.click("[data-action=start]")
    page.click(".keys [data-key=zero_soc]")
    phone.wait_stored("0 % shown")
    own_browser.kill()

    page = start_page(own_browser)
    phone = Phone(page.context, page, capture_server.url, ConsoleWatch())
    page.goto(f"{phone.url}/capture")
    page.wait_for_selector("main.drive")  # straight back into the run
    assert [tap["kind"] for tap in phone.taps()] == ["zero_soc"]
    expect(page.locator(".keys")).to_have_attribute("data-phase", "past")


@pytest.fixture
def own_browser(player: Playwright, tmp_path: Path) -> Iterator[Chromium]:
    """One on a profile that outlives it, so that it can be killed as a flat phone would kill it."""
    browser = Chromium(player, tmp_path / "profile")
    yield browser
    browser.kill()


def start_page(browser: Chromium) -> Page:
    browser.start()
    page = browser.own_context.new_page()
    page.set_viewport_size({"width": 360, "height": 740})
    return page


def test_the_file_from_the_phone_loads_on_the_desk(phone: Phone, tmp_path: Path) -> None:
    phone.console.allow(FAILED)
    phone.open()
    phone.context.set_offline(True)
    phone.make_session("Ring, no network")
    phone.accept_cautions()
    phone.press("zero_soc")
    phone.wait_stored("0 % shown")
    phone.note_display({"trip_energy": "0.4"})
    phone.wait_fixes()
    phone.page.locator(".bar button", has_text="Menu").tap()
    with phone.page.expect_download() as download:
        phone.page.get_by_role("button", name="Save as file").tap()
    assert download.value.suggested_filename == "ring-no-network.ebbline.json"
    path = tmp_path / "from-the-phone.ebbline.json"
    download.value.save_as(path)

    document = session_file.load_document(path.read_bytes())
    session = session_file.to_session(document)
    assert session.id == phone.session_id()
    assert [event.kind for event in session.events if event.kind != "note"] == ["zero_soc"]
    assert [(r.quantity, r.value) for r in session.readings] == [("trip_energy", 0.4)]
    assert sum(entry.seq.size for entry in session.breadcrumbs) >= 1
    assert session.course.surveyed_lap_m == 1000


def test_a_wall_clock_set_by_an_hour_leaves_no_dent(phone: Phone) -> None:
    phone.drive()
    touched_s = time.monotonic()
    phone.press("zero_soc")
    phone.wait_stored("0 % shown")
    stored_s = time.monotonic()
    phone.page.evaluate("() => { const now = Date.now; Date.now = () => now() + 3600000; }")
    phone.wait_for("the next look at both clocks", lambda: logged(phone, "clock_step"))
    between_s = time.monotonic() - stored_s
    phone.press("trip_reset")
    phone.wait_stored("Trip reset")
    first, second = phone.taps()
    apart_s = (second["t_ms"] - first["t_ms"]) / 1000
    assert between_s < apart_s < time.monotonic() - touched_s
    assert second["wall_ms"] - first["wall_ms"] > 3_600_000
    steps = [doc["clock_step"] for doc in logged(phone, "clock_step")]
    assert [step["cause"] for step in steps] == ["clock set"]
    assert steps[0]["step_ms"] == pytest.approx(3_600_000, abs=50)
