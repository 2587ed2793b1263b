"""Read where and when a photo was taken, and how it lies, from its metadata; say what cannot be trusted.

The block is found by `container`, the tags that matter are picked out by `tiff`, the library decodes their values,
and every value is checked here: what a library reports is what the file says, not what is true.
"""

from __future__ import annotations

import io
import logging
import struct
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import BinaryIO

import exifread
from exifread.core.exceptions import ExifError

from field.readers import container, tiff
from field.readers.photo_place import read_place
from field.readers.photo_time import read_moment
from field.readers.tag_values import Tags, read_text
from field.readers.trouble import Trouble, trouble

# Its remarks on odd files go to standard error otherwise; what is odd is told by us, as troubles.
logging.getLogger("exifread").setLevel(logging.CRITICAL)

# What the library was seen to raise on damaged blocks, and what its own arithmetic can raise.
LIBRARY_ERRORS = (
    ExifError,
    ArithmeticError,
    AssertionError,
    AttributeError,
    LookupError,
    RecursionError,
    TypeError,
    ValueError,
    struct.error,
)


@dataclass(frozen=True, slots=True)
class PhotoFacts:
    """What a photo says of itself, checked; None: not said, or not to be trusted (then a trouble says why)."""

    kind: str  # jpeg, heic, avif, jxl, png, webp or tiff
    media_type: str
    lat: float | None = None  # degrees, WGS 84; 0, 0 is kept as read, with the trouble zero-position
    lon: float | None = None
    height_m: float | None = None  # above the sea, negative below
    direction_deg: float | None = None  # 0 <= d < 360
    direction_ref: str | None = None  # T true north, M magnetic
    accuracy_m: float | None = None
    datum: str | None = None
    camera_at: datetime | None = None  # the camera's clock, without zone
    offset: timedelta | None = None  # of that clock from UTC, as the photo says
    gps_at: datetime | None = None  # UTC, by the satellites
    orientation: int | None = None  # 1 to 8; None: take it as 1
    make: str | None = None
    model: str | None = None
    troubles: tuple[Trouble, ...] = ()

    @property
    def has_position(self) -> bool:
        """Return whether the position may be used: it is there, and it is not the 0, 0 of a missing one."""
        return self.lat is not None and (self.lat, self.lon) != (0.0, 0.0)


def read_photo(data: bytes | BinaryIO) -> PhotoFacts | None:
    """Return what a photo says of itself.

    Args:
        data: the whole file, as bytes or as a stream that can seek. Of a stream only headers and metadata are read.
    Returns: None if it is no photo at all (another kind of file, or an empty one).
    Raises: OSError if the stream cannot be read. Nothing that stands in the file makes it raise.
    Accuracy: positions to the last digit the file holds (tests/reference/test_exif.py: 2e-7 degrees).
    """
    stream = io.BytesIO(data) if isinstance(data, bytes) else data
    found = container.find_metadata(stream)
    if found.kind is None:
        return None
    media_type = container.MEDIA_TYPES[found.kind]
    if found.block is None:
        code = found.unread or ("cut-off-photo" if found.cut else "no-metadata")
        if code == "no-metadata" and container.tells_position_in_xmp(stream, found):
            return PhotoFacts(found.kind, media_type, troubles=(trouble("no-position"), trouble("xmp-position")))
        return PhotoFacts(found.kind, media_type, troubles=(trouble(code),))
    if found.cut:
        return PhotoFacts(found.kind, media_type, troubles=(trouble("cut-off-metadata"),))
    picked = tiff.pick_tags(found.block)
    out = [trouble("damaged-metadata", reason=words) for words in picked.damage]
    if found.picture_cut:
        out.append(trouble("cut-off-picture"))
    if picked.clean is None:
        return PhotoFacts(found.kind, media_type, troubles=tuple(out))
    try:
        tags = exifread.process_file(io.BytesIO(picked.clean), details=False, extract_thumbnail=False)
        facts = _facts(found.kind, media_type, tags, picked.gps_damaged, out)
    except LIBRARY_ERRORS:
        return PhotoFacts(found.kind, media_type, troubles=(*out, trouble("reader-failed")))
    if facts.lat is None and container.tells_position_in_xmp(stream, found):
        return replace(facts, troubles=(*facts.troubles, trouble("xmp-position")))
    return facts


def _facts(kind: str, media_type: str, tags: Tags, gps_damaged: bool, out: list[Trouble]) -> PhotoFacts:
    moment = read_moment(tags, out)
    if moment.gps_garbled:
        out.append(trouble("damaged-gps", reason="its time of day is no time"))
    elif gps_damaged:
        out.append(trouble("damaged-gps", reason="part of it is lost"))
    place = read_place(tags, gps_damaged or moment.gps_garbled, out)
    if place.lat is None and not _position_told(out):
        out.append(trouble("no-position"))
    return PhotoFacts(
        kind,
        media_type,
        lat=place.lat,
        lon=place.lon,
        height_m=place.height_m,
        direction_deg=place.direction_deg,
        direction_ref=place.direction_ref,
        accuracy_m=place.accuracy_m,
        datum=place.datum,
        camera_at=moment.camera_at,
        offset=moment.offset,
        gps_at=None if gps_damaged else moment.gps_at,
        orientation=_orientation(tags, out),
        make=read_text(tags, "Image Make") or None,
        model=read_text(tags, "Image Model") or None,
        troubles=tuple(out),
    )


def _position_told(out: list[Trouble]) -> bool:
    return any(t.code.startswith("position-") or t.code == "damaged-gps" for t in out)


def _orientation(tags: Tags, out: list[Trouble]) -> int | None:
    tag = tags.get("Image Orientation")
    if tag is None or not isinstance(tag.values, list) or len(tag.values) != 1:
        return None
    value = tag.values[0]
    if isinstance(value, int) and 1 <= value <= 8:
        return value
    out.append(trouble("orientation-out-of-range", value=str(value)[:20]))
    return None
