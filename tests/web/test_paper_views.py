"""Papers over the web: for paired devices only, as files with a safe name, never kept on the way."""

from __future__ import annotations

import gzip
import json

from builders import SQUARE, a_change, a_request, an_id

LEAVE, SITE = an_id(), an_id()


def seed(paired_client, name: str = "Hopehead Moss") -> None:
    site = a_change({"name": name, "boundary": SQUARE}, type="site", rec=SITE, seq=1)
    leave = a_change({"site": SITE, "starts_on": "2027-01-01"}, type="leave", rec=LEAVE, seq=2)
    assert paired_client.post("/api/sync", json=a_request(site, leave)).status_code == 200


def data_of(answer) -> bytes:
    return gzip.decompress(answer.data) if answer.headers.get("Content-Encoding") == "gzip" else answer.data


def test_a_paper_is_a_file_of_its_kind_with_a_safe_name_and_is_not_kept(paired_client) -> None:
    seed(paired_client, "Żółty Mech")
    for form, kind, head in (
        ("pdf", "application/pdf", b"%PDF-1.7"),
        ("html", "text/html; charset=utf-8", b"<!doctype html>"),
    ):
        answer = paired_client.get(f"/api/paper/leave/{LEAVE}.{form}?size=letter")
        assert answer.status_code == 200
        assert answer.headers["Content-Type"] == kind
        assert answer.headers["Cache-Control"] == "no-store"
        assert answer.headers["Content-Disposition"] == f'attachment; filename="leave-to-lift-trees-zo-ty-mech.{form}"'
        assert data_of(answer).startswith(head)


def test_the_day_on_the_paper_is_that_of_the_asking_phone(paired_client) -> None:
    seed(paired_client)
    assert "3 July 2027" in data_of(paired_client.get(f"/api/paper/leave/{LEAVE}.html?on=2027-07-03")).decode()


def test_own_words_come_with_the_question_and_too_many_are_refused_in_a_sentence(paired_client) -> None:
    seed(paired_client)
    path = f"/api/paper/renewal/{LEAVE}.html"
    said = data_of(paired_client.post(path, json={"words": "The two of them\nare <doing> well."})).decode()
    assert "<p>The two of them</p>\n<p>are &lt;doing&gt; well.</p>" in said
    assert "doing" not in data_of(paired_client.get(path)).decode()
    for words in ("x" * 4001, ["x"], 5):
        answer = paired_client.post(path, json={"words": words})
        assert answer.status_code == 400
        assert json.loads(data_of(answer))["error"]["message"] == "Your own words are a text of at most 4000 letters."


def test_nothing_is_given_without_a_token(client, paired_client) -> None:
    seed(paired_client)
    assert client.get(f"/api/paper/leave/{LEAVE}.pdf").status_code == 401


def test_what_is_not_there_or_makes_no_sense_is_one_error_in_the_one_shape(paired_client) -> None:
    seed(paired_client)
    for path, status in (
        (f"leave/{an_id()}.pdf", 404),
        (f"dance/{LEAVE}.pdf", 404),
        (f"leave/{LEAVE}.docx", 404),
        ("leave/nobody.pdf", 404),
        (f"signed/{LEAVE}.pdf", 404),
        (f"leave/{LEAVE}.pdf?size=a0", 400),
        (f"leave/{LEAVE}.pdf?on=soon", 400),
        (f"report/{LEAVE}.pdf?from=2027-02-30", 400),
    ):
        answer = paired_client.get(f"/api/paper/{path}")
        assert answer.status_code == status, path
        error = json.loads(data_of(answer))["error"]
        assert set(error) == {"code", "message", "cure", "where"}
        assert error["message"].endswith(".")


def test_letters_without_a_shape_are_told_beside_the_file(paired_client) -> None:
    seed(paired_client, "𒀀𒁁 Moss")
    answer = paired_client.get(f"/api/paper/leave/{LEAVE}.pdf")
    assert "𒀀 𒁁" in json.loads(answer.headers["Paper-Trouble"])[0]
