"""A cut plan as the doors answer it."""

from collections import defaultdict
from collections.abc import Sequence
from typing import Any

from sqlalchemy import case, func, or_, select
from sqlalchemy.orm import Session

from service.planning.cutting.actions import is_under_way
from service.planning.cutting.doing import Marked
from service.planning.cutting.marking import step_of
from service.planning.cutting.records import CutPlan, CutPlanShow, CutStep
from service.planning.cutting.schemas import CutPlanOut, CutTapeOut, StepAnswer
from service.planning.cutting.stock import IS_DONE
from service.season.records import Production


def plans_out(session: Session, plans: Sequence[CutPlan]) -> list[CutPlanOut]:
    """Each plan in full, in the order given. A number of statements that does not grow."""
    ids = [plan.id for plan in plans]
    shows: dict[int, list[str]] = defaultdict(list)
    for plan_id, code in session.execute(
        select(CutPlanShow.cut_plan_id, Production.tag)
        .join(Production, Production.id == CutPlanShow.production_id)
        .where(CutPlanShow.cut_plan_id.in_(ids))
        .order_by(Production.tag_key)
    ):
        shows[plan_id].append(code)
    counts = {
        row[0]: (row[1], row[2])
        for row in session.execute(
            select(CutStep.cut_plan_id, func.count(CutStep.id), func.count(case((IS_DONE, 1))))
            .where(CutStep.cut_plan_id.in_(ids))
            .group_by(CutStep.cut_plan_id)
        )
    }
    before, after = _line_of(session, plans)
    return [
        _out(plan, shows[plan.id], counts.get(plan.id, (0, 0)))
        .model_copy(
            update={
                "supersedes": before.get(plan.supersedes_id or 0),
                "superseded_by": after.get(plan.id),
            }
        )
        for plan in plans
    ]  # fmt: skip


def _line_of(session: Session, plans: Sequence[CutPlan]) -> tuple[dict[int, str], dict[int, str]]:
    """Numbers of plans that these took the place of, and of those that took theirs, by id."""
    ids, taken = {plan.id for plan in plans}, {plan.supersedes_id for plan in plans}
    before, after = dict[int, str](), dict[int, str]()
    for plan_id, number, old in session.execute(
        select(CutPlan.id, CutPlan.number, CutPlan.supersedes_id)
        .where(or_(CutPlan.id.in_(taken), CutPlan.supersedes_id.in_(ids)))
        .order_by(CutPlan.id)
    ):
        if plan_id in taken:
            before[plan_id] = number or ""
        if old in ids:
            after[old or 0] = number or ""
    return before, after


def plan_out(session: Session, plan: CutPlan) -> CutPlanOut:
    """One plan in full."""
    return plans_out(session, [plan])[0]


def _out(plan: CutPlan, shows: list[str], counts: tuple[int, int]) -> CutPlanOut:
    found: dict[str, Any] = plan.found
    return CutPlanOut(
        number=plan.number or "",
        status="working" if is_under_way(plan) else plan.status.value,
        productions=shows,
        may_buy=found["ask"]["may_buy"],
        only_tapes=found["ask"]["tapes"],
        by=plan.made_by,
        as_of=plan.as_of,
        keep_mm=plan.keep_um / 1000,
        steps=counts[0],
        done=counts[1],
        tapes=[CutTapeOut(**tape) for tape in found.get("tapes", [])],
        is_proven=plan.is_proven,
        stopped_early=plan.stopped_early,
        seconds=plan.seconds,
        error=found.get("error"),
        notes=found.get("notes", []),
        note=plan.note,
        kept_at=plan.kept_at,
        version=plan.version,
    )


def step_answer(session: Session, marked: Marked) -> StepAnswer:
    """A step after it was marked, and where its plan and element stand."""
    return StepAnswer(
        step=step_of(session, marked.plan, marked.position, marked.reel_id),
        plan_status=marked.plan.status.value,
        pieces_left=marked.pieces_left,
        element_status=None if marked.element is None else marked.element.status.value,
        offcut=marked.offcut,
    )
