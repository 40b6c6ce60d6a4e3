"""Breadcrumbs made ready: one device's fixes in session time, doubles and clock jumps resolved.

Nothing is thrown away unsaid: everything left out is counted in a finding.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from ebbline.measure.clock import DeviceClock, find_parts
from ebbline.records import (
    BoolArray,
    Breadcrumbs,
    Device,
    Exclusion,
    Finding,
    FloatArray,
    IntArray,
    Session,
)

RADIUS_95_TO_SIGMA = 2.447747  # sqrt(-2 ln 0.05), circular normal; W3C accuracy is a 95 % radius


@dataclass(frozen=True, slots=True, eq=False)
class Fixes:
    """One device's fixes, shape (n,), ``t_s`` strictly increasing seconds since the epoch.

    ``sigma_m`` is the receiver's own claim per axis, NaN when it made none.
    """

    device: str
    t_s: FloatArray
    lat: FloatArray
    lon: FloatArray
    sigma_m: FloatArray
    speed_mps: FloatArray
    heading_deg: FloatArray

    def have_speeds(self) -> bool:
        """Whether the receiver showed its speed more often than not."""
        return bool(np.mean(np.isfinite(self.speed_mps)) > 0.5)


def clocks_of(
    session: Session, crumbs: dict[str, Breadcrumbs]
) -> tuple[dict[str, DeviceClock], list[Finding]]:
    """The clock of every device that recorded anything, with the jumps its fixes show.

    ``crumbs`` are the session's by device (``merged``).
    """
    declared = {device.id: device for device in session.devices}
    clocks: dict[str, DeviceClock] = {}
    findings: list[Finding] = []
    used = {b.device for b in session.breadcrumbs}
    used |= {e.device for e in session.events} | {r.device for r in session.readings}
    used |= {log.device for log in session.logs}
    for name in sorted(used):
        parts = find_parts(crumbs[name]) if name in crumbs else ()
        clocks[name] = DeviceClock(declared.get(name, Device(name)), parts)
        findings.extend(
            Finding(
                "doubt",
                "clock_set",
                f"The clock of {name} was set by "
                f"{(before.shift_ms - after.shift_ms) / 1000:+.1f} s during the session; what "
                f"follows is put back onto the clock of the first part.",
                f"breadcrumbs of {name}, seq {after.from_seq}",
            )
            for before, after in pairwise(parts)
        )
    return clocks, findings


def merged(entries: Sequence[Breadcrumbs]) -> dict[str, Breadcrumbs]:
    """Each device's fixes in order of ``seq``, the same seq twice counting once.

    By name of device, in order; a device without fixes is not there.
    """
    by_device: dict[str, list[Breadcrumbs]] = {}
    for entry in entries:
        if entry.seq.size:
            by_device.setdefault(entry.device, []).append(entry)
    return {device: _joined(own) for device, own in sorted(by_device.items())}


def _joined(own: list[Breadcrumbs]) -> Breadcrumbs:
    seq, first = np.unique(np.concatenate([entry.seq for entry in own]), return_index=True)

    def column(name: str) -> FloatArray:
        return np.asarray(np.concatenate([getattr(entry, name) for entry in own])[first])

    return Breadcrumbs(
        device=own[0].device,
        seq=seq,
        t_ms=np.concatenate([entry.t_ms for entry in own])[first],
        lat=column("lat"),
        lon=column("lon"),
        accuracy_m=column("accuracy_m"),
        speed_mps=column("speed_mps"),
        heading_deg=column("heading_deg"),
        altitude_m=column("altitude_m"),
        page=np.concatenate([entry.page for entry in own])[first],
        mono_ms=column("mono_ms"),
    )


def prepare(
    crumbs: Breadcrumbs, clock: DeviceClock, excluded: tuple[Exclusion, ...] = ()
) -> tuple[Fixes, list[Finding]]:
    """Fixes of one device in session time, in order, each moment once, less those excluded."""
    session_ms = clock.session_ms(crumbs.t_ms, crumbs.seq)
    used, findings = _used(session_ms, crumbs.device, excluded)
    order = np.flatnonzero(used)[np.argsort(session_ms[used], kind="stable")]
    ordered_ms = session_ms[order]
    keep = np.ones(order.size, dtype=bool)
    keep[1:] = np.diff(ordered_ms) > 0
    # A frozen receiver repeats a whole fix under a new stamp while the car moves on.
    lat, lon = crumbs.lat[order], crumbs.lon[order]
    moving = np.nan_to_num(crumbs.speed_mps[order], nan=0.0) > 1.0
    keep[1:] &= ~((np.diff(lat) == 0) & (np.diff(lon) == 0) & moving[1:])
    kept: IntArray = order[keep]
    if doubles := int(order.size - kept.size):
        findings.append(
            Finding(
                "note",
                "repeated_fixes",
                f"{doubles} of {order.size} fixes repeat another one and count once.",
                f"breadcrumbs of {crumbs.device}",
            )
        )
    return (
        Fixes(
            device=crumbs.device,
            t_s=session_ms[kept] / 1000,
            lat=crumbs.lat[kept],
            lon=crumbs.lon[kept],
            sigma_m=crumbs.accuracy_m[kept] / RADIUS_95_TO_SIGMA,
            speed_mps=crumbs.speed_mps[kept],
            heading_deg=crumbs.heading_deg[kept],
        ),
        findings,
    )


def _used(
    session_ms: FloatArray, device: str, excluded: tuple[Exclusion, ...]
) -> tuple[BoolArray, list[Finding]]:
    """Which fixes (n,) somebody has not chosen to leave out, and how many they left out."""
    used = np.ones(session_ms.size, dtype=bool)
    findings = []
    for exclusion in excluded:
        if exclusion.device != device:
            continue
        within = (session_ms >= exclusion.from_ms) & (session_ms <= exclusion.to_ms)
        used &= ~within
        why = f" ({exclusion.reason})" if exclusion.reason else ""
        findings.append(
            Finding(
                "note",
                "fixes_excluded",
                f"{np.count_nonzero(within)} fixes of {device} are left out by choice{why}.",
                "excluded",
            )
        )
    return used, findings
