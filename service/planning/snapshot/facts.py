"""Stored rows turned into the plain data that the limits read."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from typing import Any

from service.electrical.supplies import ambient_factor
from service.limits.facts import (
    BankFacts,
    BoxFacts,
    ChannelFacts,
    ChannelLoadFacts,
    CurveFacts,
    DecoderFacts,
    ElementFacts,
    EmitterFacts,
    FeedFacts,
    LeadFacts,
    LoadFacts,
    OutputFacts,
    PackFacts,
    PackModelFacts,
    PatchFacts,
    PieceFacts,
    RunFacts,
    ShowFacts,
    SupplyFacts,
    TapeFacts,
    UnitFacts,
    WireFacts,
)
from service.planning.snapshot.availability import Claims
from service.planning.snapshot.fed import Fed, fed_runs, placeholder_tag
from service.planning.snapshot.house import DecoderKind, House, SourceKind, UnitRow
from service.planning.snapshot.show import ElementRow, RunRow, ShowRows, TapeRow
from service.planning.snapshot.walls import mains_of, outlet_facts

OUT_OF_SHOW = frozenset({"cut from show"})


def show_facts(
    house: House, rows: ShowRows, claims: Claims, free: Iterable[UnitRow] = (), day: date | None = None
) -> ShowFacts:
    """One production as its plan has it, from what is known on `claims.today`.

    `free`: units that a mend may take. `day`: whether it is lit, or over, on another day than today.
    """
    fed = fed_runs(rows)
    by_run = {f.run.id: f for f in fed}
    show = rows.production
    on = claims.today
    day = day or on
    supplies = _supplies(house, rows, claims, fed)
    used = set(rows.placings) | {f.supply_id for f in fed} | {f.decoder_id for f in fed}
    free_units = [unit for unit in free if unit.id not in used]
    outlets, free_outlets = outlet_facts(house, rows, claims, supplies)
    return ShowFacts(
        production=show.tag,
        on=on,
        is_lit=show.first_preview is not None and show.first_preview <= day <= show.closing,
        is_over=show.return_by < day,
        elements=tuple(
            _element(house, e, by_run) for e in rows.elements if e.status not in OUT_OF_SHOW
        ),
        supplies=tuple(supplies),
        decoders=tuple(_decoders(house, rows, claims, fed)),
        patches=tuple(
            PatchFacts(
                house.named(p.decoder_id).tag, p.port or None, p.universe, p.start, p.footprint, p.mode,
                p.mirror, p.pixels,
            )
            for p in rows.patches
        ),
        outlets=outlets,
        units=tuple(_units(house, rows, claims, fed)),
        free_supplies=tuple(_idle_supply(house, u) for u in free_units if u.model_id in house.sources),
        free_decoders=tuple(_idle_decoder(house, u) for u in free_units if u.model_id in house.decoders),
        wires=tuple(
            WireFacts(gauge, ohm_per_m, limit_a)
            for gauge, (ohm_per_m, limit_a) in sorted(house.wires.items())
            if ohm_per_m is not None
        ),
        film_days=rows.film_days,
        lines=tuple(rows.lines.values()),
        boxes=tuple(sorted(_boxes(house, rows), key=lambda b: b.tag)),
        free_outlets=free_outlets,
        pack_models=tuple(
            PackModelFacts(kind.tag, kind.class_v, kind.caps_a[0], kind.pack)
            for kind in sorted(house.sources.values(), key=lambda k: k.tag)
            if kind.pack is not None
        ),
    )  # fmt: skip


def _idle_supply(house: House, unit: UnitRow) -> SupplyFacts:
    if unit.id not in house.idle_supplies:
        house.idle_supplies[unit.id] = _supply(house, unit, house.sources[unit.model_id or 0], ())
    return house.idle_supplies[unit.id]


def _idle_decoder(house: House, unit: UnitRow) -> DecoderFacts:
    if unit.id not in house.idle_decoders:
        house.idle_decoders[unit.id] = _decoder(house, unit, house.decoders[unit.model_id or 0], ())
    return house.idle_decoders[unit.id]


def tape_facts(tape: TapeRow) -> TapeFacts:
    return TapeFacts(
        tag=tape.tag,
        class_v=tape.class_v,
        polarity=tape.polarity,
        emitters=tuple(EmitterFacts(e.name, e.w_per_m, e.return_ohm_per_m) for e in tape.emitters),
        pitch_m=tape.pitch_um / 1e6,
        common_ohm_per_m=tape.common_ohm_per_m,
        max_run_m=None if tape.max_run_um is None else tape.max_run_um / 1e6,
        ip=tape.ip,
        signal=tape.signal,
        pwm_hz=tape.pwm_hz,
        pixels_per_m=tape.pixels_per_m,
        slots_per_pixel=tape.slots_per_pixel,
        pixel_idle_w=tape.pixel_idle_w,
        load_basis=tape.load_basis,
    )


def _element(house: House, element: ElementRow, by_run: dict[int, Fed]) -> ElementFacts:
    return ElementFacts(
        tag=element.tag,
        name=element.name,
        scenic_unit=element.scenic_unit,
        motion=element.motion,
        travelling_cable=element.travelling_cable,
        zone=element.zone,
        mount=element.mount,
        tape=tape_facts(element.tape) if element.tape else None,
        wired=element.wired,
        dimmed=element.is_dimmed,
        runs=tuple(_run(house, element, run, by_run.get(run.id)) for run in element.runs),
        control_group=element.control_group,
        match_group=element.match_group,
        status=element.status,
        place=house.places[element.place_id].tag if element.place_id in house.places else "",
        level_cap_pct=element.cap_pct,
        cues=element.cues,
    )


def _run(house: House, element: ElementRow, run: RunRow, fed: Fed | None) -> RunFacts:
    pitch_um = element.tape.pitch_um if element.tape else 0
    ohm_per_m, limit_a = house.lead(run.lead_gauge)
    return RunFacts(
        tag=f"{element.tag}/{run.number}",
        number=run.number,
        pieces=tuple(
            PieceFacts(p.number, p.drawn_um / 1e6, (p.cut_pitches or 0) * pitch_um / 1e6, p.lots)
            for p in run.pieces
        ),
        feed_style=run.feed_style,
        lead=LeadFacts(
            None if run.lead_um is None else run.lead_um / 1e6,
            run.lead_gauge,
            ohm_per_m,
            limit_a,
            run.lead_cores,
            house.connectors.get(run.lead_connector_id or 0),
            run.fuses_a,
        ),
        feed=None if fed is None else _feed(house, fed),
    )


def supply_tag(house: House, fed: Fed) -> str:
    if fed.supply_id is not None:
        return house.named(fed.supply_id).tag
    return placeholder_tag(house.sources[fed.supply_model_id or 0].tag)


def decoder_tag(house: House, fed: Fed) -> str | None:
    if fed.decoder_id is not None:
        return house.named(fed.decoder_id).tag
    if fed.decoder_model_id is not None:
        return placeholder_tag(house.decoders[fed.decoder_model_id].tag)
    return None


def _feed(house: House, fed: Fed) -> FeedFacts:
    return FeedFacts(
        supply=supply_tag(house, fed),
        output=fed.output,
        decoder=decoder_tag(house, fed),
        first_channel=fed.first_channel,
        channels=fed.channels,
        supply_is_placeholder=fed.supply_id is None,
        decoder_is_placeholder=fed.decoder_id is None and fed.decoder_model_id is not None,
        locked=fed.is_locked,
        port=fed.first_channel if fed.element.tape and fed.element.tape.signal == "pixel" else None,
    )


def _supplies(house: House, rows: ShowRows, claims: Claims, fed: list[Fed]) -> list[SupplyFacts]:
    loads: dict[tuple[int | None, int | None], list[Fed]] = {}
    for f in fed:
        loads.setdefault((f.supply_id, f.supply_model_id), []).append(f)
    placed = [
        (unit_id, None)
        for unit_id in rows.placings
        if house.named(unit_id).model_id in house.sources and (unit_id, None) not in loads
    ]
    found = []
    for unit_id, model_id in [*loads, *placed]:
        unit = house.named(unit_id) if unit_id is not None else None
        kind = house.sources[(unit.model_id if unit else model_id) or 0]
        supply = _supply(house, unit, kind, loads.get((unit_id, model_id), ()))
        found.append(_stand(house, rows, claims, unit, supply))
    return sorted(found, key=lambda s: s.tag)


def _supply(house: House, unit: UnitRow | None, kind: SourceKind, loads: Iterable[Fed]) -> SupplyFacts:
    by_output: dict[int, list[LoadFacts]] = {n: [] for n in range(1, len(kind.caps_a) + 1)}
    for f in loads:
        load = LoadFacts(f.run_tag, f.element.tag, f.load_w, f.load_a, f.load_basis)
        by_output.setdefault(f.output, []).append(load)
    caps = dict(enumerate(kind.caps_a, 1))
    return SupplyFacts(
        tag=unit.tag if unit else placeholder_tag(kind.tag),
        kind=kind.kind,
        model=kind.tag,
        class_v=kind.class_v,
        rated_w=kind.rated_w,
        outputs=tuple(OutputFacts(n, caps.get(n), tuple(x)) for n, x in sorted(by_output.items())),
        ambient_factor=air_factor(kind, house.policy.open_air_degc),
        load_factor=kind.load_factor or house.policy.load_factor,
        is_placeholder=unit is None,
        output_v=kind.output_v,
        mains=mains_of(kind),
        curve=CurveFacts(kind.full_to_degc, kind.derate_per_k, kind.max_degc),
        pack=_pack(unit, kind),
        is_class2=kind.is_class2,
        connector=house.connectors.get(kind.connector_id or 0),
    )


def _pack(unit: UnitRow | None, kind: SourceKind) -> PackFacts | None:
    """Its kind's figures, with what the unit itself was measured to hold."""
    if kind.pack is None or unit is None or unit.measured_ah is None:
        return kind.pack
    return replace(kind.pack, capacity_ah=unit.measured_ah)


def air_factor(kind: SourceKind, ambient_degc: float) -> float | None:
    """Share of the rating left in the air around it; None when the curve is not known."""
    if kind.kind == "battery":
        return 1.0
    if kind.full_to_degc is None or kind.derate_per_k is None or kind.max_degc is None:
        return None
    return ambient_factor(ambient_degc, kind.full_to_degc, kind.derate_per_k, kind.max_degc)


def _stand(
    house: House, rows: ShowRows, claims: Claims, unit: UnitRow | None, supply: SupplyFacts
) -> SupplyFacts:
    """The same supply with where it stands, what it plugs into and its condition."""
    placing = rows.placings.get(unit.id) if unit else None
    outlet = house.outlets.get(placing.outlet_id) if placing is not None else None
    return replace(
        supply,
        unit=_unit(house, claims, unit) if unit else None,
        outlet=outlet.tag if outlet else None,
        outlet_kind=outlet.kind if outlet else None,
        scenic_unit=_rides_on(rows, placing.scenic_unit_id if placing is not None else None),
        place=_place_tag(house, placing.place_id if placing is not None else None),
        enclosure=_box_tag(house, placing),
        fuses=rows.unit_fuses.get(unit.id, ()) if unit else (),
    )


def _box_tag(house: House, placing: Any) -> str:
    return house.named(placing.enclosure_id).tag if placing is not None and placing.enclosure_id else ""


def _rides_on(rows: ShowRows, scenic_unit_id: int | None) -> str:
    if scenic_unit_id is None:
        return ""
    return next((e.scenic_unit for e in rows.elements if e.scenic_unit_id == scenic_unit_id), "")


def _place_tag(house: House, place_id: int | None) -> str:
    return house.places[place_id].tag if place_id in house.places else ""


def _decoders(house: House, rows: ShowRows, claims: Claims, fed: list[Fed]) -> list[DecoderFacts]:
    loads: dict[tuple[int | None, int | None], list[Fed]] = {}
    for f in fed:
        if f.decoder_id is not None or f.decoder_model_id is not None:
            loads.setdefault((f.decoder_id, f.decoder_model_id), []).append(f)
    placed = [
        (unit_id, None)
        for unit_id in rows.placings
        if house.named(unit_id).model_id in house.decoders and (unit_id, None) not in loads
    ]
    found = []
    for unit_id, model_id in [*loads, *placed]:
        unit = house.named(unit_id) if unit_id is not None else None
        kind = house.decoders[(unit.model_id if unit else model_id) or 0]
        placing = rows.placings.get(unit.id) if unit else None
        found.append(
            replace(
                _decoder(house, unit, kind, loads.get((unit_id, model_id), ())),
                unit=_unit(house, claims, unit) if unit else None,
                scenic_unit=_rides_on(rows, placing.scenic_unit_id if placing is not None else None),
                place=_place_tag(house, placing.place_id if placing is not None else None),
                enclosure=_box_tag(house, placing),
                line=_line_name(rows, placing),
            )
        )
    return sorted(found, key=lambda d: d.tag)


def _line_name(rows: ShowRows, placing: Any) -> str:
    line = rows.lines.get(placing.line_id) if placing is not None else None
    return line.name if line else ""


def _decoder(house: House, unit: UnitRow | None, kind: DecoderKind, loads: Iterable[Fed]) -> DecoderFacts:
    on_channel: dict[int, list[ChannelLoadFacts]] = {n: [] for n in range(1, kind.channels + 1)}
    sources: dict[int, set[tuple[str, int]]] = {b.number: set() for b in kind.banks}
    amps: dict[int, float] = {b.number: 0.0 for b in kind.banks}
    for f in loads:
        if f.element.tape is None or f.first_channel is None:
            continue
        bank = next(
            (
                b.number
                for b in kind.banks
                if b.first_channel <= f.first_channel < b.first_channel + b.channels
            ),
            kind.banks[0].number,
        )
        sources[bank].add((supply_tag(house, f), f.output))
        amps[bank] += f.load_a
        for step, (name, a) in enumerate(_channel_amps(f)):
            on_channel.setdefault(f.first_channel + step, []).append(
                ChannelLoadFacts(f.run_tag, f.element.tag, name, a)
            )
    return DecoderFacts(
        tag=unit.tag if unit else placeholder_tag(kind.tag),
        model=kind.tag,
        channel_a=kind.channel_a,
        min_v=kind.min_v,
        max_v=kind.max_v,
        polarity=kind.polarity,
        link=kind.link,
        signal=kind.signal,
        banks=tuple(
            BankFacts(
                b.number,
                b.total_a,
                tuple(
                    ChannelFacts(n, tuple(on_channel.get(n, ())))
                    for n in range(b.first_channel, b.first_channel + b.channels)
                ),
                tuple(sorted(sources[b.number])),
                amps[b.number],
            )
            for b in kind.banks
        ),
        pwm_hz=kind.pwm_hz,
        load_factor=kind.load_factor or house.policy.channel_factor,
        is_placeholder=unit is None,
        idle_w=kind.idle_w,
        curve=kind.curve,
        unit_loads=kind.unit_loads,
    )


def _channel_amps(fed: Fed) -> list[tuple[str, float]]:
    """(emitter, amps) for each channel of the run, in pad order; a pixel port carries all of it."""
    tape = fed.element.tape
    if tape is None:
        return []
    if tape.signal == "pixel":
        return [("all", fed.load_a)]
    length_m = fed.run.pitches * tape.pitch_um / 1e6
    amps = {e.name: e.w_per_m * length_m / tape.class_v for e in tape.emitters}
    return [(name, amps.get(name, 0.0)) for name in fed.element.wired]


def _boxes(house: House, rows: ShowRows) -> Iterable[BoxFacts]:
    """What gear of this production stands in; a box that nobody measured is there with its figures blank."""
    for unit_id in {p.enclosure_id for p in rows.placings.values() if p.enclosure_id is not None}:
        blank = BoxFacts(house.named(unit_id).tag, "", "sealed", None, None, None)
        yield house.boxes.get(unit_id, blank)


def _units(house: House, rows: ShowRows, claims: Claims, fed: list[Fed]) -> list[UnitFacts]:
    used = {f.supply_id for f in fed} | {f.decoder_id for f in fed} | set(rows.placings)
    used |= {
        c.unit_id for c in claims.units if c.production_id == rows.production.id and c.until_on > claims.today
    }
    return [
        _unit(house, claims, house.named(unit_id)) for unit_id in sorted(u for u in used if u is not None)
    ]


def _unit(house: House, claims: Claims, unit: UnitRow) -> UnitFacts:
    """Condition and whereabouts; `held_by` is who has it out now, or should have given it back."""
    mine = claims.of_unit(unit.id)
    now = [c for c in mine if c.from_on <= claims.today < c.until_on]
    out = next((c for c in now if c.is_overdue), now[0] if now else None)
    later = sorted(
        (c.from_on, claims.codes[c.production_id])
        for c in mine
        if c.from_on > claims.today or (out is not None and c != out and c.until_on > claims.today)
    )
    return UnitFacts(
        tag=unit.tag,
        kind=unit.kind,
        model=house.model_tag(unit),
        state=unit.state,
        state_note=unit.state_note,
        held_by=claims.codes[out.production_id] if out else "",
        due_on=out.due_on if out else None,
        is_out=out is not None,
        wanted_by=tuple((code, day) for day, code in later),
    )
