"""How much work a JPEG would make before it is a picture: counted without unpacking anything.

A small file can be made to be unpacked for hours: a picture drawn over thousands of times, or metadata in thousands of
parts. No camera writes such a one.
"""

from __future__ import annotations

import mmap
import re
from pathlib import Path

# A camera's progressive picture is drawn in ten passes; twenty over 120 megapixels take about three seconds.
MOST_DRAWN = 2_400_000_000  # pixels, times the passes over them
MOST_METADATA = 16 * 1024 * 1024  # bytes before and between the passes; extended XMP with a depth map has a few MiB
MOST_PARTS = 4000  # of metadata
# ISO/IEC 10918-1, B.1.1: what stands alone, or is no mark, left out. The last of several fill bytes is found by itself;
# asking for all of them ("\xff+") would take twenty times as long.
MARK = re.compile(rb"\xff([^\x00\x01\xd0-\xd7\xff])")
END, PASS = 0xD9, 0xDA
SIZES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}  # table B.1: the marks that tell how large the picture is


def is_bearable(path: Path) -> bool:
    """Return whether a file, if it is a JPEG, takes a bounded time to unpack; others are not looked into."""
    passes = parts = metadata = pixels = 0
    with path.open("rb") as file, mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data:
        if data[:3] != b"\xff\xd8\xff":
            return True
        at = 2
        while found := MARK.search(data, at):
            kind, at = found[1][0], found.end()
            if kind == END:  # of the first picture; some cameras put more after it, which is not unpacked
                break
            part = data[at : at + 7]
            if kind in SIZES:
                pixels = max(pixels, int.from_bytes(part[3:5], "big") * int.from_bytes(part[5:7], "big"))
            length = int.from_bytes(part[:2], "big")
            at += max(length, 2)
            parts += 1
            metadata += length
            passes += kind == PASS
            if passes * pixels > MOST_DRAWN or metadata > MOST_METADATA or parts > MOST_PARTS:
                return False
    return True
