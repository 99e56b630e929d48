"""Labels with a code: chosen, laid out on any sheet by its measures, looked at, printed."""

import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Annotated, Any
from urllib.parse import unquote, urlencode

from fastapi import APIRouter, Depends, Query
from starlette.responses import Response

from service.errors import BadQuantity, BadRequest, NotFound, ServiceError
from service.paper.chosen_labels import OF_SHOW, chosen, kinds_of_house
from service.paper.label_sheets import (
    LEAST_MODULE_MM,
    MEASURES,
    SHEETS,
    LabelSheet,
    check_count,
    check_tags,
    check_used,
    module_mm,
    pages_wanted,
    sheetfuls,
)
from service.paper.labels import Label
from service.paper.prints.table import Wanted
from service.paper.prints.titles import Title, meant, titles
from service.units import to_decimal
from service.web.frame.mending import here
from service.web.frame.pages import PageRoute, Reader, ReaderDep
from service.web.frame.wishes import keep
from service.web.paper.files import file_of
from service.web.paper.pdf import pdf_of

OWN = "own"
COUNTS = ("across", "down")
EXAMPLE = "http://rack.example:8042"
# A host, its port and where the service lies on it. Other ends of an address would come before the tag.
ADDRESS = re.compile(
    r"https?://(?:[a-z0-9](?:[\w.-]*[a-z0-9])?|\[[0-9a-f:.]+\])(?::\d{1,5})?(?:/[\w.~%/-]*)?",
    re.IGNORECASE | re.ASCII,
)
HERE_ONLY = ("127.0.0.1", "localhost", "[::1]")


@dataclass(frozen=True, slots=True)
class Asked:
    """What the form says. `sheet`: one of those offered, or the reader's own measures. `faults`: by field,
    why what was `typed` there is not taken; it is laid out as if nothing had been typed."""

    show: str
    what: str
    tags: str
    sheet: str
    skip: int
    base: str
    measures: LabelSheet
    typed: Mapping[str, str]
    faults: Mapping[str, str]

    def address(self, ending: str = "", **more: object) -> str:
        said: dict[str, object] = {
            "show": self.show, "what": self.what, "tags": self.tags, "sheet": self.sheet, "skip": self.skip,
            "base": self.base,
        }  # fmt: skip
        if self.sheet == OWN:
            said.update({name: f"{getattr(self.measures, name):g}" for name in MEASURES})
        return f"/labels{ending}?{urlencode({**said, **more})}"


def _asked(
    reader: ReaderDep,
    show: Annotated[str, Query(max_length=80)] = "",
    what: Annotated[str, Query(max_length=40)] = "",
    tags: Annotated[str, Query(max_length=4000)] = "",
    sheet: Annotated[str, Query(max_length=20)] = "",
    skip: Annotated[str, Query(max_length=20)] = "",
    base: Annotated[str, Query(max_length=200)] = "",
) -> Asked:
    typed = dict(reader.request.query_params)
    faults: dict[str, str] = {}
    name, measures = _remembered(reader)
    if sheet == OWN:
        name, measures = OWN, _own(typed, measures, faults, reader)
    elif sheet in SHEETS:
        name, measures = sheet, SHEETS[sheet]
    elif sheet:
        faults["sheet"] = reader.say("labels-no-sheet", sheet=sheet)
    used = _used(skip.strip() or "0", measures, faults, reader)
    return Asked(
        show.strip(),
        what,
        tags.strip(),
        name,
        used,
        _base(reader, base.strip(), faults),
        measures,
        typed,
        faults,
    )


AskedDep = Annotated[Asked, Depends(_asked)]


def _told(fault: ServiceError, reader: Reader) -> str:
    # Of the sheet in its own millimetres, whatever lengths the reader reads.
    return here(f"{fault.message[:1].upper()}{fault.message[1:]}. {fault.mend}", reader.wishes.language)


def _remembered(reader: Reader) -> tuple[str, LabelSheet]:
    """The sheet that the device remembers; the first of those offered where that is none that can be."""
    kept = reader.request.cookies.get("labels", "")
    if "_" in kept:
        with suppress(BadRequest, ValueError):
            texts = zip(MEASURES, kept.split("_"), strict=True)
            return OWN, LabelSheet(**{name: _measure(name, text, reader) for name, text in texts})
    return next((name, SHEETS[name]) for name in (kept, *SHEETS) if name in SHEETS)


def _used(text: str, measures: LabelSheet, faults: dict[str, str], reader: Reader) -> int:
    """How many labels of the first sheet are used; none where that cannot be, with the fault put down."""
    try:
        used = int(text)
        # Of a sheet whose measures are refused nobody can say how many it has.
        if not faults:
            check_used(measures, used)
            return used
    except ValueError:
        faults["skip"] = reader.say("labels-no-count", typed=text)
    except BadRequest as fault:
        faults["skip"] = _told(fault, reader)
    return 0


def _base(reader: Reader, given: str, faults: dict[str, str]) -> str:
    kept = unquote(reader.request.cookies.get("address", ""))
    for text in filter(None, (given, kept)):
        whole = text if "://" in text else f"http://{text}"
        if ADDRESS.fullmatch(whole):
            return whole.rstrip("/") + "/"
        if text == given:
            faults["base"] = reader.say("labels-no-address", typed=text, example=EXAMPLE)
    return str(reader.request.base_url)


def _own(typed: Mapping[str, str], before: LabelSheet, faults: dict[str, str], reader: Reader) -> LabelSheet:
    """The reader's own measures, each that is not given as it was before; all of them where any cannot be,
    with the faults put down."""
    found: dict[str, Any] = {}
    for name in MEASURES:
        try:
            found[name] = _measure(name, typed.get(name) or f"{getattr(before, name):g}", reader)
        except BadRequest as fault:
            faults[name] = _told(fault, reader)
    if not faults:
        try:
            return LabelSheet(**found)
        except BadRequest as fault:
            faults["measures"] = _told(fault, reader)
    return before


def _measure(name: str, text: str, reader: Reader) -> Any:
    """A count, or a length in mm. Raises BadRequest."""
    what = "count" if name in COUNTS else "length"
    try:
        found = int(text) if name in COUNTS else float(to_decimal(text, "m", "mm") * 1000)
    except (ValueError, BadQuantity) as fault:
        raise reader.refuse(BadRequest, f"measure-no-{what}", typed=text[:40]) from fault
    if found < 0:
        raise reader.refuse(BadRequest, f"measure-low-{what}", typed=text[:40])
    return found


@dataclass(frozen=True, slots=True)
class Chosen:
    """What is laid out; nothing where the choice is refused. `faults`: why, by field."""

    title: Title | None
    titles: list[Title]
    what: str
    labels: list[Label]
    faults: Mapping[str, str]


def _choose(session: Any, asked: Asked, reader: Reader) -> Chosen:
    found = titles(session)
    title = meant(found, asked.show, reader.today)
    what = asked.what or ("leads" if found else "supplies")
    if asked.show and title is None:
        said = reader.say("labels-no-show", code=asked.show)
        return Chosen(None, found, what, [], {"show": said})
    wanted = Wanted(reader.today, reader.today, reader.desk.end_of, title.code if title else None)
    try:
        some = chosen(session, wanted, what, asked.tags)
        check_count(some)
    except (BadRequest, NotFound) as fault:
        return Chosen(title, found, what, [], {"tags" if asked.tags else "what": _told(fault, reader)})
    try:
        check_tags(some, asked.measures)
    except BadRequest as fault:
        return Chosen(title, found, what, [], {"sheet": _told(fault, reader)})
    return Chosen(title, found, what, some, {})


def _labels(asked: AskedDep, reader: ReaderDep) -> Response:
    with reader.desk.store.reading() as session:
        one = _choose(session, asked, reader)
    return _form(asked, one, reader)


def _form(asked: Asked, one: Chosen, reader: Reader) -> Response:
    """The form as it was sent, with what it says laid out beside it, and each fault at its field."""
    asked = replace(asked, faults={**asked.faults, **one.faults})
    looked_at = next(sheetfuls(one.labels, asked.measures, asked.base, asked.skip))
    pages = pages_wanted(len(one.labels), asked.measures, asked.skip)
    side = module_mm(one.labels[:1], asked.measures, asked.base)
    status = 404 if "show" in asked.faults else 422 if asked.faults else 200
    answer = reader.page(
        "labels/labels.html", status, asked=asked, one=one, looked_at=looked_at,
        pages=pages, sheets=SHEETS, measures=MEASURES, of_show=OF_SHOW, kinds=kinds_of_house(),
        is_fine=bool(one.labels) and side < LEAST_MODULE_MM,
        is_here_only=any(host in asked.base for host in HERE_ONLY),
    )  # fmt: skip
    return _kept(answer, asked, reader)


def _kept(answer: Response, asked: Asked, reader: Reader) -> Response:
    """Have the device remember the sheet and the address that were chosen."""
    if asked.faults:
        return answer
    if "sheet" in reader.request.query_params:
        own = "_".join(f"{getattr(asked.measures, name):g}" for name in MEASURES)
        keep(answer, "labels", own if asked.sheet == OWN else asked.sheet)
    if reader.request.query_params.get("base"):
        keep(answer, "address", asked.base)
    return answer


def _pdf(asked: AskedDep, reader: ReaderDep) -> Response:
    with reader.desk.store.reading() as session:
        one = _choose(session, asked, reader)
    if not one.labels and not one.faults:
        key = "labels-nothing-leads" if one.what == "leads" and one.title else "labels-nothing"
        one = replace(one, faults={"what": reader.say(key)})
    if asked.faults or one.faults:
        return _form(asked, one, reader)
    pages = sheetfuls(one.labels, asked.measures, asked.base, asked.skip)
    page = reader.render("labels/sheets.html", sheet=asked.measures, pages=pages)
    answer = file_of(
        pdf_of(page, reader), "application/pdf", f"labels-{one.what}-{reader.today}.pdf", "inline"
    )
    return _kept(answer, asked, reader)


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    routes.add_api_route("/labels", _labels)
    routes.add_api_route("/labels.pdf", _pdf)
    return routes
