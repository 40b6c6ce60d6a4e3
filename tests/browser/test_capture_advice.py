"""What the drive page advises: words to read to the driver, and figures worth noting now."""

from __future__ import annotations

import json
from typing import Any

import pytest
from browser.conftest import WATCH_TOO, Car, Phone, until
from playwright.sync_api import Page, expect

BUTTONS = """() => [
  ...document.querySelectorAll(".drive button:not(.advice-quiet)")
].map((node) => {
  const { x, y, width, height } = node.getBoundingClientRect();
  const top = document.elementFromPoint(x + width / 2, y + height / 2);
  return { what: node.dataset.key ?? node.textContent, box: [x, y, width, height],
           free: node.contains(top) };
})"""
SHIFTS = """() => {
  window.shifts = [];
  new PerformanceObserver((list) => {
    for (const entry of list.getEntries()) window.shifts.push(entry.value);
  }).observe({ type: "layout-shift" });
}"""


# --- the speed band --------------------------------------------------------------------------

DRIVE_ALONG = """async ([speeds, options]) => {
  const { startBandWatch } = await import("/capture/drive/speed-band.js");
  const watch = startBandWatch();
  return speeds.map((speed_kmh, i) => {
    if (options.hush_at === i) watch.hush();
    return watch.update({
      speed_mps: speed_kmh === null ? null : speed_kmh / 3.6, now_ms: i * 500,
      band_kmh: options.band === undefined ? [50, 90] : options.band,
      mayGoFaster: options.mayGoFaster ?? true,
    });
  });
}"""


def advised(modules: Page, speeds: list[float | None], **options: Any) -> list[str | None]:
    """What is said at each half second of a drive at these speeds in km/h; the band is 50 to 90."""
    said: list[str | None] = modules.evaluate(DRIVE_ALONG, [speeds, options])
    return said


def test_a_car_clearly_above_the_band_is_told_after_a_moment(modules: Page) -> None:
    said = advised(modules, [80, 97, 97, 97, 97, 97, 91, 90, 89])
    assert said == [None, None, None, None, "slower", "slower", "slower", None, None]


def test_a_speed_that_hovers_at_the_edge_says_nothing(modules: Page) -> None:
    assert set(advised(modules, [88, 91, 90, 91.5, 89, 91, 90.5, 91.9] * 5)) == {None}


def test_one_odd_fix_says_nothing(modules: Page) -> None:
    assert set(advised(modules, [80, 80, 140, 80, 80, 20, 80])) == {None}


def test_faster_is_for_a_car_that_was_in_the_band_since_it_last_stood(modules: Page) -> None:
    assert set(advised(modules, [0, 20, 30, 40, 40, 40, 40, 40])) == {None}
    assert advised(modules, [60, 40, 40, 40, 40, 40])[-1] == "faster"
    assert set(advised(modules, [60, 30, 5, 0, 0, 20, 30, 40, 40, 40, 40])) == {None}


def test_a_car_that_cannot_is_not_told_to_go_faster(modules: Page) -> None:
    assert set(advised(modules, [60, 40, 40, 40, 40, 40], mayGoFaster=False)) == {None}
    assert advised(modules, [60, 97, 97, 97, 97], mayGoFaster=False)[-1] == "slower"


def test_an_unknown_speed_and_an_unplanned_band_are_silent(modules: Page) -> None:
    assert advised(modules, [80, 97, 97, 97, 97, None, 97]) == [None] * 4 + ["slower", None, None]
    assert set(advised(modules, [97] * 8, band=None)) == {None}


def test_the_driver_hears_where_to_go_never_a_bare_speed(modules: Page) -> None:
    """In miles the band of 50 to 90 km/h is 31.07 to 55.92: who keeps to 55 stays in it."""
    said = modules.evaluate(
        """async () => {
          const { bandWords } = await import("/capture/drive/speed-band.js");
          const words = (distance, side, kmh) =>
            bandWords(side, kmh / 3.6, [50, 90], { distance }).main;
          return [words("km", "faster", 40), words("km", "slower", 97), words("mi", "faster", 40),
            words("mi", "slower", 97)];
        }"""
    )
    assert said == ["at least 50", "at most 90", "at least 31", "at most 55"]


def test_once_hushed_it_is_silent_until_the_car_was_in_the_band_again(modules: Page) -> None:
    said = advised(modules, [80, *[97] * 8, 80, *[97] * 5], hush_at=6)
    assert said[5] == "slower"
    assert set(said[6:10]) == {None}
    assert said[-1] == "slower"


# --- figures worth noting --------------------------------------------------------------------

WORTH = """async (standing) => {
  const { readingWorth } = await import("/capture/drive/reading-worth.js");
  const { noteWords } = await import("/capture/drive/reading-advice.js");
  const worth = readingWorth(standing);
  const units = { distance: "km", consumption: "kWh/100km", temperature: "°C" };
  return worth && { ...worth, words: noteWords(worth, units) };
}"""
MINUTE_MS = 60_000


def record(at_m: float, t_min: float = 0, **doc: Any) -> dict[str, Any]:
    """A standing record as the phone keeps it."""
    kind = "reading" if "quantity" in doc else "event"
    name = f"{doc.get('quantity', doc.get('kind'))} at {at_m}"
    return {"id": name, "type": kind, "along_m": at_m, "doc": {"t_ms": t_min * MINUTE_MS, **doc}}


def trip(at_m: float, kwh: float, t_min: float = 0) -> dict[str, Any]:
    return record(at_m, t_min, quantity="trip_energy", value=kwh, unit="kWh", resolution=0.1)


def worth(modules: Page, rows: list[dict[str, Any]], along_m: float, **more: Any) -> Any:
    standing = {"phase": "past", "now_ms": 10 * MINUTE_MS, "usable_kwh": 58, **more}
    return modules.evaluate(WORTH, {"rows": rows, "along_m": along_m, **standing})


def test_a_run_without_any_energy_figure_is_asked_for_one(modules: Page) -> None:
    assert worth(modules, [], 100) is None
    asked = worth(modules, [], 400)
    assert asked["words"]["main"] == "Enter: Trip energy"
    assert asked["words"]["rest"] == "None yet: no energy figure"


def test_a_figure_is_asked_for_when_the_road_has_doubled_the_variance(modules: Page) -> None:
    """Steps of 0.1 kWh leave 0.0289 kWh open (JCGM 100:2008, F.2.2.1); use strays by 35 % of
    0.17 kWh/km, so that as much has grown after 485 m, and both make 0.080 kWh at 95 %.
    """
    assert worth(modules, [trip(0, 12.4)], 480) is None
    asked = worth(modules, [trip(0, 12.4)], 490)
    assert (asked["quantity"], asked["since_m"]) == ("trip_energy", 490)
    assert asked["doubt_kwh"] == pytest.approx(1.96 * 0.0289 * 2**0.5, rel=0.01)
    assert asked["words"]["rest"] == "uncertain by ±0.08 kWh after 0.5 km"


def test_the_doubt_of_a_parked_car_does_not_grow(modules: Page) -> None:
    assert worth(modules, [trip(1000, 12.4)], 1000, now_ms=300 * MINUTE_MS) is None


def test_what_the_car_has_told_of_its_use_lets_it_rest_longer(modules: Page) -> None:
    told = [trip(0, 12.0), trip(10_000, 14.0)]  # 0.2 kWh/km, known to a tenth
    assert worth(modules, told, 11_000) is None
    assert worth(modules, told, 11_500)["quantity"] == "trip_energy"


def test_nothing_is_asked_right_after_a_reading_however_fast_the_car(modules: Page) -> None:
    assert worth(modules, [trip(0, 12.4, t_min=9.5)], 2000) is None
    assert worth(modules, [trip(0, 12.4, t_min=9)], 2000) is not None


def test_the_display_that_tells_most_is_asked_for(modules: Page) -> None:
    percent = record(0, quantity="soc", value=4, unit="%", resolution=1)
    assert worth(modules, [percent], 2000) is None  # 1 % of 58 kWh is a coarse step
    assert worth(modules, [percent], 3000, phase="before")["quantity"] == "soc"
    # past zero the display says 0 % and no more
    assert worth(modules, [percent], 3000)["quantity"] == "trip_energy"
    assert worth(modules, [percent, trip(0, 12.4)], 3000)["quantity"] == "trip_energy"


def test_a_step_is_announced_shortly_before_it_is_due(modules: Page) -> None:
    steps = [record(at_m, kind="soc_step", value=value) for at_m, value in [(0, 3), (2000, 2)]]
    read = trip(3600, 12.4, t_min=9.9)
    for along_m, watch in [(3600, None), (3750, 1), (4300, 1), (4500, None)]:
        asked = worth(modules, [*steps, read], along_m, phase="before")
        assert (asked and asked["value"]) == watch, along_m
    asked = worth(modules, [*steps, read], 3800, phase="before")
    assert asked["words"]["main"] == "Watch for 1 %"
    assert asked["words"]["rest"] == "due every 2.0 km; 1.8 driven"


def test_a_refusal_holds_until_the_doubt_has_grown_by_half(modules: Page) -> None:
    asked = modules.evaluate(
        """async (rows) => {
          const { startReadingAdvice } = await import("/capture/drive/reading-advice.js");
          const advice = startReadingAdvice();
          const at = (along_m, idle_ms = 10000) => advice.update(
            { rows, along_m, phase: "past", now_ms: 600000, usable_kwh: 58 }, idle_ms) !== null;
          const busy = at(500, 1000);
          const first = at(500);
          advice.decline();
          return [busy, first, at(600), at(1000)];
        }""",
        [trip(0, 12.4)],
    )
    assert asked == [False, True, False, True]


def test_the_page_asks_for_a_figure_and_moves_nothing(phone: Phone) -> None:
    phone.drive()
    before = phone.page.evaluate(BUTTONS)
    phone.page.evaluate(WATCH_TOO)
    for step in range(5):  # a receiver without Doppler speeds: straight lines count
        place = {"latitude": 47.0 + 0.001 * step, "longitude": 8.0, "accuracy": 4.0}
        phone.context.set_geolocation(place)
        until(phone.page, "latitude => window.seen === latitude", place["latitude"])
    expect(phone.page.locator(".advice")).to_be_hidden()  # the hand has just been busy
    until(phone.page, "() => !document.querySelector('.advice').hidden")
    expect(phone.page.locator(".advice")).to_contain_text("Enter: Trip energy")
    after = phone.page.evaluate(BUTTONS)
    assert [one["box"] for one in after] == [one["box"] for one in before]
    assert [one["what"] for one in after if not one["free"]] == []
    phone.page.locator(".advice-quiet").tap()
    phone.page.wait_for_timeout(700)
    expect(phone.page.locator(".advice")).to_be_hidden()


CUT_WORDS = """() => [...document.querySelectorAll(".advice p *")]
  .filter((part) => part.scrollWidth > part.clientWidth).map((part) => part.textContent)"""


def roll_until_advised(phone: Phone, car: Car, speed_mps: float) -> str:
    """Drive on until the page advises; what it says, on one line."""
    advice = phone.page.locator(".advice")
    for _ in range(40):
        car.roll(0.25, speed_mps)
        if advice.is_visible():
            return " ".join(advice.locator("p").inner_text().split())
    pytest.fail("no advice came")


@pytest.mark.parametrize(
    ("width", "height", "unit", "words"),
    [
        (360, 740, "km", "Read to driver: slower, at most 90 km/h · now 97"),
        (740, 360, "mi", "Read to driver: slower, at most 55 mph · now 60"),
    ],
)
def test_leaving_the_band_is_said_without_moving_or_covering_a_button(
    phone: Phone, width: int, height: int, unit: str, words: str
) -> None:
    phone.page.set_viewport_size({"width": width, "height": height})
    units = json.dumps(json.dumps({"distance": unit}))
    phone.page.add_init_script(f"localStorage.setItem('ebbline.units', {units})")
    phone.open()
    phone.make_session()
    kept = phone.stored()["sessions"][0]["setup"]["protocol"]["speed_band_kmh"]
    assert kept == [50, 90]  # shown in the user's unit, kept unrounded
    phone.accept_cautions()
    car = Car(phone.context, phone.page)
    car.roll(0.5, 20.0)
    before = phone.page.evaluate(BUTTONS)
    phone.page.evaluate(SHIFTS)
    assert roll_until_advised(phone, car, 27.0) == words
    after = phone.page.evaluate(BUTTONS)
    assert [one["box"] for one in after] == [one["box"] for one in before]
    assert [one["what"] for one in after if not one["free"]] == []
    assert phone.page.evaluate("() => window.shifts") == []
    assert phone.page.evaluate(CUT_WORDS) == []
    if width == 740:
        phone.page.locator(".advice-quiet").tap()
        car.roll(1.0, 27.0)
    else:
        phone.press("propulsion_off")  # a dead car is not told its speed
        phone.wait_stored("Propulsion off")
    expect(phone.page.locator(".advice")).to_be_hidden()
