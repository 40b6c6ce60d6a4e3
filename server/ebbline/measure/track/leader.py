"""From all devices' breadcrumbs to one track and clocks that agree with it.

A track that misses the drive is not used (``drive_match``). Of the others the one leads that best
bears out taps, trip readings and standstill; among equals one with shown speeds, then the one that
covers the most time. The clocks of others are put onto its track
(``alignment``), and their fixes fill its gaps where they can belong there (``same_car``).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ebbline.measure.naming import day_time, duration, length
from ebbline.measure.time.clock import DeviceClock
from ebbline.measure.track.alignment import align, disagreement
from ebbline.measure.track.drive_match import (
    DriveTold,
    clock_shift_s,
    common_way_m,
    match,
    misses,
    stood_all_the_while,
)
from ebbline.measure.track.fixes import Fixes, prepare
from ebbline.measure.track.gaps import gap_findings
from ebbline.measure.track.same_car import beside, in_reach, out_of_reach
from ebbline.measure.track.shown_speeds import believable
from ebbline.measure.track.track import Track, build
from ebbline.records.arrays import BoolArray, FloatArray
from ebbline.records.evidence import Breadcrumbs, Session
from ebbline.records.result import Finding

STEADY_STEP_S = 5.0  # fixes further apart than this don't count as covered time
_AS_GOOD = 0.25  # tracks this near to the best in what they bear out are as good
# Rough lengths of two tracks of one drive (common practice, no source).
_SAME_WAY_SHARE, _SAME_WAY_M = 0.05, 200.0
_MARGIN_S = 0.5  # a fix that fills a gap keeps so far from the leader's own


def track_of(
    session: Session,
    crumbs: dict[str, Breadcrumbs],
    clocks: dict[str, DeviceClock],
    told: DriveTold,
) -> tuple[tuple[Track | None, dict[str, DeviceClock]], list[Finding]]:
    """The session's track, and the clocks with what the tracks say of them.

    ``told`` is what taps and readings say of the drive. None with the reason when no device has two
    fixes of the drive.
    """
    prepared, findings = _prepared(session, crumbs, clocks)
    candidates = [fixes for fixes in prepared if not misses(fixes, told)]
    findings += [_misses_drive(fixes, told) for fixes in prepared if fixes not in candidates]
    if not candidates:
        return (None, clocks), findings
    leader = _leader_of(candidates, told)
    findings += _rivals(leader, candidates, told)
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
            fixes, said = believable(fixes)
            findings += said
            candidates.append(fixes)
    return candidates, findings


def _leader_of(candidates: list[Fixes], told: DriveTold) -> Fixes:
    """The device whose track is used; see the module's docstring."""
    shares = {fixes.device: match(fixes, told).share for fixes in candidates}
    best = max(shares.values())
    return max(
        (fixes for fixes in candidates if shares[fixes.device] >= best - _AS_GOOD), key=_worth
    )


def _worth(fixes: Fixes) -> tuple[bool, float, int, int]:
    """Whether it shows speeds, time covered, and with equal cover how many speeds and fixes."""
    step_s = np.diff(fixes.t_s)
    covered_s = float(np.sum(step_s[step_s <= STEADY_STEP_S]))
    speeds = int(np.sum(np.isfinite(fixes.speed_mps)))
    return fixes.have_speeds(), round(covered_s), speeds, fixes.t_s.size


def _rivals(leader: Fixes, candidates: list[Fixes], told: DriveTold) -> list[Finding]:
    """One finding for each track by which the drive would have another length."""
    findings = []
    for other in candidates:
        if other is leader:
            continue
        ours_m, theirs_m = common_way_m(leader, other, told)
        if abs(ours_m - theirs_m) > _SAME_WAY_SHARE * max(ours_m, theirs_m) + _SAME_WAY_M:
            findings.append(_another_length(leader.device, other.device, ours_m, theirs_m))
    return findings


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


def _misses_drive(fixes: Fixes, told: DriveTold) -> Finding:
    """Why a device's fixes are not used, with the clock's offset where it can be told."""
    shift_s = clock_shift_s(fixes, told)
    span = f"{day_time(fixes.t_s[0])} to {day_time(fixes.t_s[-1])}"
    drive = f"{day_time(told.at_s[0])} to {day_time(told.at_s[-1])}"
    missed = "stood meanwhile" if stood_all_the_while(fixes, told) else "misses the drive"
    message = (
        f"The track of {fixes.device} runs from {span}, the drive by its taps and readings "
        f"from {drive}: it {missed} and is not used."
    )
    if shift_s is not None:
        message += (
            f" It fits if its clock is {duration(abs(shift_s))} "
            f"{'behind' if shift_s > 0 else 'ahead'}, as one that writes local time as UTC: state "
            f"an offset of {shift_s:+.0f} s for {fixes.device} if that is so."
        )
    else:
        message += " If it is of another day, leave its positions out."
    return Finding("error", "track_misses_drive", message, f"breadcrumbs of {fixes.device}")


def _another_length(leader: str, other: str, ours_m: float, theirs_m: float) -> Finding:
    return Finding(
        "doubt",
        "tracks_differ",
        f"Over the same part of the drive the track of {leader} is about {length(ours_m)} long, "
        f"that of {other} {length(theirs_m)}. {leader} is used, as it bears out more of the taps "
        f"and trip readings, shows speeds, or covers more. If {other} is the right one, leave out "
        f"the positions of {leader}.",
        f"breadcrumbs of {leader} and {other}",
    )


def _chosen(leader: str, filled: dict[str, int]) -> Finding:
    used = [
        f"{count} positions of {device} fill its gaps" for device, count in filled.items() if count
    ]
    unused = [device for device, count in filled.items() if not count]
    said = [f"The track of {leader} is used", *used]
    if unused:
        said.append(f"not used: {', '.join(unused)}")
    return Finding("note", "track_chosen", "; ".join(said) + ".", "breadcrumbs")
