"""`wattwright add`: a new thing of any kind."""

from typing import Any

import click

from service.cli.house import database_option, json_option, server_option
from service.cli.terminal.show import print_json
from service.cli.things.far import door
from service.cli.things.naming import body, kind_argument, kind_named, listing_of, values_argument
from service.cli.things.showing import print_thing


@click.command()
@kind_argument
@values_argument
@database_option
@server_option
@json_option
def command(kind: str, values: tuple[str, ...], **how: Any) -> None:
    """Add a thing: wattwright add supply tag=PS-61 model=S320 bin=B1.

    Figures carry their unit ("lead=16 ft"); a field goes by its name in the API or by its head in a sheet.
    The kinds and their fields: wattwright kinds.
    """
    found = kind_named(kind)
    with door(how["database"], how["server"]) as there:
        row: dict[str, Any] = there.make(found, body(found, values))
    if how["as_json"]:
        print_json(row)
    else:
        print_thing(listing_of(found), row)
