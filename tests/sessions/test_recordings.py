"""Evidence of others in a session: all of a file or nothing, once, out again as it came."""

from __future__ import annotations

import hashlib
import json
from datetime import datetime
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

import pytest
from database_contents import contents
from exchange.documents import ID, T_MS, a_document
from exchange.test_csv_reading import PLAIN, POSITIONS, ROWS
from exchange.test_gpx_reading import HEAD, point, track
from sqlalchemy import Engine
from sqlalchemy.orm import Session

from ebbline import store
from ebbline.errors import ConflictError, InputError, NotFoundError
from ebbline.exchange import session_file
from ebbline.sessions.files.recordings import (
    ImportedRecording,
    ImportOptions,
    import_as_session,
    import_recording,
    session_for,
)
from ebbline.sessions.files.session_files import export_file, import_file
from ebbline.sessions.overview.contents import contents_of
from ebbline.sessions.records.document import document_of
from ebbline.sessions.records.setups import current_setup
from ebbline.sessions.results.exports import export_gpx
from ebbline.sessions.results.results import result_of
from ebbline.store.photos import PhotoFolder

SESSION_ID = UUID(ID)
WAYPOINT = '<wpt lat="12" lon="-38"><time>2026-03-02T14:00:09Z</time><name>Pit</name></wpt>'
GPX = f"{HEAD}{WAYPOINT}{track(point(0) + point(1), point(30))}</gpx>".encode()
CSV = ROWS.encode()


@pytest.fixture
def folder(tmp_path: Path) -> PhotoFolder:
    return PhotoFolder(str(tmp_path / "photos"))


@pytest.fixture
def held(db_session: Session, folder: PhotoFolder) -> Session:
    """A database with one session recorded by a phone."""
    import_file(db_session, folder, session_file.dump_document(a_document()), T_MS)
    return db_session


def take(db_session: Session, data: bytes, **stated: Any) -> ImportedRecording:
    given = {"name": "log.csv", **stated}
    return import_recording(db_session, SESSION_ID, data, ImportOptions(**given), T_MS + 10**6)


def test_a_track_joins_the_session_beside_what_it_has(held: Session) -> None:
    before = document_of(held, SESSION_ID)
    done = take(held, GPX, name="track.gpx")
    assert (done.fixes, done.events, done.log_rows, done.changed) == (3, 1, 0, True)
    after = document_of(held, SESSION_ID)
    assert after["breadcrumbs"][: len(before["breadcrumbs"])] == before["breadcrumbs"]
    assert after["events"][: len(before["events"])] == before["events"]
    own = [entry for entry in after["breadcrumbs"] if entry["device"] == done.devices[0]]
    assert [entry["seq"] for entry in own] == [[0, 1], [2]]  # segments stay apart
    session_file.check_document(after)


def test_the_session_says_which_file_brought_what_and_when(held: Session) -> None:
    assert contents_of(held, SESSION_ID).imported_files == [], "a phone's own fixes are no file"
    track_taken = take(held, GPX, name="track.gpx")
    take(held, CSV, mapping=PLAIN)
    track_of, log_of = contents_of(held, SESSION_ID).imported_files
    assert (track_of.name, track_of.device) == ("track.gpx", track_taken.devices[0])
    assert track_of.sha256 == hashlib.sha256(GPX).hexdigest()
    assert (track_of.fixes, track_of.events, track_of.log_rows) == (3, 1, 0)
    fixes = [crumbs for crumbs in document_of(held, SESSION_ID)["breadcrumbs"]
             if crumbs["device"] == track_of.device]  # fmt: skip
    assert track_of.from_ms == min(crumbs["t_ms"][0] for crumbs in fixes)
    assert track_of.to_ms == max(crumbs["t_ms"][-1] for crumbs in fixes)
    assert datetime.fromisoformat(track_of.taken_at).timestamp() * 1000 == T_MS + 10**6
    assert (log_of.name, log_of.fixes, log_of.log_rows) == ("log.csv", 0, 2)


def test_a_log_joins_the_session_with_how_it_was_read(held: Session) -> None:
    done = take(held, CSV, mapping=PLAIN)
    (log,) = document_of(held, SESSION_ID)["logs"]
    assert (done.log_rows, log["device"]) == (2, done.devices[0])
    assert log["mapping"]["current"]["discharge"] == "positive"


@pytest.mark.parametrize(
    ("data", "stated"),
    [
        (GPX, {"name": "track.gpx"}),
        (CSV, {"mapping": PLAIN}),
        (f"t,lat,lon,v\n{T_MS},12,-38,5\n".encode(), {"mapping": POSITIONS}),
    ],
    ids=["gpx", "log", "positions"],
)
def test_the_same_file_again_changes_nothing(
    held: Session, engine: Engine, data: bytes, stated: dict[str, Any]
) -> None:
    assert take(held, data, **stated).changed
    before = contents(engine)
    assert not take(held, data, **stated).changed
    assert contents(engine) == before


def test_a_file_written_from_a_session_brings_that_session_nothing(
    held: Session, engine: Engine
) -> None:
    data = export_gpx(held, SESSION_ID).encode()
    before = contents(engine)
    with pytest.raises(ConflictError, match="written from this session, which holds all of it"):
        take(held, data, name="track.gpx")
    assert contents(engine) == before
    other = import_as_session(held, data, ImportOptions("track.gpx"), T_MS)
    assert (other.id != SESSION_ID, other.changed) == (True, True)


def test_what_was_imported_travels_in_the_session_file(
    held: Session, folder: PhotoFolder, tmp_path: Path
) -> None:
    take(held, GPX, name="track.gpx")
    take(held, CSV, mapping=PLAIN)
    exported = export_file(held, folder, SESSION_ID).content
    elsewhere = store.open_engine(f"sqlite:///{tmp_path / 'elsewhere.sqlite3'}")
    with Session(elsewhere) as other:
        import_file(other, folder, exported, T_MS)
        again = export_file(other, folder, SESSION_ID).content
    elsewhere.dispose()
    assert json.loads(again) == json.loads(exported)


@pytest.mark.parametrize(
    ("data", "stated"),
    [
        (GPX.replace(b'lat="12.0"', b'lat="91"', 1), {}),
        (GPX[:-20], {}),
        (GPX, {"mapping": PLAIN}),
        (CSV, {}),
        (CSV + b"torn", {"mapping": PLAIN}),
        (session_file.dump_document(a_document()), {}),
        (b"PK\x03\x04", {}),
        (b"", {"mapping": PLAIN}),
    ],
)
def test_what_is_refused_leaves_nothing_behind(
    held: Session, engine: Engine, data: bytes, stated: dict[str, Any]
) -> None:
    before = contents(engine)
    with pytest.raises(InputError):
        take(held, data, **stated)
    assert contents(engine) == before


def test_another_reading_of_the_same_file_is_refused_and_may_come_as_another_device(
    held: Session, engine: Engine
) -> None:
    """The zone was wrong the first time."""
    body = track(point(0, inner="<time>2026-03-02T15:00:00</time>"))
    data = f"{HEAD}{body}</gpx>".encode()
    take(held, data, zone="UTC")
    before = contents(engine)
    with pytest.raises(ConflictError, match="held already with other content"):
        take(held, data, zone="Europe/Vienna")
    assert contents(engine) == before
    assert take(held, data, zone="Europe/Vienna", device="put right").changed


def test_nothing_is_put_among_the_fixes_of_a_phone_that_may_still_be_sending(
    held: Session, engine: Engine
) -> None:
    before = contents(engine)
    with pytest.raises(ConflictError, match=r"'phone-1'.* another device"):
        take(held, GPX, device="phone-1")
    assert contents(engine) == before


def test_a_session_that_is_not_there_takes_nothing(db_session: Session, engine: Engine) -> None:
    before = contents(engine)
    with pytest.raises(NotFoundError):
        import_recording(db_session, uuid4(), GPX, ImportOptions("track.gpx"), T_MS)
    assert contents(engine) == before


def test_a_new_session_for_a_file_is_the_same_each_time(
    db_session: Session, engine: Engine
) -> None:
    first = session_for(db_session, GPX, "track.gpx", T_MS)
    before = contents(engine)
    assert session_for(db_session, GPX, "track.gpx", T_MS + 5) == first
    assert contents(engine) == before
    assert current_setup(db_session, first).setup["session"]["title"] == "track.gpx"


def test_the_result_knows_of_a_log_as_soon_as_it_is_there(held: Session) -> None:
    assert json.loads(result_of(held, SESSION_ID))["power_log"] is None
    take(held, CSV, mapping=PLAIN, device="logger")
    result = json.loads(result_of(held, SESSION_ID))
    assert result["power_log"]["device"] == "logger"
