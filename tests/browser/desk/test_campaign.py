"""Many sessions at the desk: picked in the list, saved as a campaign, sorted, saved, compared."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import pytest
from browser.accessibility import assert_accessible
from browser.desk.conftest import Desk, read_figure, text_of
from playwright.sync_api import Page, expect

SAMPLES = ("full-run", "early-shutdown", "rough-evidence")
SIZES = ((1440, 900), (1024, 768), (320, 640))


def test_from_the_list_over_a_campaign_to_two_side_by_side(desk: Desk, tmp_path: Path) -> None:
    ids = [desk.bring_in(name) for name in SAMPLES]
    page = desk.page

    desk.open_list()
    for session_id in ids:
        page.locator(f"tr[data-session-id='{session_id}'] .pick-cell input").check()
    page.get_by_role("button", name="Save as campaign").click()
    page.get_by_label("Name", exact=True).fill("Three runs")
    page.get_by_role("button", name="Save", exact=True).click()
    page.get_by_role("link", name="Open the campaign").click()

    _drawn(page)
    expect(page.locator("h1")).to_have_text("Three runs")
    expect(page.locator(".answer")).to_contain_text("can't say")  # two cars
    cars = page.locator(".cars tbody tr")
    expect(cars).to_have_count(3)
    results = [desk.says(f"/sessions/{session_id}/result") for session_id in ids]
    doubted = [any(f["severity"] != "note" for f in result["findings"]) for result in results]
    expect(page.locator(".doubts-here a")).to_have_count(sum(doubted))
    assert_accessible(page)
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate("document.documentElement.scrollWidth") <= width, width

    page.set_viewport_size({"width": 1440, "height": 900})
    page.get_by_role("button", name="Usable energy").click()
    page.get_by_role("button", name="Usable energy").click()
    ordered = [cars.nth(k).get_attribute("data-session-id") for k in range(3)]
    assert ordered[0] == ids[1]  # the smallest pack

    with page.expect_download() as saved:
        page.locator("#cars").get_by_role("button", name="Save the table as CSV").click()
    with Path(saved.value.path()).open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert [row["session"] for row in rows] == ordered
    result = desk.says(f"/sessions/{ids[0]}/result")
    of_full_run = next(row for row in rows if row["session"] == ids[0])
    energy = result["reserve"]["energy_kwh"]
    doubt_kwh = (energy["high"] - energy["low"]) / 2
    assert float(of_full_run["energy_kwh"]) == pytest.approx(energy["value"], abs=0.06 * doubt_kwh)
    assert len(of_full_run["energy_kwh"]) < 8
    early = next(row for row in rows if row["session"] == ids[1])
    assert early["shut_down_before_zero"] == "true"
    assert early["distance_m"] == early["distance_high_m"] == ""
    assert saved.value.suggested_filename == "three-runs.csv"
    cars.first.hover()
    expect(page.locator(".cars tr.is-current")).to_have_count(1)
    with page.expect_download() as drawn:
        page.get_by_role("button", name="SVG of \u201cReserve against pack size\u201d").click()
    picture = Path(drawn.value.path()).read_text(encoding="utf-8")
    assert "var(--" not in picture
    assert "closed course" in picture
    assert "shut down before zero" in picture  # what the open bar stands for
    assert drawn.value.suggested_filename == "three-runs-reserve-by-pack.svg"
    page.keyboard.press("Escape")
    expect(page.locator(".cars tr.is-current")).to_have_count(0)
    with page.expect_download() as told:
        page.get_by_role("button", name="Save the report").click()
    report = Path(told.value.path()).read_text(encoding="utf-8")
    assert "Driven" in report
    assert "Side by side" not in report
    assert "Power%20on%20the%20charger" in report  # though nobody had looked at it
    assert "\u2193" not in report  # the way of sorting
    with page.expect_download() as packed:
        page.get_by_role("link", name="Save the data package").click()
    assert "datapackage.json" in ZipFile(packed.value.path()).namelist()
    assert packed.value.suggested_filename == "three-runs.zip"

    page.locator("#definition summary").click()
    page.locator(f".members input[data-session-id='{ids[1]}']").uncheck()
    page.get_by_label(re.compile("^Why .* is left out$")).and_(page.locator(":enabled")).fill("wet")
    page.get_by_role("button", name="Save the definition").click()
    expect(page.locator("#left-out li")).to_contain_text("wet")
    expect(cars).to_have_count(2)

    page.goto(f"{desk.url}/desk?compare={ids[0]}&with={ids[2]}")
    page.locator(".pair[aria-busy=false]").wait_for()
    row = page.locator("[data-figure='reserve.energy_kwh'] td")
    one, other, apart = (text_of(row.nth(k)) for k in range(3))
    shown = read_figure(apart.removeprefix("+"))
    apart_kwh = read_figure(other).value - read_figure(one).value
    assert abs(shown.value - apart_kwh) < 0.02
    agrees = shown.low <= 0 <= shown.high
    assert ("agree within" in text_of(row.nth(3))) == agrees
    assert re.search(r"(All|\d+ of the) \d+ figures", text_of(page.locator(".pair .statement")))
    assert_accessible(page)
    page.set_viewport_size({"width": 320, "height": 640})
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    with page.expect_download() as card:
        page.get_by_role("button", name="Picture for the film").click()
    assert Path(card.value.path()).read_bytes().startswith(b"\x89PNG")
    assert card.value.suggested_filename == "sample-car-a-2026-03-02-2026-03-04.png"


def test_arrow_keys_go_from_point_to_point_and_tables_follow(desk: Desk) -> None:
    ids = [desk.bring_in(name) for name in SAMPLES[:2]]
    made = desk.page.request.post(
        f"{desk.url}/api/campaigns", data={"name": "Two", "session_ids": ids}
    ).json()
    desk.page.goto(f"{desk.url}/desk?campaign={made['id']}")
    _drawn(desk.page)
    face = desk.page.locator("[data-plot=reserve-by-pack] .plot-face")
    face.focus()
    face.press("ArrowRight")
    current = desk.page.locator(".cars tr.is-current")
    first = current.get_attribute("data-session-id")
    said = str(face.get_attribute("aria-valuetext"))
    face.press("ArrowRight")
    (other,) = set(ids) - {first}
    expect(current).to_have_attribute("data-session-id", other)
    expect(face).not_to_have_attribute("aria-valuetext", said)
    with desk.page.expect_download() as drawn:  # the focus leaves, and with it the highlight
        desk.page.get_by_role("button", name="SVG of \u201cReserve against pack size\u201d").click()
    expect(current).to_have_count(0)
    colours = desk.page.evaluate(
        "getComputedStyle(document.documentElement).getPropertyValue('--tide')"
    )
    assert f'stroke="{colours.strip()}" stroke-width="2' not in Path(drawn.value.path()).read_text(
        encoding="utf-8"
    )
    fitted = desk.page.locator("[data-plot=reserve-by-pack] path[stroke-dasharray='2 3']").last
    corners = re.findall(r"[ML](-?[\d.]+),(-?[\d.]+)", str(fitted.get_attribute("d")))
    places = [(float(x), float(y)) for x, y in corners]
    slopes = {round((y - places[0][1]) / (x - places[0][0]), 2) for x, y in places[6:]}
    assert max(slopes) - min(slopes) < 0.02  # a share is a straight line


def test_what_is_published_is_frozen_its_changes_are_told_and_it_is_not_deleted(
    desk: Desk,
) -> None:
    page, ids = desk.page, [desk.bring_in(name) for name in SAMPLES[:2]]
    kept, gone = (_made(desk, {"name": name, "session_ids": ids}) for name in ("Kept", "Gone"))
    page.goto(f"{desk.url}/desk?campaign={kept}")
    _drawn(page)
    page.get_by_label("Tested by").fill("Track crew A")
    page.get_by_role("button", name="Save the definition").click()
    expect(page.locator(".session-facts")).to_contain_text("tested by Track crew A")
    _drawn(page)
    page.get_by_label("Where it appears").fill("the film")
    page.get_by_role("button", name="Record as published").click()
    record = page.locator(".published-entry")
    expect(record.locator(".published-state")).to_have_text("Nothing has changed since.")
    said = text_of(page.locator(".statement").first)
    expect(record.locator(".published-said")).to_contain_text(said)
    expect(page.locator(".published-flag")).to_be_hidden()
    assert_accessible(page)

    page.locator("#definition summary").click()
    page.locator(f".members input[data-session-id='{ids[1]}']").uncheck()
    page.get_by_label(re.compile("^Why .* is left out$")).and_(page.locator(":enabled")).fill("wet")
    page.get_by_role("button", name="Save the definition").click()
    expect(page.locator(".published-flag")).to_be_visible()
    expect(page.locator(".session-facts")).to_contain_text("1 left out by choice")
    text = text_of(record.locator("blockquote"))
    assert "is left out (wet), where we had written that Sample car B" in text
    expect(record.locator(".published-said")).to_contain_text(said)
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        assert page.evaluate("document.documentElement.scrollWidth") <= width, width
    assert_accessible(page)
    with page.expect_download() as saved:
        record.get_by_role("link", name="Save all that was frozen").click()
    frozen = json.loads(Path(saved.value.path()).read_bytes())
    assert frozen["definition"]["session_ids"] == ids
    with page.expect_download() as changes:
        record.get_by_role("button", name="Save the list of changes").click()
    assert "is left out (wet)" in Path(changes.value.path()).read_text(encoding="utf-8")
    with page.expect_download() as told:
        page.get_by_role("button", name="Save the report").click()
    assert "tested by Track crew A" in Path(told.value.path()).read_text(encoding="utf-8")

    page.get_by_role("button", name="Delete this campaign").click()
    expect(page.get_by_role("dialog")).to_contain_text("recorded as published")
    page.get_by_role("dialog").get_by_role("button", name="Close").click()
    page.goto(f"{desk.url}/desk?campaign={gone}")
    _drawn(page)
    page.get_by_role("button", name="Delete this campaign").click()
    expect(page.get_by_role("dialog")).to_contain_text("Its 2 sessions and everything recorded")
    assert_accessible(page)
    page.get_by_role("button", name="Keep it").click()
    page.get_by_role("button", name="Delete this campaign").click()
    page.get_by_role("button", name="Delete the campaign").click()
    expect(page.locator(".campaign-list li")).to_have_count(1)
    expect(page.locator(".campaign-list li")).to_contain_text("1 session")
    expect(page.locator(".campaign-list li")).to_contain_text("1 left out by choice")
    expect(page.locator(".campaign-list .published-flag")).to_contain_text("changed since")
    assert [desk.says(f"/sessions/{one}")["setup"]["session"]["id"] for one in ids] == ids


def test_a_median_of_few_cars_is_told_in_the_units_of_the_others(desk: Desk) -> None:
    ids = [desk.bring_in(name) for name in SAMPLES[:2]]
    desk.page.goto(f"{desk.url}/desk?campaign={_made(desk, {'name': 'Few', 'session_ids': ids})}")
    _drawn(desk.page)
    (table,) = desk.page.locator("#ladders table").all()
    cells = [text_of(cell) for cell in table.locator("tbody tr").first.locator("td").all()]
    least, median = cells[-2:]
    assert re.match(r"\d+:\d\d(\.\d)? min:s ", least)
    assert re.fullmatch(r"\d+:\d\d min:s too few; least \d+:\d\d(\.\d)?", median)


def _made(desk: Desk, definition: dict[str, Any]) -> str:
    made = desk.page.request.post(f"{desk.url}/api/campaigns", data=definition).json()
    return str(made["id"])


def test_a_campaign_without_sessions_says_so(desk: Desk) -> None:
    made = desk.page.request.post(
        f"{desk.url}/api/campaigns", data={"name": "None yet", "session_ids": []}
    ).json()
    desk.page.goto(f"{desk.url}/desk?campaign={made['id']}")
    desk.page.locator(".campaign[aria-busy=false]").wait_for()
    expect(desk.page.locator(".answer")).to_contain_text("no sessions")


def _drawn(page: Page) -> None:
    page.locator(".campaign[aria-busy=false]").wait_for()
    expect(page.locator(".pending")).to_be_empty()
    page.locator("[data-plot=ladders][data-drawn]").wait_for()
