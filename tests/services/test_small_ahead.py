"""Small pictures sent ahead: seen until the photo comes, never taken for it, and nothing of them stays."""

from __future__ import annotations

import datetime as dt
import hashlib
import io
import os
from pathlib import Path

import pytest
from builders import PHONE, WALL_MS, a_change, a_request, an_id
from flask import Flask
from PIL import Image

from field.core.errors import BadInput, NotFound
from field.services import keep_blob, small_ahead
from field.services.take_in_changes import take_in
from field.store import db, photos

NOW = dt.datetime.fromtimestamp(WALL_MS / 1000, dt.UTC)
SECRET = b"taken by Morag at Byre Cottage"


def a_jpeg(colour: str, size: tuple[int, int]) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, colour).save(out, "JPEG", comment=SECRET)
    return out.getvalue()


PHOTO = a_jpeg("green", (1200, 900))
SMALL = a_jpeg("red", (320, 240))
SHA = hashlib.sha256(PHOTO).hexdigest()


def write_down() -> None:
    take_in(a_request(a_change({"sha256": SHA}, type="photo", rec=an_id())), PHONE, NOW)


def colour_of(path: Path) -> tuple[int, int, int]:
    with Image.open(path) as image:
        red, green, blue = image.getpixel((image.width // 2, image.height // 2))
    return red > 200, green > 100, blue > 100


def test_it_is_seen_until_the_photo_comes_and_then_homes_own(store: Flask) -> None:
    write_down()
    small_ahead.take(SHA, SMALL)
    ahead = small_ahead.find(SHA)
    assert ahead is not None
    assert colour_of(ahead) == (True, False, False)
    assert SECRET not in ahead.read_bytes()
    with pytest.raises(NotFound):
        keep_blob.preview(SHA)  # what goes into a paper is made of the photo itself
    assert not keep_blob.is_here(SHA)
    keep_blob.append(SHA, 0, len(PHOTO), io.BytesIO(PHOTO))
    assert small_ahead.find(SHA) is None
    assert colour_of(keep_blob.preview(SHA)) == (False, True, False)


def test_one_that_comes_after_its_photo_changes_nothing(store: Flask) -> None:
    write_down()
    keep_blob.keep_bytes(PHOTO)
    own = keep_blob.preview(SHA).read_bytes()
    small_ahead.take(SHA, SMALL)
    assert keep_blob.preview(SHA).read_bytes() == own
    assert small_ahead.find(SHA) is None


def test_none_is_kept_of_a_photo_that_no_record_speaks_of(store: Flask) -> None:
    with pytest.raises(NotFound) as refused:
        small_ahead.take(SHA, SMALL)
    assert refused.value.code == "no-photo"
    assert small_ahead.find(SHA) is None


@pytest.mark.parametrize("data", [b"", b"no picture", SMALL[:200], b"\xff\xd8\xff" + b"x" * 1000], ids=range(4))
def test_what_is_no_picture_is_refused_and_leaves_nothing(store: Flask, data: bytes) -> None:
    write_down()
    with pytest.raises(BadInput) as refused:
        small_ahead.take(SHA, data)
    assert refused.value.code == "bad-picture"
    assert small_ahead.find(SHA) is None
    assert list((db.photos_dir() / "parts").iterdir()) == []


def test_those_whose_photo_never_came_go_after_ninety_days_and_homes_own_never(store: Flask) -> None:
    write_down()
    small_ahead.take(SHA, SMALL)
    whole = keep_blob.keep_bytes(a_jpeg("blue", (900, 900)))
    own = keep_blob.preview(whole)
    ahead = photos.preview_path(db.photos_dir(), SHA)
    at = (NOW - dt.timedelta(days=89)).timestamp()
    for path in (own, ahead):
        os.utime(path, (at, at))
    assert small_ahead.drop_left(NOW) == 0
    assert small_ahead.drop_left(NOW + dt.timedelta(days=2)) == 1
    assert own.exists()
    assert not ahead.exists()
