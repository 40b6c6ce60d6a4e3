"""Every stretch without a position is a gap with its cause, and the screen says so."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from browser.conftest import Phone, until
from playwright.sync_api import Page, expect

# The watch alone, on a clock and a receiver that the test moves.
TRIAL = """(deeds) => import("/capture/position/gps.js").then(async ({ createGps }) => {
  let now_ms = 1_000_000;
  let timers = [];
  const gaps = [];
  const kept = [];
  const remembered = [];
  let full = false;
  let watcher, failer;
  const gps = createGps({
    geolocation: {
      watchPosition: (take, fail) => { watcher = take; failer = fail; return 1; },
      clearWatch: () => {},
    },
    stamp: () => ({ t_ms: now_ms, wall_ms: now_ms, mono_ms: now_ms, page: "p" }),
    keep: async (fixes) => {
      if (full) throw new DOMException("no room", "QuotaExceededError");
      kept.push(...fixes);
    },
    onGap: (gap) => gaps.push([gap.from_ms - 1_000_000, gap.to_ms - 1_000_000, gap.cause]),
    onFix: () => {}, onChange: () => {}, remember: (cause) => remembered.push(cause),
    later: (run, ms) => timers.push({ run, at_ms: now_ms + ms }),
  });
  const world = {
    record: (last, left) => gps.record(last, left),
    pass: (seconds, asleep = false) => {
      const until_ms = now_ms + seconds * 1000;
      while (now_ms < until_ms) {
        now_ms += asleep ? until_ms - now_ms : 250;
        const due = timers.filter((one) => one.at_ms <= now_ms);
        timers = timers.filter((one) => one.at_ms > now_ms);
        for (const one of due) one.run();
      }
    },
    fix: () => watcher({
      timestamp: now_ms,
      coords: { latitude: 47 + now_ms / 1e9, longitude: 8, accuracy: 4 },
    }),
    fail: (code) => failer({ code }),
    full: (is) => { full = is; },
  };
  for (const [name, ...given] of deeds) await (world[name] ?? gps[name])(...given);
  await gps.flush();
  return { gaps, kept: kept.length, pending: gps.pending().length, remembered, state: gps.state() };
})"""


@pytest.fixture
def trial(modules: Page) -> Callable[..., dict[str, Any]]:
    def run(*deeds: list[object]) -> dict[str, Any]:
        outcome: dict[str, Any] = modules.evaluate(TRIAL, list(deeds))
        return outcome

    return run


CAMERA = "the camera hid the page"
DRIVING: list[list[object]] = [["record", None], ["fix"], ["pass", 1], ["fix"]]


def gaps(outcome: dict[str, Any]) -> list[list[Any]]:
    found: list[list[Any]] = outcome["gaps"]
    return found


def test_no_gap_is_told_while_fixes_come(trial: Callable[..., dict[str, Any]]) -> None:
    assert gaps(trial(*DRIVING, ["pass", 4], ["fix"])) == []


@pytest.mark.parametrize(
    ("deeds", "cause"),
    [
        ([["pass", 8]], "no position came"),
        ([["fail", 2], ["pass", 8]], "position unavailable"),
        ([["fail", 1], ["pass", 8]], "permission denied"),
        ([["hidden"], ["pass", 8], ["shown"]], "the page was hidden"),
        ([["pass", 8, True]], "the page was not running"),
        (
            [["covered", CAMERA], ["hidden"], ["pass", 8], ["shown"], ["uncovered"]],
            CAMERA,
        ),
        (
            [["covered", CAMERA], ["pass", 8, True], ["uncovered"]],
            CAMERA,
        ),
        ([["covered", CAMERA], ["uncovered"], ["pass", 8]],
         CAMERA),
    ],
)  # fmt: skip
def test_a_gap_has_the_cause_that_is_known(
    deeds: list[list[object]], cause: str, trial: Callable[..., dict[str, Any]]
) -> None:
    assert gaps(trial(*DRIVING, *deeds, ["fix"])) == [[1000, 9000, cause]]


def test_what_was_covered_once_is_no_cause_for_a_later_gap(
    trial: Callable[..., dict[str, Any]],
) -> None:
    covered: list[list[object]] = [["covered", CAMERA], ["uncovered"], ["pass", 1], ["fix"]]
    assert gaps(trial(*DRIVING, *covered, ["pass", 8], ["fix"])) == [
        [2000, 10_000, "no position came"]
    ]


def test_waiting_for_the_first_fix_is_a_gap(trial: Callable[..., dict[str, Any]]) -> None:
    outcome = trial(["record", None], ["pass", 7], ["fix"])
    assert gaps(outcome) == [[0, 7000, "no first position yet"]]


def test_a_gap_that_is_open_at_the_end_is_told(trial: Callable[..., dict[str, Any]]) -> None:
    outcome = trial(*DRIVING, ["fail", 2], ["pass", 20], ["stop"])
    assert gaps(outcome) == [[1000, 21_000, "position unavailable"]]


def test_why_there_was_none_outlives_the_page(trial: Callable[..., dict[str, Any]]) -> None:
    hidden = trial(*DRIVING, ["hidden"])
    assert hidden["remembered"] == ["the page was hidden"]
    last = {"t_ms": 990_000, "lat": 47, "lon": 8, "fix_ms": 990_000}
    again = trial(["record", last, "the page was hidden"], ["fix"])
    assert gaps(again) == [[-10_000, 0, "the page was hidden, then it was closed"]]
    assert again["remembered"] == [""]


def test_fixes_of_before_a_clock_set_back_are_not_taken_for_fresh(
    trial: Callable[..., dict[str, Any]],
) -> None:
    last = {"t_ms": 4_600_000, "lat": 47, "lon": 8, "fix_ms": 4_600_000}
    assert trial(["record", last])["state"]["quality"] == "waiting"


def test_fixes_that_cannot_be_stored_are_kept_in_order_until_they_can(
    trial: Callable[..., dict[str, Any]],
) -> None:
    full: list[list[object]] = [["full", True], *DRIVING, ["pass", 2], ["stop"]]
    outcome = trial(*full)
    assert (outcome["kept"], outcome["pending"]) == (0, 2)
    outcome = trial(*full, ["resume"], ["full", False], ["fix"], ["pass", 2])
    assert (outcome["kept"], outcome["pending"]) == (3, 0)


def test_a_gap_is_shown_when_it_is_over_and_its_cause_while_it_lasts(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    phone.drive()
    phone.wait_fixes()
    phone.page.evaluate(HIDE)
    phone.wait_lost()
    phone.page.locator(".strip").first.click()
    expect(phone.page.locator(".status-sheet")).to_contain_text("Cause: the page was hidden")
    phone.page.locator(".sheet .cross").tap()
    phone.context.set_geolocation({"latitude": 47.002, "longitude": 8.0, "accuracy": 4.0})
    phone.wait_said("No GPS for")
    assert "the page was hidden" in phone.said()
    phone.page.evaluate("() => dispatchEvent(new Event('online'))")
    phone.send_all()
    held = server_says(f"/sessions/{phone.session_id()}")
    told = [event["gap"]["cause"] for event in held["events"] if event.get("log") == "gps_gap"]
    assert told == ["the page was hidden"]


# Another app in front: the page is told that it is hidden, and shown again.
HIDE = """() => {
  for (const state of ["hidden", "visible"]) {
    Object.defineProperty(document, "visibilityState", { configurable: true, get: () => state });
    document.dispatchEvent(new Event("visibilitychange"));
  }
}"""


def test_the_strip_says_whether_screen_and_storage_are_kept(phone: Phone) -> None:
    """The wake lock is asked for on the drive page and again when the page is shown."""
    phone.page.add_init_script("""(() => {
      globalThis.locks = { asked: 0, now: null };
      navigator.wakeLock.request = async () => {
        globalThis.locks.asked += 1;
        const lock = new EventTarget();
        lock.release = async () => lock.dispatchEvent(new Event("release"));
        return globalThis.locks.now = lock;
      };
      navigator.storage.persisted = async () => globalThis.keptForGood === true;
      navigator.storage.persist = async () => (globalThis.keptForGood = true);
    })()""")
    phone.drive()
    until(
        phone.page,
        "() => document.querySelector('[data-cell=screen] b').textContent === 'stays on'",
    )
    until(
        phone.page, "() => document.querySelector('[data-cell=storage] b').textContent === 'safe'"
    )
    phone.page.evaluate("() => locks.now.release()")
    until(
        phone.page, "() => document.querySelector('[data-cell=screen] b').textContent === 'may dim'"
    )
    phone.page.evaluate(HIDE)
    until(
        phone.page,
        "() => document.querySelector('[data-cell=screen] b').textContent === 'stays on'",
    )
    assert phone.page.evaluate("() => locks.asked") == 2
