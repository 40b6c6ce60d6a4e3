"""Files that nobody else on this machine may read: the database holds positions, password hashes
and the secret that signs cookies; a photo may show a face.

Modes are set here and don't hang on the process's umask. SQLite gives its write-ahead log the
mode of the database file.
"""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import stat
from collections.abc import Iterator
from pathlib import Path

from sqlalchemy import URL

from ebbline.errors import FullError

_OTHERS = 0o077
_BESIDE_A_DATABASE = ("", "-wal", "-shm", "-journal")


def make_folder(folder: Path) -> None:
    """Make a folder that its owner alone may enter; one that is there stays as it is."""
    if folder.is_dir():
        return
    folder.parent.mkdir(parents=True, exist_ok=True)
    with contextlib.suppress(FileExistsError):
        folder.mkdir(mode=0o700)
        _sync(folder.parent)


def shut_folder(folder: Path) -> bool:
    """Make a folder, or shut one that others may enter; whether it had to be shut. One that many
    share by purpose (``/tmp``), or somebody's whole home, isn't ours to shut.
    """
    make_folder(folder)
    shared = folder.stat().st_mode & stat.S_ISVTX or folder.resolve() == Path.home()
    return not shared and _shut(folder)


def shut_files(files: Iterator[Path]) -> bool:
    """Shut files that others may read; whether there were any."""
    return any([_shut(file) for file in files])


def prepare_database_file(url: URL) -> bool:
    """Make SQLite's file before SQLite does, who would let others read it; shut one that others
    may read. Whether it had to be shut.
    """
    name = url.database
    if url.get_backend_name() != "sqlite" or not name or name.startswith((":", "file:")):
        return False
    with contextlib.suppress(OSError):  # there already; what can't be made, SQLite tells
        os.close(os.open(name, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600))
    beside = (Path(name + ending) for ending in _BESIDE_A_DATABASE)
    return shut_files(file for file in beside if file.exists())


def write_whole(file: Path, content: bytes, mode: int = 0o600) -> None:
    """Write a file durably: when this returns it is there after a power cut, and when it raises,
    nothing of it is.

    Raises:
        FullError: the disk is full.
        OSError: it can't be written.
    """
    unfinished = file.with_name(f"{file.name}.{secrets.token_hex(4)}.part")
    try:
        handle = os.open(unfinished, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
        with os.fdopen(handle, "wb") as out:
            out.write(content)
            out.flush()
            os.fsync(out.fileno())
        os.replace(unfinished, file)
    except BaseException as error:
        unfinished.unlink(missing_ok=True)
        if isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT):
            raise FullError(f"the disk that {file.parent} is on is full") from error
        raise
    _sync(file.parent)


def _shut(path: Path) -> bool:
    mode = stat.S_IMODE(path.stat().st_mode)
    if os.name != "posix" or not mode & _OTHERS:
        return False
    try:
        path.chmod(mode & ~_OTHERS)
    except PermissionError:  # somebody else's, who lets us use it
        return False
    return True


def _sync(folder: Path) -> None:
    """A file's name is durable only when its folder is."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
