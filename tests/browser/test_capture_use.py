"""What a real run brings: a start with its choice, laps then the run, large text, two tabs."""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import Any

from browser.conftest import Car, Phone, later, starting, until
from PIL import Image
from playwright.sync_api import Page, expect

FOCUSED = """() => {
  const { activeElement } = document;
  return activeElement === document.body ? "body" : activeElement.textContent.slice(0, 40);
}"""


def logged(phone: Phone, log: str) -> list[dict[str, Any]]:
    return [row["doc"] for row in phone.stored()["records"] if row["doc"].get("log") == log]


# --- the start -------------------------------------------------------------------------------


def test_starting_without_a_position_is_a_choice_that_is_recorded(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    phone.context.clear_permissions()
    phone.open()
    phone.make_session()
    page = phone.page
    gate = page.locator(".gate")
    start = page.locator("[data-action=start]")
    until(page, "() => document.querySelector('.gate').textContent.includes('blocked')")
    expect(gate).to_contain_text("Allow the position for this page")
    expect(start).to_have_text(starting("Start without a position"))

    # allowed after all: seen at once, without a reload
    phone.context.set_geolocation({"latitude": 47.0, "longitude": 8.0, "accuracy": 60.0})
    expect(page.locator("[data-action=look-again]")).to_be_visible()
    phone.context.grant_permissions(["geolocation"])
    until(page, "() => document.querySelector('.gate')?.textContent.includes('±60 m')")
    expect(gate).to_contain_text("sky is open")
    expect(page.locator("[data-action=look-again]")).to_be_hidden()
    phone.context.set_geolocation({"latitude": 47.0, "longitude": 8.0, "accuracy": 4.0})
    until(page, "() => document.querySelector('.gate').textContent.includes('±4 m')")
    expect(start).to_have_text(starting("Accept and start recording"))

    phone.context.clear_permissions()
    page.reload()
    page.locator(".card-main[data-session]").tap()
    until(page, "() => document.querySelector('.gate')?.textContent.includes('blocked')")
    phone.accept_cautions()
    (note,) = logged(phone, "start_gate")
    assert note["text"].startswith("Started with position blocked")
    assert note["start_gate"]["position"] == "blocked"
    assert set(note["start_gate"]) == {"position", "storage", "screen"}
    phone.send_all()
    held = server_says(f"/sessions/{phone.session_id()}")["events"]
    assert note["id"] in {event["id"] for event in held}


# --- from laps to the run --------------------------------------------------------------------


def test_the_run_follows_the_lap_check_in_one_touch_and_one_track(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    page = phone.page
    phone.open()
    phone.make_session()
    phone.accept_cautions("laps-first")
    car = Car(phone.context, page)
    car.roll(3.0, 40.0)
    page.locator(".bar .menu").tap()
    page.get_by_role("button", name="End recording").tap()
    end = page.locator(".sheet.end")
    expect(end).to_contain_text("without a gap")
    expect(end.locator(".key").first).to_have_text(starting("Start the run"))
    end.locator(".cross").tap()
    laps_m = car.along_m
    assert laps_m > 100
    page.locator("[data-key=start-run]").tap()
    page.wait_for_selector("main.drive:not(.lap-check)")
    assert "The run has begun" in phone.said()
    car.roll(1.0, 40.0)
    hero = page.locator(".hero-main")  # which advice may cover by now
    assert "Since the start" in (hero.text_content() or "")

    def beyond_m() -> float:
        """What is shown beyond the way since the laps: with theirs it would be as much more."""
        shown_km = float(hero.locator(".figure").text_content() or "")
        return 1000 * shown_km - (car.along_m - laps_m)

    assert beyond_m() <= 0.3 * laps_m
    page.reload()
    page.wait_for_selector("main.drive:not(.lap-check)")
    car.roll(0.5, 40.0)
    assert beyond_m() <= 0.3 * laps_m
    assert len(logged(phone, "run_start")) == 1
    page.locator(".bar button", has_text="Menu").tap()
    page.get_by_role("button", name="End recording").tap()
    expect(page.locator(".sheet.end")).to_contain_text("not plugged in yet")
    page.get_by_role("button", name="Go on recording").tap()
    page.locator(".sheet").wait_for(state="detached")
    phone.send_all()
    rows = phone.stored()
    assert len(rows["sessions"]) == 1
    seqs = [seq for chunk in rows["fixes"] for seq in chunk["columns"]["seq"]]
    assert seqs == list(range(len(seqs)))
    result = server_says(f"/sessions/{phone.session_id()}/result")
    assert result["distance"]["gaps"] == []
    doubts = [one["code"] for one in result["findings"] if one["severity"] != "note"]
    assert not [code for code in doubts if "gap" in code], doubts


def test_a_check_of_its_own_becomes_the_run_and_an_end_is_called_one(phone: Phone) -> None:
    page = phone.page
    phone.open()
    page.tap("[data-action=check-lap]")
    page.fill("#setup-vehicle", "Grey test car")
    page.fill("#setup-course", "Small ring")
    page.tap("main button[type=submit]")
    page.wait_for_selector("main.checklist")
    phone.accept_cautions()
    car = Car(phone.context, page)
    car.roll(1.5, 40.0)
    page.locator(".bar .menu").tap()
    page.get_by_role("button", name="End recording").tap()
    page.locator(".sheet.end .key", has_text="Start the run").tap()
    page.wait_for_selector("main.drive:not(.lap-check)")
    assert phone.stored()["sessions"][0]["setup"]["session"]["purpose"] == "run"
    page.locator(".bar button", has_text="Menu").tap()
    page.get_by_role("button", name="Check a lap").tap()
    page.wait_for_selector("main.lap-check")
    page.locator(".bar .menu").tap()
    page.get_by_role("button", name="End recording").tap()
    page.get_by_role("button", name="End it").tap()
    page.wait_for_selector("main.sessions")
    later(page, 60)
    page.locator(".card-main[data-session]").first.tap()
    page.get_by_role("button", name="Go on recording").tap()
    page.tap("[data-action=start]")
    page.wait_for_selector("main.drive")
    car.roll(0.5, 40.0)
    phone.wait_said("Nothing recorded for 1:0")
    (gap,) = logged(phone, "gps_gap")
    assert gap["gap"]["cause"] == "the recording was ended"


# --- what was confirmed stays confirmed ------------------------------------------------------

SLOW_PHOTOS = """() => {
  const encode = HTMLCanvasElement.prototype.toBlob;
  HTMLCanvasElement.prototype.toBlob = function (...how) {
    window.develop = () => encode.apply(this, how);
  };
}"""


def test_a_late_photo_takes_neither_line_nor_undo_from_the_tap_after_it(phone: Phone) -> None:
    phone.drive()
    page = phone.page
    page.locator("[data-key=photo]").tap()
    with page.expect_file_chooser() as chooser:
        page.get_by_role("button", name="Open the camera app").tap()
    picture = io.BytesIO()
    Image.new("RGB", (60, 40), "green").save(picture, "PNG")
    page.evaluate(SLOW_PHOTOS)
    files = {"name": "a.png", "mimeType": "image/png", "buffer": picture.getvalue()}
    chooser.value.set_files(files)
    phone.wait_said("Storing · photo")
    phone.press("trip_reset")
    line = phone.wait_stored("Trip reset")
    page.evaluate("() => window.develop()")
    page.locator("[data-key=photo][data-state=stored]").wait_for()  # it says so at its own key
    assert len(phone.stored()["photos"]) == 1
    assert phone.said() == line
    expect(page.locator(".undo")).to_have_attribute("aria-label", "Undo: Trip reset")
    expect(page.locator(".undo")).to_be_enabled()


# --- large text, keyboard, screen reader, forced colours ---------------------------------------

KEYS_CUT = """() => [...document.querySelectorAll(".drive [data-key]")].flatMap((key) => {
  const { right, bottom } = key.getBoundingClientRect();
  return [...key.querySelectorAll("span")].filter((words) =>
    words.getBoundingClientRect().right > right + 0.5 ||
    words.getBoundingClientRect().bottom > bottom + 0.5).map((words) => words.textContent);
})"""

REACHED = """() => {
  const top = document.querySelector("dialog[open]") ?? document;
  const faults = [];
  const all = "button, input, summary, select, textarea, label.check";
  for (const node of top.querySelectorAll(all)) {
    const isInLabel = node.matches("input") && node.closest("label.check, .choice");
    if (!node.checkVisibility() || isInLabel) continue;
    node.scrollIntoView({ block: "center" });
    const { left, top, width, height } = node.getBoundingClientRect();
    const hit = document.elementFromPoint(left + width / 2, top + height / 2);
    const name = node.textContent.trim() || node.id || node.className;
    if (!node.contains(hit)) faults.push(`${name}: covered by ${hit?.className || hit?.tagName}`);
    if (Math.min(width, height) < 48) faults.push(`${name}: ${width} x ${height}`);
    if (node.matches("button") && node.scrollWidth > node.clientWidth) faults.push(`${name}: cut`);
  }
  for (const node of [document.documentElement, top.querySelector(".sheet-body")])
    if (node?.scrollWidth > innerWidth) faults.push("scrolls sideways");
  return faults;
}"""

RESIZED = """async (size) => {
  document.documentElement.style.fontSize = size;
  for (let frame = 0; frame < 2; frame += 1) await new Promise(requestAnimationFrame);
}"""


def out_of_reach(page: Page, view: str) -> dict[str, list[str]]:
    """What a thumb can't reach or an eye can't read of this view, with text twice as large: as a
    larger font, and as a browser zooms a page, half the width. Leaves it in the narrowest.
    """
    faults = {}
    for width, height, size in [(740, 360, "200%"), (360, 740, "200%"), (180, 370, "")]:
        page.set_viewport_size({"width": width, "height": height})
        page.evaluate(RESIZED, size)
        found = page.evaluate(REACHED)
        if view.startswith("drive"):
            found += page.evaluate(KEYS_CUT)
            until(page, "() => document.querySelector('.drive').hasAttribute('data-scrolls')")
            found += ["a scroll is a tap"] * scrolling_taps(page, height)
        if found:
            faults[f"{view}, {width} × {height}"] = found
    return faults


def scrolling_taps(page: Page, height: int) -> bool:
    """Whether a finger that scrolls, beginning on a key, counts as a touch of it."""
    key = page.locator(".keys .key").first
    key.scroll_into_view_if_needed()
    box = key.bounding_box()
    assert box
    said = page.locator(".drive .said").inner_text()
    page.context.new_cdp_session(page).send(
        "Input.synthesizeScrollGesture",
        {"x": box["x"] + 20, "y": max(5, min(box["y"] + 20, height - 5)), "yDistance": -120,
         "gestureSourceType": "touch", "speed": 3000},
    )  # fmt: skip
    return page.locator(".drive .said").inner_text() != said


def test_with_text_twice_as_large_every_button_stays_in_reach(phone: Phone) -> None:
    page = phone.page
    page.add_init_script("""
        navigator.mediaDevices.getUserMedia = async () => {
          if (sessionStorage.noCamera) throw new DOMException("no", "NotAllowedError");
          const canvas = document.createElement("canvas");
          canvas.getContext("2d").fillRect(0, 0, 100, 50);
          return canvas.captureStream();
        };""")
    phone.open()
    faults = out_of_reach(page, "home")
    page.tap("[data-action=create]")
    page.evaluate("() => document.querySelectorAll('details').forEach((one) => (one.open = true))")
    faults |= out_of_reach(page, "set-up")
    page.locator("header .quiet").tap()
    phone.make_session()
    faults |= out_of_reach(page, "checklist")
    phone.accept_cautions()
    faults |= out_of_reach(page, "drive")
    assert phone.taps() == []
    phone.press("floored")
    phone.wait_stored("Throttle floored")
    phone.press("soc_step")
    phone.wait_stored("New % shown")
    faults |= out_of_reach(page, "stepper")
    page.locator(".stepper .store").tap()
    phone.wait_stored("New % shown: ")
    phone.press("warning")
    faults |= out_of_reach(page, "warnings")
    phone.choose("other")
    phone.wait_stored("another message")
    page.locator("[data-key=read]").tap()
    faults |= out_of_reach(page, "pad")
    phone.type_figure("4")
    page.locator(".pad .store").tap()
    phone.wait_stored("Displayed charge 4")
    phone.close_sheet()
    page.locator(".bar button", has_text="Menu").tap()
    faults |= out_of_reach(page, "menu")
    page.locator(".sheet .cross").tap()
    page.locator("[data-key=photo]").click()
    until(page, "() => document.querySelector('.shutter')?.disabled === false")
    faults |= out_of_reach(page, "camera")
    page.evaluate("() => { sessionStorage.noCamera = 'yes'; }")
    page.reload()
    page.wait_for_selector("main.drive")
    page.locator("[data-key=photo]").click()
    page.get_by_role("button", name="Open the camera app").wait_for()
    faults |= out_of_reach(page, "camera app")
    assert faults == {}


READ_CUT = """() => {
  const read = document.querySelector(".read").getBoundingClientRect();
  return [...document.querySelectorAll(".read small span")].filter((part) => {
    const { right, bottom } = part.getBoundingClientRect();
    return right > read.right - 6 || bottom > read.bottom - 6;
  }).map((part) => part.textContent);
}"""


def test_what_was_read_last_and_its_age_are_never_cut(phone: Phone) -> None:
    phone.drive()
    page = phone.page

    def boxes() -> dict[str, object]:
        """Where the keys stand on each size of phone; what is cut there fails at once."""
        found = {}
        for width, height in [(740, 360), (360, 640), (360, 740)]:
            page.set_viewport_size({"width": width, "height": height})
            found[f"{width} × {height}"] = page.evaluate(
                "() => [...document.querySelectorAll('.keys .key')].map((key) => key.offsetTop)"
            )
            assert page.evaluate(READ_CUT) == [], (width, height)
        return found

    before = boxes()
    for quantity, words in [("mean_consumption", "121.3\u00a0kWh/100 km"),
                            ("power_available", "Power available 121.3\u00a0kW")]:  # fmt: skip
        phone.note_display({quantity: "121.3"})
        later(page, 725)
        until(page, "() => document.querySelector('.read small').innerText.includes('12:0')")
        expect(page.locator(".read small")).to_contain_text(words)
        assert boxes() == before


def test_the_keyboard_goes_on_where_it_was(phone: Phone) -> None:
    page = phone.page
    phone.open()

    def enter(selector: str) -> None:
        page.focus(selector)
        page.keyboard.press("Enter")

    enter("[data-action=create]")
    page.wait_for_selector("main.setup")
    assert page.evaluate(FOCUSED) == "Plan"
    for name in ("vehicle", "course"):
        page.fill(f"#setup-{name}", "x")
    enter("main button[type=submit]")
    page.wait_for_selector("main.checklist")
    assert page.evaluate(FOCUSED) == "Before the drive"
    for box in page.query_selector_all(".cautions input"):
        box.check()
    enter("[data-action=start]")
    page.wait_for_selector("main.drive")
    until(page, "() => document.activeElement.matches('main.drive')")
    enter("[data-key=read]")
    page.keyboard.type("4")
    page.keyboard.press("Enter")
    phone.wait_stored("Displayed charge")
    until(page, "() => document.activeElement.matches('.pad-figure')")
    page.keyboard.type("3,5")
    expect(page.locator(".pad-figure b")).to_have_text("3.5")
    page.keyboard.press("Enter")
    page.locator(".pad").wait_for(state="detached")
    until(page, "() => document.activeElement.matches('[data-key=read]')")
    enter(".keys [data-key=zero_soc]")
    phone.wait_stored("0 % shown")
    until(page, "() => !document.querySelector('.keys [data-key=zero_soc]')")
    until(page, "() => document.activeElement.matches('.keys .key')")
    enter(".undo")
    phone.wait_said("Undone")
    assert page.evaluate(FOCUSED) != "body"


def test_a_screen_reader_hears_what_is_lost_and_what_is_advised(phone: Phone) -> None:
    phone.drive()
    page = phone.page
    Car(phone.context, page).wait_shown(phone)
    heard = (
        "() => [...document.querySelectorAll('.drive > [role=status]')].map((p) => p.textContent)"
    )
    assert "GPS lost" not in " ".join(page.evaluate(heard))
    later(page, 12)
    until(page, f"() => ({heard})().some((text) => text.startsWith('GPS lost'))")
    car = Car(phone.context, page)
    until(page, "() => document.querySelector('.advice').hidden")
    for _ in range(40):
        car.roll(0.25, 27.0)
        if page.locator(".advice").is_visible():
            break
    told = [text for text in page.evaluate(heard) if text.startswith("Read to driver")]
    assert told
    assert "slower" in told[0]


def test_the_phase_shows_in_the_systems_own_colours(phone: Phone) -> None:
    phone.page.emulate_media(forced_colors="active")
    phone.drive()
    colours = phone.page.evaluate("""() => {
      const lines = [...document.querySelectorAll(".tide li")]
        .map((li) => getComputedStyle(li, "::before").backgroundColor);
      return [getComputedStyle(document.body).backgroundColor, ...lines.slice(0, 2)];
    }""")
    assert len(set(colours)) == 3  # ground, now, ahead


# --- left and come back ----------------------------------------------------------------------

LEAVE = """async () => {
  const { openStore } = await import("/capture/storage/store.js");
  const name = "left-and-back";
  const store = openStore({ indexedDB, name });
  const add = (id) => store.addRecord({ id, session: "s", state: "unsent", stored_ms: 1, doc: {} });
  await add("before");
  const under_way = store.addFixes("s", "d", [], 0);
  store.leave();
  let late = "waits";
  const begun = add("while left").then(() => { late = "stored"; });
  const blocked = await new Promise((resolve) => {
    const request = indexedDB.open(name, 99);  // a successor that needs the database for itself
    request.onblocked = () => resolve(true);
    request.onupgradeneeded = () => request.transaction.abort();
    request.onerror = (event) => { event.preventDefault(); resolve(false); };
  });
  const seen = late;
  store.back();
  await Promise.all([begun, under_way]);
  return [blocked, seen, late, (await store.records("s")).map(({ id }) => id).sort()];
}"""


def test_a_page_that_is_left_holds_up_nobody_and_stores_the_rest_when_it_is_back(
    modules: Page,
) -> None:
    """WebKit freezes a page that was left together with its transactions."""
    assert modules.evaluate(LEAVE) == [False, "waits", "stored", ["before", "while left"]]


# As WebKit does within its page cache: the engine here keeps none in tests.
CACHED = """(name) => dispatchEvent(new PageTransitionEvent(name, { persisted: true }))"""


def test_out_of_the_page_cache_the_run_goes_on(phone: Phone) -> None:
    phone.drive()
    page = phone.page
    page.evaluate(CACHED, "pagehide")
    phone.press("trip_reset")
    phone.wait_said("Storing")
    with page.expect_navigation():
        page.evaluate(CACHED, "pageshow")
    page.wait_for_selector("main.drive")
    assert [tap["kind"] for tap in phone.taps()] == ["trip_reset"]
    Car(phone.context, page).wait_shown(phone)


def test_after_a_reload_the_next_touch_asks_for_the_screen(phone: Phone) -> None:
    """An engine that grants the screen within a touch only."""
    phone.page.add_init_script("""(() => {
      let isTouched = false;
      for (const touch of ["pointerup", "click"]) addEventListener(touch, () => {
        isTouched = true;
        setTimeout(() => { isTouched = false; });
      }, { capture: true });
      navigator.wakeLock.request = async () => {
        if (!isTouched) throw new DOMException("no", "NotAllowedError");
        return new EventTarget();
      };
    })()""")
    phone.drive()
    page = phone.page
    page.reload()
    page.wait_for_selector("main.drive")
    screen = page.locator("[data-cell=screen] b")
    until(page, "() => document.querySelector('[data-cell=screen] b').textContent === 'tap once'")
    phone.press("trip_reset")
    until(page, "() => document.querySelector('[data-cell=screen] b').textContent === 'stays on'")
    expect(screen).to_have_text("stays on")


def test_a_second_tab_says_why_it_watches_no_position_and_takes_over(phone: Phone) -> None:
    phone.drive()
    second = phone.context.new_page()
    phone.console.watch(second)
    other = Phone(phone.context, second, phone.url, phone.console)
    second.goto(f"{phone.url}/capture")
    other.wait_said("Another tab of this phone records")
    until(second, "() => document.querySelector('[data-cell=gps] b').textContent === 'other tab'")
    second.locator(".strip").tap()
    expect(second.locator(".status-sheet")).to_contain_text("this one takes over")
    second.locator(".sheet .cross").tap()
    phone.page.close()
    other.wait_said("This tab records now")
    until(second, "() => document.querySelector('[data-cell=gps] b').textContent !== 'other tab'")


def test_the_log_is_in_the_order_of_time_with_the_checklist_on_one_line(phone: Phone) -> None:
    phone.drive()
    page = phone.page
    page.locator("[data-key=read]").tap()
    phone.type_figure("4")  # seen first, stored last
    page.evaluate("""() => new Promise((resolve) => {
      indexedDB.open("ebbline-capture").onsuccess = (event) => {
        window.held = event.target.result.transaction("records", "readwrite");
        const store = window.held.objectStore("records");
        window.holding = true;
        const again = () => { if (window.holding) store.count().onsuccess = again; };
        again();
        resolve(true);
      };
    })""")
    page.locator(".pad .store").tap()
    page.evaluate("() => { window.holding = false; }")
    phone.wait_stored("Displayed charge")
    phone.close_sheet()
    phone.press("trip_reset")
    phone.wait_stored("Trip reset")
    page.locator(".bar button", has_text="Log").tap()
    page.locator(".log button", has_text="Displayed charge").tap()
    page.locator(".sheet .cross").tap()
    phone.press("warning")
    phone.choose("other")
    phone.wait_stored("another message")
    page.locator(".bar button", has_text="Log").tap()
    page.locator(".log button", has_text="Trip reset").tap()
    page.fill("#detail-text", "by the driver")
    page.get_by_role("button", name="Store the words").tap()
    phone.wait_stored("by the driver")
    page.locator(".bar button", has_text="Log").tap()
    page.locator(".log").wait_for()
    names = [starting("Warning"), starting("Trip reset"), starting("Displayed charge 4")]
    expect(page.locator(".log button .log-what")).to_have_text(names)
    times = page.locator(".log time").all_inner_texts()
    assert times == sorted(times, reverse=True)
    entries = page.locator(".log > li").all_inner_texts()
    assert len([one for one in entries if "Checklist" in one]) == 1
    expect(page.locator(".folded .log-own:visible")).to_have_count(1)
    page.locator(".folded summary").tap()
    expect(page.locator(".folded li:visible")).to_have_count(6)


def test_the_look_follows_the_phone_until_somebody_chooses(new_phone: Callable[..., Phone]) -> None:
    phone = new_phone(theme="system")
    page = phone.page
    page.emulate_media(color_scheme="light")
    phone.open()
    look = "() => document.documentElement.dataset.theme"
    assert page.evaluate(look) == "day"
    page.emulate_media(color_scheme="dark")
    until(page, f"() => ({look})() === 'night'")
    page.reload()
    page.wait_for_selector("main")
    assert page.evaluate(look) == "night"
    page.get_by_role("button", name="Menu").tap()
    page.locator(".choice label", has_text="Day").tap()
    assert page.evaluate(look) == "day"
    page.emulate_media(color_scheme="light")
    page.emulate_media(color_scheme="dark")
    assert page.evaluate(look) == "day"
