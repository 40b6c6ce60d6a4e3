"""What is sent, in which order, and what holds up what: nothing holds up a tap."""

from __future__ import annotations

import contextlib
import json
import re
import urllib.error
import urllib.request
import uuid
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from browser.conftest import WATCH_TOO, Phone, until
from patience import LONGEST_S
from playwright.sync_api import Page, Route, expect

from ebbline.exchange import session_file
from ebbline.exchange.session_file import load_file

FAILED = "Failed to load resource"
RECORDS = re.compile(r"/api/sessions/[^/]+/records$")
PHOTOS = re.compile(r"/api/sessions/[^/]+/photos\?")

TAKE_PICTURES = """async ([session, event, count]) => {
  const { openStore } = await import("/capture/storage/store.js");
  const store = openStore({ indexedDB });
  const device = await store.meta("device");
  const taken = [];
  for (let i = 0; i < count; i += 1) {
    const canvas = document.createElement("canvas");
    canvas.width = canvas.height = 32;
    const pen = canvas.getContext("2d");
    pen.fillStyle = `hsl(${i * 7} 80% ${20 + (i % 60)}%)`;
    pen.fillRect(0, 0, 32, 32);
    const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg"));
    const row = await store.addPhoto({
      session_id: session, event_id: event, t_ms: 1800000000000 + i, device,
      media_type: "image/jpeg", bytes: await blob.arrayBuffer(),
    });
    taken.push(row.sha256);
  }
  return taken;
}"""

CHANGE_SETUP = """([id, usable_kwh]) => new Promise((resolve) => {
  indexedDB.open("ebbline-capture").onsuccess = (event) => {
    const db = event.target.result;
    const store = db.transaction("sessions", "readwrite").objectStore("sessions");
    store.get(id).onsuccess = ({ target }) => {
      const row = target.result;
      row.setup.vehicle.pack.usable_kwh = usable_kwh;
      store.put({ ...row, setup_unsent: 1 }).onsuccess = () => { db.close(); resolve(true); };
    };
  };
})"""

# How long it waits after each of nine failures in a row; the waiting itself is left out.
WAITS = """async (longest_ms) => {
  const { createPacer } = await import("/capture/sending/pacing.js");
  const [waits_ms, wait] = [[], window.setTimeout];
  window.setTimeout = (go, ms) => { waits_ms.push(ms); return waits_ms.length < 9 ? wait(go) : 0; };
  const pacer = createPacer({
    work: () => Promise.reject(new Error("dead")), regular_ms: 1, again_ms: 1,
    monoMs: () => performance.now(), random: () => 0.9999, onChange: () => {},
    longest_ms: longest_ms === null ? undefined : () => longest_ms,
  });
  pacer.hurry();
  while (waits_ms.length < 9) await new Promise((done) => wait(done, 5));
  window.setTimeout = wait;
  return waits_ms;
}"""


def kinds(answer: dict[str, Any]) -> list[str]:
    return [event["kind"] for event in answer["events"] if "log" not in event]


def asked(url: str, method: str, body: object = None) -> Any:
    request = urllib.request.Request(
        url,
        method=method,
        data=None if body is None else json.dumps(body).encode(),
        headers={"Content-Type": "application/json"},
    )
    with urllib.request.urlopen(request, timeout=LONGEST_S) as answer:
        content = answer.read()
    return json.loads(content) if content else None


def test_pictures_that_crawl_hold_up_no_tap(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    phone.drive()
    phone.press("zero_soc")
    phone.wait_stored("0 % shown")
    phone.wait_synced()
    session = phone.session_id()
    (tap,) = phone.taps()
    waiting: list[Route] = []
    crawling = True
    phone.page.route(PHOTOS, lambda route: waiting.append(route) if crawling else route.continue_())
    taken = phone.page.evaluate(TAKE_PICTURES, [session, tap["id"], 12])
    phone.come_online()
    until(
        phone.page, "() => document.querySelector('[data-cell=sync] b').textContent === '12 unsent'"
    )
    phone.page.wait_for_timeout(1200)
    assert len(waiting) == 1  # one at a time, and that one gets no answer
    phone.press("trip_reset")
    phone.wait_stored("Trip reset")
    phone.wait_for(
        "the tap behind the picture",
        lambda: "trip_reset" in kinds(server_says(f"/sessions/{session}")),
    )
    assert len(waiting) == 1

    crawling = False
    waiting[0].continue_()
    phone.wait_synced()
    held = server_says(f"/sessions/{session}")["photos"]
    assert [one["sha256"] for one in sorted(held, key=lambda one: one["t_ms"])] == taken
    assert {one["event"] for one in held} == {tap["id"]}


def test_a_picture_whose_answer_was_lost_is_sent_again_and_counts_once(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    phone.console.allow(FAILED)
    phone.drive()
    phone.wait_synced()
    lost: list[int] = []

    def lose_the_answer(route: Route) -> None:
        lost.append(route.fetch().status)
        route.abort("connectionreset")

    phone.page.route(PHOTOS, lose_the_answer)
    taken = phone.page.evaluate(TAKE_PICTURES, [phone.session_id(), None, 1])
    phone.come_online()
    until(
        phone.page, "() => document.querySelector('[data-cell=sync] b').textContent === '1 unsent'"
    )
    phone.wait_for("the picture", lambda: lost)
    phone.page.unroute_all(behavior="wait")
    phone.send_all()
    held = server_says(f"/sessions/{phone.session_id()}")["photos"]
    assert ([one["sha256"] for one in held], lost[0]) == (taken, 200)


def test_a_picture_that_the_server_has_no_room_for_waits_and_says_why(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    phone.console.allow(FAILED)
    phone.drive()
    phone.wait_synced()
    full = {"code": 507, "message": "The server's disk is full."}
    phone.page.route(PHOTOS, lambda route: route.fulfill(status=507, json=full))
    phone.page.evaluate(TAKE_PICTURES, [phone.session_id(), None, 1])
    phone.come_online()
    phone.wait_status("The server's disk is full.")
    phone.page.unroute_all(behavior="wait")
    phone.send_all()
    assert len(server_says(f"/sessions/{phone.session_id()}")["photos"]) == 1


def test_pictures_leave_room_for_taps_and_the_same_one_counts_once(modules: Page) -> None:
    outcome = modules.evaluate("""async () => {
      const { openStore } = await import("/capture/storage/store.js");
      let free = 25e6;
      const store = openStore({
        indexedDB, name: "room", estimate: async () => ({ quota: 50e6 + free, usage: 50e6 }),
      });
      const photo = (fill) => ({
        session_id: "s", event_id: null, t_ms: 1, device: "d", media_type: "image/jpeg",
        bytes: new Uint8Array(1000).fill(fill).buffer,
      });
      const first = await store.addPhoto(photo(1));
      const again = await store.addPhoto(photo(1));
      free = 20e6;
      const nameOf = (error) => error.name;
      const refused = await store.addPhoto(photo(2)).catch(nameOf);
      const nothing = { ...photo(3), bytes: new ArrayBuffer(0) };
      const empty = await store.addPhoto(nothing).catch(nameOf);
      const bytes = await store.photoBytes("s", first.sha256);
      return {
        same: first.sha256 === again.sha256, count: (await store.photos("s")).length,
        refused, empty, size: bytes.byteLength,
      };
    }""")
    assert outcome == {
        "same": True,
        "count": 1,
        "refused": "QuotaExceededError",
        "empty": "TypeError",
        "size": 1000,
    }


@pytest.mark.parametrize(("longest_ms", "waits_at_most_ms"), [(None, 60_000), (4000, 4000)])
def test_a_dead_line_is_tried_ever_more_rarely_and_often_enough_during_a_run(
    modules: Page, longest_ms: int | None, waits_at_most_ms: int
) -> None:
    waits_ms = modules.evaluate(WAITS, longest_ms)
    assert waits_ms[0] <= 2000
    assert waits_ms == sorted(waits_ms)
    assert waits_ms[-1] == pytest.approx(waits_at_most_ms, rel=0.01)


def test_the_file_with_pictures_is_an_archive_that_imports_whole(
    phone: Phone, tmp_path: Path
) -> None:
    phone.drive("Ring with pictures")
    taken = phone.page.evaluate(TAKE_PICTURES, [phone.session_id(), None, 3])
    phone.page.locator(".bar button", has_text="Menu").tap()
    with phone.page.expect_download() as download:
        phone.page.get_by_role("button", name="Save as file").tap()
    assert download.value.suggested_filename == "ring-with-pictures.ebbline.zip"
    path = tmp_path / "whole.ebbline.zip"
    download.value.save_as(path)
    document, photos = load_file(path.read_bytes())
    assert sorted(photos) == sorted(taken)
    assert [one["sha256"] for one in document["photos"]] == taken


def test_a_set_up_that_is_refused_holds_up_no_record(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    phone.console.allow(FAILED)
    phone.open()
    phone.context.set_offline(True)
    phone.make_session()
    session = phone.session_id()
    phone.page.evaluate(CHANGE_SETUP, [session, "much"])
    phone.accept_cautions()
    phone.press("zero_soc")
    phone.wait_stored("0 % shown")
    phone.context.set_offline(False)
    phone.come_online()

    def held() -> list[str]:
        with contextlib.suppress(urllib.error.HTTPError):
            return kinds(server_says(f"/sessions/{session}"))
        return []

    assert phone.wait_for("the tap", held) == ["zero_soc"]
    phone.wait_status("The plan was not taken")

    phone.page.evaluate(CHANGE_SETUP, [session, 58])
    phone.send_all()
    setup = server_says(f"/sessions/{session}")["setup"]
    assert setup["vehicle"]["pack"]["usable_kwh"] == 58
    assert setup["course"]["label"] == "North ring"


def test_what_was_refused_is_offered_again_by_the_next_page(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    phone.drive()
    phone.wait_synced()

    def refuse(route: Route) -> None:
        sent = json.loads(route.request.post_data or "{}")
        answer = route.fetch(post_data=json.dumps({**sent, "events": []})).json()
        answer["refused"] = [
            {"kind": "event", "id": e["id"], "where": "events[0].kind", "problem": "not today"}
            for e in sent["events"]
        ]
        route.fulfill(json=answer)

    phone.page.route(RECORDS, refuse)
    phone.press("zero_soc")
    phone.wait_stored("0 % shown")
    until(
        phone.page, "() => document.querySelector('[data-cell=sync] b').textContent === '1 refused'"
    )
    phone.page.unroute_all(behavior="wait")
    phone.page.reload()
    phone.page.wait_for_selector("main.drive")
    phone.wait_synced()
    assert kinds(server_says(f"/sessions/{phone.session_id()}")) == ["zero_soc"]


def test_each_session_has_its_clock_compared(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    phone.console.allow(FAILED)
    phone.open()
    phone.context.set_offline(True)
    ids = []
    for title in ("First", "Second"):
        phone.page.goto(f"{phone.url}/capture")
        phone.page.wait_for_selector("main.sessions")
        phone.make_session(title)
        ids = [row["id"] for row in phone.stored()["sessions"]]
        phone.accept_cautions()
        phone.press("zero_soc")
        phone.wait_stored("0 % shown")
        end_recording(phone)
        phone.page.wait_for_selector("main.sessions")
    phone.context.set_offline(False)
    phone.send_all()
    # 'Synced' is said of the session at hand; the others follow by themselves.
    for session in ids:
        phone.wait_for(
            f"a comparison of clocks for {session}",
            lambda path=f"/sessions/{session}": server_says(path)["clock_checks"],
        )


def test_a_run_does_not_end_while_fixes_are_only_in_memory_and_its_file_holds_them(
    phone: Phone, tmp_path: Path
) -> None:
    phone.console.allow("no room")
    phone.drive()
    phone.wait_fixes()
    phone.page.evaluate("""() => {
      const add = IDBObjectStore.prototype.add;
      window.refuse = true;
      IDBObjectStore.prototype.add = function (row) {
        if (window.refuse && this.name === "fixes") {
          throw new DOMException("no room", "QuotaExceededError");
        }
        return add.call(this, row);
      };
    }""")
    stored = phone.fix_count()
    phone.page.evaluate(WATCH_TOO)
    for i in range(3):
        place = {"latitude": 47.001 + i / 1e4, "longitude": 8.0, "accuracy": 4.0}
        phone.context.set_geolocation(place)
        until(phone.page, "latitude => window.seen === latitude", place["latitude"])
    end_recording(phone)
    expect(phone.page.locator("dialog.note")).to_contain_text("3 positions")
    phone.page.locator(".sheet .cross").tap()
    phone.page.locator(".bar button", has_text="Menu").tap()
    with phone.page.expect_download() as download:
        phone.page.get_by_role("button", name="Save as file").tap()
    download.value.save_as(tmp_path / "all")
    document = session_file.load_document((tmp_path / "all").read_bytes())
    session = session_file.to_session(document)
    assert sum(entry.seq.size for entry in session.breadcrumbs) == stored + 3
    phone.page.locator(".sheet .cross").tap()
    phone.page.evaluate("() => { window.refuse = false; }")
    phone.wait_fixes(stored + 3)
    end_recording(phone)
    phone.page.wait_for_selector("main.sessions")
    assert phone.fix_count() >= stored + 3


def end_recording(phone: Phone) -> None:
    phone.page.locator(".bar button", has_text="Menu").tap()
    phone.page.get_by_role("button", name="End recording").tap()
    phone.page.get_by_role("button", name="End it").tap()


def test_a_detail_chosen_after_another_tab_took_its_tap_for_a_leftover_is_kept(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    phone.drive()
    phone.press("warning")
    phone.page.locator(".choices").wait_for()
    other = phone.context.new_page()
    other.goto(f"{phone.url}/capture")
    other.wait_for_selector("main.drive")
    phone.wait_for(  # it finishes what looks left behind, without a detail
        "an end of the draft",
        lambda: all(row["state"] != "draft" for row in phone.stored()["records"]),
    )
    phone.page.bring_to_front()
    phone.choose("stop_soon")
    phone.wait_stored("Warning: stop soon")
    phone.wait_synced()
    held = server_says(f"/sessions/{phone.session_id()}")
    tap, fuller = (event for event in held["events"] if "log" not in event)
    assert (tap.get("class"), fuller["class"], fuller["corrects"]) == (None, "stop_soon", tap["id"])
    assert fuller["t_ms"] == tap["t_ms"]


def test_a_question_left_open_does_not_hold_back_its_tap(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    phone.drive()
    phone.send_all()  # the server knows the session
    phone.press("warning")
    phone.page.locator(".choices").wait_for()
    phone.wait_for(
        "the draft", lambda: any(row["state"] == "draft" for row in phone.stored()["records"])
    )
    phone.page.evaluate(TAKEN_EARLIER, 25_000)
    phone.come_online()
    path = f"/sessions/{phone.session_id()}"
    assert phone.wait_for("the tap", lambda: kinds(server_says(path))) == ["warning"]
    phone.choose("stop_soon")
    phone.wait_stored("Warning: stop soon")
    phone.wait_synced()
    held = server_says(f"/sessions/{phone.session_id()}")
    tap, fuller = (event for event in held["events"] if "log" not in event)
    assert (tap.get("class"), fuller["class"], fuller["corrects"]) == (None, "stop_soon", tap["id"])


TAKEN_EARLIER = """(by_ms) => new Promise((resolve) => {
  indexedDB.open("ebbline-capture").onsuccess = (event) => {
    const db = event.target.result;
    const tx = db.transaction("records", "readwrite");
    tx.objectStore("records").openCursor().onsuccess = ({ target }) => {
      const cursor = target.result;
      if (!cursor) return;
      const row = cursor.value;
      if (row.state === "draft") cursor.update({ ...row, stored_ms: row.stored_ms - by_ms });
      cursor.continue();
    };
    tx.oncomplete = () => { db.close(); resolve(true); };
  };
})"""


def test_a_code_lets_the_phone_into_its_session_and_taking_it_back_loses_nothing(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    phone.console.allow(FAILED)
    session = str(uuid.uuid4())
    api = f"{phone.url}/api/sessions/{session}"
    setup = {"session": {"id": session, "title": "From the desk"}, "vehicle": {"label": "Red car"}}
    asked(api, "PUT", {"base": None, "setup": setup})
    key = asked(f"{api}/keys", "POST", {"label": "Phone in the car"})
    sent: list[str | None] = []
    phone.page.on(
        "request",
        lambda request: (
            sent.append(request.headers.get("authorization"))
            if RECORDS.search(request.url)
            else None
        ),
    )
    phone.page.goto(f"{phone.url}/capture#join={key['token']}")
    phone.page.wait_for_selector("main.checklist")
    assert phone.page.url == f"{phone.url}/capture"
    assert key["token"] not in json.dumps(phone.page.evaluate("() => history.state"))
    phone.accept_cautions()
    phone.press("zero_soc")
    phone.wait_stored("0 % shown")
    phone.wait_placed("past")
    phone.wait_synced()
    assert kinds(server_says(f"/sessions/{session}")) == ["zero_soc"]
    assert set(sent) == {f"Bearer {key['token']}"}
    assert phone.stored()["sessions"][0]["setup"]["vehicle"]["label"] == "Red car"

    asked(f"{api}/keys/{key['id']}", "DELETE")
    phone.press("trip_reset")
    phone.wait_stored("Trip reset")
    until(
        phone.page, "() => document.querySelector('[data-cell=sync] b').textContent === 'no access'"
    )
    phone.page.locator(".strip").first.click()
    sheet = phone.page.locator(".status-sheet")
    expect(sheet).to_contain_text("Everything stays on this phone. Scan a new code from the desk")
    expect(sheet.get_by_role("button", name="Save as file")).to_have_count(1)
    phone.page.locator(".sheet .cross").tap()
    assert [tap["kind"] for tap in phone.taps()] == ["zero_soc", "trip_reset"]
    assert kinds(server_says(f"/sessions/{session}")) == ["zero_soc"]

    fresh = asked(f"{api}/keys", "POST", {"label": "Phone in the car"})
    phone.page.goto(f"{phone.url}/capture#join={fresh['token']}")
    phone.page.wait_for_selector("main.drive")
    phone.wait_synced()
    assert kinds(server_says(f"/sessions/{session}")) == ["zero_soc", "trip_reset"]


def test_a_code_scanned_without_a_network_begins_the_session_all_the_same(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    phone.console.allow(FAILED)
    phone.open()
    session = str(uuid.uuid4())
    api = f"{phone.url}/api/sessions/{session}"
    setup = {"session": {"id": session, "title": "From the desk"}, "vehicle": {"label": "Red car"}}
    asked(api, "PUT", {"base": None, "setup": setup})
    key = asked(f"{api}/keys", "POST", {"label": "Phone in the car"})
    phone.context.set_offline(True)
    phone.page.evaluate("(token) => { location.hash = `join=${token}`; }", key["token"])
    phone.page.wait_for_selector("main.checklist")
    phone.accept_cautions()
    phone.press("zero_soc")
    phone.wait_stored("0 % shown")
    phone.context.set_offline(False)
    phone.send_all()
    held = server_says(f"/sessions/{session}")
    assert (kinds(held), held["revision"]) == (["zero_soc"], 1)
    assert phone.stored()["sessions"][0]["setup"]["session"]["title"] == "From the desk"


def test_an_installed_app_takes_a_code_by_pasting_its_link(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    phone.open()
    session = str(uuid.uuid4())
    api = f"{phone.url}/api/sessions/{session}"
    asked(api, "PUT", {"base": None, "setup": {"session": {"id": session, "title": "Desk's"}}})
    key = asked(f"{api}/keys", "POST", {"label": "Phone in the car"})
    phone.page.get_by_role("button", name="Menu").tap()
    phone.page.get_by_role("button", name="Join by a code").tap()
    phone.page.fill("#code", "https://elsewhere.example/")
    phone.page.get_by_role("button", name="Join its session").tap()
    expect(phone.page.locator("dialog.code")).to_contain_text("not a link from the desk")
    phone.page.fill("#code", key["url"])
    phone.page.get_by_role("button", name="Join its session").tap()
    phone.page.wait_for_selector("main.checklist")
    assert phone.session_id() == session


def test_a_code_that_is_none_is_refused_in_words(phone: Phone) -> None:
    phone.console.allow(FAILED)
    phone.page.goto(f"{phone.url}/capture#join={uuid.uuid4()}.made-up")
    note = phone.page.locator("dialog.note")
    note.wait_for()
    expect(note).to_contain_text("Ask the desk for a new code")
    assert phone.stored()["sessions"] == []
