"""The list of sessions, and the way in for session files."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from browser.accessibility import assert_accessible
from browser.conftest import ConsoleWatch, until
from browser.desk.conftest import SAMPLES, Desk, read_figure, text_of
from playwright.sync_api import expect

NAMES = ("early-shutdown", "full-run", "lap-check", "rough-evidence")


def test_the_list_shows_every_session_with_its_figures(desk: Desk) -> None:
    for name in NAMES:
        desk.bring_in(name)
    desk.open_list()
    rows = desk.page.locator(".sessions tbody tr")
    told = desk.says("/sessions")["sessions"]
    assert rows.count() == len(told) == len(NAMES)
    with_figures = 0
    for i, session in enumerate(told):
        row = rows.nth(i)
        expect(row.locator(".session-link")).to_have_text(session["title"])
        expect(row).to_contain_text(session["course_label"])
        counts = [text_of(cell) for cell in row.locator(".counts").all()]
        counted = [session[f"{kind}_count"] for kind in ("event", "reading", "fix")]
        assert counts == [str(count) for count in counted]
        figures = row.locator("td .figure")
        for place, key, per_unit in ((0, "reserve_distance_m", 1000), (1, "reserve_energy_kwh", 1)):
            quantity = session["figures"][key]
            text = text_of(figures.nth(place))
            if quantity is None:
                assert text.startswith("–"), text
                continue
            with_figures += 1
            shown = read_figure(text)
            for end in ("value", "low", "high"):
                assert getattr(shown, end) == pytest.approx(
                    quantity[end] / per_unit, abs=shown.last_digit * 0.501
                )
    assert with_figures >= 4


def test_a_session_file_comes_in_by_choosing_and_by_dropping_it(desk: Desk) -> None:
    desk.open_list()
    expect(desk.page.locator("main")).to_contain_text("Nothing recorded yet")
    desk.page.set_input_files("#import-file", SAMPLES / "lap-check.ebbline.json")
    account = desk.page.locator(".import-account").first
    account.locator("a").wait_for()
    expect(account).to_contain_text("Imported: 0 events, 2 readings, 624 fixes")
    desk.page.locator(".sessions tbody tr").wait_for()

    drop(desk, "lap-check.ebbline.json", (SAMPLES / "lap-check.ebbline.json").read_text())
    desk.page.locator(".import-account", has_text="Already here, nothing changed").wait_for()
    expect(desk.page.locator(".sessions tbody tr")).to_have_count(1)


def drop(desk: Desk, name: str, content: str) -> None:
    """Let a file go over the page."""
    desk.page.evaluate(
        """([name, content]) => {
          const dataTransfer = new DataTransfer();
          dataTransfer.items.add(new File([content], name, { type: "application/json" }));
          document.body.dispatchEvent(
            new DragEvent("drop", { dataTransfer, bubbles: true, cancelable: true }));
        }""",
        [name, content],
    )


def spoil_latitude(document: dict[str, Any]) -> str:
    document["breadcrumbs"][0]["lat"][17] = 91
    return json.dumps(document)


def spoil_times(document: dict[str, Any]) -> str:
    document["breadcrumbs"][0]["t_ms"][5] -= 60_000
    return json.dumps(document)


@pytest.mark.parametrize(
    ("spoil", "place"),
    [
        (spoil_latitude, "breadcrumbs[0].lat[17]"),
        (spoil_times, "breadcrumbs[0].t_ms[5]"),
        (lambda _: "not JSON at all", "$"),
    ],
)
def test_a_bad_file_is_refused_with_the_place_and_changes_nothing(
    desk: Desk,
    console: ConsoleWatch,
    tmp_path: Path,
    spoil: Callable[[dict[str, Any]], str],
    place: str,
) -> None:
    console.allow("422")
    bad = tmp_path / "bad.ebbline.json"
    bad.write_text(spoil(json.loads((SAMPLES / "lap-check.ebbline.json").read_text())))
    desk.open_list()
    desk.page.set_input_files("#import-file", bad)
    account = desk.page.locator(".import-bad")
    account.wait_for()
    said = text_of(account)
    assert "bad.ebbline.json" in said
    assert "nothing was stored" in said
    assert place in said
    assert desk.says("/sessions")["sessions"] == []


def test_a_server_out_of_reach_is_said_and_can_be_tried_again(
    desk: Desk, console: ConsoleWatch
) -> None:
    console.allow("ERR_FAILED")
    desk.page.route("**/api/sessions*", lambda route: route.abort())
    desk.page.goto(f"{desk.url}/desk")
    desk.page.locator(".trouble").wait_for()
    expect(desk.page.locator(".trouble")).to_contain_text("can't be reached")
    desk.page.unroute("**/api/sessions*")
    desk.page.get_by_role("button", name="Try again").click()
    desk.page.get_by_text("Nothing recorded yet").wait_for()


def test_an_unknown_session_gets_a_page_that_says_so(desk: Desk, console: ConsoleWatch) -> None:
    console.allow("404")
    desk.page.goto(f"{desk.url}/desk?session=00000000-0000-4000-8000-000000000000")
    desk.page.locator(".trouble").wait_for()
    expect(desk.page.locator(".trouble h1")).to_contain_text("can’t be shown")


def test_sessions_are_found_by_text_vehicle_outcome_and_day(desk: Desk) -> None:
    for name in NAMES:
        desk.bring_in(name)
    desk.open_list()
    links = desk.page.locator(".sessions .session-link")

    def found(count: int) -> list[str]:
        until(
            desk.page,
            "n => document.querySelectorAll('.sessions tbody tr').length === n",
            count,
        )
        return [text_of(link) for link in links.all()]

    found(4)
    desk.page.get_by_label("Find", exact=True).fill("rough")
    assert found(1) == ["Sample: Rough evidence"]
    expect(desk.page.locator(".session-facts")).to_contain_text("1 session found")
    desk.page.reload()  # the question is part of the address
    assert found(1) == ["Sample: Rough evidence"]
    desk.page.get_by_role("button", name="Clear").click()
    found(4)
    desk.page.locator("#find-vehicle").select_option("Sample car B")
    assert found(1) == ["Sample: Shut down before zero"]
    desk.page.locator("#find-vehicle").select_option("")
    desk.page.locator("#find-outcome").select_option("past zero")
    found(2)
    desk.page.locator("#find-from").fill("2026-03-03")
    assert found(1) == ["Sample: Rough evidence"]
    desk.page.get_by_label("Find", exact=True).fill("nothing like it")
    desk.page.get_by_text("Nothing of that kind").wait_for()


def test_a_session_is_put_away_and_taken_out_and_its_set_up_serves_the_next_car(
    desk: Desk,
) -> None:
    full = desk.bring_in("full-run")
    desk.bring_in("lap-check")
    desk.open_list()
    rows = desk.page.locator(".sessions tbody tr")
    expect(rows.filter(has_text="Lap check")).to_contain_text("Laps, no run")
    desk.page.get_by_role("button", name="Archive Sample: Full run with recharge").click()
    desk.page.locator(".form-status-good", has_text="put away, not deleted").wait_for()
    assert [row["id"] for row in desk.says("/sessions")["sessions"]] != [full]
    desk.page.locator("#find-archived").select_option("yes")
    desk.page.get_by_role("button", name="Restore Sample: Full run with recharge").click()
    desk.page.get_by_text("Nothing of that kind").wait_for()
    desk.page.get_by_role("button", name="Clear").click()
    desk.page.get_by_role("button", name="The plan of Sample: Full run").click()
    usable = desk.page.locator("#next-usable_kwh")
    expect(usable).to_have_value("58")  # of the car that was driven
    desk.page.fill("#next-title", "The next one")
    desk.page.fill("#next-vehicle", "Blue car")
    desk.page.get_by_text("A car not known here").wait_for()
    expect(usable).to_have_value("")  # no pack is carried over to a car that hasn't it
    desk.page.fill("#next-tyre_kpa", "2.9")
    desk.page.get_by_role("button", name="Make the session").click()
    desk.page.locator(".form-status-alarm", has_text="from 100 to 1500, in kPa").wait_for()
    desk.page.fill("#next-tyre_kpa", "290")
    desk.page.fill("#next-measured_kwh", "61,5")
    desk.page.check("#next-same-day")
    desk.page.get_by_role("button", name="Make the session").click()
    rows.filter(has_text="The next one").wait_for()
    made = next(s for s in desk.says("/sessions")["sessions"] if s["title"] == "The next one")
    old, new = (desk.says(f"/sessions/{one}")["setup"] for one in (full, made["id"]))
    assert new["course"] == old["course"]
    assert new["protocol"] == old["protocol"]
    assert new["vehicle"] == {"label": "Blue car", "pack": {"measured_kwh": 61.5}}
    assert new["conditions"] == {
        "tyre_kpa": 290,
        **{key: old["conditions"][key] for key in ("ambient_c", "climate", "surface")},
    }
    assert "devices" not in new
    assert_accessible(desk.page)

    # nothing is recorded in it yet, and its page says so instead of failing
    desk.open_session(made["id"])
    expect(desk.page.locator(".trouble")).to_be_hidden()
    expect(desk.page.locator("#timeline")).to_contain_text("No track on record")
    expect(desk.page.locator("#ladder")).to_contain_text("No events yet")
    assert desk.headline("distance_m") == "not known"


def test_the_list_is_sorted_by_its_heads_and_what_is_picked_becomes_a_campaign(
    desk: Desk,
) -> None:
    for name in NAMES:
        desk.bring_in(name)
    desk.open_list()
    names = desk.page.locator(".sessions .session-link")

    def in_order(key: str, way: str) -> list[str]:
        told = desk.says(f"/sessions?sort={key}&order={way}")["sessions"]
        return [session["title"] for session in told]

    for key, first in (("energy", "descending"), ("name", "ascending"), ("fixes", "descending")):
        for way in (first, {"descending": "ascending", "ascending": "descending"}[first]):
            desk.page.locator(f"[data-sort={key}]").click()
            desk.page.locator(f"th[aria-sort={way}] [data-sort={key}]").wait_for()
            expected = in_order(key, way.removesuffix("ending"))
            until(
                desk.page,
                "n => [...document.querySelectorAll('.sessions .session-link')]"
                ".map((link) => link.textContent).join() === n",
                ",".join(expected),
            )
            assert [text_of(name) for name in names.all()] == expected
    assert desk.page.evaluate("document.activeElement.dataset.sort") == "fixes"
    desk.page.get_by_label("Pick all on this page").check()
    desk.page.get_by_label("Pick Sample: Full run with recharge").uncheck()
    desk.page.get_by_text("3 picked").wait_for()
    with desk.page.expect_download() as saving:
        desk.page.get_by_role("button", name="CSV of those picked").click()
    assert len(saving.value.path().read_text().splitlines()) == 4
    desk.page.get_by_role("button", name="Save as campaign").click()
    desk.page.fill("#campaign-name", "Winter")
    desk.page.get_by_role("button", name="Save", exact=True).click()
    desk.page.get_by_text("Saved as campaign “Winter”, 3 sessions.").wait_for()
    (campaign,) = desk.says("/campaigns")["campaigns"]
    assert len(campaign["session_ids"]) == 3
    desk.page.locator("#find-within").select_option("Winter")
    until(desk.page, "() => document.querySelectorAll('.sessions tbody tr').length === 3")
    assert_accessible(desk.page)
    desk.page.get_by_role("button", name="Change to the night theme").click()
    assert_accessible(desk.page, contrast_only=True)
    for width in (360, 1024):
        desk.page.set_viewport_size({"width": width, "height": 740})
        desk.open_list()
        assert desk.page.evaluate("document.documentElement.scrollWidth") <= width


def test_figures_that_are_behind_are_shown_as_such_and_renewed(
    desk: Desk, console: ConsoleWatch
) -> None:
    console.allow("ERR_FAILED")
    full = desk.bring_in("full-run")
    desk.page.route("**/api/sessions/renewals", lambda route: route.abort())
    note = {"id": "n", "device": "other", "t_ms": 1_772_460_000_000, "kind": "note"}
    desk.send_events(full, note)
    desk.open_list()
    row = desk.page.locator(".sessions tbody tr.is-behind")
    expect(row).to_contain_text("being renewed")
    assert read_figure(text_of(row.locator("td .figure").first)).value > 7
    desk.page.unroute("**/api/sessions/renewals")
    desk.page.reload()
    desk.page.locator(".sessions tbody tr:not(.is-behind)").wait_for()
    assert desk.says("/sessions")["behind"] == 0
