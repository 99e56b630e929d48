"""Labels with a code: chosen, laid out on any sheet by its measures, looked at, printed."""

from dataclasses import dataclass
from typing import Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import Response

from service.errors import BadQuantity, BadRequest
from service.paper.chosen_labels import OF_SHOW, chosen, kinds_with_labels
from service.paper.label_sheets import (
    LEAST_MODULE_MM,
    MEASURES,
    SHEETS,
    LabelSheet,
    module_mm,
    pages_wanted,
    sheetfuls,
)
from service.paper.labels import Label
from service.paper.prints.table import Wanted
from service.paper.prints.titles import Title, meant, titles
from service.units import to_decimal
from service.web.frame.pages import PageRoute, Reader, ReaderDep
from service.web.frame.wishes import keep
from service.web.paper.files import file_of
from service.web.paper.pdf import pdf_of

OWN = "own"
COUNTS = ("across", "down")
HERE_ONLY = ("127.0.0.1", "localhost", "[::1]")


@dataclass(frozen=True, slots=True)
class Asked:
    """What the form says. `sheet`: one of those offered, or the reader's own measures."""

    show: str
    what: str
    tags: str
    sheet: str
    skip: int
    base: str
    measures: LabelSheet

    def address(self, ending: str = "", **more: object) -> str:
        said: dict[str, object] = {
            "show": self.show, "what": self.what, "tags": self.tags, "sheet": self.sheet, "skip": self.skip,
            "base": self.base,
        }  # fmt: skip
        if self.sheet == OWN:
            said.update({name: f"{getattr(self.measures, name):g}" for name in MEASURES})
        return f"/labels{ending}?{urlencode({**said, **more})}"


def _asked(
    request: Request,
    show: Annotated[str, Query(max_length=80)] = "",
    what: Annotated[str, Query(max_length=40)] = "",
    tags: Annotated[str, Query(max_length=4000)] = "",
    sheet: Annotated[str, Query(max_length=20)] = "",
    skip: Annotated[int, Query(ge=0, le=5000)] = 0,
    base: Annotated[str, Query(max_length=200)] = "",
) -> Asked:
    kept = request.cookies.get("labels", "")
    sheet = sheet or (OWN if "_" in kept else kept) or next(iter(SHEETS))
    if sheet == OWN:
        measures = _own(request, kept)
    elif sheet in SHEETS:
        measures = SHEETS[sheet]
    else:
        raise BadRequest(f"there is no sheet {sheet}", "Choose one from the list, or give your own measures.")
    return Asked(show.strip(), what, tags.strip(), sheet, skip, _base(request, base), measures)


AskedDep = Annotated[Asked, Depends(_asked)]


def _base(request: Request, given: str) -> str:
    text = given.strip() or request.cookies.get("address", "").replace("%3A", ":").replace("%2F", "/")
    text = text or str(request.base_url)
    if "://" not in text:
        text = f"http://{text}"
    if (
        not text.isascii()
        or not text.isprintable()
        or " " in text
        or not text.startswith(("http://", "https://"))
    ):
        raise BadRequest(f"{text!r} is no address of this service", "Write it as in http://rack.example:8042")
    return text.rstrip("/") + "/"


def _own(request: Request, kept: str) -> LabelSheet:
    """The reader's own measures: those given, else those kept, else those of the first sheet."""
    known = dict(zip(MEASURES, kept.split("_"), strict=False)) if "_" in kept else {}
    first = next(iter(SHEETS.values()))
    found: dict[str, Any] = {}
    for name in MEASURES:
        text = request.query_params.get(name) or known.get(name) or f"{getattr(first, name):g}"
        try:
            found[name] = int(text) if name in COUNTS else float(to_decimal(text, "m", "mm") * 1000)
        except (ValueError, BadQuantity) as fault:
            said = "a count" if name in COUNTS else "a length, such as 63.5 mm or 2.5 in"
            raise BadRequest(
                f"{text[:40]!r} is not {said}", "Correct it and show the sheet again."
            ) from fault
    return LabelSheet(**found)


@dataclass(frozen=True, slots=True)
class Chosen:
    title: Title | None
    titles: list[Title]
    what: str
    labels: list[Label]


def _choose(session: Any, asked: Asked, reader: Reader) -> Chosen:
    found = titles(session)
    title = meant(found, asked.show, reader.today)
    what = asked.what or ("leads" if title else "supplies")
    wanted = Wanted(reader.today, reader.today, reader.desk.end_of, title.code if title else None)
    return Chosen(title, found, what, chosen(session, wanted, what, asked.tags))


def _labels(asked: AskedDep, reader: ReaderDep) -> Response:
    with reader.desk.store.reading() as session:
        one = _choose(session, asked, reader)
    looked_at = next(sheetfuls(one.labels, asked.measures, asked.base, asked.skip))
    pages = pages_wanted(len(one.labels), asked.measures, asked.skip)
    side = module_mm(one.labels[:1], asked.measures, asked.base)
    answer = reader.page(
        "labels/labels.html", asked=asked, one=one, looked_at=looked_at, pages=pages, sheets=SHEETS,
        measures=MEASURES, of_show=OF_SHOW, kinds=kinds_with_labels(),
        is_fine=bool(one.labels) and side < LEAST_MODULE_MM,
        is_here_only=any(host in asked.base for host in HERE_ONLY),
    )  # fmt: skip
    return _kept(answer, asked, reader)


def _kept(answer: Response, asked: Asked, reader: Reader) -> Response:
    """Have the device remember the sheet and the address that were chosen."""
    if "sheet" in reader.request.query_params:
        own = "_".join(f"{getattr(asked.measures, name):g}" for name in MEASURES)
        keep(answer, "labels", own if asked.sheet == OWN else asked.sheet)
    if reader.request.query_params.get("base"):
        keep(answer, "address", asked.base)
    return answer


def _pdf(asked: AskedDep, reader: ReaderDep) -> Response:
    with reader.desk.store.reading() as session:
        one = _choose(session, asked, reader)
    pages = sheetfuls(one.labels, asked.measures, asked.base, asked.skip)
    page = reader.render("labels/sheets.html", sheet=asked.measures, pages=pages)
    answer = file_of(pdf_of(page), "application/pdf", f"labels-{one.what}-{reader.today}.pdf", "inline")
    return _kept(answer, asked, reader)


def router() -> APIRouter:
    routes = APIRouter(route_class=PageRoute, include_in_schema=False)
    routes.add_api_route("/labels", _labels)
    routes.add_api_route("/labels.pdf", _pdf)
    return routes
