"""``ebbline compare``: the document has the contract's keys, and a person reads the same."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from ebbline.cli import main
from ebbline.engine import comparison_engine_id

SAMPLES = Path(__file__).parents[1] / "sample_sessions"
FULL, EARLY = (SAMPLES / f"{name}.ebbline.json" for name in ("full-run", "early-shutdown"))
TRUTH = json.loads((SAMPLES / "full-run.truth.json").read_text(encoding="utf-8"))

# The comparison document, version 1; keys of ours come behind them.
CONTRACT = {
    "": ["format", "version", "engine", "zero_basis", "reserve_end", "sessions", "left_out",
         "reserve_model", "warnings", "repeats", "findings"],
    "sessions": ["session_id", "vehicle", "usable_kwh", "chemistry", "reserve_m", "reserve_kwh",
                 "share_of_usable_pct", "shut_down_before_zero", "repeat_of"],
    "left_out": ["session_id", "why"],
    "reserve_model": ["models", "verdict", "statement"],
    "reserve_model.models": ["name", "fixed_kwh", "share_pct", "between_cars_sd_kwh", "aicc",
                             "weight"],
    "warnings": ["class", "n", "least_left_m", "median_left_m", "least_left_kwh",
                 "median_left_kwh", "bound"],
    "warnings.bound": ["share", "confidence", "left_m", "left_kwh", "method", "reason"],
    "repeats": ["vehicle", "session_ids", "difference_kwh", "difference_m", "agrees"],
}  # fmt: skip


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, ["compare", *map(str, arguments)])


@pytest.fixture(scope="module")
def again(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The full run as a second session with the same car."""
    document = json.loads(FULL.read_text(encoding="utf-8"))
    document["session"]["id"] = "5f8a0f0e-58f0-4c0a-9d7f-3a1b5be0a1aa"
    document["session"]["started_at"] = "2027-03-02T15:04:05+01:00"
    document["vehicle"]["odometer_km"] += 10_000
    document["vehicle"]["label"] = f" {document['vehicle']['label'].upper()}"
    path = tmp_path_factory.mktemp("again") / "again.ebbline.json"
    path.write_text(json.dumps(document), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def document(again: Path) -> dict[str, Any]:
    lap_check = SAMPLES / "lap-check.ebbline.json"
    done = run(FULL, EARLY, again, lap_check, "--json")
    assert done.exit_code == 0, done.stderr
    found: dict[str, Any] = json.loads(done.stdout)
    return found


def part(document: Any, place: str) -> Any:
    for key in filter(None, place.split(".")):
        document = document[0] if isinstance(document, list) else document
        document = document[key]
    return document[0] if isinstance(document, list) else document


@pytest.mark.parametrize("place", CONTRACT)
def test_the_document_has_the_contracts_keys(document: dict[str, Any], place: str) -> None:
    keys = list(part(document, place))
    assert [key for key in keys if key in CONTRACT[place]] == CONTRACT[place]


def test_the_document_names_its_engine_and_its_definitions(document: dict[str, Any]) -> None:
    assert document["format"] == "ebbline-comparison"
    assert document["engine"] == comparison_engine_id()
    assert (document["zero_basis"], document["reserve_end"]) == ("zero_soc", "propulsion_off")


def test_rows_hold_the_reserves_that_the_samples_were_made_with(document: dict[str, Any]) -> None:
    full, again, early = document["sessions"]
    for key, truth in (("reserve_m", "distance_m"), ("reserve_kwh", "energy_kwh")):
        assert full[key]["low"] < TRUTH["reserve"][truth] < full[key]["high"]
    assert early["shut_down_before_zero"]
    assert early["reserve_kwh"] == {
        "value": None,
        "low": pytest.approx(-0.03 * 44.475),
        "high": pytest.approx(-0.01 * 43.525),
    }
    assert again["repeat_of"] == full["session_id"]


def test_the_same_drive_again_agrees_with_itself(document: dict[str, Any]) -> None:
    (repeat,) = document["repeats"]
    assert repeat["agrees"]
    assert repeat["difference_kwh"]["value"] == 0
    assert repeat["odometer_difference_km"] == 10_000
    assert repeat["per_1000_km_kwh"]["high"] > 0


def test_a_lap_check_is_left_out_and_why_is_told(document: dict[str, Any]) -> None:
    (left,) = document["left_out"]
    assert "no longer drive" in left["why"]


def test_a_person_reads_the_sentence_and_the_figures() -> None:
    shown = {}
    for units in ("km", "mi"):
        done = run(FULL, EARLY, "--units", units)
        assert done.exit_code == 0, done.stderr
        row = next(line for line in done.output.splitlines() if "Sample car A" in line)
        shown[units] = float(row.split("NMC")[1].split()[0])
        assert "2 cars can't say whether the reserve is a fixed amount" in done.output
        assert "before zero" in done.output
    assert shown["km"] / shown["mi"] == pytest.approx(1.609344, rel=1e-3)  # NIST SP 811


def test_another_end_is_taken_for_all(tmp_path: Path) -> None:
    done = run(FULL, "--end", "contactors_open", "--json")
    found = json.loads(done.stdout)
    assert found["reserve_end"] == "contactors_open"
    reserve = found["sessions"][0]["reserve_m"]
    assert reserve["value"] > TRUTH["reserve"]["distance_m"] + 100  # it rolled on


def test_a_file_that_is_none_is_refused_by_name(tmp_path: Path) -> None:
    bad = tmp_path / "bad.ebbline.json"
    shutil.copy(FULL, bad)
    bad.write_text("{", encoding="utf-8")
    done = run(FULL, bad)
    assert done.exit_code == 2
    assert done.stdout == ""
    assert done.stderr.startswith(f"Error: {bad}: $: is not JSON")
    assert len(done.stderr.splitlines()) == 1
