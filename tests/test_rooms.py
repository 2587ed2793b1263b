"""Which room may import which: the table of DEVELOPERS.md, held against every import line.

Also: the pure rooms load without Flask or SQLAlchemy, and no two modules import each other in a ring.
"""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
FIELD = ROOT / "field"
STATIC_JS = ROOT / "static" / "js"

PURE = ("core", "readers", "sync", "papers")
DRAWS = "field.papers.embedded_font"
ROOMS_ALLOWED = {
    "core": {"core"},
    "readers": {"core", "readers"},
    "sync": {"core", "sync"},
    "papers": {"core", "papers"},
    "store": {"core", "sync", "store"},
    "services": {"core", "readers", "sync", "papers", "store", "services"},
    "web": {"services", "web"},
    "verbs": {"services", "web", "verbs"},
    "cli": {"services", "verbs"},
}
# Single modules of another room that a room may also use.
MODULES_ALLOWED = {
    "web": {"field.core.reasons", "field.core.errors", "field.store.db"},
    "verbs": {"field.core.errors", "field.core.reasons", "field.store.db"},
    "cli": {"field.core.errors"},
}
LIBRARIES_ALLOWED = {
    "core": {"geographiclib"},
    "readers": {"exifread", "gpxpy"},
    "sync": set(),
    "papers": {"reportlab", "bidi", "uharfbuzz", "segno", "icalendar", "gpxpy"},
    # flask: Flask-SQLAlchemy keeps a database by app, and the store binds it to one.
    "store": {"sqlalchemy", "flask_sqlalchemy", "flask", "alembic", "PIL", "pillow_heif"},
    "services": {"granian", "segno", "gpxpy", "cryptography", "zeroconf", "ifaddr", "argon2"},
    "web": {"flask", "werkzeug", "xstatic", "fontpkg_atkinson_hyperlegible"},
    "verbs": {"segno"},
    "cli": set(),
}


def imports_of(text: str) -> Iterator[str]:
    """Yield each dotted name that a Python text imports; relative imports are yielded with their dots."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            yield from (name.name for name in node.names)
        elif isinstance(node, ast.ImportFrom):
            start = "." * node.level + (node.module or "")
            yield from (f"{start}.{name.name}" for name in node.names)


def room_of(module: str) -> str | None:
    """Return the room of a module of ours ('field.core.dates' -> 'core'), None for others."""
    parts = module.split(".")
    return parts[1] if parts[0] == "field" and len(parts) > 1 else None


def faults_in(room: str, text: str) -> list[str]:
    """Return what a file of a room imports and may not."""
    faults = []
    for name in imports_of(text):
        if name.startswith("."):
            faults.append(f"relative import {name}")
            continue
        other = room_of(name)
        if other is not None:
            single = any(name == m or name.startswith(m + ".") for m in MODULES_ALLOWED.get(room, ()))
            if other not in ROOMS_ALLOWED[room] and not single and name != "field.__version__":
                faults.append(f"room {other}: {name}")
        elif name.split(".")[0] not in sys.stdlib_module_names | LIBRARIES_ALLOWED[room] | {"field"}:
            faults.append(f"library {name}")
    return faults


def python_files() -> list[tuple[str, Path]]:
    found = [(path.relative_to(FIELD).parts[0], path) for path in sorted(FIELD.glob("*/**/*.py"))]
    return [*found, ("cli", FIELD / "cli.py")]


@pytest.mark.parametrize(
    ("room", "path"), python_files(), ids=lambda value: value.stem if isinstance(value, Path) else value
)
def test_room_imports_only_what_it_may(room: str, path: Path) -> None:
    assert room in ROOMS_ALLOWED, f"{path} stands in a room that is not in the table"
    if "migrations" in path.parts:
        room = "store"
    assert faults_in(room, path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize(
    ("room", "line"),
    [
        ("core", "import flask"),
        ("core", "from field.store import db"),
        ("core", "from . import dates"),
        ("sync", "from field.readers import gpx"),
        ("readers", "import sqlalchemy as sa"),
        ("web", "from field.core import may_dig"),
        ("services", "import flask"),
    ],
)
def test_a_wrong_arrow_is_found(room: str, line: str) -> None:
    assert faults_in(room, line)


def pure_modules() -> list[str]:
    return [
        ".".join(path.relative_to(ROOT).with_suffix("").parts)
        for room in PURE
        for path in sorted((FIELD / room).rglob("*.py"))
        if path.name != "__init__.py"
    ]


def test_pure_rooms_load_without_the_web_or_the_database() -> None:
    # One fresh interpreter, and what is loaded looked at after every import: the first culprit is named. What draws by
    # reportlab comes last, for that loads the image library; others import it no sooner than they make a paper.
    names = sorted(pure_modules(), key=lambda name: name == DRAWS)
    code = (
        "import importlib, sys\n"
        f"for name in {names!r}:\n"
        "    importlib.import_module(name)\n"
        "    for heavy in ('flask', 'sqlalchemy', 'PIL', 'shapely', 'pyproj', 'numpy'):\n"
        f"        assert heavy not in sys.modules or (name, heavy) == ({DRAWS!r}, 'PIL'), (name, heavy)\n"
    )
    got = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert got.returncode == 0, got.stderr


def find_ring(arrows: dict[str, set[str]]) -> list[str] | None:
    """Return one ring of names that lead back to themselves, or None."""
    done: set[str] = set()

    def walk(name: str, path: list[str]) -> list[str] | None:
        if name in path:
            return [*path[path.index(name) :], name]
        if name in done:
            return None
        for other in sorted(arrows.get(name, ())):
            ring = walk(other, [*path, name])
            if ring:
                return ring
        done.add(name)
        return None

    return next((ring for name in sorted(arrows) if (ring := walk(name, []))), None)


def test_ring_is_found_where_there_is_one() -> None:
    assert find_ring({"a": {"b"}, "b": {"c"}, "c": {"a"}}) is not None
    assert find_ring({"a": {"b", "c"}, "b": {"c"}}) is None


def test_no_two_python_modules_import_each_other() -> None:
    names = {
        ".".join(path.relative_to(ROOT).with_suffix("").parts): path
        for path in FIELD.rglob("*.py")
        if path.name != "__init__.py"
    }
    arrows: dict[str, set[str]] = {}
    for name, path in names.items():
        # Imports inside functions are for start-up cost; they still count as arrows.
        for target in imports_of(path.read_text(encoding="utf-8")):
            for known in (target, target.rpartition(".")[0]):
                if known in names and known != name:
                    arrows.setdefault(name, set()).add(known)
                    break
    assert find_ring(arrows) is None


# --- the phone's modules -------------------------------------------------------------------------------------------

JS_ALLOWED = {
    "core": {"core"},
    "ui": {"core", "ui"},
    "map": {"core"},
    "device": {"core"},
    "store": {"core", "store"},
    "sync": {"core", "store", "sync", "upload"},
    "upload": {"core", "store", "upload"},
    "update": {"core", "store", "sync", "update"},
    "hill": {"core", "store", "device", "ui", "hill"},
    "screens": {"core", "store", "sync", "upload", "device", "map", "ui", "update", "hill"},
    "main": {"core", "store", "sync", "upload", "device", "ui", "update", "screens", "main"},
}
JS_IMPORT = re.compile(r"""(?:\bfrom\s+|\bimport\s*\(?\s*)(["'`])([^"'`]+)\1""")


def js_room(path: Path) -> str:
    """Return the room of a script: its folder, or the first word of its name at the top."""
    parts = path.relative_to(STATIC_JS).parts
    return parts[0] if len(parts) > 1 else re.split(r"[_.]", parts[0])[0]


def js_faults(path: Path, text: str) -> list[str]:
    room = js_room(path)
    faults = []
    for _, target in JS_IMPORT.findall(text):
        if target.startswith("/vendor/"):
            if room != "map":
                faults.append(f"{target}: only the map may use it")
            continue
        if not target.startswith("."):
            faults.append(f"{target}: not a path of ours")
            continue
        if "${" in target:
            if room != "main":
                faults.append(f"{target}: only main loads by name")
            continue
        if not target.endswith(".js"):
            faults.append(f"{target}: without its ending")
            continue
        other = (path.parent / target).resolve()
        if not other.exists():
            faults.append(f"{target}: no such file")
        elif room == js_room(other) == "screens":
            # A long screen may be cut into parts of its own name: intake.js and intake_files.js.
            if not other.stem.startswith(path.stem.split("_")[0] + "_"):
                faults.append(f"{target}: screens never import each other")
        elif js_room(other) not in JS_ALLOWED[room]:
            faults.append(f"{target}: room {js_room(other)}")
    return faults


@pytest.mark.parametrize("path", sorted(STATIC_JS.rglob("*.js")), ids=lambda p: str(p.relative_to(STATIC_JS)))
def test_script_imports_only_what_it_may(path: Path) -> None:
    assert js_room(path) in JS_ALLOWED, f"{path} stands in no room of the table"
    assert js_faults(path, path.read_text(encoding="utf-8")) == []


def test_only_the_store_touches_the_database_of_the_phone() -> None:
    users = [p for p in STATIC_JS.rglob("*.js") if re.search(r"\bindexedDB\b", p.read_text(encoding="utf-8"))]
    assert {js_room(p) for p in users} <= {"store"}


@pytest.mark.parametrize("word", ["navigator", "document", "fetch(", "localStorage", "indexedDB"])
def test_pure_scripts_touch_nothing_outside(word: str) -> None:
    for path in (STATIC_JS / "core").rglob("*.js"):
        code = re.sub(r"/\*.*?\*/|//[^\n]*", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
        assert word not in code, path
