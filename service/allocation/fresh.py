"""Blocks that nothing feeds yet: placed on units that stand free and on units from the store."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

from service.allocation.canon import place_units
from service.allocation.change.room import Row
from service.allocation.loads import Load, Stage, load_of, stage_loads
from service.allocation.parts import part_problem, split_parts
from service.allocation.problem import Answer, Effort, Feed, Problem, Unfed
from service.allocation.search.even import even_out
from service.allocation.search.exact import Verdict
from service.allocation.search.kit import Kit, StockKey, Store, build_kit
from service.allocation.search.part import quick_part
from service.allocation.search.plan import usage
from service.allocation.search.spread import solve_all
from service.allocation.search.stock import share_stock
from service.allocation.search.watch import Watch, pace_of
from service.allocation.why.reasons import reasons_left

NORMAL = Effort()
TIME_ALONE = 0.3  # of the deadline, where parts must share what is scarce


def solve_fresh(problem: Problem, effort: Effort = NORMAL, watch: Watch | None = None) -> Answer:
    """An answer for blocks none of whose runs is installed; units named by `installed` are let alone."""
    watch = watch or Watch(deadline_s=effort.deadline_s)
    busy = {tag for feed in problem.installed for tag in (feed.supply, feed.decoder)}
    store = Store(problem, busy)
    stages = [stage_loads(part_problem(problem, part)) for part in split_parts(problem)]
    kits = [build_kit(stage.loads, store) for stage in stages]
    alone = _time_alone(kits, store, watch)
    verdicts = solve_all(kits, replace(effort, deadline_s=alone.deadline_s), alone)
    if _must_share(kits, verdicts, store):
        loads = [load for stage in stages for load in stage.loads]
        kits, verdicts = share_stock(kits, verdicts, loads, store, pace_of(effort, watch))
    placed_feeds: list[Feed] = []
    sites: dict[str, str] = {}
    left: list[Load] = []
    for kit, verdict in zip(kits, verdicts, strict=True):
        placed = place_units(kit, even_out(kit, verdict.plan), store)
        placed_feeds.extend(placed.feeds)
        sites.update(placed.sites)
        left.extend(placed.left)
    feeds = tuple(sorted(placed_feeds))
    unfed = _unfed(problem, stages, feeds, left, sites)
    return _answer(stages, verdicts, feeds, unfed, sites, watch.stopped or alone.stopped)


def _time_alone(kits: Sequence[Kit], store: Store, watch: Watch) -> Watch:
    """The watch over the parts one by one: where the store is too small they get less of the time."""
    if watch.deadline_s is None or not _must_share(kits, [quick_part(kit) for kit in kits], store):
        return watch
    return replace(watch, deadline_s=watch.deadline_s * TIME_ALONE)


def _must_share(kits: Sequence[Kit], verdicts: Sequence[Verdict], store: Store) -> bool:
    """Some part is short, or the parts together take more units than there are."""
    if any(left for verdict in verdicts for left in verdict.left_uw.values()):
        return True
    total: Counter[StockKey] = Counter()
    for kit, verdict in zip(kits, verdicts, strict=True):
        for row, count in usage(kit, verdict.plan).items():
            total[kit.stock_keys[row]] += count
    return any(count > store.left(key) for key, count in total.items())


def _unfed(
    problem: Problem,
    stages: Sequence[Stage],
    feeds: tuple[Feed, ...],
    left: Sequence[Load],
    sites: Mapping[str, str],
) -> tuple[Unfed, ...]:
    """Every dark run with the one limit that binds; a run that nothing could feed is told by itself."""
    blocks = {block.tag: block for block in problem.blocks}
    rows = [Row(block, (run,)) for stage in stages for block, runs in stage.never for run in runs]
    for load in left:
        block = blocks[load.block]
        rows.append(Row(block, tuple(run for run in block.runs if run.tag in load.runs)))
    reasons = reasons_left(problem, feeds, rows, sites) if rows else []
    dark = [
        reason.unfed(run, row.block) for row, reason in zip(rows, reasons, strict=True) for run in row.runs
    ]
    return tuple(sorted(dark, key=lambda one: (one.block, one.run)))


def _answer(
    stages: Sequence[Stage],
    verdicts: Sequence[Verdict],
    feeds: tuple[Feed, ...],
    unfed: tuple[Unfed, ...],
    sites: dict[str, str],
    stopped: bool,
) -> Answer:
    never_uw: Counter[int] = Counter()
    for stage in stages:
        for block, runs in stage.never:
            never_uw[block.priority] += load_of(runs)
    left_uw, bound_uw = Counter(never_uw), Counter(never_uw)
    for verdict in verdicts:
        left_uw.update(verdict.left_uw)
        bound_uw.update(verdict.left_bound_uw)
    return Answer(
        feeds=feeds,
        unfed=unfed,
        moved=(),
        refed=(),
        split=tuple(sorted(tag for stage in stages for tag in stage.split)),
        sites=dict(sorted(sites.items())),
        unfed_uw={priority: uw for priority, uw in sorted(left_uw.items()) if uw},
        unfed_bound_uw={priority: uw for priority, uw in sorted(bound_uw.items()) if uw},
        cost=sum(verdict.cost for verdict in verdicts),
        bound=sum(verdict.bound for verdict in verdicts),
        proven=all(verdict.proven for verdict in verdicts),
        stopped_early=stopped,
        parts=len(stages),
        work=round(sum(verdict.work for verdict in verdicts)),
    )
