"""A campaign's data package: valid by the standard's own library, and it can be worked out again.

Judge: frictionless, the reference implementation of the Data Package standard.
"""

from __future__ import annotations

import json
import zipfile
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from lazily import lazily

from ebbline.cli import main

frictionless = lazily("frictionless")
pytestmark = pytest.mark.slow

SAMPLES = sorted((Path(__file__).parents[2] / "sample_sessions").glob("*.ebbline.json"))


def compare(*arguments: object) -> str:
    done = CliRunner().invoke(main, ["compare", *map(str, arguments)])
    assert done.exit_code == 0, done.output
    return done.stdout


def unpacked(package: Path, folder: Path) -> Path:
    with zipfile.ZipFile(package) as archive:
        archive.extractall(folder)
    return folder


def errors(folder: Path) -> list[tuple[str, str]]:
    """Every error that the library finds: the table's or file's name, and the kind of error."""
    report = frictionless.Package(str(folder / "datapackage.json")).validate()
    found = [("package", error.type) for error in report.errors]
    return found + [(task.name, error.type) for task in report.tasks for error in task.errors]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The samples' package, not in the order of their ids and one of them twice, unpacked."""
    where = tmp_path_factory.mktemp("package")
    files = [*reversed(SAMPLES), SAMPLES[0]]
    compare(*files, "--package", where / "out.zip", "--with-sessions", "--title", "Winter runs",
            "--licence", "CC-BY-4.0", "--tested-by", "Track crew A", "--contributor", "A",
            "--contributor", "B", "--source", "Invented")  # fmt: skip
    return unpacked(where / "out.zip", where / "open")


@pytest.fixture(scope="module")
def descriptor(folder: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((folder / "datapackage.json").read_text())
    return found


def test_the_standards_own_library_finds_no_error(folder: Path, descriptor: dict[str, Any]) -> None:
    assert errors(folder) == []
    assert {path.relative_to(folder).as_posix() for path in folder.rglob("*.*")} == {
        "datapackage.json", "README.md", *(part["path"] for part in descriptor["resources"])
    }  # fmt: skip
    assert descriptor["licenses"] == [{"name": "CC-BY-4.0"}]
    crew, *others = descriptor["contributors"]
    assert crew == {"title": "Track crew A", "roles": ["DataCollector"]}
    assert [one["title"] for one in others] == ["A", "B"]
    assert "Tested by Track crew A." in (folder / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("table", "old", "new", "kind"),
    [
        ("timeline", ",zero_soc,17", ",zero_soc,x17", "type-error"),
        ("compared", "False", "maybe", "type-error"),
        ("limits", "\r\n", "\r\nnobody,1,2,,,,,,,,,,,,,,,,,,,,,\r\n", "foreign-key"),
        ("sessions", "before zero", "after zero", "hash-count"),
    ],
)
def test_the_library_finds_what_is_broken(
    folder: Path, tmp_path: Path, table: str, old: str, new: str, kind: str
) -> None:
    copy = tmp_path / "copy"
    copy.mkdir()
    for path in folder.iterdir():
        if path.is_file():
            (copy / path.name).write_bytes(path.read_bytes())
    described = json.loads((folder / "datapackage.json").read_text())
    described["resources"] = [one for one in described["resources"] if one["type"] == "table"]
    if kind != "hash-count":  # what the tables say is looked at though their digests are others
        for one in described["resources"]:
            del one["hash"], one["bytes"]
    (copy / "datapackage.json").write_text(json.dumps(described))
    text = (folder / f"{table}.csv").read_bytes().decode()
    assert old in text
    (copy / f"{table}.csv").write_bytes(text.replace(old, new, 1).encode())
    assert (table, kind) in errors(copy)


def test_the_session_files_give_the_same_comparison_again(folder: Path) -> None:
    again = compare(*sorted((folder / "sessions").iterdir()), "--json")
    assert json.loads(again) == json.loads((folder / "comparison.json").read_text())


def test_every_figure_of_the_comparison_is_in_the_table(folder: Path) -> None:
    comparison = json.loads((folder / "comparison.json").read_text())
    rows = frictionless.Resource(str(folder / "compared.csv")).read_rows()
    assert len(rows) == len(comparison["sessions"]) >= 3
    for row, session in zip(rows, comparison["sessions"], strict=True):
        for name in ("reserve_m", "reserve_kwh", "usable_kwh"):
            told = [row[name], row[f"{name}_low"], row[f"{name}_high"]]
            assert [None if x is None else float(x) for x in told] == list(session[name].values())


def test_a_licence_that_is_neither_a_name_nor_an_address_is_refused(tmp_path: Path) -> None:
    package = ["--package", str(tmp_path / "out.zip"), "--licence", "do as you like"]
    done = CliRunner().invoke(main, ["compare", str(SAMPLES[0]), *package])
    assert done.exit_code == 2
    assert "SPDX" in done.stderr
    assert not (tmp_path / "out.zip").exists()
