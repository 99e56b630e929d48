"""`wattwright list`: things of a kind."""

from typing import Any

import click

from service.api.conventions.formats import listing_sheet
from service.cli.house import as_of_option, database_option, json_option, server_option
from service.cli.terminal.show import print_json, show, table
from service.cli.things.far import door
from service.cli.things.naming import kind_argument, kind_named, listing_of
from service.store.listing import Listing, Row, plain_text

WIDEST = 24  # a column that is wider on average is left to --csv and --json
QUIET = {"changed_at", "id"}


@click.command()
@kind_argument
@click.argument("asked", nargs=-1, metavar="[FIELD=VALUE]...")
@click.option("--csv", "as_csv", is_flag=True, help="Comma-separated values, every column.")
@as_of_option
@database_option
@server_option
@json_option
def command(kind: str, asked: tuple[str, ...], as_csv: bool, as_of: str | None, **how: Any) -> None:
    """List the things of a KIND, only those with FIELD=VALUE: wattwright list supplies model=S320.

    Also: sort=-FIELD, q=TEXT. The kinds: wattwright kinds.
    """
    if as_csv and how["as_json"]:
        raise click.UsageError("Give --csv or --json, not both.")
    found = kind_named(kind)
    filters = dict(_filter(word) for word in asked)
    if as_of is not None:
        filters["as_of"] = as_of
    with door(how["database"], how["server"]) as there:
        rows = list(there.rows(found, filters))
    if how["as_json"]:
        print_json(rows)
    elif as_csv:
        click.echo(bytes(listing_sheet(listing_of(found), rows, {}).body).decode(), nl=False)
    else:
        print_rows(listing_of(found), rows)


def _filter(word: str) -> tuple[str, str]:
    name, equals, value = word.partition("=")
    if not equals:
        raise click.UsageError(f"{word!r} is not FIELD=VALUE.")
    return name.strip().replace("-", "_"), value.strip()


def print_rows(listing: Listing, rows: list[Row]) -> None:
    """What is filled in, in the order of the list, as far as a terminal is wide."""
    names = [f.name for f in listing.fields if f.name not in QUIET or not listing.is_tagged]
    names = [n for n in names if n != "changed_at" and any(r[n] not in (None, "") for r in rows)]
    children = {child.name: child for child in listing.children if rows}
    cells = [
        [*(plain_text(row[n]) for n in names), *(c.text(row[c.name]) for c in children.values())]
        for row in rows
    ]
    show(table("", [*names, *children], cells))
    click.echo(f"{len(rows)} {listing.plural if len(rows) != 1 else listing.one.partition(' ')[2]}", err=True)
