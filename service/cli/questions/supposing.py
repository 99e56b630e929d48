"""`wattwright what-if`: what would follow, without storing anything."""

from pathlib import Path
from typing import Any

import click
from pydantic import ValidationError

from service.cli.house import (
    BY,
    as_of_option,
    asking,
    database_option,
    json_option,
    opened,
    server_option,
    settings_for,
)
from service.cli.terminal.show import print_json, show, table
from service.cli.things.naming import body, kind_named, plural
from service.errors import BadRequest
from service.kinds.actions import Hand
from service.reports.supposing.asking import what_if
from service.reports.supposing.schemas import AddedOut, SupposedOut, WhatIf

ACTS = ("add", "change", "retire", "move")
SHOWN = 15


@click.command()
@click.argument("act", metavar="add|change|retire|move", required=False)
@click.argument("words", nargs=-1)
@click.option("--file", "path", type=click.Path(path_type=Path, dir_okay=False), help="Several, as JSON.")
@as_of_option
@database_option
@server_option
@json_option
def command(act: str | None, words: tuple[str, ...], path: Path | None, **how: Any) -> None:
    """Say what would follow. Nothing is stored.

    \b
    what-if add element production=SQ tape=TW24 "pieces=3.33 m" "scenic unit=Mirror" "lead=5 m"
    what-if change production TL needed_from=2027-01-20
    what-if change element SQ-21 cap_pct=60 "cap enforced=decoder" "cap signed by=LX"
    what-if retire supply PS-13
    what-if move SQ-17 supply=PS-03 output=1
    what-if --file question.json
    """
    ask = _read(path) if path is not None else _said(act, words)
    settings = settings_for(how["database"], how["as_of"], server=how["server"])
    if settings.server is not None:
        with asking(settings) as client:
            query = {"as_of": how["as_of"]}
            answer = client.ask("POST", "/what-if", json=ask.model_dump(exclude_none=True), params=query)
            found = SupposedOut.model_validate(answer.json())
    else:
        with opened(settings) as store, store.supposing(BY) as session:
            day = settings.as_of()
            found = what_if(session, ask, Hand(BY, day), day)
    if how["as_json"]:
        print_json(found.model_dump(mode="json"))
    else:
        _print(found)


def _read(path: Path) -> WhatIf:
    try:
        return WhatIf.model_validate_json(path.read_bytes())
    except ValidationError as error:
        raise _wrong(error) from error


def _said(act: str | None, words: tuple[str, ...]) -> WhatIf:
    if act not in ACTS:
        raise click.UsageError(f"Say what is supposed: {', '.join(ACTS)}, or give --file.")
    least = {"add": 2, "change": 3, "retire": 2, "move": 2}[act]
    if len(words) < least:
        raise click.UsageError(f"{act} wants more words: see --help.")
    try:
        return WhatIf.model_validate({"suppositions": [_one(act, words)]})
    except ValidationError as error:
        raise _wrong(error) from error


def _one(act: str, words: tuple[str, ...]) -> dict[str, Any]:
    if act == "move":
        return {"suppose": "move_feed", "element": words[0], "to": dict(map(_pair, words[1:]))}
    kind = kind_named(words[0])
    if act == "add":
        values = body(kind, words[1:])
        if kind.name == "elements":
            values.setdefault("tag", "SUPPOSED")
        return {"suppose": "add", "kind": plural(kind), "values": values}
    said: dict[str, Any] = {"suppose": act, "kind": plural(kind), "key": words[1]}
    return said if act == "retire" else said | {"values": body(kind, words[2:])}


def _pair(word: str) -> tuple[str, Any]:
    name, equals, value = word.partition("=")
    if not equals:
        raise click.UsageError(f"{word!r} is not FIELD=VALUE.")
    return name.strip(), int(value) if value.strip().isdecimal() else value.strip()


def _wrong(error: ValidationError) -> BadRequest:
    first = error.errors()[0]
    where = ".".join(str(step) for step in first["loc"])
    return BadRequest(f"{where}: {first['msg']}", "See wattwright what-if --help.")


def _print(found: SupposedOut) -> None:
    for said in found.suppositions:
        click.echo(f"Supposed: {said}")
    click.secho(found.verdict[:1].upper() + found.verdict[1:] + ".", bold=True)
    for added in found.added:
        _print_added(added)
    changed = [f for f in found.findings if f.change != "same"]
    if changed or found.gone:
        cells: list[tuple[str, str, str, str]] = [
            (f.change, f.verdict, f.production, f.message) for f in changed[:SHOWN]
        ]
        cells += [("gone", f.verdict, f.production, f.message) for f in found.gone[:SHOWN]]
        show(table("Against today's findings", ["", "verdict", "show", "what"], cells))
    if found.stock:
        heads = ["item", "free now", "free then", "short now", "short then", "unit"]
        rows = [
            (s.item, s.free_before, s.free_after, s.short_before, s.short_after, s.unit) for s in found.stock
        ]
        show(table(f"Stock on {found.as_of}", heads, rows, right=[1, 2, 3, 4]))
    click.echo("Nothing was stored.")


def _print_added(added: AddedOut) -> None:
    cuts = ", ".join(
        f"{p.drawn_mm:g} mm drawn, {p.cut_mm:g} mm cut, {p.shorter_by_mm:g} mm shorter"
        for p in added.pieces
        if p.cut_mm is not None
    )
    amps = ", ".join(f"{name} {amps:.2f} A" for name, amps in added.emitters_a.items())
    click.echo(f"{added.element}: {cuts}; {added.load_w:.2f} W, {added.common_a:.2f} A common; {amps}")
    heads = ["source", "output", "W then", "limit W", "%", "A then", "limit A", "verdict", "breaks"]
    rows = [
        (f.source + (" (free)" if f.is_free else ""), f.output, f.w_after, f.limit_w, f.pct, f.a_after,
         f.limit_a, f.verdict, f.breaks)
        for f in added.fits[:SHOWN]
    ]  # fmt: skip
    show(table("Would fit on", heads, rows, right=[2, 3, 4, 5, 6]))
