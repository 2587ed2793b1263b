"""Questions before a cut: hand-written ones with their answers, and many more made at random for the phone's twin."""

from __future__ import annotations

import datetime as dt
import random
from typing import Any

from field.core.ask_dates import asked_traits, find_asked
from field.core.ask_lines import ASKED
from field.core.species import load_cards
from field.core.windows import climate_at

EVENTS = ("bud_swell", "bud_break", "flush_hardened", "leaf_colour", "leaf_fall", "frost")


def question(kind: str, work: str, on: str, lat: float = 52.0, height_m: float = 0.0, **told: Any) -> dict[str, Any]:
    """A question about a settled tree of a kind at a place, with what else is told of it."""
    card = load_cards()[kind]
    found: Any = find_asked(card, climate_at(lat, height_m), dt.date.fromisoformat(on), 400)
    return {
        "work": work, "on": on, "name": card.name, "stage": "working", "traits": asked_traits(card),
        "windows": found["windows"][work], "spans": found["spans"], "never": found["never"].get(work), "seen": {},
        "lifted_on": "2019-03-10", "repotted_on": None, "cut_mm": None, "strong": None, "leaf_share": None,
        "root_mm": None, **told,
    }  # fmt: skip


def make_questions(seed: int, count: int) -> list[dict[str, Any]]:
    """Questions of every kind, work, place and season, with events seen early, late and never."""
    chance = random.Random(seed)
    kinds = sorted(load_cards())
    made = []
    for _ in range(count):
        on = dt.date(2026, 1, 1) + dt.timedelta(days=chance.randrange(900))
        seen = {
            event: [
                (on + dt.timedelta(days=chance.randint(-250, 60))).isoformat() for _ in range(chance.choice((0, 1, 2)))
            ]
            for event in EVENTS
        }
        lifted = chance.choice([None, (on - dt.timedelta(days=chance.randrange(1, 2500))).isoformat()])
        made.append(
            question(
                chance.choice(kinds), chance.choice(ASKED), on.isoformat(),
                lat=chance.choice((-41.0, 37.5, 52.0, 57.2, 64.0)), height_m=chance.choice((0.0, 350.0, 1400.0)),
                seen=chance.choice(({}, seen)), lifted_on=lifted, repotted_on=lifted,
                stage=chance.choice(("working", "gaining", "settling", "marked", "lost")),
                cut_mm=chance.choice((None, 4, 20, 21, 30, 31, 55)), strong=chance.choice((None, False, True)),
                leaf_share=chance.choice((None, 0.3, 0.9)), root_mm=chance.choice((None, 5, 40)),
            )
        )  # fmt: skip
    return made
