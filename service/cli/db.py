"""`wattwright db`: the shape of the database."""

import click

from service.cli.house import database_option, json_option, opened, settings_for
from service.cli.terminal.show import print_json
from service.config import without_password
from service.store import schema


@click.group()
def command() -> None:
    """Bring the database up to date, or check it. A copy beforehand costs nothing: make one."""


@command.command()
@database_option
@json_option
def upgrade(database: str | None, as_json: bool) -> None:
    """Make an empty database, or bring an older one up to this program; all of it or nothing."""
    settings = settings_for(database).changed(server=None)
    with opened(settings, is_any_version=True) as store:
        before, now = schema.upgrade(store.engine)
    address = without_password(settings.database_url)
    if as_json:
        print_json({"database": address, "before": before, "now": now})
    elif before == now:
        click.echo(f"{address}: already at {now}")
    else:
        click.echo(f"{address}: from {before or 'empty'} to {now}")


@command.command()
@database_option
@json_option
def check(database: str | None, as_json: bool) -> None:
    """Say whether the database is at this program's version. Ends with 3 if it is not."""
    settings = settings_for(database).changed(server=None)
    with opened(settings):
        now = schema.newest()
    address = without_password(settings.database_url)
    if as_json:
        print_json({"database": address, "now": now})
    else:
        click.echo(f"{address}: at {now}, as this program wants it")
