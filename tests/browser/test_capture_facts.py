"""Facts of car and day on the phone: entered once, proposed again, never of another car."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from browser.conftest import Phone
from playwright.sync_api import expect


def unfold(phone: Phone, words: str) -> None:
    phone.page.locator("summary", has_text=words).tap()


def test_facts_are_entered_once_and_another_car_starts_without_them(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    page = phone.page
    field = lambda name: page.locator(f"#setup-{name}")  # noqa: E731
    phone.open()
    page.tap("[data-action=create]")
    first = {"title": "First", "vehicle": "Grey test car", "usable_kwh": "58",
             "course": "North ring", "climate": "off", "ambient_c": "9"}  # fmt: skip
    for name, text in first.items():
        field(name).fill(text)
    unfold(phone, "More about the car")
    field("measured_kwh").fill("56,4")
    field("measured_sd_kwh").fill("0.98")
    field("lender").fill("a private owner")
    field("odometer_km").fill("3120")
    field("a_n").fill("110")
    unfold(phone, "More about the day")
    field("wind_mps").fill("3")
    page.tap("main button[type=submit]")
    expect(page.locator(".problem")).to_have_text("Road load: give A, B and C, or nothing of it.")
    field("b_n_per_mps").fill("1.2")
    field("c_n_per_mps2").fill("0.42")
    unfold(phone, "More about the car")  # folded away: the field in question comes back into sight
    field("tyre_kpa").evaluate("(input) => { input.value = '2.9'; }")
    page.tap("main button[type=submit]")
    expect(page.locator(".problem")).to_contain_text("“2.9” is not a number from 100 to 1500")
    field("tyre_kpa").fill("290")
    page.tap("main button[type=submit]")
    page.wait_for_selector("main.checklist")
    page.locator("[name=charged_full]").check()
    phone.accept_cautions()
    phone.press("zero_soc")
    phone.wait_stored("0 % shown")
    phone.send_all()
    session = phone.session_id()
    setup = server_says(f"/sessions/{session}")["setup"]
    assert setup["vehicle"] == {
        "label": "Grey test car", "lender": "a private owner", "odometer_km": 3120,
        "pack": {"usable_kwh": 58, "measured_kwh": 56.4, "measured_sd_kwh": 0.5},
        "road_load": {"a_n": 110, "b_n_per_mps": 1.2, "c_n_per_mps2": 0.42},
    }  # fmt: skip
    assert setup["conditions"] == {"tyre_kpa": 290, "climate": "off", "ambient_c": 9, "wind_mps": 3}

    page.locator(".bar button", has_text="Menu").tap()
    page.get_by_role("button", name="End recording").tap()
    page.get_by_role("button", name="End it").tap()
    page.tap("[data-action=create]")
    expect(field("measured_kwh")).to_have_value("56.4")
    expect(field("odometer_km")).to_have_value("")  # another one each time
    expect(field("ambient_c")).to_have_value("")
    field("ambient_c").fill("11")
    field("vehicle").fill("Blue car")
    expect(page.locator(".setup [role=status]").first).to_contain_text("A car not known here")
    for name in ("usable_kwh", "measured_kwh", "lender", "a_n"):
        expect(field(name)).to_have_value("")
    expect(field("climate")).to_have_value("off")  # the day stays
    expect(field("ambient_c")).to_have_value("11")
    page.locator(".chip", has_text="by another name").tap()
    expect(field("measured_kwh")).to_have_value("56.4")
    field("vehicle").fill("Green car")
    expect(field("measured_kwh")).to_have_value("")
    page.locator(".known .chip", has_text="Grey test car").tap()
    expect(field("usable_kwh")).to_have_value("58")
    expect(field("lender")).to_have_value("a private owner")


def test_the_same_words_are_proposed_the_class_they_had_before(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    """Also in another session, by what this phone stored; the tap itself waits for nothing."""
    page = phone.page
    phone.drive()

    def open_warning(nth: int) -> None:
        page.locator(".bar button", has_text="Log").tap()
        page.locator(".log button", has_text="Warning").nth(nth).tap()

    phone.press("warning")
    phone.choose("stop_soon")
    phone.wait_stored("Warning: stop soon")
    open_warning(0)
    page.fill("#detail-text", "Pull over safely")
    page.locator(".one .store").tap()
    phone.wait_stored("Warning: “Pull over safely” (stop soon)")

    phone.press("warning")
    page.locator(".choices .cross").tap()
    phone.wait_stored("Warning")
    open_warning(0)
    expect(page.locator("#detail-choice")).to_have_value("")
    page.fill("#detail-text", "pull over  SAFELY")
    expect(page.locator("#detail-choice")).to_have_value("stop_soon")
    page.fill("#detail-text", "something new")
    expect(page.locator("#detail-choice")).to_have_value("")
    page.locator(".one .chip", has_text="Pull over safely").tap()
    page.locator(".one .store").tap()
    phone.wait_stored("Warning: “Pull over safely” (stop soon)")
    phone.send_all()
    path = f"/sessions/{phone.session_id()}"
    warnings = [e for e in server_says(path)["events"] if e["kind"] == "warning"]
    said = [(e.get("class"), e["text"], bool(e["corrects"])) for e in warnings]
    assert sorted(said, key=str) == sorted([
        ("stop_soon", None, False), ("stop_soon", "Pull over safely", True),
        (None, None, False), ("stop_soon", "Pull over safely", True),
    ], key=str)  # fmt: skip
    timeline = server_says(f"{path}/result")["timeline"]
    assert [row["class"] for row in timeline if row["kind"] == "warning"] == ["stop_soon"] * 2
    known = [(one["text"], one["class"]) for one in server_says("/known")["warnings"]]
    ours = [one for one in known if one[0].lower().startswith("pull over")]
    assert ours[0] == ("Pull over safely", "stop_soon")
    assert [words for words, _ in ours].count("Pull over safely") == 1


def test_units_belong_to_the_car_in_hand_and_follow_a_change(
    phone: Phone, server_says: Callable[[str], Any]
) -> None:
    """What was entered in km before the change to miles is not entered in km after it."""
    page = phone.page
    phone.drive()
    phone.note_display({"trip_distance": "3.1"})
    page.locator(".bar button", has_text="Menu").tap()
    page.locator("label", has=page.locator("[name=distance][value=mi]")).tap()
    page.locator(".sheet .cross").tap()
    phone.note_display({"trip_distance": "3.2", "odometer": "1234"})
    phone.send_all()
    held = server_says(f"/sessions/{phone.session_id()}")["readings"]
    assert [(one["quantity"], one["value"], one["unit"]) for one in held] == [
        ("trip_distance", 3.1, "km"),
        ("trip_distance", 3.2, "mi"),
        ("odometer", 1234, "mi"),
    ]
