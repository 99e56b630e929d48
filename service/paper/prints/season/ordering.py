"""The order list: what to buy or hire so that no show is short, and the last day to order it."""

from itertools import groupby

from sqlalchemy.orm import Session

from service.paper.prints.table import (
    FINE,
    NONE,
    OVER,
    Block,
    Column,
    Kind,
    Measured,
    Paper,
    Row,
    Says,
    Unsolved,
    Wanted,
)  # fmt: skip
from service.planning.season.reels import is_proven
from service.planning.season.schemas import OrderOut
from service.reports.report import ReportAsk
from service.reports.season import order_list

NAME = "order-list"
COLUMNS = (
    Column("ordered", is_box=True), Column("item", is_tag=True), Column("order", is_wide=True),
    Column("packs"), Column("order-by"), Column("comes-on"), Column("needed-from"),
    Column("wanted-by", is_wide=True),
    Column("need", is_figure=True), Column("usable", is_figure=True), Column("due-in", is_figure=True),
    Column("short", is_figure=True), Column("cost", is_figure=True), Column("one-lot", is_filed=True),
    Column("how-many", is_filed=True), Column("sold-as", is_filed=True), Column("spare", is_filed=True),
    Column("counted-in", is_filed=True), Column("lead-days", is_filed=True),
    Column("instead", is_filed=True), Column("not-known", is_filed=True),
    Column("late-orders", is_filed=True),
)  # fmt: skip
SHARED = (Column("act"),)
ACTS = ("buy", "hire", "too late")


def make(session: Session, wanted: Wanted) -> Unsolved:
    """Of what one show wants, or of all; reels are counted cut by cut. Raises NotFound."""
    ask = ReportAsk(wanted.day, wanted.show, today=wanted.today)
    return Unsolved(order_list.answered, (order_list.asked(session, ask),), told)


def told(found: list[OrderOut]) -> Paper:
    """The paper of the report's rows."""
    ordered = sorted(found, key=lambda row: ACTS.index(row.act))
    blocks = [_block(act, list(rows)) for act, rows in groupby(ordered, key=lambda row: row.act)]
    late = [row for row in found if row.late_days]
    unproven = sum(not is_proven(row) for row in found)
    orders = [row for row in found if row.quantity]
    dated = [row.order_by for row in orders if row.order_by is not None]
    values = {"count": len(orders), "late": len(late), "unproven": unproven,
              "first": late[0].item if late else "", "day": min(dated, default=None)}  # fmt: skip
    key = "late" if late else "unproven" if unproven else "some" if dated else "undated" if found else "none"
    return Paper(NAME, Says(f"{NAME}-{key}", values), COLUMNS, blocks, SHARED, is_wide=True)


def _block(act: str, rows: list[OrderOut]) -> Block:
    costs = [row.cost for row in rows if row.quantity]
    notes = []
    if costs and None not in costs:
        notes.append(Says("costs", {"cost": f"{sum(cost or 0.0 for cost in costs):.2f}"}))
    elif any(cost is not None for cost in costs):
        known = sum(cost for cost in costs if cost is not None)
        notes.append(Says("costs-known", {"cost": f"{known:.2f}", "blank": costs.count(None)}))
    return Block("", Says(f"act-{act.replace(' ', '-')}"), [_row(row) for row in rows], {"act": act}, notes)


def _row(row: OrderOut) -> Row:
    cells = {
        "item": row.item,
        "order": _order(row),
        "packs": row.packs,
        "order-by": row.order_by,
        "comes-on": row.comes_on,
        "needed-from": row.needed_from,
        "wanted-by": ", ".join(row.wanted_by),
        "need": _figure(row, row.wanted),
        "usable": _figure(row, row.usable),
        "due-in": _figure(row, row.due_in),
        "short": _figure(row, row.short),
        "cost": None if row.cost is None else Measured(row.cost, digits=2),
        "one-lot": row.one_lot,
        "how-many": row.quantity,
        "sold-as": row.sold_as,
        "spare": row.spare,
        "counted-in": row.unit,
        "lead-days": row.lead_days,
        "instead": row.instead,
        "not-known": row.unknown,
        "late-orders": "; ".join(row.late_orders),
    }
    tells = _tells(row)
    more = {"instead": row.instead, "one-lot": row.one_lot}
    notes = tuple(Says(f"order-{name}", {"said": said}) for name, said in more.items() if said)
    is_late = row.act == "too late" or bool(row.late_days)
    is_open = not is_proven(row) or row.order_by is None
    state = OVER if is_late else NONE if is_open else FINE
    return Row(cells, state, tells=tells + notes)


def _tells(row: OrderOut) -> tuple[Says, ...]:
    """What is wrong with an order, and what nobody knows of it."""
    found = []
    if row.act == "too late":
        found.append(Says("order-too-late", {"comes": row.comes_on}))
    elif row.late_days:
        late = {"days": row.late_days, "comes": row.comes_on, "needed": row.needed_from}
        found.append(Says("order-late", late))
    if row.late_orders:
        found.append(Says("order-not-come", {"said": "; ".join(row.late_orders)}))
    if row.unknown:
        found.append(Says("order-blank" if is_proven(row) else "order-unproven", {"said": row.unknown}))
    return tuple(found)


def _order(row: OrderOut) -> Says | str:
    if not row.quantity:
        return ""
    key = f"order-{row.sold_as}-spare" if row.spare else f"order-{row.sold_as}"
    return Says(key, {"count": row.quantity, "spare": row.spare})


def _figure(row: OrderOut, value: float) -> Measured:
    return Measured(value, "m" if row.unit == "m" else "")


KIND = Kind(NAME, make, of_house=True)
