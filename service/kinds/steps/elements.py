"""What the steps of an element need, and what follows: a fault opened when it goes dark, and closed when it
works again."""

from datetime import date
from enum import StrEnum

from sqlalchemy import exists, func, select
from sqlalchemy.orm import Session

from service.kinds.steps.walking import Stepping, Words
from service.planning.records import Allotment, Plan, PlanStatus, UnfedRun
from service.shows.faults import BenchTest, Fault
from service.shows.paths import ELEMENTS
from service.shows.records import Element, ElementStatus, Piece, PieceCut, Run
from service.stock.records import Cut
from service.store.types import utc_now


def _lacks(
    session: Session, element: Element, to: StrEnum, words: Words, _today: date
) -> tuple[str, str] | None:
    if to == ElementStatus.CUT and not words.what:
        return _uncut(session, element)
    if to == ElementStatus.TESTED:
        return _untested(session, element)
    if to == ElementStatus.INSTALLED and not words.what:
        return _unfed(session, element)
    return None


def _uncut(session: Session, element: Element) -> tuple[str, str] | None:
    off_a_reel = exists().where(
        PieceCut.piece_id == Piece.id, PieceCut.cut_id == Cut.id, Cut.is_disputed.is_(False)
    )
    pieces = select(func.count(Piece.id)).join(Run).where(Run.element_id == element.id)
    uncut = session.scalar(pieces.where(~off_a_reel)) or 0
    if not uncut:
        return None
    return (
        f"{uncut} of {session.scalar(pieces)} pieces have no cut on record",
        "Enter their cuts, or say in `what` why there are none.",
    )


def _untested(session: Session, element: Element) -> tuple[str, str] | None:
    last = session.scalars(
        select(BenchTest)
        .where(BenchTest.element_id == element.id)
        .order_by(BenchTest.tested_on.desc(), BenchTest.id.desc())
        .limit(1)
    ).one_or_none()
    if last is None:
        return "it has no bench test", "Enter the bench test that it passed."
    if not last.passed:
        return f"it failed its bench test of {last.tested_on}", "Mend it, test it again and enter that test."
    return None


def _unfed(session: Session, element: Element) -> tuple[str, str] | None:
    of_kept = (
        select(Plan.id)
        .where(Plan.production_id == element.production_id, Plan.status == PlanStatus.KEPT)
        .scalar_subquery()
    )
    fed = exists().where(Allotment.run_id == Run.id, Allotment.plan_id == of_kept)
    told = exists().where(UnfedRun.run_id == Run.id, UnfedRun.plan_id == of_kept, UnfedRun.because != "")
    numbers = session.scalars(
        select(Run.number).where(Run.element_id == element.id, ~fed, ~told).order_by(Run.number)
    ).all()
    if not numbers:
        return None
    runs = ", ".join(map(str, numbers))
    return (
        f"no kept plan feeds run {runs}",
        "Keep a plan that feeds it, or say in `what` why it is not fed.",
    )


def _follow(session: Session, element: Element, to: StrEnum, words: Words, today: date) -> None:
    if to == ElementStatus.DARK:
        session.add(
            Fault(
                element_id=element.id,
                found_on=today,
                found_at=utc_now(),
                found_by=str(session.info.get("by", "")),
                symptom=words.what,
                made_dark=True,
            )
        )
    if to == ElementStatus.WORKING:
        _close_faults(session, element, words, today)


def _close_faults(session: Session, element: Element, words: Words, today: date) -> None:
    open_ones = session.scalars(
        select(Fault)
        .where(Fault.element_id == element.id, Fault.made_dark.is_(True), Fault.mended_on.is_(None))
        .order_by(Fault.id)
        .with_for_update()
    )
    for fault in open_ones:
        fault.mended_on = max(today, fault.found_on)
        fault.fix = fault.fix or words.what
        if fault.found_at is not None and fault.minutes_dark is None:
            fault.minutes_dark = max(0, int((utc_now() - fault.found_at).total_seconds() // 60))


STEPPING = Stepping(ELEMENTS, _lacks, _follow)
