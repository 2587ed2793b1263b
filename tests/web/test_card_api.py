"""Cards over the line: told for a year, a change judged, a copy judged; nothing of it is written."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from flask import Flask
from flask.testing import FlaskClient

from field.store import queries

EDIT = {"edit": {"traits": {"shade_weeks": {"value": 9, "why": "the garden is windy"}}}}


def test_a_card_is_told_for_the_year_that_is_asked_for(paired_client: FlaskClient) -> None:
    this = datetime.now(UTC).astimezone().year
    assert paired_client.get("/api/cards/birch").get_json()["year"] == this
    assert paired_client.get("/api/cards/birch", query_string={"year": this + 1}).get_json()["year"] == this + 1


@pytest.mark.parametrize("year", ["0001", "9999", "next", "-1", "20271"])
def test_a_year_past_all_planning_is_refused_at_its_place(paired_client: FlaskClient, year: str) -> None:
    answer = paired_client.get("/api/cards/birch", query_string={"year": year})
    assert (answer.status_code, answer.get_json()["error"]["where"]) == (400, "year")


def test_a_change_and_a_copy_are_judged_and_not_written(app: Flask, paired_client: FlaskClient) -> None:
    judged = paired_client.post("/api/cards/birch/judge", json={"card": EDIT}).get_json()
    assert judged["fault"] is None
    assert {one["name"]: one["value"] for one in judged["told"]["traits"]}["shade_weeks"] == 9
    names = {"kind": "yard-birch", "name": "Yard birch", "latin": "Betula ‘Yard’"}
    copied = paired_client.post("/api/cards/birch/copy", json=names).get_json()
    assert {name: copied["fields"][name] for name in names} == names
    with app.app_context():
        assert queries.list_records("species_card") == []


@pytest.mark.parametrize(
    "body", [{}, {"kind": 3, "name": "x", "latin": "x"}, {"kind": "x" * 501, "name": "", "latin": ""}]
)
def test_a_copy_without_its_names_is_refused(paired_client: FlaskClient, body: dict[str, object]) -> None:
    assert paired_client.post("/api/cards/birch/copy", json=body).status_code == 400
