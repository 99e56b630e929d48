"""`wattwright retire`: a thing taken out of use, or brought back."""

from typing import Any

import click

from service.cli.house import database_option, json_option, server_option
from service.cli.terminal.show import print_json
from service.cli.things.far import door
from service.cli.things.naming import kind_argument, kind_named, listing_of


@click.command()
@kind_argument
@click.argument("key")
@click.option("--restore", is_flag=True, help="Bring it back instead.")
@click.option("--version", type=click.IntRange(1), help="Only if it is still at this version.")
@database_option
@server_option
@json_option
def command(kind: str, key: str, restore: bool, version: int | None, **how: Any) -> None:
    """Take a thing out of use: wattwright retire supply PS-61. What it did stays on record.

    A tag is never used again. What something in use depends on is refused, with what to do first.
    """
    found = kind_named(kind)
    with door(how["database"], how["server"]) as there:
        row = there.restore(found, key, version) if restore else there.retire(found, key, version)
    if how["as_json"]:
        print_json(row)
        return
    done = "is back in use" if restore else "is retired" if listing_of(found).is_tagged else "is taken out"
    click.echo(f"{row[listing_of(found).key_name] if listing_of(found).is_tagged else key} {done}")
