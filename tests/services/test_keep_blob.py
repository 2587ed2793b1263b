"""Photos and files kept under the name of their content, piece by piece or whole."""

from __future__ import annotations

import errno
import hashlib
import io
import random
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import IO, Any, cast

import pytest
from flask import Flask
from PIL import Image
from sqlalchemy import delete, text

from field.core.errors import BadInput, Busy, NoRoom, NotFound, TooLarge
from field.services import keep_blob
from field.services.keep_blob import MOST_PIECE, Progress, WrongOffset, append, keep_bytes, keep_file, offset
from field.store import among, db, files, photos
from field.store.tables import BlobRow

PHOTO = random.Random(1).randbytes(600_000)
# printf abc | sha256sum; the first example of FIPS 180-2
ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
# sha256sum of nothing
EMPTY = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"


def name_of(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def send(data: bytes, begin: int, end: int, name: str | None = None) -> Progress:
    return append(name_of(data) if name is None else name, begin, len(data), io.BytesIO(data[begin:end]))


def content(name: str) -> bytes:
    return keep_blob.open_blob(name).path.read_bytes()


@pytest.fixture
def sqlite_store(data_dir: Path) -> Iterator[Flask]:
    """For what is about files only: the database makes no difference there."""
    house = Flask("house")
    db.init_app(house, None, data_dir)
    with house.app_context():
        yield house
    db.close(house)


def test_a_photo_arrives_in_pieces(store: Flask) -> None:
    name = name_of(PHOTO)
    with pytest.raises(NotFound):
        offset(name)
    assert send(PHOTO, 0, 250_000) == Progress(250_000, False)
    assert offset(name) == Progress(250_000, False)
    assert not keep_blob.is_here(name)
    assert send(PHOTO, 250_000, 500_000) == Progress(500_000, False)
    assert send(PHOTO, 500_000, 600_000) == Progress(600_000, True)
    assert offset(name) == Progress(600_000, True)
    assert keep_blob.is_here(name)
    assert content(name) == PHOTO
    assert not photos.part_path(db.data_dir(), name).exists()


def test_a_whole_file_is_kept_under_its_known_name(store: Flask, tmp_path: Path) -> None:
    assert keep_bytes(b"abc") == ABC
    (tmp_path / "abc").write_bytes(b"abc")
    assert keep_file(tmp_path / "abc") == ABC
    assert keep_bytes(b"") == EMPTY
    assert content(ABC) == b"abc"
    assert list((db.data_dir() / "parts").iterdir()) == []


def test_a_repeated_piece_of_a_whole_file_is_answered_as_done(sqlite_store: Flask) -> None:
    keep_bytes(b"abc")
    assert append(ABC, 0, 3, io.BytesIO(b"abc")) == Progress(3, True)
    with pytest.raises(WrongOffset):
        append(ABC, 0, 4, io.BytesIO(b"abcd"))


@pytest.mark.parametrize("begin", [0, 1, 99, 101, 599_999])
def test_a_piece_that_does_not_continue_changes_nothing(sqlite_store: Flask, begin: int) -> None:
    send(PHOTO, 0, 100)
    with pytest.raises(WrongOffset) as refused:
        send(PHOTO, begin, begin + 10)
    assert (refused.value.offset, refused.value.code) == (100, "wrong-offset")
    assert offset(name_of(PHOTO)) == Progress(100, False)
    assert send(PHOTO, 100, 200) == Progress(200, False)


def test_the_first_piece_begins_at_nought(sqlite_store: Flask) -> None:
    with pytest.raises(WrongOffset) as refused:
        send(PHOTO, 10, 20)
    assert refused.value.offset == 0


@pytest.mark.parametrize("size", [MOST_PIECE - 1, MOST_PIECE])
def test_a_piece_may_be_as_large_as_is_allowed(sqlite_store: Flask, size: int) -> None:
    assert send(PHOTO, 0, size) == Progress(size, False)


def test_a_piece_that_is_too_large_leaves_nothing(sqlite_store: Flask) -> None:
    send(PHOTO, 0, 7)
    with pytest.raises(TooLarge):
        send(PHOTO, 7, 7 + MOST_PIECE + 1)
    assert offset(name_of(PHOTO)) == Progress(7, False)


@pytest.mark.parametrize("sent", [b"bcd", b"b" * 20_000])
def test_more_than_the_whole_leaves_nothing(sqlite_store: Flask, sent: bytes) -> None:
    append(ABC, 0, 3, io.BytesIO(b"a"))
    with pytest.raises(BadInput, match="More was sent"):
        append(ABC, 1, 3, io.BytesIO(sent))
    assert offset(ABC) == Progress(1, False)
    assert append(ABC, 1, 3, io.BytesIO(b"bc")) == Progress(3, True)


def test_an_empty_file_is_complete_at_once(sqlite_store: Flask) -> None:
    assert append(EMPTY, 0, 0, io.BytesIO(b"")) == Progress(0, True)
    assert content(EMPTY) == b""


def test_what_is_not_its_name_is_dropped_and_can_begin_again(sqlite_store: Flask) -> None:
    append(ABC, 0, 3, io.BytesIO(b"ab"))
    with pytest.raises(BadInput) as refused:
        append(ABC, 2, 3, io.BytesIO(b"X"))
    assert refused.value.code == "hash-wrong"
    with pytest.raises(NotFound):
        offset(ABC)
    assert not keep_blob.is_here(ABC)
    assert append(ABC, 0, 3, io.BytesIO(b"abc")) == Progress(3, True)


@pytest.mark.parametrize("name", ["", "abc", ABC.upper(), ABC[:-1], ABC + "0", "../" + ABC[3:], ABC[:-1] + "\n"])
def test_what_is_no_hash_never_becomes_a_path(sqlite_store: Flask, name: str) -> None:
    for ask in (offset, keep_blob.open_blob, keep_blob.preview, lambda it: append(it, 0, 3, io.BytesIO(b"abc"))):
        with pytest.raises(BadInput) as refused:
            cast(Callable[[str], Any], ask)(name)
        assert refused.value.code == "bad-name"


class Broken(io.RawIOBase):
    """A phone that walks off: some bytes, then the connection is gone."""

    def __init__(self, data: bytes) -> None:
        self.data = io.BytesIO(data)

    def read(self, size: int = -1) -> bytes:
        got = self.data.read(size)
        if not got:
            raise ConnectionResetError
        return got


def test_what_arrived_before_the_connection_broke_is_kept(sqlite_store: Flask) -> None:
    name = name_of(PHOTO)
    with pytest.raises(ConnectionResetError):
        append(name, 0, len(PHOTO), cast(IO[bytes], Broken(PHOTO[:50_000])))
    assert offset(name) == Progress(50_000, False)
    for begin in range(50_000, len(PHOTO), 200_000):
        last = send(PHOTO, begin, min(begin + 200_000, len(PHOTO)))
    assert last.complete
    assert content(name) == PHOTO


def test_a_part_cut_short_on_the_disk_goes_on_from_what_is_there(sqlite_store: Flask) -> None:
    send(PHOTO, 0, 200_000)
    with photos.part_path(db.data_dir(), name_of(PHOTO)).open("r+b") as part:
        part.truncate(123)
    assert offset(name_of(PHOTO)) == Progress(123, False)
    assert send(PHOTO, 123, 200_000) == Progress(200_000, False)


def test_a_part_longer_than_the_whole_is_dropped(sqlite_store: Flask) -> None:
    append(ABC, 0, 3, io.BytesIO(b"ab"))
    photos.part_path(db.data_dir(), ABC).write_bytes(b"abcd")
    with pytest.raises(BadInput) as refused:
        append(ABC, 2, 3, io.BytesIO(b"c"))
    assert refused.value.code == "hash-wrong"
    assert append(ABC, 0, 3, io.BytesIO(b"abc")) == Progress(3, True)


def test_a_part_with_rubbish_at_its_end_is_found_out(sqlite_store: Flask) -> None:
    photos.part_path(db.data_dir(), ABC).write_bytes(b"aX")
    with pytest.raises(BadInput, match="not the file of that name"):
        append(ABC, 2, 3, io.BytesIO(b"c"))


def test_killed_between_file_and_row_the_file_is_found_again(store: Flask) -> None:
    keep_bytes(b"abc")
    with db.writing() as session:
        session.execute(delete(BlobRow))
    assert not keep_blob.is_here(ABC)
    assert offset(ABC) == Progress(3, True)
    assert keep_blob.is_here(ABC)


def test_a_file_without_row_that_is_not_its_name_is_not_trusted(sqlite_store: Flask) -> None:
    place = photos.blob_path(db.data_dir(), ABC)
    place.parent.mkdir()
    place.write_bytes(b"xyz")
    with pytest.raises(NotFound):
        offset(ABC)
    assert keep_bytes(b"abc") == ABC
    assert content(ABC) == b"abc"


def test_a_row_without_file_is_asked_for_again(sqlite_store: Flask) -> None:
    keep_bytes(b"abc")
    photos.blob_path(db.data_dir(), ABC).unlink()
    with pytest.raises(NotFound):
        keep_blob.open_blob(ABC)
    with pytest.raises(NotFound):
        offset(ABC)
    assert append(ABC, 0, 3, io.BytesIO(b"abc")) == Progress(3, True)
    assert content(ABC) == b"abc"


def test_a_whole_file_ends_the_part_of_it_that_had_begun(sqlite_store: Flask) -> None:
    append(ABC, 0, 3, io.BytesIO(b"ab"))
    keep_bytes(b"abc")
    assert offset(ABC) == Progress(3, True)
    assert list((db.data_dir() / "parts").iterdir()) == []


def test_two_phones_with_the_same_photo_both_finish(store: Flask) -> None:
    name = name_of(PHOTO)
    done: list[Progress] = []

    def upload() -> None:
        with store.app_context():
            at = Progress(0, False)
            while not at.complete:
                try:
                    at = send(PHOTO, at.offset, min(at.offset + 30_000, len(PHOTO)))
                except WrongOffset as refused:
                    at = Progress(refused.offset, refused.complete)
            done.append(at)

    phones = [threading.Thread(target=upload) for _ in range(3)]
    for phone in phones:
        phone.start()
    for phone in phones:
        phone.join()
    assert done == [Progress(600_000, True)] * 3
    assert content(name) == PHOTO


def test_who_waits_for_the_writer_of_a_file_is_told_so_and_not_kept_for_ever(store: Flask) -> None:
    name = name_of(PHOTO)
    with photos.one_writer.hold(name):
        with pytest.raises(Busy) as same_process, photos.one_writer.hold(name, 0.05):
            pass
        assert same_process.value.retry_after_s > 0
        with photos.one_writer.hold(ABC, 0.05):
            pass  # another file has another writer
    with photos.one_writer.hold(name, 0.05):
        pass


def test_the_writer_of_a_file_may_be_another_process(postgres: Any, data_dir: Path) -> None:
    house = Flask("house")
    db.init_app(house, postgres.address, data_dir)
    with house.app_context():
        engine = db.db.engine
        with among.one_writer_of(engine, ABC, 1), pytest.raises(Busy), among.one_writer_of(engine, ABC, 0.05):
            pass
        with among.one_writer_of(engine, ABC, 0.05), engine.connect() as link:
            # 0 stands for no limit in PostgreSQL: no other wait of these connections was shortened by that
            assert link.execute(text("SHOW lock_timeout")).scalar() == "0"
    db.close(house)


def test_a_phone_that_is_slow_keeps_no_other_from_the_same_photo(store: Flask) -> None:
    name = name_of(PHOTO)

    class OtherMeanwhile(io.BytesIO):
        """A body during which another phone sends the same."""

        def read(self, size: int | None = -1) -> bytes:
            if self.tell() == 0:
                send(PHOTO, 0, 200_000)
            return super().read(size)

    with pytest.raises(WrongOffset) as refused:
        append(name, 0, len(PHOTO), OtherMeanwhile(PHOTO[:100_000]))
    assert refused.value.offset == 200_000
    for begin in range(200_000, len(PHOTO), 200_000):
        send(PHOTO, begin, begin + 200_000)
    assert content(name) == PHOTO


class Full:
    """A disk that is full after so many bytes."""

    def __init__(self, room: int) -> None:
        self.room = room

    def __call__(self, stream: IO[bytes], piece: int = photos.PIECE) -> Iterator[bytes]:
        while data := stream.read(piece):
            self.room -= len(data)
            if self.room < 0:
                raise OSError(errno.ENOSPC, "No space left on device")
            yield data


def test_a_full_disk_is_said_and_the_upload_can_go_on(sqlite_store: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    name = name_of(PHOTO)
    send(PHOTO, 0, 100_000)
    with monkeypatch.context() as patch:
        patch.setattr(photos, "read_pieces", Full(20_000))
        with pytest.raises(NoRoom) as refused:
            send(PHOTO, 100_000, 200_000)
    assert refused.value.code == "disk-full"
    standing = offset(name)
    assert standing == Progress(116_384, False)  # one read of 16 KiB fitted
    assert send(PHOTO, standing.offset, standing.offset + 100) == Progress(116_484, False)


def test_a_full_disk_leaves_no_half_of_a_whole_file(
    sqlite_store: Flask, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "photo").write_bytes(PHOTO)
    monkeypatch.setattr(photos, "read_pieces", Full(100_000))
    with pytest.raises(NoRoom):
        keep_file(tmp_path / "photo")
    assert list((db.data_dir() / "parts").iterdir()) == []
    assert list((db.data_dir() / "blobs").rglob("*.*")) == []


def test_an_error_while_replacing_leaves_what_stood_there(tmp_path: Path) -> None:
    target = tmp_path / "file"
    target.write_bytes(b"old")

    def replace() -> None:
        with files.replacing(target) as out:
            out.write(b"new")
            raise OSError(errno.ENOSPC, "No space left on device")

    with pytest.raises(NoRoom):
        replace()
    assert target.read_bytes() == b"old"
    assert list(tmp_path.iterdir()) == [target]


def a_jpeg(size: tuple[int, int], orientation: int | None = None, **others: Any) -> bytes:
    """Return a photo whose left half is red, the right one blue."""
    image = Image.new("RGB", size, "blue")
    image.paste("red", (0, 0, size[0] // 2, size[1]))
    exif = Image.Exif()
    if orientation is not None:
        exif[0x0112] = orientation  # Orientation
    exif[0x010F] = "A camera"  # Make
    out = io.BytesIO()
    image.save(out, others.pop("format", "JPEG"), exif=exif, **others)
    return out.getvalue()


def near(got: Any, want: tuple[int, int, int]) -> bool:
    return all(abs(one - other) < 40 for one, other in zip(got, want, strict=True))


def test_a_preview_is_small_upright_and_without_metadata(sqlite_store: Flask) -> None:
    # Orientation 6: the camera was held so that the left side of the stored picture is the top (Exif 2.3, 4.6.4).
    path = keep_blob.preview(keep_bytes(a_jpeg((2000, 1000), orientation=6)))
    assert b"A camera" not in path.read_bytes()
    with Image.open(path) as image:
        assert (image.format, image.size, dict(image.getexif())) == ("JPEG", (320, 640), {})
        assert near(image.getpixel((160, 20)), (255, 0, 0))
        assert near(image.getpixel((160, 620)), (0, 0, 255))


# Where the stored picture's first row and first column are in the scene, by orientation (Exif 3.0, 4.6.5.1.6): so its
# first corner, then the next along its first row, are seen at these (right, down) of the upright picture.
CORNERS = {
    1: ((0, 0), (1, 0)),
    2: ((1, 0), (0, 0)),
    3: ((1, 1), (0, 1)),
    4: ((0, 1), (1, 1)),
    5: ((0, 0), (0, 1)),
    6: ((1, 0), (1, 1)),
    7: ((1, 1), (1, 0)),
    8: ((0, 1), (0, 0)),
}


@pytest.mark.parametrize("orientation", CORNERS)
def test_a_preview_stands_upright_however_the_camera_was_held(sqlite_store: Flask, orientation: int) -> None:
    stored = Image.new("RGB", (200, 100), "white")
    stored.paste("red", (0, 0, 50, 50))
    stored.paste("blue", (150, 0, 200, 50))
    exif = Image.Exif()
    exif[0x0112] = orientation
    out = io.BytesIO()
    stored.save(out, "JPEG", exif=exif, subsampling=0, quality=95)
    with Image.open(keep_blob.preview(keep_bytes(out.getvalue()))) as image:
        assert image.size == ((200, 100) if orientation < 5 else (100, 200))
        seen = [
            image.getpixel((10 + right * (image.width - 20), 10 + down * (image.height - 20)))
            for right, down in CORNERS[orientation]
        ]
    assert near(seen[0], (255, 0, 0))
    assert near(seen[1], (0, 0, 255))


def test_a_preview_of_a_see_through_picture_lies_on_white(sqlite_store: Flask) -> None:
    out = io.BytesIO()
    Image.new("RGBA", (100, 50), (255, 0, 0, 0)).save(out, "PNG")
    marked = io.BytesIO()
    Image.new("RGB", (100, 50), (255, 0, 0)).save(marked, "PNG", transparency=(255, 0, 0))
    for data in (out, marked):
        with Image.open(keep_blob.preview(keep_bytes(data.getvalue()))) as image:
            assert near(image.getpixel((50, 25)), (255, 255, 255))


@pytest.mark.parametrize(("size", "small"), [((640, 640), (640, 640)), ((641, 100), (640, 100)), ((10, 5), (10, 5))])
def test_a_preview_is_never_larger_than_the_photo(
    sqlite_store: Flask, size: tuple[int, int], small: tuple[int, int]
) -> None:
    with Image.open(keep_blob.preview(keep_bytes(a_jpeg(size)))) as image:
        assert image.size == small


def test_a_preview_is_made_once(sqlite_store: Flask) -> None:
    name = keep_bytes(a_jpeg((100, 100)))
    first = keep_blob.preview(name).stat()
    assert keep_blob.preview(name).stat().st_ino == first.st_ino


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_other_pictures_have_previews_too(sqlite_store: Flask, kind: str) -> None:
    name = keep_bytes(a_jpeg((800, 400), format=kind))
    with Image.open(keep_blob.preview(name)) as image:
        assert (image.format, image.size) == ("JPEG", (640, 320))


def test_what_is_see_through_is_shown_on_white(sqlite_store: Flask) -> None:
    out = io.BytesIO()
    Image.new("RGBA", (50, 50), (0, 0, 0, 0)).save(out, "PNG")
    with Image.open(keep_blob.preview(keep_bytes(out.getvalue()))) as image:
        assert near(image.getpixel((25, 25)), (255, 255, 255))


def a_bomb() -> bytes:
    """Return a PNG that says it has 400 million pixels."""
    out = io.BytesIO()
    Image.new("1", (20_000, 20_000)).save(out, "PNG")
    return out.getvalue()


@pytest.mark.parametrize(
    "data",
    [b"", b"this is a letter", a_jpeg((900, 900))[:700], b"\xff\xd8\xff\xe0" + b"\0" * 50, a_bomb(), b"%PDF-1.4"],
    ids=["empty", "text", "cut off", "head only", "bomb", "pdf"],
)
def test_what_is_no_picture_is_kept_and_has_no_preview(sqlite_store: Flask, data: bytes) -> None:
    name = keep_bytes(data)
    with pytest.raises(NotFound) as refused:
        keep_blob.preview(name)
    assert refused.value.code == "no-preview"
    assert content(name) == data


def test_there_is_no_preview_of_what_is_not_here(sqlite_store: Flask) -> None:
    with pytest.raises(NotFound) as refused:
        keep_blob.preview(ABC)
    assert refused.value.code == "no-blob"


@pytest.mark.parametrize(
    ("data", "media_type"),
    [
        (a_jpeg((9, 9)), "image/jpeg"),
        (a_jpeg((9, 9), format="PNG"), "image/png"),
        (a_jpeg((9, 9), format="WEBP"), "image/webp"),
        (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic", "image/heic"),
        (b"\0\0\0\x18ftypavif\0\0\0\0mif1avif", "image/avif"),
        (b"%PDF-1.7\n", "application/pdf"),
        (b'<?xml version="1.0"?><gpx/>', "application/gpx+xml"),
        (b"<gpx/>", "application/gpx+xml"),
        (b"<html>", "application/octet-stream"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "application/octet-stream"),
        (b"", "application/octet-stream"),
    ],
)
def test_the_type_is_told_by_the_bytes(sqlite_store: Flask, data: bytes, media_type: str) -> None:
    assert keep_blob.open_blob(keep_bytes(data)).media_type == media_type
