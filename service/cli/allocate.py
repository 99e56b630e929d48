"""`wattwright allocate`: work out what feeds every run of a show."""

from dataclasses import asdict, dataclass
from typing import Any
from urllib.parse import quote

import click

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
from service.client import Plan, Wattwright
from service.config import Settings
from service.errors import BadRequest, Refused
from service.limits.basis import NOMINAL
from service.planning.actions import PlanAsk, ask_for_plan, find_plan, keep_plan, work_out
from service.planning.comparing import Change, changes, plan_feeds, plan_row, plan_unfed
from service.planning.records import PlanStatus
from service.planning.schemas import AllotmentOut, PlanOut, UnfedOut
from service.planning.snapshot.show import find_production, kept_plan
from service.store.work import Store

DAY = click.DateTime(["%Y-%m-%d"])
SEED = click.IntRange(0, 2**31 - 1)  # what both databases keep
EFFORT = click.FloatRange(0, 100, min_open=True)
LEAST_SHOWN_W = 0.005  # what is less reads as 0.00 W


@dataclass(frozen=True, slots=True)
class Worked:
    """A plan that was worked out, as the API answers it, with what it changes against the one kept before."""

    plan: dict[str, Any]
    feeds: list[dict[str, Any]]
    unfed: list[dict[str, Any]]
    changes: list[Change]


@click.command()
@click.argument("code")
@click.option("--mend", is_flag=True, help="Kept feeds that are over a limit may be moved too.")
@click.option("--keep", is_flag=True, help="Keep the plan: the crew works from it from now on.")
@click.option("--seed", type=SEED, default=0, help="Another seed, perhaps another plan as good.")
@click.option("--effort", type=EFFORT, default=1.0, help="How hard to try; 2 is twice the work.")
@click.option("--deadline", type=float, metavar="SECONDS", help="Stop then, with the best plan so far.")
@click.option("--from", "from_on", type=DAY, metavar="DAY", help="First day gear is wanted.")
@click.option("--to", "to_on", type=DAY, metavar="DAY", help="Last day gear is wanted.")
@as_of_option
@database_option
@server_option
@json_option
def command(code: str, as_of: str | None, database: str | None, as_json: bool, **how: Any) -> int:
    """Work out what feeds every run of the show CODE, within every limit the plan is held to.

    What is kept stays where it is unless --mend allows moving it. Same stock, same seed: same plan. Ends with
    1 when a run is left dark; the plan says which limit binds and what would mend it.
    """
    settings = settings_for(database, as_of, solve_deadline_s=how["deadline"], server=how["server"])
    ask = PlanAsk(
        from_on=how["from_on"] and how["from_on"].date(),
        to_on=how["to_on"] and how["to_on"].date(),
        mend=how["mend"],
        effort=how["effort"],
        seed=how["seed"],
        deadline_s=how["deadline"] if settings.server else settings.solve_deadline_s,
    )
    if settings.server is not None:
        worked = _work_far(settings, code, ask, how["keep"])
    else:
        with opened(settings) as store:
            worked = work(store, settings, code, ask)
            if how["keep"]:
                worked = keep(store, settings, code, worked.plan["number"])
    if as_json:
        print_json(worked)
    else:
        print_plan(worked)
    return REFUSED if worked.unfed else 0


def work(store: Store, settings: Settings, code: str, ask: PlanAsk) -> Worked:
    """The plan, worked out here and now; Refused says why there is none."""
    with store.writing(BY) as session:
        asked = ask_for_plan(session, code, ask, BY)
        plan_id, number = asked.id, asked.number
    with progress() as bar:
        task = bar.add_task(f"Planning {code}", total=None)
        work_out(
            store,
            plan_id,
            settings.as_of(),
            settings.solver_processes,
            lambda p: bar.update(task, completed=p.parts_done, total=p.parts),
        )
    return _read(store, code, number, _kept(store, code))


def keep(store: Store, settings: Settings, code: str, number: int) -> Worked:
    """A draft becomes what the crew works from."""
    before = _kept(store, code)
    store.write(lambda session: keep_plan(session, code, number, settings.as_of()), BY)
    return _read(store, code, number, before)


def _work_far(settings: Settings, code: str, ask: PlanAsk, is_kept: bool) -> Worked:
    """The plan, worked out and perhaps kept by a service, as of its own day."""
    with asking(settings) as house:
        refuse_another_day(house, settings)
        with progress() as bar:
            task = bar.add_task(f"Planning {code}", total=None)

            def tell(plan: Plan) -> None:
                done = plan["progress"] or {}
                bar.update(task, completed=done.get("parts_done"), total=done.get("parts"))

            plan = house.allocate(code, told=tell, **asdict(ask))
        against = house.ask("GET", f"/productions/{quote(code, safe='')}/plans/{plan['number']}/changes")
        if is_kept:
            plan = house.keep(code, plan["number"])
    figures = {name: value for name, value in plan.items() if name not in ("feeds", "unfed")}
    changed = [Change(**row) for row in against.json()]
    return Worked(figures, [*map(dict, plan["feeds"])], [*map(dict, plan["unfed"])], changed)


def refuse_another_day(house: Wattwright, settings: Settings) -> None:
    today = house.ask("GET", "/api/v1").json()["as_of"]
    if settings.today is not None and str(settings.today) != today:
        raise BadRequest(
            f"{house.url} works plans out as of {today}, not {settings.today}",
            "Leave --as-of and WATTWRIGHT_TODAY out, or work it out beside the database.",
        )


def _kept(store: Store, code: str) -> int | None:
    with store.reading() as session:
        plan = kept_plan(session, find_production(session, code).id)
        return plan.number if plan else None


def _read(store: Store, code: str, number: int, before: int | None) -> Worked:
    with store.reading() as session:
        plan = find_plan(session, code, number)
        if plan.status in (PlanStatus.FAILED, PlanStatus.CANCELLED):
            why = plan.error or "no reason given"
            raise Refused(f"plan {number} of {code} {plan.status.value}: {why}", "Ask for another plan.")
        old = find_plan(session, code, before) if before is not None else None
        row = plan_row(plan, find_production(session, code))
        return Worked(
            PlanOut(**row).model_dump(mode="json"),
            [AllotmentOut(**feed).model_dump(mode="json") for feed in plan_feeds(session, plan)],
            [UnfedOut(**run).model_dump(mode="json") for run in plan_unfed(session, plan)],
            changes(session, old, plan),
        )


def print_plan(worked: Worked) -> None:
    plan = worked.plan
    click.secho(
        f"{plan['production']} plan {plan['number']}, {plan['status']}, {plan['from_on']} to {plan['to_on']}",
        bold=True,
    )
    click.echo(in_figures(plan))
    heads = ["element", "run", "supply", "output", "decoder", "channels", "universe", "start", "outlet", "W"]
    rows = [
        [f["element"], f["run"], f["supply"], f["output"], f["decoder"] or "straight on", _channels(f),
         f["universe"], f["start"], f["outlet"], f["load_w"]]
        for f in worked.feeds
    ]  # fmt: skip
    if rows:
        show(table("Feeds", heads, rows, right=[9]))
        measured = [(f["element"], f["load_basis"]) for f in worked.feeds if f["load_basis"] != NOMINAL]
        for tag, basis in dict.fromkeys(measured):
            click.echo(f"loads: {tag} {basis}")
    if worked.unfed:
        show(dark_table(worked.unfed))
    for note in plan["notes"]:
        click.echo(f"note: {note}")


def dark_table(unfed: list[dict[str, Any]]) -> object:
    """What stays dark, runs with one reason together."""
    reasons: dict[tuple[str, str], dict[str, list[str]]] = {}
    for run in unfed:
        reasons.setdefault((run["because"], run["mend"]), {}).setdefault(run["element"], []).append(
            str(run["run"])
        )
    rows = [
        [because, " ".join(f"{tag}/{','.join(runs)}" for tag, runs in elements.items()), mend]
        for (because, mend), elements in reasons.items()
    ]
    return table("Left dark", ["because", "element/runs", "mend"], rows)


def in_figures(plan: dict[str, Any]) -> str:
    """How good the plan is, and how much better any other could be."""
    if plan["is_proven"]:
        proof = "proven: no plan feeds more, moves less or uses less gear"
    elif plan["gap_pct"] is not None:
        proof = f"at most {plan['gap_pct']:.1f} % more gear than the best there can be"
    else:
        proof = "how far from the best is not known"
    dark = f"{plan['unfed_w'] or 0:.2f} W dark"
    if plan["unfed_w"] and (plan["unfed_bound_w"] or 0) >= LEAST_SHOWN_W:
        dark += f" (no plan leaves less than {plan['unfed_bound_w']:.2f} W)"
    early = "; stopped early" if plan["stopped_early"] else ""
    return f"{dark}; {plan['moved'] or 0} moved; {proof}{early}; {plan['seconds'] or 0:.1f} s"


def _channels(feed: dict[str, Any]) -> str:
    first, last = feed["first_channel"], feed["last_channel"]
    if not first:
        return ""
    return str(first) if last == first else f"{first}–{last}"
