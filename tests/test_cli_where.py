"""`where`: its document, its words, and its one sentence when the call is wrong."""

from __future__ import annotations

import json
import subprocess
import sys
from datetime import datetime
from pathlib import Path

import pytest

from field import cli
from field.services.where import where

ROOT = Path(__file__).resolve().parent.parent
FELL = ("54.4609", "-3.0886", "--on", "2024-06-20")  # a place and day of vectors/grid.json and sun.json


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    try:
        status = cli.main(["where", *words])
    except SystemExit as ended:
        status = int(str(ended.code))
    said = capsys.readouterr()
    return status, said.out, said.err


def document(capsys: pytest.CaptureFixture[str], *words: str) -> dict:
    status, out, err = run(capsys, *words, "--json")
    assert (status, err) == (0, "")
    return json.loads(out)


def test_the_document_has_its_published_shape(capsys: pytest.CaptureFixture[str]) -> None:
    got = document(capsys, *FELL)
    assert list(got) == ["lat", "lon", "dms", "utm", "mgrs", "gb_grid", "irish_grid", "sun"]
    assert list(got["sun"]) == ["sunrise", "solar_noon", "sunset", "civil_dusk"]
    assert (got["lat"], got["lon"]) == (54.4609, -3.0886)
    assert got["dms"] == "54°27′39.24″N 3°05′18.96″W"
    assert got["utm"] == "30U 494256 6034807"
    assert got["mgrs"] == "30UVF9425634807"
    assert got["gb_grid"].startswith("NY 29")
    assert got["irish_grid"] is None
    sunset = datetime.fromisoformat(got["sun"]["sunset"])
    assert abs((sunset - datetime.fromisoformat("2024-06-20T20:51:33Z")).total_seconds()) <= 60


def test_words_end_with_what_it_is_not(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(capsys, *FELL)
    assert status == 0
    assert "British National Grid: NY" in out
    assert "Irish Grid: does not apply there" in out
    assert out.rstrip().splitlines()[-1] == "This is no navigation or rescue device."


def test_near_a_pole_the_words_name_ups_and_the_document_has_nulls(capsys: pytest.CaptureFixture[str]) -> None:
    got = document(capsys, "85", "-3", "--on", "2024-12-20")
    assert got["utm"] is got["mgrs"] is got["sun"]["sunset"] is got["sun"]["civil_dusk"] is None
    assert "UPS" in run(capsys, "85", "-3")[1]


@pytest.mark.parametrize(
    ("words", "lat", "lon"),
    [
        (("55.3", "-3.05"), 55.3, -3.05),
        (("-33.9", "-.5"), -33.9, -0.5),
        (("-1e-05", "-3."), -0.00001, -3.0),
        (("--", "-33.9", "18.4"), -33.9, 18.4),
        (("-33.9,", "18.4"), -33.9, 18.4),
        (("54°30'N", "3°15'W"), 54.5, -3.25),
        (("-0°30'", "-3°15'"), -0.5, -3.25),
        (("0", "0"), 0.0, 0.0),
    ],
)
def test_negative_numbers_are_no_switches(
    capsys: pytest.CaptureFixture[str], words: tuple[str, ...], lat: float, lon: float
) -> None:
    got = document(capsys, "--on", "2024-06-20", *words) if words[0] != "--" else json_after_dashes(capsys, words)
    assert (got["lat"], got["lon"]) == pytest.approx((lat, lon), abs=1e-9)


def json_after_dashes(capsys: pytest.CaptureFixture[str], words: tuple[str, ...]) -> dict:
    status, out, _ = run(capsys, "--json", *words)
    assert status == 0
    return json.loads(out)


def test_a_grid_reference_finds_its_square(capsys: pytest.CaptureFixture[str]) -> None:
    got = document(capsys, "NY", "2154", "0721")
    assert got["gb_grid"] == "NY 2154 0721"
    assert got["mgrs"].startswith("30UVF")
    assert len(got["mgrs"]) == 13  # ten metres: no finer than what was typed


@pytest.mark.parametrize(
    "words",
    [
        ("91", "0"),
        ("0", "181"),
        ("55.3",),
        (),
        ("55.3", "-3.05", "--on", "2026-02-30"),
        ("55.3", "-3.05", "--on", "0800-01-01"),
        ("55.3", "-3.05", "--height", "-1"),
        ("55.3", "-3.05", "--height", "nan"),
        ("55.3", "-3.05", "--height", "high"),
        ("nan", "nan"),
        ("TG", "5140", "13177"),
        ("by", "the", "stone"),
    ],
    ids=" ".join,
)
def test_a_wrong_call_ends_with_two_and_one_sentence(
    capsys: pytest.CaptureFixture[str], words: tuple[str, ...]
) -> None:
    status, out, err = run(capsys, *words)
    assert (status, out) == (2, "")
    assert err.count("\n") == 1
    assert err.rstrip().endswith(".")


def test_it_runs_as_a_process_with_minus_signs() -> None:
    got = subprocess.run(
        [sys.executable, str(ROOT / "app.py"), "where", "55.3", "-3.05", "--json"],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert (got.returncode, got.stderr) == (0, "")
    assert json.loads(got.stdout)["lon"] == -3.05


def test_without_a_day_it_is_the_day_at_the_place() -> None:
    # 18:00 UTC is six in the morning of the next day just west of the 180th meridian.
    now = datetime.fromisoformat("2024-06-30T18:00Z")
    assert where("-16.8 179.99", None, 0.0, now)["sun"]["sunset"].startswith("2024-07-01T05:")


def test_height_makes_the_evening_longer(capsys: pytest.CaptureFixture[str]) -> None:
    low, high = document(capsys, *FELL), document(capsys, *FELL, "--height", "600")
    assert high["sun"]["sunset"] > low["sun"]["sunset"]
    assert high["sun"]["civil_dusk"] == low["sun"]["civil_dusk"]
