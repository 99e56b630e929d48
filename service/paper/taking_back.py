"""An import taken back whole, as long as nobody has built on it."""

from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import InUse
from service.stock.records import Cut, Reel
from service.store.audit import AuditEntry
from service.store.lists.undoing import Undone, undo


def take_back(session: Session, at: datetime, by: str) -> Undone:
    """Undo what was brought in at that instant. Raises NotFound, InUse.

    Cuts from reels that were there before stay: the ledger of a reel is never rewritten, another row takes
    one back.
    """
    asked = select(AuditEntry).where(AuditEntry.at == at, AuditEntry.by == by, AuditEntry.what == "made")
    made = session.scalars(asked.where(AuditEntry.kind.in_((Cut.__tablename__, Reel.__tablename__)))).all()
    own = {entry.thing_id for entry in made if entry.kind == Reel.__tablename__}
    cuts = [entry for entry in made if entry.kind == Cut.__tablename__]
    if any((entry.after or {}).get("reel_id") not in own for entry in cuts):
        raise InUse(
            "it holds cuts from reels that were on the shelf before",
            "Bring each length back to its reel instead: a row of its ledger is never taken out.",
        )
    return undo(session, at, by)
