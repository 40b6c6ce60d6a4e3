"""The balance of what came out of the pack below zero and what went back in."""

from __future__ import annotations

from ebbline.measure import quantity
from ebbline.measure.reserve.span import Span
from ebbline.measure.run import Run
from ebbline.measure.time.moments import Moment
from ebbline.records.result import Balance, Finding, Quantity, Recharge


def balance_of(
    run: Run, span: Span, recharge: Recharge | None
) -> tuple[Balance | None, list[Finding]]:
    """What was driven below 0 % against what was recharged below it; None without a recharge.

    Both count from the display's 0 %, whatever zero the protocol takes, to the last shut-off,
    whichever ends the reserve. What ran on after the
    drive, until the contactors opened, came out of the pack too: it counts in whether the two
    agree.
    """
    if recharge is None:
        return None, []
    zero, recharged = run.events.first("zero_soc"), recharge.below_zero_kwh
    end = span.ends.of_drive
    if zero is None or end is None or end.moment.t_s <= zero.moment.t_s:
        return Balance(None, recharged, None), []
    driven = quantity.not_negative(run.energy_between(zero.moment, [end.moment])[0])
    if driven is None or recharged is None:
        return Balance(driven, recharged, None), []
    agrees = quantity.overlap(_drawn_in_all(run, zero.moment, end.moment, driven), recharged)
    findings = []
    if not agrees:
        findings.append(
            Finding(
                "doubt",
                "balance_open",
                f"Driven below 0 %: {driven.value:.3f} kWh; put back below 0 %: "
                f"{recharged.value:.3f} kWh. The difference is more than both uncertainties "
                f"allow: check the charging efficiency, the first displayed charge, and what the "
                f"car used while parked.",
                "balance",
            )
        )
    return Balance(driven, recharged, agrees), findings


def _drawn_in_all(run: Run, zero: Moment, end: Moment, driven: Quantity) -> Quantity:
    """Energy from zero until the contactors opened after the end; that of the drive if unknown."""
    opened = run.events.first("contactors_open", end.t_s)
    if opened is None:
        return driven
    return run.energy_between(zero, [opened.moment])[0] or driven
