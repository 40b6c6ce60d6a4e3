"""Finishing the evidence at the desk: new records only, and the figures follow."""

from __future__ import annotations

from typing import Any

import pytest
from browser.conftest import ConsoleWatch, until
from browser.desk.conftest import FULL_RUN, Desk, read_figure, text_of


@pytest.fixture
def session(desk: Desk) -> dict[str, Any]:
    """The full run is open on the desk; this is what the server holds of it."""
    assert desk.bring_in("full-run") == FULL_RUN
    desk.open_session(FULL_RUN)
    return held(desk)


def held(desk: Desk) -> dict[str, Any]:
    answer: dict[str, Any] = desk.says(f"/sessions/{FULL_RUN}")
    return answer


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
    result = desk.says(f"/sessions/{FULL_RUN}/result")
    return next(e for e in result["timeline"] if e["kind"] == result["reserve"]["ends_at"])


def width_of_energy(desk: Desk) -> float:
    energy = desk.says(f"/sessions/{FULL_RUN}/result")["reserve"]["energy_kwh"]
    return float(energy["high"] - energy["low"])


def fill_finer_reading(desk: Desk) -> tuple[int, float]:
    """Place the cursor at the end of the reserve and type a finer trip energy there.

    The value lies inside what the displays already allow, so it may only narrow the result.
    Answers with the moment and the value.
    """
    result = desk.says(f"/sessions/{FULL_RUN}/result")
    end = end_of_reserve(desk)
    reset = next(e for e in result["timeline"] if e["kind"] == "trip_reset")
    energy_kwh = end["energy_past_zero_kwh"]["value"] - reset["energy_past_zero_kwh"]["value"]
    desk.row(end["event_id"]).locator(".row-button").click()
    form = desk.page.locator("#readings .entry-form")
    form.locator("#reading-quantity").select_option("trip_energy")
    form.locator("#reading-value").fill(f"{energy_kwh:.3f}".replace(".", ","))
    form.locator("#reading-resolution").fill("0.001")
    form.get_by_role("button", name="At cursor").click()
    return round(end["at_ms"]["value"]), round(energy_kwh, 3)


def test_a_typed_reading_is_held_and_narrows_the_energy_on_the_page(
    desk: Desk, session: dict[str, Any]
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
    assert (record["value"], record["resolution"], record["rounding"]) == (value, 0.001, "nearest")
    assert record["t_ms"] == pytest.approx(at_ms, abs=1)
    assert record["corrects"] is None

    now_shown = desk.headline("energy_kwh")
    assert now_shown != shown_before
    after = read_figure(now_shown)
    assert width_of_energy(desk) < width_before
    reserve = desk.says(f"/sessions/{FULL_RUN}/result")["reserve"]["energy_kwh"]
    for end in ("value", "low", "high"):
        assert getattr(after, end) == pytest.approx(reserve[end], abs=after.last_digit * 0.501)
    assert desk.page.locator(f"tr[data-reading-id='{record['id']}']").count() == 1


def test_a_save_that_fails_loses_nothing_typed_and_repeats_nothing(
    desk: Desk, session: dict[str, Any], console: ConsoleWatch
) -> None:
    console.allow("ERR_FAILED")
    _, value = fill_finer_reading(desk)
    desk.page.route("**/records", lambda route: route.abort())
    desk.page.get_by_role("button", name="Save reading").click()
    status = desk.page.locator("#readings .form-status-alarm")
    status.wait_for()
    assert "What you typed is still here" in text_of(status)
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


@pytest.mark.parametrize(
    ("field", "text", "said"),
    [
        ("#reading-value", "6,4 kWh", "must be a number"),
        ("#reading-resolution", "0", "above zero"),
        ("#reading-moment", "25:00:00", "time of day"),
    ],
)
def test_nonsense_is_pointed_at_and_not_sent(
    desk: Desk, session: dict[str, Any], field: str, text: str, said: str
) -> None:
    fill_finer_reading(desk)
    desk.page.fill(field, text)
    desk.page.get_by_role("button", name="Save reading").click()
    assert said in text_of(desk.page.locator("#readings .form-status"))
    assert desk.page.get_attribute(field, "aria-invalid") == "true"
    assert desk.page.evaluate("document.activeElement.id") == field[1:]
    assert held(desk) == session


def test_a_corrected_reading_keeps_its_original_in_sight(
    desk: Desk, session: dict[str, Any]
) -> None:
    original = next(r for r in session["readings"] if r["quantity"] == "range_shown")
    row = desk.page.locator(f"tr[data-reading-id='{original['id']}']")
    row.get_by_role("button", name="Correct").click()
    assert float(desk.page.input_value("#reading-value")) == original["value"]
    desk.page.fill("#reading-value", str(original["value"] + 1))
    desk.page.get_by_role("button", name="Save correction").click()
    desk.wait_saved("#readings")

    record = new_record(session, held(desk), "readings")
    assert record["corrects"] == original["id"]
    assert record["value"] == original["value"] + 1
    struck = desk.page.locator(f"tr.earlier-row[data-reading-id='{original['id']}'] s")
    assert f"{original['value']:.0f}" in text_of(struck.nth(1))


def test_a_withdrawn_reading_stays_in_sight_and_can_be_restored(
    desk: Desk, session: dict[str, Any]
) -> None:
    original = next(r for r in session["readings"] if r["quantity"] == "range_shown")
    row = desk.page.locator(f"tr[data-reading-id='{original['id']}']")
    row.get_by_role("button", name="Correct").click()
    desk.page.locator("#readings").get_by_role("button", name="Withdraw it").click()
    desk.wait_saved("#readings")
    between = held(desk)
    record = new_record(session, between, "readings")
    assert (record["corrects"], record["value"]) == (original["id"], None)
    assert "withdrawn" in text_of(row)

    row.get_by_role("button", name="Restore").click()
    desk.page.get_by_role("button", name="Restore it").click()
    desk.wait_saved("#readings")
    restored = new_record(between, held(desk), "readings")
    assert restored["corrects"] == record["id"]
    assert restored["value"] == original["value"]


def test_a_corrected_event_keeps_its_tap_and_shows_the_original_on_demand(
    desk: Desk, session: dict[str, Any]
) -> None:
    original = next(e for e in session["events"] if e["kind"] == "warning")
    desk.row(original["id"]).get_by_role("button", name="Correct").click()
    desk.page.fill("#event-text", "read again on film: stop soon")
    desk.page.get_by_role("button", name="Save correction").click()
    desk.wait_saved("#ladder")

    record = new_record(session, held(desk), "events")
    assert record["corrects"] == original["id"]
    assert record["text"] == "read again on film: stop soon"
    assert record["tap_delay_s"] == original.get("tap_delay_s")
    assert "read again on film" in text_of(desk.row(record["id"]))
    assert desk.row(original["id"]).is_hidden()
    desk.row(record["id"]).get_by_role("button", name="1 earlier version").click()
    assert desk.row(original["id"]).is_visible()
    assert original["text"] in text_of(desk.row(original["id"]).locator("s").first)


def test_withdrawing_the_zero_takes_the_figures_that_stood_on_it(
    desk: Desk, session: dict[str, Any]
) -> None:
    before = desk.headline("distance_m")
    original = next(e for e in session["events"] if e["kind"] == "zero_soc")
    desk.row(original["id"]).get_by_role("button", name="Correct").click()
    desk.page.locator("#ladder").get_by_role("button", name="Withdraw it").click()
    desk.wait_saved("#ladder")
    record = new_record(session, held(desk), "events")
    assert record["withdraws"] is True
    assert record["corrects"] == original["id"]
    assert "Withdrawn" in text_of(desk.row(original["id"]))
    assert desk.headline("distance_m") != before


def test_an_event_from_the_film_is_added_at_a_typed_time(
    desk: Desk, session: dict[str, Any]
) -> None:
    result = desk.says(f"/sessions/{FULL_RUN}/result")
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
    assert "09:55:10" in text_of(desk.row(record["id"]))
