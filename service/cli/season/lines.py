"""`wattwright season`: is there enough, when not, who has it, and what a move of dates would mend."""

from collections.abc import Callable, Sequence
from datetime import date
from typing import Any, TypeVar

import click
from pydantic import BaseModel, ValidationError

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
from service.cli.report import a_day
from service.cli.terminal.show import print_json, show, table
from service.config import Settings
from service.errors import BadRequest
from service.planning.season.asking import Days, commitments, days_of, season_line, season_shortages
from service.planning.season.clashing import clashes
from service.planning.season.items import Season
from service.planning.season.reading import read_season
from service.planning.season.schemas import (
    ClashOut,
    CommitmentOut,
    LineStepOut,
    SeasonLineOut,
    SeasonQuestion,
    SeasonSupposed,
    ShortageOut,
)
from service.planning.season.supposing import season_what_if

F = TypeVar("F", bound=Callable[..., object])
Said = dict[str, Any]
_SHORT = [
    "item",
    "unit",
    "from_on",
    "clears_on",
    "short",
    "worst_on",
    "usable",
    "due_in",
    "wanted_by",
    "move",
]
_CLASH = ["kind", "other", "production", "tags", "from_on", "to_on", "clears_on", "overdue_days", "move"]
_HAVE = ["production", "kind", "item", "unit", "held", "used", "wanted", "from_on", "to_on", "short", "tags"]
_STEP = ["from_on", "to_on", "usable", "due_in", "wanted", "free", "short", "wanted_by"]


def _where(command: F) -> F:
    for option in (json_option, server_option, database_option, as_of_option):
        command = option(command)
    return command


def _span(command: F) -> F:
    command = click.option("--csv", "as_csv", is_flag=True, help="Comma-separated values.")(command)
    command = click.option("--to", "to_on", metavar="DAY", help="Last day, which counts too.")(command)
    return click.option("--from", "from_on", metavar="DAY", help="First day; today, if not given.")(command)


def _production(command: F) -> F:
    return click.option("--production", metavar="CODE", help="One show only.")(command)


@click.group()
def command() -> None:
    """Say whether there is enough through the season, and when and for whom there is not.

    \b
    season line D4 --from 2027-01-01 --to 2027-03-01
    season line RGBW24 --lot C-26F
    season short --production TL
    season clashes
    season have --production TW
    season what-if --move TL --needed-from 2027-01-20 --back DC-03
    """


@command.command()
@click.argument("item")
@click.option("--lot", metavar="LOT", help="One lot of a tape.")
@_span
@_where
def line(item: str, lot: str | None, **how: Any) -> None:
    """Show the line of a model, a tape or a reel, step by step."""
    settings, days = _asked(how)
    query = _query(settings, days) | {"item": item, "lot": lot}
    if settings.server is not None:
        with asking(settings) as house:
            found = SeasonLineOut.model_validate(house.ask("GET", "/season/line", params=query).json())
    else:
        found = season_line(_read(settings, with_names=False), item, lot, days_of(*days, settings.as_of()))
    if how["as_csv"]:
        _print_csv(LineStepOut, found.steps)
    elif how["as_json"]:
        print_json(found.model_dump(mode="json"))
    else:
        _print_line(found.model_dump(mode="json"))


@command.command()
@_production
@_span
@_where
def short(**how: Any) -> None:
    """List what is short, when each shortage clears, and the cheapest move of dates that removes it."""
    rows = _rows("shortages", season_shortages, ShortageOut, how)
    _print(how, ShortageOut, rows, "What is short", _SHORT, "Nothing is short.")


@command.command(name="clashes")
@_production
@_span
@_where
def clashing(**how: Any) -> None:
    """List units that two shows have on the same days, and units that are overdue."""
    rows = _rows("clashes", clashes, ClashOut, how)
    _print(how, ClashOut, rows, "Named twice, or overdue", _CLASH, "Nothing clashes.")


@command.command()
@_production
@_span
@_where
def have(**how: Any) -> None:
    """List what each show has of what, and when."""
    rows = _rows("commitments", commitments, CommitmentOut, how)
    _print(how, CommitmentOut, rows, "What each show has", _HAVE, "No show has anything.")


@command.command(name="what-if")
@click.option("--move", metavar="CODE", help="This show wants its gear on other days.")
@click.option("--needed-from", metavar="DAY", help="The first of those days.")
@click.option("--needed-to", metavar="DAY", help="The last of those days.")
@click.option("--later-by", type=int, metavar="DAYS", help="The whole show so much later; -7: sooner.")
@click.option(
    "--wants", "wants", nargs=3, multiple=True, metavar="CODE ITEM NUMBER", help="A show wants otherwise."
)
@click.option("--back", multiple=True, metavar="TAG", help="An overdue unit is back.")
@_where
def what_if(
    move: str | None, wants: tuple[tuple[str, str, str], ...], back: tuple[str, ...], **how: Any
) -> None:
    """Say how the season would stand with shows on other days, other quantities or gear back. Nothing is
    stored."""
    moves = [] if move is None else [
        {"production": move, "needed_from": how["needed_from"], "needed_to": how["needed_to"],
         "later_by_days": how["later_by"]}
    ]  # fmt: skip
    quantities = [{"production": code, "item": item, "quantity": n} for code, item, n in wants]
    try:
        ask = SeasonQuestion.model_validate({"moves": moves, "quantities": quantities, "back": list(back)})
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(step) for step in first["loc"]) or "the question"
        raise BadRequest(f"{where}: {first['msg']}", "See wattwright season what-if --help.") from error
    settings = settings_for(how["database"], how["as_of"], server=how["server"])
    if settings.server is not None:
        with asking(settings) as house:
            query = {"as_of": settings.today}
            said = ask.model_dump(mode="json", exclude_none=True)
            answer = house.ask("POST", "/season/what-if", json=said, params=query)
            found = SeasonSupposed.model_validate(answer.json())
    else:
        found = season_what_if(_read(settings), ask, settings.as_of())
    if how["as_json"]:
        print_json(found.model_dump(mode="json"))
    else:
        _print_supposed(found)


def _asked(how: dict[str, Any]) -> tuple[Settings, tuple[date | None, date | None]]:
    if how["as_json"] and how["as_csv"]:
        raise click.UsageError("Give --csv or --json, not both.")
    settings = settings_for(how["database"], how["as_of"], server=how["server"])
    return settings, (a_day(how["from_on"], "--from"), a_day(how["to_on"], "--to"))


def _query(settings: Settings, days: tuple[date | None, date | None]) -> dict[str, Any]:
    first, last = days
    return {
        "as_of": settings.today,
        "from": first and first.isoformat(),
        "to": last and last.isoformat(),
    }


def _read(settings: Settings, with_names: bool = True) -> Season:
    """The season as of the day asked for, from what is known today."""
    with opened(settings) as store, store.reading() as session:
        today = settings_for(settings.database_url).as_of()
        return read_season(session, settings.as_of(), today, with_names=with_names)


def _rows(
    path: str,
    rows: Callable[[Season, Days, str | None], Sequence[BaseModel]],
    row: type[BaseModel],
    how: dict[str, Any],
) -> list[BaseModel]:
    settings, days = _asked(how)
    if settings.server is not None:
        with asking(settings) as house:
            query = _query(settings, days) | {"production": how["production"]}
            said = house.ask("GET", f"/season/{path}", params=query).json()
            return [row.model_validate(one) for one in said]
    return list(
        rows(
            _read(settings, rows is not season_shortages), days_of(*days, settings.as_of()), how["production"]
        )
    )


def _print_csv(row: type[BaseModel], rows: Sequence[BaseModel]) -> None:
    click.echo(bytes(model_sheet(row, rows, {}).body).decode(), nl=False)


def _print(
    how: dict[str, Any], row: type[BaseModel], rows: list[BaseModel], title: str, heads: list[str], none: str
) -> None:
    said = [one.model_dump(mode="json") for one in rows]
    if how["as_csv"]:
        _print_csv(row, rows)
    elif how["as_json"]:
        print_json(said)
    elif not said:
        click.echo(none)
    else:
        _print_table(title, heads, said)


def _print_table(title: str, heads: list[str], rows: Sequence[Said]) -> None:
    names = [head.removesuffix("_on").replace("_", " ") for head in heads]
    right = [n for n, head in enumerate(heads) if isinstance(rows[0][head], float)] if rows else []
    show(table(title, names, [[_cell(_of(row, head)) for head in heads] for row in rows], right))


def _of(row: Said, head: str) -> Any:
    """Beside a move of dates, the overdue units that end the shortage too: whichever is easier."""
    if head != "move" or not row.get("back"):
        return row[head]
    return "; or ".join(part for part in (row["back"], row["move"]) if part)


def _cell(value: Any) -> Any:
    if isinstance(value, float):
        return f"{value:g}"
    return ", ".join(value) if isinstance(value, list) else value


def _print_line(found: Said) -> None:
    lot = f", lot {found['lot']}" if found["lot"] else ""
    unit = "m" if found["unit"] == "m" else "pieces"
    _print_table(f"{found['item']}{lot}, in {unit}", _STEP, found["steps"])
    if found["shortages"]:
        _print_table("Short", _SHORT, found["shortages"])
    else:
        click.echo(f"Enough on every day; {found['free']:g} left on {found['worst_on']}, the least.")
    for order in found["late_orders"]:
        click.echo(f"Not counted, for it is late: {order}")


def _print_supposed(found: SeasonSupposed) -> None:
    for said in found.said:
        click.echo(f"Supposed: {said}")
    click.secho(found.verdict[:1].upper() + found.verdict[1:] + ".", bold=True)
    if found.items:
        heads = ["item", "unit", "short_before", "short_after", "free_before", "free_after", "worst_after"]
        _print_table("More or less to spare", heads, [row.model_dump(mode="json") for row in found.items])
    if found.shortages:
        rows = [row.model_dump(mode="json") for row in found.shortages]
        _print_table("Short then", _SHORT, rows)
    if found.clashes:
        _print_table("Clashes then", _CLASH, [row.model_dump(mode="json") for row in found.clashes])
    click.echo("Nothing was stored.")
