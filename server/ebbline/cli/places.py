"""Where things are on this machine: the database, photos, the samples."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import click
from sqlalchemy import Engine, make_url
from sqlalchemy.exc import DatabaseError

import ebbline
from ebbline import store
from ebbline.errors import EbblineError
from ebbline.store import private
from ebbline.store.damage import damaged, is_damaged
from ebbline.store.photos import PhotoFolder

PACKAGE = Path(ebbline.__file__).parent
SAMPLE_NAMES = ("*.ebbline.json", "*.ebbline.zip")


@dataclass(frozen=True, slots=True)
class Places:
    """One database and its photo folder."""

    data: Path
    database_url: str
    photos_url: str

    @classmethod
    def of(cls, database: str | None, data: Path, photos: str | None = None) -> Places:
        """The database and photo folder asked for, else those in ``data``.

        Raises:
            InputError: ``database`` is no database we know.
        """
        data = data.absolute()
        url = database or f"sqlite:///{data / 'ebbline.sqlite3'}"
        return cls(data, store.database_url(url), photos or str(data / "photos"))

    @contextlib.contextmanager
    def open_database(self) -> Iterator[Engine]:
        """The database at its current migration, made when it isn't there.

        Raises:
            EbblineError: it can't be opened, or couldn't be used in between.
        """
        self._shut()
        engine = store.open_engine(self.database_url)
        try:
            yield engine
        except DatabaseError as error:
            if is_damaged(error):
                raise EbblineError(damaged(engine, error.orig)) from error
            raise EbblineError(f"the database can't be used: {error.orig}") from error
        finally:
            engine.dispose()

    def _shut(self) -> None:
        """Let nobody else on this machine read what lies here, and tell what others could."""
        url = make_url(self.database_url)
        ours = url.get_backend_name() == "sqlite" or self.data.exists()
        for place, was_open in (
            (self.data, ours and private.shut_folder(self.data)),
            (url.database, private.prepare_database_file(url)),
            (self.photos_url, self.photo_folder().shut()),
        ):
            if was_open:
                click.echo(f"Others on this machine could read {place}; now they can't.", err=True)

    def photo_folder(self) -> PhotoFolder:
        """Where photos are kept."""
        return PhotoFolder(self.photos_url)


def samples() -> list[Path]:
    """The invented sessions, in an installed package or beside ``server/`` in a checkout."""
    return _session_files(_sample_folder())


def campaign_samples() -> tuple[Path, list[Path]]:
    """The definition of the invented campaign, and its sessions."""
    folder = _sample_folder() / "campaign"
    return folder / "campaign.json", _session_files(folder)


def _sample_folder() -> Path:
    installed = PACKAGE / "sample_sessions"
    return installed if installed.is_dir() else PACKAGE.parents[1] / "sample_sessions"


def _session_files(folder: Path) -> list[Path]:
    return sorted(file for name in SAMPLE_NAMES for file in folder.glob(name))
