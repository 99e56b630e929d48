"""A stage with sound stock on which plans can be worked out.

The kinds are those of the builders: 24 V four-colour tape of 4.8 W/m an emitter; a supply of 320 W and
13.3 A, so 256 W and 10.64 A for hours; a decoder of four channels of 5 A, so 4 A each.
"""

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy.orm import Session

from service.planning.actions import PlanAsk, ask_for_plan, keep_plan, work_out
from service.planning.asking import Question, question_for
from service.planning.records import PlanStatus
from service.planning.snapshot.availability import Taken, free_units, read_claims
from service.planning.snapshot.house import read_house
from service.planning.snapshot.show import window_of
from service.season.records import Production
from service.shows.records import Element, ScenicUnit
from service.stock.gear import DecoderModel, SupplyModel, Unit
from service.stock.records import Outlet, Place, PlaceKind, Tape, Venue
from service.store.work import Store
from tests import builders as build

TODAY = date(2026, 11, 25)


@dataclass
class Stage:
    """What `a_stage` put in. The show is WIN, the wall stands on the deck, C1 is a constant outlet there."""

    venue: Venue
    deck: Place
    outlet: Outlet
    tape: Tape
    supply_model: SupplyModel
    decoder_model: DecoderModel
    supplies: list[Unit]
    decoders: list[Unit]
    show: Production
    wall: ScenicUnit

    def element(self, session: Session, tag: str, **given: Any) -> Element:
        """A window on the wall, 2 m (38.4 W) on one lead unless told otherwise."""
        plain: dict[str, Any] = {"tape": self.tape, "scenic_unit_id": self.wall.id}
        return build.an_element(session, self.show, tag=tag, **plain | given)

    def question(self, session: Session, mend: bool = False) -> Question:
        return question_for(session, self.show, window_of(self.show), mend, TODAY)


def a_stage(session: Session, supplies: int = 1, decoders: int = 1, **show: Any) -> Stage:
    """Supplies PS-1.., decoders DC-1.., all in the store and sound."""
    venue = build.a_venue(session, name="Main Stage")
    deck = build.a_place(session, tag="DECK", name="deck", kind=PlaceKind.STAGE, venue_id=venue.id)
    outlet = build.an_outlet(session, tag="C1", venue_id=venue.id, place_id=deck.id)
    tape = build.a_tape(session, tag="T-RGBW")
    supply_model = build.a_supply_model(session, tag="S320")
    decoder_model = build.a_decoder_model(session, tag="D4")
    production = build.a_production(session, venue, **{"tag": "WIN"} | show)
    on_deck = build.a_place(
        session, tag="WALL", name="wall", kind=PlaceKind.SCENIC_UNIT, venue_id=venue.id, parent_id=deck.id
    )
    wall = build.a_scenic_unit(session, production, name="Wall", place_id=on_deck.id)
    return Stage(
        venue,
        deck,
        outlet,
        tape,
        supply_model,
        decoder_model,
        [build.a_supply(session, supply_model, tag=f"PS-{n}") for n in range(1, supplies + 1)],
        [build.a_decoder(session, decoder_model, tag=f"DC-{n}") for n in range(1, decoders + 1)],
        production,
        wall,
    )


def free_for(session: Session, show: Production, today: date = TODAY) -> tuple[list[str], dict[str, Taken]]:
    """(tags that are free for the show's own days, the others with the reason)."""
    free, taken = free_units(read_house(session), read_claims(session, today), show.id, window_of(show))
    return [unit.tag for unit in free], {one.unit.tag: one for one in taken}


def worked_out(store: Store, code: str = "WIN", today: date = TODAY, **ask: Any) -> int:
    """The number of a plan that was asked for and worked out to a draft, here and now."""
    plan = store.write(lambda session: ask_for_plan(session, code, PlanAsk(**ask), "planner"), "planner")
    assert work_out(store, plan.id, today) is PlanStatus.DRAFT
    return plan.number


def kept(store: Store, code: str = "WIN", **ask: Any) -> int:
    """The same, and kept."""
    number = worked_out(store, code, **ask)
    store.write(lambda session: keep_plan(session, code, number, TODAY), "planner")
    return number
