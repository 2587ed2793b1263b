"""The pack: what the phone is given of the rules, by the hash of its bytes."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from pathlib import Path
from typing import Any

import pytest
from builders import OTHER_PHONE, PHONE, SQUARE, a_leave, a_site, a_tree, an_id
from flask import Flask

from field.core.card import WORKS
from field.core.errors import NotFound
from field.core.may_dig import may_dig
from field.core.signing import content_sha256, terms_of
from field.core.species import load_cards
from field.core.windows import climate_at, event_date, place_of_site
from field.services import build_pack, pair
from field.services.build_pack import current_pack, read_pack
from field.services.write_changes import write_changes
from field.store import db

NOW = dt.datetime(2027, 2, 14, 12, 0, tzinfo=dt.UTC)


def pack(now: dt.datetime = NOW) -> dict[str, Any]:
    got = json.loads(read_pack(current_pack(now)))
    assert isinstance(got, dict)
    return got


def write(*changes: tuple[str, str | None, dict[str, Any]]) -> list[str]:
    return write_changes(changes, NOW)


def test_of_an_empty_store_it_has_the_kinds_and_nothing_else(store: Flask) -> None:
    got = pack()
    assert (got["v"], got["made_on"], got["paired_phones"]) == (1, "2027-02-14", 0)
    assert (got["sites"], got["windows"], got["tasks"]) == ({}, {}, [])
    kinds = {one["kind"] for one in got["species"]}
    assert {"birch", "hawthorn", "default"} <= kinds
    assert len(kinds) >= 16


def test_it_has_the_questions_to_check_for_every_ground(store: Flask) -> None:
    ground = pack()["ground"]
    assert {"england", "scotland", "ireland", "usa-federal", "general"} <= {one["code"] for one in ground["lists"]}
    assert "stand above" in ground["above"]


def test_its_name_is_the_hash_of_its_bytes(store: Flask, data_dir: Path) -> None:
    name = current_pack(NOW)
    assert hashlib.sha256(read_pack(name)).hexdigest() == name
    assert (data_dir / "packs" / f"{name}.json").read_bytes() == read_pack(name)


def test_the_same_records_on_the_same_day_make_the_same_pack(store: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    write(("site", None, a_site()), ("tree", None, a_tree()))
    first = current_pack(NOW)
    monkeypatch.setattr(build_pack, "_last", {})
    assert current_pack(NOW + dt.timedelta(hours=1)) == first


def test_it_is_built_again_only_when_something_changed(store: Flask, monkeypatch: pytest.MonkeyPatch) -> None:
    built: list[dt.date] = []
    build = build_pack.build

    def counting(today: dt.date, *others: Any) -> dict[str, Any]:
        built.append(today)
        return build(today, *others)

    monkeypatch.setattr(build_pack, "build", counting)
    names = [current_pack(NOW) for _ in range(3)]
    assert (len(built), len(set(names))) == (1, 1)
    write(("site", None, a_site()))
    names.append(current_pack(NOW))
    names.append(current_pack(NOW + dt.timedelta(days=1)))
    pair.pair(pair.make_code()["code"], PHONE, "Phone")
    names.append(current_pack(NOW + dt.timedelta(days=1)))
    assert len(built) == 4
    assert len(set(names)) == 4


def test_a_pack_that_was_lost_is_built_again(store: Flask, data_dir: Path) -> None:
    name = current_pack(NOW)
    (data_dir / "packs" / f"{name}.json").unlink()
    assert current_pack(NOW) == name
    assert read_pack(name)


def test_the_one_before_can_still_be_fetched(store: Flask) -> None:
    before = current_pack(NOW)
    write(("site", None, a_site()))
    assert current_pack(NOW) != before
    assert json.loads(read_pack(before))["sites"] == {}


def test_not_every_old_pack_is_kept(store: Flask, data_dir: Path) -> None:
    for day in range(build_pack.KEPT + 5):
        last = current_pack(NOW + dt.timedelta(days=day))
    assert len(list((data_dir / "packs").iterdir())) == build_pack.KEPT
    assert read_pack(last)


@pytest.mark.parametrize("name", ["", "0" * 64, "../epoch", "x", "\0", "0" * 63 + "\n"])
def test_an_unknown_one_is_said_so(store: Flask, name: str) -> None:
    with pytest.raises(NotFound) as refused:
        read_pack(name)
    assert refused.value.code == "no-pack"


def test_paired_phones_are_counted_without_those_shut_out(store: Flask) -> None:
    for device in (PHONE, OTHER_PHONE):
        pair.pair(pair.make_code()["code"], device, "Phone")
    assert pack()["paired_phones"] == 2
    pair.revoke(PHONE)
    assert pack()["paired_phones"] == 1


def test_slips_hold_leave_consents_and_what_is_lifted(store: Flask) -> None:
    holder, site, leave, other = (an_id() for _ in range(4))
    write(
        ("landholder", holder, {"name": "Ms Invented"}),
        ("site", site, a_site(services_checked_on="2027-01-01")),
        ("leave", leave, a_leave(site=site, landholder=holder, species=["birch"], max_girth_mm=300)),
        ("consent", None, {"site": site, "kind": "services", "state": "held", "until": "2027-12-31"}),
        ("site", other, a_site(name="Other", boundary=None, height_m=None)),
        ("lift", None, {"site": site, "leave": leave}),
        ("lift", None, {"site": site, "leave": leave}),
        ("lift", None, {"site": site, "leave": leave, "deleted": True}),
        ("leave", None, {**a_leave(site=site), "deleted": True}),
    )
    sites = pack()["sites"]
    assert sites[site] == {
        "zone": "Europe/London",
        "site": {
            "boundary": SQUARE,
            "protected": False,
            "services_checked": True,
            "consents": [{"kind": "services", "name": None, "state": "held", "starts_on": None, "until": "2027-12-31"}],
        },
        "leaves": [
            {
                "leave": leave,
                "landholder": "Ms Invented",
                "area": None,
                "starts_on": "2026-11-01",
                "ends_on": "2027-03-31",
                "withdrawn_on": None,
                "species": ["birch"],
                "max_girth_mm": 300,
                "allowance": 5,
                "lifted": 2,
                "methods": None,
                "form": "signed",
                "entitled": True,
                "conditions": ["close the gates"],
            }
        ],
    }
    assert sites[other]["leaves"] == []


def test_slips_hold_answers_that_want_more_done_and_an_answer_says_whether_the_ground_is_protected(
    store: Flask,
) -> None:
    site, elsewhere = an_id(), an_id()
    order, park = "scotland-tree-order", "scotland-protected-site"
    write(
        ("site", site, a_site(country="scotland", protected=None)),
        ("site", elsewhere, a_site(country=None, protected=None)),
        *(
            ("ground_check", None, {"site": site, "question": one, "answer": "yes"})
            for one in (order, "norway-vehicle")
        ),
        ("ground_check", None, {"site": site, "question": park, "answer": "no"}),
        ("ground_check", None, {"site": elsewhere, "question": order, "answer": "yes"}),
    )
    sites = pack()["sites"]
    assert sites[site]["site"]["checks"] == [
        {
            "question": "Is the tree, or the wood it stands in, under a tree preservation order?",
            "answer": "yes",
            "ask": "The tree officer of the planning authority",
            "consent": "tree order",
        }
    ]
    assert sites[site]["site"]["protected"] is False
    # Without a country nobody knows which questions hold there.
    assert sites[elsewhere]["site"]["protected"] is None
    assert "checks" not in sites[elsewhere]["site"]


def test_a_leave_changed_after_it_was_signed_counts_as_spoken_and_one_only_asked_for_is_none(store: Flask) -> None:
    site, leave = an_id(), an_id()
    fields = a_leave(site=site)
    letter = {"v": 1, "kind": "leave", "terms": terms_of(fields, a_site())}
    signing = {"leave": leave, "version": 1, "letter": letter, "signed_at": "2027-02-10T10:00:00.000Z"}
    altered = {**signing, "version": 2, "letter": {**letter, "terms": {**letter["terms"], "allowance": 9}}}
    write(
        ("site", site, a_site()),
        ("leave", leave, fields),
        ("leave", None, {**fields, "form": "asked"}),
        ("signing", None, {**signing, "content_sha256": content_sha256(signing)}),
        ("signing", None, {**altered, "content_sha256": content_sha256(signing)}),
    )
    (slip,) = pack()["sites"][site]["leaves"]
    assert (slip["leave"], slip["form"], "changed" in slip) == (leave, "signed", False)
    write(("leave", leave, {"allowance": 9}))
    (slip,) = pack()["sites"][site]["leaves"]
    assert (slip["form"], slip["changed"]) == ("spoken", True)


def test_the_rule_can_be_asked_with_the_pack_alone(store: Flask) -> None:
    site = an_id()
    write(("site", site, a_site()), ("leave", None, a_leave(site=site)))
    slips = pack()["sites"][site]
    case = {
        "here": {"lat": 55.4012, "lon": -3.392, "accuracy_m": 6},
        "on": "2027-02-14",
        "species": "birch",
        "girth_mm": 240,
        "machine": False,
        "depth_mm": 250,
        "synced_days_ago": 0,
        "paired_phones": 1,
        **slips,
    }
    assert may_dig(case)["answer"] == "yes"
    assert may_dig({**case, "on": "2027-04-01"})["answer"] == "no"


def test_every_kind_has_its_lifting_windows_at_every_site(store: Flask) -> None:
    (site,) = write(("site", None, a_site()))
    got = pack()
    windows = got["windows"][site]
    assert set(windows) == {one["kind"] for one in got["species"]}
    assert all(set(works) == {"lift"} for works in windows.values())
    for window in windows["birch"]["lift"]:
        assert set(window) == {
            "opens", "closes", "hard_open", "hard_close", "why_opens", "why_closes", "source", "other",
        }  # fmt: skip
        assert window["closes"] >= "2027-02-14"
        assert window["opens"] <= "2028-03-20"  # 400 days later


def test_kinds_that_stand_at_a_site_or_are_named_in_its_leaves_have_windows_of_every_work_there(store: Flask) -> None:
    here, there = write(("site", None, a_site()), ("site", None, a_site(name="There", height_m=400)))
    write(
        ("tree", None, a_tree(site=here, species="larch")),
        ("tree", None, a_tree(site=here, species="Sea Buckthorn")),
        ("leave", None, a_leave(site=here, species=["yew"])),
        ("tree", None, a_tree(site=None, species="olive")),
    )
    got = pack()

    def whole(windows: dict[str, Any]) -> set[str]:
        return {kind for kind, works in windows.items() if set(works) == set(WORKS)}

    assert whole(got["windows"][here]) == {"larch", "yew", "default"}
    assert whole(got["windows"][there]) == set()
    assert whole(got["windows_anywhere"]) == {"olive"}


def test_windows_of_no_place_in_particular_are_those_of_a_site_nothing_is_known_of(store: Flask) -> None:
    got = pack()
    assert set(got["windows_anywhere"]) == {one["kind"] for one in got["species"]}, "also before there is any site"
    (site,) = write(("site", None, a_site(boundary=None, height_m=None)))
    got = pack()
    assert got["windows_anywhere"] == got["windows"][site]
    assert set(got["windows"]) == {site}


def test_a_higher_site_has_later_springs(store: Flask) -> None:
    low, high = write(("site", None, a_site(height_m=0)), ("site", None, a_site(height_m=600)))
    windows = pack()["windows"]

    def closes(site: str) -> str:
        return str(windows[site]["birch"]["lift"][0]["closes"])

    assert closes(low) < closes(high)


def test_ones_own_days_and_what_a_place_showed_move_its_windows(store: Flask) -> None:
    (site,) = write(("site", None, a_site(height_m=0)))
    (other,) = write(("site", None, a_site(height_m=0, shift_days=-10)))

    def closes(at: str) -> dt.date:
        return dt.date.fromisoformat(pack()["windows"][at]["birch"]["lift"][0]["closes"])

    usual = closes(site)
    here = climate_at(place_of_site({"boundary": SQUARE})["lat"], 0.0).later_days
    assert (closes(other) - usual).days == -10 - here, "in place of the law, not beside it"
    write(("event", None, {"site": site, "kind": "bud_swell", "happened_on": "2027-02-10"}))
    assert (
        closes(site) - usual
        == dt.date(2027, 2, 10) - event_date(load_cards()["birch"], "bud_swell", 2027, climate_at(None, None, here))[0]
    )
    assert (closes(other) - usual).days == -10 - here


def test_a_garden_has_the_windows_of_the_kinds_that_stand_in_it(store: Flask) -> None:
    (garden,) = write(("garden", None, {"name": "Frame yard", "lat": 52.0}))
    (site,) = write(("site", None, a_site()))
    assert pack()["windows"][garden] == {}
    (tree,) = write(("tree", None, a_tree(site=site, species="rowan")))
    assert set(pack()["windows"][site]["rowan"]) == set(WORKS)
    write(("lift", None, {"tree": tree, "lifted_on": "2027-02-01"}))
    got = pack()
    assert {kind: set(works) for kind, works in got["windows"][garden].items()} == {"rowan": set(WORKS)}
    assert set(got["windows"][site]["rowan"]) == {"lift"}
    assert list(got["ask"]["at"]) == [garden]


def test_a_lifted_tree_has_its_tasks_with_the_records_they_are_settled_in(store: Flask) -> None:
    site, tree = an_id(), an_id()
    write(
        ("site", site, a_site()),
        ("tree", tree, a_tree(site=site)),
        ("lift", None, {"tree": tree, "site": site, "lifted_on": "2027-02-13", "roots_kept": "half"}),
    )
    tasks = pack()["tasks"]
    assert tasks
    assert {task["tree"] for task in tasks} == {tree}
    for task in tasks:
        assert set(task) - {"round"} == {
            "id",
            "rec",
            "tree",
            "site",
            "work",
            "from",
            "by",
            "lapses_on",
            "text",
            "why",
            "moved_from",
        }
    by_step = {task["id"].split(":", 1)[1]: task for task in tasks}
    assert by_step["birch:water-rest:0"]["round"] == "water"
    assert "round" not in by_step["birch:label:0"]
    # advice stands to its last day, 7 days after the lift; the label is a deed and stands overdue for 60 days
    assert by_step["birch:leave-crown:0"]["lapses_on"] == "2027-02-20"
    assert by_step["birch:label:0"]["lapses_on"] == "2027-04-15"


def test_a_tree_that_ended_has_none(store: Flask) -> None:
    tree = an_id()
    write(
        ("tree", tree, a_tree(ended_as="lost", ended_on="2027-02-01")),
        ("lift", None, {"tree": tree, "lifted_on": "2027-01-13"}),
    )
    assert pack()["tasks"] == []


def test_a_card_of_ones_own_replaces_the_shipped_one(store: Flask) -> None:
    write(("species_card", None, {"kind": "birch", "name": "My birch", "latin": "Betula", "card": None}))
    assert "My birch" not in {one["name"] for one in pack()["species"]}
    shipped = json.loads((Path(build_pack.__file__).parent.parent / "core" / "cards" / "birch.json").read_text())
    write(("species_card", None, {"kind": "birch", "name": "My birch", "latin": "Betula", "card": shipped}))
    assert "My birch" in {one["name"] for one in pack()["species"]}


def test_pack_and_tasks_follow_an_edit_of_a_card_and_its_taking_back(store: Flask) -> None:
    tree, edit = an_id(), an_id()
    write(("tree", tree, a_tree(species="birch")), ("lift", None, {"tree": tree, "lifted_on": "2027-01-13"}))
    before = pack()
    lifting = {"1": {"closes": {"on": "03-20", "moves": "no"}, "why_closes": "seen here six years"}}
    flush = {"flush_hardened": {"on": "06-01", "why": "seen here six years"}}
    laid = {"windows": {"lift": lifting}, "events": flush}
    write(("species_card", edit, {"kind": "birch", "card": {"edit": laid}}))
    after = pack()
    assert "2027-03-20" in json.dumps(after["windows_anywhere"]["birch"])
    assert "2027-03-20" not in json.dumps(before["windows_anywhere"]["birch"])
    assert {task["id"] for task in after["tasks"]} & {task["id"] for task in before["tasks"]}
    assert after["tasks"] != before["tasks"]
    write(("species_card", edit, {"deleted": True}))
    assert pack() == before


def test_an_edit_that_cannot_be_used_goes_with_the_pack_but_not_to_a_phone_that_only_records(store: Flask) -> None:
    edit = an_id()
    assert pack()["card_trouble"] == []
    late = {"1": {"closes": "02-30", "why_closes": "seen here six years"}}
    write(("species_card", edit, {"kind": "birch", "card": {"edit": {"windows": {"lift": late}}}}))
    (told,) = pack()["card_trouble"]
    assert (told["rec"], told["kind"], told["part"], told["field"]) == (edit, "birch", "windows.lift.1", "closes")
    assert json.loads(read_pack(current_pack(NOW, "record")))["card_trouble"] == []


EXTREMES: list[tuple[str, dict[str, Any]]] = [
    ("lift", {"lifted_on": "1800-01-01"}),
    ("lift", {"lifted_on": "9000-12-31"}),
    ("lift", {"lifted_at": "9000-12-31T23:59:59Z", "zone": "Pacific/Kiritimati"}),
    ("lift", {"lifted_at": "1800-01-01T00:00:00Z", "zone": "Pacific/Honolulu"}),
    ("event", {"kind": "bud_break", "happened_on": "9000-12-31"}),
    ("event", {"kind": "\U0001f332", "happened_on": None}),
    ("work", {"kind": "hard prune", "done_on": "1800-01-01"}),
    ("work", {"kind": None, "done_on": None}),
    ("box", {"volume_l": 0, "mix": "rubbish", "boxed_on": "9000-12-31"}),
    ("task_state", {"task": "no such task", "state": "done"}),
    ("species_card", {"kind": "birch", "card": ["rubbish"]}),
    ("species_card", {"kind": None, "card": {"windows": 3}}),
    ("tree", {"species": ""}),
    ("leave", {"starts_on": "1800-01-01", "ends_on": "9000-12-31"}),
]


@pytest.mark.parametrize(("record_type", "fields"), EXTREMES)
def test_whatever_is_taken_in_a_pack_can_be_built(store: Flask, record_type: str, fields: dict[str, Any]) -> None:
    site, tree = an_id(), an_id()
    write(
        ("site", site, a_site()), ("tree", tree, a_tree(site=site)), ("lift", None, {"tree": tree, "lifted_on": None})
    )
    kinds = build_pack.queries.RECORD_TABLES[record_type].__table__.columns.keys()
    owner = {name: rec for name, rec in (("tree", tree), ("site", site)) if name in kinds}
    write((record_type, None, {**owner, **fields}))
    assert site in pack()["sites"]


def test_the_store_is_not_held_open_by_a_pack(store: Flask) -> None:
    pack()
    write(("site", None, a_site()))
    assert len(pack()["sites"]) == 1
    assert db.db.session.info == {}


def test_it_has_what_wire_cold_and_mixes_are_planned_from(store: Flask) -> None:
    care = pack()["care"]
    birch = care["kinds"]["birch"]
    assert (birch["kind"], birch["stands_in"], birch["traits"]["wire_weeks_max"][0]) == ("birch", False, 10)
    assert care["kinds"].keys() == {one["kind"] for one in pack()["species"]}
    assert care["materials"]["pumice"]["water_pct"]["source"]
    assert care["materials"]["coir"]["water_pct"] is None


def test_it_has_when_a_shedding_kind_stands_bare_where_it_stands(store: Flask) -> None:
    (site,) = write(("site", None, a_site()))
    write(("tree", None, a_tree(site=site, species="birch")), ("tree", None, a_tree(site=site, species="scots-pine")))
    bare = pack()["care"]["bare"][site]
    assert bare.keys() == {"birch"}
    first, until = bare["birch"][0]
    assert first < "2027-02-14" < until < "2027-06-01"


def test_whoever_asks_a_year_ahead_is_told_the_next_good_time_after_it(store: Flask) -> None:
    write(("site", "0b0e7c6e-2f3a-4d55-9d0c-6f7f1a2b3c4d", a_site()), ("tree", None, a_tree(species="birch")))
    asked = pack()["ask"]["anywhere"]["birch"]["windows"]
    year_on = (NOW.date() + dt.timedelta(days=366)).isoformat()
    for work in ("trim", "hard-prune", "repot"):
        assert [one for one in asked[work] if one["opens"] > year_on], work
