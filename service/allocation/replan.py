"""Least change from what is installed."""

from dataclasses import replace

from service.allocation.fresh import NORMAL, solve_fresh
from service.allocation.problem import Answer, Effort, Feed, Problem


def replan(problem: Problem, effort: Effort = NORMAL) -> Answer:
    """Feeds that still stand stay; what is new or orphaned goes on units that nothing uses yet."""
    supplies = {unit.tag: unit for unit in problem.supplies}
    decoders = {unit.tag: unit for unit in problem.decoders}
    runs = {run.tag: (block, run) for block in problem.blocks for run in block.runs}
    kept = [
        feed
        for feed in problem.installed
        if feed.run in runs and feed.supply in supplies and (not feed.decoder or feed.decoder in decoders)
    ]
    standing = {feed.run for feed in kept}
    blocks = tuple(
        replace(block, runs=tuple(run for run in block.runs if run.tag not in standing))
        for block in problem.blocks
        if any(run.tag not in standing for run in block.runs)
    )
    answer = solve_fresh(replace(problem, blocks=blocks), effort)
    feeds = [
        Feed(f.run, f.supply, f.output, f.decoder, f.first_channel, runs[f.run][0].channels) for f in kept
    ]
    sites = dict(answer.sites)
    for feed in kept:
        first = (runs[feed.run][0].sites or ("",))[0]
        sites[feed.supply] = supplies[feed.supply].site or first
        if feed.decoder:
            sites[feed.decoder] = decoders[feed.decoder].site or first
    orphans = {feed.run for feed in problem.installed} - standing
    return replace(
        answer,
        feeds=tuple(sorted([*answer.feeds, *feeds])),
        refed=tuple(sorted(feed.run for feed in answer.feeds if feed.run in orphans)),
        sites=dict(sorted(sites.items())),
        proven=False,
    )
