import pytest
from javascript import evaluate

from ebbline.records.result import Bounds, Quantity
from ebbline.report.figures import (
    Consumption,
    Dimension,
    Units,
    decimals_for,
    decimals_said,
    number,
)


@pytest.mark.parametrize(
    ("half_width", "decimals"),
    [(0.02, 3), (0.2, 2), (0.03, 2), (0.35, 1), (1.5, 1), (3.0, 0), (40.0, 0), (0.0, 7)],
)
def test_digits_follow_the_interval(half_width: float, decimals: int):
    """JCGM 100:2008, 7.2.6: one or two digits of the uncertainty."""
    assert decimals_for(half_width, 7) == decimals


@pytest.mark.parametrize(("half_width", "decimals"), [(0.0195, 2), (0.3, 1), (4.0, 0), (0.0, 7)])
def test_a_figure_is_said_to_the_first_digit_of_its_doubt(half_width: float, decimals: int):
    assert decimals_said(half_width, 7) == decimals


def test_a_figure_is_shorter_than_the_ends_beside_it():
    reserve = Quantity(7901.16, 7881.64, 7920.68)
    assert Units().text("distance", reserve) == "7.90\u00a0km (7.882–7.921)"
    assert Units("mi").text("distance", reserve) == "4.91\u00a0mi (4.897–4.922)"


def test_a_mile_is_1609_344_m():
    """NIST SP 811, appendix B.8."""
    figure = Units("mi").figure("distance", Quantity(16093.44, 16093.44, 16093.44))
    assert figure is not None
    assert (figure.value, figure.unit, figure.interval) == ("10.00", "mi", "")


def test_speed_and_consumption_follow_the_distance():
    speed, use = Quantity(44.704, 44.4, 45.0), Quantity(100.0, 99.0, 101.0)
    assert Units("mi").text("speed", speed) == "100.0\u00a0mph (99.3–100.7)"
    assert Units("mi").text("consumption", use) == "161\u00a0Wh/mi (159.3–162.5)"
    assert Units("km").text("consumption", use) == "100\u00a0Wh/km (99.0–101.0)"


def test_durations_read_like_a_clock():
    minutes = Units().figure("duration", Quantity(582.0, 580.9, 583.1))
    assert minutes is not None
    assert minutes.text == "9:42\u00a0min:s (9:41–9:43)"
    hours = Units().figure("duration", Quantity(3725.0, 3600.0, 3850.0))
    assert hours is not None
    assert hours.text == "1:02:05\u00a0h:min:s (1:00:00–1:04:10)"


def test_what_is_not_known_is_said_so():
    assert Units().text("energy", None) == "not known"


def test_no_negative_zero_and_no_line_break_in_a_number():
    assert number(-0.001, 2) == "0.00"
    assert number(-1.5, 1) == "\u22121.5"
    assert number(72_000.0, 0) == "72\u202f000"


def test_a_factor_has_four_decimals_wherever_it_is_stated():
    """The findings state it so, see ``measure.trip_meter``; the desk by the same rule."""
    assert Units().text("ratio", Quantity(1.0075, 1.0031, 1.0119)) == "1.0075 (1.0031–1.0119)"
    assert Units().text("ratio", Quantity(1.00021, 1.00019, 1.00023)) == "1.00021 (1.00019–1.00023)"


def test_consumption_and_temperature_are_chosen_by_themselves():
    """International mile of 1609.344 m, NIST SP 811; the ends swap where energy divides."""
    use = Quantity(97.9, 95.0, 101.0)
    texts: dict[Consumption, str] = {
        "kWh/100km": "9.8\u00a0kWh/100\u00a0km (9.5–10.1)",
        "Wh/km": "98\u00a0Wh/km (95–101)",
        "km/kWh": "10.2\u00a0km/kWh (9.9–10.5)",
        "Wh/mi": "158\u00a0Wh/mi (153–163)",
        "mi/kWh": "6.3\u00a0mi/kWh (6.15–6.54)",
    }
    for unit, text in texts.items():
        assert Units("km", unit).text("consumption", use) == text
    assert Units().ambient(11.0) == "11 °C"
    assert Units(temperature="°F").ambient(11.0) == "52 °F"
    assert Units("mi").ambient(11.0) == "52 °F"
    assert Units("mi", temperature="°C").ambient(11.0) == "11 °C"


def test_a_figure_known_by_its_bounds_reads_alike_in_text_and_on_the_page():
    cases: list[tuple[Dimension, Bounds, str]] = [
        ("energy", Bounds(None, -1.234, -0.5), "\u22121.23 to \u22120.50\u00a0kWh"),
        ("energy", Bounds(None, None, 0.0), "at most 0.00\u00a0kWh"),
        ("distance", Bounds(None, 1609.344, None), "at least 1.00\u00a0mi"),
        ("percent", Bounds(None, -2.0, -1.0), "\u22122.0 to \u22121.0\u00a0%"),
        ("duration", Bounds(921.0, None, None), "15:21\u00a0min:s, no interval"),
        ("distance", Bounds(8046.72, None, None), "5.00\u00a0mi, no interval"),
        ("energy", Bounds(None, None, None), "not known"),
    ]
    mi = Units("mi")
    assert [mi.text(dimension, told) for dimension, told, _ in cases] == [one[2] for one in cases]
    asked = [[dimension, {"value": told.value, "low": told.low, "high": told.high}]
             for dimension, told, _ in cases]  # fmt: skip
    shown = evaluate(
        "desk/page/figure.js",
        """({ figureWords }, cases) => cases.map(([dimension, told]) => figureWords(dimension, told,
          { distance: "mi", consumption: "Wh/mi", temperature: "°C" }))""",
        asked,
    )
    assert shown == [one[2] for one in cases]
