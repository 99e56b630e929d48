"""Plans are solved in processes of their own: the service goes on answering meanwhile."""

import logging
import multiprocessing
import threading
from collections.abc import Callable
from concurrent.futures import CancelledError, Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from datetime import date
from typing import TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import Busy
from service.planning.actions import UNDER_WAY, work_out
from service.planning.cutting.actions import give_up, under_way, work_out_cuts
from service.planning.records import Plan, PlanStatus
from service.store.types import utc_now
from service.store.work import Store

LOG = logging.getLogger("wattwright.planning")
LONGEST_WAIT_S = 60.0
T = TypeVar("T")


def work_out_at(url: str, plan_id: int, today: date, processes: int) -> str:
    """`work_out` in a process of its own, with its own connection."""
    store = Store(url)
    try:
        return work_out(store, plan_id, today, processes).value
    finally:
        store.close()


def work_out_cuts_at(url: str, plan_id: int, today: date) -> str:
    """`work_out_cuts` in a process of its own, with its own connection."""
    store = Store(url)
    try:
        return work_out_cuts(store, plan_id, today).value
    finally:
        store.close()


class Workshop:
    """A pool of solver processes for one database, for feeds and for cuts. Plans left under way by a crash
    start again."""

    def __init__(self, store: Store, today: Callable[[], date], solvers: int = 1, processes: int = 1) -> None:
        self.store, self.today, self.processes = store, today, processes
        self._solvers = solvers
        self._lock = threading.Lock()
        self._is_closed = False
        self._pool: ProcessPoolExecutor | None = None

    def submit(self, plan_id: int) -> None:
        """Have a queued plan worked out when a solver is free."""
        future = self._send(work_out_at, self.store.url, plan_id, self.today(), self.processes)
        future.add_done_callback(lambda done: self._ended(done, f"plan {plan_id}", self._fail, plan_id))

    def submit_cuts(self, plan_id: int) -> None:
        """The same for a cut plan that was asked for."""
        future = self._send(work_out_cuts_at, self.store.url, plan_id, self.today())
        future.add_done_callback(
            lambda done: self._ended(done, f"cut plan {plan_id}", self._fail_cuts, plan_id)
        )

    def solved(self, job: Callable[..., T], *given: object) -> T:
        """What the job answers in a solver's process, once one is free. Raises Busy if it takes too long."""
        waiting = self._send(job, *given)
        try:
            return waiting.result(LONGEST_WAIT_S)
        except (TimeoutError, CancelledError) as late:
            waiting.cancel()
            raise Busy("the solvers are taken by plans", "Ask again in a minute.") from late
        except BrokenProcessPool as broken:
            raise Busy("the solver ended without an answer", "Ask again.") from broken

    def _send(self, job: Callable[..., T], *given: object) -> "Future[T]":
        with self._lock:
            try:
                return self._open_pool().submit(job, *given)
            except BrokenProcessPool:  # by what it was given before, or while it had nothing to do
                self._pool = None
                return self._open_pool().submit(job, *given)

    def _open_pool(self) -> ProcessPoolExecutor:
        if self._pool is None:
            context = multiprocessing.get_context("spawn")
            self._pool = ProcessPoolExecutor(self._solvers, mp_context=context)
        return self._pool

    def resume(self) -> int:
        """Take up again what was queued or at work when the service last stopped; how many."""
        with self.store.reading() as session:
            left = session.scalars(select(Plan.id).where(Plan.status.in_(UNDER_WAY)).order_by(Plan.id)).all()
            cuts = under_way(session)
        for plan_id in left:
            self.submit(plan_id)
        for plan_id in cuts:
            self.submit_cuts(plan_id)
        return len(left) + len(cuts)

    def close(self) -> None:
        """Stop solving. What was under way stays so, and starts again with the service."""
        with self._lock:
            self._is_closed = True
            if self._pool is not None:
                own = list((self._pool._processes or {}).values())  # `shutdown` forgets them
                self._pool.shutdown(wait=False, cancel_futures=True)
                for process in own:
                    process.terminate()
                self._pool = None

    def _ended(
        self, done: "Future[str]", what: str, fail: Callable[[int, BaseException], None], plan_id: int
    ) -> None:
        if self._is_closed or done.cancelled() or (error := done.exception()) is None:
            return
        LOG.error("%s was not worked out: %s", what, error)
        fail(plan_id, error)

    def _fail(self, plan_id: int, error: BaseException) -> None:
        def action(session: Session) -> None:
            plan = session.get_one(Plan, plan_id, with_for_update=True)
            if plan.status in UNDER_WAY:
                plan.status = PlanStatus.FAILED
                plan.error = _why(error)
                plan.finished_at = utc_now()

        self.store.write(action, by="allocator")

    def _fail_cuts(self, plan_id: int, error: BaseException) -> None:
        give_up(self.store, plan_id, _why(error))


def _why(error: BaseException) -> str:
    return f"the solver ended without an answer ({type(error).__name__}); ask for the plan again"
