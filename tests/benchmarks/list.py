"""How soon a long list of sessions answers: sorted by every column, searched, filtered, paged.

    python tests/benchmarks/list.py [--sessions 10000] [--rounds 3] [--readers 2]
                                    [--database postgresql://…]

Puts invented sessions into a database, as they would lie there after years: set-ups, up to 24
events each with words, kept results; a tenth of the figures are by an earlier engine. Then the
real server is asked by ``--readers`` at once, over HTTP. Prints how long the lines take to be
made the first time (once after an update), then for each kind of question the median, the 95th
percentile and the longest time in milliseconds, and the same over all. Between them the server's
clock alone is asked for, which touches no database: on a machine that is busy with other things
the last column, a median in medians of that, says more than milliseconds do. A fresh file of
SQLite unless ``--database`` names an empty one.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import tempfile
import time
import urllib.parse
import urllib.request
from collections import defaultdict
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from server_process import new_server
from sqlalchemy import insert
from sqlalchemy.orm import Session

from ebbline import store
from ebbline.engine import engine_id
from ebbline.sessions.overview.recorded import bring_up_to_date
from ebbline.sessions.overview.search import SORT_KEYS
from ebbline.store.models import EventRow, ResultRow, SessionRow, SetupRow

LINES = 100
CLOCK = "the clock alone"
WORDS = ("stop safely", "power reduced", "charge now", "range low", "turtle", "limp", "air off")
START = datetime(2019, 1, 1, 9, tzinfo=UTC)
MOST_EVENTS = 24


def result(random_: random.Random, engine: str) -> dict[str, Any]:
    """A result document as far as a line is made of it."""

    def quantity(value: float) -> dict[str, float]:
        return {"value": value, "low": value * 0.99, "high": value * 1.01}

    before_zero = random_.random() < 0.1
    return {
        "engine": engine,
        "zero": {"basis": None if before_zero else "zero_soc"},
        "reserve": {
            "distance_m": None if before_zero else quantity(random_.uniform(1e3, 3e4)),
            "energy_kwh": None if before_zero else quantity(random_.uniform(0.1, 5)),
            "duration_s": None if before_zero else quantity(random_.uniform(100, 3000)),
            "share_of_usable_pct": None if before_zero else quantity(random_.uniform(0.2, 8)),
            "shut_down_before_zero": before_zero,
            "ends_at": "propulsion_off",
        },
        "consumption": {"past_zero_wh_per_km": quantity(random_.uniform(120, 260))},
        "recharge": {"full_power_kw": quantity(random_.uniform(20, 200))},
        "distance": {"total_m": quantity(4e4)},
        "trip_check": None,
        "lap_check": None,
        "held_speed": None,
        "timeline": [],
        "findings": [],
    }


def invent(db_session: Session, count: int) -> None:
    """Put invented sessions into a database."""
    random_ = random.Random(1)
    for first in range(0, count, 1000):
        tables: dict[Any, list[dict[str, Any]]] = defaultdict(list)
        for number in range(first, min(count, first + 1000)):
            session_id = UUID(int=random_.getrandbits(128))
            started = START + timedelta(hours=6 * number)
            ms = round(started.timestamp() * 1000)
            tables[SessionRow].append(
                {"id": session_id, "created_ms": ms, "updated_ms": ms, "additions": 2,
                 "archived_ms": ms if random_.random() < 0.05 else None}
            )  # fmt: skip
            setup = {
                "session": {"id": str(session_id), "title": f"Run {number} down to empty",
                            "started_at": started.isoformat(), "notes": "invented " * 20},
                "vehicle": {"label": f"Sample car {number % 120}", "software": f"{number % 40}.1",
                            "pack": {"usable_kwh": random_.choice([38.5, 58, 77, 91])}},
                "course": {"label": f"Course {number % 25}", "surveyed_lap_m": 2400.0},
                "conditions": {"ambient_c": random_.randint(-15, 38), "surface": "dry"},
            }  # fmt: skip
            tables[SetupRow].append(
                {"session_id": session_id, "revision": 1, "document": setup, "received_ms": ms}
            )
            for event in range(random_.randint(0, MOST_EVENTS)):
                tables[EventRow].append(
                    {"session_id": session_id, "id": f"e{event}", "position": event,
                     "device": "phone-1", "t_ms": ms + event, "received_ms": ms,
                     "document": {"id": f"e{event}", "device": "phone-1", "t_ms": ms + event,
                                  "kind": "warning", "text": random_.choice(WORDS)}}
                )  # fmt: skip
            engine = "ebbline 0 core earlier" if random_.random() < 0.1 else engine_id()
            tables[ResultRow].append(
                {"session_id": session_id, "input_sha256": "0" * 64, "engine": engine,
                 "additions": 2, "document": json.dumps(result(random_, engine)).encode()}
            )  # fmt: skip
        for table, rows in tables.items():
            db_session.execute(insert(table), rows)
        db_session.commit()


def questions(count: int) -> Iterator[tuple[str, dict[str, Any]]]:
    """What somebody may ask, by kind."""
    for _ in range(20):
        yield CLOCK, {}
    for key in SORT_KEYS:
        for order in ("asc", "desc"):
            for offset in (0, count // 2, max(0, count - LINES)):
                yield f"sort by {key}", {"sort": key, "order": order, "offset": offset}
    for text in ("turtle", "sample 77 limp", "reduced", "nowhere at all", "run 77 dry"):
        for key in ("started", "energy"):
            yield "search", {"text": text, "sort": key}
    for wanted in (
        {"vehicle": "car 7"}, {"course": "Course 11"}, {"outcome": "before zero"},
        {"from": "2021-01-01", "to": "2021-06-30"}, {"archived": "yes"}, {"published": "no"},
        {"vehicle": "Sample car 7", "course": "Course", "outcome": "past zero", "text": "limp"},
    ):  # fmt: skip
        for key in ("started", "distance"):
            yield "filter", {**wanted, "sort": key}


def ask(url: str, kind: str, wanted: dict[str, Any]) -> float:
    """Milliseconds until the whole answer was there."""
    listed = f"sessions?{urllib.parse.urlencode({**wanted, 'limit': LINES})}"
    address = f"{url}/api/{'time' if kind == CLOCK else listed}"
    began = time.perf_counter()
    with urllib.request.urlopen(address, timeout=120) as answer:
        body = answer.read()
    took = 1000 * (time.perf_counter() - began)
    assert kind == CLOCK or "total" in json.loads(body)
    return took


def percentile(times: list[float], share: float) -> float:
    """The time that this share of all were not longer than."""
    return sorted(times)[min(len(times) - 1, int(share * len(times)))]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sessions", type=int, default=10_000)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--readers", type=int, default=2)
    parser.add_argument("--database", metavar="URL")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        server = new_server(Path(folder) / "data", options.database)
        engine = store.open_engine(server.database_url)
        with Session(engine) as db_session:
            invent(db_session, options.sessions)
            began = time.perf_counter()
            bring_up_to_date(db_session)
            print(f"lines of {options.sessions:,} sessions made in "
                  f"{time.perf_counter() - began:.1f} s, once")  # fmt: skip
        engine.dispose()
        server.start()
        try:
            asked = list(questions(options.sessions)) * options.rounds
            random.Random(2).shuffle(asked)
            ask(server.url, "", {})  # loads the modules
            with ThreadPoolExecutor(options.readers) as readers:
                took = list(readers.map(lambda one: ask(server.url, *one), asked))
        finally:
            server.stop()
    times: dict[str, list[float]] = defaultdict(list)
    for (kind, _), milliseconds in zip(asked, took, strict=True):
        times[kind].append(milliseconds)
    clock_ms = percentile(times[CLOCK], 0.5)
    lists = [one for kind, of_kind in times.items() if kind != CLOCK for one in of_kind]
    print(f"{'milliseconds':<22}{'asked':>7}{'median':>8}{'95 %':>8}{'longest':>9}{'clocks':>8}")
    for kind, of_kind in [*sorted(times.items()), ("every list", lists)]:
        median = percentile(of_kind, 0.5)
        print(f"{kind:<22}{len(of_kind):>7}{median:>8.0f}{percentile(of_kind, 0.95):>8.0f}"
              f"{max(of_kind):>9.0f}{median / clock_ms:>8.1f}")  # fmt: skip


if __name__ == "__main__":
    main()
