"""The typed view of a checked document, as the measuring core takes it."""

from __future__ import annotations

import math
from typing import Any

from ebbline.exchange.columns import to_breadcrumbs
from ebbline.exchange.logs import to_log
from ebbline.records.evidence import Event, Exclusion, Reading, Session
from ebbline.records.setup import (
    USUAL_TAP_DELAY,
    CheckedLap,
    Course,
    Delay,
    Device,
    Gate,
    Pack,
    Protocol,
    RoadLoad,
    Vehicle,
)
from ebbline.vocabulary import EVENTS


def to_session(document: dict[str, Any]) -> Session:
    """The records of a document that ``check_document`` has passed.

    Null and absent are None (NaN in columns); an event of a kind we don't know is a ``note``.
    """
    protocol = _protocol(_part(document, "protocol"))
    return Session(
        id=document["session"]["id"],
        title=document["session"].get("title"),
        vehicle=_vehicle(_part(document, "vehicle")),
        protocol=protocol,
        course=_course(_part(document, "course")),
        devices=tuple(_device(raw) for raw in document.get("devices") or ()),
        breadcrumbs=tuple(to_breadcrumbs(raw) for raw in document.get("breadcrumbs") or ()),
        events=tuple(_event(raw, protocol) for raw in document.get("events") or ()),
        readings=tuple(_reading(raw) for raw in document.get("readings") or ()),
        logs=tuple(to_log(raw) for raw in document.get("logs") or ()),
        excluded=tuple(
            Exclusion(raw["device"], raw["from_ms"], raw["to_ms"], raw.get("reason"))
            for raw in document.get("excluded") or ()
        ),
    )


def _part(raw: dict[str, Any], key: str) -> dict[str, Any]:
    part: dict[str, Any] | None = raw.get(key)
    return {} if part is None else part


def _vehicle(raw: dict[str, Any]) -> Vehicle:
    pack, load = _part(raw, "pack"), raw.get("road_load")
    return Vehicle(
        label=raw.get("label"),
        software=raw.get("software"),
        odometer_km=raw.get("odometer_km"),
        mass_kg=raw.get("mass_kg"),
        pack=Pack(pack.get("usable_kwh"), pack.get("series_cells"), pack.get("chemistry")),
        road_load=None
        if load is None
        else RoadLoad(
            load["a_n"], load["b_n_per_mps"], load["c_n_per_mps2"], load.get("driveline_efficiency")
        ),
    )


def _protocol(raw: dict[str, Any]) -> Protocol:
    band, delay = raw.get("speed_band_kmh"), raw.get("tap_delay_s")
    noted = raw.get("reading_delay_s")
    return Protocol(
        start_soc_pct=raw.get("start_soc_pct"),
        speed_band_kmh=None if band is None else (band[0], band[1]),
        tap_delay=None if delay is None else Delay(delay["mean"], delay["sd"]),
        reading_delay=None if noted is None else Delay(noted["mean"], noted["sd"]),
        zero_basis=raw.get("zero_basis"),
        zero_ms=raw.get("zero_ms"),
        reserve_end=raw.get("reserve_end"),
        which_end=raw.get("which_end"),
        charging_efficiency=raw.get("charging_efficiency"),
        held_speed_kmh=raw.get("held_speed_kmh"),
    )


def _course(raw: dict[str, Any]) -> Course:
    gate, checked = raw.get("gate"), raw.get("checked_lap")
    return Course(
        label=raw.get("label"),
        surveyed_lap_m=raw.get("surveyed_lap_m"),
        surveyed_lap_sd_m=raw.get("surveyed_lap_sd_m"),
        closed=raw.get("closed"),
        gate=None
        if gate is None
        else Gate(gate["lat"], gate["lon"], gate["heading_deg"], gate["half_width_m"]),
        checked_lap=None if checked is None else CheckedLap(checked["length_m"], checked["sd_m"]),
        full_throttle_grade_pct=raw.get("full_throttle_grade_pct"),
        full_throttle_grade_sd_pct=raw.get("full_throttle_grade_sd_pct"),
    )


def _device(raw: dict[str, Any]) -> Device:
    first = _part(raw, "first_frame")
    clock_sd_ms, first_sd_ms = raw.get("clock_offset_sd_ms") or 0.0, first.get("sd_ms") or 0.0
    return Device(
        id=raw["id"],
        label=raw.get("label"),
        clock_offset_ms=float(raw.get("clock_offset_ms") or 0.0),
        clock_offset_sd_ms=math.hypot(clock_sd_ms, first_sd_ms),
        first_frame_by=first.get("by"),
    )


def _event(raw: dict[str, Any], protocol: Protocol) -> Event:
    return Event(
        id=raw["id"],
        device=raw["device"],
        t_ms=raw["t_ms"],
        kind=raw["kind"] if raw["kind"] in EVENTS else "note",
        text=raw.get("text"),
        value=raw.get("value"),
        unit=raw.get("unit"),
        tap_delay=_tap_delay(raw.get("tap_delay_s"), protocol),
        corrects=raw.get("corrects"),
        withdraws=bool(raw.get("withdraws")),
        page=_page(raw),
        warning_class=raw.get("class") if raw["kind"] == "warning" else None,
    )


def _tap_delay(raw: Any, protocol: Protocol) -> Delay | None:
    if raw is None:
        return None
    if isinstance(raw, dict):
        return Delay(raw["mean"], raw["sd"])
    return Delay(raw, (protocol.tap_delay or USUAL_TAP_DELAY).sd_s)


def _reading(raw: dict[str, Any]) -> Reading:
    return Reading(
        id=raw["id"],
        device=raw["device"],
        t_ms=raw["t_ms"],
        quantity=raw["quantity"],
        value=raw.get("value"),
        unit=raw["unit"],
        resolution=raw.get("resolution"),
        rounding=raw.get("rounding") or "nearest",
        source=raw.get("source"),
        photo=raw.get("photo"),
        corrects=raw.get("corrects"),
        page=_page(raw),
        about=bool(raw.get("about")),
        changed_from=raw.get("from"),
        t_to_ms=raw.get("t_to_ms"),
    )


def _page(raw: dict[str, Any]) -> str | None:
    """The load of the page that made a record; a key of ours that anybody may write anything in."""
    page = raw.get("page")
    return page if isinstance(page, str) else None
