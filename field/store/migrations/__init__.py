"""The tables' history: each step from one form of the tables to the next, kept for ever."""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from sqlalchemy.engine import Connection


def bring_up(connection: Connection) -> bool:
    """Bring the tables of a database up to this version, inside the transaction of a connection.

    Returns: whether they stood there in an older form: the journal may then hold what the new tables can show.
    """
    before = MigrationContext.configure(connection).get_current_revision()
    config = Config()
    # A percent sign in the folder's name would be taken for a setting's name.
    config.set_main_option("script_location", str(Path(__file__).parent).replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, "head")
    return before not in (None, MigrationContext.configure(connection).get_current_revision())
