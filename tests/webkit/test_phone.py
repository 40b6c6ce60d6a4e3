"""The engine of an iPhone: a whole run, leaving and coming back, a start that doesn't come."""

from __future__ import annotations

import json
import time
import urllib.request
import uuid
from pathlib import Path

import pytest
from patience import LONGEST_S
from server_process import LiveServer
from webkit.driver import WebKit, wait_until
from webkit.phone import Phone

from ebbline.exchange.archive import load_file

pytestmark = pytest.mark.slow


@pytest.fixture
def phone(webkit: WebKit, live_server: LiveServer) -> Phone:
    return Phone(webkit, live_server.url)


def ask(url: str, path: str) -> bytes:
    with urllib.request.urlopen(f"{url}/api/sessions/{path}", timeout=LONGEST_S) as answer:
        return bytes(answer.read())


def test_a_whole_run_with_a_kill_in_its_middle_arrives_whole(
    phone: Phone, live_server: LiveServer
) -> None:
    webkit = phone.webkit
    # the start: position denied, none yet, unsure, good
    webkit.surround(allowed=False)
    phone.open()
    phone.plan()
    assert "Allow the position for this page" in webkit.wait(".gate", "blocked")
    webkit.wait("[data-action=start]", "Start without a position")
    webkit.surround(allowed=True, accuracy_m=None)
    webkit.reload()
    webkit.touch(".card-main[data-session]")
    webkit.wait(".gate", "none yet")
    for accuracy_m in (60, 4):
        webkit.surround(accuracy_m=accuracy_m, speed_mps=20)
        webkit.wait(".gate", f"±{accuracy_m}")
    phone.start()
    assert phone.logged("start_gate")[0]["start_gate"]["position"] == "±4 m"

    # taps, a figure by touch and one by keyboard, a picture
    phone.tap("soc_step", "New % shown")
    webkit.touch(".stepper .store")
    phone.wait_stored("New % shown: ")
    phone.press("warning")
    webkit.touch(".choices [data-choice=charge_now]")
    phone.wait_stored("charge now")
    webkit.touch("[data-key=read]")
    webkit.touch(".digits [aria-label='3']")
    webkit.touch(".pad .store")
    webkit.wait(".pad", "Stored · Displayed charge 3")
    webkit.press("42")
    webkit.touch(".pad .store")
    phone.wait_stored("Range shown 42")
    phone.tap("zero_soc", "0 % shown")
    webkit.touch("[data-key=photo]")
    webkit.touch(".shutter")
    webkit.wait("[data-key=photo][data-state=stored]")

    # the position is lost, and found again
    webkit.surround(accuracy_m=None)
    phone.cell("gps", "lost")
    webkit.surround(accuracy_m=4)
    webkit.wait(".drive .said", "No GPS for")

    # no server, and the browser is killed: it opens from its own copy, in the middle of the run
    phone.wait_fixes(3)
    live_server.stop()
    phone.tap("floored", "Throttle floored")
    before = phone.stored()
    webkit.kill()
    webkit.start()
    phone.open()
    webkit.wait("main.drive")
    phone.cell("screen", "tap once")
    now = phone.stored()
    for kind in ("records", "fixes", "photos"):
        assert len(now[kind]) >= len(before[kind]), kind
    phone.tap("floored", "Throttle released")
    phone.cell("screen", "stays on")
    phone.cell("sync", "unsent")
    live_server.start()

    # denied after a reload, and allowed again
    webkit.surround(allowed=False)
    webkit.reload()
    phone.cell("gps", "blocked")
    webkit.surround(allowed=True)
    webkit.reload()
    phone.wait_fixes(3)

    # the end and the recharge
    phone.tap("propulsion_off", "Propulsion off")
    phone.tap("plug_in", "Plugged in")
    webkit.wait(".drive", "Plugged in")
    phone.tap("charge_start", "Charging starts")
    webkit.touch(".bar button", "Menu")
    webkit.touch(".sheet button", "End recording")
    webkit.touch(".sheet.end button", "End it")
    webkit.wait("main.sessions", "Evening run")
    phone.send_all()

    # exactly this on the server
    taps = phone.taps()
    assert [tap.get("kind") or (tap["quantity"], tap["value"]) for tap in taps] == [
        "soc_step", "warning", ("soc", 3), ("range_shown", 42), "zero_soc",
        "floored_on", "floored_off", "propulsion_off", "plug_in", "charge_start",
    ]  # fmt: skip
    (row,) = phone.stored()["sessions"]
    held = json.loads(ask(phone.url, row["id"]))
    mine = {doc["id"]: doc for doc in taps}
    there = {doc["id"]: doc for doc in held["events"] + held["readings"]}
    assert {key: there[key] for key in mine} == mine
    file, pictures = load_file(ask(phone.url, f"{row['id']}/file"))
    assert phone.fixes() == list(range(len(phone.fixes())))
    for column in ("seq", "t_ms", "lat", "speed_mps"):
        assert [x for entry in file["breadcrumbs"] for x in entry[column]] == phone.fixes(column)
    (photo,) = phone.stored()["photos"]
    assert [len(picture) for picture in pictures.values()] == [photo["size_bytes"]]
    assert list(pictures) == [photo["sha256"]]


def test_a_lap_is_begun_before_the_run_and_a_spoken_note_is_kept_or_its_want_told(
    phone: Phone,
) -> None:
    webkit = phone.webkit
    webkit.surround(speed_mps=20)
    phone.open()
    phone.plan()
    webkit.wait(".gate", "±4")
    phone.start("laps-first")
    phone.wait_fixes(1)
    webkit.touch("[data-key=line]")
    webkit.wait(".lap-check .worth", "Cross the line once more")
    webkit.touch("[data-key=start-run]")
    webkit.wait("main.drive:not(.lap-check) .said", "The run has begun")

    webkit.touch("[data-key=voice]")
    webkit.touch(".sheet.listen .key.zero, .sheet.listen .key[data-tone=zero]")
    if not webkit.evaluate(RECORDS):  # Debian's build has one that takes neither type
        webkit.wait(".said", "Not recorded. This browser has no sound recorder.")
        assert phone.stored()["photos"] == []
        return
    wait_until("it to listen", lambda: "stop the spoken note" in webkit.evaluate(VOICE))
    webkit.touch("[data-key=voice]")
    phone.wait_stored("spoken note")
    assert [one["media_type"] for one in phone.stored()["photos"]] == ["audio/mp4"]


@pytest.mark.parametrize("cached", [True, False])
def test_the_page_is_left_and_comes_back(phone: Phone, cached: bool) -> None:
    webkit = phone.webkit
    webkit.surround(page_cache=cached, speed_mps=20)
    phone.drive()
    for times, leave in enumerate((by_address, by_back, by_address), 1):
        webkit.evaluate(NOTE_LEAVING)
        phone.press("trip_reset")
        leave(phone)
        wait_until("a page begun anew", lambda: not webkit.evaluate("() => window.isLeft"))
        webkit.wait("main.drive")
        assert webkit.evaluate("() => sessionStorage.left") == str(cached).lower()
        phone.wait_fixes(2)  # nothing that was left holds up what is written now
        phone.cell("screen", "tap once")
        phone.tap("floored", "Throttle")
        phone.cell("screen", "stays on")
        kinds = [tap["kind"] for tap in phone.taps()]
        assert kinds.count("trip_reset") == times, kinds
    phone.send_all()
    (row,) = phone.stored()["sessions"]
    kept = phone.fixes()  # the car moves on: more come while it is asked
    assert kept == list(range(len(kept)))

    def at_server() -> int:
        return int(json.loads(ask(phone.url, row["id"]))["fix_count"])

    wait_until("them at the server", lambda: at_server() >= len(kept))


RECORDS = """() => ["audio/webm;codecs=opus", "audio/mp4"].some(
  (one) => globalThis.MediaRecorder?.isTypeSupported(one))"""
VOICE = "() => document.querySelector('[data-key=voice]').getAttribute('aria-label')"


def by_address(phone: Phone) -> None:
    phone.webkit.open(f"{phone.url}/join")
    phone.webkit.open(f"{phone.url}/capture")


def by_back(phone: Phone) -> None:
    phone.webkit.open(f"{phone.url}/join")
    phone.webkit.back()


# Marks the page, and notes whether it goes into the page cache.
NOTE_LEAVING = """() => {
  window.isLeft = true;
  sessionStorage.removeItem("left");
  addEventListener("pagehide", ({ persisted }) => { sessionStorage.left ??= persisted; });
}"""


def test_storage_that_a_frozen_page_holds_is_said_and_then_opened(phone: Phone) -> None:
    """Not one of ours: ours let go when they are left."""
    webkit = phone.webkit
    phone.open()
    webkit.wait("main.sessions")
    webkit.open(f"{phone.url}/shared/rules.js")
    webkit.evaluate(HOLD_STORAGE)
    webkit.open(f"{phone.url}/capture")
    assert "storage doesn't answer" in webkit.wait("main", "Not ready")
    webkit.kill()  # as the page says: the whole browser is closed
    webkit.start()
    phone.open()
    webkit.wait("main.sessions")


# A transaction without an end.
HOLD_STORAGE = """() => new Promise((held) => {
  indexedDB.open("ebbline-capture").onsuccess = ({ target: { result } }) => {
    const store = result.transaction("meta", "readwrite").objectStore("meta");
    const goOn = () => {
      held();
      store.get("").onsuccess = goOn;
    };
    goOn();
  };
})"""


def test_the_follow_page_goes_on_where_it_was_left(phone: Phone) -> None:
    webkit = phone.webkit
    phone.drive()
    phone.tap("zero_soc", "0 % shown")
    phone.send_all()
    (row,) = phone.stored()["sessions"]
    webkit.open(f"{phone.url}/follow#{row['id']}")
    webkit.wait("#contact", "In contact")
    webkit.wait("#event", "0 % shown")
    webkit.evaluate(WATCH_SCREEN)
    webkit.touch("#theme")
    webkit.wait("body[data-asked=granted]")
    webkit.open(f"{phone.url}/join")
    webkit.back()
    send_tap(phone.url, row["id"], "trip_reset")
    webkit.wait("#event", "Trip reset")


def send_tap(url: str, session: str, kind: str) -> None:
    """As another phone of the crew does."""
    tap = {
        "id": str(uuid.uuid4()),
        "device": "other",
        "t_ms": round(1000 * time.time()),
        "kind": kind,
    }
    asked = urllib.request.Request(
        f"{url}/api/sessions/{session}/records",
        json.dumps({"device": "other", "events": [tap]}).encode(),
        {"Content-Type": "application/json"},
    )
    with urllib.request.urlopen(asked, timeout=LONGEST_S) as answer:
        assert json.load(answer)["refused"] == []


# What the engine answers when the page asks to keep the screen on.
WATCH_SCREEN = """() => {
  const ask = navigator.wakeLock.request.bind(navigator.wakeLock);
  navigator.wakeLock.request = async (kind) => {
    const lock = await ask(kind);
    document.body.dataset.asked = "granted";
    return lock;
  };
}"""


def test_a_missing_engine_is_a_failure(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(pytest.fail.Exception, match="apt-get install webkit2gtk-driver"):
        WebKit(tmp_path)
