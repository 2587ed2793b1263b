"""A station's file over the line: looked at, kept, told in the seasons, taken back; and what is refused."""

from __future__ import annotations

import json
from typing import Any

import pytest
from builders import an_id
from flask import Flask
from flask.testing import FlaskClient

from field.services.write_changes import write_changes
from field.web import weather_api

FILE = b"Date;Tmin (\xc2\xb0C);Tmax (\xc2\xb0C)\n" + b"".join(
    b"2024-%02d-%02d;15;15\n" % (month, day) for month in (1, 2) for day in range(1, 29)
)


@pytest.fixture
def garden(app: Flask) -> str:
    rec = an_id()
    with app.app_context():
        write_changes([("garden", rec, {"name": "Back green", "lat": 55.4, "zone": "Europe/London"})])
    return rec


def send(client: FlaskClient, path: str, data: bytes = FILE, **query: Any) -> Any:
    return client.post(path, data=data, query_string=query, content_type="text/csv")


def test_a_file_is_looked_at_kept_told_and_taken_back(paired_client: FlaskClient, garden: str) -> None:
    seen = send(paired_client, f"/api/weather/{garden}/look").get_json()
    assert (seen["questions"], seen["plan"]["new"]) == ([], 56)
    assert paired_client.get(f"/api/weather/{garden}").get_json()["days"] == 0
    kept = send(paired_client, f"/api/weather/{garden}/keep").get_json()
    assert kept["kept"] == 56
    told = paired_client.get(f"/api/weather/{garden}").get_json()
    assert [one["batch"] for one in told["batches"]] == [kept["batch"]]
    (season,) = told["seasons"]
    assert (season["since"], season["whole"]["logged"], season["whole"]["filled"]) == ("2024-01-01", 560, None)
    assert season["curve"][0] == [7, 70]
    assert (told["days"], told["this_year"]) == (56, 0)
    assert (told["south"], told["lat_known"], told["base_c"]) == (False, True, 5)
    assert [one["since"] for one in told["winters"]] == ["2023-07-01"]
    back = paired_client.post("/api/weather/take-back", json={"batch": kept["batch"]})
    assert back.get_json() == {"removed": 56, "given_back": 0}
    assert paired_client.post("/api/weather/take-back", json={"batch": kept["batch"]}).status_code == 404
    assert paired_client.get(f"/api/weather/{garden}").get_json()["seasons"] == []


def test_answers_come_in_the_address_and_nonsense_there_is_refused(paired_client: FlaskClient, garden: str) -> None:
    path = f"/api/weather/{garden}/look"
    answers = json.dumps({"date": 1, "tmin": 3, "tmax": 2})
    assert send(paired_client, path, answers=answers).get_json()["report"]["used"]["tmin"] == "Tmax (°C)"
    assert send(paired_client, path, since="2020", typed="file").status_code == 200
    for wrong in (
        {"since": "last"}, {"since": "1800"}, {"typed": "both"}, {"answers": "[]"}, {"answers": "{"},
        {"answers": '{"tmin": 1e999}'}, {"answers": '{"unit": "K"}'}, {"answers": "[" * 9000},
    ):  # fmt: skip
        answer = send(paired_client, path, **wrong)
        assert answer.status_code == 400, wrong
        assert answer.get_json()["error"]["message"].endswith(".")


def test_a_file_past_the_bound_and_a_place_that_is_not_here_are_refused(
    paired_client: FlaskClient, garden: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(weather_api, "MOST_FILE", 1000)
    assert send(paired_client, f"/api/weather/{garden}/look", b"x" * 1001).status_code == 413
    assert send(paired_client, f"/api/weather/{an_id()}/keep").get_json()["error"]["code"] == "no-place"
    assert paired_client.get(f"/api/weather/{an_id()}").status_code == 404
    assert paired_client.post("/api/weather/take-back", json={"batch": 5}).status_code == 400
    assert paired_client.post("/api/weather/take-back", json={"batch": "\0"}).status_code == 404
