"""What can be counted, as the book has it: units and reels, where each is, and in what state."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from sqlalchemy import ColumnElement, func, select
from sqlalchemy.orm import Session

from service.season.issuing.standing import Standing, holds_standing, out_with
from service.stock.gear import GearModel, Unit, UnitState
from service.stock.records import Place, Reel, ReelState, Tape

GONE = (ReelState.USED_UP, ReelState.WRITTEN_OFF)  # reels that the book has nowhere


@dataclass(frozen=True, slots=True)
class Thing:
    """A unit or reel as the book has it. `place_id`: where it is, else the bin it lives in; `out`: the hold
    that has a unit; `pitches`: whole cut pitches left on a reel, of `pitch_um` each."""

    key: str
    tag: str
    id: int
    is_reel: bool
    item: str
    version: int
    state: str
    state_note: str
    place_id: int | None
    is_retired: bool
    out: Standing | None = None
    pitches: int | None = None
    pitch_um: int = 0

    def is_away(self, day: date) -> bool:
        """Whether the book has a unit with a show: it went out by tag, should be back by now, or its days
        have begun and the show is at work. Promised to one that is still building, it may be in its bin."""
        out = self.out
        return out is not None and (out.issued_on is not None or out.is_in_use or out.days_late(day) > 0)


@dataclass(frozen=True, slots=True)
class Places:
    """The tree of places, by number."""

    tags: Mapping[int, str]
    above: Mapping[int, int | None]

    def inside(self, place_id: int) -> frozenset[int]:
        """The place and every place inside it."""
        return frozenset(one for one in self.above if place_id in self.around(one))

    def around(self, place_id: int) -> list[int]:
        """The place, the one around it, and so on to the top."""
        found: list[int] = []
        at: int | None = place_id
        while at is not None and at not in found:
            found.append(at)
            at = self.above.get(at)
        return found


def read_places(session: Session) -> Places:
    rows = session.execute(select(Place.id, Place.tag, Place.parent_id)).all()
    return Places({row.id: row.tag for row in rows}, {row.id: row.parent_id for row in rows})


def things_at(session: Session, places: Collection[int], day: date) -> list[Thing]:
    """What the book has at those places and not out: units by where they were seen last, else by their bin;
    reels with tape on them."""
    at = func.coalesce(Unit.seen_place_id, Unit.home_id)
    units = _units(session, at.in_(places), Unit.retired_on.is_(None), Unit.state != UnitState.MISSING)
    reels = _reels(
        session, Reel.place_id.in_(places), Reel.retired_on.is_(None), Reel.left_pitches > 0,
        Reel.state.not_in(GONE),
    )  # fmt: skip
    found = [thing for thing in _with_holds(session, units, day) if thing.out is None]
    return sorted([*found, *reels], key=lambda thing: thing.key)


def things_named(session: Session, keys: Collection[str], day: date) -> dict[str, Thing]:
    """Units and reels by the keys of their tags, wherever they are."""
    units = _with_holds(session, _units(session, Unit.tag_key.in_(keys)), day)
    return {thing.key: thing for thing in [*units, *_reels(session, Reel.tag_key.in_(keys))]}


def _units(session: Session, *conditions: ColumnElement[bool]) -> list[Thing]:
    model = GearModel.__table__.c
    query = (
        select(
            Unit.tag_key, Unit.tag, Unit.id, model.tag.label("item"), Unit.version, Unit.state,
            Unit.state_note, func.coalesce(Unit.seen_place_id, Unit.home_id).label("place_id"),
            Unit.retired_on,
        )
        .outerjoin(GearModel.__table__, model.id == Unit.model_id)
        .where(*conditions)
        .order_by(Unit.id)
    )  # fmt: skip
    return [
        Thing(
            row.tag_key, row.tag, row.id, False, row.item or "", row.version, row.state.value,
            row.state_note, row.place_id, row.retired_on is not None,
        )
        for row in session.execute(query)
    ]  # fmt: skip


def _reels(session: Session, *conditions: ColumnElement[bool]) -> list[Thing]:
    query = (
        select(
            Reel.tag_key, Reel.tag, Reel.id, Tape.tag.label("item"), Reel.version, Reel.state, Reel.place_id,
            Reel.retired_on, Reel.left_pitches, Tape.pitch_um,
        )
        .join(Tape, Tape.id == Reel.tape_id)
        .where(*conditions)
        .order_by(Reel.id)
    )  # fmt: skip
    return [
        Thing(
            row.tag_key, row.tag, row.id, True, row.item, row.version, row.state.value, "", row.place_id,
            row.retired_on is not None, None, row.left_pitches, row.pitch_um,
        )
        for row in session.execute(query)
    ]  # fmt: skip


def _with_holds(session: Session, units: Sequence[Thing], day: date) -> Iterable[Thing]:
    standing = holds_standing(session, [unit.id for unit in units]) if units else {}
    for unit in units:
        yield replace(unit, out=out_with(standing.get(unit.id, []), day))
