"""A campaign's comparison is that of its sessions' files, by what was kept of them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from click.testing import CliRunner
from exchange.documents import T_MS
from sqlalchemy.orm import Session

from ebbline import store
from ebbline.campaigns.comparison import BEHIND, pair_of
from ebbline.campaigns.definitions import make_campaign
from ebbline.campaigns.kept import comparison_of
from ebbline.cli import main
from ebbline.errors import ConflictError
from ebbline.records.campaign import Definition, SetAside
from ebbline.sessions.files.session_files import import_file
from ebbline.sessions.overview.renewal import renew
from ebbline.sessions.results import results
from ebbline.store.photos import PhotoFolder

SAMPLES = Path(__file__).parents[2] / "sample_sessions"
NAMES = ("full-run", "early-shutdown", "lap-check")


@pytest.mark.slow
def test_it_is_what_the_command_line_says_of_the_files_and_nothing_is_analysed(
    sqlite_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    files = [SAMPLES / f"{name}.ebbline.json" for name in NAMES]
    engine = store.open_engine(sqlite_url)
    folder = PhotoFolder(str(tmp_path))
    with Session(engine) as db_session:
        full, early, lap = (
            import_file(db_session, folder, file.read_bytes(), T_MS).id for file in files
        )
        made = make_campaign(
            db_session,
            Definition("Winter", session_ids=(full, early), left_out=(SetAside(lap, "no run"),)),
            T_MS,
        )
        renew(db_session, lambda: T_MS, first=[full], for_s=0)

        def refuse(_document: dict[str, Any]) -> Any:
            raise AssertionError("a comparison analysed something")

        with monkeypatch.context() as patched:
            patched.setattr(results, "_analyze", refuse)
            patched.setattr(results, "_recent", type(results._recent)(1))
            partly = comparison_of(db_session, made.id)
            with pytest.raises(ConflictError, match=str(early)):
                pair_of(db_session, full, early)
        assert partly["behind"] == [str(early)]
        assert whys(partly) == {str(lap): "no run", str(early): BEHIND}

        renew(db_session, lambda: T_MS, for_s=60)
        told = comparison_of(db_session, made.id)
        pair = pair_of(db_session, full, early)
    engine.dispose()
    assert told.pop("behind") == []
    assert {UUID(one) for one in pair["session_ids"]} == {full, early}
    said = CliRunner().invoke(main, ["compare", "--json", *map(str, files[:2])])
    assert said.exit_code == 0, said.output
    of_files = json.loads(said.stdout)
    of_files["left_out"].insert(0, {"session_id": str(lap), "why": "no run", "tag": "1b"})
    assert json.loads(json.dumps(told)) == of_files


def whys(told: dict[str, Any]) -> dict[str, str]:
    return {one["session_id"]: one["why"] for one in told["left_out"]}
