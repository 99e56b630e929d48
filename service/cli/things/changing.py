"""`wattwright change`: what is known of a thing, put right."""

from typing import Any

import click

from service.cli.house import database_option, json_option, server_option
from service.cli.terminal.show import print_json
from service.cli.things.far import door
from service.cli.things.naming import body, kind_argument, kind_named, listing_of, values_argument
from service.cli.things.showing import print_thing


@click.command()
@kind_argument
@click.argument("key")
@values_argument
@click.option("--version", type=click.IntRange(1), help="Only if it is still at this version.")
@database_option
@server_option
@json_option
def command(kind: str, key: str, values: tuple[str, ...], version: int | None, **how: Any) -> None:
    """Change a thing: wattwright change decoder DC-32 state=faulty "state_note=channel 3 dead".

    Only what is named is changed; FIELD= with nothing behind it empties what may be empty.
    """
    if not values:
        raise click.UsageError("Name at least one FIELD=VALUE to change.")
    found = kind_named(kind)
    with door(how["database"], how["server"]) as there:
        row = there.change(found, key, body(found, values), version)
    if how["as_json"]:
        print_json(row)
    else:
        print_thing(listing_of(found), row)
