"""The clock: hand-worked cases, and that stamps rise whatever the machine's clock does."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from field.sync.hlc import (
    AHEAD_MS,
    EARLIEST_MS,
    MOST_MS,
    Clock,
    find_stamp,
    is_suspect,
    receive,
    tick,
    write_stamp,
)

VECTORS = json.loads((Path(__file__).parent.parent / "vectors" / "hlc.json").read_text(encoding="utf-8"))


def clock(data: dict[str, int]) -> Clock:
    return Clock(data["l"], data["c"])


def told(found: Clock) -> dict[str, int]:
    return {"l": found.ms, "c": found.count}


def run(call: str, given_: dict[str, Any]) -> Any:
    if call == "tick":
        return told(tick(clock(given_["clock"]), given_["now_ms"]))
    if call == "receive":
        return told(receive(clock(given_["clock"]), clock(given_["seen"]), given_["now_ms"]))
    if call == "is_suspect":
        return is_suspect(clock(given_["seen"]), given_["now_ms"])
    if call == "write":
        return write_stamp(clock(given_["clock"]), given_["dev"])
    if call == "sort":
        return sorted(given_["stamps"])
    found = find_stamp(given_["stamp"])
    return None if found is None else {**told(found.clock), "dev": found.dev}


@pytest.mark.parametrize("case", VECTORS["cases"], ids=lambda case: f"{case['call']}: {case['name']}")
def test_case_worked_by_hand(case: dict[str, Any]) -> None:
    assert run(case["call"], case["input"]) == case["expect"]


START_MS = EARLIEST_MS + 10**11
# Clocks that run, stick, jump back and jump ahead.
STEPS = st.lists(st.sampled_from([0, 0, 1, 1, 7, -5, -86_400_000, 86_400_000 * 700]), min_size=1, max_size=40)


@given(STEPS)
def test_stamps_of_one_device_rise_whatever_its_clock_does(steps: list[int]) -> None:
    now_ms, standing, stamps = START_MS, Clock(), []
    for step in steps:
        now_ms += step
        standing = tick(standing, now_ms)
        stamps.append(write_stamp(standing, "a"))
    assert stamps == sorted(set(stamps))


@given(st.builds(Clock, st.integers(0, MOST_MS - 1), st.integers(0, 0xFFFF)), st.floats())
def test_a_tick_rises_from_any_standing_at_any_reading(standing: Clock, now_ms: float) -> None:
    assert tick(standing, now_ms) > standing


CLOCKS = st.builds(Clock, st.integers(START_MS, START_MS + 3), st.one_of(st.integers(0, 3), st.just(0xFFFF)))


@given(CLOCKS, CLOCKS, st.integers(START_MS - 2, START_MS + 5))
def test_after_receiving_the_clock_is_past_both(standing: Clock, seen: Clock, now_ms: int) -> None:
    assert receive(standing, seen, now_ms) > max(standing, seen)


@given(CLOCKS, STEPS)
def test_a_believed_stamp_cannot_push_the_clock_more_than_ten_minutes_ahead(seen: Clock, steps: list[int]) -> None:
    now_ms, standing = START_MS, Clock()
    for step in steps:
        now_ms = START_MS + abs(step) % 1000
        if not is_suspect(seen, now_ms):
            standing = receive(standing, seen, now_ms)
        standing = tick(standing, now_ms)
    assert standing.ms <= START_MS + 1000 + AHEAD_MS


@given(st.builds(Clock, st.integers(0, MOST_MS), st.integers(0, 0xFFFF)))
def test_a_stamp_is_read_back_as_it_was_written(standing: Clock) -> None:
    found = find_stamp(write_stamp(standing, "a-b"))
    assert found is not None
    assert (found.clock, found.dev) == (standing, "a-b")


@given(CLOCKS, CLOCKS)
def test_texts_sort_as_the_clocks_do(one: Clock, other: Clock) -> None:
    assert (write_stamp(one, "a") < write_stamp(other, "a")) == (one < other)
