"""The line between phone and server: a proxy that can lose, delay and lie."""

from __future__ import annotations

import http.client
import json
import random
import threading
import time
from collections import Counter
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

from patience import LONGEST_S

PORTAL_PAGE = b"<!doctype html><title>Guest network</title><h1>Log in to use this network</h1>"
HOP_BY_HOP = {"connection", "keep-alive", "transfer-encoding"}


class Line:
    """Forwards requests to the server; ``state`` says how well.

    ``good``; ``lossy``: each second request is lost, on its way there or on its way back;
    ``portal``: every answer is a login page with status 200; ``dead``: nothing gets through.
    """

    def __init__(self, server_port: int, chance: random.Random) -> None:
        self.state = "good"
        self.lost = 0
        self.uploads: Counter[str] = Counter()  # of records, answered: by the sending device
        self._chance = chance
        self._lock = threading.Lock()
        self._odd = False
        line = self

        class Handler(_Handler):
            def handle_request(self) -> None:
                line.pass_on(self, server_port)

        self._proxy = _Proxy(("127.0.0.1", 0), Handler)
        self.url = f"http://127.0.0.1:{self._proxy.server_port}"
        self._thread = threading.Thread(target=self._proxy.serve_forever, daemon=True)
        self._thread.start()

    def close(self) -> None:
        self._proxy.shutdown()
        self._proxy.server_close()
        self._thread.join()

    def pass_on(self, handler: _Handler, server_port: int) -> None:
        state, lose = self._fate()
        if state == "portal":
            handler.reply(200, [("Content-Type", "text/html")], PORTAL_PAGE)
            return
        if state == "dead" or lose == "there":
            handler.hang_up()
            return
        length = int(handler.headers.get("Content-Length") or 0)
        body = handler.rfile.read(length) if length else None
        server = http.client.HTTPConnection("127.0.0.1", server_port, timeout=LONGEST_S)
        try:
            headers = {k: v for k, v in handler.headers.items() if k.lower() not in HOP_BY_HOP}
            server.request(handler.command, handler.path, body, headers)
            answer = server.getresponse()
            content = answer.read()
        except (OSError, http.client.HTTPException):
            handler.hang_up()
            return
        finally:
            server.close()
        if lose == "back":
            handler.hang_up()
            return
        if handler.path.endswith("/records") and answer.status == 200:
            with self._lock:
                self.uploads[json.loads(body or b"{}")["device"]] += 1
        kept = [(k, v) for k, v in answer.getheaders() if k.lower() not in HOP_BY_HOP]
        handler.reply(answer.status, kept, content)

    def _fate(self) -> tuple[str, str]:
        with self._lock:
            self._odd = not self._odd
            if self.state != "lossy" or self._odd:
                return self.state, ""
            self.lost += 1
            return self.state, self._chance.choice(["there", "back"])


class _Proxy(ThreadingHTTPServer):
    daemon_threads = True

    def handle_error(self, request: object, client_address: object) -> None:
        """A browser that was killed leaves broken connections: nothing to tell."""


class _Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    timeout = 60

    def handle_request(self) -> None:
        raise NotImplementedError

    def do_GET(self) -> None:
        self.handle_request()

    do_POST = do_PUT = do_DELETE = do_GET  # noqa: N815  # names of the standard library

    def reply(self, status: int, headers: list[tuple[str, str]], content: bytes) -> None:
        self.send_response_only(status)
        for name, value in headers:
            if name.lower() != "content-length":
                self.send_header(name, value)
        self.send_header("Content-Length", str(len(content)))
        self.end_headers()
        self.wfile.write(content)

    def hang_up(self) -> None:
        self.close_connection = True
        time.sleep(0.02)

    def log_message(self, format: str, *args: object) -> None:
        """Quiet."""
