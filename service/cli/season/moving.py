"""What the commands that move units by tag share: the day, all or each, and how the answer is told."""

from collections.abc import Callable
from datetime import date, datetime
from typing import Any, TypeVar

import click
from pydantic import BaseModel

from service.cli.terminal.refusals import REFUSED, here
from service.cli.terminal.show import print_json, show, table
from service.client import Wattwright
from service.planning.issuing.schemas import Undone

F = TypeVar("F", bound=Callable[..., object])
T = TypeVar("T", bound=BaseModel)
DAY = click.DateTime(["%Y-%m-%d"])


def on_option(what: str) -> Callable[[F], F]:
    return click.option("--on", type=DAY, metavar="DAY", help=f"The day they {what}; today if not given.")


def each_option(command: F) -> F:
    return click.option("--each", is_flag=True, help="Do what can be done, and name the rest.")(command)


def day_of(on: datetime | None) -> date | None:
    return on.date() if on else None


def send(client: Wattwright, address: str, body: dict[str, Any], shape: type[T]) -> T:
    sent = {name: value for name, value in body.items() if value is not None}
    return shape.model_validate(client.ask("POST", address, json=sent).json())


def tell(found: Any, as_json: bool, printed: Callable[[Any], None]) -> int:
    """Print what was done, then what was not; ends with 1 where something was not."""
    if as_json:
        print_json(found.model_dump(mode="json"))
        return REFUSED if found.refused else 0
    if isinstance(found, Undone):
        rows = [[r.tag, r.undone, r.production, r.with_production] for r in found.done]
        show(table("Taken back", ["tag", "what", "show", "is with"], rows))
    elif found.done:
        printed(found)
    for row in found.refused:
        click.secho(row.message, fg="red")
        click.echo(f"  {here(row.mend)}")
    return REFUSED if found.refused else 0
