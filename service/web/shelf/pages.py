"""What there is of each thing, and the reels to cut from first."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Path, Query
from starlette.responses import Response

from service.planning.finding.matching import plain
from service.reports.shelf.counts import Count, Shelf, counted
from service.reports.shelf.reels import TapeOnShelf, reels_on_shelf
from service.web.frame.pages import PageRoute, Reader, ReaderDep
from service.web.shelf.drawings import Spark, sparks

KINDS = ("supply", "decoder", "battery", "tape")
SHORT = "short"
Kind = Annotated[str, Query(max_length=20)]
Typed = Annotated[str, Query(max_length=80)]


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which things are told: of one kind, only those that run short, with these words."""

    kind: str = ""
    typed: str = ""

    def takes(self, count: Count) -> bool:
        is_meant = self.kind in ("", count.kind) or (self.kind == SHORT and count.is_short)
        return is_meant and all(word in _known_by(count) for word in plain(self.typed).split())


@dataclass(frozen=True, slots=True)
class Shown:
    """A thing with what it is in words, and its season drawn small."""

    count: Count
    words: str
    spark: Spark | None


def _known_by(count: Count) -> str:
    figures = " ".join(f"{value:g} {unit} {value:g}{unit}" for value, unit in count.made.figures)
    who = " ".join(code for code, _ in count.out)
    return plain(f"{count.item} {count.kind} {count.made.word} {figures} {who}")


def _wanted(kind: str, typed: str) -> Wanted:
    return Wanted(kind if kind in (*KINDS, SHORT) else "", typed)


def rows_of(reader: Reader, shelf: Shelf, wanted: Wanted) -> list[tuple[str, list[Shown]]]:
    """What is told, kind by kind."""
    drawn = sparks(shelf.counts, reader.today)
    shown = [
        Shown(count, what_it_is(reader, count), drawn.get(count.item))
        for count in shelf.counts
        if wanted.takes(count)
    ]
    groups = [(kind, [one for one in shown if one.count.kind == kind]) for kind in KINDS]
    return [(kind, of_it) for kind, of_it in groups if of_it]


def what_it_is(reader: Reader, count: Count) -> str:
    """A model or tape in a few words: volts, watts, channels, colour."""
    said = [count.made.word, *(reader.figure(value, unit) for value, unit in count.made.figures)]
    if count.made.channels:
        said.append(reader.say("shelf-channels", count=count.made.channels))
    return ", ".join(filter(None, said))


def amount(reader: Reader, count: Count, quantity: float) -> str:
    """A quantity of it as the reader reads it: pieces, or a length."""
    return reader.length(quantity) if count.unit == "m" else f"{quantity:g}"


def _shelf(reader: ReaderDep, kind: Kind = "", q: Typed = "") -> Response:
    with reader.desk.store.reading() as session:
        shelf, tapes = counted(session, reader.today), reels_on_shelf(session)
    wanted = _wanted(kind, q)
    return reader.page(
        "shelf/shelf.html",
        shelf=shelf,
        tapes=tapes,
        headline=headline(reader, shelf, tapes),
        lede=_lede(reader, shelf),
        wanted=wanted,
        kinds=[(one, sum(Wanted(one).takes(count) for count in shelf.counts)) for one in ("", *KINDS, SHORT)],
        **_rows(reader, shelf, wanted),
    )


def _rows(reader: Reader, shelf: Shelf, wanted: Wanted) -> dict[str, Any]:
    return {
        "rows": rows_of(reader, shelf, wanted),
        "typed": wanted.typed,
        "amount": lambda count, quantity: amount(reader, count, quantity),
    }


def headline(reader: Reader, shelf: Shelf, tapes: Sequence[TapeOnShelf]) -> str:
    """The first thing to know of the shelf."""
    if not shelf.counts:
        return reader.say("shelf-empty")
    short = [count for count in shelf.counts if count.is_short]
    of_tape = sum(count.kind == "tape" for count in short)
    of_gear = len(short) - of_tape
    parts = [
        reader.say(key, count=count)
        for key, count in (("shelf-models", of_gear), ("shelf-tapes", of_tape))
        if count
    ]
    in_use = sum(len(tape.first) for tape in tapes)
    said = (
        reader.say("shelf-short", count=len(short), what=reader.say("shelf-and", a=parts[0], b=parts[-1]))
        if len(parts) > 1
        else reader.say("shelf-short", count=len(short), what=parts[0])
        if parts
        else reader.say("shelf-enough")
    )
    return f"{said}; {reader.say('shelf-open-reels', count=in_use)}"


def _lede(reader: Reader, shelf: Shelf) -> str:
    overdue = sum(count.overdue for count in shelf.counts if count.kind != "tape")
    said = [reader.say("shelf-now", count=shelf.short_today)] if shelf.counts else []
    if overdue:
        said.append(reader.say("shelf-overdue", count=overdue))
    return " ".join(said)


def _all_rows(reader: ReaderDep, q: Typed = "") -> Response:
    return _some_rows("", reader, q)


def _some_rows(kind: Annotated[str, Path(max_length=20)], reader: ReaderDep, q: Typed = "") -> Response:
    with reader.desk.store.reading() as session:
        shelf = counted(session, reader.today)
    return reader.page("shelf/_rows.html", **_rows(reader, shelf, _wanted(kind, q)))


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    routes.add_api_route("/shelf", _shelf)
    routes.add_api_route("/shelf/rows", _all_rows)
    routes.add_api_route("/shelf/rows/{kind}", _some_rows)
    return routes
