"""Who does it in these tests, and a change as a caller of the API would put it."""

from datetime import date
from typing import Any

from sqlalchemy.orm import Session

from service.kinds import actions
from service.kinds.actions import Hand
from service.kinds.bodies import change_body, said
from service.kinds.kind import Kind
from service.store.listing import Row

HAND = Hand("crew", date(2026, 11, 25))


def changed(session: Session, kind: Kind, key: str | int, **values: Any) -> Row:
    """The thing as it is answered after the change."""
    body = change_body(kind).model_validate(values)
    return actions.change(session, kind, key, said(kind, body), None, HAND)[0]
