"""`wattwright calculate`: what drop, what gauge, what fuse, how long on this pack. Needs no database."""

from collections.abc import Callable
from enum import Enum
from pathlib import Path
from types import UnionType
from typing import Any, Union, get_args, get_origin

import click
from pydantic import ValidationError
from pydantic.fields import FieldInfo

from service.calculators import drop
from service.calculators.form import Ask, Calculator, Worked
from service.calculators.registry import CALCULATORS
from service.cli.house import json_option
from service.cli.terminal.show import print_json, show, table
from service.errors import BadValues, RowError
from service.units import ending_of


@click.group()
def command() -> None:
    """Work something out on the spot, without a database.

    Figures are written as people write them: "12 ft", "14.4 W/m", "18 AWG", "1.5 mm²".
    """


def _flag(name: str) -> str:
    """Its name without the unit: on the command line figures carry their own."""
    return "--" + name.removesuffix(ending_of(name)).replace("_", "-")


def _kind(field: FieldInfo) -> tuple[type[Enum] | None, bool]:
    """The words a field takes, where only some, and whether it takes several values."""
    told = field.annotation
    if get_origin(told) in (Union, UnionType):
        told = next(way for way in get_args(told) if way is not type(None))
    if get_origin(told) is list:
        return None, True
    return (told, False) if isinstance(told, type) and issubclass(told, Enum) else (None, False)


def _option(name: str, field: FieldInfo) -> Callable[[Any], Any]:
    if field.annotation is bool:
        return click.option(_flag(name), name, is_flag=True, default=None, help=field.description)
    words, several = _kind(field)
    said = field.description or ""
    default = field.default
    if several:
        said += "; may be repeated"
    elif not field.is_required() and default is not None:
        said += f" [{_text(default)}]"
    example = (field.examples or [""])[0]
    return click.option(
        _flag(name),
        name,
        required=field.is_required(),
        multiple=several,
        type=click.Choice([str(word.value) for word in words]) if words else click.STRING,
        metavar=None if words else f'"{example[0] if isinstance(example, list) else example}"',
        help=said,
    )


def _text(default: Any) -> str:
    if isinstance(default, bool):
        return "yes" if default else "no"
    if isinstance(default, Enum):
        return str(default.value)
    return f"{default:g}" if isinstance(default, float) else str(default)


def _asked(ask: type[Ask], given: dict[str, Any]) -> Ask:
    told = {name: list(value) if isinstance(value, tuple) else value for name, value in given.items()}
    try:
        return ask.model_validate({name: value for name, value in told.items() if value not in (None, [])})
    except ValidationError as error:
        raise BadValues([_fault(one) for one in error.errors()]) from error


def _fault(error: Any) -> RowError:
    said = str(error["msg"]).removeprefix("Value error, ")
    message, _, mend = said.partition(". ")
    return RowError("", None, _flag(str(error["loc"][0])), message, mend or "Correct it and ask again.")


def _made(calculator: Calculator) -> click.Command:
    def work(as_json: bool, picture: str | None = None, **given: Any) -> None:
        ask = _asked(calculator.ask, given)
        worked = calculator.work(ask)
        if picture is not None and isinstance(ask, drop.DropAsk):
            Path(picture).write_text(drop.picture(ask), encoding="utf-8")
        if as_json:
            print_json(worked.model_dump(mode="json"))
        else:
            _show(worked)

    run: Callable[..., None] = json_option(work)
    if calculator.ask is drop.DropAsk:
        said = "Write a drawing of the volts along the run (SVG)."
        run = click.option("--picture", metavar="FILE", type=click.Path(dir_okay=False), help=said)(run)
    for name, field in reversed(calculator.ask.model_fields.items()):
        run = _option(name, field)(run)
    return click.command(calculator.name, help=calculator.question)(run)


def _show(worked: Worked) -> None:
    colour = {True: "green", False: "red", None: None}[worked.is_within]
    click.secho(worked.says, bold=True, fg=colour)
    show(table("", ["figure", ""], [(one.name.replace("_", " "), one.text) for one in worked.figures]))
    for way in worked.ways:
        click.echo(f"would do: {way}")
    for one in worked.assumed:
        click.echo(f"not given: {one.what}. Taken: {one.taken}. {one.effect[:1].upper()}{one.effect[1:]}.")
    click.secho(f"How: {worked.formula}. Source: {worked.source}.", dim=True)
    click.secho(worked.caution, dim=True)


for _each in CALCULATORS:
    command.add_command(_made(_each))
