"""What a show's page counts is what the report of the same name lists."""

from datetime import date, datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from seed_demo import AS_OF
from service.limits.findings import Verdict
from service.paper.prints.feeding import feeds
from service.paper.prints.table import Wanted
from service.planning.serving.asking import serving
from service.planning.swapping.offering import offered
from service.reports import loads, over_limit, stock_use
from service.reports.report import ReportAsk
from service.reports.shelf.counts import counted
from service.reports.standing.asking import standings
from service.reports.standing.faults import FEED
from service.reports.standing.loads import bars_of
from service.reports.standing.parts import STATES, State
from service.season.records import Production
from service.store.work import Store


def test_every_fault_of_a_show_is_counted_once_on_its_page_and_once_in_the_report(season: Store) -> None:
    with season.reading() as session:
        shows = session.scalars(select(Production)).all()
        told = standings(session, shows, AS_OF)
        rows = list(over_limit.rows(session, ReportAsk(as_of=AS_OF)))
    for code, standing in told.items():
        of_show = [
            row
            for row in rows
            if row.verdict == Verdict.OVER
            and row.code != FEED
            # What is overdue is listed once, with whom it is, and told to whoever waits for it too.
            and (
                row.production == code or (row.code == over_limit.OVERDUE and row.subject in waited_for(code))
            )
        ]
        assert standing.heading.faults == len(of_show), code
    assert sum(standing.heading.faults for standing in told.values()) > 20


def waited_for(code: str) -> set[str]:
    """Units that a show of the season wants and another has not brought back (demonstration sheets)."""
    return {"PS-02"} if code == "TL" else set()


def test_stock_use_and_the_shelf_say_the_same_of_every_model_and_tape(season: Store) -> None:
    with season.reading() as session:
        rows = {row.item: row for row in stock_use.rows(session, ReportAsk(as_of=AS_OF))}
        shelf = counted(session, AS_OF)
    for count in shelf.counts:
        row = rows[count.item]
        short_on = count.least.on if count.least.short else None
        assert (row.free, row.short) == (count.free, count.beyond if count.kind == "tape" else count.short)
        assert (row.season_short, row.season_short_on) == (count.least.short, short_on)
    tape = rows["RGBW24"]
    # 67.7 m wanted, 31.5 m on reels, 10 m due on 2026-12-18; the second show begins on 2027-01-04.
    assert (tape.free, tape.short, tape.season_short) == (0.0, 36.2, 26.2)
    assert tape.season_short_on == date(2027, 1, 4)


def test_a_finding_and_the_swap_say_the_same_of_a_pack_that_is_to_be_had(season: Store) -> None:
    """BT-03 came back from CO on 2026-10-27, after SQ began; TW was promised one such, none by tag."""
    promise = "1 B12-10 promised to TW from 2026-12-28"
    with season.reading() as session:
        rows = over_limit.rows(session, ReportAsk(as_of=AS_OF, production="SQ"))
        [pack] = [row for row in rows if (row.code, row.tag) == ("battery-time", "BT-11")]
        offer = offered(session, "BT-11", "SQ", AS_OF).of("BT-03")
    begins = f"use a B12-10 (none is free for all of the show; BT-03 is free from 2026-11-25; {promise}): "
    assert pack.mend.startswith(begins)
    assert offer is not None
    assert (offer.candidate.share, offer.candidate.promised) == ("free", [promise])


ORDER = (Verdict.OVER, Verdict.WATCH, Verdict.UNKNOWN, Verdict.OK)
OF_PAPER = {"over": State.OVER, "tight": State.TIGHT, "none": State.UNKNOWN, "": State.OK}


def worst(verdicts: list[str]) -> Verdict:
    return min(map(Verdict, verdicts), key=ORDER.index)


def judged(session: Session) -> dict[tuple[str, str], Verdict]:
    """The worst that over-limit lists of every supply and battery that carries something, by show and tag."""
    everything = ReportAsk(as_of=AS_OF, everything=True)
    found = list(over_limit.rows(session, everything))
    missing = {row.tag for row in found if row.code == over_limit.OVERDUE and row.verdict == Verdict.OVER}
    said: dict[tuple[str, str], list[str]] = {}
    for row in loads.rows(session, everything):
        key = row.production, row.supply
        said[key] = [f.verdict for f in found if (f.production, f.tag) == key]
        said[key] += [Verdict.OVER] if row.supply in missing else []
    return {key: worst(verdicts) for key, verdicts in said.items()}


def test_loads_judge_every_supply_and_battery_as_over_limit_does(season: Store) -> None:
    with season.reading() as session:
        rows = list(loads.rows(session, ReportAsk(as_of=AS_OF, everything=True)))
        verdicts = judged(session)
    told: dict[tuple[str, str], list[str]] = {}
    for row in rows:
        told.setdefault((row.production, row.supply), []).append(row.verdict)
        assert (row.verdict == "ok") == (row.message == ""), row.supply
    assert {key: worst(found) for key, found in told.items()} == verdicts
    binds = {row.supply: row.binds for row in rows if (row.production, row.verdict) == ("SQ", "over")}
    # Sheets of the season: watts; the heat of the plinth; minutes of a pack; a dimmed circuit.
    assert {**binds, "PS-01": "supply-watts"} == {
        "PS-01": "supply-watts", "PS-05": "box-heat", "BT-11": "battery-time", "PS-26": "dimmed-circuit",
    }  # fmt: skip


def test_a_show_s_page_a_supply_s_own_and_the_feed_sheet_judge_it_so_too(season: Store) -> None:
    with season.reading() as session:
        verdicts = judged(session)
        shows = session.scalars(select(Production)).all()
        told = standings(session, shows, AS_OF)
        bars = {(code, bar.supply): bar for code, standing in told.items() for bar in standing.bars}
        pages = {
            (one.show.production, one.supply.tag): bars_of(one.supply, one.around, one.findings)[0]
            for tag in {supply for _, supply in verdicts}
            for one in serving(session, tag, AS_OF)
        }
        papers = {
            (show.tag, block.tag): OF_PAPER[block.state]
            for show in shows
            for block in feeds.make(session, Wanted(AS_OF, AS_OF, no_end, show.tag)).blocks
            if block.tag
        }
    for key, bar in bars.items():
        assert bar.state in alike(verdicts[key]), key
        assert papers[key] in alike(verdicts[key]), key
    for code, standing in told.items():
        if not standing.heading.is_over:
            ways = [way for _, lines in standing.places for line in lines for way in line.ways]
            assert {way.supply for way in ways if way.is_supply_over} == {
                tag for (show, tag), verdict in verdicts.items() if (show, verdict) == (code, Verdict.OVER)
            }
    for key, bar in pages.items():
        assert bar.state in alike(verdicts[key]), key
    assert len(bars) > 30
    assert len(pages) > 20
    assert bars["SQ", "BT-11"].said.startswith("it dies at minute ")
    assert bars["TL", "PS-12"].said == "PS-12 output 2 is 0.32 A over"


def alike(verdict: Verdict) -> set[State]:
    """What is in order may be nearly full, which is a mark and no verdict."""
    return {State.OK, State.TIGHT} if verdict is Verdict.OK else {STATES[verdict]}


def no_end(_day: object) -> datetime | None:
    return None
