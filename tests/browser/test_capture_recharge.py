"""Plugged in, the page is about charging: what was noted, how it stands, what to note next."""

from __future__ import annotations

from browser.conftest import Phone, later, until
from playwright.sync_api import expect

SAYS = """([name, words]) => document.querySelector(name).textContent.includes(words)"""
CUT = """() => [...document.querySelectorAll(".charge *, .charge-state *, .advice p *")]
  .filter((node) => node.scrollWidth > node.clientWidth)
  .filter((node) => getComputedStyle(node).display !== "inline")
  .map((node) => node.textContent)"""


def plug_in(phone: Phone) -> None:
    if not phone.page.locator("main.drive").count():
        phone.drive()
    phone.press("zero_soc")
    phone.wait_stored("0 % shown")
    phone.press("plug_in")
    phone.wait_stored("Plugged in")
    phone.wait_placed("charging")


def wait_state(phone: Phone, words: str) -> None:
    until(phone.page, SAYS, [".charge-state", words])


def cut_words(phone: Phone) -> dict[tuple[int, int], list[str]]:
    """Words of the charge that a phone of some size would cut off."""
    cut = {}
    for width, height in ((320, 568), (740, 360), (360, 740)):
        phone.page.set_viewport_size({"width": width, "height": height})
        if words := phone.page.evaluate(CUT):
            cut[width, height] = words
    return cut


def test_plugged_in_the_page_is_about_charging(phone: Phone) -> None:
    page = phone.page
    phone.drive()
    drawn = "() => [...document.querySelectorAll('.drive > *')].filter((p) => p.checkVisibility())"
    names = f"{drawn}.map((part) => part.className).join(' ')"
    before = page.evaluate(names)
    assert "hero tide" in before
    assert "charge" not in before
    plug_in(phone)
    assert page.evaluate(names) == before.replace("hero tide", "hero charge charge-state")
    wait_state(phone, "No power noted yetNext: first power, then 1\u00a0%")
    until(page, SAYS, [".advice", "Enter: Charging power"])
    phone.note_display({"charge_power": "1.6"})
    wait_state(phone, "Not known yet")
    later(page, 40)
    phone.note_display({"charge_power": "1.6", "charge_energy": "0.1"})
    wait_state(phone, "Still trickling")
    later(page, 65)
    until(page, SAYS, [".advice", "Trickling 1:0"])  # it was looked at a minute ago
    expect(page.locator(".read.wanted")).to_be_visible()
    assert cut_words(phone) == {}
    page.locator(".advice-quiet").tap()
    wait_state(phone, "Was trickling")
    figures = page.locator(".charge p").all_inner_texts()
    assert [one.split("\n")[:2] for one in figures][1:] == [
        ["Power, kW", "1.6"], ["Shown, %", "0"], ["In, kWh", "0.1"],
    ]  # fmt: skip
    assert figures[1].endswith(" ago")
    later(page, 3700)
    until(page, SAYS, [".charge", "1.0\u00a0h"])
    assert cut_words(phone) == {}
    page.reload()
    page.wait_for_selector("main.drive")
    later(page, 3900)  # the page's clocks are their own again
    wait_state(phone, "Was trickling")


def test_the_loss_of_the_screen_is_said(phone: Phone) -> None:
    """A battery saver may take it in the middle of an hour at the charger."""
    phone.page.add_init_script("""(() => {
      navigator.wakeLock.request = async () => {
        if (globalThis.lock) throw new DOMException("no", "NotAllowedError");
        return globalThis.lock = new EventTarget();
      };
    })()""")
    plug_in(phone)
    screen = "() => document.querySelector('[data-cell=screen] b').dataset.tone"
    until(phone.page, f"() => ({screen})() === 'good'")
    phone.page.evaluate("() => lock.dispatchEvent(new Event('release'))")
    phone.wait_said("No longer kept on: the screen may go dark")
    assert phone.page.evaluate(screen) == "doubt"


def test_a_screen_that_was_never_kept_on_is_said_once_it_charges(phone: Phone) -> None:
    phone.page.add_init_script("""(() => {
      navigator.wakeLock.request = async () => {
        throw new DOMException("no", "NotAllowedError");
      };
    })()""")
    plug_in(phone)
    # known since the checklist: nothing is amber that hasn't changed
    expect(phone.page.locator("[data-cell=screen] b")).to_have_attribute("data-tone", "known")
    phone.wait_said("While it charges the screen may go dark")
