"""Adding atomically: nothing stays half done, and nobody is kept waiting."""

from __future__ import annotations

from pathlib import Path
from uuid import UUID

import pytest
from database_contents import contents
from exchange.documents import ID, T_MS, a_document
from sqlalchemy import Engine
from sqlalchemy.orm import Session

from ebbline.exchange import session_file
from ebbline.sessions.files.session_files import import_file
from ebbline.sessions.records.atomic import add_atomically
from ebbline.store import photos
from ebbline.store import sessions as rows
from ebbline.store.photos import PhotoFolder

SESSION_ID = UUID(ID)
RECORD = {"sha256": "1" * 64, "t_ms": T_MS, "device": "phone", "media_type": "image/jpeg"}


@pytest.fixture
def held(db_session: Session, tmp_path: Path) -> Session:
    """A database with one session."""
    folder = PhotoFolder(str(tmp_path / "photos"))
    import_file(db_session, folder, session_file.dump_document(a_document()), T_MS)
    return db_session


def add(db_session: Session, *, then: BaseException | None = None) -> int:
    row = rows.lock(db_session, SESSION_ID)

    def adding() -> int:
        new = photos.add_new(db_session, SESSION_ID, [RECORD], T_MS + 1)
        if then is not None:
            raise then
        return new

    return add_atomically(db_session, row, adding, T_MS + 1)


def test_what_was_added_stays_and_is_noted(held: Session, engine: Engine) -> None:
    before = rows.find(held, SESSION_ID).additions
    assert add(held) == 1
    with Session(engine) as another:
        assert RECORD in photos.documents(another, SESSION_ID)
        assert rows.find(another, SESSION_ID).additions == before + 1


@pytest.mark.parametrize("error", [ValueError("no good"), KeyboardInterrupt()])
def test_an_addition_that_breaks_off_leaves_nothing_behind(
    held: Session, engine: Engine, error: BaseException
) -> None:
    before = contents(engine)
    with pytest.raises(type(error)):
        add(held, then=error)
    held.commit()  # whoever goes on with this database session keeps nothing of it by that
    assert contents(engine) == before


def test_other_writers_may_go_on_when_nothing_was_new(held: Session, engine: Engine) -> None:
    add(held)
    before = contents(engine)
    assert add(held) == 0
    assert not held.in_transaction()
    assert contents(engine) == before
