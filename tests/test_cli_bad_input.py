"""Each verb on what it cannot use: a wrong folder, a damaged log, no rights. One sentence, and nothing is changed."""

from __future__ import annotations

from pathlib import Path

import pytest
from cli_kit import nobody, refused, run

PHOTO = Path(__file__).resolve().parent / "files" / "exif" / "everything.jpg"
ON_A_LOG = {
    "due": ("due",),
    "check": ("check",),
    "rebuild": ("rebuild",),
    "migrate": ("migrate",),
    "pair-code": ("pair-code",),
    "place": ("place", str(PHOTO), "--save"),
}
OPENING = {**ON_A_LOG, "init": ("init",), "serve": ("--port", "0")}
MAKING = {"init": ("init",), "serve": ("--port", "0"), "demo": ("demo", "--port", "0")}


def each(verbs: dict[str, tuple[str, ...]]) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("words", verbs.values(), ids=verbs.keys())


@pytest.fixture
def log(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """An empty log."""
    assert run(capsys, "init", "--data", tmp_path / "log")[0] == 0
    return tmp_path / "log"


def held_by(folder: Path) -> dict[str, bytes]:
    return {str(path): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@each(ON_A_LOG)
def test_somebodys_other_folder_is_left_alone(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, words: tuple[str, ...]
) -> None:
    (tmp_path / "letter.txt").write_text("mine", encoding="utf-8")
    assert "no log" in refused(capsys, *words, "--data", tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


@each({**ON_A_LOG, **MAKING})
def test_a_file_is_no_data_folder(capsys: pytest.CaptureFixture[str], tmp_path: Path, words: tuple[str, ...]) -> None:
    (tmp_path / "file").write_bytes(bytes(range(256)))
    refused(capsys, *words, "--data", tmp_path / "file")
    assert (tmp_path / "file").read_bytes() == bytes(range(256))


@each({**ON_A_LOG, **MAKING})
def test_a_folder_below_a_file_is_none(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, words: tuple[str, ...]
) -> None:
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    refused(capsys, *words, "--data", tmp_path / "file" / "log")


@each(OPENING)
@pytest.mark.parametrize(
    "held", [b"S11", bytes(range(256)) * 40, b"SQLite format 3\0" + b"\xff" * 9000], ids=["text", "binary", "half"]
)
def test_a_log_that_is_no_database_is_told_and_kept(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, words: tuple[str, ...], held: bytes
) -> None:
    file = tmp_path / "fellside.sqlite"
    file.write_bytes(held)
    assert "fellside.sqlite" in refused(capsys, *words, "--data", tmp_path)
    assert file.read_bytes() == held


@pytest.mark.parametrize("verb", ["check", "rebuild"])
def test_a_page_of_rubbish_in_the_middle_of_a_log_is_told(
    capsys: pytest.CaptureFixture[str], log: Path, verb: str
) -> None:
    file = log / "fellside.sqlite"
    whole = file.read_bytes()
    page = int.from_bytes(whole[16:18], "big")  # SQLite's file format: the size of a page is in bytes 16 and 17
    # The first two pages hold the list of tables; what comes after is the tables' own.
    file.write_bytes(whole[: 20 * page] + b"\xff" * (len(whole) - 20 * page))
    for beside in log.glob("fellside.sqlite-*"):
        beside.unlink()
    said = refused(capsys, verb, "--data", log)
    assert "database" in said


@each(ON_A_LOG)
def test_a_log_without_rights_is_told(capsys: pytest.CaptureFixture[str], log: Path, words: tuple[str, ...]) -> None:
    before = held_by(log)
    with nobody(log):
        refused(capsys, *words, "--data", log)
    assert held_by(log) == before


@pytest.mark.parametrize("host", ["nonsense.invalid", "256.1.1.1", "x" * 300])
def test_an_address_that_is_none_is_told(capsys: pytest.CaptureFixture[str], tmp_path: Path, host: str) -> None:
    refused(capsys, "--host", host, "--port", "0", "--data", tmp_path / "log")


@pytest.mark.parametrize(
    "words",
    [
        ("where", "91", "0"),
        ("where", "nonsense"),
        ("where", "\0"),
        ("where", "54\n-3 x"),
        ("where", "9" * 100_000),
        ("where", "54", "-3", "--height", "nan"),
        ("where", "54", "-3", "--height", "high"),
        ("where", "54", "-3", "--on", "0001-01-01"),
        ("where", "54", "-3", "--on", "9999-12-31"),
        ("place", "\0"),
        ("place", "x" * 5000),
        ("place", "a\nb"),
        ("place", ".", "--zone", "../../etc/passwd"),
        ("place", ".", "--zone", "\0"),
        ("place", ".", "--clock-offset", "1e18"),
        ("due", "--data", "\0"),
        ("due", "--data", "x" * 5000),
        ("init", "--data", "\0"),
        ("init", "--data", "x" * 5000),
        ("a\nb",),
        ("due", "a\nb"),
    ],
    ids=lambda words: " ".join(words)[:40].encode("unicode_escape").decode(),
)
def test_nonsense_is_one_sentence(capsys: pytest.CaptureFixture[str], words: tuple[str, ...]) -> None:
    refused(capsys, *words)
