"""Photos and documents of things. What is in them stands in a table of its own, so that lists stay light."""

from datetime import date

from sqlalchemy import CheckConstraint, ForeignKey, LargeBinary, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.store.base import Base, Stored


class Attachment(Stored, Base):
    """A file about the thing with a tag, of whatever kind. `media_type` is told by what is in it, never by
    its name; `sha256` in small hexadecimal digits (FIPS 180-4)."""

    __tablename__ = "attachments"
    __table_args__ = (
        UniqueConstraint("about_key", "sha256"),
        CheckConstraint("size_bytes > 0", name="size_positive"),
    )

    about_key: Mapped[str] = mapped_column(String(80), ForeignKey("tags.key"))
    file_name: Mapped[str] = mapped_column(String(200))
    media_type: Mapped[str] = mapped_column(String(80))
    size_bytes: Mapped[int]
    sha256: Mapped[str] = mapped_column(String(64))
    taken_on: Mapped[date | None]
    added_by: Mapped[str] = mapped_column(String(80), default="")
    caption: Mapped[str] = mapped_column(String(400), default="")


class AttachmentBody(Base):
    """The bytes themselves; never changed, and not put on record: a photo is no line of a history."""

    __tablename__ = "attachment_bodies"

    attachment_id: Mapped[int] = mapped_column(ForeignKey("attachments.id"), primary_key=True)
    body: Mapped[bytes] = mapped_column(LargeBinary, deferred=True)
