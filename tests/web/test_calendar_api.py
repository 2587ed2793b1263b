"""The calendar at its private address and as a file: who gets it, what stands in it, and that its names stay."""

from __future__ import annotations

import datetime as dt
from typing import Any

import icalendar
from builders import a_change, a_request, a_site, a_tree, an_id
from flask import Flask
from flask.testing import FlaskClient

from field.services import backup, calendar_feed, restore

TODAY = dt.datetime.now().astimezone().date()


def put(client: FlaskClient, *records: tuple[str, str, dict[str, Any]], first: int = 1) -> None:
    ops = [a_change(fields, type=kind, rec=rec, seq=n) for n, (kind, rec, fields) in enumerate(records, first)]
    answer = client.post("/api/sync", json=a_request(*ops, want=0)).get_json()
    assert {one["s"] for one in answer["results"]} == {"ok"}, answer["results"]


def a_garden(client: FlaskClient) -> dict[str, str]:
    """A site with three trees lifted yesterday: they have water checks for the days to come, and single tasks."""
    ids = {name: an_id() for name in ("site", "one", "two", "three", "leave")}
    yesterday = (TODAY - dt.timedelta(days=1)).isoformat()
    trees = [
        (name, a_tree(site=ids["site"], tag=tag, species="birch", origin="lifted", marked_on=yesterday))
        for name, tag in (("one", "W1, the «leaning» one"), ("two", "W2;x"), ("three", "W3"))
    ]
    put(
        client,
        ("site", ids["site"], a_site(name="Quernstone Rigg")),
        *(("tree", ids[name], fields) for name, fields in trees),
        *(("lift", an_id(), {"tree": ids[name], "site": ids["site"], "lifted_on": yesterday}) for name, _ in trees),
    )
    return ids


def events_of(data: bytes) -> dict[str, Any]:
    return {str(event["UID"]): event for event in icalendar.Calendar.from_ical(data).walk("VEVENT")}


def make(client: FlaskClient, **chosen: Any) -> str:
    answer = client.post("/api/calendar", json={"alarm": "morning", "names": False, **chosen})
    assert answer.status_code == 200, answer.text
    url = answer.get_json()["url"]
    return "/calendar/" + url.rsplit("/calendar/", 1)[1]


def test_the_private_address_needs_no_token_and_ends_when_it_is_made_anew_or_ended(
    app: Flask, paired_client: FlaskClient
) -> None:
    a_garden(paired_client)
    assert paired_client.get("/api/calendar").get_json()["made_at"] is None
    first, nobody = make(paired_client), app.test_client()
    got = nobody.get(first)
    assert (got.status_code, got.content_type) == (200, "text/calendar; charset=utf-8")
    assert len(events_of(got.data)) > 3
    second = make(paired_client)
    assert nobody.get(first).status_code == 404
    assert nobody.get(second).status_code == 200
    assert paired_client.get("/api/calendar").get_json()["alarm"] == "morning"
    paired_client.delete("/api/calendar")
    assert nobody.get(second).status_code == 404
    for other in ("/calendar/x.ics", "/calendar/.ics", "/calendar/..%2f.ics", "/calendar/" + "a" * 5000 + ".ics"):
        assert nobody.get(other).status_code == 404


def test_trees_are_watered_in_one_entry_a_day_and_other_work_has_its_own(paired_client: FlaskClient) -> None:
    a_garden(paired_client)
    events = events_of(paired_client.get("/api/calendar.ics").data).values()
    rounds = [event for event in events if ": 3 trees, Quernstone Rigg" in str(event["SUMMARY"])]
    days = [event["DTSTART"].dt for event in rounds if str(event["SUMMARY"]).startswith("Water")]
    assert days
    assert len(days) == len(set(days))
    for event in rounds:
        assert "W1, the «leaning» one" in str(event["DESCRIPTION"])
        assert "W2;x" in str(event["DESCRIPTION"])
    assert len(days) == len(set(days)) or len({str(one["UID"]) for one in rounds}) == len(rounds)
    assert any(str(event["SUMMARY"]).startswith("W2;x") for event in events)


def test_the_names_of_entries_stay_when_it_is_read_again_and_a_settled_task_is_called_off_in_the_file(
    paired_client: FlaskClient,
) -> None:
    ids = a_garden(paired_client)
    address = make(paired_client)
    before = events_of(paired_client.get(address).data)
    assert before.keys() == events_of(paired_client.get(address).data).keys()
    pack = paired_client.post("/api/sync", json=a_request(want=0)).get_json()["pack"]
    tasks = paired_client.get(f"/api/pack/{pack}").get_json()["tasks"]
    task = next(one for one in tasks if one["tree"] == ids["two"] and one["work"] not in ("water", "look"))
    state = {"task": task["id"], "tree": task["tree"], "state": "done", "settled_on": TODAY.isoformat()}
    put(paired_client, ("task_state", task["rec"], state), first=90)
    after = events_of(paired_client.get(address).data)
    gone = before.keys() - after.keys()
    assert len(gone) == 1
    (uid,) = gone
    file = events_of(paired_client.get("/api/calendar.ics?again=1").data)
    assert str(file[uid]["STATUS"]) == "CANCELLED"
    # A calendar that has no older file gets nothing that is off.
    fresh = events_of(paired_client.get("/api/calendar.ics").data)
    assert fresh.keys() == after.keys()
    assert {str(event["STATUS"]) for event in fresh.values()} == {"CONFIRMED"}
    assert not after.keys() - before.keys()


def test_a_round_stays_while_one_of_its_trees_is_open_and_is_called_off_in_the_file_when_all_are_walked(
    paired_client: FlaskClient,
) -> None:
    a_garden(paired_client)
    pack = paired_client.post("/api/sync", json=a_request(want=0)).get_json()["pack"]
    tasks = paired_client.get(f"/api/pack/{pack}").get_json()["tasks"]
    first = min(task["from"] for task in tasks if task.get("round") == "water")
    walked = [task for task in tasks if task.get("round") == "water" and task["from"] == first]
    assert len({task["tree"] for task in walked}) == 3

    def the_round() -> Any:
        events = events_of(paired_client.get("/api/calendar.ics?again=1").data).values()
        found = [one for one in events if str(one["SUMMARY"]).startswith("Water look")]
        return next(one for one in found if one["DTSTART"].dt.isoformat() == first)

    name = str(the_round()["UID"])
    for n, task in enumerate(walked):
        state = {"task": task["id"], "tree": task["tree"], "state": "done", "settled_on": TODAY.isoformat()}
        put(paired_client, ("task_state", task["rec"], state), first=80 + n)
        left = len(walked) - n - 1
        told = the_round()
        assert str(told["UID"]) == name
        assert str(told["STATUS"]) == ("CONFIRMED" if left else "CANCELLED")
        assert left != 2 or "look: 2 trees" in str(told["SUMMARY"])


def test_a_thing_stands_on_the_day_due_asks_for_it_under_one_name_and_tells_its_days_and_its_kind(
    app: Flask, paired_client: FlaskClient
) -> None:
    """The shade of a pine lifted on 9 March comes off from six weeks after the lift, within two weeks."""
    site, tree = an_id(), an_id()
    put(
        paired_client,
        ("site", site, a_site(name="Quernstone Rigg")),
        ("tree", tree, a_tree(site=site, tag="P1", species="scots-pine", origin="lifted", marked_on="2026-03-09")),
        ("lift", an_id(), {"tree": tree, "site": site, "lifted_on": "2026-03-09"}),
    )

    def read(month: int, day: int) -> dict[str, Any]:
        with app.app_context():
            return events_of(calendar_feed.make_file("none", dt.datetime(2026, month, day, 12, tzinfo=dt.UTC)))

    early = read(3, 20)
    (uid,) = [name for name, event in early.items() if str(event["SUMMARY"]).endswith("(until 4 May 2026)")]
    assert str(early[uid]["SUMMARY"]).startswith("P1, Scots pine, Quernstone Rigg: ")
    told = [(early[uid], "2026-04-20"), (read(4, 25)[uid], "2026-05-04"), (read(5, 20)[uid], "2026-05-20")]
    assert [event["DTSTART"].dt.isoformat() for event, _ in told] == [day for _, day in told]
    assert [str(event["DESCRIPTION"]).splitlines()[0] for event, _ in told] == [
        "From 20 April 2026, by 4 May 2026.",
        "From 20 April 2026, by 4 May 2026.",
        "Overdue: it was due by 4 May 2026.",
    ]
    assert [event["DTEND"].dt - event["DTSTART"].dt for event, _ in told] == [dt.timedelta(days=1)] * 3


def test_no_persons_name_goes_out_unless_it_was_chosen(paired_client: FlaskClient) -> None:
    site, holder, leave = an_id(), an_id(), an_id()
    ends = (TODAY + dt.timedelta(days=20)).isoformat()
    put(
        paired_client,
        ("site", site, a_site(name="Quernstone Rigg")),
        ("landholder", holder, {"name": "Aldous Vickerstaff", "role": "owner"}),
        (
            "leave",
            leave,
            {"site": site, "landholder": holder, "form": "spoken", "starts_on": "2020-01-01", "ends_on": ends},
        ),
    )
    plain = paired_client.get(make(paired_client)).data
    told = paired_client.get(make(paired_client, names=True)).data
    assert b"Vickerstaff" not in plain
    assert b"a matter of leave" in plain
    assert b"a matter of leave" not in told
    assert plain.count(b"BEGIN:VEVENT") == told.count(b"BEGIN:VEVENT") > 0
    # The file too: it is handed on as easily.
    assert b"Vickerstaff" not in paired_client.get("/api/calendar.ics").data
    assert b"a matter of leave" not in paired_client.get("/api/calendar.ics?names=1").data


def test_what_cannot_be_chosen_is_refused_and_changes_nothing(paired_client: FlaskClient) -> None:
    address = make(paired_client)
    for wrong in ({"alarm": "at noon"}, {"alarm": None}, {"alarm": 7}):
        answer = paired_client.post("/api/calendar", json=wrong)
        assert (answer.status_code, answer.get_json()["error"]["where"]) == (400, "alarm")
    assert paired_client.get("/api/calendar.ics?alarm=noon").status_code == 400
    assert paired_client.get(address).status_code == 200


def test_a_backup_put_back_neither_revives_an_ended_address_nor_ends_the_one_that_is_good(
    paired_client: FlaskClient, app: Flask, tmp_path: Any, data_dir: Any, database_url: str | None
) -> None:
    from field.store import db

    old = make(paired_client)
    with app.app_context():
        backup.back_up(tmp_path / "house.zip", dt.datetime.now(dt.UTC))
    new = make(paired_client)
    db.close(app)
    restore.restore(tmp_path / "house.zip", data_dir, database_url, dt.datetime.now(dt.UTC))
    db.init_app(again := Flask("again"), database_url, data_dir)
    try:
        with again.app_context():
            assert calendar_feed.tell_link()["made_at"] is not None
            secret = new.rsplit("/", 1)[1].removesuffix(".ics")
            assert calendar_feed.read_by_link(secret, dt.datetime.now(dt.UTC)).startswith(b"BEGIN:VCALENDAR")
            assert old != new
    finally:
        db.close(again)
