"""Who does it in these tests, and what a caller of the API would make, change and take out."""

from datetime import date
from typing import Any

from sqlalchemy.orm import Session

from service.kinds import actions
from service.kinds.actions import Hand
from service.kinds.bodies import change_body, new_body, said
from service.kinds.kind import Kind
from service.store.listing import Row

HAND = Hand("crew", date(2026, 11, 25))


def changed(session: Session, kind: Kind, key: str | int, **values: Any) -> Row:
    """The thing as it is answered after the change."""
    body = change_body(kind).model_validate(values)
    return actions.change(session, kind, key, said(kind, body), None, HAND)[0]


def made(session: Session, kind: Kind, /, **values: Any) -> Row:
    """The new thing as it is answered."""
    return actions.make(session, kind, said(kind, new_body(kind).model_validate(values)), HAND)[0]


def retired(session: Session, kind: Kind, key: str | int) -> Row:
    """The thing as it was when it was taken out of use."""
    return actions.retire(session, kind, key, None, HAND)[0]
