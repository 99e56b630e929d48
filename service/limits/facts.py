"""Plain data that the limits read: one production as it stands, or as a plan would have it.

SI units in every name. None means not known, and a limit that needs it answers *unknown*.
Tags are what is printed on the thing. Nothing here knows the database or the solver.
"""

from dataclasses import dataclass, field
from datetime import date


@dataclass(frozen=True, slots=True)
class EmitterFacts:
    name: str
    w_per_m: float
    return_ohm_per_m: float | None = None


@dataclass(frozen=True, slots=True)
class TapeFacts:
    """A kind of tape. `class_v`: nominal class, 12 for 12.8. `signal`: level or pixel."""

    tag: str
    class_v: float
    polarity: str
    emitters: tuple[EmitterFacts, ...]
    pitch_m: float
    common_ohm_per_m: float | None = None
    max_run_m: float | None = None
    ip: int | None = None
    signal: str = "level"
    pwm_hz: float | None = None
    pixels_per_m: float | None = None
    slots_per_pixel: int | None = None
    pixel_idle_w: float | None = None
    load_basis: str = "nominal"  # or what was measured, when and by whom

    @property
    def w_per_m(self) -> float:
        """All emitters at full."""
        return sum(e.w_per_m for e in self.emitters)


@dataclass(frozen=True, slots=True)
class PieceFacts:
    """One piece of tape on its mount; `lots` is empty until it is cut, and has two at a join."""

    number: int
    drawn_m: float
    cut_m: float
    lots: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ConnectorFacts:
    """A kind of connector. `a_per_pin`: what one pin may carry for hours."""

    tag: str
    a_per_pin: float | None


@dataclass(frozen=True, slots=True)
class LeadFacts:
    """A lead, one way. `ohm_per_m` of one core at 20 degC; `fuses_a`: ratings of what is fitted in it."""

    length_m: float | None
    gauge: str | None
    ohm_per_m: float | None = None
    limit_a: float | None = None
    cores: int | None = None
    connector: ConnectorFacts | None = None
    fuses_a: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class WireFacts:
    """A drum of wire that the house has. `ohm_per_m` of one core at 20 degC."""

    gauge: str
    ohm_per_m: float
    limit_a: float | None = None


@dataclass(frozen=True, slots=True)
class FeedFacts:
    """Where a run is fed. `decoder` None: straight on the output, not dimmed.

    `supply` or `decoder` may name a model with no unit chosen yet ("any S320"); then
    `supply_is_placeholder` / `decoder_is_placeholder` is true.
    """

    supply: str
    output: int
    decoder: str | None
    first_channel: int | None
    channels: int
    supply_is_placeholder: bool = False
    decoder_is_placeholder: bool = False
    locked: bool = False
    port: int | None = None


@dataclass(frozen=True, slots=True)
class RunFacts:
    tag: str
    number: int
    pieces: tuple[PieceFacts, ...]
    feed_style: str  # one, both or middle
    lead: LeadFacts
    feed: FeedFacts | None = None

    @property
    def length_m(self) -> float:
        return sum(p.cut_m for p in self.pieces)


@dataclass(frozen=True, slots=True)
class CueFacts:
    """A stretch of a running order."""

    name: str
    minutes: float
    level_pct: float


@dataclass(frozen=True, slots=True)
class ElementFacts:
    """Something that must light up. `wired` names the emitters that reach a channel."""

    tag: str
    name: str
    scenic_unit: str
    motion: str  # static, rolling, flown, turntable, prop, costume
    travelling_cable: bool
    zone: str  # dry, splash, wet
    mount: str | None
    tape: TapeFacts | None
    wired: tuple[str, ...]
    dimmed: bool
    runs: tuple[RunFacts, ...]
    control_group: str = ""
    match_group: str = ""
    status: str = "asked"
    place: str = ""
    level_cap_pct: float | None = None
    cues: tuple[CueFacts, ...] = ()

    @property
    def load_w(self) -> float | None:
        return None if self.tape is None else self.tape.w_per_m * sum(r.length_m for r in self.runs)

    @property
    def is_moving(self) -> bool:
        return self.motion != "static"


@dataclass(frozen=True, slots=True)
class LoadFacts:
    """What one run puts on an output, all emitters at full at the nominal class voltage; `basis`: what the
    figures rest on."""

    run: str
    element: str
    w: float
    a: float
    basis: str = "nominal"


@dataclass(frozen=True, slots=True)
class OutputFacts:
    number: int
    cap_a: float | None
    loads: tuple[LoadFacts, ...] = ()

    @property
    def load_w(self) -> float:
        return sum(load.w for load in self.loads)

    @property
    def load_a(self) -> float:
        return sum(load.a for load in self.loads)


@dataclass(frozen=True, slots=True)
class UnitFacts:
    """Condition and whereabouts of one unit that the production uses or holds."""

    tag: str
    kind: str  # supply, decoder, battery, enclosure
    model: str
    state: str  # good, suspect, faulty, repair, retired, missing
    state_note: str = ""
    held_by: str = ""  # production that has it out, or should have given it back
    due_on: date | None = None  # last day it may be out
    is_out: bool = False
    wanted_by: tuple[tuple[str, date], ...] = ()  # later holds: production, first day


@dataclass(frozen=True, slots=True)
class MainsFacts:
    """What a supply makes of its mains: shares of 1, and amps for a moment when it is switched on."""

    efficiency: float | None = None
    power_factor: float | None = None
    inrush_a: float | None = None


@dataclass(frozen=True, slots=True)
class CurveFacts:
    """A supply in warm air: its rating up to `full_to_degc`, then less a kelvin, none above `max_degc`."""

    full_to_degc: float | None = None
    derate_per_k: float | None = None
    max_degc: float | None = None


@dataclass(frozen=True, slots=True)
class PackFacts:
    """A battery. `usable`: share of its capacity; Peukert's exponent blank: the energy method."""

    nominal_v: float
    capacity_ah: float | None
    usable: float | None = None
    rated_h: float | None = None
    peukert: float | None = None
    converter_efficiency: float | None = None
    charge_h: float | None = None


@dataclass(frozen=True, slots=True)
class PackModelFacts:
    """A kind of pack that the house has, whether one is free or not. `on_hand`: which of them is to be had
    for a part of the show's days, in words; blank: none."""

    tag: str
    class_v: float
    max_a: float | None
    pack: PackFacts
    on_hand: str = ""


@dataclass(frozen=True, slots=True)
class FuseFacts:
    """A fuse that is fitted on a supply, on one of its outputs or (None) before all of them."""

    rating_a: float
    output: int | None = None


@dataclass(frozen=True, slots=True)
class SupplyFacts:
    """A supply or battery in this production. `rated_w` None: not known.

    `ambient_factor`: 0 to 1 for the air around it, None if not known. `load_factor`: share of what
    remains that may be used (0.80 unless the model or unit says otherwise).
    """

    tag: str
    kind: str  # supply or battery
    model: str
    class_v: float
    rated_w: float | None
    outputs: tuple[OutputFacts, ...]
    ambient_factor: float | None = 1.0
    load_factor: float = 0.80
    unit: UnitFacts | None = None
    is_placeholder: bool = False
    outlet: str | None = None
    outlet_kind: str | None = None
    scenic_unit: str = ""  # rides on it; "" stands still
    place: str = ""
    enclosure: str = ""
    output_v: float | None = None  # what it really gives: 25.6 V in the 24 V class; None: as its class
    mains: MainsFacts = MainsFacts()
    curve: CurveFacts = CurveFacts()
    pack: PackFacts | None = None
    is_class2: bool | None = None  # as it is marked
    connector: ConnectorFacts | None = None  # of each output
    fuses: tuple[FuseFacts, ...] = ()

    @property
    def real_v(self) -> float:
        return self.class_v if self.output_v is None else self.output_v

    @property
    def load_w(self) -> float:
        return sum(o.load_w for o in self.outputs)

    @property
    def limit_w(self) -> float | None:
        if self.rated_w is None or self.ambient_factor is None:
            return None
        return self.rated_w * self.ambient_factor * self.load_factor


@dataclass(frozen=True, slots=True)
class ChannelLoadFacts:
    run: str
    element: str
    emitter: str
    a: float


@dataclass(frozen=True, slots=True)
class ChannelFacts:
    number: int
    loads: tuple[ChannelLoadFacts, ...] = ()

    @property
    def load_a(self) -> float:
        return sum(load.a for load in self.loads)


@dataclass(frozen=True, slots=True)
class BankFacts:
    """Channels of a decoder with one power feed. `sources`: (supply, output) that reach it."""

    number: int
    total_a: float | None
    channels: tuple[ChannelFacts, ...]
    sources: tuple[tuple[str, int], ...] = ()
    load_a: float = 0.0  # all emitters of the runs on it, wired or not


@dataclass(frozen=True, slots=True)
class DecoderFacts:
    tag: str
    model: str
    channel_a: float | None
    min_v: float
    max_v: float
    polarity: str
    link: str  # wired, wireless, network, local
    signal: str  # level or pixel
    banks: tuple[BankFacts, ...]
    pwm_hz: float | None = None
    load_factor: float = 0.80
    unit: UnitFacts | None = None
    is_placeholder: bool = False
    scenic_unit: str = ""
    place: str = ""
    enclosure: str = ""
    idle_w: float | None = None
    curve: str = ""  # of its dimming: linear or square
    unit_loads: float = 1.0  # on a wired line
    line: str = ""  # control line that it hangs on

    @property
    def channel_count(self) -> int:
        return sum(len(b.channels) for b in self.banks)


@dataclass(frozen=True, slots=True)
class PatchFacts:
    """Slots that one decoder (or one port of a pixel driver) listens to."""

    decoder: str
    port: int | None
    universe: int | None
    start: int | None
    footprint: int | None
    mode: str = "8-bit"
    mirror: str = ""  # decoders of one declared mirror group share start, mode and group
    pixels: int | None = None


@dataclass(frozen=True, slots=True)
class LineFacts:
    """A way that control takes. `unit_load_limit`: unit loads that the driver of a wired line carries."""

    name: str
    kind: str  # wired, stream, wireless or local
    universe: int | None = None
    unit_load_limit: float = 32.0


@dataclass(frozen=True, slots=True)
class BoxFacts:
    """A box that gear stands in. `k_w_per_m2_k`: watts that pass a square metre of it for each kelvin."""

    tag: str
    material: str
    vent: str  # sealed, vented or fan
    area_m2: float | None
    k_w_per_m2_k: float | None
    ambient_degc: float | None  # of the air outside it
    fan_m3_per_h: float | None = None


@dataclass(frozen=True, slots=True)
class PlugFacts:
    """What a supply of another production puts on an outlet, on the days given (both of them included)."""

    production: str
    supply: str
    load_w: float
    mains: MainsFacts
    from_on: date
    last_on: date


@dataclass(frozen=True, slots=True)
class OutletFacts:
    """A wall circuit. `others`: what else hangs on it, in words and watts; `shared`: other productions'
    supplies on days on which this one stands too."""

    tag: str
    kind: str  # constant, relay, dimmed
    breaker_a: float | None
    volts_v: float | None
    supplies: tuple[str, ...] = ()
    venue: str = ""
    place: str = ""
    others: tuple[tuple[str, float], ...] = ()
    shared: tuple[PlugFacts, ...] = ()


@dataclass(frozen=True, slots=True)
class ShowFacts:
    """One production on one day.

    `is_lit`: the public or the company needs light now (first preview to closing), so that an
    element without a feed is a fault and not merely work to do.
    """

    production: str
    on: date
    is_lit: bool
    elements: tuple[ElementFacts, ...] = ()
    supplies: tuple[SupplyFacts, ...] = ()
    decoders: tuple[DecoderFacts, ...] = ()
    patches: tuple[PatchFacts, ...] = ()
    outlets: tuple[OutletFacts, ...] = ()
    units: tuple[UnitFacts, ...] = ()
    free_supplies: tuple[SupplyFacts, ...] = ()  # sound and free for the window: candidates for a mend
    free_decoders: tuple[DecoderFacts, ...] = ()
    is_over: bool = field(default=False)  # closed and struck: faults of loading are history
    wires: tuple[WireFacts, ...] = ()  # drums in the house; none given: any size in the tables
    film_days: tuple[date, ...] = ()
    boxes: tuple[BoxFacts, ...] = ()
    pack_models: tuple[PackModelFacts, ...] = ()
    lines: tuple[LineFacts, ...] = ()
    free_outlets: tuple[OutletFacts, ...] = ()  # of its venue, with nothing of this production on them
