"""Logs of power in the database: in once, out as they came."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from database_contents import contents
from exchange.documents import ID, T_MS, a_document
from exchange.test_logs import a_log
from sqlalchemy import Engine
from sqlalchemy.orm import Session

from ebbline.errors import ConflictError
from ebbline.exchange import session_file
from ebbline.sessions.files.session_files import export_file, import_file
from ebbline.sessions.records.document import document_of
from ebbline.store.photos import PhotoFolder

SESSION_ID = UUID(ID)


@pytest.fixture
def folder(tmp_path: Path) -> PhotoFolder:
    return PhotoFolder(str(tmp_path / "photos"))


def take(db_session: Session, folder: PhotoFolder, document: dict[str, Any]) -> bool:
    data = session_file.dump_document(document)
    return import_file(db_session, folder, data, T_MS).changed


def test_logs_come_out_as_they_went_in(db_session: Session, folder: PhotoFolder) -> None:
    document = {**a_document(), "logs": [a_log(), {**a_log(), "device": "logger-2"}]}
    assert take(db_session, folder, document)
    assert json.loads(export_file(db_session, folder, SESSION_ID).content) == document


def test_the_same_log_again_changes_nothing(
    db_session: Session, engine: Engine, folder: PhotoFolder
) -> None:
    document = {**a_document(), "logs": [a_log()]}
    take(db_session, folder, document)
    before = contents(engine)
    assert not take(db_session, folder, document)
    assert contents(engine) == before


def test_a_log_can_be_added_to_a_session_that_is_here(
    db_session: Session, folder: PhotoFolder
) -> None:
    take(db_session, folder, a_document())
    assert take(db_session, folder, {**a_document(), "logs": [a_log()]})
    assert document_of(db_session, SESSION_ID)["logs"] == [a_log()]


def test_another_reading_of_the_same_file_does_not_replace_the_first(
    db_session: Session, engine: Engine, folder: PhotoFolder
) -> None:
    take(db_session, folder, {**a_document(), "logs": [a_log()]})
    before = contents(engine)
    other = {**a_log(), "current_a": [-20, 3.5, None]}
    with pytest.raises(ConflictError, match=r"^logs\[0\]: .*another device"):
        take(db_session, folder, {**a_document(), "logs": [other]})
    assert contents(engine) == before
