"""`wattwright volts`: volts along the runs of an element."""

from pathlib import Path
from urllib.parse import quote

import click

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
from service.limits.cautions import DATA
from service.planning.volts import RunVoltsOut, picture_of, volts_of

LIGHT = (
    "Light: if loads are resistors. Strings of LEDs lose far more: a 12 V tape of 9 V strings is at 73.9 % "
    "of its light with 6.5 % of its volts lost (published)."
)


@click.command()
@click.argument("tag")
@click.option("--picture", metavar="FILE", type=click.Path(dir_okay=False), help="Draw a run into it (SVG).")
@click.option("--run", "number", type=click.IntRange(1), default=1, help="The run to draw. [1]")
@as_of_option
@database_option
@server_option
@json_option
def command(
    tag: str,
    picture: str | None,
    number: int,
    as_of: str | None,
    database: str | None,
    server: str | None,
    as_json: bool,
) -> None:
    """Say what the far end of each run of the element TAG gets, with all emitters at full."""
    settings = settings_for(database, as_of, server=server)
    ask = _far if settings.server else _here
    found, drawn = ask(settings, tag, number if picture else None, as_of)
    if picture is not None:
        Path(picture).write_text(drawn, encoding="utf-8")
    if as_json:
        print_json([run.model_dump(mode="json") for run in found])
    else:
        _print(found)


def _here(
    settings: Settings, tag: str, number: int | None, _as_of: str | None
) -> tuple[list[RunVoltsOut], str]:
    day = settings.as_of()
    with opened(settings) as store, store.reading() as session:
        drawn = "" if number is None else picture_of(session, tag, number, day)
        return volts_of(session, tag, day), drawn


def _far(
    settings: Settings, tag: str, number: int | None, as_of: str | None
) -> tuple[list[RunVoltsOut], str]:
    address, asked = f"/elements/{quote(tag, safe='')}/volts", {"as_of": as_of}
    with asking(settings) as client:
        rows = client.ask("GET", address, params=asked).json()
        drawn = "" if number is None else client.ask("GET", f"{address}/{number}", params=asked).text
    return [RunVoltsOut.model_validate(row) for row in rows], drawn


def _print(found: list[RunVoltsOut]) -> None:
    heads = ["run", "tape", "m", "fed", "supply V", "least V", "lost %", "at m", "first", "light %", "lead A"]
    cells = [
        (
            one.run, one.tape, f"{one.length_m:g}", one.fed, one.supply_v, one.least_v, one.lost_pct,
            one.worst_at_m, one.falls_first, one.least_light_pct, one.lead_a,
        )
        for one in found
    ]  # fmt: skip
    show(table("Volts at the worst point, all emitters at full", heads, cells))
    for one in found:
        if one.unknown:
            click.echo(f"{one.run} cannot be worked out: {one.unknown}")
        if one.assumed:
            click.echo(f"{one.run}: {one.assumed}")
    if any(one.least_light_pct is not None for one in found):
        click.secho(LIGHT, dim=True)
    click.secho(f"Not counted: {found[0].not_counted if found else 'nothing'}. {DATA}", dim=True)
