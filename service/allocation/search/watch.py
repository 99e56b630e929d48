"""How far the work is, and the wish to stop: heard between steps, and while a solver is at work."""

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from threading import Thread
from typing import Any, Protocol

from service.allocation.problem import Effort

# The listener is told at least so often while something long is worked on.
BEAT_S = 0.5
# So long may a solver work before anyone asks whether to stop.
LOOK_S = 0.2


class Settled(Protocol):
    """What is told of a part that is done."""

    @property
    def cost(self) -> int: ...
    @property
    def bound(self) -> int: ...
    @property
    def left_uw(self) -> dict[int, int]: ...


@dataclass(frozen=True, slots=True)
class Progress:
    """How far the work is: parts settled, and the figures of those so far."""

    parts_done: int
    parts: int
    cost: int
    bound: int
    unfed: int
    seconds: float


@dataclass(slots=True)
class Watch:
    """Tells the caller how far the work is and carries a wish to stop back to it."""

    listener: Callable[[Progress], bool] | None = None
    deadline_s: float | None = None
    began: float = field(default_factory=time.monotonic)
    stopped: bool = False
    last: Progress = Progress(0, 0, 0, 0, 0, 0.0)
    told_at: float = field(default_factory=time.monotonic)

    @property
    def is_deaf(self) -> bool:
        """Nobody listens and no time is set: the work is never ended early."""
        return self.listener is None and self.deadline_s is None

    def is_late(self) -> bool:
        """The watchdog has had enough, or the listener has, who hears of it now and then."""
        now = time.monotonic()
        if self.deadline_s is not None and now - self.began > self.deadline_s:
            self.stopped = True
        if not self.stopped and now - self.told_at > BEAT_S:
            self._say(self.last)
        return self.stopped

    def tell(self, done: Sequence[Settled | None]) -> None:
        """The listener hears where the work stands and may end it."""
        settled = [one for one in done if one is not None]
        told = Progress(
            parts_done=len(settled),
            parts=len(done),
            cost=sum(one.cost for one in settled),
            bound=sum(one.bound for one in settled),
            unfed=sum(1 for one in settled for left in one.left_uw.values() if left),
            seconds=0.0,
        )
        self._say(told)

    def _say(self, told: Progress) -> None:
        now = time.monotonic()
        self.told_at, self.last = now, replace(told, seconds=now - self.began)
        if self.listener is not None and not self.listener(self.last):
            self.stopped = True


def never() -> bool:
    """Nobody asks to stop."""
    return False


@dataclass(frozen=True, slots=True)
class Pace:
    """How hard to try, and who may end it."""

    effort: Effort
    must_stop: Callable[[], bool] = never

    def passed_on(self) -> Watch:
        """A watch for work inside this work: its parts are told to nobody, and it ends when this one does."""
        return Watch() if self.must_stop is never else Watch(lambda _: not self.must_stop())


def pace_of(effort: Effort, watch: Watch | None) -> Pace:
    """The pace that a watch sets; one that nobody listens to costs nothing."""
    watch = watch or Watch(deadline_s=effort.deadline_s)
    return Pace(effort, never if watch.is_deaf else watch.is_late)


def solve_watched(solver: Any, model: Any, must_stop: Callable[[], bool] = never) -> Any:
    """The solver's status; its best answer so far when it is asked to stop.

    It works in a thread of its own, because a solver says nothing until it has found something better.
    """
    if must_stop is never:
        return solver.solve(model)
    told: list[Any] = []
    failed: list[Exception] = []

    def work() -> None:
        try:
            told.append(solver.solve(model))
        except Exception as error:
            failed.append(error)

    thread = Thread(target=work, daemon=True)
    thread.start()
    try:
        while thread.is_alive():
            thread.join(LOOK_S)
            if thread.is_alive() and must_stop():
                solver.stop_search()
    finally:
        while thread.is_alive():
            solver.stop_search()
            thread.join(LOOK_S)
    if failed:
        raise failed[0]
    return told[0]
