"""Leave in full: who holds the ground, papers, signings, what to check for the ground."""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def of_every_record() -> tuple[sa.Column[Any], ...]:
    return (
        sa.Column("id", sa.String(36), nullable=False),
        sa.Column("deleted", sa.Boolean(), nullable=False),
        sa.Column("conflicts", sa.JSON()),
    )


def upgrade() -> None:
    op.add_column("site", sa.Column("country", sa.Text()))
    for name, kind in (
        ("by_role", sa.Text()),
        ("by_right", sa.Text()),
        ("renews", sa.String(36)),
        ("given_on", sa.Date()),
        ("methods", sa.JSON()),
        ("withdrawn_how", sa.Text()),
    ):
        op.add_column("leave", sa.Column(name, kind))
    for name, kind in (
        ("name", sa.Text()),
        ("starts_on", sa.Date()),
        ("authority", sa.Text()),
        ("phone", sa.Text()),
    ):
        op.add_column("consent", sa.Column(name, kind))
    op.add_column("photo", sa.Column("shows", sa.Text()))
    op.add_column("task_state", sa.Column("site", sa.String(36)))
    op.create_table(
        "collector",
        *of_every_record(),
        sa.Column("name", sa.Text()),
        sa.Column("phone", sa.Text()),
        sa.Column("email", sa.Text()),
        sa.Column("address", sa.Text()),
        sa.PrimaryKeyConstraint("id", name="pk_collector"),
    )
    op.create_table(
        "holding",
        *of_every_record(),
        sa.Column("site", sa.String(36)),
        sa.Column("landholder", sa.String(36)),
        sa.Column("role", sa.Text()),
        sa.Column("by_right", sa.Text()),
        sa.Column("note", sa.Text()),
        sa.PrimaryKeyConstraint("id", name="pk_holding"),
    )
    op.create_table(
        "paper",
        *of_every_record(),
        sa.Column("leave", sa.String(36)),
        sa.Column("consent", sa.String(36)),
        sa.Column("sha256", sa.String(64)),
        sa.Column("media_type", sa.Text()),
        sa.Column("size_bytes", sa.BigInteger()),
        sa.Column("file_name", sa.Text()),
        sa.Column("added_on", sa.Date()),
        sa.Column("note", sa.Text()),
        sa.PrimaryKeyConstraint("id", name="pk_paper"),
    )
    op.create_table(
        "signing",
        *of_every_record(),
        sa.Column("leave", sa.String(36)),
        sa.Column("version", sa.BigInteger()),
        sa.Column("letter", sa.JSON()),
        sa.Column("strokes", sa.JSON()),
        sa.Column("name", sa.Text()),
        sa.Column("role", sa.Text()),
        sa.Column("place", sa.Text()),
        sa.Column("lat", sa.Double()),
        sa.Column("lon", sa.Double()),
        sa.Column("accuracy_m", sa.Double()),
        sa.Column("signed_at", sa.DateTime(timezone=True)),
        sa.Column("signed_on", sa.Date()),
        sa.Column("zone", sa.Text()),
        sa.Column("paper", sa.String(64)),
        sa.Column("content_sha256", sa.String(64)),
        sa.PrimaryKeyConstraint("id", name="pk_signing"),
    )
    op.create_table(
        "ground_check",
        *of_every_record(),
        sa.Column("site", sa.String(36)),
        sa.Column("question", sa.Text()),
        sa.Column("answer", sa.Text()),
        sa.Column("settled_on", sa.Date()),
        sa.Column("told_by", sa.Text()),
        sa.Column("reference", sa.Text()),
        sa.Column("note", sa.Text()),
        sa.PrimaryKeyConstraint("id", name="pk_ground_check"),
    )
