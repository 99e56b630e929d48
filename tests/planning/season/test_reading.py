"""What is held, used, there and due, as it stands in the store, through time."""

import random
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from sqlalchemy.orm import Session

from service.planning.records import PlanStatus
from service.planning.season.items import Item, Season
from service.planning.season.reading import find_item, read_season
from service.season.lines import Step
from service.season.records import Production
from service.shows.records import PieceCut
from service.stock.gear import UnitState
from service.stock.records import Cut, CutKind, ReelState
from tests import builders as build
from tests.planning.stage import TODAY, Stage, a_stage

FIRST, LAST = date(2026, 12, 1), date(2026, 12, 20)  # the days of WIN, both inclusive
AFTER = LAST + timedelta(days=1)


@pytest.fixture
def stage(session: Session) -> Stage:
    """Four supplies and two decoders; WIN wants gear from 1 to 20 December."""
    return a_stage(session, supplies=4, decoders=2, needed_from=FIRST, needed_to=LAST)


def item_of(session: Session, tag: str, lot: str | None = None) -> Item:
    session.flush()
    return find_item(read_season(session, TODAY), tag, lot)


def on(item: Item, day: date, start: date = TODAY) -> Step:
    [step] = [step for step in item.line(start) if step.from_on <= day < step.until_on]
    return step


def figures(item: Item, day: date) -> tuple[int, int, int, int]:
    """Usable, wanted, free, short."""
    step = on(item, day)
    return step.usable, step.wanted, step.free, step.short


def hold(session: Session, show: Production, **what: Any) -> Any:
    return build.a_hold(session, show, **{"from_on": FIRST, "until_on": AFTER} | what)


def test_a_hold_by_model_counts_from_its_first_day_through_its_last(session: Session, stage: Stage) -> None:
    hold(session, stage.show, model_id=stage.supply_model.id, quantity=3)

    item = item_of(session, "s320")
    days = [FIRST - timedelta(days=1), FIRST, LAST, AFTER]
    assert [figures(item, day) for day in days] == [(4, 0, 4, 0), (4, 3, 1, 0), (4, 3, 1, 0), (4, 0, 4, 0)]


def test_of_what_is_held_and_what_a_kept_plan_uses_the_larger_counts(session: Session, stage: Stage) -> None:
    """WIN holds one by model and one by tag, and its plan uses that one, two more and a third decoder."""
    hold(session, stage.show, model_id=stage.supply_model.id, quantity=1)
    hold(session, stage.show, unit_id=stage.supplies[0].id, quantity=1)
    plan = build.a_plan(session, stage.show, from_on=FIRST, until_on=AFTER)
    for supply in stage.supplies[:3]:
        run = stage.element(session, supply.tag.replace("PS", "SQ")).runs[0]
        build.an_allotment(session, plan, run, supply, decoder=stage.decoders[0])

    assert figures(item_of(session, "S320"), FIRST) == (4, 3, 1, 0)
    assert figures(item_of(session, "D4"), FIRST) == (2, 1, 1, 0)


def test_a_plan_that_is_not_kept_wants_nothing(session: Session, stage: Stage) -> None:
    plan = build.a_plan(session, stage.show, status=PlanStatus.DRAFT, from_on=FIRST, until_on=AFTER)
    build.an_allotment(session, plan, stage.element(session, "SQ-1").runs[0], stage.supplies[0])

    assert figures(item_of(session, "S320"), FIRST) == (4, 0, 4, 0)


def test_a_model_that_a_kept_plan_takes_one_of_is_wanted_once(session: Session, stage: Stage) -> None:
    plan = build.a_plan(session, stage.show, from_on=FIRST, until_on=AFTER)
    for tag in ("SQ-1", "SQ-2"):
        run = stage.element(session, tag).runs[0]
        allotment = build.an_allotment(session, plan, run, stage.supplies[0])
        allotment.supply_id, allotment.supply_model_id = None, stage.supply_model.id

    assert figures(item_of(session, "S320"), FIRST) == (4, 1, 3, 0)


def test_a_unit_drawn_from_a_promise_is_not_wanted_twice(session: Session, stage: Stage) -> None:
    promise = hold(session, stage.show, model_id=stage.supply_model.id, quantity=3)
    hold(session, stage.show, unit_id=stage.supplies[0].id, quantity=1, drawn_from_id=promise.id)

    assert figures(item_of(session, "S320"), FIRST) == (4, 3, 1, 0)


@pytest.mark.parametrize("with_names", [True, False])
def test_a_unit_that_its_show_holds_twice_is_wanted_once(
    session: Session, stage: Stage, with_names: bool
) -> None:
    """Twice on the same days, and a third time from the middle of them to a week after."""
    days = {"from_on": FIRST, "until_on": date(2026, 12, 15)}
    after = {"from_on": date(2026, 12, 8), "until_on": date(2026, 12, 22)}
    for each in (days, days, after):
        build.a_hold(session, stage.show, unit_id=stage.supplies[0].id, quantity=1, **each)
    session.flush()

    item = read_season(session, TODAY, with_names=with_names).items["S320"]
    wanted = [on(item, date(2026, 12, day)).wanted for day in (1, 8, 14, 15, 21, 22)]
    assert wanted == [1, 1, 1, 1, 1, 0]
    assert sum(need.used for need in item.needs) == 2


def test_what_is_overdue_is_with_its_show_to_its_day_and_missing_from_then_on(
    session: Session, stage: Stage
) -> None:
    """Due back on 20 November, five days ago; three more are wanted, and there is one too few."""
    hold(session, stage.show, model_id=stage.supply_model.id, quantity=4)
    late = build.a_production(session, stage.venue, tag="OLD")
    build.a_hold(
        session, late, unit_id=stage.supplies[0].id, quantity=1,
        from_on=date(2026, 9, 1), until_on=date(2026, 11, 21),
    )  # fmt: skip

    step = on(item_of(session, "S320"), FIRST)
    assert (step.sound, step.late, step.usable, step.short, step.short_if_back) == (4, 1, 3, 1, 0)
    assert step.wanted_by == (("WIN", 4),)


def test_what_came_back_early_is_there_again_on_the_day_it_did(session: Session, stage: Stage) -> None:
    hold(session, stage.show, unit_id=stage.supplies[0].id, quantity=1, returned_on=date(2026, 12, 10))

    item = item_of(session, "S320")
    assert [on(item, date(2026, 12, day)).wanted for day in (9, 10)] == [1, 0]


@pytest.mark.parametrize("state", [s for s in UnitState if s is not UnitState.GOOD])
def test_what_is_not_good_is_owned_and_not_usable(session: Session, stage: Stage, state: UnitState) -> None:
    stage.supplies[0].state = state

    step = on(item_of(session, "S320"), FIRST)
    assert (step.owned, step.usable) == (4, 3)


def test_what_is_hired_counts_on_the_days_of_its_hire_and_on_no_other(session: Session, stage: Stage) -> None:
    build.a_supply(session, stage.supply_model, hired_from=date(2026, 12, 5), hired_until=date(2026, 12, 12))

    item = item_of(session, "S320")
    steps = [on(item, date(2026, 12, day)) for day in (4, 5, 11, 12)]
    assert [(s.owned, s.hired, s.usable) for s in steps] == [(4, 0, 4), (4, 1, 5), (4, 1, 5), (4, 0, 4)]


def test_an_order_counts_from_the_day_it_is_due_and_only_what_has_not_come(
    session: Session, stage: Stage
) -> None:
    due = date(2026, 12, 10)
    build.an_order_line(session, model_id=stage.supply_model.id, quantity=5, received_quantity=2, due_on=due)
    build.an_order_line(session, model_id=stage.supply_model.id, quantity=7, received_on=TODAY, due_on=TODAY)
    hold(session, stage.show, model_id=stage.supply_model.id, quantity=6)

    item = item_of(session, "S320")
    before, after = on(item, date(2026, 12, 9)), on(item, due)
    assert (before.due, before.short) == (0, 2)
    assert (after.due, after.free, after.short, after.short_undelivered) == (3, 1, 0, 2)


@pytest.mark.parametrize("due_on", [date(2026, 11, 24), None], ids=["yesterday", "no day"])
def test_an_order_that_should_have_come_counts_for_nothing_and_is_said(
    session: Session, stage: Stage, due_on: date | None
) -> None:
    build.an_order_line(session, model_id=stage.supply_model.id, quantity=5, due_on=due_on)
    session.flush()

    season = read_season(session, TODAY)
    assert on(season.items["S320"], AFTER).due == 0
    assert [(one.item, one.quantity, one.due_on) for one in season.late] == [("S320", 5, due_on)]


def test_a_hire_on_order_is_due_on_the_days_of_its_hire(session: Session, stage: Stage) -> None:
    build.an_order_line(
        session, model_id=stage.supply_model.id, quantity=2, is_hire=True, due_on=date(2026, 12, 4),
        hire_from=date(2026, 12, 5), hire_until=date(2026, 12, 12),
    )  # fmt: skip

    item = item_of(session, "S320")
    assert [on(item, date(2026, 12, day)).due for day in (4, 5, 11, 12)] == [0, 2, 2, 0]


@pytest.mark.parametrize("first", [None, date(2026, 12, 5)])
def test_a_hire_on_order_without_its_days_is_not_counted(
    session: Session, stage: Stage, first: date | None
) -> None:
    build.an_order_line(
        session, model_id=stage.supply_model.id, quantity=2, is_hire=True, due_on=date(2026, 12, 4),
        hire_from=first,
    )  # fmt: skip
    session.flush()

    season = read_season(session, TODAY)
    assert on(season.items["S320"], date(2028, 1, 1)).due == 0
    assert [(one.item, one.quantity, one.due_on) for one in season.late] == [("S320", 2, None)]


def test_tape_is_used_up_and_no_date_brings_it_back(session: Session, stage: Stage) -> None:
    """Two windows of 40 pitches; a reel of 100."""
    build.a_reel(session, stage.tape)
    for tag in ("SQ-1", "SQ-2"):
        stage.element(session, tag)

    item = item_of(session, "T-RGBW")
    days = [FIRST - timedelta(days=1), FIRST, date(2029, 1, 1)]
    assert [figures(item, day) for day in days] == [(100, 0, 100, 0), (100, 80, 20, 0), (100, 80, 20, 0)]
    assert (item.unit, item.figure(80)) == ("m", 4.0)


def test_what_a_strike_recovers_comes_the_day_after_it(session: Session, stage: Stage) -> None:
    """A quarter of 80 pitches, 30 of them cut already, on the day after the end of strike."""
    stage.show.recovered_share = 0.26
    reel = build.a_reel(session, stage.tape)
    cut_one = stage.element(session, "SQ-1", runs=((30,),))
    stage.element(session, "SQ-2", runs=((50,),))
    cut = build.a_cut(session, reel, 30)
    session.add(PieceCut(piece_id=cut_one.runs[0].pieces[0].id, cut_id=cut.id))

    item = item_of(session, "T-RGBW")
    strike = stage.show.strike_end
    assert [on(item, day).recovered for day in (strike, strike + timedelta(days=1))] == [0, 20]
    assert figures(item, strike) == (70, 50, 20, 0)


def test_what_was_cut_for_a_promise_is_wanted_no_more(session: Session, stage: Stage) -> None:
    """Held are 90 pitches, 40 of which were cut since: 50 are left of the promise, 40 are drawn."""
    reel = build.a_reel(session, stage.tape)
    element, _ = stage.element(session, "SQ-1"), stage.element(session, "SQ-2")
    build.a_hold(
        session, stage.show, tape_id=stage.tape.id, pitches=90, from_on=FIRST,
        created_at=datetime(2026, 11, 1, tzinfo=UTC),
    )  # fmt: skip
    cut = build.a_cut(session, reel, 40)
    session.add(PieceCut(piece_id=element.runs[0].pieces[0].id, cut_id=cut.id))

    assert figures(item_of(session, "T-RGBW"), FIRST) == (60, 50, 10, 0)


def test_a_disputed_cut_is_off_no_reel(session: Session, stage: Stage) -> None:
    reel = build.a_reel(session, stage.tape)
    session.add(Cut(reel_id=reel.id, kind=CutKind.PIECE, change_pitches=-40, cut_on=TODAY, is_disputed=True))

    assert figures(item_of(session, "T-RGBW"), FIRST)[0] == 100


def test_scrap_and_what_is_written_off_is_not_there(session: Session, stage: Stage) -> None:
    build.a_reel(session, stage.tape, 30, state=ReelState.SCRAP)
    build.a_reel(session, stage.tape, 60, state=ReelState.WRITTEN_OFF)

    assert figures(item_of(session, "T-RGBW"), FIRST)[0] == 0


def test_a_reel_and_its_lot_are_short_of_what_was_promised_of_them_by_name(
    session: Session, stage: Stage
) -> None:
    """F19 as the demonstration has it: 0.8 m and 3.2 m of 3.6 m."""
    reel = build.a_reel(session, stage.tape, 72, tag="R-111", lot="W-26B")
    build.a_reel(session, stage.tape, 100, tag="R-112", lot="W-26D")
    other = build.a_production(session, stage.venue, tag="TW", needed_from=FIRST, needed_to=LAST)
    build.a_hold(session, stage.show, reel_id=reel.id, pitches=64, from_on=FIRST)
    build.a_hold(session, other, reel_id=reel.id, pitches=16, from_on=FIRST)

    assert figures(item_of(session, "R-111"), FIRST) == (72, 80, 0, 8)
    assert figures(item_of(session, "T-RGBW", lot="W-26B"), FIRST) == (72, 80, 0, 8)
    assert figures(item_of(session, "T-RGBW", lot="W-26D"), FIRST) == (100, 0, 100, 0)
    assert figures(item_of(session, "T-RGBW"), FIRST) == (172, 80, 92, 0)


def a_random_house(session: Session, stage: Stage, seed: int) -> None:
    """Holds of every sort, plans, returns, hires and orders on days all over the winter."""
    chance = random.Random(seed)

    def some_days() -> dict[str, date]:
        first = date(2026, 10, 1) + timedelta(days=chance.randint(0, 90))
        return {"from_on": first, "until_on": first + timedelta(days=chance.randint(1, 60))}

    for unit in (*stage.supplies, *stage.decoders):
        unit.state = chance.choice([UnitState.GOOD, UnitState.GOOD, UnitState.FAULTY])
        if chance.random() < 0.3:
            days = some_days()
            unit.hired_from, unit.hired_until = days["from_on"], days["until_on"]
    for n in range(4):
        show = build.a_production(session, stage.venue, tag=f"S{n}", needed_from=some_days()["from_on"])
        promise = build.a_hold(
            session, show, model_id=stage.supply_model.id, quantity=chance.randint(1, 3), **some_days()
        )
        for unit in chance.sample([*stage.supplies, *stage.decoders], 3):
            days = some_days()
            returned = {"returned_on": days["from_on"]} if chance.random() < 0.3 else {}
            drawn = {"drawn_from_id": promise.id} if chance.random() < 0.3 else {}
            issued = {"issued_on": days["from_on"] - timedelta(days=2)} if chance.random() < 0.3 else {}
            build.a_hold(session, show, unit_id=unit.id, quantity=1, **days, **returned, **drawn, **issued)
            if chance.random() < 0.2:
                build.a_hold(session, show, unit_id=unit.id, quantity=1, **some_days())
        plan = build.a_plan(session, show, **some_days())
        for _ in range(2):
            run = build.an_element(session, show, tape=stage.tape).runs[0]
            allotment = build.an_allotment(
                session, plan, run, chance.choice(stage.supplies), decoder=chance.choice(stage.decoders)
            )
            if chance.random() < 0.3:
                allotment.supply_id, allotment.supply_model_id = None, stage.supply_model.id
        build.a_placing(session, plan, chance.choice(stage.decoders))
    build.an_order_line(session, model_id=stage.supply_model.id, quantity=2, due_on=some_days()["from_on"])
    session.flush()


@pytest.mark.parametrize("seed", range(6))
def test_what_the_database_counts_is_what_is_told_unit_by_unit(
    session: Session, stage: Stage, seed: int
) -> None:
    a_random_house(session, stage, seed)

    told, counted = read_season(session, TODAY), read_season(session, TODAY, with_names=False)
    start = date(2026, 10, 1)
    assert lines_of(told, start) == lines_of(counted, start)
    assert told.named
    assert counted.late == told.late
    assert {tag: item.missing for tag, item in counted.items.items()} == {
        tag: item.missing for tag, item in told.items.items()
    }


def lines_of(season: Season, start: date) -> dict[str, tuple[Step, ...]]:
    return {tag: item.line(start) for tag, item in season.items.items()}
