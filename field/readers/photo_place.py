"""Check what a photo says about its place: position, height, direction, accuracy, datum.

Reported, never guessed: whatever is missing, impossible or ambiguous leaves the value None and adds a trouble.
Source: Exif 3.0, 4.6.6 (GPS attributes).
"""

from __future__ import annotations

from dataclasses import dataclass

from field.readers.tag_values import NoNumber, Tags, ZeroDenominator, read_numbers, read_text
from field.readers.trouble import Trouble, trouble

WGS84_NAMES = {"WGS84", "WGS1984"}  # once blanks, dashes and underscores are taken out
LOWEST_LAND_M, HIGHEST_LAND_M = -450.0, 8900.0  # shore of the Dead Sea, Mount Everest, with some room
MOST_HEIGHT_M = 100_000.0  # beyond this it is no height at all but an overflow
MOST_ACCURACY_M = 100_000.0
SIXTY = 60.0


@dataclass(frozen=True, slots=True)
class PhotoPlace:
    """What the satellite tags say of the place."""

    lat: float | None  # degrees, WGS 84; None together with lon
    lon: float | None  # degrees, -180 <= lon < 180
    height_m: float | None
    direction_deg: float | None  # 0 <= d < 360, clockwise from north
    direction_ref: str | None  # T true, M magnetic; None: not said, or no direction
    accuracy_m: float | None  # horizontal; 68 % radius as far as the makers say
    datum: str | None


def read_place(tags: Tags, damaged: bool, out: list[Trouble]) -> PhotoPlace:
    """Return the place that the tags tell.

    Args:
        damaged: part of the satellite directory was lost or is made of other bytes: then nothing of it is used.
        out: troubles found are added here.
    """
    if damaged:
        return PhotoPlace(None, None, None, None, None, None, None)
    position = _position(tags, out)
    datum = read_text(tags, "GPS GPSMapDatum") or None
    if position is not None:
        if datum is not None and _plain(datum) not in WGS84_NAMES:
            out.append(trouble("datum", value=datum[:40]))
        if (read_text(tags, "GPS GPSStatus") or "").upper() == "V":
            out.append(trouble("gps-void"))
        if position == (0.0, 0.0):
            out.append(trouble("zero-position"))
    lat, lon = position or (None, None)
    direction, ref = _direction(tags, out)
    return PhotoPlace(lat, lon, _height(tags, out), direction, ref, _accuracy(tags, out), datum)


def _plain(datum: str) -> str:
    return "".join(c for c in datum.upper() if c.isalnum())


def _position(tags: Tags, out: list[Trouble]) -> tuple[float, float] | None:
    parts: list[float] = []
    asked = (("Latitude", "N", "S", 90.0), ("Longitude", "E", "W", 180.0))
    there = [f"GPS GPS{name}" in tags for name, *_ in asked]
    if not any(there):
        return None
    for present, (name, *_) in zip(there, asked, strict=True):
        if not present:
            out.append(trouble("position-incomplete", name=name.lower()))
            return None
    for name, plus, minus, limit in asked:
        value = _angle(tags, name, plus, minus, limit, out)
        if value is None:
            return None
        parts.append(value)
    lat, lon = parts
    return lat, -180.0 if lon == 180.0 else lon


def _angle(tags: Tags, name: str, plus: str, minus: str, limit: float, out: list[Trouble]) -> float | None:
    """Return one half of a position in signed degrees, None with its trouble."""
    try:
        numbers = read_numbers(tags, f"GPS GPS{name}", 3)
    except ZeroDenominator:
        out.append(trouble("position-zero-denominator"))
        return None
    except NoNumber:
        out.append(trouble("position-form"))
        return None
    ref = read_text(tags, f"GPS GPS{name}Ref")
    if not ref:
        out.append(trouble("position-no-ref"))
        return None
    if ref.upper() not in (plus, minus):
        out.append(trouble("position-bad-ref", ref=ref[:10]))
        return None
    assert numbers is not None  # the caller has seen that the tag is there
    degrees, minutes, seconds = numbers
    if min(numbers) < 0:
        out.append(trouble("position-negative"))
        return None
    # Exactly 60 seconds is a slip of rounding whose sum is still right; 75 minutes is no way of writing an angle.
    if minutes >= SIXTY or seconds > SIXTY:
        out.append(trouble("position-minutes", value=f"{minutes if minutes >= SIXTY else seconds:g}"))
        return None
    value = degrees + minutes / 60.0 + seconds / 3600.0
    if value > limit:
        out.append(trouble("position-out-of-range", name=name.lower(), value=f"{value:g}"))
        return None
    if ref not in (plus, minus) and not any(t.code == "hemisphere-lower-case" for t in out):
        out.append(trouble("hemisphere-lower-case"))
    return -value if ref.upper() == minus and value else value


def _one(tags: Tags, name: str, word: str, out: list[Trouble]) -> float | None:
    """Return the one number of a tag; troubles are named after `word`."""
    try:
        numbers = read_numbers(tags, name, 1)
    except ZeroDenominator:
        out.append(trouble(f"{word}-zero-denominator"))
        return None
    except NoNumber:
        out.append(trouble(f"{word}-form"))
        return None
    return None if numbers is None else numbers[0]


def _height(tags: Tags, out: list[Trouble]) -> float | None:
    value = _one(tags, "GPS GPSAltitude", "height", out)
    if value is None:
        return None
    # 0 and 1: above and below the sea; 2 and 3 the same from the ellipsoid (Exif 3.0). Some write the digit as text.
    ref = tags.get("GPS GPSAltitudeRef")
    raw = None if ref is None else ref.values
    if isinstance(raw, str | bytes):
        text = read_text(tags, "GPS GPSAltitudeRef") or ""
        side = int(text) if text in ("0", "1", "2", "3") else (None if not text else -1)
    elif not raw:
        side = None
    else:
        side = raw[0] if isinstance(raw[0], int) else -1
        side = side - ord("0") if ord("0") <= side <= ord("3") else side
    if side is not None and side not in (0, 1, 2, 3):
        out.append(trouble("height-bad-ref", ref=str(raw)[:20]))
        return None
    if side in (1, 3):
        if value < 0:
            out.append(trouble("height-negative"))
            return None
        value = -value if value else value
    if abs(value) > MOST_HEIGHT_M:
        out.append(trouble("height-out-of-range", value=f"{value:.0f}"))
        return None
    if side is None:
        out.append(trouble("height-no-ref"))
    if side in (2, 3):
        out.append(trouble("height-ellipsoid"))
    if value == 0:
        out.append(trouble("height-zero"))
    elif not LOWEST_LAND_M <= value <= HIGHEST_LAND_M:
        out.append(trouble("height-odd", value=f"{value:g}"))
    return value


def _direction(tags: Tags, out: list[Trouble]) -> tuple[float | None, str | None]:
    value = _one(tags, "GPS GPSImgDirection", "direction", out)
    if value is None:
        return None, None
    if not 0.0 <= value <= 360.0:
        out.append(trouble("direction-out-of-range", value=f"{value:g}"))
        return None, None
    ref = (read_text(tags, "GPS GPSImgDirectionRef") or "").upper()
    if ref == "M":
        out.append(trouble("direction-magnetic"))
    elif ref != "T":
        out.append(trouble("direction-no-ref"))
    return (0.0 if value == 360.0 else value), ref if ref in ("T", "M") else None


def _accuracy(tags: Tags, out: list[Trouble]) -> float | None:
    value = _one(tags, "GPS Tag 0x001F", "accuracy", out)
    if value is None:
        return None
    if value == 0:
        out.append(trouble("accuracy-zero"))
        return None
    if not 0 < value <= MOST_ACCURACY_M:
        out.append(trouble("accuracy-out-of-range", value=f"{value:g}"))
        return None
    return value
