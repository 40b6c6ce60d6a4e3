"""From all devices' breadcrumbs to one track and clocks that agree with it.

The device whose fixes cover the most time leads. The clocks of others are put onto its track
(``alignment``), and their fixes fill its gaps where they can belong there (``same_car``).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ebbline.measure.time.clock import DeviceClock
from ebbline.measure.track.alignment import align, disagreement
from ebbline.measure.track.fixes import Fixes, prepare
from ebbline.measure.track.gaps import gap_findings
from ebbline.measure.track.same_car import beside, in_reach, out_of_reach
from ebbline.measure.track.track import Track, build
from ebbline.records import BoolArray, Breadcrumbs, Finding, FloatArray, Session

STEADY_STEP_S = 5.0  # fixes further apart than this don't count as covered time
_MARGIN_S = 0.5  # a fix that fills a gap keeps so far from the leader's own


def track_of(
    session: Session, crumbs: dict[str, Breadcrumbs], clocks: dict[str, DeviceClock]
) -> tuple[tuple[Track | None, dict[str, DeviceClock]], list[Finding]]:
    """The session's track, and the clocks with what the tracks say of them.

    None with the reason when no device has two fixes.
    """
    candidates, findings = _prepared(session, crumbs, clocks)
    if not candidates:
        findings.append(_no_track())
        return (None, clocks), findings
    leader = max(candidates, key=_cover)
    track = build(leader)
    filled: dict[str, int] = {}
    for other in candidates:
        if other.device == leader.device:
            continue
        clock, other, said = _aligned(other, track, clocks[other.device])
        findings += said
        clocks = {**clocks, other.device: clock}
        filled[other.device] = 0
        clock_s, apart = beside(other, track, leader, clock)
        if apart is not None:
            findings.append(apart)
            continue
        inside = _in_gaps(leader, other, track.gap)
        reached, off_m = in_reach(other, inside, track, leader, clock_s)
        if not np.all(reached[inside]):
            findings.append(out_of_reach(other, inside & ~reached, off_m, leader.device))
        filled[other.device] = int(np.count_nonzero(reached))
        if filled[other.device]:
            leader = _joined(leader, other, reached)
            track = build(leader)
    if filled:
        findings.append(_chosen(leader.device, filled))
    return (track, clocks), findings + gap_findings(track)


def _prepared(
    session: Session, crumbs: dict[str, Breadcrumbs], clocks: dict[str, DeviceClock]
) -> tuple[list[Fixes], list[Finding]]:
    """Every device's fixes that could make a track."""
    candidates = []
    findings: list[Finding] = []
    for device, own in crumbs.items():
        fixes, said = prepare(own, clocks[device], session.excluded)
        findings += said
        if fixes.t_s.size >= 2:
            candidates.append(fixes)
    return candidates, findings


def _cover(fixes: Fixes) -> tuple[float, int, int]:
    """Time covered; with equal cover, how many speeds and how many fixes."""
    step_s = np.diff(fixes.t_s)
    covered_s = float(np.sum(step_s[step_s <= STEADY_STEP_S]))
    return round(covered_s), int(np.sum(np.isfinite(fixes.speed_mps))), fixes.t_s.size


def _aligned(
    fixes: Fixes, leader: Track, clock: DeviceClock
) -> tuple[DeviceClock, Fixes, list[Finding]]:
    """Another device's clock and fixes, put onto the leader's track where that is called for."""
    found = align(fixes, leader)
    if found is None:
        return clock, fixes, []
    problem = disagreement(fixes.device, found, clock.sd_s)
    if problem is None:
        return clock, fixes, []
    moved = replace(fixes, t_s=fixes.t_s + found.correction.behind_s(fixes.t_s))
    return replace(clock, correction=found.correction), moved, [problem]


def _in_gaps(leader: Fixes, other: Fixes, gap: BoolArray) -> BoolArray:
    """Which of another's fixes (n,) lie in the leader's gaps."""
    leg = np.searchsorted(leader.t_s, other.t_s, side="right") - 1
    within = np.clip(leg, 0, leader.t_s.size - 2)
    inside = (leg == within) & gap[within] & (other.t_s > leader.t_s[within] + _MARGIN_S)
    return np.asarray(inside & (other.t_s < leader.t_s[within + 1] - _MARGIN_S))


def _joined(leader: Fixes, other: Fixes, chosen: BoolArray) -> Fixes:
    """The leader's fixes with those chosen (n,) of another put between them."""
    order = np.argsort(np.concatenate([leader.t_s, other.t_s[chosen]]), kind="stable")

    def both(name: str) -> FloatArray:
        joined = np.concatenate([getattr(leader, name), getattr(other, name)[chosen]])
        return np.asarray(joined[order])

    return Fixes(
        device=leader.device,
        t_s=both("t_s"),
        lat=both("lat"),
        lon=both("lon"),
        sigma_m=both("sigma_m"),
        speed_mps=both("speed_mps"),
        heading_deg=both("heading_deg"),
    )


def _no_track() -> Finding:
    return Finding(
        "error",
        "no_track",
        "No device recorded two positions, so there is no distance and no speed.",
        "breadcrumbs",
    )


def _chosen(leader: str, filled: dict[str, int]) -> Finding:
    used = [f"{count} fixes of {device} fill its gaps" for device, count in filled.items() if count]
    unused = [device for device, count in filled.items() if not count]
    said = [f"The track of {leader} covers the most time and is used", *used]
    if unused:
        said.append(f"not used: {', '.join(unused)}")
    return Finding("note", "track_chosen", "; ".join(said) + ".", "breadcrumbs")
