"""What happened to an element or a unit: steps, faults, tests, feeds, swaps, holds, notes; newest first."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time
from typing import Any

from sqlalchemy import or_, select
from sqlalchemy.orm import Session, aliased

from service.errors import NotFound
from service.kinds import actions
from service.kinds.kind import Kind
from service.planning.records import Allotment, Plan
from service.planning.swapping.records import Swap
from service.season.records import Hold, Production
from service.shows.faults import BenchTest, Fault
from service.shows.records import Element, Run
from service.shows.upkeep import Note
from service.stock.gear import Unit
from service.store.audit import AuditEntry
from service.store.base import tag_key

MOST_FEEDS = 3  # ways told of one change; the rest are counted
_OF_A_FEED = ("supply_id", "supply_model_id", "output", "decoder_id", "decoder_model_id", "first_channel")


@dataclass(frozen=True, slots=True)
class Happening:
    """`kind` says which words tell it, `what` fills them in; `swap`: the number of the swap that it was."""

    at: datetime
    kind: str
    what: Mapping[str, str]
    by: str = ""
    swap: str = ""


@dataclass(slots=True)
class _Change:
    """Feeds of an element that changed at one moment."""

    by: str
    before: list[str] = field(default_factory=list)
    after: list[str] = field(default_factory=list)


def past_of_element(session: Session, kind: Kind, tag: str) -> list[Happening]:
    """`kind`: the kind of elements. Raises NotFound."""
    element = session.scalars(select(Element).where(Element.tag_key == tag_key(tag))).one_or_none()
    if element is None:
        raise NotFound(f"no element has the tag {tag!r}", "Look at the tag on the thing.")
    found = [*_steps(session, kind, tag), *_faults(session, Fault.element_id == element.id)]
    found += _tests(session, BenchTest.element_id == element.id)
    found += _feeds(session, element)
    found += _notes(session, element.tag_key)
    return _newest_first(found)


def past_of_unit(session: Session, kind: Kind, tag: str) -> list[Happening]:
    """`kind`: supplies, decoders or batteries. Raises NotFound."""
    unit = session.scalars(select(Unit).where(Unit.tag_key == tag_key(tag))).one_or_none()
    if unit is None:
        raise NotFound(f"no unit has the tag {tag!r}", "Look at the tag on the thing.")
    found = [*_steps(session, kind, tag), *_faults(session, Fault.unit_id == unit.id)]
    found += _tests(session, BenchTest.unit_id == unit.id)
    found += _swaps(session, or_(Swap.old_id == unit.id, Swap.new_id == unit.id))
    found += _holds(session, unit)
    found += _notes(session, unit.tag_key)
    return _newest_first(found)


def _newest_first(found: Iterable[Happening]) -> list[Happening]:
    return sorted(found, key=lambda one: one.at, reverse=True)


def _on(day: date) -> datetime:
    """A day of which nobody wrote down the hour: before everything else of it."""
    return datetime.combine(day, time.min, UTC)


def _steps(session: Session, kind: Kind, tag: str) -> Iterator[Happening]:
    _, steps = actions.path_so_far(session, kind, tag)
    for step in steps:
        said = f"{step.to}: {step.what}" if step.what else step.to
        yield Happening(step.at, "step", {"said": said}, step.by)


def _faults(session: Session, is_about: Any) -> Iterator[Happening]:
    """Of a fault that put an element out the steps tell already."""
    for fault in session.scalars(select(Fault).where(is_about, Fault.made_dark.is_(False))):
        said = {"number": fault.number or "", "what": fault.symptom}
        at = fault.found_at or min(fault.created_at, _on(fault.found_on).replace(hour=23, minute=59))
        yield Happening(at, "fault", said, fault.found_by)
        if fault.mended_on is not None:
            yield Happening(_on(fault.mended_on), "mended", said | {"what": fault.fix or fault.symptom})


def _tests(session: Session, is_about: Any) -> Iterator[Happening]:
    for test in session.scalars(select(BenchTest).where(is_about)):
        kind = "tested" if test.passed else "failed"
        said = {"number": test.number or "", "what": test.note}
        yield Happening(_on(test.tested_on), kind, said, test.tested_by)


def _notes(session: Session, about: str) -> Iterator[Happening]:
    for note in session.scalars(select(Note).where(Note.about_key == about)):
        said = {"number": note.number or "", "what": note.text}
        yield Happening(note.written_at, "note", said, note.written_by)


def _holds(session: Session, unit: Unit) -> Iterator[Happening]:
    rows = session.execute(
        select(Hold, Production.tag, Production.title)
        .join(Production, Production.id == Hold.production_id)
        .where(Hold.unit_id == unit.id)
    )
    for hold, code, title in rows:
        said = {"number": hold.number or "", "show": title, "code": code}
        if hold.issued_on is not None:
            yield Happening(_on(hold.issued_on), "issued", said, hold.issued_by)
        if hold.returned_on is not None:
            yield Happening(_on(hold.returned_on), "returned", said, hold.returned_by)


def _swaps(session: Session, is_about: Any) -> Iterator[Happening]:
    old, new = aliased(Unit), aliased(Unit)
    rows = session.execute(
        select(Swap, old.tag, new.tag, Production.tag)
        .join(old, old.id == Swap.old_id)
        .join(new, new.id == Swap.new_id)
        .join(Production, Production.id == Swap.production_id)
        .where(is_about)
    )
    for swap, was, now, code in rows:
        number = swap.number or ""
        said = {"number": number, "old": was, "new": now, "show": code}
        why = f": {swap.why}" if swap.why else ""
        yield Happening(swap.created_at, "swapped", said | {"why": why}, swap.swapped_by, number)
        if swap.undone_at is not None:
            yield Happening(swap.undone_at, "swapped-back", said, swap.undone_by, number)


def _feeds(session: Session, element: Element) -> Iterator[Happening]:
    """Each plan that was kept with what fed it then, and every change of that while the plan stood."""
    feeds = session.execute(
        select(Allotment, Plan.number, Plan.kept_at, Plan.superseded_at)
        .join(Plan, Plan.id == Allotment.plan_id)
        .join(Run, Run.id == Allotment.run_id)
        .where(Run.element_id == element.id, Plan.kept_at.is_not(None))
        .order_by(Plan.kept_at, Plan.id, Run.number)
    ).all()
    told = _Tags(session)
    entries = _entries(session, [feed.id for feed, *_ in feeds])
    kept: dict[tuple[datetime, int], list[str]] = {}
    changed: dict[datetime, _Change] = {}
    for feed, number, kept_at, superseded_at in feeds:
        if kept_at is None:
            continue
        values = {name: getattr(feed, name) for name in _OF_A_FEED}
        for entry in entries.get(feed.id, ()):
            if entry.at <= kept_at:
                break
            before = {**values, **_of_a_feed(entry.before)}
            if before != values and (superseded_at is None or entry.at < superseded_at):
                change = changed.setdefault(entry.at, _Change(entry.by))
                change.before.append(told.of(before))
                change.after.append(told.of(values))
            values = before
        kept.setdefault((kept_at, number), []).append(told.of(values))
    for (at, number), ways in kept.items():
        yield Happening(at, "kept", {"plan": str(number), "feed": _few(ways)})
    swaps = {one.at: one for one in _swaps(session, Swap.production_id == element.production_id)}
    for at, change in changed.items():
        said = {"before": _few(change.before), "after": _few(change.after)}
        swap = swaps.get(at)
        if swap is None:
            yield Happening(at, "moved", said, change.by)
        else:
            yield Happening(at, swap.kind, {**swap.what, **said}, swap.by, swap.swap)


def _entries(session: Session, ids: Sequence[int]) -> dict[int, list[AuditEntry]]:
    """What is on record of those feeds, the newest first."""
    found: dict[int, list[AuditEntry]] = {}
    rows = session.scalars(
        select(AuditEntry)
        .where(AuditEntry.kind == Allotment.__tablename__, AuditEntry.thing_id.in_(ids))
        .where(AuditEntry.what == "changed")
        .order_by(AuditEntry.id.desc())
    )
    for entry in rows:
        found.setdefault(entry.thing_id or 0, []).append(entry)
    return found


def _of_a_feed(values: Mapping[str, Any] | None) -> dict[str, Any]:
    return {name: value for name, value in (values or {}).items() if name in _OF_A_FEED}


class _Tags:
    """A feed in words: supply and output, decoder and channel."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.known: dict[int, str] = {}

    def of(self, values: Mapping[str, Any]) -> str:
        supply = self._tag(values["supply_id"]) or "?"
        decoder = self._tag(values["decoder_id"])
        said = f"{supply} · {values['output']}"
        return f"{said}, {decoder} · {values['first_channel'] or 1}" if decoder else said

    def _tag(self, unit_id: int | None) -> str:
        if unit_id is None:
            return ""
        if unit_id not in self.known:
            self.known[unit_id] = self.session.get_one(Unit, unit_id).tag
        return self.known[unit_id]


def _few(ways: Iterable[str]) -> str:
    """
    >>> _few(["PS-01 · 1", "PS-01 · 1", "PS-02 · 1"]), _few("abcde")
    ('PS-01 · 1; PS-02 · 1', 'a; b; c …')
    """
    once = list(dict.fromkeys(ways))
    return "; ".join(once[:MOST_FEEDS]) + (" …" if len(once) > MOST_FEEDS else "")
