"""Breadcrumbs made ready: one device's fixes in session time, doubles and clock jumps resolved.

Nothing is thrown away unsaid: everything left out is counted in a finding.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ebbline.measure.time.clock import DeviceClock
from ebbline.records.arrays import BoolArray, FloatArray, IntArray
from ebbline.records.evidence import Breadcrumbs, Exclusion
from ebbline.records.result import Finding

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
                f"{doubles} of {order.size} positions repeat another one and count once.",
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
                f"{np.count_nonzero(within)} positions of {device} are left out by choice{why}.",
                "excluded",
            )
        )
    return used, findings
