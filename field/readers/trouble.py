"""What can be wrong with a photo or a track: each trouble has its own code and its own plain sentence.

A trouble is either a refusal (something in the file was not used) or a remark (it was used, and this should be
known about it). The command line ends with status 1 when anything was refused. The words are kept here alone.
"""

from __future__ import annotations

from dataclasses import dataclass

REFUSED: dict[str, str] = {
    # the file as a whole
    "empty": "The file is empty.",
    "unreadable": "The file could not be opened: {reason}.",
    "not-photo-or-track": "The file is neither a photo nor a track that can be read here.",
    "cut-off-metadata": "The file ends inside its own metadata, so nothing written there is used.",
    "cut-off-photo": "The file is cut off, and no metadata was found before its end.",
    "cut-off-picture": "The file is cut off before its picture begins; its metadata is whole and is used.",
    "damaged-metadata": "Part of the photo's metadata is damaged ({reason}), so that part is not used.",
    "big-tiff": "The file is a BigTIFF, a form for very large pictures whose metadata is not read here.",
    "packed-metadata": "The photo's metadata is compressed inside the file and is not read here.",
    "reader-failed": "The photo's metadata could not be made sense of, so none of it is used.",
    # position of a photo
    "position-no-ref": "The position does not say north or south, east or west, so it is not used.",
    "position-bad-ref": "The position gives '{ref}' where north, south, east or west should stand, so it is not used.",
    "position-zero-denominator": "The position holds a number divided by zero, so it is not used.",
    "position-out-of-range": "The position gives {name} {value}, which is not on this earth, so it is not used.",
    "position-minutes": "The position gives {value} minutes or seconds of a degree, where less than 60 are possible.",
    "position-negative": "The position holds a negative number beside its letter for the hemisphere, so the side is "
    "in doubt and it is not used.",
    "position-form": "The position is not written as degrees, minutes and seconds, so it is not used.",
    "position-incomplete": "The position lacks its {name}, so it is not used.",
    "damaged-gps": "The satellite data of the photo is garbled ({reason}), so its position is not used.",
    # height, direction, accuracy
    "height-zero-denominator": "The height is a number divided by zero, so it is not used.",
    "height-out-of-range": "The height of {value} m cannot be, so it is not used.",
    "height-bad-ref": "Whether the height is above or below the sea is written as '{ref}', so it is not used.",
    "height-form": "The height is not written as a number, so it is not used.",
    "height-negative": "The height is negative and marked as below the sea as well, so it is not used.",
    "direction-zero-denominator": "The direction is a number divided by zero, so it is not used.",
    "direction-out-of-range": "The direction of {value} degrees cannot be, so it is not used.",
    "direction-form": "The direction is not written as a number, so it is not used.",
    "accuracy-zero-denominator": "The accuracy is a number divided by zero, so it is not known.",
    "accuracy-out-of-range": "The accuracy of {value} m cannot be, so it is taken as not known.",
    "accuracy-form": "The accuracy is not written as a number, so it is not known.",
    "orientation-out-of-range": "The photo's orientation is {value}, which is none of 1 to 8: it is shown as it lies.",
    # time of a photo
    "gps-time-zero-denominator": "The satellite time holds a number divided by zero, so it is not used.",
    "gps-time-out-of-range": "The satellite time of day is {value}, which cannot be, so it is not used.",
    "gps-time-form": "The satellite time is not written as hours, minutes and seconds, so it is not used.",
    "gps-date-impossible": "The satellite date is '{value}', which is no date, so it is not used.",
    "gps-clock-not-set": "The satellite time is {value}, from before the receiver knew the date, so it is not used.",
    "date-impossible": "The date of taking is '{value}', which is no date, so it is not used.",
    "offset-impossible": "The camera's zone is written as '{value}', which is none, so it is not used.",
    "sub-second-form": "The fraction of the second is written as '{value}', so it is not used.",
    # tracks
    "not-gpx": "The file is no GPX track: it is not XML.",
    "web-page": "The file is a web page and no GPX track.",
    "other-xml": "The file is XML of another kind ('{name}') and no GPX track.",
    "entity-declaration": "The file declares entities of its own (line {line}). That is not accepted, since it can "
    "be used to fill the memory or to read other files; nothing of it is used.",
    "unknown-encoding": "The file says it is written in '{name}', which cannot be read here.",
    "huge-piece": "A single piece of the file is over {limit} bytes long (line {line}): that is no track.",
    "cut-off": "The file is cut off in line {line}. Whole points before that, which are kept: {points}.",
    "malformed": "The file is damaged in line {line}. Points before that, which are kept: {points}.",
    "malformed-empty": "The file is damaged in line {line}, before any point, so nothing of it is used.",
    "bad-point": "The point in line {line} is left out: {reason}.",
    "bad-points-more": "More points are left out for reasons of the same kind: {count}.",
    "bad-height": "The height '{value}' in line {line} is no height; the point is kept without it.",
    "bad-heights-more": "More heights are left out for reasons of the same kind: {count}.",
    "bad-time": "The time '{value}' in line {line} is no time; the point is kept without it.",
    "bad-times-more": "More times are left out for reasons of the same kind: {count}.",
    "clock-not-set": "Times from before the receiver knew the date ({count}, the first in line {line}): no photo is "
    "placed by them.",
    "week-rollover": "Times a whole number of 1024 weeks too early ({count}, the first in line {line}): no photo is "
    "placed by them.",
}

REMARKS: dict[str, str] = {
    "no-metadata": "The photo carries no metadata, so neither place nor time is known from it.",
    "no-position": "The photo carries no position.",
    "zero-position": "The photo says latitude 0, longitude 0, which is what cameras write when they have no position.",
    "xmp-position": "The photo names a position in its XMP, as programs write it afterwards; only what the camera "
    "wrote is read here.",
    "datum": "The position is given on the datum '{value}' and read as WGS 84; it may be some hundred metres off.",
    "gps-void": "The receiver had no measurement when the photo was taken; the position may be an old one.",
    "hemisphere-lower-case": "The hemisphere is written in small letters; it is read as usual.",
    "height-no-ref": "The height does not say above or below the sea; it is read as above.",
    "height-zero": "The height is 0, which some cameras write when they do not know it.",
    "height-odd": "The height of {value} m is beyond any dry land; its sign or unit may be wrong.",
    "height-ellipsoid": "The height is above the ellipsoid and not the sea; it may be some tens of metres off.",
    "direction-magnetic": "The direction is from magnetic north.",
    "direction-no-ref": "The direction does not say which north is meant; true north is taken.",
    "accuracy-zero": "The accuracy is given as 0 m, which no receiver has; it is taken as not known.",
    "gps-time-no-date": "The satellite time has no date, so it is not used.",
    "gps-date-no-time": "The satellite date has no time of day, so it is not used.",
    "gps-date-unknown": "The satellite date is left blank, so the satellite time is not used.",
    "date-unknown": "The photo does not say when it was taken.",
    "date-leap-second": "The time of taking has a second 60; it is read as the start of the next minute.",
    "offset-unknown": "The camera's zone is left blank.",
    "no-zone": "The photo gives its time without a zone, so the moment is not known.{more}",
    "clock-disagrees": "The camera's clock and the satellites differ by {value}; the satellites are believed.",
    "clock-estimated": "Its time was put right by {value}, as found from the photos of this camera that lie on the "
    "track ({count}).",
    "same-bytes": "This is the same photo as {name}, byte for byte.",
    "same-track": "This is the same track as {name}, byte for byte.",
    # why no position came from a track
    "no-time": "The photo could not be placed by a track, because its moment is not known.",
    "no-track-then": "No track was being recorded when the photo was taken.",
    "gap-time": "The track has a gap of {value} s around that moment; no more than {limit} s are bridged.",
    "gap-distance": "The track has a gap of {value} m around that moment; no more than {limit} m are bridged.",
    "two-places": "Two tracks put the photo in two places {value} m apart.",
    # tracks
    "nothing-in-it": "There is no track, waypoint or route in the file.",
    "unknown-version": "The file says it is GPX version '{value}'; it is read like 1.1.",
    "unknown-namespace": "The file's namespace is not GPX's own ('{value}'); it is read all the same.",
    "leading-space": "There is blank space before the file's first line; it is passed over.",
    "after-the-end": "There is something behind the end of the track (line {line}); it is passed over.",
    "wrong-encoding": "The file says it is written in '{name}' and is not; it is read as UTF-8.",
    "damaged-text": "Some letters of the file do not fit its encoding; they are shown as \N{REPLACEMENT CHARACTER}.",
    "odd-height": "Heights beyond any dry land ({count}, the first in line {line}) are left out of the climb.",
    "time-no-zone": "Times without a zone ({count}, the first in line {line}) are read as UTC, as GPX says.",
    "time-leap-second": "Times with a second 60 ({count}, the first in line {line}) are read as the next minute.",
    "time-backwards": "The time steps back ({count} in all, the first in line {line}).",
}


@dataclass(frozen=True, slots=True)
class Trouble:
    """One thing that is wrong with a file, or worth knowing about it."""

    code: str  # short lower-case fact with hyphens
    text: str  # one plain sentence
    refused: bool  # True: something in the file was not used; False: a remark

    def as_json(self) -> dict[str, str]:
        """Return the form that the documents carry."""
        return {"code": self.code, "text": self.text}


def trouble(code: str, **values: object) -> Trouble:
    """Return the trouble of a code, its sentence filled in.

    Args:
        code: one of REFUSED or REMARKS.
        values: what the sentence names; text is cut to 40 characters and cleared of control characters.
    Raises: KeyError for an unknown code or a value that the sentence asks for and was not given.
    """
    refused = code in REFUSED
    sentence = REFUSED[code] if refused else REMARKS[code]
    return Trouble(code, sentence.format(**{name: _shown(value) for name, value in values.items()}), refused)


def _shown(value: object) -> object:
    """Return a value as a sentence can show it: one line, of bounded length."""
    if not isinstance(value, str):
        return value
    line = "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in value)
    return line if len(line) <= 200 else line[:199] + "…"
