"""What the tests of the phone's store and sync share: a place to load its modules from, a line that can be spoiled."""

from __future__ import annotations

import threading
import urllib.error
import urllib.request
from collections.abc import Callable
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

from playwright.sync_api import Page

ROOT = Path(__file__).resolve().parent.parent.parent
STATIC = ROOT / "static"
BLANK = "/blank"
BLANK_PAGE = b"<!doctype html><html lang=en><title>blank</title></html>"
KINDS = {".js": "text/javascript", ".css": "text/css", ".svg": "image/svg+xml"}
# Hop-by-hop headers (RFC 9110, 7.6.1) belong to one stretch of the line; the lengths are written anew.
OWN_TO_A_STRETCH = {"connection", "keep-alive", "transfer-encoding", "content-length", "host", "accept-encoding"}

Answer = tuple[int, dict[str, str], bytes]


class Line:
    """A place between browser and server. Serves the app's scripts from disk itself, so that they load with no server.

    target: address of the real server, None for none; may be changed while it runs.
    spoil: called with (method, path, body) before anything is passed on; returns
        None       pass it on and bring the answer back
        'lose'     pass it on and lose the answer
        'cut'      lose the request
        an Answer  give this answer instead
    seen: (method, path, body) of every /api/ request.
    """

    def __init__(self, target: str | None = None) -> None:
        self.target = target
        self.spoil: Callable[[str, str, bytes], Any] = lambda _method, _path, _body: None
        self.seen: list[tuple[str, str, bytes]] = []
        self.server = ThreadingHTTPServer(("127.0.0.1", 0), self._handler())
        self.server.daemon_threads = True
        self.url = f"http://127.0.0.1:{self.server.server_address[1]}"
        self.thread = threading.Thread(target=self.server.serve_forever, name="line", daemon=True)

    def __enter__(self) -> Line:
        self.thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.server.shutdown()
        self.server.server_close()
        self.thread.join()

    def asked(self, path: str) -> list[bytes]:
        """Return the bodies of the requests to a path so far."""
        return [body for _, asked, body in self.seen if asked == path]

    def _answer(self, method: str, path: str, headers: dict[str, str], body: bytes) -> Answer | None:
        if path == BLANK:
            return 200, {"Content-Type": "text/html"}, BLANK_PAGE
        if path.startswith("/static/"):
            file = STATIC / path.removeprefix("/static/")
            if not file.is_file():
                return 404, {}, b""
            return 200, {"Content-Type": KINDS.get(file.suffix, "application/octet-stream")}, file.read_bytes()
        if path.startswith("/api/"):
            self.seen.append((method, path, body))
        fault = self.spoil(method, path, body)
        if isinstance(fault, tuple):
            return fault
        if fault == "cut":
            return None
        answer = self._pass_on(method, path, headers, body)
        return None if fault == "lose" else answer

    def _pass_on(self, method: str, path: str, headers: dict[str, str], body: bytes) -> Answer | None:
        if self.target is None:
            return None
        kept = {name: value for name, value in headers.items() if name.lower() not in OWN_TO_A_STRETCH}
        question = urllib.request.Request(self.target + path, body or None, kept, method=method)
        if method in ("POST", "PATCH") and not body:
            question.data = b""
        try:
            answer = urllib.request.urlopen(question, timeout=60)
        except urllib.error.HTTPError as refusal:
            answer = refusal
        except OSError:
            return None
        with answer:
            kept = {name: value for name, value in answer.headers.items() if name.lower() not in OWN_TO_A_STRETCH}
            return answer.status, kept, answer.read()

    def _handler(self) -> type[BaseHTTPRequestHandler]:
        line = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def _do(self) -> None:
                body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
                got = line._answer(self.command, self.path, dict(self.headers.items()), body)
                if got is None:
                    self.close_connection = True  # and not a byte said
                    return
                status, headers, content = got
                # A browser sends a request by itself once more when a line used before breaks: each gets a fresh one.
                self.close_connection = True
                self.send_response(status)
                self.send_header("Connection", "close")
                for name, value in headers.items():
                    if name.lower() not in ("date", "server"):
                        self.send_header(name, value)
                if status != 204:
                    self.send_header("Content-Length", str(len(content)))
                self.end_headers()
                if self.command != "HEAD":
                    self.wfile.write(content)

            do_GET = do_POST = do_HEAD = do_PATCH = do_PUT = _do

            def log_message(self, *_: object) -> None:
                """Say nothing: what matters is asserted."""

        return Handler


def call(page: Page, module: str, name: str, *args: object) -> Any:
    """Return what an exported function of a module of static/js gives."""
    script = "async ([module, name, args]) => (await import(`/static/js/${module}.js`))[name](...args)"
    return page.evaluate(script, [module, name, list(args)])


def run(page: Page, body: str, arg: Any = None) -> Any:
    """Run the body of an async function on the page; `store`, `sync`, `upload` are the phone's modules."""
    return page.evaluate(
        f"""async (arg) => {{
          const [store, sync, upload] = await Promise.all(
            ['store', 'sync', 'upload'].map((name) => import(`/static/js/${{name}}.js`)));
          {body}
        }}""",
        arg,
    )


def save(page: Page, *changes: dict[str, Any]) -> list[str]:
    """Save changes on this phone and return the record ids."""
    return run(page, "return Array.from(await store.saveChanges(arg));", list(changes))


def record(page: Page, rec: str) -> dict[str, Any]:
    """Return one merged record of this phone."""
    return run(page, "return store.getRecord(arg);", rec)


def sync(page: Page) -> dict[str, Any]:
    """Sync this phone now and return what it said."""
    return run(page, "return sync.syncNow();")


def ops(page: Page) -> list[dict[str, Any]]:
    """Return every change of this phone's journal, as it would be sent to a home that has none."""
    return run(page, "return store.changesToSend({}, 1000);")


def tree(tag: str, **fields: Any) -> dict[str, Any]:
    """Return a change that makes a tree."""
    return {"type": "tree", "set": {"tag": tag, **fields}}
