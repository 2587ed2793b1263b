"""One site of the demo while it is being loaded: its plan, what its keys became, and the records to write."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from typing import Any

from field.services.demo_walk import read_day

Row = tuple[str, str, dict[str, Any]]


def new_id() -> str:
    return str(uuid.uuid4())


def instant(at: datetime) -> str:
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.") + f"{at.microsecond // 1000:03d}Z"


def iso(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


@dataclass(slots=True)
class DemoSite:
    """A site with everything on it; `rows` are written in one go when all of it is put together."""

    plan: Mapping[str, Any]
    today: date
    collector: Mapping[str, Any]  # who keeps the log
    site: str = field(default_factory=new_id)
    landholders: dict[str, str] = field(default_factory=dict)
    leaves: dict[str, str] = field(default_factory=dict)
    trees: dict[str, str] = field(default_factory=dict)
    lifted_on: dict[str, date] = field(default_factory=dict)
    known_on: dict[str, date] = field(default_factory=dict)  # since when a consent stands in the log, where it is told
    rows: list[Row] = field(default_factory=list)
    photos: int = 0

    @property
    def zone(self) -> str:
        return str(self.plan["site"]["zone"])

    def day(self, text: str | None, tag: str | None = None) -> date | None:
        return read_day(text, self.today, self.lifted_on.get(tag or ""))

    def past(self, text: str, tag: str | None = None) -> date | None:
        """Return the day, or None where it lies ahead: it has not happened yet."""
        day = self.day(text, tag)
        return day if day is not None and day <= self.today else None

    def put(self, kind: str, fields: dict[str, Any], rec: str | None = None) -> str:
        """Put a record in and return its id."""
        rec = rec or new_id()
        self.rows.append((kind, rec, fields))
        return rec

    def put_so_far(self, kind: str) -> list[dict[str, Any]]:
        """Return the records of a type that are in, each with its id."""
        return [{"id": rec, **fields} for one, rec, fields in self.rows if one == kind]
