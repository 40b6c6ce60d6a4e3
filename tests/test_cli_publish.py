"""``ebbline publish``: from a file or the database, into a folder."""

from __future__ import annotations

import csv
import json
import zipfile
from pathlib import Path

import pytest
import webvtt
from click.testing import CliRunner, Result
from exchange.gpx_rules import broken_rules
from justhtml import JustHTML

from ebbline.cli import main

SAMPLES = Path(__file__).parents[1] / "sample_sessions"
EARLY = SAMPLES / "early-shutdown.ebbline.json"


def run(*arguments: object) -> Result:
    return CliRunner().invoke(
        main,
        [str(argument) for argument in arguments],
        env=dict.fromkeys(("EBBLINE_DATABASE_URL", "EBBLINE_DATA"), None),
    )


def test_a_file_is_published_whole_without_a_database(tmp_path: Path):
    document = json.loads(EARLY.read_bytes())
    document["events"].append(
        {"id": "m", "device": document["events"][0]["device"], "kind": "film_sync", "value": 3.5,
         "t_ms": document["events"][0]["t_ms"], "text": "../../roof"}
    )  # fmt: skip
    file = tmp_path / "run.json"
    file.write_text(json.dumps(document))
    folder = tmp_path / "out"
    done = run("publish", file, "--output", folder, "--units", "mi", "--data", tmp_path / "data")
    assert done.exit_code == 0, done.output
    assert not (tmp_path / "data").exists()
    written = {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}
    assert {"session.ebbline.json", "report.html", "report.pdf", "track.gpx"} <= written
    assert "film/roof/captions.vtt" in written  # a camera's name is no way out of the folder
    assert f"{len(written)} files in" in done.output
    assert "Not written: Picture: Ladder of warnings. Needs events past zero" in done.output
    assert (folder / "session.ebbline.json").read_bytes() == file.read_bytes()
    JustHTML((folder / "report.html").read_text("utf-8"), strict=True, sanitize=False)
    assert broken_rules((folder / "track.gpx").read_text("utf-8")) == []
    assert len(webvtt.read(folder / "film/roof/captions.vtt")) > 0
    with (folder / "curves.csv").open(newline="") as table:
        assert sum(1 for _ in csv.reader(table)) > 500


def test_a_session_of_the_database_is_published_by_its_id(tmp_path: Path):
    data = tmp_path / "data"
    assert run("import", EARLY, "--data", data).exit_code == 0
    session_id = json.loads(EARLY.read_bytes())["session"]["id"]
    done = run("publish", session_id, "--output", tmp_path / "out", "--data", data)
    assert done.exit_code == 0, done.output
    assert (tmp_path / "out" / "report.pdf").read_bytes().startswith(b"%PDF-")


def test_an_archive_stays_an_archive(tmp_path: Path):
    packed = tmp_path / "run.ebbline.zip"
    with zipfile.ZipFile(packed, "w") as archive:
        archive.write(EARLY, "session.json")
    done = run("publish", packed, "--output", tmp_path / "out")
    assert done.exit_code == 0, done.output
    assert (tmp_path / "out" / "session.ebbline.zip").read_bytes() == packed.read_bytes()


@pytest.mark.parametrize(
    ("named", "said"),
    [
        ("nowhere.json", "neither a file nor a session's id"),
        ("00000000-0000-4000-8000-000000000001", "no session"),
    ],
)
def test_what_is_not_there_is_refused_and_nothing_written(tmp_path: Path, named: str, said: str):
    done = run("publish", named, "--output", tmp_path / "out", "--data", tmp_path / "data")
    assert done.exit_code in (1, 2)
    assert said in done.output
    assert not (tmp_path / "out").exists()
