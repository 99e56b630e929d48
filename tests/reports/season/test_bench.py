"""The bench over the demonstration season: what is to be cut, which plans there are, a plan reel by reel."""

from typing import Any

import seed_demo
from service.planning.cutting.actions import (
    CutAsk,
    abandon_cut_plan,
    ask_for_cut_plan,
    keep_cut_plan,
    work_out_cuts,
)
from service.planning.cutting.doing import do_step
from service.reports.bench.plans import PAST, bench
from service.reports.bench.sheet import Sheet, sheet_of
from service.stock.ledger.reels import Entry
from service.store.work import Store

TODAY = seed_demo.AS_OF


def planned(store: Store, *codes: str) -> str:
    """The number of a draft for those shows."""
    ask = CutAsk(codes)
    plan = store.write(lambda s: ask_for_cut_plan(s, ask, "bench 1", TODAY), "bench 1")
    work_out_cuts(store, plan.id, TODAY)
    return str(plan.number)


def sheet(store: Store, number: str) -> Sheet:
    with store.reading() as session:
        return sheet_of(session, number)


def test_pieces_that_no_kept_plan_cuts_are_told_show_by_show(changing_season: Store) -> None:
    with changing_season.reading() as session:
        before = bench(session, TODAY)
    shows = {show.code: (show.pieces, show.unplanned) for show in before.shows}
    assert shows["TW"][0] == shows["TW"][1] > 0
    assert (before.cuts, before.reels, before.kept) == (0, 0, ())
    number = planned(changing_season, "TW")
    with changing_season.reading() as session:
        draft = bench(session, TODAY)
    assert [plan.number for plan in draft.drafts] == [number]
    assert draft.unplanned == before.unplanned
    changing_season.write(lambda s: keep_cut_plan(s, number, TODAY).id, "bench 1")
    with changing_season.reading() as session:
        kept = bench(session, TODAY)
    assert [(one.plan.number, one.left) for one in kept.kept] == [(number, kept.cuts)]
    assert kept.cuts >= shows["TW"][0], "a piece with a joint is cut in parts"
    assert {show.code: show.unplanned for show in kept.shows}["TW"] == 0


def test_a_sheet_goes_reel_by_reel_and_knows_what_stays(changing_season: Store) -> None:
    number = planned(changing_season, "TW")
    changing_season.write(lambda s: keep_cut_plan(s, number, TODAY).id, "bench 1")
    before = sheet(changing_season, number)
    for reel in before.reels:
        assert {step.reel for step in reel.steps} == {reel.reel}
        assert reel.keep_mm == round(reel.left_mm - sum(step.cut_mm for step in reel.steps), 3) >= 0
        assert reel.waiting[-1].mark_mm == round(reel.left_mm - reel.keep_mm, 3)
    assert before.undo is None
    assert before.next is not None
    reel, step = before.next
    assert reel.is_here
    entry = Entry("bench 1", TODAY)
    changing_season.write(lambda s: do_step(s, number, step.step, None, None, entry).position, "bench 1")
    after = sheet(changing_season, number)
    same = next(one for one in after.reels if one.reel == reel.reel)
    assert (same.left_mm, same.undo) == (reel.left_mm - step.cut_mm, step.step)
    assert after.undo is not None
    assert after.undo.step == step.step
    assert len(after.left) == len(before.left) - 1
    assert after.next is not None
    assert after.next[1].step != step.step


def test_of_plans_that_are_over_the_latest_are_told_and_all_of_them_where_asked(
    changing_season: Store,
) -> None:
    def given_up(session: Any) -> str:
        number = ask_for_cut_plan(session, CutAsk(["TW"]), "bench 1", TODAY).number
        return str(abandon_cut_plan(session, str(number)).number)

    numbers = [changing_season.write(given_up, "bench 1") for _ in range(PAST + 2)]
    with changing_season.reading() as session:
        latest, every = bench(session, TODAY), bench(session, TODAY, is_all=True)
    assert ([plan.number for plan in latest.past], latest.is_more) == (numbers[:1:-1], True)
    assert ([plan.number for plan in every.past], every.is_more) == (numbers[::-1], False)
    assert latest.drafts == ()
