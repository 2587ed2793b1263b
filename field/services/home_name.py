"""The name a home goes by on its own network, chosen once and kept with the data.

A phone keeps its log under the address it was opened at, name and port. So the address is remembered, and names that a
home had before go on being answered to.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from pathlib import Path

from field.core.errors import BadInput, StoreTrouble
from field.store.files import replacing

FILE_NAME = "home.json"
USUAL_NAME = "fellside"
ENDING = ".local"  # RFC 6762: names that the machines of one network tell each other, with nobody else asked
# RFC 1035, 2.3.1 and 2.3.4, as RFC 1123, 2.1 eased it: up to 63 letters, figures and hyphens, none of these at an end.
LABEL = re.compile(r"[a-z0-9](?:[a-z0-9-]{0,61}[a-z0-9])?")
MOST_FORMER = 8
MOST_TEXT = 200


@dataclass(frozen=True, slots=True)
class HomeName:
    """How a home is reached: `https://<name>.local:<port>`."""

    name: str
    port: int
    former: tuple[str, ...] = ()  # names it had before, the latest first

    @property
    def hosts(self) -> tuple[str, ...]:
        """The chosen name first, then those it had before, then the machine's name for itself."""
        return (*(name + ENDING for name in (self.name, *self.former)), "localhost")

    @property
    def address(self) -> str:
        """The one address that phones are to open."""
        return address_at(self.name + ENDING, self.port)


def address_at(host: str, port: int) -> str:
    """Return an https address as a browser writes it, which leaves the usual port out."""
    return f"https://{host}" if port == 443 else f"https://{host}:{port}"


def check_name(text: str) -> str:
    """Return a name as it is kept, `hut` for `Hut.local`.

    Raises: BadInput (home-name).
    """
    name = text[:MOST_TEXT].strip().lower().removesuffix(ENDING)
    if LABEL.fullmatch(name) is None or name == "localhost":
        raise BadInput(
            "A home's name is of letters a to z, figures and hyphens, 63 at most.", "Try hut, or north-barn.",
            code="home-name",
        )  # fmt: skip
    return name


def choose_name(data: Path, name: str | None, port: int | None, usual_port: int) -> tuple[HomeName, HomeName | None]:
    """Return how a home is to be reached, and how it was reached before if that was otherwise; see `remember_name`.

    Args:
        data: the data folder.
        name, port: as said on the call; None: as remembered, else the usual ones.
        usual_port: taken when none was ever chosen.
    Raises: BadInput for a name that is none; StoreTrouble when what was remembered cannot be read.
    """
    said = None if name is None else check_name(name)
    try:
        before = read_name(data)
    except StoreTrouble:
        if said is None or port is None:
            raise  # a guess would leave every phone without its home
        before = None
    if before is None:
        chosen = HomeName(said or USUAL_NAME, usual_port if port is None else port)
    else:
        now = said or before.name
        former = tuple(old for old in (before.name, *before.former) if old != now)[:MOST_FORMER]
        chosen = HomeName(now, before.port if port is None else port, former)
    return chosen, before if before is not None and before.address != chosen.address else None


def remember_name(data: Path, chosen: HomeName) -> None:
    """Keep how a home is reached, for every later start."""
    told = {"name": chosen.name, "port": chosen.port, "former": chosen.former}
    with replacing(data / FILE_NAME) as out:
        out.write(json.dumps(told).encode("utf-8"))


def read_name(data: Path) -> HomeName | None:
    """Return what was remembered; None when nothing was chosen yet.

    Raises: StoreTrouble (home-name) when it cannot be read.
    """
    file = data / FILE_NAME
    try:
        told = json.loads(file.read_bytes())
        port = told["port"]
        if not isinstance(port, int) or not 0 < port < 65536:
            raise ValueError(port)
        return HomeName(check_name(told["name"]), port, tuple(map(check_name, told["former"])))
    except FileNotFoundError:
        return None
    except (OSError, ValueError, KeyError, TypeError, AttributeError, BadInput):
        raise StoreTrouble(
            f"The file {file}, which holds the name of this home, cannot be read.",
            "Say both --name and --port once more as they were.",
            code="home-name",
        ) from None
