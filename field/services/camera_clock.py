"""When photos were taken, and how far their cameras' clocks are off.

Where a photo's moment comes from, in the order of trust:
1. its camera's clock where the photo says that clock's zone, put right by the offset set by hand if there is one;
   unless the satellites' time differs by more than CLOCKS_AGREE_S: then that one, and it is told;
2. the satellites' time;
3. its camera's clock with the zone or the offset set by hand;
4. its camera's clock put right by what other photos of that camera show on the track;
5. otherwise the moment is not known, and it is told.
A clock offset is what must be added to the camera's time; without a zone of any kind it holds the zone as well.

How unsure such a moment is goes with it, since a walker's place is as unsure as the distance walked in that time: an
estimate has its own spread, a clock that was read off a photo the spread of that reading, and a clock whose zone alone
was set was never compared with any other and may be off by UNCHECKED_S.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from field.core import match_track
from field.core.dates import read_zone
from field.core.errors import BadInput
from field.core.match_track import ClockGuess, Sighting, TimedLine
from field.readers.exif import PhotoFacts
from field.readers.trouble import Trouble, trouble

CLOCKS_AGREE_S = 120.0  # a satellite time may be that of the last fix, a minute or so old
MOST_OFFSET_S = 50 * 366 * 86400.0  # a clock never set shows a year some decades back
UNCHECKED_S = 30.0  # what a camera's clock gains or loses between two settings; common practice
READ_S = 1.0  # two clocks that show whole seconds, 68 %
READ_MINUTE_S = 20.0  # a clock without a seconds' hand, taken at the middle of its minute: 0.68 x 30 s

SHOWN = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}(:[0-9]{2})?", re.ASCII)

Camera = tuple[str | None, str | None]  # make and model, as the photos say


@dataclass(frozen=True, slots=True)
class HandSetting:
    """What a person set by hand about the camera's clock."""

    offset: timedelta | None  # to add to the camera's time
    zone: ZoneInfo | None
    spread_s: float | None = None  # of an offset read off a photo of a clock

    @property
    def is_set(self) -> bool:
        """Return whether anything was set."""
        return self.offset is not None or self.zone is not None

    @property
    def unsure_s(self) -> float:
        """Return how far a moment told by this may be off, 68 %."""
        if self.offset is None:
            return UNCHECKED_S
        return READ_S if self.spread_s is None else self.spread_s


@dataclass(frozen=True, slots=True)
class ClockReading:
    """What a clock showed that a camera took a photo of, as a person read it."""

    sha256: str  # of that photo
    shown_at: datetime  # UTC
    spread_s: float


@dataclass(frozen=True, slots=True)
class Moment:
    """When a photo was taken."""

    at: datetime | None  # UTC; None: not known
    source: str | None  # offset, gps or zone
    spread_s: float  # how far it may be off, 68 %


def read_shown_time(sha256: object, shown: object, zone: object) -> ClockReading:
    """Return the reading of a clock in a photo, checked.

    Args:
        sha256: of the photo.
        shown: the day and time the clock showed, 'YYYY-MM-DDTHH:MM:SS', or without the seconds.
        zone: IANA name of the zone that clock kept.
    Raises: BadInput.
    """
    match = SHOWN.fullmatch(shown) if isinstance(shown, str) else None
    if not isinstance(sha256, str) or not isinstance(zone, str) or match is None:
        raise BadInput(
            "The time the clock showed is not a day and a time.", "Write them as 2026-10-11 and 14:05:30.", "shown"
        )
    whole = match.group(1) is not None
    try:
        local = datetime.fromisoformat(match.group(0)).replace(tzinfo=read_zone(zone))
        at = local.astimezone(UTC) + timedelta(seconds=0 if whole else 30)
    except (ValueError, OverflowError):
        raise BadInput("There is no such day and time.", "Check what the clock showed.", "shown") from None
    return ClockReading(sha256, at, READ_S if whole else READ_MINUTE_S)


def setting_from_reading(reading: ClockReading, facts: PhotoFacts | None, zone: str | None) -> HandSetting:
    """Return the setting of a camera's clock from its photo of a clock.

    Args:
        facts: of that photo.
        zone: of the camera's clock as set by hand, None: not set; the offset then holds the zone as well.
    Raises: BadInput where the photo does not say when its camera took it, or the clock is some decades off.
    """
    if facts is None or facts.camera_at is None:
        raise BadInput("The photo of the clock does not say what time its camera had.", "Choose another.", "sha256")
    camera_zone = None if zone is None else read_zone(zone)
    if facts.offset is not None:
        camera_at = (facts.camera_at - facts.offset).replace(tzinfo=UTC)
    else:
        camera_at = facts.camera_at.replace(tzinfo=camera_zone or UTC)
    seconds = match_track.clock_from_reading(camera_at.timestamp(), reading.shown_at.timestamp())
    return replace(read_hand_setting(round(seconds, 3), zone), spread_s=reading.spread_s)


def read_hand_setting(clock_offset_s: float | None, zone: str | None) -> HandSetting:
    """Return what was set by hand, checked.

    Args:
        clock_offset_s: seconds to add to the camera's time; None: not set.
        zone: IANA name of the zone of the camera's clock; None: not set.
    Raises: BadInput for an offset that is no number or beyond some decades, or for an unknown zone.
    """
    if clock_offset_s is None:
        offset = None
    elif (
        isinstance(clock_offset_s, bool)
        or not isinstance(clock_offset_s, int | float)
        or not abs(clock_offset_s) <= MOST_OFFSET_S
    ):
        raise BadInput(
            "The clock offset must be a number of seconds, at most fifty years.",
            "Give the seconds to add to the camera's time.",
            "clock_offset_s",
        )
    else:
        offset = timedelta(seconds=clock_offset_s)
    return HandSetting(offset, None if zone is None else read_zone(zone))


def camera_of(facts: PhotoFacts | None) -> Camera:
    """Return by which camera a photo was taken, as far as it says."""
    return (None, None) if facts is None else (facts.make, facts.model)


@dataclass(frozen=True, slots=True)
class CameraGuess(ClockGuess):
    """How far a camera's clock is off, and which photos with a place of their own told nothing of it."""

    idle: tuple[tuple[int, str], ...] = ()  # how many, and why: a key of IDLE_WORDS


IDLE_WORDS = {  # why a photo with a place does not count: of one, of several
    "zone": ("tells its time with a zone, which the others lack", "tell their time with a zone, which the others lack"),
    "no-time": ("carries no time", "carry no time"),
    "same-moment": ("was taken in the same seconds as another", "were taken in the same seconds as another"),
    "off-track": ("lies off the walk", "lie off the walk"),
    "other-camera": ("was taken by another camera", "were taken by another camera"),
}


def estimate_clocks(photos: Iterable[PhotoFacts], line: TimedLine) -> dict[Camera, CameraGuess]:
    """Return for each camera with photos of unknown moment how far its clock is off, as far as that can be told.

    Only photos that give their time without a zone count: the others' moments are known.
    """
    photos = list(photos)
    own: dict[Camera, list[PhotoFacts]] = {}
    for facts in photos:
        if facts.camera_at is not None and facts.offset is None:
            own.setdefault(camera_of(facts), []).append(facts)
    clocks: dict[Camera, CameraGuess] = {}
    for camera, taken in own.items():
        if any(facts.gps_at is None for facts in taken):
            seen = [s for facts in taken if (s := _sighting(facts)) is not None]
            guess = match_track.estimate_clock(seen, line)
            clocks[camera] = CameraGuess(**asdict(guess), idle=_idle(photos, camera, seen, guess))
    return clocks


def _idle(
    photos: Iterable[PhotoFacts], camera: Camera, seen: list[Sighting], guess: ClockGuess
) -> tuple[tuple[int, str], ...]:
    """Return how many photos with a place told nothing of a camera's clock, by the reason."""
    counts = dict.fromkeys(IDLE_WORDS, 0)
    for facts in photos:
        if not facts.has_position:
            continue
        if camera_of(facts) != camera:
            counts["other-camera"] += 1
        elif facts.camera_at is None:
            counts["no-time"] += 1
        elif facts.offset is not None:
            counts["zone"] += 1
    apart = len({s.camera_s // match_track.BURST_S for s in seen})
    counts["same-moment"] = len(seen) - apart
    counts["off-track"] = apart - guess.of
    return tuple((count, why) for why, count in counts.items() if count > 0)


def _sighting(facts: PhotoFacts) -> Sighting | None:
    if facts.camera_at is None or facts.lat is None or facts.lon is None or not facts.has_position:
        return None
    gps_s = None if facts.gps_at is None else facts.gps_at.timestamp()
    return Sighting(facts.camera_at.replace(tzinfo=UTC).timestamp(), facts.lat, facts.lon, gps_s)


def find_moment(facts: PhotoFacts, hand: HandSetting, guess: CameraGuess | None, out: list[Trouble]) -> Moment:
    """Return when a photo was taken, by the order of trust at the head of this module.

    Args:
        guess: of its camera's clock, where one was made.
        out: troubles found are added here.
    """
    camera_at, gps_at = facts.camera_at, facts.gps_at
    if camera_at is not None and facts.offset is not None:
        at = _moved((camera_at - facts.offset).replace(tzinfo=UTC), hand.offset)
        if gps_at is None or abs((at - gps_at).total_seconds()) <= CLOCKS_AGREE_S:
            return Moment(at, "offset", 0.0)
        out.append(trouble("clock-disagrees", value=_span((at - gps_at).total_seconds())))
    if gps_at is not None:
        return Moment(gps_at, "gps", 0.0)
    if camera_at is None:
        return Moment(None, None, 0.0)
    if hand.is_set:
        local = camera_at.replace(tzinfo=hand.zone or UTC)
        return Moment(_moved(local.astimezone(UTC), hand.offset), "zone", hand.unsure_s)
    if guess is not None and guess.offset_s is not None and guess.spread_s is not None:
        out.append(trouble("clock-estimated", value=_span(guess.offset_s), count=guess.photos))
        at = _moved(camera_at.replace(tzinfo=UTC), timedelta(seconds=round(guess.offset_s, 3)))
        return Moment(at, "zone", guess.spread_s)
    out.append(trouble("no-zone", more="" if guess is None else f" {_guess_words(guess)}"))
    return Moment(None, None, 0.0)


def _moved(at: datetime, by: timedelta | None) -> datetime:
    try:
        return at if by is None else at + by
    except OverflowError:
        raise BadInput("The clock offset leads out of the calendar.", "Check it.", "clock_offset_s") from None


def _span(seconds: float) -> str:
    """Return a stretch of time in words, with its sign: '+7 h 3 min', '-4 s'."""
    whole = round(abs(seconds))
    days, rest = divmod(whole, 86400)
    parts = [(days, "days"), (rest // 3600, "h"), (rest % 3600 // 60, "min"), (rest % 60, "s")]
    said = " ".join(f"{count} {unit}" for count, unit in parts if count)
    return f"{'-' if seconds < 0 else '+'}{said or '0 s'}"


def _guess_words(guess: CameraGuess, whole: bool = False) -> str:
    """Return what was found out of a clock; whole: with the photos that told nothing of it."""
    if guess.code == "found":
        return f"The camera's clock was put right by {_span(guess.offset_s or 0.0)}, from {guess.photos} photos."
    if guess.code == "too-few":
        return (
            f"Its clock could not be told from the track: at least {match_track.LEAST_PHOTOS} photos that know their "
            f"place on it and tell their time without a zone are needed, and there {'is' if guess.of == 1 else 'are'} "
            f"{guess.of or 'none'}{_idle_words(guess) if whole else ''}."
        )
    return f"Its clock could not be told from the track: the {guess.of} photos on it contradict each other."


def _idle_words(guess: CameraGuess) -> str:
    """Return why the photos with a place that did not count did not, to end a sentence with; '' without such."""
    if not guess.idle:
        return ""
    reasons = [f"{count} {IDLE_WORDS[why][count > 1]}" for count, why in guess.idle]
    return f": of those with a place of their own, {', '.join(reasons)}"


def clock_entry(hand: HandSetting, clocks: Mapping[Camera, CameraGuess]) -> dict[str, Any]:
    """Return what the document `place` says of the clock: of several cameras the one with most photos behind it."""
    if hand.is_set:
        offset_s = None if hand.offset is None else hand.offset.total_seconds()
        read = hand.spread_s is not None
        return {
            "offset_s": offset_s,
            "spread_s": hand.spread_s,
            "from": "hand",
            "photos": int(read),
            "text": "Read off the photo of a clock." if read else "Set by hand.",
        }
    if not clocks:
        return {"offset_s": None, "spread_s": None, "from": None, "photos": 0, "text": None}
    best = max(clocks.values(), key=lambda guess: (guess.offset_s is not None, guess.photos, guess.of))
    return {
        "offset_s": None if best.offset_s is None else round(best.offset_s, 3),
        "spread_s": None if best.spread_s is None else round(best.spread_s, 3),
        "from": best.source,
        "photos": best.photos,
        "text": _guess_words(best, whole=True),
    }
