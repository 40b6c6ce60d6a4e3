"""The tables of a package: rows from session files, their results and the comparison."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from ebbline.campaigns.package.columns import Column, cells_of, columns_of, figure
from ebbline.exchange.drives import drive_of
from ebbline.exchange.plain import plain
from ebbline.records import comparison as of_campaign
from ebbline.records import result as of_session
from ebbline.sessions.results import columns as shared
from ebbline.sessions.results.headlines import HEADLINES, figures_of
from ebbline.vocabulary import FACTS

Row = Mapping[str, Any]

_FACT_TYPES = {"number": "number", "whole": "integer", "text": "string", "flag": "boolean"}
_ID = Column("session_id", "string", required=True)


@dataclass(frozen=True, slots=True)
class PackedSession:
    """One session: its file's document, and its result document where there is one."""

    document: Mapping[str, Any]
    result: Mapping[str, Any] | None


@dataclass(frozen=True, slots=True)
class Table:
    """One CSV file. ``points_to``: which columns name a row of which other table's column."""

    name: str
    title: str
    columns: Sequence[Column]
    rows: Sequence[Row]
    key: tuple[str, ...] = ()
    points_to: tuple[tuple[str, str, str], ...] = ()

    def csv(self) -> bytes:
        """The table in UTF-8 (RFC 4180), empty where nothing is known."""
        text = io.StringIO()
        writer = csv.writer(text)
        names = [column.name for column in self.columns]
        writer.writerow(names)
        writer.writerows([row.get(name) for name in names] for row in self.rows)
        return text.getvalue().encode()

    def schema(self) -> dict[str, Any]:
        """Its Table Schema."""
        schema: dict[str, Any] = {"fields": [column.field() for column in self.columns]}
        if self.key:
            schema["primaryKey"] = list(self.key)
        if self.points_to:
            schema["foreignKeys"] = [
                {"fields": [own], "reference": {"resource": other, "fields": [theirs]}}
                for own, other, theirs in self.points_to
            ]
        return schema | {"missingValues": [""]}


def tables_of(comparison: Mapping[str, Any], sessions: Sequence[PackedSession]) -> list[Table]:
    """Every table of a campaign.

    Args:
        comparison: its comparison document.
        sessions: what it looked at, those left out too; of one that is there twice the first.
    """
    first = {session.document["session"]["id"]: session for session in reversed(sessions)}
    sessions = [session for session in sessions
                if session is first[session.document["session"]["id"]]]  # fmt: skip
    of_one = [
        _timeline(sessions),
        _many("limits", "Full throttle: speeds that were reached and the power they take",
              of_session.Limit, sessions, lambda result: result["limits"], "from_ms"),
        _many("laps", "Laps", of_session.Lap, sessions, lambda result: result["laps"], "number"),
        _many("recharge", "The recharge of each session", of_session.Recharge, sessions,
              lambda result: [result["recharge"]] if result["recharge"] else []),
        _many("recharge_steps", "Energy taken in until the display first showed a charge",
              of_session.SocEnergy, sessions,
              lambda result: (result["recharge"] or {}).get("energy_to_soc", []), "soc_pct"),
        _many("pack_voltages", "The pack's voltage as shown", of_session.PackVoltage, sessions,
              lambda result: result["pack_voltage"]),
        _many("findings", "What a reader of the figures must know", of_session.Finding, sessions,
              lambda result: result["findings"]),
    ]  # fmt: skip
    return [_sessions(sessions), *of_one, *_compared(comparison, sessions)]


def _sessions(sessions: Sequence[PackedSession]) -> Table:
    said = [shared.facts(session.document) for session in sessions]
    names = sorted({name for of_one in said for name in of_one}, key=shared.place)
    columns = [
        _ID,
        *(Column(name, "string") for name in ("title", "started_at", "vehicle_label",
                                              "course_label", "outcome")),
        *(column for headline in HEADLINES for column in figure(headline.key)),
        *(Column(name, "integer" if name in ("doubts", "errors") else "string")
          for name in shared.OF_FIGURES),
        Column("engine", "string"),
        Column("input_sha256", "string", description="Of the session file that was analysed."),
        *(_fact(name) for name in names),
    ]  # fmt: skip
    rows = [_session(*pair) for pair in zip(sessions, said, strict=True)]
    return Table("sessions", "Sessions, their headline figures and conditions", columns, rows,
                 ("session_id",))  # fmt: skip


def _session(session: PackedSession, said: Row) -> Row:
    document, result = session.document, session.result
    own = document["session"]
    found = figures_of(result) if result else {}
    return {
        **said,
        **{name: found.get(name) for name in (*shared.OF_FIGURES, "outcome")},
        **dict(zip(shared.figure_names(), shared.figure_cells(found), strict=True)),
        "session_id": own["id"],
        "title": own.get("title"),
        "started_at": own.get("started_at"),
        "vehicle_label": (document.get("vehicle") or {}).get("label"),
        "course_label": (document.get("course") or {}).get("label"),
        "engine": result and result["engine"],
        "input_sha256": result and result["input_sha256"],
    }


def _fact(name: str) -> Column:
    row = FACTS.get(name)
    if row is None:
        return Column(name, "any")
    bounds = {"minimum": row.low, "maximum": row.high}
    kept = {word: bound for word, bound in bounds.items() if bound is not None}
    return Column(name, _FACT_TYPES[row.kind], unit=row.unit, description=row.name, bounds=kept)


def _many(
    name: str,
    title: str,
    record: type,
    sessions: Iterable[PackedSession],
    of_result: Callable[[Mapping[str, Any]], Iterable[Row]],
    *key: str,
) -> Table:
    """A table of what each session has some of."""
    rows = [
        {"session_id": session.document["session"]["id"], **cells_of(record, part)}
        for session in sessions
        if session.result
        for part in of_result(session.result)
    ]
    own_key = ("session_id", *key) if key or name == "recharge" else ()
    return Table(name, title, [_ID, *columns_of(record)], rows, own_key, _of_session())


def _timeline(sessions: Sequence[PackedSession]) -> Table:
    """The ladder's rungs among them, with the words that belong to each."""
    table = _many(
        "timeline", "Events of each drive, with what was left and how far past zero it was",
        of_session.TimelineEntry, sessions, lambda result: result["timeline"], "event_id",
    )  # fmt: skip
    said = {
        (session.document["session"]["id"], event["id"]): event.get("text")
        for session in sessions
        for event in session.document.get("events") or ()
    }
    rows = [{**row, "text": said.get((row["session_id"], row["event_id"]))} for row in table.rows]
    return replace(table, columns=[*table.columns, Column("text", "string")], rows=rows)


def _of_session(*columns: str) -> tuple[tuple[str, str, str], ...]:
    return tuple((column, "sessions", "session_id") for column in columns or ("session_id",))


def _compared(
    comparison: Mapping[str, Any], sessions: Sequence[PackedSession]
) -> list[Table]:  # fmt: skip
    model = comparison["reserve_model"]
    compared = {row["session_id"] for row in comparison["sessions"]}
    return [
        _plain("compared", "What the comparison takes of each session", of_campaign.ComparedSession,
               comparison["sessions"], ("session_id",), _of_session("session_id", "repeat_of")),
        _plain("left_out", "Sessions that are not compared, and why", of_campaign.LeftOut,
               comparison["left_out"], (), _of_session()),
        _plain("models", "Fixed amount or share of the pack: three models", of_campaign.Model,
               model["models"], ("name",)),
        _plain("without_car", "What would be said without one of the cars",
               of_campaign.WithoutCar, model["without"]),
        _plain("influences", "How the reserve goes with something else; nothing is adjusted by it",
               of_campaign.Influence, model["influences"]),
        _plain("warning_classes", "What was left at the first warning of a class, over cars",
               of_campaign.TrustInWarning, comparison["warnings"], ("class",)),
        _warnings(session for session in sessions
                  if session.document["session"]["id"] in compared),
        _repeats(comparison["repeats"]),
    ]  # fmt: skip


def _plain(
    name: str,
    title: str,
    record: type,
    found: Iterable[Row],
    key: tuple[str, ...] = (),
    points_to: tuple[tuple[str, str, str], ...] = (),
) -> Table:
    rows = [cells_of(record, part) for part in found]
    return Table(name, title, columns_of(record), rows, key, points_to)


def _warnings(sessions: Iterable[PackedSession]) -> Table:
    record = of_campaign.WarningShown
    rows = []
    for session in sessions:
        if session.result:
            drive = drive_of(session.document, session.result)
            rows += [{"session_id": drive.session_id, **cells_of(record, plain(shown, "warning"))}
                     for shown in drive.warnings]  # fmt: skip
    return Table(
        "warnings", "The first warning of each class in each session, and what was left at it",
        [_ID, *columns_of(record)], rows, ("session_id", "warning_class"),
        (*_of_session(), ("warning_class", "warning_classes", "class")),
    )  # fmt: skip


def _repeats(found: Iterable[Row]) -> Table:
    """A repeat's pairs are two columns each: the first session's, the later one's."""
    pairs = {"session_ids": "session_id", "software": "software"}
    kept = [column for column in columns_of(of_campaign.Repeat) if column.name not in pairs]
    of_pairs = [Column(f"{which}_{name}", "string", required=name == "session_id")
                for name in pairs.values() for which in ("first", "later")]  # fmt: skip
    rows = [
        {**cells_of(of_campaign.Repeat, repeat),
         **{f"{which}_{name}": value for key, name in pairs.items()
            for which, value in zip(("first", "later"), repeat[key], strict=True)}}
        for repeat in found
    ]  # fmt: skip
    return Table(
        "repeats", "Later sessions with a car against its first one: later less first",
        [*of_pairs, *kept], rows, ("later_session_id",),
        _of_session("first_session_id", "later_session_id"),
    )  # fmt: skip
