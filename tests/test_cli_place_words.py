"""`place`: what it counts, what it calls refused, and that its exit status says the same."""

from __future__ import annotations

import json
import tempfile
from pathlib import Path

import pytest
from cli_kit import nobody, refused, run

FILES = Path(__file__).resolve().parent / "files"
# A photo that says 0, 0, taken on 6 October 2023 at 14:52:10 of a clock without a zone, as its answers tell.
ZERO = FILES / "exif" / "zero-zero.jpg"
WALK = """<gpx version="1.1" creator="by hand" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>
<trkpt lat="55.5" lon="-3.2"><time>2023-10-06T14:52:00Z</time></trkpt>
<trkpt lat="55.5001" lon="-3.2"><time>2023-10-06T14:52:30Z</time></trkpt>
</trkseg></trk></gpx>"""
NOTHING = '<gpx version="1.1" creator="by hand" xmlns="http://www.topografix.com/GPX/1/1"></gpx>'
ONE_MARK = NOTHING.replace("></gpx>", '><wpt lat="55.5" lon="-3.2"/></gpx>')


def last_lines(out: str, count: int) -> list[str]:
    return out.splitlines()[-count:]


def test_everything_placed_and_nothing_refused_ends_with_0(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    (tmp_path / "photo.jpg").write_bytes(ZERO.read_bytes())
    (tmp_path / "walk.gpx").write_text(WALK, encoding="utf-8")
    status, out, err = run(capsys, "place", tmp_path, "--zone", "UTC")
    assert (status, err) == (0, "")
    assert last_lines(out, 1) == ["1 of 1 photo placed; 1 track read."]
    assert "  !" not in out


def test_a_photo_that_nothing_places_is_no_refusal(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = run(capsys, "place", ZERO)
    assert (status, last_lines(out, 1)) == (0, ["0 of 1 photo placed."])


@pytest.mark.parametrize("name", ["lat-91.jpg", "minutes-75.jpg", "truncated-in-exif.jpg", "orientation-9.jpg"])
def test_what_is_not_used_of_a_photo_ends_with_1_and_is_marked(capsys: pytest.CaptureFixture[str], name: str) -> None:
    status, out, _ = run(capsys, "place", FILES / "exif" / name)
    assert status == 1
    assert any(line.startswith("  ! ") for line in out.splitlines())
    assert last_lines(out, 1) == ["Of 1 file, 1 had something that is not used: see the lines with !."]


@pytest.mark.parametrize(
    ("held", "status"), [("", 1), ("<gpx><trk", 1), ("S11", 1), (NOTHING, 0)], ids=["empty", "broken", "text", "blank"]
)
def test_a_track_file_without_a_track_is_not_counted_as_read(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, held: str, status: int
) -> None:
    (tmp_path / "held.gpx").write_text(held, encoding="utf-8")
    (tmp_path / "walk.gpx").write_text(WALK, encoding="utf-8")
    got, out, _ = run(capsys, "place", tmp_path)
    assert got == status
    assert f"{tmp_path / 'held.gpx'}: no track" in out.splitlines()
    assert "1 of 2 tracks read." in out.splitlines()


def test_a_broken_track_with_points_before_the_break_is_read(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (tmp_path / "walk.gpx").write_text(WALK.partition("</trkseg>")[0], encoding="utf-8")
    status, out, _ = run(capsys, "place", tmp_path)
    assert status == 1
    assert "1 track read." in out.splitlines()
    assert "track of 2 points" in out


def test_a_file_of_waypoints_is_read_and_is_no_track_of_0_points(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (tmp_path / "marks.gpx").write_text(ONE_MARK, encoding="utf-8")
    status, out, _ = run(capsys, "place", tmp_path)
    assert status == 0
    assert "1 waypoint and 0 routes, no track" in out


@pytest.mark.parametrize("tracks", [2, 3])
def test_several_tracks_are_counted_with_their_number(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, tracks: int
) -> None:
    for n in range(tracks):
        (tmp_path / f"{n}.gpx").write_text(WALK.replace("-3.2", f"-3.{n + 2}"), encoding="utf-8")
    _, out, _ = run(capsys, "place", tmp_path)
    assert last_lines(out, 1) == [f"{tracks} tracks read."]


@pytest.mark.parametrize("held", [b"", b"text", b"\0" * 100_000, bytes(range(256)) * 400])
def test_what_is_no_photo_is_not_counted_as_one(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, held: bytes
) -> None:
    (tmp_path / "a.jpg").write_bytes(held)
    status, out, err = run(capsys, "place", tmp_path)
    assert (status, err) == (1, "")
    assert last_lines(out, 2)[0] == "1 other file not read."


def test_a_huge_file_that_is_no_photo_is_told_without_filling_the_memory(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    with (tmp_path / "a.jpg").open("wb") as out_file:
        out_file.truncate(200 * 1024**2)
    status, out, _ = run(capsys, "place", tmp_path)
    assert status == 1
    assert "neither a photo nor a track" in out


def test_an_empty_folder_is_said_to_hold_nothing(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert run(capsys, "place", tmp_path) == (0, "There is no file to read there.\n", "")


def test_a_folder_that_cannot_be_looked_into_is_told_and_the_rest_is_read(capsys: pytest.CaptureFixture[str]) -> None:
    with tempfile.TemporaryDirectory() as made:
        folder = Path(made)
        folder.chmod(0o755)  # whoever steps down must still come as far as here
        (folder / "walk.gpx").write_text(WALK, encoding="utf-8")
        (folder / "shut").mkdir()
        with nobody(folder / "shut"):
            status, out, _ = run(capsys, "place", folder, "--json")
    document = json.loads(out)
    assert status == 1
    assert [track["points"] for track in document["tracks"]] == [2]
    (shut,) = document["photos"]
    assert shut["file"] == str(folder / "shut")
    assert [trouble["code"] for trouble in shut["trouble"]] == ["unreadable"]


def test_a_path_that_may_not_be_reached_is_not_called_missing(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (tmp_path / "shut").mkdir()
    (tmp_path / "shut" / "walk.gpx").write_text(WALK, encoding="utf-8")
    with nobody(tmp_path / "shut"):
        assert "permission denied" in refused(capsys, "place", tmp_path / "shut" / "walk.gpx")


def test_a_name_of_two_lines_is_told_in_one(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    (tmp_path / "a\nb.gpx").write_text(WALK, encoding="utf-8")
    _, out, _ = run(capsys, "place", tmp_path)
    assert len(out.splitlines()) == 2
