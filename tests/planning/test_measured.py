"""What was measured on the bench changes watts, amps, findings and the plan alike, and is named beside them.

Tape of 4 × 4.8 W/m is 19.2 W/m by its sheet; here it drew 24 W/m: 2 m are 48 W and 2 A at 24 V, not 38.4 W
and 1.6 A. A supply may give 320 W × 0.80 = 256 W, a channel 5 A × 0.80 = 4 A.
"""

from datetime import date

import pytest
from sqlalchemy.orm import Session

from service.limits.findings import Finding, Verdict
from service.limits.registry import findings
from service.planning.actions import find_plan
from service.planning.comparing import plan_feeds, plan_unfed
from service.planning.queries import dark_if_pulled, fed_by_unit, feed_of
from service.planning.snapshot.season import season_facts
from service.reports import loads, over_limit
from service.reports.report import ReportAsk
from service.shows.records import Element
from service.stock.gear import GearKind
from service.store.work import Store
from tests import builders as build
from tests.planning.stage import TODAY, Stage, a_stage, kept, worked_out
from tests.shows.upkeep import a_bench_test

SAID = "measured 24 W/m, bench test 2026-11-02 by Ada"


@pytest.fixture
def house(session: Session) -> build.House:
    return build.a_house(session)


def finding(session: Session, code: str) -> Finding:
    session.flush()
    [show] = season_facts(session, TODAY)
    return next(f for f in findings(show) if f.code == code)


def test_watts_and_amps_follow_the_bench_and_say_so(session: Session, house: build.House) -> None:
    a_bench_test(session, house.element, measured_w_per_m=24.0)

    feed = feed_of(session.connection(), "SQ-1")
    [run] = feed["runs"]
    assert (feed["load_w"], run["load_w"], run["load_a"]) == (48.0, 48.0, 2.0)
    assert feed["load_basis"] == run["load_basis"] == SAID
    [source] = feed["sources"]
    assert (source["load_w"], source["load_pct"], source["load_basis"]) == (48.0, 18.8, f"SQ-1 {SAID}")
    [fed] = fed_by_unit(session.connection(), "DC-1", (GearKind.DECODER,))
    assert (fed["load_w"], fed["load_a"], fed["load_basis"]) == (48.0, 2.0, SAID)
    [dark] = dark_if_pulled(session.connection(), [fed])
    assert (dark["load_w"], dark["load_basis"]) == (48.0, SAID)


def test_without_a_measurement_the_sheet_counts_and_is_named(session: Session, house: build.House) -> None:
    a_bench_test(session, house.element, tested_on=date(2026, 11, 3))  # passed, but nobody read the watts
    feed = feed_of(session.connection(), "SQ-1")
    assert (feed["load_w"], feed["load_basis"]) == (38.4, "nominal")


@pytest.mark.usefixtures("house")
def test_reports_and_findings_carry_the_measured_load(session: Session, house: build.House) -> None:
    a_bench_test(session, house.element, measured_w_per_m=24.0)
    ask = ReportAsk(TODAY, None, True, TODAY)

    [row] = loads.rows(session, ask)
    assert (row.output_w, row.load_a, row.load_basis) == (48.0, 2.0, f"SQ-1 {SAID}")
    of_supply = next(r for r in over_limit.rows(session, ask) if r.code == "supply-watts")
    assert (of_supply.value, of_supply.load_basis) == (48.0, f"SQ-1 {SAID}")
    [show] = season_facts(session, TODAY)
    [decoder] = show.decoders
    assert [load.a for c in decoder.banks[0].channels for load in c.loads] == pytest.approx([0.5] * 4)


def test_a_finding_turns_over_with_what_was_measured(session: Session, house: build.House) -> None:
    """12 m at 19.2 W/m are 230.4 W of 256 W; at 24 W/m they are 288 W."""
    for piece in house.element.runs[0].pieces:
        piece.cut_pitches = 240
    assert finding(session, "supply-watts").verdict is Verdict.OK
    a_bench_test(session, house.element, measured_w_per_m=24.0)
    found = finding(session, "supply-watts")
    assert found.verdict is Verdict.OVER
    assert found.value == pytest.approx(288.0)
    assert finding(session, "channel-amps").value == pytest.approx(3.0)  # 288 W / 4 / 24 V


def test_a_finding_without_a_load_in_it_names_no_ground(session: Session, house: build.House) -> None:
    a_bench_test(session, house.element, measured_w_per_m=24.0)
    assert finding(session, "emitters-wired").load_basis == ""


def test_the_latest_passed_test_of_the_tape_it_has_now_counts(session: Session, house: build.House) -> None:
    def watts() -> float:
        session.flush()
        return float(feed_of(session.connection(), "SQ-1")["load_w"])

    a_bench_test(session, house.element, measured_w_per_m=24.0, tested_on=date(2026, 11, 2))
    a_bench_test(session, house.element, measured_w_per_m=22.0, tested_on=date(2026, 10, 2))
    assert watts() == 48.0
    a_bench_test(session, house.element, measured_w_per_m=90.0, passed=False, tested_on=date(2026, 11, 9))
    assert watts() == 48.0
    a_bench_test(session, house.element, measured_w_per_m=21.0, tested_on=date(2026, 11, 2))
    assert watts() == 42.0
    house.element.tape_id = build.a_tape(session, (("white", 9.6),)).id
    assert watts() == 19.2
    [show] = season_facts(session, TODAY)
    assert show.elements[0].load_w == pytest.approx(19.2)


def test_a_sample_of_the_tape_counts_where_the_element_was_not_measured(
    session: Session, house: build.House
) -> None:
    house.tape.measured_w_per_m = 20.0
    session.flush()
    feed = feed_of(session.connection(), "SQ-1")
    assert (feed["load_w"], feed["load_basis"]) == (40.0, "measured 20 W/m, sample of the tape")
    [show] = season_facts(session, TODAY)
    assert show.elements[0].load_w == pytest.approx(40.0)
    a_bench_test(session, house.element, measured_w_per_m=24.0)
    assert feed_of(session.connection(), "SQ-1")["load_w"] == 48.0


def test_the_feed_has_another_tag_once_it_was_measured(session: Session, house: build.House) -> None:
    before = feed_of(session.connection(), "SQ-1")["etag"]
    test = a_bench_test(session, house.element, measured_w_per_m=24.0)
    measured = feed_of(session.connection(), "SQ-1")["etag"]
    test.measured_w_per_m = 25.0
    session.flush()
    assert len({before, measured, feed_of(session.connection(), "SQ-1")["etag"]}) == 3


@pytest.fixture
def stage(session: Session) -> Stage:
    return a_stage(session)


@pytest.mark.parametrize(
    ("w_per_m", "load_uw", "channel_uw"),
    [
        (19.2, 38_400_000, (9_600_000,) * 4),
        (24.0, 48_000_000, (12_000_000,) * 4),
        (19.9, 39_800_000, (9_950_000,) * 4),
        (19.3, 38_600_000, (9_650_000,) * 4),
    ],
)
def test_the_allocator_is_asked_for_the_measured_load_exactly(
    session: Session, stage: Stage, w_per_m: float, load_uw: int, channel_uw: tuple[int, ...]
) -> None:
    a_bench_test(session, stage.element(session, "SQ-1"), measured_w_per_m=w_per_m)
    [block] = stage.question(session).problem.blocks
    assert (block.runs[0].load_uw, block.runs[0].channel_uw) == (load_uw, channel_uw)


def test_thirds_of_a_measured_load_add_up_to_the_whole(session: Session, stage: Stage) -> None:
    """14.5 W/m over three emitters cannot be shared evenly in decimals; 2 m are still 29 W, not a µW more."""
    tape = build.a_tape(session, (("red", 4.8), ("green", 4.8), ("blue", 4.8)))
    a_bench_test(session, stage.element(session, "SQ-1", tape=tape), measured_w_per_m=14.5)
    [block] = stage.question(session).problem.blocks
    assert block.runs[0].load_uw == sum(block.runs[0].channel_uw) == 29_000_000


def a_wall(store: Store, measured: bool) -> list[Element]:
    """Three windows of 5 m, 96 W each by the sheet: one supply of 256 W carries two of them; the third, ten
    times less wanted, is left. Measured at 28 W/m one is 140 W, and only one fits."""
    with store.writing("tests") as session:
        stage = a_stage(session, decoders=3)
        found = [
            stage.element(session, f"SQ-{n}", runs=((100,),), priority=1 if n < 3 else 9) for n in (1, 2, 3)
        ]
        if measured:
            for element in found[:2]:
                a_bench_test(session, element, measured_w_per_m=28.0)
    return found


@pytest.mark.parametrize(("measured", "fed"), [(False, {"SQ-1", "SQ-2"}), (True, 2)])
def test_a_plan_feeds_what_the_measured_loads_leave_room_for(
    store: Store, measured: bool, fed: set[str] | int
) -> None:
    a_wall(store, measured)
    number = worked_out(store)
    with store.reading() as session:
        feeds = plan_feeds(session, find_plan(session, "WIN", number))
        unfed = plan_unfed(session, find_plan(session, "WIN", number))
    if not measured:
        assert {f["element"] for f in feeds} == fed
        assert {f["load_w"] for f in feeds} == {96.0}
        return
    # 140 W + 96 W = 236 W of 256 W: one measured window and the one by its sheet.
    by_load = {f["element"]: (f["load_w"], f["load_basis"]) for f in feeds}
    assert sorted(by_load.values()) == [(96.0, "nominal"), (140.0, SAID.replace("24", "28", 1))]
    assert len(unfed) == 1


def test_a_kept_plan_is_judged_by_what_was_measured_since(store: Store) -> None:
    """Two windows of 96 W fit 256 W; measured at 28 W/m after the plan was kept, they are 280 W and over."""
    elements = a_wall(store, measured=False)
    kept(store)
    with store.reading() as session:
        [show] = season_facts(session, TODAY)
        assert not [f for f in findings(show) if f.code == "supply-watts" and f.verdict is Verdict.OVER]
    with store.writing("tests") as session:
        for element in elements[:2]:
            a_bench_test(session, element, measured_w_per_m=28.0)
    with store.reading() as session:
        [show] = season_facts(session, TODAY)
        [over] = [f for f in findings(show) if f.code == "supply-watts" and f.verdict is Verdict.OVER]
    assert over.value == pytest.approx(280.0)
    said = SAID.replace("24", "28", 1)
    assert over.load_basis == f"SQ-1 {said}; SQ-2 {said}"
