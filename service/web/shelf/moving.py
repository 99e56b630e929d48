"""Gear out to a show and back, tag after tag, as a scanner types them."""

from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Query
from starlette.responses import Response

from service.errors import ServiceError
from service.planning.issuing.books import Hand
from service.planning.issuing.issuing import issue
from service.planning.issuing.returning import Back, bring_back
from service.planning.issuing.schemas import IssueAsk, RefusedOut, ReturnAsk, UndoAsk
from service.planning.issuing.undoing import undo
from service.reports.shelf.moving import came_back, overdue, shows_that_take, went_out
from service.stock.gear import UnitState
from service.web.frame.forms import Refusal, Typed, asked, refused, tags_in
from service.web.frame.pages import PageRoute, Reader, ReaderDep, go
from service.web.frame.wishes import own_path, signed

Word = Annotated[str, Query(max_length=400)]
Stayed = list[RefusedOut]


def _out(reader: ReaderDep, show: Word = "", undone: Word = "") -> Response:
    return _out_page(reader, show, undone=undone)


def _out_page(
    reader: Reader, show: str, typed: str = "", refusal: Refusal | None = None, stayed: Stayed | None = None,
    undone: str = "",
) -> Response:  # fmt: skip
    with reader.desk.store.reading() as session:
        shows = shows_that_take(session)
        chosen = next(((code, title) for code, title in shows if code.upper() == show.upper()), None)
        gone = went_out(session, chosen[0], reader.today) if chosen else []
    return reader.page(
        "shelf/out.html",
        _status(refusal, stayed),
        shows=shows,
        chosen=chosen,
        gone=gone,
        typed=typed,
        refusal=refusal,
        stayed=stayed or [],
        undone=undone,
    )


def _status(refusal: Refusal | None, stayed: Stayed | None) -> int:
    return refusal.status if refusal is not None else 422 if stayed else 200


def _issue(reader: ReaderDep, typed: Typed) -> Response:
    by, show = reader.by_name(typed.get("name", "")), typed.get("show", "")

    def action(session: Any) -> Stayed:
        return issue(session, show, ask.tags, Hand(by, reader.today, each=True), reader.today).refused

    try:
        ask = asked(IssueAsk, tags=tags_in(typed.get("tags", "")))
        stayed = reader.desk.store.write(action, by=by)
    except ServiceError as error:
        return _out_page(reader, show, typed.get("tags", ""), refused(error))
    if stayed:
        return _out_page(reader, show, " ".join(one.tag for one in stayed), stayed=stayed)
    return signed(go(f"/shelf/out?show={quote(show, safe='')}"), typed.get("name", ""))


def _undo_issue(reader: ReaderDep, typed: Typed) -> Response:
    show, tag = typed.get("show", ""), typed.get("tag", "")

    def action(session: Any) -> None:
        undo(session, "issue", ask.tags, Hand(reader.by, reader.today), show)

    try:
        ask = asked(UndoAsk, tags=[tag])
        reader.desk.store.write(action, by=reader.by)
    except ServiceError as error:
        return _out_page(reader, show, refusal=refused(error))
    return go(f"/shelf/out?show={quote(show, safe='')}&undone={quote(tag, safe='')}")


def _back(reader: ReaderDep, undone: Word = "", tags: Word = "", to: Word = "") -> Response:
    """`to`: the page that somebody came from because something was still out, and goes back to."""
    return _back_page(reader, {"tags": tags, "to": to}, undone=undone)


def _back_page(
    reader: Reader, typed: dict[str, str], refusal: Refusal | None = None, stayed: Stayed | None = None,
    undone: str = "",
) -> Response:  # fmt: skip
    with reader.desk.store.reading() as session:
        late, back = overdue(session, reader.today), came_back(session, reader.today)
    return reader.page(
        "shelf/back.html",
        _status(refusal, stayed),
        late=late,
        back=back,
        values={"tags": "", "found": "", "state": "faulty", "place": "", "to": ""} | typed,
        refusal=refusal,
        stayed=stayed or [],
        undone=undone,
        headline=reader.say("back-overdue", count=len(late)) if late else reader.say("back-fine"),
    )


def _return(reader: ReaderDep, typed: Typed) -> Response:
    by = reader.by_name(typed.get("name", ""))

    def action(session: Any) -> Stayed:
        state = UnitState(ask.state) if ask.found else None
        how = Back(ask.found, state, ask.place)
        return bring_back(session, ask.tags, how, Hand(by, reader.today, each=True), reader.today).refused

    try:
        ask = asked(
            ReturnAsk,
            tags=tags_in(typed.get("tags", "")),
            found=typed.get("found"),
            state=typed.get("state"),
            place=typed.get("place"),
        )
        stayed = reader.desk.store.write(action, by=by)
    except ServiceError as error:
        return _back_page(reader, typed, refused(error, "found", "state", "place"))
    if stayed:
        left = {"tags": " ".join(one.tag for one in stayed)}
        return _back_page(reader, typed | left, stayed=stayed)
    return signed(go(own_path(typed.get("to") or "/shelf/back")), typed.get("name", ""))


def _undo_return(reader: ReaderDep, typed: Typed) -> Response:
    tag = typed.get("tag", "")

    def action(session: Any) -> None:
        undo(session, "return", ask.tags, Hand(reader.by, reader.today))

    try:
        ask = asked(UndoAsk, tags=[tag])
        reader.desk.store.write(action, by=reader.by)
    except ServiceError as error:
        return _back_page(reader, {}, refused(error))
    return go(f"/shelf/back?undone={quote(tag, safe='')}")


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    routes.add_api_route("/shelf/out", _out)
    routes.add_api_route("/shelf/out", _issue, methods=["POST"])
    routes.add_api_route("/shelf/out/undo", _undo_issue, methods=["POST"])
    routes.add_api_route("/shelf/back", _back)
    routes.add_api_route("/shelf/back", _return, methods=["POST"])
    routes.add_api_route("/shelf/back/undo", _undo_return, methods=["POST"])
    return routes
