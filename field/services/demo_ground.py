"""Put the demo's ground together: who holds it, their leaves in every state, papers and signatures, what was asked."""

from __future__ import annotations

import math
import random
from collections.abc import Mapping
from datetime import date, time
from typing import Any

from field.core.area import area_m2, read_area
from field.core.gridref import notations
from field.core.ground_middle import middle_of
from field.core.ground_questions import check_record_id
from field.core.leave_letter import leave_letter
from field.core.signing import content_sha256, terms_of
from field.core.species import list_kinds, load_cards
from field.services.demo_site import DemoSite, instant, iso
from field.services.demo_walk import at_local
from field.services.keep_blob import keep_bytes
from field.store.demo_pictures import draw_paper, write_picture

SIGN_CLOCK = time(16, 40)
GRID_M = 100  # how fine a grid reference of a whole field is
PAPER_FIELDS = ("state", "name", "reference", "authority", "phone", "note")


def put_ground(at: DemoSite) -> None:
    """Put in the site, its landholders and holdings, leaves, consents, answers to questions, and papers."""
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
            "country": plan["country"],
            "note": plan["note"],
        },
        at.site,
    )
    for holder in at.plan["landholders"]:
        own = {name: value for name, value in holder.items() if name not in ("key", "by_right")}
        at.landholders[holder["key"]] = at.put("landholder", own)
        at.put(
            "holding",
            {
                "site": at.site,
                "landholder": at.landholders[holder["key"]],
                "role": holder["role"],
                "by_right": holder["by_right"],
            },
        )
    for leave in at.plan["leaves"]:
        _leave(at, leave)
    for consent in at.plan["consents"]:
        rec = at.put(
            "consent",
            {
                "site": at.site,
                "kind": consent["kind"],
                "starts_on": iso(at.day(consent.get("starts"))),
                "until": iso(at.day(consent.get("until"))),
                **{name: consent.get(name) for name in PAPER_FIELDS},
            },
        )
        known_on = at.day(consent.get("known"))
        if known_on is not None:
            at.known_on[rec] = known_on
    for check in at.plan["checks"]:
        at.put(
            "ground_check",
            {
                "site": at.site,
                "question": check["question"],
                "answer": check["answer"],
                "settled_on": iso(at.day(check["on"])),
                "told_by": check["told_by"],
                "reference": check.get("reference"),
                "note": check.get("note"),
            },
            check_record_id(at.site, check["question"]),
        )


def _leave(at: DemoSite, leave: Mapping[str, Any]) -> None:
    holder = next(one for one in at.plan["landholders"] if one["key"] == leave["by"])
    fields = {
        "site": at.site,
        "landholder": at.landholders[leave["by"]],
        "by_role": holder["role"],
        "by_right": holder["by_right"],
        "renews": at.leaves.get(leave.get("renews", "")),
        "given_on": iso(at.day(leave.get("given"))),
        "area": leave.get("area"),
        "starts_on": iso(at.day(leave["starts"])),
        "ends_on": iso(at.day(leave["ends"])),
        "withdrawn_on": iso(at.day(leave.get("withdrawn"))),
        "species": leave.get("species"),
        "max_girth_mm": leave.get("max_girth_mm"),
        "allowance": leave.get("allowance"),
        "methods": leave.get("methods"),
        "form": leave["form"],
        "entitled": leave["entitled"],
        "conditions": leave["conditions"],
        "signed_by": leave.get("signed_by"),
        "note": leave.get("note"),
    }
    rec = at.leaves[leave["key"]] = at.put("leave", fields)
    if leave.get("signed_at_the_gate"):
        signed_on = at.day(leave["given"])
        assert signed_on is not None
        at.put("signing", _signing(at, rec, fields, holder, signed_on))
    if leave.get("paper"):
        picture = write_picture(draw_paper(f"{at.plan['site']['key']}:{leave['key']}"))
        at.put(
            "paper",
            {
                "leave": rec,
                "sha256": keep_bytes(picture),
                "media_type": "image/jpeg",
                "size_bytes": len(picture),
                "file_name": f"leave_{at.plan['site']['key']}.jpg",
                "added_on": fields["given_on"] or fields["starts_on"],
            },
        )


def _signing(
    at: DemoSite, rec: str, leave: Mapping[str, Any], holder: Mapping[str, Any], signed_on: date
) -> dict[str, Any]:
    """Return a letter as it was read and signed on the glass at the gate."""
    (site,) = at.put_so_far("site")
    ground = leave["area"] or site["boundary"]
    area = read_area(ground, "the ground")
    at_place = notations(*middle_of(area), GRID_M)
    letter = leave_letter(
        {
            "collector": at.collector,
            "landholder": holder,
            "role": holder["role"],
            "by_right": holder["by_right"],
            "site": {"name": site["name"], "grid_ref": at_place["gb_grid"], "area_ha": area_m2(area) / 10_000},
            "leave": leave,
            "kinds": {one["kind"]: one["name"] for one in list_kinds(load_cards())},
            "made_on": signed_on.isoformat(),
        }
    )
    fields = {
        "leave": rec,
        "version": 1,
        "letter": {**letter, "terms": terms_of(leave, site)},
        "strokes": draw_strokes(holder["name"]),
        "name": holder["name"],
        "role": holder["role"],
        "place": f"{site['name']}, at the gate",
        "lat": at.plan["gate"][0],
        "lon": at.plan["gate"][1],
        "accuracy_m": 6.0,
        "signed_at": instant(at_local(signed_on, SIGN_CLOCK, at.zone)),
        "signed_on": signed_on.isoformat(),
        "zone": at.zone,
        "paper": None,
    }
    return {**fields, "content_sha256": content_sha256(fields)}


def draw_strokes(name: str) -> list[list[list[int]]]:
    """Return an invented signature: a line of loops, as long as the name, and a stroke under it.

    Returns: strokes of [x, y] in whole numbers, 0 to 1000 across, y down.
    """
    dice = random.Random(name)  # settled by the name, no secret
    letters = min(len(name), 16)
    step = 760 / letters
    loops = []
    for n in range(letters):
        high = dice.uniform(30, 120 if n in (0, name.find(" ") + 1) else 60)
        wide = dice.uniform(0.5, 0.9) * step
        for turn in range(10):
            angle = math.tau * turn / 10
            x = 120 + n * step + turn * step / 10 + wide * math.sin(angle) / 2
            loops.append([round(x), round(210 - high * (1 - math.cos(angle)) / 2)])
    under = [[x, round(262 - x / 40 + dice.uniform(-3, 3))] for x in range(160, 900, 40)]
    return [loops, under]
