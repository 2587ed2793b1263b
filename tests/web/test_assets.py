"""The list of the phone's files is what lies on the disk, and its version changes with any of it."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest

from field.web import assets

ROOT = Path(__file__).resolve().parent.parent.parent
PAGES = {"/": "<p>shell</p>", "/manifest.webmanifest": "{}"}


@pytest.fixture
def database_url() -> None:
    """No record plays a part here: one engine is enough."""


@pytest.fixture
def static(tmp_path: Path) -> Path:
    """A small static folder of the same build as the real one."""
    folder = tmp_path / "static"
    for name in ("js/main.js", "js/core/a.js", "css/base.css", "img/icon.svg", "sw.js"):
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(f"/* {name} */", encoding="utf-8")
    return folder


def ours(addresses: list[str]) -> set[str]:
    return {address for address in addresses if address.startswith("/static/")}


def test_list_is_what_lies_on_the_disk() -> None:
    static = ROOT / "static"
    addresses, _ = assets.list_assets(static, PAGES)
    on_disk = {
        f"/static/{path.relative_to(static).as_posix()}"
        for folder in ("js", "css", "img")
        for path in (static / folder).rglob("*.*")
        if path.is_file()
    }
    assert ours(addresses) == on_disk
    assert len(addresses) == len(set(addresses))


def test_only_files_that_a_browser_asks_for_are_listed(static: Path) -> None:
    for name in ("js/notes.txt", "img/draw.py", "js/.main.js.swp", "css/_old.css", "deep.js"):
        (static / name).write_text("", encoding="utf-8")
    addresses, _ = assets.list_assets(static, PAGES)
    assert ours(addresses) == {
        "/static/js/main.js",
        "/static/js/core/a.js",
        "/static/css/base.css",
        "/static/img/icon.svg",
    }


def test_version_stays_while_nothing_changes(static: Path, tmp_path: Path) -> None:
    copy = Path(shutil.copytree(static, tmp_path / "elsewhere"))
    assert assets.list_assets(static, PAGES) == assets.list_assets(copy, PAGES)


@pytest.mark.parametrize("name", ["js/core/a.js", "css/base.css", "img/icon.svg", "sw.js"])
def test_version_changes_with_any_content(static: Path, name: str) -> None:
    before = assets.list_assets(static, PAGES)[1]
    (static / name).write_text("changed", encoding="utf-8")
    assert assets.list_assets(static, PAGES)[1] != before


def test_version_changes_with_a_name_alone(static: Path) -> None:
    before = assets.list_assets(static, PAGES)[1]
    (static / "js/core/a.js").rename(static / "js/core/b.js")
    assert assets.list_assets(static, PAGES)[1] != before


@pytest.mark.parametrize("address", sorted(PAGES))
def test_version_changes_with_a_page(static: Path, address: str) -> None:
    before = assets.list_assets(static, PAGES)[1]
    assert assets.list_assets(static, {**PAGES, address: "other"})[1] != before


def test_worker_is_two_constants_and_the_file(static: Path) -> None:
    addresses, version = assets.list_assets(static, PAGES)
    first, second, rest = assets.worker_text(static, PAGES).split("\n", 2)
    assert json.loads(first.removeprefix("const ASSETS = ").removesuffix(";")) == addresses
    assert json.loads(second.removeprefix("const VERSION = ").removesuffix(";")) == version
    assert rest == "/* sw.js */"


def test_worker_is_asked_for_each_time_and_sent_only_when_changed(client) -> None:
    answer = client.get("/sw.js")
    assert answer.headers["Cache-Control"] == "no-cache"
    assert answer.mimetype == "text/javascript"
    assert answer.text.startswith("const ASSETS = [")
    again = client.get("/sw.js", headers={"If-None-Match": answer.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")


def listed(client) -> list[str]:
    first = client.get("/sw.js").text.partition("\n")[0]
    return json.loads(first.removeprefix("const ASSETS = ").removesuffix(";"))


def test_every_listed_address_is_answered_without_a_redirect(client) -> None:
    addresses = listed(client)
    assert addresses[0] == "/"
    for address in addresses:
        answer = client.get(address, buffered=True)
        assert answer.status_code == 200, address
        assert answer.data, address
        assert answer.headers["Cache-Control"] == "no-cache", address
        assert answer.headers["ETag"], address


def test_media_types_are_what_a_browser_runs(client) -> None:
    wanted = {
        ".js": "text/javascript",
        ".css": "text/css",
        ".svg": "image/svg+xml",
        ".png": "image/png",
        ".ttf": "font/ttf",
    }
    for address in listed(client):
        ending = Path(address).suffix
        if ending in wanted:
            assert client.get(address, buffered=True).mimetype == wanted[ending], address


def test_what_our_files_ask_of_packages_is_listed(client) -> None:
    addresses = set(listed(client))
    asked = set()
    for path in (ROOT / "static").rglob("*.*"):
        if path.suffix in (".js", ".css"):
            asked |= set(re.findall(r"/vendor/[\w./-]+\.\w+", path.read_text(encoding="utf-8")))
    assert asked
    assert asked <= addresses


def test_what_the_shell_links_to_is_listed(client) -> None:
    asked = set(re.findall(r'(?:href|src)="(/[^"]+)"', client.get("/").text))
    assert "/static/js/main.js" in asked
    assert asked <= set(listed(client))


@pytest.mark.parametrize(
    "address",
    [
        f"{assets.LEAFLET_URL}/leaflet-src.js.map",
        f"{assets.LEAFLET_URL}/../leaflet.css",
        "/vendor/leaflet/0.0.1/leaflet.css",
        "/vendor/font/LICENSE",
        "/vendor/font/..%2Fmetadata.json",
        "/static/../pyproject.toml",
        "/static/%2e%2e/pyproject.toml",
    ],
)
def test_nothing_else_of_a_package_or_the_disk_is_sent(client, address: str) -> None:
    answer = client.get(address, buffered=True)
    assert answer.status_code == 404
    assert answer.mimetype == "text/html"
