"""The record types of the log: which fields each has, and of what kind.

This is the one list that the journal's checks, the tables and the demo are held against. A field that is not here
is kept and passed on untouched (a newer phone may know it), but never shown.

Kinds:
    text     str                      int     whole number, |n| < 2**53
    real     finite number            bool    True or False
    date     'YYYY-MM-DD', local      instant 'YYYY-MM-DDTHH:MM:SS[.ffffff]Z', UTC
    lat/lon  degrees, WGS 84          json    any JSON value, one thing as a whole
    geometry GeoJSON Polygon or MultiPolygon
    sha256   64 lower-case hex        ref     id of another record (a UUID)
    zone     IANA name, 'Europe/London'
Every field may be None: not known. Missing is never zero.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

RECORD_TYPES: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "site": {
            "name": "text",
            "zone": "zone",
            "boundary": "geometry",
            "height_m": "real",
            "protected": "bool",
            "services_checked_on": "date",
            "country": "text",  # whose list of questions holds here: short name of a list in core/ground/
            "shift_days": "int",  # how many days later than the cards' climate its seasons run; None: by the place
            "note": "text",
        },
        "collector": {  # who keeps this log, as papers name them; one record, its id in core/leave_letter.py
            "name": "text",
            "phone": "text",
            "email": "text",
            "address": "text",
        },
        "landholder": {
            "name": "text",
            "role": "text",  # owner, occupier or agent
            "phone": "text",
            "email": "text",
            "address": "text",
            "note": "text",
        },
        "holding": {  # what a landholder is to one site; several to a site
            "site": "ref",
            "landholder": "ref",
            "role": "text",  # owner, occupier or agent
            "by_right": "text",  # by what right, in words: 'grazing tenancy', 'acts for the owner, letter of 3 May'
            "note": "text",
        },
        "leave": {
            "site": "ref",
            "landholder": "ref",  # who gave it
            "by_role": "text",  # as what they gave it: owner, occupier or agent
            "by_right": "text",  # by what right, in words
            "renews": "ref",  # the leave that this one follows; that one stays as it was
            "given_on": "date",  # when it was said or signed
            "area": "geometry",  # None: the whole site
            "starts_on": "date",
            "ends_on": "date",  # None: no end agreed
            "withdrawn_on": "date",
            "withdrawn_how": "text",  # how it was told
            "species": "json",  # list of kinds, None: any
            "max_girth_mm": "int",
            "allowance": "int",  # trees agreed, None: no number agreed
            "methods": "json",  # list out of hand_tools, machine, vehicle; None: not agreed
            "form": "text",  # signed, spoken, or asked: no answer yet
            "entitled": "bool",  # None: not recorded whether the signer may give leave
            "conditions": "json",  # list of sentences
            "signed_by": "text",
            "paper": "sha256",
            "note": "text",
        },
        "consent": {
            "site": "ref",
            "kind": "text",  # protected_area, tree_order, felling_licence, monument, services, plant_health or other
            "name": "text",  # what it is, where its kind is other
            "state": "text",  # held, needed, not_needed or unknown
            "starts_on": "date",
            "until": "date",
            "reference": "text",
            "authority": "text",  # who gives it
            "phone": "text",  # theirs
            "note": "text",
        },
        "paper": {  # one sheet, picture or PDF that proves something; several to a leave
            "leave": "ref",
            "consent": "ref",
            "sha256": "sha256",
            "media_type": "text",
            "size_bytes": "int",
            "file_name": "text",
            "added_on": "date",
            "note": "text",
        },
        "signing": {  # a letter as it was read and signed on the glass; never changed afterwards
            "leave": "ref",
            "version": "int",  # 1 for the first of a leave
            "letter": "json",  # what was read, as core/leave_letter.py makes it; its "terms" as in core/signing.py
            "strokes": "json",  # [[[x, y], ...], ...], whole, 0..1000 across, y down; None: the name was typed instead
            "name": "text",
            "role": "text",  # owner, occupier or agent
            "place": "text",
            "lat": "lat",
            "lon": "lon",
            "accuracy_m": "real",
            "signed_at": "instant",
            "signed_on": "date",
            "zone": "zone",
            "paper": "sha256",  # photo of a paper signed beside it
            "content_sha256": "sha256",  # over all of the above, by core/signing.py
        },
        "ground_check": {  # the answer to one question of the list of a site's country
            "site": "ref",
            "question": "text",  # its short name in core/ground/
            "answer": "text",  # yes or no; None: still open
            "settled_on": "date",
            "told_by": "text",  # which authority, map or person said so
            "reference": "text",
            "note": "text",
        },
        "tree": {
            "site": "ref",
            "tag": "text",
            "species": "text",  # short name of a species card
            "origin": "text",  # lifted or client
            "girth_mm": "int",
            "height_mm": "int",
            "condition": "text",
            "marked_on": "date",
            "ended_as": "text",  # lost, parted or left_standing
            "ended_on": "date",
            "stands_at": "ref",  # the garden where it grows on; None: as core/stands_at.py says
            "note": "text",
        },
        "garden": {  # a place where lifted trees grow on; not ground to lift from
            "name": "text",
            "lat": "lat",
            "lon": "lon",
            "height_m": "real",
            "zone": "zone",
            "shift_days": "int",  # as of a site
            "is_main": "bool",  # trees stand here unless told otherwise
            "note": "text",
        },
        "fix": {
            "tree": "ref",
            "visit": "ref",
            "lat": "lat",
            "lon": "lon",
            "accuracy_m": "real",  # 68 % radius, as the receiver said it
            "height_m": "real",
            "fixed_at": "instant",
            "source": "text",  # web-geolocation, exif, track or hand
            "platform": "text",
        },
        "visit": {"site": "ref", "visited_on": "date", "zone": "zone", "note": "text"},
        "lift": {
            "tree": "ref",
            "site": "ref",
            "leave": "ref",
            "lifted_at": "instant",
            "lifted_on": "date",
            "zone": "zone",
            "lat": "lat",
            "lon": "lon",
            "accuracy_m": "real",
            "girth_mm": "int",
            "ball_diameter_mm": "int",
            "ball_depth_mm": "int",
            "roots_kept": "text",  # most, half or few
            "machine": "bool",
            "hole_filled": "bool",
            "kept_conditions": "json",  # the conditions ticked as kept
            "answer": "json",  # the whole May I? answer with its input, as it stood before the spade went in
            "note": "text",
        },
        "photo": {
            "tree": "ref",
            "site": "ref",
            "visit": "ref",
            "sha256": "sha256",
            "media_type": "text",
            "size_bytes": "int",
            "file_name": "text",
            "taken_at": "instant",
            "taken_at_from": "text",  # gps, offset, zone or phone
            "lat": "lat",
            "lon": "lon",
            "accuracy_m": "real",
            "height_m": "real",
            "direction_deg": "real",
            "orientation": "int",
            "placed_by": "text",  # fix_at_capture, exif, track or hand; None: unplaced
            "shows": "text",  # hole, for the filled hole; None: the tree
            "event": "ref",  # what it was taken to show
            "task_state": "ref",  # the tick it was taken with
            "trouble": "json",
            "note": "text",
        },
        "track": {
            "site": "ref",
            "visit": "ref",
            "sha256": "sha256",
            "size_bytes": "int",
            "file_name": "text",
            "name": "text",
            "started_at": "instant",
            "ended_at": "instant",
            "points": "int",
            "length_m": "real",
            "climb_m": "real",
            "bounds": "json",  # [west, south, east, north]
            "line": "json",  # [[lon, lat], ...] thinned for the phone
            "trouble": "json",
        },
        "event": {"tree": "ref", "site": "ref", "kind": "text", "happened_on": "date", "note": "text"},
        "work": {
            "tree": "ref",
            "kind": "text",
            "done_on": "date",
            "hours": "real",
            "detail": "json",  # its figures, by kind; of wire: material, gauge_mm, branch_mm, length_mm, bites
            "note": "text",
        },
        "task_state": {
            "task": "text",  # the stable id of the computed task
            "tree": "ref",
            "site": "ref",  # of a task that is a site's and no tree's
            "state": "text",  # done or skipped; None: open
            "settled_on": "date",
            "note": "text",
        },
        "forgetting": {  # that a person's contact data was blanked, everywhere and for good; never taken back
            "about": "ref",  # the landholder
            "blanks": "json",  # {record id: [fields that were blanked]}
            "keeps": "json",  # ids of signings and papers that name them and are kept all the same, as was decided
            "files": "json",  # hashes of the files that went with them
            "forgotten_on": "date",
            "note": "text",  # why they are kept; never a name
        },
        "weather_day": {  # the air of one day at one place; its id is made of the two, so that phones meet in it
            "site": "ref",  # a garden, or a site
            "day_on": "date",
            "tmin_c": "real",
            "tmax_c": "real",
            "how": "text",  # typed, or station: read from a file
            "batch": "text",  # which reading of which file, so that one can be taken back
            "note": "text",
        },
        "species_card": {"kind": "text", "name": "text", "latin": "text", "card": "json"},
        "box": {
            "tree": "ref",
            "form": "text",
            "length_mm": "int",
            "width_mm": "int",
            "height_mm": "int",
            "volume_l": "real",
            "mix": "json",
            "boxed_on": "date",
            "note": "text",
        },
    }
)

DELETED = "deleted"  # a field of every type; true after a delete, false after an undelete
