"""Read photos and tracks, place the photos, offer trees, and keep what a person accepts."""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from field.core import match_track
from field.core.dates import instant_text
from field.core.errors import BadInput
from field.core.geodesy import distance_m, read_position
from field.core.match_track import Placed, TimedLine
from field.readers import track
from field.readers.photo_time import show_instant
from field.readers.track import Track
from field.readers.trouble import trouble
from field.services.camera_clock import (
    CameraGuess,
    ClockReading,
    HandSetting,
    Moment,
    camera_of,
    clock_entry,
    estimate_clocks,
    find_moment,
    read_hand_setting,
    setting_from_reading,
)
from field.services.keep_blob import is_here, keep_bytes, keep_file
from field.services.read_files import ReadFile, Source, list_files, one_line, read_file
from field.services.write_changes import Change, write_changes
from field.store import queries

NEAR_TREE_M = 15.0  # a person with a camera stands at least so far from the trunk; common practice
RADIUS_95 = 1.62  # design, section 4: from the 68 % radius of a circular normal error to the 95 % one
LEAST_RADIUS_M = 6_335_000.0  # no radius of curvature of WGS 84 is less than b²/a = 6,335,439 m
USUAL_ACCURACY_M = 10.0  # of a fix that does not say; common practice for receivers among trees

Progress = Callable[[int, int], None]


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
    named = [(str(path), path) for path in list_files(paths)]
    files = [(name, None, path) for name, path in named]
    return _read_all(files, clock_offset_s, zone, progress)


def read_blobs(
    blobs: Sequence[tuple[str, str, Source]],
    clock_offset_s: float | None = None,
    zone: str | None = None,
    progress: Progress | None = None,
    reading: ClockReading | None = None,
) -> tuple[PlaceDocument, int]:
    """Read photos and tracks that are already kept here.

    Args:
        blobs: of each its name, its SHA-256 in hex, and its bytes or where they stand.
        clock_offset_s, zone, progress: as `read_paths`.
        reading: of a clock that is in one of these photos; goes before `clock_offset_s`.
    Returns: as `read_paths`; but here a position of 0, 0 is given as none, since what is shown on the map is placed.
    """
    document, status = _read_all(blobs, clock_offset_s, zone, progress, reading)
    for photo in document["photos"]:
        if photo["placed_by"] is None:
            photo["lat"] = photo["lon"] = None
    return document, status


def _read_all(
    files: Sequence[tuple[str, str | None, Source]],
    clock_offset_s: float | None,
    zone: str | None,
    progress: Progress | None,
    reading: ClockReading | None = None,
) -> tuple[PlaceDocument, int]:
    hand = read_hand_setting(clock_offset_s, zone)
    photos: list[ReadFile] = []
    tracks: list[ReadFile] = []
    first_of: dict[str, str] = {}
    for n, (name, sha256, source) in enumerate(files):
        if progress is not None:
            progress(n, len(files))
        one = read_file(name, sha256, source)
        if one.sha256 is not None and one.size:
            first = first_of.setdefault(one.sha256, one.name)
            if first != one.name:
                one.troubles.append(trouble("same-bytes" if one.track is None else "same-track", name=first))
        (photos if one.track is None else tracks).append(one)
    if progress is not None:
        progress(len(files), len(files))
    if reading is not None:
        of_clock = next((one.facts for one in photos if one.sha256 == reading.sha256), None)
        hand = setting_from_reading(reading, of_clock, zone)
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


def _timed(tracks: Sequence[ReadFile]) -> TimedLine:
    read = {one.sha256: one.track for one in tracks if one.track is not None}.values()
    return match_track.make_timed_line(
        ((t.times, t.lats, t.lons, t.heights) for t in read),
        (t.unsure_times for t in read),
        (t.times_rise for t in read),
    )


# --- the document ----------------------------------------------------------------------------------------------------


def _photo_entry(one: ReadFile, line: TimedLine, hand: HandSetting, guess: CameraGuess | None) -> dict[str, Any]:
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
        entry["accuracy_m"] = round(_with_clock(line, moment, got), 1)
        return
    limit = match_track.MOST_GAP_S if got.code == "gap-time" else match_track.MOST_GAP_M
    one.troubles.append(trouble(got.code, value=f"{got.value or 0:.0f}", limit=f"{limit:.0f}"))


def _with_clock(line: TimedLine, moment: Moment, got: Placed) -> float:
    """Return how surely the track places a photo whose moment is not known to the second.

    The rule: the pace of the leg times the clock's spread, or what was walked from there within the spread to either
    side if that is more: a photo taken at a halt may have been taken on the way to it.
    """
    assert moment.at is not None
    if moment.spread_s <= 0.0:
        return got.accuracy_m
    walked_m = 0.0
    for at_s in (moment.at.timestamp() - moment.spread_s, moment.at.timestamp() + moment.spread_s):
        other = match_track.place_photo(line, at_s)
        if isinstance(other, Placed):
            walked_m = max(walked_m, distance_m(got.lat, got.lon, other.lat, other.lon))
    return max(got.accuracy_m, math.hypot(match_track.RECEIVER_M, walked_m))


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
        most_m = max(NEAR_TREE_M, RADIUS_95 * accuracy_m)
        if _least_distance_m(photo["lat"], photo["lon"], tree["lat"], tree["lon"]) > most_m:
            continue  # thousands of photos and hundreds of trees: nearly all of them are told apart by this
        away_m = distance_m(photo["lat"], photo["lon"], tree["lat"], tree["lon"])
        if away_m <= most_m:
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


def _least_distance_m(lat1: float, lon1: float, lat2: float, lon2: float) -> float:
    """Return what two places are at least apart: along the meridian, and across it, on a sphere inside the Earth."""
    across = math.sqrt(abs(math.cos(math.radians(lat1)) * math.cos(math.radians(lat2))))
    return LEAST_RADIUS_M * max(
        math.radians(abs(lat1 - lat2)), 2.0 * across * abs(math.sin(math.radians(lon1 - lon2) / 2.0))
    )


# --- keeping ---------------------------------------------------------------------------------------------------------

PLACED_WORDS = {"photo": "exif", "track": "track", "hand": "hand", None: None}  # the document's word: the record's


def save_placed(
    document: PlaceDocument, choices: Mapping[str, Any] | None = None, progress: Progress | None = None
) -> dict[str, Any]:
    """Keep photos and tracks that were read, and write their records, all or none.

    Args:
        document: as `read_paths` or `read_blobs` gave it.
        choices: {"photos": [{"sha256", "tree", "site", "place"}], "tracks": [{"sha256", "site"}]}, what a person
            accepted; place: {"lat", "lon", "accuracy_m"} where a person moved the photo, else None; choices None:
            everything that was read, no photo attached to a tree.
        progress: called with how many files are kept, and of how many; what it raises ends the saving without a record.
    Returns: {"saved": [{"sha256", "rec", "type"}], "trouble": [{"sha256", "file", "code", "text"}]}. What is kept
        already is told and not written again; the same bytes never make a second record.
    Raises: BadInput for a record that cannot be written (a tree that is none, say): then none is.
    """
    photos = {one.sha256: (one, entry) for one, entry in _read_well(document.photo_files, document["photos"])}
    tracks = {one.sha256: (one, entry) for one, entry in _read_well(document.track_files, document["tracks"])}
    if choices is None:
        choices = {"photos": [{"sha256": s} for s in photos], "tracks": [{"sha256": s} for s in tracks]}
    saved: list[dict[str, Any]] = []
    told: list[dict[str, Any]] = []
    changes: list[Change] = []
    both = (("photo", choices.get("photos") or [], photos), ("track", choices.get("tracks") or [], tracks))
    done, of = 0, sum(len(wanted) for _, wanted, _ in both)
    for record_type, wanted, read in both:
        # Asked once for all: the hashes have no index, and a folder may hold thousands.
        seen: set[str] = {record["sha256"] for record in queries.list_records(record_type)} if wanted else set()
        for choice in wanted:
            if progress is not None:
                progress(done, of)
            done += 1
            sha256 = _named(choice)
            found = read.get(sha256)
            code = None if found is not None else "not-read"
            if found is not None and sha256 in seen:
                code = "kept-already"
            elif found is not None and _keep(found[0]) != sha256:
                code = "changed"
            seen.add(sha256)
            if code is not None or found is None:
                name = choice.get("name") if found is None else found[0].name
                told.append({"sha256": sha256, "file": name, "code": code, "text": NOT_SAVED[code or "not-read"]})
                continue
            one, entry = found
            refs = {name: choice[name] for name in ("tree", "site") if choice.get(name) is not None}
            if record_type == "photo":
                changes.append(("photo", None, {**photo_fields(one, _as_moved(entry, choice.get("place"))), **refs}))
            else:
                site = {"site": refs["site"]} if "site" in refs else {}
                changes.append(("track", None, {**_track_fields(one), **site}))
            saved.append({"sha256": sha256, "type": record_type})
    if progress is not None:
        progress(done, of)
    recs = write_changes(changes) if changes else []
    return {"saved": [{**one, "rec": rec} for one, rec in zip(saved, recs, strict=True)], "trouble": told}


def _as_moved(entry: Mapping[str, Any], place: object) -> Mapping[str, Any]:
    """Return a photo's entry at the place that a person gave it, or as it is without one.

    Its height goes: it was that of another place, unless the photo was placed by itself.
    """
    if place is None:
        return entry
    if not isinstance(place, Mapping):
        raise BadInput("The place of a photo is not a position.", None, "place")
    lat, lon = read_position(place.get("lat"), place.get("lon"), "place")
    accuracy_m = place.get("accuracy_m")
    is_number = isinstance(accuracy_m, int | float) and not isinstance(accuracy_m, bool)
    if accuracy_m is not None and not (is_number and 0.0 <= accuracy_m < math.inf):
        raise BadInput("The accuracy of a place is not a number of metres.", None, "place")
    height_m = entry["height_m"] if entry["placed_by"] != "track" else None
    trouble_left = [one for one in entry["trouble"] if one["code"] not in UNPLACED]
    return {
        **entry,
        "lat": lat,
        "lon": lon,
        "accuracy_m": accuracy_m,
        "height_m": height_m,
        "placed_by": "hand",
        "trouble": trouble_left,
    }


# What is no longer so once a person has said where a photo was taken.
UNPLACED = frozenset({"no-position", "no-time", "no-zone", "no-track-then", "gap-time", "gap-distance", "two-places"})


def _named(choice: object) -> str:
    sha256 = choice.get("sha256") if isinstance(choice, Mapping) else None
    if not isinstance(sha256, str):
        raise BadInput("A photo or track to keep is not named by its SHA-256.", None, "sha256")
    return sha256


NOT_SAVED = {
    "kept-already": "This is kept already; it was not taken in a second time.",
    "not-read": "There is no such photo or track among those that were read.",
    "changed": "The file changed while it was read; read it again.",
}


def save_document(document: PlaceDocument, progress: Progress | None = None) -> int:
    """Keep everything that was read; what could not be kept is told with the file it is; return the exit status."""
    result = save_placed(document, progress=progress)
    told = {one["sha256"]: {"code": one["code"], "text": one["text"]} for one in result["trouble"]}
    for entry in (*document["photos"], *document["tracks"]):
        if entry["sha256"] in told:
            entry["trouble"].append(told[entry["sha256"]])
    return int(any(one["code"] != "kept-already" for one in result["trouble"]))


def plain_document(document: PlaceDocument) -> dict[str, Any]:
    """Return what the command line prints: the document in its published shape and nothing beside it."""
    return {
        "photos": document["photos"],
        "tracks": [{name: value for name, value in one.items() if name != "sha256"} for one in document["tracks"]],
        "clock": {name: document["clock"][name] for name in ("offset_s", "spread_s", "from")},
    }


def track_fields(data: bytes, name: str) -> dict[str, Any]:
    """Return the fields of a track's record, read from the bytes of its file; its place in the store is not among them.

    Raises: nothing for what is in the file: a track without points has None for its figures.
    """
    fields = _track_fields(read_file(name, None, data))
    del fields["sha256"]
    return fields


def _read_well(
    files: Sequence[ReadFile], entries: Sequence[dict[str, Any]]
) -> Iterator[tuple[ReadFile, dict[str, Any]]]:
    """Yield the files that are a photo, or a track with something in it, each set of bytes once."""
    seen: set[str] = set()
    for one, entry in zip(files, entries, strict=True):
        held = one.track
        is_good = one.facts is not None or (held is not None and bool(held.points or held.waypoints or held.routes))
        if one.sha256 is not None and one.sha256 not in seen and is_good:
            seen.add(one.sha256)
            yield one, entry


def _keep(one: ReadFile) -> str:
    if one.sha256 is not None and is_here(one.sha256):
        return one.sha256
    return keep_bytes(one.source) if isinstance(one.source, bytes) else keep_file(one.source)


def photo_fields(one: ReadFile, entry: Mapping[str, Any]) -> dict[str, Any]:
    """Return the fields of a photo's record: what was read from it and where it was placed."""
    assert one.facts is not None
    placed_by = PLACED_WORDS[entry["placed_by"]]
    taken_at = entry["taken_at"]
    place = {name: entry[name] if placed_by else None for name in ("lat", "lon", "accuracy_m")}
    return {
        "sha256": one.sha256,
        "media_type": one.facts.media_type,
        "size_bytes": one.size,
        "file_name": one_line(Path(one.name).name),
        "taken_at": None if taken_at is None else instant_text(datetime.fromisoformat(taken_at)),
        "taken_at_from": entry["taken_at_from"],
        **place,
        "height_m": entry["height_m"],
        "direction_deg": entry["direction_deg"],
        "orientation": entry["orientation"],
        "placed_by": placed_by,
        "trouble": entry["trouble"],
    }


def _track_fields(one: ReadFile) -> dict[str, Any]:
    read = one.track or Track()
    span, climb_m = track.time_span(read), track.climb_m(read)
    return {
        "sha256": one.sha256,
        "size_bytes": one.size,
        "file_name": one_line(Path(one.name).name),
        "name": None if read.name is None else one_line(read.name),
        "started_at": None if span is None else instant_text(span[0]),
        "ended_at": None if span is None else instant_text(span[1]),
        "points": read.points,
        "length_m": round(track.length_m(read), 3),
        "climb_m": None if climb_m is None else round(climb_m, 1),
        "bounds": track.bounds(read),
        # Segments follow one another in one line; the original keeps them apart.
        "line": [point for segment in track.thin_line(read) for point in segment],
        "trouble": [t.as_json() for t in one.troubles],
    }
