"""`may-i`: what a case file holds is shown where it is asked for, and whatever is none is told in one sentence."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from cli_kit import nobody, refused, run
from may_i_cases import ALL

from field.services import case_shape

README = (Path(__file__).resolve().parent.parent / "README.md").read_text(encoding="utf-8")


def example() -> str:
    """Return the case that --help shows."""
    return case_shape.SHAPE[case_shape.SHAPE.index("{\n") : case_shape.SHAPE.index("\n}") + 2]


def test_help_shows_a_whole_case(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(capsys, "may-i", "--help")
    assert status == 0
    assert example() in out
    assert "%%" not in out


def test_case_of_the_help_is_answered_with_a_yes(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    # By hand: more than 300 m inside of the boundary, a signed leave that runs, of 4 trees 1 lifted, nothing unknown.
    (tmp_path / "case.json").write_text(example(), encoding="utf-8")
    status, out, err = run(capsys, "may-i", tmp_path / "case.json")
    assert (status, err) == (0, "")
    assert out.splitlines()[:3] == ["Yes.", "Keep: close the gates", "Keep: fill every hole"]


@pytest.mark.parametrize("fact", ["here", "on", "site", "leaves"])
def test_what_the_help_says_must_be_there_must_be_there(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, fact: str
) -> None:
    case = json.loads(example())
    del case[fact]
    (tmp_path / "case.json").write_text(json.dumps(case), encoding="utf-8")
    said = refused(capsys, "may-i", tmp_path / "case.json")
    assert f'{fact}"' in said
    assert "may-i --help" in said


@pytest.mark.parametrize(
    "fact", ["species", "girth_mm", "machine", "depth_mm", "synced_days_ago", "paired_phones"], ids=str
)
def test_what_the_help_says_may_be_left_out_may_be(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, fact: str
) -> None:
    case = json.loads(example())
    del case[fact]
    (tmp_path / "case.json").write_text(json.dumps(case), encoding="utf-8")
    assert run(capsys, "may-i", tmp_path / "case.json")[0] == 0


@pytest.mark.parametrize("fact", ["form", "state", "lifted"])
def test_what_the_help_says_turns_a_yes_into_an_ask_does(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, fact: str
) -> None:
    case = json.loads(example())
    del (case["site"]["consents"][0] if fact == "state" else case["leaves"][0])[fact]
    (tmp_path / "case.json").write_text(json.dumps(case), encoding="utf-8")
    status, out, err = run(capsys, "may-i", tmp_path / "case.json")
    assert (status, out.splitlines()[0], err) == (0, "Ask first.", "")


def test_methods_and_consents_are_told_as_the_help_says(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    case = json.loads(example())
    case["leaves"][0]["methods"] = ["hand_tools", "vehicle"]
    case["site"]["consents"].append(
        {"kind": "other", "name": "common rights", "state": "held", "starts_on": "2027-03-01"}
    )
    (tmp_path / "case.json").write_text(json.dumps({**case, "machine": True}), encoding="utf-8")
    status, out, _ = run(capsys, "may-i", "--json", tmp_path / "case.json")
    told = json.loads(out)
    assert (status, list(told)) == (0, ["answer", "reasons", "keep", "caution"])
    assert [reason["code"] for reason in told["reasons"]] == ["methods", "consent-missing"]
    assert "common rights" in told["reasons"][1]["text"]
    del case["site"]["consents"][1]
    (tmp_path / "case.json").write_text(json.dumps(case), encoding="utf-8")
    status, out, _ = run(capsys, "may-i", tmp_path / "case.json")
    assert "Keep: Hand tools only: no machine." in out.splitlines()


def test_a_file_of_cases_is_answered_whole_as_one_document(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    cases = [{"name": name, "input": case} for name, case, _ in ALL]
    (tmp_path / "cases.json").write_text(json.dumps({"cases": cases}), encoding="utf-8")
    status, out, err = run(capsys, "may-i", "--json", tmp_path / "cases.json")
    assert (status, err) == (0, "")
    told = json.loads(out)["cases"]
    assert [list(one) for one in told] == [["name", "answer", "reasons", "keep", "caution"]] * len(cases)
    assert [one["answer"] for one in told] == [expect["answer"] for _, _, expect in ALL]


def test_case_of_the_readme_is_answered_with_ask(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    (shown,) = re.findall(r"```json\n(.*?)```", README, flags=re.DOTALL)
    (tmp_path / "case.json").write_text(shown, encoding="utf-8")
    status, out, _ = run(capsys, "may-i", tmp_path / "case.json")
    assert (status, out.splitlines()[0]) == (0, "Ask first.")


def test_a_name_that_is_no_file_is_told_what_is_wanted(capsys: pytest.CaptureFixture[str]) -> None:
    said = refused(capsys, "may-i", "S11")
    assert "no file 'S11'" in said
    assert "JSON" in said
    assert "may-i --help" in said


@pytest.mark.parametrize(
    ("held", "word"),
    [
        (b"", "empty"),
        (b" \n", "empty"),
        (b"S11", "line 1"),
        (b'{"here": {"lat": 56.6,\n}', "line 2"),
        (b"\x00" * 4096, "not JSON"),
        (bytes(range(256)), "not JSON"),
        (b"[" * 100_000, "not JSON"),
        (b"9" * 10_000, "not JSON"),
        (b"{}", '"here"'),
        (b"[]", "no case"),
        (b'{"here": {"lat": 91, "lon": 0}}', "latitude"),
        (b'{"here": {"lat": NaN, "lon": 0}}', '"here'),
        (b'{"here": {"lat": 1e999, "lon": 0}}', '"here'),
    ],
    ids=[
        "nothing",
        "blank",
        "tag",
        "half",
        "noughts",
        "binary",
        "deep",
        "long-number",
        "{}",
        "[]",
        "91",
        "nan",
        "1e999",
    ],
)
def test_a_file_that_is_no_case_is_told_with_its_fault(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, held: bytes, word: str
) -> None:
    (tmp_path / "case.json").write_bytes(held)
    said = refused(capsys, "may-i", tmp_path / "case.json")
    assert word in said
    assert "may-i --help" in said


def test_a_folder_is_no_case(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert "directory" in refused(capsys, "may-i", tmp_path)


def test_a_file_that_may_not_be_read_is_told(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "case.json"
    path.write_text(example(), encoding="utf-8")
    with nobody(path):
        assert "permission denied" in refused(capsys, "may-i", path)


def test_a_file_larger_than_any_case_is_not_read_to_its_end(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "case.json"
    with path.open("wb") as out:
        out.truncate(8 * 1024**3)  # a hole: takes no room on the disk, and would fill the memory
    assert "64 MiB" in refused(capsys, "may-i", path)


@pytest.mark.parametrize("name", ["a\nb", "a\0b", "x" * 5000, ""], ids=["two-lines", "nought", "long", "none"])
def test_a_name_that_no_file_has_is_one_sentence(capsys: pytest.CaptureFixture[str], name: str) -> None:
    refused(capsys, "may-i", name)
