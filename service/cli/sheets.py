"""`wattwright sheets`: what may be written in a sheet."""

import click

from service.cli.house import json_option
from service.cli.terminal.show import print_json
from service.errors import BadRequest
from service.paper.bring_in import NAMES, describe, describe_text
from service.paper.reading import name_key


@click.command()
@click.argument("name", required=False)
@json_option
def command(name: str | None, as_json: bool) -> None:
    """List the sheets that can be brought in, or the columns of the one NAMED."""
    sheets = describe()
    if name is not None:
        wanted = NAMES.get(name_key(name))
        sheets = tuple(sheet for sheet in sheets if sheet.name == wanted)
        if not sheets:
            raise BadRequest(f"there is no sheet {name!r}", "List them: wattwright sheets")
    if as_json:
        print_json(sheets)
    elif name is None:
        for sheet in sheets:
            must = ", ".join(column.name for column in sheet.columns if column.required)
            click.echo(f"{sheet.name:18} each row is {sheet.row_is}; must have: {must}")
        click.echo("\nThe columns of one: wattwright sheets NAME")
    else:
        texts = describe_text().split("\n\n")
        click.echo(next(text for text in texts if text.startswith(f"{sheets[0].name}: ")))
