"""What nearly every command needs: its settings, and the database they name, fit for use."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TypeVar

import click

from service.client import Wattwright
from service.config import Settings, read_settings, without_password
from service.errors import BadSetting, StoreUnavailable, WrongVersion
from service.store import schema
from service.store.work import Store

BY = "command line"
SERVER = "WATTWRIGHT_SERVER"
F = TypeVar("F", bound=Callable[..., object])


def database_option(command: F) -> F:
    what = "sqlite:///FILE or postgresql://USER@HOST/NAME, instead of the one set."
    return click.option("--database", metavar="URL", help=what)(command)


def server_option(command: F) -> F:
    what = "http://HOST:PORT of a running service, to be asked instead of a database."
    return click.option("--server", metavar="URL", help=what)(command)


def json_option(command: F) -> F:
    return click.option("--json", "as_json", is_flag=True, help="One JSON document, for scripts.")(command)


def as_of_option(command: F) -> F:
    return click.option("--as-of", metavar="DAY", help="Ask as of this day (YYYY-MM-DD).")(command)


def settings_for(database: str | None = None, as_of: str | None = None, **options: object) -> Settings:
    """The settings in force, with what the command's own options put in their place. A database named by an
    option is meant, whatever service is set."""
    if database is not None and options.get("server") is not None:
        raise click.UsageError("Give --database or --server, not both.")
    settings = read_settings(database_url=database, today=as_of, **options)
    return settings if database is None else settings.changed(server=None)


def asking(settings: Settings) -> Wattwright:
    """The service that is set; its refusals name it."""
    assert settings.server is not None
    return Wattwright(settings.server, BY)


@contextmanager
def where(settings: Settings) -> Iterator[None]:
    """Says which database it was that refused."""
    try:
        yield
    except (StoreUnavailable, WrongVersion) as error:
        address = without_password(settings.database_url)
        raise type(error)(f"{address}: {error.message}", error.mend) from error


@contextmanager
def opened(settings: Settings, is_any_version: bool = False) -> Iterator[Store]:
    """The database, once it is known to be at this program's version (unless any will do, or none yet).

    Refused where a service is set: what is asked of one house must not be answered by another.
    """
    if settings.server is not None:
        raise BadSetting(
            [f"{SERVER} is set, and this command asks a database only; name one with --database"]
        )
    with where(settings):
        store = Store(settings.database_url, may_be_new=is_any_version)
        try:
            if not is_any_version:
                schema.check(store.engine)
            yield store
        finally:
            store.close()
