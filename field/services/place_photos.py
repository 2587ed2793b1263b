"""Read photos and tracks, place the photos, offer trees, and keep what a person accepts."""

from __future__ import annotations

import hashlib
import io
import math
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, BinaryIO

from field.core import match_track
from field.core.errors import BadInput
from field.core.geodesy import distance_m
from field.core.match_track import ClockGuess, Placed, TimedLine
from field.readers import gpx, track
from field.readers.exif import PhotoFacts, read_photo
from field.readers.photo_time import show_instant
from field.readers.track import Track
from field.readers.trouble import Trouble, trouble
from field.services.camera_clock import (
    HandSetting,
    Moment,
    camera_of,
    clock_entry,
    estimate_clocks,
    find_moment,
    read_hand_setting,
)

NEAR_TREE_M = 15.0  # a person with a camera stands at least so far from the trunk; common practice
RADIUS_95 = 1.62  # design, section 4: from the 68 % radius of a circular normal error to the 95 % one
USUAL_ACCURACY_M = 10.0  # of a fix that does not say; common practice for receivers among trees
PIECE = 1024 * 1024

Progress = Callable[[int, int], None]
Source = Path | bytes


@dataclass(slots=True)
class ReadFile:
    """One file that was read: exactly one of `facts` and `track`, or neither for what is no photo and no track."""

    name: str
    source: Source
    sha256: str | None  # None: the file could not be opened
    size: int
    facts: PhotoFacts | None = None
    track: Track | None = None
    troubles: list[Trouble] = field(default_factory=list)


class PlaceDocument(dict[str, Any]):
    """The document of the verb `place`; the files it tells of stay with it, for saving.

    `photo_files` and `track_files` are in the order of its "photos" and "tracks".
    """

    photo_files: list[ReadFile]
    track_files: list[ReadFile]


# --- reading ---------------------------------------------------------------------------------------------------------


def read_paths(
    paths: Iterable[str | os.PathLike[str]],
    clock_offset_s: float | None = None,
    zone: str | None = None,
    progress: Progress | None = None,
) -> tuple[PlaceDocument, int]:
    """Read files and folders of photos and tracks, and say where each photo was taken.

    Args:
        paths: folders are read with all below them, in the order of their names; names with a dot first are passed
            over there. What a file is, its content says.
        clock_offset_s: to add to the camera's time, set by hand.
        zone: of the camera's clock, an IANA name, set by hand.
        progress: called with how many files are read, and of how many.
    Returns: the document, and the exit status: 1 if anything in any file was refused, else 0.
    Raises: BadInput for a path that is not there, an unknown zone, an impossible offset.
    """
    named = [(str(path), path) for path in _list_files(paths)]
    files = [(name, None, path) for name, path in named]
    return _read_all(files, clock_offset_s, zone, progress)


def read_blobs(
    blobs: Sequence[tuple[str, str, Source]],
    clock_offset_s: float | None = None,
    zone: str | None = None,
    progress: Progress | None = None,
) -> tuple[PlaceDocument, int]:
    """Read photos and tracks that are already kept here.

    Args:
        blobs: of each its name, its SHA-256 in hex, and its bytes or where they stand.
        clock_offset_s, zone, progress: as `read_paths`.
    Returns: as `read_paths`; but here a position of 0, 0 is given as none, since what is shown on the map is placed.
    """
    document, status = _read_all(blobs, clock_offset_s, zone, progress)
    for photo in document["photos"]:
        if photo["placed_by"] is None:
            photo["lat"] = photo["lon"] = None
    return document, status


def _list_files(paths: Iterable[str | os.PathLike[str]]) -> list[Path]:
    found: dict[Path, None] = {}  # a set that keeps its order
    for given in paths:
        path = Path(given)
        try:
            is_dir, is_there = path.is_dir(), path.exists()
        except (OSError, ValueError):  # a name that no file can have
            is_dir = is_there = False
        if not is_there:
            raise BadInput(f"There is no file or folder '{_line(str(path))}'.", "Check the path.", "paths")
        if not is_dir:
            found[path] = None
            continue
        for folder, folders, names in os.walk(path):
            folders[:] = sorted(name for name in folders if not name.startswith("."))
            found.update((Path(folder, name), None) for name in sorted(names) if not name.startswith("."))
    return list(found)


def _line(text: str) -> str:
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in text)


def _read_all(
    files: Sequence[tuple[str, str | None, Source]],
    clock_offset_s: float | None,
    zone: str | None,
    progress: Progress | None,
) -> tuple[PlaceDocument, int]:
    hand = read_hand_setting(clock_offset_s, zone)
    photos: list[ReadFile] = []
    tracks: list[ReadFile] = []
    first_of: dict[str, str] = {}
    for n, (name, sha256, source) in enumerate(files):
        if progress is not None:
            progress(n, len(files))
        one = _read_one(name, sha256, source)
        if one.sha256 is not None and one.size:
            first = first_of.setdefault(one.sha256, one.name)
            if first != one.name:
                one.troubles.append(trouble("same-bytes" if one.track is None else "same-track", name=first))
        (photos if one.track is None else tracks).append(one)
    if progress is not None:
        progress(len(files), len(files))
    document = PlaceDocument()
    document.photo_files, document.track_files = photos, tracks
    line = _timed(tracks)
    distinct = {one.sha256: one.facts for one in photos if one.facts is not None}.values()
    clocks = {} if hand.is_set or not line.runs else estimate_clocks(distinct, line)
    document["photos"] = [_photo_entry(one, line, hand, clocks.get(camera_of(one.facts))) for one in photos]
    document["tracks"] = [_track_entry(one) for one in tracks]
    document["clock"] = clock_entry(hand, clocks)
    refused = any(t.refused for one in (*photos, *tracks) for t in one.troubles)
    return document, int(refused)


def _read_one(name: str, sha256: str | None, source: Source) -> ReadFile:
    """Return what one file holds; a file that cannot be opened is told as such."""
    try:
        if isinstance(source, Path) and not source.is_file():
            raise OSError("it is no plain file")
        with _opened(source) as stream:
            size = stream.seek(0, os.SEEK_END)
            one = ReadFile(name, source, sha256 or _hash(stream), size)
            one.facts = read_photo(stream)
            if one.facts is not None:
                one.troubles = list(one.facts.troubles)
                return one
            stream.seek(0)
            if name.lower().endswith(".gpx") or gpx.looks_like_xml(stream.read(64)):
                got = gpx.read_track(stream)
                is_other = any(t.code in ("other-xml", "web-page", "not-gpx") for t in got.troubles)
                if name.lower().endswith(".gpx") or not is_other:
                    one.track = got
                    one.troubles = list(got.troubles)
                    return one
            one.troubles.append(trouble("not-photo-or-track" if size else "empty"))
            return one
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        return ReadFile(name, source, sha256, 0, troubles=[trouble("unreadable", reason=reason)])


def _opened(source: Source) -> BinaryIO:
    return io.BytesIO(source) if isinstance(source, bytes) else source.open("rb")


def _hash(stream: BinaryIO) -> str:
    stream.seek(0)
    digest = hashlib.sha256()
    while piece := stream.read(PIECE):
        digest.update(piece)
    return digest.hexdigest()


def _timed(tracks: Sequence[ReadFile]) -> TimedLine:
    read = {one.sha256: one.track for one in tracks if one.track is not None}.values()
    return match_track.make_timed_line(
        ((t.times, t.lats, t.lons, t.heights) for t in read), (t.unsure_times for t in read)
    )


# --- the document ----------------------------------------------------------------------------------------------------


def _photo_entry(one: ReadFile, line: TimedLine, hand: HandSetting, guess: ClockGuess | None) -> dict[str, Any]:
    facts = one.facts
    entry: dict[str, Any] = {
        "file": one.name,
        "sha256": one.sha256,
        "lat": None,
        "lon": None,
        "height_m": None,
        "accuracy_m": None,
        "direction_deg": None,
        "taken_at": None,
        "taken_at_from": None,
        "orientation": None,
        "placed_by": None,
        "trouble": [],
    }
    if facts is not None:
        moment = find_moment(facts, hand, guess, one.troubles)
        entry |= {
            "lat": facts.lat,
            "lon": facts.lon,
            "height_m": facts.height_m,
            "accuracy_m": facts.accuracy_m,
            "direction_deg": facts.direction_deg,
            "taken_at": None if moment.at is None else show_instant(moment.at),
            "taken_at_from": moment.source,
            "orientation": facts.orientation,
        }
        if facts.has_position:
            entry["placed_by"] = "photo"
        elif line.runs:
            _place_by_track(one, entry, line, moment)
    entry["trouble"] = [t.as_json() for t in one.troubles]
    return entry


def _place_by_track(one: ReadFile, entry: dict[str, Any], line: TimedLine, moment: Moment) -> None:
    """Give a photo without a position the track's, or say why there is none."""
    if moment.at is None:
        one.troubles.append(trouble("no-time"))
        return
    got = match_track.place_photo(line, moment.at.timestamp(), moment.spread_s)
    if isinstance(got, Placed):
        one.troubles = [t for t in one.troubles if t.code != "no-position"]
        height_m = entry["height_m"] if entry["height_m"] is not None else got.height_m
        entry |= {"lat": got.lat, "lon": got.lon, "height_m": height_m, "placed_by": "track"}
        entry["accuracy_m"] = round(got.accuracy_m, 1)
        return
    limit = match_track.MOST_GAP_S if got.code == "gap-time" else match_track.MOST_GAP_M
    one.troubles.append(trouble(got.code, value=f"{got.value or 0:.0f}", limit=f"{limit:.0f}"))


def _track_entry(one: ReadFile) -> dict[str, Any]:
    read = one.track or Track()
    span, climb_m = track.time_span(read), track.climb_m(read)
    return {
        "file": one.name,
        "sha256": one.sha256,
        "version": read.version,
        "points": read.points,
        "segments": len(read.segment_starts),
        "waypoints": len(read.waypoints),
        "routes": len(read.routes),
        "length_m": round(track.length_m(read), 3),
        "climb_m": None if climb_m is None else round(climb_m, 1),
        "start": None if span is None else show_instant(span[0]),
        "end": None if span is None else show_instant(span[1]),
        "bounds": track.bounds(read),
        "trouble": [t.as_json() for t in one.troubles],
    }


# --- to which tree ---------------------------------------------------------------------------------------------------


def plan_placed(document: Mapping[str, Any], trees: Iterable[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """Return for each photo of a document the trees it may show, likeliest first; nothing is attached by this.

    Args:
        document: as `read_paths` or `read_blobs` gives it.
        trees: of each "id", "tag", "species", "lat", "lon" and "accuracy_m" (None: not known); those without a
            position are passed over.
    Returns: in the order of the photos {"near": [{"tree", "tag", "species", "distance_m"}], "suggested": id or None}.
        Near is what lies within max(NEAR_TREE_M, RADIUS_95 x accuracy) of both together; suggested is the only one
        near, and None as soon as there are two.
    """
    fixed = [tree for tree in trees if tree.get("lat") is not None and tree.get("lon") is not None]
    plans = []
    for photo in document["photos"]:
        near = list(_near_trees(photo, fixed)) if photo["placed_by"] is not None else []
        near.sort(key=lambda found: (-found[0], found[1]["distance_m"]))
        offered = [tree for _, tree in near]
        plans.append({"near": offered, "suggested": offered[0]["tree"] if len(offered) == 1 else None})
    return plans


def _near_trees(photo: Mapping[str, Any], trees: Sequence[Mapping[str, Any]]) -> Iterator[tuple[float, dict[str, Any]]]:
    """Yield each tree that may be meant, with the logarithm of how likely it is (circular normal errors)."""
    for tree in trees:
        own, other = (USUAL_ACCURACY_M if a is None else a for a in (photo["accuracy_m"], tree.get("accuracy_m")))
        accuracy_m = max(1.0, math.hypot(own, other))
        away_m = distance_m(photo["lat"], photo["lon"], tree["lat"], tree["lon"])
        if away_m <= max(NEAR_TREE_M, RADIUS_95 * accuracy_m):
            likely = -((away_m / accuracy_m) ** 2) / 2 - 2 * math.log(accuracy_m)
            yield (
                likely,
                {
                    "tree": tree["id"],
                    "tag": tree.get("tag"),
                    "species": tree.get("species"),
                    "distance_m": round(away_m, 1),
                },
            )
