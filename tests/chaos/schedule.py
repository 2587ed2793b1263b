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
STORIES_OF_TEN = 4  # so many of ten schedules follow a story; chance alone seldom gets that far


class Chance(random.Random):
    """Decides what goes wrong on the way: how often anything does, how often a phone dies, and what is favoured."""

    def __init__(self, seed: int, mood: str = "") -> None:
        super().__init__(seed)
        self.spoils, self.dies, self.favours = {
            "": (0.3, 0.02, ""),
            "rash": (0.0, 0.0, ""),
            "calm": (0.0, 0.0, ""),  # what is sent is cut into pieces all the same
            "dies": (0.3, 0.5, ""),
        }.get(mood, (0.8, 0.02, mood))
        self.rash = 1.0 if mood == "rash" else 0.2  # it sends without a look first


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
    steps: list[Step] = _story(chance) if chance.randrange(10) < STORIES_OF_TEN else []
    told = len(steps)
    for number in range(chance.randint(0 if steps else 3, max(1, longest - told) if steps else longest)):
        step = _step(chance, told + number)
        if step[0] == "restore" and not any(one[0] == "backup" for one in steps):
            step = ["backup", None]  # there has to be one before it can be put back
        steps.insert(chance.randint(0, len(steps)) if told else len(steps), step)
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


def _story(chance: random.Random) -> list[Step]:
    """A chain of steps of which each makes sense after the one before: without it they seldom meet."""
    rec, other = chance.sample(RECORDS, 2)
    one, two = chance.sample(range(2), 2)
    which, sure = chance.randrange(3), lambda who: ["sync", who, None]

    def unsure(who: int, mood: str) -> Step:
        return ["sync", who, chance.getrandbits(30), mood]

    def edit(who: int, of: str, field: str, token: int) -> Step:
        return ["edit", who, of, field, token]

    # fmt: off
    stories: list[list[Step]] = [
        # What was read at home and then lost there, and what came to stand in its place.
        [edit(one, rec, "tag", 101), edit(one, rec, "girth_mm", 100), sure(one), ["backup", None],
         edit(two, other, "tag", 102), sure(two), sure(one), ["restore", 0, None], ["desk", other, "girth_mm", 103],
         sure(one), sure(two)],
        [["desk", rec, "tag", 101], ["backup", None], ["desk", rec, "girth_mm", 102], sure(one),
         edit(one, rec, "girth_mm", 104), ["restore", 0, None], ["desk", rec, "girth_mm", 103], sure(two), sure(one)],
        # The home dies between two commits.
        [edit(one, rec, "tag", 101), edit(two, other, "tag", 102), ["kill", [chance.randint(2, 5), "commit"], False],
         unsure(one, "rash"), sure(two), sure(one)],
        # A photo that home had, and has no longer.
        [["photo", one, rec, which, 101], edit(two, rec, "tag", 102), sure(two), ["backup", None], sure(one),
         sure(two), ["restore", 0, None], sure(two), sure(one)],
        # The power goes while a photo comes, or while a backup takes its place.
        [["photo", one, rec, 2, 101], ["kill", [chance.randint(1, 12), "file"], chance.random() < 0.7],
         unsure(one, "calm"), sure(one)],
        [edit(one, rec, "tag", 101), ["photo", one, rec, which, 101], sure(one), ["backup", None],
         edit(two, rec, "tag", 102), sure(two), ["restore", 0, [chance.randint(1, 30), "file"]], sure(one), sure(two)],
        # A phone and its copy of which one is gone before the other comes.
        [edit(one, rec, "tag", 101), sure(one), ["clone", one], edit(one, rec, "girth_mm", 102), sure(one),
         ["wipe", one], edit(-1, rec, "girth_mm", 103), unsure(-1, "rash")],
        # A phone and its copy, both at work.
        [edit(one, rec, "tag", 101), ["clone", one], edit(one, rec, "girth_mm", 102), edit(-1, other, "tag", 103),
         sure(one), sure(-1), edit(-1, other, "girth_mm", 104), sure(-1), sure(one)],
        # A phone that dies over what it reads.
        [edit(one, rec, "tag", 101), edit(one, other, "tag", 102), sure(one), unsure(two, "dies"), unsure(two, "dies")],
        # A line on which something else answers.
        [edit(one, rec, "tag", 101), sure(one), ["photo", two, rec, which, 102], unsure(two, "other's JSON"),
         unsure(one, "other's JSON")],
    ]
    # fmt: on
    return chance.choice(stories)


def picture(number: int) -> bytes:
    """The bytes of a photo: the same number is the same photo, whoever takes it."""
    return random.Random(number).randbytes((900, 2500, 6000)[number % 3])
