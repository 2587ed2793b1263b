"""Ready-made pieces for tests: sane defaults, so that a test names only what it is about."""

from __future__ import annotations

import itertools
import uuid
from collections.abc import Mapping
from typing import Any

from field.sync.hlc import Clock, write_stamp

PHONE = "11111111-1111-4111-8111-111111111111"
OTHER_PHONE = "22222222-2222-4222-8222-222222222222"
WALL_MS = 1803891600000  # 2027-03-01T09:00:00Z
WALL = "2027-03-01T09:00:00.000Z"

_numbers = itertools.count(1)

SQUARE = {
    "type": "Polygon",
    "coordinates": [[[-3.4, 55.4], [-3.39, 55.4], [-3.39, 55.405], [-3.4, 55.405], [-3.4, 55.4]]],
}


def an_id() -> str:
    """Return a new id of a record or device."""
    return str(uuid.uuid4())


def a_change(
    set_: Mapping[str, Any] | None = None,
    *,
    type: str = "tree",  # noqa: A002  the name it has in a change
    rec: str | None = None,
    dev: str = PHONE,
    seq: int = 1,
    ms: int = WALL_MS,
    base: Mapping[str, list[str]] | None = None,
    **others: Any,
) -> dict[str, Any]:
    """Return a change as a phone sends it.

    Args:
        set_: what it sets; None: a tree's tag.
        ms: of its stamp, milliseconds since 1970; the number of the change is the stamp's counter.
        base: None: it had seen nothing.
        others: further or replaced parts of the change: wall, tz, v, hlc.
    """
    values = {"tag": f"T{next(_numbers)}"} if set_ is None else dict(set_)
    return {
        "dev": dev,
        "seq": seq,
        "hlc": write_stamp(Clock(ms, seq % 0x10000), dev),
        "wall": WALL,
        "tz": "+00:00",
        "rec": an_id() if rec is None else rec,
        "type": type,
        "set": values,
        "base": {name: [] for name in values} if base is None else dict(base),
        "v": 1,
        **others,
    }


def a_request(*ops: Any, device: str = PHONE, **others: Any) -> dict[str, Any]:
    """Return a sync request that brings changes."""
    return {"proto": 1, "device": device, "epoch": None, "cursor": 0, "have": {}, "ops": list(ops), **others}


def a_site(**fields: Any) -> dict[str, Any]:
    """Return the fields of a site: half a kilometre square, not protected."""
    return {
        "name": "Gledhope",
        "zone": "Europe/London",
        "boundary": SQUARE,
        "height_m": 310,
        "protected": False,
        "services_checked_on": None,
        **fields,
    }


def a_leave(**fields: Any) -> dict[str, Any]:
    """Return the fields of a signed leave for a winter, five trees of any kind; give it its `site`."""
    return {
        "site": None,
        "landholder": None,
        "area": None,
        "starts_on": "2026-11-01",
        "ends_on": "2027-03-31",
        "withdrawn_on": None,
        "species": None,
        "max_girth_mm": None,
        "allowance": 5,
        "form": "signed",
        "entitled": True,
        "conditions": ["close the gates"],
        **fields,
    }


def a_tree(**fields: Any) -> dict[str, Any]:
    """Return the fields of a marked tree."""
    return {
        "tag": f"T{next(_numbers)}",
        "species": "birch",
        "origin": "lifted",
        "girth_mm": 240,
        "marked_on": "2026-10-03",
        **fields,
    }
