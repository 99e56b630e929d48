"""Things made, changed, retired and brought back, and what is refused on the way."""

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import AlreadyExists, BadRequest, BadValues, InUse, NotFound, Stale
from service.kinds import actions
from service.kinds.kind import Kind
from service.kinds.sheets.gear import DECODERS, OUTLETS, SUPPLIES
from service.kinds.sheets.models import SUPPLY_MODELS
from service.kinds.sheets.rules import RULES
from service.kinds.sheets.scenery import GROUPS, SCENIC_UNITS
from service.kinds.sheets.season import FILM_DAYS, PRODUCTIONS
from service.kinds.sheets.shows import ELEMENTS
from service.kinds.sheets.stock import PLACES, REACHES, VENUES, WIRE
from service.kinds.sheets.tape import REELS, TAPES
from service.planning.records import Plan
from service.season.records import ProductionStatus
from service.shows.records import Element, Run, ScenicUnit
from service.stock.records import Place
from service.store.audit import AuditEntry
from service.store.work import Store
from tests import builders as build
from tests.kinds.hands import HAND, changed, made, retired


def on_record(session: Session) -> list[tuple[str, str, str | None]]:
    rows = session.scalars(select(AuditEntry).order_by(AuditEntry.id))
    return [(row.what, row.kind, row.tag) for row in rows]


def test_a_thing_made_is_answered_as_its_list_answers_it_and_is_on_record(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
    with store.writing("crew") as session:
        before = len(on_record(session))
        row = made(session, SUPPLIES, tag="PS-2", model="s320", home="a1")
        assert (row["model"], row["home"], row["state"]) == ("S320", "A1", "good")
        assert on_record(session)[before:] == [("made", "units", "PS-2")]


def test_a_change_is_on_record_with_what_was_before_and_after(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
    with store.writing("deck") as session:
        changed(session, ELEMENTS, "SQ-1", priority=1)
        entry = session.scalars(select(AuditEntry).order_by(AuditEntry.id.desc())).first()
        assert entry is not None
        assert (entry.by, entry.what, entry.kind, entry.tag) == ("deck", "changed", "elements", "SQ-1")
        assert (entry.before, entry.after) == ({"priority": 3}, {"priority": 1})


def test_a_change_that_says_what_is_there_already_leaves_no_trace(store: Store) -> None:
    with store.writing("crew") as session:
        element = build.a_house(session).element
    with store.writing("crew") as session:
        entries = len(on_record(session))
        changed(session, ELEMENTS, "SQ-1", priority=3, name="upper window")
        assert len(on_record(session)) == entries
        assert session.get_one(Element, element.id).version == element.version


def test_a_tag_that_is_or_was_in_use_is_not_given_again(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        build.a_supply(session, tag="PS-9")
        retired(session, SUPPLIES, "PS-9")
        for tag, of in (("ps-9", "a unit"), ("SQ-1", "an element")):
            with pytest.raises(AlreadyExists, match=f"{tag} is or was the tag of {of}$"):
                made(session, SUPPLIES, tag=tag, model="S320")


def test_a_name_that_is_not_known_is_answered_with_the_nearest(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        with pytest.raises(BadValues) as refusal:
            made(session, SUPPLIES, tag="PS-2", model="S230")
        (error,) = refusal.value.errors
        assert (error.column, error.message) == ("model", "S230 is not a model that is known here")
        assert error.mend == "Nearest is S320."


@pytest.mark.parametrize("name", ["tag", "production", "colour_of_the_sky"])
def test_what_is_said_once_is_not_changed_and_no_other_name_is_taken(store: Store, name: str) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        with pytest.raises(ValueError, match=name):
            changed(session, ELEMENTS, "SQ-1", **{name: "X"})


def test_a_version_that_is_not_the_one_read_is_refused_when_retiring_too(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_supply(session, tag="PS-9")
        with pytest.raises(Stale, match="PS-9 was changed"):
            actions.retire(session, SUPPLIES, "PS-9", frozenset({7}), HAND)
        with pytest.raises(Stale):
            actions.restore(session, SUPPLIES, "PS-9", frozenset({7}))


def test_a_thing_comes_back_and_only_once(store: Store) -> None:
    with store.writing("crew") as session:
        build.an_outlet(session, tag="C9")
        retired(session, OUTLETS, "C9")
        assert actions.restore(session, OUTLETS, "C9", None)[0]["tag"] == "C9"
        with pytest.raises(BadRequest, match="C9 is not retired"):
            actions.restore(session, OUTLETS, "C9", None)


@pytest.mark.parametrize(
    ("kind", "key", "why"),
    [
        (SUPPLIES, "PS-1", "feeds SQ-1 in the kept plan of WIN"),
        (DECODERS, "DC-1", "feeds SQ-1 in the kept plan of WIN"),
        (SUPPLY_MODELS, "S320", "PS-1 is of that model"),
        (OUTLETS, "C1", "PS-1 is plugged into it"),
        (TAPES, "T-RGBW", "R-1 is of that tape"),
        (REELS, "R-1", "R-1 has tape left on it"),
        (PLACES, "A1", "DC-1, PS-1 are there"),
        (PLACES, "STORE", "A1 is inside it"),
        (ELEMENTS, "SQ-1", "SQ-1 is fed in the kept plan"),
        (PRODUCTIONS, "WIN", "WIN is running"),
        (SCENIC_UNITS, "House front", "SQ-1 is on it"),
        (VENUES, "Main Stage", "referred to by 1 outlet, 1 production"),
        (PLACES, "scenic", "is the scenic unit House front"),
    ],
)
def test_what_a_running_show_depends_on_stays(store: Store, kind: Kind, key: str, why: str) -> None:
    with store.writing("crew") as session:
        house = build.a_house(session)
        numbers: dict[str, str | int] = {
            "House front": house.scenic_unit.id,
            "Main Stage": house.venue.id,
            "scenic": session.get_one(Place, house.scenic_unit.place_id).tag,
        }
        with pytest.raises(InUse, match=why):
            retired(session, kind, numbers.get(key, key))


def test_wire_goes_unless_it_is_the_last_of_a_gauge_that_leads_are_made_of(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        five, two = build.a_wire(session), build.a_wire(session, cores=2)
        retired(session, WIRE, two.id)
        with pytest.raises(InUse, match="SQ-1 is on a lead of it"):
            retired(session, WIRE, five.id)


def test_a_run_that_a_kept_plan_feeds_cannot_be_taken_out_and_others_can(store: Store) -> None:
    with store.writing("crew") as session:
        house = build.a_house(session)
        runs = [{"pieces": [{"drawn_mm": 2000}]}, {"pieces": [{"drawn_mm": 500}]}]
        assert len(changed(session, ELEMENTS, "SQ-1", runs=runs)["runs"]) == 2
        assert len(changed(session, ELEMENTS, "SQ-1", runs=runs[:1])["runs"]) == 1
        build.an_element(session, house.production, tag="SQ-2", tape=house.tape, runs=((10,), (20,)))
        second = session.scalars(
            select(Run).join(Element).where(Element.tag == "SQ-2", Run.number == 2)
        ).one()
        build.an_allotment(session, house.plan, second, house.supply)
        with pytest.raises(InUse, match="runs that would be taken out are in use by 1 allotment"):
            changed(session, ELEMENTS, "SQ-2", runs=runs[:1])


@pytest.mark.parametrize("names", [("warm", "cool"), ("red", "cool", "warm"), ("warm", "red")])
def test_an_emitter_may_move_to_another_place(store: Store, names: tuple[str, ...]) -> None:
    with store.writing("tests") as session:
        build.a_tape(session, tag="T-W", emitters=(("cool", 4.8), ("warm", 4.8)))
        row = changed(session, TAPES, "T-W", emitters=[{"name": name, "w_per_m": 4.8} for name in names])
        assert tuple(emitter["name"] for emitter in row["emitters"]) == names


def test_emitters_given_take_the_place_of_all_there_were(store: Store) -> None:
    with store.writing("crew") as session:
        tape = build.a_tape(session, tag="T-W", emitters=(("cool", 4.8), ("warm", 4.8)))
        emitters = [{"name": "white", "w_per_m": 9.6, "cct_k": 4000}]
        row = changed(session, TAPES, "T-W", emitters=emitters)
        assert [(e["name"], e["w_per_m"]) for e in row["emitters"]] == [("white", 9.6)]
        session.refresh(tape)
        assert tape.version == 2
        assert ("removed", "emitters", None) in on_record(session)


def test_a_place_never_stands_inside_itself(store: Store) -> None:
    with store.writing("crew") as session:
        house = build.a_house(session)
        with pytest.raises(BadValues, match="STORE would stand inside itself"):
            changed(session, PLACES, "STORE", parent="A1")
        unit = house.scenic_unit
        own = session.get_one(Place, unit.place_id).tag
        with pytest.raises(BadValues, match="House front would stand inside itself"):
            changed(session, SCENIC_UNITS, unit.id, place=own)


def test_a_place_is_made_a_scenic_unit_only_with_its_production(store: Store) -> None:
    with store.writing("crew") as session:
        with pytest.raises(BadValues, match="would be a scenic unit of no production"):
            made(session, PLACES, tag="SU-9", kind="scenic unit")
        build.a_production(session, tag="WIN")
        made(session, SCENIC_UNITS, production="WIN", name="Boat")
        assert changed(session, PLACES, "WIN-BOAT", name="the boat")["kind"] == "scenic unit"


def test_a_scenic_unit_takes_the_next_version_when_it_is_moved_and_goes_with_its_place(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_production(session, tag="WIN")
        build.a_place(session, tag="SL")
        number = made(session, SCENIC_UNITS, production="WIN", name="Boat")["id"]
        assert changed(session, SCENIC_UNITS, number, place="SL")["place"] == "SL"
        assert session.get_one(ScenicUnit, number).version == 2
        retired(session, SCENIC_UNITS, number)
        assert session.scalars(select(Place.retired_on).where(Place.tag == "WIN-BOAT")).one() == HAND.today
        with pytest.raises(NotFound, match="no scenic unit"):
            retired(session, SCENIC_UNITS, number)


def test_what_a_kept_plan_takes_is_out_as_long_as_its_show(store: Store) -> None:
    with store.writing("crew") as session:
        house = build.a_house(session)
        changed(
            session, PRODUCTIONS, "WIN", closing="2026-12-19", strike_end="2026-12-21", return_by="2026-12-23"
        )
        assert session.get_one(Plan, house.plan.id).until_on.isoformat() == "2026-12-24"


def test_a_show_that_is_over_goes_once_its_gear_is_back(store: Store) -> None:
    with store.writing("crew") as session:
        house = build.a_house(session)
        hold = build.a_hold(session, house.production, unit_id=house.supply.id, quantity=1)
        changed(session, PRODUCTIONS, "WIN", status=ProductionStatus.RETURNED)
        with pytest.raises(InUse, match="PS-1 is still out"):
            retired(session, PRODUCTIONS, "WIN")
        hold.returned_on = HAND.today
        session.flush()
        assert retired(session, PRODUCTIONS, "WIN")["code"] == "WIN"


def test_what_has_no_tag_is_known_by_what_it_says_and_said_once(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        film = {"production": "WIN", "filmed_on": "2026-11-28"}
        number = made(session, FILM_DAYS, **film)["id"]
        with pytest.raises(BadValues, match="this film day is already in the store"):
            made(session, FILM_DAYS, **film)
        assert changed(session, FILM_DAYS, number, filmed_on="2026-11-29")["id"] == number
        made(session, FILM_DAYS, **film)
        reach = made(session, REACHES, place="A1", gear_at="STORE", lead_m=12)
        assert changed(session, REACHES, reach["id"], lead_m=None)["lead_m"] is None
        retired(session, REACHES, reach["id"])
        assert made(session, REACHES, place="A1", gear_at="STORE")["lead_m"] is None


def test_a_house_rule_stays_in_its_range_and_never_contradicts_another(store: Store) -> None:
    with store.writing("crew") as session:
        over = made(session, RULES, rule="drop_over", value="20 %")["id"]
        watch = made(session, RULES, rule="drop_watch", value="0.12")["id"]
        with pytest.raises(BadValues, match="80 is not a share"):
            changed(session, RULES, watch, value="80")
        with pytest.raises(BadValues, match=r"drop_watch \(0.3\) is above drop_over \(0.2\)"):
            changed(session, RULES, watch, value="30 %")
        with pytest.raises(
            InUse, match=r"without drop_over the built-in figure counts again, and drop_watch"
        ):
            retired(session, RULES, over)
        retired(session, RULES, watch)
        assert retired(session, RULES, over)["rule"] == "drop_over"


def test_a_group_told_beforehand_is_the_one_that_an_element_names(store: Store) -> None:
    with store.writing("crew") as session:
        build.a_house(session)
        number = made(session, GROUPS, production="WIN", kind="match", name="attic", note="seen from row A")[
            "id"
        ]
        changed(session, ELEMENTS, "SQ-1", match_group="Attic")
        assert session.scalars(select(Element.match_group_id)).one() == number
        assert changed(session, GROUPS, number, name="roof")["name"] == "roof"
        with pytest.raises(InUse, match="group roof is referred to by 1 element"):
            retired(session, GROUPS, number)
        changed(session, ELEMENTS, "SQ-1", match_group=None)
        assert retired(session, GROUPS, number)["name"] == "roof"
