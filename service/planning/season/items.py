"""The season in memory: every model, tape, lot and reel with all that wants it, and who has which unit."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from service.season.buying import Terms
from service.season.lines import Need, Step, Stock, step_line
from service.season.moves import Window

PIECE, METRE = "piece", "m"


@dataclass(frozen=True, slots=True)
class Missing:
    """A sound unit that is not back from the show that should have brought it the longest. `stock`: one late,
    on the days on which it is missed; it is among the stocks of its item, too."""

    tag: str
    who: str
    due_on: date
    stock: Stock


@dataclass(frozen=True, slots=True)
class Item:
    """One model (figures in pieces), or one tape, lot of a tape or reel (figures in cut pitches)."""

    kind: str  # supply, decoder, battery, tape, lot or reel
    tag: str
    needs: tuple[Need, ...]
    stocks: tuple[Stock, ...]
    lot: str = ""
    pitch_um: int | None = None
    tape: str = ""  # of a lot or reel
    terms: Terms = field(default_factory=Terms)
    missing: tuple[Missing, ...] = ()  # the one that is late the longest before the others

    @property
    def unit(self) -> str:
        return PIECE if self.pitch_um is None else METRE

    @property
    def is_lent(self) -> bool:
        """Whether it comes back; tape is used up."""
        return self.pitch_um is None

    def figure(self, quantity: int) -> float:
        """Pieces or pitches in the unit they are told in."""
        return float(quantity) if self.pitch_um is None else round(quantity * self.pitch_um / 1e6, 6)

    def line(self, from_on: date) -> tuple[Step, ...]:
        return step_line(self.needs, self.stocks, from_on)

    def with_back(self, back: Iterable[Missing]) -> "Item":
        """The same with those of its missing units on the shelf."""
        stocks, missing = list(self.stocks), list(self.missing)
        for one in back:
            stocks.remove(one.stock)
            missing.remove(one)
        return replace(self, stocks=tuple(stocks), missing=tuple(missing))


@dataclass(frozen=True, slots=True)
class Show:
    """A production as its gear sees it. `until_on` of its days is the day after the last."""

    code: str
    venue: str
    window: Window
    first_preview: date | None
    closing: date


@dataclass(frozen=True, slots=True)
class Named:
    """One show has this very unit on these half-open days. `due_on`: the last day it may be out, where it
    should be back by now. `stock`: what is not there as long as it is late."""

    tag: str
    item: str  # tag of its model; empty for a box
    who: str
    from_on: date
    until_on: date
    is_held: bool
    due_on: date | None = None
    stock: Stock | None = None


@dataclass(frozen=True, slots=True)
class Late:
    """A line of an order that should have come and did not: it counts for nothing until it has a new day.
    `quantity`: in pieces or cut pitches; `count`: as it was ordered, in pieces or reels."""

    order: str
    line: int
    item: str
    quantity: int
    due_on: date | None
    count: int


@dataclass(frozen=True)
class Season:
    """As it is known on `today`. `items` by tag; a lot goes by its tape and its name: see `lot_key`."""

    today: date
    shows: Mapping[str, Show]
    items: Mapping[str, Item]
    named: tuple[Named, ...]
    late: tuple[Late, ...] = ()

    @property
    def windows(self) -> dict[str, Window]:
        return {code: show.window for code, show in self.shows.items()}

    def with_items(self, changed: Mapping[str, Item]) -> "Season":
        return replace(self, items={**self.items, **changed})


def lot_key(tape: str, lot: str) -> str:
    """
    >>> lot_key("WW24", "W-26B")
    'WW24 lot W-26B'
    """
    return f"{tape} lot {lot}"
