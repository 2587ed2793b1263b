"""Check what a photo says about its moment: the camera's clock with zone and fraction, and the satellites' time.

Source: Exif 3.0, 4.6.5 (date of taking, offset, sub-seconds) and 4.6.6 (satellite time, which is UTC).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from field.readers.tag_values import NoNumber, Tags, ZeroDenominator, read_numbers, read_text
from field.readers.trouble import Trouble, trouble

# The satellites' own era begins on 6 January 1980; no camera wrote their time before 1995, when Exif began.
FIRST_GPS_YEAR = 1995
PHOTO_YEARS = range(1826, 3000)  # the oldest photo there is, and a bound that no clock's slip goes over
ROLLOVER = timedelta(weeks=1024)  # the week number of the old signal has 10 bits
ROLLOVER_SLACK = timedelta(days=2)  # the camera's clock may lack its zone
MOST_OFFSET = timedelta(hours=14)  # the farthest zone in use, UTC+14
GARBLED = 255.0  # an hour or minute over this was never written by a clock: other bytes stand there

_DATE = re.compile(r"(\d{4})[:\-/](\d{2})[:\-/](\d{2})(?:[ T]+(\d{2}):(\d{2}):(\d{2}))?", re.ASCII)
_OFFSET = re.compile(r"([+-])(\d{2}):?(\d{2})", re.ASCII)


@dataclass(frozen=True, slots=True)
class PhotoMoment:
    """What the tags say of the moment."""

    camera_at: datetime | None  # as the camera's clock showed it, no zone; with its fraction
    offset: timedelta | None  # of that clock from UTC, as the photo says; None: not said
    gps_at: datetime | None  # UTC, by the satellites
    gps_garbled: bool  # the satellite time is made of other bytes, so the rest of that data is in doubt


def read_moment(tags: Tags, out: list[Trouble]) -> PhotoMoment:
    """Return the moment that the tags tell; troubles found are added to `out`."""
    camera_at = _camera(tags, out)
    offset = _offset(tags, out)
    before = len(out)
    gps_at, garbled = _satellites(tags, out)
    if gps_at is not None and camera_at is not None:
        early = camera_at.replace(tzinfo=UTC) - gps_at
        if abs(early - ROLLOVER) <= ROLLOVER_SLACK or abs(early - 2 * ROLLOVER) <= ROLLOVER_SLACK:
            out.append(trouble("gps-clock-not-set", value=show_instant(gps_at)))
            gps_at = None
    if garbled:
        del out[before:]
    return PhotoMoment(camera_at, offset, gps_at, garbled)


def show_instant(instant: datetime) -> str:
    """Return a UTC instant as text, 'YYYY-MM-DDTHH:MM:SS[.f]Z', the fraction as short as it can be."""
    text = instant.astimezone(UTC).isoformat().removesuffix("+00:00")
    return (text.rstrip("0") if "." in text else text) + "Z"


def _camera(tags: Tags, out: list[Trouble]) -> datetime | None:
    text = read_text(tags, "EXIF DateTimeOriginal")
    if text is None or not text.strip(" :"):
        out.append(trouble("date-unknown"))
        return None
    if not text.strip(" :0"):
        out.append(trouble("date-unknown"))
        return None
    found = _DATE.fullmatch(text)
    if found is None or found[4] is None:
        out.append(trouble("date-impossible", value=text[:40]))
        return None
    year, month, day, hour, minute, second = (int(part) for part in found.groups())
    leap = second == 60
    try:
        at = datetime(year, month, day, hour, minute, 59 if leap else second)  # noqa: DTZ001 the zone is not known
        if leap:
            at += timedelta(seconds=1)
        if year not in PHOTO_YEARS:
            raise ValueError
    except (ValueError, OverflowError):
        out.append(trouble("date-impossible", value=text[:40]))
        return None
    if leap:
        out.append(trouble("date-leap-second"))
    return at + _fraction(tags, out)


def _fraction(tags: Tags, out: list[Trouble]) -> timedelta:
    """Return the fraction of the second: its digits stand behind the point, so '7' is 0.7 s."""
    text = read_text(tags, "EXIF SubSecTimeOriginal")
    if not text:
        return timedelta(0)
    if not (text.isascii() and text.isdigit()):
        out.append(trouble("sub-second-form", value=text[:20]))
        return timedelta(0)
    return timedelta(microseconds=int(text[:6].ljust(6, "0")))


def _offset(tags: Tags, out: list[Trouble]) -> timedelta | None:
    text = read_text(tags, "EXIF OffsetTimeOriginal")
    if text is None:
        return None
    if not text.strip(" :"):
        out.append(trouble("offset-unknown"))
        return None
    if text == "Z":  # not a form of Exif, but it has one meaning only
        return timedelta(0)
    found = _OFFSET.fullmatch(text)
    if found is not None and int(found[3]) < 60:
        size = timedelta(hours=int(found[2]), minutes=int(found[3]))
        if size <= MOST_OFFSET:
            return -size if found[1] == "-" else size
    out.append(trouble("offset-impossible", value=text[:20]))
    return None


def _satellites(tags: Tags, out: list[Trouble]) -> tuple[datetime | None, bool]:
    """Return the satellites' time, and whether it is made of other bytes."""
    try:
        clock = read_numbers(tags, "GPS GPSTimeStamp", 3)
    except ZeroDenominator:
        out.append(trouble("gps-time-zero-denominator"))
        return None, False
    except NoNumber:
        out.append(trouble("gps-time-form"))
        return None, False
    text = read_text(tags, "GPS GPSDate")
    day = None
    if text is not None and text.strip(" :-0"):
        day = _day(text)
        if day is None:
            out.append(trouble("gps-date-impossible", value=text[:40]))
    if clock is None:
        if day is not None:
            out.append(trouble("gps-date-no-time"))
        return None, False
    hour, minute, second = clock
    if max(hour, minute) > GARBLED:
        return None, True
    whole = hour.is_integer() and minute.is_integer()
    if not (0 <= hour < 24 and 0 <= minute < 60 and 0 <= second < 61 and whole):
        out.append(trouble("gps-time-out-of-range", value=f"{hour:g}:{minute:g}:{second:g}"))
        return None, False
    if day is None:
        if text is None:
            out.append(trouble("gps-time-no-date"))
        elif not text.strip(" :-0"):
            out.append(trouble("gps-date-unknown"))
        return None, False
    try:
        at = day + timedelta(hours=hour, minutes=minute, microseconds=round(second * 1e6))
    except OverflowError:  # second 60 of the last minute of the year 9999
        out.append(trouble("gps-date-impossible", value=str(text)[:40]))
        return None, False
    if at.year < FIRST_GPS_YEAR:
        out.append(trouble("gps-clock-not-set", value=show_instant(at)))
        return None, False
    return at, False


def _day(text: str) -> datetime | None:
    """Return midnight UTC of a satellite date; some writers put a time behind it, which is passed over."""
    found = _DATE.fullmatch(text)
    if found is None:
        return None
    try:
        return datetime(int(found[1]), int(found[2]), int(found[3]), tzinfo=UTC)
    except ValueError:
        return None
