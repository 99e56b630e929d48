"""A place counted on a phone: begun, ticked off, what differs settled, closed."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Path, Query
from starlette.responses import Response

from service.errors import BadQuantity, BadRequest, BadValues, RowError, ServiceError
from service.reports.shelf.places import counting
from service.season.counting.records import Outcome
from service.season.counting.schemas import BeginAsk, CountOne, StocktakeLineOut, StocktakeOut
from service.season.counting.settling import accept, look_for
from service.season.counting.taking import Counted, Hand, begin, close, count, find_stocktake
from service.season.counting.telling import lines_out, stocktakes_out
from service.season.counting.undoing import undo
from service.units import to_um
from service.web.frame.forms import Refusal, Typed, asked, refused, tags_in
from service.web.frame.pages import PageRoute, Reader, ReaderDep, go
from service.web.frame.wishes import signed

Name = Annotated[str, Path(max_length=80)]
Word = Annotated[str, Query(max_length=400)]
MOST = 40  # lines to tick off on one page
STATES = ("suspect", "faulty")


@dataclass(frozen=True, slots=True)
class Lines:
    """The lines of a stocktake by what is to be done with them."""

    to_count: list[StocktakeLineOut]
    differ: list[StocktakeLineOut]
    to_look_for: list[StocktakeLineOut]
    settled: list[StocktakeLineOut]


def _places(reader: ReaderDep) -> Response:
    return _places_page(reader)


def _places_page(reader: Reader, refusal: Refusal | None = None, place: str = "") -> Response:
    with reader.desk.store.reading() as session:
        found = counting(session, reader.today)
    status = 200 if refusal is None else refusal.status
    return reader.page("shelf/places.html", status, found=found, refusal=refusal, place=place)


def _begin(reader: ReaderDep, typed: Typed) -> Response:
    hand = Hand(reader.by_name(typed.get("name", "")), reader.today)

    def action(session: Any) -> str:
        return begin(session, ask.place, hand).number or ""

    try:
        ask = asked(BeginAsk, place=typed.get("place"))
        number = reader.desk.store.write(action, by=hand.by)
    except ServiceError as error:
        return _places_page(reader, refused(error), typed.get("place", ""))
    return signed(go(address(number)), typed.get("name", ""))


def address(number: str) -> str:
    return f"/shelf/count/{quote(number, safe='')}"


def _one(
    number: Name, reader: ReaderDep, page: Annotated[int, Query(ge=1, le=10_000)] = 1, done: Word = ""
) -> Response:
    return _page(reader, number, page=page, done=done)


def _page(
    reader: Reader, number: str, refusal: Refusal | None = None, typed: dict[str, str] | None = None,
    page: int = 1, done: str = "",
) -> Response:  # fmt: skip
    """The stocktake. `typed`: what stood in the form that was refused."""
    with reader.desk.store.reading() as session:
        stocktake = find_stocktake(session, number)
        told = stocktakes_out(session, [stocktake])[0]
        lines = _sorted(lines_out(session, [stocktake], reader.today))
    pages = max(1, -(-len(lines.to_count) // MOST))
    page = min(page, pages)
    return reader.page(
        "shelf/count.html",
        200 if refusal is None else refusal.status,
        stocktake=told,
        lines=lines,
        shown=lines.to_count[(page - 1) * MOST : page * MOST],
        at_page=page,
        pages=pages,
        refusal=refusal,
        typed=typed or {},
        done=done,
        headline=headline(reader, told),
        states=STATES,
    )


def _sorted(lines: list[StocktakeLineOut]) -> Lines:
    def those(*outcomes: Outcome) -> list[StocktakeLineOut]:
        return [line for line in lines if line.outcome in outcomes]

    return Lines(
        those(Outcome.TO_COUNT),
        those(Outcome.DIFFERS),
        those(Outcome.TO_LOOK_FOR),
        those(Outcome.AGREES, Outcome.ACCEPTED),
    )


def headline(reader: Reader, one: StocktakeOut) -> str:
    """How far it is."""
    if one.status != "open":
        return reader.say(f"count-{one.status}", place=one.place)
    every = one.to_count + one.agrees + one.differs + one.accepted + one.to_look_for
    if one.differs:
        return reader.say("count-differs", place=one.place, count=one.differs)
    if one.to_count:
        return reader.say("count-so-far", place=one.place, counted=every - one.to_count, all=every)
    return reader.say("count-all", place=one.place, count=every)


def _count(number: Name, reader: ReaderDep, typed: Typed) -> Response:
    hand = Hand(reader.by, reader.today)

    def action(session: Any) -> int:
        return len(count(session, number, counts, hand))

    try:
        counts = _read(typed, reader)
        done = reader.desk.store.write(action, by=hand.by)
    except ServiceError as error:
        return _page(reader, number, refused(error), typed)
    return go(f"{address(number)}?done={done}")


def _read(typed: dict[str, str], reader: Reader) -> list[Counted]:
    """What was scanned, and every line that was ticked. Raises BadValues, BadRequest."""
    found: list[Counted] = []
    faults: list[RowError] = []
    scanned = tags_in(typed.get("tags", ""))
    if len(scanned) > 1 and typed.get("length"):
        raise reader.refuse(BadRequest, "count-one-length")
    for tag in scanned:
        _add(found, faults, tag, {"length": typed.get("length", "")})
    for field, said in typed.items():
        kind, _, tag = field.partition(":")
        if kind == "here" and said in ("yes", "no"):
            own = {name: typed.get(f"{name}:{tag}", "") for name in ("length", "state", "note")}
            _add(found, faults, tag, own if said == "yes" else {"note": own["note"]}, said == "yes")
    if faults:
        raise BadValues(faults)
    if not found:
        raise reader.refuse(BadRequest, "count-unticked")
    return found


def _add(
    found: list[Counted], faults: list[RowError], tag: str, said: dict[str, str], is_found: bool = True
) -> None:
    try:
        length = said.get("length", "")
        length_mm = to_um(length) / 1000 if length else None
        one = asked(
            CountOne, tag=tag, found=is_found, length_mm=length_mm, state=said.get("state"),
            note=said.get("note"),
        )  # fmt: skip
        found.append(Counted(one.tag, one.found, one.state.lower(), one.length_mm, one.pitches, one.note))
    except BadQuantity as error:
        faults.append(RowError("", None, None, f"{tag}: {error.message}", error.mend))
    except BadValues as error:
        faults += [RowError("", None, None, f"{tag}: {row.message}", row.mend) for row in error.errors]


Settle = Callable[[Any, str, list[str], Hand], object]


def _settle(reader: Reader, number: str, typed: dict[str, str], settle: Settle) -> Response:
    hand, tags = Hand(reader.by, reader.today), tags_in(typed.get("tag", ""))

    def action(session: Any) -> None:
        settle(session, number, tags, hand)

    try:
        reader.desk.store.write(action, by=hand.by)
    except ServiceError as error:
        return _page(reader, number, refused(error))
    return go(address(number))


def _accept(number: Name, reader: ReaderDep, typed: Typed) -> Response:
    return _settle(reader, number, typed, lambda s, name, tags, hand: accept(s, name, tags, hand))


def _look_for(number: Name, reader: ReaderDep, typed: Typed) -> Response:
    return _settle(reader, number, typed, lambda s, name, tags, _hand: look_for(s, name, tags))


def _undo(number: Name, reader: ReaderDep, typed: Typed) -> Response:
    return _settle(reader, number, typed, lambda s, name, tags, hand: undo(s, name, tags, hand))


def _end(reader: Reader, number: str, abandon: bool) -> Response:
    hand = Hand(reader.by, reader.today)

    def action(session: Any) -> str:
        return close(session, number, hand, abandon=abandon).number or ""

    try:
        printed = reader.desk.store.write(action, by=hand.by)
    except ServiceError as error:
        return _page(reader, number, refused(error))
    return go(address(printed))


def _close(number: Name, reader: ReaderDep) -> Response:
    return _end(reader, number, abandon=False)


def _abandon(number: Name, reader: ReaderDep) -> Response:
    return _end(reader, number, abandon=True)


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    one = "/shelf/count/{number}"
    routes.add_api_route("/shelf/count", _places)
    routes.add_api_route("/shelf/count", _begin, methods=["POST"])
    routes.add_api_route(one, _one)
    routes.add_api_route(one, _count, methods=["POST"])
    acts = (
        ("accept", _accept), ("look-for", _look_for), ("undo", _undo), ("close", _close),
        ("abandon", _abandon),
    )  # fmt: skip
    for act, does in acts:
        routes.add_api_route(f"{one}/{act}", does, methods=["POST"])
    return routes
