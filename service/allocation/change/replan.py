"""Least change from what is installed.

First everything that stands is held, and only what is new, or has lost its supply, is placed on what is
left and on free units. Only where that leaves something dark are installed rows asked to move, from
that complete answer on.
"""

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import replace

from service.allocation.change.channels import keep_channels
from service.allocation.change.grow import grow
from service.allocation.change.layout import Layout, best_of, moved_and_left
from service.allocation.change.quick import costs_of, quickly
from service.allocation.change.refit import Refit, refit
from service.allocation.change.room import Place, Row, Tenant
from service.allocation.change.standing import (
    MOST_MOVING,
    Standing,
    could_be_fed,
    feeds_of,
    sort_installed,
)
from service.allocation.fresh import NORMAL, solve_fresh
from service.allocation.problem import Answer, Effort, Feed, Problem, Unfed
from service.allocation.search.watch import Pace, Watch, pace_of
from service.allocation.why.reasons import reasons_left

# Above so many rows to place, what does not go on standing gear is allocated as if it were a new show.
MODEL_ROWS = 24
ROUNDS = 2


def replan(problem: Problem, effort: Effort = NORMAL, watch: Watch | None = None) -> Answer:
    """Feeds the most by priority, and moves, re-plugs and adds as little as that allows."""
    pace = pace_of(effort, watch)
    standing = sort_installed(problem)
    kept = [*standing.frozen, *standing.movable]
    layout = _place(problem, standing, kept, list(standing.wanting), pace)
    hopeful = could_be_fed(problem, standing, layout.dark)
    if hopeful and standing.movable:
        kept, layout = _make_room(problem, standing, kept, layout, hopeful, pace)
    elif not hopeful:
        layout.fed_proven = True
    return _answer(problem, standing, kept, layout)


def settle_together(
    problem: Problem, answer: Answer, effort: Effort = NORMAL, watch: Watch | None = None
) -> Answer:
    """Parts that want the same units are planned as one, if they are few; else the answer is not proven.

    Parts are planned one after another, so an earlier one may have taken the last unit of a kind that a
    later one needed more.
    """
    standing = sort_installed(problem)
    if not _contested(problem, standing, answer):
        return answer
    if len(standing.wanting) + len(standing.movable) > MOST_MOVING:
        return replace(answer, proven=False, bound=0, unfed_bound_uw={})
    if watch is not None and watch.is_late():
        return replace(answer, proven=False, bound=0, unfed_bound_uw={})
    together = replan(problem, effort, watch)
    return min((together, answer), key=lambda one: _aims(problem, one))


def _contested(problem: Problem, standing: Standing, answer: Answer) -> bool:
    """Something is dark that need not be, or no unit of some kind is left in the store."""
    dark = {one.run for one in answer.unfed}
    rows = [Tenant(Row(block, (run,))) for block in problem.blocks for run in block.runs if run.tag in dark]
    if could_be_fed(problem, standing, rows):
        return True
    used = {tag for feed in answer.feeds for tag in (feed.supply, feed.decoder)}
    store = [unit for unit in (*problem.supplies, *problem.decoders) if not unit.site]
    taken = {unit.model for unit in store if unit.tag in used}
    return bool(taken - {unit.model for unit in store if unit.tag not in used})


def _aims(problem: Problem, answer: Answer) -> tuple[tuple[int, ...], int, int]:
    """Smaller is better: watts dark by priority, runs moved or dropped, weight of new gear."""
    priorities = sorted({block.priority for block in problem.blocks})
    dark = {one.run for one in answer.unfed} - set(answer.refed)
    dropped = sum(1 for feed in problem.installed if feed.run in dark)
    changed = len(answer.moved) + dropped
    return tuple(answer.unfed_uw.get(p, 0) for p in priorities), changed, answer.cost


def _place(
    problem: Problem, standing: Standing, kept: Sequence[Tenant], tenants: list[Tenant], pace: Pace
) -> Layout:
    """The rows that want a place get one; what stands is held."""
    if not tenants:
        return Layout([], [], {}, proven=True, fed_proven=True)
    room = standing.room(problem, kept)
    costs = costs_of(room)
    quick = quickly(room, tenants, costs)
    spent = sum(costs[tag] for tag in quick.sites)
    whole = not quick.dark and moved_and_left(quick) == (0, 0)
    if whole and not spent:
        return replace(quick, proven=True, fed_proven=True)
    if whole:
        # Every row of a dead supply can keep its channels, so no plan that moves less takes them away.
        quick.tenants = [replace(tenant, pinned=tenant.orphan) for tenant in tenants]
    if sum(1 for tenant in quick.tenants if not tenant.pinned) > MODEL_ROWS:
        return _as_a_new_show(problem, standing, kept, tenants, pace)
    return best_of(quick, _refit(problem, standing, kept, quick, spent if whole else None, pace), costs)


def _refit(
    problem: Problem,
    standing: Standing,
    kept: Sequence[Tenant],
    start: Layout,
    most_cost: int | None,
    pace: Pace,
) -> Layout:
    room = standing.room(problem, kept)
    found: Refit = refit(room, start.tenants, costs_of(room), start.places, start.sites, most_cost, pace)
    return Layout(
        start.tenants, found.places, found.sites, found.proven, found.fed_proven, found.cost_bound, found.work
    )


def _as_a_new_show(
    problem: Problem, standing: Standing, kept: Sequence[Tenant], tenants: list[Tenant], pace: Pace
) -> Layout:
    """Many rows: what goes on standing gear first, the rest on free units as if nothing were installed."""
    room = standing.room(problem, kept)
    costs = costs_of(room)
    for tag in costs:
        room.withdraw(tag)
    layout = quickly(room, tenants, costs)
    rest = {run.tag for tenant in layout.dark for run in tenant.row.runs}
    blocks = tuple(
        replace(block, runs=tuple(run for run in block.runs if run.tag in rest))
        for block in problem.blocks
        if any(run.tag in rest for run in block.runs)
    )
    free = replace(
        problem,
        blocks=blocks,
        supplies=tuple(unit for unit in problem.supplies if unit.tag in costs),
        decoders=tuple(unit for unit in problem.decoders if unit.tag in costs),
        installed=(),
    )
    answer = solve_fresh(free, pace.effort, pace.passed_on())
    return _with_feeds(layout, answer)


def _with_feeds(layout: Layout, answer: Answer) -> Layout:
    """Rows that were dark, divided as the answer feeds them."""
    fed = {feed.run: feed for feed in answer.feeds}
    tenants: list[Tenant] = []
    places: list[Place | None] = []
    for tenant, place in zip(layout.tenants, layout.places, strict=True):
        if place is not None:
            tenants.append(tenant)
            places.append(place)
            continue
        groups: dict[Place | None, list[str]] = defaultdict(list)
        for run in tenant.row.runs:
            feed = fed.get(run.tag)
            at = Place(feed.supply, feed.output, feed.decoder, feed.first_channel) if feed else None
            groups[at].append(run.tag)
        for at, tags in groups.items():
            runs = tuple(run for run in tenant.row.runs if run.tag in tags)
            tenants.append(replace(tenant, row=Row(tenant.row.block, runs)))
            places.append(at)
    return Layout(tenants, places, {**layout.sites, **answer.sites}, work=float(answer.work))


def _make_room(
    problem: Problem,
    standing: Standing,
    kept: list[Tenant],
    layout: Layout,
    hopeful: Sequence[Tenant],
    pace: Pace,
) -> tuple[list[Tenant], Layout]:
    """Installed rows are asked to move, a few rounds of them where there are many."""
    costs = costs_of(standing.room(problem, standing.frozen))
    whole = len(standing.movable) + len(layout.tenants) <= MOST_MOVING
    for _ in range(1 if whole else ROUNDS):
        asked = list(standing.movable) if whole else _neighbours(problem, standing, kept, hopeful)
        if not asked or pace.must_stop():
            layout.proven = layout.fed_proven = False
            break
        stay = [tenant for tenant in kept if tenant not in asked]
        start = Layout(
            [*layout.tenants, *asked],
            [*layout.places, *(tenant.home for tenant in asked)],
            layout.sites,
        )
        if len(start.tenants) > 2 * MOST_MOVING:
            break
        found = best_of(start, _plug_again(problem, standing, stay, start, pace), costs)
        found = best_of(found, _refit(problem, standing, stay, found, None, pace), costs)
        kept, layout = stay, found
        layout.proven &= whole
        layout.fed_proven &= whole
        if not could_be_fed(problem, standing, layout.dark):
            break
    if layout.fed_proven or not could_be_fed(problem, standing, layout.dark):
        return kept, layout
    return _with_more_fed(problem, standing, kept, layout, pace)


def _with_more_fed(
    problem: Problem, standing: Standing, kept: list[Tenant], layout: Layout, pace: Pace
) -> tuple[list[Tenant], Layout]:
    """The same with every movable row in the layout, and more of them fed where that is found."""
    frozen = {id(tenant) for tenant in standing.frozen}
    homes = [tenant for tenant in kept if id(tenant) not in frozen]
    start = replace(
        layout,
        tenants=[*layout.tenants, *homes],
        places=[*layout.places, *(tenant.home for tenant in homes)],
    )
    return list(standing.frozen), grow(problem, standing, start, pace)


def _plug_again(
    problem: Problem, standing: Standing, stay: Sequence[Tenant], start: Layout, pace: Pace
) -> Layout:
    """What can be had by plugging whole decoders into other outputs: a small question, soon settled.

    The search over single rows starts from there, and so never takes a decoder apart that need not be.
    """
    tenants = [replace(tenant, pinned=_is_plugged(tenant)) for tenant in start.tenants]
    found = _refit(problem, standing, stay, replace(start, tenants=tenants), None, pace)
    return replace(found, tenants=start.tenants, proven=False, fed_proven=False, cost_bound=0)


def _is_plugged(tenant: Tenant) -> bool:
    """The row is on a decoder, which could be plugged elsewhere."""
    return tenant.home is not None and bool(tenant.home.decoder)


def _neighbours(
    problem: Problem, standing: Standing, kept: Sequence[Tenant], dark: Sequence[Tenant]
) -> list[Tenant]:
    """Rows on outputs the dark ones could use, the emptiest outputs first; each round asks others."""
    room = standing.room(problem, kept)
    wanted = {at for tenant in dark for at in tenant.row.sites}
    voltages = {tenant.row.block.class_mv for tenant in dark}
    on: dict[tuple[str, int], list[Tenant]] = defaultdict(list)
    for tenant in standing.movable:
        if tenant in kept and tenant.home is not None and tenant.row.block.class_mv in voltages:
            on[tenant.home.supply, tenant.home.output].append(tenant)
    useful = [key for key in on if room.racks[key[0]].site in wanted]
    ranked = sorted(useful, key=lambda key: (-room.racks[key[0]].left_uw(key[1]), key))
    asked: list[Tenant] = []
    for key in ranked:
        if asked and len(asked) + len(on[key]) > MOST_MOVING - len(dark) // 2:
            break
        asked += on[key]
    return asked


def _answer(problem: Problem, standing: Standing, kept: Sequence[Tenant], layout: Layout) -> Answer:
    banks = {model.tag: model.banks for model in problem.decoder_models}
    banks_of = {unit.tag: banks[unit.model] for unit in problem.decoders}
    pairs = [(tenant, tenant.home) for tenant in kept]
    pairs += zip(layout.tenants, layout.places, strict=True)
    pairs = keep_channels(pairs, banks_of)
    feeds: list[Feed] = []
    moved: list[str] = []
    for tenant, place in pairs:
        if place is None:
            continue
        feeds += feeds_of(tenant.row, place)
        if tenant.home is not None and not tenant.orphan and place != tenant.home:
            moved += [run.tag for run in tenant.row.runs]
    fed = {feed.run for feed in feeds}
    sites = _sites(problem, standing, layout, feeds)
    unfed = _unfed(problem, standing, layout, feeds, sites)
    dark: Counter[int] = Counter()
    runs = {run.tag: (block, run) for block in problem.blocks for run in block.runs}
    for one in unfed:
        dark[runs[one.run][0].priority] += runs[one.run][1].load_uw
    units = {unit.tag: unit.model for unit in (*problem.supplies, *problem.decoders)}
    weights = {model.tag: model.cost for model in problem.supply_models}
    weights |= {model.tag: model.cost for model in problem.decoder_models}
    cost = sum(weights[units[tag]] for tag in layout.sites if tag in sites)
    dark_uw = {priority: uw for priority, uw in sorted(dark.items()) if uw}
    return Answer(
        feeds=tuple(sorted(feeds)),
        unfed=unfed,
        moved=tuple(sorted(moved)),
        refed=tuple(sorted(standing.refed & fed)),
        split=_split(problem, feeds),
        sites=sites,
        unfed_uw=dark_uw,
        unfed_bound_uw=dark_uw if layout.fed_proven else {},
        cost=cost,
        bound=cost if layout.proven else min(layout.cost_bound, cost),
        proven=layout.proven,
        stopped_early=False,
        parts=1,
        work=round(layout.work),
    )


def _sites(problem: Problem, standing: Standing, layout: Layout, feeds: Sequence[Feed]) -> dict[str, str]:
    """Where each unit in use stands."""
    used = {tag for feed in feeds for tag in (feed.supply, feed.decoder) if tag}
    stand = {unit.tag: unit.site for unit in (*problem.supplies, *problem.decoders) if unit.site}
    where = {**stand, **standing.sites, **layout.sites}
    return {tag: where[tag] for tag in sorted(used) if tag in where}


def _split(problem: Problem, feeds: Sequence[Feed]) -> tuple[str, ...]:
    """Blocks on more than one row of channels."""
    block_of = {run.tag: block.tag for block in problem.blocks for run in block.runs}
    rows: dict[str, set[tuple[str, int]]] = defaultdict(set)
    for feed in feeds:
        if feed.decoder:
            rows[block_of[feed.run]].add((feed.decoder, feed.first_channel))
    return tuple(sorted(tag for tag, ways in rows.items() if len(ways) > 1))


def _unfed(
    problem: Problem,
    standing: Standing,
    layout: Layout,
    feeds: Sequence[Feed],
    sites: dict[str, str],
) -> tuple[Unfed, ...]:
    """Every dark run with the one limit that binds."""
    rows = [tenant.row for tenant in layout.dark] + [
        Row(block, (run,)) for block, runs in standing.never for run in runs
    ]
    reasons = reasons_left(problem, feeds, rows, sites) if rows else []
    dark = [
        reason.unfed(run, row.block) for row, reason in zip(rows, reasons, strict=True) for run in row.runs
    ]
    return tuple(sorted(dark, key=lambda one: (one.block, one.run)))
