"""Every feed of the shows on stage, short enough to be kept on a phone."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import Any

from sqlalchemy import Connection, and_, case, func, select
from sqlalchemy.orm import aliased

from service.control.addresses import channel_slot
from service.planning.records import Allotment, Patch, Placing, Plan, PlanStatus
from service.season.records import Production, ProductionStatus
from service.shows.records import Element, ElementStatus, Run, ScenicUnit
from service.stock.gear import Unit
from service.stock.records import Outlet, Place, Tape

_supply, _decoder = aliased(Unit), aliased(Unit)
_supply_at, _decoder_at = aliased(Placing), aliased(Placing)
_supply_place, _decoder_place, _own = aliased(Place), aliased(Place), aliased(Place)
GONE = (ElementStatus.STRUCK, ElementStatus.CUT_FROM_SHOW)


@dataclass(frozen=True, slots=True)
class KeptWay:
    """One way to some runs of an element, with where it listens. `slot`: of its first channel."""

    runs: tuple[int, ...]
    supply: str
    output: int
    supply_place: str
    outlet: str
    decoder: str
    first_channel: int | None
    channels: int
    decoder_place: str
    universe: int | None
    slot: int | None


@dataclass(frozen=True, slots=True)
class KeptFeed:
    """An element of a show on stage, and its ways; none where nothing feeds it."""

    element: str
    name: str
    where: str
    production: str
    title: str
    status: str
    ways: tuple[KeptWay, ...]


def kept_feeds(connection: Connection, day: date) -> list[KeptFeed]:
    """All elements of the shows that are on stage that day, in the order of their tags. One statement."""
    rows = connection.execute(_statement(day)).mappings().all()
    return [_feed(list(runs)) for _, runs in groupby(rows, key=lambda row: row["element"])]


def _statement(day: date) -> Any:
    return (
        select(
            Element.tag.label("element"), Element.name, Element.status, Production.tag.label("production"),
            Production.title, func.coalesce(ScenicUnit.name, _own.name, _own.tag, "").label("where"),
            Run.number.label("run"), Allotment.output, Allotment.first_channel, Allotment.channels,
            _supply.tag.label("supply"), func.coalesce(_supply_place.name, "").label("supply_place"),
            Outlet.tag.label("outlet"), _decoder.tag.label("decoder"),
            func.coalesce(_decoder_place.name, "").label("decoder_place"),
            Patch.universe, Patch.start, Patch.mode, Tape.signal,
        )
        .select_from(Element)
        .join(Production, Production.id == Element.production_id)
        .join(Run, Run.element_id == Element.id)
        .outerjoin(ScenicUnit, ScenicUnit.id == Element.scenic_unit_id)
        .outerjoin(_own, _own.id == func.coalesce(Element.place_id, ScenicUnit.place_id))
        .outerjoin(Tape, Tape.id == Element.tape_id)
        .outerjoin(Plan, and_(Plan.production_id == Production.id, Plan.status == PlanStatus.KEPT))
        .outerjoin(Allotment, and_(Allotment.plan_id == Plan.id, Allotment.run_id == Run.id))
        .outerjoin(_supply, _supply.id == Allotment.supply_id)
        .outerjoin(_decoder, _decoder.id == Allotment.decoder_id)
        .outerjoin(_supply_at, and_(_supply_at.plan_id == Plan.id, _supply_at.unit_id == _supply.id))
        .outerjoin(_decoder_at, and_(_decoder_at.plan_id == Plan.id, _decoder_at.unit_id == _decoder.id))
        .outerjoin(_supply_place, _supply_place.id == _supply_at.place_id)
        .outerjoin(_decoder_place, _decoder_place.id == _decoder_at.place_id)
        .outerjoin(Outlet, Outlet.id == _supply_at.outlet_id)
        .outerjoin(
            Patch,
            and_(
                Patch.plan_id == Plan.id, Patch.decoder_id == _decoder.id,
                Patch.port == case((Tape.signal == "pixel", Allotment.first_channel), else_=0),
            ),
        )
        .where(Production.load_in <= day, Production.strike_end >= day, Production.retired_on.is_(None))
        .where(Production.status != ProductionStatus.CANCELLED)
        .where(Element.status.not_in(GONE), Element.retired_on.is_(None))
        .order_by(Element.tag_key, Run.number)
    )  # fmt: skip


def _feed(runs: list[Mapping[Any, Any]]) -> KeptFeed:
    first = runs[0]
    return KeptFeed(
        first["element"], first["name"], first["where"], first["production"], first["title"],
        first["status"], tuple(_ways(runs)),
    )  # fmt: skip


def _ways(runs: list[Mapping[Any, Any]]) -> Iterable[KeptWay]:
    alike: dict[tuple[Any, ...], list[Mapping[Any, Any]]] = {}
    for run in runs:
        if run["supply"]:
            way = (run["supply"], run["output"], run["decoder"], run["first_channel"], run["channels"])
            alike.setdefault(way, []).append(run)
    for same in alike.values():
        run = same[0]
        yield KeptWay(
            tuple(r["run"] for r in same), run["supply"], run["output"], run["supply_place"],
            run["outlet"] or "", run["decoder"] or "", run["first_channel"], run["channels"] or 0,
            run["decoder_place"], run["universe"], _slot(run),
        )  # fmt: skip


def _slot(run: Mapping[Any, Any]) -> int | None:
    start, first = run["start"], run["first_channel"]
    if start is None or first is None or run["signal"] == "pixel":
        return None if start is None else int(start)
    return channel_slot(start, first, run["mode"])
