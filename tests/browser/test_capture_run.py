"""One run from end to end: no network, a reload in the middle, every record on the server."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import pytest
from browser.conftest import Car, Phone, until
from playwright.sync_api import expect

SPEED_MPS = 40.0
OFFLINE = "net::ERR_INTERNET_DISCONNECTED"


def test_a_kilometre_without_network_arrives_whole(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    phone.console.allow(OFFLINE)
    phone.open()
    phone.make_session("Kilometre")
    phone.accept_cautions()
    phone.context.set_offline(True)
    car = Car(phone.context, phone.page)
    windows_ms: list[tuple[float, float]] = []

    def take(key: str, said: str, detail: Callable[[], None] | None = None) -> None:
        car.roll(1.3, SPEED_MPS)
        before_ms = time.time() * 1000
        phone.press(key)
        windows_ms.append((before_ms, time.time() * 1000))
        if detail:
            detail()
        phone.wait_stored(said)

    take("soc_step", "New % shown: 3\u00a0%", lambda: phone.step_to(3))
    take("warning", "Warning: charge now", lambda: phone.choose("charge_now"))
    take("zero_soc", "0 % shown")
    phone.note_display({"trip_energy": "12.4", "trip_distance": "71.3"})
    take("trip_reset", "Trip reset")
    take("zero_range", "Range showed 0")

    # the page is reloaded with no network: back in the middle of the same run
    shown_before_km = float(phone.page.locator(".hero-main .figure").text_content() or "")
    car.wait_kept(phone)
    phone.page.reload()
    phone.page.wait_for_selector("main.drive")
    car.roll(1.0, SPEED_MPS)
    shown_after_km = float(phone.page.locator(".hero-main .figure").text_content() or "")
    assert shown_after_km >= shown_before_km - 0.01

    take("floored", "Throttle floored")
    take("power_limited", "Power limited")
    take("speed_capped", "Top speed capped: 85\u00a0km/h", lambda: phone.step_to(85))
    phone.note_display({"pack_voltage": "312"})
    take("floored", "Throttle released")
    take("propulsion_off", "Propulsion off")
    while car.along_m < 1000 or car.fixes < 60:
        car.roll(0.5, SPEED_MPS)
    car.wait_kept(phone)

    phone.context.set_offline(False)
    phone.wait_synced()

    # --- exactly these on the server ---
    session = phone.session_id()
    held = server_says(f"/sessions/{session}")
    taken = [event for event in held["events"] if "log" not in event]
    assert [(event["kind"], event["value"], event.get("class")) for event in taken] == [
        ("soc_step", 3, None),
        ("warning", None, "charge_now"),
        ("zero_soc", None, None),
        ("trip_reset", None, None),
        ("zero_range", None, None),
        ("floored_on", None, None),
        ("power_limited", None, None),
        ("speed_capped", 85, None),
        ("floored_off", None, None),
        ("propulsion_off", None, None),
    ]
    for event, (before_ms, after_ms) in zip(taken, windows_ms, strict=True):
        assert before_ms - 50 <= event["t_ms"] <= after_ms + 50, event
    readings = [(one["quantity"], one["value"], one["unit"]) for one in held["readings"]]
    assert sorted(readings) == [
        ("pack_voltage", 312, "V"),
        ("trip_distance", 71.3, "km"),
        ("trip_energy", 12.4, "kWh"),
    ]
    assert len({one["t_ms"] for one in held["readings"]}) == 2  # two moments, two figures at one

    rows = phone.stored()
    docs = {row["id"]: row["doc"] for row in rows["records"] if row["type"] != "clock_check"}
    held_docs = {one["id"]: one for one in held["events"] + held["readings"]}
    assert held_docs == docs
    assert len(held["events"]) + len(held["readings"]) == len(docs)

    seqs = [seq for chunk in rows["fixes"] for seq in chunk["columns"]["seq"]]
    assert seqs == list(range(len(seqs)))
    assert len(seqs) >= 60
    assert held["fix_count"] == len(seqs)
    exported = server_says(f"/sessions/{session}/file")
    for name in ("seq", "t_ms", "lat", "lon", "speed_mps"):
        there = [x for entry in exported["breadcrumbs"] for x in entry[name]]
        here = [x for chunk in rows["fixes"] for x in chunk["columns"][name]]
        assert there == here
    assert _length_of(exported) == pytest.approx(car.along_m, rel=0.03)

    # --- and in the desk's timeline ---
    desk = phone.context.new_page()
    phone.console.watch(desk)
    desk.goto(f"{phone.url}/desk?session={session}")
    desk.wait_for_selector("[data-event-id]", state="attached")
    shown = {
        node.get_attribute("data-event-id") for node in desk.query_selector_all("[data-event-id]")
    }
    assert {event["id"] for event in taken} <= shown


def _length_of(document: dict[str, Any]) -> float:
    """Speed over time, metres, by the trapezoid rule, over what was recorded."""
    length_m = 0.0
    for entry in document["breadcrumbs"]:
        t_ms, speed = entry["t_ms"], entry["speed_mps"]
        for i in range(1, len(t_ms)):
            if speed[i] is not None and speed[i - 1] is not None:
                length_m += (speed[i] + speed[i - 1]) / 2 * (t_ms[i] - t_ms[i - 1]) / 1000
    return length_m


def test_the_picked_server_session_takes_taps(
    phone: Phone, new_phone: Callable[..., Phone], server_says: Callable[[str], Any]
) -> None:
    """A session made on one phone is picked on another; both add to it."""
    first = phone
    first.drive("Shared run")
    first.press("zero_soc")
    first.wait_stored("0 % shown")
    first.wait_synced()
    session = first.session_id()

    second = new_phone()
    second.open()
    second.page.locator(f"[data-remote='{session}']").tap()
    second.page.wait_for_selector("main.checklist")
    second.accept_cautions()
    second.press("warning")
    second.choose("range_low")
    second.wait_stored("range low")
    second.wait_synced()

    held = server_says(f"/sessions/{session}")
    kinds = [event["kind"] for event in held["events"] if "log" not in event]
    assert sorted(kinds) == ["warning", "zero_soc"]
    assert len({event["device"] for event in held["events"]}) == 2
    assert len(held["setup"]["devices"]) == 2
    assert held["setup"]["vehicle"]["label"] == "Grey test car"


def test_every_tick_is_kept_with_its_time_and_place_and_none_is_overwritten(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    page = phone.page
    phone.open()
    phone.make_session()
    start = page.locator("[data-action=start]")
    boxes = page.query_selector_all(".cautions input")
    for box in boxes[:-1]:
        box.check()
    expect(start).to_be_disabled()
    page.locator("[name=tyres]").check()
    page.locator("[name=tyres]").uncheck()
    page.locator("[name=charger]").check()

    # left and come back to: what was ticked stands
    page.locator("header .quiet").tap()
    page.locator(".card-main").first.tap()
    page.wait_for_selector("main.checklist")
    expect(page.locator(".cautions input:checked")).to_have_count(len(boxes) - 1)
    expect(page.locator(".readiness input:checked")).to_have_count(1)
    page.locator(".cautions input:not(:checked)").check()
    start.tap()
    page.wait_for_selector("main.drive")
    phone.wait_synced()

    events = server_says(f"/sessions/{phone.session_id()}")["events"]
    notes = [event for event in events if event.get("log") == "checklist"]
    ticks = [(note["checklist"]["item"], note["checklist"]["ticked"]) for note in notes]
    assert {"passenger", "closed_course", "chase_vehicle"} <= {item for item, _ in ticks}
    assert [tick for tick in ticks if tick[0] in {"tyres", "charger"}] == [
        ("tyres", True),
        ("tyres", False),
        ("charger", True),
    ]
    now_ms = time.time() * 1000
    assert all(now_ms - 60_000 < note["t_ms"] <= now_ms for note in notes)
    assert notes[-1]["checklist"]["lat"] == pytest.approx(47.0)
    assert len({note["id"] for note in notes}) == len(notes) == len(boxes) + 3


def test_a_session_that_was_driven_offers_its_log_first(phone: Phone) -> None:
    phone.drive()
    for key, name in (("zero_soc", "0 % shown"), ("trip_reset", "Trip reset")):
        phone.press(key)
        phone.wait_stored(name)
        phone.wait_placed("past")
    page = phone.page
    page.locator(".bar button", has_text="Menu").tap()
    page.get_by_role("button", name="End recording").tap()
    page.get_by_role("button", name="End it").tap()
    page.wait_for_selector("main.sessions")
    page.locator(".card-main").first.tap()
    expect(page.locator(".sheet .key > span")).to_have_text(["Log", "Go on recording"])
    expect(page.locator(".sheet h2")).to_have_text("Evening run")
    page.get_by_role("button", name="Log").tap()

    # as while driving, a slip can be taken back and a word be added
    page.locator(".log button", has_text="Trip reset").tap()
    page.locator(".one").get_by_role("button", name="Undo").tap()
    page.locator(".log s", has_text="Trip reset").wait_for()
    page.locator(".log button", has_text="0 % shown").tap()
    page.fill("#detail-text", "seen late")
    page.get_by_role("button", name="Store the words").tap()
    page.locator(".log button", has_text="0 % shown: seen late").wait_for()
    phone.wait_synced()
    assert [tap["corrects"] is None for tap in phone.taps()] == [True, True, False, False]

    page.locator(".cross").tap()
    expect(page.locator("main.sessions")).to_be_visible()
    page.locator(".card-main").first.tap()
    page.get_by_role("button", name="Go on recording").tap()
    page.wait_for_selector("main.checklist")


def test_a_setup_is_remembered_and_can_be_changed_as_a_new_revision(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    page = phone.page
    phone.drive("First")
    phone.wait_synced()
    page.locator(".bar button", has_text="Menu").tap()
    page.get_by_role("button", name="Plan").tap()
    page.fill("#setup-band_high_kmh", "80")
    page.fill("#setup-climate", "off")
    page.fill("#setup-ambient_c", "9,5")
    page.tap("main button[type=submit]")
    page.wait_for_selector("main.drive")  # still recording
    phone.press("zero_soc")
    phone.wait_stored("0 % shown")
    phone.wait_synced()
    session = phone.session_id()
    held = server_says(f"/sessions/{session}")
    assert held["setup"]["protocol"]["speed_band_kmh"] == [50, 80]
    assert "tap_delay_s" not in held["setup"]["protocol"], "nobody has said how late taps come"
    assert held["setup"]["conditions"]["climate"] == "off"
    assert held["setup"]["conditions"]["ambient_c"] == 9.5
    assert held["revision"] > 1

    page.locator(".bar button", has_text="Menu").tap()
    page.get_by_role("button", name="End recording").tap()
    page.get_by_role("button", name="End it").tap()
    page.tap("[data-action=create]")
    shown = {
        name: page.input_value(f"#setup-{name}")
        for name in ("vehicle", "usable_kwh", "course", "band_high_kmh", "climate", "ambient_c")
    }
    assert shown == {
        "vehicle": "Grey test car",
        "usable_kwh": "58",
        "course": "North ring",
        "band_high_kmh": "80",
        "climate": "off",
        "ambient_c": "",  # the weather is new each time
    }


def test_going_back_again_and_again_stays_in_the_run(phone: Phone) -> None:
    """Also after a reload, when the page was not touched yet. It closes what is open."""
    page = phone.page
    phone.drive()
    page.go_back()
    phone.wait_said("Back is off while recording")
    page.locator(".bar button", has_text="More").tap()
    page.go_back()
    until(page, "() => document.querySelector('dialog') === null")
    expect(page.locator("main.drive")).to_have_count(1)
    page.reload()
    page.wait_for_selector("main.drive")
    for key, name in [("trip_reset", "Trip reset"), ("floored", "Throttle floored")]:
        page.go_back()
        phone.wait_said("Back is off while recording")
        phone.press(key)
        phone.wait_stored(name)
    page.go_back()
    page.go_back()  # twice without a touch between
    phone.wait_said("Back is off while recording")
    assert page.url.endswith("/capture")
    expect(page.locator("main.drive")).to_have_count(1)
    phone.press("zero_soc")
    phone.wait_stored("0 % shown")
