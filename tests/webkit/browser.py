"""A bare WebKitGTK browser that WebKitWebDriver can drive; run by the system's Python.

What surrounds it is told in a file of JSON, named by ``EBBLINE_SURROUNDINGS`` and read four times a
second: ``allowed`` (whether a page may have what it asks for), ``page_cache`` (whether a page that
is left is kept), ``accuracy_m`` and ``speed_mps`` of the position, which moves north; an
``accuracy_m`` of null is a receiver without a fix. Its profile lies in ``EBBLINE_PROFILE``.
"""

import json
import os
from pathlib import Path

import gi

gi.require_version("Gtk", "3.0")
gi.require_version("WebKit2", "4.1")

from gi.repository import GLib, Gtk, WebKit2  # noqa: E402

EVERY_MS = 250
METRES_PER_DEGREE = 111_195.0
PROFILE = Path(os.environ["EBBLINE_PROFILE"])
SURROUNDINGS = Path(os.environ["EBBLINE_SURROUNDINGS"])


def surroundings():
    return json.loads(SURROUNDINGS.read_text())


class Receiver:
    """Feeds positions to pages that watch them."""

    def __init__(self, manager):
        self._manager = manager
        self._is_watched = False
        self._along_m = 0.0
        manager.connect("start", self._start)
        manager.connect("stop", self._stop)
        GLib.timeout_add(EVERY_MS, self._step)

    def _start(self, _manager):
        self._is_watched = True
        return True

    def _stop(self, _manager):
        self._is_watched = False

    def _step(self):
        now = surroundings()
        self._along_m += now["speed_mps"] * EVERY_MS / 1000
        if self._is_watched and now["accuracy_m"] is not None:
            latitude = 47.0 + self._along_m / METRES_PER_DEGREE
            position = WebKit2.GeolocationPosition.new(latitude, 8.0, now["accuracy_m"])
            position.set_speed(now["speed_mps"])
            position.set_heading(0.0)
            self._manager.update_position(position)
        return True


def answer(_view, request):
    """Allow or deny what a page asks for."""
    (request.allow if surroundings()["allowed"] else request.deny)()
    return True


def new_view(context):
    settings = WebKit2.Settings()
    settings.set_enable_write_console_messages_to_stdout(True)
    settings.set_enable_media_stream(True)
    settings.set_enable_mock_capture_devices(True)
    settings.set_hardware_acceleration_policy(WebKit2.HardwareAccelerationPolicy.NEVER)
    view = WebKit2.WebView(web_context=context, settings=settings, is_controlled_by_automation=True)
    view.connect("permission-request", answer)

    def leave(_view, _decision, _kind):
        settings.set_enable_page_cache(surroundings()["page_cache"])
        return False

    view.connect("decide-policy", leave)
    window = Gtk.Window()
    window.set_decorated(False)
    window.set_default_size(360, 740)
    window.add(view)
    window.show_all()
    view.grab_focus()
    return view


def begin(context, session):
    about = WebKit2.ApplicationInfo()
    about.set_name("Ebbline tests")
    about.set_version(1, 0, 0)
    session.set_application_info(about)
    session.connect("create-web-view", lambda _session: new_view(context))


data = WebKit2.WebsiteDataManager(
    base_data_directory=str(PROFILE / "data"), base_cache_directory=str(PROFILE / "cache")
)
context = WebKit2.WebContext.new_with_website_data_manager(data)
context.set_automation_allowed(True)
receiver = Receiver(context.get_geolocation_manager())
context.connect("automation-started", begin)
Gtk.main()
