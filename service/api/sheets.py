"""Sheets brought in over HTTP: everything in them, or nothing and every row to be mended named."""

from collections.abc import Sequence
from typing import Annotated, Any

from fastapi import APIRouter, File, Query, Request, Response, UploadFile
from pydantic import BaseModel, Field

from service.api.conventions.asking import MULTIPART_BODY, AsOf, By, DeskDep
from service.api.conventions.repeats import IdempotencyKey, asked, response
from service.errors import BadRequest, BadSheets, RowError
from service.paper.bring_in import NAMES, Brought, bring_in, describe
from service.paper.files.raw import RawSheet
from service.paper.reading import read_bytes
from service.store.keys import Answer, once

MOST_FILES = 80

Files = Annotated[
    list[UploadFile],
    File(description="one workbook or zip, or several CSV files named after their sheets"),
]


class BroughtIn(BaseModel):
    """What came in."""

    dry_run: bool = Field(description="true: this is what would come in; nothing was stored")
    counts: dict[str, int] = Field(description="rows of each sheet, in the order they were taken")
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
    idempotency_key: IdempotencyKey = None,
) -> Response:
    if len(file) > MOST_FILES:
        raise BadRequest(f"{len(file)} files are too many at once", f"Send at most {MOST_FILES}.")
    # The framework closes the files itself; they are small enough to be read whole.
    read = [(upload.filename or "upload", upload.file.read()) for upload in file]
    sheets, remarks = read_all(read)

    def bring(session: Any) -> Brought:
        return bring_in(session, sheets, by, as_of)

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
    said = BroughtIn(dry_run=is_dry, counts=brought.counts, remarks=[*remarks, *brought.remarks])
    return Answer(200 if is_dry else 201, said.model_dump_json().encode())


def _columns() -> Any:
    return describe()


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
    return routes
