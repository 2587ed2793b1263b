"""Who gets in: what a paired device may do, the owner's sign-ins; and that a person was forgotten."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    for table in ("device", "pairing_code"):
        op.add_column(table, sa.Column("role", sa.Text(), nullable=False, server_default="full"))
    op.add_column("wrong_try", sa.Column("kind", sa.Text(), nullable=False, server_default="code"))
    op.add_column("blob", sa.Column("backed_up_at", sa.DateTime(timezone=True)))
    op.create_table(
        "sign_in",
        sa.Column("token_hash", sa.String(64), nullable=False),
        sa.Column("device", sa.String(36)),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("used_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("token_hash", name="pk_sign_in"),
    )
    op.create_table(
        "forgetting",
        sa.Column("id", sa.String(36), nullable=False),
        sa.Column("deleted", sa.Boolean(), nullable=False),
        sa.Column("conflicts", sa.JSON()),
        sa.Column("about", sa.String(36)),
        sa.Column("blanks", sa.JSON()),
        sa.Column("keeps", sa.JSON()),
        sa.Column("files", sa.JSON()),
        sa.Column("forgotten_on", sa.Date()),
        sa.Column("note", sa.Text()),
        sa.PrimaryKeyConstraint("id", name="pk_forgetting"),
    )
