"""CSV logs in the words that loggers use: what is proposed of each layout.

Headers 1 to 9 are worded as logs and loggers' sources in public repositories word theirs (collected
by full-text search for 'Date,Time,Volt', 'Battery Voltage', 'Spannung [V]' and descriptions of
vehicle logs; products' names left out); 10 to 14 are ours, of the kinds that were proposed wrongly
before.
"""

from __future__ import annotations

from typing import Any

import pytest
from exchange.test_csv_reading import PLAIN, log_of, read, refusal

from ebbline.exchange.csv_guess import guess

T0 = 1_772_460_000_000  # 2026-03-02T14:00:00Z
ISO = [f"2026-03-02T14:00:0{k}Z" for k in range(3)]

# Each: the text, and which column (from 1) and unit should be proposed of each quantity.
LAYOUTS: dict[str, tuple[str, dict[str, tuple[int, str]], str]] = {
    "date and time apart, units in brackets": (
        "Date,Time,Voltage[V],Current[A],Power[W],Energy[Wh]\n"
        "2026-03-02,14:00:00,350.5,20.1,7045,1\n2026-03-02,14:00:01,350.1,21,7352,3\n",
        {"voltage": (3, "V"), "current": (4, "A"), "power": (5, "W")},
        "%Y-%m-%d %H:%M:%S",
    ),
    "small letters, units in round brackets": (
        "date,time,voltage,current (ma),soc (%),elapsed time (seconds)\n"
        "02/03/2026,14:00:00,350.5,20100,4.0,0\n23/03/2026,14:00:01,350.1,21000,4.0,1\n",
        {"voltage": (3, "V"), "current": (4, "mA"), "soc": (5, "%")},
        "%d/%m/%Y %H:%M:%S",
    ),
    "volts and amps": (
        "Date,Time,Volts,Amps\n2-Mar-26,14:00:00,350.5,20.1\n2-Mar-26,14:00:01,350.1,21\n",
        {"voltage": (3, "V"), "current": (4, "A")},
        "%d-%b-%y %H:%M:%S",
    ),
    "sums in capitals": (
        "TIME,CHARGE_STATUS,SPEED,SUM_MILE,SUM_VOLTAGE,SUM_CURRENT,SOC,MAX_CELL_VOLT,MIN_CELL_VOLT\n"
        "1772460000,3,71.5,12000,350.5,20.1,4,3.5,3.4\n"
        "1772460001,3,72.5,12000,350.1,21.0,4,3.5,3.4\n",
        {"voltage": (5, "V"), "current": (6, "A"), "speed": (3, "km/h"), "soc": (7, "%")},
        "epoch_s",
    ),
    "short names with units run on": (
        "t_s,soc_percent,voltage_mV,temp_dC\n0.0,4,350500,210\n1.0,4,350100,210\n",
        {"voltage": (3, "mV"), "soc": (2, "%")},
        "elapsed_s",
    ),
    "only units say it": (
        "t_ms,batt_V,batt_A,mark\n0,350.5,20.1,0\n1000,350.1,21.0,0\n",
        {"voltage": (2, "V"), "current": (3, "A")},
        "elapsed_ms",
    ),
    "position and pack": (
        "GPS Date & Time,GPS Speed (mph),Latitude,Longitude,Motor Controller Temp (C),"
        "Pack Voltage (V),Pack Current (A),State of Charge (%),Min Cell Voltage (V)\n"
        + "".join(
            f"{at},44.5,12.5,-38.5,40,350.5,20.1,4.0,3.41\n" for at in ISO
        ),
        {"voltage": (6, "V"), "current": (7, "A"), "soc": (8, "%"), "speed": (2, "mph"),
         "lat": (3, "deg"), "lon": (4, "deg")},
        "iso8601",
    ),
    "letters with units behind a stroke": (
        "Zeit / ms;U / V;I / A;P / kW\n0;350,5;20,1;7,045\n100;350,1;21,0;7,352\n",
        {"voltage": (2, "V"), "current": (3, "A"), "power": (4, "kW")},
        "elapsed_ms",
    ),
    "two words before the voltage": (
        "timestamp,HV Battery Pack Voltage,HV Battery Pack Current,Vehicle Speed [km/h],"
        "12V Battery Voltage,Motor Speed [rpm]\n"
        + "".join(f"{at},350.5,20.1,71.5,12.6,4000\n" for at in ISO),
        {"voltage": (2, "V"), "current": (3, "A"), "speed": (4, "km/h")},
        "iso8601",
    ),
    "German, run together": (
        "Zeitstempel;Zellspannung min;Batteriespannung;Batteriestrom;Fahrgeschwindigkeit;"
        "Ladezustand\n"
        "02.03.2026 14:00:00;3,41;350,5;-20,1;71,5;4,0\n"
        "02.03.2026 14:00:01;3,41;350,1;-21,0;72,5;4,0\n",
        {"voltage": (3, "V"), "current": (4, "A"), "speed": (5, "km/h"), "soc": (6, "%")},
        "%d.%m.%Y %H:%M:%S",
    ),
    "German day and time of day, a line of units": (
        "Datum;Uhrzeit;Gesamtspannung;Gesamtstrom;Leistung;Ladestand\n"
        ";;V;A;kW;%\n"
        "02.03.2026;14:00:00;350,5;20,1;7,045;4\n02.03.2026;14:00:01;350,1;21,0;7,352;4\n",
        {"voltage": (3, "V"), "current": (4, "A"), "power": (5, "kW"), "soc": (6, "%")},
        "%d.%m.%Y %H:%M:%S",
    ),
    "a clock of twelve hours": (
        "Time,PackVolt,PackCurr,VehSpeed_kph,DispSOC\n"
        "3/2/2026 2:00:00 PM,350.5,20.1,71.5,4\n3/22/2026 2:00:01 PM,350.1,21.0,72.5,4\n",
        {"voltage": (2, "V"), "current": (3, "A"), "speed": (4, "km/h"), "soc": (5, "%")},
        "%m/%d/%Y %I:%M:%S %p",
    ),
    "abbreviations": (
        "utc_ms,vbat,ibat,spd_mps,soc,lat,lng,alt\n"
        "1772460000000,350.5,20.1,19.9,4,12.5,-38.5,210\n"
        "1772460001000,350.1,21.0,20.1,4,12.5,-38.5,210\n",
        {"voltage": (2, "V"), "current": (3, "A"), "speed": (4, "m/s"), "soc": (5, "%"),
         "lat": (6, "deg"), "lon": (7, "deg"), "altitude": (8, "m")},
        "epoch_ms",
    ),
    "power alone, among others": (
        "Date (UTC);Heater power (W);Max. discharge power (kW);Battery power (kW)\n"
        + "".join(f"{at};900;50;7.0\n" for at in ISO),
        {"power": (4, "kW")},
        "iso8601",
    ),
}  # fmt: skip


def proposal(text: str) -> tuple[dict[str, tuple[int, str]], str | None, dict[str, Any]]:
    proposed = guess(text.encode(), "UTC")
    units = {use: told["unit"] for use, told in proposed.mapping.items()
             if isinstance(told, dict) and "unit" in told}  # fmt: skip
    found = {
        column["as"]: (column["number"], units[column["as"]])
        for column in proposed.columns
        if column["as"] in units
    }
    return found, proposed.mapping.get("time", {}).get("format"), proposed.mapping


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_layout_is_proposed_as_its_words_say(layout: str) -> None:
    text, expected, time = LAYOUTS[layout]
    found, form, mapping = proposal(text)
    assert found == expected
    assert form == time
    if "elapsed" in time:
        mapping["time"]["start"] = "2026-03-02T14:00:00Z"
    if "lat" in expected:
        assert read(text, mapping).breadcrumbs[0]["lat"][0] == 12.5
    log = log_of(text, mapping)
    assert log["t_ms"][0] == T0
    if "voltage" in expected:
        assert log["voltage_v"][:2] == pytest.approx([350.5, 350.1], abs=0.5)


def test_a_power_of_something_else_is_not_taken_for_the_packs() -> None:
    proposed = guess(b"time,motor power,heater power (W)\n1772460000,1,2\n1772460001,1,2\n")
    assert "power" not in proposed.mapping
    assert proposed.open[-1].startswith("No column of voltage, current, power")


def test_what_lacks_for_an_energy_is_said() -> None:
    proposed = guess(b"time,pack voltage,cell current\n1772460000,350,2\n1772460001,350,2\n")
    assert "No current was found; without it the log tells no energy." in proposed.open


def test_a_time_of_day_without_a_day_is_left_open() -> None:
    proposed = guess(b"Uhrzeit,Spannung\n14:00:00,350\n14:00:01,350\n")
    assert proposed.mapping["time"]["format"] is None
    assert any("'14:00:00'" in point for point in proposed.open)


@pytest.mark.parametrize(
    ("form", "said"), [("%m/%d/%Y %H:%M:%S %p", "%I"), ("%d.%m.%Y %I:%M", "%I goes with %p")]
)
def test_a_pattern_that_mixes_both_clocks_is_refused(form: str, said: str) -> None:
    time = {"column": "t", "format": form, "zone": "UTC"}
    refused = refusal("t,u,i\n3/2/2026 2:00:00 PM,1,1\n", {**PLAIN, "time": time})
    assert refused.where == "mapping.time.format"
    assert said in refused.problem
