"""The papers of a show: on the screen, printed with their revision, as a file, as a spreadsheet."""

from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Form, Query
from starlette.responses import Response

from service.errors import BadRequest, NotFound
from service.paper.out.books import WORKBOOK
from service.paper.out.grids import csv_bytes, workbook
from service.paper.prints.moved import Printed, printed
from service.paper.prints.registry import PAPERS
from service.paper.prints.table import Kind, Paper, Wanted
from service.paper.prints.titles import Title, meant, titles
from service.planning.since.asking import record_print
from service.planning.since.schemas import PrintOut
from service.web.frame.pages import PageRoute, Reader, ReaderDep, go, status_of
from service.web.paper.files import file_of
from service.web.paper.pdf import pdf_of
from service.web.paper.showing import Teller, kinds_of, shown_columns

SINCE = frozenset({"changes", "label-changes"})  # papers that ask since when


@dataclass(frozen=True, slots=True)
class Asked:
    """What an address asks of a paper; blanks where it says nothing."""

    show: str = ""
    since: str = ""
    revision: int = 0

    def address(self, name: str, ending: str = "", **more: object) -> str:
        """The address of a paper of the same show, since the same point."""
        said = {"show": self.show, "since": self.since, **more}
        query = urlencode({key: value for key, value in said.items() if value})
        return f"/paper/{name}{ending}" + (f"?{query}" if query else "")


def _asked(
    show: Annotated[str, Query(max_length=80)] = "",
    since: Annotated[str, Query(max_length=40)] = "",
    revision: Annotated[int, Query(ge=0, le=10**9)] = 0,
) -> Asked:
    return Asked(show.strip(), since.strip(), revision)


AskedDep = Annotated[Asked, Depends(_asked)]


@dataclass(frozen=True, slots=True)
class Made:
    """A paper with what its page says around it."""

    paper: Paper
    kind: Kind
    title: Title | None
    printed: Printed

    def is_revision(self, number: int) -> bool:
        """Whether what is shown is what was printed under that number."""
        latest = self.printed.latest
        return latest is not None and latest.number == number and self.printed.is_untouched


def point_meant(typed: str) -> str:
    """Since when, with a day that is written as pages write it in the form that all doors take.

    >>> point_meant("25 Nov 2026"), point_meant("5 november 2026"), point_meant("31 Feb 2026")
    ('2026-11-25', '2026-11-05', '31 Feb 2026')
    """
    for form in ("%d %b %Y", "%d %B %Y"):
        with suppress(ValueError):
            return datetime.strptime(typed, form).date().isoformat()
    return typed


def _index(asked: AskedDep, reader: ReaderDep) -> Response:
    with reader.desk.store.reading() as session:
        found = titles(session)
        title = meant(found, asked.show, reader.today)
        done = printed(session, title.code) if title else Printed()
    if asked.show and title is None:
        raise reader.refuse(NotFound, "refused-no-show", code=asked.show)
    last = {name: done.of(name, reader.say(f"paper-{name}"), name.replace("-", " ")) for name in PAPERS}
    return reader.page(
        "paper/index.html", titles=found, title=title, printed=done, last=last, kinds=PAPERS.values(),
        asked=Asked(title.code if title else ""), house=Asked(),
    )  # fmt: skip


def _make(name: str, asked: Asked, reader: Reader) -> Made:
    kind = _kind(name, reader)
    with reader.desk.store.reading() as session:
        found = titles(session)
        title = meant(found, asked.show, reader.today) if asked.show or not kind.of_house else None
        code = title.code if title is not None else asked.show
        point = point_meant(asked.since) or None
        wanted = Wanted(reader.today, reader.today, reader.desk.end_of, code or None, point)
        made = kind.make(session, wanted)
        done = printed(session, code) if code and kind.of_show else Printed()
    # A solver is waited for with no transaction open, and works in a process of its own.
    paper = made if isinstance(made, Paper) else made.solved_by(reader.desk.solved)
    return Made(paper, kind, title if kind.of_show else None, done)


def _kind(name: str, reader: Reader) -> Kind:
    if name not in PAPERS:
        raise reader.refuse(NotFound, "refused-no-paper", name=name)
    return PAPERS[name]


def _page(name: str, asked: Asked, made: Made, reader: Reader) -> dict[str, Any]:
    teller = Teller(reader)
    chosen = Asked(made.title.code if made.title else "", asked.since)
    columns = shown_columns(made.paper)
    kinds = kinds_of(made.paper, columns)
    return {
        "name": name, "asked": chosen, "printed": made.printed, "paper": made.paper, "title": made.title,
        "kind": made.kind, "is_file": False,
        "tell": teller.tell, "head": teller.head, "cell": teller.cell, "columns": columns,
        "kinds": kinds,
        "has_verdict": any(column.key == "verdict" for column in columns),
        "has_name": any(column.key == "name" for column in columns),
        "wides": min(kinds.count("wide"), 4),
        "revision": asked.revision if made.is_revision(asked.revision) else 0,
        "fault": None, "has_since": name in SINCE,
        "size": "letter" if reader.wishes.units == "us" else "a4",
    }  # fmt: skip


def _paper(name: str, asked: AskedDep, reader: ReaderDep) -> Response:
    """A point in time that cannot be brings the paper back as it is without one, with what was typed."""
    try:
        made, fault = _make(name, asked, reader), None
    except (BadRequest, NotFound) as error:
        if name not in SINCE or not asked.since:
            raise
        made, fault = _make(name, Asked(asked.show), reader), error
    status = 200 if fault is None else status_of(fault)
    return reader.page("paper/paper.html", status, **_page(name, asked, made, reader) | {"fault": fault})


def _pdf(name: str, asked: AskedDep, reader: ReaderDep) -> Response:
    made = _make(name, asked, reader)
    page = reader.render("paper/paper.html", **_page(name, asked, made, reader) | {"is_file": True})
    return file_of(pdf_of(page, reader), "application/pdf", f"{_file_name(name, made, reader)}.pdf", "inline")


def _workbook(name: str, asked: AskedDep, reader: ReaderDep) -> Response:
    heads, rows, made = _sheet(name, asked, reader)
    book = workbook(reader.say(f"paper-{name}"), heads, rows)
    return file_of(book, WORKBOOK, f"{_file_name(name, made, reader)}.xlsx")


def _csv(name: str, asked: AskedDep, reader: ReaderDep) -> Response:
    heads, rows, made = _sheet(name, asked, reader)
    return file_of(csv_bytes(heads, rows), "text/csv; charset=utf-8", f"{_file_name(name, made, reader)}.csv")


def _sheet(name: str, asked: Asked, reader: Reader) -> tuple[list[str], list[list[Any]], Made]:
    made = _make(name, asked, reader)
    return *Teller(reader).sheet(made.paper), made


def _file_name(name: str, made: Made, reader: Reader) -> str:
    return "-".join(filter(None, (name, made.title.code if made.title else "", reader.today.isoformat())))


def _print(
    name: str,
    reader: ReaderDep,
    show: Annotated[str, Form(max_length=80)],
    since: Annotated[str, Form(max_length=40)] = "",
    to: Annotated[str, Form(max_length=10)] = "page",
) -> Response:
    """Put the print on record first: its number stands on the paper."""
    _kind(name, reader)
    said = reader.say(f"paper-{name}")

    def action(session: Any) -> PrintOut:
        return record_print(session, show, said, reader.by, reader.today)

    made = reader.desk.store.write(action, by=reader.by)
    ending = ".pdf" if to == "pdf" else ""
    return go(Asked(made.production, since).address(name, ending, revision=made.number))


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    routes.add_api_route("/paper", _index)
    routes.add_api_route("/paper/{name}.pdf", _pdf)
    routes.add_api_route("/paper/{name}.xlsx", _workbook)
    routes.add_api_route("/paper/{name}.csv", _csv)
    routes.add_api_route("/paper/{name}", _paper)
    routes.add_api_route("/paper/{name}/print", _print, methods=["POST"])
    return routes
