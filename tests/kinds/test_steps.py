"""Elements go from a wish to the strike and gear from good to retired, each step by what it needs."""

from collections.abc import Callable
from datetime import date, timedelta

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import BadRequest, BadValues, InUse, Stale, StepRefused
from service.kinds import actions
from service.kinds.kind import Kind
from service.kinds.sheets.gear import BATTERIES, DECODERS, ENCLOSURES, SUPPLIES
from service.kinds.sheets.shows import ELEMENTS
from service.kinds.sheets.tape import TAPES
from service.kinds.steps.walking import Words
from service.shows.faults import Fault
from service.shows.paths import ELEMENTS as PATH
from service.shows.paths import UNITS
from service.shows.records import Element, ElementStatus, PieceCut
from service.stock.gear import Unit, UnitState
from service.store.types import utc_now
from service.store.work import Store
from tests import builders as build
from tests.kinds.hands import HAND, changed
from tests.shows.upkeep import a_bench_test


def stepped(
    session: Session,
    kind: Kind,
    key: str,
    to: str,
    what: str = "",
    despite: str = "",
    version: int | None = None,
) -> dict[str, object]:
    expected = None if version is None else frozenset({version})
    return actions.step(session, kind, (key, to), Words(what, despite), expected, HAND)[0]


def at(session: Session, status: ElementStatus) -> build.House:
    house = build.a_house(session)
    house.element.status = status
    session.flush()
    return house


def faults(session: Session) -> list[Fault]:
    return list(session.scalars(select(Fault).order_by(Fault.id)))


def test_every_step_that_may_follow_is_a_step_of_its_path() -> None:
    for path, steps in ((PATH, ElementStatus), (UNITS, UnitState)):
        assert set(path.after) == set(steps)
        assert {to for after in path.after.values() for to in after} <= set(steps)
        assert all(at not in after for at, after in path.after.items())
    for status in ElementStatus:
        if status is not ElementStatus.CUT_FROM_SHOW:
            assert ElementStatus.CUT_FROM_SHOW in PATH.next(status)


def test_an_element_walks_from_a_wish_to_the_strike_and_its_path_is_told(store: Store) -> None:
    with store.writing("deck") as session:
        house = at(session, ElementStatus.ASKED)
        cut = build.a_cut(session, house.reel, 40)
        session.add(PieceCut(piece_id=house.element.runs[0].pieces[0].id, cut_id=cut.id))
        a_bench_test(session, house.element)
        for to in ("drawn", "cut", "built", "tested", "installed", "working"):
            assert stepped(session, ELEMENTS, "sq-1", to)["status"] == to
        stepped(session, ELEMENTS, "SQ-1", "dark", "no light at all")
        stepped(session, ELEMENTS, "SQ-1", "working", "new lead")
        stepped(session, ELEMENTS, "SQ-1", "struck")
    with store.reading() as session:
        row, steps = actions.path_so_far(session, ELEMENTS, "SQ-1")
    assert row["status"] == "struck"
    assert [s.to for s in steps] == [
        "drawn", "asked", "drawn", "cut", "built", "tested", "installed", "working", "dark", "working",
        "struck",
    ]  # fmt: skip
    assert [(s.before, s.what) for s in steps[-3:]] == [
        ("working", "no light at all"), ("dark", "new lead"), ("working", ""),
    ]  # fmt: skip
    assert steps[0].before is None
    assert {s.by for s in steps} == {"deck"}


def test_a_step_off_the_path_is_refused_with_those_that_may_be_taken(store: Store) -> None:
    with store.writing("deck") as session:
        at(session, ElementStatus.DRAWN)
        with pytest.raises(StepRefused, match="drawn: working does not follow") as refusal:
            stepped(session, ELEMENTS, "SQ-1", "working")
        assert refusal.value.mend.startswith("From drawn it may become: cut, cut from show;")
        with pytest.raises(StepRefused, match="drawn already"):
            stepped(session, ELEMENTS, "SQ-1", "drawn")
        with pytest.raises(BadRequest, match="glowing is no step") as wrong:
            stepped(session, ELEMENTS, "SQ-1", "glowing")
        assert "asked, drawn, cut" in wrong.value.mend
        assert session.scalars(select(Element.status)).all() == [ElementStatus.DRAWN]


def test_a_reason_takes_a_step_off_the_path_and_stays_on_record(store: Store) -> None:
    with store.writing("deck") as session:
        at(session, ElementStatus.DRAWN)
        row = stepped(session, ELEMENTS, "SQ-1", "working", "lit for a photo", "borrowed from the prop shop")
        assert row["status_note"] == "lit for a photo; off the path: borrowed from the prop shop"
        _, steps = actions.path_so_far(session, ELEMENTS, "SQ-1")
        assert steps[-1].what == row["status_note"]


def test_a_show_may_lose_an_element_at_any_time(store: Store) -> None:
    with store.writing("deck") as session:
        at(session, ElementStatus.WORKING)
        stepped(session, ELEMENTS, "SQ-1", "cut from show")
        with pytest.raises(StepRefused) as refusal:
            stepped(session, ELEMENTS, "SQ-1", "working")
        assert refusal.value.mend.startswith("Nothing follows on cut from show;")


def test_what_is_cut_has_its_cuts_on_record_or_a_word_why_not(store: Store) -> None:
    with store.writing("deck") as session:
        house = at(session, ElementStatus.DRAWN)
        disputed = build.a_cut(session, house.reel, 40, is_disputed=True)
        session.add(PieceCut(piece_id=house.element.runs[0].pieces[0].id, cut_id=disputed.id))
        with pytest.raises(StepRefused, match="1 of 1 pieces have no cut on record"):
            stepped(session, ELEMENTS, "SQ-1", "cut")
        assert stepped(session, ELEMENTS, "SQ-1", "cut", "off the old wall")["status"] == "cut"


def test_what_is_tested_passed_its_last_test(store: Store) -> None:
    with store.writing("deck") as session:
        house = at(session, ElementStatus.BUILT)
        with pytest.raises(StepRefused, match="no bench test"):
            stepped(session, ELEMENTS, "SQ-1", "tested", "looked fine")
        a_bench_test(session, house.element, tested_on=date(2026, 11, 1))
        a_bench_test(session, house.element, tested_on=date(2026, 11, 3), passed=False)
        with pytest.raises(StepRefused, match="failed its bench test of 2026-11-03"):
            stepped(session, ELEMENTS, "SQ-1", "tested")
        a_bench_test(session, house.element, tested_on=date(2026, 11, 4))
        assert stepped(session, ELEMENTS, "SQ-1", "tested")["status"] == "tested"


def test_what_is_installed_is_fed_or_somebody_says_why_not(store: Store) -> None:
    with store.writing("deck") as session:
        house = at(session, ElementStatus.TESTED)
        other = build.an_element(
            session, house.production, tag="SQ-2", status=ElementStatus.TESTED, runs=((10,), (10,))
        )
        assert stepped(session, ELEMENTS, "SQ-1", "installed")["status"] == "installed"
        with pytest.raises(StepRefused, match="no kept plan feeds run 1, 2"):
            stepped(session, ELEMENTS, "SQ-2", "installed")
        build.an_unfed_run(session, house.plan, other.runs[0])
        with pytest.raises(StepRefused, match="no kept plan feeds run 2"):
            stepped(session, ELEMENTS, "SQ-2", "installed")
        build.an_unfed_run(session, house.plan, other.runs[1])
        assert stepped(session, ELEMENTS, "SQ-2", "installed")["status"] == "installed"


def test_going_dark_wants_a_symptom_and_opens_a_fault_that_working_closes(store: Store) -> None:
    with store.writing("deck") as session:
        house = at(session, ElementStatus.WORKING)
        session.add(Fault(element_id=house.element.id, found_on=date(2026, 11, 1), symptom="red is weak"))
        with pytest.raises(BadValues, match="dark without a word why"):
            stepped(session, ELEMENTS, "SQ-1", "dark", despite="no time to say")
        assert len(faults(session)) == 1
        stepped(session, ELEMENTS, "SQ-1", "dark", "no light at all")
        weak, dark = faults(session)
        assert (dark.element_id, dark.symptom, dark.found_by) == (house.element.id, "no light at all", "deck")
        assert (dark.found_on, dark.mended_on, dark.made_dark) == (HAND.today, None, True)
        dark.found_at = utc_now() - timedelta(minutes=90)
        session.flush()
        stepped(session, ELEMENTS, "SQ-1", "working", "new lead")
        session.refresh(dark)
        assert (dark.mended_on, dark.fix) == (HAND.today, "new lead")
        assert dark.minutes_dark is not None
        assert dark.minutes_dark >= 90
        assert weak.mended_on is None


def test_a_change_of_the_status_is_a_step_by_the_same_rules(store: Store) -> None:
    with store.writing("deck") as session:
        at(session, ElementStatus.WORKING)
        with pytest.raises(BadValues, match="dark without a word why") as refusal:
            changed(session, ELEMENTS, "SQ-1", status="dark")
        assert refusal.value.errors[0].column == "status_note"
        assert "status_note" in refusal.value.mend
        with pytest.raises(StepRefused):
            changed(session, ELEMENTS, "SQ-1", status="built")
        row = changed(session, ELEMENTS, "SQ-1", status="dark", status_note="no light", priority=2)
        assert (row["status"], row["status_note"], row["priority"]) == ("dark", "no light", 2)
        assert [f.symptom for f in faults(session)] == ["no light"]
        row = changed(session, ELEMENTS, "SQ-1", status="working")
        assert (row["status"], row["status_note"]) == ("working", "")
        assert faults(session)[0].mended_on == HAND.today
        assert changed(session, ELEMENTS, "SQ-1", status="working", priority=3)["priority"] == 3


def test_a_change_of_the_status_raises_the_version_once(store: Store) -> None:
    with store.writing("deck") as session:
        house = at(session, ElementStatus.WORKING)
        before = house.element.version
        changed(session, ELEMENTS, "SQ-1", status="dark", status_note="no light")
        session.refresh(house.element)
        assert house.element.version == before + 1


def test_a_step_is_meant_for_the_version_that_was_read(store: Store) -> None:
    with store.writing("deck") as session:
        house = at(session, ElementStatus.WORKING)
        with pytest.raises(Stale):
            stepped(session, ELEMENTS, "SQ-1", "dark", "no light", version=house.element.version - 1)
        stepped(session, ELEMENTS, "SQ-1", "dark", "no light", version=house.element.version)


@pytest.mark.parametrize("state", ["suspect", "faulty", "missing"])
@pytest.mark.parametrize("kind", [SUPPLIES, DECODERS, BATTERIES, ENCLOSURES], ids=lambda kind: kind.name)
def test_gear_that_is_not_sound_wants_a_word(store: Store, kind: Kind, state: str) -> None:
    with store.writing("deck") as session:
        makers: dict[Kind, Callable[[Session], Unit]] = {
            SUPPLIES: build.a_supply, DECODERS: build.a_decoder, BATTERIES: build.a_battery,
            ENCLOSURES: build.an_enclosure,
        }  # fmt: skip
        unit = makers[kind](session)
        with pytest.raises(BadValues, match="without a word why"):
            stepped(session, kind, unit.tag, state)
        row = stepped(session, kind, unit.tag, state, "channel 3 flickers")
        assert (row["state"], row["state_note"]) == (state, "channel 3 flickers")
        row = stepped(session, kind, unit.tag, "good")
        assert (row["state"], row["state_note"]) == ("good", "")


def test_gear_in_use_is_not_retired_by_a_step_and_comes_back_as_it_went(store: Store) -> None:
    with store.writing("deck") as session:
        build.a_house(session)
        spare = build.a_supply(session, tag="PS-9")
        with pytest.raises(InUse, match="PS-1 feeds SQ-1"):
            stepped(session, SUPPLIES, "PS-1", "retired")
        with pytest.raises(InUse, match="PS-1 feeds SQ-1"):
            changed(session, SUPPLIES, "PS-1", state="retired")
        stepped(session, SUPPLIES, "PS-9", "retired", "burnt out")
        assert (spare.state, spare.retired_on) == (UnitState.RETIRED, HAND.today)
        stepped(session, SUPPLIES, "PS-9", "good", "new fan")
        assert (spare.state, spare.retired_on) == (UnitState.GOOD, None)
        stepped(session, SUPPLIES, "PS-9", "missing", "last seen in the pit")
        with pytest.raises(StepRefused) as refusal:
            stepped(session, SUPPLIES, "PS-9", "repair")
        assert refusal.value.mend.startswith("From missing it may become: good, suspect, faulty, retired;")


def test_what_follows_no_path_says_so(store: Store) -> None:
    with store.writing("deck") as session:
        tape = build.a_tape(session)
        with pytest.raises(BadRequest, match="a tape takes no steps"):
            stepped(session, TAPES, tape.tag, "dark")


def test_what_is_said_with_a_step_holds_no_control_characters(store: Store) -> None:
    with store.writing("deck") as session:
        at(session, ElementStatus.WORKING)
        for where, what, despite in (("what", "a\x07b", ""), ("despite", "no light", "seen\x1bthere")):
            with pytest.raises(BadValues) as refusal:
                stepped(session, ELEMENTS, "SQ-1", "dark", what, despite)
            (fault,) = refusal.value.errors
            assert (fault.column, "control characters" in fault.message) == (where, True)
    with store.reading() as session:
        assert actions.path_so_far(session, ELEMENTS, "SQ-1")[0]["status"] == "working"
