"""Answers already given to a request with an Idempotency-Key, kept so that a repeat changes nothing."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import LargeBinary, String, delete
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Mapped, Session, mapped_column

from service.errors import Busy, KeyReused
from service.store.base import Base
from service.store.types import UtcDateTime, utc_now

KEPT = timedelta(days=7)


class RequestKey(Base):
    """One key of one caller; `fingerprint` is of method, path and body."""

    __tablename__ = "request_keys"

    principal: Mapped[str] = mapped_column(String(80), primary_key=True)
    key: Mapped[str] = mapped_column(String(255), primary_key=True)
    fingerprint: Mapped[str] = mapped_column(String(64))
    status: Mapped[int]
    media_type: Mapped[str] = mapped_column(String(80))
    location: Mapped[str | None] = mapped_column(String(400))
    body: Mapped[bytes] = mapped_column(LargeBinary)
    created_at: Mapped[datetime] = mapped_column(UtcDateTime, default=utc_now, index=True)


@dataclass(frozen=True, slots=True)
class Answer:
    """What a request is answered with, kept whole so that it can be given again."""

    status: int
    body: bytes
    media_type: str = "application/json"
    location: str | None = None
    is_replayed: bool = False


@dataclass(frozen=True, slots=True)
class Asked:
    """A request that names itself: who, by which key, and what it asks."""

    principal: str
    key: str
    fingerprint: str


def once(session: Session, asked: Asked | None, action: Callable[[Session], Answer]) -> Answer:
    """The action's answer; a repeat of the same request gets the same answer and nothing is done twice.

    The key is written before the action, in its transaction: two at once cannot both get past it.
    """
    if asked is None:
        return action(session)
    known = session.get(RequestKey, (asked.principal, asked.key))
    if known is not None:
        if known.fingerprint != asked.fingerprint:
            raise KeyReused(
                "this Idempotency-Key came with another request before", "Take a new key for a new request."
            )
        return Answer(known.status, known.body, known.media_type, known.location, is_replayed=True)
    row = _claim(session, asked)
    answer = action(session)
    row.status, row.body = answer.status, answer.body
    row.media_type, row.location = answer.media_type, answer.location
    return answer


def _claim(session: Session, asked: Asked) -> RequestKey:
    session.execute(delete(RequestKey).where(RequestKey.created_at < utc_now() - KEPT))
    row = RequestKey(
        principal=asked.principal,
        key=asked.key,
        fingerprint=asked.fingerprint,
        status=0,
        media_type="",
        body=b"",
    )
    session.add(row)
    try:
        session.flush()
    except IntegrityError as error:
        # By now the other is through: run again, this finds its answer and gives that.
        raise Busy(
            "the same request is being answered at this moment", "Ask again in a moment with the same key."
        ) from error
    return row
