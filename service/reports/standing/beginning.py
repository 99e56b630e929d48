"""How far a house that is new to this has come: from nothing to a kept plan that feeds something."""

from collections.abc import Mapping
from dataclasses import dataclass

from sqlalchemy import exists, func, select
from sqlalchemy.orm import Session

from service.planning.records import Allotment, Plan, PlanStatus
from service.season.records import Production
from service.shows.records import Element
from service.stock.gear import GearKind, GearModel, Unit
from service.stock.records import Tape

# In this order: each can be said only when what it names is on record.
STEPS = (
    "tapes",
    "supply-models",
    "supplies",
    "decoder-models",
    "decoders",
    "productions",
    "elements",
    "plan",
    "keep",
)
# Tape that is only ever straight on wants neither, so nobody is held up there once they went on.
PASSABLE = frozenset({"decoder-models", "decoders"})
# A plan that leaves all dark is no beginning.
_KEPT = (Plan.kept_at.is_not(None), exists().where(Allotment.plan_id == Plan.id))
WAITING = (PlanStatus.DRAFT, PlanStatus.QUEUED, PlanStatus.WORKING)


@dataclass(frozen=True, slots=True)
class Step:
    """`count`: how many are on record."""

    name: str
    count: int
    is_next: bool = False

    @property
    def is_done(self) -> bool:
        return self.count > 0


@dataclass(frozen=True, slots=True)
class Beginning:
    """`show`: the code of the show that a first plan is worked out for, `plan`: the number of its newest plan
    that waits to be looked at or is under way; blank and None where there is none."""

    steps: tuple[Step, ...]
    show: str
    plan: int | None

    @property
    def is_over(self) -> bool:
        """A plan was kept: the house works."""
        return self.steps[-1].is_done

    @property
    def next(self) -> Step:
        return next((step for step in self.steps if step.is_next), self.steps[-1])

    @property
    def done(self) -> int:
        return sum(step.is_done for step in self.steps)


def is_begun(session: Session) -> bool:
    """Whether any plan was ever kept that feeds something."""
    return bool(session.scalar(select(exists().where(*_KEPT))))


def beginning(session: Session) -> Beginning:
    models, units = _by_kind(session, GearModel), _by_kind(session, Unit)
    waiting = session.execute(
        select(Production.tag, Plan.number)
        .join(Plan, Plan.production_id == Production.id)
        .where(Plan.status.in_(WAITING), Production.retired_on.is_(None))
        .order_by(Plan.id.desc())
    ).first()
    kept = session.scalar(select(func.count()).select_from(Plan).where(*_KEPT)) or 0
    counts = {
        "tapes": _count(session, Tape),
        "supply-models": models.get(GearKind.SUPPLY, 0),
        "supplies": units.get(GearKind.SUPPLY, 0),
        "decoder-models": models.get(GearKind.DECODER, 0),
        "decoders": units.get(GearKind.DECODER, 0),
        "productions": _count(session, Production),
        "elements": _count(session, Element),
        "plan": kept + (waiting is not None),
        "keep": kept,
    }
    if waiting is not None:
        return Beginning(steps_of(counts), waiting.tag, waiting.number)
    return Beginning(steps_of(counts), _fullest(session), None)


def _fullest(session: Session) -> str:
    """The show with most elements; blank where there is none."""
    code = session.scalar(
        select(Production.tag)
        .outerjoin(Element, Element.production_id == Production.id)
        .where(Production.retired_on.is_(None))
        .group_by(Production.id, Production.tag)
        .order_by(func.count(Element.id).desc(), Production.id)
    )
    return code or ""


def steps_of(counts: Mapping[str, int]) -> tuple[Step, ...]:
    """The steps with the one that comes next: the first that is not done, and was not passed by.

    >>> next(s.name for s in steps_of(dict.fromkeys(STEPS, 0) | {"tapes": 2}) if s.is_next)
    'supply-models'
    """
    wanting = (n for at, n in enumerate(STEPS) if not counts[n] and not _is_passed(counts, at))
    first = next(wanting, "")
    return tuple(Step(name, counts[name], name == first) for name in STEPS)


def _is_passed(counts: Mapping[str, int], at: int) -> bool:
    return STEPS[at] in PASSABLE and any(counts[name] for name in STEPS[at + 1 :] if name not in PASSABLE)


def _count(session: Session, record: type[Tape] | type[Production] | type[Element]) -> int:
    query = select(func.count()).select_from(record).where(record.retired_on.is_(None))
    return session.scalar(query) or 0


def _by_kind(session: Session, record: type[GearModel] | type[Unit]) -> dict[GearKind, int]:
    query = select(record.kind, func.count()).where(record.retired_on.is_(None)).group_by(record.kind)
    return {row[0]: row[1] for row in session.execute(query)}
