"""What is told of a show that stands: plain data, in the units their names end in."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import StrEnum

from service.limits.findings import Verdict, compared
from service.limits.mends.acts import Act

TIGHT_SHARE = 0.9  # nearly full from here on; a mark on the page, no verdict


class State(StrEnum):
    """How full something is."""

    OK = "ok"
    TIGHT = "tight"
    OVER = "over"
    UNKNOWN = "unknown"


STATES = {
    Verdict.OVER: State.OVER,
    Verdict.WATCH: State.TIGHT,
    Verdict.UNKNOWN: State.UNKNOWN,
    Verdict.OK: State.OK,
}


@dataclass(frozen=True, slots=True)
class Way:
    """What some runs of an element share from output to channels. Addresses as the board counts."""

    runs: tuple[int, ...]
    supply: str
    output: int
    decoder: str
    first_channel: int | None
    last_channel: int | None
    universe: int | None
    slot: int | None
    is_supply_over: bool = False
    is_decoder_over: bool = False
    is_address_over: bool = False
    is_locked: bool = False


@dataclass(frozen=True, slots=True)
class Line:
    """One element of the show."""

    tag: str
    name: str
    where: str
    status: str
    tape: str
    length_m: float
    load_w: float | None
    ways: tuple[Way, ...]
    unfed_runs: int
    is_over: bool
    is_wanted: bool  # neither struck nor cut from the show

    @property
    def is_locked(self) -> bool:
        return any(way.is_locked for way in self.ways)

    @property
    def is_fed(self) -> bool:
        return bool(self.ways) and not self.unfed_runs

    @property
    def has_fault(self) -> bool:
        own = (way.is_supply_over or way.is_decoder_over or way.is_address_over for way in self.ways)
        return self.is_over or any(own)


@dataclass(frozen=True, slots=True)
class Slice:
    """What one element puts on one output of a supply."""

    element: str
    name: str
    output: int
    load_w: float


@dataclass(frozen=True, slots=True)
class Bar:
    """A supply and what hangs on it. `limit_w`: what the house lets it carry; None: not known. `verdict`: the
    worst that any limit says of it (None: none was asked); `said`: what that is, where these watts do not
    show it."""

    supply: str
    kind: str
    place: str
    outlet: str
    load_w: float
    limit_w: float | None
    rated_w: float | None
    slices: tuple[Slice, ...]
    verdict: Verdict | None = None
    said: str = ""

    @property
    def left_w(self) -> float | None:
        return None if self.limit_w is None else self.limit_w - self.load_w

    @property
    def state(self) -> State:
        of_watts = self.state_of_watts
        if self.verdict is None or (self.verdict is Verdict.OK and of_watts is State.TIGHT):
            return of_watts
        return STATES[self.verdict]

    @property
    def state_of_watts(self) -> State:
        if self.limit_w is None:
            return State.UNKNOWN
        if compared(self.load_w, self.limit_w) is Verdict.OVER:
            return State.OVER
        return State.TIGHT if self.load_w >= self.limit_w * TIGHT_SHARE else State.OK


@dataclass(frozen=True, slots=True)
class Block:
    """Slots that one decoder, or a port of it, listens to, both ends included."""

    decoder: str
    first: int
    last: int
    is_over: bool


@dataclass(frozen=True, slots=True)
class Universe:
    number: int
    blocks: tuple[Block, ...]

    @property
    def taken(self) -> int:
        return len({slot for block in self.blocks for slot in range(block.first, block.last + 1)})

    @property
    def free_from(self) -> int | None:
        """The slot after the last one taken; None where that is the end of it."""
        last = max((block.last for block in self.blocks), default=0)
        return last + 1 if last < 512 else None


@dataclass(frozen=True, slots=True)
class Fault:
    """A finding told to people. `head` and `rest`: what is wrong; `excess`: by how much, in `unit`, where it
    is a load; `act`, `effect`, `instead`: one move, what it leaves, and what else would do; `also`: other
    findings that the same move mends."""

    code: str
    subject: str
    tag: str
    head: str
    rest: str
    excess: float | None
    unit: str
    act: str
    effect: str
    instead: str
    acts: tuple[Act, ...]
    harm: str
    source: str
    caution: str
    elements: tuple[str, ...]
    also: tuple["Fault", ...] = ()

    @property
    def can_be_done(self) -> bool:
        return bool(self.acts)


@dataclass(frozen=True, slots=True)
class Heading:
    """What a show is, and how it stands in a few figures."""

    code: str
    title: str
    venue: str
    status: str
    build_start: date
    load_in: date
    opening: date | None
    closing: date
    return_by: date
    is_over: bool
    version: int
    plan: int | None
    kept_at: datetime | None
    latest: int | None  # the newest plan, where it is newer than the kept one
    latest_status: str
    listed: int  # elements, struck ones too
    elements: int
    fed: int
    locked: int
    supplies: int
    over_supplies: int
    faults: int
    load_w: float

    @property
    def dark(self) -> int:
        return self.elements - self.fed


@dataclass(frozen=True, slots=True)
class Standing:
    """A show on one day. `places`: its elements by where they are, in the order of a walk."""

    heading: Heading
    places: tuple[tuple[str, tuple[Line, ...]], ...]
    faults: tuple[Fault, ...]
    dark: tuple[Fault, ...]
    watched: tuple[Fault, ...]
    unknown: tuple[Fault, ...]
    bars: tuple[Bar, ...]
    universes: tuple[Universe, ...]
    names: dict[str, str] = field(default_factory=dict)  # of elements, by tag

    def fault(self, code: str, subject: str) -> Fault | None:
        """The fault that is, or goes with, this limit and what it is about."""
        every: Sequence[Fault] = (*self.faults, *self.dark, *self.watched)
        for one in every:
            for found in (one, *one.also):
                if (found.code, found.subject) == (code, subject):
                    return found
        return None
