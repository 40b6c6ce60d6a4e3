"""A session's document and its result document to what a comparison takes of them."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from ebbline.exchange.facts import facts_of
from ebbline.exchange.view import to_session
from ebbline.measure import quantity
from ebbline.measure.display import shown_soc_pct
from ebbline.measure.standing import current_events, current_readings
from ebbline.records.comparison import Drive, Fact, WarningShown
from ebbline.records.evidence import Session
from ebbline.records.result import Quantity

# Headline figures by their place in the result document, in the order in which they are shown.
FIGURES = (
    "reserve.distance_m",
    "reserve.energy_kwh",
    "reserve.duration_s",
    "reserve.share_of_usable_pct",
    "consumption.past_zero_wh_per_km",
    "held_speed.last_held.past_zero_m",
    "held_speed.last_held.energy_past_zero_kwh",
    "held_speed.first_not_held.past_zero_m",
    "held_speed.first_not_held.energy_past_zero_kwh",
    "distance.total_m",
    "lap_check.ratio",
    "trip_check.ratio",
    "recharge.trickle_s",
    "recharge.trickle_kw",
    "recharge.trickle_kwh",
    "recharge.full_power_kw",
    "recharge.energy_in_kwh",
    "recharge.below_zero_kwh",
)
_STATED = ("vehicle", "conditions", "protocol", "course")
_PACK = ("measured", "measured_sd", "usable")
_NO_CLASS = "other"


def drive_of(document: Mapping[str, Any], result: Mapping[str, Any]) -> Drive:
    """What a comparison takes of one session.

    Args:
        document: the session file's; of it the session, what is stated, events and readings are
            read, so one without breadcrumbs, logs and photos does as well.
        result: its result document.
    """
    session = to_session({**document, "breadcrumbs": [], "logs": []})
    started_at = document["session"].get("started_at")
    label = session.vehicle.label
    reserve = result["reserve"]
    end_ms = _end_ms(result)
    facts = facts_of(document)  # with what a checklist's ticks say
    usable_kwh, measured = _usable(facts)
    return Drive(
        session_id=session.id,
        car=_car(document, label) or session.id,
        vehicle=label or session.title or session.id,
        started_at=started_at,
        started_ms=None
        if started_at is None
        else round(datetime.fromisoformat(started_at.upper()).timestamp() * 1000),
        usable_kwh=usable_kwh,
        pack_measured=measured,
        zero_basis=result["zero"]["basis"],
        reserve_end=reserve["ends_at"],
        shut_down_before_zero=reserve["shut_down_before_zero"],
        last_soc_pct=_last_soc(session, result, end_ms),
        reserves=_reserves(result),
        warnings=_warnings(document, result, end_ms),
        figures={
            place: found for place in FIGURES if (found := _figure(result, place)) is not None
        },
        facts={
            place: fact
            for part in _STATED
            for place, fact in _facts(part, document.get(part) or {}).items()
        }
        | facts,
    )


def _car(document: Mapping[str, Any], label: str | None) -> str | None:
    """What tells cars apart: the vehicle's own id where it has one, else its label as people type
    it.
    """
    stated = (document.get("vehicle") or {}).get("id")
    if isinstance(stated, str) and stated:
        return stated
    return " ".join(label.casefold().split()) if label else None


def _usable(facts: Mapping[str, Fact]) -> tuple[Quantity | None, bool]:
    """The pack's usable energy, kWh, and whether we measured it: our own measure goes before the
    maker's figure. Without a stated uncertainty either is known to its last digit.
    """
    measured, sd, stated = (facts.get(f"vehicle.pack.{name}_kwh") for name in _PACK)
    measured_kwh, sd_kwh, stated_kwh = (
        float(fact) if isinstance(fact, int | float) else 0.0 for fact in (measured, sd, stated)
    )
    if measured_kwh and sd_kwh:
        return quantity.normal(measured_kwh, sd_kwh, floor=0.0), True
    known_kwh = measured_kwh or stated_kwh
    if not known_kwh:
        return None, False
    digits = len(f"{known_kwh:g}".partition(".")[2])
    return quantity.rectangular(known_kwh, 0.5 * 10.0**-digits, 0.0), bool(measured_kwh)


def _end_ms(result: Mapping[str, Any]) -> float | None:
    ended_by = result["reserve"].get("end_event_id")
    ends = [entry for entry in result["timeline"] if entry["event_id"] == ended_by]
    return ends[0]["at_ms"]["value"] if ends else None


def _last_soc(session: Session, result: Mapping[str, Any], end_ms: float | None) -> float | None:
    """What the display showed last of the charge before the end."""
    at = {entry["event_id"]: entry["at_ms"]["value"] for entry in result["timeline"]}
    offsets = {device.id: device.clock_offset_ms for device in session.devices}
    steps = [
        (at[event.id], shown_soc_pct(event))
        for event in current_events(session.events)[0]
        if event.id in at
    ]
    read = [
        (reading.t_ms + offsets.get(reading.device, 0.0), reading.value)
        for reading in current_readings(session.readings)[0]
        if reading.quantity == "soc"
    ]
    shown = sorted(
        (at_ms, soc)
        for at_ms, soc in (*steps, *read)
        if soc is not None and (end_ms is None or at_ms <= end_ms)
    )
    return shown[-1][1] if shown else None


def _reserves(
    result: Mapping[str, Any],
) -> dict[str, tuple[Quantity | None, Quantity | None]]:
    """The reserve by each zero that the result counts it from."""
    reserve, basis = result["reserve"], result["zero"]["basis"]
    if basis is None or reserve["shut_down_before_zero"] or reserve["ends_at"] is None:
        return {}
    told = {"zero_range": "from_zero_range", "zero_soc": "from_zero_soc"}
    found = {zero: reserve[key] for zero, key in told.items() if reserve.get(key) and zero != basis}
    return {
        zero: (_quantity(part["distance_m"]), _quantity(part["energy_kwh"]))
        for zero, part in {basis: reserve, **found}.items()
    }


def _warnings(
    document: Mapping[str, Any], result: Mapping[str, Any], end_ms: float | None
) -> tuple[WarningShown, ...]:
    """The first warning of each class until the end; one without class is 'other'."""
    if end_ms is None:
        return ()
    raw = {event["id"]: event for event in document.get("events") or ()}
    found: dict[str, WarningShown] = {}
    for entry in sorted(result["timeline"], key=lambda entry: entry["at_ms"]["value"]):
        if entry["kind"] != "warning" or entry["at_ms"]["low"] > end_ms:
            continue
        said = raw.get(entry["event_id"], {})
        class_ = entry["class"] or _NO_CLASS
        if class_ not in found:
            found[class_] = WarningShown(
                class_,
                said.get("text"),
                _quantity(entry["left_m"]),
                _quantity(entry["left_kwh"]),
                _left_s(entry["at_ms"], end_ms),
            )
    return tuple(found.values())


def _left_s(at_ms: Mapping[str, float], end_ms: float) -> Quantity:
    """Seconds until the end, as unsure as the warning's moment."""
    left = ((end_ms - at_ms[end]) / 1000 for end in ("value", "high", "low"))
    return Quantity(*(max(part, 0.0) for part in left))


def _figure(result: Mapping[str, Any], place: str) -> Quantity | None:
    found: Any = result
    for key in place.split("."):
        if found is None:
            return None
        found = found.get(key)
    return _quantity(found)


def _quantity(raw: Mapping[str, float] | None) -> Quantity | None:
    return None if raw is None else Quantity(raw["value"], raw["low"], raw["high"])


def _facts(place: str, stated: Any) -> dict[str, Fact]:
    """Whatever is stated, by its place, in the document's order; places and lists of more than
    facts are gone through.
    """
    if stated is None or isinstance(stated, (str, int, float, bool)):
        return {} if stated is None else {place: stated}
    parts = stated.items() if isinstance(stated, Mapping) else enumerate(stated)
    return {
        inner: fact for key, part in parts for inner, fact in _facts(f"{place}.{key}", part).items()
    }
