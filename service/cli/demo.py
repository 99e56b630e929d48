"""`wattwright demo`: a whole season of an invented house, brought in, worked out, checked and served."""

import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import click

from service.cli.allocate import Worked, dark_table, in_figures, keep, work
from service.cli.bring import bring, read_all, watched
from service.cli.house import database_option, json_option, opened, settings_for
from service.cli.report import (
    LIMITS,
    document,
    print_cautions,
    print_findings,
    print_rows,
    print_summary,
)
from service.cli.serve import address, serve, taken
from service.cli.terminal.show import print_json, show, table
from service.config import Settings, without_password
from service.errors import Refused, StoreUnavailable
from service.limits.findings import Finding
from service.limits.rules.mounting import OF_THE_PIECE
from service.paper.bring_in import Brought
from service.planning.actions import PlanAsk, find_plan
from service.planning.snapshot.season import plan_facts, season_facts
from service.reports import REPORTS, ReportAsk
from service.reports.over_limit import faults_of
from service.season.queries import PRODUCTIONS
from service.store import schema
from service.store.listing import page
from service.store.work import Store

AS_OF = date(2026, 11, 25)


@dataclass(frozen=True, slots=True)
class Proposal:
    """A plan that would mend what is over, worked out but not kept."""

    production: str
    over_before: int
    over_after: int
    worked: Worked


@click.command()
@click.option("--once", is_flag=True, help="Print and end; do not serve.")
@click.option("--port", type=int, help="The port to serve; 0 takes any free one.")
@database_option
@json_option
def command(once: bool, port: int | None, database: str | None, as_json: bool) -> None:
    """Show a whole season of an invented house, worked out and checked, as of 2026-11-25.

    It brings the sheets of five shows into a fresh database (a passing one, unless --database names one that
    is empty), works out the show that has no feeds, proposes what would mend the others, prints the loads
    and what is over a limit, and serves it all until Ctrl-C.
    """
    with _database(database) as url:
        settings = settings_for(url, AS_OF.isoformat(), port=port)
        if once:
            _tell(settings, as_json)
            return
        with taken(settings) as door:
            _tell(settings, as_json)
            click.echo(f"\nAnswers at {address(settings, door)} until Ctrl-C. Try:", err=as_json)
            click.echo(f"  curl {address(settings, door)}api/v1/elements/SQ-09/feed", err=as_json)
            serve(settings, door)


@contextmanager
def _database(named: str | None) -> Iterator[str]:
    if named is not None:
        yield named
        return
    with tempfile.TemporaryDirectory(prefix="wattwright-demo-") as folder:
        yield f"sqlite:///{folder}/demo.db"


def _tell(settings: Settings, as_json: bool) -> None:
    started = time.monotonic()
    with opened(settings, is_any_version=True) as store:
        _refuse_unless_empty(store, settings)
        schema.upgrade(store.engine)
        with watched("Bringing the season in"):
            sheets, _ = read_all([_sheets_folder()])
            brought = bring(store, sheets, AS_OF)
        if not as_json:
            _print_opening(store, settings, brought)
        worked = [plan for code in _without_feeds(store) for plan in _work_out(store, settings, code)]
        proposals = [_propose(store, settings, code, n) for code, n in _over(store).items()]
        if as_json:
            _print_document(store, settings, brought, worked, proposals)
        else:
            _print_plans(worked, proposals)
            _print_reports(store, settings.units.value.lower())
            took = time.monotonic() - started
            click.echo(f"\nWorked out in {took:.1f} s, all as of {AS_OF}: gear that is out then is out here.")


def _refuse_unless_empty(store: Store, settings: Settings) -> None:
    schema.read_revision(store.engine)
    if not schema.is_empty(store.engine):
        raise Refused(
            f"{without_password(settings.database_url)} is not empty; the demo mixes with nobody's own",
            "Name an empty database, or leave --database out.",
        )


def _sheets_folder() -> Path:
    """The demonstration sheets: beside the package in the source, inside it when installed."""
    here = Path(__file__).resolve().parents[1]
    for folder in (here / "seed_demo", here.parent / "seed_demo"):
        if (folder / "elements.csv").is_file():
            return folder
    raise StoreUnavailable("the demonstration sheets are missing", "Install the program again.")


def _without_feeds(store: Store) -> list[str]:
    """Shows still to come that nothing feeds yet."""
    with store.reading() as session:
        return [
            facts.production
            for facts in season_facts(session, AS_OF)
            if not facts.is_over and not any(run.feed is not None for e in facts.elements for run in e.runs)
        ]


def _work_out(store: Store, settings: Settings, code: str) -> list[Worked]:
    """A plan for the show's own days; if that leaves runs dark, another from the day the next show's gear is
    back. The one that leaves less dark is kept, and comes last."""
    first = work(store, settings, code, PlanAsk())
    back = _gear_back(store, code)
    plans = [first]
    if first.unfed and back is not None:
        plans.append(work(store, settings, code, PlanAsk(from_on=back)))
    plans.sort(key=lambda worked: -worked.plan["unfed_w"])
    best = plans.pop().plan
    return [*plans, keep(store, settings, code, best["number"])]


def _gear_back(store: Store, code: str) -> date | None:
    """The first day on which a show that is on when this one starts no longer holds its gear."""
    shows = {row["code"]: row for row in _productions(store)}
    start, end = shows[code]["build_start"], shows[code]["closing"]
    ends = [
        row["return_by"]
        for other, row in shows.items()
        if other != code and row["build_start"] <= start <= row["return_by"]
    ]
    back = min(ends) + timedelta(days=1) if ends else None
    return back if back is not None and back <= end else None


def _over(store: Store) -> dict[str, list[Finding]]:
    """What is over in each show with performances to come in which another plan could put any of it right."""
    with store.reading() as session:
        facts = {show.production: show for show in season_facts(session, AS_OF)}
    coming = [row["code"] for row in _productions(store) if row["closing"] >= AS_OF]
    faults = {code: faults_of(facts[code]) for code in coming}
    return {code: found for code, found in faults.items() if any(f.code not in OF_THE_PIECE for f in found)}


def _propose(store: Store, settings: Settings, code: str, over: list[Finding]) -> Proposal:
    worked = work(store, settings, code, PlanAsk(mend=True))
    with store.reading() as session:
        plan = find_plan(session, code, worked.plan["number"])
        after = faults_of(plan_facts(session, plan, AS_OF))
    return Proposal(code, len(over), len(after), worked)


def _productions(store: Store) -> list[dict[str, Any]]:
    with store.reading() as session:
        return page(session, PRODUCTIONS, {}, None, 200).rows


def _print_opening(store: Store, settings: Settings, brought: Brought) -> None:
    click.secho(f"Harrow Quay Playhouse, all invented, as of {AS_OF}", bold=True)
    click.echo(f"kept in {without_password(settings.database_url)}")
    click.echo("came in: " + ", ".join(f"{count} {name}" for name, count in brought.counts.items()))
    for remark in brought.remarks:
        click.echo(f"note: {remark}")
    with store.reading() as session:
        facts = {show.production: show for show in season_facts(session, AS_OF)}
    rows = []
    for row in _productions(store):
        elements = facts[row["code"]].elements
        fed = sum(run.feed is not None for e in elements for run in e.runs)
        rows.append(
            [row["code"], row["title"], row["venue"], row["status"], row["build_start"], row["load_in"],
             row["first_preview"], row["closing"], row["return_by"], len(elements),
             f"{fed} of {sum(len(e.runs) for e in elements)}"]
        )  # fmt: skip
    heads = ["code", "show", "venue", "status", "build", "load-in", "preview", "closing", "return by",
             "elements", "runs fed"]  # fmt: skip
    show(table("\nShows", heads, rows, right=[9, 10]))


def _print_plans(worked: list[Worked], proposals: list[Proposal]) -> None:
    for one in worked:
        plan = one.plan
        head = f"{plan['production']} had no feeds: plan {plan['number']} worked out"
        kept = "and kept" if plan["status"] == "kept" else "but not kept"
        click.secho(f"\n{head} {kept}, {plan['from_on']} to {plan['to_on']}", bold=True)
        click.echo(in_figures(plan))
        if plan["status"] == "kept":
            _print_changes(one)
        if one.unfed:
            show(dark_table(one.unfed))
    for proposal in proposals:
        plan = proposal.worked.plan
        head = f"{proposal.production} is over in {proposal.over_before}: plan {plan['number']} proposed"
        click.secho(f"\n{head}, not kept; with it {proposal.over_after} would stay over", bold=True)
        click.echo(in_figures(plan))
        _print_changes(proposal.worked)
        if proposal.worked.unfed:
            show(dark_table(proposal.worked.unfed))


def _print_changes(worked: Worked) -> None:
    """What is fed differently; runs of one element that change alike share a line."""
    runs: dict[tuple[str, str, str, str], list[int]] = {}
    for c in worked.changes:
        key = (c.element, c.change, c.before or "dark", c.after or "dark")
        runs.setdefault(key, []).append(c.run)
    rows = [[element, numbers, *rest] for (element, *rest), numbers in runs.items()]
    if rows:
        show(table("", ["element", "runs", "change", "before", "after"], rows))


def _reports(store: Store) -> dict[str, dict[str, Any]]:
    """The loads, and what is over a limit, each with its summary."""
    found = {}
    for name in ("loads", LIMITS):
        ask = ReportAsk(AS_OF)
        with store.reading() as session:
            rows = REPORTS[name].rows(session, ask)
            found[name] = document(REPORTS[name], ask, rows, REPORTS[name].summary(session, ask, rows))
    return found


def _print_reports(store: Store, system: str) -> None:
    reports = _reports(store)
    click.echo()
    title = f"{REPORTS['loads'].title}, as of {AS_OF}"
    print_rows("loads", title, reports["loads"]["rows"], system)
    over = [row for row in reports[LIMITS]["rows"] if row["verdict"] == "over"]
    click.secho(f"\n{REPORTS[LIMITS].title}, as of {AS_OF}, worst first", bold=True)
    print_findings(over)
    print_summary(reports[LIMITS]["summary"])
    print_cautions([caution for report in reports.values() for caution in report["cautions"]])


def _print_document(
    store: Store, settings: Settings, brought: Brought, worked: list[Worked], proposals: list[Proposal]
) -> None:
    print_json(
        {
            "as_of": AS_OF,
            "database": without_password(settings.database_url),
            "brought_in": brought.counts,
            "remarks": brought.remarks,
            "productions": _productions(store),
            "worked_out": worked,
            "proposed": proposals,
            "reports": _reports(store),
        }
    )
