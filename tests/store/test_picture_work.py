"""A picture made to hold the server up gets no preview, in a bounded time and memory; an honest one gets its own."""

from __future__ import annotations

import io
import random
import struct
import subprocess
import sys
import zlib
from pathlib import Path

import pytest
from PIL import Image

from field.store.picture_work import is_bearable

HEAD = b"\xff\xd8"
PART = 65535  # bytes, the most that one part of a JPEG has


def saved(image: Image.Image, form: str, **how: object) -> bytes:
    out = io.BytesIO()
    image.save(out, form, **how)
    return out.getvalue()


def part(mark: int, content: bytes) -> bytes:
    return b"\xff" + bytes([mark]) + struct.pack(">H", len(content) + 2) + content


def png(width: int, height: int, pixels: bytes = b"", more: bytes = b"", form: tuple[int, int] = (8, 2)) -> bytes:
    def chunk(kind: bytes, content: bytes) -> bytes:
        return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, *form, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + more + chunk(b"IDAT", zlib.compress(pixels)) + chunk(b"IEND", b"")


def drawn_often(times: int) -> bytes:
    """Return a progressive JPEG whose last pass is made again and again."""
    made = saved(Image.new("RGB", (3000, 3000)), "JPEG", progressive=True)
    last = made.rindex(b"\xff\xda")
    return made[:-2] + made[last:-2] * times + made[-2:]


def with_size(jpeg: bytes, width: int, height: int) -> bytes:
    """Return a JPEG that says it is larger than it is (the size stands 5 bytes behind the mark C0)."""
    at = jpeg.index(b"\xff\xc0") + 5
    return jpeg[:at] + struct.pack(">HH", height, width) + jpeg[at + 4 :]


@pytest.fixture(scope="module")
def bombs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of them; each took from seconds to minutes, or a GiB, in what unpacks pictures here."""
    small = saved(Image.new("RGB", (64, 64)), "JPEG")
    gif = bytearray(saved(Image.new("L", (1, 1)), "GIF"))
    gif[6:10] = b"\xff\xff\xff\xff"
    made = {
        "drawn often.jpg": drawn_often(3000),
        "exif in many parts.jpg": HEAD + part(0xE1, b"Exif\0\0MM\0*" + b"\xff" * (PART - 12)) * 600 + small[2:],
        "comments.jpg": HEAD + part(0xFE, b"x") * 2_000_000 + small[2:],
        "says it is huge.jpg": with_size(small, 65535, 65535),
        "says it is huge.png": png(2**31 - 1, 2**31 - 1),
        "text.png": png(9, 9, b"\0" * 300, b""),
        "sixteen bits.png": png(7200, 7200, b"\0" * 1000, form=(16, 6)),
        "says it is huge.gif": bytes(gif),
        "as large as may be.webp": saved(Image.new("RGB", (16383, 3000)), "WEBP", lossless=True, method=0),
        "parts past its end.tif": b"II*\0\x08\0\0\0\x02\0"
        + struct.pack("<HHIIHHII", 256, 4, 2**31, 8, 257, 4, 2**31, 8)
        + struct.pack("<I", 8),
    }
    folder = tmp_path_factory.mktemp("bombs")
    for name, content in made.items():
        (folder / name).write_bytes(content)
    return folder


def test_no_picture_takes_the_server_long_or_fills_its_memory(bombs: Path) -> None:
    bounded = """
import resource, sys
from pathlib import Path
from field.store.previews import make_preview
resource.setrlimit(resource.RLIMIT_CPU, (8, 8))
resource.setrlimit(resource.RLIMIT_AS, (700 * 2**20, 700 * 2**20))
for path in sorted(Path(sys.argv[1]).iterdir()):
    if make_preview(path) is not None:
        print(path.name)
print("done")
"""
    done = subprocess.run([sys.executable, "-c", bounded, str(bombs)], capture_output=True, text=True, check=False)
    assert done.stdout.splitlines()[-1:] == ["done"], done.stderr
    assert done.stdout.splitlines()[:-1] == ["text.png"]


@pytest.mark.parametrize("how", [{}, {"progressive": True}, {"restart_marker_blocks": 1}], ids=str)
def test_an_honest_photo_is_bearable(tmp_path: Path, how: dict[str, object]) -> None:
    noise = Image.frombytes("RGB", (640, 480), random.Random(1).randbytes(640 * 480 * 3))
    exif = Image.Exif()
    exif[0x010E] = "a tree" * 5000
    photo = saved(noise, "JPEG", quality=98, exif=exif, icc_profile=b"x" * 300_000, **how)
    beside = tmp_path / "photo.jpg"
    beside.write_bytes(photo + drawn_often(100) + b"\xff\xda" * 100_000)  # what comes after it is not unpacked
    assert is_bearable(beside)


def test_passes_are_counted_against_the_size(tmp_path: Path) -> None:
    made = tmp_path / "photo.jpg"
    made.write_bytes(drawn_often(200))  # ten and 200 passes over 9 megapixels: 1.9 thousand million
    assert is_bearable(made)
    made.write_bytes(drawn_often(270))
    assert not is_bearable(made)


def test_what_is_no_jpeg_is_not_looked_into(tmp_path: Path) -> None:
    made = tmp_path / "photo.png"
    made.write_bytes(png(1, 1, b"\0" * 4))
    assert is_bearable(made)
