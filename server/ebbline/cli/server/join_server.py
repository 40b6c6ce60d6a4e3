"""The help page and the authority's certificate over plain http, for phones that don't trust us
yet. Nothing else is served there.
"""

from __future__ import annotations

import ssl
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from types import TracebackType
from urllib.parse import urlsplit

import orjson

import ebbline
from ebbline.cli.server.reach import Reach
from ebbline.errors import EbblineError

PACKAGE = Path(ebbline.__file__).parent
PARTS = {
    "/join": ("join/index.html", "text/html; charset=utf-8"),
    "/join/style.css": ("join/style.css", "text/css; charset=utf-8"),
    "/join/main.js": ("join/main.js", "text/javascript; charset=utf-8"),
    "/shared/theme.css": ("shared/theme.css", "text/css; charset=utf-8"),
    "/shared/icons/icon.svg": ("shared/icons/icon.svg", "image/svg+xml"),
}


class JoinServer:
    """A little server in a thread of its own, as long as the context lasts."""

    def __init__(self, reach: Reach, port: int, fingerprint: str) -> None:
        """``port``: of the machine's address that ``reach`` tells phones.

        Raises:
            EbblineError: the port is taken.
        """
        assert reach.tls is not None
        assert reach.address.public_url is not None
        self.url = f"http://{urlsplit(reach.address.public_url).hostname}:{port}/join"
        where = {"url": reach.address.public_url, "authority": True, "sha256": fingerprint}
        content = {
            path: ((_pages() / name).read_bytes(), kind) for path, (name, kind) in PARTS.items()
        }
        content["/join/where.json"] = orjson.dumps(where), "application/json"
        pem = reach.tls.authority.read_text()
        content["/join/authority.crt"] = (
            ssl.PEM_cert_to_DER_cert(pem),
            "application/x-x509-ca-cert",
        )
        try:
            self._server = ThreadingHTTPServer((reach.host, port), _handler(content))
        except (OSError, OverflowError) as error:
            raise EbblineError(f"port {port}, for phones that come first, can't be used") from error

    def __enter__(self) -> JoinServer:
        """Begin to answer."""
        threading.Thread(target=self._server.serve_forever, daemon=True).start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        traceback: TracebackType | None,
    ) -> None:
        """Stop."""
        self._server.shutdown()
        self._server.server_close()


def _pages() -> Path:
    installed = PACKAGE / "pwa"
    return installed if installed.is_dir() else PACKAGE.parents[1] / "pwa"


def _handler(content: dict[str, tuple[bytes, str]]) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        server_version = "Ebbline"
        sys_version = ""
        timeout = 10

        def do_GET(self) -> None:
            found = content.get(urlsplit(self.path).path.rstrip("/"))
            if found is None:
                self.send_error(404)
                return
            body, kind = found
            self.send_response(200)
            self.send_header("Content-Type", kind)
            self.send_header("Content-Length", str(len(body)))
            self.send_header("Cache-Control", "no-store")
            self.send_header("X-Content-Type-Options", "nosniff")
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *args: object) -> None:
            """Say nothing."""

    return Handler
