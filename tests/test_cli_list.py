"""``ebbline list`` and the record that ``ebbline publish`` keeps."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from ebbline.cli import main

SAMPLES = Path(__file__).parents[1] / "sample_sessions"
NAMES = ("full-run", "lap-check")


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """A database with two sessions, none of them worked out."""
    folder = tmp_path / "data"
    for name in NAMES:
        assert run(folder, "import", str(SAMPLES / f"{name}.ebbline.json")).exit_code == 0
    return folder


def run(data: Path, *arguments: str) -> Result:
    return CliRunner().invoke(main, [*arguments, "--data", str(data)])


def test_sessions_are_listed_and_worked_out_only_when_asked(data: Path) -> None:
    before = run(data, "list")
    assert "2 of 2 sessions" in before.output
    assert "figures of before or none yet: 2" in before.output
    after = run(data, "list", "--work-out", "--csv", "-", "--sort", "name")
    full, lap = csv.DictReader(io.StringIO(after.stdout))
    assert (full["outcome"], lap["outcome"]) == ("past zero", "")
    low, value, high = (float(full[f"reserve_distance_m{end}"]) for end in ("_low", "", "_high"))
    assert 7_000 < low < value < high < 9_000
    assert full["conditions.ambient_c"] != ""
    assert "1 of 1 sessions" in run(data, "list", "--outcome", "past zero").output
    refused = run(data, "list", "--campaign", "nobody's")
    assert (refused.exit_code, "no campaign" in refused.stderr) == (2, True)


def test_what_is_published_is_recorded_when_asked_for(data: Path, tmp_path: Path) -> None:
    session_id = "75bae80b-1445-5254-9b74-8e488618d7d5"
    asked = run(data, "publish", session_id, "-o", str(tmp_path / "out"), "--by", "alex")
    assert asked.exit_code == 2
    file = str(SAMPLES / "full-run.ebbline.json")
    of_file = run(data, "publish", file, "-o", str(tmp_path / "out"), "--published", "the film")
    assert of_file.exit_code == 2
    assert not (tmp_path / "out").exists()
