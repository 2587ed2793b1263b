"""The app's own modules as phones: real IndexedDB, real fetch, in a browser page of their own each."""

from __future__ import annotations

import base64
import threading
from contextlib import ExitStack, suppress
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

from a_browser import launched
from broken import broken_text
from phone_kit import BLANK, BLANK_PAGE, KINDS, STATIC
from playwright.sync_api import Error, Page
from python_phone import Disk
from schedule import Chance
from wire import Answer, CutAnswer, Line, NoAnswer

PAGES = 3
DIES = "X-Chaos-Dies"
KEPT_BACK = {"connection", "content-length", "date", "server", "transfer-encoding"}
# The page's clock runs apart by `driftMs`; an answer marked so ends the page a moment after it came.
BEFORE = """
globalThis.driftMs = 0;
{
  const Real = Date;
  globalThis.Date = class extends Real {
    constructor(...args) { if (args.length > 0) super(...args); else super(Real.now() + globalThis.driftMs); }
    static now() { return Real.now() + globalThis.driftMs; }
  };
  const realFetch = globalThis.fetch.bind(globalThis);
  globalThis.fetch = async (...args) => {
    const answer = await realFetch(...args);
    const dies = answer.headers.get('X-Chaos-Dies');
    if (dies !== null) setTimeout(() => globalThis.die?.('its battery is empty'), Number(dies));
    return answer;
  };
}
"""
KIT = """
const load = (name) => import(`/static/js/${name}.js`);
const [store, db, sync] = await Promise.all(['store', 'store/db', 'sync'].map(load));
const bytesOf = (text) => Uint8Array.from(atob(text), (c) => c.charCodeAt(0)).buffer;
const textOf = (bytes) => btoa(Array.from(new Uint8Array(bytes), (byte) => String.fromCharCode(byte)).join(''));
const whole = async (mode, work) => {
  const opened = await db.openStore();
  return db[mode]([...opened.objectStoreNames], (tx) => work(tx, [...opened.objectStoreNames]));
};
const clear = (rows) => whole('write', async (tx, names) => {
  for (const name of names) await db.ask(tx.objectStore(name).clear());
  for (const [name, row] of rows) await db.ask(tx.objectStore(name).put(row));
});
"""


class Browsers:
    """A browser with some pages, each a phone while a schedule runs; all go through one line to the home."""

    def __init__(self, breaking: str = "") -> None:
        self.breaking = breaking
        self.lock = threading.Lock()  # one request at a time, so that a schedule runs the same each time
        self.line: Line | None = None
        self.chance: Chance | None = None
        self.stack = ExitStack()
        self.server = ThreadingHTTPServer(("127.0.0.1", 0), self._handler())
        self.server.daemon_threads = True
        threading.Thread(target=self.server.serve_forever, daemon=True).start()
        self.url = f"http://127.0.0.1:{self.server.server_address[1]}"
        browser = self.stack.enter_context(launched())
        self.pages = [self._page(browser.new_context(timezone_id="UTC").new_page()) for _ in range(PAGES)]
        self.taken = 0

    def _page(self, page: Page) -> Page:
        page.add_init_script(BEFORE)
        page.goto(self.url + BLANK)
        return page

    def close(self) -> None:
        self.stack.close()
        self.server.shutdown()
        self.server.server_close()

    def begin(self) -> None:
        """All pages are free again."""
        self.taken = 0

    def new_phone(self, disk: Disk, drift_ms: int, _seed: int = 0) -> BrowserPhone:
        phone = self._take(drift_ms)
        assert phone is not None
        phone.become(disk.dev, disk.token)
        return phone

    def _take(self, drift_ms: int) -> BrowserPhone | None:
        if self.taken == len(self.pages):
            return None
        self.taken += 1
        return BrowserPhone(self, self.pages[self.taken - 1], drift_ms)

    def copy_of(self, phone: BrowserPhone) -> BrowserPhone | None:
        copied = self._take(phone.drift_ms)
        if copied is not None:
            copied.paired_as = phone.paired_as
            copied.load(phone.dump())
        return copied

    # --- between page and line --------------------------------------------------------------------------------------

    def _file(self, path: str) -> Answer:
        if path == BLANK:
            return Answer(200, {"Content-Type": "text/html"}, BLANK_PAGE)
        file = STATIC / path.removeprefix("/static/")
        if not file.is_file():
            return Answer(404, {}, b"")
        return Answer(200, {"Content-Type": KINDS.get(file.suffix, "application/octet-stream")}, self._text(file))

    def _text(self, file: Path) -> bytes:
        if file.suffix != ".js":
            return file.read_bytes()
        return broken_text(self.breaking, file, file.read_text(encoding="utf-8")).encode()

    def _pass_on(self, method: str, path: str, headers: dict[str, str], body: bytes) -> tuple[Answer, int] | None:
        """The answer, and how many bytes of it come through; None for none at all."""
        if self.line is None:
            return None
        spoils = self.chance is not None and self.chance.random() < self.chance.spoils
        try:
            answer = self.line.ask(method, path, headers, body, self.chance if spoils else None)
        except CutAnswer as cut:
            return cut.answer, cut.size
        except NoAnswer:
            return None
        if self.chance is not None and self.chance.random() < self.chance.dies:
            answer = Answer(answer.status, {**answer.headers, DIES: str(self.chance.randrange(12))}, answer.body)
        return answer, len(answer.body)

    def _handler(self) -> type[BaseHTTPRequestHandler]:
        browsers = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def _do(self) -> None:
                self.close_connection = True
                body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
                if not self.path.startswith("/api/"):
                    answer = browsers._file(self.path)
                    size = len(answer.body)
                else:
                    kept = ("authorization", "content-type", "upload-offset", "upload-length", "upload-complete")
                    headers = {name: value for name, value in self.headers.items() if name.lower() in kept}
                    with browsers.lock:
                        got = browsers._pass_on(self.command, self.path, headers, body)
                    if got is None:
                        return  # not a byte said
                    answer, size = got
                self.send_response(answer.status)
                for name, value in answer.headers.items():
                    if name.lower() not in KEPT_BACK:
                        self.send_header(name, value)
                self.send_header("Connection", "close")
                if answer.status != 204:
                    self.send_header("Content-Length", str(len(answer.body)))
                self.end_headers()
                if self.command != "HEAD":
                    with suppress(ConnectionError):  # the page may be gone by now
                        self.wfile.write(answer.body[:size])

            do_GET = do_POST = do_HEAD = do_PATCH = _do

            def log_message(self, *_: object) -> None:
                """Say nothing: what matters is asserted."""

        return Handler


class BrowserPhone:
    """One page with the app's store and sync in it; speaks as `PythonPhone` does."""

    def __init__(self, browsers: Browsers, page: Page, drift_ms: int) -> None:
        self.browsers, self.page = browsers, page
        self.paired_as = ""
        self.drift_ms = drift_ms
        self.set_drift(drift_ms)

    def _run(self, body: str, arg: Any = None) -> Any:
        return self.page.evaluate(f"async (arg) => {{ {KIT} {body} }}", arg)

    def become(self, device: str, token: str | None) -> None:
        """Be a phone with nothing on it."""
        self.paired_as = device
        identity = None if token is None else {"device": device, "token": token, "name": "A phone", "paired_at": "-"}
        rows = [["meta", {"key": "writer", "value": {"dev": device, "seq": 0}}]]
        if identity is not None:
            rows.append(["meta", {"key": "identity", "value": identity}])
        self._run("await clear(arg);", rows)

    def wipe(self, device: str) -> None:
        self.become(device, None)

    def clone(self) -> BrowserPhone | None:
        return self.browsers.copy_of(self)

    def dump(self) -> str:
        """Everything in the store, as text."""
        return str(
            self._run("""
            const rows = await whole('read', async (tx, names) => {
              const all = [];
              for (const name of names) {
                for (const row of await db.ask(tx.objectStore(name).getAll())) all.push([name, row]);
              }
              return all;
            });
            return JSON.stringify(rows, (key, value) => value instanceof ArrayBuffer ? {b64: textOf(value)} : value);
            """)
        )

    def load(self, text: str) -> None:
        self._run(
            "await clear(JSON.parse(arg, (key, value) => value?.b64 === undefined ? value : bytesOf(value.b64)));", text
        )

    def set_drift(self, drift_ms: int) -> None:
        self.drift_ms = drift_ms
        self.page.evaluate("(ms) => { globalThis.driftMs = ms; }", drift_ms)

    def merged(self, rec: str) -> dict[str, Any] | None:
        got: dict[str, Any] | None = self._run("return store.getRecord(arg);", rec)
        return got

    def edit(self, kind: str, rec: str, values: dict[str, Any], photo: bytes | None = None) -> None:
        text = None if photo is None else base64.b64encode(photo).decode()
        self._run(
            """
            const [type, rec, set, text] = arg;
            const photos = text === null ? [] : [{sha256: set.sha256, type: 'image/jpeg', bytes: bytesOf(text)}];
            await store.saveChanges([{rec, type, set}], {photos});
            """,
            [kind, rec, values, text],
        )

    def sync(self, line: Line, chance: Chance | None) -> str:
        self.browsers.line, self.browsers.chance = line, chance
        said = self._run("""
            const dies = new Promise((resolve) => { globalThis.die = (text) => resolve({died: text}); });
            const said = await Promise.race([sync.syncNow(), dies]);
            let state = null;
            sync.onSyncState((now) => { state = now; })();
            return {...said, phase: state.phase, code: state.trouble?.code ?? null};
        """)
        self.browsers.chance = None
        if "died" in said:
            self._begin_again()
            return str(said["died"])
        if said["phase"] == "unpaired":
            return "unpaired"
        return "done" if said["ok"] else said["text"]

    def _begin_again(self) -> None:
        with self.browsers.lock:
            self.browsers.line = None  # what the page still had under way goes nowhere
        self.page.goto(self.browsers.url + BLANK)
        self.set_drift(self.drift_ms)

    def pair(self, line: Line, code: str) -> None:
        self.browsers.line, self.browsers.chance = line, None
        try:
            said = self._run("return sync.pair(arg, 'A phone');", code)
        except Error as fault:
            if line.died:
                raise NoAnswer("home died") from None
            raise AssertionError(str(fault)) from None
        self.paired_as = said["device"]

    def photos(self) -> set[str]:
        return set(self._run("return whole('read', (tx) => db.ask(tx.objectStore('photos').getAllKeys()));"))

    def journal(self) -> dict[tuple[str, int], tuple[Any, bool, str | None]]:
        rows = self._run("return whole('read', (tx) => db.ask(tx.objectStore('ops').getAll()));")
        return {(row["dev"], row["seq"]): (row["op"], row["suspect"], row["held"]) for row in rows}

    def state(self) -> dict[str, Any]:
        place: dict[str, Any] = self._run("""
            const [place, counts, dev] = await Promise.all([store.syncPlace(), store.counts(), store.deviceId()]);
            const waiting = counts.changes_unsent + counts.photos_unsent;
            return {dev, epoch: place.epoch, cursor: place.cursor, waiting};
        """)
        return place
