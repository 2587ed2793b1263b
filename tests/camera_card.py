"""What tests of placing photos share: photos with real Exif, a walk as GPX, and a folder to put them in."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from io import BytesIO
from pathlib import Path

import gpxpy.gpx
from PIL import Image
from PIL.TiffImagePlugin import IFDRational

FILES = Path(__file__).resolve().parent / "files"
START = datetime(2027, 2, 14, 9, 0, tzinfo=UTC)
LAT, LON = 55.3, -3.2
STEP_DEG = 1e-4  # northwards, 11 m


def a_photo(
    clock: str | None = "2027:02:14 09:00:30",
    offset: str | None = None,
    at: tuple[float, float] | None = None,
    model: str = "Model T",
    seed: int = 0,
) -> bytes:
    """Return a small JPEG with the camera's time and, if given, a position."""
    exif = Image.Exif()
    exif[0x0110] = model
    camera = exif.get_ifd(0x8769)
    if clock is not None:
        camera[0x9003] = clock
    if offset is not None:
        camera[0x9011] = offset
    if at is not None:
        gps = exif.get_ifd(0x8825)
        for value, tag, letters in ((at[0], 1, "NS"), (at[1], 3, "EW")):
            gps[tag] = letters[value < 0]
            gps[tag + 1] = (IFDRational(round(abs(value) * 1e7), 10**7), IFDRational(0, 1), IFDRational(0, 1))
    out = BytesIO()
    Image.new("RGB", (8, 8), (120, 90, 60)).save(out, "JPEG", exif=exif, comment=f"photo {seed}")
    return out.getvalue()


def a_track(points: int = 60, step_s: int = 10) -> bytes:
    """Return a walk straight north, one point every so many seconds."""
    made = gpxpy.gpx.GPX()
    segment = gpxpy.gpx.GPXTrackSegment()
    made.tracks.append(gpxpy.gpx.GPXTrack(name="hill"))
    made.tracks[0].segments.append(segment)
    for n in range(points):
        at = START + timedelta(seconds=n * step_s)
        segment.points.append(gpxpy.gpx.GPXTrackPoint(LAT + n * STEP_DEG, LON, 300.0 + n, at))
    return made.to_xml().encode()


def put(folder: Path, **files: bytes) -> Path:
    for name, data in files.items():
        (folder / name.replace("_", ".")).write_bytes(data)
    return folder


def codes(entry: dict) -> list[str]:
    return [t["code"] for t in entry["trouble"]]
