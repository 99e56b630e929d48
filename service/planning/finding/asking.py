"""Things found by what is typed. Four statements, however much there is."""

from collections.abc import Collection, Iterable, Mapping
from datetime import date
from typing import Any

from sqlalchemy import Connection, and_, case, func, literal, select, union_all
from sqlalchemy.orm import aliased

from service.control.addresses import channel_slot
from service.planning.finding.matching import Candidate, address, corrected, plain, ranked
from service.planning.finding.schemas import HitOut
from service.planning.records import Allotment, Patch, Plan, PlanStatus
from service.season.records import Production, ProductionStatus
from service.shows.records import Element, ElementStatus, Run, ScenicUnit
from service.stock.gear import GearModel, Unit
from service.stock.records import Outlet, Place, Reel, Tape

MOST_HITS = 40
LONGEST = 80  # characters; no honest question is longer
_home = aliased(Place)
_own = aliased(Place)
_spot = aliased(Place)
_supply, _decoder = aliased(Unit), aliased(Unit)


def hits(connection: Connection, typed: str, day: date) -> list[HitOut]:
    """What `typed` may mean, the likeliest first: elements, gear, outlets, reels, places and shows.

    An address (3/53) finds the elements that listen there. Every word must occur somewhere in what a thing is
    known by; the word for its kind may come before ("outlet MD2").
    """
    typed = typed[:LONGEST]
    spot = address(typed)
    if spot is not None:
        tags = _at_address(connection, *spot, day)
        return _elements(connection, tags)
    known, candidates = _everything(connection, day)
    kind, _, rest = plain(typed).partition(" ")
    found = ranked(typed, candidates) or ranked(rest, (c for c in candidates if known[c.tag].kind == kind))
    return _with_feeds(connection, [known[one.tag] for one in found[:MOST_HITS]])


def meant(connection: Connection, typed: str, day: date) -> str:
    """What somebody may have meant whose words found nothing: the same with the nearest words that are known;
    blank where nothing is near."""
    typed = typed[:LONGEST]
    return "" if address(typed) else corrected(typed, _everything(connection, day)[1])


def _everything(connection: Connection, day: date) -> tuple[dict[str, HitOut], list[Candidate]]:
    known: dict[str, HitOut] = {}
    candidates: list[Candidate] = []
    for hit, texts in [*_shows_elements(connection, day), *_gear(connection), *_others(connection)]:
        known[hit.tag] = hit
        candidates.append(Candidate(hit.tag, texts, hit.is_on))
    return known, candidates


def of_place(connection: Connection, day: date) -> list[tuple[str, str, int]]:
    """(show, place, how many elements) of every show that is on: where somebody without a name to type can
    begin."""
    counts: dict[tuple[str, str], int] = {}
    for hit, _ in _shows_elements(connection, day):
        if hit.is_on:
            counts[hit.title, hit.where] = counts.get((hit.title, hit.where), 0) + 1
    return [(title, where, count) for (title, where), count in counts.items()]


def _shows_elements(connection: Connection, day: date) -> Iterable[tuple[HitOut, tuple[str, ...]]]:
    rows = connection.execute(
        select(
            Element.tag, Element.name, Element.status, Production.tag.label("code"), Production.title,
            and_(
                Production.load_in <= day, Production.strike_end >= day,
                Production.status != ProductionStatus.CANCELLED,
            ).label("is_on"),
            ScenicUnit.name.label("unit"), _own.tag.label("place"), _own.name.label("place_name"),
        )
        .join(Production, Production.id == Element.production_id)
        .outerjoin(ScenicUnit, ScenicUnit.id == Element.scenic_unit_id)
        .outerjoin(_own, _own.id == func.coalesce(Element.place_id, ScenicUnit.place_id))
        .where(Element.retired_on.is_(None), Production.retired_on.is_(None))
        .where(Element.status != ElementStatus.CUT_FROM_SHOW)
        .order_by(Production.load_in.desc(), Element.id)
    )  # fmt: skip
    for row in rows.mappings():
        where = row["unit"] or row["place_name"] or row["place"] or ""
        yield (
            HitOut(
                kind="element", tag=row["tag"], name=row["name"], where=where, production=row["code"],
                title=row["title"], is_on=bool(row["is_on"]), status=row["status"],
            ),
            (row["tag"], row["name"], where, row["place"] or "", f"{row['code']} {row['title']}"),
        )  # fmt: skip


def _gear(connection: Connection) -> Iterable[tuple[HitOut, tuple[str, ...]]]:
    rows = connection.execute(
        select(
            Unit.tag, Unit.kind, Unit.state, GearModel.__table__.c.tag.label("model"),
            _home.name.label("home"), _home.tag.label("home_tag"), Unit.where_note,
            _spot.name.label("spot"),
        )
        .outerjoin(GearModel.__table__, GearModel.__table__.c.id == Unit.model_id)
        .outerjoin(_home, _home.id == Unit.home_id)
        .outerjoin(_spot, _spot.tag == Unit.where_note)
        .where(Unit.retired_on.is_(None))
    )  # fmt: skip
    for row in rows.mappings():
        model = row["model"] or row["kind"].value
        where = row["spot"] or row["where_note"] or row["home"] or row["home_tag"] or ""
        yield (
            HitOut(kind=row["kind"].value, tag=row["tag"], name=model, where=where, status=row["state"]),
            (row["tag"], model, where),
        )


def _others(connection: Connection) -> Iterable[tuple[HitOut, tuple[str, ...]]]:
    """Outlets, reels, places and shows, in one statement."""
    found = connection.execute(
        union_all(
            select(literal("outlet").label("kind"), Outlet.tag, Outlet.tag.label("name"), Outlet.position)
            .where(Outlet.retired_on.is_(None)),
            select(literal("reel"), Reel.tag, Tape.tag, Reel.lot)
            .join(Tape, Tape.id == Reel.tape_id).where(Reel.retired_on.is_(None)),
            select(literal("place"), Place.tag, case((Place.name == "", Place.tag), else_=Place.name),
                   literal("")).where(Place.retired_on.is_(None)),
            select(literal("show"), Production.tag, Production.title, literal(""))
            .where(Production.retired_on.is_(None)),
        )
    )  # fmt: skip
    for kind, tag, name, where in found:
        yield HitOut(kind=kind, tag=tag, name=name, where=where), (tag, name)


def _at_address(connection: Connection, universe: int, slot: int, day: date) -> list[str]:
    """Elements whose decoder, in a plan kept for the day, listens from at or below that slot to above it."""
    rows = connection.execute(
        select(
            Element.tag, Patch.start, Patch.mode, Patch.port, Allotment.first_channel, Allotment.channels,
            Patch.footprint, Tape.signal,
        )
        .select_from(Patch)
        .join(Plan, and_(Plan.id == Patch.plan_id, Plan.status == PlanStatus.KEPT))
        .join(Allotment, and_(Allotment.plan_id == Plan.id, Allotment.decoder_id == Patch.decoder_id))
        .join(Run, Run.id == Allotment.run_id)
        .join(Element, Element.id == Run.element_id)
        .outerjoin(Tape, Tape.id == Element.tape_id)
        .where(Patch.universe == universe, Plan.from_on <= day, Plan.until_on > day)
        .order_by(Element.tag_key)
    )  # fmt: skip
    return list(dict.fromkeys(row["tag"] for row in rows.mappings() if _listens(row, slot)))


def _listens(row: Mapping[Any, Any], slot: int) -> bool:
    if row["start"] is None or row["first_channel"] is None:
        return False
    if row["signal"] == "pixel":
        is_its_port = row["port"] in (0, row["first_channel"])
        return is_its_port and 0 <= slot - row["start"] < (row["footprint"] or 0)
    first, mode = row["first_channel"], row["mode"]
    after = channel_slot(row["start"], first + row["channels"], mode)
    return channel_slot(row["start"], first, mode) <= slot < after


def named(connection: Connection, tags: Collection[str], day: date) -> dict[str, HitOut]:
    """Those elements by tag: their names, and where they are."""
    return {hit.tag: hit for hit, _ in _shows_elements(connection, day) if hit.tag in tags}


def _elements(connection: Connection, tags: list[str]) -> list[HitOut]:
    wanted = {plain(tag) for tag in tags}
    every = (hit for hit, _ in _shows_elements(connection, date.max) if plain(hit.tag) in wanted)
    by_tag = {hit.tag: hit.model_copy(update={"is_on": True}) for hit in every}
    return _with_feeds(connection, [by_tag[tag] for tag in tags if tag in by_tag])


def _with_feeds(connection: Connection, found: list[HitOut]) -> list[HitOut]:
    """The elements among them with what feeds their first run."""
    rows = connection.execute(
        select(
            Element.tag, _supply.tag.label("supply"), Allotment.output, _decoder.tag.label("decoder"),
        )
        .select_from(Allotment)
        .join(Plan, and_(Plan.id == Allotment.plan_id, Plan.status == PlanStatus.KEPT))
        .join(Run, Run.id == Allotment.run_id)
        .join(Element, Element.id == Run.element_id)
        .outerjoin(_supply, _supply.id == Allotment.supply_id)
        .outerjoin(_decoder, _decoder.id == Allotment.decoder_id)
        .where(Element.tag.in_([hit.tag for hit in found if hit.kind == "element"]))
        .order_by(Run.number.desc())
    )  # fmt: skip
    fed = {row["tag"]: row for row in rows.mappings()}
    return [
        hit.model_copy(update={name: fed[hit.tag][name] for name in ("supply", "output", "decoder")})
        if hit.tag in fed and hit.kind == "element"
        else hit
        for hit in found
    ]
