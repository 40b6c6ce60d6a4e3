"""Write the sample sessions: ``python sample_sessions/generate.py``.

The same seed gives the same files on any processor, but for one step of the last decimal that
``simulator/decimals.py`` states for each figure, and pictures with the same pixels, however they
are packed; tests/test_samples.py holds the committed files to that. A file that differs by no more
is left as it is.
"""

from __future__ import annotations

import hashlib
import io
import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import campaign
from filmed import FILMED
from PIL import Image
from sample import Sample
from scenarios import SAMPLES
from simulator import decimals

from ebbline.exchange.archive import dump_archive, is_archive, load_archive

HERE = Path(__file__).resolve().parent

_LINE, _DEPTH = 96, 3  # shorter or deeper parts stay on one line


def files() -> dict[str, bytes]:
    """Every file by its place below this folder."""
    found: dict[str, bytes] = {}
    for make in (*SAMPLES, *FILMED):
        sample = make()
        found |= [_session_file(sample)]
        found[f"{sample.name}.truth.json"] = as_json(sample.truth)
    sessions = list(campaign.campaign())
    found |= {f"campaign/{name}": data for name, data in map(_session_file, sessions)}
    found["campaign/campaign.json"] = as_json(campaign.definition(sessions))
    found["campaign/campaign.truth.json"] = as_json(campaign.truth(sessions))
    return found


def _session_file(sample: Sample) -> tuple[str, bytes]:
    if sample.pictures:
        return f"{sample.name}.ebbline.zip", dump_archive(sample.session, sample.pictures)
    return f"{sample.name}.ebbline.json", as_json(sample.session)


def as_json(document: dict[str, Any]) -> bytes:
    """One record or column a line: small, and still fit for reading differences."""
    return (_laid_out(document, 0) + "\n").encode()


def _laid_out(value: Any, depth: int) -> str:
    whole = json.dumps(value, ensure_ascii=False, separators=(",", ":"))
    parts = list(value.values()) if isinstance(value, dict) else value
    if len(whole) <= _LINE or depth == _DEPTH or not any(map(_holds_parts, parts)):
        return whole
    if isinstance(value, dict):
        left, right = "{}"
        rows = [f"{json.dumps(key)}: {_laid_out(part, depth + 1)}" for key, part in value.items()]
    else:
        left, right = "[]"
        rows = [_laid_out(part, depth + 1) for part in value]
    indent = "\n" + " " * (depth + 1)
    return left + indent + ("," + indent).join(rows) + "\n" + " " * depth + right


def _holds_parts(value: object) -> bool:
    return isinstance(value, (dict, list))


def is_promised(held: bytes, made: bytes) -> bool:
    """Whether a file is what the generator promises: so laid out, and with these figures."""
    if is_archive(held) or is_archive(made):
        return not any(archive_differences(held, made))
    document = json.loads(held)
    return as_json(document) == held and not any(differences(document, json.loads(made)))


def archive_differences(held: bytes, made: bytes) -> Iterator[str]:
    """Where two makings of an archive differ; a picture packed otherwise is the same picture."""
    (document, pictures), (other, others) = load_archive(held), load_archive(made)
    yield from differences(_with_pixels(document, pictures), _with_pixels(other, others))


def _with_pixels(document: dict[str, Any], pictures: Mapping[str, bytes]) -> dict[str, Any]:
    """The document with each picture's size and pixels in place of the hash of its bytes."""
    text = json.dumps(document)
    for sha256, picture in pictures.items():
        with Image.open(io.BytesIO(picture)) as opened:
            pixels = opened.convert("RGB")
        digest = hashlib.sha256(pixels.tobytes()).hexdigest()
        text = text.replace(sha256, f"{pixels.width} by {pixels.height}: {digest}")
    found: dict[str, Any] = json.loads(text)
    return found


def differences(held: Any, made: Any, place: tuple[str | int, ...] = ()) -> Iterator[str]:
    """Where two makings of a document differ by more than another processor explains."""
    if isinstance(held, dict) and isinstance(made, dict) and list(held) == list(made):
        for key in held:
            yield from differences(held[key], made[key], (*place, key))
    elif isinstance(held, list) and isinstance(made, list) and len(held) == len(made):
        for i, (one, other) in enumerate(zip(held, made, strict=True)):
            yield from differences(one, other, (*place, i))
    elif held != made and not _one_step_apart(held, made, place):
        yield f"{'.'.join(map(str, place))}: {_short(held)}, now {_short(made)}"


def _one_step_apart(held: Any, made: Any, place: tuple[str | int, ...]) -> bool:
    if not (_is_number(held) and _is_number(made)):
        return False
    part, key = place[0], next(str(name) for name in reversed(place) if isinstance(name, str))
    if key.endswith("_ms"):
        step = 1.0
    elif part == "breadcrumbs" and key in decimals.FIXES:
        step = 10.0 ** -decimals.FIXES[key]
    elif part == "run":
        step = 10.0 ** -decimals.RUN[key]
    else:
        step = 10.0 ** -decimals.alone(max(abs(held), abs(made)))
    return bool(abs(held - made) < 1.5 * step)


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def _short(value: object) -> str:
    text = json.dumps(value)
    return text if len(text) <= _LINE else f"{text[:_LINE]}…"


def _write(name: str, data: bytes) -> None:
    path = HERE / name
    if path.exists() and is_promised(path.read_bytes(), data):
        print(f"{name}  as it was")
    else:
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(data)
        print(f"{name}  {len(data):,} bytes")


if __name__ == "__main__":
    for name, data in files().items():
        _write(name, data)
