"""`wattwright swap`: what could stand in for a unit, done in one act, and taken back."""

from typing import Any
from urllib.parse import quote

import click
from pydantic import ValidationError

from service.api.lists import row_shape
from service.cli.allocate import refuse_another_day
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
from service.cli.terminal.refusals import REFUSED
from service.cli.terminal.show import print_json, show, table
from service.client import Wattwright
from service.config import Settings
from service.errors import BadRequest, NotFound
from service.planning.swapping.acting.doing import swap
from service.planning.swapping.acting.lists import SWAPS
from service.planning.swapping.acting.telling import swap_out
from service.planning.swapping.acting.undoing import undo
from service.planning.swapping.asking import swaps_of
from service.planning.swapping.schemas import CandidateOut, SwapAsk, SwapOut, SwappedOut, SwapsOut
from service.store.listing import Row, everything

PLURALS = ("supplies", "decoders", "batteries", "enclosures")


@click.command()
@click.argument("tag", required=False)
@click.argument("swap_for", required=False, metavar="[FOR]")
@click.option("--found", default="", metavar="TEXT", help="What is wrong with the one that comes out.")
@click.option("--suspect", is_flag=True, help="It is suspect only, not faulty.")
@click.option("--keep-old", is_flag=True, help="Only exchanged: its state and its hold stay as they are.")
@click.option("--production", metavar="CODE", help="The show, where several have the unit now.")
@click.option("--despite", metavar="TEXT", help="Why it is done although a limit is passed then.")
@click.option("--undo", "undone", metavar="NUMBER", help="Take a swap back.")
@as_of_option
@database_option
@server_option
@json_option
def command(tag: str | None, swap_for: str | None, undone: str | None, **how: Any) -> int:
    """Say what could stand in for the unit TAG now, the best first, and why others will not do.

    \b
    swap PS-25                            what could stand in for it
    swap BT-11 BT-03 --found "swollen"    put BT-03 in its place
    swap --undo S-001                     as it was before
    swap                                  swaps on record

    The swap is one act: the kept plan, both holds, the state of the old one, its fault record, and a note for
    the next crew. Ends with 1 when nothing could stand in.
    """
    settings = settings_for(how["database"], how["as_of"], server=how["server"])
    if undone is not None:
        if tag is not None:
            raise click.UsageError("Give a unit, or the number of a swap with --undo.")
        return _told(_undo(settings, undone), how["as_json"])
    if tag is None:
        return _list(settings, how["as_json"])
    if swap_for is None:
        return _candidates(settings, tag, how)
    return _told(_swap(settings, tag, _ask(swap_for, how)), how["as_json"])


def _ask(swap_for: str, how: dict[str, Any]) -> SwapAsk:
    try:
        return SwapAsk(
            swap_for=swap_for,
            found=how["found"].strip(),
            state="suspect" if how["suspect"] else "faulty",
            keep_old=how["keep_old"],
            production=how["production"],
            despite_limits=how["despite"],
        )
    except ValidationError as error:
        first = error.errors()[0]
        raise BadRequest(f"{first['loc'][0]}: {first['msg']}", "See wattwright swap --help.") from error


def _address(house: Wattwright, tag: str) -> str:
    try:
        plural, printed = house.where(tag)
    except NotFound:
        plural = printed = ""
    if plural not in PLURALS:
        raise NotFound(
            f"no supply, decoder, battery or box has the tag {tag!r}", "Look at the tag on the thing."
        )
    return f"/{plural}/{quote(printed, safe='')}/swaps"


def _candidates(settings: Settings, tag: str, how: dict[str, Any]) -> int:
    if settings.server is not None:
        with asking(settings) as house:
            query = {"as_of": settings.today, "production": how["production"]}
            answer = house.ask("GET", _address(house, tag), params=query)
            found = SwapsOut.model_validate(answer.json())
    else:
        with opened(settings) as store, store.reading() as session:
            found = swaps_of(session, tag, how["production"], settings.as_of())
    if how["as_json"]:
        print_json(found.model_dump(mode="json"))
    else:
        _print(found)
    return 0 if found.candidates or found.inside else REFUSED


def _swap(settings: Settings, tag: str, ask: SwapAsk) -> SwappedOut:
    if settings.server is not None:
        with asking(settings) as house:
            refuse_another_day(house, settings)
            body, any_version = ask.model_dump(exclude_none=True), {"If-Match": "*"}
            answer = house.ask("POST", _address(house, tag), json=body, headers=any_version)
            return SwappedOut.model_validate(answer.json())
    with opened(settings) as store:
        return store.write(lambda session: swap(session, tag, ask, settings.as_of(), BY), BY)


def _undo(settings: Settings, number: str) -> SwapOut:
    if settings.server is not None:
        with asking(settings) as house:
            address = f"/swaps/{quote(number, safe='')}/undo"
            return SwapOut.model_validate(house.ask("POST", address, headers={"If-Match": "*"}).json())
    with opened(settings) as store:
        return store.write(lambda session: swap_out(session, undo(session, number, BY)), BY)


def _list(settings: Settings, as_json: bool) -> int:
    shape = row_shape(SWAPS)
    if settings.server is not None:
        with asking(settings) as house:
            rows: list[Row] = [dict(row) for row in house.list(SWAPS.plural)]
    else:
        with opened(settings) as store, store.lookup() as asker:
            found = [row for _, _, row in everything(asker, SWAPS)]
            rows = [shape.dump_python(shape.validate_python(row), mode="json") for row in found]
    if as_json:
        print_json(rows)
        return 0
    heads = ["number", "show", "day", "out", "in", "why", "fault", "by", "taken back"]
    cells = [
        (r["number"], r["production"], r["swapped_on"], r["old"], r["new"], r["why"], r["fault"],
         r["swapped_by"], r["undone_at"])
        for r in rows
    ]  # fmt: skip
    show(table("Swaps", heads, cells))
    return 0


def _told(done: SwapOut, as_json: bool) -> int:
    if as_json:
        print_json(done.model_dump(mode="json"))
        return 0
    if done.undone_at is not None:
        click.echo(
            f"{done.number} is taken back: {done.old} is in {done.production} again, {done.new} is out"
        )
        return 0
    click.secho(f"{done.number}: {done.new} is in for {done.old} in {done.production}", bold=True)
    papers = {"hold": done.hold, "fault": done.fault, "note for the next crew": done.note}
    click.echo(", ".join(f"{what} {number}" for what, number in papers.items() if number))
    if isinstance(done, SwappedOut):
        for said in done.sets:
            click.echo(f"set: {said}")
        for head, lines in (("worse", done.worse), ("mended", done.mends)):
            for said in lines:
                click.echo(f"{head}: {said}")
        show(
            table(
                "Labels to change", ["run", "from", "to"], [(x.thing, x.before, x.after) for x in done.labels]
            )
        )
        click.secho(done.caution, dim=True)
    return 0


def _print(found: SwapsOut) -> None:
    state = "" if found.state == "good" else f", {found.state.upper()}"
    state += f": {found.state_note}" if found.state_note else ""
    days = f"{found.from_on} to {found.to_on}"
    click.secho(f"{found.unit} ({found.model or 'box'}) in {found.production}, {days}{state}", bold=True)
    where = (
        found.place,
        f"in {found.box}" if found.box else "",
        f"on {found.outlet}" if found.outlet else "",
    )
    click.echo(" · ".join(filter(None, where)) or "nobody wrote down where it stands")
    if found.inside:
        click.echo(f"in it, to be swapped one by one: {', '.join(found.inside)}")
        return
    load_w = sum(run.load_w for run in found.carries)
    count = "1 run" if len(found.carries) == 1 else f"{len(found.carries)} runs"
    click.echo(f"{count}, {load_w:.2f} W: {', '.join(run.run for run in found.carries)}")
    for one in found.elsewhere:
        click.echo(f"{one.production} has it in its kept plan too, {one.from_on} to {one.to_on}")
    if found.candidates:
        heads = ["unit", "model", "to be had", "where", "verdict", "what changes"]
        rows = [(c.unit, c.model, _had(c), c.where, c.verdict, _changes(c)) for c in found.candidates]
        show(table("Could stand in", heads, rows))
    if found.helps:
        click.echo(f"to the end of the days nothing is free; what would help: {found.helps}")
    if found.refused:
        lines = [(r.model, " ".join(r.units), r.because) for r in found.refused]
        show(table("Will not do", ["model", "units", "because"], lines))
    click.secho(found.caution, dim=True)


def _had(candidate: CandidateOut) -> str:
    return candidate.share if candidate.last_on is None else f"{candidate.share}, to {candidate.last_on}"


def _changes(candidate: CandidateOut) -> str:
    moves = [f"{m.run} from {m.before} to {m.after}" for m in candidate.moves]
    worse = [f"worse: {said}" for said in candidate.worse]
    worse += [f"still: {said}" for said in candidate.stays]
    mends = [f"mends: {said}" for said in candidate.mends]
    because = [*filter(None, [candidate.because]), *candidate.promised]
    return "; ".join([*because, *moves, *worse, *mends, *candidate.sets])
