"""Turn the documents of the command line into lines for a person at a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from field.readers.trouble import REFUSED

Document = Mapping[str, Any]

NOTATION_TITLES = {
    "dms": "Degrees, minutes, seconds",
    "utm": "UTM",
    "mgrs": "MGRS",
    "gb_grid": "British National Grid",
    "irish_grid": "Irish Grid",
}
SUN_TITLES = {
    "sunrise": "Sunrise (UTC)",
    "solar_noon": "Solar noon (UTC)",
    "sunset": "Sunset (UTC)",
    "civil_dusk": "Civil dusk (UTC)",
}
# Of a file: it is neither a photo nor a track, and stands among the photos only because it has to stand somewhere.
NO_PHOTO = frozenset({"not-photo-or-track", "empty", "unreadable"})
NOT_KEPT = frozenset({"changed", "not-read"})  # of a file that was read and then could not be kept
ANSWER_WORDS = {"yes": "Yes.", "ask": "Ask first.", "no": "No."}


def tell_place(document: Document) -> Iterator[str]:
    """Yield a line for every file read, its troubles below it (with ! where something was refused), and the counts."""
    photos = [one for one in document["photos"] if not NO_PHOTO & _codes(one)]
    others = [one for one in document["photos"] if NO_PHOTO & _codes(one)]
    tracks = document["tracks"]
    for photo in photos:
        yield f"{_name(photo)}: {_place_words(photo)}"
        yield from _trouble_lines(photo)
    for track in tracks:
        yield f"{_name(track)}: {_track_words(track)}"
        yield from _trouble_lines(track)
    for other in others:
        yield f"{_name(other)}: not read"
        yield from _trouble_lines(other)
    if document["clock"].get("text"):
        by_hand = "The camera's clock: " if document["clock"]["from"] == "hand" else ""
        yield f"{by_hand}{document['clock']['text']}"
    yield from _place_counts(photos, tracks, others)


def _place_counts(photos: list[Document], tracks: list[Document], others: list[Document]) -> Iterator[str]:
    placed = sum(photo["placed_by"] is not None for photo in photos)
    walked = sum(_has_content(track) for track in tracks)
    counts = []
    if photos:
        counts.append(f"{placed} of {number(len(photos), 'photo')} placed")
    if tracks:
        counts.append(number(len(tracks), "track") if walked == len(tracks) else f"{walked} of {len(tracks)} tracks")
        counts[-1] += " read"
    if others:
        counts.append(f"{number(len(others), 'other file')} not read")
    yield "; ".join(counts) + "." if counts else "There is no file to read there."
    everything = [*photos, *tracks, *others]
    refused = sum(any(_is_refused(trouble) for trouble in one["trouble"]) for one in everything)
    if refused:
        yield f"Of {number(len(everything), 'file')}, {refused} had something that is not used: see the lines with !."


def number(count: int, word: str) -> str:
    """Return a count with its word: '1 track', '2 tracks'."""
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def _name(read: Document) -> str:
    # A file's name may hold anything, also the end of a line and another verdict behind it.
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in read["file"])


def _codes(read: Document) -> set[str]:
    return {trouble["code"] for trouble in read["trouble"]}


def _has_content(track: Document) -> bool:
    return bool(track["points"] or track["waypoints"] or track["routes"])


def _is_refused(trouble: Document) -> bool:
    return trouble["code"] in REFUSED or trouble["code"] in NOT_KEPT


def _track_words(track: Document) -> str:
    if not _has_content(track):
        return "no track"
    if not track["points"]:
        return f"{number(track['waypoints'], 'waypoint')} and {number(track['routes'], 'route')}, no track"
    length = "no length" if track["length_m"] is None else f"{track['length_m'] / 1000:.2f} km"
    return f"track of {number(track['points'], 'point')}, {length}, from {track['start'] or 'no time'}"


def _place_words(photo: Document) -> str:
    if photo["placed_by"] is None:
        return "no place"
    by = {"photo": "by its own position", "track": "by the track"}[photo["placed_by"]]
    how_sure = "" if photo["accuracy_m"] is None else f", within {photo['accuracy_m']:.0f} m"
    return f"{photo['lat']:.6f} {photo['lon']:.6f} {by}{how_sure}"


def _trouble_lines(read: Document) -> Iterator[str]:
    yield from (f"  {'!' if _is_refused(trouble) else ' '} {trouble['text']}" for trouble in read["trouble"])


def tell_may_i(document: Document) -> Iterator[str]:
    """Yield the answer with every reason, its cure and the terms to keep; for several cases one after another."""
    if "cases" in document:
        for case in document["cases"]:
            yield f"{case['name']}:"
            yield from (f"  {line}" for line in tell_may_i(case))
        return
    if "error" in document:
        yield " ".join(filter(None, (document["error"]["message"], document["error"]["cure"])))
        return
    yield ANSWER_WORDS[document["answer"]]
    for reason in document["reasons"]:
        yield "- " + " ".join(filter(None, (reason["text"], reason["cure"])))
    yield from (f"Keep: {condition}" for condition in document["keep"])
    yield document["caution"]


def tell_where(document: Document) -> Iterator[str]:
    """Yield a place in each notation and the times of the sun there; what does not apply is said so."""
    yield f"Position: {document['lat']:.6f}, {document['lon']:.6f}"
    for name, title in NOTATION_TITLES.items():
        yield f"{title}: {document[name] or _why_no_notation(name)}"
    for name, title in SUN_TITLES.items():
        yield f"{title}: {document['sun'][name] or 'does not happen on that day'}"
    yield "This is no navigation or rescue device."


def _why_no_notation(name: str) -> str:
    if name in ("utm", "mgrs"):
        return "does not apply near the poles, where UPS takes its place"
    return "does not apply there"


def tell_ok(document: Document) -> Iterator[str]:
    """Yield the verdict of a check and each of its counts or findings."""
    yield "All is well." if document["ok"] else "Something is not as it should be."
    for name, value in document.items():
        words = name.replace("_", " ")
        if isinstance(value, list):
            yield f"{words}: {len(value)}"
            yield from (f"    {_finding(entry)}" for entry in value)
        elif name != "ok":
            yield f"{words}: {value}"


def _finding(entry: object) -> str:
    """Return one finding in words: which it is, then why."""
    if not isinstance(entry, Mapping) or "why" not in entry:
        return str(entry)
    which = ", ".join(f"{name} {value}" for name, value in entry.items() if name != "why" and value is not None)
    return f"{which}: {entry['why']}"


def tell_backup(document: Document) -> Iterator[str]:
    """Yield where a backup is and what is in it; what of it was damaged before, one by one."""
    size = f"{document['size_bytes'] / 1e6:.1f} MB"
    yield f"Backed up to {document['file']} ({size}), and read again: it is whole."
    yield f"In it: {_contents(document)}."
    for name, title in (("photos_bad", "A damaged photo"), ("photos_missing", "A photo that is gone")):
        yield from (f"! {title}: {sha256}" for sha256 in document[name])
    yield from (f"! A damaged change: {bad['dev']} {bad['seq']}. {bad['why']}" for bad in document["changes_bad"])


def tell_restore(document: Document) -> Iterator[str]:
    """Yield what was put back and where the old things are; what was left out, one by one."""
    yield f"Put back into {document['data']}: {_contents(document)}, as of {_local_words(document['made_at'])}."
    if document["kept_as"] is not None:
        yield f"What stood there before is kept as {document['kept_as']}."
    if document["photos_missing"]:
        yield f"{number(len(document['photos_missing']), 'photo')} not in the backup: phones that have them send them."
    if document["forgotten_again"]:
        people = number(document["forgotten_again"], "landholder")
        yield f"{people} forgotten since then, here as well now. The backup still names them: it is yours to delete."
    yield from (f"! Left out: {bad['dev']} {bad['seq']}. {bad['why']}" for bad in document["changes_left_out"])
    yield "Start Fellside again; at its next sync each phone sends what the backup lacks."


def tell_copies(document: Document) -> Iterator[str]:
    """Yield what came of each copy: what was new, what was known, what could not be used."""
    for copy in document["copies"]:
        yield from tell_copy(copy)
    for refused in document["refused"]:
        error = refused["error"]
        yield "! " + " ".join(filter(None, (error["message"], error["cure"])))


def tell_copy(copy: Document) -> Iterator[str]:
    """Yield what came of one copy."""
    part = f", part {copy['part']} of {copy['parts']}" if (copy["parts"] or 1) > 1 else ""
    yield f"{_name(copy)}, kept {_local_words(copy['made_at'])}{part}:"
    yield f"  new: {number(copy['changes_new'], 'change')}, {number(copy['photos_new'], 'photo')}"
    yield f"  here already: {number(copy['changes_known'], 'change')}, {number(copy['photos_known'], 'photo')}"
    if copy["changes_anew"]:
        yield f"  {number(copy['changes_anew'], 'change')} under another name: the phone's own name was used twice."
    for entry in copy["changes_held"]:
        yield f"! Kept and not applied: {_finding(entry)}"
    for entry in copy["changes_bad"]:
        yield f"! Could not be used, a change: {_finding(entry)}"
    yield from (f"! Could not be used, a photo: {bad['sha256']}. {bad['why']}" for bad in copy["photos_bad"])
    if copy["photos_missing"]:
        yield f"  {number(copy['photos_missing'], 'photo')} of the log still missing: in another part, or on a phone."


def tell_moved(document: Document) -> Iterator[str]:
    """Yield what was moved, and what to set now."""
    yield f"Moved to {document['to']}: {_contents(document)}. All of it was read again and is the same."
    yield document["use"]
    yield f"{document['from']} is closed, and left as it was. Phones notice nothing."
    yield from (f"! Not on the disk, also before: {sha256}" for sha256 in document["photos_missing"])


def tell_undone(document: Document) -> Iterator[str]:
    """Yield which store was opened again."""
    yield f"Open again, as it was when the log was moved: {document['opened']}"
    yield f"What came into {document['moved_to']} since is not in it: phones send what they still have."


def _local_words(instant: object) -> str:
    """Return an instant as the clock on the wall here showed it."""
    try:
        return f"{datetime.fromisoformat(str(instant)).astimezone():%d %B %Y, %H:%M}".lstrip("0")
    except (ValueError, OverflowError):
        return "a time it does not tell"


def _contents(document: Document) -> str:
    counts = (("changes", "change"), ("photos", "photo, track or paper"), ("phones", "phone"))
    return ", ".join(_counted(document[name], word) for name, word in counts)


def _counted(count: int, word: str) -> str:
    return f"{count} photos, tracks and papers" if word.startswith("photo") and count != 1 else number(count, word)
