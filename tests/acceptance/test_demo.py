"""The demonstration season against figures worked by hand and against a second sum from the sheets alone.

Every figure below was worked on paper: watts are metres cut times watts a metre, limits are ratings × 0.80
(common practice for hours of running), drops are those of an evenly loaded line (Ohm's law).
"""

import csv
from collections.abc import Iterable
from datetime import date
from pathlib import Path
from typing import NamedTuple

import pytest

import seed_demo
from service.limits.findings import Finding, Verdict
from service.limits.registry import findings
from service.planning.snapshot.house import read_policy
from service.planning.snapshot.season import season_facts
from service.reports import REPORTS, ReportAsk
from service.reports.loads import of_show
from service.store.work import Store
from tests.acceptance.worked import read_sheets, watts_by_production, worked_elements

EXPECTED = Path(__file__).with_name("expected.csv")
HAND = 0.006  # figures on paper have two decimals


class Fault(NamedTuple):
    """One line of the list of deliberate faults. None: that figure is not a number."""

    code: str
    subject: str
    value: float | None = None
    limit: float | None = None
    pct: float | None = None
    mended: float | None = None
    says: tuple[str, ...] = ()


OVER = (
    # PS-01 carries two ice panels, the mirror and the throne: 2 × 92.16 + 63.36 + 63.36 of 320 × 0.80.
    Fault("supply-watts", "PS-01", 311.04, 256.00, 121.5, 247.68, ("under the nameplate", "PS-03", "PS-06")),
    Fault("output-amps", "PS-01 output 1", 12.96, 10.64, 121.8, 10.32),
    # The plinth of PS-05: 24.17 W of heat over 1.0 W/K on 30 °C; 320 × 0.646 × 0.80.
    Fault("box-heat", "PS-05", 184.32, 165.335, 111.5, 184.32, ("54.2 °C", "0.646", "72.0 %", "174.00 W")),
    # Five supplies 8.81 A and a fog machine of 1 000 W on a breaker of 20 A.
    Fault(
        "mains-amps", "MD2", 17.15, 16.0, 107.2, 15.46, ("5 supplies 8.81 A", "fog machine 8.33 A", "PS-06")
    ),
    # 29.12 Wh at full, 3.50 idle with the hold; 12.8 V × 3 Ah × 0.8. Of 10 Ah 71.68 Wh may be planned with.
    Fault(
        "battery-time",
        "BT-11",
        32.62,
        30.72,
        mended=32.62,
        says=("32.32 Wh", "minute 156, 46 min into act two", "71.68 Wh, 45.5 %"),
    ),
    # Two ice edges of 3.00 A on a channel of 5 A.
    Fault("channel-amps", "DC-14 channel 1", 6.00, 4.00, 150.0, 3.00, ("5.00 A rating",)),
    Fault("emitters-wired", "FR-13", 1, 0, says=("emitter W has no channel",)),
    Fault("match-lot", "attic", 2, 1, says=("N-26A", "N-26C: SQ-13, SQ-14")),
    # 8.0 m fed at one end of a tape whose longest is 5.0 m; both ends and 16 AWG put it right.
    Fault("run-length", "SQ-21/1", 8.0, 5.0, mended=8.0, says=("both ends", "16 AWG")),
    Fault("total-drop", "SQ-21/1", 12.38, 10.0, mended=3.64, says=("lead 8.38 %", "tape 4.00 %")),
    Fault("lead-amps", "SQ-05/1", 3.84, 3.0, 128.0, 3.84, ("22 AWG", "20 AWG")),
    # 1.25 × 6.4 A = 8 A: a 10 A fuse, more than 18 AWG takes. Fed at both ends 1.25 × 3.2 A: 4 A.
    Fault(
        "fuse",
        "SQ-21/1",
        10,
        7,
        mended=4,
        says=("10 A is the fuse for 6.40 A", "16 AWG", "3.64 %", "4 A fuse"),
    ),
    Fault("fuse", "SQ-05/1", 5, 3, mended=5, says=("22 AWG", "20 AWG")),
    Fault("voltage-class", "FR-10/1", 24, 12, says=("12 V tape on PS-24, a 24 V supply", "smoke")),
    Fault("voltage-class", "FR-09/1", 12, 24, says=("24 V tape on BT-01, a 12 V battery", "not light")),
    Fault("moving", "SQ-15", says=("rolling", "no travelling cable", "PS-26")),
    Fault("dimmed-circuit", "PS-26", says=("MX5",)),
    # Slots 43 and 44 are claimed twice; the first start that is free for five slots is 45, the next 63.
    Fault("address-overlap", "DC-23", 2, 0, mended=0, says=("43, 44", "45-49", "63")),
    Fault("universe", "DC-52 port 2", 540, 512, says=("301-540",)),
    Fault("universe", "DC-14", 516, 512, says=("509-516",)),
    Fault("unit-state", "PS-52", says=("trips warm", "TL-22, TL-23")),
    Fault("unit-state", "DC-07", says=("channel 3 dead", "FR-06")),
    # 2026-11-03 to 2026-11-25.
    Fault("overdue", "PS-02", 22, 0, says=("from CO", "hurts TL from 2027-01-04")),
    Fault("overdue", "DC-03", 22, 0, says=("from CO",)),
    # Rib 6 alone: 84.48 W at 24 V on an output of 4.0 A.
    Fault("output-amps", "PS-12 output 2", 3.52, 3.20, 110.0),
    Fault("no-feed", "SQ-19", 3, 0, says=("the show is running",)),
    Fault("wet-zone", "TW-04", 20, 67, says=("RGBW24", "IP67")),
    *(Fault("mounting", f"TL-{n}", 19.2, 10.0, says=("on foam", "aluminium")) for n in range(17, 21)),
    Fault("film-pwm", "TL-21", 500, 1000, says=("DC-43", "2027-03-06")),
)
# On the film day, what a D4 dims: ribs, engine heart, kelp columns, organ pipes and the placeholder's line.
ON_FILM = ("09", "10", "11", "12", "13", "14", "16", "17", "18", "19", "20", "24", "25")
WATCH = (
    Fault("lead-drop", "SQ-05/1", 4.24, 3.0, mended=2.66),
    Fault("total-drop", "SQ-05/1", 5.68, 5.0, mended=4.10),
    Fault("lead-drop", "SQ-21/1", 8.38, 3.0, mended=2.64),
    Fault("lead-drop", "TL-25/1", 3.69, 3.0),
    Fault("total-drop", "TL-25/1", 5.13, 5.0),
    *(Fault("film-pwm", f"TL-{n}", 1000, 2000, says=("2027-03-06",)) for n in ON_FILM),
    Fault("worn-volts", "FR-14", 24, 12),
    # 4 × 60 + 50 A, and in the other house 4 × 55 + 60 A on a breaker of 15 A.
    Fault("mains-inrush", "MD2", 5, 4, mended=3, says=("290 A",)),
    Fault("mains-inrush", "SD1", 5, 3, mended=3, says=("280 A", "15 A")),
)


@pytest.fixture(scope="module")
def found(season: Store) -> list[Finding]:
    """Every comparison of every limit on every show."""
    with season.reading() as session:
        policy = read_policy(session)
        shows = season_facts(session, seed_demo.AS_OF)
        return [finding for show in shows for finding in findings(show, policy)]


def named(found: Iterable[Finding], verdict: Verdict, code: str, subject: str) -> Finding:
    hits = [f for f in found if (f.verdict, f.code, f.subject) == (verdict, code, subject)]
    # What is overdue is seen by the show that has it and by the one that waits for it.
    assert hits, f"no {verdict} finding {code} on {subject}"
    return hits[0]


@pytest.mark.parametrize(
    ("verdict", "fault"),
    [(Verdict.OVER, f) for f in OVER] + [(Verdict.WATCH, f) for f in WATCH],
    ids=lambda x: f"{x.code} {x.subject}" if isinstance(x, Fault) else str(x),
)
def test_every_deliberate_fault_is_found_with_its_figures(
    found: list[Finding], verdict: Verdict, fault: Fault
) -> None:
    finding = named(found, verdict, fault.code, fault.subject)

    assert (finding.value, finding.limit) == pytest.approx((fault.value, fault.limit), abs=HAND)
    if fault.pct is not None:
        assert finding.share_pct == pytest.approx(fault.pct, abs=0.06)
    if fault.mended is not None:
        assert finding.mend is not None
        assert finding.mend.value_after == pytest.approx(fault.mended, abs=HAND)
    text = finding.message + (finding.mend.text if finding.mend else "")
    assert [words for words in fault.says if words not in text] == []


def test_nothing_else_is_over(found: list[Finding]) -> None:
    codes = {fault.code for fault in OVER}
    over = {(f.code, f.subject) for f in found if f.verdict is Verdict.OVER and f.code in codes}

    assert over == {(fault.code, fault.subject) for fault in OVER}


def test_a_film_day_watches_what_is_dimmed_slowly_and_nothing_else(found: list[Finding]) -> None:
    watched = {f.subject for f in found if f.code == "film-pwm" and f.verdict is Verdict.WATCH}

    assert watched == {f"TL-{n}" for n in ON_FILM}


def test_the_worst_comes_first(found: list[Finding]) -> None:
    """12 V tape on 24 V may smoke: it is of the worst harm, and so is above what merely trips."""
    burns = named(found, Verdict.OVER, "voltage-class", "FR-10/1")
    dim = named(found, Verdict.OVER, "voltage-class", "FR-09/1")
    trips = named(found, Verdict.OVER, "supply-watts", "PS-01")

    assert burns.harm < dim.harm < trips.harm
    assert burns.harm == min(f.harm for f in found)


def test_a_circuit_may_start_too_many_and_yet_run_well_within_its_breaker(found: list[Finding]) -> None:
    running = named(found, Verdict.OK, "mains-amps", "SD1")

    assert (running.value, running.limit) == pytest.approx((5.10, 12.0), abs=HAND)


def test_a_supply_at_exactly_its_limit_is_in_order(found: list[Finding]) -> None:
    """PS-11: 4 × 76.80 W of 384 W × 0.80, and 3.20 A of 4.0 A × 0.80 on each output."""
    watts = named(found, Verdict.OK, "supply-watts", "PS-11")
    outputs = [named(found, Verdict.OK, "output-amps", f"PS-11 output {n}") for n in (1, 2, 3, 4)]

    assert (watts.value, watts.limit) == pytest.approx((307.2, 307.2))
    assert [(f.value, f.limit) for f in outputs] == [pytest.approx((3.2, 3.2))] * 4
    assert "100.0 %" in watts.message


def test_the_longest_run_that_is_fed_at_both_ends_is_within_twice_its_maker_s_length(
    found: list[Finding],
) -> None:
    waterline = named(found, Verdict.OK, "run-length", "TL-25/1")

    assert (waterline.value, waterline.limit) == pytest.approx((9.6, 10.0))


def test_a_faulty_supply_is_reported_though_its_load_would_fit(season: Store) -> None:
    """PS-52: two tentacles of 57.60 W on 150 W × 0.80."""
    with season.reading() as session:
        [show] = season_facts(session, seed_demo.AS_OF, "TL")
        loads = [row for row in of_show(show, read_policy(session)) if row.supply == "PS-52"]

    assert [(r.supply_w, r.limit_w, r.supply_pct, r.verdict) for r in loads] == [(115.2, 120.0, 96.0, "over")]
    assert {row.binds for row in loads} == {"unit-state"}


PACKS = (("CO", "BT-02"), ("CO", "BT-03"), ("FR", "BT-01"), ("FR", "BT-21"), ("SQ", "BT-02"), ("TL", "BT-12"))
UNKNOWN = {
    # The amps of a pixel driver are not on its label.
    ("SQ", "channel-amps", "DC-51 port 1"),
    ("SQ", "bank-amps", "DC-51"),
    ("TL", "channel-amps", "DC-52 port 1"),
    ("TL", "channel-amps", "DC-52 port 2"),
    ("TL", "bank-amps", "DC-52"),
    # A show that is over left no word of its circuits.
    ("CO", "dimmed-circuit", "PS-01"),
    ("CO", "dimmed-circuit", "PS-02"),
    ("CO", "dimmed-circuit", "PS-03"),
    # A placeholder has no circuit, unit or address yet.
    ("TL", "dimmed-circuit", "any S320"),
    ("TL", "unit-state", "any S320"),
    ("TL", "unit-state", "any D4"),
    ("TL", "address-known", "any D4"),
    # The lot is known when a piece is cut.
    ("TL", "match-lot", "portholes"),
    ("TW", "match-lot", "slats"),
    ("TW", "match-lot", "horizon"),
    ("TL", "parallel-lots", "DC-12 channel 1"),
    ("TL", "parallel-lots", "DC-14 channel 1"),
    # No fuse and no connector was written down.
    *(
        (show, code, show)
        for show in ("CO", "FR", "SQ", "TL")
        for code in ("fuses-known", "connectors-known")
    ),
    ("SQ", "leaves-box", "PS-05 output 1"),
    ("SQ", "leaves-box", "PS-25 output 1"),
    # Only the robe has a running order, and what dark pixels draw is on no sheet.
    *((show, "battery-time", pack) for show, pack in PACKS),
    *((tag[:2], "pixel-idle", tag) for tag in ("SQ-24", "TL-22", "TL-23")),
}


def test_what_was_left_blank_reads_unknown_and_never_ok(found: list[Finding]) -> None:
    unknown = {(f.production, f.code, f.subject) for f in found if f.verdict is Verdict.UNKNOWN}
    addresses = {one for one in unknown if one[1] == "address-known" and not one[2].startswith("any")}

    assert unknown - addresses == UNKNOWN
    # Addresses were written for SQ, and in TL for three decoders.
    assert {production for production, _, _ in addresses} == {"CO", "FR", "TL"}
    assert not {"DC-12", "DC-14", "DC-52 port 1"} & {tag for show, _, tag in addresses if show == "TL"}


def test_a_show_without_a_plan_has_nothing_to_compare_and_work_to_do(found: list[Finding]) -> None:
    """TW stands far off: its elements wait for feeds, and no limit of a feed is said to be kept."""
    tidewrack = [f for f in found if f.production == "TW"]
    waits = {f.subject for f in tidewrack if f.code == "no-feed" and f.verdict is Verdict.WATCH}

    assert len(waits) == 12
    assert not {f.code for f in tidewrack} & {"supply-watts", "output-amps", "channel-amps", "voltage-class"}


def test_watts_and_amps_of_every_element_agree_with_a_second_sum(season: Store) -> None:
    second = worked_elements(read_sheets(seed_demo.folder()))
    with season.reading() as session:
        first = {e.tag: e for show in season_facts(session, seed_demo.AS_OF) for e in show.elements}

    assert len(first) == 85
    assert {tag: e.load_w for tag, e in first.items()} == pytest.approx(
        {tag: float(e.watts) for tag, e in second.items()}, rel=1e-9
    )
    amps = {tag: e.load_w / e.tape.class_v for tag, e in first.items() if e.tape and e.load_w}
    assert amps == pytest.approx({tag: float(e.amps) for tag, e in second.items()}, rel=1e-9)


def test_the_worked_figures_of_every_element_hold_to_their_last_decimal() -> None:
    """expected.csv was worked apart from everything else; the second sum must agree with it too."""
    second = worked_elements(read_sheets(seed_demo.folder()))
    with EXPECTED.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))

    assert len(rows) == 85
    for row in rows:
        element = second[row["Element"]]
        worked = (element.watts, element.amps, element.drop.lead_pct, element.drop.total_pct)
        written = [float(row[name]) for name in ("W", "A", "Lead %", "Drop %")]
        assert [float(x) for x in worked] == pytest.approx(written, abs=HAND), row["Element"]


def test_the_drop_of_every_run_agrees_with_a_second_sum(found: list[Finding]) -> None:
    second = worked_elements(read_sheets(seed_demo.folder()))
    leads = {f.subject: f.value for f in found if f.code == "lead-drop"}
    totals = {f.subject: f.value for f in found if f.code == "total-drop"}
    runs = {f"{tag}/{n}": e.drop for tag, e in second.items() for n in range(1, len(e.runs_m) + 1)}

    assert leads == pytest.approx({run: float(drop.lead_pct) for run, drop in runs.items()}, rel=1e-9)
    assert totals == pytest.approx({run: float(drop.total_pct) for run, drop in runs.items()}, rel=1e-9)


def test_the_shows_add_up() -> None:
    sums = watts_by_production(worked_elements(read_sheets(seed_demo.folder())))

    assert {code: float(w) for code, w in sums.items()} == pytest.approx(
        {"CO": 435.84, "FR": 533.76, "SQ": 1117.20, "TW": 548.16, "TL": 1449.12}
    )


def of_item(season: Store, item: str, day: date) -> tuple[float, float, float]:
    """(usable, wanted, short) of a model on a day, as known on the day of the demonstration."""
    with season.reading() as session:
        rows = REPORTS["stock-use"].rows(session, ReportAsk(day, today=seed_demo.AS_OF))
    [row] = [r.model_dump() for r in rows if r.model_dump()["item"] == item]
    return row["usable"], row["wanted"], row["short"]


@pytest.mark.parametrize(
    ("item", "day", "expected"),
    [
        # FR's five and SQ's eight, one of them faulty and one overdue.
        ("D4", date(2026, 11, 25), (12, 13, 1)),
        # SQ's eight and TL's eleven, the placeholder among them; what FR has is back by then.
        ("D4", date(2027, 1, 10), (12, 19, 7)),
        ("S320", date(2027, 1, 10), (5, 8, 3)),
        ("D4", date(2027, 1, 20), (12, 11, 0)),
        ("DW4", date(2027, 1, 20), (4, 6, 2)),
        ("B24-6", date(2027, 1, 20), (3, 4, 1)),
    ],
)
def test_a_day_to_come_counts_what_is_due_back_before_it(
    season: Store, item: str, day: date, expected: tuple[float, float, float]
) -> None:
    assert of_item(season, item, day) == expected
