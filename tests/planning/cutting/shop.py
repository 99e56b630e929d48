"""A workshop with tape to be cut: T-100 has marks every 100 mm and comes in reels of 5 m (50 pitches)."""

from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.planning.cutting.actions import (
    CutAsk,
    ask_for_cut_plan,
    find_cut_plan,
    keep_cut_plan,
    work_out_cuts,
)
from service.planning.cutting.marking import plan_steps
from service.planning.cutting.reading import TapeQuestion, read_question
from service.planning.cutting.records import CutPlan, CutPlanStatus
from service.planning.cutting.schemas import CutPlanOut, CutStepOut
from service.planning.cutting.telling import plan_out
from service.season.records import Production
from service.shows.records import GroupKind
from service.stock.ledger.reels import Entry
from service.stock.records import Reel, ReelState
from service.store.work import Store
from tests import builders as build

TODAY = date(2026, 11, 25)
ENTRY = Entry("bench 1", TODAY)


class Shop:
    """What `a_shop` put in: the tape, and the show WIN."""

    def __init__(self, session: Session) -> None:
        self.tape = build.a_tape(session, tag="T-100", pitch_um=100_000, reel_pitches=50, price=80)
        self.venue = build.a_venue(session, name="Main Stage")
        self.show = self.production(session, "WIN")

    def production(self, session: Session, tag: str, **given: Any) -> Production:
        return build.a_production(session, self.venue, tag=tag, **given)

    def reel(self, session: Session, tag: str, pitches: int = 50, **given: Any) -> Reel:
        plain: dict[str, Any] = {"state": ReelState.SEALED if pitches == 50 else ReelState.OFFCUT}
        return build.a_reel(session, self.tape, pitches, tag=tag, **plain | given)

    def element(self, session: Session, tag: str, *pieces: int, **given: Any) -> Any:
        """Each piece on a run of its own, in pitches of 100 mm."""
        show = given.pop("show", self.show)
        runs = tuple((pitches,) for pitches in pieces)
        return build.an_element(session, show, runs, tag=tag, tape=given.pop("tape", self.tape), **given)

    def match_group(self, session: Session, name: str) -> int:
        return build.a_group(session, self.show, kind=GroupKind.MATCH, name=name).id


def asked(session: Session, *codes: str, **how: Any) -> TapeQuestion:
    """What is asked of the one tape there is."""
    (tape,) = read_question(session, codes or ("WIN",), TODAY, **how).tapes
    return tape


def planned(store: Store, *codes: str, **how: Any) -> CutPlanOut:
    """A plan worked out to a draft, here and now."""
    ask = CutAsk(codes or ("WIN",), **how)
    plan_id = store.write(lambda s: ask_for_cut_plan(s, ask, "planner", TODAY).id, "planner")
    assert work_out_cuts(store, plan_id, TODAY) is CutPlanStatus.DRAFT
    with store.reading() as session:
        return plan_out(session, session.get_one(CutPlan, plan_id))


def kept(store: Store, *codes: str, **how: Any) -> CutPlanOut:
    """The same, and kept."""
    made = planned(store, *codes, **how)
    return store.write(lambda s: plan_out(s, keep_cut_plan(s, made.number, TODAY)), "planner")


def steps_of(store: Store, number: str) -> list[CutStepOut]:
    with store.reading() as session:
        return plan_steps(session, find_cut_plan(session, number))


def told(store: Store, number: str) -> CutPlanOut:
    with store.reading() as session:
        return plan_out(session, find_cut_plan(session, number))


def left(store: Store, tag: str) -> tuple[int, str]:
    """What is left of a reel in pitches, and its state."""
    with store.reading() as session:
        reel = session.scalars(select(Reel).where(Reel.tag == tag)).one()
        return reel.left_pitches, reel.state.value
