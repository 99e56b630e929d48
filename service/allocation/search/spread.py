"""Parts solved one after another or over processes: the same answers either way."""

import time
from collections.abc import Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from dataclasses import replace
from multiprocessing import get_context
from multiprocessing.synchronize import Event

from service.allocation.problem import Effort
from service.allocation.search.exact import Verdict
from service.allocation.search.kit import Kit
from service.allocation.search.part import quick_part, solve_part
from service.allocation.search.watch import LOOK_S, Watch, pace_of

# A larger show gives each part a smaller share of the effort, so that the whole stays quick.
LOADS_AT_FULL_EFFORT = 720


def solve_all(kits: Sequence[Kit], effort: Effort, watch: Watch) -> list[Verdict]:
    """A verdict for each kit; those not reached before the watch stopped get a quick plan."""
    loads = sum(sum(kit.counts) for kit in kits)
    effort = replace(effort, scale=effort.scale * min(1.0, LOADS_AT_FULL_EFFORT / max(1, loads)))
    verdicts: list[Verdict | None] = [None] * len(kits)
    order = sorted(range(len(kits)), key=lambda n: (-sum(kits[n].counts), n))
    several = effort.processes > 1 and len(kits) > 1
    results = _over_processes(kits, order, effort, watch) if several else _in_turn(kits, order, effort, watch)
    for number, verdict in results:
        verdicts[number] = verdict
        watch.tell(verdicts)
    return [one if one is not None else quick_part(kits[n]) for n, one in enumerate(verdicts)]


def _in_turn(
    kits: Sequence[Kit], order: Sequence[int], effort: Effort, watch: Watch
) -> Iterator[tuple[int, Verdict]]:
    for number in order:
        if watch.is_late():
            return
        yield number, solve_part(kits[number], effort.scale, effort.seed, pace_of(effort, watch).must_stop)


def _over_processes(
    kits: Sequence[Kit], order: Sequence[int], effort: Effort, watch: Watch
) -> Iterator[tuple[int, Verdict]]:
    context = get_context("spawn")
    stop = context.Event()
    deadline = None if effort.deadline_s is None else time.time() + effort.deadline_s
    with ProcessPoolExecutor(effort.processes, context, _begin, (stop, deadline)) as pool:
        jobs: dict[Future[Verdict], int] = {
            pool.submit(_work, kits[number], effort.scale, effort.seed): number for number in order
        }
        waiting = set(jobs)
        while waiting:
            done, waiting = wait(waiting, LOOK_S, FIRST_COMPLETED)
            for job in sorted(done, key=lambda one: jobs[one]):
                if not job.cancelled():
                    yield jobs[job], job.result()
            if watch.is_late():
                stop.set()
                for job in waiting:
                    job.cancel()


_stop: Event | None = None
_deadline: float | None = None


def _begin(stop: Event, deadline: float | None) -> None:
    """What a worker process remembers: when to give up."""
    global _stop, _deadline
    _stop, _deadline = stop, deadline


def _must_stop() -> bool:
    return (_stop is not None and _stop.is_set()) or (_deadline is not None and time.time() > _deadline)


def _work(kit: Kit, scale: float, seed: int) -> Verdict:
    if _must_stop():
        return quick_part(kit)
    return solve_part(kit, scale, seed, _must_stop)
