"""What to order or hire, and by when."""

from collections.abc import Sequence
from dataclasses import dataclass

from pydantic import BaseModel
from sqlalchemy.orm import Session

from service.planning.season.asking import find_code
from service.planning.season.ordering import OrderQuestion, read_orders
from service.planning.season.reels import suggested_orders
from service.planning.season.schemas import OrderOut
from service.reports.report import Report, ReportAsk

# A report is made while somebody waits: what is not proven by then is told as it stands.
SOLVE_S = 30.0


@dataclass(frozen=True, slots=True)
class Asked:
    """What the list answers, read from the store. `code`: only what this production wants; None: all."""

    question: OrderQuestion
    code: str | None


def asked(session: Session, ask: ReportAsk) -> Asked:
    """Raises NotFound for a production that is not there."""
    question = read_orders(session, ask.as_of, ask.known_on)
    return Asked(question, None if ask.production is None else find_code(question.season, ask.production))


def answered(ask: Asked) -> list[OrderOut]:
    """The rows, worked out; may be done in a process of its own, with no transaction open."""
    return [row for row in suggested_orders(ask.question, SOLVE_S) if ask.code in (None, *row.wanted_by)]


def rows(session: Session, ask: ReportAsk) -> list[OrderOut]:
    """Of one production: of what it wants. Raises NotFound."""
    return answered(asked(session, ask))


def _summary(_session: Session, _ask: ReportAsk, rows: Sequence[BaseModel]) -> dict[str, object]:
    orders = [row for row in rows if isinstance(row, OrderOut)]
    return {
        "rows": len(orders),
        "cost_known": round(sum(row.cost or 0.0 for row in orders), 2),
        "cost_not_known_of": sum(row.cost is None and row.quantity > 0 for row in orders),
        "late": sum(bool(row.late_days) for row in orders),
    }


REPORT = Report("order-list", "What to order, and by when", OrderOut, rows, _summary)
