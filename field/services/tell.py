"""Turn the documents of the command line into lines for a person at a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

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
ANSWER_WORDS = {"yes": "Yes.", "ask": "Ask first.", "no": "No."}


def tell_place(document: Document) -> Iterator[str]:
    """Yield a line for every photo and track read, its troubles below it, and what is known of the camera's clock."""
    for photo in document["photos"]:
        yield f"{photo['file']}: {_place_words(photo)}"
        yield from _trouble_lines(photo)
    for track in document["tracks"]:
        length = "no length" if track["length_m"] is None else f"{track['length_m'] / 1000:.2f} km"
        yield f"{track['file']}: track of {track['points']} points, {length}, from {track['start'] or 'no time'}"
        yield from _trouble_lines(track)
    if document["clock"].get("text"):
        yield document["clock"]["text"]
    photos = document["photos"]
    placed = sum(photo["placed_by"] is not None for photo in photos)
    yield f"{placed} of {len(photos)} photos placed; {len(document['tracks'])} tracks read."


def _place_words(photo: Document) -> str:
    if photo["placed_by"] is None:
        return "no place"
    by = {"photo": "by its own position", "track": "by the track"}[photo["placed_by"]]
    how_sure = "" if photo["accuracy_m"] is None else f", within {photo['accuracy_m']:.0f} m"
    return f"{photo['lat']:.6f} {photo['lon']:.6f} {by}{how_sure}"


def _trouble_lines(read: Document) -> Iterator[str]:
    yield from (f"    {trouble['text']}" for trouble in read["trouble"])


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


def tell_due(document: Document, names: Mapping[str, str]) -> Iterator[str]:
    """Yield a line for every task, or one that says that nothing is due.

    Args:
        names: what to call each tree, by its id.
    """
    for task in document["tasks"]:
        who = names.get(task["tree"]) or "a tree without a tag"
        until = "" if task["by"] is None else f" to {task['by']}"
        moved = "" if task["moved_from"] is None else f" (moved from {task['moved_from']})"
        yield f"{task['from']}{until}  {who}: {task['text']}{moved}"
    if not document["tasks"]:
        yield "Nothing is due."


def tell_ok(document: Document) -> Iterator[str]:
    """Yield the verdict of a check and each of its counts or findings."""
    yield "All is well." if document["ok"] else "Something is not as it should be."
    for name, value in document.items():
        words = name.replace("_", " ")
        if isinstance(value, list):
            yield f"{words}: {len(value)}"
            yield from (f"    {entry}" for entry in value)
        elif name != "ok":
            yield f"{words}: {value}"
