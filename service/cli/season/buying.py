"""`wattwright buy`: what to order or hire, and by when. Nothing is ordered."""

from typing import Any

import click

from service.api.conventions.formats import model_sheet
from service.cli.house import (
    as_of_option,
    asking,
    database_option,
    json_option,
    opened,
    server_option,
    settings_for,
)
from service.cli.terminal.show import print_json, show, table
from service.config import Settings
from service.planning.season.ordering import read_orders
from service.planning.season.reels import suggested_orders
from service.planning.season.schemas import OrderOut

HEADS = ["act", "quantity", "item", "order by", "late", "needed from", "for", "short", "cost", "remarks"]


@click.command()
@click.option("--csv", "as_csv", is_flag=True, help="Comma-separated values, every column.")
@as_of_option
@database_option
@server_option
@json_option
def command(as_csv: bool, **how: Any) -> None:
    """Say what to order or hire so that no show is short, and by when. Nothing is ordered.

    Order by: first day wanted, less the lead time, less the house's receiving days (house rule
    receiving_days). Reels are counted piece by piece, with a spare longest piece of each tape.
    """
    if how["as_json"] and as_csv:
        raise click.UsageError("Give --csv or --json, not both.")
    settings = settings_for(how["database"], how["as_of"], server=how["server"])
    found = _far(settings) if settings.server is not None else _here(settings)
    if as_csv:
        click.echo(bytes(model_sheet(OrderOut, found, {}).body).decode(), nl=False)
    elif how["as_json"]:
        print_json([row.model_dump(mode="json") for row in found])
    elif found:
        show(table("What to order", HEADS, [_cells(row) for row in found], right=[1, 4, 7, 8]))
        _print_total(found)
    else:
        click.echo("Nothing is to be ordered.")


def _here(settings: Settings) -> list[OrderOut]:
    with opened(settings) as store:
        with store.reading() as session:
            question = read_orders(session, settings.as_of(), settings_for(settings.database_url).as_of())
        return suggested_orders(question, settings.solve_deadline_s)


def _far(settings: Settings) -> list[OrderOut]:
    with asking(settings) as house:
        said = house.ask("GET", "/season/orders", params={"as_of": settings.today}).json()
    return [OrderOut.model_validate(row) for row in said]


def _cells(row: OrderOut) -> list[Any]:
    alone = row.order_by_alone if row.order_by_alone != row.order_by else None
    remarks = [
        f"{row.spare} of them spare" if row.spare else "",
        f"by {alone} if no show is to borrow from a later one" if alone else "",
        f"{row.hire_weeks} weeks" if row.hire_weeks else "",
        *row.late_orders,
        row.one_lot,
        f"instead: {row.instead}" if row.instead else "",
        f"not known: {row.unknown}" if row.unknown else "",
    ]
    return [
        row.act,
        row.quantity,
        f"{row.item} {row.sold_as}{'' if row.quantity == 1 else 's'}",
        row.order_by or "not known",
        f"{row.late_days} d" if row.late_days else "",
        row.needed_from,
        " ".join(row.wanted_by),
        f"{row.short:g}" + (" m" if row.unit == "m" else ""),
        "not known" if row.cost is None and row.quantity else row.cost,
        "; ".join(remark for remark in remarks if remark),
    ]


def _print_total(rows: list[OrderOut]) -> None:
    unknown = [row.item for row in rows if row.cost is None and row.quantity]
    total = sum(row.cost or 0.0 for row in rows)
    also = f", and what is not known for {', '.join(unknown)}" if unknown else ""
    click.echo(f"In all {total:.2f}{also}.")
