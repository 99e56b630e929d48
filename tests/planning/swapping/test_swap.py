"""One unit put in the place of another in one act, on the demonstration season, and taken back."""

import re
import threading
from datetime import date
from typing import Any

import pytest
from sqlalchemy import select

from service.errors import BadRequest, Refused, ServiceError, Stale
from service.planning.queries import feed_of
from service.planning.season.clashing import clashes
from service.planning.season.reading import read_season
from service.planning.swapping.acting.doing import swap, swap_etag
from service.planning.swapping.acting.telling import find_swap, swap_out
from service.planning.swapping.reading import read_question
from service.planning.swapping.schemas import SwapAsk
from service.season.lines import FAR
from service.season.records import Hold, Production
from service.shows.faults import Fault
from service.shows.upkeep import Note
from service.stock.gear import GearModel, Unit, UnitState
from service.stock.records import Place
from service.store.work import Store
from tests import builders as build
from tests.planning.swapping.acts import TODAY, asked, every_row, returned, swapped, taken_back


def unit(store: Store, tag: str) -> Unit:
    with store.reading() as session:
        return session.scalars(select(Unit).where(Unit.tag == tag)).one()


def place(store: Store, number: int | None) -> str:
    with store.reading() as session:
        return session.get_one(Place, number).tag


def holds(store: Store, tag: str) -> list[Hold]:
    with store.reading() as session:
        rows = select(Hold).join(Unit, Unit.id == Hold.unit_id).where(Unit.tag == tag).order_by(Hold.id)
        return list(session.scalars(rows))


def fed(store: Store, tag: str) -> dict[str, Any]:
    with store.lookup() as connection:
        return feed_of(connection, tag)


def test_everything_that_named_the_old_decoder_names_the_new_one(changing_season: Store) -> None:
    """SQ-09 is channel 3 of DC-32: universe 3, slot 51 + 3 - 1 = 53, in EN-2, before and after."""
    returned(changing_season, "DC-31")
    done = swapped(changing_season, "DC-32", "DC-31", found="channel 3 dead")

    [run] = fed(changing_season, "SQ-09")["runs"]
    assert (run["decoder"], run["first_channel"]) == ("DC-31", 3)
    assert [(s["universe"], s["slot"]) for s in run["slots"]] == [(3, 53)]
    assert run["decoder_place"] == "SL-DL"
    assert (done.number, done.old, done.new, done.production) == ("S-001", "DC-32", "DC-31", "SQ")
    assert [label.thing for label in done.labels] == [f"SQ-{n:02}/1" for n in range(7, 15)]
    assert done.labels[2].after == "DC-31 channel 3"
    assert done.sets == ["put it into EN-2", "universe 3, slot 51, 12 slots, 8-bit"]


def test_the_old_one_lies_in_quarantine_and_the_new_one_is_issued(changing_season: Store) -> None:
    returned(changing_season, "DC-31")
    swapped(changing_season, "DC-32", "DC-31", found="channel 3 dead", state="suspect")

    old, new = unit(changing_season, "DC-32"), unit(changing_season, "DC-31")
    assert (old.state, old.state_note, old.where_note) == (UnitState.SUSPECT, "channel 3 dead", "")
    assert (new.where_note, new.seen_on) == ("out with SQ", TODAY)
    assert [place(changing_season, unit.seen_place_id) for unit in (old, new)] == ["Q1", "SL-DL"]
    mine = holds(changing_season, "DC-31")[-1]
    assert (mine.from_on, mine.until_on, mine.issued_on) == (TODAY, date(2027, 1, 20), TODAY)
    before = {hold.production_id: hold.returned_on for hold in holds(changing_season, "DC-32")}
    assert sorted(map(str, before.values())) == ["2026-11-25", "None"]  # TL still wants it


def test_a_unit_that_is_free_for_a_while_is_wanted_to_the_end_and_the_clash_shows(
    changing_season: Store,
) -> None:
    """TL has BT-12 from 2027-01-04; SQ plays on to the 10th and gives its gear back by the 19th."""
    done = swapped(changing_season, "BT-11", "BT-12", found="dies in act two")

    assert done.worse[0] == "SQ wants BT-12 to 2027-01-19, and from 2027-01-04 TL has it"
    with changing_season.reading() as session:
        clash = next(c for c in clashes(read_season(session, TODAY), (TODAY, FAR)) if "BT-12" in c.tags)
    assert (clash.from_on, clash.to_on) == (date(2027, 1, 4), date(2027, 1, 19))


def test_the_fault_and_a_note_for_the_next_crew_are_on_record(changing_season: Store) -> None:
    returned(changing_season, "DC-31")
    swapped(changing_season, "DC-32", "DC-31", found="channel 3 dead")

    with changing_season.reading() as session:
        fault, note = session.scalars(select(Fault)).one(), session.scalars(select(Note)).one()
    assert (fault.unit_id, fault.swapped_for_id) == (
        unit(changing_season, "DC-32").id, unit(changing_season, "DC-31").id,
    )  # fmt: skip
    assert (fault.symptom, fault.mended_on, fault.found_by) == ("channel 3 dead", None, "deck")
    assert (note.about_key, note.done_on) == ("SQ", None)
    assert note.text == (
        "DC-31 is in for DC-32: channel 3 dead. put it into EN-2. universe 3, slot 51, 12 slots, 8-bit. "
        "DC-31 may stay up to, not on, 2027-01-04. DC-32 lies at Q1. TL has DC-32 in its kept plan too."
    )


def test_a_fault_that_is_open_already_is_told_what_it_was_swapped_for(changing_season: Store) -> None:
    with changing_season.writing("tests") as session:
        pack = session.scalars(select(Unit).where(Unit.tag == "BT-11")).one()
        session.add(Fault(number="FL-007", unit_id=pack.id, found_on=TODAY, symptom="swollen"))
    done = swapped(changing_season, "BT-11", "BT-13")
    assert done.fault == "FL-007"
    assert unit(changing_season, "BT-11").state is UnitState.GOOD


def test_without_a_word_of_what_is_wrong_a_sound_unit_is_not_set_aside(changing_season: Store) -> None:
    before = every_row(changing_season)
    with pytest.raises(BadRequest, match="nobody said what is wrong"):
        swapped(changing_season, "BT-11", "BT-13")
    assert every_row(changing_season) == before


def test_what_is_only_exchanged_keeps_its_state_and_its_hold(changing_season: Store) -> None:
    swapped(changing_season, "BT-11", "BT-13", keep_old=True)

    old = unit(changing_season, "BT-11")
    assert (old.state, old.where_note) == (UnitState.GOOD, "SL-WD")
    assert [hold.returned_on for hold in holds(changing_season, "BT-11")] == [None]
    with changing_season.reading() as session:
        assert session.scalars(select(Fault)).all() == []


def test_a_promise_of_the_model_is_drawn_before_a_hold_is_made(changing_season: Store) -> None:
    with changing_season.writing("tests") as session:
        show = session.scalars(select(Production).where(Production.tag == "SQ")).one()
        model = session.scalars(select(GearModel).where(GearModel.tag == "B12-3")).one()
        promise = Hold(
            number="H-200", production_id=show.id, model_id=model.id, quantity=1,
            from_on=date(2026, 11, 9), until_on=date(2027, 1, 20),
        )  # fmt: skip
        session.add(promise)
        session.flush()
    swapped(changing_season, "BT-11", "BT-13", found="dies in act two")
    assert holds(changing_season, "BT-13")[-1].drawn_from_id == promise.id


def test_for_a_show_to_come_the_new_one_is_promised_and_not_issued(changing_season: Store) -> None:
    """TL has PS-52 from 2027-01-04; its hold has not begun, so it goes and that of PS-53 comes."""
    with changing_season.writing("tests") as session:
        model = session.scalars(select(GearModel).where(GearModel.tag == "S150L")).one()
        build.a_supply(session, model, tag="PS-53")
    before = every_row(changing_season)
    done = swapped(changing_season, "PS-52", "PS-53")

    [mine] = holds(changing_season, "PS-53")
    assert (mine.from_on, mine.until_on, mine.issued_on) == (date(2027, 1, 4), date(2027, 4, 7), None)
    assert holds(changing_season, "PS-52") == []
    assert done.mends == ["PS-52 is faulty (trips warm) and feeds TL-22, TL-23"]
    taken_back(changing_season, done.number)
    assert every_row(changing_season) == before


@pytest.mark.parametrize(
    ("tag", "swap_for", "said"),
    [
        ("PS-25", "PS-13", "no output of it carries 4.16 A; the most is 3.20 A"),
        ("PS-25", "PS-41", "it is 12 V class; 24 V is wanted"),
        ("PS-25", "PS-02", "PS-02 is not to be had: overdue from CO"),
        ("PS-25", "PS-01", "PS-01 feeds SQ-01, SQ-02, SQ-17, SQ-22 in SQ"),
        ("PS-25", "DC-31", "DC-31 is a decoder; PS-25 is a supply"),
        ("PS-25", "PS-25", "cannot stand in for itself"),
        ("PS-25", "PS-99", "has the tag 'PS-99'"),
        ("DC-32", "DC-31", "DC-31 is with FR until 2026-11-30, which closed on 2026-11-22"),
        ("EN-2", "EN-1", "EN-2 is a box"),
        ("PS-13", "PS-12", "PS-13 is in no kept plan"),
    ],
)
def test_a_swap_that_cannot_be_leaves_nothing(
    changing_season: Store, tag: str, swap_for: str, said: str
) -> None:
    before = every_row(changing_season)
    with pytest.raises(ServiceError) as refused:
        swapped(changing_season, tag, swap_for, found="hums", despite_limits="it must be lit tonight")
    assert said in refused.value.message
    assert refused.value.mend
    assert every_row(changing_season) == before


@pytest.mark.parametrize(("tag", "swap_for"), [("DC-32", "DC-31"), ("BT-11", "BT-03"), ("PS-25", "PS-04")])
def test_taken_back_every_row_is_as_it_was(changing_season: Store, tag: str, swap_for: str) -> None:
    returned(changing_season, swap_for)
    before = every_row(changing_season)
    done = swapped(changing_season, tag, swap_for, found="dead")
    assert every_row(changing_season) != before

    assert taken_back(changing_season, done.number) == done.number
    assert every_row(changing_season) == before
    with changing_season.reading() as session:
        told = swap_out(session, find_swap(session, done.number))
    assert (told.undone_by, told.fault, told.note, told.hold) == ("deck", None, None, None)
    assert told.undone_at is not None


def test_what_was_changed_since_is_said_and_nothing_is_taken_back(changing_season: Store) -> None:
    done = swapped(changing_season, "BT-11", "BT-03", found="dead")
    with changing_season.writing("bench") as session:
        session.scalars(select(Unit).where(Unit.tag == "BT-11")).one().state = UnitState.REPAIR
        session.delete(session.scalars(select(Hold).where(Hold.number == done.hold)).one())
    now = every_row(changing_season)

    with pytest.raises(Refused) as refused:
        taken_back(changing_season, done.number)
    assert "BT-11" in refused.value.message
    assert "hold" in refused.value.message
    assert "which is gone" in refused.value.message
    assert every_row(changing_season) == now


def test_swaps_one_on_the_other_are_taken_back_in_turn(changing_season: Store) -> None:
    returned(changing_season, "PS-21")
    returned(changing_season, "PS-23")
    before = every_row(changing_season)
    first = swapped(changing_season, "PS-25", "PS-21", found="hums")
    between = every_row(changing_season)
    second = swapped(changing_season, "PS-21", "PS-23", found="dead")
    with pytest.raises(Refused) as refused:
        taken_back(changing_season, first.number)
    assert refused.value.mend == f"Take back {second.number} first."
    assert not re.search(r"\b(placing|allotment|patch|hold|note|fault) \d", refused.value.message)
    taken_back(changing_season, second.number)
    assert every_row(changing_season) == between

    for words in ("in the van", ""):  # said and taken back
        with changing_season.writing("bench") as session:
            session.scalars(select(Unit).where(Unit.tag == "PS-21")).one().state_note = words
        if words:
            with pytest.raises(Refused, match=r"PS-21 \(the note on its state\) changed since") as refused:
                taken_back(changing_season, first.number)
            assert refused.value.mend.endswith("or ask what can stand in for PS-21.")
    taken_back(changing_season, first.number)
    assert every_row(changing_season) == before


def test_a_unit_that_another_show_was_promised_since_does_not_come_back(changing_season: Store) -> None:
    done = swapped(changing_season, "BT-11", "BT-03", keep_old=True)
    with changing_season.writing("office") as session:
        show = session.scalars(select(Production).where(Production.tag == "TW")).one()
        pack = session.scalars(select(Unit).where(Unit.tag == "BT-11")).one()
        build.a_hold(session, show, unit_id=pack.id, quantity=1, number="H-300")
    with pytest.raises(Refused, match="hold H-300 changed since"):
        taken_back(changing_season, done.number)


def test_it_is_taken_back_once(changing_season: Store) -> None:
    done = swapped(changing_season, "BT-11", "BT-03", found="dead")
    taken_back(changing_season, done.number.lower())
    with pytest.raises(Refused, match="taken back already"):
        taken_back(changing_season, done.number)


def test_a_swap_on_an_answer_that_is_old_is_refused(changing_season: Store) -> None:
    with changing_season.reading() as session:
        tag = swap_etag(read_question(session, "BT-11", None, TODAY))
    with changing_season.writing("deck") as session:
        session.scalars(select(Unit).where(Unit.tag == "BT-11")).one().where_note = "SL-PR"

    ask = SwapAsk(swap_for="BT-13", found="dead")
    with pytest.raises(Stale):
        changing_season.write(lambda s: swap(s, "BT-11", ask, TODAY, "deck", frozenset({tag})), "deck")
    with changing_season.reading() as session:
        tag = swap_etag(read_question(session, "BT-11", None, TODAY))
    changing_season.write(lambda s: swap(s, "BT-11", ask, TODAY, "deck", frozenset({tag})), "deck")


def test_of_two_who_want_the_last_spare_one_gets_it(changing_season: Store) -> None:
    """BT-11 and BT-02 both for BT-03: exactly one, the other is told where it is, and nothing of it stays."""
    told: list[str] = []
    start = threading.Barrier(2)

    def take(tag: str) -> None:
        own = Store(changing_season.url)
        start.wait()
        try:
            told.append(swapped(own, tag, "BT-03", found="dead").number)
        except Refused as error:
            told.append(error.message)
        finally:
            own.close()

    crews = [threading.Thread(target=take, args=(tag,)) for tag in ("BT-11", "BT-02")]
    for crew in crews:
        crew.start()
    for crew in crews:
        crew.join()

    assert sum(said == "S-001" for said in told) == 1
    assert sum(said.startswith("BT-03 feeds SQ-") for said in told) == 1
    with changing_season.reading() as session:
        assert len(session.scalars(select(Fault)).all()) == 1
    assert len([h for h in holds(changing_season, "BT-03") if h.returned_on is None]) == 1


def test_what_another_show_gave_back_is_asked_for_the_show_that_has_it(changing_season: Store) -> None:
    """The kept plan of FR names DC-31 until 2026-11-30, though it is back."""
    returned(changing_season, "DC-31")
    swapped(changing_season, "DC-32", "DC-31", found="channel 3 dead")
    assert asked(changing_season, "DC-31").production == "SQ"


def test_the_show_goes_on_being_asked_with_the_new_unit(changing_season: Store) -> None:
    swapped(changing_season, "BT-11", "BT-03", found="dead")
    found = asked(changing_season, "BT-03")
    assert [c.run for c in found.carries] == ["SQ-23/1"]
    assert next(r.because for r in found.refused if "BT-11" in r.units) == "faulty (dead)"
