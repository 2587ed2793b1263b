"""Phones told apart: which is a copy of which, the app that each runs, and who tried a wrong code or passphrase."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("device", sa.Column("copy_of", sa.String(36)))
    op.add_column("device", sa.Column("app", sa.Text()))
    op.add_column("wrong_try", sa.Column("caller", sa.Text(), nullable=False, server_default=""))
