"""The allocator: from a problem to units, outputs and channels, with what is proven about the answer."""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from service.allocation.change.floor import packed_floor
from service.allocation.change.replan import replan, settle_together
from service.allocation.change.standing import within_need
from service.allocation.fresh import NORMAL, solve_fresh
from service.allocation.parts import Part, part_problem, split_parts
from service.allocation.problem import Answer, Effort, Problem
from service.allocation.search.watch import Progress, Watch, pace_of
from service.allocation.shortfall import dark_floor

__all__ = ["Progress", "solve"]


def solve(
    problem: Problem,
    effort: Effort = NORMAL,
    progress: Callable[[Progress], bool] | None = None,
) -> Answer:
    """Feeds the most by priority, moves the least, costs the least; equal problems get equal answers.

    `progress` is told after each part, and every half second of work; when it returns False the best
    answer so far comes back, marked `stopped_early`.
    """
    watch = Watch(progress, effort.deadline_s)
    whole = _without_strangers(problem)
    answer = _solve(within_need(whole) if whole.installed else whole, effort, watch)
    answer = replace(answer, unfed_bound_uw=dark_floor(whole, answer.unfed_uw, answer.unfed_bound_uw))
    if not answer.is_fed_proven:
        packed = packed_floor(whole, (one.run for one in answer.unfed), pace_of(effort, watch))
        answer = replace(
            answer, unfed_bound_uw=dark_floor(whole, answer.unfed_uw, _larger(answer.unfed_bound_uw, packed))
        )
    return replace(answer, stopped_early=answer.stopped_early or watch.stopped)


def _larger(first: Mapping[int, int], second: Mapping[int, int]) -> dict[int, int]:
    return {key: max(first.get(key, 0), second.get(key, 0)) for key in sorted({*first, *second})}


def _solve(problem: Problem, effort: Effort, watch: Watch) -> Answer:
    """What is built first, part by part, then what is new; all together where they want the same units."""
    parts = split_parts(problem)
    answers: list[Answer] = []
    taken: set[str] = set()
    for part in parts:
        if part.installed:
            answers.append(replan(part_problem(problem, part, taken), effort, watch))
            taken.update(answers[-1].sites)
    fresh = [part for part in parts if not part.installed]
    if fresh or not answers:
        answers.append(solve_fresh(_free(problem, fresh, taken), effort, watch))
    answer = merge(answers, watch.stopped)
    if len(parts) > 1 and len(fresh) < len(parts) and _many_take(problem, answers):
        return settle_together(problem, answer, effort, watch)
    return answer


def _many_take(problem: Problem, answers: Sequence[Answer]) -> bool:
    """More than one part wants something it has not, so that one may have taken what another needs more."""
    has = {tag for feed in problem.installed for tag in (feed.supply, feed.decoder)}
    wants = [answer for answer in answers if answer.unfed or answer.moved or set(answer.sites) - has]
    return len(wants) > 1


def _without_strangers(problem: Problem) -> Problem:
    """Feeds of runs that are no longer asked for are forgotten; the gear stays where it stands."""
    runs = {run.tag for block in problem.blocks for run in block.runs}
    return replace(problem, installed=tuple(feed for feed in problem.installed if feed.run in runs))


def _free(problem: Problem, parts: Sequence[Part], taken: set[str]) -> Problem:
    """The parts that nothing feeds yet, with the units that nothing uses yet."""
    busy = taken | {tag for feed in problem.installed for tag in (feed.supply, feed.decoder)}
    return replace(
        problem,
        blocks=tuple(block for part in parts for block in part.blocks),
        supplies=tuple(unit for unit in problem.supplies if unit.tag not in busy),
        decoders=tuple(unit for unit in problem.decoders if unit.tag not in busy),
        installed=(),
    )


def merge(answers: Sequence[Answer], stopped: bool = False) -> Answer:
    """Answers for separate parts as one."""
    left: Counter[int] = Counter()
    bound: Counter[int] = Counter()
    sites: dict[str, str] = {}
    for answer in answers:
        left.update(answer.unfed_uw)
        bound.update(answer.unfed_bound_uw)
        sites.update(answer.sites)
    return Answer(
        feeds=tuple(sorted(feed for answer in answers for feed in answer.feeds)),
        unfed=tuple(
            sorted((one for answer in answers for one in answer.unfed), key=lambda one: (one.block, one.run))
        ),
        moved=tuple(sorted(run for answer in answers for run in answer.moved)),
        refed=tuple(sorted(run for answer in answers for run in answer.refed)),
        split=tuple(sorted(tag for answer in answers for tag in answer.split)),
        sites=dict(sorted(sites.items())),
        unfed_uw=dict(sorted(left.items())),
        unfed_bound_uw=dict(sorted(bound.items())),
        cost=sum(answer.cost for answer in answers),
        bound=sum(answer.bound for answer in answers),
        proven=all(answer.proven for answer in answers),
        stopped_early=stopped or any(answer.stopped_early for answer in answers),
        parts=sum(answer.parts for answer in answers),
        work=sum(answer.work for answer in answers),
        notes=tuple(note for answer in answers for note in answer.notes),
    )
