"""Each device's fixes merged, and the clock of every device that recorded anything."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from ebbline.measure.time.clock import DeviceClock, find_parts
from ebbline.records.arrays import FloatArray
from ebbline.records.evidence import Breadcrumbs, Session
from ebbline.records.result import Finding
from ebbline.records.setup import Device


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
        findings.extend(_film_placed(clocks[name].device, alone=used == {name}))
        findings.extend(
            Finding(
                "doubt",
                "clock_set",
                f"The clock of {name} was set by "
                f"{(before.shift_ms - after.shift_ms) / 1000:+.1f} s during the session; later "
                f"times were shifted by {(after.shift_ms - before.shift_ms) / 1000:+.1f} s, so "
                f"that all are by the clock as it was at first.",
                f"breadcrumbs of {name}, seq {after.from_seq}",
            )
            for before, after in pairwise(parts)
        )
    return clocks, findings


def _film_placed(device: Device, *, alone: bool) -> list[Finding]:
    """What placed a film whose records counted from its first frame."""
    if device.first_frame_by is None:
        return []
    by = {
        "film_sync": f"the film sync marks that it shares with another device, to "
        f"{device.clock_offset_sd_ms / 1000:.1f} s (one standard deviation)",
        "started_at": "the start of the session, for want of a film sync mark that it shares with "
        "another device",
        "nothing": "no evidence: neither a shared film sync mark nor the session's start is known, "
        "and its day and hour are made up",
    }[device.first_frame_by]
    sure = device.first_frame_by == "film_sync" or (alone and device.first_frame_by != "nothing")
    return [
        Finding(
            "note" if sure else "doubt",
            "film_placed",
            f"The records of {device.label or device.id} count from its first frame; they were "
            f"placed by {by}.",
            f"device {device.id}",
        )
    ]


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
