"""What was read waits here until somebody says what to do with it; nothing of it is stored yet."""

import secrets
import threading
from collections import OrderedDict
from dataclasses import dataclass, field
from datetime import datetime

from service.errors import NotFound
from service.paper.bring_in import Brought
from service.paper.fitting.tables import Table

MOST_HELD = 24


@dataclass(frozen=True, slots=True)
class Batch:
    """Tables that were read from files, before anything of them is stored."""

    names: tuple[str, ...]
    tables: tuple[Table, ...]
    remarks: tuple[str, ...] = ()
    may_change: bool = False


@dataclass(frozen=True, slots=True)
class Done:
    """A batch that was stored: when, by whom, and what came in. `at` names it in the record of changes."""

    at: datetime
    by: str
    names: tuple[str, ...]
    brought: Brought
    token: str = ""
    is_undone: bool = False


@dataclass(slots=True)
class Held:
    """Batches by token; the oldest go first. Kept by this process alone: a restart forgets them."""

    batches: OrderedDict[str, Batch] = field(default_factory=OrderedDict)
    done: OrderedDict[str, Done] = field(default_factory=OrderedDict)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def keep(self, batch: Batch, token: str = "") -> str:
        token = token or secrets.token_urlsafe(12)
        with self.lock:
            self.batches[token] = batch
            while len(self.batches) > MOST_HELD:
                self.batches.popitem(last=False)
        return token

    def batch(self, token: str) -> Batch:
        with self.lock:
            found = self.batches.get(token)
        if found is None:
            raise NotFound("that sheet is no longer at hand", "Choose the file again.")
        return found

    def finish(self, token: str, done: Done) -> None:
        """The batch was stored, or taken back."""
        with self.lock:
            self.batches.pop(token, None)
            self.done[token] = done
            while len(self.done) > MOST_HELD:
                self.done.popitem(last=False)

    def finished(self, token: str) -> Done:
        with self.lock:
            found = self.done.get(token)
        if found is None:
            raise NotFound("that batch is no longer at hand", "Change or retire what should go one by one.")
        return found

    def lately(self) -> list[Done]:
        """What was stored lately, the newest first."""
        with self.lock:
            return list(self.done.values())[::-1]
