"""What happened to a thing, line by line in the reader's words."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from urllib.parse import quote

from service.reports.past import Happening
from service.store.audit import person
from service.web.frame.pages import Reader

MOST = 12  # lines; the record of changes has all


@dataclass(frozen=True, slots=True)
class Past:
    """One line. `path`: the page that says more of it; blank where there is none."""

    on: date
    what: str
    by: str
    path: str


def past(found: Iterable[Happening], reader: Reader) -> list[Past]:
    return [
        Past(
            one.at.date(),
            reader.say(_key(one), **one.what),
            person(one.by),
            f"/swaps/{quote(one.swap, safe='')}" if one.swap else "",
        )
        for one in list(found)[:MOST]
    ]


def _key(one: Happening) -> str:
    """A swap is told with what it moved on the page of an element, without on that of a unit."""
    return f"happened-{one.kind}-feed" if one.swap and "after" in one.what else f"happened-{one.kind}"
