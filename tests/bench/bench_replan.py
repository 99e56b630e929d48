"""How little changes, and how fast, when supplies die: `python -m tests.bench.bench_replan`.

A whole show is built from a first plan; five supplies die (and ten elements come), with a spare of
its kind for each dead supply or with none at all. Ten seeds each.
"changed" counts installed runs whose own gear was there and that were moved or dropped; "afresh" is what
a plan from scratch would have changed of them.
"""

from dataclasses import replace
from random import Random
from time import perf_counter

from service.allocation.model import solve
from service.allocation.problem import Answer, Effort, Problem
from service.allocation.verify import faults
from tests.allocation.problems import a_block, installed_as, with_spares, without_units
from tests.allocation.shows import a_show

SEEDS = range(1, 11)
FIRST_PLAN = Effort(deadline_s=0.0)


def the_day_after(elements: int, seed: int, newcomers: int, spares: bool) -> tuple[Problem, Answer]:
    problem = a_show(seed, elements, stock=12.0)
    before = solve(problem, FIRST_PLAN)
    built = installed_as(before, problem)
    draw = Random(seed)
    places = sorted({site for block in problem.blocks for site in block.sites if site.startswith("place")})
    new = tuple(a_block(f"NEW{n}", 6, 6, 6, 6, sites=(draw.choice(places),)) for n in range(newcomers))
    dead = draw.sample(sorted({feed.supply for feed in before.feeds}), 5)
    after = without_units(replace(built, blocks=(*built.blocks, *new)), *dead)
    if spares:
        after = without_units(with_spares(replace(built, blocks=(*built.blocks, *new)), *dead), *dead)
    else:
        after = replace(after, supplies=tuple(unit for unit in after.supplies if unit.site))
    return after, before


def changed(problem: Problem, answer: Answer) -> int:
    there = {"", *(unit.tag for unit in problem.supplies), *(unit.tag for unit in problem.decoders)}
    feeds = {(f.run, f.supply, f.output, f.decoder, f.first_channel) for f in answer.feeds}
    alive = [was for was in problem.installed if was.supply in there and was.decoder in there]
    return sum((w.run, w.supply, w.output, w.decoder, w.first_channel) not in feeds for w in alive)


def main() -> None:
    heads = ("elements", "new", "spares", "changed", "afresh", "dark", "proven", "mean s", "worst s")
    print("".join(f"{head:>9}" for head in heads))
    for elements in (40, 200, 1000):
        for newcomers, spares in ((0, True), (10, True), (0, False)):
            seconds: list[float] = []
            total = afresh = dark = proven = 0
            for seed in SEEDS:
                problem, before = the_day_after(elements, seed, newcomers, spares)
                start = perf_counter()
                answer = solve(problem)
                seconds.append(perf_counter() - start)
                assert faults(problem, answer) == []
                total += changed(problem, answer)
                dark += len(answer.unfed) - len(before.unfed)
                proven += answer.proven
                # Nothing built, nothing standing: the same elements and gear as on an empty stage.
                scratch = replace(
                    problem,
                    installed=(),
                    supplies=tuple(replace(unit, site="") for unit in problem.supplies),
                    decoders=tuple(replace(unit, site="") for unit in problem.decoders),
                )
                afresh += changed(problem, solve(scratch, FIRST_PLAN))
            print(
                f"{elements:>9}{newcomers:>9}{'yes' if spares else 'no':>9}{total:>9}{afresh:>9}{dark:>9}"
                f"{proven:>6}/{len(SEEDS)}{sum(seconds) / len(seconds):>9.2f}{max(seconds):>9.2f}",
                flush=True,
            )


if __name__ == "__main__":
    main()
