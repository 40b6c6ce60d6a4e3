"""One line for whoever watched the car's own trip meter: what it showed, and why ours differs."""

from __future__ import annotations

from ebbline.records.evidence import Reading
from ebbline.records.result import Shown
from ebbline.report.figures import MINUS
from ebbline.report.subject import Subject
from ebbline.vocabulary import event_name, unit_name, zero_name

_OTHER_ZEROS = {"zero_range": "from_zero_range", "zero_soc": "from_zero_soc"}


def shown_line(subject: Subject) -> str:
    """The line beside the headline; empty where nobody noted the trip meter, or nothing is past
    zero.
    """
    shown, reserve = subject.result.shown, subject.result.reserve
    if shown is None or (reserve.distance_m is None and reserve.energy_kwh is None):
        return ""
    said = [f"At the end the car\u2019s own trip meter showed {_figures(subject, shown)}"]
    said.append(f"; {_reset(subject, shown)}." if shown.reset_after_zero_m else ".")
    said += [f" {_why(subject, shown)}", *_other_zero(subject)]
    return "".join(said)


def short_line(subject: Subject) -> str:
    """The same for a caption: what it showed, and how far after zero it was reset."""
    shown = subject.result.shown
    if shown is None:
        return ""
    reset = f", {_reset(subject, shown)}" if shown.reset_after_zero_m else ""
    return f"Trip meter: {_figures(subject, shown)}{reset}"


def _readings(subject: Subject, shown: Shown) -> list[Reading]:
    own = {reading.id: reading for reading in subject.readings}
    return [own[name] for name in shown.reading_ids if name in own]


def _figures(subject: Subject, shown: Shown) -> str:
    """As the display had them, in its own units."""
    said = []
    for reading in _readings(subject, shown):
        decimals = len(f"{reading.resolution or 0:g}".partition(".")[2])
        shown_value = (
            f"{reading.value:.{decimals}f}" if reading.resolution else f"{reading.value:g}"
        )
        about = "about " if reading.about else ""
        value = shown_value.replace("-", MINUS)
        said.append(f"{about}{value}\u00a0{unit_name(reading.unit)}")
    return " and ".join(said)


def _reset(subject: Subject, shown: Shown) -> str:
    after = shown.reset_after_zero_m
    assert after is not None
    word = "after" if after.value >= 0 else "before"
    way = subject.units.plain("distance", abs(after.value))
    return f"it was reset {way} {word} {_zero(subject.result.zero.basis)}"


def _zero(basis: str | None) -> str:
    name = zero_name(basis) or "zero"
    return name.lower() if basis == "moment" else f"\u201c{name}\u201d"


def _why(subject: Subject, shown: Shown) -> str:
    """What stands between its figures and ours."""
    result = subject.result
    end = event_name(result.reserve.ends_at or "").lower()
    said = f"Ours runs from {_zero(result.zero.basis)} to \u201c{end}\u201d"
    if shown.reset_after_zero_m is not None:
        said += "; the meter from its reset to where it was read"
    check = result.trip_check
    if check is not None:
        off_pct = (check.ratio.value - 1) * 100
        way = "more" if off_pct >= 0 else "less"
        said += f", and it counts {abs(off_pct):.2f}\u00a0% {way} than ours"
    return f"{said}."


def _other_zero(subject: Subject) -> list[str]:
    """What the same end is from the display's other zero."""
    reserve, units = subject.result.reserve, subject.units
    said = []
    for kind, field in _OTHER_ZEROS.items():
        other = getattr(reserve, field)
        if other is None:
            continue
        figures = [
            figure.text
            for figure in (
                units.figure("distance", other.distance_m),
                units.figure("energy", other.energy_kwh),
            )
            if figure is not None
        ]
        if figures:
            said.append(f" Counted from {_zero(kind)} it is {' and '.join(figures)}.")
    return said
