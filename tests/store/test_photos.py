"""The photo folder."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from ebbline.errors import InputError
from ebbline.store.photos import PhotoFolder

PICTURE = bytes(range(256)) * 40
SHA256 = hashlib.sha256(PICTURE).hexdigest()


def test_what_goes_in_comes_out_and_a_second_time_changes_nothing(tmp_path: Path) -> None:
    folder = PhotoFolder(str(tmp_path / "photos"))
    assert folder.put(SHA256, PICTURE)
    before = (tmp_path / "photos" / SHA256).stat().st_mtime_ns
    assert not folder.put(SHA256, PICTURE)
    assert folder.get(SHA256) == PICTURE
    assert [file.name for file in (tmp_path / "photos").iterdir()] == [SHA256]
    assert (tmp_path / "photos" / SHA256).stat().st_mtime_ns == before


def test_bytes_that_are_not_what_their_name_says_are_refused(tmp_path: Path) -> None:
    folder = PhotoFolder(str(tmp_path / "photos"))
    with pytest.raises(InputError, match=SHA256):
        folder.put(SHA256, PICTURE + b"!")
    assert folder.get(SHA256) is None
    assert not (tmp_path / "photos").exists()


def test_any_place_that_fsspec_reaches_will_do() -> None:
    folder = PhotoFolder("memory://test-photos")
    folder.put(SHA256, PICTURE)
    assert folder.get(SHA256) == PICTURE
    assert folder.get("0" * 64) is None
