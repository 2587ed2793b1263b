"""Hybrid logical clock: stamps that rise on one device whatever its clock does, and sort as text.

A stamp is '<12 hex ms>-<4 hex counter>-<device>'. Twin of static/js/core/hlc.js (tests/vectors/hlc.json).
Source: Kulkarni et al. 2014, "Logical Physical Clocks" (Buffalo technical report 2014-04).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

MOST_MS = 2**48 - 1
MOST_COUNT = 0xFFFF
# A stamp further ahead of one's own clock than this does not carry that clock along.
AHEAD_MS = 10 * 60 * 1000
# 2024-01-01T00:00:00Z: no clock of a running app shows less, unless it is wrong.
EARLIEST_MS = 1704067200000

STAMP = re.compile(r"([0-9a-f]{12})-([0-9a-f]{4})-(.+)", re.ASCII)


@dataclass(frozen=True, slots=True, order=True)
class Clock:
    """Where a device's clock stands: the greatest milliseconds seen, and a counter within them."""

    ms: int = 0
    count: int = 0


@dataclass(frozen=True, slots=True)
class Stamp:
    """One read stamp."""

    clock: Clock
    dev: str


def tick(clock: Clock, now_ms: float) -> Clock:
    """Return the clock after one change of this device.

    Args:
        clock: where it stood.
        now_ms: what the device's own clock says, milliseconds since 1970; anything outside 48 bits is brought inside,
            for a save never fails because of the clock.
    Returns: always greater than `clock`, save at the very end of the 48 bits.
    """
    ms = max(clock.ms, _in_range(now_ms))
    return _carry(ms, clock.count + 1 if ms == clock.ms else 0)


def receive(clock: Clock, seen: Clock, now_ms: float) -> Clock:
    """Return the clock after seeing another device's stamp; greater than both.

    Args:
        clock: where it stood.
        seen: the other's. A suspect one must not be given here: see `is_suspect`.
        now_ms: as for `tick`.
    """
    ms = max(clock.ms, seen.ms, _in_range(now_ms))
    if ms == clock.ms and ms == seen.ms:
        return _carry(ms, max(clock.count, seen.count) + 1)
    if ms == clock.ms:
        return _carry(ms, clock.count + 1)
    if ms == seen.ms:
        return _carry(ms, seen.count + 1)
    return Clock(ms, 0)


def write_stamp(clock: Clock, dev: str) -> str:
    """Return the text of a stamp; texts of stamps sort as the stamps do."""
    return f"{clock.ms:012x}-{clock.count:04x}-{dev}"


def find_stamp(text: object) -> Stamp | None:
    """Return the stamp that a text is, None when it is none."""
    found = STAMP.fullmatch(text) if isinstance(text, str) else None
    return None if found is None else Stamp(Clock(int(found[1], 16), int(found[2], 16)), found[3])


def is_suspect(seen: Clock, now_ms: float) -> bool:
    """Return whether a stamp's clock is not to be believed: over ten minutes ahead of one's own, or before 2024."""
    return seen.ms > _in_range(now_ms) + AHEAD_MS or seen.ms < EARLIEST_MS


def _in_range(ms: float) -> int:
    if ms != ms or ms in (float("inf"), float("-inf")):
        return 0
    return min(MOST_MS, max(0, int(ms // 1)))


def _carry(ms: int, count: int) -> Clock:
    """A full counter runs over into the next millisecond; at the very end of time it stays."""
    if count <= MOST_COUNT:
        return Clock(ms, count)
    return Clock(ms + 1, 0) if ms < MOST_MS else Clock(ms, MOST_COUNT)
