"""Where a recharge stands by its typed readings, and what the phone asks for next."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import javascript
import numpy as np
import pytest

from ebbline.measure.recharge.phases import find_phases
from ebbline.measure.recharge.shown import Shown

SAMPLES = Path(__file__).parents[2] / "sample_sessions"
MINUTE_MS = 60_000
STAND = """({ chargeOf, chargeWorth }, moments) => moments.map(([rows, now_ms, more]) => {
  const charge = chargeOf(rows, now_ms, more.start_pct);
  return { charge, worth: chargeWorth({ rows, now_ms, phase: "charging", along_m: 0, ...more }) };
})"""
WORDS = """({ startReadingAdvice, noteWords }, [standing, later]) => {
  const advice = startReadingAdvice();
  const at = (now_ms) => {
    const worth = advice.update({ ...standing, now_ms }, 10000);
    return worth && noteWords(worth, { distance: "km" });
  };
  const first = at(standing.now_ms);
  advice.decline();
  return [first, ...later.map(at)];
}"""


def record(t_min: float, **doc: Any) -> dict[str, Any]:
    kind = "reading" if "quantity" in doc else "event"
    name = f"{doc.get('quantity', doc.get('kind'))} at {t_min}"
    return {"id": name, "type": kind, "along_m": 0, "doc": {"t_ms": t_min * MINUTE_MS, **doc}}


def power(t_min: float, kw: float, resolution: float = 0.1, **more: Any) -> dict[str, Any]:
    return record(
        t_min, quantity="charge_power", value=kw, unit="kW", resolution=resolution, **more
    )


def energy(t_min: float, kwh: float) -> dict[str, Any]:
    return record(t_min, quantity="charge_energy", value=kwh, unit="kWh", resolution=0.1)


def soc(t_min: float, pct: int) -> dict[str, Any]:
    return record(t_min, kind="soc_step", value=pct, unit="%")


PLUG = record(0, kind="plug_in")
ZERO = record(-40, kind="zero_soc")


def stands(*moments: tuple[list[dict[str, Any]], float], **more: Any) -> list[Any]:
    """What the phone makes of records at a minute each: the charge, and what to note now."""
    facts = {"usable_kwh": 58, "start_pct": 5, **more}
    given = [[rows, now_min * MINUTE_MS, facts] for rows, now_min in moments]
    found: list[Any] = javascript.evaluate("capture/drive/recharge.js", STAND, given)
    return found


def states(*series: list[dict[str, Any]]) -> list[str]:
    found = stands(*(([PLUG, *rows], 60) for rows in series))
    return [one["charge"]["state"] for one in found]


# --- the state, from the typed readings alone --------------------------------------------------


def test_two_readings_that_agree_tell_a_level_and_one_tells_nothing() -> None:
    assert states(
        [],
        [power(1, 0.0)],
        [power(1, 1.6)],
        [power(1, 1.6), power(2, 1.6)],
        [power(1, 1.6), power(2, 1.7)],  # a step of the display
        [power(1, 72, 1), power(2, 75, 1)],  # a twentieth
        [power(1, 2, 1, about=True), power(2, 4, 1)],  # said roughly
    ) == ["none", "no_power", "unknown", "trickling", "trickling", "steady", "trickling"]


def test_a_rise_is_one_where_the_two_readings_lie_close_enough_to_have_seen_it() -> None:
    trickle = [power(1, 1.6), power(2, 1.6)]
    rise = [*trickle, power(3, 5.0)]
    assert states(
        rise,
        [*rise, power(3.5, 10.9)],
        [*rise, power(3.5, 10.9), power(4, 10.9)],
        [*trickle, power(9, 10.9)],  # nobody saw how it came there
        [power(1, 90, 1), power(2, 60, 1)],
    ) == ["ramping", "ramping", "steady", "unknown", "falling"]


def test_a_low_power_is_no_trickle_once_it_rose_or_lasts_longer_than_one() -> None:
    rose = [power(1, 0.5), power(2, 3.0), power(3, 3.0)]
    assert states(rose, [power(40, 3.6), power(41, 3.6)]) == ["steady", "steady"]


def test_the_plug_and_the_end_bound_it() -> None:
    before = [power(-5, 40, 1), power(-4, 40, 1)]
    ended = [PLUG, power(1, 11), power(2, 11), record(3, kind="charge_end")]
    again = [*ended, record(4, kind="charge_start")]
    early, late, on, never = stands(([*before, PLUG], 1), (ended, 50), (again, 4.5), ([ZERO], 5))
    assert early["charge"]["state"] == "none"
    assert (late["charge"]["state"], late["worth"]) == ("ended", None)
    assert on["charge"]["state"] == "steady"
    assert never == {"charge": None, "worth": None}


FAST = [(60, 2), (90, 2), (120, 2), (150, 3), (165, 15), (180, 40), (195, 60), (210, 72), (240, 72),
        (300, 71), (600, 70)]  # fmt: skip


def sample() -> list[tuple[float, float]]:
    """Seconds since the plug-in and power of the invented full run."""
    session = json.loads((SAMPLES / "full-run.ebbline.json").read_bytes())
    (plug,) = [one for one in session["events"] if one["kind"] == "plug_in"]
    found = [one for one in session["readings"] if one["quantity"] == "charge_power"]
    return [((one["t_ms"] - plug["t_ms"]) / 1000, one["value"]) for one in found]


@pytest.mark.parametrize(("series", "step_kw"), [(sample(), 0.1), (FAST, 1)])
def test_at_every_reading_the_phone_agrees_with_the_measuring_core(
    series: list[tuple[float, float]], step_kw: float
) -> None:
    """As far as each was recorded by then: the phone's trickle is the core's, and what the phone
    calls steady the core puts on the level past it.
    """
    rows = [power(t_s / 60, kw, step_kw) for t_s, kw in series]
    said_after = states(*(rows[: n + 1] for n in range(len(rows))))
    assert {"trickling", "ramping", "steady"} <= {*said_after}
    t_s, kw = np.array(series, dtype=float).T
    for n, said in enumerate(said_after, 1):
        shown = Shown(t_s[:n], kw[:n] - step_kw / 2, kw[:n] + step_kw / 2, 0 * kw[:n])
        core = find_phases(shown)
        if said == "trickling":
            assert core.trickle[n - 1], n
        if said == "steady":
            assert core.full[n - 1], n
        if said == "ramping":
            assert not core.trickle[n - 1], n


# --- what is worth noting next -----------------------------------------------------------------


def asked(rows: list[dict[str, Any]], *minutes: float, **more: Any) -> list[Any]:
    """The quantity to note at each minute, with the % to watch for; None where nothing is."""
    found = [one["worth"] for one in stands(*(([PLUG, *rows], at) for at in minutes), **more)]
    return [worth and (worth["quantity"], worth["value"]) for worth in found]


POWER = ("charge_power", None)


def test_the_first_power_is_asked_for_at_once_and_the_second_soon() -> None:
    assert asked([], 0.1) == [POWER]
    assert asked([power(1, 1.6)], 1.4, 1.6) == [None, POWER]


def test_a_trickle_is_looked_at_by_what_its_end_would_be_unsure_by() -> None:
    assert asked([power(1, 1.6), power(2, 1.6)], 2.9, 3.1) == [None, POWER]
    old = [power(10, 1.6), power(12, 1.6)]  # a quarter of twelve minutes
    assert asked(old, 14.9, 15.1) == [None, POWER]


def test_a_rise_is_looked_at_until_two_readings_agree() -> None:
    rise = [power(1, 1.6), power(2, 1.6), power(3, 5.0)]
    assert asked(rise, 3.4, 3.6) == [None, POWER]
    assert asked([*rise, power(3.6, 10.9), power(4, 10.9)], 6) == [None]


def test_a_steady_power_needs_nobody_until_the_energy_is_as_unsure_as_a_step_of_the_display() -> (
    None
):
    """A step of 1 % of 58 kWh leaves 0.167 kWh open (1/√12; JCGM 100:2008, F.2.2.1), and a
    charger holds 11 kW to a twentieth: as much has grown after 18.3 minutes.
    """
    held = [soc(3.9, 100), power(3, 5.0), power(3.5, 11.0), power(4, 11.0)]
    assert asked(held, 22, 22.5) == [None, POWER]
    counted = [*held, energy(4, 0.1)]
    assert asked(counted, 22, 22.5) == [None, ("charge_energy", None)]
    assert asked([*counted, energy(15, 2.1)], 32) == [None]


def test_each_planned_per_cent_is_announced_when_the_power_makes_it_due() -> None:
    """11 kW fills 1 % of 55 kWh in three minutes."""
    held = [soc(3, 1), power(3, 5.0), power(3.5, 11.0), power(4, 11.0)]
    assert asked(held, 13, 14, usable_kwh=55) == [None, ("soc", 5)]
    series = [[PLUG, ZERO], [PLUG, *held], [PLUG, *held, soc(15, 5)]]
    assert [one["charge"]["next_pct"] for one in stands(*((rows, 16) for rows in series))] == [
        1, 5, 10,
    ]  # fmt: skip
    (unplanned,) = stands((series[1], 16), start_pct=None)
    assert unplanned["charge"]["next_pct"] == 10


HOUR = """({ chargeWorth }, [rows, record]) => {
  const asked = [];
  for (let now_ms = 0; now_ms < 3.6e6; now_ms += 10000) {
    const worth = chargeWorth({ rows, now_ms, usable_kwh: 58, start_pct: 5 });
    if (!worth) continue;
    asked.push(now_ms / 60000);
    const min = now_ms / 60000;
    const kw = min < 5 ? 1.6 : min < 6 ? 8 : 11;
    const value = worth.value ?? (worth.quantity === "charge_power" ? kw : (kw * min) / 60);
    const doc = { t_ms: now_ms, quantity: worth.quantity, value, resolution: 0.1 };
    rows.push({ ...record, id: `${now_ms}`, doc });
  }
  return [asked, rows.filter(({ doc }) => doc.quantity === "soc").map(({ doc }) => doc.value)];
}"""


def test_an_hour_of_charging_asks_seldom_and_never_stops_asking() -> None:
    """A passenger who answers each time: five minutes of trickle, then 11 kW."""
    minutes, steps = javascript.evaluate(
        "capture/drive/recharge.js", HOUR, [[PLUG, ZERO], {"type": "reading", "along_m": 0}]
    )
    assert len(minutes) <= 16
    assert len([at for at in minutes if at > 10]) <= 6
    assert minutes[-1] > 40
    assert steps[:2] == [1, 5]


def test_it_says_why_and_a_refusal_holds_until_the_doubt_has_grown_by_half() -> None:
    rows = [PLUG, power(1, 1.6), power(2, 1.6)]
    standing = {"rows": rows, "phase": "charging", "along_m": 0, "usable_kwh": 58, "start_pct": 5,
                "now_ms": 4 * MINUTE_MS}  # fmt: skip
    first, declined, again = javascript.evaluate(
        "capture/drive/reading-advice.js", WORDS,
        [standing, [4.9 * MINUTE_MS, 5.1 * MINUTE_MS]],
    )  # fmt: skip
    assert first["main"] == "Enter: Charging power"
    assert first["rest"] == "Trickling 2:00 ago. Rising?"
    assert declined is None
    assert again["rest"] == "Trickling 3:06 ago. Rising?"
