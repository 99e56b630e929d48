"""What planning says and is told at the doors. Units are in the names: _w watts, _a amps, _m metres."""

import hashlib
from datetime import date, datetime
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

Watts = Annotated[float, Field(description="watts at full, all emitters")]
Basis = Annotated[
    str | None, Field(description="what the watts rest on: nominal, or measured, when and by whom")
]

_WHOLE = "~"  # in an ETag, before what stands for the whole answer
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

    production: str = Field(description="show code")
    number: int = Field(description="number of the plan, from 1")
    status: str = Field(description="queued, working, draft, kept, superseded, cancelled or failed")
    origin: str = Field(description="allocator, sheets or hand")
    by: str = Field(description="who asked for it")
    from_on: date = Field(description="first day gear is wanted")
    to_on: date = Field(description="last day, inclusive")
    mend: bool = Field(description="whether kept feeds over a limit may be moved")
    effort: float = Field(description="how hard it tried, in work units")
    seed: int = Field(description="same question and seed, same plan")
    progress: dict[str, Any] | None = Field(
        default=None, description="parts done, cost and bound so far, while it is under way"
    )
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
    is_proven: bool | None = Field(default=None, description="whether nothing better exists")
    stopped_early: bool | None = Field(default=None, description="whether time ended it")
    seconds: float | None = Field(default=None, description="seconds it took")
    notes: list[str] = Field(default=[], description="what else to know about it")
    error: str | None = Field(default=None, description="why it failed")
    started_at: datetime | None = Field(default=None, description="UTC")
    finished_at: datetime | None = Field(default=None, description="UTC")
    kept_at: datetime | None = Field(default=None, description="when the crew began to work from it, UTC")
    version: int = Field(description="grows with every change; the ETag")


class AllotmentOut(BaseModel):
    """One run and where the plan feeds it."""

    element: str = Field(description="tag of the element")
    run: int = Field(description="number of the run, from 1")
    supply: str = Field(description="tag, or 'any MODEL' where no unit is chosen yet")
    output: int = Field(description="output of the supply, from 1")
    decoder: str | None = Field(default=None, description="tag of the decoder; null: straight on the output")
    first_channel: int | None = Field(default=None, description="first channel on the decoder")
    last_channel: int | None = Field(default=None, description="last channel on the decoder")
    universe: int | None = Field(default=None, description="universe it listens to")
    start: int | None = Field(default=None, description="first slot of the decoder, 1 to 512")
    place: str | None = Field(default=None, description="tag of the place")
    outlet: str | None = Field(default=None, description="tag of the outlet")
    override_reason: str | None = Field(default=None, description="why it was put over a limit by hand")
    is_locked: bool = Field(default=False, description="whether the allocator leaves it alone")
    load_w: Watts
    load_basis: Basis = None


class UnfedOut(BaseModel):
    """One run left dark, the one limit that binds, and the smallest thing that would fix it."""

    element: str = Field(description="tag of the element")
    run: int = Field(description="number of the run, from 1")
    limit: str = Field(description="the limit that binds")
    value: float | None = Field(default=None, description="what the run needs, in `unit`")
    bound: float | None = Field(default=None, description="what there is, in `unit`")
    unit: str = Field(default="", description="unit of the figures")
    because: str = Field(description="why, in words")
    mend: str = Field(description="how to put it right")


class PlanDetail(PlanOut):
    feeds: list[AllotmentOut] = Field(default=[], description="every run it feeds")
    unfed: list[UnfedOut] = Field(default=[], description="every run it leaves dark")


class ChangeOut(BaseModel):
    """One run that two plans feed differently; None is dark."""

    element: str = Field(description="tag of the element")
    run: int = Field(description="number of the run, from 1")
    change: str = Field(description="fed, dark, moved, or address")
    before: str | None = Field(default=None, description="feed in the kept plan")
    after: str | None = Field(default=None, description="feed in this plan")


class SlotOut(BaseModel):
    emitter: str = Field(description="colour")
    channel: int = Field(description="channel on the decoder")
    universe: int | None = Field(default=None, description="universe it listens to")
    slot: int | None = Field(default=None, description="slot in the universe, 1 to 512")


class RunFeedOut(BaseModel):
    """One run of an element: which supply, output, decoder and channels, and at which address."""

    run: int = Field(description="number of the run, from 1")
    tape: str | None = Field(default=None, description="tag of the tape")
    feed_style: str = Field(description="one, both or middle")
    length_m: float = Field(description="length cut, in metres")
    load_w: Watts
    load_a: float | None = Field(default=None, description="amps at full, all emitters")
    load_basis: Basis = None
    lead_m: float | None = Field(default=None, description="one way, metres")
    lead_gauge: str | None = Field(default=None, description="gauge of the lead")
    leads: int = Field(
        default=1, description="leads to it, each of that length, from the same channels and the same output"
    )
    supply: str | None = Field(default=None, description="None: not fed")
    supply_model: str | None = Field(default=None, description="tag of its model")
    output: int | None = Field(default=None, description="output of the supply, from 1")
    output_label: str | None = Field(default=None, description="what is printed beside the output")
    decoder: str | None = Field(default=None, description="None: straight on the output")
    decoder_model: str | None = Field(default=None, description="tag of its model")
    decoder_state: str | None = Field(default=None, description="condition of the decoder")
    decoder_note: str | None = Field(default=None, description="what was found on the decoder")
    decoder_place: str | None = Field(default=None, description="tag of the place where the decoder stands")
    decoder_place_name: str | None = Field(default=None, description="that place in words")
    first_channel: int | None = Field(default=None, description="first channel on the decoder")
    channels: int = Field(default=0, description="channels it takes")
    override_reason: str | None = Field(default=None, description="why it was put over a limit by hand")
    is_locked: bool = Field(default=False, description="whether the allocator leaves it alone")
    universe: int | None = Field(default=None, description="universe it listens to")
    start: int | None = Field(default=None, description="first slot of the decoder, 1 to 512")
    mode: str | None = Field(default=None, description="8-bit, 16-bit or pixel")
    slots: list[SlotOut] = Field(default=[], description="where each emitter listens")
    unfed_because: str | None = Field(default=None, description="why it is dark")
    unfed_mend: str | None = Field(default=None, description="what would light it")


class SourceOut(BaseModel):
    """A supply or battery behind the element, its load, and everything else on it."""

    supply: str = Field(description="tag of the supply or battery")
    model: str = Field(description="tag of its model")
    kind: str = Field(description="supply or battery")
    state: str = Field(description="condition")
    note: str | None = Field(default=None, description="what was found")
    place: str | None = Field(default=None, description="tag of the place")
    place_name: str | None = Field(default=None, description="the place in words")
    enclosure: str | None = Field(default=None, description="tag of the box it is in")
    outlet: str | None = Field(default=None, description="tag of the outlet")
    outlet_kind: str | None = Field(default=None, description="constant, relay or dimmed")
    outlet_position: str | None = Field(default=None, description="where the outlet is, in words")
    load_w: Watts
    load_basis: Basis = None
    limit_w: float | None = Field(
        None, description="watts it may give for hours where it stands, in a box or not; None: not known"
    )
    load_pct: float | None = Field(default=None, description="load as a percentage of the limit")
    feeds: list[str] = Field(default=[], description="every element on this supply")


class FeedOut(BaseModel):
    """Everything to know about a dark element, in one answer."""

    element: str = Field(description="tag of the element")
    name: str = Field(description="what people call it")
    production: str = Field(description="show code")
    status: str = Field(description="where the element stands")
    scenic_unit: str | None = Field(default=None, description="the scenic unit that carries it")
    motion: str | None = Field(default=None, description="how that moves")
    place: str | None = Field(default=None, description="tag of the place")
    place_name: str | None = Field(default=None, description="the place in words")
    plan: int | None = Field(default=None, description="number of the kept plan; None: nothing is kept")
    load_w: Watts
    load_basis: Basis = None
    runs: list[RunFeedOut] = Field(description="its runs")
    sources: list[SourceOut] = Field(description="the supplies and batteries behind it")
    suspects: list[str] = Field(description="what to go to first when it is dark")


def whole_etag(own: str, said: bytes) -> str:
    """`own`, what a move of the feed is meant for, and then all that is said of it: the load of others on the
    same supply, a state or a place may change where nothing of the feed did, and a copy is old then."""
    return f"{own}{_WHOLE}{hashlib.sha256(said).hexdigest()[:12]}"


def own_part(etag: str) -> str:
    """
    >>> own_part(whole_etag("1-3-46.1", b"{}"))
    '1-3-46.1'
    """
    return etag.partition(_WHOLE)[0]


class FedOut(BaseModel):
    """One run behind a piece of gear."""

    production: str = Field(description="show code")
    from_on: date = Field(description="first day of the plan it is kept in")
    to_on: date = Field(description="last day of that plan, inclusive")
    element: str = Field(description="tag of the element")
    name: str = Field(description="what people call it")
    run: int = Field(description="number of the run, from 1")
    status: str = Field(description="where the element stands")
    supply: str | None = Field(default=None, description="tag of the supply or battery")
    output: int = Field(description="output of the supply, from 1")
    decoder: str | None = Field(default=None, description="tag of the decoder; null: straight on the output")
    first_channel: int | None = Field(default=None, description="first channel on the decoder")
    last_channel: int | None = Field(default=None, description="last channel on the decoder")
    load_w: Watts
    load_a: float | None = Field(default=None, description="amps at full, all emitters")
    load_basis: Basis = None


class DarkOut(BaseModel):
    """One element that loses light."""

    production: str = Field(description="show code")
    from_on: date = Field(description="first day of the plan it is kept in")
    to_on: date = Field(description="last day of that plan, inclusive")
    element: str = Field(description="tag of the element")
    name: str = Field(description="what people call it")
    runs: list[int] = Field(description="numbers of the runs that go dark")
    whole: bool = Field(description="nothing of it stays lit")
    load_w: Watts
    load_basis: Basis = None


class FeedMove(Said):
    """Where a kept feed goes by hand. Blank fields stay as they are."""

    run: int | None = Field(default=None, ge=1, description="one run only; default all runs of the element")
    supply: str | None = Field(default=None, description="tag of a supply or battery")
    output: int | None = Field(default=None, ge=1, description="output of the supply, from 1")
    decoder: str | None = Field(default=None, description="tag of a decoder; '' for straight on the output")
    first_channel: int | None = Field(default=None, ge=1, description="first channel on the decoder")
    locked: bool | None = Field(default=None, description="a locked feed is never moved by the allocator")
    despite_limits: str | None = Field(
        default=None,
        min_length=5,
        max_length=200,
        description="why it is done though it puts something over a limit; kept on record with who said so",
    )
