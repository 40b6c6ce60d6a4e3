"""What a new kind of tap and a new quantity touch: tried on a copy, by DEVELOPERS.md's list."""

import filecmp
import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import javascript
import pytest

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[2]
TAP = """
        "horn_stuck": EventKind(
            "Horn stuck",
            "end",
            Key("Horn", "will not stop", "warn", "M4 4h16", {"off": 7}, enters="off"),
            rung=True,
        ),"""
QUANTITY = """
        "cabin_light": ReadingKind("Cabin light", ("%",), 0.5, low=0, on_pad=True,
                                   places={"before": 3}),"""
# What is told of a file as JSON, in words and in print, a line between each.
ALL = """
import sys
from pathlib import Path
from ebbline.cli import main
for form in (["--json"], []):
    print("=====", flush=True)
    main(["analyze", sys.argv[1], *form], standalone_mode=False)
from ebbline.exchange.session_file import load_document
from ebbline.report.figures import Units
from ebbline.report.html import report_html
from ebbline.report.subject import Subject
from ebbline.sessions.results.analysis import analyze_document
document = load_document(Path(sys.argv[1]).read_bytes())
analysis = analyze_document(document)
print("=====")
print(report_html(Subject(document, analysis, "0" * 64, Units("km"))).decode())
"""


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The tree with one row more for taps and one for quantities, made as the list says."""
    copied = tmp_path_factory.mktemp("tree")
    for part in ("server", "pwa"):
        shutil.copytree(ROOT / part, copied / part)
    taps, quantities, table = touched()
    insert(copied / taps, "EVENTS: Mapping[str, EventKind] = MappingProxyType(\n    {", TAP)
    insert(copied / quantities, "READINGS: Mapping[str, ReadingKind] = MappingProxyType(\n    {",
           QUANTITY)  # fmt: skip
    python(copied, "-m", "ebbline.vocabulary")
    changed = {path for part in ("server", "pwa") for path in different(part, copied)}
    assert changed == {taps, quantities, table}
    return copied


def touched() -> list[str]:
    """The files that the contributors' guide names, in its order."""
    guide = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    part = guide.split("### A new kind of tap or reading\n")[1].split("\n#")[0]
    steps = re.findall(r"^\d\. .*", part, re.M)
    assert len(steps) <= 3
    return [path for step in steps for path in re.findall(r"`((?:server|pwa)/[\w./-]+)`", step)]


def insert(file: Path, after: str, row: str) -> None:
    text = file.read_text("utf-8")
    assert after in text
    file.write_text(text.replace(after, after + row, 1), "utf-8")


def different(part: str, copied: Path) -> Iterator[str]:
    for file in (ROOT / part).rglob("*"):
        other = copied / file.relative_to(ROOT)
        if file.is_file() and "__pycache__" not in file.parts:
            if not filecmp.cmp(file, other, shallow=False):
                yield file.relative_to(ROOT).as_posix()


def python(tree: Path, *arguments: str) -> str:
    done = subprocess.run(
        [sys.executable, *arguments],
        env={**os.environ, "PYTHONPATH": str(tree / "server"), "PYTHONIOENCODING": "utf-8"},
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_the_phone_offers_them(copy: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(javascript, "PWA", copy / "pwa")
    keys, tiles, key = javascript.evaluate(
        "capture/drive/taps.js",
        """({ keysOf, padOrder, keyOf }) =>
             [keysOf("off"), padOrder("before"), keyOf("horn_stuck")]""",
    )
    assert keys[-1] == "horn_stuck"
    assert (key["label"], key["hint"], key["glyph"]) == ("Horn", "will not stop", "M4 4h16")
    assert tiles[2] == "cabin_light"
    row = {"type": "event", "id": "a", "doc": {"kind": "horn_stuck", "t_ms": 1, "id": "a"}}
    phase = javascript.evaluate("capture/records/evidence.js",
                                "({ phaseOf }, rows) => phaseOf(rows, {})", [row])  # fmt: skip
    assert phase == "off"
    words = javascript.evaluate(
        "capture/records/words.js",
        "({ recordName }, rows) => rows.map(recordName)",
        [row, {"type": "reading", "doc": {"quantity": "cabin_light", "value": 40, "unit": "%"}}],
    )
    assert words == ["Horn stuck", "Cabin light 40\u00a0%"]


def test_the_timeline_and_the_report_have_them(copy: Path, tmp_path: Path) -> None:
    document = json.loads((ROOT / "sample_sessions/early-shutdown.ebbline.json").read_bytes())
    last = max(document["events"], key=lambda event: event["t_ms"])
    document["events"].append({**last, "id": "h", "kind": "horn_stuck", "text": None})
    document["readings"].append({"id": "c", "device": last["device"], "t_ms": last["t_ms"],
                                 "quantity": "cabin_light", "value": 40, "unit": "%"})  # fmt: skip
    file = tmp_path / "session.ebbline.json"
    file.write_text(json.dumps(document), "utf-8")
    _, as_json, in_words, report = python(copy, "-c", ALL, str(file)).split("=====\n")
    result = json.loads(as_json)
    (entry,) = (entry for entry in result["timeline"] if entry["event_id"] == "h")
    assert entry["kind"] == "horn_stuck", "not a note"
    assert "Horn stuck" in in_words
    assert "Horn stuck" in report
    assert re.search(r"Cabin light, %<.*?<td>40<", report, re.DOTALL)  # a row of its own
