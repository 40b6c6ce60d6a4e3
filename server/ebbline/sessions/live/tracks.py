"""Fixes as they come in, one growing track per device, each fix read from the database once.

Every process may keep its own: it is what the database holds, and nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

import numpy as np
from sqlalchemy.orm import Session

from ebbline.measure import live
from ebbline.records.arrays import FloatArray
from ebbline.sessions.recently_used import RecentlyUsed
from ebbline.store import breadcrumbs

SESSIONS_KEPT = 8
COLUMNS = ("t_ms", "lat", "lon", "accuracy_m", "speed_mps")


@dataclass(slots=True)
class LiveTrack:
    """One device's fixes in order of their stamps; arrays of one length."""

    fixes: dict[str, FloatArray] = field(
        default_factory=lambda: {name: np.empty(0) for name in COLUMNS}
    )
    along_m: FloatArray = field(default_factory=lambda: np.empty(0))
    doubt_m: FloatArray = field(default_factory=lambda: np.empty(0))

    @property
    def count(self) -> int:
        """How many fixes."""
        return int(self.along_m.size)

    def add(self, entry: dict[str, Any]) -> None:
        """Take in a batch; one that is late goes where its stamps belong."""
        count = len(entry["t_ms"])
        new = {
            name: np.array(entry.get(name) or [None] * count, dtype=np.float64) for name in COLUMNS
        }
        held = self.count
        late = held > 0 and new["t_ms"][0] < self.fixes["t_ms"][-1]
        self.fixes = {name: np.concatenate([self.fixes[name], new[name]]) for name in COLUMNS}
        if late:
            order = np.argsort(self.fixes["t_ms"], kind="stable")
            self.fixes = {name: column[order] for name, column in self.fixes.items()}
            held = 0
        first = max(held - 1, 0)
        tail = {name: column[first:] for name, column in self.fixes.items()}
        steps_m, sds_m = live.steps_m(
            tail["t_ms"].astype(np.int64), tail["lat"], tail["lon"], tail["speed_mps"]
        )
        self.along_m = _added(self.along_m[:held], steps_m)
        self.doubt_m = _added(self.doubt_m[:held], sds_m)


class LiveTracks:
    """The tracks of the sessions that somebody follows, by device."""

    def __init__(self) -> None:
        self._followed = RecentlyUsed[UUID, tuple[int, dict[str, LiveTrack]]](SESSIONS_KEPT)

    def of(self, db_session: Session, session_id: UUID) -> dict[str, LiveTrack]:
        """Each device's track up to now."""

        def grown(
            held: tuple[int, dict[str, LiveTrack]] | None,
        ) -> tuple[int, dict[str, LiveTrack]]:
            position, tracks = held or (-1, {})
            for place, device, entry in breadcrumbs.after(db_session, session_id, position):
                tracks.setdefault(device, LiveTrack()).add(entry)
                position = place
            return position, tracks

        return self._followed.renew(session_id, grown)[1]


def _added(so_far: FloatArray, steps: FloatArray) -> FloatArray:
    """``so_far`` (its first value 0) with the sums of further steps behind it."""
    if so_far.size == 0:
        return np.concatenate([[0.0], np.cumsum(steps)])
    return np.concatenate([so_far, so_far[-1] + np.cumsum(steps)])
