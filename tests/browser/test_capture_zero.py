"""Zero on the phone: what is taken for it, what a second tap does, and that all count from it."""

from __future__ import annotations

import json
import time
import urllib.request
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest
from browser.conftest import Car, ConsoleWatch, Phone, until
from playwright.sync_api import Browser, Page, expect

SPEED_MPS = 20.0
LEAST_SIDE_PX = 48.0
ZERO_SHEET = ".sheet.zero-again"


@dataclass(slots=True)
class Run:
    """A phone that is driven, the page of those who follow, and the server between them."""

    phone: Phone
    car: Car
    page: Page
    ask: Callable[[str], Any]

    def roll(self, seconds: float) -> None:
        self.car.roll(seconds, SPEED_MPS)

    def agreed_zero(self) -> dict[str, Any] | None:
        """What phone, follow page and result count from, once the server has everything: the
        tap's id where it is one.
        """
        self.car.wait_kept(self.phone)
        self.phone.send_all()
        session = self.phone.session_id()
        live = self.ask(f"/sessions/{session}/live")
        zero = self.ask(f"/sessions/{session}/result")["zero"]
        assert live["zero"] == (
            None if zero["basis"] is None else {"basis": zero["basis"], "t_ms": zero["t_ms"]}
        )
        label = self.phone.page.locator(".hero-main small").inner_text()
        if live["zero"] is None:
            assert label.startswith("Recorded")
            return None
        self._same_distance(live)
        return {"basis": zero["basis"], "t_ms": zero["t_ms"], "label": label}

    def _same_distance(self, live: dict[str, Any]) -> None:
        low, high = live["past_zero_m"]["low"], live["past_zero_m"]["high"]
        shown = self.phone.page.locator(".hero-main .figure")
        assert low - 15 <= 1000 * float(shown.inner_text()) <= high + 15
        until(self.page, FOLLOWS, live["past_zero_m"]["value"] / 1000)


# the follow page shows the figure with the digits that its interval leaves
FOLLOWS = """km => {
  const text = document.querySelector("#distance .value").textContent;
  const decimals = (text.split(".")[1] ?? "").length;
  return Math.abs(Number(text) - km) <= 0.51 * 10 ** -decimals;
}"""


@pytest.fixture
def follow(browser: Browser, console: ConsoleWatch) -> Any:
    contexts = []

    def open_page(phone: Phone) -> Page:
        context = browser.new_context()
        contexts.append(context)
        page = context.new_page()
        console.watch(page)
        page.goto(f"{phone.url}/follow#{phone.session_id()}")
        return page

    yield open_page
    for context in contexts:
        context.close()


@pytest.fixture
def begin(
    phone: Phone, follow: Callable[[Phone], Page], server_says: Callable[[str], Any]
) -> Callable[..., Run]:
    """Drives away, with the protocol of a session made at the desk if one is given."""

    def begun(**protocol: Any) -> Run:
        if protocol:
            session = made_at_the_desk(phone.url, protocol)
            phone.open()
            phone.page.locator(f"[data-remote='{session}']").tap()
            phone.page.wait_for_selector("main.checklist")
            phone.accept_cautions()
        else:
            phone.drive()
        phone.send_all()
        run = Run(phone, Car(phone.context, phone.page), follow(phone), server_says)
        run.roll(2)
        return run

    return begun


def made_at_the_desk(url: str, protocol: dict[str, Any]) -> str:
    session = str(uuid.uuid4())
    setup = {"session": {"id": session, "title": "Planned run"}, "protocol": protocol}
    request = urllib.request.Request(
        f"{url}/api/sessions/{session}",
        method="PUT",
        data=json.dumps({"base": None, "setup": setup}).encode(),
        headers={"Content-Type": "application/json"},
    )
    urllib.request.urlopen(request, timeout=20).close()
    return session


def taps(run: Run) -> list[tuple[str, float | None, bool, bool]]:
    """Kind, value, whether it corrects and whether it withdraws, of every stored tap."""
    return [
        (tap["kind"], tap["value"], tap["corrects"] is not None, bool(tap.get("withdraws")))
        for tap in run.phone.taps()
    ]


def test_a_second_zero_moves_nothing_before_somebody_says_so(begin: Callable[..., Run]) -> None:
    run = begin()
    phone, page = run.phone, run.phone.page
    phone.press("zero_soc")
    phone.wait_stored("0 % shown")
    first = phone.taps()[0]
    run.roll(4)
    before = run.agreed_zero()

    phone.press("zero_soc")
    page.locator(ZERO_SHEET).wait_for()
    expect(page.locator(f"{ZERO_SHEET} h2")).to_contain_text("0 % shown")
    ways = page.locator(f"{ZERO_SHEET} .tiles button")
    boxes = [way.bounding_box() for way in ways.all()]
    assert len(boxes) == 2
    assert all(min(box["width"], box["height"]) >= LEAST_SIDE_PX for box in boxes if box)
    assert len(phone.taps()) == 2  # the moment is kept before the question
    ways.filter(has_text="Keep").tap()
    said = phone.wait_stored("0 % shown tapped again")
    expect(page.locator(ZERO_SHEET)).to_have_count(0)
    assert said.startswith("Stored")
    assert taps(run) == [("zero_soc", None, False, False), ("note", None, False, False)]
    phone.undo()
    phone.wait_said("Undone · 0 % shown tapped again")
    assert run.agreed_zero() == before
    run.roll(2)
    phone.press("zero_soc")
    page.locator(f"{ZERO_SHEET} .tiles button", has_text="Take").tap()
    phone.wait_stored("0 % shown")
    moved = phone.taps()[-1]
    assert (moved["kind"], moved["corrects"]) == ("zero_soc", first["id"])
    run.roll(1)
    after = run.agreed_zero()
    assert after is not None
    assert before is not None
    assert after["t_ms"] - before["t_ms"] == moved["t_ms"] - first["t_ms"] > 4000

    phone.undo()
    phone.wait_said("counts again")
    assert run.agreed_zero() == before
    expect(phone.page.locator(".keys")).to_have_attribute("data-phase", "past")
    codes = {f["code"] for f in run.ask(f"/sessions/{phone.session_id()}/result")["findings"]}
    assert "zero_tapped_again" not in codes
    assert "corrected_twice" not in codes


def test_a_question_left_unanswered_leaves_all_taps_and_the_first_counts(
    begin: Callable[..., Run],
) -> None:
    run = begin()
    phone = run.phone
    phone.press("zero_soc")
    phone.wait_stored("0 % shown")
    run.roll(4)
    before = run.agreed_zero()
    phone.press("zero_soc")
    phone.page.locator(f"{ZERO_SHEET} .cross").tap()
    phone.wait_stored("0 % shown")
    assert taps(run) == [("zero_soc", None, False, False)] * 2
    assert run.agreed_zero() == before
    found = run.ask(f"/sessions/{phone.session_id()}/result")["findings"]
    (told,) = (finding for finding in found if finding["code"] == "zero_tapped_again")
    assert told["severity"] == "doubt"
    assert all(tap["id"] in told["where"] for tap in phone.taps())

    # the page is killed at the question
    phone.press("zero_soc")
    phone.page.locator(ZERO_SHEET).wait_for()
    phone.wait_stored("0 % shown")
    phone.page.reload()
    phone.page.wait_for_selector("main.drive")
    assert taps(run) == [("zero_soc", None, False, False)] * 3
    run.roll(1)
    after = run.agreed_zero()
    assert before is not None
    assert after is not None  # to a new comparison of the clocks
    assert after["t_ms"] == pytest.approx(before["t_ms"], abs=500)


def test_a_step_to_nought_per_cent_is_the_zero_everywhere(begin: Callable[..., Run]) -> None:
    run = begin()
    phone, page = run.phone, run.phone.page
    phone.press("soc_step")
    phone.step_to(1)
    phone.wait_stored("1\u00a0%")
    run.roll(2)
    phone.press("soc_step")
    expect(page.locator(".stepper-value")).to_have_text("0\u00a0%")
    page.locator(".stepper .store").tap()
    assert "0 % shown" in phone.wait_stored("0 %")
    run.roll(4)
    phone.wait_placed("past")
    zero = run.agreed_zero()
    assert zero is not None
    assert (zero["basis"], zero["label"]) == ("zero_soc", "Since 0 % · estimate")
    until(run.page, "() => document.querySelector('#basis').textContent.includes('0\u00a0%')")
    expect(run.page.locator("#event")).to_contain_text("0 % shown")

    # the 0 % key and a further step to 0 % are taps of the same zero
    phone.press("soc_step")
    expect(page.locator(".stepper-value")).to_have_text("0\u00a0%")  # it doesn't rise by driving
    phone.step_to(0)
    page.locator(f"{ZERO_SHEET} .tiles button", has_text="Keep").tap()
    phone.wait_stored("tapped again")
    assert run.agreed_zero() == zero
    assert [tap[:2] for tap in taps(run)] == [("soc_step", 1), ("soc_step", 0), ("note", None)]
    phone.press("zero_soc")
    page.locator(ZERO_SHEET).wait_for()


def test_the_protocols_zero_is_the_phones_too(begin: Callable[..., Run]) -> None:
    run = begin(zero_basis="zero_range")
    phone = run.phone
    phone.press("zero_soc")
    phone.wait_stored("0 % shown")
    run.roll(2)
    zero = run.agreed_zero()
    assert zero is not None
    assert zero["basis"] == "zero_soc"  # not tapped yet: what there is serves
    run.roll(2)
    phone.press("zero_range")
    phone.wait_stored("Range showed 0")
    run.roll(2)
    zero = run.agreed_zero()
    assert zero is not None
    assert (zero["basis"], zero["label"]) == ("zero_range", "Since range 0 · estimate")


def test_a_moment_chosen_as_zero_is_the_phones_too(begin: Callable[..., Run]) -> None:
    chosen_ms = round(time.time() * 1000) + 15_000
    run = begin(zero_basis="moment", zero_ms=chosen_ms)
    while time.time() * 1000 < chosen_ms + 4000:
        run.roll(1)
    zero = run.agreed_zero()
    assert zero is not None
    assert (zero["basis"], zero["t_ms"]) == ("moment", chosen_ms)
    expect(run.phone.page.locator(".keys")).to_have_attribute("data-phase", "before")
