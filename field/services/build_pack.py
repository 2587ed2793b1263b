"""Builds the pack: what the phone needs on the hill, computed here once so that the rules stay in one place.

The slips of every site, the dated windows of lifting for every kind at every site and those of all works for the kinds
that stand there, the tasks of every tree. A pack is named by
the hash of its bytes: the same records on the same day make the same pack, whoever asks.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import threading
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from field.core.card import WORKS, Card
from field.core.errors import NotFound
from field.core.ground_questions import ground_for_pack, questions_for
from field.core.leave import compile_slips
from field.core.lift_flags import lift_flags
from field.core.signing import find_signed
from field.core.signs import Signs
from field.core.species import DEFAULT, Cards, list_kinds, load_cards
from field.core.who_sees import FULL, RECORD
from field.core.windows import Place, dated_windows
from field.services.list_due import plan_all
from field.services.pack_asks import asks_for_pack
from field.services.pack_care import care_for_pack
from field.services.places import Places, read_places
from field.services.tell_card import tell_trouble
from field.store import db, devices, epoch, files, journal, queries
from field.sync.change import SHA256, canonical_bytes

FORM = 1
ANYWHERE = "anywhere"  # the climate the cards were written for, as it holds for ground that nothing is known of
WINDOW_DAYS = 400  # a year and the walk that was put off
# Asked about a kind that nobody has marked at a site yet. The other works come with the first tree of the kind: all of
# them for every kind would make the pack grow with sites times kinds times works.
ON_NEW_GROUND = ("lift",)
KEPT = 24  # packs on the disk: a phone may still be fetching the one before

_Record = dict[str, Any]
# By latitude, height, own days, what was seen and what is expected there, as windows move with them; by kind and work.
_Windows = dict[tuple[object, ...], list[dict[str, object]]]
_last_windows: tuple[tuple[object, ...], _Windows] = ((), {})  # what all were made from, and those that were used
_Key = tuple[str, str, int, str, int]
_one_builder = threading.Lock()
_last: dict[tuple[str, str], tuple[_Key, str]] = {}  # data folder, role -> what its last pack was made from, its hash


def current_pack(now: dt.datetime, role: str = FULL) -> str:
    """Return the hash of the pack as of now; it is built only when a record, the day or the number of phones changed.

    One at a time: of many phones that ask at once the first has it built, and the next one for all the others.

    Args:
        now: aware; the day is that of the server's own zone.
        role: what the phone may do that it is for; see `field.core.who_sees`.
    """
    db.db.session.rollback()  # whoever waits keeps no connection from others
    with _one_builder, db.snapshot() as session:
        return _current(session, now.astimezone().date(), role)


def read_pack(name: str) -> bytes:
    """Return the bytes of a pack, JSON.

    Raises: NotFound (no-pack) for a hash that is not kept here, or not one at all.
    """
    try:
        if SHA256.fullmatch(name):
            return _path(name).read_bytes()
    except FileNotFoundError:
        pass
    raise NotFound("There is no such pack here.", "Sync again to learn which is the newest.", code="no-pack")


def build(today: dt.date, paired_phones: int, role: str = FULL) -> dict[str, Any]:
    """Return the pack of a day as plain JSON.

    Args:
        today: the day it is made for.
        paired_phones: how many phones may sync; the slips' count of trees may be stale when there are others.
        role: one that may only record gets no landholder's name, and no tasks: the care of the trees is not its work.
    """
    sites = queries.list_records("site")
    leaves, lifts = queries.list_records("leave"), queries.list_records("lift")
    own_cards = queries.list_records("species_card")
    cards = load_cards(own_cards)
    trees = queries.list_records("tree")
    places = read_places(today, cards, lifts)
    standing = _standing_kinds(trees, leaves, cards, places)
    windows = _windows(places, cards, standing, today, (today, own_cards))
    kinds_at = _standing_kinds(trees, [], cards, places)
    return {
        "v": FORM,
        "made_on": today.isoformat(),
        "paired_phones": paired_phones,
        "sites": _slips(sites, leaves, lifts, [] if role == RECORD else queries.list_records("landholder")),
        "species": list_kinds(cards),
        "card_trouble": [] if role == RECORD else tell_trouble(cards, own_cards),
        "windows_anywhere": windows.pop(ANYWHERE),
        "windows": windows,
        "ask": asks_for_pack(places, kinds_at, cards, today, (today, own_cards)),
        "tasks": [] if role == RECORD else plan_all(today),
        "flags": {} if role == RECORD else lift_flags(lifts, leaves, trees),
        "ground": ground_for_pack(),
        "care": care_for_pack(cards, places, kinds_at, today),
    }


def _slips(
    sites: list[_Record], leaves: list[_Record], lifts: list[_Record], landholders: list[_Record]
) -> dict[str, Any]:
    """Return the slips of every site; each is given only what may be its own, or the time would grow by the square."""
    leaves_of, consents_of = _grouped(leaves, "site"), _grouped(queries.list_records("consent"), "site")
    lifts_of = _grouped(lifts, "leave")
    holders = {holder["id"]: holder for holder in landholders}
    checks_of, signings_of = _grouped(queries.list_records("ground_check"), "site"), _grouped(_signings(), "leave")
    ground: Any = ground_for_pack()
    questions = {one["code"]: one["questions"] for one in ground["lists"]}
    slips = {}
    for site in sites:
        own = leaves_of.get(site["id"], [])
        of_own = [lift for leave in own for lift in lifts_of.get(leave["id"], ())]
        named = [holders[leave["landholder"]] for leave in own if leave["landholder"] in holders]
        slips[site["id"]] = compile_slips(
            site,
            consents_of.get(site["id"], []),
            own,
            of_own,
            named,
            questions=questions[questions_for(site["country"]).code] if site["country"] else (),
            checks=checks_of.get(site["id"], []),
            signings=[signing for leave in own for signing in signings_of.get(leave["id"], ())],
        )
    return slips


def _signings() -> list[_Record]:
    """Return what was signed, of letters that are not removed; one of which nothing fits its seal is left out."""
    if not queries.list_records("signing"):
        return []
    histories = queries.signing_histories(db.db.session())
    signed = [find_signed(written) for fields, written in histories.values() if not fields.get("deleted")]
    return [dict(one) for one in signed if one is not None and isinstance(one.get("leave"), str)]


def _grouped(records: list[_Record], field: str) -> dict[str | None, list[_Record]]:
    groups: dict[str | None, list[_Record]] = {}
    for record in records:
        groups.setdefault(record[field], []).append(record)
    return groups


def _current(session: db.Session, today: dt.date, role: str) -> str:
    folder = db.photos_dir()
    phones = devices.count_paired(session)
    key = (str(folder), epoch.read(session), journal.end(session), today.isoformat(), phones)
    known = _last.get((str(folder), role))
    if known is not None and known[0] == key and _path(known[1]).exists():
        return known[1]
    data = canonical_bytes(build(today, phones, role))
    name = hashlib.sha256(data).hexdigest()
    if not _path(name).exists():
        with files.replacing(_path(name)) as out:
            out.write(data)
        _drop_old()
    _last[str(folder), role] = (key, name)
    return name


def _standing_kinds(trees: list[_Record], leaves: list[_Record], cards: Cards, places: Places) -> dict[str, set[str]]:
    """Return the kinds of the trees that stand at each place and those the leaves of a site name.

    Those of trees that stand nowhere are under ANYWHERE.
    """
    kinds: dict[str, set[str]] = {}
    for place, named in [
        *((places.of_tree(tree), [tree["species"]]) for tree in trees),
        *((leave["site"], leave["species"] or ()) for leave in leaves),
    ]:
        told = (one.strip().lower() if isinstance(one, str) else "" for one in named)
        kinds.setdefault(place or ANYWHERE, set()).update(one if one in cards else DEFAULT for one in told)
    return kinds


def _windows(
    places: Places,
    cards: Cards,
    standing: Mapping[str, set[str]],
    today: dt.date,
    made_from: tuple[object, ...],
) -> dict[str, Any]:
    """Return the dated windows of every place; those of one are made once for as long as `made_from` is the same."""
    global _last_windows
    before = _last_windows[1] if _last_windows[0] == made_from else {}
    # Places of one latitude and height share their windows; and a home garden is often the only place there is.
    made: _Windows = {}
    by_place: dict[str, Any] = {}
    kinds = sorted(str(one["kind"]) for one in list_kinds(cards))
    for at in (*places.sites, *places.gardens, ANYWHERE):
        place, here = places.find(at), standing.get(at, set())
        by_place[at] = {}
        for kind in kinds if at not in places.gardens else sorted(here & set(kinds)):  # nobody lifts from a garden
            signs = places.signs(at, kind)
            season = (*place.values(), *signs.items(), *signs.expected.values())
            works = WORKS if kind in here else ON_NEW_GROUND
            for work in works:
                key = (*season, kind, work)
                if key not in made:
                    known = before.get(key)
                    made[key] = _dated(cards[kind], work, place, today, signs) if known is None else known
            by_place[at][kind] = {work: made[(*season, kind, work)] for work in works}
    _last_windows = (made_from, made)
    return by_place


def _dated(card: Card, work: str, place: Place, today: dt.date, signs: Signs) -> list[dict[str, object]]:
    at = place["lat"], place["height_m"]
    return dated_windows(card, work, *at, today, WINDOW_DAYS, observed=signs, own_days=place["own_days"])


def _path(name: str) -> Path:
    return db.photos_dir() / "packs" / f"{name}.json"


def _drop_old() -> None:
    found = sorted((db.photos_dir() / "packs").glob("*.json"), key=_age, reverse=True)
    for path in found[KEPT:]:
        path.unlink(missing_ok=True)


def _age(path: Path) -> float:
    try:
        return path.stat().st_mtime
    except FileNotFoundError:  # another server of the same folder has let it go in this moment
        return 0.0
