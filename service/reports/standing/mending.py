"""One move that mends a fault: what it would change, told before it is done, and done."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy.orm import Session

from service.errors import NotFound, Refused, Stale
from service.limits.mends.acts import Readdress, Relead, Replug, Shift
from service.planning.mending.doing import carry_out
from service.planning.since.differing import changes, relabels
from service.planning.since.photo import photo
from service.planning.snapshot.show import find_production
from service.reports.standing.asking import standings
from service.reports.standing.comparing import KINDS, Moved, gathered
from service.reports.standing.parts import Bar, Fault, Standing

ONLY_SUPPOSED = "only supposed"


@dataclass(frozen=True, slots=True)
class Effect:
    """What a move changes: faults gone and new, supplies before and after, feeds, and labels to write."""

    fault: Fault
    gone: tuple[Fault, ...]
    new: tuple[Fault, ...]
    bars: tuple[tuple[Bar | None, Bar | None], ...]
    changes: tuple[Moved, ...]
    labels: int
    names: dict[str, str]

    @property
    def is_clean(self) -> bool:
        return not self.new


@dataclass(frozen=True, slots=True)
class Asked:
    """Which fault of a show is to be mended, and (None: any) the move that was read of it."""

    code: str
    limit: str
    subject: str
    act: str | None = None


def effect(session: Session, asked: Asked, before: Standing, today: date) -> Effect:
    """What the move would change. The session is one whose writes are undone: see Store.supposing.
    Raises NotFound, Refused."""
    fault = _fault(before, asked)
    production = find_production(session, asked.code)
    was = photo(session, production.id)
    carry_out(session, production.tag, fault.acts, today, ONLY_SUPPOSED)
    session.expire_all()
    after = standings(session, [find_production(session, asked.code)], today)[production.tag]
    now = photo(session, production.id)
    old, new = _known(before), _known(after)
    return Effect(
        fault=fault,
        gone=tuple(one for key, one in old.items() if key not in new),
        new=tuple(one for key, one in new.items() if key not in old or _is_worse(old[key], one)),
        bars=_bars(before.bars, after.bars),
        changes=gathered([c for c in changes(was, now) if c.what in KINDS], now),
        labels=len(relabels(was, now)),
        names=after.names,
    )


def mend(session: Session, asked: Asked, before: Standing, today: date, despite: str | None) -> Fault:
    """Does the move that was read, or refuses because another one is right by now. `before`: as the session
    sees the show. Raises NotFound, Stale, Refused, OverLimit."""
    fault = _fault(before, asked)
    if asked.act is not None and asked.act != fault.act:
        raise Stale(
            f"the way out of {fault.subject} is another one by now: {fault.act}", "Read it and do that."
        )
    carry_out(session, before.heading.code, fault.acts, today, despite)
    return fault


def _fault(standing: Standing, asked: Asked) -> Fault:
    fault = standing.fault(asked.limit, asked.subject)
    if fault is None:
        raise NotFound(
            f"{asked.subject} is not over that limit any more", "Read the show again: it is mended."
        )
    if not fault.acts:
        raise Refused(
            f"nothing here can do that by itself: {fault.act or fault.head}", "Do it, then enter it."
        )
    return fault


def _known(standing: Standing) -> dict[tuple[str, str], Fault]:
    return {
        (one.code, one.subject): one
        for fault in (*standing.faults, *standing.dark)
        for one in (fault, *fault.also)
    }


def _is_worse(before: Fault, after: Fault) -> bool:
    return (after.excess or 0.0) > (before.excess or 0.0) + 1e-9


def _bars(before: Sequence[Bar], after: Sequence[Bar]) -> tuple[tuple[Bar | None, Bar | None], ...]:
    """Supplies that carry another load then."""
    was, now = {bar.supply: bar for bar in before}, {bar.supply: bar for bar in after}
    pairs = ((was.get(tag), now.get(tag)) for tag in dict.fromkeys((*was, *now)))
    return tuple((a, b) for a, b in pairs if (a.load_w if a else 0.0) != (b.load_w if b else 0.0))


def hands(fault: Fault) -> frozenset[str]:
    """What has to be done by hand: leads to plug over, leads to make, addresses to set, plugs to move."""
    kinds = {Shift: "feed", Relead: "lead", Readdress: "address", Replug: "plug"}
    return frozenset(kinds[type(act)] for act in fault.acts)
