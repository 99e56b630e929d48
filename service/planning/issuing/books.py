"""What the books say of units, read once for all of them and held while they are moved."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.errors import BadRequest, RowError
from service.planning.records import Placing, Plan, PlanStatus
from service.planning.snapshot.availability import FAR, Claims, read_claims
from service.planning.snapshot.house import House, read_house
from service.planning.snapshot.show import window_of
from service.season.issuing.standing import Standing, holds_standing
from service.season.records import Hold, Production, ProductionStatus
from service.stock.gear import GearModel, Unit
from service.stock.records import Place
from service.store.base import TagEntry, tag_key, with_article

MOST_TAGS = 500
OVER = (ProductionStatus.RETURNED, ProductionStatus.CANCELLED)


@dataclass(frozen=True, slots=True)
class Hand:
    """Who does it, and on which day. `each`: what can be done is done; else all of it or nothing."""

    by: str
    day: date
    each: bool = False


@dataclass(slots=True)
class Promised:
    """A hold of a model, and how many of it are still to be drawn."""

    hold_id: int
    number: str | None
    model_id: int
    from_on: date
    until_on: date
    left: int


@dataclass(slots=True)
class Books:
    """Everything that decides whether a unit may go to `production` on `day`; kept up as units go."""

    production: Production
    day: date
    house: House
    claims: Claims
    standing: Mapping[int, list[Standing]]
    promised: list[Promised]
    gone: set[int] = field(default_factory=set)

    @property
    def until_on(self) -> date:
        """The day after the last on which the production may have gear."""
        return window_of(self.production)[1]


@dataclass(frozen=True, slots=True)
class Named:
    """The units that were named, each once, with its place in what was sent; and what is no unit."""

    units: tuple[tuple[int, Unit], ...]
    unknown: tuple[RowError, ...]


def refused(position: int, message: str, mend: str) -> RowError:
    """Why the tag at that place in what was sent is refused."""
    return RowError("", position, "tags", message, mend)


def named_units(session: Session, tags: Sequence[str], with_models: bool = False) -> Named:
    """The units with those tags, in any letter case, held until the transaction ends, so that two cannot move
    one at the same time. `with_models`: their models too, for what is promised of them. A tag read twice
    counts once. Raises BadRequest."""
    places = {tag_key(tag): n for n, tag in reversed(list(enumerate(tags))) if tag_key(tag)}
    if not places or len(places) > MOST_TAGS:
        raise BadRequest(f"1 to {MOST_TAGS} tags are taken at once", "Name the units by the tags on them.")
    found = session.execute(select(Unit.id, Unit.model_id).where(Unit.tag_key.in_(places))).all()
    if with_models:
        models = GearModel.__table__.c.id
        ids = sorted({row.model_id for row in found if row.model_id is not None})
        session.execute(select(models).where(models.in_(ids)).order_by(models).with_for_update())
    units = session.scalars(
        select(Unit)
        .where(Unit.id.in_([row.id for row in found]))
        .order_by(Unit.id)
        .with_for_update()
        .execution_options(populate_existing=True)
    ).all()
    known = {unit.tag_key for unit in units}
    unknown = _no_units(session, {key: n for key, n in places.items() if key not in known}, tags)
    return Named(tuple(sorted(((places[u.tag_key], u) for u in units), key=lambda pair: pair[0])), unknown)


def _no_units(session: Session, places: Mapping[str, int], tags: Sequence[str]) -> tuple[RowError, ...]:
    if not places:
        return ()
    known = select(TagEntry.key, TagEntry.kind).where(TagEntry.key.in_(places))
    kinds = {row.key: row.kind for row in session.execute(known)}
    return tuple(
        refused(
            n,
            f"{tags[n].strip()} is the tag of {with_article(kinds[key])}, not of a unit"
            if key in kinds
            else f"nothing has the tag {tags[n].strip()}",
            "Read the label again, or look for it in the lists.",
        )
        for key, n in sorted(places.items(), key=lambda pair: pair[1])
    )


def read_books(session: Session, production: Production, day: date) -> Books:
    """As the books stand on a day; the holds of models that units are drawn from are held. What came back on
    that day may go out again on it."""
    claims = read_claims(session, day)
    standing = (claim for claim in claims.units if claim.due_on is not None or claim.until_on > day)
    return Books(
        production,
        day,
        read_house(session),
        replace(claims, units=tuple(standing)),
        holds_standing(session),
        _promised(session, production.id, day),
    )


def _promised(session: Session, production_id: int, day: date) -> list[Promised]:
    """What the production was promised by model and has not drawn yet, the earliest first."""
    holds = session.execute(
        select(Hold.id, Hold.number, Hold.model_id, Hold.from_on, Hold.until_on, Hold.quantity)
        .where(Hold.production_id == production_id, Hold.model_id.is_not(None))
        .order_by(Hold.from_on, Hold.id)
        .with_for_update()
    ).all()
    drawn: dict[int, int] = {}
    for promise_id in session.scalars(
        select(Hold.drawn_from_id).where(Hold.production_id == production_id, Hold.drawn_from_id.is_not(None))
    ):
        drawn[promise_id or 0] = drawn.get(promise_id or 0, 0) + 1
    found = [
        Promised(
            h.id, h.number, h.model_id, h.from_on, h.until_on or FAR, (h.quantity or 0) - drawn.get(h.id, 0)
        )
        for h in holds
    ]
    return [promise for promise in found if promise.left > 0 and promise.until_on > day]


def placed_at(session: Session) -> dict[tuple[int, int], str]:
    """By unit and production: the place where the kept plan has it."""
    rows = session.execute(
        select(Placing.unit_id, Plan.production_id, Place.tag)
        .join(Place, Place.id == Placing.place_id)
        .join(Plan, Plan.id == Placing.plan_id)
        .where(Plan.status == PlanStatus.KEPT)
    )
    return {(row.unit_id, row.production_id): row.tag for row in rows}
