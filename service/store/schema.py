"""The shape of the database: bring it up to date, or say why it cannot be used.

The migrations stand at the top level of the source and inside the package when installed.
"""

from contextlib import nullcontext, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from sqlalchemy import Connection, Engine, inspect, select, table
from sqlalchemy.exc import DBAPIError

from service.errors import StoreUnavailable, WrongVersion
from service.store import dialect

if TYPE_CHECKING:
    from alembic.config import Config


def migrations_folder() -> Path:
    """Where the migration scripts are."""
    here = Path(__file__).resolve().parents[1]
    for folder in (here / "migrations", here.parent / "migrations"):
        if (folder / "env.py").is_file():
            return folder
    raise StoreUnavailable("the migration scripts are missing", "Install the program again.")


def _config(connection: Connection | None = None) -> "Config":
    # Alembic costs 0.2 s to import; only commands that touch the schema pay it.
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(migrations_folder()))
    config.set_main_option("path_separator", "os")
    if connection is not None:
        config.attributes["connection"] = connection
    return config


def newest() -> str:
    """The revision this program was written for."""
    from alembic.script import ScriptDirectory

    head = ScriptDirectory.from_config(_config()).get_current_head()
    assert head is not None
    return head


def current(engine: Engine) -> str | None:
    """The revision the database is at; None when it is empty."""
    from alembic.runtime.migration import MigrationContext

    with engine.connect() as connection:
        return MigrationContext.configure(connection).get_current_revision()


def refuse_unless(connection: Connection, revision: str) -> None:
    """Refuse a database that is not at `revision`: one select, cheap enough for every look at the health."""
    try:
        found = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
    except DBAPIError as error:
        if dialect.is_unavailable(error):
            raise
        found = None  # no such table: an empty database
    if found != revision:
        raise WrongVersion(
            f"the database is at {found}, this program wants {revision}", "Run: wattwright db upgrade"
        )


def _known(revision: str) -> bool:
    from alembic.script import ScriptDirectory

    return any(s.revision == revision for s in ScriptDirectory.from_config(_config()).walk_revisions())


def move(engine: Engine, revision: str = "head", downwards: bool = False) -> None:
    """Bring the database to `revision` in one transaction; processes that try together wait."""
    from alembic import command

    with engine.execution_options(begin="none").connect() as connection:
        dialect.begin_migration(connection)
        try:
            config = _config(connection)
            (command.downgrade if downwards else command.upgrade)(config, revision)
            dialect.end_migration(connection)
        except BaseException:
            _close(connection, "ROLLBACK")
            raise
        _close(connection, "COMMIT")
        # The pooled connection has foreign keys off by now; it must not be used again.
        connection.invalidate()


def _close(connection: Connection, word: str) -> None:
    if connection.dialect.name == "sqlite":
        # A full disk makes SQLite roll back by itself; there is nothing left to roll back then.
        with suppress(DBAPIError) if word == "ROLLBACK" else nullcontext():
            connection.exec_driver_sql(word)
    elif word == "COMMIT":
        connection.commit()
    else:
        connection.rollback()


def upgrade(engine: Engine) -> tuple[str | None, str]:
    """(revision before, revision now). Refuses a database made by a newer program."""
    before = read_revision(engine)
    if before is not None and not _known(before):
        raise newer_than_program(before)
    try:
        move(engine)
    except DBAPIError as error:
        why = dialect.is_unavailable(error)
        if why is None:
            raise
        raise StoreUnavailable(
            f"{why}; the database is as it was", "Put that right and run it again."
        ) from error
    return before, newest()


def read_revision(engine: Engine) -> str | None:
    """Like `current`, with a plain refusal when the database cannot be reached or read."""
    try:
        found = current(engine)
        if found is None and set(inspect(engine).get_table_names()) - {"alembic_version"}:
            raise WrongVersion(
                "the database holds tables of another program",
                "Name an empty database, or one made by this program.",
            )
        return found
    except DBAPIError as error:
        why = dialect.is_unavailable(error) or str(error.orig)
        raise StoreUnavailable(
            f"{why}", "Check the database address and that the server or disk is there."
        ) from error


def newer_than_program(revision: str) -> WrongVersion:
    return WrongVersion(
        f"the database is at {revision}, which this program does not know: it was made by a newer one",
        "Install the newer program again, or name another database.",
    )


def check(engine: Engine) -> None:
    """Refuse a database that is not exactly at this program's revision."""
    found = read_revision(engine)
    if found == newest():
        return
    if found is None:
        raise WrongVersion("the database is empty", "Run: wattwright db upgrade")
    if not _known(found):
        raise newer_than_program(found)
    raise WrongVersion(
        f"the database is at {found}, this program wants {newest()}", "Run: wattwright db upgrade"
    )


def is_empty(engine: Engine) -> bool:
    """Whether nothing at all is stored; a database without tables is empty too."""
    tables = sorted(set(inspect(engine).get_table_names()) - {"alembic_version"})
    with engine.connect() as connection:
        return not any(connection.scalar(select(1).select_from(table(name)).limit(1)) for name in tables)
