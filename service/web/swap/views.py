"""A unit that could stand in, in the reader's words."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from service.limits.findings import Verdict
from service.planning.swapping.offering import Differs, Offer, Offered
from service.reports.season.spares import Row
from service.web.frame.pages import Reader

# What may be wrong with each kind, the likeliest first; then what holds for all.
_ALL = ("unsure", "exchange")
CHOICES: Mapping[str, tuple[str, ...]] = {
    "supply": ("dead", "flicker", "hot", *_ALL),
    "decoder": ("dead", "flicker", "colour", *_ALL),
    "battery": ("dead", "short", "swollen", *_ALL),
}
KNOWN, EXCHANGE, SUSPECTS = "known", "exchange", frozenset({"unsure"})
MARKS = {Verdict.OVER: "over", Verdict.WATCH: "tight", Verdict.UNKNOWN: "none"}


@dataclass(frozen=True, slots=True)
class Line:
    """One thing that is different: what, and now instead of before."""

    what: str
    now: str
    was: str


@dataclass(frozen=True, slots=True)
class Card:
    """`mark`: of the gravest that it makes worse or leaves, blank where all is in order; `days`: how long it
    is to be had, blank to the end; `is_lent`: it must come back from another show first."""

    offer: Offer
    lines: Sequence[Line]
    days: str
    mark: str

    @property
    def is_lent(self) -> bool:
        return self.offer.is_lent


def cards(found: Offered, reader: Reader) -> list[Card]:
    return [_card(one, reader) for one in found.offers]


def _card(offer: Offer, reader: Reader) -> Card:
    candidate = offer.candidate
    days = ""
    if candidate.last_on is not None:
        until = "swap-lent-until" if offer.is_lent else "swap-until"
        days = reader.say(until, day=reader.day(candidate.last_on))
    return Card(offer, lines(offer.differs, reader), days, MARKS.get(Verdict(candidate.verdict), ""))


def lines(differs: Iterable[Differs], reader: Reader) -> list[Line]:
    return [
        Line(reader.say(f"differs-{one.what}"), _value(one, one.now, reader), _value(one, one.was, reader))
        for one in differs
    ]


def _value(differs: Differs, value: float | str | None, reader: Reader) -> str:
    if value is None:
        return reader.say("differs-unknown")
    if isinstance(value, str):
        return value
    return reader.figure(value, differs.unit) if differs.unit else f"{value:g}"


def headline(found: Offered, reader: Reader) -> str:
    """The finding: whether something whole is at hand, and which."""
    old, best = found.asked.unit, next((one for one in found.offers if one.is_whole), None)
    if best is not None:
        key = "swap-head-same" if best.is_alike else "swap-head-other"
        return reader.say(key, new=best.candidate.unit, old=old)
    return reader.say("swap-head-partly" if found.offers else "swap-head-none", old=old)


def in_reserve(rows: Iterable[Row], model: str, reader: Reader) -> str:
    """How many spares of the model the show has, of how many it should have; blank where nobody asks."""
    row = next((one for one in rows if one.item == model), None)
    if row is None:
        return ""
    return reader.say("swap-reserve", model=model, free=int(row.free), needed=int(row.needed))
