"""Intake: files that were sent up are read and looked over; what a person accepts is kept with its tree."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from typing import Any

from field.core.errors import BadInput, NotFound
from field.core.fix import average_fixes
from field.readers.track import Track, thin_line
from field.services import keep_blob, place_photos
from field.services.camera_clock import ClockReading, read_shown_time
from field.services.read_files import Source
from field.services.write_changes import Change, write_changes
from field.store import queries

MOST_FILES = 10_000  # in one call: a season's camera cards and its walks; with names of usual length well below 4 MiB
MOST_DRAWN = 800  # points of a walk in a small drawing

Blob = tuple[str, str, Source]


def read(body: Mapping[str, Any]) -> dict[str, Any]:
    """Read files that are here and say where each photo was taken; no record is written.

    Args:
        body: {"files": [{"sha256", "name"}], "clock_offset_s": seconds or None, "zone": IANA name or None,
            "clock_photo": {"sha256", "shown", "zone"} or None}. clock_photo: one of the files shows a clock, and what
            that clock showed, as `camera_clock.read_shown_time` takes it; goes before clock_offset_s.
    Returns: the document of the verb `place`; each photo with "near": [{"tree", "tag", "species", "distance_m"}] and
        "camera_at" (what its camera's clock showed), each track with "line" ([[lon, lat], ...], for a drawing), each
        file with "known" (the same bytes are a record already) and "kept" ({"rec", "tree"} of that record, or None),
        and "trouble": [{"sha256", "file", "code", "text"}] of those that are not here.
    Raises: BadInput when the body is none of this.
    """
    blobs, away = _find_blobs(_list(body, "files"), "files")
    document, _ = place_photos.read_blobs(blobs, *_clock(body), reading=_reading(body))
    for record_type, entries in (("photo", document["photos"]), ("track", document["tracks"])):
        kept = {record["sha256"]: record for record in queries.list_records(record_type)}
        for entry in entries:
            record = kept.get(entry["sha256"])
            entry["known"] = record is not None
            entry["kept"] = None if record is None else {"rec": record["id"], "tree": record.get("tree")}
    for entry, one in zip(document["photos"], document.photo_files, strict=True):
        camera_at = None if one.facts is None else one.facts.camera_at
        entry["camera_at"] = None if camera_at is None else camera_at.replace(microsecond=0).isoformat()
    for entry, one in zip(document["tracks"], document.track_files, strict=True):
        entry["line"] = [] if one.track is None else _drawn(one.track)
    for photo, plan in zip(document["photos"], place_photos.plan_placed(document, _placed_trees()), strict=True):
        photo["near"] = plan["near"]
    return {**document, "trouble": away}


def save(body: Mapping[str, Any]) -> dict[str, Any]:
    """Read files once more and keep those that a person accepted, all records or none.

    Args:
        body: {"photos": [{"sha256", "name", "tree": id or None, "site": id or None}], "tracks": [{"sha256", "name"}],
            "clock_offset_s", "zone", "clock_photo", "files": [{"sha256", "name"}]}. A photo may have "place": {"lat",
            "lon", "accuracy_m"}, where a person moved it. files: what else was looked over together; the camera's
            clock is found from the same photos again, so that what is kept is what was shown.
    Returns: {"saved": [{"sha256", "rec", "type"}], "trouble": [{"sha256", "file", "code", "text"}]}.
    Raises: BadInput when the body is none of this, or a record could not be written: then none is.
    """
    photos, tracks = _list(body, "photos"), _list(body, "tracks")
    photo_blobs, photos_away = _find_blobs(photos, "photos")
    track_blobs, tracks_away = _find_blobs(tracks, "tracks")
    for at, photo in enumerate(photos):
        for name in ("tree", "site"):
            if photo.get(name) is not None and not isinstance(photo[name], str):
                raise _bad(f"A photo's {name} is not the id of one.", f"photos[{at}].{name}")
    # Tracks and photos are read together: a photo without a position takes its place from the track.
    beside, _ = _find_blobs(_list(body, "files") if body.get("files") is not None else [], "files")
    together = {sha256: (name, sha256, path) for name, sha256, path in (*beside, *photo_blobs, *track_blobs)}
    document, _ = place_photos.read_blobs(list(together.values()), *_clock(body), reading=_reading(body))
    away = {one["sha256"] for one in (*photos_away, *tracks_away)}
    wanted = {
        "photos": [photo for photo in photos if photo["sha256"] not in away],
        "tracks": [track for track in tracks if track["sha256"] not in away],
    }
    result = place_photos.save_placed(document, wanted)
    return {"saved": result["saved"], "trouble": [*result["trouble"], *photos_away, *tracks_away]}


def undo(body: Mapping[str, Any]) -> dict[str, Any]:
    """Take one intake back: the records it made are deleted, all or none; the files stay where they are.

    Args:
        body: {"saved": [{"rec", "type"}]}, as `save` gave it.
    Returns: {"deleted": how many}; those that are deleted already are passed over.
    Raises: BadInput when the body is none of this.
    """
    saved = _list(body, "saved")
    here = {kind: {record["id"] for record in queries.list_records(kind)} for kind in ("photo", "track")}
    changes: list[Change] = []
    for at, one in enumerate(saved):
        rec, record_type = one.get("rec"), one.get("type")
        if not isinstance(rec, str) or record_type not in ("photo", "track"):
            raise _bad(
                "A record to take back is told by its name and whether it is a photo or a track.", f"saved[{at}]"
            )
        if rec in here[record_type]:
            here[record_type].remove(rec)  # told twice, it is deleted once
            changes.append((record_type, rec, {"deleted": True}))
    if changes:
        write_changes(changes)
    return {"deleted": len(changes)}


def _drawn(track: Track) -> list[list[float]]:
    """Return the thinned line of a track with few enough points for a small drawing."""
    line = [[point[0], point[1]] for segment in thin_line(track) for point in segment]
    return line[:: max(1, math.ceil(len(line) / MOST_DRAWN))]


def _find_blobs(files: list[dict[str, Any]], where: str) -> tuple[list[Blob], list[dict[str, Any]]]:
    """Return the files that are here, and a trouble for each that is not."""
    found: list[Blob] = []
    away: list[dict[str, Any]] = []
    for at, file in enumerate(files):
        sha256, name = file.get("sha256"), file.get("name")
        if not isinstance(sha256, str) or not isinstance(name, str):
            raise _bad("A file is told by its hash and its name.", f"{where}[{at}]")
        try:
            found.append((name, sha256, keep_blob.open_blob(sha256).path))
        except NotFound as missing:
            away.append({"sha256": sha256, "file": name, "code": missing.code, "text": missing.message})
    return found, away


def _placed_trees() -> list[dict[str, Any]]:
    """Return the trees with their positions, several fixes made one."""
    fixes_of: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for fix in queries.list_records("fix"):
        if fix["lat"] is not None and fix["lon"] is not None:
            fixes_of[fix["tree"]].append(fix)
    placed = []
    for tree in queries.list_records("tree"):
        if fixes := fixes_of.get(tree["id"]):
            mean = average_fixes(fixes)
            placed.append({**tree, "lat": mean.lat, "lon": mean.lon, "accuracy_m": mean.accuracy_m})
    return placed


def _clock(body: Mapping[str, Any]) -> tuple[float | None, str | None]:
    offset_s, zone = body.get("clock_offset_s"), body.get("zone")
    if offset_s is not None and (isinstance(offset_s, bool) or not isinstance(offset_s, int | float)):
        raise _bad("The clock offset is not a number of seconds.", "clock_offset_s")
    if zone is not None and not isinstance(zone, str):
        raise _bad("The zone is not a name.", "zone")
    return offset_s, zone


def _reading(body: Mapping[str, Any]) -> ClockReading | None:
    told = body.get("clock_photo")
    if told is None:
        return None
    if not isinstance(told, Mapping):
        raise _bad("The photo of a clock is told by its hash, what the clock showed, and its zone.", "clock_photo")
    return read_shown_time(told.get("sha256"), told.get("shown"), told.get("zone"))


def _list(body: Mapping[str, Any], name: str) -> list[dict[str, Any]]:
    got = body.get(name)
    if not isinstance(got, list) or not all(isinstance(one, dict) for one in got):
        raise _bad(f"The {name} are not a list of files.", name)
    if len(got) > MOST_FILES:
        raise _bad(f"There are more than {MOST_FILES} {name} at once.", name)
    return got


def _bad(sentence: str, where: str) -> BadInput:
    return BadInput(sentence, None, where, code="bad-request")
