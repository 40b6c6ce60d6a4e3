"""Publishing at the desk: the report looked at, a film chosen, what is missing told."""

from __future__ import annotations

import re
from typing import Any
from urllib.parse import urlencode

import pytest
import webvtt
from browser.accessibility import assert_accessible
from browser.conftest import ConsoleWatch, starting, until
from browser.desk.conftest import Desk, text_of
from playwright.sync_api import expect

ZERO_MS = 1772444941539


def film_marks(device: str) -> list[dict[str, Any]]:
    return [
        {"id": f"mark-{camera}", "device": device, "t_ms": ZERO_MS + after_ms, "text": camera,
         "kind": "film_sync", "value": second, "unit": "s"}
        for camera, after_ms, second in (("dash", -60_000, 30.0), ("chase car", -3_000, 500.0))
    ]  # fmt: skip


def open_publish(desk: Desk, session_id: str, units: str = "km") -> None:
    desk.open_session(session_id)
    desk.page.get_by_label("Unit of distance").select_option(units)
    desk.turn_to("publish")
    desk.page.locator(".publish[aria-busy=false]").wait_for()
    desk.page.locator(".preview-sheet img").wait_for()


@pytest.fixture(scope="class")
def filmed(class_desk: Desk) -> Desk:
    """A desk at which the full run, with marks for two films, is about to be published in miles."""
    document = class_desk.sample("full-run")
    document["events"] += film_marks(document["events"][0]["device"])
    open_publish(class_desk, class_desk.bring_in(document), "mi")
    return class_desk


class TestAFilmedRun:
    """One page for both: drawing and setting a report is most of the work. The second corrects
    the evidence, so it comes last.
    """

    def test_the_report_is_looked_at_and_a_cameras_film_chosen_in_the_desks_units(
        self, filmed: Desk, class_console: ConsoleWatch
    ) -> None:
        page = filmed.page
        expect(page.locator(".preview-place")).to_have_text(starting("Page 1 of "))
        page.get_by_role("button", name="Next page").press("Enter")
        until(
            page, "() => document.querySelector('.preview-place').textContent.startsWith('Page 2')"
        )
        until(page, "() => document.querySelector('.preview-sheet img').naturalWidth > 800")

        page.locator("#film-camera").select_option("dash")
        expect(page.locator(".publish-body .hint", has_text="dash")).to_contain_text(
            "timed by 1 mark"
        )
        with page.expect_download() as captions:
            page.get_by_role("link", name="Captions, WebVTT").click()
        assert captions.value.suggested_filename.endswith("-film-dash-captions.vtt")
        zero = next(
            cue for cue in webvtt.read(captions.value.path()) if cue.text.startswith("0 % shown")
        )
        assert zero.start_in_seconds == pytest.approx(90, abs=1.5)
        link = page.get_by_role("link", name="Captions, SRT")
        expect(link).not_to_have_attribute("href", re.compile("left"))
        page.get_by_label("Captions say what was left").check()
        expect(link).to_have_attribute("href", re.compile("&left=true"))

        class_console.allow("422")
        page.locator("#card-rate").evaluate("rates => rates.add(new Option('a lot', '61'))")
        page.locator("#card-rate").select_option("61")
        page.get_by_role("button", name="Save the cards").click()
        refused = page.locator(".publish-cards .form-status-alarm")
        refused.wait_for()
        expect(refused).to_contain_text("above 0 and up to 60 are taken")

        paste = page.locator(".to-paste")
        expect(paste.locator("blockquote")).to_contain_text("miles, give or take")
        expect(paste.locator("li").first).to_contain_text("closed course")
        page.context.grant_permissions(["clipboard-read", "clipboard-write"])
        paste.get_by_role("button", name="Copy the paragraph").click()
        expect(paste.get_by_role("status").first).to_have_text("Copied.")
        copied = page.evaluate("() => navigator.clipboard.readText()")
        expect(paste.locator("blockquote")).to_have_text(copied)

        expect(page.locator(".preview-sheet img")).to_have_attribute("src", re.compile("units=mi&"))
        page.get_by_label("Unit of consumption").select_option("mi/kWh")
        until(page, "() => document.querySelector('.preview-sheet img')?.src.includes('mi%2FkWh')")
        address = f"/api/sessions/{filmed.full_run}/publish/report-html?" + urlencode(
            {"units": "mi", "consumption": "mi/kWh", "temperature": "°F"}
        )
        report = page.get_by_role("link", name="Report, one web page")
        expect(report).to_have_attribute("href", address)

    def test_what_was_published_of_a_session_is_told_with_what_changed(self, filmed: Desk) -> None:
        session_id, page = filmed.full_run, filmed.page
        page.get_by_label("Where it appears").fill("the film")
        page.get_by_role("button", name="Record as published").click()
        record = page.locator(".published-entry")
        expect(record.locator(".published-state")).to_have_text("Nothing has changed since.")
        then = text_of(record.locator(".published-said"))
        assert then.endswith("past zero")

        timeline = filmed.says(f"/sessions/{session_id}/result")["timeline"]
        zero = next(entry for entry in timeline if entry["kind"] == "zero_soc")
        moved = {"id": "moved", "device": "desk", "t_ms": zero["t_ms"] + 60_000, "kind": "zero_soc",
                 "corrects": zero["event_id"]}  # fmt: skip
        sent = page.request.post(
            f"{filmed.url}/api/sessions/{session_id}/records",
            data={"device": "desk", "events": [moved]},
        )
        assert sent.json()["refused"] == []
        page.reload()
        expect(page.locator(".published-flag")).to_be_visible()
        filmed.turn_to("publish")
        expect(record.locator(".published-said")).to_have_text(then)
        said = "The evidence changed since, and what was published no longer holds."
        expect(record.locator(".published-state")).to_have_text(said)
        row = record.locator("tbody tr", has_text="distance past zero")
        old, new = (text_of(cell) for cell in row.locator("td").all())
        assert then.startswith(old)
        expect(record.locator("blockquote")).to_contain_text(
            f"Distance past zero is {new}, not {old}."
        )
        assert_accessible(page)


def test_publishing_is_accessible_day_and_night_and_says_what_is_missing(
    desk: Desk,
):
    desk.page.set_viewport_size({"width": 1024, "height": 900})
    open_publish(desk, desk.bring_in("early-shutdown"))
    desk.page.locator(".publish-missing summary").press("Enter")
    said = text_of(desk.page.locator(".publish-missing"))
    assert "Ladder of warnings Needs events past zero" in said
    for theme in ("night", "day"):
        assert_accessible(desk.page, "#publish", contrast_only=theme == "day")
        desk.page.get_by_role("button", name=f"Change to the {theme} theme").click()
