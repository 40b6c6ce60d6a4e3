import io

import numpy as np
import pandas as pd
from exchange.test_result_document import some_curves

from ebbline.exchange.curves_csv import curves_csv
from ebbline.records.curves import Band, Curves

EMPTY = np.array([])
NO_BAND = Band(EMPTY, EMPTY, EMPTY)


def test_every_point_is_a_row_and_reads_back_as_it_was():
    curves = some_curves(5, 3)
    table = pd.read_csv(io.StringIO(curves_csv(curves)))
    drive, recharge = table[table.part == "drive"], table[table.part == "recharge"]
    np.testing.assert_array_equal(drive.t_ms, curves.t_ms)
    np.testing.assert_array_equal(drive.speed_mps_low, curves.speed_mps.low)
    np.testing.assert_array_equal(drive.in_gap, curves.in_gap.astype(int))
    assert drive.past_zero_m.isna().all()
    np.testing.assert_array_equal(recharge.t_ms, curves.recharge_t_ms)
    np.testing.assert_array_equal(recharge.recharge_energy_kwh, curves.recharge_energy_kwh.value)
    assert drive.recharge_energy_kwh.isna().all()


def test_a_logs_curve_stands_below_the_others():
    curves = some_curves(5, 3, 4)
    table = pd.read_csv(io.StringIO(curves_csv(curves)))
    log = table[table.part == "log"]
    np.testing.assert_array_equal(log.t_ms, curves.log_t_ms)
    np.testing.assert_array_equal(log.log_energy_kwh_high, curves.log_energy_kwh.high)
    assert log.distance_m.isna().all()
    assert table.part.unique().tolist() == ["drive", "recharge", "log"]


def test_times_are_whole_milliseconds_and_unknown_is_empty():
    lines = curves_csv(some_curves(2, 1)).splitlines()
    header = lines[0].split(",")
    row = dict(zip(header, lines[2].split(","), strict=True))
    assert row["part"] == "drive"
    assert row["t_ms"] == "1000"
    assert row["past_zero_m"] == ""
    assert row["in_gap"] == "0"


def test_curves_without_points_give_the_heading_alone():
    times = np.array([], dtype=np.int64)
    curves = Curves(
        times, EMPTY, EMPTY, NO_BAND, NO_BAND, NO_BAND, NO_BAND,
        np.array([], dtype=bool), times, NO_BAND, NO_BAND,
    )  # fmt: skip
    assert len(curves_csv(curves).splitlines()) == 1
