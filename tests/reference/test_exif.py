"""Photos of many cameras against what four independent readers say of them.

Source of every figure: tests/vectors/exif_answers.json, a copy of the project's outside check vectors; each answer
there names the readers (exiftool 12.57, exiv2, Pillow, exifread) and how it was obtained. The made photos stand in
tests/files/exif; the real ones are other people's and are not part of the project.
Tolerances: 2e-7 degrees (readers round at the seventh place), other figures 1e-3 of the value, texts exact.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from field.readers.exif import PhotoFacts, read_photo
from field.readers.photo_time import show_instant

TESTS = Path(__file__).resolve().parent.parent
ANSWERS = json.loads((TESTS / "vectors" / "exif_answers.json").read_text(encoding="utf-8"))
MADE = {case["file"].removeprefix("made/"): case for case in ANSWERS["made"]}
REAL = {case["file"]: case for case in ANSWERS["real"]}

DEGREES = 2e-7
RELATIVE = 1e-3
# Damaged files whose note asks only that nothing of the satellites' data is believed: "position either refused or
# reported as damaged; no value may be trusted"; "must be reported as damaged, never placed".
DAMAGED = {"exiv2-issue-1912.jpg", "goexif-huge-tag.jpg"}


def figures(facts: PhotoFacts | None) -> dict[str, Any]:
    """Return what was read under the names of the answers."""
    if facts is None:
        return {}
    taken = None
    if facts.camera_at is not None and facts.offset is not None:
        taken = show_instant((facts.camera_at - facts.offset).replace(tzinfo=UTC))
    return {
        "lat": facts.lat,
        "lon": facts.lon,
        "alt": facts.height_m,
        "dir": facts.direction_deg,
        "dirref": facts.direction_ref,
        "hpe": facts.accuracy_m,
        "datum": facts.datum,
        "orientation": facts.orientation,
        "dto": None if facts.camera_at is None else facts.camera_at.strftime("%Y:%m:%d %H:%M:%S"),
        "gps_utc": None if facts.gps_at is None else show_instant(facts.gps_at),
        "taken_utc": taken,
        "make": facts.make,
        "model": facts.model,
    }


def differences(got: dict[str, Any], want: dict[str, Any]) -> list[str]:
    """Return in words each figure of an answer that was read otherwise."""
    found = []
    for name, value in want.items():
        if name not in got and got:
            continue
        mine = got.get(name)
        if isinstance(value, float | int) and isinstance(mine, float | int) and name != "orientation":
            limit = DEGREES if name in ("lat", "lon") else RELATIVE * abs(value)
            same = abs((mine - value) % 360 if name == "dir" else mine - value) <= limit
        else:
            same = mine == value
        if not same:
            found.append(f"{name}: {mine!r} instead of {value!r}")
    return found


def wanted(case: dict[str, Any]) -> dict[str, Any]:
    """Return the answer of a real photo, its satellite time put together as the standard says (UTC)."""
    want = dict(case["answer"])
    date, clock = want.pop("gps_date"), want.pop("gps_time")
    if date and clock and date != "0000:00:00":
        fraction = ".%f" if "." in clock else ""
        at = datetime.strptime(f"{date} {clock} +0000", f"%Y:%m:%d %H:%M:%S{fraction} %z")
        want["gps_utc"] = show_instant(at)
    return want


@pytest.mark.parametrize("name", sorted(MADE))
def test_made_photo_is_read_as_expected(name: str) -> None:
    got = figures(read_photo((TESTS / "files" / "exif" / name).read_bytes()))
    assert differences(got, MADE[name]["expected"]) == []


@pytest.mark.parametrize("name", sorted(REAL))
def test_real_photo_is_read_as_other_readers_do(name: str, real_files: Path) -> None:
    with (real_files / "exif" / name).open("rb") as stream:
        facts = read_photo(stream)
    assert facts is not None
    if name in DAMAGED:
        assert (facts.lat, facts.lon, facts.gps_at) == (None, None, None)
        assert "damaged-gps" in [t.code for t in facts.troubles]
    else:
        assert differences(figures(facts), wanted(REAL[name])) == []


def test_comparison_sees_a_position_two_centimetres_off_too_far() -> None:
    want = {"lat": 54.4609, "orientation": 6, "datum": "WGS-84"}
    assert differences({"lat": 54.46090019, "orientation": 6, "datum": "WGS-84"}, want) == []
    assert len(differences({"lat": 54.46090021, "orientation": 6, "datum": "WGS-84"}, want)) == 1
    assert len(differences({"lat": None, "orientation": 1, "datum": None}, want)) == 3


@pytest.mark.parametrize(
    ("name", "code"),
    [
        # the photo, and the trouble that its note in the answers asks for
        ("altitude-without-ref.jpg", "height-no-ref"),
        ("altitude-zero-denominator.jpg", "height-zero-denominator"),
        ("missing-lat-ref.jpg", "position-no-ref"),
        ("missing-lon-ref.jpg", "position-no-ref"),
        ("missing-both-refs.jpg", "position-no-ref"),
        ("bad-ref-letters.jpg", "position-bad-ref"),
        ("lower-case-refs.jpg", "hemisphere-lower-case"),
        ("zero-zero.jpg", "zero-position"),
        ("lat-91.jpg", "position-out-of-range"),
        ("lon-181.jpg", "position-out-of-range"),
        ("zero-denominators.jpg", "position-zero-denominator"),
        ("zero-denominator-seconds-only.jpg", "position-zero-denominator"),
        ("one-rational-only.jpg", "position-form"),
        ("minutes-75.jpg", "position-minutes"),
        ("negative-rational-with-ref.jpg", "position-negative"),
        ("no-gps-ifd.jpg", "no-position"),
        ("gps-ifd-empty.jpg", "no-position"),
        ("gps-without-date.jpg", "gps-time-no-date"),
        ("gps-date-without-time.jpg", "gps-date-no-time"),
        ("gps-time-zero-denominator.jpg", "gps-time-zero-denominator"),
        ("gps-date-zero.jpg", "gps-date-unknown"),
        ("gps-status-void.jpg", "gps-void"),
        ("offset-blank.jpg", "offset-unknown"),
        ("offset-out-of-range.jpg", "offset-impossible"),
        ("date-zero.jpg", "date-unknown"),
        ("date-blank.jpg", "date-unknown"),
        ("date-feb-30.jpg", "date-impossible"),
        ("date-second-60.jpg", "date-leap-second"),
        ("datetime-only-ifd0.jpg", "date-unknown"),
        ("img-direction-magnetic.jpg", "direction-magnetic"),
        ("hpositioning-error-zero-den.jpg", "accuracy-zero-denominator"),
        ("datum-tokyo.jpg", "datum"),
        ("orientation-0.jpg", "orientation-out-of-range"),
        ("orientation-9.jpg", "orientation-out-of-range"),
        ("truncated-in-exif.jpg", "cut-off-metadata"),
        ("no-exif.jpg", "no-metadata"),
        ("ifd0-offset-outside.jpg", "damaged-metadata"),
        ("gps-pointer-loops-to-ifd0.jpg", "damaged-gps"),
        ("latitude-count-huge.jpg", "damaged-gps"),
    ],
)
def test_made_photo_tells_its_trouble(name: str, code: str) -> None:
    facts = read_photo((TESTS / "files" / "exif" / name).read_bytes())
    assert facts is not None
    assert code in [t.code for t in facts.troubles]


@pytest.mark.parametrize("name", ["everything.jpg", "everything.png", "everything.webp", "everything.heic", "n-w.jpg"])
def test_sound_photo_has_no_trouble(name: str) -> None:
    facts = read_photo((TESTS / "files" / "exif" / name).read_bytes())
    assert facts is not None
    assert facts.troubles == ()


@pytest.mark.parametrize("name", ["zero-bytes.jpg", "text-named-jpg.jpg"])
def test_what_is_no_photo_is_none(name: str) -> None:
    assert read_photo((TESTS / "files" / "exif" / name).read_bytes()) is None
