"""Compare our photo reader with bare exifread, and the whole intake of a photo with the least it could cost.

Readers: the same made 12-megapixel files; exifread with details=False, extract_thumbnail=False. The positions of both
are first held against what was written. Intake: hash, metadata, copy into the store, preview, record, once from a
folder and once as a phone sends it (pieces of 256 KiB); the least: SHA-256 and a Pillow draft thumbnail of the same
size. Both write the preview's JPEG. What flushing to the disk costs is no CPU time and not seen here.
Needs exifread and Pillow. Goals: at most 1.5 x bare exifread; at most 1.25 x the least an intake could cost.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import shutil
import tempfile
from pathlib import Path

import exifread
from flask import Flask
from made import MadePhoto, make_photos
from PIL import Image, ImageOps
from timing import Case, compare, judge, tell_machine

from field.readers.exif import read_photo
from field.services import keep_blob, place_photos
from field.store import db

EDGE = 640  # pixels of a preview
PIECE = 256 * 1024
INTAKE = 12  # photos a round


def bare_position(path: Path) -> tuple[float, float] | None:
    """Return what exifread alone gives: no check of anything."""
    with path.open("rb") as stream:
        tags = exifread.process_file(stream, details=False, extract_thumbnail=False)
    if "GPS GPSLatitude" not in tags:
        return None
    values = []
    for name, minus in (("Latitude", "S"), ("Longitude", "W")):
        whole, minutes, seconds = (float(part) for part in tags[f"GPS GPS{name}"].values)
        degrees = whole + minutes / 60 + seconds / 3600
        values.append(-degrees if tags[f"GPS GPS{name}Ref"].values == minus else degrees)
    return values[0], values[1]


def our_position(path: Path) -> tuple[float, float] | None:
    """Return what our reader gives."""
    with path.open("rb") as stream:
        facts = read_photo(stream)
    assert facts is not None
    return (facts.lat, facts.lon) if facts.lat is not None and facts.lon is not None else None


def check_same(photos: list[MadePhoto]) -> None:
    """Raise unless both readers find what was written."""
    for photo in photos:
        for got in (bare_position(photo.path), our_position(photo.path)):
            assert (got is None) == (photo.lat is None), photo.path
            if got is not None and photo.lat is not None and photo.lon is not None:
                assert abs(got[0] - photo.lat) < 1e-8
                assert abs(got[1] - photo.lon) < 1e-8


def compare_readers(photos: list[MadePhoto]) -> None:
    """Time the readers, five times over all files a run."""
    noted = [photo for number, photo in enumerate(photos) if number % 3 == 1]
    for title, chosen in (("Photo metadata", photos), ("Photo metadata, only those with 24 kB of maker note", noted)):
        paths = [photo.path for photo in chosen] * 5
        took = compare(
            title,
            {
                "exifread alone": Case(lambda _, paths=paths: [bare_position(path) for path in paths]),
                "ours": Case(lambda _, paths=paths: [our_position(path) for path in paths]),
            },
            len(paths),
            "file",
            7,
        )
        judge(f"{title.lower()} / exifread", took["ours"] / took["exifread alone"], 1.5)


class House:
    """An empty store, a new one for each round."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.app: Flask | None = None

    def fresh(self) -> Flask:
        """Return an app on an empty store; the one before is closed and gone."""
        if self.app is not None:
            db.close(self.app)
            shutil.rmtree(self.folder)
        self.app = Flask("house")
        db.init_app(self.app, None, self.folder)
        return self.app


def take_folder(app: Flask, paths: list[Path]) -> None:
    """Take photos in from a folder, and make their previews."""
    with app.app_context():
        document, _ = place_photos.read_paths(paths)
        place_photos.save_placed(document)
        for photo in document["photos"]:
            keep_blob.preview(photo["sha256"])


def take_sent(app: Flask, sent: list[tuple[str, str, bytes]]) -> None:
    """Take photos in as a phone sends them: piece by piece, then read, kept and looked at."""
    with app.app_context():
        blobs = []
        for name, sha256, data in sent:
            for start in range(0, len(data), PIECE):
                keep_blob.append(sha256, start, len(data), io.BytesIO(data[start : start + PIECE]))
            blobs.append((name, sha256, keep_blob.open_blob(sha256).path))
        document, _ = place_photos.read_blobs(blobs)
        place_photos.save_placed(document)
        for photo in document["photos"]:
            keep_blob.preview(photo["sha256"])


def least(paths: list[Path]) -> None:
    """Do what no intake can do without: the hash, and a small upright picture as JPEG."""
    for path in paths:
        with path.open("rb") as stream:
            hashlib.file_digest(stream, "sha256").hexdigest()
        with Image.open(path) as image:
            image.draft("RGB", (EDGE, EDGE))
            image.thumbnail((EDGE, EDGE), Image.Resampling.LANCZOS)
            ImageOps.exif_transpose(image).save(io.BytesIO(), "JPEG", quality=82)


def compare_intake(photos: list[MadePhoto], folder: Path) -> None:
    """Time the whole intake against the least it could cost."""
    paths = [photo.path for photo in photos[:INTAKE]]
    sent = [(path.name, hashlib.sha256(path.read_bytes()).hexdigest(), path.read_bytes()) for path in paths]
    house = House(folder / "house")
    took = compare(
        "Whole intake of a photo",
        {
            "the least: SHA-256, draft thumbnail": Case(lambda _: least(paths)),
            "ours, from a folder": Case(lambda app: take_folder(app, paths), house.fresh),
            "ours, sent in pieces": Case(lambda app: take_sent(app, sent), house.fresh),
        },
        len(paths),
        "photo",
        5,
    )
    bare = took["the least: SHA-256, draft thumbnail"]
    judge("intake from a folder / the least", took["ours, from a folder"] / bare, 1.25)
    judge("intake of what is sent / the least", took["ours, sent in pieces"] / bare, 1.25)
    if house.app is not None:
        db.close(house.app)


def main() -> None:
    """Make the photos, then measure."""
    parser = argparse.ArgumentParser(description="Measure photo reading and intake.")
    parser.add_argument("--photos", type=int, default=40)
    given = parser.parse_args()
    tell_machine()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "photos").mkdir()
        photos = make_photos(folder / "photos", given.photos)
        size = sum(photo.path.stat().st_size for photo in photos) / len(photos) / 1e6
        print(f"{len(photos)} photos of 12 megapixels, {size:.1f} MB each")
        check_same(photos)
        compare_readers(photos)
        compare_intake(photos, folder)


if __name__ == "__main__":
    main()
