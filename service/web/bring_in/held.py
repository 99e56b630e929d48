"""What was read waits here until somebody says what to do with it; nothing of it is stored yet."""

import secrets
import threading
from collections import OrderedDict
from dataclasses import dataclass, field

from service.errors import NotFound
from service.paper.fitting.looking import Looked
from service.paper.fitting.tables import Table
from service.reports.standing.remembering import Stamp
from service.web.frame.pages import Reader

MOST_HELD = 24


@dataclass(frozen=True, slots=True)
class Batch:
    """Tables that were read from files, before anything of them is stored."""

    names: tuple[str, ...]
    tables: tuple[Table, ...]
    remarks: tuple[str, ...] = ()
    may_change: bool = False


@dataclass(frozen=True, slots=True)
class Seen:
    """What looking at a batch found, and the state of the record it was looked at in."""

    batch: Batch
    stamp: Stamp
    looked: Looked


@dataclass(slots=True)
class Held:
    """Batches by token; the oldest go first. Kept by this process alone: one started anew has none, and as
    nothing of them was stored, choosing the file again loses nothing."""

    batches: OrderedDict[str, Batch] = field(default_factory=OrderedDict)
    seen: dict[str, Seen] = field(default_factory=dict)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def keep(self, batch: Batch, token: str = "") -> str:
        token = token or secrets.token_urlsafe(12)
        with self.lock:
            self.batches[token] = batch
            self.seen.pop(token, None)
            while len(self.batches) > MOST_HELD:
                gone, _ = self.batches.popitem(last=False)
                self.seen.pop(gone, None)
        return token

    def batch(self, token: str, reader: Reader) -> Batch:
        """Raises NotFound for what was put aside for newer ones, or waited in a process that is no more."""
        with self.lock:
            found = self.batches.get(token)
        if found is None:
            raise reader.refuse(NotFound, "refused-no-batch")
        return found

    def recalled(self, token: str, batch: Batch, stamp: Stamp) -> Looked | None:
        """What was found before, if neither the batch nor anything on record is another since."""
        with self.lock:
            seen = self.seen.get(token)
        return seen.looked if seen is not None and seen.batch is batch and seen.stamp == stamp else None

    def recall_later(self, token: str, seen: Seen) -> None:
        with self.lock:
            if token in self.batches:
                self.seen[token] = seen

    def drop(self, token: str) -> None:
        """The batch was stored."""
        with self.lock:
            self.batches.pop(token, None)
            self.seen.pop(token, None)
