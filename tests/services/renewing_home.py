"""A home as its verb serves it, but that looks every moment at what is due, and takes its addresses from a file.

Called as: renewing_home.py DATA PORT SETUP_PORT; DATA/addresses.txt holds one address a line.
"""

from __future__ import annotations

import sys
from functools import partial
from ipaddress import IPv4Address
from pathlib import Path

from field.services.home_name import HomeName
from field.services.serve_home import Home, Ways, serve_home
from field.web.app import create_app
from field.web.setup_page import create_setup_app


def main(data: Path, port: int, setup_port: int) -> None:
    def list_addresses() -> list[IPv4Address]:
        return [IPv4Address(line) for line in (data / "addresses.txt").read_text(encoding="utf-8").split()]

    def make_app(told: dict[str, str]) -> partial[object]:
        return partial(create_app, data, "", told)

    ways = Ways(
        make_app,
        create_setup_app,
        lambda setup: print("started", setup.address, flush=True),
        partial(print, flush=True),
        list_addresses=list_addresses,
        look_every_s=0.1,
    )
    serve_home(Home(data, "0.0.0.0", HomeName("hut", port), setup_port, is_announced=False), ways)


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
