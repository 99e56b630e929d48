"""What if: the very actions, in a transaction that the caller undoes, and the findings before and after."""

from collections.abc import Sequence
from datetime import date

from sqlalchemy.orm import Session

from service.errors import BadRequest, NotFound
from service.kinds import actions
from service.kinds.actions import Hand
from service.kinds.bodies import taken
from service.kinds.kind import Kind
from service.kinds.registry import KINDS
from service.planning.moving import move_feed
from service.planning.snapshot.house import read_policy
from service.planning.snapshot.season import season_facts
from service.reports import over_limit, stock_use
from service.reports.report import ReportAsk
from service.reports.supposing.fitting import fitted
from service.reports.supposing.schemas import (
    AddedOut,
    StockOut,
    SupposeAdd,
    SupposeChange,
    SupposedOut,
    SupposedRow,
    SupposeMove,
    SupposeRetire,
    WhatIf,
)
from service.store.listing import Row

WHY = "only supposed"
ELEMENTS = "elements"


def what_if(session: Session, ask: WhatIf, hand: Hand, day: date) -> SupposedOut:
    """What would follow. The session is one whose writes are undone afterwards: see Store.supposing.

    Raises whatever the real action would refuse, except that limits hold no feed back.
    """
    before = _seen(session, day, hand.today)
    said, added = [], []
    for supposition in ask.suppositions:
        row = _suppose(session, supposition, hand)
        said.append(_words(supposition))
        if isinstance(supposition, SupposeAdd) and _kind(supposition.kind).name == ELEMENTS:
            added.append(row)
    session.flush()
    session.expire_all()
    after = _seen(session, day, hand.today)
    elements = [_fitted(session, row, day) for row in added if row is not None]
    return _told(day, said, elements, before, after)


class _Seen:
    """Findings and stock at one of the two moments."""

    def __init__(self, findings: Sequence[over_limit.Row], stock: Sequence[stock_use.Row]) -> None:
        self.findings = {(f.production, f.code, f.subject): f for f in findings}
        self.stock = {row.item: row for row in stock}


def _seen(session: Session, day: date, today: date) -> _Seen:
    ask = ReportAsk(day, today=today)
    return _Seen(over_limit.rows(session, ask), stock_use.rows(session, ask))


def _suppose(
    session: Session, one: SupposeAdd | SupposeChange | SupposeRetire | SupposeMove, hand: Hand
) -> Row | None:
    if isinstance(one, SupposeMove):
        move_feed(session, one.element, one.to.model_copy(update={"despite_limits": WHY}), hand.today)
        return None
    kind = _kind(one.kind)
    if isinstance(one, SupposeAdd):
        return actions.make(session, kind, taken(kind, one.values, is_new=True), hand)[0]
    key = _key(kind, one.key)
    if isinstance(one, SupposeRetire):
        return actions.retire(session, kind, key, None, hand)[0]
    values = taken(kind, one.values, is_new=False)
    if not values:
        raise BadRequest("the change names nothing", "Name at least one value that is otherwise.")
    return actions.change(session, kind, key, values, None, hand)[0]


def _kind(plural: str) -> Kind:
    known = {k.listing.plural: k for k in KINDS if k.listing is not None and k.is_written}
    if plural not in known:
        raise BadRequest(f"there is no kind {plural}", f"Known: {', '.join(known)}.")
    return known[plural]


def _key(kind: Kind, key: str) -> str | int:
    assert kind.listing is not None
    if kind.listing.is_tagged:
        return key
    if not key.isdecimal() or len(key) > 9:
        raise NotFound(f"{kind.listing.plural} go by their number, not {key}", "Look it up in the list.")
    return int(key)


def _words(one: SupposeAdd | SupposeChange | SupposeRetire | SupposeMove) -> str:
    if isinstance(one, SupposeAdd):
        return f"one of {one.kind} more: {_listed(one.values)}"
    if isinstance(one, SupposeChange):
        return f"{one.key} of {one.kind} otherwise: {_listed(one.values)}"
    if isinstance(one, SupposeRetire):
        return f"{one.key} of {one.kind} gone"
    where = one.to.model_dump(exclude_none=True, exclude={"despite_limits"})
    return f"the feed of {one.element} moved: {_listed(where)}"


def _listed(values: dict[str, object]) -> str:
    return ", ".join(f"{name} {value}" for name, value in values.items())


def _fitted(session: Session, row: Row, day: date) -> AddedOut:
    """The element as the limits see it in its show."""
    (show,) = season_facts(session, day, row["production"])
    element = next(e for e in show.elements if e.tag == row["tag"])
    return fitted(show, element, read_policy(session))


def _told(day: date, said: list[str], added: list[AddedOut], before: _Seen, after: _Seen) -> SupposedOut:
    findings = [
        SupposedRow(
            **row.model_dump(),
            change="new"
            if key not in before.findings
            else "same"
            if _figures(before.findings[key]) == _figures(row)
            else "changed",
        )
        for key, row in after.findings.items()
    ]
    gone = [row for key, row in before.findings.items() if key not in after.findings]
    stock = [
        StockOut(
            item=item,
            unit=row.unit,
            free_before=old.free if old else 0.0,
            free_after=row.free,
            short_before=old.short if old else 0.0,
            short_after=row.short,
        )
        for item, row in after.stock.items()
        if (old := before.stock.get(item)) is None or (old.free, old.short) != (row.free, row.short)
    ]
    new = [f for f in findings if f.change == "new" and f.verdict == "over"]
    return SupposedOut(
        as_of=day,
        suppositions=said,
        verdict=_verdict(new, gone, added),
        added=added,
        findings=findings,
        gone=gone,
        stock=stock,
    )


def _figures(row: over_limit.Row) -> tuple[object, ...]:
    return (row.verdict, row.value, row.limit, row.message)


def _verdict(new: Sequence[SupposedRow], gone: Sequence[over_limit.Row], added: Sequence[AddedOut]) -> str:
    """The whole in one line."""
    over = [f"{one.subject}" for one in new]
    parts = [f"would be over: {', '.join(over[:6])}" if over else "nothing more would be over"]
    mended = [row.subject for row in gone if row.verdict == "over"]
    if mended:
        parts.append(f"would be over no more: {', '.join(mended[:6])}")
    for one in added:
        fits = [fit.source for fit in one.fits if fit.verdict == "ok"]
        parts.append(
            f"{one.element} would fit on {', '.join(fits[:6]) if fits else 'no source that is there'}"
        )
    return "; ".join(parts)
