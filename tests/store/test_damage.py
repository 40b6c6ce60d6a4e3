"""A damaged database file ends a start in one line, and is not served."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner
from sqlalchemy import text

from ebbline import store
from ebbline.cli import main
from ebbline.errors import EbblineError
from ebbline.store.damage import refuse_damaged


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """A database of some thirty pages."""
    file = tmp_path / "ebbline.sqlite3"
    engine = store.open_engine(f"sqlite:///{file}")
    refuse_damaged(engine)  # which is whole
    with engine.begin() as connection:
        connection.execute(text("PRAGMA wal_checkpoint(TRUNCATE)"))
    engine.dispose()
    return file


def test_no_database_at_all_is_said_in_one_line(file: Path) -> None:
    file.write_bytes(b"not a database, but what somebody copied over it" * 1000)
    for command in (["serve", "--port", "1024"], ["list"]):
        refused = CliRunner().invoke(main, [*command, "--data", str(file.parent)])
        assert refused.exit_code == 1
        assert f"{file} is damaged" in refused.stderr
        assert "Traceback" not in refused.stderr
        assert isinstance(refused.exception, SystemExit)


def test_damage_inside_the_file_is_found_before_it_is_served(file: Path) -> None:
    content = bytearray(file.read_bytes())
    content[-4096:] = b"\xa5" * 4096  # a page that opening does not look at
    file.write_bytes(content)
    engine = store.open_engine(f"sqlite:///{file}")
    with pytest.raises(EbblineError, match="is damaged and is not served"):
        refuse_damaged(engine)
    engine.dispose()
    refused = CliRunner().invoke(main, ["serve", "--port", "1024", "--data", str(file.parent)])
    assert (refused.exit_code, "is damaged" in refused.stderr) == (1, True)
