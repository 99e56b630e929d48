"""The question put to the allocator: what must be fed, and which gear may be used."""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass, fields, is_dataclass, replace
from datetime import date
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import Any, TypeVar

from sqlalchemy import Row
from sqlalchemy.orm import Session

from service.allocation.problem import (
    Bank,
    Block,
    DecoderModel,
    Installed,
    Link,
    Problem,
    Run,
    Shares,
    Signal,
    Source,
    SupplyModel,
    Unit,
)
from service.planning.leads import Leads, near_places
from service.planning.snapshot.availability import Claims, Taken, free_units, read_claims
from service.planning.snapshot.facts import air_factor
from service.planning.snapshot.fed import Fed, fed_runs
from service.planning.snapshot.house import DecoderKind, House, SourceKind, UnitRow, read_house
from service.planning.snapshot.reading import read_show
from service.planning.snapshot.show import ElementRow, EmitterRow, RunRow, ShowRows, TapeRow
from service.season.records import Production

NOT_TO_FEED = frozenset({"cut from show", "struck"})
Kind = TypeVar("Kind", SourceKind, DecoderKind)
SUPPLY_COST, DECODER_COST = 1000, 500  # one supply is one; a decoder half; a watt or a channel breaks ties


@dataclass(frozen=True, slots=True)
class Question:
    """A problem and what is needed to turn its answer back into rows."""

    problem: Problem
    house: House
    rows: ShowRows
    taken: tuple[Taken, ...]
    runs: dict[str, tuple[ElementRow, RunRow]]
    claims: Claims
    undecided: tuple[str, ...]  # elements without tape or length: nothing can be worked out for them

    @property
    def fingerprint(self) -> str:
        return hashlib.sha256(settled(self.problem).encode()).hexdigest()


def settled(value: object) -> str:
    """The same text for equal values in every process: the order of a set differs from one to the next.

    >>> settled((frozenset({"b", "a"}), 1))
    "({'a', 'b'}, 1)"
    """
    if isinstance(value, frozenset):
        return "{" + ", ".join(sorted(settled(one) for one in value)) + "}"
    if isinstance(value, tuple):
        return "(" + ", ".join(settled(one) for one in value) + ")"
    if is_dataclass(value):
        inner = (f"{f.name}={settled(getattr(value, f.name))}" for f in fields(value))
        return f"{type(value).__name__}({', '.join(inner)})"
    return repr(value)


def question_for(
    session: Session, production: Production, window: tuple[date, date], mend: bool, today: date
) -> Question:
    """What the allocator is asked for one production, read in one snapshot."""
    house = read_house(session)
    rows = read_show(session, production)
    claims = read_claims(session, today)
    free, taken = _with_own(rows, *free_units(house, claims, production.id, window))
    runs: dict[str, tuple[ElementRow, RunRow]] = {}
    undecided = []
    grouped: dict[tuple[str, ...], list[ElementRow]] = {}
    for element in rows.elements:
        if element.status in NOT_TO_FEED:
            continue
        if any(is_open(rows.allotments[run.id]) for run in element.runs if run.id in rows.allotments):
            runs |= {f"{element.tag}/{run.number}": (element, run) for run in element.runs}
            continue
        if element.tape is None or not any(run.pitches for run in element.runs):
            undecided.append(element.tag)
            continue
        grouped.setdefault(_block_key(element), []).append(element)
        runs |= {f"{element.tag}/{run.number}": (element, run) for run in element.runs}
    leads = Leads(house)
    problem = Problem(
        blocks=tuple(_block(leads, rows, members) for _, members in sorted(grouped.items())),
        supply_models=(
            *(supply_model(house, k) for k in _in_order(house.sources.values())),
            *_boxed_models(house, rows),
        ),
        decoder_models=tuple(decoder_model(house, k) for k in _in_order(house.decoders.values())),
        supplies=_offered(house, rows, free, house.sources),
        decoders=_offered(house, rows, free, house.decoders),
        installed=tuple(
            sorted(
                _installed(house, fed)
                for fed in fed_runs(rows)
                if fed.run_tag in runs
                and fed.supply_id in house.units
                and (fed.decoder_id in house.units or fed.decoder_model_id is None)
            )
        ),
        mend=mend,
        shares=Shares(
            supply=house.policy.load_factor,
            output=house.policy.output_factor,
            channel=house.policy.channel_factor,
            bank=house.policy.decoder_factor,
        ),
    )  # fmt: skip
    return Question(
        problem,
        house,
        rows,
        tuple(taken),
        runs,
        claims,
        tuple(undecided),
    )


def _with_own(rows: ShowRows, free: list[UnitRow], taken: list[Taken]) -> tuple[list[UnitRow], list[Taken]]:
    """Sound units that the kept plan uses stay in it though another show claims them too, or has them late:
    that clash is mended by dates or by hand, not by pulling a whole rig apart."""
    used = {a.supply_id for a in rows.allotments.values()} | {a.decoder_id for a in rows.allotments.values()}
    own = [t.unit for t in taken if t.unit.id in used and t.unit.is_sound]
    return [*free, *own], [t for t in taken if t.unit not in own]


def is_open(allotment: Row[Any]) -> bool:
    """Whether both ends of a kept feed are placeholders: models are promised, units are chosen later."""
    return allotment.supply_id is None and allotment.decoder_id is None


def _in_order(kinds: Iterable[Kind]) -> list[Kind]:
    return sorted(kinds, key=lambda kind: kind.tag)


def _block_key(element: ElementRow) -> tuple[str, ...]:
    """Members of a control group share channels only when tape and wiring let them."""
    assert element.tape is not None
    if not element.control_group:
        return ("", element.tag)
    wired = " ".join(element.wired) if element.is_dimmed else "-"
    return (
        element.control_group,
        f"{element.tape.class_v:g}",
        element.tape.polarity,
        element.tape.signal,
        wired,
    )


def _block(leads: Leads, rows: ShowRows, members: list[ElementRow]) -> Block:
    first = members[0]
    tape = first.tape
    assert tape is not None
    moving = first.motion != "static"
    alone = (moving and not first.travelling_cable) or first.needs_battery or first.motion == "costume"
    wireless = (moving and not first.travelling_cable) or first.needs_wireless or first.motion == "costume"
    stays = {Link.WIRED, Link.NETWORK, Link.LOCAL}
    sites = _sites(leads.house, rows, first, alone)
    return Block(
        tag=first.control_group or first.tag,
        runs=tuple(
            replace(_ask_run(e, run), reach=leads.reach_of(e, run, sites))
            for e in members
            for run in e.runs
            if run.pitches
        ),
        class_mv=_mv(tape.class_v),
        polarity=tape.polarity,
        signal=Signal(tape.signal),
        sites=sites,
        sources=frozenset({Source.BATTERY if alone else Source.SUPPLY}),
        # Wireless decoders are few: they are for what moves or asks for them.
        links=frozenset({Link.WIRELESS, Link.LOCAL} if wireless else stays),
        priority=min(e.priority for e in members),
        match=first.match_group,
    )


def _sites(house: House, rows: ShowRows, element: ElementRow, alone: bool) -> tuple[str, ...]:
    own = house.places.get(element.place_id or 0)
    if alone:
        scenic = rows.scenic_places.get(element.scenic_unit_id or 0)
        place = house.places.get(scenic or element.place_id or 0)
        return (place.tag if place else element.tag,)
    if own is None:
        return (house.venues[rows.production.venue_id],)
    place_ids = near_places(house, element)
    longest = max((run.lead_um or 0 for run in element.runs), default=0)
    near = {
        house.places[gear].tag
        for place_id in place_ids
        for gear, lead_um in house.reaches.get(place_id, ())
        if lead_um is None or longest <= lead_um
    }
    if near or any(place_id in house.reaches for place_id in place_ids):
        return tuple(sorted(near | {own.tag}))
    return (house.area(own.id) or house.venues[rows.production.venue_id],)


def _ask_run(element: ElementRow, run: RunRow) -> Run:
    tape = element.tape
    assert tape is not None
    load_uw = _uw(tape, run, tape.emitters)
    if not element.is_dimmed:
        channels: tuple[int, ...] = ()
    elif tape.signal == Signal.PIXEL:
        channels = (load_uw,)
    else:
        channels = tuple(
            _uw(tape, run, [e for e in tape.emitters if e.name == name]) for name in element.wired
        )
    return Run(f"{element.tag}/{run.number}", load_uw, channels, run.pitches)


def _uw(tape: TapeRow, run: RunRow, emitters: Iterable[EmitterRow]) -> int:
    """Microwatts of these emitters over the run, exact in decimals, rounded up only if it must be."""
    per_m = sum((Decimal(str(e.w_per_m)) for e in emitters), Decimal(0))
    return int((per_m * run.pitches * tape.pitch_um).to_integral_value(ROUND_CEILING))


def _mv(volts_v: float) -> int:
    return round(volts_v * 1000)


def _micro(*factors: float) -> int:
    """The product in millionths, rounded down only if it must be: what may be carried."""
    exact = Decimal(1_000_000)
    for factor in factors:
        exact *= Decimal(str(factor))
    return int(exact.to_integral_value(ROUND_FLOOR))


def supply_model(house: House, kind: SourceKind) -> SupplyModel:
    """The kind as the allocator sees it: already derated for open air and long sessions."""
    weight = kind.cost_weight or 1.0
    if kind.kind == Source.BATTERY:
        amps = tuple(None if a is None else _micro(a) for a in kind.caps_a)
        usable = None if None in kind.caps_a else sum(_micro(a or 0.0, kind.class_v) for a in kind.caps_a)
        size = (usable or 0) // 10_000_000
    else:
        policy = house.policy
        air = air_factor(kind, policy.open_air_degc)
        share = kind.load_factor or policy.load_factor
        # Of the kind's own share and the house's for outputs the stricter holds, as the limits judge it.
        strict = min(share, policy.output_factor)
        amps = tuple(None if a is None else _micro(a, strict) for a in kind.caps_a)
        usable = None if kind.rated_w is None or air is None else _micro(kind.rated_w, air, share)
        size = int(kind.rated_w or 0) // 10
    return SupplyModel(
        tag=kind.tag,
        source=Source(kind.kind),
        class_mv=_mv(kind.class_v),
        usable_uw=usable,
        outputs_ua=amps,
        cost=round(SUPPLY_COST * weight) + size,
        output_mv=_mv(kind.output_v),
        blank=kind.blank,
    )


def decoder_model(house: House, kind: DecoderKind) -> DecoderModel:
    policy = house.policy
    own = kind.load_factor or policy.channel_factor
    bank_share, channel_share = min(own, policy.decoder_factor), min(own, policy.channel_factor)
    return DecoderModel(
        tag=kind.tag,
        banks=tuple(
            Bank(
                b.first_channel,
                b.channels,
                None if b.total_a is None else _micro(b.total_a, bank_share),
            )
            for b in kind.banks
        ),
        channel_ua=None if kind.channel_a is None else _micro(kind.channel_a, channel_share),
        min_mv=_mv(kind.min_v),
        max_mv=_mv(kind.max_v),
        polarity=kind.polarity,
        signal=Signal(kind.signal),
        link=Link(kind.link),
        cost=round(DECODER_COST * (kind.cost_weight or 1.0)) + kind.channels,
        blank=kind.blank,
    )


def _offered(
    house: House,
    rows: ShowRows,
    free: list[UnitRow],
    kinds: dict[int, SourceKind] | dict[int, DecoderKind],
) -> tuple[Unit, ...]:
    """Free units of these kinds, with the site of those that already stand in the show."""
    return tuple(
        sorted(
            Unit(unit.tag, _boxed(house, rows, unit) or kind.tag, site_of(house, rows, unit.id))
            for unit in free
            if (kind := kinds.get(unit.model_id or 0)) is not None
        )
    )


def _boxed(house: House, rows: ShowRows, unit: UnitRow) -> str:
    """What a supply in a closed box counts as: a kind of its own; blank for everything else.

    What it may carry in there falls with its own load and its neighbours', which no fixed figure tells: what
    it carries stays and is judged (`limits.rules.boxes`), and nothing is added.
    """
    placing = rows.placings.get(unit.id)
    if placing is None or placing.enclosure_id is None or unit.model_id not in house.sources:
        return ""
    return f"{house.sources[unit.model_id].tag} in {house.named(placing.enclosure_id).tag}"


def _boxed_models(house: House, rows: ShowRows) -> list[SupplyModel]:
    found: dict[str, SupplyModel] = {}
    for unit_id in rows.placings:
        unit = house.units.get(unit_id)
        tag = "" if unit is None else _boxed(house, rows, unit)
        if tag and unit is not None:
            known = supply_model(house, house.sources[unit.model_id or 0])
            found[tag] = replace(known, tag=tag, usable_uw=None)
    return [found[tag] for tag in sorted(found)]


def site_of(house: House, rows: ShowRows, unit_id: int) -> str:
    """The site where a unit of the kept plan stands: the scenic unit it rides on, else its place tree."""
    placing = rows.placings.get(unit_id)
    if placing is None:
        return ""
    if placing.scenic_unit_id is not None and placing.scenic_unit_id in rows.scenic_places:
        return house.places[rows.scenic_places[placing.scenic_unit_id]].tag
    if placing.place_id in house.reaches or any(
        placing.place_id == gear for pairs in house.reaches.values() for gear, _ in pairs
    ):
        return house.places[placing.place_id].tag
    return house.area(placing.place_id)


def _installed(house: House, fed: Fed) -> Installed:
    return Installed(
        run=fed.run_tag,
        supply=house.units[fed.supply_id or 0].tag,
        output=fed.output,
        decoder=house.units[fed.decoder_id].tag if fed.decoder_id else "",
        first_channel=fed.first_channel or 0,
        locked=fed.is_locked,
    )
