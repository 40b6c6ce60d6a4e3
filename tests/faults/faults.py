"""What can happen to a phone, its network and its server: each strikes while someone records."""

from __future__ import annotations

from collections.abc import Callable

from .world import World

Fault = Callable[[World], None]
HEARD_WITHIN_S = 6.0  # of what another phone has just sent


def page_killed(world: World) -> None:
    """The page's process ends right after a touch."""
    world.me.act(bold=True)
    world.moment()
    world.me.crash()
    world.me.come_back()


def browser_killed(world: World) -> None:
    """Every process of the browser ends right after a touch; it is started again."""
    world.me.act(bold=True)
    world.moment()
    world.browser.kill()
    world.start_browser()
    world.me.come_back()


def phone_locked(world: World) -> None:
    """The screen goes dark, the processes stand still, and the phone wakes."""
    world.me.hide(True)
    world.browser.stop_for(world.chance.uniform(0.5, 7.0))
    world.me.hide(False)


def call_taken(world: World) -> None:
    """Another app covers the page, which goes on running without a position."""
    world.me.hide(True)
    world.me.page.wait_for_timeout(world.chance.uniform(500, 6500))
    world.me.hide(False)


def reloaded(world: World) -> None:
    """The page is loaded again right after a touch."""
    world.me.act(bold=True)
    world.moment()
    world.me.page.reload()
    world.me.page.wait_for_selector("main.drive")


def storage_full(world: World) -> None:
    """Nothing more can be stored for a while; the screen has to say so."""
    world.me.fill_storage()
    world.me.act_until_unstored()
    world.me.wait(world.chance.uniform(0, 2))
    world.me.free_storage()
    world.me.wait_until_stored_again()


def clock_set(world: World) -> None:
    """Somebody, or the network, sets the wall clock by an hour."""
    world.me.shift_clock(world.chance.choice([-1, 1]))
    world.me.act(world.chance.randint(1, 2))
    if world.chance.random() < 0.5:
        world.me.page.reload()
        world.me.page.wait_for_selector("main.drive")


def server_killed(world: World) -> None:
    """The server's processes end, perhaps in the middle of an answer."""
    world.me.act(bold=True)
    world.me.wait(world.chance.uniform(0, 1.5))
    world.laptop.server.kill()
    world.me.act(world.chance.randint(1, 2))
    world.laptop.server.start()


def server_restored(world: World) -> None:
    """The server is put back to an older copy: what it had confirmed since is lost there."""
    world.me.wait(1)
    world.laptop.copy_data()
    world.me.act(2)
    world.wait_synced()
    world.laptop.restore()
    world.uploads_before_loss = world.line.uploads.copy()


def line_lossy(world: World) -> None:
    """Each second request is lost, on its way there or on its way back."""
    world.line.state = "lossy"
    world.me.act(world.chance.randint(2, 4))
    world.me.wait(world.chance.uniform(1, 4))
    if world.chance.random() < 0.5:
        world.wait_synced()  # it must get through such a line too
    world.line.state = "good"


def portal(world: World) -> None:
    """Somebody else's network answers everything with status 200 and a login page."""
    world.line.state = "portal"
    world.me.act(world.chance.randint(1, 3))
    world.me.network_came_back()
    if world.chance.random() < 0.5:
        world.me.page.reload()
        world.me.page.wait_for_selector("main.drive")
    world.me.wait(world.chance.uniform(0.5, 2))
    world.line.state = "good"


def two_phones(world: World) -> None:
    """A second phone records in the same session; each hears of the other, mostly."""
    world.wait_synced()
    other = world.add_phone()
    for _ in range(world.chance.randint(1, 2)):
        other.act(bold=True)
        world.me.act(bold=world.chance.random() < 0.5)
        if world.chance.random() < 0.5:
            world.me.wait(HEARD_WITHIN_S)
    other.act()


def killed_at_a_note(world: World) -> None:
    """The page's process ends while a note is being spoken: of that the end is lost with the rest,
    and no tap. The next one is kept.
    """
    world.me.speak()
    world.me.act(bold=True)
    world.moment()
    world.me.crash()
    world.me.come_back()
    world.me.speak()
    world.me.act(world.chance.randint(0, 2))
    world.me.wait(world.chance.uniform(0.3, 2))
    world.me.stop_speaking()


def two_tabs(world: World) -> None:
    """The same phone has the page open twice; one of the two is closed."""
    world.me.act(bold=True)
    other = world.add_tab()
    other.act(world.chance.randint(1, 2), bold=world.chance.random() < 0.3)
    world.me.page.bring_to_front()
    world.me.act()
    if world.chance.random() < 0.5:
        other.page.close()
    else:
        world.me.page.close()
        world.look_at(other)


def token_revoked(world: World) -> None:
    """The desk takes the phone's code back while it records, and later shows a new one."""
    world.wait_synced()
    key = world.laptop.new_key(world.me.session)
    world.me.scan(key["token"])
    world.me.act()
    world.wait_synced()
    world.laptop.revoke(world.me.session, key["id"])
    world.me.act(world.chance.randint(1, 3))
    world.me.wait_shut_out()
    if world.chance.random() < 0.5:
        world.me.page.reload()
        world.me.page.wait_for_selector("main.drive")
    world.me.act()
    world.me.scan(world.laptop.new_key(world.me.session)["token"])


FAULTS: dict[str, Fault] = {
    "page killed": page_killed,
    "browser killed": browser_killed,
    "phone locked": phone_locked,
    "call taken": call_taken,
    "page reloaded": reloaded,
    "storage full": storage_full,
    "clock set by an hour": clock_set,
    "server killed": server_killed,
    "server put back to a copy": server_restored,
    "each second request lost": line_lossy,
    "captive portal": portal,
    "code taken back": token_revoked,
    "two phones": two_phones,
    "killed at a spoken note": killed_at_a_note,
    "one phone, two tabs": two_tabs,
}
