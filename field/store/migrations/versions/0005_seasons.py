"""Seasons and aftercare: gardens, weather by day, a place's own days, figures of a work, photos of events and ticks."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("site", sa.Column("shift_days", sa.BigInteger()))
    op.add_column("work", sa.Column("detail", sa.JSON()))
    op.add_column("photo", sa.Column("event", sa.String(36)))
    op.add_column("photo", sa.Column("task_state", sa.String(36)))
    op.add_column("tree", sa.Column("stands_at", sa.String(36)))
    op.create_table(
        "garden",
        sa.Column("id", sa.String(36), nullable=False),
        sa.Column("deleted", sa.Boolean(), nullable=False),
        sa.Column("conflicts", sa.JSON()),
        sa.Column("name", sa.Text()),
        sa.Column("lat", sa.Double()),
        sa.Column("lon", sa.Double()),
        sa.Column("height_m", sa.Double()),
        sa.Column("zone", sa.Text()),
        sa.Column("shift_days", sa.BigInteger()),
        sa.Column("is_main", sa.Boolean()),
        sa.Column("note", sa.Text()),
        sa.PrimaryKeyConstraint("id", name="pk_garden"),
    )
    op.create_table(
        "weather_day",
        sa.Column("id", sa.String(36), nullable=False),
        sa.Column("deleted", sa.Boolean(), nullable=False),
        sa.Column("conflicts", sa.JSON()),
        sa.Column("site", sa.String(36)),
        sa.Column("day_on", sa.Date()),
        sa.Column("tmin_c", sa.Double()),
        sa.Column("tmax_c", sa.Double()),
        sa.Column("how", sa.Text()),
        sa.Column("batch", sa.Text()),
        sa.Column("note", sa.Text()),
        sa.PrimaryKeyConstraint("id", name="pk_weather_day"),
    )
