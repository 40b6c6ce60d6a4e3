"""Doubts come first and lead to what mends them; choices are tried before they are kept."""

from __future__ import annotations

import json
import re
import urllib.request
from typing import Any

import pytest
from browser.accessibility import assert_accessible
from browser.conftest import ConsoleWatch, until
from browser.desk.conftest import Desk, read_figure, text_of
from patience import LONGEST_S
from playwright.sync_api import expect

SEVERITIES = ["Error", "Doubt", "Note"]
OLDER = "00000000-0000-4000-8000-0000000000aa"


def result(desk: Desk) -> dict[str, Any]:
    answer: dict[str, Any] = desk.says(f"/sessions/{desk.full_run}/result")
    return answer


def revise(desk: Desk, base: int, setup: dict[str, Any]) -> None:
    """Revise the set-up as another desk does."""
    request = urllib.request.Request(
        f"{desk.url}/api/sessions/{desk.full_run}",
        data=json.dumps({"base": base, "setup": setup}).encode(),
        headers={"Content-Type": "application/json"},
        method="PUT",
    )
    urllib.request.urlopen(request, timeout=LONGEST_S).close()


def trial_row(desk: Desk, name: str) -> list[str]:
    """A line of the comparison: as it is, with these choices, change."""
    row = desk.page.locator(
        ".comparison tbody tr", has=desk.page.get_by_role("rowheader", name=name)
    )
    row.wait_for()
    return [text_of(cell) for cell in row.locator("td").all()]


def test_doubts_stand_first_the_worst_on_top_and_each_leads_to_its_mending(desk: Desk) -> None:
    rough = desk.bring_in("rough-evidence")
    # two readings that can't both be right
    readings = desk.says(f"/sessions/{rough}")["readings"]
    energy = [r for r in readings if r["quantity"] == "trip_energy" and r["value"] > 0.5][-1]
    wrong = {**energy, "id": "wrong-reading", "t_ms": energy["t_ms"] + 1500,
             "value": energy["value"] + 6, "corrects": None}  # fmt: skip
    request = urllib.request.Request(
        f"{desk.url}/api/sessions/{rough}/records",
        data=json.dumps({"device": "other", "readings": [wrong]}).encode(),
        headers={"Content-Type": "application/json"},
    )
    urllib.request.urlopen(request, timeout=LONGEST_S).close()
    desk.open_session(rough)
    shown = desk.page.locator(".finding")
    where = [f["where"] for f in desk.says(f"/sessions/{rough}/result")["findings"]]
    assert any(where), "places for programs"
    assert not re.search(
        r"distance\.gaps|readings of \w+_|seq \d", text_of(desk.page.locator("#doubts"))
    )
    told = [
        re.sub(r"\W", "", text) for text in desk.page.locator(".finding-severity").all_inner_texts()
    ]
    order = [SEVERITIES.index(word) for word in told if word]
    assert order == sorted(order)
    above = "() => document.querySelector('#doubts').getBoundingClientRect().top"
    below = "() => document.querySelector('#timeline').getBoundingClientRect().top"
    assert desk.page.evaluate(above) < desk.page.evaluate(below)

    doubt = desk.page.locator("[data-code=readings_contradict]").first
    doubt.get_by_role("button", name=re.compile("Check trip energy")).last.click()
    assert desk.page.evaluate("document.activeElement.id") == "reading-value"
    assert float(desk.page.input_value("#reading-value")) == wrong["value"]
    desk.page.fill("#reading-reason", "typing error")
    desk.page.locator("#readings").get_by_role("button", name="Take it back").click()
    desk.wait_saved("#readings")
    expect(desk.page.locator("[data-code=readings_contradict]")).to_have_count(0)
    expect(shown).to_have_count(len(desk.says(f"/sessions/{rough}/result")["findings"]))

    # a gap is looked at where it is
    desk.page.locator("[data-code=gaps]").get_by_role("button", name="Look at the longest").click()
    gaps = desk.says(f"/sessions/{rough}/result")["distance"]["gaps"]
    longest = max(gaps, key=lambda gap: gap["to_ms"] - gap["from_ms"])
    middle = (longest["from_ms"] + longest["to_ms"]) / 2000 % 86_400
    assert clock_s(desk) == pytest.approx(middle, abs=2)


def clock_s(desk: Desk) -> float:
    """The cursor's time of day, seconds."""
    hours, minutes, seconds = (float(part) for part in desk.readout("clock").split(":"))
    return hours * 3600 + minutes * 60 + seconds


@pytest.fixture(scope="class")
def opened(class_desk: Desk) -> Desk:
    """The full run is open, floored once more while the car coasts, so that nothing settles."""
    document = class_desk.sample("full-run")
    end_ms = next(e["t_ms"] for e in document["events"] if e["kind"] == "propulsion_off")
    document["events"] += [
        {"id": f"pedal-{kind}", "device": "phone-1", "t_ms": end_ms + after_ms, "kind": kind}
        for kind, after_ms in (("floored_on", 4_000), ("floored_off", 14_000))
    ]
    class_desk.bring_in(document)
    class_desk.open_session(class_desk.full_run)
    return class_desk


@pytest.fixture
def session(opened: Desk) -> dict[str, Any]:
    """What the server holds of it when a test begins."""
    answer: dict[str, Any] = opened.says(f"/sessions/{opened.full_run}")
    return answer


class TestTheFullRun:
    """Each test leaves a choice behind at most; the last leaves little to choose from."""

    def test_a_doubtful_stretch_of_full_throttle_is_looked_at_where_it_is(
        self, opened: Desk
    ) -> None:
        doubt = opened.page.locator("[data-code=still_changing]")
        doubt.get_by_role("button", name="Look at that stretch").click()
        timeline = opened.says(f"/sessions/{opened.full_run}/result")["timeline"]
        at_ms = [e["at_ms"]["value"] for e in timeline if e["event_id"].startswith("pedal-")]
        assert clock_s(opened) == pytest.approx(sum(at_ms) / 2000 % 86_400, abs=2)

    def test_a_moment_and_excluded_fixes_can_be_tried(
        self, opened: Desk, session: dict[str, Any]
    ) -> None:
        entry = next(e for e in result(opened)["timeline"] if e["kind"] == "trip_reset")
        opened.turn_to("ladder")
        opened.row(entry["event_id"]).locator(".row-button").click()
        opened.turn_to("choices")
        opened.page.get_by_label("A chosen moment").check()
        opened.page.locator("#choices .zero-moment").get_by_role("button", name="At cursor").click()
        trial = read_figure(trial_row(opened, "Driven past zero")[1])
        assert trial.value == pytest.approx(entry["left_m"]["value"] / 1000, abs=0.02)
        opened.page.get_by_role("button", name="Leave it as it was").click()
        expect(opened.page.locator(".comparison")).to_have_count(0)
        opened.page.fill("[aria-label='Left out from']", "09:40:00")
        opened.page.fill("[aria-label='Left out to']", "09:40:20")
        opened.page.get_by_role("button", name="Leave out", exact=True).click()
        assert opened.page.evaluate("document.activeElement.ariaLabel") == "Why they are left out"
        opened.page.fill("[aria-label='Why they are left out']", "under the bridge")
        opened.page.get_by_role("button", name="Leave out", exact=True).click()
        assert trial_row(opened, "Driven in all")[2] != "same"
        expect(opened.page.locator(".excluded")).to_contain_text("under the bridge")
        assert opened.says(f"/sessions/{opened.full_run}")["revision"] == session["revision"]
        assert_accessible(opened.page, "#choices")
        opened.page.get_by_role("button", name="Leave it as it was").click()

    def test_a_set_up_revised_by_somebody_else_is_shown_and_merged_on_request(
        self, opened: Desk, session: dict[str, Any], class_console: ConsoleWatch
    ) -> None:
        class_console.allow("409")
        opened.turn_to("choices")
        opened.page.fill("#choice-charging_efficiency", "0.85")
        assert trial_row(opened, "Put back before the display left 0 %")[2] != "same"
        theirs = json.loads(json.dumps(session["setup"]))
        theirs["vehicle"]["label"] = "Grey car"
        revise(opened, session["revision"], theirs)
        opened.page.fill("#choice-reason", "from the charger's plate")
        opened.page.get_by_role("button", name="Save these choices").click()
        conflict = opened.page.locator("#choices .conflict")
        conflict.wait_for()
        expect(conflict).to_contain_text("Grey car")
        expect(conflict).to_contain_text("0.85")
        conflict.get_by_role("button", name="Put mine in its place").click()
        opened.page.locator("#choices .form-status-good").wait_for()
        now = opened.says(f"/sessions/{opened.full_run}")["setup"]
        assert now["vehicle"]["label"] == "Grey car"
        assert now["protocol"]["charging_efficiency"] == 0.85

    def test_a_choice_shows_what_it_does_before_it_is_kept_and_is_undone_in_the_history(
        self, opened: Desk, session: dict[str, Any]
    ) -> None:
        before = result(opened)
        shown_before = opened.headline("distance_m")
        opened.turn_to("choices")
        opened.page.get_by_role("radio", name="Range showed 0").check()
        as_it_is, trial, change = trial_row(opened, "Driven past zero")
        assert as_it_is == shown_before
        zero_range_after_m = before["zero"]["zero_range_after_m"]["value"]
        wanted = (before["reserve"]["distance_m"]["value"] - zero_range_after_m) / 1000
        assert read_figure(trial).value == pytest.approx(wanted, abs=0.02)
        assert change.startswith("−")
        assert opened.says(f"/sessions/{opened.full_run}")["revision"] == session["revision"]
        assert opened.headline("distance_m") == shown_before, "nothing is kept by trying"

        keep = opened.page.get_by_role("button", name="Save these choices")
        keep.click()  # a choice moves every headline: it asks for a reason as a correction does
        opened.page.locator("#choices .form-status-alarm", has_text="why it is changed").wait_for()
        assert opened.page.evaluate("document.activeElement.id") == "choice-reason"
        assert opened.says(f"/sessions/{opened.full_run}")["revision"] == session["revision"]
        opened.page.fill("#choice-reason", "the maker counts from range 0")
        keep.click()
        opened.page.locator("#choices .form-status-good").wait_for()
        now = opened.says(f"/sessions/{opened.full_run}")
        assert now["revision"] == session["revision"] + 1
        assert now["setup"]["protocol"]["zero_basis"] == "zero_range"
        rest = {
            key: value for key, value in now["setup"].items() if key not in ("protocol", "revised")
        }
        assert rest == {
            key: value
            for key, value in session["setup"].items()
            if key not in ("protocol", "revised")
        }
        until(
            opened.page,
            "was => document.querySelector('[data-figure=distance_m] .figure-value')"
            ".textContent.trim() !== was",
            shown_before.split(" km")[0] + "\u00a0km",
        )
        assert result(opened)["zero"]["basis"] == "zero_range"

        opened.turn_to("history")
        revision = opened.page.locator(".change", has_text="the maker counts from range 0")
        told = text_of(revision)
        assert "Changed the choices" in told
        assert "Zero is: “0 % shown” → “Range showed 0”" in told
        assert not re.search(r"[a-z]_[a-z]", told), "words, not keys"
        revision.get_by_role("button", name="Take back").click()
        opened.page.locator("#history .form-status-good").wait_for()
        undone = opened.says(f"/sessions/{opened.full_run}")
        assert undone["revision"] == session["revision"] + 2
        assert undone["setup"]["protocol"] == session["setup"]["protocol"]
        assert result(opened)["reserve"] == before["reserve"]

    def test_what_is_known_of_the_car_is_filled_in_on_request_and_ticks_are_told(
        self, opened: Desk, session: dict[str, Any]
    ) -> None:
        """From the latest session of the same label; a fact out of bounds is told at once."""
        setup = session["setup"]
        bare = {**setup, "vehicle": {"label": setup["vehicle"]["label"], "software": "1.0"},
                "conditions": {}}  # fmt: skip
        lasting = {key: setup["vehicle"][key] for key in ("pack", "road_load")}
        revise(opened, session["revision"], bare)
        request = urllib.request.Request(
            f"{opened.url}/api/sessions/{OLDER}",
            data=json.dumps({"base": None, "setup": {**setup, "session": {"id": OLDER}}}).encode(),
            headers={"Content-Type": "application/json"},
            method="PUT",
        )
        urllib.request.urlopen(request, timeout=LONGEST_S).close()
        tick = {"item": "charged_full", "ticked": True}
        ticked = {"id": "t", "device": "p", "t_ms": session["events"][0]["t_ms"], "kind": "note",
                  "log": "checklist", "checklist": tick}  # fmt: skip
        opened.send_events(opened.full_run, ticked)
        opened.open_session(opened.full_run)
        opened.turn_to("choices")
        opened.page.get_by_text("Car, day and more choices").click()
        charged = opened.page.locator("#choice-full_charge_before")
        expect(charged.locator("option:checked")).to_have_text("yes, ticked on the phone")
        opened.page.get_by_role("button", name=re.compile("Fill in .* more facts known of")).click()
        expect(opened.page.locator("#choice-usable_kwh")).to_have_value("58")
        opened.page.fill("#choice-tyre_kpa", "42")
        problem = opened.page.locator("#choice-tyre_kpa-problem")
        expect(problem).to_contain_text("from 100 to 1500, in kPa")
        opened.page.fill("#choice-reason", "from the car's own sheet")
        opened.page.get_by_role("button", name="Save these choices").click()
        refused = opened.page.locator("#choices .form-status-alarm")
        expect(refused).to_contain_text("Not saved: Tyre pressure: “42” is not a number")
        expect(opened.page.locator("#choice-tyre_kpa")).to_be_focused()
        expect(opened.page.locator("#choice-tyre_kpa")).to_have_value("42")
        assert_accessible(opened.page, "#choices")
        opened.page.fill("#choice-tyre_kpa", "290")
        expect(problem).to_have_count(0)
        charged.select_option("false")
        opened.page.fill("#choice-reason", "from the car's own sheet")
        opened.page.get_by_role("button", name="Save these choices").click()
        opened.page.locator("#choices .form-status-good").wait_for()
        now = opened.says(f"/sessions/{opened.full_run}")["setup"]
        assert {key: now["vehicle"][key] for key in lasting} == lasting
        assert now["conditions"] == {
            "tyre_kpa": 290,
            "full_charge_before": False,
            "drive_mode": setup["conditions"]["drive_mode"],
        }

    def test_a_headline_that_hangs_on_a_gap_says_so_and_leads_to_the_gap(
        self, opened: Desk, session: dict[str, Any]
    ) -> None:
        zero_ms = result(opened)["zero"]["t_ms"]
        device = "phone-1"
        # nothing else tells how far the car came: no positions for five minutes, no trip distance
        taken_back = [
            {**reading, "id": f"back-{k}", "value": None, "corrects": reading["id"]}
            for k, reading in enumerate(session["readings"])
            if reading["quantity"] == "trip_distance"
        ]
        request = urllib.request.Request(
            f"{opened.url}/api/sessions/{opened.full_run}/records",
            data=json.dumps({"device": device, "readings": taken_back}).encode(),
            headers={"Content-Type": "application/json"},
        )
        urllib.request.urlopen(request, timeout=LONGEST_S).close()
        left_out = [{"device": device, "from_ms": zero_ms + 60_000, "to_ms": zero_ms + 360_000}]
        revise(opened, session["revision"], {**session["setup"], "excluded": left_out})
        opened.open_session(opened.full_run)
        driven = opened.page.locator("[data-figure=distance_m]")
        expect(driven).to_contain_text("Hangs on a gap of 5 min")
        expect(opened.page.locator("[data-figure=duration_s]")).not_to_contain_text("Hangs on")
        assert_accessible(opened.page, ".headline")
        doubt = opened.page.locator("[data-code=hangs_on_gap]")
        doubt.get_by_role("button", name="Look at the gap").click()
        (gap,) = result(opened)["distance"]["gaps"]
        middle = (gap["from_ms"] + gap["to_ms"]) / 2000 % 86_400
        assert clock_s(opened) == pytest.approx(middle, abs=2)
