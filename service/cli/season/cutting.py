"""`wattwright cut`: which piece comes off which reel, planned, kept, and marked cut by cut."""

import time
from collections.abc import Callable
from typing import Any, TypeVar
from urllib.parse import quote

import click

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
from service.cli.terminal.show import print_json, progress, show, table
from service.client import Wattwright
from service.config import Settings
from service.errors import Refused
from service.limits.cautions import BENCH
from service.planning.cutting.actions import (
    CutAsk,
    abandon_cut_plan,
    ask_for_cut_plan,
    find_cut_plan,
    keep_cut_plan,
    work_out_cuts,
)
from service.planning.cutting.doing import do_step, report_short, undo_step
from service.planning.cutting.marking import kept_steps, plan_steps
from service.planning.cutting.reading import find_productions
from service.planning.cutting.records import CutPlan
from service.planning.cutting.schemas import CutPlanOut, CutStepOut, CutTapeOut, StepAnswer
from service.planning.cutting.telling import plan_out, step_answer
from service.stock.ledger.reels import Entry
from service.store.work import Store
from service.units import to_um

F = TypeVar("F", bound=Callable[..., object])
T = TypeVar("T")
LOOK_S = 0.2


def _where(command: F) -> F:
    for option in (json_option, server_option, database_option, as_of_option):
        command = option(command)
    return command


def _settings(how: dict[str, Any]) -> Settings:
    return settings_for(how["database"], how["as_of"], server=how["server"])


@click.group()
def command() -> None:
    """Plan which piece comes off which reel, list the cuts, and mark them as made.

    \b
    cut plan TW TL --keep        work it out for two shows and keep it
    cut list --production TL     what is still to be cut, as it is marked
    cut done CP-001 4            step 4 is cut: written into the ledger of its reel
    cut short CP-001 R-101 "3.2 m"   the reel holds less: plan the rest of its tape again
    """


@command.command()
@click.argument("codes", nargs=-1, required=True, metavar="CODE...")
@click.option("--tape", "tapes", multiple=True, metavar="TAG", help="Only this tape; may be repeated.")
@click.option("--no-buying", is_flag=True, help="Only reels that are there or on order.")
@click.option(
    "--deadline", type=click.FloatRange(0, 3600, min_open=True), metavar="SECONDS", help="Stop then."
)
@click.option("--note", default="", help="Anything to know.")
@click.option("--keep", is_flag=True, help="Keep the plan: the bench works from it from now on.")
@_where
def plan(codes: tuple[str, ...], tapes: tuple[str, ...], keep: bool, **how: Any) -> int:
    """Work out which piece of the shows CODE... comes off which reel.

    Pieces that are cut are left. Ends with 1 when a piece gets no tape; the plan says why and what mends it.
    """
    settings = _settings(how)
    deadline_s = how["deadline"] or settings.solve_deadline_s
    ask = CutAsk(codes, tapes, not how["no_buying"], deadline_s, how["note"])
    made = _plan_far(settings, ask, keep) if settings.server else _plan_here(settings, ask, keep)
    print_json(made.model_dump(mode="json")) if how["as_json"] else print_cut_plan(made)
    return REFUSED if any(tape.unmet for tape in made.tapes) else 0


@command.command("list")
@click.argument("number", required=False, metavar="[PLAN]")
@click.option("--production", metavar="CODE", help="One show only, of the kept plans.")
@_where
def list_cuts(number: str | None, production: str | None, **how: Any) -> None:
    """List the cuts of PLAN, or those that kept plans still have, in marking order."""
    if number and production:
        raise click.UsageError("Give a plan or --production, not both.")
    settings = _settings(how)
    steps = (
        _list_far(settings, number, production)
        if settings.server
        else _list_here(settings, number, production)
    )
    if how["as_json"]:
        print_json([step.model_dump(mode="json") for step in steps])
    else:
        print_steps(steps)


@command.command()
@click.argument("number", metavar="PLAN")
@click.argument("step", type=click.IntRange(1), metavar="STEP")
@click.option("--reel", metavar="TAG", help="Tag of the reel that a new one became.")
@click.option("--offcut", metavar="TAG", help="What is left is taken off its reel and gets this tag.")
@click.option("--note", default="", help="Anything to know.")
@_where
def done(number: str, step: int, reel: str | None, offcut: str | None, note: str, **how: Any) -> None:
    """Mark STEP of PLAN as cut."""
    settings = _settings(how)
    if settings.server:
        said = {"reel": reel, "offcut_tag": offcut, "note": note}
        answer = _post(settings, f"{_address(number)}/steps/{step}/done", said)
        found = StepAnswer.model_validate(answer)
    else:
        entry = Entry(BY, settings.as_of(), note)
        found = _write(settings, lambda s: step_answer(s, do_step(s, number, step, reel, offcut, entry)))
    _print_mark(found, how["as_json"])


@command.command()
@click.argument("number", metavar="PLAN")
@click.argument("step", type=click.IntRange(1), metavar="STEP")
@_where
def undo(number: str, step: int, **how: Any) -> None:
    """Take back the mark of STEP of PLAN, which must be the last cut of its reel."""
    settings = _settings(how)
    if settings.server:
        found = StepAnswer.model_validate(_post(settings, f"{_address(number)}/steps/{step}/undo"))
    else:
        entry = Entry(BY, settings.as_of(), "marked by mistake")
        found = _write(settings, lambda s: step_answer(s, undo_step(s, number, step, entry)))
    _print_mark(found, how["as_json"])


@command.command()
@click.argument("number", metavar="PLAN")
@click.argument("reel", metavar="REEL")
@click.argument("found", metavar="FOUND")
@click.option("--note", default="", help="Anything to know.")
@_where
def short(number: str, reel: str, found: str, note: str, **how: Any) -> int:
    """REEL of PLAN holds only FOUND, such as "3.2 m" or 3200 (mm): plan the rest of its tape again.

    Cuts that are made stay. The new plan is kept. Ends with 1 when a piece gets no tape.
    """
    settings = _settings(how)
    length_um = to_um(found, "mm")
    if settings.server:
        said = {"reel": reel, "found_mm": length_um / 1000, "note": note}
        with asking(settings) as house:
            made = _when_done(
                house, house.ask("POST", f"{_address(number)}/short", json=said).json()["number"]
            )
    else:
        entry, today = Entry(BY, settings.as_of(), note), settings.as_of()
        with opened(settings) as store:
            asked = store.write(lambda s: report_short(s, number, reel, length_um, entry, today).id, BY)
            made = _worked(store, asked, settings)
    print_json(made.model_dump(mode="json")) if how["as_json"] else print_cut_plan(made)
    return REFUSED if any(tape.unmet for tape in made.tapes) else 0


@command.command()
@click.argument("number", metavar="PLAN")
@_where
def keep(number: str, **how: Any) -> None:
    """Keep the draft PLAN: the bench works from it from now on."""
    settings = _settings(how)
    if settings.server:
        with asking(settings) as house:
            made = _keep_far(house, number)
    else:
        made = _write(settings, lambda s: plan_out(s, keep_cut_plan(s, number, settings.as_of())))
    print_json(made.model_dump(mode="json")) if how["as_json"] else click.echo(f"{made.number} is kept")


@command.command()
@click.argument("number", metavar="PLAN")
@_where
def abandon(number: str, **how: Any) -> None:
    """Abandon PLAN: its reels are free again, what it cut stays cut."""
    settings = _settings(how)
    if settings.server:
        made = CutPlanOut.model_validate(_post(settings, f"{_address(number)}/abandon"))
    else:
        made = _write(settings, lambda s: plan_out(s, abandon_cut_plan(s, number)))
    print_json(made.model_dump(mode="json")) if how["as_json"] else click.echo(f"{made.number} is abandoned")


def _address(number: str) -> str:
    return f"/cut-plans/{quote(number, safe='')}"


def _post(settings: Settings, path: str, said: dict[str, Any] | None = None) -> Any:
    with asking(settings) as house:
        return house.ask("POST", path, json=said).json()


def _write(settings: Settings, action: Callable[[Any], T]) -> T:
    with opened(settings) as store:
        return store.write(action, BY)


def _plan_here(settings: Settings, ask: CutAsk, is_kept: bool) -> CutPlanOut:
    with opened(settings) as store:
        plan_id = store.write(lambda s: ask_for_cut_plan(s, ask, BY, settings.as_of()).id, BY)
        made = _worked(store, plan_id, settings)
        if not is_kept:
            return made
        return store.write(lambda s: plan_out(s, keep_cut_plan(s, made.number, settings.as_of())), BY)


def _worked(store: Store, plan_id: int, settings: Settings) -> CutPlanOut:
    with progress() as bar:
        task = bar.add_task("Planning cuts", total=None)
        work_out_cuts(
            store,
            plan_id,
            settings.as_of(),
            lambda done, tapes: bar.update(task, completed=done, total=tapes),
        )
    with store.reading() as session:
        from_store = session.get_one(CutPlan, plan_id)
        return _refuse_none(plan_out(session, from_store))


def _plan_far(settings: Settings, ask: CutAsk, is_kept: bool) -> CutPlanOut:
    said = {
        "productions": [*ask.productions],
        "tapes": [*ask.tapes] or None,
        "may_buy": ask.may_buy,
        "deadline_s": ask.deadline_s,
        "note": ask.note,
    }
    with asking(settings) as house:
        refuse_another_day(house, settings)
        made = _when_done(house, house.ask("POST", "/cut-plans", json=said).json()["number"])
        return _keep_far(house, made.number) if is_kept else made


def _when_done(house: Wattwright, number: str) -> CutPlanOut:
    with progress() as bar:
        bar.add_task("Planning cuts", total=None)
        while True:
            made = CutPlanOut.model_validate(house.ask("GET", _address(number)).json())
            if made.status != "working":
                return _refuse_none(made)
            time.sleep(LOOK_S)


def _keep_far(house: Wattwright, number: str) -> CutPlanOut:
    held = {"If-Match": house.ask("GET", _address(number)).headers["ETag"]}
    return CutPlanOut.model_validate(house.ask("POST", f"{_address(number)}/keep", headers=held).json())


def _refuse_none(made: CutPlanOut) -> CutPlanOut:
    if made.error:
        raise Refused(f"{made.number} {made.status}: {made.error}", "Ask for another plan.")
    return made


def _list_here(settings: Settings, number: str | None, code: str | None) -> list[CutStepOut]:
    with opened(settings) as store, store.reading() as session:
        if number:
            return plan_steps(session, find_cut_plan(session, number))
        code = find_productions(session, [code])[0].tag if code else None
        return [step for step in kept_steps(session, code) if not step.is_done]


def _list_far(settings: Settings, number: str | None, code: str | None) -> list[CutStepOut]:
    with asking(settings) as house:
        if number:
            rows = house.ask("GET", f"{_address(number)}/steps").json()
        else:
            rows = house.ask("GET", "/cut-steps", params={"production": code}).json()
    return [CutStepOut.model_validate(row) for row in rows]


def _print_mark(found: StepAnswer, as_json: bool) -> None:
    if as_json:
        print_json(found.model_dump(mode="json"))
        return
    step = found.step
    said = f"{step.cut} off {step.reel}" if step.is_done else "to be cut again"
    click.echo(f"{step.plan} step {step.step}: {step.label}: {said}")
    if found.offcut:
        click.echo(f"what was left is {found.offcut} now")
    if found.element_status:
        click.echo(f"{step.element} is {found.element_status}")
    click.echo("every piece is cut" if not found.pieces_left else f"{found.pieces_left} still to be cut")
    click.secho(found.caution, dim=True)


def print_cut_plan(made: CutPlanOut) -> None:
    """The plan in figures, a line a tape; then what is left over, what is bought and what is not met."""
    shows = " ".join(made.productions)
    click.secho(f"{made.number}, {made.status}, {shows}, as of {made.as_of}", bold=True)
    if not made.tapes:
        click.echo("nothing is to be cut")
    heads = ["tape", "pieces", "met", "needed m", "opened", "new reels", "on order", "to buy", "price",
             "scrap m", "joints", "how good"]  # fmt: skip
    rows = [
        [t.tape, t.pieces, t.met, t.needed_m, t.opened, t.new_reels, t.on_order, t.to_buy, t.price,
         t.scrap_m, t.joints, _how_good(t)]
        for t in made.tapes
    ]  # fmt: skip
    if rows:
        show(table("", heads, rows, right=range(1, len(heads) - 1)))
    unmet = [[u.element, u.piece, u.cut_mm, u.why, u.mend] for t in made.tapes for u in t.unmet]
    if unmet:
        show(table("Without tape", ["element", "piece", "cut mm", "why", "mend"], unmet, right=[2]))
    offcuts = [[o.label] for t in made.tapes for o in t.offcuts]
    if offcuts:
        show(table("Left over, to be labelled", ["label"], offcuts))
    lots = [[g.group, g.lot, g.on_hand_m, g.says] for t in made.tapes for g in t.lots]
    if lots:
        show(table("Lots", ["match group", "lot", "on hand m", "says"], lots, right=[2]))
    for note in (*made.notes, *(f"{t.tape}: {note}" for t in made.tapes for note in t.notes)):
        click.echo(f"note: {note}")
    for tape in made.tapes:
        if tape.others:
            click.echo(
                f"{tape.tape}: {tape.left_m:.2f} m left; {' '.join(tape.others)} want {tape.others_m:.2f} m"
            )
    click.secho(made.caution, dim=True)


def _how_good(tape: CutTapeOut) -> str:
    """What is proven of the plan of a tape."""
    if tape.is_proven:
        return "proven"
    early = ", stopped early" if tape.stopped_early else ""
    if tape.gap_pct:
        return f"at most {tape.gap_pct:.2f} % dearer than the least{early}"
    bound = tape.bounds
    return f"no plan has fewer than {bound.new_reels} new and {bound.opened} opened{early}"


def print_steps(steps: list[CutStepOut]) -> None:
    """The cuts as the bench reads them, reel after reel."""
    if not steps:
        click.echo("nothing is to be cut; make a plan: wattwright cut plan CODE --keep")
        return
    heads = ["tape", "lot", "reel", "plan", "step", "done", "cut mm", "mark mm", "left mm", "label", "mind"]
    rows = [
        [s.tape, s.lot, s.reel, s.plan, s.step, s.cut, _mm(s.cut_mm), _mm(s.mark_mm), _mm(s.left_mm), s.label,
         s.warning]
        for s in steps
    ]  # fmt: skip
    show(table("Cuts in marking order", heads, rows, right=[4, 6, 7, 8]))
    click.secho(BENCH, dim=True)


def _mm(length_mm: float | None) -> str:
    """
    >>> _mm(1250.0), _mm(41.667), _mm(None)
    ('1250', '41.667', '')
    """
    return "" if length_mm is None else f"{length_mm:.3f}".rstrip("0").rstrip(".")
