"""A relay before the real server that spoils single addresses on demand: faults that no browser setting can make."""

from __future__ import annotations

import threading
import urllib.error
import urllib.request
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

PASSED_ON = ("Content-Type", "Cache-Control", "ETag", "Content-Security-Policy")


class Relay:
    """Passes GET requests on to `target`; an address in `faults` is answered as said there instead.

    faults: address -> 'error' (500), 'redirect' (302 to /robots.txt), 'cut' (the connection ends half-way)
    """

    def __init__(self, target: str) -> None:
        self.target = target
        self.faults: dict[str, str] = {}
        self.server = ThreadingHTTPServer(("127.0.0.1", 0), self._handler())
        self.server.daemon_threads = True
        self.url = f"http://127.0.0.1:{self.server.server_address[1]}"
        self.thread = threading.Thread(target=self.server.serve_forever, name="relay", daemon=True)

    def __enter__(self) -> Relay:
        self.thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.server.shutdown()
        self.server.server_close()
        self.thread.join()

    def _handler(self) -> type[BaseHTTPRequestHandler]:
        relay = self

        class Handler(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                fault = relay.faults.get(self.path)
                if fault == "error":
                    self.send_error(500)
                elif fault == "redirect":
                    self.send_response(302)
                    self.send_header("Location", "/robots.txt")
                    self.send_header("Content-Length", "0")
                    self.end_headers()
                else:
                    self._pass_on(cut=fault == "cut")

            def _pass_on(self, *, cut: bool) -> None:
                try:
                    answer = urllib.request.urlopen(relay.target + self.path, timeout=30)
                except urllib.error.HTTPError as refusal:
                    answer = refusal
                with answer:
                    body = answer.read()
                    self.send_response(answer.status)
                    for name in PASSED_ON:
                        if answer.headers[name]:
                            self.send_header(name, answer.headers[name])
                self.send_header("Content-Length", str(len(body)))
                self.end_headers()
                self.wfile.write(body[: len(body) // 2] if cut else body)
                self.close_connection = cut

            def log_message(self, *_: object) -> None:
                """Say nothing: what matters is asserted."""

        return Handler
