"""How much processor time it takes to publish everything of a session.

    python tests/benchmarks/publishing.py [--keep FOLDER]

The full run with a mark that times a film: report, pictures, film tracks, data. Prints the seconds
of processor (other work on the machine doesn't count) that loading, the analysis and each piece
take, and their sum. ``--keep`` writes the pieces, to compare what two versions make.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import orjson

from ebbline.sessions.results.publishing import subject_of_file

SAMPLE = Path(__file__).resolve().parents[2] / "sample_sessions" / "full-run.ebbline.json"
LIMIT_S = 8.0
BEFORE_ZERO_MS = 60_000


def filmed() -> bytes:
    """The sample with a mark on a film that began ninety seconds before zero."""
    document = orjson.loads(SAMPLE.read_bytes())
    zero = next(event for event in document["events"] if event["kind"] == "zero_soc")
    mark = {"id": "mark", "device": zero["device"], "t_ms": zero["t_ms"] - BEFORE_ZERO_MS,
            "kind": "film_sync", "value": 30.0, "unit": "s", "text": "dash"}  # fmt: skip
    document["events"].append(mark)
    return orjson.dumps(document)


def main() -> None:
    """Publish, and print."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="write the pieces there")
    folder: Path | None = parser.parse_args().keep
    data = filmed()
    started = time.process_time()
    subject = subject_of_file(data, "km")
    analysed = time.process_time()
    print(f"{analysed - started:6.2f} s  core loaded, session analysed")
    from ebbline.report import pieces

    loaded = time.process_time()
    print(f"{loaded - analysed:6.2f} s  what draws and sets pages loaded")
    total_bytes, last = 0, loaded
    for name, content in pieces.everything(subject):
        now = time.process_time()
        print(f"{now - last:6.2f} s  {len(content) / 1000:8.1f} kB  {name}")
        total_bytes, last = total_bytes + len(content), now
        if folder is not None:
            kept = folder / name
            kept.parent.mkdir(parents=True, exist_ok=True)
            kept.write_bytes(content)
    print(f"{last - loaded:6.2f} s  {total_bytes / 1000:8.1f} kB  all pieces")
    print(f"{last - started:6.2f} s  with loading and analysis (limit {LIMIT_S:.0f})")


if __name__ == "__main__":
    main()
