"""Batches of sheets on record: what came in together, told and taken back by whichever process is asked,
before and after the service is started anew. Kept as long as answers to requests are: a week.
"""

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime
from hashlib import sha256

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import NotFound
from service.paper.bring_in import bring_in
from service.paper.files.raw import RawSheet
from service.paper.taking_back import take_back
from service.store.keys import Answer, Asked, RequestKey, once
from service.store.types import utc_now

PRINCIPAL = "bring-in"
FORM = "application/vnd.wattwright.batch+json"
MOST = 24


@dataclass(frozen=True, slots=True)
class Done:
    """A batch that was stored. `at` and `by` name it in the record of changes. `counts`: new rows by sheet;
    `changed`: columns that it changed. `left`: rows that were left out, which wait as the sheet `rest`."""

    token: str
    at: datetime
    by: str
    names: tuple[str, ...]
    counts: dict[str, int]
    changed: int
    left: int = 0
    rest: str = ""
    is_undone: bool = False

    @property
    def new(self) -> int:
        return sum(self.counts.values())

    @property
    def wrote(self) -> bool:
        """Whether there is anything to take back."""
        return bool(self.new or self.changed)


@dataclass(frozen=True, slots=True)
class Adding:
    """What is to be stored under a token, which may be asked for twice and is done once."""

    token: str
    names: tuple[str, ...]
    sheets: Sequence[RawSheet]
    may_change: bool
    left: int = 0
    rest: str = ""


def add(session: Session, adding: Adding, by: str, today: date) -> Done:
    """Store the sheets, all of them or none; asked again, what was done the first time. Raises BadSheets."""

    def action(inner: Session) -> Answer:
        brought = bring_in(inner, adding.sheets, by, today, adding.may_change)
        done = Done(
            adding.token, utc_now(), by, adding.names, brought.counts, len(brought.changes),
            adding.left, adding.rest,
        )  # fmt: skip
        return Answer(201, _body(done), FORM)

    print_of = sha256("\0".join(adding.names).encode()).hexdigest()
    return _done(once(session, Asked(PRINCIPAL, adding.token, print_of), action).body)


def done(session: Session, token: str) -> Done | None:
    """The batch of that token, if it was stored within the week."""
    row = session.get(RequestKey, (PRINCIPAL, token))
    return None if row is None or row.media_type != FORM else _done(row.body)


def lately(session: Session) -> list[Done]:
    """What was stored within the week, the newest first."""
    asked = (
        select(RequestKey.body)
        .where(RequestKey.principal == PRINCIPAL, RequestKey.media_type == FORM)
        .order_by(RequestKey.created_at.desc())
        .limit(MOST)
    )
    return [_done(body) for body in session.scalars(asked)]


def undo(session: Session, token: str) -> Done:
    """Take the batch back; once, however often it is asked. Raises NotFound, InUse."""
    row = session.get(RequestKey, (PRINCIPAL, token), with_for_update=True)
    if row is None or row.media_type != FORM:
        raise NotFound(
            "that batch is no longer at hand: it came in more than a week ago, or never",
            "Look at the things it may have brought, and change or retire what should go one by one.",
        )
    found = _done(row.body)
    if not found.is_undone:
        take_back(session, found.at, found.by)
        found = replace(found, is_undone=True)
        row.body = _body(found)
    return found


def _body(one: Done) -> bytes:
    return json.dumps(asdict(one) | {"at": one.at.isoformat()}).encode()


def _done(body: bytes) -> Done:
    said = json.loads(body)
    return Done(**said | {"at": datetime.fromisoformat(said["at"]), "names": tuple(said["names"])})
