"""The browser's rules against the table that the server's are held to as well."""

from __future__ import annotations

from typing import Any

import javascript
import pytest
from rules.cases import CREW, SHARED, STANDING, TICKS, ZERO, Case, event, name_of, protocol, reading

STAND = """({ standing }, cases) =>
  cases.map((records) => standing(records).map(({ id }) => id))"""

COUNT_FROM = """({ standing, zeroOf }, cases) => cases.map(({ events, protocol }) => {
  const zero = zeroOf(standing(events), protocol);
  return zero && { basis: zero.basis, t_ms: zero.t_ms };
})"""

# Each tap of a zero among those that came before it, as the phone asks when it is made.
AGAIN = """({ standing, sameZero }, cases) => cases.map(({ events }) => {
  const moment = (tap) => tap.t_ms - 1000 * (tap.tap_delay_s ?? 0);
  const taps = standing(events).sort((a, b) => moment(a) - moment(b));
  return taps.filter((tap, i) => sameZero(taps.slice(0, i), tap)).map(({ id }) => id);
})"""

PHASES = """({ standing, phaseOf }, cases) => cases.map(({ events, protocol }) => phaseOf(standing(
  events.map((doc) => ({ id: doc.id, type: "event", doc }))), protocol))"""

# What the phones p and q hold of their own records and of what they are told of the others'.
BESIDE = """({ createOthers }, cases) =>
cases.map(({ devices, events }) => ["p", "q"].map((device) => {
  const others = createOthers({ session: "s", device, alongAt: () => null });
  const isOwn = (one) => one.device === device;
  const told = events.filter((one) => !isOwn(one));
  others.take({ since: "0.0", until: "1.0", devices, events: told, readings: [] });
  return others.beside(events.filter(isOwn).map((doc) =>
    ({ id: doc.id, type: "event", doc, stored_ms: doc.t_ms })));
}))"""

OF_ROWS = """({ standing, zeroOf }, cases) =>
cases.map(({ held, protocol }) => held.map((rows) => ({
  stand: standing(rows).map(({ id }) => id).sort(), zero: zeroOf(standing(rows), protocol),
})))"""

TICKED = """({ tickedItems }, cases) => cases.map((events) => [...tickedItems(events)].sort())"""


def by_name(cases: list[Case], key: str) -> dict[str, Any]:
    return {case["name"]: case[key] for case in cases}


def answers(path: str, script: str, cases: list[Case], argument: object) -> dict[str, Any]:
    found = javascript.evaluate(path, script, argument)
    return dict(zip(map(name_of, cases), found, strict=True))


@pytest.mark.parametrize("written", [event, reading])
def test_the_same_records_stand(written: Any) -> None:
    records = [[written(one) for one in case["records"]] for case in STANDING]
    found = answers("shared/rules.js", STAND, STANDING, records)
    assert {name: sorted(ids) for name, ids in found.items()} == {
        name: sorted(ids) for name, ids in by_name(STANDING, "stand").items()
    }


@pytest.mark.parametrize(
    ("path", "script", "key"),
    [
        ("shared/rules.js", COUNT_FROM, "zero"),
        ("shared/rules.js", AGAIN, "again"),
        ("capture/records/evidence.js", PHASES, "phase"),
    ],
)
def test_the_same_follows_from_the_same_taps(path: str, script: str, key: str) -> None:
    prepared = [{**case, "protocol": protocol(case)} for case in ZERO]
    assert answers(path, script, ZERO, prepared) == by_name(ZERO, key)


def test_each_phone_of_a_crew_finds_the_same_by_its_own_clock() -> None:
    """A moment that the plan chose stays as it is said, in session time."""
    prepared = [{**case, "protocol": protocol(case)} for case in CREW]
    held = answers("capture/crew/others.js", BESIDE, CREW, prepared)
    prepared = [{**case, "held": held[case["name"]]} for case in prepared]
    found = answers("capture/records/evidence.js", OF_ROWS, CREW, prepared)
    for case in CREW:
        for device, one in zip(("p", "q"), found[case["name"]], strict=True):
            (offset_ms,) = (
                known.get("clock_offset_ms", 0)
                for known in case["devices"]
                if known["id"] == device
            )
            if one["zero"]["basis"] != "moment":
                one["zero"]["t_ms"] += offset_ms
            assert one == {"stand": case["stand"], "zero": case["zero"]}, (case["name"], device)


def test_the_same_items_are_ticked() -> None:
    found = answers("shared/facts.js", TICKED, TICKS, [case["events"] for case in TICKS])
    assert found == by_name(TICKS, "ticked")


def test_the_table_has_what_is_asked_of_it() -> None:
    assert set(SHARED) == {"what", "standing", "zero", "ticks", "crew"}
    for cases in (STANDING, ZERO):
        names = [name_of(case) for case in cases]
        assert len(names) == len(set(names)) > 10
