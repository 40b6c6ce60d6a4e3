"""Bringing things in at the desk: what a file holds is shown first, and what came of it is said."""

from __future__ import annotations

import hashlib
import io
import json
import urllib.request
import zipfile
from typing import Any

from browser.accessibility import assert_accessible
from browser.conftest import ConsoleWatch, until
from browser.desk.conftest import Desk, text_of
from patience import LONGEST_S
from PIL import Image
from playwright.sync_api import expect

ORIGINAL, EXIF_IFD = 0x9003, 0x8769
LOG = (
    "Zeit;Spannung (V);Strom;Geschwindigkeit (km/h);Klima\n"
    + "".join(
        f"02.03.2026 09:35:{second:02d};330,5;{10 + second},0;50,0;1\n" for second in range(10, 40)
    )
).encode()
GPX = (
    '<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="x"><trk><trkseg>'
    + "".join(
        f'<trkpt lat="{12 + second / 1e4}" lon="-38"><time>2026-03-02T09:35:{second:02d}Z</time>'
        "</trkpt>"
        for second in range(30)
    )
    + "</trkseg></trk></gpx>"
).encode()


def photo(shade: int, original: str | None = None) -> bytes:
    exif = Image.Exif()
    exif[0x0110] = "test camera"
    if original:
        exif.get_ifd(EXIF_IFD)[ORIGINAL] = original
    held = io.BytesIO()
    Image.new("RGB", (320, 240), (shade, 80, 90)).save(held, "JPEG", exif=exif)
    return held.getvalue()


def file(name: str, media_type: str, data: bytes) -> dict[str, Any]:
    return {"name": name, "mimeType": media_type, "buffer": data}


def exported(desk: Desk, session_id: str) -> zipfile.ZipFile:
    """The archive of a session with photos, as the server gives it out."""
    address = f"{desk.url}/api/sessions/{session_id}/file"
    with urllib.request.urlopen(address, timeout=LONGEST_S) as answer:
        return zipfile.ZipFile(io.BytesIO(answer.read()))


def archive_of(document: dict[str, Any], photos: list[bytes], t_ms: int) -> bytes:
    """A session archive whose photos were taken a minute apart."""
    document["photos"] = [
        {"sha256": hashlib.sha256(data).hexdigest(), "t_ms": t_ms + 60_000 * index,
         "device": "phone", "media_type": "image/jpeg"}
        for index, data in enumerate(photos)
    ]  # fmt: skip
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        archive.writestr("session.json", json.dumps(document))
        for data in photos:
            archive.writestr(f"photos/{hashlib.sha256(data).hexdigest()}.jpg", data)
    return held.getvalue()


def test_photos_and_a_log_join_a_session_once_a_person_has_looked(
    desk: Desk, console: ConsoleWatch
):
    session_id = desk.bring_in("full-run")
    desk.open_session(session_id)
    photos_get_a_proposed_time_that_a_person_accepts_or_types(desk, session_id)
    a_log_is_read_only_by_a_mapping_that_somebody_looked_at(desk, session_id, console)


def photos_get_a_proposed_time_that_a_person_accepts_or_types(desk: Desk, session_id: str):
    page = desk.page
    desk.turn_to("photos")
    page.set_input_files(
        "#import-file",
        [
            file("a.jpg", "image/jpeg", photo(10, "2026:03:02 09:35:41")),
            file("IMG_20260302_093641.jpg", "image/jpeg", photo(20)),
            file("c.jpg", "image/jpeg", photo(30)),
        ],
    )
    rows = page.locator(".photo-times tbody tr")
    until(page, "() => !document.querySelector('.photo-times').textContent.includes('Looking')")
    expect(rows.nth(0)).to_contain_text("by the camera")
    expect(rows.nth(1)).to_contain_text("by its name")
    expect(rows.nth(2)).to_contain_text("nothing says when")
    expect(rows.nth(0).locator("input")).to_have_value("09:35:41.0")

    page.get_by_role("button", name="Import 3 photos").press("Enter")
    expect(page.locator(".import-photos .form-status")).to_contain_text("Each photo needs a time")
    assert desk.says(f"/sessions/{session_id}")["photos"] == []
    page.keyboard.type("09:37:41")  # the field without a time has the focus
    page.get_by_label("Shift all times by, s").fill("-1,5")
    page.get_by_role("button", name="Shift", exact=True).press("Enter")
    page.get_by_role("button", name="Import 3 photos").press("Enter")
    page.locator(".import-photos .form-status-good").wait_for()

    held = desk.says(f"/sessions/{session_id}")["photos"]
    first_ms = 1_772_444_141_000 - 1_500  # 09:35:41 UTC on 2 March 2026
    assert [entry["t_ms"] for entry in held] == [first_ms + 60_000 * k for k in range(3)]
    assert {entry["device"] for entry in held} == {"camera"}


def a_log_is_read_only_by_a_mapping_that_somebody_looked_at(
    desk: Desk, session_id: str, console: ConsoleWatch
):
    page = desk.page
    page.set_input_files("#import-file", file("log.csv", "text/csv", LOG))
    page.locator(".mapping").wait_for()
    take = page.get_by_role("button", name="Import it")
    expect(take).to_be_disabled()
    expect(page.locator(".mapping-open")).to_contain_text(
        "do positive numbers in 'Strom' mean that it flows out of the pack"
    )
    assert_accessible(page, "#import")

    console.allow("422")
    page.get_by_label("Decimal sign").select_option(".")
    page.get_by_role("button", name="Read it so").press("Enter")
    page.locator(".import-bad").wait_for()
    expect(page.locator(".import-account").first).to_contain_text("line 2")
    expect(take).to_be_disabled()

    page.get_by_label("Decimal sign").select_option(",")
    page.get_by_label("Sign of Strom out of the pack").select_option("negative")
    page.get_by_role("button", name="Read it so").press("Enter")
    until(page, "() => document.querySelector('.import-found').textContent.includes('30 rows')")
    expect(page.locator(".import-found")).to_contain_text("from 09:35:10 to 09:35:39 (UTC)")
    take.press("Enter")
    page.locator(".import-good").wait_for()
    expect(page.locator(".import-account").first).to_contain_text(
        "Imported: 0 positions, 0 events, 30 rows of a log"
    )
    with exported(desk, session_id) as archive:
        (log,) = json.loads(archive.read("session.json"))["logs"]
    assert log["current_a"][:2] == [-20.0, -21.0]


def test_the_list_takes_tracks_and_archives_and_refuses_with_a_reason(
    desk: Desk, console: ConsoleWatch
):
    console.allow("422")
    desk.open_list()
    page = desk.page
    broken = GPX.replace(b'lat="12.0001"', b'lat="north"')
    photos = [photo(40), photo(50)]
    packed = archive_of(desk.sample("full-run"), photos, 10**12)
    page.set_input_files(
        "#import-file",
        [
            file("run.ebbline.zip", "application/zip", packed),
            file("track.gpx", "application/gpx+xml", GPX),
            file("broken.gpx", "application/gpx+xml", broken),
            file("notes.docx", "application/octet-stream", b"?"),
            file("one.jpg", "image/jpeg", photos[0]),
        ],
    )

    def account(name: str) -> Any:
        return page.locator(".import-account", has_text=name).first

    until(page, "() => document.querySelectorAll('.import-bad').length === 3")
    expect(account("broken.gpx")).to_contain_text("tracks[0].segments[0].points[1].lat: is 'north'")
    expect(account("broken.gpx")).to_contain_text("nothing was stored")
    expect(account("notes.docx")).to_contain_text("can’t be imported")
    expect(account("one.jpg")).to_contain_text("open the session and drop it there")

    account("run.ebbline.zip").locator("a").wait_for()
    until(page, "() => document.body.textContent.includes('2 photos. ')")
    said = text_of(account("run.ebbline.zip"))
    assert "Imported: 40 events, 105 readings" in said
    assert "“Sample: Full run with recharge”, 2 photos." in said

    track = account("track.gpx")
    expect(track.locator(".import-found")).to_contain_text("30 fixes")
    track.get_by_role("button", name="Import it").press("Enter")
    track.get_by_role("link", name="Open it").wait_for()
    listed = desk.says("/sessions")["sessions"]
    assert {row["title"] for row in listed} == {"Sample: Full run with recharge", "track.gpx"}

    # and out again, photos and all
    with exported(desk, desk.full_run) as archive:
        names = {f"photos/{hashlib.sha256(data).hexdigest()}.jpg" for data in photos}
        assert names < set(archive.namelist())
