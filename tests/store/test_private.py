"""Who may read what lies on this machine, whatever the process's umask."""

from __future__ import annotations

import errno
import hashlib
import os
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner
from sqlalchemy import text

from ebbline import store
from ebbline.cli import main
from ebbline.cli.places import Places
from ebbline.errors import FullError
from ebbline.store import private
from ebbline.store.photos import PhotoFolder

PICTURE = b"a picture" * 1000
SHA256 = hashlib.sha256(PICTURE).hexdigest()


@pytest.fixture(params=[0o000, 0o022], ids=["umask 000", "umask 022"], autouse=True)
def careless(request: pytest.FixtureRequest) -> Iterator[None]:
    before = os.umask(request.param)
    yield
    os.umask(before)


def mode(path: Path) -> str:
    return oct(stat.S_IMODE(path.stat().st_mode))


def test_what_is_made_anew_is_its_owners_alone(tmp_path: Path) -> None:
    where = Places.of(None, tmp_path / "deep" / "data")
    with where.open_database() as engine, engine.begin() as connection:
        connection.execute(text("CREATE TABLE more (id INTEGER)"))
        where.photo_folder().put(SHA256, PICTURE)
        modes = {path.name: mode(path) for path in where.data.iterdir()}
    assert modes.pop("photos") == mode(where.data) == "0o700"
    assert {"ebbline.sqlite3", "ebbline.sqlite3-wal", "ebbline.sqlite3-shm"} == set(modes)
    assert set(modes.values()) == {mode(where.data / "photos" / SHA256)} == {"0o600"}


def test_a_database_named_by_its_url_is_its_owners_alone(tmp_path: Path) -> None:
    store.open_engine(f"sqlite:///{tmp_path / 'other.sqlite3'}").dispose()
    assert mode(tmp_path / "other.sqlite3") == "0o600"


def test_what_others_could_read_is_shut_at_the_next_start_and_said_once(tmp_path: Path) -> None:
    data = tmp_path / "data"
    where = Places.of(None, data)
    with where.open_database():
        where.photo_folder().put(SHA256, PICTURE)
    photos, database = data / "photos", data / "ebbline.sqlite3"
    for path in (data, photos):
        path.chmod(0o755)
    for path in (database, photos / SHA256):
        path.chmod(0o644)
    said = CliRunner().invoke(main, ["user", "list", "--data", str(data)]).stderr
    for path in (data, photos, database):
        assert f"could read {path};" in said
    assert mode(data) == mode(photos) == "0o700"
    assert mode(database) == mode(photos / SHA256) == "0o600"
    assert (
        "could read" not in CliRunner().invoke(main, ["user", "list", "--data", str(data)]).stderr
    )


def test_a_folder_that_many_share_is_not_shut(tmp_path: Path) -> None:
    tmp_path.chmod(0o1777)
    assert not private.shut_folder(tmp_path)
    assert mode(tmp_path) == "0o1777"


def test_a_full_disk_leaves_nothing_of_a_photo(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_handle: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    folder = PhotoFolder(str(tmp_path / "photos"))
    with monkeypatch.context() as patch:
        patch.setattr(os, "fsync", full)
        (tmp_path / "photos").mkdir()
        with pytest.raises(FullError, match="full"):
            folder.put(SHA256, PICTURE)
    assert list((tmp_path / "photos").iterdir()) == []
    assert folder.put(SHA256, PICTURE)
    assert folder.get(SHA256) == PICTURE


def test_a_photos_name_is_durable_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    synced: list[str] = []
    really = os.fsync

    def watched(handle: int) -> None:
        synced.append(os.readlink(f"/proc/self/fd/{handle}"))
        really(handle)

    monkeypatch.setattr(os, "fsync", watched)
    PhotoFolder(str(tmp_path / "photos")).put(SHA256, PICTURE)
    written, *folders = synced[-2:]
    assert ".part" in written
    assert folders == [str(tmp_path / "photos")]
