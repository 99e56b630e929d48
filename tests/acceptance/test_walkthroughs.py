"""What people ask of the demonstration season, from question to answer, with figures worked by hand."""

from dataclasses import replace
from datetime import date

import pytest

import seed_demo
from service.errors import OverLimit
from service.limits.facts import ShowFacts
from service.limits.findings import Finding, Verdict
from service.limits.lookup import Lookup
from service.limits.mends.offers import Offer, offers
from service.limits.registry import findings
from service.planning.actions import PlanAsk, ask_for_plan, find_plan, keep_plan, work_out
from service.planning.comparing import Change, changes, plan_feeds, plan_unfed
from service.planning.moving import move_feed
from service.planning.queries import dark_if_pulled, fed_by_unit, feed_of
from service.planning.records import Allotment, PlanStatus
from service.planning.schemas import FeedMove
from service.planning.serving.asking import show_on
from service.planning.snapshot.season import plan_facts, season_facts
from service.planning.snapshot.show import find_production, kept_plan
from service.reports.loads import weigh_boxed
from service.stock.gear import GearKind
from service.store.work import Store
from tests.acceptance.worked import read_sheets, worked_elements

ATTIC = [f"SQ-{n:02d}" for n in range(7, 15)]
MIRROR_W = 3.3 * 19.2  # 3.33 m drawn, cut each 50 mm: 66 pitches, 3.30 m; two whites of 9.6 W/m
# What a feed puts on a supply, an output, a bank, a channel, an address or a circuit.
OF_A_FEED = {
    "voltage-class", "polarity", "decoder-volts", "supply-watts", "output-amps", "battery-amps",
    "channel-amps", "bank-amps", "bank-sources", "channel-count", "dimming", "shared-channel", "universe",
    "address-overlap", "dimmed-circuit", "moving", "costume", "unit-state", "lead-amps", "fuse", "box-heat",
    "mains-amps", "battery-time",
}  # fmt: skip


def plan(store: Store, code: str, ask: PlanAsk) -> int:
    """The number of a plan that was asked for and worked out to a draft."""

    asked = store.write(lambda session: ask_for_plan(session, code, ask, "planner"), "planner")
    assert work_out(store, asked.id, seed_demo.AS_OF) is PlanStatus.DRAFT
    return asked.number


def over_in(store: Store, code: str, number: int) -> dict[tuple[str, str], Finding]:
    with store.reading() as session:
        facts = plan_facts(session, find_plan(session, code, number), seed_demo.AS_OF)
        return {(f.code, f.subject): f for f in findings(facts) if f.verdict is Verdict.OVER}


def test_a_dark_window_is_traced_to_the_wall_in_one_look(season: Store) -> None:
    """SQ-09: DC-32 starts at 51 of universe 3, so channel 3 listens to 51 + 3 - 1."""

    def around(code: str) -> Lookup:
        return show_on(session, code, seed_demo.AS_OF, seed_demo.AS_OF).around

    with season.reading() as session:
        feed = weigh_boxed(feed_of(session.connection(), "sq-09"), around)

    [run], [source] = feed["runs"], feed["sources"]
    assert (feed["name"], feed["scenic_unit"], feed["load_w"]) == ("Attic window 3", "Attic row", 12.48)
    assert (run["decoder"], run["first_channel"], run["output"]) == ("DC-32", 3, 1)
    assert run["slots"] == [{"emitter": "W", "channel": 3, "universe": 3, "slot": 53}]
    assert (source["supply"], source["enclosure"], source["outlet"]) == ("PS-25", "EN-2", "MD1")
    assert (source["outlet_kind"], source["feeds"]) == ("constant", ATTIC)
    # 8 × 12.48 W of 150 W × 0.80.
    assert (source["load_w"], source["limit_w"], source["load_pct"]) == (99.84, 120.0, 83.2)


def test_what_to_suspect_depends_on_how_many_are_dark(season: Store) -> None:
    with season.lookup() as connection:
        together, alone = feed_of(connection, "SQ-09")["suspects"]

    assert "SQ-07, SQ-08, SQ-10" in together
    assert [part for part in ("PS-25", "MD1", "DC-32") if part not in together] == []
    assert "lead, joint or channel 3" in alone


def test_pulling_a_supply_says_what_goes_dark(season: Store) -> None:
    with season.lookup() as connection:
        dark = dark_if_pulled(connection, fed_by_unit(connection, "PS-25", (GearKind.SUPPLY,)))

    assert [row["element"] for row in dark] == ATTIC
    assert all(row["whole"] for row in dark)
    assert sum(row["load_w"] for row in dark) == pytest.approx(99.84)


@pytest.fixture
def places_for_the_mirror(season: Store) -> dict[str, Offer]:
    with season.reading() as session:
        [show] = season_facts(session, seed_demo.AS_OF, "SQ")
        return {offer.supply: offer for offer in offers(show, MIRROR_W, 24.0)}


def test_an_addition_is_offered_every_supply_that_would_hold_it(
    places_for_the_mirror: dict[str, Offer],
) -> None:
    third, sixth = places_for_the_mirror["PS-03"], places_for_the_mirror["PS-06"]

    assert (third.verdict, sixth.verdict) == (Verdict.OK, Verdict.OK)
    assert (third.w_after, third.limit_w) == pytest.approx((247.68, 256.0))
    assert (third.a_after, third.limit_a) == pytest.approx((10.32, 10.64))
    assert (sixth.w_after, sixth.limit_w) == pytest.approx((238.56, 256.0))


def test_an_addition_is_not_offered_what_it_would_put_over(places_for_the_mirror: dict[str, Offer]) -> None:
    """PS-25 would carry 99.84 + 63.36 of 120 W."""
    attic = places_for_the_mirror["PS-25"]

    assert attic.verdict is Verdict.OVER
    assert (attic.w_after, attic.limit_w) == pytest.approx((163.2, 120.0))


def test_an_addition_is_refused_where_it_would_fit_cold_but_not_in_its_box(
    places_for_the_mirror: dict[str, Offer],
) -> None:
    """247.68 W in the plinth: 27.52 W and 4.95 W of heat make 62.5 °C; 320 × 0.438 × 0.80."""
    plinth = places_for_the_mirror["PS-05"]

    assert plinth.verdict is Verdict.OVER
    assert plinth.w_after == pytest.approx(247.68)
    assert plinth.limit_w == pytest.approx(112.2, abs=0.1)


def test_the_mirror_moves_with_its_decoder_and_is_refused_the_way_back(changing_season: Store) -> None:
    """PS-01 without it carries 247.68 W of 256, with it 311.04; DC-21 carries nothing but the mirror."""
    store = changing_season
    left = store.write(
        lambda s: move_feed(s, "SQ-17", FeedMove(supply="PS-03"), seed_demo.AS_OF), "electrician"
    )
    with pytest.raises(OverLimit) as refusal, store.writing("electrician") as session:
        move_feed(session, "SQ-17", FeedMove(supply="PS-01"), seed_demo.AS_OF)

    assert "PS-01" not in {f.tag for f in left}
    assert "311.04 W" in refusal.value.message
    with store.lookup() as connection:
        mirror = feed_of(connection, "SQ-17")
    assert [(s["supply"], s["load_w"]) for s in mirror["sources"]] == [("PS-03", 247.68)]
    assert {run["decoder"] for run in mirror["runs"]} == {"DC-21"}


@pytest.mark.parametrize("from_on", [None, date(2027, 1, 20)], ids=["as booked", "when others are back"])
def test_nothing_that_is_proposed_for_tidewrack_is_over(changing_season: Store, from_on: date | None) -> None:
    number = plan(changing_season, "TW", PlanAsk(from_on=from_on))

    over = over_in(changing_season, "TW", number)
    assert not {code for code, _ in over} & OF_A_FEED


def test_tidewrack_is_fed_or_is_told_why_not_and_until_when(changing_season: Store) -> None:
    """Booked from 2026-12-28, when wireless decoders are still with other shows: some runs stay dark."""
    store = changing_season
    number = plan(store, "TW", PlanAsk())
    with store.reading() as session:
        draft = find_plan(session, "TW", number)
        fed, dark = plan_feeds(session, draft), plan_unfed(session, draft)
    asked = worked_elements(read_sheets(seed_demo.folder()))
    runs = {(tag, n) for tag, e in asked.items() for n in range(1, len(e.runs_m) + 1) if e.production == "TW"}

    assert {(r["element"], r["run"]) for r in fed} | {(r["element"], r["run"]) for r in dark} == runs
    assert sum(r["load_w"] for r in fed) + (draft.unfed_w or 0.0) == pytest.approx(548.16)
    assert all(r["because"] and r["mend"] for r in dark)
    assert any("2027-01-20" in r["mend"] for r in dark)


def test_what_moves_in_tidewrack_rides_with_its_battery_and_hears_by_radio(changing_season: Store) -> None:
    number = plan(changing_season, "TW", PlanAsk(from_on=date(2027, 1, 20)))
    with changing_season.reading() as session:
        feeds = plan_feeds(session, find_plan(session, "TW", number))

    moving = [f for f in feeds if f["element"] in {"TW-01", "TW-02", "TW-03", "TW-07", "TW-11"}]
    assert moving
    assert {f["supply"][:2] for f in moving} == {"BT"}
    assert {f["decoder"][:4] for f in moving} == {"DC-4"}
    assert {f["supply"][:2] for f in feeds if f not in moving} <= {"PS"}


def mended(store: Store, code: str) -> tuple[list[Change], set[tuple[str, str]], set[tuple[str, str]]]:
    """(what a mending plan changes, what of a feed is over before, and after)."""
    with store.reading() as session:
        before = kept_plan(session, find_production(session, code).id)
        assert before is not None
        was = over_in(store, code, before.number)
    number = plan(store, code, PlanAsk(mend=True))
    now = over_in(store, code, number)
    with store.reading() as session:
        changed = changes(session, before, find_plan(session, code, number))
    return changed, {k for k in was if k[0] in OF_A_FEED}, {k for k in now if k[0] in OF_A_FEED}


def test_mending_the_sleet_queen_moves_the_mirror_and_puts_nothing_over(changing_season: Store) -> None:
    changed, was, now = mended(changing_season, "SQ")

    moved = {(c.element, c.change) for c in changed if c.change in {"moved", "fed"}}
    assert ("supply-watts", "PS-01") in was
    assert now <= was
    assert not {(code, subject) for code, subject in now if subject.startswith("PS-01")}
    # The mirror is the lightest load whose going clears PS-01; the lamp post was never fed.
    assert moved == {("SQ-17", "moved"), ("SQ-19", "fed")}


def test_mending_trench_lantern_moves_the_sixth_rib_alone(changing_season: Store) -> None:
    """84.48 W is 3.52 A: more than an output of 4.0 A × 0.80 takes, so it goes to another kind of supply."""
    changed, was, now = mended(changing_season, "TL")

    assert ("output-amps", "PS-12 output 2") in was
    assert now <= was - {("output-amps", "PS-12 output 2")}
    assert {c.element for c in changed if c.change == "moved"} == {"TL-14"}


def test_a_plan_without_mending_leaves_everything_where_it_is(changing_season: Store) -> None:
    """A kept feed that is over stays and is reported; the lamp post that had none gets one."""
    number = plan(changing_season, "SQ", PlanAsk())
    with changing_season.reading() as session:
        kept = kept_plan(session, find_production(session, "SQ").id)
        changed = changes(session, kept, find_plan(session, "SQ", number))

    assert {(c.element, c.change) for c in changed} == {("SQ-19", "fed")}


def test_a_kept_plan_is_what_the_crew_looks_up(changing_season: Store) -> None:
    store = changing_season
    number = plan(store, "SQ", PlanAsk())
    store.write(lambda s: keep_plan(s, "SQ", number, seed_demo.AS_OF), "planner")

    with store.lookup() as connection:
        lamp = feed_of(connection, "SQ-19")
    assert lamp["plan"] == number
    assert all(run["supply"] and run["slots"] for run in lamp["runs"])
    with store.reading() as session:
        assert session.query(Allotment).filter_by(plan_id=find_plan(session, "SQ", number).id).count() > 30


def judged(show: ShowFacts, code: str, subject: str) -> Finding:
    [finding] = [f for f in findings(show) if (f.code, f.subject) == (code, subject)]
    return finding


@pytest.fixture
def sleet_queen(season: Store) -> ShowFacts:
    with season.reading() as session:
        [show] = season_facts(session, seed_demo.AS_OF, "SQ")
    return show


def with_cues(show: ShowFacts, level_pct: float) -> ShowFacts:
    """The robe with its act two at another level."""
    elements = [
        replace(e, cues=(*e.cues[:-1], replace(e.cues[-1], level_pct=level_pct))) if e.tag == "SQ-23" else e
        for e in show.elements
    ]
    return replace(show, elements=tuple(elements))


def test_the_robe_dies_in_act_two_and_lasts_on_a_larger_pack_or_with_a_cap(sleet_queen: ShowFacts) -> None:
    """24.96 W and 1.2 W idle: 10.52 Wh before act two, 20.20 left at 26.16 W; at 60 % it takes 7.49 Wh."""
    robe = judged(sleet_queen, "battery-time", "BT-11")
    capped = judged(with_cues(sleet_queen, 60.0), "battery-time", "BT-11")

    assert robe.verdict is Verdict.OVER
    assert (robe.value, robe.limit) == pytest.approx((32.62, 30.72), abs=0.005)
    assert "32.32 Wh through the show" in robe.message
    assert "dies at minute 156, 46 min into act two" in robe.message
    assert robe.mend is not None
    assert (robe.mend.value_after, robe.mend.limit_after) == pytest.approx((32.62, 71.68), abs=0.005)
    assert "45.5 %" in robe.mend.text
    assert capped.verdict is Verdict.OK
    assert (capped.value, capped.limit) == pytest.approx((19.31, 21.50), abs=0.005)
    assert "19.01 Wh through the show" in capped.message


def river_fed(show: ShowFacts, style: str, gauge: str, ohm_per_m: float, limit_a: float) -> ShowFacts:
    river = next(e for e in show.elements if e.tag == "SQ-21")
    lead = replace(river.runs[0].lead, gauge=gauge, ohm_per_m=ohm_per_m, limit_a=limit_a)
    run = replace(river.runs[0], feed_style=style, lead=lead)
    others = [e for e in show.elements if e.tag != "SQ-21"]
    return replace(show, elements=(*others, replace(river, runs=(run,))))


def test_the_river_edge_is_right_only_with_both_ends_fed_by_thicker_wire(sleet_queen: ShowFacts) -> None:
    """6.4 A common, 1.6 A a colour, 12 m of 18 AWG; two leads of 16 AWG carry 3.2 A each, fused at 4 A."""
    total, lead = judged(sleet_queen, "total-drop", "SQ-21/1"), judged(sleet_queen, "lead-drop", "SQ-21/1")
    assert (lead.value, total.value) == pytest.approx((8.38, 12.38), abs=0.005)
    assert judged(sleet_queen, "fuse", "SQ-21/1").verdict is Verdict.OVER

    same = river_fed(sleet_queen, "both", "18 AWG", 0.02095, 7.0)
    assert judged(same, "total-drop", "SQ-21/1").verdict is Verdict.WATCH
    assert judged(same, "total-drop", "SQ-21/1").value == pytest.approx(5.19, abs=0.005)

    right = river_fed(sleet_queen, "both", "16 AWG", 0.01318, 10.0)
    assert judged(right, "total-drop", "SQ-21/1").value == pytest.approx(3.64, abs=0.005)
    fuse, length = judged(right, "fuse", "SQ-21/1"), judged(right, "run-length", "SQ-21/1")
    assert (fuse.verdict, fuse.value, fuse.limit) == (Verdict.OK, 4.0, 10.0)
    assert (length.verdict, length.limit) == (Verdict.OK, 10.0)
    codes = ("lead-drop", "total-drop", "run-length", "lead-amps", "fuse")
    assert {judged(right, code, "SQ-21/1").verdict for code in codes} == {Verdict.OK}
