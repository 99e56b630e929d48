"""The only file that asks which database it is."""

import json
import threading
from collections.abc import Collection, Iterable, Mapping
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Connection,
    Dialect,
    Engine,
    Integer,
    Select,
    String,
    Table,
    TableClause,
    cast,
    column,
    create_engine,
    event,
    func,
    literal,
    select,
    table,
    text,
    type_coerce,
)
from sqlalchemy.dialects.postgresql import ARRAY, JSONB
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import DBAPIError
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.orm import Session
from sqlalchemy.sql.functions import FunctionElement

from service.errors import StoreUnavailable

MIGRATION_LOCK = 7_263_451  # any fixed number: one migration at a time on PostgreSQL
RETRY_STATES = frozenset({"40001", "40P01", "55P03"})  # serialisation, deadlock, lock not available


def is_sqlite(engine: Engine) -> bool:
    return engine.dialect.name == "sqlite"


def read_url(text_url: str) -> URL:
    """The database address, with the driver this program uses."""
    try:
        url = make_url(text_url)
    except Exception as error:
        raise StoreUnavailable(
            f"{text_url!r} is not a database address",
            "Write sqlite:///file.db or postgresql://user@host/name.",
        ) from error
    if url.drivername in {"postgresql", "postgres"}:
        return url.set(drivername="postgresql+psycopg")
    if url.drivername not in {"sqlite", "postgresql+psycopg"}:
        raise StoreUnavailable(
            f"{url.drivername} is not a database this program works with", "Use sqlite:/// or postgresql://."
        )
    return url


def _refuse_file(url: URL, may_be_new: bool) -> None:
    """Refuse what could never keep anything, and, unless it may be new, a file that is not there: SQLite
    makes an empty one by being asked, which would look like a house without stock."""
    named = url.database or ""
    if named.startswith("file:"):
        _refuse_options(url, _FILE_OPTIONS)
        if url.query.get("uri") != "true":
            raise StoreUnavailable("an address with file: also needs uri=true", _HOW_TO_NAME)
        named = named.removeprefix("file:")
    else:
        _refuse_options(url, {})
    if named in {"", ":memory:"}:
        raise StoreUnavailable("a database in memory is gone when the command ends", _HOW_TO_NAME)
    path = Path(named)
    if not path.parent.is_dir():
        raise StoreUnavailable(
            f"the folder {path.parent} does not exist", "Make it, or name another database file."
        )
    if path.exists() and not path.is_file() and not path.is_dir():
        raise StoreUnavailable(f"{path} is not a file", _HOW_TO_NAME)
    if not may_be_new and not path.exists():
        raise StoreUnavailable(
            "there is no such file", "Check the name; to make one, run: wattwright db upgrade"
        )


_HOW_TO_NAME = "Name a file, as in sqlite:///house.db."
_FILE_OPTIONS = {"uri": {"true"}, "mode": {"ro", "rw", "rwc"}, "immutable": {"0", "1"}}


def _refuse_options(url: URL, known: Mapping[str, Collection[str]]) -> None:
    """An option that nothing reads would look as if it were in force."""
    for name, value in url.query.items():
        if name not in known or value not in known[name]:
            said = f"{name}={value}" if isinstance(value, str) else name
            raise StoreUnavailable(
                f"{said} is not an option of a SQLite file",
                "Leave it out. Only to read: sqlite:///file:house.db?mode=ro&uri=true.",
            )


def make_engine(text_url: str, may_be_new: bool = True) -> Engine:
    """`may_be_new`: whether a SQLite file that is not there yet is made."""
    url = read_url(text_url)
    if url.drivername == "sqlite":
        _refuse_file(url, may_be_new)
        engine = create_engine(url, connect_args={"timeout": 10}, pool_size=8, max_overflow=8)
        _tame_sqlite(engine)
        return engine
    try:
        return create_engine(url, pool_pre_ping=True, pool_size=8, connect_args={"connect_timeout": 5})
    except ModuleNotFoundError as error:
        raise StoreUnavailable(
            "the PostgreSQL driver is not installed", "Install the extra: pip install 'wattwright[postgres]'."
        ) from error


def views(engine: Engine) -> tuple[Engine, Engine]:
    """(report, lookup): one snapshot over many selects, and single selects without a transaction."""
    if is_sqlite(engine):
        return engine.execution_options(begin="deferred"), engine.execution_options(begin="none")
    return (
        engine.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True),
        engine.execution_options(isolation_level="AUTOCOMMIT"),
    )


def writer_lock(engine: Engine) -> AbstractContextManager[Any]:
    """Writers of one process queue here on SQLite: its own back-off is unfair under load."""
    return threading.Lock() if is_sqlite(engine) else nullcontext()


def is_retryable(error: DBAPIError) -> bool:
    """True when the same transaction may succeed if it is simply run again."""
    if getattr(error.orig, "sqlstate", None) in RETRY_STATES:
        return True
    return str(getattr(error.orig, "sqlite_errorname", "")).startswith(("SQLITE_BUSY", "SQLITE_LOCKED"))


def is_unavailable(error: DBAPIError) -> str | None:
    """Why the database cannot be used at all, or None when the fault lies elsewhere."""
    name = str(getattr(error.orig, "sqlite_errorname", ""))
    for prefix, why in (
        ("SQLITE_READONLY", "the database file or its folder is read-only"),
        ("SQLITE_FULL", "the disk is full"),
        ("SQLITE_IOERR", "the disk does not answer as it should"),
        ("SQLITE_CANTOPEN", "the database file cannot be opened"),
        ("SQLITE_CORRUPT", "the database file is damaged"),
        ("SQLITE_NOTADB", "the file is not a database"),
    ):
        if name.startswith(prefix):
            return why
    state = str(getattr(error.orig, "sqlstate", "") or "")
    if state.startswith(("08", "57P")) or (error.connection_invalidated and not name):
        return "the PostgreSQL server does not answer"
    if state.startswith("53"):
        return "the PostgreSQL server has no room left"
    if state == "25006":
        return "the PostgreSQL server is read-only"
    if state.startswith(("28", "3D")):
        return f"the PostgreSQL server refuses: {str(error.orig).strip()}"
    if type(error.orig).__name__ == "OperationalError" and not name and not state:
        # A connection that is turned away carries no state, only what the server said last.
        _, fatal, said = str(error.orig).partition("FATAL:")
        if fatal:
            return f"the PostgreSQL server refuses: {said.strip().splitlines()[0]}"
        return "the PostgreSQL server does not answer"
    return None


def spoken_by(asker: Session | Connection) -> Dialect:
    """What the database that is asked understands."""
    return asker.connection().dialect if isinstance(asker, Session) else asker.dialect


class CodePoints(FunctionElement[str]):
    """Text that is ordered by its code points: SQLite does so unless told otherwise, PostgreSQL by the
    language its database was made for."""

    inherit_cache = True
    type = String()


@compiles(CodePoints)
def _as_it_is(element: CodePoints, compiler: Any, **how: Any) -> str:
    return str(compiler.process(element.clauses, **how))


@compiles(CodePoints, "postgresql")
def _in_the_c_collation(element: CodePoints, compiler: Any, **how: Any) -> str:
    return f'({compiler.process(element.clauses, **how)} COLLATE "C")'


def beneath(dialect: Dialect, stood_in_for: Table) -> TableClause:
    """The table itself, inside a WITH of the same name that stands in for it: SQLite would otherwise take the
    name for the WITH."""
    columns = (column(c.name, c.type) for c in stood_in_for.c)
    schema = {"schema": "main"} if dialect.name == "sqlite" else {}
    return table(stood_in_for.name, *columns, **schema)


def among(dialect: Dialect, number: Any, ids: Iterable[int]) -> ColumnElement[bool]:
    """Whether the number is one of these, which are given to the database in one piece: another statement for
    every count of them costs more than asking it."""
    given = list(ids)
    found: ColumnElement[bool]
    if dialect.name == "sqlite":
        found = number.in_(select(func.json_each(json.dumps(given)).table_valued("value").c.value))
    else:
        found = literal(given, ARRAY(Integer)).any_() == number
    return found


def rows_given(dialect: Dialect, like: Table, rows: list[dict[str, Any]]) -> Select[Any]:
    """A select of these rows, given to the database in one piece, with the columns and types of `like`."""
    if dialect.name != "sqlite":
        given = cast(literal(json.dumps(rows, default=str), String), JSONB)
        columns = [column(c.name, c.type) for c in like.c]
        return select(func.jsonb_to_recordset(given).table_valued(*columns).render_derived(with_types=True))
    keeps = {c.name: c.type.dialect_impl(dialect).bind_processor(dialect) for c in like.c}
    kept = [{n: v if (keep := keeps[n]) is None else keep(v) for n, v in row.items()} for row in rows]
    each = func.json_each(json.dumps(kept)).table_valued("value")
    read = (
        type_coerce(func.json_extract(each.c.value, f'$."{c.name}"'), c.type).label(c.name) for c in like.c
    )
    return select(*read)


def begin_migration(connection: Connection) -> None:
    """Take the only migration slot. On SQLite foreign keys are off meanwhile: with them on, a batch rebuild
    drops a table and empties its children through their cascades. Checked again in `end_migration`."""
    if connection.dialect.name == "sqlite":
        connection.exec_driver_sql("PRAGMA foreign_keys = OFF")
        connection.exec_driver_sql("PRAGMA busy_timeout = 60000")
        connection.exec_driver_sql("BEGIN IMMEDIATE")
    else:
        connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": MIGRATION_LOCK})


def end_migration(connection: Connection) -> None:
    if connection.dialect.name == "sqlite":
        broken = connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()
        if broken:
            raise StoreUnavailable(
                f"the upgrade would leave {len(broken)} rows pointing at nothing; it was not done",
                "Restore a copy of the database and report what this program printed.",
            )


def _tame_sqlite(engine: Engine) -> None:
    @event.listens_for(engine, "connect")
    def _on_connect(connection: Any, _record: Any) -> None:
        connection.isolation_level = None  # we say BEGIN ourselves; the driver's own opens none for SELECT
        for pragma in ("busy_timeout = 10000", "foreign_keys = ON", "synchronous = NORMAL"):
            connection.execute(f"PRAGMA {pragma}")
        try:
            connection.execute("PRAGMA journal_mode = WAL")
        except Exception as error:
            if not str(getattr(error, "sqlite_errorname", "")).startswith(
                ("SQLITE_READONLY", "SQLITE_CANTOPEN")
            ):
                raise  # a read-only file can still be read; writing says so when it is tried

    @event.listens_for(engine, "begin")
    def _on_begin(connection: Connection) -> None:
        how = connection.get_execution_options().get("begin", "immediate")
        if how != "none":
            connection.exec_driver_sql("BEGIN" if how == "deferred" else "BEGIN IMMEDIATE")
