"""What lies where: of every place, how much of each model and tape is there, and what of its own is out."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from pydantic import BaseModel, Field
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.planning.snapshot.show import find_production
from service.reports.report import Report, ReportAsk, counted
from service.season.issuing.standing import Standing, holds_standing, out_with
from service.stock.gear import GearModel, Unit, UnitState
from service.stock.records import Place, Reel, ReelState, Tape
from service.units import MICROMETRES_PER_METRE

NOWHERE = ""  # nobody wrote down where it lives
GONE = (ReelState.SCRAP, ReelState.WRITTEN_OFF, ReelState.USED_UP)


class Row(BaseModel):
    """One model or tape at one place. Figures are in `unit`."""

    place: str = Field(description="tag of the place; blank: nobody wrote down where it lives")
    name: str = Field(description="the place in words")
    item: str = Field(description="tag of the model or tape; enclosure for boxes")
    unit: str = Field(description="piece or m")
    here: float = Field(description="there now, in `unit`")
    sound: float = Field(description="of these, good ones; tape: all of it")
    missing: float = Field(description="of the place's own, what nobody can find")
    out: float = Field(description="of the place's own, what is with shows")
    out_with: list[str] = Field(description="codes of those shows")
    tags: list[str] = Field(description="units or reels that are there")


@dataclass(slots=True)
class _Sum:
    here: Decimal = Decimal(0)
    sound: Decimal = Decimal(0)
    missing: int = 0
    out: int = 0
    shows: set[str] = field(default_factory=set)
    tags: list[str] = field(default_factory=list)


def rows(session: Session, ask: ReportAsk) -> list[Row]:
    """Places in order of their tags. Of one production: what it has, by the place it came from. Three
    statements. Raises NotFound."""
    code = None if ask.production is None else find_production(session, ask.production).tag
    names = {row.tag: row.name for row in session.execute(select(Place.tag, Place.name))}
    found: dict[tuple[str, str, str], _Sum] = defaultdict(_Sum)
    _units(session, ask, found)
    _reels(session, found)
    told = [
        Row(
            place=place, name=names.get(place, ""), item=item, unit=unit, here=float(one.here),
            sound=float(one.sound), missing=one.missing, out=one.out, out_with=sorted(one.shows),
            tags=one.tags,
        )
        for (place, item, unit), one in sorted(found.items())
    ]  # fmt: skip
    return [row for row in told if code is None or code in row.out_with]


def _units(session: Session, ask: ReportAsk, found: dict[tuple[str, str, str], _Sum]) -> None:
    standing = holds_standing(session)
    home, seen = Place.__table__.alias("home"), Place.__table__.alias("seen")
    model = GearModel.__table__.c
    query = (
        select(
            Unit.id, Unit.tag, Unit.kind, Unit.state, model.tag.label("model"), home.c.tag.label("home"),
            func.coalesce(seen.c.tag, home.c.tag).label("at"),
        )
        .outerjoin(GearModel.__table__, model.id == Unit.model_id)
        .outerjoin(home, home.c.id == Unit.home_id)
        .outerjoin(seen, seen.c.id == Unit.seen_place_id)
        .where(Unit.retired_on.is_(None))
        .order_by(Unit.tag_key)
    )  # fmt: skip
    for row in session.execute(query):
        item = row.model or row.kind.value
        out: Standing | None = out_with(standing.get(row.id, []), ask.as_of)
        if row.state is UnitState.MISSING or out is not None:
            own = found[row.home or NOWHERE, item, "piece"]
            own.missing += row.state is UnitState.MISSING
            if out is not None and row.state is not UnitState.MISSING:
                own.out += 1
                own.shows.add(out.code)
            continue
        there = found[row.at or NOWHERE, item, "piece"]
        there.here += 1
        there.sound += row.state is UnitState.GOOD
        there.tags.append(row.tag)


def _reels(session: Session, found: dict[tuple[str, str, str], _Sum]) -> None:
    query = (
        select(Reel.tag, Reel.left_pitches, Tape.tag.label("tape"), Tape.pitch_um, Place.tag.label("place"))
        .join(Tape, Tape.id == Reel.tape_id)
        .outerjoin(Place, Place.id == Reel.place_id)
        .where(Reel.retired_on.is_(None), Reel.left_pitches > 0, Reel.state.not_in(GONE))
        .order_by(Reel.tag_key)
    )
    for row in session.execute(query):
        there = found[row.place or NOWHERE, row.tape, "m"]
        length = Decimal(row.left_pitches * row.pitch_um) / MICROMETRES_PER_METRE
        there.here += length
        there.sound += length
        there.tags.append(row.tag)


def _summary(session: Session, ask: ReportAsk, found: Sequence[BaseModel]) -> dict[str, object]:
    places = {row.place for row in found if isinstance(row, Row)}
    return {**counted(session, ask, found), "places": len(places)}


REPORT = Report("stock-by-place", "What lies where", Row, rows, _summary)
