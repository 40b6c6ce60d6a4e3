"""What starts quickly stays so: held by what is imported, not by a clock."""

from __future__ import annotations

import json
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest

from ebbline import store
from ebbline.cli.group import COMMANDS

pytestmark = pytest.mark.slow

SAMPLE = Path(__file__).parents[1] / "sample_sessions" / "full-run.ebbline.json"
LOADED = "import json, sys; print(json.dumps(sorted({name.split('.')[0] for name in sys.modules})))"
CORE = {"scipy", "pyproj", "geopy"}
FILES = {"pandas", "gpxpy"}
PUBLISHING = {"matplotlib", "typst"}
DATABASE = {"sqlalchemy", "alembic", "fsspec"}
WEB = {"flask", "flask_smorest", "marshmallow", "granian"}


def loaded_by(code: str) -> set[str]:
    """Top-level names of the modules that a process of its own has loaded after ``code``."""
    done = subprocess.run(
        [sys.executable, "-c", f"{code}\n{LOADED}"], capture_output=True, text=True, check=True
    )
    return set(json.loads(done.stdout.splitlines()[-1]))


def test_help_loads_no_library_but_clicks() -> None:
    loaded = loaded_by("from ebbline.cli import main\nmain(['--help'], standalone_mode=False)")
    assert "click" in loaded
    assert not loaded & (CORE | FILES | PUBLISHING | DATABASE | WEB | {"numpy", "rich", "orjson"})


def test_an_analysis_loads_the_core_and_neither_database_nor_what_it_does_not_read() -> None:
    loaded = loaded_by(
        f"from ebbline.cli import main\nmain(['analyze', {str(SAMPLE)!r}], standalone_mode=False)"
    )
    assert "scipy" in loaded
    assert not loaded & (FILES | PUBLISHING | DATABASE | {"flask", "geopy", "pint", "requests"})


def test_an_analysis_loads_nothing_of_scipys_signal_statistics_or_integrals() -> None:
    loaded = loaded_by(
        "import ebbline.cli.analyze, sys\n"
        "slow = {'scipy.signal', 'scipy.stats', 'scipy.integrate'} & set(sys.modules)\n"
        "assert not slow, slow"
    )
    assert "scipy" in loaded


@pytest.fixture
def migrated(sqlite_url: str) -> str:
    """A database at the newest revision."""
    store.open_engine(sqlite_url).dispose()
    return sqlite_url


def test_a_server_answers_before_it_loads_the_core(migrated: str, tmp_path: Path) -> None:
    loaded = loaded_by(
        "from ebbline.web.app import create_app\n"
        f"client = create_app({migrated!r}, {str(tmp_path)!r}).test_client()\n"
        "for path in ('/', '/desk', '/capture', '/api/time', '/api/sessions'):\n"
        "    assert client.get(path).status_code == 200, path"
    )
    assert "flask" in loaded
    assert not loaded & (CORE | FILES | PUBLISHING | {"alembic", "pint", "cryptography"})


@pytest.mark.parametrize("name", COMMANDS)
def test_the_line_that_lists_a_command_is_how_its_own_help_begins(name: str) -> None:
    module, line = COMMANDS[name]
    command = import_module(module).command
    assert command.name == name
    assert " ".join((command.help or "").split()).startswith(line)
