"""The feeds of tonight as one list, as addresses to keep, and as one file to take away."""

import re
from urllib.parse import quote

from fastapi import APIRouter
from markupsafe import Markup
from starlette.responses import HTMLResponse, JSONResponse, Response

from service.planning.finding.kept import KeptFeed, kept_feeds
from service.web.frame import files
from service.web.frame.pages import PageRoute, Reader, ReaderDep, go


def _feeds(reader: Reader) -> list[KeptFeed]:
    with reader.desk.store.lookup() as connection:
        return kept_feeds(connection, reader.today)


def _kept(reader: ReaderDep) -> Response:
    return reader.page("kept/kept.html", feeds=_feeds(reader))


def _away(reader: ReaderDep) -> Response:
    """Kept by the phone, and shown there in place of a page that is not."""
    return reader.page("kept/away.html")


def _unsent(reader: ReaderDep) -> Response:
    """Kept by the phone, and shown there with what was typed in a form that found nobody."""
    return reader.page("kept/unsent.html")


def _list(reader: ReaderDep) -> Response:
    addresses = [f"/elements/{quote(feed.element, safe='')}" for feed in _feeds(reader)]
    return JSONResponse(addresses, headers={"Cache-Control": "no-store"})


def _file(reader: ReaderDep) -> Response:
    """One file with everything in it: it is opened from the phone itself, where no other file is at hand."""
    style = re.sub(r"@font-face\s*\{[^}]*\}", "", files.text("site.css"))
    page = reader.render(
        "kept/file.html", feeds=_feeds(reader), style=Markup(style), script=Markup(files.text("kept.js"))
    )
    name = f"feeds-{reader.today.isoformat()}.html"
    return HTMLResponse(
        page, headers={"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "no-store"}
    )


def _forget() -> Response:
    answer = go("/find")
    answer.headers["Clear-Site-Data"] = '"cache", "storage"'
    return answer


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    routes.add_api_route("/kept", _kept)
    routes.add_api_route("/kept/away", _away)
    routes.add_api_route("/kept/unsent", _unsent)
    routes.add_api_route("/kept/list", _list)
    routes.add_api_route("/kept.html", _file)
    routes.add_api_route("/wishes/forget", _forget, methods=["POST"])
    return routes
