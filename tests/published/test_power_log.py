"""The power log against a battery simulation, which counts the energy it gives by itself.

PyBaMM (Sulzer et al. 2021, J. Open Res. Software 9(1):14), single particle model with the cell of
Chen et al. (2020), J. Electrochem. Soc. 167:080534: as in ``test_battery``.
"""

import csv
import io
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from lazily import lazily

from ebbline.exchange.csv_mapping import to_mapping
from ebbline.exchange.csv_reading import read_csv
from ebbline.exchange.logs import to_log
from ebbline.exchange.recording import Origin
from ebbline.measure.power_log.curve import curve_of
from ebbline.measure.time.clock import DeviceClock
from ebbline.measure.time.moments import Moment
from ebbline.records.setup import Device

pybamm = lazily("pybamm")

START = datetime(2026, 3, 2, 14, 0, 0, tzinfo=UTC)
IN_SERIES, SIDE_BY_SIDE = 96, 34


@pytest.fixture(scope="module")
def discharge():
    """1C from full to 2.5 V, every second: seconds, volts, amperes, and the package's own Wh."""
    model = pybamm.lithium_ion.SPM({"calculate discharge energy": "true"})
    simulation = pybamm.Simulation(
        model, parameter_values=pybamm.ParameterValues("Chen2020"), C_rate=1
    )
    solution = simulation.solve(np.linspace(0, 4200, 4201))
    return (
        solution["Time [s]"].entries,
        solution["Voltage [V]"].entries,
        solution["Current [A]"].entries,
        solution["Discharge energy [W.h]"].entries,
    )


def logged(discharge, every):
    """The pack's log as a recorder might write it: local time, semicolons, decimal commas, two
    and one decimals, discharge negative.
    """
    t_s, voltage_v, current_a, _ = discharge
    text = io.StringIO()
    writer = csv.writer(text, delimiter=";")
    writer.writerow(["Zeit", "Spannung [V]", "Strom [A]"])
    for k in range(0, t_s.size, every):
        local = START + timedelta(hours=1, seconds=float(t_s[k]))
        values = (
            f"{voltage_v[k] * IN_SERIES:.2f}", f"{-current_a[k] * SIDE_BY_SIDE:.1f}"
        )  # fmt: skip
        writer.writerow(
            [local.strftime("%d.%m.%Y %H:%M:%S.%f"), *(v.replace(".", ",") for v in values)]
        )
    data = text.getvalue().encode()
    mapping = to_mapping(
        {
            "delimiter": ";",
            "decimal": ",",
            "time": {"column": "Zeit", "format": "%d.%m.%Y %H:%M:%S.%f", "zone": "Europe/Vienna"},
            "voltage": {"column": "Spannung [V]", "unit": "V"},
            "current": {"column": "Strom [A]", "unit": "A", "discharge": "negative"},
        }
    )
    (log,) = read_csv(data, mapping, Origin.of(data, "pack.csv")).logs
    curve = curve_of(to_log(log), DeviceClock(Device(log["device"])))
    assert curve is not None
    return curve


@pytest.mark.parametrize("every", [1, 10, 60])
@pytest.mark.parametrize(("from_s", "to_s"), [(60, 3000), (2850, 3480)])
def test_a_log_written_by_a_recorder_gives_the_simulations_own_energy(
    discharge, every, from_s, to_s
):
    """To 2e-5 (the largest found is 7e-6), with two decimals of the voltage, one of the current."""
    t_s, *_, own_wh = discharge
    cells = IN_SERIES * SIDE_BY_SIDE
    truth_kwh = float(np.interp(to_s, t_s, own_wh) - np.interp(from_s, t_s, own_wh)) * cells / 1000
    zero, end = (Moment(START.timestamp() + at_s, 0.0) for at_s in (from_s, to_s))
    found = logged(discharge, every).between(zero, end)
    assert found is not None
    assert found.value == pytest.approx(truth_kwh, rel=2e-5)
    assert found.low <= truth_kwh <= found.high
    assert found.high - found.low < 0.05 * truth_kwh
