"""What happens in one schedule, made from its seed alone: a list of steps that can be run again, or shortened."""

from __future__ import annotations

import random
from dataclasses import dataclass
from typing import Any

DAY_MS = 86_400_000
RECORDS = tuple(f"aaaaaaaa-0000-4000-8000-{number:012d}" for number in range(3))
FIELDS = ("tag", "girth_mm")
# Clocks that are right, that run ahead of what is believed or just not, behind, and out of all reason.
DRIFTS_MS = (0, 0, 0, 9 * 60_000, 11 * 60_000, -DAY_MS, DAY_MS, 730 * DAY_MS, -60 * 365 * DAY_MS)
WEIGHTS = {
    "edit": 30,
    "sync": 34,
    "photo": 9,
    "remove": 6,
    "kill": 9,
    "stop": 2,
    "backup": 4,
    "restore": 7,
    "rebuild": 2,
    "clock": 4,
    "clone": 6,
    "wipe": 2,
    "revoke": 2,
    "desk": 3,
    "bad": 2,
}

Step = list[Any]


@dataclass(frozen=True)
class Schedule:
    """One schedule. `phones` and `steps` name things by number; numbers too large begin again at 0."""

    seed: int
    drifts: tuple[int, ...]  # of each phone's clock at the beginning, ms
    browsers: tuple[bool, ...]  # which phones are the app's own modules in a browser
    steps: tuple[Step, ...]


def make(seed: int, browser: bool = False, longest: int = 10) -> Schedule:
    """Return the schedule of a seed.

    Args:
        browser: whether one or two of its phones are browsers.
        longest: most steps.
    """
    chance = random.Random(f"{seed} {browser}")
    phones = chance.choice((2, 2, 3))
    steps: list[Step] = []
    for number in range(chance.randint(3, longest)):
        step = _step(chance, number)
        if step[0] == "restore" and not any(one[0] == "backup" for one in steps):
            step = ["backup", None]  # there has to be one before it can be put back
        steps.append(step)
    browsers = [browser and number < chance.choice((1, 2)) for number in range(phones)]
    return Schedule(seed, tuple(chance.choice(DRIFTS_MS) for _ in range(phones)), tuple(browsers), tuple(steps))


def _step(chance: random.Random, number: int) -> Step:
    verb = chance.choices(list(WEIGHTS), list(WEIGHTS.values()))[0]
    who, rec, token = chance.randrange(4), chance.choice(RECORDS), number + 1
    # Most of the work on a home is left alone; the rest is killed at one of its moments.
    kill_at = chance.randint(1, 60) if chance.random() < 0.4 else None
    return {
        "edit": ["edit", who, rec, chance.choice(FIELDS), token],
        "sync": ["sync", who, chance.getrandbits(30)],
        "photo": ["photo", who, rec, chance.randrange(3), token],
        "remove": ["remove", who, rec, chance.random() < 0.7],
        "kill": ["kill", chance.randint(1, 90), chance.random() < 0.5],
        "stop": ["stop"],
        "backup": ["backup", kill_at],
        "restore": ["restore", chance.randrange(4), kill_at],
        "rebuild": ["rebuild", kill_at],
        "clock": ["clock", who, chance.choice(DRIFTS_MS)],
        "clone": ["clone", who],
        "wipe": ["wipe", who],
        "revoke": ["revoke", who],
        "desk": ["desk", rec, chance.choice(FIELDS), token],
        "bad": ["bad", who, rec],
    }[verb]


def picture(number: int) -> bytes:
    """The bytes of a photo: the same number is the same photo, whoever takes it."""
    return random.Random(number).randbytes((900, 2500, 6000)[number % 3])
