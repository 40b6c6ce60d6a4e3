"""Finishing the evidence at the desk: new records only, and the figures follow."""

from __future__ import annotations

import json
import urllib.request
from typing import Any

import pytest
from browser.conftest import ConsoleWatch, until
from browser.desk.conftest import Desk, read_figure
from patience import LONGEST_S
from playwright.sync_api import expect


@pytest.fixture(scope="class")
def desk(class_desk: Desk) -> Desk:
    """The full run is open, with two film marks of one camera, whose clock runs 1 % slow; of the
    car's warnings two were put into a class before, in another session.
    """
    document = class_desk.sample("full-run")
    base = document["events"][0]["t_ms"]
    document["events"] += [
        {"id": f"sync-{film_s}", "device": "phone-1", "t_ms": base + at_s * 1000,
         "kind": "film_sync", "text": "roof", "value": film_s, "unit": "s",
         "tap_delay_s": {"mean": 0, "sd": 0.02}}
        for at_s, film_s in ((100, 10.0), (300, 208.0))
    ]  # fmt: skip
    first, second = sample_warnings(document)[:2]
    other = class_desk.bring_in("early-shutdown")
    for text, its_class in (
        (first["text"].upper(), "charge_now"),
        (second["text"], "power_reduced"),
    ):
        class_desk.send_events(other, {"id": text, "device": "p", "t_ms": base, "kind": "warning",
                                       "text": text, "class": its_class})  # fmt: skip
    class_desk.bring_in(document)
    class_desk.open_session(class_desk.full_run)
    return class_desk


@pytest.fixture
def session(desk: Desk) -> dict[str, Any]:
    """What the server holds of it when a test begins."""
    return held(desk)


def held(desk: Desk) -> dict[str, Any]:
    answer: dict[str, Any] = desk.says(f"/sessions/{desk.full_run}")
    return answer


def sample_warnings(session: dict[str, Any]) -> list[dict[str, Any]]:
    """The warnings that the sample came with: each is for one test."""
    return [e for e in session["events"] if e["kind"] == "warning" and not e.get("corrects")]


def sample_ranges(session: dict[str, Any]) -> list[dict[str, Any]]:
    """Its readings of the range, likewise."""
    return [r for r in session["readings"]
            if r["quantity"] == "range_shown" and not r["corrects"]]  # fmt: skip


def by_id(records: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    return {record["id"]: record for record in records}


def new_record(before: dict[str, Any], after: dict[str, Any], sort: str) -> dict[str, Any]:
    """The one record that came to be; everything older is untouched."""
    old, now = by_id(before[sort]), by_id(after[sort])
    assert {key: now[key] for key in old} == old, "an older record changed"
    fresh = [now[key] for key in now.keys() - old.keys()]
    assert len(fresh) == 1
    return fresh[0]


def end_of_reserve(desk: Desk) -> dict[str, Any]:
    result = desk.says(f"/sessions/{desk.full_run}/result")
    return next(e for e in result["timeline"] if e["kind"] == result["reserve"]["ends_at"])


def width_of_energy(desk: Desk) -> float:
    energy = desk.says(f"/sessions/{desk.full_run}/result")["reserve"]["energy_kwh"]
    return float(energy["high"] - energy["low"])


def fill_finer_reading(desk: Desk) -> tuple[int, float]:
    """Place the cursor at the end of the reserve and type a finer trip energy there.

    The value lies inside what the displays already allow, so it may only narrow the result.
    Answers with the moment and the value.
    """
    result = desk.says(f"/sessions/{desk.full_run}/result")
    end = end_of_reserve(desk)
    reset = next(e for e in result["timeline"] if e["kind"] == "trip_reset")
    energy_kwh = end["energy_past_zero_kwh"]["value"] - reset["energy_past_zero_kwh"]["value"]
    desk.turn_to("ladder")
    desk.row(end["event_id"]).locator(".row-button").click()
    desk.turn_to("photos")
    form = desk.page.locator("#readings .entry-form")
    form.locator("#reading-quantity").select_option("trip_energy")
    form.locator("#reading-value").fill(f"{energy_kwh:.3f}".replace(".", ","))
    form.locator("#reading-resolution").fill("0.001")
    form.get_by_role("button", name="At cursor").click()
    return round(end["at_ms"]["value"]), round(energy_kwh, 3)


class TestFinishingTheFullRun:
    """Each test leaves records of its own; the last two leave little to work with."""

    def test_nonsense_is_pointed_at_and_not_sent(self, desk: Desk, session: dict[str, Any]) -> None:
        for field, text, said in (
            ("#reading-value", "6,4 kWh", "must be a number"),
            ("#reading-resolution", "0", "above zero"),
            ("#reading-moment", "25:00:00", "time of day"),
        ):
            fill_finer_reading(desk)
            desk.page.fill(field, text)
            desk.page.get_by_role("button", name="Save reading").click()
            expect(desk.page.locator("#readings .form-status")).to_contain_text(said)
            expect(desk.page.locator(field)).to_have_attribute("aria-invalid", "true")
            assert desk.page.evaluate("document.activeElement.id") == field[1:]
            assert held(desk) == session

    def test_a_typed_reading_is_held_and_narrows_the_energy_on_the_page(
        self, desk: Desk, session: dict[str, Any]
    ) -> None:
        shown_before = desk.headline("energy_kwh")
        width_before = width_of_energy(desk)
        at_ms, value = fill_finer_reading(desk)
        desk.page.get_by_role("button", name="Save reading").click()
        assert "The figures follow" in desk.wait_saved("#readings")

        record = new_record(session, held(desk), "readings")
        assert record["device"] == "desk"
        assert record["source"] == "typed"
        assert (record["quantity"], record["unit"]) == ("trip_energy", "kWh")
        assert (record["value"], record["resolution"], record["rounding"]) == (
            value,
            0.001,
            "nearest",
        )
        assert record["t_ms"] == pytest.approx(at_ms, abs=1)
        assert record["corrects"] is None

        now_shown = desk.headline("energy_kwh")
        assert now_shown != shown_before
        after = read_figure(now_shown)
        assert width_of_energy(desk) < width_before
        reserve = desk.says(f"/sessions/{desk.full_run}/result")["reserve"]["energy_kwh"]
        for end in ("value", "low", "high"):
            assert getattr(after, end) == pytest.approx(reserve[end], abs=after.last_digit * 0.501)
        expect(desk.page.locator(f"tr[data-reading-id='{record['id']}']")).to_have_count(1)

    def test_a_figure_said_roughly_is_typed_as_such(
        self, desk: Desk, session: dict[str, Any]
    ) -> None:
        """About 2.0: off by up to a tenth, and shown with that; the display's habits stay."""
        fill_finer_reading(desk)
        desk.page.fill("#reading-value", "2,0")
        desk.page.select_option("#reading-rounding", "about")
        desk.page.get_by_role("button", name="Save reading").click()
        desk.wait_saved("#readings")
        record = new_record(session, held(desk), "readings")
        assert (record["value"], record["resolution"], record["about"]) == (2.0, 0.1, True)
        row = desk.page.locator(f"tr[data-reading-id='{record['id']}']")
        expect(row).to_contain_text("about\u00a02.0\u00a0kWh")
        assert desk.page.input_value("#reading-rounding") != "about"

    def test_a_save_that_fails_loses_nothing_typed_and_repeats_nothing(
        self, desk: Desk, session: dict[str, Any], class_console: ConsoleWatch
    ) -> None:
        class_console.allow("ERR_FAILED")
        _, value = fill_finer_reading(desk)
        desk.page.route("**/records", lambda route: route.abort())
        desk.page.get_by_role("button", name="Save reading").click()
        status = desk.page.locator("#readings .form-status-alarm")
        status.wait_for()
        expect(status).to_contain_text("What you typed is still here")
        field = desk.page.locator("#reading-value")
        assert float(field.input_value().replace(",", ".")) == value

        # now the record arrives but its answer is lost: saving again must not make a second one
        desk.page.unroute("**/records")

        def lose_answer(route: Any) -> None:
            route.fetch()
            route.abort()

        desk.page.route("**/records", lose_answer)
        desk.page.get_by_role("button", name="Save reading").click()
        until(desk.page, "() => document.querySelector('#readings .form-status-alarm') !== null")
        until(desk.page, "() => !document.querySelector('#readings button[type=submit]').disabled")
        desk.page.unroute("**/records")
        desk.page.get_by_role("button", name="Save reading").click()
        desk.wait_saved("#readings")
        new_record(session, held(desk), "readings")

    def test_a_corrected_reading_keeps_its_original_in_sight(
        self, desk: Desk, session: dict[str, Any]
    ) -> None:
        original = sample_ranges(session)[0]
        row = desk.page.locator(f"tr[data-reading-id='{original['id']}']")
        row.get_by_role("button", name="Correct").click()
        assert float(desk.page.input_value("#reading-value")) == original["value"]
        desk.page.fill("#reading-reason", "typing error")
        desk.page.get_by_role("button", name="Save correction").click()
        expect(desk.page.locator("#readings .form-status")).to_contain_text("Nothing is different")
        desk.page.fill("#reading-reason", "")
        desk.page.fill("#reading-value", str(original["value"] + 1))
        desk.page.get_by_role("button", name="Save correction").click()
        expect(desk.page.locator("#readings .form-status")).to_contain_text(
            "say in a few words why"
        )
        desk.page.fill("#reading-reason", "typing error")
        desk.page.fill("#reading-writer", "Kim")
        desk.page.get_by_role("button", name="Save correction").click()
        desk.wait_saved("#readings")

        record = new_record(session, held(desk), "readings")
        assert record["corrects"] == original["id"]
        assert record["value"] == original["value"] + 1
        assert (record["reason"], record["by"]) == ("typing error", "Kim")
        struck = desk.page.locator(f"tr.earlier-row[data-reading-id='{original['id']}'] s")
        expect(struck.nth(1)).to_contain_text(f"{original['value']:.0f}")

    def test_a_withdrawn_reading_stays_in_sight_and_can_be_restored(
        self, desk: Desk, session: dict[str, Any]
    ) -> None:
        original = sample_ranges(session)[1]
        row = desk.page.locator(f"tr[data-reading-id='{original['id']}']")
        row.get_by_role("button", name="Correct").click()
        desk.page.fill("#reading-reason", "no such display")
        desk.page.locator("#readings").get_by_role("button", name="Take it back").click()
        desk.wait_saved("#readings")
        between = held(desk)
        record = new_record(session, between, "readings")
        assert (record["corrects"], record["value"]) == (original["id"], None)
        expect(row).to_contain_text("taken back")

        row.get_by_role("button", name="Restore").click()
        desk.page.fill("#reading-reason", "it was there")
        desk.page.get_by_role("button", name="Restore it").click()
        desk.wait_saved("#readings")
        restored = new_record(between, held(desk), "readings")
        assert restored["corrects"] == record["id"]
        assert restored["value"] == original["value"]

    def test_an_event_from_the_film_is_added_at_a_typed_time(
        self, desk: Desk, session: dict[str, Any]
    ) -> None:
        result = desk.says(f"/sessions/{desk.full_run}/result")
        desk.turn_to("ladder")
        desk.page.locator("#event-kind").select_option("comfort_cut")
        desk.page.fill("#event-text", "climate off")
        desk.page.fill("#event-moment", "09:55:10")
        desk.page.fill("#event-exactness", "2")
        desk.page.get_by_role("button", name="Save event").click()
        desk.wait_saved("#ladder")
        record = new_record(session, held(desk), "events")
        assert (record["kind"], record["text"], record["device"]) == (
            "comfort_cut",
            "climate off",
            "desk",
        )
        day_ms = result["zero"]["t_ms"] // 86_400_000 * 86_400_000  # the sample's clock is UTC
        assert record["t_ms"] == day_ms + ((9 * 60 + 55) * 60 + 10) * 1000
        assert record["tap_delay_s"]["mean"] == 0
        assert record["tap_delay_s"]["sd"] == pytest.approx(2 / 1.96)
        expect(desk.row(record["id"])).to_contain_text("09:55:10")

    def test_a_film_time_gives_the_moment_that_the_camera_saw(
        self, desk: Desk, session: dict[str, Any]
    ) -> None:
        """Two marks of one camera: its clock runs 1 % slow, and the line between them knows."""
        (clock,) = (one for one in session["setup"]["devices"] if one["id"] == "phone-1")
        desk.turn_to("ladder")
        desk.page.locator("#event-kind").select_option("comfort_cut")
        desk.page.fill("#event-moment-film", "1:49,0")
        desk.page.get_by_role("button", name="Save event").click()
        desk.wait_saved("#ladder")
        made = new_record(session, held(desk), "events")
        assert (made["kind"], made["device"]) == ("comfort_cut", "desk")
        half_way_ms = session["events"][0]["t_ms"] + 200_000 + clock["clock_offset_ms"]
        assert made["t_ms"] == pytest.approx(half_way_ms, abs=60)

    def test_an_event_is_moved_to_the_cursor_and_keeps_its_first_place_in_the_history(
        self, desk: Desk, session: dict[str, Any]
    ) -> None:
        original = next(e for e in session["events"] if e["kind"] == "zero_range")
        desk.turn_to("ladder")
        desk.row(original["id"]).get_by_role("button", name="Correct").click()
        desk.page.fill("#event-reason", "tapped late")
        desk.page.get_by_role("button", name="Save correction").click()
        expect(desk.page.locator("#ladder .form-status")).to_contain_text("Nothing is different")
        other = next(e for e in session["events"] if e["kind"] == "power_limited")
        desk.row(other["id"]).locator(".row-button").click()
        desk.page.locator("#ladder").get_by_role("button", name="At cursor").click()
        desk.page.get_by_role("button", name="Save correction").click()
        desk.wait_saved("#ladder")
        moved = new_record(session, held(desk), "events")
        result = desk.says(f"/sessions/{desk.full_run}/result")
        entry = next(e for e in result["timeline"] if e["event_id"] == moved["id"])
        place = next(e for e in result["timeline"] if e["event_id"] == other["id"])
        assert entry["at_ms"]["value"] == pytest.approx(place["at_ms"]["value"], abs=2)
        desk.turn_to("history")
        change = desk.page.locator(".change", has_text="tapped late")
        change.wait_for()
        expect(change).to_contain_text("Corrected")

    def test_two_who_correct_the_same_event_see_both_and_choose(
        self, desk: Desk, session: dict[str, Any], class_console: ConsoleWatch
    ) -> None:
        class_console.allow("409")
        original = sample_warnings(session)[3]
        desk.turn_to("ladder")
        desk.row(original["id"]).get_by_role("button", name="Correct").click()
        desk.page.fill("#event-text", "mine")
        desk.page.fill("#event-reason", "heard it on film")
        theirs = {**original, "id": "theirs-1", "corrects": original["id"], "text": "theirs",
                  "by": "Robin", "reason": "wrote it down"}  # fmt: skip
        desk.send_events(desk.full_run, theirs)
        between = held(desk)
        desk.page.get_by_role("button", name="Save correction").click()
        conflict = desk.page.locator("#ladder .conflict")
        conflict.wait_for()
        for words in ("mine", "theirs", "Robin"):
            expect(conflict).to_contain_text(words)
        assert held(desk) == between, "a conflict stores nothing"
        conflict.get_by_role("button", name="Put mine in its place").click()
        desk.wait_saved("#ladder")
        mine = new_record(between, held(desk), "events")
        assert (mine["text"], mine["corrects"]) == ("mine", "theirs-1")

    def test_a_warning_is_put_into_a_class_by_a_correction_as_its_words_were_before(
        self, desk: Desk, session: dict[str, Any]
    ) -> None:
        first, second = sample_warnings(session)[:2]
        words = first["text"]
        desk.turn_to("ladder")
        desk.row(first["id"]).get_by_role("button", name="Correct").click()
        choice = desk.page.locator("#event-choice")
        expect(choice).to_have_value("charge_now")
        expect(desk.page.get_by_text("as these words were classed before")).to_be_visible()
        choice.select_option("charge_soon")
        desk.page.fill("#event-text", f"{words}!")  # whoever chose has the last word
        desk.page.fill("#event-text", words)
        expect(choice).to_have_value("charge_soon")
        desk.page.fill("#event-reason", "class of the warning")
        desk.page.get_by_role("button", name="Save correction").click()
        desk.wait_saved("#ladder")
        made = new_record(session, held(desk), "events")
        assert (made["class"], made["text"], made["corrects"]) == (
            "charge_soon",
            words,
            first["id"],
        )
        assert made["kind"] == "warning"
        expect(desk.row(made["id"])).to_contain_text(f"“{words}” (charge soon)")
        timeline = desk.says(f"/sessions/{desk.full_run}/result")["timeline"]
        classes = {e["event_id"]: e["class"] for e in timeline if e["kind"] == "warning"}
        assert (classes[made["id"]], classes[second["id"]]) == ("charge_soon", None)
        desk.turn_to("history")
        change = desk.page.locator(".change", has_text="class of the warning")
        change.wait_for()
        expect(change).to_contain_text("charge soon")

        # what else was said before comes in with one touch, and only that
        before = held(desk)
        timeline = desk.says(f"/sessions/{desk.full_run}/result")["timeline"]
        at_ms = next(e["at_ms"] for e in timeline if e["event_id"] == second["id"])
        desk.turn_to("ladder")
        desk.page.get_by_role("button", name="Put them into these classes").click()
        desk.page.locator(".class-offer .form-status-good").wait_for()
        made = new_record(before, held(desk), "events")
        assert (made["kind"], made["text"]) == ("warning", second["text"])
        assert (made["class"], made["corrects"]) == ("power_reduced", second["id"])
        timeline = desk.says(f"/sessions/{desk.full_run}/result")["timeline"]
        row = next(e for e in timeline if e["event_id"] == made["id"])
        assert row["class"] == "power_reduced"
        assert row["at_ms"]["value"] == pytest.approx(at_ms["value"], abs=2), "its moment stays"

    def test_a_corrected_event_keeps_its_tap_and_original_and_is_undone_in_the_history(
        self, desk: Desk, session: dict[str, Any]
    ) -> None:
        original = sample_warnings(session)[2]
        desk.turn_to("ladder")
        desk.row(original["id"]).get_by_role("button", name="Correct").click()
        desk.page.fill("#event-text", "read again on film: stop soon")
        desk.page.fill("#event-reason", "read again on film")
        desk.page.get_by_role("button", name="Save correction").click()
        desk.wait_saved("#ladder")

        record = new_record(session, held(desk), "events")
        assert record["corrects"] == original["id"]
        assert record["text"] == "read again on film: stop soon"
        assert record["tap_delay_s"] == original.get("tap_delay_s")
        expect(desk.row(record["id"])).to_contain_text("read again on film")
        expect(desk.row(original["id"])).to_be_hidden()
        desk.row(record["id"]).get_by_role("button", name="1 earlier version").click()
        expect(desk.row(original["id"])).to_be_visible()
        expect(desk.row(original["id"]).locator("s").first).to_contain_text(original["text"])

        # the history has the change, and takes it back by a new record
        between = held(desk)
        desk.turn_to("history")
        changes = desk.page.locator(".change")
        change = changes.filter(has_text="“read again on film”")
        for words in ("Corrected", original["text"], "stop soon"):
            expect(change).to_contain_text(words)
        change.get_by_role("button", name="Take back").click()
        desk.page.locator("#history .form-status-good").wait_for()
        undone = new_record(between, held(desk), "events")
        assert undone["text"] == original["text"]
        assert undone["t_ms"] == original["t_ms"]
        assert undone["device"] == original["device"]
        # what was undone can't be undone again from below, only its undoing from above
        expect(changes.nth(1)).to_contain_text("“read again on film”")
        expect(changes.nth(0).get_by_role("button", name="Take back")).to_have_count(1)
        expect(changes.nth(1).get_by_role("button", name="Take back")).to_have_count(0)

    def test_without_a_reading_that_stands_headline_and_timeline_say_what_is_missing(
        self, desk: Desk, session: dict[str, Any]
    ) -> None:
        energies = [r for r in session["readings"]
                    if r["quantity"] in ("trip_energy", "mean_consumption")]  # fmt: skip
        withdrawn = [
            {**r, "id": f"back-{i}", "device": "other", "value": None, "corrects": r["id"]}
            for i, r in enumerate(energies)
        ]
        request = urllib.request.Request(
            f"{desk.url}/api/sessions/{desk.full_run}/records",
            data=json.dumps({"device": "other", "readings": withdrawn}).encode(),
            headers={"Content-Type": "application/json"},
        )
        with urllib.request.urlopen(request, timeout=LONGEST_S) as answer:
            assert json.load(answer)["refused"] == []
        desk.open_session(desk.full_run)
        said = "Every energy reading was taken back: type the display’s trip energy below."
        expect(desk.page.locator("[data-figure=energy_kwh] .source")).to_have_text(said)
        expect(desk.page.locator("#timeline")).to_contain_text(said)

    def test_withdrawing_the_zero_takes_the_figures_that_stood_on_it(
        self, desk: Desk, session: dict[str, Any]
    ) -> None:
        before = desk.headline("distance_m")
        original = next(e for e in session["events"] if e["kind"] == "zero_soc")
        desk.turn_to("ladder")
        desk.row(original["id"]).get_by_role("button", name="Correct").click()
        desk.page.fill("#event-reason", "tapped by mistake")
        desk.page.locator("#ladder").get_by_role("button", name="Take it back").click()
        desk.wait_saved("#ladder")
        record = new_record(session, held(desk), "events")
        assert record["withdraws"] is True
        assert record["corrects"] == original["id"]
        expect(desk.row(original["id"])).to_contain_text("Taken back")
        assert desk.headline("distance_m") != before
