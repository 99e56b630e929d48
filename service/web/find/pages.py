"""Find, and the feed of an element."""

from collections.abc import Mapping
from itertools import groupby
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Path, Query
from pydantic import AfterValidator, BaseModel, Field
from starlette.responses import Response

from service.errors import BadValues, NotFound, StepRefused
from service.kinds import actions
from service.kinds.actions import Hand
from service.kinds.bodies import taken
from service.kinds.sheets.shows import ELEMENTS
from service.kinds.steps.walking import LONGEST_WORDS, Words
from service.kinds.upkeep.notes import NOTES
from service.planning.finding.asking import MOST_HITS, hits, meant, named, of_place
from service.planning.finding.happened import is_noted, is_up, open_fault, open_notes, status_of
from service.planning.finding.matching import plain
from service.planning.queries import fed_by_unit, feed_of
from service.reports.loads import weigh_boxed
from service.reports.past import past_of_element
from service.shows.records import ElementStatus
from service.stock.gear import GearKind
from service.store.audit import person
from service.store.base import sound
from service.web.find.views import pulled, swappable, ways
from service.web.frame.forms import Refusal, asked, refused
from service.web.frame.forms import Typed as TypedForm
from service.web.frame.pages import PageRoute, Reader, ReaderDep, go
from service.web.frame.wishes import signed
from service.web.things.past import past

Tag = Annotated[str, Path(max_length=80)]
Typed = Annotated[str, Query(max_length=80)]
MOST_NOTES = 3  # beside the fault; the history has all
POWER = (GearKind.SUPPLY, GearKind.BATTERY)


class FoundWords(BaseModel):
    """What is said with a choice, and by whom."""

    words: Annotated[str, AfterValidator(sound)] = Field(default="", max_length=180)
    name: str = Field(default="", max_length=80)


CHOICES = ("out", "flicker", "colour", "dim")


def _hits(reader: Reader, typed: str) -> dict[str, Any]:
    with reader.desk.store.lookup() as connection:
        found = hits(connection, typed, reader.today) if typed.strip() else []
        instead = meant(connection, typed, reader.today) if typed.strip() and not found else ""
        if instead:
            found = hits(connection, instead, reader.today)
        on = [] if typed.strip() else of_place(connection, reader.today)
    shows = [
        (show, [(where, count) for _, where, count in places])
        for show, places in groupby(on, key=lambda row: row[0])
    ]
    return {"typed": typed, "instead": instead, "hits": found, "shows": shows, "most": MOST_HITS}


def _find(reader: ReaderDep, q: Typed = "") -> Response:
    return reader.page("find/find.html", **_hits(reader, q))


def _find_hits(reader: ReaderDep, q: Typed = "") -> Response:
    return reader.page("find/_hits.html", **_hits(reader, q))


def _feed(tag: Tag, reader: ReaderDep, done: str = "") -> Response:
    with reader.desk.store.lookup() as connection:
        feed = feed_of(connection, tag)
        found = ways(feed, reader)
        outputs = {
            (way.supply, way.output): [
                row["element"]
                for row in fed_by_unit(connection, way.supply, POWER, int(way.output))
                if row["production"] == feed["production"]
            ]
            for way in found
            if way.feeds
        }
        names = named(connection, {tag for way in found for tag in way.feeds}, reader.today)
    with reader.desk.store.reading() as session:
        fault = open_fault(session, feed["element"])
        notes = open_notes(session, feed["element"])
        history = past(past_of_element(session, ELEMENTS, feed["element"]), reader)
        weigh_boxed(feed, lambda code: reader.desk.shows.of(session, code, reader.today, reader.today).around)
    found = ways(feed, reader)
    return reader.page(
        "find/feed.html",
        feed=feed,
        where=feed["scenic_unit"] or feed["place_name"] or feed["place"],
        ways=found,
        pulled=pulled(found, feed["element"], outputs, names),
        fault=fault,
        notes=notes[:MOST_NOTES],
        reasons=_reasons(feed),
        swappable=swappable(found),
        history=history,
        done=_told(done, is_dark=fault is not None),
    )


def _reasons(feed: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Why nothing feeds it and what would mend that, what several runs share once."""
    dark = [run for run in feed["runs"] if run["unfed_because"]]
    return list(dict.fromkeys((run["unfed_because"], run["unfed_mend"] or "") for run in dark))


def _told(done: str, is_dark: bool) -> str:
    """The words for what has just been done, if it still is so."""
    if done == "note":
        return "again-noted"
    if done == "works":
        return "" if is_dark else "again-works"
    return "found-done" if done and is_dark else ""


def _ask(tag: Tag, reader: ReaderDep) -> Response:
    return _ask_found(tag, reader, {"name": reader.wishes.name}, None)


def _ask_found(tag: str, reader: Reader, typed: dict[str, str], refusal: Refusal | None) -> Response:
    with reader.desk.store.lookup() as connection:
        feed = feed_of(connection, tag)
    status = 200 if refusal is None else refusal.status
    return reader.page("find/found.html", status, feed=feed, typed=typed, refusal=refusal)


def _found(tag: Tag, reader: ReaderDep, typed: TypedForm) -> Response:
    choice = typed.get("choice", "out")
    if choice not in CHOICES:
        raise reader.refuse(NotFound, "refused-no-choice", choice=choice)
    name = typed.get("name", "")
    by = reader.by_name(name)

    def action(session: Any) -> str:
        if status_of(session, tag) == ElementStatus.DARK:
            return ""
        # Somebody who stands before it may say that it is out, whatever the book says of it.
        despite = "" if is_up(session, tag) else reader.say("found-despite")
        hand = Hand(by, reader.today)
        row, _ = actions.step(session, ELEMENTS, (tag, "dark"), Words(said, despite), None, hand)
        return str(row["tag"])

    try:
        words = asked(FoundWords, words=" ".join(typed.get("words", "").split()), name=typed.get("name"))
        said = "; ".join(filter(None, (reader.say(f"found-{choice}"), words.words)))[:LONGEST_WORDS]
        printed = reader.desk.store.write(action, by=by)
    except BadValues as error:
        refusal = refused(error, "words", "name")
        if refusal.loose:
            raise
        return _ask_found(tag, reader, typed, refusal)
    if not printed:
        return _found_again(reader, tag, said, by)
    return signed(go(f"/elements/{quote(printed, safe='')}?done=dark"), name)


def _note_again(reader: Reader, tag: str, typed: dict[str, str], refusal: Refusal) -> Response:
    with reader.desk.store.lookup() as connection:
        feed = feed_of(connection, tag)
    with reader.desk.store.reading() as session:
        fault = open_fault(session, tag)
    return reader.page(
        "find/again.html", refusal.status, feed=feed, fault=fault, text=typed.get("text", ""),
        name=typed.get("name", ""), refusal=refusal,
    )  # fmt: skip


def _found_again(reader: Reader, tag: str, said: str, by: str) -> Response:
    """It is on record as dark: what is said of it now is offered as a note, if it says something else."""
    with reader.desk.store.lookup() as connection:
        feed = feed_of(connection, tag)
    with reader.desk.store.reading() as session:
        fault = open_fault(session, tag)
    is_same = fault is not None and plain(said) in plain(fault.symptom)
    return reader.page(
        "find/again.html", feed=feed, fault=fault, text="" if is_same else said, name=person(by), refusal=None
    )


def _note(tag: Tag, reader: ReaderDep, typed: TypedForm) -> Response:
    name, text = typed.get("name", ""), " ".join(typed.get("text", "").split())
    by = reader.by_name(name)

    def action(session: Any) -> None:
        if is_noted(session, tag, text, by):
            return
        values = taken(NOTES, {"about": tag, "text": text}, is_new=True)
        actions.make(session, NOTES, values, Hand(by, reader.today))

    try:
        asked(FoundWords, name=typed.get("name"))
        reader.desk.store.write(action, by=by)
    except BadValues as error:
        refusal = refused(error, "text", "name")
        if refusal.loose:
            raise
        return _note_again(reader, tag, typed, refusal)
    return signed(go(f"/elements/{quote(tag, safe='')}?done=note"), name)


def _works(tag: Tag, reader: ReaderDep) -> Response:
    def action(session: Any) -> str:
        if status_of(session, tag) == ElementStatus.WORKING:
            return ""
        hand = Hand(reader.by, reader.today)
        try:
            words = Words(reader.say("works-seen"))
            row, _ = actions.step(session, ELEMENTS, (tag, "working"), words, None, hand)
        except StepRefused as error:
            raise StepRefused(error.message, reader.say("works-not-mend")) from error
        return str(row["tag"])

    printed = reader.desk.store.write(action, by=reader.by)
    return go(f"/elements/{quote(printed or tag, safe='')}{'' if printed else '?done=works'}")


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    routes.add_api_route("/find", _find)
    routes.add_api_route("/find/hits", _find_hits)
    routes.add_api_route("/elements/{tag}", _feed)
    routes.add_api_route("/elements/{tag}/found", _ask)
    routes.add_api_route("/elements/{tag}/found", _found, methods=["POST"])
    routes.add_api_route("/elements/{tag}/note", _note, methods=["POST"])
    routes.add_api_route("/elements/{tag}/works", _works, methods=["POST"])
    return routes
