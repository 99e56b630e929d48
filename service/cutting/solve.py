"""Which piece of one tape comes off which reel."""

from collections import Counter
from dataclasses import replace

from service.cutting.board import lay_out
from service.cutting.layout import Clock
from service.cutting.lots import relaxed_task
from service.cutting.patterns.cheapest import sum_bound
from service.cutting.plan import Bounds, CutPlan, Effort
from service.cutting.problem import Problem
from service.cutting.search import Answer, Figures, Search, least_opened

DEFAULT = Effort()
TOO_MANY_JOINTS = "there are too many ways to join pieces; only whole pieces were planned"
FEW_LOTS_JOINED = "there are too many ways to join pieces; only the lots with the most tape were tried"


def plan_cuts(problem: Problem, effort: Effort = DEFAULT) -> CutPlan:
    """The plan that meets the aims of `CutPlan` best, as far as the effort goes, and what is proven about it.

    Equal problems, told in any order, give equal plans, unless the deadline ended the work early.
    """
    clock = Clock(effort.scale, effort.deadline_s)
    told = problem.in_order()
    best = Search(told, clock).solve()
    notes: tuple[str, ...] = ()
    if _joints_may_help(told, best):
        lots = _lots(told)
        searches = (Search(told, clock, lots[:count]) for count in range(len(lots), -1, -1))
        search = next((each for each in searches if not each.is_too_large), None)
        if search is None:
            best, notes = _bounded_by(best, Search(told, clock, ()).floors()), (TOO_MANY_JOINTS,)
        else:
            is_all = search.joins_from(lots)
            best = _better(best, search, is_all)
            notes = () if is_all else (FEW_LOTS_JOINED,)
    return _told(told, best, clock, notes)


def _lots(problem: Problem) -> list[str]:
    """Lots on the shelf, those with the most tape first."""
    total: Counter[str] = Counter()
    for reel in problem.stock:
        if reel.lot is not None:
            total[reel.lot] += reel.pitches
    return sorted(total, key=lambda lot: (-total[lot], lot))


def _better(best: Answer, search: Search, is_all: bool) -> Answer:
    """The joined answer where it saves something; with some lots not tried, only lengths are a bound."""
    joined = search.solve(best.named)
    bounds = joined.bounds if is_all else search.floors()
    if joined.figures.before_joints < best.figures.before_joints:
        return replace(joined, bounds=bounds)
    return _bounded_by(best, bounds)


def _bounded_by(best: Answer, joined: Figures) -> Answer:
    """What nothing goes below, joints allowed; joints and scrap are those of plans without a joint."""
    own = best.bounds
    bounds = Figures(joined.unmet, joined.price_cents, joined.opened, own.joints, own.scrap_pitches)
    return replace(best, bounds=bounds)


def _joints_may_help(problem: Problem, best: Answer) -> bool:
    """A piece or a reel could be saved, as far as lengths alone say."""
    if not problem.rules.most_joints or not any(piece.may_join for piece in problem.wanted):
        return False
    task = relaxed_task(lay_out(problem))
    return (
        bool(best.named.unmet)
        or sum_bound(task, 0) < best.figures.price_cents
        or least_opened(task, best.figures.price_cents) < best.figures.opened
    )


def _told(problem: Problem, best: Answer, clock: Clock, notes: tuple[str, ...]) -> CutPlan:
    figures, bounds = best.figures, best.bounds
    dearest = max((each.price_cents for each in problem.buyable), default=1)
    left = [reel.left_pitches for reel in best.named.reels if reel.is_kept]
    return CutPlan(
        reels=best.named.reels,
        unmet=tuple(sorted(best.named.unmet)),
        price_cents=figures.price_cents,
        new_reels=sum(reel.is_new for reel in best.named.reels),
        opened=figures.opened,
        joints=figures.joints,
        scrap_pitches=figures.scrap_pitches,
        longest_left=max(left, default=0),
        bounds=Bounds(
            sum(bounds.unmet),
            bounds.price_cents,
            -(-bounds.price_cents // dearest),
            bounds.opened,
            bounds.scrap_pitches,
        ),
        is_proven=figures == bounds,
        stopped_early=clock.stopped,
        work=clock.work,
        notes=notes,
    )
