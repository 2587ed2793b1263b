"""Made questions to May I?: random leaves, terms, dates, ground and positions, all from one seeded generator.

Ground has holes and several parts, lies across the 180th meridian and near both poles; positions lie in it, out of it
and on its very line; much is not told; some of it is nonsense.
"""

from __future__ import annotations

import copy
import math
import random
from itertools import pairwise
from typing import Any

M_PER_DEGREE = 111_320.0  # near enough for laying out ground; nothing is measured by it
MIDDLES = [
    (55.4, -3.4), (0.0, 0.0), (-41.2, 174.1), (23.0, 100.0), (69.9, 25.0), (-16.5, 180.0), (52.0, -180.0),
    (84.0, 179.995), (89.9, 12.0), (-89.95, -100.0), (89.99, -180.0),
]  # fmt: skip
ZONES = ["Europe/London", "America/Vancouver", "Pacific/Kiritimati", "Pacific/Pago_Pago", "Asia/Kathmandu",
         "Australia/Lord_Howe", "America/Santiago", "Africa/Casablanca", "UTC"]  # fmt: skip
DAYS = ["2027-02-12", "2027-02-13", "2027-02-14", "2027-02-15", "2027-02-17", "2027-02-18", "2027-03-31", "2026-11-01"]
INSTANTS = [
    "2027-02-14T00:00:00Z", "2027-02-13T23:59:59.999Z", "2027-02-14T12:00Z", "2027-02-14T10:00:00+14:00",
    "2027-02-14T23:30:00-00:30", "2027-03-28T00:59:59Z", "2027-03-28T01:00:00Z", "2027-02-13T18:15:00Z",
]  # fmt: skip
KINDS = ["hawthorn", "Hawthorn ", "larch", "scots-pine", "", "\u00c9rable", "e\u0301rable"]
JUNK = [None, "", " ", "x", 0, -1, 1.5, True, False, [], {}, [None], ["x", 3], "2027-02-30", "2027-02-14", 1e301, 2**53,
        {"type": "Polygon"}, {"type": "Polygon", "coordinates": []}, {"type": "MultiPolygon", "coordinates": [[]]},
        {"type": "Point", "coordinates": [0, 0]}, [[0, 0], [1, 1]]]  # fmt: skip


Ring = list[list[float]]  # [lon, lat], first equal to last


def wrapped(lon: float) -> float:
    return (lon + 180.0) % 360.0 - 180.0


def a_ring(rng: random.Random, lat: float, lon: float, size_m: float) -> Ring:
    """A star-shaped ring around a middle, its longitudes running on; flat at the pole if it reaches so far."""
    tall = size_m / M_PER_DEGREE
    wide = min(80.0, tall / max(1e-9, math.cos(math.radians(lat))))
    corners = rng.randint(3, 8)
    ring = []
    for i in range(corners):
        turn = 2 * math.pi * (i + rng.uniform(0, 0.8)) / corners
        out = rng.uniform(0.4, 1.0)
        ring.append([lon + wide * out * math.cos(turn), max(-90.0, min(90.0, lat + tall * out * math.sin(turn)))])
    return [*ring, ring[0]]


def told(ring: Ring, rng: random.Random) -> Ring:
    """A ring as it may be written down: jumping over the 180th meridian, or running on past it."""
    lons = [lon for lon, _ in ring]
    crosses = min(lons) <= 180.0 <= max(lons) or min(lons) <= -180.0 <= max(lons)
    if crosses and rng.random() < 0.5:
        return ring
    return [[wrapped(lon), lat] for lon, lat in ring]


def an_area(
    rng: random.Random, lat: float, lon: float, size_m: float
) -> tuple[dict[str, Any], list[list[list[float]]]]:
    """An area as GeoJSON, and its rings with longitudes that run on."""
    if lon in (180.0, -180.0) and rng.random() < 0.3:
        tall = size_m / M_PER_DEGREE
        south, north = max(-90.0, lat - tall), min(90.0, lat + tall)
        wide = min(40.0, tall / max(1e-9, math.cos(math.radians(lat))))
        west = [[180 - wide, south], [180, south], [180, north], [180 - wide, north], [180 - wide, south]]
        east = [[-180, south], [wide - 180, south], [wide - 180, north], [-180, north], [-180, south]]
        return {"type": "MultiPolygon", "coordinates": [[west], [east]]}, [west, east]
    outer = a_ring(rng, lat, lon, size_m)
    part = [outer, a_ring(rng, lat, lon, size_m * 0.2)] if rng.random() < 0.4 else [outer]
    parts = [part]
    if rng.random() < 0.3:
        aside = a_ring(rng, max(-89.99, min(89.99, lat - 2.5 * size_m / M_PER_DEGREE)), lon, size_m)
        parts.append([aside])
    rings = [ring for one in parts for ring in one]
    coordinates = [[told(ring, rng) for ring in one] for one in parts]
    if len(parts) == 1 and rng.random() < 0.7:
        return {"type": "Polygon", "coordinates": coordinates[0]}, rings
    return {"type": "MultiPolygon", "coordinates": coordinates}, rings


def a_spot(
    rng: random.Random, rings: list[Ring], lat: float, lon: float, size_m: float, ill: float = 1.0
) -> dict[str, Any]:
    """A position: on a corner, on an edge, beside an edge, in the middle, or anywhere about."""
    how = or_else(rng, ill, "middle", "corner", "edge", "beside", "beside", "about", "about")
    start, end = rng.choice(list(pairwise(rng.choice(rings))))
    share = rng.random()
    x, y = start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])
    if how == "corner":
        x, y = start
    elif how == "beside":
        y += rng.uniform(-20, 20) / M_PER_DEGREE
    elif how == "middle":
        x, y = lon + rng.uniform(-1e-5, 1e-5), lat
    elif how == "about":
        y = lat + 2 * size_m / M_PER_DEGREE * rng.uniform(-1, 1)
        x = lon + min(60.0, 2 * size_m / M_PER_DEGREE / max(1e-9, math.cos(math.radians(lat)))) * rng.uniform(-1, 1)
    x = wrapped(x)
    if x == -180.0 and rng.random() < 0.5:
        x = 180.0
    accuracy = or_else(rng, ill, 4, None, 0, 0.3, 6, 12.5, 100, 100.001, 150)
    return {"lat": max(-90.0, min(90.0, y)), "lon": x, "accuracy_m": accuracy}


def or_else(rng: random.Random, ill: float, usual: Any, *others: Any) -> Any:
    """What is usual; as often as things go ill, something else."""
    return rng.choice([usual, *others]) if rng.random() < ill else usual


def a_leave(rng: random.Random, number: int, area: dict[str, Any] | None, ill: float = 1.0) -> dict[str, Any]:
    return {
        "leave": rng.choice([None, f"leave {number}"]),
        "landholder": "Hollin Farm",
        "area": area,
        "starts_on": or_else(rng, ill, "2026-11-01", None, *DAYS),
        "ends_on": or_else(rng, ill, "2027-12-31", None, *DAYS),
        "withdrawn_on": or_else(rng, ill, None, None, None, *DAYS),
        "species": or_else(rng, ill, None, [], ["larch"], rng.sample(KINDS, 3)),
        "max_girth_mm": or_else(rng, ill, None, 240, 300.5),
        "allowance": or_else(rng, ill, 5, None, 0, 1, 3),
        "lifted": or_else(rng, ill, 2, 0, 1, 4),
        "methods": or_else(rng, ill, None, [], ["hand_tools"], ["machine"], ["Machine ", "vehicle"], ["winch"]),
        "form": or_else(rng, ill, "signed", "spoken", None),
        "changed": or_else(rng, ill, None, False, True),
        "entitled": or_else(rng, ill, True, False, None),
        "conditions": rng.choice([None, [], ["close the gates"], ["b", "No vehicle on the ground."]]),
    }


def a_consent(rng: random.Random, ill: float = 1.0) -> dict[str, Any]:
    kinds = ["protected_area", "tree_order", "monument", "services", "other", "byelaw_of_the_fen", None]
    return {
        "kind": rng.choice(kinds),
        "name": rng.choice([None, "common rights", " "]),
        "state": or_else(rng, ill, "held", "needed", "not_needed", "unknown", None),
        "starts_on": or_else(rng, ill, None, *DAYS),
        "until": or_else(rng, ill, None, *DAYS),
    }


def a_check(rng: random.Random) -> dict[str, Any]:
    return {
        "question": rng.choice(["Is it a common?", "Is it under an order?"]),
        "answer": rng.choice(["yes", "no"]),
        "ask": rng.choice([None, "", "The graziers.", "A licensed person", "APHA", "Each holder"]),
        "consent": rng.choice([None, "tree order"]),
    }


def a_case(rng: random.Random) -> dict[str, Any]:
    """A question in full: nothing in it is nonsense. In some nearly all is well, in others little."""
    ill = rng.choice([0.03, 0.15, 0.6])
    lat, lon = rng.choice(MIDDLES)
    size_m = 10 ** rng.uniform(1.5, 3.7)
    boundary, rings = an_area(rng, lat, lon, size_m)
    leaves = []
    for number in range(or_else(rng, ill, 1, 0, 2, 3)):
        area, more = an_area(rng, lat, lon, size_m * rng.uniform(0.3, 1)) if rng.random() < 0.5 else (None, [])
        rings = rings + more
        leaves.append(a_leave(rng, number, area, ill))
    consents = [[], [a_consent(rng, ill)], [a_consent(rng, ill), a_consent(rng, ill)], None]
    case: dict[str, Any] = {
        "here": a_spot(rng, rings, lat, lon, size_m, ill),
        "zone": or_else(rng, 0.9, None, *ZONES),
        "species": rng.choice([None, *KINDS]),
        "girth_mm": rng.choice([None, 0, 240, 241, 300.5]),
        "machine": or_else(rng, ill, False, None, True),
        "depth_mm": or_else(rng, ill, 250, None, 300, 301),
        "synced_days_ago": or_else(rng, ill, 0, None, 1, 14, 14.0001, 15),
        "paired_phones": or_else(rng, ill, 1, None, 0, 2),
        "site": {
            "boundary": or_else(rng, ill / 2, boundary, None),
            "protected": or_else(rng, ill, False, None, True),
            "services_checked": or_else(rng, ill, False, None, True),
            "consents": rng.choice(consents),
            "checks": or_else(rng, ill, None, [], [a_check(rng)], [a_check(rng), a_check(rng)]),
        },
        "leaves": leaves,
    }
    if case["zone"] is not None and rng.random() < 0.4:
        case["now"] = rng.choice(INSTANTS)
    else:
        case["on"] = or_else(rng, ill, "2027-02-14", *DAYS)
    return case


def places_in(value: Any, way: tuple = ()) -> list[tuple]:
    """Every place in a case, as the way to it."""
    found = []
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else []
    for key, one in inner:
        found += [(*way, key), *places_in(one, (*way, key))]
    return found


def spoilt(rng: random.Random, case: dict[str, Any]) -> dict[str, Any]:
    """A case with one or two facts taken away or turned to nonsense."""
    case = copy.deepcopy(case)
    for _ in range(rng.choice([1, 1, 2])):
        places = places_in(case)
        # Numbers of a ring are many: most of the time something else is spoilt.
        few = [way for way in places if "coordinates" not in way]
        *way, last = rng.choice(places if rng.random() < 0.3 else few)
        spot: Any = case
        for step in way:
            spot = spot[step]
        if isinstance(spot, dict) and rng.random() < 0.4:
            del spot[last]
        else:
            spot[last] = copy.deepcopy(rng.choice(JUNK))
    return case


QUESTIONS = [
    {"id": f"q{i}", "question": f"{i}?", "heed": heed, "ask": "The owner", "consent": kind, "consent_name": name}
    for i, (heed, kind, name) in enumerate(
        [("no", None, None), ("yes", "protected_area", None), ("yes", "protected_area", None), ("no", "services", None),
         ("yes", "tree_order", None), ("yes", "other", "word of the scheme")]
    )
]  # fmt: skip


def a_site_with_records(rng: random.Random) -> dict[str, Any]:
    """What slips are compiled of: a site, its answers, consents, leaves and what was signed for them."""
    site = {
        "id": "s1",
        "protected": rng.choice([None, None, False, True]),
        "services_checked_on": rng.choice([None, *DAYS]),
        "boundary": rng.choice([None, {"type": "Polygon", "coordinates": [[[0, 0], [1, 0], [0, 1], [0, 0]]]}]),
    }
    leaves = [
        {
            "id": f"l{n}", "site": rng.choice(["s1", "s1", "s2"]), "landholder": "h1",
            "form": rng.choice([None, "signed", "spoken", "asked"]), "allowance": rng.choice([None, 2, 3]),
            "conditions": rng.choice([None, [], ["close the gates"]]),
            "starts_on": rng.choice([None, *DAYS]),
        }
        for n in range(3)
    ]  # fmt: skip
    signings = []
    for n in range(rng.randint(0, 4)):
        leave = rng.choice(leaves)
        terms = {name: leave[name] for name in ("allowance", "conditions", "landholder", "starts_on")}
        terms["boundary"] = rng.choice([site["boundary"], None])
        letter = rng.choice([{"terms": terms}, {"terms": terms}, {"terms": {**terms, "allowance": 3}}, {}, None])
        version, at = rng.choice([None, 1, 2, True, "3"]), f"2026-11-26T10:00:0{n}.000Z"
        signings.append({"id": f"g{n}", "leave": leave["id"], "version": version, "signed_at": at, "letter": letter})
    return {
        "site": site,
        "consents": [
            {**a_consent(rng), "id": f"c{n}", "site": rng.choice(["s1", "s2"]),
             "name": rng.choice([None, "word of the scheme"])}
            for n in range(rng.randint(0, 3))
        ],
        "leaves": leaves,
        "lifts": [],
        "landholders": rng.choice([None, [{"id": "h1", "name": "Hollin Farm"}]]),
        "questions": rng.sample(QUESTIONS, rng.randint(2, len(QUESTIONS))),
        "checks": [
            {"site": rng.choice(["s1", "s1", "s2"]), "question": rng.choice(QUESTIONS)["id"],
             "answer": rng.choice(["yes", "no", None]), "settled_on": rng.choice([None, *DAYS]),
             "deleted": rng.choice([None, False, True])}
            for _ in range(rng.randint(0, 8))
        ],
        "signings": signings,
    }  # fmt: skip
