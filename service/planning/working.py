"""Plans are solved in processes of their own: the service goes on answering meanwhile."""

import logging
import multiprocessing
import threading
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from datetime import date

from sqlalchemy import select

from service.planning.actions import UNDER_WAY, work_out
from service.planning.records import Plan, PlanStatus
from service.store.types import utc_now
from service.store.work import Store

LOG = logging.getLogger("wattwright.planning")


def work_out_at(url: str, plan_id: int, today: date, processes: int) -> str:
    """`work_out` in a process of its own, with its own connection."""
    store = Store(url)
    try:
        return work_out(store, plan_id, today, processes).value
    finally:
        store.close()


class Workshop:
    """A pool of solver processes for one database. Plans left under way by a crash start again."""

    def __init__(self, store: Store, today: Callable[[], date], solvers: int = 1, processes: int = 1) -> None:
        self.store, self.today, self.processes = store, today, processes
        self._solvers = solvers
        self._lock = threading.Lock()
        self._is_closed = False
        self._pool: ProcessPoolExecutor | None = None

    def submit(self, plan_id: int) -> None:
        """Have a queued plan worked out when a solver is free."""
        with self._lock:
            if self._pool is None:
                self._pool = ProcessPoolExecutor(
                    self._solvers, mp_context=multiprocessing.get_context("spawn")
                )
            future = self._pool.submit(work_out_at, self.store.url, plan_id, self.today(), self.processes)
        future.add_done_callback(lambda done: self._ended(plan_id, done))

    def resume(self) -> int:
        """Take up again what was queued or at work when the service last stopped; how many."""
        with self.store.reading() as session:
            left = session.scalars(select(Plan.id).where(Plan.status.in_(UNDER_WAY)).order_by(Plan.id)).all()
        for plan_id in left:
            self.submit(plan_id)
        return len(left)

    def close(self) -> None:
        """Stop solving. What was under way stays so, and starts again with the service."""
        with self._lock:
            self._is_closed = True
            if self._pool is not None:
                self._pool.shutdown(wait=False, cancel_futures=True)
                for process in multiprocessing.active_children():
                    if process.name.startswith("SpawnProcess"):
                        process.terminate()
                self._pool = None

    def _ended(self, plan_id: int, done: "Future[str]") -> None:
        if self._is_closed or done.cancelled() or (error := done.exception()) is None:
            return
        LOG.error("plan %s was not worked out: %s", plan_id, error)
        if isinstance(error, BrokenProcessPool):
            with self._lock:
                self._pool = None  # the next plan gets a fresh pool
        self.store.write(lambda session: self._fail(session, plan_id, error), by="allocator")

    @staticmethod
    def _fail(session, plan_id: int, error: BaseException) -> None:  # type: ignore[no-untyped-def]
        plan = session.get_one(Plan, plan_id, with_for_update=True)
        if plan.status in UNDER_WAY:
            plan.status = PlanStatus.FAILED
            plan.error = (
                f"the solver ended without an answer ({type(error).__name__}); ask for the plan again"
            )
            plan.finished_at = utc_now()
