"""The first tables: records, journal, phones, photos, and the house's own facts."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

# A row number of SQLite must be of exactly this type there.
NUMBER = sa.BigInteger().with_variant(sa.Integer(), "sqlite")


def of_every_record() -> tuple[sa.Column[Any], ...]:
    return (
        sa.Column("id", sa.String(36), nullable=False),
        sa.Column("deleted", sa.Boolean(), nullable=False),
        sa.Column("conflicts", sa.JSON()),
    )


def upgrade() -> None:
    op.create_table(
        "blob",
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("size_bytes", sa.BigInteger(), nullable=False),
        sa.Column("media_type", sa.Text(), nullable=False),
        sa.Column("stored_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("sha256", name="pk_blob"),
    )
    op.create_table(
        "box",
        *of_every_record(),
        sa.Column("tree", sa.String(36)),
        sa.Column("form", sa.Text()),
        sa.Column("length_mm", sa.BigInteger()),
        sa.Column("width_mm", sa.BigInteger()),
        sa.Column("height_mm", sa.BigInteger()),
        sa.Column("volume_l", sa.Double()),
        sa.Column("mix", sa.JSON()),
        sa.Column("boxed_on", sa.Date()),
        sa.Column("note", sa.Text()),
        sa.PrimaryKeyConstraint("id", name="pk_box"),
    )
    op.create_table(
        "consent",
        *of_every_record(),
        sa.Column("site", sa.String(36)),
        sa.Column("kind", sa.Text()),
        sa.Column("state", sa.Text()),
        sa.Column("until", sa.Date()),
        sa.Column("reference", sa.Text()),
        sa.Column("note", sa.Text()),
        sa.PrimaryKeyConstraint("id", name="pk_consent"),
    )
    op.create_table(
        "device",
        sa.Column("device", sa.String(36), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("token_hash", sa.String(64)),
        sa.Column("paired_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("last_seen_at", sa.DateTime(timezone=True)),
        sa.Column("revoked_at", sa.DateTime(timezone=True)),
        sa.PrimaryKeyConstraint("device", name="pk_device"),
        sa.UniqueConstraint("token_hash", name="uq_device_token_hash"),
    )
    op.create_table(
        "event",
        *of_every_record(),
        sa.Column("tree", sa.String(36)),
        sa.Column("site", sa.String(36)),
        sa.Column("kind", sa.Text()),
        sa.Column("happened_on", sa.Date()),
        sa.Column("note", sa.Text()),
        sa.PrimaryKeyConstraint("id", name="pk_event"),
    )
    op.create_table(
        "fix",
        *of_every_record(),
        sa.Column("tree", sa.String(36)),
        sa.Column("visit", sa.String(36)),
        sa.Column("lat", sa.Double()),
        sa.Column("lon", sa.Double()),
        sa.Column("accuracy_m", sa.Double()),
        sa.Column("height_m", sa.Double()),
        sa.Column("fixed_at", sa.DateTime(timezone=True)),
        sa.Column("source", sa.Text()),
        sa.Column("platform", sa.Text()),
        sa.PrimaryKeyConstraint("id", name="pk_fix"),
    )
    op.create_table(
        "journal",
        sa.Column("pos", NUMBER, nullable=False, autoincrement=False),
        sa.Column("dev", sa.String(36), nullable=False),
        sa.Column("seq", sa.BigInteger(), nullable=False),
        sa.Column("hash", sa.String(64), nullable=False),
        sa.Column("rec", sa.String(36)),
        sa.Column("type", sa.Text()),
        sa.Column("stamp", sa.Text()),
        sa.Column("op", sa.Text(), nullable=False),
        sa.Column("clock_suspect", sa.Boolean(), nullable=False),
        sa.Column("held", sa.Text()),
        sa.Column("taken_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("pos", name="pk_journal"),
        sa.UniqueConstraint("dev", "seq", name="uq_journal_dev_seq"),
    )
    op.create_index("ix_journal_rec", "journal", ["rec"])
    op.create_table(
        "known",
        sa.Column("dev", sa.String(36), nullable=False),
        sa.Column("upto", sa.BigInteger(), nullable=False),
        sa.PrimaryKeyConstraint("dev", name="pk_known"),
    )
    op.create_table(
        "landholder",
        *of_every_record(),
        sa.Column("name", sa.Text()),
        sa.Column("role", sa.Text()),
        sa.Column("phone", sa.Text()),
        sa.Column("email", sa.Text()),
        sa.Column("address", sa.Text()),
        sa.Column("note", sa.Text()),
        sa.PrimaryKeyConstraint("id", name="pk_landholder"),
    )
    op.create_table(
        "leave",
        *of_every_record(),
        sa.Column("site", sa.String(36)),
        sa.Column("landholder", sa.String(36)),
        sa.Column("area", sa.JSON()),
        sa.Column("starts_on", sa.Date()),
        sa.Column("ends_on", sa.Date()),
        sa.Column("withdrawn_on", sa.Date()),
        sa.Column("species", sa.JSON()),
        sa.Column("max_girth_mm", sa.BigInteger()),
        sa.Column("allowance", sa.BigInteger()),
        sa.Column("form", sa.Text()),
        sa.Column("entitled", sa.Boolean()),
        sa.Column("conditions", sa.JSON()),
        sa.Column("signed_by", sa.Text()),
        sa.Column("paper", sa.String(64)),
        sa.Column("note", sa.Text()),
        sa.PrimaryKeyConstraint("id", name="pk_leave"),
    )
    op.create_table(
        "lift",
        *of_every_record(),
        sa.Column("tree", sa.String(36)),
        sa.Column("site", sa.String(36)),
        sa.Column("leave", sa.String(36)),
        sa.Column("lifted_at", sa.DateTime(timezone=True)),
        sa.Column("lifted_on", sa.Date()),
        sa.Column("zone", sa.Text()),
        sa.Column("lat", sa.Double()),
        sa.Column("lon", sa.Double()),
        sa.Column("accuracy_m", sa.Double()),
        sa.Column("girth_mm", sa.BigInteger()),
        sa.Column("ball_diameter_mm", sa.BigInteger()),
        sa.Column("ball_depth_mm", sa.BigInteger()),
        sa.Column("roots_kept", sa.Text()),
        sa.Column("machine", sa.Boolean()),
        sa.Column("hole_filled", sa.Boolean()),
        sa.Column("kept_conditions", sa.JSON()),
        sa.Column("answer", sa.JSON()),
        sa.Column("note", sa.Text()),
        sa.PrimaryKeyConstraint("id", name="pk_lift"),
    )
    op.create_table(
        "meta",
        sa.Column("key", sa.Text(), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("key", name="pk_meta"),
    )
    op.create_table(
        "pairing_code",
        sa.Column("code_hash", sa.String(64), nullable=False),
        sa.Column("good_until", sa.DateTime(timezone=True), nullable=False),
        sa.Column("reusable", sa.Boolean(), nullable=False),
        sa.PrimaryKeyConstraint("code_hash", name="pk_pairing_code"),
    )
    op.create_table(
        "photo",
        *of_every_record(),
        sa.Column("tree", sa.String(36)),
        sa.Column("site", sa.String(36)),
        sa.Column("visit", sa.String(36)),
        sa.Column("sha256", sa.String(64)),
        sa.Column("media_type", sa.Text()),
        sa.Column("size_bytes", sa.BigInteger()),
        sa.Column("file_name", sa.Text()),
        sa.Column("taken_at", sa.DateTime(timezone=True)),
        sa.Column("taken_at_from", sa.Text()),
        sa.Column("lat", sa.Double()),
        sa.Column("lon", sa.Double()),
        sa.Column("accuracy_m", sa.Double()),
        sa.Column("height_m", sa.Double()),
        sa.Column("direction_deg", sa.Double()),
        sa.Column("orientation", sa.BigInteger()),
        sa.Column("placed_by", sa.Text()),
        sa.Column("trouble", sa.JSON()),
        sa.Column("note", sa.Text()),
        sa.PrimaryKeyConstraint("id", name="pk_photo"),
    )
    op.create_table(
        "site",
        *of_every_record(),
        sa.Column("name", sa.Text()),
        sa.Column("zone", sa.Text()),
        sa.Column("boundary", sa.JSON()),
        sa.Column("height_m", sa.Double()),
        sa.Column("protected", sa.Boolean()),
        sa.Column("services_checked_on", sa.Date()),
        sa.Column("note", sa.Text()),
        sa.PrimaryKeyConstraint("id", name="pk_site"),
    )
    op.create_table(
        "species_card",
        *of_every_record(),
        sa.Column("kind", sa.Text()),
        sa.Column("name", sa.Text()),
        sa.Column("latin", sa.Text()),
        sa.Column("card", sa.JSON()),
        sa.PrimaryKeyConstraint("id", name="pk_species_card"),
    )
    op.create_table(
        "task_state",
        *of_every_record(),
        sa.Column("task", sa.Text()),
        sa.Column("tree", sa.String(36)),
        sa.Column("state", sa.Text()),
        sa.Column("settled_on", sa.Date()),
        sa.Column("note", sa.Text()),
        sa.PrimaryKeyConstraint("id", name="pk_task_state"),
    )
    op.create_table(
        "track",
        *of_every_record(),
        sa.Column("site", sa.String(36)),
        sa.Column("visit", sa.String(36)),
        sa.Column("sha256", sa.String(64)),
        sa.Column("size_bytes", sa.BigInteger()),
        sa.Column("file_name", sa.Text()),
        sa.Column("name", sa.Text()),
        sa.Column("started_at", sa.DateTime(timezone=True)),
        sa.Column("ended_at", sa.DateTime(timezone=True)),
        sa.Column("points", sa.BigInteger()),
        sa.Column("length_m", sa.Double()),
        sa.Column("climb_m", sa.Double()),
        sa.Column("bounds", sa.JSON()),
        sa.Column("line", sa.JSON()),
        sa.Column("trouble", sa.JSON()),
        sa.PrimaryKeyConstraint("id", name="pk_track"),
    )
    op.create_table(
        "tree",
        *of_every_record(),
        sa.Column("site", sa.String(36)),
        sa.Column("tag", sa.Text()),
        sa.Column("species", sa.Text()),
        sa.Column("origin", sa.Text()),
        sa.Column("girth_mm", sa.BigInteger()),
        sa.Column("height_mm", sa.BigInteger()),
        sa.Column("condition", sa.Text()),
        sa.Column("marked_on", sa.Date()),
        sa.Column("ended_as", sa.Text()),
        sa.Column("ended_on", sa.Date()),
        sa.Column("note", sa.Text()),
        sa.PrimaryKeyConstraint("id", name="pk_tree"),
    )
    op.create_table(
        "visit",
        *of_every_record(),
        sa.Column("site", sa.String(36)),
        sa.Column("visited_on", sa.Date()),
        sa.Column("zone", sa.Text()),
        sa.Column("note", sa.Text()),
        sa.PrimaryKeyConstraint("id", name="pk_visit"),
    )
    op.create_table(
        "work",
        *of_every_record(),
        sa.Column("tree", sa.String(36)),
        sa.Column("kind", sa.Text()),
        sa.Column("done_on", sa.Date()),
        sa.Column("hours", sa.Double()),
        sa.Column("note", sa.Text()),
        sa.PrimaryKeyConstraint("id", name="pk_work"),
    )
    op.create_table(
        "wrong_try",
        sa.Column("id", NUMBER, nullable=False),
        sa.Column("tried_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_wrong_try"),
    )
