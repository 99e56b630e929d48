"""What is short and when it clears, what clashes, who has what, and what moves and returns would mend."""

from datetime import date, timedelta
from typing import Any

import pytest
from sqlalchemy.orm import Session

from service.errors import BadRequest, NotFound
from service.planning.season.asking import commitments, days_of, season_line, season_shortages
from service.planning.season.clashing import clashes
from service.planning.season.items import Season
from service.planning.season.reading import read_season
from service.planning.season.schemas import (
    MovedDates,
    OtherQuantity,
    SeasonQuestion,
    SeasonSupposed,
)
from service.planning.season.supposing import season_what_if
from service.season.lines import FAR
from service.season.records import Hold, Production
from tests import builders as build
from tests.planning.stage import TODAY, Stage, a_stage

ALL = (TODAY, FAR)
# OLD has its gear to 19 January; NEW wants it from the 4th, and loads in on the 25th.
OLD = {
    "build_start": date(2026, 11, 9), "load_in": date(2026, 11, 9), "closing": date(2027, 1, 10),
    "strike_end": date(2027, 1, 12), "return_by": date(2027, 1, 19),
}  # fmt: skip
NEW = {
    "build_start": date(2027, 1, 4), "load_in": date(2027, 1, 25), "closing": date(2027, 3, 28),
    "strike_end": date(2027, 3, 30), "return_by": date(2027, 4, 6),
}  # fmt: skip


@pytest.fixture
def stage(session: Session) -> Stage:
    return a_stage(session, supplies=5, decoders=3)


@pytest.fixture
def shows(session: Session, stage: Stage) -> tuple[Production, Production]:
    """OLD holds three supplies by tag; NEW one of those and three more by model: two too many."""
    old = build.a_production(session, stage.venue, tag="OLD", **OLD)
    new = build.a_production(session, build.a_venue(session, name="Loft"), tag="NEW", **NEW)
    for supply in stage.supplies[:3]:
        build.a_hold(session, old, unit_id=supply.id, quantity=1)
    build.a_hold(session, new, unit_id=stage.supplies[0].id, quantity=1)
    build.a_hold(session, new, model_id=stage.supply_model.id, quantity=3)
    return old, new


def read(session: Session) -> Season:
    session.flush()
    return read_season(session, TODAY)


def suppose(session: Session, **what: Any) -> SeasonSupposed:
    return season_what_if(read(session), SeasonQuestion(**what), TODAY)


@pytest.mark.usefixtures("shows")
def test_a_shortage_says_how_much_from_when_to_when_who_and_what_move_removes_it(session: Session) -> None:
    [row] = season_shortages(read(session), ALL)

    assert (row.item, row.short, row.from_on, row.clears_on) == (
        "S320", 2.0, date(2027, 1, 4), date(2027, 1, 20),
    )  # fmt: skip
    assert (row.wanted, row.usable, row.wanted_by) == (7.0, 5.0, ["NEW 4", "OLD 3"])
    assert (row.move_production, row.move_needed_from, row.move_days, row.removes) == (
        "NEW", date(2027, 1, 20), 16, True,
    )  # fmt: skip
    assert row.move == "NEW wants its gear from 2027-01-20, 16 days later (load-in 2027-01-25)"


@pytest.mark.usefixtures("shows")
@pytest.mark.parametrize("last", [None, date(2027, 1, 19)])
def test_a_move_removes_all_of_a_shortage_also_where_its_last_days_are_asked_about(
    session: Session, last: date | None
) -> None:
    """OLD a day sooner would help on the 19th and leave the fortnight before it short."""
    days = days_of(date(2027, 1, 19), last, TODAY)

    [row] = season_line(read(session), "S320", None, days).shortages
    assert (row.from_on, row.clears_on) == (date(2027, 1, 19), date(2027, 1, 20))
    assert (row.move_production, row.move_days, row.removes) == ("NEW", 16, True)
    assert [(r.move, r.removes) for r in season_shortages(read(session), days)] == [(row.move, True)]


def test_what_no_single_move_removes_says_what_remains(
    session: Session, stage: Stage, shows: tuple[Production, Production]
) -> None:
    """NEW alone wants one more than there is: later, it is short of that one still."""
    build.a_hold(session, shows[1], model_id=stage.supply_model.id, quantity=2)

    [row] = season_shortages(read(session), ALL)
    assert (row.short, row.clears_on, row.removes) == (4.0, date(2027, 4, 7), False)
    assert row.move == (
        "NEW wants its gear from 2027-01-20, 16 days later (load-in 2027-01-25); "
        "1 S320 short remain from 2027-01-20 to 2027-04-06"
    )


@pytest.mark.usefixtures("shows")
@pytest.mark.parametrize(
    ("first", "last", "count"),
    [(None, date(2027, 1, 3), 0), (None, date(2027, 1, 4), 1), (date(2027, 1, 20), None, 0)],
)
def test_only_shortages_of_the_days_asked_for_are_told(
    session: Session, first: date | None, last: date | None, count: int
) -> None:
    assert len(season_shortages(read(session), days_of(first, last, TODAY))) == count


@pytest.mark.usefixtures("shows")
def test_a_show_that_has_no_part_in_a_shortage_has_none(session: Session) -> None:
    assert season_shortages(read(session), ALL, "WIN") == []
    assert len(season_shortages(read(session), ALL, "new")) == 1


@pytest.mark.usefixtures("shows")
def test_a_line_ends_where_it_was_asked_to_and_says_its_worst_day(session: Session) -> None:
    found = season_line(read(session), "s320", None, days_of(None, date(2027, 1, 10), TODAY))

    assert [(s.from_on, s.to_on, s.free, s.short) for s in found.steps] == [
        (TODAY, date(2027, 1, 3), 2.0, 0.0), (date(2027, 1, 4), date(2027, 1, 10), 0.0, 2.0),
    ]  # fmt: skip
    assert (found.first_short_on, found.worst_on, found.short) == (date(2027, 1, 4), date(2027, 1, 4), 2.0)
    assert found.shortages[0].clears_on == date(2027, 1, 20)


def test_what_cannot_be_asked_is_refused_with_its_mend(session: Session, stage: Stage) -> None:
    season = read(session)
    build.a_reel(session, stage.tape, lot="L7")

    with pytest.raises(BadRequest, match="comes before"):
        days_of(TODAY + timedelta(days=2), TODAY + timedelta(days=1), TODAY)
    with pytest.raises(BadRequest, match="is before 2026-11-25"):
        days_of(TODAY - timedelta(days=1), None, TODAY)
    with pytest.raises(NotFound, match="no model, tape or reel has the tag 'none'"):
        season_line(season, "none", None, ALL)
    with pytest.raises(NotFound, match="T-RGBW has no lot 'L8'") as refused:
        season_line(read(session), "T-RGBW", "L8", ALL)
    assert refused.value.mend == "There are L7."
    with pytest.raises(NotFound, match="no production has the code 'ZZ'"):
        season_shortages(season, ALL, "ZZ")


@pytest.mark.usefixtures("shows")
def test_units_that_two_shows_have_are_told_with_the_days_and_the_move_that_frees_them(
    session: Session,
) -> None:
    [row] = clashes(read(session), ALL)

    assert (row.kind, row.other, row.production, row.tags) == ("twice", "OLD", "NEW", ["PS-1"])
    assert (row.from_on, row.to_on, row.days, row.clears_on) == (
        date(2027, 1, 4), date(2027, 1, 19), 16, date(2027, 1, 20),
    )  # fmt: skip
    assert (row.move_production, row.move_needed_from, row.in_days) == ("NEW", date(2027, 1, 20), 40)


def test_a_unit_that_a_kept_plan_uses_clashes_like_one_that_is_held(
    session: Session, stage: Stage, shows: tuple[Production, Production]
) -> None:
    plan = build.a_plan(session, shows[1])
    element = build.an_element(session, shows[1], tape=stage.tape)
    build.an_allotment(session, plan, element.runs[0], stage.supplies[1])

    [row] = clashes(read(session), ALL)
    assert row.tags == ["PS-1", "PS-2"]


def test_a_show_has_a_unit_of_its_own_twice_without_a_clash(
    session: Session, stage: Stage, shows: tuple[Production, Production]
) -> None:
    build.a_hold(session, shows[0], unit_id=stage.supplies[1].id, quantity=1)

    [row] = clashes(read(session), ALL)
    assert row.tags == ["PS-1"]


def overdue(session: Session, stage: Stage, *units: int) -> Production:
    """Due back on 3 November, 22 days ago, and not back."""
    show = build.a_production(session, stage.venue, tag="LATE")
    for n in units:
        build.a_hold(
            session, show, unit_id=stage.supplies[n].id, quantity=1, from_on=date(2026, 9, 8),
            until_on=date(2026, 11, 4),
        )  # fmt: skip
    return show


@pytest.mark.usefixtures("shows")
def test_what_is_overdue_says_how_long_whom_it_hurts_and_in_how_many_days(
    session: Session, stage: Stage
) -> None:
    """The fourth is asked for by nobody by its tag; the first is, by OLD since 9 November and by NEW."""
    overdue(session, stage, 0, 3)

    rows = [row for row in clashes(read(session), ALL) if row.kind == "overdue"]
    said = [(row.other, row.production, row.tags, row.overdue_days, row.in_days) for row in rows]
    assert said == [
        ("LATE", "OLD", ["PS-1"], 22, 0), ("LATE", "NEW", ["PS-1"], 22, 40),
        ("LATE", "", ["PS-4"], 22, None),
    ]  # fmt: skip


@pytest.mark.usefixtures("shows")
def test_commitments_say_what_each_show_has_by_tag_and_in_all(session: Session) -> None:
    rows = {row.production: row for row in commitments(read(session), ALL) if row.item == "S320"}

    assert list(rows) == ["OLD", "NEW"]
    new = rows["NEW"]
    assert (new.venue, new.held, new.used, new.wanted, new.tags) == ("Loft", 4.0, 1.0, 4.0, ["PS-1"])
    assert (new.from_on, new.to_on, new.short) == (date(2027, 1, 4), date(2027, 4, 6), 2.0)
    assert [row.production for row in commitments(read(session), ALL, "old")] == ["OLD"]


@pytest.mark.parametrize("first", [date(2027, 2, 1), date(2027, 1, 1)])
def test_commitments_say_the_most_that_is_used_on_any_day(
    session: Session, stage: Stage, shows: tuple[Production, Production], first: date
) -> None:
    """NEW is promised four from 4 January; what its plan uses, it uses for a week in February."""
    plan = build.a_plan(session, shows[1], from_on=date(2027, 2, 8), until_on=date(2027, 2, 15))
    element = build.an_element(session, shows[1], tape=stage.tape)
    build.an_allotment(session, plan, element.runs[0], stage.supplies[4], decoder=stage.decoders[0])

    of_new = {row.item: row for row in commitments(read(session), (first, FAR), "NEW")}
    used = of_new["S320"]
    assert (used.held, used.used, used.wanted, used.tags) == (4, 2, 4, ["PS-1", "PS-5"])


@pytest.mark.usefixtures("shows")
def test_a_show_supposed_on_other_days_takes_its_holds_along_and_nothing_is_stored(session: Session) -> None:
    found = suppose(session, moves=[MovedDates(production="new", needed_from=date(2027, 1, 20))])

    assert (found.shortages, found.clashes) == ([], [])
    assert [row.item for row in found.gone] == ["S320"]
    assert [row.tags for row in found.clashes_gone] == [["PS-1"]]
    [change] = found.items
    assert (change.item, change.short_before, change.short_after, change.free_after) == (
        "S320",
        2.0,
        0.0,
        1.0,
    )
    assert {hold.from_on for hold in session.query(Hold)} == {date(2026, 11, 9), date(2027, 1, 4)}


def test_a_hold_with_days_of_its_own_keeps_them(
    session: Session, stage: Stage, shows: tuple[Production, Production]
) -> None:
    build.a_hold(
        session, shows[1], model_id=stage.supply_model.id, quantity=2, from_on=date(2027, 1, 6),
        until_on=date(2027, 1, 9),
    )  # fmt: skip

    found = suppose(session, moves=[MovedDates(production="NEW", needed_from=date(2027, 1, 20))])
    assert [(row.item, row.from_on, row.short) for row in found.shortages] == []
    [change] = found.items
    assert (change.short_before, change.free_after) == (4.0, 0.0)


@pytest.mark.usefixtures("shows")
def test_a_whole_show_may_be_supposed_later(session: Session) -> None:
    found = suppose(session, moves=[MovedDates(production="NEW", later_by_days=16)])
    assert found.shortages == []

    found = suppose(session, moves=[MovedDates(production="NEW", later_by_days=15)])
    assert [(row.from_on, row.clears_on) for row in found.shortages] == [
        (date(2027, 1, 19), date(2027, 1, 20))
    ]


@pytest.mark.usefixtures("shows")
def test_another_quantity_may_be_supposed(session: Session) -> None:
    found = suppose(session, quantities=[OtherQuantity(production="NEW", item="s320", quantity=2)])

    assert found.shortages == []
    assert found.said == ["NEW wants 2 S320, not 4"]


@pytest.mark.usefixtures("shows")
def test_a_quantity_of_tape_is_in_metres_and_rounded_up_to_its_cut_pitch(
    session: Session, stage: Stage
) -> None:
    build.a_reel(session, stage.tape)

    found = suppose(session, quantities=[OtherQuantity(production="NEW", item="T-RGBW", quantity=5.01)])
    assert [(row.item, row.short, row.clears_on) for row in found.shortages if row.item == "T-RGBW"] == [
        ("T-RGBW", 0.05, None)
    ]


@pytest.mark.parametrize("with_names", [True, False])
@pytest.mark.parametrize(
    ("wanted", "out", "said", "tags"),
    [
        (4, [0, 3], "take PS-1 back from LATE", ["PS-1"]),
        (4, [2, 4, 1], "take PS-2, PS-3 back from LATE", ["PS-2", "PS-3"]),
        (6, [0], "", []),  # one more than there is with it back
        (4, [0], "", []),  # not short
    ],
)
def test_a_shortage_that_overdue_units_would_end_says_which_and_from_whom(
    session: Session, stage: Stage, wanted: int, out: list[int], said: str, tags: list[str], with_names: bool
) -> None:
    show = build.a_production(session, stage.venue, tag="NEW", **NEW)
    build.a_hold(session, show, model_id=stage.supply_model.id, quantity=wanted)
    overdue(session, stage, *out)
    session.flush()

    found = season_shortages(read_season(session, TODAY, with_names=with_names), ALL)
    assert len(found) == (wanted > 5 - len(out))
    rows = [(row.back, row.back_tags, row.back_from) for row in found]
    assert rows == [(said, tags, ["LATE"] * len(tags)) for _ in found]
    if tags:
        assert suppose(session, back=tags).shortages == []


def test_of_overdue_units_only_those_are_named_that_the_shortage_waits_for(
    session: Session, stage: Stage
) -> None:
    """PS-1 is late the longest, and its hire ends before the show begins; PS-2 is late from two shows."""
    show = build.a_production(session, stage.venue, tag="NEW", **NEW)
    build.a_hold(session, show, model_id=stage.supply_model.id, quantity=4)
    stage.supplies[0].hired_until = date(2026, 12, 24)
    overdue(session, stage, 0, 1)
    worse = build.a_production(session, stage.venue, tag="WORSE")
    build.a_hold(
        session, worse, unit_id=stage.supplies[1].id, quantity=1, from_on=date(2026, 6, 1),
        until_on=date(2026, 7, 1),
    )  # fmt: skip
    session.flush()

    for with_names in (True, False):
        [row] = season_shortages(read_season(session, TODAY, with_names=with_names), ALL)
        assert (row.short, row.back_tags, row.back_from) == (1.0, ["PS-2"], ["WORSE"])


@pytest.mark.usefixtures("shows")
def test_what_is_overdue_may_be_supposed_back(session: Session, stage: Stage) -> None:
    overdue(session, stage, 4)
    assert season_shortages(read(session), ALL)[0].short == 3.0

    found = suppose(session, back=["ps-5"])
    assert [row.short for row in found.shortages] == [2.0]
    assert [row.kind for row in found.clashes] == ["twice"]


@pytest.mark.usefixtures("shows")
@pytest.mark.parametrize(
    ("what", "said"),
    [
        ({"moves": [MovedDates(production="NEW", needed_from=date(2027, 1, 26))]}, "loads in on 2027-01-25"),
        ({"moves": [MovedDates(production="NEW", needed_to=date(2027, 3, 29))]}, "strike of NEW ends on"),
        ({"quantities": [OtherQuantity(production="NEW", item="S320", quantity=1.5)]}, "whole pieces"),
        ({"back": ["PS-1"]}, "PS-1 is not overdue"),
        ({"moves": [MovedDates(production="ZZ", later_by_days=1)]}, "no production has the code 'ZZ'"),
    ],
)
def test_what_cannot_be_supposed_is_refused_with_its_mend(
    session: Session, what: dict[str, Any], said: str
) -> None:
    with pytest.raises((BadRequest, NotFound), match=said) as refused:
        suppose(session, **what)
    assert refused.value.mend
