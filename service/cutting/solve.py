"""Which piece of one tape comes off which reel."""

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


def plan_cuts(problem: Problem, effort: Effort = DEFAULT) -> CutPlan:
    """The plan that meets the aims of `CutPlan` best, as far as the effort goes, and what is proven about it.

    Equal problems, told in any order, give equal plans, unless the deadline ended the work early.
    """
    clock = Clock(effort.scale, effort.deadline_s)
    told = problem.in_order()
    best = Search(told, clock).solve()
    notes: tuple[str, ...] = ()
    if _joints_may_help(told, best):
        search = Search(told, clock, with_joints=True)
        if search.is_too_large:
            notes = (TOO_MANY_JOINTS,)
            best = _bounded_by(best, search.floors())
        else:
            joined = search.solve(best.named)
            if joined.figures.before_joints < best.figures.before_joints:
                best = joined
            else:
                best = _bounded_by(best, joined.bounds)
    return _told(told, best, clock, notes)


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
