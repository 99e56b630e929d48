"""Sheets brought in over HTTP: everything in them, or nothing and every row to be mended named."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, File, Query, Request, Response, UploadFile
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException

from service.api.conventions.asking import MULTIPART_BODY, AsOf, By, DeskDep
from service.api.conventions.formats import Accept, best_of
from service.api.conventions.repeats import IdempotencyKey, asked, response
from service.errors import BadRequest, BadSheets, RowError
from service.paper.bring_in import NAMES, Brought, bring_in, describe
from service.paper.files.raw import RawSheet
from service.paper.out.books import WORKBOOK
from service.paper.out.files import as_workbook, as_zip
from service.paper.out.tables import Written, everything_out
from service.paper.out.templates import templates
from service.paper.reading import read_bytes
from service.store.keys import Answer, once

MOST_FILES = 80

ZIP = "application/zip"
SheetNames = Annotated[
    list[str] | None, Query(max_length=MOST_FILES, description="only these sheets, by name; all if not given")
]
Files = Annotated[
    list[UploadFile],
    File(description="one workbook or zip, or several CSV files named after their sheets"),
]


class DifferenceOut(BaseModel):
    """One column of one thing that a sheet changes; blank where there is nothing."""

    sheet: str = Field(description="name of the sheet")
    row: int = Field(description="row of the sheet")
    thing: str = Field(description="what the row is about: its tag or names")
    column: str = Field(description="head of the column, with its unit")
    before: str = Field(description="as it was in the store")
    after: str = Field(description="as the sheet has it")


class BroughtIn(BaseModel):
    """What came in."""

    dry_run: bool = Field(description="true: this is what would come in; nothing was stored")
    counts: dict[str, int] = Field(description="new rows of each sheet, in the order they were taken")
    same: dict[str, int] = Field(description="rows of each sheet that say what the store says already")
    changes: list[DifferenceOut] = Field(description="what changes, column by column")
    remarks: list[str] = Field(description="what was left aside or assumed")


class ColumnOut(BaseModel):
    name: str = Field(description="head of the column")
    holds: str = Field(description="what a cell takes")
    doc: str = Field(description="what it says")
    required: bool = Field(description="whether it must be there")
    default: str = Field(description="what a blank cell means")
    example: str = Field(description="a cell as it may be written")


class SheetOut(BaseModel):
    """One sheet that may be brought in."""

    name: str = Field(description="name of the sheet")
    row_is: str = Field(description="what each row is")
    columns: list[ColumnOut] = Field(description="its columns")


class _OnlyLookingError(Exception):
    """Ends the transaction of a dry run, which must leave nothing behind."""

    def __init__(self, brought: Brought) -> None:
        self.brought = brought
        super().__init__("dry run")


def read_all(files: Sequence[tuple[str, bytes]]) -> tuple[tuple[RawSheet, ...], tuple[str, ...]]:
    """The sheets of every file, each of which may come once."""
    sheets: dict[str, RawSheet] = {}
    remarks: list[str] = []
    for name, content in files:
        reading = read_bytes(content, name, NAMES)
        remarks += reading.remarks
        for sheet in reading.sheets:
            if sheet.name in sheets:
                twice = f"{sheet.name!r} comes twice: also in {sheets[sheet.name].source}"
                raise BadSheets([RowError(sheet.source, None, None, twice, "Put all its rows in one sheet.")])
            sheets[sheet.name] = sheet
    return tuple(sheets.values()), tuple(remarks)


def _post(
    request: Request,
    file: Files,
    desk: DeskDep,
    by: By,
    as_of: AsOf,
    dry_run: Annotated[bool, Query(description="say what would come in, and store nothing")] = False,
    change: Annotated[
        bool, Query(description="let rows change what is in the store already", examples=[True])
    ] = False,
    idempotency_key: IdempotencyKey = None,
) -> Response:
    if len(file) > MOST_FILES:
        raise BadRequest(f"{len(file)} files are too many at once", f"Send at most {MOST_FILES}.")
    # The framework closes the files itself; they are small enough to be read whole.
    read = [(upload.filename or "upload", upload.file.read()) for upload in file]
    sheets, remarks = read_all(read)

    def bring(session: Any) -> Brought:
        return bring_in(session, sheets, by, as_of, may_change=change)

    if dry_run:
        try:
            with desk.store.writing(by) as session:
                raise _OnlyLookingError(bring(session))
        except _OnlyLookingError as looked:
            return response(_answer(looked.brought, remarks, is_dry=True))
    mark = asked(
        request, by, idempotency_key, *(part for name, data in read for part in (name.encode(), data))
    )
    return response(
        desk.store.write(lambda s: once(s, mark, lambda inner: _answer(bring(inner), remarks)), by=by)
    )


def _answer(brought: Brought, remarks: tuple[str, ...], is_dry: bool = False) -> Answer:
    said = BroughtIn(
        dry_run=is_dry,
        counts=brought.counts,
        same=brought.same,
        changes=[DifferenceOut(**asdict(change)) for change in brought.changes],
        remarks=[*remarks, *brought.remarks],
    )
    return Answer(200 if is_dry else 201, said.model_dump_json().encode())


def _columns() -> Any:
    return describe()


def _export(desk: DeskDep, sheet: SheetNames = None, accept: Accept = None) -> Response:
    kind = _file_kind(accept)
    with desk.store.reading() as session:
        sheets = tuple(everything_out(session, _names(sheet)))
    return _file(sheets, kind, f"wattwright-{desk.today()}", is_template=False)


def _templates(sheet: SheetNames = None, accept: Accept = None) -> Response:
    return _file(
        templates(_names(sheet)), _file_kind(accept, WORKBOOK), "wattwright-sheets", is_template=True
    )


def _names(given: list[str] | None) -> list[str]:
    """Names one by one, or with commas between."""
    return [name.strip() for one in given or () for name in one.split(",") if name.strip()]


def _file_kind(accept: str | None, usual: str = ZIP) -> str:
    """The kind of file the caller would rather have."""
    found = best_of((usual, *({ZIP, WORKBOOK} - {usual})), accept)
    if found is None:
        raise HTTPException(406, f"neither {ZIP} nor {WORKBOOK} is acceptable to you")
    return found


def _file(sheets: Sequence[Written], kind: str, name: str, is_template: bool) -> Response:
    if kind == ZIP:
        content, ending = as_zip(sheets, is_template), "zip"
    else:
        content, ending = as_workbook(sheets, is_template), "xlsx"
    headers = {"Content-Disposition": f'attachment; filename="{name}.{ending}"', "Vary": "Accept"}
    return Response(content, headers=headers, media_type=kind)


def router() -> APIRouter:
    routes = APIRouter(tags=["sheets"])
    routes.add_api_route(
        "/sheets", _post, methods=["POST"], status_code=201, response_model=BroughtIn,
        summary="Bring sheets in: all of them, or none", dependencies=MULTIPART_BODY,
        responses={200: {"model": BroughtIn, "description": "dry run: what would come in"}},
    )  # fmt: skip
    routes.add_api_route(
        "/sheets", _columns, response_model=list[SheetOut], summary="What may be written in sheets"
    )
    for path, endpoint, said in (
        ("/export", _export, "Everything as plain sheets, to be edited and brought in again"),
        ("/templates", _templates, "Empty sheets to be filled in"),
    ):
        routes.add_api_route(
            path, endpoint, summary=said, response_class=Response,
            description="A zip of CSV files or a workbook, as the Accept header asks.",
            responses={200: {"content": {kind: {"schema": {"type": "string", "format": "binary"}}
                                         for kind in (ZIP, WORKBOOK)}}},
        )  # fmt: skip
    return routes
