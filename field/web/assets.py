"""The files of the phone's app: where they are, which of them the phone keeps, and the worker that keeps them.

The list and the version are made from the disk: nobody edits a list or a number. The version changes when any name or
any content of the list changes, and when the worker's own text does.
"""

from __future__ import annotations

import hashlib
import json
import mimetypes
from collections.abc import Iterator
from itertools import chain
from pathlib import Path

import fontpkg_atkinson_hyperlegible
from flask import Blueprint, Response, render_template, request, send_from_directory
from xstatic.pkg import leaflet

from field.core.errors import NotFound

bp = Blueprint("assets", __name__)

FIELD = Path(__file__).resolve().parent.parent
SHELL_FOLDERS = ("js", "css", "img")
SHELL_ENDINGS = frozenset({".js", ".css", ".svg", ".png", ".webp"})

LEAFLET_URL = f"/vendor/leaflet/{leaflet.VERSION}"
# The package ships sources and maps of 3 MB beside these; only what the browser asks for is served.
LEAFLET_FILES = (
    "leaflet-src.esm.js",
    "leaflet.css",
    "images/layers.png",
    "images/layers-2x.png",
    "images/marker-icon.png",
    "images/marker-icon-2x.png",
    "images/marker-shadow.png",
)
FONT_URL = "/vendor/font"
FONT_FILES = (
    "AtkinsonHyperlegible-Regular.ttf",
    "AtkinsonHyperlegible-Bold.ttf",
    "AtkinsonHyperlegible-Italic.ttf",
)

# A machine's own table of endings may say text/plain for a script, and then no browser runs it.
for ending, media_type in ((".js", "text/javascript"), (".css", "text/css"), (".svg", "image/svg+xml")):
    mimetypes.add_type(media_type, ending)
mimetypes.add_type("font/ttf", ".ttf")


def find_folder(name: str) -> Path:
    """Return a folder of ours: inside the package once installed, beside it in a checkout.

    Args:
        name: 'static' or 'templates'.
    """
    inside = FIELD / name
    return inside if inside.is_dir() else FIELD.parent / name


def leaflet_folder() -> Path:
    """Return where the installed map package keeps its browser files."""
    return Path(leaflet.BASE_DIR)


def font_folder() -> Path:
    """Return where the installed font package keeps its files."""
    return Path(fontpkg_atkinson_hyperlegible.__file__).resolve().parent / "files"


def shell_text() -> str:
    """Return the one page that every screen opens in; needs an app context."""
    return render_template("shell.html")


def _walk_static(static: Path) -> Iterator[tuple[str, Path]]:
    for folder in SHELL_FOLDERS:
        for path in sorted((static / folder).rglob("*")):
            if path.suffix in SHELL_ENDINGS and path.is_file() and not path.name.startswith((".", "_")):
                yield f"/static/{path.relative_to(static).as_posix()}", path


def _walk_vendor() -> Iterator[tuple[str, Path]]:
    yield from ((f"{LEAFLET_URL}/{name}", leaflet_folder() / name) for name in LEAFLET_FILES)
    yield from ((f"{FONT_URL}/{name}", font_folder() / name) for name in FONT_FILES)


def list_assets(static: Path, pages: dict[str, str]) -> tuple[list[str], str]:
    """Return the addresses that the phone keeps, and the version of them all.

    Args:
        static: the folder of our own browser files.
        pages: address -> text, of the pages that are no files: the shell and the manifest.
    Returns: the addresses, the pages first; and 16 hex digits that change with any name or content.
    """
    addresses: list[str] = []
    whole = hashlib.sha256()
    files = ((address, path.read_bytes()) for address, path in chain(_walk_static(static), _walk_vendor()))
    for address, content in chain(((address, text.encode()) for address, text in pages.items()), files):
        addresses.append(address)
        whole.update(address.encode() + b"\0" + hashlib.sha256(content).digest())
    # A changed worker must fill a cache of its own name, or its failure would take the running version's cache away.
    whole.update((static / "sw.js").read_bytes())
    return addresses, whole.hexdigest()[:16]


def worker_text(static: Path, pages: dict[str, str]) -> str:
    """Return the worker: its list and version as two constants, then the text of `static/sw.js`."""
    addresses, version = list_assets(static, pages)
    head = f"const ASSETS = {json.dumps(addresses)};\nconst VERSION = {json.dumps(version)};\n"
    return head + (static / "sw.js").read_text(encoding="utf-8")


def answer_text(text: str, media_type: str) -> Response:
    """Return a text that the browser must ask after each time, and gets only when it changed."""
    answer = Response(text, content_type=media_type)
    answer.headers["Cache-Control"] = "no-cache"
    answer.add_etag()
    answer.make_conditional(request)  # in place
    return answer


@bp.get("/vendor/leaflet/<version>/<path:name>")
def leaflet_file(version: str, name: str) -> Response:
    """Send one browser file of the map package."""
    if version != leaflet.VERSION or name not in LEAFLET_FILES:
        raise NotFound("There is no such file of the map here.")
    return send_from_directory(leaflet_folder(), name)


@bp.get("/vendor/font/<name>")
def font_file(name: str) -> Response:
    """Send one file of the letters."""
    if name not in FONT_FILES:
        raise NotFound("There are no such letters here.")
    return send_from_directory(font_folder(), name)
