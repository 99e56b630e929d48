"""Answers already given to a request with an Idempotency-Key, kept so that a repeat changes nothing."""

from datetime import datetime

from sqlalchemy import LargeBinary, String
from sqlalchemy.orm import Mapped, mapped_column

from service.store.base import Base
from service.store.types import UtcDateTime, utc_now


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
