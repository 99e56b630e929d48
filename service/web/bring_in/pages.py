"""Bring in a sheet: from a file to stored rows, with a look at every one that needs somebody first."""

from collections import Counter
from collections.abc import AsyncIterator, Sequence
from dataclasses import replace
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Path, Query, Request
from starlette.datastructures import UploadFile
from starlette.responses import Response

from service.errors import BadRequest, BadSheets, NotFound, ServiceError
from service.kinds.cells import Cell
from service.paper.batches import Adding, Done, add, done, lately, undo
from service.paper.bring_in import Brought, bring_in, describe
from service.paper.files.raw import RawSheet, is_blank
from service.paper.fitting.looking import MOST_FAULTS, Looked, look
from service.paper.fitting.tables import (
    LENGTHS,
    SHEETS,
    Table,
    columns_of,
    refit,
    tables_of,
    unread,
    with_fits,
)
from service.paper.out.books import WORKBOOK
from service.paper.out.grids import workbook
from service.reports.standing.remembering import stamp_of
from service.web.bring_in.held import Batch, Held, Seen
from service.web.frame.pages import PageRoute, Reader, ReaderDep, go, status_of
from service.web.paper.files import file_of

MOST_FILES = 40
MOST_SHOWN = 100  # rows that need somebody, on one page
MOST_READY = 50  # of each sheet, to see how they are read
PageNumber = Annotated[int, Query(ge=1, le=10_000)]
Token = Annotated[str, Path(max_length=40)]


async def _held(request: Request) -> Held:
    # async, so that no second thread is taken for it
    held: Held = request.app.state.held
    return held


HeldDep = Annotated[Held, Depends(_held)]


def _start(reader: ReaderDep) -> Response:
    return _start_page(reader)


def _start_page(reader: Reader, error: ServiceError | None = None) -> Response:
    with reader.desk.store.reading() as session:
        found = lately(session)
    status = 200 if error is None else status_of(error)
    faults = error.errors if isinstance(error, BadSheets) else ()
    return reader.page(
        "bring_in/start.html", status, sheets=describe(), lately=found, error=error, faults=faults
    )


async def _chosen(request: Request) -> AsyncIterator[list[UploadFile]]:
    async with request.form() as form:
        # A form that was sent with no file chosen holds one without a name.
        yield [one for one in form.getlist("file") if isinstance(one, UploadFile) and one.filename]


def _read(
    reader: ReaderDep, held: HeldDep, chosen: Annotated[list[UploadFile], Depends(_chosen)]
) -> Response:
    try:
        return go(f"/bring-in/{held.keep(_batch(chosen, reader))}")
    except (BadRequest, BadSheets) as error:
        return _start_page(reader, error)


def _batch(chosen: Sequence[UploadFile], reader: Reader) -> Batch:
    if not chosen:
        raise reader.refuse(BadRequest, "refused-no-choice-of-file")
    if len(chosen) > MOST_FILES:
        raise reader.refuse(BadRequest, "refused-many-files", count=len(chosen), most=MOST_FILES)
    tables: list[Table] = []
    remarks: list[str] = []
    for one in chosen:
        found, said = tables_of(one.file.read(), one.filename or "")
        tables += found
        remarks += said
    names = tuple(one.filename or "" for one in chosen)
    return Batch(names, tuple(tables), tuple(remarks))


def _attempt(batch: Batch, reader: Reader) -> Any:
    def attempt(sheets: Sequence[RawSheet]) -> Brought:
        with reader.desk.store.supposing(reader.by) as session:
            return bring_in(session, sheets, reader.by, reader.today, batch.may_change, MOST_FAULTS)

    return attempt


def _look(token: str, batch: Batch, reader: Reader, held: Held) -> Looked:
    """What looking finds, or found before: it tries every row, which takes a while for thousands."""
    with reader.desk.store.reading() as session:
        stamp = stamp_of(session, reader.today)
    looked = held.recalled(token, batch, stamp)
    if looked is None:
        looked = look(batch.tables, _attempt(batch, reader))
        held.recall_later(token, Seen(batch, stamp, looked))
    return looked


def _done_already(token: str, reader: Reader) -> Done | None:
    with reader.desk.store.reading() as session:
        return done(session, token)


def _done_or(token: str, reader: Reader, gone: NotFound) -> Response:
    """The page of what was stored of a batch that no longer waits; the refusal where nothing was."""
    if _done_already(token, reader) is None:
        raise gone
    return go(f"/bring-in/{token}/done")


def _preview(token: Token, reader: ReaderDep, held: HeldDep, page: PageNumber = 1) -> Response:
    if _done_already(token, reader) is not None:
        return go(f"/bring-in/{token}/done")
    batch = held.batch(token, reader)
    looked = _look(token, batch, reader, held)
    pages = max(1, -(-len(looked.bad) // MOST_SHOWN))
    page = min(page, pages)
    return reader.page(
        "bring_in/preview.html", token=token, batch=batch, looked=looked, sheets=list(SHEETS),
        unread=[unread(table) for table in batch.tables],
        columns=[columns_of(table.sheet) for table in batch.tables], lengths=LENGTHS, text=_text,
        rows=sum(len(table.rows) for table in batch.tables), most=MOST_READY, shown=_shown(batch, looked),
        need=Counter(row.table for row in looked.bad), page_number=page, pages=pages,
        bad=looked.bad[(page - 1) * MOST_SHOWN : page * MOST_SHOWN],
        changed=len({(one.sheet, one.row) for one in looked.brought.changes}) if looked.brought else 0,
        same=sum(looked.brought.same.values()) if looked.brought else 0,
    )  # fmt: skip


def _shown(batch: Batch, looked: Looked) -> list[list[int]]:
    """By table, the columns to show of its bad rows: those that are matched or spoken of."""
    spoken: dict[int, set[int]] = {}
    for row in looked.bad:
        spoken.setdefault(row.table, set()).update(f.at for f in row.faults if f.at is not None)
    return [
        [n for n, fit in enumerate(table.fits) if fit.key or n in spoken.get(at, ())][:8]
        for at, table in enumerate(batch.tables)
    ]


def _text(cell: Cell) -> str:
    return "" if is_blank(cell) else f"{cell:g}" if isinstance(cell, float) else str(cell)


async def _form(request: Request) -> dict[str, str]:
    return {key: value for key, value in (await request.form()).items() if isinstance(value, str)}


async def _fit(token: Token, reader: ReaderDep, held: HeldDep) -> Response:
    """How the tables are read, as somebody says. Choosing another kind of rows matches the columns anew."""
    said = await _form(reader.request)
    try:
        batch = held.batch(token, reader)
    except NotFound as gone:
        return await reader.in_thread(_done_or, token, reader, gone)
    tables = []
    for n, table in enumerate(batch.tables):
        sheet = said.get(f"sheet-{n}", table.sheet)
        if sheet and sheet not in SHEETS:
            raise reader.refuse(BadRequest, "refused-no-sheet", sheet=sheet[:40])
        if sheet != table.sheet:
            tables.append(refit(table, sheet))
            continue
        fits = [
            (said.get(f"column-{n}-{k}", fit.key), said.get(f"unit-{n}-{k}", fit.unit))
            for k, fit in enumerate(table.fits)
        ]
        tables.append(with_fits(table, fits) if sheet else table)
    held.keep(replace(batch, tables=tuple(tables), may_change="change" in said), token)
    return go(f"/bring-in/{token}")


def _add(token: Token, reader: ReaderDep, held: HeldDep) -> Response:
    """Store the rows that are ready, all of them or none; pressed twice, once. They are looked at again while
    they are stored: things move meanwhile."""
    if _done_already(token, reader) is not None:
        return go(f"/bring-in/{token}/done")
    batch = held.batch(token, reader)
    looked = _look(token, batch, reader, held)
    if looked.brought is None:
        raise BadSheets([error for _, error in looked.whole] or [])
    rest = _rest(batch, looked)
    kept = held.keep(rest) if rest is not None else ""
    left = sum(len(table.rows) for table in rest.tables) if rest is not None else 0
    adding = Adding(token, batch.names, looked.sheets, batch.may_change, left, kept)
    reader.desk.store.write(lambda session: add(session, adding, reader.by, reader.today), by=reader.by)
    held.drop(token)
    return go(f"/bring-in/{token}/done")


def _rest(batch: Batch, looked: Looked) -> Batch | None:
    """The rows that are not ready, to be mended and looked at again, and the tables that wait; None where
    there are none."""
    left = {(row.table, row.number) for row in looked.bad}
    tables = [batch.tables[n] for n in looked.waiting]  # first, lest they wait for rows that cannot be mended
    for n, table in enumerate(batch.tables):
        rows = tuple(row for row in table.rows if (n, row.number) in left)
        if rows:
            tables.append(replace(table, rows=rows))
    return replace(batch, tables=tuple(tables), remarks=()) if tables else None


def _done(token: Token, reader: ReaderDep) -> Response:
    found = _done_already(token, reader)
    if found is None:
        raise reader.refuse(NotFound, "refused-batch-past")
    return reader.page("bring_in/done.html", done=found, token=token)


def _undo(token: Token, reader: ReaderDep) -> Response:
    reader.desk.store.write(lambda session: undo(session, token), by=reader.by)
    return go(f"/bring-in/{token}/done")


def _bad_rows(token: Token, reader: ReaderDep, held: HeldDep, table: int = 0) -> Response:
    """The rows of a table that need somebody, with what is wrong beside them, to be mended and sent again.
    Once the others are stored these wait elsewhere: the page of what was stored leads there."""
    if _done_already(token, reader) is not None:
        return go(f"/bring-in/{token}/done")
    batch = held.batch(token, reader)
    if not 0 <= table < len(batch.tables):
        raise reader.refuse(BadRequest, "refused-no-table")
    looked, one = _look(token, batch, reader, held), batch.tables[table]
    heads = [*one.heads, reader.say("bring-why"), reader.say("bring-row")]
    rows = [
        [*row.cells[: len(one.heads)], *[None] * (len(one.heads) - len(row.cells)),
         "; ".join(f"{fault.message}. {fault.mend}" for fault in row.faults), row.number]
        for row in looked.bad
        if row.table == table
    ]  # fmt: skip
    return file_of(
        workbook(one.sheet or "rows", heads, rows), WORKBOOK, f"{one.sheet or 'rows'}-to-mend.xlsx"
    )


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    routes.add_api_route("/bring-in", _start)
    routes.add_api_route("/bring-in", _read, methods=["POST"])
    routes.add_api_route("/bring-in/{token}", _preview)
    routes.add_api_route("/bring-in/{token}", _fit, methods=["POST"])
    routes.add_api_route("/bring-in/{token}/add", _add, methods=["POST"])
    routes.add_api_route("/bring-in/{token}/done", _done)
    routes.add_api_route("/bring-in/{token}/undo", _undo, methods=["POST"])
    routes.add_api_route("/bring-in/{token}/rows.xlsx", _bad_rows)
    return routes
