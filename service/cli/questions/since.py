"""`wattwright changes`: what moved in a show since a day, a plan or a print."""

from typing import Any
from urllib.parse import quote

import click

from service.cli.house import asking, database_option, json_option, opened, server_option, settings_for
from service.cli.terminal.show import print_json, show, table
from service.planning.since.asking import Span, relabel, since


@click.command()
@click.argument("production", metavar="CODE")
@click.option("--since", "start", required=True, metavar="POINT", help="A day, plan:N or print:N.")
@click.option("--until", "end", metavar="POINT", help="The same; now, if not given.")
@click.option("--relabel", "is_relabel", is_flag=True, help="Only the leads to be labelled anew, by place.")
@database_option
@server_option
@json_option
def command(production: str, start: str, end: str | None, is_relabel: bool, **how: Any) -> None:
    """Say what moved in the show CODE: elements, feeds, addresses, where gear stands, loads of supplies.

    A POINT is a day (2026-11-20, at its end), a plan (plan:2) or a print (print:3).
    """
    settings = settings_for(how["database"], server=how["server"])
    rows: list[dict[str, Any]]
    if settings.server is not None:
        with asking(settings) as client:
            path = f"/productions/{quote(production, safe='')}/{'relabel' if is_relabel else 'changes'}"
            rows = client.ask("GET", path, params={"since": start, "until": end}).json()
    else:
        with opened(settings) as store, store.reading() as session:
            ask: Any = relabel if is_relabel else since
            found = ask(session, production, Span(start, end), settings.end_of)
            rows = [row.model_dump(mode="json") for row in found]
    if how["as_json"]:
        print_json(rows)
        return
    heads = ["run", "name", "place", "before", "after"] if is_relabel else [
        "what", "about", "name", "place", "before", "after"
    ]  # fmt: skip
    title = "Label anew" if is_relabel else f"{production} since {start}"
    show(table(title, heads, [[row[head] or "-" for head in heads] for row in rows]))
    if not rows:
        click.echo("Nothing moved.")
