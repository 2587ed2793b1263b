"""The tables: a class for each record type with its real columns, and the house's own books.

The record tables are a projection of the journal: nothing is written to them but by `projection`, and they can be made
again at any time. Their columns are those of core/records.py; a test holds the two together. References between records
have no foreign keys: a tree may come home before its site does.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from types import MappingProxyType
from typing import Annotated, Any

from sqlalchemy import BigInteger, Double, Index, Integer, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from field.store.engine import Base, Json, Utc

Ref = Annotated[str, mapped_column(String(36))]
Sha256 = Annotated[str, mapped_column(String(64))]
Words = Annotated[str, mapped_column(Text)]
Whole = Annotated[int, mapped_column(BigInteger)]
Real = Annotated[float, mapped_column(Double)]
Instant = Annotated[dt.datetime, mapped_column(Utc)]
JsonValue = Annotated[Any, mapped_column(Json)]


class Record(Base):
    """What every record table has."""

    __abstract__ = True

    id: Mapped[str] = mapped_column(String(36), primary_key=True)
    deleted: Mapped[bool]
    conflicts: Mapped[JsonValue | None]  # {field: [{value, stamp, dev, wall}]}; None: nothing to settle


class Site(Record):
    __tablename__ = "site"
    name: Mapped[Words | None]
    zone: Mapped[Words | None]
    boundary: Mapped[JsonValue | None]
    height_m: Mapped[Real | None]
    protected: Mapped[bool | None]
    services_checked_on: Mapped[dt.date | None]
    country: Mapped[Words | None]
    shift_days: Mapped[Whole | None]
    note: Mapped[Words | None]


class Collector(Record):
    __tablename__ = "collector"
    name: Mapped[Words | None]
    phone: Mapped[Words | None]
    email: Mapped[Words | None]
    address: Mapped[Words | None]


class Landholder(Record):
    __tablename__ = "landholder"
    name: Mapped[Words | None]
    role: Mapped[Words | None]
    phone: Mapped[Words | None]
    email: Mapped[Words | None]
    address: Mapped[Words | None]
    note: Mapped[Words | None]


class Holding(Record):
    __tablename__ = "holding"
    site: Mapped[Ref | None]
    landholder: Mapped[Ref | None]
    role: Mapped[Words | None]
    by_right: Mapped[Words | None]
    note: Mapped[Words | None]


class Leave(Record):
    __tablename__ = "leave"
    site: Mapped[Ref | None]
    landholder: Mapped[Ref | None]
    by_role: Mapped[Words | None]
    by_right: Mapped[Words | None]
    renews: Mapped[Ref | None]
    given_on: Mapped[dt.date | None]
    area: Mapped[JsonValue | None]
    starts_on: Mapped[dt.date | None]
    ends_on: Mapped[dt.date | None]
    withdrawn_on: Mapped[dt.date | None]
    withdrawn_how: Mapped[Words | None]
    species: Mapped[JsonValue | None]
    max_girth_mm: Mapped[Whole | None]
    allowance: Mapped[Whole | None]
    methods: Mapped[JsonValue | None]
    form: Mapped[Words | None]
    entitled: Mapped[bool | None]
    conditions: Mapped[JsonValue | None]
    signed_by: Mapped[Words | None]
    paper: Mapped[Sha256 | None]
    note: Mapped[Words | None]


class Consent(Record):
    __tablename__ = "consent"
    site: Mapped[Ref | None]
    kind: Mapped[Words | None]
    name: Mapped[Words | None]
    state: Mapped[Words | None]
    starts_on: Mapped[dt.date | None]
    until: Mapped[dt.date | None]
    reference: Mapped[Words | None]
    authority: Mapped[Words | None]
    phone: Mapped[Words | None]
    note: Mapped[Words | None]


class Paper(Record):
    __tablename__ = "paper"
    leave: Mapped[Ref | None]
    consent: Mapped[Ref | None]
    sha256: Mapped[Sha256 | None]
    media_type: Mapped[Words | None]
    size_bytes: Mapped[Whole | None]
    file_name: Mapped[Words | None]
    added_on: Mapped[dt.date | None]
    note: Mapped[Words | None]


class Signing(Record):
    __tablename__ = "signing"
    leave: Mapped[Ref | None]
    version: Mapped[Whole | None]
    letter: Mapped[JsonValue | None]
    strokes: Mapped[JsonValue | None]
    name: Mapped[Words | None]
    role: Mapped[Words | None]
    place: Mapped[Words | None]
    lat: Mapped[Real | None]
    lon: Mapped[Real | None]
    accuracy_m: Mapped[Real | None]
    signed_at: Mapped[Instant | None]
    signed_on: Mapped[dt.date | None]
    zone: Mapped[Words | None]
    paper: Mapped[Sha256 | None]
    content_sha256: Mapped[Sha256 | None]


class GroundCheck(Record):
    __tablename__ = "ground_check"
    site: Mapped[Ref | None]
    question: Mapped[Words | None]
    answer: Mapped[Words | None]
    settled_on: Mapped[dt.date | None]
    told_by: Mapped[Words | None]
    reference: Mapped[Words | None]
    note: Mapped[Words | None]


class Tree(Record):
    __tablename__ = "tree"
    site: Mapped[Ref | None]
    tag: Mapped[Words | None]
    species: Mapped[Words | None]
    origin: Mapped[Words | None]
    girth_mm: Mapped[Whole | None]
    height_mm: Mapped[Whole | None]
    condition: Mapped[Words | None]
    marked_on: Mapped[dt.date | None]
    ended_as: Mapped[Words | None]
    ended_on: Mapped[dt.date | None]
    stands_at: Mapped[Ref | None]
    note: Mapped[Words | None]


class Garden(Record):
    __tablename__ = "garden"
    name: Mapped[Words | None]
    lat: Mapped[Real | None]
    lon: Mapped[Real | None]
    height_m: Mapped[Real | None]
    zone: Mapped[Words | None]
    shift_days: Mapped[Whole | None]
    is_main: Mapped[bool | None]
    note: Mapped[Words | None]


class Fix(Record):
    __tablename__ = "fix"
    tree: Mapped[Ref | None]
    visit: Mapped[Ref | None]
    lat: Mapped[Real | None]
    lon: Mapped[Real | None]
    accuracy_m: Mapped[Real | None]
    height_m: Mapped[Real | None]
    fixed_at: Mapped[Instant | None]
    source: Mapped[Words | None]
    platform: Mapped[Words | None]


class Visit(Record):
    __tablename__ = "visit"
    site: Mapped[Ref | None]
    visited_on: Mapped[dt.date | None]
    zone: Mapped[Words | None]
    note: Mapped[Words | None]


class Lift(Record):
    __tablename__ = "lift"
    tree: Mapped[Ref | None]
    site: Mapped[Ref | None]
    leave: Mapped[Ref | None]
    lifted_at: Mapped[Instant | None]
    lifted_on: Mapped[dt.date | None]
    zone: Mapped[Words | None]
    lat: Mapped[Real | None]
    lon: Mapped[Real | None]
    accuracy_m: Mapped[Real | None]
    girth_mm: Mapped[Whole | None]
    ball_diameter_mm: Mapped[Whole | None]
    ball_depth_mm: Mapped[Whole | None]
    roots_kept: Mapped[Words | None]
    machine: Mapped[bool | None]
    hole_filled: Mapped[bool | None]
    kept_conditions: Mapped[JsonValue | None]
    answer: Mapped[JsonValue | None]
    note: Mapped[Words | None]


class Photo(Record):
    __tablename__ = "photo"
    tree: Mapped[Ref | None]
    site: Mapped[Ref | None]
    visit: Mapped[Ref | None]
    sha256: Mapped[Sha256 | None]
    media_type: Mapped[Words | None]
    size_bytes: Mapped[Whole | None]
    file_name: Mapped[Words | None]
    taken_at: Mapped[Instant | None]
    taken_at_from: Mapped[Words | None]
    lat: Mapped[Real | None]
    lon: Mapped[Real | None]
    accuracy_m: Mapped[Real | None]
    height_m: Mapped[Real | None]
    direction_deg: Mapped[Real | None]
    orientation: Mapped[Whole | None]
    placed_by: Mapped[Words | None]
    shows: Mapped[Words | None]
    event: Mapped[Ref | None]
    task_state: Mapped[Ref | None]
    trouble: Mapped[JsonValue | None]
    note: Mapped[Words | None]


class Track(Record):
    __tablename__ = "track"
    site: Mapped[Ref | None]
    visit: Mapped[Ref | None]
    sha256: Mapped[Sha256 | None]
    size_bytes: Mapped[Whole | None]
    file_name: Mapped[Words | None]
    name: Mapped[Words | None]
    started_at: Mapped[Instant | None]
    ended_at: Mapped[Instant | None]
    points: Mapped[Whole | None]
    length_m: Mapped[Real | None]
    climb_m: Mapped[Real | None]
    bounds: Mapped[JsonValue | None]
    line: Mapped[JsonValue | None]
    trouble: Mapped[JsonValue | None]


class Event(Record):
    __tablename__ = "event"
    tree: Mapped[Ref | None]
    site: Mapped[Ref | None]
    kind: Mapped[Words | None]
    happened_on: Mapped[dt.date | None]
    note: Mapped[Words | None]


class Work(Record):
    __tablename__ = "work"
    tree: Mapped[Ref | None]
    kind: Mapped[Words | None]
    done_on: Mapped[dt.date | None]
    hours: Mapped[Real | None]
    detail: Mapped[JsonValue | None]
    note: Mapped[Words | None]


class TaskState(Record):
    __tablename__ = "task_state"
    task: Mapped[Words | None]
    tree: Mapped[Ref | None]
    site: Mapped[Ref | None]
    state: Mapped[Words | None]
    settled_on: Mapped[dt.date | None]
    note: Mapped[Words | None]


class WeatherDay(Record):
    __tablename__ = "weather_day"
    site: Mapped[Ref | None]
    day_on: Mapped[dt.date | None]
    tmin_c: Mapped[Real | None]
    tmax_c: Mapped[Real | None]
    how: Mapped[Words | None]
    batch: Mapped[Words | None]
    note: Mapped[Words | None]


class SpeciesCard(Record):
    __tablename__ = "species_card"
    kind: Mapped[Words | None]
    name: Mapped[Words | None]
    latin: Mapped[Words | None]
    card: Mapped[JsonValue | None]


class Box(Record):
    __tablename__ = "box"
    tree: Mapped[Ref | None]
    form: Mapped[Words | None]
    length_mm: Mapped[Whole | None]
    width_mm: Mapped[Whole | None]
    height_mm: Mapped[Whole | None]
    volume_l: Mapped[Real | None]
    mix: Mapped[JsonValue | None]
    boxed_on: Mapped[dt.date | None]
    note: Mapped[Words | None]


class Forgetting(Record):
    __tablename__ = "forgetting"
    about: Mapped[Ref | None]
    blanks: Mapped[JsonValue | None]
    keeps: Mapped[JsonValue | None]
    files: Mapped[JsonValue | None]
    forgotten_on: Mapped[dt.date | None]
    note: Mapped[Words | None]


RECORD_TABLES: Mapping[str, type[Record]] = MappingProxyType(
    {
        table.__tablename__: table
        for table in (
            Site, Collector, Landholder, Holding, Leave, Consent, Paper, Signing, GroundCheck, Tree, Fix, Visit, Lift,
            Photo, Track, Event, Work, TaskState, Garden, WeatherDay, SpeciesCard, Box, Forgetting,
        )
    }
)  # fmt: skip


class JournalRow(Base):
    """One change as it arrived; rows are only ever added."""

    __tablename__ = "journal"
    __table_args__ = (UniqueConstraint("dev", "seq"), Index(None, "rec"))

    # The place in the journal, numbered by the writing transaction itself: no gaps, none visible late.
    pos: Mapped[int] = mapped_column(
        BigInteger().with_variant(Integer, "sqlite"), primary_key=True, autoincrement=False
    )
    dev: Mapped[Ref]
    seq: Mapped[Whole]
    hash: Mapped[Sha256]  # of the change's written form
    rec: Mapped[Ref | None]  # None where the change does not say
    type: Mapped[Words | None]
    stamp: Mapped[Words | None]
    op: Mapped[Words]  # JSON in ASCII, so that every database keeps every sign as it came
    clock_suspect: Mapped[bool]
    held: Mapped[Words | None]  # why it takes no part; None: it does
    taken_at: Mapped[Instant]


class KnownRow(Base):
    """How far the journal knows a device's changes without a gap."""

    __tablename__ = "known"
    dev: Mapped[str] = mapped_column(String(36), primary_key=True)
    upto: Mapped[Whole]


class DeviceRow(Base):
    """A paired phone. Its token is kept only as a hash."""

    __tablename__ = "device"
    device: Mapped[str] = mapped_column(String(36), primary_key=True)
    name: Mapped[Words]
    token_hash: Mapped[Sha256 | None] = mapped_column(unique=True)  # None: it syncs with the token of another
    paired_at: Mapped[Instant]
    last_seen_at: Mapped[Instant | None]
    revoked_at: Mapped[Instant | None]
    role: Mapped[Words] = mapped_column(default="full", server_default="full")  # full, or record: may only record
    copy_of: Mapped[Ref | None]  # the phone whose token it showed when it came under a name of its own
    app: Mapped[Words | None]  # the version of the app it runs, as it told it last


class PairingCodeRow(Base):
    """A code by which one phone may be paired."""

    __tablename__ = "pairing_code"
    code_hash: Mapped[str] = mapped_column(String(64), primary_key=True)
    good_until: Mapped[Instant]
    reusable: Mapped[bool]
    role: Mapped[Words] = mapped_column(default="full", server_default="full")  # of the phone that is paired by it


class SignInRow(Base):
    """The owner, signed in by the passphrase in one browser; its secret is kept only as a hash."""

    __tablename__ = "sign_in"
    token_hash: Mapped[str] = mapped_column(String(64), primary_key=True)
    device: Mapped[Ref | None]
    made_at: Mapped[Instant]
    used_at: Mapped[Instant]


class WrongTryRow(Base):
    """A wrong pairing code or passphrase that was tried."""

    __tablename__ = "wrong_try"
    id: Mapped[int] = mapped_column(BigInteger().with_variant(Integer, "sqlite"), primary_key=True)
    tried_at: Mapped[Instant]
    kind: Mapped[Words] = mapped_column(default="code", server_default="code")  # code or passphrase
    caller: Mapped[Words] = mapped_column(default="", server_default="")  # who tried; see services/wrong_tries.py


class BlobRow(Base):
    """A photo, track or paper that is wholly here, checked and lasting."""

    __tablename__ = "blob"
    sha256: Mapped[str] = mapped_column(String(64), primary_key=True)
    size_bytes: Mapped[Whole]
    media_type: Mapped[Words]
    stored_at: Mapped[Instant]
    backed_up_at: Mapped[Instant | None]  # the first good backup with it in; by this a phone may let its own go


class MetaRow(Base):
    """Single facts of the house: its epoch, its own device, where its clock stands."""

    __tablename__ = "meta"
    key: Mapped[str] = mapped_column(Text, primary_key=True)
    value: Mapped[Words]


METADATA = Base.metadata
