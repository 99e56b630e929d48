"""`wattwright dark`: what is dark, and what dark things have in common."""

from typing import Any, NamedTuple

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
from service.planning.dark.asking import causes_of, dark_list
from service.planning.dark.schemas import CausesOut, DarkAsk, DarkElementOut

SHOWN = 12


@click.command()
@click.argument("tags", nargs=-1, metavar="[TAG]...")
@click.option("--lit", multiple=True, metavar="TAG", help="Seen to be lit; may be repeated.")
@click.option("--only-these", is_flag=True, help="Leave out what is on record as dark.")
@as_of_option
@database_option
@server_option
@json_option
def command(
    tags: tuple[str, ...], lit: tuple[str, ...], only_these: bool, as_of: str | None, **how: Any
) -> None:
    """Say what the elements or runs TAG... that are out have in common, the likeliest cause first.

    Without a tag, list what is on record as dark, the oldest first.
    """
    settings = settings_for(how["database"], as_of, server=how["server"])
    look = _far if settings.server else _here
    if not tags:
        _show_list(look(settings, None).rows, how["as_json"])
        return
    ask = DarkAsk(dark=list(tags), lit=list(lit), also_recorded=not only_these)
    found = look(settings, ask, as_of).causes
    if how["as_json"]:
        print_json(found.model_dump(mode="json"))
    else:
        _show_causes(found)


class _Answer(NamedTuple):
    rows: list[DarkElementOut]
    causes: CausesOut


_NOTHING = CausesOut(dark=[], recorded=[], unfed=[], causes=[], together=[])


def _here(settings: Settings, ask: DarkAsk | None, _as_of: str | None = None) -> _Answer:
    with opened(settings) as store, store.reading() as session:
        if ask is None:
            return _Answer(dark_list(session), _NOTHING)
        return _Answer([], causes_of(session, ask, settings.as_of()))


def _far(settings: Settings, ask: DarkAsk | None, as_of: str | None = None) -> _Answer:
    with asking(settings) as client:
        if ask is None:
            rows = client.ask("GET", "/dark").json()
            return _Answer([DarkElementOut.model_validate(row) for row in rows], _NOTHING)
        said = client.ask("POST", "/dark", json=ask.model_dump(), params={"as_of": as_of})
        return _Answer([], CausesOut.model_validate(said.json()))


def _show_list(rows: list[DarkElementOut], as_json: bool) -> None:
    if as_json:
        print_json([row.model_dump(mode="json") for row in rows])
        return
    heads = ["element", "name", "show", "place", "since", "symptom", "found by"]
    cells = [(r.element, r.name, r.production, r.place, r.since, r.symptom, r.found_by) for r in rows]
    show(table("Dark now", heads, cells))


def _show_causes(found: CausesOut) -> None:
    if found.together:
        click.secho(f"Look first at: {' and '.join(found.together)}", bold=True)
    if found.recorded:
        click.echo(f"Counted too, on record as dark: {' '.join(found.recorded)}")
    for run in found.unfed:
        click.echo(f"{run.run}: {run.because}")
    if not found.causes:
        return
    heads = ["", "what", "which", "at", "explains", "would darken besides", "check"]
    cells = [
        (
            cause.rank,
            cause.what,
            cause.name,
            cause.place,
            f"{cause.explained} of {cause.of}",
            " ".join(other.run for other in cause.others[:6]) + (" …" if len(cause.others) > 6 else "")
            or "-",
            cause.check,
        )
        for cause in found.causes[:SHOWN]
    ]
    show(table("", heads, cells, right=[0]))
    for caution in dict.fromkeys(cause.caution for cause in found.causes[:SHOWN]):
        click.secho(caution, dim=True)


def _few(runs: list[str]) -> str:
    return " ".join(runs[:6]) + (" …" if len(runs) > 6 else "") or "-"
