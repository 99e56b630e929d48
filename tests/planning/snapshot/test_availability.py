"""Which units a show may have on its days, and when the others come back."""

from datetime import date, timedelta

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.planning.records import PlanStatus
from service.planning.snapshot.availability import promised_by_model, read_claims
from service.season.records import Hold, Production
from service.stock.gear import UnitState
from tests import builders as build
from tests.planning.stage import TODAY, Stage, a_stage, free_for

FIRST, LAST = date(2026, 12, 1), date(2026, 12, 20)  # the days of WIN, both inclusive


@pytest.fixture
def stage(session: Session) -> Stage:
    """Four supplies and two decoders; WIN wants gear from 1 to 20 December."""
    return a_stage(session, supplies=4, decoders=2, needed_from=FIRST, needed_to=LAST)


def another_show(session: Session, stage: Stage, tag: str = "ICE", **days: date) -> Production:
    return build.a_production(session, stage.venue, tag=tag, **days)


def has_out(
    session: Session,
    stage: Stage,
    unit: int,
    first: date,
    last: date,
    by: Production | None = None,
    **more: date,
) -> Production:
    """Another show holds PS-`unit` from `first` through `last`."""
    show = by or another_show(session, stage)
    build.a_hold(
        session,
        show,
        unit_id=stage.supplies[unit - 1].id,
        quantity=1,
        from_on=first,
        until_on=last + timedelta(days=1),
        **more,
    )
    return show


def wants(
    session: Session, stage: Stage, quantity: int, first: date, last: date, tag: str = "ICE"
) -> Production:
    """Another show holds so many S320, no unit named."""
    show = another_show(session, stage, tag)
    build.a_hold(
        session,
        show,
        model_id=stage.supply_model.id,
        quantity=quantity,
        from_on=first,
        until_on=last + timedelta(days=1),
    )
    return show


def uses(session: Session, show: Production, stage: Stage, *units: int, status: str = "kept") -> None:
    """A plan of the show feeds something from each of these supplies."""
    plan = build.a_plan(session, show, status=PlanStatus(status), from_on=FIRST, until_on=LAST)
    for n in units:
        element = build.an_element(session, show, tape=stage.tape)
        build.an_allotment(session, plan, element.runs[0], stage.supplies[n - 1])


def supplies(session: Session, stage: Stage, today: date = TODAY) -> list[str]:
    free, _ = free_for(session, stage.show, today)
    return [tag for tag in free if tag.startswith("PS")]


def test_what_is_sound_and_nobody_has_is_free(session: Session, stage: Stage) -> None:
    free, taken = free_for(session, stage.show)

    assert free == ["DC-1", "DC-2", "PS-1", "PS-2", "PS-3", "PS-4"]
    assert taken == {}


@pytest.mark.parametrize("state", [s for s in UnitState if s is not UnitState.GOOD])
def test_only_a_good_unit_is_free(session: Session, stage: Stage, state: UnitState) -> None:
    stage.supplies[0].state, stage.supplies[0].state_note = state, "hums"
    session.flush()

    _, taken = free_for(session, stage.show)
    assert supplies(session, stage) == ["PS-2", "PS-3", "PS-4"]
    assert taken["PS-1"].because == f"PS-1 is {state.value} (hums)"


@pytest.mark.parametrize(
    ("hired_from", "hired_until", "is_free", "said"),
    [
        (FIRST, LAST + timedelta(days=1), True, ""),
        (FIRST, LAST, False, "PS-1 is hired from 2026-12-01 until 2026-12-19 only"),
        (FIRST + timedelta(days=1), None, False, "PS-1 is hired from 2026-12-02 only"),
    ],
    ids=["for the days of the show", "a day too short", "a day too late"],
)
def test_what_is_hired_is_free_on_the_days_of_its_hire(
    session: Session, stage: Stage, hired_from: date, hired_until: date | None, is_free: bool, said: str
) -> None:
    stage.supplies[0].hired_from, stage.supplies[0].hired_until = hired_from, hired_until
    session.flush()

    _, taken = free_for(session, stage.show)
    assert ("PS-1" in supplies(session, stage)) is is_free
    assert said in (taken["PS-1"].because if "PS-1" in taken else "")
    if hired_until is None and not is_free:
        assert taken["PS-1"].clears_on == hired_from


def test_what_another_show_has_is_not_free_and_says_who_has_it_and_until_when(
    session: Session, stage: Stage
) -> None:
    has_out(session, stage, 1, date(2026, 11, 1), date(2026, 12, 5))

    _, taken = free_for(session, stage.show)
    assert supplies(session, stage) == ["PS-2", "PS-3", "PS-4"]
    assert taken["PS-1"].because == "PS-1 is with ICE until 2026-12-05"
    assert taken["PS-1"].clears_on == date(2026, 12, 6)


def test_what_comes_back_after_the_last_day_does_not_clear(session: Session, stage: Stage) -> None:
    has_out(session, stage, 1, date(2026, 11, 1), date(2026, 12, 30))

    _, taken = free_for(session, stage.show)
    assert taken["PS-1"].clears_on is None


@pytest.mark.parametrize(
    ("last", "is_free"), [(FIRST - timedelta(days=1), True), (FIRST, False)], ids=["day before", "same day"]
)
def test_a_unit_may_go_out_the_day_after_it_is_due_back(
    session: Session, stage: Stage, last: date, is_free: bool
) -> None:
    has_out(session, stage, 1, date(2026, 11, 1), last)

    assert ("PS-1" in supplies(session, stage)) is is_free


@pytest.mark.parametrize(
    ("first", "is_free"), [(LAST + timedelta(days=1), True), (LAST, False)], ids=["day after", "same day"]
)
def test_a_unit_that_another_show_wants_later_is_free_until_then(
    session: Session, stage: Stage, first: date, is_free: bool
) -> None:
    has_out(session, stage, 1, first, date(2027, 1, 20))

    assert ("PS-1" in supplies(session, stage)) is is_free


def test_what_is_overdue_stays_out_however_long_ago_it_was_due(session: Session, stage: Stage) -> None:
    has_out(session, stage, 1, date(2026, 9, 1), TODAY - timedelta(days=1))

    _, taken = free_for(session, stage.show)
    assert (taken["PS-1"].because, taken["PS-1"].clears_on) == ("PS-1 is overdue from ICE", None)


def test_what_is_due_back_today_is_not_overdue_yet(session: Session, stage: Stage) -> None:
    has_out(session, stage, 1, date(2026, 9, 1), TODAY)

    assert "PS-1" in supplies(session, stage)


def test_what_came_back_is_free_though_it_was_held_for_longer(session: Session, stage: Stage) -> None:
    has_out(session, stage, 1, date(2026, 9, 1), date(2026, 12, 31), returned_on=date(2026, 11, 20))

    assert "PS-1" in supplies(session, stage)


def test_what_came_back_today_is_with_nobody_from_today_on(session: Session, stage: Stage) -> None:
    has_out(session, stage, 1, date(2026, 9, 1), date(2026, 12, 31), returned_on=TODAY)
    today = another_show(session, stage, "TDY")
    has_out(session, stage, 2, TODAY, date(2026, 12, 31), today, returned_on=TODAY)
    claims = read_claims(session, TODAY)

    assert [claim.until_on for claim in claims.of_unit(stage.supplies[0].id)] == [TODAY]
    assert claims.of_unit(stage.supplies[1].id) == []


def test_a_kept_plan_has_its_units_without_any_hold(session: Session, stage: Stage) -> None:
    uses(session, another_show(session, stage), stage, 1, 2)

    assert supplies(session, stage) == ["PS-3", "PS-4"]


@pytest.mark.parametrize("status", ["draft", "superseded", "cancelled"])
def test_a_plan_that_is_not_kept_takes_nothing(session: Session, stage: Stage, status: str) -> None:
    uses(session, another_show(session, stage), stage, 1, 2, status=status)

    assert supplies(session, stage) == ["PS-1", "PS-2", "PS-3", "PS-4"]


def test_a_hold_by_model_is_taken_off_what_is_free(session: Session, stage: Stage) -> None:
    wants(session, stage, 3, date(2026, 11, 1), date(2026, 12, 6))

    _, taken = free_for(session, stage.show)
    assert supplies(session, stage) == ["PS-1"]
    assert taken["PS-4"].because == "3 of this model are promised to another show"
    assert taken["PS-4"].clears_on == date(2026, 12, 7)


def test_what_is_held_and_what_is_allotted_are_never_added(session: Session, stage: Stage) -> None:
    """ICE holds two supplies and its kept plan uses two: it needs two, not four."""
    ice = wants(session, stage, 2, date(2026, 11, 1), date(2026, 12, 30))
    uses(session, ice, stage, 1, 2)

    assert supplies(session, stage) == ["PS-3", "PS-4"]


def test_the_larger_of_held_and_allotted_counts(session: Session, stage: Stage) -> None:
    """ICE holds three and uses one so far: two more are still promised to it."""
    ice = wants(session, stage, 3, date(2026, 11, 1), date(2026, 12, 30))
    uses(session, ice, stage, 1)

    assert supplies(session, stage) == ["PS-2"]


def test_promises_on_different_days_are_not_added(session: Session, stage: Stage) -> None:
    wants(session, stage, 2, date(2026, 11, 1), date(2026, 12, 5), "ICE")
    wants(session, stage, 2, date(2026, 12, 6), date(2026, 12, 30), "FOG")

    assert supplies(session, stage) == ["PS-1", "PS-2"]


def test_promises_on_the_same_day_are_added(session: Session, stage: Stage) -> None:
    wants(session, stage, 2, date(2026, 11, 1), date(2026, 12, 5), "ICE")
    wants(session, stage, 1, date(2026, 12, 5), date(2026, 12, 30), "FOG")

    assert supplies(session, stage) == ["PS-1"]


def test_a_unit_that_is_promised_twice_stays_with_the_show_that_has_it_first(
    session: Session, stage: Stage
) -> None:
    has_out(session, stage, 1, FIRST, LAST, by=stage.show)
    later = another_show(session, stage, needed_from=date(2026, 12, 10), needed_to=date(2026, 12, 30))
    has_out(session, stage, 1, date(2026, 12, 10), date(2026, 12, 30), by=later)

    theirs, taken = free_for(session, later)
    assert "PS-1" in supplies(session, stage)
    assert "PS-1" not in theirs
    assert taken["PS-1"].because == "PS-1 is with WIN until 2026-12-20"


def test_a_later_hold_by_model_does_not_take_what_the_show_has_by_tag(session: Session, stage: Stage) -> None:
    """All four are wanted from 10 December; the two that WIN has had since the 1st are not among them."""
    for n in (3, 4):
        has_out(session, stage, n, FIRST, LAST, by=stage.show)
    wants(session, stage, 4, date(2026, 12, 10), date(2026, 12, 30))

    assert supplies(session, stage) == ["PS-3", "PS-4"]


def test_a_promise_of_a_model_stands_for_one_less_from_the_day_a_unit_was_drawn_from_it(
    session: Session, stage: Stage
) -> None:
    """ICE is promised three S320 from 1 December and took one of them on the 10th: WIN may still have one of
    four before and after, for the one by tag is out and two more are promised."""
    ice = wants(session, stage, 3, FIRST, LAST)
    promise = session.scalars(select(Hold).where(Hold.production_id == ice.id)).one()
    drawn_on = date(2026, 12, 10)
    build.a_hold(
        session, ice, unit_id=stage.supplies[3].id, quantity=1, from_on=drawn_on, issued_on=drawn_on,
        until_on=LAST + timedelta(days=1), drawn_from_id=promise.id,
    )  # fmt: skip
    claims = read_claims(session, TODAY)

    assert sorted((want.quantity, want.from_on, want.until_on) for want in claims.models) == [
        (1, FIRST, drawn_on),
        (2, FIRST, LAST + timedelta(days=1)),
    ]
    model_of = {unit.id: unit.model_id for unit in stage.supplies}
    whole = promised_by_model(claims, model_of, stage.show.id, (FIRST, LAST))
    later = promised_by_model(claims, model_of, stage.show.id, (drawn_on, LAST))
    assert (whole[stage.supply_model.id].count, later[stage.supply_model.id].count) == (3, 2)


def test_a_unit_that_went_out_before_its_days_began_is_out_from_then(session: Session, stage: Stage) -> None:
    ice = another_show(session, stage)
    early = date(2026, 11, 20)
    build.a_hold(
        session, ice, unit_id=stage.supplies[0].id, quantity=1, from_on=FIRST, until_on=LAST, issued_on=early
    )
    (claim,) = read_claims(session, TODAY).of_unit(stage.supplies[0].id)

    assert (claim.from_on, claim.until_on) == (early, LAST)


def test_a_unit_that_went_out_twice_on_the_same_days_is_read(session: Session, stage: Stage) -> None:
    """Back on the last day of the first promise, and out again by a second one of the same days."""
    ice, days = another_show(session, stage), {"from_on": FIRST, "until_on": LAST + timedelta(days=1)}
    for more in ({"returned_on": LAST}, {}):
        build.a_hold(session, ice, unit_id=stage.supplies[0].id, quantity=1, **days, **more)

    assert len(read_claims(session, TODAY).of_unit(stage.supplies[0].id)) == 2
