"""The phone and the passenger: taps, readings and fixes as they stand in a session file."""

from __future__ import annotations

import hashlib
import math
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from simulator import decimals
from simulator.course import FloatArray
from simulator.display import CHANGES_WITHIN_S, Display
from simulator.drive import Happening
from simulator.picture import drawn
from simulator.receiver import Fixes

_FRAMES_SD_S = 0.1  # how well a moment is found on a film, frame by frame
_PICTURE_SD_S = 0.3  # how far from its exposure a photo is stamped
_ROUGH_SD = 0.2  # how far beside the figure somebody rounds who says 'about', in its units
_NAMESPACE = uuid.UUID("8e0f6c8e-6f0b-5c8a-9c1f-2f4f6b1f3a77")


@dataclass(frozen=True, slots=True)
class Clock:
    """A device's clock: session time less its true offset, and settings while recording."""

    start_ms: int  # session time at the start of the recording
    offset_ms: float = 0.0  # to be added to a stamp, until the clock is set
    settings: tuple[tuple[float, float], ...] = ()  # (when, by how many ms)
    drift_ppm: float = 0.0  # how much too fast it runs
    tells_pages: bool = False  # whether records bear the load of the page, anew at each setting

    def stamp_ms(self, t_s: float) -> int:
        """What the device writes at a moment of the recording."""
        set_by = sum(by_ms for when_s, by_ms in self.settings if t_s >= when_s)
        ran_ms = 1000 * t_s * (1 + self.drift_ppm * 1e-6)
        return round(self.start_ms + ran_ms - self.offset_ms + set_by)

    def page(self, t_s: float) -> dict[str, str]:
        """The load of the recording page at a moment, as a record bears it."""
        if not self.tells_pages:
            return {}
        return {"page": f"page-{sum(t_s >= when_s for when_s, _ in self.settings)}"}


@dataclass(frozen=True, slots=True)
class Passenger:
    """How late taps are, truly; the session file's protocol may think otherwise."""

    delay_mean_s: float = 0.9
    delay_sd_s: float = 0.4
    film_sd_s: float = 1.2  # of a moment read from a film afterwards
    evenly_s: tuple[float, float] | None = None  # late by anything between, instead of a normal
    noting_s: tuple[float, float] | None = None  # a reading is noted this much after it was read

    def delay_s(self, rng: np.random.Generator) -> float:
        """One tap's lateness; nobody taps before seeing."""
        if self.evenly_s is not None:
            return float(rng.uniform(*self.evenly_s))
        return max(self.delay_mean_s + self.delay_sd_s * float(rng.standard_normal()), 0.15)

    def noted_after_s(self, rng: np.random.Generator) -> float:
        """How long a reading was carried in the head before the pad was opened."""
        return 0.0 if self.noting_s is None else float(rng.uniform(*self.noting_s))


@dataclass(slots=True)
class Notebook:
    """Collects events and readings, and keeps beside each the moment that it truly reports."""

    name: str
    display: Display
    clocks: dict[str, Clock]
    passenger: Passenger
    rng: np.random.Generator
    classes: Mapping[str, str] = field(default_factory=dict)  # of warnings, by the car's words
    events: list[dict[str, Any]] = field(default_factory=list)
    readings: list[dict[str, Any]] = field(default_factory=list)
    photos: list[dict[str, Any]] = field(default_factory=list)
    pictures: dict[str, bytes] = field(default_factory=dict)  # by SHA-256
    true_s: dict[str, float] = field(default_factory=dict)  # by event id
    shown_s: dict[str, float] = field(default_factory=dict)  # by reading id

    def tap(self, happening: Happening, device: str = "phone-1") -> dict[str, Any]:
        """The passenger taps what happened, late as ever."""
        tapped_s = happening.t_s + self.passenger.delay_s(self.rng)
        return self._note_event(happening, device, tapped_s, None)

    def see_on_film(self, happening: Happening, device: str) -> dict[str, Any]:
        """Somebody finds the moment on a film, to a few frames."""
        seen_s = happening.t_s + _FRAMES_SD_S * float(self.rng.standard_normal())
        return self._note_event(happening, device, seen_s, {"mean": 0.0, "sd": _FRAMES_SD_S})

    def look_up(self, event: dict[str, Any], device: str) -> None:
        """Somebody finds the moment of a tap on a film: a new event in its place."""
        seen = Happening(
            event["kind"], self.true_s.pop(event["id"]), event["value"], event["unit"],
            event["text"],
        )  # fmt: skip
        self.see_on_film(seen, device).update(corrects=event["id"], reason="read again on film")

    def _note_event(
        self,
        happening: Happening,
        device: str,
        noted_s: float,
        tap_delay_s: dict[str, float] | None,
    ) -> dict[str, Any]:
        event: dict[str, Any] = {
            "id": self._new_id("event", len(self.events)),
            "device": device,
            "t_ms": self.clocks[device].stamp_ms(noted_s),
            "kind": happening.kind,
            "text": happening.text,
            "value": happening.value,
            "unit": happening.unit,
            "tap_delay_s": tap_delay_s,
            "corrects": None,
            **self.clocks[device].page(noted_s),
        }
        if happening.text is not None and happening.text in self.classes:
            event["class"] = self.classes[happening.text]
        self.events.append(event)
        self.true_s[event["id"]] = happening.t_s
        return event

    def correct(self, event: dict[str, Any], **changes: Any) -> None:
        """A new event in place of an earlier one, at the same moment."""
        self.events.append(
            {
                **event,
                **changes,
                "id": self._new_id("event", len(self.events)),
                "corrects": event["id"],
            }
        )
        self.true_s[self.events[-1]["id"]] = self.true_s.pop(event["id"])

    def withdraw(self, event: dict[str, Any], after_s: float = 4.0) -> None:
        """Undo of a tap."""
        self.events.append(
            {
                **dict.fromkeys(event),
                "id": self._new_id("event", len(self.events)),
                "device": event["device"],
                "t_ms": event["t_ms"] + round(1000 * after_s),
                "kind": "note",
                "text": "withdrawn",
                "corrects": event["id"],
                "withdraws": True,
            }
        )
        del self.true_s[event["id"]]

    def read(self, quantity: str, t_s: float, device: str = "phone-1", source: str = "pad") -> None:
        """The passenger opens the pad, its stamp late as a tap, and types what was shown then."""
        late_s = self.passenger.delay_s(self.rng) + self.passenger.noted_after_s(self.rng)
        self._note(quantity, t_s, device, t_s + late_s, source)

    def read_from_film(self, quantity: str, t_s: float, device: str = "desk") -> None:
        """Typed at the desk afterwards, at the moment that the film seems to show."""
        seen_s = t_s + self.passenger.film_sd_s * float(self.rng.standard_normal())
        self._note(quantity, t_s, device, seen_s, "typed")

    def see_change(self, quantity: str, t_s: float, unseen_s: float, device: str) -> None:
        """A film shows a figure before and after it changed, and nothing for so long between.

        Where it went back meanwhile, as energy does in braking, nobody sees a change to note.
        """
        before_s = t_s - max(unseen_s * float(self.rng.random()), CHANGES_WITHIN_S)
        after_s = before_s + unseen_s
        before = self.display.show(quantity, before_s).value
        if self.display.show(quantity, after_s).value == before:
            return
        reading = self._note(quantity, after_s, device, before_s, "film")
        reading["from"] = before
        reading["t_to_ms"] = self.clocks[device].stamp_ms(after_s)
        self.shown_s[reading["id"]] = t_s

    def photograph(self, quantities: Sequence[str], t_s: float, device: str = "phone-1") -> None:
        """The passenger photographs the display; what it shows is typed from the picture."""
        picture = drawn({quantity: self.display.show(quantity, t_s) for quantity in quantities})
        sha256 = hashlib.sha256(picture).hexdigest()
        stamped_s = t_s + _PICTURE_SD_S * float(self.rng.standard_normal())
        self.pictures[sha256] = picture
        self.photos.append(
            {
                "sha256": sha256,
                "t_ms": self.clocks[device].stamp_ms(stamped_s),
                "device": device,
                "media_type": "image/png",
            }
        )
        for quantity in quantities:
            self._note(quantity, t_s, device, stamped_s, "typed")["photo"] = sha256

    def say_about(self, quantity: str, t_s: float, device: str = "phone-1") -> None:
        """The passenger says 'about so many' in whole units, and somebody types it so."""
        late_s = self.passenger.delay_s(self.rng) + self.passenger.noted_after_s(self.rng)
        reading = self._note(quantity, t_s, device, t_s + late_s, "typed")
        rough = reading["value"] + _ROUGH_SD * float(self.rng.standard_normal())
        reading |= {"value": float(max(round(rough), 0)), "resolution": None, "about": True}

    def _note(
        self, quantity: str, t_s: float, device: str, noted_s: float, source: str
    ) -> dict[str, Any]:
        shown = self.display.show(quantity, t_s)
        reading: dict[str, Any] = {
            "id": self._new_id("reading", len(self.readings)),
            "device": device,
            "t_ms": self.clocks[device].stamp_ms(noted_s),
            "quantity": quantity,
            "value": shown.value,
            "unit": shown.unit,
            "resolution": shown.resolution,
            "rounding": shown.rounding,
            "source": source,
            "photo": None,
            "corrects": None,
            **self.clocks[device].page(noted_s),
        }
        self.readings.append(reading)
        self.shown_s[reading["id"]] = t_s
        return reading

    def _new_id(self, kind: str, number: int) -> str:
        return str(uuid.uuid5(_NAMESPACE, f"{self.name}/{kind}/{number}"))


def session_id(name: str) -> str:
    """The id of an invented session, the same each time."""
    return str(uuid.uuid5(_NAMESPACE, name))


def breadcrumbs(fixes: Fixes, clock: Clock, device: str) -> list[dict[str, Any]]:
    """Fixes as columns; a new entry begins where the clock was set or a fix came late."""
    stamps_ms = np.array([clock.stamp_ms(t_s) for t_s in fixes.t_s.tolist()])
    bounds = set(np.searchsorted(fixes.t_s, [when_s for when_s, _ in clock.settings]).tolist())
    bounds |= set((np.flatnonzero(np.diff(stamps_ms) < 0) + 1).tolist())
    entries = []
    for rows in np.split(np.arange(fixes.t_s.size), sorted(bounds)):
        t_ms = stamps_ms[rows].tolist()
        page = clock.page(float(fixes.t_s[rows[0]])) if rows.size else {}
        entries.append(
            {
                "device": device,
                "seq": rows.tolist(),
                "t_ms": t_ms,
                "lat": _rounded("lat", fixes.lat[rows]),
                "lon": _rounded("lon", fixes.lon[rows]),
                "accuracy_m": _rounded("accuracy_m", fixes.accuracy_m[rows]),
                "speed_mps": _rounded("speed_mps", fixes.speed_mps[rows]),
                "heading_deg": _rounded("heading_deg", fixes.heading_deg[rows] % 360),
                "altitude_m": [None] * rows.size,
                **{key: [name] * rows.size for key, name in page.items()},
            }
        )
    return entries


def _rounded(column: str, values: FloatArray) -> list[float | None]:
    to = decimals.FIXES[column]
    return [None if math.isnan(value) else round(value, to) for value in values.tolist()]
