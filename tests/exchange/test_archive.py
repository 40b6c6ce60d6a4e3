import hashlib
import io
import json
import zipfile
import zlib
from typing import Any

import pytest
from exchange.documents import a_document
from hypothesis import given, settings
from hypothesis import strategies as st

from ebbline.errors import EbblineError, InputError, TooLargeError
from ebbline.exchange import archive, session_file

PICTURE = b"not really a picture" * 50
DIGEST = hashlib.sha256(PICTURE).hexdigest()
NAME = f"photos/{DIGEST}.jpg"


def with_photo() -> dict[str, Any]:
    document = a_document()
    document["photos"][0]["sha256"] = document["readings"][0]["photo"] = DIGEST
    return document


def packed(*entries: tuple[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", method) as target:
        for name, content in entries:
            target.writestr(name, content)
    return data.getvalue()


def session_json() -> tuple[str, bytes]:
    return ("session.json", json.dumps(with_photo()).encode())


def refusal(data: bytes) -> InputError:
    with pytest.raises(InputError) as caught:
        session_file.load_archive(data)
    return caught.value


def test_an_archive_loses_nothing_by_being_written_and_read():
    data = session_file.dump_archive(with_photo(), {DIGEST: PICTURE})
    assert session_file.is_archive(data)
    assert session_file.load_archive(data) == (with_photo(), {DIGEST: PICTURE})


def test_the_same_content_gives_the_same_bytes():
    first = session_file.dump_archive(with_photo(), {DIGEST: PICTURE})
    assert first == session_file.dump_archive(with_photo(), {DIGEST: PICTURE})


def test_the_names_inside_are_those_of_the_format():
    data = session_file.dump_archive(with_photo(), {DIGEST: PICTURE})
    with zipfile.ZipFile(io.BytesIO(data)) as opened:
        assert opened.namelist() == ["session.json", NAME]


def test_an_archive_made_by_another_tool_is_read():
    data = packed(("photos/", b""), (NAME, PICTURE), session_json())
    assert session_file.load_archive(data) == (with_photo(), {DIGEST: PICTURE})


def test_json_is_no_archive():
    assert not session_file.is_archive(json.dumps(a_document()).encode())
    assert refusal(b"{}").where == "$"


@pytest.mark.parametrize(
    "name",
    [
        "../session.json",
        "/etc/passwd",
        "photos/../../x.jpg",
        "photos\\x.jpg",
        "C:\\session.json",
        "photos/short.jpg",
        f"photos/{DIGEST}.jpg/../../x",
        f"photos/{DIGEST.upper()}.jpg",
        f"./photos/{DIGEST}.jpg",
        "notes.txt",
        "session.json/",
        f"photos/{DIGEST}.jpg\n",
        f"photos/{DIGEST}.jpg\x00.exe",
    ],
)
def test_a_name_that_does_not_belong_there_is_refused(name):
    data = packed(session_json(), (NAME, PICTURE), ("x" * len(name), b"x"))
    data = data.replace(b"x" * len(name), name.encode())
    assert "does not belong" in refusal(data).problem


def test_a_missing_document_is_named():
    assert refusal(packed((NAME, PICTURE))).where == "session.json"


def test_what_is_wrong_in_the_document_keeps_its_place():
    document = with_photo()
    document["events"][0]["t_ms"] = -1
    data = packed(("session.json", json.dumps(document).encode()), (NAME, PICTURE))
    assert refusal(data).where == "events[0].t_ms"


def test_a_photo_that_is_missing_is_named():
    assert refusal(packed(session_json())).where == "photos[0].sha256"


def test_a_photo_that_nothing_names_is_refused_not_dropped():
    other = hashlib.sha256(b"other").hexdigest()
    data = packed(session_json(), (NAME, PICTURE), (f"photos/{other}.png", b"other"))
    assert refusal(data).where == f"photos/{other}.png"


def test_a_photo_with_other_bytes_than_its_name_says_is_refused():
    assert refusal(packed(session_json(), (NAME, PICTURE + b"!"))).where == NAME


def test_the_same_name_twice_is_refused():
    with pytest.warns(UserWarning, match="Duplicate name"):
        data = packed(session_json(), (NAME, PICTURE), session_json())
    assert "twice" in refusal(data).problem


def test_an_encrypted_entry_is_refused():
    data = bytearray(packed(session_json(), (NAME, PICTURE)))
    at = data.index(b"PK\x01\x02")
    data[at + 8] |= 1
    assert refusal(bytes(data)).problem == "is encrypted"


def test_a_packing_that_we_do_not_read_is_refused():
    data = packed(session_json(), (NAME, PICTURE), method=zipfile.ZIP_BZIP2)
    assert "deflate" in refusal(data).problem


def test_a_document_that_unpacks_to_more_than_we_take_is_refused(monkeypatch):
    """A bomb: a hundred megabytes of blanks pack into a hundred kilobytes."""
    monkeypatch.setattr(archive, "MAX_FILE_BYTES", 1_000_000)
    data = packed(("session.json", b" " * 100_000_000))
    assert len(data) < 200_000
    with pytest.raises(TooLargeError) as caught:
        session_file.load_archive(data)
    assert caught.value.where == "session.json"


def test_a_size_that_lies_does_not_get_past_the_limit(monkeypatch):
    monkeypatch.setattr(archive, "MAX_FILE_BYTES", 1000)
    data = bytearray(packed(("session.json", b" " * 100_000)))
    for signature, offset in ((b"PK\x03\x04", 22), (b"PK\x01\x02", 24)):
        at = data.index(signature) + offset
        data[at : at + 4] = (10).to_bytes(4, "little")
    assert refusal(bytes(data)).where == "session.json"


def test_photos_that_unpack_to_more_than_we_take_are_refused(monkeypatch):
    data = packed(session_json(), (NAME, PICTURE))
    monkeypatch.setattr(archive, "MAX_PHOTO_BYTES", len(PICTURE))
    session_file.load_archive(data)
    monkeypatch.setattr(archive, "MAX_PHOTO_BYTES", len(PICTURE) - 1)
    with pytest.raises(TooLargeError) as caught:
        session_file.load_archive(data)
    assert caught.value.where == NAME


def test_all_photos_together_have_a_limit_too(monkeypatch):
    monkeypatch.setattr(archive, "MAX_PHOTOS_BYTES", len(PICTURE) - 1)
    with pytest.raises(TooLargeError):
        session_file.load_archive(packed(session_json(), (NAME, PICTURE)))


@pytest.mark.parametrize("photos", [{}, {DIGEST: b"other"}, {DIGEST: PICTURE, "00" * 32: b""}])
def test_photos_that_do_not_belong_to_the_document_are_not_written(photos):
    with pytest.raises(InputError):
        session_file.dump_archive(with_photo(), photos)


@settings(max_examples=300)
@given(st.data())
def test_no_damage_to_an_archive_raises_anything_but_a_refusal(data):
    damaged = bytearray(packed(session_json(), (NAME, PICTURE)))
    for _ in range(data.draw(st.integers(1, 5))):
        damaged[data.draw(st.integers(0, len(damaged) - 1))] = data.draw(st.integers(0, 255))
    damaged = damaged[: data.draw(st.integers(0, len(damaged)))]
    try:
        session_file.load_archive(bytes(damaged))
    except EbblineError:
        return


def test_a_damaged_stream_is_refused_with_its_place():
    data = packed(session_json(), (NAME, PICTURE))
    good = zlib.compress(b"x")
    at = data.index(b"session.json") + len(b"session.json")
    damaged = data[:at] + bytes(len(good)) + data[at + len(good) :]
    assert refusal(damaged).where == "session.json"
