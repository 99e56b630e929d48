"""A cut plan reel by reel, as it is worked from."""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.planning.cutting.actions import find_cut_plan
from service.planning.cutting.marking import plan_steps
from service.planning.cutting.records import CutPlan, CutStep
from service.planning.cutting.schemas import CutPlanOut, CutStepOut
from service.planning.cutting.stock import IS_DONE
from service.planning.cutting.telling import plan_out
from service.stock.records import Cut, Reel, ReelState, Tape


@dataclass(frozen=True, slots=True)
class ReelSheet:
    """One reel of a plan with its cuts, in marking order. `left_mm`: on it now; of one that is still to
    come, what its cuts and what will be left of it are together. `keep_mm`: what will be left and kept.
    `undo`: the number of the step that was cut last off it."""

    tape: str
    pitch_mm: float
    lot: str
    reel: str
    state: str
    left_mm: float
    keep_mm: float
    steps: tuple[CutStepOut, ...]
    undo: int | None

    @property
    def is_here(self) -> bool:
        return bool(self.state)

    @property
    def waiting(self) -> tuple[CutStepOut, ...]:
        """Cuts that are still to be made."""
        return tuple(step for step in self.steps if step.mark_mm is not None)

    @property
    def last(self) -> int | None:
        """The last piece to be cut off it; with it what is left may get a tag of its own."""
        pieces = [step.step for step in self.waiting if step.kind == "piece"]
        return pieces[-1] if pieces else None


@dataclass(frozen=True, slots=True)
class Sheet:
    """`undo`: the step that was cut last of all."""

    plan: CutPlanOut
    reels: tuple[ReelSheet, ...]
    undo: CutStepOut | None

    @property
    def steps(self) -> tuple[CutStepOut, ...]:
        return tuple(step for reel in self.reels for step in reel.steps)

    @property
    def left(self) -> tuple[CutStepOut, ...]:
        """Pieces that are still to be cut."""
        return tuple(step for step in self.steps if step.mark_mm is not None and step.kind == "piece")

    @property
    def next(self) -> tuple[ReelSheet, CutStepOut] | None:
        """The first cut that is still to be made, on a reel that is here if there is one."""
        for wants_here in (True, False):
            for reel in self.reels:
                if reel.waiting and reel.is_here == wants_here:
                    return reel, reel.waiting[0]
        return None

    @property
    def joints(self) -> int:
        """Pieces that get a joint: cut in parts."""
        return sum(tape.joints for tape in self.plan.tapes)

    @property
    def scrap_m(self) -> float:
        return round(sum(tape.scrap_m for tape in self.plan.tapes), 6)


def sheet_of(session: Session, number: str) -> Sheet:
    """The plan of that number, its reels in the order of the plan. Raises NotFound."""
    plan = find_cut_plan(session, number)
    told = plan_out(session, plan)
    steps = plan_steps(session, plan)
    order = _done_in_order(session, plan)
    of_reel: dict[tuple[str, str], list[CutStepOut]] = {}
    for step in steps:
        of_reel.setdefault((step.tape, step.reel), []).append(step)
    pitches = {tag: um / 1000 for tag, um in session.execute(select(Tape.tag, Tape.pitch_um))}
    there = _reels(session, [reel for _, reel in of_reel], pitches)
    keeps = {(tape.tape, offcut.reel): offcut.left_m for tape in told.tapes for offcut in tape.offcuts}
    found = []
    for (tape, reel), own in of_reel.items():
        state, left_mm = there.get(reel, ("", 0.0))
        wanted_mm = sum(step.cut_mm for step in own if step.mark_mm is not None)
        if not state:
            left_mm = wanted_mm + 1000.0 * keeps.get((tape, reel), 0.0)
        numbers = [number for number in order if any(step.step == number for step in own)]
        found.append(
            ReelSheet(
                tape,
                pitches[tape],
                own[0].lot or "",
                reel,
                state,
                left_mm,
                round(max(0.0, left_mm - wanted_mm), 3),
                tuple(own),
                numbers[-1] if numbers else None,
            )
        )
    last = next((step for step in steps if order and step.step == order[-1]), None)
    return Sheet(told, tuple(found), last)


def _done_in_order(session: Session, plan: CutPlan) -> Sequence[int]:
    """Numbers of the steps that are done, in the order in which they were cut."""
    query = (
        select(CutStep.position)
        .join(Cut, Cut.id == CutStep.cut_id)
        .where(CutStep.cut_plan_id == plan.id, IS_DONE)
        .order_by(Cut.id)
    )
    return session.scalars(query).all()


def _reels(
    session: Session, tags: Sequence[str], pitches: dict[str, float]
) -> dict[str, tuple[ReelState | str, float]]:
    """State and length left in mm of those that are here, by tag."""
    rows = session.execute(
        select(Reel.tag, Reel.state, Reel.left_pitches, Tape.tag)
        .join(Tape, Tape.id == Reel.tape_id)
        .where(Reel.tag.in_(tags))
    )
    return {tag: (state.value, left * pitches[tape]) for tag, state, left, tape in rows}
