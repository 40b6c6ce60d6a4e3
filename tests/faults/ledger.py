"""What a passenger did and what the screen said of it."""

from __future__ import annotations

from dataclasses import dataclass, field

from ebbline.vocabulary import EVENTS, event_name, reading_name

KINDS_OF_KEY = {
    known.key.switch: tuple(
        kind for kind, other in EVENTS.items() if other.key.switch == known.key.switch
    )
    for known in EVENTS.values()
    if known.key.switch
}
NO_BREAK_SPACE = "\u00a0"
# How a line begins that names what undo takes back: after a tap, after a reload, while it listens.
NAMING = ("Stored", "Recording goes on", "Listening")


@dataclass(slots=True)
class Attempt:
    """One touch that should make a record."""

    kinds: tuple[str, ...]  # kinds of event it may become, or the reading's quantity
    names: tuple[str, ...]  # how the screen will call it, or the beginning of that
    mono_ms: int  # the touch by the page's clock, as it stands in the record
    load: float  # which load of the page
    value: float | None = None  # a reading's
    detail: str | None = None  # what was chosen for it, once the screen confirmed that
    state: str = "open"  # open, confirmed, in memory, refused


@dataclass(slots=True)
class Ledger:
    """Of one phone, over all its tabs and all loads of its page."""

    attempts: list[Attempt] = field(default_factory=list)
    pictures: list[str] = field(default_factory=list)  # SHA-256 of those said to be stored
    undo_touches: list[str] = field(default_factory=list)  # what each said it would take back
    undo_unnamed: list[str] = field(default_factory=list)  # those beside a line on something else
    undo_confirmed: int = 0
    unstored: int = 0  # how often the screen said NOT STORED
    said: list[str] = field(default_factory=list)

    def touched(self, key: str, mono_ms: int, load: float) -> None:
        """A key came under the finger."""
        kinds = KINDS_OF_KEY.get(key, (key,))
        names = tuple(event_name(kind) for kind in kinds)
        self.attempts.append(Attempt(kinds, names, mono_ms, load))

    def typed(self, quantity: str, value: float, mono_ms: int, load: float) -> None:
        """A figure is about to be stored."""
        name = f"{reading_name(quantity)} {value:g} "
        self.attempts.append(Attempt((quantity,), (name,), mono_ms, load, value))

    def undone(self, offered: str, line: str) -> None:
        """Undo came under the finger, by this name and beside this line."""
        name = offered.removeprefix("Undo: ")
        self.undo_touches.append(name.replace(NO_BREAK_SPACE, " "))
        if not (line.startswith(NAMING) and line.endswith(name)):
            self.undo_unnamed.append(f"{offered!r} beside {line!r}")

    def heard(self, said: str, load: float) -> None:
        """Take down what the status line of one load of the page says."""
        self.said.append(said)
        here = [one for one in self.attempts if one.load == load]
        if said.startswith("Undone"):
            self.undo_confirmed += 1
        elif said.startswith("Not recorded"):
            _last_open(here, "refused")
        elif said.startswith("NOT STORED"):
            self.unstored += 1
            _last_open(here, "in memory")
        elif said.startswith("All stored again"):
            for attempt in here:
                if attempt.state == "in memory":
                    attempt.state = "confirmed"
        elif said.startswith("Stored"):
            _confirm(here, said.partition("· ")[2].replace(NO_BREAK_SPACE, " "))

    def confirmed(self) -> list[Attempt]:
        return [one for one in self.attempts if one.state == "confirmed"]


def _last_open(attempts: list[Attempt], state: str) -> None:
    for attempt in reversed(attempts):
        if attempt.state == "open":
            attempt.state = state
            return


def _confirm(attempts: list[Attempt], said: str) -> None:
    matching = [
        (attempt, name) for attempt in attempts for name in attempt.names if said.startswith(name)
    ]
    for attempt, _ in matching:
        if attempt.state == "open":
            attempt.state = "confirmed"
            break
    if matching:
        attempt, name = matching[-1]
        rest = said.removeprefix(name).lstrip(": ")
        if rest and attempt.value is None:
            attempt.detail = rest
