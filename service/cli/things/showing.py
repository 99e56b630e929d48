"""`wattwright show`: one thing, whole."""

from typing import Any

import click

from service.cli.house import database_option, json_option, server_option
from service.cli.terminal.show import print_json, show, table
from service.cli.things.far import door
from service.cli.things.naming import kind_argument, kind_named, listing_of
from service.store.listing import Listing, Row, plain_text


@click.command()
@kind_argument
@click.argument("key")
@click.option("--history", is_flag=True, help="What was changed of it, when and by whom.")
@database_option
@server_option
@json_option
def command(kind: str, key: str, history: bool, **how: Any) -> None:
    """Show one thing: KIND and its tag. What has no tag goes by its number or its names: "SQ/Ice wall"."""
    found = kind_named(kind)
    with door(how["database"], how["server"]) as there:
        document: Any = list(there.history(found, key)) if history else there.one(found, key)
    if how["as_json"]:
        print_json(document)
    elif history:
        print_history(document)
    else:
        print_thing(listing_of(found), document)


def print_thing(listing: Listing, row: Row) -> None:
    cells = [
        (f.name, plain_text(row[f.name]), f.doc) for f in listing.fields if row[f.name] not in (None, "")
    ]
    cells += [(child.name, child.text(row[child.name]), child.doc) for child in listing.children]
    show(table("", ["field", "value", "what it is"], cells))


def print_history(rows: list[Row]) -> None:
    heads = ["when", "who", "what", "kind", "column", "before", "after"]
    show(table("", heads, [line for row in rows for line in _lines(row)]))


def _lines(row: Row) -> list[list[str]]:
    before, after = row["before"] or {}, row["after"] or {}
    head = [plain_text(row["at"]), row["by"], row["what"], row["kind"]]
    names = [n for n in dict.fromkeys([*before, *after]) if before.get(n) != after.get(n)]
    if not names or row["what"] != "changed":
        return [[*head, "", "", ""]]
    return [[*head, n, plain_text(before.get(n)), plain_text(after.get(n))] for n in names]
