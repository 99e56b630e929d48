"""JSON or CSV, as the Accept header asks (RFC 9110); sheets by RFC 4180 that a spreadsheet cannot run."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Annotated, Any

from fastapi import Header, Response
from pydantic import BaseModel, TypeAdapter
from pydantic_core import to_json
from starlette.exceptions import HTTPException

from service.paper.out.grids import csv_text, grid_of, plain_cell
from service.store.listing import Child, Listing

JSON, CSV = "application/json", "text/csv"
Accept = Annotated[str | None, Header(description="application/json (the default) or text/csv")]
CSV_ANSWER: dict[int | str, dict[str, Any]] = {200: {"content": {CSV: {"schema": {"type": "string"}}}}}


def wants_csv(accept: str | None) -> bool:
    """Whether the caller would rather have CSV than JSON; JSON where it is all one.

    >>> [wants_csv(a) for a in (None, "*/*", "text/csv", "application/json;q=0.4, text/*;q=0.9")]
    [False, False, True, True]
    """
    if accept is None or not accept.strip():
        return False
    ranges = [_range(part) for part in accept.split(",")]
    as_json, as_csv = _quality(ranges, JSON), _quality(ranges, CSV)
    if not as_json and not as_csv:
        raise HTTPException(406, "neither application/json nor text/csv is acceptable to you")
    return as_csv > as_json


def best_of(kinds: Sequence[str], accept: str | None) -> str | None:
    """The media type the caller would rather have, the first where it is all one; None if none will do.

    >>> best_of(("application/zip", "text/csv"), "text/csv, application/zip;q=0.5")
    'text/csv'
    """
    if accept is None or not accept.strip():
        return kinds[0]
    ranges = [_range(part) for part in accept.split(",")]
    best = max(kinds, key=lambda kind: _quality(ranges, kind))
    return best if _quality(ranges, best) else None


def _range(part: str) -> tuple[str, float]:
    name, *parameters = (p.strip().lower() for p in part.split(";"))
    quality = 1.0
    for parameter in parameters:
        key, _, value = parameter.partition("=")
        if key.strip() == "q":
            try:
                quality = min(1.0, max(0.0, float(value)))
            except ValueError:
                quality = 0.0
    return name, quality


def _quality(ranges: Sequence[tuple[str, float]], media_type: str) -> float:
    """What the narrowest range that covers the type says of it."""
    for wanted in (media_type, media_type.split("/")[0] + "/*", "*/*"):
        found = [quality for name, quality in ranges if name == wanted]
        if found:
            return max(found)
    return 0.0


def sheet(names: Sequence[str], rows: Iterable[Sequence[Any]], headers: Mapping[str, str]) -> Response:
    """Rows as CSV with a line of heads."""
    return Response(
        csv_text(names, ([plain_cell(value) for value in row] for row in rows)),
        media_type=f"{CSV}; charset=utf-8; header=present",
        headers={"Vary": "Accept", **headers},
    )


def spoken_rows(rows: Sequence[Mapping[str, Any]], headers: Mapping[str, str]) -> Response:
    """The rows of a list as JSON. They come from its own description: judging every value again by the shape
    that is published of it would cost as much as writing it."""
    return Response(to_json(rows), headers=dict(headers), media_type=JSON)


def spoken(shape: TypeAdapter[Any], content: Any, headers: Mapping[str, str]) -> Response:
    """The content as JSON of that shape. Written here, in the thread that read it: left to the framework,
    it would be handed to a second thread to be checked, which costs a look-up more than its select."""
    body = shape.dump_json(shape.validate_python(content))
    return Response(body, headers=dict(headers), media_type=JSON)


def model_sheet(
    model: type[BaseModel], rows: Iterable[Mapping[str, Any] | BaseModel], headers: Mapping[str, str]
) -> Response:
    """Rows of a model's columns; several things in one cell stand with blanks between."""
    return sheet(*grid_of(model, rows), headers)


def listing_sheet(
    listing: Listing, rows: Iterable[Mapping[str, Any]], headers: Mapping[str, str]
) -> Response:
    """Rows of a list; what belongs to a row is written in one cell."""
    names = [f.name for f in listing.fields]
    heads = names + [child.name for child in listing.children]
    body = ([*(row[n] for n in names), *_belonging(listing.children, row)] for row in rows)
    return sheet(heads, body, headers)


def _belonging(children: Sequence[Child], row: Mapping[str, Any]) -> list[str]:
    return [child.text(row[child.name]) for child in children]
