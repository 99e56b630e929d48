"""What could stand in for a unit, what one would change, and the button that does it; and back."""

from dataclasses import dataclass
from typing import Annotated, Any
from urllib.parse import quote, urlencode

from fastapi import APIRouter, Form, Path, Query
from pydantic import BaseModel, Field
from starlette.responses import Response

from service.errors import BadRequest, NotFound, ServiceError
from service.planning.swapping.acting.doing import swap
from service.planning.swapping.acting.telling import (
    caution_of,
    find_swap,
    labels_left,
    said_to_the_next,
    swap_out,
    swap_that_stands,
)
from service.planning.swapping.acting.trying import tried
from service.planning.swapping.acting.undoing import undo
from service.planning.swapping.offering import offered
from service.planning.swapping.reading import find_unit
from service.planning.swapping.schemas import SwapAsk, SwappedOut
from service.reports.report import ReportAsk
from service.reports.season import spares
from service.stock.gear import GearKind
from service.stock.gear_queries import BATTERIES, DECODERS, SUPPLIES
from service.web.frame.pages import PageRoute, Reader, ReaderDep, go, status_of
from service.web.frame.wishes import signed
from service.web.swap.views import CHOICES, EXCHANGE, KNOWN, SUSPECTS, cards, headline, in_reserve, lines

Tag = Annotated[str, Path(max_length=80)]
Number = Annotated[str, Path(max_length=40)]
Word = Annotated[str, Query(max_length=80)]
PLURALS = {
    GearKind.SUPPLY: SUPPLIES.plural,
    GearKind.DECODER: DECODERS.plural,
    GearKind.BATTERY: BATTERIES.plural,
}
AT_HAND = 2  # on the page of a feed; the others are one tap away
LEAST_WORDS = 5  # of a reason: "ok" is none


class Told(BaseModel):
    """What is said with a swap. `mark`: what the page was true of; `of`: the element somebody came from."""

    choice: str = Field(default="", max_length=20)
    words: str = Field(default="", max_length=180)
    name: str = Field(default="", max_length=80)
    why: str = Field(default="", max_length=200)
    mark: str = Field(default="", max_length=40)
    show: str = Field(default="", max_length=80)
    of: str = Field(default="", max_length=80)


@dataclass(frozen=True, slots=True)
class At:
    """Whose page it is, for which show, and the element that somebody came from."""

    kind: GearKind
    tag: str
    show: str
    of: str

    @property
    def unit(self) -> str:
        return f"/{PLURALS[self.kind]}/{quote(self.tag, safe='')}"

    @property
    def along(self) -> str:
        """What every address of the way carries along."""
        said = {name: value for name, value in (("show", self.show), ("of", self.of)) if value}
        return f"?{urlencode(said)}" if said else ""

    @property
    def back(self) -> str:
        return f"/elements/{quote(self.of, safe='')}" if self.of else self.unit


def _at(reader: Reader, session: Any, kind: GearKind, tag: str, show: str, of: str) -> At:
    """Raises NotFound where the tag is of nothing, or of another kind."""
    unit = find_unit(session, tag)
    if unit.kind != kind:
        raise reader.refuse(NotFound, "refused-other-kind", tag=unit.tag, kind=unit.kind.value)
    return At(kind, unit.tag, show, of)


def _add_kind(routes: APIRouter, kind: GearKind) -> None:
    def choose(tag: Tag, reader: ReaderDep, show: Word = "", of: Word = "") -> Response:
        return _choose(reader, _known(reader, kind, tag, show, of))

    def best(tag: Tag, reader: ReaderDep, show: Word = "", of: Word = "") -> Response:
        at = At(kind, tag, show, of)
        try:
            with reader.desk.store.reading() as session:
                found = offered(session, tag, show or None, reader.today)
        except ServiceError as error:
            # Part of a page that is fine without it: a refusal is one more line there.
            return reader.page("swap/_best.html", at=at, refused=error)
        every = cards(found, reader)
        return reader.page(
            "swap/_best.html",
            at=at,
            refused=None,
            found=found,
            head=headline(found, reader),
            cards=every[:AT_HAND],
        )

    def confirm(tag: Tag, new: Tag, reader: ReaderDep, show: Word = "", of: Word = "") -> Response:
        return _ask(reader, _known(reader, kind, tag, show, of), new)

    def done(tag: Tag, new: Tag, reader: ReaderDep, told: Annotated[Told, Form()]) -> Response:
        return _do(reader, _known(reader, kind, tag, told.show, told.of), new, told)

    path = f"/{PLURALS[kind]}/{{tag}}/swaps"
    routes.add_api_route(path, choose)
    routes.add_api_route(f"{path}/best", best)
    routes.add_api_route(f"{path}/{{new}}", confirm)
    routes.add_api_route(f"{path}/{{new}}", done, methods=["POST"])


def _known(reader: Reader, kind: GearKind, tag: str, show: str, of: str) -> At:
    with reader.desk.store.reading() as session:
        return _at(reader, session, kind, tag, show, of)


def _choose(reader: Reader, at: At, new: str = "", refused: ServiceError | None = None) -> Response:
    """What could stand in. `refused`: why `new` cannot yet. Raises that where no other show has to give `new`
    back first."""
    with reader.desk.store.reading() as session:
        found = offered(session, at.tag, at.show or None, reader.today)
        kept = spares.rows(session, ReportAsk(reader.today, found.asked.production))
    if refused is not None and not ((offer := found.of(new)) and offer.is_lent):
        raise refused
    return reader.page(
        "swap/choose.html",
        200 if refused is None else status_of(refused),
        at=at,
        found=found,
        head=headline(found, reader),
        cards=cards(found, reader),
        reserve=in_reserve(kept, found.asked.model, reader),
        refused=refused,
    )


def _ask(
    reader: Reader, at: At, new: str, told: Told | None = None, refused: ServiceError | None = None
) -> Response:
    """What it would change, found out without keeping anything; and what was typed, where it was refused.
    What is done already is told as done."""
    try:
        with reader.desk.store.supposing(reader.by) as session:
            found = tried(session, at.tag, new, at.show or None, reader.today, reader.by)
    except ServiceError as error:
        with reader.desk.store.reading() as session:
            stands = swap_that_stands(session, at.tag, new)
        if stands is None:
            return _choose(reader, at, new, error)
        return _to(stands.number or "", at.of)
    first = (KNOWN,) if found.known else ()
    return reader.page(
        "swap/confirm.html",
        200 if refused is None else status_of(refused),
        at=at,
        new=found.told.new,
        found=found,
        lines=lines(found.differs, reader),
        caution=found.told.caution,
        choices=(*first, *CHOICES[at.kind]),
        said=told or Told(choice=(*first, *CHOICES[at.kind])[0], name=reader.wishes.name),
        refused=refused,
    )


def _do(reader: Reader, at: At, new: str, told: Told) -> Response:
    by = reader.by_name(told.name)

    def action(session: Any) -> SwappedOut:
        marks = frozenset({told.mark}) if told.mark else None
        return swap(session, at.tag, _asked(reader, at, new, told), reader.today, by, marks)

    try:
        number = reader.desk.store.write(action, by=by).number
    except ServiceError as error:
        return _ask(reader, at, new, told, error)
    return signed(_to(number, at.of), told.name)


def _asked(reader: Reader, at: At, new: str, told: Told) -> SwapAsk:
    why = told.why.strip()
    if why and len(why) < LEAST_WORDS:
        raise reader.refuse(BadRequest, "swap-no-reason")
    if told.choice not in (KNOWN, *CHOICES[at.kind]):
        raise reader.refuse(BadRequest, "swap-no-finding")
    is_exchange = told.choice == EXCHANGE
    said = [] if is_exchange or told.choice == KNOWN else [reader.say(f"swap-found-{told.choice}")]
    return SwapAsk(
        swap_for=new,
        found="; ".join(filter(None, (*said, " ".join(told.words.split())))),
        state="suspect" if told.choice in SUSPECTS else "faulty",
        keep_old=is_exchange,
        production=at.show or None,
        despite_limits=why or None,
    )


def _swap(number: Number, reader: ReaderDep, of: Word = "") -> Response:
    with reader.desk.store.reading() as session:
        found = find_swap(session, number)
        told, labels = swap_out(session, found), labels_left(session, found)
        note, caution = said_to_the_next(session, found), caution_of(session, found)
    return reader.page("swap/done.html", swap=told, labels=labels, note=note, caution=caution, of=of)


def _undo(number: Number, reader: ReaderDep, of: Annotated[str, Form(max_length=80)] = "") -> Response:
    done = reader.desk.store.write(lambda session: undo(session, number, reader.by).number, by=reader.by)
    return _to(done or number, of)


def _to(number: str, of: str) -> Response:
    back = f"?{urlencode({'of': of})}" if of else ""
    return go(f"/swaps/{quote(number, safe='')}{back}")


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    for kind in PLURALS:
        _add_kind(routes, kind)
    routes.add_api_route("/swaps/{number}", _swap)
    routes.add_api_route("/swaps/{number}/undo", _undo, methods=["POST"])
    return routes
