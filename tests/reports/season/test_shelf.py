"""The shelf over the demonstration season: what its sheets own, what is out, which reels are in use."""

from datetime import date

import seed_demo
from service.planning.issuing.books import Hand
from service.planning.issuing.issuing import issue
from service.planning.issuing.returning import Back, bring_back
from service.reports import stock_use
from service.reports.report import ReportAsk
from service.reports.shelf.arriving import came_lately, delivery_of, to_come
from service.reports.shelf.counts import Count, counted
from service.reports.shelf.moving import came_back, overdue, shows_that_take, went_out
from service.reports.shelf.places import counting
from service.reports.shelf.reels import reels_on_shelf
from service.season.counting import taking
from service.season.receiving.actions import receive
from service.season.receiving.schemas import DeliveryAsk
from service.store.work import Store

TODAY = seed_demo.AS_OF


def counts(store: Store) -> dict[str, Count]:
    with store.reading() as session:
        return {count.item: count for count in counted(session, TODAY).counts}


def test_every_figure_of_today_is_that_of_the_stock_report(season: Store) -> None:
    with season.reading() as session:
        today = {row.item: row for row in stock_use.rows(session, ReportAsk(TODAY))}
        far = ReportAsk(TODAY, from_on=TODAY, to_on=date(2999, 12, 31))
        least = {row.item: row for row in stock_use.rows(session, far)}
    found = counts(season)
    assert found.keys() == today.keys()
    for item, count in found.items():
        row, worst = today[item], least[item]
        assert (count.kind, count.unit, count.owned, count.free) == (row.kind, row.unit, row.owned, row.free)
        assert count.due_in == row.incoming, item
        assert (count.least.on, count.least.free) == (worst.least_on, worst.free), item
        assert (count.least.short, count.least.clears_on) == (worst.short, worst.clears_on), item
        assert sorted(who for who, _ in count.least.wanted_by) == worst.wanted_by, item
        if count.kind != "tape":
            assert sum(n for _, n in count.out) >= row.out, item
            assert count.short == row.short, item


def test_a_model_says_what_it_is_and_with_whom_it_is(season: Store) -> None:
    """The sheets: six S320 of 24 V and 320 W; FR has PS-04, CO never gave PS-02 back, SQ has the others."""
    s320 = counts(season)["S320"]
    assert (s320.owned, s320.overdue, s320.plural) == (6, 1, "supply-models")
    assert dict(s320.out) == {"CO": 1, "FR": 1, "SQ": 4}
    assert (s320.made.figures, s320.made.channels) == (((24.0, "V"), (320.0, "W")), 0)


def test_tape_is_in_metres_and_out_with_nobody(season: Store) -> None:
    rgbw = counts(season)["RGBW24"]
    assert (rgbw.unit, rgbw.owned, rgbw.out, rgbw.due_in) == ("m", 31.5, (), 10.0)


def test_reels_in_use_come_first_and_the_shortest_of_them_before(season: Store) -> None:
    with season.reading() as session:
        tapes = {tape.tape: tape for tape in reels_on_shelf(session)}
    nw24 = tapes["NW24"]
    lengths = [reel.left_m for reel in nw24.first]
    assert lengths == sorted(lengths)
    assert {reel.state for reel in nw24.first} <= {"open", "offcut"}
    r118 = next(reel for reel in nw24.first if reel.tag == "R-118")
    assert (r118.lot, r118.left_m, r118.place) == ("N-26A", 0.9, "A1")
    assert "R-123" in {reel.tag for reel in nw24.others}, "sealed"
    every = {reel.tag for tape in tapes.values() for reel in (*tape.first, *tape.others)}
    assert "R-181" not in every, "scrap"
    assert "R-114" not in every, "used up"
    assert sum(tape.left_m for tape in tapes.values() if tape.tape == "RGBW24") == 31.5


def test_what_is_to_come_is_told_until_it_came(changing_season: Store) -> None:
    with changing_season.reading() as session:
        (line,) = to_come(session)
    assert (line.order, line.line, line.what, line.to_come, line.reel_m) == ("PO-2611-1", 1, "RGBW24", 2, 5.0)
    assert line.due_on == date(2026, 12, 18)
    ask = DeliveryAsk(number="DN-1", order="PO-2611-1", line=1, quantity=1)
    changing_season.write(lambda s: receive(s, ask, "store", TODAY), "store")
    with changing_season.reading() as session:
        assert [(one.ordered, one.to_come) for one in to_come(session)] == [(2, 1)]
        (row,) = came_lately(session)
        assert delivery_of(session, row["id"])[0] == row
    assert (row["number"], row["what"], len(row["reels"])) == ("DN-1", "RGBW24", 1)


def test_a_place_says_how_much_lies_there_and_what_counts_it(changing_season: Store) -> None:
    with changing_season.reading() as session:
        before = counting(session, TODAY)
    b4 = next(place for place in before.places if place.tag == "B4")
    assert (b4.things, b4.stocktake, before.under_way) == (8, "", ()), "the bin of the eight S96"
    assert "B1" in {place.tag for place in before.bare}, "all S320 are out"
    hand = taking.Hand("night crew", TODAY)
    changing_season.write(lambda s: taking.begin(s, "B4", hand), "night crew")
    with changing_season.reading() as session:
        after = counting(session, TODAY)
    assert [(one.place, one.to_count) for one in after.under_way] == [("B4", 8)]
    assert {place.tag: place.stocktake for place in after.places}["B4"] == after.under_way[0].number


def test_gear_that_went_out_or_came_back_today_is_told_the_last_first(changing_season: Store) -> None:
    with changing_season.reading() as session:
        late = [(one.tag, one.production, one.days) for one in overdue(session, TODAY)]
        assert late == [("DC-03", "CO", 22), ("PS-02", "CO", 22)]
        # At work before what is to come; CO and FR closed.
        assert [code for code, _ in shows_that_take(session)] == ["SQ", "TW", "TL", "CO", "FR"]
    hand = Hand("night crew", TODAY)
    changing_season.write(lambda s: issue(s, "SQ", ["PS-01"], hand, TODAY), "night crew")
    changing_season.write(lambda s: bring_back(s, ["PS-02"], Back(), hand, TODAY), "night crew")
    with changing_season.reading() as session:
        (gone,) = went_out(session, "SQ", TODAY)
        (back,) = came_back(session, TODAY)
        assert went_out(session, "TL", TODAY) == []
        assert [one.tag for one in overdue(session, TODAY)] == ["DC-03"]
    assert (gone.tag, gone.model, gone.by, gone.due_on) == ("PS-01", "S320", "night crew", date(2027, 1, 19))
    assert (back.tag, back.production, back.by) == ("PS-02", "CO", "night crew")
