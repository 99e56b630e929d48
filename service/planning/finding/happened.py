"""What happened to an element: what has it dark now, and what the crew noted."""

from datetime import timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.shows.faults import Fault
from service.shows.records import Element, ElementStatus
from service.shows.upkeep import Note
from service.store.base import tag_key
from service.store.types import utc_now

SAME_NOTE = timedelta(minutes=1)  # within which the same words again are no second note
UP = frozenset({ElementStatus.WORKING, ElementStatus.INSTALLED})


def open_fault(session: Session, tag: str) -> Fault | None:
    """The newest fault of an element that nobody has mended."""
    return session.scalars(
        select(Fault)
        .join(Element, Element.id == Fault.element_id)
        .where(Element.tag_key == tag_key(tag), Fault.mended_on.is_(None))
        .order_by(Fault.id.desc())
        .limit(1)
    ).one_or_none()


def open_notes(session: Session, tag: str) -> list[Note]:
    """What was noted of the thing and is not done with, the newest first."""
    return list(
        session.scalars(
            select(Note)
            .where(Note.about_key == tag_key(tag), Note.done_on.is_(None))
            .order_by(Note.written_at.desc(), Note.id.desc())
        )
    )


def is_noted(session: Session, tag: str, text: str, by: str) -> bool:
    """Whether the same person noted the very same words of the element just now: a form that was sent twice.
    The element is held until the transaction ends, so that two at once do not both find nothing."""
    session.scalar(select(Element.id).where(Element.tag_key == tag_key(tag)).with_for_update())
    same = select(Note.id).where(
        Note.about_key == tag_key(tag),
        Note.text == text,
        Note.written_by == by,
        Note.done_on.is_(None),
        Note.written_at > utc_now() - SAME_NOTE,
    )
    return session.scalar(same.limit(1)) is not None


def is_up(session: Session, tag: str) -> bool:
    """Whether the book has the element on stage."""
    return status_of(session, tag) in UP


def status_of(session: Session, tag: str) -> ElementStatus | None:
    """How the book has the element; None: it has none of that tag."""
    return session.scalar(select(Element.status).where(Element.tag_key == tag_key(tag)))
