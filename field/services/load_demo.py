"""Load the invented scenario of `demo_sites/`: records through the one door, photos and tracks as real files."""

from __future__ import annotations

import json
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from field.core.leave import compile_slips
from field.core.may_dig import may_dig
from field.services.demo_walk import Stop, Walk, at_local, make_walk, read_day
from field.services.keep_blob import keep_bytes
from field.services.list_due import plan_all
from field.services.place_photos import track_fields
from field.services.write_changes import write_changes
from field.store.demo_pictures import Shot, draw_tree, write_photo, write_photo_with_zeros
from field.store.queries import list_records

LIFT_CLOCK = time(11, 30)
WALK_CLOCK = time(10, 0)
SLIPPED_LATELY = 4  # tasks
MOST_ROUNDS = 40
LOW_KINDS = {"hawthorn", "juniper", "blackthorn"}

Row = tuple[str, str, dict[str, Any]]


def demo_folder() -> Path:
    """Return the folder of the demo's sites: beside the package in a checkout, inside it once installed."""
    inside = Path(__file__).resolve().parent.parent / "demo_sites"
    return inside if inside.is_dir() else inside.parent.parent / "demo_sites"


def new_id() -> str:
    return str(uuid.uuid4())


def instant(at: datetime) -> str:
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.") + f"{at.microsecond // 1000:03d}Z"


def iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


@dataclass(slots=True)
class _Site:
    """One site while it is being loaded: its plan, what its keys became, and the rows to write."""

    plan: Mapping[str, Any]
    today: date
    site: str = field(default_factory=new_id)
    leaves: dict[str, str] = field(default_factory=dict)
    trees: dict[str, str] = field(default_factory=dict)
    lifted_on: dict[str, date] = field(default_factory=dict)
    rows: list[Row] = field(default_factory=list)
    photos: int = 0

    @property
    def zone(self) -> str:
        return str(self.plan["site"]["zone"])

    def day(self, text: str | None, tag: str | None = None) -> date | None:
        return read_day(text, self.today, self.lifted_on.get(tag or ""))

    def past(self, text: str, tag: str | None = None) -> date | None:
        """Return the day, or None where it lies ahead: it has not happened yet."""
        day = self.day(text, tag)
        return day if day is not None and day <= self.today else None

    def put(self, kind: str, fields: dict[str, Any], rec: str | None = None) -> str:
        rec = rec or new_id()
        self.rows.append((kind, rec, fields))
        return rec


def _ground(at: _Site) -> None:
    plan = at.plan["site"]
    at.put(
        "site",
        {
            "name": plan["name"],
            "zone": plan["zone"],
            "boundary": plan["boundary"],
            "height_m": plan["height_m"],
            "protected": plan["protected"],
            "services_checked_on": iso(at.day(plan["services_checked"])),
            "note": plan["note"],
        },
        at.site,
    )
    landholder = at.put("landholder", dict(at.plan["landholder"]))
    for leave in at.plan["leaves"]:
        at.leaves[leave["key"]] = at.put(
            "leave",
            {
                "site": at.site,
                "landholder": landholder,
                "area": None,
                "starts_on": iso(at.day(leave["starts"])),
                "ends_on": iso(at.day(leave["ends"])),
                "withdrawn_on": iso(at.day(leave.get("withdrawn"))),
                "species": leave.get("species"),
                "max_girth_mm": leave.get("max_girth_mm"),
                "allowance": leave.get("allowance"),
                "form": leave["form"],
                "entitled": leave["entitled"],
                "conditions": leave["conditions"],
                "signed_by": leave.get("signed_by"),
                "note": leave.get("note"),
            },
        )
    for consent in at.plan["consents"]:
        at.put(
            "consent",
            {
                "site": at.site,
                "kind": consent["kind"],
                "state": consent["state"],
                "until": iso(at.day(consent.get("until"))),
                "reference": consent.get("reference"),
                "note": consent.get("note"),
            },
        )


def _answer(at: _Site, tree: Mapping[str, Any], lifted_on: date) -> dict[str, Any]:
    """Return the answer as it stood before the spade went in, with its input, for the lift's own record."""
    earlier = [fields for kind, _, fields in at.rows if kind == "lift"]
    site = next({"id": rec, **fields} for kind, rec, fields in at.rows if kind == "site")
    consents = [{"id": rec, **fields} for kind, rec, fields in at.rows if kind == "consent"]
    leaves = [{"id": rec, **fields} for kind, rec, fields in at.rows if kind == "leave"]
    landholders = [{"id": rec, **fields} for kind, rec, fields in at.rows if kind == "landholder"]
    slips = compile_slips(site, consents, leaves, earlier, landholders)
    lat, lon = tree["at"]
    case = {
        "here": {"lat": lat, "lon": lon, "accuracy_m": tree["lift"]["accuracy_m"]},
        "on": lifted_on.isoformat(),
        "zone": slips["zone"],
        "species": tree["species"],
        "girth_mm": tree["girth_mm"],
        "machine": tree["lift"]["machine"],
        "depth_mm": tree["lift"]["ball_depth_mm"],
        "synced_days_ago": 0,
        "paired_phones": 2,
        "site": slips["site"],
        "leaves": slips["leaves"],
    }
    return {
        "verdict": may_dig(case),
        "input": case,
        "asked_at": instant(at_local(lifted_on, LIFT_CLOCK, at.zone) - timedelta(minutes=10)),
    }


def _lift(at: _Site, tree: Mapping[str, Any]) -> None:
    tag, plan = tree["tag"], tree["lift"]
    lifted_on = at.day(plan["on"])
    assert lifted_on is not None
    lat, lon = tree["at"]
    leave = next(leave for leave in at.plan["leaves"] if leave["key"] == plan["leave"])
    at.put(
        "lift",
        {
            "tree": at.trees[tag],
            "site": at.site,
            "leave": at.leaves[plan["leave"]],
            "lifted_at": instant(at_local(lifted_on, LIFT_CLOCK, at.zone)),
            "lifted_on": iso(lifted_on),
            "zone": at.zone,
            "lat": lat,
            "lon": lon,
            "accuracy_m": plan["accuracy_m"],
            "girth_mm": tree["girth_mm"],
            "ball_diameter_mm": plan["ball_diameter_mm"],
            "ball_depth_mm": plan["ball_depth_mm"],
            "roots_kept": plan["roots_kept"],
            "machine": plan["machine"],
            "hole_filled": True,
            "kept_conditions": leave["conditions"],
            "answer": _answer(at, tree, lifted_on),
            "note": plan.get("note"),
        },
    )


def _after(at: _Site, tree: Mapping[str, Any]) -> None:
    """Put what happened to a tree since: box, events, works. What lies ahead is left out."""
    tag, rec = tree["tag"], at.trees[tree["tag"]]
    box = tree.get("box")
    if box and (boxed_on := at.past(box["boxed"], tag)):
        names = ("form", "length_mm", "width_mm", "height_mm", "volume_l", "mix")
        at.put("box", {"tree": rec, "boxed_on": iso(boxed_on), **{name: box[name] for name in names}})
    for kind, text in tree.get("events", ()):
        if happened_on := at.past(text, tag):
            at.put("event", {"tree": rec, "kind": kind, "happened_on": iso(happened_on)})
    for kind, text, hours, note in tree.get("works", ()):
        if done_on := at.past(text, tag):
            at.put("work", {"tree": rec, "kind": kind, "done_on": iso(done_on), "hours": hours, "note": note})


def _trees(at: _Site) -> None:
    for tree in at.plan["trees"]:
        tag = tree["tag"]
        if "lift" in tree:
            lifted_on = at.day(tree["lift"]["on"])
            assert lifted_on is not None
            at.lifted_on[tag] = lifted_on
        ended_as, ended_on = None, None
        if "ended" in tree and (day := at.past(tree["ended"][1], tag)):
            ended_as, ended_on = tree["ended"][0], day
        marked_on = at.day(tree["marked"], tag)
        assert marked_on is not None
        at.trees[tag] = at.put(
            "tree",
            {
                "site": at.site,
                "tag": tag,
                "species": tree["species"],
                "origin": "lifted",
                "girth_mm": tree["girth_mm"],
                "height_mm": tree["height_mm"],
                "condition": tree["condition"],
                "marked_on": iso(marked_on),
                "ended_as": ended_as,
                "ended_on": iso(ended_on),
                "note": tree.get("note"),
            },
        )
        at.put(
            "fix",
            {
                "tree": at.trees[tag],
                "lat": tree["at"][0],
                "lon": tree["at"][1],
                "accuracy_m": 4.0 + len(tag),
                "fixed_at": instant(at_local(marked_on, WALK_CLOCK, at.zone)),
                "source": "web-geolocation",
            },
        )
    # Lifts in the order they were done: each answer counts the lifts before it.
    for tree in sorted((t for t in at.plan["trees"] if "lift" in t), key=lambda t: at.lifted_on[t["tag"]]):
        _lift(at, tree)
    for tree in at.plan["trees"]:
        _after(at, tree)


def _shot(at: _Site, stop: Stop, seconds: int, *, placed: bool, wrong_s: float = 0.0) -> Shot:
    taken_at = stop.from_at + timedelta(seconds=seconds)
    local = taken_at.astimezone(ZoneInfo(at.zone)).utcoffset() or timedelta(0)
    return Shot(
        taken_at=taken_at,
        zone_offset=local if placed else None,
        local_offset=local,
        clock_wrong_s=wrong_s,
        lat=stop.lat if placed else None,
        lon=stop.lon if placed else None,
        accuracy_m=5.0 if placed else None,
        height_m=float(at.plan["site"]["height_m"]),
        direction_deg=(sum(map(ord, stop.tag)) * 37) % 360 if placed else None,
    )


def _walk(at: _Site, name: str, day: date, tags: Sequence[str]) -> Walk:
    by_tag = {tree["tag"]: tree for tree in at.plan["trees"]}
    start = at_local(day, WALK_CLOCK, at.zone)
    return make_walk(name, at.plan["gate"], [by_tag[tag] for tag in tags], start, at.plan["site"]["height_m"])


def _walks(at: _Site) -> None:
    kinds = {tree["tag"]: tree["species"] for tree in at.plan["trees"]}
    for plan in at.plan["walks"]:
        day = at.day(plan["on"])
        assert day is not None
        visit = at.put("visit", {"site": at.site, "visited_on": iso(day), "zone": at.zone})
        name = f"{at.plan['site']['name']}, {day:%d %B %Y}"
        walk = _walk(at, name, day, plan["photos_of"])
        data = walk.gpx.to_xml().encode()
        at.put(
            "track",
            {**track_fields(data, f"walk_{day}.gpx"), "sha256": keep_bytes(data), "visit": visit, "site": at.site},
        )
        for stop in walk.stops:
            shot = _shot(at, stop, 60, placed=True)
            picture = draw_tree(f"{stop.tag}:{day}", kinds[stop.tag], low=kinds[stop.tag] in LOW_KINDS)
            photo = write_photo(picture, shot)
            at.photos += 1
            at.put(
                "photo",
                {
                    "tree": at.trees[stop.tag],
                    "site": at.site,
                    "visit": visit,
                    "sha256": keep_bytes(photo),
                    "media_type": "image/jpeg",
                    "size_bytes": len(photo),
                    "file_name": f"{stop.tag.lower()}_{day}.jpg",
                    "taken_at": instant(shot.taken_at),
                    "taken_at_from": "gps",
                    "lat": stop.lat,
                    "lon": stop.lon,
                    "accuracy_m": 5.0,
                    "height_m": shot.height_m,
                    "direction_deg": shot.direction_deg,
                    "orientation": 1,
                    "placed_by": "exif",
                },
            )


def _to_take_in(at: _Site, folder: Path) -> None:
    """Write yesterday's camera card: photos with, without and with a hidden position, and the track of the walk."""
    plan = at.plan["to_take_in"]
    day = at.day(plan["on"])
    assert day is not None
    kinds = {tree["tag"]: tree["species"] for tree in at.plan["trees"]}
    tags = list(dict.fromkeys(photo["of"] for photo in plan["photos"]))
    walk = _walk(at, f"{at.plan['site']['name']}, {day:%d %B %Y}", day, tags)
    stops = {stop.tag: stop for stop in walk.stops}
    folder.mkdir(parents=True, exist_ok=True)
    (folder / plan["track"]).write_text(walk.gpx.to_xml(), encoding="utf-8")
    taken: dict[str, int] = {}
    for number, photo in enumerate(plan["photos"]):
        tag = photo["of"]
        taken[tag] = taken.get(tag, 0) + 50
        own = photo["position"] == "own"
        shot = _shot(at, stops[tag], taken[tag], placed=own, wrong_s=plan["clock_wrong_s"])
        picture = draw_tree(f"{tag}:{day}:{number}", kinds[tag], low=kinds[tag] in LOW_KINDS)
        write = write_photo_with_zeros if photo["position"] == "zero" else write_photo
        (folder / photo["name"]).write_bytes(write(picture, shot))


def _settle_old_tasks(today: date) -> int:
    """Tick what the partnership did over the years, all but the few that slipped lately; return how many."""
    ticked = 0
    slipped: set[object] | None = None
    # A ticked check may call for the next one, so the planning is asked until nothing old is left open.
    for _ in range(MOST_ROUNDS):
        settled = {state["id"] for state in list_records("task_state")}
        old = [
            task
            for task in plan_all(today)
            if task["rec"] not in settled and str(task["by"]) < today.isoformat() and task["id"] not in (slipped or ())
        ]
        if slipped is None:
            old.sort(key=lambda task: (str(task["by"]), str(task["text"]), str(task["tree"])))
            slipped = {task["id"] for task in old[-SLIPPED_LATELY:]}
            old = old[:-SLIPPED_LATELY]
        if not old:
            break
        write_changes(
            (
                "task_state",
                str(task["rec"]),
                {"task": task["id"], "tree": task["tree"], "state": "done", "settled_on": task["by"]},
            )
            for task in old
        )
        ticked += len(old)
    return ticked


def load_demo(today: date, take_in_folder: Path | None = None) -> dict[str, int]:
    """Write every demo site into the store; call it inside an app context, on an empty data folder.

    Args:
        today: the day that all days of the scenario are told from.
        take_in_folder: where to lay the camera card and track that are still to be taken in; None: not laid.
    Returns: counts of what was written: {'sites', 'trees', 'photos', 'changes'}.
    """
    counts = {"sites": 0, "trees": 0, "photos": 0, "changes": 0}
    for path in sorted(demo_folder().glob("*/site.json")):
        at = _Site(json.loads(path.read_text(encoding="utf-8")), today)
        _ground(at)
        _trees(at)
        _walks(at)
        write_changes(at.rows)
        counts["sites"] += 1
        counts["trees"] += len(at.trees)
        counts["photos"] += at.photos
        counts["changes"] += len(at.rows)
        if take_in_folder is not None and "to_take_in" in at.plan:
            _to_take_in(at, take_in_folder)
    counts["changes"] += _settle_old_tasks(today)
    return counts
