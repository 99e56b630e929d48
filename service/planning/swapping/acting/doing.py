"""One unit put in the place of another in a kept plan, in one act."""

from collections.abc import Iterable
from datetime import date
from hashlib import blake2b
from typing import Any

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from service.errors import BadRequest, OverLimit, Refused, Stale
from service.limits.findings import Finding
from service.planning.records import Allotment, Patch, Placing
from service.planning.snapshot.house import UnitRow
from service.planning.swapping.acting.remembering import Memory
from service.planning.swapping.acting.storing import (
    Act,
    store_fault,
    store_hold,
    store_note,
    store_plan,
    store_whereabouts,
)
from service.planning.swapping.acting.telling import swap_out
from service.planning.swapping.asking import place_of
from service.planning.swapping.carrying import DoesNotFitError, Exchange, carried, exchanged
from service.planning.swapping.judging import Judged, judged
from service.planning.swapping.reading import Question, find_unit, read_question
from service.planning.swapping.records import Swap
from service.planning.swapping.schemas import CAUTIONS, SwapAsk, SwappedOut
from service.planning.swapping.setting import labels_of, sets_of
from service.planning.swapping.standing import Share, Standing, standings
from service.season.queries import last_day
from service.stock.gear import GearKind, Unit
from service.store.numbers import next_numbers
from service.store.types import utc_now


def swap(
    session: Session, tag: str, ask: SwapAsk, today: date, by: str, if_match: frozenset[str] | None = None
) -> SwappedOut:
    """The swap, done. `if_match`: what `swap_etag` may say.

    Raises NotFound, BadRequest, Stale; Refused where the new unit is not to be had or cannot carry it;
    OverLimit where a limit would be passed and nobody says why, and always where tape would burn.
    """
    old, new = _held(session, tag, ask.swap_for)
    question = read_question(session, old.tag, ask.production, today, is_held=True)
    if if_match is not None and swap_etag(question) not in if_match:
        raise Stale(
            f"what hangs on {old.tag} changed since you read it", "Ask again what can stand in for it."
        )
    if old.kind == GearKind.ENCLOSURE:
        raise Refused(f"{old.tag} is a box", "Swap what is in it, one by one.")
    row = question.house.named(new.id)
    standing = _to_be_had(question, row)
    exchange = _fitting(question, row)
    place = place_of(question)
    verdict = judged(place, place.found(question.rows, question.claims), question.old, row, exchange.rows)
    _refuse_over(question, row, verdict, ask.despite_limits)
    act = Act(question, ask, Memory(session), old, new, standing, exchange, by)
    store_plan(act)
    hold = store_hold(act)
    fault = store_fault(act)
    store_whereabouts(act)
    note = store_note(act, sets_of(question, row, exchange))
    done = Swap(
        number=next_numbers(session, Swap.number, "S")[0],
        production_id=question.production.id,
        plan_id=question.plan.id,
        old_id=old.id,
        new_id=new.id,
        swapped_on=today,
        swapped_by=by,
        why="; despite limits: ".join(filter(None, (ask.found, ask.despite_limits)))[:400],
        before={},
    )
    done.before = act.memory.kept()
    done.fault_id, done.note_id = (fault.id if fault else None), note.id
    session.add(done)
    question.plan.changed_at = utc_now()  # a plan that is kept meanwhile must not lose the swap unseen
    session.flush()
    return SwappedOut(
        **swap_out(session, done).model_dump() | {"hold": hold.number},
        labels=labels_of(question, row, exchange.moved),
        sets=sets_of(question, row, exchange),
        worse=[*_cut_short(question, standing), *(f.message for f in verdict.worse)],
        mends=[f.message for f in verdict.mended],
        caution=CAUTIONS[old.kind],
    )


def _cut_short(question: Question, standing: Standing) -> list[str]:
    """The clash to come, where the new unit is to be had for a while only."""
    if standing.until_on is None:
        return []
    end = last_day(question.plan.until_on)
    return [f"{question.production.tag} wants {standing.unit.tag} to {end}, and {standing.because}"]


def swap_etag(question: Question) -> str:
    """Changes with the unit, with the kept plan it is in and with every row of that plan that names it."""
    session, unit_id, plan_id = question.session, question.old.id, question.plan.id
    told: list[Any] = [session.scalar(select(Unit.version).where(Unit.id == unit_id)), plan_id]
    for record, is_about in (
        (Allotment, or_(Allotment.supply_id == unit_id, Allotment.decoder_id == unit_id)),
        (Placing, or_(Placing.unit_id == unit_id, Placing.enclosure_id == unit_id)),
        (Patch, Patch.decoder_id == unit_id),
    ):
        rows = session.execute(
            select(record.id, record.version).where(record.plan_id == plan_id, is_about).order_by(record.id)
        )
        told += [tuple(row) for row in rows]
    return blake2b(repr(told).encode(), digest_size=8).hexdigest()


def _held(session: Session, tag: str, other: str) -> tuple[Unit, Unit]:
    """Both units, held in the order of their ids, so that two swaps never wait for one another."""
    ids = [find_unit(session, tag).id, find_unit(session, other).id]
    if ids[0] == ids[1]:
        raise BadRequest(f"{tag} cannot stand in for itself", "Name another unit.")
    query = select(Unit).where(Unit.id.in_(ids)).order_by(Unit.id).with_for_update()
    held = {unit.id: unit for unit in session.scalars(query.execution_options(populate_existing=True))}
    return held[ids[0]], held[ids[1]]


def _to_be_had(question: Question, new: UnitRow) -> Standing:
    code, old = question.production.tag, question.old
    mend = f"Ask what else can stand in for {old.tag}."
    if new.kind != old.kind:
        raise Refused(f"{new.tag} is a {new.kind}; {old.tag} is a {old.kind}", mend)
    in_use = sorted({f.element.tag for f in carried(question.rows, new.id)})
    if in_use:
        raise Refused(f"{new.tag} feeds {', '.join(in_use)} in {code}", mend)
    [standing] = standings(question.house, question.claims, question.asking, [new])
    if standing.share is Share.TAKEN:
        raise Refused(f"{new.tag} is not to be had: {standing.because}", mend)
    if standing.share is Share.LENT:
        raise Refused(
            f"{new.tag} is {standing.because.partition(':')[0]}",
            f"Put on record that {standing.lender} gave it back, then swap.",
        )
    return standing


def _fitting(question: Question, new: UnitRow) -> Exchange:
    try:
        return exchanged(question.house, question.rows, question.old, new)
    except DoesNotFitError as error:
        raise Refused(
            f"{new.tag} cannot carry what {question.old.tag} carries: {error}",
            f"Ask what can stand in for {question.old.tag}.",
        ) from error


def _refuse_over(question: Question, new: UnitRow, verdict: Judged, despite: str | None) -> None:
    worse: Iterable[Finding] = verdict.never or verdict.over
    if verdict.never or (verdict.over and not despite):
        mend = f"Choose another that can stand in for {question.old.tag}"
        if not verdict.never:
            mend += ", or say in despite_limits why a competent person has decided it"
        raise OverLimit(
            f"{new.tag} for {question.old.tag} would put something over a limit: "
            + "; ".join(f.message for f in worse),
            f"{mend}.",
            list(worse),
        )
