"""Load the invented scenario of `demo_sites/`: records through the one door, photos and tracks as real files."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import date, time, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from field.core.leave import compile_slips
from field.core.leave_letter import COLLECTOR_ID
from field.core.may_dig import may_dig
from field.core.weather_day import weather_day_id
from field.services.demo_ground import put_ground
from field.services.demo_site import DemoSite, instant, iso
from field.services.demo_walk import Stop, Walk, at_local, make_walk
from field.services.demo_weather import invent_days
from field.services.keep_blob import keep_bytes
from field.services.list_due import plan_all
from field.services.place_photos import track_fields
from field.services.write_changes import write_changes
from field.store.demo_pictures import Shot, draw_hole, draw_tree, write_photo, write_photo_with_zeros
from field.store.queries import list_records

LIFT_CLOCK = time(11, 30)
WALK_CLOCK = time(10, 0)
SLIPPED_LATELY = 3  # tasks
TOLD_LATELY_DAYS = 30
MOST_ROUNDS = 40
WEATHER_YEARS = 2  # before this one
COLLECTOR_FIELDS = ("name", "phone", "email", "address")
LOW_KINDS = {"hawthorn", "juniper", "blackthorn"}


def demo_folder() -> Path:
    """Return the folder of the demo's sites: beside the package in a checkout, inside it once installed."""
    inside = Path(__file__).resolve().parent.parent / "demo_sites"
    return inside if inside.is_dir() else inside.parent.parent / "demo_sites"


def _answer(at: DemoSite, tree: Mapping[str, Any], lifted_on: date) -> dict[str, Any]:
    """Return the answer as it stood before the spade went in, with its input, for the lift's own record."""
    plan = tree["lift"]
    earlier = at.put_so_far("lift")
    if plan.get("apart"):  # two phones on the hill that day, neither of which had heard of the other's lift
        earlier = [lift for lift in earlier if lift["lifted_on"] != lifted_on.isoformat()]
    (site,) = at.put_so_far("site")
    consents = [one for one in at.put_so_far("consent") if at.known_on.get(one["id"], lifted_on) <= lifted_on]
    slips = compile_slips(site, consents, at.put_so_far("leave"), earlier, at.put_so_far("landholder"))
    lat, lon = tree["at"]
    case = {
        "here": {"lat": lat, "lon": lon, "accuracy_m": plan["accuracy_m"]},
        "on": lifted_on.isoformat(),
        "zone": slips["zone"],
        "species": tree["species"],
        "girth_mm": tree["girth_mm"],
        "machine": plan["machine"],
        "depth_mm": plan["ball_depth_mm"],
        "synced_days_ago": 1 if plan.get("apart") else 0,
        "paired_phones": 2,
        "site": slips["site"],
        "leaves": slips["leaves"],
    }
    return {
        "verdict": may_dig(case),
        "input": case,
        "asked_at": instant(at_local(lifted_on, LIFT_CLOCK, at.zone) - timedelta(minutes=10)),
    }


def _lift(at: DemoSite, tree: Mapping[str, Any]) -> None:
    tag, plan = tree["tag"], tree["lift"]
    lifted_on = at.day(plan["on"])
    assert lifted_on is not None
    lat, lon = tree["at"]
    answer = _answer(at, tree, lifted_on)
    leave = next(leave for leave in at.plan["leaves"] if leave["key"] == plan["leave"])
    terms = list(answer["verdict"]["keep"]) or leave["conditions"]
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
            "kept_conditions": [term for term in terms if term not in plan.get("not_ticked", ())],
            "answer": answer,
            "note": plan.get("note"),
        },
    )
    if plan.get("hole_photo"):
        _hole_photo(at, tree, lifted_on)


def _hole_photo(at: DemoSite, tree: Mapping[str, Any], lifted_on: date) -> None:
    """Put in the picture of the filled hole, taken an hour after the lift."""
    lat, lon = tree["at"]
    taken_at = at_local(lifted_on, LIFT_CLOCK, at.zone) + timedelta(hours=1)
    local = taken_at.astimezone(ZoneInfo(at.zone)).utcoffset() or timedelta(0)
    shot = Shot(taken_at=taken_at, zone_offset=local, local_offset=local, lat=lat, lon=lon, accuracy_m=6.0)
    photo = write_photo(draw_hole(f"{tree['tag']}:{lifted_on}"), shot)
    at.photos += 1
    at.put(
        "photo",
        {
            "tree": at.trees[tree["tag"]],
            "site": at.site,
            "sha256": keep_bytes(photo),
            "media_type": "image/jpeg",
            "size_bytes": len(photo),
            "file_name": f"{tree['tag'].lower()}_hole_{lifted_on}.jpg",
            "taken_at": instant(taken_at),
            "taken_at_from": "gps",
            "lat": lat,
            "lon": lon,
            "accuracy_m": 6.0,
            "orientation": 1,
            "placed_by": "exif",
            "shows": "hole",
        },
    )


def _after(at: DemoSite, tree: Mapping[str, Any]) -> None:
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


def _trees(at: DemoSite) -> None:
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


def _shot(at: DemoSite, stop: Stop, seconds: int, *, placed: bool, wrong_s: float = 0.0) -> Shot:
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


def _walk(at: DemoSite, name: str, day: date, tags: Sequence[str]) -> Walk:
    by_tag = {tree["tag"]: tree for tree in at.plan["trees"]}
    start = at_local(day, WALK_CLOCK, at.zone)
    return make_walk(name, at.plan["gate"], [by_tag[tag] for tag in tags], start, at.plan["site"]["height_m"])


def _walks(at: DemoSite) -> None:
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


def _to_take_in(at: DemoSite, folder: Path) -> None:
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
    """Tick what the partnership did over the years, all but the few that slipped lately; return how many.

    What has to be told to a landholder of the last weeks is left for whoever looks at the demo.
    """
    ticked = 0
    lately = (today - timedelta(days=TOLD_LATELY_DAYS)).isoformat()
    slipped: set[object] | None = None
    # A ticked check may call for the next one, so the planning is asked until nothing old is left open.
    for _ in range(MOST_ROUNDS):
        settled = {state["id"] for state in list_records("task_state")}
        old = [
            task
            for task in plan_all(today)
            if task["rec"] not in settled
            and str(task["by"]) < (today.isoformat() if task["tree"] else lately)
            and task["id"] not in (slipped or ())
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
                {
                    "task": task["id"],
                    "tree": task["tree"],
                    "site": None if task["tree"] else task["site"],
                    "state": "done",
                    "settled_on": task["by"],
                },
            )
            for task in old
        )
        ticked += len(old)
    return ticked


def _garden(plan: Mapping[str, Any], today: date) -> int:
    """Put the garden in, with its weather of this year and the two before; return how many changes that are."""
    (garden,) = write_changes([("garden", None, dict(plan))])
    days = list(invent_days(date(today.year - WEATHER_YEARS, 1, 1), today - timedelta(days=1)))
    write_changes(
        (
            "weather_day",
            weather_day_id(garden, day.on.isoformat()),
            {"site": garden, "day_on": iso(day.on), "tmin_c": day.tmin_c, "tmax_c": day.tmax_c, "how": "typed"},
        )
        for day in days
    )
    return 1 + len(days)


def load_demo(today: date, take_in_folder: Path | None = None) -> dict[str, int]:
    """Write every demo site into the store; call it inside an app context, on an empty data folder.

    Args:
        today: the day that all days of the scenario are told from.
        take_in_folder: where to lay the camera card and track that are still to be taken in; None: not laid.
    Returns: counts of what was written: {'sites', 'trees', 'photos', 'changes'}.
    """
    collector = json.loads((demo_folder() / "collector.json").read_text(encoding="utf-8"))
    write_changes([("collector", COLLECTOR_ID, {name: collector[name] for name in COLLECTOR_FIELDS})])
    counts = {"sites": 0, "trees": 0, "photos": 0, "changes": 1 + _garden(collector["garden"], today)}
    for path in sorted(demo_folder().glob("*/site.json")):
        at = DemoSite(json.loads(path.read_text(encoding="utf-8")), today, collector)
        put_ground(at)
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
