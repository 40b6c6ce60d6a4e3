"""Photos and spoken notes are kept alike and told apart: asked of the desk's own module."""

from __future__ import annotations

import javascript

WORDS = """({ keptWords }, cases) => cases.map((kinds) =>
  keptWords(kinds.map((media_type) => ({ sha256: "", media_type }))))"""


def test_spoken_notes_are_not_counted_as_photos() -> None:
    sound, photo = "audio/webm", "image/jpeg"
    cases = [[], [photo], [sound], [photo, sound, photo, sound, sound], [photo, None]]
    assert javascript.evaluate("desk/session/spoken.js", WORDS, cases) == [
        [],
        ["1 photo"],
        ["1 spoken note"],
        ["2 photos", "3 spoken notes"],
        ["2 photos"],
    ]
