"""A session's page in parts: turned by pointer, keyboard, address, search and paper."""

from __future__ import annotations

import re

import pytest
from browser.desk.conftest import SCREEN, Desk, text_of
from playwright.sync_api import Page, expect

# What the Tab key stops at: of radios of one name one, of closed details the summary.
STOPS = """() => {
  const names = new Set();
  return [...document.querySelectorAll("a[href], button, input, select, summary, [tabindex]")]
    .filter((one) => one.tabIndex >= 0 && !one.disabled)
    .filter((one) => one.checkVisibility({ visibilityProperty: true }))
    .filter((one) => {
      const folded = one.closest("details:not([open])");
      return !folded || one.parentElement === folded;
    })
    .filter((one) => one.type !== "radio" || (!names.has(one.name) && names.add(one.name)))
    .length;
}"""
HEIGHT = "() => document.documentElement.scrollHeight"
MOST_STOPS = 70  # of any part; the page was one piece with 429
MOST_SCREENS = 2.6  # the answers are one, a part is one


@pytest.fixture(scope="class")
def opened(class_desk: Desk) -> Desk:
    class_desk.bring_in("full-run")
    class_desk.open_session(class_desk.full_run)
    return class_desk


def open_part(page: Page) -> str:
    """The anchor of the one part that is open."""
    current = page.locator(".parts a[aria-current]")
    expect(current).to_have_count(1)
    expect(page.locator(".leaf:not([hidden])")).to_have_count(1)
    return str(current.get_attribute("href")).removeprefix("#")


class TestTheParts:
    def test_the_answers_stand_in_the_order_of_the_questions_and_lead_on(
        self, opened: Desk
    ) -> None:
        page = opened.page
        expect(page.locator(".question h2")).to_have_text(
            [
                "How far and how much",
                "Warnings and what was left",
                "When it could no longer hold a speed",
                "Shut-off and contactors",
                "Recharge",
                "Balance and checks",
            ]
        )
        order = [
            str(cell.get_attribute("data-figure"))
            for cell in page.locator(".headline-cell").all()
        ]  # fmt: skip
        first = ("distance_m", "first_warning.left_m", "first_cap.past_zero_m",
                 "end_moment", "trickle_s", "balance")  # fmt: skip
        assert [order.index(key) for key in first] == sorted(order.index(key) for key in first)
        assert {"from_zero_range.distance_m", "contactors_moment", "trip_meter"} < set(order)
        for question in page.locator(".question h2 a").all():
            anchor = str(question.get_attribute("href")).removeprefix("#")
            question.click()
            expect(page.locator(f"#{anchor}")).to_be_visible()
            assert open_part(page) == anchor

    def test_contactors_are_told_after_the_moment_it_could_no_longer_drive(
        self, opened: Desk
    ) -> None:
        timeline = opened.says(f"/sessions/{opened.full_run}/result")["timeline"]
        at_ms = {entry["kind"]: entry["at_ms"]["value"] for entry in timeline}
        seconds = round((at_ms["contactors_open"] - at_ms["propulsion_off"]) / 1000)
        said = f"Battery disconnected, {seconds // 60}:{seconds % 60:02} min after that"
        expect(opened.page.locator("[data-figure=contactors_moment] .source")).to_have_text(said)
        opened.turn_to("ending")
        row = opened.page.locator("#ending tbody tr", has_text="Contactors open")
        expect(row).to_contain_text(f"{seconds // 60}:{seconds % 60:02}")

    def test_a_part_and_the_answers_are_a_screen_each_with_few_stops(self, opened: Desk) -> None:
        page = opened.page
        for part in opened.parts():
            opened.turn_to(part)
            stops, height = page.evaluate(STOPS), page.evaluate(HEIGHT)
            assert stops < MOST_STOPS, (part, stops)
            assert height < MOST_SCREENS * SCREEN["height"], (part, height)

    def test_an_address_back_and_the_keyboard_turn_the_page(self, opened: Desk) -> None:
        page = opened.page
        opened.turn_to("ladder")
        opened.turn_to("recharge")
        assert page.url.endswith("#recharge")
        expect(page.get_by_role("heading", name="Recharge", exact=True).last).to_be_focused()
        page.go_back()
        expect(page.locator("#ladder")).to_be_visible()
        assert open_part(page) == "ladder"
        page.reload()
        expect(page.locator("#ladder tbody tr").first).to_be_visible()
        page.locator(".leaf-next:visible a").press("Enter")
        assert open_part(page) == "limits"
        page.get_by_role("link", name="Skip to the doubts").press("Enter")
        expect(page.get_by_role("heading", name="Doubts")).to_be_focused()

    def test_a_closed_part_is_found_by_the_browsers_own_search(self, opened: Desk) -> None:
        opened.turn_to("timeline")
        leaf = opened.page.locator(".leaf", has=opened.page.locator("#choices"))
        expect(leaf).to_have_attribute("hidden", "until-found")
        leaf.evaluate("leaf => leaf.dispatchEvent(new Event('beforematch', { bubbles: true }))")
        assert open_part(opened.page) == "choices"

    def test_paper_has_every_part(self, opened: Desk) -> None:
        opened.turn_to("timeline")
        opened.page.emulate_media(media="print")
        for part in opened.parts():
            box = opened.page.locator(f"#{part}").bounding_box()
            assert box, part
            assert box["height"] > 40, part
        expect(opened.page.locator(".parts")).to_be_hidden()
        opened.page.emulate_media(media="screen")

    def test_rows_are_one_stop_and_arrows_go_through_rows_and_cells(self, opened: Desk) -> None:
        page = opened.page
        opened.turn_to("ladder")
        rows = page.locator("#ladder tbody tr.ladder-row")
        expect(page.locator("#ladder tbody [tabindex='0']")).to_have_count(1)
        rows.nth(0).locator(".row-button").focus()
        page.keyboard.press("ArrowDown")
        expect(rows.nth(1).locator(".row-button")).to_be_focused()
        page.keyboard.press("End")
        expect(rows.last.locator(".row-button")).to_be_focused()
        page.keyboard.press("ArrowRight")
        cell = rows.last.locator("td[data-how]").first
        expect(cell).to_be_focused()
        expect(page.locator("#how")).to_be_visible()
        expect(cell).to_have_attribute("aria-describedby", "how")
        page.keyboard.press("Home")
        expect(rows.nth(0).locator("td[data-how]").first).to_be_focused()
        page.keyboard.press("Escape")
        expect(page.locator("#how")).to_be_hidden()

    def test_an_explanation_is_heard_as_a_description(self, opened: Desk) -> None:
        button = opened.page.get_by_role("button", name="How “Driven past zero” was reached")
        expect(button).to_have_accessible_description(re.compile("“0 % shown” was tapped on phone"))

    def test_the_slider_says_few_words_and_the_events_name(self, opened: Desk) -> None:
        opened.turn_to("timeline")
        face = opened.page.get_by_role("slider", name="Moment on the timeline")
        face.press("Home")
        for _ in range(3):
            face.press("PageDown")
        expect(face).to_have_attribute("aria-valuetext", re.compile(r"^(New %|Warning).*, \d\d:"))
        face.press("ArrowRight")
        expect(face).to_have_attribute("aria-valuetext", re.compile(r"^\d\d:\d\d:\d\d, \S+\skm "))
        assert len(str(face.get_attribute("aria-valuetext")).split()) <= 6

    def test_pointing_shows_figures_beside_a_held_cursor(self, opened: Desk) -> None:
        opened.turn_to("timeline")
        face = opened.page.get_by_role("slider", name="Moment on the timeline")
        face.scroll_into_view_if_needed()
        box = face.bounding_box()
        assert box
        opened.page.mouse.click(box["x"] + 300, box["y"] + 200)
        expect(opened.page.locator(".readout-release")).to_be_visible()
        held = text_of(opened.page.locator(".readout-clock dd"))
        opened.page.mouse.move(box["x"] + 420, box["y"] + 200)
        tip = opened.page.locator("#timeline .strip-tip")
        expect(tip).to_be_visible()
        expect(tip).to_have_text(re.compile(r"^\d\d:\d\d:\d\d · .*\skm · .*\skWh · .*\skm/h$"))
        expect(tip).not_to_contain_text(held)
        expect(opened.page.locator(".readout-clock dd")).to_have_text(held)
        face.press("Escape")
        expect(tip).to_be_hidden()

    def test_the_chosen_segment_is_told_in_forced_colours(self, opened: Desk) -> None:
        opened.turn_to("timeline")
        opened.page.emulate_media(forced_colors="active")
        colours = opened.page.evaluate(
            """() => [...document.querySelectorAll(".timeline-bar .segments span")]
                 .map((one) => getComputedStyle(one).backgroundColor)"""
        )
        opened.page.emulate_media(forced_colors="none")
        assert colours[0] != colours[1] == colours[2]

    def test_the_keyboard_stays_where_it_was_after_a_correction_and_its_undoing(
        self, opened: Desk
    ) -> None:
        """Comes last: it leaves records behind."""
        page = opened.page
        opened.turn_to("ladder")
        warning = page.locator("#ladder tr", has_text="Warning").first
        warning.get_by_role("button", name=re.compile("^Correct")).press("Enter")
        page.locator("#event-text").fill("seen on film")
        page.locator("#event-reason").fill("read again on film")
        page.locator("#event-reason").press("Enter")
        opened.wait_saved("#ladder")
        expect(page.get_by_role("button", name="Save event")).to_be_focused()
        opened.turn_to("history")
        back = page.locator("#history").get_by_role("button", name=re.compile("^Take back"))
        back.first.press("Enter")
        page.locator("#history .form-status-good").wait_for()
        expect(page.locator("#history li button:focus")).to_have_count(1)
