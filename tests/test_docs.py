"""README and DEVELOPERS say what is there: the two commands, each verb, each setting, each room and module."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def commands_of_readme() -> list[str]:
    """Return the one-line shell commands that make a virtual environment."""
    return re.findall(r"^python3 -m venv .*$", README, flags=re.MULTILINE)


def test_readme_opens_with_the_job_and_two_commands() -> None:
    assert len(commands_of_readme()) == 2
    before_first = README[: README.index(commands_of_readme()[0])]
    paragraphs = [part for part in before_first.split("\n\n") if part and not part.startswith(("#", "```", "**"))]
    assert len(paragraphs) == 1


def test_check_before_landing_runs_the_test_command_of_the_readme() -> None:
    run = (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    assert commands_of_readme()[1] in run


def verbs() -> set[str]:
    said = subprocess.run(
        [sys.executable, "app.py", "--help"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout
    listed = re.search(r"\{([a-z,-]+)\}", said)
    assert listed is not None, said
    return set(listed.group(1).split(","))


def test_readme_tells_of_every_verb_and_no_other() -> None:
    table = README[README.index("| verb |") :].split("\n\n")[0]
    told = set(re.findall(r"`([a-z-]+)(?: [A-Z.]+)?`", "\n".join(line.split("|")[1] for line in table.splitlines())))
    assert told == verbs()


def settings_in_code() -> set[str]:
    found: set[str] = set()
    for path in (ROOT / "field").rglob("*.py"):
        found |= set(re.findall(r"\bFELLSIDE_[A-Z_]+\b", path.read_text(encoding="utf-8")))
    return found


def test_every_setting_is_in_developers_and_no_other() -> None:
    told = set(re.findall(r"\bFELLSIDE_[A-Z_]+\b", DEVELOPERS))
    for_tests = {"FELLSIDE_CHROMIUM", "FELLSIDE_SHARED_VECTORS", "FELLSIDE_NEEDS_REAL_FILES"}
    assert told - for_tests == settings_in_code()


def modules() -> list[str]:
    python = [str(p.relative_to(ROOT)) for p in (ROOT / "field").rglob("*.py") if p.name != "__init__.py"]
    scripts = [str(p.relative_to(ROOT)) for p in (ROOT / "static").rglob("*.js")]
    return sorted(name for name in python + scripts if "/migrations/" not in name)


@pytest.mark.parametrize("name", modules())
def test_every_module_is_in_the_map_of_rooms(name: str) -> None:
    assert f"`{name}`" in DEVELOPERS


def test_developers_names_no_module_that_is_gone() -> None:
    told = set(re.findall(r"`((?:field|static)/[\w/]+\.(?:py|js))`", DEVELOPERS))
    assert {name for name in told if not (ROOT / name).exists()} == set()


def test_every_route_is_in_developers(app) -> None:
    rules = {rule.rule for rule in app.url_map.iter_rules() if rule.rule.startswith("/api/")}
    told = set(re.findall(r"`[A-Z/ ]*(/api/[\w/<>:.-]+)`", DEVELOPERS))
    plain = {re.sub(r"<(?:\w+:)?(\w+)>", r"<\1>", rule) for rule in rules}
    assert plain == told


@pytest.mark.parametrize(
    "named", sorted(set(re.findall(r"`(tests/[\w/]+\.py)::(test_\w+)`", DEVELOPERS))), ids="::".join
)
def test_a_test_that_is_named_is_there(named: tuple[str, str]) -> None:
    path, name = named
    assert re.search(rf"^def {name}\(", (ROOT / path).read_text(encoding="utf-8"), flags=re.MULTILINE)
