"""Rows as the service answers them. Units are in the names; days and instants are text (ISO 8601)."""

from typing import Any, TypedDict


class LoadRow(TypedDict):
    """One supply or battery output of the report `loads`."""

    production: str
    supply: str
    model: str
    kind: str
    place: str
    outlet: str
    output: int
    elements: list[str]
    output_w: float
    supply_w: float
    limit_w: float | None
    supply_pct: float | None
    load_a: float
    limit_a: float | None
    output_pct: float | None
    verdict: str
    binds: str
    message: str
    load_basis: str


class LimitRow(TypedDict):
    """One finding of the report `over-limit`; figures in `unit`."""

    production: str
    verdict: str
    harm: str
    code: str
    subject_kind: str
    subject: str
    tag: str
    value: float | None
    limit: float | None
    unit: str
    margin: float | None
    pct: float | None
    message: str
    mend: str
    mend_value: float | None
    mend_limit: float | None
    source: str
    caution: str
    elements: list[str]
    is_history: bool
    load_basis: str


class StockRow(TypedDict):
    """One model or tape of the report `stock-use`; figures in `unit`."""

    kind: str
    item: str
    unit: str
    owned: float
    usable: float
    out: float
    wanted: float
    free: float
    short: float
    season_short: float
    season_short_on: str | None
    least_on: str
    clears_on: str | None
    incoming: float
    longest_m: float | None
    wanted_by: list[str]


class Slot(TypedDict):
    """Where one emitter listens."""

    emitter: str
    channel: int
    universe: int | None
    slot: int | None


class FeedRun(TypedDict):
    """One run of an element and what feeds it; `supply` None: nothing does."""

    run: int
    tape: str | None
    feed_style: str
    length_m: float
    load_w: float
    load_a: float | None
    load_basis: str | None
    lead_m: float | None
    lead_gauge: str | None
    leads: int
    supply: str | None
    supply_model: str | None
    output: int | None
    output_label: str | None
    decoder: str | None
    decoder_model: str | None
    decoder_state: str | None
    decoder_note: str | None
    decoder_place: str | None
    decoder_place_name: str | None
    first_channel: int | None
    channels: int
    override_reason: str | None
    is_locked: bool
    universe: int | None
    start: int | None
    mode: str | None
    slots: list[Slot]
    unfed_because: str | None
    unfed_mend: str | None


class Source(TypedDict):
    """A supply or battery behind an element, and what else hangs on it."""

    supply: str
    model: str
    kind: str
    state: str
    note: str | None
    place: str | None
    place_name: str | None
    enclosure: str | None
    outlet: str | None
    outlet_kind: str | None
    outlet_position: str | None
    load_w: float
    load_basis: str | None
    limit_w: float | None
    load_pct: float | None
    feeds: list[str]


class Feed(TypedDict):
    """What feeds an element, wall to lead."""

    element: str
    name: str
    production: str
    status: str
    scenic_unit: str | None
    motion: str | None
    place: str | None
    place_name: str | None
    plan: int | None
    load_w: float
    load_basis: str | None
    runs: list[FeedRun]
    sources: list[Source]
    suspects: list[str]


class DarkRow(TypedDict):
    """One element that loses light."""

    production: str
    from_on: str
    to_on: str
    element: str
    name: str
    runs: list[int]
    whole: bool
    load_w: float
    load_basis: str | None


class PlanFeed(TypedDict):
    """One run and where a plan feeds it."""

    element: str
    run: int
    supply: str
    output: int
    decoder: str | None
    first_channel: int | None
    last_channel: int | None
    universe: int | None
    start: int | None
    place: str | None
    outlet: str | None
    override_reason: str | None
    is_locked: bool
    load_w: float
    load_basis: str | None


class Unfed(TypedDict):
    """One run that a plan leaves dark, why, and what would light it."""

    element: str
    run: int
    limit: str
    value: float | None
    bound: float | None
    unit: str
    because: str
    mend: str


class Plan(TypedDict):
    """A plan, how good it is, what it feeds and what it leaves dark."""

    production: str
    number: int
    status: str
    origin: str
    by: str
    from_on: str
    to_on: str
    mend: bool
    effort: float
    seed: int
    progress: dict[str, Any] | None
    cost: int | None
    bound: int | None
    gap_pct: float | None
    unfed_w: float | None
    unfed_bound_w: float | None
    moved: int | None
    refed: int | None
    is_proven: bool | None
    stopped_early: bool | None
    seconds: float | None
    notes: list[str]
    error: str | None
    started_at: str | None
    finished_at: str | None
    kept_at: str | None
    version: int
    feeds: list[PlanFeed]
    unfed: list[Unfed]


class Difference(TypedDict):
    """One value of a sheet that is not the one in the store."""

    sheet: str
    row: int
    thing: str
    column: str
    before: str
    after: str


class BroughtIn(TypedDict):
    """Rows of each sheet that came in, or would have."""

    dry_run: bool
    counts: dict[str, int]
    same: dict[str, int]
    changes: list[Difference]
    remarks: list[str]
