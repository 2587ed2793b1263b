"""A built wheel holds everything the app needs and runs from an empty folder, far from the checkout."""

from __future__ import annotations

import os
import subprocess
import sys
import sysconfig
import urllib.request
import venv
import zipfile
from pathlib import Path

import home_server as server
import pytest

pytestmark = pytest.mark.browser  # real processes, watched and killed

ROOT = Path(__file__).resolve().parent.parent
BIN = "Scripts" if os.name == "nt" else "bin"


class Installed(server.RunningServer):
    """A running server that is the installed program, not the checkout's."""

    def __init__(self, program: Path, data: Path, verb: tuple[str, ...] = ("--plain",)) -> None:
        super().__init__(data, verb)
        self.program = program

    def call(self, *words: str) -> list[str]:
        return [str(self.program), *words, "--data", str(self.data)]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("wheel")
    line = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(out), str(ROOT)]
    built = subprocess.run(line, capture_output=True, text=True, check=False)
    assert built.returncode == 0, built.stdout + built.stderr
    (made,) = out.glob("*.whl")
    return made


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the `fellside` of a fresh environment that has the wheel, and borrows the libraries of this one."""
    home = tmp_path_factory.mktemp("installed")
    venv.create(home, system_site_packages=False, with_pip=False)
    python = home / BIN / "python"
    # No network: the wheel comes from the disk, and what it depends on is already here.
    line = [sys.executable, "-m", "pip", "--python", str(python), "install", "--no-deps", "--no-index", str(wheel)]
    got = subprocess.run(line, capture_output=True, text=True, check=False)
    assert got.returncode == 0, got.stdout + got.stderr
    own = sysconfig.get_path("purelib", vars={"base": str(home), "platbase": str(home)})
    Path(own, "borrowed.pth").write_text(sysconfig.get_path("purelib") + "\n", encoding="utf-8")
    return home / BIN / "fellside"


@pytest.mark.parametrize("folder", ["static", "templates", "demo_sites"])
def test_wheel_holds_every_file_of(wheel: Path, folder: str) -> None:
    inside = set(zipfile.ZipFile(wheel).namelist())
    wanted = {
        f"field/{path.relative_to(ROOT).as_posix()}"
        for path in (ROOT / folder).rglob("*")
        if path.is_file() and not path.name.startswith(".")
    }
    assert wanted
    assert wanted <= inside


def test_wheel_holds_every_module_and_no_test(wheel: Path) -> None:
    inside = zipfile.ZipFile(wheel).namelist()
    modules = {path.relative_to(ROOT).as_posix() for path in (ROOT / "field").rglob("*.py")}
    assert any("migrations" in name for name in modules)
    assert modules <= set(inside)
    cards = {path.relative_to(ROOT).as_posix() for path in (ROOT / "field").rglob("*.json")}
    assert cards <= set(inside)
    assert [name for name in inside if name.startswith("tests") or "__pycache__" in name] == []


def test_installed_help_names_the_verbs(installed: Path, tmp_path: Path) -> None:
    said = subprocess.run([installed, "--help"], capture_output=True, text=True, check=True, cwd=tmp_path).stdout
    assert "demo" in said
    assert "may-i" in said


def test_installed_app_serves_from_an_empty_folder(installed: Path, tmp_path: Path) -> None:
    with Installed(installed, tmp_path / "data") as running:
        for address, begins in (
            ("/", b"<!doctype html>"),
            ("/sw.js", b"const ASSETS = ["),
            ("/static/css/tokens.css", b"/*"),
            ("/manifest.webmanifest", b"{"),
        ):
            with urllib.request.urlopen(running.url + address, timeout=10) as answer:
                assert answer.read().startswith(begins), address
    # Everything went into the data folder, and nothing was written beside it.
    assert {path.name for path in tmp_path.iterdir()} == {"data", "data.log"}


def test_installed_demo_loads_from_an_empty_folder(installed: Path, tmp_path: Path) -> None:
    with Installed(installed, tmp_path / "demo", verb=("demo",)) as running:
        assert f"{running.url}/#/pair/" in running.said()
