"""The server on its laptop: switched off, and put back to an older copy of its data."""

from __future__ import annotations

import contextlib
import io
import json
import shutil
import sqlite3
import urllib.request
import zipfile
from pathlib import Path
from typing import Any

from patience import LONGEST_S
from server_process import LiveServer, new_server


class Laptop:
    """One server process with its database and its pictures."""

    def __init__(self, folder: Path) -> None:
        self.server: LiveServer = new_server(folder / "server")
        self._copy = folder / "copy"
        self.server.start()

    def close(self) -> None:
        self.server.stop()

    def new_key(self, session: str) -> dict[str, Any]:
        """What the desk shows as a code for one more phone."""
        return self._ask("POST", f"/sessions/{session}/keys", {"label": "Phone in the car"})

    def revoke(self, session: str, key: str) -> None:
        self._ask("DELETE", f"/sessions/{session}/keys/{key}", None)

    def _ask(self, method: str, path: str, body: object) -> Any:
        request = urllib.request.Request(
            f"{self.server.url}/api{path}",
            method=method,
            data=None if body is None else json.dumps(body).encode(),
            headers={"Content-Type": "application/json"},
        )
        with urllib.request.urlopen(request, timeout=LONGEST_S) as answer:
            content = answer.read()
        return json.loads(content) if content else None

    def session_file(self, session: str) -> dict[str, Any]:
        """The whole session as the server exports it."""
        url = f"{self.server.url}/api/sessions/{session}/file"
        with urllib.request.urlopen(url, timeout=LONGEST_S) as answer:
            content = answer.read()
        if content[:2] == b"PK":
            with zipfile.ZipFile(io.BytesIO(content)) as archive:
                content = archive.read("session.json")
        document: dict[str, Any] = json.loads(content)
        return document

    def copy_data(self) -> None:
        """Copy database and pictures while it runs, as a backup does."""
        shutil.rmtree(self._copy, ignore_errors=True)
        self._copy.mkdir()
        with (
            contextlib.closing(sqlite3.connect(self._database())) as source,
            contextlib.closing(sqlite3.connect(self._copy / "ebbline.sqlite3")) as target,
        ):
            source.backup(target)
        if self._photos().is_dir():
            shutil.copytree(self._photos(), self._copy / "photos")

    def restore(self) -> None:
        """Cut its power and start it on the copy."""
        self.server.kill()
        for path in self.server.data.glob("ebbline.sqlite3*"):
            path.unlink()
        shutil.copy(self._copy / "ebbline.sqlite3", self._database())
        shutil.rmtree(self._photos(), ignore_errors=True)
        if (self._copy / "photos").is_dir():
            shutil.copytree(self._copy / "photos", self._photos())
        self.server.start()

    def _database(self) -> Path:
        return self.server.data / "ebbline.sqlite3"

    def _photos(self) -> Path:
        return self.server.data / "photos"
