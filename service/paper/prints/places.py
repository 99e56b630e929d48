"""Places as people call them."""

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.stock.records import Place


def names_of_places(session: Session) -> dict[str, str]:
    """The names of those that have one, by tag."""
    return {tag: name for tag, name in session.execute(select(Place.tag, Place.name)) if name}
