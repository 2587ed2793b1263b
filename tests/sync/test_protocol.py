"""The frame of a sync request."""

from __future__ import annotations

from typing import Any

import pytest
from builders import PHONE, a_change, a_request

from field.core.errors import BadInput
from field.sync.protocol import MOST_OPS, MOST_WANT, read_request


def test_the_least_a_request_needs_is_its_protocol_and_device() -> None:
    asked = read_request({"proto": 1, "device": PHONE})
    assert (asked.epoch, asked.cursor, dict(asked.have), asked.ops, asked.want) == (None, 0, {}, (), MOST_WANT)


def test_more_is_not_given_than_may_be_wanted() -> None:
    assert read_request(a_request(want=10**6)).want == MOST_WANT
    assert read_request(a_request(want=0)).want == 0


def test_two_hundred_changes_are_taken_at_once_and_not_one_more() -> None:
    ops = [a_change(seq=number + 1) for number in range(MOST_OPS)]
    assert MOST_OPS == 200
    assert len(read_request(a_request(*ops)).ops) == 200
    with pytest.raises(BadInput, match="more than 200"):
        read_request(a_request(*ops, a_change(seq=201)))


@pytest.mark.parametrize(
    ("others", "where"),
    [
        ({"proto": None}, "proto"),
        ({"proto": "1"}, "proto"),
        ({"proto": True}, "proto"),
        ({"device": None}, "device"),
        ({"device": "phone"}, "device"),
        ({"epoch": 3}, "epoch"),
        ({"cursor": -1}, "cursor"),
        ({"cursor": 1.5}, "cursor"),
        ({"cursor": 2**53}, "cursor"),
        ({"cursor": "0"}, "cursor"),
        ({"have": []}, "have"),
        ({"have": {PHONE: -1}}, f"have.{PHONE}"),
        ({"have": {PHONE: "x"}}, f"have.{PHONE}"),
        ({"ops": {}}, "ops"),
        ({"ops": "none"}, "ops"),
        ({"want": -1}, "want"),
        ({"want": None, "cursor": True}, "cursor"),
    ],
)
def test_a_bad_frame_is_refused_with_its_place(others: dict[str, Any], where: str) -> None:
    with pytest.raises(BadInput) as refused:
        read_request({**a_request(), **others})
    assert refused.value.code == "bad-request"
    assert refused.value.where == where


@pytest.mark.parametrize("request_", [None, [], "sync", 1])
def test_what_is_no_request_is_refused(request_: object) -> None:
    with pytest.raises(BadInput):
        read_request(request_)
