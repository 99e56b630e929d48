"""What every stored record has: an id, a version, times, named constraints, and perhaps a tag."""

from datetime import date, datetime

from sqlalchemy import ForeignKey, MetaData, String
from sqlalchemy.orm import DeclarativeBase, Mapped, declared_attr, mapped_column

from service.store.types import UtcDateTime, utc_now

NAMES = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}


class Base(DeclarativeBase):
    """Root of all records."""

    metadata = MetaData(naming_convention=NAMES)


class Stored:
    """An id, and a version that grows by one with every change (guards against lost updates)."""

    id: Mapped[int] = mapped_column(primary_key=True, sort_order=-10)
    version: Mapped[int] = mapped_column(default=1, sort_order=90)
    created_at: Mapped[datetime] = mapped_column(UtcDateTime, default=utc_now, sort_order=91)
    changed_at: Mapped[datetime] = mapped_column(
        UtcDateTime, default=utc_now, onupdate=utc_now, sort_order=92
    )

    @declared_attr.directive
    def __mapper_args__(cls) -> dict[str, object]:
        return {"version_id_col": cls.__table__.c.version}  # type: ignore[attr-defined]


class TagEntry(Base):
    """Every tag ever printed, over all kinds; a tag is never used again, so rows are never removed, but for
    those of a batch that is taken back before anybody built on it."""

    __tablename__ = "tags"

    key: Mapped[str] = mapped_column(String(80), primary_key=True)  # upper case
    tag: Mapped[str] = mapped_column(String(80))  # as printed
    kind: Mapped[str] = mapped_column(String(24))


def tag_key(tag: str) -> str:
    """The form in which tags are compared: no outer blanks, upper case."""
    return tag.strip().upper()


def sound(text: str) -> str:
    """The text, if every letter of it can be printed: no bell, no escape, no end of a line. The one rule for
    all text that is kept, whichever door it comes through. Raises ValueError.

    >>> sound("fades after the fog cue")
    'fades after the fog cue'
    """
    if not text.isprintable():
        raise ValueError("text without control characters is expected")
    return text


def with_article(kind: str) -> str:
    """
    >>> with_article("element"), with_article("unit")
    ('an element', 'a unit')
    """
    return f"{'an' if kind[:1] in 'aeio' else 'a'} {kind}"


class Tagged(Stored):
    """A thing with a tag printed on it, unique over the whole house in any letter case."""

    KIND = ""

    tag: Mapped[str] = mapped_column(String(80), sort_order=-9)
    retired_on: Mapped[date | None] = mapped_column(sort_order=89)

    @declared_attr
    def tag_key(cls) -> Mapped[str]:
        return mapped_column(String(80), ForeignKey("tags.key"), unique=True, sort_order=-8)
