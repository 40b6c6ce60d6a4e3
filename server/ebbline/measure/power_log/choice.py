"""Which of several logs is used."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from ebbline.measure.power_log.curve import LogCurve, curve_of, session_s
from ebbline.measure.reserve.span import Span
from ebbline.measure.time.clock import DeviceClock
from ebbline.records.evidence import Exclusion, PowerLog
from ebbline.records.result import Finding


def choose_log(
    logs: tuple[PowerLog, ...],
    clocks: dict[str, DeviceClock],
    span: Span,
    excluded: tuple[Exclusion, ...] = (),
) -> tuple[LogCurve | None, list[Finding]]:
    """The log that covers most of the reserve (of the time, without one); the latest of equals.

    Rows that somebody chose to leave out are not used.
    """
    curves = []
    findings: list[Finding] = []
    for index, whole in enumerate(logs):
        log, said = _less_excluded(whole, clocks[whole.device], excluded)
        findings += said
        if log.t_ms.size == 0:
            continue
        curve = curve_of(log, clocks[log.device])
        if curve is None:
            findings.append(
                Finding(
                    "note",
                    "power_log_unusable",
                    f"The log of {log.device} holds no power, nor voltage and current together.",
                    f"logs[{index}]",
                )
            )
        else:
            curves.append(curve)
    if not curves:
        return None, findings

    def cover_s(curve: LogCurve) -> float:
        from_s = span.zero.t_s if span.zero else -math.inf
        to_s = span.end.moment.t_s if span.end and span.driven else math.inf
        return min(float(curve.t_s[-1]), to_s) - max(float(curve.t_s[0]), from_s)

    best = max(reversed(curves), key=cover_s)
    if len(curves) > 1:
        findings.append(
            Finding(
                "note",
                "power_log_chosen",
                f"{len(curves)} logs hold power; that of {best.device} is used: it covers most, or "
                f"as much as another and came later.",
                "logs",
            )
        )
    return best, findings + _gap_findings(best)


def _less_excluded(
    log: PowerLog, clock: DeviceClock, excluded: tuple[Exclusion, ...]
) -> tuple[PowerLog, list[Finding]]:
    """The log's rows that nobody chose to leave out, and how many somebody did."""
    out = np.zeros(log.t_ms.size, dtype=bool)
    at_ms = session_s(log, clock) * 1000
    for stretch in excluded:
        if stretch.device == log.device:
            out |= (at_ms >= stretch.from_ms) & (at_ms <= stretch.to_ms)
    if not np.any(out):
        return log, []
    columns = ("t_ms", "voltage_v", "current_a", "power_kw", "speed_mps", "soc_pct")
    kept = replace(log, **{name: getattr(log, name)[~out] for name in columns})
    return kept, [
        Finding(
            "note",
            "power_log_excluded",
            f"{np.count_nonzero(out)} of {out.size} rows of the log of {log.device} are left out "
            f"by choice.",
            "excluded",
        )
    ]


def _gap_findings(curve: LogCurve) -> list[Finding]:
    gaps = np.flatnonzero(curve.gap)
    if gaps.size == 0:
        return []
    lasting_s = np.diff(curve.t_s)[gaps]
    longest = gaps[int(np.argmax(lasting_s))]
    return [
        Finding(
            "doubt",
            "power_log_gaps",
            f"The log of {curve.device} has {gaps.size} gap{'s' if gaps.size > 1 else ''}, "
            f"{np.sum(lasting_s):.0f} s in all, the longest {np.max(lasting_s):.0f} s from "
            f"{curve.t_s[longest] * 1000:.0f} ms on; "
            f"they are bridged, and the interval is wider for it.",
            f"log of {curve.device}",
        )
    ]
