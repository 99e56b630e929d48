"""What nearly every command needs: its settings, and the database they name, fit for use."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TypeVar

import click

from service.config import Settings, read_settings, without_password
from service.errors import StoreUnavailable, WrongVersion
from service.store import schema
from service.store.work import Store

BY = "command line"
F = TypeVar("F", bound=Callable[..., object])


def database_option(command: F) -> F:
    what = "sqlite:///FILE or postgresql://USER@HOST/NAME, instead of the one set."
    return click.option("--database", metavar="URL", help=what)(command)


def json_option(command: F) -> F:
    return click.option("--json", "as_json", is_flag=True, help="One JSON document, for scripts.")(command)


def as_of_option(command: F) -> F:
    return click.option("--as-of", metavar="DAY", help="Ask as of this day (YYYY-MM-DD).")(command)


def settings_for(database: str | None = None, as_of: str | None = None, **options: object) -> Settings:
    """The settings in force, with what the command's own options put in their place."""
    return read_settings(database_url=database, today=as_of, **options)


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
    """The database, once it is known to be at this program's version (unless any will do, or none yet)."""
    with where(settings):
        store = Store(settings.database_url, may_be_new=is_any_version)
        try:
            if not is_any_version:
                schema.check(store.engine)
            yield store
        finally:
            store.close()
