"""Write the sample sessions: ``python sample_sessions/generate.py``.

The same seed gives the same bytes; tests/test_samples.py holds the committed files to that.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from scenarios import SAMPLES

HERE = Path(__file__).resolve().parent

_LINE, _DEPTH = 96, 3  # shorter or deeper parts stay on one line


def files() -> dict[str, bytes]:
    """Every file by its name, as it must stand beside this one."""
    found = {}
    for make in SAMPLES:
        sample = make()
        found[f"{sample.name}.ebbline.json"] = as_json(sample.session)
        found[f"{sample.name}.truth.json"] = as_json(sample.truth)
    return found


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


if __name__ == "__main__":
    for name, data in files().items():
        (HERE / name).write_bytes(data)
        print(f"{name}  {len(data):,} bytes")
