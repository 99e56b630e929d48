"""One move that mends what is over: what it would change, and the button that does it."""

from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Form, Query
from starlette.responses import Response

from service.errors import NotFound
from service.planning.moving import NEVER
from service.reports.standing.mending import Asked, effect, hands, mend
from service.reports.standing.parts import Fault
from service.web.frame.pages import PageRoute, Reader, ReaderDep, go, refusal
from service.web.frame.wishes import signed
from service.web.shows.drawings import load_bar
from service.web.shows.pages import Code, standing_of

Word = Annotated[str, Query(max_length=160)]
Said = Annotated[str, Form(max_length=400)]


def _ask(code: Code, reader: ReaderDep, limit: Word, of: Word) -> Response:
    before = standing_of(reader, code)
    asked = Asked(before.heading.code, limit, of)
    try:
        with reader.desk.store.supposing(reader.by) as session:
            found = effect(session, asked, before, reader.today)
    except NotFound as error:
        return _gone(reader, code, error)
    return reader.page(
        "shows/mend.html",
        show=before.heading,
        found=found,
        fault=found.fault,
        head=head_of(reader, found.fault),
        gone=[head_of(reader, one) for one in found.gone],
        bars=[(was and load_bar(was), now and load_bar(now)) for was, now in found.bars],
        hands=[reader.say(f"hands-{kind}") for kind in sorted(hands(found.fault))],
        may_despite=not any(one.code in NEVER for one in found.new),
    )


def _gone(reader: Reader, code: str, error: NotFound) -> Response:
    """It is mended by now, by this very button perhaps, sent twice or gone back to."""
    return refusal(reader.request, error, belongs_to=f"/productions/{quote(code, safe='')}")


def head_of(reader: Reader, fault: Fault) -> str:
    """What is wrong, in one line."""
    if fault.excess is None:
        return fault.head
    excess = reader.figure(fault.excess, fault.unit, 0 if fault.unit == "W" and fault.excess >= 1 else 2)
    return reader.say("fault-excess", subject=fault.subject, excess=excess)


def _do(
    code: Code,
    reader: ReaderDep,
    limit: Said,
    of: Said,
    act: Said,
    why: Said = "",
    name: Annotated[str, Form(max_length=80)] = "",
) -> Response:
    by = reader.by_name(name)
    asked = Asked(code, limit, of, act)

    def action(session: Any) -> Fault:
        before = reader.desk.standings.of(session, code, reader.today)
        return mend(session, asked, before, reader.today, why.strip() or None)

    try:
        done = reader.desk.store.write(action, by=by)
    except NotFound as error:
        return _gone(reader, code, error)
    return signed(go(f"/productions/{quote(code, safe='')}?done={quote(done.act[:80], safe='')}"), name)


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    routes.add_api_route("/productions/{code}/mend", _ask)
    routes.add_api_route("/productions/{code}/mend", _do, methods=["POST"])
    return routes
