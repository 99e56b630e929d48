"""What planning says and is told at the doors. Units are in the names: _w watts, _a amps, _m metres."""

from datetime import date, datetime
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

Watts = Annotated[float, Field(description="watts at full, all emitters")]

# Room is left on both sides for days counted on from a day.
Day = Annotated[date, Field(ge=date(1900, 1, 1), le=date(2999, 12, 31))]


class Said(BaseModel):
    model_config = ConfigDict(extra="forbid")


class PlanRequest(Said):
    """How a plan is wanted."""

    from_on: Day | None = Field(
        default=None, description="first day gear is wanted; default the production's own"
    )
    to_on: Day | None = Field(default=None, description="last day gear is wanted, inclusive")
    mend: bool = Field(
        default=False, description="also move kept feeds that are over a limit, as few as possible"
    )
    effort: float = Field(
        default=1.0, gt=0, le=20, description="how hard to try, in work units; 1 is ordinary"
    )
    seed: int = Field(default=0, ge=0, le=2**31 - 1, description="same question and seed, same plan")
    deadline_s: float | None = Field(
        None, gt=0, le=3600, description="seconds after which the best plan so far is taken (stopped_early)"
    )


class PlanOut(BaseModel):
    """One plan and how good it is."""

    production: str
    number: int
    status: str = Field(description="queued, working, draft, kept, superseded, cancelled or failed")
    origin: str
    by: str
    from_on: date = Field(description="first day gear is wanted")
    to_on: date = Field(description="last day, inclusive")
    mend: bool
    effort: float
    seed: int
    progress: dict[str, Any] | None = None
    cost: int | None = Field(
        default=None, description="weight of the gear it newly takes; one supply is 1000"
    )
    bound: int | None = Field(default=None, description="no plan that feeds as much can weigh less (proven)")
    gap_pct: float | None = Field(default=None, description="cost above the proven bound, percent")
    unfed_w: float | None = Field(default=None, description="watts left dark")
    unfed_bound_w: float | None = Field(
        default=None, description="no plan can leave fewer watts dark (proven)"
    )
    moved: int | None = Field(default=None, description="kept runs that change output, decoder or channel")
    refed: int | None = Field(default=None, description="runs whose gear is gone, fed again")
    is_proven: bool | None = None
    stopped_early: bool | None = None
    seconds: float | None = None
    notes: list[str] = []
    error: str | None = None
    started_at: datetime | None = None
    finished_at: datetime | None = None
    kept_at: datetime | None = None
    version: int


class AllotmentOut(BaseModel):
    """One run and where the plan feeds it."""

    element: str
    run: int
    supply: str = Field(description="tag, or 'any MODEL' where no unit is chosen yet")
    output: int
    decoder: str | None = None
    first_channel: int | None = None
    last_channel: int | None = None
    universe: int | None = None
    start: int | None = None
    place: str | None = None
    outlet: str | None = None
    is_locked: bool = False
    load_w: Watts


class UnfedOut(BaseModel):
    """One run left dark, the one limit that binds, and the smallest thing that would fix it."""

    element: str
    run: int
    limit: str
    value: float | None = None
    bound: float | None = None
    unit: str = ""
    because: str
    mend: str


class PlanDetail(PlanOut):
    feeds: list[AllotmentOut] = []
    unfed: list[UnfedOut] = []


class ChangeOut(BaseModel):
    """One run that two plans feed differently; None is dark."""

    element: str
    run: int
    change: str = Field(description="fed, dark, moved, or address")
    before: str | None = None
    after: str | None = None


class SlotOut(BaseModel):
    emitter: str
    channel: int
    universe: int | None = None
    slot: int | None = None


class RunFeedOut(BaseModel):
    """One run of an element: which supply, output, decoder and channels, and at which address."""

    run: int
    tape: str | None = None
    feed_style: str
    length_m: float
    load_w: Watts
    load_a: float | None = None
    lead_m: float | None = Field(default=None, description="one way, metres")
    lead_gauge: str | None = None
    supply: str | None = Field(default=None, description="None: not fed")
    supply_model: str | None = None
    output: int | None = None
    output_label: str | None = None
    decoder: str | None = Field(default=None, description="None: straight on the output")
    decoder_model: str | None = None
    decoder_state: str | None = None
    decoder_note: str | None = None
    first_channel: int | None = None
    channels: int = 0
    is_locked: bool = False
    universe: int | None = None
    start: int | None = None
    mode: str | None = None
    slots: list[SlotOut] = []
    unfed_because: str | None = None
    unfed_mend: str | None = None


class SourceOut(BaseModel):
    """A supply or battery behind the element, its load, and everything else on it."""

    supply: str
    model: str
    kind: str
    state: str
    note: str | None = None
    place: str | None = None
    place_name: str | None = None
    enclosure: str | None = None
    outlet: str | None = None
    outlet_kind: str | None = None
    outlet_position: str | None = None
    load_w: Watts
    limit_w: float | None = Field(
        None, description="watts it may give for hours in open air; None: not known"
    )
    load_pct: float | None = None
    feeds: list[str] = Field(default=[], description="every element on this supply")


class FeedOut(BaseModel):
    """Everything to know about a dark element, in one answer."""

    element: str
    name: str
    production: str
    status: str
    scenic_unit: str | None = None
    motion: str | None = None
    place: str | None = None
    place_name: str | None = None
    plan: int | None = Field(default=None, description="number of the kept plan; None: nothing is kept")
    load_w: Watts
    runs: list[RunFeedOut]
    sources: list[SourceOut]
    suspects: list[str]


class FedOut(BaseModel):
    """One run behind a piece of gear."""

    production: str
    element: str
    name: str
    run: int
    status: str
    supply: str | None = None
    output: int
    decoder: str | None = None
    first_channel: int | None = None
    last_channel: int | None = None
    load_w: Watts
    load_a: float | None = None


class DarkOut(BaseModel):
    """One element that loses light."""

    production: str
    element: str
    name: str
    runs: list[int]
    whole: bool = Field(description="nothing of it stays lit")
    load_w: Watts


class FeedMove(Said):
    """Where a kept feed goes by hand. Blank fields stay as they are."""

    run: int | None = Field(default=None, ge=1, description="one run only; default all runs of the element")
    supply: str | None = Field(default=None, description="tag of a supply or battery")
    output: int | None = Field(default=None, ge=1)
    decoder: str | None = Field(default=None, description="tag of a decoder; '' for straight on the output")
    first_channel: int | None = Field(default=None, ge=1)
    locked: bool | None = Field(default=None, description="a locked feed is never moved by the allocator")
    despite_limits: bool = Field(default=False, description="do it though it puts something over a limit")
