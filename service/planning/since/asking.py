"""Since when, until when: a day, a plan or a print becomes two photos set side by side."""

import re
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import date, datetime, timedelta

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.errors import BadRequest, NotFound
from service.planning.actions import no_plan
from service.planning.records import Plan
from service.planning.since.differing import changes, relabels
from service.planning.since.photo import Photo, photo
from service.planning.since.records import Print
from service.planning.since.schemas import PrintOut, RelabelOut, SinceOut
from service.planning.snapshot.show import find_production, kept_plan
from service.season.records import Production
from service.store.audit import AuditEntry

_POINT = re.compile(r"(?:(plan|print):(\d{1,9})|(\d{4}-\d{2}-\d{2}))")
EndOf = Callable[[date], datetime | None]


@dataclass(frozen=True, slots=True)
class Span:
    """`since`, `until`: a day, as YYYY-MM-DD and at its end; plan:N; print:N. No `until`: now."""

    since: str
    until: str | None = None


def since(session: Session, code: str, span: Span, end_of: EndOf) -> list[SinceOut]:
    """What differs between the two points of a show. Raises NotFound, BadRequest."""
    before, after = _photos(session, code, span, end_of)
    return [SinceOut(**asdict(change)) for change in changes(before, after)]


def relabel(session: Session, code: str, span: Span, end_of: EndOf) -> list[RelabelOut]:
    """The leads to be labelled anew, by place. Raises NotFound, BadRequest."""
    before, after = _photos(session, code, span, end_of)
    return [RelabelOut(**asdict(one)) for one in relabels(before, after)]


def record_print(session: Session, code: str, paper: str, by: str, as_of: date) -> PrintOut:
    """Put a print on record; its number is the revision to write on the paper."""
    production = find_production(session, code)
    held = select(Production).where(Production.id == production.id).with_for_update()
    session.scalars(held).one()  # two who print at once do not get the same number
    last = session.scalar(select(func.max(Print.number)).where(Print.production_id == production.id)) or 0
    plan = kept_plan(session, production.id)
    made = Print(
        production_id=production.id,
        number=last + 1,
        paper=paper,
        as_of=as_of,
        plan=None if plan is None else plan.number,
        printed_by=by,
    )
    session.add(made)
    session.flush()
    return _print_out(production.tag, made)


def prints(session: Session, code: str) -> list[PrintOut]:
    """Every print of a show, the latest first."""
    production = find_production(session, code)
    found = session.scalars(
        select(Print).where(Print.production_id == production.id).order_by(Print.number.desc())
    )
    return [_print_out(production.tag, one) for one in found]


def _print_out(code: str, one: Print) -> PrintOut:
    return PrintOut(
        production=code,
        number=one.number,
        paper=one.paper,
        as_of=one.as_of,
        plan=one.plan,
        printed_by=one.printed_by,
        printed_at=one.printed_at,
    )


@dataclass(frozen=True, slots=True)
class _Point:
    """A moment of the show (None: now), or one of its plans."""

    before: datetime | None = None
    plan: int | None = None


def _photos(session: Session, code: str, span: Span, end_of: EndOf) -> tuple[Photo, Photo]:
    production = find_production(session, code)
    first = _point(session, production, span.since, end_of, "since")
    last = _Point() if span.until is None else _point(session, production, span.until, end_of, "until")
    if first.before is not None and last.before is not None and last.before < first.before:
        raise BadRequest(f"{span.until} comes before {span.since}", "Swap the two.")
    return (
        photo(session, production.id, first.before, first.plan),
        photo(session, production.id, last.before, last.plan),
    )


def _point(session: Session, production: Production, said: str, end_of: EndOf, name: str) -> _Point:
    match = _POINT.fullmatch(said.strip())
    if match is None:
        raise BadRequest(
            f"{said[:40]!r} is no point in time of a show",
            f"Give {name} as a day (2026-11-20), a plan (plan:2) or a print (print:3).",
        )
    kind, number, day = match.groups()
    if kind == "plan":
        return _Point(plan=_plan(session, production, int(number)))
    if kind == "print":
        return _Point(before=_print(session, production, int(number)).printed_at)
    try:
        wanted = date.fromisoformat(day)
    except ValueError as error:
        raise BadRequest(f"{day} is not a day of the calendar", "Check month and day.") from error
    if wanted > date.min and end_of(wanted - timedelta(days=1)) is None:
        raise BadRequest(
            f"{day} is still to come",
            f"Give {name} as a day up to today, a plan (plan:2) or a print (print:3).",
        )
    before = end_of(wanted)
    _refuse_unknown_past(session, production, wanted, before)
    return _Point(before=before)


def _plan(session: Session, production: Production, number: int) -> int:
    found = session.scalar(
        select(Plan.number).where(Plan.production_id == production.id, Plan.number == number)
    )
    if found is None:
        raise no_plan(session, production, number)
    return found


def _print(session: Session, production: Production, number: int) -> Print:
    found = session.scalars(
        select(Print).where(Print.production_id == production.id, Print.number == number)
    ).one_or_none()
    if found is None:
        last = session.scalar(select(func.max(Print.number)).where(Print.production_id == production.id))
        mend = "Nothing of it was printed yet." if last is None else f"Its latest is print {last}."
        raise NotFound(f"{production.tag} has no print {number}", mend)
    return found


def _refuse_unknown_past(
    session: Session, production: Production, day: date, before: datetime | None
) -> None:
    """The record begins when the show was entered: before that there is nothing to set beside it."""
    made = session.scalar(
        select(func.min(AuditEntry.at)).where(
            AuditEntry.kind == "productions", AuditEntry.thing_id == production.id, AuditEntry.what == "made"
        )
    )
    if before is not None and made is not None and made >= before:
        raise BadRequest(
            f"{production.tag} was not on record on {day}",
            f"It is since {made:%Y-%m-%d}: ask for that day, a plan or a print.",
        )
