"""What each page is made of, told by the files themselves: there is no list to keep by hand.

A page takes in what its HTML names, and the modules that its scripts need: as one file, unless it
imports some of them only while it runs. All of it together has a version, the hash of every byte.
Scripts and styles are asked for below that version's address, so that a browser may keep them for
good and never mixes two versions.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256
from pathlib import Path

import orjson

from ebbline.web import modules
from ebbline.web.joining import joined

HTML = {
    "": "index.html",
    "capture": "capture/index.html",
    "desk": "desk/index.html",
    "follow": "follow/index.html",
    "join": "join/index.html",
    "sign-in": "sign-in/index.html",
}
_NAMED = re.compile(r'\b(?:src|href)="/([^"#?]+)"')
_MODULE = re.compile(r'<script type="module" src="/([^"]+)"')

Stamp = tuple[int, int] | None


@dataclass(frozen=True, slots=True, eq=False)
class Page:
    """One page as its files were when they were read."""

    html: str  # path of its own file
    scripts: tuple[str, ...]  # modules that its HTML names
    within: frozenset[str]  # modules that are sent as part of these
    files: Mapping[str, bytes]  # all that it takes in, itself too, by path
    version: str

    def text(self, path: str) -> str:
        """One of its files."""
        return self.files[path].decode()

    def address(self, path: str) -> str:
        """Where one of its files is asked for."""
        by_version = path == self.html or path.endswith((".js", ".css"))
        return f"/version/{self.version}/{path}" if by_version else f"/{path}"


@lru_cache(maxsize=32)
def served_html(page: Page, soon: str | None = None) -> bytes:
    """A page's HTML, asking for every module at once instead of one after the other.

    Args:
        page: which one.
        soon: a module that its scripts are going to import while they run.
    """
    wanted = modules.reached([*page.scripts, *([soon] if soon else [])], page.text)
    links = "".join(
        f'<link rel="modulepreload" href="/{path}">\n'
        for path in wanted
        if path not in page.scripts and path not in page.within
    )
    text = page.text(page.html).replace("</head>", f"{links}</head>", 1)

    def address(found: re.Match[str]) -> str:
        path = found[1]
        return found[0].replace(f"/{path}", page.address(path)) if path in page.files else found[0]

    return _NAMED.sub(address, text).encode()


@lru_cache(maxsize=512)
def served_file(page: Page, path: str) -> bytes:
    """One of a page's files, as it is sent below the page's version."""
    if path == page.html:
        return served_html(page)
    if page.within and path in page.scripts:
        return joined(path, lambda name: modules.undocumented(page.text(name))).encode()
    if path.endswith(".js"):
        return modules.undocumented(page.text(path)).encode()
    if path.endswith(".css"):
        return modules.undocumented_sheet(page.text(path)).encode()
    return page.files[path]


def offline_copy(page: Page) -> bytes:
    """What a service worker has to know to keep all of a page: a line of JavaScript."""
    copy = {
        "version": page.version,
        "page": page.address(page.html),
        "files": [
            page.address(path)
            for path in page.files
            if path != page.html and path not in page.within
        ],
    }
    return b"self.COPY = " + orjson.dumps(copy) + b";\n"


class Pages:
    """The pages of a folder. A page is read once, and again when one of its files has changed."""

    def __init__(self, folder: Path) -> None:
        """``folder``: with the files as they lie."""
        self._folder = folder
        self._known: dict[str, tuple[dict[str, Stamp], Page]] = {}

    def page(self, name: str) -> Page:
        """The page of this name, as its files are now."""
        if name in self._known:
            stamps, page = self._known[name]
            if all(self._stamp(path) == stamp for path, stamp in stamps.items()):
                return page
        self._known[name] = self._read(HTML[name])
        return self._known[name][1]

    def page_of_version(self, version: str, path: str) -> Page | None:
        """The page that has this file in this version; None unless it is one we have."""
        for _, page in list(self._known.values()):
            if page.version == version and path in page.files:
                return page
        pages = (self.page(name) for name in HTML)
        return next((p for p in pages if p.version == version and path in p.files), None)

    def _read(self, html: str) -> tuple[dict[str, Stamp], Page]:
        stamps: dict[str, Stamp] = {}
        files: dict[str, bytes] = {}

        def take(path: str) -> bytes:
            if path not in files:
                stamps[path] = self._stamp(path)  # before it is read: a later change is seen
                files[path] = (self._folder / path).read_bytes()
            return files[path]

        def text(path: str) -> str:
            return take(path).decode()

        own = text(html)
        scripts = tuple(_MODULE.findall(own))
        at_once = modules.reached(scripts, text)
        is_all = len(modules.reached(scripts, text, later=True)) == len(at_once)
        for path in _NAMED.findall(own):
            if (self._folder / path).is_file():
                take(path)
        digest = sha256()
        for path, content in sorted(files.items()):
            digest.update(b"%s\0%d\0%s" % (path.encode(), len(content), content))
        within = frozenset(at_once) - set(scripts) if is_all and len(scripts) == 1 else frozenset()
        return stamps, Page(html, scripts, within, files, digest.hexdigest()[:12])

    def _stamp(self, path: str) -> Stamp:
        """When and how large a file was written; None when it is gone."""
        try:
            seen = (self._folder / path).stat()
        except FileNotFoundError:
            return None
        return seen.st_mtime_ns, seen.st_size
