"""How the steps are run: on the connection that is handed over, in its transaction."""

from __future__ import annotations

from alembic import context

from field.store.tables import METADATA

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=METADATA,
    render_as_batch=True,  # SQLite cannot alter a column in place
)
context.run_migrations()
