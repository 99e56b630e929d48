"""Dark things put to the question; the dark list."""

from collections.abc import Iterable
from datetime import date

from sqlalchemy import ColumnElement, and_, func, select
from sqlalchemy.orm import Session

from service.errors import BadRequest, NotFound
from service.planning.dark.causes import Cause, Path, caution_of, check_of, ranked, together
from service.planning.dark.paths import paths
from service.planning.dark.schemas import (
    CauseOut,
    CausesOut,
    DarkAsk,
    DarkElementOut,
    DarkRunOut,
    UnfedDarkOut,
)
from service.season.records import Production, ProductionStatus
from service.shows.faults import Fault
from service.shows.records import Element, ElementStatus, Run, ScenicUnit
from service.stock.records import Place
from service.store.base import tag_key

MOST_CAUSES = 40


def causes_of(session: Session, ask: DarkAsk, day: date) -> CausesOut:
    """What the dark runs have in common, the likeliest first.

    Raises NotFound for an element or a run that is not there, BadRequest for one that is dark and lit.
    """
    runs = _runs_named(session, [*ask.dark, *ask.lit])
    dark = frozenset(run for name in ask.dark for run in runs[tag_key(name)])
    lit = frozenset(run for name in ask.lit for run in runs[tag_key(name)])
    if dark & lit:
        raise BadRequest(
            f"{sorted(dark & lit)[0]} is said to be dark and lit", "Say one of the two; a run may be named."
        )
    found = paths(session, day, frozenset(tag_key(run.partition("/")[0]) for run in dark | lit))
    shows = {path.production for path in found if path.run in dark}
    recorded = _recorded(session, shows) if ask.also_recorded else set()
    also = {path.run for path in found if path.element in recorded and path.run not in lit}
    all_dark = dark | also
    by_run = {path.run: path for path in found}
    fed_dark = frozenset(run for run in all_dark if run in by_run)
    causes = ranked(found, fed_dark, lit)
    return CausesOut(
        dark=[_run_out(by_run[run], False) for run in sorted(fed_dark)],
        recorded=sorted({by_run[run].element for run in also - dark}),
        unfed=[
            UnfedDarkOut(run=run, because="no kept plan feeds it: work the show out, or move a feed to it")
            for run in sorted(all_dark - fed_dark)
        ],
        causes=[_cause_out(n, c, len(fed_dark), lit) for n, c in enumerate(causes[:MOST_CAUSES], start=1)],
        together=[cause.thing.name for cause in together(causes, fed_dark)] if fed_dark else [],
    )


def dark_list(session: Session) -> list[DarkElementOut]:
    """Every element on record as dark, the oldest first, with what was last found. One statement."""
    newest = (
        select(func.max(Fault.id))
        .where(Fault.element_id == Element.id, Fault.mended_on.is_(None))
        .correlate(Element)
        .scalar_subquery()
    )
    rows = session.execute(
        select(
            Element.tag, Element.name, Production.tag.label("production"), Place.tag.label("place"),
            Fault.found_on, Fault.found_at, Fault.symptom, Fault.found_by, Element.status_note,
        )
        .join(Production, Production.id == Element.production_id)
        .outerjoin(ScenicUnit, ScenicUnit.id == Element.scenic_unit_id)
        .outerjoin(Place, Place.id == func.coalesce(Element.place_id, ScenicUnit.place_id))
        .outerjoin(Fault, Fault.id == newest)
        .where(_is_dark())
        .order_by(Fault.found_on.is_(None), Fault.found_on, Fault.id, Element.tag_key)
    )  # fmt: skip
    return [
        DarkElementOut(
            element=row.tag,
            name=row.name,
            production=row.production,
            place=row.place or "",
            since=row.found_on,
            since_at=row.found_at,
            symptom=row.symptom or row.status_note or "",
            found_by=row.found_by or "",
        )
        for row in rows
    ]


def _is_dark() -> ColumnElement[bool]:
    return and_(
        Element.status == ElementStatus.DARK,
        Element.retired_on.is_(None),
        Production.status.not_in((ProductionStatus.RETURNED, ProductionStatus.CANCELLED)),
    )


def _recorded(session: Session, shows: Iterable[str]) -> set[str]:
    rows = session.scalars(
        select(Element.tag)
        .join(Production, Production.id == Element.production_id)
        .where(_is_dark(), Production.tag.in_(list(shows)))
    )
    return set(rows)


def _runs_named(session: Session, names: list[str]) -> dict[str, tuple[str, ...]]:
    """The runs that each name stands for: all of an element, or the one after the stroke."""
    wanted = {tag_key(name): name for name in names}
    keys = {key.partition("/")[0].strip() for key in wanted}
    runs: dict[str, dict[str, str]] = {}
    for key, tag, number in session.execute(
        select(Element.tag_key, Element.tag, Run.number)
        .join(Run, Run.element_id == Element.id)
        .where(Element.tag_key.in_(keys))
        .order_by(Element.tag_key, Run.number)
    ):
        runs.setdefault(key, {})[str(number)] = f"{tag}/{number}"
    found = {}
    for key, name in wanted.items():
        own, stroke, which = (part.strip() for part in key.partition("/"))
        if own not in runs:
            raise NotFound(f"no element has the tag {name!r}", "Look at the tag on the element.")
        if stroke and which not in runs[own]:
            raise NotFound(f"{name!r} has no such run", f"It has {', '.join(runs[own].values())}.")
        found[key] = (runs[own][which],) if stroke else tuple(runs[own].values())
    return found


def _run_out(path: Path, is_lit: bool | None) -> DarkRunOut:
    return DarkRunOut(
        run=path.run,
        element=path.element,
        name=path.name,
        production=path.production,
        place=path.place,
        is_lit=is_lit,
    )


def _cause_out(rank: int, cause: Cause, count: int, lit: frozenset[str]) -> CauseOut:
    return CauseOut(
        rank=rank,
        what=cause.thing.width.name.lower(),
        name=cause.thing.name,
        place=cause.thing.place,
        explained=len(cause.explains),
        of=count,
        explains=[path.run for path in cause.explains],
        others=[_run_out(path, True if path.run in lit else None) for path in cause.others],
        is_ruled_out=cause.is_ruled_out,
        check=check_of(cause),
        caution=caution_of(cause),
    )
