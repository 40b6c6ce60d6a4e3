"""``ebbline import FILE --into SESSION``: tracks and logs of others at the command line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from database_contents import contents
from exchange.documents import ID, a_document
from exchange.test_csv_reading import PLAIN
from sessions.test_recordings import CSV, GPX

from ebbline import store
from ebbline.cli import main
from ebbline.exchange import session_file

LOCAL = b"Zeit;Spannung [V];Strom [A]\n2026-03-02 15:00:00;350,5;20\n2026-03-02 15:00:01;350;-3\n"


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """A database folder with one session."""
    file = tmp_path / "run.ebbline.json"
    file.write_bytes(session_file.dump_document(a_document()))
    folder = tmp_path / "data"
    assert run("import", file, "--data", folder).exit_code == 0
    return folder


@pytest.fixture
def gpx(tmp_path: Path) -> Path:
    path = tmp_path / "track.gpx"
    path.write_bytes(GPX)
    return path


@pytest.fixture
def csv(tmp_path: Path) -> Path:
    path = tmp_path / "log.csv"
    path.write_bytes(CSV)
    return path


def run(*arguments: object) -> Result:
    return CliRunner().invoke(
        main,
        [str(argument) for argument in arguments],
        env=dict.fromkeys(("EBBLINE_DATABASE_URL", "EBBLINE_DATA", "EBBLINE_PHOTOS"), None),
    )


def held(data: Path) -> dict[str, list[tuple[object, ...]]]:
    engine = store.open_engine(f"sqlite:///{data / 'ebbline.sqlite3'}")
    found = contents(engine)
    engine.dispose()
    return found


def exported(data: Path, session: str = ID) -> dict[str, object]:
    document: dict[str, object] = json.loads(run("export", session, "--data", data).stdout)
    return document


def assert_refused(result: Result, place: str) -> None:
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.startswith(f"Error: {place}: ")
    assert len(result.stderr.splitlines()) == 1


def test_a_track_goes_into_a_session_once(data: Path, gpx: Path) -> None:
    first = run("import", gpx, "--into", ID, "--data", data)
    assert first.exit_code == 0
    assert "3 positions, 1 events" in first.stdout
    assert "stored what was new" in first.stdout
    before = held(data)
    assert "all of it was here before" in run("import", gpx, "--into", ID, "--data", data).stdout
    assert held(data) == before


def test_a_log_without_a_mapping_gets_a_proposal_and_imports_nothing(
    data: Path, tmp_path: Path
) -> None:
    file = tmp_path / "log.csv"
    file.write_bytes(LOCAL)
    before = held(data)
    asked = run("import", file, "--into", ID, "--zone", "Europe/Vienna", "--data", data)
    assert asked.exit_code == 2
    assert "Nothing was imported" in asked.stderr
    assert held(data) == before
    proposal = tmp_path / "mapping.json"
    proposal.write_text(asked.stdout)
    done = run("import", file, "--into", ID, "--mapping", proposal, "--data", data)
    assert done.exit_code == 0
    (log,) = exported(data)["logs"]  # type: ignore[misc]
    assert log["t_ms"] == [1_772_460_000_000, 1_772_460_001_000]
    assert log["voltage_v"] == [350.5, 350.0]


def test_a_mapping_may_be_given_in_place(data: Path, csv: Path) -> None:
    done = run(
        "import", csv, "--into", ID, "--mapping", json.dumps(PLAIN), "--device", "logger",
        "--data", data,
    )  # fmt: skip
    assert done.exit_code == 0
    assert exported(data)["logs"][0]["device"] == "logger"  # type: ignore[index]


def test_the_summary_says_what_a_log_counted(data: Path, tmp_path: Path) -> None:
    sample = Path(__file__).parents[1] / "sample_sessions" / "full-run.ebbline.json"
    document = json.loads(sample.read_bytes())
    zero = next(e["t_ms"] for e in document["events"] if e["kind"] == "zero_soc")
    t_ms = list(range(zero - 3_600_000, zero + 3_600_000, 1000))
    document["logs"] = [
        {
            "device": "logger",
            "source_sha256": "0" * 64,
            "t_ms": t_ms,
            "power_kw": [9.0] * len(t_ms),
        }
    ]
    file = tmp_path / "logged.ebbline.json"
    file.write_text(json.dumps(document))
    shown = run("analyze", file)
    assert shown.exit_code == 0
    assert "reserve: energy, by power logged" in shown.stdout
    assert "log : display" in shown.stdout


def test_a_guess_is_taken_when_that_was_said_and_it_is_complete(data: Path, tmp_path: Path) -> None:
    file = tmp_path / "log.csv"
    file.write_bytes(LOCAL)
    options = ("--into", ID, "--accept-guess", "--data", data)
    before = held(data)
    assert_refused(run("import", file, *options), "--accept-guess")
    assert held(data) == before
    assert run("import", file, *options, "--zone", "Europe/Vienna").exit_code == 0


def test_a_new_session_is_made_for_a_file_and_found_again(tmp_path: Path, gpx: Path) -> None:
    folder = tmp_path / "fresh"
    first = run("import", gpx, "--into", "new", "--data", folder)
    assert first.exit_code == 0
    session_id = first.stdout.split(":")[0]
    before = held(folder)
    assert run("import", gpx, "--into", "new", "--data", folder).exit_code == 0
    assert held(folder) == before
    assert exported(folder, session_id)["session"]["title"] == "track.gpx"  # type: ignore[index]


@pytest.mark.parametrize(
    ("content", "place"),
    [
        (GPX.replace(b'lat="12.0"', b'lat="91"', 1), "tracks[0].segments[0].points[0].lat"),
        (GPX[:-7], "tracks[0]"),
        (b"<!DOCTYPE gpx []><gpx/>", "$"),
        (b"", "line 1"),
    ],
)
def test_a_bad_file_names_the_place_and_makes_no_database(
    tmp_path: Path, content: bytes, place: str
) -> None:
    file = tmp_path / "bad"
    file.write_bytes(content)
    folder = tmp_path / "none"
    assert_refused(run("import", file, "--into", ID, "--data", folder), place)
    assert_refused(run("import", file, "--into", "new", "--data", folder), place)
    assert not folder.exists()


def test_what_is_stated_wrongly_is_refused(
    data: Path, tmp_path: Path, gpx: Path, csv: Path
) -> None:
    before = held(data)
    into = ("--into", ID, "--data", data)
    assert_refused(run("import", gpx, "--data", data), "$")
    assert_refused(run("import", gpx, "--into", "somewhere", "--data", data), "--into")
    assert_refused(run("import", gpx, *into, "--mapping", json.dumps(PLAIN)), "mapping")
    assert_refused(run("import", gpx, *into, "--zone", "Mars/North"), "zone")
    assert_refused(run("import", csv, *into, "--mapping", "{"), "mapping")
    assert_refused(
        run("import", csv, *into, "--mapping", tmp_path / "none"), f"{tmp_path / 'none'}"
    )
    assert held(data) == before


def test_a_session_that_is_not_there_is_named(data: Path, gpx: Path) -> None:
    nowhere = "00000000-0000-4000-8000-000000000000"
    refused = run("import", gpx, "--into", nowhere, "--data", data)
    assert refused.exit_code == 1
    assert nowhere in refused.stderr


def test_a_session_file_goes_into_its_own_session_only(data: Path, tmp_path: Path) -> None:
    file = tmp_path / "run.ebbline.json"
    assert run("import", file, "--into", ID, "--data", data).exit_code == 0
    other = "00000000-0000-4000-8000-000000000000"
    assert_refused(run("import", file, "--into", other, "--data", data), "--into")
    assert_refused(run("import", file, "--zone", "UTC", "--data", data), "--zone")
