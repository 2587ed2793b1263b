"""The long form of tests/web/test_random_requests.py, by hand: python tests/fuzz_routes.py HOW_MANY [FIRST_SEED].

It stops at the first answer that no answer may be, and says which request it was.
"""

from __future__ import annotations

import sys
import tempfile
import time

from argon2 import PasswordHasher
from builders import PHONE
from random_requests import a_house, ask

from field.services import owner
from field.web.app import create_app

A_HOUSE = 2000  # requests; then a new one


def main(how_many: int, first: int = 0) -> None:
    """Send so many random requests, each as nobody and as a paired phone."""
    owner.HASHER = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    slowest = (0.0, "")
    for begin in range(first, first + how_many, A_HOUSE):
        with tempfile.TemporaryDirectory() as folder:
            app = create_app(folder, "")
            house = a_house(app, PHONE)
            client, stranger = app.test_client(), app.test_client()
            for seed in range(begin, min(begin + A_HOUSE, first + how_many)):
                began = time.perf_counter()
                said = ask(house, client, seed, paired=True)
                slowest = max(slowest, (time.perf_counter() - began, said))
                ask(house, stranger, seed, paired=False)
        print(
            f"{seed + 1 - first} seeds; {dict(sorted(house.statuses.items()))}; slowest {slowest[0]:.2f} s", flush=True
        )
    print(slowest[1])


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:3]))
