"""The tables' history: each step from one form of the tables to the next, kept for ever."""

from __future__ import annotations

import functools
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy.engine import Connection


def bring_up(connection: Connection) -> bool:
    """Bring the tables of a database up to this version, inside the transaction of a connection.

    Returns: whether they stood there in an older form: the journal may then hold what the new tables can show.
    """
    before = MigrationContext.configure(connection).get_current_revision()
    if before == _newest():
        return False  # as at nearly every start: to run through the steps costs more than all the rest of one
    config = _config()
    config.attributes["connection"] = connection
    command.upgrade(config, "head")
    return before is not None


@functools.cache
def _newest() -> str | None:
    return ScriptDirectory.from_config(_config()).get_current_head()


def _config() -> Config:
    config = Config()
    # A percent sign in the folder's name would be taken for a setting's name.
    config.set_main_option("script_location", str(Path(__file__).parent).replace("%", "%%"))
    return config
