"""Make phone-like photos and long tracks to measure with: nothing real in them, the same seed the same bytes.

Photos are JPEGs of 12 megapixels with the metadata a phone writes: picture, camera and satellite tags and a small
picture of its own. Every third has an opaque maker note of 24 kB, every tenth no position. Tracks are a walk with a
point a second. As a program it writes both into a folder: python tests/bench/made.py FOLDER [--photos N] [--points N]
Needs Pillow.
"""

from __future__ import annotations

import argparse
import io
import math
import random
import struct
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from PIL import Image

WIDTH, HEIGHT = 4032, 3024
PICTURES = 4  # different ones; the metadata of every photo is its own
NOTE_BYTES = 24_000
START = datetime(2027, 2, 14, 9, 0, tzinfo=UTC)
EVERY_S = 7  # between two photos

BYTE, ASCII, SHORT, LONG, RATIONAL, OPAQUE, SIGNED = 1, 2, 3, 4, 5, 7, 10
LETTERS = {SHORT: "H", LONG: "I", RATIONAL: "II", SIGNED: "ii"}
Tag = tuple[int, Any]  # type, value


@dataclass(frozen=True, slots=True)
class MadePhoto:
    """One made photo, and where it says it was taken."""

    path: Path
    lat: float | None
    lon: float | None


# --- photos ----------------------------------------------------------------------------------------------------------


def make_photos(folder: Path, count: int, seed: int = 1) -> list[MadePhoto]:
    """Write photos into a folder."""
    rng = random.Random(seed)
    pictures = [_picture(rng, number) for number in range(min(count, PICTURES))]
    made = []
    for number, (lat, lon, height_m) in zip(range(count), _walk(rng, EVERY_S), strict=False):
        scan, small = pictures[number % len(pictures)]
        placed = number % 10 != 9
        block = _block(rng, number, (lat, lon, height_m) if placed else None, small)
        path = folder / f"photo-{number:05d}.jpg"
        path.write_bytes(b"\xff\xd8\xff\xe1" + struct.pack(">H", len(block) + 8) + b"Exif\0\0" + block + scan)
        made.append(MadePhoto(path, lat if placed else None, lon if placed else None))
    return made


def _picture(rng: random.Random, number: int) -> tuple[bytes, bytes]:
    """Return a picture's segments behind the start mark, with its small picture: soft ground under noise."""
    ground = Image.frombytes("RGB", (63, 48), rng.randbytes(63 * 48 * 3)).resize(
        (WIDTH, HEIGHT), Image.Resampling.BICUBIC
    )
    grain = Image.effect_noise((WIDTH // 2, HEIGHT // 2), 34 + 3 * number).resize((WIDTH, HEIGHT)).convert("RGB")
    picture = Image.blend(ground, grain, 0.4)
    large, small = io.BytesIO(), io.BytesIO()
    picture.save(large, "JPEG", quality=82)
    picture.resize((320, 240)).save(small, "JPEG", quality=75)
    data = large.getvalue()
    return data[4 + int.from_bytes(data[4:6], "big") :], small.getvalue()  # without the JFIF segment


def _block(rng: random.Random, number: int, place: tuple[float, float, float] | None, small: bytes) -> bytes:
    """Return a metadata block with four directories: picture, camera, satellites, small picture."""
    order = "<" if number % 3 else ">"
    at = START + timedelta(seconds=EVERY_S * number)
    note = rng.randbytes(NOTE_BYTES) if number % 3 == 1 else b"NOTE" + bytes(60)
    image = _image_tags(rng, at)
    camera = _camera_tags(rng, at, note)
    satellites = {} if place is None else _satellite_tags(rng, at, *place)
    thumb = {
        0x0103: (SHORT, [6]), 0x011A: (RATIONAL, [(72, 1)]), 0x011B: (RATIONAL, [(72, 1)]), 0x0128: (SHORT, [2]),
        0x0201: (LONG, [0]), 0x0202: (LONG, [len(small)]),
    }  # fmt: skip
    image |= {0x8769: (LONG, [0])} | ({0x8825: (LONG, [0])} if satellites else {})
    camera_at = 8 + len(_directory(order, 8, image, 0))
    satellites_at = camera_at + len(_directory(order, camera_at, camera, 0))
    thumb_at = satellites_at + (len(_directory(order, satellites_at, satellites, 0)) if satellites else 0)
    image[0x8769] = (LONG, [camera_at])
    if satellites:
        image[0x8825] = (LONG, [satellites_at])
    thumb[0x0201] = (LONG, [thumb_at + len(_directory(order, thumb_at, thumb, 0))])
    return (
        (b"II" if order == "<" else b"MM")
        + struct.pack(order + "HI", 42, 8)
        + _directory(order, 8, image, thumb_at)
        + _directory(order, camera_at, camera, 0)
        + (_directory(order, satellites_at, satellites, 0) if satellites else b"")
        + _directory(order, thumb_at, thumb, 0)
        + small
    )


def _image_tags(rng: random.Random, at: datetime) -> dict[int, Tag]:
    return {
        0x010F: (ASCII, "Made up"), 0x0110: (ASCII, "Made up 7"), 0x0112: (SHORT, [rng.choice((1, 1, 3, 6, 8))]),
        0x011A: (RATIONAL, [(72, 1)]), 0x011B: (RATIONAL, [(72, 1)]), 0x0128: (SHORT, [2]), 0x0131: (ASCII, "4.2.0"),
        0x0132: (ASCII, f"{at:%Y:%m:%d %H:%M:%S}"), 0x013C: (ASCII, "Made up 7"), 0x0213: (SHORT, [1]),
    }  # fmt: skip


def _camera_tags(rng: random.Random, at: datetime, note: bytes) -> dict[int, Tag]:
    stamp, fraction = f"{at:%Y:%m:%d %H:%M:%S}", f"{rng.randrange(1000):03d}"
    return {
        0x829A: (RATIONAL, [(1, rng.randrange(50, 2000))]), 0x829D: (RATIONAL, [(9, 5)]), 0x8822: (SHORT, [2]),
        0x8827: (SHORT, [rng.choice((50, 64, 100, 200))]), 0x9000: (OPAQUE, b"0232"), 0x9003: (ASCII, stamp),
        0x9004: (ASCII, stamp), 0x9010: (ASCII, "+00:00"), 0x9011: (ASCII, "+00:00"), 0x9012: (ASCII, "+00:00"),
        0x9101: (OPAQUE, b"\1\2\3\0"), 0x9201: (SIGNED, [(rng.randrange(5000, 9000), 1000)]),
        0x9202: (RATIONAL, [(1696, 1000)]), 0x9203: (SIGNED, [(rng.randrange(1000, 9000), 1000)]),
        0x9204: (SIGNED, [(0, 1)]), 0x9205: (RATIONAL, [(1696, 1000)]), 0x9207: (SHORT, [5]), 0x9209: (SHORT, [16]),
        0x920A: (RATIONAL, [(51, 10)]), 0x9214: (SHORT, [2016, 1512, 2200, 1300]), 0x927C: (OPAQUE, note),
        0x9286: (OPAQUE, bytes(8)), 0x9290: (ASCII, fraction), 0x9291: (ASCII, fraction), 0x9292: (ASCII, fraction),
        0xA000: (OPAQUE, b"0100"), 0xA001: (SHORT, [1]), 0xA002: (LONG, [WIDTH]), 0xA003: (LONG, [HEIGHT]),
        0xA217: (SHORT, [2]), 0xA301: (OPAQUE, b"\1"), 0xA402: (SHORT, [0]), 0xA403: (SHORT, [0]),
        0xA405: (SHORT, [26]), 0xA406: (SHORT, [0]), 0xA433: (ASCII, "Made up"), 0xA434: (ASCII, "Made up 5.1 mm"),
    }  # fmt: skip


def _satellite_tags(rng: random.Random, at: datetime, lat: float, lon: float, height_m: float) -> dict[int, Tag]:
    turned = rng.randrange(36_000)
    return {
        0: (BYTE, bytes((2, 3, 0, 0))), 1: (ASCII, "N" if lat >= 0 else "S"), 2: (RATIONAL, _sexagesimal(lat)),
        3: (ASCII, "E" if lon >= 0 else "W"), 4: (RATIONAL, _sexagesimal(lon)), 5: (BYTE, b"\0"),
        6: (RATIONAL, [(round(height_m * 100), 100)]),
        7: (RATIONAL, [(at.hour, 1), (at.minute, 1), (at.second, 1)]), 12: (ASCII, "K"), 13: (RATIONAL, [(40, 100)]),
        16: (ASCII, "T"), 17: (RATIONAL, [(turned, 100)]), 18: (ASCII, "WGS-84"), 23: (ASCII, "T"),
        24: (RATIONAL, [(turned, 100)]), 29: (ASCII, f"{at:%Y:%m:%d}"), 31: (RATIONAL, [(47, 10)]),
    }  # fmt: skip


def _sexagesimal(degrees: float) -> list[tuple[int, int]]:
    parts = round(abs(degrees) * 3600 * 100_000)
    whole, rest = divmod(parts, 3600 * 100_000)
    minutes, seconds = divmod(rest, 60 * 100_000)
    return [(whole, 1), (minutes, 1), (seconds, 100_000)]


def _directory(order: str, at: int, tags: Mapping[int, Tag], following: int) -> bytes:
    """Return one directory with its values behind it, to stand at a place; `following`: where the next one stands."""
    table, values = struct.pack(order + "H", len(tags)), b""
    values_at = at + 2 + 12 * len(tags) + 4
    for tag, (kind, value) in sorted(tags.items()):
        data, count = _value(order, kind, value)
        table += struct.pack(order + "HHI", tag, kind, count)
        if len(data) <= 4:
            table += data.ljust(4, b"\0")
        else:
            table += struct.pack(order + "I", values_at + len(values))
            values += data + b"\0" * (len(data) & 1)
    return table + struct.pack(order + "I", following) + values


def _value(order: str, kind: int, value: Any) -> tuple[bytes, int]:
    if kind == ASCII:
        return value.encode("ascii") + b"\0", len(value) + 1
    if kind in (BYTE, OPAQUE):
        return value, len(value)
    pairs = kind in (RATIONAL, SIGNED)
    return b"".join(struct.pack(order + LETTERS[kind], *(one if pairs else (one,))) for one in value), len(value)


# --- tracks ----------------------------------------------------------------------------------------------------------


def make_track(path: Path, points: int, seed: int = 1) -> None:
    """Write a GPX 1.1 track with a point a second, heights and times, in segments of up to an hour."""
    rng = random.Random(seed)
    with path.open("w", encoding="utf-8") as out:
        out.write('<?xml version="1.0" encoding="UTF-8"?>\n')
        out.write('<gpx version="1.1" creator="made up" xmlns="http://www.topografix.com/GPX/1/1">\n')
        out.write("<trk><name>Made walk</name><trkseg>\n")
        for number, (lat, lon, height_m) in zip(range(points), _walk(rng, 1), strict=False):
            if number and number % 3600 == 0:
                out.write("</trkseg><trkseg>\n")
            at = START + timedelta(seconds=number)
            out.write(
                f'<trkpt lat="{lat:.7f}" lon="{lon:.7f}"><ele>{height_m:.1f}</ele>'
                f"<time>{at:%Y-%m-%dT%H:%M:%SZ}</time></trkpt>\n"
            )
        out.write("</trkseg></trk>\n</gpx>\n")


def _walk(rng: random.Random, every_s: int) -> Iterator[tuple[float, float, float]]:
    """Yield positions of somebody who walks a metre a second and turns by and by, without end."""
    lat, lon, height_m, heading = 55.4, -3.4, 310.0, rng.uniform(0, math.tau)
    while True:
        yield lat, lon, height_m
        heading += rng.gauss(0, 0.1)
        lat += every_s * math.cos(heading) / 111_300
        lon += every_s * math.sin(heading) / (111_300 * math.cos(math.radians(lat)))
        height_m = min(900.0, max(1.0, height_m + rng.gauss(0, 0.2)))


def main() -> None:
    """Write what the command line asks for."""
    parser = argparse.ArgumentParser(description="Make phone-like photos and a long track.")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--photos", type=int, default=20)
    parser.add_argument("--points", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    given.folder.mkdir(parents=True, exist_ok=True)
    make_photos(given.folder, given.photos, given.seed)
    make_track(given.folder / "walk.gpx", given.points, given.seed)


if __name__ == "__main__":
    main()
