"""CSV logs of others: read by a stated mapping, row by row, or refused with line and column."""

from __future__ import annotations

import contextlib
import csv
import io
import zoneinfo
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from exchange.documents import a_document
from hypothesis import given, settings
from hypothesis import strategies as st

from ebbline.errors import InputError, TooLargeError
from ebbline.exchange import csv_table, session_file
from ebbline.exchange.csv_guess import guess
from ebbline.exchange.csv_mapping import to_mapping
from ebbline.exchange.csv_reading import read_csv
from ebbline.exchange.recording import MAX_RECORDING_BYTES, Origin, Recording

T0 = 1_772_460_000_000  # 2026-03-02T14:00:00Z
PLAIN: dict[str, Any] = {
    "delimiter": ",",
    "decimal": ".",
    "time": {"column": "t", "format": "iso8601"},
    "voltage": {"column": "u", "unit": "V"},
    "current": {"column": "i", "unit": "A", "discharge": "positive"},
}
ROWS = "t,u,i\n2026-03-02T14:00:00Z,350.5,20\n2026-03-02T14:00:01Z,350,-3.25\n"


def read(text: str | bytes, mapping: dict[str, Any], zone: str | None = None) -> Recording:
    data = text if isinstance(text, bytes) else text.encode()
    return read_csv(data, to_mapping(mapping, zone), Origin.of(data, "log.csv"))


def log_of(text: str | bytes, mapping: dict[str, Any], zone: str | None = None) -> dict[str, Any]:
    (log,) = read(text, mapping, zone).logs
    return log


def refusal(text: str | bytes, mapping: dict[str, Any], zone: str | None = None) -> InputError:
    with pytest.raises(InputError) as refused:
        read(text, mapping, zone)
    return refused.value


def test_a_log_is_read_as_its_mapping_says() -> None:
    log = log_of(ROWS, PLAIN)
    assert log["t_ms"] == [T0, T0 + 1000]
    assert log["voltage_v"] == [350.5, 350.0]
    assert log["current_a"] == [20.0, -3.25]
    assert "power_kw" not in log
    session_file.check_document({**a_document(), "logs": [log]})


@pytest.mark.parametrize(
    ("key", "value", "column", "expected"),
    [
        ("current", {"column": "i", "unit": "A", "discharge": "negative"}, "current_a",
         [-20, 3.25]),
        ("current", {"column": "i", "unit": "mA", "discharge": "positive"}, "current_a",
         [0.02, -0.00325]),
        ("power", {"column": "i", "unit": "W", "discharge": "positive"}, "power_kw",
         [0.02, -0.00325]),
        ("speed", {"column": "u", "unit": "km/h"}, "speed_mps", [350.5 / 3.6, 350 / 3.6]),
    ],
)  # fmt: skip
def test_units_and_signs_are_those_stated(
    key: str, value: dict[str, Any], column: str, expected: list[float]
) -> None:
    mapping = {"delimiter": ",", "decimal": ".", "time": PLAIN["time"], key: value}
    assert log_of(ROWS, mapping)[column] == pytest.approx(expected)


@pytest.mark.parametrize(
    ("time", "cells"),
    [
        ({"format": "epoch_s"}, ["1772460000", "1772460000.5"]),
        ({"format": "epoch_ms"}, ["1772460000000", "1772460000500"]),
        ({"format": "elapsed_s", "start": "2026-03-02T15:00:00+01:00"}, ["0", "0.5"]),
        ({"format": "elapsed_s", "start": "2026-03-02T15:00:00", "zone": "Europe/Vienna"},
         ["0", "5e-1"]),
        ({"format": "iso8601"}, ["2026-03-02T14:00:00Z", "2026-03-02T15:00:00.5+01:00"]),
        ({"format": "iso8601", "zone": "Europe/Vienna"},
         ["2026-03-02 15:00:00", "2026-03-02 15:00:00.500"]),
        ({"format": "%d.%m.%Y %H:%M:%S.%f", "zone": "UTC"},
         ["02.03.2026 14:00:00.0", "02.03.2026 14:00:00.5"]),
        ({"format": "%d/%b/%Y %H:%M:%S.%f %z"},
         ["02/Mar/2026 16:00:00.0 +0200", "02/Mar/2026 14:00:00.5 +0000"]),
    ],
)  # fmt: skip
def test_every_form_of_time_is_the_same_moment(time: dict[str, Any], cells: list[str]) -> None:
    mapping = {**PLAIN, "time": {"column": "t", **time}}
    text = "t,u,i\n" + "".join(f"{cell},350,20\n" for cell in cells)
    assert log_of(text, mapping)["t_ms"] == [T0, T0 + 500]


def test_date_and_time_of_day_may_stand_in_two_columns() -> None:
    time = {"column": "d", "clock_column": "c", "format": "%d.%m.%Y %H:%M:%S", "zone": "UTC"}
    text = "d,c,u,i\n02.03.2026,14:00:00,350,20\n"
    assert log_of(text, {**PLAIN, "time": time})["t_ms"] == [T0]


def test_a_zone_stated_apart_counts_and_two_zones_are_refused() -> None:
    text = "t,u,i\n2026-03-02 15:00:00,350,20\n"
    assert log_of(text, PLAIN, "Europe/Vienna")["t_ms"] == [T0]
    refused = refusal(text, PLAIN)
    assert refused.where == "mapping.time.zone"
    mapping = {**PLAIN, "time": {**PLAIN["time"], "zone": "UTC"}}
    assert refusal(text, mapping, "Europe/Vienna").where == "zone"


@pytest.mark.parametrize("local", ["2026-10-25 02:30:00", "2026-03-29 02:30:00"])
def test_an_hour_that_happens_twice_or_never_is_refused(local: str) -> None:
    refused = refusal(f"t,u,i\n{local},350,20\n", PLAIN, "Europe/Vienna")
    assert refused.where == "line 2, column 't'"
    assert "twice or never" in refused.problem


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("t,u,i\n2026-03-02T14:00:00Z,35O,20\n", "line 2, column 'u'"),
        ("t,u,i\n2026-03-02T14:00:00Z,350,20\n2026-03-02T14:00:01Z,350,1_0\n",
         "line 3, column 'i'"),
        ("t,u,i\n2026-03-02T14:00:00Z,350,nan\n", "line 2, column 'i'"),
        ("t,u,i\n2026-03-02T14:00:00Z,350,inf\n", "line 2, column 'i'"),
        ("t,u,i\n2026-03-02T14:00:00Z,350,1e999\n", "line 2, column 'i'"),
        ("t,u,i\n2026-03-02T14:00:00Z,-1,20\n", "line 2, column 'u'"),
        ("t,u,i\nyesterday,350,20\n", "line 2, column 't'"),
        ("t,u,i\n2026-02-30T14:00:00Z,350,20\n", "line 2, column 't'"),
        ("t,u,i\n1926-03-02T14:00:00Z,350,20\n", "line 2, column 't'"),
        ("t,u,i\n2026-03-02T14:00:01Z,350,20\n2026-03-02T14:00:00Z,350,20\n", "line 3, column 't'"),
        ("t,u,i\n2026-03-02T14:00:01Z,350,20\n2026-03-02T14:00:02,350,20\n", "line 3, column 't'"),
        ("t,u,i\n2026-03-02T14:00:01Z,350\n", "line 2"),
        ("t,u,i\n2026-03-02T14:00:01Z,350,20\n\n2026-03-02T14:00:02Z,350,20\n", "line 3"),
        ("t,u,i\n2026-03-02T14:00:01Z,350,20,7\n", "line 2"),
        ('t,u,i\n"2026-03-02T14:00:01Z,350,20\n', "line 2"),
        ('t,u,"i\n"\n2026-03-02T14:00:01Z,350,20\n2026-03-02T14:00:02Z,x,20\n',
         "line 4, column 'u'"),
        ("t,u,i\n", "line 2"),
        ("", "mapping.header_line"),
        ("t,u\n2026-03-02T14:00:01Z,350\n", "mapping.current.column"),
        ("t,u,i,i\n2026-03-02T14:00:01Z,350,1,2\n", "mapping.current.column"),
        (b"t,u,i\n2026-03-02T14:00:01Z,350,20\n\xff", "line 3"),
    ],
)  # fmt: skip
def test_a_row_that_cannot_be_read_is_refused_with_its_line(text: str | bytes, where: str) -> None:
    assert refusal(text, PLAIN).where == where


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ({"current": {"column": "i", "unit": "A"}}, "mapping.current.discharge"),
        ({"current": {"column": "i", "unit": "V", "discharge": "positive"}},
         "mapping.current.unit"),
        ({"voltage": {"column": "u", "unit": "V", "discharge": "positive"}},
         "mapping.voltage.discharge"),
        ({"voltage": {"column": "u"}}, "mapping.voltage.unit"),
        ({"voltage": {"column": "t", "unit": "V"}}, "mapping.voltage.column"),
        ({"voltage": {"column": 9, "unit": "V"}}, "mapping.voltage.column"),
        ({"voltage": {"column": 0, "unit": "V"}}, "mapping.voltage.column"),
        ({"lat": {"column": "u", "unit": "deg"}, "voltage": None}, "mapping.lon"),
        ({"time": None}, "mapping.time"),
        ({"time": {"column": "t", "format": "noon"}}, "mapping.time.format"),
        ({"time": {"column": "t", "format": "elapsed_s"}}, "mapping.time.start"),
        ({"time": {"column": "t", "format": "iso8601", "zone": "Mars/North"}}, "mapping.time.zone"),
        ({"time": {"column": "t", "format": "%Q", "zone": "UTC"}}, "mapping.time.format"),
        ({"delimiter": "|"}, "mapping.delimiter"),
        ({"volts": {}}, "mapping.volts"),
        ({"header_line": 2, "first_data_line": 2}, "mapping.first_data_line"),
        ({"voltage": None, "current": None}, "mapping"),
    ],
)  # fmt: skip
def test_a_mapping_that_leaves_something_open_is_refused(
    change: dict[str, Any], where: str
) -> None:
    assert refusal(ROWS, {**PLAIN, **change}).where == where


def test_a_point_where_a_comma_is_stated_is_no_number() -> None:
    mapping = {**PLAIN, "delimiter": ";", "decimal": ","}
    text = "t;u;i\n2026-03-02T14:00:00Z;350,5;1.234\n"
    assert refusal(text, mapping).where == "line 2, column 'i'"


def test_missing_values_are_null_and_only_the_texts_stated_are_missing() -> None:
    text = "t,u,i\n2026-03-02T14:00:00Z,,n/a\n"
    log = log_of(text, {**PLAIN, "missing": ["", "n/a"]})
    assert (log["voltage_v"], log["current_a"]) == ([None], [None])
    assert refusal(text, PLAIN).where == "line 2, column 'i'"
    assert refusal(text, {**PLAIN, "missing": ["n/a"]}).where == "line 2, column 'u'"


POSITIONS = {
    "delimiter": ",",
    "decimal": ".",
    "time": {"column": "t", "format": "epoch_ms"},
    "lat": {"column": "lat", "unit": "deg"},
    "lon": {"column": "lon", "unit": "deg"},
    "speed": {"column": "v", "unit": "m/s", "source": "receiver"},
}


def test_positions_become_fixes_and_rows_without_one_are_counted() -> None:
    text = f"t,lat,lon,v\n{T0},12,-38,5\n{T0 + 100},,,\n{T0 + 200},12.1,-38,\n"
    evidence = read(text, POSITIONS)
    (entry,) = evidence.breadcrumbs
    assert (entry["seq"], entry["t_ms"]) == ([0, 2], [T0, T0 + 200])
    assert (entry["lat"], entry["speed_mps"]) == ([12.0, 12.1], [5.0, None])
    assert evidence.logs == []
    assert evidence.notes == ["1 of 3 rows have no position."]


def test_a_cars_own_speed_is_logged_and_not_taken_for_the_receivers() -> None:
    mapping = {**POSITIONS, "speed": {"column": "v", "unit": "m/s"}}
    evidence = read(f"t,lat,lon,v\n{T0},12,-38,5\n", mapping)
    assert "speed_mps" not in evidence.breadcrumbs[0]
    assert evidence.logs[0]["speed_mps"] == [5.0]


@pytest.mark.parametrize(
    ("row", "where"),
    [
        ("91,-38,5", "line 2, column 'lat'"),
        ("12,181,5", "line 2, column 'lon'"),
        ("12,,5", "line 2, column 'lon'"),
        (",-38,5", "line 2, column 'lat'"),
        ("12,-38,-5", "line 2, column 'v'"),
    ],
)
def test_half_a_position_or_none_on_earth_is_refused(row: str, where: str) -> None:
    assert refusal(f"t,lat,lon,v\n{T0},{row}\n", POSITIONS).where == where


def test_columns_that_are_not_mapped_are_said() -> None:
    text = "t,u,i,inverter\n2026-03-02T14:00:00Z,350,20,5\n"
    assert read(text, PLAIN).notes == ["Not mapped, so not taken: inverter."]


def test_times_too_coarse_for_their_rows_are_said() -> None:
    text = "t,u,i\n" + "2026-03-02T14:00:00Z,350,20\n" * 3 + "2026-03-02T14:00:01Z,350,20\n"
    evidence = read(text, PLAIN)
    assert len(evidence.logs[0]["t_ms"]) == 4
    assert evidence.notes == ["2 of 4 rows have the time of the row above them."]


def test_too_many_bytes_and_too_many_rows_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(TooLargeError):
        read(b"t,u,i\n" + b"0,0,0\n" * (MAX_RECORDING_BYTES // 6), PLAIN)
    monkeypatch.setattr(csv_table, "MAX_ROWS", 1)
    with pytest.raises(TooLargeError, match="line 3"):
        read(ROWS, PLAIN)


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("tail", ["", "\n", "\n\n\n"])
def test_line_ends_and_blank_lines_at_the_end_are_no_offence(ending: str, tail: str) -> None:
    text = (ROWS.rstrip("\n") + tail).replace("\n", ending)
    assert log_of(text, PLAIN)["t_ms"] == [T0, T0 + 1000]


# --- one log, many dialects ---------------------------------------------------------------

_ZONES = ["Europe/Vienna", "America/St_Johns", "Asia/Kolkata", "UTC"]
_row = st.tuples(
    st.integers(0, 5000),  # milliseconds after the row above
    st.none() | st.decimals(0, 900, places=3),
    st.none() | st.decimals(-500, 500, places=2),
    st.none() | st.decimals(0, 100, places=1),
)


def _write(
    rows: list[tuple[datetime, Any, Any, Any]],
    delimiter: str,
    decimal: str,
    zone: str | None,
    sign: int,
    form: str,
    quoting: int,
) -> str:
    text = io.StringIO()
    writer = csv.writer(text, delimiter=delimiter, quoting=quoting)  # type: ignore[arg-type]
    writer.writerow(["time", "U", "I", "SoC, shown"])
    for moment, *values in rows:
        local = moment if zone is None else moment.astimezone(zoneinfo.ZoneInfo(zone))
        if form == "epoch_ms":
            stamp = str(round(moment.timestamp() * 1000))
        elif form == "iso8601":
            stamp = (local if zone is None else local.replace(tzinfo=None)).isoformat(" ")
        else:
            stamp = local.strftime(form)
        values[1] = None if values[1] is None else sign * values[1]
        writer.writerow(
            [stamp, *("" if v is None else str(v).replace(".", decimal) for v in values)]
        )
    return text.getvalue()


@pytest.mark.slow
@settings(max_examples=200)
@given(
    # Winter and summer, far from the hours in which clocks are changed.
    start=st.sampled_from(["2026-01-15T12:00:00+00:00", "2026-07-15T12:00:00+00:00"]),
    steps=st.lists(_row, min_size=1, max_size=8),
    delimiter=st.sampled_from([",", ";", "\t"]),
    decimal=st.sampled_from([".", ","]),
    zone=st.sampled_from([None, *_ZONES]),
    sign=st.sampled_from([1, -1]),
    form=st.sampled_from(["iso8601", "epoch_ms", "%d.%m.%Y %H:%M:%S.%f"]),
    quoting=st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
)
def test_one_log_in_any_dialect_gives_the_same_records(
    start: str,
    steps: list[tuple[int, Any, Any, Any]],
    delimiter: str,
    decimal: str,
    zone: str | None,
    sign: int,
    form: str,
    quoting: int,
) -> None:
    if "%" in form and zone is None:
        zone = "UTC"
    moment, rows = datetime.fromisoformat(start).astimezone(UTC), []
    for step_ms, *values in steps:
        moment += timedelta(milliseconds=step_ms)
        rows.append((moment, *values))
    text = _write(rows, delimiter, decimal, zone, sign, form, quoting)
    log = log_of(
        text,
        {
            "delimiter": delimiter,
            "decimal": decimal,
            "time": {"column": "time", "format": form, "zone": zone},
            "voltage": {"column": "U", "unit": "V"},
            "current": {
                "column": "I",
                "unit": "A",
                "discharge": "positive" if sign > 0 else "negative",
            },
            "soc": {"column": "SoC, shown", "unit": "%"},
        },
    )
    assert log["t_ms"] == [round(row[0].timestamp() * 1000) for row in rows]
    for k, column in enumerate(("voltage_v", "current_a", "soc_pct"), start=1):
        assert log[column] == [None if row[k] is None else float(row[k]) for row in rows]


# --- proposals ----------------------------------------------------------------------------


def test_a_proposal_reads_a_log_of_semicolons_and_decimal_commas() -> None:
    text = (
        "Zeit;Spannung [V];Strom [A];SoC [%];Temp\n"
        "02.03.2026 15:00:00;350,5;-20,1;4,0;9\n"
        "02.03.2026 15:00:01;350,1;-21;-;9\n"
    )
    proposed = guess(text.encode(), "Europe/Vienna")
    log = log_of(text, proposed.mapping)
    assert log["t_ms"] == [T0, T0 + 1000]
    assert log["voltage_v"] == [350.5, 350.1]
    assert log["current_a"] == [20.1, 21.0]
    assert log["soc_pct"] == [4.0, None]
    sure = {column["as"]: column["sure"] for column in proposed.columns}
    assert sure == {
        "time": "sure",
        "voltage": "sure",
        "current": "unsure",
        "soc": "sure",
        "": "unsure",
    }
    (sign,) = (point for point in proposed.open if "out of the pack" in point)
    assert sign.startswith("The sign of the current: do "), "in words, not by the mapping's keys"


def test_a_proposal_finds_a_header_below_other_lines() -> None:
    rows = "".join(f"{t_ms},12.5,-38.5,36\n" for t_ms in (T0, T0 + 99))
    text = f"recorder 5\n\ntimestamp_ms,lat,lon,speed_kmh\n{rows}"
    proposed = guess(text.encode())
    evidence = read(text, proposed.mapping)
    assert proposed.mapping["header_line"] == 3
    assert evidence.breadcrumbs[0]["t_ms"] == [T0, T0 + 99]
    assert evidence.logs[0]["speed_mps"] == pytest.approx([10.0, 10.0])


def test_a_proposal_leaves_open_what_only_the_user_can_say() -> None:
    local = guess(b"time,voltage\n2026-03-02 15:00:00,350\n2026-03-02 15:00:01,350\n")
    assert local.mapping["time"]["zone"] is None
    assert any("zone" in point for point in local.open)
    elapsed = guess(b"t_s,voltage\n0.0,350\n0.1,350\n")
    assert elapsed.mapping["time"]["format"] == "elapsed_s"
    assert elapsed.mapping["time"]["start"] is None
    assert any("start" in point for point in elapsed.open)


def test_a_day_that_may_be_a_month_is_unsure() -> None:
    def time_of(day: str) -> tuple[str, str]:
        rows = "".join(f"{day} 15:00:0{k},350\n" for k in range(2))
        proposed = guess(f"date,voltage\n{rows}".encode(), "UTC")
        (column,) = (c for c in proposed.columns if c["as"] == "time")
        return proposed.mapping["time"]["format"], column["sure"]

    assert time_of("02/03/2026") == ("%d/%m/%Y %H:%M:%S", "unsure")
    assert time_of("23/03/2026") == ("%d/%m/%Y %H:%M:%S", "sure")
    assert time_of("03/23/2026") == ("%m/%d/%Y %H:%M:%S", "sure")


@pytest.mark.parametrize(
    "data", [b"", b"\n\n", b"hello", b"a,b\n", b"a,b\nc,d\ne,f\n", b"\x00" * 99]
)
def test_what_is_no_table_gives_no_proposal(data: bytes) -> None:
    with pytest.raises(InputError, match=r"^line "):
        guess(data)


@settings(max_examples=300)
@given(
    st.binary(max_size=300)
    | st.text("0123456789,;.\t\n\"'abtuv:-/ Z", max_size=300).map(str.encode)
)
def test_no_bytes_raise_anything_but_a_refusal(data: bytes) -> None:
    with contextlib.suppress(InputError):
        proposed = guess(data, "UTC")
        read(data, proposed.mapping)
