"""Letting people and phones in, over TLS with the server's own authority, as they would come."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser.accessibility import assert_accessible
from browser.conftest import (
    WAIT_MS,
    ConsoleWatch,
    chromium_arguments,
    chromium_program,
    trust_argument,
    until,
)
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, expect
from server_process import TLS_PASSWORD, LiveServer, new_tls_server

ID = str(uuid.uuid4())
PUT = """
async ([path, body]) => {
  const headers = { 'Content-Type': 'application/json' };
  const answer = await fetch(path, { method: 'PUT', headers, body: JSON.stringify(body) });
  return answer.status;
}
"""
KEYS = "(path) => fetch(path).then((answer) => answer.json()).then(({ keys }) => keys)"


@pytest.fixture(scope="class")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[LiveServer]:
    server = new_tls_server(tmp_path_factory.mktemp("pairing") / "server")
    server.start()
    yield server
    server.stop()


@pytest.fixture(scope="class")
def trusting(player: Playwright, server: LiveServer) -> Iterator[Browser]:
    """A browser that has been told to trust this server, as installing its authority would."""
    browser = player.chromium.launch(
        executable_path=chromium_program(shell=True),
        args=[*chromium_arguments(), trust_argument(server)],
    )
    yield browser
    browser.close()


@pytest.fixture
def context(trusting: Browser) -> Iterator[BrowserContext]:
    context = trusting.new_context(viewport={"width": 1280, "height": 800}, accept_downloads=True)
    context.set_default_timeout(WAIT_MS)
    yield context
    context.close()


def sign_in(page: Page, password: str) -> None:
    page.fill("#name", "alex")
    page.fill("#password", password)
    page.click("form button")


class TestLettingIn:
    def test_a_person_signs_in_lets_a_phone_in_and_shuts_it_out(
        self, server: LiveServer, context: BrowserContext, console: ConsoleWatch
    ) -> None:
        desk = context.new_page()
        console.watch(desk)
        console.allow("401")  # the wrong password, and the phone that is shut out

        desk.goto(f"{server.url}/desk?session={ID}")
        assert desk.url == f"{server.url}/sign-in#/desk?session={ID}"
        assert_accessible(desk)
        sign_in(desk, "not the password")
        until(
            desk, "() => document.querySelector('#problem').textContent.includes('belong together')"
        )
        assert_accessible(desk)
        sign_in(desk, TLS_PASSWORD)
        desk.wait_for_url(f"{server.url}/desk?session={ID}", wait_until="commit")
        setup = {
            "session": {"id": ID, "title": "Evening run"},
            "vehicle": {"label": "Sample car A"},
        }
        body = {"base": None, "setup": setup}
        assert desk.evaluate(PUT, [f"/api/sessions/{ID}", body]) == 200
        console.allow("404")  # the page was opened before there was a session
        desk.reload()
        desk.click(".parts a[href='#history']")
        desk.fill("#phone-label", "Passenger's phone")
        desk.click("#phones button[type=submit]")
        link = desk.locator("#phones a[href*='/capture#join=']").first
        url = link.get_attribute("href") or ""
        assert url.startswith(f"{server.url}/capture#join={ID}.")

        phone = context.new_page()
        phone.goto(url)
        until(phone, "() => location.hash === ''")
        until(
            phone, "() => navigator.serviceWorker.controller !== null"
        )  # trusted, not waved through
        until(phone, "() => document.body.innerText.includes('Evening run')")
        (key,) = desk.evaluate(KEYS, f"/api/sessions/{ID}/keys")
        assert key["last_used_at"] is not None

        # a second phone of the same name: whoever is to be blocked can be told
        desk.fill("#phone-label", "Passenger's phone")
        desk.click("#phones button[type=submit]")
        until(desk, "() => document.querySelectorAll('.phone-keys li').length === 2")
        expect(desk.locator(".phone-fresh h3")).to_contain_text("For Passenger's phone (2)")
        expect(desk.locator(".phone-keys", has_text="made")).to_have_count(1)
        desk.get_by_role("button", name="Block Passenger's phone (2)", exact=True).click()
        desk.get_by_role("button", name="Block Passenger's phone (2)", exact=True).click()
        until(desk, "() => document.querySelector('#phones').textContent.includes('is blocked')")
        (second,) = [
            key
            for key in desk.evaluate(KEYS, f"/api/sessions/{ID}/keys")
            if key["revoked_at"] is not None
        ]
        assert second["label"] == "Passenger's phone (2)"

        desk.reload()
        out = desk.get_by_role("button", name=re.compile("Block"))
        out.click()
        out.click()
        until(desk, "() => document.querySelector('#phones').textContent.includes('is blocked')")
        keys = desk.evaluate(KEYS, f"/api/sessions/{ID}/keys")
        assert all(key["revoked_at"] is not None for key in keys)

        desk.get_by_role("button", name="Sign out").click()
        desk.wait_for_url(f"{server.url}/sign-in", wait_until="commit")
        desk.goto(f"{server.url}/desk")
        assert desk.url == f"{server.url}/sign-in#/desk"

    def test_the_help_page_shows_the_steps_of_one_kind_of_phone(
        self, server: LiveServer, context: BrowserContext, console: ConsoleWatch
    ) -> None:
        page = context.new_page()
        console.watch(page)
        for start in (server.url, f"http://127.0.0.1:{server.port + 1}"):
            page.goto(f"{start}/join")
            until(page, "() => document.querySelector('#sha256').textContent.length > 90")
            expect(page.locator("#capture")).to_have_attribute("href", f"{server.url}/capture")
            for kind, other in (("ios", "android"), ("android", "ios")):
                page.check(f"input[value={kind}]", force=True)
                expect(page.locator(f".for-{kind}").first).to_be_visible()
                assert not any(one.is_visible() for one in page.locator(f".for-{other}").all())
                steps = page.locator(".steps > li").all()
                assert [step.get_attribute("id") for step in steps if step.is_visible()] == [
                    "fetch", "trust", "install", "pair",
                ]  # fmt: skip
                assert_accessible(page)
        with page.expect_download() as download:
            page.click("#fetch .button")
        assert Path(download.value.path()).read_bytes()[:2] == b"\x30\x82"  # DER
